//! Many runs of one site: inputs varied, results by name.
//!
//! A [`Plan`] says what every row is given, by the number of the row alone; so rows can be computed in any
//! order, on any number of threads or machines, and are the same. Nothing starts from a neighbour. What is no
//! number of a site (a method, a list, a table that is there or not) makes another model: a
//! [`study::Study`] has a plan for each, and says which row is whose.

pub mod columns;
mod sheets;
pub mod solve;
pub mod study;
pub mod table;
pub mod values;

use crate::air::TRIPLE_POINT;
use crate::model::{Infeasible, Inputs, Model, SlotError, SlotId};
use crate::random::{Seed, Shuffled, deviation_of};
use crate::site::Value;
use crate::water::ZERO_CELSIUS;
use columns::{Cell, Column, Evaluator, Weather};
use values::{Values, ValuesError};

/// How the values of several inputs are put together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Combination {
    /// Every value with every other; the last input varies fastest.
    Grid,
    /// First with first, second with second.
    Pairs,
    /// Each row drawn by itself.
    Draws {
        /// How many.
        rows: u32,
        /// Seed.
        seed: u64,
    },
    /// Latin hypercube: every input meets each of its `rows` parts of equal chance once (McKay,
    /// Beckman and Conover 1979, Technometrics 21, 239).
    Hypercube {
        /// How many.
        rows: u32,
        /// Seed.
        seed: u64,
    },
}

/// Said where values of the wet bulb, SI, lie on both sides of freezing: its wick is wet above and
/// iced below (ASHRAE Fundamentals 2017, ch. 1, eq. 33 and 35), and the two do not meet.
pub(crate) fn wick_remark(slot: &Value, (least, most): (f64, f64)) -> Option<&'static str> {
    let edge = TRIPLE_POINT + ZERO_CELSIUS;
    (slot.path == "air.wet_bulb" && least <= edge && edge < most).then_some(
        "air.wet_bulb passes 0.01 °C: the wick counts as wet above and as iced below, and results jump \
         there, evaporation by some 0.4 %",
    )
}

/// An input that is varied.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// The input.
    pub slot: SlotId,
    /// What it is given.
    pub values: Values,
    /// Whether it is a part of a whole, whose other parts make room.
    is_share: bool,
    /// Of a hypercube: the part that each row takes.
    parts: Option<Shuffled>,
}

/// What every row is given.
#[derive(Debug, Clone)]
pub struct Plan {
    axes: Vec<Axis>,
    combination: Combination,
    rows: u64,
    /// Of draws.
    seed: Seed,
}

/// Why a plan cannot be.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// The path is no number of this site.
    #[error(transparent)]
    Slot(#[from] SlotError),
    /// The values cannot be read.
    #[error("{path}: {error}")]
    Values {
        /// Of which input.
        path: String,
        /// Why.
        error: ValuesError,
    },
    /// An input is varied twice.
    #[error("{path} is varied twice")]
    Twice {
        /// Which.
        path: String,
    },
    /// Nothing is varied.
    #[error("nothing is varied")]
    Nothing,
    /// Inputs side by side of unequal length.
    #[error(
        "side by side, every input needs as many values: {path} has {values}, {first_path} has {first}"
    )]
    Unequal {
        /// One of them.
        path: String,
        /// Its number of values.
        values: usize,
        /// The first.
        first_path: String,
        /// Its number of values.
        first: usize,
    },
    /// Something drawn in a grid, or listed in draws.
    #[error("{path}: {needs}")]
    Kind {
        /// Of which input.
        path: String,
        /// What the combination needs.
        needs: &'static str,
    },
    /// More rows than can be counted.
    #[error("the grid has more than 10^15 rows")]
    TooMany,
    /// No rows.
    #[error("a plan needs one row at the least")]
    NoRows,
}

const MOST_ROWS: u64 = 1_000_000_000_000_000;

impl Plan {
    /// A plan of inputs, each with its path and the text of its values.
    ///
    /// # Errors
    /// [`PlanError`].
    pub fn new(
        model: &Model,
        varied: &[(String, String)],
        combination: Combination,
    ) -> Result<Self, PlanError> {
        if varied.is_empty() {
            return Err(PlanError::Nothing);
        }
        Self::or_nothing(model, varied, combination)
    }

