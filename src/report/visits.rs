//! The course of a tower over the technician's visits, as people and programs read it.

use super::blowdown::{OwnTestOut, Tested, cycles};
use super::check::{RefusedOut, RowsOut};
use super::json::SCHEMA;
use super::not_used;
use super::page::{Block, Column, Page, Table, Words, constant, number, words};
use crate::blowdown::limit::{Bound, Measure};
use crate::blowdown::own_test::{RealCycles, Standing};
use crate::chemistry::Constituent;
use crate::model::{Change, Judged, Visit, VisitsSheet};
use crate::quantity::{UnitSystem, significant, with_decimals};
use crate::readings::NotUsed;
use serde::Serialize;
use std::collections::BTreeMap;

/// Visits that the answer shows, the last ones.
const SHOWN: usize = 12;

/// What is shown beside a course.
#[derive(Debug, Clone, Copy)]
pub struct Beside<'a> {
    /// Names of site file and sheet.
    pub source: &'a str,
    /// What of the sheet is not used.
    pub not_used: &'a NotUsed,
    /// Columns that say nothing of the water.
    pub other_columns: &'a [String],
}

/// The page.
pub fn page(sheet: &VisitsSheet, beside: Beside<'_>, units: UnitSystem) -> Page {
    let mut page = Page::new(&sheet.target.name, "Visits", beside.source);
    let of = Of { sheet, beside, units };
    page.answer = of.answer();
    page.detail = of.detail();
    page
}

struct Of<'a> {
    sheet: &'a VisitsSheet,
    beside: Beside<'a>,
    units: UnitSystem,
}

impl Of<'_> {
    fn tested<'v>(&self, visit: &'v Visit) -> Option<Tested<'v>> {
        let (real, own) = visit.real.as_ref().zip(visit.own.as_ref())?;
        Some(Tested { real, own, units: self.units })
    }

    fn answer(&self) -> Vec<Block> {
        let mut blocks = vec![Block::heading("ANSWER")];
        blocks.extend(not_used::caution(self.beside.not_used));
        blocks.extend(not_used::in_brief(self.beside.not_used));
        if let Some(last) = self.sheet.last() {
            blocks.extend(self.of_last(last).into_iter().map(Block::paragraph));
        }
        blocks.push(Block::Gap);
        let all = &self.sheet.visits;
        blocks.push(Block::Table(course(&all[all.len().saturating_sub(SHOWN)..])));
        if all.len() > SHOWN {
            let before = (all.len() - SHOWN).to_string();
            let before = number("visits", before);
            blocks.push(Block::paragraph(words![
                "Visits before: ",
                before,
                "; json and csv have them."
            ]));
        }
        blocks.push(Block::Caution(
            "acid and biocide are fed by trained people only; above what is shown here stands a water \
             management plan by a competent person."
                .into(),
        ));
        blocks
    }

    fn of_last(&self, last: &Visit) -> Vec<Words> {
        let lead = format!("{}: ", last.day);
        let mut all = Vec::new();
        match self.tested(last) {
            Some(tested) => {
                all.extend(tested.another_water());
                all.push(words![date(last), ": ", tested.in_brief("")]);
            }
            None => all.push(words![
                constant(lead),
                "what was tested tells no cycles: test conductivity and chloride of makeup and tower."
            ]),
        }
        if let Some(target) = self.sheet.target.target_cycles {
            all.push(words![
                "The target is ",
                number("target_cycles", cycles(target)),
                " cycles",
                last.real.as_ref().map(|real| against(real, target)),
                ".",
                last.own.as_ref().and_then(|own| own.set_point).map(|siemens| words![
                    " By this test its set point is ",
                    number(
                        "own_test.set_point_us_per_cm",
                        format!("{} uS/cm", significant(1e4 * siemens, 3))
                    ),
                    "."
                ])
            ]);
        }
        let out: Vec<Words> =
            last.judged.iter().filter(|judged| judged.is_out).map(beyond).collect();
        all.push(match out.is_empty() {
            false => words!["Out of its limit: ", Words::joined(out, "; "), "."],
            true if last.judged.is_empty() => "No limit could be judged by what was tested.".into(),
            true => words![
                "Within every limit that what was tested can judge (",
                number("visits.judged", last.judged.len().to_string()),
                ")."
            ],
        });
        let changes: Vec<Words> = last.changes.iter().map(change).collect();
        if self.sheet.visits.len() > 1 {
            all.push(match changes.is_empty() {
                true => "Since the visit before nothing changed by more than its ±.".into(),
                false => words!["Since the visit before: ", Words::joined(changes, "; "), "."],
            });
        }
        all
    }

    fn detail(&self) -> Vec<Block> {
        let mut blocks = Vec::new();
        if let Some(tested) = self.sheet.last().and_then(|last| self.tested(last)) {
            blocks.extend(tested.in_full());
        }
        if let Some(last) = self.sheet.last().filter(|last| !last.judged.is_empty()) {
            blocks.push(Block::heading("LIMITS AT THE LAST VISIT"));
            blocks.push(Block::Table(limits(last)));
            blocks.push(Block::paragraph(
                "Indices are of the water as it was tested at its own pH, with what was not tested as the \
                 makeup makes it.",
            ));
        }
        blocks.push(Block::heading("WHAT CHANGED, VISIT BY VISIT"));
        for visit in &self.sheet.visits {
            let changes: Vec<Words> = visit.changes.iter().map(change).collect();
            let changes = match changes.is_empty() {
                true => "nothing by more than its ±".into(),
                false => Words::joined(changes, "; "),
            };
            blocks.push(Block::paragraph(words![date(visit), ": ", changes, "."]));
        }
        blocks.push(Block::heading("WHAT IT RESTS ON"));
        blocks.push(Block::paragraph(
            "What a visit did not test of the makeup is as it was tested last, and before that as the site \
             file has it. The tower is taken to have come to rest at its cycles.",
        ));
        if !self.beside.other_columns.is_empty() {
            blocks.push(Block::paragraph(words![
                "Columns that say nothing of the water, not used: ",
                Words::given(&self.beside.other_columns.join(", ")),
                "."
            ]));
        }
        blocks.extend(not_used::listed(self.beside.not_used));
        blocks
    }
}

