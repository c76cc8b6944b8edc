//! Simulated logs of cooling towers: the true water and salts on a fine time step, then what meters and people
//! make of it. One seed of one plant is the same plant in the same weather under every fault.
//!
//! Based on: ranges of equipment, operation and record keeping are common practice of the trade, from memory.
//! Physics and their sources stand at the top of each part.

mod air;
mod random;
mod readings;
mod tower;
mod water;

use air::{Climate, Weather};
use random::Draw;
use tower::{Load, Thermal, Tower};
use water::{Basin, Control, Course, Law, Probe, Run, Source, Trouble};

pub const STEP_HOURS: f64 = 0.25;
pub const STEPS_PER_DAY: usize = 96;
/// Days before the log begins, in which the water settles.
pub const SPIN_UP_DAYS: usize = 10;

/// How the log is kept.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Plant {
    /// Hourly rows from a control system.
    Automatic,
    /// A person's sheet once a day, at half past six to half past eight.
    ByHand,
    /// A makeup register, the basin's conductivity three times a week, spot temperatures, little else.
    Poor,
}

/// What goes wrong, or changes without being wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    Healthy,
    /// Production + 20 %: no fault.
    LoadUp,
    /// Salts of the makeup + 15 %: no fault.
    QualityUp,
    /// A sudden leak of so many per cent of the mean makeup.
    Loss(u32),
    /// A leak that grows to 8 % of the mean makeup in 30 days.
    LossRamp,
    /// 6 % of the mean makeup runs over the lip, at night only.
    OverflowAtNight,
    /// The makeup meter loses 8 %.
    MakeupMeterLow,
    /// The blowdown meter loses 20 %; where valve hours count, the valve passes 25 % more than before.
    BlowdownMeterLow,
    /// The basin's probe fouls: to - 15 % in 40 days.
    BasinProbeDrift,
    /// The basin's probe reads 10 % low from one moment on.
    BasinProbeStep,
    BleedStuckOpen,
    BleedStuckShut,
}

impl Plant {
    pub const ALL: [Plant; 3] = [Plant::Automatic, Plant::ByHand, Plant::Poor];

    pub fn name(self) -> &'static str {
        match self {
            Plant::Automatic => "automatic",
            Plant::ByHand => "by_hand",
            Plant::Poor => "poor",
        }
    }
}

impl Fault {
    pub const ALL: [Fault; 14] = [
        Fault::Healthy,
        Fault::LoadUp,
        Fault::QualityUp,
        Fault::Loss(2),
        Fault::Loss(5),
        Fault::Loss(10),
        Fault::LossRamp,
        Fault::OverflowAtNight,
        Fault::MakeupMeterLow,
        Fault::BlowdownMeterLow,
        Fault::BasinProbeDrift,
        Fault::BasinProbeStep,
        Fault::BleedStuckOpen,
        Fault::BleedStuckShut,
    ];

    pub fn name(self) -> String {
        match self {
            Fault::Healthy => "healthy".into(),
            Fault::LoadUp => "load_up".into(),
            Fault::QualityUp => "quality_up".into(),
            Fault::Loss(percent) => format!("loss_{percent}"),
            Fault::LossRamp => "loss_ramp".into(),
            Fault::OverflowAtNight => "overflow_at_night".into(),
            Fault::MakeupMeterLow => "makeup_meter_low".into(),
            Fault::BlowdownMeterLow => "blowdown_meter_low".into(),
            Fault::BasinProbeDrift => "basin_probe_drift".into(),
            Fault::BasinProbeStep => "basin_probe_step".into(),
            Fault::BleedStuckOpen => "bleed_stuck_open".into(),
            Fault::BleedStuckShut => "bleed_stuck_shut".into(),
        }
    }

    fn loses_water(self) -> bool {
        matches!(self, Fault::Loss(_) | Fault::LossRamp | Fault::OverflowAtNight)
    }

