//! The water in time after something happens, as people and programs read it.

use super::page::{Block, Column, Page, Table, Words, constant, number, words};
use super::shown::{self, whole_percent};
use super::warnings::{self, NoticeOut, notices_out};
use crate::model::{TransientSheet, VALVE_OVER_MEAN};
use crate::quantity::{Quantity, UnitSystem, significant, unit, with_decimals};
use crate::transient::{Blowdown, SETTLED_WITHIN, Stretch};
use serde::Serialize;

const MOST_STRETCHES: usize = 12;
const CAUTION: &str = "biocides are handled and fed by trained people only; blowdown that still carries them is \
discharged as the permit allows.";

/// The page; `source` names the file, `substance` what is dosed.
pub fn page(sheet: &TransientSheet, source: &str, substance: &str, units: UnitSystem) -> Page {
    let mut page = Page::new(&sheet.name, "Concentration against time", source);
    let of = Of { sheet, units };
    page.answer = vec![
        Block::heading("ANSWER"),
        Block::paragraph(of.answer()),
        Block::paragraph(of.start()),
        Block::Gap,
        Block::Table(of.course(substance)),
    ];
    page.answer.extend(warnings::blocks(&sheet.warnings));
    page.answer.push(Block::Caution(CAUTION.into()));
    page.detail.push(Block::heading("STRETCHES OF CONSTANT FLOW"));
    page.detail.extend(of.stretches());
    page.detail.push(Block::paragraph(
        "Taken for granted: the basin is well mixed, and nothing precipitates.",
    ));
    page
}

struct Of<'a> {
    sheet: &'a TransientSheet,
    units: UnitSystem,
}

