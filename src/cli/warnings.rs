//! `coldbasin warnings`

use super::site::{as_csv, as_json};
use super::{Format, Outcome, output};
use coldbasin::report::page::{self, Style};
use coldbasin::report::warnings;
use std::error::Error;
use std::path::PathBuf;

/// List every warning, its usual range, its source and what to look at
#[derive(clap::Args)]
pub struct Arguments {
    /// Form of the list
    #[arg(long, value_enum, default_value = "text")]
    format: Format,

    /// Write the list to a file instead of standard output
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let text = match arguments.format {
        Format::Text => page::text(&warnings::page(), Style::default()),
        Format::Json => as_json(&warnings::rows())?,
        Format::Csv => as_csv(&warnings::rows())?,
    };
    output::write(&text, arguments.output.as_deref(), &[])?;
    Ok(Outcome::Done)
}
