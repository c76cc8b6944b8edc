//! `coldbasin schema`

use super::site::as_json;
use super::{Outcome, output};
use clap::builder::{PossibleValuesParser, TypedValueParser};
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
    #[arg(long, value_name = "WHAT", value_parser = what(), default_value = SITE)]
    of: What,

    /// Write it to a file instead of standard output
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,
}

const SITE: &str = "site";

/// Whose form is printed: a result's; none for the site file.
#[derive(Clone, Copy)]
struct What(Option<ResultOf>);

fn what() -> impl TypedValueParser<Value = What> {
    let names = std::iter::once(SITE).chain(ResultOf::ALL.map(ResultOf::name));
    PossibleValuesParser::new(names)
        .map(|name| What(ResultOf::ALL.into_iter().find(|result| result.name() == name)))
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let form = arguments.of.0.map_or_else(site::schema, schema);
    output::write(&as_json(&form)?, arguments.output.as_deref(), &[])?;
    Ok(Outcome::Done)
}
