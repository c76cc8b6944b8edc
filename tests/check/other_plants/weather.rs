//! Weather with seasons, days and persistence.
//!
//! Day means follow a yearly sine with autoregressive anomalies; the day's course is a sine whose height follows
//! the clouds; the dew point lies below the night's least temperature. The numbers are climates as an atlas shows
//! them (from memory).

use super::air::{Air, pressure_at};
use super::calendar::day_of_year;
use super::random::{Random, Wander};

/// What a place is like.
#[derive(Clone, Copy, Debug)]
pub struct Climate {
    /// Mean of the year, °C.
    mean: f64,
    /// Half of the way from the coldest to the warmest day mean, K.
    season: f64,
    /// Half of the way from dawn to afternoon on a clear day, K.
    course: f64,
    /// How far the dew point lies below the dawn, K.
    dryness: f64,
    /// Chance of rain on a cloudy day.
    rain: f64,
    /// Of the site, m.
    pub altitude: f64,
}

impl Climate {
    /// Draws one.
    pub fn draw(random: &mut Random) -> Climate {
        let (mean, season, course, dryness, rain) = random.pick(&[
            (10.5, 7.5, 4.0, 0.5, 0.5),  // maritime
            (10.0, 12.0, 5.5, 1.5, 0.4), // continental
            (18.0, 8.5, 5.0, 2.0, 0.45), // warm and humid
            (17.0, 9.0, 7.0, 6.0, 0.1),  // dry
        ]);
        Climate {
            mean: mean + random.between(-1.5, 1.5),
            season,
            course,
            dryness,
            rain,
            altitude: (random.between(0.0, 600.0) / 10.0).round() * 10.0,
        }
    }

    /// Mean of a day of the year over many years, °C.
    pub fn normal(&self, day_of_year: f64) -> f64 {
        // The warmest day is about the 24th of July.
        self.mean + self.season * ((day_of_year - 204.0) / 365.25 * std::f64::consts::TAU).cos()
    }

    /// Design air: what a warm, moist afternoon of midsummer reaches, °C.
    pub fn design(&self) -> Air {
        let warm = self.mean + self.season + 2.5;
        let pressure = pressure_at(self.altitude);
        Air::with_dew_point(warm + self.course, warm - self.course - self.dryness, pressure)
    }
}

/// An hour.
#[derive(Clone, Copy, Debug)]
struct Hour {
    dry_bulb: f64,
    dew_point: f64,
    /// mm/h.
    rain: f64,
}

/// The weather of a log.
pub struct Weather {
    hours: Vec<Hour>,
    pressure: f64,
}

impl Weather {
    /// Draws the weather of so many days from a day on.
    pub fn draw(random: &mut Random, climate: &Climate, start: i64, days: usize) -> Weather {
        let mut anomaly = Wander::new(random, 0.78, 2.7);
        let mut cloud = Wander::new(random, 0.5, 1.0);
        let mut moist = Wander::new(random, 0.6, 1.6);
        let mut flutter = Wander::new(random, 0.8, 0.35);
        let mut before = anomaly.step(random);
        let mut hours = Vec::with_capacity((days + 1) * 24);
        for day in 0..=days {
            let normal = climate.normal(day_of_year(start + day as i64) as f64);
            let after = anomaly.step(random);
            let clouds = 1.0 / (1.0 + (-1.2 * cloud.step(random)).exp());
            let course = climate.course * (1.25 - 0.9 * clouds);
            let wet = moist.step(random);
            let rains = random.chance(climate.rain * clouds);
            let (from, lasts) = (random.whole(0, 20), random.whole(1, 6));
            for hour in 0..24_usize {
                let part = hour as f64 / 24.0;
                let mean = normal + before + (after - before) * part;
                let sine = ((hour as f64 - 15.0) / 24.0 * std::f64::consts::TAU).cos();
                let dry_bulb = mean + course * sine + flutter.step(random);
                let raining = rains && hour >= from && hour < from + lasts;
                let dew = mean - course - climate.dryness + wet + if raining { 2.0 } else { 0.0 };
                hours.push(Hour {
                    dry_bulb,
                    dew_point: dew.min(dry_bulb - 0.2).min(26.0),
                    rain: if raining { random.between(0.3, 3.0) } else { 0.0 },
                });
            }
            before = after;
        }
        Weather { hours, pressure: pressure_at(climate.altitude) }
    }

    /// The air at an hour since the start.
    pub fn air(&self, time: f64) -> Air {
        let last = self.hours.len() - 1;
        let at = (time.max(0.0) as usize).min(last);
        let (one, two) = (self.hours[at], self.hours[(at + 1).min(last)]);
        let part = (time - at as f64).clamp(0.0, 1.0);
        let mix = |a: f64, b: f64| a + (b - a) * part;
        Air::with_dew_point(
            mix(one.dry_bulb, two.dry_bulb),
            mix(one.dew_point, two.dew_point),
            self.pressure,
        )
    }

    /// Rain at an hour since the start, mm/h.
    pub fn rain(&self, time: f64) -> f64 {
        self.hours[(time.max(0.0) as usize).min(self.hours.len() - 1)].rain
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weather_has_its_season_and_is_persistent() {
        let mut random = Random::stream(4, "weather");
        let climate = Climate {
            mean: 10.0,
            season: 10.0,
            course: 5.0,
            dryness: 1.0,
            rain: 0.4,
            altitude: 100.0,
        };
        // The mean of a month scatters by 1.6 K from year to year; that of 16 years by 0.4 K: four times that.
        let years: Vec<Weather> =
            (0..16).map(|_| Weather::draw(&mut random, &climate, 20_454, 365)).collect();
        let month = |weather: &Weather, from: usize| {
            (from..from + 720).map(|h| weather.air(h as f64).dry_bulb).sum::<f64>() / 720.0
        };
        let mean =
            |from: usize| years.iter().map(|weather| month(weather, from)).sum::<f64>() / 16.0;
        let (winter, summer) = (mean(5 * 24), mean(24 * 190));
        assert!((winter - 0.0).abs() < 1.6 && (summer - 20.0).abs() < 1.6, "{winter} {summer}");
        let weather = &years[0];
        let day = |d: usize| {
            (0..24).map(|h| weather.air((24 * d + h) as f64).dry_bulb).sum::<f64>() / 24.0
        };
        let jump = (0..300).map(|d| (day(d + 1) - day(d)).abs()).sum::<f64>() / 300.0;
        assert!(jump > 0.5 && jump < 3.0, "{jump}");
    }
}
