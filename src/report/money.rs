//! The money on a balance sheet, as people and programs read it.

use super::marks::end_of_head;
use super::rounding;
use super::text::{heading, paragraph, write_line};
use crate::cost::{Outflow, StreamPrice};
use crate::model::Money;
use crate::printable::printable;
use crate::quantity::{significant, with_decimals};
use crate::site::{Control, SewerBasis};
use serde::Serialize;

/// Significant digits of an amount.
const DIGITS: i32 = 3;

/// Writes the section.
pub(super) fn write(text: &mut String, money: &Money, currency: &str, bold: bool) {
    let title = match currency {
        "" => "MONEY IN A YEAR".to_owned(),
        currency => format!("MONEY IN A YEAR, {currency}"),
    };
    heading(text, &title, bold);
    table(text, money);
    paragraph(text, "", basis(money));
    if let Some(drift) = money.streams.iter().find(|stream| stream.stream == Outflow::Drift) {
        let words = format!(
            "Drift is a health matter first: mend it for that, whatever its {} a year.",
            amount(drift.yearly.total())
        );
        paragraph(text, "", &words);
    }
    leak(text, money);
    added_cycles(text, money);
}

fn table(text: &mut String, money: &Money) {
    let line = |text: &mut String, name: &str, cells: [String; 4]| {
        let [water, sewer, energy, total] = cells;
        write_line(
            text,
            &format!(
                "{name:<26}\u{1f}{water:>13}\u{1f}{sewer:>13}\u{1f}{energy:>13}\u{1f}{total:>15}"
            ),
        );
    };
    line(text, "", ["water", "sewer", "energy", "total"].map(str::to_owned));
    end_of_head(text);
    let cells =
        |price: &StreamPrice| [price.water, price.sewer, price.energy, price.total()].map(amount);
    for stream in &money.streams {
        line(text, stream.stream.name(), cells(&stream.yearly));
    }
    let none = String::new;
    for (name, cost) in &money.chemicals {
        let name: String = printable(name).chars().take(25).collect();
        line(text, &name, [none(), none(), none(), amount(*cost)]);
    }
    let sum = |part: fn(&StreamPrice) -> f64| {
        amount(money.streams.iter().map(|stream| part(&stream.yearly)).sum::<f64>())
    };
    let [water, sewer, energy] =
        [sum(|price| price.water), sum(|price| price.sewer), sum(|price| price.energy)];
    line(text, "total", [water, sewer, energy, amount(money.total)]);
    if let Some(why) = &money.chemicals_missing {
        paragraph(text, "", &format!("WARNING: chemicals are not counted: {why}."));
    }
}

/// By how many last digits the columns of the table miss their totals at the most.
pub(super) fn misses_by(money: &Money) -> u64 {
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
    columns.iter().map(|parts| rounding::misses_by(parts, DIGITS)).max().unwrap_or(0)
}

fn basis(money: &Money) -> &'static str {
    if !money.has_sewer {
        return "Each stream bears the makeup that replaces it.";
    }
    let leaks = money.leak.is_some();
    match (money.basis, leaks) {
        (SewerBasis::Makeup, _) => {
            "Each stream bears the makeup that replaces it; the sewer is billed on all makeup. Ask \
             the utility for an evaporation credit."
        }
        (SewerBasis::MakeupLessEvaporation, false) => {
            "Each stream bears the makeup that replaces it; the sewer is billed on makeup less \
             evaporation."
        }
        (SewerBasis::MakeupLessEvaporation, true) => {
            "Each stream bears the makeup that replaces it; the sewer is billed on makeup less \
             evaporation. The unmetered leakage or overflow makes that credit wrong: what soaks away \
             is billed, though it never reaches the sewer."
        }
        (SewerBasis::Blowdown, false) => {
            "Each stream bears the makeup that replaces it; the sewer is billed on blowdown."
        }
        (SewerBasis::Blowdown, true) => {
            "Each stream bears the makeup that replaces it; the sewer is billed on blowdown. The \
             unmetered leakage or overflow makes that wrong: what reaches the sewer is not billed, \
             and the utility may ask for it."
        }
        (SewerBasis::Share, _) => {
            "Each stream bears the makeup that replaces it; the sewer is billed on a fixed part of \
             the makeup, whatever is drained."
        }
    }
}

