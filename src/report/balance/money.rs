//! The money on a balance sheet, as people and programs read it.

use crate::cost::{Outflow, StreamPrice};
use crate::model::{Money, StreamMoney};
use crate::quantity::with_decimals;
use crate::report::page::{Block, Column, Table, Words, constant, number, words};
use crate::report::rounding;
use crate::report::shown::{self, MONEY_DIGITS, amount, clipped};
use crate::site::{Control, SewerBasis};
use serde::Serialize;

/// The money, a section of the page.
pub(super) fn blocks(money: &Money, currency: &str) -> Vec<Block> {
    let title = match currency {
        "" => "MONEY IN A YEAR".into(),
        currency => words!["MONEY IN A YEAR, ", Words::given(currency)],
    };
    let mut blocks = vec![Block::heading(title), Block::Table(table(money))];
    if money.chemicals_missing.is_some() {
        blocks.push(Block::paragraph("Chemicals are not counted: see the warning."));
    }
    let note = rounding::note(misses_by(money));
    blocks.extend(note.map(|note| Block::paragraph(constant(note))));
    blocks.push(Block::paragraph(basis(money)));
    if let Some(drift) = money.streams.iter().find(|stream| stream.stream == Outflow::Drift) {
        blocks.push(Block::paragraph(words![
            "Drift is a health matter first: mend it for that, whatever its ",
            number("money.streams.total", amount(drift.yearly.total())),
            " a year."
        ]));
    }
    blocks.extend(leak(money).map(Block::paragraph));
    blocks.extend(added_cycles(money));
    blocks
}

fn table(money: &Money) -> Table {
    let mut table = Table::new([
        Column::left(26),
        Column::right(13),
        Column::right(13),
        Column::right(13),
        Column::right(15),
    ]);
    table.head(["", "water", "sewer", "energy", "total"]);
    for StreamMoney { stream, yearly } in &money.streams {
        table.row([
            stream.name().into(),
            number("money.streams.water", amount(yearly.water)).into(),
            number("money.streams.sewer", amount(yearly.sewer)).into(),
            number("money.streams.energy", amount(yearly.energy)).into(),
            words![number("money.streams.total", amount(yearly.total()))],
        ]);
    }
    for (name, cost) in &money.chemicals {
        let none = Words::default;
        let cost = number("money.chemicals.cost_per_year", amount(*cost));
        let name = Words::given(&clipped(name, 25));
        table.row([name, none(), none(), none(), cost.into()]);
    }
    let sum = |part| amount(sum(money, part));
    table.row([
        "total".into(),
        number("money.water_per_year", sum(|price| price.water)).into(),
        number("money.sewer_per_year", sum(|price| price.sewer)).into(),
        number("money.energy_per_year", sum(|price| price.energy)).into(),
        words![number("money.total_per_year", amount(money.total))],
    ]);
    table
}

/// What all streams come to.
fn sum(money: &Money, part: fn(&StreamPrice) -> f64) -> f64 {
    money.streams.iter().map(|stream| part(&stream.yearly)).sum()
}

/// By how many last digits the columns of the table miss their totals at the most.
fn misses_by(money: &Money) -> u64 {
    let streams: Vec<&StreamPrice> = money.streams.iter().map(|stream| &stream.yearly).collect();
    let column = |part: fn(&StreamPrice) -> f64| -> Vec<f64> {
        streams.iter().map(|stream| part(stream)).collect()
    };
    let mut totals = column(StreamPrice::total);
    totals.extend(money.chemicals.iter().map(|(_, cost)| cost));
    let columns = [
        column(|price| price.water),
        column(|price| price.sewer),
        column(|price| price.energy),
        totals,
    ];
    columns.iter().map(|parts| rounding::misses_by(parts, MONEY_DIGITS)).max().unwrap_or(0)
}

fn basis(money: &Money) -> &'static str {
    if !money.has_sewer {
        return "Each stream bears the makeup that replaces it.";
    }
    match money.basis {
        SewerBasis::Makeup => {
            "Each stream bears the makeup that replaces it; the sewer is billed on all makeup."
        }
        SewerBasis::MakeupLessEvaporation => {
            "Each stream bears the makeup that replaces it; the sewer is billed on makeup less \
             evaporation."
        }
        SewerBasis::Blowdown => {
            "Each stream bears the makeup that replaces it; the sewer is billed on blowdown."
        }
        SewerBasis::Share => {
            "Each stream bears the makeup that replaces it; the sewer is billed on a fixed part of \
             the makeup, whatever is drained."
        }
    }
}

/// What mending the leaks saves.
fn leak(money: &Money) -> Option<Words> {
    let leak = money.leak?;
    let fixed = words![
        "with a valve that stays as it is, mending them saves ",
        number("money.leak_value_per_year", amount(leak.fixed)),
        " a year"
    ];
    let value = |value| number("money.leak_value_held_per_year", amount(value));
    let held = if leak.held < 0.0 {
        words![
            "under a controller mending them costs ",
            value(-leak.held),
            " a year, because the blowdown opens by as much and is billed"
        ]
    } else if leak.held == 0.0 {
        "under a controller mending them saves nothing, because the blowdown opens by as much"
            .into()
    } else {
        words!["under a controller mending them saves ", value(leak.held), " a year"]
    };
    let said = match money.control {
        Some(Control::Conductivity) => held,
        None => words![fixed, "; ", held],
        Some(_) => fixed,
    };
    Some(words!["Leakage and overflow: ", said, "."])
}

