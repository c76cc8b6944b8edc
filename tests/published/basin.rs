//! The basin in time against scipy's LSODA with events (tests/reference/basin.json), for three
//! invented basins.

use super::{number, rows};
use approx::assert_relative_eq;
use coldbasin::basin::course::{Circuit, Makeup, Phase, course};
use coldbasin::basin::outflow::{Drain, Overflow};
use coldbasin::basin::valve::{Action, FloatValve};
use coldbasin::basin::{Basin, Shape};
use serde_json::Value;

fn basin(case: &Value) -> Basin {
    let of = |key: &str| number(case, key);
    let points = case["points"].as_array().unwrap();
    let points =
        points.iter().map(|point| (point[0].as_f64().unwrap(), point[1].as_f64().unwrap()));
    Basin {
        shape: Shape::of_points(points.collect()).unwrap(),
        operating_level: of("start_level"),
        overflow_level: of("overflow_level"),
        low_alarm_level: Some(of("low_alarm_level")),
        pump_trip_level: None,
        suction_level: None,
        held_up: of("held_up"),
        run_back_hours: of("run_back_hours"),
        valve: Some(FloatValve {
            action: Action::Proportional {
                open_level: of("open_level"),
                shut_level: of("shut_level"),
            },
            capacity: of("capacity"),
        }),
        overflow: Some(match case["pipe"].as_f64() {
            Some(diameter) => Overflow::Pipe(diameter),
            None => Overflow::Weir(of("weir")),
        }),
        drain: Some(Drain(of("drain"))),
    }
}

#[test]
fn three_basins_follow_an_independent_integration() {
    for case in rows(include_str!("../reference/basin.json")) {
        let of = |key: &str| number(&case, key);
        let circuit = Circuit {
            elsewhere: of("elsewhere"),
            evaporation: of("evaporation"),
            drift: of("drift"),
            blowdown: of("blowdown"),
            leakage: of("leakage"),
            cycles: of("cycles"),
            is_controlled: false,
        };
        let phase = Phase {
            hours: of("hours"),
            pumps_run: case["pumps_run"].as_bool().unwrap(),
            makeup: match case["makeup"][0].as_str() {
                Some("stuck") => Makeup::Stuck(case["makeup"][1].as_f64().unwrap()),
                _ => Makeup::Float,
            },
            drain_is_open: case["drain_is_open"].as_bool().unwrap(),
            rain: of("rain"),
        };
        let found = course(&basin(&case), &circuit, of("start_level"), &[phase]).unwrap();
        let expected = &case["out"];
        let last = found.samples.last().unwrap();
        for (ours, key) in [
            (last.level, "level"),
            (last.cycles, "cycles"),
            (found.makeup, "makeup"),
            (found.overflowed, "overflowed"),
            (found.overflowed_solids, "overflowed_solids"),
        ] {
            assert_relative_eq!(ours, number(expected, key), max_relative = 1e-6, epsilon = 1e-9);
        }
        for (ours, key) in [(found.overflows_at, "overflows_at"), (found.alarms_at, "alarms_at")] {
            match expected[key].as_f64() {
                Some(hour) => assert_relative_eq!(ours.unwrap(), hour, max_relative = 1e-6),
                None => assert_eq!(ours, None, "{key}"),
            }
        }
    }
}
