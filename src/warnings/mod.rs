//! What is out of its usual range: one file a subject, one table of them all.
//!
//! A run keeps a bit a warning ([`WarningSet`]); text is made when it is shown.

pub(crate) mod analysis;
mod balance;
pub(crate) mod blowdown;
mod drift;
pub(crate) mod feed;
pub(crate) mod level;
pub(crate) mod money;
pub(crate) mod readings;
mod tower;
pub(crate) mod year;

use crate::quantity::Quantity;

/// The numbers that warnings look at. `None` where a number is not known or only assumed.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Observed {
    /// Largest stated drift of a counterflow cell, fraction of its water.
    pub drift_counterflow: Option<f64>,
    /// Largest stated drift of a crossflow cell, fraction of its water.
    pub drift_crossflow: Option<f64>,
    /// Cold water less wet bulb, K.
    pub approach_kelvin: Option<f64>,
    /// Hot less cold water, K.
    pub range_kelvin: Option<f64>,
    /// Smallest stated water-to-air ratio of a cell.
    pub lowest_water_to_air: Option<f64>,
    /// Largest stated water-to-air ratio of a cell.
    pub highest_water_to_air: Option<f64>,
    /// Water entering the tower, degC.
    pub hot_water_celsius: Option<f64>,
    /// Entering air, degC.
    pub dry_bulb_celsius: Option<f64>,
    /// Evaporation over the trade rule's.
    pub evaporation_over_rule: Option<f64>,
    /// Cycles of concentration reached.
    pub cycles: f64,
    /// Whether any water evaporates.
    pub evaporates: bool,
    /// Whether the other liquid losses shut the blowdown.
    pub losses_exceed_blowdown: bool,
    /// Leakage and overflow as a part of makeup.
    pub unwanted_share: f64,
    /// Makeup over circulation.
    pub makeup_over_circulation: f64,
}

impl Observed {
    /// Largest stated drift of any cell.
    fn drift(&self) -> Option<f64> {
        match (self.drift_counterflow, self.drift_crossflow) {
            (Some(a), Some(b)) => Some(a.max(b)),
            (a, b) => a.or(b),
        }
    }
}

/// One thing to warn of.
pub struct Warning {
    /// Stable name.
    pub id: &'static str,
    /// What is out of range, as people call it.
    pub subject: &'static str,
    /// What the value measures.
    pub quantity: Quantity,
    /// The usual range.
    pub usual: fn() -> String,
    /// Where that range comes from.
    pub source: &'static str,
    /// What it means and what to look at.
    pub advice: &'static str,
    /// Whether a loss stands behind it that can be priced.
    pub is_drift_loss: bool,
    /// The value that is out of range, in the SI unit of `quantity`; `None` where all is well.
    pub test: fn(&Observed) -> Option<f64>,
}

/// Every warning. A place in this list is a bit in a [`WarningSet`].
pub static WARNINGS: &[&Warning] = &[
    &drift::ABOVE_CODE_LIMIT,
    &drift::ELIMINATORS_FAILED,
    &drift::LIKELY_INPUT_ERROR,
    &drift::COSTLY_FAULT,
    &tower::APPROACH_TOO_CLOSE,
    &tower::RANGE_UNUSUAL,
    &tower::WATER_TO_AIR_UNUSUAL,
    &tower::EVAPORATION_FAR_FROM_RULE,
    &tower::HOT_WATER_TOO_HOT,
    &tower::FREEZING_AIR,
    &balance::CYCLES_LOW,
    &balance::CYCLES_HIGH,
    &balance::LOSSES_ABOVE_BLOWDOWN,
    &balance::UNWANTED_LOSS,
    &balance::NO_LIQUID_LEAVES,
    &balance::MAKEUP_TOO_LARGE,
];

/// Something to warn of that a page works out for itself.
#[derive(Debug)]
pub struct Notice {
    /// Stable name.
    pub id: &'static str,
    /// The command whose page shows it; several are joined by "and".
    pub command: &'static str,
    /// What is usual.
    pub usual: fn() -> String,
    /// Where that comes from.
    pub source: &'static str,
    /// What to look at.
    pub advice: &'static str,
}

