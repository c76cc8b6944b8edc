//! How sure results are, as people and programs read it.

use super::page::{Block, Column, Table, Words, constant, number, words};
use super::shown::{COVERAGE, percent, with_uncertainty};
use super::unstated::{self, UnstatedOut};
use crate::model::{Balance, Summary};
use crate::model::{Draws, DrawsVerdict, Output, Spread, Uncertain, Validation};
use crate::quantity::unit;
use crate::quantity::{Quantity, UnitSystem, with_decimals};
use crate::site::Value;
use serde::Serialize;

/// Inputs that are named for a result.
const NAMED: usize = 3;
/// Uncertainties below this part of their result are not shown to people.
const LEAST_PART: f64 = 2e-4;
/// Parts of the variance below this are not named.
const NOTABLE: f64 = 0.01;

/// Results with their uncertainty, as blocks of a page; nothing where no input carries one.
pub fn blocks(results: &[Uncertain], currency: &str, units: UnitSystem) -> Vec<Block> {
    let notable: Vec<&Uncertain> = results.iter().filter(|result| is_notable(result)).collect();
    if notable.is_empty() {
        return Vec::new();
    }
    let mut blocks = vec![Block::heading("HOW SURE")];
    for result in notable {
        blocks.push(Block::paragraph(words![
            Words::given(&result.label),
            ": ",
            number("uncertain.value", shown(result, currency, units)),
            assumed(result),
            ", from ",
            origins(result),
            ".",
            result.is_curved.then_some(CURVED)
        ]));
        if !result.one_sided.is_empty() {
            blocks.push(Block::indented(words![
                "One-sided, because the other side has no result: ",
                Words::given(&result.one_sided.join(", ")),
                "."
            ]));
        }
    }
    blocks.extend(unstated::blocks(&unstated(results), unstated::OF_RESULTS, units));
    blocks.push(Block::paragraph(words![
        "±: ",
        constant("k = 2, about 95 %"),
        ", of inputs and method (JCGM ",
        constant("100:2008, eq. 13"),
        "); parts are those of the sum of squares."
    ]));
    blocks
}

/// What is said of a result that first order does not describe.
const CURVED: &str =
    " First order does not hold: within its ± it does not follow the inputs in a straight line.";

/// The inputs of some results that nobody stated a `±` for and that count in one of them, those that count
/// most first.
pub(super) fn unstated(results: &[Uncertain]) -> Vec<&Value> {
    let of_all = results.iter().filter(|result| is_notable(result)).flat_map(|r| &r.unstated);
    let mut found: Vec<&(Value, f64)> = of_all.filter(|(_, part)| *part > NOTABLE).collect();
    found.sort_by(|(_, a), (_, b)| b.total_cmp(a));
    let mut values: Vec<&Value> = Vec::new();
    for (value, _) in found {
        if values.iter().all(|other| other.path != value.path) {
            values.push(value);
        }
    }
    values
}

/// The line that tells of these inputs.
pub(super) fn unstated_line(results: &[Uncertain], units: UnitSystem) -> Option<Words> {
    unstated::line(&unstated(results), unstated::OF_RESULTS, units)
}

/// What is said beside a ± that nobody stated any part of.
pub(super) fn assumed(result: &Uncertain) -> Option<&'static str> {
    result.rests_on_defaults.then_some(" (± assumed)")
}

/// A result with its ± and unit.
pub(super) fn shown(result: &Uncertain, currency: &str, units: UnitSystem) -> String {
    let (factor, symbol) = match (result.unit, units) {
        (None, _) => (1.0, currency),
        (Some(unit), UnitSystem::Si) => (1.0, unit.sign()),
        (Some(unit), UnitSystem::UsCustomary) => {
            // What is fed is fed by the day.
            let shown = match unit.symbol == unit::KILOGRAM_PER_DAY.symbol {
                true => &unit::POUND_PER_DAY,
                false => unit.quantity.shown_in(units),
            };
            (unit.factor / shown.factor, shown.sign())
        }
    };
    let shown = with_uncertainty(factor * result.value, COVERAGE * factor * result.standard);
    format!("{shown} {symbol}").trim_end().to_owned()
}

