//! Rounding a column: every number by itself, and a word where the parts then miss their total.

use crate::quantity::with_decimals;

/// How many significant digits a total deserves: four, or as many as leave two digits of its
/// expanded uncertainty.
pub(crate) fn digits_of(total: f64, expanded_uncertainty: Option<f64>) -> i32 {
    const MOST: i32 = 4;
    let magnitude = |number: f64| number.abs().log10().floor() as i32;
    match expanded_uncertainty {
        Some(uncertainty) if uncertainty > 0.0 && total != 0.0 => {
            (magnitude(total) - magnitude(uncertainty) + 2).clamp(2, MOST)
        }
        _ => MOST,
    }
}

/// A column of parts and their total, rounded alike.
pub(crate) struct Column {
    /// The parts as shown.
    pub parts: Vec<String>,
    /// The total as shown.
    pub total: String,
    /// Decimals of every number; negative where tens or hundreds are rounded away.
    pub decimals: i32,
    /// By how many last digits the parts as shown miss the total as shown.
    pub misses_by: u64,
}

/// Rounds parts and their total to `digits` significant digits of the total, each by itself. A part that
/// rounds to nothing shows as smaller than the last digit.
pub(crate) fn column(parts: &[f64], digits: i32) -> Column {
    let total: f64 = parts.iter().sum();
    let magnitude = if total > 0.0 { total.log10().floor() as i32 } else { 0 };
    let decimals = (digits - 1 - magnitude).min(6);
    let step = 10f64.powi(-decimals);
    let rounded = |number: f64| (number / step).round() as i64;
    let show = |count: i64| with_decimals(count as f64 * step, decimals.max(0) as usize);
    let show_part = |exact: &f64| match (rounded(*exact), *exact > 0.0) {
        (0, true) => format!("<{}", show(1)),
        (0, false) => "0".to_string(),
        (count, _) => show(count),
    };
    let sum: i64 = parts.iter().map(|part| rounded(*part)).sum();
    Column {
        parts: parts.iter().map(show_part).collect(),
        total: show(rounded(total)),
        decimals,
        misses_by: sum.abs_diff(rounded(total)),
    }
}

/// By how many of its last digits a total misses the sum of its parts, where each is shown with so many
/// significant digits; half a digit is the total's own rounding.
pub(crate) fn misses_by(parts: &[f64], digits: i32) -> u64 {
    let step = |number: f64| 10f64.powi(number.abs().log10().floor() as i32 + 1 - digits);
    let shown = |number: f64| match number {
        0.0 => 0.0,
        _ => (number / step(number)).round() * step(number),
    };
    let total: f64 = parts.iter().sum();
    if total == 0.0 {
        return 0;
    }
    let sum: f64 = parts.iter().map(|part| shown(*part)).sum();
    let missed = (sum - shown(total)).abs() / step(total);
    (missed - 0.5 - 1e-6).ceil().max(0.0) as u64
}

/// What a page says where shown parts miss their shown total by so many last digits at the most.
pub(crate) fn note(misses_by: u64) -> Option<String> {
    let by = match misses_by {
        0 => return None,
        1 => "one".to_owned(),
        more => more.to_string(),
    };
    Some(format!(
        "Every number is rounded by itself: the column may miss its total by {by} in the last digit."
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn every_part_is_its_own_value() {
        let exact = column(&[13.616, 0.0447, 3.26, 0.0998, 0.0], 4);
        assert_eq!(exact.parts, ["13.62", "0.04", "3.26", "0.10", "0"]);
        assert_eq!((exact.total.as_str(), exact.misses_by), ("17.02", 0));
        // Nothing of the rest is put onto the largest part.
        let short = column(&[11.90, 0.045, 2.83, 0.1, 0.0], 3);
        assert_eq!(short.parts, ["11.9", "<0.1", "2.8", "0.1", "0"]);
        assert_eq!((short.total.as_str(), short.misses_by), ("14.9", 1));
    }

    #[test]
    fn a_column_that_misses_its_total_is_told() {
        assert_eq!(note(column(&[1.0, 2.0], 3).misses_by), None);
        let eight = column(&[1.8375; 8], 3);
        assert_eq!((eight.total.as_str(), eight.misses_by), ("14.7", 3));
        assert!(eight.parts.iter().all(|part| part == "1.8"));
        assert!(note(1).unwrap().ends_with("miss its total by one in the last digit."));
        assert!(note(3).unwrap().ends_with("miss its total by 3 in the last digit."));
    }

    #[test]
    fn numbers_with_their_own_digits_miss_by_more_than_the_totals_rounding() {
        assert_eq!(misses_by(&[67_600.0, 234.0, 76_200.0, 7_466.0], 3), 0);
        // 100 and 100 under 201.
        assert_eq!(misses_by(&[100.4, 100.4], 3), 1);
        assert_eq!(misses_by(&[0.0, 0.0], 3), 0);
        assert_eq!(misses_by(&[10.0, -10.0], 3), 0);
    }

    #[test]
    fn an_uncertain_total_shows_fewer_digits() {
        assert_eq!(digits_of(17.02, Some(1.3)), 3);
        assert_eq!(digits_of(17.02, Some(0.001)), 4);
        assert_eq!(digits_of(17.02, None), 4);
    }

    #[test]
    fn large_numbers_round_to_tens() {
        assert_eq!(column(&[136_163.0, 26.0], 4).total, "136200");
        assert_eq!(column(&[136_163.0, 26.0], 4).parts, ["136200", "<100"]);
    }

    proptest! {
        #[test]
        fn every_number_is_rounded_by_itself(
            parts in prop::collection::vec(0.0..1e4, 1..6),
            digits in 2..5,
        ) {
            let column = column(&parts, digits);
            let step = 10f64.powi(-column.decimals);
            let half = 0.5 * step * (1.0 + 1e-9);
            let number = |text: &str| match text.strip_prefix('<') {
                Some(_) => 0.0,
                None => text.parse::<f64>().unwrap(),
            };
            for (shown, exact) in column.parts.iter().zip(&parts) {
                prop_assert!((number(shown) - exact).abs() <= half, "{shown} {exact}");
            }
            let sum: f64 = column.parts.iter().map(|part| number(part)).sum();
            let missed = (sum - number(&column.total)).abs();
            prop_assert!(missed <= half * (parts.len() + 1) as f64);
            prop_assert!((missed / step - column.misses_by as f64).abs() < 1e-6);
        }
    }
}
