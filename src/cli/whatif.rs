//! `coldbasin whatif`

use super::handout::{Made, PictureFile};
use super::progress::Progress;
use super::site::CompiledSite;
use super::{Common, Format, Outcome, Strict, output, parallel};
use coldbasin::model::SlotId;
use coldbasin::picture::{self, Look, Run, Runs};
use coldbasin::printable::{printable, printable_json, printable_lines};
use coldbasin::report::page;
use coldbasin::report::whatif::{Layout, Name, Row, list};
use coldbasin::site::Table;
use coldbasin::whatif::columns::{COLUMNS, Column, column};
use coldbasin::whatif::{Combination, Plan, Runner};
use std::error::Error;
use std::io;
use std::ops::Range;
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  coldbasin whatif site.toml --vary \"blowdown.cycles=3 to 8 step 1\"
  coldbasin whatif site.toml --vary \"air.wet_bulb=18, 22, 26 degC\" \\
      --vary \"circuit.circulation=3000 to 5000 step 500 gpm\" --columns makeup,water_cost
  coldbasin whatif site.toml --vary circuit.circulation=uncertainty \\
      --vary \"blowdown.cycles=3 to 8\" --combine hypercube --rows 1000 --format csv
  coldbasin whatif site.toml --list

Values: a list \"3, 4, 5\", a range with a step \"18 to 26 step 2 degC\", and for draws
and hypercubes a range \"3 to 8\" or the stated \"uncertainty\".";

/// Tables of the site file that may be wrong without harm here.
const NOT_READ: &[Table] = &[Table::Log, Table::Weather, Table::Year];

/// Vary inputs and print a row of results for each
///
/// A row whose numbers have no balance tells why, and the run goes on. Rows are the same whatever the
/// number of threads; the parts of a run, joined, are the whole.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Site file; "-" reads standard input
    #[arg(value_name = "SITE")]
    site: PathBuf,

    /// An input and its values; repeatable
    #[arg(long = "vary", value_name = "KEY=VALUES", value_parser = varied, required_unless_present = "list")]
    varied: Vec<(String, String)>,

    /// How the values of several inputs are put together
    #[arg(long, value_enum, default_value_t = Together::Grid)]
    combine: Together,

    /// Rows to draw
    #[arg(long, value_name = "N")]
    rows: Option<u32>,

    /// Seed of the draws
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,

    /// Results to show, by name; "all" for all that --list has
    #[arg(long, value_name = "NAMES", value_delimiter = ',')]
    columns: Vec<String>,

    /// Begin with the site as it stands, and show how far each result is from it
    #[arg(long)]
    differences: bool,

    /// Compute one of several parts of the rows, such as 2/8
    #[arg(long, value_name = "PART/PARTS", value_parser = part)]
    part: Option<(u64, u64)>,

    /// Threads, at most 1024; as many as the machine has room for without it
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=MOST_THREADS))]
    threads: Option<u16>,

    /// List what can be varied and shown, and end
    #[arg(long)]
    list: bool,

    #[command(flatten)]
    picture: PictureFile,

    #[command(flatten)]
    strict: Strict,

    #[command(flatten)]
    common: Common,
}

/// No machine has room for more.
const MOST_THREADS: i64 = 1_024;

#[derive(Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Together {
    /// Every value with every other
    Grid,
    /// First with first, second with second
    Pairs,
    /// Each row drawn by itself
    Draws,
    /// Latin hypercube: every input covers its range evenly
    Hypercube,
}

fn varied(text: &str) -> Result<(String, String), &'static str> {
    let (key, values) =
        text.split_once('=').ok_or("write KEY=VALUES, such as \"blowdown.cycles=3, 4, 5\"")?;
    Ok((key.trim().to_owned(), values.trim().to_owned()))
}

