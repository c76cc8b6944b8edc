//! A page to hand over: pictures, then the words and numbers of the printed page, in one HTML file
//! that asks for nothing else: no script, font, style or image from elsewhere.

use super::marks::{CELL, HEAD_END, HEADING, PARAGRAPH};
use crate::picture::{Picture, frame};
use std::fmt::Write as _;

const STYLE: &str = include_str!("page/page.css");

/// What a page is made of.
pub struct Page<'a> {
    /// The command that made it, as typed; empty without one.
    pub command: &'a str,
    /// Printed pages with marks ([`Style::marked`](super::text::Style::marked)), the first with the name
    /// of the site.
    pub text: &'a str,
    /// Pictures, each as wide as a page and as narrow as a telephone.
    pub pictures: &'a [[Picture; 2]],
}

/// A page as one HTML file.
pub fn page(page: &Page<'_>) -> String {
    let blocks = blocks(page.text);
    let mut lead = blocks.iter().take_while(|block| !block.is_heading());
    let title = lead.next().map(Block::words).unwrap_or_default();
    let subtitle = lead.next().map(Block::words).unwrap_or_default();
    let mut body = String::new();
    let _ = writeln!(body, "<header>\n<h1>{}</h1>", frame::escaped(&title));
    let _ = writeln!(body, "<p>{}</p>", frame::escaped(&subtitle));
    if !page.command.is_empty() {
        let _ = writeln!(body, "<p>Made by <code>{}</code></p>", frame::escaped(page.command));
    }
    body.push_str("</header>\n<main>\n");
    for [wide, narrow] in page.pictures {
        for (class, picture) in [("wide", wide), ("narrow", narrow)] {
            for part in picture.parts() {
                let svg = frame::themed(&part);
                let _ = writeln!(body, "<figure class=\"{class}\">\n{svg}</figure>");
            }
        }
    }
    let mut is_open = false;
    for block in blocks.iter().skip(2) {
        if block.is_heading() {
            body.push_str(if is_open { "</section>\n<section>\n" } else { "<section>\n" });
            is_open = true;
        }
        block.write(&mut body);
    }
    if is_open {
        body.push_str("</section>\n");
    }
    body.push_str("</main>\n");
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; \
         style-src 'unsafe-inline'\">\n\
         <meta name=\"generator\" content=\"coldbasin {}\">\n\
         <title>{}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n{body}</body>\n</html>\n",
        env!("CARGO_PKG_VERSION"),
        frame::escaped(&title),
    )
}

/// A cell, and whether it stands at the right of its column.
#[derive(Debug, Clone, PartialEq)]
struct Cell {
    words: String,
    is_right: bool,
}

/// Lines of a table.
#[derive(Debug, Default, PartialEq)]
struct Table {
    head: Vec<Vec<Cell>>,
    rows: Vec<Vec<Cell>>,
}

/// A piece of a printed page.
#[derive(Debug, PartialEq)]
enum Block {
    Heading(String),
    /// A heading that is the head of two tables beside each other.
    Ledger(Table),
    Table(Table),
    Paragraph {
        indent: usize,
        words: String,
    },
}

/// A marked page in pieces.
fn blocks(text: &str) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    // Whether the next line may go on with the last block.
    let mut is_open = false;
    for line in text.lines() {
        let line = match line.strip_prefix(HEAD_END) {
            Some(rest) => {
                if let Some(Block::Table(table)) = blocks.last_mut() {
                    table.head.append(&mut table.rows);
                }
                rest
            }
            None => line,
        };
        let plain = line.trim_start_matches([HEADING, PARAGRAPH]);
        if plain.trim().is_empty() {
            is_open = false;
        } else if line.starts_with(HEADING) && plain.contains(CELL) {
            let table = Table { head: vec![cells(plain)], rows: Vec::new() };
            blocks.push(Block::Ledger(table));
            is_open = true;
        } else if line.starts_with(HEADING) {
            blocks.push(Block::Heading(plain.trim().into()));
            is_open = false;
        } else if line.contains(CELL) {
            match blocks.last_mut().filter(|_| is_open) {
                Some(Block::Table(table) | Block::Ledger(table)) => table.rows.push(cells(plain)),
                _ => blocks.push(Block::Table(Table { head: vec![], rows: vec![cells(plain)] })),
            }
            is_open = true;
        } else {
            let goes_on = is_open && !line.starts_with(PARAGRAPH);
            match blocks.last_mut().filter(|_| goes_on) {
                Some(Block::Paragraph { words, .. }) => {
                    words.push(' ');
                    words.push_str(plain.trim());
                }
                _ => {
                    let indent = plain.len() - plain.trim_start().len();
                    blocks.push(Block::Paragraph { indent, words: plain.trim().into() });
                }
            }
            // The two lines of the page's head stand by themselves.
            is_open = line.starts_with(PARAGRAPH) || goes_on;
        }
    }
    blocks
}

