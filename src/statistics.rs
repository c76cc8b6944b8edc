//! The few distributions that tests on measurements need.

use crate::root;
use libm::{erfc, tgamma};
use std::f64::consts::{PI, SQRT_2};

/// Chance that a chi-square of so many degrees of freedom exceeds a value; 1 for a value below 0.
///
/// Exact, by the recurrence in the degrees of freedom from those of 1 and 2 (Abramowitz and Stegun
/// 1964, 26.4.4 and 26.4.5).
pub fn chi_square_exceeds(value: f64, degrees_of_freedom: usize) -> f64 {
    if !(value > 0.0) {
        return 1.0;
    }
    let half = 0.5 * value;
    let (mut chance, mut degrees) = match degrees_of_freedom % 2 {
        0 => ((-half).exp(), 2),
        _ => (erfc(half.sqrt()), 1),
    };
    while degrees < degrees_of_freedom {
        let order = 0.5 * degrees as f64;
        chance += half.powf(order) * (-half).exp() / tgamma(order + 1.0);
        degrees += 2;
    }
    chance.clamp(0.0, 1.0)
}

/// The value that a chi-square exceeds with this chance, above 0 and below 1.
pub fn chi_square_limit(chance: f64, degrees_of_freedom: usize) -> f64 {
    let most = 100.0 + 20.0 * degrees_of_freedom as f64;
    let above = |value: f64| chi_square_exceeds(value, degrees_of_freedom) - chance;
    root::of_falling(above, 0.0, most).unwrap_or(most)
}

/// Chance that a standard normal variable exceeds a value.
pub fn normal_exceeds(value: f64) -> f64 {
    0.5 * erfc(value / SQRT_2)
}

/// The value that a standard normal variable exceeds with this chance, above 0 and below 1.
pub fn normal_limit(chance: f64) -> f64 {
    if chance > 0.5 {
        return -normal_limit(1.0 - chance);
    }
    // A rational start, within 4.5e-4 (Abramowitz and Stegun 1964, 26.2.23), and Newton's steps.
    let t = (-2.0 * chance.ln()).sqrt();
    let numerator = 2.515_517 + t * (0.802_853 + t * 0.010_328);
    let denominator = 1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308));
    let step = |value: f64| {
        let density = (-0.5 * value * value).exp() / (2.0 * PI).sqrt();
        (normal_exceeds(value) - chance) / density
    };
    (0..3).fold(t - numerator / denominator, |value, _| value + step(value))
}

/// The one in the middle; of an even number the mean of both; none of none. Values that are no numbers
/// do not count.
pub fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut sorted: Vec<f64> = values.filter(|value| !value.is_nan()).collect();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    match sorted.len() {
        0 => None,
        count if count % 2 == 1 => Some(sorted[half]),
        _ => Some(0.5 * (sorted[half - 1] + sorted[half])),
    }
}

/// A standard deviation that a few wild values do not move: 1.4826 times the median distance from the
/// median, which is that of a normal distribution. None of none.
pub fn spread(values: &[f64]) -> Option<f64> {
    let middle = median(values.iter().copied())?;
    median(values.iter().map(|value| (value - middle).abs())).map(|distance| 1.4826 * distance)
}

/// Places of the values that stand with the others: no further from their median than six standard
/// deviations, by the stated one or by [`spread`], whichever is larger.
pub fn without_slips(values: &[f64], stated: f64) -> impl Iterator<Item = usize> + use<'_> {
    const FAR: f64 = 6.0;
    let middle = median(values.iter().copied()).unwrap_or(0.0);
    let far = FAR * stated.max(spread(values).unwrap_or(0.0));
    (0..values.len()).filter(move |index| (values[*index] - middle).abs() <= far)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

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

    /// Abramowitz and Stegun (1964), tables 26.1 and 26.8.
    #[test]
    fn limits_of_a_handbook() {
        for (degrees, chance, printed) in [
            (1, 0.05, 3.841_46),
            (2, 0.05, 5.991_47),
            (3, 0.05, 7.814_73),
            (4, 0.01, 13.276_7),
            (5, 0.05, 11.070_5),
            (10, 0.05, 18.307_0),
        ] {
            assert_relative_eq!(chi_square_limit(chance, degrees), printed, max_relative = 1e-5);
        }
        assert_relative_eq!(normal_limit(0.05), 1.644_854, max_relative = 1e-6);
        assert_relative_eq!(normal_limit(0.025), 1.959_964, max_relative = 1e-6);
        assert_relative_eq!(normal_exceeds(1.0), 0.158_655_3, max_relative = 1e-6);
        assert_eq!(chi_square_exceeds(f64::NAN, 2), 1.0);
        for chance in [1e-12, 1e-4, 0.2, 0.5, 0.7, 1.0 - 1e-9] {
            assert_relative_eq!(normal_exceeds(normal_limit(chance)), chance, max_relative = 1e-9);
        }
    }
}
