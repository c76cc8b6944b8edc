//! What is handed over beside the printed result: a picture, a page.

use super::Common;
use super::output;
#[cfg(feature = "png")]
use coldbasin::picture;
use coldbasin::picture::{Look, Picture, Width};
use coldbasin::report::page;
use std::error::Error;
use std::path::{Path, PathBuf};

/// Where a picture goes.
#[derive(clap::Args)]
pub struct PictureFile {
    /// Draw the result too: FILE.svg or FILE.png
    #[arg(long, value_name = "FILE", value_parser = picture_file)]
    picture: Option<PathBuf>,
}

/// Where a page goes.
#[derive(clap::Args, Default)]
pub struct ReportFile {
    /// Write a page to hand over, with tables, working, sources and any pictures: FILE.html
    #[arg(long, value_name = "FILE", value_parser = page_file)]
    report: Option<PathBuf>,
}

/// Files beside the result.
#[derive(clap::Args)]
pub struct Handout {
    #[command(flatten)]
    pub picture: PictureFile,

    #[command(flatten)]
    pub report: ReportFile,
}

fn picture_file(text: &str) -> Result<PathBuf, &'static str> {
    let path = with_extension(text, &["svg", "png"])
        .ok_or("the name says what is drawn: end it in .svg or .png")?;
    if cfg!(feature = "png") || !is_png(&path) {
        return Ok(path);
    }
    Err("this coldbasin was built without PNG: end the name in .svg, \
         or build it with `cargo install --path . --features png`")
}

fn is_png(path: &Path) -> bool {
    path.extension().is_some_and(|end| end.eq_ignore_ascii_case("png"))
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

/// Makes a picture.
pub type Draw<'a> = &'a dyn Fn(Look) -> Picture;

/// What a result was made from, and what was asked of it.
#[derive(Clone, Copy)]
pub struct Made<'a> {
    /// Files that it was made from; nothing is written onto them.
    pub inputs: &'a [PathBuf],
    /// Options that every command has.
    pub common: &'a Common,
}

impl PictureFile {
    /// Where it goes.
    pub fn path(&self) -> Option<&Path> {
        self.picture.as_deref()
    }

    /// Writes the picture, if one is wanted.
    pub fn write(&self, made: Made<'_>, draw: Draw<'_>) -> Result<(), Box<dyn Error>> {
        let Some(path) = &self.picture else { return Ok(()) };
        let svg = draw(made.look(Width::Page)).svg();
        #[cfg(feature = "png")]
        if is_png(path) {
            made.write(&picture::png(&svg)?, path)?;
            tell_of_boxes(&svg, path);
            return Ok(());
        }
        made.write(svg.as_bytes(), path)
    }
}

/// Says on standard error which letters the picture shows as boxes.
#[cfg(feature = "png")]
fn tell_of_boxes(svg: &str, path: &Path) {
    let letters: String = picture::letters_without_shape(svg).into_iter().collect();
    if !letters.is_empty() {
        let path = path.display();
        output::complain(&format!(
            "{path}: the built-in font has no shape for {letters}; an .svg picture shows them"
        ));
    }
}

impl ReportFile {
    /// Where it goes.
    pub fn path(&self) -> Option<&Path> {
        self.report.as_deref()
    }

    /// Writes the page, if one is wanted, with a picture where there is one.
    pub fn write(
        &self,
        made: Made<'_>,
        draw: Option<Draw<'_>>,
        page: &dyn Fn() -> page::Page,
    ) -> Result<(), Box<dyn Error>> {
        let Some(path) = &self.report else { return Ok(()) };
        let both = |draw: Draw<'_>| [Width::Page, Width::Phone].map(|width| draw(made.look(width)));
        let pictures: Vec<[Picture; 2]> = draw.map(both).into_iter().collect();
        let (command, page) = (command(), page());
        let html = page::html(&page::Html { command: &command, page: &page, pictures: &pictures });
        made.write(html.as_bytes(), path)
    }
}

impl Handout {
    /// Pictures and pages show one site.
    pub fn refuse_several(&self) -> Result<(), Box<dyn Error>> {
        match (&self.picture.picture, &self.report.report) {
            (None, None) => Ok(()),
            _ => Err("--picture and --report show one site: give one site file".into()),
        }
    }
}

impl Made<'_> {
    fn look(&self, width: Width) -> Look {
        Look { units: self.common.units.into(), width }
    }

    fn write(&self, bytes: &[u8], path: &Path) -> Result<(), Box<dyn Error>> {
        Ok(output::stream(Some(path), self.inputs, |file| file.write_all(bytes))?)
    }
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
