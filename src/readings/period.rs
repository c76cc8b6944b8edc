//! Readings gathered into hours, shifts, days or weeks.
//!
//! A register is read at its own times, so a period lasts from one reading of the makeup register to
//! another: those whose middle lies in the hour, shift, day or week. Whatever was read between them
//! counts, the two ends by half.

use super::repair::{Repair, repair};
use super::{Channel, Layout, LogError, RecordedColumn, Row, Rows};
use crate::site::description::RowValues;
use crate::statistics::median;
use crate::warnings::Noticed;
use crate::warnings::readings::READING_MISSED;
use jiff::SignedDuration;
use jiff::civil::{DateTime, Time, Weekday};
use std::collections::BTreeMap;
use std::io::Read;

const CHANNELS: usize = Channel::ALL.len();
/// Channels whose change over a period counts: what the basin gains.
const STORED: [Channel; 4] =
    [Channel::BasinConductivity, Channel::BasinChloride, Channel::BasinLevel, Channel::ColdWater];
/// A period with less of its time metered says nothing of a flow.
const LEAST_COVERED: f64 = 0.25;
/// Readings between two registers further apart than this many periods stand for themselves.
const LONG: f64 = 1.5;
/// Less range than this is a tower without load, K.
const LEAST_RANGE: f64 = 1.0;
/// A reading so near to the end of a period, in parts of it, is one at its end; of a long period, so many
/// hours.
const NEAR_END: f64 = 0.15;
const NEAR_END_HOURS: f64 = 4.0;
/// People write some rows a day; what writes more is no person, and does not mistype.
const MOST_WRITTEN_A_DAY: f64 = 4.0;
/// More rows than this are not held to be mended.
const MOST_WRITTEN: usize = 20_000;
/// The first shift begins at this hour; a shift has eight (common practice).
const FIRST_SHIFT: i64 = 6;

/// Length of the periods of a check.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Every {
    /// From full hour to full hour.
    Hour,
    /// Eight hours from 06:00, 14:00 and 22:00.
    Shift,
    /// From midnight to midnight.
    #[default]
    Day,
    /// From Monday to Monday.
    Week,
}

impl Every {
    /// Length in hours.
    pub fn hours(self) -> f64 {
        match self {
            Self::Hour => 1.0,
            Self::Shift => 8.0,
            Self::Day => 24.0,
            Self::Week => 168.0,
        }
    }

    /// What one is called.
    pub fn name(self) -> &'static str {
        match self {
            Self::Hour => "hour",
            Self::Shift => "shift",
            Self::Day => "day",
            Self::Week => "week",
        }
    }

    fn start_of(self, time: DateTime) -> DateTime {
        let midnight = time.date().at(0, 0, 0, 0);
        match self {
            Self::Hour => time.date().at(time.hour(), 0, 0, 0),
            Self::Shift => {
                let hours = (i64::from(time.hour()) - FIRST_SHIFT).div_euclid(8) * 8 + FIRST_SHIFT;
                later(midnight, SignedDuration::from_hours(hours))
            }
            Self::Day => midnight,
            Self::Week => {
                let days = time.date().weekday().since(Weekday::Monday);
                later(midnight, SignedDuration::from_hours(-24 * i64::from(days)))
            }
        }
    }
}

/// Which part of a log counts, and in what periods.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Cut {
    /// Length of the periods.
    pub every: Every,
    /// Rows before this are left alone.
    pub from: Option<DateTime>,
    /// Rows after this are left alone.
    pub to: Option<DateTime>,
}

/// What the readings of a period come to. Flows in m3/d, everything else the mean in SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Period {
    /// Beginning of the hour, shift, day or week; of a longer gap between registers, its own.
    pub start: DateTime,
    /// The first reading of the makeup that it counts from, and the last.
    pub metered: (DateTime, DateTime),
    /// Hours that the makeup's readings cover.
    pub hours: f64,
    /// Makeup.
    pub makeup: Option<f64>,
    /// Blowdown.
    pub blowdown: Option<f64>,
    /// Part of the time that the blowdown valve stood open.
    pub valve_open: Option<f64>,
    /// Part of the time that the fans ran.
    pub fans_ran: Option<f64>,
    /// Of its rows with both temperatures, the part whose water came back as it went.
    pub cold_rows: Option<f64>,
    means: [f64; CHANNELS],
    gains: [f64; STORED.len()],
    /// Readings at the begin and at the end.
    at_ends: [[f64; 2]; STORED.len()],
}

impl Period {
    /// The mean of a channel.
    pub fn get(&self, channel: Channel) -> Option<f64> {
        Some(self.means[channel as usize]).filter(|mean| !mean.is_nan())
    }

