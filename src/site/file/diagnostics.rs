//! What is wrong with the texts of a description, and how it is shown.

use crate::printable::{printable, printable_char};
use std::fmt;
use std::ops::Range;

/// Everything found wrong, in order of place.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagnostics {
    pub(super) list: Vec<Diagnostic>,
}

impl Diagnostics {
    /// The diagnostics in order of place: those in the file before those in overrides.
    pub fn as_slice(&self) -> &[Diagnostic] {
        &self.list
    }

    /// The diagnostics one after another.
    pub fn iter(&self) -> std::slice::Iter<'_, Diagnostic> {
        self.list.iter()
    }
}

impl<'a> IntoIterator for &'a Diagnostics {
    type Item = &'a Diagnostic;
    type IntoIter = std::slice::Iter<'a, Diagnostic>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl fmt::Display for Diagnostics {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (number, diagnostic) in self.list.iter().enumerate() {
            if number > 0 {
                writeln!(f)?;
            }
            write!(f, "{diagnostic}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Diagnostics {}

/// One thing wrong, at its place.
///
/// No field holds control characters: those of the text are replaced.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagnostic {
    /// The file's name as the caller gave it, or `--set`.
    pub file: String,
    /// The line in the file from 1, or the number of the override from 1.
    pub line: usize,
    /// The column from 1, in characters.
    pub column: usize,
    /// What is wrong.
    pub message: String,
    /// How to mend it.
    pub help: Option<String>,
    /// Other places that have a part in it.
    pub related: Vec<Diagnostic>,
    /// The line of text, cut around the place when long; none for the text as a whole.
    pub source_line: Option<String>,
    /// Blanks and `~` that mark the place under the source line.
    pub marker: String,
}

impl fmt::Display for Diagnostic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (file, line, column) = (&self.file, self.line, self.column);
        write!(f, "{file}:{line}:{column}: {}", self.message)?;
        match (&self.source_line, &self.help) {
            (Some(source), None) => write!(f, "\n    {source}\n    {}", self.marker)?,
            (Some(source), Some(help)) => {
                write!(f, "\n    {source}\n    {}  {help}", self.marker)?;
            }
            (None, Some(help)) => write!(f, "\n    {help}")?,
            (None, None) => {}
        }
        for related in &self.related {
            write!(f, "\n{related}")?;
        }
        Ok(())
    }
}

/// Something wrong before it is shown. A place counts bytes through the file and then through each
/// override; no place means the file as a whole.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Finding {
    pub(super) place: Option<Range<usize>>,
    pub(super) message: String,
    pub(super) help: Option<String>,
    pub(super) related: Vec<Range<usize>>,
}

impl Finding {
    pub(super) fn new(place: Option<Range<usize>>, message: impl Into<String>) -> Finding {
        Finding { place, message: message.into(), help: None, related: Vec::new() }
    }

    pub(super) fn with_help(mut self, help: impl Into<String>) -> Finding {
        self.help = Some(help.into());
        self
    }
}

/// A line of text as it can be shown, and the marker under its bytes `from..to`. A long line is cut
/// around the place.
pub(super) fn excerpt(line: &str, from: usize, to: usize) -> (String, String) {
    const WIDTH: usize = 70;
    const BEFORE: usize = 30;
    let mut shown: Vec<char> = Vec::new();
    let (mut start, mut end) = (None, None);
    for (offset, character) in line.char_indices() {
        if offset >= from {
            start.get_or_insert(shown.len());
        }
        if offset >= to {
            end.get_or_insert(shown.len());
        }
        match character {
            '\t' => shown.extend([' '; 4]),
            _ => shown.push(printable_char(character)),
        }
    }
    let start = start.unwrap_or(shown.len());
    let end = end.unwrap_or(shown.len()).max(start + 1);
    let first = match shown.len() > WIDTH {
        true => start.saturating_sub(BEFORE).min(shown.len() - WIDTH),
        false => 0,
    };
    let last = (first + WIDTH).min(shown.len());
    let before = if first > 0 { "..." } else { "" };
    let after = if last < shown.len() { "..." } else { "" };
    let middle: String = shown[first..last].iter().collect();
    let blanks = " ".repeat(before.len() + start - first);
    let marks = "~".repeat(end.min(last.max(start + 1)) - start);
    (format!("{before}{middle}{after}"), format!("{blanks}{marks}"))
}

/// Text that cannot drive a terminal.
pub(super) fn harmless(text: &str) -> String {
    printable(text).into_owned()
}

/// The nearest start of a character at or before `index`.
pub(super) fn on_boundary(text: &str, index: usize) -> usize {
    let mut index = index.min(text.len());
    while !text.is_char_boundary(index) {
        index -= 1;
    }
    index
}
