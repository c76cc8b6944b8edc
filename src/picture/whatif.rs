//! Rows of many runs as a picture: lines against one input, maps over two.

use super::axis::{Axis, ends};
use super::chart::{Cell as MapCell, Chart, Layer, Panel};
use super::colour::{BLUE, SERIES};
use super::frame::{Frame, SMALL, text_width};
use super::{Look, Picture, source, title};
use crate::quantity::{significant, trimmed};
use crate::report::whatif::Layout;
use crate::whatif::columns::{Cell, Column};
use crate::whatif::study::Varied;

/// Results that a picture shows.
const MOST_RESULTS: usize = 8;
/// Values of an input along a map.
const MOST_VALUES: usize = 60;

/// A row for a picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Its case; empty where cases have no name.
    pub case: String,
    /// What its inputs were given: numbers in SI, and texts.
    pub given: Vec<Cell>,
    /// The results by column, NaN of a text; `None` without a balance.
    pub results: Option<Vec<f64>>,
}

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
    #[error(
        "a picture shows one varied input, a grid of two, or cases with nothing varied in them"
    )]
    NoPlane,
    /// Cases without two numbers.
    #[error(
        "a picture of cases has the first result along and the others upwards: name two numbers under --columns"
    )]
    NoPair,
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
    let columns: Vec<(usize, &Column)> = runs
        .layout
        .columns
        .iter()
        .enumerate()
        .filter(|(_, column)| !column.is_text())
        .take(MOST_RESULTS)
        .collect();
    let has_cases = runs.layout.longest_case > 0;
    let panels: Vec<Panel> = match (runs.layout.varied.as_slice(), has_cases) {
        ([], true) => match columns.as_slice() {
            [x, ys @ ..] if !ys.is_empty() => ys.iter().map(|y| page.cases(*x, *y)).collect(),
            _ => return Err(NotDrawn::NoPair),
        },
        ([input], false) => {
            let scale = page.scale(input, 0);
            columns.iter().map(|column| page.line(&scale, *column)).collect()
        }
        ([one, other], false) => {
            let scales = [page.scale(one, 0), page.scale(other, 1)];
            if scales[0].words.len() * scales[1].words.len() != runs.rows.len() {
                return Err(NotDrawn::NoPlane);
            }
            if scales.iter().any(|scale| scale.words.len() > MOST_VALUES) {
                return Err(NotDrawn::TooFine);
            }
            columns.iter().map(|column| page.map(&scales, *column)).collect()
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

/// The values of an input, from the lowest to the highest; of texts in the order of the rows.
struct Scale {
    /// With the unit.
    name: String,
    /// As they are shown; their places where one of them is a text.
    values: Vec<f64>,
    words: Vec<String>,
    /// By row.
    of_rows: Vec<usize>,
    is_numbers: bool,
}

/// A number with what follows it.
fn number_and_unit(text: &str) -> Option<(f64, &str)> {
    let (number, unit) = text.split_at(crate::quantity::number_length(text));
    Some((number.parse().ok()?, unit.trim()))
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
    /// The values that an input is given.
    fn scale(&self, input: &Varied<'_>, place: usize) -> Scale {
        let given = || self.runs.rows.iter().map(|row| &row.given[place]);
        let (numbers, name): (Option<Vec<f64>>, String) = match input {
            Varied::Number(value) => {
                let unit = value.shown_in(self.look.units);
                let shown = given().map(|cell| unit.of_si(cell.number()));
                (Some(shown.collect()), name_with_unit(&value.path, unit.sign()))
            }
            Varied::Text(key) => {
                let parts: Option<Vec<(f64, &str)>> = given()
                    .map(|cell| match cell {
                        Cell::Text(text) => number_and_unit(text),
                        _ => None,
                    })
                    .collect();
                let unit = parts.as_ref().and_then(|parts| Some(parts.first()?.1));
                let parts = parts.filter(|parts| parts.iter().all(|(_, own)| Some(*own) == unit));
                let name = match &parts {
                    Some(_) => name_with_unit(key, unit.unwrap_or_default()),
                    None => (*key).to_owned(),
                };
                (parts.map(|parts| parts.into_iter().map(|(number, _)| number).collect()), name)
            }
        };
        let Some(numbers) = numbers else { return self.of_texts(name, place) };
        let mut values = numbers.clone();
        values.sort_by(f64::total_cmp);
        values.dedup();
        let at = |value: &f64| values.iter().position(|known| known == value).unwrap_or(0);
        Scale {
            name,
            of_rows: numbers.iter().map(at).collect(),
            words: values.iter().map(|value| trimmed(*value, 6)).collect(),
            values,
            is_numbers: true,
        }
    }

    fn of_texts(&self, name: String, place: usize) -> Scale {
        let mut words: Vec<String> = Vec::new();
        let mut of_rows = Vec::with_capacity(self.runs.rows.len());
        for row in self.runs.rows {
            let Cell::Text(text) = &row.given[place] else { continue };
            let known = words.iter().position(|known| known == text);
            of_rows.push(known.unwrap_or(words.len()));
            if known.is_none() {
                words.push(text.clone());
            }
        }
        let values = (0..words.len()).map(|place| place as f64 + 0.5).collect();
        Scale { name, values, words, of_rows, is_numbers: false }
    }

    fn result(&self, row: &Run, (index, column): (usize, &Column)) -> f64 {
        let value = row.results.as_ref().map_or(f64::NAN, |results| results[index]);
        self.runs.layout.shown(column, value)
    }

    /// A result of every case against another one.
    fn cases(&self, x: (usize, &Column), y: (usize, &Column)) -> Panel {
        let layout = self.runs.layout;
        let mut layers = Vec::new();
        let mut points = Vec::new();
        let mut none = Vec::new();
        for (place, row) in self.runs.rows.iter().enumerate() {
            let point = (self.result(row, x), self.result(row, y));
            if !(point.0.is_finite() && point.1.is_finite()) {
                none.push(row.case.as_str());
                continue;
            }
            points.push(point);
            layers.push(Layer::Points {
                points: vec![point],
                colour: SERIES[place % SERIES.len()],
                filled: (place / SERIES.len()).is_multiple_of(2),
                label: row.case.clone(),
            });
        }
        let axis = |column: &Column, of: fn(&(f64, f64)) -> f64| {
            let name = name_with_unit(&column.name, layout.shown_symbol(column));
            Axis::around(&name, points.iter().map(of), 6)
        };
        let chart = Chart {
            x: axis(x.1, |point| point.0),
            y: axis(y.1, |point| point.1),
            layers,
            field: 220.0,
        };
        let notes = match none.as_slice() {
            [] => Vec::new(),
            none => vec![format!("Without these results: {}.", none.join(", "))],
        };
        Panel { heading: format!("{} against {}", y.1.name, x.1.name), chart, notes }
    }

    fn line(&self, input: &Scale, column: (usize, &Column)) -> Panel {
        let mut points: Vec<(f64, f64)> = self
            .runs
            .rows
            .iter()
            .zip(&input.of_rows)
            .map(|(row, place)| (input.values[*place], self.result(row, column)))
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
        let (x, mut layers) = match input.is_numbers {
            true => {
                let points = points.clone();
                let line = Layer::Line { points, colour: BLUE, width: 2.0, label: String::new() };
                (Axis::linear(&input.name, (from, to), most), vec![line])
            }
            // Nothing lies between texts.
            false => (self.index_axis(input, 560.0), Vec::new()),
        };
        if points.len() <= 40 || !input.is_numbers {
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
        Panel { heading: column.1.name.to_string(), chart, notes }
    }

    /// A value of a result at every pair of values, the darker the larger.
    fn map(&self, [one, other]: &[Scale; 2], column: (usize, &Column)) -> Panel {
        let results: Vec<f64> = self.runs.rows.iter().map(|row| self.result(row, column)).collect();
        let known = || results.iter().copied().filter(|result| result.is_finite());
        let (least, most) =
            (known().fold(f64::INFINITY, f64::min), known().fold(f64::NEG_INFINITY, f64::max));
        // What differs in its last bits does not differ.
        let is_constant = most - least <= 1e-9 * most.abs();
        let digits = digits_to_tell(least, most);
        let places = one.of_rows.iter().zip(&other.of_rows);
        let cells = places
            .zip(&results)
            .map(|((x, y), result)| {
                let (x, y) = (*x as f64, *y as f64);
                let shade = if is_constant { 0.3 } else { (result - least) / (most - least) };
                let part = result.is_finite().then_some(shade);
                let words = part.map_or("-".into(), |_| significant(*result, digits));
                MapCell { at: [x, x + 1.0, y, y + 1.0], part, words }
            })
            .collect();
        let width = if self.look.width.is_phone() { 300.0 } else { 560.0 };
        let x = self.index_axis(one, width);
        let y = self.index_axis(other, f64::INFINITY);
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
        let field = (26.0 * other.words.len() as f64).clamp(60.0, 400.0);
        let chart = Chart { x, y, layers: vec![Layer::Cells { cells }], field };
        Panel { heading: name_with_unit(&column.1.name, unit), chart, notes }
    }

    /// An axis with a place for each value, its words thinned out where they would meet.
    fn index_axis(&self, input: &Scale, width: f64) -> Axis {
        let words = input.words.clone();
        let widest = words.iter().map(|words| text_width(words, SMALL)).fold(1.0, f64::max);
        let room = ((width / (widest + 10.0)) as usize).clamp(1, 25);
        let step = words.len().div_ceil(room).max(1);
        let count = words.len().max(1) as f64;
        let ticks = words
            .into_iter()
            .enumerate()
            .step_by(step)
            .map(|(index, words)| (index as f64 + 0.5, words))
            .collect();
        Axis { name: input.name.clone(), from: 0.0, to: count, ticks }
    }

    fn described(&self) -> String {
        let layout = self.runs.layout;
        let input = |varied: &Varied<'_>| match varied {
            Varied::Number(value) => value.path.clone(),
            Varied::Text(key) => (*key).to_owned(),
        };
        let mut inputs: Vec<String> = layout.varied.iter().map(input).collect();
        if layout.longest_case > 0 {
            inputs.push("cases".into());
        }
        let results: Vec<&str> = layout.columns.iter().map(|column| column.name.as_ref()).collect();
        format!(
            "{} rows: {} against {}.",
            self.runs.rows.len(),
            results.join(", "),
            inputs.join(" and ")
        )
    }
}
