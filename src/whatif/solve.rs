//! Solving backwards: the value of one input that gives a stated result.

use super::columns::{Column, Evaluator, UnknownColumn, column};
use super::values::{self, Values, ValuesError};
use crate::model::{Inputs, Model, SlotError, SlotId, Workspace};
use crate::quantity::{Quantity, ReadError, read_value};
use crate::root;
use crate::site::Value;

/// Points at which the range is looked at before a root is closed in.
const POINTS: usize = 400;
/// A range over so many times its lower end is divided by ratios, not by differences.
const WIDE: f64 = 50.0;

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Question {
    /// The input to find.
    pub slot: SlotId,
    /// From where, SI.
    pub from: f64,
    /// To where, SI.
    pub to: f64,
    /// The result that is stated.
    pub column: &'static Column,
    /// Its value, in the unit of the column.
    pub wanted: f64,
    /// Its standard uncertainty, in the unit of the column; 0 without one.
    pub standard: f64,
}

/// Why a question cannot be asked.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum QuestionError {
    /// The path is no number of this site.
    #[error(transparent)]
    Slot(#[from] SlotError),
    /// No such result.
    #[error(transparent)]
    Column(#[from] UnknownColumn),
    /// The result is not stated as a value.
    #[error("--for is written RESULT=VALUE, such as \"makeup = 12 m3/h\"")]
    NoEquals,
    /// The value of the result cannot be read.
    #[error("{name}: {}; {}", error.message, error.help)]
    Value {
        /// Of the result.
        name: &'static str,
        /// Why.
        error: ReadError,
    },
    /// The range cannot be read.
    #[error("{path}: {error}")]
    Range {
        /// Of the input.
        path: String,
        /// Why.
        error: ValuesError,
    },
    /// The range is none.
    #[error("{path}: a range from a lower to a higher value is needed, such as \"5 to 25 degC\"")]
    NoRange {
        /// Of the input.
        path: String,
    },
}

impl Question {
    /// Reads a question: the path of the input, `RESULT=VALUE`, and where to look. Without a range it
    /// is that of the input's limits, where they are finite; else from a tenth to ten times its value,
    /// of a flow that is nothing now to ten times the makeup.
    ///
    /// # Errors
    /// [`QuestionError`].
    pub fn read(
        model: &Model,
        path: &str,
        wanted: &str,
        within: Option<&str>,
    ) -> Result<Self, QuestionError> {
        let slot = model.slot(path)?;
        let (name, value) = wanted.split_once('=').ok_or(QuestionError::NoEquals)?;
        let column = column(name.trim())?;
        let quantity = column.unit.map_or(Quantity::Ratio, |unit| unit.quantity);
        let (si, uncertainty) = read_value(value.trim(), quantity)
            .map_err(|error| QuestionError::Value { name: column.name, error })?;
        let (wanted, factor) = column.unit.map_or((si, 1.0), |unit| (unit.of_si(si), unit.factor));
        let input = model.slot_value(slot);
        let (from, to) = match within {
            Some(text) => stated_range(text, input)?,
            None => usual_range(model, input)
                .ok_or_else(|| QuestionError::NoRange { path: input.path.clone() })?,
        };
        let standard = uncertainty.map_or(0.0, |uncertainty| uncertainty.standard() / factor);
        Ok(Self { slot, from, to, column, wanted, standard })
    }
}

fn stated_range(text: &str, input: &Value) -> Result<(f64, f64), QuestionError> {
    let path = input.path.clone();
    match values::read(text, input) {
        Ok(Values::Between(from, to)) if from < to => Ok((from, to)),
        Ok(_) => Err(QuestionError::NoRange { path }),
        Err(error) => Err(QuestionError::Range { path, error }),
    }
}

fn usual_range(model: &Model, input: &Value) -> Option<(f64, f64)> {
    const FACTOR: f64 = 10.0;
    let limits = input.limits;
    // A limit that is not itself accepted is come near to.
    let least = if limits.above_least {
        limits.least + 1e-6 * limits.least.abs().max(1e-3)
    } else {
        limits.least
    };
    let from = if least.is_finite() { least } else { input.si / FACTOR };
    let is_flow = matches!(input.quantity, Quantity::VolumeFlow | Quantity::MassFlow);
    let to = if limits.most.is_finite() {
        limits.most
    } else if input.si > 0.0 || !is_flow {
        FACTOR * input.si
    } else {
        // A flow that is nothing now may be ten times the makeup.
        let balance = model.evaluate(model.base(), &mut Workspace::new(model)).ok()?;
        let makeup = balance.water.makeup_kg_per_s;
        let per_m3 = if input.quantity == Quantity::VolumeFlow { 1e3 } else { 1.0 };
        FACTOR * makeup / per_m3
    };
    (from < to).then_some((from, to))
}

/// A value that gives the result.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solution {
    /// SI.
    pub si: f64,
    /// Standard uncertainty by those of the result and of all other inputs (JCGM 100:2008, eq. 10);
    /// `None` where none of them carries one, or where the result does not move here.
    pub standard: Option<f64>,
}

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// From the lowest to the highest; none where no value gives the result.
    pub solutions: Vec<Solution>,
    /// The result at either end of the range; `None` where there is no balance.
    pub ends: [Option<f64>; 2],
    /// Smallest and largest result on the way, with the inputs that give them, SI.
    pub extremes: Option<[(f64, f64); 2]>,
    /// The first reason why a value has no balance, if one has none.
    pub infeasible: Option<String>,
}

