//! Each equation with its numbers and its source.

use crate::blowdown::ConcentratedWater;
use crate::blowdown::carbon_dioxide::LINES_SOURCE;
use crate::chemistry::speciation::Constants;
use crate::chemistry::{Mineral, index};
use crate::model::{BlowdownSheet, MARGIN, Stop};
use crate::quantity::{significant, with_decimals};
use crate::report::page::{Block, Column, Table, Words, constant, words};

/// Each equation with its numbers and its source, then the equilibrium constants.
pub fn working(sheet: &BlowdownSheet) -> Vec<Block> {
    let water = sheet.judged_water();
    [Block::heading("WORKING (flows in kg/s, molalities in mol/kg)")]
        .into_iter()
        .chain(target(sheet))
        .chain(water.and_then(|water| carbon_dioxide(sheet, water)))
        .chain(blowdown(sheet))
        .chain(set_point(sheet))
        .chain(super::control::working(sheet))
        .chain(water.map(langelier))
        .chain([saturation()])
        .chain(constants(sheet.tower.constants()))
        .collect()
}

/// A number to as many digits as bring out those of the result.
fn eight(number: f64) -> String {
    significant(number, 8)
}

fn equation<const N: usize>(lines: [String; N], source: &str) -> Block {
    Block::Equation { lines: lines.map(Words::from).to_vec(), source: source.into() }
}

fn target(sheet: &BlowdownSheet) -> Option<Block> {
    let target = sheet.target_cycles?;
    let margin = sheet.margin.filter(|_| !matches!(sheet.stop, Stop::Usual | Stop::LeastSaving))?;
    let [best, standard, step] =
        [sheet.best_estimate, margin / MARGIN, if target < 1.1 { 100.0 } else { 10.0 }].map(eight);
    Some(equation(
        [
            format!(
                "target = floor((best_estimate - {MARGIN} * standard_uncertainty) * steps) / steps"
            ),
            format!("= floor(({best} - {MARGIN} * {standard}) * {step}) / {step}"),
            format!("= {}", with_decimals(target, 2)),
        ],
        "one-sided 90 % of a normal distribution; the standard uncertainty by JCGM 100:2008, 5.1.3",
    ))
}

/// The carbon dioxide along the field lines.
fn carbon_dioxide(sheet: &BlowdownSheet, water: &ConcentratedWater) -> Option<Block> {
    let [formula, numbers] = sheet.tower.basis().gas().working(water.simple.alkalinity)?;
    let result = format!("= {}", with_decimals(water.basin.log10_carbon_dioxide, 3));
    Some(equation([formula, numbers, result], LINES_SOURCE))
}

fn blowdown(sheet: &BlowdownSheet) -> Option<Block> {
    let cycles = sheet.target_cycles?;
    let balance = sheet.at_target.as_ref()?;
    let losses = balance.losses();
    let [evaporation, cycles, drift, leakage, overflow] = [
        losses.evaporation_kg_per_s,
        cycles,
        losses.drift_kg_per_s,
        losses.leakage_kg_per_s,
        losses.overflow_kg_per_s,
    ]
    .map(eight);
    Some(equation(
        [
            "blowdown = evaporation / (cycles - 1) - drift - leakage - overflow".into(),
            format!("= {evaporation} / ({cycles} - 1) - {drift} - {leakage} - {overflow}"),
            format!("= {} kg/s", significant(balance.blowdown_kg_per_s, 5)),
        ],
        "balance of dissolved solids; UFC 3-240-13FN (US Department of Defense, 2005), ch. 4",
    ))
}

fn set_point(sheet: &BlowdownSheet) -> Option<Block> {
    let conductivity = sheet.set_point?.conductivity;
    let computed = sheet.makeup_conductivity.computed;
    let measured = sheet.makeup_conductivity.measured?;
    let concentrated = conductivity * computed / measured;
    let [concentrated, measured, computed] =
        [concentrated, measured, computed].map(|siemens| eight(siemens * 1e4));
    Some(equation(
        [
            "set_point = concentrated_computed * makeup_measured / makeup_computed".into(),
            format!("= {concentrated} * {measured} / {computed}"),
            format!("= {} uS/cm", significant(conductivity * 1e4, 5)),
        ],
        "conductivity at 25 °C = density x sum of z^2 F^2 D / (R T) x molality x 10^-x, \
         x = 0.816 / ln 10 x |z| sqrt(I) / (1 + 1.554 sqrt(I) / (1 + I^0.75)); diffusion \
         coefficients and form after Appelo in phreeqc (U.S. Geological Survey)",
    ))
}

fn langelier(water: &ConcentratedWater) -> Block {
    let simple = &water.simple;
    let [ph, solids, celsius, calcium, alkalinity] =
        [simple.ph, simple.dissolved_solids, simple.celsius, simple.calcium, simple.alkalinity]
            .map(eight);
    equation(
        [
            "langelier = ph - (9.3 + (log10(solids) - 1) / 10 - 13.12 * log10(celsius + 273) + 34.55 - \
             log10(calcium) + 0.4 - log10(alkalinity))"
                .into(),
            format!(
                "= {ph} - (9.3 + (log10({solids}) - 1) / 10 - 13.12 * log10({celsius} + 273) + 34.55 - \
                 log10({calcium}) + 0.4 - log10({alkalinity}))"
            ),
            format!("= {}", with_decimals(simple.langelier(), 3)),
        ],
        index::SCALING_SOURCE,
    )
}

fn saturation() -> Block {
    equation(
        [
            "saturation index = log10(ion activity product) - log10(dissolution constant)".into(),
            "log10(activity coefficient) = -A z^2 sqrt(I) / (1 + B a sqrt(I)) + b I; without a and b: \
             -A z^2 (sqrt(I) / (1 + sqrt(I)) - 0.3 I); uncharged: 0.1 I"
                .into(),
        ],
        "Truesdell and Jones (1974); Davies (1962)",
    )
}

/// The constants in the basin and on the hottest surface: of the database, at these temperatures.
fn constants([basin, surface]: [&Constants; 2]) -> Vec<Block> {
    let (a, b) = basin.debye_hueckel();
    let [cold, hot] = [basin, surface].map(|at| significant(at.celsius(), 3));
    let [a, b] = [a, b].map(|number| with_decimals(number, 4));
    let words = constant(format!(
        "log10 of the constants at {cold} and {hot} °C; A {a}, B {b} in the basin"
    ));
    let [cold, hot] = [cold, hot].map(|celsius| format!("{celsius} °C"));
    let mut table = Table::new([Column::left(26).after(2), Column::right(11), Column::right(11)]);
    table.head([Words::default(), constant(cold).into(), constant(hot).into()]);
    let formation = basin
        .formation()
        .zip(surface.formation())
        .filter(|((_, cold), (_, hot))| *cold != 0.0 || *hot != 0.0)
        .map(|((name, cold), (_, hot))| (name.to_string(), cold, hot));
    let dissolution = Mineral::ALL.into_iter().map(|mineral| {
        let name = format!("{} (s)", mineral.key());
        (name, basin.dissolution(mineral), surface.dissolution(mineral))
    });
    for (name, cold, hot) in formation.chain(dissolution) {
        let [cold, hot] = [cold, hot].map(|log10| constant(format!("{log10:.3}")).into());
        table.row([constant(name).into(), cold, hot] as [Words; 3]);
    }
    let source = Block::Paragraph { level: 2, words: constant(crate::chemistry::SOURCE).into() };
    vec![Block::paragraph(words![words]), Block::Table(table), source]
}