    /// A plan of inputs that may be none: then it has one row, the site as it stands.
    ///
    /// # Errors
    /// [`PlanError`].
    pub(crate) fn or_nothing(
        model: &Model,
        varied: &[(String, String)],
        combination: Combination,
    ) -> Result<Self, PlanError> {
        let mut axes: Vec<Axis> = Vec::with_capacity(varied.len());
        for (path, text) in varied {
            let slot = model.slot(path)?;
            if axes.iter().any(|axis| axis.slot == slot) {
                return Err(PlanError::Twice { path: path.clone() });
            }
            let values = values::read(text, model.slot_value(slot))
                .map_err(|error| PlanError::Values { path: path.clone(), error })?;
            axes.push(Axis { slot, values, is_share: model.is_share(slot), parts: None });
        }
        let rows = rows_of(model, &axes, combination)?;
        let seed = match combination {
            Combination::Draws { seed, .. } | Combination::Hypercube { seed, .. } => seed,
            _ => 0,
        };
        let seed = Seed::new(seed);
        if let Combination::Hypercube { rows, .. } = combination {
            for (index, axis) in axes.iter_mut().enumerate() {
                // Streams beyond those of the rows.
                let mut numbers = seed.row(u64::MAX - index as u64);
                axis.parts = Some(Shuffled::new(u64::from(rows), &mut numbers));
            }
        }
        Ok(Self { axes, combination, rows, seed })
    }

    /// What to know of the values of an input, in words.
    pub fn remarks(&self, model: &Model) -> Vec<&'static str> {
        let remark = |axis: &Axis| {
            let slot = model.slot_value(axis.slot);
            wick_remark(slot, axis.values.ends(slot))
        };
        self.axes.iter().filter_map(remark).collect()
    }

    /// How many rows.
    pub fn rows(&self) -> u64 {
        self.rows
    }

    /// The inputs that are varied.
    pub fn axes(&self) -> &[Axis] {
        &self.axes
    }

    /// The rows of one of several parts, both counted from 1: together they are all, in order.
    pub fn part(&self, part: u64, of: u64) -> std::ops::Range<u64> {
        part_of(self.rows, part, of)
    }

    /// Writes what a row is given.
    pub fn write(&self, model: &Model, row: u64, inputs: &mut Inputs) {
        let mut numbers = self.seed.row(row);
        let mut rest = row;
        for axis in self.axes.iter().rev() {
            let si = match (&axis.values, self.combination) {
                (Values::List(values), Combination::Pairs) => values[row as usize],
                (Values::List(values), _) => {
                    let count = values.len() as u64;
                    let value = values[(rest % count) as usize];
                    rest /= count;
                    value
                }
                (drawn, Combination::Hypercube { rows, .. }) => {
                    let part = axis.parts.and_then(|parts| parts.at(row)).unwrap_or(0);
                    let chance = (part as f64 + numbers.uniform()) / f64::from(rows);
                    drawn_at(drawn, model.slot_value(axis.slot), chance)
                }
                (drawn, _) => drawn_at(drawn, model.slot_value(axis.slot), numbers.uniform()),
            };
            if axis.is_share {
                model.set_share(inputs, axis.slot, si);
            } else {
                inputs.set(axis.slot, si);
            }
        }
    }
}

/// The rows of one of several parts, both counted from 1.
fn part_of(rows: u64, part: u64, of: u64) -> std::ops::Range<u64> {
    let end = |part: u64| (u128::from(rows) * u128::from(part) / u128::from(of)) as u64;
    end(part - 1)..end(part)
}

fn rows_of(model: &Model, axes: &[Axis], combination: Combination) -> Result<u64, PlanError> {
    let path = |axis: &Axis| model.slot_value(axis.slot).path.clone();
    let Some(first) = axes.first() else { return Ok(1) };
    let (Combination::Grid | Combination::Pairs) = combination else {
        let (Combination::Draws { rows, .. } | Combination::Hypercube { rows, .. }) = combination
        else {
            return Err(PlanError::NoRows);
        };
        if let Some(axis) = axes.iter().find(|axis| matches!(axis.values, Values::List(_))) {
            const NEEDS: &str =
                "rows are drawn from a range, as in \"3 to 8\", or from \"uncertainty\"";
            return Err(PlanError::Kind { path: path(axis), needs: NEEDS });
        }
        return if rows > 0 { Ok(u64::from(rows)) } else { Err(PlanError::NoRows) };
    };
    let count = |axis: &Axis| match &axis.values {
        Values::List(values) => Ok(values.len()),
        _ => {
            const NEEDS: &str = "a range needs a step here, as in \"3 to 8 step 1\"; to draw from it, ask for draws or a hypercube";
            Err(PlanError::Kind { path: path(axis), needs: NEEDS })
        }
    };
    if combination == Combination::Grid {
        let product = axes.iter().try_fold(1u64, |rows, axis| {
            let rows = rows.checked_mul(count(axis)? as u64).ok_or(PlanError::TooMany)?;
            if rows > MOST_ROWS { Err(PlanError::TooMany) } else { Ok(rows) }
        });
        return product;
    }
    let rows = count(first)?;
    for axis in axes {
        let values = count(axis)?;
        if values != rows {
            let first_path = path(first);
            return Err(PlanError::Unequal { path: path(axis), values, first_path, first: rows });
        }
    }
    Ok(rows as u64)
}

