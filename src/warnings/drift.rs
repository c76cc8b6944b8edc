//! Drift out of its usual range; four steps, of which the highest reached is raised.

use super::{Observed, Warning, percent};
use crate::quantity::Quantity;

const COUNTERFLOW_LIMIT: f64 = 0.002e-2;
const CROSSFLOW_LIMIT: f64 = 0.005e-2;
const FAILED: f64 = 0.02e-2;
const INPUT_ERROR: f64 = 0.2e-2;
const COSTLY: f64 = 2e-2;

/// The stated drift, where it lies above `low` and below `high`.
fn between(observed: &Observed, low: f64, high: f64) -> Option<f64> {
    observed.drift().filter(|drift| *drift > low && *drift < high)
}

pub(super) static ABOVE_CODE_LIMIT: Warning = Warning {
    id: "drift_above_code_limit",
    subject: "drift",
    quantity: Quantity::Fraction,
    usual: || {
        format!(
            "at most {} of circulation in counterflow, {} in crossflow",
            percent(COUNTERFLOW_LIMIT),
            percent(CROSSFLOW_LIMIT)
        )
    },
    source: "ASHRAE 189.1 / IgCC 6.3.2; California Title 24 part 6, 110.2(e) (limits from memory)",
    advice: "inspect the eliminators for gaps, fouling and damage; ask the maker for the tested drift rate",
    is_drift_loss: true,
    test: |observed| {
        let above =
            |drift: Option<f64>, limit| drift.filter(|drift| *drift > limit && *drift <= FAILED);
        if observed.drift().is_some_and(|drift| drift > FAILED) {
            return None;
        }
        above(observed.drift_counterflow, COUNTERFLOW_LIMIT)
            .or(above(observed.drift_crossflow, CROSSFLOW_LIMIT))
    },
};

pub(super) static ELIMINATORS_FAILED: Warning = Warning {
    id: "drift_eliminators_failed",
    subject: "drift",
    quantity: Quantity::Fraction,
    usual: || "0.0005 to 0.008 % of circulation with eliminators in order".into(),
    source: "CTI TP12-21 (2012); 0.02 %, where this warning begins, is the default of US EPA AP-42, section 13.4 (from memory)",
    advice: "eliminators of this age have failed or are missing: have them inspected with fan and water off",
    is_drift_loss: true,
    test: |observed| between(observed, FAILED, INPUT_ERROR * (1.0 + 1e-12)),
};

pub(super) static LIKELY_INPUT_ERROR: Warning = Warning {
    id: "drift_likely_input_error",
    subject: "drift",
    quantity: Quantity::Fraction,
    usual: || {
        let most = percent(INPUT_ERROR);
        format!("0.05 to {most} of circulation even with the eliminators of old towers")
    },
    source: "MIL-HDBK-1165 (US Department of Defense, 1997), 5.4.1.1",
    advice: "check the value and its unit: 0.005 % is 50 ppm of circulation",
    is_drift_loss: true,
    test: |observed| between(observed, INPUT_ERROR, COSTLY),
};

pub(super) static COSTLY_FAULT: Warning = Warning {
    id: "drift_costly_fault",
    subject: "drift",
    quantity: Quantity::Fraction,
    usual: || format!("far below {} of circulation", percent(COSTLY)),
    source: "common practice, no source",
    advice: "water leaves in sheets: look for missing eliminators, broken louvres, an overspeeding fan or a flooded deck",
    is_drift_loss: true,
    test: |observed| observed.drift().filter(|drift| *drift >= COSTLY),
};
