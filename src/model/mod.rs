//! The hinge: a checked site, compiled once, evaluated as often as numbers change.
//!
//! [`Model::compile`] fixes what numbers cannot express (cells, arrangement, which two of
//! circulation, range and heat load were given, the method). [`Inputs`] are the numbers themselves,
//! in SI units, one a slot. [`Model::evaluate`] repeats every check of numbers and allocates
//! nothing; [`Model::sheet`] adds all the methods, the uncertainties and the warnings.

mod analyses;
mod analysis_doubts;
mod blowdown;
#[cfg(feature = "files")]
mod check;
mod control;
mod evaluate;
mod feed;
mod level;
mod limits;
mod money;
mod monte_carlo;
mod own_test;
mod ph;
mod sheet;
mod tower_water;
mod transient;
mod uncertain;
mod uncertainty;
#[cfg(feature = "files")]
mod visits;
#[cfg(feature = "files")]
mod year;

use crate::air::AirError;
use crate::balance::BalanceError;
use crate::quantity::in_both_systems;
pub use crate::site::SlotId;
use crate::site::{CellAir, Conflict, Problem, Site, Value};
use crate::tower::{TowerError, WATER_TO_AIR};
pub use analyses::UsedAnalysis;
pub(crate) use analysis_doubts::age;
pub use blowdown::{
    Band, BandEnd, BlowdownSheet, MARGIN, MakeupConductivity, Saving, Season, Stop, USUAL_CYCLES,
    ValveSize,
};
#[cfg(feature = "files")]
pub(crate) use check::{APPARENT, PER_KELVIN, UNREAD_MAKEUP};
#[cfg(feature = "files")]
pub use check::{
    AssumedDryBulb, AssumedError, CYCLES_UNREAD, Cause, CheckError, CheckSheet, CheckedPeriod,
    Circumstance, Effect, Finding, FindingState, HotBelowCold, LEAST_DAYS, LEAST_READINGS, Meters,
    MissingReading, OneMore, OwnDays, Pattern, Remark, Suspect, TwoReadings, TwoSheet, TwoVerdict,
};
pub use control::Setting;
pub use evaluate::{Balance, CellState, State, Workspace};
pub(crate) use feed::CONTACT_HOURS;
pub use feed::{Brought, FeedError, FeedLine, FeedSheet};
pub(crate) use level::STOP_HOURS;
pub use level::{
    AIR_GAP_DIAMETERS, Dilution, DropReading, LevelError, LevelQuestions, LevelSheet, OpenBleed,
    StopLoss, StuckBill, VALVE_OVER_DEMAND,
};
pub use money::{CostParts, FurtherOverflow, LeakValue, Money, StreamMoney};
pub use monte_carlo::{Draws, Summary, Validation, Verdict as DrawsVerdict, summary};
pub use own_test::{OwnTest, Sampling};
pub use ph::PhOrigin;
pub use sheet::{
    BalanceSheet, CellResult, LeakReadings, MakeupSource, MethodName, MethodResult, Period, Raised,
    Stream, StreamName,
};
pub use tower_water::{
    BlowdownError, GivenAndUsed, MOST_IMBALANCE, NOTABLE_IMBALANCE, SourceWater,
};
pub use transient::{CourseError, TransientRow, TransientSheet, VALVE_OVER_MEAN};
pub use uncertain::{Uncertain, UncertainBlowdown};
pub use uncertainty::{Contribution, Output, Spread};
#[cfg(feature = "files")]
pub use visits::{Change, Judged, NoVisits, Visit, VisitsSheet};
#[cfg(feature = "files")]
pub use year::{
    FAR_FROM_DESIGN, FanHours, Fans, LINE_VELOCITY_M_PER_S, Month, Outage, Peak, Sums,
    WetBulbAtLimit, YearError, YearHour, YearPlan, YearSheet,
};

/// A compiled site.
#[derive(Debug, Clone, PartialEq)]
pub struct Model {
    site: Site,
    base: Inputs,
}

/// The numbers of a site in SI units, in the order of [`Model::slots`].
#[derive(Debug, Clone, PartialEq)]
pub struct Inputs(Vec<f64>);

impl Inputs {
    /// The value in a slot, in the SI unit of its quantity.
    pub fn get(&self, slot: SlotId) -> f64 {
        self.0[slot.0]
    }

    /// Writes a slot, in the SI unit of its quantity.
    pub fn set(&mut self, slot: SlotId, si: f64) {
        self.0[slot.0] = si;
    }
}