    /// By how much a conductivity, a chloride or the level of the basin rose from its begin to its end.
    pub fn gain(&self, channel: Channel) -> Option<f64> {
        let place = STORED.iter().position(|stored| *stored == channel)?;
        Some(self.gains[place]).filter(|gain| !gain.is_nan())
    }

    /// A conductivity, a chloride, the level or the cold water of the basin as read at its begin and at its end: the mean
    /// of the readings next to it, none where nobody read it near enough.
    pub fn at_ends(&self, channel: Channel) -> [Option<f64>; 2] {
        let place = STORED.iter().position(|stored| *stored == channel);
        let values = place.map_or([f64::NAN; 2], |place| self.at_ends[place]);
        values.map(|value| Some(value).filter(|value| !value.is_nan()))
    }

    /// The period with another mean of a channel.
    pub(crate) fn with(mut self, channel: Channel, mean: Option<f64>) -> Self {
        self.means[channel as usize] = mean.unwrap_or(f64::NAN);
        self
    }

    /// The period with a reading of another day, where it has none of its own.
    pub(crate) fn with_held(mut self, channel: Channel, held: Option<f64>) -> Self {
        if let (None, Some(held)) = (self.get(channel), held) {
            self.means[channel as usize] = held;
        }
        self
    }
}

/// A column that is shown and not judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// Its header.
    pub name: String,
    /// The unit of its numbers, as written.
    pub unit: String,
    /// How often it is to be read, in hours.
    pub every: Option<f64>,
    /// How often it was read.
    pub readings: usize,
    /// The last reading.
    pub last: Option<(DateTime, f64)>,
    /// Readings that are missing between others.
    pub missed: usize,
    /// When a reading was due that the end of the log does not have.
    pub due: Option<DateTime>,
    /// The mean of each hour, shift, day or week that has readings, with its begin.
    pub means: Vec<(DateTime, f64)>,
}

impl Recorded {
    /// Whether readings are missing.
    pub fn is_missed(&self) -> bool {
        self.missed > 0 || self.due.is_some()
    }

    /// What to warn of where readings are missing.
    pub fn noticed(&self) -> Option<Noticed> {
        let due = self.due.map(|due| format!("due since {}", due.date()));
        let missed = (self.missed > 0).then(|| format!("missed {} times", self.missed));
        let said: Vec<String> = missed.into_iter().chain(due).collect();
        (!said.is_empty())
            .then(|| READING_MISSED.with(format!("{}: {}", self.name, said.join(", "))))
    }
}

/// What a log comes to.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// In order of time.
    pub periods: Vec<Period>,
    /// In the order of [`Layout::recorded`].
    pub recorded: Vec<Recorded>,
    /// What the numbers of its rows are taken for, as the site file states or the rows look.
    pub values: RowValues,
    /// Readings that were mistyped, in a log that people write; those left out are not used either.
    pub repairs: Vec<Repair>,
}

/// A reading at its time.
type At = (DateTime, f64);

/// What has been read in a period, or since the last reading of the makeup register.
#[derive(Clone)]
struct Gathered {
    weights: [f64; CHANNELS],
    sums: [f64; CHANNELS],
    /// First and last reading.
    ends: [Option<(At, At)>; STORED.len()],
    /// Time from one reading of the makeup register to the last one.
    covered: Option<(DateTime, DateTime)>,
    /// What each of [`REGISTERS`] counted, and in how many seconds.
    registers: [(f64, f64); REGISTERS.len()],
    /// Rows with both temperatures, and those of them whose water came back as it went.
    warm_and_cold: (f64, f64),
}

const REGISTERS: [Channel; 4] = [
    Channel::MakeupRegister,
    Channel::BlowdownRegister,
    Channel::BlowdownValveHours,
    Channel::FanHours,
];

impl Default for Gathered {
    fn default() -> Self {
        Self {
            weights: [0.0; CHANNELS],
            sums: [0.0; CHANNELS],
            ends: [None; STORED.len()],
            covered: None,
            registers: [(0.0, 0.0); REGISTERS.len()],
            warm_and_cold: (0.0, 0.0),
        }
    }
}

