//! A year of weather, as people and programs read it.

mod working;

pub use working::working;

use super::marks::end_of_head;
use super::text::{Style, heading, page_head, paragraph, write_line};
use crate::cost::Outflow;
use crate::model::{
    Balance, Fans, LINE_VELOCITY_M_PER_S, Outage, Peak, Sums, VALVE_OVER_DEMAND, WetBulbAtLimit,
    YearHour, YearPlan, YearSheet,
};
use crate::quantity::unit::{self, Unit};
use crate::quantity::{Quantity, UnitSystem, significant, with_decimals};
use crate::readings::weather::{Hour, Weather, missing};
use crate::site::{Given, SiteLoad};
use crate::tower::Arrangement;
use crate::tower::prediction::{CHARACTERISTIC, Transfer};
use crate::warnings::AEROSOL_CAUTION;
use jiff::civil::{Date, DateTime};
use serde::Serialize;

/// Gaps and lines that a page lists.
const MOST_LISTED: usize = 8;

const ICE_CAUTION: &str = "Ice: below 0 degC louvres, fill and fan blades ice up, and ice that falls hurts \
people and towers; fans are run and reversed for it as the maker says.";

/// A year with all that it rests on.
#[derive(Debug, Clone, Copy)]
pub struct Year<'a> {
    /// The site made ready.
    pub plan: &'a YearPlan<'a>,
    /// What the hours come to.
    pub sheet: &'a YearSheet,
    /// The weather as read.
    pub weather: &'a Weather,
    /// Names of site file and weather.
    pub source: &'a str,
}

/// A year as text of 80 columns.
pub fn text(year: &Year<'_>, style: Style) -> String {
    let page = Page { year, style };
    let mut text = String::new();
    page_head(&mut text, (&year.sheet.name, year.source), "Year", style.bold);
    super::check::caution(&mut text, &year.weather.not_used);
    heading(&mut text, "MONTHS", style.bold);
    page.months(&mut text);
    heading(&mut text, "PEAKS AND SIZES", style.bold);
    page.peaks(&mut text);
    heading(&mut text, "FANS AND COLD WATER", style.bold);
    page.fans(&mut text);
    heading(&mut text, "WEATHER", style.bold);
    page.weather(&mut text);
    heading(&mut text, "ASSUMED", style.bold);
    page.assumed(&mut text);
    super::marks::finished(text, style)
}

/// Bore of a full round pipe for a flow, m3/h, at the usual velocity, m: Q = v pi d^2 / 4.
fn line_bore(m3_per_h: f64) -> f64 {
    let area = m3_per_h / 3_600.0 / LINE_VELOCITY_M_PER_S;
    (4.0 * area / std::f64::consts::PI).sqrt()
}

struct Page<'a> {
    year: &'a Year<'a>,
    style: Style,
}

