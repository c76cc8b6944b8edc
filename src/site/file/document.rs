//! The texts of a description as one table, with the overrides laid over it.

use std::ops::Range;

use serde::de::DeserializeOwned;
use toml::Spanned;
use toml::de::{DeTable, DeValue, Deserializer};

use super::super::Problem;
use super::diagnostics::{Diagnostic, Diagnostics, Finding, excerpt, harmless, on_boundary};
use super::looks_like_one;
use super::nesting::nesting;
use super::outline::Outline;
use super::overrides::{Override, Part};
use super::words::{choice, is_unclosed, syntax_words};

/// At most so many diagnostics are shown, so that a file of another kind ends soon.
const MOST_DIAGNOSTICS: usize = 100;

/// The texts of a description: the file and the overrides, each beginning where the one before it
/// ends, so that a place names its text.
#[derive(Debug, Clone)]
pub(super) struct Document {
    pub(super) name: String,
    pub(super) text: String,
    overrides: Vec<PlacedOverride>,
}

#[derive(Debug, Clone)]
struct PlacedOverride {
    pub(super) start: usize,
    given: Override,
    /// The value, with a key for the parser, after as many blanks as there is text before it, so
    /// that places in it are right.
    padded_value: String,
}

/// A table with the overrides laid over it, and what is wrong with the overrides.
pub(super) struct Parsed<'t> {
    pub(super) root: Spanned<DeValue<'t>>,
    pub(super) refused: Vec<Finding>,
}

impl Document {
    pub(super) fn new(name: &str, text: &str, overrides: &[Override]) -> Document {
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
    pub(super) fn end(&self) -> usize {
        match self.overrides.last() {
            Some(last) => last.start + last.given.text.len() + 1,
            None => self.text.len() + 1,
        }
    }

    pub(super) fn parse(&self) -> Result<Parsed<'_>, Diagnostics> {
        let nesting = nesting(&self.text);
        if let Some(place) = nesting.too_deep {
            let finding = Finding::new(Some(place..place + 1), "nested too deeply");
            return Err(self.diagnose(vec![finding]));
        }
        let (table, errors) = DeTable::parse_recoverable(&self.text);
        if !errors.is_empty() {
            // A single line may be a key whose value is still to be written.
            if errors.len() > 1 && !looks_like_one(&self.text) {
                let message = "this is no site file: it has no line such as coldbasin = 1";
                return Err(self.diagnose(vec![Finding::new(None, message)]));
            }
            return Err(self.syntax_errors(errors, nesting.open));
        }
        let mut root = Spanned::new(0..0, DeValue::Table(table.into_inner()));
        let refused =
            (self.overrides.iter()).filter_map(|option| option.lay_over(&mut root).err()).collect();
        Ok(Parsed { root, refused })
    }

    /// Deserialises again and again, each time without the entries that were refused before.
    pub(super) fn everything_wrong<D: DeserializeOwned>(
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
    pub(super) fn slice(&self, place: Range<usize>) -> &str {
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

    pub(super) fn diagnose(&self, mut findings: Vec<Finding>) -> Diagnostics {
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
    pub(super) fn place(&self, part: &Part) -> Range<usize> {
        self.start + part.place.start..self.start + part.place.end
    }

    /// The value as TOML where it reads as such, else as text.
    pub(super) fn value(&self) -> Spanned<DeValue<'_>> {
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
pub(super) fn name_of<'v>(entry: &'v Spanned<DeValue>) -> Option<&'v str> {
    let table = entry.get_ref().as_table()?;
    table.get("name")?.get_ref().as_str()
}

/// The entry of a list that has this name, or else this number from 1.
pub(super) fn position(list: &[Spanned<DeValue>], wanted: &str) -> Option<usize> {
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

pub(super) fn deserializer(root: Spanned<DeValue<'_>>) -> Deserializer<'_> {
    let span = root.span();
    let table = match root.into_inner() {
        DeValue::Table(table) => table,
        _ => DeTable::new(),
    };
    Deserializer::from(Spanned::new(span, table))
}

/// Takes tables out by their names.
pub(super) fn remove_tables(root: &mut Spanned<DeValue>, names: &[&str]) {
    if let DeValue::Table(table) = root.get_mut() {
        for name in names {
            table.remove(*name);
        }
    }
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
