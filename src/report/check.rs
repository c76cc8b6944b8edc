//! A checked log, as people and programs read it.

use super::text::{Style, ascii, heading, page_head, paragraph, write_line};
use crate::check::detection::Detection;
use crate::model::{Cause, CheckSheet, CheckedDay, Finding};
use crate::quantity::unit;
use crate::quantity::{UnitSystem, significant, with_decimals};
use crate::readings::Refused;
use serde::Serialize;
use std::fmt::Write as _;

/// Days of the table that a page shows, the last ones.
const MOST_DAYS: usize = 35;
/// Lines that are not used, of those that a page lists.
const MOST_REFUSED: usize = 12;

const LIMITS_OF_DATA: &str = "Chemistry cannot tell drift, leakage and overflow apart: they are the \
same water. Time can: overflow follows pump stops and level, drift follows the fan, a leak is \
constant. A quiet check does not show that drift, or the tower's health, is safe.";

struct Page<'a> {
    sheet: &'a CheckSheet,
    day: (f64, &'static str),
}

/// A check as text of 80 columns. `source` names site file and log.
pub fn text(
    sheet: &CheckSheet,
    source: &str,
    (refused, out_of_order): (&[Refused], usize),
    style: Style,
) -> String {
    let day = match style.units {
        UnitSystem::Si => (1.0, "m3/day"),
        UnitSystem::UsCustomary => (unit::US_GALLON.factor, "US gal/day"),
    };
    let page = Page { sheet, day };
    let mut text = String::new();
    page_head(&mut text, (&sheet.name, source), "Check of the log", style.bold);
    heading(&mut text, "FINDINGS", style.bold);
    page.findings(&mut text);
    heading(&mut text, "DAYS", style.bold);
    page.days(&mut text);
    heading(&mut text, "WHAT THE METERS COULD SHOW", style.bold);
    page.detection(&mut text);
    page.reconciled(&mut text, style.bold);
    if !sheet.left_out.is_empty() || !refused.is_empty() || out_of_order > 0 {
        heading(&mut text, "NOT USED", style.bold);
        page.not_used(&mut text, refused, out_of_order);
    }
    text.push('\n');
    let cycles = if sheet.cycles_are_true {
        "Cycles: from the conductivities, corrected by the solved water of the makeup's analysis."
    } else {
        "Cycles are apparent: no complete analysis of the makeup corrects the conductivities, and \
         their uncertainty is widened by 5 %."
    };
    paragraph(&mut text, "", cycles);
    paragraph(&mut text, "", LIMITS_OF_DATA);
    if style.ascii { ascii(&text) } else { text }
}

