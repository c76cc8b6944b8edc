//! The header of a table, wherever spreadsheets put it: below titles, above a row of units.

use super::lines::Lines;
use super::number::{Number, number_of};
use super::{Channel, Column, LogError, text_of};
use crate::printable::{is_obeyed, printable};
use crate::quantity::unit::{self, Unit};
use std::io::Read;

/// Lines, blank ones apart, among which a header is looked for.
const MOST_LINES: usize = 40;
/// Lines that the names of one header may reach over, in quotation marks.
const MOST_JOINED: usize = 8;

/// A header.
pub(super) struct Header {
    /// Line in the file in which it begins.
    pub(super) line: u64,
    /// What separates.
    pub(super) delimiter: u8,
    /// Its cells.
    pub(super) names: Vec<String>,
    /// Its cells behind the heading that stands over them, where one does.
    headed: Vec<String>,
    /// Lines above it that are not blank.
    pub(super) above: Vec<u64>,
}

/// How much of what is wanted a line has: names, near names, cells.
type Score = (usize, usize, usize);

impl Header {
    /// The first line that has all the names that are wanted.
    ///
    /// # Errors
    /// [`LogError`] where none has: by the line that has most of them.
    pub(super) fn find<R: Read>(lines: &mut Lines<R>, wanted: &[&str]) -> Result<Self, LogError> {
        let mut above: Vec<u64> = Vec::new();
        let mut before: Option<Vec<u8>> = None;
        let mut best: Option<(Score, Self)> = None;
        let mut open: Option<u64> = None;
        while above.len() < MOST_LINES {
            let Some(line) = lines.take_line()? else { break };
            if line.trim_ascii().is_empty() {
                continue;
            }
            let number = lines.number();
            let mut header = Self::of(number, &line, before.as_deref(), wanted);
            let mut is_open = opens_a_text(&line);
            if is_open {
                let (whole, taken) = joined(lines, &line)?;
                is_open = opens_a_text(&whole);
                if !is_open {
                    header = Self::of(number, &whole, before.as_deref(), wanted);
                }
                let is_header = !is_open && header.has_all(wanted);
                taken
                    .into_iter()
                    .rev()
                    .filter(|_| !is_header)
                    .for_each(|l| lines.put_back(Some(l)));
            }
            if is_open {
                open = open.or(Some(number));
            } else if header.has_all(wanted) {
                return Ok(Self { above, ..header });
            }
            let score = header.score(wanted);
            if best.as_ref().is_none_or(|(most, _)| score > *most) {
                best = Some((score, header));
            }
            above.push(number);
            before = Some(line);
        }
        match (best, open) {
            (Some((_, best)), Some(line)) if best.line >= line => Err(LogError::OpenQuote { line }),
            (Some((_, best)), _) if best.names.iter().any(|name| !name.is_empty()) => {
                let missing = wanted.iter().find(|name| best.places(name).is_empty());
                Err(best.no_column(missing.copied().unwrap_or_default()))
            }
            _ => Err(LogError::Empty),
        }
    }

    /// A line as a header, split where that gives most of what is wanted.
    fn of(line: u64, text: &[u8], before: Option<&[u8]>, wanted: &[&str]) -> Self {
        let split = |delimiter: u8| {
            let names = cells(text, delimiter);
            let over = before.map(|before| cells(before, delimiter)).unwrap_or_default();
            let headed = headed(&names, &over);
            Self { line, delimiter, names, headed, above: Vec::new() }
        };
        let order = |header: &Self| {
            let (names, near, _) = header.score(wanted);
            let separators = text.iter().filter(|byte| **byte == header.delimiter).count();
            (names, near, separators, header.delimiter == b',')
        };
        let headers = [split(b';'), split(b'\t'), split(b',')];
        let [first, rest @ ..] = headers;
        rest.into_iter().fold(
            first,
            |best, other| {
                if order(&other) > order(&best) { other } else { best }
            },
        )
    }

    fn has_all(&self, wanted: &[&str]) -> bool {
        wanted.iter().all(|name| !self.places(name).is_empty())
    }

