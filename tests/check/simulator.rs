//! A tower that is simulated day by day with physics of its own: evaporation from saturated exit air by
//! Magnus' formula, conductivity from PHREEQC's waters, instruments that err as they are said to.

use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use serde_json::Value;
use std::f64::consts::TAU;
use std::fmt::Write as _;

/// What goes wrong, and by how much: a part of the makeup, of the blowdown or of the reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    Loss(f64),
    Inflow(f64),
    BasinProbeLow(f64),
    MakeupMeterLow(f64),
    BlowdownMeterLow(f64),
    EvaporationHigher(f64),
    MakeupQualityUnread(f64),
    BlowdownStuckOpen(f64),
    /// By this part of what is needed too little.
    BlowdownStuckShut(f64),
}

/// What every fourth day is without.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rest {
    Nothing,
    Fans,
    Load,
    /// The basin stands lower.
    Level,
}

/// A log to be made.
#[derive(Debug, Clone, Copy)]
pub struct Trial {
    /// Row of tests/reference/conductivities.json.
    pub water: usize,
    /// Volume of the system over a day's makeup.
    pub volume_days: f64,
    /// Random error of either conductivity, of the meters half of it.
    pub repeatability: f64,
    pub days: usize,
    pub fault: Option<Fault>,
    /// Day on which it begins.
    pub begins: usize,
    /// Day from which on it is mended.
    pub ends: usize,
    /// Whether chloride is titrated once, a week after the fault began.
    pub titration: bool,
    pub rest: Rest,
    /// Whether a loss rests too.
    pub loss_rests: bool,
    pub seed: u64,
}

const CYCLES: f64 = 4.0;
const NOMINAL_MAKEUP: f64 = 78.0;
const CIRCULATION: f64 = 270.0;
const WATER_TO_AIR: f64 = 1.2;
const DRIFT: f64 = 24.0 * 2e-5 * CIRCULATION;
/// Limits of constant errors; evaporation's covers what the two methods differ by.
const METER: f64 = 0.015;
const CONDUCTIVITY: f64 = 0.03;
const CHLORIDE: f64 = 0.05;
const EVAPORATION: f64 = 0.14;
const RANDOM_EVAPORATION: f64 = 0.03;
const RANDOM_CHLORIDE: f64 = 0.02;

pub fn waters() -> Vec<Value> {
    let text = include_str!("../reference/conductivities.json");
    let whole: Value = serde_json::from_str(text).unwrap();
    whole["rows"].as_array().unwrap().clone()
}

