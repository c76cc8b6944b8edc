//! The level of the basin, as people and programs read it.

mod detail;
mod json;
mod working;

pub use json::{
    BillOut, DilutionOut, EventOut, LevelOut, PointOut, StopsOut, StuckOut, json, points,
};
pub use working::working;

use super::page::{Page, Piece, Words, number};
use crate::basin::course::{Course, Sample};
use crate::model::LevelSheet;
use crate::quantity::unit::{self, Unit};
use crate::quantity::{Quantity, UnitSystem, significant, with_decimals};

const CAUTION: &str = "a basin is a confined space, and people have drowned in them: nobody enters but under a \
permit, with the pumps and fans locked. Drained, idle and restarted towers grow Legionella and throw droplets: \
follow the water management plan before fans run again. Drain only where the permit allows, and keep to the local \
backflow rule.";

/// Hours of the stuck valve's course that a page shows.
const COURSE_HOURS: [f64; 7] = [0.0, 0.25, 1.0, 6.0, 24.0, 72.0, 168.0];
/// Less water than this over the lip is none, m3.
const NOTHING: f64 = 1e-3;

/// The page; `source` names the file.
pub fn page(sheet: &LevelSheet, source: &str, units: UnitSystem) -> Page {
    let mut page = Page::new(&sheet.name, "Basin level", source);
    page.detail = Of { sheet, units }.detail();
    page
}

struct Of<'a> {
    sheet: &'a LevelSheet,
    units: UnitSystem,
}

impl Of<'_> {
    fn unit(&self, quantity: Quantity) -> &'static Unit {
        quantity.shown_in(self.units)
    }

    /// A flow without its unit.
    fn plain_flow(&self, m3_per_h: f64) -> String {
        let unit = self.unit(Quantity::VolumeFlow);
        significant(unit.of_si(unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h)), 3)
    }

    fn flow(&self, m3_per_h: f64) -> String {
        format!("{} {}", self.plain_flow(m3_per_h), self.unit(Quantity::VolumeFlow).symbol)
    }

    /// A level without its unit.
    fn plain_level(&self, metre: f64) -> String {
        with_decimals(self.unit(Quantity::Length).of_si(metre), 3)
    }

    fn level(&self, metre: f64) -> String {
        format!("{} {}", self.plain_level(metre), self.unit(Quantity::Length).symbol)
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
        format!("{} h", significant(hours, 3))
    } else {
        format!("{} d", significant(hours / 24.0, 3))
    }
}

/// Money with the currency of the site, if it has one.
fn money(key: &'static str, amount: f64, digits: usize, currency: &str) -> Words {
    let amount = number(key, significant(amount, digits));
    match currency {
        "" => amount.into(),
        currency => super::page::words![amount, " ", Words::given(currency)],
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