fn cells(line: &str) -> Vec<Cell> {
    let cell = |text: &str| {
        let words = text.trim();
        let is_number =
            words.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '-' | '<' | '±' | '+'));
        // Words that stand at the left have the blanks after them.
        let is_right = text.starts_with(' ') || (is_number && !text.ends_with(' '));
        Cell { words: words.into(), is_right }
    };
    line.split(CELL).map(cell).collect()
}

/// Whether a line of a table is a rule under a sum.
fn is_rule(row: &[Cell]) -> bool {
    row.iter().all(|cell| cell.words.chars().all(|c| c == '-')) && row[0].words.len() > 2
}

/// What stands between backticks, as code.
fn with_code(words: &str) -> String {
    let mut parts = words.split('`');
    let mut html = parts.next().unwrap_or_default().to_owned();
    while let Some(code) = parts.next() {
        match parts.next() {
            Some(rest) => html += &format!("<code>{code}</code>{rest}"),
            None => html += &format!("`{code}"),
        }
    }
    html
}

impl Block {
    fn is_heading(&self) -> bool {
        matches!(self, Self::Heading(_) | Self::Ledger(_))
    }

    fn words(&self) -> String {
        match self {
            Self::Heading(words) | Self::Paragraph { words, .. } => words.clone(),
            Self::Ledger(_) | Self::Table(_) => String::new(),
        }
    }

    fn write(&self, html: &mut String) {
        match self {
            Self::Heading(words) => {
                let _ = writeln!(html, "<h2>{}</h2>", frame::escaped(words));
            }
            Self::Paragraph { indent, words } => {
                let class = match (words.starts_with("Caution"), indent) {
                    (true, _) => " class=\"caution\"",
                    (false, 0) => "",
                    (false, 1..=2) => " class=\"in\"",
                    (false, _) => " class=\"in2\"",
                };
                let _ = writeln!(html, "<p{class}>{}</p>", with_code(&frame::escaped(words)));
            }
            Self::Table(table) => table.write(html),
            Self::Ledger(table) => {
                html.push_str("<div class=\"beside\">\n");
                table.halves().iter().for_each(|half| half.write(html));
                html.push_str("</div>\n");
            }
        }
    }
}

impl Table {
    fn columns(&self) -> usize {
        self.head.iter().chain(&self.rows).map(Vec::len).max().unwrap_or(0)
    }

    /// Two tables: the columns on the left, and those on the right.
    fn halves(&self) -> [Self; 2] {
        let middle = self.columns().div_ceil(2);
        let part = |rows: &[Vec<Cell>], is_left: bool| -> Vec<Vec<Cell>> {
            let cut = |row: &Vec<Cell>| {
                // A rule runs under both.
                if is_rule(row) {
                    return row.clone();
                }
                let (left, right) = row.split_at(middle.min(row.len()));
                if is_left { left.to_vec() } else { right.to_vec() }
            };
            let is_empty = |row: &Vec<Cell>| row.iter().all(|cell| cell.words.is_empty());
            rows.iter().map(cut).filter(|row| !is_empty(row)).collect()
        };
        [true, false].map(|is_left| Self {
            head: part(&self.head, is_left),
            rows: part(&self.rows, is_left),
        })
    }

    /// What stands over a column.
    fn heads(&self) -> Vec<Cell> {
        (0..self.columns())
            .map(|column| {
                let mut words = String::new();
                let mut is_right = false;
                for cell in self.head.iter().filter_map(|row| row.get(column)) {
                    is_right |= cell.is_right;
                    if words.ends_with('-') && !cell.words.is_empty() {
                        words.pop();
                    } else if !words.is_empty() && !cell.words.is_empty() {
                        words.push(' ');
                    }
                    words.push_str(&cell.words);
                }
                Cell { words, is_right }
            })
            .collect()
    }

