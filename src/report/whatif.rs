//! Rows of many runs, as people and programs read them.

use crate::model::{Infeasible, Model};
use crate::printable::printable_cell;
use crate::quantity::unit::Unit;
use crate::quantity::{UnitSystem, significant, trimmed};
use crate::site::Value;
use crate::whatif::Results;
use crate::whatif::columns::{Cell, Column, all};
use crate::whatif::study::{Given, Varied};
use serde::ser::{Serialize, SerializeMap, Serializer};

/// Significant digits of a table for people.
const DIGITS: usize = 4;

/// What a row is called.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Name {
    /// The site as it stands.
    Base,
    /// A row of the plan, counted from 1.
    Row(u64),
}

/// How rows are laid out.
#[derive(Debug, Clone)]
pub struct Layout<'a> {
    /// Name of the site.
    pub site: &'a str,
    /// The longest name of a case, in characters; 0 where cases have none.
    pub longest_case: usize,
    /// The inputs that are varied.
    pub varied: Vec<Varied<'a>>,
    /// The results.
    pub columns: &'a [Column],
    /// The results of the site as it stands, where differences from it are wanted.
    pub base: Option<Vec<Cell>>,
    /// Units of the text.
    pub units: UnitSystem,
    /// The currency of the site.
    pub currency: &'a str,
}

/// A row with what it was given.
#[derive(Debug, Clone, Copy)]
pub struct Row<'a> {
    /// Its name.
    pub name: Name,
    /// Its case; `None` where cases have no name.
    pub case: Option<&'a str>,
    /// What it was given, in the order of [`Layout::varied`].
    pub given: &'a [Given<'a>],
    /// Its results, or why there are none.
    pub results: &'a Result<Results<'a>, Infeasible>,
}

impl Row<'_> {
    /// Why it has no results, or why some are missing.
    fn error(&self) -> Option<String> {
        match self.results {
            Ok(results) => results.missing.map(str::to_owned),
            Err(why) => Some(why.to_string()),
        }
    }
}

