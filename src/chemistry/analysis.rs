//! A laboratory's analysis of a water: what was found, as what it was counted, what is missing.

use super::speciation::{self, Acidity, Constants, SolvedWater, SpeciationError};
use super::{Component, Composition};
use crate::quantity::{Amount, Basis, Concentration, Measured};

/// Something that laboratories report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Constituent {
    /// Ca.
    Calcium,
    /// Mg.
    Magnesium,
    /// Ca and Mg together.
    Hardness,
    /// Na.
    Sodium,
    /// K.
    Potassium,
    /// Total (M) alkalinity.
    Alkalinity,
    /// HCO3, a part of the alkalinity.
    Bicarbonate,
    /// CO3, a part of the alkalinity.
    Carbonate,
    /// Cl.
    Chloride,
    /// SO4.
    Sulfate,
    /// NO3.
    Nitrate,
    /// F.
    Fluoride,
    /// Orthophosphate.
    Phosphate,
    /// Dissolved (reactive) silica.
    Silica,
    /// Fe; counted, not speciated.
    Iron,
    /// Mn; counted, not speciated.
    Manganese,
    /// Zn; counted, not speciated.
    Zinc,
    /// Al; counted, not speciated.
    Aluminium,
    /// NH3 and NH4 together.
    Ammonia,
}

/// What is known of a constituent.
struct Facts {
    key: &'static str,
    name: &'static str,
    /// What its mass is shown as.
    natural: Basis,
    /// Equivalents in a mole.
    equivalents: f64,
    /// Moles of it in a mole of each basis that it may be counted as.
    forms: &'static [(Basis, f64)],
}

const fn facts(
    key: &'static str,
    name: &'static str,
    natural: Basis,
    equivalents: f64,
    forms: &'static [(Basis, f64)],
) -> Facts {
    Facts { key, name, natural, equivalents, forms }
}

impl Constituent {
    /// All of them.
    pub const ALL: [Self; 19] = [
        Self::Calcium,
        Self::Magnesium,
        Self::Hardness,
        Self::Sodium,
        Self::Potassium,
        Self::Alkalinity,
        Self::Bicarbonate,
        Self::Carbonate,
        Self::Chloride,
        Self::Sulfate,
        Self::Nitrate,
        Self::Fluoride,
        Self::Phosphate,
        Self::Silica,
        Self::Iron,
        Self::Manganese,
        Self::Zinc,
        Self::Aluminium,
        Self::Ammonia,
    ];

    /// Metals that are counted and not speciated.
    pub const METALS: [Self; 4] = [Self::Iron, Self::Manganese, Self::Zinc, Self::Aluminium];

    const fn facts(self) -> Facts {
        use Basis as B;
        match self {
            Self::Calcium => facts(
                "calcium",
                "calcium",
                B::Calcium,
                2.0,
                &[(B::Calcium, 1.0), (B::CalciumCarbonate, 1.0), (B::CalciumOxide, 1.0)],
            ),
            Self::Magnesium => facts(
                "magnesium",
                "magnesium",
                B::Magnesium,
                2.0,
                &[(B::Magnesium, 1.0), (B::CalciumCarbonate, 1.0), (B::CalciumOxide, 1.0)],
            ),
            Self::Hardness => facts(
                "hardness",
                "hardness",
                B::CalciumCarbonate,
                2.0,
                &[(B::CalciumCarbonate, 1.0), (B::CalciumOxide, 1.0), (B::Calcium, 1.0)],
            ),
            Self::Sodium => facts(
                "sodium",
                "sodium",
                B::Sodium,
                1.0,
                &[(B::Sodium, 1.0), (B::CalciumCarbonate, 2.0)],
            ),
            Self::Potassium => facts(
                "potassium",
                "potassium",
                B::Potassium,
                1.0,
                &[(B::Potassium, 1.0), (B::CalciumCarbonate, 2.0)],
            ),
            // A mole of alkalinity is an equivalent.
            Self::Alkalinity => facts(
                "alkalinity",
                "alkalinity",
                B::CalciumCarbonate,
                1.0,
                &[(B::CalciumCarbonate, 2.0), (B::Bicarbonate, 1.0), (B::CalciumOxide, 2.0)],
            ),
            Self::Bicarbonate => facts(
                "bicarbonate",
                "bicarbonate",
                B::Bicarbonate,
                1.0,
                &[(B::Bicarbonate, 1.0), (B::CalciumCarbonate, 2.0)],
            ),
            Self::Carbonate => facts(
                "carbonate",
                "carbonate",
                B::Carbonate,
                2.0,
                &[(B::Carbonate, 1.0), (B::CalciumCarbonate, 1.0)],
            ),
            Self::Chloride => facts(
                "chloride",
                "chloride",
                B::Chloride,
                1.0,
                &[(B::Chloride, 1.0), (B::SodiumChloride, 1.0), (B::CalciumCarbonate, 2.0)],
            ),
            Self::Sulfate => facts(
                "sulfate",
                "sulfate",
                B::Sulfate,
                2.0,
                &[(B::Sulfate, 1.0), (B::Sulfur, 1.0), (B::CalciumCarbonate, 1.0)],
            ),
            Self::Nitrate => facts(
                "nitrate",
                "nitrate",
                B::Nitrate,
                1.0,
                &[(B::Nitrate, 1.0), (B::Nitrogen, 1.0), (B::CalciumCarbonate, 2.0)],
            ),
            Self::Fluoride => {
                facts("fluoride", "fluoride", B::Fluoride, 1.0, &[(B::Fluoride, 1.0)])
            }
            Self::Phosphate => facts(
                "phosphate",
                "orthophosphate",
                B::Phosphate,
                1.0,
                &[(B::Phosphate, 1.0), (B::Phosphorus, 1.0), (B::PhosphorusPentoxide, 2.0)],
            ),
            Self::Silica => {
                facts("silica", "silica", B::Silica, 1.0, &[(B::Silica, 1.0), (B::Silicon, 1.0)])
            }
            Self::Iron => facts("iron", "iron", B::Iron, 2.0, &[(B::Iron, 1.0)]),
            Self::Manganese => {
                facts("manganese", "manganese", B::Manganese, 2.0, &[(B::Manganese, 1.0)])
            }
            Self::Zinc => facts("zinc", "zinc", B::Zinc, 2.0, &[(B::Zinc, 1.0)]),
            Self::Aluminium => {
                facts("aluminium", "aluminium", B::Aluminium, 3.0, &[(B::Aluminium, 1.0)])
            }
            Self::Ammonia => facts(
                "ammonia",
                "ammonia",
                B::Ammonia,
                1.0,
                &[(B::Ammonia, 1.0), (B::Ammonium, 1.0), (B::Nitrogen, 1.0)],
            ),
        }
    }

