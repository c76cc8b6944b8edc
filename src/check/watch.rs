//! A row of residuals watched for a change against its own values of some time before: constant errors
//! of the instruments drop out, and so does what wanders slowly.

use super::cusum::{Chart, Signal, one_sided_run_length};

/// Of a normal distribution: standard over median absolute deviation.
const NORMAL: f64 = 1.4826;

/// How a row is watched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plan {
    /// Slack of the cumulative sums, in standard deviations.
    pub slack: f64,
    /// Their decision interval.
    pub decision: f64,
    /// A value is judged by those from so many places before it.
    pub farthest: usize,
    /// To so many places before it, that one left out: a change of late is not its own measure.
    pub nearest: usize,
    /// Values there that it takes at least.
    pub least: usize,
}

impl Plan {
    /// The most that one value counts: two in a row must agree before they signal, so that a slip of
    /// the pen is no finding.
    fn most(&self) -> f64 {
        0.5 * self.decision + self.slack + 1e-6
    }

    /// Places after which a change is most of what later values are judged by: what has not been found
    /// by then never is.
    pub fn forgets_after(&self) -> usize {
        self.nearest + (self.farthest - self.nearest) / 2
    }

    /// Mean number of values until a shift of so many standard deviations is found; at least two.
    /// `None` where that is longer than the row remembers.
    pub fn run_length(&self, shift: f64) -> Option<f64> {
        let length = one_sided_run_length(self.slack, self.decision, shift).max(2.0);
        (length <= self.forgets_after() as f64).then_some(length)
    }
}

/// What a value is judged by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measure {
    /// Median of the values some time before.
    pub middle: f64,
    /// Standard deviation: 1.4826 times their median distance from that, or what the instruments'
    /// repeatability gives, whichever is larger.
    pub deviation: f64,
}

/// What became of a row.
#[derive(Debug, Clone, PartialEq)]
pub struct Watched {
    /// The row.
    pub values: Vec<Option<f64>>,
    /// What each value is judged by; `None` where too few stand before it.
    pub measures: Vec<Option<Measure>>,
    /// Cumulative sums of rises and of falls, in standard deviations; NaN in gaps and before the
    /// watch began. They go on after a signal.
    pub sums: Vec<(f64, f64)>,
    /// The first change.
    pub change: Option<Change>,
}