/// The inputs that a result's uncertainty comes from, with their parts.
fn origins(result: &Uncertain) -> Words {
    let notable = result.from.iter().take(NAMED).filter(|(_, part)| *part > NOTABLE);
    let with_part = |(path, part): &(String, f64)| {
        let part = percent(*part, 2);
        words![Words::given(path), " ", number("uncertain.from.part", part)]
    };
    Words::joined(notable.map(with_part), ", ")
}

/// The result of a key, where its uncertainty is worth telling.
pub(super) fn notable<'a>(results: &'a [Uncertain], key: &str) -> Option<&'a Uncertain> {
    results.iter().find(|result| result.key == key && is_notable(result))
}

/// Whether an uncertainty is worth telling.
fn is_notable(result: &Uncertain) -> bool {
    result.standard > LEAST_PART * result.value.abs()
}

/// A result with its uncertainty for programs.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct UncertainOut {
    /// Name, with the unit.
    pub key: String,
    /// In the unit of the key.
    pub value: f64,
    /// In the unit of the key.
    pub standard_uncertainty: f64,
    /// Inputs, largest first, with their part of the sum of squares.
    pub from: Vec<FromOut>,
    /// Inputs among them whose `±` nobody stated, with what was taken in its place.
    pub unstated: Vec<UnstatedOut>,
    /// Whether the result is too curved within its uncertainty for first order.
    pub is_curved: bool,
    /// Whether nobody stated any `±` that counts.
    pub rests_on_defaults: bool,
}

/// An input of an uncertainty.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct FromOut {
    /// Its path.
    pub path: String,
    /// Part of the sum of squares.
    pub part: f64,
}

/// Results for programs.
pub fn json(results: &[Uncertain]) -> Vec<UncertainOut> {
    let out = |result: &Uncertain| UncertainOut {
        key: result.key.clone(),
        value: result.value,
        standard_uncertainty: result.standard,
        from: result
            .from
            .iter()
            .map(|(path, part)| FromOut { path: path.clone(), part: *part })
            .collect(),
        unstated: unstated::json(result.unstated.iter().map(|(value, _)| value)),
        is_curved: result.is_curved,
        rests_on_defaults: result.rests_on_defaults,
    };
    results.iter().map(out).collect()
}

/// A page for programs with its uncertainties beside it.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct With<T: Serialize> {
    /// The page.
    #[serde(flatten)]
    pub page: T,
    /// Results with their uncertainty; none where no input carries one.
    pub uncertain: Vec<UncertainOut>,
}

/// First-order propagation beside draws, for one result.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct DrawnOut {
    /// Name, with the unit.
    pub key: &'static str,
    /// At the inputs as they stand.
    pub value: f64,
    /// By first-order propagation.
    pub standard_uncertainty: f64,
    /// Mean of the draws.
    pub mean: f64,
    /// Standard deviation of the draws.
    pub standard_deviation: f64,
    /// Interval that leaves 2.5 % of the draws on either side.
    pub interval: [f64; 2],
    /// `agree`, `differ` or `too_few_draws` (JCGM 101:2008, 8.2).
    pub verdict: &'static str,
}

/// Draws of a balance beside its first-order uncertainties.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct DrawsOut {
    /// Draws with a balance.
    pub draws: usize,
    /// Draws without one.
    pub infeasible: u64,
    /// Seed.
    pub seed: u64,
    /// Every result that carries an uncertainty.
    pub results: Vec<DrawnOut>,
}

/// A page for programs with its draws beside it.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct WithDraws<T: Serialize> {
    /// The page.
    #[serde(flatten)]
    pub page: T,
    /// Draws, where they were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub monte_carlo: Option<DrawsOut>,
}

const AGREE: &str = "agree";

const NAMES: [(Output, &str, &str); 7] = [
    (Output::Makeup, "makeup", "makeup_m3_per_h"),
    (Output::Evaporation, "evaporation", "evaporation_m3_per_h"),
    (Output::Drift, "drift", "drift_m3_per_h"),
    (Output::Blowdown, "blowdown", "blowdown_m3_per_h"),
    (Output::Leakage, "leakage", "leakage_m3_per_h"),
    (Output::Overflow, "overflow", "overflow_m3_per_h"),
    (Output::Cycles, "cycles", "cycles_of_concentration"),
];

