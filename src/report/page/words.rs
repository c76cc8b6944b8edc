//! Words and numbers in a row.

use crate::printable::printable;

/// Words and numbers in a row.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Words(Vec<Piece>);

/// A piece of a sentence or of a cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Piece {
    /// Words of this program.
    Words(String),
    /// Words from outside: names, cells, paths, sources. Control characters are shown, not obeyed.
    Given(String),
    /// A number that was computed or read.
    Number {
        /// Where the json has it: names joined by dots, lists passed over.
        key: &'static str,
        /// As shown, with its ± and its unit where the words do not give them.
        shown: String,
    },
    /// A number that is the same for every site: k, 95 %, a constant of a formula, an assumed default.
    Constant(String),
}

/// A number that was computed or read, with its key in the json.
pub(crate) fn number(key: &'static str, shown: impl Into<String>) -> Piece {
    Piece::Number { key, shown: shown.into() }
}

/// A number that is the same for every site.
pub(crate) fn constant(shown: impl Into<String>) -> Piece {
    Piece::Constant(shown.into())
}

/// Puts words, numbers and other rows of them in a row: `words!["Hold ", number(...), " cycles."]`.
macro_rules! words {
    ($($piece:expr),* $(,)?) => {{
        #[allow(unused_mut)]
        let mut words = $crate::report::page::Words::default();
        $( words.push($piece); )*
        words
    }};
}
pub(crate) use words;

impl Words {
    /// Words from outside.
    pub(crate) fn given(text: &str) -> Self {
        Self(vec![Piece::Given(printable(text).into_owned())])
    }

    /// Adds to the end.
    pub(crate) fn push(&mut self, more: impl Into<Words>) {
        self.0.extend(more.into().0);
    }

    /// The pieces, in order.
    pub fn pieces(&self) -> impl Iterator<Item = &Piece> {
        self.0.iter()
    }

    /// Whether nothing is said.
    pub fn is_empty(&self) -> bool {
        self.0.iter().all(|piece| piece.shown().is_empty())
    }

    /// All of it as one text.
    pub fn plain(&self) -> String {
        self.0.iter().map(Piece::shown).collect()
    }

    /// Rows of words with something between them.
    pub(crate) fn joined<W: Into<Words>>(
        parts: impl IntoIterator<Item = W>,
        between: &str,
    ) -> Self {
        let mut words = Self::default();
        for (place, part) in parts.into_iter().enumerate() {
            if place > 0 {
                words.push(between);
            }
            words.push(part);
        }
        words
    }
}

impl Piece {
    /// As it is read.
    pub fn shown(&self) -> &str {
        match self {
            Self::Words(shown)
            | Self::Given(shown)
            | Self::Number { shown, .. }
            | Self::Constant(shown) => shown,
        }
    }
}

impl From<&str> for Words {
    fn from(text: &str) -> Self {
        Self(vec![Piece::Words(printable(text).into_owned())])
    }
}

impl From<String> for Words {
    fn from(text: String) -> Self {
        Self::from(text.as_str())
    }
}

impl From<&String> for Words {
    fn from(text: &String) -> Self {
        Self::from(text.as_str())
    }
}

impl From<Piece> for Words {
    fn from(piece: Piece) -> Self {
        Self(vec![piece])
    }
}

/// Nothing where there is nothing.
impl<W: Into<Words>> From<Option<W>> for Words {
    fn from(words: Option<W>) -> Self {
        words.map(Into::into).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_keep_their_order_and_keys() {
        let words =
            words!["Hold ", number("target_cycles", "3.30"), " cycles", Some("."), None::<&str>];
        assert_eq!(words.plain(), "Hold 3.30 cycles.");
        let keys: Vec<_> = words
            .pieces()
            .filter_map(|piece| match piece {
                Piece::Number { key, .. } => Some(*key),
                _ => None,
            })
            .collect();
        assert_eq!(keys, ["target_cycles"]);
    }

    #[test]
    fn control_characters_are_shown() {
        let words = Words::given("a\u{1b}[2Jb\u{202e}c\u{9b}d");
        assert_eq!(words.plain(), "a\u{fffd}[2Jb\u{fffd}c\u{fffd}d");
    }
}
