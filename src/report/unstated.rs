//! Readings whose `±` nobody stated, and what was taken in its place.

use super::page::{Block, Words, constant, number, words};
use super::shown::with_symbol;
use crate::quantity::{Quantity, UnitSystem, trimmed};
use crate::site::Value;
use serde::Serialize;

/// Kinds that are named in one line.
const NAMED: usize = 3;

/// A reading with an ordinary error in place of a stated one.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct UnstatedOut {
    /// The reading.
    pub path: String,
    /// Its kind.
    pub of: &'static str,
    /// A limit of its error either way, in the SI unit of its quantity (of a temperature, K).
    pub half_width: f64,
    /// The same as people read it.
    pub shown: String,
    /// Where that comes from.
    pub basis: &'static str,
}

/// Those of some values for programs.
pub(super) fn json<'a>(values: impl IntoIterator<Item = &'a Value>) -> Vec<UnstatedOut> {
    let out = |value: &'a Value| {
        let (line, uncertainty) = (value.default_uncertainty?, value.uncertainty?);
        Some(UnstatedOut {
            path: value.path.clone(),
            of: line.of,
            half_width: uncertainty.half_width,
            shown: shown(value, UnitSystem::Si)?,
            basis: line.basis,
        })
    };
    values.into_iter().filter_map(out).collect()
}

/// The error of a value as people read it.
fn shown(value: &Value, units: UnitSystem) -> Option<String> {
    let (line, uncertainty) = (value.default_uncertainty?, value.uncertainty?);
    let half_width = uncertainty.half_width;
    Some(match value.quantity {
        _ if line.is_relative() => format!("{} %", brief(100.0 * half_width / value.si.abs())),
        Quantity::RelativeHumidity => format!("{} points", brief(100.0 * half_width)),
        quantity => {
            let unit = match quantity {
                Quantity::Temperature => Quantity::TemperatureDifference.shown_in(units),
                _ => value.shown_in(units),
            };
            with_symbol(brief(half_width / unit.factor.abs()), unit)
        }
    })
}

/// Where programs find them: keys of the list and of what is shown of each.
pub(super) type Keys = [&'static str; 2];
/// Of a balance.
pub(super) const OF_BALANCE: Keys = ["unstated", "unstated.shown"];
/// Of other results.
pub(super) const OF_RESULTS: Keys = ["uncertain.unstated", "uncertain.unstated.shown"];

fn brief(number: f64) -> String {
    trimmed(number, 2)
}

/// One line: how many, and the first kinds; `None` where every `±` is stated.
pub(super) fn line(values: &[&Value], keys: Keys, units: UnitSystem) -> Option<Words> {
    let unstated: Vec<&&Value> =
        values.iter().filter(|value| value.default_uncertainty.is_some()).collect();
    let mut kinds: Vec<(&str, String)> = Vec::new();
    for value in &unstated {
        if let (Some(line), Some(shown)) = (value.default_uncertainty, shown(value, units))
            && kinds.iter().all(|(of, _)| *of != line.of)
        {
            kinds.push((line.of, shown));
        }
    }
    if kinds.is_empty() {
        return None;
    }
    let others = (kinds.len() > NAMED).then_some(", etc");
    let named = kinds.into_iter().take(NAMED);
    let named = named.map(|(of, shown)| words![of, " ", number(keys[1], shown)]);
    let readings = if unstated.len() == 1 { " reading" } else { " readings" };
    Some(words![
        "No ± for ",
        number(keys[0], unstated.len().to_string()),
        readings,
        "; assumed: ",
        Words::joined(named, ", "),
        others,
        "."
    ])
}

/// Every one with its basis.
pub(super) fn blocks(values: &[&Value], keys: Keys, units: UnitSystem) -> Vec<Block> {
    let block = |value: &&Value| {
        let line = value.default_uncertainty?;
        Some(Block::paragraph(words![
            Words::given(&value.path),
            " ± ",
            number(keys[1], shown(value, units)?),
            ": not stated; ",
            constant(line.basis)
        ]))
    };
    values.iter().filter_map(block).collect()
}
