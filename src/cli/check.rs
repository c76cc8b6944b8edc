//! `coldbasin check`

use super::site::{CompiledSite, as_csv, as_json, style};
use super::{Common, Format, Outcome, output};
use coldbasin::readings::{self, period};
use coldbasin::report::check;
use std::error::Error;
use std::fs::File;
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  coldbasin check site.toml log.csv
  coldbasin check site.toml log.csv --format csv --output days.csv";

/// Check a log day by day: did the tower use the water it should have?
///
/// The columns of the log are named under [log] in the site file. Makeup, blowdown, conductivities
/// and heat are held against the balances of water and solids; what disagrees is ranked by how well
/// a single cause explains it. Ends with status 3 when a finding stands.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Site file; "-" reads standard input
    #[arg(value_name = "SITE")]
    site: PathBuf,

    /// Log: a table with a header, separated by comma, semicolon or tab
    #[arg(value_name = "LOG")]
    log: PathBuf,

    #[command(flatten)]
    common: Common,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let common = &arguments.common;
    let site = CompiledSite::read(&arguments.site, common)?;
    let model = &site.model;
    let explain = |why| site.locate(model.explain_check(&why));
    let Some(described) = &model.site().log else {
        return Err(explain(coldbasin::model::CheckError::NoLog));
    };
    let name = arguments.log.display();
    let file = File::open(&arguments.log).map_err(|error| format!("{name}: {error}"))?;
    let mut log =
        readings::read(file, &described.layout).map_err(|error| format!("{name}: {error}"))?;
    let days = period::days(&mut log, &described.layout);
    let sheet = model.check(model.base(), &days).map_err(explain)?;
    let source = format!("{} and {name}", site.name);
    let text = match common.format {
        Format::Text => {
            check::text(&sheet, &source, (&log.refused, log.out_of_order), style(common))
        }
        Format::Json => as_json(&check::json(&sheet, &source, &log.refused))?,
        Format::Csv => as_csv(&check::days(&sheet))?,
    };
    let inputs = [arguments.site.clone(), arguments.log.clone()];
    output::write(&text, common.output.as_deref(), &inputs)?;
    Ok(if sheet.findings.is_empty() { Outcome::Done } else { Outcome::WarningStands })
}
