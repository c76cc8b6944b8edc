//! What a tower does away from its design point: its transfer characteristic, fitted there, predicts the
//! cold water at another load, air and air flow, by the same method and arrangement.
//!
//! A characteristic belongs to the method and arrangement that reduced it: Poppe's and Merkel's numbers
//! differ by 6 to 15 %, counterflow's and crossflow's by more.

pub use super::field::CrossflowWorkspace;
use super::{
    Arrangement, Duty, Exchange, TowerError, WATER_SPECIFIC_HEAT_J_PER_KG_K, merkel, poppe,
};
use crate::air::MoistAir;
use crate::equation::Equation;
use crate::root;

/// The characteristic of a fill.
pub const CHARACTERISTIC: Equation = Equation {
    id: "characteristic",
    text: "merkel_number = coefficient * water_to_air ^ (-exponent)",
    source: "Kelly's handbook of crossflow performance, ASHRAE Handbook HVAC Systems and Equipment, cooling towers (both from memory)",
};

/// Exponent of a fill that nobody stated: fills lie between 0.4 and 0.8 (from memory).
pub const USUAL_EXPONENT: f64 = 0.6;

/// The cold water is found to this, K; it moves evaporation by some 5e-6 of itself.
const CLOSE: f64 = 1e-3;
/// Approach at which the search for the cold water begins, K.
const FIRST_STEP: f64 = 6.0;
/// Water is not predicted below this: it would freeze.
const COLDEST_CELSIUS: f64 = 0.01;
/// Water is not predicted above this, degC.
const HOTTEST_CELSIUS: f64 = 80.0;

/// The method of a prediction.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Transfer {
    /// [`merkel`].
    Merkel,
    /// [`poppe`].
    Poppe,
}

/// A fill in its arrangement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fill {
    /// Method that reduced the characteristic.
    pub transfer: Transfer,
    /// How air and water meet.
    pub arrangement: Arrangement,
    /// Of [`CHARACTERISTIC`].
    pub coefficient: f64,
    /// Of [`CHARACTERISTIC`].
    pub exponent: f64,
}

/// What a fill is asked to do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Task {
    /// Hot less cold water, K; above 0.
    pub range_kelvin: f64,
    /// Air entering the fill.
    pub entering_air: MoistAir,
}

/// What a fill does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prediction {
    /// Cold water, degC.
    pub cold_water_celsius: f64,
    /// Evaporation, kg in a kg of inlet water.
    pub evaporation_per_water: f64,
}

/// Why nothing is predicted.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PredictionError {
    /// The water would freeze.
    #[error("the cold water would be below 0 degC")]
    Freezes,
    /// The water would be hotter than fills bear.
    #[error(
        "the hot water would be above {HOTTEST_CELSIUS} degC: the tower cannot give off this heat"
    )]
    TooHot,
    /// Numbers out of range.
    #[error(transparent)]
    Tower(#[from] TowerError),
}

impl Fill {
    /// Fits the coefficient to a design duty.
    ///
    /// # Errors
    /// [`TowerError`] for a duty that no fill does.
    pub fn fitted(
        transfer: Transfer,
        arrangement: Arrangement,
        exponent: f64,
        design: &Duty,
        work: &mut CrossflowWorkspace,
    ) -> Result<Self, TowerError> {
        // The number of the very grid that predicts: so the design point comes back as it was.
        let number = match (transfer, arrangement) {
            (Transfer::Merkel, Arrangement::Counterflow) => merkel::counterflow(design)?,
            (Transfer::Merkel, Arrangement::Crossflow) => merkel::crossflow(design, work)?,
            (Transfer::Poppe, Arrangement::Counterflow) => poppe::counterflow(design)?,
            (Transfer::Poppe, Arrangement::Crossflow) => poppe::crossflow(design, work)?,
        }
        .merkel_number;
        let coefficient = number * design.water_to_air.powf(exponent);
        Ok(Self { transfer, arrangement, coefficient, exponent })
    }

    /// The transfer number at a water-to-air ratio ([`CHARACTERISTIC`]).
    pub fn number(&self, water_to_air: f64) -> f64 {
        self.coefficient * water_to_air.powf(-self.exponent)
    }

