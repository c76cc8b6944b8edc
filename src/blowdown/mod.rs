//! How hard a tower may concentrate its water.
//!
//! The makeup is concentrated and solved as a water at every number of cycles that is asked for;
//! nothing is divided or scaled. [`carbon_dioxide`] holds what fixes the pH, [`limit`] what is
//! allowed, [`target`] finds the cycles at which each limit binds, [`set_point`] turns cycles into a
//! conductivity for the controller and a valve, [`own_test`] holds the tower's own analysis against
//! its makeup.
//!
//! ```
//! use coldbasin::blowdown::{PhBasis, TowerWater, carbon_dioxide::CarbonDioxide};
//! use coldbasin::chemistry::{Component, Composition, Mineral};
//!
//! let mut makeup = Composition::default();
//! makeup.set(Component::Calcium, 1.5e-3);
//! makeup.set(Component::Chloride, 1e-3);
//! makeup.alkalinity = 2e-3;
//! // log10 of the pressure of carbon dioxide, atm; basin and hottest surface, degC.
//! let basis = PhBasis::Free(CarbonDioxide::Pressure(-3.2));
//! let tower = TowerWater::new(makeup, basis, 28.0, 45.0)?;
//! let water = tower.at_cycles(3.0).expect("a water that can be solved");
//! assert!(water.worst_saturation(Mineral::Calcite) > Some(0.0));
//! assert!(water.conductivity > 0.05);
//! # Ok::<(), coldbasin::chemistry::speciation::SpeciationError>(())
//! ```

pub mod carbon_dioxide;
pub mod control;
pub mod limit;
pub mod own_test;
pub mod set_point;
pub mod target;

use crate::chemistry::analysis::{dried, ions_milligram_per_litre};
use crate::chemistry::index::SimpleWater;
use crate::chemistry::speciation::{self, Acidity, Constants, SolvedWater, SpeciationError};
use crate::chemistry::{Component, Composition, Constituent, Mineral};
use crate::site::Acid;
use carbon_dioxide::CarbonDioxide;

/// What fixes the pH of the circulating water at any number of cycles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PhBasis {
    /// Its own alkalinity in equilibrium with this carbon dioxide.
    Free(CarbonDioxide),
    /// Acid holds the pH; the carbon dioxide decides how much alkalinity that leaves.
    Held {
        /// pH.
        ph: f64,
        /// Which acid.
        acid: Acid,
        /// Carbon dioxide of the water that is held.
        gas: CarbonDioxide,
    },
}

impl PhBasis {
    /// What fixes the carbon dioxide.
    pub fn gas(self) -> CarbonDioxide {
        match self {
            Self::Free(gas) | Self::Held { gas, .. } => gas,
        }
    }

    /// The same under another carbon dioxide.
    #[must_use]
    pub fn under(self, gas: CarbonDioxide) -> Self {
        match self {
            Self::Free(_) => Self::Free(gas),
            Self::Held { ph, acid, .. } => Self::Held { ph, acid, gas },
        }
    }
}

/// An oxidant that is fed as hypochlorite and ends as chloride, counted as Cl2.
///
/// A mole of Cl2 made up as hypochlorite brings two of sodium and two of chloride in all: one with
/// the product, one when it is spent (stoichiometry of Cl2 + 2 NaOH).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct OxidantFeed {
    /// What the makeup uses up, mol/kg of makeup.
    pub demand: f64,
    /// What is held in the circulating water, mol/kg.
    pub residual: f64,
    /// Decay of the residual, 1/h, times the volume over the evaporation, h.
    pub decayed: f64,
}

impl OxidantFeed {
    /// Oxidant fed for a kg of liquid that leaves, mol: demand and decay over evaporation grow with
    /// the cycles as the liquid dwindles.
    pub fn per_liquid(&self, cycles: f64) -> f64 {
        self.demand * cycles + self.residual * (1.0 + self.decayed * (cycles - 1.0))
    }

    /// Chloride and sodium that it leaves in the circulating water, mol/kg each.
    pub fn chloride(&self, cycles: f64) -> f64 {
        2.0 * self.per_liquid(cycles)
    }
}

