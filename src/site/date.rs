//! The day on which a sample was taken.

use serde::de::{self, Deserialize, Deserializer, MapAccess, Visitor};
use std::fmt;

/// A day of the calendar, written `2026-06-01`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Date {
    year: u16,
    month: u8,
    day: u8,
}

/// What a date looks like.
const EXPECTED: &str = "a date, as in 2026-06-01";

impl Date {
    /// A day of the calendar; `None` for one that no year from 1900 on has.
    pub fn new(year: u16, month: u8, day: u8) -> Option<Self> {
        let is_leap =
            year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
        let days = match month {
            4 | 6 | 9 | 11 => 30,
            2 if is_leap => 29,
            2 => 28,
            1..=12 => 31,
            _ => return None,
        };
        (year >= 1900 && (1..=days).contains(&day)).then_some(Self { year, month, day })
    }

    /// Days since the beginning of the year 0 of the Gregorian calendar, with the year begun in March.
    fn count(self) -> i64 {
        let (year, month) = match self.month {
            1 | 2 => (i64::from(self.year) - 1, i64::from(self.month) + 9),
            month => (i64::from(self.year), i64::from(month) - 3),
        };
        // Months from March on have 31, 30, 31, 30, 31 days, again and again: 153 in five.
        365 * year + year / 4 - year / 100
            + year / 400
            + (153 * month + 2) / 5
            + i64::from(self.day)
    }

    /// Days from another date to this one.
    pub fn days_after(self, other: Self) -> i64 {
        self.count() - other.count()
    }

    fn read(text: &str) -> Option<Self> {
        // What time of the day it was does not matter.
        let date = text.trim().split(['T', ' ']).next()?;
        let mut parts = date.split('-');
        let mut part = |digits: usize| {
            let part = parts.next().filter(|part| part.len() == digits)?;
            part.bytes().all(|byte| byte.is_ascii_digit()).then(|| part.parse::<u16>().ok())?
        };
        let (year, month, day) = (part(4)?, part(2)?, part(2)?);
        Self::new(year, u8::try_from(month).ok()?, u8::try_from(day).ok()?)
    }
}

impl fmt::Display for Date {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

impl<'de> Deserialize<'de> for Date {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Text;

        impl<'de> Visitor<'de> for Text {
            type Value = Date;

            fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
                formatter.write_str(EXPECTED)
            }

            fn visit_str<E: de::Error>(self, text: &str) -> Result<Date, E> {
                Date::read(text)
                    .ok_or_else(|| E::custom(format!("\"{text}\" is no date\nwrite {EXPECTED}")))
            }

            // A date without quotation marks comes as a table of one entry.
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Date, A::Error> {
                match map.next_entry::<String, String>()? {
                    Some((_, text)) => self.visit_str(&text),
                    None => Err(de::Error::custom(format!("no date\nwrite {EXPECTED}"))),
                }
            }
        }

        deserializer.deserialize_any(Text)
    }
}

#[cfg(feature = "schema")]
impl schemars::JsonSchema for Date {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "a_date".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "description": "a date: 2026-06-01",
            "type": "string",
            "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_between_dates_are_those_of_the_calendar() {
        let date = |text: &str| Date::read(text).unwrap();
        for (from, to, days) in [
            ("2026-06-01", "2026-06-01", 0),
            ("2026-02-28", "2026-03-01", 1),
            ("2024-02-28", "2024-03-01", 2),
            ("2000-01-01", "2001-01-01", 366),
            ("2025-12-31", "2026-01-01", 1),
            ("2026-06-05", "2026-06-01T08:30:00", -4),
        ] {
            assert_eq!(date(to).days_after(date(from)), days, "{from} {to}");
        }
        assert_eq!(date("2026-06-01").to_string(), "2026-06-01");
    }

    #[test]
    fn what_no_calendar_has_is_no_date() {
        for text in ["2026-02-29", "2026-13-01", "01.06.2026", "2026-6-1", "26-06-01", "", "-1"] {
            assert_eq!(Date::read(text), None, "{text}");
        }
    }
}