impl Layout<'_> {
    /// Names of the columns in machine output.
    pub fn header(&self) -> Vec<String> {
        let mut names = vec!["row".to_owned(), "site".to_owned(), "case".to_owned()];
        names.extend(self.varied.iter().map(key));
        for column in self.columns {
            names.push(column.key.to_string());
            if self.has_difference(column) {
                names.push(difference_key(column));
            }
        }
        names.extend(["warnings".into(), "error".into()]);
        names
    }

    fn has_difference(&self, column: &Column) -> bool {
        self.base.is_some() && !column.is_text()
    }

    /// How far a number is from the site as it stands.
    fn difference(&self, index: usize, value: &Cell) -> f64 {
        self.base.as_ref().map_or(f64::NAN, |base| value.number() - base[index].number())
    }

    /// Adds a row of CSV; a result that there is none of is left empty.
    pub fn push_csv(&self, line: &mut Vec<u8>, row: &Row<'_>) {
        match row.name {
            Name::Base => line.extend(b"base"),
            Name::Row(number) => line.extend(number.to_string().bytes()),
        }
        push_text(line, self.site);
        push_text(line, row.case.unwrap_or_default());
        for (varied, given) in self.varied.iter().zip(row.given) {
            match (varied, given) {
                (Varied::Number(value), Given::Number(si)) => {
                    push_number(line, machine_unit(value).as_typed(*si));
                }
                (_, Given::Text(text)) => push_text(line, text),
                (Varied::Text(_), Given::Number(_)) => line.push(b','),
            }
        }
        match row.results {
            Ok(results) => {
                for (index, (value, column)) in results.values.iter().zip(self.columns).enumerate()
                {
                    match value {
                        Cell::Number(number) => push_number(line, *number),
                        Cell::Text(text) => push_text(line, text),
                        Cell::Nothing => line.push(b','),
                    }
                    if self.has_difference(column) {
                        push_number(line, self.difference(index, value));
                    }
                }
                line.push(b',');
                for (index, warning) in results.warnings.iter().enumerate() {
                    if index > 0 {
                        line.push(b' ');
                    }
                    line.extend(warning.id.bytes());
                }
            }
            Err(_) => {
                let width: usize = self
                    .columns
                    .iter()
                    .map(|column| 1 + usize::from(self.has_difference(column)))
                    .sum();
                line.extend(std::iter::repeat_n(b',', width + 1));
            }
        }
        line.push(b',');
        if let Some(why) = row.error() {
            push_quoted(line, &why);
        }
        line.push(b'\n');
    }

    /// A row as an object of JSON.
    pub fn object<'r>(&'r self, row: &'r Row<'r>) -> impl Serialize + 'r {
        Object { layout: self, row }
    }

    /// The head of a table: names and units.
    pub fn table_head(&self) -> String {
        let mut names = format!("{:>8}", "row");
        let mut units = format!("{:8}", "");
        let mut add = |name: &str, unit: &str, width: usize| {
            names += &format!("{name:>width$}");
            units += &format!("{unit:>width$}");
        };
        if self.longest_case > 0 {
            add("case", "", self.case_width());
        }
        for varied in &self.varied {
            let unit = match varied {
                Varied::Number(value) => value.shown_in(self.units).sign(),
                Varied::Text(_) => "",
            };
            add(path(varied), unit, varied_width(varied));
        }
        for column in self.columns {
            let unit = self.symbol(column);
            add(&column.name, unit, column_width(column));
            if self.has_difference(column) {
                add("differs", unit, width("differs"));
            }
        }
        format!("{}\n{}\n", names.trim_end(), units.trim_end())
    }

    fn case_width(&self) -> usize {
        self.longest_case.max("case".len()) + 2
    }

    fn shown_unit(&self, column: &Column) -> Option<&'static Unit> {
        column.unit.map(|unit| match self.units {
            UnitSystem::Si => unit,
            UnitSystem::UsCustomary => unit.quantity.shown_in(self.units),
        })
    }

    /// The unit that people see of a column; the currency of money, nothing of a text.
    fn symbol(&self, column: &Column) -> &str {
        match self.shown_unit(column) {
            Some(unit) => unit.sign(),
            None if column.is_text() => "",
            None => self.currency,
        }
    }

    /// The unit that people see of a column; the currency of money, nothing of a text.
    #[cfg(feature = "picture")]
    pub(crate) fn shown_symbol(&self, column: &Column) -> &str {
        self.symbol(column)
    }

    /// A result in the unit that people see.
    #[cfg(feature = "picture")]
    pub(crate) fn shown(&self, column: &Column, value: f64) -> f64 {
        match (column.unit, self.shown_unit(column)) {
            (Some(from), Some(to)) => to.of_si(from.to_si(value)),
            _ => value,
        }
    }

    /// Adds a row of a table; warnings and errors stand at its end.
    pub fn push_table(&self, line: &mut String, row: &Row<'_>) {
        match row.name {
            Name::Base => line.push_str("    base"),
            Name::Row(number) => line.push_str(&format!("{number:>8}")),
        }
        if self.longest_case > 0 {
            line.push_str(&format!("{:>1$}", row.case.unwrap_or_default(), self.case_width()));
        }
        for (varied, given) in self.varied.iter().zip(row.given) {
            let shown = match (varied, given) {
                (Varied::Number(value), Given::Number(si)) => {
                    shown_number(value.shown_in(self.units).of_si(*si))
                }
                (_, Given::Text("")) | (Varied::Text(_), Given::Number(_)) => "-".to_owned(),
                (_, Given::Text(text)) => (*text).to_owned(),
            };
            push_right(line, &shown, varied_width(varied));
        }
        if let Ok(results) = row.results {
            for (index, (value, column)) in results.values.iter().zip(self.columns).enumerate() {
                let to = self.shown_unit(column);
                let shown = match value {
                    Cell::Number(number) => shown_number(match (column.unit, to) {
                        (Some(from), Some(to)) => to.of_si(from.to_si(*number)),
                        _ => *number,
                    }),
                    Cell::Text(text) => text.clone(),
                    Cell::Nothing => "-".to_owned(),
                };
                push_right(line, &shown, column_width(column));
                if self.has_difference(column) {
                    let difference = self.difference(index, value);
                    let difference = match (column.unit, to) {
                        (Some(from), Some(to)) => difference * from.factor / to.factor,
                        _ => difference,
                    };
                    push_right(line, &shown_number(difference), width("differs"));
                }
            }
            for warning in results.warnings.iter() {
                line.push_str("  ");
                line.push_str(warning.id);
            }
        }
        if let Some(why) = row.error() {
            line.push_str("  ");
            line.push_str(&why);
        }
        line.push('\n');
    }
}

fn shown_number(number: f64) -> String {
    if number.is_nan() { "-".to_owned() } else { significant(number, DIGITS) }
}

/// What is longer than its column stands apart from the one before by a space.
fn push_right(line: &mut String, shown: &str, width: usize) {
    let width = width.max(shown.chars().count() + 1);
    line.push_str(&format!("{shown:>width$}"));
}

/// The list of all that can be varied and shown; what the site lacks for the rest stands at its end.
pub fn list(model: &Model, has_weather: bool, units: UnitSystem) -> String {
    let mut text = String::from("Inputs (--vary), with what they are now\n");
    for value in model.slots() {
        let unit = value.shown_in(units);
        let number = trimmed(unit.of_si(value.si), 6);
        let remark = if value.assumed.is_some() { "  (assumed)" } else { "" };
        text += format!("  {:<36} {number:>12} {}{remark}", value.path, unit.sign()).trim_end();
        text.push('\n');
    }
    text += "  and every other key of the site file, as texts: \"cell.1.arrangement=counterflow, crossflow\"\n";
    text += "\nResults (--columns)\n";
    let mut lacking: Vec<(String, Vec<String>)> = Vec::new();
    for column in all(model) {
        let Some(lacks) = column.lacks(model, has_weather) else {
            text += &format!("  {:<38} {:<52} {}\n", column.name, column.key, column.what);
            continue;
        };
        let why = lacks.in_words();
        match lacking.iter_mut().find(|(known, _)| *known == why) {
            Some((_, names)) => names.push(column.name.to_string()),
            None => lacking.push((why, vec![column.name.to_string()])),
        }
    }
    for (why, names) in lacking {
        text += &format!("\nNot here: {why}\n");
        for name in names {
            text += &format!("  {name}\n");
        }
    }
    text
}

