//! What looks wrong about an analysis by itself.

use super::Notice;

pub(crate) static ANALYSIS_SLIP: Notice = Notice {
    id: "analysis_slip",
    command: "blowdown",
    usual: || {
        "charges, conductivity, hardness, dissolved solids and the tower's own water agree on an analysis".into()
    },
    source: "balance of charges and solids; conductivity of the solved water",
    advice: "look the number up on the laboratory's sheet, and correct the file if it is so",
};

/// Saturation index of calcite that no makeup keeps: it would leave its lime on the way (common practice: mains stay
/// below some 0.5, samples of hard wells that lose their gas below 1.2).
pub(crate) const MOST_CALCITE: f64 = 1.3;
/// The same of a water that holds less carbon dioxide than air gives it, so that no lost gas explains its pH.
pub(crate) const MOST_CALCITE_BELOW_AIR: f64 = 0.7;
/// log10 of the carbon dioxide pressure of air, atm, a tenth below for the reading.
pub(crate) const LEAST_CARBON_DIOXIDE: f64 = -3.5;
/// log10 of a carbon dioxide pressure, atm, that no fresh water holds: sparkling (common practice: wells stay below a
/// tenth of an atmosphere).
pub(crate) const MOST_CARBON_DIOXIDE: f64 = -0.5;

pub(crate) static MAKEUP_PH_ODD: Notice = Notice {
    id: "makeup_ph_odd",
    command: "blowdown",
    usual: || {
        format!(
            "a makeup below SI {MOST_CALCITE} of calcite ({MOST_CALCITE_BELOW_AIR} with less carbon dioxide than in air), \
             and below log10 pCO2 {MOST_CARBON_DIOXIDE}, at its own pH"
        )
    },
    source: "the speciated sample; common practice",
    advice: "measure the pH anew at the tap, before the sample loses or takes up carbon dioxide",
};

/// A sample that is so many days older than another of the file is old: a year, after which seasons and wells have
/// changed (common practice).
pub(crate) const OLD_DAYS: i64 = 366;

pub(crate) static SAMPLE_OLD: Notice = Notice {
    id: "sample_old",
    command: "blowdown",
    usual: || "samples of one year".into(),
    source: "common practice",
    advice: "have that water analysed anew",
};

/// What the conductivity asks for beside a field kit's ions, beyond this part of all ions, is worth an analysis (common
/// practice: inland waters stay below, brackish ones do not).
pub(crate) const MOST_OF_KIT: f64 = 0.8;

pub(crate) static KIT_MADE_UP: Notice = Notice {
    id: "kit_made_up",
    command: "blowdown",
    usual: || {
        format!(
            "hardness and alkalinity of a field kit make {} % or more of what the conductivity asks for",
            100.0 * (1.0 - MOST_OF_KIT)
        )
    },
    source: "common practice",
    advice: "see the unit and the point of the conductivity; of a brackish water have chloride and sulfate analysed",
};
