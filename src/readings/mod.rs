//! Logs as people keep them: a header, a time, and columns that the site file names.
//!
//! Rows stream through in bounded memory. A reading that cannot be used is listed with its line and the
//! reason; nothing is dropped silently.

pub mod period;
pub mod repair;
pub mod weather;

use crate::quantity::unit::Unit;
use crate::site::description::{Channel, DateOrder};
use jiff::SignedDuration;
use jiff::civil::{Date, DateTime};
use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::io::Read;

/// Columns that are shown and not judged, at the most.
pub const MOST_RECORDED: usize = 12;
/// Rows that wait for an earlier one: a row may stand so many rows too late.
const WINDOW: usize = 4_096;
/// A row is mistyped where its time lies farther than this from both of its neighbours, while these lie
/// no farther from each other.
const FAR: SignedDuration = SignedDuration::from_hours(24 * 60);
/// The first and the last row have one neighbour only: they are mistyped where they lie farther than this
/// from it, five years.
const FAR_AT_END: SignedDuration = SignedDuration::from_hours(24 * 1_826);
/// Lines that are listed as not used, one by one; the rest are counted.
const MOST_LISTED: usize = 10_000;

impl Channel {
    /// All that count, in the order of [`Row::values`].
    pub const ALL: [Self; 20] = [
        Self::MakeupRegister,
        Self::MakeupFlow,
        Self::BlowdownRegister,
        Self::BlowdownFlow,
        Self::BlowdownValveHours,
        Self::MakeupConductivity,
        Self::BasinConductivity,
        Self::MakeupChloride,
        Self::BasinChloride,
        Self::BasinLevel,
        Self::FanHours,
        Self::HotWater,
        Self::ColdWater,
        Self::DryBulb,
        Self::WetBulb,
        Self::RelativeHumidity,
        Self::Circulation,
        Self::DewPoint,
        Self::Pressure,
        Self::Load,
    ];

    /// Whether it counts up.
    pub fn is_register(self) -> bool {
        matches!(
            self,
            Self::MakeupRegister
                | Self::BlowdownRegister
                | Self::BlowdownValveHours
                | Self::FanHours
        )
    }
}

/// A column that counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Its header.
    pub name: String,
    /// What it holds.
    pub channel: Channel,
    /// The unit of its numbers.
    pub unit: &'static Unit,
    /// Where a register starts again, in the unit of the column.
    pub rolls_over_at: Option<f64>,
}

/// A column that is shown and not judged: a drum's level, a residual, a dip slide.
#[derive(Debug, Clone, PartialEq)]
pub struct RecordedColumn {
    /// Its header.
    pub name: String,
    /// The unit of its numbers, as written.
    pub unit: String,
    /// How often it is to be read, in seconds.
    pub every: Option<f64>,
}

/// How a log is to be read.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Table of the site file that says so: `log` or `weather`.
    pub table: &'static str,
    /// Header of the column with date and time.
    pub time: String,
    /// Header of the column with the time of day, where it stands apart from the date.
    pub time_of_day: Option<String>,
    /// Whether a time names the end of its hour, not its beginning; of weather.
    pub time_ends_hour: bool,
    /// The year that all rows are put in, where they come from months of many years.
    pub typical_year: Option<i16>,
    /// Order of day and month in dates with slashes, where it is stated; no such date is read without it.
    /// Where dots are written, the day is first.
    pub dates: Option<DateOrder>,
    /// Columns that count.
    pub columns: Vec<Column>,
    /// Columns that are shown, [`MOST_RECORDED`] at the most.
    pub recorded: Vec<RecordedColumn>,
}

impl Layout {
    /// The column that holds a channel.
    pub fn column(&self, channel: Channel) -> Option<&Column> {
        self.columns.iter().find(|column| column.channel == channel)
    }
}

/// A row of a log; readings in SI, NaN where there is none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Line in the file.
    pub line: u64,
    /// Time by the log's own clock; where rows carry an offset, by that of the first row.
    pub time: DateTime,
    /// By [`Channel::ALL`].
    pub values: [f64; Channel::ALL.len()],
    /// By [`Layout::recorded`], in the column's own unit.
    pub recorded: [f64; MOST_RECORDED],
}

