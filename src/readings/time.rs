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
    if let Some(time) = of_serial(text) {
        return Some((time, None));
    }
    let (date, clock) = date_and_clock(text);
    let date = written_date(date, dates)?;
    let time = match clock {
        "" => Time::midnight(),
        clock => ["%H:%M", "%H:%M:%S", "%I:%M %p", "%I:%M:%S %p"]
            .iter()
            .find_map(|form| Time::strptime(form, clock).ok())?,
    };
    Some((date.to_datetime(time), None))
}

/// A date, and the time of day that follows it: the first word with a colon and what comes after.
fn date_and_clock(text: &str) -> (&str, &str) {
    let colon = text.find(':').unwrap_or(text.len());
    match text[..colon].rfind(char::is_whitespace) {
        Some(space) if colon < text.len() => (text[..space].trim_end(), text[space..].trim_start()),
        _ => (text, ""),
    }
}

/// A date of three parts: `2026/06/01` with the year first; day and month in the order that is stated, day
/// first where dots are between them; or in any order with the month's English name, as `01-Jun-26`.
fn written_date(text: &str, dates: Option<DateOrder>) -> Option<Date> {
    let is_between = |c: char| matches!(c, '.' | '/' | '-' | ',') || c.is_whitespace();
    let mut parts = text.split(is_between).filter(|part| !part.is_empty());
    let parts = [parts.next()?, parts.next()?, parts.next()?, parts.next().unwrap_or_default()];
    let [one, two, three, ""] = parts else { return None };
    if let Some(month) = month_named(two) {
        return date_of(year_of(three)?, month, number(one)?);
    }
    if let Some(month) = month_named(one) {
        return date_of(year_of(three)?, month, number(two)?);
    }
    if one.len() == 4 && !text.contains('.') {
        return date_of(year_of(one)?, number(two)?, number(three)?);
    }
    let order = if text.contains('.') { DateOrder::DayFirst } else { dates? };
    // One sign is between all parts.
    let sign = text.chars().find(|c| is_between(*c))?;
    if text.chars().any(|c| is_between(c) && c != sign) || !matches!(sign, '.' | '/' | '-') {
        return None;
    }
    let (one, two) = (number(one)?, number(two)?);
    let (day, month) = match order {
        DateOrder::DayFirst => (one, two),
        DateOrder::MonthFirst => (two, one),
    };
    date_of(year_of(three)?, month, day)
}

fn date_of(year: i16, month: i8, day: i8) -> Option<Date> {
    Date::new(year, month, day).ok()
}

/// A day or a month of one or two digits.
fn number(part: &str) -> Option<i8> {
    let is_number = matches!(part.len(), 1 | 2) && part.bytes().all(|byte| byte.is_ascii_digit());
    is_number.then(|| part.parse().ok())?
}

/// A year of four digits, or of two.
fn year_of(part: &str) -> Option<i16> {
    let year: i16 = part.bytes().all(|byte| byte.is_ascii_digit()).then(|| part.parse().ok())??;
    match part.len() {
        2 => Some(FIRST_OF_TWO_DIGITS + (year - FIRST_OF_TWO_DIGITS).rem_euclid(100)),
        4 => Some(year),
        _ => None,
    }
}

/// The month of an English name, or of its first three letters.
fn month_named(part: &str) -> Option<i8> {
    const MONTHS: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    let name = part.to_ascii_lowercase();
    let is_it = |month: &str| {
        name == month || name == month[..3] || (name == "sept" && month == "september")
    };
    let place = MONTHS.iter().position(|month| is_it(month))?;
    i8::try_from(place + 1).ok()
}

/// Days since 1899-12-30, as most spreadsheets count them, to the second: of the years from 1990 to 2099.
/// Other numbers are no dates: they may count seconds, or begin elsewhere.
fn of_serial(text: &str) -> Option<DateTime> {
    const DAYS: std::ops::Range<f64> = 32_874.0..73_051.0;
    if !is_serial(text) {
        return None;
    }
    let days: f64 = text.replace(',', ".").parse().ok()?;
    let first = Date::constant(1899, 12, 30).at(0, 0, 0, 0);
    let seconds = SignedDuration::from_secs((days * 86_400.0).round() as i64);
    DAYS.contains(&days).then(|| first.checked_add(seconds).ok())?
}

/// Whether a text is a number of days, whichever they are: five digits, and a fraction perhaps.
pub(super) fn is_serial(text: &str) -> bool {
    let text = text.trim();
    let (days, fraction) = text.split_once(['.', ',']).unwrap_or((text, ""));
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    days.len() == 5 && digits(days) && digits(fraction)
}

/// What the dates of a log whose order is to be known tell of it: how many there are, how many of them only
/// one order of day and month can read, and how far one lies from the next in either.
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
    /// The date before, as stated and in the other order.
    before: Option<(Date, Date)>,
    /// Lines and texts of the first two dates.
    pub(super) pair: [Option<(u64, String)>; 2],
    /// Steps from one date to the next that are a month or more as stated, and a day in the other order.
    by_months: usize,
    /// Steps that are not.
    other_steps: usize,
    /// Line of the first date that is a number of days, and of the first that is not and has an order.
    serial: Option<u64>,
    ordered: Option<u64>,
}

