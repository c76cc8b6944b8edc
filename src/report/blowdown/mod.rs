//! The blowdown target as people and programs read it.

mod answer;
mod control;
mod detail;
mod given;
mod json;
mod limits;
mod own_test;
mod working;

pub use control::{ControlOut, ValveOut};
pub use given::AnalysisOut;
pub use json::{
    AsGivenOut, BandOut, BlowdownOut, LimitOut, LowPhOut, ProgrammeOut, SavingOut, SeasonOut,
    SetPointOut, SourceOut, ValveSizeOut, WaterOut, columns, json, water_out,
};
#[cfg(feature = "files")]
pub(in crate::report) use own_test::Tested;
pub use own_test::{LineOut, LossOut, OwnTestOut, SamplingOut, WitnessOut};
pub use working::working;

use super::page::{Block, Page, Piece, Words, constant, number, words};
use super::uncertain;
use crate::blowdown::ConcentratedWater;
use crate::blowdown::limit::Measure;
use crate::model::{Balance, BlowdownSheet, UncertainBlowdown, UsedAnalysis};
use crate::quantity::{Quantity, UnitSystem, significant, unit, with_decimals};
use crate::site::Value;

/// What people are told about discharging blowdown and feeding acid.
const CAUTION: &str = "discharge blowdown only as permit and local code allow. Acid burns: trained people only, \
behind interlocks. Longer retention raises the biological risk (Legionella): the water management plan goes before \
any saving.";

/// What is shown beside a sheet.
#[derive(Debug, Clone, Copy)]
pub struct Beside<'a> {
    /// Every number of the site; of these the ones that nobody stated.
    pub slots: &'a [Value],
    /// Solved waters to list.
    pub waters: &'a [ConcentratedWater],
    /// Analyses as they were given and as they are used.
    pub given: &'a [UsedAnalysis],
}

struct Of<'a> {
    sheet: &'a BlowdownSheet,
    beside: Beside<'a>,
    units: UnitSystem,
}

/// The page; `source` names the file.
pub fn page(sheet: &BlowdownSheet, source: &str, beside: Beside<'_>, units: UnitSystem) -> Page {
    let mut page = Page::new(&sheet.name, "Blowdown target", source);
    let of = Of { sheet, beside, units };
    page.answer = of.answer();
    page.detail = [
        of.limits(),
        of.watched(),
        of.water_blocks(),
        of.set_point(),
        of.valve(),
        of.water_saved(),
        of.own_test_in_full(),
        of.analyses(),
        given::blocks(beside.given),
        of.basis(),
        of.how_sure(),
    ]
    .concat();
    page
}

impl Of<'_> {
    /// m3/h in the page's unit.
    fn flow(&self, m3_per_h: f64) -> String {
        let unit = Quantity::VolumeFlow.shown_in(self.units);
        let number = unit.of_si(unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h));
        format!("{} {}", significant(number, 3), unit.symbol)
    }

    /// A flow of kg/s in the page's unit.
    fn mass_flow(&self, kg_per_s: f64) -> String {
        self.flow(Balance::reference_m3_per_h(kg_per_s))
    }

    /// m3 in the page's unit.
    fn volume(&self, m3: f64) -> String {
        let unit = Quantity::Volume.shown_in(self.units);
        format!("{} {}", significant(unit.of_si(m3), 3), unit.symbol)
    }

    fn temperature(&self, celsius: f64) -> String {
        let (number, symbol) = match self.units {
            UnitSystem::Si => (celsius, "°C"),
            UnitSystem::UsCustomary => (celsius * 1.8 + 32.0, "°F"),
        };
        format!("{} {symbol}", with_decimals(number, 0))
    }

    /// Today's cycles, and where they come from if they are a ratio of conductivities.
    fn today(&self) -> Words {
        let sheet = self.sheet;
        let origin = match sheet.conductivity_ratio {
            Some(_) if sheet.cycles_are_apparent => " apparent".into(),
            Some(ratio) => words![
                " (",
                number("conductivity_ratio", cycles(ratio)),
                " by the ratio of conductivities)"
            ],
            None => Words::default(),
        };
        words![number("present_cycles", cycles(sheet.present_cycles)), origin]
    }

    fn how_sure(&self) -> Vec<Block> {
        let UncertainBlowdown { results, others_lead } = &self.sheet.uncertain;
        let mut blocks = uncertain::blocks(results, "", self.units);
        if !others_lead.is_empty() && !results.is_empty() {
            blocks.push(Block::paragraph(words![
                "Within a standard uncertainty of an input another limit takes the lead: ",
                Words::given(&others_lead.join(", ")),
                ". The allowed cycles have a corner there, and their ± is coarse."
            ]));
        }
        blocks
    }
}

/// Numbers of the water and its control that nobody stated, with their basis.
fn assumed(slots: &[Value]) -> impl Iterator<Item = (&Value, &'static str)> {
    const OF_THE_WATER: [&str; 3] = ["ph.", "blowdown.", "circulating_water."];
    slots
        .iter()
        .filter(|value| {
            let is_of_makeup =
                value.path.starts_with("makeup.") && value.path.contains(".analysis.");
            is_of_makeup || OF_THE_WATER.iter().any(|table| value.path.starts_with(table))
        })
        .filter_map(|value| Some((value, value.assumed?)))
}

/// Cycles as they are shown: hundredths, from ten on tenths.
pub(crate) fn cycles(number: f64) -> String {
    if number < 10.0 { with_decimals(number, 2) } else { significant(number, 3) }
}

fn us_per_cm(siemens_per_metre: f64) -> String {
    format!("{} uS/cm", significant(siemens_per_metre * 1e4, 3))
}

fn duration(hours: f64) -> String {
    if hours < 2.0 {
        format!("{} min", significant(60.0 * hours, 2))
    } else {
        format!("{} h", significant(hours, 2))
    }
}

/// What people call a measure; its digits (25 °C, SO4) are the same for every site.
fn name(measure: Measure) -> Piece {
    constant(measure.name())
}

fn name_with_unit(measure: Measure) -> Piece {
    match measure.unit() {
        unit if unit.is_empty() => name(measure),
        unit => constant(format!("{}, {unit}", measure.name())),
    }
}
