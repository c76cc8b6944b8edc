//! Checks against the outside world: one module a source.

mod psychrometrics;
mod tower;
mod trade;
mod worked_examples;

use serde_json::Value;

/// Reference values: the notes and versions in the file say how they were made.
fn thermal() -> Value {
    serde_json::from_str(include_str!("../reference/thermal_cases.json")).unwrap()
}

fn trade_cases() -> Value {
    serde_json::from_str(include_str!("../reference/trade_cases.json")).unwrap()
}

/// A number that the file must have.
fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key} in {value}"))
}
