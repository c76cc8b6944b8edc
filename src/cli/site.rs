//! A site file as a model.

use super::{Common, input, output};
use coldbasin::model::{Model, Refused};
use coldbasin::printable::printable_json;
use coldbasin::site::file::{Diagnostic, Override, Source};
use coldbasin::site::{Description, Problem, Table, file, validate_without};
use std::error::Error;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// A site file's text, of which several models can be made.
pub struct SiteText {
    name: String,
    text: String,
}

impl SiteText {
    /// Reads a file.
    pub fn read(path: &Path) -> Result<Self, Box<dyn Error>> {
        let (name, text) = input::read(path)?;
        Ok(Self { name, text })
    }

    /// The model with the overrides of the command line and further ones.
    pub fn compiled(
        &self,
        common: &Common,
        further: &[Override],
        unread: &[Table],
    ) -> Result<CompiledSite, Box<dyn Error>> {
        let overrides = [&common.overrides, further].concat();
        CompiledSite::of((&self.name, &self.text), &overrides, unread)
    }
}

/// A model with the texts that it came from.
pub struct CompiledSite {
    /// What the file is called.
    pub name: String,
    /// The model.
    pub model: Model,
    source: Source<Description>,
}

impl CompiledSite {
    /// Reads a file, lays the overrides over it and checks all of it. What is wrong in a table that the
    /// command does not read is told and stops nothing.
    pub fn read(path: &Path, common: &Common, unread: &[Table]) -> Result<Self, Box<dyn Error>> {
        SiteText::read(path)?.compiled(common, &[], unread)
    }

    /// A text with what was laid over it.
    fn of(
        (name, text): (&str, &str),
        overrides: &[Override],
        unread: &[Table],
    ) -> Result<Self, Box<dyn Error>> {
        let problems =
            |rest: &Description| validate_without(rest, unread).err().unwrap_or_default();
        let tables: Vec<&str> = unread.iter().map(|table| table.name()).collect();
        let (source, unknown) = file::read_without((name, text), overrides, &tables, problems)?;
        let (site, not_read) = validate_without(&source.description, unread)
            .map_err(|problems| source.locate(problems))?;
        for Diagnostic { line, message, .. } in unknown {
            output::complain(&format!("note: {name}:{line}: {message}; not read here"));
        }
        for problem in not_read {
            let Problem { path, message, .. } = problem;
            output::complain(&format!("note: {name}: {path}: {message}; not read here"));
        }
        let name = with_overrides(name.to_owned(), overrides);
        Ok(Self { name, model: Model::compile(&site), source })
    }

    /// Reads a file that comes with a table, a log or weather; where the two are swapped, that is told.
    pub fn read_with(
        path: &Path,
        table: &Path,
        common: &Common,
        unread: &[Table],
    ) -> Result<Self, Box<dyn Error>> {
        Self::read(path, common, unread).map_err(|error| {
            if looks_like_site_file(path) == Some(false)
                && looks_like_site_file(table) == Some(true)
            {
                let (site, table) = (table.display(), path.display());
                format!("{table} is no site file, and {site} looks like one: are the two swapped?")
                    .into()
            } else {
                error
            }
        })
    }

    /// Why the site has no answer, at the place of its file.
    pub fn refused(&self, why: &dyn Refused) -> Box<dyn Error> {
        self.locate(why.problem(&self.model))
    }

    /// A problem shown at its place.
    pub fn locate(&self, problem: Problem) -> Box<dyn Error> {
        self.source.locate(vec![problem]).into()
    }
}

/// By the beginning of a file; `None` where it cannot be read, or no second time.
fn looks_like_site_file(path: &Path) -> Option<bool> {
    const BEGINNING: u64 = 65_536;
    let mut bytes = Vec::new();
    let file = File::open(path).ok()?;
    if !file.metadata().ok()?.is_file() {
        return None;
    }
    file.take(BEGINNING).read_to_end(&mut bytes).ok()?;
    Some(file::looks_like_one(&String::from_utf8_lossy(&bytes)))
}

/// A file's name with what was laid over it, so that a page says what it was made from.
fn with_overrides(name: String, overrides: &[Override]) -> String {
    /// That a line of the head holds.
    const MOST_NAMED: usize = 2;
    let named: String =
        overrides.iter().take(MOST_NAMED).map(|set| format!(" --set {set}")).collect();
    match overrides.len().saturating_sub(MOST_NAMED) {
        0 => format!("{name}{named}"),
        more => format!("{name}{named} and {more} more"),
    }
}

/// Rows as CSV, with their keys as the header.
pub fn as_csv<R: serde::Serialize>(rows: &[R]) -> Result<String, Box<dyn Error>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.serialize(row)?;
    }
    Ok(String::from_utf8(writer.into_inner()?)?)
}

/// An object as JSON with its line's end.
pub fn as_json(object: &impl serde::Serialize) -> Result<String, Box<dyn Error>> {
    Ok(format!("{}\n", printable_json(&serde_json::to_string_pretty(object)?)))
}