/// Salts that products bring, linear in the cycles: mol for a kg, alkalinity eq.
///
/// What is held in the water comes with every kg of liquid; what the makeup uses up, with every kg of makeup;
/// what decays or is given in slugs, by the clock, so that it grows with the time that the water stays.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ProductSalts {
    /// In a kg of circulating water, at any cycles.
    pub held: Composition,
    /// For a kg of makeup.
    pub by_makeup: Composition,
    /// For a kg of evaporation.
    pub by_evaporation: Composition,
}

impl ProductSalts {
    /// What they leave in the circulating water.
    pub fn at(&self, cycles: f64) -> Composition {
        let mut salts = self.held;
        salts.add(&self.by_makeup, cycles);
        salts.add(&self.by_evaporation, cycles - 1.0);
        salts
    }
}

/// A makeup with all that decides what becomes of it in the tower.
#[derive(Debug, Clone, PartialEq)]
pub struct TowerWater {
    makeup: Composition,
    /// Metals in the makeup that are counted and not speciated.
    pub metals: Metals,
    /// Suspended solids in the makeup, mg/L.
    pub suspended_solids: Option<f64>,
    /// Constituents that nobody analysed: what they are, not that they are none.
    pub not_analysed: Vec<Constituent>,
    /// Oxidant that is fed.
    pub oxidant: OxidantFeed,
    /// Salts of the products that are fed.
    pub salts: ProductSalts,
    /// Evaporation, and what leaks, drifts and spills beside the blowdown, m3/d; where they are known.
    pub flows: Option<[f64; 2]>,
    basis: PhBasis,
    basin: Constants,
    surface: Constants,
    coldest: Option<Constants>,
    reference: Constants,
}

/// The makeup concentrated, at the places that matter.
#[derive(Debug, Clone, PartialEq)]
pub struct ConcentratedWater {
    /// Cycles of concentration.
    pub cycles: f64,
    /// What it is made of, acid included.
    pub composition: Composition,
    /// Acid fed, eq for a kg of circulating water; for a kg of makeup divide by the cycles.
    pub acid: f64,
    /// In the basin, at the temperature of the cold water.
    pub basin: SolvedWater,
    /// The same water, closed, at the hottest surface.
    pub surface: SolvedWater,
    /// The same water, closed, in the coldest basin that runs, where that is known.
    pub coldest: Option<SolvedWater>,
    /// Conductivity at 25 degC, S/m; NaN within a search that does not ask for it.
    pub conductivity: f64,
    /// Sum of the ions, mg/L.
    pub dissolved_solids: f64,
    /// Metals that are counted and not speciated.
    pub metals: Metals,
    /// What drying at 180 degC leaves of it, mg/L.
    pub dried_solids: f64,
    /// mg/L.
    pub suspended_solids: Option<f64>,
    /// Blowdown that holds these cycles, where the flows are known.
    pub discharge_m3_per_day: Option<f64>,
    /// The water as the trade's indices see it, in the basin.
    pub simple: SimpleWater,
}

/// The circulating water at a number of cycles at which it could not be solved.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("the circulating water at {} cycles: {error}", shown(*.cycles))]
pub struct Unsolved {
    /// Cycles of concentration.
    pub cycles: f64,
    /// Why.
    pub error: SpeciationError,
}

/// Cycles to a ten thousandth.
fn shown(cycles: f64) -> f64 {
    (1e4 * cycles).round() / 1e4
}

impl TowerWater {
    /// A makeup in a tower of these temperatures, degC.
    ///
    /// # Errors
    /// [`SpeciationError::Temperature`].
    pub fn new(
        makeup: Composition,
        basis: PhBasis,
        basin_celsius: f64,
        surface_celsius: f64,
    ) -> Result<Self, SpeciationError> {
        Ok(Self {
            makeup,
            metals: Metals::default(),
            suspended_solids: None,
            not_analysed: Vec::new(),
            oxidant: OxidantFeed::default(),
            salts: ProductSalts::default(),
            flows: None,
            basis,
            basin: Constants::at(basin_celsius)?,
            surface: Constants::at(surface_celsius)?,
            coldest: None,
            reference: Constants::at(25.0)?,
        })
    }

