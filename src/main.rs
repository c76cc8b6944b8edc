//! The command line of `coldbasin`: it parses arguments, calls the library and prints.

mod cli;

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::run()
}
