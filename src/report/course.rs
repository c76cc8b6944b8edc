//! The course of the water in time, as people and programs read it.

use super::marks::end_of_head;
use super::text::{Style, equation, heading, page_head, paragraph, write_line};
use crate::model::CourseSheet;
use crate::quantity::{Quantity, significant, unit, with_decimals};
use crate::transient::Blowdown;
use serde::Serialize;

/// The course as text of 80 columns. `source` names the file, `substance` what is dosed.
pub fn text(sheet: &CourseSheet, source: &str, substance: &str, style: Style) -> String {
    let mut text = String::new();
    page_head(&mut text, (&sheet.name, source), "Concentration against time", style.bold);
    let flow_unit = Quantity::VolumeFlow.shown_in(style.units);
    let flow =
        |m3_per_h: f64| significant(flow_unit.of_si(unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h)), 3);
    heading(&mut text, "START", style.bold);
    let blowdown = match sheet.start.blowdown {
        Blowdown::Flow(0.0) => "blowdown shut".into(),
        Blowdown::Flow(flow_now) => format!("blowdown {} {}", flow(flow_now), flow_unit.symbol),
        Blowdown::Held { cycles, valve_flow } => format!(
            "a controller that holds {} cycles with a valve of {} {}{}",
            with_decimals(cycles, 2),
            flow(valve_flow),
            flow_unit.symbol,
            if sheet.valve_is_assumed { " (assumed: 2.5 times the mean blowdown)" } else { "" }
        ),
    };
    let volume_unit = Quantity::Volume.shown_in(style.units);
    let words = format!(
        "{} cycles; {blowdown}. {} {} in the system, {} {} evaporate, {} {} are lost besides.",
        with_decimals(sheet.start.cycles, 2),
        significant(volume_unit.of_si(sheet.circuit.volume), 3),
        volume_unit.symbol,
        flow(sheet.circuit.evaporation),
        flow_unit.symbol,
        flow(sheet.circuit.other_losses),
        flow_unit.symbol,
    );
    paragraph(&mut text, "", &words);
    heading(&mut text, "COURSE", style.bold);
    let with_substance =
        |words: &str| if sheet.has_substance { words.to_string() } else { String::new() };
    let name: String = substance.chars().take(16).collect();
    let line = |text: &mut String, cells: [&str; 5]| {
        let [hour, cycles, blowdown, makeup, substance] = cells;
        write_line(
            text,
            &format!(
                "{hour:>8}\u{1f}{cycles:>10}\u{1f}{blowdown:>12}\u{1f}{makeup:>12}\u{1f}{substance:>18}"
            ),
        );
    };
    line(&mut text, ["hour", "cycles", "blowdown", "makeup", &with_substance(&name)]);
    line(&mut text, ["", "", flow_unit.symbol, flow_unit.symbol, &with_substance("mg/L")]);
    end_of_head(&mut text);
    for row in &sheet.rows {
        line(
            &mut text,
            [
                &with_decimals(row.hour, 1),
                &with_decimals(row.cycles, 2),
                &flow(row.blowdown),
                &flow(row.makeup),
                &with_substance(&significant(row.substance, 3)),
            ],
        );
    }
    heading(&mut text, "STRETCHES OF CONSTANT FLOW", style.bold);
    for stretch in sheet.stretches.iter().take(MOST_STRETCHES) {
        let end = stretch.final_cycles();
        let tends = if end.is_finite() {
            if (end / stretch.cycles - 1.0).abs() < 1e-3 {
                format!("holds {} cycles", with_decimals(end, 2))
            } else {
                format!(
                    "tends to {} cycles, half of the way in {}, 95 % in {}",
                    significant(end, 3),
                    hours(stretch.half_life()),
                    hours(stretch.hours_to_95_percent())
                )
            }
        } else {
            format!(
                "no liquid leaves: one more cycle every {}",
                hours(sheet.circuit.volume / stretch.makeup)
            )
        };
        let words = format!(
            "{} to {} h: blowdown {} {}, {tends}.",
            with_decimals(stretch.from, 1),
            with_decimals(stretch.to, 1),
            flow(stretch.blowdown),
            flow_unit.symbol
        );
        paragraph(&mut text, "", &words);
    }
    if sheet.stretches.len() > MOST_STRETCHES {
        let words = format!("... and {} more", sheet.stretches.len() - MOST_STRETCHES);
        paragraph(&mut text, "", &words);
    }
    if let Some(settled) = sheet.settled {
        paragraph(
            &mut text,
            "",
            &format!("Within 5 % of the last cycles after {}.", hours(settled)),
        );
    }
    text.push('\n');
    paragraph(&mut text, "", CAUTION);
    super::marks::finished(text, style)
}

/// Each stretch's exponential with its numbers.
pub fn working(sheet: &CourseSheet, style: Style) -> String {
    const SOURCE: &str = "mass balance of a well-mixed basin, V dc/dt = makeup - L c; \
         Association of Water Technologies, Basic Calculations, Part I";
    let mut text = String::new();
    heading(&mut text, "WORKING (m3, m3/h, h)", style.bold);
    let six = |number: f64| significant(number, 6);
    let volume = sheet.circuit.volume;
    for stretch in sheet.stretches.iter().take(MOST_STRETCHES) {
        let hours = stretch.to - stretch.from;
        let end = stretch.cycles_at(stretch.to);
        let lines = if stretch.liquid > 0.0 {
            [
                "cycles = makeup / liquid + (start - makeup / liquid) * exp(-liquid * hours / volume)"
                    .to_owned(),
                format!(
                    "= {m} / {l} + ({} - {m} / {l}) * exp(-{l} * {} / {})",
                    six(stretch.cycles),
                    six(hours),
                    six(volume),
                    m = six(stretch.makeup),
                    l = six(stretch.liquid),
                ),
                format!("= {}", significant(end, 4)),
            ]
        } else {
            [
                "cycles = start + makeup * hours / volume".to_owned(),
                format!(
                    "= {} + {} * {} / {}",
                    six(stretch.cycles),
                    six(stretch.makeup),
                    six(hours),
                    six(volume)
                ),
                format!("= {}", significant(end, 4)),
            ]
        };
        equation(&mut text, &lines, SOURCE);
    }
    super::marks::finished(text, style)
}

const MOST_STRETCHES: usize = 12;
const CAUTION: &str = "Well-mixed basin, nothing precipitates. Caution: biocides are handled and fed \
by trained people only; blowdown that still carries them is discharged as the permit allows.";

fn hours(hours: f64) -> String {
    format!("{} h", significant(hours, 3))
}

/// The course for programs.
#[derive(Debug, Serialize)]
pub struct CourseOut {
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
    /// Hours after which the cycles stay within 5 % of the last.
    pub settled_h: Option<f64>,
    /// Points of the course.
    pub rows: Vec<PointOut>,
    /// Stretches of constant flow.
    pub stretches: Vec<StretchOut>,
}

/// A point of the course.
#[derive(Debug, Serialize)]
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
}

/// Points of a course, for JSON and CSV.
pub fn points(sheet: &CourseSheet) -> Vec<PointOut> {
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
pub fn json(sheet: &CourseSheet, source: &str) -> CourseOut {
    let finite = |number: f64| Some(number).filter(|number| number.is_finite());
    CourseOut {
        schema: super::json::SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: source.into(),
        volume_m3: sheet.circuit.volume,
        evaporation_m3_per_h: sheet.circuit.evaporation,
        other_losses_m3_per_h: sheet.circuit.other_losses,
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
            })
            .collect(),
    }
}
