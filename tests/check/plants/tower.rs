//! The heat load, the fans and the evaporation.
//!
//! Based on: effectiveness model of cooling towers by Braun, Klein and Mitchell (1989, ASHRAE Transactions
//! 95 (2)): transfer units NTU = c (L/G)^0.4, a saturation specific heat, and the exit humidity from an
//! effective surface; crossflow with the effectiveness of one mixed stream (Kays and London); all from memory.
//! What is drawn of load and fans is common practice: shifts, weekends, stops, a cold water that the fans hold,
//! an air flow of 4 to 12 % by natural draught.

use super::air::{Weather, enthalpy, humidity_ratio, saturation_pressure};
use super::random::{Draw, at_day};
use super::{STEP_HOURS, STEPS_PER_DAY};

const MOST_TRANSFER_UNITS: f64 = 2.6;
const SPECIFIC_HEAT: f64 = 4.18; // of water, kJ/(kg K)

#[derive(Clone, Copy, PartialEq)]
pub enum Work {
    Continuous,
    TwoShifts,
    OneShift,
    Comfort, // air conditioning: follows the weather
}

/// Heat load as a part of the design's, and whether the pumps run, in every step.
pub struct Load {
    pub part: Vec<f64>,
    pub pumps: Vec<bool>,
}

impl Load {
    /// `first_weekday`: 0 is Monday. `more` is the change of production from a step on.
    pub fn draw(
        draw: &mut Draw,
        weather: &Weather,
        first_weekday: usize,
        more: Option<(usize, f64)>,
    ) -> Load {
        let steps = weather.dry_bulb.len();
        let days = steps / STEPS_PER_DAY + 2;
        let work = draw.pick(&[
            (0.35, Work::Continuous),
            (0.25, Work::TwoShifts),
            (0.2, Work::OneShift),
            (0.2, Work::Comfort),
        ]);
        let high = draw.between(0.6, 0.95);
        let night = draw.between(0.05, 0.5) * high;
        let weekend = if draw.chance(0.4) { high } else { draw.between(0.0, 0.5) * high };
        let start = draw.between(5.5, 7.0);
        let balance_point = draw.between(8.0, 15.0);
        let weeks = draw.wander(days / 7 + 2, 0.1, 0.5);
        let day_noise = draw.wander(days, 0.04, 0.3);
        let stop_pumps = draw.chance(0.5);
        let idle = draw_stops(draw, steps);
        let mut noise = 0.0;
        let (mut part, mut pumps) = (Vec::new(), Vec::new());
        for (step, idle) in idle.into_iter().enumerate() {
            let day = step as f64 * STEP_HOURS / 24.0;
            let hour = day.fract() * 24.0;
            let free = (first_weekday + day as usize) % 7 >= 5;
            let busy = match work {
                Work::Continuous => high,
                _ if free => weekend,
                Work::TwoShifts if hour >= start && hour < start + 16.0 => high,
                Work::OneShift if hour >= start && hour < start + 9.0 => high,
                Work::TwoShifts | Work::OneShift => night,
                Work::Comfort => {
                    let occupied = if (7.0..19.0).contains(&hour) { 1.0 } else { 0.55 };
                    occupied * (0.25 + 0.045 * (weather.dry_bulb[step] - balance_point).max(0.0))
                }
            };
            noise = 0.95 * noise + 0.012 * draw.normal();
            let week = (1.0 + weeks[day as usize / 7]).clamp(0.7, 1.2);
            let mut now = busy * week * (1.0 + at_day(&day_noise, day) + noise);
            if idle > 0 {
                now = 0.0;
            }
            if let Some((from, factor)) = more
                && step >= from
            {
                now *= factor;
            }
            part.push(now.clamp(0.0, 1.25));
            pumps.push(!(idle > 1 && stop_pumps));
        }
        Load { part, pumps }
    }
}

/// 0: work, 1: a stop of hours, 2: a stop of days.
fn draw_stops(draw: &mut Draw, steps: usize) -> Vec<u8> {
    let mut idle = vec![0; steps];
    let mut stop = |draw: &mut Draw, hours: f64, kind: u8| {
        let from = (draw.unit() * steps as f64) as usize;
        let to = (from + (hours / STEP_HOURS) as usize).min(steps);
        idle[from..to].iter_mut().for_each(|slot| *slot = kind);
    };
    for _ in 0..draw.whole(0, 6) {
        let hours = draw.between(2.0, 12.0);
        stop(draw, hours, 1);
    }
    if draw.chance(0.4) {
        let hours = draw.between(24.0, 100.0);
        stop(draw, hours, 2);
    }
    idle
}