impl Page<'_> {
    fn flow(&self, m3_per_day: f64) -> String {
        significant(m3_per_day / self.day.0, 3)
    }

    fn findings(&self, text: &mut String) {
        let sheet = self.sheet;
        if sheet.findings.is_empty() {
            let words = format!(
                "Nothing: meters, solids and heat agree within what they can show ({} {} by solids).",
                self.flow(sheet.by_solids.detection_limit),
                self.day.1
            );
            paragraph(text, "", &words);
            return;
        }
        for (index, finding) in sheet.findings.iter().enumerate() {
            let lead = if index == 0 { "" } else { "Or, as well within noise: " };
            paragraph(text, "", &format!("{lead}{}", self.told(finding)));
        }
        paragraph(text, "", self.next_reading());
    }

    fn told(&self, finding: &Finding) -> String {
        let since =
            finding.since.map_or("from the first day on".into(), |date| format!("since {date}"));
        let flow = |size: f64| {
            format!(
                "{} ± {} {}",
                self.flow(size.abs()),
                significant(2.0 * finding.uncertainty / self.day.0, 2),
                self.day.1
            )
        };
        let part = format!(
            "{} ± {} %",
            with_decimals(100.0 * finding.size.abs(), 0),
            significant(200.0 * finding.uncertainty, 2)
        );
        let low = finding.size < 0.0;
        let off = |name: &str, low: bool, by: &str| {
            format!("{name} reads {} by {by}", if low { "low" } else { "high" })
        };
        let (what, act) = match finding.cause {
            Cause::Loss => (
                format!(
                    "basin water is lost unmetered (leak, overflow, drift), or the blowdown meter reads \
                     low: {}{}",
                    flow(finding.size),
                    self.money(finding.size)
                ),
                "Fill a bucket from the blowdown, or compare its meter with valve hours; then lock the \
                 bleed with fans and load off: what the makeup still lets in is the loss.",
            ),
            Cause::Inflow => (
                format!(
                    "water comes in unmetered (bypass, hose, rain, exchanger), or the blowdown meter \
                     reads high: {}",
                    flow(finding.size)
                ),
                "Shut the makeup and look for water that still comes; fill a bucket from the blowdown.",
            ),
            Cause::MakeupMeter => (
                off("the makeup meter", low, &flow(finding.size)),
                "Compare it with the utility's meter, or with a fill of known volume.",
            ),
            Cause::Conductivity => (
                off("the basin's conductivity", low, &part)
                    + ", or the makeup's quality has changed the other way",
                "Clean and check the probe against a handheld; titrate chloride in makeup and basin.",
            ),
            Cause::Chloride => (
                off("the chloride of the basin", low, &part),
                "Repeat the titration in makeup and basin.",
            ),
            Cause::Heat => (
                format!(
                    "load or weather is not as stated: evaporation is {} by {}",
                    if low { "higher" } else { "lower" },
                    flow(finding.size)
                ),
                "Check circulation, both water temperatures and the wet bulb.",
            ),
        };
        format!("{what}, {since}. {act}")
    }

    fn money(&self, m3_per_day: f64) -> String {
        self.sheet.price.as_ref().map_or(String::new(), |(price, currency)| {
            format!(", {} {currency} of makeup a day", significant(price * m3_per_day.abs(), 3))
        })
    }

    /// The one reading that would separate the leading causes.
    fn next_reading(&self) -> &'static str {
        let causes: Vec<Cause> = self.sheet.findings.iter().map(|finding| finding.cause).collect();
        let has_chloride = self.sheet.days.iter().any(|day| day.readings.tracers.len() > 1);
        let is_chemical = causes.contains(&Cause::Conductivity);
        match (causes.len() > 1, is_chemical && !has_chloride) {
            (true, true) => {
                "One chloride titration in makeup and basin would separate these causes."
            }
            (true, false) => "A bucket test of the blowdown would separate these causes.",
            _ => "The reconciled values below are no truth while a finding stands.",
        }
    }

    fn days(&self, text: &mut String) {
        let sheet = self.sheet;
        let mut line = |cells: [&str; 7]| {
            let [date, makeup, expected, difference, blowdown, cycles, verdict] = cells;
            write_line(
                text,
                &format!(
                    "{date:<11}{makeup:>9}{expected:>16}{difference:>11}{blowdown:>10}{cycles:>8}  {verdict}"
                ),
            );
        };
        line(["", "makeup", "expected", "differs", "blowdown", "cycles", ""]);
        line(["", self.day.1, self.day.1, "by", "", "", ""]);
        let skipped = sheet.days.len().saturating_sub(MOST_DAYS);
        for day in &sheet.days[skipped..] {
            line([
                &day.date.to_string(),
                &self.flow(day.readings.makeup.value),
                &format!(
                    "{} ± {}",
                    self.flow(day.expected.value),
                    significant(2.0 * day.expected.uncertainty / self.day.0, 2)
                ),
                &self.flow(day.difference()),
                &self.flow(day.readings.blowdown.value),
                &with_decimals(day.cycles, 2),
                if day.is_in_tolerance() { "" } else { "out" },
            ]);
        }
        if skipped > 0 {
            let _ = writeln!(
                text,
                "The last {MOST_DAYS} of {} days; csv has them all.",
                sheet.days.len()
            );
        }
    }

    fn detection(&self, text: &mut String) {
        let told = |path: &str, detection: &Detection| {
            format!(
                "By {path} on one day: a loss counts above {} {unit}, and one of {} {unit} is found on 95 \
                 of 100 days (ISO 11843, 5 % each).",
                self.flow(detection.decision_threshold),
                self.flow(detection.detection_limit),
                unit = self.day.1
            )
        };
        paragraph(text, "", &told("solids", &self.sheet.by_solids));
        match &self.sheet.by_heat {
            Some(heat) => paragraph(text, "", &told("heat", heat)),
            None => paragraph(text, "", "By heat: nothing, the log has no weather and load."),
        }
        paragraph(
            text,
            "",
            "Slow changes: cumulative sums of both against the first days (slack 0.5, decision \
             interval 8: a false alarm in some 4000 days and chart; Page 1954, ISO 7870-4).",
        );
    }

    fn reconciled(&self, text: &mut String, bold: bool) {
        if !self.sheet.findings.is_empty() {
            return;
        }
        use crate::check::reconcile::Variable;
        heading(text, "MOST LIKELY FLOWS, MEANS OF THE LOG", bold);
        for (name, variable) in [
            ("makeup", Variable::Makeup),
            ("evaporation", Variable::Evaporation),
            ("blowdown", Variable::Blowdown),
            ("drift", Variable::Drift),
        ] {
            if let Some(value) = self.sheet.reconciled.get(variable) {
                let words = format!(
                    "{name:<14}{:>10} ± {} {}",
                    self.flow(value.value),
                    significant(2.0 * value.uncertainty / self.day.0, 2),
                    self.day.1
                );
                write_line(text, &words);
            }
        }
        let words = format!(
            "Misfit {} with {} balances: a chance of {} % where nothing is wrong.",
            significant(self.sheet.reconciled.misfit, 2),
            self.sheet.reconciled.degrees_of_freedom,
            with_decimals(100.0 * self.sheet.reconciled.chance(), 0)
        );
        paragraph(text, "", &words);
    }

    fn not_used(&self, text: &mut String, refused: &[Refused], out_of_order: usize) {
        for (date, reason) in &self.sheet.left_out {
            paragraph(text, "", &format!("{date}: {reason}"));
        }
        for refused in refused.iter().take(MOST_REFUSED) {
            paragraph(text, "", &format!("line {}: {}", refused.line, refused.reason));
        }
        if refused.len() > MOST_REFUSED {
            let _ = writeln!(
                text,
                "... and {} more; json lists them all",
                refused.len() - MOST_REFUSED
            );
        }
        if out_of_order > 0 {
            let _ = writeln!(text, "{out_of_order} rows stood out of order and were put in order.");
        }
    }
}

