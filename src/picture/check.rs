//! A checked log as a picture: makeup measured and expected, the chart of change, what is recorded.

use super::axis::{Axis, days_between, ends};
use super::chart::{Chart, Layer, Panel};
use super::colour::{BLUE, INK, ORANGE, PURPLE, SKY, VERMILLION};
use super::frame::Frame;
use super::{Look, Picture, source, title};
use crate::model::{Cause, CheckSheet, CheckedPeriod, Finding};
use crate::quantity::{UnitSystem, unit, with_decimals};
use crate::readings::period::Recorded;
use crate::report::check::Log;
use jiff::SignedDuration;
use jiff::civil::DateTime;

/// Sums grow on and on after a signal; so many decision intervals are shown.
const MOST_INTERVALS: f64 = 4.0;
/// Recorded columns that a picture shows.
const MOST_RECORDED: usize = 12;

/// A checked log.
pub fn check(sheet: &CheckSheet, log: &Log<'_>, look: Look) -> Picture {
    let name = if sheet.name.is_empty() { log.source } else { &sheet.name };
    let heading = title("Check of the log", name);
    let mut frame = Frame::new(&heading, &source(log.source), look.width);
    let (Some(first), Some(last)) = (sheet.periods.first(), sheet.periods.last()) else {
        return frame.finish();
    };
    let recorded = log.recorded.iter().flat_map(|recorded| &recorded.means);
    let starts = || recorded.clone().map(|(start, _)| *start);
    let begin = starts().fold(first.start, DateTime::min);
    let end = starts().fold(last.start, DateTime::max);
    let whole = SignedDuration::from_secs((3_600.0 * log.every.hours()) as i64);
    let last_hours = SignedDuration::from_secs((3_600.0 * last.hours) as i64);
    let end = later(end, whole).max(later(last.start, last_hours));
    let page = Page { sheet, log, look, begin, end };
    frame.describe(&page.described());
    let mut panels = vec![page.makeup()];
    panels.extend(page.charts());
    panels.extend(log.recorded.iter().take(MOST_RECORDED).filter_map(|r| page.recorded(r)));
    Panel::draw_all(&panels, &mut frame);
    if log.recorded.len() > MOST_RECORDED {
        frame.note(&format!("{} recorded columns more.", log.recorded.len() - MOST_RECORDED));
    }
    frame.finish()
}

struct Page<'a> {
    sheet: &'a CheckSheet,
    log: &'a Log<'a>,
    look: Look,
    begin: DateTime,
    end: DateTime,
}

fn later(time: DateTime, by: SignedDuration) -> DateTime {
    time.checked_add(by).unwrap_or(time)
}

