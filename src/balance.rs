//! The balance of water and of dissolved solids.
//!
//! What the makeup valve lets in leaves as evaporation, drift, blowdown, leakage or overflow.
//! Evaporation carries no solids; every liquid loss carries them at the concentration of the
//! circulating water. So at steady state the cycles of concentration are makeup over all liquid
//! losses, whatever those losses are called.
//!
//! All flows are masses, kg/s, so that they add up at any temperature.
//!
//! ```
//! use coldbasin::balance::{BlowdownBasis, Losses, close};
//!
//! let losses = Losses { evaporation_kg_per_s: 3.0, drift_kg_per_s: 0.01, ..Losses::default() };
//! let water = close(&losses, BlowdownBasis::Cycles(4.0))?;
//! // All liquid losses together are evaporation over cycles less one.
//! assert!((water.blowdown_kg_per_s - (3.0 / 3.0 - 0.01)).abs() < 1e-12);
//! assert!((water.makeup_kg_per_s - 4.0).abs() < 1e-12);
//! # Ok::<(), coldbasin::balance::BalanceError>(())
//! ```

use crate::equation::Equation;

/// All the water.
pub const MAKEUP: Equation = Equation {
    id: "makeup",
    text: "makeup = evaporation + drift + blowdown + leakage + overflow",
    source: "balance of water; UFC 3-240-13FN (US Department of Defense, 2005), ch. 4",
};

/// The blowdown that holds a target.
pub const BLOWDOWN: Equation = Equation {
    id: "blowdown",
    text: "blowdown = evaporation / (cycles - 1) - drift - leakage - overflow",
    source: "balance of dissolved solids; UFC 3-240-13FN (US Department of Defense, 2005), ch. 4",
};

/// The cycles that the flows hold.
pub const CYCLES: Equation = Equation {
    id: "cycles",
    text: "cycles = makeup / (drift + blowdown + leakage + overflow)",
    source: "balance of dissolved solids; UFC 3-240-13FN (US Department of Defense, 2005), ch. 4",
};

/// The cycles that two conductivities suggest.
pub const APPARENT_CYCLES: Equation = Equation {
    id: "apparent_cycles",
    text: "cycles = circulating_conductivity / makeup_conductivity",
    source: "UFC 3-240-13FN (US Department of Defense, 2005), ch. 4; conductivity is not conserved, so apparent",
};

/// What leaves whether or not anybody opens the blowdown valve. kg/s, none negative.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Losses {
    /// Water that leaves as vapour, and as the mist that condenses in the exit air.
    pub evaporation_kg_per_s: f64,
    /// Droplets carried out by the air.
    pub drift_kg_per_s: f64,
    /// Water that leaks from basin, pipes or pump glands.
    pub leakage_kg_per_s: f64,
    /// Water that leaves through the overflow.
    pub overflow_kg_per_s: f64,
}

impl Losses {
    /// The losses that carry solids, blowdown aside, kg/s.
    pub fn liquid_kg_per_s(&self) -> f64 {
        self.drift_kg_per_s + self.leakage_kg_per_s + self.overflow_kg_per_s
    }
}

/// What fixes the blowdown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BlowdownBasis {
    /// A target for the cycles of concentration, above 1.
    Cycles(f64),
    /// A flow, kg/s, zero or more.
    FlowKgPerS(f64),
}

/// Why a balance cannot be closed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum BalanceError {
    /// Cycles of 1 or less need an unlimited blowdown.
    #[error("cycles of concentration are {cycles}: they must be above 1")]
    CyclesNotAboveOne {
        /// As given.
        cycles: f64,
    },
    /// A flow is negative or not a number.
    #[error("{name} is {kg_per_s} kg/s: it must be zero or more")]
    NotAFlow {
        /// Which flow.
        name: &'static str,
        /// As given.
        kg_per_s: f64,
    },
}

