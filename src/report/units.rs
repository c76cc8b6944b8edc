//! All units that are read, and what is refused because it can be several.

use super::page::{Block, Page, constant, words};
use crate::quantity::unit::{self, UNITS};
use serde::Serialize;

/// A unit that is read.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct UnitRow {
    /// What it measures.
    pub quantity: &'static str,
    /// How it is printed, and one way to write it; empty for a plain number.
    pub symbol: &'static str,
    /// Other ways to write it, joined by "; ".
    pub spellings: String,
    /// SI units in one of it: the SI value is the number times this, and the offset.
    pub factor: f64,
    /// SI value of its zero; only temperatures have one.
    pub offset: f64,
    /// Where the factor comes from.
    pub source: &'static str,
}

/// A spelling that is refused.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct RefusedRow {
    /// As written, joined by "; ".
    pub spellings: String,
    /// Why.
    pub why: &'static str,
    /// What to write.
    pub instead: &'static str,
}

/// All units, and all that is refused.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Units {
    /// Units that are read.
    pub units: Vec<UnitRow>,
    /// Spellings that can mean several units.
    pub refused: Vec<RefusedRow>,
}

/// Every unit, those of one quantity together.
pub fn rows() -> Vec<UnitRow> {
    let mut quantities = Vec::new();
    for unit in UNITS {
        if !quantities.contains(&unit.quantity) {
            quantities.push(unit.quantity);
        }
    }
    let of = |quantity| UNITS.iter().filter(move |unit| unit.quantity == quantity);
    let row = |unit: &unit::Unit| UnitRow {
        quantity: unit.quantity.name(),
        symbol: unit.symbol,
        spellings: unit.spellings.join("; "),
        factor: unit.factor,
        offset: unit.offset,
        source: unit.source,
    };
    quantities.into_iter().flat_map(of).map(row).collect()
}

/// Every unit, and what is refused.
pub fn units() -> Units {
    let row = |entry: &unit::Ambiguous| RefusedRow {
        spellings: entry.spellings.join("; "),
        why: entry.why,
        instead: entry.instead,
    };
    Units { units: rows(), refused: unit::AMBIGUOUS.iter().map(row).collect() }
}

/// Every unit as a page.
pub fn page() -> Page {
    let version = constant(env!("CARGO_PKG_VERSION"));
    let mut page = Page {
        name: "Units".into(),
        of: words!["All units that files and options may be written in, coldbasin ", version],
        ..Page::default()
    };
    page.detail.push(Block::paragraph(
        "Spaces, underscores and capitals do not count where nothing hangs on them; ° reads as deg, µ as u, ³ as 3.",
    ));
    let all = units();
    for of_quantity in all.units.chunk_by(|a, b| a.quantity == b.quantity) {
        let name = of_quantity[0].quantity.trim_start_matches("a ").trim_start_matches("an ");
        page.detail.push(Block::heading(name.to_uppercase()));
        page.detail.extend(of_quantity.iter().map(line));
    }
    page.detail.push(Block::heading("REFUSED".to_owned()));
    for refused in &all.refused {
        page.detail.push(Block::paragraph(words![constant(refused.spellings.as_str())]));
        let why = words![constant(refused.why), ": ", constant(refused.instead), "."];
        page.detail.push(Block::indented(why));
    }
    page
}

fn line(row: &UnitRow) -> Block {
    let symbol = if row.symbol.is_empty() { "(none)" } else { row.symbol };
    let also = match row.spellings.as_str() {
        "" => String::new(),
        spellings => format!(", also {spellings}"),
    };
    let offset = if row.offset == 0.0 { String::new() } else { format!(" + {}", row.offset) };
    Block::paragraph(words![constant(format!(
        "{symbol}{also}: x {}{offset} in SI ({})",
        row.factor, row.source
    ))])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_unit_is_listed_once() {
        let rows = rows();
        assert_eq!(rows.len(), UNITS.len());
        let changes = rows.windows(2).filter(|pair| pair[0].quantity != pair[1].quantity).count();
        let mut quantities: Vec<&str> = rows.iter().map(|row| row.quantity).collect();
        quantities.sort_unstable();
        quantities.dedup();
        assert_eq!(changes + 1, quantities.len());
    }
}
