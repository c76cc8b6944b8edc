//! What meters, thermometers and people make of it: the site file and the log.
//!
//! Based on: cold water meters within 2 % (OIML R 49, class 2), process conductivity within 2 %, thermometers
//! within 0.5 K, humidity within 3 points (common limits of data sheets, from memory); the slips of hand-kept
//! sheets, nameplates and old analyses: common practice. Equivalent conductivities of ions at infinite dilution,
//! S cm2/eq: Ca 59.5, Mg 53.1, Na 50.1, HCO3 44.5, Cl 76.3, SO4 80.0 (handbook values, from memory).

use super::air;
use super::random::{Draw, at_day};
use super::water::{Control, Probe, density};
use super::{Fault, Plant, SPIN_UP_DAYS, STEP_HOURS, STEPS_PER_DAY, World};
use std::fmt::Write;

#[derive(Clone, Copy, PartialEq, Debug)]
enum What {
    Makeup,
    MakeupFlow,
    Blowdown,
    BlowdownFlow,
    ValveHours,
    MakeupConductivity,
    BasinConductivity,
    Hot,
    Cold,
    DryBulb,
    WetBulb,
    Humidity,
    Circulation,
    Level,
    FanHours,
    Drum,
    Remarks,
}

impl What {
    /// Name of the channel, unit, and headers that people write.
    fn words(self) -> (&'static str, &'static str, [&'static str; 3]) {
        match self {
            What::Makeup => ("makeup_register", "m3", ["makeup m3", "Makeup meter", "MU_TOTAL"]),
            What::MakeupFlow => ("makeup_flow", "m3/h", ["makeup m3/h", "Makeup flow", "MU_FLOW"]),
            What::Blowdown => {
                ("blowdown_register", "m3", ["blowdown m3", "Bleed meter", "BD_TOTAL"])
            }
            What::BlowdownFlow => {
                ("blowdown_flow", "m3/h", ["blowdown m3/h", "Bleed flow", "BD_FLOW"])
            }
            What::ValveHours => {
                ("blowdown_valve_hours", "h", ["bleed valve h", "Bleed valve hours", "BD_HOURS"])
            }
            What::MakeupConductivity => (
                "makeup_conductivity",
                "uS/cm",
                ["makeup uS/cm", "Conductivity of makeup", "MU_COND"],
            ),
            What::BasinConductivity => {
                ("basin_conductivity", "uS/cm", ["basin uS/cm", "Conductivity of basin", "CW_COND"])
            }
            What::Hot => ("hot_water", "degC", ["hot C", "Return water", "CW_RETURN"]),
            What::Cold => ("cold_water", "degC", ["cold C", "Supply water", "CW_SUPPLY"]),
            What::DryBulb => ("dry_bulb", "degC", ["dry bulb C", "Outside air", "OA_TEMP"]),
            What::WetBulb => ("wet_bulb", "degC", ["wet bulb C", "Wet bulb", "OA_WB"]),
            What::Humidity => ("relative_humidity", "%", ["humidity %", "Humidity", "OA_RH"]),
            What::Circulation => {
                ("circulation", "m3/h", ["circulation m3/h", "Circulation", "CW_FLOW"])
            }
            What::Level => ("basin_level", "m", ["level m", "Basin level", "CW_LEVEL"]),
            What::FanHours => ("fan_hours", "h", ["fan h", "Fan hours", "FAN_HOURS"]),
            What::Drum => ("recorded", "mm", ["inhibitor drum mm", "Drum", "INH_LEVEL"]),
            What::Remarks => ("", "", ["remarks", "Remarks", "REMARKS"]),
        }
    }
}

/// Days of the simulation in which no fault has begun; of them in the log. What the kit of a log rests on.
const UNTROUBLED: usize = SPIN_UP_DAYS + 24;
const UNTROUBLED_DAYS: f64 = 24.0;

struct Column {
    what: What,
    decimals: usize,
}

/// A register or an hour counter.
struct Meter {
    counted: Vec<f64>, // at the end of every step, from 0 on
    start: f64,
    quantum: f64,
    rolls_over_at: Option<f64>,
    replaced: Option<f64>, // hours
}

impl Meter {
    /// What the meter counts of true sums, with its constant error and a little wander from day to day.
    fn new(
        draw: &mut Draw,
        sums: &[f64],
        limit: f64,
        low: impl Fn(f64) -> f64,
        may_be_replaced: bool,
    ) -> Meter {
        let days = sums.len() / STEPS_PER_DAY + 2;
        let wander = draw.wander(days, 0.1 * limit, 0.7);
        let (first, second) = (draw.within(limit), draw.within(limit));
        let log_days = (days - 2 - SPIN_UP_DAYS) as f64;
        let at = 24.0 * (SPIN_UP_DAYS as f64 + draw.between(3.0, log_days - 3.0)).floor()
            + draw.between(9.0, 15.0);
        let replaced = (draw.chance(0.1) && may_be_replaced).then_some(at);
        let mut counted = Vec::with_capacity(sums.len());
        let (mut total, mut before) = (0.0, 0.0);
        for (step, sum) in sums.iter().enumerate() {
            let t = step as f64 * STEP_HOURS;
            let constant = if replaced.is_some_and(|at| t >= at) { second } else { first };
            total += (sum - before) * (1.0 + constant + at_day(&wander, t / 24.0)) * low(t);
            before = *sum;
            counted.push(total);
        }
        let begun = counted[SPIN_UP_DAYS * STEPS_PER_DAY - 1];
        let through = (counted[UNTROUBLED * STEPS_PER_DAY] - begun) / UNTROUBLED_DAYS * log_days;
        let digits = if through < 5000.0 { 1e5 } else { 1e6 };
        let rolls = draw.chance(0.15);
        let place = draw.unit();
        let start = if rolls {
            digits - (0.1 + 0.8 * place) * through
        } else {
            place * (digits - 1.1 * through) * 0.9
        };
        Meter {
            start: start.max(0.0) - begun,
            counted,
            quantum: 1.0,
            rolls_over_at: (rolls || draw.chance(0.5)).then_some(digits),
            replaced,
        }
    }

