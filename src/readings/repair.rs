//! Mistyped readings, found before a reading enters two periods: what is clearly two swapped digits is
//! read as it was meant, what fits nothing is left out, and both are told.
//!
//! For logs that people write. A reading is judged by those around it alone.

use super::{Channel, Column, Layout, Row};
use crate::quantity::with_decimals;
use crate::statistics::{median, spread};

/// A reading that is not taken as it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Repair {
    /// Line in the file.
    pub line: u64,
    /// Header of its column.
    pub column: String,
    /// As it stands, in the column's unit.
    pub read: f64,
    /// What it is taken for; none where it is left out.
    pub taken: Option<f64>,
    /// Decimals that its column is written with.
    pub decimals: usize,
}

impl Repair {
    /// In words: what was read, and what it is taken for.
    pub fn words(&self) -> String {
        let shown = |value| with_decimals(value, self.decimals);
        let read = shown(self.read);
        match self.taken {
            Some(taken) => format!(
                "{}: {read} is out of line with the readings around it; taken for {}, two digits swapped",
                self.column,
                shown(taken)
            ),
            None => format!(
                "{}: {read} is out of line with the readings around it; left out",
                self.column
            ),
        }
    }
}

/// Readings around one that it is held against.
const AROUND: usize = 8;
/// A reading that lies so many scales from those around it is off.
const OFF: f64 = 4.5;
/// With two digits swapped it must come so near.
const NEAR: f64 = 2.5;
/// People mistype no more of a column than this part of it.
const MOST_DROPPED: f64 = 0.03;
/// The scale of a conductivity is at least so much of it.
const BASIN_SCALE: f64 = 0.015;
const MAKEUP_SCALE: f64 = 0.02;
/// The scale of a temperature is at least so much, K.
const TEMPERATURE_SCALE: f64 = 1.5;
/// The scale of a meter's flow is at least so much of the median flow.
const FLOW_SCALE: f64 = 0.08;

/// Readings of one column: place of the row, time in days, value in the column's unit.
struct Readings {
    rows: Vec<usize>,
    days: Vec<f64>,
    values: Vec<f64>,
}

/// Mends what is mistyped in the rows of a log that people write.
pub fn repair(rows: &mut [Row], layout: &Layout) -> Vec<Repair> {
    let mut repairs = Vec::new();
    for column in &layout.columns {
        let mut readings = Readings::of(rows, column);
        let decimals = readings.decimals();
        let changes = match column.channel {
            Channel::MakeupRegister | Channel::BlowdownRegister | Channel::BlowdownValveHours => {
                readings.register(column.rolls_over_at)
            }
            Channel::BasinConductivity => readings.level(BASIN_SCALE, 0.0, Missing::Drop),
            // Another source may come in for a day: only what is far off is no reading.
            Channel::MakeupConductivity => readings.level(MAKEUP_SCALE, 0.0, Missing::DropIfFar),
            Channel::HotWater | Channel::ColdWater | Channel::WetBulb | Channel::DryBulb => {
                readings.level(0.0, TEMPERATURE_SCALE, Missing::Keep)
            }
            _ => Vec::new(),
        };
        for (place, taken) in changes {
            let row = &mut rows[readings.rows[place]];
            let value = &mut row.values[column.channel as usize];
            let read = column.of_si(*value);
            *value = taken.map_or(f64::NAN, |taken| column.to_si(taken));
            let (line, column) = (row.line, column.name.clone());
            repairs.push(Repair { line, column, read, taken, decimals });
        }
    }
    repairs.sort_by_key(|repair| repair.line);
    repairs
}

/// What becomes of a reading that is off and that no swap explains.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Missing {
    /// It is left out.
    Drop,
    /// It is left out where it is off by [`FAR`] or more.
    DropIfFar,
    /// It may be what it is.
    Keep,
}

/// No source has so many times as much salt as the others, or so much less.
const FAR: f64 = 4.0;

/// A reading's place, and what it is taken for.
type Changes = Vec<(usize, Option<f64>)>;

impl Readings {
    fn of(rows: &[Row], column: &Column) -> Self {
        let mut readings = Self { rows: vec![], days: vec![], values: vec![] };
        let first = rows.first().map(|row| row.time);
        for (place, row) in rows.iter().enumerate() {
            if let (Some(value), Some(first)) = (row.get(column.channel), first) {
                readings.rows.push(place);
                readings.days.push(row.time.duration_since(first).as_secs_f64() / 86_400.0);
                // The digits that were written, free of what the units' factors leave over.
                let written = column.of_si(value);
                readings.values.push((written * 1e6).round() / 1e6);
            }
        }
        readings
    }

