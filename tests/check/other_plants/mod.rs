//! Logs of plants that are not those of the other simulator: a chiller plant, a batch process, a workshop.
//!
//! True water and salts of each plant are followed in steps of two minutes; the log is what its instruments and
//! people make of them. All physics is written here from published formulas (named in each file) and shares nothing
//! with the library that it judges. All plants are invented.

mod air;
mod book;
mod calendar;
mod load;
mod plant;
mod random;
mod run;
mod site;
mod slips;
mod tower;
mod water;
mod weather;

use plant::Works;
use random::Random;
use run::{Course, Run, Surroundings, Trouble};
use slips::Hardware;

/// Which plant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Plant {
    /// Air conditioning: load by season, weekday and night; two towers with fans in stages, one of which often rests.
    Chiller,
    /// Batch process: stops at weekends, drain-downs for cleaning, makeup blended from two sources.
    Batches,
    /// Small: one reader from Monday to Friday, a pen without temperature compensation, a clock or a hand on the bleed.
    Workshop,
}

/// What is wrong, or what has changed though nothing is wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    Healthy,
    /// The consumers give 20 % more heat: no fault.
    LoadUp,
    /// The makeup carries 15 % more salts: no fault.
    QualityUp,
    /// Circulating water is lost unmetered: so many per cent of the mean makeup of the log without it.
    Loss(f64),
    /// The blowdown meter reads 15 % low.
    BlowdownMeterLow,
    /// The makeup meter reads 8 % low.
    MakeupMeterLow,
    /// The basin's probe (of the workshop: the pen) reads lower and lower.
    BasinProbeDrift,
    /// The blowdown valve does not close any more: dirt holds it a fifth to four fifths open while pumps run.
    BleedStuckOpen,
    /// The blowdown valve does not open any more. From 1.9 times the target's conductivity on, somebody opens the bypass
    /// by day, which the meter sees.
    BleedStuckShut,
}

/// What is true.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Truth {
    pub fault: Fault,
    /// Days since the midnight before the first row.
    pub begins_day: Option<f64>,
    /// Of a loss: its full rate. Of a stuck bleed: mean blowdown since then, less what it would have been.
    pub size_m3_per_day: Option<f64>,
    /// Of a meter or a probe: how low it reads (a probe at the log's end). Of load and quality: how much they rise.
    pub size_percent: Option<f64>,
    pub days: usize,
}

/// A plant's site file and log, with what is true.
pub struct Simulated {
    pub name: String,
    /// TOML.
    pub site: String,
    /// CSV.
    pub log: String,
    pub truth: Truth,
}

impl Plant {
    /// In file names.
    pub fn name(self) -> &'static str {
        match self {
            Plant::Chiller => "chiller",
            Plant::Batches => "batches",
            Plant::Workshop => "workshop",
        }
    }

    /// Sets the streams of the plants apart.
    fn salt(self) -> u64 {
        (self as u64 + 1) << 40
    }
}

impl Fault {
    /// In file names.
    pub fn name(self) -> &'static str {
        match self {
            Fault::Healthy => "healthy",
            Fault::LoadUp => "load_up",
            Fault::QualityUp => "quality_up",
            Fault::Loss(_) => "loss",
            Fault::BlowdownMeterLow => "blowdown_meter_low",
            Fault::MakeupMeterLow => "makeup_meter_low",
            Fault::BasinProbeDrift => "basin_probe_drift",
            Fault::BleedStuckOpen => "bleed_stuck_open",
            Fault::BleedStuckShut => "bleed_stuck_shut",
        }
    }
}

/// Draws when and how a fault comes, with all but the rate of a loss. The stream is the fault's own, so that the plant
/// is the same without it.
fn trouble(works: &Works, fault: Fault) -> Trouble {
    let mut random = Random::stream(works.seed, fault.name());
    let begins = 24.0 * random.between(30.0, works.days as f64 - 25.0);
    let mut trouble = Trouble { fault, begins, size: 0.0, grows: 0.0, with_pumps: false };
    match fault {
        Fault::Healthy => trouble.begins = f64::INFINITY,
        Fault::LoadUp => trouble.size = 0.20,
        Fault::QualityUp => {
            trouble.size = 0.15;
            trouble.grows = random.between(6.0, 48.0);
        }
        // A joint gives way; corrosion or a scored gland grows; a pipe leaks that is under pressure only while pumps
        // run.
        Fault::Loss(_) => match random.whole(0, 9) {
            0..=5 => {}
            6 | 7 => trouble.grows = 24.0 * random.between(2.0, 10.0),
            _ => trouble.with_pumps = true,
        },
        Fault::BlowdownMeterLow => {
            trouble.size = 0.15;
            trouble.grows = 24.0 * random.pick(&[0.0, 0.0, 4.0]);
        }
        Fault::MakeupMeterLow => {
            trouble.size = 0.08;
            trouble.grows = 24.0 * random.pick(&[0.0, 0.0, 4.0]);
        }
        Fault::BasinProbeDrift => {
            trouble.size = random.between(0.15, 0.25);
            trouble.grows = trouble.size / random.between(0.005, 0.012) * 24.0;
        }
        Fault::BleedStuckOpen => trouble.size = 0.2 * 4_f64.powf(random.unit()),
        Fault::BleedStuckShut => {}
    }
    trouble
}

