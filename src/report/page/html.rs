//! A page to hand over: the answer, pictures, then all the rest, in one HTML file that asks for nothing
//! else: no script, font, style or image from elsewhere.

use super::text::together;
use super::{Block, Page, Piece, Row, Side, Table, Words};
use crate::picture::{Picture, frame};
use std::fmt::Write as _;

const STYLE: &str = include_str!("page.css");
/// Tables with more columns than this become lists on a telephone.
const MOST_COLUMNS: usize = 4;

/// What an HTML file is made of.
#[derive(Debug, Clone, Copy)]
pub struct Html<'a> {
    /// The command that made it, as typed; empty without one.
    pub command: &'a str,
    /// The page.
    pub page: &'a Page,
    /// Pictures, each as wide as a page and as narrow as a telephone.
    pub pictures: &'a [[Picture; 2]],
}

/// A page as one HTML file.
pub fn html(made_of: &Html<'_>) -> String {
    let Html { command, page, pictures } = made_of;
    let title = escaped(&page.name);
    let mut body = format!("<header>\n<h1>{title}</h1>\n<p>{}</p>\n", escaped(&page.of));
    if !command.is_empty() {
        let _ = writeln!(body, "<p>Made by <code>{}</code></p>", frame::escaped(command));
    }
    body.push_str("</header>\n<main>\n");
    body.push_str(&sections(&page.answer));
    for [wide, narrow] in *pictures {
        for (class, picture) in [("wide", wide), ("narrow", narrow)] {
            for part in picture.parts() {
                let svg = frame::themed(&part);
                let _ = writeln!(body, "<figure class=\"{class}\">\n{svg}</figure>");
            }
        }
    }
    body.push_str(&sections(&page.detail));
    body.push_str("</main>\n");
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; \
         style-src 'unsafe-inline'\">\n\
         <meta name=\"generator\" content=\"coldbasin {}\">\n\
         <title>{title}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n{body}</body>\n</html>\n",
        env!("CARGO_PKG_VERSION"),
    )
}

/// Blocks, a section for each heading.
fn sections(blocks: &[Block]) -> String {
    let mut html = String::new();
    for (place, block) in blocks.iter().enumerate() {
        let begins = matches!(block, Block::Heading(_) | Block::Ledger(_));
        html.push_str(match (place, begins) {
            (0, _) => "<section>\n",
            (_, true) => "</section>\n<section>\n",
            (_, false) => "",
        });
        write(&mut html, block);
    }
    if !blocks.is_empty() {
        html.push_str("</section>\n");
    }
    html
}

/// Words, with what stands between backticks in those of this program as code.
fn escaped(words: &Words) -> String {
    words
        .pieces()
        .map(|piece| match piece {
            Piece::Words(words) => with_code(&frame::escaped(words)),
            other => frame::escaped(other.shown()),
        })
        .collect()
}

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

fn write(html: &mut String, block: &Block) {
    let paragraph = |html: &mut String, class: &str, words: &str| {
        let _ = writeln!(html, "<p{class}>{}</p>", together(words));
    };
    const LEVELS: [&str; 3] = ["", " class=\"in\"", " class=\"in2\""];
    match block {
        Block::Heading(words) => {
            let _ = writeln!(html, "<h2>{}</h2>", escaped(words));
        }
        Block::Paragraph { level, words } => {
            paragraph(html, LEVELS[(*level).min(2)], &escaped(words));
        }
        Block::Caution(words) => {
            paragraph(html, " class=\"caution\"", &format!("Caution: {}", escaped(words)));
        }
        Block::Equation { lines, source } => {
            for (place, line) in lines.iter().enumerate() {
                paragraph(html, LEVELS[place.min(1)], &escaped(line));
            }
            paragraph(html, LEVELS[2], &escaped(source));
        }
        Block::Table(table) => write_table(html, table),
        Block::Ledger(tables) => {
            html.push_str("<div class=\"beside\">\n");
            tables.iter().for_each(|table| write_table(html, table));
            html.push_str("</div>\n");
        }
        Block::Gap => {}
    }
}

