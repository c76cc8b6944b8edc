//! Moist-air psychrometrics after ASHRAE Handbook - Fundamentals (2017), chapter 1, at any station
//! pressure.
//!
//! Valid from -30 to 70 degC and from 50 to 110 kPa; functions that take numbers from people check
//! that. Air and vapour are ideal gases here: leaving the enhancement factor out costs 0.4 to
//! 0.75 % of the humidity ratio against the real gas in the weather of towers near sea level, 0.2 %
//! in thin frosty air, 0.9 % in saturated air of 70 degC. The wet bulb lies within 0.03 K of the
//! real gas.
//!
//! From dry and wet bulb the humidity ratio comes out 3e-5 to 9e-5 too low, which is a larger part of
//! it the less there is: 0.8 % at 40 degC with a wet bulb of 20 degC, 2.2 % at 45 with 18 (against the
//! real gas of CoolProp, at sea level). That moves evaporation by less than 0.05 %, because it is the
//! heat that decides, and KaV/L by up to 0.6 %.
//!
//! Humidity ratio is kg of water in a kg of dry air, enthalpy is J in a kg of dry air with its
//! water, both zero for dry air and liquid water at 0 degC.
//!
//! ```
//! use coldbasin::air::{MoistAir, pressure_at_altitude_pascal};
//!
//! let pressure = pressure_at_altitude_pascal(150.0)?;
//! let air = MoistAir::from_wet_bulb(32.0, 23.0, pressure)?;
//! assert!((0.01..0.02).contains(&air.humidity_ratio));
//! assert!((air.wet_bulb_celsius()? - 23.0).abs() < 1e-6);
//! // What cannot be is an error that says why.
//! assert!(MoistAir::from_wet_bulb(23.0, 32.0, pressure).is_err());
//! # Ok::<(), coldbasin::air::AirError>(())
//! ```

use crate::quantity::{Quantity, in_both_systems};
use crate::root;
use crate::water::ZERO_CELSIUS;

/// Specific heat of dry air, J/(kg K).
pub(crate) const DRY_AIR_HEAT: f64 = 1_006.0;
/// Specific heat of water vapour, J/(kg K).
pub(crate) const VAPOUR_HEAT: f64 = 1_860.0;
/// Specific heat of liquid water in the equations of this chapter, J/(kg K): eq. 33 carries liquid
/// at 4.186 t, so the same number closes the energy balance of the tower methods.
pub(crate) const WATER_HEAT: f64 = 4_186.0;
/// Enthalpy of vapour at 0 degC, J/kg.
pub(crate) const VAPORISATION: f64 = 2_501_000.0;
/// Ratio of the molar masses of water and dry air.
const MOLAR_RATIO: f64 = 0.621_945;
/// Gas constant of dry air, J/(kg K).
const DRY_AIR_GAS_CONSTANT: f64 = 287.042;
/// Triple point of water, degC: ice below, liquid above.
pub(crate) const TRIPLE_POINT: f64 = 0.01;
/// The state of moist air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MoistAir {
    /// Dry-bulb temperature, degC.
    pub dry_bulb_celsius: f64,
    /// Humidity ratio, kg/kg.
    pub humidity_ratio: f64,
    /// Station pressure, Pa.
    pub pressure_pascal: f64,
}