/// What happened to a plant.
struct Story {
    course: Course,
    truth: Truth,
}

/// Runs a plant with a fault.
fn story(works: &Works, hardware: &Hardware, fault: Fault) -> Story {
    let mut trouble = trouble(works, fault);
    let around = Surroundings::new(works, &trouble);
    let healthy = Trouble { fault: Fault::Healthy, begins: f64::INFINITY, ..trouble };
    // Losses and stuck valves are measured by what there would have been without them.
    let compared = matches!(fault, Fault::Loss(_) | Fault::BleedStuckOpen | Fault::BleedStuckShut);
    let sound = compared.then(|| Run::new(works, &around, healthy, hardware).course().totals);
    let hours = 24.0 * works.days as f64;
    let mut rate = None;
    if let (Fault::Loss(percent), Some(sound)) = (fault, sound) {
        let loss = percent / 100.0 * sound.makeup / hours;
        rate = Some(24.0 * loss);
        trouble.size =
            if trouble.with_pumps { loss / around.pumps_after(trouble.begins) } else { loss };
    }
    let course = Run::new(works, &around, trouble, hardware).course();
    if let (Fault::BleedStuckOpen | Fault::BleedStuckShut, Some(sound)) = (fault, sound) {
        // They are the same until it begins.
        rate = Some(24.0 * (course.totals.blowdown - sound.blowdown) / (hours - trouble.begins));
    }
    let percent = match fault {
        Fault::BasinProbeDrift => Some(100.0 * course.probe_drift),
        Fault::LoadUp | Fault::QualityUp | Fault::BlowdownMeterLow | Fault::MakeupMeterLow => {
            Some(100.0 * trouble.size)
        }
        _ => None,
    };
    let truth = Truth {
        fault,
        begins_day: trouble.begins.is_finite().then_some(trouble.begins / 24.0),
        size_m3_per_day: rate,
        size_percent: percent,
        days: works.days,
    };
    Story { course, truth }
}

