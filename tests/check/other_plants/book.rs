//! What is written down, how often, and by what.

use super::Plant;
use super::calendar::{date, weekday};
use super::plant::{Bleed, Works};
use super::random::Random;

/// What a column reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Channel {
    Makeup,
    Blowdown,
    ValveHours,
    FanHours,
    BasinConductivity,
    MakeupConductivity,
    Hot,
    Cold,
    DryBulb,
    WetBulb,
    Humidity,
    Level,
    Circulation,
    Drum,
    Ph,
}

/// Number of channels.
pub const CHANNELS: usize = 15;

/// How often a column is filled in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cadence {
    Always,
    /// In the first row of a day.
    Daily,
    /// In the first row of a Tuesday.
    Weekly,
    /// In the first row of every second Tuesday.
    Fortnightly,
}

/// A column of the log.
#[derive(Clone, Debug)]
pub struct Column {
    pub header: &'static str,
    pub is: &'static str,
    pub unit: &'static str,
    pub channel: Channel,
    /// Written = value * scale + offset.
    pub scale: f64,
    pub offset: f64,
    /// The last digit that is written.
    pub step: f64,
    pub cadence: Cadence,
    pub rolls_over: Option<f64>,
}

/// How dates are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dates {
    Iso,
    Dots,
    DayFirst,
    MonthFirst,
}

/// One round of readings.
#[derive(Clone, Copy, Debug)]
pub struct Visit {
    /// Minutes since the first midnight at which it truly took place.
    pub minute: usize,
    /// The day's number within the log, and the minute of the day, that are written.
    pub day: usize,
    pub written: usize,
    pub first_of_day: bool,
}

/// The log book, and the true constant errors of the instruments that it is filled from.
#[derive(Clone, Debug)]
pub struct Book {
    pub columns: Vec<Column>,
    pub separator: char,
    pub decimal: char,
    pub dates: Dates,
    pub with_time: bool,
    /// A logger writes it, not a person.
    pub logger: bool,
    /// There is a column of remarks, which nothing declares.
    pub remarks: bool,
    /// The accuracy of the instruments is stated in the site file.
    pub accuracy_stated: bool,
    /// 0: a full analysis; 1: hardness, alkalinity, chloride; 2: nothing but conductivity.
    pub analysis: usize,
    /// Minutes of the day at which somebody goes round.
    pub rounds: Vec<usize>,
    /// Days of the week that have rows.
    pub last_weekday: i64,
    pub makeup_error: f64,
    pub blowdown_error: f64,
    pub makeup_conductivity_error: f64,
    pub basin_conductivity_error: f64,
    pub conductivity_noise: f64,
    /// The pen does not correct for temperature.
    pub pen: bool,
    pub hot_error: f64,
    pub cold_error: f64,
    pub air_error: f64,
    pub humidity_error: f64,
    pub circulation_error: f64,
    pub registers: [f64; 4],
}

impl Default for Book {
    fn default() -> Book {
        Book {
            columns: Vec::new(),
            separator: ',',
            decimal: '.',
            dates: Dates::Iso,
            with_time: true,
            logger: false,
            remarks: false,
            accuracy_stated: false,
            analysis: 0,
            rounds: Vec::new(),
            last_weekday: 6,
            makeup_error: 0.0,
            blowdown_error: 0.0,
            makeup_conductivity_error: 0.0,
            basin_conductivity_error: 0.0,
            conductivity_noise: 0.0,
            pen: false,
            hot_error: 0.0,
            cold_error: 0.0,
            air_error: 0.0,
            humidity_error: 0.0,
            circulation_error: 0.0,
            registers: [0.0; 4],
        }
    }
}

const GALLONS: f64 = 264.172_05;

fn column(
    header: &'static str,
    is: &'static str,
    unit: &'static str,
    channel: Channel,
    step: f64,
) -> Column {
    Column {
        header,
        is,
        unit,
        channel,
        scale: 1.0,
        offset: 0.0,
        step,
        cadence: Cadence::Always,
        rolls_over: None,
    }
}

fn fahrenheit(header: &'static str, is: &'static str, channel: Channel) -> Column {
    Column { scale: 1.8, offset: 32.0, ..column(header, is, "degF", channel, 1.0) }
}