fn part(text: &str) -> Result<(u64, u64), &'static str> {
    let both = text.split_once('/').and_then(|(part, of)| {
        let (part, of): (u64, u64) = (part.parse().ok()?, of.parse().ok()?);
        (1..=of).contains(&part).then_some((part, of))
    });
    both.ok_or("write the part and the number of parts, such as 2/8")
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Box<dyn Error>> {
    let common = &arguments.common;
    let site = CompiledSite::read(&arguments.site, common, NOT_READ)?;
    let model = &site.model;
    let inputs = [arguments.site.clone()];
    if arguments.list {
        let text = list(model.slots(), common.units.into());
        let text = if common.ascii { page::ascii(&text) } else { text };
        output::write(&text, common.output.as_deref(), &inputs)?;
        return Ok(Outcome::Done);
    }
    let plan = Plan::new(model, &arguments.varied, combination(arguments)?)?;
    plan.remarks(model).into_iter().for_each(output::complain);
    let columns = columns(&arguments.columns)?;
    let slots: Vec<SlotId> = plan.axes().iter().map(|axis| axis.slot).collect();
    let mut first = Runner::new(model, &plan, &columns);
    let base = match arguments.differences {
        true => Some(first.base().map_err(|why| site.refused(&why))?.values.to_vec()),
        false => None,
    };
    let layout = Layout {
        varied: slots.iter().map(|slot| model.slot_value(*slot)).collect(),
        columns: &columns,
        base,
        units: common.units.into(),
        currency: &model.site().cost.currency,
    };
    let printer = Printer {
        layout: &layout,
        format: common.format,
        slots: &slots,
        ascii: common.ascii,
        bold: output::is_bold(common.color, common.output.as_deref()),
    };
    let (part, of) = arguments.part.unwrap_or((1, 1));
    let rows = plan.part(part, of);
    output::refuse_one_place(common.output.as_deref(), &[arguments.picture.path()])?;
    if arguments.picture.path().is_some() {
        let runs = runs(&mut first, &slots, rows.clone())?;
        let (name, source, layout) = (&model.site().name, &site.name, &layout);
        let runs = Runs { name, source, layout, rows: &runs };
        let made = Made { inputs: &inputs, common };
        // Whether there is a picture does not depend on its width.
        picture::whatif(&runs, Look::default())?;
        let draw = |look| picture::whatif(&runs, look).unwrap_or_default();
        arguments.picture.write(made, &draw)?;
    }
    let mut stands = false;
    output::stream(common.output.as_deref(), &inputs, |out| {
        if part == 1 {
            out.write_all(&printer.head(&mut first)?)?;
        }
        let mut progress = Progress::new("rows", rows.end - rows.start);
        let pieces = 0..(rows.end - rows.start).div_ceil(PIECE);
        let threads = arguments.threads.map_or_else(parallel::threads, usize::from);
        let runner = || Runner::new(model, &plan, &columns);
        let make = |runner: &mut Runner<'_>, piece: u64| {
            let from = rows.start + piece * PIECE;
            printer.piece(runner, from..rows.end.min(from + PIECE))
        };
        parallel::in_order(pieces, threads, runner, make, |piece: io::Result<Piece>| {
            let piece = piece?;
            stands |= piece.stands;
            progress.advance(piece.rows);
            out.write_all(&piece.text)
        })
    })?;
    Ok(arguments.strict.outcome(stands))
}

/// Rows that a picture shows.
const MOST_DRAWN: u64 = 20_000;

/// Rows for a picture.
fn runs(
    runner: &mut Runner<'_>,
    slots: &[SlotId],
    rows: Range<u64>,
) -> Result<Vec<Run>, Box<dyn Error>> {
    if rows.end - rows.start > MOST_DRAWN {
        return Err(format!("--picture shows up to {MOST_DRAWN} rows").into());
    }
    let run = |row| {
        runner.set(row);
        let given = slots.iter().map(|slot| runner.inputs().get(*slot)).collect();
        (given, runner.results().ok().map(|results| results.values.to_vec()))
    };
    Ok(rows.map(run).collect())
}

/// Rows that a thread makes at once.
const PIECE: u64 = 512;

