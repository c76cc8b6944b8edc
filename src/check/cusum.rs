//! Cumulative sums of standardised residuals: a slow change shows long before a single residual does
//! (Page 1954, Biometrika 41, 100; ISO 7870-4).

use crate::equation::Equation;
use crate::statistics::normal_exceeds;

/// The sum of rises; that of falls has the residual's sign turned.
pub const SUM: Equation = Equation {
    id: "cumulative_sum",
    text: "sum = sum_before + residual - slack",
    source: "Page (1954), Biometrika 41, 100; ISO 7870-4; no sum falls below zero",
};

/// A two-sided chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chart {
    /// Slack, in standard deviations: half of the shift that is to be found.
    pub slack: f64,
    /// Decision interval, in standard deviations.
    pub decision: f64,
    high: f64,
    low: f64,
    /// Residuals since the sums last left zero: where a change began.
    high_since: usize,
    low_since: usize,
}

/// A change that a chart has found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Signal {
    /// Whether the residuals rose; else they fell.
    pub is_rise: bool,
    /// How many residuals ago it began, this one included.
    pub began: usize,
}

impl Chart {
    /// A chart at zero. Slack 0.5 and a decision interval of 5 are the textbook's; 8 gives one false
    /// alarm in about 4000 residuals.
    pub fn new(slack: f64, decision: f64) -> Self {
        Self { slack, decision, high: 0.0, low: 0.0, high_since: 0, low_since: 0 }
    }

    /// The sums: of rises, and of falls.
    pub fn sums(&self) -> (f64, f64) {
        (self.high, self.low)
    }

    /// Takes a standardised residual; a gap takes none.
    pub fn see(&mut self, residual: f64) -> Option<Signal> {
        self.high = (self.high + residual - self.slack).max(0.0);
        self.low = (self.low - residual - self.slack).max(0.0);
        self.high_since = if self.high > 0.0 { self.high_since + 1 } else { 0 };
        self.low_since = if self.low > 0.0 { self.low_since + 1 } else { 0 };
        if self.high > self.decision {
            Some(Signal { is_rise: true, began: self.high_since })
        } else if self.low > self.decision {
            Some(Signal { is_rise: false, began: self.low_since })
        } else {
            None
        }
    }
}

/// Mean number of residuals until a one-sided sum signals, when they are normal with this mean: the
/// integral equation of the run length on a grid (Brook and Evans 1972, Biometrika 59, 539).
pub fn one_sided_run_length(slack: f64, decision: f64, mean: f64) -> f64 {
    const CELLS: usize = 100;
    let width = 2.0 * decision / (2 * CELLS - 1) as f64;
    let below = |to: f64| 1.0 - normal_exceeds(to - mean + slack);
    // Cell 0 is the sum at zero; the others are centred on whole steps.
    let step = |from: usize, to: usize| {
        let centre = (to as f64 - from as f64) * width;
        if to == 0 {
            below(centre + 0.5 * width)
        } else {
            below(centre + 0.5 * width) - below(centre - 0.5 * width)
        }
    };
    let mut matrix = vec![vec![0.0; CELLS + 1]; CELLS];
    for (from, row) in matrix.iter_mut().enumerate() {
        for (to, entry) in row[..CELLS].iter_mut().enumerate() {
            *entry = f64::from(from == to) - step(from, to);
        }
        row[CELLS] = 1.0;
    }
    for pivot in 0..CELLS {
        let (above, below) = matrix.split_at_mut(pivot + 1);
        let line = &above[pivot];
        for row in below {
            let factor = row[pivot] / line[pivot];
            for (entry, pivot_entry) in row[pivot..].iter_mut().zip(&line[pivot..]) {
                *entry -= factor * pivot_entry;
            }
        }
    }
    let mut lengths = vec![0.0; CELLS];
    for row in (0..CELLS).rev() {
        let sum: f64 = (row + 1..CELLS).map(|k| matrix[row][k] * lengths[k]).sum();
        lengths[row] = (matrix[row][CELLS] - sum) / matrix[row][row];
    }
    lengths[0]
}

/// The same for a chart that watches both sides, as handbooks print it: 1 / ARL is the sum of both sides'
/// (Kemp 1961).
#[cfg(test)]
fn run_length(slack: f64, decision: f64, mean: f64) -> f64 {
    let up = one_sided_run_length(slack, decision, mean);
    let down = one_sided_run_length(slack, decision, -mean);
    1.0 / (1.0 / up + 1.0 / down)
}

/// Siegmund's approximation of the one-sided run length (1985), for a check on the grid.
#[cfg(test)]
fn siegmund(slack: f64, decision: f64, mean: f64) -> f64 {
    let delta = mean - slack;
    let b = decision + 1.166;
    ((-2.0 * delta * b).exp() + 2.0 * delta * b - 1.0) / (2.0 * delta * delta)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Two-sided run lengths for slack 0.5: Montgomery, Introduction to Statistical Quality Control,
    /// table of the tabular cusum (from memory): 168 and 465 without a shift for h 4 and 5; 8.38 and
    /// 10.4 for a shift of one, 3.34 and 4.01 for two.
    #[test]
    fn run_lengths_of_a_handbook() {
        for (decision, shift, printed) in [
            (4.0, 0.0, 168.0),
            (5.0, 0.0, 465.0),
            (4.0, 1.0, 8.38),
            (5.0, 1.0, 10.4),
            (4.0, 2.0, 3.34),
            (5.0, 2.0, 4.01),
        ] {
            assert_relative_eq!(run_length(0.5, decision, shift), printed, max_relative = 5e-3);
        }
        let grid = one_sided_run_length(0.5, 8.0, 0.0);
        assert_relative_eq!(grid, siegmund(0.5, 8.0, 0.0), max_relative = 0.05);
    }

    #[test]
    fn a_shift_is_found_and_dated() {
        let mut chart = Chart::new(0.5, 5.0);
        let quiet = [0.3, -0.8, 0.1, -0.2, 0.6, -1.1];
        assert!(quiet.into_iter().all(|residual| chart.see(residual).is_none()));
        let signal = (1..).find_map(|day| chart.see(2.0).map(|signal| (day, signal))).unwrap();
        assert_eq!(signal, (4, Signal { is_rise: true, began: 4 }));
        let mut chart = Chart::new(0.5, 5.0);
        let signal = (1..).find_map(|day| chart.see(-3.0).map(|signal| (day, signal))).unwrap();
        assert_eq!(signal, (3, Signal { is_rise: false, began: 3 }));
        assert_eq!(chart.sums(), (0.0, 3.0 * 2.5));
    }
}