fn added_cycles(money: &Money) -> Vec<Block> {
    if money.added_cycles.is_empty() {
        return Vec::new();
    }
    let mut table =
        Table::new([Column::left(18), Column::right(12), Column::right(16), Column::right(22)]);
    table.head(["one more cycle", "saves", "of makeup", "half renewed in"]);
    for added in &money.added_cycles {
        let makeup = format!("{} %", with_decimals(100.0 * added.makeup_saved, 1));
        let half = |hours| shown::hours(hours, 2);
        table.row([
            words![
                number("money.added_cycles.from", with_decimals(added.from, 2)),
                " to ",
                number("money.added_cycles.to", with_decimals(added.to, 2))
            ],
            number("money.added_cycles.saving_per_year", amount(added.saving)).into(),
            number("money.added_cycles.makeup_saved", makeup).into(),
            added.half_life_hours.map_or("-".into(), |hours| {
                words![number("money.added_cycles.half_life_h", half(hours))]
            }),
        ]);
    }
    let mut blocks = vec![Block::Gap, Block::Table(table)];
    if let (Some(stop), Some(least)) = (money.stop_at, money.least_saving) {
        blocks.push(Block::paragraph(words![
            "From ",
            number("money.stop_at_cycles", with_decimals(stop, 2)),
            " cycles, the next one saves less than ",
            number("money.least_saving_per_year", amount(least)),
            "."
        ]));
    }
    blocks.push(Block::paragraph(
        "What the water allows, `coldbasin blowdown` says. Longer retention raises the biological risk: \
         weigh it against every saving.",
    ));
    blocks
}

/// The money for programs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct MoneyOut {
    /// In the site's currency, a year.
    pub total_per_year: f64,
    /// Of the total, water.
    pub water_per_year: f64,
    /// Of the total, sewer.
    pub sewer_per_year: f64,
    /// Of the total, energy.
    pub energy_per_year: f64,
    /// Every stream.
    pub streams: Vec<StreamMoneyOut>,
    /// Chemicals that have a price.
    pub chemicals: Vec<ChemicalMoneyOut>,
    /// Why chemicals are not counted, where they cannot be computed.
    pub chemicals_missing: Option<String>,
    /// One more cycle after the other.
    pub added_cycles: Vec<AddedCycleOut>,
    /// Cycles from which one more saves less than the stated least.
    pub stop_at_cycles: Option<f64>,
    /// That stated least.
    pub least_saving_per_year: Option<f64>,
    /// What mending leakage and overflow saves with the valve as it is.
    pub leak_value_per_year: Option<f64>,
    /// The same under a controller.
    pub leak_value_held_per_year: Option<f64>,
}

/// A stream's money.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct StreamMoneyOut {
    /// Name.
    pub stream: &'static str,
    /// A year.
    pub water: f64,
    /// A year.
    pub sewer: f64,
    /// A year.
    pub energy: f64,
    /// A year.
    pub total: f64,
}

/// A chemical's money.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ChemicalMoneyOut {
    /// Name.
    pub name: String,
    /// A year.
    pub cost_per_year: f64,
}

/// One more cycle.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct AddedCycleOut {
    /// From these cycles.
    pub from: f64,
    /// To these.
    pub to: f64,
    /// A year.
    pub saving_per_year: f64,
    /// Part of the makeup before.
    pub makeup_saved: f64,
    /// Hours.
    pub half_life_h: Option<f64>,
}

pub(super) fn json(money: &Money) -> MoneyOut {
    MoneyOut {
        total_per_year: money.total,
        water_per_year: sum(money, |price| price.water),
        sewer_per_year: sum(money, |price| price.sewer),
        energy_per_year: sum(money, |price| price.energy),
        streams: money
            .streams
            .iter()
            .map(|stream| StreamMoneyOut {
                stream: stream.stream.name(),
                water: stream.yearly.water,
                sewer: stream.yearly.sewer,
                energy: stream.yearly.energy,
                total: stream.yearly.total(),
            })
            .collect(),
        chemicals: money
            .chemicals
            .iter()
            .map(|(name, cost)| ChemicalMoneyOut { name: name.clone(), cost_per_year: *cost })
            .collect(),
        chemicals_missing: money.chemicals_missing.clone(),
        added_cycles: money
            .added_cycles
            .iter()
            .map(|added| AddedCycleOut {
                from: added.from,
                to: added.to,
                saving_per_year: added.saving,
                makeup_saved: added.makeup_saved,
                half_life_h: added.half_life_hours,
            })
            .collect(),
        stop_at_cycles: money.stop_at,
        least_saving_per_year: money.least_saving,
        leak_value_per_year: money.leak.map(|leak| leak.fixed),
        leak_value_held_per_year: money.leak.map(|leak| leak.held),
    }
}
