//! A flow diagram: what comes in on the left, what goes out on the right, each as wide as it is large.

use super::colour::{INK, SOFT, hex};
use super::frame::{Anchor, Frame, LINE, SMALL, TEXT, clipped, text, text_width};
use plotters::style::RGBColor;
use std::fmt::Write as _;

/// All that comes in is so high, px.
const WHOLE: f64 = 170.0;
/// A stream with its two lines of text needs so much.
const PITCH: f64 = 2.0 * LINE + 4.0;
/// Between two streams outside.
const BETWEEN: f64 = 4.0;
/// A stream thinner than this is drawn as a line of this width.
const THINNEST: f64 = 1.0;

/// A stream of the diagram.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Strand {
    pub name: String,
    /// How much it is, in words.
    pub amount: String,
    /// How much it is, in the unit of all.
    pub size: f64,
    pub colour: RGBColor,
}

/// A diagram; what comes in is as much as what goes out.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Flow {
    pub comes_in: Vec<Strand>,
    pub goes_out: Vec<Strand>,
}

/// One side's streams: where they begin at the middle, where they end outside, and how high they are.
struct Placed<'a> {
    strand: &'a Strand,
    inside: f64,
    outside: f64,
    high: f64,
}

/// Places streams: side by side at the middle, with room for their words outside.
fn placed(strands: &[Strand], scale: f64) -> (Vec<Placed<'_>>, f64) {
    let (mut inside, mut outside) = (0.0, 0.0);
    let mut placed = Vec::new();
    for strand in strands {
        let high = scale * strand.size;
        let room = high.max(PITCH);
        placed.push(Placed { strand, inside, outside: outside + 0.5 * (room - high), high });
        inside += high;
        outside += room + BETWEEN;
    }
    (placed, (outside - BETWEEN).max(0.0))
}

/// Whether a stream is too thin for the scale.
pub(super) fn is_thin(flow: &Flow) -> bool {
    let scale = scale(flow);
    flow.goes_out.iter().chain(&flow.comes_in).any(|strand| scale * strand.size < THINNEST)
}

/// Px for a unit.
fn scale(flow: &Flow) -> f64 {
    let total: f64 = flow.comes_in.iter().map(|strand| strand.size).sum();
    if total > 0.0 { WHOLE / total } else { 0.0 }
}

impl Flow {
    /// Draws the diagram into a width; its SVG and its height.
    pub fn draw(&self, width: f64) -> (String, f64) {
        let scale = scale(self);
        let (left, left_high) = placed(&self.comes_in, scale);
        let (right, right_high) = placed(&self.goes_out, scale);
        let high = left_high.max(right_high).max(WHOLE);
        let words = |strands: &[Strand], most: f64| {
            let width = |strand: &Strand| {
                text_width(&strand.name, TEXT).max(text_width(&strand.amount, SMALL))
            };
            strands.iter().map(width).fold(0.0, f64::max).min(most)
        };
        let left_words = words(&self.comes_in, 0.3 * width);
        let right_words = words(&self.goes_out, 0.4 * width);
        let (from, to) = (left_words + 8.0, width - right_words - 8.0);
        let middle = from + 0.42 * (to - from);
        let begin = 0.5 * (high - WHOLE);
        let mut svg = String::new();
        let left_begin = 0.5 * (high - left_high);
        let right_begin = 0.5 * (high - right_high);
        for part in &left {
            let (outside, inside) = (left_begin + part.outside, begin + part.inside);
            ribbon(&mut svg, [from, middle, outside, inside], part);
            self::words(&mut svg, (0.0, outside + 0.5 * part.high), part.strand, left_words);
        }
        for part in &right {
            let (outside, inside) = (right_begin + part.outside, begin + part.inside);
            ribbon(&mut svg, [middle, to, inside, outside], part);
            self::words(&mut svg, (to + 8.0, outside + 0.5 * part.high), part.strand, right_words);
        }
        let (ink, x) = (hex(INK), middle - 1.5);
        let _ = writeln!(
            svg,
            "<rect x=\"{x:.1}\" y=\"{begin:.1}\" width=\"3\" height=\"{WHOLE}\" fill=\"{ink}\"/>"
        );
        (svg, high + 6.0)
    }
}