    /// The key in site files and machine output.
    pub fn key(self) -> &'static str {
        self.facts().key
    }

    /// What people call it.
    pub fn name(self) -> &'static str {
        self.facts().name
    }

    /// The constituent of a key.
    pub fn of_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|constituent| constituent.key() == key)
    }

    /// What its mass is shown as.
    pub fn basis(self) -> Basis {
        self.facts().natural
    }

    /// mol/kg from a mass in the basis that it is shown as, mg/L.
    pub fn mole_per_kg(self, milligram_per_litre: f64) -> f64 {
        milligram_per_litre / self.milligram_per_litre(1.0)
    }

    /// Mass in the basis that it is shown as, mg/L, from mol/kg.
    pub fn milligram_per_litre(self, mole_per_kg: f64) -> f64 {
        let facts = self.facts();
        let form = facts.forms.iter().find(|(basis, _)| *basis == facts.natural);
        mole_per_kg * 1e3 * facts.natural.molar_mass() / form.map_or(1.0, |(_, moles)| *moles)
    }

    /// Factor from what a laboratory wrote, in SI, to the mass that it is shown as, mg/L.
    ///
    /// # Errors
    /// [`BasisError`] where the constituent is not counted as that.
    pub fn factor(self, concentration: &Concentration) -> Result<f64, BasisError> {
        let facts = self.facts();
        let mole_per_kg = match (concentration.amount.value, concentration.basis) {
            (Amount::Moles(_), _) => 1e-3,
            (Amount::Equivalents(_), _) => 1e-3 / facts.equivalents,
            (Amount::Mass(_), basis) => {
                let form = facts.forms.iter().find(|(form, _)| Some(*form) == basis);
                let Some((basis, moles)) = form else {
                    let known = basis.map(|basis| basis.formula().to_owned());
                    let written = known.or_else(|| concentration.unknown_basis.clone());
                    return Err(BasisError { constituent: self, written });
                };
                moles / basis.molar_mass()
            }
        };
        Ok(self.milligram_per_litre(mole_per_kg))
    }

    /// Equivalents in a mole; of alkalinity one, of hardness two.
    pub fn equivalents(self) -> f64 {
        self.facts().equivalents
    }

    /// mol/kg from a mass counted as something, mg/L; `None` where it is not counted as that.
    pub fn mole_per_kg_as(self, milligram_per_litre: f64, basis: Basis) -> Option<f64> {
        let (_, moles) = self.facts().forms.iter().find(|(form, _)| *form == basis)?;
        Some(1e-3 * milligram_per_litre * moles / basis.molar_mass())
    }

    /// The mass that it is shown as, mg/L, from what a laboratory wrote.
    ///
    /// # Errors
    /// [`BasisError`] where the constituent is not counted as that.
    pub fn read(self, concentration: &Concentration) -> Result<f64, BasisError> {
        Ok(self.factor(concentration)? * concentration.amount.value.si())
    }

    fn component(self) -> Option<Component> {
        Some(match self {
            Self::Calcium => Component::Calcium,
            Self::Magnesium => Component::Magnesium,
            Self::Sodium => Component::Sodium,
            Self::Potassium => Component::Potassium,
            Self::Chloride => Component::Chloride,
            Self::Sulfate => Component::Sulfate,
            Self::Nitrate => Component::Nitrate,
            Self::Fluoride => Component::Fluoride,
            Self::Phosphate => Component::Phosphate,
            Self::Silica => Component::Silica,
            Self::Ammonia => Component::Ammonium,
            Self::Hardness
            | Self::Alkalinity
            | Self::Bicarbonate
            | Self::Carbonate
            | Self::Iron
            | Self::Manganese
            | Self::Zinc
            | Self::Aluminium => return None,
        })
    }

    /// Other bases that it may be counted as, each with the mass in it for one in its own basis.
    pub fn other_bases(self) -> impl Iterator<Item = (&'static str, f64)> {
        let facts = self.facts();
        let mass = |basis: Basis, moles: f64| basis.molar_mass() / moles;
        let own = facts.forms.iter().find(|(basis, _)| *basis == facts.natural);
        let own = own.map_or(f64::NAN, |(basis, moles)| mass(*basis, *moles));
        facts
            .forms
            .iter()
            .filter(move |(basis, _)| *basis != facts.natural)
            .map(move |(basis, moles)| (basis.formula(), mass(*basis, *moles) / own))
    }

    /// Sets what a water holds of it, mol/kg; what no [`Composition`] has is left out.
    pub fn put(self, water: &mut Composition, mole_per_kg: f64) {
        match self.component() {
            Some(component) => water.set(component, mole_per_kg),
            None if self == Self::Alkalinity => water.alkalinity = mole_per_kg,
            None => {}
        }
    }

    /// What a water holds of it, mol/kg; [`Self::METALS`] are not part of a [`Composition`].
    pub fn of(self, water: &Composition) -> Option<f64> {
        match self {
            Self::Hardness => Some(water.get(Component::Calcium) + water.get(Component::Magnesium)),
            Self::Alkalinity => Some(water.alkalinity),
            _ => self.component().map(|component| water.get(component)),
        }
    }
}

