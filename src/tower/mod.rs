//! Evaporation and cooling in the tower by named methods.
pub mod merkel;
pub mod poppe;
pub mod rule;

use crate::air::MoistAir;

/// How air and water meet in the fill.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Arrangement {
    /// Air rises against the falling water.
    Counterflow,
    /// Air crosses the falling water.
    Crossflow,
}

/// What a tower, or one cell, does: the two ends of the water and of the air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Duty {
    /// Water entering the fill, degC.
    pub hot_water_celsius: f64,
    /// Mean temperature of the water leaving the fill, degC.
    pub cold_water_celsius: f64,
    /// Air entering the fill.
    pub entering_air: MoistAir,
    /// Inlet (hot) water mass flow over dry-air mass flow.
    pub water_to_air: f64,
}

/// What the method found. All per the basis named in the field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exchange {
    /// Water evaporated (vapour and mist leaving with the air beyond what entered), kg per kg of inlet water.
    pub evaporation_per_water: f64,
    /// Merkel (transfer) number; `None` where the method has none.
    pub merkel_number: f64,
    /// Enthalpy of the leaving air, J per kg of dry air (mixed mean in crossflow).
    pub exit_enthalpy_j_per_kg: f64,
    /// Water carried by the leaving air, vapour and mist together, kg per kg of dry air (mixed mean).
    pub exit_humidity_ratio: f64,
    /// Temperature of the leaving air (mixed), degC.
    pub exit_temperature_celsius: f64,
    /// Mist part of `exit_humidity_ratio`, kg per kg of dry air; 0 when unsaturated.
    pub exit_mist_ratio: f64,
}

/// Why a duty has no solution.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TowerError {
    /// Hot water not above cold water.
    #[error("hot water {hot_water_celsius} degC is not above cold water {cold_water_celsius} degC")]
    NoRange {
        /// degC
        hot_water_celsius: f64,
        /// degC
        cold_water_celsius: f64,
    },
    /// Cold water at or below the wet bulb of the entering air.
    #[error(
        "cold water {cold_water_celsius} degC is at or below the wet bulb {wet_bulb_celsius} degC"
    )]
    ColdWaterAtWetBulb {
        /// degC
        cold_water_celsius: f64,
        /// degC
        wet_bulb_celsius: f64,
    },
    /// The air would have to carry more heat than saturation at the water's temperature allows.
    #[error(
        "pinch: water-to-air ratio {water_to_air} is above the limiting {limiting_water_to_air}"
    )]
    Pinch {
        /// as asked
        water_to_air: f64,
        /// the largest ratio for which the duty has a solution
        limiting_water_to_air: f64,
    },
}
/// stand-in
pub const WATER_SPECIFIC_HEAT_J_PER_KG_K: f64 = 4186.0;
