//! Solving backwards: the value of one input that gives a stated result.

use super::columns::{Column, Evaluator, UnknownColumn, Weather, column};
use super::sheets::Row;
use super::values::{self, Values, ValuesError};
use crate::model::{Balance, Inputs, Model, SlotError, SlotId, Workspace};
use crate::quantity::{Quantity, ReadError, read_value};
use crate::root;
use crate::site::Value;

/// Points at which the range is looked at before a root is closed in.
const POINTS: usize = 400;
/// A range over so many times its lower end is divided by ratios, not by differences.
const WIDE: f64 = 50.0;
/// Edges of what has a balance that are closed in on; a range broken into more pieces is looked at in its points.
const MOST_EDGES: usize = 8;
/// Halvings that close in on such an edge.
const HALVINGS: usize = 40;
/// A result within this part of what was asked gives it.
const GIVEN: f64 = 1e-6;
/// A result that moves by less than this part of itself stands still.
const STILL: f64 = 1e-9;

/// What is asked.
#[derive(Debug, Clone)]
pub struct Question {
    /// The input to find.
    pub slot: SlotId,
    /// From where, SI.
    pub from: f64,
    /// To where, SI.
    pub to: f64,
    /// The result that is stated.
    pub column: Column,
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
    #[error("--for {name}: {}; {}", error.message, error.help)]
    Value {
        /// Of the result.
        name: String,
        /// Why.
        error: ReadError,
    },
    /// A text has no values in between.
    #[error("{name} is a text: what is solved for is a number, such as \"makeup = 12 m3/h\"")]
    Text {
        /// Of the result.
        name: String,
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
        let column = column(model, name.trim())?;
        if column.is_text() {
            return Err(QuestionError::Text { name: column.name.to_string() });
        }
        let quantity = column.unit.map_or(Quantity::Ratio, |unit| unit.quantity);
        let (si, uncertainty) = read_value(value.trim(), quantity)
            .map_err(|error| QuestionError::Value { name: column.name.to_string(), error })?;
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
    /// Cycles of concentration with it; infinite where nothing leaves as liquid.
    pub cycles: f64,
    /// Blowdown with it, m3/h at the reference temperature.
    pub blowdown: f64,
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
    /// Values at which the result jumps over what was asked, SI: none gives it there.
    pub jumps: Vec<f64>,
}

impl Answer {
    /// The result, where it is the same whatever the input.
    pub fn stands_still(&self) -> Option<f64> {
        let [(_, low), (_, high)] = self.extremes?;
        ((high - low).abs() <= STILL * high.abs()).then_some(low)
    }
}

/// Solves. Every root between points 1/400 of the range apart is found, and closed in to 1e-9 of it;
/// of two roots nearer than that neither may be. Where a value has a balance and the next point has none, the edge
/// between them is closed in on. What is found is held against what was asked. A result that does not move has no
/// solutions.
pub fn solve(model: &Model, question: &Question) -> Answer {
    let mut trial = Trial {
        model,
        question,
        evaluator: Evaluator::new(
            model,
            std::slice::from_ref(&question.column),
            Weather::default(),
        ),
        infeasible: None,
    };
    let points: Vec<Point> =
        places(question).into_iter().map(|si| (si, trial.result(model.base(), si))).collect();
    let points = trial.with_edges(points);
    let known = || points.iter().filter_map(|(si, result)| Some((*si, (*result)?)));
    let by_result = |a: &(f64, f64), b: &(f64, f64)| a.1.total_cmp(&b.1);
    let end = |point: Option<&Point>| point.and_then(|(_, result)| *result);
    let mut answer = Answer {
        solutions: Vec::new(),
        ends: [end(points.first()), end(points.last())],
        extremes: known().min_by(by_result).zip(known().max_by(by_result)).map(Into::into),
        infeasible: None,
        jumps: Vec::new(),
    };
    if answer.stands_still().is_none() {
        let found = trial.crossings(&points);
        let (given, jumps) = found.into_iter().partition(|si| trial.is_given(*si));
        let given: Vec<f64> = given;
        answer.solutions = given.into_iter().filter_map(|si| trial.solution(si)).collect();
        answer.jumps = jumps;
    }
    answer.infeasible = trial.infeasible;
    answer
}

/// A value of the input, SI, and the result; `None` where there is no balance.
type Point = (f64, Option<f64>);

/// The points that are looked at.
fn places(question: &Question) -> Vec<f64> {
    let Question { from, to, .. } = question.clone();
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
        let column = &self.question.column;
        let read = |row: &mut Row<'_>| (column.of(row).number(), row.missing().map(str::to_owned));
        let (result, missing) = self.with_input(base, si, read)?;
        if let Some(why) = missing {
            self.infeasible.get_or_insert(why);
        }
        Some(result).filter(|result| result.is_finite())
    }

