//! Merkel and Poppe in counterflow against an integration of the same equations by DOP853, and in
//! crossflow against extrapolated 80 x 80 and 160 x 160 grids (tests/reference/thermal_cases.json).

use super::{Largest, number, rows, thermal};
use approx::assert_relative_eq;
use coldbasin::air::MoistAir;
use coldbasin::tower::{Duty, Exchange, TowerError, merkel, poppe, rule};
use serde_json::Value;

fn duty(case: &Value) -> Duty {
    let inputs = &case["inputs"];
    let pressure = number(inputs, "pressure_Pa");
    let dry = number(inputs, "dry_bulb_C");
    let entering_air = match inputs["wet_bulb_C"].as_f64() {
        Some(wet) => MoistAir::from_wet_bulb(dry, wet, pressure),
        None => MoistAir::from_relative_humidity(dry, number(inputs, "rel_humidity"), pressure),
    };
    Duty {
        hot_water_celsius: number(inputs, "hot_water_C"),
        cold_water_celsius: number(inputs, "cold_water_C"),
        entering_air: entering_air.unwrap(),
        water_to_air: number(inputs, "L_over_G"),
    }
}

fn cases(arrangement: &str) -> Vec<Value> {
    let cases = thermal()["cases"].as_array().unwrap().clone();
    cases.into_iter().filter(|case| case["arrangement"] == arrangement).collect()
}

#[test]
fn counterflow_agrees_with_an_independent_integrator() {
    for case in cases("counter") {
        let duty = duty(&case);
        let water = number(&case["inputs"], "circulation_kg_s");
        let (found, expected) = (poppe::counterflow(&duty).unwrap(), &case["poppe"]);
        let evaporation = found.evaporation_per_water * water;
        assert_relative_eq!(
            evaporation,
            number(expected, "evaporation_kg_s"),
            max_relative = 1.5e-4
        );
        assert_relative_eq!(found.merkel_number, number(expected, "Me"), max_relative = 1e-4);
        assert_relative_eq!(
            found.exit_enthalpy_j_per_kg / 1e3,
            number(expected, "h_out"),
            max_relative = 1e-5
        );
        assert_relative_eq!(
            found.exit_temperature_celsius,
            number(expected, "t_out_C"),
            epsilon = 0.01
        );
        assert_relative_eq!(found.exit_mist_ratio, number(expected, "mist_kg_kg"), epsilon = 1e-5);

        let (found, expected) =
            (merkel::counterflow(&duty).unwrap(), &case["merkel_saturated_exit"]);
        assert_relative_eq!(
            found.exit_enthalpy_j_per_kg / 1e3,
            number(expected, "h_out"),
            max_relative = 1e-6
        );
        assert_relative_eq!(
            found.evaporation_per_water * water,
            number(expected, "evaporation_kg_s"),
            max_relative = 1e-6
        );
        let expected = &case["merkel_counter_number"];
        assert_relative_eq!(found.merkel_number, number(expected, "fine"), max_relative = 1e-6);
        let chebyshev = merkel::chebyshev_number(&duty).unwrap();
        assert_relative_eq!(chebyshev, number(expected, "chebyshev4"), max_relative = 1e-6);
    }
}

#[test]
fn crossflow_agrees_with_fine_grids() {
    let mut work = poppe::CrossflowWorkspace::default();
    for case in cases("cross") {
        let duty = duty(&case);
        let water = number(&case["inputs"], "circulation_kg_s");
        let (found, expected) = (poppe::crossflow(&duty, &mut work).unwrap(), &case["poppe"]);
        let evaporation = found.evaporation_per_water * water;
        assert_relative_eq!(evaporation, number(expected, "evaporation_kg_s"), max_relative = 1e-3);
        let extrapolated = poppe::crossflow_number(&duty, &mut work).unwrap();
        assert_relative_eq!(extrapolated, number(expected, "Me"), max_relative = 1e-3);
        let extrapolated = merkel::crossflow_number(&duty, &mut work).unwrap();
        assert_relative_eq!(extrapolated, number(&case["merkel_cross"], "Me"), max_relative = 1e-3);
    }
}

