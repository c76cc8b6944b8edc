//! Each formula with its numbers and its source.
use super::text::Style;
use crate::model::BalanceSheet;
/// stand-in
pub fn text(_sheet: &BalanceSheet, _style: Style) -> String {
    String::new()
}