/// Columns of air: a psychrometer or a humidity probe.
fn air(random: &mut Random, columns: &mut Vec<Column>) {
    columns.push(column("dry bulb C", "dry_bulb", "degC", Channel::DryBulb, 0.1));
    columns.push(if random.chance(0.5) {
        column("wet bulb C", "wet_bulb", "degC", Channel::WetBulb, 0.1)
    } else {
        column("RH %", "relative_humidity", "%", Channel::Humidity, 1.0)
    });
}

/// Registers, in m3. A register has 5 to 7 wheels; the last may count tenths.
fn register(
    random: &mut Random,
    header: &'static str,
    is: &'static str,
    channel: Channel,
    big: bool,
) -> Column {
    let step = if big { random.pick(&[0.1, 1.0]) } else { 0.1 };
    let rolls_over = random.chance(0.5).then_some(if big { 1_000_000.0 } else { 100_000.0 });
    Column { rolls_over, ..column(header, is, "m3", channel, step) }
}

fn metric_columns(works: &Works, random: &mut Random, meter: bool, hourly: bool) -> Vec<Column> {
    let chiller = works.plant == Plant::Chiller;
    let big = works.basin.valve > 8.0;
    let mut columns = vec![register(random, "makeup m3", "makeup_register", Channel::Makeup, big)];
    if meter || random.chance(0.8) {
        columns.push(register(random, "blowdown m3", "blowdown_register", Channel::Blowdown, big));
    } else {
        columns.push(column(
            "bleed valve h",
            "blowdown_valve_hours",
            "h",
            Channel::ValveHours,
            0.01,
        ));
    }
    let makeup =
        column("makeup uS/cm", "makeup_conductivity", "uS/cm", Channel::MakeupConductivity, 1.0);
    let cadence = match works.plant {
        Plant::Chiller if hourly => random.pick(&[Cadence::Always, Cadence::Daily]),
        Plant::Chiller => random.pick(&[Cadence::Always, Cadence::Daily, Cadence::Weekly]),
        _ => Cadence::Daily,
    };
    columns.push(Column { cadence, ..makeup });
    columns.push(column(
        "basin uS/cm",
        "basin_conductivity",
        "uS/cm",
        Channel::BasinConductivity,
        1.0,
    ));
    if chiller || random.chance(0.8) {
        columns.push(column("hot C", "hot_water", "degC", Channel::Hot, 0.1));
        columns.push(column("cold C", "cold_water", "degC", Channel::Cold, 0.1));
    }
    if chiller || random.chance(0.6) {
        air(random, &mut columns);
    }
    // One tower rests with its pump. Three of four logs tell it.
    if chiller && random.chance(0.75) {
        columns.push(column(
            "condenser water m3/h",
            "circulation",
            "m3/h",
            Channel::Circulation,
            1.0,
        ));
    }
    if chiller && random.chance(0.25) {
        columns.push(column("fans h", "fan_hours", "h", Channel::FanHours, 0.1));
    }
    if random.chance(if chiller { 0.15 } else { 0.25 }) {
        columns.push(Column {
            scale: 1000.0,
            ..column("level mm", "basin_level", "mm", Channel::Level, 1.0)
        });
    }
    if !hourly && random.chance(0.3) {
        let drum = column("inhibitor drum mm", "recorded", "mm", Channel::Drum, 1.0);
        columns.push(Column { cadence: Cadence::Weekly, ..drum });
    }
    columns
}

