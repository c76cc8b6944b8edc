//! Random numbers that are addressed, not drawn in sequence: the same seed and row give the same
//! numbers, whatever else is drawn, and in whatever order.

use crate::quantity::{Coverage, Uncertainty};
use crate::statistics::normal_limit;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// Random numbers of one seed.
#[derive(Debug, Clone)]
pub struct Seed(ChaCha8Rng);

/// The random numbers of one row, in order.
#[derive(Debug, Clone)]
pub struct Numbers(ChaCha8Rng);

impl Seed {
    /// From a number that people choose.
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// The numbers of a row.
    pub fn row(&self, row: u64) -> Numbers {
        let mut numbers = self.0.clone();
        numbers.set_stream(row);
        Numbers(numbers)
    }
}

impl Numbers {
    /// The next one, above 0 and below 1.
    pub fn uniform(&mut self) -> f64 {
        const SCALE: f64 = 1.0 / (1u64 << 53) as f64;
        ((self.0.next_u64() >> 11) as f64 + 0.5) * SCALE
    }

    /// Standard normal.
    pub fn normal(&mut self) -> f64 {
        normal_of(self.uniform())
    }
}

/// A shuffled order of the numbers below a length that is computed place by place and never held in
/// memory: a Feistel network (Luby and Rackoff 1988, SIAM J. Computing 17, 373) over the next even
/// power of two, walked until it falls into the range (Black and Rogaway 2002, cycle walking).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shuffled {
    length: u64,
    half_bits: u32,
    keys: [u64; ROUNDS],
}

const ROUNDS: usize = 6;

impl Shuffled {
    /// An order of so many numbers, up to 2^62, whose keys are the next random numbers.
    pub fn new(length: u64, numbers: &mut Numbers) -> Self {
        let bits = u64::BITS - length.saturating_sub(1).leading_zeros();
        Self {
            length,
            half_bits: bits.div_ceil(2).max(1),
            keys: std::array::from_fn(|_| numbers.0.next_u64()),
        }
    }

    /// What stands at a place; `None` at or beyond the length.
    pub fn at(&self, place: u64) -> Option<u64> {
        if place >= self.length {
            return None;
        }
        // The network is a permutation, so the walk from a place in the range comes back into it.
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

/// A number whose bits all depend on all bits of another (the finaliser of SplitMix64: Steele, Lea and
/// Flood 2014, Fast splittable pseudorandom number generators; constants from memory).
fn mixed(bits: u64) -> u64 {
    let bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    bits ^ (bits >> 31)
}

/// The standard normal value with this chance of a lower one, above 0 and below 1.
pub fn normal_of(chance: f64) -> f64 {
    -normal_limit(chance)
}

/// How far an input is off where the chance of less is `chance`: a limit is a rectangular
/// distribution, an expanded uncertainty a normal one (JCGM 101:2008, 6.4.2 and 6.4.7).
pub fn deviation_of(uncertainty: Uncertainty, chance: f64) -> f64 {
    match uncertainty.coverage {
        Coverage::Limit => uncertainty.half_width * (2.0 * chance - 1.0),
        Coverage::Factor(_) => uncertainty.standard() * normal_of(chance),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_row_has_its_numbers_whatever_was_drawn_before() {
        let seed = Seed::new(7);
        let first: Vec<f64> = (0..5).map(|row| seed.row(row).uniform()).collect();
        let backwards: Vec<f64> = (0..5).rev().map(|row| seed.row(row).uniform()).collect();
        assert!(first.iter().eq(backwards.iter().rev()));
        assert!(first.windows(2).all(|pair| pair[0] != pair[1]));
        assert_ne!(Seed::new(8).row(0).uniform(), first[0]);
    }

    #[test]
    fn moments_are_those_of_the_distributions() {
        let seed = Seed::new(1);
        const ROWS: u64 = 20_000;
        let moments = |of: &dyn Fn(&mut Numbers) -> f64| {
            let values: Vec<f64> = (0..ROWS).map(|row| of(&mut seed.row(row))).collect();
            let mean = values.iter().sum::<f64>() / ROWS as f64;
            let square = values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / ROWS as f64;
            (mean, square.sqrt())
        };
        let (mean, deviation) = moments(&|numbers| numbers.uniform());
        assert_relative_eq!(mean, 0.5, epsilon = 0.01);
        assert_relative_eq!(deviation, (1.0f64 / 12.0).sqrt(), max_relative = 0.02);
        let (mean, deviation) = moments(&|numbers| numbers.normal());
        assert_relative_eq!(mean, 0.0, epsilon = 0.03);
        assert_relative_eq!(deviation, 1.0, max_relative = 0.02);
        let limit = Uncertainty::limit(3.0);
        let (_, deviation) = moments(&|numbers| deviation_of(limit, numbers.uniform()));
        assert_relative_eq!(deviation, limit.standard(), max_relative = 0.02);
    }

    #[test]
    fn a_shuffled_order_has_every_number_once() {
        let seed = Seed::new(3);
        for length in [1, 2, 3, 7, 16, 17, 1_000, 4_097] {
            let order = Shuffled::new(length, &mut seed.row(length));
            let mut all: Vec<u64> = (0..length).map(|place| order.at(place).unwrap()).collect();
            if length >= 1_000 {
                // One number is expected to keep its place.
                assert!(all.iter().enumerate().filter(|(at, n)| *at as u64 == **n).count() < 8);
            }
            all.sort_unstable();
            assert!(all.into_iter().eq(0..length), "{length}");
            assert_eq!(order.at(length), None);
        }
    }
}
