//! Text pages of 80 columns, written line by line. Headings are written in bold; a caller that shows
//! the text elsewhere than on a terminal strips the escape codes.

use super::marks::{CELL, HEADING, PARAGRAPH};
pub(crate) use super::shown::assumed_text;
#[cfg(feature = "files")]
use crate::equation::Equation;
use crate::printable::{printable, printable_lines};
use crate::quantity::UnitSystem;
#[cfg(feature = "files")]
use crate::quantity::significant;
use std::fmt::Write as _;

/// Width of a page.
const WIDTH: usize = 80;
/// How the text is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Style {
    /// Units that people see.
    pub units: UnitSystem,
    /// Whether only ASCII is written: `+-` for `±`, `deg`, `m3`.
    pub ascii: bool,
    /// Whether headings are bold.
    pub bold: bool,
    /// Whether control characters mark headings, paragraphs and cells, as [`html`](super::html) reads
    /// them.
    pub marked: bool,
}

/// A page's first two lines: whose it is, and what it shows of which file.
pub(super) fn page_head(text: &mut String, (name, source): (&str, &str), what: &str, bold: bool) {
    let source = printable(source);
    let name = if name.is_empty() { source.clone() } else { printable(name) };
    let name = if bold { format!("\x1b[1m{name}\x1b[0m") } else { name.to_string() };
    let version = env!("CARGO_PKG_VERSION");
    let _ = writeln!(text, "{name}\n{what} from {source}, coldbasin {version}");
}

/// A heading after an empty line.
pub(super) fn heading(text: &mut String, title: &str, bold: bool) {
    let title: String = title
        .split(CELL)
        .map(|cell| printable(cell).into_owned())
        .collect::<Vec<_>>()
        .join(&CELL.to_string());
    let title = if bold { format!("\x1b[1m{title}\x1b[0m") } else { title };
    let _ = writeln!(text, "\n{HEADING}{title}");
}

/// A line without blanks at its end.
pub(super) fn write_line(text: &mut String, line: &str) {
    let _ = writeln!(text, "{}", line.trim_end());
}

/// Words wrapped at the page's width, every line after the indent; a % sign stays with its number.
pub(super) fn paragraph(text: &mut String, indent: &str, words: &str) {
    const TOGETHER: &str = "\u{a0}";
    let words = words.replace(" %", &format!("{TOGETHER}%"));
    let write_line = |text: &mut String, line: &str| write_line(text, &line.replace(TOGETHER, " "));
    text.push(PARAGRAPH);
    let words = printable_lines(&words);
    let mut line = indent.to_string();
    for word in words.split([' ', '\n']).filter(|word| !word.is_empty()) {
        let is_empty = line.len() == indent.len();
        if !is_empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            write_line(text, &line);
            line = format!("{indent}{word}");
        } else {
            if !is_empty {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    write_line(text, &line);
}

/// An equation in its general form, with its numbers, and where it is published.
pub(super) fn equation(text: &mut String, lines: &[String], source: &str) {
    for (index, line) in lines.iter().enumerate() {
        paragraph(text, if index == 0 { "" } else { "  " }, line);
    }
    paragraph(text, "    ", source);
}

/// An equation with the numbers in the places of its names, to the nine digits that make the five of
/// the result come out; nothing where a name has no number.
#[cfg(feature = "files")]
pub(super) fn evaluated(
    text: &mut String,
    formula: &Equation,
    number: impl Fn(&str) -> Option<f64>,
    (result, unit): (f64, &str),
) {
    let numbers = formula.with_numbers(|name| number(name).map(|number| significant(number, 9)));
    if let Some(numbers) = numbers {
        let result = format!("= {} {unit}", significant(result, 5));
        equation(text, &[formula.text.to_owned(), format!("= {numbers}"), result], formula.source);
    }
}

/// Text for terminals that print nothing but ASCII.
pub(super) fn ascii(text: &str) -> String {
    text.replace('±', "+-")
        .replace('°', "deg")
        .replace('…', ".")
        .replace('\u{fffd}', "?")
        .replace('ö', "oe")
        .replace('ä', "ae")
}
