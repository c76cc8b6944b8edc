//! The values that an input is given: `3, 4, 5`, `18 to 26 step 2 degC`, or drawn.

use crate::quantity::unit::Unit;
use crate::quantity::{can_be_measured, find_unit};
use crate::site::Value;

/// So many values one input may have in a list.
const MOST: usize = 1_000_000;

/// What an input is given, in SI.
#[derive(Debug, Clone, PartialEq)]
pub enum Values {
    /// One after the other.
    List(Vec<f64>),
    /// Anything between two ends, alike.
    Between(f64, f64),
    /// The stated value with its stated uncertainty.
    Uncertainty,
}

impl Values {
    /// The smallest and the largest; those of an uncertain value at twice its standard uncertainty.
    pub fn ends(&self, slot: &Value) -> (f64, f64) {
        match self {
            Self::List(values) => {
                values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
                    (low.min(*value), high.max(*value))
                })
            }
            Self::Between(a, b) => (a.min(*b), a.max(*b)),
            Self::Uncertainty => {
                let about = 2.0 * slot.uncertainty.map_or(0.0, |spread| spread.standard());
                (slot.si - about, slot.si + about)
            }
        }
    }
}

/// Why a text gives no values.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ValuesError {
    /// A number is missing or is none.
    #[error("\"{text}\" is no number; {}", FORMS)]
    NoNumber {
        /// As written.
        text: String,
    },
    /// The unit is missing, unknown, or of another kind.
    #[error("{message}; {help}")]
    Unit {
        /// What is wrong.
        message: String,
        /// What would be right.
        help: String,
    },
    /// A step that does not lead from the one end to the other.
    #[error("a step of {step} does not lead from {from} to {to}")]
    Step {
        /// First.
        from: f64,
        /// Last.
        to: f64,
        /// Step.
        step: f64,
    },
    /// Too many values.
    #[error("more than {MOST} values")]
    TooMany,
    /// No uncertainty to draw from.
    #[error(
        "no uncertainty of {path} is stated: write it in the site file, as in \"5 ± 0.2\", or give a \
         range, as in \"3 to 8\""
    )]
    NoUncertainty {
        /// Which.
        path: String,
    },
}

const FORMS: &str =
    "values are written \"3, 4, 5\", \"18 to 26 step 2 degC\", \"3 to 8\" or \"uncertainty\"";

/// Reads what an input is given. The unit stands with each value or once, at the end; a step has that of
/// the values (of temperatures: their difference).
///
/// # Errors
/// [`ValuesError`].
pub fn read(text: &str, slot: &Value) -> Result<Values, ValuesError> {
    let text = text.trim();
    if text.eq_ignore_ascii_case("uncertainty") {
        return match slot.uncertainty {
            Some(_) => Ok(Values::Uncertainty),
            None => Err(ValuesError::NoUncertainty { path: slot.path.clone() }),
        };
    }
    let Some((from, rest)) = text.split_once(" to ") else { return list(text, slot) };
    let (to, step) = match rest.split_once(" step ") {
        Some((to, step)) => (to, Some(step)),
        None => (rest, None),
    };
    let last = step.unwrap_or(to);
    let (_, unit_text) = number(last)?;
    let unit = unit_of(unit_text, slot)?;
    let value = |text: &str| {
        let (number, own) = number(text)?;
        let unit = if own.is_empty() { unit } else { unit_of(own, slot)? };
        Ok::<f64, ValuesError>(unit.to_si(number))
    };
    let (from, to) = (value(from)?, value(to)?);
    match step {
        None => Ok(Values::Between(from, to)),
        // A step is a difference: it has no zero of its own.
        Some(step) => stepped(from, to, number(step)?.0 * unit.factor, unit),
    }
}

fn list(text: &str, slot: &Value) -> Result<Values, ValuesError> {
    let texts: Vec<&str> = text.split(',').map(str::trim).collect();
    if texts.len() > MOST {
        return Err(ValuesError::TooMany);
    }
    let last = texts.last().copied().unwrap_or_default();
    let (_, at_end) = number(last)?;
    let values = texts.iter().map(|text| {
        let (number, own) = number(text)?;
        Ok(unit_of(if own.is_empty() { at_end } else { own }, slot)?.to_si(number))
    });
    values.collect::<Result<_, _>>().map(Values::List)
}

