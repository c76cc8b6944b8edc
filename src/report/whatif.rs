//! Rows of many runs, as people and programs read them.

use crate::model::Infeasible;
use crate::quantity::unit::Unit;
use crate::quantity::{UnitSystem, significant};
use crate::site::Value;
use crate::whatif::Results;
use crate::whatif::columns::{COLUMNS, Column};
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
    /// The inputs that are varied.
    pub varied: Vec<&'a Value>,
    /// The results.
    pub columns: &'a [&'static Column],
    /// The results of the site as it stands, where differences from it are wanted.
    pub base: Option<Vec<f64>>,
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
    /// What it was given, SI, in the order of [`Layout::varied`].
    pub given: &'a [f64],
    /// Its results, or why there are none.
    pub results: &'a Result<Results<'a>, Infeasible>,
}

impl Layout<'_> {
    /// Names of the columns in machine output.
    pub fn header(&self) -> Vec<String> {
        let mut names = vec!["row".to_owned()];
        names.extend(self.varied.iter().map(|value| key(value)));
        for column in self.columns {
            names.push(column.key.into());
            if self.base.is_some() {
                names.push(format!("{}_difference", column.key));
            }
        }
        names.extend(["warnings".into(), "error".into()]);
        names
    }

    /// The results of a row with their differences, in the order of [`Self::header`].
    fn numbers<'r>(&'r self, results: &'r Results<'_>) -> impl Iterator<Item = f64> + 'r {
        results.values.iter().enumerate().flat_map(|(index, value)| {
            let difference = self.base.as_ref().map(|base| value - base[index]);
            std::iter::once(*value).chain(difference)
        })
    }

    /// Adds a row of CSV; a result that there is none of is left empty.
    pub fn push_csv(&self, line: &mut Vec<u8>, row: &Row<'_>) {
        match row.name {
            Name::Base => line.extend(b"base"),
            Name::Row(number) => line.extend(number.to_string().bytes()),
        }
        for (value, si) in self.varied.iter().zip(row.given) {
            push_number(line, machine_unit(value).as_typed(*si));
        }
        match row.results {
            Ok(results) => {
                self.numbers(results).for_each(|number| push_number(line, number));
                line.push(b',');
                for (index, warning) in results.warnings.iter().enumerate() {
                    if index > 0 {
                        line.push(b' ');
                    }
                    line.extend(warning.id.bytes());
                }
                line.push(b',');
            }
            Err(why) => {
                let width = self.columns.len() * if self.base.is_some() { 2 } else { 1 };
                line.extend(std::iter::repeat_n(b',', width + 2));
                push_quoted(line, &why.to_string());
            }
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
        for value in &self.varied {
            let unit = value.shown_in(self.units);
            add(&value.path, unit.sign(), width(&value.path));
        }
        for column in self.columns {
            let unit = self.shown_unit(column).map_or(self.currency, |unit| unit.sign());
            let name = column.name;
            add(name, unit, width(name));
            if self.base.is_some() {
                add("differs", unit, width("differs"));
            }
        }
        format!("{}\n{}\n", names.trim_end(), units.trim_end())
    }

    fn shown_unit(&self, column: &Column) -> Option<&'static Unit> {
        column.unit.map(|unit| match self.units {
            UnitSystem::Si => unit,
            UnitSystem::UsCustomary => unit.quantity.shown_in(self.units),
        })
    }

    /// The unit that people see of a column; the currency of money.
    #[cfg(feature = "picture")]
    pub(crate) fn shown_symbol(&self, column: &Column) -> &str {
        self.shown_unit(column).map_or(self.currency, |unit| unit.sign())
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
        let mut add = |number: f64, width: usize| {
            let shown = if number.is_nan() { "-".to_owned() } else { significant(number, DIGITS) };
            line.push_str(&format!("{shown:>width$}"));
        };
        for (value, si) in self.varied.iter().zip(row.given) {
            add(value.shown_in(self.units).of_si(*si), width(&value.path));
        }
        match row.results {
            Ok(results) => {
                for (index, (value, column)) in results.values.iter().zip(self.columns).enumerate()
                {
                    let shown = |number: f64, is_difference: bool| {
                        let (Some(from), Some(to)) = (column.unit, self.shown_unit(column)) else {
                            return number;
                        };
                        let si = from.to_si(number);
                        if is_difference {
                            (number * from.factor) / to.factor
                        } else {
                            to.of_si(si)
                        }
                    };
                    add(shown(*value, false), width(column.name));
                    if let Some(base) = &self.base {
                        add(shown(value - base[index], true), width("differs"));
                    }
                }
                for warning in results.warnings.iter() {
                    line.push_str("  ");
                    line.push_str(warning.id);
                }
            }
            Err(why) => {
                line.push_str("  ");
                line.push_str(&why.to_string());
            }
        }
        line.push('\n');
    }
}

/// The list of all that can be varied and shown.
pub fn list(slots: &[Value], units: UnitSystem) -> String {
    let mut text = String::from("Inputs (--vary), with what they are now\n");
    for value in slots {
        let unit = value.shown_in(units);
        let number = trimmed(unit.of_si(value.si));
        let remark = if value.assumed.is_some() { "  (assumed)" } else { "" };
        text += format!("  {:<36} {number:>12} {}{remark}", value.path, unit.sign()).trim_end();
        text.push('\n');
    }
    text += "\nResults (--columns)\n";
    for column in COLUMNS {
        text += &format!("  {:<16} {:<28} {}\n", column.name, column.key, column.what);
    }
    text
}

/// Six digits, without zeros that say nothing.
pub(crate) fn trimmed(number: f64) -> String {
    let shown = significant(number, 6);
    match shown.contains('.') && !shown.contains('e') {
        true => shown.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => shown,
    }
}

fn width(name: &str) -> usize {
    const LEAST: usize = 11;
    LEAST.max(name.chars().count() + 2)
}

/// The unit of an input in machine output.
fn machine_unit(value: &Value) -> &'static Unit {
    value.shown_in(UnitSystem::Si)
}

/// The name of an input in machine output.
fn key(value: &Value) -> String {
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
        for (value, si) in self.layout.varied.iter().zip(self.row.given) {
            map.serialize_entry(&key(value), &machine_unit(value).as_typed(*si))?;
        }
        match self.row.results {
            Ok(results) => {
                for (index, (value, column)) in
                    results.values.iter().zip(self.layout.columns).enumerate()
                {
                    map.serialize_entry(column.key, value)?;
                    if let Some(base) = &self.layout.base {
                        let key = format!("{}_difference", column.key);
                        map.serialize_entry(&key, &(value - base[index]))?;
                    }
                }
                let warnings: Vec<&str> = results.warnings.iter().map(|w| w.id).collect();
                map.serialize_entry("warnings", &warnings)?;
            }
            Err(why) => map.serialize_entry("error", &why.to_string())?,
        }
        map.end()
    }
}
