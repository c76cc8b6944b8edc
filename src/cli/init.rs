//! `coldbasin init`

use super::{Outcome, Units, output, replace};
use std::error::Error;
use std::io::{ErrorKind, Write};
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  coldbasin init                       write site.toml
  coldbasin init plant.toml --units us
  coldbasin init -                     print it";

/// Write a starter site file whose comments teach the format
///
/// The tower in it is invented: put in your own. A file that is there already is left alone.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// File to write; "-" prints to standard output
    #[arg(value_name = "FILE", default_value = "site.toml")]
    file: PathBuf,

    /// Units of the values in it
    #[arg(long, value_enum, default_value = "si")]
    units: Units,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let text = starter(arguments.units);
    if arguments.file.as_os_str() == "-" {
        output::write(&text, None, &[])?;
        return Ok(Outcome::Done);
    }
    let path = arguments.file.display();
    // Whole or not at all, and no file is ever written over.
    let mut write = |file: &mut dyn Write| file.write_all(text.as_bytes());
    match replace::create(&arguments.file, &mut write) {
        Ok(()) => {
            let units = if arguments.units == Units::Us { " --units us" } else { "" };
            output::complain(&format!(
                "wrote {path}; next: edit it, then run  coldbasin balance {path}{units}"
            ));
            Ok(Outcome::Done)
        }
        Err(error) if error.kind() == ErrorKind::AlreadyExists => {
            output::complain(&format!(
                "{path}: there is a file of this name already; it was left alone"
            ));
            Ok(Outcome::Refused)
        }
        Err(error) => Err(format!("{path}: {error}").into()),
    }
}

/// The starter file; `<900 m3/h|4000 gpm>` in the template is the same value in both unit systems.
fn starter(units: Units) -> String {
    let template = include_str!("starter.toml");
    let mut text = String::with_capacity(template.len());
    let mut rest = template;
    while let Some((before, after)) = rest.split_once('<') {
        text.push_str(before);
        rest = after;
        // A sign of its own, as in "<1 mg/L", is no choice.
        let choice = after.split_once('>').map(|(choice, _)| choice);
        let both = choice.filter(|choice| !choice.contains('\n')).and_then(|c| c.split_once('|'));
        match both {
            Some((si, us)) => {
                text.push_str(if units == Units::Si { si } else { us });
                rest = &after[si.len() + us.len() + 2..];
            }
            None => text.push('<'),
        }
    }
    text.push_str(rest);
    text.lines().map(aligned).collect()
}

/// A line whose remark, two spaces or more after the entry, starts in the common column.
fn aligned(line: &str) -> String {
    const REMARKS: usize = 32;
    match line.split_once("  #") {
        Some((entry, remark)) => format!("{:<REMARKS$}#{remark}\n", entry.trim_end()),
        None => format!("{line}\n"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use coldbasin::model::Model;
    use coldbasin::site::{Description, file, validate};

    #[test]
    fn the_starter_file_has_a_balance_in_both_unit_systems() {
        let makeup = [Units::Si, Units::Us].map(|units| {
            let text = starter(units);
            assert!(!text.contains(['>', '|']), "{text}");
            let source = file::read::<Description>("site.toml", &text, &[])
                .unwrap_or_else(|e| panic!("{e}"));
            let model = Model::compile(&validate(&source.description).unwrap());
            model.sheet(model.base()).unwrap().makeup.reference_m3_per_h
        });
        // The two files round the same tower to different whole numbers.
        assert!((makeup[0] / makeup[1] - 1.0).abs() < 0.05, "{makeup:?}");
    }

    /// The part of the starter from one commented line to another, its comment marks taken off.
    fn switched_on(text: &str, from: &str, until: &str) -> String {
        let part = &text[text.find(from).unwrap()..text.find(until).unwrap()];
        part.lines().map(|line| line.trim_start_matches("# ").to_owned() + "\n").collect()
    }

    #[test]
    fn the_samples_of_log_and_weather_are_complete() {
        for units in [Units::Si, Units::Us] {
            let text = starter(units);
            let log = switched_on(&text, "# [log]", "# [[instrument]]");
            let weather = switched_on(&text, "# [weather]", "# [[chemical]]");
            let whole = format!("{text}\n{log}\n{weather}");
            let source = file::read::<Description>("site.toml", &whole, &[])
                .unwrap_or_else(|e| panic!("{e}"));
            let site = validate(&source.description).unwrap_or_else(|e| panic!("{e:?}"));
            assert!(site.log.is_some() && site.weather.is_some());
        }
    }
}
