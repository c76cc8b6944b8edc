//! Reads a site file and its overrides, and shows everything wrong at its place.
//!
//! The text becomes a table, overrides are laid over the table, and the table becomes the
//! description. Where the description refuses an entry, the error is kept, the entry taken out and
//! the rest tried again, so that all errors of a file come at once. Places are looked up only when
//! something is wrong: the description itself carries none.

use std::fmt;
use std::mem;
use std::ops::Range;
use std::str::FromStr;

use serde::de::DeserializeOwned;
use toml::Spanned;
use toml::de::{DeTable, DeValue, Deserializer};

use super::Problem;

/// At most so many diagnostics are shown, so that a file of another kind ends soon.
const MOST_DIAGNOSTICS: usize = 100;

/// Inline tables, lists and the dots of their keys may nest so deep: far more than a site needs,
/// and few enough for any thread's stack.
const DEEPEST: usize = 200;

/// A key of an override may have so many parts.
const MOST_PARTS: usize = 16;

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
/// nowhere together with all unknown keys, wrong types and values that cannot be read. At most 100.
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

/// One `KEY=VALUE` laid over a site file.
///
/// The key is a dotted path. An entry of a list is addressed by its `name` or by its number from 1:
/// `cell.east.drift`, `cell.1.drift`. A part that holds dots, quotes or `=` stands in quotes. The
/// value is a number, `true`, `false`, a list or quoted text as in TOML; anything else is taken as
/// text as it stands: `circuit.range=8 K`.
#[derive(Debug, Clone, PartialEq)]
pub struct Override {
    text: String,
    key: Vec<Part>,
    value: Range<usize>,
}

/// One part of an override's key, with its place in the override.
#[derive(Debug, Clone, PartialEq)]
struct Part {
    name: String,
    place: Range<usize>,
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

/// Everything found wrong, in order of place.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagnostics {
    list: Vec<Diagnostic>,
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
struct Finding {
    place: Option<Range<usize>>,
    message: String,
    help: Option<String>,
    related: Vec<Range<usize>>,
}

impl Finding {
    fn new(place: Option<Range<usize>>, message: impl Into<String>) -> Finding {
        Finding { place, message: message.into(), help: None, related: Vec::new() }
    }

    fn with_help(mut self, help: impl Into<String>) -> Finding {
        self.help = Some(help.into());
        self
    }
}

/// The texts of a description: the file and the overrides, each beginning where the one before it
/// ends, so that a place names its text.
#[derive(Debug, Clone)]
struct Document {
    name: String,
    text: String,
    overrides: Vec<PlacedOverride>,
}

#[derive(Debug, Clone)]
struct PlacedOverride {
    start: usize,
    given: Override,
    /// The value, with a key for the parser, after as many blanks as there is text before it, so
    /// that places in it are right.
    padded_value: String,
}

/// A table with the overrides laid over it, and what is wrong with the overrides.
struct Parsed<'t> {
    root: Spanned<DeValue<'t>>,
    refused: Vec<Finding>,
}

impl Document {
    fn new(name: &str, text: &str, overrides: &[Override]) -> Document {
        let mut document = Document {
            name: name.to_owned(),
            text: text.strip_prefix('\u{feff}').unwrap_or(text).to_owned(),
            overrides: Vec::with_capacity(overrides.len()),
        };
        for given in overrides {
            let start = document.end();
            // A key has at least one letter, and an "=" follows it.
            let mut padded_value = " ".repeat(start + given.value.start - 2) + "v=";
            padded_value.push_str(&given.text[given.value.clone()]);
            document.overrides.push(PlacedOverride { start, given: given.clone(), padded_value });
        }
        document
    }

    /// A place after all texts. The end of one text is not the start of the next.
    fn end(&self) -> usize {
        match self.overrides.last() {
            Some(last) => last.start + last.given.text.len() + 1,
            None => self.text.len() + 1,
        }
    }

    fn parse(&self) -> Result<Parsed<'_>, Diagnostics> {
        let nesting = nesting(&self.text);
        if let Some(place) = nesting.too_deep {
            let finding = Finding::new(Some(place..place + 1), "nested too deeply");
            return Err(self.diagnose(vec![finding]));
        }
        let (table, errors) = DeTable::parse_recoverable(&self.text);
        if !errors.is_empty() {
            return Err(self.syntax_errors(errors, nesting.open));
        }
        let mut root = Spanned::new(0..0, DeValue::Table(table.into_inner()));
        let refused =
            (self.overrides.iter()).filter_map(|option| option.lay_over(&mut root).err()).collect();
        Ok(Parsed { root, refused })
    }

    /// Deserialises again and again, each time without the entries that were refused before.
    fn everything_wrong<D: DeserializeOwned>(
        &self,
        check: impl Fn(&D) -> Vec<Problem>,
    ) -> Diagnostics {
        let Parsed { mut root, refused } = match self.parse() {
            Ok(parsed) => parsed,
            Err(diagnostics) => return diagnostics,
        };
        let outline = Outline::of(&mut root, self.end());
        let mut findings = refused;
        while findings.len() < MOST_DIAGNOSTICS {
            let error = match D::deserialize(deserializer(root.clone())) {
                Ok(rest) => {
                    let of_values = check(&rest).into_iter().filter(|p| outline.is_value(&p.path));
                    findings.extend(of_values.map(|problem| outline.locate(self, problem)));
                    break;
                }
                Err(error) => error,
            };
            let at = outline.at(error.span());
            if findings.is_empty() || !outline.follows(&root, at, error.message()) {
                findings.push(outline.explain(self, at, error.message()));
            }
            if !remove(&mut root, outline.mark(at.node)) {
                break;
            }
        }
        self.diagnose(findings)
    }

    fn syntax_errors(&self, errors: Vec<toml::de::Error>, open: Option<usize>) -> Diagnostics {
        let mut errors: Vec<(Option<Range<usize>>, String)> = (errors.iter())
            .map(|error| (error.span().map(|span| self.seen(span)), error.message().into()))
            .collect();
        if let Some(open) = open
            && let Some((place, _)) = (errors.iter_mut()).find(|(_, said)| is_unclosed(said))
        {
            // Found at the end of the text, but of use where it begins: all that follows was
            // taken for its content.
            *place = Some(open..open + 1);
            errors.retain(|(place, _)| place.as_ref().is_none_or(|place| place.start <= open));
        }
        // The parser goes on in the middle of a line it did not understand: only the first error
        // of a line means something.
        errors.sort_by_key(|(place, _)| place.as_ref().map(|place| place.start));
        errors.dedup_by_key(|(place, _)| place.as_ref().map(|place| self.line_start(place.start)));
        errors.truncate(MOST_DIAGNOSTICS);
        let findings = errors.into_iter().map(|(place, said)| self.syntax_error(place, &said));
        self.diagnose(findings.collect())
    }

    fn syntax_error(&self, place: Option<Range<usize>>, said: &str) -> Finding {
        let Some(place) = place else {
            return Finding::new(None, syntax_words(said, "", "").0);
        };
        let after = self.text.get(place.end..).unwrap_or("");
        let (message, help) = syntax_words(said, self.slice(place.clone()), after);
        let mut finding = Finding::new(Some(place.clone()), message);
        finding.help = help;
        if said == "duplicate key" {
            finding.related.extend(self.given_before(&place));
        }
        finding
    }

    /// A place at the end of the text moves back to the last thing to be seen there.
    fn seen(&self, place: Range<usize>) -> Range<usize> {
        let end = self.text.trim_end().len();
        if place.start > end { end..end } else { place }
    }

    /// Where the key at `place`, given twice, was given first: the nearest line above it that reads
    /// the same up to there.
    fn given_before(&self, place: &Range<usize>) -> Option<Range<usize>> {
        let line = self.line_start(place.start);
        let wanted = self.text.get(line..place.end)?.trim_start();
        let begins_line = |at: usize| self.slice(self.line_start(at)..at).trim().is_empty();
        let ends = |at: usize| {
            !self.text[at..].starts_with(|c: char| c.is_alphanumeric() || "_-".contains(c))
        };
        let (at, _) = (self.text[..line].rmatch_indices(wanted))
            .find(|(at, _)| begins_line(*at) && ends(at + wanted.len()))?;
        let end = at + wanted.len();
        Some(end - place.len()..end)
    }

    /// The text that holds a place: where it begins, what it says.
    fn text_at(&self, place: usize) -> (usize, &str) {
        match self.override_at(place) {
            Some((_, option)) => (option.start, &option.given.text),
            None => (0, &self.text),
        }
    }

    /// The override that holds a place, with its number from 1.
    fn override_at(&self, place: usize) -> Option<(usize, &PlacedOverride)> {
        let number = (self.overrides).partition_point(|option| option.start <= place);
        let option = self.overrides.get(number.checked_sub(1)?)?;
        Some((number, option))
    }

    /// The part of a text at a place; nothing when the place is in no text.
    fn slice(&self, place: Range<usize>) -> &str {
        let (start, text) = self.text_at(place.start);
        let inside = place.start - start..place.end.saturating_sub(start);
        text.get(inside).unwrap_or("")
    }

    /// Where the line of a place begins. An override is one line.
    fn line_start(&self, place: usize) -> usize {
        match self.override_at(place) {
            Some((_, option)) => option.start,
            None => {
                let before = &self.text[..on_boundary(&self.text, place)];
                before.rfind('\n').map_or(0, |newline| newline + 1)
            }
        }
    }

    fn diagnose(&self, mut findings: Vec<Finding>) -> Diagnostics {
        findings.sort_by_key(|f| f.place.as_ref().map(|place| (place.start, place.end)));
        findings.dedup();
        findings.truncate(MOST_DIAGNOSTICS);
        Diagnostics { list: findings.into_iter().map(|f| self.show(f)).collect() }
    }

    fn show(&self, finding: Finding) -> Diagnostic {
        let related = (finding.related.into_iter())
            .map(|place| self.show(Finding::new(Some(place), "note: also given here")))
            .collect();
        let mut diagnostic = Diagnostic {
            file: harmless(&self.name),
            line: 1,
            column: 1,
            message: harmless(&finding.message),
            help: finding.help.as_deref().map(harmless),
            related,
            source_line: None,
            marker: String::new(),
        };
        if let Some(place) = finding.place {
            self.show_place(&mut diagnostic, place);
        }
        diagnostic
    }

    fn show_place(&self, diagnostic: &mut Diagnostic, place: Range<usize>) {
        let (start, text) = self.text_at(place.start);
        let from = on_boundary(text, place.start - start);
        let to = on_boundary(text, place.end.saturating_sub(start)).max(from);
        let line_start = self.line_start(place.start) - start;
        let line = match self.override_at(place.start) {
            Some((number, _)) => {
                diagnostic.file = "--set".to_owned();
                diagnostic.line = number;
                text
            }
            None => {
                diagnostic.line = 1 + text[..line_start].matches('\n').count();
                text[line_start..].split('\n').next().unwrap_or("")
            }
        };
        let line = line.trim_end();
        diagnostic.column = 1 + text[line_start..from].chars().count();
        let (source_line, marker) = excerpt(line, from - line_start, to - line_start);
        diagnostic.source_line = Some(source_line);
        diagnostic.marker = marker;
    }
}

