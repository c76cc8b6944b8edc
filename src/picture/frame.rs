//! The sheet of paper that a picture is drawn on: title, parts one under the other, notes.

use super::colour::{BLACK, GRID, INK, PAPER, SOFT, hex};
use crate::printable::printable_char;
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
            '\u{fffe}' | '\u{ffff}' => escaped.push('\u{fffd}'),
            other => escaped.push(printable_char(other)),
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
    };
    let (fill, words) = (hex(colour), escaped(words));
    let _ = writeln!(
        svg,
        "<text x=\"{x:.1}\" y=\"{y:.1}\" font-size=\"{size}\" fill=\"{fill}\"{anchor}>{words}</text>"
    );
}

/// A part of a picture with what it shows.
#[derive(Debug, Clone, PartialEq)]
struct Section {
    name: String,
    body: String,
    /// How far it is drawn, px from its top.
    y: f64,
}

/// A picture in the making.
pub(super) struct Frame {
    pub width: Width,
    described: Vec<String>,
    /// The first is the title.
    sections: Vec<Section>,
}

impl Frame {
    /// Begins a picture with its title and what it was made from.
    pub fn new(title: &str, source: &str, width: Width) -> Self {
        let described = vec![format!("{}.", source.trim_end_matches('.'))];
        let mut frame = Self { width, described, sections: Vec::new() };
        frame.section(title);
        frame.move_down(10.0);
        frame.lines(title, (16.0, INK));
        frame.move_down(2.0);
        frame.lines(source, (SMALL, SOFT));
        frame
    }

    /// Width between the margins.
    pub fn inner(&self) -> f64 {
        self.width.px() - 2.0 * MARGIN
    }

    /// What is drawn from here on stands by itself.
    pub fn section(&mut self, name: &str) {
        self.sections.push(Section { name: name.into(), body: String::new(), y: 0.0 });
    }

    fn last(&mut self) -> &mut Section {
        if self.sections.is_empty() {
            self.section("");
        }
        let last = self.sections.len() - 1;
        &mut self.sections[last]
    }

    fn move_down(&mut self, px: f64) {
        self.last().y += px;
    }

    fn lines(&mut self, words: &str, (size, colour): (f64, RGBColor)) {
        for line in wrapped(words, size, self.inner()) {
            let section = self.last();
            section.y += 1.25 * size;
            let at = (MARGIN, section.y);
            text(&mut section.body, at, &line, (size, colour, Anchor::Start));
        }
    }

    /// A section with a heading over it.
    pub fn heading(&mut self, words: &str) {
        self.section(words);
        self.move_down(14.0);
        self.lines(words, (14.0, INK));
        self.move_down(4.0);
    }

    /// A sentence under a part.
    pub fn note(&mut self, words: &str) {
        self.move_down(5.0);
        self.lines(words, (SMALL, SOFT));
    }

    /// Says in words what is drawn, for those who cannot see it.
    pub fn describe(&mut self, words: &str) {
        self.described.push(words.into());
    }

    /// A part of the given height at the left margin; its own origin is its top left corner.
    pub fn part(&mut self, part: &str, height: f64) {
        let section = self.last();
        let _ = writeln!(section.body, "<g transform=\"translate({MARGIN} {:.1})\">", section.y);
        section.body.push_str(part);
        section.body.push_str("</g>\n");
        section.y += height;
    }

    /// The finished picture.
    pub fn finish(self) -> Picture {
        Picture { width: self.width, described: self.described, sections: self.sections }
    }
}

/// A picture: sections one under the other.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Picture {
    width: Width,
    described: Vec<String>,
    sections: Vec<Section>,
}

/// Below the last section.
const FOOT: f64 = 10.0;

impl Picture {
    /// The whole picture as an SVG document.
    pub fn svg(&self) -> String {
        let mut body = String::new();
        let mut y = 0.0;
        for section in &self.sections {
            let _ = writeln!(body, "<g transform=\"translate(0 {y:.1})\">\n{}</g>", section.body);
            y += section.y;
        }
        let title = self.sections.first().map_or("", |section| &section.name);
        self.document(title, &self.described.join(" "), (&body, y + FOOT))
    }

    /// Each section but the title as an SVG of its own, for a page that has the title already.
    pub fn parts(&self) -> Vec<String> {
        let of = |(index, section): (usize, &Section)| {
            let description = if index == 0 { self.described.join(" ") } else { String::new() };
            self.document(&section.name, &description, (&section.body, section.y + FOOT))
        };
        self.sections.iter().skip(1).enumerate().map(of).collect()
    }

    fn document(&self, title: &str, description: &str, (body, height): (&str, f64)) -> String {
        let (width, height, paper) = (self.width.px(), height.ceil(), hex(PAPER));
        let (title, description) = (escaped(title), escaped(description));
        let description = match description.as_str() {
            "" => String::new(),
            words => format!("<desc>{words}</desc>\n"),
        };
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {width} {height}\" role=\"img\" font-family=\"sans-serif\">\n\
             <title>{title}</title>\n{description}\
             <rect width=\"{width}\" height=\"{height}\" fill=\"{paper}\"/>\n{body}</svg>\n"
        )
    }
}

/// A picture's colours but those of its series as names of the page's styles, so that it is dark where
/// the page is.
pub(crate) fn themed(svg: &str) -> String {
    let named = [
        (BLACK, "var(--ink)"),
        (INK, "var(--ink)"),
        (SOFT, "var(--soft)"),
        (GRID, "var(--grid)"),
        (PAPER, "var(--paper)"),
    ];
    named.into_iter().fold(svg.to_owned(), |svg, (colour, name)| {
        svg.replace(&format!("\"{}\"", hex(colour)), &format!("\"{name}\""))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_users_write_is_escaped() {
        assert_eq!(escaped("<b>&\"'\u{1b}\n"), "&lt;b&gt;&amp;&quot;&#39;\u{fffd} ");
        let svg = Frame::new("<script>", "a & b", Width::Page).finish().svg();
        assert!(svg.contains("<title>&lt;script&gt;</title>") && !svg.contains("<script"));
        assert!(svg.contains("<desc>a &amp; b.</desc>"));
    }

    #[test]
    fn text_is_wrapped_and_cut_to_its_width() {
        let lines = wrapped("one two three Donaudampfschifffahrtsgesellschaft", 12.0, 90.0);
        assert!(lines.iter().all(|line| text_width(line, 12.0) <= 90.0), "{lines:?}");
        assert!(lines[lines.len() - 1].ends_with('…'));
        assert_eq!(clipped("short", 12.0, 90.0), "short");
    }
}
