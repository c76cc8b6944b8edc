//! Chemicals: what is fed, how much of the product, and how long a slug works.

use crate::transient::Circuit;

/// Where the feed's formulas are published.
pub const SOURCE: &str = "mass balance of the circulating water; Association of Water Technologies, Basic Calculations, Part I; contact times of slow biocides in common practice above 6 h";

/// Chlorine that ammonia uses up, g of Cl2 for a g of nitrogen: 2 NH3 + 3 Cl2 = N2 + 6 HCl.
pub const BREAKPOINT: f64 = 3.0 * 70.906 / (2.0 * 14.007);
/// The same in practice, with what other nitrogen takes.
pub const BREAKPOINT_IN_PRACTICE: [f64; 2] = [8.0, 10.0];
/// Where that is published.
pub const BREAKPOINT_SOURCE: &str = "breakpoint chlorination: 7.6 g of Cl2 for a g of nitrogen by stoichiometry, 8 to 10 in practice (handbooks of chlorination, from memory)";
/// Sodium and chloride that hypochlorite leaves, g for a g of Cl2 (mole for mole).
pub const OF_CHLORINE: [f64; 2] = [2.0 * 22.990 / 70.906, 1.0];
/// A dosing pump keeps its rate from this part of its full one on (common practice).
pub const LEAST_STROKE: f64 = 0.1;

/// Equivalent masses of the acids, g/eq.
pub const SULFURIC_ACID: f64 = 98.08 / 2.0;
/// Equivalent mass of hydrochloric acid, g/eq.
pub const HYDROCHLORIC_ACID: f64 = 36.46;

/// Active substance that holds a dose, kg/d: dose, mg/L, times all liquid losses, m3/h, and what
/// decays in the volume, 1/h.
pub fn held_kg_per_day(circuit: &Circuit, blowdown: f64, dose: f64, decay: f64) -> f64 {
    24e-3 * dose * (circuit.other_losses + blowdown + decay * circuit.volume)
}

/// Oxidant, kg/d: what the makeup uses up, mg/L, and what holds the residual.
pub fn oxidant_kg_per_day(
    circuit: &Circuit,
    blowdown: f64,
    (demand, residual): (f64, f64),
    decay: f64,
) -> f64 {
    let makeup = circuit.evaporation + circuit.other_losses + blowdown;
    24e-3 * demand * makeup + held_kg_per_day(circuit, blowdown, residual, decay)
}

/// Acid, kg/d: equivalents for the makeup, meq/L, times makeup, m3/h, times equivalent mass, g/eq.
pub fn acid_kg_per_day(makeup: f64, meq_per_litre: f64, equivalent_mass: f64) -> f64 {
    24e-3 * makeup * meq_per_litre * equivalent_mass
}

/// A slug of biocide with the blowdown locked while it works.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slug {
    /// Active substance, kg.
    pub active_kg: f64,
    /// Hours that it stays above what works: while the blowdown is locked, then with its mean flow;
    /// `None` without such a limit.
    pub hours_effective: Option<f64>,
    /// Hours that the blowdown is locked.
    pub locked_hours: f64,
    /// Cycles that the lock adds.
    pub rise: f64,
    /// Bleeding down before the lock, so that it ends where it began; `None` where no valve can.
    pub pre_bleed: Option<PreBleed>,
}

/// Bleeding down before a lock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PreBleed {
    /// Cycles to bleed down to.
    pub cycles: f64,
    /// Hours that it takes.
    pub hours: f64,
}

/// What a slug is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dose {
    /// Active substance right after it, mg/L.
    pub start: f64,
    /// Decay, 1/h.
    pub decay: f64,
    /// The least that works, mg/L.
    pub effective: Option<f64>,
    /// Hours with the blowdown locked.
    pub contact: f64,
}

/// A slug in a circuit at `cycles` with a mean blowdown and an open valve of these flows, m3/h.
pub fn slug(circuit: &Circuit, dose: &Dose, cycles: f64, (mean, open): (f64, f64)) -> Slug {
    let locked = circuit.other_losses / circuit.volume + dose.decay;
    let after = locked + mean / circuit.volume;
    let rise = circuit.evaporation * dose.contact / circuit.volume;
    Slug {
        active_kg: 1e-3 * dose.start * circuit.volume,
        hours_effective: dose.effective.map(|least| {
            if dose.start <= least {
                return 0.0;
            }
            let in_lock = (dose.start / least).ln() / locked;
            if in_lock <= dose.contact {
                return in_lock;
            }
            let left = dose.start * (-locked * dose.contact).exp();
            dose.contact + (left / least).ln() / after
        }),
        locked_hours: dose.contact,
        rise,
        pre_bleed: pre_bleed(circuit, cycles, rise, open),
    }
}

fn pre_bleed(circuit: &Circuit, cycles: f64, rise: f64, open: f64) -> Option<PreBleed> {
    let goal = cycles - rise;
    let liquid = circuit.other_losses + open;
    let end = 1.0 + circuit.evaporation / liquid;
    let part = (goal - end) / (cycles - end);
    let can = goal > 1.0 && part > 0.0 && part <= 1.0;
    can.then(|| PreBleed { cycles: goal, hours: -circuit.volume / liquid * part.ln() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    const CIRCUIT: Circuit = Circuit { volume: 50.0, evaporation: 2.4, other_losses: 0.1 };

    #[test]
    fn what_is_fed_is_what_leaves() {
        // 100 g/m3 in 0.9 m3/h for 24 h.
        assert_relative_eq!(held_kg_per_day(&CIRCUIT, 0.8, 100.0, 0.0), 2.16, max_relative = 1e-12);
        let oxidant = oxidant_kg_per_day(&CIRCUIT, 0.8, (2.0, 0.5), 0.1);
        let by_hand = 24e-3 * (2.0 * 3.3 + 0.5 * 0.9 + 0.5 * 0.1 * 50.0);
        assert_relative_eq!(oxidant, by_hand, max_relative = 1e-12);
        // 1 meq/L in 1 m3/h is 1 eq/h.
        assert_relative_eq!(acid_kg_per_day(1.0, 1.0, SULFURIC_ACID), 24.0 * 0.04904);
    }

    #[test]
    fn a_lock_ends_at_the_target_after_its_pre_bleed() {
        let dose = Dose { start: 120.0, decay: 0.05, effective: Some(40.0), contact: 8.0 };
        let slug = slug(&CIRCUIT, &dose, 4.0, (0.7, 5.0));
        assert_relative_eq!(slug.active_kg, 6.0);
        let pre_bleed = slug.pre_bleed.unwrap();
        assert_relative_eq!(pre_bleed.cycles, 4.0 - 2.4 * 8.0 / 50.0);
        assert!(pre_bleed.hours > 0.0);
        let hours = slug.hours_effective.unwrap();
        let locked = (-(0.1 / 50.0 + 0.05) * 8.0f64).exp();
        let after = (-(0.8 / 50.0 + 0.05) * (hours - 8.0)).exp();
        assert_relative_eq!(120.0 * locked * after, 40.0, max_relative = 1e-9);
    }

    #[test]
    fn a_lock_that_no_valve_can_prepare_has_no_pre_bleed() {
        let dose = Dose { start: 120.0, decay: 0.0, effective: None, contact: 80.0 };
        assert_eq!(slug(&CIRCUIT, &dose, 4.0, (0.7, 5.0)).pre_bleed, None);
        let dose = Dose { contact: 8.0, ..dose };
        assert_eq!(slug(&CIRCUIT, &dose, 4.0, (0.7, 0.1)).pre_bleed, None);
    }
}