impl Row {
    /// A reading.
    pub fn get(&self, channel: Channel) -> Option<f64> {
        Some(self.values[channel as usize]).filter(|value| !value.is_nan())
    }
}

/// Something in a log that is not used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// Line in the file.
    pub line: u64,
    /// Why.
    pub reason: String,
}

/// What of a log is not used, and how many rows there were.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct NotUsed {
    /// In order of lines once the log has been read.
    pub listed: Vec<Refused>,
    /// Beyond those listed.
    pub more: usize,
    /// Rows that stood out of order, and were put in order.
    pub out_of_order: usize,
    /// Rows read.
    pub rows: usize,
}

impl NotUsed {
    fn add(&mut self, line: u64, reason: String) {
        if self.listed.len() < MOST_LISTED {
            self.listed.push(Refused { line, reason });
        } else {
            self.more += 1;
        }
    }

    /// Whether every line was used as it stands.
    pub fn is_empty(&self) -> bool {
        self.listed.is_empty() && self.out_of_order == 0
    }
}

/// Why a log cannot be read at all.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LogError {
    /// The file is no table.
    #[error("{0}")]
    Csv(#[from] csv::Error),
    /// The system says so.
    #[error("{0}")]
    Io(#[from] std::io::Error),
    /// The file has no header.
    #[error("the log is empty: it needs a header and rows")]
    Empty,
    /// A column that the site file names is not there.
    #[error("no column \"{wanted}\" in the file; its header has {}", .found.join(", "))]
    NoColumn {
        /// As the site file names it.
        wanted: String,
        /// What the header has.
        found: Vec<String>,
    },
    /// A date with slashes, and nobody says which of day and month comes first.
    #[error("line {line}: {date} {meaning}: write {wanted} under [{table}]")]
    DateOrder {
        /// Line in the file.
        line: u64,
        /// As written.
        date: String,
        /// What it may mean.
        meaning: String,
        /// What the site file is to say.
        wanted: &'static str,
        /// Table of the site file that is to say so.
        table: &'static str,
    },
}

/// The rows of a log in order of time.
pub struct Rows<'a, R> {
    table: csv::Reader<std::io::Chain<std::io::Cursor<Vec<u8>>, R>>,
    delimiter: u8,
    table_of_site: &'static str,
    dates: Option<DateOrder>,
    typical_year: Option<i16>,
    /// Lines before the header.
    lines_above: u64,
    time: usize,
    time_of_day: Option<usize>,
    columns: Vec<(usize, &'a Column)>,
    recorded: Vec<(usize, &'a RecordedColumn)>,
    /// Offset of the first row that has one.
    offset: Option<SignedDuration>,
    waiting: BinaryHeap<Reverse<Waiting>>,
    record: csv::ByteRecord,
    /// Line and time of the row that was read last; whether it counts, the row after it tells.
    held: Option<(u64, DateTime)>,
    held_record: csv::ByteRecord,
    /// Time of the row before it.
    before: Option<DateTime>,
    ended: bool,
    newest: Option<DateTime>,
    last: Option<(DateTime, u64)>,
    not_used: NotUsed,
}

/// A row in the order of its time, then of its line.
struct Waiting(Row);

impl Waiting {
    fn key(&self) -> (DateTime, u64) {
        (self.0.time, self.0.line)
    }
}

impl PartialEq for Waiting {
    fn eq(&self, other: &Self) -> bool {
        self.key() == other.key()
    }
}

impl Eq for Waiting {}

impl PartialOrd for Waiting {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Waiting {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.key().cmp(&other.key())
    }
}

/// Begins to read a log. Comma, semicolon or tab separates, whichever the header has most of; a comma
/// is a decimal point where it does not separate. Text that is not UTF-8 is read as Latin-1.
///
/// # Errors
/// [`LogError`] for a file that is no table, or lacks a column.
pub fn rows<R: Read>(reader: R, layout: &Layout) -> Result<Rows<'_, R>, LogError> {
    rows_below(reader, layout, 0)
}

/// [`rows`] of a table that stands below so many lines of something else, read already.
fn rows_below<R: Read>(
    mut reader: R,
    layout: &Layout,
    lines_above: u64,
) -> Result<Rows<'_, R>, LogError> {
    let start = beginning(&mut reader)?;
    let header = start.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let count = |delimiter: u8| header.iter().filter(|byte| **byte == delimiter).count();
    let delimiter =
        [b',', b';', b'\t'].into_iter().max_by_key(|d| (count(*d), *d == b',')).unwrap_or(b',');
    let mut table = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(std::io::Cursor::new(start).chain(reader));
    let header: Vec<String> =
        table.byte_headers()?.iter().map(|name| text_of(name).into_owned()).collect();
    if header.iter().all(String::is_empty) {
        return Err(LogError::Empty);
    }
    let place = |wanted: &str| {
        header.iter().position(|name| name == wanted).ok_or_else(|| LogError::NoColumn {
            wanted: wanted.into(),
            found: header.iter().map(|name| format!("\"{name}\"")).collect(),
        })
    };
    let time = place(&layout.time)?;
    let time_of_day = layout.time_of_day.as_deref().map(place).transpose()?;
    let columns = layout
        .columns
        .iter()
        .map(|column| Ok((place(&column.name)?, column)))
        .collect::<Result<_, LogError>>()?;
    let recorded = layout
        .recorded
        .iter()
        .take(MOST_RECORDED)
        .map(|column| Ok((place(&column.name)?, column)))
        .collect::<Result<_, LogError>>()?;
    Ok(Rows {
        table,
        delimiter,
        table_of_site: layout.table,
        dates: layout.dates,
        typical_year: layout.typical_year,
        lines_above,
        time,
        time_of_day,
        columns,
        recorded,
        offset: None,
        waiting: BinaryHeap::with_capacity(WINDOW + 1),
        record: csv::ByteRecord::new(),
        held: None,
        held_record: csv::ByteRecord::new(),
        before: None,
        ended: false,
        newest: None,
        last: None,
        not_used: NotUsed::default(),
    })
}

