//! Chemicals: what is fed, how much of the product, and how long a slug works.

use crate::transient::Circuit;

/// Where the feed's formulas are published.
pub const SOURCE: &str = "mass balance of the circulating water; Association of Water Technologies, Basic Calculations, Part I; contact times of slow biocides in common practice above 6 h";

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
    /// Hours that it stays above what works, with the blowdown locked; `None` without such a limit.
    pub hours_effective: Option<f64>,
    /// Hours that the blowdown is locked.
    pub locked_hours: f64,
    /// Cycles to bleed down to before, so that the lock does not end above the target.
    pub pre_bleed_cycles: f64,
    /// Hours that the pre-bleed takes with the open valve; `None` where the valve cannot.
    pub pre_bleed_hours: Option<f64>,
}

/// A slug of `dose`, mg/L, with decay, 1/h, and the least that works, mg/L, in a circuit at
/// `cycles` with an open valve of `valve_flow`, m3/h. The lock lasts `contact` hours.
pub fn slug(
    circuit: &Circuit,
    (dose, decay, effective): (f64, f64, Option<f64>),
    (cycles, valve_flow): (f64, f64),
    contact: f64,
) -> Slug {
    // With the bleed locked only the other losses dilute.
    let loss = circuit.other_losses / circuit.volume + decay;
    let hours_effective = effective.map(|least| {
        if dose <= least {
            0.0
        } else if loss > 0.0 {
            (dose / least).ln() / loss
        } else {
            f64::INFINITY
        }
    });
    let rise = circuit.evaporation * contact / circuit.volume;
    let pre_bleed_cycles = (cycles - rise).max(1.0);
    let liquid = circuit.other_losses + valve_flow;
    let end = 1.0 + circuit.evaporation / liquid;
    let part = (pre_bleed_cycles - end) / (cycles - end);
    let pre_bleed_hours = (part > 0.0 && part <= 1.0).then(|| -circuit.volume / liquid * part.ln());
    Slug {
        active_kg: 1e-3 * dose * circuit.volume,
        hours_effective,
        locked_hours: contact,
        pre_bleed_cycles,
        pre_bleed_hours,
    }
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
        let slug = slug(&CIRCUIT, (120.0, 0.05, Some(40.0)), (4.0, 5.0), 8.0);
        assert_relative_eq!(slug.active_kg, 6.0);
        assert_relative_eq!(slug.pre_bleed_cycles, 4.0 - 2.4 * 8.0 / 50.0);
        let hours = slug.hours_effective.unwrap();
        assert_relative_eq!(120.0 * (-(0.1 / 50.0 + 0.05) * hours).exp(), 40.0, epsilon = 1e-9);
        assert!(slug.pre_bleed_hours.unwrap() > 0.0);
    }
}
