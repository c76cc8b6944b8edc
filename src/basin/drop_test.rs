//! A leak from the level alone: fans and pumps off, makeup and bleed shut.

use crate::air::{AirError, MoistAir, saturation_pressure_pascal};
use crate::water;

/// Where the evaporation comes from.
pub const SOURCE: &str = "evaporation from a still surface: A (pw - pa) (0.089 + 0.0782 v) / Y (Carrier 1918, as in ASHRAE Handbook - HVAC Applications, natatoriums, from memory), for air of 0.05 to 0.3 m/s over the water";

/// Water that a still surface gives off, mm/h, under air of this velocity, m/s: pressures in kPa,
/// latent heat in kJ/kg. Negative where the air's vapour condenses on it.
///
/// # Errors
/// [`AirError`] for a temperature outside the formulas.
pub fn still_evaporation_mm_per_h(
    water_celsius: f64,
    air: &MoistAir,
    velocity_m_per_s: f64,
) -> Result<f64, AirError> {
    let surface = saturation_pressure_pascal(water_celsius)? / 1e3;
    let vapour = air.relative_humidity() * saturation_pressure_pascal(air.dry_bulb_celsius)? / 1e3;
    let latent = water::latent_heat_j_per_kg(water_celsius) / 1e3;
    let kg_per_s_m2 = (surface - vapour) * (0.089 + 0.0782 * velocity_m_per_s) / latent;
    Ok(kg_per_s_m2 / water::density_kg_per_m3(water_celsius) * 1e3 * 3_600.0)
}

/// What was read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DropTest {
    /// Fall of the level, mm, with its standard uncertainty.
    pub drop: (f64, f64),
    /// Duration, h, with its standard uncertainty.
    pub hours: (f64, f64),
    /// Water surface, m2, with its standard uncertainty.
    pub area: (f64, f64),
    /// Evaporation from the surface, mm/h.
    pub evaporation: f64,
}

/// A leak, m3/h.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leak {
    /// m3/h.
    pub flow: f64,
    /// Standard uncertainty, m3/h.
    pub standard_uncertainty: f64,
}

/// Half of the evaporation from a still surface is anybody's guess out of doors: a limit of this part.
pub(crate) const EVAPORATION_LIMIT: f64 = 0.5;

impl DropTest {
    /// The leak, its uncertainty to first order (JCGM 100:2008, eq. 10).
    pub fn leak(&self) -> Leak {
        let (drop, u_drop) = self.drop;
        let (hours, u_hours) = self.hours;
        let (area, u_area) = self.area;
        let fall = drop / hours - self.evaporation;
        let u_evaporation = EVAPORATION_LIMIT * self.evaporation.abs() / 3f64.sqrt();
        let parts = [
            area / hours * u_drop,
            area * drop / (hours * hours) * u_hours,
            fall * u_area,
            area * u_evaporation,
        ];
        let variance: f64 = parts.iter().map(|part| part * part).sum();
        Leak { flow: 1e-3 * area * fall, standard_uncertainty: 1e-3 * variance.sqrt() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// The same handbook's short form for 0.1 m/s: 4e-5 kg/(s m2 kPa).
    #[test]
    fn evaporation_agrees_with_the_short_form() {
        let air = MoistAir::from_relative_humidity(25.0, 0.5, 101_325.0).unwrap();
        let found = still_evaporation_mm_per_h(26.0, &air, 0.1).unwrap();
        let surface = saturation_pressure_pascal(26.0).unwrap() / 1e3;
        let vapour = 0.5 * saturation_pressure_pascal(25.0).unwrap() / 1e3;
        let short = 4e-5 * (surface - vapour) * 3_600.0 / 0.996_8;
        assert_relative_eq!(found, short, max_relative = 2e-2);
    }

    #[test]
    fn a_leak_is_what_the_surface_does_not_explain() {
        let test = DropTest {
            drop: (12.0, 0.5),
            hours: (8.0, 0.02),
            area: (60.0, 0.6),
            evaporation: 0.25,
        };
        let leak = test.leak();
        assert_relative_eq!(leak.flow, 0.06 * (1.5 - 0.25), max_relative = 1e-12);
        // The reading of the level is what makes it uncertain.
        assert!(leak.standard_uncertainty > 0.004 && leak.standard_uncertainty < 0.01);
    }
}