/// From the one end to the other, both included where the steps meet it.
fn stepped(from: f64, to: f64, step: f64, unit: &Unit) -> Result<Values, ValuesError> {
    let steps = (to - from) / step;
    if !(steps >= 0.0 && steps.is_finite()) {
        let [from, to] = [from, to].map(|si| unit.of_si(si));
        return Err(ValuesError::Step { from, to, step: step / unit.factor });
    }
    if steps >= MOST as f64 {
        return Err(ValuesError::TooMany);
    }
    // A step that meets the end but for rounding meets it.
    let count = (steps + 1e-9).floor() as usize + 1;
    Ok(Values::List((0..count).map(|index| from + index as f64 * step).collect()))
}

/// A number and what follows it.
fn number(text: &str) -> Result<(f64, &str), ValuesError> {
    let text = text.trim();
    let no_number = || ValuesError::NoNumber { text: text.into() };
    let end = crate::quantity::number_length(text);
    let number: f64 = text[..end].parse().map_err(|_| no_number())?;
    if !can_be_measured(number) {
        return Err(no_number());
    }
    Ok((number, text[end..].trim()))
}

fn unit_of(text: &str, slot: &Value) -> Result<&'static Unit, ValuesError> {
    find_unit(text, &[slot.quantity])
        .map_err(|error| ValuesError::Unit { message: error.message, help: error.help })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Quantity, Uncertainty};
    use crate::site::Limits;
    use approx::assert_relative_eq;

    fn slot(quantity: Quantity) -> Value {
        Value {
            path: "a.b".into(),
            quantity,
            si: 300.0,
            uncertainty: None,
            default_uncertainty: None,
            assumed: None,
            limits: Limits::between(0.0, 1e9),
        }
    }

    fn listed(text: &str, quantity: Quantity) -> Vec<f64> {
        match read(text, &slot(quantity)) {
            Ok(Values::List(values)) => values,
            other => panic!("{text}: {other:?}"),
        }
    }

    #[test]
    fn lists_and_ranges_are_read_as_people_write_them() {
        assert_eq!(listed("3, 4,5", Quantity::Ratio), [3.0, 4.0, 5.0]);
        assert_eq!(listed("3 to 4 step 0.5", Quantity::Ratio), [3.0, 3.5, 4.0]);
        assert_eq!(listed("4 to 3 step -0.5", Quantity::Ratio), [4.0, 3.5, 3.0]);
        assert_eq!(listed("0.1 to 0.3 step 0.1", Quantity::Ratio).len(), 3);
        for text in ["18, 20, 22 degC", "18 degC, 20 degC, 22 degC", "18 to 22 step 2 degC"] {
            let values = listed(text, Quantity::Temperature);
            for (value, wanted) in values.iter().zip([291.15, 293.15, 295.15]) {
                assert_relative_eq!(*value, wanted, max_relative = 1e-12);
            }
            assert_eq!(values.len(), 3, "{text}");
        }
        let fahrenheit = listed("68 to 86 step 9 degF", Quantity::Temperature);
        assert_relative_eq!(fahrenheit[1], 298.15, max_relative = 1e-12);
        assert_eq!(read("3 to 8", &slot(Quantity::Ratio)).unwrap(), Values::Between(3.0, 8.0));
    }

    #[test]
    fn what_gives_no_values_says_why() {
        let said = |text: &str, quantity| read(text, &slot(quantity)).unwrap_err().to_string();
        assert!(said("3, , 5", Quantity::Ratio).contains("no number"));
        assert!(said("18, 20", Quantity::Temperature).contains("degC"));
        assert!(said("3 to 8 step -1", Quantity::Ratio).contains("does not lead"));
        assert!(said("3 to 8 step 0", Quantity::Ratio).contains("does not lead"));
        for text in ["0 to 1 step 1e-9", "2 to 3 step 1e-300"] {
            assert!(said(text, Quantity::Ratio).contains("more than 1000000 values"), "{text}");
        }
        assert!(said("uncertainty", Quantity::Ratio).contains("no uncertainty of a.b"));
        let known = Value { uncertainty: Some(Uncertainty::limit(1.0)), ..slot(Quantity::Ratio) };
        assert_eq!(read("uncertainty", &known).unwrap(), Values::Uncertainty);
    }
}