impl Page<'_> {
    fn unit(&self, quantity: Quantity) -> &'static Unit {
        quantity.shown_in(self.style.units)
    }

    fn volume(&self, m3: f64) -> String {
        significant(self.unit(Quantity::Volume).of_si(m3), 4)
    }

    fn flow(&self, m3_per_h: f64) -> String {
        let unit = self.unit(Quantity::VolumeFlow);
        format!("{} {}", significant(unit.of_si(m3_per_h / 3_600.0), 3), unit.symbol)
    }

    fn celsius(&self, celsius: f64) -> String {
        let unit = self.unit(Quantity::Temperature);
        format!(
            "{} {}",
            with_decimals(unit.of_si(celsius + crate::water::ZERO_CELSIUS), 1),
            unit.symbol
        )
    }

    fn month(&self, first: Date) -> String {
        let form = if self.year.weather.is_typical { "%b" } else { "%Y-%m" };
        first.strftime(form).to_string()
    }

    fn time(&self, time: DateTime) -> String {
        let form = if self.year.weather.is_typical { "%d %b, %H:%M" } else { "%Y-%m-%d %H:%M" };
        time.strftime(form).to_string()
    }

    fn day(&self, peak: &Peak) -> String {
        let form = if self.year.weather.is_typical { "%d %b" } else { "%Y-%m-%d" };
        peak.time.strftime(form).to_string()
    }

    fn months(&self, text: &mut String) {
        let sheet = self.year.sheet;
        let volume = self.unit(Quantity::Volume).symbol;
        let currency = sheet.currency.as_deref().unwrap_or("");
        let cells = |name: &str, cells: [&str; 7]| {
            let [hours, evaporation, blowdown, makeup, cost, fan, above] = cells;
            format!(
                "{name:<9}\u{1f}{hours:>6}\u{1f}{evaporation:>13}\u{1f}{blowdown:>11}\u{1f}{makeup:>11}\u{1f}{cost:>10}\u{1f}{fan:>8}\u{1f}{above:>10}"
            )
        };
        let money = if sheet.currency.is_some() { "cost" } else { "" };
        let head = ["hours", "evaporation", "blowdown", "makeup", money, "fans", "too warm"];
        write_line(text, &cells("", head));
        write_line(text, &cells("", ["", volume, volume, volume, currency, "%", "h"]));
        end_of_head(text);
        let mut row = |name: &str, sums: &Sums| {
            let cost =
                if sheet.currency.is_some() { significant(sums.cost, 4) } else { String::new() };
            write_line(
                text,
                &cells(
                    name,
                    [
                        &sums.hours.to_string(),
                        &self.volume(sums.stream(Outflow::Evaporation)),
                        &self.volume(sums.stream(Outflow::Blowdown)),
                        &self.volume(sums.makeup()),
                        &cost,
                        &with_decimals(100.0 * sums.mean_fan_speed(), 0),
                        &self.too_warm(sums),
                    ],
                ),
            );
        };
        for month in &sheet.months {
            row(&self.month(month.first), &month.sums);
        }
        row("all", &sheet.total);
        let total = &sheet.total;
        text.push('\n');
        let others = [Outflow::Drift, Outflow::Leakage, Outflow::Overflow]
            .map(|stream| format!("{} {}", stream.name(), self.volume(total.stream(stream))));
        let mut words = format!("Also in the makeup: {} {volume}.", others.join(", "));
        if let Some(credit) = sheet.sewer_credit {
            words += &format!(
                " Sewer is billed on makeup less evaporation: that credit is worth {} {currency}.",
                significant(credit, 4)
            );
        }
        if let Some(missed) = sheet.sewer_credit_missed {
            words += &format!(
                " Sewer is billed on all makeup: a credit for the evaporation would save {} {currency}; \
                 ask the utility for it.",
                significant(missed, 4)
            );
        }
        paragraph(text, "", &words);
        if total.makeup() > 0.0 {
            let words = format!(
                "Were every hour like the design point, it would be {} {volume}, {} times that.",
                self.volume(sheet.as_designed),
                significant(sheet.as_designed / total.makeup(), 3)
            );
            paragraph(text, "", &words);
        }
    }

    /// Hours above the limit; without one, above the set point.
    fn too_warm(&self, sums: &Sums) -> String {
        let year = &self.year.plan.model().site().year;
        match (year.limit_kelvin, year.set_point_kelvin) {
            (Some(_), _) => sums.above_limit.to_string(),
            (None, Some(_)) => sums.above_set_point.to_string(),
            (None, None) => "-".into(),
        }
    }

    fn peaks(&self, text: &mut String) {
        let sheet = self.year.sheet;
        let volume = self.unit(Quantity::Volume).symbol;
        if let Some(peak) = &sheet.peak_hour {
            let line = VALVE_OVER_DEMAND * peak.value;
            let metres = line_bore(line);
            let (velocity, inside) = match self.style.units {
                UnitSystem::Si => (
                    format!("{LINE_VELOCITY_M_PER_S} m/s"),
                    format!("{} mm", with_decimals(1e3 * metres, 0)),
                ),
                UnitSystem::UsCustomary => (
                    format!("{} ft/s", significant(LINE_VELOCITY_M_PER_S / unit::FOOT.factor, 2)),
                    format!("{} in", with_decimals(metres / 0.0254, 1)),
                ),
            };
            let words = format!(
                "Peak hour: {} on {}. A makeup line for {VALVE_OVER_DEMAND} times that (common practice) \
                 carries {}; at {velocity} it is {inside} inside.",
                self.flow(peak.value),
                self.time(peak.time),
                self.flow(line)
            );
            paragraph(text, "", &words);
        }
        if let Some(peak) = &sheet.peak_day {
            let words =
                format!("Peak day: {} {volume} on {}.", self.volume(peak.value), self.day(peak));
            paragraph(text, "", &words);
        }
        match &sheet.outage {
            Some(outage) => paragraph(text, "", &self.storage(outage)),
            None => paragraph(
                text,
                "",
                &format!(
                    "Storage: no {} hours follow each other in this weather.",
                    sheet.outage_hours
                ),
            ),
        }
        let duration = &sheet.duration;
        if duration.len() >= 100 {
            let at = |part: f64| self.flow(duration[(part * (duration.len() - 1) as f64) as usize]);
            let words = format!(
                "Makeup of the hours: exceeded in 1 % {}, in 10 % {}, in half {}, in 90 % {}.",
                at(0.01),
                at(0.1),
                at(0.5),
                at(0.9)
            );
            paragraph(text, "", &words);
        }
    }

    fn storage(&self, outage: &Outage) -> String {
        let sheet = self.year.sheet;
        let volume = self.unit(Quantity::Volume).symbol;
        let mut words = format!(
            "Storage for {} hours without makeup: {} {volume}, the worst such stretch, from {}; {} \
             {volume} with the blowdown shut, which lets the cycles rise.",
            sheet.outage_hours,
            self.volume(outage.makeup),
            self.time(outage.time),
            self.volume(outage.makeup - outage.blowdown)
        );
        if let Some(basin) = sheet.basin {
            words += &format!(
                " Of it the basin holds {} {volume}, from its operating level down to the pumps' trip.",
                self.volume(basin)
            );
        }
        words
    }

    fn fans(&self, text: &mut String) {
        let sheet = self.year.sheet;
        let year = &self.year.plan.model().site().year;
        let fans = &sheet.fans;
        let set_point = match year.set_point_kelvin {
            Some(kelvin) => {
                format!("Set point {}", self.celsius(kelvin - crate::water::ZERO_CELSIUS))
            }
            None => "No set point: the fans run at full speed".into(),
        };
        let hours = [
            (fans.full, "full speed"),
            (fans.slowed, "slowed down"),
            (fans.cycling, "on and off"),
            (fans.off, "off"),
            (fans.idle, "no load"),
            (fans.freezing, "off, and the water would freeze"),
            (fans.failed, "the tower fails, not counted"),
        ]
        .into_iter()
        .filter(|(hours, _)| *hours > 0)
        .map(|(hours, what)| format!("{what} {hours} h"))
        .collect::<Vec<_>>()
        .join(", ");
        paragraph(text, "", &format!("{set_point}. {hours}."));
        if let Some(hottest) = &sheet.hottest {
            let words = format!(
                "Warmest cold water: {} on {}.",
                self.celsius(hottest.value),
                self.time(hottest.time)
            );
            paragraph(text, "", &words);
        }
        if let Some(limit) = year.limit_kelvin {
            let reached = match sheet.wet_bulb_at_limit {
                Some(WetBulbAtLimit::At(wet_bulb)) => {
                    format!("reached at a wet bulb of {}", self.celsius(wet_bulb))
                }
                Some(WetBulbAtLimit::FailsFrom(wet_bulb)) => {
                    format!("exceeded at every wet bulb, even at {}", self.celsius(wet_bulb))
                }
                Some(WetBulbAtLimit::HoldsTo(wet_bulb)) => {
                    format!("reached at none, up to a wet bulb of {}", self.celsius(wet_bulb))
                }
                None => String::new(),
            };
            let words = format!(
                "Limit {}: {reached}, with full load and full fans; above it {} h.",
                self.celsius(limit - crate::water::ZERO_CELSIUS),
                sheet.total.above_limit
            );
            paragraph(text, "", &words);
        }
        if sheet.far_from_design > 0 {
            let words = format!(
                "In {} h water to air is more than 2.5 times the design's, or less than 1 / 2.5 of it: \
                 further than characteristics are measured.",
                sheet.far_from_design
            );
            paragraph(text, "", &words);
        }
        let is_cold = self.year.weather.hours.iter().any(|hour| hour.air.dry_bulb_celsius < 0.0);
        if is_cold {
            paragraph(text, "", ICE_CAUTION);
        }
        paragraph(text, "", AEROSOL_CAUTION);
    }

    fn weather(&self, text: &mut String) {
        let weather = self.year.weather;
        let gaps = missing(&weather.hours);
        let all: u32 = gaps.iter().map(|(_, hours)| hours).sum();
        let mut words = format!("{} hours", weather.hours.len());
        if let (Some(first), Some(last)) = (weather.hours.first(), weather.hours.last()) {
            let form = if weather.is_typical { "%d %b %H:%M" } else { "%Y-%m-%d %H:%M" };
            words +=
                &format!(" from {} to {}", first.time.strftime(form), last.time.strftime(form));
        }
        if !weather.has_pressure {
            words += ", at the site's pressure";
        }
        if weather.is_typical {
            words += ", typical months of several years (TMY3)";
        }
        words += match all {
            0 => ", none missing.",
            _ => ".",
        };
        paragraph(text, "", &words);
        if let Some(words) = self.temperatures() {
            paragraph(text, "", &words);
        }
        if let Some(words) = self.pressure() {
            paragraph(text, "", &words);
        }
        if all > 0 {
            let listed: Vec<String> = gaps
                .iter()
                .take(MOST_LISTED)
                .map(|(first, hours)| format!("{hours} from {}", first.strftime("%Y-%m-%d %H:%M")))
                .collect();
            let more = if gaps.len() > MOST_LISTED { ", ..." } else { "" };
            let words = format!(
                "Missing: {all} hours ({}{more}). They are in no sum; nothing is filled in.",
                listed.join(", ")
            );
            paragraph(text, "", &words);
        }
        for refused in weather.not_used.listed.iter().take(MOST_LISTED) {
            paragraph(text, "", &format!("line {}: {}", refused.line, refused.reason));
        }
        let more =
            weather.not_used.listed.len().saturating_sub(MOST_LISTED) + weather.not_used.more;
        if more > 0 {
            paragraph(text, "", &format!("... and {more} more; json lists them."));
        }
        if let Some(words) = weather.not_used.order_in_words() {
            paragraph(text, "", &words);
        }
    }

    /// Coldest, mean and hottest air: a column read in the wrong unit shows here.
    fn temperatures(&self) -> Option<String> {
        let hours = &self.year.weather.hours;
        let range = |of: &dyn Fn(&Hour) -> f64| {
            let known = || hours.iter().map(of).filter(|celsius| celsius.is_finite());
            let count = known().count();
            (count > 0).then(|| {
                format!(
                    "{} to {}, mean {}",
                    self.celsius(known().fold(f64::INFINITY, f64::min)),
                    self.celsius(known().fold(f64::NEG_INFINITY, f64::max)),
                    self.celsius(known().sum::<f64>() / count as f64)
                )
            })
        };
        let dry = range(&|hour| hour.air.dry_bulb_celsius)?;
        let wet = range(&|hour| hour.air.wet_bulb_celsius().unwrap_or(f64::NAN))?;
        Some(format!("Dry bulb {dry}; wet bulb {wet}."))
    }

    /// Says where the file's pressure is not that of the design: a station at another height, or a
    /// pressure that was corrected to sea level.
    fn pressure(&self) -> Option<String> {
        /// As a part: some 80 m of height, more than weather makes of a year's mean.
        const NOTABLE: f64 = 0.01;
        let weather = self.year.weather;
        let sum: f64 = weather.hours.iter().map(|hour| hour.air.pressure_pascal).sum();
        let (mean, own) = (sum / weather.hours.len() as f64, self.year.plan.pressure_pascal());
        let differs = weather.has_pressure && (mean / own - 1.0).abs() > NOTABLE;
        let unit = self.unit(Quantity::Pressure);
        let shown = |pascal: f64| format!("{} {}", significant(unit.of_si(pascal), 3), unit.symbol);
        differs.then(|| {
            format!(
                "The file's mean pressure is {}, the site's {}: the file's is used. A station at another \
                 height, or a pressure corrected to sea level?",
                shown(mean),
                shown(own)
            )
        })
    }

    fn assumed(&self, text: &mut String) {
        let plan = self.year.plan;
        let year = &plan.model().site().year;
        for (fill, share, water_to_air) in plan.fills() {
            let arrangement = match fill.arrangement {
                Arrangement::Counterflow => "counterflow",
                Arrangement::Crossflow => "crossflow",
            };
            let transfer = match fill.transfer {
                Transfer::Merkel => "merkel",
                Transfer::Poppe => "poppe",
            };
            let origin =
                if year.coefficient.is_some() { "as stated" } else { "fitted to the design point" };
            let words = format!(
                "Fill of {} % of the water ({arrangement}, {transfer}): KaV/L = {} (L/G)^-{}, {origin} at \
                 L/G {}.",
                with_decimals(100.0 * share, 0),
                significant(fill.coefficient, 4),
                significant(fill.exponent, 2),
                significant(water_to_air, 3)
            );
            paragraph(text, "", &words);
        }
        paragraph(text, "", &format!("The form of the characteristic: {}.", CHARACTERISTIC.source));
        let percent = |part: f64| format!("{} %", significant(100.0 * part, 2));
        let given: [(&str, &Given, String); 4] = [
            ("year.transfer_exponent", &year.exponent, significant(year.exponent.si, 2)),
            ("year.least_fan_speed", &year.least_fan_speed, percent(year.least_fan_speed.si)),
            ("year.natural_draught", &year.natural_draught, percent(year.natural_draught.si)),
            (
                "year.outage",
                &year.outage_seconds,
                format!("{} h", significant(year.outage_seconds.si / 3_600.0, 3)),
            ),
        ];
        for (path, given, shown) in given {
            if let Some(basis) = given.assumed {
                paragraph(text, "", &format!("{path} = {shown}: {basis}"));
            }
        }
        if let SiteLoad::Constant(Given { assumed: Some(basis), .. }) = &year.load
            && self.year.weather.hours.iter().any(|hour| hour.load.is_none())
        {
            paragraph(text, "", &format!("year.load = 100 %: {basis}"));
        }
        paragraph(
            text,
            "",
            "Fans move a constant volume at a speed; water circulates at the design's flow while there is \
             load; no droplets leave where fans stand. An hour rests on its own weather alone.",
        );
    }
}