/// The header decides what separates: it is read ahead, without a byte-order mark.
fn beginning(reader: &mut impl Read) -> std::io::Result<Vec<u8>> {
    let mut start = vec![0; 8_192];
    let mut filled = 0;
    while filled < start.len() && !start[..filled].contains(&b'\n') {
        match reader.read(&mut start[filled..])? {
            0 => break,
            count => filled += count,
        }
    }
    start.truncate(filled);
    Ok(start.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&start).to_vec())
}

impl<R: Read> Rows<'_, R> {
    /// The next row in order of time.
    ///
    /// # Errors
    /// [`LogError`] where the file ends badly.
    pub fn next_row(&mut self) -> Result<Option<Row>, LogError> {
        loop {
            while !self.ended && self.waiting.len() < WINDOW {
                self.read_one()?;
            }
            let Some(Reverse(Waiting(row))) = self.waiting.pop() else { return Ok(None) };
            match self.last {
                Some((time, line)) if row.time == time => self
                    .not_used
                    .add(row.line, format!("the time {} stands in line {line} already", row.time)),
                Some((time, _)) if row.time < time => self
                    .not_used
                    .add(row.line, format!("{} stands more than {WINDOW} rows too late", row.time)),
                _ => {
                    self.last = Some((row.time, row.line));
                    return Ok(Some(row));
                }
            }
        }
    }

    /// What was not used; to be asked when all rows have been read.
    pub fn into_not_used(mut self) -> NotUsed {
        self.not_used.listed.sort_by_key(|refused| refused.line);
        self.not_used
    }

    /// Lists a reading that its neighbours refuse.
    fn refuse(&mut self, line: u64, reason: String) {
        self.not_used.add(line, reason);
    }

    fn read_one(&mut self) -> Result<(), LogError> {
        if !self.table.read_byte_record(&mut self.record)? {
            self.ended = true;
            self.judge_held(None);
            return Ok(());
        }
        // A record's own position counts blank lines before it to it.
        let begins = self.record.position().map_or(0, csv::Position::line);
        let line = self.lines_above + begins.max(self.table.position().line().saturating_sub(1));
        if self.record.iter().all(<[u8]>::is_empty) {
            return Ok(());
        }
        self.not_used.rows += 1;
        let text = self.time_text();
        let Some((time, offset)) = time_of(&text, self.dates, self.typical_year) else {
            let reason = self.no_time(line, &text)?;
            self.not_used.add(line, reason);
            return Ok(());
        };
        let time = self.on_one_clock(time, offset);
        self.judge_held(Some(time));
        std::mem::swap(&mut self.record, &mut self.held_record);
        self.held = Some((line, time));
        Ok(())
    }

    /// Takes the row that is held, unless its neighbours say that its time is mistyped.
    fn judge_held(&mut self, after: Option<DateTime>) {
        let Some((line, time)) = self.held.take() else { return };
        self.judge_first(time, after);
        if let Some(before) = self.before
            && is_mistyped(before, time, after)
        {
            self.not_used.add(line, mistyped(time, before, "before"));
            return;
        }
        self.before = Some(time);
        self.take(line, time);
    }

    /// Gives up the first row where the two after it say that its time is mistyped.
    fn judge_first(&mut self, second: DateTime, third: Option<DateTime>) {
        let (None, [Reverse(Waiting(first))]) = (self.last, self.waiting.as_slice()) else {
            return;
        };
        let (line, time) = (first.line, first.time);
        let agree = third.is_some_and(|third| apart(third, second) <= FAR);
        if agree && apart(time, second) > FAR_AT_END {
            self.waiting.clear();
            self.not_used.listed.retain(|refused| refused.line != line);
            self.not_used.add(line, mistyped(time, second, "after"));
            (self.before, self.newest) = (None, None);
        }
    }

    /// Puts the row that was held among those that wait.
    fn take(&mut self, line: u64, time: DateTime) {
        let not_used = &mut self.not_used;
        let mut values = [f64::NAN; Channel::ALL.len()];
        for (place, column) in &self.columns {
            let text = text_of(self.held_record.get(*place).unwrap_or_default());
            if let Some(number) = number_in(&text, self.delimiter, (line, &column.name), not_used) {
                values[column.channel as usize] = column.unit.to_si(number);
            }
        }
        let mut recorded = [f64::NAN; MOST_RECORDED];
        for (value, (place, column)) in recorded.iter_mut().zip(&self.recorded) {
            let text = text_of(self.held_record.get(*place).unwrap_or_default());
            let number = number_in(&text, self.delimiter, (line, &column.name), not_used);
            *value = number.unwrap_or(f64::NAN);
        }
        self.not_used.out_of_order += usize::from(self.newest.is_some_and(|newest| time < newest));
        self.newest = self.newest.max(Some(time));
        self.waiting.push(Reverse(Waiting(Row { line, time, values, recorded })));
    }

    /// Why a text is no time; an error where the order of day and month is to be guessed.
    fn no_time(&self, line: u64, text: &str) -> Result<String, LogError> {
        let Some((meaning, wanted)) = meaning_of(text) else {
            return Ok(format!("\"{text}\" is no date and time"));
        };
        match self.dates {
            Some(DateOrder::DayFirst) => Ok(format!("\"{text}\" is no date with the day first")),
            Some(DateOrder::MonthFirst) => {
                Ok(format!("\"{text}\" is no date with the month first"))
            }
            None => Err(LogError::DateOrder {
                line,
                date: text.split_whitespace().next().unwrap_or_default().into(),
                meaning,
                wanted,
                table: self.table_of_site,
            }),
        }
    }

    /// Date and time as one text.
    fn time_text(&self) -> String {
        let text = |place| text_of(self.record.get(place).unwrap_or_default()).into_owned();
        match self.time_of_day.map(text) {
            None => text(self.time),
            // A plain number is an hour.
            Some(hour) if !hour.is_empty() && hour.bytes().all(|byte| byte.is_ascii_digit()) => {
                format!("{} {hour:0>2}:00", text(self.time))
            }
            Some(clock) => format!("{} {clock}", text(self.time)),
        }
    }

    /// Summer time moves the clock of a log, not its hours: rows with an offset go by the first one.
    fn on_one_clock(&mut self, time: DateTime, offset: Option<SignedDuration>) -> DateTime {
        let Some(offset) = offset else { return time };
        let first = *self.offset.get_or_insert(offset);
        time.checked_add(first - offset).unwrap_or(time)
    }
}