impl Page<'_> {
    fn axis(&self) -> Axis {
        let most = if self.look.width.is_phone() { 4 } else { 8 };
        Axis::times((self.begin, self.end), most)
    }

    fn day(&self, time: DateTime) -> f64 {
        days_between(self.begin, time)
    }

    /// The middle of a period on the axis.
    fn middle(&self, period: &CheckedPeriod) -> f64 {
        self.day(period.start) + period.hours / 48.0
    }

    /// Whether something is missing between a period and the next.
    fn is_followed(&self, index: usize) -> bool {
        let periods = &self.sheet.periods;
        periods.get(index + 1).is_none_or(|next| {
            let gap = days_between(periods[index].start, next.start) * 24.0;
            gap < periods[index].hours.max(self.log.every.hours()) * 1.5
        })
    }

    /// A row of the periods, with a gap where periods are missing.
    fn row<T>(&self, of: impl Fn(usize, f64) -> T, gap: impl Fn(f64) -> T) -> Vec<T> {
        let mut row = Vec::new();
        for (index, period) in self.sheet.periods.iter().enumerate() {
            let middle = self.middle(period);
            row.push(of(index, middle));
            if !self.is_followed(index) {
                row.push(gap(middle));
            }
        }
        row
    }

    /// Where findings began.
    fn marks(&self) -> Vec<Layer> {
        let mark = |finding: &Finding| {
            let since = finding.since?;
            Some(Layer::Mark {
                at: self.day(since),
                colour: ORANGE,
                label: format!("{}: {}", self.date(since), causes(finding)),
            })
        };
        self.sheet.findings.iter().filter_map(mark).collect()
    }

    fn date(&self, time: DateTime) -> String {
        let form = if self.log.every.hours() < 24.0 { "%Y-%m-%d %H:%M" } else { "%Y-%m-%d" };
        time.strftime(form).to_string()
    }

    fn makeup(&self) -> Panel {
        let (factor, unit) = match self.look.units {
            UnitSystem::Si => (1.0, "m3/day"),
            UnitSystem::UsCustomary => (1e-3 / unit::US_GALLON.factor, "1000 US gal/day"),
        };
        let periods = &self.sheet.periods;
        let expected = |index: usize| {
            let period = &periods[index];
            let (value, half) = (period.expected.value, 2.0 * period.tolerance());
            (factor * (value - half), factor * value, factor * (value + half))
        };
        let band = self.row(
            |index, day| (day, expected(index).0, expected(index).2),
            |day| (day, f64::NAN, f64::NAN),
        );
        let line = self.row(|index, day| (day, expected(index).1), |day| (day, f64::NAN));
        let measured = |fits: bool| -> Vec<(f64, f64)> {
            let of_kind = periods.iter().filter(|period| period.is_in_tolerance() == fits);
            of_kind.map(|p| (self.middle(p), factor * p.readings.makeup.value)).collect()
        };
        let (fits, differs) = (measured(true), measured(false));
        let values = fits.iter().chain(&differs).map(|(_, makeup)| *makeup);
        let ends = band.iter().flat_map(|(_, lower, upper)| [*lower, *upper]);
        let values: Vec<f64> = values.chain(ends).collect();
        let (least, most) = self::ends(values.iter().copied());
        // What hardly moves is shown without all that lies below it.
        let from = if least < 0.5 * most { least.min(0.0) } else { least };
        let y = Axis::around(unit, [from, most], 5);
        let width = if periods.len() > 300 { 0.8 } else { 1.4 };
        let mut layers = vec![
            Layer::Band {
                points: band,
                colour: SKY,
                label: "expected ± twice the uncertainty, the meter's included".into(),
            },
            Layer::Line { points: line, colour: BLUE, width, label: "expected".into() },
        ];
        for (points, filled, colour, label) in [
            (fits, true, INK, "measured"),
            (differs, false, VERMILLION, "measured, outside the band"),
        ] {
            if !points.is_empty() {
                layers.push(Layer::Points { points, colour, filled, label: label.into() });
            }
        }
        layers.extend(self.marks());
        let notes = self.notes();
        let chart = Chart { x: self.axis(), y, layers, field: 200.0 };
        Panel { heading: "Makeup, measured and expected".into(), chart, notes }
    }

    /// What the marks do not say.
    fn notes(&self) -> Vec<String> {
        let mut notes: Vec<String> = self
            .sheet
            .notes
            .iter()
            .map(|note| {
                let since = note.since.map_or_else(
                    || format!("From the first {} on", self.log.every.name()),
                    |since| format!("Since {}, and over", self.date(since)),
                );
                format!("Note, no finding: {}: {}.", since, causes(note))
            })
            .collect();
        if self.sheet.findings.is_empty() {
            notes.push("No finding.".into());
        }
        notes
    }

    fn charts(&self) -> Option<Panel> {
        let charts = &self.sheet.charts;
        let decision = charts.plan?.decision;
        let watched = charts.solids.as_ref()?;
        let mut layers: Vec<Layer> = Vec::new();
        for (sign, label) in [(1.0, "loss by solids"), (-1.0, "")] {
            let points = self.row(
                |index, day| {
                    let (up, down) = watched.sums[index];
                    (day, if sign > 0.0 { up } else { -down })
                },
                |day| (day, f64::NAN),
            );
            layers.push(Layer::Line { points, colour: BLUE, width: 1.5, label: label.into() });
        }
        let values: Vec<f64> = layers
            .iter()
            .flat_map(|layer| match layer {
                Layer::Line { points, .. } => points.iter().map(|(_, sum)| *sum).collect(),
                _ => Vec::new(),
            })
            .collect();
        let (least, most) = ends(values.into_iter().chain([-decision, decision]));
        let off = MOST_INTERVALS * decision;
        for at in [decision, -decision] {
            let label = if at > 0.0 {
                format!("decision line, ± {}", with_decimals(decision, 1))
            } else {
                String::new()
            };
            layers.push(Layer::Level { at, colour: PURPLE, label });
        }
        layers.extend(self.marks());
        let y = Axis::around("standard deviations", [least.max(-off), most.min(off)], 6);
        let name = self.log.every.name();
        let plan = charts.plan?;
        let mut notes = vec![format!(
            "Rises count upwards, falls downwards, against the median of the {name}s from {} to {} before.",
            plan.farthest, plan.nearest
        )];
        if most > off || least < -off {
            notes.push("A sum that leaves the chart goes on beyond it.".into());
        }
        let chart = Chart { x: self.axis(), y, layers, field: 170.0 };
        Some(Panel { heading: "Cumulative sums of what changed".into(), chart, notes })
    }

    fn recorded(&self, recorded: &Recorded) -> Option<Panel> {
        let half = self.log.every.hours() / 48.0;
        let points: Vec<(f64, f64)> =
            recorded.means.iter().map(|(start, mean)| (self.day(*start) + half, *mean)).collect();
        if points.is_empty() {
            return None;
        }
        let y = Axis::around(&recorded.unit, points.iter().map(|(_, mean)| *mean), 3);
        let layers = vec![
            Layer::Line { points: points.clone(), colour: BLUE, width: 1.0, label: String::new() },
            Layer::Points { points, colour: BLUE, filled: true, label: String::new() },
        ];
        let chart = Chart { x: self.axis(), y, layers, field: 60.0 };
        let heading = format!("{} (recorded, not judged)", recorded.name);
        Some(Panel { heading, chart, notes: Vec::new() })
    }

    fn described(&self) -> String {
        let mut words = format!(
            "Makeup measured and expected from {} to {}, {} {}s.",
            self.date(self.begin),
            self.date(self.end),
            self.sheet.periods.len(),
            self.log.every.name()
        );
        for finding in &self.sheet.findings {
            let since = finding
                .since
                .map_or("from the beginning".into(), |since| format!("since {}", self.date(since)));
            words += &format!(" Finding {since}: {}.", causes(finding));
        }
        if self.sheet.findings.is_empty() {
            words += " No finding.";
        }
        words
    }
}

/// The causes that explain a finding best, in a few words.
fn causes(finding: &Finding) -> String {
    let name = |cause: Cause| match cause {
        Cause::Loss => "loss",
        Cause::Inflow => "inflow",
        Cause::MakeupMeter => "makeup meter",
        Cause::Conductivity => "conductivity",
        Cause::Chloride => "chloride",
        Cause::Heat => "load or weather",
        Cause::BlowdownHigh => "blowdown high",
        Cause::BlowdownLow => "blowdown low",
        Cause::MakeupMeterStill => "makeup meter still",
    };
    let names: Vec<&str> = finding.leading().map(|suspect| name(suspect.cause)).collect();
    names.join(" or ")
}
