//! `coldbasin units`

use super::site::{as_csv, as_json};
use super::{Format, Outcome, output};
use coldbasin::report::page::{self, Style};
use coldbasin::report::units;
use std::error::Error;
use std::path::PathBuf;

/// List every unit that is read, its factor and source, and what is refused
#[derive(clap::Args)]
pub struct Arguments {
    /// Form of the list
    #[arg(long, value_enum, default_value = "text")]
    format: Format,

    /// Write ASCII only: deg and u in place of the signs
    #[arg(long)]
    ascii: bool,

    /// Write the list to a file instead of standard output
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let style = Style { ascii: arguments.ascii, ..Style::default() };
    let text = match arguments.format {
        Format::Text => page::text(&units::page(), style),
        Format::Json => as_json(&units::units())?,
        Format::Csv => as_csv(&units::rows())?,
    };
    output::write(&text, arguments.output.as_deref(), &[])?;
    Ok(Outcome::Done)
}
