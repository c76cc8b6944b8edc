//! Arguments, files and the terminal; everything else is the library's.

mod balance;
mod blowdown;
mod check;
mod completions;
mod deliver;
mod feed;
mod handout;
mod init;
mod input;
mod interrupted;
mod level;
mod output;
mod parallel;
mod progress;
mod replace;
mod schema;
mod site;
mod solve;
mod transient;
mod two_readings;
mod units;
mod warnings;
mod whatif;
mod year;

use clap::{Args, CommandFactory, Parser, Subcommand, ValueEnum};
use coldbasin::printable;
use coldbasin::quantity::UnitSystem;
use coldbasin::site::file::Override;
use std::path::PathBuf;
use std::process::ExitCode;

const EXAMPLES: &str = "\
Examples:
  coldbasin init site.toml                    write a starter site file
  coldbasin balance site.toml                 account for the tower's water
  coldbasin balance site.toml --units us --working
  coldbasin blowdown site.toml                find cycles and set point
  coldbasin check site.toml log.csv           hold the meters against physics
  coldbasin check site.toml log.csv --report check.html
  coldbasin check site.toml --makeup \"214.5 m3\" --during \"24 h\"
  coldbasin transient site.toml --start 1     follow the water from start-up
  coldbasin feed site.toml                    what the chemicals come to
  coldbasin level site.toml                   float valve, overflow, drain
  coldbasin whatif site.toml --vary \"blowdown.cycles=3 to 8 step 1\"
  coldbasin solve site.toml --vary losses.leakage --for \"makeup = 12 m3/h\"
  coldbasin year site.toml weather.csv        run through a year of weather
  coldbasin balance site.toml --set blowdown.cycles=6 --format json

Exit status: 0 done; 1 input refused; 2 wrong usage; 3 done, and a finding
stands, or with --strict a warning.";

/// Account for all the water of an evaporative cooling tower.
#[derive(Parser)]
#[command(version, max_term_width = 80, after_help = EXAMPLES, disable_help_subcommand = true)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    Balance(balance::Arguments),
    Blowdown(blowdown::Arguments),
    Check(check::Arguments),
    Transient(transient::Arguments),
    Feed(feed::Arguments),
    Level(level::Arguments),
    Whatif(whatif::Arguments),
    Solve(solve::Arguments),
    Year(year::Arguments),
    Init(init::Arguments),
    Units(units::Arguments),
    Warnings(warnings::Arguments),
    Schema(schema::Arguments),
    Completions(completions::Completions),
    Manual(completions::Manual),
}

/// Options that the commands share.
#[derive(Args)]
struct Common {
    /// Units that the text shows; json and csv are always SI
    #[arg(long, value_enum, default_value = "si")]
    units: Units,

    /// Form of the result
    #[arg(long, value_enum, default_value = "text")]
    format: Format,

    /// Override a value of the site file, as in blowdown.cycles=6 or "air.wet_bulb=75 degF"; repeatable
    #[arg(long = "set", value_name = "KEY=VALUE")]
    overrides: Vec<Override>,

    /// Write the result to a file instead of standard output
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,

    /// When to use bold headings
    #[arg(long, value_enum, default_value = "auto")]
    color: Color,

    /// Write ASCII only: +- and deg in place of the signs
    #[arg(long)]
    ascii: bool,
}

/// Of commands whose answers may warn.
#[derive(Args)]
struct Strict {
    /// End with status 3 if a warning stands
    #[arg(long)]
    strict: bool,
}

impl Strict {
    /// How a run ends, given whether a warning stands.
    fn outcome(&self, warned: bool) -> Outcome {
        if warned && self.strict { Outcome::WarningStands } else { Outcome::Done }
    }
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Units {
    /// m3/h, °C, kPa
    Si,
    /// gpm, °F, psi
    Us,
}

impl From<Units> for UnitSystem {
    fn from(units: Units) -> Self {
        match units {
            Units::Si => Self::Si,
            Units::Us => Self::UsCustomary,
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For people
    Text,
    /// One object; fixed keys, full precision
    Json,
    /// One row a number
    Csv,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Color {
    /// On a terminal, unless NO_COLOR is set
    Auto,
    /// Always
    Always,
    /// Never
    Never,
}

/// How a run ended.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Outcome {
    Done,
    Refused,
    WarningStands,
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> Self {
        Self::from(match outcome {
            Outcome::Done => 0,
            Outcome::Refused => 1,
            Outcome::WarningStands => 3,
        })
    }
}

/// Runs the program; usage errors end it inside the argument parser with status 2.
pub fn run() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => return usage(&error),
    };
    let outcome = match arguments.command {
        Command::Balance(arguments) => balance::run(&arguments),
        Command::Check(arguments) => check::run(&arguments),
        Command::Blowdown(arguments) => blowdown::run(&arguments),
        Command::Transient(arguments) => transient::run(&arguments),
        Command::Feed(arguments) => feed::run(&arguments),
        Command::Level(arguments) => level::run(&arguments),
        Command::Whatif(arguments) => whatif::run(&arguments),
        Command::Solve(arguments) => solve::run(&arguments),
        Command::Year(arguments) => year::run(&arguments),
        Command::Init(arguments) => init::run(&arguments),
        Command::Units(arguments) => units::run(&arguments),
        Command::Warnings(arguments) => warnings::run(&arguments),
        Command::Schema(arguments) => schema::run(&arguments),
        Command::Completions(arguments) => completions::complete(&arguments, Arguments::command()),
        Command::Manual(arguments) => completions::manual(&arguments, Arguments::command()),
    };
    outcome
        .unwrap_or_else(|error| {
            output::complain(&error.to_string());
            Outcome::Refused
        })
        .into()
}

/// Shows help, or what is wrong with the arguments, and ends with the parser's status. Where they hold
/// what a terminal obeys, the words come without the parser's own colours.
fn usage(error: &clap::Error) -> ExitCode {
    let is_obeyed =
        |word: std::ffi::OsString| word.to_string_lossy().contains(printable::is_obeyed);
    if !std::env::args_os().any(is_obeyed) {
        error.exit();
    }
    let words = error.render().to_string();
    output::complain(words.trim_end());
    u8::try_from(error.exit_code()).map_or(ExitCode::FAILURE, ExitCode::from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn arguments_are_consistent_and_documented() {
        let command = Arguments::command().help_expected(true);
        command.debug_assert();
    }
}
