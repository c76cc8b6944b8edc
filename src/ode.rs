//! Ordinary differential equations with events: Dormand and Prince's method of order 5 with an error
//! estimate of order 4 (Dormand and Prince 1980, J. Comput. Appl. Math. 6, 19).
//!
//! Where an event's function changes sign within a step, the step is cut to the place of the change
//! and taken anew, so that an event is as exact as the solution.

use crate::root;

/// How a stretch ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct End<const N: usize> {
    pub time: f64,
    pub state: [f64; N],
    /// Which event ended it; `None` at the end of the time.
    pub event: Option<usize>,
}

/// Relative and absolute error of a step.
const RELATIVE: f64 = 1e-9;
const ABSOLUTE: f64 = 1e-10;
const MOST_STEPS: usize = 200_000;
/// Part of a step to which an event is found.
const EXACTNESS: f64 = 1e-12;

/// Follows `state` from `from` to `to`, or to the first event: `events` gives a number for each, which
/// passes from negative to positive there. `None` where the state leaves the numbers or the steps do not end.
pub(crate) fn follow<const N: usize, const EVENTS: usize>(
    mut slope: impl FnMut(&[f64; N]) -> [f64; N],
    (from, to): (f64, f64),
    state: [f64; N],
    events: impl Fn(&[f64; N]) -> [f64; EVENTS],
    mut seen: impl FnMut(f64, &[f64; N]),
) -> Option<End<N>> {
    let (mut time, mut state) = (from, state);
    let mut step = (to - from) * 1e-3;
    let mut before = events(&state);
    let mut slope_here = slope(&state);
    for _ in 0..MOST_STEPS {
        if time >= to {
            return Some(End { time, state, event: None });
        }
        step = step.min(to - time);
        let Step { next, last_slope, error } = try_step(&mut slope, &state, &slope_here, step);
        if !error.is_finite() {
            step *= 0.1;
            if step < 1e-14 * (to - from) {
                return None;
            }
            continue;
        }
        if error > 1.0 {
            step *= (0.9 * error.powf(-0.2)).max(0.2);
            continue;
        }
        let after = events(&next);
        // The event that is furthest past zero, of those that were not yet there.
        let past = |now: &[f64; EVENTS]| {
            let pending = (0..EVENTS).filter(|event| before[*event] < 0.0);
            pending.map(|event| (event, now[event])).max_by(|a, b| a.1.total_cmp(&b.1))
        };
        let furthest = |now: &[f64; EVENTS]| past(now).map_or(f64::NEG_INFINITY, |found| found.1);
        if furthest(&after) >= 0.0 {
            let mut there = |part: f64| try_step(&mut slope, &state, &slope_here, part).next;
            let (low, high) = ((0.0, -furthest(&before)), (step, -furthest(&after)));
            let mut onward = EXACTNESS * step;
            let still_to_come = |part: f64| -furthest(&events(&there(part)));
            let crossing = root::of_falling_between(still_to_come, low, high, onward);
            // A little further on, so that the event has happened where the stretch ends.
            let mut part = crossing.unwrap_or(step);
            loop {
                part = (part + onward).min(step);
                let state = there(part);
                let found = past(&events(&state)).filter(|(_, value)| *value >= 0.0);
                if found.is_some() || part >= step {
                    seen(time + part, &state);
                    return Some(End { time: time + part, state, event: found.map(|f| f.0) });
                }
                onward *= 2.0;
            }
        }
        time += step;
        (state, slope_here, before) = (next, last_slope, after);
        seen(time, &state);
        step *= (0.9 * error.max(1e-10).powf(-0.2)).min(5.0);
    }
    None
}

/// A step that was tried.
struct Step<const N: usize> {
    next: [f64; N],
    /// Slope at its end, which is that at the start of the next.
    last_slope: [f64; N],
    /// In units of what is allowed.
    error: f64,
}

/// A step of slopes that do not depend on time.
fn try_step<const N: usize>(
    slope: &mut impl FnMut(&[f64; N]) -> [f64; N],
    state: &[f64; N],
    slope_here: &[f64; N],
    step: f64,
) -> Step<N> {
    const WEIGHTS: [&[f64]; 6] = [
        &[0.2],
        &[3.0 / 40.0, 9.0 / 40.0],
        &[44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0],
        &[19_372.0 / 6_561.0, -25_360.0 / 2_187.0, 64_448.0 / 6_561.0, -212.0 / 729.0],
        &[9_017.0 / 3_168.0, -355.0 / 33.0, 46_732.0 / 5_247.0, 49.0 / 176.0, -5_103.0 / 18_656.0],
        &[35.0 / 384.0, 0.0, 500.0 / 1_113.0, 125.0 / 192.0, -2_187.0 / 6_784.0, 11.0 / 84.0],
    ];
    // Order 5 less order 4.
    const ERROR: [f64; 7] = [
        71.0 / 57_600.0,
        0.0,
        -71.0 / 16_695.0,
        71.0 / 1_920.0,
        -17_253.0 / 339_200.0,
        22.0 / 525.0,
        -1.0 / 40.0,
    ];
    let mut slopes = [[0.0; N]; 7];
    slopes[0] = *slope_here;
    let mut next = *state;
    for (stage, weights) in WEIGHTS.iter().enumerate() {
        for i in 0..N {
            let sum: f64 = weights.iter().zip(&slopes).map(|(weight, k)| weight * k[i]).sum();
            next[i] = state[i] + step * sum;
        }
        slopes[stage + 1] = slope(&next);
    }
    let error = (0..N)
        .map(|i| {
            let sum: f64 = ERROR.iter().zip(&slopes).map(|(weight, k)| weight * k[i]).sum();
            let allowed = ABSOLUTE + RELATIVE * state[i].abs().max(next[i].abs());
            (step * sum / allowed).abs()
        })
        .fold(0.0, |most: f64, error| if error.is_nan() { f64::NAN } else { most.max(error) });
    Step { next, last_slope: slopes[6], error }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_draining_tank_empties_when_torricelli_says() {
        // dh/dt = -k sqrt(h): h reaches 0.25 from 1 at t = 2 (1 - 0.5) / k.
        let reached = |state: &[f64; 1]| [0.25 - state[0]];
        let slope = |state: &[f64; 1]| [-0.3 * state[0].max(0.0).sqrt()];
        let end = follow(slope, (0.0, 100.0), [1.0], reached, |_, _| ()).unwrap();
        assert_eq!(end.event, Some(0));
        assert_relative_eq!(end.time, 1.0 / 0.3, max_relative = 1e-8);
    }

    #[test]
    fn an_oscillation_keeps_its_amplitude() {
        let slope = |state: &[f64; 2]| [state[1], -state[0]];
        let end = follow(slope, (0.0, 20.0), [1.0, 0.0], |_| [], |_, _| ()).unwrap();
        assert_relative_eq!(end.state[0], 20f64.cos(), epsilon = 1e-7);
        assert_eq!(end.event, None);
    }

    #[test]
    fn a_state_that_explodes_has_no_end() {
        let slope = |state: &[f64; 1]| [state[0] * state[0]];
        assert_eq!(follow(slope, (0.0, 2.0), [1.0], |_| [], |_, _| ()), None);
    }
}
