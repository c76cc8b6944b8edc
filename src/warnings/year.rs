//! What may look wrong about a year of weather.

use super::{Notice, percent};

/// A mean pressure off the site's by this part: some 80 m of height, more than weather makes of a year.
pub(crate) const PRESSURE_OFF: f64 = 0.01;

pub(crate) static TOWER_FAILS: Notice = Notice {
    id: "tower_fails",
    command: "year",
    usual: || "the tower gives off the heat of every hour".into(),
    source: "the fill's transfer number",
    advice: "the design point, [year] load and the weather of these hours; they are in no sum",
};

pub(crate) static COLD_WATER_ABOVE_LIMIT: Notice = Notice {
    id: "cold_water_above_limit",
    command: "year",
    usual: || "the cold water stays at or below year.cold_water_limit".into(),
    source: "the site file",
    advice: "the load of these hours, fans and fill; more air or another cell",
};

pub(crate) static WATER_WOULD_FREEZE: Notice = Notice {
    id: "water_would_freeze",
    command: "year",
    usual: || "with its fans off the tower keeps its water liquid".into(),
    source: "the fill's transfer number",
    advice: "a bypass, basin heating, or cells taken out of service",
};

pub(crate) static PRESSURE_OFF_SITE: Notice = Notice {
    id: "pressure_off_site",
    command: "year",
    usual: || {
        let off = percent(PRESSURE_OFF);
        format!("the weather's mean pressure is within {off} of the site's, some 80 m of height")
    },
    source: "the barometric formula",
    advice: "whether the station stands at another height, or its pressure is corrected to sea level; the \
             file's is used",
};
