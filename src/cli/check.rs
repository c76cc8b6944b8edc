//! `coldbasin check`

use super::deliver::{Answer, Files, Shown, deliver};
use super::handout::Handout;
use super::progress::Watched;
use super::site::{CompiledSite, as_csv, as_json};
use super::{Common, Format, Outcome, Strict, input, output, two_readings};
use coldbasin::model::CheckError;
use coldbasin::picture;
use coldbasin::readings;
use coldbasin::readings::period::{self, Cut, Every};
use coldbasin::report::check::{self, LastCheck};
use coldbasin::site::Table;
use jiff::civil::{Date, DateTime};
use std::error::Error;
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "\
Examples:
  coldbasin check site.toml log.csv
  coldbasin check site.toml log.csv --from 2026-03-01 --every week
  coldbasin check site.toml log.csv --format csv --output days.csv
  coldbasin check site.toml --makeup \"214.5 m3\" --during \"24 h\"
  coldbasin check site.toml --makeup \"9 m3/h\" --blowdown \"2.1 m3/h\"";

/// Tables of the site file that may be wrong without harm here.
const NOT_READ: &[Table] = &[Table::Weather, Table::Year];

/// Check a log day by day: where did the water go?
///
/// The columns of the log are named under [log] in the site file. Makeup, blowdown, conductivities
/// and heat are held against the balances of water and solids; a change since some day is told with
/// its likely cause, what it comes to, and what to do next. Ends with status 3 when a finding stands.
/// Without a log two readings of the makeup meter will do: --makeup and --during.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Site file; "-" reads standard input
    #[arg(value_name = "SITE")]
    site: PathBuf,

    /// Log: a table with a header, separated by comma, semicolon or tab
    #[arg(value_name = "LOG", required_unless_present = "makeup", conflicts_with = "makeup")]
    log: Option<PathBuf>,

    /// Length of the periods
    #[arg(long, value_enum, default_value_t = Length::Day, conflicts_with = "makeup")]
    every: Length,

    /// First day or time that counts, such as 2026-03-01 or 2026-03-01T06:00
    #[arg(long, value_name = "TIME", value_parser = begin, conflicts_with = "makeup")]
    from: Option<DateTime>,

    /// Last day or time that counts
    #[arg(long, value_name = "TIME", value_parser = end, conflicts_with = "makeup")]
    to: Option<DateTime>,

    /// Tell only what FILE, the json of the last run, did not say; then write this run into it
    #[arg(long, value_name = "FILE", conflicts_with = "makeup")]
    since_last: Option<PathBuf>,

    #[command(flatten)]
    two: two_readings::Asked,

    #[command(flatten)]
    shown: Shown,

    #[command(flatten)]
    handout: Handout,

    #[command(flatten)]
    strict: Strict,

    #[command(flatten)]
    common: Common,
}

/// The least that a site file says of a log.
const DESCRIBED_LOG: &str = "
For example, with the headers of your own log as names (`coldbasin init` writes more of it):

[log]
time = \"date\"
[[log.column]]
name = \"makeup meter\"
is = \"makeup_register\"
unit = \"m3\"
[[log.column]]
name = \"blowdown meter\"
is = \"blowdown_register\"
unit = \"m3\"
[[log.column]]
name = \"basin\"
is = \"basin_conductivity\"
unit = \"uS/cm\"";

#[derive(Clone, Copy, clap::ValueEnum)]
enum Length {
    Hour,
    Shift,
    Day,
    Week,
}

impl From<Length> for Every {
    fn from(length: Length) -> Self {
        match length {
            Length::Hour => Self::Hour,
            Length::Shift => Self::Shift,
            Length::Day => Self::Day,
            Length::Week => Self::Week,
        }
    }
}

const TIME_FORM: &str = "write a day as 2026-03-01, or a time as 2026-03-01T06:00";

fn begin(text: &str) -> Result<DateTime, &'static str> {
    text.parse().map_err(|_| TIME_FORM)
}

