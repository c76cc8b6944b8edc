//! How small a loss the meters could show at all.
//!
//! Decision threshold: what a reading must exceed before it counts as a loss, with a false alarm in 5 %
//! of quiet periods. Detection limit: the loss that is then found in 95 % of its periods (ISO 11843-1:
//! alpha = beta = 5 %).

use super::reconcile::{Reading, Readings};
use crate::equation::Equation;
use crate::statistics::normal_limit;

/// A loss by solids; the tracer is conductivity carried over to true cycles, or chloride.
pub const LOSS_BY_SOLIDS: Equation = Equation {
    id: "loss_by_solids",
    text: "loss = (makeup * makeup_tracer - stored_tracer) / basin_tracer - blowdown - drift",
    source: "balance of dissolved solids: what leaves the basin by its tracer, less what is known",
};

/// The uncertainty of [`LOSS_BY_SOLIDS`].
pub const UNCERTAINTY_BY_SOLIDS: Equation = Equation {
    id: "uncertainty_by_solids",
    text: "u_loss = ((makeup_tracer / basin_tracer * u_makeup)^2 + (makeup / basin_tracer * u_makeup_tracer)^2 + (leaves / basin_tracer * u_basin_tracer)^2 + (u_stored_tracer / basin_tracer)^2 + u_blowdown^2 + u_drift^2)^0.5",
    source: "JCGM 100:2008, eq. 10; leaves = loss + blowdown + drift",
};

/// What a path must read before it counts as a loss.
pub const DECISION_THRESHOLD: Equation = Equation {
    id: "decision_threshold",
    text: "decision_threshold = 1.644854 * u_loss",
    source: "ISO 11843-1, alpha = 5 %; the detection limit is twice that, with beta = 5 %",
};

/// What the balance of water leaves over.
pub const LOSS_BY_HEAT: Equation = Equation {
    id: "loss_by_heat",
    text: "difference = makeup - evaporation - blowdown - drift - stored",
    source: "balance of water, with the evaporation that load and weather ask for",
};

/// False alarms, and losses that go unfound.
const CHANCE: f64 = 0.05;

/// Threshold and limit of a path, in the unit of the flows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Detection {
    /// What the path reads as a loss.
    pub reads: f64,
    /// Standard uncertainty of that.
    pub uncertainty: f64,
    /// What it must exceed to count.
    pub decision_threshold: f64,
    /// The loss that is found in 95 % of its periods.
    pub detection_limit: f64,
}

impl Detection {
    fn of(reads: f64, variance: f64) -> Self {
        let uncertainty = variance.sqrt();
        let decision_threshold = normal_limit(CHANCE) * uncertainty;
        Self { reads, uncertainty, decision_threshold, detection_limit: 2.0 * decision_threshold }
    }

    /// Whether a loss counts as found.
    pub fn is_loss(&self) -> bool {
        self.reads > self.decision_threshold
    }
}

/// By heat: what makeup, evaporation, blowdown, drift and storage leave over.
pub fn by_heat(readings: &Readings) -> Detection {
    let flows =
        [readings.makeup, readings.evaporation, readings.blowdown, readings.drift, readings.stored];
    let variance = flows.iter().map(|flow| flow.uncertainty * flow.uncertainty).sum();
    let [makeup, evaporation, blowdown, drift, stored] = flows.map(|flow| flow.value);
    Detection::of(makeup - evaporation - blowdown - drift - stored, variance)
}

/// By what was expected, where no blowdown was read: makeup less that.
pub fn by_expected(makeup: Reading, expected: Reading) -> Detection {
    let variance = makeup.uncertainty.powi(2) + expected.uncertainty.powi(2);
    Detection::of(makeup.value - expected.value, variance)
}

/// What a path with this standard uncertainty needs: its threshold, and twice that.
pub fn limit_of(uncertainty: f64) -> f64 {
    2.0 * normal_limit(CHANCE) * uncertainty
}

/// By solids of a tracer, by number: what leaves the basin by its balance, less blowdown and drift.
/// `None` for a tracer that is not there.
pub fn by_solids(readings: &Readings, tracer: usize) -> Option<Detection> {
    let tracer = readings.tracers.get(tracer)?;
    let (fresh, basin) = (tracer.makeup, tracer.basin);
    let makeup = readings.makeup;
    let brought = makeup.value * fresh.value - tracer.stored.value;
    let leaves = brought / basin.value;
    let parts = [
        fresh.value / basin.value * makeup.uncertainty,
        makeup.value / basin.value * fresh.uncertainty,
        leaves / basin.value * basin.uncertainty,
        tracer.stored.uncertainty / basin.value,
        readings.blowdown.uncertainty,
        readings.drift.uncertainty,
    ];
    let variance = parts.iter().map(|part| part * part).sum();
    Some(Detection::of(leaves - readings.blowdown.value - readings.drift.value, variance))
}

#[cfg(test)]
mod tests {
    use super::super::reconcile::Tracer;
    use super::*;
    use approx::assert_relative_eq;

    fn readings() -> Readings {
        let of = |value: f64, uncertainty: f64| Reading { value, uncertainty };
        Readings {
            makeup: of(100.0, 1.5),
            blowdown: of(20.0, 0.3),
            evaporation: of(70.0, 2.0),
            drift: of(0.5, 0.2),
            stored: of(2.0, 0.4),
            tracers: vec![Tracer {
                makeup: of(40.0, 0.5),
                basin: of(150.0, 2.0),
                stored: of(90.0, 30.0),
            }],
        }
    }

    #[test]
    fn heat_leaves_over_what_no_flow_explains() {
        let found = by_heat(&readings());
        assert_relative_eq!(found.reads, 100.0 - 70.0 - 20.0 - 0.5 - 2.0);
        let squares = 2.25 + 0.09 + 4.0 + 0.04 + 0.16;
        assert_relative_eq!(found.uncertainty, f64::sqrt(squares), max_relative = 1e-12);
        assert_relative_eq!(
            found.decision_threshold,
            1.644_854 * squares.sqrt(),
            max_relative = 1e-6
        );
        assert_relative_eq!(found.detection_limit, 2.0 * found.decision_threshold);
        assert!(found.is_loss() && !Detection { reads: 3.0, ..found }.is_loss());
    }

    /// The uncertainty is that of steps of one standard uncertainty in every reading by itself.
    #[test]
    fn solids_carry_the_uncertainty_of_every_reading() {
        let readings = readings();
        let found = by_solids(&readings, 0).unwrap();
        assert_relative_eq!(found.reads, (100.0 * 40.0 - 90.0) / 150.0 - 20.5);
        let steps: [fn(&mut Readings) -> &mut Reading; 6] = [
            |r| &mut r.makeup,
            |r| &mut r.blowdown,
            |r| &mut r.drift,
            |r| &mut r.tracers[0].makeup,
            |r| &mut r.tracers[0].basin,
            |r| &mut r.tracers[0].stored,
        ];
        let effect = |of: &fn(&mut Readings) -> &mut Reading| {
            let at = |sign: f64| {
                let mut moved = readings.clone();
                let reading = of(&mut moved);
                reading.value += sign * reading.uncertainty;
                by_solids(&moved, 0).unwrap().reads
            };
            0.5 * (at(1.0) - at(-1.0))
        };
        let squares: f64 = steps.iter().map(|step| effect(step).powi(2)).sum();
        assert_relative_eq!(found.uncertainty, squares.sqrt(), max_relative = 1e-3);
        assert_eq!(by_solids(&readings, 1), None);
    }
}
