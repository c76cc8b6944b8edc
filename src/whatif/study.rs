//! Rows of several models of one site: named settings together, texts in lists, lines of a table.

use super::columns::{Column, Weather};
use super::table::{CellError, Table};
use super::{Combination, Plan, PlanError, Results, Runner};
use crate::model::{Infeasible, Model, SlotError, SlotId};
use crate::quantity::{number_length, trimmed};
use crate::site::Value;
use std::collections::HashMap;

/// So many models a study may hold.
const MOST_MODELS: usize = 10_000;

/// Settings with a name, laid over the site together.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// What it is called.
    pub name: String,
    /// `KEY=VALUE` each.
    pub overrides: Vec<String>,
}

/// What a study is asked for.
#[derive(Debug, Clone)]
pub struct Asked {
    /// Settings beside the site as it stands.
    pub cases: Vec<Case>,
    /// Keys, each with the text of its values.
    pub varied: Vec<(String, String)>,
    /// A row each.
    pub table: Option<Table>,
    /// How several keys are put together; drawn rows are the same for every case and line.
    pub combination: Combination,
}

/// Why a study cannot be.
#[derive(Debug, thiserror::Error)]
pub enum StudyError<E> {
    /// Of the numbers that are varied.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// A cell of the table.
    #[error(transparent)]
    Cell(#[from] CellError),
    /// A case named as another.
    #[error("--case: two are called \"{name}\"; the site as it stands is one by itself")]
    SameName {
        /// Which.
        name: String,
    },
    /// Texts that cannot be drawn.
    #[error("{path}: {needs}")]
    Text {
        /// The key.
        path: String,
        /// What would be right.
        needs: &'static str,
    },
    /// Too many models.
    #[error("keys that are no numbers of the site make more than {MOST_MODELS} different sites")]
    TooMany,
    /// A site that is none.
    #[error("{of}{error}")]
    Site {
        /// Which case or line, with what follows it; empty where there is but one.
        of: String,
        /// What is wrong.
        error: E,
    },
}

/// A row or a block of rows.
#[derive(Debug, Clone)]
struct Line {
    /// Of the named cases; 0 is the site as it stands.
    case: usize,
    model: usize,
    /// Of the table, SI, in the order of its number columns.
    numbers: Vec<f64>,
    /// In the order of the keys that are texts.
    texts: Vec<String>,
    /// The one row of the plan; all of them where there is none.
    only: Option<u64>,
}

/// What a key is given in every row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    Axis(usize),
    Number(usize),
    Text(usize),
}

