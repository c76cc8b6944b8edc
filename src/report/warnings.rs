//! All that the pages may warn of, and the warnings of one page.

use super::page::{Block, Page, Words, constant, words};
use crate::warnings::{NOTICES, Noticed, WARNINGS};
use serde::Serialize;

/// A warning that a page may raise.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct WarningRow {
    /// Stable name, as on pages and in machine output.
    pub id: &'static str,
    /// The command whose page shows it; several are joined by "and".
    pub command: &'static str,
    /// What is usual.
    pub usual: String,
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
        usual: (warning.usual)(),
        source: warning.source,
        advice: warning.advice,
    });
    let of_others = NOTICES.iter().map(|notice| WarningRow {
        id: notice.id,
        command: notice.command,
        usual: (notice.usual)(),
        source: notice.source,
        advice: notice.advice,
    });
    of_balance.chain(of_others).collect()
}

/// Every warning as a page.
pub fn page() -> Page {
    let version = constant(env!("CARGO_PKG_VERSION"));
    let mut page = Page {
        name: "Warnings".into(),
        of: words!["All that pages may warn of, coldbasin ", version],
        ..Page::default()
    };
    let rows = rows();
    for of_command in rows.chunk_by(|a, b| a.command == b.command) {
        page.detail.push(Block::heading(of_command[0].command.to_uppercase()));
        page.detail.extend(of_command.iter().flat_map(row));
    }
    page
}

fn row(row: &WarningRow) -> [Block; 3] {
    let usual = words!["Usual: ", constant(row.usual.as_str()), " (", constant(row.source), ")."];
    let advice = words!["Look at: ", constant(row.advice), "."];
    [Block::paragraph(row.id), Block::indented(usual), Block::indented(advice)]
}

/// A warning of a page.
#[derive(Debug, Clone, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct NoticeOut {
    /// Stable name.
    pub id: &'static str,
    /// In words.
    pub message: String,
}

pub(super) fn notices_out(noticed: &[Noticed]) -> Vec<NoticeOut> {
    noticed.iter().map(|n| NoticeOut { id: n.notice.id, message: n.message.clone() }).collect()
}

/// The warnings of a page as blocks of it; nothing where none stands.
pub(super) fn blocks(noticed: &[Noticed]) -> Vec<Block> {
    let block =
        |it: &Noticed| Block::paragraph(words![it.notice.id, ": ", Words::given(&it.message)]);
    let heading = (!noticed.is_empty()).then(|| Block::heading("WARNINGS"));
    heading.into_iter().chain(noticed.iter().map(block)).collect()
}

#[cfg(test)]
mod tests {
    use super::super::page::{Style, text};
    use super::*;

    #[test]
    fn every_warning_has_a_place_in_the_text() {
        let text = text(&page(), Style::default());
        for row in rows() {
            let lines = text.lines().filter(|line| *line == row.id).count();
            assert_eq!(lines, 1, "{}", row.id);
        }
    }
}
