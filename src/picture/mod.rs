//! Results as pictures: data in, SVG text out.
//!
//! A picture is a pure function of a sheet: the same sheet gives the same bytes. Axes carry their
//! units, lines their names; colours are those of Okabe and Ito with dashes of their own, and every
//! picture says in words what it shows (`<title>`, `<desc>`).

mod axis;
mod balance;
mod blowdown;
mod chart;
#[cfg(feature = "files")]
mod check;
mod colour;
mod flow;
pub(crate) mod frame;
mod pen;
#[cfg(feature = "png")]
mod png;
mod transient;
#[cfg(feature = "files")]
mod visits;
mod whatif;
#[cfg(feature = "files")]
mod year;

pub use balance::balance;
pub use blowdown::{Costs, blowdown};
#[cfg(feature = "files")]
pub use check::check;
pub use frame::{Picture, Width};
#[cfg(feature = "png")]
pub use png::{PngError, letters_without_shape, png};
pub use transient::{TransientWords, transient};
#[cfg(feature = "files")]
pub use visits::visits;
pub use whatif::{NotDrawn, Run, Runs, whatif};
#[cfg(feature = "files")]
pub use year::year;

use crate::quantity::UnitSystem;

/// How a picture is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Look {
    /// Units that people see.
    pub units: UnitSystem,
    /// How wide it is.
    pub width: Width,
}

/// What a picture shows and of which site: its title.
fn title(what: &str, name: &str) -> String {
    if name.is_empty() { what.into() } else { format!("{what} of {name}") }
}

/// What a picture was made from and by what.
fn source(from: &str) -> String {
    format!("from {from}, coldbasin {}", env!("CARGO_PKG_VERSION"))
}
