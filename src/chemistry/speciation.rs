//! Equilibrium of a water: pH, activities, ion pairs, saturation indices, conductivity.
//!
//! Newton's method on the logarithms of the free components' activities and on the ionic strength,
//! which the activity coefficients depend on. Where its passes do not settle, `approach.rs` brings the
//! water near its equilibrium first.

mod approach;

use self::approach::Approach;
use super::species::{self, Activity, COUNT, SPECIES};
use super::{Component, Composition, Mineral};
use crate::water::{self, ZERO_CELSIUS};
use std::f64::consts::{LN_10, PI};

const COMPONENTS: usize = Component::COUNT;
const HYDROGEN: usize = Component::Hydrogen as usize;
const CARBONATE: usize = Component::Carbonate as usize;
/// Unknowns at the most: the components and the ionic strength.
const UNKNOWNS: usize = COMPONENTS + 1;

/// Newton's passes before the water is brought near its equilibrium by surer steps: those that settle
/// take 5 to 20.
pub const MOST_PASSES: usize = 40;

/// What fixes the pH.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Acidity {
    /// The pH itself; carbon dioxide follows.
    Ph(f64),
    /// Equilibrium with gas of this carbon dioxide pressure, as log10 of atm.
    CarbonDioxide(f64),
    /// Carbon in all, mol/kg: water that is heated or cooled away from air.
    TotalCarbon(f64),
    /// pH and log10 of the carbon dioxide pressure, atm: alkalinity follows, whatever the water is
    /// said to have.
    PhAndCarbonDioxide(f64, f64),
}

/// Why a water has no equilibrium.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SpeciationError {
    /// A temperature outside the range of the constants.
    #[error("water at {celsius} °C: the constants hold from 0 to 90 °C")]
    Temperature {
        /// degC
        celsius: f64,
    },
    /// A negative total, or a number that is none.
    #[error("a total of the water is negative or no number")]
    Composition,
    /// A pH outside 2 to 13, or a carbon dioxide pressure outside 1e-8 to 1 atm, or no number.
    #[error("pH or carbon dioxide out of range: pH 2 to 13, log10 of its pressure in atm -8 to 0")]
    Acidity,
    /// The alkalinity cannot be had at this pH.
    #[error("the water has no equilibrium: alkalinity and pH contradict each other")]
    Contradiction,
    /// The solver did not settle: no statement about the water.
    #[error("the equilibrium of the water was not found: the solver did not settle")]
    NotConverged,
}

/// Constants at one temperature.
#[derive(Debug, Clone, PartialEq)]
pub struct Constants {
    celsius: f64,
    /// Natural logarithms of the formation constants.
    ln_formation: [f64; COUNT],
    log10_dissolution: [f64; Mineral::ALL.len()],
    log10_carbon_dioxide: f64,
    /// Debye-Hückel A (log10) and B (1/angstrom).
    debye_hueckel: (f64, f64),
}

impl Constants {
    /// At a temperature from 0 to 90 degC.
    ///
    /// # Errors
    /// [`SpeciationError::Temperature`].
    pub fn at(celsius: f64) -> Result<Self, SpeciationError> {
        if !(0.0..=90.0).contains(&celsius) {
            return Err(SpeciationError::Temperature { celsius });
        }
        Ok(Self {
            celsius,
            ln_formation: std::array::from_fn(|j| SPECIES[j].constant.log10_at(celsius) * LN_10),
            log10_dissolution: Mineral::ALL
                .map(|mineral| mineral.dissolution().constant.log10_at(celsius)),
            log10_carbon_dioxide: species::CARBON_DIOXIDE.log10_at(celsius),
            debye_hueckel: debye_hueckel(celsius),
        })
    }

    /// The temperature, degC.
    pub fn celsius(&self) -> f64 {
        self.celsius
    }

    /// Every species with log10 of its formation constant from the components.
    pub fn formation(&self) -> impl Iterator<Item = (&'static str, f64)> {
        SPECIES.iter().zip(&self.ln_formation).map(|(species, ln)| (species.name, ln / LN_10))
    }

    /// log10 of a mineral's dissolution constant.
    pub fn dissolution(&self, mineral: Mineral) -> f64 {
        self.log10_dissolution[mineral as usize]
    }

    /// Debye and Hückel's A, (kg/mol)^0.5, and B, (kg/mol)^0.5 / angstrom.
    pub fn debye_hueckel(&self) -> (f64, f64) {
        self.debye_hueckel
    }
}

/// A and B of Debye and Hückel from the permittivity of water (Bradley and Pitzer 1979, J. Phys.
/// Chem. 83, 1599) and its density, as `phreeqc` computes them.
fn debye_hueckel(celsius: f64) -> (f64, f64) {
    const ATMOSPHERE_BAR: f64 = 1.013_25;
    const AVOGADRO: f64 = 6.022_140_76e23;
    let t = celsius + ZERO_CELSIUS;
    let at_1000_bar = 342.79 * (t * (-5.086_6e-3 + 9.469e-7 * t)).exp();
    let c = -2.052_5 + 3_115.9 / (t - 182.89);
    let b = -8_032.5 + 4.214_2e6 / t + 2.141_7 * t;
    let permittivity = at_1000_bar + c * ((b + ATMOSPHERE_BAR) / (b + 1_000.0)).ln();
    let charge_squared = 1.671_008e-3 / (permittivity * t);
    let density = water::density_kg_per_m3(celsius) / 1e3;
    let per_centimetre = (8.0 * PI * AVOGADRO * charge_squared * density / 1e3).sqrt();
    (per_centimetre * charge_squared / (2.0 * LN_10), per_centimetre / 1e8)
}

