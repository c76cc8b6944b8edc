//! `coldbasin feed`

use super::handout::{Made, ReportFile};
use super::site::{CompiledSite, as_csv, as_json, style};
use super::{Common, Format, Outcome, output};
use coldbasin::report::feed;
use coldbasin::report::text::Style;
use coldbasin::report::uncertain::{self, With};
use std::error::Error;
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  coldbasin feed site.toml
  coldbasin feed site.toml --set \"chemical.inhibitor.dose=80 mg/L\"
  coldbasin feed site.toml --format csv";

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

    /// Show each equation with its numbers and source
    #[arg(long)]
    working: bool,

    #[command(flatten)]
    report: ReportFile,

    #[command(flatten)]
    common: Common,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let common = &arguments.common;
    let site = CompiledSite::read(&arguments.site, common)?;
    let model = &site.model;
    let sheet = model.feed(model.base()).map_err(|why| site.locate(model.explain_feed(&why)))?;
    let sure = || model.uncertain_feed(model.base());
    let print = |style: Style, has_working: bool| {
        let mut page = feed::text(&sheet, &site.name, style);
        page.push_str(&uncertain::text(&sure(), &sheet.currency, style));
        if has_working {
            page.push_str(&feed::working(&sheet, style));
        }
        page
    };
    let made = Made { inputs: std::slice::from_ref(&arguments.site), common };
    arguments.report.write(made, None, &|style| print(style, true))?;
    let text = match common.format {
        Format::Text => print(style(common), arguments.working),
        Format::Json => as_json(&With {
            page: feed::json(&sheet, &site.name),
            uncertain: uncertain::json(&sure()),
        })?,
        Format::Csv => as_csv(&feed::lines(&sheet))?,
    };
    output::write(&text, common.output.as_deref(), std::slice::from_ref(&arguments.site))?;
    Ok(Outcome::Done)
}