/// A tower as it was bought, and as it runs.
pub struct Tower {
    pub crossflow: bool,
    pub design_heat: f64, // kW
    pub design_hot: f64,
    pub design_cold: f64,
    pub design_wet_bulb: f64,
    pub design_dry_bulb: f64,
    pub water_to_air: f64,
    pub circulation: f64, // kg/s
    pub cells: usize,
    pub rated_drift: f64, // part of the circulation
    drift: f64,           // true, with full fans
    pub stages: bool,
    set_point: f64,
    natural_draught: f64,
    least_speed: f64,
    evaporation_factor: f64,
    transfer: f64,
    saturated: Saturated,
}

impl Tower {
    pub fn draw(draw: &mut Draw, design_wet_bulb: f64, pressure: f64) -> Tower {
        let design_heat = draw.log_between(500.0, 10_000.0);
        // Duties are written in whole degrees.
        let design_wet_bulb = design_wet_bulb.round();
        let design_cold = design_wet_bulb + draw.between(3.0, 6.0).round();
        let design_hot = design_cold + draw.between(5.0, 10.0).round();
        let circulation = design_heat / SPECIFIC_HEAT / (design_hot - design_cold);
        let rated_drift = draw.pick(&[(2.0, 2e-5), (4.0, 5e-5), (1.0, 2e-4)]);
        let mut tower = Tower {
            crossflow: draw.chance(0.4),
            design_heat,
            design_hot,
            design_cold,
            design_wet_bulb,
            design_dry_bulb: design_wet_bulb + draw.between(5.0, 11.0),
            water_to_air: draw.between(0.8, 1.5),
            circulation,
            cells: 1 + (design_heat / 3500.0) as usize + usize::from(draw.chance(0.3)),
            rated_drift,
            drift: rated_drift * draw.log_between(0.4, 1.5),
            stages: draw.chance(0.4),
            set_point: (design_cold - draw.between(0.0, 6.0)).max(15.0),
            natural_draught: draw.between(0.04, 0.12),
            least_speed: draw.between(0.2, 0.35),
            evaporation_factor: 1.0 + draw.within(0.03),
            transfer: 1.0,
            saturated: Saturated::new(pressure),
        };
        // A maker gives the air that a fill of common depth needs.
        while tower.fit_transfer() * tower.water_to_air.powf(0.4) > MOST_TRANSFER_UNITS {
            tower.water_to_air *= 0.93;
        }
        tower.transfer *= draw.between(0.85, 1.1);
        tower
    }

    fn full_air(&self) -> f64 {
        self.circulation / self.water_to_air
    }

    /// The c of the transfer units that makes the tower do what it was bought for.
    fn fit_transfer(&mut self) -> f64 {
        let inlet = self.saturated.enthalpy(self.design_wet_bulb);
        let (mut low, mut high): (f64, f64) = (0.05, 60.0);
        for _ in 0..60 {
            self.transfer = (low * high).sqrt();
            if self.heat(self.full_air(), self.design_hot, self.design_cold, inlet)
                < self.design_heat
            {
                low = self.transfer;
            } else {
                high = self.transfer;
            }
        }
        self.transfer
    }

    fn transfer_units(&self, air: f64) -> f64 {
        self.transfer * (self.circulation / air).powf(0.4)
    }

    /// Heat that the air takes up, kW.
    fn heat(&self, air: f64, hot: f64, cold: f64, inlet: f64) -> f64 {
        let units = self.transfer_units(air);
        let surface = self.saturated.enthalpy(hot);
        let gap = (hot - cold).max(0.05);
        let slope = (surface - self.saturated.enthalpy(hot - gap)) / gap;
        let ratio = air * slope / (self.circulation * SPECIFIC_HEAT);
        let effectiveness = if self.crossflow {
            (1.0 - (-ratio * (1.0 - (-units).exp())).exp()) / ratio
        } else if (1.0 - ratio).abs() < 1e-6 {
            units / (1.0 + units)
        } else {
            let fall = (-units * (1.0 - ratio)).exp();
            (1.0 - fall) / (1.0 - ratio * fall)
        };
        effectiveness * air * (surface - inlet)
    }

