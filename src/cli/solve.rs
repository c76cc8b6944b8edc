//! `coldbasin solve`

use super::deliver::{Answer, Files, Shown, deliver};
use super::handout::ReportFile;
use super::site::{CompiledSite, as_csv, as_json};
use super::whatif::refused;
use super::{Common, Outcome};
use coldbasin::report::solve::{self, SolutionRow, Solved};
use coldbasin::site::Table;
use coldbasin::whatif::solve::{Question, solve};
use std::error::Error;
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  coldbasin solve site.toml --vary losses.leakage --for \"makeup = 12 m3/h\"
  coldbasin solve site.toml --vary makeup.well.share --for \"allowed_cycles = 4\"
  coldbasin solve site.toml --vary air.wet_bulb --within \"5 to 25 degC\" --for \"evaporation=5 m3/h\"

Results are those of  coldbasin whatif site.toml --list.";

/// Tables of the site file that may be wrong without harm here.
const NOT_READ: &[Table] = &[Table::Log, Table::Weather, Table::Year];

/// Find the value of one input that gives a stated result
///
/// Every value within the range is found, with its uncertainty from those of the result and of all other
/// inputs. Csv has a row a value. Ends with status 3 where there is none.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Site file; "-" reads standard input
    #[arg(value_name = "SITE")]
    site: PathBuf,

    /// The input to find
    #[arg(long, value_name = "KEY")]
    vary: String,

    /// The result that it is to give; may carry ±
    #[arg(long = "for", value_name = "RESULT=VALUE")]
    wanted: String,

    /// Where to look, such as "5 to 25 degC"; the limits of the input, or a tenth to ten times what it is,
    /// without it
    #[arg(long, value_name = "RANGE", allow_hyphen_values = true)]
    within: Option<String>,

    #[command(flatten)]
    common: Common,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let common = &arguments.common;
    let site = CompiledSite::read(&arguments.site, common, NOT_READ)?;
    let model = &site.model;
    let question =
        Question::read(model, &arguments.vary, &arguments.wanted, arguments.within.as_deref())?;
    if question.column.lacks(model, false).is_some() {
        return Err(refused(&site, &question.column, false));
    }
    let answer = solve(model, &question);
    let slot = model.slot_value(question.slot);
    let solved = Solved {
        name: &model.site().name,
        source: &site.name,
        slot,
        question: &question,
        answer: &answer,
        currency: &model.site().cost.currency,
    };
    deliver(
        &Answer {
            page: &|units| solve::page(&solved, units),
            working: &|_| Vec::new(),
            json: &|| as_json(&solve::json(&solved)),
            csv: &|| match solve::solutions(&solved) {
                none if none.is_empty() => Ok(format!("{}\n", SolutionRow::HEAD.join(","))),
                rows => as_csv(&rows),
            },
            picture: None,
        },
        (&Shown::default(), common),
        Files {
            picture: None,
            report: &ReportFile::default(),
            inputs: std::slice::from_ref(&arguments.site),
        },
    )?;
    Ok(if answer.solutions.is_empty() { Outcome::WarningStands } else { Outcome::Done })
}