    /// The same tower whose basin is at times as cold as this, degC: minerals that drop out in the cold are
    /// judged there.
    ///
    /// # Errors
    /// [`SpeciationError::Temperature`].
    pub fn with_coldest_basin(self, celsius: f64) -> Result<Self, SpeciationError> {
        Ok(Self { coldest: Some(Constants::at(celsius)?), ..self })
    }

    /// The temperature of the coldest basin, degC, where it is known.
    pub fn coldest_celsius(&self) -> Option<f64> {
        self.coldest.as_ref().map(Constants::celsius)
    }

    /// What the makeup is made of.
    pub fn makeup(&self) -> &Composition {
        &self.makeup
    }

    /// Equilibrium constants in the basin and on the hottest surface.
    pub fn constants(&self) -> [&Constants; 2] {
        [&self.basin, &self.surface]
    }

    /// What fixes the pH.
    pub fn basis(&self) -> PhBasis {
        self.basis
    }

    /// Whether the water of another tower is the same at all cycles, whatever the flows.
    pub fn is_like(&self, other: &Self) -> bool {
        Self { flows: other.flows, ..self.clone() } == *other
    }

    /// The same water with its pH fixed in another way.
    #[must_use]
    pub fn with_basis(&self, basis: PhBasis) -> Self {
        Self { basis, ..self.clone() }
    }

    /// The same tower with another makeup.
    #[must_use]
    pub fn with_makeup(&self, makeup: Composition) -> Self {
        Self { makeup, ..self.clone() }
    }

    /// The circulating water at these cycles.
    ///
    /// # Errors
    /// [`Unsolved`] where the water has no equilibrium.
    pub fn at_cycles(&self, cycles: f64) -> Result<ConcentratedWater, Unsolved> {
        self.solved_at(cycles, true, None).map_err(|error| Unsolved { cycles, error })
    }

    /// [`Self::at_cycles`] from a water much like it: the same to the solver's rounding, in half the time.
    ///
    /// # Errors
    /// As [`Self::at_cycles`].
    pub(crate) fn at_cycles_near(
        &self,
        cycles: f64,
        near: &ConcentratedWater,
    ) -> Result<ConcentratedWater, Unsolved> {
        self.solved_at(cycles, true, Some(near)).map_err(|error| Unsolved { cycles, error })
    }

