//! A site as somebody describes it: plain optional values, built in code or read from a file.
//!
//! Nothing here is checked beyond its unit; [`validate`](super::validate()) does that.

use super::date::Date;
use crate::chemistry::{BalanceWith, Constituent};
use crate::quantity::{
    AirFlow, AnnualHours, Area, Concentration, Conductivity, Density, Duration, Fraction, Length,
    MassConcentration, MassPrice, Power, Pressure, Rainfall, Ratio, RelativeHumidity, Reported,
    SampledConductivity, Share, Stated, Temperature, TemperatureDifference, Turbidity, Volume,
    VolumeFlow, WaterFlow, WaterPrice,
};
pub use crate::tower::Arrangement;
use serde::{Deserialize, Serialize};

/// One circulating system: cells on one basin, with their makeup.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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
    /// The circulating water as a laboratory found it; its pH is that of the tower.
    pub circulating_water: Option<Analysis>,
    /// What fixes the pH of the circulating water, where it was not measured.
    pub ph: Option<Ph>,
    /// What is fed against scale and corrosion, as far as limits depend on it.
    pub treatment: Option<Treatment>,
    /// Which limits of the circulating water hold.
    pub limits: Option<Limits>,
    /// Limits of one's own.
    pub limit: Vec<OwnLimit>,
    /// What stands between the makeup valve and the suction.
    pub basin: Option<Basin>,
    /// What is fed to the circulating water.
    pub chemical: Vec<Chemical>,
    /// How the columns of a log are to be read.
    pub log: Option<LogLayout>,
    /// How a sheet of visits is to be read, where its header does not say it.
    pub visits: Option<VisitsLayout>,
    /// How the columns of a weather file are to be read.
    pub weather: Option<WeatherLayout>,
    /// How the tower is run through a year.
    pub year: Option<Year>,
    /// What the water costs.
    pub cost: Option<Cost>,
    /// Instruments whose errors several values share.
    pub instrument: Vec<Instrument>,
    /// Values whose uncertainties go together.
    pub correlation: Vec<Correlation>,
}

/// An instrument that read some of the values: its calibration error is one for all of them, its random
/// error new in every reading.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Instrument {
    /// What people call it.
    pub name: Option<String>,
    /// Paths of the values that it read, as in `circuit.hot_water`.
    pub reads: Vec<String>,
    /// Limit of its constant error, in % of the reading or in its unit.
    pub accuracy: Option<String>,
    /// One standard deviation of a single reading, in % of it or in its unit.
    pub repeatability: Option<String>,
    /// How many readings a value is the mean of; one without it.
    pub readings: Option<i64>,
}

/// Two values whose uncertainties go together.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Correlation {
    /// Their paths.
    pub between: Vec<String>,
    /// From -1 to 1.
    pub coefficient: Option<f64>,
}

/// The air entering the tower: two of dry bulb, wet bulb, relative humidity and dew point.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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
    /// The hottest surface that the water touches, in the exchangers.
    pub hottest_surface: Option<Stated<Temperature>>,
    /// The coldest that the basin gets while the tower runs, in winter or at night; silica drops out there.
    pub coldest_basin: Option<Stated<Temperature>>,
    /// Water in basin, pipes and equipment.
    pub volume: Option<Stated<Volume>>,
    /// Hours run in a year; 8760 without it.
    pub hours_per_year: Option<Stated<AnnualHours>>,
    /// Mean load over those hours, as a share of this hour's; 1 without it.
    pub load_factor: Option<Stated<Share>>,
}

/// One cell.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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
    /// Dead band of a conductivity controller, as a part of its set point.
    pub dead_band: Option<Stated<Fraction>>,
    /// The longest time in which half of what is in the water may be renewed (0.693 volume / liquid losses,
    /// the trade's holding time index).
    pub longest_half_life: Option<Stated<Duration>>,
    /// Flow through the open valve.
    pub valve_flow: Option<Stated<WaterFlow>>,
    /// Pressure drop over the open valve.
    pub valve_pressure_drop: Option<Stated<Pressure>>,
    /// Makeup that a pulse of its meter stands for, with `control = "makeup_paced"`.
    pub makeup_pulse: Option<Stated<Volume>>,
}