impl PlacedOverride {
    fn place(&self, part: &Part) -> Range<usize> {
        self.start + part.place.start..self.start + part.place.end
    }

    /// The value as TOML where it reads as such, else as text.
    fn value(&self) -> Spanned<DeValue<'_>> {
        if nesting(&self.padded_value).too_deep.is_none()
            && let Ok(table) = DeTable::parse(&self.padded_value)
        {
            let mut values = table.into_inner().into_iter().map(|(_, value)| value);
            if let (Some(value), None) = (values.next(), values.next())
                && !matches!(value.get_ref(), DeValue::Datetime(_) | DeValue::Table(_))
            {
                return value;
            }
        }
        let start = self.start + self.given.value.start;
        let text = &self.given.text[self.given.value.clone()];
        Spanned::new(start..start + text.len(), DeValue::String(text.into()))
    }

    /// Puts the value at its key, in new tables where there are none.
    fn lay_over<'t>(&'t self, root: &mut Spanned<DeValue<'t>>) -> Result<(), Finding> {
        let mut here = root;
        for (depth, part) in self.given.key.iter().enumerate() {
            let place = self.place(part);
            let parent = || path_of(&self.given.key[..depth]);
            here = match here.get_mut() {
                DeValue::Table(table) => {
                    let last = depth + 1 == self.given.key.len();
                    if last {
                        // Taken out first, because a table keeps the old place of an equal key.
                        table.remove(part.name.as_str());
                    }
                    let key = Spanned::new(place.clone(), part.name.as_str().into());
                    (table.entry::<Spanned<_>>(key))
                        .or_insert_with(|| Spanned::new(place, DeValue::Table(DeTable::new())))
                }
                DeValue::Array(list) => match position(list, &part.name) {
                    Some(index) => &mut list.as_mut()[index],
                    None => return Err(no_entry(list, &part.name, &parent(), place)),
                },
                _ => {
                    let parent = parent();
                    let message = format!("{parent} is a single value: nothing can be set in it");
                    return Err(Finding::new(Some(place), message));
                }
            };
        }
        *here = self.value();
        Ok(())
    }
}

fn path_of(parts: &[Part]) -> String {
    let names: Vec<&str> = parts.iter().map(|part| part.name.as_str()).collect();
    names.join(".")
}

/// The name of an entry in a list of tables.
fn name_of<'v>(entry: &'v Spanned<DeValue>) -> Option<&'v str> {
    let table = entry.get_ref().as_table()?;
    table.get("name")?.get_ref().as_str()
}

/// The entry of a list that has this name, or else this number from 1.
fn position(list: &[Spanned<DeValue>], wanted: &str) -> Option<usize> {
    let named = (list.iter()).position(|entry| name_of(entry) == Some(wanted));
    named.or_else(|| {
        let index = wanted.parse::<usize>().ok()?.checked_sub(1)?;
        (index < list.len()).then_some(index)
    })
}

fn no_entry(list: &[Spanned<DeValue>], wanted: &str, path: &str, place: Range<usize>) -> Finding {
    let finding = Finding::new(Some(place), format!("no entry \"{wanted}\" in {path}"));
    let names: Vec<&str> = list.iter().filter_map(name_of).collect();
    let count = list.len();
    finding.with_help(match (count, names.is_empty()) {
        (0, _) => "it has no entries".to_owned(),
        (_, false) => choice(wanted, &names),
        (1, true) => "its only entry is 1".to_owned(),
        (_, true) => format!("its entries are 1 to {count}"),
    })
}

