//! Temperatures, air and evaporation out of their usual range.

use super::Warning;
use crate::quantity::Quantity;
use crate::water::ZERO_CELSIUS;

fn outside(value: Option<f64>, low: f64, high: f64) -> Option<f64> {
    value.filter(|value| *value < low || *value > high)
}

pub(super) static APPROACH_TOO_CLOSE: Warning = Warning {
    id: "approach_too_close",
    subject: "approach (cold water less wet bulb)",
    quantity: Quantity::TemperatureDifference,
    usual: "2.8 K (5 degF) or more",
    source: "common practice: the closest approach that makers guarantee",
    advice: "check the wet bulb (wick, shading, distance from the tower) and the cold-water thermometer",
    is_drift_loss: false,
    test: |observed| observed.approach_kelvin.filter(|approach| *approach < 2.8 - 1e-9),
};

pub(super) static RANGE_UNUSUAL: Warning = Warning {
    id: "range_unusual",
    subject: "range (hot less cold water)",
    quantity: Quantity::TemperatureDifference,
    usual: "3 to 20 K",
    source: "common practice",
    advice: "check both thermometers and the circulation; a bypass shows as a small range",
    is_drift_loss: false,
    test: |observed| outside(observed.range_kelvin, 3.0, 20.0),
};

pub(super) static WATER_TO_AIR_UNUSUAL: Warning = Warning {
    id: "water_to_air_unusual",
    subject: "water-to-air mass ratio",
    quantity: Quantity::Ratio,
    usual: "0.5 to 2.5",
    source: "common practice",
    advice: "check the air flow (mass of dry air) and the cell's share of water",
    is_drift_loss: false,
    test: |observed| {
        outside(observed.lowest_water_to_air, 0.5, f64::INFINITY).or(outside(
            observed.highest_water_to_air,
            0.0,
            2.5,
        ))
    },
};

pub(super) static EVAPORATION_FAR_FROM_RULE: Warning = Warning {
    id: "evaporation_far_from_rule",
    subject: "evaporation over the trade rule's",
    quantity: Quantity::Ratio,
    usual: "0.5 to 1.8",
    source: "the spread of the full transfer equations about 0.00085 x flow x degF from hard winter to desert",
    advice: "check hot and cold water, wet bulb and the evaporation stated",
    is_drift_loss: false,
    test: |observed| outside(observed.evaporation_over_rule, 0.5, 1.8),
};

pub(super) static HOT_WATER_TOO_HOT: Warning = Warning {
    id: "hot_water_too_hot",
    subject: "hot water",
    quantity: Quantity::Temperature,
    usual: "at most 49 degC (120 degF) for common plastic fill",
    source: "common practice; the maker's limit for the fill holds",
    advice: "plastic fill softens and sags: check the fill's rating and the thermometer",
    is_drift_loss: false,
    test: |observed| {
        observed
            .hot_water_celsius
            .filter(|celsius| *celsius > 49.0)
            .map(|celsius| celsius + ZERO_CELSIUS)
    },
};

pub(super) static FREEZING_AIR: Warning = Warning {
    id: "freezing_air",
    subject: "entering dry bulb",
    quantity: Quantity::Temperature,
    usual: "above 0 degC",
    source: "common practice",
    advice: "ice forms at the air inlet: watch louvres and fill; below 0 degC a wet bulb is taken as that of an iced wick",
    is_drift_loss: false,
    test: |observed| {
        observed
            .dry_bulb_celsius
            .filter(|celsius| *celsius < 0.0)
            .map(|celsius| celsius + ZERO_CELSIUS)
    },
};
