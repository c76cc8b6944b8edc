//! A metered counterflow tower of 204 kW, three campaigns of steady states: Palenzuela, Roca and Serrano,
//! Zenodo 10.5281/zenodo.10806201, CC BY 4.0 (tests/published/metered/README.md).
//!
//! The makeup meter is good to 0.5 % of 2 m3/h and 2.5 % of the reading: 5 to 13 % of these makeups. It
//! bounds the mean of a campaign; nothing finer can be asked of it. Scatter between states is the
//! better test of a method.

use coldbasin::air::{MoistAir, pressure_at_altitude_pascal};
use coldbasin::tower::prediction::{CrossflowWorkspace, Fill, Task, Transfer, USUAL_EXPONENT};
use coldbasin::tower::{Arrangement, Duty, merkel, poppe, rule};
use coldbasin::water;

/// Of the site, from its place: the source does not give it.
const ALTITUDE: f64 = 500.0;

/// What was read in one steady state.
#[derive(Clone, Copy)]
struct State {
    duty: Duty,
    fan_percent: f64,
    water_kg_per_s: f64,
    makeup_kg_per_s: f64,
    meter_error_kg_per_s: f64,
}

/// What a reading may be off by, to see what it does to the evaporation.
#[derive(Clone, Copy)]
struct Off {
    altitude: f64,
    air: f64,
    hot: f64,
    cold: f64,
    dry: f64,
    relative_humidity: f64,
}

const AS_READ: Off =
    Off { altitude: ALTITUDE, air: 1.0, hot: 0.0, cold: 0.0, dry: 0.0, relative_humidity: 1.0 };

const ALONE: [&str; 7] = ["Tamb", "HR", "Tin", "Tout", "q", "w_fan", "m_w_lost"];
const HYBRID: [&str; 7] = ["Tamb", "HR", "Twct_in", "Twct_out", "qwct", "wwct", "Cw"];

fn campaign(text: &str, columns: [&str; 7], off: Off) -> Vec<State> {
    let mut lines = text.lines().map(|line| line.split(',').collect::<Vec<_>>());
    let head = lines.next().unwrap();
    let at = columns.map(|name| head.iter().position(|column| *column == name).unwrap());
    lines
        .filter_map(|line| {
            let [dry, humidity, hot, cold, flow, fan, makeup] =
                at.map(|column| line[column].parse::<f64>().unwrap());
            // The hybrid plant also ran with the tower off; the air's fit holds from 21 %.
            (fan >= 20.9 && flow > 3.0).then(|| {
                let hertz = fan / 2.0;
                let dry_air = (-0.0014 * hertz + 0.1743) * hertz - 0.7251;
                let density = water::density_kg_per_m3(hot);
                let water_kg_per_s = flow * density / 3_600.0;
                let entering_air = MoistAir::from_relative_humidity(
                    dry + off.dry,
                    (humidity / 100.0 * off.relative_humidity).min(1.0),
                    pressure_at_altitude_pascal(off.altitude).unwrap(),
                );
                State {
                    duty: Duty {
                        hot_water_celsius: hot + off.hot,
                        cold_water_celsius: cold + off.cold,
                        entering_air: entering_air.unwrap(),
                        water_to_air: water_kg_per_s / dry_air / off.air,
                    },
                    fan_percent: fan,
                    water_kg_per_s,
                    makeup_kg_per_s: makeup * 0.998 / 3_600.0,
                    meter_error_kg_per_s: (0.005 * 2_000.0 + 0.025 * makeup) * 0.998 / 3_600.0,
                }
            })
        })
        .collect()
}