/// Why numbers have no balance.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Infeasible {
    /// A value outside its limits.
    #[error("{path} is {shown}: it must be {accepted}")]
    OutOfLimits {
        /// Where.
        path: String,
        /// The value with its unit.
        shown: String,
        /// What is accepted.
        accepted: String,
    },
    /// Two temperatures in the wrong order.
    #[error(transparent)]
    Conflict(#[from] Conflict),
    /// A state of air that does not exist, or lies outside the formulas' range.
    #[error("entering air: {0}")]
    Air(#[from] AirError),
    /// A duty that no tower can do.
    #[error("cell {cell}: {error}")]
    Tower {
        /// Name of the cell.
        cell: String,
        /// Why.
        error: TowerError,
    },
    /// More water condenses from the air than evaporates, so nothing concentrates.
    #[error("evaporation is {kg_per_s} kg/s: the water takes up moisture from the air")]
    Condensation {
        /// kg/s, negative.
        kg_per_s: f64,
    },
    /// Evaporation or drift above the circulation.
    #[error(
        "{what} of {kg_per_s} kg/s is more than the circulation of {circulation_kg_per_s} kg/s"
    )]
    MoreThanCirculation {
        /// Which loss.
        what: &'static str,
        /// kg/s.
        kg_per_s: f64,
        /// kg/s.
        circulation_kg_per_s: f64,
    },
    /// The balance does not close.
    #[error(transparent)]
    Balance(#[from] BalanceError),
}

/// A path that is not a slot.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SlotError {
    /// No such entry.
    #[error("no number \"{path}\" in this site{}", .suggestion.as_ref().map(|s| format!("; did you mean \"{s}\"?")).unwrap_or_default())]
    Unknown {
        /// As asked.
        path: String,
        /// The nearest slot.
        suggestion: Option<String>,
    },
    /// The entry follows from others here.
    #[error("\"{path}\" follows from other entries of this site; vary {}", .instead.join(" and "))]
    Derived {
        /// As asked.
        path: String,
        /// What fixes it.
        instead: Vec<String>,
    },
}

impl Model {
    /// Compiles a checked site.
    pub fn compile(site: &Site) -> Self {
        let base = Inputs(site.slots.iter().map(|value| value.si).collect());
        Self { site: site.clone(), base }
    }

    /// The site as compiled.
    pub fn site(&self) -> &Site {
        &self.site
    }

    /// The numbers as stated or assumed.
    pub fn base(&self) -> &Inputs {
        &self.base
    }

    /// Every number with its path, quantity, uncertainty and basis.
    pub fn slots(&self) -> &[Value] {
        &self.site.slots
    }

    /// A slot's description.
    pub fn slot_value(&self, slot: SlotId) -> &Value {
        &self.site.slots[slot.0]
    }

    /// All slots.
    pub fn slot_ids(&self) -> impl Iterator<Item = SlotId> + use<> {
        (0..self.site.slots.len()).map(SlotId)
    }

    /// The slot at a path such as `cell.east.drift`, or `cell.1.drift` by the place of the entry.
    ///
    /// # Errors
    /// [`SlotError`] with the nearest slot, or with what fixes an entry that is derived here.
    pub fn slot(&self, path: &str) -> Result<SlotId, SlotError> {
        let by_name = self.with_name(path);
        let path = by_name.as_deref().unwrap_or(path);
        if let Some(index) = self.site.slots.iter().position(|value| value.path == path) {
            return Ok(SlotId(index));
        }
        const DERIVED: [&str; 6] = [
            "circuit.circulation",
            "circuit.hot_water",
            "circuit.cold_water",
            "circuit.range",
            "circuit.heat_load",
            "air.dry_bulb",
        ];
        if DERIVED.contains(&path) {
            let table = path.split('.').next().unwrap_or_default();
            let fixes = |value: &&Value| {
                DERIVED.contains(&value.path.as_str()) || value.path.starts_with("air.")
            };
            let instead = self
                .site
                .slots
                .iter()
                .filter(|value| value.path.starts_with(table))
                .filter(fixes)
                .map(|value| value.path.clone())
                .collect();
            return Err(SlotError::Derived { path: path.into(), instead });
        }
        Err(SlotError::Unknown { path: path.into(), suggestion: self.nearest(path) })
    }

    /// A path with the name of an entry in place of its number from 1; none where the path needs no such name.
    fn with_name(&self, path: &str) -> Option<String> {
        let (table, rest) = path.split_once('.')?;
        let (number, key) = rest.split_once('.')?;
        let place = number.parse::<usize>().ok()?.checked_sub(1)?;
        if table == "cell" && !self.site.cells_out_of_service.is_empty() {
            // Their places in the file count, and they have no numbers here.
            return None;
        }
        let mut names: Vec<&str> = Vec::new();
        for value in &self.site.slots {
            let Some(within) = value.path.strip_prefix(table) else { continue };
            let Some((name, _)) = within.strip_prefix('.').and_then(|it| it.split_once('.')) else {
                continue;
            };
            if !names.contains(&name) {
                names.push(name);
            }
        }
        if names.contains(&number) {
            return None;
        }
        Some(format!("{table}.{}.{key}", names.get(place)?))
    }