/// An input that is varied, as rows name it.
#[derive(Debug, Clone, Copy)]
pub enum Varied<'a> {
    /// A number of the site.
    Number(&'a Value),
    /// Any other key.
    Text(&'a str),
}

/// What an input is given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Given<'a> {
    /// SI.
    Number(f64),
    /// As it was written.
    Text(&'a str),
}

/// Models and rows.
#[derive(Debug)]
pub struct Study {
    /// The site as it stands first.
    models: Vec<Model>,
    plans: Vec<Plan>,
    /// Slots of the table's number columns, by model.
    slots: Vec<Vec<SlotId>>,
    lines: Vec<Line>,
    names: Vec<String>,
    keys: Vec<(String, Place)>,
}

/// The site as it stands, where it is one case of several.
const AS_IT_STANDS: &str = "as it stands";

impl Study {
    /// A study of a site; `compile` makes the model with these overrides.
    ///
    /// # Errors
    /// [`StudyError`].
    pub fn new<E>(
        base: Model,
        asked: &Asked,
        mut compile: impl FnMut(&[String]) -> Result<Model, E>,
    ) -> Result<Self, StudyError<E>> {
        let mut names = vec![String::new()];
        if !asked.cases.is_empty() {
            names[0] = AS_IT_STANDS.into();
        }
        for case in &asked.cases {
            if names.contains(&case.name) {
                return Err(StudyError::SameName { name: case.name.clone() });
            }
            names.push(case.name.clone());
        }
        let keys = Keys::of(&base, asked)?;
        let combos = keys.combos(asked)?;
        let mut models = Models { models: vec![base], known: HashMap::from([(Vec::new(), 0)]) };
        let mut lines = Vec::new();
        let one = [(0, Vec::new(), Vec::new())];
        let table = keys.lines.as_deref().unwrap_or(&one);
        for (place, name) in names.iter().enumerate() {
            let stated = place.checked_sub(1).map_or(&[][..], |case| &asked.cases[case].overrides);
            for (number, numbers, texts) in table {
                for (combo, only) in &combos {
                    let texts: Vec<String> = texts.iter().chain(combo).cloned().collect();
                    let written =
                        keys.texts.iter().zip(&texts).map(|(key, text)| format!("{key}={text}"));
                    let overrides: Vec<String> = stated.iter().cloned().chain(written).collect();
                    let model =
                        models.of(overrides, &mut compile).map_err(|error| match error {
                            None => StudyError::TooMany,
                            Some(error) => StudyError::Site {
                                of: match (place, number, &asked.table) {
                                    (_, 1.., Some(table)) => format!("{}:{number}: ", table.name),
                                    (1.., ..) => format!("case \"{name}\": "),
                                    _ => String::new(),
                                },
                                error,
                            },
                        })?;
                    lines.push(Line {
                        case: place,
                        model,
                        numbers: numbers.clone(),
                        texts,
                        only: *only,
                    });
                }
            }
        }
        let models = models.models;
        let plan = |model| Plan::or_nothing(model, &keys.axes, asked.combination);
        let plans = models.iter().map(plan).collect::<Result<_, _>>()?;
        let slots = |model: &Model| {
            keys.numbers.iter().map(|path| model.slot(path)).collect::<Result<Vec<_>, SlotError>>()
        };
        let slots = models.iter().map(slots).collect::<Result<_, _>>().map_err(PlanError::from)?;
        if asked.cases.is_empty() && keys.all.is_empty() {
            return Err(PlanError::Nothing.into());
        }
        Ok(Self { models, plans, slots, lines, names, keys: keys.all })
    }

    /// The site as it stands.
    pub fn base(&self) -> &Model {
        &self.models[0]
    }

    /// Every model, the site as it stands first.
    pub fn models(&self) -> &[Model] {
        &self.models
    }

    /// Whether cases have names.
    pub fn has_cases(&self) -> bool {
        self.names.len() > 1
    }

    /// The longest name of a case, in characters.
    pub fn longest_name(&self) -> usize {
        self.names.iter().map(|name| name.chars().count()).max().unwrap_or(0)
    }

    /// Rows of the plan that each line takes.
    fn rows_a_line(&self) -> u64 {
        match self.lines.first().is_some_and(|line| line.only.is_some()) {
            true => 1,
            false => self.plans[0].rows(),
        }
    }

    /// How many rows.
    pub fn rows(&self) -> u64 {
        self.lines.len() as u64 * self.rows_a_line()
    }

    /// The rows of one of several parts, both counted from 1: together they are all, in order.
    pub fn part(&self, part: u64, of: u64) -> std::ops::Range<u64> {
        super::part_of(self.rows(), part, of)
    }

    /// The keys that are varied, in the order in which rows tell them.
    pub fn varied(&self) -> Vec<Varied<'_>> {
        let base = self.base();
        let slot = |slot| Varied::Number(base.slot_value(slot));
        self.keys
            .iter()
            .map(|(key, place)| match place {
                Place::Axis(index) => slot(self.plans[0].axes()[*index].slot),
                Place::Number(index) => slot(self.slots[0][*index]),
                Place::Text(_) => Varied::Text(key),
            })
            .collect()
    }

    /// What to know of the values of an input, in words.
    pub fn remarks(&self) -> Vec<&'static str> {
        self.plans[0].remarks(self.base())
    }

    /// A runner for some columns; one a thread.
    pub fn runner<'a>(&'a self, columns: &'a [Column], weather: Weather<'a>) -> StudyRunner<'a> {
        let runner = Runner::with_weather(&self.models[0], &self.plans[0], columns, weather);
        StudyRunner { study: self, columns, weather, model: 0, line: 0, runner }
    }
}

/// Models by what is laid over the site.
struct Models {
    models: Vec<Model>,
    known: HashMap<Vec<String>, usize>,
}

impl Models {
    /// The place of a model; `None` in place of an error where there are too many.
    fn of<E>(
        &mut self,
        overrides: Vec<String>,
        compile: &mut impl FnMut(&[String]) -> Result<Model, E>,
    ) -> Result<usize, Option<E>> {
        if let Some(place) = self.known.get(&overrides) {
            return Ok(*place);
        }
        if self.models.len() >= MOST_MODELS {
            return Err(None);
        }
        self.models.push(compile(&overrides).map_err(Some)?);
        self.known.insert(overrides, self.models.len() - 1);
        Ok(self.models.len() - 1)
    }
}

/// A line of the table: where it stands, its numbers and its texts.
type TableLine = (u64, Vec<f64>, Vec<String>);

/// Listed texts, and the one row of the plan that goes with them.
type Combo = (Vec<String>, Option<u64>);

/// The keys of a study by what they are.
struct Keys {
    /// Numbers that the plan varies.
    axes: Vec<(String, String)>,
    /// Numbers of the table.
    numbers: Vec<String>,
    /// Texts, those of the table first.
    texts: Vec<String>,
    /// Values of the texts that are listed.
    listed: Vec<(String, Vec<String>)>,
    lines: Option<Vec<TableLine>>,
    all: Vec<(String, Place)>,
}

