//! What is fed, as people and programs read it.

use super::text::{Style, ascii, heading, paragraph, write_line};
use crate::model::{FeedLine, FeedSheet};
use crate::quantity::{UnitSystem, significant, with_decimals};
use crate::site::ChemicalKind;
use serde::Serialize;
use std::fmt::Write as _;

const CAUTION: &str = "Caution: acids, biocides and oxidants burn and poison, and some make toxic \
gas together: keep to the safety data sheets, never mix products, and let trained people handle \
and feed them. A dose is no proof of control: test residuals and bacteria as the water management \
plan and the local code ask. Discharge only as the permit allows.";

const POUND_KG: f64 = 0.453_592_37;
const US_GALLON_L: f64 = 3.785_411_784;

/// The feed as text of 80 columns. `source` names the file.
pub fn text(sheet: &FeedSheet, source: &str, style: Style) -> String {
    let mut text = String::new();
    let name = if sheet.name.is_empty() { source } else { &sheet.name };
    let name = if style.bold { format!("\x1b[1m{name}\x1b[0m") } else { name.to_string() };
    let _ = writeln!(text, "{name}");
    let version = env!("CARGO_PKG_VERSION");
    let _ = writeln!(text, "Chemical feed from {source}, coldbasin {version}");
    let is_us = style.units == UnitSystem::UsCustomary;
    let mass = |kg: f64| if is_us { kg / POUND_KG } else { kg };
    let litre = |litre: f64| if is_us { litre / US_GALLON_L } else { litre };
    let (mass_unit, volume_unit) = if is_us { ("lb", "US gal") } else { ("kg", "L") };
    heading(&mut text, "PRODUCT, AT THIS HOUR'S LOAD", style.bold);
    let mut line = |cells: [&str; 6]| {
        let [name, kind, day, volume, pump, year] = cells;
        let name: String = name.chars().take(22).collect();
        write_line(
            &mut text,
            &format!("{name:<22}{kind:<12}{day:>11}{volume:>13}{pump:>11}{year:>11}"),
        );
    };
    line([
        "",
        "",
        &format!("{mass_unit}/day"),
        &format!("{volume_unit}/day"),
        if is_us { "gal/h" } else { "L/h" },
        &format!("{mass_unit}/year"),
    ]);
    for feed in &sheet.lines {
        let volume = feed.product_litre_per_day.map(litre);
        let is_slug = feed.slug.is_some();
        line([
            &feed.name,
            kind_name(feed.kind),
            &significant(mass(feed.product_kg_per_day), 3),
            &volume.map_or("-".into(), |volume| significant(volume, 3)),
            &volume.filter(|_| !is_slug).map_or("-".into(), |volume| significant(volume / 24.0, 3)),
            &significant(mass(feed.product_kg_per_year), 3),
        ]);
    }
    let total: f64 = sheet.lines.iter().filter_map(|feed| feed.cost_per_year).sum();
    if total > 0.0 {
        let words = format!(
            "Cost: {} {} a year for those with a price.",
            significant(total, 3),
            sheet.currency
        );
        paragraph(&mut text, "", words.trim_end());
    }
    for feed in &sheet.lines {
        paragraph(&mut text, "", &explained(feed, sheet, (mass(1.0), mass_unit)));
    }
    paragraph(&mut text, "", &format!("Formulas: {}.", crate::feed::SOURCE));
    if sheet.valve_is_assumed {
        paragraph(
            &mut text,
            "",
            "The valve's flow is assumed, 2.5 times the mean blowdown; state valve_flow.",
        );
    }
    text.push('\n');
    paragraph(&mut text, "", CAUTION);
    if style.ascii { ascii(&text) } else { text }
}

fn kind_name(kind: ChemicalKind) -> &'static str {
    match kind {
        ChemicalKind::Inhibitor => "inhibitor",
        ChemicalKind::Biocide => "biocide",
        ChemicalKind::Oxidant => "oxidant",
        ChemicalKind::Acid => "acid",
    }
}

