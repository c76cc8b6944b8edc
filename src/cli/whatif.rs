//! `coldbasin whatif`

use super::handout::{Made, PictureFile};
use super::progress::Progress;
use super::site::{CompiledSite, SiteText};
use super::{Common, Format, Outcome, Strict, input, output, parallel, year};
use coldbasin::picture::{self, Look, Run, Runs};
use coldbasin::printable::{printable, printable_json, printable_lines};
use coldbasin::readings::weather::Hour;
use coldbasin::report::page;
use coldbasin::report::whatif::{Layout, Name, Row, list};
use coldbasin::site::Table as SiteTable;
use coldbasin::site::file::Override;
use coldbasin::whatif::columns::{Cell, Column, Lacking, all, column};
use coldbasin::whatif::study::{Asked, Case, Given, Study, StudyRunner};
use coldbasin::whatif::table::Table;
use coldbasin::whatif::{Combination, Results};
use std::error::Error;
use std::io;
use std::ops::Range;
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "\
Examples:
  coldbasin whatif site.toml --vary \"blowdown.cycles=3 to 8 step 1\"
  coldbasin whatif site.toml --vary \"air.wet_bulb=18, 22, 26 degC\" \\
      --vary \"circuit.circulation=3000 to 5000 step 500 gpm\" --columns makeup,water_cost
  coldbasin whatif site.toml --vary circuit.circulation=uncertainty \\
      --vary \"blowdown.cycles=3 to 8\" --combine hypercube --rows 1000 --format csv
  coldbasin whatif site.toml --case \"acid: ph.held=8.0\" --case \"no acid, soft: makeup.well.share=0.2; makeup.mains.share=0.8\" \\
      --columns allowed_cycles,controlling_limit,makeup_at_target,total_cost_at_target
  coldbasin whatif site.toml --vary \"cell.1.arrangement=counterflow, crossflow\"
  coldbasin whatif site.toml --from days.csv --format csv
  coldbasin whatif site.toml --weather weather.csv --vary \"year.cold_water_set_point=20, 22 degC\" \\
      --vary \"blowdown.cycles=3, 4, 5\" --columns year_makeup,year_cost
  coldbasin whatif site.toml --list

Values: a list \"3, 4, 5\", a range with a step \"18 to 26 step 2 degC\", and for draws
and hypercubes a range \"3 to 8\" or the stated \"uncertainty\".";

/// Tables of the site file that may be wrong without harm here.
const NOT_READ: &[SiteTable] = &[SiteTable::Log, SiteTable::Weather, SiteTable::Year];
/// The same where years are asked for.
const NOT_READ_WITH_WEATHER: &[SiteTable] = &[SiteTable::Log];

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

    /// A key and its values; repeatable. Keys that are no numbers take lists of texts, and vary slowest
    #[arg(long = "vary", value_name = "KEY=VALUES", value_parser = varied, required_unless_present_any = ["list", "cases", "from"])]
    varied: Vec<(String, String)>,

    /// Settings with a name, in place of what the file says; repeatable. The site as it stands comes first
    #[arg(long = "case", value_name = "NAME: KEY=VALUE; KEY=VALUE", value_parser = case)]
    cases: Vec<Case>,

    /// Table whose header holds keys and whose lines are rows; units in the header, below it or in the cells
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,

    /// Hourly weather, for the results of a year
    #[arg(long, value_name = "FILE")]
    weather: Option<PathBuf>,

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