/// How blowdown is controlled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Losses {
    /// From basin, pipes, glands; none without it.
    pub leakage: Option<Stated<WaterFlow>>,
    /// Through the overflow; none without it.
    pub overflow: Option<Stated<WaterFlow>>,
}

/// One source of makeup.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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

/// A water analysis: what a laboratory wrote, each concentration with what it is counted as.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Analysis {
    /// The day on which the sample was taken.
    pub sampled: Option<Date>,
    /// pH, at the temperature of the sample.
    pub ph: Option<Stated<Ratio>>,
    /// Temperature of the sample.
    pub temperature: Option<Stated<Temperature>>,
    /// Conductivity at 25 degC, or at the temperature that it names.
    pub conductivity: Option<SampledConductivity>,
    /// Reading of a pen for dissolved solids, in place of a conductivity.
    pub tds_pen: Option<Stated<MassConcentration>>,
    /// What the pen makes of a conductivity, mg/L in each uS/cm: mostly 0.5 or 0.7.
    pub tds_pen_factor: Option<Stated<Ratio>>,
    /// The lowest conductivity of the season.
    pub lowest_conductivity: Option<Stated<Conductivity>>,
    /// The highest conductivity of the season.
    pub highest_conductivity: Option<Stated<Conductivity>>,
    /// Calcium.
    pub calcium: Option<Concentration>,
    /// Magnesium.
    pub magnesium: Option<Concentration>,
    /// Total hardness.
    pub hardness: Option<Concentration>,
    /// Sodium.
    pub sodium: Option<Concentration>,
    /// Potassium.
    pub potassium: Option<Concentration>,
    /// Total alkalinity.
    pub alkalinity: Option<Concentration>,
    /// Bicarbonate.
    pub bicarbonate: Option<Concentration>,
    /// Carbonate.
    pub carbonate: Option<Concentration>,
    /// Chloride.
    pub chloride: Option<Concentration>,
    /// Sulfate.
    pub sulfate: Option<Concentration>,
    /// Nitrate.
    pub nitrate: Option<Concentration>,
    /// Fluoride.
    pub fluoride: Option<Concentration>,
    /// Orthophosphate.
    pub phosphate: Option<Concentration>,
    /// Dissolved silica.
    pub silica: Option<Concentration>,
    /// Phenolphthalein alkalinity, to pH 8.3; a check.
    pub p_alkalinity: Option<Concentration>,
    /// Iron.
    pub iron: Option<Concentration>,
    /// Manganese.
    pub manganese: Option<Concentration>,
    /// Zinc.
    pub zinc: Option<Concentration>,
    /// Aluminium.
    #[serde(alias = "aluminum")]
    pub aluminium: Option<Concentration>,
    /// Ammonia and ammonium together.
    pub ammonia: Option<Concentration>,
    /// Total dissolved solids, by drying at 180 degC; a check.
    pub dissolved_solids: Option<Reported<MassConcentration>>,
    /// Sum of the ions, as the laboratory makes it; a check.
    pub dissolved_ions: Option<Reported<MassConcentration>>,
    /// Total suspended solids.
    pub suspended_solids: Option<Reported<MassConcentration>>,
    /// Barium; listed, not judged.
    pub barium: Option<Reported<MassConcentration>>,
    /// Turbidity; listed, not judged.
    pub turbidity: Option<Reported<Turbidity>>,
    /// Biochemical oxygen demand; listed, not judged.
    pub bod: Option<Reported<MassConcentration>>,
    /// Chemical oxygen demand; listed, not judged.
    pub cod: Option<Reported<MassConcentration>>,
    /// Total organic carbon; listed, not judged.
    pub toc: Option<Reported<MassConcentration>>,
    /// The ion that makes up for what was not analysed.
    pub balance_with: Option<BalanceWith>,
    /// Calcium's part of a hardness beside which neither calcium nor magnesium stands.
    pub calcium_of_hardness: Option<Stated<Share>>,
    /// Where neither sodium nor sulfate was analysed: sulfate's part, in equivalents, of the anions that complete
    /// the analysis.
    pub sulfate_of_missing: Option<Stated<Share>>,
    /// What a value below its limit of detection counts as; half of the limit without it.
    pub below_detection: Option<BelowDetection>,
}

/// What a value below its limit of detection counts as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum BelowDetection {
    /// Nothing.
    Zero,
    /// Half of the limit, within nothing and all of it.
    #[default]
    Half,
    /// The limit itself.
    Limit,
}

