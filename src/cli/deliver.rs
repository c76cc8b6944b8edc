//! The one place where an answer leaves the program: as text, json or csv, as a picture, as a page to
//! hand over.

use super::handout::{Made, PictureFile, ReportFile};
use super::{Common, Format, output};
use coldbasin::picture::{Look, Picture};
use coldbasin::printable::printable_cell;
use coldbasin::quantity::UnitSystem;
use coldbasin::report::page::{self, Block, Depth, Page};
use std::borrow::Cow;
use std::error::Error;
use std::path::PathBuf;

/// How much of a page is shown.
#[derive(clap::Args, Default)]
pub struct Shown {
    /// Show all of the page: every table, what it rests on, how sure it is
    #[arg(long)]
    full: bool,

    /// Show each equation with its numbers and source, and all of the page
    #[arg(long)]
    working: bool,
}

impl Shown {
    /// Whether all of the page is asked for.
    pub fn is_whole(&self) -> bool {
        self.full || self.working
    }
}

/// What a command answers, each form made when it is asked for.
pub struct Answer<'a> {
    /// For people.
    pub page: &'a dyn Fn(UnitSystem) -> Page,
    /// Each equation with its numbers, for the end of the page.
    pub working: &'a dyn Fn(UnitSystem) -> Vec<Block>,
    /// For programs.
    pub json: &'a dyn Fn() -> Result<String, Box<dyn Error>>,
    /// For spreadsheets.
    pub csv: &'a dyn Fn() -> Result<String, Box<dyn Error>>,
    /// To look at.
    pub picture: Option<&'a dyn Fn(Look) -> Picture>,
}

/// Where an answer goes besides its text.
#[derive(Clone, Copy)]
pub struct Files<'a> {
    /// Where a picture goes, for commands that draw.
    pub picture: Option<&'a PictureFile>,
    /// Where a page to hand over goes.
    pub report: &'a ReportFile,
    /// What the answer was made from: nothing is written onto these.
    pub inputs: &'a [PathBuf],
}

/// Writes an answer wherever it is wanted.
pub fn deliver(
    answer: &Answer<'_>,
    (shown, common): (&Shown, &Common),
    files: Files<'_>,
) -> Result<(), Box<dyn Error>> {
    let made = Made { inputs: files.inputs, common };
    let units = common.units.into();
    let picture = files.picture.and_then(PictureFile::path);
    output::refuse_one_place(common.output.as_deref(), &[picture, files.report.path()])?;
    if let (Some(file), Some(draw)) = (files.picture, answer.picture) {
        file.write(made, draw)?;
    }
    files.report.write(made, answer.picture, &|| answer.whole(units))?;
    let text = match common.format {
        Format::Text => answer.text(shown, common),
        Format::Json => (answer.json)()?,
        Format::Csv => without_formulas((answer.csv)()?)?,
    };
    Ok(output::write(&text, common.output.as_deref(), files.inputs)?)
}

/// CSV whose cells no spreadsheet takes for formulas.
fn without_formulas(table: String) -> Result<String, Box<dyn Error>> {
    let records = || csv::ReaderBuilder::new().has_headers(false).from_reader(table.as_bytes());
    let is_plain = |cell: &str| matches!(printable_cell(cell), Cow::Borrowed(_));
    let is_safe = |record: csv::Result<csv::StringRecord>| record.map(|it| it.iter().all(is_plain));
    if records().into_records().all(|record| is_safe(record).unwrap_or(false)) {
        return Ok(table);
    }
    let mut writer = csv::Writer::from_writer(Vec::new());
    for record in records().records() {
        writer.write_record(record?.iter().map(|cell| printable_cell(cell).into_owned()))?;
    }
    Ok(String::from_utf8(writer.into_inner()?)?)
}

impl Answer<'_> {
    /// The page with its working.
    fn whole(&self, units: UnitSystem) -> Page {
        let mut page = (self.page)(units);
        page.detail.extend((self.working)(units));
        page
    }

    fn text(&self, shown: &Shown, common: &Common) -> String {
        let units = common.units.into();
        let page = if shown.working { self.whole(units) } else { (self.page)(units) };
        // A page without an answer of its own is shown whole.
        let is_whole = shown.is_whole() || page.answer.is_empty();
        let style = page::Style {
            depth: if is_whole { Depth::Full } else { Depth::Answer },
            ascii: common.ascii,
            bold: output::is_bold(common.color, common.output.as_deref()),
        };
        page::text(&page, style)
    }
}
