//! The water and the salts of the basin: float valve, bleed, losses, and the probe that the controller sees.
//!
//! Based on: balances of mass and of salt of one stirred volume (first principles); conductivity that grows
//! less than the salts by a term of the root of the ionic strength (Kohlrausch's law, Onsager's slope, ionic
//! strength 1.6e-5 mol/kg per uS/cm; from memory) and loses a little more by alkalinity that turns to
//! carbonate; some 1.9 to 2.1 % of conductivity per K (ISO 7888, from memory); density of water by Tanaka et al.
//! (2001, from memory). Controllers, lock-outs, timers, hand valves, float valves: common practice.

use super::random::{Draw, at_day};
use super::tower::{Load, Thermal};
use super::{Fault, SPIN_UP_DAYS, STEP_HOURS, STEPS_PER_DAY};

const PARTS: usize = 5; // of a step
const PART_HOURS: f64 = STEP_HOURS / PARTS as f64;

/// t/m3 at degC.
pub fn density(celsius: f64) -> f64 {
    let shift = celsius - 3.983035;
    0.999975 * (1.0 - shift * shift * (celsius + 301.797) / (522_528.9 * (celsius + 69.34881)))
}

/// How conductivity at 25 degC follows the salts.
pub struct Law {
    pub bend: f64,
    pub carbonate: f64,
    makeup_salts: f64,
}

impl Law {
    const PER_SALT: f64 = 1.6; // uS/cm per mg/kg at infinite dilution

    pub fn new(bend: f64, carbonate: f64, makeup_conductivity: f64) -> Law {
        let mut law = Law { bend, carbonate, makeup_salts: f64::INFINITY };
        law.makeup_salts = law.salts(makeup_conductivity);
        law
    }

    /// uS/cm from mg/kg.
    pub fn conductivity(&self, salts: f64) -> f64 {
        let ideal = Self::PER_SALT * salts;
        let root = (1.6e-5 * ideal).sqrt();
        let concentrated = ((salts / self.makeup_salts - 1.0) / 3.0).clamp(0.0, 1.5);
        ideal * (1.0 - self.bend * root / (1.0 + root)) * (1.0 - self.carbonate * concentrated)
    }

    /// mg/kg from uS/cm.
    pub fn salts(&self, conductivity: f64) -> f64 {
        let mut salts = conductivity / Self::PER_SALT;
        for _ in 0..50 {
            salts *= conductivity / self.conductivity(salts);
        }
        salts
    }
}

/// What compensates a reading to 25 degC, imperfectly.
#[derive(Clone, Copy)]
pub struct Probe {
    pub error: f64,
    pub noise: f64,
    pub water_per_kelvin: f64,
    pub set_per_kelvin: f64,
}

impl Probe {
    pub fn draw(draw: &mut Draw, water_per_kelvin: f64, noise: f64) -> Probe {
        Probe {
            error: draw.within(0.02),
            noise,
            water_per_kelvin,
            set_per_kelvin: draw.between(0.019, 0.021),
        }
    }

    /// Reading without noise.
    pub fn reads(&self, conductivity: f64, celsius: f64) -> f64 {
        let kelvin = celsius - 25.0;
        conductivity * (1.0 + self.error) * (1.0 + self.water_per_kelvin * kelvin)
            / (1.0 + self.set_per_kelvin * kelvin)
    }
}

#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Control {
    Conductivity { dead_band: f64 },
    Timer { period: f64 },
    Hand,
}

/// The basin and what is fitted to it.
pub struct Basin {
    pub volume: f64, // t, running, at the middle of the float's band
    pub area: f64,   // m2
    pub held_up: f64,
    pub operating_level: f64,
    pub overflow_level: f64,
    pub band: f64,
    pub play: f64,
    pub on_off: bool,
    pub makeup_valve: f64, // t/h
    pub bleed_valve: f64,  // t/h
    pub control: Control,
    pub set_point: f64,
    pub target_cycles: f64,
    pub doses: Vec<(usize, f64)>, // weekday and hour
    pub lock_hours: f64,
    pub seal_drip: f64,  // t/h
    pub feed_salts: f64, // of chemicals, part of the makeup's salts
    pub first_weekday: usize,
    pub first_share: f64, // opening of a timer or a hand valve when the simulation begins
}

/// Salts of the makeup (mg/kg) and its temperature in every step.
pub struct Source {
    pub salts: Vec<f64>,
    pub celsius: Vec<f64>,
}

