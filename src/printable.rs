//! Text from outside made safe to show: names, cells, headers, file names and options may hold
//! characters that a terminal or a browser obeys in place of showing them.
//!
//! Each of them becomes U+FFFD, one for one, so that columns and markers stay in their places.

use std::borrow::Cow;

/// Whether a character acts on what shows it: control characters (C0, DEL, C1), marks that turn the
/// direction of writing, ends of lines and paragraphs, and characters that nobody sees. Joiners are
/// letters' own and stay.
pub fn is_obeyed(character: char) -> bool {
    character.is_control()
        || matches!(
            character,
            '\u{61c}'
                | '\u{200b}'
                | '\u{200e}'
                | '\u{200f}'
                | '\u{2028}'..='\u{202e}'
                | '\u{2060}'..='\u{206f}'
                | '\u{feff}'
        )
}

/// The character, or what stands in its place.
pub fn printable_char(character: char) -> char {
    if is_obeyed(character) { char::REPLACEMENT_CHARACTER } else { character }
}

/// A name or a cell: nothing in it is obeyed, the end of a line as little as the rest.
pub fn printable(text: &str) -> Cow<'_, str> {
    replaced(text, is_obeyed)
}

/// Whole lines: their ends and tabulators stay, nothing else in them is obeyed.
pub fn printable_lines(text: &str) -> Cow<'_, str> {
    replaced(text, |character| !matches!(character, '\n' | '\t') && is_obeyed(character))
}

/// JSON with the characters that it leaves as they are in its escapes, so that its reader gets the text
/// as it was given and a terminal none of them. The ends of its lines stay.
pub fn printable_json(json: &str) -> Cow<'_, str> {
    let is_left = |character: char| character != '\n' && is_obeyed(character);
    if !json.contains(is_left) {
        return Cow::Borrowed(json);
    }
    let mut escaped = String::with_capacity(json.len() + 16);
    for character in json.chars() {
        if is_left(character) {
            // All of them lie in the first plane.
            escaped.push_str(&format!("\\u{:04x}", u32::from(character)));
        } else {
            escaped.push(character);
        }
    }
    Cow::Owned(escaped)
}

/// A cell of CSV: a text that a spreadsheet would take for a formula gets an apostrophe in front, which spreadsheets
/// take for "this is text" (common practice). Numbers stay, below 0 too.
pub fn printable_cell(text: &str) -> Cow<'_, str> {
    let is_formula = text.starts_with(['=', '+', '-', '@']) && text.parse::<f64>().is_err();
    if is_formula { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) }
}

fn replaced(text: &str, is_replaced: impl Fn(char) -> bool) -> Cow<'_, str> {
    if !text.contains(&is_replaced) {
        return Cow::Borrowed(text);
    }
    let shown = |character| if is_replaced(character) { '\u{fffd}' } else { character };
    Cow::Owned(text.chars().map(shown).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_is_no_formula() {
        for (given, shown) in
            [("=1+1", "'=1+1"), ("@x", "'@x"), ("-cold", "'-cold"), ("+49 1", "'+49 1")]
        {
            assert_eq!(printable_cell(given), shown);
        }
        for plain in ["-1.5", "+3e-4", "north = south", "", "-inf"] {
            assert_eq!(printable_cell(plain), plain);
        }
    }

    #[test]
    fn nothing_is_obeyed() {
        let given = "a\u{1b}[2Jb\u{7f}c\u{9b}d\u{1c}\u{1f}e\u{202e}f\u{200f}\n";
        assert_eq!(
            printable(given),
            "a\u{fffd}[2Jb\u{fffd}c\u{fffd}d\u{fffd}\u{fffd}e\u{fffd}f\u{fffd}\u{fffd}"
        );
        assert!(printable_lines(given).ends_with("f\u{fffd}\n"));
        let plain = "Düsen, 30 °C ± 1 K; 冷却塔; \u{646}\u{200c}\u{627}";
        assert!(matches!(printable(plain), Cow::Borrowed(same) if same == plain));
    }

    #[test]
    fn a_reader_of_json_gets_what_was_given() {
        let json = "{\n  \"name\": \"a\u{9b}b\u{7f}\u{202e}\"\n}";
        assert_eq!(printable_json(json), "{\n  \"name\": \"a\\u009bb\\u007f\\u202e\"\n}");
    }
}
