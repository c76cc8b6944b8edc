//! Temperatures, air and evaporation out of their usual range.

use super::Warning;
use crate::quantity::{Quantity, unit};
use crate::water::ZERO_CELSIUS;

/// K.
const CLOSEST_APPROACH: f64 = 2.8;
/// K.
const USUAL_RANGE: [f64; 2] = [3.0, 20.0];
const USUAL_WATER_TO_AIR: [f64; 2] = [0.5, 2.5];
/// Evaporation over the trade rule's.
const USUAL_OVER_RULE: [f64; 2] = [0.5, 1.8];
/// Of common plastic fill, °C.
const HOTTEST_CELSIUS: f64 = 49.0;

fn outside(value: Option<f64>, [low, high]: [f64; 2]) -> Option<f64> {
    value.filter(|value| *value < low || *value > high)
}

pub(super) static APPROACH_TOO_CLOSE: Warning = Warning {
    id: "approach_too_close",
    subject: "approach (cold water less wet bulb)",
    quantity: Quantity::TemperatureDifference,
    usual: || {
        let fahrenheit = unit::FAHRENHEIT_DIFFERENCE.of_si(CLOSEST_APPROACH);
        format!("{CLOSEST_APPROACH} K ({fahrenheit:.0} °F) or more")
    },
    source: "common practice: the closest approach that makers guarantee",
    advice: "check the wet bulb (wick, shading, distance from the tower) and the cold-water thermometer",
    is_drift_loss: false,
    test: |observed| {
        observed.approach_kelvin.filter(|approach| *approach < CLOSEST_APPROACH - 1e-9)
    },
};

pub(super) static RANGE_UNUSUAL: Warning = Warning {
    id: "range_unusual",
    subject: "range (hot less cold water)",
    quantity: Quantity::TemperatureDifference,
    usual: || format!("{} to {} K", USUAL_RANGE[0], USUAL_RANGE[1]),
    source: "common practice",
    advice: "check both thermometers and the circulation; a bypass shows as a small range",
    is_drift_loss: false,
    test: |observed| outside(observed.range_kelvin, USUAL_RANGE),
};

pub(super) static WATER_TO_AIR_UNUSUAL: Warning = Warning {
    id: "water_to_air_unusual",
    subject: "water-to-air mass ratio",
    quantity: Quantity::Ratio,
    usual: || format!("{} to {}", USUAL_WATER_TO_AIR[0], USUAL_WATER_TO_AIR[1]),
    source: "common practice",
    advice: "check the air flow (mass of dry air) and the cell's share of water",
    is_drift_loss: false,
    test: |observed| {
        let [low, high] = USUAL_WATER_TO_AIR;
        outside(observed.lowest_water_to_air, [low, f64::INFINITY])
            .or(outside(observed.highest_water_to_air, [0.0, high]))
    },
};

pub(super) static EVAPORATION_FAR_FROM_RULE: Warning = Warning {
    id: "evaporation_far_from_rule",
    subject: "evaporation over the trade rule's",
    quantity: Quantity::Ratio,
    usual: || format!("{} to {}", USUAL_OVER_RULE[0], USUAL_OVER_RULE[1]),
    source: "the spread of the full transfer equations about 0.00085 x flow x °F from hard winter to desert",
    advice: "check hot and cold water, wet bulb and the evaporation stated",
    is_drift_loss: false,
    test: |observed| outside(observed.evaporation_over_rule, USUAL_OVER_RULE),
};

pub(super) static HOT_WATER_TOO_HOT: Warning = Warning {
    id: "hot_water_too_hot",
    subject: "hot water",
    quantity: Quantity::Temperature,
    usual: || {
        let fahrenheit = unit::FAHRENHEIT.of_si(HOTTEST_CELSIUS + ZERO_CELSIUS);
        format!("at most {HOTTEST_CELSIUS} °C ({fahrenheit:.0} °F) for common plastic fill")
    },
    source: "common practice; the maker's limit for the fill holds",
    advice: "plastic fill softens and sags: check the fill's rating and the thermometer",
    is_drift_loss: false,
    test: |observed| {
        observed
            .hot_water_celsius
            .filter(|celsius| *celsius > HOTTEST_CELSIUS)
            .map(|celsius| celsius + ZERO_CELSIUS)
    },
};

pub(super) static FREEZING_AIR: Warning = Warning {
    id: "freezing_air",
    subject: "entering dry bulb",
    quantity: Quantity::Temperature,
    usual: || "above 0 °C".into(),
    source: "common practice",
    advice: "ice forms at the air inlet: watch louvres and fill; below 0 °C a wet bulb is taken as that of an iced wick",
    is_drift_loss: false,
    test: |observed| {
        observed
            .dry_bulb_celsius
            .filter(|celsius| *celsius < 0.0)
            .map(|celsius| celsius + ZERO_CELSIUS)
    },
};
