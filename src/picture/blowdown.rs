//! The blowdown target as a picture: every limit against cycles, then what water and money do.

use super::axis::{Axis, ends};
use super::chart::{Chart, Layer, Panel};
use super::colour::{BLACK, BLUE, GREEN, INK, SERIES, VERMILLION};
use super::frame::Frame;
use super::{Look, Picture, source, title};
use crate::balance::{self, BlowdownBasis, WaterBalance};
use crate::blowdown::limit::{Bound, Measure};
use crate::blowdown::target::{Allows, Binding};
use crate::blowdown::{ConcentratedWater, TowerWater};
use crate::model::BlowdownSheet;
use crate::quantity::{Quantity, unit};
use crate::report::blowdown::cycles;
use crate::report::m3_per_h;

/// Cycles of today that are so many times what is allowed lie outside the picture.
const FAR: f64 = 4.0;
/// A limit that binds beyond so many times what is allowed is of no interest.
const MATTERS: f64 = 2.0;
/// The picture ends at so many times the last limit of interest.
const BEYOND: f64 = 1.5;
/// Points of a curve.
const POINTS: usize = 60;
/// An index so far inside its limit is of no interest.
const DEEPEST: f64 = -4.0;
/// A share of the limit above this is off the chart, %.
const MOST_SHARE: f64 = 200.0;

/// What money does at these cycles; asked with the balances at each.
pub struct Costs<'a> {
    /// Cost of an operating year with each balance; `None` where no price is stated.
    pub of: &'a dyn Fn(&[WaterBalance]) -> Option<Vec<f64>>,
    /// Of the amounts; may be empty.
    pub currency: &'a str,
}

/// A blowdown target; `from` names the file.
pub fn blowdown(sheet: &BlowdownSheet, from: &str, costs: &Costs<'_>, look: Look) -> Picture {
    let name = if sheet.name.is_empty() { from } else { &sheet.name };
    let mut frame = Frame::new(&title("Blowdown target", name), &source(from), look.width);
    let page = Page { sheet, look, to: last_cycles(sheet) };
    frame.describe(&page.described());
    let mut panels = page.limits();
    panels.push(page.water());
    panels.extend(page.money(costs));
    Panel::draw_all(&panels, &mut frame);
    if sheet.target_cycles.is_none() {
        frame.note(match sheet.withheld {
            Some(_) => "No target: acid is fed, and the file does not state the pH that it holds.",
            None => "No target: the makeup cannot be concentrated within these limits.",
        });
    }
    frame.finish()
}

/// Where the axis of cycles ends: beyond what is aimed at, the last limit that matters and what is held today.
fn last_cycles(sheet: &BlowdownSheet) -> f64 {
    let matters = |ceiling: &f64| *ceiling <= MATTERS * sheet.best_estimate.max(1.0);
    let ceilings = sheet.bindings.iter().filter_map(Binding::ceiling);
    let last = ceilings.filter(matters).fold(0.0, f64::max);
    let present = Some(sheet.present_cycles).filter(|cycles| cycles.is_finite()).unwrap_or(0.0);
    let target = sheet.target_cycles.unwrap_or(1.0);
    let allowed = (BEYOND * target).max(BEYOND * last).max(3.0);
    // Where today is far off, what is allowed would have no room beside it.
    allowed.max((1.15 * present).min(FAR * allowed)).min(1e3).ceil()
}

struct Page<'a> {
    sheet: &'a BlowdownSheet,
    look: Look,
    to: f64,
}

/// How a limit is drawn.
#[derive(Clone, Copy, PartialEq)]
enum Scale {
    /// An index less its limit.
    Difference,
    /// A part of the limit, %.
    Share,
}

fn scale(measure: Measure) -> Scale {
    match measure {
        Measure::SaturationIndex(_)
        | Measure::Langelier
        | Measure::LangelierAtSurface
        | Measure::Ryznar
        | Measure::Puckorius
        | Measure::Ph => Scale::Difference,
        _ => Scale::Share,
    }
}

