//! What a tower does away from its design point: its transfer characteristic, fitted there, predicts the
//! cold water at another load, air and air flow, by the same method and arrangement.
//!
//! A characteristic belongs to the method and arrangement that reduced it: Poppe's and Merkel's numbers
//! differ by 6 to 15 %, counterflow's and crossflow's by more.

pub use super::field::CrossflowWorkspace;
use super::field::Outlets;
use super::{Arrangement, Duty, TowerError, WATER_SPECIFIC_HEAT_J_PER_KG_K, merkel, poppe};
use crate::air::{self, MoistAir};
use crate::equation::Equation;
use crate::root::{self, Root};

/// The characteristic of a fill.
pub const CHARACTERISTIC: Equation = Equation {
    id: "characteristic",
    text: "merkel_number = coefficient * water_to_air ^ (-exponent)",
    source: "Kelly's handbook of crossflow performance, ASHRAE Handbook HVAC Systems and Equipment, cooling towers (both from memory)",
};

/// Exponent of a fill that nobody stated: fills lie between 0.4 and 0.8 (from memory).
pub const USUAL_EXPONENT: f64 = 0.6;

/// The cold water is found to this, K; it moves evaporation by some 5e-7 of itself.
const CLOSE: f64 = 1e-4;
/// The first step from the closed form, K: about what it is off by.
const STEP: f64 = 0.5;
/// The air is found to this part of itself.
const CLOSE_AIR: f64 = 1e-5;
/// What the closed form of the air's logarithm is off by as a rule, and by how much more or less.
const AIR_BIAS: f64 = 0.06;
const AIR_STEP: f64 = 0.02;
/// A range below this is none, K.
const LEAST_RANGE: f64 = 1e-3;
/// Water is not predicted below this: it would freeze.
pub(crate) const COLDEST_CELSIUS: f64 = 0.01;
/// Water is not predicted above this, degC.
pub(crate) const HOTTEST_CELSIUS: f64 = 80.0;

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

/// The air that holds a cold water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Held {
    /// Full speed is not enough.
    AboveFull,
    /// As a part of that at full speed.
    Between {
        /// The part.
        speed: f64,
        /// Evaporation, kg in a kg of inlet water.
        evaporation_per_water: f64,
    },
    /// The least is too much.
    BelowLeast,
}

