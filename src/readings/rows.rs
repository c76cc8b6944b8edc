//! The rows of a table in order of time.

use super::clock::Clock;
use super::header::{Header, cells, plain};
use super::lines::Lines;
use super::not_used::no_number;
use super::number::{Number, number_of, sign_in};
use super::time::{Orders, both_readings, date_in, meaning_of, time_of};
use super::{
    Channel, Column, Layout, LogError, MOST_RECORDED, NotUsed, RecordedColumn, Refused, Row,
    text_of,
};
use crate::site::description::{DateOrder, DecimalSign};
use jiff::SignedDuration;
use jiff::civil::DateTime;
use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::io::Read;

/// Rows that wait for an earlier one: a row may stand so many rows too late.
pub(super) const WINDOW: usize = 4_096;
/// Rows that are held where the newest stands first, some 300 MB of them.
const MOST_TURNED: usize = 1_000_000;
/// A row is mistyped where its time lies farther than this from both of its neighbours, while these lie
/// no farther from each other.
const FAR: SignedDuration = SignedDuration::from_hours(24 * 60);
/// The first and the last row have one neighbour only: they are mistyped where they lie farther than this
/// from it, five years.
const FAR_AT_END: SignedDuration = SignedDuration::from_hours(24 * 1_826);

/// The rows of a log in order of time.
pub struct Rows<'a, R> {
    table: csv::Reader<Lines<R>>,
    decimal: Option<DecimalSign>,
    table_of_site: &'static str,
    dates: Option<DateOrder>,
    typical_year: Option<i16>,
    header: Header,
    time: usize,
    time_of_day: Option<usize>,
    columns: Vec<(usize, &'a Column)>,
    recorded: Vec<(usize, &'a RecordedColumn)>,
    /// Offsets of the first and of the last row that has one.
    offsets: Option<(SignedDuration, SignedDuration)>,
    clock: Clock,
    orders: Orders,
    waiting: BinaryHeap<Reverse<Waiting>>,
    record: csv::ByteRecord,
    /// Line and time of the row that was read last; whether it counts, the row after it tells.
    held: Option<(u64, DateTime)>,
    held_record: csv::ByteRecord,
    /// Time of the row before it.
    before: Option<DateTime>,
    /// Rows that lie later, and earlier, than the row before them in the file.
    rises: usize,
    falls: usize,
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
    rows_of(Lines::new(reader)?, layout)
}

/// [`rows`] of what is left of these lines.
pub(super) fn rows_of<R: Read>(
    mut lines: Lines<R>,
    layout: &Layout,
) -> Result<Rows<'_, R>, LogError> {
    let names = std::iter::once(&layout.time).chain(&layout.time_of_day);
    let names = names.chain(layout.columns.iter().map(|column| &column.name));
    let names = names.chain(layout.recorded.iter().take(MOST_RECORDED).map(|column| &column.name));
    let wanted: Vec<&str> = names.map(String::as_str).collect();
    let header = Header::find(&mut lines, &wanted)?;
    let place = |wanted: &str| header.place(wanted);
    let time = place(&layout.time)?;
    let time_of_day = layout.time_of_day.as_deref().map(place).transpose()?;
    let columns: Vec<(usize, &Column)> = layout
        .columns
        .iter()
        .map(|column| Ok((place(&column.name)?, column)))
        .collect::<Result<_, LogError>>()?;
    let recorded: Vec<(usize, &RecordedColumn)> = layout
        .recorded
        .iter()
        .take(MOST_RECORDED)
        .map(|column| Ok((place(&column.name)?, column)))
        .collect::<Result<_, LogError>>()?;
    let mut not_used = NotUsed::default();
    for line in &header.above {
        not_used.set_aside(*line, "stands above the header");
    }
    if let Some(line) = header.take_units(&mut lines, time, &columns)? {
        not_used.set_aside(line, "the units of the columns");
    }
    let delimiter = header.delimiter;
    let places =
        columns.iter().map(|(place, _)| *place).chain(recorded.iter().map(|(place, _)| *place));
    let decimal = match layout.decimal {
        Some(stated) => Some(stated),
        None => decimal_sign(&mut lines, delimiter, &places.collect::<Vec<_>>())?,
    };
    let table = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(lines);
    Ok(Rows {
        table,
        decimal,
        table_of_site: layout.table,
        dates: layout.dates,
        typical_year: layout.typical_year,
        header,
        time,
        time_of_day,
        columns,
        recorded,
        offsets: None,
        clock: Clock::default(),
        orders: Orders::default(),
        waiting: BinaryHeap::with_capacity(WINDOW + 1),
        record: csv::ByteRecord::new(),
        held: None,
        held_record: csv::ByteRecord::new(),
        before: None,
        rises: 0,
        falls: 0,
        ended: false,
        newest: None,
        last: None,
        not_used,
    })
}