/// A basis that a constituent is not counted as, or none at all.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}\n{}", self.wrong(), self.right())]
pub struct BasisError {
    /// Of what.
    pub constituent: Constituent,
    /// As what, where it says so.
    pub written: Option<String>,
}

impl BasisError {
    fn wrong(&self) -> String {
        let name = self.constituent.name();
        match &self.written {
            Some(written) => format!("{name} is not counted as \"{written}\""),
            None => format!("{name} does not say what its mass is counted as"),
        }
    }

    fn right(&self) -> String {
        let forms = self.constituent.facts().forms.iter();
        let forms: Vec<_> = forms.map(|(basis, _)| format!("\"as {}\"", basis.formula())).collect();
        format!("write {}", forms.join(" or "))
    }
}

/// The ion that makes up for ions that were not analysed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum BalanceWith {
    /// Where anions exceed cations.
    Sodium,
    /// Where cations exceed anions.
    Chloride,
    /// Where cations exceed anions, and chloride was analysed.
    Sulfate,
}

/// Why an analysis makes no water.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AnalysisError {
    /// Hardness includes calcium and magnesium.
    #[error(
        "hardness of {hardness:.0} mg/L as CaCO3 is below calcium and magnesium, which make {parts:.0} mg/L as CaCO3"
    )]
    HardnessBelowItsParts {
        /// mg/L as CaCO3.
        hardness: f64,
        /// mg/L as CaCO3.
        parts: f64,
    },
    /// Hardness above the sum of both its parts.
    #[error(
        "hardness of {hardness:.0} mg/L as CaCO3 is not calcium with magnesium, which make {parts:.0} mg/L as CaCO3"
    )]
    HardnessIsNotItsParts {
        /// mg/L as CaCO3.
        hardness: f64,
        /// mg/L as CaCO3.
        parts: f64,
    },
    /// Alkalinity and bicarbonate with carbonate disagree.
    #[error(
        "alkalinity of {alkalinity:.0} mg/L as CaCO3 is not bicarbonate with carbonate, which make {parts:.0} mg/L as CaCO3"
    )]
    AlkalinityIsNotItsParts {
        /// mg/L as CaCO3.
        alkalinity: f64,
        /// mg/L as CaCO3.
        parts: f64,
    },
    /// Phenolphthalein alkalinity is a part of the total.
    #[error(
        "P alkalinity of {part:.0} mg/L as CaCO3 is above the total (M) alkalinity of {total:.0} mg/L as CaCO3"
    )]
    PAboveTotalAlkalinity {
        /// mg/L as CaCO3.
        part: f64,
        /// mg/L as CaCO3.
        total: f64,
    },
    /// The ion that should make up the difference would be negative.
    #[error(
        "cations and anions differ by {excess_meq_per_litre:.2} meq/L the other way: this ion cannot make it up"
    )]
    WrongBalance {
        /// Excess that the ion would add to, meq/L.
        excess_meq_per_litre: f64,
    },
}

