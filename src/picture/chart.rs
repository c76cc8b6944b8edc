//! A chart: axes, series, bands, marks, and a label at each of them.

use super::axis::Axis;
use super::colour::{
    ALWAYS_BLACK as BLACK, ALWAYS_WHITE as WHITE, GRID, INK, SOFT, dash_attribute, hex,
};
use super::frame::{Anchor, Frame, SMALL, text, text_width, wrapped};
use super::pen::{Pen, UNITS};
use plotters::chart::ChartBuilder;
use plotters::drawing::IntoDrawingArea;
use plotters::element::{Circle, PathElement, Polygon, Rectangle};
use plotters::style::{Color, RGBAColor, RGBColor, ShapeStyle, TextStyle};
use std::fmt::Write as _;

/// Height of a line of a label.
const LABEL_LINE: f64 = 13.0;
/// Length of the sample of a line before its label.
const SAMPLE: f64 = 22.0;

/// Something that is drawn in a chart.
pub(super) enum Layer {
    /// A line through points; where a value is not finite it is broken.
    Line { points: Vec<(f64, f64)>, colour: RGBColor, width: f64, label: String },
    /// Points alone, some of them hollow.
    Points { points: Vec<(f64, f64)>, colour: RGBColor, filled: bool, label: String },
    /// What lies between two values: (x, lower, upper).
    Band { points: Vec<(f64, f64, f64)>, colour: RGBColor, label: String },
    /// Boxes: (from, to, bottom, top).
    #[cfg_attr(not(feature = "files"), allow(dead_code, reason = "of years of weather only"))]
    Boxes { boxes: Vec<[f64; 4]>, colour: RGBColor, label: String },
    /// Cells of a map, the darker the larger, with their values where those fit in.
    Cells { cells: Vec<Cell> },
    /// A value on the axis to the left that holds throughout.
    Level { at: f64, colour: RGBColor, label: String },
    /// A value on the axis below, written over the chart.
    Mark { at: f64, colour: RGBColor, label: String },
}

/// A cell of a map.
pub(super) struct Cell {
    /// From, to, bottom, top.
    pub at: [f64; 4],
    /// How dark it is, from 0 to 1; `None` for a value that there is none of.
    pub part: Option<f64>,
    pub words: String,
}

/// A chart.
pub(super) struct Chart {
    pub x: Axis,
    pub y: Axis,
    pub layers: Vec<Layer>,
    /// Height of the field between the axes, px.
    pub field: f64,
}

/// A chart under its heading, with sentences below it.
pub(super) struct Panel {
    pub heading: String,
    pub chart: Chart,
    pub notes: Vec<String>,
}

impl Panel {
    /// Draws panels one under the other, their fields in line.
    pub fn draw_all(panels: &[Self], frame: &mut Frame) {
        let sides: Vec<[f64; 2]> = panels.iter().map(|panel| panel.chart.sides(frame)).collect();
        let widest = |side: usize| sides.iter().map(|sides| sides[side]).fold(0.0, f64::max);
        let [left, right] = [widest(0), widest(1)];
        for panel in panels {
            frame.heading(&panel.heading);
            panel.chart.draw(frame, [left, right]);
            panel.notes.iter().for_each(|note| frame.note(note));
        }
    }
}

/// Where everything of a chart stands.
struct Plan {
    width: f64,
    left: f64,
    right: f64,
    top: f64,
    field: f64,
}

impl Plan {
    fn field_width(&self) -> f64 {
        self.width - self.left - self.right
    }
}

/// A label with the height, px from the top of the field, that it belongs to.
struct Label<'a> {
    at: f64,
    lines: Vec<String>,
    layer: &'a Layer,
}

/// What a mark says, in a row counted upwards from the field.
struct PlacedMark<'a> {
    row: usize,
    from: f64,
    x: f64,
    label: &'a str,
    colour: RGBColor,
}

impl PlacedMark<'_> {
    fn draw(&self, svg: &mut String, plan: &Plan) {
        let y = plan.top - LABEL_LINE * self.row as f64 - 4.0;
        let (x, begin, end) = (self.x, y - 9.0, plan.top + plan.field);
        let (hex, dashes) = (hex(self.colour), dash_attribute(self.colour));
        let _ = writeln!(
            svg,
            "<line x1=\"{x:.1}\" y1=\"{begin:.1}\" x2=\"{x:.1}\" y2=\"{end:.1}\" stroke=\"{hex}\" \
             stroke-width=\"1.3\"{dashes}/>"
        );
        text(svg, (self.from, y), self.label, (SMALL, INK, Anchor::Start));
    }
}