impl Analysis {
    /// Every constituent with what was found of it.
    pub fn constituents(&self) -> impl Iterator<Item = (Constituent, &Concentration)> {
        [
            (Constituent::Calcium, &self.calcium),
            (Constituent::Magnesium, &self.magnesium),
            (Constituent::Hardness, &self.hardness),
            (Constituent::Sodium, &self.sodium),
            (Constituent::Potassium, &self.potassium),
            (Constituent::Alkalinity, &self.alkalinity),
            (Constituent::Bicarbonate, &self.bicarbonate),
            (Constituent::Carbonate, &self.carbonate),
            (Constituent::Chloride, &self.chloride),
            (Constituent::Sulfate, &self.sulfate),
            (Constituent::Nitrate, &self.nitrate),
            (Constituent::Fluoride, &self.fluoride),
            (Constituent::Phosphate, &self.phosphate),
            (Constituent::Silica, &self.silica),
            (Constituent::Iron, &self.iron),
            (Constituent::Manganese, &self.manganese),
            (Constituent::Zinc, &self.zinc),
            (Constituent::Aluminium, &self.aluminium),
            (Constituent::Ammonia, &self.ammonia),
        ]
        .into_iter()
        .filter_map(|(constituent, found)| Some((constituent, found.as_ref()?)))
    }
}

/// What fixes the pH of the circulating water: a pH that acid holds, and at most one statement of the carbon
/// dioxide. A pH in `[circulating_water]` goes before the field lines.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Ph {
    /// Held at this pH by acid.
    pub held: Option<Stated<Ratio>>,
    /// The acid that holds it; sulfuric without it.
    pub acid: Option<Acid>,
    /// log10 of the carbon dioxide pressure, in atm, that the water is in equilibrium with.
    pub log10_carbon_dioxide: Option<Stated<Ratio>>,
    /// The published field lines of pH against alkalinity, even where a pH of the tower is stated.
    pub alkalinity_line: Option<bool>,
    /// Where between the field lines, -1 to 1: 0 is pH = 1.6 log10(alkalinity) + 4.4 (Kunz), 1 equilibrium
    /// with air, -1 the published line with the most carbon dioxide (Puckorius).
    pub toward_air: Option<Stated<Ratio>>,
}

/// An acid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Acid {
    /// H2SO4.
    #[default]
    #[serde(alias = "sulphuric")]
    Sulfuric,
    /// HCl.
    Hydrochloric,
}

/// What is fed against scale and corrosion, as far as limits depend on it.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Treatment {
    /// The programme against scale: how much calcite it carries where `limits.saturation_index` does not say.
    pub scale_inhibitor: Option<ScaleInhibitor>,
    /// Whether an inhibitor against corrosion of steel is fed.
    pub corrosion_inhibitor: Option<bool>,
}

/// A programme against scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum ScaleInhibitor {
    /// Nothing against scale: calcite up to a saturation index of 0.5.
    None,
    /// Phosphonate: up to 1.8.
    Phosphonate,
    /// Phosphonate with polymer, for alkaline water: up to 2.2.
    AlkalinePolymer,
}

/// Which limits of the circulating water hold.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Limits {
    /// What the water touches.
    pub materials: Vec<Material>,
    /// Class of the concrete, which sets its sulfate.
    pub concrete_class: Option<ConcreteClass>,
    /// Codes and ratings that apply.
    pub codes: Vec<Code>,
    /// The saturation index that the treatment is allowed to carry, by mineral.
    pub saturation_index: SaturationLimits,
}

/// Something that the circulating water touches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Material {
    /// Stainless steel 304 in an exchanger, judged on the hottest surface.
    #[serde(rename = "stainless_304")]
    Stainless304,
    /// Stainless steel 316 in an exchanger, judged on the hottest surface.
    #[serde(rename = "stainless_316")]
    Stainless316,
    /// Stainless steel 304 as basin or casing, at the temperature of the basin.
    #[serde(rename = "stainless_304_basin")]
    Stainless304Basin,
    /// Stainless steel 316 as basin or casing, at the temperature of the basin.
    #[serde(rename = "stainless_316_basin")]
    Stainless316Basin,
    /// Bare carbon steel: pipes, shells, headers.
    CarbonSteel,
    /// Galvanised steel that has its protective layer.
    GalvanisedSteel,
    /// Galvanised steel in its first weeks.
    NewGalvanisedSteel,
    /// Copper and its alloys.
    CopperAlloy,
    /// Concrete.
    Concrete,
    /// Film fill, which fouls.
    FilmFill,
}