/// What a laboratory found in a water.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Analysis {
    /// Constituents with mol/kg.
    pub constituents: Vec<(Constituent, f64)>,
    /// pH at `celsius`.
    pub ph: Option<f64>,
    /// Temperature of the sample, degC.
    pub celsius: f64,
    /// Measured conductivity at 25 degC, S/m.
    pub conductivity: Option<f64>,
    /// Phenolphthalein alkalinity, eq/kg; a check.
    pub p_alkalinity: Option<f64>,
    /// The ion that makes up for what was not analysed.
    pub balance_with: Option<BalanceWith>,
    /// Calcium's part of a hardness beside which neither calcium nor magnesium stands.
    pub calcium_of_hardness: Option<f64>,
    /// Where neither sodium nor sulfate was analysed: sulfate's part, in equivalents, of the anions that complete
    /// the analysis beside sodium.
    pub sulfate_of_missing: Option<f64>,
}

/// What an analysis was completed from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CompletedFrom {
    /// As many ions as carry the measured conductivity, with the charges in balance.
    Conductivity,
    /// The fewest that bring the charges into balance.
    Charges,
}

/// An analysis as a whole water.
#[derive(Debug, Clone, PartialEq)]
pub struct CompletedWater {
    /// What it is made of.
    pub water: Composition,
    /// Ions that were made up, with mol/kg.
    pub made_up: Vec<(Constituent, f64)>,
    /// How, where the file does not name one ion for it.
    pub from: Option<CompletedFrom>,
}

impl CompletedWater {
    /// What was made up, eq/kg.
    pub fn made_up_equivalents(&self) -> f64 {
        self.made_up.iter().map(|(ion, moles)| ion.facts().equivalents * moles.abs()).sum()
    }
}

/// Cations against anions of an analysis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IonBalance {
    /// eq/kg.
    pub cations: f64,
    /// eq/kg, alkalinity included.
    pub anions: f64,
}

impl IonBalance {
    /// Difference over sum: Standard Methods 1030 E (form from memory).
    pub fn error(&self) -> f64 {
        (self.cations - self.anions) / (self.cations + self.anions)
    }
}

/// pH of a makeup that nobody measured (common practice: that of mains).
pub(super) const UNKNOWN_PH: f64 = 7.5;

/// Salt, eq/kg, with which a water conducts what was measured, S/m; none where it conducts more without any. A secant,
/// because conductivity is all but straight in the salt; `None` where it does not close in.
fn salt_that_conducts(measured: f64, conducts: impl Fn(f64) -> Option<f64>) -> Option<f64> {
    /// S/m of a strong electrolyte, eq/kg: 120 S cm2/eq, that of sodium with chloride or sulfate (from memory).
    const EQUIVALENT_CONDUCTIVITY: f64 = 12.0;
    const MOST_PASSES: usize = 30;
    let mut before = (0.0, conducts(0.0)?);
    let mut salt = (measured - before.1) / EQUIVALENT_CONDUCTIVITY;
    if salt <= 0.0 {
        return Some(0.0);
    }
    for _ in 0..MOST_PASSES {
        let now = conducts(salt)?;
        if (now - measured).abs() <= 1e-9 * measured {
            return Some(salt);
        }
        let slope = (now - before.1) / (salt - before.0);
        before = (salt, now);
        salt = (salt + (measured - now) / slope).max(0.0);
    }
    None
}

/// What leaves a water that is dried at 180 degC, mg/L: two bicarbonates become a carbonate, carbon dioxide and water
/// (Standard Methods 1030 E and 2540 C: of bicarbonate 0.49 stays, from memory).
fn lost_in_drying(water: &Composition) -> f64 {
    let (bicarbonate, carbonate) = (Basis::Bicarbonate.molar_mass(), Basis::Carbonate.molar_mass());
    1e3 * water.alkalinity.max(0.0) * (bicarbonate - 0.5 * carbonate)
}

/// Sum of the ions with alkalinity as bicarbonate and silica as SiO2, mg/L.
pub fn ions_milligram_per_litre(water: &Composition) -> f64 {
    let parts = [
        Constituent::Calcium,
        Constituent::Magnesium,
        Constituent::Sodium,
        Constituent::Potassium,
        Constituent::Chloride,
        Constituent::Sulfate,
        Constituent::Nitrate,
        Constituent::Fluoride,
        Constituent::Phosphate,
        Constituent::Silica,
        Constituent::Ammonia,
    ];
    let sum: f64 =
        parts.iter().filter_map(|part| Some(part.milligram_per_litre(part.of(water)?))).sum();
    sum + 1e3 * Basis::Bicarbonate.molar_mass() * water.alkalinity
}

