//! The course of a tower over the technician's visits as a picture: cycles, conductivity, what is lost on
//! the way.

use super::axis::{Axis, days_between};
use super::chart::{Chart, Layer, Panel};
use super::colour::{BLUE, GREEN, INK, SKY, VERMILLION};
use super::frame::Frame;
use super::{Look, Picture, source, title};
use crate::blowdown::own_test::Standing;
use crate::chemistry::Constituent;
use crate::model::{Visit, VisitsSheet};
use crate::quantity::with_decimals;
use crate::report::visits::lost;
use jiff::ToSpan;
use jiff::civil::DateTime;

/// Coverage factor of the band, as in print.
const COVERAGE: f64 = 2.0;

/// A course; `from` names the files.
pub fn visits(sheet: &VisitsSheet, from: &str, look: Look) -> Picture {
    let name = if sheet.target.name.is_empty() { from } else { &sheet.target.name };
    let mut frame = Frame::new(&title("Visits", name), &source(from), look.width);
    let (Some(first), Some(last)) = (sheet.visits.first(), sheet.visits.last()) else {
        return frame.finish();
    };
    let time = |visit: &Visit| visit.day.at(0, 0, 0, 0);
    let end = time(last).checked_add(1.day()).unwrap_or(time(last));
    let page = Page { sheet, look, begin: time(first), end };
    frame.describe(&page.described(last));
    let panels: Vec<Panel> =
        [page.cycles(), page.conductivity(), page.losses()].into_iter().flatten().collect();
    Panel::draw_all(&panels, &mut frame);
    frame.finish()
}

struct Page<'a> {
    sheet: &'a VisitsSheet,
    look: Look,
    begin: DateTime,
    end: DateTime,
}

impl Page<'_> {
    fn described(&self, last: &Visit) -> String {
        let of_last = last.real.as_ref().map_or_else(String::new, |real| {
            format!(": {} cycles at the last one", with_decimals(real.cycles, 2))
        });
        format!(
            "Real cycles, conductivity and losses over {} visits{of_last}.",
            self.sheet.visits.len()
        )
    }

    fn points(&self, of: impl Fn(&Visit) -> Option<f64>) -> Vec<(f64, f64)> {
        let at = |visit: &Visit| days_between(self.begin, visit.day.at(0, 0, 0, 0));
        self.sheet.visits.iter().filter_map(|visit| Some((at(visit), of(visit)?))).collect()
    }

    fn panel(&self, heading: &str, y: Axis, layers: Vec<Layer>) -> Panel {
        let most = if self.look.width.is_phone() { 4 } else { 8 };
        let x = Axis::times((self.begin, self.end), most);
        let chart = Chart { x, y, layers, field: 150.0 };
        Panel { heading: heading.into(), chart, notes: Vec::new() }
    }

    fn cycles(&self) -> Option<Panel> {
        let real = |visit: &Visit| {
            visit.real.clone().filter(|real| real.standing != Standing::Contradictory)
        };
        let points = self.points(|visit| real(visit).map(|real| real.cycles));
        let errors = self.points(|visit| real(visit).map(|real| COVERAGE * real.standard));
        let band: Vec<(f64, f64, f64)> = points
            .iter()
            .zip(&errors)
            .map(|((day, cycles), (_, error))| (*day, cycles - error, cycles + error))
            .collect();
        let target = self.sheet.target.target_cycles;
        let ends = band.iter().flat_map(|(_, low, high)| [*low, *high]).chain(target);
        let y = Axis::around("", ends, 5);
        let mut layers =
            vec![Layer::Band { points: band, colour: SKY, label: "± of the test (k=2)".into() }];
        layers.extend(lined(points.clone(), BLUE, "real cycles"));
        layers.extend(target.map(|at| Layer::Level {
            at,
            colour: GREEN,
            label: format!("target, {}", with_decimals(at, 2)),
        }));
        (!points.is_empty()).then(|| self.panel("Cycles of concentration", y, layers))
    }

    fn conductivity(&self) -> Option<Panel> {
        let tower = self.points(|visit| visit.tower.conductivity.map(|found| 1e4 * found.value));
        let makeup = self.points(|visit| visit.makeup_conductivity.map(|siemens| 1e4 * siemens));
        let values = tower.iter().chain(&makeup).map(|(_, value)| *value);
        let y = Axis::around("uS/cm", values.chain([0.0]), 5);
        let layers = lined(tower.clone(), INK, "tower")
            .into_iter()
            .chain(lined(makeup, BLUE, "makeup, as last measured"))
            .collect();
        (!tower.is_empty()).then(|| self.panel("Conductivity", y, layers))
    }

    fn losses(&self) -> Option<Panel> {
        let of =
            |constituent| self.points(|visit| lost(visit, constituent).map(|part| 100.0 * part));
        let (calcium, alkalinity) = (of(Constituent::Calcium), of(Constituent::Alkalinity));
        let values = calcium.iter().chain(&alkalinity).map(|(_, part)| *part);
        let y = Axis::around("%", values.chain([0.0, 10.0]), 5);
        let is_tested = !calcium.is_empty() || !alkalinity.is_empty();
        let layers = lined(calcium, VERMILLION, "calcium")
            .into_iter()
            .chain(lined(alkalinity, BLUE, "alkalinity"))
            .collect();
        is_tested.then(|| self.panel("Lost on the way, of what the makeup brings", y, layers))
    }
}

/// A line with its points; nothing without any.
fn lined(points: Vec<(f64, f64)>, colour: plotters::style::RGBColor, label: &str) -> Vec<Layer> {
    if points.is_empty() {
        return Vec::new();
    }
    vec![
        Layer::Points { points: points.clone(), colour, filled: true, label: String::new() },
        Layer::Line { points, colour, width: 1.6, label: label.into() },
    ]
}