    fn is_of_the_probe(self) -> bool {
        matches!(self, Fault::BasinProbeDrift | Fault::BasinProbeStep)
    }

    fn percent(self) -> Option<f64> {
        match self {
            Fault::Healthy | Fault::BleedStuckOpen | Fault::BleedStuckShut => None,
            Fault::LoadUp | Fault::BlowdownMeterLow => Some(20.0),
            Fault::QualityUp | Fault::BasinProbeDrift => Some(15.0),
            Fault::Loss(percent) => Some(f64::from(percent)),
            Fault::LossRamp | Fault::MakeupMeterLow => Some(8.0),
            Fault::OverflowAtNight => Some(6.0),
            Fault::BasinProbeStep => Some(10.0),
        }
    }
}

/// A site file, a log, and what is true.
pub struct Simulated {
    pub name: String,
    /// Site file, TOML.
    pub site: String,
    /// Log, CSV.
    pub log: String,
    pub truth: Truth,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    pub fault: Fault,
    /// Days since midnight before the first row.
    pub begins_day: Option<f64>,
    /// Where it is put right within the log: a stuck bleed only.
    pub ends_day: Option<f64>,
    /// Mean of what is lost from the beginning to the end of the log.
    pub size_m3_per_day: Option<f64>,
    pub size_percent: Option<f64>,
    pub days: usize,
    /// Of the whole log: true means, to look at.
    pub makeup_m3_per_day: f64,
    pub evaporation_m3_per_day: f64,
    pub blowdown_m3_per_day: f64,
}

/// What each stream of random numbers is for.
#[derive(Clone, Copy)]
enum For {
    Place,
    Weather,
    Tower,
    Load,
    Running,
    Basin,
    Makeup,
    Water,
    Fault,
    Kit,
    Reading,
}

/// All that happened, before anybody reads a meter.
struct World {
    plant: Plant,
    fault: Fault,
    days: usize,
    first_date: i64, // of the log, days since 1970-01-01
    weather: Weather,
    tower: Tower,
    load: Load,
    thermal: Thermal,
    basin: Basin,
    water_per_kelvin: f64,
    law: Law,
    makeup: MakeupWater,
    source: Source,
    trouble: Trouble,
    course: Course,
    hours_count: bool, // blowdown is counted by the hours of its valve
}

/// What the makeup is made of.
struct MakeupWater {
    conductivity: f64, // uS/cm, mean of the year
    celsius: f64,
    calcium: f64, // parts of the cations, by charge
    magnesium: f64,
    alkalinity: f64, // parts of the anions
    chloride: f64,
    silica: f64, // mg/L
    ph: f64,
}

impl MakeupWater {
    fn draw(draw: &mut Draw) -> MakeupWater {
        let calcium = draw.between(0.4, 0.6);
        let alkalinity = draw.between(0.4, 0.7);
        MakeupWater {
            conductivity: draw.log_between(150.0, 900.0),
            celsius: draw.between(9.0, 16.0),
            calcium,
            magnesium: draw.between(0.12, 0.25),
            alkalinity,
            chloride: (1.0 - alkalinity) * draw.between(0.3, 0.7),
            silica: draw.between(4.0, 20.0),
            ph: draw.between(7.1, 8.1),
        }
    }

    /// Sodium, by charge.
    fn sodium(&self) -> f64 {
        1.0 - self.calcium - self.magnesium
    }

    /// Sulfate, by charge.
    fn sulfate(&self) -> f64 {
        1.0 - self.alkalinity - self.chloride
    }

    /// Divalent ions hold each other back more. The bend is that of handbook conductivities (from memory) for sodium
    /// chloride (0.5: 126 to 116 S cm2/eq at 0.02 eq/L), calcium chloride (0.86: 136 to 116) and saturated gypsum
    /// (2.5: 139 to some 60), in proportion between them; a calcium bicarbonate is taken between the two former and
    /// gypsum.
    fn law(&self, draw: &mut Draw) -> Law {
        let divalent = self.calcium + self.magnesium;
        let held_back = 0.6 * self.alkalinity + 0.36 * self.chloride + 2.0 * self.sulfate();
        let bend = (0.5 + divalent * held_back) * (1.0 + draw.within(0.2));
        Law::new(bend, self.alkalinity * draw.between(0.01, 0.05), self.conductivity)
    }