    /// [`Self::at_cycles`] for a search among these limits: without a conductivity where none is limited, and from
    /// a water of the search that is solved already.
    fn at_cycles_among<'l>(
        &self,
        cycles: f64,
        limits: impl IntoIterator<Item = &'l limit::Limit>,
        near: Option<&ConcentratedWater>,
    ) -> Result<ConcentratedWater, Unsolved> {
        let conducts =
            limits.into_iter().any(|limit| limit.measure == limit::Measure::Conductivity);
        self.solved_at(cycles, conducts, near).map_err(|error| Unsolved { cycles, error })
    }

    fn solved_at(
        &self,
        cycles: f64,
        conducts: bool,
        near: Option<&ConcentratedWater>,
    ) -> Result<ConcentratedWater, SpeciationError> {
        let mut plain = self.makeup.concentrated(cycles);
        for component in [Component::Sodium, Component::Chloride] {
            plain.set(component, plain.get(component) + self.oxidant.chloride(cycles));
        }
        plain.add(&self.salts.at(cycles), 1.0);
        let (composition, acid, basin) = match self.basis {
            PhBasis::Free(gas) => {
                let acidity = Acidity::CarbonDioxide(gas.log10_pressure(plain.alkalinity));
                (
                    plain,
                    0.0,
                    solve_near(near.map(|near| (near, &near.basin)), &plain, acidity, &self.basin)?,
                )
            }
            PhBasis::Held { ph, acid, gas } => self.held(&plain, (ph, acid), gas, near)?,
        };
        self.at_all_places(cycles, (composition, acid), basin, (conducts, near))
    }

    /// The circulating water as it was analysed, at its measured pH; at that of this tower where none was
    /// measured.
    ///
    /// # Errors
    /// [`Unsolved`] where the water has no equilibrium.
    pub fn as_found(
        &self,
        cycles: f64,
        composition: Composition,
        ph: Option<f64>,
    ) -> Result<ConcentratedWater, Unsolved> {
        let acidity = match (ph, self.basis) {
            (Some(ph), _) | (None, PhBasis::Held { ph, .. }) => Acidity::Ph(ph),
            (None, PhBasis::Free(gas)) => {
                Acidity::CarbonDioxide(gas.log10_pressure(composition.alkalinity))
            }
        };
        speciation::solve(&composition, acidity, &self.basin)
            .and_then(|basin| self.at_all_places(cycles, (composition, 0.0), basin, (true, None)))
            .map_err(|error| Unsolved { cycles, error })
    }

    /// Blowdown that holds these cycles, m3/d: evaporation / (cycles - 1) less other losses.
    fn discharge(&self, cycles: f64) -> Option<f64> {
        /// At one cycle it has no limit; so near above it is as good as that.
        const NEAREST: f64 = 1e-6;
        let [evaporation, others] = self.flows?;
        Some((evaporation / (cycles - 1.0).max(NEAREST) - others).max(0.0))
    }

    /// A water of the basin on the hottest surface, in the cold and, where its conductivity is asked for, in
    /// the laboratory.
    fn at_all_places(
        &self,
        cycles: f64,
        (composition, acid): (Composition, f64),
        basin: SolvedWater,
        (conducts, near): (bool, Option<&ConcentratedWater>),
    ) -> Result<ConcentratedWater, SpeciationError> {
        let closed = Acidity::TotalCarbon(basin.total_carbon);
        let at = |constants, known: Option<&SolvedWater>| match near.zip(known) {
            Some(known) => solve_near(Some(known), &composition, closed, constants),
            None => speciation::solve_from(&basin, &composition, closed, constants),
        };
        let surface = at(&self.surface, near.map(|near| &near.surface))?;
        let known_coldest = near.and_then(|near| near.coldest.as_ref());
        let coldest = self.coldest.as_ref().map(|cold| at(cold, known_coldest)).transpose()?;
        let conductivity = match conducts {
            true => at(&self.reference, None)?.conductivity(),
            false => f64::NAN,
        };
        let dissolved_solids = ions_milligram_per_litre(&composition);
        let of_hardness =
            |component| Constituent::Hardness.milligram_per_litre(composition.get(component));
        let simple = SimpleWater {
            celsius: basin.celsius,
            ph: basin.ph,
            calcium: of_hardness(Component::Calcium),
            alkalinity: Constituent::Alkalinity.milligram_per_litre(composition.alkalinity),
            dissolved_solids,
        };
        Ok(ConcentratedWater {
            cycles,
            composition,
            acid,
            conductivity,
            basin,
            surface,
            coldest,
            dissolved_solids,
            metals: self.metals.concentrated(cycles),
            dried_solids: dried(&composition),
            suspended_solids: self.suspended_solids.map(|solids| cycles * solids),
            discharge_m3_per_day: self.discharge(cycles),
            simple,
        })
    }

    /// The water with just so much acid that the gas leaves it at this pH; none where it is no
    /// higher without.
    fn held(
        &self,
        plain: &Composition,
        (ph, acid): (f64, Acid),
        gas: CarbonDioxide,
        near: Option<&ConcentratedWater>,
    ) -> Result<(Composition, f64, SolvedWater), SpeciationError> {
        const MOST_PASSES: usize = 50;
        // Alkalinity left at this pH against the alkalinity that the gas is taken at; where both are one, the
        // water is found. The ion that the acid brings moves it a little, a field line a good deal.
        let mut alkalinity = plain.alkalinity;
        let mut before: Option<(f64, f64)> = None;
        let mut solved_before = near.map(|near| near.basin.scaled(&near.composition, plain));
        for _ in 0..MOST_PASSES {
            let log10 = gas.log10_pressure(alkalinity);
            let fed = plain.alkalinity - alkalinity;
            let both = Acidity::PhAndCarbonDioxide(ph, log10);
            let water = with_acid(plain, acid, fed);
            let solved = match &solved_before {
                Some(known) => speciation::solve_from(known, &water, both, &self.basin)?,
                None => speciation::solve(&water, both, &self.basin)?,
            };
            let left = solved.alkalinity();
            if left >= plain.alkalinity && fed == 0.0 {
                let gas = Acidity::CarbonDioxide(log10);
                return Ok((*plain, 0.0, speciation::solve(plain, gas, &self.basin)?));
            }
            if (left - alkalinity).abs() <= 1e-9 * plain.alkalinity.abs() {
                return Ok((water, fed, solved));
            }
            solved_before = Some(solved);
            // The slope of what is left: of a line at first, then by the last two passes.
            let slope = match before {
                Some((old, old_left)) => (left - old_left) / (alkalinity - old),
                None => -gas.fall(),
            };
            before = Some((alkalinity, left));
            alkalinity = match left / alkalinity {
                // Far away the line is straight in logarithms.
                part if !(0.9..1.1).contains(&part) && part > 0.0 => {
                    alkalinity * part.powf(1.0 / (1.0 + gas.fall()))
                }
                _ => {
                    let slope = if slope.abs() < 0.9 { slope } else { 0.0 };
                    alkalinity + (left - alkalinity) / (1.0 - slope)
                }
            }
            .min(plain.alkalinity);
        }
        Err(SpeciationError::NotConverged)
    }
}