/// Draws for programs, held against the first-order spread.
pub fn draws(balance: &Balance, spread: &Spread, draws: &Draws, seed: u64) -> DrawsOut {
    let result = |(output, _, key): &(Output, &str, &'static str)| {
        let scale = |kg_per_s: f64| match output {
            Output::Cycles => kg_per_s,
            _ => Balance::reference_m3_per_h(kg_per_s),
        };
        let standard = spread.standard(*output)?;
        let summary: Summary = draws.summary(*output)?;
        let value = output.of(balance);
        let validation = Validation::of(value, standard, &summary, draws.count());
        Some(DrawnOut {
            key,
            value: scale(value),
            standard_uncertainty: scale(standard),
            mean: scale(summary.mean),
            standard_deviation: scale(summary.standard),
            interval: summary.interval.map(scale),
            verdict: match validation.verdict() {
                DrawsVerdict::Agree => AGREE,
                DrawsVerdict::Differ => "differ",
                DrawsVerdict::TooFewDraws => "too_few_draws",
            },
        })
    };
    DrawsOut {
        draws: draws.count(),
        infeasible: draws.infeasible,
        seed,
        results: NAMES.iter().filter_map(result).collect(),
    }
}

/// Draws as blocks of a page.
pub fn draws_blocks(out: &DrawsOut, units: UnitSystem) -> Vec<Block> {
    let mut table = Table::new([
        Column::left(14),
        Column::right(17),
        Column::right(17),
        Column::right(22),
        Column::left(0).after(1),
    ]);
    table.head([
        "".into(),
        "first order".into(),
        "drawn".into(),
        words![constant("95 %"), " of the draws"],
    ]);
    let flow = Quantity::VolumeFlow.shown_in(units);
    table.head([flow.symbol]);
    let shown = || {
        let is_shown = |r: &&DrawnOut| r.standard_uncertainty > LEAST_PART * r.value.abs();
        out.results.iter().filter(is_shown)
    };
    for result in shown() {
        let scale = match result.key {
            "cycles_of_concentration" => 1.0,
            _ => unit::CUBIC_METRE_PER_HOUR.factor / flow.factor,
        };
        let expanded = COVERAGE * scale * result.standard_uncertainty;
        let drawn = COVERAGE * scale * result.standard_deviation;
        let decimals = (1 - expanded.abs().log10().floor() as i32).clamp(0, 6) as usize;
        let end =
            |end: f64| number("monte_carlo.results.interval", with_decimals(scale * end, decimals));
        let [from, to] = result.interval.map(end);
        let name = NAMES.iter().find(|(_, _, key)| *key == result.key).map_or("", |n| n.1);
        table.row([
            name.into(),
            words![number(
                "monte_carlo.results.value",
                with_uncertainty(scale * result.value, expanded)
            )],
            words![number(
                "monte_carlo.results.mean",
                with_uncertainty(scale * result.mean, drawn)
            )],
            words![from, " to ", to],
            match result.verdict {
                AGREE => "",
                "differ" => "differs",
                _ => "more",
            }
            .into(),
        ]);
    }
    let is_any = |verdict: &str| shown().any(|result| result.verdict == verdict);
    let mut said = words![
        number("monte_carlo.draws", out.draws.to_string()),
        " draws, seed ",
        number("monte_carlo.seed", out.seed.to_string()),
        " (",
        constant("JCGM 101:2008"),
        "); ",
        number("monte_carlo.infeasible", out.infeasible.to_string()),
        " had no balance."
    ];
    if is_any(AGREE) {
        said.push(
            " First-order propagation agrees with them to half a unit in the second digit of its standard \
             uncertainty",
        );
        said.push(match is_any("differ") || is_any("too_few_draws") {
            true => " where nothing else stands.",
            false => ".",
        });
    }
    if is_any("differ") {
        said.push(
            " Where they differ, the result is curved within the uncertainty, or its distribution is no \
             normal one: the draws are the better answer.",
        );
    }
    if is_any("too_few_draws") {
        said.push(" More draws are needed to tell where it says so.");
    }
    vec![Block::heading("DRAWN AT RANDOM"), Block::Table(table), Block::Gap, Block::paragraph(said)]
}
