//! Moist air, and the weather that the towers stand in.
//!
//! Based on: saturation pressure by the Magnus form of Sonntag (1990); wet bulb by the psychrometer equation
//! with the coefficient of the Assmann instrument, 6.62e-4 per K (WMO No. 8); enthalpy of ideal moist air;
//! pressure of the ISO 2533 atmosphere; all from memory. The course of the weather is common practice of
//! weather generators: a sine for the year, a day-to-day autoregression (Richardson 1981), a daily swing that
//! is large on clear days, a dew point that hardly moves within a day.

use super::random::{Draw, at_day};
use super::{SPIN_UP_DAYS, STEP_HOURS, STEPS_PER_DAY};

/// Saturation pressure over water, kPa, from degC.
pub fn saturation_pressure(celsius: f64) -> f64 {
    0.6112 * (17.62 * celsius / (243.12 + celsius)).exp()
}

/// Dew point, degC, from the vapour pressure in kPa.
pub fn dew_point(vapour: f64) -> f64 {
    let y = (vapour / 0.6112).ln();
    243.12 * y / (17.62 - y)
}

/// kg of vapour per kg of dry air.
pub fn humidity_ratio(vapour: f64, pressure: f64) -> f64 {
    0.62198 * vapour / (pressure - vapour)
}

/// kJ per kg of dry air.
pub fn enthalpy(celsius: f64, humidity_ratio: f64) -> f64 {
    1.006 * celsius + humidity_ratio * (2501.0 + 1.86 * celsius)
}

/// What a ventilated psychrometer shows, degC.
pub fn wet_bulb(dry: f64, vapour: f64, pressure: f64) -> f64 {
    let (mut low, mut high) = (dew_point(vapour) - 5.0, dry);
    for _ in 0..30 {
        let middle = 0.5 * (low + high);
        if saturation_pressure(middle) - 6.62e-4 * pressure * (dry - middle) < vapour {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

pub fn pressure_at(altitude: f64) -> f64 {
    101.325 * (1.0 - 2.25577e-5 * altitude).powf(5.2559)
}

/// The climate of a place.
pub struct Climate {
    pub altitude: f64,
    annual_mean: f64,
    annual_swing: f64,
    daily_swing: f64,
    dew_point_depression: f64,
    spread: f64,
    persistence: f64,
}

impl Climate {
    pub fn draw(draw: &mut Draw) -> Climate {
        Climate {
            altitude: draw.between(0.0, 900.0),
            annual_mean: draw.between(8.0, 20.0),
            annual_swing: draw.between(4.0, 11.0),
            daily_swing: draw.between(3.0, 6.5),
            dew_point_depression: draw.between(3.5, 8.0),
            spread: draw.between(1.8, 3.8),
            persistence: draw.between(0.65, 0.85),
        }
    }

    /// Mean of the season, degC; the hottest day is the 205th.
    pub fn seasonal(&self, day_of_year: f64) -> f64 {
        let turn = std::f64::consts::TAU * (day_of_year - 205.0) / 365.25;
        self.annual_mean + self.annual_swing * turn.cos()
    }

    /// A wet bulb that is passed in few hours of the year, as a tower is bought for.
    pub fn design_wet_bulb(&self, draw: &mut Draw) -> f64 {
        (self.annual_mean + self.annual_swing + draw.between(-3.0, 0.5)).clamp(16.0, 27.0)
    }
}

/// The weather at the start of every step.
pub struct Weather {
    pub pressure: f64,
    pub dry_bulb: Vec<f64>,
    pub vapour: Vec<f64>,
}

impl Weather {
    /// `first_day` is the day of the year of the first step.
    pub fn draw(draw: &mut Draw, climate: &Climate, first_day: f64, steps: usize) -> Weather {
        let days = steps / STEPS_PER_DAY + 2;
        let warm = draw.wander(days, climate.spread, climate.persistence);
        let cloud = draw.wander(days, 0.3, 0.6);
        let damp = draw.wander(days, 1.6, 0.6);
        let (mut dry_bulb, mut vapour) = (Vec::new(), Vec::new());
        let mut gust = 0.0;
        for step in 0..steps {
            let day = step as f64 * STEP_HOURS / 24.0;
            let hour = day.fract() * 24.0;
            let clear = (0.55 - at_day(&cloud, day)).clamp(0.05, 1.0);
            let mean = climate.seasonal(first_day + day) + at_day(&warm, day);
            gust = 0.9 * gust + 0.12 * draw.normal();
            let dry =
                (mean + climate.daily_swing * (0.3 + clear) * course_of_day(hour) + gust).max(-8.0);
            let below =
                (climate.dew_point_depression * (0.4 + clear) + at_day(&damp, day)).max(0.8);
            let dew = (mean - below + 0.5 * course_of_day(hour - 3.0)).min(dry - 0.1);
            dry_bulb.push(dry);
            vapour.push(saturation_pressure(dew));
        }
        Weather { pressure: pressure_at(climate.altitude), dry_bulb, vapour }
    }
}

/// From -1 at five in the morning to +1 at three in the afternoon.
fn course_of_day(hour: f64) -> f64 {
    let turn = std::f64::consts::TAU * (hour - 15.0) / 24.0;
    (turn + 0.25 * turn.sin()).cos()
}

/// Day of the year of the first step, `SPIN_UP_DAYS` before the log begins: no log from deep frost.
pub fn first_day(draw: &mut Draw, climate: &Climate, days: usize) -> f64 {
    loop {
        let first = draw.between(0.0, 365.0).floor();
        let last = first + (days + SPIN_UP_DAYS) as f64;
        if climate
            .seasonal(first)
            .min(climate.seasonal(last))
            .min(climate.seasonal(0.5 * (first + last)))
            > 3.0
        {
            return first;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Psychrometric chart at 101.325 kPa: 30 degC, 20 degC wet bulb is 39.6 % humid (from memory, +- 1 point).
    #[test]
    fn wet_bulb_agrees_with_the_chart() {
        let vapour = 0.396 * saturation_pressure(30.0);
        assert!((wet_bulb(30.0, vapour, 101.325) - 20.0).abs() < 0.25);
        assert!((saturation_pressure(100.0) / 101.325 - 1.0).abs() < 0.03);
        assert!((dew_point(saturation_pressure(17.0)) - 17.0).abs() < 1e-9);
    }
}
