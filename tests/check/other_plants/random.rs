//! Random numbers that are the same on every machine and in every year.
//!
//! The generator is xoshiro256++ (Blackman and Vigna 2018), seeded by SplitMix64; both are in the public domain and
//! written here from memory. A log is made of several streams, so that the same seed gives the same plant, weather
//! and slips whatever the fault.

/// A stream of random numbers.
pub struct Random {
    state: [u64; 4],
}

fn split_mix(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

impl Random {
    /// The stream `label` of `seed`.
    pub fn stream(seed: u64, label: &str) -> Random {
        // FNV-1a of the label sets the streams apart.
        let hash = label.bytes().fold(0xCBF2_9CE4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01B3)
        });
        let mut mixer = seed.wrapping_mul(0xD134_2543_DE82_EF95) ^ hash;
        let state = [(); 4].map(|()| split_mix(&mut mixer));
        Random { state }
    }

    fn next(&mut self) -> u64 {
        let s = &mut self.state;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let t = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// From 0 up to, but without, 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A whole number from `low` to `high`, both included.
    pub fn whole(&mut self, low: usize, high: usize) -> usize {
        low + (self.unit() * (high - low + 1) as f64) as usize
    }

    /// True with this chance.
    pub fn chance(&mut self, chance: f64) -> bool {
        self.unit() < chance
    }

    /// One of several.
    pub fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.whole(0, from.len() - 1)]
    }

    /// Normal, mean 0, standard deviation 1 (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }

    /// Normal about `mean`, drawn again until it is within `limit` of it.
    pub fn normal_within(&mut self, mean: f64, deviation: f64, limit: f64) -> f64 {
        loop {
            let off = deviation * self.normal();
            if off.abs() <= limit {
                return mean + off;
            }
        }
    }
}

/// A value that wanders about 0 with persistence: autoregressive of first order.
pub struct Wander {
    value: f64,
    persistence: f64,
    deviation: f64,
}

impl Wander {
    /// Starts anywhere within its own spread.
    pub fn new(random: &mut Random, persistence: f64, deviation: f64) -> Wander {
        Wander { value: deviation * random.normal(), persistence, deviation }
    }

    /// The next value.
    pub fn step(&mut self, random: &mut Random) -> f64 {
        let fresh = self.deviation * (1.0 - self.persistence * self.persistence).sqrt();
        self.value = self.persistence * self.value + fresh * random.normal();
        self.value
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_their_mean_and_spread() {
        let mut random = Random::stream(1, "test");
        let draws: Vec<f64> = (0..20_000).map(|_| random.normal()).collect();
        let mean = draws.iter().sum::<f64>() / 20_000.0;
        let spread = draws.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / 20_000.0;
        // Four standard errors of a mean and of a variance.
        assert!(mean.abs() < 4.0 / 20_000_f64.sqrt());
        assert!((spread - 1.0).abs() < 4.0 * (2.0 / 20_000.0_f64).sqrt());
    }

    #[test]
    fn streams_differ() {
        let one = Random::stream(1, "plant").unit();
        assert_ne!(one, Random::stream(1, "weather").unit());
        assert_ne!(one, Random::stream(2, "plant").unit());
        assert_eq!(one, Random::stream(1, "plant").unit());
    }
}