    fn score(&self, wanted: &[&str]) -> Score {
        let found = wanted.iter().filter(|name| !self.places(name).is_empty()).count();
        let near = wanted.iter().filter(|name| self.nearest(name).is_some()).count();
        (found, near, self.names.iter().filter(|name| !name.is_empty()).count())
    }

    /// Where a name stands: to the letter, else without regard to case and space, else with its heading.
    fn places(&self, wanted: &str) -> Vec<usize> {
        let of = |names: &[String], is: &dyn Fn(&str) -> bool| -> Vec<usize> {
            (0..names.len()).filter(|place| is(&names[*place])).collect()
        };
        let plain = plain(wanted);
        let to_the_letter = of(&self.names, &|name| name == wanted);
        if !to_the_letter.is_empty() {
            return to_the_letter;
        }
        let by_name = of(&self.names, &|name| self::plain(name) == plain);
        if !by_name.is_empty() {
            return by_name;
        }
        of(&self.headed, &|name| self::plain(name) == plain)
    }

    /// The place of a name.
    ///
    /// # Errors
    /// [`LogError::NoColumn`], or [`LogError::TwoColumns`] where the name does not tell.
    pub(super) fn place(&self, wanted: &str) -> Result<usize, LogError> {
        match self.places(wanted).as_slice() {
            [] => Err(self.no_column(wanted)),
            [place] => Ok(*place),
            [one, other, ..] => Err(LogError::TwoColumns {
                line: self.line,
                name: wanted.into(),
                places: (one + 1, other + 1),
                instead: [*one, *other].map(|place| shown(&self.headed[place])),
            }),
        }
    }

    fn no_column(&self, wanted: &str) -> LogError {
        let named = self.names.iter().filter(|name| !name.is_empty());
        LogError::NoColumn {
            line: self.line,
            wanted: wanted.into(),
            nearest: self.nearest(wanted),
            found: named.map(|name| format!("\"{}\"", shown(name))).collect(),
        }
    }

    /// The name that was meant, as far as letters tell.
    fn nearest(&self, wanted: &str) -> Option<String> {
        let wanted = plain(wanted);
        let length = wanted.chars().count();
        let slips = |name: &str| {
            let name = plain(name);
            let is_part = name.len() > 2
                && wanted.len() > 2
                && (name.starts_with(&wanted) || wanted.starts_with(&name));
            if is_part { 1 } else { strsim::damerau_levenshtein(&name, &wanted) }
        };
        let near = self.names.iter().map(|name| (slips(name), name));
        let near = near.filter(|(slips, name)| !name.is_empty() && *slips <= 1 + length / 4);
        near.min_by_key(|(slips, _)| *slips).map(|(_, name)| shown(name))
    }

    /// Whether a row is the header again, as on a new page.
    pub(super) fn is_again<'a>(&self, mut row: impl Iterator<Item = &'a [u8]>) -> bool {
        self.names
            .iter()
            .all(|name| row.next().is_some_and(|cell| plain(&text_of(cell)) == plain(name)))
    }

    /// Takes the row of units below the header, where there is one; its line.
    ///
    /// # Errors
    /// [`LogError::OtherUnit`] where it says another unit than the site file.
    pub(super) fn take_units<R: Read>(
        &self,
        lines: &mut Lines<R>,
        time: usize,
        columns: &[(usize, &Column)],
    ) -> Result<Option<u64>, LogError> {
        let line = loop {
            match lines.take_line()? {
                None => return Ok(None),
                Some(line) if line.trim_ascii().is_empty() => {}
                Some(line) => break line,
            }
        };
        let cells = cells(&line, self.delimiter);
        let cell = |place: usize| cells.get(place).map_or("", String::as_str);
        let are_words = !opens_a_text(&line)
            && !cell(time).contains(|c: char| c.is_ascii_digit())
            && columns.iter().all(|(place, _)| !is_number(cell(*place)));
        let units: Vec<_> = columns
            .iter()
            .filter_map(|(place, column)| {
                Some((*column, cell(*place), unit_in(cell(*place), column)?))
            })
            .collect();
        let number = lines.number();
        if !are_words || units.is_empty() {
            lines.put_back(Some(line));
            return Ok(None);
        }
        for (column, written, unit) in units {
            let is_other = (unit.factor, unit.offset) != (column.unit.factor, column.unit.offset);
            // A column counted as CaCO3 has a factor of its own.
            let is_chloride =
                matches!(column.channel, Channel::MakeupChloride | Channel::BasinChloride);
            let is_other_basis =
                is_chloride && written.contains("as CaCO3") != (column.multiplier != 1.0);
            if is_other || is_other_basis {
                return Err(LogError::OtherUnit {
                    line: number,
                    column: column.name.clone(),
                    written: written.into(),
                    stated: match (is_chloride, column.multiplier == 1.0) {
                        (true, true) => "mg/L as Cl",
                        (true, false) => "another basis than Cl",
                        _ => column.unit.symbol,
                    },
                });
            }
        }
        Ok(Some(number))
    }
}

