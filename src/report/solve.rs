//! An input that gives a stated result, as people and programs read it.

use super::page::{Block, Page, Piece, Words, constant, number, words};
use super::shown::{COVERAGE, with_symbol};
use crate::quantity::unit::Unit;
use crate::quantity::{Quantity, UnitSystem, significant, with_decimals};
use crate::site::Value;
use crate::whatif::solve::{Answer, Question, Solution};
use crate::whatif::wick_remark;
use serde::Serialize;

const DIGITS: usize = 5;
const UNCERTAIN_DIGITS: usize = 2;

/// What was asked of a site, and what was found.
#[derive(Debug, Clone, Copy)]
pub struct Solved<'a> {
    /// Name of the site.
    pub name: &'a str,
    /// Names the file.
    pub source: &'a str,
    /// The input that was looked for.
    pub slot: &'a Value,
    /// What was asked.
    pub question: &'a Question,
    /// What was found.
    pub answer: &'a Answer,
    /// The currency of the site; empty where none is named.
    pub currency: &'a str,
}

/// The page: all of it is answer.
pub fn page(solved: &Solved<'_>, units: UnitSystem) -> Page {
    let mut page = Page::new(solved.name, "Solved backwards", solved.source);
    let of = Of { solved, units, unit: solved.slot.shown_in(units) };
    let said = [
        of.found(),
        of.ends(),
        of.extremes(),
        of.jumps(),
        of.wick(),
        of.infeasible(),
        of.plus_minus(),
    ];
    page.answer = [Block::heading("ANSWER")]
        .into_iter()
        .chain(
            solved.answer.solutions.iter().map(|solution| Block::paragraph(of.solution(solution))),
        )
        .chain(said.into_iter().flatten().map(Block::paragraph))
        .collect();
    page
}

struct Of<'a> {
    solved: &'a Solved<'a>,
    units: UnitSystem,
    /// Of the input.
    unit: &'static Unit,
}

impl Of<'_> {
    fn path(&self) -> Words {
        Words::given(&self.solved.slot.path)
    }

    fn result_name(&self) -> Words {
        Words::given(self.solved.question.column.name)
    }

    /// A value of the input.
    fn input(&self, key: &'static str, si: f64) -> Piece {
        number(key, shown(self.unit, si))
    }

    /// A value of the result, given in the unit of its column.
    fn result(&self, key: &'static str, value: f64) -> Piece {
        let shown = match self.solved.question.column.unit {
            None => {
                [&significant(value, DIGITS), self.solved.currency].join(" ").trim_end().to_owned()
            }
            Some(unit) => {
                let to = match self.units {
                    UnitSystem::Si => unit,
                    UnitSystem::UsCustomary => unit.quantity.shown_in(self.units),
                };
                shown(to, unit.to_si(value))
            }
        };
        number(key, shown)
    }

    fn wanted(&self) -> Words {
        let wanted = self.result("wanted", self.solved.question.wanted);
        words![self.result_name(), " = ", wanted]
    }

    fn range(&self) -> Words {
        let Question { from, to, .. } = self.solved.question;
        words![self.input("within", *from), " to ", self.input("within", *to)]
    }

    fn solution(&self, solution: &Solution) -> Words {
        // With all its digits, so that it gives what was asked.
        let value = significant(self.unit.of_si(solution.si), DIGITS);
        let standard = solution.standard.map(|standard| {
            significant(COVERAGE * standard / self.unit.factor.abs(), UNCERTAIN_DIGITS)
        });
        let shown = standard.map_or(value.clone(), |half| format!("{value} ± {half}"));
        let flow = Quantity::VolumeFlow.shown_in(self.units);
        let blowdown = significant(flow.of_si(solution.blowdown / 3_600.0), 3);
        words![
            self.path(),
            " = ",
            number("solutions.value", with_symbol(shown, self.unit)),
            " (",
            number("solutions.cycles", with_decimals(solution.cycles, 2)),
            " cycles of concentration, blowdown ",
            number("solutions.blowdown_m3_per_h", with_symbol(blowdown, flow)),
            ")"
        ]
    }

    fn found(&self) -> Option<Words> {
        let gives = match self.solved.answer.solutions.len() {
            0 if self.solved.answer.stands_still() == Some(self.solved.question.wanted) => {
                return None;
            }
            0 => {
                return Some(words![
                    "No ",
                    self.path(),
                    " from ",
                    self.range(),
                    " gives ",
                    self.wanted(),
                    ". `--within` looks in another range."
                ]);
            }
            1 => "gives ",
            _ => "each gives ",
        };
        Some(words![gives, self.wanted(), "; looked for from ", self.range(), "."])
    }

    /// What to say where the result is the same whatever the input.
    fn stands_still(&self) -> Option<Words> {
        let all = self.result("extremes.result", self.solved.answer.stands_still()?);
        Some(words![
            self.result_name(),
            " is ",
            all,
            " throughout: it does not move with ",
            self.path(),
            "."
        ])
    }

    fn ends(&self) -> Option<Words> {
        if self.stands_still().is_some() {
            return self.stands_still();
        }
        let [Some(first), Some(last)] = self.solved.answer.ends else { return None };
        let Question { from, to, .. } = self.solved.question;
        Some(words![
            self.result_name(),
            " is ",
            self.result("ends", first),
            " at ",
            self.input("within", *from),
            " and ",
            self.result("ends", last),
            " at ",
            self.input("within", *to),
            "."
        ])
    }

    /// How near the result comes where nothing gives it.
    fn extremes(&self) -> Option<Words> {
        let [low, high] = self.solved.answer.extremes?;
        let at = |(si, result): (f64, f64)| {
            let result = self.result("extremes.result", result);
            words![result, " (at ", self.input("extremes.value", si), ")"]
        };
        let is_needed = self.solved.answer.solutions.is_empty() && self.stands_still().is_none();
        is_needed.then(|| words!["On the way it lies between ", at(low), " and ", at(high), "."])
    }

    /// Where what was asked is jumped over.
    fn jumps(&self) -> Option<Words> {
        let jumps = &self.solved.answer.jumps;
        let at = Words::joined(jumps.iter().map(|si| words![self.input("jumps", *si)]), ", ");
        (!jumps.is_empty()).then(|| {
            words![
                self.result_name(),
                " jumps over what is asked at ",
                self.path(),
                " = ",
                at,
                ": no value gives it there."
            ]
        })
    }

    /// Where the wet bulb freezes.
    fn wick(&self) -> Option<Words> {
        let Question { from, to, .. } = *self.solved.question;
        let remark = wick_remark(self.solved.slot, (from.min(to), from.max(to)))?;
        Some(words![constant(remark), "."])
    }

    fn infeasible(&self) -> Option<Words> {
        let why = self.solved.answer.infeasible.as_ref()?;
        Some(words!["Some values have no balance: ", Words::given(why), "."])
    }

    fn plus_minus(&self) -> Option<Words> {
        let solutions = &self.solved.answer.solutions;
        solutions.iter().any(|solution| solution.standard.is_some()).then(|| {
            words![
                "±: about ",
                constant("95 %"),
                " (twice the standard uncertainty), from those of the result and of all other inputs (JCGM ",
                constant("100:2008, eq. 10"),
                ")."
            ]
        })
    }
}

