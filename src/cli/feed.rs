//! `coldbasin feed`

use super::deliver::{Answer, Files, Shown, deliver};
use super::handout::ReportFile;
use super::site::{CompiledSite, as_csv, as_json};
use super::{Common, Outcome, Strict};
use coldbasin::report::feed;
use coldbasin::report::uncertain::{self, With};
use coldbasin::site::Table;
use std::error::Error;
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  coldbasin feed site.toml
  coldbasin feed site.toml --set \"chemical.inhibitor.dose=80 mg/L\"
  coldbasin feed site.toml --format csv";

/// Tables of the site file that may be wrong without harm here.
const NOT_READ: &[Table] = &[Table::Log, Table::Weather, Table::Year];

/// Compute what each chemical of the site feeds, a day and a year
///
/// Inhibitors and oxidants are held in all liquid that leaves, biocides are given in slugs with a
/// bleed-down before and a lock after, acid holds the pH of [ph].
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Site file; "-" reads standard input
    #[arg(value_name = "SITE")]
    site: PathBuf,

    #[command(flatten)]
    shown: Shown,

    #[command(flatten)]
    report: ReportFile,

    #[command(flatten)]
    strict: Strict,

    #[command(flatten)]
    common: Common,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let common = &arguments.common;
    let site = CompiledSite::read(&arguments.site, common, NOT_READ)?;
    let model = &site.model;
    let sheet = model.feed(model.base()).map_err(|why| site.refused(&why))?;
    let sure = model.uncertain_feed(model.base());
    deliver(
        &Answer {
            page: &|units| feed::page(&sheet, &site.name, &sure, units),
            working: &|_| feed::working(&sheet),
            json: &|| {
                as_json(&With {
                    page: feed::json(&sheet, &site.name),
                    uncertain: uncertain::json(&sure),
                })
            },
            csv: &|| as_csv(&feed::lines(&sheet)),
            picture: None,
        },
        (&arguments.shown, common),
        Files {
            picture: None,
            report: &arguments.report,
            inputs: std::slice::from_ref(&arguments.site),
        },
    )?;
    Ok(arguments.strict.outcome(!sheet.notices().is_empty()))
}