fn combination(arguments: &Arguments) -> Result<Combination, String> {
    let seed = arguments.seed;
    let drawn = || arguments.rows.ok_or("say how many rows to draw: --rows 1000".to_owned());
    if matches!(arguments.combine, Together::Grid | Together::Pairs) && arguments.rows.is_some() {
        return Err("--rows is for draws and hypercubes: add --combine draws".into());
    }
    Ok(match arguments.combine {
        Together::Grid => Combination::Grid,
        Together::Pairs => Combination::Pairs,
        Together::Draws => Combination::Draws { rows: drawn()?, seed },
        Together::Hypercube => Combination::Hypercube { rows: drawn()?, seed },
    })
}

fn columns(names: &[String]) -> Result<Vec<&'static Column>, Box<dyn Error>> {
    if names.is_empty() {
        return Ok(COLUMNS.iter().filter(|column| column.is_usual()).collect());
    }
    if names == ["all"] {
        return Ok(COLUMNS.iter().collect());
    }
    let columns: Result<Vec<_>, _> = names.iter().map(|name| column(name.trim())).collect();
    Ok(columns?)
}

struct Printer<'a> {
    layout: &'a Layout<'a>,
    format: Format,
    slots: &'a [SlotId],
    ascii: bool,
    bold: bool,
}

/// Rows as text.
struct Piece {
    text: Vec<u8>,
    rows: u64,
    /// Whether a warning or an error stands in one.
    stands: bool,
}

impl Printer<'_> {
    /// The head, and the site as it stands where differences are shown.
    fn head(&self, runner: &mut Runner<'_>) -> io::Result<Vec<u8>> {
        let mut text = match self.format {
            Format::Text => {
                let head = self.for_people(&self.layout.table_head());
                let lines = head.lines().map(|line| page::heading(line, self.bold));
                lines.collect::<String>().into_bytes()
            }
            Format::Csv => {
                let mut writer = csv::Writer::from_writer(Vec::new());
                let header = self.layout.header();
                writer.write_record(header.iter().map(|name| printable(name).into_owned()))?;
                writer.into_inner().map_err(|error| error.into_error())?
            }
            Format::Json => Vec::new(),
        };
        if self.layout.base.is_some() {
            let given = self.given(runner);
            let results = runner.base();
            self.push(&mut text, &Row { name: Name::Base, given: &given, results: &results })?;
        }
        Ok(text)
    }

    /// Lines that a terminal does not obey, in its own characters.
    fn for_people(&self, lines: &str) -> String {
        let lines = printable_lines(lines);
        if self.ascii { page::ascii(&lines) } else { lines.into_owned() }
    }

    fn given(&self, runner: &Runner<'_>) -> Vec<f64> {
        self.slots.iter().map(|slot| runner.inputs().get(*slot)).collect()
    }

    fn piece(&self, runner: &mut Runner<'_>, rows: Range<u64>) -> io::Result<Piece> {
        let mut text = Vec::with_capacity(96 * PIECE as usize);
        let mut given = vec![0.0; self.slots.len()];
        let mut stands = false;
        for row in rows.clone() {
            runner.set(row);
            for (given, slot) in given.iter_mut().zip(self.slots) {
                *given = runner.inputs().get(*slot);
            }
            let results = runner.results();
            stands |= results.as_ref().map_or(true, |results| !results.warnings.is_empty());
            self.push(
                &mut text,
                &Row { name: Name::Row(row + 1), given: &given, results: &results },
            )?;
        }
        Ok(Piece { text, rows: rows.end - rows.start, stands })
    }

    fn push(&self, text: &mut Vec<u8>, row: &Row<'_>) -> io::Result<()> {
        match self.format {
            Format::Csv => self.layout.push_csv(text, row),
            Format::Json => {
                let line = serde_json::to_string(&self.layout.object(row))?;
                text.extend(printable_json(&line).bytes());
                text.push(b'\n');
            }
            Format::Text => {
                let mut line = String::new();
                self.layout.push_table(&mut line, row);
                text.extend(self.for_people(&line).bytes());
            }
        }
        Ok(())
    }
}
