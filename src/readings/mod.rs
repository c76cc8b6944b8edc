//! Logs as people keep them: a header, a time, and columns that the site file names.
//!
//! Rows stream through in bounded memory; only a log with its newest row first is held whole. A reading that cannot be used is listed with its line and the
//! reason; nothing is dropped silently.

mod clock;
mod header;
mod lines;
mod not_used;
mod number;
pub mod period;
pub mod repair;
mod rows;
mod time;
pub mod visits;
pub mod weather;

pub use lines::kind_of_no_text;
pub use not_used::{MUCH, NotUsed, Refused};
pub use rows::{Rows, rows};

use crate::quantity::unit::Unit;
use crate::site::description::{Channel, DateOrder, DecimalSign, RowValues};
use jiff::civil::DateTime;

/// Columns that are shown and not judged, at the most.
pub const MOST_RECORDED: usize = 12;

impl Channel {
    /// All that count, in the order of [`Row::values`].
    pub const ALL: [Self; 21] = [
        Self::MakeupRegister,
        Self::MakeupFlow,
        Self::BlowdownRegister,
        Self::BlowdownFlow,
        Self::BlowdownValveHours,
        Self::BlowdownOpenShare,
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
    /// What its numbers are multiplied by, 1 as a rule: 10 where a register counts tens of its unit.
    pub multiplier: f64,
    /// Where a register starts again, as it shows it.
    pub rolls_over_at: Option<f64>,
}

impl Column {
    /// The SI value of a number as it is written.
    pub fn to_si(&self, number: f64) -> f64 {
        self.unit.to_si(number * self.multiplier)
    }

    /// How an SI value is written.
    pub fn of_si(&self, si: f64) -> f64 {
        self.unit.of_si(si) / self.multiplier
    }
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
    /// The decimal sign of its numbers, where it is stated; the first rows tell it without.
    pub decimal: Option<DecimalSign>,
    /// What the numbers of a row are, where it is stated.
    pub values: Option<RowValues>,
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
    #[error("no column \"{wanted}\" in the file{} header, in line {line}, has {}", did_you_mean(.nearest), .found.join(", "))]
    NoColumn {
        /// Line of what is nearest to a header.
        line: u64,
        /// As the site file names it.
        wanted: String,
        /// What was meant, as far as letters tell.
        nearest: Option<String>,
        /// What the header has.
        found: Vec<String>,
    },
    /// A name that the site file gives stands over two columns.
    #[error(
        "line {line}: \"{name}\" stands over columns {} and {}{}",
        .places.0, .places.1, which_of(.instead)
    )]
    TwoColumns {
        /// Line of the header.
        line: u64,
        /// As the site file names it.
        name: String,
        /// The two columns, from 1.
        places: (usize, usize),
        /// What each is called with the heading over it.
        instead: [String; 2],
    },
    /// The row of units under the header says another unit than the site file.
    #[error(
        "line {line}: the row of units says {written} under \"{column}\", and the site file {stated}: correct \
         the one that is wrong"
    )]
    OtherUnit {
        /// Line of the row of units.
        line: u64,
        /// The column, as the site file names it.
        column: String,
        /// As the log writes it.
        written: String,
        /// What the site file says.
        stated: &'static str,
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
    /// Most dates with slashes have no sense in the order that the site file states.
    #[error(
        "line {line}: {date} is no date with the {stated} first; {contradict} of {dates} dates are none: write \
         {wanted} under [{table}]"
    )]
    DatesContradict {
        /// Line of the first of them in the file.
        line: u64,
        /// As written.
        date: String,
        /// `day` or `month`.
        stated: &'static str,
        /// Dates that only the other order can read.
        contradict: usize,
        /// Dates with slashes.
        dates: usize,
        /// What the site file is to say.
        wanted: &'static str,
        /// Table of the site file that is to say so.
        table: &'static str,
    },
    /// Every date lies months from the one before it as stated, and a day in the other order.
    #[error(
        "line {line}: {} and {} are {read} with the {stated} first, and so are all dates a month apart; with the \
         other first they are {otherwise}, and each follows by a day: write {wanted} under [{table}]; where the rows \
         are a month apart indeed, write their dates as 2026-06-01",
        .dates[0], .dates[1]
    )]
    DatesByMonths {
        /// Line of the first of them in the file.
        line: u64,
        /// The first two, as written.
        dates: Box<[String; 2]>,
        /// `day` or `month`.
        stated: &'static str,
        /// As stated.
        read: String,
        /// In the other order.
        otherwise: String,
        /// What the site file is to say.
        wanted: &'static str,
        /// Table of the site file that is to say so.
        table: &'static str,
    },
    /// Some dates are numbers of days, others text with day and month.
    #[error(
        "line {serial}: its date is a number of days, and that of line {text} a text with day and month: a \
         spreadsheet that takes the other order makes such numbers, with day and month exchanged, of the dates that \
         it can read so. Write all dates as 2026-06-01"
    )]
    MixedDates {
        /// Line of the first number.
        serial: u64,
        /// Line of the first text.
        text: u64,
    },
    /// A number that is one with a decimal sign and another with a thousands separator, and no row tells which.
    #[error(
        "line {line}: \"{text}\" is {part} or {whole}: write decimal = \"point\" or \"comma\" under [{table}]"
    )]
    DecimalSign {
        /// Line in the file.
        line: u64,
        /// As written.
        text: String,
        /// With a decimal sign.
        part: String,
        /// With a thousands separator.
        whole: String,
        /// Table of the site file that is to say so.
        table: &'static str,
    },
    /// A text in quotation marks does not end in its line.
    #[error(
        "line {line}: a quotation mark opens a text that does not end in this line: take the mark out, or \
         close the text in its line"
    )]
    OpenQuote {
        /// Line in the file.
        line: u64,
    },
    /// The file is no text that is read here.
    #[error("the file is {0}: save it as CSV in UTF-8")]
    NotText(&'static str),
    /// No humidity of a whole column reaches 1 %: it is written as a fraction.
    #[error(
        "column \"{column}\": its unit is %, and no value is above {most}: is it a fraction? write it in \
         per cent, 85 and not 0.85"
    )]
    HumidityAsFraction {
        /// As the site file names it.
        column: String,
        /// The largest value, as in the file.
        most: String,
    },
    /// The newest row stands first, and more rows follow than are held.
    #[error(
        "the newest row stands first, and there are more than {0} rows: sort them by time, the oldest first"
    )]
    TooManyToTurn(usize),
}