/// What stands over each column, its lines joined.
fn heads(table: &Table) -> Vec<String> {
    let joined = |column: usize| {
        let mut head = String::new();
        for cell in table.head.iter().filter_map(|line| line.get(column)) {
            let cell = escaped(cell);
            if head.ends_with('-') && !cell.is_empty() {
                head.pop();
            } else if !head.is_empty() && !cell.is_empty() {
                head.push(' ');
            }
            head.push_str(&cell);
        }
        head
    };
    (0..table.columns.len()).map(joined).collect()
}

fn write_table(html: &mut String, table: &Table) {
    let heads = heads(table);
    let is_wide = table.columns.len() > MOST_COLUMNS;
    let side = |column: usize| match table.columns[column].side {
        Side::Right => " class=\"n\"",
        Side::Left => "",
    };
    html.push_str(if is_wide && !table.head.is_empty() {
        "<table class=\"many\">\n"
    } else {
        "<table>\n"
    });
    if !table.head.is_empty() {
        html.push_str("<thead><tr>");
        for (column, head) in heads.iter().enumerate() {
            // A column without a head is none for those who hear the page.
            html.push_str(&match head.as_str() {
                "" => "<td></td>".to_owned(),
                head => format!("<th scope=\"col\"{}>{head}</th>", side(column)),
            });
        }
        html.push_str("</tr></thead>\n");
    }
    html.push_str("<tbody>\n");
    let mut is_sum = false;
    for row in &table.rows {
        let Row::Cells(cells) = row else {
            is_sum = true;
            continue;
        };
        // What keeps two tables level on paper has no place here.
        if cells.is_empty() {
            continue;
        }
        html.push_str(if is_sum { "<tr class=\"sum\">" } else { "<tr>" });
        for (column, head) in heads.iter().enumerate() {
            let words = cells.get(column).map(escaped).unwrap_or_default();
            let label = match is_wide && !head.is_empty() && !words.is_empty() {
                true => format!(" data-label=\"{head}\""),
                false => String::new(),
            };
            html.push_str(&match column {
                0 => format!("<th scope=\"row\"{label}>{words}</th>"),
                _ => format!("<td{}{label}>{words}</td>", side(column)),
            });
        }
        html.push_str("</tr>\n");
    }
    html.push_str("</tbody>\n</table>\n");
}

#[cfg(test)]
mod tests {
    use super::super::{Column, words};
    use super::*;

    #[test]
    fn a_page_becomes_headings_paragraphs_and_tables() {
        let mut page = Page::new("Tower <b>", "Water balance", "a.toml");
        let mut days = Table::new([
            Column::left(8),
            Column::right(8),
            Column::left(4),
            Column::left(4),
            Column::left(4),
        ]);
        days.head(["", "blow-", "", "", ""]);
        days.head(["", "down", "y", "", ""]);
        days.row(["1 May", "2.5", "ok"]);
        days.rows.push(Row::Rule(10));
        days.row(["sum", "2.5"]);
        page.answer = vec![Block::heading("DAYS"), Block::Table(days)];
        page.detail = vec![
            Block::paragraph(words!["A `line` & ", Words::given("`name`")]),
            Block::Caution("hot.".into()),
        ];
        let html =
            html(&Html { command: "coldbasin balance \"a&b.toml\"", page: &page, pictures: &[] });
        for expected in [
            "<h1>Tower &lt;b&gt;</h1>",
            "<code>coldbasin balance &quot;a&amp;b.toml&quot;</code>",
            "<h2>DAYS</h2>",
            "<th scope=\"col\" class=\"n\">blowdown</th>",
            "<th scope=\"row\">1 May</th><td class=\"n\" data-label=\"blowdown\">2.5</td>",
            "<tr class=\"sum\"><th scope=\"row\">sum</th>",
            "<p>A <code>line</code> &amp; `name`</p>",
            "<p class=\"caution\">Caution: hot.</p>",
        ] {
            assert!(html.contains(expected), "{expected}\n{html}");
        }
        assert_eq!(html.matches("<section>").count(), html.matches("</section>").count());
    }
}
