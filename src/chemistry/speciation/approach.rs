//! What brings a water near its equilibrium from anywhere, where Newton's plain passes do not settle.
//!
//! At a given ionic strength the totals are met where a convex function of the logarithms of
//! activities is least: the sum of all molalities less that of every total times its logarithm (the
//! dual of the free energy; White, Johnson and Dantzig 1958, J. Chem. Phys. 28, 751, citation from
//! memory). Newton's steps that go no farther than this function falls cannot miss it. The ionic
//! strength, and at a given pH the carbonate, are each a root of one number around that.

use super::{CARBONATE, COMPONENTS, HYDROGEN, SPECIES, System, UNKNOWNS, eliminate};
use crate::chemistry::Component;
use crate::root::{self, Root};

/// How near to the equilibrium the approach ends, of a logarithm: Newton's passes do the rest.
const NEAR: f64 = 1e-6;

/// What the approach found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Approach {
    /// The system stands near its equilibrium.
    Near,
    /// No carbonate gives the alkalinity at this pH.
    Contradiction,
    /// It did not settle.
    Lost,
}

impl System<'_> {
    /// Moves to near the equilibrium from any start.
    pub(super) fn approach(&mut self) -> Approach {
        /// Natural logarithms of ionic strengths, mol/kg: below pure water, above any brine.
        const RANGE: (f64, f64) = (-18.0, 4.0);
        // The activity of water hardly moves: Newton's passes after this see to it.
        let ln_water = self.ln_water_of_totals();
        let guess = self.ionic_strength.ln();
        let mut found = Approach::Near;
        let excess = |ln_strength: f64| {
            self.ionic_strength = ln_strength.exp();
            self.activity_coefficients();
            found = self.meet_alkalinity(ln_water);
            if found == Approach::Lost { f64::NAN } else { self.strength_found.ln() - ln_strength }
        };
        match root::near(excess, (guess, 0.3), RANGE, NEAR) {
            Root::At(_) => found,
            _ => Approach::Lost,
        }
    }

    fn ln_water_of_totals(&self) -> f64 {
        let rows = Component::CONSERVED.iter().filter_map(|known| self.total_row[*known as usize]);
        (1.0 - 0.017 * rows.map(|row| self.targets[row]).sum::<f64>()).max(0.5).ln()
    }

    /// Meets the totals and the alkalinity at the present ionic strength.
    fn meet_alkalinity(&mut self, ln_water: f64) -> Approach {
        /// How far the logarithm of carbonate's activity may move from its present place.
        const FARTHEST: f64 = 60.0;
        let (Some(row), Some(_)) = (self.alkalinity_row, self.column[CARBONATE]) else {
            return self.meet_totals(ln_water);
        };
        if self.column[HYDROGEN].is_some() {
            return self.meet_totals(ln_water);
        }
        // At a given pH more carbonate is more alkalinity.
        let carbonate = self.x[CARBONATE];
        let alkalinity = self.targets[row];
        let scale = alkalinity.abs().max(1e-6);
        let mut is_lost = false;
        let missing = |at: f64| {
            self.x[CARBONATE] = at;
            is_lost |= self.meet_totals(ln_water) == Approach::Lost;
            (alkalinity - self.alkalinity_found()) / scale
        };
        let range = (carbonate - FARTHEST, carbonate + FARTHEST);
        let found = root::near(missing, (carbonate, 1.0), range, NEAR);
        match found {
            _ if is_lost => Approach::Lost,
            Root::At(_) => Approach::Near,
            Root::BelowRange | Root::AboveRange => Approach::Contradiction,
        }
    }

    fn alkalinity_found(&self) -> f64 {
        let of = |(species, molality): (&crate::chemistry::species::Species, &f64)| {
            f64::from(species.alkalinity) * molality
        };
        SPECIES.iter().zip(&self.molalities).map(of).sum()
    }

    /// Meets the totals, and that of hydrogen where its activity is unknown, at the present ionic
    /// strength.
    fn meet_totals(&mut self, ln_water: f64) -> Approach {
        const MOST_PASSES: usize = 500;
        /// Largest step of a logarithm.
        const FARTHEST: f64 = 3.0;
        /// Steps this small need no watching.
        const SAFE: f64 = 0.1;
        /// Part of the fall that the slope promises which a step must bring (Armijo).
        const ENOUGH: f64 = 1e-4;
        let convex = Convex::of(self);
        let mut merit = convex.merit(self, ln_water);
        for _ in 0..MOST_PASSES {
            let Some((steps, slope)) = convex.newton_step(self) else { return Approach::Lost };
            let farthest = steps.iter().fold(0f64, |most, step| most.max(step.abs()));
            if !farthest.is_finite() {
                return Approach::Lost;
            }
            let from = self.x;
            let mut part = (FARTHEST / farthest).min(1.0);
            loop {
                for (component, step) in steps.iter().enumerate() {
                    self.x[component] = from[component] + part * step;
                }
                let after = convex.merit(self, ln_water);
                if farthest < SAFE || after <= merit - ENOUGH * part * slope {
                    merit = after;
                    break;
                }
                part *= 0.5;
                if part < 1e-9 {
                    return Approach::Lost;
                }
            }
            if farthest < NEAR {
                return Approach::Near;
            }
        }
        Approach::Lost
    }
}

