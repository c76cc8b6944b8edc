//! The true water and salts of a plant, in steps of two minutes, and what its instruments show of them.

use super::Fault;
use super::air::{Air, water_density};
use super::book::{Book, CHANNELS, Channel, Visit};
use super::calendar::{day_of_year, weekday};
use super::load::{self, Half};
use super::plant::{Bleed, Works};
use super::random::{Random, Wander};
use super::slips::Hardware;
use super::tower::{Duty, settle};
use super::water::basin_conductivity;
use super::weather::Weather;

/// Length of a step, h.
const STEP: f64 = 1.0 / 30.0;
const STEPS_PER_HALF: usize = 15;

/// What is wrong, and how it comes.
#[derive(Clone, Copy, Debug)]
pub struct Trouble {
    pub fault: Fault,
    /// Hours since the first midnight.
    pub begins: f64,
    /// Of a loss, t/h; of anything else a part of 1.
    pub size: f64,
    /// Hours over which it grows to its size.
    pub grows: f64,
    /// A loss that there is only while pumps run.
    pub with_pumps: bool,
}

impl Trouble {
    /// How much of it there is, 0 to 1.
    fn part(&self, time: f64) -> f64 {
        if time < self.begins {
            0.0
        } else if self.grows <= 0.0 {
            1.0
        } else {
            ((time - self.begins) / self.grows).min(1.0)
        }
    }
}

/// What one visit reads: the instruments' values before they are rounded and written.
pub struct Reading {
    pub visit: Visit,
    pub values: [f64; CHANNELS],
}

/// Sums of the true flows: water in t, salts in parts of each source (one part is what a tonne of it carries).
#[derive(Clone, Copy, Debug, Default)]
pub struct Totals {
    pub makeup: f64,
    pub rain: f64,
    pub evaporation: f64,
    pub blowdown: f64,
    pub drift: f64,
    pub weeping: f64,
    pub loss: f64,
    pub drained: f64,
    pub overflow: f64,
    pub salts_in: [f64; 2],
    pub salts_out: [f64; 2],
}

/// The whole course.
pub struct Course {
    pub readings: Vec<Reading>,
    pub totals: Totals,
    pub water: (f64, f64),
    pub salts: ([f64; 2], [f64; 2]),
    /// Least and greatest true conductivity, and level against the operating level, m.
    pub conductivity: (f64, f64),
    pub level: (f64, f64),
    /// Cleanings: day and written remark.
    pub cleanings: Vec<usize>,
    /// Of the last day, as a part of 1: by how much the basin's probe has drifted for the fault.
    pub probe_drift: f64,
}

/// What changes from day to day.
struct Days {
    quality: Vec<f64>,
    share: Vec<f64>,
    probe: Vec<f64>,
    bias: Vec<f64>,
}

fn mix(values: &[f64], time: f64) -> f64 {
    let day = time / 24.0;
    let at = (day as usize).min(values.len() - 2);
    values[at] + (values[at + 1] - values[at]) * (day - at as f64).clamp(0.0, 1.0)
}

fn days(works: &Works) -> Days {
    let mut random = Random::stream(works.seed, "days");
    let random = &mut random;
    // Makeup changes slowly, by a few per cent, and with the season.
    let mut quality = Wander::new(random, 0.93, 0.02);
    let season = random.between(-0.04, 0.04);
    let mut probe = Wander::new(random, 0.9, 0.006);
    let mut bias = Wander::new(random, 0.8, 0.01);
    let mut share = Wander::new(random, 0.85, 0.12);
    let mut well_down = 0;
    let count = works.days + 2;
    let mut days = Days {
        quality: Vec::with_capacity(count),
        share: Vec::with_capacity(count),
        probe: Vec::with_capacity(count),
        bias: Vec::with_capacity(count),
    };
    for day in 0..count {
        let part = day as f64 / works.days as f64 - 0.5;
        days.quality.push(1.0 + quality.step(random) + season * part);
        days.probe.push(probe.step(random));
        days.bias.push(1.0 + bias.step(random));
        let wanted = (works.plates.share + share.step(random)).clamp(0.05, 0.95);
        // Once in forty days the well's pump is down for some days, and all comes from the mains.
        if well_down == 0 && random.chance(1.0 / 40.0) {
            well_down = random.whole(2, 8);
        } else {
            well_down = well_down.saturating_sub(1_usize);
        }
        days.share.push(match (works.sources.len(), well_down) {
            (1, _) => 1.0,
            (_, 0) => wanted,
            _ => 0.0,
        });
    }
    days
}