/// A water at equilibrium.
#[derive(Debug, Clone, PartialEq)]
pub struct SolvedWater {
    /// Temperature, degC.
    pub celsius: f64,
    /// pH.
    pub ph: f64,
    /// Ionic strength, mol/kg.
    pub ionic_strength: f64,
    /// Activity of water.
    pub water_activity: f64,
    /// Carbon in all, mol/kg.
    pub total_carbon: f64,
    /// log10 of the carbon dioxide pressure in equilibrium, atm.
    pub log10_carbon_dioxide: f64,
    /// Newton's passes; more than [`MOST_PASSES`] where the water had to be brought near first.
    pub passes: usize,
    molalities: [f64; COUNT],
    /// Natural logarithms of the components' activities; NaN for what the water does not hold.
    ln_activities: [f64; COMPONENTS],
    log10_dissolution: [f64; Mineral::ALL.len()],
}

impl SolvedWater {
    /// Saturation index: log10 of ion activity product over solubility product; `None` where the
    /// water lacks a part of the mineral.
    pub fn saturation_index(&self, mineral: Mineral) -> Option<f64> {
        let dissolution = mineral.dissolution();
        let product: f64 = dissolution
            .parts
            .iter()
            .map(|(part, count)| f64::from(*count) * self.ln_activities[*part as usize])
            .sum();
        let log10 = (product + dissolution.water * self.water_activity.ln()) / LN_10;
        let index = log10 - self.log10_dissolution[mineral as usize];
        index.is_finite().then_some(index)
    }

    /// Where to look for a water that holds other amounts of the same: every activity goes with its total.
    #[must_use]
    pub fn scaled(&self, from: &Composition, to: &Composition) -> Self {
        let mut scaled = self.clone();
        for component in Component::CONSERVED {
            scaled.ln_activities[component as usize] +=
                (to.get(component) / from.get(component)).ln();
        }
        scaled
    }

    /// Molality of a species such as `HCO3-`, mol/kg; `None` for an unknown name.
    pub fn molality(&self, name: &str) -> Option<f64> {
        let index = SPECIES.iter().position(|species| species.name == name)?;
        Some(self.molalities[index])
    }

    /// Sum of all species of a component, mol/kg.
    pub fn total(&self, component: Component) -> f64 {
        let of = |(species, molality): (&species::Species, &f64)| {
            let parts = species.parts.iter().filter(|(part, _)| *part == component);
            parts.map(|(_, count)| f64::from(*count)).sum::<f64>() * molality
        };
        SPECIES.iter().zip(&self.molalities).map(of).sum()
    }

    /// Alkalinity of all species, eq/kg.
    pub fn alkalinity(&self) -> f64 {
        let of = |(species, m): (&species::Species, &f64)| f64::from(species.alkalinity) * m;
        SPECIES.iter().zip(&self.molalities).map(of).sum()
    }

    /// Cations less anions over their sum, all species.
    pub fn charge_imbalance(&self) -> f64 {
        let charges = || SPECIES.iter().zip(&self.molalities).map(|(s, m)| f64::from(s.charge) * m);
        charges().sum::<f64>() / charges().map(f64::abs).sum::<f64>()
    }

    /// Electrical conductivity, S/m, of water solved at 25 degC: the ions' limiting conductances
    /// from their diffusion coefficients (Nernst-Einstein), each lowered with the ionic strength
    /// after Appelo as `phreeqc` documents it.
    pub fn conductivity(&self) -> f64 {
        const FARADAY: f64 = 96_485.332;
        const GAS_CONSTANT: f64 = 8.314_462_6;
        let t = 25.0 + ZERO_CELSIUS;
        let root = self.ionic_strength.sqrt();
        let damping = root / (1.0 + 4.73 * 0.3285 * root / (1.0 + self.ionic_strength.powf(0.75)));
        let of = |(species, molality): (&species::Species, &f64)| {
            let charge = f64::from(species.charge.abs());
            let limiting =
                charge * charge * FARADAY * FARADAY * species.diffusion * 1e-9 / (GAS_CONSTANT * t);
            limiting * molality * (-1.6 * 0.51 * charge * damping).exp()
        };
        let density = water::density_kg_per_m3(25.0);
        density * SPECIES.iter().zip(&self.molalities).map(of).sum::<f64>()
    }
}

/// Solves a water.
///
/// # Errors
/// [`SpeciationError`]: totals or pH out of range, or an alkalinity that no carbon dioxide gives at
/// this pH.
pub fn solve(
    water: &Composition,
    acidity: Acidity,
    constants: &Constants,
) -> Result<SolvedWater, SpeciationError> {
    check(water, acidity)?;
    let mut system = System::new(water, acidity, constants);
    if let Some(passes) = system.iterate() {
        return Ok(system.solved(passes));
    }
    solve_from_anywhere(System::new(water, acidity, constants))
}

/// [`solve`] from a water that is much like this one, or the same at another temperature: the same in half
/// the passes. Where it holds other amounts, `known` is best [`SolvedWater::scaled`] to them.
///
/// # Errors
/// As [`solve`].
pub fn solve_from(
    known: &SolvedWater,
    water: &Composition,
    acidity: Acidity,
    constants: &Constants,
) -> Result<SolvedWater, SpeciationError> {
    check(water, acidity)?;
    let mut system = System::new(water, acidity, constants);
    system.start_from(known);
    match system.iterate() {
        Some(passes) => Ok(system.solved(passes)),
        None => solve(water, acidity, constants),
    }
}