/// A month for programs.
#[derive(Debug, Serialize)]
pub struct MonthOut {
    /// First day, or `all`.
    pub month: String,
    /// Hours that count.
    pub hours: u32,
    /// m3 at 20 degC.
    pub makeup_m3: f64,
    /// m3 at 20 degC.
    pub evaporation_m3: f64,
    /// m3 at 20 degC.
    pub drift_m3: f64,
    /// m3 at 20 degC.
    pub blowdown_m3: f64,
    /// m3 at 20 degC.
    pub leakage_m3: f64,
    /// m3 at 20 degC.
    pub overflow_m3: f64,
    /// Mean fan speed, 0 to 1.
    pub fan_speed: f64,
    /// Hours with the cold water above the set point.
    pub hours_above_set_point: u32,
    /// Hours with the cold water above the limit.
    pub hours_above_limit: u32,
    /// In the currency of the site.
    pub cost: Option<f64>,
}

/// An hour for programs.
#[derive(Debug, Serialize)]
pub struct HourOut {
    /// Begin.
    pub time: String,
    /// degC.
    pub dry_bulb_degc: f64,
    /// degC.
    pub wet_bulb_degc: f64,
    /// As a part of the design's.
    pub load: f64,
    /// degC.
    pub cold_water_degc: Option<f64>,
    /// `full`, `slowed`, `cycling`, `off`, `idle`, `freezing` or `failed`.
    pub fans: &'static str,
    /// 0 to 1.
    pub fan_speed: f64,
    /// m3/h at 20 degC.
    pub makeup_m3_per_h: f64,
    /// m3/h at 20 degC.
    pub evaporation_m3_per_h: f64,
    /// m3/h at 20 degC.
    pub drift_m3_per_h: f64,
    /// m3/h at 20 degC.
    pub blowdown_m3_per_h: f64,
}

