//! What may look wrong about a blowdown target and the analyses behind it.

use super::{Notice, percent};
use crate::blowdown::limit::HIGHEST_CARRIED;
use crate::model::NOTABLE_IMBALANCE;
use std::ops::RangeInclusive;

/// A longer half-life of the water, h, is a question to the supplier (common practice: inhibitors age).
pub(crate) const LONG_HALF_LIFE: f64 = 48.0;
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

pub(crate) static VALVE_TOO_SMALL: Notice = Notice {
    id: "blowdown_valve_too_small",
    command: "balance and blowdown",
    usual: || "an open valve that passes 2 to 3 times the mean blowdown".into(),
    source: "common practice",
    advice: "a larger valve, or a clear one: strainer, scale in the pipe, a throttled hand valve",
};

pub(crate) static NEW_GALVANISED: Notice = Notice {
    id: "new_galvanised",
    command: "blowdown",
    usual: || "galvanised steel with its protective layer".into(),
    source: "water-quality sheets of makers of towers",
    advice: "few cycles, a passivation programme and a cool start in the first weeks; acid only by a metered, interlocked feed",
};

pub(crate) static CORROSION_POSSIBLE: Notice = Notice {
    id: "corrosion_possible",
    command: "blowdown",
    usual: || "water that the stated materials stand".into(),
    source: "the sources of the limits; --full names them",
    advice: "ask the supplier for an inhibitor that fits, and watch coupons",
};

pub(crate) static DEPOSIT_POSSIBLE: Notice = Notice {
    id: "deposit_possible",
    command: "blowdown",
    usual: || "nothing beyond what programmes are known to carry".into(),
    source: "the sources of the limits; --full names them",
    advice: "ask the supplier whether the programme carries it",
};

pub(crate) static FOULING_POSSIBLE: Notice = Notice {
    id: "fouling_possible",
    command: "blowdown",
    usual: || "clear water".into(),
    source: "the sources of the limits; --full names them",
    advice: "filter the makeup or a side stream",
};

pub(crate) static SOURCES_DISAGREE: Notice = Notice {
    id: "sources_disagree",
    command: "blowdown",
    usual: || "a value that even the strictest source allows".into(),
    source: "the sources of the limits; --full names them",
    advice: "ask the maker or the supplier, and state the answer as a [[limit]]",
};

pub(crate) static CALCITE_INDEX_HIGH: Notice = Notice {
    id: "calcite_index_high",
    command: "blowdown",
    usual: || format!("a saturation index of calcite up to {HIGHEST_CARRIED}"),
    source: "Corrosion 94, a study of calcite supersaturation",
    advice: "see whether the supplier means Langelier's index",
};

pub(crate) static HALF_LIFE_LONG: Notice = Notice {
    id: "half_life_long",
    command: "blowdown",
    usual: || format!("half of the water renewed within {LONG_HALF_LIFE} h"),
    source: "common practice",
    advice: "ask the supplier whether inhibitor and biocide last so long",
};

pub(crate) static HALF_LIFE_SHORT: Notice = Notice {
    id: "half_life_short",
    command: "blowdown",
    usual: || "a half-life of the water above every contact time".into(),
    source: "common practice",
    advice: "keep the blowdown shut for the contact time after a slug",
};

pub(crate) static FLOOR_NOT_MET: Notice = Notice {
    id: "floor_not_met",
    command: "blowdown",
    usual: || "every floor lies below the target".into(),
    source: "the limits of the site",
    advice: "treat the makeup, have an inhibitor fed, or note it for who answers for the code",
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
    usual: || "the steel that the water touches is stated".into(),
    source: "the site file",
    advice: "state it under [limits] materials",
};

pub(crate) static TARGET_CYCLES_HIGH: Notice = Notice {
    id: "target_cycles_high",
    command: "blowdown",
    usual: || format!("at most {USUAL_CYCLES} cycles"),
    source: USUAL_CYCLES_SOURCE,
    advice: "check corrosion, retention and what one more cycle saves before it is set",
};

/// What was made up beyond this part of the sum of the ions is a slip (common practice).
pub(crate) const MOST_MADE_UP: f64 = 0.30;
/// Dissolved solids found by drying over those of the ions (Standard Methods 1030 E asks for 1.0 to 1.2, from memory;
/// its tenth below for rounding).
pub(crate) const USUAL_DRIED: std::ops::RangeInclusive<f64> = 0.9..=1.2;
/// Sums of ions that differ by more than this part (common practice).
pub(crate) const SUMS_AGREE: f64 = 0.15;
/// Phenolphthalein alkalinities, mg/L as CaCO3, that differ by more than a drop of a field kit (common practice).
pub(crate) const P_AGREES: f64 = 20.0;

