//! Water chemistry: from a laboratory analysis to the equilibrium of concentrated water.
//!
//! Concentrations inside are mol in a kg of water; a litre of analysed water counts as a kg.
//! [`analysis`] turns what a laboratory writes into a [`Composition`], [`slip`] says which slip of the pen explains one
//! that contradicts itself, [`speciation`] solves it,
//! [`index`] holds the indices of the trade.
//!
//! ```
//! use coldbasin::chemistry::speciation::{Acidity, Constants, solve};
//! use coldbasin::chemistry::{Component, Composition, Mineral};
//!
//! // 2 mmol/kg of calcium, 3 meq/kg of alkalinity, the rest of the charge by chloride.
//! let mut water = Composition::default();
//! water.set(Component::Calcium, 2e-3);
//! water.set(Component::Chloride, 1e-3);
//! water.alkalinity = 3e-3;
//! let constants = Constants::at(35.0)?;
//! let at_ph_8 = solve(&water, Acidity::Ph(8.0), &constants)?;
//! assert!(at_ph_8.saturation_index(Mineral::Calcite).is_some_and(|index| index > 0.0));
//! // Twice as concentrated it lies further from equilibrium.
//! let twice = solve(&water.concentrated(2.0), Acidity::Ph(8.0), &constants)?;
//! assert!(twice.saturation_index(Mineral::Calcite) > at_ph_8.saturation_index(Mineral::Calcite));
//! # Ok::<(), coldbasin::chemistry::speciation::SpeciationError>(())
//! ```

pub mod analysis;
pub mod index;
pub mod sample;
pub mod slip;
pub mod speciation;
mod species;

pub use analysis::{Analysis, BalanceWith, CompletedFrom, Constituent};
pub use species::{Mineral, SOURCE};

/// What a water is made of: conserved whatever pairs it forms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Component {
    /// H+; its total is never used, alkalinity stands for it.
    Hydrogen,
    /// Ca.
    Calcium,
    /// Mg.
    Magnesium,
    /// Na.
    Sodium,
    /// K.
    Potassium,
    /// Cl.
    Chloride,
    /// SO4.
    Sulfate,
    /// NO3.
    Nitrate,
    /// F.
    Fluoride,
    /// NH4 and NH3.
    Ammonium,
    /// H4SiO4 and its ions.
    Silica,
    /// PO4 and its acids.
    Phosphate,
    /// CO3, HCO3 and CO2; its total follows from alkalinity and pH.
    Carbonate,
}

impl Component {
    /// How many there are.
    pub const COUNT: usize = 13;

    /// Those whose totals an analysis fixes.
    pub const CONSERVED: [Self; 11] = [
        Self::Calcium,
        Self::Magnesium,
        Self::Sodium,
        Self::Potassium,
        Self::Chloride,
        Self::Sulfate,
        Self::Nitrate,
        Self::Fluoride,
        Self::Ammonium,
        Self::Silica,
        Self::Phosphate,
    ];
}

/// What a water holds in all, whatever its pH.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Composition {
    totals: [f64; Component::COUNT],
    /// Alkalinity, eq/kg: conserved when carbon dioxide comes or goes.
    pub alkalinity: f64,
}

impl Composition {
    /// Total of a component, mol/kg.
    pub fn get(&self, component: Component) -> f64 {
        self.totals[component as usize]
    }

    /// Sets the total of a component, mol/kg.
    pub fn set(&mut self, component: Component, mole_per_kg: f64) {
        self.totals[component as usize] = mole_per_kg;
    }

    /// Adds one of sodium, chloride, sulfate, phosphate (mol/kg) and alkalinity (eq/kg), as products hold
    /// them; no other constituent.
    pub(crate) fn add_ion(&mut self, ion: Constituent, amount: f64) {
        let component = match ion {
            Constituent::Sodium => Component::Sodium,
            Constituent::Chloride => Component::Chloride,
            Constituent::Sulfate => Component::Sulfate,
            Constituent::Phosphate => Component::Phosphate,
            Constituent::Alkalinity => {
                self.alkalinity += amount;
                return;
            }
            _ => return,
        };
        self.set(component, self.get(component) + amount);
    }

    /// Adds a part of another water to a blend.
    pub fn add(&mut self, other: &Self, share: f64) {
        for (mine, others) in self.totals.iter_mut().zip(other.totals) {
            *mine += share * others;
        }
        self.alkalinity += share * other.alkalinity;
    }

    /// The same water with a part of it evaporated: every total times `cycles`.
    #[must_use]
    pub fn concentrated(&self, cycles: f64) -> Self {
        Self {
            totals: self.totals.map(|total| cycles * total),
            alkalinity: cycles * self.alkalinity,
        }
    }

    /// Cations less anions, eq/kg, with silica uncharged and phosphate as the alkalinity counts it.
    pub fn charge(&self) -> f64 {
        let get = |component| self.get(component);
        2.0 * (get(Component::Calcium) + get(Component::Magnesium))
            + get(Component::Sodium)
            + get(Component::Potassium)
            + get(Component::Ammonium)
            - get(Component::Chloride)
            - 2.0 * get(Component::Sulfate)
            - get(Component::Nitrate)
            - get(Component::Fluoride)
            - get(Component::Phosphate)
            - self.alkalinity
    }
}
