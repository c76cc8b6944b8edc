//! A table whose columns are keys of the site file and whose lines are rows.

use super::values::{self, Values};
use crate::quantity::unit::{UNITS, Unit};
use crate::site::Value;

/// A table as it was read: cells are texts.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// The file.
    pub name: String,
    /// Keys, as in `--set`, by column.
    pub paths: Vec<String>,
    /// Units by column that stand in the header; empty where none does.
    pub units: Vec<String>,
    /// The line of the file, and its cells by column.
    pub lines: Vec<(u64, Vec<String>)>,
}

/// What is wrong in a table.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{file}:{line}: column {column}, {path}: {message}")]
pub struct CellError {
    /// The file.
    pub file: String,
    /// Its line, from 1.
    pub line: u64,
    /// The column, from 1.
    pub column: usize,
    /// Its key.
    pub path: String,
    /// What is wrong, and what would be right.
    pub message: String,
}

/// Why lines are no table.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{file}:{line}: {message}")]
pub struct TableError {
    /// The file.
    pub file: String,
    /// Its line, from 1.
    pub line: u64,
    /// What is wrong, and what would be right.
    pub message: String,
}

impl Table {
    /// A table of records, each with its line. The first is the header: keys, with a unit in brackets
    /// behind, as in `air.wet_bulb (degC)`. The second may hold the units of all.
    ///
    /// # Errors
    /// [`TableError`].
    pub fn new(
        name: &str,
        records: impl IntoIterator<Item = (u64, Vec<String>)>,
    ) -> Result<Self, TableError> {
        let wrong =
            |line, message: &str| TableError { file: name.into(), line, message: message.into() };
        let mut records = records
            .into_iter()
            .filter(|(_, cells)| cells.iter().any(|cell| !cell.trim().is_empty()));
        let (line, header) = records.next().ok_or_else(|| {
            wrong(1, "the file is empty: its first line holds keys, such as blowdown.cycles")
        })?;
        let (paths, mut units): (Vec<String>, Vec<String>) =
            header.iter().map(|cell| key_and_unit(cell)).unzip();
        if let Some(place) = paths.iter().position(String::is_empty) {
            let message =
                format!("column {} has no key: write one, such as blowdown.cycles", place + 1);
            return Err(wrong(line, &message));
        }
        let mut lines: Vec<(u64, Vec<String>)> = Vec::new();
        for (line, cells) in records {
            if cells.len() != paths.len() {
                let message = format!("{} cells, and the header has {}", cells.len(), paths.len());
                return Err(wrong(line, &message));
            }
            if lines.is_empty() && units.iter().all(String::is_empty) && are_units(&cells) {
                units = cells;
                continue;
            }
            lines.push((line, cells));
        }
        if lines.is_empty() {
            return Err(wrong(line, "no line follows the header"));
        }
        Ok(Self { name: name.into(), paths, units, lines })
    }

    fn wrong(&self, (line, column): (u64, usize), message: String) -> CellError {
        CellError {
            file: self.name.clone(),
            line,
            column: column + 1,
            path: self.paths[column].clone(),
            message,
        }
    }

    /// The number of a cell, SI: in its own unit, or in that of the header.
    ///
    /// # Errors
    /// [`CellError`].
    pub(super) fn number(
        &self,
        at: (u64, usize),
        cell: &str,
        slot: &Value,
    ) -> Result<f64, CellError> {
        let wrong = |message: String| self.wrong(at, message);
        let written = with_unit(cell, &self.units[at.1]);
        if written.is_empty() {
            let example = example(slot);
            return Err(wrong(format!("the cell is empty; write a value, such as {example}")));
        }
        match values::read(&written, slot).map_err(|error| wrong(error.to_string()))? {
            Values::List(values) if values.len() == 1 => Ok(values[0]),
            _ => Err(wrong(format!("\"{cell}\" is not one value, such as {}", example(slot)))),
        }
    }

    /// The text of a cell.
    ///
    /// # Errors
    /// [`CellError`] of an empty one.
    pub(super) fn text(&self, at: (u64, usize), cell: &str) -> Result<String, CellError> {
        let written = with_unit(cell, &self.units[at.1]);
        if written.is_empty() {
            return Err(self.wrong(at, "the cell is empty; write a value, as in --set".into()));
        }
        Ok(written)
    }
}

/// A value in the unit that a site file would have it in.
fn example(slot: &Value) -> String {
    let unit = slot.shown_in(crate::quantity::UnitSystem::Si);
    let number = crate::quantity::significant(unit.of_si(slot.si), 3);
    format!("\"{number} {}\"", unit.symbol).replace(" \"", "\"")
}

/// A cell with the unit of its column, where it is a number alone.
fn with_unit(cell: &str, unit: &str) -> String {
    let cell = cell.trim();
    match !unit.trim().is_empty() && cell.parse::<f64>().is_ok() {
        true => format!("{cell} {}", unit.trim()),
        false => cell.to_owned(),
    }
}

/// A head's key and its unit in brackets.
fn key_and_unit(head: &str) -> (String, String) {
    let head = head.trim();
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let Some((key, unit)) = head.strip_suffix(close).and_then(|head| head.rsplit_once(open))
        {
            return (key.trim().to_owned(), unit.trim().to_owned());
        }
    }
    (head.to_owned(), String::new())
}

/// Whether cells are units and no values: each is empty or the name of a unit, and one is.
fn are_units(cells: &[String]) -> bool {
    let is_unit = |cell: &str| {
        let names = |unit: &Unit| unit.symbol == cell || unit.spellings.contains(&cell);
        UNITS.iter().any(names)
    };
    cells.iter().all(|cell| cell.trim().is_empty() || is_unit(cell.trim()))
        && cells.iter().any(|cell| !cell.trim().is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(text: &str) -> Result<Table, TableError> {
        let records = text
            .lines()
            .enumerate()
            .map(|(index, line)| (index as u64 + 1, line.split(',').map(str::to_owned).collect()));
        Table::new("t.csv", records)
    }

    #[test]
    fn units_stand_in_the_header_or_in_a_row_below_it() {
        let head = table("air.wet_bulb (degC),blowdown.cycles\n20,3\n\n22,4").unwrap();
        assert_eq!(head.paths, ["air.wet_bulb", "blowdown.cycles"]);
        assert_eq!(head.units, ["degC", ""]);
        assert_eq!(head.lines.iter().map(|(line, _)| *line).collect::<Vec<_>>(), [2, 4]);
        let row = table("air.wet_bulb,blowdown.cycles\ndegC,\n20,3").unwrap();
        assert_eq!((row.units, row.lines.len()), (head.units, 1));
        // Texts of a key are no units.
        let texts = table("cell.1.arrangement\ncounterflow\ncrossflow").unwrap();
        assert_eq!(texts.lines.len(), 2);
    }

    #[test]
    fn what_is_no_table_is_told_with_its_line() {
        let said = |text: &str| table(text).unwrap_err().to_string();
        assert_eq!(said("a,b\n1,2\n3"), "t.csv:3: 1 cells, and the header has 2");
        assert!(said("a,\n1,2").contains("column 2 has no key"));
        assert!(said("").starts_with("t.csv:1: the file is empty"));
        assert!(said("a,b").contains("no line follows"));
    }
}