/// Totals, t and g.
#[derive(Default, Debug, Clone, Copy)]
pub struct Totals {
    pub makeup: f64,
    pub evaporation: f64,
    pub drift: f64,
    pub bleed: f64,
    pub drip: f64,
    pub leak: f64,
    pub overflow: f64,
    pub salts_in: f64,
    pub salts_out: f64,
    #[cfg_attr(not(test), expect(dead_code, reason = "for the test that the balances close"))]
    pub stored: f64,
    #[cfg_attr(not(test), expect(dead_code, reason = "for the test that the balances close"))]
    pub stored_salts: f64,
}

/// What happened, at the end of every step; volumes are sums at the stream's own temperature, m3.
#[derive(Default)]
pub struct Course {
    pub makeup: Vec<f64>,
    pub bleed: Vec<f64>,
    pub bleed_hours: Vec<f64>,
    pub fan_hours: Vec<f64>,
    pub leak: Vec<f64>,
    pub overflow: Vec<f64>,
    pub level: Vec<f64>,
    pub conductivity: Vec<f64>,
    pub probe: Vec<f64>,
    pub healthy_overflow: bool,
    pub repaired: Option<usize>, // step
    pub before: Totals,
    pub after: Totals,
}

/// The fault, with what it needs to know. Times are hours of the simulation.
pub struct Trouble {
    pub fault: Fault,
    pub begins: f64,
    pub mean_makeup: f64, // t/h, of the same plant without the fault
    pub repaired_after: Option<f64>,
    pub night: (f64, f64), // from and to, hours of the day
}

impl Trouble {
    /// Lost from the basin, t/h.
    fn leak(&self, t: f64) -> f64 {
        if t < self.begins {
            return 0.0;
        }
        match self.fault {
            Fault::Loss(percent) => self.mean_makeup * f64::from(percent) / 100.0,
            Fault::LossRamp => self.mean_makeup * 0.08 * ((t - self.begins) / 720.0).min(1.0),
            _ => 0.0,
        }
    }

    pub fn probe(&self, t: f64) -> f64 {
        match self.fault {
            Fault::BasinProbeDrift => 1.0 - 0.15 * ((t - self.begins) / 960.0).clamp(0.0, 1.0),
            Fault::BasinProbeStep if t >= self.begins => 0.9,
            _ => 1.0,
        }
    }

    fn spills(&self, t: f64) -> bool {
        let hour = t.rem_euclid(24.0);
        let night = hour >= self.night.0 || hour < self.night.1;
        self.fault == Fault::OverflowAtNight && t >= self.begins && night
    }

    fn bent(&self, t: f64) -> bool {
        self.fault == Fault::OverflowAtNight && t >= self.begins
    }

    fn night_hours(&self) -> f64 {
        24.0 - self.night.0 + self.night.1
    }
}

/// State of valves and controller.
struct Hands {
    float: f64,
    open: bool,
    share: f64, // of a timer's period, or of a hand valve's opening
    spill_owed: f64,
    next_look: f64,
}

pub struct Run<'a> {
    pub basin: &'a Basin,
    pub law: &'a Law,
    pub probe: &'a Probe,
    pub source: &'a Source,
    pub thermal: &'a Thermal,
    pub load: &'a Load,
    pub trouble: &'a Trouble,
    /// Of the bleed valve in a conductivity-controlled plant whose meter is its hours: it passes more than rated.
    pub bleed_gain: f64,
}

