//! Ordinary differential equations with events: Dormand and Prince's method of order 5 with an error
//! estimate of order 4 (Dormand and Prince 1980, J. Comput. Appl. Math. 6, 19).
//!
//! Where an event's function changes sign within a step, the step is cut to the place of the change
//! and taken anew, so that an event is as exact as the solution.

/// How a stretch ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct End<const N: usize> {
    pub time: f64,
    pub state: [f64; N],
    /// Which event ended it; `None` at the end of the time.
    pub event: Option<usize>,
}

/// A function of time and state that ends a stretch where it passes from negative to positive.
pub(crate) type Event<'a, const N: usize> = &'a dyn Fn(f64, &[f64; N]) -> f64;

/// Relative and absolute error of a step.
const RELATIVE: f64 = 1e-9;
const ABSOLUTE: f64 = 1e-10;
const MOST_STEPS: usize = 200_000;

/// Follows `state` from `from` to `to`, or to the first of `events` whose function passes from
/// negative to positive. `None` where the state leaves the numbers or the steps do not end.
pub(crate) fn follow<const N: usize>(
    mut slope: impl FnMut(f64, &[f64; N]) -> [f64; N],
    (from, to): (f64, f64),
    state: [f64; N],
    events: &[Event<N>],
    mut seen: impl FnMut(f64, &[f64; N]),
) -> Option<End<N>> {
    let (mut time, mut state) = (from, state);
    let mut step = (to - from) * 1e-3;
    for _ in 0..MOST_STEPS {
        if time >= to {
            return Some(End { time, state, event: None });
        }
        step = step.min(to - time);
        let (next, error) = try_step(&mut slope, time, &state, step);
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
        let crosses = |event: &Event<N>, end: f64, after: &[f64; N]| {
            event(time, &state) < 0.0 && event(end, after) >= 0.0
        };
        if events.iter().any(|event| crosses(event, time + step, &next)) {
            // Halving keeps the first crossing of all inside; a part of a step is as good as it.
            let (mut low, mut high) = (0.0, step);
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                let (there, _) = try_step(&mut slope, time, &state, middle);
                if events.iter().any(|event| crosses(event, time + middle, &there)) {
                    high = middle;
                } else {
                    low = middle;
                }
            }
            let (there, _) = try_step(&mut slope, time, &state, high);
            let which = events.iter().position(|event| crosses(event, time + high, &there));
            seen(time + high, &there);
            return Some(End { time: time + high, state: there, event: which });
        }
        time += step;
        state = next;
        seen(time, &state);
        step *= (0.9 * error.max(1e-10).powf(-0.2)).min(5.0);
    }
    None
}

/// A step with its error in units of what is allowed.
fn try_step<const N: usize>(
    slope: &mut impl FnMut(f64, &[f64; N]) -> [f64; N],
    time: f64,
    state: &[f64; N],
    step: f64,
) -> ([f64; N], f64) {
    const NODES: [f64; 6] = [0.2, 0.3, 0.8, 8.0 / 9.0, 1.0, 1.0];
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
    slopes[0] = slope(time, state);
    let mut next = *state;
    for (stage, weights) in WEIGHTS.iter().enumerate() {
        for i in 0..N {
            let sum: f64 = weights.iter().zip(&slopes).map(|(weight, k)| weight * k[i]).sum();
            next[i] = state[i] + step * sum;
        }
        slopes[stage + 1] = slope(time + NODES[stage] * step, &next);
    }
    let error = (0..N)
        .map(|i| {
            let sum: f64 = ERROR.iter().zip(&slopes).map(|(weight, k)| weight * k[i]).sum();
            let allowed = ABSOLUTE + RELATIVE * state[i].abs().max(next[i].abs());
            (step * sum / allowed).abs()
        })
        .fold(0.0, |most: f64, error| if error.is_nan() { f64::NAN } else { most.max(error) });
    (next, error)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_draining_tank_empties_when_torricelli_says() {
        // dh/dt = -k sqrt(h): h reaches 0.25 from 1 at t = 2 (1 - 0.5) / k.
        let reached = |_: f64, state: &[f64; 1]| 0.25 - state[0];
        let slope = |_: f64, state: &[f64; 1]| [-0.3 * state[0].max(0.0).sqrt()];
        let end = follow(slope, (0.0, 100.0), [1.0], &[&reached], |_, _| ()).unwrap();
        assert_eq!(end.event, Some(0));
        assert_relative_eq!(end.time, 1.0 / 0.3, max_relative = 1e-8);
    }

    #[test]
    fn an_oscillation_keeps_its_amplitude() {
        let slope = |_: f64, state: &[f64; 2]| [state[1], -state[0]];
        let end = follow(slope, (0.0, 20.0), [1.0, 0.0], &[], |_, _| ()).unwrap();
        assert_relative_eq!(end.state[0], 20f64.cos(), epsilon = 1e-7);
        assert_eq!(end.event, None);
    }

    #[test]
    fn a_state_that_explodes_has_no_end() {
        let slope = |_: f64, state: &[f64; 1]| [state[0] * state[0]];
        assert_eq!(follow(slope, (0.0, 2.0), [1.0], &[], |_, _| ()), None);
    }
}