/// A closed balance. kg/s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaterBalance {
    /// Water that leaves as vapour and mist.
    pub evaporation_kg_per_s: f64,
    /// Droplets carried out by the air.
    pub drift_kg_per_s: f64,
    /// Water drained to hold the cycles.
    pub blowdown_kg_per_s: f64,
    /// Water that leaks.
    pub leakage_kg_per_s: f64,
    /// Water that leaves through the overflow.
    pub overflow_kg_per_s: f64,
    /// Water that the makeup valve lets in.
    pub makeup_kg_per_s: f64,
    /// Makeup over all liquid losses; infinite where no liquid leaves and water evaporates,
    /// 1 where nothing evaporates.
    pub cycles_of_concentration: f64,
    /// Whether the other liquid losses alone hold the cycles below the target, so that the
    /// blowdown is shut.
    pub losses_exceed_blowdown: bool,
}

impl WaterBalance {
    /// All the water that carries solids, kg/s.
    pub fn liquid_losses_kg_per_s(&self) -> f64 {
        self.drift_kg_per_s
            + self.blowdown_kg_per_s
            + self.leakage_kg_per_s
            + self.overflow_kg_per_s
    }

    /// The losses without the blowdown.
    pub fn losses(&self) -> Losses {
        Losses {
            evaporation_kg_per_s: self.evaporation_kg_per_s,
            drift_kg_per_s: self.drift_kg_per_s,
            leakage_kg_per_s: self.leakage_kg_per_s,
            overflow_kg_per_s: self.overflow_kg_per_s,
        }
    }

    /// The mean hour of times whose mean load is this part of this hour's (0 to 1): evaporation goes
    /// with the load; drift, leakage and overflow do not, while the tower runs. A blowdown that holds
    /// cycles keeps holding them; another stays as it is.
    pub fn at_load(&self, load: f64, holds_cycles: bool) -> Self {
        if load == 1.0 {
            return *self;
        }
        let losses =
            Losses { evaporation_kg_per_s: load * self.evaporation_kg_per_s, ..self.losses() };
        // Losses that keep the blowdown shut at this load keep it shut at a smaller one.
        let is_open = self.blowdown_kg_per_s > 0.0 && self.evaporation_kg_per_s > 0.0;
        let basis = match holds_cycles && is_open {
            true => BlowdownBasis::Cycles(self.cycles_of_concentration),
            false => BlowdownBasis::FlowKgPerS(self.blowdown_kg_per_s),
        };
        close(&losses, basis).unwrap_or(*self)
    }

    /// Water in less water out, as a share of the makeup.
    pub fn water_closing_error(&self) -> f64 {
        relative(
            self.makeup_kg_per_s - self.evaporation_kg_per_s - self.liquid_losses_kg_per_s(),
            self.makeup_kg_per_s,
        )
    }

    /// Solids in less solids out, as a share of the solids in the makeup; 0 where the cycles have
    /// no limit, because no liquid leaves.
    pub fn solids_closing_error(&self) -> f64 {
        if !self.cycles_of_concentration.is_finite() {
            return 0.0;
        }
        let out = self.liquid_losses_kg_per_s() * self.cycles_of_concentration;
        relative(self.makeup_kg_per_s - out, self.makeup_kg_per_s)
    }
}

fn relative(difference: f64, whole: f64) -> f64 {
    if whole == 0.0 { 0.0 } else { difference / whole }
}