    /// meq/L of either sign, from the equivalent conductivities.
    fn charges(&self, law: &Law) -> f64 {
        let per_charge = 59.5 * self.calcium
            + 53.1 * self.magnesium
            + 50.1 * self.sodium()
            + 44.5 * self.alkalinity
            + 76.3 * self.chloride
            + 80.0 * self.sulfate();
        let root = (1.6e-5 * self.conductivity).sqrt();
        self.conductivity / per_charge / (1.0 - law.bend * root / (1.0 + root))
    }

    /// Cycles at which hardness of calcium times alkalinity, both as mg/L of CaCO3, come to a limit of the treatment.
    fn most_cycles(&self, law: &Law, limit: f64) -> f64 {
        let charges = self.charges(law);
        (limit / (50.04 * self.calcium * charges) / (50.04 * self.alkalinity * charges)).sqrt()
    }
}

pub fn simulate(plant: Plant, fault: Fault, seed: u64) -> Simulated {
    let world = World::new(plant, fault, seed);
    let (site, log) = readings::write(
        &world,
        &mut Draw::new(&[seed, plant as u64, For::Kit as u64]),
        &mut Draw::new(&[seed, plant as u64, For::Reading as u64]),
    );
    let name = format!("{}-{}-{seed}", plant.name(), fault.name());
    Simulated { name, site, log, truth: world.truth() }
}

impl World {
    fn new(plant: Plant, fault: Fault, seed: u64) -> World {
        let stream = |purpose: For| Draw::new(&[seed, plant as u64, purpose as u64]);
        let mut place = stream(For::Place);
        let days = place.whole(60, 120) as usize;
        let climate = Climate::draw(&mut place);
        let first_day = air::first_day(&mut place, &climate, days);
        let year = place.whole(2023, 2026) as i64;
        let first_date = readings::days_of(year, 1, 1) + first_day as i64 + SPIN_UP_DAYS as i64;
        let first_weekday = (first_date - SPIN_UP_DAYS as i64 + 3).rem_euclid(7) as usize; // 1970 began on a Thursday
        let steps = (days + SPIN_UP_DAYS) * STEPS_PER_DAY;

        let weather = Weather::draw(&mut stream(For::Weather), &climate, first_day, steps);
        let mut of_tower = stream(For::Tower);
        let design_wet_bulb = climate.design_wet_bulb(&mut of_tower);
        let tower = Tower::draw(&mut of_tower, design_wet_bulb, weather.pressure);
        let mut trouble = draw_trouble(&mut stream(For::Fault), fault, days);
        let begins_step = (trouble.begins / STEP_HOURS) as usize;
        let more = (fault == Fault::LoadUp).then_some((begins_step, 1.2));
        let usual = Load::draw(&mut stream(For::Load), &weather, first_weekday, None);
        let thermal = tower.run(&mut stream(For::Running), &weather, &usual);

        let mut of_makeup = stream(For::Makeup);
        let makeup = MakeupWater::draw(&mut of_makeup);
        let law = makeup.law(&mut of_makeup);
        let source = draw_source(&mut of_makeup, &makeup, &law, first_day, steps, plant, &trouble);
        let mut of_basin = stream(For::Basin);
        let hours_count = plant == Plant::Poor || of_basin.chance(0.15);
        let must_count = plant == Plant::Poor && fault == Fault::BlowdownMeterLow;
        let basin =
            draw_basin(&mut of_basin, &tower, &thermal, (&makeup, &law), first_weekday, must_count);
        let water_per_kelvin = of_basin.between(0.0188, 0.0206);
        let probe = Probe::draw(&mut of_basin, water_per_kelvin, 0.003);
        let hours_count = hours_count && basin.control != Control::Hand;

        let passes_more = fault == Fault::BlowdownMeterLow && hours_count;
        let bleed_gain = if passes_more { 1.25 } else { 1.0 };
        let run = |trouble: &Trouble, thermal: &Thermal, load: &Load| {
            let (basin, law, probe, source) = (&basin, &law, &probe, &source);
            Run { basin, law, probe, source, thermal, load, trouble, bleed_gain }
                .run(&mut stream(For::Water))
        };
        if fault.loses_water() {
            let untroubled = Trouble { fault: Fault::Healthy, ..trouble };
            trouble.mean_makeup =
                run(&untroubled, &thermal, &usual).after.makeup / (days as f64 * 24.0);
        }
        let (load, thermal) = match more {
            None => (usual, thermal),
            Some(_) => {
                let load = Load::draw(&mut stream(For::Load), &weather, first_weekday, more);
                let thermal = tower.run(&mut stream(For::Running), &weather, &load);
                (load, thermal)
            }
        };
        let course = run(&trouble, &thermal, &load);
        World {
            plant,
            fault,
            days,
            first_date,
            weather,
            tower,
            load,
            thermal,
            basin,
            water_per_kelvin,
            law,
            makeup,
            source,
            trouble,
            course,
            hours_count,
        }
    }

