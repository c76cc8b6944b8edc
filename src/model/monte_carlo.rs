//! Draws of all uncertain inputs, to hold first-order propagation against (JCGM 101:2008).

use super::{Balance, Inputs, Model, Output, Workspace};
use crate::random::Seed;
use std::ops::Range;

/// Part of the draws inside a coverage interval.
const COVERAGE: f64 = 0.95;

/// Draws that are held; of more, each block is summed up and forgotten (JCGM 101:2008, 7.9, does so too), so
/// that memory does not grow with their number.
const BLOCK: usize = 1_000_000;

/// The results of draws; draws without a balance are counted alone.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Draws {
    /// Of the block that is not full, by [`Output::ALL`], an entry a draw.
    results: Vec<[f64; Output::ALL.len()]>,
    /// Of every full block, by [`Output::ALL`].
    blocks: Vec<[Summary; Output::ALL.len()]>,
    /// Draws whose numbers have no balance.
    pub infeasible: u64,
}

impl Draws {
    /// Draws that have a balance.
    pub fn count(&self) -> usize {
        self.blocks.len() * BLOCK + self.results.len()
    }

    /// Adds others, that were drawn after these.
    pub fn append(&mut self, mut other: Self) {
        self.blocks.append(&mut other.blocks);
        self.results.append(&mut other.results);
        self.infeasible += other.infeasible;
        while self.results.len() >= BLOCK {
            let rest = self.results.split_off(BLOCK);
            let block = std::mem::replace(&mut self.results, rest);
            let whole = |output| summary(&mut column(&block, output)).unwrap_or_default();
            self.blocks.push(Output::ALL.map(whole));
        }
    }

    /// Mean, standard uncertainty and coverage interval of a result; `None` of fewer than 100 draws. Of several
    /// blocks these are the means over them, each by its number of draws.
    pub fn summary(&self, output: Output) -> Option<Summary> {
        let of = |block: &[Summary; Output::ALL.len()]| (BLOCK, block[output as usize]);
        let rest = summary(&mut column(&self.results, output));
        let rest = rest.map(|rest| (self.results.len(), rest));
        let parts: Vec<(usize, Summary)> = self.blocks.iter().map(of).chain(rest).collect();
        together(&parts)
    }
}

fn column(results: &[[f64; Output::ALL.len()]], output: Output) -> Vec<f64> {
    results.iter().map(|result| result[output as usize]).collect()
}

/// Parts of the draws as one, each by its number of draws.
fn together(parts: &[(usize, Summary)]) -> Option<Summary> {
    let [(_, first), others @ ..] = parts else { return None };
    if others.is_empty() {
        return Some(*first);
    }
    let all: f64 = parts.iter().map(|(count, _)| *count as f64).sum();
    let mean_of = |of: &dyn Fn(&Summary) -> f64| {
        parts.iter().map(|(count, part)| *count as f64 * of(part)).sum::<f64>() / all
    };
    let mean = mean_of(&|part| part.mean);
    let variance = mean_of(&|part| part.standard.powi(2) + (part.mean - mean).powi(2));
    let interval = [0, 1].map(|end| mean_of(&|part| part.interval[end]));
    Some(Summary { mean, standard: variance.sqrt(), interval })
}

/// What draws of one result come to.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Summary {
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub standard: f64,
    /// The interval that leaves 2.5 % of the draws on either side (JCGM 101:2008, 7.7.2).
    pub interval: [f64; 2],
}

/// Mean, standard deviation and the probabilistically symmetric 95 % interval of draws, which are put in
/// order; `None` of fewer than 100.
pub fn summary(values: &mut [f64]) -> Option<Summary> {
    const LEAST: usize = 100;
    if values.len() < LEAST {
        return None;
    }
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let squares = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
    values.sort_by(f64::total_cmp);
    // JCGM 101:2008, 7.7: q of M draws lie inside, as many on either side.
    let inside = (COVERAGE * count).round();
    let first = (0.5 * (count - inside)).round() as usize;
    let last = (first + inside as usize).min(values.len() - 1);
    Some(Summary {
        mean,
        standard: (squares / (count - 1.0)).sqrt(),
        interval: [values[first], values[last]],
    })
}

/// What draws say of first-order propagation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// They agree within half a unit in the second digit.
    Agree,
    /// They differ by no more than the draws themselves are unsure: more are needed to tell.
    TooFewDraws,
    /// They differ.
    Differ,
}

/// First-order propagation beside draws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Validation {
    /// Largest distance of the ends of the two 95 % intervals.
    pub distance: f64,
    /// Half a unit in the second digit of the standard uncertainty (JCGM 101:2008, 7.9.2).
    pub tolerance: f64,
    /// How far the draws' own ends are unsure, one standard deviation.
    pub noise: f64,
}

