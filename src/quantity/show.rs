//! Showing numbers with as many digits as they deserve.

use super::unit::Unit;
use super::{Quantity, UnitSystem};

/// A number with `digits` significant digits, in plain decimal notation between 1e-6 and 1e9.
///
/// Zero is "0"; a number that is not finite never reaches people, and shows as its own name.
pub fn significant(number: f64, digits: usize) -> String {
    if number == 0.0 {
        return "0".into();
    }
    if !number.is_finite() {
        return number.to_string();
    }
    let magnitude = number.abs().log10().floor() as i32;
    if !(-7..9).contains(&magnitude) {
        return format!("{number:.*e}", digits.saturating_sub(1));
    }
    let decimals = digits as i32 - 1 - magnitude;
    // Rounding can carry into the next power of ten: 9.996 with three digits is 10.0.
    let step = 10f64.powi(-decimals);
    let rounded = (number / step).round() * step;
    let carried = rounded.abs().log10().floor() as i32 > magnitude;
    if decimals < 0 {
        return with_decimals(rounded, 0);
    }
    with_decimals(number, (decimals - i32::from(carried)).max(0) as usize)
}

/// A number with a fixed count of decimals; never "-0". From 1e15 on, where its digits would be made up, it stands
/// with a power of ten.
pub fn with_decimals(number: f64, decimals: usize) -> String {
    if number.is_finite() && number.abs() >= 1e15 {
        return format!("{number:.3e}");
    }
    let text = format!("{number:.decimals$}");
    let is_zero = text.starts_with('-') && text.chars().all(|c| matches!(c, '-' | '0' | '.'));
    if is_zero { text[1..].to_string() } else { text }
}

/// So many significant digits at the most: without zeros at the end that say nothing.
pub fn trimmed(number: f64, digits: usize) -> String {
    let shown = significant(number, digits);
    match shown.contains('.') && !shown.contains('e') {
        true => shown.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => shown,
    }
}

/// A value in SI units and, where they differ, in US customary ones beside them: for messages, which do not know in
/// which it was written.
pub fn in_both_systems(quantity: Quantity, si: f64) -> String {
    let [si_units, us_units] =
        [UnitSystem::Si, UnitSystem::UsCustomary].map(|units| quantity.shown_in(units));
    let shown = in_unit(si_units, si);
    // Nothing is nothing in both, but for temperatures.
    let is_nothing = si == 0.0 && si_units.offset == us_units.offset;
    match si_units.symbol == us_units.symbol || is_nothing {
        true => shown,
        false => format!("{shown} ({})", in_unit(us_units, si)),
    }
}

fn in_unit(unit: &Unit, si: f64) -> String {
    let number = unit.of_si(si);
    // Whole numbers in messages stand as they were written.
    let text = match (number - number.round()).abs() < 1e-9 && number.abs() < 1e9 {
        true => format!("{}", number.round()),
        false => significant(number, 4),
    };
    format!("{text} {}", unit.sign()).trim_end().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shows_significant_digits() {
        for (number, digits, shown) in [
            (13.6159, 4, "13.62"),
            (0.045, 2, "0.045"),
            (9.996, 3, "10.0"),
            (136_240.3, 4, "136200"),
            (0.0, 4, "0"),
            (-0.5, 2, "-0.50"),
            (1e-9, 2, "1.0e-9"),
        ] {
            assert_eq!(significant(number, digits), shown);
        }
        assert_eq!(with_decimals(-0.0001, 2), "0.00");
    }
}
