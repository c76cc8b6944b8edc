//! From cycles to what the controller and the valve are set to.

use super::target::root_of_falling;
use super::{TowerWater, Unsolved};
use crate::chemistry::{Component, Constituent};

/// A controller's set point for a number of cycles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SetPoint {
    /// Cycles that it stands for.
    pub cycles: f64,
    /// Conductivity at 25 degC, S/m: computed for the concentrated water, scaled by what the makeup
    /// measures over what it computes to.
    pub conductivity: f64,
    /// Cycles times the makeup's conductivity, S/m: the plain rule.
    pub plain: f64,
    /// Cycles that the plain rule would really give; `None` where no water up to the limits conducts
    /// as much.
    pub cycles_of_plain: Option<f64>,
    /// Chloride that a titration should then find, mg/L as Cl.
    pub chloride: f64,
}

/// The set point for `cycles`. `computed` and `measured` are the makeup's conductivities, S/m; the
/// cycles of the plain rule are sought up to `most_cycles`.
///
/// # Errors
/// [`Unsolved`] where the water has no equilibrium.
pub fn set_point(
    tower: &TowerWater,
    cycles: f64,
    (computed, measured): (f64, f64),
    most_cycles: f64,
) -> Result<SetPoint, Unsolved> {
    let scale = measured / computed;
    let water = tower.at_cycles(cycles)?;
    let plain = cycles * measured;
    Ok(SetPoint {
        cycles,
        conductivity: scale * water.conductivity,
        plain,
        cycles_of_plain: cycles_at(tower, plain / scale, most_cycles)?,
        chloride: Constituent::Chloride
            .milligram_per_litre(water.composition.get(Component::Chloride)),
    })
}

/// Cycles, from 1 to `most`, at which the concentrated and solved water conducts so much, S/m; `None`
/// where it does not in between.
///
/// # Errors
/// [`Unsolved`] where the water has no equilibrium on the way.
pub fn cycles_at(
    tower: &TowerWater,
    conductivity: f64,
    most: f64,
) -> Result<Option<f64>, Unsolved> {
    root_of_falling(1.0, most, |cycles| Ok(conductivity - tower.at_cycles(cycles)?.conductivity))
}

/// What an open valve does in the dead band of its controller.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValveCycle {
    /// Part of the time that it is open.
    pub duty: f64,
    /// Hours open in the band.
    pub open_hours: f64,
    /// Hours shut in the band.
    pub shut_hours: f64,
}

/// What a valve can do for the cycles that are to be held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ValveState {
    /// It opens and shuts; how often is known where the volume is.
    ByTurns(Option<ValveCycle>),
    /// It is just large enough, and never gets the cycles through the dead band.
    StandsOpen,
    /// Open all the time it passes less than the cycles ask for.
    TooSmall,
    /// The other losses alone hold no more cycles than that.
    NotNeeded,
}

/// A blowdown valve at work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValveWork {
    /// Flow that the balance asks for on average, m3/h.
    pub mean_flow: f64,
    /// Flow of the open valve, m3/h.
    pub valve_flow: f64,
    /// Cycles that it holds when it is open all the time.
    pub open_holds: f64,
    /// What that is for the cycles asked for.
    pub state: ValveState,
}

/// Flows of the circuit that the valve works in, m3/h, and its volume, m3.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValveDuty {
    /// Evaporation.
    pub evaporation: f64,
    /// Drift, leakage and overflow.
    pub other_losses: f64,
    /// Water in the system, where it is known.
    pub volume: Option<f64>,
    /// Cycles to be held.
    pub cycles: f64,
    /// Dead band as a part of the cycles.
    pub dead_band: f64,
}

impl ValveDuty {
    /// Blowdown that holds the cycles, m3/h: evaporation / (cycles - 1) less other losses (UFC
    /// 3-240-13FN, ch. 4).
    pub fn mean_flow(&self) -> f64 {
        (self.evaporation / (self.cycles - 1.0) - self.other_losses).max(0.0)
    }

    /// Cycles that settle with so much blowdown, m3/h, all the time.
    pub fn cycles_with(&self, blowdown: f64) -> f64 {
        1.0 + self.evaporation / (self.other_losses + blowdown)
    }

    /// Hours until the concentration moves over the dead band with so much liquid leaving, from the
    /// mixed basin V dc/dt = M - L c, c in cycles; `None` where it never gets there.
    fn hours_across(&self, liquid: f64, from: f64, to: f64) -> Option<f64> {
        let volume = self.volume?;
        let rest = (self.evaporation + liquid) / liquid;
        if liquid == 0.0 {
            return Some((to - from) * volume / self.evaporation);
        }
        let part = (to - rest) / (from - rest);
        (part > 0.0 && part < 1.0).then(|| -volume / liquid * part.ln())
    }