/// A largest value for programs.
#[derive(Debug, Serialize)]
pub struct PeakOut {
    /// In the unit of its key.
    pub value: f64,
    /// Begin.
    pub time: String,
}

/// A year for programs.
#[derive(Debug, Serialize)]
pub struct YearOut {
    /// Version of this form.
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where site and weather came from.
    pub source: String,
    /// Whether the months are typical ones, of no year.
    pub is_typical: bool,
    /// Rows read, and used.
    #[serde(flatten)]
    pub rows: super::check::RowsOut,
    /// Months.
    pub months: Vec<MonthOut>,
    /// All of them.
    pub all: MonthOut,
    /// m3/h.
    pub peak_hour_m3_per_h: Option<PeakOut>,
    /// m3.
    pub peak_day_m3: Option<PeakOut>,
    /// m3 in so many hours as the outage has.
    pub storage_m3: Option<PeakOut>,
    /// The same with the blowdown shut, m3.
    pub storage_without_blowdown_m3: Option<f64>,
    /// What the basin holds of it, m3.
    pub basin_above_trip_m3: Option<f64>,
    /// Makeup if every hour were the design's, m3.
    pub makeup_as_designed_m3: f64,
    /// Hours of the outage.
    pub outage_h: u32,
    /// degC.
    pub warmest_cold_water_degc: Option<PeakOut>,
    /// degC.
    pub wet_bulb_at_limit_degc: Option<f64>,
    /// Where there is no such wet bulb: whether the limit holds at all of them.
    pub limit_always_holds: Option<bool>,
    /// Hours by what the fans did.
    pub fan_hours: std::collections::BTreeMap<&'static str, u32>,
    /// Hours with a water-to-air ratio far from the design's.
    pub hours_far_from_design: u32,
    /// Money that evaporation does not cost at the sewer.
    pub sewer_credit: Option<f64>,
    /// Money that it does cost where the sewer is billed on all makeup.
    pub sewer_credit_missed: Option<f64>,
    /// Currency.
    pub currency: Option<String>,
    /// Transfer characteristics.
    pub fills: Vec<FillOut>,
    /// Hours that are missing: the first of each gap, and how many.
    pub missing: Vec<(String, u32)>,
    /// Lines that are not used.
    pub not_used: Vec<super::check::RefusedOut>,
    /// More of them, that are not listed.
    pub more_not_used: usize,
}