/// The decimal sign of the first rows, where they agree on one; a point where a comma separates and no row says
/// otherwise.
fn decimal_sign<R: Read>(
    lines: &mut Lines<R>,
    delimiter: u8,
    places: &[usize],
) -> Result<Option<DecimalSign>, LogError> {
    const MOST_LINES: usize = 400;
    const MOST_BYTES: usize = 1 << 18;
    let (mut taken, mut bytes) = (Vec::new(), 0);
    let (mut points, mut commas) = (0_usize, 0_usize);
    while taken.len() < MOST_LINES && bytes < MOST_BYTES {
        let Some(line) = lines.take_line()? else { break };
        let cells = cells(&line, delimiter);
        for sign in places.iter().filter_map(|place| sign_in(cells.get(*place)?)) {
            match sign {
                DecimalSign::Point => points += 1,
                DecimalSign::Comma => commas += 1,
            }
        }
        bytes += line.len();
        taken.push(line);
    }
    taken.into_iter().rev().for_each(|line| lines.put_back(Some(line)));
    // One in ten may be a slip; where a comma separates, one in quotation marks is.
    Ok(match (points, commas) {
        (0, 0) => (delimiter == b',').then_some(DecimalSign::Point),
        (1.., _) if delimiter == b',' || commas * 10 <= points => Some(DecimalSign::Point),
        (_, 1..) if points * 10 <= commas => Some(DecimalSign::Comma),
        _ => None,
    })
}

/// What separates, by the header: the first line that is not blank.
pub(super) fn delimiter_of<R: Read>(lines: &mut Lines<R>) -> Result<u8, LogError> {
    let header = loop {
        match lines.take_line()? {
            None => return Err(LogError::Empty),
            Some(line) if line.trim_ascii().is_empty() => {}
            Some(line) => break line,
        }
    };
    let count = |delimiter: u8| header.iter().filter(|byte| **byte == delimiter).count();
    let most = [b',', b';', b'\t'].into_iter().max_by_key(|d| (count(*d), *d == b','));
    lines.put_back(Some(header));
    Ok(most.unwrap_or(b','))
}