    fn total(&self, t: f64) -> f64 {
        at(&self.counted, t)
    }

    fn reads(&self, t: f64) -> f64 {
        let total = match self.replaced {
            Some(change) if t >= change => self.total(t) - self.total(change) + 0.3,
            _ => self.start + self.total(t),
        };
        let shown = (total / self.quantum).floor() * self.quantum;
        self.rolls_over_at.map_or(shown, |digits| shown.rem_euclid(digits))
    }
}

/// A sum at a time in hours, between the ends of steps.
fn at(sums: &[f64], t: f64) -> f64 {
    let place = (t / STEP_HOURS - 1.0).clamp(0.0, (sums.len() - 1) as f64);
    let first = (place as usize).min(sums.len() - 2);
    sums[first] + (sums[first + 1] - sums[first]) * (place - first as f64)
}

/// Mean of what each step saw over the hours before `t`.
fn mean(values: &[f64], t: f64, hours: f64) -> f64 {
    let to = ((t / STEP_HOURS).round() as usize).clamp(1, values.len());
    let from = to - ((hours / STEP_HOURS) as usize).clamp(1, to);
    values[from..to].iter().sum::<f64>() / (to - from) as f64
}

fn spot<T: Copy>(values: &[T], t: f64) -> T {
    values[((t / STEP_HOURS) as usize).min(values.len() - 1)]
}

/// All that reads, drawn once for a log.
struct Kit {
    columns: Vec<Column>,
    makeup: Meter,
    blowdown: Meter,
    hours: Meter,
    fan_hours: Meter,
    sampler: Probe,  // of the makeup
    hand_held: bool, // the basin is read with the sampler too
    sample_noise: f64,
    round_ten: bool,
    milli: bool, // basin in mS/cm
    thermometers: [f64; 4],
    thermometer_noise: f64,
    humidity_error: f64,
    circulation_error: f64,
    averaged: f64, // hours over which temperatures are means; 0: spot readings
    header: usize,
    separator: char,
    decimal_comma: bool,
    dates: usize,
    analysis: bool,
    makeup_every: MakeupEvery,
}

#[derive(Clone, Copy, PartialEq)]
enum MakeupEvery {
    Row,
    Week,
    Month(usize),
    Never,
}

impl Kit {
    fn draw(world: &World, draw: &mut Draw) -> Kit {
        let plant = world.plant;
        let course = &world.course;
        let begins = world.trouble.begins;
        let low = |fault: Fault, factor: f64| {
            let broken = world.fault == fault;
            move |t: f64| if broken && t >= begins { factor } else { 1.0 }
        };
        let limit = draw.pick(&[(0.5, 0.015), (0.5, 0.02)]);
        let mut makeup =
            Meter::new(draw, &course.makeup, limit, low(Fault::MakeupMeterLow, 0.92), true);
        let mut blowdown =
            Meter::new(draw, &course.bleed, limit, low(Fault::BlowdownMeterLow, 0.8), true);
        let mut hours = Meter::new(draw, &course.bleed_hours, 0.0005, |_| 1.0, false);
        let mut fan_hours = Meter::new(draw, &course.fan_hours, 0.0005, |_| 1.0, false);
        let fine = draw.chance(0.4);
        let untroubled = UNTROUBLED as f64 * 24.0;
        let throughput = at(&course.makeup, untroubled) / untroubled;
        makeup.quantum = if fine || (throughput < 0.8 && draw.chance(0.5)) { 0.1 } else { 1.0 };
        blowdown.quantum = if makeup.quantum < 1.0 || throughput < 3.0 { 0.1 } else { 1.0 };
        hours.quantum = 0.1;
        fan_hours.quantum = 0.1;
        let hand_held =
            draw.chance(0.4) && plant != Plant::Automatic && !world.fault.is_of_the_probe();
        let shared = draw.chance(0.3);
        let hot = draw.within(0.5);
        let other = draw.within(0.5);
        let thermometers =
            [hot, if shared { hot } else { other }, draw.within(0.5), draw.within(0.5)];
        let online = plant == Plant::Automatic;
        let sampler = Probe::draw(draw, world.water_per_kelvin, if online { 0.004 } else { 0.008 });
        let comma = draw.chance(0.25);
        let separator = if comma { ';' } else { draw.pick(&[(0.7, ','), (0.2, ';'), (0.1, '\t')]) };
        let analysis = draw.chance(match plant {
            Plant::Automatic => 0.7,
            Plant::ByHand => 0.6,
            Plant::Poor => 0.4,
        });
        let first = draw.whole(0, 9) as usize;
        let makeup_every = match plant {
            Plant::Poor => MakeupEvery::Month(first),
            Plant::Automatic => draw.pick(&[(0.85, MakeupEvery::Row), (0.15, MakeupEvery::Never)]),
            Plant::ByHand => draw.pick(&[
                (0.6, MakeupEvery::Row),
                (0.3, MakeupEvery::Week),
                (0.1, MakeupEvery::Never),
            ]),
        };
        let mut kit = Kit {
            columns: vec![],
            makeup,
            blowdown,
            hours,
            fan_hours,
            sampler,
            hand_held,
            sample_noise: draw.between(0.004, 0.012),
            round_ten: draw.chance(0.35),
            milli: draw.chance(0.1),
            thermometers,
            thermometer_noise: if online { 0.08 } else { draw.between(0.1, 0.3) },
            humidity_error: draw.within(3.0),
            circulation_error: draw.within(0.04),
            averaged: match plant {
                Plant::Automatic => 1.0,
                Plant::ByHand if draw.chance(0.3) => 24.0,
                _ => 0.0,
            },
            header: if online {
                draw.pick(&[(0.4, 0), (0.6, 2)])
            } else {
                draw.pick(&[(0.5, 0), (0.5, 1)])
            },
            separator,
            decimal_comma: comma,
            dates: draw.pick(&[(0.5, 0), (0.25, 1), (0.25, 2)]),
            analysis: analysis || makeup_every == MakeupEvery::Never,
            makeup_every,
        };
        kit.columns = kit.draw_columns(world, draw);
        kit
    }