/// A transfer characteristic for programs.
#[derive(Debug, Serialize)]
pub struct FillOut {
    /// Part of the water.
    pub share: f64,
    /// Crossflow or counterflow.
    pub arrangement: Arrangement,
    /// At the design point.
    pub water_to_air: f64,
    /// Of KaV/L = coefficient (L/G)^-exponent.
    pub coefficient: f64,
    /// Of the same.
    pub exponent: f64,
}

fn month_out(name: String, sums: &Sums, has_prices: bool) -> MonthOut {
    MonthOut {
        month: name,
        hours: sums.hours,
        makeup_m3: sums.makeup(),
        evaporation_m3: sums.stream(Outflow::Evaporation),
        drift_m3: sums.stream(Outflow::Drift),
        blowdown_m3: sums.stream(Outflow::Blowdown),
        leakage_m3: sums.stream(Outflow::Leakage),
        overflow_m3: sums.stream(Outflow::Overflow),
        fan_speed: sums.mean_fan_speed(),
        hours_above_set_point: sums.above_set_point,
        hours_above_limit: sums.above_limit,
        cost: has_prices.then_some(sums.cost),
    }
}

/// Months, and all of them, for programs.
pub fn months(sheet: &YearSheet) -> Vec<MonthOut> {
    let has_prices = sheet.currency.is_some();
    let month = |month: &crate::model::Month| {
        month_out(month.first.strftime("%Y-%m").to_string(), &month.sums, has_prices)
    };
    let all = month_out("all".into(), &sheet.total, has_prices);
    sheet.months.iter().map(month).chain([all]).collect()
}

