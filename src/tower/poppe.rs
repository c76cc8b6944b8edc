//! Poppe's method: full heat and mass transfer.
use super::{Duty, Exchange, TowerError};
/// Scratch memory of the crossflow field, reused between calls.
#[derive(Debug, Clone, Default)]
pub struct CrossflowWorkspace {}
/// Counterflow.
pub fn counterflow(_duty: &Duty) -> Result<Exchange, TowerError> {
    todo!()
}
/// Crossflow.
pub fn crossflow(
    _duty: &Duty,
    _workspace: &mut CrossflowWorkspace,
) -> Result<Exchange, TowerError> {
    todo!()
}