    fn draw_columns(&self, world: &World, draw: &mut Draw) -> Vec<Column> {
        let plant = world.plant;
        let online = plant == Plant::Automatic;
        let (by_flow, few, level, circulation) =
            (draw.chance(0.3), draw.chance(0.7), draw.chance(0.3), draw.chance(0.25));
        let (fans, drum, remarks) = (draw.chance(0.15), draw.chance(0.3), draw.chance(0.3));
        let mut whats = vec![if online && by_flow { What::MakeupFlow } else { What::Makeup }];
        let forced = world.fault == Fault::BlowdownMeterLow;
        match plant {
            _ if world.hours_count && (plant != Plant::Poor || few || forced) => {
                whats.push(What::ValveHours)
            }
            Plant::Poor => {}
            Plant::Automatic if by_flow => whats.push(What::BlowdownFlow),
            _ => whats.push(What::Blowdown),
        }
        if self.makeup_every != MakeupEvery::Never {
            whats.push(What::MakeupConductivity);
        }
        whats.extend([What::BasinConductivity, What::Hot, What::Cold]);
        let without = if plant == Plant::Poor { 0.15 } else { 0.0 };
        let weather: &[What] = draw.pick(&[
            (0.4, &[What::DryBulb, What::WetBulb][..]),
            (0.25, &[What::WetBulb]),
            (0.35, &[What::DryBulb, What::Humidity]),
            (without, &[]),
        ]);
        whats.extend(weather);
        if online && circulation {
            whats.push(What::Circulation);
        }
        if online && level {
            whats.push(What::Level);
        }
        if fans && plant != Plant::Poor {
            whats.push(What::FanHours);
        }
        if plant == Plant::ByHand && drum {
            whats.push(What::Drum);
        }
        if !online && remarks {
            whats.push(What::Remarks);
        }
        whats
            .into_iter()
            .map(|what| Column { what, decimals: self.decimals(what, online) })
            .collect()
    }

