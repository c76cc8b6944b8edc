//! Logs as people keep them: a header, a time, and columns that the site file names.
//!
//! A reading that cannot be used is listed with its line and the reason; nothing is dropped silently.

pub mod period;

use crate::quantity::unit::Unit;
use crate::site::description::{Channel, DateOrder};
use jiff::civil::DateTime;
use std::io::Read;

impl Channel {
    /// All of them, in the order of [`Row::values`].
    pub const ALL: [Self; 14] = [
        Self::MakeupRegister,
        Self::MakeupFlow,
        Self::BlowdownRegister,
        Self::BlowdownFlow,
        Self::MakeupConductivity,
        Self::BasinConductivity,
        Self::MakeupChloride,
        Self::BasinChloride,
        Self::HotWater,
        Self::ColdWater,
        Self::DryBulb,
        Self::WetBulb,
        Self::RelativeHumidity,
        Self::Circulation,
    ];

    /// Whether it counts up.
    pub fn is_register(self) -> bool {
        matches!(self, Self::MakeupRegister | Self::BlowdownRegister)
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

/// How a log is to be read.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Header of the column with date and time.
    pub time: String,
    /// Order of day and month.
    pub dates: DateOrder,
    /// Columns that count.
    pub columns: Vec<Column>,
}

/// A row of a log; readings in SI, NaN where there is none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Line in the file.
    pub line: u64,
    /// Local time.
    pub time: DateTime,
    /// By [`Channel::ALL`].
    pub values: [f64; Channel::ALL.len()],
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

/// A log as read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Log {
    /// Rows in order of time.
    pub rows: Vec<Row>,
    /// What is not used.
    pub refused: Vec<Refused>,
    /// Rows that stood out of order.
    pub out_of_order: usize,
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
    /// A column that the site file names is not there.
    #[error("no column \"{wanted}\" in the log; its header has {}", .found.join(", "))]
    NoColumn {
        /// As the site file names it.
        wanted: String,
        /// What the header has.
        found: Vec<String>,
    },
}

/// Reads a log. Comma, semicolon or tab separates, whichever the header has most of; a comma is a
/// decimal point where it does not separate.
///
/// # Errors
/// [`LogError`] for a file that is no table, or lacks a column.
pub fn read(mut reader: impl Read, layout: &Layout) -> Result<Log, LogError> {
    // The header decides what separates; it is read ahead and put back.
    let mut start = vec![0; 8_192];
    let mut filled = 0;
    while filled < start.len() && !start[..filled].contains(&b'\n') {
        match reader.read(&mut start[filled..])? {
            0 => break,
            count => filled += count,
        }
    }
    start.truncate(filled);
    let start = start.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&start).to_vec();
    let header = start.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let count = |delimiter: u8| header.iter().filter(|byte| **byte == delimiter).count();
    let delimiter =
        [b',', b';', b'\t'].into_iter().max_by_key(|d| (count(*d), *d == b',')).unwrap_or(b',');
    let mut table = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(std::io::Cursor::new(start).chain(reader));
    let header: Vec<String> = table.headers()?.iter().map(str::to_owned).collect();
    let place = |wanted: &str| {
        header.iter().position(|name| name == wanted).ok_or_else(|| LogError::NoColumn {
            wanted: wanted.into(),
            found: header.iter().map(|name| format!("\"{name}\"")).collect(),
        })
    };
    let time = place(&layout.time)?;
    let columns: Vec<(usize, &Column)> = layout
        .columns
        .iter()
        .map(|column| Ok((place(&column.name)?, column)))
        .collect::<Result<_, LogError>>()?;
    let mut log = Log::default();
    let mut record = csv::StringRecord::new();
    while table.read_record(&mut record)? {
        // A record's own position counts blank lines before it to it.
        let begins = record.position().map_or(0, csv::Position::line);
        let line = begins.max(table.position().line().saturating_sub(1));
        if record.iter().all(str::is_empty) {
            continue;
        }
        let Some(time) = record.get(time).and_then(|text| time_of(text, layout.dates)) else {
            let reason =
                format!("\"{}\" is no date and time", record.get(time).unwrap_or_default());
            log.refused.push(Refused { line, reason });
            continue;
        };
        let mut values = [f64::NAN; Channel::ALL.len()];
        for (place, column) in &columns {
            match number_of(record.get(*place).unwrap_or_default(), delimiter) {
                Number::Value(number) => {
                    values[column.channel as usize] = column.unit.to_si(number);
                }
                Number::Gap => {}
                Number::Text(text) => log.refused.push(Refused {
                    line,
                    reason: format!("{}: \"{text}\" is no number", column.name),
                }),
            }
        }
        log.rows.push(Row { line, time, values });
    }
    in_order(&mut log);
    Ok(log)
}

