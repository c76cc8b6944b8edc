//! Which single cause, since which day, explains what the balances of solids and of water and heat
//! leave over, and how sure that is.
//!
//! Everything that a log shows is put into two numbers a period. A Gaussian model with lasting wander,
//! its scale taken from the log itself, says how they go on by themselves. Each cause is a change that
//! begins on some day. The weight of evidence for some fault since some day, against no fault, decides:
//! as a likelihood ratio of a mixture it exceeds 1/x with a chance of at most x, however often one looks
//! (Ville 1939, from memory; Robbins 1970, Ann. Math. Stat. 41, 1397, from memory).

mod cause;
mod gaussian;
mod healthy;
mod search;

pub use cause::{Cause, Course, RAMP_DAYS};
pub use search::{
    CERTAIN, Changed, Explains, Fault, Found, LEAST_AFTER, LEAST_BEFORE, LEAST_BEFORE_RARE,
    LEAST_DAYS_BEFORE, detect, solids_left,
};

/// What was read from one reading of the registers to the next. Flows are m3/d, times are days from any
/// fixed day.
#[derive(Debug, Clone, PartialEq)]
pub struct Observed {
    /// When it begins.
    pub begin: f64,
    /// When it ends.
    pub end: f64,
    /// Makeup, m3/d.
    pub makeup: f64,
    /// Blowdown, m3/d.
    pub blowdown: f64,
    /// Drift and losses that are known, m3/d.
    pub drift: f64,
    /// Water that the basin gained, m3/d.
    pub stored: f64,
    /// The same for the balance of solids: its level belongs to the minutes of the conductivities.
    pub stored_with_solids: f64,
    /// What heat and weather ask for, m3/d; none where they are not known.
    pub evaporation: Option<f64>,
    /// Concentration of the makeup, in any unit that is conserved.
    pub makeup_concentration: f64,
    /// Which of the makeup's readings it is.
    pub makeup_reading: usize,
    /// Days since that reading, where it is rarely read; else 0.
    pub makeup_reading_age: f64,
    /// Concentration of the basin at the begin and at the end, in the makeup's unit.
    pub basin: [f64; 2],
    /// Which of the basin's readings they are.
    pub basin_reading: [usize; 2],
    /// Cold water, degC.
    pub cold_water: Option<f64>,
    /// Wet bulb, degC.
    pub wet_bulb: Option<f64>,
    /// Part of it that falls on a weekend.
    pub weekend: f64,
    /// How often the makeup's register was replaced before.
    pub makeup_meter: usize,
    /// Whether the balance of solids says anything.
    pub counts_in_solids: bool,
    /// Whether the balance of water and heat says anything.
    pub counts_in_heat: bool,
}

/// What the detector has to know of the plant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plant {
    /// Water in the system, m3.
    pub volume: f64,
    /// Whether the blowdown is a valve's hours times its rated flow.
    pub blowdown_by_valve: bool,
    /// Whether blowdown and a tracer are read: the balance of solids says nothing without.
    pub solids_are_read: bool,
    /// Whether the makeup's quality is read so rarely that it may change between two readings.
    pub makeup_rarely_read: bool,
}

impl Observed {
    fn days(&self) -> f64 {
        self.end - self.begin
    }

    fn middle(&self) -> f64 {
        0.5 * (self.begin + self.end)
    }

    fn basin_mean(&self) -> f64 {
        0.5 * (self.basin[0] + self.basin[1])
    }

    /// Cycles of concentration.
    fn cycles(&self) -> f64 {
        self.basin_mean() / self.makeup_concentration
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers between -1 and 1, the same on every machine.
    struct Noise(u64);

    impl Noise {
        fn next(&mut self) -> f64 {
            self.0 = self
                .0
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 11) as f64 / (1u64 << 52) as f64 - 1.0
        }

        fn normal(&mut self) -> f64 {
            (0..6).map(|_| self.next()).sum::<f64>() / 2f64.sqrt()
        }
    }

    const PLANT: Plant = Plant {
        volume: 30.0,
        blowdown_by_valve: false,
        solids_are_read: true,
        makeup_rarely_read: false,
    };
    const CYCLES: f64 = 4.0;

