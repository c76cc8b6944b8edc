//! What fixes the pH of a site's circulating water, and how far that is left open.

use super::tower_water::{BlowdownError, MakeupWater};
use super::{Balance, Inputs, Model, SlotId};
use crate::blowdown::PhBasis;
use crate::blowdown::carbon_dioxide::CarbonDioxide;
use crate::blowdown::own_test::RealCycles;
use crate::blowdown::target::MOST_CYCLES;
use crate::chemistry::Constituent;
use crate::chemistry::speciation::{self, Acidity, Constants};
use crate::site::GasGiven;

/// Pa; pressures of carbon dioxide are told for sea level.
const SEA_LEVEL: f64 = 101_325.0;

/// Where the carbon dioxide of the circulating water comes from, and with it the pH, or the alkalinity
/// that acid leaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PhOrigin {
    /// Implied by a pH measured, or held, in the tower at these cycles; that carbon dioxide is kept.
    Measured {
        /// pH.
        ph: f64,
        /// Cycles at which it was measured.
        cycles: f64,
    },
    /// A stated carbon dioxide pressure.
    Stated,
    /// The field lines.
    FieldLine {
        /// Whether nobody said where between them.
        assumed: bool,
    },
}

/// A place between the field lines at the tower's own air pressure.
fn field_line(balance: &Balance, toward_air: f64) -> CarbonDioxide {
    let pressure = balance.state.entering_air.map_or(SEA_LEVEL, |air| air.pressure_pascal);
    CarbonDioxide::FieldLine { toward_air, log10_air_pressure: (pressure / SEA_LEVEL).log10() }
}

impl Model {
    pub(super) fn ph_basis(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        makeup: &MakeupWater,
        real: Option<&RealCycles>,
        basin_celsius: f64,
    ) -> Result<(PhBasis, PhOrigin), BlowdownError> {
        let (gas, origin) = match self.site.chemistry.ph.gas {
            GasGiven::Pressure(slot) => {
                (CarbonDioxide::Pressure(inputs.get(slot)), PhOrigin::Stated)
            }
            GasGiven::FieldLine(slot) => {
                let assumed = self.slot_value(slot).assumed.is_some();
                (field_line(balance, inputs.get(slot)), PhOrigin::FieldLine { assumed })
            }
            GasGiven::TowerPh(slot) => {
                let present = balance.water.cycles_of_concentration;
                let cycles = real.map_or(present, |real| real.cycles).min(MOST_CYCLES);
                let ph = inputs.get(slot);
                let log10 = self.implied_by((inputs, ph), makeup, cycles, basin_celsius)?;
                (CarbonDioxide::Pressure(log10), PhOrigin::Measured { ph, cycles })
            }
        };
        Ok((self.ph_under(inputs, gas), origin))
    }

    /// What fixes the pH under this carbon dioxide: acid where the site holds it, else the gas alone.
    fn ph_under(&self, inputs: &Inputs, gas: CarbonDioxide) -> PhBasis {
        match self.site.chemistry.ph.held {
            Some((ph, acid)) => PhBasis::Held { ph: inputs.get(ph), acid, gas },
            None => PhBasis::Free(gas),
        }
    }

    /// Where the tower's sample cannot be its own, its pH says nothing: that of equilibrium with air, at which
    /// scale comes first.
    pub(super) fn ph_of_no_sample(
        &self,
        inputs: &Inputs,
        balance: &Balance,
    ) -> (PhBasis, PhOrigin) {
        let basis = self.ph_under(inputs, field_line(balance, 1.0));
        (basis, PhOrigin::FieldLine { assumed: true })
    }

    /// log10 of the carbon dioxide pressure, atm, that a pH of the tower implies.
    fn implied_by(
        &self,
        (inputs, ph): (&Inputs, f64),
        makeup: &MakeupWater,
        cycles: f64,
        basin_celsius: f64,
    ) -> Result<f64, BlowdownError> {
        let mut water = makeup.blend.concentrated(cycles);
        if let Some(circulating) = &self.site.chemistry.circulating_water {
            let found = self.analysis(inputs, circulating);
            // What was measured in the tower is nearer the truth than what was concentrated.
            water.alkalinity = found.get(Constituent::Alkalinity).unwrap_or(water.alkalinity);
        }
        Constants::at(basin_celsius)
            .and_then(|constants| speciation::solve(&water, Acidity::Ph(ph), &constants))
            .map(|solved| solved.log10_carbon_dioxide)
            .map_err(|error| BlowdownError::Speciation {
                what: "the circulating water at its measured pH".into(),
                error,
            })
    }

    /// The place between the field lines and the ends that its ± leaves it, from the most carbon dioxide to
    /// the least; `None` where the carbon dioxide is known, or where no ± is stated of its place.
    pub(super) fn field_line_band(&self, inputs: &Inputs) -> Option<(SlotId, [f64; 3])> {
        let GasGiven::FieldLine(slot) = self.site.chemistry.ph.gas else { return None };
        let half_width = self.slot_value(slot).uncertainty?.half_width;
        let middle = inputs.get(slot);
        let places = [middle - half_width, middle, middle + half_width];
        Some((slot, places.map(|place| place.clamp(-1.0, 1.0))))
    }
}