impl ConcentratedWater {
    /// A mineral's saturation index where it is highest: silica in the cold, carbonates and
    /// magnesium silicates in the heat.
    pub fn worst_saturation(&self, mineral: Mineral) -> Option<f64> {
        let basin = self.basin.saturation_index(mineral)?;
        let elsewhere = [Some(&self.surface), self.coldest.as_ref()].into_iter().flatten();
        Some(elsewhere.filter_map(|place| place.saturation_index(mineral)).fold(basin, f64::max))
    }

    /// The water as the simple forms see it where suppliers state Langelier's index: the pH of the basin
    /// with the temperature of the hottest surface.
    pub fn simple_at_surface(&self) -> SimpleWater {
        SimpleWater { celsius: self.surface.celsius, ..self.simple }
    }
}

/// Solves a water, from one place of a water much like it where there is one.
fn solve_near(
    near: Option<(&ConcentratedWater, &SolvedWater)>,
    water: &Composition,
    acidity: Acidity,
    constants: &Constants,
) -> Result<SolvedWater, SpeciationError> {
    match near {
        Some((near, place)) => {
            let start = place.scaled(&near.composition, water);
            speciation::solve_from(&start, water, acidity, constants)
        }
        None => speciation::solve(water, acidity, constants),
    }
}

/// A water after so many equivalents of acid: less alkalinity, more of the acid's own ion.
fn with_acid(water: &Composition, acid: Acid, equivalents: f64) -> Composition {
    let mut fed = *water;
    fed.alkalinity -= equivalents;
    let (component, moles) = match acid {
        Acid::Sulfuric => (Component::Sulfate, 0.5 * equivalents),
        Acid::Hydrochloric => (Component::Chloride, equivalents),
    };
    fed.set(component, fed.get(component) + moles);
    fed
}

/// Metals that are counted and not speciated, mol/kg each, in the order of [`Constituent::METALS`]; `None` where
/// nobody analysed them.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Metals([Option<f64>; Constituent::METALS.len()]);

impl Metals {
    /// With so much of each, mol/kg.
    pub fn new(of: impl Fn(Constituent) -> Option<f64>) -> Self {
        Self(Constituent::METALS.map(of))
    }

    /// mol/kg of one; `None` where it was not analysed or is no such metal.
    pub fn get(&self, metal: Constituent) -> Option<f64> {
        let place = Constituent::METALS.iter().position(|known| *known == metal)?;
        self.0[place]
    }

    fn concentrated(&self, cycles: f64) -> Self {
        Self(self.0.map(|moles| moles.map(|moles| cycles * moles)))
    }
}
