//! Overrides: `circuit.range=8 K` in place of what a file says.

use std::ops::Range;
use std::str::FromStr;

/// A key may have so many parts.
const MOST_PARTS: usize = 16;

/// One `KEY=VALUE` laid over a site file.
///
/// The key is a dotted path. An entry of a list is addressed by its `name` or by its number from 1:
/// `cell.east.drift`, `cell.1.drift`. A part that holds dots, quotes or `=` stands in quotes. The
/// value is a number, `true`, `false`, a list or quoted text as in TOML; anything else is taken as
/// text as it stands: `circuit.range=8 K`.
#[derive(Debug, Clone, PartialEq)]
pub struct Override {
    pub(super) text: String,
    pub(super) key: Vec<Part>,
    pub(super) value: Range<usize>,
}

/// One part of an override's key, with its place in the override.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Part {
    pub(super) name: String,
    pub(super) place: Range<usize>,
}

/// Text that is not `KEY=VALUE`.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum InvalidOverride {
    /// There is no `=` after the key.
    #[error("no \"=\": an override is written KEY=VALUE, such as circuit.range=8 K")]
    NoEquals,
    /// The key, or a part of it between dots, is empty.
    #[error("an empty part in the key: it is written like circuit.range or cell.east.drift")]
    EmptyPart,
    /// A quote in the key is not closed, or is not around a whole part.
    #[error("quotes in the key must stand around a whole part, such as cell.\"no. 1\".drift")]
    Quotes,
    /// The key has more parts than any site file.
    #[error("the key has too many parts")]
    TooManyParts,
    /// There is nothing after the `=`.
    #[error("no value after \"=\": an override is written KEY=VALUE, such as circuit.range=8 K")]
    NoValue,
}

impl std::fmt::Display for Override {
    /// As it was written.
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str(&self.text)
    }
}

impl Override {
    /// Reads `KEY=VALUE`.
    ///
    /// # Errors
    ///
    /// [`InvalidOverride`] when the text has no key, no `=` or no value.
    pub fn parse(text: &str) -> Result<Override, InvalidOverride> {
        let (key, after_key) = parse_key(text)?;
        let value = trimmed(text, after_key..text.len());
        if value.is_empty() {
            return Err(InvalidOverride::NoValue);
        }
        Ok(Override { text: text.to_owned(), key, value })
    }
}

impl FromStr for Override {
    type Err = InvalidOverride;

    fn from_str(text: &str) -> Result<Override, InvalidOverride> {
        Override::parse(text)
    }
}

/// The parts of the key, and where the value begins.
fn parse_key(text: &str) -> Result<(Vec<Part>, usize), InvalidOverride> {
    let mut key = Vec::new();
    let mut from = 0;
    loop {
        let start = text.len() - text[from..].trim_start().len();
        let quote = text[start..].chars().next().filter(|c| "\"'".contains(*c));
        let (place, end) = match quote {
            Some(quote) => {
                let open = start + 1;
                let close = text[open..].find(quote).ok_or(InvalidOverride::Quotes)? + open;
                let rest = text[close + 1..].trim_start();
                (open..close, text.len() - rest.len())
            }
            None => {
                let end = text[start..].find(['.', '=', '"', '\'']);
                let end = end.ok_or(InvalidOverride::NoEquals)? + start;
                (trimmed(text, start..end), end)
            }
        };
        if place.is_empty() {
            return Err(InvalidOverride::EmptyPart);
        }
        let name = text[place.clone()].to_owned();
        key.push(Part { name, place });
        if key.len() > MOST_PARTS {
            return Err(InvalidOverride::TooManyParts);
        }
        from = end + 1;
        match text[end..].chars().next() {
            Some('.') => continue,
            Some('=') => return Ok((key, from)),
            Some(_) => return Err(InvalidOverride::Quotes),
            None => return Err(InvalidOverride::NoEquals),
        }
    }
}

/// The part of `range` without white space at its ends.
fn trimmed(text: &str, range: Range<usize>) -> Range<usize> {
    let part = &text[range.clone()];
    let start = range.end - part.trim_start().len();
    start..start + part.trim().len()
}
