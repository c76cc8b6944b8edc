//! The equations of the level with their numbers.

use crate::basin::drop_test;
use crate::basin::outflow::{
    GRAVITY, ORIFICE, Overflow, SOURCE, WEIR, orifice, side_opening, weir,
};
use crate::basin::valve::Action;
use crate::model::LevelSheet;
use crate::quantity::significant;
use crate::report::page::{Block, Words};

/// The equations with their numbers.
pub fn working(sheet: &LevelSheet) -> Vec<Block> {
    let float = float_level(sheet);
    let overflow = sheet
        .basin
        .overflow
        .zip(sheet.stuck_level)
        .map(|(overflow, level)| discharge(overflow, level - sheet.basin.overflow_level));
    let dropped = leak(sheet);
    [Some(Block::heading("WORKING (m, m3, m3/h, h)")), dropped, float, overflow, Some(rates(sheet))]
        .into_iter()
        .flatten()
        .collect()
}

fn six(number: f64) -> String {
    significant(number, 6)
}

fn equation<W: Into<Words>>(lines: impl IntoIterator<Item = W>, source: &str) -> Block {
    Block::Equation { lines: lines.into_iter().map(Into::into).collect(), source: source.into() }
}

fn leak(sheet: &LevelSheet) -> Option<Block> {
    let (read, leak) = (sheet.questions.drop_test?, sheet.leak?);
    let [area, drop, hours, still] =
        [sheet.area, read.drop.0, read.hours.0, sheet.still_evaporation].map(six);
    let lines = [
        "leak = area * (drop / hours - evaporation) / 1000, drop in mm, evaporation in mm/h"
            .to_owned(),
        format!("= {area} * ({drop} / {hours} - {still}) / 1000"),
        format!("= {} m3/h", significant(leak.flow, 5)),
    ];
    Some(equation(lines, drop_test::SOURCE))
}

fn float_level(sheet: &LevelSheet) -> Option<Block> {
    let valve = sheet.basin.valve?;
    let level = sheet.settles_at?;
    let Action::Proportional { open_level, shut_level } = valve.action else { return None };
    let [demand, capacity, open, shut] =
        [sheet.demand, valve.capacity, open_level, shut_level].map(six);
    let lines = [
        "level = shut_level - makeup / capacity * (shut_level - open_level)".to_owned(),
        format!("= {shut} - {demand} / {capacity} * ({shut} - {open})"),
        format!("= {} m", significant(level, 5)),
    ];
    let source =
        "a float arm in proportion; capacity = kv * sqrt(supply pressure in bar) (IEC 60534-2-1)";
    Some(equation(lines, source))
}

/// The relation that bounds the overflow at the level of a stuck valve.
fn discharge(overflow: Overflow, head: f64) -> Block {
    let over = |length: f64, rim: &str| {
        let of = |length: &str, head: &str| {
            format!("3600 * 2 / 3 * {WEIR} * sqrt(2 * {GRAVITY}) * {length} * {head}^1.5")
        };
        [
            format!("overflow = {}", of("length", "head")),
            format!("= {}", of(&six(length), &six(head))),
            format!("= {} m3/h over the {rim}", significant(weir(length, head), 5)),
        ]
    };
    let through = |diameter: f64| {
        let of = |diameter: &str, head: &str| {
            format!(
                "3600 * {ORIFICE} * 3.14159265 / 4 * {diameter}^2 * sqrt(2 * {GRAVITY} * {head})"
            )
        };
        [
            format!("overflow = {}", of("diameter", "head")),
            format!("= {}", of(&six(diameter), &six(head))),
            format!("= {} m3/h through the full pipe", significant(orifice(diameter, head), 5)),
        ]
    };
    let lines = match overflow {
        Overflow::Weir(length) => over(length, "weir"),
        Overflow::SidePipe(diameter) => [
            format!(
                "overflow = 3600 * {ORIFICE} * sum over heights z of width * sqrt(2 * {GRAVITY} * (head - z))"
            ),
            format!("with a width of 2 * sqrt(z * ({} - z)), head {}", six(diameter), six(head)),
            format!(
                "= {} m3/h through the side pipe",
                significant(side_opening(diameter, head), 5)
            ),
        ],
        Overflow::Pipe(diameter) => {
            let rim = std::f64::consts::PI * diameter;
            match orifice(diameter, head) < weir(rim, head) {
                false => over(rim, "rim of the pipe"),
                true => through(diameter),
            }
        }
    };
    equation(lines, SOURCE)
}

fn rates(sheet: &LevelSheet) -> Block {
    let circuit = &sheet.circuit;
    let [evaporation, drift, blowdown, leakage] =
        [circuit.evaporation, circuit.drift, circuit.blowdown, circuit.leakage].map(six);
    let lines = [
        "d(basin)/dt = makeup + rain - evaporation - drift - blowdown - leakage - overflow - drain + \
         run_back"
            .to_owned(),
        format!(
            "with evaporation {evaporation}, drift {drift}, blowdown {blowdown}, leakage {leakage}"
        ),
        "d(solids)/dt = makeup - cycles * (drift + blowdown + leakage + overflow + drain)".to_owned(),
        "cycles = solids / (basin + held_up + elsewhere)".to_owned(),
    ];
    let source = "balances of water and solids, well mixed; integrated by Dormand and Prince (1980) to 1e-9, \
                  events found within the step";
    equation(lines, source)
}
