//! Rules of thumb: evaporation from the range alone.

use crate::air::{VAPORISATION, VAPOUR_HEAT, WATER_HEAT};
use crate::equation::Equation;

/// Perry's factor, 0.00085 for each degF, as kg evaporated for each kg of circulation and K of range.
pub const RULE_FACTOR_PER_KELVIN: f64 = 0.00085 * 1.8;

/// The factor of the 1 % rule: 1 % of circulation for 10 degF of range, for each K.
pub const ONE_PERCENT_PER_KELVIN: f64 = 0.01 / 10.0 * 1.8;

/// Perry's rule.
pub const RULE: Equation = Equation {
    id: "rule",
    text: "evaporation = 0.00153 * circulation * range",
    source: "Perry's Chemical Engineers' Handbook, section 12 (from memory): 0.00085 x flow x range in degF",
};

/// The 1 % rule.
pub const RULE_ONE_PERCENT: Equation = Equation {
    id: "rule_one_percent",
    text: "evaporation = 0.0018 * circulation * range",
    source: "common practice: 1 % of circulation for 10 degF of range",
};

/// The latent-heat bound.
pub const LATENT: Equation = Equation {
    id: "latent",
    text: "evaporation = circulation * 4.186 * range / (2501 - 2.326 * mean_water)",
    source: "heat balance with all heat as latent heat; enthalpies of ASHRAE Fundamentals (2017), ch. 1",
};

/// Evaporation by [`RULE`], kg in a kg of circulation; `range_kelvin` is the range of the water.
pub fn perry(range_kelvin: f64) -> f64 {
    RULE_FACTOR_PER_KELVIN * range_kelvin
}

/// Evaporation by [`RULE_ONE_PERCENT`], kg in a kg of circulation.
pub fn one_percent(range_kelvin: f64) -> f64 {
    ONE_PERCENT_PER_KELVIN * range_kelvin
}

/// Evaporation by [`LATENT`], kg in a kg of circulation, at the mean temperature of the water.
///
/// An upper bound only where the air is not warmer than the water: hot dry air cools as well, and
/// gives its heat to evaporation.
pub fn latent(range_kelvin: f64, mean_water_celsius: f64) -> f64 {
    WATER_HEAT * range_kelvin / latent_heat_j_per_kg(mean_water_celsius)
}

/// Latent heat in the enthalpies of ASHRAE Fundamentals (2017), ch. 1, J/kg.
pub fn latent_heat_j_per_kg(celsius: f64) -> f64 {
    VAPORISATION + (VAPOUR_HEAT - WATER_HEAT) * celsius
}
