//! How deep a text nests, and where: found before anything is parsed.

/// Inline tables, lists and the dots of their keys may nest so deep: far more than a site needs,
/// and few enough for any thread's stack.
const DEEPEST: usize = 200;

/// How the brackets of a text nest.
pub(super) struct Nesting {
    /// Where inline tables and lists, with the dots of their keys, nest deeper than [`DEEPEST`].
    pub(super) too_deep: Option<usize>,
    /// The first list or inline table that is not closed.
    pub(super) open: Option<usize>,
}

/// Follows the brackets of a text.
///
/// The parser limits brackets and the parts of a key each for itself, but together they make
/// tables so deep that dropping one overflows the stack. Strings and comments are told apart as
/// the parser does it.
pub(super) fn nesting(text: &str) -> Nesting {
    let bytes = text.as_bytes();
    let mut open: Vec<(u8, usize, usize)> = Vec::new();
    let (mut outside, mut dots, mut here) = (0, 0, 0);
    let mut too_deep = None;
    while here < bytes.len() && too_deep.is_none() {
        match bytes[here] {
            b'#' => here = end_of_comment(bytes, here),
            b'"' | b'\'' => here = end_of_string(bytes, here),
            b'.' => dots += 1,
            b',' | b'\n' => dots = 0,
            bracket @ (b'[' | b'{') => {
                // In ASCII the closing brackets stand two after the opening ones.
                open.push((bracket + 2, dots, here));
                outside += dots + 1;
                dots = 0;
            }
            bracket @ (b']' | b'}') if open.last().is_some_and(|last| last.0 == bracket) => {
                dots = open.pop().map_or(0, |(_, dots, _)| dots);
                outside -= dots + 1;
            }
            b'=' | b']' | b'}' | b' ' | b'\t' | b'\r' => {}
            _ => here = end_of_word(bytes, here),
        }
        too_deep = (outside + dots > DEEPEST).then_some(here);
        here += 1;
    }
    let open = open.iter().map(|(_, _, at)| *at).find(|at| !begins_line(text, *at));
    Nesting { too_deep, open }
}

/// Whether nothing but brackets stands before a place in its line, as in a table's header.
pub(super) fn begins_line(text: &str, at: usize) -> bool {
    let before = text[..at].trim_end_matches([' ', '\t', '[']);
    before.is_empty() || before.ends_with('\n')
}

/// The last byte of a comment.
fn end_of_comment(bytes: &[u8], start: usize) -> usize {
    let length = bytes[start..].iter().position(|byte| b"\r\n".contains(byte));
    length.map_or(bytes.len(), |length| start + length - 1)
}

/// The last byte of a bare key or value. A quote within it begins no string.
fn end_of_word(bytes: &[u8], start: usize) -> usize {
    let length = (bytes[start..].iter()).position(|byte| b".=,[]{} \t#\r\n".contains(byte));
    length.map_or(bytes.len(), |length| start + length - 1)
}

/// The last byte of a string: a closing quote, or the one before the end of its line.
fn end_of_string(bytes: &[u8], start: usize) -> usize {
    let quote = bytes[start];
    let long = bytes[start..].starts_with(&[quote; 3]);
    let mut here = start + if long { 3 } else { 1 };
    while here < bytes.len() {
        match bytes[here] {
            b'\\' if quote == b'"' && matches!(bytes.get(here + 1), Some(b'"' | b'\\')) => {
                here += 1
            }
            b'\n' if !long => return here - 1,
            byte if byte == quote && !long => return here,
            byte if byte == quote && bytes[here..].starts_with(&[quote; 3]) => {
                // Up to two quotes more belong to the text.
                let more = bytes[here + 3..].iter().take(2);
                return here + 2 + more.take_while(|byte| **byte == quote).count();
            }
            _ => {}
        }
        here += 1;
    }
    bytes.len()
}