/// Whether a time lies far from its neighbours in the file.
fn is_mistyped(before: DateTime, time: DateTime, after: Option<DateTime>) -> bool {
    match after {
        Some(after) => {
            apart(time, before) > FAR && apart(time, after) > FAR && apart(after, before) <= FAR
        }
        None => apart(time, before) > FAR_AT_END,
    }
}

fn apart(one: DateTime, other: DateTime) -> SignedDuration {
    one.duration_since(other).abs()
}

/// Why a time does not count: in days, or in years where there are two or more, from the line before or
/// after it.
fn mistyped(time: DateTime, neighbour: DateTime, place: &str) -> String {
    let days = apart(time, neighbour).as_hours() as f64 / 24.0;
    let apart = match days {
        ..730.0 => format!("{days:.0} days"),
        _ => format!("{:.0} years", days / 365.25),
    };
    let side = if time < neighbour { "before" } else { "after" };
    format!("{} lies {apart} {side} the line {place} it: mistyped", time.date())
}

/// UTF-8, else Latin-1, whose bytes are the first 256 characters.
fn text_of(bytes: &[u8]) -> std::borrow::Cow<'_, str> {
    std::str::from_utf8(bytes).map_or_else(
        |_| bytes.iter().map(|byte| char::from(*byte)).collect::<String>().into(),
        Into::into,
    )
}

