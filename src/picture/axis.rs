//! Axes with ticks at round values or dates.

use crate::quantity::with_decimals;
#[cfg(feature = "files")]
use jiff::{Span, civil::DateTime};
use plotters::coord::ranged1d::{KeyPointHint, NoDefaultFormatting, Ranged, ValueFormatter};
use std::ops::Range;

/// An axis.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Axis {
    /// What it shows, with the unit.
    pub name: String,
    pub from: f64,
    pub to: f64,
    /// Values with what is written beside them.
    pub ticks: Vec<(f64, String)>,
}

impl Axis {
    /// From the tick below the least value to the tick above the largest.
    pub fn around(name: &str, values: impl IntoIterator<Item = f64>, most: usize) -> Self {
        let (least, largest) = ends(values);
        let step = round_step(largest - least, most);
        let from = (least / step + 1e-9).floor() * step;
        let to = (largest / step - 1e-9).ceil() * step;
        Self::stepped(name, (from, to), step)
    }

    /// From one value to another, with ticks at round values.
    pub fn linear(name: &str, (from, to): (f64, f64), most: usize) -> Self {
        Self::stepped(name, (from, to), round_step(to - from, most))
    }

    fn stepped(name: &str, (from, to): (f64, f64), step: f64) -> Self {
        let decimals = (-(step * 1.001).log10().floor()).clamp(0.0, 12.0) as usize;
        let first = (from / step - 1e-9).ceil() as i64;
        let last = (to / step + 1e-9).floor() as i64;
        let tick = |count: i64| {
            let value = count as f64 * step;
            (value, with_decimals(value, decimals))
        };
        let ticks = (first..=last).map(tick).collect();
        Self { name: name.into(), from, to, ticks }
    }

    /// Hours from 0, with ticks at parts and multiples of a day where it is long.
    pub fn hours(name: &str, to: f64, most: usize) -> Self {
        let step = [6.0, 12.0, 24.0, 48.0, 96.0, 168.0, 336.0]
            .into_iter()
            .find(|step| to / step <= most as f64)
            .filter(|_| to > 30.0);
        let Some(step) = step else { return Self::linear(name, (0.0, to), most) };
        let ticks = (0..=(to / step + 1e-9).floor() as i64)
            .map(|count| (count as f64 * step, with_decimals(count as f64 * step, 0)))
            .collect();
        Self { name: name.into(), from: 0.0, to, ticks }
    }

    /// Times from one to another, counted in days from the first, with ticks at round dates or hours,
    /// no more than so many.
    #[cfg(feature = "files")]
    pub fn times((from, to): (DateTime, DateTime), most: usize) -> Self {
        let days = days_between(from, to).max(1.0 / 24.0);
        let most = most.max(2) as f64;
        let name = match (from.year(), to.year()) {
            (one, other) if one == other => one.to_string(),
            (one, other) => format!("{one} to {other}"),
        };
        let fits = |unit: f64| move |step: &i32| days / unit / f64::from(*step) <= most;
        let hours = [1, 2, 3, 6, 12].into_iter().find(fits(1.0 / 24.0));
        let whole_days = [1, 2, 7, 14].into_iter().find(fits(1.0));
        let months =
            [1, 2, 3, 6, 12, 24, 60, 120, 600].into_iter().find(fits(30.4)).unwrap_or(6_000);
        let (step, format, begin) = match (hours, whole_days) {
            (Some(hours), _) => (Span::new().hours(hours), "%-d %b %H:%M", from),
            (None, Some(days)) => (Span::new().days(days), "%-d %b", from),
            (None, None) => {
                let format = match (months % 12 == 0, from.year() == to.year()) {
                    (true, _) => "%Y",
                    (false, true) => "%b",
                    (false, false) => "%b %y",
                };
                (Span::new().months(months), format, from.first_of_month())
            }
        };
        let midnight = begin.date().at(0, 0, 0, 0);
        let at = |count: i64| midnight.checked_add(step.checked_mul(count).ok()?).ok();
        let ticks = (0..).map_while(at).take_while(|time| *time <= to);
        let ticks = ticks
            .filter(|time| *time >= from)
            .map(|time| (days_between(from, time), time.strftime(format).to_string()))
            .collect();
        Self { name, from: 0.0, to: days, ticks }
    }