impl Layer {
    fn label(&self) -> &str {
        match self {
            Self::Line { label, .. }
            | Self::Points { label, .. }
            | Self::Band { label, .. }
            | Self::Boxes { label, .. }
            | Self::Level { label, .. }
            | Self::Mark { label, .. } => label,
            Self::Cells { .. } => "",
        }
    }

    /// The value that its label stands beside: the last one inside the chart.
    fn last(&self, chart: &Chart) -> Option<f64> {
        let within = |x: f64, y: f64| {
            let inside = (chart.y.from..=chart.y.to).contains(&y);
            (inside && (chart.x.from..=chart.x.to).contains(&x)).then_some(y)
        };
        match self {
            Self::Line { points, .. } | Self::Points { points, .. } => {
                points.iter().rev().find_map(|(x, y)| within(*x, *y))
            }
            Self::Band { points, .. } => {
                points.iter().rev().find_map(|(x, lower, upper)| within(*x, 0.5 * (lower + upper)))
            }
            Self::Boxes { boxes, .. } => boxes.iter().rev().find_map(|[from, to, bottom, top]| {
                within(0.5 * (from + to), 0.5 * (bottom + top))
            }),
            Self::Level { at, .. } => within(chart.x.from, *at),
            Self::Mark { .. } | Self::Cells { .. } => None,
        }
    }
}

impl Chart {
    fn labelled(&self) -> Vec<&Layer> {
        let is_labelled =
            |layer: &&Layer| !layer.label().is_empty() && !matches!(layer, Layer::Mark { .. });
        self.layers.iter().filter(is_labelled).collect()
    }

    /// Room that ticks and labels want at the left and at the right of the field, px.
    fn sides(&self, frame: &Frame) -> [f64; 2] {
        const MOST_OF_WIDTH: f64 = 0.3;
        let labels = self
            .labelled()
            .iter()
            .map(|layer| text_width(layer.label(), SMALL) + SAMPLE + 16.0)
            .fold(10.0, f64::max);
        let labels = if frame.width.is_phone() { 10.0 } else { labels };
        // The last tick's words stand half beside the field.
        let over = self.x.ticks.last().map_or(0.0, |(_, words)| 0.5 * text_width(words, SMALL));
        [self.y.tick_width(SMALL) + 10.0, labels.min(MOST_OF_WIDTH * frame.inner()).max(over)]
    }

    /// Draws the chart under what stands in the frame already.
    fn draw(&self, frame: &mut Frame, [left, right]: [f64; 2]) {
        let mut svg = String::new();
        let labelled = self.labelled();
        let mut top = if self.y.name.is_empty() { 6.0 } else { 23.0 };
        text(&mut svg, (0.0, 11.0), &self.y.name, (SMALL, SOFT, Anchor::Start));
        let plan = Plan { width: frame.inner(), left, right, top, field: self.field };
        let marks = self.marks(&plan);
        top += LABEL_LINE * marks.iter().map(|mark| mark.row + 1).max().unwrap_or(0) as f64;
        let plan = Plan { top, ..plan };
        let _ = self.field(&mut svg, &plan);
        marks.iter().for_each(|mark| mark.draw(&mut svg, &plan));
        self.words_in_cells(&mut svg, &plan);
        let middle = plan.left + 0.5 * plan.field_width();
        let mut bottom = plan.top + plan.field + 20.0;
        if !self.x.name.is_empty() {
            bottom += 13.0;
            text(&mut svg, (middle, bottom), &self.x.name, (SMALL, SOFT, Anchor::Middle));
        }
        if frame.width.is_phone() {
            bottom = labels_below(&mut svg, (plan.width, bottom + 6.0), &labelled);
        } else {
            bottom = bottom.max(self.labels_beside(&mut svg, &plan, &labelled));
        }
        frame.part(&svg, bottom);
    }

    fn px_x(&self, plan: &Plan, x: f64) -> f64 {
        plan.left + (x - self.x.from) / (self.x.to - self.x.from) * plan.field_width()
    }