impl Gathered {
    fn add(&mut self, row: &Row, weight: f64) {
        for (index, value) in row.values.iter().enumerate() {
            if !value.is_nan() {
                self.weights[index] += weight;
                self.sums[index] += weight * value;
            }
        }
        if let (Some(hot), Some(cold)) = (row.get(Channel::HotWater), row.get(Channel::ColdWater)) {
            let is_still = row.get(Channel::Circulation).is_some_and(|flow| flow <= 0.0);
            self.warm_and_cold.0 += weight;
            if hot - cold < LEAST_RANGE || is_still {
                self.warm_and_cold.1 += weight;
            }
        }
        for (ends, channel) in self.ends.iter_mut().zip(STORED) {
            if let Some(value) = row.get(channel) {
                let at = (row.time, value);
                *ends = Some((ends.map_or(at, |(first, _)| first), at));
            }
        }
    }

    fn merge(&mut self, other: &Self) {
        for index in 0..CHANNELS {
            self.weights[index] += other.weights[index];
            self.sums[index] += other.sums[index];
        }
        self.warm_and_cold.0 += other.warm_and_cold.0;
        self.warm_and_cold.1 += other.warm_and_cold.1;
        for (ours, theirs) in self.ends.iter_mut().zip(other.ends) {
            *ours = ours.map_or(theirs, |(first, last)| {
                Some((first, theirs.map_or(last, |(_, last)| last)))
            });
        }
    }
}

/// Gathers what is left of a log's rows into periods, in order.
///
/// # Errors
/// [`LogError`] where the file ends badly.
pub fn gather<R: Read>(
    rows: &mut Rows<'_, R>,
    layout: &Layout,
    cut: &Cut,
) -> Result<Record, LogError> {
    let mut recorders: Vec<Recorder<'_>> =
        layout.recorded.iter().map(|column| Recorder::new(column, cut.every)).collect();
    let mut ends: Option<(DateTime, DateTime)> = None;
    let (written, repairs) = written(rows, layout)?;
    let values = layout.values.unwrap_or_else(|| {
        match layout.columns.iter().all(|column| column.channel.is_register()) {
            true => RowValues::Spot,
            false => guessed(&written),
        }
    });
    let mut gatherer = Gatherer {
        layout,
        every: cut.every,
        values,
        last_row: None,
        periods: BTreeMap::new(),
        since: Gathered::default(),
        before: [None; REGISTERS.len()],
    };
    let counts = |row: &Row| {
        cut.from.is_none_or(|from| row.time >= from) && cut.to.is_none_or(|to| row.time <= to)
    };
    for repair in repairs.iter().filter(|repair| repair.taken.is_none()) {
        rows.refuse(repair.line, repair.words());
    }
    let mut written = written.into_iter();
    loop {
        let row = match written.next() {
            Some(row) => row,
            None => match rows.next_row()? {
                Some(row) => row,
                None => break,
            },
        };
        if counts(&row) {
            ends = Some((ends.map_or(row.time, |(first, _)| first), row.time));
            for (recorder, value) in recorders.iter_mut().zip(row.recorded) {
                recorder.take(row.time, value);
            }
            for (line, reason) in gatherer.take(&row).into_iter().flatten() {
                rows.refuse(line, reason);
            }
        }
    }
    let recorded = recorders.into_iter().map(|recorder| recorder.finish(ends)).collect();
    Ok(Record { periods: gatherer.finish(), recorded, values, repairs })
}

/// Where every row stands at midnight, a day or more apart, nobody read it then: they are means of the day
/// before. All others are taken as read at their time.
fn guessed(rows: &[Row]) -> RowValues {
    const A_DAY: f64 = 0.9 * 86_400.0;
    let at_midnight = rows.iter().all(|row| row.time.time() == Time::midnight());
    let by_days = rows.windows(2).all(|pair| seconds_between(pair[0].time, pair[1].time) >= A_DAY);
    if rows.len() > 2 && at_midnight && by_days { RowValues::Mean } else { RowValues::Spot }
}

/// The rows of a log that people write, mended; of any other log its first rows as they are.
fn written<R: Read>(
    rows: &mut Rows<'_, R>,
    layout: &Layout,
) -> Result<(Vec<Row>, Vec<Repair>), LogError> {
    let mut first: Vec<Row> = Vec::new();
    while first.len() < MOST_WRITTEN {
        let Some(row) = rows.next_row()? else {
            let days = match (first.first(), first.last()) {
                (Some(from), Some(to)) => seconds_between(from.time, to.time) / 86_400.0,
                _ => 0.0,
            };
            let is_written = first.len() as f64 <= MOST_WRITTEN_A_DAY * (days + 1.0);
            let repairs = if is_written { repair(&mut first, layout) } else { Vec::new() };
            return Ok((first, repairs));
        };
        if is_automatic(&first, &row) {
            first.push(row);
            break;
        }
        first.push(row);
    }
    Ok((first, Vec::new()))
}