    fn truth(&self) -> Truth {
        let spin_up = SPIN_UP_DAYS as f64;
        let begins_day =
            (self.fault != Fault::Healthy).then_some(self.trouble.begins / 24.0 - spin_up);
        let course = &self.course;
        let lost = course.leak.last().unwrap_or(&0.0) + course.overflow.last().unwrap_or(&0.0);
        let days = self.days as f64;
        let size_m3_per_day =
            begins_day.filter(|_| self.fault.loses_water()).map(|day| lost / (days - day));
        Truth {
            fault: self.fault,
            begins_day,
            ends_day: course.repaired.map(|step| step as f64 / STEPS_PER_DAY as f64 - spin_up),
            size_m3_per_day,
            size_percent: self.fault.percent(),
            days: self.days,
            makeup_m3_per_day: course.after.makeup / days,
            evaporation_m3_per_day: course.after.evaporation / days,
            blowdown_m3_per_day: course.after.bleed / days,
        }
    }
}

fn draw_trouble(draw: &mut Draw, fault: Fault, days: usize) -> Trouble {
    let begins = 24.0 * (SPIN_UP_DAYS as f64 + draw.between(25.0, days as f64 - 25.0));
    let night = (draw.between(21.0, 23.0), draw.between(4.0, 6.0));
    let found = match fault {
        Fault::BleedStuckShut => Some(24.0 * draw.between(2.0, 8.0)),
        Fault::BleedStuckOpen => {
            let after = 24.0 * draw.between(5.0, 20.0);
            draw.chance(0.5).then_some(after)
        }
        _ => None,
    };
    Trouble { fault, begins, mean_makeup: 0.0, repaired_after: found, night }
}