/// The state of basin, valves and registers.
struct State {
    water: f64,
    salts: [f64; 2],
    /// Opening of the makeup valve, 0 to 1.
    makeup_valve: f64,
    bleed_open: bool,
    /// Hours that the bleed stays open for a pulse or a hand.
    bleed_left: f64,
    bypass_open: bool,
    since_pulse: f64,
    /// What the person of the workshop has set: of the clock, the cracked valve or the round.
    setting: f64,
    adjusted_on: usize,
    drain_left: f64,
    registers: [f64; 4],
}

/// Thermal state of half an hour.
#[derive(Clone, Copy)]
struct Warmth {
    hot: f64,
    cold: f64,
    /// t/h.
    evaporation: f64,
    stage: usize,
}

/// What hardly changes within half an hour.
struct Slow {
    quality: f64,
    share: f64,
    probe: f64,
    /// kg/m3.
    makeup_density: f64,
    cold_density: f64,
    /// Flow of the open makeup valve, over its mean.
    pressure: f64,
    /// t/h.
    rain: f64,
    drift: f64,
    /// Conductivity, and the salts in a tonne that it belongs to.
    conductivity: f64,
    parts: f64,
}

/// Weather, load, waters and heat of a log: what the state of the water has no hand in.
pub struct Surroundings {
    weather: Weather,
    plan: Vec<Half>,
    days: Days,
    warmth: Vec<Warmth>,
}

impl Surroundings {
    /// The same for every fault of a seed, but for [`Fault::LoadUp`].
    pub fn new(works: &Works, trouble: &Trouble) -> Surroundings {
        let mut random = Random::stream(works.seed, "weather");
        let weather = Weather::draw(&mut random, &works.climate, works.start, works.days);
        let plan = load::plan(works, &weather);
        let days = days(works);
        let mut last = Warmth { hot: 25.0, cold: 22.0, evaporation: 0.0, stage: 1 };
        let warmth = plan
            .iter()
            .enumerate()
            .map(|(k, half)| {
                let time = k as f64 / 2.0;
                let up = match trouble.fault {
                    Fault::LoadUp => 1.0 + trouble.size * trouble.part(time),
                    _ => 1.0,
                };
                let bias = works.evaporation_bias * mix(&days.bias, time);
                last = warmth(works, &last, half, &weather.air(time + 0.25), time, up);
                Warmth { evaporation: last.evaporation * bias, ..last }
            })
            .collect();
        Surroundings { weather, plan, days, warmth }
    }
}

impl Surroundings {
    /// Part of the time after an hour during which pumps run.
    pub fn pumps_after(&self, hour: f64) -> f64 {
        let rest = &self.plan[((2.0 * hour) as usize).min(self.plan.len() - 1)..];
        rest.iter().filter(|half| half.running > 0).count() as f64 / rest.len() as f64
    }
}

