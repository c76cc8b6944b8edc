//! The level of the basin, as people and programs read it.

mod answer;
mod detail;
mod json;
mod working;

pub use json::{
    BillOut, DilutionOut, EventOut, LevelOut, PointOut, StopsOut, StuckOut, json, points,
};
pub use working::working;

use super::page::{Page, Piece, number};
use super::{shown, uncertain};
use crate::basin::course::{Course, Sample};
use crate::model::{LevelSheet, Uncertain};
use crate::quantity::unit::{self, Unit};
use crate::quantity::{Quantity, UnitSystem, significant, with_decimals};
use crate::site::Value;

const CAUTION: &str = "a basin is a confined space, and people have drowned in them: nobody enters but under a \
permit, with the pumps and fans locked. Drained, idle and restarted towers grow Legionella and throw droplets: \
follow the water management plan before fans run again. Drain only by permit; keep the local backflow rule.";

/// Hours of the stuck valve's course that a page shows.
const COURSE_HOURS: [f64; 7] = [0.0, 0.25, 1.0, 6.0, 24.0, 72.0, 168.0];
/// Less water than this over the lip is none, m3.
const NOTHING: f64 = 1e-3;

/// What is shown beside a sheet.
#[derive(Debug, Clone, Copy, Default)]
pub struct Beside<'a> {
    /// Every number of the site; of these the ones that nobody stated.
    pub slots: &'a [Value],
    /// How sure the level is.
    pub uncertain: &'a [Uncertain],
}

impl<'a> Beside<'a> {
    /// Numbers of the basin and its circuit that nobody stated, with their basis.
    fn assumed(self) -> impl Iterator<Item = (&'a Value, &'static str)> {
        const OF_THE_BASIN: [&str; 4] = ["basin.", "circuit.hot_water", "air.", "cell."];
        self.slots
            .iter()
            .filter(|value| OF_THE_BASIN.iter().any(|table| value.path.starts_with(table)))
            .filter(|value| !value.path.ends_with(".share"))
            .filter_map(|value| Some((value, value.assumed?)))
    }
}

/// The page; `source` names the file.
pub fn page(sheet: &LevelSheet, source: &str, beside: Beside<'_>, units: UnitSystem) -> Page {
    let mut page = Page::new(&sheet.name, "Basin level", source);
    let of = Of { sheet, beside, units };
    page.answer = of.answer();
    page.detail = of.detail();
    page.detail.extend(uncertain::blocks(beside.uncertain, &sheet.currency, units));
    page
}

struct Of<'a> {
    sheet: &'a LevelSheet,
    beside: Beside<'a>,
    units: UnitSystem,
}

impl Of<'_> {
    fn unit(&self, quantity: Quantity) -> &'static Unit {
        quantity.shown_in(self.units)
    }

    fn flow_unit(&self) -> &'static Unit {
        self.unit(Quantity::VolumeFlow)
    }

    /// m3/h in the page's unit.
    fn flow_number(&self, m3_per_h: f64) -> f64 {
        self.flow_unit().of_si(unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h))
    }

    /// A flow without its unit.
    fn plain_flow(&self, m3_per_h: f64) -> String {
        significant(self.flow_number(m3_per_h), 3)
    }

    fn flow(&self, m3_per_h: f64) -> String {
        format!("{} {}", self.plain_flow(m3_per_h), self.flow_unit().symbol)
    }

    /// A level without its unit.
    fn plain_level(&self, metre: f64) -> String {
        with_decimals(self.unit(Quantity::Length).of_si(metre), 3)
    }

    fn level(&self, metre: f64) -> String {
        format!("{} {}", self.plain_level(metre), self.unit(Quantity::Length).symbol)
    }

    /// Money with the currency of the site, if it has one.
    fn amount(&self, amount: f64) -> String {
        format!("{} {}", significant(amount, 3), self.sheet.currency).trim_end().to_owned()
    }

    fn money(&self, key: &'static str, amount: f64) -> Piece {
        number(key, self.amount(amount))
    }

    fn volume(&self, m3: f64) -> String {
        let unit = self.unit(Quantity::Volume);
        format!("{} {}", significant(unit.of_si(m3), 3), unit.symbol)
    }
}

fn hours(key: &'static str, hours: f64) -> Piece {
    number(key, time(hours))
}

fn time(hours: f64) -> String {
    if hours < 1.5 {
        format!("{} min", significant(60.0 * hours, 2))
    } else if hours < 48.0 {
        shown::hours(hours, 3)
    } else {
        format!("{} d", significant(hours / 24.0, 3))
    }
}

/// Discharge over the lip at the end of a course, m3/h.
fn last_overflow(course: &Course) -> f64 {
    course.samples.last().map_or(0.0, |sample| sample.overflow)
}

/// The water at an hour, straight between samples; `None` after the end.
fn sample_at(course: &Course, hour: f64) -> Option<Sample> {
    let samples = &course.samples;
    let after = samples.iter().position(|sample| sample.hour >= hour)?;
    let late = samples[after];
    let Some(early) = after.checked_sub(1).map(|index| samples[index]) else { return Some(late) };
    let part =
        if late.hour > early.hour { (hour - early.hour) / (late.hour - early.hour) } else { 1.0 };
    let between = |a: f64, b: f64| a + part * (b - a);
    Some(Sample {
        hour,
        level: between(early.level, late.level),
        cycles: between(early.cycles, late.cycles),
        overflow: between(early.overflow, late.overflow),
    })
}
