//! Analyses as the laboratory gave them, beside what is used.

use crate::model::{UsedAnalysis, UsedValue};
use crate::report::page::{Block, Column, Table, Words, constant, number, words};
use serde::Serialize;

pub(super) fn blocks(given: &[UsedAnalysis]) -> Vec<Block> {
    if given.is_empty() {
        return Vec::new();
    }
    let heading = Block::heading("ANALYSES AS GIVEN, AND AS USED");
    let tables = given.iter().flat_map(|analysis| {
        let day = match &analysis.sampled {
            Some(day) => words![", sampled ", constant(day.as_str()), ":"],
            None => ", day of the sample not stated:".into(),
        };
        [Block::paragraph(words![Words::given(&analysis.name), day]), Block::Table(table(analysis))]
    });
    [heading].into_iter().chain(tables).collect()
}

/// When the samples were taken, for the page that is handed over.
pub(super) fn dates(given: &[UsedAnalysis]) -> Option<Words> {
    let dated = given.iter().filter_map(|analysis| {
        let day = constant(analysis.sampled.as_deref()?);
        Some(words![Words::given(&analysis.name), " ", day])
    });
    let dated: Vec<Words> = dated.collect();
    (!dated.is_empty()).then(|| words!["Samples: ", Words::joined(dated, ", "), "."])
}

fn table(analysis: &UsedAnalysis) -> Table {
    let mut table = Table::new([Column::left(22), Column::left(28), Column::right(28)]);
    table.head(["", "as given", "as used"]);
    for value in &analysis.values {
        table.row([
            Words::from(constant(value.name)),
            value.written.as_deref().map_or("-".into(), Words::given),
            number("given.values.used", value.shown()).into(),
        ]);
    }
    table
}

/// An analysis as it was given and as it is used.
#[derive(Debug, Serialize)]
pub struct GivenOut {
    /// Which water.
    pub water: String,
    /// The day of the sample.
    pub sampled: Option<String>,
    /// Every value.
    pub values: Vec<GivenValueOut>,
}

/// A value of an analysis.
#[derive(Debug, Serialize)]
pub struct GivenValueOut {
    /// Where it stands in the file.
    pub path: String,
    /// As it was given, where that is known.
    pub given: Option<String>,
    /// What is used.
    pub used: f64,
    /// In which unit.
    pub unit: String,
}

pub(super) fn json(given: &[UsedAnalysis]) -> Vec<GivenOut> {
    let value = |value: &UsedValue| GivenValueOut {
        path: value.path.clone(),
        given: value.written.clone(),
        used: value.value,
        unit: value.unit.clone(),
    };
    given
        .iter()
        .map(|analysis| GivenOut {
            water: analysis.name.clone(),
            sampled: analysis.sampled.clone(),
            values: analysis.values.iter().map(value).collect(),
        })
        .collect()
}