/// A check for programs.
#[derive(Debug, Serialize)]
pub struct CheckOut {
    /// Version of this form.
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where site and log came from.
    pub source: String,
    /// What may be wrong.
    pub findings: Vec<FindingOut>,
    /// Days.
    pub days: Vec<DayOut>,
    /// m3/d.
    pub solids_decision_threshold_m3_per_day: f64,
    /// m3/d.
    pub solids_detection_limit_m3_per_day: f64,
    /// m3/d.
    pub heat_detection_limit_m3_per_day: Option<f64>,
    /// Chi-square of the means.
    pub misfit: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: usize,
    /// Whether cycles are corrected.
    pub cycles_are_true: bool,
    /// Days that could not be checked.
    pub left_out: Vec<LeftOut>,
    /// Lines and readings that are not used.
    pub not_used: Vec<RefusedOut>,
}

/// A finding.
#[derive(Debug, Serialize)]
pub struct FindingOut {
    /// `loss_or_blowdown_meter`, `inflow_or_blowdown_meter`, `makeup_meter`, `conductivity`,
    /// `chloride` or `heat`.
    pub cause: &'static str,
    /// m3/d, or a part of the reading.
    pub size: f64,
    /// Standard uncertainty.
    pub standard_uncertainty: f64,
    /// Chi-square that it explains.
    pub explains: f64,
    /// Since when.
    pub since: Option<String>,
}