/// Closes the balance of water and of dissolved solids ([`MAKEUP`], [`BLOWDOWN`], [`CYCLES`]).
///
/// With [`BlowdownBasis::Cycles`] the blowdown is what is left of the liquid losses that the target
/// asks for, never negative: where the other losses exceed them, the blowdown is zero and the
/// cycles are those that the losses hold.
///
/// # Errors
/// [`BalanceError`] for cycles of 1 or less, and for a negative or non-finite flow.
pub fn close(losses: &Losses, basis: BlowdownBasis) -> Result<WaterBalance, BalanceError> {
    for (name, kg_per_s) in [
        ("evaporation", losses.evaporation_kg_per_s),
        ("drift", losses.drift_kg_per_s),
        ("leakage", losses.leakage_kg_per_s),
        ("overflow", losses.overflow_kg_per_s),
    ] {
        check_flow(name, kg_per_s)?;
    }
    let other_liquid = losses.liquid_kg_per_s();
    let (blowdown, losses_exceed_blowdown) = match basis {
        BlowdownBasis::FlowKgPerS(flow) => {
            check_flow("blowdown", flow)?;
            (flow, false)
        }
        // Written so that a NaN is refused as well.
        BlowdownBasis::Cycles(cycles) if !(cycles > 1.0) => {
            return Err(BalanceError::CyclesNotAboveOne { cycles });
        }
        BlowdownBasis::Cycles(cycles) => {
            let needed = losses.evaporation_kg_per_s / (cycles - 1.0) - other_liquid;
            (needed.max(0.0), needed < 0.0)
        }
    };
    let makeup = losses.evaporation_kg_per_s + other_liquid + blowdown;
    let liquid = other_liquid + blowdown;
    let cycles_of_concentration = match (liquid > 0.0, losses.evaporation_kg_per_s > 0.0) {
        (true, _) => makeup / liquid,
        (false, true) => f64::INFINITY,
        (false, false) => 1.0,
    };
    Ok(WaterBalance {
        evaporation_kg_per_s: losses.evaporation_kg_per_s,
        drift_kg_per_s: losses.drift_kg_per_s,
        blowdown_kg_per_s: blowdown,
        leakage_kg_per_s: losses.leakage_kg_per_s,
        overflow_kg_per_s: losses.overflow_kg_per_s,
        makeup_kg_per_s: makeup,
        cycles_of_concentration,
        losses_exceed_blowdown,
    })
}