fn width(name: &str) -> usize {
    const LEAST: usize = 11;
    LEAST.max(name.chars().count() + 2)
}

/// The unit of an input in machine output.
fn machine_unit(value: &Value) -> &'static Unit {
    value.shown_in(UnitSystem::Si)
}

fn path<'v>(varied: &Varied<'v>) -> &'v str {
    match varied {
        Varied::Number(value) => &value.path,
        Varied::Text(key) => key,
    }
}

fn varied_width(varied: &Varied<'_>) -> usize {
    let least = if matches!(varied, Varied::Text(_)) { LEAST_OF_TEXT } else { 0 };
    width(path(varied)).max(least)
}

fn column_width(column: &Column) -> usize {
    width(&column.name).max(if column.is_text() { LEAST_OF_KEY } else { 0 })
}

/// The width of a column of keys of limits: the longest is a mineral's.
const LEAST_OF_KEY: usize = 37;
/// The width of a column of texts at the least.
const LEAST_OF_TEXT: usize = 20;

fn difference_key(column: &Column) -> String {
    format!("{}_difference", column.key)
}

/// The name of an input in machine output.
fn key(varied: &Varied<'_>) -> String {
    let Varied::Number(value) = varied else { return path(varied).to_owned() };
    let symbol = machine_unit(value).symbol;
    if symbol.is_empty() { value.path.clone() } else { format!("{} ({symbol})", value.path) }
}

fn push_number(line: &mut Vec<u8>, number: f64) {
    line.push(b',');
    if number.is_finite() {
        line.extend(zmij::Buffer::new().format_finite(number).bytes());
    } else if number.is_infinite() {
        line.extend(if number > 0.0 { b"inf".iter() } else { b"-inf".iter() });
    }
}

/// A further field of CSV, in quotes where it has to be.
fn push_text(line: &mut Vec<u8>, text: &str) {
    line.push(b',');
    let text = printable_cell(text);
    match text.contains([',', '"', '\n', '\r']) {
        true => push_quoted(line, &text),
        false => line.extend(text.bytes()),
    }
}

/// A text that may hold commas, as a field of CSV (RFC 4180).
fn push_quoted(line: &mut Vec<u8>, text: &str) {
    line.push(b'"');
    for byte in text.bytes() {
        if byte == b'"' {
            line.push(b'"');
        }
        line.push(byte);
    }
    line.push(b'"');
}

struct Object<'a> {
    layout: &'a Layout<'a>,
    row: &'a Row<'a>,
}

impl Serialize for Object<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        match self.row.name {
            Name::Base => map.serialize_entry("row", "base")?,
            Name::Row(number) => map.serialize_entry("row", &number)?,
        }
        map.serialize_entry("site", self.layout.site)?;
        map.serialize_entry("case", &self.row.case)?;
        for (varied, given) in self.layout.varied.iter().zip(self.row.given) {
            match (varied, given) {
                (Varied::Number(value), Given::Number(si)) => {
                    map.serialize_entry(&key(varied), &machine_unit(value).as_typed(*si))?;
                }
                (_, Given::Text(text)) => {
                    map.serialize_entry(&key(varied), &Some(text).filter(|text| !text.is_empty()))?;
                }
                (Varied::Text(_), Given::Number(_)) => map.serialize_entry(&key(varied), &())?,
            }
        }
        let values = self.row.results.as_ref().ok().map(|results| results.values);
        for (index, column) in self.layout.columns.iter().enumerate() {
            let value = values.map_or(&Cell::Nothing, |values| &values[index]);
            match value {
                Cell::Number(number) => map.serialize_entry(&column.key, number)?,
                Cell::Text(text) => map.serialize_entry(&column.key, text)?,
                Cell::Nothing => map.serialize_entry(&column.key, &())?,
            }
            if self.layout.has_difference(column) {
                let difference = self.layout.difference(index, value);
                map.serialize_entry(&difference_key(column), &difference)?;
            }
        }
        let warnings: Vec<&str> = self
            .row
            .results
            .as_ref()
            .map(|results| results.warnings.iter().map(|warning| warning.id).collect())
            .unwrap_or_default();
        map.serialize_entry("warnings", &warnings)?;
        map.serialize_entry("error", &self.row.error())?;
        map.end()
    }
}