fn date(visit: &Visit) -> Words {
    number("visits.date", visit.day.to_string()).into()
}

/// How the cycles of a visit lie to the target.
fn against(real: &RealCycles, target: f64) -> Words {
    let off = real.cycles / target - 1.0;
    match (real.cycles - target).abs() <= 2.0 * real.standard {
        true => ", which the tower holds to within the ± of the test".into(),
        false if off > 0.0 => ": bleed more".into(),
        false => ": water is given away".into(),
    }
}

fn beyond(judged: &Judged) -> Words {
    let side = if judged.bound == Bound::Most { ", at most " } else { ", at least " };
    words![
        constant(judged.measure.name()),
        " ",
        number("visits.judged.value", judged.measure.shown_with_unit(judged.value)),
        side,
        number("visits.judged.limit", judged.measure.shown_with_unit(judged.limit))
    ]
}

fn change(change: &Change) -> Words {
    match change {
        Change::Cycles { from, to } => words![
            "cycles from ",
            number("visits.changes.from", cycles(*from)),
            " to ",
            number("visits.changes.to", cycles(*to))
        ],
        Change::Makeup { from, to, remembered_days } => {
            let us =
                |key, siemens: f64| number(key, format!("{} uS/cm", significant(1e4 * siemens, 3)));
            words![
                "the makeup from ",
                us("visits.changes.from", *from),
                " to ",
                us("visits.changes.to", *to),
                remembered_days.map(|days| words![
                    " (for ",
                    number("visits.changes.remembered_days", significant(days, 2)),
                    " days after it changed that explains differences too)"
                ])
            ]
        }
        Change::OutOf(measure) => words!["out of its limit: ", constant(measure.name())],
        Change::BackIn(measure) => words!["within its limit again: ", constant(measure.name())],
    }
}

fn course(visits: &[Visit]) -> Table {
    let numbers = [8, 7, 7, 14, 9, 12].map(Column::right);
    let (day, last) = (Column::left(10), Column::left(0).after(2));
    let columns = [day].into_iter().chain(numbers).chain([last]);
    let mut table = Table::new(columns.collect::<Vec<_>>());
    table.head(["", "cycles", "±", "pH", "conductivity", "calcium", "alkalinity", ""]);
    table.head(["", "", "", "", "uS/cm", "lost", "lost", "out of limits"]);
    for visit in visits {
        let real = visit.real.as_ref().filter(|real| real.standing != Standing::Contradictory);
        let dash = || Words::from("-");
        let of =
            |key, value: Option<String>| value.map_or_else(dash, |shown| number(key, shown).into());
        let lost = |constituent| {
            let part = lost(visit, constituent)?;
            Some(format!("{} %", with_decimals(100.0 * part, 0)))
        };
        let us = visit.tower.conductivity.map(|found| significant(1e4 * found.value, 3));
        let out: Vec<Words> = visit
            .judged
            .iter()
            .filter(|judged| judged.is_out)
            .map(|judged| constant(judged.measure.name()).into())
            .collect();
        table.row([
            date(visit),
            of("visits.cycles", real.map(|real| cycles(real.cycles))),
            of("visits.cycles_standard_uncertainty", real.map(|real| cycles(2.0 * real.standard))),
            of("visits.ph", visit.tower.ph.map(|ph| with_decimals(ph, 2))),
            of("visits.conductivity_us_per_cm", us),
            of("visits.lost.calcium", lost(Constituent::Calcium)),
            of("visits.lost.alkalinity", lost(Constituent::Alkalinity)),
            Words::joined(out, ", "),
        ]);
    }
    table
}

