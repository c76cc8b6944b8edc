//! What fixes the pH of a site's circulating water, and how far that is left open.

use super::tower_water::{BlowdownError, MakeupWater};
use super::{Balance, Inputs, Model, SlotId};
use crate::blowdown::carbon_dioxide::CarbonDioxide;
use crate::blowdown::own_test::RealCycles;
use crate::blowdown::target::MOST_CYCLES;
use crate::blowdown::{PhBasis, TowerWater};
use crate::chemistry::Constituent;
use crate::chemistry::speciation::{self, Acidity, Constants};
use crate::site::GasGiven;

/// A pH that lies further below the published line than towers differ from it has another cause, or is a slip:
/// half a unit (CTI paper 91-08, abstract, of models of the pH). On a water of one alkalinity that is as much in
/// log10 of the carbon dioxide pressure.
const FAR_BELOW_LINE: f64 = 0.5;
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

/// A pH of the tower that lies below every published line. So far below that no target rests on it, it is a slip, a
/// meter that is off, or acid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LowPh {
    /// As it was read.
    pub ph: f64,
    /// That of Kunz' line for the tower's alkalinity.
    pub on_the_line: f64,
    /// log10 of the carbon dioxide pressure that it would mean, atm.
    pub log10_carbon_dioxide: f64,
    /// Whether the target rests on it all the same.
    pub is_believed: bool,
}

/// What fixes the pH, where that comes from, and a reading of it that is low.
pub(super) struct PhFound {
    pub basis: PhBasis,
    pub origin: PhOrigin,
    pub low: Option<LowPh>,
}

/// A place between the field lines at the tower's own air pressure.
fn field_line(balance: &Balance, toward_air: f64) -> CarbonDioxide {
    let pressure = balance.state.entering_air.map_or(SEA_LEVEL, |air| air.pressure_pascal);
    CarbonDioxide::FieldLine { toward_air, log10_air_pressure: (pressure / SEA_LEVEL).log10() }
}

/// The place between the field lines that was decided on; without, at equilibrium with air, where scale comes first.
fn place_of(known: Option<CarbonDioxide>) -> f64 {
    match known {
        Some(CarbonDioxide::FieldLine { toward_air, .. }) => toward_air,
        _ => 1.0,
    }
}

impl Model {
    /// `known` is what was decided of the reading for a water that differs little; judged anew without.
    pub(super) fn ph_basis(
        &self,
        (inputs, balance): (&Inputs, &Balance),
        makeup: &MakeupWater,
        real: Option<&RealCycles>,
        basin_celsius: f64,
        known: Option<CarbonDioxide>,
    ) -> Result<PhFound, BlowdownError> {
        let mut low = None;
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
                let (log10, alkalinity) =
                    self.implied_by((inputs, ph), makeup, cycles, basin_celsius)?;
                let [line, most] =
                    [0.0, -1.0].map(|at| field_line(balance, at).log10_pressure(alkalinity));
                let is_held = self.site.chemistry.ph.held.is_some();
                let is_doubted = match known {
                    Some(gas) => matches!(gas, CarbonDioxide::FieldLine { .. }),
                    None => !is_held && log10 - line > FAR_BELOW_LINE,
                };
                if is_doubted || (!is_held && log10 > most) {
                    low = Some(LowPh {
                        ph,
                        on_the_line: ph + log10 - line,
                        log10_carbon_dioxide: log10,
                        is_believed: !is_doubted,
                    });
                }
                if is_doubted {
                    let gas = field_line(balance, place_of(known));
                    (gas, PhOrigin::FieldLine { assumed: true })
                } else {
                    let gas = match is_held {
                        true => CarbonDioxide::Pressure(log10),
                        // No target rests on more carbon dioxide than any published line has.
                        false => self.reading(log10.min(most), balance, makeup, cycles),
                    };
                    (gas, PhOrigin::Measured { ph, cycles })
                }
            }
        };
        Ok(PhFound { basis: self.ph_under(inputs, gas), origin, low })
    }

    /// A pressure that was read at these cycles.
    fn reading(
        &self,
        log10: f64,
        balance: &Balance,
        makeup: &MakeupWater,
        cycles: f64,
    ) -> CarbonDioxide {
        let pressure = balance.state.entering_air.map_or(SEA_LEVEL, |air| air.pressure_pascal);
        CarbonDioxide::Reading {
            log10,
            alkalinity: makeup.blend.concentrated(cycles).alkalinity,
            log10_air_pressure: (pressure / SEA_LEVEL).log10(),
        }
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
        known: Option<CarbonDioxide>,
    ) -> PhFound {
        let basis = self.ph_under(inputs, field_line(balance, place_of(known)));
        PhFound { basis, origin: PhOrigin::FieldLine { assumed: true }, low: None }
    }

    /// log10 of the carbon dioxide pressure, atm, that a pH of the tower implies, and the alkalinity that it was
    /// read at, eq/kg.
    fn implied_by(
        &self,
        (inputs, ph): (&Inputs, f64),
        makeup: &MakeupWater,
        cycles: f64,
        basin_celsius: f64,
    ) -> Result<(f64, f64), BlowdownError> {
        let mut water = makeup.blend.concentrated(cycles);
        if let Some(circulating) = &self.site.chemistry.circulating_water {
            let found = self.analysis(inputs, circulating);
            // What was measured in the tower is nearer the truth than what was concentrated.
            water.alkalinity = found.get(Constituent::Alkalinity).unwrap_or(water.alkalinity);
        }
        Constants::at(basin_celsius)
            .and_then(|constants| speciation::solve(&water, Acidity::Ph(ph), &constants))
            .map(|solved| (solved.log10_carbon_dioxide, water.alkalinity))
            .map_err(|error| BlowdownError::Speciation {
                what: "the circulating water at its measured pH".into(),
                error,
            })
    }

    /// The place between the field lines and the ends that its ± leaves it, from the most carbon dioxide to
    /// the least; `None` where the carbon dioxide is known, or where no ± is stated of its place. Where a reading of
    /// the tower's pH is not believed there is no slot for the place, and the whole band is open.
    pub(super) fn field_line_band(
        &self,
        inputs: &Inputs,
        tower: &TowerWater,
    ) -> Option<(Option<SlotId>, [f64; 3])> {
        let GasGiven::FieldLine(slot) = self.site.chemistry.ph.gas else {
            let is_open = matches!(tower.basis(), PhBasis::Free(CarbonDioxide::FieldLine { .. }));
            return is_open.then_some((None, [-1.0, 0.0, 1.0]));
        };
        let half_width = self.slot_value(slot).uncertainty?.half_width;
        let middle = inputs.get(slot);
        let places = [middle - half_width, middle, middle + half_width];
        Some((Some(slot), places.map(|place| place.clamp(-1.0, 1.0))))
    }
}