fn workshop_columns(works: &Works, random: &mut Random, meter: bool) -> Vec<Column> {
    let gallons = |header, is, channel, step| Column {
        scale: GALLONS,
        ..column(header, is, "US gal", channel, step)
    };
    let mut makeup = gallons("city water gal", "makeup_register", Channel::Makeup, 10.0);
    if random.chance(0.5) {
        makeup.rolls_over = Some(10_000_000.0);
    }
    let mut columns = vec![makeup];
    // A clock counts the hours of its valve; without it there is a small meter, for a check needs to know the bleed.
    if !meter && matches!(works.bleed, Bleed::Timer { .. }) && random.chance(0.7) {
        columns.push(column(
            "bleed timer h",
            "blowdown_valve_hours",
            "h",
            Channel::ValveHours,
            0.1,
        ));
    } else {
        columns.push(gallons("bleed gal", "blowdown_register", Channel::Blowdown, 10.0));
    }
    columns.push(column(
        "tower uS",
        "basin_conductivity",
        "uS/cm",
        Channel::BasinConductivity,
        10.0,
    ));
    let tap = column("tap uS", "makeup_conductivity", "uS/cm", Channel::MakeupConductivity, 10.0);
    columns.push(Column {
        cadence: random.pick(&[Cadence::Weekly, Cadence::Weekly, Cadence::Fortnightly]),
        ..tap
    });
    if random.chance(0.5) {
        columns.push(fahrenheit("to tower F", "hot_water", Channel::Hot));
        columns.push(fahrenheit("from tower F", "cold_water", Channel::Cold));
        if random.chance(0.4) {
            columns.push(fahrenheit("outside F", "dry_bulb", Channel::DryBulb));
            columns.push(column("RH %", "relative_humidity", "%", Channel::Humidity, 1.0));
        }
    }
    if random.chance(0.3) {
        columns.push(column("pH", "recorded", "1", Channel::Ph, 0.1));
    }
    columns
}

impl Book {
    /// Draws the book of a plant. `meter`: it has a blowdown meter.
    pub fn draw(works: &Works, meter: bool) -> Book {
        let mut random = Random::stream(works.seed ^ 0x5EED, works.plant.name());
        let random = &mut random;
        let mut book = Book::default();
        match works.plant {
            Plant::Chiller => {
                book.logger = random.chance(0.5);
                book.rounds = if book.logger {
                    (0..24).map(|hour| 60 * hour).collect()
                } else {
                    vec![360, 840, 1320]
                };
                book.columns = metric_columns(works, random, meter, book.logger);
            }
            Plant::Batches => {
                book.rounds = random.pick(&[[390].as_slice(), [360, 1080].as_slice()]).to_vec();
                book.last_weekday = random.pick(&[4, 5, 6, 6]);
                book.remarks = random.chance(0.5);
                book.columns = metric_columns(works, random, meter, false);
            }
            Plant::Workshop => {
                book.rounds = vec![random.pick(&[420, 450, 480, 510])];
                book.last_weekday = 4;
                book.remarks = random.chance(0.3);
                book.columns = workshop_columns(works, random, meter);
                book.pen = true;
            }
        }
        let style = random.whole(0, 5);
        (book.separator, book.decimal, book.dates) = match (works.plant, style) {
            (Plant::Workshop, 0..=3) => (',', '.', Dates::MonthFirst),
            (Plant::Workshop, _) => (',', '.', Dates::Iso),
            (_, 0) => (';', ',', Dates::Dots),
            (_, 1) => ('\t', '.', Dates::DayFirst),
            (_, 2) => (';', '.', Dates::Iso),
            _ => (',', '.', Dates::Iso),
        };
        book.with_time = works.plant != Plant::Workshop || random.chance(0.5);
        book.accuracy_stated = random.chance(0.3);
        book.analysis = match works.plant {
            Plant::Workshop => random.pick(&[1, 2, 2]),
            _ => random.pick(&[0, 0, 1]),
        };
        // Water meters in use: within 2 % in their upper range (ISO 4064, class B), worn ones read low.
        book.makeup_error = random.normal_within(-0.003, 0.008, 0.02);
        book.blowdown_error = random.normal_within(-0.004, 0.01, 0.025);
        // Conductivity: 2 to 3 % of the reading; pens are worse.
        let spread = if book.pen { 0.02 } else { 0.013 };
        book.basin_conductivity_error = random.normal_within(0.0, spread, 2.0 * spread);
        book.makeup_conductivity_error = if book.pen {
            book.basin_conductivity_error
        } else {
            random.normal_within(0.0, spread, 2.0 * spread)
        };
        book.conductivity_noise = random.between(0.003, if book.pen { 0.015 } else { 0.009 });
        book.hot_error = random.normal_within(0.0, 0.2, 0.4);
        book.cold_error = random.normal_within(0.0, 0.2, 0.4);
        book.air_error = random.normal_within(0.0, 0.3, 0.6);
        book.humidity_error = random.normal_within(0.0, 2.0, 4.0);
        book.circulation_error = random.normal_within(0.0, 0.02, 0.04);
        book.registers = [(); 4].map(|()| random.between(0.02, 0.85));
        let nearly_full = [random.chance(0.15), random.chance(0.1)];
        for (register, channel) in [Channel::Makeup, Channel::Blowdown].into_iter().enumerate() {
            let Some(column) = book.columns.iter().find(|column| column.channel == channel) else {
                continue;
            };
            let full = column.rolls_over.unwrap_or(match column.unit {
                "US gal" => 8_000_000.0,
                _ if works.basin.valve > 8.0 => 600_000.0,
                _ => 60_000.0,
            });
            // In a few logs the register passes its last number.
            let part = match column.rolls_over {
                Some(_) if nearly_full[register] => random.between(0.985, 0.998),
                _ => 0.8 * book.registers[register],
            };
            book.registers[register] = part * full / column.scale;
        }
        if !nearly_full[0] && !nearly_full[1] {
            // Both meters were new at the same time.
            book.registers[1] = book.registers[0] * random.between(0.8, 1.1) / works.plates.cycles;
        }
        for hours in &mut book.registers[2..] {
            *hours = (1000.0 + 8000.0 * *hours).round();
        }
        book
    }

