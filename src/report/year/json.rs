//! A year for programs.

use super::{Range, Year, transfer_name};
use crate::cost::Outflow;
use crate::model::{Balance, Fans, Peak, Sums, WetBulbAtLimit, YearHour, YearSheet};
use crate::readings::weather::missing;
use crate::report::check::{RefusedOut, RowsOut};
use crate::report::json::{AssumptionOut, SCHEMA};
use crate::report::warnings::{NoticeOut, notices_out};
use crate::tower::Arrangement;
use crate::water::ZERO_CELSIUS;
use serde::Serialize;

/// A month for programs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct HourOut {
    /// Begin.
    pub time: String,
    /// degC.
    pub dry_bulb_celsius: f64,
    /// degC.
    pub wet_bulb_celsius: f64,
    /// As a part of the design's.
    pub load: f64,
    /// degC.
    pub cold_water_celsius: Option<f64>,
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
    /// kPa.
    pub pressure_kpa: f64,
}

/// A largest value for programs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PeakOut {
    /// In the unit of its key.
    pub value: f64,
    /// Begin.
    pub time: String,
}

/// A year for programs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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
    pub rows: RowsOut,
    /// What was read of the weather.
    pub weather: WeatherOut,
    /// Months.
    pub months: Vec<MonthOut>,
    /// All of them.
    pub all: MonthOut,
    /// m3/h.
    pub peak_hour_m3_per_h: Option<PeakOut>,
    /// The hour of that: what the working shows.
    pub peak_hour: Option<HourOut>,
    /// A makeup line for the peak hour.
    pub makeup_line: Option<MakeupLineOut>,
    /// The load-duration curve of the makeup.
    pub makeup_exceeded: Vec<ExceededOut>,
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
    /// The same as a multiple of the makeup.
    pub as_designed_over_makeup: Option<f64>,
    /// Hours of the outage.
    pub outage_h: u32,
    /// degC.
    pub warmest_cold_water_celsius: Option<PeakOut>,
    /// Cold water that the fans hold.
    pub set_point_celsius: Option<f64>,
    /// Cold water above which it is too warm.
    pub limit_celsius: Option<f64>,
    /// degC.
    pub wet_bulb_at_limit_celsius: Option<f64>,
    /// Where there is no such wet bulb: the last one that was tried.
    pub wet_bulb_tried_celsius: Option<f64>,
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
    /// Water over the cells while there is load.
    pub circulation_m3_per_h: f64,
    /// By how much recirculation raises the wet bulb at the inlet, K.
    pub recirculation_kelvin: f64,
    /// Transfer characteristics.
    pub fills: Vec<FillOut>,
    /// What nobody stated of the run.
    pub assumptions: Vec<AssumptionOut>,
    /// What looks wrong.
    pub warnings: Vec<NoticeOut>,
    /// Hours that are missing, in all.
    pub hours_missing: u32,
    /// Hours that are missing: the first of each gap, and how many.
    pub missing: Vec<(String, u32)>,
    /// Lines that are not used.
    pub not_used: Vec<RefusedOut>,
    /// More of them, that are not listed.
    pub more_not_used: usize,
}

/// A transfer characteristic for programs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct FillOut {
    /// Part of the water.
    pub share: f64,
    /// Crossflow or counterflow.
    pub arrangement: Arrangement,
    /// `merkel` or `poppe`.
    pub transfer: &'static str,
    /// At the design point.
    pub water_to_air: f64,
    /// Of KaV/L = coefficient (L/G)^-exponent.
    pub coefficient: f64,
    /// Of the same.
    pub exponent: f64,
}

/// The makeup line for the peak hour, at the usual reserve and velocity.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct MakeupLineOut {
    /// What it carries.
    pub m3_per_h: f64,
    /// Bore of a full round pipe.
    pub bore_m: f64,
}

/// A point of the load-duration curve.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ExceededOut {
    /// Part of the hours that count.
    pub part: f64,
    /// Makeup that is exceeded in this part, m3/h.
    pub m3_per_h: f64,
}

/// What was read of the weather.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct WeatherOut {
    /// Hours that have weather.
    pub hours: usize,
    /// The first.
    pub from: Option<String>,
    /// The last.
    pub to: Option<String>,
    /// Whether the file has the pressure; else it is the site's.
    pub has_pressure: bool,
    /// Air.
    pub dry_bulb_celsius: Option<RangeOut>,
    /// Air.
    pub wet_bulb_celsius: Option<RangeOut>,
    /// Of the hours.
    pub mean_pressure_kpa: Option<f64>,
    /// Of the design.
    pub site_pressure_kpa: f64,
}

/// Least, mean and largest of many values.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct RangeOut {
    /// Least.
    pub least: f64,
    /// Mean.
    pub mean: f64,
    /// Largest.
    pub most: f64,
}

/// Parts of the hours at which the load-duration curve is given.
const CURVE: [f64; 14] = [0.0, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0];

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
    hours.iter().map(hour_out).collect()
}