/// Whether a water can be asked for.
fn check(water: &Composition, acidity: Acidity) -> Result<(), SpeciationError> {
    let valid = |total: f64| (0.0..20.0).contains(&total);
    if !Component::CONSERVED.iter().all(|component| valid(water.get(*component)))
        || !(water.alkalinity.abs() < 20.0)
    {
        return Err(SpeciationError::Composition);
    }
    let in_range = match acidity {
        Acidity::Ph(ph) => (2.0..=13.0).contains(&ph),
        Acidity::CarbonDioxide(log10) => (-8.0..=0.0).contains(&log10),
        Acidity::TotalCarbon(carbon) => carbon > 0.0 && carbon < 20.0,
        Acidity::PhAndCarbonDioxide(ph, log10) => {
            (2.0..=13.0).contains(&ph) && (-8.0..=0.0).contains(&log10)
        }
    };
    if in_range { Ok(()) } else { Err(SpeciationError::Acidity) }
}

/// Newton's passes from where the approach ends.
fn solve_from_anywhere(mut system: System) -> Result<SolvedWater, SpeciationError> {
    match system.approach() {
        Approach::Near => {
            let passes = system.iterate().ok_or(SpeciationError::NotConverged)?;
            Ok(system.solved(MOST_PASSES + passes))
        }
        Approach::Contradiction => Err(SpeciationError::Contradiction),
        Approach::Lost => Err(SpeciationError::NotConverged),
    }
}

/// Components that a species is formed from, at the most, and so unknowns that it goes with.
const MOST_PARTS: usize = 3;

/// Places in the equations with whole numbers: `pairs[..count]` hold.
#[derive(Clone, Copy)]
struct Places<const MOST: usize> {
    pairs: [(u8, i8); MOST],
    count: usize,
}

impl<const MOST: usize> Places<MOST> {
    const NONE: Self = Self { pairs: [(0, 0); MOST], count: 0 };

    fn add(&mut self, place: usize, number: i8) {
        // Places are fewer than `UNKNOWNS`.
        self.pairs[self.count] = (place as u8, number);
        self.count += 1;
    }

    fn iter(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.pairs[..self.count].iter().map(|(place, number)| ((*place).into(), (*number).into()))
    }
}

/// A species that a water can hold, in its equations.
#[derive(Clone, Copy)]
struct Held {
    /// Place in [`SPECIES`].
    species: usize,
    /// Rows that it adds to, with how much a mole adds: totals and alkalinity.
    rows: Places<{ MOST_PARTS + 1 }>,
    /// Columns of the activities that it goes with, with their powers.
    columns: Places<MOST_PARTS>,
}

/// The equations of one water.
struct System<'a> {
    constants: &'a Constants,
    acidity: Acidity,
    /// Species that the water can hold.
    present: [bool; COUNT],
    /// The same, in the equations.
    held: Vec<Held>,
    /// For each component its column among the unknowns.
    column: [Option<usize>; COMPONENTS],
    /// For each component the row of the equation that its species add up to its total.
    total_row: [Option<usize>; COMPONENTS],
    /// The row of the equation that all species add up to the alkalinity.
    alkalinity_row: Option<usize>,
    /// What the rows add up to.
    targets: [f64; UNKNOWNS],
    unknowns: usize,
    /// Natural logarithms of activities.
    x: [f64; COMPONENTS],
    molalities: [f64; COUNT],
    ln_gamma: [f64; COUNT],
    /// Of the logarithms of the activity coefficients with the ionic strength.
    gamma_slope: [f64; COUNT],
    ionic_strength: f64,
    /// What the molalities give.
    strength_found: f64,
    ln_water: f64,
}

impl<'a> System<'a> {
    fn new(water: &Composition, acidity: Acidity, constants: &'a Constants) -> Self {
        let mut system = Self {
            constants,
            acidity,
            present: [false; COUNT],
            held: Vec::with_capacity(COUNT),
            column: [None; COMPONENTS],
            total_row: [None; COMPONENTS],
            alkalinity_row: None,
            targets: [0.0; UNKNOWNS],
            unknowns: 0,
            x: [f64::NEG_INFINITY; COMPONENTS],
            molalities: [0.0; COUNT],
            ln_gamma: [0.0; COUNT],
            gamma_slope: [0.0; COUNT],
            ionic_strength: 0.0,
            strength_found: 0.0,
            ln_water: 0.0,
        };
        let mut holds = [false; COMPONENTS];
        (holds[HYDROGEN], holds[CARBONATE]) = (true, true);
        let mut strength = water.alkalinity.abs();
        for component in Component::CONSERVED {
            let (index, total) = (component as usize, water.get(component));
            // Below this nothing of it matters, and logarithms lose their meaning.
            if total > 1e-15 {
                holds[index] = true;
                system.x[index] = total.ln();
                system.add_total(index, total);
                let doubly = matches!(
                    component,
                    Component::Calcium | Component::Magnesium | Component::Sulfate
                );
                strength += total * if doubly { 4.0 } else { 1.0 };
            }
        }
        system.ionic_strength = 0.5 * strength;
        match acidity {
            Acidity::Ph(_) => system.add_alkalinity(CARBONATE, water.alkalinity),
            Acidity::CarbonDioxide(_) => system.add_alkalinity(HYDROGEN, water.alkalinity),
            Acidity::TotalCarbon(carbon) => {
                system.add_alkalinity(HYDROGEN, water.alkalinity);
                system.add_total(CARBONATE, carbon);
            }
            Acidity::PhAndCarbonDioxide(..) => {}
        }
        for (j, species) in SPECIES.iter().enumerate() {
            if species.parts.iter().all(|(part, _)| holds[*part as usize]) {
                system.present[j] = true;
                system.held.push(system.places_of(j));
            }
        }
        system.guess(water.alkalinity.max(1e-6));
        system
    }