    fn decimals(&self, what: What, online: bool) -> usize {
        match what {
            What::Makeup => usize::from(self.makeup.quantum < 1.0),
            What::Blowdown => usize::from(self.blowdown.quantum < 1.0),
            What::ValveHours
            | What::FanHours
            | What::Hot
            | What::Cold
            | What::DryBulb
            | What::WetBulb => 1,
            What::MakeupFlow | What::BlowdownFlow | What::Level => 3,
            What::BasinConductivity if self.milli => 2,
            What::Circulation if online => 1,
            _ => 0,
        }
    }

    /// One cell, or nothing where nobody reads.
    fn reads(&self, world: &World, draw: &mut Draw, what: What, t: f64) -> f64 {
        let (thermal, weather, course) = (&world.thermal, &world.weather, &world.course);
        let temperature = |values: &[f64]| {
            if self.averaged > 0.0 { mean(values, t, self.averaged) } else { spot(values, t) }
        };
        let noise = draw.normal();
        let slip = self.thermometer_noise * noise;
        let [hot, cold, dry, wet] = self.thermometers;
        match what {
            What::Makeup => self.makeup.reads(t),
            What::MakeupFlow => self.makeup.total(t) - self.makeup.total(t - 1.0),
            What::Blowdown => self.blowdown.reads(t),
            What::BlowdownFlow => self.blowdown.total(t) - self.blowdown.total(t - 1.0),
            What::ValveHours => self.hours.reads(t),
            What::FanHours => self.fan_hours.reads(t),
            What::MakeupConductivity => {
                let conductivity = world.law.conductivity(spot(&world.source.salts, t));
                let shown = self.sampler.reads(conductivity, spot(&world.source.celsius, t));
                shown * (1.0 + self.sampler.noise * noise)
            }
            What::BasinConductivity => {
                let shown = if self.hand_held {
                    let conductivity = at(&course.conductivity, t);
                    self.sampler.reads(conductivity, spot(&thermal.cold, t))
                        * (1.0 + self.sample_noise * noise)
                } else {
                    spot(&course.probe, t)
                };
                match (self.milli, self.round_ten) {
                    (true, _) => shown / 1000.0,
                    (false, true) => (shown / 10.0).round() * 10.0,
                    _ => shown,
                }
            }
            What::Hot => temperature(&thermal.hot) + hot + slip,
            What::Cold => temperature(&thermal.cold) + cold + slip,
            What::DryBulb => temperature(&weather.dry_bulb) + dry + slip,
            What::WetBulb => {
                let (dry_bulb, vapour) =
                    (temperature(&weather.dry_bulb), temperature(&weather.vapour));
                // Never above what a dry thermometer beside it shows.
                let most = dry_bulb + dry;
                (air::wet_bulb(dry_bulb, vapour, weather.pressure) + wet + slip).min(most)
            }
            What::Humidity => {
                let full = air::saturation_pressure(temperature(&weather.dry_bulb));
                (100.0 * temperature(&weather.vapour) / full + self.humidity_error + 1.2 * noise)
                    .clamp(5.0, 100.0)
            }
            What::Circulation if !spot(&world.load.pumps, t) => 0.0,
            What::Circulation => {
                stated_circulation(world) * (1.0 + self.circulation_error) * (1.0 + 0.004 * noise)
            }
            What::Level => at(&course.level, t) + 0.004 * noise,
            What::Drum => {
                let month = self.makeup.total(UNTROUBLED as f64 * 24.0);
                900.0 - (self.makeup.total(t) / month * 1.3 + 0.3).fract() * 700.0
            }
            What::Remarks => 0.0,
        }
    }
}

/// True circulation, m3/h at the hot water's temperature.
fn stated_circulation(world: &World) -> f64 {
    world.tower.circulation * 3.6 / density(world.tower.design_hot)
}

struct Row {
    t: f64,
    cells: Vec<String>,
    date_slip: bool,
}

/// The site file and the log.
pub fn write(world: &World, kit: &mut Draw, draw: &mut Draw) -> (String, String) {
    let mut of_site = Draw::new(&[kit.between(0.0, 1e15) as u64]);
    let kit = Kit::draw(world, kit);
    let mut rows = fill(world, &kit, draw);
    spoil(world, &kit, draw, &mut rows);
    (site_file(world, &kit, &mut of_site), log_file(world, &kit, draw, &rows))
}

/// Times of the rows, hours of the simulation.
fn times(world: &World, draw: &mut Draw) -> Vec<f64> {
    let (plant, days) = (world.plant, world.days);
    let first = SPIN_UP_DAYS as f64 * 24.0;
    if plant == Plant::Automatic {
        return (0..=days * 24).map(|hour| first + hour as f64).collect();
    }
    let usual = draw.between(6.7, 8.1);
    let all_week = draw.chance(if plant == Plant::Poor { 0.4 } else { 0.75 });
    let thrice = plant == Plant::Poor && draw.chance(0.5);
    let missed = draw.between(0.0, if plant == Plant::Poor { 0.08 } else { 0.04 });
    let mut times = vec![];
    for day in 0..days {
        let hour = (usual + 0.3 * draw.normal()).clamp(6.5, 8.5);
        let miss = draw.chance(missed) && day > 0;
        let weekday = weekday(world, day);
        let reads =
            if thrice { weekday < 5 && weekday.is_multiple_of(2) } else { all_week || weekday < 5 };
        if reads && !miss {
            times.push(first + day as f64 * 24.0 + (hour * 60.0).round() / 60.0);
        }
    }
    times
}

/// 0 is Monday.
fn weekday(world: &World, log_day: usize) -> usize {
    (world.first_date + 3 + log_day as i64).rem_euclid(7) as usize
}

fn log_day(t: f64) -> usize {
    (t / 24.0) as usize - SPIN_UP_DAYS
}

fn fill(world: &World, kit: &Kit, draw: &mut Draw) -> Vec<Row> {
    let blank_stops = draw.chance(0.5);
    let mut next_month = 0;
    if let MakeupEvery::Month(first) = kit.makeup_every {
        next_month = first;
    }
    let mut last_week = usize::MAX;
    let mut rows = vec![];
    for t in times(world, draw) {
        let day = log_day(t);
        let week = (world.first_date + 3 + day as i64) as usize / 7;
        let makeup_due = match kit.makeup_every {
            MakeupEvery::Row => true,
            MakeupEvery::Week => week != last_week,
            MakeupEvery::Month(_) => day >= next_month,
            MakeupEvery::Never => false,
        };
        if makeup_due {
            last_week = week;
            next_month = day + 30;
        }
        let pumps = world.load.pumps[((t / STEP_HOURS) as usize).min(world.load.pumps.len() - 1)];
        let mut cells = vec![];
        for column in &kit.columns {
            let value = kit.reads(world, draw, column.what, t);
            let blank = match column.what {
                What::MakeupConductivity => !makeup_due,
                What::BasinConductivity => {
                    world.plant == Plant::Poor && !weekday(world, day).is_multiple_of(2)
                }
                What::Hot | What::Cold => !pumps && blank_stops && world.plant != Plant::Automatic,
                _ => false,
            };
            let text = match column.what {
                What::Remarks => remark(draw),
                _ if blank => String::new(),
                _ => format!("{value:.*}", column.decimals),
            };
            cells.push(text);
        }
        rows.push(Row { t, cells, date_slip: false });
    }
    rows
}

fn remark(draw: &mut Draw) -> String {
    let text = draw.pick(&[
        (40.0, ""),
        (2.0, "biocide given"),
        (1.0, "strainer cleaned"),
        (1.0, "rain"),
        (0.5, "ok"),
    ]);
    text.to_string()
}

/// Slips of the pen, what was forgotten, hours that a system did not store.
fn spoil(world: &World, kit: &Kit, draw: &mut Draw, rows: &mut Vec<Row>) {
    let numbers: Vec<usize> =
        (0..kit.columns.len()).filter(|i| kit.columns[*i].what != What::Remarks).collect();
    let any = |draw: &mut Draw, rows: &[Row]| {
        (
            draw.whole(0, rows.len() as u64 - 1) as usize,
            numbers[draw.whole(0, numbers.len() as u64 - 1) as usize],
        )
    };
    if world.plant == Plant::Automatic {
        for _ in 0..draw.whole(0, 3) {
            let long = draw.chance(0.1);
            let hours = if long { draw.between(24.0, 60.0) } else { draw.between(1.0, 9.0) };
            let from = draw.whole(1, rows.len() as u64 - 100) as usize;
            rows.drain(from..from + hours as usize);
        }
        let probe = kit.columns.iter().position(|c| c.what == What::BasinConductivity);
        if draw.chance(0.15)
            && let Some(probe) = probe
        {
            // The probe hangs in the air while it is cleaned.
            let (row, _) = any(draw, rows);
            rows[row].cells[probe] = format!("{:.*}", kit.columns[probe].decimals, 0.0);
        }
        for _ in 0..draw.whole(0, 4) {
            let (row, column) = any(draw, rows);
            rows[row].cells[column].clear();
        }
        return;
    }
    if draw.chance(0.6) {
        for _ in 0..draw.whole(1, 3) {
            let (row, column) = any(draw, rows);
            if draw.chance(0.05) {
                rows[row].date_slip = true;
            } else if let Some(swapped) = swap_digits(draw, &rows[row].cells[column]) {
                rows[row].cells[column] = swapped;
            }
        }
    }
    if draw.chance(0.6) {
        let (row, column) = any(draw, rows);
        rows[row].cells[column].clear();
    }
}

/// Two neighbouring digits change places.
fn swap_digits(draw: &mut Draw, text: &str) -> Option<String> {
    let mut letters: Vec<char> = text.chars().collect();
    let places: Vec<usize> = (1..letters.len())
        .filter(|i| {
            letters[*i] != letters[i - 1]
                && letters[*i].is_ascii_digit()
                && letters[i - 1].is_ascii_digit()
        })
        .collect();
    if places.is_empty() {
        return None;
    }
    let place = places[draw.whole(0, places.len() as u64 - 1) as usize];
    letters.swap(place, place - 1);
    Some(letters.into_iter().collect())
}

fn log_file(world: &World, kit: &Kit, draw: &mut Draw, rows: &[Row]) -> String {
    let between = kit.separator;
    let mut text = String::from(time_header(kit));
    for column in &kit.columns {
        let _ = write!(text, "{between}{}", column.what.words().2[kit.header]);
    }
    text.push('\n');
    for row in rows {
        text += &time_text(world, kit, draw, row);
        for (cell, column) in row.cells.iter().zip(&kit.columns) {
            text.push(between);
            if kit.decimal_comma && column.what != What::Remarks {
                text += &cell.replace('.', ",");
            } else {
                text += cell;
            }
        }
        text.push('\n');
    }
    text
}

fn time_header(kit: &Kit) -> &'static str {
    ["time", "Date", "TIMESTAMP"][kit.header]
}