fn deserializer(root: Spanned<DeValue<'_>>) -> Deserializer<'_> {
    let span = root.span();
    let table = match root.into_inner() {
        DeValue::Table(table) => table,
        _ => DeTable::new(),
    };
    Deserializer::from(Spanned::new(span, table))
}

/// Takes the entry marked `mark` out; whether it was there.
fn remove(value: &mut Spanned<DeValue>, mark: Range<usize>) -> bool {
    match value.get_mut() {
        DeValue::Table(table) => {
            let found = table.iter().find(|(_, entry)| entry.span() == mark);
            match found.map(|(key, _)| key.get_ref().clone()) {
                Some(key) => table.remove(key.as_ref()).is_some(),
                None => (table.iter_mut()).any(|(_, entry)| remove(entry, mark.clone())),
            }
        }
        DeValue::Array(list) => match list.iter().position(|entry| entry.span() == mark) {
            Some(index) => {
                let others = list.iter().enumerate().filter(|(other, _)| *other != index);
                *list = others.map(|(_, entry)| entry.clone()).collect();
                true
            }
            None => (list.iter_mut()).any(|entry| remove(entry, mark.clone())),
        },
        _ => false,
    }
}

/// Every value of a table in the order of a walk, root first: its path and its places.
///
/// Places of values are not unique (a list of tables and its first entry share one), so each value
/// is marked instead with a number beyond all places, which errors then carry.
struct Outline {
    first_mark: usize,
    nodes: Vec<Node>,
}

struct Node {
    parent: usize,
    step: Step,
    key: Option<Range<usize>>,
    value: Range<usize>,
    kind: Kind,
}

/// The way from a value to one inside it.
enum Step {
    Root,
    Key(String),
    Entry { number: usize, name: Option<String> },
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Text,
    Number,
    Boolean(bool),
    Date,
    List(usize),
    Table,
}

/// Where an error came up: in a value, or at its key.
#[derive(Clone, Copy)]
struct At {
    node: usize,
    key: bool,
}

impl Outline {
    fn of(root: &mut Spanned<DeValue>, first_mark: usize) -> Outline {
        let nodes = Vec::new();
        let mut outline = Outline { first_mark, nodes };
        outline.add(root, 0, Step::Root, None);
        outline
    }

    fn add(
        &mut self,
        value: &mut Spanned<DeValue>,
        parent: usize,
        step: Step,
        key: Option<Range<usize>>,
    ) {
        let id = self.nodes.len();
        self.nodes.push(Node {
            parent,
            step,
            key,
            value: value.span(),
            kind: Kind::of(value.get_ref()),
        });
        let inner = mem::replace(value.get_mut(), DeValue::Boolean(false));
        *value = Spanned::new(self.mark(id), inner);
        match value.get_mut() {
            DeValue::Table(table) => {
                for (key, entry) in table.iter_mut() {
                    let step = Step::Key(key.get_ref().to_string());
                    self.add(entry, id, step, Some(key.span()));
                }
            }
            DeValue::Array(list) => {
                for (index, entry) in list.iter_mut().enumerate() {
                    let name = name_of(entry).map(str::to_owned);
                    let number = index + 1;
                    self.add(entry, id, Step::Entry { number, name }, None);
                }
            }
            _ => {}
        }
    }

    fn mark(&self, node: usize) -> Range<usize> {
        self.first_mark + node..self.first_mark + node + 1
    }

    fn at(&self, span: Option<Range<usize>>) -> At {
        let node = |node, key| At { node, key };
        let Some(span) = span else {
            return node(0, false);
        };
        if let Some(marked) = span.start.checked_sub(self.first_mark) {
            return node(marked.min(self.nodes.len() - 1), false);
        }
        let keyed = (self.nodes.iter()).position(|node| node.key.as_ref() == Some(&span));
        keyed.map_or(node(0, false), |found| node(found, true))
    }

    fn children(&self, parent: usize) -> impl Iterator<Item = (usize, &Node)> {
        // The root is its own parent.
        (self.nodes.iter().enumerate().skip(1)).filter(move |(_, node)| node.parent == parent)
    }

    /// From the root's child down to the node.
    fn steps(&self, node: usize) -> Vec<usize> {
        let mut steps = Vec::new();
        let mut here = node;
        while here != 0 {
            steps.push(here);
            here = self.nodes[here].parent;
        }
        steps.reverse();
        steps
    }

    fn path(&self, node: usize) -> String {
        let names: Vec<String> =
            (self.steps(node).into_iter()).map(|step| self.step_name(step)).collect();
        names.join(".")
    }

    /// A key, or an entry's name where it has one of its own, else its number.
    fn step_name(&self, node: usize) -> String {
        match &self.nodes[node].step {
            Step::Root => String::new(),
            Step::Key(key) => key.clone(),
            Step::Entry { number, name } => {
                let same =
                    |other: &Node| matches!(&other.step, Step::Entry { name: n, .. } if n == name);
                let siblings = self.children(self.nodes[node].parent);
                match name {
                    Some(name) if siblings.filter(|(_, other)| same(other)).count() == 1 => {
                        name.clone()
                    }
                    _ => number.to_string(),
                }
            }
        }
    }

    /// `in [circuit]`, `in cell.east`, `at the top level`.
    fn in_table(&self, node: usize) -> String {
        let entry = |&step: &usize| matches!(self.nodes[step].step, Step::Entry { .. });
        match node {
            0 => "at the top level".to_owned(),
            _ if self.steps(node).iter().any(entry) => format!("in {}", self.path(node)),
            _ => format!("in [{}]", self.path(node)),
        }
    }

    /// The value's place, but none for the root.
    fn place(&self, node: usize) -> Option<Range<usize>> {
        (node != 0).then(|| self.nodes[node].value.clone())
    }

    /// Whether an error only follows from the removal of entries that were refused before it.
    fn follows(&self, root: &Spanned<DeValue>, at: At, message: &str) -> bool {
        if let Some(missing) = missing_key(message) {
            return self.children(at.node).any(|(_, node)| node.step.is_key(missing));
        }
        match self.nodes[at.node].kind {
            Kind::List(before) if message.starts_with("invalid length") => {
                self.length(root, at.node) != Some(before)
            }
            _ => false,
        }
    }

    /// The number of entries that are still in a list.
    fn length(&self, root: &Spanned<DeValue>, node: usize) -> Option<usize> {
        let mark = self.mark(node);
        let mut waiting = vec![root];
        while let Some(value) = waiting.pop() {
            match value.get_ref() {
                DeValue::Array(list) if value.span() == mark => return Some(list.len()),
                DeValue::Array(list) => waiting.extend(list.iter()),
                DeValue::Table(table) => waiting.extend(table.values()),
                _ => {}
            }
        }
        None
    }

    /// Says in plain words what the deserialiser said.
    fn explain(&self, document: &Document, at: At, said: &str) -> Finding {
        let node = &self.nodes[at.node];
        if let Some((name, known)) = unknown("field", said) {
            let table = if at.key { node.parent } else { at.node };
            let place = if at.key { node.key.clone() } else { self.place(at.node) };
            let message = format!("unknown key \"{name}\" {}", self.in_table(table));
            return Finding::new(place, message).with_help(known_keys(name, &known));
        }
        if let Some(name) = missing_key(said) {
            let message = format!("missing key \"{name}\" {}", self.in_table(at.node));
            return Finding::new(self.place(at.node), message);
        }
        let (message, help) = self.value_words(at, said);
        let place = if at.key { node.key.clone() } else { self.place(at.node) };
        let place = place.map(|place| narrowed(document, place, &message));
        let path = self.path(at.node);
        let mut finding = match message.contains(&path) {
            true => Finding::new(place, message),
            false => Finding::new(place, format!("{message} in {path}")),
        };
        finding.help = help;
        if node.kind == Kind::Table
            && said.ends_with("expected a sequence")
            && document.slice(node.value.clone()).starts_with('[')
        {
            finding.help = Some(format!("a list of tables is written [[{path}]]"));
        }
        finding
    }

    /// Message and help for a value that was refused.
    fn value_words(&self, at: At, said: &str) -> (String, Option<String>) {
        if let Some((name, known)) = unknown("variant", said) {
            let known: Vec<String> = known.iter().map(|name| format!("\"{name}\"")).collect();
            let known: Vec<&str> = known.iter().map(String::as_str).collect();
            let help = choice(&format!("\"{name}\""), &known);
            return (format!("unknown value \"{name}\""), Some(help));
        }
        let (first, help) = match said.split_once('\n') {
            Some((first, help)) => (first, Some(help.trim().to_owned())),
            None => (said, None),
        };
        let needs = |wanted: &str| match self.path(at.node).as_str() {
            "" => format!("the file needs {wanted}"),
            path => format!("{path} needs {wanted}"),
        };
        let kind = self.nodes[at.node].kind;
        let message = match expected(first) {
            Some(("type", wanted)) => {
                needs(&format!("{}, not {}", plain(wanted), kind.found(wanted)))
            }
            Some(("length", wanted)) => needs(&match (kind, last_number(wanted)) {
                (Kind::List(_), _) if wanted.starts_with("struct ") => "a table, not a list".into(),
                (Kind::List(found), Some(wanted)) => format!("a list of {wanted}, not of {found}"),
                _ => plain(wanted),
            }),
            Some((_, wanted)) => needs(&plain(wanted)),
            None if first == "wanted string or table" || first.starts_with("wanted exactly 1") => {
                needs(&format!("text in quotes, not {}", kind.found("a string")))
            }
            None if first.ends_with("number overflowed") => "this number is too large".to_owned(),
            None if first.starts_with("data did not match any variant") => {
                "this is in no form that is known here".to_owned()
            }
            None => first.trim_end().to_owned(),
        };
        (message, help)
    }

    fn locate(&self, document: &Document, problem: Problem) -> Finding {
        let (node, exact) = self.resolve(&problem.path);
        let together = !problem.related.is_empty();
        let place = match exact {
            true if together => self.key_place(node),
            true => (self.place(node)).map(|place| narrowed(document, place, &problem.message)),
            false => self.place(node),
        };
        let related = (problem.related.iter())
            .map(|path| self.resolve(path))
            .filter_map(|(node, exact)| self.key_place(node).filter(|_| exact))
            .collect();
        Finding { place, message: problem.message, help: problem.help, related }
    }

    /// Whether a path leads to a value, not to a table or to nothing.
    fn is_value(&self, path: &str) -> bool {
        let (node, exact) = self.resolve(path);
        let kind = self.nodes[node].kind;
        exact && matches!(kind, Kind::Text | Kind::Number | Kind::Boolean(_) | Kind::Date)
    }

    /// The key of a value; the header of a table.
    fn key_place(&self, node: usize) -> Option<Range<usize>> {
        let found = &self.nodes[node];
        match (&found.key, found.kind) {
            (Some(key), Kind::Text | Kind::Number | Kind::Boolean(_) | Kind::Date) => {
                Some(key.clone())
            }
            _ => self.place(node),
        }
    }

    /// The value at a path, or the nearest one above it; whether it is the value itself.
    fn resolve(&self, path: &str) -> (usize, bool) {
        let mut here = 0;
        let mut rest = path;
        while !rest.is_empty() {
            // Names may hold dots: the longest that fits is meant, and a name before a number.
            let next = (self.children(here))
                .filter_map(|(id, node)| Some((node.step.fits(rest)?, id)))
                .min_by_key(|((rest, by_number), _)| (rest.len(), *by_number));
            match next {
                Some(((after, _), id)) => (here, rest) = (id, after),
                None => return (here, false),
            }
        }
        (here, true)
    }
}

impl Step {
    fn is_key(&self, wanted: &str) -> bool {
        matches!(self, Step::Key(key) if key == wanted)
    }

    /// What is left of a path after this step, and whether the step was taken by number.
    fn fits<'p>(&self, path: &'p str) -> Option<(&'p str, bool)> {
        match self {
            Step::Root => None,
            Step::Key(key) => Some((after_step(path, key)?, false)),
            Step::Entry { number, name } => {
                let by_name = (name.as_ref()).and_then(|name| after_step(path, name));
                match by_name {
                    Some(rest) => Some((rest, false)),
                    None => Some((after_step(path, &number.to_string())?, true)),
                }
            }
        }
    }
}

