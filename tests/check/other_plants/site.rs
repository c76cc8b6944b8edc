//! Site file and log, as the owner of the plant writes them.

use std::fmt::Write;

use super::book::{Channel, Dates};
use super::plant::{Bleed, Works, stated};
use super::random::Random;
use super::slips::Row;
use super::water::{
    BICARBONATE, CALCIUM, CHLORIDE, MAGNESIUM, NITRATE, POTASSIUM, SODIUM, SULFATE,
};
use super::{Plant, water::Source};

/// Grams in an equivalent.
const WEIGHTS: [(usize, &str, f64, &str); 7] = [
    (CALCIUM, "calcium", 20.04, "Ca"),
    (MAGNESIUM, "magnesium", 12.15, "Mg"),
    (SODIUM, "sodium", 22.99, "Na"),
    (POTASSIUM, "potassium", 39.10, "K"),
    (CHLORIDE, "chloride", 35.45, "Cl"),
    (SULFATE, "sulfate", 48.03, "SO4"),
    (NITRATE, "nitrate", 62.0, "NO3"),
];

/// Lines of a file.
struct File(String);

impl File {
    fn line(&mut self, line: std::fmt::Arguments) {
        // Writing into a string never fails.
        let _ = writeln!(self.0, "{line}");
    }
}

/// A laboratory's analysis: 2 to 3 % off in each number (common practice), of water as it was on that day.
fn analysis(file: &mut File, random: &mut Random, source: &Source, depth: usize) {
    let strength = 1.0 + 0.02 * random.normal();
    let mut found =
        |value: f64| stated(value * strength * random.normal_within(1.0, 0.02, 0.05), 3);
    file.line(format_args!("[makeup.analysis]"));
    if depth < 2 {
        file.line(format_args!("ph = {:.1}", source.ph));
    }
    file.line(format_args!("conductivity = \"{} uS/cm\"", found(source.conductivity(1.0)).round()));
    if depth == 2 {
        return;
    }
    let alkalinity = found(source.ions[BICARBONATE] * 50.04);
    file.line(format_args!("alkalinity = \"{alkalinity} mg/L as CaCO3\""));
    let mut charge = -alkalinity / 50.04;
    for (ion, name, weight, symbol) in WEIGHTS {
        if depth == 0 || matches!(ion, CALCIUM | MAGNESIUM | CHLORIDE | SULFATE) {
            let value = found(source.ions[ion] * weight);
            charge += if ion < BICARBONATE { value } else { -value } / weight;
            file.line(format_args!("{name} = \"{value} mg/L as {symbol}\""));
        }
    }
    if depth == 0 {
        let silica = found(source.silica);
        file.line(format_args!("silica = \"{silica} mg/L as SiO2\""));
    } else {
        // Sodium and nitrate were not analysed; what the sum lacks is named.
        let lacks = if charge < 0.0 { "sodium" } else { "chloride" };
        file.line(format_args!("balance_with = \"{lacks}\""));
    }
}