/// Class of a concrete by the sulfate that it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub enum ConcreteClass {
    /// ACI 318: ordinary cement.
    S0,
    /// ACI 318: moderately sulfate-resisting cement.
    S1,
    /// ACI 318: sulfate-resisting cement.
    S2,
    /// EN 206: weak chemical attack.
    #[serde(rename = "XA1")]
    Xa1,
    /// EN 206: moderate chemical attack.
    #[serde(rename = "XA2")]
    Xa2,
    /// EN 206: strong chemical attack.
    #[serde(rename = "XA3")]
    Xa3,
}

/// A code or rating with limits of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Code {
    /// LEED version 4, cooling tower water use.
    LeedV4,
    /// LEED 2009 for Healthcare, cooling tower makeup.
    #[serde(rename = "leed_2009_healthcare")]
    Leed2009Healthcare,
    /// ASHRAE 189.1.
    #[serde(rename = "ashrae_189_1")]
    Ashrae189,
    /// California Title 24, part 6.
    #[serde(rename = "title_24")]
    Title24,
    /// Palo Alto municipal code 16.14.350, of 2024.
    #[serde(rename = "palo_alto_2024")]
    PaloAlto2024,
}

/// The saturation index that the treatment is allowed to carry.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct SaturationLimits {
    /// Calcium carbonate; by `treatment.scale_inhibitor` without it.
    pub calcite: Option<f64>,
    /// Calcium sulfate.
    pub gypsum: Option<f64>,
    /// Silica.
    pub amorphous_silica: Option<f64>,
    /// Magnesium hydroxide.
    pub brucite: Option<f64>,
    /// Poorly crystalline magnesium silicate.
    pub magnesium_silicate: Option<f64>,
    /// Calcium fluoride; warned of above 0, and no limit, without it.
    pub fluorite: Option<f64>,
    /// Tricalcium phosphate; no limit without it.
    pub tricalcium_phosphate: Option<f64>,
}

/// A limit of one's own.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct OwnLimit {
    /// What is limited: a constituent, `ph`, `conductivity`, `cycles`, ...
    pub of: Option<String>,
    /// The most that is allowed.
    pub most: Option<LimitValue>,
    /// The least that is allowed.
    pub least: Option<LimitValue>,
    /// Who says so.
    pub source: Option<String>,
    /// Whether it takes the place of the other limits on the same side of the same thing; beside
    /// them without it, and the tightest binds.
    pub replaces: Option<bool>,
}

/// The value of a limit: text with a unit, or a plain number.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(untagged)]
pub enum LimitValue {
    /// As in `"250 mg/L as Cl"`.
    Text(String),
    /// As in `8.5`.
    Number(f64),
}

/// The basin. Levels stand above its floor.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Basin {
    /// Plan area of upright walls; or `levels`.
    pub area: Option<Stated<Area>>,
    /// Level against volume, as in `[["0 m", "0 m3"], ["0.6 m", "30 m3"]]`.
    pub levels: Vec<(Stated<Length>, Stated<Volume>)>,
    /// Where the water is meant to stand while the pumps run.
    pub operating_level: Option<Stated<Length>>,
    /// Lip of the overflow.
    pub overflow_level: Option<Stated<Length>>,
    /// Low-level alarm.
    pub low_alarm_level: Option<Stated<Length>>,
    /// Level at which the pumps are tripped.
    pub pump_trip_level: Option<Stated<Length>>,
    /// Least level at which the suction draws no air.
    pub suction_level: Option<Stated<Length>>,
    /// Outlet of the makeup pipe.
    pub inlet_level: Option<Stated<Length>>,
    /// Water in distribution, fill and pipes that runs back when the pumps stop.
    pub held_up: Option<Stated<Volume>>,
    /// Time in which it runs back; 5 min without it.
    pub run_back: Option<Stated<Duration>>,
    /// Pump stops in a day.
    pub pump_stops_per_day: Option<Stated<Ratio>>,
    /// Inner diameter of a standing overflow pipe; or `overflow_weir`, `overflow_side_pipe`.
    pub overflow_pipe: Option<Stated<Length>>,
    /// Length of an overflow weir.
    pub overflow_weir: Option<Stated<Length>>,
    /// Inner diameter of an overflow pipe through the wall, whose lowest point is the lip.
    pub overflow_side_pipe: Option<Stated<Length>>,
    /// Inner diameter of the drain.
    pub drain_pipe: Option<Stated<Length>>,
    /// The makeup valve.
    pub valve: Option<MakeupValve>,
    /// Rain that falls into it.
    pub rain: Option<Stated<Rainfall>>,
    /// Area that catches rain; the plan area without it.
    pub rain_area: Option<Stated<Area>>,
}

