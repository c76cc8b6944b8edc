//! The balance sheet, as people and programs read it.

pub(crate) mod amounts;
mod json;
mod money;
mod page;
mod rows;
mod working;

pub use json::{
    CellOut, ClosingError, Correlated, Effect, ExchangeOut, Fleet, LeakOut, LeakReading, MethodOut,
    PeriodOut, Sheet, SourceOut, StreamOut, WarningOut, fleet, json,
};
pub use money::{AddedCycleOut, ChemicalMoneyOut, MoneyOut, StreamMoneyOut};
pub use page::{page, summary};
pub use rows::{Row, rows};
pub use working::{Line, lines, working};