fn time_text(world: &World, kit: &Kit, draw: &mut Draw, row: &Row) -> String {
    let minutes = (row.t * 60.0).round() as i64;
    let day = minutes / 1440 - SPIN_UP_DAYS as i64;
    let (hour, minute) = (minutes % 1440 / 60, minutes % 60);
    let (year, month, mut date) = date_of(world.first_date + day);
    if row.date_slip {
        let swapped = swap_digits(draw, &format!("{date:02}")).and_then(|text| text.parse().ok());
        date = swapped.filter(|day| (1..=28).contains(day)).unwrap_or(date);
    }
    match kit.dates {
        0 => format!("{year}-{month:02}-{date:02} {hour:02}:{minute:02}"),
        1 => format!("{date}.{month}.{year} {hour}:{minute:02}"),
        _ => format!("{date:02}/{month:02}/{year} {hour:02}:{minute:02}"),
    }
}

/// Days since 1970-01-01 of a date: whole years, then the months of a year that begins in March.
pub fn days_of(year: i64, month: i64, day: i64) -> i64 {
    let (year, month) = if month < 3 { (year - 1, month + 9) } else { (year, month - 3) };
    year * 365 + year.div_euclid(4) - year.div_euclid(100)
        + year.div_euclid(400)
        + (153 * month + 2) / 5
        + day
        - 719_469
}