/// Why a state of air cannot be computed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AirError {
    /// A number outside the range of the formulas, or no number at all.
    #[error("{what} is {}: the formulas hold from {} to {}", with(*value, unit), with(*least, unit), with(*most, unit))]
    OutOfRange {
        /// Which number.
        what: &'static str,
        /// The number.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// Smallest valid value.
        least: f64,
        /// Largest valid value.
        most: f64,
    },
    /// The wet bulb cannot be above the dry bulb.
    #[error("wet bulb {} is above the dry bulb {}", temperature_in_both(*.wet_bulb_celsius), temperature_in_both(*.dry_bulb_celsius))]
    WetBulbAboveDryBulb {
        /// degC
        wet_bulb_celsius: f64,
        /// degC
        dry_bulb_celsius: f64,
    },
    /// The dew point cannot be above the dry bulb.
    #[error("dew point {} is above the dry bulb {}", temperature_in_both(*.dew_point_celsius), temperature_in_both(*.dry_bulb_celsius))]
    DewPointAboveDryBulb {
        /// degC
        dew_point_celsius: f64,
        /// degC
        dry_bulb_celsius: f64,
    },
    /// Even dry air has a higher wet bulb.
    #[error("wet bulb {} is lower than dry air of {} can have", temperature_in_both(*.wet_bulb_celsius), temperature_in_both(*.dry_bulb_celsius))]
    WetBulbTooLow {
        /// degC
        wet_bulb_celsius: f64,
        /// degC
        dry_bulb_celsius: f64,
    },
    /// Water boils at this temperature and pressure.
    #[error("water boils at {} and {}", temperature_in_both(*.temperature_celsius), in_both_systems(Quantity::Pressure, *.pressure_pascal))]
    Boiling {
        /// degC
        temperature_celsius: f64,
        /// Pa
        pressure_pascal: f64,
    },
}

/// A number with its unit, where it has one, in both systems of units where they differ.
fn with(number: f64, unit: &str) -> String {
    match unit {
        "°C" => temperature_in_both(number),
        "Pa" => in_both_systems(Quantity::Pressure, number),
        "m" => in_both_systems(Quantity::Length, number),
        _ => format!("{number} {unit}").trim_end().to_owned(),
    }
}

/// A temperature, degC, in both systems of units.
pub(crate) fn temperature_in_both(celsius: f64) -> String {
    in_both_systems(Quantity::Temperature, celsius + ZERO_CELSIUS)
}

type Result<T> = std::result::Result<T, AirError>;

fn within(
    what: &'static str,
    unit: &'static str,
    value: f64,
    least: f64,
    most: f64,
) -> Result<f64> {
    if value >= least && value <= most {
        Ok(value)
    } else {
        Err(AirError::OutOfRange { what, value, unit, least, most })
    }
}

fn temperature(what: &'static str, celsius: f64) -> Result<f64> {
    within(what, "°C", celsius, -30.0, 70.0)
}

fn pressure(pascal: f64) -> Result<f64> {
    within("pressure", "Pa", pascal, 50e3, 110e3)
}

/// Pressure of the standard atmosphere at an altitude of -600 to 5500 m, Pa (eq. 3).
///
/// # Errors
/// [`AirError::OutOfRange`].
pub fn pressure_at_altitude_pascal(altitude_metre: f64) -> Result<f64> {
    let metre = within("altitude", "m", altitude_metre, -600.0, 5_500.0)?;
    Ok(101_325.0 * (1.0 - 2.255_77e-5 * metre).powf(5.255_9))
}

/// Saturation pressure of water vapour over ice (below 0.01 degC, eq. 5) or liquid water (eq. 6),
/// Pa, from -60 to 100 degC (Hyland and Wexler, 1983).
///
/// # Errors
/// [`AirError::OutOfRange`].
pub fn saturation_pressure_pascal(temperature_celsius: f64) -> Result<f64> {
    Ok(saturation_pressure(within("temperature", "°C", temperature_celsius, -60.0, 100.0)?))
}

/// [`saturation_pressure_pascal`] without its check.
pub(crate) fn saturation_pressure(celsius: f64) -> f64 {
    let t = celsius + ZERO_CELSIUS;
    let logarithm = if celsius <= TRIPLE_POINT {
        -5.674_535_9e3 / t
            + 6.392_524_7
            + t * (-9.677_843_0e-3
                + t * (6.221_570_1e-7 + t * (2.074_782_5e-9 - t * 9.484_024_0e-13)))
            + 4.163_501_9 * t.ln()
    } else {
        -5.800_220_6e3 / t
            + 1.391_499_3
            + t * (-4.864_023_9e-2 + t * (4.176_476_8e-5 - t * 1.445_209_3e-8))
            + 6.545_967_3 * t.ln()
    };
    logarithm.exp()
}

