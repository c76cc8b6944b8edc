//! The flows of a sheet in the digits in which its page and its picture show them.

use crate::model::{BalanceSheet, Stream};
use crate::quantity::unit::Unit;
use crate::quantity::{Quantity, UnitSystem, significant, with_decimals};
use crate::report::rounding::{self, digits_of};
use crate::report::shown::{COVERAGE, flow_in, m3_per_h};

/// The flows of a sheet as they are shown.
pub(crate) struct Amounts {
    /// Their unit.
    pub unit: &'static Unit,
    /// Significant digits that the makeup deserves.
    pub digits: i32,
    /// All water in.
    pub makeup: Amount,
    /// What each source brings.
    pub sources: Vec<String>,
    /// By how many last digits the columns of the sheet miss their totals.
    pub misses_by: u64,
    /// Water out, in the order of the sheet.
    pub out: Vec<Amount>,
}

/// A flow as it is shown.
pub(crate) struct Amount {
    /// Without its unit.
    pub flow: String,
    /// Its expanded uncertainty, where the inputs carry one.
    pub spread: Option<String>,
}

impl Amounts {
    /// The flows of a sheet.
    pub(crate) fn of(sheet: &BalanceSheet, units: UnitSystem) -> Self {
        let flow = |kg_per_s: f64| flow_in(units, m3_per_h(kg_per_s));
        let expanded = |stream: &Stream| {
            stream.standard_uncertainty_kg_per_s.map(|standard| COVERAGE * flow(standard))
        };
        let digits = digits_of(flow(sheet.makeup.kg_per_s), expanded(&sheet.makeup));
        let out: Vec<f64> = sheet.out.iter().map(|stream| flow(stream.kg_per_s)).collect();
        let out = column(&out, digits);
        let amount = |shown: &String, stream: &Stream| Amount {
            flow: shown.clone(),
            spread: expanded(stream).map(|expanded| spread(expanded, shown)),
        };
        let sources: Vec<f64> = sheet.sources.iter().map(|source| flow(source.kg_per_s)).collect();
        let sources = column(&sources, digits);
        Self {
            misses_by: out.misses_by.max(sources.misses_by),
            unit: Quantity::VolumeFlow.shown_in(units),
            digits,
            makeup: amount(&out.total, &sheet.makeup),
            sources: sources.parts,
            out: out.parts.iter().zip(&sheet.out).map(|(flow, out)| amount(flow, out)).collect(),
        }
    }
}

/// A column of parts and their total. Parts that the digits of the total leave less than two of have two
/// digits of their own.
pub(super) fn column(parts: &[f64], digits: i32) -> rounding::Column {
    let mut column = rounding::column(parts, digits);
    let step = 10f64.powi(-column.decimals);
    for (shown, part) in column.parts.iter_mut().zip(parts) {
        if *part > 0.0 && *part < 9.5 * step {
            *shown = significant(*part, 2);
        }
    }
    column
}

/// An expanded uncertainty to the decimals of its value.
fn spread(expanded: f64, value: &str) -> String {
    let decimals = value.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    let least = 0.1f64.powi(decimals as i32);
    match expanded < 0.5 * least {
        true => format!("<{}", with_decimals(least, decimals)),
        false => with_decimals(expanded, decimals),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_part_shows_digits_of_its_own() {
        let column = column(&[11.9, 0.0448, 2.83, 0.0997, 0.0], 3);
        assert_eq!(column.parts[1], "0.045");
        assert_eq!(column.parts[3..], ["0.10", "0"]);
        assert_eq!(spread(0.003, &column.parts[1]), "0.003");
        assert_eq!(spread(0.0003, &column.parts[1]), "<0.001");
    }
}
