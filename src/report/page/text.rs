//! A page for a terminal.

use super::{Block, Column, Page, Row, Side, Table, Words};

/// Width of a page in characters.
pub(crate) const WIDTH: usize = 80;

/// How much of a page is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Depth {
    /// What a person acts on.
    Answer,
    /// Everything.
    #[default]
    Full,
}

/// How a page looks on a terminal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Style {
    /// How much of it is wanted.
    pub depth: Depth,
    /// Whether only ASCII is written: `+-` for `±`, `deg`, `m3`.
    pub ascii: bool,
    /// Whether headings are bold.
    pub bold: bool,
}

/// A page as text of 80 columns.
pub fn text(page: &Page, style: Style) -> String {
    let mut lines = Lines { text: String::new(), style };
    lines.bold(&page.name.plain());
    lines.line(&page.of.plain());
    page.answer.iter().for_each(|block| lines.block(block));
    if style.depth == Depth::Full {
        page.detail.iter().for_each(|block| lines.block(block));
    }
    if style.ascii { ascii(&lines.text) } else { lines.text }
}

struct Lines {
    text: String,
    style: Style,
}

impl Lines {
    /// A line without blanks at its end.
    fn line(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    fn bold(&mut self, line: &str) {
        self.text.push_str(&heading(line, self.style.bold));
    }

    fn gap(&mut self) {
        self.text.push('\n');
    }

    fn block(&mut self, block: &Block) {
        match block {
            Block::Heading(words) => {
                self.gap();
                self.bold(&words.plain());
            }
            Block::Paragraph { level, words } => self.paragraph(2 * level, &words.plain()),
            Block::Caution(words) => {
                self.gap();
                self.paragraph(0, &format!("Caution: {}", words.plain()));
            }
            Block::Equation { lines, source } => {
                for (place, line) in lines.iter().enumerate() {
                    self.paragraph(if place == 0 { 0 } else { 2 }, &line.plain());
                }
                self.paragraph(4, &source.plain());
            }
            Block::Table(table) => {
                table.head.iter().for_each(|cells| self.line(&row(&table.columns, cells)));
                table.rows.iter().for_each(|row| self.line(&table_row(table, row)));
            }
            Block::Ledger(tables) => self.ledger(tables),
            Block::Gap => self.gap(),
        }
    }

    /// Words wrapped at the page's width, every line after the indent.
    fn paragraph(&mut self, indent: usize, words: &str) {
        let words = together(words);
        // Before the lines are cut: a `deg` is longer than its sign.
        let words = if self.style.ascii { ascii(&words) } else { words };
        let indent = " ".repeat(indent);
        let mut line = indent.clone();
        for word in words.split([' ', '\n']).filter(|word| !word.is_empty()) {
            let is_empty = line.len() == indent.len();
            if !is_empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
                self.line(&line.replace(TOGETHER, " "));
                line = format!("{indent}{word}");
            } else {
                if !is_empty {
                    line.push(' ');
                }
                line.push_str(word);
            }
        }
        self.line(&line.replace(TOGETHER, " "));
    }

    /// Both tables line by line, the heads bold like a heading.
    fn ledger(&mut self, tables: &[Table; 2]) {
        let [left, right] = tables;
        let width = left.columns.iter().map(|column| column.gap + column.width).sum::<usize>();
        let beside = |left: String, right: String| {
            let missing = width.saturating_sub(left.chars().count());
            format!("{left}{}{right}", " ".repeat(missing))
        };
        self.gap();
        for place in 0..left.head.len().max(right.head.len()) {
            let head = |table: &Table| {
                table.head.get(place).map_or(String::new(), |cells| row(&table.columns, cells))
            };
            self.bold(&beside(head(left), head(right)));
        }
        for place in 0..left.rows.len().max(right.rows.len()) {
            let line = |table: &Table| {
                table.rows.get(place).map_or(String::new(), |row| table_row(table, row))
            };
            self.line(&beside(line(left), line(right)));
        }
    }
}

fn table_row(table: &Table, line: &Row) -> String {
    match line {
        Row::Cells(cells) => row(&table.columns, cells),
        Row::Rule(width) => {
            let gap = table.columns.first().map_or(0, |column| column.gap);
            format!("{}{}", " ".repeat(gap), "-".repeat(*width))
        }
    }
}

