//! `coldbasin balance`

use super::handout::{Handout, Made};
use super::site::{CompiledSite, as_json, style};
use super::{Common, Format, Outcome, output};
use coldbasin::model::BalanceSheet;
use coldbasin::picture;
use coldbasin::report::{self, Row, json, text, working};
use std::error::Error;
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "\
Examples:
  coldbasin balance site.toml
  coldbasin balance site.toml --working --units us
  coldbasin balance site.toml --set \"air.wet_bulb=24 degC\" --set blowdown.cycles=6
  coldbasin balance north.toml south.toml --format csv --output towers.csv
  cat site.toml | coldbasin balance -";

/// Print the balance sheet of a tower's water
///
/// Reads a site file (see `coldbasin init`) and accounts for all the makeup: evaporation, drift,
/// blowdown, leakage and overflow, with uncertainties, warnings and what was assumed.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Site files; "-" reads standard input
    #[arg(value_name = "SITE", required = true)]
    sites: Vec<PathBuf>,

    /// Show each equation with its numbers and source
    #[arg(long)]
    working: bool,

    #[command(flatten)]
    handout: Handout,

    #[command(flatten)]
    common: Common,
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let mut sheets = Vec::new();
    let mut refused = false;
    for path in &arguments.sites {
        match sheet_of(path, arguments) {
            Ok(sheet) => sheets.push(sheet),
            Err(error) => {
                output::complain(&error.to_string());
                refused = true;
            }
        }
    }
    if !sheets.is_empty() {
        let common = &arguments.common;
        hand_out(&sheets, arguments)?;
        let text = rendered(&sheets, arguments)?;
        output::write(&text, common.output.as_deref(), &arguments.sites)?;
    }
    let warned = sheets.iter().any(|(_, sheet)| !sheet.warnings.is_empty());
    Ok(match (refused, warned && arguments.common.strict) {
        (true, _) => Outcome::Refused,
        (false, true) => Outcome::WarningStands,
        (false, false) => Outcome::Done,
    })
}

/// Picture and page of one sheet.
fn hand_out(
    sheets: &[(String, BalanceSheet)],
    arguments: &Arguments,
) -> Result<(), Box<dyn Error>> {
    match sheets {
        [(source, sheet)] if arguments.sites.len() == 1 => arguments.handout.write(
            Made { inputs: &arguments.sites, common: &arguments.common },
            &|look| picture::balance(sheet, source, look),
            &|style| text::sheet(sheet, source, style) + &working::text(sheet, style),
        ),
        _ => arguments.handout.refuse_several(),
    }
}

fn sheet_of(path: &Path, arguments: &Arguments) -> Result<(String, BalanceSheet), Box<dyn Error>> {
    let site = CompiledSite::read(path, &arguments.common)?;
    let model = &site.model;
    let sheet = model.sheet(model.base()).map_err(|why| site.locate(model.explain(&why)))?;
    Ok((site.name, sheet))
}

fn rendered(
    sheets: &[(String, BalanceSheet)],
    arguments: &Arguments,
) -> Result<String, Box<dyn Error>> {
    match arguments.common.format {
        Format::Text => Ok(as_text(sheets, arguments)),
        Format::Json => match sheets {
            [(source, sheet)] if arguments.sites.len() == 1 => as_json(&json::sheet(sheet, source)),
            several => as_json(&json::fleet(several)),
        },
        Format::Csv => as_csv(sheets),
    }
}

fn as_text(sheets: &[(String, BalanceSheet)], arguments: &Arguments) -> String {
    let common = &arguments.common;
    let style = style(common);
    let mut pages: Vec<String> = Vec::new();
    for (source, sheet) in sheets {
        let mut page = text::sheet(sheet, source, style);
        if arguments.working {
            page.push_str(&working::text(sheet, style));
        }
        pages.push(page);
    }
    if arguments.sites.len() > 1 {
        pages.push(text::summary(sheets, style));
    }
    pages.join("\n")
}

fn as_csv(sheets: &[(String, BalanceSheet)]) -> Result<String, Box<dyn Error>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record([
        "schema",
        "site",
        "source",
        "key",
        "label",
        "value",
        "standard_uncertainty",
        "unit",
        "basis",
    ])?;
    let schema = json::SCHEMA.to_string();
    for (source, sheet) in sheets {
        for row in report::rows(sheet) {
            let Row { key, label, unit, basis, .. } = row;
            let uncertainty = row.uncertainty().map(|u| u.to_string()).unwrap_or_default();
            let value = row.value().to_string();
            let fields: [&str; 9] = [
                &schema,
                &sheet.name,
                source,
                key,
                label,
                &value,
                &uncertainty,
                unit.symbol,
                basis,
            ];
            writer.write_record(fields)?;
        }
    }
    Ok(String::from_utf8(writer.into_inner()?)?)
}