/// A makeup valve.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct MakeupValve {
    /// A float arm: fully open at and below this level; with `shut_level`.
    pub open_level: Option<Stated<Length>>,
    /// Shut at and above this level.
    pub shut_level: Option<Stated<Length>>,
    /// An on/off valve: opens at this level; with `off_level`.
    pub on_level: Option<Stated<Length>>,
    /// Shuts at this level.
    pub off_level: Option<Stated<Length>>,
    /// Flow when fully open; or a coefficient with the supply pressure.
    pub flow: Option<Stated<VolumeFlow>>,
    /// Flow coefficient, m3/h at 1 bar.
    pub kv: Option<Stated<Ratio>>,
    /// Flow coefficient, gpm at 1 psi.
    pub cv: Option<Stated<Ratio>>,
    /// Pressure before the valve, above that of the air.
    pub supply_pressure: Option<Stated<Pressure>>,
    /// Inner diameter of its pipe.
    pub pipe: Option<Stated<Length>>,
}

/// How the columns of a log are to be read.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct LogLayout {
    /// Header of the column with date and time.
    pub time: Option<String>,
    /// Order of day and month in dates with slashes, which are not read without it. Where dots are written,
    /// the day is first.
    pub dates: Option<DateOrder>,
    /// The decimal sign of its numbers; by the first rows without it.
    pub decimal: Option<DecimalSign>,
    /// Whether a row holds what was read at its time, or the mean of the time before it; without it by the
    /// spacing of the rows.
    pub values: Option<RowValues>,
    /// The columns that count; others are left alone.
    pub column: Vec<LogColumn>,
    /// Constant errors, as a data sheet states them: limits of what a reading may be off by.
    pub accuracy: Instruments,
    /// Errors that are new in every reading: one standard deviation.
    pub repeatability: Instruments,
}

/// What the numbers of a row are, registers apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum RowValues {
    /// Read at the time of the row.
    Spot,
    /// Means of the time since the row before.
    Mean,
}

/// Order of day and month in a date.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum DateOrder {
    /// 25/11/2026.
    DayFirst,
    /// 11/25/2026.
    MonthFirst,
}

/// The sign between a number's whole and its fraction; the other one may stand between thousands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum DecimalSign {
    /// 1,234.5.
    Point,
    /// 1.234,5.
    Comma,
}

/// A column of a log.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct LogColumn {
    /// Its header.
    pub name: Option<String>,
    /// What it holds.
    pub is: Option<Channel>,
    /// The unit of its numbers.
    pub unit: Option<String>,
    /// Of a meter's register: what its numbers are multiplied by, 10 where it counts tens of the unit.
    pub multiplier: Option<f64>,
    /// Of a register: the number at which it starts again from zero.
    pub rolls_over_at: Option<f64>,
    /// Of a recorded column: how often it is to be read.
    pub every: Option<Stated<Duration>>,
}

/// How a sheet of visits is to be read. Columns whose header says what they hold and in which unit, as in
/// `Calcium mg/L as CaCO3`, need not stand here.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct VisitsLayout {
    /// Order of day and month in dates with slashes, which are not read without it.
    pub dates: Option<DateOrder>,
    /// Columns whose header does not say what they hold.
    pub column: Vec<VisitColumn>,
}

/// A column of a sheet of visits.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct VisitColumn {
    /// Its header.
    pub name: Option<String>,
    /// What it holds: date, water, ph, conductivity, or a constituent such as calcium.
    pub is: Option<String>,
    /// The unit of its numbers, with what they are counted as.
    pub unit: Option<String>,
}