impl PartialEq for Notice {
    fn eq(&self, other: &Self) -> bool {
        self.id == other.id
    }
}

/// Every notice, in the order of commands.
pub static NOTICES: &[&Notice] = &[
    &money::CHEMICALS_NOT_COUNTED,
    &money::SEWER_ON_EVAPORATION,
    &money::SEWER_CREDIT_FOR_LEAKS,
    &money::SEWER_MISSES_LOSSES,
    &blowdown::VALVE_TOO_SMALL,
    &blowdown::NEW_GALVANISED,
    &blowdown::CORROSION_POSSIBLE,
    &blowdown::DEPOSIT_POSSIBLE,
    &blowdown::FOULING_POSSIBLE,
    &blowdown::SOURCES_DISAGREE,
    &blowdown::LIMIT_NOT_JUDGED,
    &blowdown::IONS_OUT_OF_BALANCE,
    &blowdown::CONDUCTIVITY_OFF_IONS,
    &blowdown::CARBON_DIOXIDE_UNUSUAL,
    &blowdown::ACID_NOT_NEEDED,
    &blowdown::CIRCULATING_WATER_WEAKER,
    &blowdown::CORROSION_NOT_JUDGED,
    &blowdown::CALCITE_INDEX_HIGH,
    &blowdown::HALF_LIFE_LONG,
    &blowdown::HALF_LIFE_SHORT,
    &blowdown::FLOOR_NOT_MET,
    &blowdown::TARGET_CYCLES_HIGH,
    &blowdown::MUCH_MADE_UP,
    &blowdown::DISSOLVED_SOLIDS_OFF,
    &blowdown::P_ALKALINITY_OFF_PH,
    &blowdown::CONDUCTIVITY_COMPUTED,
    &blowdown::MEASURED_CYCLES_DIFFER,
    &blowdown::ACID_NOT_STATED,
    &blowdown::OWN_TEST_CONTRADICTS,
    &blowdown::ODD_ION,
    &blowdown::LIMIT_ON_MADE_UP_ION,
    &analysis::ANALYSIS_SLIP,
    &analysis::MAKEUP_PH_ODD,
    &analysis::SAMPLE_OLD,
    &feed::LOCK_RAISES_CYCLES,
    &feed::SLUG_WORKS_BRIEFLY,
    &feed::ACID_WITHOUT_PH,
    &feed::PUMP_TOO_SMALL,
    &feed::PUMP_TOO_LARGE,
    &feed::PUMP_WITHOUT_DENSITY,
    &feed::AMMONIA_TAKES_OXIDANT,
    &level::VALVE_BELOW_DEMAND,
    &level::VALVE_WITHOUT_RESERVE,
    &level::OVERFLOW_UNKNOWN,
    &level::OVERFLOW_TOO_SMALL,
    &level::RUN_BACK_OVERFLOWS,
    &level::SUCTION_UNCOVERED,
    &level::ALARM_TOO_LATE,
    &level::AIR_GAP_SMALL,
    &year::TOWER_FAILS,
    &year::COLD_WATER_ABOVE_LIMIT,
    &year::WATER_WOULD_FREEZE,
    &year::PRESSURE_OFF_SITE,
    &readings::ROWS_NOT_USED,
    &readings::READING_MISSED,
];

/// A notice with what the numbers at hand make of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Noticed {
    /// Which.
    pub notice: &'static Notice,
    /// In words, with the numbers.
    pub message: String,
}

impl Notice {
    /// With what the numbers at hand make of it.
    pub(crate) fn with(&'static self, message: impl Into<String>) -> Noticed {
        Noticed { notice: self, message: message.into() }
    }
}

/// A fraction in per cent, as it was written.
fn percent(fraction: f64) -> String {
    format!("{} %", shortest(100.0 * fraction))
}

/// A number without the last digit of its binary form.
fn shortest(number: f64) -> f64 {
    (number * 1e9).round() / 1e9
}

/// The warnings of one run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct WarningSet(u32);

impl WarningSet {
    /// The warnings that these numbers raise.
    pub fn of(observed: &Observed) -> Self {
        let raised = |(bit, warning): (usize, &&Warning)| {
            (warning.test)(observed).map_or(0, |_| 1u32 << bit)
        };
        Self(WARNINGS.iter().enumerate().map(raised).sum())
    }