fn date_of(days: i64) -> (i64, i64, i64) {
    let mut year = 1970 + days.div_euclid(366);
    while days_of(year + 1, 1, 1) <= days {
        year += 1;
    }
    let mut month = 1;
    while month < 12 && days_of(year, month + 1, 1) <= days {
        month += 1;
    }
    (year, month, days - days_of(year, month, 1) + 1)
}

/// So many significant digits, as people write nameplates.
fn plain(value: f64, digits: i32) -> String {
    let places = (digits - 1 - value.abs().log10().floor() as i32).max(0);
    let step = 10f64.powi(digits - 1 - value.abs().log10().floor() as i32);
    format!("{:.*}", places as usize, (value * step).round() / step)
}

fn site_file(world: &World, kit: &Kit, draw: &mut Draw) -> String {
    let (tower, basin) = (&world.tower, &world.basin);
    let circulation = stated_circulation(world) * (1.0 + draw.within(0.1));
    let volume = basin.volume * (1.0 + draw.within(0.2));
    let valve = basin.bleed_valve * (1.0 + draw.within(0.15));
    let water_to_air = tower.water_to_air * (1.0 + draw.within(0.12));
    let state_drift = draw.chance(0.6);
    let by_conductivity = draw.chance(0.25) && kit.analysis;
    let (state_valve, state_accuracy, state_altitude) =
        (draw.chance(0.5), draw.chance(0.4), draw.chance(0.8));
    let mut text = String::new();
    let mut line = |words: String| {
        text += &words;
        text.push('\n');
    };
    line("coldbasin = 1".into());
    line(format!(
        "name = \"Simulated tower, log kept {} (invented)\"",
        world.plant.name().replace('_', " ")
    ));
    line("[air]".into());
    line(format!("dry_bulb = \"{:.0} degC\"", tower.design_dry_bulb));
    line(format!("wet_bulb = \"{:.0} degC\"", tower.design_wet_bulb));
    if state_altitude {
        let altitude = 44_330.8 * (1.0 - (world.weather.pressure / 101.325).powf(0.190_263));
        line(format!("altitude = \"{:.0} m\"", (altitude / 10.0).round() * 10.0));
    }
    line("[circuit]".into());
    line(format!("circulation = \"{} m3/h\"", plain(circulation, 2)));
    line(format!("hot_water = \"{:.0} degC\"", tower.design_hot));
    line(format!("cold_water = \"{:.0} degC\"", tower.design_cold));
    line(format!("volume = \"{} m3\"", plain(volume, 2)));
    for cell in 0..tower.cells {
        line("[[cell]]".into());
        line(format!("name = \"cell {}\"", cell + 1));
        line(format!(
            "arrangement = \"{}\"",
            if tower.crossflow { "crossflow" } else { "counterflow" }
        ));
        line(format!("water_to_air = {water_to_air:.2}"));
        if state_drift {
            line(format!("drift = \"{:.3} %\"", 100.0 * tower.rated_drift));
        }
    }
    line("[blowdown]".into());
    if by_conductivity {
        line(format!("conductivity = \"{:.0} uS/cm\"", basin.set_point));
    } else {
        line(format!("cycles = {:.1}", basin.target_cycles));
    }
    let control = match basin.control {
        Control::Conductivity { .. } => "conductivity",
        Control::Timer { .. } => "timer",
        Control::Hand => "manual",
    };
    line(format!("control = \"{control}\""));
    if state_valve || world.hours_count {
        line(format!("valve_flow = \"{} m3/h\"", plain(valve, 2)));
    }
    if kit.analysis {
        line(analysis(world, draw));
    }
    if kit.columns.iter().any(|column| column.what == What::Level) {
        line(format!(
            "[basin]\narea = \"{} m2\"\noperating_level = \"{:.2} m\"\noverflow_level = \"{:.2} m\"",
            plain(basin.area, 3),
            basin.operating_level,
            basin.overflow_level
        ));
    }
    line("[log]".into());
    line(format!("time = \"{}\"", time_header(kit)));
    if kit.dates == 2 {
        line("dates = \"day_first\"".into());
    }
    for column in &kit.columns {
        if column.what != What::Remarks {
            line(column_of_site(kit, column));
        }
    }
    if state_accuracy {
        line("[log.accuracy]\nmakeup = \"2 %\"\nblowdown = \"2 %\"\nconductivity = \"2 %\"".into());
    }
    text
}

