//! A year as a picture: what left in each month, and how many hours a makeup is needed.

use super::axis::Axis;
use super::chart::{Chart, Layer, Panel};
use super::colour::{BLUE, ORANGE, PURPLE, SKY, VERMILLION};
use super::frame::Frame;
use super::{Look, Picture, source, title};
use crate::cost::Outflow;
use crate::quantity::unit::Unit;
use crate::quantity::{Quantity, significant};
use crate::report::year::Year;
use plotters::style::RGBColor;

/// Points of the curve, of some thousand hours.
const POINTS: usize = 400;

/// A year of weather.
pub fn year(year: &Year<'_>, look: Look) -> Picture {
    let sheet = year.sheet;
    let name = if sheet.name.is_empty() { year.source } else { &sheet.name };
    let mut frame = Frame::new(&title("Year", name), &source(year.source), look.width);
    let page = Page { year, look };
    frame.describe(&page.described());
    Panel::draw_all(&[page.months()], &mut frame);
    Panel::draw_all(&[page.duration()], &mut frame);
    frame.finish()
}

struct Page<'a> {
    year: &'a Year<'a>,
    look: Look,
}

fn colour(stream: Outflow) -> RGBColor {
    match stream {
        Outflow::Evaporation => SKY,
        Outflow::Drift => PURPLE,
        Outflow::Blowdown => BLUE,
        Outflow::Leakage => VERMILLION,
        Outflow::Overflow => ORANGE,
    }
}

impl Page<'_> {
    fn unit(&self, quantity: Quantity) -> &'static Unit {
        quantity.shown_in(self.look.units)
    }

    /// Every month a bar, streams stacked.
    fn months(&self) -> Panel {
        let months = &self.year.sheet.months;
        let unit = self.unit(Quantity::Volume);
        let largest =
            months.iter().map(|month| unit.of_si(month.sums.makeup())).fold(0.0, f64::max);
        let (factor, unit_name) = match largest >= 20_000.0 {
            true => (1e-3, format!("1000 {}", unit.symbol)),
            false => (1.0, unit.symbol.to_owned()),
        };
        let shown = |m3: f64| factor * unit.of_si(m3);
        // Blowdown first: evaporation changes with the weather, and stands on a base that hardly does.
        let order = [
            Outflow::Blowdown,
            Outflow::Evaporation,
            Outflow::Drift,
            Outflow::Leakage,
            Outflow::Overflow,
        ];
        let mut layers = Vec::new();
        for (place, stream) in order.into_iter().enumerate() {
            let boxes: Vec<[f64; 4]> = months
                .iter()
                .enumerate()
                .map(|(index, month)| {
                    let below: f64 = order[..place].iter().map(|s| month.sums.stream(*s)).sum();
                    let top = below + month.sums.stream(stream);
                    let left = index as f64;
                    [left + 0.12, left + 0.88, shown(below), shown(top)]
                })
                .collect();
            if self.year.sheet.total.stream(stream) > 0.0 {
                let label = stream.name().into();
                layers.push(Layer::Boxes { boxes, colour: colour(stream), label });
            }
        }
        // Names thin out where they would meet.
        let most = if self.look.width.is_phone() { 6 } else { 14 };
        let step = months.len().div_ceil(most).max(1);
        let ticks = months
            .iter()
            .enumerate()
            .step_by(step)
            .map(|(index, month)| (index as f64 + 0.5, month.first.strftime("%b").to_string()))
            .collect();
        let name = match (months.first(), months.last()) {
            (Some(first), Some(last)) if !self.year.weather.is_typical => {
                match (first.first.year(), last.first.year()) {
                    (one, other) if one == other => one.to_string(),
                    (one, other) => format!("{one} to {other}"),
                }
            }
            _ => "typical months".into(),
        };
        let to = months.len().max(1) as f64;
        let x = Axis { name, from: 0.0, to, ticks };
        let y = Axis::around(&unit_name, [0.0, factor * largest], 5);
        let chart = Chart { x, y, layers, field: 200.0 };
        let heading = "Makeup of each month, by where it went".into();
        Panel { heading, chart, notes: Vec::new() }
    }

    /// The load-duration curve of the makeup.
    fn duration(&self) -> Panel {
        let unit = self.unit(Quantity::VolumeFlow);
        let hours = &self.year.sheet.duration;
        let step = hours.len().div_ceil(POINTS).max(1);
        let last = hours.len().saturating_sub(1);
        let points: Vec<(f64, f64)> = (0..hours.len())
            .filter(|hour| hour % step == 0 || *hour == last)
            .map(|hour| ((hour + 1) as f64, unit.of_si(hours[hour] / 3_600.0)))
            .collect();
        let largest = points.first().map_or(0.0, |(_, makeup)| *makeup);
        let notes = match self.year.sheet.exceeded_in(0.5) {
            Some(median) => vec![format!(
                "Largest {} {unit}, exceeded in half of the hours {} {unit}.",
                significant(largest, 3),
                significant(unit.of_si(median / 3_600.0), 3),
                unit = unit.symbol
            )],
            None => Vec::new(),
        };
        let most = if self.look.width.is_phone() { 5 } else { 10 };
        let x =
            Axis::linear("hours with at least this makeup", (0.0, hours.len().max(1) as f64), most);
        let y = Axis::around(unit.symbol, [0.0, largest], 5);
        let line = Layer::Line { points, colour: BLUE, width: 2.0, label: String::new() };
        let chart = Chart { x, y, layers: vec![line], field: 170.0 };
        Panel { heading: "Load-duration curve of the makeup".into(), chart, notes }
    }

    fn described(&self) -> String {
        let unit = self.unit(Quantity::Volume);
        let shown = |m3: f64| format!("{} {}", significant(unit.of_si(m3), 3), unit.symbol);
        let total = &self.year.sheet.total;
        let streams: Vec<String> = Outflow::ALL
            .into_iter()
            .filter(|stream| total.stream(*stream) > 0.0)
            .map(|stream| format!("{} {}", stream.name(), shown(total.stream(stream))))
            .collect();
        format!(
            "Makeup of {} months, {} in all: {}.",
            self.year.sheet.months.len(),
            shown(total.makeup()),
            streams.join(", ")
        )
    }
}
