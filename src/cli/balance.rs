//! `coldbasin balance`

use super::deliver::{Answer, Files, Shown, deliver};
use super::handout::Handout;
use super::progress::Progress;
use super::site::{CompiledSite, as_json};
use super::{Common, Outcome, Strict, output, parallel};
use coldbasin::model::{BalanceSheet, Draws, Model, Uncertain};
use coldbasin::picture;
use coldbasin::quantity::UnitSystem;
use coldbasin::random::Seed;
use coldbasin::report::balance::{self, Row};
use coldbasin::report::json;
use coldbasin::report::page::{Block, Page};
use coldbasin::report::uncertain::{self, DrawsOut, With, WithDraws};
use coldbasin::site::Table;
use std::convert::Infallible;
use std::error::Error;
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "\
Examples:
  coldbasin balance site.toml
  coldbasin balance site.toml --working --units us
  coldbasin balance site.toml --set \"air.wet_bulb=24 degC\" --set blowdown.cycles=6
  coldbasin balance north.toml south.toml --format csv --output towers.csv
  cat site.toml | coldbasin balance -";

/// Tables of the site file that may be wrong without harm here.
const NOT_READ: &[Table] =
    &[Table::Log, Table::Weather, Table::Year, Table::Basin, Table::Chemical];

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

    /// Draw the uncertain inputs so often, to check the uncertainties
    #[arg(long, value_name = "DRAWS", value_parser = clap::value_parser!(u64).range(100..=100_000_000))]
    monte_carlo: Option<u64>,

    /// Seed of the draws
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,

    #[command(flatten)]
    shown: Shown,

    #[command(flatten)]
    handout: Handout,

    #[command(flatten)]
    strict: Strict,

    #[command(flatten)]
    common: Common,
}

/// Draws that a thread makes at once.
const PIECE: u64 = 256;

/// A site's sheet with what else its page shows.
struct Sheet {
    source: String,
    sheet: BalanceSheet,
    sure: Vec<Uncertain>,
    draws: Option<DrawsOut>,
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
    if arguments.sites.len() > 1 {
        arguments.handout.refuse_several()?;
    }
    if !sheets.is_empty() {
        answer(&sheets, arguments)?;
    }
    let warned = sheets.iter().any(|one| !one.sheet.warning_ids().is_empty());
    Ok(if refused { Outcome::Refused } else { arguments.strict.outcome(warned) })
}

fn answer(sheets: &[Sheet], arguments: &Arguments) -> Result<(), Box<dyn Error>> {
    // Several that were asked for are several in every form, also where only one has a balance.
    let one = sheets.first().filter(|_| arguments.sites.len() == 1);
    let draw = one.map(|one| |look| picture::balance(&one.sheet, &one.source, look));
    deliver(
        &Answer {
            page: &|units| match one {
                Some(one) => page(one, units),
                None => pages(sheets, units),
            },
            working: &|_| match one {
                Some(one) => balance::working(&one.sheet),
                None => sheets.iter().flat_map(named_working).collect(),
            },
            json: &|| match one {
                Some(one) => as_json(&WithDraws {
                    page: With {
                        page: balance::json(&one.sheet, &one.source),
                        uncertain: uncertain::json(&one.sure),
                    },
                    monte_carlo: one.draws.clone(),
                }),
                None => as_json(&balance::fleet(&pairs(sheets))),
            },
            csv: &|| as_csv(sheets),
            picture: draw.as_ref().map(|draw| draw as _),
        },
        (&arguments.shown, &arguments.common),
        Files {
            picture: Some(&arguments.handout.picture),
            report: &arguments.handout.report,
            inputs: &arguments.sites,
        },
    )
}

fn page(one: &Sheet, units: UnitSystem) -> Page {
    let mut page = balance::page(&one.sheet, &one.source, &one.sure, units);
    if let Some(draws) = &one.draws {
        // Whoever asks for draws wants to see them.
        page.answer.extend(uncertain::draws_blocks(draws, units));
    }
    page
}

/// A line for each site, then their pages.
fn pages(sheets: &[Sheet], units: UnitSystem) -> Page {
    let mut all = balance::summary(&pairs(sheets), units);
    for one in sheets {
        let Page { name, of, answer, detail } = page(one, units);
        all.detail.extend([Block::Heading(name), Block::Paragraph { level: 0, words: of }]);
        all.detail.extend(answer.into_iter().chain(detail));
    }
    all
}

fn named_working(one: &Sheet) -> Vec<Block> {
    let name = balance::page(&one.sheet, &one.source, &[], UnitSystem::Si).name;
    let mut blocks = vec![Block::Heading(name)];
    blocks.extend(balance::working(&one.sheet));
    blocks
}

fn sheet_of(path: &Path, arguments: &Arguments) -> Result<Sheet, Box<dyn Error>> {
    let site = CompiledSite::read(path, &arguments.common, NOT_READ)?;
    let model = &site.model;
    let sheet = model.sheet(model.base()).map_err(|why| site.refused(&why))?;
    let draws = arguments.monte_carlo.filter(|_| model.is_uncertain()).map(|count| {
        let drawn = drawn(model, count, arguments.seed);
        uncertain::draws(&sheet.balance, &sheet.spread, &drawn, arguments.seed)
    });
    let sure = model.uncertain_money(model.base());
    Ok(Sheet { source: site.name, sheet, sure, draws })
}

fn drawn(model: &Model, count: u64, seed: u64) -> Draws {
    let seed = Seed::new(seed);
    let mut all = Draws::default();
    let mut progress = Progress::new("draws", count);
    let pieces = 0..count.div_ceil(PIECE);
    let piece =
        |_: &mut (), piece: u64| model.draws(&seed, piece * PIECE..count.min((piece + 1) * PIECE));
    let Ok(()) = parallel::in_order(
        pieces,
        parallel::threads(),
        || (),
        piece,
        |piece: Draws| {
            progress.advance(PIECE);
            all.append(piece);
            Ok::<(), Infallible>(())
        },
    );
    all
}

fn pairs(sheets: &[Sheet]) -> Vec<(&str, &BalanceSheet)> {
    sheets.iter().map(|one| (one.source.as_str(), &one.sheet)).collect()
}

fn as_csv(sheets: &[Sheet]) -> Result<String, Box<dyn Error>> {
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
    for Sheet { source, sheet, .. } in sheets {
        for row in balance::rows(sheet) {
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
