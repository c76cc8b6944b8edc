//! What is handed over beside the printed result: a picture, a page.

use super::Common;
use super::output::{self, OutputError};
use coldbasin::picture::{self, Look, Picture, Width};
use coldbasin::report::html::{self, Page};
use coldbasin::report::text::Style;
use std::error::Error;
use std::path::{Path, PathBuf};

/// Files beside the result.
#[derive(clap::Args)]
pub struct Handout {
    /// Draw the result too: FILE.svg or FILE.png
    #[arg(long, value_name = "FILE", value_parser = picture_file)]
    picture: Option<PathBuf>,

    /// Write a page to hand over, with pictures, tables, working and sources: FILE.html
    #[arg(long, value_name = "FILE", value_parser = page_file)]
    report: Option<PathBuf>,
}

fn picture_file(text: &str) -> Result<PathBuf, &'static str> {
    with_extension(text, &["svg", "png"])
        .ok_or("the name says what is drawn: end it in .svg or .png")
}

fn page_file(text: &str) -> Result<PathBuf, &'static str> {
    with_extension(text, &["html", "htm"]).ok_or("a report is a page: end its name in .html")
}

/// A path that ends in one of the extensions.
fn with_extension(text: &str, extensions: &[&str]) -> Option<PathBuf> {
    let path = PathBuf::from(text);
    let extension = path.extension()?.to_str()?.to_ascii_lowercase();
    extensions.contains(&extension.as_str()).then_some(path)
}

/// What is handed over of a result.
pub struct Contents<'a> {
    /// Files that the result was made from.
    pub inputs: &'a [PathBuf],
    /// Options that every command has.
    pub common: &'a Common,
    /// Makes the picture; some results have none.
    pub draw: Option<&'a dyn Fn(Look) -> Picture>,
    /// Makes the printed page, working included.
    pub print: &'a dyn Fn(Style) -> String,
}

impl Handout {
    /// Whether nothing is asked for.
    pub fn is_empty(&self) -> bool {
        self.picture.is_none() && self.report.is_none()
    }

    /// Pictures and pages show one site.
    pub fn refuse_several(&self) -> Result<(), Box<dyn Error>> {
        match self.is_empty() {
            true => Ok(()),
            false => Err("--picture and --report show one site: give one site file".into()),
        }
    }

    /// Writes what is asked for: whole files, none onto an input or onto the result.
    pub fn write(&self, contents: &Contents<'_>) -> Result<(), Box<dyn Error>> {
        let Contents { inputs, common, .. } = contents;
        let result = common.output.as_ref();
        let files: Vec<&PathBuf> =
            [&self.picture, &self.report].into_iter().flatten().chain(result).collect();
        let twice = (1..files.len()).find(|index| files[..*index].contains(&files[*index]));
        if let Some(twice) = twice.map(|index| files[index]) {
            return Err(format!("{}: two results would be written here", twice.display()).into());
        }
        if let (Some(path), Some(draw)) = (&self.picture, contents.draw) {
            let svg = draw(look(common, Width::Page)).svg();
            let is_png = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("png"));
            let bytes = if is_png { picture::png(&svg)? } else { svg.into_bytes() };
            write_bytes(&bytes, path, inputs)?;
        }
        if let Some(path) = &self.report {
            let style = Style { units: common.units.into(), marked: true, ..Style::default() };
            let pictures: Vec<[Picture; 2]> = contents
                .draw
                .iter()
                .map(|draw| [Width::Page, Width::Phone].map(|width| draw(look(common, width))))
                .collect();
            let text = (contents.print)(style);
            let page = Page { command: &command(), text: &text, pictures: &pictures };
            write_bytes(html::page(&page).as_bytes(), path, inputs)?;
        }
        Ok(())
    }
}

fn look(common: &Common, width: Width) -> Look {
    Look { units: common.units.into(), width }
}

/// The command as it was typed, words with blanks in quotes.
fn command() -> String {
    let quoted = |word: String| match word.contains([' ', '"', '\'']) {
        true => format!("\"{}\"", word.replace('"', "\\\"")),
        false => word,
    };
    let words = std::env::args_os().skip(1).map(|word| quoted(word.to_string_lossy().into_owned()));
    std::iter::once("coldbasin".to_owned()).chain(words).collect::<Vec<_>>().join(" ")
}

fn write_bytes(bytes: &[u8], path: &Path, inputs: &[PathBuf]) -> Result<(), OutputError> {
    output::stream(Some(path), inputs, |file| file.write_all(bytes))
}
