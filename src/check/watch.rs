//! A row of residuals watched for a change against its own first values: constant errors of the
//! instruments drop out.

use super::cusum::{Chart, Signal, one_sided_run_length};

/// How a row is watched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plan {
    /// Slack of the cumulative sums, in standard deviations.
    pub slack: f64,
    /// Their decision interval.
    pub decision: f64,
    /// How many values at the beginning are taken for quiet.
    pub baseline: usize,
}

impl Plan {
    /// The most that one value counts: two in a row must agree before they signal, so that a slip of
    /// the pen is no finding.
    fn most(&self) -> f64 {
        0.5 * self.decision + self.slack + 1e-6
    }

    /// Mean number of values until a shift of so many standard deviations is found; at least two.
    pub fn run_length(&self, shift: f64) -> f64 {
        one_sided_run_length(self.slack, self.decision, shift).max(2.0)
    }
}

/// What became of a row.
#[derive(Debug, Clone, PartialEq)]
pub struct Watched {
    /// The row.
    pub values: Vec<Option<f64>>,
    /// Mean of the quiet beginning.
    pub mean: f64,
    /// Standard deviation that a value is judged by.
    pub deviation: f64,
    /// Cumulative sums of rises and of falls, in standard deviations; NaN in gaps and before the
    /// watch began. They go on after a signal.
    pub sums: Vec<(f64, f64)>,
    /// The first change.
    pub change: Option<Change>,
}

/// A change in a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Change {
    /// The value at which it was found.
    pub found: usize,
    /// The value at which it began.
    pub began: usize,
    /// Whether the residuals rose.
    pub is_rise: bool,
}

/// Watches a row; `stated` is the standard deviation that the instruments' repeatability gives, and
/// the beginning's own is taken where it is larger. `None` where the beginning has too few values.
pub fn watch(row: &[Option<f64>], stated: f64, plan: &Plan) -> Option<Watched> {
    let beginning: Vec<f64> = row.iter().take(plan.baseline).flatten().copied().collect();
    let (mean, deviation) = quiet(&beginning, stated)?;
    let mut chart = Chart::new(plan.slack, plan.decision);
    let mut seen = Vec::new();
    let mut change = None;
    let mut sums = vec![(f64::NAN, f64::NAN); row.len()];
    for (index, value) in row.iter().enumerate().skip(plan.baseline) {
        let Some(value) = value else { continue };
        seen.push(index);
        let residual = ((value - mean) / deviation).clamp(-plan.most(), plan.most());
        let signal = chart.see(residual);
        sums[index] = chart.sums();
        if let (None, Some(Signal { is_rise, began })) = (change, signal) {
            let since = &seen[seen.len().saturating_sub(began)..];
            let began = most_likely_begin(row, since, mean);
            change = Some(Change { found: index, began, is_rise });
        }
    }
    Some(Watched { values: row.to_vec(), mean, deviation, sums, change })
}

/// Since when a sum has risen is not when a change began: of these places, the one from which a shift
/// of the mean is the most likely (Hinkley 1970, Biometrika 57, 1).
fn most_likely_begin(row: &[Option<f64>], places: &[usize], mean: f64) -> usize {
    let shift = |from: usize| {
        let sum: f64 = places[from..].iter().filter_map(|place| Some(row[*place]? - mean)).sum();
        sum * sum / (places.len() - from) as f64
    };
    let from = (0..places.len()).max_by(|a, b| shift(*a).total_cmp(&shift(*b))).unwrap_or(0);
    places[from]
}

/// Mean and standard deviation of values, without those that stand far off; `None` for fewer than
/// five.
fn quiet(values: &[f64], stated: f64) -> Option<(f64, f64)> {
    const LEAST: usize = 5;
    let kept: Vec<f64> = without_slips(values, stated).map(|index| values[index]).collect();
    if kept.len() < LEAST {
        return None;
    }
    let count = kept.len() as f64;
    let mean = kept.iter().sum::<f64>() / count;
    let squares: f64 = kept.iter().map(|value| (value - mean).powi(2)).sum();
    let own = (squares / (count - 1.0)).sqrt() * lasting(&kept, mean, squares);
    let deviation = own.max(stated);
    (deviation > 0.0).then_some((mean, deviation))
}