/// Derivative of the saturation pressure, Pa/K, from the pressure itself.
fn saturation_slope(celsius: f64, saturation_pressure: f64) -> f64 {
    let t = celsius + ZERO_CELSIUS;
    let of_logarithm = if celsius <= TRIPLE_POINT {
        5.674_535_9e3 / (t * t) - 9.677_843_0e-3
            + t * (2.0 * 6.221_570_1e-7 + t * (3.0 * 2.074_782_5e-9 - t * 4.0 * 9.484_024_0e-13))
            + 4.163_501_9 / t
    } else {
        5.800_220_6e3 / (t * t) - 4.864_023_9e-2
            + t * (2.0 * 4.176_476_8e-5 - t * 3.0 * 1.445_209_3e-8)
            + 6.545_967_3 / t
    };
    saturation_pressure * of_logarithm
}

/// Humidity ratio at a vapour pressure (eq. 20).
fn humidity_ratio_at(vapour_pressure: f64, pressure: f64) -> f64 {
    MOLAR_RATIO * vapour_pressure / (pressure - vapour_pressure)
}

/// Humidity ratio of saturated air (eq. 21), kg/kg.
///
/// # Errors
/// [`AirError`] outside the ranges, and where water boils.
pub fn saturation_humidity_ratio(temperature_celsius: f64, pressure_pascal: f64) -> Result<f64> {
    let saturation = saturation_pressure_pascal(temperature_celsius)?;
    if saturation >= pressure(pressure_pascal)? {
        return Err(AirError::Boiling { temperature_celsius, pressure_pascal });
    }
    Ok(humidity_ratio_at(saturation, pressure_pascal))
}

/// [`saturation_humidity_ratio`] without its checks; below the boiling point only.
pub(crate) fn saturated(celsius: f64, pressure: f64) -> f64 {
    humidity_ratio_at(saturation_pressure(celsius), pressure)
}

/// Enthalpy of moist air with its water all vapour (eq. 30), J/kg.
pub(crate) fn enthalpy(celsius: f64, humidity_ratio: f64) -> f64 {
    DRY_AIR_HEAT * celsius + humidity_ratio * (VAPORISATION + VAPOUR_HEAT * celsius)
}

/// Temperature of moist air with its water all vapour, degC: [`enthalpy`] turned round.
pub(crate) fn temperature_of(enthalpy: f64, humidity_ratio: f64) -> f64 {
    (enthalpy - VAPORISATION * humidity_ratio) / (DRY_AIR_HEAT + VAPOUR_HEAT * humidity_ratio)
}

/// Humidity ratio from dry and wet bulb: eq. 33 above freezing, eq. 35 for an iced wick below.
fn humidity_ratio_of_bulbs(dry: f64, wet: f64, pressure: f64) -> f64 {
    let saturated = saturated(wet, pressure);
    let below = dry - wet;
    if wet > TRIPLE_POINT {
        ((VAPORISATION - (WATER_HEAT - VAPOUR_HEAT) * wet) * saturated - DRY_AIR_HEAT * below)
            / (VAPORISATION + VAPOUR_HEAT * dry - WATER_HEAT * wet)
    } else {
        const SUBLIMATION: f64 = 2_830_000.0;
        const ICE_HEAT: f64 = 2_100.0;
        ((SUBLIMATION - (ICE_HEAT - VAPOUR_HEAT) * wet) * saturated - DRY_AIR_HEAT * below)
            / (SUBLIMATION + VAPOUR_HEAT * dry - ICE_HEAT * wet)
    }
}