    /// A tower under a conductivity controller, read once a day; `loss` by day in m3/d, `probe` what the
    /// basin's probe shows of the truth, `heat` what evaporates of what heat asks for.
    fn log(days: usize, seed: u64, of: impl Fn(f64) -> (f64, f64, f64)) -> Vec<Observed> {
        let mut noise = Noise(seed);
        let mut basin = CYCLES;
        (0..days)
            .map(|day| {
                let (loss, probe, heat) = of(day as f64);
                let needed = 60.0 * (1.0 + 0.1 * noise.normal());
                let evaporation = needed * heat;
                let truth = CYCLES / probe;
                let before = basin;
                basin = truth * probe * (1.0 + 0.01 * noise.normal());
                let makeup = evaporation * truth / (truth - 1.0);
                let blowdown = makeup - evaporation - loss;
                Observed {
                    begin: day as f64,
                    end: day as f64 + 1.0,
                    makeup: makeup * (1.0 + 0.004 * noise.normal()),
                    blowdown: blowdown * (1.0 + 0.004 * noise.normal()),
                    drift: 0.0,
                    stored: 0.0,
                    stored_with_solids: 0.0,
                    evaporation: Some(needed * (1.0 + 0.03 * noise.normal())),
                    makeup_concentration: 1.0 + 0.005 * noise.normal(),
                    makeup_reading: day,
                    makeup_reading_age: 0.0,
                    basin: [before, basin],
                    basin_reading: [day, day + 1],
                    cold_water: Some(25.0),
                    wet_bulb: Some(18.0),
                    weekend: 0.0,
                    makeup_meter: 0,
                    counts_in_solids: true,
                    counts_in_heat: true,
                }
            })
            .collect()
    }

    #[test]
    fn a_healthy_log_has_no_fault() {
        for seed in 0..8 {
            let found = detect(&log(90, seed, |_| (0.0, 1.0, 1.0)), &PLANT);
            assert!(found.faults.is_empty(), "seed {seed}: {:?}", found.faults);
        }
    }

    #[test]
    fn a_loss_is_found_within_days_with_its_cause_begin_and_size() {
        let mut right = 0;
        for seed in 0..6 {
            let leak = |day: f64| (if day >= 50.0 { 5.0 } else { 0.0 }, 1.0, 1.0);
            let found = detect(&log(80, seed, leak), &PLANT);
            let fault = found.faults.first().expect("a leak of 6 % is found");
            assert!((50..64).contains(&fault.found), "seed {seed}: {fault:?}");
            let size = fault.causes[0].size * found.typical_makeup;
            let is_right = fault.causes[0].cause == Cause::Loss
                && fault.begins.abs_diff(50) <= 3
                && (size / 5.0 - 1.0).abs() < 0.25;
            right += usize::from(is_right);
            assert_eq!(fault.over, None, "seed {seed}");
        }
        assert!(right >= 5, "{right} of 6");
    }

    #[test]
    fn a_fouled_probe_is_told_from_a_loss() {
        let mut right = 0;
        for seed in 0..6 {
            let fouls = |day: f64| (0.0, 1.0 - 0.15 * ((day - 30.0) / 40.0).clamp(0.0, 1.0), 1.0);
            let found = detect(&log(80, seed, fouls), &PLANT);
            let fault = found.faults.first().expect("a probe that reads 15 % low is found");
            right += usize::from(fault.causes[0].cause == Cause::BasinProbe);
        }
        assert!(right >= 5, "{right} of 6");
    }

    #[test]
    fn more_load_than_heat_says_is_a_change_and_no_fault() {
        for seed in 0..6 {
            let found = detect(
                &log(90, seed, |day| (0.0, 1.0, if day >= 45.0 { 1.2 } else { 1.0 })),
                &PLANT,
            );
            assert!(found.faults.is_empty(), "seed {seed}: {:?}", found.faults);
            assert_eq!(found.changes.first().map(|change| change.cause), Some(Cause::HeatSide));
        }
    }

    #[test]
    fn a_mended_loss_is_over_and_the_next_one_is_found() {
        let mut over = 0;
        for seed in 0..3 {
            let leaks = |day: f64| {
                let is_leak = (40.0..60.0).contains(&day) || day >= 90.0;
                (if is_leak { 6.0 } else { 0.0 }, 1.0, 1.0)
            };
            let found = detect(&log(120, seed, leaks), &PLANT);
            let ends = found.faults.first().and_then(|fault| fault.over);
            over += usize::from(ends.is_some_and(|(period, _)| period.abs_diff(60) <= 2));
            assert_eq!(found.faults.len(), 2, "seed {seed}: {:?}", found.faults);
        }
        assert!(over >= 2, "{over} of 3");
    }

    #[test]
    fn without_solids_heat_tells_of_a_change_and_names_no_fault() {
        let plant = Plant { solids_are_read: false, ..PLANT };
        for seed in 0..6 {
            let more = |day: f64| (0.0, 1.0, if day >= 45.0 { 1.3 } else { 1.0 });
            let found = detect(&log(90, seed, more), &plant);
            assert!(found.faults.is_empty(), "seed {seed}: {:?}", found.faults);
            let change = found.changes.first().expect("a third more is found");
            assert!((0.2..0.4).contains(&change.size), "seed {seed}: {change:?}");
            assert!(detect(&log(90, seed, |_| (0.0, 1.0, 1.0)), &plant).changes.is_empty());
        }
    }

    #[test]
    fn no_log_is_no_matter() {
        assert_eq!(detect(&[], &PLANT), Found::default());
        let one = log(1, 1, |_| (0.0, 1.0, 1.0));
        assert!(detect(&one, &PLANT).faults.is_empty());
    }
}