/// Whether the rows so far are too many for people, once there are some days of them.
fn is_automatic(rows: &[Row], next: &Row) -> bool {
    const SOME_DAYS: f64 = 3.0;
    rows.first().is_some_and(|first| {
        let days = seconds_between(first.time, next.time) / 86_400.0;
        days >= SOME_DAYS && rows.len() as f64 > MOST_WRITTEN_A_DAY * (days + 1.0)
    })
}

/// Readings that come so much later than they should, in parts of their interval, are missed.
const LATE: f64 = 0.5;

/// Follows a column that is shown and not judged.
struct Recorder<'a> {
    column: &'a RecordedColumn,
    readings: usize,
    first: Option<DateTime>,
    last: Option<At>,
    missed: usize,
    every: Every,
    /// Sum and count of the readings of each period.
    sums: BTreeMap<DateTime, (f64, f64)>,
}

impl<'a> Recorder<'a> {
    fn new(column: &'a RecordedColumn, every: Every) -> Self {
        let sums = BTreeMap::new();
        Self { column, readings: 0, first: None, last: None, missed: 0, every, sums }
    }

    fn take(&mut self, time: DateTime, value: f64) {
        if value.is_nan() {
            return;
        }
        if let Some((last, _)) = self.last {
            self.missed += self.missing(last, time);
        }
        self.readings += 1;
        self.first.get_or_insert(time);
        self.last = Some((time, value));
        let (sum, count) = self.sums.entry(self.every.start_of(time)).or_default();
        *sum += value;
        *count += 1.0;
    }

    /// Readings that should have come between two times.
    fn missing(&self, from: DateTime, to: DateTime) -> usize {
        self.column.every.map_or(0, |every| {
            (seconds_between(from, to) / every - LATE).ceil().max(1.0) as usize - 1
        })
    }

    /// Closes with the first and last time of the log.
    fn finish(mut self, ends: Option<(DateTime, DateTime)>) -> Recorded {
        let mut due = None;
        if let (Some((begin, end)), Some(every)) = (ends, self.column.every) {
            self.missed += self.first.map_or(0, |first| self.missing(begin, first));
            let last = self.last.map_or(begin, |(last, _)| last);
            let is_late = seconds_between(last, end) > (1.0 + LATE) * every;
            due = is_late.then(|| later(last, SignedDuration::from_secs(every as i64)));
        }
        Recorded {
            name: self.column.name.clone(),
            unit: self.column.unit.clone(),
            every: self.column.every.map(|seconds| seconds / 3_600.0),
            readings: self.readings,
            last: self.last,
            missed: self.missed,
            due,
            means: self.sums.iter().map(|(start, (sum, count))| (*start, sum / count)).collect(),
        }
    }
}

struct Gatherer<'a> {
    layout: &'a Layout,
    every: Every,
    values: RowValues,
    /// Time of the row before.
    last_row: Option<DateTime>,
    periods: BTreeMap<DateTime, Gathered>,
    /// Since the last reading of the makeup register.
    since: Gathered,
    /// The registers as last read.
    before: [Option<Register>; REGISTERS.len()],
}

/// A register as last read.
#[derive(Clone, Copy)]
struct Register {
    last: At,
    /// Line of that reading.
    line: u64,
    /// The reading before, and what has been counted between the two.
    earlier: Option<(At, Option<Counted>)>,
}

/// What a register counted in how many seconds, for a period.
#[derive(Clone, Copy)]
struct Counted {
    period: DateTime,
    amount: f64,
    seconds: f64,
}