/// Season, noise of days, and in some plants another source for some days.
fn draw_source(
    draw: &mut Draw,
    makeup: &MakeupWater,
    law: &Law,
    first_day: f64,
    steps: usize,
    plant: Plant,
    trouble: &Trouble,
) -> Source {
    let days = steps / STEPS_PER_DAY + 2;
    let noise_size = draw.between(0.007, 0.025);
    let noise = draw.wander(days, noise_size, 0.6);
    let (swing, peak) = (draw.between(0.01, 0.1), draw.between(0.0, 365.0));
    let warm = draw.between(1.0, 6.0);
    let mut other = vec![1.0; steps];
    if draw.chance(if plant == Plant::Poor { 0.12 } else { 0.25 }) {
        let factor =
            if draw.chance(0.5) { draw.between(0.6, 0.9) } else { draw.between(1.12, 1.6) };
        for _ in 0..draw.whole(1, 3) {
            let from = (draw.unit() * steps as f64) as usize;
            let to = (from + (draw.between(2.0, 10.0) * STEPS_PER_DAY as f64) as usize).min(steps);
            other[from..to].iter_mut().for_each(|part| *part = factor);
        }
    }
    let mean = law.salts(makeup.conductivity);
    let mut source = Source { salts: Vec::new(), celsius: Vec::new() };
    for (step, other) in other.iter().enumerate() {
        let day = step as f64 / STEPS_PER_DAY as f64;
        let season = |peak: f64| (std::f64::consts::TAU * (first_day + day - peak) / 365.25).cos();
        let changed =
            trouble.fault == Fault::QualityUp && step as f64 * STEP_HOURS >= trouble.begins;
        let up = if changed { 1.15 } else { 1.0 };
        source
            .salts
            .push(mean * (1.0 + swing * season(peak) + random::at_day(&noise, day)) * other * up);
        source.celsius.push(makeup.celsius + warm * season(230.0));
    }
    source
}