impl Page<'_> {
    fn axis(&self) -> Axis {
        let most = if self.look.width.is_phone() { 6 } else { 10 };
        Axis::linear("cycles of concentration", (1.0, self.to), most)
    }

    fn field(&self) -> f64 {
        if self.look.width.is_phone() { 190.0 } else { 210.0 }
    }

    /// Marks of the target and of today.
    fn marks(&self) -> Vec<Layer> {
        let sheet = self.sheet;
        let target = sheet.target_cycles.map(|at| Layer::Mark {
            at,
            colour: INK,
            label: format!("target {}", cycles(at)),
        });
        let apparent = if sheet.cycles_are_apparent { " (apparent)" } else { "" };
        let today = Layer::Mark {
            at: sheet.present_cycles,
            colour: GREEN,
            label: format!("today {}{apparent}", cycles(sheet.present_cycles)),
        };
        target.into_iter().chain([today]).collect()
    }

    fn limits(&self) -> Vec<Panel> {
        let mut panels = Vec::new();
        let waters = waters(&self.sheet.tower, self.to);
        for (scale, heading, name) in [
            (Scale::Difference, "Indices: above zero is not allowed", "index less its limit"),
            (Scale::Share, "Other limits: above 100 % is not allowed", "% of the limit"),
        ] {
            let drawn: Vec<&Binding> = self
                .sheet
                .bindings
                .iter()
                .filter(|binding| self::scale(binding.limit.measure) == scale)
                .filter(|binding| binding.allows != Allows::Unknown)
                .collect();
            if !drawn.is_empty() {
                let chart = self.chart(&drawn, &waters, (scale, name));
                panels.push(Panel { heading: heading.into(), chart, notes: Vec::new() });
            }
        }
        let unknown: Vec<String> = self
            .sheet
            .bindings
            .iter()
            .filter(|binding| binding.allows == Allows::Unknown)
            .map(|binding| binding.limit.measure.name())
            .collect();
        if let Some(last) = panels.last_mut().filter(|_| !unknown.is_empty()) {
            let unknown = unknown.join(", ");
            last.notes.push(format!("Not drawn, because not every analysis holds it: {unknown}."));
        }
        panels
    }

    fn chart(
        &self,
        drawn: &[&Binding],
        waters: &[ConcentratedWater],
        (scale, name): (Scale, &str),
    ) -> Chart {
        let limit = if scale == Scale::Difference { 0.0 } else { 100.0 };
        let mut layers: Vec<Layer> = drawn
            .iter()
            .enumerate()
            .map(|(index, binding)| {
                let is_first =
                    std::ptr::eq(*binding, &self.sheet.bindings[0]) && binding.ceiling().is_some();
                let points: Vec<(f64, f64)> = waters
                    .iter()
                    .map(|water| (water.cycles, beyond(binding, water).unwrap_or(f64::NAN)))
                    .collect();
                Layer::Line {
                    points,
                    colour: SERIES[index % SERIES.len()],
                    width: match index {
                        _ if is_first => 3.0,
                        // Beyond the colours that there are, lines are thin.
                        index if index >= SERIES.len() => 0.8,
                        _ => 1.5,
                    },
                    label: label(binding, is_first),
                }
            })
            .collect();
        let values: Vec<f64> = layers
            .iter()
            .filter_map(|layer| match layer {
                Layer::Line { points, .. } => Some(points.iter().map(|(_, value)| *value)),
                _ => None,
            })
            .flatten()
            .chain([limit])
            .collect();
        let (least, most) = ends(values.iter().copied());
        let within = match scale {
            Scale::Difference => [least.max(DEEPEST), most.min(-DEEPEST)],
            Scale::Share => [0.0, most.min(MOST_SHARE)],
        };
        layers.push(Layer::Level { at: limit, colour: INK, label: "limit".into() });
        layers.extend(self.marks());
        let lines = drawn.len() as f64;
        Chart {
            x: self.axis(),
            y: Axis::around(name, within.into_iter().chain([limit]), 6),
            layers,
            field: self.field().max(if self.look.width.is_phone() { 0.0 } else { 26.0 * lines }),
        }
    }

    fn balances(&self) -> Vec<WaterBalance> {
        let losses = self.sheet.present.losses();
        let close = |cycles| balance::close(&losses, BlowdownBasis::Cycles(cycles)).ok();
        // Beyond what the losses allow there is no blowdown to shut.
        cycles_of_curve(1.2, self.to.min(self.sheet.losses_allow).max(1.21))
            .filter_map(close)
            .collect()
    }

    fn water(&self) -> Panel {
        let unit = Quantity::VolumeFlow.shown_in(self.look.units);
        let flow = |kg_per_s: f64| unit.of_si(unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h(kg_per_s)));
        let balances = self.balances();
        let line = |of: fn(&WaterBalance) -> f64, colour, label: &str| Layer::Line {
            points: balances.iter().map(|b| (b.cycles_of_concentration, flow(of(b)))).collect(),
            colour,
            width: 2.0,
            label: label.into(),
        };
        let evaporation = flow(self.sheet.present.evaporation_kg_per_s);
        let mut layers = vec![
            line(|b| b.makeup_kg_per_s, BLUE, "makeup"),
            line(|b| b.blowdown_kg_per_s, VERMILLION, "blowdown"),
            line(|b| b.evaporation_kg_per_s, BLACK, "evaporation"),
        ];
        layers.extend(self.marks());
        let now = flow(self.sheet.present.makeup_kg_per_s);
        let top = (2.6 * evaporation).max(1.1 * now);
        let chart = Chart {
            x: self.axis(),
            y: Axis::around(unit.symbol, [0.0, top], 5),
            layers,
            field: 150.0,
        };
        let present = self.sheet.present_cycles;
        let outside = match present {
            present if present <= self.to => None,
            present if present.is_finite() => {
                Some(format!("Today's {} cycles lie outside the picture.", cycles(present)))
            }
            _ => Some("Today no liquid leaves: the cycles have no limit.".into()),
        };
        let note = (self.sheet.losses_allow < self.to).then(|| {
            format!(
                "Drift, leakage and overflow alone hold {} cycles with the blowdown shut.",
                cycles(self.sheet.losses_allow)
            )
        });
        Panel {
            heading: "Makeup and blowdown".into(),
            chart,
            notes: note.into_iter().chain(outside).collect(),
        }
    }

    fn money(&self, costs: &Costs<'_>) -> Option<Panel> {
        let balances = self.balances();
        let costs_a_year = (costs.of)(&balances)?;
        let thousand = costs_a_year.iter().any(|cost| *cost >= 20_000.0);
        let factor = if thousand { 1e-3 } else { 1.0 };
        let points: Vec<(f64, f64)> = balances
            .iter()
            .zip(&costs_a_year)
            .map(|(balance, cost)| (balance.cycles_of_concentration, factor * cost))
            .collect();
        let from_two = points.iter().filter(|(cycles, _)| *cycles >= 1.6).map(|(_, cost)| *cost);
        let currency = match (costs.currency, thousand) {
            ("", false) => "a year".to_owned(),
            ("", true) => "thousands a year".to_owned(),
            (name, false) => format!("{name} a year"),
            (name, true) => format!("1000 {name} a year"),
        };
        let y = Axis::around(&currency, from_two.chain([0.0]), 5);
        let line = Layer::Line { points, colour: BLUE, width: 2.0, label: String::new() };
        let layers = [line].into_iter().chain(self.marks()).collect();
        let heading = "Cost of an operating year like this hour: water, sewer, energy, chemicals";
        let chart = Chart { x: self.axis(), y, layers, field: 130.0 };
        Some(Panel { heading: heading.into(), chart, notes: Vec::new() })
    }

    fn described(&self) -> String {
        let mut words = String::from("Every limit against cycles of concentration.");
        if let Some(target) = self.sheet.target_cycles {
            words += &format!(" Target: {} cycles.", cycles(target));
        }
        for binding in &self.sheet.bindings {
            if let Some(at) = binding.ceiling() {
                words += &format!(" {}: binds at {} cycles.", label(binding, false), cycles(at));
            }
        }
        words
    }
}

