//! `coldbasin completions` and `coldbasin manual`

use super::{Outcome, output};
use clap::Command;
use clap_complete::Shell;
use clap_mangen::Man;
use std::error::Error;
use std::path::PathBuf;

/// Print the completions of a shell
///
/// Put them where the shell looks for them, as in
/// coldbasin completions bash > ~/.local/share/bash-completion/completions/coldbasin
#[derive(clap::Args)]
pub struct Completions {
    /// The shell
    #[arg(value_enum)]
    shell: Shell,
}

/// Print a page of the manual, for man(1)
///
/// As in  coldbasin manual blowdown | man -l -
#[derive(clap::Args)]
pub struct Manual {
    /// The command that the page is of; the program itself without it
    #[arg(value_name = "COMMAND")]
    command: Option<String>,

    /// Write all pages into a folder that is there
    #[arg(long, value_name = "FOLDER", conflicts_with = "command")]
    into: Option<PathBuf>,
}

/// Prints completions.
pub fn complete(arguments: &Completions, mut program: Command) -> Result<Outcome, Box<dyn Error>> {
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut program, "coldbasin", &mut script);
    output::write(&String::from_utf8(script)?, None, &[])?;
    Ok(Outcome::Done)
}

/// Prints or writes pages of the manual.
pub fn manual(arguments: &Manual, mut program: Command) -> Result<Outcome, Box<dyn Error>> {
    program.build();
    if let Some(folder) = &arguments.into {
        for command in std::iter::once(&program).chain(program.get_subcommands()) {
            let path = folder.join(format!("{}.1", page_name(command)));
            output::write(&page(command)?, Some(&path), &[])?;
        }
        return Ok(Outcome::Done);
    }
    let command = match &arguments.command {
        None => &program,
        Some(name) => program
            .find_subcommand(name)
            .ok_or_else(|| format!("there is no command \"{name}\""))?,
    };
    output::write(&page(command)?, None, &[])?;
    Ok(Outcome::Done)
}

/// `coldbasin-balance` for the command `coldbasin balance`.
fn page_name(command: &Command) -> String {
    command.get_display_name().unwrap_or(command.get_name()).to_owned()
}

fn page(command: &Command) -> Result<String, Box<dyn Error>> {
    let mut roff = Vec::new();
    Man::new(command.clone()).title(page_name(command)).render(&mut roff)?;
    Ok(String::from_utf8(roff)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    fn program() -> Command {
        let mut program = super::super::Arguments::command();
        program.build();
        program
    }

    #[test]
    fn every_command_has_a_page_that_tells_its_options() {
        for command in program().get_subcommands() {
            let page = page(command).unwrap().replace('\\', "");
            for option in command.get_opts().filter_map(|option| option.get_long()) {
                assert!(page.contains(&format!("--{option}")), "{}: {option}", command.get_name());
            }
        }
    }

    #[test]
    fn completions_know_every_command() {
        let mut script = Vec::new();
        clap_complete::generate(Shell::Bash, &mut program(), "coldbasin", &mut script);
        let script = String::from_utf8(script).unwrap();
        for command in program().get_subcommands() {
            assert!(script.contains(command.get_name()));
        }
    }
}
