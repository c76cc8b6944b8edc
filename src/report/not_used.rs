//! What of a file is not used, as pages say it.

use super::page::{Block, Words, number, words};
use crate::readings::NotUsed;

/// Lines that a page lists.
const MOST_LISTED: usize = 8;

/// What is said first where much of a file is not used.
pub(super) fn caution(not_used: &NotUsed) -> Option<Block> {
    let caution = not_used.caution()?;
    let words = words![Words::given(&caution), ". What follows rests on what is left."];
    Some(Block::paragraph(words))
}

/// How many rows are not used, and why the first; nothing where [`caution`] says it already.
pub(super) fn in_brief(not_used: &NotUsed) -> Option<Block> {
    let lost = not_used.lost_in_words().filter(|_| not_used.caution().is_none())?;
    Some(Block::paragraph(words![Words::given(&lost), "."]))
}

/// Each line that is not used with its reason, and which rows were put in order.
pub(super) fn listed(not_used: &NotUsed) -> Vec<Block> {
    let lines = not_used.listed.iter().take(MOST_LISTED).map(|refused| {
        let line = number("not_used.line", refused.line.to_string());
        words!["line ", line, ": ", Words::given(&refused.reason)]
    });
    let more = not_used.listed.len().saturating_sub(MOST_LISTED) + not_used.more;
    let more = (more > 0).then(|| {
        words!["... and ", number("more_not_used", more.to_string()), " more; json lists them."]
    });
    let order = not_used.order_in_words().map(|words| number("rows_out_of_order", words).into());
    lines.chain(more).chain(order).map(Block::paragraph).collect()
}
