//! The blowdown target of a row of many runs: that of the target's page, without the ± of its results.

use super::blowdown::BestEstimate;
use super::{Balance, BlowdownError, Inputs, Model};
use crate::balance::{self, BlowdownBasis, WaterBalance};
use crate::blowdown::ConcentratedWater;
use crate::blowdown::set_point::{ValveState, ValveWork};

/// What a target comes to; nothing where even the makeup is beyond a limit.
#[derive(Debug)]
pub(crate) struct RowTarget {
    /// Cycles to aim at.
    pub cycles: f64,
    /// The circulating water there.
    pub water: ConcentratedWater,
    /// Balance there; `None` where none closes.
    pub balance: Option<WaterBalance>,
    /// Conductivity at which the controller opens, S/m; `None` where the makeup's was not measured or is
    /// doubtful.
    pub set_point: Option<f64>,
    /// What the stated valve does.
    pub valve: Option<ValveWork>,
}

impl RowTarget {
    /// Part of the time that the valve is open.
    pub fn open_part(&self) -> Option<f64> {
        match self.valve?.state {
            ValveState::NotNeeded => Some(0.0),
            ValveState::StandsOpen | ValveState::TooSmall => Some(1.0),
            ValveState::ByTurns(Some(turns)) => Some(turns.duty),
            ValveState::ByTurns(None) => self.valve.map(|valve| valve.mean_flow / valve.valve_flow),
        }
    }
}

impl Model {
    /// The target below a best estimate; `stated` as for [`Model::target_below`].
    pub(crate) fn row_target(
        &self,
        stated: &Model,
        inputs: &Inputs,
        balance: &Balance,
        estimate: &BestEstimate,
    ) -> Result<Option<RowTarget>, BlowdownError> {
        let Some(cycles) = self.target_below(stated, inputs, estimate) else { return Ok(None) };
        if self.is_withheld(inputs, balance, estimate)? {
            return Ok(None);
        }
        let water = estimate.allowed.tower.at_cycles(cycles)?;
        let losses = balance.water.losses();
        let measured = estimate.makeup_conductivity(self.makeup_conductivity(inputs));
        Ok(Some(RowTarget {
            cycles,
            balance: balance::close(&losses, BlowdownBasis::Cycles(cycles)).ok(),
            set_point: measured.scale().map(|scale| scale * water.conductivity),
            valve: self.valve_work(inputs, balance, cycles),
            water,
        }))
    }

    /// Whether the page would give no target, because acid is fed that the site file does not say enough of.
    fn is_withheld(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        BestEstimate { water, allowed, .. }: &BestEstimate,
    ) -> Result<bool, BlowdownError> {
        let own_test = match &water.real {
            // Nothing of it is asked where acid is stated.
            Some(real) if self.site.chemistry.ph.held.is_none() => {
                self.own_test((inputs, balance), &water.makeup, &allowed.tower, real, None)?
            }
            _ => None,
        };
        Ok(self.withheld(own_test.as_ref()).is_some())
    }

    /// Hours in which half of what is in the water is renewed, at such a balance; `None` without a volume.
    pub(crate) fn half_life_hours(&self, inputs: &Inputs, water: &WaterBalance) -> Option<f64> {
        self.volume_m3(inputs).map(|volume| Balance::half_life_hours(volume, water))
    }
}
