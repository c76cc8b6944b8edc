//! An input that gives a stated result, as people and programs read it.

use super::shown::{COVERAGE, with_uncertainty};
use super::text::{Style, paragraph};
use crate::quantity::unit::Unit;
use crate::quantity::{UnitSystem, significant};
use crate::site::Value;
use crate::whatif::columns::Column;
use crate::whatif::solve::{Answer, Question};
use serde::Serialize;

const DIGITS: usize = 5;

/// An answer as text of 80 columns.
pub fn text(slot: &Value, question: &Question, answer: &Answer, style: Style) -> String {
    let unit = slot.shown_in(style.units);
    let result = |value: f64| result(question.column, value, style.units);
    let wanted = format!("{} = {}", question.column.name, result(question.wanted));
    let mut text = String::new();
    for solution in &answer.solutions {
        let value = unit.of_si(solution.si);
        let shown = match solution.standard {
            Some(standard) => with_uncertainty(value, COVERAGE * standard / unit.factor),
            None => significant(value, DIGITS),
        };
        paragraph(&mut text, "", format!("{} = {shown} {}", slot.path, unit.symbol).trim_end());
    }
    let range = format!("{} to {}", shown(unit, question.from), shown(unit, question.to));
    if answer.solutions.is_empty() {
        let words = format!(
            "No {} from {range} gives {wanted}. --within looks in another range.",
            slot.path
        );
        paragraph(&mut text, "", &words);
    } else {
        let many = if answer.solutions.len() > 1 { "each gives" } else { "gives" };
        paragraph(&mut text, "", &format!("{many} {wanted}; looked for from {range}."));
    }
    if let [Some(first), Some(last)] = answer.ends {
        let words = format!(
            "{} is {} at {} and {} at {}.",
            question.column.name,
            result(first),
            shown(unit, question.from),
            result(last),
            shown(unit, question.to)
        );
        paragraph(&mut text, "", &words);
    }
    if let (true, Some([low, high])) = (answer.solutions.is_empty(), answer.extremes) {
        let words = format!(
            "On the way it lies between {} (at {}) and {} (at {}).",
            result(low.1),
            shown(unit, low.0),
            result(high.1),
            shown(unit, high.0)
        );
        paragraph(&mut text, "", &words);
    }
    if let Some(why) = &answer.infeasible {
        paragraph(&mut text, "", &format!("Some values have no balance: {why}."));
    }
    if answer.solutions.iter().any(|solution| solution.standard.is_some()) {
        paragraph(
            &mut text,
            "",
            "±: twice the standard uncertainty, from those of the result and of all other inputs (JCGM \
             100:2008, eq. 10).",
        );
    }
    super::marks::finished(text, style)
}

fn shown(unit: &Unit, si: f64) -> String {
    format!("{} {}", significant(unit.of_si(si), DIGITS), unit.symbol).trim_end().to_owned()
}

fn result(column: &Column, value: f64, units: UnitSystem) -> String {
    match column.unit {
        Some(unit) => {
            let to = match units {
                UnitSystem::Si => unit,
                UnitSystem::UsCustomary => unit.quantity.shown_in(units),
            };
            shown(to, unit.to_si(value))
        }
        None => significant(value, DIGITS),
    }
}

/// An answer for programs.
#[derive(Debug, Serialize)]
pub struct SolveOut {
    /// Version of this form.
    pub schema: u32,
    /// The input.
    pub key: String,
    /// Its unit.
    pub unit: &'static str,
    /// The result that is stated.
    pub result: &'static str,
    /// Its value.
    pub wanted: f64,
    /// Values that give it.
    pub solutions: Vec<SolutionOut>,
    /// Where it was looked for.
    pub within: [f64; 2],
    /// The result at either end.
    pub ends: [Option<f64>; 2],
    /// The first reason why a value has no balance.
    pub infeasible: Option<String>,
}

/// A value that gives the result.
#[derive(Debug, Serialize)]
pub struct SolutionOut {
    /// In the unit.
    pub value: f64,
    /// In the unit.
    pub standard_uncertainty: Option<f64>,
}

/// An answer for programs.
pub fn json(slot: &Value, question: &Question, answer: &Answer) -> SolveOut {
    let unit = slot.shown_in(UnitSystem::Si);
    SolveOut {
        schema: super::json::SCHEMA,
        key: slot.path.clone(),
        unit: unit.symbol,
        result: question.column.key,
        wanted: question.wanted,
        solutions: answer
            .solutions
            .iter()
            .map(|solution| SolutionOut {
                value: unit.of_si(solution.si),
                standard_uncertainty: solution.standard.map(|standard| standard / unit.factor),
            })
            .collect(),
        within: [unit.of_si(question.from), unit.of_si(question.to)],
        ends: answer.ends,
        infeasible: answer.infeasible.clone(),
    }
}