impl<R: Read> Rows<'_, R> {
    /// The next row in order of time.
    ///
    /// # Errors
    /// [`LogError`] where the file ends badly.
    pub fn next_row(&mut self) -> Result<Option<Row>, LogError> {
        loop {
            while !self.ended && (self.waiting.len() < WINDOW || self.is_newest_first()) {
                self.read_one()?;
            }
            let Some(Reverse(Waiting(mut row))) = self.waiting.pop() else { return Ok(None) };
            row.time = self.by_the_oldest_clock(row.time);
            match self.last {
                Some((time, line)) if row.time == time => self
                    .not_used
                    .lose(row.line, format!("the time {} stands in line {line} already", row.time)),
                Some((time, _)) if row.time < time => self.not_used.lose(
                    row.line,
                    format!(
                        "{} stands more than {WINDOW} rows too late: sort the rows by time",
                        row.time
                    ),
                ),
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
    pub(super) fn refuse(&mut self, line: u64, reason: String) {
        self.not_used.add(line, reason);
    }

    /// Lists a row of which nothing can be used.
    pub(super) fn refuse_row(&mut self, line: u64, reason: String) {
        self.not_used.lose(line, reason);
    }

    /// Whether so far the rows fall, and all are held.
    fn is_newest_first(&self) -> bool {
        self.last.is_none() && self.falls > self.rises
    }

    fn read_one(&mut self) -> Result<(), LogError> {
        if self.waiting.len() >= MOST_TURNED {
            return Err(LogError::TooManyToTurn(MOST_TURNED));
        }
        self.table.get_mut().begin_record();
        let is_record = self.table.read_byte_record(&mut self.record)?;
        self.table.get_ref().end_record()?;
        if !is_record {
            return self.end();
        }
        let line = self.table.get_ref().number();
        if self.record.iter().all(<[u8]>::is_empty) {
            return Ok(());
        }
        if let Some(what) = self.no_row() {
            self.not_used.set_aside(line, what);
            return Ok(());
        }
        self.not_used.rows += 1;
        if self.record.iter().skip(self.header.names.len()).any(|field| !field.is_empty()) {
            let reason = format!(
                "{} fields, and the header has {}: a separator inside a number or a text moves what \
                 follows it",
                self.record.len(),
                self.header.names.len()
            );
            self.not_used.lose(line, reason);
            return Ok(());
        }
        let text = self.time_text();
        let Some((time, offset)) = time_of(&text, self.dates, self.typical_year) else {
            let reason = self.no_time(line, &text)?;
            self.not_used.lose(line, reason);
            return Ok(());
        };
        self.orders.count(line, &text, time);
        let time = self.on_one_clock(line, time, offset);
        self.judge_held(Some(time))?;
        std::mem::swap(&mut self.record, &mut self.held_record);
        self.held = Some((line, time));
        Ok(())
    }

    /// What a line is that is no row: a total, the header again, a remark.
    fn no_row(&self) -> Option<&'static str> {
        let cell = |place: usize| text_of(self.record.get(place).unwrap_or_default());
        let time = cell(self.time);
        if time.contains(|c: char| c.is_ascii_digit()) {
            return None;
        }
        let label = self.record.iter().find(|cell| !cell.is_empty()).map(text_of)?;
        if is_of_totals(&label) {
            return Some("a total or a mean below the rows, no reading");
        }
        if self.header.is_again(self.record.iter()) {
            return Some("the header again");
        }
        let places = self.columns.iter().map(|(place, _)| *place);
        let mut places = places.chain(self.recorded.iter().map(|(place, _)| *place));
        let has_digit = |place| cell(place).contains(|c: char| c.is_ascii_digit());
        (!places.any(has_digit)).then_some("no date and no reading: a remark")
    }

    /// Judges what only the whole file tells.
    fn end(&mut self) -> Result<(), LogError> {
        self.ended = true;
        self.judge_held(None)?;
        if self.is_newest_first() {
            self.not_used.newest_first = true;
            self.not_used.out_of_order = self.rises;
        }
        match self.dates {
            // A layout of its own, not the site file's.
            _ if self.typical_year.is_some() => Ok(()),
            Some(stated) if self.orders.are_contradicted() => Err(self.contradicted(stated)),
            Some(stated) if self.orders.run_by_months() => Err(self.by_months(stated)),
            _ => match self.orders.mixed() {
                Some((serial, text)) => Err(LogError::MixedDates { serial, text }),
                None => Ok(()),
            },
        }
    }

    fn by_months(&self, stated: DateOrder) -> LogError {
        let [(line, one), (_, other)] = self.orders.pair.clone().map(Option::unwrap_or_default);
        let [day_first, month_first] = both_readings(&one, &other).unwrap_or_default();
        let (stated, read, otherwise, wanted) = match stated {
            DateOrder::DayFirst => ("day", day_first, month_first, "dates = \"month_first\""),
            DateOrder::MonthFirst => ("month", month_first, day_first, "dates = \"day_first\""),
        };
        let dates = Box::new([one, other]);
        LogError::DatesByMonths {
            line,
            dates,
            stated,
            read,
            otherwise,
            wanted,
            table: self.table_of_site,
        }
    }

    fn contradicted(&self, stated: DateOrder) -> LogError {
        let (line, date) = self.orders.first.clone().unwrap_or_default();
        let (stated, wanted) = match stated {
            DateOrder::DayFirst => ("day", "dates = \"month_first\""),
            DateOrder::MonthFirst => ("month", "dates = \"day_first\""),
        };
        LogError::DatesContradict {
            line,
            date,
            stated,
            contradict: self.orders.contradict,
            dates: self.orders.dates,
            wanted,
            table: self.table_of_site,
        }
    }

    /// Takes the row that is held, unless its neighbours say that its time is mistyped.
    fn judge_held(&mut self, after: Option<DateTime>) -> Result<(), LogError> {
        let Some((line, time)) = self.held.take() else { return Ok(()) };
        self.judge_first(time, after);
        if let Some(before) = self.before
            && is_mistyped(before, time, after)
        {
            self.not_used.lose(line, mistyped(time, before, "before"));
            return Ok(());
        }
        if let Some(before) = self.before {
            self.rises += usize::from(time > before);
            self.falls += usize::from(time < before);
        }
        self.before = Some(time);
        self.take(line, time)
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
            self.not_used.lose(line, mistyped(time, second, "after"));
            (self.before, self.newest) = (None, None);
        }
    }

    /// Puts the row that was held among those that wait.
    fn take(&mut self, line: u64, time: DateTime) -> Result<(), LogError> {
        let not_used = &mut self.not_used;
        let mut values = [f64::NAN; Channel::ALL.len()];
        for (place, column) in &self.columns {
            let text = text_of(self.held_record.get(*place).unwrap_or_default());
            match number_of(&text, self.decimal) {
                Number::Value(number) => {
                    values[column.channel as usize] = column.to_si(number);
                }
                Number::Gap => {}
                Number::Text => not_used.add_unread(line, &column.name, &text),
                Number::Either(..) => return Err(either(line, &text, self.table_of_site)),
            }
        }
        let mut recorded = [f64::NAN; MOST_RECORDED];
        for (value, (place, column)) in recorded.iter_mut().zip(&self.recorded) {
            let text = text_of(self.held_record.get(*place).unwrap_or_default());
            match number_of(&text, self.decimal) {
                Number::Value(number) => *value = number,
                Number::Gap => {}
                Number::Text => not_used.add(line, no_number(&column.name, &text)),
                Number::Either(..) => return Err(either(line, &text, self.table_of_site)),
            }
        }
        self.not_used.out_of_order += usize::from(self.newest.is_some_and(|newest| time < newest));
        self.newest = self.newest.max(Some(time));
        self.waiting.push(Reverse(Waiting(Row { line, time, values, recorded })));
        Ok(())
    }

    /// Why a text is no time; an error where the order of day and month is to be guessed.
    fn no_time(&mut self, line: u64, text: &str) -> Result<String, LogError> {
        if text.trim().is_empty() {
            return Ok("no date and time".into());
        }
        let Some((meaning, wanted)) = meaning_of(text) else {
            return Ok(format!("\"{text}\" is no date and time"));
        };
        let Some(stated) = self.dates else {
            return Err(LogError::DateOrder {
                line,
                date: date_in(text),
                meaning,
                wanted,
                table: self.table_of_site,
            });
        };
        self.orders.count_against(line, text);
        let first = match stated {
            DateOrder::DayFirst => "day",
            DateOrder::MonthFirst => "month",
        };
        Ok(format!("\"{text}\" is no date with the {first} first"))
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
    /// Rows without one go on by the clock of the first row as well, where they show the change.
    fn on_one_clock(
        &mut self,
        line: u64,
        time: DateTime,
        offset: Option<SignedDuration>,
    ) -> DateTime {
        let Some(offset) = offset else {
            // Weather is counted in standard time.
            if self.table_of_site != "log" {
                return time;
            }
            let (time, told) = self.clock.on(time);
            self.not_used.clock.extend(told.map(|reason| Refused { line, reason }));
            return time;
        };
        let first = self.offsets.map_or(offset, |(first, _)| first);
        self.offsets = Some((first, offset));
        time.checked_add(first - offset).unwrap_or(time)
    }

    /// Where the newest row stands first, the clock is that of the last row in the file.
    fn by_the_oldest_clock(&self, time: DateTime) -> DateTime {
        match self.offsets {
            Some((first, last)) if self.not_used.newest_first => {
                time.checked_add(last - first).unwrap_or(time)
            }
            _ => time,
        }
    }
}

/// A number that nobody can read without the decimal sign.
fn either(line: u64, text: &str, table: &'static str) -> LogError {
    let plain = |is_removed: char| text.replace(is_removed, "");
    let sign = if text.contains('.') { '.' } else { ',' };
    LogError::DecimalSign {
        line,
        text: text.into(),
        whole: plain(sign),
        part: text.replace(',', "."),
        table,
    }
}

/// Whether the first cell of a line says that it sums others up.
fn is_of_totals(label: &str) -> bool {
    const TOTALS: [&str; 20] = [
        "total",
        "totals",
        "subtotal",
        "sum",
        "sums",
        "grand",
        "mean",
        "means",
        "average",
        "averages",
        "avg",
        "min",
        "minimum",
        "max",
        "maximum",
        "median",
        "count",
        "stdev",
        "monthly",
        "consumption",
    ];
    let label = plain(label);
    let word = label.split(|c: char| !c.is_alphabetic()).find(|word| !word.is_empty());
    word.is_some_and(|word| TOTALS.contains(&word))
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
