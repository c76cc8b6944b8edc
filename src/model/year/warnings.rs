//! What looks wrong about a year.

use super::{YearHour, YearPlan, YearSheet};
use crate::quantity::significant;
use crate::warnings::money::SEWER_ON_EVAPORATION;
use crate::warnings::{Notice, Noticed, year};

impl YearPlan<'_> {
    /// What looks wrong about hours and what they come to.
    pub(super) fn noticed(&self, sheet: &YearSheet, hours: &[YearHour]) -> Vec<Noticed> {
        let in_hours = |count: u32, notice: &'static Notice, what: &str| {
            (count > 0).then(|| notice.with(format!("In {count} of {} h {what}.", hours.len())))
        };
        let fans = &sheet.fans;
        [
            in_hours(fans.failed, &year::TOWER_FAILS,
                "the tower cannot give off the heat; they are in no sum"),
            in_hours(
                sheet.total.above_limit,
                &year::COLD_WATER_ABOVE_LIMIT,
                "the cold water is above its limit: look at load, fans and fill",
            ),
            in_hours(
                fans.freezing,
                &year::WATER_WOULD_FREEZE,
                "the water would freeze even with the fans off: a bypass, heating or fewer cells help",
            ),
            self.pressure_off(hours),
            self.billed_on_evaporation(sheet),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn billed_on_evaporation(&self, sheet: &YearSheet) -> Option<Noticed> {
        let missed = sheet.sewer_credit_missed.filter(|missed| *missed > 0.0)?;
        let missed =
            format!("{} {}", significant(missed, 3), sheet.currency.as_deref().unwrap_or_default());
        Some(SEWER_ON_EVAPORATION.with(format!(
            "The sewer is billed on all makeup: a credit for what evaporates would save {}.",
            missed.trim_end()
        )))
    }

    fn pressure_off(&self, hours: &[YearHour]) -> Option<Noticed> {
        let sum: f64 = hours.iter().map(|hour| hour.weather.air.pressure_pascal).sum();
        let off = sum / hours.len() as f64 / self.pressure - 1.0;
        (off.abs() > year::PRESSURE_OFF).then(|| {
            let side = if off > 0.0 { "above" } else { "below" };
            year::PRESSURE_OFF_SITE.with(format!(
                "The weather's mean pressure is {:.1} % {side} the site's, and is used: a station at \
                 another height, or a pressure corrected to sea level?",
                100.0 * off.abs()
            ))
        })
    }
}
