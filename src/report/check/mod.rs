//! A checked log, as people and programs read it.

mod answer;
mod detail;
mod json;
mod told;
mod two;
mod working;

pub use json::{
    AssumedOut, CauseOut, CheckOut, FindingOut, HotBelowColdOut, LastCheck, LeastLossOut, LeftOut,
    MetersOut, MistypedOut, OneMoreOut, PatternOut, PeriodOut, ReconciledOut, RecordedOut,
    RefusedOut, RowsOut, WithoutHeat, json, periods,
};
#[cfg(feature = "picture")]
pub(crate) use told::short;
pub use two::{TwoOut, TwoRow, two_json, two_page, two_working};
pub use working::working;

use super::page::{Page, Piece, number};
use super::shown::{COVERAGE, with_uncertainty};
use crate::model::{CheckSheet, CheckedPeriod, MissingReading};
use crate::quantity::{UnitSystem, significant, unit, with_decimals};
use crate::readings::NotUsed;
use crate::readings::period::{Every, Recorded};
use crate::readings::repair::Repair;
use crate::site::description::RowValues;
use crate::statistics::median;
use crate::warnings::Noticed;
use jiff::civil::DateTime;

/// Periods of the answer's table, the last ones.
const LAST: usize = 7;

/// What a log is beside its sheet.
#[derive(Debug, Clone, Copy)]
pub struct Log<'a> {
    /// Names of site file and log.
    pub source: &'a str,
    /// Length of its periods.
    pub every: Every,
    /// What of it is not used.
    pub not_used: &'a NotUsed,
    /// What the numbers of its rows are taken for, and whether the site file says so.
    pub values: (RowValues, bool),
    /// Readings that look mistyped.
    pub repairs: &'a [Repair],
    /// What of it is shown and not judged.
    pub recorded: &'a [Recorded],
}

impl Log<'_> {
    /// What looks wrong about the log, whatever its readings say.
    pub fn warnings(&self) -> Vec<Noticed> {
        let missed = self.recorded.iter().filter_map(Recorded::noticed);
        self.not_used.noticed().into_iter().chain(missed).collect()
    }
}

struct Of<'a> {
    sheet: &'a CheckSheet,
    log: Log<'a>,
    units: UnitSystem,
}

/// The page.
pub fn page(sheet: &CheckSheet, log: &Log<'_>, units: UnitSystem) -> Page {
    let mut page = Page::new(&sheet.name, "Check of the log", log.source);
    let of = Of { sheet, log: *log, units };
    page.answer = of.answer();
    page.detail = of.detail();
    page
}

impl Of<'_> {
    /// m3/day in a unit of the page, and the unit.
    fn day(&self) -> (f64, &'static str) {
        match self.units {
            UnitSystem::Si => (1.0, "m3/day"),
            UnitSystem::UsCustomary => (unit::US_GALLON.factor, "US gal/day"),
        }
    }

    /// A flow of m3/day without its unit.
    fn flow(&self, m3_per_day: f64) -> String {
        significant(m3_per_day / self.day().0, 3)
    }

    /// The same with its unit.
    fn with_unit(&self, m3_per_day: f64) -> String {
        format!("{} {}", self.flow(m3_per_day), self.day().1)
    }

    /// The same to two digits: what a loss has to be is no exact number.
    fn rough(&self, m3_per_day: f64) -> String {
        let (factor, symbol) = self.day();
        format!("{} {symbol}", significant(m3_per_day / factor, 2))
    }

    /// A flow with its ±, about 95 %, and its unit.
    fn uncertain(&self, m3_per_day: f64, standard: f64) -> String {
        let (factor, symbol) = self.day();
        format!("{} {symbol}", with_uncertainty(m3_per_day / factor, COVERAGE * standard / factor))
    }

    fn volume(&self, m3: f64) -> String {
        let (factor, _) = self.day();
        let symbol = match self.units {
            UnitSystem::Si => "m3",
            UnitSystem::UsCustomary => "US gal",
        };
        format!("{} {symbol}", significant(m3 / factor, 3))
    }

    /// A date, with the time of day where periods are shorter than a day.
    fn time(&self, key: &'static str, time: DateTime) -> Piece {
        let is_short = self.log.every.hours() < 24.0;
        let form = if is_short { "%Y-%m-%d %H:%M" } else { "%Y-%m-%d" };
        number(key, time.strftime(form).to_string())
    }

    /// `day`, `days`; `bill` where the rows of a log lie further apart.
    fn name(&self) -> &'static str {
        name_of_periods(self.sheet, self.log.every)
    }
}