impl Gatherer<'_> {
    /// Takes a row; returns what registers cannot mean, with the line of the reading.
    fn take(&mut self, row: &Row) -> [Option<(u64, String)>; REGISTERS.len()] {
        if self.layout.column(Channel::MakeupRegister).is_none() {
            let start = self.every.start_of(self.middle_of(row.time));
            self.periods.entry(start).or_default().add(row, 1.0);
        } else if row.get(Channel::MakeupRegister).is_none() {
            self.since.add(row, 1.0);
        }
        self.last_row = Some(row.time);
        std::array::from_fn(|register| self.take_register(row, register))
    }

    /// The time that the numbers of a row belong to: its own, or the middle of what they are the mean of.
    fn middle_of(&self, time: DateTime) -> DateTime {
        match (self.values, self.last_row) {
            (RowValues::Mean, Some(before)) => {
                let half = 0.5 * seconds_between(before, time);
                later(time, SignedDuration::from_secs(-half as i64))
            }
            // Of the first row nobody knows how long it is the mean of.
            (RowValues::Mean, None) => later(time, SignedDuration::from_secs(-1)),
            (RowValues::Spot, _) => time,
        }
    }

    fn take_register(&mut self, row: &Row, register: usize) -> Option<(u64, String)> {
        let value = row.get(REGISTERS[register])?;
        let bounds_periods = register == 0;
        let mut readings = Gathered::default();
        if bounds_periods {
            let [before, after] = match self.values {
                RowValues::Spot => [0.5, 0.5],
                RowValues::Mean => [1.0, 0.0],
            };
            self.since.add(row, before);
            readings = std::mem::take(&mut self.since);
            self.since.add(row, after);
        }
        let now = (row.time, value);
        let Some(before) = self.before[register] else {
            self.before[register] = Some(Register { last: now, line: row.line, earlier: None });
            return None;
        };
        let from = before.last.0;
        if bounds_periods {
            let start = self.period_of(from, seconds_between(from, row.time));
            let gathered = self.periods.entry(start).or_default();
            gathered.merge(&readings);
            let begin = gathered.covered.map_or(from, |(begin, _)| begin);
            gathered.covered = Some((begin, row.time));
        }
        let refused = self.count(register, before, (row.line, now));
        refused.map(|(line, reason)| (line, self.named(register, &reason)))
    }

    /// Counts what a register moved on by; a reading that does not stand between its neighbours is a
    /// slip of the pen.
    fn count(
        &mut self,
        register: usize,
        before: Register,
        (line, now): (u64, At),
    ) -> Option<(u64, String)> {
        let last = before.last;
        let mut from = last;
        let mut refused = None;
        if let (true, Some((earlier, counted))) = (before.is_slip(now), before.earlier) {
            if let Some(counted) = counted {
                self.add(
                    register,
                    Counted { amount: -counted.amount, seconds: -counted.seconds, ..counted },
                );
            }
            from = earlier;
            let reading = self.shown(register, last.1);
            let reason =
                format!("at {} it reads {reading}, out of line with its neighbours", last.0);
            refused = Some((before.line, reason));
        }
        let amount = counted(from.1, now.1, self.modulus(register));
        let seconds = seconds_between(from.0, now.0);
        let counted = amount.map(|amount| {
            let counted = Counted { period: self.period_of(from.0, seconds), amount, seconds };
            self.add(register, counted);
            counted
        });
        self.before[register] = Some(Register { last: now, line, earlier: Some((from, counted)) });
        if counted.is_none() {
            let [from, to] = [from.1, now.1].map(|value| self.shown(register, value));
            let reason = format!(
                "the register fell from {from} to {to}: replaced, mistyped, or rolled over (state \
                 rolls_over_at)"
            );
            refused = Some((line, reason));
        }
        refused
    }

    fn add(&mut self, register: usize, counted: Counted) {
        let sum = &mut self.periods.entry(counted.period).or_default().registers[register];
        sum.0 += counted.amount;
        sum.1 += counted.seconds;
    }

    /// The middle of an interval says which period it belongs to.
    fn period_of(&self, from: DateTime, seconds: f64) -> DateTime {
        if seconds > LONG * 3_600.0 * self.every.hours() {
            return from;
        }
        self.every.start_of(later(from, SignedDuration::from_secs((0.5 * seconds) as i64)))
    }

    fn modulus(&self, register: usize) -> Option<f64> {
        let column = self.layout.column(REGISTERS[register])?;
        column.rolls_over_at.map(|at| column.to_si(at))
    }

    /// A reading as its column has it.
    fn shown(&self, register: usize, si: f64) -> String {
        let column = self.layout.column(REGISTERS[register]);
        let number = column.map_or(si, |column| column.of_si(si));
        let unit = column.map_or_else(String::new, |column| match column.multiplier {
            1.0 => column.unit.symbol.into(),
            by => format!("x {by} {}", column.unit.symbol),
        });
        format!("{} {unit}", (number * 1e6).round() / 1e6)
    }

    fn named(&self, register: usize, reason: &str) -> String {
        let name = self.layout.column(REGISTERS[register]).map_or("", |column| &column.name);
        format!("{name}: {reason}")
    }

    /// A meter that shows flows says nothing of a period of which it has few rows, as of the day in which a
    /// log ends.
    fn drop_thin(&mut self) {
        for channel in [Channel::MakeupFlow, Channel::BlowdownFlow] {
            let rows = self.periods.values().map(|gathered| gathered.weights[channel as usize]);
            let usual = median(rows.filter(|rows| *rows > 0.0)).unwrap_or(0.0);
            for gathered in self.periods.values_mut() {
                if gathered.weights[channel as usize] < LEAST_COVERED * usual {
                    gathered.weights[channel as usize] = 0.0;
                    gathered.sums[channel as usize] = 0.0;
                }
            }
        }
    }

    fn finish(mut self) -> Vec<Period> {
        self.drop_thin();
        let every = self.every;
        let gathered: Vec<(DateTime, Gathered)> = self.periods.into_iter().collect();
        let covered = |(start, gathered): &(DateTime, Gathered)| {
            let end = SignedDuration::from_secs((3_600.0 * every.hours()) as i64);
            gathered.covered.unwrap_or((*start, later(*start, end)))
        };
        (0..gathered.len())
            .map(|index| {
                let before = index.checked_sub(1).map(|before| &gathered[before].1);
                let after = gathered.get(index + 1).map(|(_, after)| after);
                let (begin, end) = covered(&gathered[index]);
                let gains = std::array::from_fn(|place| {
                    let of = |near: Option<&Gathered>| near.and_then(|near| near.ends[place]);
                    let Some((first, last)) = gathered[index].1.ends[place] else {
                        return f64::NAN;
                    };
                    let at_end = between(last, of(after).map(|(first, _)| first), end);
                    let at_begin = between(first, of(before).map(|(_, last)| last), begin);
                    at_end - at_begin
                });
                let at_ends = std::array::from_fn(|place| {
                    let of = |near: Option<&Gathered>| near.and_then(|near| near.ends[place]);
                    let own = gathered[index].1.ends[place];
                    let near = NEAR_END * seconds_between(begin, end);
                    let near = near.min(3_600.0 * NEAR_END_HOURS);
                    let at_begin = [of(before).map(|ends| ends.1), own.map(|ends| ends.0)];
                    let at_end = [own.map(|ends| ends.1), of(after).map(|ends| ends.0)];
                    [(begin, at_begin), (end, at_end)].map(|(time, ats)| mean_near(time, ats, near))
                });
                period(&gathered[index], every, (begin, end), (gains, at_ends))
            })
            .collect()
    }
}