    fn px_y(&self, plan: &Plan, y: f64) -> f64 {
        plan.top + (self.y.to - y) / (self.y.to - self.y.from) * plan.field
    }

    /// Places what marks say over the field: each in a row above those of all marks that its words
    /// would meet, so that no line crosses words.
    fn marks(&self, plan: &Plan) -> Vec<PlacedMark<'_>> {
        let mut placed: Vec<PlacedMark> = Vec::new();
        let mut marks: Vec<(f64, &str, RGBColor)> = self
            .layers
            .iter()
            .filter_map(|layer| match layer {
                Layer::Mark { at, label, colour } => Some((*at, label.as_str(), *colour)),
                _ => None,
            })
            .filter(|(at, ..)| (self.x.from..=self.x.to).contains(at))
            .collect();
        marks.sort_by(|a, b| b.0.total_cmp(&a.0));
        for (at, label, colour) in marks {
            let x = self.px_x(plan, at);
            let wide = text_width(label, SMALL);
            let from = (x + 3.0).min(plan.width - wide).max(0.0);
            let met = placed.iter().filter(|other| other.from.min(other.x) < from + wide + 4.0);
            let row = met.map(|other| other.row + 1).max().unwrap_or(0);
            placed.push(PlacedMark { row, from, x, label, colour });
        }
        placed
    }

    /// Values of a map, where they fit into their cells.
    fn words_in_cells(&self, svg: &mut String, plan: &Plan) {
        let cells = self.layers.iter().filter_map(|layer| match layer {
            Layer::Cells { cells } => Some(cells),
            _ => None,
        });
        for cell in cells.flatten() {
            let [from, to, bottom, top] = cell.at;
            let (left, right) = (self.px_x(plan, from), self.px_x(plan, to));
            let (low, high) = (self.px_y(plan, bottom), self.px_y(plan, top));
            let fits = text_width(&cell.words, SMALL) + 4.0 < right - left && low - high > 13.0;
            if fits {
                let colour = match cell.part {
                    None => INK,
                    Some(part) if part > 0.5 => WHITE,
                    Some(_) => BLACK,
                };
                let at = (0.5 * (left + right), 0.5 * (low + high) + 4.0);
                text(svg, at, &cell.words, (SMALL, colour, Anchor::Middle));
            }
        }
    }

    /// Axes and series, by the chart library.
    fn field(&self, svg: &mut String, plan: &Plan) -> Result<(), Box<dyn std::error::Error>> {
        const BELOW: f64 = 20.0;
        let units = |px: f64| (px * UNITS).round() as u32;
        let height = plan.top + plan.field + BELOW;
        let pen = Pen { svg, size: (units(plan.width), units(height)) };
        let area = pen.into_drawing_area();
        let mut chart = ChartBuilder::on(&area)
            .margin_top(units(plan.top))
            .margin_right(units(plan.right))
            .x_label_area_size(units(BELOW))
            .y_label_area_size(units(plan.left))
            .build_cartesian_2d(self.x.clone(), self.y.clone())?;
        let words = TextStyle::from(("sans-serif", SMALL * UNITS)).color(&INK);
        let thin = |colour: RGBColor| ShapeStyle::from(&colour).stroke_width(units(1.0));
        chart
            .configure_mesh()
            .max_light_lines(0)
            .light_line_style(RGBAColor(0, 0, 0, 0.0))
            .bold_line_style(thin(GRID))
            .axis_style(thin(INK))
            .set_all_tick_mark_size(units(4.0))
            .x_label_style(words.clone())
            .y_label_style(words)
            .draw()?;
        for layer in &self.layers {
            match layer {
                Layer::Line { points, colour, width, .. } => {
                    let style = ShapeStyle::from(colour).stroke_width(units(*width));
                    let pieces = self.pieces(points);
                    chart.draw_series(
                        pieces.into_iter().map(|piece| PathElement::new(piece, style)),
                    )?;
                }
                Layer::Points { points, colour, filled, .. } => {
                    let mut style = ShapeStyle::from(colour).stroke_width(units(1.2));
                    style.filled = *filled;
                    let inside = points.iter().filter(|point| self.is_inside(**point));
                    // Many points are small ones, so that they do not hide what they show.
                    let radius = units(if points.len() > MANY { 1.2 } else { 2.2 });
                    chart.draw_series(inside.map(|at| Circle::new(*at, radius, style)))?;
                }
                Layer::Band { points, colour, .. } => {
                    let style = colour.mix(BAND).filled();
                    let pieces = self.band_pieces(points);
                    chart
                        .draw_series(pieces.into_iter().map(|piece| Polygon::new(piece, style)))?;
                }
                Layer::Boxes { boxes, colour, .. } => {
                    let style = colour.filled();
                    chart.draw_series(boxes.iter().map(|[from, to, bottom, top]| {
                        Rectangle::new([(*from, *top), (*to, *bottom)], style)
                    }))?;
                }
                Layer::Level { at, colour, .. } => {
                    let style = ShapeStyle::from(colour).stroke_width(units(1.3));
                    let ends = vec![(self.x.from, *at), (self.x.to, *at)];
                    if self.is_inside(ends[0]) {
                        chart.draw_series([PathElement::new(ends, style)])?;
                    }
                }
                Layer::Cells { cells } => {
                    chart.draw_series(cells.iter().map(|cell| {
                        let [from, to, bottom, top] = cell.at;
                        Rectangle::new([(from, top), (to, bottom)], shade(cell.part).filled())
                    }))?;
                }
                // Drawn with its words.
                Layer::Mark { .. } => {}
            }
        }
        area.present()?;
        Ok(())
    }

    fn is_inside(&self, (x, y): (f64, f64)) -> bool {
        (self.x.from..=self.x.to).contains(&x) && (self.y.from..=self.y.to).contains(&y)
    }

    /// A line without what is not finite or outside the field; cut where it leaves.
    fn pieces(&self, points: &[(f64, f64)]) -> Vec<Vec<(f64, f64)>> {
        let mut pieces: Vec<Vec<(f64, f64)>> = Vec::new();
        let mut piece: Vec<(f64, f64)> = Vec::new();
        for pair in points.windows(2) {
            let [a, b] = [pair[0], pair[1]];
            match self.visible(a, b) {
                Some((from, to)) => {
                    if piece.last() != Some(&from) {
                        pieces.extend(Some(std::mem::take(&mut piece)).filter(|p| p.len() > 1));
                        piece.push(from);
                    }
                    piece.push(to);
                }
                None => pieces.extend(Some(std::mem::take(&mut piece)).filter(|p| p.len() > 1)),
            }
        }
        pieces.extend(Some(piece).filter(|p| p.len() > 1));
        pieces
    }

    /// The part of a straight line that lies between the ends of the axis to the left.
    fn visible(&self, a: (f64, f64), b: (f64, f64)) -> Option<((f64, f64), (f64, f64))> {
        if ![a.0, a.1, b.0, b.1].iter().all(|value| value.is_finite()) {
            return None;
        }
        let at = |part: f64| (a.0 + part * (b.0 - a.0), a.1 + part * (b.1 - a.1));
        let (mut from, mut to) = (0.0, 1.0);
        for (start, end, least, most) in
            [(a.0, b.0, self.x.from, self.x.to), (a.1, b.1, self.y.from, self.y.to)]
        {
            let step = end - start;
            if step == 0.0 {
                if !(least..=most).contains(&start) {
                    return None;
                }
                continue;
            }
            let (one, other) = ((least - start) / step, (most - start) / step);
            from = f64::max(from, one.min(other));
            to = f64::min(to, one.max(other));
        }
        let exact = |part: f64| match part {
            0.0 => a,
            1.0 => b,
            part => at(part),
        };
        (from <= to).then(|| (exact(from), exact(to)))
    }

    /// A band without gaps, cut off at the ends of the axis to the left.
    fn band_pieces(&self, points: &[(f64, f64, f64)]) -> Vec<Vec<(f64, f64)>> {
        let is_whole = |(x, lower, upper): &(f64, f64, f64)| {
            x.is_finite() && lower.is_finite() && upper.is_finite()
        };
        points
            .split(|point| !is_whole(point))
            .filter(|run| run.len() > 1)
            .map(|run| {
                let within = |y: f64| y.clamp(self.y.from, self.y.to);
                let above = run.iter().map(|(x, _, upper)| (*x, within(*upper)));
                let below = run.iter().rev().map(|(x, lower, _)| (*x, within(*lower)));
                above.chain(below).collect()
            })
            .collect()
    }

    /// Labels at the right of the field, moved apart where they would meet; where the last one ends.
    fn labels_beside(&self, svg: &mut String, plan: &Plan, labelled: &[&Layer]) -> f64 {
        let x = plan.width - plan.right + 8.0;
        let room = plan.width - x - SAMPLE - 6.0;
        let mut labels: Vec<Label> = labelled
            .iter()
            .map(|layer| Label {
                at: layer.last(self).map_or(plan.top + plan.field, |value| self.px_y(plan, value)),
                lines: wrapped(layer.label(), SMALL, room),
                layer,
            })
            .collect();
        labels.sort_by(|a, b| a.at.total_cmp(&b.at));
        let heights: Vec<f64> =
            labels.iter().map(|label| LABEL_LINE * label.lines.len() as f64 + 2.0).collect();
        let wanted: Vec<f64> = labels.iter().map(|label| label.at).collect();
        let tops = apart(&wanted, &heights, plan.top - 8.0, plan.top + plan.field + 8.0);
        for (label, top) in labels.iter().zip(&tops) {
            sample(svg, (x, top + 0.5 * LABEL_LINE), label.layer);
            for (line, words) in label.lines.iter().enumerate() {
                let y = top + LABEL_LINE * (line as f64 + 0.8);
                text(svg, (x + SAMPLE + 4.0, y), words, (SMALL, INK, Anchor::Start));
            }
        }
        tops.iter().zip(&heights).map(|(top, height)| top + height).fold(0.0, f64::max)
    }
}