fn check_flow(name: &'static str, kg_per_s: f64) -> Result<(), BalanceError> {
    if kg_per_s.is_finite() && kg_per_s >= 0.0 {
        Ok(())
    } else {
        Err(BalanceError::NotAFlow { name, kg_per_s })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    fn losses(evaporation: f64, drift: f64, leakage: f64) -> Losses {
        Losses {
            evaporation_kg_per_s: evaporation,
            drift_kg_per_s: drift,
            leakage_kg_per_s: leakage,
            overflow_kg_per_s: 0.0,
        }
    }

    #[test]
    fn at_half_load_evaporation_and_blowdown_halve_and_leaks_do_not() {
        let losses = Losses {
            evaporation_kg_per_s: 4.0,
            drift_kg_per_s: 0.1,
            leakage_kg_per_s: 0.3,
            overflow_kg_per_s: 0.0,
        };
        let full = close(&losses, BlowdownBasis::Cycles(5.0)).unwrap();
        assert_eq!(full.at_load(1.0, true), full);
        let half = full.at_load(0.5, true);
        assert_relative_eq!(half.evaporation_kg_per_s, 2.0);
        assert_eq!((half.drift_kg_per_s, half.leakage_kg_per_s), (0.1, 0.3));
        // E / (C - 1) less the other losses.
        assert_relative_eq!(half.blowdown_kg_per_s, 2.0 / 4.0 - 0.4);
        assert_relative_eq!(half.cycles_of_concentration, 5.0);
        // A valve that stays as it is dilutes.
        let bled = full.at_load(0.5, false);
        assert_relative_eq!(bled.blowdown_kg_per_s, full.blowdown_kg_per_s);
        assert_relative_eq!(bled.makeup_kg_per_s, 2.0 + 1.0);
        // At a fifth the losses alone are more than the blowdown that would hold the cycles.
        let fifth = full.at_load(0.2, true);
        assert_eq!(fifth.blowdown_kg_per_s, 0.0);
        assert_relative_eq!(fifth.cycles_of_concentration, (0.8 + 0.4) / 0.4);
        assert_eq!(fifth.at_load(0.5, true).blowdown_kg_per_s, 0.0);
    }

    #[test]
    fn other_losses_take_their_part_of_the_blowdown() {
        let balance = close(&losses(12.0, 0.1, 0.9), BlowdownBasis::Cycles(4.0)).unwrap();
        assert_relative_eq!(balance.blowdown_kg_per_s, 3.0);
        assert_relative_eq!(balance.makeup_kg_per_s, 16.0);
        assert_relative_eq!(balance.cycles_of_concentration, 4.0);
    }

    #[test]
    fn losses_above_the_target_shut_the_blowdown_and_lower_the_cycles() {
        let balance = close(&losses(12.0, 0.0, 6.0), BlowdownBasis::Cycles(4.0)).unwrap();
        assert_eq!(balance.blowdown_kg_per_s, 0.0);
        assert!(balance.losses_exceed_blowdown);
        assert_relative_eq!(balance.cycles_of_concentration, 3.0);
    }

    #[test]
    fn no_liquid_loss_leaves_the_cycles_without_a_limit() {
        let balance = close(&losses(12.0, 0.0, 0.0), BlowdownBasis::FlowKgPerS(0.0)).unwrap();
        assert!(balance.cycles_of_concentration.is_infinite());
        let idle = close(&losses(0.0, 0.0, 0.0), BlowdownBasis::FlowKgPerS(0.0)).unwrap();
        assert_eq!((idle.cycles_of_concentration, idle.makeup_kg_per_s), (1.0, 0.0));
    }

    #[test]
    fn refuses_what_is_no_flow_and_cycles_of_one() {
        assert!(close(&losses(1.0, 0.0, 0.0), BlowdownBasis::Cycles(1.0)).is_err());
        assert!(close(&losses(1.0, 0.0, 0.0), BlowdownBasis::Cycles(f64::NAN)).is_err());
        assert!(close(&losses(-1.0, 0.0, 0.0), BlowdownBasis::Cycles(3.0)).is_err());
        assert!(close(&losses(1.0, f64::NAN, 0.0), BlowdownBasis::Cycles(3.0)).is_err());
        assert!(close(&losses(1.0, 0.0, 0.0), BlowdownBasis::FlowKgPerS(-1.0)).is_err());
    }

    fn any_losses() -> impl Strategy<Value = Losses> {
        (1e-6..1e4, 0.0..1e2, 0.0..1e2, 0.0..1e2).prop_map(|(e, d, l, o)| Losses {
            evaporation_kg_per_s: e,
            drift_kg_per_s: d,
            leakage_kg_per_s: l,
            overflow_kg_per_s: o,
        })
    }

    proptest! {
        #[test]
        fn water_and_solids_close(losses in any_losses(), cycles in 1.001..100.0) {
            let balance = close(&losses, BlowdownBasis::Cycles(cycles)).unwrap();
            prop_assert!(balance.water_closing_error().abs() < 1e-9);
            prop_assert!(balance.solids_closing_error().abs() < 1e-9);
            prop_assert!(balance.cycles_of_concentration <= cycles * (1.0 + 1e-9));
        }

        #[test]
        fn more_cycles_never_mean_more_makeup(losses in any_losses(), a in 1.001..100.0, b in 1.001..100.0) {
            let makeup = |cycles| close(&losses, BlowdownBasis::Cycles(cycles)).unwrap().makeup_kg_per_s;
            let (low, high) = if a < b { (a, b) } else { (b, a) };
            prop_assert!(makeup(high) <= makeup(low) * (1.0 + 1e-12));
        }
    }

    #[test]
    fn a_balance_gives_back_its_losses_and_tells_what_it_leaves_open() {
        let losses = Losses {
            evaporation_kg_per_s: 3.0,
            drift_kg_per_s: 0.1,
            leakage_kg_per_s: 0.2,
            overflow_kg_per_s: 0.05,
        };
        let closed = close(&losses, BlowdownBasis::Cycles(4.0)).unwrap();
        assert_eq!(closed.losses(), losses);
        let open = WaterBalance { makeup_kg_per_s: 1.01 * closed.makeup_kg_per_s, ..closed };
        assert_relative_eq!(open.water_closing_error(), 0.01 / 1.01, max_relative = 1e-9);
        let salty = WaterBalance { cycles_of_concentration: 4.4, ..closed };
        assert_relative_eq!(salty.solids_closing_error(), -0.1, max_relative = 1e-9);
    }
}