fn period(
    (start, gathered): &(DateTime, Gathered),
    every: Every,
    (begin, end): (DateTime, DateTime),
    (gains, at_ends): ([f64; STORED.len()], [[f64; 2]; STORED.len()]),
) -> Period {
    let means = std::array::from_fn(|index| gathered.sums[index] / gathered.weights[index]);
    let counted = |register: usize| {
        let (counted, seconds) = gathered.registers[register];
        (seconds >= LEAST_COVERED * 3_600.0 * every.hours()).then(|| counted / seconds)
    };
    let flow = |register: usize, channel: Channel| {
        let mean = Some(means[channel as usize]).filter(|mean: &f64| !mean.is_nan());
        counted(register).or(mean).map(|m3_per_s| 86_400.0 * m3_per_s)
    };
    Period {
        start: *start,
        metered: (begin, end),
        hours: end.duration_since(begin).as_secs_f64() / 3_600.0,
        makeup: flow(0, Channel::MakeupFlow),
        blowdown: flow(1, Channel::BlowdownFlow),
        valve_open: counted(2).map(|share: f64| share.min(1.0)),
        fans_ran: counted(3).map(|share: f64| share.min(1.0)),
        cold_rows: (gathered.warm_and_cold.0 > 0.0)
            .then(|| gathered.warm_and_cold.1 / gathered.warm_and_cold.0),
        means,
        gains,
        at_ends,
    }
}

/// The mean of the readings within so many seconds of a time; NaN where there is none.
fn mean_near(time: DateTime, readings: [Option<At>; 2], seconds: f64) -> f64 {
    let near = readings
        .into_iter()
        .flatten()
        .filter(|(at, _)| seconds_between(*at, time).abs() <= seconds);
    let (sum, count) = near.fold((0.0, 0.0), |(sum, count), (_, value)| (sum + value, count + 1.0));
    sum / count
}

/// A value at a time between two readings, or the first of them where there is no second.
fn between((near, value): At, other: Option<At>, time: DateTime) -> f64 {
    let Some((far, there)) = other.filter(|(far, _)| *far != near) else { return value };
    let share = time.duration_since(near).as_secs_f64() / far.duration_since(near).as_secs_f64();
    value + share.clamp(0.0, 1.0) * (there - value)
}

impl Register {
    /// Whether the last reading stands out of line: above this one, which is not below the one
    /// before; or below the one before, which this one is not.
    fn is_slip(&self, (_, now): At) -> bool {
        let last = self.last.1;
        self.earlier.is_some_and(|((_, earlier), counted)| {
            let was_too_high = last > now && now >= earlier;
            let was_too_low = counted.is_none() && last < earlier && now >= earlier;
            was_too_high || was_too_low
        })
    }
}