/// How the columns of a weather file are to be read. Rows of one hour count as their mean.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct WeatherLayout {
    /// Header of the column with date and time, or with the date.
    pub time: Option<String>,
    /// Header of the column with the time of day, where it stands apart; a plain number is an hour.
    pub time_of_day: Option<String>,
    /// Which end of its hour a time names; the beginning without it.
    pub time_marks: Option<TimeMark>,
    /// Order of day and month in dates with slashes, which are not read without it. Where dots are written,
    /// the day is first.
    pub dates: Option<DateOrder>,
    /// The decimal sign of its numbers; by the first rows without it.
    pub decimal: Option<DecimalSign>,
    /// Columns that count.
    pub column: Vec<LogColumn>,
}

/// Which end of an hour a time names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum TimeMark {
    /// 06:00 is the hour from 6 to 7.
    Beginning,
    /// 06:00 is the hour from 5 to 6.
    End,
}

/// How the tower is run through a year.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Year {
    /// Cold water that the fans are slowed down to hold; they run at full speed without it.
    pub cold_water_set_point: Option<Stated<Temperature>>,
    /// Cold water above which the tower fails its process.
    pub cold_water_limit: Option<Stated<Temperature>>,
    /// How the fans hold it; by their speed without it.
    pub fans: Option<FanControl>,
    /// Slowest that the fans run, as a part of full speed.
    pub least_fan_speed: Option<Stated<Share>>,
    /// Air with the fans off, as a part of that at full speed.
    pub natural_draught: Option<Stated<Share>>,
    /// Exponent of the transfer characteristic, KaV/L = coefficient (L/G)^-exponent.
    pub transfer_exponent: Option<Stated<Ratio>>,
    /// Its coefficient, for the site's method; fitted to the design point without it.
    pub transfer_coefficient: Option<Stated<Ratio>>,
    /// How long the makeup may be missing.
    pub outage: Option<Stated<Duration>>,
    /// The heat load through the year.
    pub load: Option<Load>,
}

/// How fans hold a cold water.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum FanControl {
    /// All slow down alike.
    #[default]
    Speed,
    /// One cell's fan after the other is switched off.
    Stages,
}

/// The heat load, as a part of the design's: by hours, by wet bulb, or constant. A `load` column of the
/// weather goes before it.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Load {
    /// At every hour.
    pub constant: Option<Stated<Share>>,
    /// By hour of a workday, 24 of them.
    pub workday: Vec<f64>,
    /// By hour of a Saturday; as a workday without it.
    pub saturday: Vec<f64>,
    /// By hour of a Sunday; as a Saturday without it.
    pub sunday: Vec<f64>,
    /// By wet bulb, straight between points, as in `[["5 degC", 0.6], ["22 degC", 1.0]]`.
    pub by_wet_bulb: Vec<(Stated<Temperature>, Stated<Share>)>,
}

/// What a column of a log holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Channel {
    /// Register of the makeup meter.
    MakeupRegister,
    /// Flow of the makeup meter.
    MakeupFlow,
    /// Register of the blowdown meter.
    BlowdownRegister,
    /// Flow of the blowdown meter.
    BlowdownFlow,
    /// Hours that the blowdown valve has been open, counted up; with `blowdown.valve_flow`.
    BlowdownValveHours,
    /// Part of the time that the blowdown valve stands open, as a controller shows it; with
    /// `blowdown.valve_flow`.
    BlowdownOpenShare,
    /// Conductivity of the makeup.
    MakeupConductivity,
    /// Conductivity of the basin.
    BasinConductivity,
    /// Chloride in the makeup.
    MakeupChloride,
    /// Chloride in the basin.
    BasinChloride,
    /// Level of the basin; with `basin.area`.
    BasinLevel,
    /// Hours that the fans have run, counted up.
    FanHours,
    /// Hot water.
    HotWater,
    /// Cold water.
    ColdWater,
    /// Dry bulb of the air.
    DryBulb,
    /// Wet bulb of the air.
    WetBulb,
    /// Relative humidity of the air.
    RelativeHumidity,
    /// Circulation.
    Circulation,
    /// Dew point of the air; of weather.
    DewPoint,
    /// Station pressure; of weather.
    Pressure,
    /// Heat load, as a part of the design's; of weather.
    Load,
    /// Anything else that people write down; shown, not judged.
    Recorded,
}