/// What drying a water at 180 degC leaves, mg/L.
pub fn dried(water: &Composition) -> f64 {
    ions_milligram_per_litre(water) - lost_in_drying(water)
}

/// How far a total may lie from the sum of its parts, rounding in a laboratory's report included.
const TOTALS_AGREE: f64 = 0.1;

impl Analysis {
    /// mol/kg of a constituent, where it was analysed.
    pub fn get(&self, constituent: Constituent) -> Option<f64> {
        self.constituents.iter().find(|(found, _)| *found == constituent).map(|(_, moles)| *moles)
    }

    /// Cations and anions as analysed.
    ///
    /// # Errors
    /// As [`Self::composition`].
    pub fn ion_balance(&self) -> Result<IonBalance, AnalysisError> {
        let water = self.unbalanced()?;
        let charge = water.charge();
        let cations = 2.0 * (water.get(Component::Calcium) + water.get(Component::Magnesium))
            + water.get(Component::Sodium)
            + water.get(Component::Potassium)
            + water.get(Component::Ammonium);
        Ok(IonBalance { cations, anions: cations - charge })
    }

    /// What the water is made of, with the difference of cations and anions made up where the
    /// analysis says by what.
    ///
    /// # Errors
    /// [`AnalysisError`]: totals that contradict their parts, a balance that cannot be made.
    pub fn composition(&self) -> Result<Composition, AnalysisError> {
        Ok(self.completed()?.water)
    }

    /// The water with what was made up of it.
    ///
    /// # Errors
    /// As [`Self::composition`].
    pub fn completed(&self) -> Result<CompletedWater, AnalysisError> {
        let mut water = self.unbalanced()?;
        let charge = water.charge();
        let (ion, component, missing) = match (self.balance_with, self.sulfate_of_missing) {
            (Some(BalanceWith::Sodium), _) => (Constituent::Sodium, Component::Sodium, -charge),
            (Some(BalanceWith::Chloride), _) => {
                (Constituent::Chloride, Component::Chloride, charge)
            }
            (Some(BalanceWith::Sulfate), _) => {
                (Constituent::Sulfate, Component::Sulfate, 0.5 * charge)
            }
            (None, Some(sulfate)) => return Ok(self.with_salts(water, sulfate)),
            (None, None) => return Ok(CompletedWater { water, made_up: Vec::new(), from: None }),
        };
        let total = water.get(component) + missing;
        if total < 0.0 {
            return Err(AnalysisError::WrongBalance { excess_meq_per_litre: 1e3 * charge.abs() });
        }
        water.set(component, total);
        Ok(CompletedWater { water, made_up: vec![(ion, missing)], from: None })
    }

    /// The water of a field kit, without sodium and sulfate, completed by them, and by chloride where that was
    /// not analysed either: so much that the charges balance, and beyond that so much that it conducts what was
    /// measured.
    fn with_salts(&self, water: Composition, sulfate: f64) -> CompletedWater {
        let charge = water.charge();
        // A chloride that was found is no unknown: then all that is missing is sulfate.
        let chloride_is_known = self.get(Constituent::Chloride).is_some();
        let sulfate = if chloride_is_known { 1.0 } else { sulfate };
        let made_up = |salt: f64| {
            let anions = charge.max(0.0) + salt;
            let cations = (-charge).max(0.0) + salt;
            [
                (Constituent::Sodium, Component::Sodium, cations),
                (Constituent::Chloride, Component::Chloride, (1.0 - sulfate) * anions),
                (Constituent::Sulfate, Component::Sulfate, 0.5 * sulfate * anions),
            ]
        };
        let with = |salt: f64| {
            let mut completed = water;
            for (_, component, moles) in made_up(salt) {
                completed.set(component, completed.get(component) + moles);
            }
            completed
        };
        let conducts = |salt: f64| {
            let acidity = Acidity::Ph(self.ph.unwrap_or(UNKNOWN_PH));
            let constants = Constants::at(25.0).ok()?;
            Some(speciation::solve(&with(salt), acidity, &constants).ok()?.conductivity())
        };
        let salt = self.conductivity.and_then(|measured| salt_that_conducts(measured, conducts));
        let amount = salt.unwrap_or(0.0);
        let made_up = made_up(amount).into_iter().filter(|(.., moles)| *moles > 0.0);
        CompletedWater {
            water: with(amount),
            made_up: made_up.map(|(ion, _, moles)| (ion, moles)).collect(),
            from: Some(match salt {
                Some(salt) if salt > 0.0 => CompletedFrom::Conductivity,
                _ => CompletedFrom::Charges,
            }),
        }
    }

    fn unbalanced(&self) -> Result<Composition, AnalysisError> {
        let mut water = Composition::default();
        for (constituent, moles) in &self.constituents {
            if let Some(component) = constituent.component() {
                water.set(component, *moles);
            }
        }
        self.share_hardness(&mut water)?;
        water.alkalinity = self.alkalinity()?;
        Ok(water)
    }

