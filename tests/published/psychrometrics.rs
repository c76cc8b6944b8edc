//! ASHRAE psychrometrics against psychrolib 2.5.0 and the real-gas moist air of CoolProp 8.0.0.

use super::{number, thermal};
use approx::assert_relative_eq;
use coldbasin::air::{
    MoistAir, pressure_at_altitude_pascal, saturation_humidity_ratio, saturation_pressure_pascal,
};

#[test]
fn states_agree_with_psychrolib_and_lie_near_the_real_gas() {
    for spot in thermal()["psychrometric_spots"].as_array().unwrap() {
        let pressure = number(spot, "pressure_Pa");
        let dry = number(spot, "dry_bulb_C");
        let air =
            MoistAir::from_relative_humidity(dry, number(spot, "rel_humidity"), pressure).unwrap();
        let ours = &spot["psychrolib"];
        assert_relative_eq!(
            pressure_at_altitude_pascal(number(spot, "altitude_m")).unwrap(),
            number(ours, "pressure_std_atm_Pa"),
            max_relative = 1e-7
        );
        assert_relative_eq!(
            saturation_pressure_pascal(dry).unwrap(),
            number(ours, "p_ws_Pa"),
            max_relative = 1e-7
        );
        assert_relative_eq!(air.humidity_ratio, number(ours, "w"), max_relative = 1e-7);
        assert_relative_eq!(
            air.enthalpy_j_per_kg() / 1e3,
            number(ours, "h_kJ_kg"),
            max_relative = 1e-6
        );
        assert_relative_eq!(
            air.density_kg_per_m3(),
            number(ours, "density_kg_m3"),
            max_relative = 1e-5
        );
        // psychrolib solves the wet bulb to 0.001 degC.
        let wet = air.wet_bulb_celsius().unwrap();
        assert!((wet - number(ours, "wet_bulb_C")).abs() < 1e-3, "wet bulb {wet} of {spot}");

        let real = &spot["coolprop"];
        if let Some(saturation) = real["p_ws_Pa"].as_f64() {
            assert_relative_eq!(
                saturation_pressure_pascal(dry).unwrap(),
                saturation,
                max_relative = 5e-4
            );
        }
        // The enhancement factor that is left out costs 0.4 to 0.75 % of the humidity ratio.
        let short = 1.0 - air.humidity_ratio / number(real, "w");
        assert!((0.003..0.0075).contains(&short), "humidity ratio is {short} short of {spot}");
        assert!((wet - number(real, "wet_bulb_C")).abs() < 0.03, "wet bulb {wet} of {spot}");
    }
}

#[test]
fn saturation_agrees_over_ice_and_water() {
    for line in thermal()["saturation_table"].as_array().unwrap() {
        let celsius = number(line, "t_C");
        assert_relative_eq!(
            saturation_pressure_pascal(celsius).unwrap(),
            number(line, "psychrolib_p_ws_Pa"),
            max_relative = 1e-7
        );
        let humidity = saturation_humidity_ratio(celsius, 101_325.0).unwrap();
        assert_relative_eq!(humidity, number(line, "w_sat_101325"), max_relative = 1e-6);
        let short = 1.0 - humidity / number(line, "coolprop_w_sat_101325");
        assert!(
            (0.004..0.0075).contains(&short),
            "humidity ratio is {short} short at {celsius} degC"
        );
    }
}
