//! `coldbasin schema`

use super::site::as_json;
use super::{Outcome, output};
use coldbasin::report::schema::{ResultOf, schema};
use coldbasin::site;
use std::error::Error;
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  coldbasin schema --of balance
  coldbasin schema --output coldbasin.schema.json
  and, as the first line of a site file, for editors that know such directives:
  #:schema ./coldbasin.schema.json";

/// Print the JSON Schema of the site file, for editors, or of a command's json, for programs
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// What to print the form of: the site file, or the json of a command
    #[arg(long, value_name = "WHAT", value_enum, default_value_t = What::Site)]
    of: What,

    /// Write it to a file instead of standard output
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,
}

/// Whose form is printed.
#[derive(Clone, Copy, clap::ValueEnum)]
enum What {
    Site,
    Balance,
    Blowdown,
    BlowdownVisits,
    Check,
    CheckTwoReadings,
    Feed,
    Level,
    Solve,
    Transient,
    Units,
    Warnings,
    Whatif,
    Year,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let form = match result_of(arguments.of) {
        None => site::schema(),
        Some(result) => schema(result),
    };
    output::write(&as_json(&form)?, arguments.output.as_deref(), &[])?;
    Ok(Outcome::Done)
}

/// The result that is meant; none for the site file.
fn result_of(what: What) -> Option<ResultOf> {
    Some(match what {
        What::Site => return None,
        What::Balance => ResultOf::Balance,
        What::Blowdown => ResultOf::Blowdown,
        What::BlowdownVisits => ResultOf::BlowdownVisits,
        What::Check => ResultOf::Check,
        What::CheckTwoReadings => ResultOf::CheckTwoReadings,
        What::Feed => ResultOf::Feed,
        What::Level => ResultOf::Level,
        What::Solve => ResultOf::Solve,
        What::Transient => ResultOf::Transient,
        What::Units => ResultOf::Units,
        What::Warnings => ResultOf::Warnings,
        What::Whatif => ResultOf::WhatIf,
        What::Year => ResultOf::Year,
    })
}
