//! A site as somebody describes it: plain optional values, built in code or read from a file.
//!
//! Nothing here is checked beyond its unit; [`validate`](super::validate()) does that.

use crate::quantity::{
    AirFlow, AnnualHours, Concentration, Conductivity, Fraction, Length, Power, Pressure, Ratio,
    RelativeHumidity, Share, Stated, Temperature, TemperatureDifference, Volume, WaterFlow,
    WaterPrice,
};
pub use crate::tower::Arrangement;
use serde::Deserialize;

/// One circulating system: cells on one basin, with their makeup.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Description {
    /// Version of the file format; 1.
    pub coldbasin: Option<i64>,
    /// What people call the site.
    pub name: Option<String>,
    /// The air that enters.
    pub air: Option<Air>,
    /// The water that circulates.
    pub circuit: Option<Circuit>,
    /// The cells; one counterflow cell is assumed without any.
    pub cell: Vec<Cell>,
    /// How evaporation is found.
    pub evaporation: Option<Evaporation>,
    /// What is drained on purpose.
    pub blowdown: Option<Blowdown>,
    /// What is lost otherwise.
    pub losses: Option<Losses>,
    /// Where the makeup comes from.
    pub makeup: Vec<Makeup>,
    /// What the water costs.
    pub cost: Option<Cost>,
}

/// The air entering the tower: two of dry bulb, wet bulb, relative humidity and dew point.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Air {
    /// Dry-bulb temperature.
    pub dry_bulb: Option<Stated<Temperature>>,
    /// Wet-bulb temperature.
    pub wet_bulb: Option<Stated<Temperature>>,
    /// Relative humidity.
    pub relative_humidity: Option<Stated<RelativeHumidity>>,
    /// Dew point.
    pub dew_point: Option<Stated<Temperature>>,
    /// Height above the sea, from which the standard-atmosphere pressure follows.
    pub altitude: Option<Stated<Length>>,
    /// Station pressure, not corrected to sea level.
    pub pressure: Option<Stated<Pressure>>,
    /// By how much exit air that is drawn in again raises the entering wet bulb. The dry bulb stays,
    /// unless the raised wet bulb passes it: then the entering air is saturated.
    pub recirculation: Option<Stated<TemperatureDifference>>,
}

/// The circulating water: any two of circulation, range (or hot and cold water) and heat load.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Circuit {
    /// Water over all cells in service; by volume at the hot-water temperature.
    pub circulation: Option<Stated<WaterFlow>>,
    /// Water entering the tower.
    pub hot_water: Option<Stated<Temperature>>,
    /// Water leaving the tower, mixed.
    pub cold_water: Option<Stated<Temperature>>,
    /// Hot less cold water.
    pub range: Option<Stated<TemperatureDifference>>,
    /// Heat that the circulating water gives up.
    pub heat_load: Option<Stated<Power>>,
    /// Water in basin, pipes and equipment.
    pub volume: Option<Stated<Volume>>,
    /// Hours run in a year; 8760 without it.
    pub hours_per_year: Option<Stated<AnnualHours>>,
    /// Mean load over those hours, as a share of this hour's; 1 without it.
    pub load_factor: Option<Stated<Share>>,
}

/// One cell.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Cell {
    /// What people call it.
    pub name: Option<String>,
    /// Crossflow or counterflow.
    pub arrangement: Option<Arrangement>,
    /// Mass of inlet water over mass of dry air.
    pub water_to_air: Option<Stated<Ratio>>,
    /// Dry air by mass, or the entering moist air by volume.
    pub air_flow: Option<Stated<AirFlow>>,
    /// Droplets carried out, as a fraction of the cell's circulation.
    pub drift: Option<Stated<Fraction>>,
    /// The cell's part of the circulation; equal parts without it.
    pub share: Option<Stated<Share>>,
    /// Whether water runs over it; it does without this.
    pub in_service: Option<bool>,
}

/// How evaporation is found.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Evaporation {
    /// The method whose value the sheet uses.
    pub method: Option<Method>,
    /// Evaporation known from elsewhere.
    pub flow: Option<Stated<WaterFlow>>,
    /// Evaporation known from elsewhere, as a fraction of circulation.
    pub share: Option<Stated<Fraction>>,
}

/// A method that computes evaporation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// 0.00085 of circulation for each degF of range.
    Rule,
    /// 1 % of circulation for 10 degF of range.
    RuleOnePercent,
    /// All heat leaves as latent heat.
    Latent,
    /// Exit air saturated.
    Merkel,
    /// Full heat and mass transfer.
    Poppe,
}

/// What is drained on purpose: one of a target, a flow, or the conductivity that is held.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Blowdown {
    /// Target for the cycles of concentration.
    pub cycles: Option<Stated<Ratio>>,
    /// Flow, by volume at the temperature of the cold water.
    pub flow: Option<Stated<WaterFlow>>,
    /// Conductivity of the circulating water at 25 degC.
    pub conductivity: Option<Stated<Conductivity>>,
    /// How the valve is controlled.
    pub control: Option<Control>,
}

/// How blowdown is controlled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Control {
    /// A controller opens the valve above a conductivity.
    Conductivity,
    /// A clock opens the valve.
    Timer,
    /// The makeup meter opens the valve.
    MakeupPaced,
    /// The valve stands open by a fixed amount.
    Continuous,
    /// Somebody opens the valve.
    Manual,
}

/// Losses of circulating water that nobody wants. By volume at the temperature of the cold water.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Losses {
    /// From basin, pipes, glands; none without it.
    pub leakage: Option<Stated<WaterFlow>>,
    /// Through the overflow; none without it.
    pub overflow: Option<Stated<WaterFlow>>,
}

/// One source of makeup.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Makeup {
    /// What people call it.
    pub name: Option<String>,
    /// Its part of the makeup; equal parts without it.
    pub share: Option<Stated<Share>>,
    /// Temperature at its meter.
    pub temperature: Option<Stated<Temperature>>,
    /// What the laboratory found.
    pub analysis: Option<Analysis>,
}

/// A water analysis. The balance uses the conductivity; the rest is checked for its units and kept.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Analysis {
    /// pH.
    pub ph: Option<Stated<Ratio>>,
    /// Conductivity at 25 degC.
    pub conductivity: Option<Stated<Conductivity>>,
    /// Calcium, as Ca or as CaCO3.
    pub calcium: Option<Concentration>,
    /// Total alkalinity, as CaCO3.
    pub alkalinity: Option<Concentration>,
}

/// What the water costs.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Cost {
    /// The currency as it is to be printed.
    pub currency: Option<String>,
    /// Price of makeup, for each volume.
    pub makeup: Option<Stated<WaterPrice>>,
}