fn hour_out(hour: &YearHour) -> HourOut {
    let m3_per_h = Balance::reference_m3_per_h;
    HourOut {
        time: hour.weather.time.to_string(),
        dry_bulb_celsius: hour.weather.air.dry_bulb_celsius,
        wet_bulb_celsius: hour.wet_bulb_celsius,
        load: hour.load,
        cold_water_celsius: hour.cold_water_celsius,
        fans: fans_name(hour.fans),
        fan_speed: hour.fan_speed,
        makeup_m3_per_h: m3_per_h(hour.water.makeup_kg_per_s),
        evaporation_m3_per_h: m3_per_h(hour.water.evaporation_kg_per_s),
        drift_m3_per_h: m3_per_h(hour.water.drift_kg_per_s),
        blowdown_m3_per_h: m3_per_h(hour.water.blowdown_kg_per_s),
        pressure_kpa: hour.weather.air.pressure_pascal / 1e3,
    }
}

fn weather_out(year: &Year<'_>) -> WeatherOut {
    let weather = year.weather;
    let time =
        |hour: Option<&crate::readings::weather::Hour>| hour.map(|hour| hour.time.to_string());
    let range = |Range { least, mean, most }| RangeOut { least, mean, most };
    WeatherOut {
        hours: weather.hours.len(),
        from: time(weather.hours.first()),
        to: time(weather.hours.last()),
        has_pressure: weather.has_pressure,
        dry_bulb_celsius: year.dry_bulb().map(range),
        wet_bulb_celsius: year.wet_bulb().map(range),
        mean_pressure_kpa: year.mean_pressure().map(|pascal| pascal / 1e3),
        site_pressure_kpa: year.plan.pressure_pascal() / 1e3,
    }
}

fn exceeded(sheet: &YearSheet) -> Vec<ExceededOut> {
    let point = |part| Some(ExceededOut { part, m3_per_h: sheet.exceeded_in(part)? });
    CURVE.into_iter().filter_map(point).collect()
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
    let run = year.run();
    let celsius = |kelvin: Option<f64>| kelvin.map(|kelvin| kelvin - ZERO_CELSIUS);
    let makeup = sheet.total.makeup();
    YearOut {
        schema: SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: year.source.into(),
        is_typical: year.weather.is_typical,
        rows: RowsOut::new(&year.weather.not_used),
        weather: weather_out(year),
        months: rows,
        all: all.unwrap_or_else(|| month_out("all".into(), &Sums::default(), false)),
        peak_hour_m3_per_h: peak(&sheet.peak_hour),
        peak_hour: year.peak_hour().map(hour_out),
        makeup_line: year
            .makeup_line()
            .map(|line| MakeupLineOut { m3_per_h: line.m3_per_h, bore_m: line.bore }),
        makeup_exceeded: exceeded(sheet),
        peak_day_m3: peak(&sheet.peak_day),
        storage_m3: sheet
            .outage
            .map(|outage| PeakOut { value: outage.makeup, time: outage.time.to_string() }),
        storage_without_blowdown_m3: sheet.outage.map(|outage| outage.makeup - outage.blowdown),
        basin_above_trip_m3: sheet.basin,
        makeup_as_designed_m3: sheet.as_designed,
        as_designed_over_makeup: (makeup > 0.0).then(|| sheet.as_designed / makeup),
        outage_h: sheet.outage_hours,
        warmest_cold_water_celsius: peak(&sheet.hottest),
        set_point_celsius: celsius(run.set_point_kelvin),
        limit_celsius: celsius(run.limit_kelvin),
        wet_bulb_at_limit_celsius: match sheet.wet_bulb_at_limit {
            Some(WetBulbAtLimit::At(wet_bulb)) => Some(wet_bulb),
            _ => None,
        },
        wet_bulb_tried_celsius: match sheet.wet_bulb_at_limit {
            Some(WetBulbAtLimit::HoldsTo(wet_bulb) | WetBulbAtLimit::FailsFrom(wet_bulb)) => {
                Some(wet_bulb)
            }
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
        circulation_m3_per_h: Balance::reference_m3_per_h(year.plan.circulation_kg_per_s()),
        recirculation_kelvin: year.plan.recirculation_kelvin(),
        fills: year
            .plan
            .fills()
            .map(|(fill, share, water_to_air)| FillOut {
                share,
                arrangement: fill.arrangement,
                transfer: transfer_name(fill.transfer),
                water_to_air,
                coefficient: fill.coefficient,
                exponent: fill.exponent,
            })
            .collect(),
        assumptions: year.assumed().into_iter().map(assumption_out).collect(),
        warnings: notices_out(&year.warnings()),
        hours_missing: year.hours_missing(),
        missing: missing(&year.weather.hours)
            .into_iter()
            .map(|(first, hours)| (first.to_string(), hours))
            .collect(),
        not_used: year
            .weather
            .not_used
            .listed
            .iter()
            .map(|refused| RefusedOut { line: refused.line, reason: refused.reason.clone() })
            .collect(),
        more_not_used: year.weather.not_used.more,
    }
}

fn assumption_out(assumed: super::Assumed) -> AssumptionOut {
    let super::Assumed { path, si, shown, basis, .. } = assumed;
    AssumptionOut { path: path.into(), si, shown, basis }
}
