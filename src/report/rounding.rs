//! Rounding a column so that its parts still add up to its total.

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
}

/// Rounds parts and their total to `digits` significant digits of the total. What rounding leaves
/// over goes, a last digit at a time, where it changes a part least for its size. A part that rounds
/// to nothing shows as smaller than the last digit.
pub(crate) fn column(parts: &[f64], digits: i32) -> Column {
    let total: f64 = parts.iter().sum();
    let magnitude = if total > 0.0 { total.log10().floor() as i32 } else { 0 };
    let decimals = (digits - 1 - magnitude).min(6);
    let step = 10f64.powi(-decimals);
    let mut rounded: Vec<i64> = parts.iter().map(|part| (part / step).round() as i64).collect();
    let rounded_total = (total / step).round() as i64;
    let over = rounded_total - rounded.iter().sum::<i64>();
    for _ in 0..over.unsigned_abs() {
        let off = |place: &usize| {
            let shown = (rounded[*place] + over.signum()) as f64 * step;
            (shown - parts[*place]).abs() / parts[*place]
        };
        let some = (0..parts.len()).filter(|place| parts[*place] > 0.0);
        if let Some(place) = some.min_by(|a, b| off(a).total_cmp(&off(b))) {
            rounded[place] += over.signum();
        }
    }
    let show = |count: i64| with_decimals(count as f64 * step, decimals.max(0) as usize);
    let show_part = |(count, exact): (&i64, &f64)| match (count, *exact > 0.0) {
        (0, true) => format!("<{}", show(1)),
        (0, false) => "0".to_string(),
        (count, _) => show(*count),
    };
    Column {
        parts: rounded.iter().zip(parts).map(show_part).collect(),
        total: show(rounded_total),
        decimals,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_column_adds_up_to_the_digit_shown() {
        let column = column(&[13.616, 0.0447, 3.26, 0.0998, 0.0], 4);
        assert_eq!(column.parts, ["13.62", "0.04", "3.26", "0.10", "0"]);
        assert_eq!(column.total, "17.02");
    }

    #[test]
    fn equal_parts_stay_within_a_last_digit() {
        let column = column(&[1.8375; 8], 3);
        assert_eq!(column.total, "14.7");
        assert!(
            column.parts.iter().all(|part| part == "1.8" || part == "1.9"),
            "{:?}",
            column.parts
        );
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
        fn every_column_adds_up(parts in prop::collection::vec(0.0..1e4, 1..6), digits in 2..5) {
            let column = column(&parts, digits);
            let step = 10f64.powi(-column.decimals);
            let number = |text: &String| if text.starts_with('<') { 0.0 } else { text.parse::<f64>().unwrap() };
            let sum: f64 = column.parts.iter().map(number).sum();
            prop_assert!((sum - number(&column.total)).abs() < 0.01 * step);
        }
    }
}
