//! `coldbasin level`

use super::deliver::{Answer, Files, Shown, deliver};
use super::handout::ReportFile;
use super::site::{CompiledSite, as_csv, as_json};
use super::{Common, Outcome, Strict};
use coldbasin::model::{DropReading, LevelQuestions, LevelSheet};
use coldbasin::quantity::{Duration, Length, ReadError, Stated, Uncertainty};
use coldbasin::report::level::{self, Beside};
use coldbasin::site::{DROP_READING_LIMITS, Table};
use std::error::Error;
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  coldbasin level site.toml
  coldbasin level site.toml --stuck 30 --act 20
  coldbasin level site.toml --to-cycles 2
  coldbasin level site.toml --drop \"12 mm ± 1 mm\" --during \"8 h\"
  coldbasin level site.toml --format csv --output stuck.csv";

/// In less no level is read twice.
const SHORTEST_TEST_HOURS: f64 = 1.0 / 60.0 - 1e-9;
/// No basin stands still for longer.
const LONGEST_TEST_HOURS: f64 = 60.0 * 24.0;

/// Tables of the site file that may be wrong without harm here.
const NOT_READ: &[Table] = &[Table::Log, Table::Weather, Table::Year, Table::Chemical];

/// Find where the basin settles, what overflows and what runs dry
///
/// Float valve, pump stop and restart, makeup lost, valve stuck open, drain left open, rain: water
/// and dissolved solids followed in time. Needs [basin] in the site file; csv is the course of the
/// stuck valve.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Site file; "-" reads standard input
    #[arg(value_name = "SITE")]
    site: PathBuf,

    /// How far the makeup valve is stuck open, in %
    #[arg(long, value_name = "PERCENT", default_value_t = 100.0)]
    stuck: f64,

    /// Minutes that an alarm should leave to act
    #[arg(long, value_name = "MINUTES", default_value_t = 30.0)]
    act: f64,

    /// Cycles to bring the water down to
    #[arg(long, value_name = "CYCLES")]
    to_cycles: Option<f64>,

    /// Drop test with fans and pumps off, makeup and bleed shut: fall of the level, as in "12 mm ± 1 mm"
    #[arg(long, value_name = "LENGTH", requires = "during", allow_hyphen_values = true)]
    drop: Option<String>,

    /// How long the drop test lasted, as in "8 h"
    #[arg(long, value_name = "TIME", requires = "drop")]
    during: Option<String>,

    #[command(flatten)]
    shown: Shown,

    #[command(flatten)]
    report: ReportFile,

    #[command(flatten)]
    strict: Strict,

    #[command(flatten)]
    common: Common,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let common = &arguments.common;
    for (name, value, most) in
        [("--stuck", arguments.stuck, 100.0), ("--act", arguments.act, 10_080.0)]
    {
        if !(value > 0.0 && value <= most) {
            return Err(format!("{name} {value}: it must be above 0 and at most {most}").into());
        }
    }
    let site = CompiledSite::read(&arguments.site, common, NOT_READ)?;
    let model = &site.model;
    let questions = LevelQuestions {
        stuck: arguments.stuck / 100.0,
        act_hours: arguments.act / 60.0,
        to_cycles: arguments.to_cycles,
        drop_test: drop_reading(arguments)?,
    };
    if let Some(wrong) = arguments.to_cycles.filter(|cycles| cycles.is_nan() || *cycles <= 1.0) {
        return Err(format!("--to-cycles {wrong}: makeup cannot bring it to 1 or below").into());
    }
    let sheet = model.level(model.base(), questions).map_err(|why| site.refused(&why))?;
    refuse_what_cannot_be(arguments, &sheet)?;
    let sure = model.uncertain_level(model.base(), questions);
    let beside = Beside { slots: model.slots(), uncertain: &sure };
    deliver(
        &Answer {
            page: &|units| level::page(&sheet, &site.name, beside, units),
            working: &|_| level::working(&sheet),
            json: &|| as_json(&level::json(&sheet, &site.name, beside)),
            csv: &|| as_csv(&level::points(&sheet)),
            picture: None,
        },
        (&arguments.shown, common),
        Files {
            picture: None,
            report: &arguments.report,
            inputs: std::slice::from_ref(&arguments.site),
        },
    )?;
    Ok(arguments.strict.outcome(!sheet.warnings.is_empty()))
}

/// Questions that this basin cannot answer.
fn refuse_what_cannot_be(arguments: &Arguments, sheet: &LevelSheet) -> Result<(), Box<dyn Error>> {
    let today = sheet.circuit.cycles;
    if let Some(to) = arguments.to_cycles.filter(|to| *to >= today) {
        return Err(format!(
            "--to-cycles {to}: the water stands at {today:.2} cycles; draining and refilling brings it \
             down only"
        )
        .into());
    }
    let depth = sheet.basin.operating_level;
    match (&arguments.drop, sheet.questions.drop_test) {
        (Some(drop), Some(read)) if read.drop.0 > 1e3 * depth => Err(format!(
            "--drop {drop}: the basin is {depth:.2} m deep at its operating level, no test falls further"
        )
        .into()),
        _ => Ok(()),
    }
}

/// A drop test's readings with their standard uncertainties; usual limits where none is stated.
fn drop_reading(arguments: &Arguments) -> Result<Option<DropReading>, Box<dyn Error>> {
    let (Some(drop), Some(during)) = (&arguments.drop, &arguments.during) else { return Ok(None) };
    let wrong = |option: &str, text: &str, error: ReadError| format!("{option} {text}: {error}");
    let fall: Stated<Length> = drop.parse().map_err(|error| wrong("--drop", drop, error))?;
    let time: Stated<Duration> =
        during.parse().map_err(|error| wrong("--during", during, error))?;
    let standard = |stated: Option<Uncertainty>, limit: f64| {
        stated.unwrap_or(Uncertainty::limit(limit)).standard()
    };
    let (level, seconds) = DROP_READING_LIMITS;
    let hours = time.value.in_hours();
    if !(SHORTEST_TEST_HOURS..=LONGEST_TEST_HOURS).contains(&hours) {
        return Err(format!("--during {during}: a drop test lasts from 1 min to 60 d").into());
    }
    Ok(Some(DropReading {
        drop: (fall.value.in_metre() * 1e3, standard(fall.uncertainty, level) * 1e3),
        hours: (hours, standard(time.uncertainty, seconds) / 3_600.0),
        is_assumed: [fall.uncertainty.is_none(), time.uncertainty.is_none()],
    }))
}