/// The site file.
pub fn site(works: &Works) -> String {
    let mut random = Random::stream(works.seed, "site");
    let plates = &works.plates;
    let us = works.plant == Plant::Workshop;
    let temperature = |t: f64| {
        if us { format!("{} degF", (t * 1.8 + 32.0).round()) } else { format!("{t} degC") }
    };
    let flow = |q: f64| {
        if us { format!("{} gpm", stated(q * 4.402_868, 2)) } else { format!("{q} m3/h") }
    };
    let mut file = File(String::new());
    file.line(format_args!("# Invented: made by a simulator."));
    file.line(format_args!("coldbasin = 1"));
    let title = match works.plant {
        Plant::Chiller => "Chiller plant (invented)",
        Plant::Batches => "Batch process (invented)",
        Plant::Workshop => "Workshop (invented)",
    };
    file.line(format_args!("name = \"{title}\""));
    file.line(format_args!("[air]"));
    file.line(format_args!("dry_bulb = \"{}\"", temperature(plates.dry_bulb)));
    file.line(format_args!("wet_bulb = \"{}\"", temperature(plates.wet_bulb)));
    file.line(format_args!("altitude = \"{} m\"", works.climate.altitude));
    file.line(format_args!("[circuit]"));
    file.line(format_args!("circulation = \"{}\"", flow(plates.circulation)));
    file.line(format_args!("hot_water = \"{}\"", temperature(plates.hot)));
    file.line(format_args!("cold_water = \"{}\"", temperature(plates.cold)));
    if us {
        file.line(format_args!("volume = \"{} US gal\"", stated(plates.volume * 264.172, 2)));
    } else {
        file.line(format_args!("volume = \"{} m3\"", plates.volume));
    }
    for _ in &works.cells {
        let arrangement = if plates.counterflow { "counterflow" } else { "crossflow" };
        file.line(format_args!("[[cell]]"));
        file.line(format_args!("arrangement = \"{arrangement}\""));
        file.line(format_args!("water_to_air = {}", plates.water_to_air));
        file.line(format_args!("drift = \"{} %\"", stated(plates.drift * 100.0, 1)));
    }
    file.line(format_args!("[blowdown]"));
    file.line(format_args!("cycles = {}", plates.cycles));
    let control = match works.bleed {
        Bleed::Controller { .. } => "conductivity",
        Bleed::Paced { .. } => "makeup_paced",
        Bleed::Timer { .. } => "timer",
        Bleed::Cracked { .. } | Bleed::Round { .. } => "manual",
    };
    file.line(format_args!("control = \"{control}\""));
    let hours = works.book.columns.iter().any(|column| column.channel == Channel::ValveHours);
    if hours || random.chance(0.3) {
        file.line(format_args!("valve_flow = \"{}\"", flow(plates.valve_flow)));
    }
    for (source, share) in works.sources.iter().zip([plates.share, 1.0 - plates.share]) {
        file.line(format_args!("[[makeup]]"));
        file.line(format_args!("name = \"{}\"", source.name));
        if works.sources.len() > 1 {
            file.line(format_args!("share = \"{:.0} %\"", 100.0 * share));
        }
        file.line(format_args!("temperature = \"{}\"", temperature(plates.makeup_temperature)));
        analysis(&mut file, &mut random, source, works.book.analysis);
    }
    basin(&mut file, works);
    log(&mut file, works);
    file.0
}

/// A level is of use with the basin's area, which the drawing tells.
fn basin(file: &mut File, works: &Works) {
    if works.book.columns.iter().any(|column| column.channel == Channel::Level) {
        file.line(format_args!("[basin]"));
        file.line(format_args!("area = \"{} m2\"", stated(works.basin.area, 2)));
        file.line(format_args!("operating_level = \"{} m\"", works.basin.operating_level));
        let overflow = works.basin.operating_level + works.basin.freeboard;
        file.line(format_args!("overflow_level = \"{overflow:.2} m\""));
        file.line(format_args!("held_up = \"{} m3\"", stated(works.basin.held_up, 2)));
    }
}

fn log(file: &mut File, works: &Works) {
    let book = &works.book;
    file.line(format_args!("[log]"));
    file.line(format_args!("time = \"{}\"", if book.with_time { "time" } else { "date" }));
    match book.dates {
        Dates::DayFirst => file.line(format_args!("dates = \"day_first\"")),
        Dates::MonthFirst => file.line(format_args!("dates = \"month_first\"")),
        _ => {}
    }
    for column in &book.columns {
        file.line(format_args!("[[log.column]]"));
        file.line(format_args!("name = \"{}\"", column.header));
        file.line(format_args!("is = \"{}\"", column.is));
        file.line(format_args!("unit = \"{}\"", column.unit));
        if let Some(full) = column.rolls_over {
            file.line(format_args!("rolls_over_at = {full}"));
        }
        if column.channel == Channel::Drum {
            file.line(format_args!("every = \"7 d\""));
        }
    }
    if book.accuracy_stated {
        // What data sheets promise, and what a pen is worth.
        file.line(format_args!("[log.accuracy]"));
        file.line(format_args!("makeup = \"2 %\""));
        if book.columns.iter().any(|column| column.channel == Channel::Blowdown) {
            file.line(format_args!("blowdown = \"2.5 %\""));
        }
        file.line(format_args!("conductivity = \"{} %\"", if book.pen { 5 } else { 3 }));
        if book.pen {
            file.line(format_args!("[log.repeatability]"));
            file.line(format_args!("conductivity = \"4 %\""));
        }
    }
}

/// The log.
pub fn table(works: &Works, rows: &[Row]) -> String {
    let book = &works.book;
    let separator = book.separator;
    let mut text = String::with_capacity(rows.len() * 64);
    text.push_str(if book.with_time { "time" } else { "date" });
    for column in &book.columns {
        text.push(separator);
        text.push_str(column.header);
    }
    if book.remarks {
        text.push(separator);
        text.push_str("remarks");
    }
    text.push('\n');
    for row in rows {
        text.push_str(&book.time(row.day, row.minute));
        for cell in &row.cells {
            text.push(separator);
            text.push_str(cell);
        }
        if book.remarks {
            text.push(separator);
            text.push_str(row.remark);
        }
        text.push('\n');
    }
    text
}
