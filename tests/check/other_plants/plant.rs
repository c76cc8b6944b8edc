//! The three plants: what they truly are, and what their owners believe.
//!
//! Sizes and habits are common practice unless a source is named.

use super::Plant;
use super::air::{Air, water_density};
use super::book::Book;
use super::calendar::{Date, day_number};
use super::random::Random;
use super::tower::{Duty, Fill, WATER_HEAT, fill_for};
use super::water::{BICARBONATE, Source, basin_conductivity};
use super::weather::Climate;

/// One cell, or one tower.
#[derive(Clone, Debug)]
pub struct Cell {
    /// Water while its pump runs, t/h.
    pub circulation: f64,
    /// Dry air with the fan at full speed, kg/s.
    pub air: f64,
    /// Droplets, as a part of the water.
    pub drift: f64,
}

/// Basin and makeup valve.
#[derive(Clone, Debug)]
pub struct Basin {
    /// Water of the whole system at the operating level, t.
    pub volume: f64,
    /// Of the basin, m2.
    pub area: f64,
    /// Operating level above the floor, m.
    pub operating_level: f64,
    /// What runs back when the pumps stop, t.
    pub held_up: f64,
    /// Lip of the overflow above the operating level, m.
    pub freeboard: f64,
    /// Flow of the open makeup valve, t/h.
    pub valve: f64,
    /// Levels from shut to open, m.
    pub span: f64,
    /// Play of the float's linkage, as a part of the valve's travel.
    pub play: f64,
    /// Float or level switch with a valve that is open or shut.
    pub switched: bool,
}

/// What opens the blowdown.
#[derive(Clone, Copy, Debug)]
pub enum Bleed {
    /// A conductivity controller: opens at `set` as its probe reads it, shuts `band` below.
    Controller { set: f64, band: f64 },
    /// The makeup meter opens it for `open` hours after each `volume` of m3.
    Paced { volume: f64, open: f64 },
    /// A clock opens it for `open` hours in every `every` hours.
    Timer { every: f64, open: f64 },
    /// The valve is cracked open by hand.
    Cracked { opening: f64 },
    /// Opened by hand for `open` hours at each round.
    Round { open: f64 },
}

/// A drain-down for cleaning.
#[derive(Clone, Copy, Debug)]
pub struct Cleaning {
    /// Days from one to the next.
    pub every: usize,
    /// 5 for Saturday, 6 for Sunday.
    pub weekday: i64,
    /// Hour of the day.
    pub hour: f64,
    /// Part of the water that is drained.
    pub part: f64,
}

/// What makes the heat.
#[derive(Clone, Copy, Debug)]
pub enum Habit {
    /// Air conditioning: people and lights, the outdoor air, moisture; free cooling below `balance` °C.
    Comfort { inside: f64, outside: f64, moisture: f64, balance: f64 },
    /// Vessels that run batches; they stop at the weekend.
    Vessels { count: usize, hours: f64, shifts: usize, pumps_at_weekend: bool },
    /// Machines of one shift.
    Machines { from: f64, to: f64, pumps_at_night: bool },
}

/// Values of the site file, as the owner has them from nameplates and drawings. Volumes in m3 and hours.
#[derive(Clone, Debug)]
pub struct Plates {
    pub circulation: f64,
    pub hot: f64,
    pub cold: f64,
    pub dry_bulb: f64,
    pub wet_bulb: f64,
    pub volume: f64,
    pub water_to_air: f64,
    pub drift: f64,
    pub cycles: f64,
    pub valve_flow: f64,
    pub makeup_temperature: f64,
    pub share: f64,
    pub counterflow: bool,
}

