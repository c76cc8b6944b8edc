//! The kinds of cells of a site under one hot water, mixed into one cold water.

use super::super::{CellState, Model, State};
use super::YearError;
use crate::air::MoistAir;
use crate::root;
use crate::tower::Duty;
use crate::tower::prediction::{
    COLDEST_CELSIUS, CrossflowWorkspace, Fill, HOTTEST_CELSIUS, Held, PredictionError, Task,
    Transfer,
};

/// Cold water is mixed to this, K.
const CLOSE: f64 = 1e-3;
/// Fan speeds are found to this part of full speed.
const CLOSE_SPEED: f64 = 5e-4;

/// Cells that work alike.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Kind {
    pub fill: Fill,
    /// Part of the water.
    pub share: f64,
    /// At the design point.
    pub water_to_air: f64,
}

/// Every kind of cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fills(pub Vec<Kind>);

impl Fills {
    /// Fits every kind to the design point.
    pub fn fitted(
        model: &Model,
        transfer: Transfer,
        state: &State,
        cells: &[CellState],
    ) -> Result<Self, YearError> {
        let year = &model.site.year;
        let entering_air = state.entering_air.ok_or(YearError::NoDesign)?;
        let mut work = CrossflowWorkspace::default();
        let mut kinds: Vec<Kind> = Vec::new();
        for (cell, cell_state) in model.site.cells.iter().zip(cells) {
            let water_to_air = cell_state.water_to_air.ok_or(YearError::NoDesign)?;
            let share = cell_state.water_kg_per_s / state.circulation_kg_per_s;
            let is_alike = |kind: &&mut Kind| {
                kind.fill.arrangement == cell.arrangement
                    && (kind.water_to_air / water_to_air - 1.0).abs() < 1e-9
            };
            if let Some(kind) = kinds.iter_mut().find(is_alike) {
                kind.share += share;
                continue;
            }
            let design = Duty {
                hot_water_celsius: state.hot_water_celsius,
                cold_water_celsius: state.cold_water_celsius,
                entering_air,
                water_to_air,
            };
            let (arrangement, exponent) = (cell.arrangement, year.exponent.si);
            let fill = match year.coefficient {
                Some(coefficient) => Fill { transfer, arrangement, coefficient, exponent },
                None => Fill::fitted(transfer, arrangement, exponent, &design, &mut work)
                    .map_err(|error| YearError::Tower { cell: cell.name.clone(), error })?,
            };
            kinds.push(Kind { fill, share, water_to_air });
        }
        Ok(Self(kinds))
    }

    /// The same with the fans of a part of the cells on, and natural draught, as a part of the air at
    /// full speed, through the others.
    pub fn staged(&self, on: f64, draught: f64) -> Self {
        let split = |kind: &Kind| {
            let still = Kind {
                share: kind.share * (1.0 - on),
                water_to_air: kind.water_to_air / draught,
                ..kind.clone()
            };
            [Kind { share: kind.share * on, ..kind.clone() }, still]
        };
        Self(self.0.iter().flat_map(split).filter(|kind| kind.share > 0.0).collect())
    }

    /// Cold water, and evaporation in a kg of water, with every water-to-air ratio so many times the
    /// design's.
    pub fn predict(
        &self,
        range_kelvin: f64,
        air: &MoistAir,
        times: f64,
        work: &mut CrossflowWorkspace,
    ) -> Result<(f64, f64), PredictionError> {
        if let [kind] = self.0.as_slice() {
            let task = Task { range_kelvin, entering_air: *air };
            let found = kind.fill.predict(&task, times * kind.water_to_air, work)?;
            return Ok((found.cold_water_celsius, found.evaporation_per_water));
        }
        let excess = |cold: f64, work: &mut CrossflowWorkspace| {
            self.mixed(cold + range_kelvin, air, times, work).map_or(f64::NAN, |mixed| mixed - cold)
        };
        if excess(COLDEST_CELSIUS, work) <= 0.0 {
            return Err(PredictionError::Freezes);
        }
        let wet_bulb = air.wet_bulb_celsius().unwrap_or(COLDEST_CELSIUS);
        let (mut low, mut step) = (wet_bulb.max(COLDEST_CELSIUS), 6.0);
        let high = loop {
            let high = (low + step).min(HOTTEST_CELSIUS - range_kelvin);
            if excess(high, work) <= 0.0 {
                break high;
            }
            if high >= HOTTEST_CELSIUS - range_kelvin || high <= low {
                return Err(PredictionError::TooHot);
            }
            (low, step) = (high, 2.0 * step);
        };
        let cold = root::of_falling_within(|cold| excess(cold, work), low, high, CLOSE)
            .ok_or(PredictionError::TooHot)?;
        Ok((cold, self.evaporation(range_kelvin, air, (cold, times), work)?))
    }

    /// The fan speed from `least` to 1 at which the cold water is as asked; `full` is the ratio at full
    /// speed over the design's.
    pub fn speed_for(
        &self,
        range_kelvin: f64,
        air: &MoistAir,
        (cold, full, least): (f64, f64, f64),
        work: &mut CrossflowWorkspace,
    ) -> Held {
        if let [kind] = self.0.as_slice() {
            let task = Task { range_kelvin, entering_air: *air };
            return kind.fill.held(&task, (cold, full * kind.water_to_air, least), work);
        }
        // No cold water below the hot: too little air.
        let hot = cold + range_kelvin;
        let mut short = |speed: f64| {
            self.mixed(hot, air, full / speed, work).map_or(range_kelvin, |mixed| mixed - cold)
        };
        let at_full = short(1.0);
        // Written so that a NaN is more than full speed.
        if !(at_full <= 0.0) {
            return Held::AboveFull;
        }
        let at_least = short(least);
        if at_least <= 0.0 {
            return Held::BelowLeast;
        }
        let found = root::of_falling_between(short, (least, at_least), (1.0, at_full), CLOSE_SPEED);
        let Some(speed) = found else { return Held::AboveFull };
        match self.evaporation(range_kelvin, air, (cold, full / speed), work) {
            Ok(evaporation_per_water) => Held::Between { speed, evaporation_per_water },
            Err(_) => Held::AboveFull,
        }
    }

    /// Evaporation in a kg of water, at a mixed cold water that the fills are known to give.
    pub fn evaporation(
        &self,
        range_kelvin: f64,
        air: &MoistAir,
        (cold, times): (f64, f64),
        work: &mut CrossflowWorkspace,
    ) -> Result<f64, PredictionError> {
        let hot_water_celsius = cold + range_kelvin;
        let mut sum = 0.0;
        for kind in &self.0 {
            let water_to_air = times * kind.water_to_air;
            let own = match self.0.len() {
                1 => Some(cold),
                _ => kind.fill.cold_water(hot_water_celsius, *air, water_to_air, work),
            };
            let duty = Duty {
                hot_water_celsius,
                cold_water_celsius: own.ok_or(PredictionError::TooHot)?,
                entering_air: *air,
                water_to_air,
            };
            sum += kind.share * kind.fill.at(&duty, work)?.evaporation_per_water;
        }
        Ok(sum)
    }

    /// Cold water of all kinds, mixed.
    fn mixed(
        &self,
        hot: f64,
        air: &MoistAir,
        times: f64,
        work: &mut CrossflowWorkspace,
    ) -> Option<f64> {
        let part = |kind: &Kind, work: &mut CrossflowWorkspace| {
            Some(kind.share * kind.fill.cold_water(hot, *air, times * kind.water_to_air, work)?)
        };
        self.0.iter().map(|kind| part(kind, work)).sum()
    }
}