    /// The most that any of them is written with.
    fn decimals(&self) -> usize {
        let of =
            |value: &f64| value.to_string().split_once('.').map_or(0, |(_, after)| after.len());
        self.values.iter().map(of).max().unwrap_or(0)
    }

    /// A register: each reading enters two flows.
    fn register(&mut self, rolls_over_at: Option<f64>) -> Changes {
        let mut changes = Changes::new();
        let flow = |values: &[f64], days: &[f64], from: usize, to: usize| {
            let rise = values[to] - values[from];
            let rise = match rolls_over_at {
                Some(modulus) if rise < 0.0 && rise + modulus < 0.5 * modulus => rise + modulus,
                _ => rise,
            };
            rise / (days[to] - days[from])
        };
        let flows: Vec<f64> = (1..self.values.len())
            .map(|to| flow(&self.values, &self.days, to - 1, to))
            .filter(|flow| flow.is_finite() && *flow >= 0.0)
            .collect();
        let Some(typical) = median(flows.iter().copied()) else { return changes };
        let scale = spread(&flows).unwrap_or(0.0).max(FLOW_SCALE * typical);
        if scale <= 0.0 {
            return changes;
        }
        // The reading before, as it stands: one that was left out is no neighbour.
        let mut before = 0;
        for place in 1..self.values.len().saturating_sub(1) {
            let near = self.flows_around(place, &flow);
            let middle = median(near.into_iter()).unwrap_or(typical);
            let misfit = |flow: f64| match flow < 0.0 {
                true => 8.0,
                false => 2.0 * (1.0 + ((flow - middle) / scale).powi(2) / 3.0).ln(),
            };
            let both = |values: &[f64]| {
                [
                    misfit(flow(values, &self.days, before, place)),
                    misfit(flow(values, &self.days, place, place + 1)),
                ]
            };
            let [to, from] = both(&self.values);
            let over = misfit(flow(&self.values, &self.days, before, place + 1));
            if to + from <= 5.0 || over >= 3.5 {
                before = place;
                continue;
            }
            let mut values = self.values.clone();
            let best = swaps(self.values[place])
                .map(|swapped| {
                    values[place] = swapped;
                    (swapped, both(&values).iter().sum::<f64>())
                })
                .min_by(|a, b| a.1.total_cmp(&b.1));
            match best {
                Some((swapped, sum)) if sum < 4.0 && sum < to + from - 4.0 => {
                    self.values[place] = swapped;
                    changes.push((place, Some(swapped)));
                    before = place;
                }
                _ if to > 4.0 && from > 4.0 => changes.push((place, None)),
                _ => before = place,
            }
        }
        changes
    }

    fn flows_around(
        &self,
        place: usize,
        flow: &impl Fn(&[f64], &[f64], usize, usize) -> f64,
    ) -> Vec<f64> {
        let first = place.saturating_sub(AROUND).max(1);
        let last = (place + AROUND).min(self.values.len() - 1);
        (first..=last)
            .map(|to| flow(&self.values, &self.days, to - 1, to))
            .filter(|flow| flow.is_finite() && *flow >= 0.0)
            .collect()
    }

    /// A conductivity or a temperature: held against the readings around it.
    fn level(&self, relative: f64, absolute: f64, missing: Missing) -> Changes {
        let count = self.values.len();
        if count <= AROUND {
            return Changes::new();
        }
        let change = |place: usize| {
            let first = place.saturating_sub(AROUND / 2).min(count - AROUND - 1);
            let around: Vec<f64> = (first..=first + AROUND)
                .filter(|other| *other != place)
                .map(|other| self.values[other])
                .collect();
            let middle = median(around.iter().copied())?;
            let least = (relative * middle.abs()).max(absolute);
            let scale = spread(&around).unwrap_or(0.0).max(least);
            let off = self.values[place] - middle;
            let shares = |other: Option<usize>| {
                let other = other.and_then(|other| self.values.get(other));
                other.is_some_and(|other| (other - middle) / off > 0.5)
            };
            let is_off = off.abs() > OFF * scale
                && !shares(place.checked_sub(1))
                && !shares(Some(place + 1));
            if !is_off {
                return None;
            }
            let near = |swapped: &f64| (swapped - middle).abs();
            let best = swaps(self.values[place]).min_by(|a, b| near(a).total_cmp(&near(b)));
            match best.filter(|swapped| near(swapped) < NEAR * scale) {
                Some(swapped) => Some((place, Some(swapped))),
                None => {
                    let times = self.values[place] / middle;
                    let is_far = !(1.0 / FAR..=FAR).contains(&times);
                    let drops = missing == Missing::Drop || missing == Missing::DropIfFar && is_far;
                    drops.then_some((place, None))
                }
            }
        };
        let mut changes: Changes = (0..count).filter_map(change).collect();
        // Slips are rare: what comes again and again is the plant's own way.
        let dropped = changes.iter().filter(|(_, taken)| taken.is_none()).count();
        if dropped as f64 > MOST_DROPPED * count as f64 + 1.0 {
            changes.retain(|(_, taken)| taken.is_some());
        }
        changes
    }
}