fn drawn_at(values: &Values, slot: &Value, chance: f64) -> f64 {
    match (values, slot.uncertainty) {
        (Values::Between(from, to), _) => from + chance * (to - from),
        (Values::Uncertainty, Some(uncertainty)) => slot.si + deviation_of(uncertainty, chance),
        _ => slot.si,
    }
}

/// Evaluates rows of a plan; one a thread.
#[derive(Debug, Clone)]
pub struct Runner<'a> {
    model: &'a Model,
    plan: &'a Plan,
    columns: &'a [Column],
    evaluator: Evaluator<'a>,
    values: Vec<Cell>,
    missing: Option<String>,
}

impl<'a> Runner<'a> {
    /// A runner for some columns.
    pub fn new(model: &'a Model, plan: &'a Plan, columns: &'a [Column]) -> Self {
        Self::with_weather(model, plan, columns, Weather::default())
    }

    /// A runner for some columns, those of a year among them.
    pub fn with_weather(
        model: &'a Model,
        plan: &'a Plan,
        columns: &'a [Column],
        weather: Weather<'a>,
    ) -> Self {
        Self {
            model,
            plan,
            columns,
            evaluator: Evaluator::new(model, columns, weather),
            values: Vec::with_capacity(columns.len()),
            missing: None,
        }
    }

    /// What the last row was given, SI.
    pub fn inputs(&self) -> &Inputs {
        &self.evaluator.inputs
    }

    /// Writes what a row is given.
    pub fn set(&mut self, row: u64) {
        let inputs = &mut self.evaluator.inputs;
        inputs.clone_from(self.model.base());
        self.plan.write(self.model, row, inputs);
    }

    /// Gives the last row one number more, SI.
    pub(crate) fn give(&mut self, slot: SlotId, si: f64) {
        let inputs = &mut self.evaluator.inputs;
        match self.model.is_share(slot) {
            true => self.model.set_share(inputs, slot, si),
            false => inputs.set(slot, si),
        }
    }

    /// The results of the site as it stands, each in the unit of its column, and its warnings.
    ///
    /// # Errors
    /// [`Infeasible`].
    pub fn base(&mut self) -> Result<Results<'_>, Infeasible> {
        self.evaluator.inputs.clone_from(self.model.base());
        self.results()
    }

    /// The results of what was written last.
    ///
    /// # Errors
    /// [`Infeasible`] for numbers that have no balance.
    pub fn results(&mut self) -> Result<Results<'_>, Infeasible> {
        let (values, missing, columns) = (&mut self.values, &mut self.missing, self.columns);
        values.clear();
        let warnings = self.evaluator.row(|row| {
            values.extend(columns.iter().map(|column| column.of(row)));
            *missing = row.missing().map(str::to_owned);
            row.balance.warnings
        })?;
        Ok(Results { values: &self.values, warnings, missing: self.missing.as_deref() })
    }
}

/// The results of a row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Results<'a> {
    /// By column; NaN or no text where there is none.
    pub values: &'a [Cell],
    /// What is out of its usual range.
    pub warnings: crate::warnings::WarningSet,
    /// Why results beyond the balance are missing, where some could not be computed.
    pub missing: Option<&'a str>,
}

impl Results<'_> {
    /// Whether any result is one.
    pub fn has_answer(&self) -> bool {
        self.values.iter().any(|value| match value {
            Cell::Number(number) => !number.is_nan(),
            Cell::Text(_) => true,
            Cell::Nothing => false,
        })
    }
}