/// A plant and everything about it that a log does not say.
#[derive(Clone, Debug)]
pub struct Works {
    pub plant: Plant,
    /// Of its own streams.
    pub seed: u64,
    /// Day number of the first row.
    pub start: i64,
    pub days: usize,
    pub climate: Climate,
    pub cells: Vec<Cell>,
    pub fill: Fill,
    /// Air of each stage of the fans, as a part of full air; the first is natural draught.
    pub stages: Vec<f64>,
    /// Cold water that the fans hold, °C.
    pub set_point: f64,
    /// Heat at full load, kW.
    pub heat: f64,
    pub habit: Habit,
    pub cleaning: Option<Cleaning>,
    pub basin: Basin,
    pub bleed: Bleed,
    /// Flow of the open blowdown valve, t/h.
    pub bleed_flow: f64,
    /// Hours from one dose of biocide to the next, and hours of locked bleed after it.
    pub lockout: Option<(f64, f64)>,
    /// Small leaks of glands and joints that every plant has, t/h.
    pub weeping: f64,
    /// Evaporation over that of the model.
    pub evaporation_bias: f64,
    pub sources: Vec<Source>,
    /// Conductivity at the target, as a true reading has it.
    pub target: f64,
    pub plates: Plates,
    pub book: Book,
}

/// Rounds to so many significant digits, as people state things.
pub fn stated(value: f64, digits: i32) -> f64 {
    if value == 0.0 {
        return 0.0;
    }
    let places = digits - 1 - value.abs().log10().floor() as i32;
    let scale = 10_f64.powi(places.abs());
    if places >= 0 { (value * scale).round() / scale } else { (value / scale).round() * scale }
}

/// Sizes that differ between the plants.
struct Size {
    cells: usize,
    heat: f64,
    range: f64,
    /// Minutes of circulation that the system holds.
    minutes: f64,
    cycles: f64,
    start: (i64, i64),
    stages: Vec<f64>,
}

fn size(random: &mut Random, plant: Plant) -> Size {
    let natural = random.between(0.07, 0.13);
    match plant {
        Plant::Chiller => Size {
            cells: 2,
            heat: 700.0 * 7_f64.powf(random.unit()),
            range: random.between(5.0, 6.0),
            minutes: random.between(6.0, 14.0),
            cycles: random.between(3.0, 6.0),
            // Most logs begin in spring, where there are days of hardly any load.
            start: if random.chance(0.6) { (60, 110) } else { (120, 170) },
            stages: random.pick(&[[natural, 0.5, 0.5, 1.0], [natural, 0.33, 0.67, 1.0]]).to_vec(),
        },
        Plant::Batches => Size {
            cells: random.whole(1, 3),
            heat: 500.0 * 9_f64.powf(random.unit()),
            range: random.between(6.0, 11.0),
            minutes: random.between(15.0, 40.0),
            cycles: random.between(2.5, 5.0),
            start: (60, 190),
            stages: random
                .pick(&[[natural, 0.5, 1.0].as_slice(), [natural, 1.0].as_slice()])
                .to_vec(),
        },
        Plant::Workshop => Size {
            cells: 1,
            heat: 80.0 * 6_f64.powf(random.unit()),
            range: random.between(4.5, 7.0),
            minutes: random.between(8.0, 25.0),
            cycles: random.between(2.0, 4.5),
            start: (70, 200),
            stages: vec![natural, 1.0],
        },
    }
}

fn habit(random: &mut Random, plant: Plant, climate: &Climate) -> Habit {
    match plant {
        Plant::Chiller => Habit::Comfort {
            inside: random.between(0.15, 0.32),
            outside: random.between(0.4, 0.6),
            moisture: random.between(0.1, 0.25),
            balance: (climate.normal(110.0) + random.between(0.0, 4.0)).clamp(11.0, 17.0),
        },
        Plant::Batches => Habit::Vessels {
            count: random.whole(2, 5),
            hours: random.between(4.0, 11.0),
            shifts: random.pick(&[2, 3, 3]),
            pumps_at_weekend: random.chance(0.4),
        },
        Plant::Workshop => Habit::Machines {
            from: random.between(5.5, 7.0),
            to: random.between(15.5, 18.0),
            pumps_at_night: random.chance(0.3),
        },
    }
}

/// Each week a part is renewed and the floor is hosed; each month the basin is emptied.
fn cleaning(random: &mut Random) -> Cleaning {
    let (every, least, most) = random.pick(&[(7, 0.12, 0.35), (14, 0.25, 0.55), (28, 0.4, 0.85)]);
    Cleaning {
        every,
        weekday: random.pick(&[5, 5, 6]),
        hour: random.between(15.0, 18.0),
        part: random.between(least, most),
    }
}