fn after_step<'p>(path: &'p str, step: &str) -> Option<&'p str> {
    let rest = path.strip_prefix(step)?;
    match rest.strip_prefix('.') {
        Some(after) if !after.is_empty() => Some(after),
        _ => rest.is_empty().then_some(rest),
    }
}

impl Kind {
    fn of(value: &DeValue) -> Kind {
        match value {
            DeValue::String(_) => Kind::Text,
            DeValue::Integer(_) | DeValue::Float(_) => Kind::Number,
            DeValue::Boolean(value) => Kind::Boolean(*value),
            DeValue::Datetime(_) => Kind::Date,
            DeValue::Array(list) => Kind::List(list.len()),
            DeValue::Table(_) => Kind::Table,
        }
    }

    /// What was found where something else was wanted.
    fn found(self, wanted: &str) -> &'static str {
        match self {
            Kind::Text => "text",
            Kind::Number if integer(wanted) => "a fraction",
            Kind::Number if plain(wanted) == wanted => "a bare number",
            Kind::Number => "a number",
            Kind::Boolean(true) => "true",
            Kind::Boolean(false) => "false",
            Kind::Date => "a date or time",
            Kind::List(_) => "a list",
            Kind::Table => "a table",
        }
    }
}

/// The name that was not known, and those that are.
fn unknown<'m>(what: &str, said: &'m str) -> Option<(&'m str, Vec<&'m str>)> {
    let rest = said.strip_prefix("unknown ")?.strip_prefix(what)?;
    let rest = rest.strip_prefix(" `")?;
    let (name, known) =
        (rest.rsplit_once("`, expected ")).or(rest.rsplit_once("`, there are no "))?;
    Some((name, known.split('`').skip(1).step_by(2).collect()))
}

fn missing_key(said: &str) -> Option<&str> {
    said.strip_prefix("missing field `")?.strip_suffix('`')
}

/// `type`, `value` or `length`, and what was expected instead.
fn expected(said: &str) -> Option<(&str, &str)> {
    let (found, wanted) = said.strip_prefix("invalid ")?.rsplit_once(", expected ")?;
    let what = found.split([':', ' ']).next()?;
    ["type", "value", "length"].contains(&what).then_some((what, wanted))
}

fn integer(wanted: &str) -> bool {
    let digits = wanted.strip_prefix(['u', 'i']).unwrap_or("");
    ["8", "16", "32", "64", "128", "size"].contains(&digits)
}

/// What the deserialiser wanted, in words for someone who knows towers.
fn plain(wanted: &str) -> String {
    let first = wanted.split(' ').next().unwrap_or("");
    let words = match wanted {
        "f32" | "f64" => "a number",
        "u8" => "a whole number from 0 to 255",
        "u16" => "a whole number from 0 to 65535",
        _ if integer(wanted) && wanted.starts_with('u') => "a whole number, 0 or more",
        _ if integer(wanted) => "a whole number",
        "a string" | "a borrowed string" | "string" | "string or table" => "text in quotes",
        "a character" | "char" => "one letter in quotes",
        "a boolean" => "true or false",
        "a sequence" => "a list",
        "a map" => "a table",
        "unit" => "nothing",
        _ => match first {
            "struct" => "a table",
            "enum" => "text in quotes",
            "tuple" => "a list",
            _ => wanted,
        },
    };
    words.to_owned()
}

fn last_number(text: &str) -> Option<usize> {
    let mut numbers = text.split(' ').filter_map(|word| word.parse().ok());
    numbers.next_back()
}

fn known_keys(name: &str, known: &[&str]) -> String {
    match nearest(name, known) {
        Some(known) => format!("did you mean \"{known}\"?"),
        None if known.is_empty() => "no keys are known here".to_owned(),
        None => format!("known here: {}", known.join(", ")),
    }
}

fn choice(name: &str, known: &[&str]) -> String {
    let list = match known {
        [] => "none is known".to_owned(),
        [only] => format!("only {only} is known"),
        _ => format!("one of {}", known.join(", ")),
    };
    match nearest(name, known) {
        Some(known) => format!("{list}; did you mean {known}?"),
        None => list,
    }
}

/// The known name that a slip of the fingers may have missed.
fn nearest<'k>(name: &str, known: &[&'k str]) -> Option<&'k str> {
    // Anything longer is no slip, and would take long to compare.
    if name.len() > 60 {
        return None;
    }
    let name = name.to_lowercase();
    let slips = |known: &str| strsim::damerau_levenshtein(&name, &known.to_lowercase());
    let most = (name.chars().count() / 3).max(1);
    (known.iter().map(|known| (slips(known), *known)))
        .filter(|(slips, known)| *slips <= most && *slips < known.chars().count())
        .min_by_key(|(slips, _)| *slips)
        .map(|(_, known)| known)
}

/// The first quoted part of the message that occurs in the value, or else the whole value.
fn narrowed(document: &Document, place: Range<usize>, message: &str) -> Range<usize> {
    let value = document.slice(place.clone());
    let quoted = message.split('"').skip(1).step_by(2);
    let found = (quoted.filter(|part| !part.is_empty()))
        .find_map(|part| Some((value.find(part)?, part.len())));
    match found {
        Some((offset, length)) => place.start + offset..place.start + offset + length,
        None => place,
    }
}

/// The parser's message in plain words, and how to mend it. `found` is the text at the place,
/// `after` what follows it.
fn syntax_words(said: &str, found: &str, after: &str) -> (String, Option<String>) {
    let (what, wanted) = said.split_once(", expected ").unwrap_or((said, ""));
    let (message, help): (&str, &str) = match what {
        "string values must be quoted" => return unquoted(found),
        "duplicate key" => return (format!("\"{found}\" is given twice"), None),
        "invalid basic string"
        | "invalid literal string"
        | "invalid multi-line basic string"
        | "invalid multi-line literal string"
            if wanted.len() <= 3 =>
        {
            ("the text is not closed", "the closing quote is missing")
        }
        "invalid basic string" | "invalid multi-line basic string" => {
            ("a character that cannot stand in text", "write it as \\u and four digits")
        }
        "unclosed array" => ("the list is not closed", "it ends with \"]\""),
        "unclosed inline table" => ("the table is not closed", "it ends with \"}\""),
        "unclosed table" => ("the table's header is not closed", "it ends with \"]\""),
        "unclosed array table" => ("the table's header is not closed", "it ends with \"]]\""),
        "key with no value" => ("no value for this key", "write key = value"),
        "unquoted keys cannot be empty" => ("no key before \"=\"", "write key = value"),
        "invalid unquoted key" => (
            "this cannot stand in a key",
            "a key is made of letters a to z, digits, \"_\" and \"-\"",
        ),
        "unexpected key or value" if after.starts_with(',') => (
            "a comma cannot stand in a number",
            "write 4000 for four thousand, 1.5 for one and a half",
        ),
        "unexpected key or value" => {
            ("nothing more can stand here", "write one key = value a line")
        }
        "unexpected leading zero" => ("a number cannot begin with 0", "leave the 0 out"),
        "invalid fraction" | "invalid mantissa" | "invalid exponent" | "invalid integer" => {
            ("digits are missing in this number", "write it like 0.5 or 5.0")
        }
        "missing escaped value" => (
            "\"\\\" has a meaning of its own in text",
            "write \"\\\\\", or put the text in single quotes",
        ),
        "recursion limit" | "cannot recurse further; max recursion depth met" => {
            return ("nested too deeply".to_owned(), None);
        }
        _ if what.starts_with("cannot extend value of type ") => {
            let message = format!("\"{found}\" has a value already: it cannot hold keys");
            return (message, None);
        }
        _ => return (said.to_owned(), None),
    };
    (message.to_owned(), Some(help.to_owned()))
}

