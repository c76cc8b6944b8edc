//! Worked examples of textbooks; tolerances are the books' own rounding and chart reading.

use approx::assert_relative_eq;
use coldbasin::air::MoistAir;

const ATMOSPHERE: f64 = 101_325.0;
const WATER: f64 = 4.186;

/// Moran and Shapiro, Fundamentals of Engineering Thermodynamics, ex. 12.15, printed: dry air
/// 2.027e7 kg/h, makeup 5.234e5 kg/h. Circulation is made up at 20 degC.
#[test]
fn moran_and_shapiro_12_15() {
    let (water, hot, cold, makeup_celsius) = (4.5e7, 38.0, 30.0, 20.0);
    let entering = MoistAir::from_relative_humidity(25.0, 0.35, ATMOSPHERE).unwrap();
    let leaving = MoistAir::from_relative_humidity(35.0, 0.90, ATMOSPHERE).unwrap();
    let rise = (leaving.enthalpy_j_per_kg() - entering.enthalpy_j_per_kg()) / 1e3;
    let moisture = leaving.humidity_ratio - entering.humidity_ratio;
    let dry_air = water * WATER * (hot - cold) / (rise - moisture * WATER * makeup_celsius);
    assert_relative_eq!(dry_air, 2.027e7, max_relative = 1e-3);
    assert_relative_eq!(dry_air * moisture, 5.234e5, max_relative = 1.5e-3);
}

/// Kern, Process Heat Transfer (1950), ex. 17.1: saturated air at 75 degF has X 0.0187, H 39.1
/// Btu/lb on Kern's datum of liquid water at 32 degF and dry air at 0 degF; read from a chart.
#[test]
fn kern_17_1() {
    let celsius = (75.0 - 32.0) / 1.8;
    let air = MoistAir::from_relative_humidity(celsius, 1.0, ATMOSPHERE).unwrap();
    assert_relative_eq!(air.humidity_ratio, 0.0187, max_relative = 6e-3);
    let btu_per_lb = air.enthalpy_j_per_kg() / 2_326.0 + 0.24 * 32.0;
    assert_relative_eq!(btu_per_lb, 39.1, max_relative = 2e-2);
}

/// Cengel and Boles, cooling-tower example (answers from memory, not seen): 96.9 kg/s of dry air,
/// 81.6 m3/s, 1.80 kg/s of makeup.
#[test]
fn cengel_and_boles() {
    let entering = MoistAir::from_relative_humidity(20.0, 0.6, ATMOSPHERE).unwrap();
    let leaving = MoistAir::from_relative_humidity(30.0, 1.0, ATMOSPHERE).unwrap();
    let moisture = leaving.humidity_ratio - entering.humidity_ratio;
    let rise = (leaving.enthalpy_j_per_kg() - entering.enthalpy_j_per_kg()) / 1e3;
    let dry_air = 100.0 * WATER * (35.0 - 22.0) / (rise - moisture * WATER * 22.0);
    assert_relative_eq!(dry_air, 96.9, max_relative = 1e-2);
    assert_relative_eq!(dry_air * entering.specific_volume_m3_per_kg(), 81.6, max_relative = 1e-2);
    assert_relative_eq!(dry_air * moisture, 1.80, max_relative = 1e-2);
}