    /// Whether there are none.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// The warnings, in the order of [`WARNINGS`].
    pub fn iter(self) -> impl Iterator<Item = &'static Warning> {
        WARNINGS
            .iter()
            .enumerate()
            .filter(move |(bit, _)| self.0 & (1 << bit) != 0)
            .map(|(_, w)| *w)
    }
}

/// The caution about droplets, once on every sheet that shows drift.
pub const AEROSOL_CAUTION: &str = "Droplets from a cooling tower can carry Legionella and treatment chemicals. \
A closed water balance does not show that drift is safe: inspect the eliminators, and keep to the \
local code and to a water management plan by a competent person.";

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers of a tower in good order.
    fn healthy() -> Observed {
        Observed {
            drift_counterflow: Some(1e-5),
            drift_crossflow: Some(4e-5),
            approach_kelvin: Some(5.0),
            range_kelvin: Some(8.0),
            lowest_water_to_air: Some(1.2),
            highest_water_to_air: Some(1.4),
            hot_water_celsius: Some(37.0),
            dry_bulb_celsius: Some(32.0),
            evaporation_over_rule: Some(1.05),
            cycles: 5.0,
            evaporates: true,
            losses_exceed_blowdown: false,
            unwanted_share: 0.0,
            makeup_over_circulation: 0.02,
        }
    }

    fn ids(observed: &Observed) -> Vec<&'static str> {
        WarningSet::of(observed).iter().map(|warning| warning.id).collect()
    }

    #[test]
    fn a_healthy_tower_raises_nothing() {
        assert!(WarningSet::of(&healthy()).is_empty(), "{:?}", ids(&healthy()));
    }

    #[test]
    fn ids_are_unique_and_fit_the_set() {
        let notices = NOTICES.iter().map(|notice| notice.id);
        let mut ids: Vec<_> = WARNINGS.iter().map(|warning| warning.id).chain(notices).collect();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), WARNINGS.len() + NOTICES.len());
        assert!(WARNINGS.len() <= 32);
    }

    #[test]
    fn drift_has_one_warning_a_step() {
        for (drift, expected) in [
            (3e-5, "drift_above_code_limit"),
            (3e-4, "drift_eliminators_failed"),
            (3e-3, "drift_likely_input_error"),
            (2e-2, "drift_costly_fault"),
        ] {
            let observed = Observed { drift_counterflow: Some(drift), ..healthy() };
            assert_eq!(ids(&observed), [expected], "{drift}");
        }
        // Crossflow eliminators are allowed more.
        assert!(ids(&Observed { drift_crossflow: Some(5e-5), ..healthy() }).is_empty());
    }

    #[test]
    fn every_other_warning_can_be_raised() {
        let cases: [(Observed, &str); 13] = [
            (Observed { approach_kelvin: Some(1.0), ..healthy() }, "approach_too_close"),
            (Observed { range_kelvin: Some(25.0), ..healthy() }, "range_unusual"),
            (Observed { range_kelvin: Some(1.0), ..healthy() }, "range_unusual"),
            (Observed { highest_water_to_air: Some(3.5), ..healthy() }, "water_to_air_unusual"),
            (
                Observed { evaporation_over_rule: Some(0.3), ..healthy() },
                "evaporation_far_from_rule",
            ),
            (Observed { hot_water_celsius: Some(60.0), ..healthy() }, "hot_water_too_hot"),
            (Observed { dry_bulb_celsius: Some(-2.0), ..healthy() }, "freezing_air"),
            (Observed { cycles: 2.0, ..healthy() }, "cycles_low"),
            (Observed { cycles: 15.0, ..healthy() }, "cycles_high"),
            (Observed { losses_exceed_blowdown: true, ..healthy() }, "losses_above_blowdown"),
            (Observed { unwanted_share: 0.1, ..healthy() }, "unwanted_loss"),
            (Observed { cycles: f64::INFINITY, ..healthy() }, "no_liquid_leaves"),
            (Observed { makeup_over_circulation: 0.2, ..healthy() }, "makeup_too_large"),
        ];
        for (observed, expected) in cases {
            assert_eq!(ids(&observed), [expected]);
        }
    }
}