/// Hours for programs.
pub fn hours(hours: &[YearHour]) -> Vec<HourOut> {
    let out = |hour: &YearHour| {
        let m3_per_h = |kg_per_s| Balance::reference_m3_per_h(kg_per_s);
        HourOut {
            time: hour.weather.time.to_string(),
            dry_bulb_degc: hour.weather.air.dry_bulb_celsius,
            wet_bulb_degc: hour.wet_bulb_celsius,
            load: hour.load,
            cold_water_degc: hour.cold_water_celsius,
            fans: fans_name(hour.fans),
            fan_speed: hour.fan_speed,
            makeup_m3_per_h: m3_per_h(hour.water.makeup_kg_per_s),
            evaporation_m3_per_h: m3_per_h(hour.water.evaporation_kg_per_s),
            drift_m3_per_h: m3_per_h(hour.water.drift_kg_per_s),
            blowdown_m3_per_h: m3_per_h(hour.water.blowdown_kg_per_s),
        }
    };
    hours.iter().map(out).collect()
}

fn fans_name(fans: Fans) -> &'static str {
    match fans {
        Fans::Full => "full",
        Fans::Slowed => "slowed",
        Fans::Cycling => "cycling",
        Fans::Off => "off",
        Fans::Idle => "idle",
        Fans::Freezing => "freezing",
        Fans::Failed => "failed",
    }
}