    /// A species in the equations.
    fn places_of(&self, species: usize) -> Held {
        let mut held = Held { species, rows: Places::NONE, columns: Places::NONE };
        for (part, count) in SPECIES[species].parts {
            let part = *part as usize;
            if let Some(row) = self.total_row[part] {
                held.rows.add(row, *count);
            }
            if let Some(column) = self.column[part] {
                held.columns.add(column, *count);
            } else if let (CARBONATE, Some(column)) = (part, self.column[HYDROGEN]) {
                // Under gas, carbonate goes with the inverse square of acidity.
                held.columns.add(column, -2 * *count);
            }
        }
        let alkalinity = SPECIES[species].alkalinity;
        if let Some(row) = self.alkalinity_row.filter(|_| alkalinity != 0) {
            held.rows.add(row, alkalinity);
        }
        held
    }

    /// An unknown component, with the equation that its species add up to a total.
    fn add_total(&mut self, component: usize, total: f64) {
        self.total_row[component] = Some(self.unknowns);
        self.add(component, total);
    }

    /// An unknown component, with the equation that all species add up to the alkalinity.
    fn add_alkalinity(&mut self, component: usize, alkalinity: f64) {
        self.alkalinity_row = Some(self.unknowns);
        self.add(component, alkalinity);
    }

    fn add(&mut self, component: usize, target: f64) {
        self.column[component] = Some(self.unknowns);
        self.targets[self.unknowns] = target;
        self.unknowns += 1;
    }

    /// Acidity and carbonate of a water that holds nothing but carbonate.
    fn guess(&mut self, alkalinity: f64) {
        let formation = |name: &str| {
            let index = SPECIES.iter().position(|species| species.name == name).unwrap_or(0);
            self.constants.ln_formation[index].exp()
        };
        let (bicarbonate, carbon_dioxide) = (formation("HCO3-"), formation("CO2"));
        let carbonate_at = |h: f64| alkalinity / (bicarbonate * h + 2.0);
        let (h, carbonate) = match self.acidity {
            Acidity::Ph(ph) | Acidity::PhAndCarbonDioxide(ph, _) => {
                let h = 10f64.powf(-ph);
                (h, carbonate_at(h))
            }
            Acidity::CarbonDioxide(_) => {
                let gas = self.ln_dissolved_carbon_dioxide().exp() / carbon_dioxide;
                let half = 0.5 * gas * bicarbonate / alkalinity;
                let h = half + (half * half + 2.0 * gas / alkalinity).sqrt();
                (h, gas / (h * h))
            }
            Acidity::TotalCarbon(carbon) => {
                let half =
                    0.5 * bicarbonate * (alkalinity - carbon) / (alkalinity * carbon_dioxide);
                let rest = (alkalinity - 2.0 * carbon) / (alkalinity * carbon_dioxide);
                let h = -half + (half * half - rest).max(0.0).sqrt();
                let h = h.clamp(1e-11, 1e-3);
                (h, carbonate_at(h))
            }
        };
        self.x[HYDROGEN] = h.ln();
        self.x[CARBONATE] = carbonate.ln();
        self.guess_free_forms(h);
    }

    /// Each total spread over the forms that the component has by itself at this acidity: phosphate
    /// is mostly not PO4.
    fn guess_free_forms(&mut self, h: f64) {
        let mut forms = [0.0; COMPONENTS];
        for (species, ln_formation) in SPECIES.iter().zip(&self.constants.ln_formation) {
            let (component, protons) = match species.parts {
                [(component, 1)] => (*component, 0),
                [(component, 1), (Component::Hydrogen, protons)] => (*component, *protons),
                _ => continue,
            };
            forms[component as usize] += ln_formation.exp() * h.powi(protons.into());
        }
        for component in Component::CONSERVED {
            self.x[component as usize] -= forms[component as usize].ln();
        }
    }

    /// Starts where another water is at equilibrium.
    fn start_from(&mut self, known: &SolvedWater) {
        for (component, column) in self.column.iter().enumerate() {
            let activity = known.ln_activities[component];
            if column.is_some() && activity.is_finite() {
                self.x[component] = activity;
            }
        }
        self.ionic_strength = known.ionic_strength;
        self.ln_water = known.water_activity.ln();
    }

    /// Natural logarithm of the activity of dissolved carbon dioxide under the given gas.
    fn ln_dissolved_carbon_dioxide(&self) -> f64 {
        match self.acidity {
            Acidity::CarbonDioxide(log10) | Acidity::PhAndCarbonDioxide(_, log10) => {
                (log10 + self.constants.log10_carbon_dioxide) * LN_10
            }
            _ => f64::NAN,
        }
    }

    fn carbonate_follows_gas(&self) -> bool {
        matches!(self.acidity, Acidity::CarbonDioxide(_) | Acidity::PhAndCarbonDioxide(..))
    }

    /// Carbonate from acidity where the gas fixes carbon dioxide.
    fn follow_gas(&mut self) {
        if self.carbonate_follows_gas() {
            self.x[CARBONATE] = self.ln_dissolved_carbon_dioxide() + self.ln_water
                - self.constants.ln_formation[CARBON_DIOXIDE]
                - 2.0 * self.x[HYDROGEN];
        }
    }

