//! What may look wrong about a blowdown target and the analyses behind it.

use super::{Notice, percent};
use crate::model::NOTABLE_IMBALANCE;
use std::ops::RangeInclusive;

/// More cycles than this are unusual.
pub(crate) const USUAL_CYCLES: f64 = 10.0;
pub(super) const USUAL_CYCLES_SOURCE: &str =
    "cap of LEED v4, credit WE Cooling Tower Water Use (US Green Building Council, 2013)";
/// Computed and measured conductivity of the makeup that differ by more than this part are worth a
/// warning (Standard Methods 1030 E, from memory).
pub(crate) const NOTABLE_CONDUCTIVITY: f64 = 0.10;
/// log10 of the carbon dioxide pressures that tower water is found at: between air and ten times the
/// upper end of the usual band (common practice).
pub(crate) const USUAL_CARBON_DIOXIDE: RangeInclusive<f64> = -3.8..=-1.8;

pub(crate) static NO_CYCLES_SATISFY: Notice = Notice {
    id: "no_cycles_satisfy",
    command: "blowdown",
    usual: || "every floor lies below the ceiling".into(),
    source: "the limits of the site",
    advice: "treat the makeup, feed acid or another program, or change the material that sets the limit",
};

pub(crate) static LIMIT_NOT_JUDGED: Notice = Notice {
    id: "limit_not_judged",
    command: "blowdown",
    usual: || "every limited constituent is analysed".into(),
    source: "the limits of the site",
    advice: "have the laboratory add what is missing",
};

pub(crate) static IONS_OUT_OF_BALANCE: Notice = Notice {
    id: "ions_out_of_balance",
    command: "blowdown",
    usual: || format!("cations and anions within {} of their sum", percent(NOTABLE_IMBALANCE)),
    source: "Standard Methods 1030 E (from memory)",
    advice: "an ion is missing or wrong, or its basis is: as CaCO3, or as the ion",
};

pub(crate) static CONDUCTIVITY_OFF_IONS: Notice = Notice {
    id: "conductivity_off_ions",
    command: "blowdown",
    usual: || {
        format!(
            "measured conductivity within {} of that of the ions",
            percent(NOTABLE_CONDUCTIVITY)
        )
    },
    source: "Standard Methods 1030 E (from memory)",
    advice: "an ion is missing, or the meter is off",
};

pub(crate) static CARBON_DIOXIDE_UNUSUAL: Notice = Notice {
    id: "carbon_dioxide_unusual",
    command: "blowdown",
    usual: || {
        let (least, most) = USUAL_CARBON_DIOXIDE.into_inner();
        format!("log10 pCO2 of {least} to {most}")
    },
    source: "common practice",
    advice: "check the tower's pH and alkalinity",
};

pub(crate) static ACID_NOT_NEEDED: Notice = Notice {
    id: "acid_not_needed",
    command: "blowdown",
    usual: || "the water by itself is above the pH to hold".into(),
    source: "the speciated water",
    advice: "leave out ph.held, or state a lower one",
};

pub(crate) static CIRCULATING_WATER_WEAKER: Notice = Notice {
    id: "circulating_water_weaker",
    command: "blowdown",
    usual: || "the circulating water holds more of every tracer than the makeup".into(),
    source: "the balance of solids",
    advice: "see whether the samples were swapped, and the unit and basis of the value",
};

pub(crate) static CORROSION_NOT_JUDGED: Notice = Notice {
    id: "corrosion_not_judged",
    command: "blowdown",
    usual: || "the materials that the water touches are stated".into(),
    source: "the site file",
    advice: "state [limits] materials, or limits on chloride, sulfate and pH of one's own",
};

pub(crate) static TARGET_CYCLES_HIGH: Notice = Notice {
    id: "target_cycles_high",
    command: "blowdown",
    usual: || format!("at most {USUAL_CYCLES} cycles"),
    source: USUAL_CYCLES_SOURCE,
    advice: "check corrosion, retention and what one more cycle saves before it is set",
};