impl MoistAir {
    /// From dry bulb and wet bulb (eq. 33 and 35), degC and Pa. Below 0.01 degC the wick is taken as
    /// iced.
    ///
    /// # Errors
    /// [`AirError`] outside the ranges, for a wet bulb above the dry bulb or too low for any air.
    pub fn from_wet_bulb(
        dry_bulb_celsius: f64,
        wet_bulb_celsius: f64,
        pressure_pascal: f64,
    ) -> Result<Self> {
        let dry = temperature("dry bulb", dry_bulb_celsius)?;
        let wet = temperature("wet bulb", wet_bulb_celsius)?;
        pressure(pressure_pascal)?;
        if wet > dry {
            return Err(AirError::WetBulbAboveDryBulb { wet_bulb_celsius, dry_bulb_celsius });
        }
        let humidity_ratio = humidity_ratio_of_bulbs(dry, wet, pressure_pascal);
        if humidity_ratio < 0.0 {
            return Err(AirError::WetBulbTooLow { wet_bulb_celsius, dry_bulb_celsius });
        }
        Ok(Self { dry_bulb_celsius, humidity_ratio, pressure_pascal })
    }

    /// From dry bulb, degC, and relative humidity, 0 to 1 (eq. 12 and 20).
    ///
    /// # Errors
    /// [`AirError::OutOfRange`].
    pub fn from_relative_humidity(
        dry_bulb_celsius: f64,
        relative_humidity: f64,
        pressure_pascal: f64,
    ) -> Result<Self> {
        let dry = temperature("dry bulb", dry_bulb_celsius)?;
        let relative = within("relative humidity", "", relative_humidity, 0.0, 1.0)?;
        let vapour = relative * saturation_pressure(dry);
        let humidity_ratio = humidity_ratio_at(vapour, pressure(pressure_pascal)?);
        Ok(Self { dry_bulb_celsius, humidity_ratio, pressure_pascal })
    }

    /// From dry bulb and dew (below freezing: frost) point, degC.
    ///
    /// # Errors
    /// [`AirError`] outside the ranges (dew point from -60 degC), for a dew point above the dry bulb.
    pub fn from_dew_point(
        dry_bulb_celsius: f64,
        dew_point_celsius: f64,
        pressure_pascal: f64,
    ) -> Result<Self> {
        let dry = temperature("dry bulb", dry_bulb_celsius)?;
        let dew = within("dew point", "°C", dew_point_celsius, -60.0, 70.0)?;
        if dew > dry {
            return Err(AirError::DewPointAboveDryBulb { dew_point_celsius, dry_bulb_celsius });
        }
        let humidity_ratio = saturated(dew, pressure(pressure_pascal)?);
        Ok(Self { dry_bulb_celsius, humidity_ratio, pressure_pascal })
    }

    /// From wet bulb, degC, and relative humidity, above 0 to 1: the dry bulb is solved for.
    ///
    /// # Errors
    /// [`AirError`] outside the ranges, also where the dry bulb would lie above 70 degC.
    pub fn from_wet_bulb_and_relative_humidity(
        wet_bulb_celsius: f64,
        relative_humidity: f64,
        pressure_pascal: f64,
    ) -> Result<Self> {
        let wet = temperature("wet bulb", wet_bulb_celsius)?;
        let relative = within("relative humidity", "", relative_humidity, 0.0, 1.0)?;
        pressure(pressure_pascal)?;
        let excess = |dry: f64| {
            humidity_ratio_of_bulbs(dry, wet, pressure_pascal)
                - humidity_ratio_at(relative * saturation_pressure(dry), pressure_pascal)
        };
        // The excess falls from saturation at the wet bulb; a dry bulb above the range has no root.
        let dry_bulb_celsius = root::of_falling(excess, wet, 70.0).ok_or(AirError::OutOfRange {
            what: "dry bulb",
            value: f64::INFINITY,
            unit: "°C",
            least: -30.0,
            most: 70.0,
        })?;
        Self::from_relative_humidity(dry_bulb_celsius, relative, pressure_pascal)
    }

    /// Vapour pressure, Pa (eq. 20 turned round).
    fn vapour_pressure(&self) -> f64 {
        self.pressure_pascal * self.humidity_ratio / (MOLAR_RATIO + self.humidity_ratio)
    }

    /// Relative humidity (eq. 12); above 1 for supersaturated air.
    pub fn relative_humidity(&self) -> f64 {
        self.vapour_pressure() / saturation_pressure(self.dry_bulb_celsius)
    }