    /// Hardness beside one of calcium and magnesium gives the other.
    fn share_hardness(&self, water: &mut Composition) -> Result<(), AnalysisError> {
        let Some(hardness) = self.get(Constituent::Hardness) else { return Ok(()) };
        let parts = water.get(Component::Calcium) + water.get(Component::Magnesium);
        let shown = |moles| Constituent::Hardness.milligram_per_litre(moles);
        if hardness < (1.0 - TOTALS_AGREE) * parts {
            return Err(AnalysisError::HardnessBelowItsParts {
                hardness: shown(hardness),
                parts: shown(parts),
            });
        }
        let missing = (hardness - parts).max(0.0);
        match (self.get(Constituent::Calcium), self.get(Constituent::Magnesium)) {
            (Some(_), Some(_)) if missing > TOTALS_AGREE * hardness => {
                Err(AnalysisError::HardnessIsNotItsParts {
                    hardness: shown(hardness),
                    parts: shown(parts),
                })
            }
            (Some(_), None) => {
                water.set(Component::Magnesium, missing);
                Ok(())
            }
            (None, Some(_)) => {
                water.set(Component::Calcium, missing);
                Ok(())
            }
            (None, None) => {
                if let Some(part) = self.calcium_of_hardness {
                    water.set(Component::Calcium, part * hardness);
                    water.set(Component::Magnesium, (1.0 - part) * hardness);
                }
                Ok(())
            }
            _ => Ok(()),
        }
    }

    /// Total alkalinity, else what bicarbonate and carbonate make, eq/kg.
    fn alkalinity(&self) -> Result<f64, AnalysisError> {
        let (bicarbonate, carbonate) =
            (self.get(Constituent::Bicarbonate), self.get(Constituent::Carbonate));
        let parts = bicarbonate.unwrap_or(0.0) + 2.0 * carbonate.unwrap_or(0.0);
        let Some(total) = self.get(Constituent::Alkalinity) else { return Ok(parts) };
        if let Some(part) = self.p_alkalinity.filter(|part| *part > (1.0 + TOTALS_AGREE) * total) {
            let shown = |moles| Constituent::Alkalinity.milligram_per_litre(moles);
            return Err(AnalysisError::PAboveTotalAlkalinity {
                part: shown(part),
                total: shown(total),
            });
        }
        let shown = |moles| Constituent::Alkalinity.milligram_per_litre(moles);
        // Hydroxide and silicate count in the total too: only bicarbonate bounds it from both sides.
        if bicarbonate.is_some() && (total - parts).abs() > TOTALS_AGREE * total.max(parts) {
            return Err(AnalysisError::AlkalinityIsNotItsParts {
                alkalinity: shown(total),
                parts: shown(parts),
            });
        }
        Ok(total)
    }

    /// Phenolphthalein alkalinity that the measured pH leaves of the total, eq/kg: the acid that takes the water, closed,
    /// to pH 8.3; `None` without a pH, or where the water does not solve.
    pub fn p_alkalinity_of(&self, water: &Composition) -> Option<f64> {
        const END_POINT: f64 = 8.3;
        self.ph?;
        let constants = Constants::at(self.celsius).ok()?;
        let carbon = self.solve(water).ok()?.total_carbon;
        // What is left at the end point is the alkalinity of as much carbon there: a secant.
        let carbon_at = |alkalinity: f64| {
            let water = Composition { alkalinity, ..*water };
            let solved = speciation::solve(&water, Acidity::Ph(END_POINT), &constants).ok()?;
            Some(solved.total_carbon)
        };
        let at_total = carbon_at(water.alkalinity)?;
        let at_half = carbon_at(0.5 * water.alkalinity)?;
        let slope = (at_total - at_half) / (0.5 * water.alkalinity);
        Some((water.alkalinity - (water.alkalinity + (carbon - at_total) / slope)).max(0.0))
    }

