#![forbid(unsafe_code)]
#![warn(missing_docs)]
//! The water of an evaporative cooling tower.

pub mod air;
pub mod balance;
pub mod equation;
pub mod quantity;
pub mod site;
pub mod tower;
pub mod water;
