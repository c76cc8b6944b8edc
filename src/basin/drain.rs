//! Bringing the cycles down on purpose.

/// Draining a part and filling up again, step by step: cycles after each, from `cycles`, with makeup
/// of 1. A part of 0.2 leaves 1 + 0.8 (c - 1).
pub fn fill_and_drain(cycles: f64, part: f64, steps: usize) -> Vec<f64> {
    (1..=steps).map(|step| 1.0 + (cycles - 1.0) * (1.0 - part).powi(step as i32)).collect()
}

/// Water that brings the cycles from one value to another while makeup keeps the level, with nothing
/// evaporating, as a part of the volume: ln((c0 - 1) / (c1 - 1)), the first-order dilution. `None`
/// where it never gets there.
pub fn dilution_volumes(from: f64, to: f64) -> Option<f64> {
    let volumes = ((from - 1.0) / (to - 1.0)).ln();
    (volumes.is_finite() && volumes >= 0.0 && to > 1.0).then_some(volumes)
}

/// Steps of draining a part that bring the cycles from one value down to another, and the volumes
/// that they drain in all. `None` where they never do.
pub fn fill_and_drain_to(from: f64, to: f64, part: f64) -> Option<(usize, f64)> {
    let volumes = dilution_volumes(from, to)?;
    let steps = (volumes / -(1.0 - part).ln()).ceil();
    steps.is_finite().then_some((steps as usize, steps * part))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn many_small_steps_are_a_dilution() {
        let volumes = dilution_volumes(5.0, 3.0).unwrap();
        assert_relative_eq!(volumes, 2f64.ln());
        let (_, drained) = fill_and_drain_to(5.0, 3.0, 1e-4).unwrap();
        assert_relative_eq!(drained, volumes, max_relative = 1e-3);
        // Large steps waste less: fresh water is not drained again.
        let (steps, drained) = fill_and_drain_to(5.0, 3.0, 0.5).unwrap();
        assert_eq!((steps, drained), (1, 0.5));
        assert_relative_eq!(fill_and_drain(5.0, 0.5, 2)[1], 2.0);
        assert_eq!(dilution_volumes(3.0, 5.0), None);
        assert_eq!(dilution_volumes(3.0, 1.0), None);
    }
}