    /// Thermodynamic wet bulb (eq. 33 and 35 solved for it), degC; of an iced wick below 0.01 degC.
    ///
    /// # Errors
    /// [`AirError::OutOfRange`] for a state outside the ranges.
    pub fn wet_bulb_celsius(&self) -> Result<f64> {
        let dry = temperature("dry bulb", self.dry_bulb_celsius)?;
        within("humidity ratio", "kg/kg", self.humidity_ratio, 0.0, 10.0)?;
        pressure(self.pressure_pascal)?;
        let missing = |wet: f64| {
            self.humidity_ratio - humidity_ratio_of_bulbs(dry, wet, self.pressure_pascal)
        };
        // Saturated air: the root lies at the end of the bracket.
        if missing(dry) >= 0.0 {
            return Ok(dry);
        }
        root::of_falling(missing, -60.0, dry).ok_or(AirError::OutOfRange {
            what: "humidity ratio",
            value: self.humidity_ratio,
            unit: "kg/kg",
            least: 0.0,
            most: 10.0,
        })
    }

    /// Whether the wet bulb lies below a temperature, degC, without solving for it: for a state that
    /// [`Self::wet_bulb_celsius`] accepts.
    pub(crate) fn wet_bulb_is_below(&self, celsius: f64) -> bool {
        celsius > self.dry_bulb_celsius
            || humidity_ratio_of_bulbs(self.dry_bulb_celsius, celsius, self.pressure_pascal)
                > self.humidity_ratio
    }

    /// Dew point, below freezing the frost point, degC.
    ///
    /// # Errors
    /// [`AirError::OutOfRange`] below -60 degC, as for dry air.
    pub fn dew_point_celsius(&self) -> Result<f64> {
        let vapour = self.vapour_pressure();
        root::of_falling(|celsius| vapour.ln() - saturation_pressure(celsius).ln(), -60.0, 100.0)
            .ok_or(AirError::OutOfRange {
                what: "vapour pressure",
                value: vapour,
                unit: "Pa",
                least: 1.1,
                most: 101_325.0,
            })
    }

    /// Specific enthalpy (eq. 30), J in a kg of dry air with its vapour.
    pub fn enthalpy_j_per_kg(&self) -> f64 {
        enthalpy(self.dry_bulb_celsius, self.humidity_ratio)
    }

    /// Specific volume (eq. 26), m3 for a kg of dry air.
    pub fn specific_volume_m3_per_kg(&self) -> f64 {
        DRY_AIR_GAS_CONSTANT
            * (self.dry_bulb_celsius + ZERO_CELSIUS)
            * (1.0 + self.humidity_ratio / MOLAR_RATIO)
            / self.pressure_pascal
    }

    /// Density of the mixture (eq. 10), kg/m3.
    pub fn density_kg_per_m3(&self) -> f64 {
        (1.0 + self.humidity_ratio) / self.specific_volume_m3_per_kg()
    }
}

/// A point of the curve of saturated air, with its tangent.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Saturated {
    pub celsius: f64,
    /// kg/kg.
    pub humidity_ratio: f64,
    /// Rise of the humidity ratio, 1/K.
    slope: f64,
}

impl Saturated {
    pub(crate) fn at(celsius: f64, pressure: f64) -> Self {
        let vapour_pressure = saturation_pressure(celsius);
        let humidity_ratio = humidity_ratio_at(vapour_pressure, pressure);
        let slope = humidity_ratio * pressure / (vapour_pressure * (pressure - vapour_pressure))
            * saturation_slope(celsius, vapour_pressure);
        Self { celsius, humidity_ratio, slope }
    }

    /// The humidity ratio that the tangent gives at another temperature: never above the curve,
    /// which is convex, as long as both lie on one side of the triple point.
    fn least_at(&self, celsius: f64) -> f64 {
        self.humidity_ratio + self.slope * (celsius - self.celsius)
    }