/// Ten duties of our own, from a hot dry day to deep frost and 60 kPa: DOP853 in counterflow,
/// the method of lines in crossflow (tests/reference/towers.json).
#[test]
fn ten_more_duties_agree_with_independent_integrations() {
    let mut work = poppe::CrossflowWorkspace::default();
    let mut counterflow = [(); 3].map(|()| Largest::default());
    let mut crossflow = [(); 3].map(|()| Largest::default());
    for row in rows(include_str!("../reference/towers.json")) {
        let entering_air = MoistAir::from_relative_humidity(
            number(&row, "dry_bulb"),
            number(&row, "relative_humidity"),
            number(&row, "pressure"),
        );
        let duty = Duty {
            hot_water_celsius: number(&row, "hot_water"),
            cold_water_celsius: number(&row, "cold_water"),
            entering_air: entering_air.unwrap(),
            water_to_air: number(&row, "water_to_air"),
        };
        let entering = duty.entering_air.humidity_ratio;
        let see = |largest: &mut [Largest; 3], found: &Exchange, me: f64, expected: &Value| {
            let evaporated = number(expected, "exit_humidity_ratio") - entering;
            let deviations = [
                (found.exit_humidity_ratio - entering) / evaporated - 1.0,
                me / number(expected, "merkel_number") - 1.0,
                found.exit_enthalpy_j_per_kg / 1e3 / number(expected, "exit_enthalpy") - 1.0,
            ];
            for (largest, deviation) in largest.iter_mut().zip(deviations) {
                largest.see(deviation);
            }
        };
        let found = poppe::counterflow(&duty).unwrap();
        see(&mut counterflow, &found, found.merkel_number, &row["counterflow"]);
        if row["crossflow"].is_object() {
            let found = poppe::crossflow(&duty, &mut work).unwrap();
            let number = poppe::crossflow_number(&duty, &mut work).unwrap();
            see(&mut crossflow, &found, number, &row["crossflow"]);
        }
    }
    for (largest, most) in counterflow.iter().zip([1.5e-4, 1e-4, 1e-4]) {
        assert!(largest.0 < most, "{} in counterflow", largest.0);
    }
    for largest in &crossflow {
        assert!(largest.0 < 1e-3, "{} in crossflow", largest.0);
    }
}

#[test]
fn rules_of_thumb_are_what_they_say() {
    for case in cases("counter") {
        let duty = duty(&case);
        let water = number(&case["inputs"], "circulation_kg_s");
        let rules = &case["rules"];
        let range = duty.range_kelvin();
        for (per_water, key) in [
            (rule::perry(range), "rule_00085_kg_s"),
            (rule::one_percent(range), "rule_1pct_per_10F_kg_s"),
            (rule::latent(range, 30.0), "all_latent_30C_kg_s"),
        ] {
            assert_relative_eq!(per_water * water, number(rules, key), max_relative = 1e-5);
        }
    }
}

#[test]
fn energy_closes_between_air_and_water() {
    for case in cases("counter") {
        let duty = duty(&case);
        let found = poppe::counterflow(&duty).unwrap();
        let to_air = found.exit_enthalpy_j_per_kg - duty.entering_air.enthalpy_j_per_kg();
        let out = 1.0 - found.evaporation_per_water;
        let from_water =
            duty.water_to_air * 4_186.0 * (duty.hot_water_celsius - out * duty.cold_water_celsius);
        assert_relative_eq!(to_air, from_water, max_relative = 1e-5);
    }
}

#[test]
fn crossflow_tends_to_counterflow_as_the_range_shrinks() {
    let air = MoistAir::from_wet_bulb(30.0, 22.0, 101_325.0).unwrap();
    let ratio = |range: f64| {
        let duty = Duty {
            hot_water_celsius: 30.0 + range,
            cold_water_celsius: 30.0,
            entering_air: air,
            water_to_air: 1.2,
        };
        let mut work = poppe::CrossflowWorkspace::default();
        let cross = poppe::crossflow_number(&duty, &mut work).unwrap();
        cross / poppe::counterflow(&duty).unwrap().merkel_number
    };
    assert!(ratio(0.2) < 1.01 && ratio(0.2) >= 0.999, "{}", ratio(0.2));
    assert!(ratio(8.0) > ratio(2.0) && ratio(2.0) > ratio(0.2));
}

