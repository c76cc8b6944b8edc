//! A page is a value: what a command says, in blocks, before anybody decides how it looks.
//!
//! A command makes one [`Page`] of its sheet, for the units that people asked for. [`text()`] lays it out
//! for a terminal, `html` for a browser; neither computes anything. The blocks that a person acts
//! on stand in [`Page::answer`], all the rest in [`Page::detail`].
//!
//! Every number is a piece of its own and carries the key under which the json has it.

#[cfg(feature = "picture")]
mod html;
mod text;
mod words;

#[cfg(feature = "picture")]
pub use html::{Html, html};
pub use text::{Depth, Style, ascii, heading, text};
pub use words::{Piece, Words};
pub(crate) use words::{constant, number, words};

#[cfg(feature = "files")]
use crate::equation::Equation;
#[cfg(feature = "files")]
use crate::quantity::significant;

/// What a command says.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Page {
    /// Whose page it is: the site, or the file that describes it.
    pub name: Words,
    /// What it shows, and of which files.
    pub of: Words,
    /// What a person acts on.
    pub answer: Vec<Block>,
    /// All the rest.
    pub detail: Vec<Block>,
}

/// A piece of a page.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// The head of what follows.
    Heading(Words),
    /// A paragraph.
    Paragraph {
        /// How far in it stands: 0, 1 or 2.
        level: usize,
        /// What it says.
        words: Words,
    },
    /// What may hurt somebody; `Caution:` is written before it.
    Caution(Words),
    /// An equation in its general form, with its numbers, and where it is published.
    Equation {
        /// The general form, then its numbers, then what they come to.
        lines: Vec<Words>,
        /// Author, year, equation number.
        source: Words,
    },
    /// Rows under declared columns.
    Table(Table),
    /// Two tables beside each other, their heads as heading.
    Ledger(Box<[Table; 2]>),
    /// An empty line on paper; nothing in a browser, which has its own distances.
    Gap,
}

/// Rows under declared columns.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Table {
    /// From left to right.
    pub columns: Vec<Column>,
    /// What stands over the columns, in lines; a word that ends in `-` goes on in the next.
    pub head: Vec<Vec<Words>>,
    /// From top to bottom.
    pub rows: Vec<Row>,
}

/// A column of a table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// Blanks before it.
    pub gap: usize,
    /// Characters that it takes at least.
    pub width: usize,
    /// Where its cells stand.
    pub side: Side,
}

/// Where a cell stands in its column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// A row of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Row {
    /// A cell for each column; the last ones may be missing.
    Cells(Vec<Words>),
    /// A line of so many characters over a sum.
    Rule(usize),
}

impl Page {
    /// A page without blocks. `name` is that of the site; where it is empty, `source` names the page.
    pub(crate) fn new(name: &str, what: &str, source: &str) -> Self {
        let name = if name.is_empty() { source } else { name };
        let version = constant(env!("CARGO_PKG_VERSION"));
        Self {
            name: Words::given(name),
            of: words![what, " from ", Words::given(source), ", coldbasin ", version],
            ..Self::default()
        }
    }

    /// Every block, the answer first.
    pub fn blocks(&self) -> impl Iterator<Item = &Block> {
        self.answer.iter().chain(&self.detail)
    }

    /// Every number that is shown, with its key: equations apart, whose numbers are on their way.
    pub fn pieces(&self) -> impl Iterator<Item = &Piece> {
        self.name.pieces().chain(self.of.pieces()).chain(self.blocks().flat_map(Block::pieces))
    }
}

impl Block {
    /// A heading.
    pub(crate) fn heading(words: impl Into<Words>) -> Self {
        Self::Heading(words.into())
    }

    /// A paragraph at the left.
    pub(crate) fn paragraph(words: impl Into<Words>) -> Self {
        Self::Paragraph { level: 0, words: words.into() }
    }

    /// A paragraph that belongs to the one before.
    pub(crate) fn indented(words: impl Into<Words>) -> Self {
        Self::Paragraph { level: 1, words: words.into() }
    }

    /// An equation with the numbers in the places of its names, to the nine digits that make the five of
    /// the result come out; nothing where a name has no number.
    #[cfg(feature = "files")]
    pub(crate) fn evaluated(
        formula: &Equation,
        number: impl Fn(&str) -> Option<f64>,
        (result, unit): (f64, &str),
    ) -> Option<Self> {
        let filled = formula.with_numbers(|name| Some(significant(number(name)?, 9)))?;
        let result = format!("= {} {unit}", significant(result, 5));
        let lines = [formula.text.into(), format!("= {filled}").into(), result.into()];
        Some(Self::Equation { lines: lines.into(), source: formula.source.into() })
    }

    fn pieces(&self) -> Vec<&Piece> {
        fn of_table(table: &Table) -> impl Iterator<Item = &Words> {
            let rows = table.rows.iter().filter_map(|row| match row {
                Row::Cells(cells) => Some(cells),
                Row::Rule(_) => None,
            });
            table.head.iter().chain(rows).flatten()
        }
        match self {
            Self::Heading(words) | Self::Paragraph { words, .. } | Self::Caution(words) => {
                words.pieces().collect()
            }
            Self::Table(table) => of_table(table).flat_map(Words::pieces).collect(),
            Self::Ledger(tables) => {
                tables.iter().flat_map(of_table).flat_map(Words::pieces).collect()
            }
            Self::Equation { .. } | Self::Gap => Vec::new(),
        }
    }
}

impl Table {
    /// A table of these columns.
    pub(crate) fn new(columns: impl Into<Vec<Column>>) -> Self {
        Self { columns: columns.into(), ..Self::default() }
    }

    /// Adds a line to the head.
    pub(crate) fn head<W: Into<Words>>(&mut self, cells: impl IntoIterator<Item = W>) {
        self.head.push(cells.into_iter().map(Into::into).collect());
    }

    /// Adds a row.
    pub(crate) fn row<W: Into<Words>>(&mut self, cells: impl IntoIterator<Item = W>) {
        self.rows.push(Row::Cells(cells.into_iter().map(Into::into).collect()));
    }
}

impl Column {
    /// Words at the left.
    pub(crate) const fn left(width: usize) -> Self {
        Self { gap: 0, width, side: Side::Left }
    }

    /// Numbers at the right.
    pub(crate) const fn right(width: usize) -> Self {
        Self { gap: 0, width, side: Side::Right }
    }

    /// The column with blanks before it.
    pub(crate) const fn after(self, gap: usize) -> Self {
        Self { gap, ..self }
    }
}
