//! Days of the Gregorian calendar, counted from 1970-01-01 (the algorithm is that of Hinnant's
//! `days_from_civil`, written from memory).

/// A date as people write it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Date {
    pub year: i64,
    pub month: i64,
    pub day: i64,
}

/// The number of a day.
pub fn day_number(date: Date) -> i64 {
    let year = if date.month <= 2 { date.year - 1 } else { date.year };
    let era = year.div_euclid(400);
    let year_of_era = year - era * 400;
    let month = (date.month + 9) % 12;
    let day_of_year = (153 * month + 2) / 5 + date.day - 1;
    let day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    era * 146_097 + day_of_era - 719_468
}

/// The date of a day's number.
pub fn date(number: i64) -> Date {
    let shifted = number + 719_468;
    let era = shifted.div_euclid(146_097);
    let day_of_era = shifted - era * 146_097;
    let year_of_era =
        (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let shifted_month = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * shifted_month + 2) / 5 + 1;
    let month = if shifted_month < 10 { shifted_month + 3 } else { shifted_month - 9 };
    let year = year_of_era + era * 400 + i64::from(month <= 2);
    Date { year, month, day }
}

/// 0 for Monday to 6 for Sunday.
pub fn weekday(number: i64) -> i64 {
    (number + 3).rem_euclid(7)
}

/// The day of the year, from 0 on.
pub fn day_of_year(number: i64) -> i64 {
    let Date { year, .. } = date(number);
    number - day_number(Date { year, month: 1, day: 1 })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_days() {
        let number = day_number(Date { year: 2026, month: 3, day: 1 });
        assert_eq!(weekday(number), 6); // the first of March 2026 is a Sunday
        assert_eq!(day_of_year(number), 59);
        assert_eq!(day_number(Date { year: 1970, month: 1, day: 1 }), 0);
        for day in 19_000..22_000 {
            assert_eq!(day_number(date(day)), day);
        }
    }
}