    /// Newton's step from this point to saturated air with `water_ratio` of water in all, the rest
    /// of it mist, of this enthalpy, K.
    fn step_to_mist(&self, enthalpy_j: f64, water_ratio: f64) -> f64 {
        let mist = water_ratio - self.humidity_ratio;
        let excess = enthalpy(self.celsius, self.humidity_ratio) + mist * WATER_HEAT * self.celsius
            - enthalpy_j;
        let derivative = DRY_AIR_HEAT
            + VAPOUR_HEAT * self.humidity_ratio
            + mist * WATER_HEAT
            + self.slope * (VAPORISATION + (VAPOUR_HEAT - WATER_HEAT) * self.celsius);
        -excess / derivative
    }
}

/// The vapour in air of this enthalpy and water, kg/kg: all the water, or saturation beside mist.
/// `near` is a point of the saturation curve that the search starts from and leaves behind: the
/// nearer, the cheaper.
pub(crate) fn vapour(
    enthalpy_j: f64,
    water_ratio: f64,
    pressure: f64,
    near: &mut Saturated,
) -> f64 {
    let celsius = temperature_of(enthalpy_j, water_ratio);
    let same_side = (celsius <= TRIPLE_POINT) == (near.celsius <= TRIPLE_POINT);
    if same_side && water_ratio <= near.least_at(celsius) {
        return water_ratio;
    }
    if water_ratio <= near.humidity_ratio {
        *near = Saturated::at(celsius, pressure);
        if water_ratio <= near.humidity_ratio {
            return water_ratio;
        }
    }
    *near = mist(enthalpy_j, water_ratio, pressure, *near);
    // Air that is not saturated lies beyond the curve, where mist would be negative.
    near.humidity_ratio.min(water_ratio)
}

/// Saturated air beside mist, of this enthalpy and water in all. Newton from `near`.
pub(crate) fn mist(enthalpy_j: f64, water_ratio: f64, pressure: f64, near: Saturated) -> Saturated {
    let mut point = near;
    for _ in 0..12 {
        let step = point.step_to_mist(enthalpy_j, water_ratio).clamp(-20.0, 20.0);
        // Newton squares the error: along the tangent a step this small loses nothing.
        if step.abs() < 1e-3 {
            let celsius = point.celsius + step;
            return Saturated { celsius, humidity_ratio: point.least_at(celsius), ..point };
        }
        point = Saturated::at(point.celsius + step, pressure);
    }
    point
}

/// Enthalpy of saturated air, J/kg, and its slope with the temperature, J/(kg K).
pub(crate) fn saturation_enthalpy(celsius: f64, pressure: f64) -> (f64, f64) {
    let Saturated { humidity_ratio, slope, .. } = Saturated::at(celsius, pressure);
    let derivative = DRY_AIR_HEAT
        + VAPOUR_HEAT * humidity_ratio
        + slope * (VAPORISATION + VAPOUR_HEAT * celsius);
    (enthalpy(celsius, humidity_ratio), derivative)
}

