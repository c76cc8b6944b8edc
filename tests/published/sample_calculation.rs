//! The state half-way of a printed sample calculation by Poppe's method with supersaturated air:
//! Kloppers, PhD thesis, Stellenbosch (2003), appendix G, as quoted second-hand.
//!
//! The book takes two Runge-Kutta steps and a first guess of the exit humidity. With its own property
//! equations a hundred steps move its state half-way by 0.6 % in humidity and 0.07 % in enthalpy,
//! which is the tolerance here. Its exit is not quoted.

use approx::{assert_abs_diff_eq, assert_relative_eq};
use coldbasin::air::MoistAir;
use coldbasin::tower::{Duty, poppe};

const KELVIN: f64 = 273.15;

#[test]
fn the_state_half_way() {
    let (hot, cold) = (312.82 - KELVIN, 300.92 - KELVIN);
    // Its printed humidity: by a fit of its own, 0.5 % above that of the ASHRAE equations here.
    let entering_air = MoistAir {
        dry_bulb_celsius: 282.85 - KELVIN,
        humidity_ratio: 0.006_163_36,
        pressure_pascal: 101_712.27,
    };
    assert_relative_eq!(entering_air.enthalpy_j_per_kg(), 25_291.875, max_relative = 1e-3);
    let wet_bulb = entering_air.wet_bulb_celsius().unwrap();
    assert_abs_diff_eq!(wet_bulb, 281.38 - KELVIN, epsilon = 0.05);
    let whole = Duty {
        hot_water_celsius: hot,
        cold_water_celsius: cold,
        entering_air,
        water_to_air: 3.999 / 4.134,
    };
    let exit = poppe::counterflow(&whole).unwrap().exit_humidity_ratio;

    // The colder half is a duty by itself; its water has lost what the other half evaporates.
    let mut half = Duty { hot_water_celsius: 0.5 * (hot + cold), ..whole };
    for _ in 0..4 {
        let leaving = poppe::counterflow(&half).unwrap().exit_humidity_ratio;
        half.water_to_air = whole.water_to_air - (exit - leaving);
    }
    let middle = poppe::counterflow(&half).unwrap();
    assert!(middle.exit_mist_ratio > 0.0);
    assert_relative_eq!(middle.exit_humidity_ratio, 0.013_333_8, max_relative = 7e-3);
    assert_relative_eq!(middle.exit_enthalpy_j_per_kg, 50_019.67, max_relative = 1e-3);
    assert_abs_diff_eq!(middle.exit_temperature_celsius, 290.844_8 - KELVIN, epsilon = 0.05);
}