impl Watched {
    /// What a value to come would be judged by.
    pub fn last_measure(&self) -> Option<Measure> {
        self.measures.iter().rev().find_map(|measure| *measure)
    }
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

/// Watches a row; `stated` is the standard deviation that the instruments' repeatability gives.
pub fn watch(row: &[Option<f64>], stated: f64, plan: &Plan) -> Watched {
    let mut chart = Chart::new(plan.slack, plan.decision);
    let mut seen = Vec::new();
    let mut change = None;
    let mut sums = vec![(f64::NAN, f64::NAN); row.len()];
    let measures: Vec<Option<Measure>> =
        (0..row.len()).map(|index| measure(row, index, stated, plan)).collect();
    for (index, (value, measure)) in row.iter().zip(&measures).enumerate() {
        let (Some(value), Some(measure)) = (value, measure) else { continue };
        seen.push(index);
        let residual = (value - measure.middle) / measure.deviation;
        let signal = chart.see(residual.clamp(-plan.most(), plan.most()));
        sums[index] = chart.sums();
        if let (None, Some(Signal { is_rise, began })) = (change, signal) {
            let since = &seen[seen.len().saturating_sub(began)..];
            // What stood before the change, not after it, says from where the mean was shifted.
            let middle = measures[since[0]].unwrap_or(*measure).middle;
            let began = most_likely_begin(row, since, middle);
            change = Some(Change { found: index, began, is_rise });
        }
    }
    Watched { values: row.to_vec(), measures, sums, change }
}

/// What the value at a place is judged by.
fn measure(row: &[Option<f64>], place: usize, stated: f64, plan: &Plan) -> Option<Measure> {
    let to = place.checked_sub(plan.nearest)?;
    let before: Vec<f64> =
        row[place.saturating_sub(plan.farthest)..to].iter().flatten().copied().collect();
    if before.len() < plan.least {
        return None;
    }
    let (middle, spread) = middle_and_spread(&before);
    let deviation = spread.max(stated);
    (deviation > 0.0).then_some(Measure { middle, deviation })
}

/// The median, and the standard deviation that the median distance from it stands for.
pub fn middle_and_spread(values: &[f64]) -> (f64, f64) {
    let middle = median(values.iter().copied());
    (middle, NORMAL * median(values.iter().map(|value| (value - middle).abs())))
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

/// Places of the values that stand with the others: no further from their median than six standard
/// deviations, by the stated one or by the median deviation, whichever is larger.
pub fn without_slips(values: &[f64], stated: f64) -> impl Iterator<Item = usize> + use<'_> {
    const FAR: f64 = 6.0;
    let (middle, spread) = middle_and_spread(values);
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

    const PLAN: Plan = Plan { slack: 0.5, decision: 8.0, farthest: 12, nearest: 4, least: 5 };

    /// Ten quiet values, of a median of 0 and a spread below 1, and what comes after.
    fn row_of(after: &[f64]) -> Vec<Option<f64>> {
        let quiet = [0.2, -0.3, 0.1, 0.4, -0.2, -0.1, 0.3, -0.4, 0.1, -0.1];
        quiet.iter().chain(after).map(|value| Some(*value)).collect()
    }

    #[test]
    fn a_step_is_found_and_dated_whatever_the_gaps() {
        let mut row = row_of(&[0.1, -0.2, 4.0, 4.2, 3.9, 4.1]);
        row.insert(11, None);
        let watched = watch(&row, 1.0, &PLAN);
        assert_eq!(watched.change, Some(Change { found: 15, began: 13, is_rise: true }));
        // A little luck before it does not make it begin earlier.
        let lucky = watch(&row_of(&[0.9, 1.2, 20.0, 20.5]), 1.0, &PLAN);
        assert_eq!(lucky.change.unwrap().began, 12);
        assert!(watched.sums[11].0.is_nan() && watched.sums[8].0.is_nan());
    }

    #[test]
    fn one_slip_is_no_change() {
        let watched = watch(&row_of(&[0.0, 500.0, 0.1, -0.3, 0.2, -0.1, -0.4]), 1.0, &PLAN);
        assert_eq!(watched.change, None);
        // Nor does one among the values before move their median.
        let mut slipped = row_of(&[0.0]);
        slipped[3] = Some(900.0);
        assert!(watch(&slipped, 1.0, &PLAN).last_measure().unwrap().middle.abs() < 0.2);
    }

    /// The mean of the first values would be left far behind.
    #[test]
    fn what_wanders_slowly_is_no_change_and_a_step_on_it_is() {
        let slope = 0.1;
        let mut row: Vec<Option<f64>> = (0..100).map(|day| Some(slope * f64::from(day))).collect();
        let plan = Plan { farthest: 40, nearest: 10, least: 10, decision: 18.0, ..PLAN };
        // Lags 25 places behind, 2.5 here, of a deviation of 10.
        assert_eq!(watch(&row, 10.0, &plan).change, None);
        row[60..].iter_mut().flatten().for_each(|value| *value += 60.0);
        let change = watch(&row, 10.0, &plan).change.unwrap();
        assert_eq!((change.began, change.is_rise), (60, true));
    }

    #[test]
    fn what_a_row_forgets_before_it_is_found_is_never_found() {
        assert_eq!(PLAN.run_length(40.0), Some(2.0));
        assert_eq!(PLAN.run_length(0.1), None);
        assert_eq!(PLAN.forgets_after(), 8);
        assert_relative_eq!(median([3.0, 1.0, 2.0, 4.0].into_iter()), 2.5);
        let short = watch(&[Some(1.0); 8], 1.0, &PLAN);
        assert_eq!((short.change, short.last_measure()), (None, None));
    }

    #[test]
    fn a_value_is_judged_by_the_middle_of_those_before() {
        // Places 4 to 11 of the twelve before it, less the last four: median 0.0, distances 0.1 to 0.4.
        let row = row_of(&[0.1, 0.2, 0.3]);
        let measure = watch(&row, 0.0, &PLAN).measures[12].unwrap();
        assert_relative_eq!(measure.middle, 0.0, epsilon = 1e-12);
        assert_relative_eq!(measure.deviation, 1.4826 * 0.25, epsilon = 1e-12);
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
