//! Analyses as the laboratory gave them, beside what is used.

use super::json::{AsGivenOut, as_given_out};
use crate::chemistry::Constituent;
use crate::model::{GivenAndUsed, UsedAnalysis, age};
use crate::quantity::{UnitSystem, significant, with_decimals};
use crate::report::page::{Block, Column, Table, Words, constant, number, words};
use serde::Serialize;

pub(super) fn blocks(given: &[UsedAnalysis]) -> Vec<Block> {
    if given.is_empty() {
        return Vec::new();
    }
    let heading = Block::heading("ANALYSES AS GIVEN, AND AS USED");
    let tables = given.iter().flat_map(|analysis| {
        let day = match &analysis.sampled {
            Some(day) => words![", sampled ", constant(day.as_str())],
            None => ", day of the sample not stated".into(),
        };
        let ph = analysis.ph.map(|ph| words![", pH ", number("analyses.ph", with_decimals(ph, 2))]);
        [
            Block::paragraph(words![Words::given(&analysis.name), day, ph, ":"]),
            Block::Table(table(analysis)),
        ]
    });
    [heading].into_iter().chain(tables).collect()
}

/// Samples so many days apart are of one round.
const MONTH: i64 = 31;

/// When the samples were taken, for the page that is handed over.
pub(super) fn dates(given: &[UsedAnalysis]) -> Option<Words> {
    let is_dated = given.iter().any(|analysis| analysis.sampled.is_some());
    let dated = given.iter().map(|analysis| {
        let name = Words::given(&analysis.name);
        let Some(day) = analysis.sampled.as_deref() else {
            return words![name, " without a day"];
        };
        let older = analysis.days_before_newest.filter(|days| *days > MONTH);
        let older = older.map(|days| {
            let age = number("analyses.days_before_newest", age(days));
            words![" (", age, " before the newest)"]
        });
        words![name, " ", constant(day), older]
    });
    let dated: Vec<Words> = dated.collect();
    is_dated.then(|| words!["Samples: ", Words::joined(dated, ", "), "."])
}

fn table(analysis: &UsedAnalysis) -> Table {
    let mut table = Table::new([Column::left(22), Column::left(28), Column::right(28)]);
    table.head(["", "as given", "as used"]);
    for entry in &analysis.entries {
        table.row([
            Words::from(constant(entry.given.key.replace('_', " "))),
            Words::given(&entry.given.written),
            used(entry).map_or("-".into(), |(value, unit)| {
                let shown = format!("{} {unit}", significant(value, 3));
                words![number("analyses.as_given.used", shown.trim_end())]
            }),
        ]);
    }
    table
}

/// What is used of an entry, with its unit; of a constituent in the basis of its limits.
pub(super) fn used(entry: &GivenAndUsed) -> Option<(f64, String)> {
    let (si, quantity) = entry.used?;
    let unit = quantity.shown_in(UnitSystem::Si);
    let constituent = match entry.given.key {
        "p_alkalinity" => Some(Constituent::Alkalinity),
        key => Constituent::of_key(key),
    };
    let basis = constituent.map_or(String::new(), |c| format!(" as {}", c.basis().formula()));
    Some((unit.as_typed(si), format!("{}{basis}", unit.symbol)))
}

/// An analysis as it was given and as it is used.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct AnalysisOut {
    /// Which water.
    pub water: String,
    /// The day of the sample.
    pub sampled: Option<String>,
    /// Days that it is older than the newest sample of the site.
    pub days_before_newest: Option<i64>,
    /// pH, where it was found.
    pub ph: Option<f64>,
    /// Every entry.
    pub as_given: Vec<AsGivenOut>,
}

pub(super) fn json(given: &[UsedAnalysis]) -> Vec<AnalysisOut> {
    given
        .iter()
        .map(|analysis| AnalysisOut {
            water: analysis.name.clone(),
            sampled: analysis.sampled.clone(),
            days_before_newest: analysis.days_before_newest,
            ph: analysis.ph,
            as_given: analysis.entries.iter().map(as_given_out).collect(),
        })
        .collect()
}
