//! The balance sheet as a picture: water beside dissolved solids, widths to scale.

use super::colour::{BLUE, GREEN, ORANGE, PURPLE, SKY, VERMILLION};
use super::flow::{Flow, Strand, draw_beside, is_thin};
use super::frame::Frame;
use super::{Look, Picture, source, title};
use crate::cost::Outflow;
use crate::model::{BalanceSheet, Stream, StreamName};
use crate::quantity::{Quantity, significant, unit, with_decimals};
use crate::report::m3_per_h;
use crate::report::rounding::{column, digits_of};
use crate::report::text::{COVERAGE, cycles_text};
use plotters::style::RGBColor;

/// A balance sheet; `from` names the file.
pub fn balance(sheet: &BalanceSheet, from: &str, look: Look) -> Picture {
    let name = if sheet.name.is_empty() { from } else { &sheet.name };
    let mut frame = Frame::new(&title("Water balance", name), &source(from), look.width);
    let words = Words::of(sheet, look);
    let water = water(sheet, &words);
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

/// Amounts in the digits and the unit of the printed sheet.
struct Words {
    unit: &'static unit::Unit,
    parts: Vec<String>,
    total: String,
    decimals: usize,
    digits: i32,
}

impl Words {
    fn of(sheet: &BalanceSheet, look: Look) -> Self {
        let unit = Quantity::VolumeFlow.shown_in(look.units);
        let flow = |m3_per_h: f64| unit.of_si(unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h));
        let spread = sheet.makeup.standard_uncertainty_kg_per_s;
        let expanded = spread.map(|standard| COVERAGE * flow(m3_per_h(standard)));
        let digits = digits_of(flow(sheet.makeup.reference_m3_per_h), expanded);
        let out: Vec<f64> = sheet.out.iter().map(|s| flow(s.reference_m3_per_h)).collect();
        let column = column(&out, digits);
        let decimals = column.decimals.max(0) as usize;
        Self { unit, parts: column.parts, total: column.total, decimals, digits }
    }

    fn flow(&self, kg_per_s: f64) -> f64 {
        self.unit.of_si(unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h(kg_per_s)))
    }

    fn amount(&self, shown: &str, stream: &Stream) -> String {
        let expanded =
            stream.standard_uncertainty_kg_per_s.map(|standard| COVERAGE * self.flow(standard));
        let least = 0.5 * 0.1f64.powi(self.decimals as i32);
        match expanded.filter(|expanded| *expanded >= least && !shown.starts_with('<')) {
            Some(expanded) => {
                let expanded = with_decimals(expanded, self.decimals);
                format!("{shown} ± {expanded} {}", self.unit.symbol)
            }
            None => format!("{shown} {}", self.unit.symbol),
        }
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

fn water(sheet: &BalanceSheet, words: &Words) -> Flow {
    let goes_out = sheet
        .out
        .iter()
        .zip(&words.parts)
        .filter(|(stream, _)| stream.kg_per_s > 0.0)
        .map(|(stream, shown)| Strand {
            name: stream.name.name().into(),
            amount: words.amount(shown, stream),
            size: stream.kg_per_s,
            colour: colour(stream.name),
        })
        .collect();
    let makeup = &sheet.makeup;
    let mut comes_in = vec![Strand {
        name: "makeup".into(),
        amount: words.amount(&words.total, makeup),
        size: makeup.kg_per_s,
        colour: colour(makeup.name),
    }];
    if sheet.sources.len() > 1 {
        let flows: Vec<f64> = sheet.sources.iter().map(|s| words.flow(s.kg_per_s)).collect();
        let shown = column(&flows, words.digits).parts;
        comes_in = sheet
            .sources
            .iter()
            .zip(shown)
            .filter(|(source, _)| source.kg_per_s > 0.0)
            .map(|(source, shown)| Strand {
                name: source.name.clone(),
                amount: format!("{shown} {}", words.unit.symbol),
                size: source.kg_per_s,
                colour: GREEN,
            })
            .collect();
    }
    Flow { comes_in, goes_out }
}

/// What carries the solids out; `None` where nothing does.
fn solids(sheet: &BalanceSheet) -> Option<Flow> {
    let percent = |part: f64| format!("{} %", significant(100.0 * part, 3));
    let carried = |stream: &Stream| {
        let part = stream.of_solids?;
        (part > 0.0).then(|| Strand {
            name: stream.name.name().into(),
            amount: percent(part),
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