/// The site file of a trial.
pub fn site(trial: &Trial, waters: &[Value]) -> String {
    let water = &waters[trial.water];
    let total = |key: &str| water["totals_mmol"][key].as_f64().unwrap();
    let mut analysis = format!(
        "ph = {}\nconductivity = \"{} uS/cm\"\nalkalinity = \"{} meq/L\"\n",
        water["makeup_ph"],
        water["makeup"],
        total("Alk")
    );
    for (name, key) in [
        ("calcium", "Ca"),
        ("magnesium", "Mg"),
        ("sodium", "Na"),
        ("potassium", "K"),
        ("chloride", "Cl"),
        ("sulfate", "SO4"),
        ("fluoride", "F"),
        ("silica", "SiO2"),
    ] {
        writeln!(analysis, "{name} = \"{} mmol/L\"", total(key)).unwrap();
    }
    let ph = match water["held_ph"].as_f64() {
        Some(ph) => format!("[ph]\nheld = {ph}\nlog10_carbon_dioxide = -3.0\n"),
        None => "[ph]\nlog10_carbon_dioxide = -3.0\n".into(),
    };
    let quality_is_read = !matches!(trial.fault, Some(Fault::MakeupQualityUnread(_)));
    let mut columns = String::new();
    for (name, is, unit) in [
        ("makeup", "makeup_register", "m3"),
        ("blowdown", "blowdown_register", "m3"),
        ("fresh", "makeup_conductivity", "uS/cm"),
        ("basin", "basin_conductivity", "uS/cm"),
        ("hot", "hot_water", "degC"),
        ("cold", "cold_water", "degC"),
        ("dry", "dry_bulb", "degC"),
        ("wet", "wet_bulb", "degC"),
        ("fans", "fan_hours", "h"),
        ("level", "basin_level", "m"),
        ("chloride fresh", "makeup_chloride", "mg/L"),
        ("chloride basin", "basin_chloride", "mg/L"),
    ] {
        if (is == "makeup_conductivity" && !quality_is_read)
            || (is.ends_with("_chloride") && !trial.titration)
            || (is == "fan_hours" && trial.rest != Rest::Fans)
            || (is == "basin_level" && trial.rest != Rest::Level)
        {
            continue;
        }
        write!(columns, "[[log.column]]\nname = \"{name}\"\nis = \"{is}\"\nunit = \"{unit}\"\n")
            .unwrap();
    }
    let percent = |part: f64| format!("\"{} %\"", 100.0 * part);
    format!(
        "coldbasin = 1\nname = \"Trial (invented)\"\n\
         [air]\ndry_bulb = \"25 degC\"\nwet_bulb = \"19 degC\"\n\
         [circuit]\ncirculation = \"{CIRCULATION} m3/h\"\nhot_water = \"31 degC\"\ncold_water = \"25 degC\"\n\
         volume = \"{} m3\"\n\
         [[cell]]\narrangement = \"counterflow\"\nwater_to_air = {WATER_TO_AIR}\ndrift = \"0.002 %\"\n\
         [blowdown]\ncycles = {CYCLES}\ncontrol = \"conductivity\"\n\
         [[makeup]]\n[makeup.analysis]\n{analysis}{ph}\
         [log]\ntime = \"time\"\n{columns}\
         [log.accuracy]\nmakeup = {meter}\nblowdown = {meter}\nconductivity = {}\nchloride = {}\n\
         evaporation = {}\n\
         [log.repeatability]\nmakeup = {half}\nblowdown = {half}\nconductivity = {}\nchloride = {}\n\
         evaporation = {}\n",
        trial.volume_days * NOMINAL_MAKEUP,
        percent(CONDUCTIVITY),
        percent(CHLORIDE),
        percent(EVAPORATION),
        percent(trial.repeatability),
        percent(RANDOM_CHLORIDE),
        percent(RANDOM_EVAPORATION),
        meter = percent(METER),
        half = percent(0.5 * trial.repeatability),
    )
}

/// Chance, addressed by a seed.
struct Chance(StdRng);

impl Chance {
    fn normal(&mut self, deviation: f64) -> f64 {
        let (radius, turn): (f64, f64) = (self.0.random(), self.0.random());
        deviation * (-2.0 * (1.0 - radius).ln()).sqrt() * (TAU * turn).cos()
    }

    fn within(&mut self, limit: f64) -> f64 {
        limit * (2.0 * self.0.random::<f64>() - 1.0)
    }

    fn factor(&mut self, deviation: f64) -> f64 {
        1.0 + self.normal(deviation)
    }
}

/// Saturated humidity ratio at sea level (Magnus' formula, from memory), kg/kg.
fn saturated(celsius: f64) -> f64 {
    let vapour = 611.2 * (17.62 * celsius / (243.12 + celsius)).exp();
    0.622 * vapour / (101_325.0 - vapour)
}

fn enthalpy(celsius: f64, humidity_ratio: f64) -> f64 {
    1.006e3 * celsius + humidity_ratio * (2.501e6 + 1.86e3 * celsius)
}

/// A day's evaporation, m3, when the air leaves saturated.
fn evaporation(hot: f64, cold: f64, dry: f64, wet: f64) -> f64 {
    let entering = saturated(wet) - 1.006e3 * (dry - wet) / 2.45e6;
    let leaves = enthalpy(dry, entering) + WATER_TO_AIR * 4.19e3 * (hot - cold);
    let (mut low, mut high) = (wet, hot + 20.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if enthalpy(middle, saturated(middle)) < leaves { low = middle } else { high = middle }
    }
    24.0 * CIRCULATION / WATER_TO_AIR * (saturated(low) - entering)
}