    /// Evaporated water, kg/s, of an air flow that takes up so much heat.
    fn evaporated(&self, air: f64, heat: f64, inlet: f64, inlet_ratio: f64) -> f64 {
        let left = (-self.transfer_units(air)).exp();
        let surface = self.saturated.ratio_of_enthalpy(inlet + heat / air / (1.0 - left));
        air * (surface - inlet_ratio) * (1.0 - left)
    }

    /// Runs the tower through the weather.
    pub fn run(&self, draw: &mut Draw, weather: &Weather, load: &Load) -> Thermal {
        let days = weather.dry_bulb.len() / STEPS_PER_DAY + 2;
        let slow = draw.wander(days, 0.005, 0.95);
        let mut thermal = Thermal::default();
        let mut basin = self.set_point;
        for step in 0..weather.dry_bulb.len() {
            let ratio = humidity_ratio(weather.vapour[step], weather.pressure);
            let inlet = enthalpy(weather.dry_bulb[step], ratio);
            if !load.pumps[step] {
                basin += (weather.dry_bulb[step] - basin).max(2.0 - basin) * STEP_HOURS / 40.0;
                thermal.push(0.0, 0.0, 0.0, 0.0, (basin, basin));
                continue;
            }
            let now = self.settle(load.part[step] * self.design_heat, inlet, ratio);
            basin = now.cold;
            let day = step as f64 * STEP_HOURS / 24.0;
            let factor = self.evaporation_factor * (1.0 + at_day(&slow, day));
            let evaporation = (now.evaporation * factor).max(0.0) * 3.6;
            let drift = self.drift * self.circulation * 3.6 * now.fan;
            thermal.push(evaporation, drift, now.fan, now.fans_on, (now.hot, now.cold));
        }
        thermal
    }

    /// Where water and fans settle under a heat load.
    fn settle(&self, heat: f64, inlet: f64, ratio: f64) -> Settled {
        let range = heat / self.circulation / SPECIFIC_HEAT;
        let (full, still) = (self.full_air(), self.full_air() * self.natural_draught);
        let (hot, cold) = (self.set_point + range, self.set_point);
        let held = |air: f64| self.heat(air, hot, cold, inlet);
        let (most, least) = (held(full), held(still));
        if heat < 0.02 * self.design_heat || least >= heat {
            return self.free(still, heat, range, inlet, ratio, (0.0, 0.0));
        }
        if most <= heat {
            return self.free(full, heat, range, inlet, ratio, (1.0, 1.0));
        }
        let slow = full * self.least_speed;
        let slowest = held(slow);
        if self.stages || slowest > heat {
            // Fans go on and off between two air flows.
            let (air, top) = if self.stages { (full, most) } else { (slow, slowest) };
            let on = (heat - least) / (top - least);
            let evaporation = on * self.evaporated(air, top, inlet, ratio)
                + (1.0 - on) * self.evaporated(still, least, inlet, ratio);
            return Settled { evaporation, hot, cold, fan: on * air / full, fans_on: on };
        }
        let air = crossing(slow, full, slowest - heat, most - heat, |air| held(air) - heat);
        Settled {
            evaporation: self.evaporated(air, heat, inlet, ratio),
            hot,
            cold,
            fan: air / full,
            fans_on: 1.0,
        }
    }

    /// The air flow is given; the water finds its temperature.
    fn free(
        &self,
        air: f64,
        heat: f64,
        range: f64,
        inlet: f64,
        ratio: f64,
        fan: (f64, f64),
    ) -> Settled {
        let mut hot = self.saturated.temperature(inlet) + range + 3.0;
        for _ in 0..8 {
            let surface = self.saturated.enthalpy(hot);
            let gap = (surface - inlet).max(0.01);
            let share = (self.heat(air, hot, hot - range, inlet) / air / gap).max(1e-6);
            let next = self.saturated.temperature(inlet + heat / air / share);
            if (next - hot).abs() < 0.01 {
                hot = next;
                break;
            }
            hot = next;
        }
        let evaporation = self.evaporated(air, heat, inlet, ratio);
        Settled { evaporation, hot, cold: hot - range, fan: fan.0, fans_on: fan.1 }
    }
}

struct Settled {
    evaporation: f64,
    hot: f64,
    cold: f64,
    fan: f64,
    fans_on: f64,
}