fn column_of_site(kit: &Kit, column: &Column) -> String {
    let (is, unit, headers) = column.what.words();
    let unit = if column.what == What::BasinConductivity && kit.milli { "mS/cm" } else { unit };
    let mut text = format!(
        "[[log.column]]\nname = \"{}\"\nis = \"{is}\"\nunit = \"{unit}\"",
        headers[kit.header]
    );
    let meter = match column.what {
        What::Makeup => Some(&kit.makeup),
        What::Blowdown => Some(&kit.blowdown),
        What::ValveHours => Some(&kit.hours),
        What::FanHours => Some(&kit.fan_hours),
        _ => None,
    };
    if let Some(digits) = meter.and_then(|meter| meter.rolls_over_at) {
        let _ = write!(text, "\nrolls_over_at = {digits:.0}");
    }
    if column.what == What::Drum {
        text += "\nevery = \"7 d\"";
    }
    text
}

/// An analysis of some other day: each number some per cent off.
fn analysis(world: &World, draw: &mut Draw) -> String {
    let makeup = &world.makeup;
    let (sodium, sulfate, charges) =
        (makeup.sodium(), makeup.sulfate(), makeup.charges(&world.law));
    let mut about = |value: f64| plain(value * (1.0 + draw.within(0.04)), 2);
    let lines = [
        format!("[[makeup]]\nname = \"mains\"\ntemperature = \"{:.0} degC\"", makeup.celsius),
        format!("[makeup.analysis]\nph = {:.1}", makeup.ph),
        format!("conductivity = \"{} uS/cm\"", about(makeup.conductivity)),
        format!("calcium = \"{} mg/L as Ca\"", about(20.04 * makeup.calcium * charges)),
        format!("magnesium = \"{} mg/L as Mg\"", about(12.15 * makeup.magnesium * charges)),
        format!("alkalinity = \"{} mg/L as CaCO3\"", about(50.04 * makeup.alkalinity * charges)),
        format!("chloride = \"{} mg/L as Cl\"", about(35.45 * makeup.chloride * charges)),
        format!("sulfate = \"{} mg/L as SO4\"", about(48.03 * sulfate * charges)),
        format!("silica = \"{} mg/L as SiO2\"", about(makeup.silica)),
    ];
    let lines = lines.join("\n");
    if draw.chance(0.7) {
        return format!("{lines}\nbalance_with = \"sodium\"");
    }
    format!("{lines}\nsodium = \"{} mg/L as Na\"", plain(22.99 * sodium * charges, 2))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_go_both_ways() {
        assert_eq!(days_of(1970, 1, 1), 0);
        assert_eq!(days_of(2000, 3, 1), 11_017);
        for days in 19_000..21_500 {
            let (year, month, day) = date_of(days);
            assert_eq!(days_of(year, month, day), days);
        }
        assert_eq!(date_of(days_of(2024, 2, 29)), (2024, 2, 29));
    }

    #[test]
    fn nameplates_are_round() {
        assert_eq!(
            (plain(437.2, 2), plain(0.1234, 2), plain(7.96, 2)),
            ("440".into(), "0.12".into(), "8.0".into())
        );
    }
}