fn is_unclosed(said: &str) -> bool {
    ["unclosed array,", "unclosed inline table,"].iter().any(|start| said.starts_with(start))
}

/// Words for a value that is no number, date, list or quoted text.
fn unquoted(found: &str) -> (String, Option<String>) {
    let found = found.trim();
    let text = found.trim_matches(['“', '”', '„', '«', '»', '‘', '’', '"', '\'']);
    let (message, help) = match found.to_lowercase().as_str() {
        "" => return ("no value after \"=\"".to_owned(), None),
        "yes" | "on" | "true" => ("this is not a value", "write true".to_owned()),
        "no" | "off" | "false" => ("this is not a value", "write false".to_owned()),
        _ if text.contains(['"', '\\']) => {
            ("text must stand in quotes", "put quotes around it".to_owned())
        }
        _ if found.starts_with(['“', '”', '„', '«', '»', '‘', '’']) => {
            ("text must stand in straight quotes", format!("write \"{text}\""))
        }
        _ => ("text must stand in quotes", format!("write \"{text}\"")),
    };
    (message.to_owned(), Some(help))
}

/// How the brackets of a text nest.
struct Nesting {
    /// Where inline tables and lists, with the dots of their keys, nest deeper than [`DEEPEST`].
    too_deep: Option<usize>,
    /// The first list or inline table that is not closed.
    open: Option<usize>,
}

/// Follows the brackets of a text.
///
/// The parser limits brackets and the parts of a key each for itself, but together they make
/// tables so deep that dropping one overflows the stack. Strings and comments are told apart as
/// the parser does it.
fn nesting(text: &str) -> Nesting {
    let bytes = text.as_bytes();
    let mut open: Vec<(u8, usize, usize)> = Vec::new();
    let (mut outside, mut dots, mut here) = (0, 0, 0);
    let mut too_deep = None;
    while here < bytes.len() && too_deep.is_none() {
        match bytes[here] {
            b'#' => here = end_of_comment(bytes, here),
            b'"' | b'\'' => here = end_of_string(bytes, here),
            b'.' => dots += 1,
            b',' | b'\n' => dots = 0,
            bracket @ (b'[' | b'{') => {
                // In ASCII the closing brackets stand two after the opening ones.
                open.push((bracket + 2, dots, here));
                outside += dots + 1;
                dots = 0;
            }
            bracket @ (b']' | b'}') if open.last().is_some_and(|last| last.0 == bracket) => {
                dots = open.pop().map_or(0, |(_, dots, _)| dots);
                outside -= dots + 1;
            }
            b'=' | b']' | b'}' | b' ' | b'\t' | b'\r' => {}
            _ => here = end_of_word(bytes, here),
        }
        too_deep = (outside + dots > DEEPEST).then_some(here);
        here += 1;
    }
    let open = open.iter().map(|(_, _, at)| *at).find(|at| !begins_line(text, *at));
    Nesting { too_deep, open }
}

/// Whether nothing but brackets stands before a place in its line, as in a table's header.
fn begins_line(text: &str, at: usize) -> bool {
    let before = text[..at].trim_end_matches([' ', '\t', '[']);
    before.is_empty() || before.ends_with('\n')
}

/// The last byte of a comment.
fn end_of_comment(bytes: &[u8], start: usize) -> usize {
    let length = bytes[start..].iter().position(|byte| b"\r\n".contains(byte));
    length.map_or(bytes.len(), |length| start + length - 1)
}

/// The last byte of a bare key or value. A quote within it begins no string.
fn end_of_word(bytes: &[u8], start: usize) -> usize {
    let length = (bytes[start..].iter()).position(|byte| b".=,[]{} \t#\r\n".contains(byte));
    length.map_or(bytes.len(), |length| start + length - 1)
}

/// The last byte of a string: a closing quote, or the one before the end of its line.
fn end_of_string(bytes: &[u8], start: usize) -> usize {
    let quote = bytes[start];
    let long = bytes[start..].starts_with(&[quote; 3]);
    let mut here = start + if long { 3 } else { 1 };
    while here < bytes.len() {
        match bytes[here] {
            b'\\' if quote == b'"' && matches!(bytes.get(here + 1), Some(b'"' | b'\\')) => {
                here += 1
            }
            b'\n' if !long => return here - 1,
            byte if byte == quote && !long => return here,
            byte if byte == quote && bytes[here..].starts_with(&[quote; 3]) => {
                // Up to two quotes more belong to the text.
                let more = bytes[here + 3..].iter().take(2);
                return here + 2 + more.take_while(|byte| **byte == quote).count();
            }
            _ => {}
        }
        here += 1;
    }
    bytes.len()
}

/// The nearest start of a character at or before `index`.
fn on_boundary(text: &str, index: usize) -> usize {
    let mut index = index.min(text.len());
    while !text.is_char_boundary(index) {
        index -= 1;
    }
    index
}

/// A line of text as it can be shown, and the marker under its bytes `from..to`. A long line is cut
/// around the place.
fn excerpt(line: &str, from: usize, to: usize) -> (String, String) {
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
            _ => shown.push(harmless_char(character)),
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
fn harmless(text: &str) -> String {
    text.chars().map(harmless_char).collect()
}

/// Replaces control characters, and those that turn the direction of writing.
fn harmless_char(character: char) -> char {
    match character {
        '\u{200b}'..='\u{200f}'
        | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}'
        | '\u{feff}' => char::REPLACEMENT_CHARACTER,
        _ if character.is_control() => char::REPLACEMENT_CHARACTER,
        _ => character,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde::de::{Error as _, Visitor};
    use serde::{Deserialize, Deserializer};

    use super::*;

    /// A temperature difference, in kelvin, that follows the convention for errors.
    #[derive(Debug, Clone, PartialEq)]
    struct Kelvin(f64);

    impl<'de> Deserialize<'de> for Kelvin {
        fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Kelvin, D::Error> {
            struct Text;
            impl Visitor<'_> for Text {
                type Value = Kelvin;
                fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
                    f.write_str("a temperature difference with its unit\nsuch as \"10 K\"")
                }
                fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Kelvin, E> {
                    let (number, unit) = text.split_once(' ').unwrap_or((text, ""));
                    let factor = match unit {
                        "K" => 1.0,
                        "degF" => 5.0 / 9.0,
                        _ => {
                            return Err(E::custom(format!(
                                "unknown unit \"{unit}\"\na temperature difference is written \
                                 like \"10 K\" or \"18 degF\""
                            )));
                        }
                    };
                    let number: f64 = number
                        .parse()
                        .map_err(|_| E::custom(format!("\"{number}\" is not a number")))?;
                    Ok(Kelvin(number * factor))
                }
            }
            deserializer.deserialize_str(Text)
        }
    }

    /// Text that has to be read as a whole.
    #[derive(Debug, Clone, PartialEq)]
    struct Never;

    impl<'de> Deserialize<'de> for Never {
        fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Never, D::Error> {
            let _: String = Deserialize::deserialize(deserializer)?;
            Err(D::Error::custom("losses.never is never right"))
        }
    }

    #[derive(Debug, Clone, PartialEq, Deserialize)]
    #[serde(rename_all = "lowercase")]
    enum Method {
        Rule,
        Latent,
        Merkel,
        Poppe,
    }

    #[derive(Debug, Clone, Default, PartialEq, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Circuit {
        range: Option<Kelvin>,
        approach: Option<Kelvin>,
        hours: Option<u32>,
        method: Option<Method>,
        limits: Option<[f64; 2]>,
        serial: Option<u8>,
        open: Option<bool>,
    }

    #[derive(Debug, Clone, Default, PartialEq, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Cell {
        name: Option<String>,
        drift: Option<f64>,
        range: Option<Kelvin>,
        fan: Option<Fan>,
    }

    #[derive(Debug, Clone, PartialEq, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Fan {
        power: f64,
        blades: Option<u8>,
    }

    #[derive(Debug, Clone, Default, PartialEq, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Losses {
        never: Option<Never>,
    }

    #[derive(Debug, Clone, Default, PartialEq, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Mock {
        version: Option<u32>,
        name: Option<String>,
        circuit: Option<Circuit>,
        #[serde(default)]
        cell: Vec<Cell>,
        losses: Option<Losses>,
    }

    #[derive(Debug, Clone, PartialEq, Deserialize)]
    struct Versioned {
        version: u32,
    }

    const VALID: &str = "\
version = 1
name = \"two towers\"