impl Of<'_> {
    /// A flow without its unit.
    fn plain_flow(&self, m3_per_h: f64) -> String {
        let unit = Quantity::VolumeFlow.shown_in(self.units);
        significant(unit.of_si(unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h)), 3)
    }

    fn flow(&self, m3_per_h: f64) -> String {
        let symbol = Quantity::VolumeFlow.shown_in(self.units).symbol;
        format!("{} {symbol}", self.plain_flow(m3_per_h))
    }

    fn volume(&self, m3: f64) -> String {
        let unit = Quantity::Volume.shown_in(self.units);
        format!("{} {}", significant(unit.of_si(m3), 3), unit.symbol)
    }

    /// Where the cycles go, and how soon.
    fn answer(&self) -> Words {
        let (Some(first), Some(last)) = (self.sheet.stretches.first(), self.sheet.stretches.last())
        else {
            return Words::default();
        };
        let cycles = |cycles: f64| number("rows.cycles", with_decimals(cycles, 2));
        let end = last.cycles_at(last.to);
        let within = |sheet: &TransientSheet| sheet.settled.filter(|settled| *settled > 0.0);
        let goes = if (end / first.cycles - 1.0).abs() < SETTLED_WITHIN
            && self.sheet.stretches.len() == 1
        {
            words!["The water stays at ", cycles(end), " cycles."]
        } else if let Some(settled) = within(self.sheet) {
            words![
                "From ",
                cycles(first.cycles),
                " cycles the water comes within ",
                constant(whole_percent(SETTLED_WITHIN)),
                " of ",
                cycles(end),
                " cycles after ",
                number("settled_h", hours(settled)),
                "."
            ]
        } else {
            words![
                "From ",
                cycles(first.cycles),
                " cycles the water has come to ",
                cycles(end),
                " after ",
                number("rows.hour", hours(last.to)),
                ", and goes on changing."
            ]
        };
        let half_life = last.half_life();
        let renewed = half_life.is_finite().then(|| {
            words![
                " In the end half of what is in it is renewed in ",
                number("stretches.half_life_h", hours(half_life)),
                "."
            ]
        });
        words![goes, renewed]
    }

    fn start(&self) -> Words {
        let sheet = self.sheet;
        let blowdown = match sheet.start.blowdown {
            Blowdown::Flow(0.0) => "blowdown shut".into(),
            Blowdown::Flow(flow) => {
                words!["blowdown ", number("rows.blowdown_m3_per_h", self.flow(flow))]
            }
            Blowdown::Held { cycles, valve_flow } => words![
                "a controller set to ",
                number("held_cycles", with_decimals(cycles, 2)),
                " cycles with a valve of ",
                number("valve_m3_per_h", self.flow(valve_flow)),
                sheet.valve_is_assumed.then(|| words![
                    " (assumed: ",
                    constant(VALVE_OVER_MEAN.to_string()),
                    " times the mean blowdown)"
                ]),
                sheet.open_valve_holds.map(|holds| words![
                    ", which open all the time holds ",
                    number("open_valve_holds_cycles", significant(holds, 3))
                ])
            ],
        };
        words![
            "At the start: ",
            number("rows.cycles", with_decimals(sheet.start.cycles, 2)),
            " cycles, ",
            blowdown,
            ". ",
            number("volume_m3", self.volume(sheet.circuit.volume)),
            " in the system, ",
            number("evaporation_m3_per_h", self.flow(sheet.circuit.evaporation)),
            " evaporate, ",
            number("other_losses_m3_per_h", self.flow(sheet.circuit.other_losses)),
            " are lost besides."
        ]
    }

    fn course(&self, substance: &str) -> Table {
        let has_substance = self.sheet.has_substance;
        let columns = [8, 10, 12, 12, 18].map(Column::right);
        let mut table = Table::new(&columns[..if has_substance { 5 } else { 4 }]);
        let flow = Quantity::VolumeFlow.shown_in(self.units).symbol;
        let name: String = substance.chars().take(16).collect();
        let with_substance = |words: Words| if has_substance { words } else { Words::default() };
        let name = with_substance(Words::given(&name));
        table.head(["hour".into(), "cycles".into(), "blowdown".into(), "makeup".into(), name]);
        let unit = with_substance("mg/L".into());
        table.head(["".into(), "".into(), flow.into(), flow.into(), unit]);
        for row in &self.sheet.rows {
            let dosed = number("rows.substance_mg_per_l", significant(row.substance, 3));
            table.row([
                number("rows.hour", with_decimals(row.hour, 1)).into(),
                number("rows.cycles", with_decimals(row.cycles, 2)).into(),
                number("rows.blowdown_m3_per_h", self.plain_flow(row.blowdown)).into(),
                number("rows.makeup_m3_per_h", self.plain_flow(row.makeup)).into(),
                with_substance(dosed.into()),
            ]);
        }
        table
    }

    fn stretches(&self) -> Vec<Block> {
        let mut blocks = Vec::new();
        let stretches = &self.sheet.stretches;
        for stretch in stretches.iter().take(MOST_STRETCHES) {
            blocks.push(Block::paragraph(words![
                number("stretches.from", with_decimals(stretch.from, 1)),
                " to ",
                number("stretches.to", format!("{} h", with_decimals(stretch.to, 1))),
                ": blowdown ",
                number("stretches.blowdown_m3_per_h", self.flow(stretch.blowdown)),
                ", ",
                self.tends(stretch),
                "."
            ]));
        }
        if stretches.len() > MOST_STRETCHES {
            let more = (stretches.len() - MOST_STRETCHES).to_string();
            blocks.push(Block::paragraph(words!["... and ", number("stretches", more), " more"]));
        }
        if let Some(settled) = self.sheet.settled {
            blocks.push(Block::paragraph(words![
                "Within ",
                constant(whole_percent(SETTLED_WITHIN)),
                " of the last cycles after ",
                number("settled_h", hours(settled)),
                "."
            ]));
        }
        blocks
    }

    fn tends(&self, stretch: &Stretch) -> Words {
        let end = stretch.final_cycles();
        if !end.is_finite() {
            let more = hours(self.sheet.circuit.volume / stretch.makeup);
            let more = number("stretches.hours_a_cycle", more);
            return words!["no liquid leaves: one more cycle every ", more];
        }
        let cycles = |shown| number("stretches.final_cycles", shown);
        if (end / stretch.cycles - 1.0).abs() < 1e-3 {
            return words!["holds ", cycles(with_decimals(end, 2)), " cycles"];
        }
        words![
            "tends to ",
            cycles(significant(end, 3)),
            " cycles, half of the way in ",
            number("stretches.half_life_h", hours(stretch.half_life())),
            ", ",
            constant("95 %"),
            " in ",
            number("stretches.hours_to_95_percent_h", hours(stretch.hours_to_95_percent()))
        ]
    }
}

/// Each stretch's exponential with its numbers.
pub fn working(sheet: &TransientSheet) -> Vec<Block> {
    let stretches = sheet.stretches.iter().take(MOST_STRETCHES);
    let equations = stretches.map(|stretch| equation(stretch, sheet.circuit.volume));
    [Block::heading("WORKING (m3, m3/h, h)")].into_iter().chain(equations).collect()
}

