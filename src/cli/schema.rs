//! `coldbasin schema`

use super::site::as_json;
use super::{Outcome, output};
use coldbasin::site;
use std::error::Error;
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  coldbasin schema --output coldbasin.schema.json
  and, as the first line of a site file, for editors that know such directives:
  #:schema ./coldbasin.schema.json";

/// Print the JSON Schema of the site file, for editors
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Write it to a file instead of standard output
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    output::write(&as_json(&site::schema())?, arguments.output.as_deref(), &[])?;
    Ok(Outcome::Done)
}
