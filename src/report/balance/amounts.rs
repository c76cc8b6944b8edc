//! The flows of a sheet in the digits in which its page and its picture show them.

use crate::model::{BalanceSheet, Stream};
use crate::quantity::unit::Unit;
use crate::quantity::{Quantity, UnitSystem, with_decimals};
use crate::report::rounding::{column, digits_of};
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
        let decimals = out.decimals.max(0) as usize;
        let least = 0.1f64.powi(decimals as i32);
        let spread = |stream: &Stream| {
            expanded(stream).map(|expanded| match expanded < 0.5 * least {
                true => format!("<{}", with_decimals(least, decimals)),
                false => with_decimals(expanded, decimals),
            })
        };
        let amount = |flow: &String, stream| Amount { flow: flow.clone(), spread: spread(stream) };
        let sources: Vec<f64> = sheet.sources.iter().map(|source| flow(source.kg_per_s)).collect();
        Self {
            unit: Quantity::VolumeFlow.shown_in(units),
            digits,
            makeup: amount(&out.total, &sheet.makeup),
            sources: column(&sources, digits).parts,
            out: out.parts.iter().zip(&sheet.out).map(|(flow, out)| amount(flow, out)).collect(),
        }
    }
}