[circuit]
range = \"10 K\"
hours = 8000
method = \"poppe\"
limits = [1, 2.5]

[[cell]]
name = \"east\"
drift = 0.1
[cell.fan]
power = 11

[[cell]]
name = \"no. 2\"
fan = { power = 5.5, blades = 8 }
";

    fn overrides(texts: &[&str]) -> Vec<Override> {
        texts.iter().map(|text| Override::parse(text).unwrap()).collect()
    }

    fn with(text: &str, set: &[&str]) -> Result<Source<Mock>, Diagnostics> {
        read("site.toml", text, &overrides(set))
    }

    /// What is shown for a text that is refused.
    fn shown(text: &str, set: &[&str]) -> String {
        format!("{}\n", with(text, set).unwrap_err())
    }

    #[test]
    fn a_valid_text_is_read() {
        let source = with(VALID, &[]).unwrap();
        let circuit = source.description.circuit.unwrap();
        assert_eq!(circuit.range, Some(Kelvin(10.0)));
        assert_eq!(circuit.method, Some(Method::Poppe));
        assert_eq!(source.description.cell[1].fan.as_ref().unwrap().power, 5.5);
    }

    #[test]
    fn carriage_returns_and_a_byte_order_mark_change_nothing() {
        let text = format!("\u{feff}{}", VALID.replace('\n', "\r\n"));
        assert_eq!(with(&text, &[]).unwrap().description, with(VALID, &[]).unwrap().description);
        assert_eq!(
            shown("\u{feff}nam = 1\r\nversion = \"\"\r\n", &[]),
            "\
site.toml:1:1: unknown key \"nam\" at the top level
    nam = 1
    ~~~  did you mean \"name\"?
site.toml:2:11: version needs a whole number, 0 or more, not text
    version = \"\"
              ~~
"
        );
    }

    #[test]
    fn an_unknown_unit_is_marked_inside_its_value() {
        assert_eq!(
            shown("version = 1\n\n[circuit]\nrange = \"10 degX\"\n", &[]),
            "\
site.toml:4:13: unknown unit \"degX\" in circuit.range
    range = \"10 degX\"
                ~~~~  a temperature difference is written like \"10 K\" or \"18 degF\"
"
        );
    }

    #[test]
    fn all_errors_come_at_once_in_order_of_place() {
        let text = "\
version = \"1\"
[circuit]
rnage = \"10 K\"
range = 10
approach = \"ten K\"
method = \"pope\"
hours = 80.5
open = \"yes\"
serial = 256
limits = [1]
[losses]
never = \"x\"
[[cell]]
name = \"east\"
drift = true
[[cell]]
name = \"west\"
fan = { blades = 8 }
pump = 3
";
        assert_eq!(
            shown(text, &[]),
            "\
site.toml:1:11: version needs a whole number, 0 or more, not text
    version = \"1\"
              ~~~
site.toml:3:1: unknown key \"rnage\" in [circuit]
    rnage = \"10 K\"
    ~~~~~  did you mean \"range\"?
site.toml:4:9: circuit.range needs a temperature difference with its unit, not a bare number
    range = 10
            ~~  such as \"10 K\"
site.toml:5:13: \"ten\" is not a number in circuit.approach
    approach = \"ten K\"
                ~~~
site.toml:6:11: unknown value \"pope\" in circuit.method
    method = \"pope\"
              ~~~~  one of \"rule\", \"latent\", \"merkel\", \"poppe\"; did you mean \"poppe\"?
site.toml:7:9: circuit.hours needs a whole number, 0 or more, not a fraction
    hours = 80.5
            ~~~~
site.toml:8:8: circuit.open needs true or false, not text
    open = \"yes\"
           ~~~~~
site.toml:9:10: circuit.serial needs a whole number from 0 to 255
    serial = 256
             ~~~
site.toml:10:10: circuit.limits needs a list of 2, not of 1
    limits = [1]
             ~~~
site.toml:12:9: losses.never is never right
    never = \"x\"
            ~~~
site.toml:15:9: cell.east.drift needs a number, not true
    drift = true
            ~~~~
site.toml:18:7: missing key \"power\" in cell.west.fan
    fan = { blades = 8 }
          ~~~~~~~~~~~~~~
site.toml:19:1: unknown key \"pump\" in cell.west
    pump = 3
    ~~~~  known here: name, drift, range, fan
"
        );
    }

    #[test]
    fn tables_lists_and_values_are_not_taken_for_one_another() {
        assert_eq!(
            shown("name = [1]\ncircuit = 5\n[cell]\nname = \"a\"\n", &[]),
            "\
site.toml:1:8: name needs text in quotes, not a list
    name = [1]
           ~~~
site.toml:2:11: circuit needs a table, not a number
    circuit = 5
              ~
site.toml:3:1: cell needs a list, not a table
    [cell]
    ~~~~~~  a list of tables is written [[cell]]
"
        );
        assert_eq!(
            shown("circuit = []\nname = 2024-01-01\ncell = [{drift = {}}]\n", &[]),
            "\
site.toml:1:11: circuit needs a table, not a list
    circuit = []
              ~~
site.toml:2:8: name needs text in quotes, not a date or time
    name = 2024-01-01
           ~~~~~~~~~~
site.toml:3:18: cell.1.drift needs a number, not a table
    cell = [{drift = {}}]
                     ~~
"
        );
        assert_eq!(
            shown(
                "[circuit]\nmethod = 3\nhours = -1\nlimits = [1, \"2\"]\nopen = 99999999999999999999999999999999999999999999\n",
                &[]
            ),
            "\
site.toml:2:10: circuit.method needs text in quotes, not a number
    method = 3
             ~
site.toml:3:9: circuit.hours needs a whole number, 0 or more
    hours = -1
            ~~
site.toml:4:14: circuit.limits.2 needs a number, not text
    limits = [1, \"2\"]
                 ~~~
site.toml:5:8: this number is too large in circuit.open
    open = 99999999999999999999999999999999999999999999
           ~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~
"
        );
    }

    #[test]
    fn a_missing_key_is_shown_at_its_table() {
        assert_eq!(
            shown("[[cell]]\nname = \"a\"\n[cell.fan]\nblades = 3\n", &[]),
            "\
site.toml:3:1: missing key \"power\" in cell.a.fan
    [cell.fan]
    ~~~~~~~~~~
"
        );
        let versioned = read::<Versioned>("<stdin>", "name = \"x\"\n", &[]);
        assert_eq!(
            versioned.unwrap_err().to_string(),
            "<stdin>:1:1: missing key \"version\" at the top level"
        );
    }

    #[test]
    fn a_refused_value_is_not_also_called_missing() {
        let refused = read::<Versioned>("site.toml", "version = \"x\"\n", &[]);
        assert_eq!(
            refused.unwrap_err().to_string(),
            "\
site.toml:1:11: version needs a whole number, 0 or more, not text
    version = \"x\"
              ~~~"
        );
    }

    #[test]
    fn dotted_keys_and_inline_tables_keep_their_places() {
        assert_eq!(
            shown(
                "circuit.range = 5\ncircuit.hour = 1\ncell = [{name=\"a\", drfit=1}, {fan={power=\"x\"}}]\n",
                &[]
            ),
            "\
site.toml:1:17: circuit.range needs a temperature difference with its unit, not a bare number
    circuit.range = 5
                    ~  such as \"10 K\"
site.toml:2:9: unknown key \"hour\" in [circuit]
    circuit.hour = 1
            ~~~~  did you mean \"hours\"?
site.toml:3:20: unknown key \"drfit\" in cell.a
    cell = [{name=\"a\", drfit=1}, {fan={power=\"x\"}}]
                       ~~~~~  did you mean \"drift\"?
site.toml:3:42: cell.2.fan.power needs a number, not text
    cell = [{name=\"a\", drfit=1}, {fan={power=\"x\"}}]
                                             ~~~
"
        );
    }

    #[test]
    fn columns_count_characters() {
        assert_eq!(
            shown("circuit = { approach = \"1 K\", range = \"10 °C³x\" } # m³\n", &[]),
            "\
site.toml:1:43: unknown unit \"°C³x\" in circuit.range
    circuit = { approach = \"1 K\", range = \"10 °C³x\" } # m³
                                              ~~~~  a temperature difference is written like \"10 K\" or \"18 degF\"
"
        );
        assert_eq!(
            shown("name = 'ä' # é\ncircuit = {open='ü', hours = 'x'}", &[]),
            "\
site.toml:2:17: circuit.open needs true or false, not text
    circuit = {open='ü', hours = 'x'}
                    ~~~
site.toml:2:30: circuit.hours needs a whole number, 0 or more, not text
    circuit = {open='ü', hours = 'x'}
                                 ~~~
"
        );
    }

    #[test]
    fn tabs_keep_the_marker_under_its_place() {
        assert_eq!(
            shown("\tversion\t= \"x\"\n", &[]),
            "\
site.toml:1:12: version needs a whole number, 0 or more, not text
        version    = \"x\"
                     ~~~
"
        );
    }

    #[test]
    fn a_long_line_is_cut_around_the_place() {
        let long = "n".repeat(300);
        assert_eq!(
            shown(&format!("name = \"{long}\" # {long}\nversion = \"{long}\"\n"), &[]),
            "\
site.toml:2:11: version needs a whole number, 0 or more, not text
    version = \"nnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnn...
              ~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~
"
        );
        assert_eq!(
            shown(
                &format!("cell = [{{name = \"{long}\", drift = \"x\"}}, {{name = \"m{long}\"}}]\n"),
                &[]
            ),
            format!(
                "\
site.toml:1:329: cell.{long}.drift needs a number, not text
    ...nnnnnnnnnnnnnnnnnnn\", drift = \"x\"}}, {{name = \"mnnnnnnnnnnnnnnnnnnnnnnnn...
                                     ~~~
"
            )
        );
    }

    #[test]
    fn control_characters_do_not_reach_the_terminal() {
        let text = "name = 5 # \u{202e}\u{9b}31m\n\"a\\u001b[2Jb\" = 1\n";
        let out = shown(text, &["circuit.open=\u{1b}[31mred\nline"]);
        assert_eq!(
            out,
            "\
site.toml:1:8: name needs text in quotes, not a number
    name = 5 # \u{fffd}\u{fffd}31m
           ~
site.toml:2:1: unknown key \"a\u{fffd}[2Jb\" at the top level
    \"a\\u001b[2Jb\" = 1
    ~~~~~~~~~~~~~  known here: version, name, circuit, cell, losses
--set:1:14: circuit.open needs true or false, not text
    circuit.open=\u{fffd}[31mred\u{fffd}line
                 ~~~~~~~~~~~~~
"
        );
    }

    #[test]
    fn all_syntax_errors_come_in_plain_words() {
        let text = "\
range = 10 degC
flow = 4,000
ready = yes
cycles =
é = 2
name = \"east
x = 1
x = 2
x.y = 3
n = 007
p = 1.
u = “5 K”
w = \"c:\\qaz\"
m = { a = 1
b = 2
[air
[circuit]
k = [1, 2
";
        assert_eq!(
            shown(text, &[]),
            "\
site.toml:1:9: text must stand in quotes
    range = 10 degC
            ~~~~~~~  write \"10 degC\"
site.toml:2:9: a comma cannot stand in a number
    flow = 4,000
            ~  write 4000 for four thousand, 1.5 for one and a half
site.toml:3:9: this is not a value
    ready = yes
            ~~~  write true
site.toml:4:9: no value after \"=\"
    cycles =
            ~
site.toml:5:1: this cannot stand in a key
    é = 2
    ~  a key is made of letters a to z, digits, \"_\" and \"-\"
site.toml:6:13: the text is not closed
    name = \"east
                ~  the closing quote is missing
site.toml:8:1: \"x\" is given twice
    x = 2
    ~
site.toml:7:1: note: also given here
    x = 1
    ~
site.toml:9:1: \"x\" has a value already: it cannot hold keys
    x.y = 3
    ~
site.toml:10:5: a number cannot begin with 0
    n = 007
        ~  leave the 0 out
site.toml:11:7: digits are missing in this number
    p = 1.
          ~  write it like 0.5 or 5.0
site.toml:12:5: text must stand in straight quotes
    u = “5 K”
        ~~~~~  write \"5 K\"
site.toml:13:9: \"\\\" has a meaning of its own in text
    w = \"c:\\qaz\"
            ~  write \"\\\\\", or put the text in single quotes
site.toml:14:5: the table is not closed
    m = { a = 1
        ~  it ends with \"}\"
"
        );
        assert_eq!(
            shown("a = 1 K\nk = [1, 2\n[circuit]\nrange = 5 K\n", &[]),
            "\
site.toml:1:5: text must stand in quotes
    a = 1 K
        ~~~  write \"1 K\"
site.toml:2:5: the list is not closed
    k = [1, 2
        ~  it ends with \"]\"
"
        );
        assert_eq!(
            shown("drift rate = 1\n", &[]),
            "\
site.toml:1:7: no value for this key
    drift rate = 1
          ~  write key = value
"
        );
        assert_eq!(
            shown("w = \"a\u{1}\"\n[[cell]\n= 2\n", &[]),
            "\
site.toml:1:7: a character that cannot stand in text
    w = \"a\u{fffd}\"
          ~  write it as \\u and four digits
site.toml:2:8: the table's header is not closed
    [[cell]
           ~  it ends with \"]]\"
site.toml:3:1: no key before \"=\"
    = 2
    ~  write key = value
"
        );
        assert_eq!(
            shown("version = 1\nname = \"\"\"x\n \n", &[]),
            "\
site.toml:2:12: the text is not closed
    name = \"\"\"x
               ~  the closing quote is missing
"
        );
    }

    #[test]
    fn a_table_given_twice_shows_both_headers() {
        assert_eq!(
            shown("[circuit]\n[losses]\n[circuit]\n", &[]),
            "\
site.toml:3:2: \"circuit\" is given twice
    [circuit]
     ~~~~~~~
site.toml:1:2: note: also given here
    [circuit]
     ~~~~~~~
"
        );
    }

    #[test]
    fn overrides_replace_and_create() {
        let source = with(
            VALID,
            &[
                "circuit.range = 12 K",
                "cell.east.drift=0.2",
                "cell.no. 2.drift=0.4",
                "name=three towers",
                "losses={}",
            ],
        );
        // A name with a dot needs its quotes.
        let refused = source.unwrap_err().to_string();
        assert_eq!(
            refused,
            "\
--set:3:6: no entry \"no\" in cell
    cell.no. 2.drift=0.4
         ~~  one of east, no. 2
--set:5:8: losses needs a table, not text
    losses={}
           ~~"
        );
        let description = with(
            VALID,
            &[
                "circuit.range = 12 K",
                "circuit.limits = [3, 4]",
                "cell.east.drift=0.2",
                "cell.\"no. 2\".drift=0.4",
                "cell.2.fan.blades = 6",
                "name=three towers",
                "circuit.open = true",
                "circuit.method='merkel'",
                "circuit.hours=1",
                "circuit.hours=2",
            ],
        )
        .unwrap()
        .description;
        let circuit = description.circuit.unwrap();
        assert_eq!(circuit.range, Some(Kelvin(12.0)));
        assert_eq!(circuit.limits, Some([3.0, 4.0]));
        assert_eq!(circuit.open, Some(true));
        assert_eq!(circuit.method, Some(Method::Merkel));
        assert_eq!(circuit.hours, Some(2));
        assert_eq!(description.name.as_deref(), Some("three towers"));
        assert_eq!(description.cell[0].drift, Some(0.2));
        assert_eq!(description.cell[1].drift, Some(0.4));
        assert_eq!(description.cell[1].fan.as_ref().unwrap().blades, Some(6));
        let created = with("", &["circuit.range=5 K"]).unwrap().description;
        assert_eq!(created.circuit.unwrap().range, Some(Kelvin(5.0)));
    }

    #[test]
    fn an_override_mends_the_text() {
        let text = "[circuit]\nrange = \"10 degX\"\n";
        assert!(with(text, &["circuit.range=10 K"]).is_ok());
    }

    #[test]
    fn errors_in_overrides_name_the_option() {
        assert_eq!(
            shown(
                VALID,
                &[
                    "cell.west.drift=0.1",
                    "circuit.range = 10 degX",
                    "circuit.rnage=1",
                    "version.x=1",
                    "circuit.limits.3=1",
                    "circuit.hours=5 h",
                    "losses.never.more=1",
                ]
            ),
            "\
--set:1:6: no entry \"west\" in cell
    cell.west.drift=0.1
         ~~~~  one of east, no. 2
--set:2:20: unknown unit \"degX\" in circuit.range
    circuit.range = 10 degX
                       ~~~~  a temperature difference is written like \"10 K\" or \"18 degF\"
--set:3:9: unknown key \"rnage\" in [circuit]
    circuit.rnage=1
            ~~~~~  did you mean \"range\"?
--set:4:9: version is a single value: nothing can be set in it
    version.x=1
            ~
--set:5:16: no entry \"3\" in circuit.limits
    circuit.limits.3=1
                   ~  its entries are 1 to 2
--set:6:15: circuit.hours needs a whole number, 0 or more, not text
    circuit.hours=5 h
                  ~~~
--set:7:8: losses.never needs text in quotes, not a table
    losses.never.more=1
           ~~~~~
"
        );
        assert_eq!(
            shown("cell = []\n", &["cell.1.drift=1", "circuit.hours=1", "circuit.hours=x"]),
            "\
--set:1:6: no entry \"1\" in cell
    cell.1.drift=1
         ~  it has no entries
--set:3:15: circuit.hours needs a whole number, 0 or more, not text
    circuit.hours=x
                  ~
"
        );
    }

    #[test]
    fn what_is_not_key_and_value_is_no_override() {
        let refused = |text| Override::parse(text).unwrap_err();
        assert_eq!(refused("circuit.range"), InvalidOverride::NoEquals);
        assert_eq!(refused("circuit."), InvalidOverride::NoEquals);
        assert_eq!(refused("\"a\""), InvalidOverride::NoEquals);
        assert_eq!(refused(""), InvalidOverride::NoEquals);
        assert_eq!(refused("=5"), InvalidOverride::EmptyPart);
        assert_eq!(refused("a..b=5"), InvalidOverride::EmptyPart);
        assert_eq!(refused("a. =5"), InvalidOverride::EmptyPart);
        assert_eq!(refused("a.\"\".b=5"), InvalidOverride::EmptyPart);
        assert_eq!(refused("a.\"b=5"), InvalidOverride::Quotes);
        assert_eq!(refused("a.\"b\"c=5"), InvalidOverride::Quotes);
        assert_eq!(refused("a.b\"c\"=5"), InvalidOverride::Quotes);
        assert_eq!(refused("a.b= "), InvalidOverride::NoValue);
        assert_eq!(refused(&format!("{}a=1", "a.".repeat(16))), InvalidOverride::TooManyParts);
        assert_eq!("a.'b=c'=d=e".parse::<Override>().unwrap().key[1].name, "b=c");
    }

    fn located(source: &Source<Mock>, problem: Problem) -> String {
        source.locate(vec![problem]).to_string()
    }

    #[test]
    fn problems_are_located_by_path() {
        let source = with(VALID, &["cell.east.range=3 K", "losses.x.y=1"]);
        assert!(source.is_err());
        let source = with(VALID, &["cell.east.range=3 K"]).unwrap();
        let problem = Problem::new("circuit.hours", "more hours than a year has")
            .with_help("a year has 8760 hours");
        assert_eq!(
            located(&source, problem),
            "\
site.toml:6:9: more hours than a year has
    hours = 8000
            ~~~~  a year has 8760 hours"
        );
        let contradiction = Problem::new("circuit.range", "two ranges for one cell")
            .with_related("cell.1.range")
            .with_related("cell.1.nothing");
        assert_eq!(
            located(&source, contradiction),
            "\
site.toml:5:1: two ranges for one cell
    range = \"10 K\"
    ~~~~~
--set:1:11: note: also given here
    cell.east.range=3 K
              ~~~~~"
        );
        let places = [
            ("cell.east.drift", (12, 9)),
            ("cell.1.drift", (12, 9)),
            ("cell.no. 2.fan.blades", (18, 31)),
            ("cell.2.fan.blades", (18, 31)),
            ("cell.no. 2", (16, 1)),
            ("cell.2.drift", (16, 1)),
            ("cell.west.drift", (10, 1)),
            ("cell", (10, 1)),
            ("circuit", (4, 1)),
            ("circuit.approach", (4, 1)),
            ("circuit.limits.2", (8, 14)),
            ("version", (1, 11)),
            ("name", (2, 8)),
            ("losses", (1, 1)),
            ("", (1, 1)),
        ];
        for (path, place) in places {
            let diagnostics = source.locate(vec![Problem::new(path, "wrong")]);
            let found = &diagnostics.as_slice()[0];
            assert_eq!((found.line, found.column), place, "{path}");
        }
    }

    #[test]
    fn problems_come_in_order_and_once() {
        let source = with(VALID, &[]).unwrap();
        let diagnostics = source.locate(vec![
            Problem::new("cell.2", "b"),
            Problem::new("circuit", "a"),
            Problem::new("cell.no. 2", "b"),
            Problem::new("pump", "missing"),
        ]);
        let messages: Vec<&str> = (&diagnostics).into_iter().map(|d| d.message.as_str()).collect();
        assert_eq!(messages, ["missing", "a", "b"]);
    }

    #[test]
    fn a_text_of_another_kind_ends_after_a_hundred_errors() {
        let text: String = (0..500).map(|number| format!("key{number} = 1\n")).collect();
        assert_eq!(with(&text, &[]).unwrap_err().as_slice().len(), 100);
        let text: String = (0..500).map(|number| format!("key {number} = 1\n")).collect();
        assert_eq!(with(&text, &[]).unwrap_err().as_slice().len(), 100);
    }

    #[test]
    fn deep_nesting_is_refused_before_it_fills_the_stack() {
        let level = format!("{}a={{", "a.".repeat(70));
        let deep = format!("{}a=1{}", level.repeat(79), "}".repeat(79));
        let after_strings = format!("x = it's \"\"\"\n\\\"\"\"\" # '\n{deep}");
        for text in
            [&deep, &after_strings, &"a.".repeat(9999), &"[".repeat(9999), &"a={".repeat(9999)]
        {
            let refused = shown(text, &[]);
            assert!(refused.contains("nested too deeply"), "{refused}");
        }
        let list = format!("cell=[{{{deep}}}]");
        assert!(shown("", &[&list]).starts_with("--set:1:6: cell needs a list, not text"));
        let comment = format!("# {}\nname = \"{}\"\n", "[a.".repeat(300), "{.".repeat(300));
        assert!(with(&comment, &[]).is_ok());
    }

    /// Every text ends in a description or in diagnostics that name places.
    fn ends_well(text: &str, set: &[Override]) {
        match read::<Mock>("site.toml", text, set) {
            Ok(source) => {
                let problem = Problem::new("cell.1.fan", "wrong").with_related("circuit.range");
                assert_eq!(source.locate(vec![problem]).iter().count(), 1);
            }
            Err(diagnostics) => {
                assert!(!diagnostics.as_slice().is_empty());
                let shown = diagnostics.to_string();
                assert!(!shown.contains(|c: char| c.is_control() && c != '\n'));
                for diagnostic in &diagnostics {
                    assert!(!diagnostic.message.is_empty());
                    assert!(diagnostic.line >= 1 && diagnostic.column >= 1);
                }
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(200) })]

        #[test]
        fn any_bytes_end_well(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
            ends_well(&String::from_utf8_lossy(&bytes), &[]);
        }

        #[test]
        fn any_toml_like_text_ends_well(text in "([a-z\"'.=\\[\\]{}#, \n\r\t0-9_\\\\°-]|\\[\\[cell\\]\\]\n|range = |\"\"\"){0,80}") {
            ends_well(&text, &[]);
        }

        #[test]
        fn a_changed_text_ends_well(
            changes in prop::collection::vec((0..VALID.len(), "[a-z\"'.=\\[\\]{}#, \n0-9_\\\\°³]{0,4}", 0..6usize), 1..5),
            set in prop::collection::vec("(cell|circuit|version|name|pump)(\\.(1|2|east|\"no. 2\"|fan|range|limits|[a-z°]))?(\\.(range|fan|1|x y))? ?=.{1,8}", 0..4),
        ) {
            let mut text = VALID.to_owned();
            for (at, new, length) in changes {
                let from = on_boundary(&text, at);
                let to = on_boundary(&text, at + length).max(from);
                text.replace_range(from..to, &new);
            }
            let set: Vec<Override> = set.iter().filter_map(|one| Override::parse(one).ok()).collect();
            ends_well(&text, &set);
            ends_well(VALID, &set);
        }

        #[test]
        fn any_override_ends_well(texts in prop::collection::vec("([a-z0-9.=\"'\\[{}, °]|\\PC|cell|circuit\\.range){0,20}", 0..4)) {
            let set: Vec<Override> = texts.iter().filter_map(|one| Override::parse(one).ok()).collect();
            ends_well(VALID, &set);
        }
    }
}