/// Rows in order of time, a time once.
fn in_order(log: &mut Log) {
    log.out_of_order = log.rows.windows(2).filter(|pair| pair[1].time < pair[0].time).count();
    log.rows.sort_by_key(|row| row.time);
    let refused = &mut log.refused;
    log.rows.dedup_by(|later, earlier| {
        let is_same = later.time == earlier.time;
        if is_same {
            let reason = format!("the time {} stands in line {} already", later.time, earlier.line);
            refused.push(Refused { line: later.line, reason });
        }
        is_same
    });
    refused.sort_by_key(|refused| refused.line);
}

enum Number {
    Value(f64),
    Gap,
    Text(String),
}

/// A number as people type it; what stands for none is a gap, never a zero.
fn number_of(text: &str, delimiter: u8) -> Number {
    const GAPS: [&str; 8] = ["", "-", "--", "n/a", "na", "nan", "none", "null"];
    if GAPS.contains(&text.to_lowercase().as_str()) {
        return Number::Gap;
    }
    let decimal_comma = delimiter != b',' && text.contains(',') && !text.contains('.');
    let written = if decimal_comma { text.replace(',', ".") } else { text.replace(' ', "") };
    match written.parse::<f64>() {
        Ok(number) if number.is_finite() => Number::Value(number),
        _ => Number::Text(text.into()),
    }
}

/// A date with or without time, with or without an offset: local time.
fn time_of(text: &str, dates: DateOrder) -> Option<DateTime> {
    let text = text.trim();
    if let Ok(time) = text.parse::<DateTime>() {
        return Some(time);
    }
    // An offset is dropped: the periods of a log are those of its own clock.
    let without_offset = text.trim_end_matches('Z');
    let cut = without_offset.rfind(['+', '-']).filter(|at| *at > 10);
    if let Ok(time) = without_offset[..cut.unwrap_or(without_offset.len())].trim().parse() {
        return Some(time);
    }
    let (day_dots, day_slashes, month_slashes) = ("%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y");
    let forms = match dates {
        DateOrder::DayFirst => [day_dots, day_slashes],
        DateOrder::MonthFirst => [month_slashes, day_dots],
    };
    let dates = forms.into_iter().flat_map(|date| {
        ["", " %H:%M", " %H:%M:%S", " %I:%M %p"].map(|time| format!("{date}{time}"))
    });
    dates.into_iter().find_map(|form| {
        DateTime::strptime(&form, text).ok().or_else(|| {
            jiff::civil::Date::strptime(&form, text).ok().map(|date| date.at(0, 0, 0, 0))
        })
    })
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
            time: "when".into(),
            dates: DateOrder::DayFirst,
            columns: vec![
                column("makeup", Channel::MakeupRegister, &unit::CUBIC_METRE),
                column("basin", Channel::BasinConductivity, &unit::MICROSIEMENS_PER_CENTIMETRE),
            ],
        }
    }

    fn log(text: &str) -> Log {
        read(text.as_bytes(), &layout()).unwrap()
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
            assert_eq!(comma.rows.len(), other.rows.len());
            for (ours, theirs) in comma.rows.iter().zip(&other.rows) {
                assert_eq!(ours.time, theirs.time);
                assert_eq!(ours.get(Channel::MakeupRegister), theirs.get(Channel::MakeupRegister));
            }
        }
        assert_relative_eq!(comma.rows[0].get(Channel::BasinConductivity).unwrap(), 0.165);
    }

    #[test]
    fn nothing_is_dropped_silently() {
        let found = log(
            "when,makeup,basin\n2026-03-02,1278,n/a\n\n2026-03-01,1200,abc\nyesterday,1,2\n2026-03-02,1279,1650\n",
        );
        assert_eq!(found.rows.len(), 2);
        assert_eq!(found.out_of_order, 1);
        assert_eq!(found.rows[1].get(Channel::BasinConductivity), None);
        let lines: Vec<u64> = found.refused.iter().map(|refused| refused.line).collect();
        assert_eq!(lines, [4, 5, 6], "{:?}", found.refused);
    }

    #[test]
    fn a_missing_column_names_those_that_are_there() {
        let error = read("time,makeup\n".as_bytes(), &layout()).unwrap_err().to_string();
        assert!(error.contains("no column \"when\"") && error.contains("\"makeup\""), "{error}");
    }
}