/// The unit that a cell names, of the column's quantity where one is, else of any.
fn unit_in(cell: &str, column: &Column) -> Option<&'static Unit> {
    let text = cell.trim_matches(|c| "()[]".contains(c) || char::is_whitespace(c));
    let text = text.split_once(" as ").map_or(text, |(unit, _)| unit);
    if text.is_empty() {
        return None;
    }
    unit::any_written_as(text, column.unit.quantity)
}

fn is_number(cell: &str) -> bool {
    matches!(number_of(cell, None), Number::Value(_) | Number::Either(..))
}

/// A name without what the eye does not tell apart: case, space, marks that nobody sees.
pub(super) fn plain(name: &str) -> String {
    let seen: String = name.chars().map(|c| if c.is_whitespace() { ' ' } else { c }).collect();
    let seen: String = seen.chars().filter(|c| !is_obeyed(*c)).collect();
    seen.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

/// A name as a message shows it: in one line.
fn shown(name: &str) -> String {
    printable(&name.split_whitespace().collect::<Vec<_>>().join(" ")).into_owned()
}

/// The cells of a line.
pub(super) fn cells(line: &[u8], delimiter: u8) -> Vec<String> {
    let mut table = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(line);
    let mut record = csv::ByteRecord::new();
    match table.read_byte_record(&mut record) {
        Ok(true) => record.iter().map(|cell| text_of(cell).into_owned()).collect(),
        _ => Vec::new(),
    }
}

/// Names behind the headings over them; a merged cell stands over all up to the next.
fn headed(names: &[String], over: &[String]) -> Vec<String> {
    let mut heading = "";
    let mut headed = Vec::with_capacity(names.len());
    for (place, name) in names.iter().enumerate() {
        heading = over.get(place).map(String::as_str).filter(|o| !o.is_empty()).unwrap_or(heading);
        headed.push(format!("{heading} {name}").trim().to_owned());
    }
    headed
}

/// Whether a quotation mark at the beginning of a cell is not closed. Which sign separates is not known
/// yet: any of the three does.
fn opens_a_text(line: &[u8]) -> bool {
    enum At {
        Start,
        Plain,
        Text,
        AfterText,
    }
    let mut at = At::Start;
    for byte in line {
        at = match (at, byte) {
            // Two marks in a text are one of its own.
            (At::Start | At::AfterText, b'"') => At::Text,
            (At::Text, b'"') => At::AfterText,
            (At::Text, _) => At::Text,
            (_, b',' | b';' | b'\t') => At::Start,
            _ => At::Plain,
        };
    }
    matches!(at, At::Text)
}

/// A line with those after it up to the one in which its text ends, and these.
fn joined<R: Read>(lines: &mut Lines<R>, line: &[u8]) -> Result<(Vec<u8>, Vec<Vec<u8>>), LogError> {
    let mut whole = line.to_vec();
    let mut taken = Vec::new();
    while taken.len() < MOST_JOINED && opens_a_text(&whole) {
        let Some(next) = lines.take_line()? else { break };
        whole.push(b'\n');
        whole.extend_from_slice(&next);
        taken.push(next);
    }
    Ok((whole, taken))
}
