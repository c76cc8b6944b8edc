//! What field instruments read, carried to what the chemistry counts with.

/// Factor to 25 degC for a conductivity of natural water, one a degree from 0 to 35 degC: ISO 7888:1985 (EN 27888),
/// the table of non-linear temperature correction.
const TO_25_CELSIUS: [f64; 36] = [
    1.918, 1.857, 1.800, 1.745, 1.693, 1.643, 1.596, 1.551, 1.508, 1.467, 1.428, 1.390, 1.354,
    1.320, 1.287, 1.256, 1.225, 1.196, 1.168, 1.141, 1.116, 1.091, 1.067, 1.044, 1.021, 1.000,
    0.979, 0.959, 0.940, 0.921, 0.903, 0.886, 0.869, 0.853, 0.837, 0.822,
];

/// Conductivity at 25 degC over that at another temperature, of natural water (ISO 7888:1985; straight between whole
/// degrees); `None` outside 0 to 35 degC.
pub fn conductivity_to_25_celsius(celsius: f64) -> Option<f64> {
    let below = celsius.floor().min(34.0);
    let at = |degree: f64| TO_25_CELSIUS.get(degree as usize).copied();
    let is_inside = (0.0..=35.0).contains(&celsius);
    let (low, high) = (at(below)?, at(below + 1.0)?);
    is_inside.then_some(low + (high - low) * (celsius - below))
}

/// What a pen for dissolved solids makes of a conductivity, mg/L in each uS/cm: between sodium chloride and a mixture
/// as natural waters hold (common practice).
pub const PEN_FACTOR: std::ops::RangeInclusive<f64> = 0.5..=0.7;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn conductivities_are_carried_to_25_degrees() {
        assert_eq!(conductivity_to_25_celsius(25.0), Some(1.0));
        assert_eq!(conductivity_to_25_celsius(0.0), Some(1.918));
        assert_eq!(conductivity_to_25_celsius(35.0), Some(0.822));
        let between = conductivity_to_25_celsius(20.5).unwrap();
        approx::assert_relative_eq!(between, 0.5 * (1.116 + 1.091), max_relative = 1e-12);
        for outside in [-0.1, 35.1, f64::NAN, f64::INFINITY] {
            assert_eq!(conductivity_to_25_celsius(outside), None);
        }
    }
}
