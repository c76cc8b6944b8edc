//! ASHRAE psychrometrics against psychrolib 2.5.0 and the real-gas moist air of CoolProp 8.0.0.

use super::{Largest, number, rows, thermal};
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

/// Six pressures from 50 to 110 kPa, -30 to 70 degC, 5 to 100 % (tests/reference/psychrometrics.json).
#[test]
fn the_whole_range_agrees_with_psychrolib_and_lies_near_the_real_gas() {
    let mut relative = Largest::default();
    let mut wet_bulb = Largest::default();
    let mut dew_point = Largest::default();
    let mut real_wet_bulb = Largest::default();
    let (mut least_short, mut most_short) = (f64::INFINITY, f64::NEG_INFINITY);
    for row in rows(include_str!("../reference/psychrometrics.json")) {
        let dry = number(&row, "dry_bulb");
        let air = MoistAir::from_relative_humidity(
            dry,
            number(&row, "relative_humidity"),
            number(&row, "pressure"),
        )
        .unwrap();
        for (ours, key) in [
            (saturation_pressure_pascal(dry).unwrap(), "saturation_pressure"),
            (air.humidity_ratio, "humidity_ratio"),
            (air.specific_volume_m3_per_kg(), "specific_volume"),
        ] {
            relative.see(ours / number(&row, key) - 1.0);
        }
        // Enthalpy passes through zero: against its own size or a kJ/kg, whichever is larger.
        let enthalpy = number(&row, "enthalpy");
        relative.see((air.enthalpy_j_per_kg() - enthalpy) / enthalpy.abs().max(1e3));
        let wet = air.wet_bulb_celsius().unwrap();
        wet_bulb.see(wet - number(&row, "wet_bulb"));
        if let Ok(dew) = air.dew_point_celsius() {
            dew_point.see(dew - number(&row, "dew_point"));
        }
        if let Some(real) = row["real_humidity_ratio"].as_f64() {
            let short = 1.0 - air.humidity_ratio / real;
            least_short = least_short.min(short);
            most_short = most_short.max(short);
        }
        // Next to freezing the wick may be iced or not, and two wet bulbs exist.
        if let Some(real) = row["real_wet_bulb"].as_f64().filter(|_| wet.abs() > 1.0) {
            real_wet_bulb.see(wet - real);
        }
    }
    // psychrolib rounds a constant of the specific volume.
    assert!(relative.0 < 1e-6, "{}", relative.0);
    // psychrolib solves the wet bulb to 0.001 degC.
    assert!(wet_bulb.0 < 1e-3, "{}", wet_bulb.0);
    assert!(dew_point.0 < 1e-6, "{}", dew_point.0);
    assert!(real_wet_bulb.0 < 0.03, "{}", real_wet_bulb.0);
    // Least in thin frosty air, most in hot saturated air at 110 kPa.
    assert!(least_short > 0.0021 && most_short < 0.0091, "{least_short} to {most_short}");
}