/// From light to dark, one blue: light enough and dark enough for words in it, and the same order in
/// grey. Without a value it is grey.
fn shade(part: Option<f64>) -> RGBColor {
    const LIGHT: [f64; 3] = [222.0, 235.0, 247.0];
    const DARK: [f64; 3] = [0.0, 80.0, 130.0];
    let Some(part) = part else { return GRID };
    let mixed = |index: usize| (LIGHT[index] + part * (DARK[index] - LIGHT[index])).round() as u8;
    RGBColor(mixed(0), mixed(1), mixed(2))
}

/// Points of a series from which on they are drawn small.
const MANY: usize = 300;

/// How much of its colour a band shows.
const BAND: f64 = 0.25;

/// Labels in lines under the field; where the last one ends.
fn labels_below(svg: &mut String, (width, mut y): (f64, f64), labelled: &[&Layer]) -> f64 {
    for layer in labelled {
        sample(svg, (0.0, y + 0.5 * LABEL_LINE), layer);
        for words in wrapped(layer.label(), SMALL, width - SAMPLE - 4.0) {
            text(svg, (SAMPLE + 4.0, y + 0.8 * LABEL_LINE), &words, (SMALL, INK, Anchor::Start));
            y += LABEL_LINE;
        }
        y += 2.0;
    }
    y
}

