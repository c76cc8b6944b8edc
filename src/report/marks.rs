//! Marks in the text of a page, for those who make something else of it than lines on a terminal.
//!
//! Every page writes them (control characters that no text needs), and [`finished`] takes them out
//! unless [`Style::marked`] asks for them: so a page for a browser has the words and numbers of the
//! terminal's, to the digit.

use super::text::{Style, ascii};

/// A heading begins.
pub(crate) const HEADING: char = '\u{1c}';
/// The head of a table has ended.
pub(crate) const HEAD_END: char = '\u{1d}';
/// A paragraph begins.
pub(crate) const PARAGRAPH: char = '\u{1e}';
/// The next cell of a table's line begins. It is written as itself in the formats of lines.
pub(crate) const CELL: char = '\u{1f}';

/// The lines before this are the head of a table.
pub(super) fn end_of_head(text: &mut String) {
    text.push(HEAD_END);
}

/// A page as it is wanted.
pub(super) fn finished(text: String, style: Style) -> String {
    let text = if style.marked { text } else { without_marks(&text) };
    if style.ascii { ascii(&text) } else { text }
}

fn without_marks(text: &str) -> String {
    let is_mark = |character: char| (HEADING..=CELL).contains(&character);
    let mut plain = String::with_capacity(text.len());
    for line in text.split_inclusive('\n') {
        let is_marked = line.contains(is_mark);
        plain.extend(line.chars().filter(|character| !is_mark(*character) && *character != '\n'));
        // Empty cells at the end leave blanks.
        if is_marked {
            plain.truncate(plain.trim_end_matches(' ').len());
        }
        if line.ends_with('\n') {
            plain.push('\n');
        }
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_leave_nothing_behind() {
        let text = format!("{HEADING}A\n{HEAD_END}b {CELL}  1{CELL}   \n{PARAGRAPH}c\n");
        assert_eq!(finished(text.clone(), Style::default()), "A\nb   1\nc\n");
        let marked = Style { marked: true, ..Style::default() };
        assert_eq!(finished(text.clone(), marked), text);
    }
}