/// The part of a constituent that is lost on the way, 0 where it is within its ±; `None` where it was not
/// tested.
pub(crate) fn lost(visit: &Visit, constituent: Constituent) -> Option<f64> {
    use crate::blowdown::own_test::Of;
    let comparison = &visit.own.as_ref()?.comparison;
    visit.real.as_ref().filter(|real| real.tells_losses())?;
    let line = comparison.lines.iter().find(|line| line.of == Of::Constituent(constituent))?;
    Some(if line.differs() { -line.difference } else { 0.0 })
}

fn limits(visit: &Visit) -> Table {
    let mut table = Table::new([
        Column::left(38),
        Column::right(11),
        Column::right(14),
        Column::left(0).after(2),
    ]);
    table.head(["", "found", "allowed", ""]);
    for judged in &visit.judged {
        let bound = if judged.bound == Bound::Most { "<= " } else { ">= " };
        let shown = |key, value| number(key, judged.measure.shown(value));
        table.row([
            name_with_unit(judged.measure),
            shown("visits.judged.value", judged.value).into(),
            words![bound, shown("visits.judged.limit", judged.limit)],
            if judged.is_out { "out".into() } else { Words::default() },
        ]);
    }
    table
}

fn name_with_unit(measure: Measure) -> Words {
    let unit = measure.unit();
    let between = if unit.is_empty() { "" } else { ", " };
    constant(format!("{}{between}{unit}", measure.name())).into()
}

/// The course for programs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct VisitsOut {
    /// Version of this form.
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where site and sheet came from.
    pub source: String,
    /// Cycles to aim at.
    pub target_cycles: Option<f64>,
    /// In order of time.
    pub visits: Vec<VisitOut>,
    /// The last visit's test, held against its makeup.
    pub own_test: Option<OwnTestOut>,
    /// Columns that say nothing of the water.
    pub columns_not_used: Vec<String>,
    /// How much of the sheet is used.
    #[serde(flatten)]
    pub rows: RowsOut,
    /// Lines and readings that are not used.
    pub not_used: Vec<RefusedOut>,
    /// More of them, that are not listed.
    pub more_not_used: usize,
}

/// A visit for programs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct VisitOut {
    /// The day.
    pub date: String,
    /// Line in the file.
    pub line: u64,
    /// Real cycles.
    pub cycles: Option<f64>,
    /// Of the cycles.
    pub cycles_standard_uncertainty: Option<f64>,
    /// Of the tower.
    pub ph: Option<f64>,
    /// Of the tower, at 25 degC.
    pub conductivity_us_per_cm: Option<f64>,
    /// Of the makeup, as last measured.
    pub makeup_conductivity_us_per_cm: Option<f64>,
    /// Part of what the makeup brings that is lost on the way, by constituent; 0 within its ±.
    pub lost: BTreeMap<&'static str, f64>,
    /// Set point for the target by the tower's own conductivity, uS/cm.
    pub set_point_us_per_cm: Option<f64>,
    /// Limits that what was tested can judge.
    pub judged: Vec<JudgedOut>,
    /// What changed since the visit before.
    pub changes: Vec<ChangeOut>,
    /// The test, held against the makeup.
    pub own_test: Option<OwnTestOut>,
}

/// A limit at a visit.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct JudgedOut {
    /// Of what.
    pub key: String,
    /// `most` or `least`.
    pub bound: &'static str,
    /// The limit.
    pub limit: f64,
    /// What was found.
    pub value: f64,
    /// Whether it is beyond the limit.
    pub is_out: bool,
}

/// Something that changed.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ChangeOut {
    /// `cycles`, `makeup_conductivity`, `out_of_limit` or `within_limit`.
    pub what: &'static str,
    /// Of a limit: of what.
    pub key: Option<String>,
    /// As it was: cycles, or uS/cm.
    pub from: Option<f64>,
    /// As it is.
    pub to: Option<f64>,
    /// Of the makeup: days after its change in which the tower still holds much of the one before.
    pub remembered_days: Option<f64>,
}

/// A visit as a row of a table.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct VisitRow {
    /// The day.
    pub date: String,
    /// Real cycles.
    pub cycles: Option<f64>,
    /// Of the cycles.
    pub cycles_standard_uncertainty: Option<f64>,
    /// Of the tower.
    pub ph: Option<f64>,
    /// Of the tower.
    pub conductivity_us_per_cm: Option<f64>,
    /// Of the makeup.
    pub makeup_conductivity_us_per_cm: Option<f64>,
    /// Part that is lost on the way.
    pub calcium_lost: Option<f64>,
    /// Ibid.
    pub alkalinity_lost: Option<f64>,
    /// Ibid.
    pub silica_lost: Option<f64>,
    /// Keys of the limits that are not kept, with blanks between.
    pub out_of_limits: String,
}