    /// Newton's passes; how many, or `None` where they do not settle.
    fn iterate(&mut self) -> Option<usize> {
        /// Largest step of a logarithm.
        const FARTHEST: f64 = 2.0;
        /// Newton squares the error: after a step this small some 1e-12 is left of it.
        const SETTLED: f64 = 1e-6;
        /// Largest change that is left of the logarithm of water's activity, which Newton does not
        /// see.
        const WATER_SETTLED: f64 = 1e-9;
        for pass in 1..=MOST_PASSES {
            self.activity_coefficients();
            self.follow_gas();
            let ln_water = self.ln_water;
            self.fill_molalities();
            let water_moved = self.ln_water - ln_water;
            let steps = self.newton_step()?;
            let farthest =
                steps[..self.unknowns].iter().fold(0f64, |most, step| most.max(step.abs()));
            let strength = self.ionic_strength;
            let change = steps[self.unknowns];
            if !(farthest.is_finite() && change.is_finite()) {
                return None;
            }
            for (component, column) in self.column.iter().enumerate() {
                if let Some(column) = column {
                    self.x[component] += steps[*column].clamp(-FARTHEST, FARTHEST);
                }
            }
            self.ionic_strength = (strength + change).clamp(0.5 * strength, 2.0 * strength);
            let is_settled = farthest < SETTLED && change.abs() < SETTLED * strength;
            if is_settled && water_moved.abs() < WATER_SETTLED {
                self.activity_coefficients();
                self.follow_gas();
                self.fill_molalities();
                return Some(pass);
            }
        }
        None
    }

    /// Activity coefficients at the present ionic strength, with their slopes.
    fn activity_coefficients(&mut self) {
        let (a, b) = self.constants.debye_hueckel;
        let strength = self.ionic_strength;
        let root = strength.sqrt();
        let half_slope = a / (2.0 * root);
        let davies_below = 1.0 / (1.0 + root);
        // For a charge of one, in log10.
        let davies = (
            -a * (root * davies_below - 0.3 * strength),
            -half_slope * davies_below * davies_below + 0.3 * a,
        );
        for held in &self.held {
            let species = &SPECIES[held.species];
            let squared = f64::from(species.charge * species.charge);
            let (log10, slope) = match species.activity {
                Activity::Wateq(size, linear) => {
                    let below = 1.0 / (1.0 + b * size * root);
                    (
                        -a * squared * root * below + linear * strength,
                        -half_slope * squared * below * below + linear,
                    )
                }
                Activity::Davies => (squared * davies.0, squared * davies.1),
                Activity::Neutral => (0.1 * strength, 0.1),
            };
            self.ln_gamma[held.species] = log10 * LN_10;
            self.gamma_slope[held.species] = slope * LN_10;
        }
    }

    fn fill_molalities(&mut self) {
        let (mut strength, mut sum) = (0.0, 0.0);
        for Held { species: j, .. } in &self.held {
            let (j, species) = (*j, &SPECIES[*j]);
            let mut ln = self.constants.ln_formation[j] - self.ln_gamma[j]
                + f64::from(species.water) * self.ln_water;
            for (part, count) in species.parts {
                ln += f64::from(*count) * self.x[*part as usize];
            }
            let molality = ln.exp();
            self.molalities[j] = molality;
            strength += f64::from(species.charge * species.charge) * molality;
            sum += molality;
        }
        self.strength_found = 0.5 * strength;
        self.ln_water = (1.0 - 0.017 * sum).max(0.5).ln();
    }

    /// The step of every unknown, that of the ionic strength last.
    fn newton_step(&self) -> Option<[f64; UNKNOWNS]> {
        let n = self.unknowns;
        let mut matrix = [[0.0; UNKNOWNS]; UNKNOWNS];
        let mut residual = self.targets;
        residual[n] = self.strength_found - self.ionic_strength;
        matrix[n][n] = 1.0;
        for Held { species: j, rows, columns } in &self.held {
            let molality = self.molalities[*j];
            let with_strength = self.gamma_slope[*j];
            let mut add_slopes = |row: usize, weighed: f64| {
                for (column, power) in columns.iter() {
                    matrix[row][column] += weighed * power;
                }
                matrix[row][n] -= weighed * with_strength;
            };
            for (row, weight) in rows.iter() {
                residual[row] -= weight * molality;
                add_slopes(row, weight * molality);
            }
            let charge = SPECIES[*j].charge;
            if charge != 0 {
                add_slopes(n, -0.5 * f64::from(charge * charge) * molality);
            }
        }
        eliminate(&mut matrix, residual, n + 1)
    }

    fn solved(&self, passes: usize) -> SolvedWater {
        let carbon_dioxide = self.constants.ln_formation[CARBON_DIOXIDE]
            + self.x[CARBONATE]
            + 2.0 * self.x[HYDROGEN]
            - self.ln_water;
        let mut solved = SolvedWater {
            celsius: self.constants.celsius,
            ph: -self.x[HYDROGEN] / LN_10,
            ionic_strength: self.ionic_strength,
            water_activity: self.ln_water.exp(),
            total_carbon: 0.0,
            log10_carbon_dioxide: carbon_dioxide / LN_10 - self.constants.log10_carbon_dioxide,
            passes,
            molalities: self.molalities,
            ln_activities: self.x,
            log10_dissolution: self.constants.log10_dissolution,
        };
        solved.total_carbon = solved.total(Component::Carbonate);
        solved
    }
}

/// Place of dissolved carbon dioxide in [`SPECIES`].
const CARBON_DIOXIDE: usize = {
    let mut index = 0;
    while SPECIES[index].name.len() != 3
        || SPECIES[index].name.as_bytes()[0] != b'C'
        || SPECIES[index].name.as_bytes()[2] != b'2'
        || SPECIES[index].name.as_bytes()[1] != b'O'
    {
        index += 1;
    }
    index
};

