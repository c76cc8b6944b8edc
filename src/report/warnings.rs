//! All that the pages may warn of, and the warnings of one page.

use super::page::{Block, constant, number, words};
use super::text::{Style, heading, paragraph};
use crate::warnings::{NOTICES, Noticed, WARNINGS};
use serde::Serialize;

/// A warning that a page may raise.
#[derive(Debug, Clone, Serialize)]
pub struct WarningRow {
    /// Stable name, as on pages and in machine output.
    pub id: &'static str,
    /// The command whose page shows it.
    pub command: &'static str,
    /// What is usual.
    pub usual: &'static str,
    /// Where that comes from.
    pub source: &'static str,
    /// What to look at.
    pub advice: &'static str,
}

/// Every warning, in the order of commands.
pub fn rows() -> Vec<WarningRow> {
    let of_balance = WARNINGS.iter().map(|warning| WarningRow {
        id: warning.id,
        command: "balance",
        usual: warning.usual,
        source: warning.source,
        advice: warning.advice,
    });
    let of_others = NOTICES.iter().map(|notice| WarningRow {
        id: notice.id,
        command: notice.command,
        usual: notice.usual,
        source: notice.source,
        advice: notice.advice,
    });
    of_balance.chain(of_others).collect()
}

/// Every warning as text of 80 columns.
pub fn text(style: Style) -> String {
    let mut text = String::new();
    for command in ["balance", "blowdown", "feed", "level", "year"] {
        heading(&mut text, &command.to_uppercase(), style.bold);
        for row in rows().iter().filter(|row| row.command == command) {
            paragraph(&mut text, "", row.id);
            paragraph(&mut text, "  ", &format!("Usual: {} ({}).", row.usual, row.source));
            paragraph(&mut text, "  ", &format!("Look at: {}.", row.advice));
        }
    }
    super::marks::finished(text, style)
}

/// A warning of a page.
#[derive(Debug, Clone, Serialize)]
pub struct NoticeOut {
    /// Stable name.
    pub id: &'static str,
    /// In words.
    pub message: String,
}

pub(super) fn notices_out(noticed: &[Noticed]) -> Vec<NoticeOut> {
    noticed.iter().map(|n| NoticeOut { id: n.notice.id, message: n.message.clone() }).collect()
}

/// The warnings of a page with what to look at; nothing where there are none.
pub(super) fn notice_blocks(noticed: &[Noticed]) -> Vec<Block> {
    let heading = (!noticed.is_empty()).then(|| Block::heading("WARNINGS"));
    let each = noticed.iter().flat_map(|one| {
        let message = number("warnings.message", one.message.as_str());
        [
            Block::paragraph(words![one.notice.id, ": ", message, "."]),
            Block::indented(words!["Look at: ", constant(one.notice.advice), "."]),
        ]
    });
    heading.into_iter().chain(each).collect()
}

pub(super) fn noticed(text: &mut String, noticed: &Noticed) {
    paragraph(text, "", &format!("{}: {}", noticed.notice.id, noticed.message));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_warning_has_a_place_in_the_text() {
        let text = text(Style::default());
        for row in rows() {
            assert!(text.contains(row.id), "{}", row.id);
        }
    }
}