fn sources(random: &mut Random, plant: Plant) -> Vec<Source> {
    match plant {
        Plant::Batches => {
            vec![Source::draw(random, "well", true), Source::draw(random, "mains", false)]
        }
        _ => {
            let hard = random.chance(0.4);
            vec![Source::draw(random, if hard { "well" } else { "mains" }, hard)]
        }
    }
}

/// Parts of each source where the basin holds so many cycles.
fn parts(sources: &[Source], share: f64, cycles: f64) -> [f64; 2] {
    if sources.len() > 1 { [cycles * share, cycles * (1.0 - share)] } else { [cycles, 0.0] }
}

/// Cycles that the water allows: alkalinity below 10 meq/L and 3500 µS/cm, what treatments commonly bear.
fn allowed(sources: &[Source], share: f64, wanted: f64) -> f64 {
    let mut cycles = wanted;
    loop {
        let now = parts(sources, share, cycles);
        let alkalinity: f64 =
            sources.iter().zip(now).map(|(s, part)| s.in_basin[BICARBONATE] * part).sum();
        if cycles < 1.6 || (alkalinity < 10.0 && basin_conductivity(sources, now) < 3500.0) {
            return cycles;
        }
        cycles *= 0.97;
    }
}

fn bleed(
    random: &mut Random,
    plant: Plant,
    target: f64,
    cycles: f64,
    mean: f64,
    flow: f64,
) -> Bleed {
    match plant {
        Plant::Chiller => {
            Bleed::Controller { set: stated(target, 2), band: random.between(0.02, 0.07) }
        }
        Plant::Batches if random.chance(0.8) => {
            Bleed::Controller { set: stated(target, 2), band: random.between(0.02, 0.08) }
        }
        Plant::Batches => {
            // A pulse of the meter after each half to two hours of mean makeup.
            let volume = mean * cycles * random.between(0.5, 2.0);
            Bleed::Paced { volume, open: volume / cycles / flow }
        }
        Plant::Workshop => match random.whole(0, 3) {
            0 | 1 => {
                let every = random.pick(&[1.0, 2.0, 4.0]);
                Bleed::Timer { every, open: every * mean / flow }
            }
            2 => Bleed::Cracked { opening: mean / flow },
            _ => Bleed::Round { open: 24.0 * mean / flow },
        },
    }
}

