//! `coldbasin year`

use super::deliver::{Answer, Files, Shown, deliver};
use super::handout::Handout;
use super::progress::Progress;
use super::site::{CompiledSite, as_csv, as_json};
use super::{Common, Format, Outcome, Strict, input, output, parallel};
use coldbasin::model::{YearHour, YearPlan};
use coldbasin::picture;
use coldbasin::readings::weather::{self, Hour, Weather, WeatherError};
use coldbasin::report::year::{self, Year};
use coldbasin::site::Problem;
use coldbasin::site::Table;
use coldbasin::tower::prediction::CrossflowWorkspace;
use std::convert::Infallible;
use std::error::Error;
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "\
Examples:
  coldbasin year site.toml weather.csv
  coldbasin year site.toml weather.csv --set year.cold_water_set_point=\"24 degC\"
  coldbasin year site.toml station.tmy3.csv --format csv --every hour --output hours.csv";

/// Run the tower through a year of weather
///
/// The weather is an hour a row: a TMY3 file as it is, or a table whose columns are named under [weather]
/// in the site file. The tower's transfer characteristic, fitted to the design point, predicts the cold
/// water of every hour; [year] says how fans and load are run.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Site file; "-" reads standard input
    #[arg(value_name = "SITE")]
    site: PathBuf,

    /// Weather: an hour a row
    #[arg(value_name = "WEATHER")]
    weather: PathBuf,

    /// Length of the rows of csv
    #[arg(long, value_enum, default_value_t = Length::Month)]
    every: Length,

    #[command(flatten)]
    shown: Shown,

    #[command(flatten)]
    handout: Handout,

    #[command(flatten)]
    strict: Strict,

    #[command(flatten)]
    common: Common,
}

/// Length of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Length {
    /// An hour of weather
    Hour,
    /// A calendar month, then all of them
    Month,
}

/// Hours that a thread computes at once.
const PIECE: usize = 64;

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let common = &arguments.common;
    if arguments.every == Length::Hour && common.format != Format::Csv {
        return Err("--every hour goes with --format csv".into());
    }
    let site = CompiledSite::read_with(
        &arguments.site,
        &arguments.weather,
        common,
        &[Table::Log, Table::Chemical],
    )?;
    let model = &site.model;
    let plan = model.year_plan(model.base()).map_err(|why| site.refused(&why))?;
    let name = arguments.weather.display();
    let weather = weather(&site, &arguments.weather, plan.pressure_pascal())?;
    let hours = all_hours(&plan, &weather.hours);
    let sheet = plan.sheet(&hours);
    let source = format!("{} and {name}", site.name);
    let year =
        Year { plan: &plan, sheet: &sheet, hours: &hours, weather: &weather, source: &source };
    deliver(
        &Answer {
            page: &|units| year::page(&year, units),
            working: &|_| year::working(&year),
            json: &|| as_json(&year::json(&year)),
            csv: &|| match arguments.every {
                Length::Hour => as_csv(&year::hours(&hours)),
                Length::Month => as_csv(&year::months(&sheet)),
            },
            picture: Some(&|look| picture::year(&year, look)),
        },
        (&arguments.shown, common),
        Files {
            picture: Some(&arguments.handout.picture),
            report: &arguments.handout.report,
            inputs: &[arguments.site.clone(), arguments.weather.clone()],
        },
    )?;
    if common.format == Format::Csv {
        output::tell_of_lost_rows(&name.to_string(), &weather.not_used);
    }
    Ok(arguments.strict.outcome(!year.warnings().is_empty()))
}

/// Hours of weather in the layout that the site describes; pressures that the file lacks are `pressure_pascal`.
pub fn weather(
    site: &CompiledSite,
    path: &Path,
    pressure_pascal: f64,
) -> Result<Weather, Box<dyn Error>> {
    let name = path.display();
    let in_file = |error: &dyn std::fmt::Display| format!("{name}: {error}");
    let file = input::open(path)?;
    let layout = site.model.site().weather.as_ref();
    let weather = weather::read(file, layout, pressure_pascal).map_err(|error| match error {
        WeatherError::NotDescribed => site.locate(not_described(&in_file(&error))),
        error => in_file(&error).into(),
    })?;
    if weather.hours.is_empty() {
        return Err(no_hours(&weather, &name.to_string()).into());
    }
    Ok(weather)
}

fn not_described(message: &str) -> Problem {
    Problem::new("weather", message).with_help(
        "add [weather] with time = \"...\" and a [[weather.column]] for dry_bulb and one for wet_bulb, relative_humidity or dew_point",
    )
}

fn no_hours(weather: &Weather, name: &str) -> String {
    match weather.not_used.listed.first() {
        Some(refused) => {
            format!("{name}:{}: no hour can be used: {}", refused.line, refused.reason)
        }
        None => format!("{name}: no hour of weather"),
    }
}

fn all_hours(plan: &YearPlan<'_>, hours: &[Hour]) -> Vec<YearHour> {
    let mut done = Vec::with_capacity(hours.len());
    let mut progress = Progress::new("hours", hours.len() as u64);
    let pieces = 0..hours.len().div_ceil(PIECE) as u64;
    let piece = |work: &mut CrossflowWorkspace, piece: u64| {
        let from = piece as usize * PIECE;
        let until = hours.len().min(from + PIECE);
        hours[from..until].iter().map(|hour| plan.hour(hour, work)).collect::<Vec<_>>()
    };
    let taken = parallel::in_order(
        pieces,
        parallel::threads(),
        CrossflowWorkspace::default,
        piece,
        |piece: Vec<YearHour>| {
            progress.advance(piece.len() as u64);
            done.extend(piece);
            Ok::<(), Infallible>(())
        },
    );
    let Ok(()) = taken;
    done
}