fn campaigns(off: Off) -> [(&'static str, Vec<State>); 3] {
    [
        ("1", campaign(include_str!("metered/campaign_1.csv"), ALONE, off)),
        ("3", campaign(include_str!("metered/campaign_3.csv"), ALONE, off)),
        ("hybrid", campaign(include_str!("metered/hybrid.csv"), HYBRID, off)),
    ]
}

/// Mean and standard deviation.
fn spread(values: &[f64]) -> (f64, f64) {
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    (mean, (squares / (count - 1.0)).sqrt())
}

type Method = fn(&Duty) -> f64;
const METHODS: [(&str, Method); 3] = [
    ("poppe", |duty| poppe::counterflow(duty).unwrap().evaporation_per_water),
    ("merkel", |duty| merkel::counterflow(duty).unwrap().evaporation_per_water),
    ("rule", |duty| rule::perry(duty.range_kelvin())),
];

/// Evaporation by a method over the metered makeup, less 1; mean and scatter in %.
fn against_the_meter(states: &[State], method: Method) -> (f64, f64) {
    let deviation = |state: &State| {
        100.0 * (method(&state.duty) * state.water_kg_per_s / state.makeup_kg_per_s - 1.0)
    };
    spread(&states.iter().map(deviation).collect::<Vec<_>>())
}

/// Up to half speed the fans carry few drops over.
fn half_speed(states: Vec<State>) -> Vec<State> {
    states.into_iter().filter(|state| state.fan_percent <= 52.0).collect()
}

/// What the meter may be off by, in % of its readings, as a mean.
fn meter_error(states: &[State]) -> f64 {
    let errors: Vec<_> = states
        .iter()
        .map(|state| 100.0 * state.meter_error_kg_per_s / state.makeup_kg_per_s)
        .collect();
    spread(&errors).0
}

/// Within the meter's error as long as no drops are carried over; above half speed the meter shows
/// more than any method.
#[test]
fn evaporation_by_each_method() {
    for (name, states) in campaigns(AS_READ) {
        for (method, evaporation) in METHODS {
            let (mean, scatter) = against_the_meter(&states, evaporation);
            println!("campaign {name}, {method}: {mean:+.1} %, scatter {scatter:.1} %");
        }
        let slow = half_speed(states);
        let (mean, scatter) = against_the_meter(&slow, METHODS[0].1);
        let limit = meter_error(&slow);
        println!(
            "campaign {name}, {} states to half speed, poppe: {mean:+.1} %, scatter {scatter:.1} %, \
             meter ± {limit:.1} %",
            slow.len()
        );
        assert!(mean.abs() < limit);
    }
    // The campaign at ordinary fan speeds: every state by itself, and the scatter that the rule has.
    let [_, (_, states), _] = campaigns(AS_READ);
    for state in &states {
        let evaporated = METHODS[0].1(&state.duty) * state.water_kg_per_s;
        assert!((evaporated - state.makeup_kg_per_s).abs() < state.meter_error_kg_per_s);
    }
    let [poppe, _, rule] = METHODS.map(|(_, method)| against_the_meter(&states, method).1);
    assert!(poppe < 2.0 && poppe < 0.4 * rule);
}

/// The mean of -4 % in campaign 3: neither altitude nor air flow nor humidity explains it, nor a shift
/// of both thermometers. The meter's own error does (8 %), or 0.3 K between the two thermometers of
/// the water, or 0.04 % of drift; states do not tell these apart, but a constant share of the
/// makeup fits best.
#[test]
fn what_moves_the_mean() {
    let [_, (_, read), _] = campaigns(AS_READ);
    let as_read = against_the_meter(&read, METHODS[0].1).0;
    for (what, off, least, most) in [
        ("sea level", Off { altitude: 0.0, ..AS_READ }, -1.0, 1.0),
        ("air +10 %", Off { air: 1.1, ..AS_READ }, -0.2, 0.2),
        ("air -10 %", Off { air: 0.9, ..AS_READ }, -0.2, 0.2),
        ("humidity a tenth higher", Off { relative_humidity: 1.1, ..AS_READ }, -0.5, 0.5),
        ("dry bulb +1 K", Off { dry: 1.0, ..AS_READ }, -1.0, 1.0),
        ("both waters +0.3 K", Off { hot: 0.3, cold: 0.3, ..AS_READ }, -0.2, 0.2),
        ("hot water +0.3 K", Off { hot: 0.3, ..AS_READ }, 3.0, 5.0),
        ("cold water +0.3 K", Off { cold: 0.3, ..AS_READ }, -5.0, -3.0),
    ] {
        let [_, (_, states), _] = campaigns(off);
        let moved = against_the_meter(&states, METHODS[0].1).0 - as_read;
        println!("{what}: {moved:+.2} %");
        assert!(moved > least && moved < most);
    }
}

/// Coefficient and exponent of the characteristic by least squares of the logarithms.
fn fitted(states: &[State]) -> (f64, f64) {
    let point = |state: &State| {
        let number = poppe::counterflow(&state.duty).unwrap().merkel_number;
        (state.duty.water_to_air.ln(), number.ln())
    };
    let points: Vec<_> = states.iter().map(point).collect();
    let (x, _) = spread(&points.iter().map(|point| point.0).collect::<Vec<_>>());
    let (y, _) = spread(&points.iter().map(|point| point.1).collect::<Vec<_>>());
    let products: f64 = points.iter().map(|point| (point.0 - x) * (point.1 - y)).sum();
    let squares: f64 = points.iter().map(|point| (point.0 - x).powi(2)).sum();
    let exponent = -products / squares;
    ((y + exponent * x).exp(), exponent)
}

fn fill((coefficient, exponent): (f64, f64)) -> Fill {
    let (transfer, arrangement) = (Transfer::Poppe, Arrangement::Counterflow);
    Fill { transfer, arrangement, coefficient, exponent }
}

/// Cold water as predicted at the state's own range, less the measured one, K.
fn cold_water_deviation(fill: &Fill, state: &State) -> f64 {
    let duty = &state.duty;
    let task = Task { range_kelvin: duty.range_kelvin(), entering_air: duty.entering_air };
    let found = fill.predict(&task, duty.water_to_air, &mut CrossflowWorkspace::default());
    found.unwrap().cold_water_celsius - duty.cold_water_celsius
}

/// The authors: Me = 1.52 (water/air)^-0.69. The campaigns differ from each other by more than the
/// tolerance: 0.53 to 0.80.
#[test]
fn the_characteristic_has_the_authors_exponent() {
    let [(_, first), (_, third), (_, hybrid)] = campaigns(AS_READ);
    for (name, states) in [("1", &first), ("3", &third), ("hybrid", &hybrid)] {
        let (coefficient, exponent) = fitted(states);
        println!("campaign {name}: {coefficient:.2} (water/air)^-{exponent:.2}");
        assert!(exponent > 0.5 && exponent < 0.85);
    }
    let (coefficient, exponent) = fitted(&[first, third, hybrid].concat());
    println!("all: {coefficient:.2} (water/air)^-{exponent:.2}");
    assert!((exponent - 0.69).abs() < 0.1);
}

#[test]
fn cold_water_at_full_and_slowed_fans() {
    let authors = fill((1.52, 0.69));
    let of = |states: &[State], fill: &Fill| {
        let all: Vec<_> = states.iter().map(|state| cold_water_deviation(fill, state)).collect();
        spread(&all)
    };
    for (name, states) in campaigns(AS_READ) {
        let (mean, scatter) = of(&states, &authors);
        println!("campaign {name}, authors' characteristic: {mean:+.2} K, scatter {scatter:.2} K");
    }
    let [(_, first), (_, third), _] = campaigns(AS_READ);
    // As `year` does it: one design point at full fan and the usual exponent.
    let full = first.iter().filter(|state| state.fan_percent == 100.0).nth(2).unwrap();
    let number = poppe::counterflow(&full.duty).unwrap().merkel_number;
    let usual = fill((number * full.duty.water_to_air.powf(USUAL_EXPONENT), USUAL_EXPONENT));
    // Thermometers alone make some 0.3 K of this; the last column is what the limits of validity say.
    for (percent, within) in [(100.0, 0.5), (75.0, 0.5), (50.0, 1.0), (25.0, 2.5)] {
        let states: Vec<_> =
            first.iter().filter(|state| state.fan_percent == percent).copied().collect();
        let (mean, scatter) = of(&states, &authors);
        let (of_usual, usual_scatter) = of(&states, &usual);
        println!(
            "fan {percent} %: authors {mean:+.2} K, scatter {scatter:.2}; from one full-fan state \
             {of_usual:+.2} K, scatter {usual_scatter:.2}"
        );
        assert!(of_usual.abs() < within && mean.abs() < 2.5);
    }
    let (mean, scatter) = of(&third, &usual);
    println!("campaign 3 from one full-fan state: {mean:+.2} K, scatter {scatter:.2} K");
    assert!(mean.abs() < 0.5 && scatter < 1.0);
}