    /// What `read` makes of the balance with the input at a value; `None` where there is none.
    fn with_input<T>(
        &mut self,
        base: &Inputs,
        si: f64,
        read: impl FnOnce(&mut Row<'_>) -> T,
    ) -> Option<T> {
        let inputs = &mut self.evaluator.inputs;
        inputs.clone_from(base);
        self.model.write(inputs, self.question.slot, si);
        match self.evaluator.row(read) {
            Ok(read) => Some(read),
            Err(why) => {
                self.infeasible.get_or_insert_with(|| why.to_string());
                None
            }
        }
    }

    /// The points, and more of them towards every edge of what has a balance.
    fn with_edges(&mut self, points: Vec<Point>) -> Vec<Point> {
        let is_edge = |pair: &&[Point]| pair[0].1.is_some() != pair[1].1.is_some();
        let edges: Vec<[Point; 2]> = points
            .windows(2)
            .filter(is_edge)
            .take(MOST_EDGES)
            .map(|pair| [pair[0], pair[1]])
            .collect();
        let more: Vec<Point> = edges.into_iter().flat_map(|edge| self.towards_edge(edge)).collect();
        let mut points = [points, more].concat();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        points
    }

    /// Values with a balance, nearer and nearer to where it ends between two points.
    fn towards_edge(&mut self, [low, high]: [Point; 2]) -> Vec<Point> {
        let (mut with, mut without) =
            if low.1.is_some() { (low.0, high.0) } else { (high.0, low.0) };
        let mut found = Vec::new();
        for _ in 0..HALVINGS {
            let middle = 0.5 * (with + without);
            match self.result(self.model.base(), middle) {
                Some(result) => {
                    found.push((middle, Some(result)));
                    with = middle;
                }
                None => without = middle,
            }
        }
        found
    }

    /// Where the result comes to what was asked or jumps over it.
    fn crossings(&mut self, points: &[Point]) -> Vec<f64> {
        let mut found = Vec::new();
        for pair in points.windows(2) {
            if let [(low, Some(at_low)), (high, Some(at_high))] = pair {
                found.extend(self.between((*low, *at_low), (*high, *at_high)));
            }
        }
        if let Some((si, Some(result))) = points.last()
            && *result == self.question.wanted
        {
            found.push(*si);
        }
        found
    }

    /// Whether a value gives what was asked.
    fn is_given(&mut self, si: f64) -> bool {
        let wanted = self.question.wanted;
        let result = self.result(self.model.base(), si);
        result
            .is_some_and(|result| (result - wanted).abs() <= GIVEN * wanted.abs().max(result.abs()))
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

    fn solution(&mut self, si: f64) -> Option<Solution> {
        let standard = self.standard(si);
        let (cycles, blowdown) = self.with_input(self.model.base(), si, |row| {
            let water = &row.balance.water;
            (water.cycles_of_concentration, Balance::reference_m3_per_h(water.blowdown_kg_per_s))
        })?;
        Some(Solution { si, standard, cycles, blowdown })
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