    /// The cold water at a water-to-air ratio, with the evaporation.
    ///
    /// # Errors
    /// [`PredictionError`].
    pub fn predict(
        &self,
        task: &Task,
        water_to_air: f64,
        work: &mut CrossflowWorkspace,
    ) -> Result<Prediction, PredictionError> {
        let lowest = COLDEST_CELSIUS.max(self.lowest(task)?);
        let highest = HOTTEST_CELSIUS - task.range_kelvin;
        if highest <= lowest {
            return Err(PredictionError::TooHot);
        }
        let mut short = |cold| self.shortfall(&duty(task, cold, water_to_air), work);
        let mut at_low = short(lowest);
        if lowest == COLDEST_CELSIUS && at_low <= 0.0 {
            return Err(PredictionError::Freezes);
        }
        // Far too hot water is beyond the grid's reach: come up to it.
        let (mut low, mut step) = (lowest, FIRST_STEP);
        let (high, at_high) = loop {
            let high = (low + step).min(highest);
            let at_high = short(high);
            if at_high <= 0.0 {
                break (high, at_high);
            }
            if high == highest {
                return Err(PredictionError::TooHot);
            }
            (low, at_low, step) = (high, at_high, 2.0 * step);
        };
        let cold = root::of_falling_between(short, (low, at_low), (high, at_high), CLOSE)
            .ok_or(PredictionError::TooHot)?;
        self.at(&duty(task, cold, water_to_air), work)
    }

    /// How far the fill falls short of a cold water at a water-to-air ratio: above zero where it cannot
    /// cool so far, below where it cools further. Falls as the cold water or the air rises.
    pub fn shortfall_at(
        &self,
        task: &Task,
        cold_water_celsius: f64,
        water_to_air: f64,
        work: &mut CrossflowWorkspace,
    ) -> f64 {
        self.shortfall(&duty(task, cold_water_celsius, water_to_air), work)
    }

    /// The cold water that leaves the fill at a given hot water; `None` where there is none below it.
    pub fn cold_water(
        &self,
        hot_water_celsius: f64,
        entering_air: MoistAir,
        water_to_air: f64,
        work: &mut CrossflowWorkspace,
    ) -> Option<f64> {
        let at = |cold_water_celsius| Duty {
            hot_water_celsius,
            cold_water_celsius,
            entering_air,
            water_to_air,
        };
        if self.arrangement == Arrangement::Crossflow {
            // The field marches from the hot water; what cold water is stated does not count.
            return Some(self.shortfall(&at(0.0), work));
        }
        let lowest = entering_air.wet_bulb_celsius().ok()?.max(COLDEST_CELSIUS);
        root::of_falling_within(
            |cold| self.shortfall(&at(cold), work),
            lowest,
            hot_water_celsius - CLOSE,
            CLOSE,
        )
    }

    /// Evaporation at a duty that the fill is known to do.
    ///
    /// # Errors
    /// [`PredictionError`].
    pub fn at(
        &self,
        duty: &Duty,
        work: &mut CrossflowWorkspace,
    ) -> Result<Prediction, PredictionError> {
        let evaporation_per_water = match (self.transfer, self.arrangement) {
            (Transfer::Merkel, _) => merkel::evaporation(duty, self.arrangement, work)?,
            (Transfer::Poppe, Arrangement::Counterflow) => {
                poppe::counterflow(duty)?.evaporation_per_water
            }
            (Transfer::Poppe, Arrangement::Crossflow) => {
                let number = self.number(duty.water_to_air);
                let outlets = poppe::crossflow_outlets(duty, number, work);
                Exchange::of_exit(duty, outlets, number).evaporation_per_water
            }
        };
        Ok(Prediction { cold_water_celsius: duty.cold_water_celsius, evaporation_per_water })
    }

    /// The wet bulb, which no water passes.
    fn lowest(&self, task: &Task) -> Result<f64, PredictionError> {
        Ok(task.entering_air.wet_bulb_celsius().map_err(TowerError::Air)?)
    }

