//! Each formula with its numbers and its source. The line with the numbers is an expression that
//! anybody can evaluate again, to the digits printed.

use super::rows::transfer;
use crate::balance::{APPARENT_CYCLES, BLOWDOWN, CYCLES, MAKEUP};
use crate::equation::Equation;
use crate::model::{BalanceSheet, MethodName};
use crate::quantity::significant;
use crate::report::page::{Block, constant, number, words};
use crate::site::Method;
use crate::tower::{HEAT_FROM_WATER, HEAT_LOAD, HEAT_TO_AIR, HUMIDITY_RISE, merkel, poppe, rule};

/// Digits of the numbers put in.
const DIGITS_IN: usize = 9;
/// Digits of the result; fewer, so that putting rounded numbers in does not change it.
const DIGITS_OUT: usize = 5;

/// One formula with its numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// The formula.
    pub equation: &'static Equation,
    /// The expression with numbers in the places of its names.
    pub numbers: String,
    /// The result, from the sheet.
    pub result: String,
    /// Unit of the result.
    pub unit: &'static str,
}

/// Every formula that leads to the sheet, in the order of the calculation. Flows in kg/s,
/// enthalpies in kJ/kg, heat in kW, temperatures in degC.
pub fn lines(sheet: &BalanceSheet) -> Vec<Line> {
    let water = &sheet.balance.water;
    let mut lines = Lines { sheet, lines: Vec::new() };
    lines.add(&HEAT_LOAD, sheet.state().heat_load_watt().map(|watt| watt / 1e3), "kW");
    for method in &sheet.methods {
        let equation = match method.name {
            MethodName::Method(Method::Rule) => &rule::RULE,
            MethodName::Method(Method::RuleOnePercent) => &rule::RULE_ONE_PERCENT,
            MethodName::Method(Method::Latent) => &rule::LATENT,
            _ => continue,
        };
        lines.add(equation, method.evaporation_kg_per_s.as_ref().ok().copied(), "kg/s");
    }
    if let Some(transfer) = transfer(sheet) {
        let entering = sheet.state().entering_air.map(|air| air.enthalpy_j_per_kg() / 1e3);
        let rise =
            entering.map(|entering| transfer.exchange.exit_enthalpy_j_per_kg / 1e3 - entering);
        let heat = rise.map(|rise| transfer.dry_air_kg_per_s * rise);
        match sheet.used {
            MethodName::Method(Method::Merkel) => lines.add(
                &merkel::EXIT_ENTHALPY,
                Some(transfer.exchange.exit_enthalpy_j_per_kg / 1e3),
                "kJ/kg",
            ),
            _ => lines.add(&HEAT_FROM_WATER, Some(heat_from_water(sheet)), "kW"),
        }
        lines.add(&HEAT_TO_AIR, heat, "kW");
        lines.add(&HUMIDITY_RISE, Some(water.evaporation_kg_per_s), "kg/s");
    }
    if sheet.cycles_are_apparent {
        lines.add(&APPARENT_CYCLES, sheet.target_cycles, "");
    }
    if sheet.target_cycles.is_some() && !water.losses_exceed_blowdown {
        lines.add(&BLOWDOWN, Some(water.blowdown_kg_per_s), "kg/s");
    }
    lines.add(&MAKEUP, Some(water.makeup_kg_per_s), "kg/s");
    lines.add(&CYCLES, Some(water.cycles_of_concentration), "");
    lines.lines
}

/// What the water loses, evaporated water included, kW ([`HEAT_FROM_WATER`]).
fn heat_from_water(sheet: &BalanceSheet) -> f64 {
    let state = sheet.state();
    let left = state.circulation_kg_per_s - sheet.balance.water.evaporation_kg_per_s;
    let heat =
        state.circulation_kg_per_s * state.hot_water_celsius - left * state.cold_water_celsius;
    crate::tower::WATER_SPECIFIC_HEAT_J_PER_KG_K / 1e3 * heat
}

struct Lines<'a> {
    sheet: &'a BalanceSheet,
    lines: Vec<Line>,
}

