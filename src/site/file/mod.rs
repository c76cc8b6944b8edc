//! Reads a site file and its overrides, and shows everything wrong at its place.
//!
//! The text becomes a table, overrides are laid over the table, and the table becomes the
//! description. Where the description refuses an entry, the error is kept, the entry taken out and
//! the rest tried again, so that all errors of a file come at once. Places are looked up only when
//! something is wrong: the description itself carries none.

mod diagnostics;
mod document;
mod nesting;
mod outline;
mod overrides;
#[cfg(test)]
mod tests;
mod words;

use serde::de::DeserializeOwned;

use super::Problem;
pub use diagnostics::{Diagnostic, Diagnostics};
use document::{Document, deserializer};
use outline::Outline;
pub use overrides::{InvalidOverride, Override};

/// Reads the description in `text`, a TOML document, with `overrides` laid over it in their order.
///
/// `name` is what diagnostics call the text: the file's name, or `<stdin>`. An override replaces
/// the value in the text before anything is checked. A byte-order mark is skipped.
///
/// The description is any type that can be deserialised from TOML. Its custom `Deserialize` code
/// may put a second line into an error's text: it is shown as help beside the marker. A part of the
/// message in double quotes that occurs in the value is marked by itself.
///
/// # Errors
///
/// Everything found wrong, in order of place: all syntax errors, or else all overrides that lead
/// nowhere together with all unknown keys, wrong types and values that cannot be read. At most 100. Of a
/// text that is another kind of file, that alone.
pub fn read<D: DeserializeOwned>(
    name: &str,
    text: &str,
    overrides: &[Override],
) -> Result<Source<D>, Diagnostics> {
    read_and_check(name, text, overrides, |_| Vec::new())
}

/// Reads a description like [`read`]. Where that fails, `check` sees what is left of the
/// description without the entries at fault, and what it says of values that stand in the texts
/// comes out together with the rest; what it says of missing ones does not, for they may be those
/// at fault.
///
/// # Errors
/// As [`read`].
pub fn read_and_check<D: DeserializeOwned>(
    name: &str,
    text: &str,
    overrides: &[Override],
    check: impl Fn(&D) -> Vec<Problem>,
) -> Result<Source<D>, Diagnostics> {
    let document = Document::new(name, text, overrides);
    let parsed = document.parse()?;
    if parsed.refused.is_empty()
        && let Ok(description) = D::deserialize(deserializer(parsed.root))
    {
        return Ok(Source { description, document });
    }
    Err(document.everything_wrong(check))
}

/// Reads a description like [`read_and_check`] for somebody who does not read some of its tables: an entry
/// of theirs that nobody knows or can read stops nothing, and is told beside the source, whose description
/// is without these tables. Where anything else is wrong, all is told as ever.
///
/// # Errors
/// As [`read`].
pub fn read_without<D: DeserializeOwned>(
    (name, text): (&str, &str),
    overrides: &[Override],
    unread: &[&str],
    check: impl Fn(&D) -> Vec<Problem>,
) -> Result<(Source<D>, Vec<Diagnostic>), Diagnostics> {
    let all = match read_and_check(name, text, overrides, check) {
        Ok(source) => return Ok((source, Vec::new())),
        Err(all) => all,
    };
    let document = Document::new(name, text, overrides);
    let Some(mut root) = document.parse().ok().filter(|p| p.refused.is_empty()).map(|p| p.root)
    else {
        return Err(all);
    };
    document::remove_tables(&mut root, unread);
    match D::deserialize(deserializer(root)) {
        Ok(description) => {
            let wrong = document.everything_wrong::<D>(|_| Vec::new());
            Ok((Source { description, document }, wrong.list))
        }
        Err(_) => Err(all),
    }
}

/// Whether a text has a line as a site file has them: a key with its value, or a table's header.
pub fn looks_like_one(text: &str) -> bool {
    text.lines()
        .map(str::trim_start)
        .any(|line| line.starts_with('[') || (!line.starts_with('#') && line.contains('=')))
}

/// A description with the texts it came from.
#[derive(Debug, Clone)]
pub struct Source<D> {
    /// What the texts say.
    pub description: D,
    document: Document,
}

impl<D> Source<D> {
    /// Finds the place of each problem.
    ///
    /// A problem of a key that is not there is shown at the table that should hold it. A problem
    /// with related keys is shown at its key and theirs, any other at its value.
    pub fn locate(&self, problems: Vec<Problem>) -> Diagnostics {
        // These texts were read before: a table comes out again, and nothing is refused.
        let mut root = match self.document.parse() {
            Ok(parsed) => parsed.root,
            Err(diagnostics) => return diagnostics,
        };
        let outline = Outline::of(&mut root, self.document.end());
        let findings =
            problems.into_iter().map(|problem| outline.locate(&self.document, problem)).collect();
        self.document.diagnose(findings)
    }
}
