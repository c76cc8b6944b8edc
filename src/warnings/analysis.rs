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
/// below some 0.5, wells that lose their gas below 1).
pub(crate) const MOST_CALCITE: f64 = 1.0;
/// log10 of a carbon dioxide pressure, atm, that no fresh water holds: sparkling (common practice: wells stay below a
/// tenth of an atmosphere).
pub(crate) const MOST_CARBON_DIOXIDE: f64 = -0.5;

pub(crate) static MAKEUP_PH_ODD: Notice = Notice {
    id: "makeup_ph_odd",
    command: "blowdown",
    usual: || {
        format!(
            "a makeup below SI {MOST_CALCITE} of calcite and below log10 pCO2 {MOST_CARBON_DIOXIDE} at its own pH"
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