impl Lines<'_> {
    /// Adds a formula, unless its result or one of its numbers is not known.
    fn add(&mut self, equation: &'static Equation, result: Option<f64>, unit: &'static str) {
        let Some(result) = result.filter(|result| result.is_finite()) else { return };
        let numbers = equation.with_numbers(|name| {
            of_name(self.sheet, equation, name).map(|number| significant(number, DIGITS_IN))
        });
        let result = significant(result, DIGITS_OUT);
        self.lines.extend(numbers.map(|numbers| Line { equation, numbers, result, unit }));
    }
}

/// The number that a name in a formula stands for.
fn of_name(sheet: &BalanceSheet, equation: &Equation, name: &str) -> Option<f64> {
    let state = sheet.state();
    let water = &sheet.balance.water;
    let found = match name {
        "circulation" => state.circulation_kg_per_s,
        "range" => state.range_kelvin?,
        "hot_water" => state.hot_water_celsius,
        "cold_water" => state.cold_water_celsius,
        "mean_water" => 0.5 * (state.hot_water_celsius + state.cold_water_celsius),
        "evaporation" => water.evaporation_kg_per_s,
        "drift" => water.drift_kg_per_s,
        "blowdown" => water.blowdown_kg_per_s,
        "leakage" => water.leakage_kg_per_s,
        "overflow" => water.overflow_kg_per_s,
        "makeup" => water.makeup_kg_per_s,
        "cycles" if equation.id == BLOWDOWN.id => sheet.target_cycles?,
        "makeup_conductivity" => sheet.makeup_conductivity? * 1e4,
        "circulating_conductivity" => sheet.circulating_conductivity? * 1e4,
        "entering_enthalpy" => state.entering_air?.enthalpy_j_per_kg() / 1e3,
        "entering_humidity_ratio" => state.entering_air?.humidity_ratio,
        "exit_enthalpy" => transfer(sheet)?.exchange.exit_enthalpy_j_per_kg / 1e3,
        "exit_humidity_ratio" => transfer(sheet)?.exchange.exit_humidity_ratio,
        "dry_air" => transfer(sheet)?.dry_air_kg_per_s,
        "water_to_air" => transfer(sheet)?.cell.state.water_to_air?,
        _ => return None,
    };
    Some(found)
}

/// The lines as people read them. Flows are shown by mass, in SI units whatever the page shows,
/// because that is how they are computed.
pub fn working(sheet: &BalanceSheet) -> Vec<Block> {
    let mut blocks = vec![Block::heading(
        "WORKING (flows in kg/s, heat in kW, enthalpies in kJ/kg, temperatures in °C)",
    )];
    blocks.extend(lines(sheet).into_iter().map(|line| {
        let Line { equation, numbers, result, unit } = line;
        let lines = [
            equation.text.into(),
            format!("= {numbers}").into(),
            format!("= {result} {unit}").into(),
        ];
        Block::Equation { lines: lines.into(), source: equation.source.into() }
    }));
    if sheet.methods.iter().any(|m| m.name == MethodName::Method(Method::Poppe)) {
        blocks.push(Block::Gap);
        blocks.push(Block::paragraph(words!["merkel: ", constant(merkel::NUMBER)]));
        blocks.push(Block::paragraph("poppe, solved from the cold end to the hot one:"));
        for (equation, what) in poppe::EQUATIONS {
            blocks.push(Block::indented(constant(equation)));
            blocks.push(Block::Paragraph { level: 2, words: constant(what).into() });
        }
        blocks.push(Block::indented(constant(poppe::SOURCE)));
    }
    if let Some(air) = sheet.state().entering_air {
        blocks.push(Block::paragraph(words![
            "entering air at ",
            number("air.dry_bulb_celsius", significant(air.dry_bulb_celsius, 5)),
            " °C, ",
            number("air.pressure_kpa", significant(air.pressure_pascal, 6)),
            " Pa: ",
            constant("ASHRAE Fundamentals (2017), ch. 1, eq. 3, 5, 6, 20, 30, 33, 35")
        ]));
    }
    blocks
}