fn case(text: &str) -> Result<Case, String> {
    const FORM: &str = "write NAME: KEY=VALUE; KEY=VALUE, such as \"acid: ph.held=8.0\"";
    let (name, settings) = text.split_once(':').ok_or(FORM)?;
    let settings: Vec<&str> =
        settings.split(';').map(str::trim).filter(|s| !s.is_empty()).collect();
    if name.trim().is_empty() || settings.is_empty() {
        return Err(FORM.into());
    }
    let read = |setting: &&str| match setting.parse::<Override>() {
        Ok(_) => Ok((*setting).to_owned()),
        Err(error) => Err(format!("{setting}: {error}")),
    };
    let overrides = settings.iter().map(read).collect::<Result<_, _>>()?;
    Ok(Case { name: name.trim().to_owned(), overrides })
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
    let text = SiteText::read(&arguments.site)?;
    let not_read = if arguments.weather.is_some() { NOT_READ_WITH_WEATHER } else { NOT_READ };
    let site = text.compiled(common, &[], not_read)?;
    let mut inputs = vec![arguments.site.clone()];
    inputs.extend(arguments.weather.iter().chain(&arguments.from).cloned());
    let weather = match &arguments.weather {
        Some(path) => hours(&site, path)?,
        None => Vec::new(),
    };
    let has_weather = !weather.is_empty();
    if arguments.list {
        let text = list(&site.model, has_weather, common.units.into());
        let text = if common.ascii { page::ascii(&text) } else { text };
        output::write(&text, common.output.as_deref(), &inputs)?;
        return Ok(Outcome::Done);
    }
    let asked = Asked {
        cases: arguments.cases.clone(),
        varied: arguments.varied.clone(),
        table: arguments.from.as_deref().map(table).transpose()?,
        combination: combination(arguments)?,
    };
    let study = Study::new(site.model.clone(), &asked, |overrides| {
        let overrides = overrides.iter().map(|text| text.parse());
        let overrides = overrides.collect::<Result<Vec<Override>, _>>()?;
        Ok::<_, Box<dyn Error>>(text.compiled(common, &overrides, not_read)?.model)
    });
    let study = study.map_err(|error| error.to_string())?;
    study.remarks().into_iter().for_each(output::complain);
    let columns = columns(&study, &site, &arguments.columns, has_weather)?;
    let mut first = study.runner(&columns, &weather);
    // Cases are there to be told apart by people.
    let differ = arguments.differences || (study.has_cases() && common.format == Format::Text);
    let base = match differ {
        true => Some(first.base().map_err(|why| site.refused(&why))?.values.to_vec()),
        false => None,
    };
    let name = &site.model.site().name;
    let layout = Layout {
        site: if name.is_empty() { &site.name } else { name },
        longest_case: if study.has_cases() { study.longest_name() } else { 0 },
        varied: study.varied(),
        columns: &columns,
        base,
        units: common.units.into(),
        currency: &site.model.site().cost.currency,
    };
    let printer = Printer {
        layout: &layout,
        format: common.format,
        // With cases the site as it stands is one of them.
        has_base_row: arguments.differences && !study.has_cases(),
        ascii: common.ascii,
        bold: output::is_bold(common.color, common.output.as_deref()),
    };
    let (part, of) = arguments.part.unwrap_or((1, 1));
    let rows = study.part(part, of);
    output::refuse_one_place(common.output.as_deref(), &[arguments.picture.path()])?;
    if arguments.picture.path().is_some() {
        let runs = runs(&mut first, rows.clone())?;
        let (name, source, layout) = (name, &site.name, &layout);
        let runs = Runs { name, source, layout, rows: &runs };
        let made = Made { inputs: &inputs, common };
        // Whether there is a picture does not depend on its width.
        picture::whatif(&runs, Look::default())?;
        let draw = |look| picture::whatif(&runs, look).unwrap_or_default();
        arguments.picture.write(made, &draw)?;
    }
    let mut stands = false;
    let mut has_answer = false;
    let size = piece_size(&columns);
    output::stream(common.output.as_deref(), &inputs, |out| {
        if part == 1 {
            out.write_all(&printer.head(&mut first)?)?;
        }
        let mut progress = Progress::new("rows", rows.end - rows.start);
        let pieces = 0..(rows.end - rows.start).div_ceil(size);
        let threads = arguments.threads.map_or_else(parallel::threads, usize::from);
        let runner = || study.runner(&columns, &weather);
        let make = |runner: &mut StudyRunner<'_>, piece: u64| {
            let from = rows.start + piece * size;
            printer.piece(runner, from..rows.end.min(from + size))
        };
        parallel::in_order(pieces, threads, runner, make, |piece: io::Result<Piece>| {
            let piece = piece?;
            stands |= piece.stands;
            has_answer |= piece.has_answer;
            progress.advance(piece.rows);
            out.write_all(&piece.text)
        })
    })?;
    if !has_answer && rows.end > rows.start {
        output::complain(&format!(
            "{}: no row has an answer; each says why at its end",
            arguments.site.display()
        ));
        return Ok(Outcome::Refused);
    }
    Ok(arguments.strict.outcome(stands))
}

/// Hours of weather, of every year and part of one that the file holds.
fn hours(site: &CompiledSite, path: &Path) -> Result<Vec<Hour>, Box<dyn Error>> {
    let model = &site.model;
    let plan = model.year_plan(model.base()).map_err(|why| site.refused(&why))?;
    let weather = year::weather(site, path, plan.pressure_pascal())?;
    output::tell_of_lost_rows(&path.display().to_string(), &weather.not_used);
    Ok(weather.hours)
}

/// A table of rows.
fn table(path: &Path) -> Result<Table, Box<dyn Error>> {
    let name = path.display().to_string();
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(input::open(path)?);
    let mut records = Vec::new();
    for record in reader.byte_records() {
        let record = record.map_err(|error| format!("{name}: {error}"))?;
        let line = record.position().map_or(0, csv::Position::line);
        let record = csv::StringRecord::from_byte_record(record)
            .map_err(|_| format!("{name}:{line}: the text is not UTF-8; save the file as UTF-8"))?;
        let cell = |cell: &str| cell.trim_start_matches('\u{feff}').to_owned();
        records.push((line, record.iter().map(cell).collect()));
    }
    Ok(Table::new(&name, records)?)
}

