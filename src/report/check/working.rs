//! A check's numbers led back to formulas: the last period, and the sums that found a change.

use super::{Log, Page};
use crate::check::cusum::SUM;
use crate::check::detection::{
    DECISION_THRESHOLD, LOSS_BY_HEAT, LOSS_BY_SOLIDS, UNCERTAINTY_BY_SOLIDS,
};
use crate::check::reconcile::Readings;
use crate::check::watch::{Plan, Watched};
use crate::equation::Equation;
use crate::model::{CheckSheet, CheckedPeriod};
use crate::quantity::significant;
use crate::report::text::{Style, equation, evaluated, heading, paragraph};

const UNCERTAINTY_EXPECTED: Equation = Equation {
    id: "uncertainty_of_expected_makeup",
    text: "u_expected = (u_evaporation^2 + u_blowdown^2 + u_drift^2 + u_stored^2)^0.5",
    source: "JCGM 100:2008, eq. 10; the table shows twice that, about 95 %",
};

/// The formulas of the last period that was checked, and of each change that a chart found, with their
/// numbers. Flows in m3/day whatever the page shows, because that is how they are computed.
pub fn working(sheet: &CheckSheet, log: &Log<'_>, style: Style) -> String {
    let Some(period) = sheet.periods.last() else { return String::new() };
    let page = Page::new(sheet, log, style);
    let mut text = String::new();
    heading(
        &mut text,
        "WORKING (m3/day; tracers in S/m or kg/m3; u: standard uncertainty)",
        style.bold,
    );
    let begins = format!("The {} that begins on {}:", log.every.name(), page.time(period.start));
    paragraph(&mut text, "", &begins);
    flows(&mut text, period);
    solids(&mut text, sheet, period);
    if let (Some(watched), Some(plan)) = (&sheet.charts.solids, &sheet.charts.plan) {
        page.chart(&mut text, watched, plan, "loss by solids, as a part of the makeup");
    }
    let means = "Suspects: the constant error or loss that explains most of the change of the mean \
                 readings since the begin, by weighted least squares under both balances (Narasimhan and \
                 Mah 1987, AIChE J. 33, 1514); likely flows: Kuehn and Davidson (1961), Chem. Eng. Prog. \
                 57(6), 44.";
    paragraph(&mut text, "", means);
    crate::report::marks::finished(text, style)
}

/// The number that a name stands for.
fn number(readings: &Readings, name: &str) -> Option<f64> {
    let (name, is_uncertainty) = match name.strip_prefix("u_") {
        Some(name) => (name, true),
        None => (name, false),
    };
    let tracer = readings.tracers.first();
    let reading = match name {
        "makeup" => readings.makeup,
        "blowdown" => readings.blowdown,
        "evaporation" => readings.evaporation,
        "drift" => readings.drift,
        "stored" => readings.stored,
        "makeup_tracer" => tracer?.makeup,
        "basin_tracer" => tracer?.basin,
        "stored_tracer" => tracer?.stored,
        _ => return None,
    };
    Some(if is_uncertainty { reading.uncertainty } else { reading.value })
}

/// What the makeup should have been, and what is left over.
fn flows(text: &mut String, period: &CheckedPeriod) {
    let of = |name: &str| number(&period.readings, name);
    evaluated(text, &LOSS_BY_HEAT, of, (period.difference(), "m3/day"));
    paragraph(
        text,
        "",
        "Drift stands with the leakage and overflow that the site file states; stored is what the basin \
         gained by its level.",
    );
    evaluated(text, &UNCERTAINTY_EXPECTED, of, (period.expected.uncertainty, "m3/day"));
}

/// What solids read as a loss, and how large one has to be.
fn solids(text: &mut String, sheet: &CheckSheet, period: &CheckedPeriod) {
    let source = match sheet.cycles_are_true {
        true => {
            "conductivity is not conserved: the basin's is carried over to that of true cycles by the \
             solved waters of the makeup's analysis; chloride less what the oxidant leaves"
        }
        false => "apparent cycles: without an analysis of the makeup nothing corrects conductivity",
    };
    let cycles =
        Equation { id: "cycles_by_tracer", text: "cycles = basin_tracer / makeup_tracer", source };
    evaluated(text, &cycles, |name| number(&period.readings, name), (period.cycles, ""));
    let found = &period.solids;
    let leaves = found.reads + period.readings.blowdown.value + period.readings.drift.value;
    let of = |name: &str| match name {
        "leaves" => Some(leaves),
        "u_loss" => Some(found.uncertainty),
        _ => number(&period.readings, name),
    };
    evaluated(text, &LOSS_BY_SOLIDS, of, (found.reads, "m3/day"));
    evaluated(text, &UNCERTAINTY_BY_SOLIDS, of, (found.uncertainty, "m3/day"));
    evaluated(text, &DECISION_THRESHOLD, of, (found.decision_threshold, "m3/day"));
}

impl Page<'_> {
    /// The step of a chart's sum that found a change.
    fn chart(&self, text: &mut String, watched: &Watched, plan: &Plan, what: &str) {
        let Some(change) = watched.change else { return };
        let (Some(period), Some(Some(value)), Some(Some(measure))) = (
            self.sheet.periods.get(change.found),
            watched.values.get(change.found),
            watched.measures.get(change.found),
        ) else {
            return;
        };
        let words = format!("The chart of the {what} signals on {}:", self.time(period.start));
        paragraph(text, "", &words);
        let exact = |number: f64| significant(number, 9);
        let lines = [
            "residual = (value - median) / deviation".to_owned(),
            format!(
                "= ({} - {}) / {}",
                exact(*value),
                exact(measure.middle),
                exact(measure.deviation)
            ),
            format!("= {}", significant((value - measure.middle) / measure.deviation, 5)),
        ];
        let source = format!(
            "median of the {name}s from {} to {} before it, and 1.4826 times their median distance from \
             that, or the stated repeatability where it is larger",
            plan.farthest,
            plan.nearest,
            name = self.log.every.name(),
        );
        equation(text, &lines, &source);
        let side = |(rise, fall): (f64, f64)| if change.is_rise { rise } else { fall };
        let sum = side(watched.sums[change.found]);
        let mut before = watched.sums[..change.found].iter().map(|sums| side(*sums));
        let before = before.rfind(|sum| sum.is_finite()).unwrap_or(0.0);
        let of = |name: &str| match name {
            "sum_before" => Some(before),
            "residual" => Some(sum - before + plan.slack),
            "slack" => Some(plan.slack),
            _ => None,
        };
        evaluated(text, &SUM, of, (sum, ""));
        let words = format!(
            "That is above the decision interval {}. A residual counts no more than half of it and the \
             slack: two must agree.",
            significant(plan.decision, 5)
        );
        paragraph(text, "", &words);
    }
}
