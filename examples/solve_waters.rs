//! Solves every water of tests/reference/waters.json again and again and prints the time of one, in
//! microseconds: what tests/reference/waters.py holds against PHREEQC.

use coldbasin::chemistry::speciation::{Acidity, Constants, solve};
use coldbasin::chemistry::{Component, Composition};
use serde_json::Value;
use std::hint::black_box;
use std::time::Instant;

const KEYS: [(&str, Component); 11] = [
    ("Ca", Component::Calcium),
    ("Mg", Component::Magnesium),
    ("Na", Component::Sodium),
    ("K", Component::Potassium),
    ("Cl", Component::Chloride),
    ("SO4", Component::Sulfate),
    ("NO3", Component::Nitrate),
    ("F", Component::Fluoride),
    ("NH4", Component::Ammonium),
    ("SiO2", Component::Silica),
    ("PO4", Component::Phosphate),
];

fn main() {
    let file: Value =
        serde_json::from_str(include_str!("../tests/reference/waters.json")).unwrap_or_default();
    let rows = file["rows"].as_array().cloned().unwrap_or_default();
    let waters: Vec<(Composition, Acidity, f64)> = rows
        .iter()
        .map(|row| {
            let total = |key: &str| row["totals_mmol"][key].as_f64().unwrap_or(0.0) / 1e3;
            let mut water = Composition::default();
            for (key, component) in KEYS {
                water.set(component, total(key));
            }
            water.alkalinity = total("Alk");
            let value = row["value"].as_f64().unwrap_or(8.0);
            let acidity = match row["mode"].as_str() {
                Some("ph") => Acidity::Ph(value),
                _ => Acidity::CarbonDioxide(value),
            };
            (water, acidity, row["celsius"].as_f64().unwrap_or(25.0))
        })
        .collect();
    const ROUNDS: usize = 50;
    let begin = Instant::now();
    for _ in 0..ROUNDS {
        for (water, acidity, celsius) in &waters {
            let constants = Constants::at(*celsius).expect("a temperature of the file");
            let solved = solve(black_box(water), *acidity, &constants);
            assert!(black_box(solved).is_ok(), "a water of the file");
        }
    }
    let seconds = begin.elapsed().as_secs_f64();
    println!("{:.2}", 1e6 * seconds / (ROUNDS * waters.len()) as f64);
}