/// How much wider sums of values spread than if each were new: weather lasts for days. From the
/// correlation of neighbours, taken for that of a first-order process; at least 1.
fn lasting(values: &[f64], mean: f64, squares: f64) -> f64 {
    const MOST: f64 = 0.8;
    let products: f64 = values.windows(2).map(|pair| (pair[0] - mean) * (pair[1] - mean)).sum();
    let correlation = (products / squares.max(f64::MIN_POSITIVE)).clamp(0.0, MOST);
    ((1.0 + correlation) / (1.0 - correlation)).sqrt()
}

/// Places of the values that stand with the others: no further from their median than six standard
/// deviations, by the stated one or by the median deviation, whichever is larger.
pub fn without_slips(values: &[f64], stated: f64) -> impl Iterator<Item = usize> + use<'_> {
    const FAR: f64 = 6.0;
    /// Of a normal distribution: standard over median absolute deviation.
    const NORMAL: f64 = 1.4826;
    let middle = median(values.iter().copied());
    let spread = NORMAL * median(values.iter().map(|value| (value - middle).abs()));
    let far = FAR * stated.max(spread);
    (0..values.len()).filter(move |index| (values[*index] - middle).abs() <= far)
}

/// The value in the middle; NaN of none.
pub fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    match sorted.len() {
        0 => f64::NAN,
        odd if odd % 2 == 1 => sorted[half],
        _ => 0.5 * (sorted[half - 1] + sorted[half]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    const PLAN: Plan = Plan { slack: 0.5, decision: 8.0, baseline: 8 };

    fn row_of(after: &[f64]) -> Vec<Option<f64>> {
        let quiet = [0.2, -0.3, 0.1, 0.4, -0.2, -0.1, 0.3, -0.4];
        quiet.iter().chain(after).map(|value| Some(*value)).collect()
    }

    #[test]
    fn a_step_is_found_and_dated_whatever_the_gaps() {
        let mut row = row_of(&[0.1, -0.2, 4.0, 4.2, 3.9, 4.1]);
        row.insert(9, None);
        let watched = watch(&row, 1.0, &PLAN).unwrap();
        assert_eq!(watched.change, Some(Change { found: 13, began: 11, is_rise: true }));
        // A little luck before it does not make it begin earlier.
        let lucky = watch(&row_of(&[0.9, 1.2, 20.0, 20.5]), 1.0, &PLAN).unwrap();
        assert_eq!(lucky.change.unwrap().began, 10);
        assert!(watched.sums[9].0.is_nan());
    }

    #[test]
    fn one_slip_is_no_change() {
        let watched =
            watch(&row_of(&[0.0, 500.0, 0.1, -0.3, 0.2, -0.1, -0.4]), 1.0, &PLAN).unwrap();
        assert_eq!(watched.change, None);
        // Nor does one in the beginning move its mean.
        let mut slipped = row_of(&[0.0]);
        slipped[3] = Some(900.0);
        assert!(watch(&slipped, 1.0, &PLAN).unwrap().mean.abs() < 0.2);
    }

    #[test]
    fn a_change_by_a_tenth_of_the_decision_is_not_seen_and_a_large_one_in_two() {
        assert_eq!(PLAN.run_length(40.0), 2.0);
        assert!(PLAN.run_length(0.1) > 100.0);
        assert_relative_eq!(median([3.0, 1.0, 2.0, 4.0].into_iter()), 2.5);
        assert_eq!(watch(&[Some(1.0); 4], 1.0, &PLAN), None);
    }

    #[test]
    fn weather_that_lasts_widens_a_mean() {
        // Neighbours' products are 1 - 1 + 1 of squares of 4: a correlation of 1/4.
        let slow = [1.0, 1.0, -1.0, -1.0].map(|value| value + 7.0);
        assert_relative_eq!(lasting(&slow, 7.0, 4.0), (1.25_f64 / 0.75).sqrt());
        // Values that alternate are no reason to be surer.
        assert_eq!(lasting(&[1.0, -1.0, 1.0, -1.0], 0.0, 4.0), 1.0);
        assert_relative_eq!(lasting(&[1.0; 50], 0.0, 50.0), 3.0);
    }

    #[test]
    fn slips_stand_six_deviations_off() {
        // Median 0, median deviation 1: a standard deviation of 1.4826, and six of them 8.9.
        let values = [-1.0, 1.0, -1.0, 1.0, 0.0, 8.8, -9.0];
        let kept: Vec<usize> = without_slips(&values, 0.1).collect();
        assert_eq!(kept, [0, 1, 2, 3, 4, 5]);
        // Where the instruments are worse than that, theirs counts.
        assert_eq!(without_slips(&values, 1.6).count(), 7);
        assert_eq!(without_slips(&values, 1.4).count(), 6);
    }
}
