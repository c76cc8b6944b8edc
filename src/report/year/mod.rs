//! A year of weather, as people and programs read it.

mod answer;
mod detail;
mod json;
mod working;

pub use json::{
    ExceededOut, FillOut, HourOut, MakeupLineOut, MonthOut, PeakOut, RangeOut, WeatherOut, YearOut,
    hours, json, months,
};
pub use working::working;

use super::page::Page;
use super::shown;
use crate::model::{LINE_VELOCITY_M_PER_S, VALVE_OVER_DEMAND, YearHour, YearPlan, YearSheet};
use crate::quantity::{Quantity, UnitSystem, significant};
use crate::readings::weather::{Hour, Weather, missing};
use crate::site::{Given, SiteLoad, SiteYear};
use crate::tower::prediction::Transfer;
use crate::warnings::Noticed;
use crate::water::ZERO_CELSIUS;
use jiff::civil::DateTime;

/// A year with all that it rests on.
#[derive(Debug, Clone, Copy)]
pub struct Year<'a> {
    /// The site made ready.
    pub plan: &'a YearPlan<'a>,
    /// What the hours come to.
    pub sheet: &'a YearSheet,
    /// The hours that it was summed from.
    pub hours: &'a [YearHour],
    /// The weather as read.
    pub weather: &'a Weather,
    /// Names of site file and weather.
    pub source: &'a str,
}

/// The page.
pub fn page(year: &Year<'_>, units: UnitSystem) -> Page {
    let mut page = Page::new(&year.sheet.name, "Year", year.source);
    let of = Of { year, units };
    page.answer = of.answer();
    page.detail = of.detail();
    page
}

impl Year<'_> {
    /// All that stands to warn of: of the sums, and of the weather's file.
    pub fn warnings(&self) -> Vec<Noticed> {
        let of_file = self.weather.not_used.noticed();
        self.sheet.warnings.iter().cloned().chain(of_file).collect()
    }

    /// How the site file says that the tower is run.
    fn run(&self) -> &SiteYear {
        &self.plan.model().site().year
    }

    /// The hour with the largest makeup; none where no hour counts.
    fn peak_hour(&self) -> Option<&YearHour> {
        let counted = self.hours.iter().filter(|hour| hour.cold_water_celsius.is_some());
        counted.max_by(|a, b| a.water.makeup_kg_per_s.total_cmp(&b.water.makeup_kg_per_s))
    }

    fn time(&self, time: DateTime) -> String {
        self.dated(time, ["%d %b, %H:%M", "%Y-%m-%d %H:%M"])
    }

    fn day(&self, time: DateTime) -> String {
        self.dated(time, ["%d %b", "%Y-%m-%d"])
    }

    /// A time by one form in typical months, which are of no year, and by another elsewhere.
    fn dated(&self, time: DateTime, [typical, real]: [&str; 2]) -> String {
        time.strftime(if self.weather.is_typical { typical } else { real }).to_string()
    }

    /// The makeup line for the peak hour.
    fn makeup_line(&self) -> Option<MakeupLine> {
        let m3_per_h = VALVE_OVER_DEMAND * self.sheet.peak_hour?.value;
        Some(MakeupLine { m3_per_h, bore: line_bore(m3_per_h) })
    }

    /// What nobody stated of the run.
    fn assumed(&self) -> Vec<Assumed> {
        let run = self.run();
        let load = match &run.load {
            SiteLoad::Constant(load)
                if self.weather.hours.iter().any(|hour| hour.load.is_none()) =>
            {
                Some(("load of every hour", "year.load", *load, shown::percent(load.si, 2)))
            }
            _ => None,
        };
        let hours = |seconds: f64| shown::hours(seconds / 3_600.0, 3);
        let (exponent, outage) = (run.exponent, run.outage_seconds);
        let [least, draught] = [run.least_fan_speed, run.natural_draught];
        [
            (
                "how the fill answers to air flow",
                "year.transfer_exponent",
                exponent,
                significant(exponent.si, 2),
            ),
            ("slowest fan speed", "year.least_fan_speed", least, shown::percent(least.si, 2)),
            (
                "air that moves without fans",
                "year.natural_draught",
                draught,
                shown::percent(draught.si, 2),
            ),
            ("time without makeup", "year.outage", outage, hours(outage.si)),
        ]
        .into_iter()
        .chain(load)
        .filter_map(|(what, path, Given { si, assumed }, shown)| {
            Some(Assumed { what, path, si, shown, basis: assumed? })
        })
        .collect()
    }

    /// Least, mean and largest of what the hours of the weather have, of those that have it.
    fn range(&self, of: impl Fn(&Hour) -> f64) -> Option<Range> {
        let known = || self.weather.hours.iter().map(&of).filter(|value| value.is_finite());
        let count = known().count();
        (count > 0).then(|| Range {
            least: known().fold(f64::INFINITY, f64::min),
            mean: known().sum::<f64>() / count as f64,
            most: known().fold(f64::NEG_INFINITY, f64::max),
        })
    }

    fn dry_bulb(&self) -> Option<Range> {
        self.range(|hour| hour.air.dry_bulb_celsius)
    }

    fn wet_bulb(&self) -> Option<Range> {
        self.range(|hour| hour.air.wet_bulb_celsius().unwrap_or(f64::NAN))
    }

    /// Hours without weather between the first and the last.
    fn hours_missing(&self) -> u32 {
        missing(&self.weather.hours).iter().map(|(_, hours)| hours).sum()
    }

    fn mean_pressure(&self) -> Option<f64> {
        Some(self.range(|hour| hour.air.pressure_pascal)?.mean)
    }
}

struct MakeupLine {
    m3_per_h: f64,
    /// m.
    bore: f64,
}

/// Bore of a full round pipe for a flow, m3/h, at the usual velocity, m: Q = v pi d^2 / 4.
fn line_bore(m3_per_h: f64) -> f64 {
    let area = m3_per_h / 3_600.0 / LINE_VELOCITY_M_PER_S;
    (4.0 * area / std::f64::consts::PI).sqrt()
}

struct Assumed {
    what: &'static str,
    path: &'static str,
    si: f64,
    shown: String,
    basis: &'static str,
}

struct Range {
    least: f64,
    mean: f64,
    most: f64,
}

fn transfer_name(transfer: Transfer) -> &'static str {
    match transfer {
        Transfer::Merkel => "merkel",
        Transfer::Poppe => "poppe",
    }
}

struct Of<'a> {
    year: &'a Year<'a>,
    units: UnitSystem,
}

impl Of<'_> {
    /// Digits of a volume and of money.
    const DIGITS: usize = 4;

    fn volume_unit(&self) -> &'static str {
        Quantity::Volume.shown_in(self.units).symbol
    }

    /// A volume without its unit.
    fn plain_volume(&self, m3: f64) -> String {
        significant(Quantity::Volume.shown_in(self.units).of_si(m3), Self::DIGITS)
    }

    fn volume(&self, m3: f64) -> String {
        format!("{} {}", self.plain_volume(m3), self.volume_unit())
    }

    fn flow(&self, m3_per_h: f64) -> String {
        shown::flow(m3_per_h, self.units, 3)
    }

    fn celsius(&self, celsius: f64) -> String {
        shown::shown_at(Quantity::Temperature, celsius + ZERO_CELSIUS, self.units, 3)
    }

    /// Money in the currency of the site.
    fn money(&self, amount: f64) -> String {
        let currency = self.year.sheet.currency.as_deref().unwrap_or_default();
        format!("{} {currency}", significant(amount, Self::DIGITS)).trim_end().into()
    }
}