    /// All rounds of a log.
    pub fn visits(&self, works: &Works, random: &mut Random) -> Vec<Visit> {
        let mut visits = Vec::new();
        for day in 0..works.days {
            if weekday(works.start + day as i64) > self.last_weekday {
                continue;
            }
            for (place, &round) in self.rounds.iter().enumerate() {
                // People come a quarter of an hour early or late and write the usual time. One in ten comes an hour
                // late, and the person of the workshop comes when there is time.
                let late = match (self.logger, works.plant) {
                    (true, _) => 0.0,
                    (_, Plant::Workshop) => random.normal_within(10.0, 30.0, 90.0),
                    _ if random.chance(0.1) => random.between(20.0, 70.0),
                    _ => random.normal_within(0.0, 8.0, 20.0),
                };
                let minute = (day * 1440 + round) as f64 + late;
                let honest = !self.logger && random.chance(0.3);
                let off = if honest { ((late / 5.0).round() * 5.0) as i64 } else { 0 };
                visits.push(Visit {
                    minute: minute.max(0.0) as usize,
                    day,
                    written: (round as i64 + off).clamp(0, 1439) as usize,
                    first_of_day: place == 0,
                });
            }
        }
        visits
    }

    /// The date and time, as they are written.
    pub fn time(&self, day: i64, minute: usize) -> String {
        let date = date(day);
        let (y, m, d) = (date.year, date.month, date.day);
        let written = match self.dates {
            Dates::Iso => format!("{y}-{m:02}-{d:02}"),
            Dates::Dots => format!("{d:02}.{m:02}.{y}"),
            Dates::DayFirst => format!("{d:02}/{m:02}/{y}"),
            Dates::MonthFirst => format!("{m}/{d}/{y}"),
        };
        if self.with_time {
            format!("{written} {:02}:{:02}", minute / 60, minute % 60)
        } else {
            written
        }
    }
}

impl Column {
    /// A value as it is written.
    pub fn written(&self, value: f64, decimal: char) -> String {
        let mut number = value * self.scale + self.offset;
        let register = matches!(self.channel, Channel::Makeup | Channel::Blowdown);
        if let Some(full) = self.rolls_over {
            number = number.rem_euclid(full);
        }
        // Wheels show the digits that have passed; people and displays round.
        let steps = number / self.step;
        number = if register { steps.floor() } else { steps.round() } * self.step;
        let places = if self.step < 0.05 {
            2
        } else if self.step < 0.5 {
            1
        } else {
            0
        };
        let text = format!("{number:.places$}");
        if decimal == ',' { text.replace('.', ",") } else { text }
    }

    /// Whether this visit fills it in.
    pub fn due(&self, visit: &Visit, start: i64) -> bool {
        let day = start + visit.day as i64;
        let tuesday = visit.first_of_day && weekday(day) == 1;
        match self.cadence {
            Cadence::Always => true,
            Cadence::Daily => visit.first_of_day,
            Cadence::Weekly => tuesday,
            Cadence::Fortnightly => tuesday && (day + 3) / 7 % 2 == 0,
        }
    }
}