/// Settles the thermal side of half an hour; the load is `up` times as planned.
fn warmth(works: &Works, before: &Warmth, half: &Half, air: &Air, time: f64, up: f64) -> Warmth {
    if half.running == 0 {
        // Standing water goes to between wet and dry bulb within a day.
        let rest = 0.6 * air.wet_bulb() + 0.4 * air.dry_bulb;
        let slide = |t: f64| t + (rest - t) * 0.04;
        return Warmth {
            hot: slide(before.hot + (before.cold - before.hot) * 0.2),
            cold: slide(before.cold),
            evaporation: 0.0,
            stage: 0,
        };
    }
    let mut water = 0.0;
    let mut full_air = 0.0;
    for k in 0..half.running {
        let cell = &works.cells[(half.first + k) % works.cells.len()];
        water += cell.circulation / 3.6;
        full_air += cell.air;
    }
    let mut stage = before.stage;
    let mut raised = false;
    let mut guess = before.hot.clamp(5.0, 60.0);
    let makeup_temperature = makeup_temperature(works, time);
    loop {
        let duty = Duty {
            dry_air: full_air * works.stages[stage],
            water,
            heat: works.heat * half.load * up,
            makeup_temperature,
            blowdown_share: 1.0 / (works.plates.cycles - 1.0),
        };
        let settled = settle(air, &duty, &works.fill, guess);
        guess = settled.hot.clamp(5.0, 60.0);
        // Fans step up within the half-hour, and down by one stage for the next.
        if settled.cold > works.set_point + 1.0 && stage + 1 < works.stages.len() {
            stage += 1;
            raised = true;
            continue;
        }
        let down = settled.cold < works.set_point - 1.0 && stage > 0 && !raised;
        return Warmth {
            hot: settled.hot,
            cold: settled.cold,
            evaporation: settled.evaporation * 3.6,
            stage: if down { stage - 1 } else { stage },
        };
    }
}

/// Pipes in the ground lag the air by a month and follow half of its season.
fn makeup_temperature(works: &Works, time: f64) -> f64 {
    let day = day_of_year(works.start) as f64 + time / 24.0;
    let mean = works.climate.normal(112.0);
    (mean + 0.45 * (works.climate.normal(day - 30.0) - mean)).clamp(5.0, 26.0)
}

/// The engine of one log.
pub struct Run<'a> {
    works: &'a Works,
    around: &'a Surroundings,
    trouble: Trouble,
    hardware: &'a Hardware,
    random: Random,
}