/// A stream from left to right, as high at one end as at the other.
fn ribbon(svg: &mut String, [from, to, start, end]: [f64; 4], part: &Placed<'_>) {
    let colour = hex(part.strand.colour);
    let half = 0.5 * (from + to);
    let high = part.high.max(THINNEST);
    let (start, end) = (start - 0.5 * (high - part.high), end - 0.5 * (high - part.high));
    let (start_low, end_low) = (start + high, end + high);
    let _ = writeln!(
        svg,
        "<path d=\"M{from:.1} {start:.2}C{half:.1} {start:.2} {half:.1} {end:.2} {to:.1} {end:.2}\
         V{end_low:.2}C{half:.1} {end_low:.2} {half:.1} {start_low:.2} {from:.1} {start_low:.2}Z\" \
         fill=\"{colour}\"/>"
    );
}

/// Name and amount beside an end whose middle is at a height.
fn words(svg: &mut String, (x, y): (f64, f64), strand: &Strand, width: f64) {
    let name = clipped(&strand.name, TEXT, width);
    text(svg, (x, y - 3.0), &name, (TEXT, INK, Anchor::Start));
    text(svg, (x, y + 11.0), &strand.amount, (SMALL, SOFT, Anchor::Start));
}

/// Diagrams with headings: beside each other on a page, one under the other on a telephone.
pub(super) fn draw_beside(frame: &mut Frame, flows: &[(&str, Flow)]) {
    const GAP: f64 = 24.0;
    if frame.width.is_phone() {
        for (heading, flow) in flows {
            frame.heading(heading);
            let (svg, high) = flow.draw(frame.inner());
            frame.part(&svg, high);
        }
        return;
    }
    let headings: Vec<&str> = flows.iter().map(|(heading, _)| *heading).collect();
    frame.section(&headings.join(", "));
    let count = flows.len() as f64;
    let width = ((frame.inner() - GAP * (count - 1.0)) / count).min(460.0);
    let mut svg = String::new();
    let mut high = 0.0f64;
    for (index, (heading, flow)) in flows.iter().enumerate() {
        let (part, part_high) = flow.draw(width);
        let x = index as f64 * (width + GAP);
        let _ = writeln!(svg, "<g transform=\"translate({x:.1} 0)\">");
        text(&mut svg, (0.0, 18.0), heading, (14.0, INK, Anchor::Start));
        let _ = writeln!(svg, "<g transform=\"translate(0 30)\">\n{part}</g>\n</g>");
        high = high.max(part_high + 30.0);
    }
    frame.part(&format!("<g transform=\"translate(0 10)\">\n{svg}</g>\n"), high + 12.0);
}

#[cfg(test)]
mod tests {
    use super::super::colour::{BLUE, SKY};
    use super::*;

    fn strand(name: &str, size: f64) -> Strand {
        Strand { name: name.into(), amount: size.to_string(), size, colour: BLUE }
    }

    #[test]
    fn widths_add_up_to_the_whole_on_both_sides() {
        let flow = Flow {
            comes_in: vec![strand("well", 6.0), strand("mains", 4.0)],
            goes_out: vec![
                strand("evaporation", 7.5),
                strand("blowdown", 2.4),
                strand("drift", 0.1),
            ],
        };
        let scale = scale(&flow);
        for side in [&flow.comes_in, &flow.goes_out] {
            let (placed, _) = placed(side, scale);
            let sum: f64 = placed.iter().map(|part| part.high).sum();
            assert!((sum - WHOLE).abs() < 1e-9);
            for pair in placed.windows(2) {
                assert!(pair[1].outside > pair[0].outside + pair[0].high);
                assert!((pair[1].inside - pair[0].inside - pair[0].high).abs() < 1e-9);
            }
        }
        assert!(!is_thin(&flow));
    }

    #[test]
    fn nothing_at_all_is_drawn_without_a_number_that_is_none() {
        let flow = Flow { comes_in: vec![strand("makeup", 0.0)], goes_out: vec![] };
        let (svg, high) = flow.draw(300.0);
        assert!(high.is_finite() && !svg.contains("NaN") && !svg.contains("inf"));
        let thin = Flow {
            comes_in: vec![strand("makeup", 1.0)],
            goes_out: vec![
                Strand { colour: SKY, ..strand("evaporation", 0.999) },
                strand("b", 0.001),
            ],
        };
        assert!(is_thin(&thin));
    }
}
