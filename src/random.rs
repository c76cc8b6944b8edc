//! Random numbers that are addressed by seed and row, not drawn in sequence: row 17 of a run holds
//! the same numbers whoever computes it, in whatever order, with or without its neighbours.
//!
//! The numbers are those of ChaCha with 8 rounds (Bernstein 2008, ChaCha, a variant of Salsa20): the
//! seed is the key, the row is the stream.

use crate::statistics;
use chacha20::ChaCha8Rng;
use chacha20::rand_core::{Rng, SeedableRng};

/// The random numbers of one seed.
#[derive(Debug)]
pub struct Random {
    generator: ChaCha8Rng,
}

impl Random {
    /// The numbers of a seed. Any seed will do; neighbouring seeds have nothing in common.
    pub fn new(seed: u64) -> Self {
        Self { generator: ChaCha8Rng::seed_from_u64(seed) }
    }

    /// The numbers of a row, from its first one on.
    pub fn row(&mut self, row: u64) -> Draws<'_> {
        // This goes to the stream's beginning as well.
        self.generator.set_stream(row);
        Draws { generator: &mut self.generator }
    }
}

/// The numbers of one row, one after the other. Every call takes one number, so that the n-th draw
/// of a row is the same whatever distributions the others have.
#[derive(Debug)]
pub struct Draws<'a> {
    generator: &'a mut ChaCha8Rng,
}

impl Draws<'_> {
    /// Evenly distributed between 0 and 1, both excluded.
    pub fn uniform(&mut self) -> f64 {
        const STEPS: f64 = (1u64 << 52) as f64;
        ((self.generator.next_u64() >> 12) as f64 + 0.5) / STEPS
    }

    /// Evenly distributed between -1 and 1, both excluded: standard deviation 1/sqrt(3), the
    /// distribution of an error of which only a limit is known (JCGM 100:2008, 4.3.7).
    pub fn rectangular(&mut self) -> f64 {
        2.0 * self.uniform() - 1.0
    }

    /// Normally distributed with mean 0 and standard deviation 1, by the inverse of the
    /// distribution function.
    pub fn standard_normal(&mut self) -> f64 {
        statistics::normal_quantile(self.uniform())
    }

    /// 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.generator.next_u64()
    }
}

/// A shuffled order of `0..length` that is computed place by place and never held in memory: a
/// Feistel network (Luby and Rackoff 1988) over the next even power of two, walked until it falls
/// into the range (Black and Rogaway 2002, cycle walking).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shuffled {
    length: u64,
    half_bits: u32,
    keys: [u64; ROUNDS],
}

const ROUNDS: usize = 6;

impl Shuffled {
    /// An order of `0..length` whose keys are the next draws.
    pub fn new(length: u64, draws: &mut Draws<'_>) -> Self {
        let bits = u64::BITS - length.saturating_sub(1).leading_zeros();
        Self {
            length,
            half_bits: bits.div_ceil(2).max(1),
            keys: std::array::from_fn(|_| draws.bits()),
        }
    }

    /// What stands at a place; `None` outside of `0..length`.
    pub fn at(&self, place: u64) -> Option<u64> {
        if place >= self.length {
            return None;
        }
        // The network is a permutation, so the walk from a place in the range comes back to it.
        let mut now = self.once(place);
        while now >= self.length {
            now = self.once(now);
        }
        Some(now)
    }

    fn once(&self, place: u64) -> u64 {
        let mask = (1u64 << self.half_bits) - 1;
        let (mut left, mut right) = (place >> self.half_bits, place & mask);
        for key in self.keys {
            (left, right) = (right, left ^ (mixed(right ^ key) & mask));
        }
        left << self.half_bits | right
    }
}

/// A number whose bits all depend on all bits of another (the finaliser of SplitMix64: Steele, Lea
/// and Flood 2014, Fast splittable pseudorandom number generators).
fn mixed(bits: u64) -> u64 {
    let bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    bits ^ (bits >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_is_the_same_in_any_order() {
        let mut random = Random::new(7);
        let mut row = |row: u64| {
            let mut draws = random.row(row);
            (0..40).map(|_| draws.uniform()).collect::<Vec<_>>()
        };
        let (first, second) = (row(0), row(1));
        assert_eq!(row(1), second);
        assert_eq!(row(0), first);
        assert_ne!(first, second);
        assert_ne!(Random::new(8).row(0).uniform(), first[0]);
        assert_ne!(Random::new(7).row(1 << 40).uniform(), first[0]);
    }

    /// Mean and variance within five standard errors.
    #[test]
    fn draws_have_their_mean_and_variance() {
        const ROWS: u64 = 20_000;
        let mut random = Random::new(1);
        let mut moments = |draw: fn(&mut Draws<'_>) -> f64| {
            let values: Vec<f64> = (0..ROWS).map(|row| draw(&mut random.row(row))).collect();
            let mean = values.iter().sum::<f64>() / ROWS as f64;
            let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / ROWS as f64;
            (mean, variance)
        };
        let root = (ROWS as f64).sqrt();
        type Draw = fn(&mut Draws<'_>) -> f64;
        let cases: [(Draw, f64, f64, f64); 3] = [
            (|draws| draws.uniform(), 0.5, 1.0 / 12.0, 1.0 / 80.0),
            (|draws| draws.rectangular(), 0.0, 1.0 / 3.0, 1.0 / 5.0),
            (|draws| draws.standard_normal(), 0.0, 1.0, 3.0),
        ];
        for (draw, mean, variance, fourth) in cases {
            let (found_mean, found_variance) = moments(draw);
            assert!((found_mean - mean).abs() < 5.0 * f64::sqrt(variance) / root);
            let error = f64::sqrt(fourth - variance * variance) / root;
            assert!((found_variance - variance).abs() < 5.0 * error);
        }
    }

    #[test]
    fn a_shuffled_order_has_every_place_once() {
        let mut random = Random::new(3);
        for length in [1, 2, 3, 7, 16, 17, 1000, 4097] {
            let order = Shuffled::new(length, &mut random.row(length));
            let mut seen: Vec<u64> = (0..length).map(|place| order.at(place).unwrap()).collect();
            if length >= 1000 {
                // Hardly any place keeps its own: one is expected.
                assert!(
                    seen.iter().enumerate().filter(|(at, now)| *at as u64 == **now).count() < 8
                );
            }
            seen.sort_unstable();
            assert!(seen.into_iter().eq(0..length), "{length}");
            assert_eq!(order.at(length), None);
        }
    }
}
