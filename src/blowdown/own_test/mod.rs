//! The tower's own analysis, held against its makeup.
//!
//! Ions that do not react each give the cycles of concentration; [`consensus`] finds what most of them
//! agree on and names the odd one. [`comparison`] holds the analysis against the water that the makeup
//! makes at those cycles: what is lost on the way lies somewhere, and what is gained came from
//! somewhere. [`assay`] is an analysis with how sure each of its numbers is.

pub mod assay;
pub mod comparison;
pub mod consensus;

pub use assay::{Assay, Found};
pub use comparison::{Comparison, Fate, Line, Loss, Meaning, Of};
pub use consensus::{Odd, RealCycles, Reason, Standing, Tracer, Witness};
