//! Moist-air psychrometrics (ASHRAE Fundamentals ch. 1).

/// The state of moist air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MoistAir {
    /// Dry-bulb temperature, degC.
    pub dry_bulb_celsius: f64,
    /// Humidity ratio, kg of vapour per kg of dry air.
    pub humidity_ratio: f64,
    /// Station pressure, Pa.
    pub pressure_pascal: f64,
}

/// Why a state of air cannot be computed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AirError {
    /// to be completed
    #[error("wet bulb {wet_bulb_celsius} degC is above the dry bulb {dry_bulb_celsius} degC")]
    WetBulbAboveDryBulb {
        /// degC
        wet_bulb_celsius: f64,
        /// degC
        dry_bulb_celsius: f64,
    },
}

/// Standard-atmosphere pressure at an altitude (m), Pa.
pub fn pressure_at_altitude_pascal(_altitude_metre: f64) -> Result<f64, AirError> {
    todo!()
}
/// Saturation pressure over ice (below 0.01 degC) or water, Pa. Checked range.
pub fn saturation_pressure_pascal(_temperature_celsius: f64) -> Result<f64, AirError> {
    todo!()
}
/// Humidity ratio of saturated air.
pub fn saturation_humidity_ratio(
    _temperature_celsius: f64,
    _pressure_pascal: f64,
) -> Result<f64, AirError> {
    todo!()
}

impl MoistAir {
    /// From dry bulb and wet bulb.
    pub fn from_wet_bulb(
        _dry_bulb_celsius: f64,
        _wet_bulb_celsius: f64,
        _pressure_pascal: f64,
    ) -> Result<Self, AirError> {
        todo!()
    }
    /// From dry bulb and relative humidity (0 to 1).
    pub fn from_relative_humidity(
        _dry_bulb_celsius: f64,
        _relative_humidity: f64,
        _pressure_pascal: f64,
    ) -> Result<Self, AirError> {
        todo!()
    }
    /// From dry bulb and dew point.
    pub fn from_dew_point(
        _dry_bulb_celsius: f64,
        _dew_point_celsius: f64,
        _pressure_pascal: f64,
    ) -> Result<Self, AirError> {
        todo!()
    }
    /// From wet bulb and relative humidity (solves for the dry bulb).
    pub fn from_wet_bulb_and_relative_humidity(
        _wet_bulb_celsius: f64,
        _relative_humidity: f64,
        _pressure_pascal: f64,
    ) -> Result<Self, AirError> {
        todo!()
    }
    /// 0 to 1.
    pub fn relative_humidity(&self) -> f64 {
        todo!()
    }
    /// Thermodynamic wet bulb, degC.
    pub fn wet_bulb_celsius(&self) -> Result<f64, AirError> {
        todo!()
    }
    /// Dew (or frost) point, degC.
    pub fn dew_point_celsius(&self) -> Result<f64, AirError> {
        todo!()
    }
    /// Specific enthalpy, J per kg of dry air.
    pub fn enthalpy_j_per_kg(&self) -> f64 {
        todo!()
    }
    /// Specific volume, m3 per kg of dry air.
    pub fn specific_volume_m3_per_kg(&self) -> f64 {
        todo!()
    }
    /// Density of the mixture, kg/m3.
    pub fn density_kg_per_m3(&self) -> f64 {
        todo!()
    }
}