    /// The water at its own pH and temperature; at pH 7.5 where none was measured.
    ///
    /// # Errors
    /// [`SpeciationError`].
    pub fn solve(&self, water: &Composition) -> Result<SolvedWater, SpeciationError> {
        let acidity = Acidity::Ph(self.ph.unwrap_or(UNKNOWN_PH));
        speciation::solve(water, acidity, &Constants::at(self.celsius)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn read(constituent: Constituent, text: &str) -> f64 {
        constituent.read(&text.parse().unwrap()).unwrap()
    }

    #[test]
    fn one_water_in_many_words() {
        for text in ["40.08 mg/L as Ca", "100.09 ppm as CaCO3", "1 mmol/L", "2 meq/L"] {
            assert_relative_eq!(read(Constituent::Calcium, text), 40.08, max_relative = 1e-12);
        }
        for text in ["100.09 mg/L as CaCO3", "122.0342 mg/L as HCO3", "2 meq/L", "2 mmol/L"] {
            assert_relative_eq!(read(Constituent::Alkalinity, text), 100.09, max_relative = 1e-9);
        }
        assert_relative_eq!(read(Constituent::Sulfate, "32.064 mg/L as S"), 96.064);
        assert_relative_eq!(read(Constituent::Silica, "1 mmol/L"), 60.0843);
        assert_relative_eq!(read(Constituent::Phosphate, "141.9476 mg/L as P2O5"), 2.0 * 94.9738);
        assert_relative_eq!(read(Constituent::Nitrate, "14.0067 mg/L as N"), 62.0067);
    }

    /// 100.09 / 40.08 and 100.09 / 2 / 35.453, by the molar masses of `quantity::Basis`.
    #[test]
    fn other_bases_are_told_by_their_factor() {
        let of = |constituent: Constituent| constituent.other_bases().collect::<Vec<_>>();
        let calcium = of(Constituent::Calcium);
        assert_eq!((calcium.len(), calcium[0].0, calcium[1].0), (2, "CaCO3", "CaO"));
        assert_relative_eq!(calcium[0].1, 100.09 / 40.08, max_relative = 1e-3);
        let chloride = of(Constituent::Chloride);
        assert_relative_eq!(chloride[1].1, 100.09 / 2.0 / 35.453, max_relative = 1e-3);
        let mut water = Composition::default();
        for constituent in Constituent::ALL {
            constituent.put(&mut water, 1e-3);
        }
        assert_eq!((water.alkalinity, water.get(Component::Silica)), (1e-3, 1e-3));
    }

    #[test]
    fn a_wrong_basis_names_the_right_ones() {
        let wrong = "12 mg/L as CaCO3".parse().unwrap();
        let error = Constituent::Silica.read(&wrong).unwrap_err().to_string();
        assert_eq!(error, "silica is not counted as \"CaCO3\"\nwrite \"as SiO2\" or \"as Si\"");
        let error = |constituent: Constituent, text: &str| {
            constituent.read(&text.parse().unwrap()).unwrap_err().to_string()
        };
        assert_eq!(
            error(Constituent::Silica, "12 mg/L"),
            "silica does not say what its mass is counted as\nwrite \"as SiO2\" or \"as Si\""
        );
        assert_eq!(
            error(Constituent::Iron, "0.2 mg/L as rust"),
            "iron is not counted as \"rust\"\nwrite \"as Fe\""
        );
    }

    fn analysis(constituents: &[(Constituent, f64)]) -> Analysis {
        Analysis { constituents: constituents.to_vec(), celsius: 20.0, ..Analysis::default() }
    }

    #[test]
    fn hardness_fills_in_magnesium_and_must_not_be_below_calcium() {
        let water = analysis(&[(Constituent::Calcium, 1e-3), (Constituent::Hardness, 1.5e-3)]);
        let magnesium = water.composition().unwrap().get(Component::Magnesium);
        assert_relative_eq!(magnesium, 0.5e-3, max_relative = 1e-9);
        let wrong = analysis(&[(Constituent::Calcium, 1e-3), (Constituent::Hardness, 0.5e-3)]);
        assert!(matches!(wrong.composition(), Err(AnalysisError::HardnessBelowItsParts { .. })));
    }

    #[test]
    fn missing_ions_are_made_up_only_when_asked_and_only_one_way() {
        let mut water = analysis(&[(Constituent::Calcium, 1e-3), (Constituent::Alkalinity, 3e-3)]);
        assert_relative_eq!(water.ion_balance().unwrap().error(), -0.2, max_relative = 1e-9);
        assert_eq!(water.composition().unwrap().get(Component::Sodium), 0.0);
        water.balance_with = Some(BalanceWith::Sodium);
        assert_relative_eq!(
            water.composition().unwrap().get(Component::Sodium),
            1e-3,
            max_relative = 1e-9
        );
        water.balance_with = Some(BalanceWith::Chloride);
        assert!(matches!(water.composition(), Err(AnalysisError::WrongBalance { .. })));
    }

    /// Hardness 200, alkalinity 150 mg/L as CaCO3, as a field kit finds them.
    fn field_kit(conductivity: Option<f64>) -> Analysis {
        let found = [(Constituent::Hardness, 2e-3), (Constituent::Alkalinity, 3e-3)];
        Analysis {
            conductivity,
            ph: Some(7.8),
            calcium_of_hardness: Some(2.0 / 3.0),
            sulfate_of_missing: Some(0.5),
            ..analysis(&found)
        }
    }

    #[test]
    fn a_field_kit_is_completed_by_charges_and_by_conductivity() {
        let fewest = field_kit(None).completed().unwrap();
        assert_eq!(fewest.from, Some(CompletedFrom::Charges));
        assert_relative_eq!(fewest.water.get(Component::Calcium), 4e-3 / 3.0, max_relative = 1e-12);
        assert_relative_eq!(fewest.water.get(Component::Chloride), 0.5e-3, max_relative = 1e-9);
        assert_relative_eq!(fewest.water.get(Component::Sulfate), 0.25e-3, max_relative = 1e-9);
        assert_eq!(fewest.water.get(Component::Sodium), 0.0);
        let saltier = field_kit(Some(0.06));
        let completed = saltier.completed().unwrap();
        assert_eq!(completed.from, Some(CompletedFrom::Conductivity));
        assert_relative_eq!(completed.water.charge(), 0.0, epsilon = 1e-12);
        let at_25 = Analysis { celsius: 25.0, ..saltier }.solve(&completed.water).unwrap();
        assert_relative_eq!(at_25.conductivity(), 0.06, max_relative = 1e-6);
        // A conductivity below that of what was found adds nothing.
        let weak = field_kit(Some(0.01)).completed().unwrap();
        assert_eq!(weak, fewest);
    }

    #[test]
    fn softened_water_holds_sodium_alone() {
        let soft = [(Constituent::Hardness, 0.0), (Constituent::Alkalinity, 3e-3)];
        let softened = Analysis { constituents: soft.to_vec(), ..field_kit(Some(0.06)) };
        let completed = softened.completed().unwrap();
        assert_eq!(completed.water.get(Component::Calcium), 0.0);
        assert!(completed.water.get(Component::Sodium) > 3e-3);
    }

    #[test]
    fn a_chloride_that_was_found_stays() {
        let mut kit = field_kit(Some(0.06));
        kit.constituents.push((Constituent::Chloride, 1e-3));
        let completed = kit.completed().unwrap();
        assert_relative_eq!(completed.water.get(Component::Chloride), 1e-3, max_relative = 1e-12);
        assert!(completed.made_up.iter().all(|(ion, _)| *ion != Constituent::Chloride));
    }

    #[test]
    fn what_a_water_holds_of_each_constituent() {
        let mut water = Composition { alkalinity: 4e-3, ..Composition::default() };
        water.set(Component::Calcium, 2e-3);
        water.set(Component::Magnesium, 0.5e-3);
        water.set(Component::Chloride, 1e-3);
        assert_eq!(Constituent::Hardness.of(&water), Some(2.5e-3));
        assert_eq!(Constituent::Alkalinity.of(&water), Some(4e-3));
        assert_eq!(Constituent::Chloride.of(&water), Some(1e-3));
        assert_eq!(Constituent::Iron.of(&water), None);
    }

    #[test]
    fn three_numbers_of_hardness_must_agree() {
        let hard = |hardness| {
            let both = [(Constituent::Calcium, 1e-3), (Constituent::Magnesium, 0.5e-3)];
            analysis(&[&both[..], &[(Constituent::Hardness, hardness)]].concat()).composition()
        };
        assert!(hard(1.5e-3).is_ok() && hard(1.501e-3).is_ok());
        assert!(matches!(hard(3e-3), Err(AnalysisError::HardnessIsNotItsParts { .. })));
        let magnesium = [(Constituent::Magnesium, 0.4e-3), (Constituent::Hardness, 1.5e-3)];
        let water = analysis(&magnesium).composition().unwrap();
        assert_relative_eq!(water.get(Component::Calcium), 1.1e-3, max_relative = 1e-9);
    }

    #[test]
    fn bicarbonate_and_carbonate_make_an_alkalinity_and_must_agree_with_it() {
        let parts = [(Constituent::Bicarbonate, 3e-3), (Constituent::Carbonate, 0.2e-3)];
        let water = analysis(&parts).composition().unwrap();
        assert_relative_eq!(water.alkalinity, 3.4e-3, max_relative = 1e-12);
        let with = |total| {
            analysis(&[&parts[..], &[(Constituent::Alkalinity, total)]].concat()).composition()
        };
        assert_relative_eq!(with(3.41e-3).unwrap().alkalinity, 3.41e-3);
        assert!(matches!(with(5e-3), Err(AnalysisError::AlkalinityIsNotItsParts { .. })));
        assert!(matches!(with(2e-3), Err(AnalysisError::AlkalinityIsNotItsParts { .. })));
    }

    #[test]
    fn cations_and_anions_are_counted_by_their_charge() {
        let water = analysis(&[
            (Constituent::Calcium, 1e-3),
            (Constituent::Magnesium, 0.5e-3),
            (Constituent::Sodium, 0.7e-3),
            (Constituent::Potassium, 0.1e-3),
            (Constituent::Ammonia, 0.2e-3),
            (Constituent::Alkalinity, 2e-3),
            (Constituent::Chloride, 1.1e-3),
            (Constituent::Sulfate, 0.3e-3),
        ]);
        let balance = water.ion_balance().unwrap();
        assert_relative_eq!(balance.cations, 2.0 * 1.5e-3 + 1e-3, max_relative = 1e-12);
        assert_relative_eq!(balance.anions, 2e-3 + 1.1e-3 + 0.6e-3, max_relative = 1e-9);
    }
}