/// Rows that a picture shows.
const MOST_DRAWN: u64 = 20_000;

/// Rows for a picture.
fn runs(runner: &mut StudyRunner<'_>, rows: Range<u64>) -> Result<Vec<Run>, Box<dyn Error>> {
    if rows.end - rows.start > MOST_DRAWN {
        return Err(format!("--picture shows up to {MOST_DRAWN} rows").into());
    }
    let run = |row| {
        runner.set(row);
        let given = runner.given().into_iter().map(|given| match given {
            Given::Number(si) => Cell::Number(si),
            Given::Text(text) => Cell::Text(text.to_owned()),
        });
        let given = given.collect();
        let case = runner.case().unwrap_or_default().to_owned();
        let results = runner.results().ok();
        let results = results.map(|results| results.values.iter().map(Cell::number).collect());
        Run { case, given, results }
    };
    Ok(rows.map(run).collect())
}

/// Rows that a thread makes at once: some milliseconds of work, whatever they take.
fn piece_size(columns: &[Column]) -> u64 {
    if columns.iter().any(Column::is_of_year) {
        1
    } else if columns.iter().any(Column::is_beyond_balance) {
        8
    } else {
        512
    }
}

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

/// The columns that were asked for. What no case can give is refused before any row is run.
fn columns(
    study: &Study,
    site: &CompiledSite,
    names: &[String],
    has_weather: bool,
) -> Result<Vec<Column>, Box<dyn Error>> {
    let base = study.base();
    if names.is_empty() {
        return Ok(all(base).into_iter().filter(Column::is_usual).collect());
    }
    let can = |column: &Column| {
        study.models().iter().any(|model| column.lacks(model, has_weather).is_none())
    };
    if names == ["all"] {
        return Ok(all(base).into_iter().filter(can).collect());
    }
    let mut columns = Vec::new();
    for name in names {
        let of_any = study.models().iter().find_map(|model| column(model, name.trim()).ok());
        let found = match of_any {
            Some(found) => found,
            None => column(base, name.trim())?,
        };
        if !can(&found) {
            return Err(refused(site, &found, has_weather));
        }
        columns.push(found);
    }
    Ok(columns)
}

/// What the site lacks of what a result needs.
pub fn refused(site: &CompiledSite, column: &Column, has_weather: bool) -> Box<dyn Error> {
    match column.lacks(&site.model, has_weather) {
        Some(Lacking { problem: Some(mut problem) }) => {
            problem.message = format!("no {} without it: {}", column.name, problem.message);
            site.locate(problem)
        }
        Some(lacking) => format!("{}: {}", column.name, lacking.in_words()).into(),
        None => format!("{}: no case has this result", column.name).into(),
    }
}

struct Printer<'a> {
    layout: &'a Layout<'a>,
    format: Format,
    /// Whether the site as it stands comes first, as no row.
    has_base_row: bool,
    ascii: bool,
    bold: bool,
}

/// Rows as text.
struct Piece {
    text: Vec<u8>,
    rows: u64,
    /// Whether a warning or an error stands in one.
    stands: bool,
    /// Whether one has a result.
    has_answer: bool,
}

impl Printer<'_> {
    /// The head, and the site as it stands where differences are shown.
    fn head(&self, runner: &mut StudyRunner<'_>) -> io::Result<Vec<u8>> {
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
        if self.has_base_row {
            let given = runner.base_given();
            let results = runner.base();
            let row = Row { name: Name::Base, case: None, given: &given, results: &results };
            self.push(&mut text, &row)?;
        }
        Ok(text)
    }

    /// Lines that a terminal does not obey, in its own characters.
    fn for_people(&self, lines: &str) -> String {
        let lines = printable_lines(lines);
        if self.ascii { page::ascii(&lines) } else { lines.into_owned() }
    }

    fn piece(&self, runner: &mut StudyRunner<'_>, rows: Range<u64>) -> io::Result<Piece> {
        let mut text = Vec::with_capacity(128 * (rows.end - rows.start) as usize);
        let (mut stands, mut has_answer) = (false, false);
        for row in rows.clone() {
            runner.set(row);
            let given = runner.given();
            let case = runner.case();
            let results = runner.results();
            let is_whole =
                |results: &Results<'_>| results.warnings.is_empty() && results.missing.is_none();
            stands |= !results.as_ref().is_ok_and(is_whole);
            has_answer |= results.as_ref().is_ok_and(Results::has_answer);
            let name = Name::Row(row + 1);
            self.push(&mut text, &Row { name, case, given: &given, results: &results })?;
        }
        Ok(Piece { text, rows: rows.end - rows.start, stands, has_answer })
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
