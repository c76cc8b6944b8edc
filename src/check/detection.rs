//! How small a loss the meters could show at all.
//!
//! Decision threshold: what a reading must exceed before it counts as a loss, with a false alarm in 5 %
//! of quiet periods. Detection limit: the loss that is then found in 95 % of its periods (ISO 11843-1:
//! alpha = beta = 5 %).

use super::reconcile::Readings;
use crate::statistics::normal_limit;

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