impl Keys {
    fn of<E>(base: &Model, asked: &Asked) -> Result<Self, StudyError<E>> {
        let mut keys = Self {
            axes: Vec::new(),
            numbers: Vec::new(),
            texts: Vec::new(),
            listed: Vec::new(),
            lines: None,
            all: Vec::new(),
        };
        if let Some(table) = &asked.table {
            keys.read(base, table)?;
        }
        for (path, text) in &asked.varied {
            if keys.all.iter().any(|(known, _)| known == path) {
                return Err(PlanError::Twice { path: path.clone() }.into());
            }
            let place = match base.slot(path) {
                Ok(_) => {
                    keys.axes.push((path.clone(), text.clone()));
                    Place::Axis(keys.axes.len() - 1)
                }
                Err(error @ SlotError::Derived { .. }) => return Err(PlanError::from(error).into()),
                Err(SlotError::Unknown { .. }) => {
                    keys.listed.push((path.clone(), listed(text)));
                    keys.texts.push(path.clone());
                    Place::Text(keys.texts.len() - 1)
                }
            };
            keys.all.push((path.clone(), place));
        }
        Ok(keys)
    }

    /// What the table holds.
    fn read<E>(&mut self, base: &Model, table: &Table) -> Result<(), StudyError<E>> {
        let mut slots = Vec::new();
        for path in &table.paths {
            if self.all.iter().any(|(known, _)| known == path) {
                return Err(PlanError::Twice { path: path.clone() }.into());
            }
            let slot = match base.slot(path) {
                Ok(slot) => Some(slot),
                Err(error @ SlotError::Derived { .. }) => return Err(PlanError::from(error).into()),
                Err(SlotError::Unknown { .. }) => None,
            };
            let list = if slot.is_some() { &mut self.numbers } else { &mut self.texts };
            list.push(path.clone());
            let last = list.len() - 1;
            let place = if slot.is_some() { Place::Number(last) } else { Place::Text(last) };
            self.all.push((path.clone(), place));
            slots.push(slot);
        }
        let mut lines = Vec::with_capacity(table.lines.len());
        for (line, cells) in &table.lines {
            let (mut numbers, mut texts) = (Vec::new(), Vec::new());
            for (column, slot) in slots.iter().enumerate() {
                match slot {
                    Some(slot) => numbers.push(table.number(
                        (*line, column),
                        &cells[column],
                        base.slot_value(*slot),
                    )?),
                    None => texts.push(table.text((*line, column), &cells[column])?),
                }
            }
            lines.push((*line, numbers, texts));
        }
        self.lines = Some(lines);
        Ok(())
    }

    /// The listed texts of every row, and the row of the plan where these go side by side with numbers.
    fn combos<E>(&self, asked: &Asked) -> Result<Vec<Combo>, StudyError<E>> {
        const NEEDS: &str = "texts are listed, as in \"counterflow, crossflow\"";
        if let Some((path, _)) = self.listed.iter().find(|(_, values)| values.is_empty()) {
            return Err(StudyError::Text { path: path.clone(), needs: NEEDS });
        }
        let mut combos = vec![(Vec::new(), None)];
        let Some((first_path, first)) = self.listed.first() else { return Ok(combos) };
        if asked.combination != Combination::Pairs {
            for (_, values) in &self.listed {
                let with = |(texts, only): &Combo| {
                    let (texts, only) = (texts.clone(), *only);
                    values
                        .iter()
                        .map(move |value| ([texts.clone(), vec![value.clone()]].concat(), only))
                        .collect::<Vec<_>>()
                };
                combos = combos.iter().flat_map(with).collect();
                if combos.len() > MOST_MODELS {
                    return Err(StudyError::TooMany);
                }
            }
            return Ok(combos);
        }
        for (path, values) in &self.listed {
            if values.len() != first.len() {
                return Err(PlanError::Unequal {
                    path: path.clone(),
                    values: values.len(),
                    first_path: first_path.clone(),
                    first: first.len(),
                }
                .into());
            }
        }
        let texts =
            |row: usize| self.listed.iter().map(|(_, values)| values[row].clone()).collect();
        Ok((0..first.len()).map(|row| (texts(row), Some(row as u64))).collect())
    }
}

/// The values of a list of texts. A unit at the end is that of every number before it, and a range with a
/// step is its values, as with numbers of the site; commas within brackets part nothing.
fn listed(text: &str) -> Vec<String> {
    let text = text.trim();
    if let Some(values) = stepped(text) {
        return values;
    }
    let mut depth = 0;
    let parts = text.split(|c: char| {
        depth += i32::from(c == '[') - i32::from(c == ']');
        c == ',' && depth == 0
    });
    let mut parts: Vec<String> =
        parts.map(|part| part.trim().to_owned()).filter(|part| !part.is_empty()).collect();
    let Some(last) = parts.last().cloned() else { return parts };
    let unit = last[number_length(&last)..].trim();
    if number_length(&last) > 0 && !unit.is_empty() {
        for part in &mut parts {
            if part.parse::<f64>().is_ok() {
                *part = format!("{part} {unit}");
            }
        }
    }
    parts
}