/// Gauss's elimination with row pivots; `None` for a singular matrix.
fn eliminate(
    matrix: &mut [[f64; UNKNOWNS]; UNKNOWNS],
    mut right: [f64; UNKNOWNS],
    n: usize,
) -> Option<[f64; UNKNOWNS]> {
    for column in 0..n {
        let pivot = (column..n)
            .max_by(|a, b| matrix[*a][column].abs().total_cmp(&matrix[*b][column].abs()))?;
        if !(matrix[pivot][column].abs() > 0.0) {
            return None;
        }
        matrix.swap(column, pivot);
        right.swap(column, pivot);
        for row in column + 1..n {
            let (above, below) = matrix.split_at_mut(row);
            let (pivot, line) = (&above[column], &mut below[0]);
            let factor = line[column] / pivot[column];
            if factor != 0.0 {
                // Whole rows, of a length that is known, are quicker than the part that counts.
                for (entry, pivot) in line.iter_mut().zip(pivot) {
                    *entry -= factor * pivot;
                }
                right[row] -= factor * right[column];
            }
        }
    }
    let mut solution = [0.0; UNKNOWNS];
    for row in (0..n).rev() {
        let sum: f64 = (row + 1..n).map(|k| matrix[row][k] * solution[k]).sum();
        solution[row] = (right[row] - sum) / matrix[row][row];
    }
    Some(solution)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;
    use proptest::test_runner::TestRunner;

    const ORDINARY: [f64; 11] = [2e-3, 1e-3, 1e-3, 1e-4, 1e-3, 1e-3, 0.0, 0.0, 0.0, 2e-4, 0.0];

    fn water(totals: [f64; 11], alkalinity: f64) -> Composition {
        let mut water = Composition::default();
        for (component, total) in Component::CONSERVED.into_iter().zip(totals) {
            water.set(component, total);
        }
        water.alkalinity = alkalinity;
        let charge = water.charge();
        if charge < 0.0 {
            water.set(Component::Sodium, water.get(Component::Sodium) - charge);
        } else {
            water.set(Component::Chloride, water.get(Component::Chloride) + charge);
        }
        water
    }

    #[test]
    fn heating_closed_water_keeps_its_carbon() {
        let water = water(ORDINARY, 4e-3);
        let bulk =
            solve(&water, Acidity::CarbonDioxide(-3.0), &Constants::at(35.0).unwrap()).unwrap();
        let skin =
            solve(&water, Acidity::TotalCarbon(bulk.total_carbon), &Constants::at(55.0).unwrap())
                .unwrap();
        assert_relative_eq!(skin.total_carbon, bulk.total_carbon, max_relative = 1e-9);
        assert!(skin.ph < bulk.ph);
        assert!(skin.log10_carbon_dioxide > -3.0);
    }

    /// Where the passes start is no matter but for how many there are.
    #[test]
    fn a_water_known_at_another_temperature_is_the_same_water() {
        let strong = [1e-2, 2e-2, 0.15, 2e-3, 0.1, 3e-2, 2e-3, 5e-4, 1e-3, 2e-3, 1e-3];
        for (totals, alkalinity) in [(ORDINARY, 4e-3), (ORDINARY, 3e-4), (strong, 8e-3)] {
            let water = water(totals, alkalinity);
            let gas = Acidity::CarbonDioxide(-3.2);
            let basin = solve(&water, gas, &Constants::at(28.0).unwrap()).unwrap();
            let closed = Acidity::TotalCarbon(basin.total_carbon);
            for celsius in [5.0, 25.0, 48.0, 80.0] {
                let constants = Constants::at(celsius).unwrap();
                let afresh = solve(&water, closed, &constants).unwrap();
                let from = solve_from(&basin, &water, closed, &constants).unwrap();
                assert_relative_eq!(from.ph, afresh.ph, max_relative = 1e-10);
                assert_relative_eq!(
                    from.conductivity(),
                    afresh.conductivity(),
                    max_relative = 1e-10
                );
                assert!(from.passes <= afresh.passes, "{} {}", from.passes, afresh.passes);
            }
        }
    }

    #[test]
    fn a_solved_ph_gives_back_its_carbon_dioxide() {
        let water = water(ORDINARY, 4e-3);
        let constants = Constants::at(30.0).unwrap();
        let gas = solve(&water, Acidity::CarbonDioxide(-2.7), &constants).unwrap();
        let ph = solve(&water, Acidity::Ph(gas.ph), &constants).unwrap();
        assert_relative_eq!(ph.log10_carbon_dioxide, -2.7, epsilon = 1e-8);
    }

    /// A of 0.509 and B of 0.328 at 25 degC (Stumm and Morgan 1996, from memory).
    #[test]
    fn debye_and_hueckels_constants_are_those_of_handbooks() {
        let (a, b) = Constants::at(25.0).unwrap().debye_hueckel();
        assert_relative_eq!(a, 0.509, epsilon = 1.5e-3);
        assert_relative_eq!(b, 0.328, epsilon = 1.5e-3);
    }

    #[test]
    fn species_are_asked_for_by_name() {
        let water = water(ORDINARY, 4e-3);
        let solved = solve(&water, Acidity::Ph(8.0), &Constants::at(25.0).unwrap()).unwrap();
        // Most of the alkalinity of such a water is bicarbonate; its chloride is free.
        let bicarbonate = solved.molality("HCO3-").unwrap();
        assert!((3.4e-3..4e-3).contains(&bicarbonate), "{bicarbonate}");
        let chloride = water.get(Component::Chloride);
        assert_relative_eq!(solved.molality("Cl-").unwrap(), chloride, max_relative = 1e-9);
        assert_eq!(solved.molality("X"), None);
    }

    #[test]
    fn what_is_no_water_is_refused() {
        let constants = Constants::at(25.0).unwrap();
        let good = water([1e-3; 11], 2e-3);
        for bad in [Acidity::Ph(f64::NAN), Acidity::Ph(1.0), Acidity::CarbonDioxide(1.0)] {
            assert_eq!(solve(&good, bad, &constants), Err(SpeciationError::Acidity));
        }
        let mut negative = good;
        negative.set(Component::Calcium, -1e-3);
        let ph = Acidity::Ph(8.0);
        assert_eq!(solve(&negative, ph, &constants), Err(SpeciationError::Composition));
        assert!(Constants::at(95.0).is_err() && Constants::at(f64::NAN).is_err());
        // No carbon dioxide brings an alkaline water of pH 5 to no alkalinity at all.
        let acid = Composition { alkalinity: -1e-3, ..good };
        assert_eq!(solve(&acid, Acidity::Ph(8.0), &constants), Err(SpeciationError::Contradiction));
    }

    /// A start near the answer: some few passes whatever is known of the acidity.
    #[test]
    fn newton_starts_near() {
        let constants = Constants::at(25.0).unwrap();
        for alkalinity in [5e-4, 4e-3, 1e-2] {
            let water = water(ORDINARY, alkalinity);
            let gas = solve(&water, Acidity::CarbonDioxide(-3.0), &constants).unwrap();
            let ph = solve(&water, Acidity::Ph(gas.ph), &constants).unwrap();
            let carbon = Acidity::TotalCarbon(gas.total_carbon);
            let closed = solve(&water, carbon, &constants).unwrap();
            for solved in [gas, ph, closed] {
                assert!(solved.passes <= 7, "{}", solved.passes);
            }
        }
    }

    /// In strong water the activity coefficients move with every pass: Newton squares the error only
    /// with their slopes.
    #[test]
    fn newton_settles_as_fast_in_strong_water() {
        let strong = [1e-2, 2e-2, 0.15, 2e-3, 0.1, 3e-2, 2e-3, 5e-4, 1e-3, 2e-3, 1e-3];
        for celsius in [10.0, 25.0, 50.0] {
            let constants = Constants::at(celsius).unwrap();
            let water = water(strong, 8e-3);
            let gas = solve(&water, Acidity::CarbonDioxide(-3.0), &constants).unwrap();
            let ph = solve(&water, Acidity::Ph(gas.ph), &constants).unwrap();
            assert!(gas.passes <= 10 && ph.passes <= 10, "{} {}", gas.passes, ph.passes);
        }
    }

    #[test]
    fn an_imbalance_of_charges_is_their_difference_over_their_sum() {
        let mut water = water(ORDINARY, 4e-3);
        water.set(Component::Sodium, water.get(Component::Sodium) + 2e-3);
        let constants = Constants::at(25.0).unwrap();
        let solved = solve(&water, Acidity::Ph(8.0), &constants).unwrap();
        // By the analysis, whose ions partly pair to uncharged ones.
        let eq = |component, charge: f64| charge * water.get(component);
        let cations = eq(Component::Calcium, 2.0)
            + eq(Component::Magnesium, 2.0)
            + eq(Component::Sodium, 1.0)
            + eq(Component::Potassium, 1.0);
        let anions = eq(Component::Chloride, 1.0) + eq(Component::Sulfate, 2.0) + water.alkalinity;
        let expected = (cations - anions) / (cations + anions);
        assert!(expected > 0.1);
        assert_relative_eq!(solved.charge_imbalance(), expected, max_relative = 0.1);
    }

    /// A makeup of ordinary amounts, mol/kg, its cycles, its temperature, and its acidity.
    type RandomWater = ([f64; 11], f64, f64, f64, Acidity);

    /// Totals, alkalinity, cycles, temperature and what fixes the pH; ionic strength up to 0.5 as
    /// analysed.
    fn random_waters() -> impl Strategy<Value = RandomWater> {
        let amount = |least: f64, most: f64, share: f64| {
            let some = (least.ln()..most.ln()).prop_map(f64::exp);
            proptest::option::weighted(share, some).prop_map(Option::unwrap_or_default)
        };
        let totals = [
            amount(5e-5, 6e-3, 0.99),
            amount(2e-5, 4e-3, 0.99),
            amount(5e-5, 1e-2, 0.99),
            amount(1e-5, 1e-3, 0.7),
            amount(5e-5, 1e-2, 0.99),
            amount(2e-5, 8e-3, 0.95),
            amount(1e-5, 2e-3, 0.6),
            amount(1e-6, 2e-4, 0.5),
            amount(1e-6, 2e-3, 0.5),
            amount(2e-5, 3e-3, 0.9),
            amount(1e-6, 6e-4, 0.6),
        ];
        let acidity = prop_oneof![
            (6.0..9.5).prop_map(Acidity::Ph),
            (-4.0..-1.5).prop_map(Acidity::CarbonDioxide),
        ];
        let alkalinity = (1e-4_f64.ln()..8e-3_f64.ln()).prop_map(f64::exp);
        (totals, alkalinity, 1.0..15.0, 0.0..60.0, acidity)
            .prop_filter("ionic strength up to 0.5", |water| strength_as_analysed(water) <= 0.5)
    }

    fn strength_as_analysed((totals, alkalinity, cycles, ..): &RandomWater) -> f64 {
        let made = water(*totals, *alkalinity);
        let of = |charge: f64, component| charge * charge * made.get(component);
        let sum: f64 = Component::CONSERVED
            .into_iter()
            .map(|component| match component {
                Component::Silica => 0.0,
                Component::Calcium | Component::Magnesium | Component::Sulfate => {
                    of(2.0, component)
                }
                _ => of(1.0, component),
            })
            .sum();
        0.5 * cycles * (sum + alkalinity)
    }

    /// What a solved water leaves of its own balances, as a part of each.
    fn left(solved: &SolvedWater, water: &Composition) -> f64 {
        let part = |found: f64, total: f64| ((found - total) / total).abs();
        Component::CONSERVED
            .into_iter()
            .filter(|component| water.get(*component) > 0.0)
            .map(|component| part(solved.total(component), water.get(component)))
            .chain([part(solved.alkalinity(), water.alkalinity), solved.charge_imbalance().abs()])
            .fold(0.0, f64::max)
    }

    /// Solves a random water, and the same closed in two colder and hotter places; what all of them
    /// leave of their balances.
    fn solve_random(random: RandomWater) -> Result<(), TestCaseError> {
        let (totals, alkalinity, cycles, celsius, acidity) = random;
        let water = water(totals, alkalinity).concentrated(cycles);
        let constants = Constants::at(celsius).unwrap();
        let solved = match (solve(&water, acidity, &constants), acidity) {
            (Err(SpeciationError::Contradiction), Acidity::Ph(ph)) => {
                // Right only if it has too much alkalinity at this pH with next to no carbonate.
                let without = Acidity::PhAndCarbonDioxide(ph, -8.0);
                let without = solve(&water, without, &constants).unwrap();
                prop_assert!(without.alkalinity() > water.alkalinity);
                return Ok(());
            }
            (solved, _) => solved.map_err(|error| TestCaseError::fail(error.to_string()))?,
        };
        prop_assert!(left(&solved, &water) < 1e-7);
        for celsius in [25.0, 60.0] {
            let closed = Acidity::TotalCarbon(solved.total_carbon);
            let found = solve(&water, closed, &Constants::at(celsius).unwrap())
                .map_err(|error| TestCaseError::fail(format!("closed at {celsius}: {error}")))?;
            prop_assert!(left(&found, &water) < 1e-7);
            let carbon = found.total(Component::Carbonate);
            prop_assert!((carbon / solved.total_carbon - 1.0).abs() < 1e-7);
        }
        Ok(())
    }

    fn solve_randoms(cases: u32) {
        let config =
            ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(cases) };
        TestRunner::new(config).run(&random_waters(), solve_random).unwrap();
    }

    #[test]
    fn ordinary_waters_of_many_kinds_are_solved() {
        solve_randoms(2_000);
    }

    #[test]
    #[ignore = "a minute or two"]
    fn a_hundred_thousand_waters_are_solved() {
        solve_randoms(100_000);
    }

    /// From far off, where Newton's plain passes diverge, the surer steps come to the same water.
    #[test]
    fn the_start_does_not_matter() {
        let water = water([1e-2, 8e-3, 0.05, 2e-3, 0.03, 2e-2, 2e-3, 5e-4, 1e-3, 2e-3, 1e-3], 8e-3);
        let constants = Constants::at(35.0).unwrap();
        let gas = Acidity::CarbonDioxide(-3.0);
        let expected = solve(&water, gas, &constants).unwrap();
        let others = [
            Acidity::Ph(expected.ph),
            Acidity::TotalCarbon(expected.total_carbon),
            Acidity::PhAndCarbonDioxide(expected.ph, -3.0),
        ];
        let mut diverged = 0;
        for acidity in [gas].into_iter().chain(others) {
            for off in [-12.0, -6.0, 0.0, 6.0, 12.0] {
                for factor in [0.01, 1.0, 20.0] {
                    let start = || {
                        let mut system = System::new(&water, acidity, &constants);
                        for (component, x) in system.x.iter_mut().enumerate() {
                            // What is given stays; the others go either way.
                            if system.column[component].is_some() {
                                *x += if component % 2 == 0 { off } else { -off };
                            }
                        }
                        system.ionic_strength *= factor;
                        system
                    };
                    diverged += usize::from(start().iterate().is_none());
                    let found = solve_from_anywhere(start()).unwrap();
                    assert_relative_eq!(found.ph, expected.ph, max_relative = 1e-7);
                    let strength = expected.ionic_strength;
                    assert_relative_eq!(found.ionic_strength, strength, max_relative = 1e-6);
                }
            }
        }
        assert!(diverged > 0);
    }

    fn amounts() -> impl Strategy<Value = [f64; 11]> {
        let amount = |least: f64, most: f64| {
            prop_oneof![
                4 => (least.ln()..most.ln()).prop_map(f64::exp),
                1 => Just(0.0),
            ]
        };
        [
            amount(1e-6, 0.02),
            amount(1e-6, 0.02),
            amount(1e-6, 0.1),
            amount(1e-6, 0.02),
            amount(1e-6, 0.1),
            amount(1e-6, 0.03),
            amount(1e-6, 0.01),
            amount(1e-6, 1e-3),
            amount(1e-6, 5e-3),
            amount(1e-6, 5e-3),
            amount(1e-6, 1e-3),
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2_000))]

        #[test]
        fn any_water_under_gas_is_solved_and_conserved(
            totals in amounts(),
            ln_alkalinity in 1e-4_f64.ln()..0.03_f64.ln(),
            gas in -4.0..-1.5_f64,
            celsius in 5.0..60.0_f64,
        ) {
            let water = water(totals, ln_alkalinity.exp());
            let constants = Constants::at(celsius).unwrap();
            let solved = solve(&water, Acidity::CarbonDioxide(gas), &constants).unwrap();
            prop_assert!(solved.charge_imbalance().abs() < 1e-8);
            prop_assert!((solved.alkalinity() / water.alkalinity - 1.0).abs() < 1e-8);
            for component in Component::CONSERVED {
                let total = water.get(component);
                prop_assert!((solved.total(component) - total).abs() <= 1e-8 * total);
            }
            // Its pH, and its carbon, lead to the same water.
            for acidity in [Acidity::Ph(solved.ph), Acidity::TotalCarbon(solved.total_carbon)] {
                let again = solve(&water, acidity, &constants).unwrap();
                prop_assert!((again.ph - solved.ph).abs() < 1e-6, "{acidity:?}");
                prop_assert!((again.log10_carbon_dioxide - gas).abs() < 1e-6, "{acidity:?}");
            }
        }
    }
}
