//! A checked log as a picture: makeup measured and expected, what the solids read as a loss, what is recorded.

use super::axis::{Axis, days_between, ends};
use super::chart::{Chart, Layer, Panel};
use super::colour::{BLUE, INK, ORANGE, SKY, VERMILLION};
use super::frame::Frame;
use super::{Look, Picture, source, title};
use crate::model::{CheckSheet, CheckedPeriod, Finding};
use crate::quantity::{UnitSystem, unit};
use crate::readings::period::Recorded;
use crate::report::check::{Log, short};
use jiff::SignedDuration;
use jiff::civil::DateTime;

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
    if sheet.meters.solids_are_read() {
        panels.push(page.solids());
    }
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

    /// Where findings began, were found and ended; with words or without.
    fn marks(&self, with_words: bool) -> Vec<Layer> {
        let of = |finding: &Finding| {
            let began = finding.since.map(|at| (at, causes(finding)));
            let found = finding.found.filter(|found| finding.since != Some(*found));
            let found = found.map(|at| (at, "found".to_owned()));
            let over = finding.until.map(|at| (at, "over".to_owned()));
            [began, found, over].into_iter().flatten().collect::<Vec<_>>()
        };
        let mark = |(at, words): (DateTime, String)| Layer::Mark {
            at: self.day(at),
            colour: ORANGE,
            label: if with_words { format!("{}: {words}", self.date(at)) } else { String::new() },
        };
        self.sheet.findings.iter().flat_map(of).map(mark).collect()
    }

    /// m3/day in the chart's unit, and the unit.
    fn flow(&self) -> (f64, &'static str) {
        match self.look.units {
            UnitSystem::Si => (1.0, "m3/day"),
            UnitSystem::UsCustomary => (1e-3 / unit::US_GALLON.factor, "1000 US gal/day"),
        }
    }

    fn date(&self, time: DateTime) -> String {
        let form = if self.log.every.hours() < 24.0 { "%Y-%m-%d %H:%M" } else { "%Y-%m-%d" };
        time.strftime(form).to_string()
    }

    fn makeup(&self) -> Panel {
        let (factor, unit) = self.flow();
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
        layers.extend(self.marks(true));
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
                    |since| format!("Since {}", self.date(since)),
                );
                format!("Note, no finding: {}: {}.", since, causes(note))
            })
            .collect();
        if self.sheet.findings.is_empty() {
            notes.push(self.nothing().into());
        }
        notes
    }

    /// What the solids read as a loss: a change shows here first.
    fn solids(&self) -> Panel {
        let (factor, unit) = self.flow();
        let periods = &self.sheet.periods;
        let of = |index: usize| factor * periods[index].solids.reads;
        let line = self.row(|index, day| (day, of(index)), |day| (day, f64::NAN));
        let points: Vec<(f64, f64)> =
            (0..periods.len()).map(|index| (self.middle(&periods[index]), of(index))).collect();
        let y = Axis::around(unit, points.iter().map(|(_, loss)| *loss).chain([0.0]), 5);
        let mut layers = vec![
            Layer::Level { at: 0.0, colour: INK, label: String::new() },
            Layer::Line {
                points: line,
                colour: BLUE,
                width: 1.0,
                label: "loss by the salts".into(),
            },
            Layer::Points { points, colour: BLUE, filled: true, label: String::new() },
        ];
        layers.extend(self.marks(false));
        let note = "What must have left with the basin's salts, less what the blowdown meter and drift account for.";
        let chart = Chart { x: self.axis(), y, layers, field: 170.0 };
        Panel { heading: "Loss by the salts".into(), chart, notes: vec![note.into()] }
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

    fn nothing(&self) -> &'static str {
        match self.sheet.is_long_enough() {
            true => "No finding.",
            false => "Too short a log to judge.",
        }
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
            words += " ";
            words += self.nothing();
        }
        words
    }
}

/// The causes that explain a finding best, in a few words.
fn causes(finding: &Finding) -> String {
    let names: Vec<&str> = finding.leading().map(|suspect| short(suspect.cause)).collect();
    names.join(" or ")
}
