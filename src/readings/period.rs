//! Readings gathered into days.

use super::{Channel, Layout, Log, Refused, Row};
use jiff::civil::Date;

/// What a day's readings come to. Flows in m3/d, everything else the mean in SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Day {
    /// Date, of the log's own clock.
    pub date: Date,
    /// Makeup.
    pub makeup: Option<f64>,
    /// Blowdown.
    pub blowdown: Option<f64>,
    /// Means by [`Channel::ALL`]; NaN where nothing was read.
    pub means: [f64; Channel::ALL.len()],
}

impl Day {
    /// The mean of a channel.
    pub fn get(&self, channel: Channel) -> Option<f64> {
        Some(self.means[channel as usize]).filter(|mean| !mean.is_nan())
    }
}

/// A register must have been read for so many hours of a day before its flow counts.
const LEAST_HOURS: f64 = 6.0;

#[derive(Default, Clone)]
struct Gathered {
    sums: [f64; Channel::ALL.len()],
    counts: [usize; Channel::ALL.len()],
    /// Volume and hours of both registers.
    registers: [(f64, f64); 2],
}

/// Days of a log, in order; what its registers cannot mean is added to what is refused.
pub fn days(log: &mut Log, layout: &Layout) -> Vec<Day> {
    let mut days: std::collections::BTreeMap<Date, Gathered> = std::collections::BTreeMap::new();
    for row in &log.rows {
        let gathered = days.entry(row.time.date()).or_default();
        for (index, value) in row.values.iter().enumerate() {
            if !value.is_nan() {
                gathered.sums[index] += value;
                gathered.counts[index] += 1;
            }
        }
    }
    for (register, channel) in
        [Channel::MakeupRegister, Channel::BlowdownRegister].into_iter().enumerate()
    {
        let column = layout.columns.iter().find(|column| column.channel == channel);
        let modulus = column.and_then(|c| c.rolls_over_at.map(|at| c.unit.to_si(at)));
        let name = column.map_or("", |column| column.name.as_str());
        let mut before: Option<&Row> = None;
        for row in log.rows.iter().filter(|row| row.get(channel).is_some()) {
            if let Some(earlier) = before.replace(row) {
                let hours = row.time.duration_since(earlier.time).as_secs_f64() / 3_600.0;
                let [from, to] = [earlier, row].map(|row| row.get(channel).unwrap_or(f64::NAN));
                match volume(from, to, modulus) {
                    // The middle of the interval says which day it belongs to.
                    Some(volume) => {
                        let middle = earlier.time.checked_add(
                            jiff::SignedDuration::from_secs((hours * 1_800.0) as i64),
                        );
                        let date = middle.map_or(row.time.date(), |middle| middle.date());
                        let sum = &mut days.entry(date).or_default().registers[register];
                        sum.0 += volume;
                        sum.1 += hours;
                    }
                    None => log.refused.push(Refused {
                        line: row.line,
                        reason: format!(
                            "{name}: the register fell from {from} to {to} m3: replaced, mistyped, or \
                             rolled over (state rolls_over_at)"
                        ),
                    }),
                }
            }
        }
    }
    log.refused.sort_by_key(|refused| refused.line);
    days.into_iter().map(|(date, gathered)| day(date, &gathered)).collect()
}

/// Volume between two readings of a register, m3; `None` for a fall that no roll-over explains.
fn volume(from: f64, to: f64, modulus: Option<f64>) -> Option<f64> {
    if to >= from {
        return Some(to - from);
    }
    // A register that rolls over was near its end, and is near its beginning.
    modulus
        .map(|modulus| to + modulus - from)
        .filter(|volume| modulus.is_some_and(|modulus| *volume >= 0.0 && *volume < 0.5 * modulus))
}

fn day(date: Date, gathered: &Gathered) -> Day {
    let means = std::array::from_fn(|index| gathered.sums[index] / gathered.counts[index] as f64);
    let day = Day { date, makeup: None, blowdown: None, means };
    let flow = |register: usize, channel| {
        let (volume, hours) = gathered.registers[register];
        let by_register = (hours >= LEAST_HOURS).then(|| volume / hours * 24.0);
        by_register.or_else(|| day.get(channel).map(|m3_per_s| m3_per_s * 86_400.0))
    };
    Day { makeup: flow(0, Channel::MakeupFlow), blowdown: flow(1, Channel::BlowdownFlow), ..day }
}

#[cfg(test)]
mod tests {
    use super::super::{Column, read};
    use super::*;
    use crate::quantity::unit;
    use crate::site::description::DateOrder;
    use approx::assert_relative_eq;

    fn layout(rolls_over_at: Option<f64>) -> Layout {
        Layout {
            time: "when".into(),
            dates: DateOrder::DayFirst,
            columns: vec![Column {
                name: "makeup".into(),
                channel: Channel::MakeupRegister,
                unit: &unit::CUBIC_METRE,
                rolls_over_at,
            }],
        }
    }

    #[test]
    fn readings_in_the_morning_count_for_the_day_before() {
        let layout = layout(None);
        let text =
            "when,makeup\n2026-03-01 06:00,100\n2026-03-02 06:00,180\n2026-03-03 06:00,255\n";
        let mut log = read(text.as_bytes(), &layout).unwrap();
        let days = days(&mut log, &layout);
        assert_relative_eq!(days[0].makeup.unwrap(), 80.0);
        assert_relative_eq!(days[1].makeup.unwrap(), 75.0);
        assert_eq!(days[2].makeup, None);
    }

    #[test]
    fn a_register_rolls_over_or_is_refused() {
        let text = "when,makeup\n2026-03-01 06:00,9960\n2026-03-02 06:00,40\n2026-03-03 06:00,20\n";
        let rolling = layout(Some(10_000.0));
        let mut log = read(text.as_bytes(), &rolling).unwrap();
        let found = days(&mut log, &rolling);
        assert_relative_eq!(found[0].makeup.unwrap(), 80.0);
        // A fall of 20 is no roll-over: a gap, and told.
        assert_eq!(found[1].makeup, None);
        assert_eq!(log.refused.len(), 1);
        let plain = layout(None);
        let mut log = read(text.as_bytes(), &plain).unwrap();
        assert_eq!(days(&mut log, &plain)[0].makeup, None);
        assert_eq!(log.refused.len(), 2);
    }
}
