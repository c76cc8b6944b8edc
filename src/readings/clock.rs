//! The clock of a log without offsets: where summer time begins or ends, an hour is missing or comes twice.

use jiff::SignedDuration;
use jiff::civil::{Date, DateTime, Weekday};

const HOUR: SignedDuration = SignedDuration::from_hours(1);

/// The clock that a log goes by, row after row.
#[derive(Debug, Default)]
pub(super) struct Clock {
    /// Time of the row before, as written, and how far it lay from the one before it.
    last: Option<DateTime>,
    step: Option<SignedDuration>,
    /// What is added to times as written, so that they go on by the clock of the first row.
    shift: SignedDuration,
}

impl Clock {
    /// A time by the clock of the first row, and what is to be told where the clocks were changed at it. Seen
    /// where rows follow each other evenly, by an hour or less, on the days on which clocks are changed.
    pub(super) fn on(&mut self, time: DateTime) -> (DateTime, Option<String>) {
        let step = self.last.map(|last| time.duration_since(last));
        let told = match (step, self.step, self.last) {
            (Some(step), Some(usual), Some(last)) if is_even(usual) => {
                let changes = self.change(last, time, step - usual);
                changes.map(|shift| {
                    self.shift += shift;
                    told(last, time, shift)
                })
            }
            _ => None,
        };
        // The step at a change is no usual one.
        if told.is_none() {
            self.step = step;
        }
        self.last = Some(time);
        (time.checked_add(self.shift).unwrap_or(time), told)
    }

    /// What a change of the clocks between two rows adds to the times after it.
    fn change(
        &self,
        last: DateTime,
        time: DateTime,
        beyond: SignedDuration,
    ) -> Option<SignedDuration> {
        let is_night = time.hour() <= 4 && last.date() == time.date() || time.hour() <= 1;
        let is_back =
            beyond == -HOUR && is_set_back_on(time.date()) && self.shift <= SignedDuration::ZERO;
        let is_forward =
            beyond == HOUR && is_put_forward_on(time.date()) && self.shift >= SignedDuration::ZERO;
        match (is_night, is_back, is_forward) {
            (true, true, _) => Some(HOUR),
            (true, _, true) => Some(-HOUR),
            _ => None,
        }
    }
}

fn told(last: DateTime, time: DateTime, shift: SignedDuration) -> String {
    if shift > SignedDuration::ZERO {
        return format!(
            "after {last} comes {time}: clocks were set back, so this hour comes twice. All rows are kept; from here on \
             they count an hour later than written"
        );
    }
    format!(
        "after {last} comes {time}: clocks were put forward, so an hour is missing. All rows are kept; from here on they \
         count an hour earlier than written"
    )
}

/// Whether rows so far apart fill an hour evenly.
fn is_even(step: SignedDuration) -> bool {
    let seconds = step.as_secs();
    (1..=3600).contains(&seconds) && 3600 % seconds == 0
}

/// Days on which clocks are set back: last Sunday of October, first of November, first of April (rules in force
/// in Europe, North America and the south; tz database, from memory).
fn is_set_back_on(date: Date) -> bool {
    date.weekday() == Weekday::Sunday
        && matches!((date.month(), date.day()), (10, 25..) | (11, ..=7) | (4, ..=7))
}

/// Days on which they are put forward: last and second Sunday of March, last of September, first of October.
fn is_put_forward_on(date: Date) -> bool {
    date.weekday() == Weekday::Sunday
        && matches!((date.month(), date.day()), (3, 25.. | 8..=14) | (9, 24..) | (10, ..=7))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Times as written, taken by one clock: in minutes since the first, and how often the clocks changed.
    fn minutes(written: &[String]) -> (Vec<i64>, usize) {
        let mut clock = Clock::default();
        let mut changes = 0;
        let times: Vec<DateTime> = written
            .iter()
            .map(|text| {
                let (time, told) = clock.on(text.parse().unwrap());
                changes += usize::from(told.is_some());
                time
            })
            .collect();
        (times.iter().map(|t| t.duration_since(times[0]).as_secs() / 60).collect(), changes)
    }

    #[test]
    fn an_hour_that_comes_twice_is_kept() {
        for every in [5, 15, 60] {
            let at =
                |day: &str, minute: i64| format!("{day} {:02}:{:02}", minute / 60, minute % 60);
            let even: Vec<i64> = (0..360 / every).map(|row| row * every).collect();
            // From midnight to 3, once more from 2, on the last Sunday of October.
            let of =
                |from: i64, to: i64| even.iter().copied().filter(move |m| (from..to).contains(m));
            let back: Vec<String> =
                of(0, 180).chain(of(120, 300)).map(|m| at("2026-10-25", m)).collect();
            let forward: Vec<String> =
                of(0, 120).chain(of(180, 360)).map(|m| at("2026-03-29", m)).collect();
            for written in [&back, &forward] {
                let (taken, changes) = minutes(written);
                let expected: Vec<i64> = (0..written.len() as i64).map(|row| row * every).collect();
                assert_eq!((taken, changes), (expected, 1), "{every}");
            }
            // On another day it is a gap, or rows twice.
            let other: Vec<String> = forward.iter().map(|t| t.replace("03-29", "03-28")).collect();
            assert_eq!(minutes(&other).1, 0);
        }
        // A reading a day shows nothing of it.
        let days: Vec<String> = (20..=31).map(|day| format!("2026-10-{day} 07:00")).collect();
        assert_eq!(minutes(&days).1, 0);
    }
}