/// What a period is called: that of the log, or a bill where readings lie weeks apart.
fn name_of_periods(sheet: &CheckSheet, every: Every) -> &'static str {
    const LONG: f64 = 1.5;
    const BILL_HOURS: f64 = 20.0 * 24.0;
    let hours = median(sheet.periods.iter().map(|period| period.hours)).unwrap_or(0.0);
    match hours > LONG * every.hours() {
        true if hours > BILL_HOURS => "bill",
        true => "period",
        false => every.name(),
    }
}

/// Median makeup, m3/day.
fn typical_makeup(sheet: &CheckSheet) -> f64 {
    median(sheet.periods.iter().map(|period| period.readings.makeup.value)).unwrap_or(f64::NAN)
}

/// A part in per cent, to two digits.
fn percent(part: f64) -> String {
    format!("{} %", significant(100.0 * part, 2))
}

/// What a missing reading is called, with its article.
fn missing(reading: MissingReading) -> &'static str {
    match reading {
        MissingReading::BlowdownMeter => "a blowdown meter",
        MissingReading::Conductivity => "the conductivity of basin and makeup",
        MissingReading::Temperatures => "hot and cold water",
    }
}

/// What is expected of a period: by physics, or with the part that the log's own quiet days show.
struct Expected {
    /// Of what physics asks for; 1 without quiet days.
    part: f64,
    /// Of the last periods, about 95 %: their median, m3/day.
    plus_minus: Option<f64>,
}

impl Expected {
    fn of(sheet: &CheckSheet) -> Self {
        let last = &sheet.periods[sheet.periods.len().saturating_sub(LAST)..];
        let half = |of: &dyn Fn(&CheckedPeriod) -> f64| {
            median(last.iter().map(|period| COVERAGE * of(period)))
        };
        match sheet.own_days() {
            Some(own) => Self {
                part: own.part,
                plus_minus: half(&|period| own.spread * period.expected.value),
            },
            None => Self { part: 1.0, plus_minus: half(&|period| period.expected.uncertainty) },
        }
    }
}

/// Decimals that give the typical number of a column three digits; below zero where tens are rounded away.
fn decimals(values: impl Iterator<Item = f64>) -> i32 {
    let values = values.map(f64::abs).filter(|value| *value > 0.0 && value.is_finite());
    median(values).map_or(0, |typical| 2 - typical.log10().floor() as i32)
}

/// Decimals of the second digit of an uncertainty.
fn decimals_of_uncertainty(expanded: Option<f64>) -> i32 {
    let expanded = expanded.filter(|expanded| *expanded > 0.0 && expanded.is_finite());
    expanded.map_or(1, |expanded| 1 - expanded.log10().floor() as i32)
}

/// A number of a column.
fn cell(value: f64, decimals: i32) -> String {
    const MOST: i32 = 3;
    if decimals >= 0 {
        return with_decimals(value, decimals.min(MOST) as usize);
    }
    let step = 10f64.powi(-decimals);
    with_decimals((value / step).round() * step, 0)
}

/// The hours of a period that is not whole.
fn hours_if_short(period: &CheckedPeriod, every: Every) -> Option<Piece> {
    let is_whole = (period.hours / every.hours() - 1.0).abs() < 0.1;
    (!is_whole).then(|| number("periods.hours", format!("{} h", with_decimals(period.hours, 0))))
}

/// A number without digits that it does not need.
fn shortest(number: f64) -> String {
    ((1e3 * number).round() / 1e3).to_string()
}

/// Whether the meters contradict each other from the first day on.
fn contradicts_itself(sheet: &CheckSheet) -> bool {
    sheet.notes.iter().any(|note| note.since.is_none())
}