/// What may be lost on the way.
const LOST: [Constituent; 5] = [
    Constituent::Calcium,
    Constituent::Alkalinity,
    Constituent::Magnesium,
    Constituent::Silica,
    Constituent::Phosphate,
];

/// The course for programs.
pub fn json(sheet: &VisitsSheet, beside: Beside<'_>) -> VisitsOut {
    let not_used = beside.not_used;
    VisitsOut {
        schema: SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.target.name.clone(),
        source: beside.source.into(),
        target_cycles: sheet.target.target_cycles,
        visits: sheet.visits.iter().map(|visit| visit_out(sheet, visit)).collect(),
        own_test: sheet.last().and_then(|last| own_test_out(sheet, last)),
        columns_not_used: beside.other_columns.to_vec(),
        rows: RowsOut::new(not_used),
        not_used: not_used
            .listed
            .iter()
            .map(|refused| RefusedOut { line: refused.line, reason: refused.reason.clone() })
            .collect(),
        more_not_used: not_used.more,
    }
}

fn own_test_out(sheet: &VisitsSheet, visit: &Visit) -> Option<OwnTestOut> {
    let computed = sheet.target.set_point.as_ref().map(|set_point| set_point.conductivity);
    let (real, own) = visit.real.as_ref().zip(visit.own.as_ref())?;
    Some(OwnTestOut::new(real, own, computed))
}

fn visit_out(sheet: &VisitsSheet, visit: &Visit) -> VisitOut {
    let real = visit.real.as_ref();
    let us = |siemens: f64| 1e4 * siemens;
    VisitOut {
        date: visit.day.to_string(),
        line: visit.line,
        cycles: real.map(|real| real.cycles),
        cycles_standard_uncertainty: real.map(|real| real.standard),
        ph: visit.tower.ph,
        conductivity_us_per_cm: visit.tower.conductivity.map(|found| us(found.value)),
        makeup_conductivity_us_per_cm: visit.makeup_conductivity.map(us),
        lost: LOST.into_iter().filter_map(|c| Some((c.key(), lost(visit, c)?))).collect(),
        set_point_us_per_cm: visit.own.as_ref().and_then(|own| own.set_point).map(us),
        judged: visit.judged.iter().map(judged_out).collect(),
        changes: visit.changes.iter().map(change_out).collect(),
        own_test: own_test_out(sheet, visit),
    }
}

fn judged_out(judged: &Judged) -> JudgedOut {
    JudgedOut {
        key: judged.measure.key(),
        bound: if judged.bound == Bound::Most { "most" } else { "least" },
        limit: judged.limit,
        value: judged.value,
        is_out: judged.is_out,
    }
}

fn change_out(change: &Change) -> ChangeOut {
    let none = ChangeOut { what: "", key: None, from: None, to: None, remembered_days: None };
    match change {
        Change::Cycles { from, to } => {
            ChangeOut { what: "cycles", from: Some(*from), to: Some(*to), ..none }
        }
        Change::Makeup { from, to, remembered_days } => ChangeOut {
            what: "makeup_conductivity",
            from: Some(1e4 * from),
            to: Some(1e4 * to),
            remembered_days: *remembered_days,
            ..none
        },
        Change::OutOf(measure) => {
            ChangeOut { what: "out_of_limit", key: Some(measure.key()), ..none }
        }
        Change::BackIn(measure) => {
            ChangeOut { what: "within_limit", key: Some(measure.key()), ..none }
        }
    }
}

/// A row a visit.
pub fn rows(sheet: &VisitsSheet) -> Vec<VisitRow> {
    let row = |visit: &Visit| {
        let out = visit_out(sheet, visit);
        let lost = |constituent: Constituent| out.lost.get(constituent.key()).copied();
        let is_out = out.judged.iter().filter(|judged| judged.is_out);
        let keys: Vec<&str> = is_out.map(|judged| judged.key.as_str()).collect();
        VisitRow {
            calcium_lost: lost(Constituent::Calcium),
            alkalinity_lost: lost(Constituent::Alkalinity),
            silica_lost: lost(Constituent::Silica),
            out_of_limits: keys.join(" "),
            date: out.date,
            cycles: out.cycles,
            cycles_standard_uncertainty: out.cycles_standard_uncertainty,
            ph: out.ph,
            conductivity_us_per_cm: out.conductivity_us_per_cm,
            makeup_conductivity_us_per_cm: out.makeup_conductivity_us_per_cm,
        }
    };
    sheet.visits.iter().map(row).collect()
}
