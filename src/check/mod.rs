//! Meters against physics: which water went where.
//!
//! [`reconcile`] adjusts redundant measurements so that the balances of water and of tracers close,
//! and tests what could explain a contradiction; [`detection`] says how small a loss the meters could
//! show at all; [`detector`] says what changed, and since when.

pub mod detection;
pub mod detector;
pub mod reconcile;