/// Why nothing is predicted.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PredictionError {
    /// The water would freeze.
    #[error("the cold water would be below 0 °C")]
    Freezes,
    /// The water would be hotter than fills bear.
    #[error(
        "the hot water would be above {HOTTEST_CELSIUS} °C: the tower cannot give off this heat"
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
        let highest = HOTTEST_CELSIUS - task.range_kelvin;
        duty(task, COLDEST_CELSIUS, water_to_air).check_numbers()?;
        let guess = self.cold_guess(task, water_to_air);
        let mut last = Tried::default();
        let short = |cold| self.tried(&duty(task, cold, water_to_air), &mut last, work);
        match root::near(short, (guess, STEP), (COLDEST_CELSIUS, highest), CLOSE) {
            Root::At(cold_water_celsius) => {
                let duty = duty(task, cold_water_celsius, water_to_air);
                let evaporation_per_water = self.evaporation(&duty, &last);
                Ok(Prediction { cold_water_celsius, evaporation_per_water })
            }
            Root::BelowRange => Err(PredictionError::Freezes),
            Root::AboveRange => Err(PredictionError::TooHot),
        }
    }

    /// The air, as a part of that at full speed and at the least `least`, at which the cold water is as
    /// asked; `full` is the water-to-air ratio at full speed.
    pub fn held(
        &self,
        task: &Task,
        (cold, full, least): (f64, f64, f64),
        work: &mut CrossflowWorkspace,
    ) -> Held {
        let mut last = Tried::default();
        // More air makes colder water. An exit humidity rises with the water-to-air ratio.
        let mut before = full;
        let entering = task.entering_air.humidity_ratio;
        let short = |logarithm: f64| {
            let ratio = full / logarithm.exp();
            let scaled = |exit: f64| entering + (exit - entering) * ratio / before;
            last.exit_humidity_ratio = last.exit_humidity_ratio.map(scaled);
            before = ratio;
            self.tried(&duty(task, cold, ratio), &mut last, work)
        };
        let guess = self.air_guess(task, (cold, full, least));
        match root::near(short, (guess, AIR_STEP), (least.ln(), 0.0), CLOSE_AIR) {
            Root::At(logarithm) => {
                let speed = logarithm.exp();
                let duty = duty(task, cold, full / speed);
                Held::Between { speed, evaporation_per_water: self.evaporation(&duty, &last) }
            }
            Root::AboveRange => Held::AboveFull,
            Root::BelowRange => Held::BelowLeast,
        }
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
            hot_water_celsius - LEAST_RANGE,
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
        let mut last = Tried::default();
        self.tried(duty, &mut last, work);
        let is_pinched = self.arrangement == Arrangement::Counterflow
            && self.transfer == Transfer::Poppe
            && last.exit_humidity_ratio.is_none();
        if is_pinched {
            poppe::counterflow(duty)?;
        }
        let evaporation_per_water = self.evaporation(duty, &last);
        Ok(Prediction { cold_water_celsius: duty.cold_water_celsius, evaporation_per_water })
    }

    /// How far the fill falls short of a duty: above zero where it cannot cool so far, below where it
    /// cools further. Falls with the cold water.
    fn shortfall(&self, duty: &Duty, work: &mut CrossflowWorkspace) -> f64 {
        self.tried(duty, &mut Tried::default(), work)
    }

    /// [`Self::shortfall`], from a duty like it and with what it leaves.
    fn tried(&self, duty: &Duty, last: &mut Tried, work: &mut CrossflowWorkspace) -> f64 {
        let available = self.number(duty.water_to_air);
        match self.arrangement {
            Arrangement::Counterflow => {
                let needed = match self.transfer {
                    Transfer::Merkel => merkel::counterflow_number(duty),
                    Transfer::Poppe => poppe::counterflow_number(duty, last.exit_humidity_ratio)
                        .map(|(number, exit)| {
                            last.exit_humidity_ratio = Some(exit);
                            number
                        }),
                };
                // A pinch asks for a number without bounds.
                available.recip() - needed.map_or(0.0, f64::recip)
            }
            Arrangement::Crossflow => {
                last.outlets = match self.transfer {
                    Transfer::Merkel => merkel::crossflow_outlets(duty, available, work),
                    Transfer::Poppe => poppe::crossflow_outlets(duty, available, work),
                };
                last.outlets.water_celsius - duty.cold_water_celsius
            }
        }
    }

    /// Evaporation of a duty that was just tried.
    fn evaporation(&self, duty: &Duty, last: &Tried) -> f64 {
        let exit = match (self.transfer, self.arrangement) {
            (Transfer::Merkel, _) => merkel::exit_humidity_ratio(duty),
            (Transfer::Poppe, Arrangement::Counterflow) => {
                last.exit_humidity_ratio.unwrap_or(f64::NAN)
            }
            (Transfer::Poppe, Arrangement::Crossflow) => last.outlets.air.humidity_ratio,
        };
        (exit - duty.entering_air.humidity_ratio) / duty.water_to_air
    }

    /// The number in counterflow that does what this fill does, roughly.
    fn number_in_counterflow(&self, water_to_air: f64) -> f64 {
        let number = self.number(water_to_air);
        match self.arrangement {
            Arrangement::Counterflow => number,
            Arrangement::Crossflow => number / (1.0 + CROSSFLOW_EXCESS * number.min(2.5)),
        }
    }

    /// The cold water in closed form, from a [`StraightLine`] that follows in a few passes.
    fn cold_guess(&self, task: &Task, water_to_air: f64) -> f64 {
        let air = &task.entering_air;
        let number = self.number_in_counterflow(water_to_air);
        let wet_bulb =
            air::saturation_temperature(air.enthalpy_j_per_kg(), air.pressure_pascal, 15.0);
        let mut cold = wet_bulb.max(COLDEST_CELSIUS) + 5.0;
        for _ in 0..3 {
            let line = StraightLine::from(cold, task);
            cold += (line.force_of(number, water_to_air) - line.force) / line.slope;
            cold = cold.clamp(COLDEST_CELSIUS, HOTTEST_CELSIUS - 1.0);
        }
        cold
    }

    /// The logarithm of the air of [`Self::held`] in closed form.
    fn air_guess(&self, task: &Task, (cold, full, least): (f64, f64, f64)) -> f64 {
        let line = StraightLine::from(cold, task);
        let missing = |logarithm: f64| {
            let water_to_air = full / logarithm.exp();
            self.number_in_counterflow(water_to_air).recip() - line.ease(water_to_air)
        };
        match root::near(missing, (-0.5, 0.5), (least.ln(), 0.0), 1e-3) {
            Root::At(logarithm) => logarithm + AIR_BIAS,
            Root::AboveRange => 0.0,
            Root::BelowRange => least.ln(),
        }
    }
}

/// What a duty left: a start for the next, and its evaporation.
#[derive(Debug, Clone, Copy, Default)]
struct Tried {
    exit_humidity_ratio: Option<f64>,
    outlets: Outlets,
}

/// The number that crossflow needs stands above that of counterflow by about this, as a part of it
/// for each unit.
const CROSSFLOW_EXCESS: f64 = 0.13;

/// Merkel's integral over a straight line of saturation: the transfer number in closed form.
#[derive(Clone, Copy)]
struct StraightLine {
    /// Slope of the line, J/(kg K).
    slope: f64,
    /// Saturation at the cold water above the enthalpy of the entering air, J/kg.
    force: f64,
    range: f64,
}

impl StraightLine {
    /// From the cold to the hot water of a task.
    fn from(cold: f64, task: &Task) -> Self {
        let air = &task.entering_air;
        let hot = (cold + task.range_kelvin).min(HOTTEST_CELSIUS);
        let range = (hot - cold).max(0.01);
        let low = merkel::saturation_enthalpy(cold, air.pressure_pascal);
        let high = merkel::saturation_enthalpy(cold + range, air.pressure_pascal);
        Self { slope: (high - low) / range, force: low - air.enthalpy_j_per_kg(), range }
    }