impl Works {
    /// Draws a plant. `meter` says that it must have a blowdown meter.
    pub fn draw(plant: Plant, seed: u64, meter: bool) -> Works {
        let mut random = Random::stream(seed, plant.name());
        let random = &mut random;
        let climate = Climate::draw(random);
        let size = size(random, plant);
        let days = random.whole(70, 150);
        let year = 2024 + random.whole(0, 2) as i64;
        let new_year = day_number(Date { year, month: 1, day: 1 });
        let start = new_year + random.whole(size.start.0 as usize, size.start.1 as usize) as i64;

        // The design, as the maker of the tower had it: nameplates.
        let air = climate.design();
        let wet_bulb = (air.wet_bulb() * 2.0).round() / 2.0;
        let dry_bulb = (air.dry_bulb * 2.0).round() / 2.0;
        let design_air = Air::with_wet_bulb(dry_bulb, wet_bulb, air.pressure);
        let cold = wet_bulb + (random.between(4.0, 6.5) * 2.0).round() / 2.0;
        let range = (size.range * 2.0).round() / 2.0;
        let circulation = stated(size.heat / WATER_HEAT / range * 3.6, 2);
        let heat = circulation / 3.6 * WATER_HEAT * range;
        let water_to_air = stated(random.between(0.95, 1.6), 2);
        let cycles_wanted = size.cycles;
        let makeup_temperature =
            (climate.normal(204.0) * 0.4 + climate.normal(20.0) * 0.3 + 4.0).clamp(8.0, 22.0);
        let duty = Duty {
            dry_air: circulation / 3.6 / water_to_air,
            water: circulation / 3.6,
            heat,
            makeup_temperature,
            blowdown_share: 0.3,
        };
        let as_sold = fill_for(&design_air, &duty, random.between(-0.7, -0.45), cold);
        let drift = random.pick(&[0.001e-2, 0.002e-2, 0.005e-2]);

        // What stands there. Pumps and fans deliver what the pipework and the belts let them; fills foul.
        let off = random.normal_within(0.98, 0.06, 0.14);
        let cells: Vec<Cell> = (0..size.cells)
            .map(|_| Cell {
                circulation: circulation / size.cells as f64
                    * off
                    * random.normal_within(1.0, 0.03, 0.06)
                    * water_density(cold)
                    / 1000.0,
                air: duty.dry_air / size.cells as f64 * random.normal_within(0.98, 0.07, 0.15),
                drift: drift * 2.2_f64.powf(random.between(-1.0, 1.0)),
            })
            .collect();
        let fill = Fill { factor: as_sold.factor * random.between(0.85, 1.08), ..as_sold };
        let full: f64 = cells.iter().map(|cell| cell.circulation).sum();

        let sources = sources(random, plant);
        let share = if sources.len() > 1 { stated(random.between(0.4, 0.7), 1) } else { 1.0 };
        let cycles = stated(allowed(&sources, share, cycles_wanted), 2);
        let target = basin_conductivity(&sources, parts(&sources, share, cycles));

        // Evaporation at full load, about all heat as latent heat.
        let evaporation = heat / 2500.0 * 3.6;
        let blowdown = evaporation / (cycles - 1.0);
        let mean_load = match plant {
            Plant::Chiller => 0.25,
            Plant::Batches => 0.4,
            Plant::Workshop => 0.25,
        };
        let bleed_flow = stated(blowdown * random.between(1.8, 3.5), 3);
        let bleed = bleed(random, plant, target, cycles, blowdown * mean_load, bleed_flow);
        let volume = full * size.minutes / 60.0;
        let operating_level = stated(random.between(0.3, 0.5), 2);
        let area = stated(volume * random.between(0.4, 0.65) / operating_level, 2);
        let held_up = volume * random.between(0.08, 0.18);
        let basin = Basin {
            volume,
            area,
            operating_level,
            held_up,
            freeboard: 1.15 * held_up / area + random.between(0.06, 0.12),
            valve: (evaporation + blowdown) * random.between(1.8, 3.5),
            span: random.between(0.05, 0.14),
            play: random.between(0.02, 0.09),
            switched: plant == Plant::Chiller && random.chance(0.3),
        };
        let plates = Plates {
            circulation,
            hot: cold + range,
            cold,
            dry_bulb,
            wet_bulb,
            volume: stated(volume * random.between(0.75, 1.25), 2),
            water_to_air,
            drift,
            cycles,
            valve_flow: stated(bleed_flow * random.normal_within(1.0, 0.07, 0.15), 2),
            makeup_temperature: makeup_temperature.round(),
            share,
            counterflow: random.chance(0.6),
        };
        let mut works = Works {
            plant,
            seed: seed ^ plant.salt(),
            start,
            days,
            climate,
            cells,
            fill,
            stages: size.stages,
            set_point: (cold - random.between(1.0, 5.0)).clamp(16.0, 28.0),
            // The consumers were sized with a margin, or have grown.
            heat: heat * random.between(0.75, 1.05),
            habit: habit(random, plant, &climate),
            cleaning: (plant == Plant::Batches).then(|| cleaning(random)),
            basin,
            bleed,
            bleed_flow,
            lockout: (plant != Plant::Workshop && random.chance(0.6))
                .then(|| (random.pick(&[84.0, 168.0]), random.between(3.0, 10.0))),
            weeping: (evaporation + blowdown) * mean_load * random.between(0.0, 0.004),
            evaporation_bias: random.normal_within(1.0, 0.04, 0.09),
            sources,
            target,
            plates,
            book: Book::default(),
        };
        works.book = Book::draw(&works, meter);
        works
    }
}