    /// The slot that was probably meant: one that is spelt almost so, else the same key of an entry of the table.
    fn nearest(&self, path: &str) -> Option<String> {
        let distance = |value: &Value| strsim::damerau_levenshtein(&value.path, path);
        let spelt = self.site.slots.iter().min_by_key(|value| (distance(value), &value.path))?;
        if distance(spelt) <= 4 {
            return Some(spelt.path.clone());
        }
        let (table, key) = (path.split('.').next()?, path.rsplit('.').next()?);
        let is_meant = |value: &&Value| {
            value.path.split('.').next() == Some(table)
                && value.path.rsplit('.').next() == Some(key)
        };
        self.site.slots.iter().find(is_meant).map(|value| value.path.clone())
    }

    /// Writes one number; a part of a whole takes from the other parts.
    pub fn write(&self, inputs: &mut Inputs, slot: SlotId, si: f64) {
        if self.is_share(slot) {
            self.set_share(inputs, slot, si);
        } else {
            inputs.set(slot, si);
        }
    }

    /// Whether a number is a part of a whole: a cell's or a makeup source's share.
    pub fn is_share(&self, slot: SlotId) -> bool {
        let cells = self.site.cells.iter().map(|cell| cell.share);
        cells.chain(self.site.makeup.iter().map(|source| source.share)).any(|share| share == slot)
    }

    /// Writes one part of a whole (a cell's share, a makeup source's share) and scales the others so
    /// that they still add up to 1.
    pub fn set_share(&self, inputs: &mut Inputs, slot: SlotId, share: f64) {
        let cells = self.site.cells.iter().map(|cell| cell.share);
        let makeup = self.site.makeup.iter().map(|source| source.share);
        let group: Vec<SlotId> = if self.site.cells.iter().any(|cell| cell.share == slot) {
            cells.collect()
        } else {
            makeup.collect()
        };
        let others: f64 = group.iter().filter(|s| **s != slot).map(|s| inputs.get(*s)).sum();
        for other in group.into_iter().filter(|other| *other != slot) {
            let scaled =
                if others > 0.0 { inputs.get(other) / others * (1.0 - share) } else { 0.0 };
            inputs.set(other, scaled);
        }
        inputs.set(slot, share);
    }

    fn explain_tower(&self, name: &str, error: &TowerError, why: &Infeasible) -> Problem {
        let cell = self.site.cells.iter().find(|candidate| candidate.name == name);
        let TowerError::Pinch { .. } = error else {
            let is_of_air = cell.is_some_and(|cell| matches!(cell.air, CellAir::AirFlow(_)));
            return match error {
                TowerError::OutOfRange { what: WATER_TO_AIR, .. } if is_of_air => {
                    Problem::new(format!("cell.{name}.air_flow"), why.to_string())
                        .with_help("the air flow does not fit the water: check its unit")
                }
                _ => Problem::new("circuit", why.to_string()),
            };
        };
        let (key, assumed) = match cell.map(|cell| cell.air) {
            Some(CellAir::AirFlow(_)) => ("air_flow", false),
            Some(CellAir::WaterToAir(slot)) => {
                ("water_to_air", self.slot_value(slot).assumed.is_some())
            }
            None => ("water_to_air", false),
        };
        let help = if assumed {
            "nobody stated the air, so the ratio is assumed: state the cell's air_flow or water_to_air; else the range is too large or the cold water too cold for this air"
        } else {
            "the air cannot take up this heat: give more air (a lower ratio), less range or warmer cold water"
        };
        Problem::new(format!("cell.{name}.{key}"), why.to_string())
            .with_help(help)
            .with_related("circuit")
    }
}

pub(crate) fn out_of_limits(value: &Value, si: f64) -> Infeasible {
    Infeasible::OutOfLimits {
        path: value.path.clone(),
        shown: in_both_systems(value.quantity, si),
        accepted: value.limits.describe(value.quantity, si),
    }
}

/// Why a site has no answer.
pub trait Refused: std::error::Error {
    /// Where the site goes wrong, in terms of its description, and what would be right.
    fn problem(&self, model: &Model) -> Problem;
}

impl Refused for Infeasible {
    fn problem(&self, model: &Model) -> Problem {
        match self {
            Infeasible::OutOfLimits { path, .. } => Problem::new(path.as_str(), self.to_string()),
            Infeasible::Conflict(conflict) => conflict.to_problem(),
            Infeasible::Air(_) => Problem::new("air", self.to_string()),
            Infeasible::Tower { cell, error } => model.explain_tower(cell, error, self),
            Infeasible::Condensation { .. } => Problem::new("circuit", self.to_string())
                .with_help("the water is colder than the air's dew point: check temperatures"),
            Infeasible::MoreThanCirculation { .. } => {
                Problem::new("circuit.circulation", self.to_string())
                    .with_help("check the units of circulation and of the losses")
            }
            Infeasible::Balance(BalanceError::CyclesNotAboveOne { .. }) => {
                Problem::new("blowdown.conductivity", self.to_string())
                    .with_help("the circulating water must be more concentrated than the makeup")
            }
            Infeasible::Balance(_) => Problem::new("blowdown", self.to_string()),
        }
    }
}