/// Temperature of saturated air of this enthalpy, degC. Newton from `guess`.
pub(crate) fn saturation_temperature(enthalpy_j: f64, pressure: f64, guess: f64) -> f64 {
    let mut celsius = guess;
    for _ in 0..20 {
        let (saturation, derivative) = saturation_enthalpy(celsius, pressure);
        let step = (saturation - enthalpy_j) / derivative;
        celsius -= step.clamp(-20.0, 20.0);
        if step.abs() < 1e-9 {
            break;
        }
    }
    celsius
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn wet_bulb_dew_point_and_humidity_turn_round(
            dry in -29.0..69.0,
            relative in 0.03..1.0, // drier air at -29 degC is below the least vapour pressure
            pascal in 51e3..109e3,
        ) {
            let air = MoistAir::from_relative_humidity(dry, relative, pascal).unwrap();
            prop_assert!((air.relative_humidity() - relative).abs() < 1e-9);
            let wet = air.wet_bulb_celsius().unwrap();
            prop_assert!(wet <= dry + 1e-9);
            // Across the jump between ice and water no wet bulb is exact.
            if (wet - TRIPLE_POINT).abs() > 0.02 && wet > -30.0 {
                let again = MoistAir::from_wet_bulb(dry, wet.min(dry), pascal).unwrap();
                prop_assert!((again.humidity_ratio - air.humidity_ratio).abs() < 1e-9);
            }
            let dew = air.dew_point_celsius().unwrap();
            prop_assert!((saturation_pressure(dew) / air.vapour_pressure() - 1.0).abs() < 1e-6
                || (dew - TRIPLE_POINT).abs() < 1e-3);
        }

        #[test]
        fn dry_bulb_from_wet_bulb_and_humidity(wet in 1.0..35.0, relative in 0.15..1.0) {
            if let Ok(air) = MoistAir::from_wet_bulb_and_relative_humidity(wet, relative, 101_325.0) {
                prop_assert!((air.wet_bulb_celsius().unwrap() - wet).abs() < 1e-6);
            }
        }

        #[test]
        fn any_numbers_give_a_state_or_an_error(a in any::<f64>(), b in any::<f64>(), p in any::<f64>()) {
            for air in [
                MoistAir::from_wet_bulb(a, b, p),
                MoistAir::from_relative_humidity(a, b, p),
                MoistAir::from_dew_point(a, b, p),
                MoistAir::from_wet_bulb_and_relative_humidity(a, b, p),
            ].into_iter().flatten() {
                prop_assert!(air.humidity_ratio.is_finite());
            }
        }
    }

    #[test]
    fn says_why_air_cannot_be() {
        let is = |result: Result<MoistAir>| result.unwrap_err().to_string();
        assert!(is(MoistAir::from_wet_bulb(20.0, 25.0, 101_325.0)).contains("above the dry bulb"));
        assert!(is(MoistAir::from_wet_bulb(40.0, 5.0, 101_325.0)).contains("lower than dry air"));
        assert!(is(MoistAir::from_wet_bulb(f64::NAN, 5.0, 101_325.0)).contains("hold from"));
        assert!(is(MoistAir::from_dew_point(20.0, 25.0, 101_325.0)).contains("dew point"));
    }

    #[test]
    fn the_newton_steps_have_the_right_slope() {
        for celsius in [-20.0, 5.0, 30.0, 60.0] {
            let p = saturation_pressure(celsius);
            let numeric =
                (saturation_pressure(celsius + 1e-4) - saturation_pressure(celsius - 1e-4)) / 2e-4;
            assert_relative_eq!(saturation_slope(celsius, p), numeric, max_relative = 1e-7);
        }
    }

    #[test]
    fn vapour_is_all_the_water_or_saturation_wherever_the_search_starts() {
        for start in [-20.0, 0.0, 5.0, 25.0, 60.0] {
            for celsius in [-15.0, -0.5, 0.5, 12.0, 35.0] {
                let saturated = saturated(celsius, 90e3);
                let from = |enthalpy_j, water| {
                    vapour(enthalpy_j, water, 90e3, &mut Saturated::at(start, 90e3))
                };
                let dry = 0.99 * saturated;
                assert_eq!(from(enthalpy(celsius, dry), dry), dry);
                let water = saturated + 1e-3;
                let misty = enthalpy(celsius, saturated) + 1e-3 * WATER_HEAT * celsius;
                assert_relative_eq!(from(misty, water), saturated, max_relative = 1e-6);
            }
        }
    }

    #[test]
    fn saturation_temperature_turns_enthalpy_round() {
        let enthalpy_j = enthalpy(31.0, saturated(31.0, 101_325.0));
        assert_relative_eq!(
            saturation_temperature(enthalpy_j, 101_325.0, 10.0),
            31.0,
            max_relative = 1e-9
        );
        let misty = enthalpy_j + 0.002 * WATER_HEAT * 31.0;
        let water = saturated(31.0, 101_325.0) + 0.002;
        let found = mist(misty, water, 101_325.0, Saturated::at(40.0, 101_325.0));
        assert_relative_eq!(found.celsius, 31.0, max_relative = 1e-7);
        assert_relative_eq!(found.humidity_ratio, water - 0.002, max_relative = 1e-6);
    }
}