    fn write(&self, html: &mut String) {
        let columns = self.columns();
        let heads = self.heads();
        let class = if columns > 4 && !self.head.is_empty() { " class=\"many\"" } else { "" };
        let right = |cell: &Cell| if cell.is_right { " class=\"n\"" } else { "" };
        let _ = writeln!(html, "<table{class}>");
        if !self.head.is_empty() {
            html.push_str("<thead><tr>");
            for head in &heads {
                let (class, words) = (right(head), frame::escaped(&head.words));
                // A column without a head is none for those who hear the page.
                let _ = match words.as_str() {
                    "" => write!(html, "<td></td>"),
                    words => write!(html, "<th scope=\"col\"{class}>{words}</th>"),
                };
            }
            html.push_str("</tr></thead>\n");
        }
        html.push_str("<tbody>\n");
        let mut is_sum = false;
        for row in &self.rows {
            if is_rule(row) {
                is_sum = true;
                continue;
            }
            html.push_str(if is_sum { "<tr class=\"sum\">" } else { "<tr>" });
            for column in 0..columns {
                let empty = Cell { words: String::new(), is_right: false };
                let cell = row.get(column).unwrap_or(&empty);
                let (class, words) = (right(cell), frame::escaped(&cell.words));
                let head = heads.get(column).map(|head| frame::escaped(&head.words));
                let label = match head.filter(|head| !head.is_empty() && !words.is_empty()) {
                    Some(head) if columns > 4 => format!(" data-label=\"{head}\""),
                    _ => String::new(),
                };
                let _ = match column {
                    0 => write!(html, "<th scope=\"row\"{label}>{words}</th>"),
                    _ => write!(html, "<td{class}{label}>{words}</td>"),
                };
            }
            html.push_str("</tr>\n");
        }
        html.push_str("</tbody>\n</table>\n");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn made(text: &str) -> String {
        page(&Page { command: "coldbasin balance \"a&b.toml\"", text, pictures: &[] })
    }

    #[test]
    fn a_marked_page_becomes_headings_paragraphs_and_tables() {
        let html = made(
            "Tower <b>\nWater balance from a.toml\n\n\u{1c}WATER IN\u{1f}  m3/h\u{1f}   \u{1f}WATER OUT\u{1f} m3/h\n\
             makeup\u{1f}  3\u{1f} ± 1\u{1f}drift\u{1f}  1\u{1f}\n----\u{1f}----\n\
             total in\u{1f} 3\u{1f}\u{1f}total out\u{1f} 3\n\n\u{1c}DAYS\n    \u{1f}  blow-\u{1f}x\n    \u{1f}   down\u{1f}y\n\
             \u{1d}1 May\u{1f}  2.5\u{1f}ok\n\u{1e}A line\nand more & more.\n\u{1e}Caution: hot.\n",
        );
        for expected in [
            "<h1>Tower &lt;b&gt;</h1>",
            "<p>Water balance from a.toml</p>",
            "<code>coldbasin balance &quot;a&amp;b.toml&quot;</code>",
            "<th scope=\"col\">WATER OUT</th>",
            "<th scope=\"row\">drift</th><td class=\"n\">1</td>",
            "<tr class=\"sum\"><th scope=\"row\">total out</th>",
            "<h2>DAYS</h2>",
            "<th scope=\"col\" class=\"n\">blowdown</th>",
            "<tr class=\"sum\"><th scope=\"row\">total in</th>",
            "<th scope=\"row\">1 May</th><td class=\"n\">2.5</td><td>ok</td>",
            "<p>A line and more &amp; more.</p>",
            "<p class=\"caution\">Caution: hot.</p>",
        ] {
            assert!(html.contains(expected), "{expected}\n{html}");
        }
        assert_eq!(html.matches("<section>").count(), html.matches("</section>").count());
        assert!(
            !html.contains("<script") && !html.contains("http://") && !html.contains("https://")
        );
    }

    #[test]
    fn commands_in_a_sentence_are_code() {
        assert_eq!(with_code("a `b c` d"), "a <code>b c</code> d");
        assert_eq!(with_code("a ` b"), "a ` b");
    }
}
