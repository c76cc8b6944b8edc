//! From the results of the model to what people and programs read: a file or a room for each command, and
//! what they share.

pub mod balance;
pub mod blowdown;
#[cfg(feature = "files")]
pub mod check;
pub mod feed;
pub mod json;
pub mod level;
#[cfg(feature = "files")]
mod not_used;
pub mod page;
pub(crate) mod rounding;
#[cfg(feature = "schema")]
pub mod schema;
pub(crate) mod shown;
pub mod solve;
pub mod transient;
pub mod uncertain;
pub mod units;
pub mod unstated;
#[cfg(feature = "files")]
pub mod visits;
pub mod warnings;
pub mod whatif;
#[cfg(feature = "files")]
pub mod year;

pub(crate) use shown::m3_per_h;