#[test]
fn a_pinch_names_the_ratio_below_which_the_duty_can_be_done() {
    let duty = Duty {
        hot_water_celsius: 45.0,
        cold_water_celsius: 27.0,
        entering_air: MoistAir::from_wet_bulb(32.0, 24.0, 101_325.0).unwrap(),
        water_to_air: 4.0,
    };
    type Method = fn(&Duty) -> Result<Exchange, TowerError>;
    let crossflow: Method = |duty| poppe::crossflow(duty, &mut Default::default());
    for method in [merkel::counterflow, poppe::counterflow, crossflow] {
        let error = method(&duty).unwrap_err();
        let TowerError::Pinch { limiting_water_to_air, .. } = error else { panic!("{error}") };
        let near = |part: f64| method(&Duty { water_to_air: part * limiting_water_to_air, ..duty });
        assert!(near(0.99).is_ok(), "{error}");
        assert!(near(1.01).is_err(), "{error}");
    }
}

#[test]
fn numbers_that_are_no_duty_are_refused() {
    let good = duty(&cases("counter")[0]);
    let mut work = poppe::CrossflowWorkspace::default();
    for bad in [
        Duty { hot_water_celsius: f64::NAN, ..good },
        Duty { cold_water_celsius: f64::INFINITY, ..good },
        Duty { water_to_air: 0.0, ..good },
        Duty { water_to_air: f64::NAN, ..good },
        Duty { hot_water_celsius: good.cold_water_celsius, ..good },
        Duty { cold_water_celsius: 20.0, ..good },
    ] {
        assert!(poppe::counterflow(&bad).is_err(), "{bad:?}");
        assert!(poppe::crossflow(&bad, &mut work).is_err(), "{bad:?}");
        assert!(merkel::counterflow(&bad).is_err(), "{bad:?}");
        assert!(merkel::crossflow(&bad, &mut work).is_err(), "{bad:?}");
    }
}

/// 203 duties, of which many come near a pinch; DOP853 on the same equations
/// (tests/reference/pinch.json).
#[test]
fn near_a_pinch_the_steps_suffice() {
    const BANDS: [f64; 5] = [1.0, 2.0, 4.0, 8.0, f64::INFINITY];
    let mut evaporation = BANDS.map(|_| Largest::default());
    let mut transfer = BANDS.map(|_| Largest::default());
    let mut duties = BANDS.map(|_| 0);
    for row in rows(include_str!("../reference/pinch.json")) {
        let [dry, pressure] = ["dry_bulb", "pressure"].map(|key| number(&row, key));
        let air = MoistAir::from_wet_bulb(dry, number(&row, "wet_bulb"), pressure).unwrap();
        // The search for the humidity of two bulbs is not at trial here.
        let humidity_ratio = number(&row, "humidity_ratio");
        let duty = Duty {
            hot_water_celsius: number(&row, "hot_water"),
            cold_water_celsius: number(&row, "cold_water"),
            entering_air: MoistAir { humidity_ratio, ..air },
            water_to_air: number(&row, "water_to_air"),
        };
        let expected = number(&row, "merkel_number");
        let found = poppe::counterflow(&duty).unwrap_or_else(|error| panic!("{row}: {error}"));
        let band = BANDS.iter().position(|most| expected <= *most).unwrap();
        let evaporated = number(&row, "exit_humidity_ratio") - humidity_ratio;
        evaporation[band].see((found.exit_humidity_ratio - humidity_ratio) / evaporated - 1.0);
        transfer[band].see(found.merkel_number / expected - 1.0);
        duties[band] += 1;
    }
    for (band, most) in BANDS.iter().enumerate() {
        let [evaporation, transfer] = [&evaporation, &transfer].map(|all| all[band].0);
        println!(
            "KaV/L up to {most}: {} duties, evaporation {evaporation:.1e}, KaV/L {transfer:.1e}",
            duties[band]
        );
        assert!(duties[band] > 10 && evaporation <= 5e-4 && transfer <= 2e-3);
    }
}