/// Root of a rising function (Illinois form of the false position).
fn crossing(
    mut low: f64,
    mut high: f64,
    mut at_low: f64,
    mut at_high: f64,
    f: impl Fn(f64) -> f64,
) -> f64 {
    let scale = at_high - at_low;
    let mut x = low;
    for _ in 0..12 {
        x = (low * at_high - high * at_low) / (at_high - at_low);
        let y = f(x);
        if y.abs() < 1e-5 * scale {
            break;
        }
        if y < 0.0 {
            (low, at_low) = (x, y);
            at_high *= 0.5;
        } else {
            (high, at_high) = (x, y);
            at_low *= 0.5;
        }
    }
    x
}

/// What the tower did, in every step: flows in t/h.
#[derive(Default)]
pub struct Thermal {
    pub evaporation: Vec<f64>,
    pub drift: Vec<f64>,
    pub fan: Vec<f64>,
    pub fans_on: Vec<f64>,
    pub hot: Vec<f64>,
    pub cold: Vec<f64>,
}

impl Thermal {
    fn push(
        &mut self,
        evaporation: f64,
        drift: f64,
        fan: f64,
        fans_on: f64,
        (hot, cold): (f64, f64),
    ) {
        self.evaporation.push(evaporation);
        self.drift.push(drift);
        self.fan.push(fan);
        self.fans_on.push(fans_on);
        self.hot.push(hot);
        self.cold.push(cold);
    }
}

/// Saturated air in a table of 0.25 K: a fast look-up, exact to 0.001 kJ/kg.
struct Saturated {
    enthalpy: Vec<f64>,
    ratio: Vec<f64>,
}

impl Saturated {
    const LOWEST: f64 = -20.0;
    const PER_KELVIN: f64 = 4.0;

    fn new(pressure: f64) -> Saturated {
        let at = |i: usize| Self::LOWEST + i as f64 / Self::PER_KELVIN;
        let ratio: Vec<f64> =
            (0..400).map(|i| humidity_ratio(saturation_pressure(at(i)), pressure)).collect();
        let enthalpy = ratio.iter().enumerate().map(|(i, w)| enthalpy(at(i), *w)).collect();
        Saturated { enthalpy, ratio }
    }

    fn enthalpy(&self, celsius: f64) -> f64 {
        let place = ((celsius - Self::LOWEST) * Self::PER_KELVIN).clamp(0.0, 398.99);
        let i = place as usize;
        self.enthalpy[i] + (self.enthalpy[i + 1] - self.enthalpy[i]) * (place - i as f64)
    }

    fn place(&self, enthalpy: f64) -> (usize, f64) {
        let i = self.enthalpy.partition_point(|h| *h <= enthalpy).clamp(1, 399) - 1;
        (i, (enthalpy - self.enthalpy[i]) / (self.enthalpy[i + 1] - self.enthalpy[i]))
    }

    fn temperature(&self, enthalpy: f64) -> f64 {
        let (i, part) = self.place(enthalpy);
        Self::LOWEST + (i as f64 + part) / Self::PER_KELVIN
    }

    fn ratio_of_enthalpy(&self, enthalpy: f64) -> f64 {
        let (i, part) = self.place(enthalpy);
        self.ratio[i] + (self.ratio[i + 1] - self.ratio[i]) * part
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// In warm weather 75 to 95 % of the heat leaves by evaporation (common practice), more where dry air gives up
    /// heat of its own; in the cold less.
    #[test]
    fn evaporation_carries_most_of_the_heat() {
        for seed in 0..50 {
            let tower = Tower::draw(&mut Draw::new(&[seed]), 21.0, 101.3);
            let latent = |dry: f64, humid: f64| {
                let ratio = humidity_ratio(humid * saturation_pressure(dry), 101.3);
                let now = tower.settle(0.8 * tower.design_heat, enthalpy(dry, ratio), ratio);
                now.evaporation * 2430.0 / (0.8 * tower.design_heat)
            };
            let (summer, winter) = (latent(28.0, 0.5), latent(5.0, 0.8));
            assert!((0.75..1.25).contains(&summer), "seed {seed}: {summer}");
            assert!((0.45..0.85).contains(&winter), "seed {seed}: {winter}");
        }
    }

    #[test]
    fn fans_hold_the_set_point_where_they_can() {
        let tower = Tower::draw(&mut Draw::new(&[7]), 21.0, 101.3);
        let ratio = humidity_ratio(0.7 * saturation_pressure(12.0), 101.3);
        let now = tower.settle(0.6 * tower.design_heat, enthalpy(12.0, ratio), ratio);
        assert!((now.cold - tower.set_point).abs() < 1e-9 && now.fan > 0.0 && now.fan < 1.0);
    }
}