    /// Width of what is written beside the ticks, px.
    pub fn tick_width(&self, size: f64) -> f64 {
        self.ticks
            .iter()
            .map(|(_, words)| super::frame::text_width(words, size))
            .fold(0.0, f64::max)
    }
}

/// Days from one time to another.
#[cfg(feature = "files")]
pub(super) fn days_between(from: DateTime, to: DateTime) -> f64 {
    to.duration_since(from).as_secs_f64() / 86_400.0
}

/// The least and the largest of values; a pair with something between them in any case.
pub(super) fn ends(values: impl IntoIterator<Item = f64>) -> (f64, f64) {
    let (least, largest) = values
        .into_iter()
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(least, largest), value| {
            (least.min(value), largest.max(value))
        });
    if least > largest {
        return (0.0, 1.0);
    }
    let apart = largest - least;
    if apart > 1e-9 * largest.abs().max(1e-9) {
        return (least, largest);
    }
    let half = if least == 0.0 { 0.5 } else { 0.1 * least.abs() };
    (least - half, largest + half)
}

/// 1, 2 or 5 times a power of ten, so that no more than so many fit in.
fn round_step(span: f64, most: usize) -> f64 {
    let least = (span / most.max(1) as f64).max(f64::MIN_POSITIVE);
    let power = 10f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|factor| factor * power)
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

impl Ranged for Axis {
    type FormatOption = NoDefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, (begin, end): (i32, i32)) -> i32 {
        let part = (value - self.from) / (self.to - self.from);
        (f64::from(begin) + part * f64::from(end - begin)).round() as i32
    }

    fn key_points<Hint: KeyPointHint>(&self, _: Hint) -> Vec<f64> {
        self.ticks.iter().map(|(value, _)| *value).collect()
    }

    fn range(&self) -> Range<f64> {
        self.from..self.to
    }
}

impl ValueFormatter<f64> for Axis {
    fn format_ext(&self, value: &f64) -> String {
        let tick = self.ticks.iter().find(|(tick, _)| tick == value);
        tick.map(|(_, words)| words.clone()).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(axis: &Axis) -> Vec<&str> {
        axis.ticks.iter().map(|(_, words)| words.as_str()).collect()
    }

    #[test]
    fn ticks_are_round_and_written_with_the_digits_they_need() {
        assert_eq!(words(&Axis::around("", [0.2, 9.3], 5)), ["0", "2", "4", "6", "8", "10"]);
        assert_eq!(words(&Axis::around("", [0.0, 0.03], 4)), ["0.00", "0.01", "0.02", "0.03"]);
        assert_eq!(words(&Axis::linear("", (1.0, 4.2), 4)), ["1", "2", "3", "4"]);
        assert_eq!(
            words(&Axis::around("", [-1200.0, 800.0], 4)),
            ["-1500", "-1000", "-500", "0", "500", "1000"]
        );
    }

    #[cfg(feature = "files")]
    #[test]
    fn times_have_ticks_at_round_dates() {
        let times = |from: &str, to: &str| {
            let axis = Axis::times((from.parse().unwrap(), to.parse().unwrap()), 8);
            words(&axis).into_iter().map(str::to_owned).collect::<Vec<_>>()
        };
        let hours = times("2026-06-01T06:00", "2026-06-02T06:00");
        assert_eq!(hours[..2], ["1 Jun 06:00", "1 Jun 09:00"]);
        let days = times("2026-06-01T06:00", "2026-06-15T00:00");
        assert_eq!(days[..2], ["3 Jun", "5 Jun"]);
        assert_eq!(times("2026-01-31T00:00", "2026-06-02T00:00")[..2], ["Feb", "Mar"]);
        let months = times("2026-01-01T00:00", "2027-02-05T00:00");
        assert_eq!(months[..2], ["Jan 26", "Mar 26"]);
        assert_eq!(times("1990-01-01T00:00", "2027-02-05T00:00").len(), 8);
    }

    #[test]
    fn no_values_or_equal_ones_still_make_an_axis() {
        for values in [vec![], vec![3.0; 4], vec![0.0], vec![f64::NAN, f64::INFINITY]] {
            let axis = Axis::around("", values, 5);
            assert!(axis.to > axis.from && axis.ticks.len() >= 2, "{axis:?}");
        }
    }
}
