//! What of a log is not used: each line with its reason, and how much it is of the whole.

use crate::warnings::Noticed;
use crate::warnings::readings::{MUCH_NOT_USED, ROWS_NOT_USED};
use std::collections::BTreeMap;

/// Lines that are listed as not used, one by one; the rest are counted.
const MOST_LISTED: usize = 10_000;
/// Where more than this part of the rows is not used, it is told before anything that the rest says.
pub const MUCH: f64 = MUCH_NOT_USED;

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
    /// Where the clocks were changed: all rows are used, and count by the clock of the first.
    pub clock: Vec<Refused>,
    /// Beyond those listed.
    pub more: usize,
    /// Rows that stood out of order, and were put in order; in a log with the newest row first, those that
    /// stood out of that order.
    pub out_of_order: usize,
    /// Whether the newest row stood first; the rows were put in order.
    pub newest_first: bool,
    /// Rows read.
    pub rows: usize,
    /// Of them, those of which nothing is used.
    pub rows_lost: usize,
    /// The first of these.
    first_lost: Option<Refused>,
    /// Columns that count and have readings that are no numbers.
    unread: BTreeMap<String, Unread>,
}

/// Readings of a column that are no numbers.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Unread {
    count: usize,
    line: u64,
    text: String,
}

impl NotUsed {
    /// Lists a line that is no row: a title, units, a total. It is no slip, and does not count as one.
    pub(super) fn set_aside(&mut self, line: u64, what: &str) {
        self.add(line, what.into());
    }

    /// Lists a reading, or another part of a row.
    pub(super) fn add(&mut self, line: u64, reason: String) {
        if self.listed.len() < MOST_LISTED {
            self.listed.push(Refused { line, reason });
        } else {
            self.more += 1;
        }
    }

    /// Lists a row of which nothing is used.
    pub(super) fn lose(&mut self, line: u64, reason: String) {
        self.rows_lost += 1;
        if self.first_lost.as_ref().is_none_or(|first| line < first.line) {
            self.first_lost = Some(Refused { line, reason: reason.clone() });
        }
        self.add(line, reason);
    }

    /// Lists a reading of a column that counts and is no number.
    pub(super) fn add_unread(&mut self, line: u64, column: &str, text: &str) {
        match self.unread.get_mut(column) {
            Some(unread) => unread.count += 1,
            None => {
                let unread = Unread { count: 1, line, text: text.into() };
                self.unread.insert(column.into(), unread);
            }
        }
        self.add(line, no_number(column, text));
    }

    /// Rows of which something is used.
    pub fn rows_used(&self) -> usize {
        self.rows - self.rows_lost
    }

    /// Whether every line was used as it stands.
    pub fn is_empty(&self) -> bool {
        self.listed.is_empty()
            && self.clock.is_empty()
            && self.out_of_order == 0
            && !self.newest_first
    }

    /// How many rows are not used, and the reason of the first; `None` where all are.
    pub fn lost_in_words(&self) -> Option<String> {
        let first = self.first_lost.as_ref()?;
        let are = if self.rows_lost == 1 { "is" } else { "are" };
        Some(format!(
            "{} of {} rows {are} not used, the first in line {}: {}",
            self.rows_lost, self.rows, first.line, first.reason
        ))
    }

    /// What is to be told before anything that the rest says: more than 5 % of the rows, or of a column's
    /// readings, are not used.
    pub fn caution(&self) -> Option<String> {
        let is_much = |count: usize| count as f64 > MUCH * self.rows as f64;
        let rows = self.lost_in_words().filter(|_| is_much(self.rows_lost));
        let readings = self.unread.iter().filter(|(_, unread)| is_much(unread.count)).map(
            |(column, unread)| {
                format!(
                    "{column} has no number in {} of {} rows, the first in line {}: \"{}\"",
                    unread.count, self.rows, unread.line, unread.text
                )
            },
        );
        let all: Vec<String> = rows.into_iter().chain(readings).collect();
        (!all.is_empty()).then(|| all.join(". "))
    }

    /// [`Self::caution`] as a warning.
    pub fn noticed(&self) -> Option<Noticed> {
        self.caution().map(|caution| ROWS_NOT_USED.with(caution))
    }

    /// Which rows were put in order.
    pub fn order_in_words(&self) -> Option<String> {
        let rows = match self.out_of_order {
            0 => None,
            1 => Some("1 row stood out of order; it was put in order.".to_owned()),
            rows => Some(format!("{rows} rows stood out of order; they were put in order.")),
        };
        if !self.newest_first {
            return rows;
        }
        let turned = "The newest row stands first; the rows were turned round.".to_owned();
        Some(rows.map_or(turned.clone(), |rows| format!("{turned} {rows}")))
    }
}

/// Why a reading is not used.
pub(super) fn no_number(column: &str, text: &str) -> String {
    format!("{column}: \"{text}\" is no number")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_used_is_told_first_above_a_twentieth() {
        let with = |lost: u64, unread: u64| {
            let mut not_used = NotUsed { rows: 100, ..NotUsed::default() };
            (0..lost).for_each(|line| not_used.lose(40 - line, "mistyped".into()));
            (0..unread).for_each(|line| not_used.add_unread(50 + line, "basin", "1.418,5"));
            not_used
        };
        assert_eq!(with(0, 0).caution(), None);
        assert_eq!(with(5, 5).caution(), None);
        assert_eq!(
            with(6, 0).caution().unwrap(),
            "6 of 100 rows are not used, the first in line 35: mistyped"
        );
        assert_eq!(
            with(0, 6).caution().unwrap(),
            "basin has no number in 6 of 100 rows, the first in line 50: \"1.418,5\""
        );
        assert_eq!((with(6, 6).rows_used(), with(6, 6).listed.len()), (94, 12));
    }
}
