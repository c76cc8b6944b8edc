#![forbid(unsafe_code)]
#![warn(missing_docs)]
//! The water of an evaporative cooling tower.

pub mod air;
pub mod balance;
pub mod equation;
pub mod model;
pub mod quantity;
pub mod report;
pub mod site;
pub mod tower;
pub mod warnings;
pub mod water;
