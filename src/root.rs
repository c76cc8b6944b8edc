//! Roots of functions of one number.

/// [`of_falling_within`] 1e-11 of the larger bound.
pub(crate) fn of_falling(function: impl FnMut(f64) -> f64, low: f64, high: f64) -> Option<f64> {
    of_falling_within(function, low, high, 1e-11 * (1.0 + low.abs().max(high.abs())))
}

/// The root of a falling function between two bounds: false position with the Illinois correction
/// (Dowell and Jarratt 1971, BIT 11, 168; from memory), with a bisection now and then, so that no
/// function is slow. `None` where the signs at the bounds do not allow a root, or where the function is
/// no number.
pub(crate) fn of_falling_within(
    mut function: impl FnMut(f64) -> f64,
    low: f64,
    high: f64,
    tolerance: f64,
) -> Option<f64> {
    let (at_low, at_high) = (function(low), function(high));
    of_falling_between(function, (low, at_low), (high, at_high), tolerance)
}

/// [`of_falling_within`] where the function is known at both bounds.
pub(crate) fn of_falling_between(
    mut function: impl FnMut(f64) -> f64,
    (mut low, mut at_low): (f64, f64),
    (mut high, mut at_high): (f64, f64),
    tolerance: f64,
) -> Option<f64> {
    const BISECT_EVERY: usize = 8;
    if at_low == 0.0 {
        return Some(low);
    }
    // Written so that a NaN has no root.
    if !(at_low > 0.0 && at_high <= 0.0) {
        return None;
    }
    // Which end moved last: the other is halved only where the same end moves again.
    let mut low_moved = None;
    let mut before = (low, at_low);
    for pass in 1..200 {
        let middle = if pass % BISECT_EVERY == 0 {
            0.5 * (low + high)
        } else {
            (low * at_high - high * at_low) / (at_high - at_low)
        };
        let at_middle = function(middle);
        if at_middle.is_nan() {
            return None;
        }
        let moves_low = at_middle > 0.0;
        let moved = if moves_low { middle - low } else { high - middle };
        // What the line through the last two points says is left.
        let left = at_middle * (middle - before.0) / (at_middle - before.1);
        if at_middle == 0.0 || moved.abs().min(left.abs()).min(high - low) < tolerance {
            return Some(middle);
        }
        before = (middle, at_middle);
        let again = low_moved == Some(moves_low);
        if moves_low {
            (low, at_low) = (middle, at_middle);
            at_high *= if again { 0.5 } else { 1.0 };
        } else {
            (high, at_high) = (middle, at_middle);
            at_low *= if again { 0.5 } else { 1.0 };
        }
        low_moved = Some(moves_low);
    }
    Some(0.5 * (low + high))
}

/// Where the root of a falling function lies in a range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Root {
    /// Here.
    At(f64),
    /// The function is not above zero even at the low end.
    BelowRange,
    /// The function is above zero even at the high end, or no number.
    AboveRange,
}

/// The root of a falling function in a range, to `tolerance`, from a guess: steps of `step`, then
/// twice and four times as far, find two points around it.
pub(crate) fn near(
    mut function: impl FnMut(f64) -> f64,
    (guess, step): (f64, f64),
    (low, high): (f64, f64),
    tolerance: f64,
) -> Root {
    let guess = guess.clamp(low, high);
    let mut here = (guess, function(guess));
    let up = here.1 > 0.0;
    let mut step = if up { step } else { -step };
    loop {
        let end = if up { high } else { low };
        if here.0 == end {
            return if up { Root::AboveRange } else { Root::BelowRange };
        }
        let at = (here.0 + step).clamp(low, high);
        let next = (at, function(at));
        if (next.1 > 0.0) != up {
            let (low, high) = if up { (here, next) } else { (next, here) };
            return of_falling_between(function, low, high, tolerance)
                .map_or(Root::AboveRange, Root::At);
        }
        here = next;
        step *= 2.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_a_root_from_any_guess_or_says_on_which_side_it_is() {
        for guess in [-9.0, 0.9, 1.0, 1.1, 30.0] {
            let found = near(|x: f64| 1.0 - x.powi(3), (guess, 0.5), (-10.0, 10.0), 1e-10);
            let Root::At(found) = found else { panic!("{found:?}") };
            assert!((found - 1.0).abs() < 1e-8, "{found}");
            assert_eq!(near(|x| 11.0 - x, (guess, 0.5), (-10.0, 10.0), 1e-10), Root::AboveRange);
            assert_eq!(near(|x| -11.0 - x, (guess, 0.5), (-10.0, 10.0), 1e-10), Root::BelowRange);
        }
    }

    #[test]
    fn finds_roots_in_few_steps() {
        for root in [-3.0_f64, 0.001, 0.5, 7.0] {
            let mut calls = 0;
            let found = of_falling(
                |x| {
                    calls += 1;
                    (root / 10.0).exp() - (x / 10.0).exp()
                },
                -60.0,
                35.0,
            );
            assert!((found.unwrap() - root).abs() < 1e-9, "{found:?}");
            assert!(calls < 20, "{calls} calls for {root}");
            let found = of_falling(|x: f64| root.powi(3) - x.powi(3), -60.0, 35.0);
            assert!((found.unwrap() - root).abs() < 1e-4, "{found:?}");
        }
    }

    #[test]
    fn says_where_there_is_none() {
        assert_eq!(of_falling(|x| 1.0 - x, 2.0, 3.0), None);
        assert_eq!(of_falling(|x| x, -1.0, 1.0), None);
        assert_eq!(of_falling(|_| f64::NAN, 0.0, 1.0), None);
        let on_the_way = |x: f64| if x == 0.0 || x == 1.0 { 0.3 - x } else { f64::NAN };
        assert_eq!(of_falling(on_the_way, 0.0, 1.0), None);
        assert_eq!(of_falling(|x| 2.0 - x, 2.0, 3.0), Some(2.0));
    }
}