    /// By how much the line is steeper than the air's.
    fn excess(&self, water_to_air: f64) -> f64 {
        self.slope - WATER_SPECIFIC_HEAT_J_PER_KG_K * water_to_air
    }

    /// 1 over the number in counterflow, 0 beyond a pinch.
    fn ease(&self, water_to_air: f64) -> f64 {
        let excess = self.excess(water_to_air);
        let rise = excess * self.range / self.force;
        if !(self.force > 0.0 && rise > -1.0) {
            return 0.0;
        }
        // The quotient is 0/0 where the two lines run side by side.
        let per_excess =
            if rise.abs() < 1e-6 { self.range / self.force } else { rise.ln_1p() / excess };
        1.0 / (WATER_SPECIFIC_HEAT_J_PER_KG_K * per_excess)
    }

    /// The force at the cold end that a number allows.
    fn force_of(&self, number: f64, water_to_air: f64) -> f64 {
        let excess = self.excess(water_to_air);
        let units = number * excess / WATER_SPECIFIC_HEAT_J_PER_KG_K;
        if units.abs() < 1e-6 {
            WATER_SPECIFIC_HEAT_J_PER_KG_K * self.range / number
        } else {
            excess * self.range / units.exp_m1()
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
    fn a_range_is_heat_over_flow_and_specific_heat() {
        // 100 kg/s of water that gives up 4186 kW cools by 10 K.
        assert_relative_eq!(range_kelvin(4.186e6, 100.0), 10.0, max_relative = 1e-12);
    }

    #[test]
    fn water_may_be_predicted_up_to_its_hottest_and_no_further() {
        let mut work = CrossflowWorkspace::default();
        let hot = MoistAir::from_wet_bulb(45.0, 40.0, 101_325.0).unwrap();
        for fill in fills(&mut work) {
            let mut at = |range_kelvin| {
                let task = Task { range_kelvin, entering_air: hot };
                fill.predict(&task, 1.2, &mut work).map(|found| found.cold_water_celsius)
            };
            let most = (1..60).take_while(|range| at(f64::from(*range)).is_ok()).last().unwrap();
            let cold = at(f64::from(most)).unwrap();
            // The next kelvin would be above it: so this one cannot be far below.
            assert!(cold + f64::from(most) <= HOTTEST_CELSIUS);
            assert!(cold + f64::from(most) > HOTTEST_CELSIUS - 4.0, "{most} {cold}");
            assert_eq!(at(f64::from(most) + 1.0), Err(PredictionError::TooHot));
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

    #[test]
    fn the_closed_form_is_merkels_integral_over_a_straight_line() {
        const STEPS: usize = 20_000;
        for (slope, force, range, ratio) in
            [(6000.0, 9000.0, 8.0, 1.0), (4000.0, 20_000.0, 6.0, 1.4), (4186.0, 5000.0, 10.0, 1.0)]
        {
            let line = StraightLine { slope, force, range };
            let step = range / STEPS as f64;
            let rate = |kelvin: f64| {
                let excess = slope - WATER_SPECIFIC_HEAT_J_PER_KG_K * ratio;
                WATER_SPECIFIC_HEAT_J_PER_KG_K / (force + excess * kelvin)
            };
            let number: f64 = (0..STEPS).map(|i| rate((i as f64 + 0.5) * step) * step).sum();
            assert_relative_eq!(line.ease(ratio), 1.0 / number, max_relative = 1e-6);
            assert_relative_eq!(line.force_of(number, ratio), force, max_relative = 1e-6);
        }
        // The air's line meets that of saturation on the way.
        let pinched = StraightLine { slope: 4000.0, force: 10_000.0, range: 8.0 };
        assert_eq!(pinched.ease(2.0), 0.0);
        assert_eq!(StraightLine { force: -1.0, ..pinched }.ease(0.5), 0.0);
    }

    /// A start near the answer is what makes long runs short.
    #[test]
    fn predictions_start_near_their_answers() {
        let mut work = CrossflowWorkspace::default();
        for fill in fills(&mut work) {
            for (range_kelvin, dry, wet, ratio) in
                [(8.0, 32.0, 24.0, 1.2), (4.0, 15.0, 10.0, 1.2), (10.0, 25.0, 20.0, 0.8)]
            {
                let entering_air = MoistAir::from_wet_bulb(dry, wet, 101_325.0).unwrap();
                let task = Task { range_kelvin, entering_air };
                let cold = fill.predict(&task, ratio, &mut work).unwrap().cold_water_celsius;
                let off = fill.cold_guess(&task, ratio) - cold;
                assert!(off.abs() < 1.0, "{off}");
                // Less air, by a fan that could give twice as much.
                let bounds = (cold, ratio / 2.0, 0.1);
                let Held::Between { speed, .. } = fill.held(&task, bounds, &mut work) else {
                    panic!("half the air holds this water");
                };
                let off = fill.air_guess(&task, bounds) - speed.ln();
                assert!(off.abs() < 0.1, "{off}");
            }
        }
    }
}
