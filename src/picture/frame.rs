//! The sheet of paper that a picture is drawn on: title, parts one under the other, notes.

use super::colour::{INK, PAPER, SOFT, hex};
use plotters::style::RGBColor;
use std::fmt::Write as _;

/// Height of a line of text of the usual size.
pub(super) const LINE: f64 = 16.0;
/// Usual size of text, px.
pub(super) const TEXT: f64 = 12.0;
/// Size of text beside the matter, px.
pub(super) const SMALL: f64 = 11.0;
/// Empty space at the sides.
pub(super) const MARGIN: f64 = 12.0;

/// How wide a picture is, px.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Width {
    /// For screens and paper.
    #[default]
    Page,
    /// For a telephone held upright.
    Phone,
}

impl Width {
    pub(super) fn px(self) -> f64 {
        match self {
            Self::Page => 760.0,
            Self::Phone => 336.0,
        }
    }

    pub(super) fn is_phone(self) -> bool {
        self == Self::Phone
    }
}

/// Text that may stand in XML: its marks escaped, control characters (which XML has no place for)
/// shown as a replacement.
pub(crate) fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            '\n' | '\t' => escaped.push(' '),
            // What turns the direction of writing would turn what stands beside it.
            '\u{fffe}' | '\u{ffff}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => {
                escaped.push('\u{fffd}');
            }
            control if control.is_control() => escaped.push('\u{fffd}'),
            other => escaped.push(other),
        }
    }
    escaped
}

/// How wide a text is, px: rather too wide, because the reader's font is not known.
pub(super) fn text_width(text: &str, size: f64) -> f64 {
    let em = |character: char| match character {
        'i' | 'j' | 'l' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' => 0.31,
        ' ' | 'f' | 't' | 'r' | 'I' | '(' | ')' | '[' | ']' | '/' | '-' => 0.38,
        'm' | 'w' | 'M' | 'W' | '%' | '@' => 0.93,
        'A'..='Z' => 0.71,
        '\u{1100}'.. => 1.05,
        _ => 0.58,
    };
    size * text.chars().map(em).sum::<f64>()
}

/// Text in lines no wider than so many px; a word that is longer is cut.
pub(super) fn wrapped(text: &str, size: f64, width: f64) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let word = clipped(word, size, width);
        let last = lines.len() - 1;
        let line = &mut lines[last];
        if !line.is_empty() && text_width(&format!("{line} {word}"), size) > width {
            lines.push(word);
        } else {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(&word);
        }
    }
    lines
}

/// Text no wider than so many px.
pub(super) fn clipped(text: &str, size: f64, width: f64) -> String {
    if text_width(text, size) <= width {
        return text.into();
    }
    let mut clipped = String::new();
    for character in text.chars() {
        clipped.push(character);
        if text_width(&format!("{clipped}…"), size) > width {
            clipped.pop();
            break;
        }
    }
    format!("{clipped}…")
}

/// Where a text begins.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// A text at a place.
pub(super) fn text(
    svg: &mut String,
    (x, y): (f64, f64),
    words: &str,
    (size, colour, anchor): (f64, RGBColor, Anchor),
) {
    let anchor = match anchor {
        Anchor::Start => "",
        Anchor::Middle => " text-anchor=\"middle\"",
        Anchor::End => " text-anchor=\"end\"",
    };
    let (fill, words) = (hex(colour), escaped(words));
    let _ = writeln!(
        svg,
        "<text x=\"{x:.1}\" y=\"{y:.1}\" font-size=\"{size}\" fill=\"{fill}\"{anchor}>{words}</text>"
    );
}

/// A picture in the making.
pub(super) struct Frame {
    pub width: Width,
    title: String,
    described: Vec<String>,
    body: String,
    /// Where the next part begins.
    y: f64,
}

impl Frame {
    /// Begins a picture with its title and what it was made from.
    pub fn new(title: &str, source: &str, width: Width) -> Self {
        let mut frame = Self {
            width,
            title: title.into(),
            described: Vec::new(),
            body: String::new(),
            y: 10.0,
        };
        frame.lines(title, (16.0, INK));
        frame.y += 2.0;
        frame.lines(source, (SMALL, SOFT));
        frame.described.clear();
        frame.described.push(source.into());
        frame
    }

    /// Width between the margins.
    pub fn inner(&self) -> f64 {
        self.width.px() - 2.0 * MARGIN
    }

    fn lines(&mut self, words: &str, (size, colour): (f64, RGBColor)) {
        for line in wrapped(words, size, self.inner()) {
            self.y += 1.25 * size;
            text(&mut self.body, (MARGIN, self.y), &line, (size, colour, Anchor::Start));
        }
    }

    /// A heading over a part.
    pub fn heading(&mut self, words: &str) {
        self.y += 16.0;
        self.lines(words, (14.0, INK));
        self.y += 4.0;
    }

    /// A sentence under a part.
    pub fn note(&mut self, words: &str) {
        self.y += 5.0;
        self.lines(words, (SMALL, SOFT));
    }

    /// Says in words what is drawn, for those who cannot see it.
    pub fn describe(&mut self, words: &str) {
        self.described.push(words.into());
    }

    /// A part of the given height at the left margin; its own origin is its top left corner.
    pub fn part(&mut self, part: &str, height: f64) {
        self.part_at(part, (MARGIN, height));
    }

    fn part_at(&mut self, part: &str, (x, height): (f64, f64)) {
        let _ = writeln!(self.body, "<g transform=\"translate({x} {:.1})\">", self.y);
        self.body.push_str(part);
        self.body.push_str("</g>\n");
        self.y += height;
    }

    /// The whole picture as an SVG document.
    pub fn finish(self) -> String {
        let (width, height) = (self.width.px(), (self.y + 10.0).ceil());
        let (title, description) = (escaped(&self.title), escaped(&self.described.join(" ")));
        let paper = hex(PAPER);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {width} {height}\" role=\"img\" font-family=\"sans-serif\">\n\
             <title>{title}</title>\n<desc>{description}</desc>\n\
             <rect width=\"{width}\" height=\"{height}\" fill=\"{paper}\"/>\n{}</svg>\n",
            self.body
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_users_write_is_escaped() {
        assert_eq!(escaped("<b>&\"'\u{1b}\n"), "&lt;b&gt;&amp;&quot;&#39;\u{fffd} ");
        let svg = Frame::new("<script>", "a & b", Width::Page).finish();
        assert!(svg.contains("<title>&lt;script&gt;</title>") && !svg.contains("<script"));
        assert!(svg.contains("<desc>a &amp; b</desc>"));
    }

    #[test]
    fn text_is_wrapped_and_cut_to_its_width() {
        let lines = wrapped("one two three Donaudampfschifffahrtsgesellschaft", 12.0, 90.0);
        assert!(lines.iter().all(|line| text_width(line, 12.0) <= 90.0), "{lines:?}");
        assert!(lines[lines.len() - 1].ends_with('…'));
        assert_eq!(clipped("short", 12.0, 90.0), "short");
    }
}