/// The number in a field; what is neither number nor gap is listed.
fn number_in(
    text: &str,
    delimiter: u8,
    (line, column): (u64, &str),
    not_used: &mut NotUsed,
) -> Option<f64> {
    match number_of(text, delimiter) {
        Number::Value(number) => Some(number),
        Number::Gap => None,
        Number::Text => {
            not_used.add(line, format!("{column}: \"{text}\" is no number"));
            None
        }
    }
}

enum Number {
    Value(f64),
    Gap,
    Text,
}

/// A number as people type it; what stands for none is a gap, never a zero.
fn number_of(text: &str, delimiter: u8) -> Number {
    const GAPS: [&str; 8] = ["", "-", "--", "n/a", "na", "nan", "none", "null"];
    if let Ok(number) = text.parse::<f64>()
        && number.is_finite()
    {
        return Number::Value(number);
    }
    if GAPS.iter().any(|gap| text.eq_ignore_ascii_case(gap)) {
        return Number::Gap;
    }
    let decimal_comma = delimiter != b',' && text.contains(',') && !text.contains('.');
    let written = if decimal_comma { text.replace(',', ".") } else { text.replace(' ', "") };
    match written.parse::<f64>() {
        Ok(number) if number.is_finite() => Number::Value(number),
        _ => Number::Text,
    }
}

/// A date with or without time, with or without an offset from universal time, put into `year`
/// where there is one. 24:00 is midnight at the end of the day.
fn time_of(
    text: &str,
    dates: Option<DateOrder>,
    year: Option<i16>,
) -> Option<(DateTime, Option<SignedDuration>)> {
    let text = text.trim();
    for (end, midnight) in [("24:00", "00:00"), ("24:00:00", "00:00:00")] {
        if let Some(date) = text.strip_suffix(end) {
            let (time, offset) = time_of(&format!("{date}{midnight}"), dates, year)?;
            return Some((time.checked_add(SignedDuration::from_hours(24)).ok()?, offset));
        }
    }
    let (time, offset) = written_time(text, dates)?;
    let time = match year {
        None => time,
        // 29 February is no day of another year.
        Some(year) => time.with().year(year).build().ok().filter(|t| t.day() == time.day())?,
    };
    Some((time, offset))
}

fn written_time(
    text: &str,
    dates: Option<DateOrder>,
) -> Option<(DateTime, Option<SignedDuration>)> {
    let (local, offset) = without_offset(text);
    if let Ok(time) = local.parse::<DateTime>() {
        return Some((time, offset));
    }
    let slashes = dates.map(|dates| match dates {
        DateOrder::DayFirst => "%d/%m/%Y",
        DateOrder::MonthFirst => "%m/%d/%Y",
    });
    let forms = std::iter::once("%d.%m.%Y").chain(slashes).flat_map(|date| {
        ["", " %H:%M", " %H:%M:%S", " %I:%M %p"].map(|time| format!("{date}{time}"))
    });
    let time = forms.into_iter().find_map(|form| {
        DateTime::strptime(&form, text)
            .ok()
            .or_else(|| Date::strptime(&form, text).ok().map(|date| date.at(0, 0, 0, 0)))
    });
    time.map(|time| (time, None))
}