/// Where a line comes from.
fn explained(feed: &FeedLine, sheet: &FeedSheet, (per_kg, mass_unit): (f64, &str)) -> String {
    let dose = feed.dose.map_or(String::new(), |dose| format!("{} mg/L", significant(dose, 3)));
    let strength = if feed.strength < 1.0 {
        format!(" of active substance, {} % of the product", significant(100.0 * feed.strength, 3))
    } else {
        " of product".into()
    };
    match feed.kind {
        ChemicalKind::Inhibitor => format!(
            "{}: {dose}{strength}, in all liquid that leaves (blowdown, drift, leakage, overflow): \
             24 h x {} m3/h x dose{}.",
            feed.name,
            significant(sheet.blowdown + sheet.circuit.other_losses, 3),
            if feed.decays { ", and what decays in the volume" } else { "" },
        ),
        ChemicalKind::Oxidant => format!(
            "{}: what the makeup uses up ({} mg/L in {} m3/h), and a residual of {dose}{strength}: in \
             all liquid that leaves, and against its decay in {} m3.",
            feed.name,
            significant(feed.demand.unwrap_or(0.0), 3),
            significant(sheet.circuit.evaporation + sheet.circuit.other_losses + sheet.blowdown, 3),
            significant(sheet.circuit.volume, 3),
        ),
        ChemicalKind::Acid => format!(
            "{}: {} meq for a litre of makeup at {} cycles{strength}; {} m3/h of makeup.",
            feed.name,
            significant(feed.acid_meq_per_litre.unwrap_or(f64::NAN), 3),
            with_decimals(sheet.cycles, 2),
            significant(sheet.circuit.evaporation + sheet.circuit.other_losses + sheet.blowdown, 3),
        ),
        ChemicalKind::Biocide => {
            let Some(slug) = &feed.slug else { return String::new() };
            let mut words = format!(
                "{}: a slug of {} {mass_unit} of product every {} h makes {dose}{strength} in {} \
                 m3. Lock the bleed for {} h{}; bleed down to {} cycles before",
                feed.name,
                significant(feed.slug_product_kg.unwrap_or(f64::NAN) * per_kg, 3),
                significant(feed.every_hours.unwrap_or(f64::NAN), 3),
                significant(sheet.circuit.volume, 3),
                significant(slug.locked_hours, 3),
                if feed.contact_is_assumed { " (assumed: common practice above 6 h)" } else { "" },
                with_decimals(slug.pre_bleed_cycles, 2),
            );
            match slug.pre_bleed_hours {
                Some(hours) => {
                    let _ = write!(words, ", which takes {} h,", significant(hours, 2));
                }
                None => words.push_str(", which the valve cannot,"),
            }
            let _ = write!(words, " so that the lock ends at {}.", with_decimals(sheet.cycles, 2));
            if let Some(hours) = slug.hours_effective {
                let _ = if hours.is_infinite() {
                    write!(words, " It stays above what works as long as the bleed is locked.")
                } else {
                    write!(words, " It stays above what works for {} h.", significant(hours, 2))
                };
                if hours < slug.locked_hours {
                    words.push_str(" WARNING: that is shorter than the lock: dose more.");
                }
            }
            words
        }
    }
}

/// The feed for programs.
#[derive(Debug, Serialize)]
pub struct FeedOut {
    /// Version of this form.
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where the description came from.
    pub source: String,
    /// Every chemical.
    pub chemicals: Vec<LineOut>,
}

/// One chemical.
#[derive(Debug, Serialize)]
pub struct LineOut {
    /// Name.
    pub name: String,
    /// `inhibitor`, `biocide`, `oxidant` or `acid`.
    pub kind: &'static str,
    /// mg/L of active substance.
    pub dose_mg_per_l: Option<f64>,
    /// kg/d of active substance.
    pub active_kg_per_day: f64,
    /// kg/d of product.
    pub product_kg_per_day: f64,
    /// L/d of product.
    pub product_l_per_day: Option<f64>,
    /// kg of product in a year.
    pub product_kg_per_year: f64,
    /// In the site's currency.
    pub cost_per_year: Option<f64>,
    /// meq for a litre of makeup.
    pub acid_meq_per_l_makeup: Option<f64>,
    /// kg of product in a slug.
    pub slug_product_kg: Option<f64>,
    /// Hours with the bleed locked.
    pub locked_h: Option<f64>,
    /// Cycles to bleed down to before.
    pub pre_bleed_cycles: Option<f64>,
    /// Hours that this takes.
    pub pre_bleed_h: Option<f64>,
    /// Hours above what works.
    pub effective_h: Option<f64>,
}

/// The feed for programs, and its rows for CSV.
pub fn lines(sheet: &FeedSheet) -> Vec<LineOut> {
    let finite = |number: f64| Some(number).filter(|number| number.is_finite());
    sheet
        .lines
        .iter()
        .map(|feed| LineOut {
            name: feed.name.clone(),
            kind: kind_name(feed.kind),
            dose_mg_per_l: feed.dose,
            active_kg_per_day: feed.active_kg_per_day,
            product_kg_per_day: feed.product_kg_per_day,
            product_l_per_day: feed.product_litre_per_day,
            product_kg_per_year: feed.product_kg_per_year,
            cost_per_year: feed.cost_per_year,
            acid_meq_per_l_makeup: feed.acid_meq_per_litre,
            slug_product_kg: feed.slug_product_kg,
            locked_h: feed.slug.map(|slug| slug.locked_hours),
            pre_bleed_cycles: feed.slug.map(|slug| slug.pre_bleed_cycles),
            pre_bleed_h: feed.slug.and_then(|slug| slug.pre_bleed_hours),
            effective_h: feed.slug.and_then(|slug| slug.hours_effective).and_then(finite),
        })
        .collect()
}

/// The feed for programs; `source` names the file.
pub fn json(sheet: &FeedSheet, source: &str) -> FeedOut {
    FeedOut {
        schema: super::json::SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: source.into(),
        chemicals: lines(sheet),
    }
}
