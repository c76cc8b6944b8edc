//! Merkel's method: exit air saturated.
use super::{Duty, Exchange, TowerError};
/// Counterflow.
pub fn counterflow(_duty: &Duty) -> Result<Exchange, TowerError> {
    todo!()
}
/// Crossflow.
pub fn crossflow(
    _duty: &Duty,
    _workspace: &mut super::poppe::CrossflowWorkspace,
) -> Result<Exchange, TowerError> {
    todo!()
}