fn row(columns: &[Column], cells: &[Words]) -> String {
    let mut line = String::new();
    for (column, cell) in columns.iter().zip(cells) {
        let cell = cell.plain();
        line.push_str(&" ".repeat(column.gap));
        let width = column.width;
        line.push_str(&match column.side {
            Side::Left => format!("{cell:<width$}"),
            Side::Right => format!("{cell:>width$}"),
        });
    }
    line
}

/// A blank at which no line ends.
const TOGETHER: &str = "\u{a0}";

/// `%`, `°C` and `°F` in one with their numbers.
pub(super) fn together(words: &str) -> String {
    words.replace(" %", &format!("{TOGETHER}%")).replace(" °", &format!("{TOGETHER}°"))
}

/// A line of a heading with its end.
pub fn heading(line: &str, bold: bool) -> String {
    let line = line.trim_end();
    if bold { format!("\x1b[1m{line}\x1b[0m\n") } else { format!("{line}\n") }
}

/// Text for terminals that print nothing but ASCII.
pub fn ascii(text: &str) -> String {
    text.replace('±', "+-")
        .replace('°', "deg")
        .replace('µ', "u")
        .replace('³', "3")
        .replace('…', ".")
        .replace('\u{fffd}', "?")
        .replace('ö', "oe")
        .replace('ä', "ae")
}

#[cfg(test)]
mod tests {
    use super::super::{Page, constant, number, words};
    use super::*;

    fn page() -> Page {
        let mut page = Page::new("Tower", "Water balance", "a.toml");
        let mut table = Table::new([Column::left(6), Column::right(6), Column::left(0).after(1)]);
        table.head(["", "m3/h", ""]);
        table.row([words!["makeup"], words![number("makeup", "3.0")], words!["± 0.1"]]);
        page.answer = vec![Block::heading("ANSWER"), Block::Table(table)];
        page.detail = vec![
            Block::paragraph(words!["± is ", constant("k = 2"), ". ".repeat(40).as_str()]),
            Block::Caution("hot.".into()),
        ];
        page
    }

    #[test]
    fn a_page_is_laid_out_in_lines() {
        let text = text(&page(), Style::default());
        let (head, rest) = text.split_once("\n\n").unwrap();
        assert!(head.starts_with("Tower\nWater balance from a.toml, coldbasin "), "{head}");
        assert!(
            rest.starts_with("ANSWER\n        m3/h\nmakeup   3.0 ± 0.1\n± is k = 2. . ."),
            "{rest}"
        );
        assert!(rest.ends_with(". .\n\nCaution: hot.\n"), "{rest}");
        assert!(text.lines().all(|line| line.chars().count() <= WIDTH));
    }

    #[test]
    fn the_answer_alone_leaves_the_detail_out() {
        let style = Style { depth: Depth::Answer, ..Style::default() };
        assert!(!text(&page(), style).contains("Caution"));
    }

    #[test]
    fn ascii_lines_fit_the_page() {
        let mut page = page();
        page.answer = vec![Block::paragraph(words!["at 20.0 °C ± 0.1 K ".repeat(20).as_str()])];
        let text = text(&page, Style { ascii: true, ..Style::default() });
        assert!(text.is_ascii() && text.contains("degC +- 0.1"), "{text}");
        assert!(text.lines().all(|line| line.len() <= WIDTH), "{text}");
    }

    #[test]
    fn a_ledger_stands_side_by_side() {
        let columns = |gap| [Column::left(8).after(gap), Column::right(4)];
        let mut tables = [Table::new(columns(0)), Table::new(columns(3))];
        for (table, name) in tables.iter_mut().zip(["IN", "OUT"]) {
            table.head([name, "m3"]);
            table.row(["main", "3"]);
            table.rows.push(Row::Rule(12));
        }
        tables[1].row(["sum", "3"]);
        let mut page = Page::new("", "x", "y");
        page.answer.push(Block::Ledger(Box::new(tables)));
        let text = text(&page, Style::default());
        let (_, ledger) = text.split_once("\n\n").unwrap();
        assert_eq!(
            ledger,
            "IN        m3   OUT       m3\nmain       3   main       3\n\
             ------------   ------------\n               sum        3\n"
        );
    }
}