fn equation(stretch: &Stretch, volume: f64) -> Block {
    const SOURCE: &str = "mass balance of a well-mixed basin, V dc/dt = makeup - L c; \
         Association of Water Technologies, Basic Calculations, Part I";
    let six = |number: f64| significant(number, 6);
    let [start, hours, volume] = [stretch.cycles, stretch.to - stretch.from, volume].map(six);
    let [makeup, liquid] = [stretch.makeup, stretch.liquid].map(six);
    let [general, filled] = if stretch.liquid > 0.0 {
        [
            "cycles = makeup / liquid + (start - makeup / liquid) * exp(-liquid * hours / volume)"
                .to_owned(),
            format!(
                "= {makeup} / {liquid} + ({start} - {makeup} / {liquid}) * exp(-{liquid} * {hours} / {volume})"
            ),
        ]
    } else {
        [
            "cycles = start + makeup * hours / volume".to_owned(),
            format!("= {start} + {makeup} * {hours} / {volume}"),
        ]
    };
    let result = format!("= {}", significant(stretch.cycles_at(stretch.to), 4));
    Block::Equation {
        lines: [general, filled, result].map(Words::from).to_vec(),
        source: SOURCE.into(),
    }
}

fn hours(hours: f64) -> String {
    shown::hours(hours, 3)
}

/// The course for programs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct TransientOut {
    /// Version of this form.
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where the description came from.
    pub source: String,
    /// m3.
    pub volume_m3: f64,
    /// m3/h.
    pub evaporation_m3_per_h: f64,
    /// m3/h.
    pub other_losses_m3_per_h: f64,
    /// Cycles that a controller holds; none without one.
    pub held_cycles: Option<f64>,
    /// What the open blowdown valve passes under a controller, m3/h.
    pub valve_m3_per_h: Option<f64>,
    /// Whether nobody stated the valve's flow.
    pub valve_is_assumed: bool,
    /// Cycles that this valve holds when it is open all the time.
    pub open_valve_holds_cycles: Option<f64>,
    /// What looks wrong.
    pub warnings: Vec<NoticeOut>,
    /// Hours after which the cycles stay within 5 % of the last.
    pub settled_h: Option<f64>,
    /// Points of the course.
    pub rows: Vec<PointOut>,
    /// Stretches of constant flow.
    pub stretches: Vec<StretchOut>,
}

/// A point of the course.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PointOut {
    /// From the start.
    pub hour: f64,
    /// Cycles of concentration.
    pub cycles: f64,
    /// mg/L.
    pub substance_mg_per_l: f64,
    /// m3/h.
    pub blowdown_m3_per_h: f64,
    /// m3/h.
    pub makeup_m3_per_h: f64,
}

/// A stretch of constant flow.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct StretchOut {
    /// Hour.
    pub from: f64,
    /// Hour.
    pub to: f64,
    /// m3/h.
    pub blowdown_m3_per_h: f64,
    /// None where no liquid leaves.
    pub final_cycles: Option<f64>,
    /// Hours; none where no liquid leaves.
    pub half_life_h: Option<f64>,
    /// Hours for 95 % of the way; none where no liquid leaves.
    pub hours_to_95_percent_h: Option<f64>,
    /// Hours for one more cycle where no liquid leaves.
    pub hours_a_cycle: Option<f64>,
}

/// Points of a course, for JSON and CSV.
pub fn points(sheet: &TransientSheet) -> Vec<PointOut> {
    sheet
        .rows
        .iter()
        .map(|row| PointOut {
            hour: row.hour,
            cycles: row.cycles,
            substance_mg_per_l: row.substance,
            blowdown_m3_per_h: row.blowdown,
            makeup_m3_per_h: row.makeup,
        })
        .collect()
}

/// A course for programs; `source` names the file.
pub fn json(sheet: &TransientSheet, source: &str) -> TransientOut {
    let finite = |number: f64| Some(number).filter(|number| number.is_finite());
    let held = match sheet.start.blowdown {
        Blowdown::Held { cycles, valve_flow } => Some((cycles, valve_flow)),
        Blowdown::Flow(_) => None,
    };
    TransientOut {
        schema: super::json::SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: source.into(),
        volume_m3: sheet.circuit.volume,
        evaporation_m3_per_h: sheet.circuit.evaporation,
        other_losses_m3_per_h: sheet.circuit.other_losses,
        held_cycles: held.map(|held| held.0),
        valve_m3_per_h: held.map(|held| held.1),
        valve_is_assumed: sheet.valve_is_assumed,
        open_valve_holds_cycles: sheet.open_valve_holds.and_then(finite),
        warnings: notices_out(&sheet.warnings),
        settled_h: sheet.settled,
        rows: points(sheet),
        stretches: sheet
            .stretches
            .iter()
            .map(|stretch| StretchOut {
                from: stretch.from,
                to: stretch.to,
                blowdown_m3_per_h: stretch.blowdown,
                final_cycles: finite(stretch.final_cycles()),
                half_life_h: finite(stretch.half_life()),
                hours_to_95_percent_h: finite(stretch.hours_to_95_percent()),
                hours_a_cycle: match stretch.final_cycles().is_finite() {
                    true => None,
                    false => finite(sheet.circuit.volume / stretch.makeup),
                },
            })
            .collect(),
    }
}