/// A year for programs.
pub fn json(year: &Year<'_>) -> YearOut {
    let sheet = year.sheet;
    let peak = |peak: &Option<Peak>| {
        peak.as_ref().map(|peak| PeakOut { value: peak.value, time: peak.time.to_string() })
    };
    let mut rows = months(sheet);
    let all = rows.pop();
    let fans = &sheet.fans;
    YearOut {
        schema: super::json::SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: year.source.into(),
        is_typical: year.weather.is_typical,
        rows: super::check::RowsOut::new(&year.weather.not_used),
        months: rows,
        all: all.unwrap_or_else(|| month_out("all".into(), &Sums::default(), false)),
        peak_hour_m3_per_h: peak(&sheet.peak_hour),
        peak_day_m3: peak(&sheet.peak_day),
        storage_m3: sheet
            .outage
            .map(|outage| PeakOut { value: outage.makeup, time: outage.time.to_string() }),
        storage_without_blowdown_m3: sheet.outage.map(|outage| outage.makeup - outage.blowdown),
        basin_above_trip_m3: sheet.basin,
        makeup_as_designed_m3: sheet.as_designed,
        outage_h: sheet.outage_hours,
        warmest_cold_water_degc: peak(&sheet.hottest),
        wet_bulb_at_limit_degc: match sheet.wet_bulb_at_limit {
            Some(WetBulbAtLimit::At(wet_bulb)) => Some(wet_bulb),
            _ => None,
        },
        limit_always_holds: match sheet.wet_bulb_at_limit {
            Some(WetBulbAtLimit::HoldsTo(_)) => Some(true),
            Some(WetBulbAtLimit::FailsFrom(_)) => Some(false),
            _ => None,
        },
        fan_hours: [
            ("full", fans.full),
            ("slowed", fans.slowed),
            ("cycling", fans.cycling),
            ("off", fans.off),
            ("idle", fans.idle),
            ("freezing", fans.freezing),
            ("failed", fans.failed),
        ]
        .into(),
        hours_far_from_design: sheet.far_from_design,
        sewer_credit: sheet.sewer_credit,
        sewer_credit_missed: sheet.sewer_credit_missed,
        currency: sheet.currency.clone(),
        fills: year
            .plan
            .fills()
            .map(|(fill, share, water_to_air)| FillOut {
                share,
                arrangement: fill.arrangement,
                water_to_air,
                coefficient: fill.coefficient,
                exponent: fill.exponent,
            })
            .collect(),
        missing: missing(&year.weather.hours)
            .into_iter()
            .map(|(first, hours)| (first.to_string(), hours))
            .collect(),
        not_used: year
            .weather
            .not_used
            .listed
            .iter()
            .map(|refused| super::check::RefusedOut {
                line: refused.line,
                reason: refused.reason.clone(),
            })
            .collect(),
        more_not_used: year.weather.not_used.more,
    }
}
