//! The water of an evaporative cooling tower: all that the makeup valve lets in is accounted for as
//! evaporation, drift, blowdown, leakage and overflow, with every number traceable to a formula, a
//! published source and the inputs it came from.
//!
//! ```
//! use coldbasin::model::Model;
//! use coldbasin::quantity::{Ratio, Temperature, VolumeFlow};
//! use coldbasin::site::description::{Air, Blowdown, Circuit};
//! use coldbasin::site::{Description, validate};
//!
//! let description = Description {
//!     air: Some(Air {
//!         dry_bulb: Some(Temperature::celsius(32.0).into()),
//!         wet_bulb: Some(Temperature::celsius(24.0).into()),
//!         ..Air::default()
//!     }),
//!     circuit: Some(Circuit {
//!         circulation: Some(VolumeFlow::cubic_metre_per_hour(900.0).into()),
//!         hot_water: Some(Temperature::celsius(37.0).into()),
//!         cold_water: Some(Temperature::celsius(29.0).into()),
//!         ..Circuit::default()
//!     }),
//!     blowdown: Some(Blowdown { cycles: Some(Ratio::number(5.0).into()), ..Blowdown::default() }),
//!     ..Description::default()
//! };
//! let site = validate(&description).expect("a complete description");
//! let model = Model::compile(&site);
//! let sheet = model.sheet(model.base()).expect("a tower that can be");
//! assert!(sheet.makeup.reference_m3_per_h > 10.0);
//! // What nobody stated is told, with its basis.
//! assert!(sheet.assumptions().any(|(value, _)| value.path == "cell.1.drift"));
//! ```
//!
//! Data flows one way: a [`site::Description`] is checked into a [`site::Site`], compiled into a
//! [`model::Model`] with flat inputs, evaluated to a [`model::Balance`] or a
//! [`model::BalanceSheet`], and shown by [`report`], or drawn by the feature `picture`. The physics
//! stands below that: [`water`], [`air`], [`tower`], [`balance`]. Nothing here reads files, prints, or
//! knows the time.

#![forbid(unsafe_code)]
#![warn(missing_docs)]
// `!(x > 0.0)` is how a NaN is refused together with what is not positive.
#![allow(clippy::neg_cmp_op_on_partial_ord)]

pub mod air;
pub mod balance;
pub mod basin;
pub mod blowdown;
pub mod check;
pub mod chemistry;
pub mod cost;
pub mod equation;
pub mod feed;
pub mod model;
mod ode;
#[cfg(feature = "picture")]
pub mod picture;
pub mod printable;
pub mod quantity;
pub mod random;
#[cfg(feature = "files")]
pub mod readings;
pub mod report;
mod root;
pub mod site;
pub mod statistics;
pub mod tower;
pub mod transient;
pub mod warnings;
pub mod water;
pub mod whatif;