impl Run<'_> {
    pub fn run(&self, draw: &mut Draw) -> Course {
        let basin = self.basin;
        let steps = self.thermal.evaporation.len();
        let days = steps / STEPS_PER_DAY + 2;
        let valve = draw.wander(days, 0.01, 0.9);
        let probe_wander = draw.wander(days, 0.003, 0.9);
        let supply = draw.between(0.0, 0.1);
        let mut water = basin.volume;
        let mut salts = self.law.salts(basin.set_point) * water;
        let mut hands = Hands {
            float: 0.3,
            open: false,
            share: basin.first_share,
            spill_owed: 0.0,
            next_look: 24.0,
        };
        let mut totals = Totals::default();
        let mut course = Course::default();
        let (mut makeup_volume, mut bleed_volume, mut bleed_hours, mut fan_hours) =
            (0.0, 0.0, 0.0, 0.0);
        let (mut leaked, mut spilt, mut reading) = (0.0, 0.0, basin.set_point);
        for step in 0..steps {
            let day = step as f64 * STEP_HOURS / 24.0;
            if step == SPIN_UP_DAYS * STEPS_PER_DAY {
                totals = Totals::default();
                course.before = Totals { stored: water, stored_salts: salts, ..totals };
            }
            let (cold, running) = (self.thermal.cold[step], self.load.pumps[step]);
            let (evaporation, drift) = (self.thermal.evaporation[step], self.thermal.drift[step]);
            let bleed_full = basin.bleed_valve * (1.0 + at_day(&valve, day));
            let pressure = 1.0 - supply * (day * std::f64::consts::TAU).cos();
            let drip = if running { basin.seal_drip } else { 0.0 };
            for part in 0..PARTS {
                let t = step as f64 * STEP_HOURS + part as f64 * PART_HOURS;
                let level = (water - if running { basin.held_up } else { 0.0 }) / basin.area;
                let spills = self.trouble.spills(t);
                let makeup = self.float(&mut hands, level, self.trouble.bent(t))
                    * basin.makeup_valve
                    * pressure;
                if running {
                    let wander = 1.0 + at_day(&probe_wander, day);
                    let noise = 1.0 + self.probe.noise * 1.7 * draw.within(1.0);
                    reading = self.probe.reads(self.law.conductivity(salts / water), cold)
                        * wander
                        * noise
                        * self.trouble.probe(t);
                }
                let broken = self.broken(&mut course, t, step, reading);
                let opening =
                    if running { self.bleed(draw, &mut hands, t, reading, broken) } else { 0.0 };
                let gain = if t >= self.trouble.begins { self.bleed_gain } else { 1.0 };
                let bleed = bleed_full * opening * gain;
                let leak = self.trouble.leak(t);
                let overflow = self.overflow(&mut hands, level, spills, &mut course);
                let concentration = salts / water;
                let salts_in =
                    makeup * self.source.salts[step] * (1.0 + basin.feed_salts) * PART_HOURS;
                let liquid = drift + bleed + drip + leak + overflow;
                water += (makeup - evaporation - liquid) * PART_HOURS;
                let salts_out = liquid * concentration * PART_HOURS;
                salts += salts_in - salts_out;
                totals.makeup += makeup * PART_HOURS;
                totals.evaporation += evaporation * PART_HOURS;
                totals.drift += drift * PART_HOURS;
                totals.bleed += bleed * PART_HOURS;
                totals.drip += drip * PART_HOURS;
                totals.leak += leak * PART_HOURS;
                totals.overflow += overflow * PART_HOURS;
                totals.salts_in += salts_in;
                totals.salts_out += salts_out;
                makeup_volume += makeup * PART_HOURS / density(self.source.celsius[step]);
                bleed_volume += bleed * PART_HOURS / density(cold);
                bleed_hours +=
                    if matches!(basin.control, Control::Hand) { 0.0 } else { opening * PART_HOURS };
                leaked += leak * PART_HOURS / density(cold);
                spilt += overflow * PART_HOURS / density(cold);
            }
            fan_hours += self.thermal.fans_on[step] * STEP_HOURS;
            course.makeup.push(makeup_volume);
            course.bleed.push(bleed_volume);
            course.bleed_hours.push(bleed_hours);
            course.fan_hours.push(fan_hours);
            course.leak.push(leaked);
            course.overflow.push(spilt);
            course.level.push((water - if running { basin.held_up } else { 0.0 }) / basin.area);
            course.conductivity.push(self.law.conductivity(salts / water));
            course.probe.push(reading);
        }
        course.after = Totals { stored: water, stored_salts: salts, ..totals };
        course
    }

    /// Opening of the makeup valve, 0 to 1. A bent arm shuts at the lip: by day just, at night, with more pressure
    /// in the supply, too late.
    fn float(&self, hands: &mut Hands, level: f64, bent: bool) -> f64 {
        let basin = self.basin;
        let middle = if bent { basin.overflow_level } else { basin.operating_level };
        let short = (middle - level) / basin.band + 0.5;
        if basin.on_off {
            // Between its two levels it stays as it is.
            let settled = (0.0..=1.0).contains(&short);
            hands.float = if settled { hands.float } else { f64::from(u8::from(short > 0.5)) };
        } else {
            // The arm follows its float only after the play is used up.
            let wanted = short.clamp(0.0, 1.0);
            hands.float = hands
                .float
                .clamp(wanted - 0.5 * basin.play, wanted + 0.5 * basin.play)
                .clamp(0.0, 1.0);
            if wanted == 0.0 && short < -0.2 {
                hands.float = 0.0;
            }
        }
        hands.float
    }

    /// What runs over the lip, t/h.
    fn overflow(&self, hands: &mut Hands, level: f64, spills: bool, course: &mut Course) -> f64 {
        if spills {
            let rate = self.trouble.mean_makeup * 0.06 * 24.0 / self.trouble.night_hours();
            hands.spill_owed += rate * PART_HOURS;
            if level < self.basin.overflow_level - 0.6 * self.basin.band {
                return 0.0;
            }
            // What filled up to the lip first is made good later in the night, or in the next.
            let spill = (hands.spill_owed / PART_HOURS).min(3.0 * rate);
            hands.spill_owed -= spill * PART_HOURS;
            return spill;
        }
        if self.trouble.fault != Fault::OverflowAtNight && level > self.basin.overflow_level + 0.05
        {
            course.healthy_overflow = true;
            return (level - self.basin.overflow_level) * self.basin.area / 0.5;
        }
        0.0
    }

    /// Whether the bleed is broken now. Nobody lets the water thicken for ever: at four times the set point it is
    /// put right, however short the time.
    fn broken(&self, course: &mut Course, t: f64, step: usize, reading: f64) -> bool {
        let trouble = self.trouble;
        if !matches!(trouble.fault, Fault::BleedStuckOpen | Fault::BleedStuckShut)
            || t < trouble.begins
            || course.repaired.is_some()
        {
            return false;
        }
        let late = trouble.repaired_after.is_some_and(|after| t > trouble.begins + after);
        let thick = trouble.fault == Fault::BleedStuckShut && reading > 4.0 * self.basin.set_point;
        if late || thick {
            course.repaired = Some(step);
        }
        course.repaired.is_none()
    }

    fn locked(&self, t: f64) -> bool {
        let hour = t.rem_euclid(24.0);
        let weekday = (self.basin.first_weekday + (t / 24.0) as usize) % 7;
        let doses = &self.basin.doses;
        doses
            .iter()
            .any(|(day, at)| *day == weekday && hour >= *at && hour < at + self.basin.lock_hours)
    }

    /// Opening of the bleed, 0 to 1.
    fn bleed(&self, draw: &mut Draw, hands: &mut Hands, t: f64, reading: f64, broken: bool) -> f64 {
        if broken {
            return if self.trouble.fault == Fault::BleedStuckOpen { 1.0 } else { 0.0 };
        }
        let set = self.basin.set_point;
        match self.basin.control {
            Control::Conductivity { dead_band } => {
                if reading > set {
                    hands.open = true;
                } else if reading < set * (1.0 - dead_band) {
                    hands.open = false;
                }
                hands.open &= !self.locked(t);
                f64::from(u8::from(hands.open))
            }
            Control::Timer { period } => {
                self.adjust(draw, hands, t, reading, 7.0 * 24.0, 0.07);
                let open = t.rem_euclid(period) < hands.share * period && !self.locked(t);
                f64::from(u8::from(open))
            }
            Control::Hand => {
                self.adjust(draw, hands, t, reading, 3.0 * 24.0, 0.05);
                hands.share
            }
        }
    }

    /// Somebody looks at the conductivity after breakfast, and turns the bleed if it is far from its target.
    fn adjust(
        &self,
        draw: &mut Draw,
        hands: &mut Hands,
        t: f64,
        reading: f64,
        every: f64,
        tolerance: f64,
    ) {
        if t < hands.next_look {
            return;
        }
        hands.next_look = t - t.rem_euclid(24.0) + every + 9.0;
        let off = reading / self.basin.set_point;
        if (off - 1.0).abs() > tolerance {
            hands.share *= (off.powf(1.2) * draw.between(0.9, 1.1)).clamp(0.6, 1.6);
        }
        hands.share = hands.share.clamp(0.02, 1.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Recommended densities: 0.99910 at 15 degC, 0.99565 at 30 degC (from memory).
    #[test]
    fn density_of_water() {
        assert!((density(15.0) - 0.99910).abs() < 2e-5 && (density(30.0) - 0.99565).abs() < 2e-5);
    }

    #[test]
    fn the_law_can_be_turned_round_and_lags_the_salts() {
        let law = Law::new(0.8, 0.02, 400.0);
        assert!((law.conductivity(law.salts(1800.0)) - 1800.0).abs() < 1e-6);
        let lag = law.conductivity(4.0 * law.makeup_salts) / 4.0 / 400.0;
        assert!((0.88..0.97).contains(&lag), "{lag}");
    }
}
