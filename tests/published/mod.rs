//! Checks against the outside world: one module a source.

mod basin;
mod chemistry;
mod metered_tower;
mod off_design_curves;
mod psychrometrics;
mod reconcile;
mod sample_calculation;
mod tower;
mod trade;
mod usgs_examples;
mod water;
mod worked_examples;

use serde_json::Value;

/// Reference values: the notes and versions in the file say how they were made.
fn thermal() -> Value {
    serde_json::from_str(include_str!("../reference/thermal_cases.json")).unwrap()
}

fn trade_cases() -> Value {
    serde_json::from_str(include_str!("../reference/trade_cases.json")).unwrap()
}

/// A table that `tests/reference/make.py` wrote.
fn rows(text: &str) -> Vec<Value> {
    let table: Value = serde_json::from_str(text).unwrap();
    table["rows"].as_array().unwrap().clone()
}

/// Keeps the largest of many deviations.
#[derive(Default)]
struct Largest(f64);

impl Largest {
    fn see(&mut self, deviation: f64) {
        assert!(deviation.is_finite());
        self.0 = self.0.max(deviation.abs());
    }
}

/// A number that the file must have.
fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key} in {value}"))
}
