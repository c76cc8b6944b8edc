//! Dates and times as people and machines write them.

use crate::site::description::DateOrder;
use jiff::SignedDuration;
use jiff::civil::{Date, DateTime, Time};

/// Where two digits stand for a year, it is one of the hundred from this on.
const FIRST_OF_TWO_DIGITS: i16 = 1970;
/// A year before this is a slip of a program or a pen: spreadsheets count their days from 1900.
const FIRST_YEAR: i16 = 1900;

/// A date with or without time, with or without an offset from universal time, put into `year`
/// where there is one. 24:00 is midnight at the end of the day.
pub(super) fn time_of(
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
    let (time, offset) = written_time(text, dates).filter(|(t, _)| t.year() >= FIRST_YEAR)?;
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
    let (date, clock) = text.split_once(char::is_whitespace).unwrap_or((text, "00:00"));
    let date = written_date(date, dates)?;
    let clock = clock.trim_start();
    let time = ["%H:%M", "%H:%M:%S", "%I:%M %p"]
        .iter()
        .find_map(|form| Time::strptime(form, clock).ok())?;
    Some((date.to_datetime(time), None))
}

/// A date of three numbers, day first where dots are between them.
fn written_date(text: &str, dates: Option<DateOrder>) -> Option<Date> {
    let (between, order) = match (text.contains('.'), dates) {
        (true, _) => ('.', DateOrder::DayFirst),
        (false, order) => ('/', order?),
    };
    let mut parts = text.split(between);
    let mut number = |digits: std::ops::RangeInclusive<usize>| {
        let part = parts.next()?;
        let is_number = part.bytes().all(|byte| byte.is_ascii_digit());
        (is_number && digits.contains(&part.len()))
            .then(|| part.parse::<i16>().ok().map(|number| (number, part.len())))?
    };
    let (one, two, (year, digits)) = (number(1..=2)?.0, number(1..=2)?.0, number(2..=4)?);
    let year = match digits {
        2 => FIRST_OF_TWO_DIGITS + (year - FIRST_OF_TWO_DIGITS).rem_euclid(100),
        4 => year,
        _ => return None,
    };
    let (day, month) = match order {
        DateOrder::DayFirst => (one, two),
        DateOrder::MonthFirst => (two, one),
    };
    if parts.next().is_some() {
        return None;
    }
    Date::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?).ok()
}

/// How many dates with slashes a log has, and how many of them only one order of day and month can read.
#[derive(Debug, Default)]
pub(super) struct Orders {
    /// All.
    pub(super) dates: usize,
    /// Those that the stated order alone can read.
    agree: usize,
    /// Those that the other order alone can read.
    pub(super) contradict: usize,
    /// Line of the first of these, and its date.
    pub(super) first: Option<(u64, String)>,
}

impl Orders {
    /// Counts a date that was read as stated.
    pub(super) fn count(&mut self, text: &str, time: DateTime) {
        if text.contains('/') {
            self.dates += 1;
            // No month has such a number.
            self.agree += usize::from(time.day() > 12);
        }
    }

    /// Counts a date that the other order alone can read.
    pub(super) fn count_against(&mut self, line: u64, text: &str) {
        self.dates += 1;
        self.contradict += 1;
        self.first.get_or_insert_with(|| (line, date_in(text)));
    }

    /// Whether the log was written in the other order: of the dates that can tell, most do so. A single one
    /// is a slip of the pen.
    pub(super) fn are_contradicted(&self) -> bool {
        self.contradict > self.agree.max(1)
    }
}

/// The date of a date and time.
pub(super) fn date_in(text: &str) -> String {
    text.split_whitespace().next().unwrap_or_default().into()
}

/// What a date with slashes may mean, and what the site file is to say of it; `None` for other texts.
pub(super) fn meaning_of(text: &str) -> Option<(String, &'static str)> {
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

    #[test]
    fn two_digits_are_a_year_of_this_time() {
        let read = |text: &str, order| time_of(text, order, None).map(|(time, _)| time.to_string());
        let (day, month) = (Some(DateOrder::DayFirst), Some(DateOrder::MonthFirst));
        for (text, order, is) in [
            ("03.01.26 07:00", None, Some("2026-01-03T07:00:00")),
            ("3/1/26 7:00 AM", day, Some("2026-01-03T07:00:00")),
            ("1/3/26 24:00", month, Some("2026-01-04T00:00:00")),
            ("31.12.69", None, Some("2069-12-31T00:00:00")),
            ("01.01.70", None, Some("1970-01-01T00:00:00")),
            ("01.01.2026 06:00:30", None, Some("2026-01-01T06:00:30")),
            // A slip of the pen, or nobody knows what.
            ("03.01.026", None, None),
            ("03.01.6", None, None),
            ("26-01-03", None, None),
            ("0026-01-03 07:00", None, None),
            ("03.01.0026", None, None),
        ] {
            assert_eq!(read(text, order).as_deref(), is, "{text}");
        }
        let (meaning, _) = meaning_of("03/01/26").unwrap();
        assert_eq!(meaning, "is the 3rd of January or the 1st of March");
    }
}
