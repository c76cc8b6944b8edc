//! Laboratory sheets of invented waters, sound ones and ones with a slip, whose conductivity PHREEQC computed
//! (`tests/slips/sheets.py`): which slips are named, and that sound sheets raise none.

use coldbasin::chemistry::Constituent;
use coldbasin::chemistry::slip::{Counted, Entry, Kind, Of, Sheet, Slip, explain};
use coldbasin::quantity::Basis;
use std::collections::BTreeMap;

/// A sheet with the slip that was made in it.
struct Row {
    slip: String,
    kind: String,
    sheet: Sheet,
}

fn rows(text: &str) -> Vec<Row> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let rows = reader.records().map(|record| {
        let record = record.unwrap();
        let number = |index: usize| record[index].parse::<f64>().ok();
        let entries = record[5].split(' ').map(|entry| {
            let (name, rest) = entry.split_once('=').unwrap();
            let (mass, basis) = rest.split_once(':').unwrap();
            let constituent = Constituent::of_key(name).unwrap();
            let basis = Basis::of_formula(basis).unwrap();
            let mass: f64 = mass.parse().unwrap();
            let mole_per_kg = constituent.mole_per_kg_as(mass, basis).unwrap();
            Entry { constituent, mole_per_kg, relative: 0.0, counted: Counted::As(basis) }
        });
        let sheet = Sheet {
            entries: entries.collect(),
            ph: number(2),
            conductivity: number(3).map(|micro| (micro * 1e-4, 0.0)),
            solids: number(4),
            ..Sheet::default()
        };
        Row { slip: record[0].to_owned(), kind: record[1].to_owned(), sheet }
    });
    rows.collect()
}

fn name(slip: &Slip) -> String {
    let of = match slip.of {
        Of::Constituent(constituent) => constituent.key(),
        Of::Conductivity => "conductivity",
        Of::Solids => "solids",
    };
    let kind = match slip.kind {
        Kind::DigitDropped => "dropped",
        Kind::DigitAdded => "added",
        Kind::Basis { .. } => "basis",
        Kind::MolesForEquivalents => "moles",
        Kind::MicroForMilli => "micro",
        Kind::MilliForMicro => "milli",
    };
    format!("{of} {kind}")
}

/// What became of a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Outcome {
    Named,
    OneOfTwo,
    NamedWrongly,
    Contradicted,
    Silent,
}

fn is_suspected(_: &Row) -> bool {
    std::env::var("SUSPECTED").is_ok()
}

fn outcome(row: &Row) -> Outcome {
    let Some(contradiction) = explain(&row.sheet, is_suspected(row)) else { return Outcome::Silent };
    let names: Vec<String> = contradiction.slips.iter().map(|found| name(&found.slip)).collect();
    match names.contains(&row.slip) {
        true if names.len() == 1 => Outcome::Named,
        true => Outcome::OneOfTwo,
        false if names.is_empty() => Outcome::Contradicted,
        false => Outcome::NamedWrongly,
    }
}

#[test]
#[ignore = "needs sheets of its own: SHEETS=file.csv"]
fn trial() {
    let text = std::fs::read_to_string(std::env::var("SHEETS").unwrap()).unwrap();
    let mut counts: BTreeMap<(bool, String), BTreeMap<Outcome, usize>> = BTreeMap::new();
    for row in rows(&text) {
        let is_sound = row.slip == "none";
        let outcome = outcome(&row);
        if is_sound && outcome == Outcome::NamedWrongly && std::env::var("SHOW").is_ok() {
            println!("{}: {:?}\n  {:?}", row.kind, row.sheet, explain(&row.sheet, false));
        }
        let group = if is_sound { row.kind } else { row.slip };
        *counts.entry((is_sound, group)).or_default().entry(outcome).or_default() += 1;
    }
    for sound in [true, false] {
        let mut all: BTreeMap<Outcome, usize> = BTreeMap::new();
        for ((_, group), outcomes) in counts.iter().filter(|((is, _), _)| *is == sound) {
            println!("{group:28} {outcomes:?}");
            for (outcome, count) in outcomes {
                *all.entry(*outcome).or_default() += count;
            }
        }
        println!("all, sound {sound}: {all:?}\n");
    }
}