impl<'a> Run<'a> {
    /// Gets one ready.
    pub fn new(
        works: &'a Works,
        around: &'a Surroundings,
        trouble: Trouble,
        hardware: &'a Hardware,
    ) -> Run<'a> {
        Run { works, around, trouble, hardware, random: Random::stream(works.seed, "readings") }
    }

    fn quality(&self, time: f64) -> f64 {
        let up = match self.trouble.fault {
            Fault::QualityUp => 1.0 + self.trouble.size * self.trouble.part(time),
            _ => 1.0,
        };
        mix(&self.around.days.quality, time) * up
    }

    /// What the basin's probe reads, as a part of the truth.
    fn probe(&self, time: f64) -> f64 {
        let fault = match self.trouble.fault {
            Fault::BasinProbeDrift => self.trouble.size * self.trouble.part(time),
            _ => 0.0,
        };
        (1.0 + self.works.book.basin_conductivity_error + mix(&self.around.days.probe, time))
            * (1.0 - fault)
            * (1.0 - self.hardware.fouling(time))
    }

    /// Runs the whole log.
    pub fn course(mut self) -> Course {
        let works = self.works;
        let mut reader = Random::stream(works.seed, "rounds");
        let mut visits = works.book.visits(works, &mut reader);
        visits.sort_by_key(|visit| visit.minute);
        let mut next = 0;
        let start_salts = {
            let strength = self.quality(0.0) * works.plates.cycles * 0.93;
            let share = works.plates.share;
            let all = strength * works.basin.volume;
            if works.sources.len() > 1 { [all * share, all * (1.0 - share)] } else { [all, 0.0] }
        };
        let mut state = State {
            water: works.basin.volume,
            salts: start_salts,
            makeup_valve: 0.0,
            bleed_open: false,
            bleed_left: 0.0,
            bypass_open: false,
            since_pulse: 0.0,
            setting: match works.bleed {
                Bleed::Timer { open, .. } | Bleed::Round { open } => open,
                Bleed::Cracked { opening } => opening,
                _ => 0.0,
            },
            adjusted_on: 0,
            drain_left: 0.0,
            registers: works.book.registers,
        };
        let mut course = Course {
            readings: Vec::with_capacity(visits.len()),
            totals: Totals::default(),
            water: (state.water, 0.0),
            salts: (state.salts, [0.0; 2]),
            conductivity: (f64::INFINITY, 0.0),
            level: (f64::INFINITY, f64::NEG_INFINITY),
            cleanings: Vec::new(),
            probe_drift: 0.0,
        };
        let around = self.around;
        let mut before = load::Basin::InUse;
        for (k, (half, warmth)) in around.plan.iter().zip(&around.warmth).enumerate() {
            let time = k as f64 / 2.0;
            if half.basin == load::Basin::Drained && before == load::Basin::InUse {
                course.cleanings.push(k / 48);
                let part = works.cleaning.map_or(0.0, |cleaning| cleaning.part);
                state.drain_left = state.water * part;
            }
            before = half.basin;
            let slow = self.slow(&state, half, warmth, time);
            for step in 0..STEPS_PER_HALF {
                let now = time + step as f64 * STEP;
                let conductivity = self.step(&mut state, &mut course, half, warmth, &slow, now);
                let minute = (k * STEPS_PER_HALF + step) * 2;
                while next < visits.len() && visits[next].minute < minute + 2 {
                    let values = self.read(&mut state, half, warmth, conductivity, now + STEP);
                    course.readings.push(Reading { visit: visits[next], values });
                    self.adjust(
                        &mut state,
                        values[Channel::BasinConductivity as usize],
                        visits[next].day,
                    );
                    next += 1;
                }
            }
        }
        let end = works.days as f64 * 24.0;
        course.water.1 = state.water;
        course.salts.1 = state.salts;
        course.probe_drift = self.trouble.size * self.trouble.part(end);
        course
    }

    /// What holds for the half-hour from `time` on. Conductivity is computed at its start, and follows the salts in
    /// proportion.
    fn slow(&self, state: &State, half: &Half, warmth: &Warmth, time: f64) -> Slow {
        let works = self.works;
        let fan = if warmth.stage > 0 { 1.0 } else { 0.2 };
        let drift = (0..half.running)
            .map(|k| {
                let cell = &works.cells[(half.first + k) % works.cells.len()];
                cell.drift * cell.circulation * fan
            })
            .sum();
        let parts = state.salts.map(|salts| salts / state.water);
        Slow {
            quality: self.quality(time),
            share: mix(&self.around.days.share, time),
            probe: self.probe(time),
            makeup_density: water_density(makeup_temperature(works, time)),
            cold_density: water_density(warmth.cold),
            // The mains' pressure is lower by day than at night.
            pressure: 1.0 - 0.06 * ((time % 24.0 - 13.0) / 24.0 * std::f64::consts::TAU).cos(),
            // Deck and casing keep most of it off: it falls in through the fan's ring and the louvres.
            rain: self.around.weather.rain(time) * 0.35 * works.basin.area / 1000.0,
            drift,
            conductivity: basin_conductivity(&works.sources, parts),
            parts: parts[0] + parts[1],
        }
    }

    /// Opening of the blowdown valve as controller, clock or hand has it.
    fn bleed(&self, state: &mut State, half: &Half, shown: f64, now: f64) -> f64 {
        let works = self.works;
        if half.running == 0 {
            return 0.0; // it is taken from the pumps' pressure side
        }
        match works.bleed {
            Bleed::Controller { set, band } => {
                if shown > set {
                    state.bleed_open = true;
                } else if shown < set * (1.0 - band) {
                    state.bleed_open = false;
                }
                // After a dose of biocide the bleed is locked.
                let locked =
                    works.lockout.is_some_and(|(every, lasts)| (now + 11.0) % every < lasts);
                if state.bleed_open && !locked { 1.0 } else { 0.0 }
            }
            Bleed::Paced { volume, open } => {
                if state.since_pulse >= volume {
                    state.since_pulse -= volume;
                    state.bleed_left += open;
                }
                self.timed(state)
            }
            Bleed::Timer { every, .. } => {
                if now % every < STEP * 0.999 {
                    // The clock counts anew from each full hour.
                    state.bleed_left = state.setting.min(every);
                }
                self.timed(state)
            }
            Bleed::Cracked { .. } => state.setting,
            Bleed::Round { .. } => self.timed(state),
        }
    }

    fn timed(&self, state: &mut State) -> f64 {
        let open = (state.bleed_left / STEP).clamp(0.0, 1.0);
        state.bleed_left = (state.bleed_left - STEP).max(0.0);
        open
    }

    /// Flow of the makeup valve, t/h.
    fn makeup(&self, state: &mut State, half: &Half, level: f64, pressure: f64) -> f64 {
        let basin = &self.works.basin;
        if half.basin != load::Basin::InUse {
            return 0.0;
        }
        let wanted = (basin.span / 2.0 - level) / basin.span;
        if basin.switched {
            let closes = wanted < 0.0;
            if closes || wanted > 1.0 {
                state.makeup_valve = if closes { 0.0 } else { 1.0 };
            }
        } else {
            // The linkage has play: the valve follows the float only after it.
            let play = basin.play;
            state.makeup_valve =
                state.makeup_valve.clamp(wanted - play, wanted + play).clamp(0.0, 1.0);
        }
        state.makeup_valve * basin.valve * pressure
    }

    /// One step of water and salts. Returns the true conductivity before it.
    fn step(
        &self,
        state: &mut State,
        course: &mut Course,
        half: &Half,
        warmth: &Warmth,
        slow: &Slow,
        now: f64,
    ) -> f64 {
        let works = self.works;
        let basin = &works.basin;
        let trouble = &self.trouble;
        let after = now >= trouble.begins;
        let running = half.running > 0;
        let parts = state.salts.map(|salts| salts / state.water);
        let conductivity = slow.conductivity * (parts[0] + parts[1]) / slow.parts;
        let lifted = if running { 0.0 } else { basin.held_up };
        let level = (state.water - basin.volume + lifted) / basin.area;

        let makeup = self.makeup(state, half, level, slow.pressure);
        let mut opening = self.bleed(state, half, conductivity * slow.probe, now);
        let counted = if opening > 0.0 { opening.min(1.0) * STEP } else { 0.0 };
        if after && running {
            match trouble.fault {
                // A valve that stands cracked open anyway is found further open.
                Fault::BleedStuckOpen if matches!(works.bleed, Bleed::Cracked { .. }) => {
                    opening = (opening + trouble.size).min(1.0);
                }
                Fault::BleedStuckOpen => opening = opening.max(trouble.size),
                Fault::BleedStuckShut => opening = self.bypass(state, conductivity, now),
                _ => {}
            }
        }
        let blowdown = opening * works.bleed_flow;
        let evaporation = warmth.evaporation;
        let drift = slow.drift;
        let loss = match trouble.fault {
            Fault::Loss(_) if !trouble.with_pumps || running => trouble.size * trouble.part(now),
            _ => 0.0,
        };
        // The drain leaves what stands in pipes and exchangers below the basin's floor.
        let above_floor = level + basin.operating_level > 0.02;
        let drained = if half.basin == load::Basin::Drained && state.drain_left > 0.0 && above_floor
        {
            let flow =
                (state.water * 0.9).min(state.drain_left).min(basin.volume * 0.6 * STEP) / STEP;
            state.drain_left -= flow * STEP;
            flow
        } else {
            0.0
        };
        let overflow = ((level - basin.freeboard) * basin.area / STEP * 0.5).max(0.0);
        let rain = slow.rain;
        let liquid = blowdown + drift + works.weeping + loss + drained + overflow;

        let totals = &mut course.totals;
        for (k, share) in [slow.share, 1.0 - slow.share].into_iter().enumerate() {
            let arrives = makeup * share * slow.quality * STEP;
            let leaves = parts[k] * liquid * STEP;
            state.salts[k] += arrives - leaves;
            totals.salts_in[k] += arrives;
            totals.salts_out[k] += leaves;
        }
        state.water += (makeup + rain - evaporation - liquid) * STEP;
        totals.makeup += makeup * STEP;
        totals.rain += rain * STEP;
        totals.evaporation += evaporation * STEP;
        totals.blowdown += blowdown * STEP;
        totals.drift += drift * STEP;
        totals.weeping += works.weeping * STEP;
        totals.loss += loss * STEP;
        totals.drained += drained * STEP;
        totals.overflow += overflow * STEP;
        course.conductivity.0 = course.conductivity.0.min(conductivity);
        course.conductivity.1 = course.conductivity.1.max(conductivity);
        course.level.0 = course.level.0.min(level);
        course.level.1 = course.level.1.max(level);

        self.count(state, makeup, blowdown, slow, now);
        state.registers[2] += counted;
        if running && warmth.stage > 0 {
            state.registers[3] += STEP;
        }
        conductivity
    }

    /// Meters of makeup and blowdown.
    fn count(&self, state: &mut State, makeup: f64, blowdown: f64, slow: &Slow, now: f64) {
        let works = self.works;
        let part = self.trouble.part(now);
        let low = |fault: Fault| {
            if self.trouble.fault == fault { 1.0 - self.trouble.size * part } else { 1.0 }
        };
        if makeup > 0.0 {
            let volume = makeup * STEP / slow.makeup_density * 1000.0;
            state.since_pulse += volume;
            if !self.hardware.makeup_stuck(now) {
                // A meter loses a few per cent near its starting flow (error curves of ISO 4064).
                let part_of_valve = makeup / works.basin.valve / 0.01;
                let curve = 1.0 - 0.05 / (1.0 + part_of_valve * part_of_valve);
                state.registers[0] +=
                    volume * (1.0 + works.book.makeup_error) * curve * low(Fault::MakeupMeterLow);
            }
        }
        if blowdown > 0.0 && !self.hardware.blowdown_stuck(now) {
            let volume = blowdown * STEP / slow.cold_density * 1000.0;
            let part_of_valve = blowdown / works.bleed_flow / 0.01;
            let curve = 1.0 - 0.05 / (1.0 + part_of_valve * part_of_valve);
            state.registers[1] +=
                volume * (1.0 + works.book.blowdown_error) * curve * low(Fault::BlowdownMeterLow);
        }
    }

    /// With the valve stuck shut, somebody sees the conductivity by day and opens the bypass before the meter.
    fn bypass(&self, state: &mut State, conductivity: f64, now: f64) -> f64 {
        let limit = self.works.target * 1.9;
        let hour = now % 24.0;
        let weekend = weekday(self.works.start + (now / 24.0) as i64) > 4;
        if conductivity > limit && (8.0..15.0).contains(&hour) && !weekend {
            state.bypass_open = true;
        } else if conductivity < 0.75 * limit || !(7.0..17.0).contains(&hour) {
            state.bypass_open = false;
        }
        if state.bypass_open { 0.6 } else { 0.0 }
    }

    /// The person of the workshop turns clock or valve after what the pen shows.
    fn adjust(&self, state: &mut State, shown: f64, day: usize) {
        let aim = shown / self.works.target;
        match self.works.bleed {
            // Once a week at most, and only if it is well off.
            Bleed::Timer { .. } | Bleed::Cracked { .. }
                if day >= state.adjusted_on + 7 && (aim - 1.0).abs() > 0.12 =>
            {
                let most =
                    if matches!(self.works.bleed, Bleed::Cracked { .. }) { 1.0 } else { 4.0 };
                state.setting = (state.setting * aim.clamp(0.75, 1.4)).min(most);
                state.adjusted_on = day;
            }
            Bleed::Round { .. } => {
                state.setting = (state.setting * aim.clamp(0.7, 1.4)).clamp(0.02, 7.0);
                state.bleed_left = if aim > 0.8 { state.setting } else { 0.0 };
            }
            _ => {}
        }
    }

    /// A round of readings.
    fn read(
        &mut self,
        state: &mut State,
        half: &Half,
        warmth: &Warmth,
        conductivity: f64,
        now: f64,
    ) -> [f64; CHANNELS] {
        let works = self.works;
        let book: &Book = &works.book;
        let air = self.around.weather.air(now);
        let quality = self.quality(now);
        let share = mix(&self.around.days.share, now);
        let probe = self.probe(now);
        let makeup_temperature = makeup_temperature(works, now);
        let random = &mut self.random;
        let mut values = [0.0; CHANNELS];
        let mut set = |channel: Channel, value: f64| values[channel as usize] = value;

        set(Channel::Makeup, state.registers[0]);
        set(Channel::Blowdown, state.registers[1]);
        set(Channel::ValveHours, state.registers[2]);
        set(Channel::FanHours, state.registers[3]);

        // A sample in a cup comes a third of the way to the room before the pen reads it; without compensation it
        // shows some 2 % a kelvin (common practice: 1.9 to 2.1).
        let pen = |temperature: f64| {
            let sample = temperature + 0.3 * (21.0 - temperature);
            if book.pen { 1.0 + 0.02 * (sample - 25.0) } else { 1.0 }
        };
        let noise = |random: &mut Random| 1.0 + book.conductivity_noise * random.normal();
        set(Channel::BasinConductivity, conductivity * probe * pen(warmth.cold) * noise(random));
        let mut blend = [0.0; super::water::COUNT];
        for (source, part) in works.sources.iter().zip([share, 1.0 - share]) {
            for (sum, c) in blend.iter_mut().zip(source.ions) {
                *sum += c * part * quality;
            }
        }
        let pen_error = if book.pen { probe } else { 1.0 + book.makeup_conductivity_error };
        let makeup = super::water::conductivity(&blend);
        set(
            Channel::MakeupConductivity,
            makeup * pen_error * pen(makeup_temperature) * noise(random),
        );

        set(Channel::Hot, warmth.hot + book.hot_error + 0.1 * random.normal());
        set(Channel::Cold, warmth.cold + book.cold_error + 0.1 * random.normal());
        set(Channel::DryBulb, air.dry_bulb + book.air_error + 0.3 * random.normal());
        // A wet bulb is never above the dry one; wicks dry and read high.
        let wet = (air.wet_bulb() + 0.1 + book.air_error + 0.25 * random.normal())
            .min(air.dry_bulb + book.air_error - 0.7);
        set(Channel::WetBulb, wet);
        let humid = 100.0 * air.relative_humidity() + book.humidity_error + random.normal();
        set(Channel::Humidity, humid.clamp(10.0, 99.0));

        let lifted = if half.running == 0 { works.basin.held_up } else { 0.0 };
        let level = works.basin.operating_level
            + (state.water - works.basin.volume + lifted) / works.basin.area;
        set(Channel::Level, (level + 0.004 * random.normal()).max(0.0));
        let flow: f64 = (0..half.running)
            .map(|k| works.cells[(half.first + k) % works.cells.len()].circulation)
            .sum();
        set(
            Channel::Circulation,
            flow * (1.0 + book.circulation_error) * (1.0 + 0.005 * random.normal()),
        );
        set(Channel::Drum, 200.0 + (700.0 - 25.0 * now / 24.0).rem_euclid(700.0));
        set(Channel::Ph, 8.4 + 0.12 * random.normal());
        values
    }
}
