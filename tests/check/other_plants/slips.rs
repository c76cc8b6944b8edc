//! What goes wrong with instruments and with pens in a healthy plant.

use super::book::{Book, Channel};
use super::plant::Works;
use super::random::Random;
use super::run::Reading;

/// A time, h since the first midnight.
#[derive(Clone, Copy, Debug)]
struct Span {
    from: f64,
    to: f64,
}

impl Span {
    fn holds(self, time: f64) -> bool {
        time >= self.from && time < self.to
    }
}

/// What goes wrong with the instruments: rarely, and in no way connected with a fault.
#[derive(Clone, Debug, Default)]
pub struct Hardware {
    makeup_stuck: Option<Span>,
    blowdown_stuck: Option<Span>,
    fouled: Option<(Span, f64)>,
}

impl Hardware {
    /// Draws it.
    pub fn draw(works: &Works) -> Hardware {
        let mut random = Random::stream(works.seed, "hardware");
        let last = works.days as f64;
        let stuck = |random: &mut Random| {
            random.chance(0.05).then(|| {
                let from = 24.0 * random.between(3.0, last - 3.0);
                // Dirt holds a wheel for about a day.
                Span { from, to: from + random.between(12.0, 30.0) }
            })
        };
        let makeup_stuck = stuck(&mut random);
        let blowdown_stuck = stuck(&mut random);
        let fouled = random.chance(0.15).then(|| {
            let from = 24.0 * random.between(2.0, last - 12.0);
            let span = Span { from, to: from + 24.0 * random.between(4.0, 10.0) };
            (span, random.between(0.03, 0.08))
        });
        Hardware { makeup_stuck, blowdown_stuck, fouled }
    }

    /// Whether the makeup meter stands.
    pub fn makeup_stuck(&self, time: f64) -> bool {
        self.makeup_stuck.is_some_and(|span| span.holds(time))
    }

    /// Whether the blowdown meter stands.
    pub fn blowdown_stuck(&self, time: f64) -> bool {
        self.blowdown_stuck.is_some_and(|span| span.holds(time))
    }

    /// By how much a fouled probe reads low; then it is cleaned.
    pub fn fouling(&self, time: f64) -> f64 {
        match self.fouled {
            Some((span, depth)) if span.holds(time) => {
                depth * (time - span.from) / (span.to - span.from)
            }
            _ => 0.0,
        }
    }
}

/// A row as it is written.
pub struct Row {
    pub day: i64,
    pub minute: usize,
    pub cells: Vec<String>,
    pub remark: &'static str,
}

/// Turns readings into rows, with the slips of whoever writes them.
pub fn write(works: &Works, readings: &[Reading], cleanings: &[usize]) -> Vec<Row> {
    let mut random = Random::stream(works.seed, "slips");
    let book = &works.book;
    let mut rows: Vec<Row> = readings
        .iter()
        .map(|reading| Row {
            day: works.start + reading.visit.day as i64,
            minute: reading.visit.written,
            cells: book
                .columns
                .iter()
                .map(|column| {
                    if column.due(&reading.visit, works.start) {
                        column.written(reading.values[column.channel as usize], book.decimal)
                    } else {
                        String::new()
                    }
                })
                .collect(),
            remark: "",
        })
        .collect();
    for &day in cleanings {
        let day = works.start + day as i64;
        // It is written down where there is a row on the day or soon after; mostly.
        if random.chance(0.8)
            && let Some(row) = rows.iter_mut().find(|row| row.day > day)
        {
            row.remark = "tower cleaned";
        }
    }
    if book.logger { logged(book, &mut random, rows) } else { typed(book, &mut random, rows) }
}

/// A logger loses hours, freezes a channel, and now and then a cell or a digit.
fn logged(book: &Book, random: &mut Random, mut rows: Vec<Row>) -> Vec<Row> {
    let columns = book.columns.len();
    let mut k = 0;
    while k < rows.len() {
        if random.chance(1.0 / (24.0 * 45.0)) {
            let hours = random.whole(1, 20).min(rows.len() - k);
            rows.drain(k..k + hours);
            continue;
        }
        if random.chance(1.0 / (24.0 * 80.0)) {
            let column = random.whole(0, columns - 1);
            let frozen = rows[k].cells[column].clone();
            for row in rows.iter_mut().skip(k).take(random.whole(2, 8)) {
                row.cells[column].clone_from(&frozen);
            }
        }
        for cell in &mut rows[k].cells {
            if random.chance(0.0004) {
                cell.clear();
            } else if random.chance(0.00002) {
                misspell(random, cell, book.decimal);
            }
        }
        k += 1;
    }
    rows
}

/// People forget rows, miswrite digits, mix up columns and dates.
fn typed(book: &Book, random: &mut Random, rows: Vec<Row>) -> Vec<Row> {
    let mut kept: Vec<Row> = Vec::with_capacity(rows.len());
    for mut row in rows {
        if random.chance(0.015) {
            continue; // forgotten
        }
        if random.chance(0.002)
            && let Some(before) = kept.last()
        {
            // Copied from the line above: the whole row, or one number.
            if random.chance(0.3) {
                row.cells.clone_from(&before.cells);
            } else {
                let column = random.whole(0, row.cells.len() - 1);
                row.cells[column].clone_from(&before.cells[column]);
            }
        }
        if random.chance(0.0012) {
            let column = random.whole(0, row.cells.len() - 2);
            row.cells.swap(column, column + 1);
        }
        for (column, cell) in row.cells.iter_mut().enumerate() {
            // Registers have the most digits, and the most slips.
            let long = matches!(book.columns[column].channel, Channel::Makeup | Channel::Blowdown);
            if random.chance(if long { 0.0015 } else { 0.0006 }) {
                misspell(random, cell, book.decimal);
            } else if random.chance(0.002) {
                cell.clear();
            }
        }
        if random.chance(0.0015) {
            row.day += if random.chance(0.5) { 1 } else { -1 };
        }
        kept.push(row);
    }
    kept
}

/// One slip within a number.
fn misspell(random: &mut Random, cell: &mut String, decimal: char) {
    let mut letters: Vec<char> = cell.chars().collect();
    let digits: Vec<usize> = (0..letters.len()).filter(|&k| letters[k].is_ascii_digit()).collect();
    if digits.len() < 2 {
        return;
    }
    let at = random.whole(0, digits.len() - 2);
    match random.whole(0, 4) {
        0 => {
            letters.remove(digits[at]);
        }
        1 => {
            let digit = letters[digits[at]];
            letters.insert(digits[at], digit);
        }
        2 => letters.swap(digits[at], digits[at + 1]),
        3 => {
            let digit = char::from(b'0' + random.whole(0, 9) as u8);
            letters[digits[at]] = digit;
        }
        _ => match letters.iter().position(|&letter| letter == decimal) {
            // The point is forgotten, or set where there is none.
            Some(point) => {
                letters.remove(point);
            }
            None => letters.insert(letters.len() - 1, decimal),
        },
    }
    *cell = letters.into_iter().collect();
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_changes_a_number_by_little_ink() {
        let mut random = Random::stream(1, "slip");
        let mut changed = 0;
        for _ in 0..200 {
            let mut cell = "12840.2".to_string();
            misspell(&mut random, &mut cell, '.');
            assert!(cell.len().abs_diff(7) <= 1, "{cell}");
            changed += usize::from(cell != "12840.2");
        }
        assert!(changed > 150, "{changed}");
    }
}
