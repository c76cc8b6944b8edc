//! Random numbers that are the same on every machine and in every year.
//!
//! Based on: the SplitMix64 generator (Steele, Lea and Flood 2014, "Fast splittable pseudorandom number
//! generators", constants from memory) and the polar method for normal numbers (Marsaglia and Bray 1964).

/// A stream of random numbers. Streams with different keys have nothing to do with each other.
pub struct Draw(u64);

impl Draw {
    pub fn new(keys: &[u64]) -> Draw {
        let mut draw = Draw(0x5DEE_CE66_D1CE_4E5B);
        for key in keys {
            draw.0 ^= draw.bits() ^ key.wrapping_mul(0xD134_2543_DE82_EF95);
            draw.bits();
        }
        draw
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Evenly in [0, 1).
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Even in the logarithm.
    pub fn log_between(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// A constant error evenly within plus or minus the limit.
    pub fn within(&mut self, limit: f64) -> f64 {
        self.between(-limit, limit)
    }

    pub fn chance(&mut self, part: f64) -> bool {
        self.unit() < part
    }

    /// A whole number from `low` to `high`, both included.
    pub fn whole(&mut self, low: u64, high: u64) -> u64 {
        low + (self.unit() * (high - low + 1) as f64) as u64
    }

    pub fn normal(&mut self) -> f64 {
        loop {
            let (x, y) = (self.between(-1.0, 1.0), self.between(-1.0, 1.0));
            let square = x * x + y * y;
            if square < 1.0 && square > 0.0 {
                return x * (-2.0 * square.ln() / square).sqrt();
            }
        }
    }

    /// One of the entries; each stands with its weight.
    pub fn pick<T: Copy>(&mut self, entries: &[(f64, T)]) -> T {
        let mut left = self.unit() * entries.iter().map(|(weight, _)| weight).sum::<f64>();
        for (weight, entry) in entries {
            left -= weight;
            if left < 0.0 {
                return *entry;
            }
        }
        entries[entries.len() - 1].1
    }

    /// A wandering quantity of mean 0, one value a day; `persistence` is the correlation from day to day.
    pub fn wander(&mut self, days: usize, deviation: f64, persistence: f64) -> Vec<f64> {
        let fresh = (1.0 - persistence * persistence).sqrt();
        let mut now = self.normal();
        (0..days)
            .map(|_| {
                now = persistence * now + fresh * self.normal();
                now * deviation
            })
            .collect()
    }
}

/// The value of a daily course at a time in days, by straight lines from noon to noon.
pub fn at_day(course: &[f64], day: f64) -> f64 {
    let place = (day - 0.5).clamp(0.0, (course.len() - 1) as f64);
    let first = (place as usize).min(course.len().saturating_sub(2));
    let part = place - first as f64;
    course[first] * (1.0 - part) + course[(first + 1).min(course.len() - 1)] * part
}
