//! Cycles and losses out of their usual range, and balances that cannot be.

use super::blowdown::{USUAL_CYCLES, USUAL_CYCLES_SOURCE};
use super::{Warning, percent};
use crate::quantity::Quantity;

/// Cycles below which water goes to the drain that could stay.
const FEWEST_CYCLES: f64 = 3.0;
/// Leakage and overflow over makeup.
const MOST_UNWANTED: f64 = 0.05;
/// Makeup over circulation from which a tower is taken for a once-through system.
const ONCE_THROUGH: f64 = 0.1;

pub(super) static CYCLES_LOW: Warning = Warning {
    id: "cycles_low",
    subject: "cycles of concentration",
    quantity: Quantity::Ratio,
    usual: || format!("{FEWEST_CYCLES} or more"),
    source: "UFC 3-240-13FN (US Department of Defense, 2005), 2-1.2.2.1",
    advice: "water and treatment go to the drain: see which constituent of the makeup asks for it",
    is_drift_loss: false,
    test: |observed| {
        (observed.evaporates && observed.cycles < FEWEST_CYCLES - 1e-9).then_some(observed.cycles)
    },
};

pub(super) static CYCLES_HIGH: Warning = Warning {
    id: "cycles_high",
    subject: "cycles of concentration",
    quantity: Quantity::Ratio,
    usual: || format!("at most {USUAL_CYCLES}"),
    source: USUAL_CYCLES_SOURCE,
    advice: "check scale and corrosion limits of the concentrated water, and both conductivities",
    is_drift_loss: false,
    test: |observed| {
        (observed.cycles > USUAL_CYCLES + 1e-9 && observed.cycles.is_finite())
            .then_some(observed.cycles)
    },
};

pub(super) static LOSSES_ABOVE_BLOWDOWN: Warning = Warning {
    id: "losses_above_blowdown",
    subject: "cycles reached with the blowdown shut",
    quantity: Quantity::Ratio,
    usual: || "the target".into(),
    source: "balance of water and dissolved solids",
    advice: "drift, leakage and overflow alone hold the cycles below the target: find the loss before touching the blowdown",
    is_drift_loss: false,
    test: |observed| observed.losses_exceed_blowdown.then_some(observed.cycles),
};

pub(super) static UNWANTED_LOSS: Warning = Warning {
    id: "unwanted_loss",
    subject: "leakage and overflow over makeup",
    quantity: Quantity::Fraction,
    usual: || format!("below {} of makeup", percent(MOST_UNWANTED)),
    source: "common practice",
    advice: "check float valve, overflow, drain valve, pump glands and basin",
    is_drift_loss: false,
    test: |observed| (observed.unwanted_share > MOST_UNWANTED).then_some(observed.unwanted_share),
};

pub(super) static NO_LIQUID_LEAVES: Warning = Warning {
    id: "no_liquid_leaves",
    subject: "liquid leaving the system",
    quantity: Quantity::MassFlow,
    usual: || "some blowdown or drift".into(),
    source: "balance of dissolved solids",
    advice: "with no liquid leaving, solids build up without a limit until they scale: this balance cannot last",
    is_drift_loss: false,
    test: |observed| (observed.evaporates && observed.cycles.is_infinite()).then_some(0.0),
};

pub(super) static MAKEUP_TOO_LARGE: Warning = Warning {
    id: "makeup_too_large",
    subject: "makeup over circulation",
    quantity: Quantity::Fraction,
    usual: || format!("1 to 5 % of circulation; above {} it is told", percent(ONCE_THROUGH)),
    source: "common practice",
    advice: "check the units of circulation, blowdown and losses: this is a once-through system",
    is_drift_loss: false,
    test: |observed| {
        (observed.makeup_over_circulation > ONCE_THROUGH)
            .then_some(observed.makeup_over_circulation)
    },
};