/// Makes one log. The same arguments give the same log, on every machine.
///
/// The same seed gives the same plant and weather with every fault; only with [`Fault::BlowdownMeterLow`] the plant
/// surely has a blowdown meter.
pub fn simulate(plant: Plant, fault: Fault, seed: u64) -> Simulated {
    let works = Works::draw(plant, seed, fault == Fault::BlowdownMeterLow);
    let hardware = Hardware::draw(&works);
    let Story { course, truth } = story(&works, &hardware, fault);
    let rows = slips::write(&works, &course.readings, &course.cleanings);
    Simulated {
        name: format!("{}-{}-{seed}", plant.name(), fault.name()),
        site: site::site(&works),
        log: site::table(&works, &rows),
        truth,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLANTS: [Plant; 3] = [Plant::Chiller, Plant::Batches, Plant::Workshop];
    const FAULTS: [Fault; 9] = [
        Fault::Healthy,
        Fault::LoadUp,
        Fault::QualityUp,
        Fault::Loss(6.0),
        Fault::BlowdownMeterLow,
        Fault::MakeupMeterLow,
        Fault::BasinProbeDrift,
        Fault::BleedStuckOpen,
        Fault::BleedStuckShut,
    ];

    fn course(plant: Plant, fault: Fault, seed: u64) -> (Works, Truth, Course) {
        let works = Works::draw(plant, seed, fault == Fault::BlowdownMeterLow);
        let hardware = Hardware::draw(&works);
        let Story { course, truth } = story(&works, &hardware, fault);
        (works, truth, course)
    }

    #[test]
    fn true_water_and_salts_close() {
        for plant in PLANTS {
            for (seed, fault) in FAULTS.into_iter().enumerate() {
                let (_, _, course) = course(plant, fault, seed as u64);
                let t = course.totals;
                let out = t.evaporation
                    + t.blowdown
                    + t.drift
                    + t.weeping
                    + t.loss
                    + t.drained
                    + t.overflow;
                let open = course.water.0 + t.makeup + t.rain - out - course.water.1;
                assert!(open.abs() < 1e-9 * t.makeup, "{plant:?} {fault:?}: {open}");
                for k in 0..2 {
                    let open =
                        course.salts.0[k] + t.salts_in[k] - t.salts_out[k] - course.salts.1[k];
                    assert!(open.abs() <= 1e-9 * t.salts_in[k], "{plant:?} {fault:?}: {open}");
                }
            }
        }
    }

    #[test]
    fn healthy_plants_are_plausible() {
        for plant in PLANTS {
            for seed in 0..12 {
                let (works, _, course) = course(plant, Fault::Healthy, seed);
                let t = course.totals;
                // Nothing overflows, but for the rain of weeks in a basin that stands idle.
                assert!(
                    t.overflow <= t.rain && t.overflow < 0.002 * t.makeup,
                    "{plant:?} {seed}: {}",
                    t.overflow
                );
                // The basin stays in its walls; drained only for cleaning.
                let emptied = works.cleaning.map_or(0.0, |cleaning| cleaning.part)
                    * works.basin.volume
                    / works.basin.area;
                assert!(course.level.0 > -emptied - 0.25, "{plant:?} {seed}: {:?}", course.level);
                let cycles = t.makeup / (t.makeup - t.evaporation);
                let least = if plant == Plant::Batches { 1.3 } else { 1.5 };
                assert!(cycles > least && cycles < 8.0, "{plant:?} {seed}: {cycles}");
                assert!(
                    course.conductivity.1 < 2.2 * works.target,
                    "{plant:?} {seed}: {:?}",
                    course.conductivity
                );
                assert!(
                    t.drift < 0.05 * t.makeup && t.weeping < 0.03 * t.makeup,
                    "{plant:?} {seed}"
                );
            }
        }
    }

    #[test]
    fn faults_do_what_they_say() {
        for plant in PLANTS {
            let (_, truth, lost) = course(plant, Fault::Loss(6.0), 7);
            let (works, _, sound) = course(plant, Fault::Healthy, 7);
            let days = works.days as f64 - truth.begins_day.unwrap();
            let size = truth.size_m3_per_day.unwrap();
            assert!(
                (size / (sound.totals.makeup / works.days as f64) - 0.06).abs() < 1e-9,
                "{plant:?}"
            );
            assert!(
                lost.totals.loss > 0.6 * size * days && lost.totals.loss < 1.3 * size * days,
                "{plant:?}"
            );

            let (_, truth, _) = course(plant, Fault::BleedStuckOpen, 7);
            assert!(truth.size_m3_per_day.unwrap() > 0.0, "{plant:?}");
            let (works, truth, shut) = course(plant, Fault::BleedStuckShut, 7);
            assert!(truth.size_m3_per_day.unwrap() < 0.0, "{plant:?}");
            assert!(shut.conductivity.1 > 1.3 * works.target, "{plant:?}");
        }
    }

    #[test]
    fn the_same_arguments_give_the_same_log() {
        for plant in PLANTS {
            let (one, two) =
                (simulate(plant, Fault::Loss(6.0), 5), simulate(plant, Fault::Loss(6.0), 5));
            assert_eq!(one.log, two.log);
            assert_eq!(one.site, two.site);
            assert_ne!(one.log, simulate(plant, Fault::Loss(6.0), 6).log);
        }
    }

    /// For people who want to see what is drawn: `cargo test portrait -- --ignored --nocapture`.
    #[test]
    #[ignore = "prints a table"]
    fn portrait() {
        for plant in PLANTS {
            println!(
                "{plant:?}: makeup t/d, parts of it: evaporation, blowdown, drift, weeping, drained; cycles, target"
            );
            for seed in 0..15 {
                let (works, _, course) = course(plant, Fault::Healthy, seed);
                let t = course.totals;
                let full: f64 = works.cells.iter().map(|cell| cell.circulation).sum();
                println!(
                    "{seed:3} {:7.2} {:.3} {:.3} {:.4} {:.4} {:.3}  {:.2} {:.1}  {:4.0} to {:4.0} of {:4.0} uS/cm  \
                     level {:+.2} to {:+.2} m  water {:5.1} t in {:5.0} t/h",
                    t.makeup / works.days as f64,
                    t.evaporation / t.makeup,
                    t.blowdown / t.makeup,
                    t.drift / t.makeup,
                    t.weeping / t.makeup,
                    t.drained / t.makeup,
                    t.makeup / (t.makeup - t.evaporation),
                    works.plates.cycles,
                    course.conductivity.0,
                    course.conductivity.1,
                    works.target,
                    course.level.0,
                    course.level.1,
                    works.basin.volume,
                    full,
                );
            }
        }
    }
}
