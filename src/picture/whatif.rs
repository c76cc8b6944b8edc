//! Rows of many runs as a picture: lines against one input, maps over two.

use super::axis::{Axis, ends};
use super::chart::{Cell, Chart, Layer, Panel};
use super::colour::BLUE;
use super::frame::{Frame, SMALL, text_width};
use super::{Look, Picture, source, title};
use crate::quantity::significant;
use crate::report::whatif::{Layout, trimmed};
use crate::site::Value;
use crate::whatif::columns::Column;

/// Results that a picture shows.
const MOST_RESULTS: usize = 8;
/// Values of an input along a map.
const MOST_VALUES: usize = 60;

/// A row: what its inputs were given, SI, and the results by column; `None` without a balance.
pub type Run = (Vec<f64>, Option<Vec<f64>>);

/// Rows with what they are made of.
pub struct Runs<'a> {
    /// Name of the site.
    pub name: &'a str,
    /// Name of the site file.
    pub source: &'a str,
    /// Inputs, results and their units.
    pub layout: &'a Layout<'a>,
    /// The rows.
    pub rows: &'a [Run],
}

/// Rows of which there is no picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NotDrawn {
    /// Too many inputs, or no grid.
    #[error("a picture shows one varied input, or a grid of two")]
    NoPlane,
    /// A map whose cells would be too small to see.
    #[error("a map shows up to {MOST_VALUES} values of each input")]
    TooFine,
}

/// Rows of many runs.
///
/// # Errors
/// [`NotDrawn`].
pub fn whatif(runs: &Runs<'_>, look: Look) -> Result<Picture, NotDrawn> {
    let name = if runs.name.is_empty() { runs.source } else { runs.name };
    let mut frame = Frame::new(&title("Varied inputs", name), &source(runs.source), look.width);
    let page = Page { runs, look };
    frame.describe(&page.described());
    let columns: Vec<(usize, &Column)> =
        runs.layout.columns.iter().copied().enumerate().take(MOST_RESULTS).collect();
    let panels: Vec<Panel> = match runs.layout.varied.as_slice() {
        [input] => {
            columns.iter().map(|(index, column)| page.line(input, (*index, column))).collect()
        }
        [one, other] => {
            let grid = Grid::of(runs.rows)?;
            let inputs = [*one, *other];
            columns
                .iter()
                .map(|(index, column)| page.map(inputs, &grid, (*index, column)))
                .collect()
        }
        _ => return Err(NotDrawn::NoPlane),
    };
    Panel::draw_all(&panels, &mut frame);
    if runs.layout.columns.len() > MOST_RESULTS {
        frame.note(&format!("{} results more.", runs.layout.columns.len() - MOST_RESULTS));
    }
    Ok(frame.finish())
}

struct Page<'a> {
    runs: &'a Runs<'a>,
    look: Look,
}

/// The values of two inputs, each with each.
struct Grid {
    one: Vec<f64>,
    other: Vec<f64>,
}

/// Every value once, from the lowest to the highest.
fn values(of: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut values: Vec<f64> = of.collect();
    values.sort_by(f64::total_cmp);
    values.dedup();
    values
}

impl Grid {
    fn of(rows: &[Run]) -> Result<Self, NotDrawn> {
        let one = values(rows.iter().map(|(given, _)| given[0]));
        let other = values(rows.iter().map(|(given, _)| given[1]));
        if one.len() * other.len() != rows.len() {
            return Err(NotDrawn::NoPlane);
        }
        if one.len().max(other.len()) > MOST_VALUES {
            return Err(NotDrawn::TooFine);
        }
        Ok(Self { one, other })
    }
}

/// Digits that tell a tenth of a range, three to five.
fn digits_to_tell(least: f64, most: f64) -> usize {
    let largest = least.abs().max(most.abs());
    let lead = (largest / (most - least)).log10();
    if lead.is_finite() { (lead.ceil() as i32 + 2).clamp(3, 5) as usize } else { 3 }
}

fn name_with_unit(name: &str, unit: &str) -> String {
    if unit.is_empty() { name.into() } else { format!("{name}, {unit}") }
}