/// A day counts to its end.
fn end(text: &str) -> Result<DateTime, &'static str> {
    let time = begin(text)?;
    let is_day = text.parse::<Date>().is_ok() && !text.contains(':');
    Ok(if is_day { time.date().at(23, 59, 59, 999_999_999) } else { time })
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let common = &arguments.common;
    let Some(path) = &arguments.log else {
        let (site, shown) = (&arguments.site, &arguments.shown);
        return two_readings::run(&arguments.two, site, (shown, common), &arguments.handout);
    };
    let site = CompiledSite::read_with(&arguments.site, path, common, NOT_READ)?;
    let model = &site.model;
    let name = path.display();
    let in_site = |why: &CheckError| site.refused(why);
    let Some(described) = &model.site().log else {
        return Err(format!("{}{DESCRIBED_LOG}", in_site(&CheckError::NoLog)).into());
    };
    let cut = Cut { every: arguments.every.into(), from: arguments.from, to: arguments.to };
    let in_log = |error: &dyn std::fmt::Display| format!("{name}: {error}");
    let file = input::open(path)?;
    let bytes = file.metadata().map_or(0, |metadata| metadata.len());
    let file = Watched::new(file, bytes);
    let mut rows = readings::rows(file, &described.layout).map_err(|error| in_log(&error))?;
    let record =
        period::gather(&mut rows, &described.layout, &cut).map_err(|error| in_log(&error))?;
    let not_used = rows.into_not_used();
    // What is wrong with the log is not wrong with the site file.
    let explain = |why: CheckError| match (&why, not_used.caution()) {
        (CheckError::NoLog | CheckError::Infeasible(_), _) => in_site(&why),
        (_, None) => format!("{name}: {why}").into(),
        (_, Some(caution)) => format!("{name}: {why}. {caution}").into(),
    };
    let mut sheet = model.check(model.base(), &record.periods).map_err(explain)?;
    let source = format!("{} and {name}", site.name);
    let recorded = &record.recorded;
    let log = check::Log {
        source: &source,
        every: cut.every,
        not_used: &not_used,
        values: (record.values, described.layout.values.is_some()),
        repairs: &record.repairs,
        recorded,
    };
    let inputs = [arguments.site.clone(), path.clone()];
    let mut to_keep = None;
    if let Some(last) = &arguments.since_last {
        let told = last_check(last, &sheet.name)?;
        to_keep = Some((last, as_json(&check::json(&sheet, &log))?));
        sheet.findings.retain(|finding| told.is_news(finding));
    }
    // Once it was told.
    let keep = || match &to_keep {
        Some((last, now)) => output::write(now, Some(last), &inputs),
        None => Ok(()),
    };
    if to_keep.is_some() && sheet.findings.is_empty() {
        keep()?;
        return Ok(Outcome::Done);
    }
    let sheet = sheet;
    deliver(
        &Answer {
            page: &|units| check::page(&sheet, &log, units),
            working: &|_| check::working(&sheet, &log),
            json: &|| as_json(&check::json(&sheet, &log)),
            csv: &|| as_csv(&check::periods(&sheet)),
            picture: Some(&|look| picture::check(&sheet, &log, look)),
        },
        (&arguments.shown, common),
        Files {
            picture: Some(&arguments.handout.picture),
            report: &arguments.handout.report,
            inputs: &inputs,
        },
    )?;
    keep()?;
    if common.format == Format::Csv {
        output::tell_of_lost_rows(&name.to_string(), &not_used);
    }
    Ok(match sheet.finding_stands() {
        true => Outcome::WarningStands,
        false => arguments.strict.outcome(!log.warnings().is_empty()),
    })
}

/// What the last run said; of a file that is not there yet, nothing.
fn last_check(path: &Path, site: &str) -> Result<LastCheck, Box<dyn Error>> {
    let name = path.display();
    let text = match std::fs::read_to_string(path) {
        Ok(text) => text,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            return Ok(LastCheck::default());
        }
        Err(error) => return Err(format!("{name}: {error}").into()),
    };
    let last: LastCheck = serde_json::from_str(&text).map_err(|_| {
        format!(
            "{name}: this is no json of a check: name a file that --since-last may write itself"
        )
    })?;
    match last.site == site {
        true => Ok(last),
        false => Err(format!(
            "{name}: this is the last check of {}, not of {site}: keep a file for each site",
            last.site
        )
        .into()),
    }
}