impl Validation {
    /// Holds `value` with its first-order `standard` against draws (JCGM 101:2008, 8.2).
    pub fn of(value: f64, standard: f64, draws: &Summary, count: usize) -> Self {
        const EXPANDED: f64 = 1.96;
        let ends = [value - EXPANDED * standard, value + EXPANDED * standard];
        let distances = ends.iter().zip(draws.interval).map(|(a, b)| (a - b).abs());
        let tolerance = 0.5 * 10f64.powf(standard.log10().floor() - 1.0);
        // A quantile of normal draws: root of p (1 - p) / n over the density there.
        let noise = (0.025f64 * 0.975 / count as f64).sqrt() / 0.058_445 * draws.standard;
        Self { distance: distances.fold(0.0, f64::max), tolerance, noise }
    }

    /// What the two say of each other.
    pub fn verdict(&self) -> Verdict {
        if self.distance <= self.tolerance {
            Verdict::Agree
        } else if self.distance <= 3.0 * self.noise {
            Verdict::TooFewDraws
        } else {
            Verdict::Differ
        }
    }
}

impl Model {
    /// Draws the balance of the site as it stands. Each draw depends on its number alone.
    pub fn draws(&self, seed: &Seed, draws: Range<u64>) -> Draws {
        let mut work = Workspace::new(self);
        let mut inputs: Inputs = self.base().clone();
        let mut found = Draws::default();
        for draw in draws {
            self.draw(seed, draw, &mut inputs);
            match self.evaluate(&inputs, &mut work) {
                Ok(balance) => found.results.push(all_of(&balance)),
                Err(_) => found.infeasible += 1,
            }
        }
        found
    }
}

fn all_of(balance: &Balance) -> [f64; Output::ALL.len()] {
    Output::ALL.map(|output| output.of(balance))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Uncertainty;
    use crate::random::deviation_of;
    use approx::assert_relative_eq;

    const DRAWS: u64 = 30_000;

    fn sums(uncertainties: [Uncertainty; 4], seed: u64) -> Vec<f64> {
        let seed = Seed::new(seed);
        (0..DRAWS)
            .map(|draw| {
                let mut numbers = seed.row(draw);
                uncertainties.iter().map(|u| deviation_of(*u, numbers.uniform())).sum()
            })
            .collect()
    }

    /// JCGM 101:2008, 9.2.2 to 9.2.4 (from memory): the sum of four quantities with standard uncertainty
    /// 1, all normal: u = 2.00, 95 % interval +-3.92; all rectangular: +-3.88; with the last of them
    /// rectangular of standard uncertainty 10: u = 10.1, +-17.0.
    #[test]
    fn sums_of_four_quantities() {
        let normal = crate::quantity::Uncertainty {
            half_width: 1.0,
            coverage: crate::quantity::Coverage::Factor(1.0),
        };
        let rectangular = Uncertainty::limit(3f64.sqrt());
        let wide = Uncertainty::limit(10.0 * 3f64.sqrt());
        for (inputs, standard, end, close) in [
            // Ends of 30 000 draws are known to 0.8 % of them, one standard deviation.
            ([normal; 4], 2.0, 3.92, 0.1),
            ([rectangular; 4], 2.0, 3.88, 0.1),
            ([rectangular, rectangular, rectangular, wide], 10.1, 17.0, 0.3),
        ] {
            let found = summary(&mut sums(inputs, 5)).unwrap();
            assert_relative_eq!(found.standard, standard, max_relative = 0.015);
            assert_relative_eq!(found.interval[0], -end, epsilon = close);
            assert_relative_eq!(found.interval[1], end, epsilon = close);
        }
    }

    #[test]
    fn blocks_together_are_the_whole() {
        let mut values: Vec<f64> =
            (0..40_000).map(|draw| Seed::new(7).row(draw).normal()).collect();
        let parts: Vec<(usize, Summary)> = values
            .chunks(15_000)
            .map(|part| (part.len(), summary(&mut part.to_vec()).unwrap()))
            .collect();
        let (joined, whole) = (together(&parts).unwrap(), summary(&mut values).unwrap());
        assert_relative_eq!(joined.mean, whole.mean, epsilon = 1e-12);
        assert_relative_eq!(joined.standard, whole.standard, max_relative = 1e-4);
        for (end, wanted) in joined.interval.iter().zip(whole.interval) {
            // A quantile of 40 000 draws is known to 0.013, one standard deviation.
            assert_relative_eq!(*end, wanted, epsilon = 0.013);
        }
        assert_eq!(together(&parts[..1]), Some(parts[0].1));
        assert_eq!(together(&[]), None);
    }

    #[test]
    fn validation_tells_straight_from_curved() {
        let normal = |square: bool| {
            let seed = Seed::new(3);
            let mut values: Vec<f64> = (0..DRAWS)
                .map(|draw| {
                    let x = 10.0 + seed.row(draw).normal();
                    if square { x * x * x } else { x }
                })
                .collect();
            summary(&mut values).unwrap()
        };
        let verdict = |value, standard, draws, count: u64| {
            Validation::of(value, standard, &draws, count as usize).verdict()
        };
        assert_eq!(verdict(10.0, 1.0, normal(false), DRAWS), Verdict::Agree);
        assert_eq!(verdict(1_000.0, 300.0, normal(true), DRAWS), Verdict::Differ);
        assert_eq!(verdict(10.0, 1.1, normal(false), 100), Verdict::TooFewDraws);
    }
}