/// A bit of a layer before its label.
fn sample(svg: &mut String, (x, y): (f64, f64), layer: &Layer) {
    let end = x + SAMPLE;
    let _ = match layer {
        Layer::Line { colour, width, .. } => line_sample(svg, [x, end, y], *colour, *width),
        Layer::Level { colour, .. } | Layer::Mark { colour, .. } => {
            line_sample(svg, [x, end, y], *colour, 1.3)
        }
        Layer::Points { colour, filled, .. } => {
            let hex = hex(*colour);
            let paint = if *filled {
                format!("fill=\"{hex}\"")
            } else {
                format!("fill=\"none\" stroke=\"{hex}\" stroke-width=\"1.2\"")
            };
            let middle = 0.5 * (x + end);
            writeln!(svg, "<circle cx=\"{middle:.1}\" cy=\"{y:.1}\" r=\"2.5\" {paint}/>")
        }
        Layer::Band { colour, .. } => box_sample(svg, (x, y), *colour, BAND),
        Layer::Boxes { colour, .. } => box_sample(svg, (x, y), *colour, 1.0),
        Layer::Cells { .. } => Ok(()),
    };
}

fn line_sample(
    svg: &mut String,
    [from, to, y]: [f64; 3],
    colour: RGBColor,
    width: f64,
) -> std::fmt::Result {
    let hex = hex(colour);
    let dashes = dash_attribute(colour);
    writeln!(
        svg,
        "<line x1=\"{from:.1}\" y1=\"{y:.1}\" x2=\"{to:.1}\" y2=\"{y:.1}\" stroke=\"{hex}\" \
         stroke-width=\"{width}\"{dashes}/>"
    )
}