/// The values of `18 to 24 step 2 degC`.
fn stepped(text: &str) -> Option<Vec<String>> {
    let (from, rest) = text.split_once(" to ")?;
    let (to, step) = rest.split_once(" step ")?;
    let length = number_length(step.trim());
    let (step, unit) = step.trim().split_at(length);
    let number = |text: &str| text.trim().trim_end_matches(unit.trim()).trim().parse::<f64>().ok();
    let (from, to, step) = (number(from)?, number(to)?, number(step)?);
    let steps = (to - from) / step;
    if !(0.0..MOST_MODELS as f64).contains(&steps) {
        return None;
    }
    let value = |index: usize| from + index as f64 * step;
    let written =
        |index| format!("{} {}", trimmed(value(index), 12), unit.trim()).trim_end().to_owned();
    Some((0..=(steps + 1e-9).floor() as usize).map(written).collect())
}

/// Evaluates rows of a study; one a thread.
#[derive(Debug, Clone)]
pub struct StudyRunner<'a> {
    study: &'a Study,
    columns: &'a [Column],
    weather: Weather<'a>,
    model: usize,
    line: usize,
    runner: Runner<'a>,
}

impl<'a> StudyRunner<'a> {
    /// Writes what a row is given.
    pub fn set(&mut self, row: u64) {
        let study = self.study;
        let each = study.rows_a_line();
        self.line = (row / each) as usize;
        let line = &study.lines[self.line];
        self.take(line.model);
        self.runner.set(line.only.unwrap_or(row % each));
        for (slot, si) in study.slots[line.model].iter().zip(&line.numbers) {
            self.runner.give(*slot, *si);
        }
    }

    fn take(&mut self, model: usize) {
        if self.model != model {
            let (of, plan) = (&self.study.models[model], &self.study.plans[model]);
            self.runner = Runner::with_weather(of, plan, self.columns, self.weather);
            self.model = model;
        }
    }

    /// The name of the row's case; `None` where cases have none.
    pub fn case(&self) -> Option<&'a str> {
        let name = self.study.names[self.study.lines[self.line].case].as_str();
        (!name.is_empty()).then_some(name)
    }

    /// What the row was given, in the order of [`Study::varied`].
    pub fn given(&self) -> Vec<Given<'a>> {
        let line = &self.study.lines[self.line];
        let plan = &self.study.plans[self.model];
        let of = |(_, place): &(String, Place)| match place {
            Place::Axis(index) => Given::Number(self.runner.inputs().get(plan.axes()[*index].slot)),
            Place::Number(index) => Given::Number(line.numbers[*index]),
            Place::Text(index) => Given::Text(&line.texts[*index]),
        };
        self.study.keys.iter().map(of).collect()
    }

    /// The site as it stands.
    ///
    /// # Errors
    /// [`Infeasible`].
    pub fn base(&mut self) -> Result<Results<'_>, Infeasible> {
        self.take(0);
        self.runner.base()
    }

    /// What the site as it stands has at the keys that are varied; no text of those that are none of its
    /// numbers.
    pub fn base_given(&self) -> Vec<Given<'a>> {
        let of = |varied: Varied<'a>| match varied {
            Varied::Number(value) => Given::Number(value.si),
            Varied::Text(_) => Given::Text(""),
        };
        self.study.varied().into_iter().map(of).collect()
    }

    /// The results of what was written last.
    ///
    /// # Errors
    /// [`Infeasible`] for numbers that have no balance.
    pub fn results(&mut self) -> Result<Results<'_>, Infeasible> {
        self.runner.results()
    }
}

#[cfg(test)]
mod tests {
    use super::listed;

    #[test]
    fn texts_are_listed_as_numbers_are() {
        assert_eq!(listed("counterflow, crossflow"), ["counterflow", "crossflow"]);
        assert_eq!(listed("20, 22 , 24 degC"), ["20 degC", "22 degC", "24 degC"]);
        assert_eq!(listed("20 degC, 24 degC"), ["20 degC", "24 degC"]);
        assert_eq!(listed("18 to 22 step 2 degC"), ["18 degC", "20 degC", "22 degC"]);
        assert_eq!(listed("7.8 to 8.2 step 0.2"), ["7.8", "8", "8.2"]);
        let lists = [r#"["stainless_304"]"#, r#"["copper_alloy", "film_fill"]"#];
        assert_eq!(listed(&lists.join(", ")), lists);
        assert!(listed(" , ").is_empty());
    }
}