/// What a limit is on, how much it allows, who says so.
fn label(binding: &Binding, is_first: bool) -> String {
    let limit = &binding.limit;
    let side = if limit.bound == Bound::Most { "≤" } else { "≥" };
    let controls = if is_first { ": controls" } else { "" };
    format!(
        "{} {side} {} ({}){controls}",
        limit.measure.name(),
        limit.measure.shown_with_unit(limit.value),
        limit.of
    )
}

/// A water against a limit: the difference of an index, else %.
fn beyond(binding: &Binding, water: &ConcentratedWater) -> Option<f64> {
    let limit = &binding.limit;
    let value = limit.measure.of(water)?;
    let (high, low) = match limit.bound {
        Bound::Most => (value, limit.value),
        Bound::Least => (limit.value, value),
    };
    Some(match scale(limit.measure) {
        Scale::Difference => high - low,
        Scale::Share => 100.0 * high / low,
    })
}

/// Cycles at which a curve is computed, denser where it is steep.
fn cycles_of_curve(from: f64, to: f64) -> impl Iterator<Item = f64> {
    let ratio = (to / from).powf(1.0 / (POINTS - 1) as f64);
    (0..POINTS)
        .map(move |point| if point == POINTS - 1 { to } else { from * ratio.powi(point as i32) })
}

fn waters(tower: &TowerWater, to: f64) -> Vec<ConcentratedWater> {
    cycles_of_curve(1.0, to).map_while(|cycles| tower.at_cycles(cycles).ok()).collect()
}