fn box_sample(
    svg: &mut String,
    (x, y): (f64, f64),
    colour: RGBColor,
    opacity: f64,
) -> std::fmt::Result {
    let (hex, top) = (hex(colour), y - 5.0);
    writeln!(
        svg,
        "<rect x=\"{x:.1}\" y=\"{top:.1}\" width=\"{SAMPLE}\" height=\"10\" fill=\"{hex}\" \
         fill-opacity=\"{opacity}\"/>"
    )
}

/// Tops of labels that want their first lines at these heights, from the top down, none on another;
/// within the field as long as they fit into it.
fn apart(wanted: &[f64], heights: &[f64], from: f64, to: f64) -> Vec<f64> {
    let mut tops: Vec<f64> = Vec::new();
    let mut free = from;
    for (wanted, height) in wanted.iter().zip(heights) {
        let top = (wanted - 0.5 * LABEL_LINE).max(free);
        tops.push(top);
        free = top + height;
    }
    // What sticks out below pushes the others up.
    let mut most = to;
    for (top, height) in tops.iter_mut().zip(heights).rev() {
        *top = top.min(most - height);
        most = *top;
    }
    let above = from - tops.first().copied().unwrap_or(from);
    if above > 0.0 {
        tops.iter_mut().for_each(|top| *top += above);
    }
    tops
}

#[cfg(test)]
mod tests {
    use super::super::Width;
    use super::super::colour::{BLUE, VERMILLION};
    use super::*;

    fn chart(layers: Vec<Layer>) -> String {
        let chart = Chart {
            x: Axis::linear("cycles", (1.0, 10.0), 5),
            y: Axis::linear("share", (0.0, 1.0), 5),
            layers,
            field: 200.0,
        };
        let mut frame = Frame::new("title", "source", Width::Page);
        let panel = Panel { heading: "heading".into(), chart, notes: Vec::new() };
        Panel::draw_all(&[panel], &mut frame);
        frame.finish().svg()
    }

    fn line(points: Vec<(f64, f64)>) -> Layer {
        Layer::Line { points, colour: BLUE, width: 2.0, label: "a < b".into() }
    }

    #[test]
    fn a_line_is_cut_at_the_field_and_broken_at_gaps() {
        let svg = chart(vec![line(vec![
            (1.0, -1.0),
            (3.0, 1.0),
            (4.0, 0.5),
            (5.0, f64::NAN),
            (6.0, 0.5),
            (7.0, 3.0),
        ])]);
        let lines =
            svg.lines().filter(|line| line.contains("<polyline") && line.contains("#0072B2"));
        assert_eq!(lines.count(), 2);
        assert!(!svg.contains("NaN") && !svg.contains("inf"));
        assert!(svg.contains("a &lt; b"));
    }

    #[test]
    fn marks_and_levels_are_drawn_once_and_only_inside() {
        let mark = |at| Layer::Mark { at, colour: VERMILLION, label: format!("mark {at}") };
        let svg = chart(vec![mark(2.0), mark(2.1), mark(20.0), line(vec![(1.0, 0.2), (9.0, 0.3)])]);
        assert!(svg.contains("mark 2<") && svg.contains("mark 2.1") && !svg.contains("mark 20"));
    }

    #[test]
    fn labels_keep_apart_and_inside() {
        let tops = apart(&[50.0, 52.0, 199.0, 199.5], &[15.0; 4], 0.0, 200.0);
        assert!(tops.windows(2).all(|pair| pair[1] - pair[0] >= 15.0 - 1e-9), "{tops:?}");
        assert!(tops[0] >= 0.0 && tops[3] + 15.0 <= 200.0);
        // More than fit go on below.
        let tops = apart(&[10.0; 20], &[15.0; 20], 0.0, 200.0);
        assert!(tops[0] == 0.0 && tops[19] == 285.0, "{tops:?}");
    }
}