/// What a date with slashes may mean, and what the site file is to say of it; `None` for other texts.
fn meaning_of(text: &str) -> Option<(String, &'static str)> {
    let read = |order| time_of(text, Some(order), None).map(|(time, _)| time.date());
    let told = |date: Date| format!("the {} of {}", ordinal(date.day()), date.strftime("%B"));
    let either = "dates = \"day_first\" or \"month_first\"";
    Some(match (read(DateOrder::DayFirst), read(DateOrder::MonthFirst)) {
        (None, None) => return None,
        (Some(_), None) => ("has the day first".into(), "dates = \"day_first\""),
        (None, Some(_)) => ("has the month first".into(), "dates = \"month_first\""),
        (Some(one), Some(other)) if one == other => {
            ("does not say which of day and month is first".into(), either)
        }
        (Some(one), Some(other)) => (format!("is {} or {}", told(one), told(other)), either),
    })
}

fn ordinal(day: i8) -> String {
    let ending = match (day / 10, day % 10) {
        (1, _) => "th",
        (_, 1) => "st",
        (_, 2) => "nd",
        (_, 3) => "rd",
        _ => "th",
    };
    format!("{day}{ending}")
}

/// Parts `2026-03-02T06:00+01:00` from its offset; `Z` is none at all.
fn without_offset(text: &str) -> (&str, Option<SignedDuration>) {
    if let Some(local) = text.strip_suffix(['Z', 'z']) {
        return (local.trim_end(), Some(SignedDuration::ZERO));
    }
    let Some(at) = text.rfind(['+', '-']).filter(|at| *at > 10) else { return (text, None) };
    let (local, offset) = text.split_at(at);
    let digits: String = offset.chars().filter(char::is_ascii_digit).collect();
    let (Ok(hours), Ok(minutes)) = (
        digits.get(..2).unwrap_or_default().parse::<i64>(),
        digits.get(2..).filter(|rest| !rest.is_empty()).unwrap_or("0").parse::<i64>(),
    ) else {
        return (text, None);
    };
    // Farther than any clock on earth is from universal time, it is no offset.
    if hours > 24 || minutes > 59 {
        return (text, None);
    }
    let ahead = SignedDuration::from_mins(60 * hours + minutes);
    (local.trim_end(), Some(if offset.starts_with('-') { -ahead } else { ahead }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::unit;
    use approx::assert_relative_eq;

    fn layout() -> Layout {
        let column = |name: &str, channel, unit| Column {
            name: name.into(),
            channel,
            unit,
            rolls_over_at: None,
        };
        Layout {
            table: "log",
            time: "when".into(),
            time_of_day: None,
            time_ends_hour: false,
            typical_year: None,
            dates: Some(DateOrder::DayFirst),
            columns: vec![
                column("makeup", Channel::MakeupRegister, &unit::CUBIC_METRE),
                column("basin", Channel::BasinConductivity, &unit::MICROSIEMENS_PER_CENTIMETRE),
            ],
            recorded: Vec::new(),
        }
    }

    fn log(text: &str) -> (Vec<Row>, NotUsed) {
        let layout = layout();
        let mut rows = rows(text.as_bytes(), &layout).unwrap();
        let read = std::iter::from_fn(|| rows.next_row().unwrap()).collect();
        (read, rows.into_not_used())
    }

    #[test]
    fn logs_of_three_kinds_say_the_same() {
        let comma =
            log("when,makeup,basin\n2026-03-01 06:00,1200.5,1650\n2026-03-02T06:00,1278,1655\n");
        let semicolon =
            log("when;makeup;basin\n01.03.2026 06:00;1200,5;1650\n02.03.2026 06:00;1278;1655\n");
        let tab = log(
            "\u{feff}when\tmakeup\tbasin\n01/03/2026 6:00 AM\t1200.5\t1650\n2026-03-02T06:00+01:00\t1278\t1655\n",
        );
        for other in [&semicolon, &tab] {
            assert_eq!(comma.0.len(), other.0.len());
            for (ours, theirs) in comma.0.iter().zip(&other.0) {
                assert_eq!(ours.time, theirs.time);
                assert_eq!(ours.get(Channel::MakeupRegister), theirs.get(Channel::MakeupRegister));
            }
        }
        assert_relative_eq!(comma.0[0].get(Channel::BasinConductivity).unwrap(), 0.165);
    }

    #[test]
    fn a_mistyped_year_disturbs_nothing_else() {
        let text = |second: &str, fourth: &str| {
            format!(
                "when,makeup,basin\n2026-06-13 06:00,1,9\n{second},off,9\n2026-06-14 06:00,3,9\n\
                 2026-06-14 14:00,4,9\n{fourth},5,9\n"
            )
        };
        let told = |text: String| {
            let (rows, not_used) = log(&text);
            assert_eq!(not_used.out_of_order, 0);
            let lines: Vec<u64> = rows.iter().map(|row| row.line).collect();
            let listed: Vec<String> =
                not_used.listed.iter().map(|r| format!("{}: {}", r.line, r.reason)).collect();
            (lines, listed)
        };
        let (lines, listed) = told(
            text("2026-06-13 14:00", "2026-06-14 22:00").replace("-13 06:00,1", "-13 06:00,?"),
        );
        assert_eq!((lines.len(), listed.len()), (5, 2));
        let (lines, listed) = told(
            text("2026-06-13 14:00", "2026-06-14 22:00")
                .replace("2026-06-13 06:00,1", "2062-06-13,?"),
        );
        assert_eq!(lines, [3, 4, 5, 6]);
        assert_eq!(listed[0], "2: 2062-06-13 lies 36 years after the line after it: mistyped");
        assert_eq!(listed[1], "3: makeup: \"off\" is no number");
        // Of a row that is left out, nothing else is said: not that "off" is no number.
        let (lines, listed) = told(text("2062-06-13 14:00", "2026-06-14 22:00"));
        assert_eq!(lines, [2, 4, 5, 6]);
        assert_eq!(listed, ["3: 2062-06-13 lies 36 years after the line before it: mistyped"]);
        let (_, listed) = told(text("2026-03-13 14:00", "2062-06-14 22:00"));
        assert_eq!(
            listed,
            [
                "3: 2026-03-13 lies 92 days before the line before it: mistyped",
                "6: 2062-06-14 lies 36 years after the line before it: mistyped"
            ]
        );
    }

    #[test]
    fn a_winter_without_the_tower_and_rare_readings_are_not_mistyped() {
        for times in [
            // A winter.
            ["2025-10-01", "2025-10-02", "2026-03-01", "2026-03-02"],
            // Every quarter.
            ["2025-01-01", "2025-04-01", "2025-07-01", "2025-10-01"],
            // One row after the winter, and it is the last.
            ["2025-10-01", "2025-10-02", "2025-10-03", "2026-03-01"],
        ] {
            let rows: String = times.iter().map(|time| format!("{time},1,9\n")).collect();
            let (rows, not_used) = log(&format!("when,makeup,basin\n{rows}"));
            assert_eq!(rows.len(), 4, "{not_used:?}");
            assert!(not_used.is_empty());
        }
    }

    #[test]
    fn no_order_of_day_and_month_is_guessed() {
        let layout = Layout { dates: None, ..layout() };
        let read = |date: &str| {
            let text = format!("when,makeup,basin\n{date},1,1650\n");
            let mut rows = rows(text.as_bytes(), &layout).unwrap();
            rows.next_row()
                .map(|row| row.map(|row| row.time.to_string()))
                .map_err(|e| e.to_string())
        };
        let either = "write dates = \"day_first\" or \"month_first\" under [log]";
        for (date, why) in [
            (
                "03/01/2026 7:00 AM",
                format!("line 2: 03/01/2026 is the 3rd of January or the 1st of March: {either}"),
            ),
            (
                "11/12/2026 24:00",
                format!(
                    "line 2: 11/12/2026 is the 12th of December or the 13th of November: {either}"
                ),
            ),
            (
                "03/13/2026 07:00",
                "line 2: 03/13/2026 has the month first: write dates = \"month_first\" under [log]"
                    .into(),
            ),
            (
                "22/03/2026",
                "line 2: 22/03/2026 has the day first: write dates = \"day_first\" under [log]"
                    .into(),
            ),
            (
                "02/02/2026",
                format!(
                    "line 2: 02/02/2026 does not say which of day and month is first: {either}"
                ),
            ),
        ] {
            assert_eq!(read(date), Err(why), "{date}");
        }
        for date in ["2026-01-03 07:00", "3.1.2026 7:00", "03.01.2026 7:00 AM"] {
            assert_eq!(read(date), Ok(Some("2026-01-03T07:00:00".into())), "{date}");
        }
        // What is a date in no order is listed, as before.
        assert_eq!(read("13/13/2026"), Ok(None));
    }

    #[test]
    fn a_date_of_the_other_order_is_listed() {
        let layout = Layout { dates: Some(DateOrder::MonthFirst), ..layout() };
        let text = "when,makeup,basin\n03/01/2026 7:00 AM,1,1650\n13/03/2026 7:00 AM,2,1650\n\
                    4.3.2026 7:00,3,1650\n";
        let mut rows = rows(text.as_bytes(), &layout).unwrap();
        let times: Vec<String> = std::iter::from_fn(|| rows.next_row().unwrap())
            .map(|row| row.time.to_string())
            .collect();
        assert_eq!(times, ["2026-03-01T07:00:00", "2026-03-04T07:00:00"]);
        let listed = rows.into_not_used().listed;
        assert_eq!(listed[0].reason, "\"13/03/2026 7:00 AM\" is no date with the month first");
    }

    #[test]
    fn nothing_is_dropped_silently() {
        let found = log(
            "when,makeup,basin\n2026-03-02,1278,n/a\n\n2026-03-01,1200,abc\nyesterday,1,2\n2026-03-02,1279,1650\n",
        );
        let (rows, not_used) = found;
        assert_eq!(rows.len(), 2);
        assert_eq!(not_used.out_of_order, 1);
        assert_eq!(rows[1].get(Channel::BasinConductivity), None);
        let lines: Vec<u64> = not_used.listed.iter().map(|refused| refused.line).collect();
        assert_eq!(lines, [4, 5, 6], "{:?}", not_used.listed);
    }

    #[test]
    fn a_missing_column_names_those_that_are_there() {
        let layout = layout();
        let error = rows("time,makeup\n".as_bytes(), &layout).err().unwrap().to_string();
        assert!(error.contains("no column \"when\"") && error.contains("\"makeup\""), "{error}");
    }

    #[test]
    fn what_looks_like_an_offset_is_none() {
        for time in [
            "2026-10-25T02:30+0199999999999999999",
            "2026-10-25T02:30+99:00",
            "2026-10-25T02:30+01:99",
        ] {
            let (rows, not_used) = log(&format!("when,makeup,basin\n{time},1,1650\n"));
            assert!(rows.is_empty() && not_used.listed.len() == 1, "{time}");
        }
    }

    #[test]
    fn summer_time_repeats_no_hour_where_rows_have_an_offset() {
        let (rows, not_used) = log(
            "when,makeup,basin\n2026-10-25T02:30+02:00,1,1650\n2026-10-25T02:30+01:00,2,1650\n",
        );
        assert!(not_used.is_empty());
        assert_eq!(rows[1].time.duration_since(rows[0].time).as_hours(), 1);
        // Without offsets the second is a repeated time, and listed.
        let (rows, not_used) =
            log("when,makeup,basin\n2026-10-25 02:30,1,9\n2026-10-25 02:30,2,9\n");
        assert_eq!((rows.len(), not_used.listed[0].line), (1, 3));
    }

    #[test]
    fn text_of_old_machines_is_read() {
        let layout = layout();
        let bytes = b"when,makeup,basin,\xb5S\n2026-03-01,1200,1650,x\n";
        let mut rows = rows(&bytes[..], &layout).unwrap();
        assert!(rows.next_row().unwrap().is_some());
    }

    #[test]
    fn a_row_far_too_late_is_listed() {
        let mut text = String::from("when,makeup,basin\n");
        for minute in 0..2 * WINDOW {
            let (day, hour, minute) = (1 + minute / 1_440, minute / 60 % 24, minute % 60);
            text += &format!("2026-03-{day:02} {hour:02}:{minute:02},1,1650\n");
        }
        text += "2026-02-01 00:00,1,1650\n";
        let (rows, not_used) = log(&text);
        assert_eq!(rows.len(), 2 * WINDOW);
        assert!(not_used.listed[0].reason.contains("too late"), "{:?}", not_used.listed);
    }
}