    /// How far the fill falls short of a duty: above zero where it cannot cool so far, below where it
    /// cools further. Falls with the cold water.
    fn shortfall(&self, duty: &Duty, work: &mut CrossflowWorkspace) -> f64 {
        let available = self.number(duty.water_to_air);
        match self.arrangement {
            Arrangement::Counterflow => {
                // Bounded, with a pinch at the one end and no range at the other.
                let needed = match self.transfer {
                    Transfer::Merkel => merkel::counterflow_number(duty),
                    Transfer::Poppe => poppe::counterflow_number(duty),
                };
                needed.map_or(1.0, |needed| (needed - available) / (needed + available))
            }
            Arrangement::Crossflow => {
                let leaves = match self.transfer {
                    Transfer::Merkel => merkel::crossflow_cold_water(duty, available, work),
                    Transfer::Poppe => poppe::crossflow_cold_water(duty, available, work),
                };
                leaves - duty.cold_water_celsius
            }
        }
    }
}

fn duty(task: &Task, cold: f64, water_to_air: f64) -> Duty {
    Duty {
        hot_water_celsius: cold + task.range_kelvin,
        cold_water_celsius: cold,
        entering_air: task.entering_air,
        water_to_air,
    }
}

/// The range at a heat load, K: heat over mass flow and specific heat.
pub fn range_kelvin(heat_watt: f64, water_kg_per_s: f64) -> f64 {
    heat_watt / (water_kg_per_s * WATER_SPECIFIC_HEAT_J_PER_KG_K)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn design() -> Duty {
        Duty {
            hot_water_celsius: 37.0,
            cold_water_celsius: 29.0,
            entering_air: MoistAir::from_wet_bulb(32.0, 24.0, 101_325.0).unwrap(),
            water_to_air: 1.2,
        }
    }

    fn fills(work: &mut CrossflowWorkspace) -> Vec<Fill> {
        let mut fills = Vec::new();
        for transfer in [Transfer::Merkel, Transfer::Poppe] {
            for arrangement in [Arrangement::Counterflow, Arrangement::Crossflow] {
                fills.push(Fill::fitted(transfer, arrangement, 0.6, &design(), work).unwrap());
            }
        }
        fills
    }

    #[test]
    fn the_design_point_comes_back() {
        let mut work = CrossflowWorkspace::default();
        let design = design();
        let task = Task { range_kelvin: design.range_kelvin(), entering_air: design.entering_air };
        for fill in fills(&mut work) {
            let found = fill.predict(&task, design.water_to_air, &mut work).unwrap();
            assert_relative_eq!(found.cold_water_celsius, 29.0, epsilon = 2e-3);
        }
    }

    /// Less load, colder air and more air each give colder water.
    #[test]
    fn predictions_move_as_towers_do() {
        let mut work = CrossflowWorkspace::default();
        let air = |dry, wet| MoistAir::from_wet_bulb(dry, wet, 101_325.0).unwrap();
        for fill in fills(&mut work) {
            let mut cold = |range_kelvin, entering_air, ratio| {
                let task = Task { range_kelvin, entering_air };
                fill.predict(&task, ratio, &mut work).unwrap().cold_water_celsius
            };
            let at_design = cold(8.0, air(32.0, 24.0), 1.2);
            assert!(cold(4.0, air(32.0, 24.0), 1.2) < at_design);
            assert!(cold(8.0, air(20.0, 14.0), 1.2) < at_design);
            assert!(cold(8.0, air(32.0, 24.0), 0.9) < at_design);
            // The approach widens as the air gets colder, as on makers' curves.
            assert!(cold(8.0, air(20.0, 14.0), 1.2) - 14.0 > at_design - 24.0);
            let task = Task { range_kelvin: 8.0, entering_air: air(20.0, 14.0) };
            let found = fill.predict(&task, 1.2, &mut work).unwrap().cold_water_celsius;
            let mut short = |cold| fill.shortfall_at(&task, cold, 1.2, &mut work);
            assert!(short(found - 0.1) > 0.0 && short(found + 0.1) < 0.0);
        }
    }

    #[test]
    fn what_cannot_be_is_told() {
        let mut work = CrossflowWorkspace::default();
        for fill in fills(&mut work) {
            let frost = MoistAir::from_wet_bulb(-15.0, -15.5, 101_325.0).unwrap();
            let task = Task { range_kelvin: 0.5, entering_air: frost };
            assert_eq!(fill.predict(&task, 1.2, &mut work), Err(PredictionError::Freezes));
            let hot = MoistAir::from_wet_bulb(32.0, 24.0, 101_325.0).unwrap();
            let task = Task { range_kelvin: 30.0, entering_air: hot };
            assert_eq!(fill.predict(&task, 60.0, &mut work), Err(PredictionError::TooHot));
        }
    }
}