/// The log of a trial, and the loss or error in m3/d where the fault is a flow.
pub fn log(trial: &Trial, waters: &[Value]) -> (String, f64) {
    let mut chance = Chance(StdRng::seed_from_u64(trial.seed));
    let points: Vec<[f64; 2]> = waters[trial.water]["points"]
        .as_array()
        .unwrap()
        .iter()
        .map(|point| [point[0].as_f64().unwrap(), point[1].as_f64().unwrap()])
        .collect();
    let fresh = waters[trial.water]["makeup"].as_f64().unwrap();
    let chloride = 35.453 * waters[trial.water]["totals_mmol"]["Cl"].as_f64().unwrap();
    let shown_at = |cycles: f64| straight(&points, cycles, 0, 1);
    let cycles_at = |shown: f64| straight(&points, shown, 1, 0);
    let set_point = shown_at(CYCLES);
    let [makeup_error, blowdown_error] = [chance.within(METER), chance.within(METER)];
    let [fresh_error, basin_error] = [chance.within(CONDUCTIVITY), chance.within(CONDUCTIVITY)];
    let [fresh_chloride_error, basin_chloride_error] =
        [chance.within(CHLORIDE), chance.within(CHLORIDE)];
    let evaporation_error = chance.within(0.8 * EVAPORATION);
    let volume = trial.volume_days * NOMINAL_MAKEUP;
    let meter = 0.5 * trial.repeatability;
    let mut text = String::from(
        "time,makeup,blowdown,fresh,basin,hot,cold,dry,wet,chloride fresh,chloride basin,fans,level\n",
    );
    let (mut registers, mut fan_hours, mut cycles) = ([10_000.0, 2_000.0], 500.0, CYCLES);
    let (mut warmth, mut size, mut lasting) = (0.0, 0.0, 0);
    for day in 0..=trial.days {
        let is_faulty =
            |day: usize| trial.fault.filter(|_| (trial.begins..trial.ends).contains(&day));
        // What stands at six in the morning, before this day.
        let yesterday = day.checked_sub(1).and_then(is_faulty);
        let quality = match yesterday {
            Some(Fault::MakeupQualityUnread(part)) => 1.0 - part,
            _ => 1.0,
        };
        let probe = match yesterday {
            Some(Fault::BasinProbeLow(part)) => 1.0 - part,
            _ => 1.0,
        };
        let seen = shown_at(cycles) * probe * (1.0 + basin_error);
        let mut titrated = String::from(",");
        if trial.titration && day == trial.begins + 7 {
            let fresh = chloride * (1.0 + fresh_chloride_error) * chance.factor(RANDOM_CHLORIDE);
            let basin =
                chloride * cycles * (1.0 + basin_chloride_error) * chance.factor(RANDOM_CHLORIDE);
            titrated = format!("{fresh:.2},{basin:.2}");
        }
        let morning = date(day);
        writeln!(
            text,
            "{morning} 06:00,{:.3},{:.3},{:.2},{:.2},,,,,{titrated},{fan_hours},",
            registers[0],
            registers[1],
            fresh * quality * (1.0 + fresh_error) * chance.factor(trial.repeatability),
            seen * chance.factor(trial.repeatability),
        )
        .unwrap();
        let fault = is_faulty(day);
        warmth = 0.7 * warmth + chance.normal(1.3);
        let (wet, load) = (19.0 + warmth, 0.9 + chance.within(0.15));
        let dry = wet + 6.0 + chance.normal(0.8);
        let (range, cold) = (6.0 * load, wet + 5.5 * load);
        let rests = trial.rest != Rest::Nothing && day % 4 == 3;
        let is_off = rests && trial.rest == Rest::Load;
        let hot = if is_off { cold } else { cold + range };
        let level = if rests { 0.35 } else { 0.50 };
        fan_hours += if rests { 0.0 } else { 24.0 };
        let higher = match fault {
            Some(Fault::EvaporationHigher(part)) => 1.0 + part,
            _ => 1.0,
        };
        let evaporated = if is_off { 4.0 } else { evaporation(hot, cold, dry, wet) }
            * higher
            * (1.0 + evaporation_error)
            * chance.factor(RANDOM_EVAPORATION);
        writeln!(text, "{morning} 18:00,,,,,{hot:.2},{cold:.2},{dry:.2},{wet:.2},,,,{level}")
            .unwrap();
        let lost = match fault {
            Some(Fault::Loss(_)) if rests && trial.loss_rests => 0.0,
            Some(Fault::Loss(part)) => part * NOMINAL_MAKEUP,
            Some(Fault::Inflow(part)) => -part * NOMINAL_MAKEUP,
            _ => 0.0,
        };
        // The controller brings what its probe sees to the set point, within half a per cent.
        let (incoming, probe) = match fault {
            Some(Fault::MakeupQualityUnread(part)) => (1.0 - part, 1.0),
            Some(Fault::BasinProbeLow(part)) => (1.0, 1.0 - part),
            _ => (1.0, 1.0),
        };
        let wanted = cycles_at(set_point * chance.factor(0.005) / probe);
        // Cycles are over the makeup of the first day; what comes in may have fewer salts, and the basin
        // follows as its water is exchanged.
        let leaving = (evaporated * incoming - volume * (wanted - cycles))
            / (0.5 * (wanted + cycles) - incoming);
        let stuck = match fault {
            Some(Fault::BlowdownStuckOpen(part)) => (1.0 + part) * evaporated / (CYCLES - 1.0),
            _ => 0.0,
        };
        // The loss takes what the controller would have drained.
        let least = (lost.max(0.0) + DRIFT).max(stuck + DRIFT);
        let leaving = match fault {
            Some(Fault::BlowdownStuckShut(part)) => {
                (1.0 - part) * evaporated / (CYCLES - 1.0) + DRIFT
            }
            _ => leaving.max(least),
        };
        let before = cycles;
        // d(V c) = makeup's salts - leaving * mean cycles.
        cycles = (volume * before + incoming * (evaporated + leaving) - 0.5 * leaving * before)
            / (volume + 0.5 * leaving);
        let blowdown = (leaving - lost.max(0.0) - DRIFT).max(0.0);
        let makeup = evaporated + leaving + lost.min(0.0);
        let meters = match fault {
            Some(Fault::MakeupMeterLow(part)) => [1.0 - part, 1.0],
            Some(Fault::BlowdownMeterLow(part)) => [1.0, 1.0 - part],
            _ => [1.0, 1.0],
        };
        registers[0] += makeup * meters[0] * (1.0 + makeup_error) * chance.factor(meter);
        registers[1] += blowdown * meters[1] * (1.0 + blowdown_error) * chance.factor(meter);
        if let Some(fault) = fault {
            lasting += 1;
            size += match fault {
                Fault::Loss(_) | Fault::Inflow(_) => lost,
                Fault::MakeupMeterLow(part) => -part * makeup,
                Fault::BlowdownMeterLow(part) => part * blowdown,
                Fault::EvaporationHigher(part) => -evaporated * part / (1.0 + part),
                Fault::BasinProbeLow(part) | Fault::MakeupQualityUnread(part) => -part,
                Fault::BlowdownStuckOpen(_) | Fault::BlowdownStuckShut(_) => {
                    blowdown - (evaporated / (CYCLES - 1.0) - DRIFT)
                }
            };
        }
    }
    (text, if lasting > 0 { size / f64::from(lasting) } else { 0.0 })
}

fn date(day: usize) -> String {
    const BEFORE: [(usize, usize); 4] = [(0, 4), (30, 5), (61, 6), (91, 7)];
    let (before, month) = BEFORE.into_iter().rev().find(|(before, _)| day >= *before).unwrap();
    format!("2026-{month:02}-{:02}", day - before + 1)
}

/// A value between points, straight, and on beyond their ends.
fn straight(points: &[[f64; 2]], at: f64, from: usize, to: usize) -> f64 {
    let after = points.iter().filter(|point| point[from] < at).count().clamp(1, points.len() - 1);
    let [low, high] = [points[after - 1], points[after]];
    low[to] + (at - low[from]) / (high[from] - low[from]) * (high[to] - low[to])
}
