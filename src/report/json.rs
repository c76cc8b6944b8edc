//! What the objects for programs share: fixed keys, SI units, full precision. Keys only gain company.

use super::shown::shown_at;
use crate::quantity::UnitSystem;
use crate::site::Value;
use serde::Serialize;

/// Version of their form. One vocabulary for all commands: units at the end of a key (`_celsius`, `_kelvin`,
/// `_m3_per_h`), `_part` and `_share` for parts of one.
pub const SCHEMA: u32 = 2;

/// An assumed input.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct AssumptionOut {
    /// Where it would be stated.
    pub path: String,
    /// The value in the SI unit of its quantity.
    pub si: f64,
    /// The value with its unit.
    pub shown: String,
    /// Why this value.
    pub basis: &'static str,
}

/// An assumed input, with its basis.
pub(super) fn assumption((value, basis): (&Value, &'static str)) -> AssumptionOut {
    let shown = shown_at(value.quantity, value.si, UnitSystem::Si, 4);
    AssumptionOut { path: value.path.clone(), si: value.si, shown, basis }
}