fn draw_basin(
    draw: &mut Draw,
    tower: &Tower,
    thermal: &Thermal,
    (makeup, law): (&MakeupWater, &Law),
    first_weekday: usize,
    must_count: bool,
) -> Basin {
    let evaporation = &thermal.evaporation;
    let mean = evaporation.iter().sum::<f64>() / evaporation.len() as f64;
    let peak = evaporation.iter().fold(0.0, |most: f64, e| most.max(*e));
    let peak_day =
        evaporation.chunks(STEPS_PER_DAY).map(|day| day.iter().sum::<f64>()).fold(0.0, f64::max)
            / 96.0;
    let scaling = makeup.most_cycles(law, draw.log_between(1.5e5, 6e5));
    let cycles = draw.between(2.5, 7.0).min(3500.0 / makeup.conductivity).min(scaling).max(2.0);
    let set_point = (makeup.conductivity * cycles / 10.0).round() * 10.0;
    let bleed_valve = (draw.between(2.2, 5.0) * mean).max(1.5 * peak_day) / (cycles - 1.0);
    let makeup_valve = draw.between(1.4, 2.2) * (peak + 1.35 * bleed_valve);
    let volume = tower.circulation * 3.6 * draw.between(6.0, 15.0) / 60.0;
    let held_up = volume * draw.between(0.12, 0.3);
    let operating_level = draw.between(0.35, 0.7);
    let area = (volume - held_up) / operating_level;
    let band = draw.between(0.03, 0.1).max(0.15 * makeup_valve / area);
    let dead_band = draw.between(0.02, 0.06);
    let period = draw.pick(&[(1.0, 2.0), (1.0, 4.0), (1.0, 6.0)]);
    let control = draw.pick(&[
        (0.74, Control::Conductivity { dead_band }),
        (0.13, Control::Timer { period }),
        (0.13, Control::Hand),
    ]);
    let control = if must_count && control == Control::Hand {
        Control::Conductivity { dead_band }
    } else {
        control
    };
    let hour = draw.between(8.0, 16.0).round();
    let weekday = draw.whole(0, 4) as usize;
    let doses = match draw.whole(0, 2) {
        0 => vec![],
        1 => vec![(weekday, hour)],
        _ => vec![(weekday, hour), ((weekday + 3) % 7, hour)],
    };
    Basin {
        volume,
        area,
        held_up,
        operating_level,
        overflow_level: operating_level + held_up / area + 1.2 * band + draw.between(0.04, 0.1),
        band,
        play: draw.between(0.05, 0.35),
        on_off: draw.chance(0.3),
        makeup_valve,
        bleed_valve,
        control,
        set_point,
        target_cycles: cycles,
        doses,
        lock_hours: draw.between(2.0, 6.0),
        seal_drip: if draw.chance(0.4) { draw.between(0.0, 0.005) * mean } else { 0.0 },
        feed_salts: draw.between(0.0, 0.015),
        first_weekday,
        first_share: mean / (cycles - 1.0) / bleed_valve,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn relative(difference: f64, of: f64) -> f64 {
        (difference / of).abs()
    }

    #[test]
    fn water_and_salts_close() {
        for plant in Plant::ALL {
            for fault in Fault::ALL {
                for seed in 0..2 {
                    let course = World::new(plant, fault, seed).course;
                    let (a, b) = (course.before, course.after);
                    let out = b.evaporation + b.drift + b.bleed + b.drip + b.leak + b.overflow;
                    let water = b.makeup - out - (b.stored - a.stored);
                    let salts = b.salts_in - b.salts_out - (b.stored_salts - a.stored_salts);
                    let who = format!("{plant:?} {fault:?} {seed}");
                    assert!(relative(water, b.makeup) < 1e-9, "{who}: {water}");
                    assert!(relative(salts, b.salts_in) < 1e-9, "{who}: {salts}");
                    assert!(!course.healthy_overflow, "{who} overflows");
                }
            }
        }
    }

    /// Makeup is evaporation times c / (c - 1), and the water is held near its set point (first principles).
    #[test]
    fn flows_are_those_of_a_tower() {
        for plant in Plant::ALL {
            for seed in 0..20 {
                let world = World::new(plant, Fault::Healthy, seed);
                let total = world.course.after;
                let who = format!("{plant:?} {seed}");
                let latent = world.load.part.iter().sum::<f64>() / world.load.part.len() as f64
                    * world.tower.design_heat
                    * world.days as f64
                    * 86.4
                    / 2450.0;
                let share = total.evaporation / latent;
                assert!(
                    (0.5..1.15).contains(&share),
                    "{who}: evaporation is {share} of the load's heat"
                );
                let cycles = total.makeup / (total.makeup - total.evaporation);
                let aim = world.basin.target_cycles;
                assert!((0.7..1.6).contains(&(cycles / aim)), "{who}: {cycles} cycles, aim {aim}");
            }
        }
    }

    #[test]
    fn losses_have_their_size() {
        for plant in Plant::ALL {
            for seed in 0..8 {
                let healthy = World::new(plant, Fault::Healthy, seed).truth();
                for (fault, percent) in [(Fault::Loss(5), 5.0), (Fault::OverflowAtNight, 6.0)] {
                    let truth = World::new(plant, fault, seed).truth();
                    let size = 100.0 * truth.size_m3_per_day.unwrap() / healthy.makeup_m3_per_day;
                    assert!(
                        (0.85..1.05).contains(&(size / percent)),
                        "{plant:?} {seed} {fault:?}: {size} %"
                    );
                    let begins = truth.begins_day.unwrap();
                    assert!((25.0..=truth.days as f64 - 25.0).contains(&begins));
                }
            }
        }
    }

    #[test]
    fn the_same_seed_gives_the_same_log() {
        for plant in Plant::ALL {
            let (a, b) = (simulate(plant, Fault::Loss(5), 3), simulate(plant, Fault::Loss(5), 3));
            assert!(a.site == b.site && a.log == b.log && a.truth == b.truth);
            assert!(simulate(plant, Fault::Loss(5), 4).log != a.log);
        }
    }

    /// Before its fault begins, a log is that of the healthy plant.
    #[test]
    fn faults_change_nothing_before_they_begin() {
        for plant in Plant::ALL {
            let healthy = simulate(plant, Fault::Healthy, 11);
            let leaks = simulate(plant, Fault::Loss(10), 11);
            assert!(healthy.site == leaks.site);
            let same =
                healthy.log.lines().zip(leaks.log.lines()).take_while(|(a, b)| a == b).count();
            assert!(same > 9, "{plant:?}: {same}");
        }
    }
}