/// Steps of a month that are needed to doubt an order.
const FEWEST_STEPS: usize = 2;

impl Orders {
    /// Counts a date that was read as stated.
    pub(super) fn count(&mut self, line: u64, text: &str, time: DateTime) {
        if is_serial(text) {
            self.serial.get_or_insert(line);
        }
        if !has_an_order(text) {
            return;
        }
        self.dates += 1;
        self.ordered.get_or_insert(line);
        let date = time.date();
        // No month has such a number.
        self.agree += usize::from(date.day() > 12);
        let other = date_of(date.year(), date.day(), date.month()).unwrap_or(date);
        if let Some((before, other_before)) = self.before {
            let days = |one: Date, two: Date| two.duration_since(one).as_hours() / 24;
            match (days(before, date).abs(), days(other_before, other).abs()) {
                (0, _) => return,
                (28.., 1) => self.by_months += 1,
                _ => self.other_steps += 1,
            }
        }
        self.before = Some((date, other));
        if let Some(pair) = self.pair.iter_mut().find(|pair| pair.is_none()) {
            *pair = Some((line, date_in(text)));
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

    /// Whether every date lies months from the one before it, and a day in the other order.
    pub(super) fn run_by_months(&self) -> bool {
        self.by_months >= FEWEST_STEPS && self.other_steps == 0 && self.agree == 0
    }

    /// Lines of a date that is a number of days and of one that has an order, where the log has both: a
    /// spreadsheet that takes the month first makes numbers of those dates that it can read so, and leaves
    /// the others as text.
    pub(super) fn mixed(&self) -> Option<(u64, u64)> {
        self.serial.zip(self.ordered)
    }
}

/// Whether a text is a date whose order has to be known: it has three numbers, the year last, and no dots.
fn has_an_order(text: &str) -> bool {
    // Most logs have the year first: that is seen at once.
    if text.trim_start().bytes().take(4).all(|byte| byte.is_ascii_digit()) {
        return false;
    }
    let read = |order| time_of(text, order, None).is_some();
    !read(None) && (read(Some(DateOrder::DayFirst)) || read(Some(DateOrder::MonthFirst)))
}

/// The date of a date and time.
pub(super) fn date_in(text: &str) -> String {
    date_and_clock(text.trim()).0.into()
}

/// The two readings of the first two dates of a log.
pub(super) fn both_readings(one: &str, other: &str) -> Option<[String; 2]> {
    let read = |order| {
        let of = |text: &str| time_of(text, Some(order), None).map(|(time, _)| time.date());
        Some(format!("{} and {}", of(one)?, of(other)?))
    };
    Some([read(DateOrder::DayFirst)?, read(DateOrder::MonthFirst)?])
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
            ("01-06-2026", None, None),
            ("0026-01-03 07:00", None, None),
            ("03.01.0026", None, None),
        ] {
            assert_eq!(read(text, order).as_deref(), is, "{text}");
        }
        let (meaning, _) = meaning_of("03/01/26").unwrap();
        assert_eq!(meaning, "is the 3rd of January or the 1st of March");
    }

    #[test]
    fn dates_of_spreadsheets() {
        let read = |text: &str, order| time_of(text, order, None).map(|(time, _)| time.to_string());
        for (text, is) in [
            ("2026/06/01", Some("2026-06-01T00:00:00")),
            ("2026/6/1 7:05", Some("2026-06-01T07:05:00")),
            ("01-Jun-26", Some("2026-06-01T00:00:00")),
            ("1 June 2026 7:00 AM", Some("2026-06-01T07:00:00")),
            ("Jun 1, 2026 07:00:30", Some("2026-06-01T07:00:30")),
            ("9-Sept-2026", Some("2026-09-09T00:00:00")),
            ("31-Jun-26", None),
            ("01-Jin-26", None),
            ("2026-06-01 06:00", Some("2026-06-01T06:00:00")),
            // 46174 is 1 June 2026: 1 January 2000 is 36526 in every spreadsheet's manual, and 9648 days follow.
            ("46174", Some("2026-06-01T00:00:00")),
            ("36526", Some("2000-01-01T00:00:00")),
            ("46174.25", Some("2026-06-01T06:00:00")),
            ("46174,2916666667", Some("2026-06-01T07:00:00")),
            // Of the days since 1904, or since another day: years ago. Seconds since 1970; nobody knows what.
            ("20000", None),
            ("1780290000", None),
            ("260601", None),
            ("99999", None),
            ("01.06/2026", None),
        ] {
            assert_eq!(read(text, None).as_deref(), is, "{text}");
        }
        let day = Some(DateOrder::DayFirst);
        assert_eq!(read("01-06-2026 07:00", day).as_deref(), Some("2026-06-01T07:00:00"));
        assert_eq!(date_in("1 Jun 2026 07:00"), "1 Jun 2026");
    }
}