/// Solves. Every root between points 1/400 of the range apart is found, and closed in to 1e-9 of it;
/// of two roots nearer than that neither may be.
pub fn solve(model: &Model, question: &Question) -> Answer {
    let mut trial = Trial {
        model,
        question,
        evaluator: Evaluator::new(model, &[question.column]),
        infeasible: None,
    };
    let points: Vec<(f64, Option<f64>)> =
        places(question).into_iter().map(|si| (si, trial.result(model.base(), si))).collect();
    let mut solutions: Vec<f64> = Vec::new();
    for pair in points.windows(2) {
        if let [(low, Some(at_low)), (high, Some(at_high))] = pair {
            solutions.extend(trial.between((*low, *at_low), (*high, *at_high)));
        }
    }
    if let Some((si, Some(result))) = points.last()
        && *result == question.wanted
    {
        solutions.push(*si);
    }
    let known = || points.iter().filter_map(|(si, result)| Some((*si, (*result)?)));
    let by_result = |a: &(f64, f64), b: &(f64, f64)| a.1.total_cmp(&b.1);
    let extremes = known().min_by(by_result).zip(known().max_by(by_result)).map(Into::into);
    let solutions =
        solutions.into_iter().map(|si| Solution { si, standard: trial.standard(si) }).collect();
    let end = |point: Option<&(f64, Option<f64>)>| point.and_then(|(_, result)| *result);
    Answer {
        solutions,
        ends: [end(points.first()), end(points.last())],
        extremes,
        infeasible: trial.infeasible,
    }
}

/// The points that are looked at.
fn places(question: &Question) -> Vec<f64> {
    let Question { from, to, .. } = *question;
    let part = |index: usize| index as f64 / (POINTS - 1) as f64;
    let is_wide = from > 0.0 && to > WIDE * from;
    (0..POINTS)
        .map(|index| match index {
            0 => from,
            last if last == POINTS - 1 => to,
            _ if is_wide => from * (to / from).powf(part(index)),
            _ => from + part(index) * (to - from),
        })
        .collect()
}

struct Trial<'a> {
    model: &'a Model,
    question: &'a Question,
    evaluator: Evaluator<'a>,
    infeasible: Option<String>,
}

impl Trial<'_> {
    /// The result with the input at a value, other numbers as they are in `base`.
    fn result(&mut self, base: &Inputs, si: f64) -> Option<f64> {
        let inputs = &mut self.evaluator.inputs;
        inputs.clone_from(base);
        self.model.write(inputs, self.question.slot, si);
        let column = self.question.column;
        match self.evaluator.row(|row| column.of(row)) {
            Ok(result) => Some(result).filter(|result| result.is_finite()),
            Err(why) => {
                self.infeasible.get_or_insert_with(|| why.to_string());
                None
            }
        }
    }

    /// The root between two points, the upper one left to the next pair.
    fn between(&mut self, (low, at_low): (f64, f64), (high, at_high): (f64, f64)) -> Option<f64> {
        let wanted = self.question.wanted;
        if at_low == wanted {
            return Some(low);
        }
        if (at_low > wanted) == (at_high > wanted) || at_high == wanted {
            return None;
        }
        let sign = if at_low > wanted { 1.0 } else { -1.0 };
        let tolerance = 1e-9 * (self.question.to - self.question.from).abs();
        let base = self.model.base();
        let excess = |si| self.result(base, si).map_or(f64::NAN, |result| sign * (result - wanted));
        root::of_falling_within(excess, low, high, tolerance.min(1e-9 * (high - low)))
    }

    fn standard(&mut self, si: f64) -> Option<f64> {
        let base = self.model.base();
        let step = 1e-4 * (self.question.to - self.question.from).abs();
        let slope = self.slope(base, si, step)?;
        let model = self.model;
        let wanted = [self.question.wanted];
        // The input itself is what is found: its own error drops out.
        let spread =
            model.propagate(base, &wanted, |stepped| Some(vec![self.result(stepped, si)?]));
        let standard = spread.of(0).unwrap_or(0.0).hypot(self.question.standard);
        let standard = standard / slope.abs();
        (standard > 0.0 && standard.is_finite()).then_some(standard)
    }

    /// Change of the result with the input.
    fn slope(&mut self, base: &Inputs, si: f64, step: f64) -> Option<f64> {
        match (self.result(base, si + step), self.result(base, si - step)) {
            (Some(above), Some(below)) => Some((above - below) / (2.0 * step)),
            (Some(above), None) => Some((above - self.question.wanted) / step),
            (None, Some(below)) => Some((self.question.wanted - below) / step),
            (None, None) => None,
        }
    }
}
