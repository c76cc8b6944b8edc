//! Moist air.
//!
//! Saturation pressure: Buck (1981), with the coefficients of 1996. Wet bulb: the psychrometer formula of the WMO
//! guide to instruments (No. 8, annex to chapter 4). Enthalpy: ideal mixture with the constants of every textbook.
//! All from memory.

/// Air that enters a tower.
#[derive(Clone, Copy, Debug)]
pub struct Air {
    /// Dry bulb, °C.
    pub dry_bulb: f64,
    /// Water over dry air, by mass.
    pub humidity: f64,
    /// kJ/kg of dry air.
    pub enthalpy: f64,
    /// Pa.
    pub pressure: f64,
}

/// Pressure of the standard atmosphere at a height in m, Pa (ISO 2533).
pub fn pressure_at(height: f64) -> f64 {
    101_325.0 * (1.0 - 2.255_77e-5 * height).powf(5.2559)
}

/// Vapour pressure over water in moist air, Pa.
pub fn saturation_pressure(temperature: f64, pressure: f64) -> f64 {
    let t = temperature;
    let enhancement = 1.0007 + 3.46e-8 * pressure;
    enhancement * 611.21 * ((18.678 - t / 234.5) * (t / (257.14 + t))).exp()
}

/// Humidity ratio at a vapour pressure.
pub fn humidity_ratio(vapour: f64, pressure: f64) -> f64 {
    0.62198 * vapour / (pressure - vapour)
}

/// Humidity ratio of saturated air.
pub fn saturated_humidity(temperature: f64, pressure: f64) -> f64 {
    humidity_ratio(saturation_pressure(temperature, pressure), pressure)
}

/// Enthalpy, kJ/kg of dry air.
pub fn enthalpy(temperature: f64, humidity: f64) -> f64 {
    1.006 * temperature + humidity * (2500.9 + 1.86 * temperature)
}

/// Enthalpy of saturated air, kJ/kg of dry air.
pub fn saturated_enthalpy(temperature: f64, pressure: f64) -> f64 {
    enthalpy(temperature, saturated_humidity(temperature, pressure))
}

impl Air {
    /// From dry bulb and dew point, °C.
    pub fn with_dew_point(dry_bulb: f64, dew_point: f64, pressure: f64) -> Air {
        let humidity = saturated_humidity(dew_point.min(dry_bulb), pressure);
        Air { dry_bulb, humidity, enthalpy: enthalpy(dry_bulb, humidity), pressure }
    }

    /// From dry bulb and wet bulb, °C.
    pub fn with_wet_bulb(dry_bulb: f64, wet_bulb: f64, pressure: f64) -> Air {
        let vapour = psychrometer(dry_bulb, wet_bulb, pressure).max(1.0);
        let humidity = humidity_ratio(vapour, pressure);
        Air { dry_bulb, humidity, enthalpy: enthalpy(dry_bulb, humidity), pressure }
    }

    fn vapour(&self) -> f64 {
        self.pressure * self.humidity / (0.62198 + self.humidity)
    }

    /// 0 to 1.
    pub fn relative_humidity(&self) -> f64 {
        (self.vapour() / saturation_pressure(self.dry_bulb, self.pressure)).min(1.0)
    }

    /// What an aspirated psychrometer shows, °C.
    pub fn wet_bulb(&self) -> f64 {
        let vapour = self.vapour();
        let (mut low, mut high) = (self.dry_bulb - 40.0, self.dry_bulb);
        let mut miss_low = psychrometer(self.dry_bulb, low, self.pressure) - vapour;
        let mut miss_high = psychrometer(self.dry_bulb, high, self.pressure) - vapour;
        // Regula falsi with the Illinois trick: the curve bends but slightly.
        for _ in 0..40 {
            let middle = (low * miss_high - high * miss_low) / (miss_high - miss_low);
            let miss = psychrometer(self.dry_bulb, middle, self.pressure) - vapour;
            if miss.abs() < 0.05 {
                return middle;
            }
            if miss > 0.0 {
                (high, miss_high) = (middle, miss);
                miss_low *= 0.5;
            } else {
                (low, miss_low) = (middle, miss);
                miss_high *= 0.5;
            }
        }
        0.5 * (low + high)
    }
}

/// Vapour pressure from the two thermometers, Pa.
fn psychrometer(dry_bulb: f64, wet_bulb: f64, pressure: f64) -> f64 {
    let constant = 6.53e-4 * (1.0 + 0.000_944 * wet_bulb);
    saturation_pressure(wet_bulb, pressure) - constant * pressure * (dry_bulb - wet_bulb)
}

/// Density of water, kg/m3 (McCutcheon and others 1993, from memory).
pub fn water_density(temperature: f64) -> f64 {
    let t = temperature;
    1000.0 * (1.0 - (t + 288.9414) / (508_929.2 * (t + 68.12963)) * (t - 3.9863).powi(2))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steam_table() {
        // Saturation pressure of water: 2339 Pa at 20 °C, 4246 Pa at 30 °C (steam tables, IAPWS), without the 0.4 %
        // that air adds.
        for (t, known) in [(20.0, 2339.0), (30.0, 4246.0)] {
            let ours = saturation_pressure(t, 0.0) / 1.0007;
            assert!((ours / known - 1.0).abs() < 1e-3, "{t}: {ours}");
        }
        // Water: 998.2 kg/m3 at 20 °C, 995.7 at 30 °C.
        assert!((water_density(20.0) - 998.2).abs() < 0.05);
        assert!((water_density(30.0) - 995.65).abs() < 0.05);
    }

    #[test]
    fn wet_bulb_comes_back() {
        for (dry, wet) in [(32.0, 24.0), (20.0, 20.0), (35.0, 17.0), (5.0, 3.0)] {
            let air = Air::with_wet_bulb(dry, wet, 99_000.0);
            assert!((air.wet_bulb() - wet).abs() < 0.01, "{dry} {wet}");
        }
        // Psychrometric charts at sea level: 30 °C and 50 % have a wet bulb of 22.0 °C.
        let air = Air::with_wet_bulb(30.0, 22.0, 101_325.0);
        assert!((air.relative_humidity() - 0.50).abs() < 0.01);
    }
}