fn seconds_between(from: DateTime, to: DateTime) -> f64 {
    to.duration_since(from).as_secs_f64()
}

fn later(time: DateTime, by: SignedDuration) -> DateTime {
    time.checked_add(by).unwrap_or(time)
}

/// What a register counted; `None` for a fall that no roll-over explains.
fn counted(from: f64, to: f64, modulus: Option<f64>) -> Option<f64> {
    if to >= from {
        return Some(to - from);
    }
    // A register that rolls over was near its end, and is near its beginning.
    modulus
        .map(|modulus| to + modulus - from)
        .filter(|volume| modulus.is_some_and(|modulus| *volume >= 0.0 && *volume < 0.5 * modulus))
}

#[cfg(test)]
mod tests {
    use super::super::{Column, NotUsed, rows};
    use super::*;
    use crate::quantity::unit;
    use crate::site::description::DateOrder;
    use approx::assert_relative_eq;

    fn layout(rolls_over_at: Option<f64>) -> Layout {
        let column = |name: &str, channel, unit, rolls_over_at| Column {
            name: name.into(),
            channel,
            unit,
            multiplier: 1.0,
            rolls_over_at,
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
            recorded: vec![RecordedColumn {
                name: "drum".into(),
                unit: "mm".into(),
                every: Some(86_400.0),
            }],
            columns: vec![
                column("makeup", Channel::MakeupRegister, &unit::CUBIC_METRE, rolls_over_at),
                column("open", Channel::BlowdownValveHours, &unit::HOUR, None),
                column(
                    "basin",
                    Channel::BasinConductivity,
                    &unit::MICROSIEMENS_PER_CENTIMETRE,
                    None,
                ),
            ],
        }
    }

    fn gathered(text: &str, layout: &Layout, cut: &Cut) -> (Vec<Period>, NotUsed) {
        let (record, not_used) = record(text, layout, cut);
        (record.periods, not_used)
    }

    fn record(text: &str, layout: &Layout, cut: &Cut) -> (Record, NotUsed) {
        let text = format!("when,makeup,open,basin,drum\n{text}");
        let mut rows = rows(text.as_bytes(), layout).unwrap();
        let record = gather(&mut rows, layout, cut).unwrap();
        (record, rows.into_not_used())
    }

    #[test]
    fn what_is_recorded_and_missed_is_told() {
        let text = "2026-03-01 06:00,100,,,310\n2026-03-02 06:00,180,,,300\n2026-03-05 07:00,420,,,n/a\n2026-03-05 10:00,430,,,270\n2026-03-08 06:00,660,,,\n";
        let (whole, _) = record(text, &layout(None), &Cut::default());
        let drum = &whole.recorded[0];
        assert_eq!((drum.readings, drum.missed), (3, 2));
        assert_eq!(drum.last.unwrap().1, 270.0);
        let means: Vec<f64> = drum.means.iter().map(|(_, mean)| *mean).collect();
        assert_eq!(means, [310.0, 300.0, 270.0]);
        assert_eq!(drum.due.unwrap().to_string(), "2026-03-06T10:00:00");
        let (begun, _) = record(&text[..52], &layout(None), &Cut::default());
        assert!(!begun.recorded[0].is_missed(), "{begun:?}");
    }

    #[test]
    fn readings_in_the_morning_count_for_the_day_they_begin() {
        let (days, _) = gathered(
            "2026-03-01 06:00,100,10,1600\n2026-03-02 06:00,180,16,1640\n2026-03-03 06:00,255,19,1620\n",
            &layout(None),
            &Cut::default(),
        );
        assert_eq!(days.len(), 2);
        assert_relative_eq!(days[0].makeup.unwrap(), 80.0);
        assert_relative_eq!(days[1].makeup.unwrap(), 75.0);
        assert_relative_eq!(days[0].valve_open.unwrap(), 0.25);
        // The mean of both ends, and what the basin gained between them.
        let basin = Channel::BasinConductivity;
        assert_relative_eq!(days[0].get(basin).unwrap(), 0.162);
        assert_relative_eq!(days[0].gain(basin).unwrap(), 0.004, epsilon = 1e-12);
        assert_relative_eq!(days[1].gain(basin).unwrap(), -0.002, epsilon = 1e-12);
    }

    #[test]
    fn readings_at_other_hours_are_carried_to_the_ends() {
        let (days, _) = gathered(
            "2026-03-01 06:00,100,,\n2026-03-01 18:00,,,1600\n2026-03-02 06:00,180,,\n2026-03-02 18:00,,,1640\n2026-03-03 06:00,255,,\n",
            &layout(None),
            &Cut::default(),
        );
        let basin = Channel::BasinConductivity;
        assert_relative_eq!(days[0].get(basin).unwrap(), 0.160);
        assert_relative_eq!(days[0].gain(basin).unwrap(), 0.002, epsilon = 1e-12);
    }

