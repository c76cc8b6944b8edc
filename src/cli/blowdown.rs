//! `coldbasin blowdown`

use super::deliver::{Answer, Files, Shown, deliver};
use super::handout::Handout;
use super::site::{CompiledSite, as_csv as of_rows, as_json};
use super::{Common, Format, Outcome, Strict, input, output};
use coldbasin::blowdown::ConcentratedWater;
use coldbasin::model::{BlowdownSheet, Model, NoVisits};
use coldbasin::picture::{self, Costs};
use coldbasin::readings::visits;
use coldbasin::report::blowdown::{self, Beside};
use coldbasin::report::visits as report;
use coldbasin::site::Table;
use std::error::Error;
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "\
Examples:
  coldbasin blowdown site.toml
  coldbasin blowdown site.toml --set ph.held=8.0
  coldbasin blowdown site.toml --at-cycles 1,2,5 --format json
  coldbasin blowdown site.toml --visits visits.csv --picture course.svg";

/// Tables of the site file that may be wrong without harm here.
const NOT_READ: &[Table] = &[Table::Log, Table::Weather, Table::Year, Table::Basin];

/// Find the cycles that the makeup allows, and the set point
///
/// Solves the water of the makeup analysis at every number of cycles, holds it against the limits
/// of scale, materials, permits and codes, and prints the cycles that they allow, the controlling
/// limit and the next, the conductivity for the controller and the blowdown valve.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Site file; "-" reads standard input
    #[arg(value_name = "SITE")]
    site: PathBuf,

    /// Cycles whose solved waters are listed, as in 1,2,5
    #[arg(long, value_name = "CYCLES", value_delimiter = ',')]
    at_cycles: Vec<f64>,

    /// Sheet of dated analyses and tests of makeup and tower, a row each: the course over the visits
    #[arg(long, value_name = "FILE", conflicts_with = "at_cycles")]
    visits: Option<PathBuf>,

    #[command(flatten)]
    shown: Shown,

    #[command(flatten)]
    handout: Handout,

    #[command(flatten)]
    strict: Strict,

    #[command(flatten)]
    common: Common,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let common = &arguments.common;
    let is_wrong = |cycles: &&f64| !(1.0..=1e3).contains(*cycles);
    if let Some(wrong) = arguments.at_cycles.iter().find(is_wrong) {
        return Err(format!("--at-cycles {wrong}: cycles are from 1 to 1000").into());
    }
    if let Some(sheet) = &arguments.visits {
        return visits(arguments, sheet);
    }
    let site = CompiledSite::read(&arguments.site, common, NOT_READ)?;
    let model = &site.model;
    let sheet = model.blowdown(model.base()).map_err(|why| site.refused(&why))?;
    let waters = waters(model, &sheet, &arguments.at_cycles)?;
    let costs = Costs {
        of: &|balances| model.costs_per_year(model.base(), balances).ok().flatten(),
        currency: &model.site().cost.currency,
    };
    let given = model.analyses_used(model.base());
    let beside = Beside { slots: model.slots(), waters: &waters, given: &given };
    deliver(
        &Answer {
            page: &|units| blowdown::page(&sheet, &site.name, beside, units),
            working: &|_| blowdown::working(&sheet),
            json: &|| as_json(&blowdown::json(&sheet, &site.name, beside)),
            csv: &|| as_csv(&waters),
            picture: Some(&|look| picture::blowdown(&sheet, &site.name, &costs, look)),
        },
        (&arguments.shown, common),
        Files {
            picture: Some(&arguments.handout.picture),
            report: &arguments.handout.report,
            inputs: std::slice::from_ref(&arguments.site),
        },
    )?;
    let warned = sheet.target_cycles.is_none() || !sheet.warnings.is_empty();
    Ok(arguments.strict.outcome(warned))
}

/// The course over the visits of a sheet.
fn visits(arguments: &Arguments, sheet: &Path) -> Result<Outcome, Box<dyn Error>> {
    let common = &arguments.common;
    let site = CompiledSite::read_with(&arguments.site, sheet, common, NOT_READ)?;
    let model = &site.model;
    let name = sheet.display().to_string();
    let in_file = |error: &dyn std::fmt::Display| format!("{name}: {error}");
    let file = input::open(sheet)?;
    let read = visits::read(file, &model.site().visits).map_err(|error| in_file(&error))?;
    let course = model.visits(model.base(), &read.samples).map_err(|why| match why {
        NoVisits::Blowdown(why) => site.refused(&why),
        why => match read.not_used.lost_in_words() {
            Some(lost) => format!("{name}: {why}. {lost}").into(),
            None => format!("{name}: {why}").into(),
        },
    })?;
    let source = format!("{} and {name}", site.name);
    let beside = report::Beside {
        source: &source,
        not_used: &read.not_used,
        other_columns: &read.other_columns,
    };
    deliver(
        &Answer {
            page: &|units| report::page(&course, beside, units),
            working: &|_| Vec::new(),
            json: &|| as_json(&report::json(&course, beside)),
            csv: &|| of_rows(&report::rows(&course)),
            picture: Some(&|look| picture::visits(&course, &source, look)),
        },
        (&arguments.shown, common),
        Files {
            picture: Some(&arguments.handout.picture),
            report: &arguments.handout.report,
            inputs: &[arguments.site.clone(), sheet.to_path_buf()],
        },
    )?;
    if common.format == Format::Csv {
        output::tell_of_lost_rows(&name, &read.not_used);
    }
    let warned = course.asks_for_something() || read.not_used.caution().is_some();
    Ok(arguments.strict.outcome(warned))
}

/// The waters that were asked for, else those of the sheet.
fn waters(
    model: &Model,
    sheet: &BlowdownSheet,
    cycles: &[f64],
) -> Result<Vec<ConcentratedWater>, Box<dyn Error>> {
    if cycles.is_empty() {
        return Ok(sheet.waters.clone());
    }
    cycles.iter().map(|cycles| Ok(model.water_at(sheet, *cycles)?)).collect()
}

/// One row a water.
fn as_csv(waters: &[ConcentratedWater]) -> Result<String, Box<dyn Error>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let rows: Vec<Vec<(String, f64)>> = waters.iter().map(blowdown::columns).collect();
    if let Some(first) = rows.first() {
        writer.write_record(first.iter().map(|(key, _)| key.as_str()))?;
    }
    for row in &rows {
        writer.write_record(row.iter().map(|(_, value)| value.to_string()))?;
    }
    Ok(String::from_utf8(writer.into_inner()?)?)
}