/// Errors of the instruments, as parts of their readings.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Instruments {
    /// Makeup meter.
    pub makeup: Option<Stated<Fraction>>,
    /// Blowdown meter.
    pub blowdown: Option<Stated<Fraction>>,
    /// Either conductivity.
    pub conductivity: Option<Stated<Fraction>>,
    /// Chloride.
    pub chloride: Option<Stated<Fraction>>,
    /// Evaporation from heat and weather.
    pub evaporation: Option<Stated<Fraction>>,
}

/// Something that is fed to the circulating water.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Chemical {
    /// What people call it.
    pub name: Option<String>,
    /// What it does.
    pub kind: Option<ChemicalKind>,
    /// Active substance in the circulating water: held by an inhibitor or an oxidant, right after
    /// the slug of a biocide.
    pub dose: Option<Stated<MassConcentration>>,
    /// Active substance in the product, by mass; without it the dose counts the product.
    pub strength: Option<Stated<Fraction>>,
    /// Density of the product.
    pub density: Option<Stated<Density>>,
    /// Price of the product.
    pub price: Option<Stated<MassPrice>>,
    /// Time in which half of it decays in the water, dilution apart.
    pub half_life: Option<Stated<Duration>>,
    /// Time from one slug to the next.
    pub every: Option<Stated<Duration>>,
    /// Time that a slug must stay above `effective`, with the blowdown locked.
    pub contact: Option<Stated<Duration>>,
    /// The least that does its work.
    pub effective: Option<Stated<MassConcentration>>,
    /// What the makeup uses up of an oxidant, before anything is left.
    pub demand: Option<Stated<MassConcentration>>,
    /// What its pump passes at full stroke and speed.
    pub pump: Option<Stated<VolumeFlow>>,
    /// Salts in the product beside what its kind brings anyway (an oxidant its own sodium and chloride).
    pub contains: Option<Contents>,
}

/// Salts of a product, by mass of it.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Contents {
    /// Sodium, as Na.
    pub sodium: Option<Stated<Fraction>>,
    /// Chloride, as Cl.
    pub chloride: Option<Stated<Fraction>>,
    /// Sulfate, as SO4.
    pub sulfate: Option<Stated<Fraction>>,
    /// Orthophosphate, as PO4.
    pub phosphate: Option<Stated<Fraction>>,
    /// Alkalinity, as CaCO3.
    pub alkalinity: Option<Stated<Fraction>>,
}

impl Contents {
    /// Every salt with what is stated of it.
    pub fn salts(&self) -> [(Constituent, Option<Stated<Fraction>>); 5] {
        [
            (Constituent::Sodium, self.sodium),
            (Constituent::Chloride, self.chloride),
            (Constituent::Sulfate, self.sulfate),
            (Constituent::Phosphate, self.phosphate),
            (Constituent::Alkalinity, self.alkalinity),
        ]
    }
}

/// What a chemical does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum ChemicalKind {
    /// Held at a concentration; leaves with every liquid loss.
    Inhibitor,
    /// A non-oxidising biocide, given in slugs.
    Biocide,
    /// An oxidant, held at a residual.
    Oxidant,
    /// The acid that holds the pH of `[ph]`.
    Acid,
}

/// What the water costs.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Cost {
    /// The currency as it is to be printed.
    pub currency: Option<String>,
    /// Price of makeup, for each volume.
    pub makeup: Option<Stated<WaterPrice>>,
    /// Price of waste water, for each volume that is billed.
    pub sewer: Option<Stated<WaterPrice>>,
    /// What the sewer is billed on; the makeup without it.
    pub sewer_basis: Option<SewerBasis>,
    /// The part of the makeup that is billed, with `sewer_basis = "share"`.
    pub sewer_share: Option<Stated<Share>>,
    /// Energy for a volume of makeup: pumping, heating, treatment.
    pub energy: Option<Stated<WaterPrice>>,
    /// The least that one more cycle has to save in a year to be worth it, in the currency.
    pub least_saving: Option<f64>,
}

/// What the sewer is billed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum SewerBasis {
    /// All the makeup.
    #[default]
    Makeup,
    /// The makeup less the evaporation and drift that were never drained: an evaporation credit.
    MakeupLessEvaporation,
    /// The metered blowdown.
    Blowdown,
    /// A fixed part of the makeup.
    Share,
}