fn did_you_mean(nearest: &Option<String>) -> String {
    let its = |name: &String| format!("; did you mean \"{name}\"? Its");
    nearest.as_ref().map_or_else(|| "; its".into(), its)
}

/// What tells two columns of one name apart.
fn which_of([one, other]: &[String; 2]) -> String {
    if one == other {
        return ": give each a name of its own in the log".into();
    }
    format!(": write name = \"{one}\" or \"{other}\" in the site file")
}

/// UTF-8, else Latin-1, whose bytes are the first 256 characters.
fn text_of(bytes: &[u8]) -> std::borrow::Cow<'_, str> {
    std::str::from_utf8(bytes).map_or_else(
        |_| bytes.iter().map(|byte| char::from(*byte)).collect::<String>().into(),
        Into::into,
    )
}

#[cfg(test)]
mod tests {
    use super::rows::WINDOW;
    use super::*;
    use crate::quantity::unit;
    use approx::assert_relative_eq;
    use proptest::strategy::Strategy;

    fn layout() -> Layout {
        let column = |name: &str, channel, unit| Column {
            name: name.into(),
            channel,
            unit,
            multiplier: 1.0,
            rolls_over_at: None,
        };
        Layout {
            table: "log",
            time: "when".into(),
            time_of_day: None,
            time_ends_hour: false,
            typical_year: None,
            dates: Some(DateOrder::DayFirst),
            decimal: None,
            values: None,
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
        assert_eq!((not_used.rows_used(), not_used.rows_lost), (2 * WINDOW, 1));
    }

    /// Rows of a minute each; where they carry an offset, summer time begins at minute 6000.
    fn minutes(count: usize, has_offset: bool) -> Vec<String> {
        let row = |minute: usize| {
            let is_summer = has_offset && minute >= 6_000;
            let offset = match (has_offset, is_summer) {
                (false, _) => "",
                (true, false) => "+01:00",
                (true, true) => "+02:00",
            };
            let clock = minute + if is_summer { 60 } else { 0 };
            let (day, hour, of_hour) = (1 + clock / 1_440, clock / 60 % 24, clock % 60);
            format!("2026-03-{day:02} {hour:02}:{of_hour:02}{offset},{minute},1650\n")
        };
        (0..count).map(row).collect()
    }

    #[test]
    fn a_log_with_the_newest_row_first_is_read_whole() {
        for has_offset in [false, true] {
            let rising = minutes(3 * WINDOW, has_offset);
            let falling: String = rising.iter().rev().map(String::as_str).collect();
            let (expected, _) = log(&format!("when,makeup,basin\n{}", rising.concat()));
            let (read, not_used) = log(&format!("when,makeup,basin\n{falling}"));
            let of = |rows: &[Row]| -> Vec<_> {
                rows.iter().map(|row| (row.time, row.get(Channel::MakeupRegister))).collect()
            };
            assert_eq!(read.len(), 3 * WINDOW);
            assert!(of(&read) == of(&expected), "{has_offset}: {:?}", read[0]);
            assert!(not_used.newest_first && not_used.listed.is_empty(), "{not_used:?}");
            assert_eq!((not_used.rows_used(), not_used.out_of_order), (read.len(), 0));
        }
    }

    #[test]
    fn rows_of_a_log_that_falls_are_refused_only_where_they_are_wrong() {
        let mut rows = minutes(2 * WINDOW, false);
        rows.reverse();
        rows.swap(10, 11);
        rows[5_000] = "someday,1,1650\n".into();
        let (read, not_used) = log(&format!("when,makeup,basin\n{}", rows.concat()));
        assert_eq!((read.len(), not_used.out_of_order), (2 * WINDOW - 1, 1));
        assert_eq!((not_used.listed.len(), not_used.listed[0].line), (1, 5_002));
    }

    fn error_of(text: &str) -> String {
        error_with(text, &layout())
    }

    fn error_with(text: &str, layout: &Layout) -> String {
        match rows(text.as_bytes(), layout) {
            Err(error) => error.to_string(),
            Ok(mut rows) => loop {
                match rows.next_row() {
                    Err(error) => return error.to_string(),
                    Ok(None) => return "none".into(),
                    Ok(Some(_)) => {}
                }
            },
        }
    }

    #[test]
    fn a_quotation_mark_swallows_no_rows() {
        let text = "when,makeup,basin\n2026-03-01,1,9\n\n2026-03-02,\"2,9\n2026-03-03,3,9\n";
        for end in ["\n", "\r\n", "\r"] {
            let error = error_of(&text.replace('\n', end));
            assert!(error.starts_with("line 4: a quotation mark opens a text"), "{error}");
        }
        // Closed in a later line, it is the same; at the end of the file, in the header, too.
        let closed = text.replace("03,3", "03,\"3");
        assert!(error_of(&closed).starts_with("line 4: "));
        let at_end = text.replace("\"2,9", "2,9").replace("03,3,9\n", "03,3,\"9");
        assert!(error_of(&at_end).starts_with("line 5: "));
        assert!(error_of("when,\"makeup\nm3,basin\n").starts_with("line 1: "));
        // Texts that end in their line are texts.
        let (read, not_used) =
            log("\"when\",makeup,basin\n\"2026-03-01\",\"1\",9\n2026-03-02,1\"2,9\n");
        assert_eq!(read.len(), 2);
        assert_eq!(not_used.listed[0].reason, "makeup: \"1\"2\" is no number");
    }

    #[test]
    fn lines_are_counted_whichever_way_they_end() {
        let text =
            "\nwhen,makeup,basin\n2026-03-01,1,9\n\n2026-03-02,off,9\nyesterday,1,9\n\n \nno,1,9";
        for end in ["\n", "\r\n", "\r"] {
            for last in ["", end] {
                let (_, not_used) = log(&format!("{}{last}", text.replace('\n', end)));
                let lines: Vec<u64> = not_used.listed.iter().map(|refused| refused.line).collect();
                assert_eq!(lines, [5, 6, 9], "{end:?} {last:?}");
                assert_eq!((not_used.rows, not_used.rows_lost), (4, 2));
            }
        }
    }

    #[test]
    fn an_order_of_day_and_month_that_most_rows_contradict_is_no_order() {
        let june = |count: u32| -> String {
            (1..=count).map(|day| format!("{day:02}/06/2026 07:00,{day},9\n")).collect()
        };
        let months = Layout { dates: Some(DateOrder::MonthFirst), ..layout() };
        assert_eq!(
            error_with(&format!("when,makeup,basin\n{}", june(30)), &months),
            "line 14: 13/06/2026 is no date with the month first; 18 of 30 dates are none: \
             write dates = \"day_first\" under [log]"
        );
        assert_eq!(error_of(&format!("when,makeup,basin\n{}", june(30))), "none");
        // The other way round, with two digits of the year.
        let text = "when,makeup,basin\n03/14/26,1,9\n03/15/26,2,9\n04/03/26,3,9\n";
        assert_eq!(
            error_of(text),
            "line 2: 03/14/26 is no date with the day first; 2 of 3 dates are none: \
             write dates = \"month_first\" under [log]"
        );
        // Slips in a log whose other dates bear the order out.
        let slips = format!("when,makeup,basin\n{}06/31/2026,1,9\n06/30/2026,1,9\n", june(20));
        assert_eq!(error_of(&slips), "none");
    }

    #[test]
    fn a_row_with_more_fields_than_the_header_is_not_used() {
        let (rows, not_used) =
            log("when,makeup,basin\n2026-03-01,1200,5,1650\n2026-03-02,1278,1655,,\n");
        assert_eq!((rows.len(), rows[0].line), (1, 3));
        assert_eq!(not_used.listed[0].line, 2);
        assert!(not_used.listed[0].reason.starts_with("4 fields, and the header has 3"));
    }

    #[test]
    fn what_is_no_text_is_told() {
        let layout = layout();
        for (bytes, what) in [(&b"\xff\xfew\0h\0"[..], "UTF-16"), (b"PK\x03\x04", "spreadsheet")] {
            let error = rows(bytes, &layout).err().unwrap().to_string();
            assert!(error.contains(what) && error.contains("save it as CSV"), "{error}");
        }
    }

    #[test]
    fn a_header_is_found_where_spreadsheets_put_it() {
        let log = |text: &str| log(&format!("\u{feff}{text}"));
        let text = "Tower log;Water;;\r\n\r\n WHEN ;\"Makeup\";\u{202a}Basin\u{202c}\u{1f};Hot\r\n;[m3];µS/cm;\r\n\
                    2026-03-01;1200,5;1650;\r\n;;;\r\nWhen;makeup;basin;Hot\r\n2026-03-02;1278;1655;\r\n\
                    read by the shift;;;\r\nTotal;77,5;;\r\n";
        let (rows, not_used) = log(text);
        assert_eq!(rows.iter().map(|row| row.line).collect::<Vec<_>>(), [5, 8]);
        assert_relative_eq!(rows[0].get(Channel::MakeupRegister).unwrap(), 1200.5);
        let listed: Vec<String> =
            not_used.listed.iter().map(|r| format!("{}: {}", r.line, r.reason)).collect();
        assert_eq!(
            listed,
            [
                "1: stands above the header",
                "4: the units of the columns",
                "7: the header again",
                "9: no date and no reading: a remark",
                "10: a total or a mean below the rows, no reading"
            ]
        );
        assert_eq!((not_used.rows, not_used.rows_lost), (2, 0));
        // A reading is none of these, however its date is written.
        let (_, not_used) = log("when,makeup,basin\nsomeday,1,2\n2026-03-02,1278,1655\n");
        assert_eq!((not_used.rows, not_used.rows_lost), (2, 1));
        // A name over two lines of a cell; its lines are counted.
        let (rows, _) = log(
            "t,,\n\"when\",\"make\"\"up\",\"x\ny\"\nwhen,\"Makeup\",\"Basin\n\"\n2026-03-01,1,9\n",
        );
        assert_eq!(rows.iter().map(|row| row.line).collect::<Vec<_>>(), [6]);
    }

    #[test]
    fn a_header_that_is_not_what_the_site_file_says_is_refused_with_what_is_near() {
        for (text, told) in [
            (
                "Tower;;\nwhen;make-up;basin\n1.3.2026;1;2\n",
                "no column \"makeup\" in the file; did you mean \"make-up\"? Its header, in line 2, has \"when\", \
                 \"make-up\", \"basin\"",
            ),
            (
                "when,makeup,basin,Basin,basin\n",
                "line 1: \"basin\" stands over columns 3 and 5: give each a name of its own in the log",
            ),
            (
                ",Cell A,,Cell B\nwhen,makeup,basin,basin\n",
                "line 2: \"basin\" stands over columns 3 and 4: write name = \"Cell A basin\" or \"Cell B basin\" in the \
                 site file",
            ),
            (
                "when,makeup,basin\n,US gal,uS/cm\n",
                "line 2: the row of units says US gal under \"makeup\", and the site file m3: correct the one that is \
                 wrong",
            ),
            (
                "when,makeup,basin\n,m3,mS/cm\n",
                "line 2: the row of units says mS/cm under \"basin\", and the site file uS/cm: correct the one that is \
                 wrong",
            ),
        ] {
            assert_eq!(error_of(text), told, "{text}");
        }
        // With the heading over it, the name is one.
        let mut layout = layout();
        layout.columns[1].name = "cell b Basin".into();
        let text = ",Cell A,,Cell B\nwhen,makeup,basin,basin\n2026-03-01,1,2,3\n";
        let row = rows(text.as_bytes(), &layout).unwrap().next_row().unwrap().unwrap();
        assert_relative_eq!(row.get(Channel::BasinConductivity).unwrap(), 3e-4);
    }

    #[test]
    fn a_short_log_in_the_wrong_order_is_refused_with_both_readings() {
        let months = Layout { dates: Some(DateOrder::MonthFirst), ..layout() };
        let days = |count: u32| -> String {
            (1..=count)
                .map(|day| {
                    format!("{day:02}/06/2026 07:00,{day},9\n{day:02}/06/2026 19:00,{day},9\n")
                })
                .collect()
        };
        for count in [3, 12] {
            assert_eq!(
                error_with(&format!("when,makeup,basin\n{}", days(count)), &months),
                "line 2: 01/06/2026 and 02/06/2026 are 2026-01-06 and 2026-02-06 with the month first, and so are all \
                 dates a month apart; with the other first they are 2026-06-01 and 2026-06-02, and each follows by a \
                 day: write dates = \"day_first\" under [log]; where the rows are a month apart indeed, write their \
                 dates as 2026-06-01"
            );
            assert_eq!(error_of(&format!("when,makeup,basin\n{}", days(count))), "none");
        }
        // A year of bills, and two dates that tell nothing.
        let bills =
            "when,makeup,basin\n03/11/2025,1,9\n03/12/2025,2,9\n03/01/2026,3,9\n03/02/2026,3,9\n";
        assert_eq!(error_of(bills), "none");
        assert_eq!(error_with(&format!("when,makeup,basin\n{}", days(2)), &months), "none");
    }

    #[test]
    fn numbers_of_days_beside_texts_are_refused() {
        let error = error_of("when,makeup,basin\n46028,1,9\n13/06/2026,2,9\n");
        assert!(
            error.starts_with("line 2: its date is a number of days, and that of line 3"),
            "{error}"
        );
        let (rows, not_used) = log("when,makeup,basin\n46174.25,1,9\n46175.25,2,9\n20601,3,9\n");
        assert_eq!((rows.len(), rows[1].time.to_string().as_str()), (2, "2026-06-02T06:00:00"));
        assert_eq!(not_used.rows_lost, 1);
    }

    #[test]
    fn a_decimal_sign_is_learned_or_asked_for() {
        let read = |rows: &str| log(&format!("when;makeup;basin\n{rows}"));
        let registers = |rows: &[Row]| -> Vec<f64> {
            rows.iter().filter_map(|row| row.get(Channel::MakeupRegister)).collect()
        };
        let (rows, _) = read("2026-03-01;12.345;1.650,5\n2026-03-02;12.400;1655\n");
        assert_eq!(registers(&rows), [12_345.0, 12_400.0]);
        let (rows, _) = read("2026-03-01;12.345;1650.5\n2026-03-02;12,400.5;1655\n");
        assert_eq!(registers(&rows), [12.345, 12_400.5]);
        let (rows, not_used) =
            log("when,makeup,basin\n2026-03-01,\"12,345.6\",1650\n2026-03-02,\"1,23\",\"1,655\"\n");
        assert_relative_eq!(registers(&rows)[0], 12_345.6);
        // No group of thousands looks like that: a decimal comma typed by hand.
        assert_eq!((registers(&rows)[1], not_used.listed.len()), (1.23, 0));
        let text = "when;makeup;basin\n2026-03-01;12.345;1650\n";
        assert_eq!(
            error_of(text),
            "line 2: \"12.345\" is 12.345 or 12345: write decimal = \"point\" or \"comma\" under [log]"
        );
        let stated = Layout { decimal: Some(DecimalSign::Comma), ..layout() };
        let row = rows_in(text, &stated);
        assert_eq!(registers(&row), [12_345.0]);
    }

    fn rows_in(text: &str, layout: &Layout) -> Vec<Row> {
        let mut rows = rows(text.as_bytes(), layout).unwrap();
        std::iter::from_fn(|| rows.next_row().unwrap()).collect()
    }

    #[test]
    fn clocks_that_are_changed_lose_no_row_and_tell() {
        let hours = (0..3).chain(2..5).map(|hour| format!("2026-10-25 0{hour}:00,{hour},9\n"));
        let (rows, not_used) = log(&format!("when,makeup,basin\n{}", hours.collect::<String>()));
        assert_eq!(rows.len(), 6);
        assert!(rows.windows(2).all(|two| two[1].time.duration_since(two[0].time).as_hours() == 1));
        assert_eq!((not_used.rows_lost, not_used.listed.len(), not_used.clock[0].line), (0, 0, 5));
        assert!(not_used.clock[0].reason.contains("clocks were set back"), "{not_used:?}");
    }

    proptest::proptest! {
        #[test]
        fn any_bytes_end_well(
            pieces in proptest::collection::vec(
                proptest::prelude::prop_oneof![
                    proptest::sample::select(vec![
                        &b"when"[..], b"makeup", b"BASIN ", b"m3", b"US gal", b"Total", b"\"", b"\"\"", b";", b",",
                        b"\t", b"\n", b"\r\n", b"\r", b"\xef\xbb\xbf", b"\x1f", b"\xe2\x80\xae", b"01/06/2026",
                        b"01-Jun-26", b"46174,25", b"99999999999", b"1.234", b"1,234.5", b"-", b"24:00", b"0",
                        b"2026-10-25 02:30", b"2026-10-25T02:30+02:00", b"\xff", b"\xc2\xa0", b"when;makeup;basin\n",
                        b"2026-06-01;1;9\n", b"when,makeup,basin\r\n",
                    ])
                    .prop_map(<[u8]>::to_vec),
                    proptest::collection::vec(proptest::prelude::any::<u8>(), 0..6),
                ],
                0..60,
            ),
        ) {
            let bytes = pieces.concat();
            let layout = layout();
            let Ok(mut rows) = rows(bytes.as_slice(), &layout) else { return Ok(()) };
            let mut count = 0;
            let mut last: Option<DateTime> = None;
            loop {
                match rows.next_row() {
                    Err(_) => return Ok(()),
                    Ok(None) => break,
                    Ok(Some(row)) => {
                        proptest::prop_assert!(last.is_none_or(|last| last < row.time));
                        last = Some(row.time);
                        count += 1;
                    }
                }
            }
            let not_used = rows.into_not_used();
            // Every row is given or told.
            proptest::prop_assert_eq!(count, not_used.rows_used());
            proptest::prop_assert!(not_used.listed.len() + not_used.more >= not_used.rows_lost);
        }
    }
}
