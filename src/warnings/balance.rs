//! Cycles and losses out of their usual range, and balances that cannot be.

use super::Warning;
use crate::quantity::Quantity;

pub(super) static CYCLES_LOW: Warning = Warning {
    id: "cycles_low",
    subject: "cycles of concentration",
    quantity: Quantity::Ratio,
    usual: "3 or more",
    source: "UFC 3-240-13FN (US Department of Defense, 2005), 2-1.2.2.1",
    advice: "water and treatment go to the drain: see which constituent of the makeup asks for it",
    is_drift_loss: false,
    test: |observed| {
        (observed.evaporates && observed.cycles < 3.0 - 1e-9).then_some(observed.cycles)
    },
};

pub(super) static CYCLES_HIGH: Warning = Warning {
    id: "cycles_high",
    subject: "cycles of concentration",
    quantity: Quantity::Ratio,
    usual: "at most 10",
    source: "cap of LEED v4, credit WE Cooling Tower Water Use (US Green Building Council, 2013)",
    advice: "check scale and corrosion limits of the concentrated water, and both conductivities",
    is_drift_loss: false,
    test: |observed| {
        (observed.cycles > 10.0 + 1e-9 && observed.cycles.is_finite()).then_some(observed.cycles)
    },
};

pub(super) static LOSSES_ABOVE_BLOWDOWN: Warning = Warning {
    id: "losses_above_blowdown",
    subject: "cycles reached with the blowdown shut",
    quantity: Quantity::Ratio,
    usual: "the target",
    source: "balance of water and dissolved solids",
    advice: "drift, leakage and overflow alone hold the cycles below the target: find the loss before touching the blowdown",
    is_drift_loss: false,
    test: |observed| observed.losses_exceed_blowdown.then_some(observed.cycles),
};

pub(super) static UNWANTED_LOSS: Warning = Warning {
    id: "unwanted_loss",
    subject: "leakage and overflow over makeup",
    quantity: Quantity::Fraction,
    usual: "below 5 % of makeup",
    source: "common practice",
    advice: "check float valve, overflow, drain valve, pump glands and basin",
    is_drift_loss: false,
    test: |observed| (observed.unwanted_share > 0.05).then_some(observed.unwanted_share),
};

pub(super) static NO_LIQUID_LEAVES: Warning = Warning {
    id: "no_liquid_leaves",
    subject: "liquid leaving the system",
    quantity: Quantity::MassFlow,
    usual: "some blowdown or drift",
    source: "balance of dissolved solids",
    advice: "with no liquid leaving, solids build up without a limit until they scale: this balance cannot last",
    is_drift_loss: false,
    test: |observed| (observed.evaporates && observed.cycles.is_infinite()).then_some(0.0),
};

pub(super) static MAKEUP_TOO_LARGE: Warning = Warning {
    id: "makeup_too_large",
    subject: "makeup over circulation",
    quantity: Quantity::Fraction,
    usual: "1 to 5 % of circulation",
    source: "common practice",
    advice: "check the units of circulation, blowdown and losses: this is a once-through system",
    is_drift_loss: false,
    test: |observed| {
        (observed.makeup_over_circulation > 0.1).then_some(observed.makeup_over_circulation)
    },
};