    fn turns(&self, valve_flow: f64) -> Option<ValveCycle> {
        // The controller opens at its set point and shuts a dead band below it.
        let (low, high) = (self.cycles * (1.0 - self.dead_band), self.cycles);
        let open_hours = self.hours_across(self.other_losses + valve_flow, high, low)?;
        let shut_hours = self.hours_across(self.other_losses, low, high)?;
        Some(ValveCycle { duty: open_hours / (open_hours + shut_hours), open_hours, shut_hours })
    }

    /// What a valve of this flow, m3/h, does.
    pub fn with_valve(&self, valve_flow: f64) -> ValveWork {
        /// A flow that misses what is needed by its last digits is large enough.
        const ROUNDING: f64 = 1e-9;
        let open_holds = self.cycles_with(valve_flow);
        let state = if self.mean_flow() == 0.0 {
            ValveState::NotNeeded
        } else if open_holds > self.cycles * (1.0 + ROUNDING) {
            ValveState::TooSmall
        } else if open_holds >= self.cycles * (1.0 - self.dead_band) {
            ValveState::StandsOpen
        } else {
            ValveState::ByTurns(self.turns(valve_flow))
        };
        ValveWork { mean_flow: self.mean_flow(), valve_flow, open_holds, state }
    }
}

/// Flow coefficients of a valve for a flow, m3/h, at a pressure drop, Pa: Kv, m3/h at 1 bar, and Cv,
/// gpm at 1 psi (IEC 60534-2-1; water of density 1, turbulent).
pub fn flow_coefficients(flow: f64, pressure_drop: f64) -> (f64, f64) {
    const CV_OF_KV: f64 = 1.156;
    let kv = flow / (pressure_drop / 1e5).sqrt();
    (kv, kv * CV_OF_KV)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Worked outside this program: 50 m3, 58 m3/d
    /// evaporated, 4 cycles, a valve of 2 m3/h: open 1.39 h, shut 2.03 h in its band, so that one
    /// band of 0.0981 cycles is implied.
    #[test]
    fn a_valve_in_its_band() {
        let duty = ValveDuty {
            evaporation: 58.0 / 24.0,
            other_losses: 0.0,
            volume: Some(50.0),
            cycles: 4.0,
            dead_band: 2.03 * 58.0 / 24.0 / 50.0 / 4.0,
        };
        let ValveState::ByTurns(Some(valve)) = duty.with_valve(2.0).state else { unreachable!() };
        assert_relative_eq!(valve.shut_hours, 2.03, max_relative = 1e-9);
        // Whether the band lies below the set point or around it is not said: 1.41 or 1.37 h.
        assert_relative_eq!(valve.open_hours, 1.39, max_relative = 1.5e-2);
        assert_relative_eq!(valve.duty, 0.41, epsilon = 0.005);
        assert_relative_eq!(duty.mean_flow(), 58.0 / 24.0 / 3.0, max_relative = 1e-12);
    }

    /// 2.4 m3/h evaporate: 4 cycles need 0.8 m3/h.
    #[test]
    fn a_small_valve_is_told_from_one_that_nobody_needs() {
        let duty = ValveDuty {
            evaporation: 2.4,
            other_losses: 0.0,
            volume: None,
            cycles: 4.0,
            dead_band: 0.05,
        };
        let state = |duty: ValveDuty, flow| duty.with_valve(flow).state;
        assert_eq!(state(duty, 0.4), ValveState::TooSmall);
        assert_relative_eq!(duty.with_valve(0.4).open_holds, 7.0);
        assert_eq!(state(duty, 0.8), ValveState::StandsOpen);
        assert_eq!(state(duty, 2.0), ValveState::ByTurns(None));
        let leaking = ValveDuty { other_losses: 1.0, ..duty };
        assert_eq!(state(leaking, 0.4), ValveState::NotNeeded);
    }

    #[test]
    fn kv_and_cv_are_one_valve_in_two_systems() {
        let (kv, cv) = flow_coefficients(2.0, 1e5);
        assert_relative_eq!(kv, 2.0, max_relative = 1e-12);
        // 2 m3/h in gpm over the root of 1 bar in psi.
        assert_relative_eq!(cv, 8.805_735 / 14.503_774_f64.sqrt(), max_relative = 1e-3);
    }
}