    #[test]
    fn hours_shifts_and_weeks_begin_where_they_should() {
        let time: DateTime = "2026-03-04T05:30".parse().unwrap();
        let start = |every: Every| every.start_of(time).to_string();
        assert_eq!(start(Every::Hour), "2026-03-04T05:00:00");
        assert_eq!(start(Every::Shift), "2026-03-03T22:00:00");
        assert_eq!(start(Every::Day), "2026-03-04T00:00:00");
        assert_eq!(start(Every::Week), "2026-03-02T00:00:00");
    }

    #[test]
    fn a_register_rolls_over_or_is_refused() {
        let text = "2026-03-01 06:00,9960,,\n2026-03-02 06:00,40,,\n2026-03-03 06:00,20,,\n";
        let (days, not_used) = gathered(text, &layout(Some(10_000.0)), &Cut::default());
        assert_relative_eq!(days[0].makeup.unwrap(), 80.0);
        // A fall of 20 is no roll-over: a gap, and told.
        assert_eq!(days[1].makeup, None);
        assert_eq!(not_used.listed.len(), 1);
        assert!(not_used.listed[0].reason.contains("fell from 40 m3 to 20 m3"), "{not_used:?}");
        let (days, not_used) = gathered(text, &layout(None), &Cut::default());
        assert_eq!(days[0].makeup, None);
        assert_eq!(not_used.listed.len(), 2);
    }

    #[test]
    fn a_slip_of_the_pen_is_no_water() {
        let high = "2026-03-01 06:00,100,,\n2026-03-02 06:00,1800,,\n2026-03-03 06:00,260,,\n2026-03-04 06:00,340,,\n";
        let low = high.replace("1800", "18");
        for text in [high, &low] {
            let (days, not_used) = gathered(text, &layout(None), &Cut::default());
            let metered: Vec<f64> = days.iter().filter_map(|day| day.makeup).collect();
            assert_eq!(metered.len(), 2, "{days:?}");
            metered.iter().for_each(|makeup| assert_relative_eq!(*makeup, 80.0));
            let last = not_used.listed.last().unwrap();
            assert!(last.reason.contains("out of line"), "{last:?}");
            // The line of the slip, below the header and one row.
            assert_eq!(last.line, 3);
        }
    }

    #[test]
    fn a_long_gap_is_one_period_of_its_own() {
        let text = "2026-03-01 06:00,100,,\n2026-03-04 06:00,340,,\n2026-03-05 06:00,420,,\n";
        let (days, _) = gathered(text, &layout(None), &Cut::default());
        assert_eq!(days.len(), 2);
        assert_relative_eq!(days[0].hours, 72.0);
        assert_relative_eq!(days[0].makeup.unwrap(), 80.0);
        let from = Some("2026-03-04T00:00".parse().unwrap());
        let (days, _) = gathered(text, &layout(None), &Cut { from, ..Cut::default() });
        assert_eq!(days.len(), 1);
    }

    #[test]
    fn rows_at_midnight_are_means_of_the_day_before() {
        let gathered = |values, time: &str| {
            let layout = Layout { values, recorded: Vec::new(), ..layout(None) };
            let row = |day: u32| {
                format!("2026-03-0{day} {time},{},{},{}\n", 100 * day, 2 * day, 1_000 + day)
            };
            let text: String = (1..6).map(row).collect();
            let text = format!("when,makeup,open,basin\n{text}");
            let mut rows = crate::readings::rows(text.as_bytes(), &layout).unwrap();
            gather(&mut rows, &layout, &Cut::default()).unwrap()
        };
        let basin = |record: &Record| {
            let mean = record.periods[1].get(Channel::BasinConductivity);
            mean.map(|si| (unit::MICROSIEMENS_PER_CENTIMETRE.of_si(si) * 10.0).round() / 10.0)
        };
        let guessed = gathered(None, "00:00");
        assert_eq!(guessed.values, RowValues::Mean);
        // The mean of the 2nd is written down at the end of it, on the 3rd.
        assert_eq!(basin(&guessed), Some(1_003.0));
        let stated = gathered(Some(RowValues::Spot), "00:00");
        assert_eq!(stated.values, RowValues::Spot);
        assert_eq!(basin(&stated), Some(1_002.5));
        assert_eq!(gathered(None, "07:00").values, RowValues::Spot);
    }
}