/// The numbers that two swapped neighbouring digits make of one.
fn swaps(value: f64) -> impl Iterator<Item = f64> {
    let text = value.to_string();
    let places: Vec<usize> =
        text.char_indices().filter(|(_, c)| c.is_ascii_digit()).map(|(place, _)| place).collect();
    let pairs: Vec<(usize, usize)> = places.windows(2).map(|pair| (pair[0], pair[1])).collect();
    pairs.into_iter().filter_map(move |(a, b)| {
        let mut digits: Vec<u8> = text.bytes().collect();
        digits.swap(a, b);
        let swapped: f64 = String::from_utf8(digits).ok()?.parse().ok()?;
        (swapped != value).then_some(swapped)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(values: &[f64]) -> Readings {
        Readings {
            rows: (0..values.len()).collect(),
            days: (0..values.len()).map(|day| day as f64).collect(),
            values: values.to_vec(),
        }
    }

    /// A register that counts some 80 a day.
    fn register() -> Vec<f64> {
        (0..20).map(|day| 9_120.0 + 80.0 * f64::from(day) + f64::from(day % 3)).collect()
    }

    #[test]
    fn a_sound_register_is_left_alone() {
        assert!(readings(&register()).register(None).is_empty());
        // A stop of some days, and a meter that rolls over.
        let mut stopped = register();
        stopped[8..].iter_mut().for_each(|value| *value -= 240.0);
        let still = stopped[4];
        stopped[5..8].fill(still);
        assert!(readings(&stopped).register(None).is_empty());
        let rolled: Vec<f64> = register().iter().map(|value| value % 10_000.0).collect();
        assert!(readings(&rolled).register(Some(10_000.0)).is_empty());
    }

    #[test]
    fn swapped_digits_of_a_register_are_read_as_meant() {
        let mut values = register();
        assert_eq!(values[9], 9_840.0);
        values[9] = 8_940.0;
        assert_eq!(readings(&values).register(None), [(9, Some(9_840.0))]);
    }

    #[test]
    fn a_reading_that_fits_nothing_is_left_out() {
        let mut values = register();
        values[9] = 98_400.0;
        assert_eq!(readings(&values).register(None), [(9, None)]);
    }

    #[test]
    fn a_step_is_no_slip() {
        let mut values: Vec<f64> = (0..20).map(|day| 1_600.0 + f64::from(day % 4)).collect();
        values[10..].iter_mut().for_each(|value| *value += 300.0);
        assert!(readings(&values).level(BASIN_SCALE, 0.0, Missing::Drop).is_empty());
        values[5] = 6_103.0;
        values[15] = 190.3;
        let changes = readings(&values).level(BASIN_SCALE, 0.0, Missing::Drop);
        assert_eq!(changes, [(5, Some(1_603.0)), (15, None)]);
    }

    #[test]
    fn a_temperature_may_be_anything_but_swapped() {
        let mut values: Vec<f64> = (0..20).map(|day| 26.0 + 0.5 * f64::from(day % 4)).collect();
        values[6] = 62.0;
        values[12] = 40.0;
        let changes = readings(&values).level(0.0, TEMPERATURE_SCALE, Missing::Keep);
        assert_eq!(changes, [(6, Some(26.0))]);
    }

    #[test]
    fn numbers_are_shown_as_their_column_is_written() {
        let decimals = readings(&[26.5, 62.0, 27.0]).decimals();
        let column = "hot".to_owned();
        let repair = Repair { line: 3, column, read: 62.0, taken: Some(26.0), decimals };
        assert_eq!(
            repair.words(),
            "hot: 62.0 is out of line with the readings around it; taken for 26.0, two digits swapped"
        );
        assert_eq!(readings(&[244_233.0]).decimals(), 0);
    }

    #[test]
    fn swaps_are_of_neighbouring_digits() {
        assert_eq!(swaps(12.5).collect::<Vec<_>>(), [21.5, 15.2]);
        assert_eq!(swaps(33.0).count(), 0);
    }
}
