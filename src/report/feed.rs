//! What is fed, as people and programs read it.

use super::marks::end_of_head;
use super::text::{Style, equation, heading, page_head, paragraph, write_line};
use crate::model::{FeedLine, FeedSheet};
use crate::quantity::unit::{self, Unit};
use crate::quantity::{Quantity, UnitSystem, significant, with_decimals};
use crate::site::{Acid, ChemicalKind};
use serde::Serialize;
use std::fmt::Write as _;

const CAUTION: &str = "Caution: acids, biocides and oxidants burn and poison, and some make toxic \
gas together: keep to the safety data sheets, never mix products, and let trained people handle \
and feed them. A dose is no proof of control: test residuals and bacteria as the water management \
plan and the local code ask. Discharge only as the permit allows.";

const POUND_KG: f64 = 0.453_592_37;
const US_GALLON_L: f64 = 3.785_411_784;

/// The units that people see.
struct Units {
    mass: (&'static str, f64),
    liquid: (&'static str, f64),
    flow: &'static Unit,
    volume: &'static Unit,
}

impl Units {
    fn of(system: UnitSystem) -> Self {
        let (mass, liquid) = match system {
            UnitSystem::Si => (("kg", 1.0), ("L", 1.0)),
            UnitSystem::UsCustomary => (("lb", POUND_KG), ("US gal", US_GALLON_L)),
        };
        Self {
            mass,
            liquid,
            flow: Quantity::VolumeFlow.shown_in(system),
            volume: Quantity::Volume.shown_in(system),
        }
    }

    fn mass(&self, kg: f64) -> String {
        significant(kg / self.mass.1, 3)
    }

    fn liquid(&self, litre: f64) -> String {
        significant(litre / self.liquid.1, 3)
    }

    fn flow(&self, m3_per_h: f64) -> String {
        let number = self.flow.of_si(unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h));
        format!("{} {}", significant(number, 3), self.flow.symbol)
    }

    fn volume(&self, m3: f64) -> String {
        format!("{} {}", significant(self.volume.of_si(m3), 3), self.volume.symbol)
    }
}

/// The feed as text of 80 columns. `source` names the file.
pub fn text(sheet: &FeedSheet, source: &str, style: Style) -> String {
    let mut text = String::new();
    page_head(&mut text, (&sheet.name, source), "Chemical feed", style.bold);
    let units = Units::of(style.units);
    let apparent = if sheet.cycles_are_apparent { " apparent" } else { "" };
    let words = if sheet.cycles.is_finite() {
        format!(
            "At {}{apparent} cycles: makeup {}, blowdown {}.",
            with_decimals(sheet.cycles, 2),
            units.flow(makeup(sheet)),
            units.flow(sheet.blowdown)
        )
    } else {
        "No liquid leaves: the cycles have no limit.".into()
    };
    heading(&mut text, "PRODUCT", style.bold);
    paragraph(&mut text, "", &words);
    table(&mut text, sheet, &units);
    let (hours, load) = sheet.year;
    let words = format!(
        "Day: 24 h of this load. Year: {} h at {} % of its evaporation; leaks, drift and slugs whatever the \
         load.",
        significant(hours, 4),
        significant(100.0 * load, 3)
    );
    paragraph(&mut text, "", &words);
    let total: f64 = sheet.lines.iter().filter_map(|feed| feed.cost_per_year).sum();
    if total > 0.0 {
        let currency =
            if sheet.currency.is_empty() { String::new() } else { format!(" {}", sheet.currency) };
        let words =
            format!("Cost: {}{currency} a year for those with a price.", significant(total, 3));
        paragraph(&mut text, "", &words);
    }
    heading(&mut text, "HOW", style.bold);
    for feed in &sheet.lines {
        paragraph(&mut text, "", &explained(feed, sheet, &units));
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
    super::marks::finished(text, style)
}

/// m3/h.
fn makeup(sheet: &FeedSheet) -> f64 {
    sheet.circuit.evaporation + sheet.circuit.other_losses + sheet.blowdown
}

fn table(text: &mut String, sheet: &FeedSheet, units: &Units) {
    let line = |text: &mut String, cells: [&str; 6]| {
        let [name, kind, day, volume, pump, year] = cells;
        let name: String = name.chars().take(20).collect();
        write_line(
            text,
            &format!(
                "{name:<21}\u{1f}{kind:<10}\u{1f}{day:>11}\u{1f}{volume:>13}\u{1f}{pump:>13}\u{1f}{year:>12}"
            ),
        );
    };
    let (mass, liquid) = (units.mass.0, units.liquid.0);
    line(
        text,
        [
            "",
            "",
            &format!("{mass}/day"),
            &format!("{liquid}/day"),
            &format!("{liquid}/h"),
            &format!("{mass}/year"),
        ],
    );
    end_of_head(text);
    for feed in &sheet.lines {
        let volume = feed.product_litre_per_day;
        let pumped = volume.filter(|_| feed.slug.is_none());
        line(
            text,
            [
                &feed.name,
                kind_name(feed.kind),
                &units.mass(feed.product_kg_per_day),
                &volume.map_or("-".into(), |litre| units.liquid(litre)),
                &pumped.map_or("-".into(), |litre| units.liquid(litre / 24.0)),
                &units.mass(feed.product_kg_per_year),
            ],
        );
    }
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
fn explained(feed: &FeedLine, sheet: &FeedSheet, units: &Units) -> String {
    let dose = feed.dose.map_or(String::new(), |dose| format!("{} mg/L", significant(dose, 3)));
    let product = if feed.strength < 1.0 {
        format!(", {} % of the product", significant(100.0 * feed.strength, 3))
    } else {
        ", counted as product".into()
    };
    let liquid = units.flow(sheet.blowdown + sheet.circuit.other_losses);
    match feed.kind {
        ChemicalKind::Inhibitor => format!(
            "{}: {dose}{product}, in all liquid that leaves (blowdown, drift, leakage, overflow), \
             {liquid}{}.",
            feed.name,
            if feed.decay > 0.0 { ", and what decays in the volume" } else { "" },
        ),
        ChemicalKind::Oxidant => format!(
            "{}: {} mg/L that the makeup uses up, {}, and a residual of {dose}{product}, in all \
             liquid that leaves, {liquid}, and against its decay in {}.",
            feed.name,
            significant(feed.demand.unwrap_or(0.0), 3),
            units.flow(makeup(sheet)),
            units.volume(sheet.circuit.volume),
        ),
        ChemicalKind::Acid => acid(feed, sheet, &product),
        ChemicalKind::Biocide => slug(feed, sheet, units, &dose),
    }
}

fn acid(feed: &FeedLine, sheet: &FeedSheet, product: &str) -> String {
    let Some(ph) = sheet.held_ph else {
        return format!("{}: no pH is held, so none is fed; write [ph] held = 8.0.", feed.name);
    };
    let name = match feed.acid {
        Some(Acid::Hydrochloric) => "hydrochloric acid",
        _ => "sulfuric acid",
    };
    format!(
        "{}: {} meq of {name} for a litre of makeup holds pH {} at {} cycles{product}.",
        feed.name,
        significant(feed.acid_meq_per_litre.unwrap_or(0.0), 3),
        with_decimals(ph, 2),
        with_decimals(sheet.cycles, 2)
    )
}

fn slug(feed: &FeedLine, sheet: &FeedSheet, units: &Units, dose: &str) -> String {
    let Some(slug) = &feed.slug else { return String::new() };
    let hours = |hours: f64| format!("{} h", significant(hours, 2));
    let mut words = format!(
        "{}: a slug of {} {} of product every {} makes {dose} in {}. Lock the bleed for {}{}.",
        feed.name,
        units.mass(feed.slug_product_kg.unwrap_or(0.0)),
        units.mass.0,
        hours(feed.every_hours.unwrap_or(0.0)),
        units.volume(sheet.circuit.volume),
        hours(slug.locked_hours),
        if feed.contact_is_assumed { " (assumed: common practice above 6 h)" } else { "" },
    );
    let end = sheet.cycles + slug.rise;
    let _ = match &slug.pre_bleed {
        Some(pre_bleed) => write!(
            words,
            " Bleed down to {} cycles before, {} with the valve open, so that the lock ends at {}.",
            with_decimals(pre_bleed.cycles, 2),
            hours(pre_bleed.hours),
            with_decimals(sheet.cycles, 2)
        ),
        None if end.is_finite() => write!(
            words,
            " WARNING: the lock adds {} cycles, more than the valve can bleed off before: it ends at \
             up to {}. Lock for less, or enlarge the valve.",
            with_decimals(slug.rise, 2),
            with_decimals(end, 2)
        ),
        None => Ok(()),
    };
    if let Some(effective) = slug.hours_effective {
        let _ = if effective.is_finite() {
            write!(words, " It stays above what works for {}.", hours(effective))
        } else {
            write!(words, " Nothing takes it below what works.")
        };
        if effective < slug.locked_hours {
            words.push_str(" WARNING: that is shorter than the lock: dose more.");
        }
    }
    words
}

/// Each chemical's formula with its numbers.
pub fn working(sheet: &FeedSheet, style: Style) -> String {
    let mut text = String::new();
    heading(&mut text, "WORKING (kg/day, mg/L, m3/h, m3, 1/h)", style.bold);
    let six = |number: f64| significant(number, 6);
    let liquid = sheet.blowdown + sheet.circuit.other_losses;
    for feed in &sheet.lines {
        let dose = six(feed.dose.unwrap_or(0.0));
        let (rule, numbers) = match feed.kind {
            ChemicalKind::Inhibitor => (
                "active = 0.024 * dose * (liquid + decay * volume)",
                format!(
                    "= 0.024 * {dose} * ({} + {} * {})",
                    six(liquid),
                    six(feed.decay),
                    six(sheet.circuit.volume)
                ),
            ),
            ChemicalKind::Oxidant => (
                "active = 0.024 * (demand * makeup + residual * (liquid + decay * volume))",
                format!(
                    "= 0.024 * ({} * {} + {dose} * ({} + {} * {}))",
                    six(feed.demand.unwrap_or(0.0)),
                    six(makeup(sheet)),
                    six(liquid),
                    six(feed.decay),
                    six(sheet.circuit.volume)
                ),
            ),
            ChemicalKind::Acid => (
                "active = 0.024 * makeup * meq * equivalent_mass",
                format!(
                    "= 0.024 * {} * {} * {}",
                    six(makeup(sheet)),
                    six(feed.acid_meq_per_litre.unwrap_or(0.0)),
                    six(match feed.acid {
                        Some(Acid::Hydrochloric) => crate::feed::HYDROCHLORIC_ACID,
                        _ => crate::feed::SULFURIC_ACID,
                    })
                ),
            ),
            ChemicalKind::Biocide => (
                "active = 0.001 * dose * volume * 24 / every",
                format!(
                    "= 0.001 * {dose} * {} * 24 / {}",
                    six(sheet.circuit.volume),
                    six(feed.every_hours.unwrap_or(f64::INFINITY))
                ),
            ),
        };
        let lines = [
            format!("{}: {rule}", feed.name),
            numbers,
            format!("= {} kg/day", significant(feed.active_kg_per_day, 5)),
            format!(
                "product = active / strength = {} / {} = {} kg/day",
                six(feed.active_kg_per_day),
                six(feed.strength),
                significant(feed.product_kg_per_day, 5)
            ),
        ];
        equation(&mut text, &lines, crate::feed::SOURCE);
    }
    super::marks::finished(text, style)
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
            pre_bleed_cycles: feed.slug.and_then(|slug| slug.pre_bleed).map(|bleed| bleed.cycles),
            pre_bleed_h: feed.slug.and_then(|slug| slug.pre_bleed).map(|bleed| bleed.hours),
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
