//! The balance sheet as a picture: water beside dissolved solids, widths to scale.

use super::colour::{BLUE, GREEN, ORANGE, PURPLE, SKY, VERMILLION};
use super::flow::{Flow, Strand, draw_beside, is_thin};
use super::frame::Frame;
use super::{Look, Picture, source, title};
use crate::cost::Outflow;
use crate::model::{BalanceSheet, Stream, StreamName};
use crate::quantity::unit::Unit;
use crate::report::balance::amounts::{Amount, Amounts};
use crate::report::shown::{cycles_text, percent};
use plotters::style::RGBColor;

/// A balance sheet; `from` names the file.
pub fn balance(sheet: &BalanceSheet, from: &str, look: Look) -> Picture {
    let name = if sheet.name.is_empty() { from } else { &sheet.name };
    let mut frame = Frame::new(&title("Water balance", name), &source(from), look.width);
    let water = water(sheet, &Amounts::of(sheet, look.units));
    let solids = solids(sheet);
    frame.describe(&described(&water));
    let thin = is_thin(&water) || solids.as_ref().is_some_and(is_thin);
    let mut flows = vec![("Water", water)];
    flows.extend(solids.map(|solids| ("Dissolved solids", solids)));
    let has_solids = flows.len() > 1;
    draw_beside(&mut frame, &flows);
    let cycles = sheet.balance.water.cycles_of_concentration;
    if has_solids {
        frame.note(&format!(
            "{} cycles of concentration: makeup over all liquid losses. Evaporation carries no solids.",
            cycles_text(cycles)
        ));
    } else {
        frame.note("No liquid leaves: the solids of the makeup stay in the water.");
    }
    let none: Vec<&str> =
        sheet.out.iter().filter(|s| s.kg_per_s <= 0.0).map(|stream| stream.name.name()).collect();
    if !none.is_empty() {
        frame.note(&format!("None: {}.", none.join(", ")));
    }
    if thin {
        frame.note("Widths are to scale, but for streams too thin to be seen: a line each.");
    } else {
        frame.note("Widths are to scale.");
    }
    frame.finish()
}

/// An amount with its ± and unit; without the ± where that does not show.
fn amount(amount: &Amount, unit: &Unit) -> String {
    let Amount { flow, spread } = amount;
    match spread.as_ref().filter(|spread| !spread.starts_with('<') && !flow.starts_with('<')) {
        Some(spread) => format!("{flow} ± {spread} {}", unit.symbol),
        None => format!("{flow} {}", unit.symbol),
    }
}

fn colour(name: StreamName) -> RGBColor {
    match name {
        StreamName::Makeup => GREEN,
        StreamName::Out(Outflow::Evaporation) => SKY,
        StreamName::Out(Outflow::Drift) => PURPLE,
        StreamName::Out(Outflow::Blowdown) => BLUE,
        StreamName::Out(Outflow::Leakage) => VERMILLION,
        StreamName::Out(Outflow::Overflow) => ORANGE,
    }
}

fn water(sheet: &BalanceSheet, amounts: &Amounts) -> Flow {
    let strand = |stream: &Stream, shown: &Amount| Strand {
        name: stream.name.name().into(),
        amount: amount(shown, amounts.unit),
        size: stream.kg_per_s,
        colour: colour(stream.name),
    };
    let out = sheet.out.iter().zip(&amounts.out).filter(|(stream, _)| stream.kg_per_s > 0.0);
    let goes_out = out.map(|(stream, shown)| strand(stream, shown)).collect();
    let mut comes_in = vec![strand(&sheet.makeup, &amounts.makeup)];
    if sheet.sources.len() > 1 {
        comes_in = sheet
            .sources
            .iter()
            .zip(&amounts.sources)
            .filter(|(source, _)| source.kg_per_s > 0.0)
            .map(|(source, shown)| Strand {
                name: source.name.clone(),
                amount: format!("{shown} {}", amounts.unit.symbol),
                size: source.kg_per_s,
                colour: colour(sheet.makeup.name),
            })
            .collect();
    }
    Flow { comes_in, goes_out }
}

/// What carries the solids out; `None` where nothing does.
fn solids(sheet: &BalanceSheet) -> Option<Flow> {
    let carried = |stream: &Stream| {
        let part = stream.of_solids?;
        (part > 0.0).then(|| Strand {
            name: stream.name.name().into(),
            amount: percent(part, 3),
            size: part,
            colour: colour(stream.name),
        })
    };
    let goes_out: Vec<Strand> = sheet.out.iter().filter_map(carried).collect();
    let makeup = Strand { name: "makeup".into(), amount: "100 %".into(), size: 1.0, colour: GREEN };
    (!goes_out.is_empty()).then(|| Flow { comes_in: vec![makeup], goes_out })
}

fn described(water: &Flow) -> String {
    let list = |strands: &[Strand]| {
        let words: Vec<String> =
            strands.iter().map(|strand| format!("{} {}", strand.name, strand.amount)).collect();
        words.join(", ")
    };
    format!(
        "Flow diagram. Water in: {}. Water out: {}.",
        list(&water.comes_in),
        list(&water.goes_out)
    )
}