/// A day.
#[derive(Debug, Serialize)]
pub struct DayOut {
    /// Date.
    pub date: String,
    /// m3/d.
    pub makeup_m3_per_day: f64,
    /// m3/d.
    pub expected_makeup_m3_per_day: f64,
    /// m3/d.
    pub expected_standard_uncertainty_m3_per_day: f64,
    /// m3/d.
    pub evaporation_m3_per_day: f64,
    /// m3/d.
    pub blowdown_m3_per_day: f64,
    /// Cycles.
    pub cycles_of_concentration: f64,
    /// What solids read as a loss, m3/d.
    pub loss_by_solids_m3_per_day: f64,
    /// What heat reads as a loss, m3/d.
    pub loss_by_heat_m3_per_day: Option<f64>,
    /// Within twice its uncertainty.
    pub in_tolerance: bool,
}

/// A day that could not be checked.
#[derive(Debug, Serialize)]
pub struct LeftOut {
    /// Date.
    pub date: String,
    /// Why.
    pub reason: &'static str,
}

/// A line that is not used.
#[derive(Debug, Serialize)]
pub struct RefusedOut {
    /// In the log.
    pub line: u64,
    /// Why.
    pub reason: String,
}

/// The days for programs, and rows for CSV.
pub fn days(sheet: &CheckSheet) -> Vec<DayOut> {
    let day = |day: &CheckedDay| DayOut {
        date: day.date.to_string(),
        makeup_m3_per_day: day.readings.makeup.value,
        expected_makeup_m3_per_day: day.expected.value,
        expected_standard_uncertainty_m3_per_day: day.expected.uncertainty,
        evaporation_m3_per_day: day.readings.evaporation.value,
        blowdown_m3_per_day: day.readings.blowdown.value,
        cycles_of_concentration: day.cycles,
        loss_by_solids_m3_per_day: day.solids.reads,
        loss_by_heat_m3_per_day: day.heat.map(|heat| heat.reads),
        in_tolerance: day.is_in_tolerance(),
    };
    sheet.days.iter().map(day).collect()
}

/// A check for programs; `source` names site file and log.
pub fn json(sheet: &CheckSheet, source: &str, refused: &[Refused]) -> CheckOut {
    CheckOut {
        schema: super::json::SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: source.into(),
        findings: sheet
            .findings
            .iter()
            .map(|finding| FindingOut {
                cause: match finding.cause {
                    Cause::Loss => "loss_or_blowdown_meter",
                    Cause::Inflow => "inflow_or_blowdown_meter",
                    Cause::MakeupMeter => "makeup_meter",
                    Cause::Conductivity => "conductivity",
                    Cause::Chloride => "chloride",
                    Cause::Heat => "heat",
                },
                size: finding.size,
                standard_uncertainty: finding.uncertainty,
                explains: finding.explains,
                since: finding.since.map(|date| date.to_string()),
            })
            .collect(),
        days: days(sheet),
        solids_decision_threshold_m3_per_day: sheet.by_solids.decision_threshold,
        solids_detection_limit_m3_per_day: sheet.by_solids.detection_limit,
        heat_detection_limit_m3_per_day: sheet.by_heat.map(|heat| heat.detection_limit),
        misfit: sheet.reconciled.misfit,
        degrees_of_freedom: sheet.reconciled.degrees_of_freedom,
        cycles_are_true: sheet.cycles_are_true,
        left_out: sheet
            .left_out
            .iter()
            .map(|(date, reason)| LeftOut { date: date.to_string(), reason })
            .collect(),
        not_used: refused
            .iter()
            .map(|refused| RefusedOut { line: refused.line, reason: refused.reason.clone() })
            .collect(),
    }
}