fn shown(unit: &Unit, si: f64) -> String {
    with_symbol(significant(unit.of_si(si), DIGITS), unit)
}

/// An answer for programs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SolveOut {
    /// Version of this form.
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where the description came from.
    pub source: String,
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
    /// The smallest and the largest result on the way.
    pub extremes: Vec<ExtremeOut>,
    /// The first reason why a value has no balance.
    pub infeasible: Option<String>,
    /// Values at which the result jumps over what was asked, in the unit.
    pub jumps: Vec<f64>,
    /// The currency of the site, where the result is money.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub currency: Option<String>,
}

/// A value that gives the result.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SolutionOut {
    /// In the unit.
    pub value: f64,
    /// In the unit.
    pub standard_uncertainty: Option<f64>,
    /// Cycles of concentration with it; `None` where nothing leaves as liquid.
    pub cycles: Option<f64>,
    /// Blowdown with it.
    pub blowdown_m3_per_h: f64,
}

/// An end of the results on the way.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ExtremeOut {
    /// Value of the input.
    pub value: f64,
    /// The result there.
    pub result: f64,
}

/// An answer for programs.
pub fn json(solved: &Solved<'_>) -> SolveOut {
    let Solved { name, source, slot, question, answer, currency } = solved;
    let unit = slot.shown_in(UnitSystem::Si);
    let extreme = |(si, result): (f64, f64)| ExtremeOut { value: unit.of_si(si), result };
    SolveOut {
        schema: super::json::SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: (*name).into(),
        source: (*source).into(),
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
                cycles: Some(solution.cycles).filter(|cycles| cycles.is_finite()),
                blowdown_m3_per_h: solution.blowdown,
            })
            .collect(),
        within: [unit.of_si(question.from), unit.of_si(question.to)],
        ends: answer.ends,
        extremes: answer.extremes.into_iter().flatten().map(extreme).collect(),
        infeasible: answer.infeasible.clone(),
        jumps: answer.jumps.iter().map(|si| unit.of_si(*si)).collect(),
        currency: question.column.unit.is_none().then(|| (*currency).to_owned()),
    }
}

/// A solution, for CSV.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SolutionRow {
    /// The input.
    pub key: String,
    /// In the unit.
    pub value: f64,
    /// In the unit.
    pub standard_uncertainty: Option<f64>,
    /// Unit of the input.
    pub unit: &'static str,
    /// The result that is stated.
    pub result: &'static str,
    /// Its value.
    pub wanted: f64,
}

impl SolutionRow {
    /// The columns.
    pub const HEAD: [&str; 6] =
        ["key", "value", "standard_uncertainty", "unit", "result", "wanted"];
}

/// A row a solution, for CSV.
pub fn solutions(solved: &Solved<'_>) -> Vec<SolutionRow> {
    let SolveOut { key, unit, result, wanted, solutions, .. } = json(solved);
    let row = |solution: SolutionOut| SolutionRow {
        key: key.clone(),
        value: solution.value,
        standard_uncertainty: solution.standard_uncertainty,
        unit,
        result,
        wanted,
    };
    solutions.into_iter().map(row).collect()
}