pub(crate) static MUCH_MADE_UP: Notice = Notice {
    id: "much_made_up",
    command: "blowdown",
    usual: || {
        format!("balance_with makes up at most {} % of the sum of the ions", 100.0 * MOST_MADE_UP)
    },
    source: "common practice",
    advice: "see the unit and the basis of every ion, and that no point is misplaced",
};

pub(crate) static DISSOLVED_SOLIDS_OFF: Notice = Notice {
    id: "dissolved_solids_off",
    command: "blowdown",
    usual: || {
        format!(
            "dissolved solids by drying {} to {} times what the ions leave; sums of ions within {} %",
            USUAL_DRIED.start(),
            USUAL_DRIED.end(),
            100.0 * SUMS_AGREE
        )
    },
    source: "Standard Methods 1030 E (from memory)",
    advice: "have the laboratory say how it found them, and check the ions",
};

pub(crate) static P_ALKALINITY_OFF_PH: Notice = Notice {
    id: "p_alkalinity_off_ph",
    command: "blowdown",
    usual: || {
        format!("P alkalinity within {P_AGREES} mg/L as CaCO3 of what pH and M alkalinity make")
    },
    source: "equilibrium of the sample closed to the air",
    advice: "measure pH and P alkalinity anew, in one fresh sample",
};

pub(crate) static CONDUCTIVITY_COMPUTED: Notice = Notice {
    id: "conductivity_computed",
    command: "blowdown",
    usual: || "the conductivity of every source is measured, or of none".into(),
    source: "the site file",
    advice: "measure that of the other sources too",
};

pub(crate) static MEASURED_CYCLES_DIFFER: Notice = Notice {
    id: "measured_cycles_differ",
    command: "blowdown",
    usual: || {
        "real cycles of the tower's own analysis within their uncertainty of the file's".into()
    },
    source: "the balance of solids",
    advice: "see whether controller, probe or bleed valve hold what they are set to; state the cycles that are held",
};

pub(crate) static ACID_NOT_STATED: Notice = Notice {
    id: "acid_not_stated",
    command: "blowdown",
    usual: || {
        "alkalinity of the tower without acid is that of the makeup times the cycles, less what deposits".into()
    },
    source: "the balance of solids: an equivalent of sulfate for one of alkalinity",
    advice: "state the pH that acid holds: [ph] held = 7.8",
};

pub(crate) static OWN_TEST_CONTRADICTS: Notice = Notice {
    id: "own_test_contradicts",
    command: "blowdown",
    usual: || "most ions that do not react give the same cycles".into(),
    source: "the balance of solids",
    advice: "sample makeup and tower on the same day and have both analysed anew, with chloride and magnesium",
};

pub(crate) static ODD_ION: Notice = Notice {
    id: "odd_ion",
    command: "blowdown",
    usual: || {
        "an ion that does not react gives the cycles of the others within three times its uncertainty".into()
    },
    source: "the balance of solids",
    advice: "look the value, its unit and its basis up in the laboratory's report",
};

pub(crate) static LIMIT_ON_MADE_UP_ION: Notice = Notice {
    id: "limit_on_made_up_ion",
    command: "blowdown",
    usual: || "what is limited was analysed".into(),
    source: "the site file",
    advice: "have the ion analysed",
};

pub(crate) static CONTROLLER_NEVER_SHUTS: Notice = Notice {
    id: "controller_never_shuts",
    command: "blowdown",
    usual: || {
        "a set point that lies more than its dead band above the makeup's conductivity".into()
    },
    source: "the balance of solids",
    advice: "bleed steadily at so few cycles, or narrow the dead band",
};

pub(crate) static CYCLES_ABOVE_LOSSES: Notice = Notice {
    id: "cycles_above_losses",
    command: "blowdown",
    usual: || "cycles that drift, leakage and overflow leave with the blowdown shut".into(),
    source: "the balance of water and solids",
    advice: "see how the leak was measured, and whether the cycles are those of a ratio that is off",
};

pub(crate) static PH_NOT_BELIEVED: Notice = Notice {
    id: "ph_not_believed",
    command: "blowdown",
    usual: || "a tower pH at most half a unit below the published line of its alkalinity".into(),
    source: "field lines as compared by Vanderpool (2004, AWT Analyst); half a unit: CTI paper 91-08, abstract",
    advice: "read it again with a calibrated meter in a fresh sample; where acid is fed state [ph] held",
};