impl Page<'_> {
    fn shown(&self, input: &Value, si: f64) -> f64 {
        input.shown_in(self.look.units).of_si(si)
    }

    fn input_name(&self, input: &Value) -> String {
        name_with_unit(&input.path, input.shown_in(self.look.units).sign())
    }

    fn result(&self, row: &Run, (index, column): (usize, &Column)) -> f64 {
        let value = row.1.as_ref().map_or(f64::NAN, |results| results[index]);
        self.runs.layout.shown(column, value)
    }

    fn line(&self, input: &Value, column: (usize, &Column)) -> Panel {
        let mut points: Vec<(f64, f64)> = self
            .runs
            .rows
            .iter()
            .map(|row| (self.shown(input, row.0[0]), self.result(row, column)))
            .collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let known = points.iter().filter(|(_, y)| y.is_finite()).count();
        let (from, to) = ends(points.iter().map(|(x, _)| *x));
        let (least, most) = ends(points.iter().map(|(_, y)| *y));
        let from_zero = least >= 0.0 && least < 0.5 * most;
        let y = Axis::around(
            self.runs.layout.shown_symbol(column.1),
            [if from_zero { 0.0 } else { least }, most],
            4,
        );
        let most = if self.look.width.is_phone() { 5 } else { 10 };
        let x = Axis::linear(&self.input_name(input), (from, to), most);
        let mut layers = vec![Layer::Line {
            points: points.clone(),
            colour: BLUE,
            width: 2.0,
            label: String::new(),
        }];
        if points.len() <= 40 {
            points.retain(|(_, y)| y.is_finite());
            layers.push(Layer::Points { points, colour: BLUE, filled: true, label: String::new() });
        }
        let chart = Chart { x, y, layers, field: 120.0 };
        let all = self.runs.rows.len();
        let none = all - known;
        let notes = match none {
            0 => Vec::new(),
            _ => vec![format!("{none} of {all} values have no result; the table says why.")],
        };
        Panel { heading: column.1.name.into(), chart, notes }
    }

    /// A value of a result at every pair of values, the darker the larger.
    fn map(&self, [one, other]: [&Value; 2], grid: &Grid, column: (usize, &Column)) -> Panel {
        let results: Vec<f64> = self.runs.rows.iter().map(|row| self.result(row, column)).collect();
        let known = || results.iter().copied().filter(|result| result.is_finite());
        let (least, most) =
            (known().fold(f64::INFINITY, f64::min), known().fold(f64::NEG_INFINITY, f64::max));
        // What differs in its last bits does not differ.
        let is_constant = most - least <= 1e-9 * most.abs();
        let digits = digits_to_tell(least, most);
        let place = |values: &[f64], value: f64| values.iter().position(|v| *v == value);
        let cells = self
            .runs
            .rows
            .iter()
            .zip(&results)
            .filter_map(|((given, _), result)| {
                let x = place(&grid.one, given[0])? as f64;
                let y = place(&grid.other, given[1])? as f64;
                let shade = if is_constant { 0.3 } else { (result - least) / (most - least) };
                let part = result.is_finite().then_some(shade);
                let words = part.map_or("-".into(), |_| significant(*result, digits));
                Some(Cell { at: [x, x + 1.0, y, y + 1.0], part, words })
            })
            .collect();
        let width = if self.look.width.is_phone() { 300.0 } else { 560.0 };
        let x = self.index_axis(one, &grid.one, width);
        let y = self.index_axis(other, &grid.other, f64::INFINITY);
        let unit = self.runs.layout.shown_symbol(column.1);
        let none = if results.iter().all(|result| result.is_finite()) { "" } else { "; -: none" };
        let notes = vec![match (known().count(), is_constant) {
            (0, _) => "No pair has a result; the table says why.".into(),
            (_, true) => format!("Everywhere {} {unit}{none}.", significant(most, 3)),
            (_, false) => format!(
                "From {} (light) to {} {unit} (dark){none}.",
                significant(least, digits),
                significant(most, digits)
            ),
        }];
        let field = (26.0 * grid.other.len() as f64).clamp(60.0, 400.0);
        let chart = Chart { x, y, layers: vec![Layer::Cells { cells }], field };
        Panel { heading: name_with_unit(column.1.name, unit), chart, notes }
    }

    /// An axis with a place for each value, its words thinned out where they would meet.
    fn index_axis(&self, input: &Value, values: &[f64], width: f64) -> Axis {
        let words: Vec<String> =
            values.iter().map(|value| trimmed(self.shown(input, *value))).collect();
        let widest = words.iter().map(|words| text_width(words, SMALL)).fold(1.0, f64::max);
        let room = ((width / (widest + 10.0)) as usize).clamp(1, 25);
        let step = values.len().div_ceil(room).max(1);
        let ticks = words
            .into_iter()
            .enumerate()
            .step_by(step)
            .map(|(index, words)| (index as f64 + 0.5, words))
            .collect();
        Axis { name: self.input_name(input), from: 0.0, to: values.len().max(1) as f64, ticks }
    }

    fn described(&self) -> String {
        let layout = self.runs.layout;
        let inputs: Vec<&str> = layout.varied.iter().map(|value| value.path.as_str()).collect();
        let results: Vec<&str> = layout.columns.iter().map(|column| column.name).collect();
        format!(
            "{} rows: {} against {}.",
            self.runs.rows.len(),
            results.join(", "),
            inputs.join(" and ")
        )
    }
}