/// The convex problem of one water at one ionic strength.
struct Convex {
    /// For each component whose activity is sought its total; for hydrogen that of its atoms over
    /// those of the forms that carry no alkalinity.
    totals: [Option<f64>; COMPONENTS],
    /// Whether carbonate goes with the inverse square of acidity.
    follows_gas: bool,
}

impl Convex {
    fn of(system: &System) -> Self {
        let mut totals = [None; COMPONENTS];
        for (total, row) in totals.iter_mut().zip(system.total_row) {
            *total = row.map(|row| system.targets[row]);
        }
        let follows_gas = system.carbonate_follows_gas();
        if let (Some(row), Some(_)) = (system.alkalinity_row, system.column[HYDROGEN]) {
            // The alkalinity of a species is two for each carbonate and phosphate less its hydrogen.
            let twice = [Component::Carbonate, Component::Phosphate];
            let bases: f64 = twice.iter().filter_map(|base| totals[*base as usize]).sum();
            totals[HYDROGEN] = Some(2.0 * bases - system.targets[row]);
        }
        Self { totals, follows_gas }
    }

    /// How a species' molality goes with each component sought.
    fn exponents(&self, j: usize) -> [f64; COMPONENTS] {
        let mut exponents = [0.0; COMPONENTS];
        for (part, count) in SPECIES[j].parts {
            let count = f64::from(*count);
            if *part == Component::Carbonate && self.follows_gas {
                exponents[HYDROGEN] -= 2.0 * count;
            } else {
                exponents[*part as usize] += count;
            }
        }
        exponents
    }

    /// The function that is least where all totals are met, at the system's present activities.
    fn merit(&self, system: &mut System, ln_water: f64) -> f64 {
        system.ln_water = ln_water;
        system.follow_gas();
        system.fill_molalities();
        system.ln_water = ln_water;
        let linear: f64 =
            self.totals.iter().zip(system.x).filter_map(|(total, x)| Some((*total)? * x)).sum();
        system.molalities.iter().sum::<f64>() - linear
    }

    /// Newton's step of each component, and how steeply the function falls along it.
    fn newton_step(&self, system: &System) -> Option<([f64; COMPONENTS], f64)> {
        let columns: Vec<usize> =
            (0..COMPONENTS).filter(|component| self.totals[*component].is_some()).collect();
        let mut matrix = [[0.0; UNKNOWNS]; UNKNOWNS];
        let mut residual = [0.0; UNKNOWNS];
        for (row, component) in columns.iter().enumerate() {
            residual[row] = self.totals[*component]?;
        }
        for (j, molality) in system.molalities.iter().enumerate() {
            if !system.present[j] {
                continue;
            }
            let exponents = self.exponents(j);
            for (row, component) in columns.iter().enumerate() {
                let weighed = exponents[*component] * molality;
                residual[row] -= weighed;
                for (column, other) in columns.iter().enumerate() {
                    matrix[row][column] += weighed * exponents[*other];
                }
            }
        }
        let solution = eliminate(&mut matrix, residual, columns.len())?;
        let mut steps = [0.0; COMPONENTS];
        let mut slope = 0.0;
        for (row, component) in columns.iter().enumerate() {
            steps[*component] = solution[row];
            slope += residual[row] * solution[row];
        }
        Some((steps, slope))
    }
}