fn leak(text: &mut String, money: &Money) {
    let Some(leak) = &money.leak else { return };
    let fixed = format!(
        "with a valve that stays as it is, mending them saves {} a year",
        amount(leak.fixed)
    );
    let held = if leak.held < 0.0 {
        format!(
            "under a controller mending them costs {} a year, because the blowdown opens by as much \
             and is billed",
            amount(-leak.held)
        )
    } else if leak.held == 0.0 {
        "under a controller mending them saves nothing, because the blowdown opens by as much"
            .to_owned()
    } else {
        format!("under a controller mending them saves {} a year", amount(leak.held))
    };
    let words = match money.control {
        Some(Control::Conductivity) => format!("Leakage and overflow: {held}."),
        None => format!("Leakage and overflow: {fixed}; {held}."),
        Some(_) => format!("Leakage and overflow: {fixed}."),
    };
    paragraph(text, "", &words);
}

fn added_cycles(text: &mut String, money: &Money) {
    if money.added_cycles.is_empty() {
        return;
    }
    text.push('\n');
    let columns = |cells: [&str; 4]| {
        let [cycles, saving, makeup, half] = cells;
        format!("{cycles:<18}\u{1f}{saving:>12}\u{1f}{makeup:>16}\u{1f}{half:>22}")
    };
    write_line(text, &columns(["one more cycle", "saves", "of makeup", "half renewed in"]));
    end_of_head(text);
    for added in &money.added_cycles {
        let cycles = format!("{} to {}", with_decimals(added.from, 2), with_decimals(added.to, 2));
        let makeup = format!("{} %", with_decimals(100.0 * added.makeup_saved, 1));
        let half = added
            .half_life_hours
            .map_or("-".into(), |hours| format!("{} h", significant(hours, 2)));
        write_line(text, &columns([&cycles, &amount(added.saving), &makeup, &half]));
    }
    if let (Some(stop), Some(least)) = (money.stop_at, money.least_saving) {
        let words = format!(
            "From {} cycles, the next one saves less than {}.",
            with_decimals(stop, 2),
            amount(least)
        );
        paragraph(text, "", &words);
    }
    paragraph(
        text,
        "",
        "What the water allows, `coldbasin blowdown` says. Longer retention raises the biological \
         risk: weigh it against every saving.",
    );
}

fn amount(amount: f64) -> String {
    if amount == 0.0 { "0".into() } else { significant(amount, DIGITS as usize) }
}

/// The money for programs.
#[derive(Debug, Serialize)]
pub struct MoneyOut {
    /// In the site's currency, a year.
    pub total_per_year: f64,
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
    /// What mending leakage and overflow saves with the valve as it is.
    pub leak_value_per_year: Option<f64>,
    /// The same under a controller.
    pub leak_value_held_per_year: Option<f64>,
}

/// A stream's money.
#[derive(Debug, Serialize)]
pub struct StreamMoneyOut {
    /// Name.
    pub stream: &'static str,
    /// A year.
    pub water: f64,
    /// A year.
    pub sewer: f64,
    /// A year.
    pub energy: f64,
}

/// A chemical's money.
#[derive(Debug, Serialize)]
pub struct ChemicalMoneyOut {
    /// Name.
    pub name: String,
    /// A year.
    pub cost_per_year: f64,
}

/// One more cycle.
#[derive(Debug, Serialize)]
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
        streams: money
            .streams
            .iter()
            .map(|stream| StreamMoneyOut {
                stream: stream.stream.name(),
                water: stream.yearly.water,
                sewer: stream.yearly.sewer,
                energy: stream.yearly.energy,
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
        leak_value_per_year: money.leak.map(|leak| leak.fixed),
        leak_value_held_per_year: money.leak.map(|leak| leak.held),
    }
}
