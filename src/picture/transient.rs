//! The course of the water in time as a picture.

use super::axis::{Axis, ends};
use super::chart::{Chart, Layer, Panel};
use super::colour::{BLACK, BLUE, GREEN, INK, SKY, VERMILLION};
use super::frame::Frame;
use super::{Look, Picture, source, title};
use crate::model::TransientSheet;
use crate::quantity::{Quantity, significant, unit, with_decimals};
use crate::transient::{SETTLED_WITHIN, Stretch};

/// Points of a curve, the ends of stretches besides.
const POINTS: usize = 240;
/// Coverage factor of the band from the inputs, as in print.
const COVERAGE: f64 = 2.0;

/// What a picture of a course says besides.
pub struct TransientWords<'a> {
    /// Names the file.
    pub from: &'a str,
    /// What is dosed.
    pub substance: &'a str,
    /// Hour and words of what happens.
    pub events: &'a [(f64, String)],
    /// Standard uncertainties of the cycles at these hours; none where no input carries one.
    pub spread: &'a dyn Fn(&[f64]) -> Vec<f64>,
}

/// A course.
pub fn transient(sheet: &TransientSheet, words: &TransientWords<'_>, look: Look) -> Picture {
    let from = words.from;
    let name = if sheet.name.is_empty() { from } else { &sheet.name };
    let mut frame =
        Frame::new(&title("Concentration in the water", name), &source(from), look.width);
    let (Some(first), Some(last)) = (sheet.stretches.first(), sheet.stretches.last()) else {
        return frame.finish();
    };
    let page = Page { sheet, words, look, hours: last.to };
    let end = last.cycles_at(last.to);
    frame.describe(&format!(
        "Cycles of concentration against hours: from {} to {} after {} h.",
        with_decimals(first.cycles, 2),
        with_decimals(end, 2),
        significant(last.to, 3)
    ));
    let mut panels = vec![page.cycles(end), page.flows()];
    if sheet.has_substance {
        panels.push(page.substance(words.substance));
    }
    Panel::draw_all(&panels, &mut frame);
    for (number, (_, event)) in (1..).zip(words.events) {
        frame.note(&format!("{number}: {event}."));
    }
    frame.finish()
}

struct Page<'a> {
    sheet: &'a TransientSheet,
    words: &'a TransientWords<'a>,
    look: Look,
    hours: f64,
}

impl Page<'_> {
    fn axis(&self) -> Axis {
        let most = if self.look.width.is_phone() { 6 } else { 12 };
        Axis::hours("hours from the start", self.hours, most)
    }

    fn points(&self, of: impl Fn(&Stretch, f64) -> f64) -> Vec<(f64, f64)> {
        let step = self.hours / POINTS as f64;
        let of = &of;
        self.sheet
            .stretches
            .iter()
            .flat_map(|stretch| {
                let first = (stretch.from / step).floor() as usize + 1;
                let last = (stretch.to / step).ceil() as usize;
                let between = (first..last.max(first)).map(move |point| point as f64 * step);
                let inside = between.filter(|hour| *hour < stretch.to);
                let hours = [stretch.from].into_iter().chain(inside).chain([stretch.to]);
                hours.map(move |hour| (hour, of(stretch, hour)))
            })
            .collect()
    }

    fn cycles(&self, end: f64) -> Panel {
        let points = self.points(Stretch::cycles_at);
        let settled = self.sheet.settled.map(|at| Layer::Mark {
            at,
            colour: GREEN,
            label: format!("within 5 % of the last cycles after {} h", significant(at, 3)),
        });
        let (band, label) = match self.uncertain_band(&points) {
            Some(band) => (band, "± from the inputs (k=2)".to_owned()),
            None => {
                let [low, high] = [(1.0 - SETTLED_WITHIN) * end, (1.0 + SETTLED_WITHIN) * end];
                let band = [0.0, self.hours].map(|hour| (hour, low, high)).to_vec();
                (band, format!("within 5 % of the last cycles, {}", with_decimals(end, 2)))
            }
        };
        let values = points.iter().map(|(_, cycles)| *cycles);
        let around = values.chain(band.iter().flat_map(|(_, low, high)| [*low, *high]));
        let y = Axis::around("", around, 6);
        let mut layers = vec![Layer::Band { points: band, colour: SKY, label }];
        layers.push(Layer::Line { points, colour: BLUE, width: 2.0, label: "cycles".into() });
        layers.extend(self.events());
        layers.extend(settled);
        self.panel("Cycles of concentration", (y, 220.0), layers)
    }

    /// The curve with what the inputs leave open; `None` where no input is uncertain.
    fn uncertain_band(&self, points: &[(f64, f64)]) -> Option<Vec<(f64, f64, f64)>> {
        let hours: Vec<f64> = points.iter().map(|(hour, _)| *hour).collect();
        let spread = (self.words.spread)(&hours);
        if spread.is_empty() {
            return None;
        }
        let about = |((hour, cycles), standard): (&(f64, f64), f64)| {
            let half = COVERAGE * standard;
            (*hour, cycles - half, cycles + half)
        };
        Some(points.iter().zip(spread).map(about).collect())
    }

    /// What happens, by number.
    fn events(&self) -> impl Iterator<Item = Layer> {
        (1..).zip(self.words.events).map(|(number, (at, _))| Layer::Mark {
            at: *at,
            colour: INK,
            label: number.to_string(),
        })
    }

    fn flows(&self) -> Panel {
        let unit = Quantity::VolumeFlow.shown_in(self.look.units);
        let flow = |m3_per_h: f64| unit.of_si(unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h));
        let makeup = self.points(|stretch, _| flow(stretch.makeup));
        let blowdown = self.points(|stretch, _| flow(stretch.blowdown));
        let (_, most) = ends(makeup.iter().chain(&blowdown).map(|(_, flow)| *flow));
        let layers = vec![
            Layer::Line { points: makeup, colour: BLACK, width: 1.8, label: "makeup".into() },
            Layer::Line {
                points: blowdown,
                colour: VERMILLION,
                width: 1.8,
                label: "blowdown".into(),
            },
        ];
        let y = Axis::around(unit.symbol, [0.0, most], 5);
        self.panel("Makeup and blowdown", (y, 130.0), layers)
    }

    fn substance(&self, name: &str) -> Panel {
        let points = self.points(Stretch::substance_at);
        let (_, most) = ends(points.iter().map(|(_, substance)| *substance));
        let line = Layer::Line { points, colour: INK, width: 2.0, label: name.into() };
        let y = Axis::around("mg/L", [0.0, most], 5);
        self.panel("Substance in the water", (y, 130.0), vec![line])
    }

    fn panel(&self, heading: &str, (y, field): (Axis, f64), layers: Vec<Layer>) -> Panel {
        let chart = Chart { x: self.axis(), y, layers, field };
        Panel { heading: heading.into(), chart, notes: Vec::new() }
    }
}
