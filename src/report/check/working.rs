//! A check's numbers led back to formulas: those of the last period.

use super::Log;
use crate::check::detection::{
    DECISION_THRESHOLD, LOSS_BY_HEAT, LOSS_BY_SOLIDS, UNCERTAINTY_BY_SOLIDS,
};
use crate::check::reconcile::Readings;
use crate::equation::Equation;
use crate::model::{CheckSheet, CheckedPeriod};
use crate::report::page::{Block, constant, number, words};

const UNCERTAINTY_EXPECTED: Equation = Equation {
    id: "uncertainty_of_expected_makeup",
    text: "u_expected = (u_evaporation^2 + u_blowdown^2 + u_drift^2 + u_stored^2)^0.5",
    source: "JCGM 100:2008, eq. 10; the table shows twice that, about 95 %",
};

/// The bleed that nobody reads.
pub(super) const BLEED_NEEDED: Equation = Equation {
    id: "bleed_needed",
    text: "blowdown = evaporation / (cycles - 1) - drift",
    source: "balance of water and solids at constant cycles; nothing below zero",
};

pub(super) const UNCERTAINTY_BY_CYCLES: Equation = Equation {
    id: "uncertainty_of_expected_makeup_by_cycles",
    text: "u_expected = ((evaporation * cycles / (cycles - 1))^2 * ((u_evaporation / evaporation)^2 + (u_cycles / (cycles - 1))^2) + u_stored^2)^0.5",
    source: "JCGM 100:2008, eq. 10, of evaporation * cycles / (cycles - 1); u_cycles is a part of the cycles",
};

/// The formulas of the last period that was checked, with their numbers. Flows in m3/day whatever the page
/// shows, because that is how they are computed.
pub fn working(sheet: &CheckSheet, log: &Log<'_>) -> Vec<Block> {
    let Some(period) = sheet.periods.last() else { return Vec::new() };
    let begins = number("periods.start", period.start.to_string());
    let head = [
        Block::heading("WORKING (m3/day; tracers in S/m or kg/m3; u: standard uncertainty)"),
        Block::paragraph(words!["The ", log.every.name(), " that begins on ", begins, ":"]),
    ];
    let means = words![
        "What solids and heat leave over is judged by a Gaussian model with wander, and each cause by its \
         likelihood as a step or a ramp since every day (Willsky and Jones ",
        constant("1976, IEEE Trans. Autom. Control 21, 108"),
        ", from memory). Notes from the first day on: the constant error or loss that explains most, by \
         weighted least squares under both balances (Narasimhan and Mah ",
        constant("1987, AIChE J. 33, 1514"),
        "); likely flows: Kuehn and Davidson ",
        constant("(1961), Chem. Eng. Prog. 57(6), 44"),
        "."
    ];
    head.into_iter()
        .chain(flows(sheet, period))
        .chain(solids(sheet, period).filter(|_| sheet.meters.solids_are_read()))
        .chain([Block::paragraph(means)])
        .collect()
}

/// The number that a name stands for.
fn number_of(readings: &Readings, name: &str) -> Option<f64> {
    let (name, is_uncertainty) = match name.strip_prefix("u_") {
        Some(name) => (name, true),
        None => (name, false),
    };
    let tracer = readings.tracers.first();
    let reading = match name {
        "makeup" => readings.makeup,
        "blowdown" => readings.blowdown,
        "evaporation" => readings.evaporation,
        "drift" => readings.drift,
        "stored" => readings.stored,
        "makeup_tracer" => tracer?.makeup,
        "basin_tracer" => tracer?.basin,
        "stored_tracer" => tracer?.stored,
        _ => return None,
    };
    Some(if is_uncertainty { reading.uncertainty } else { reading.value })
}

/// What the makeup should have been, and what is left over.
fn flows(sheet: &CheckSheet, period: &CheckedPeriod) -> impl Iterator<Item = Block> {
    let of = |name: &str| match name {
        "expected" => Some(period.expected.value),
        "cycles" => Some(period.held_cycles),
        "u_cycles" => Some(period.of_cycles),
        _ => number_of(&period.readings, name),
    };
    let words = "Drift stands with the leakage and overflow that the site file states; stored is what the basin \
                 gained by its level.";
    let expected = (period.expected.uncertainty, "m3/day");
    let bleed = (!sheet.meters.blowdown)
        .then(|| {
            let blowdown = (period.readings.blowdown.value, "m3/day");
            Block::evaluated(&BLEED_NEEDED, of, blowdown)
        })
        .flatten();
    let uncertainty = match sheet.meters.blowdown {
        true => &UNCERTAINTY_EXPECTED,
        false => &UNCERTAINTY_BY_CYCLES,
    };
    bleed
        .into_iter()
        .chain(Block::evaluated(&LOSS_BY_HEAT, of, (period.difference(), "m3/day")))
        .chain([Block::paragraph(words)])
        .chain(Block::evaluated(uncertainty, of, expected))
}

/// What solids read as a loss, and how large one has to be.
fn solids(sheet: &CheckSheet, period: &CheckedPeriod) -> impl Iterator<Item = Block> {
    let source = match sheet.cycles_are_true {
        true => {
            "conductivity is not conserved: the basin's is carried over to that of true cycles by the \
             solved waters of the makeup's analysis; chloride less what the oxidant leaves"
        }
        false => "apparent cycles: without an analysis of the makeup nothing corrects conductivity",
    };
    let cycles =
        Equation { id: "cycles_by_tracer", text: "cycles = basin_tracer / makeup_tracer", source };
    let found = &period.solids;
    let leaves = found.reads + period.readings.blowdown.value + period.readings.drift.value;
    let of = move |name: &str| match name {
        "leaves" => Some(leaves),
        "u_loss" => Some(found.uncertainty),
        _ => number_of(&period.readings, name),
    };
    [
        (cycles, (period.cycles, "")),
        (LOSS_BY_SOLIDS, (found.reads, "m3/day")),
        (UNCERTAINTY_BY_SOLIDS, (found.uncertainty, "m3/day")),
        (DECISION_THRESHOLD, (found.decision_threshold, "m3/day")),
    ]
    .into_iter()
    .filter_map(move |(formula, result)| Block::evaluated(&formula, of, result))
}
