//! The sheet for programs.

use super::rows::rows;
use super::{money, page};
use crate::cost::Outflow;
use crate::model::{BalanceSheet, CellResult, LeakReadings, MethodResult, Output, Stream};
use crate::quantity::UnitSystem;
use crate::report::json::{AssumptionOut, SCHEMA, assumption};
use crate::report::shown::m3_per_h;
use crate::report::unstated::{self, UnstatedOut};
use crate::tower::{Arrangement, Exchange};
use crate::warnings::Noticed;
use serde::Serialize;
use std::collections::BTreeMap;

/// A sheet for programs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Sheet {
    /// [`SCHEMA`].
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where the description came from.
    pub source: String,
    /// Flows and cycles.
    #[cfg_attr(feature = "schema", schemars(schema_with = "flows_schema"))]
    pub balance: BTreeMap<&'static str, f64>,
    /// Standard uncertainties (k = 1) of `balance`, under the same keys, where the inputs carry one.
    pub standard_uncertainty: BTreeMap<&'static str, f64>,
    /// Effect of each input's standard uncertainty on the makeup, largest first.
    pub makeup_uncertainty_from: Vec<Effect>,
    /// What of the sum of all squares comes from what is stated and assumed of the site.
    pub makeup_uncertainty_from_inputs: f64,
    /// What of it comes from the method's own error.
    pub makeup_uncertainty_from_method: f64,
    /// Inputs whose `±` nobody stated, with what was taken in its place, that move some result.
    pub unstated: Vec<UnstatedOut>,
    /// Whether nobody stated any of the `±` that the makeup's comes from.
    pub makeup_rests_on_defaults: bool,
    /// Whether the makeup is too curved within its uncertainty for first order: draws tell more.
    pub makeup_is_curved: bool,
    /// Inputs that are not independent.
    pub correlated: Vec<Correlated>,
    /// Whether the cycles rest on a ratio of conductivities.
    pub cycles_are_apparent: bool,
    /// The cycles asked for, where they were.
    pub target_cycles: Option<f64>,
    /// Whether the cycles have no limit because no liquid leaves.
    pub cycles_have_no_limit: bool,
    /// Circulating water.
    pub circuit: BTreeMap<&'static str, f64>,
    /// Entering air.
    pub air: BTreeMap<&'static str, f64>,
    /// What the tower does.
    pub tower: BTreeMap<&'static str, f64>,
    /// Every stream with mass, temperature, density and volumes.
    pub streams: Vec<StreamOut>,
    /// Makeup by source.
    pub makeup_sources: Vec<SourceOut>,
    /// What yearly figures stand for.
    pub period: PeriodOut,
    /// The method that the sheet uses.
    pub method: &'static str,
    /// All the methods that the inputs allow.
    pub methods: Vec<MethodOut>,
    /// Cells in service.
    pub cells: Vec<CellOut>,
    /// Names of cells out of service.
    pub cells_out_of_service: Vec<String>,
    /// Both readings of leakage and overflow, where there are any.
    pub leak: Option<LeakOut>,
    /// Money, where a price is stated.
    pub money: Option<money::MoneyOut>,
    /// What nobody stated.
    pub assumptions: Vec<AssumptionOut>,
    /// What is out of its usual range.
    pub warnings: Vec<WarningOut>,
    /// What the balance leaves open, as a part of the makeup.
    pub closing_error: ClosingError,
}

/// What an input does to the makeup.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Effect {
    /// The input.
    pub path: String,
    /// m3/h for one standard uncertainty of it.
    pub makeup_m3_per_h: f64,
    /// Its square as a part of the sum of all squares.
    pub part: f64,
    /// Whether the effect rests on one side alone.
    pub one_sided: bool,
}

/// Two inputs that are not independent.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Correlated {
    /// The one.
    pub path: String,
    /// The other.
    pub with: String,
    /// Coefficient, -1 to 1.
    pub correlation: f64,
}

/// A stream.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct StreamOut {
    /// What people call it.
    pub name: &'static str,
    /// kg/s.
    pub kg_per_s: f64,
    /// degC.
    pub celsius: f64,
    /// kg/m3 at that temperature.
    pub density_kg_per_m3: f64,
    /// m3/h at the reference temperature of 20 degC.
    pub m3_per_h: f64,
    /// Standard uncertainty of that, where the inputs carry one.
    pub standard_uncertainty_m3_per_h: Option<f64>,
    /// m3/h at the stream's own temperature.
    pub metered_m3_per_h: f64,
    /// m3 in 24 h.
    pub m3_per_day: f64,
    /// m3 in an operating year.
    pub m3_per_year: f64,
    /// Part of the circulation, by mass.
    pub part_of_circulation: f64,
    /// Part of the makeup, by mass.
    pub part_of_makeup: f64,
    /// Part of the makeup's dissolved solids that it carries.
    pub part_of_solids: Option<f64>,
}

/// A source of makeup.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SourceOut {
    /// Name, or number from 1.
    pub name: String,
    /// 0 to 1.
    pub share: f64,
    /// m3/h at 20 degC.
    pub m3_per_h: f64,
}

/// A period.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PeriodOut {
    /// h.
    pub hours_per_year: f64,
    /// 0 to 1.
    pub load_factor: f64,
    /// Cost of makeup in an operating year, where a price is stated.
    pub makeup_cost_per_year: Option<f64>,
    /// Currency of the price.
    pub currency: Option<String>,
}

/// A method's result. Keys of the exchange are left out where a method has none, or where cells
/// differ: `cells` has them then.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct MethodOut {
    /// Name as in site files.
    pub name: &'static str,
    /// kg/s, or null where the method has no answer.
    pub evaporation_kg_per_s: Option<f64>,
    /// m3/h at 20 degC.
    pub evaporation_m3_per_h: Option<f64>,
    /// Part of the circulation, by mass.
    pub part_of_circulation: Option<f64>,
    /// Why there is no answer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub error: Option<String>,
    /// Exit air and transfer number.
    #[serde(flatten)]
    pub exchange: Option<ExchangeOut>,
}

/// What a method yields beside evaporation.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ExchangeOut {
    /// Transfer number KaV/L.
    pub merkel_number: f64,
    /// kJ in a kg of dry air.
    pub exit_air_enthalpy_kj_per_kg: f64,
    /// kg of water, vapour and mist, in a kg of dry air.
    pub exit_humidity_ratio: f64,
    /// kg of mist in a kg of dry air.
    pub exit_mist_ratio: f64,
    /// degC.
    pub exit_air_celsius: f64,
}

impl From<Exchange> for ExchangeOut {
    fn from(exchange: Exchange) -> Self {
        Self {
            merkel_number: exchange.merkel_number,
            exit_air_enthalpy_kj_per_kg: exchange.exit_enthalpy_j_per_kg / 1e3,
            exit_humidity_ratio: exchange.exit_humidity_ratio,
            exit_mist_ratio: exchange.exit_mist_ratio,
            exit_air_celsius: exchange.exit_temperature_celsius,
        }
    }
}

/// A cell.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct CellOut {
    /// Name, or number from 1.
    pub name: String,
    /// `counterflow` or `crossflow`.
    pub arrangement: Arrangement,
    /// Water over the cell.
    pub water_kg_per_s: f64,
    /// Mass of inlet water over mass of dry air.
    pub water_to_air: Option<f64>,
    /// By the sheet's method.
    pub evaporation_kg_per_s: f64,
    /// Droplets carried out.
    pub drift_kg_per_s: f64,
    /// By Merkel's method.
    pub merkel: Option<ExchangeOut>,
    /// By Poppe's method.
    pub poppe: Option<ExchangeOut>,
}

/// Both readings of a leak.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LeakOut {
    /// A controller holds the cycles.
    pub cycles_held: LeakReading,
    /// The valve stays as it was.
    pub valve_fixed: LeakReading,
}

/// One reading of a leak.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LeakReading {
    /// m3/h at 20 degC.
    pub makeup_m3_per_h: f64,
    /// m3/h at 20 degC.
    pub blowdown_m3_per_h: f64,
    /// Makeup over all liquid losses; null where there is no limit.
    pub cycles_of_concentration: Option<f64>,
}

/// A warning.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct WarningOut {
    /// Stable name.
    pub id: &'static str,
    /// What was seen.
    pub message: String,
    /// The value in the SI unit of its quantity; null where the warning is of no single value.
    pub value: Option<f64>,
    /// The usual range.
    pub usual: String,
    /// Where that range comes from.
    pub source: &'static str,
    /// What to look at.
    pub advice: &'static str,
}

/// What a balance leaves open.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ClosingError {
    /// Water in less water out, as a part of the makeup.
    pub water: f64,
    /// Solids in less solids out, as a part of the makeup's.
    pub solids: f64,
}

/// Several sheets.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Fleet {
    /// [`SCHEMA`].
    pub schema: u32,
    /// One a site.
    pub sites: Vec<Sheet>,
    /// Sums over the sites, m3/h at 20 degC.
    pub total: BTreeMap<&'static str, f64>,
}

/// What every balance has; which readings of meters stand beside it depends on the site.
#[cfg(feature = "schema")]
fn flows_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
    schemars::json_schema!({
        "type": "object",
        "properties": {
            "evaporation_m3_per_h": {"description": "Evaporation.", "type": "number"},
            "drift_m3_per_h": {"description": "Drift.", "type": "number"},
            "blowdown_m3_per_h": {"description": "Blowdown.", "type": "number"},
            "leakage_m3_per_h": {"description": "Leakage.", "type": "number"},
            "overflow_m3_per_h": {"description": "Overflow.", "type": "number"},
            "makeup_m3_per_h": {"description": "Makeup: the sum of the others.", "type": "number"},
            "cycles_of_concentration": {
                "description": "Makeup over all liquid losses; null where they have no limit, because no liquid leaves.",
                "type": ["number", "null"]
            }
        },
        "required": [
            "evaporation_m3_per_h", "drift_m3_per_h", "blowdown_m3_per_h", "leakage_m3_per_h",
            "overflow_m3_per_h", "makeup_m3_per_h", "cycles_of_concentration"
        ],
        "additionalProperties": {"type": "number"}
    })
}

/// The sheet for programs. `source` names the file.
pub fn json(sheet: &BalanceSheet, source: &str) -> Sheet {
    let water = &sheet.balance.water;
    let rows = rows(sheet);
    let table = |prefix: &str| -> BTreeMap<&'static str, f64> {
        rows.iter().filter_map(|row| Some((row.key.strip_prefix(prefix)?, row.value()))).collect()
    };
    let standard_uncertainty = rows
        .iter()
        .filter_map(|row| Some((row.key.strip_prefix("balance.")?, row.uncertainty()?)))
        .collect();
    Sheet {
        schema: SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: source.to_string(),
        balance: table("balance."),
        standard_uncertainty,
        makeup_uncertainty_from: effects(sheet),
        makeup_uncertainty_from_inputs: 1.0 - of_method(&effects(sheet)),
        makeup_uncertainty_from_method: of_method(&effects(sheet)),
        unstated: unstated::json(sheet.unstated()),
        makeup_rests_on_defaults: sheet.makeup_rests_on_defaults,
        makeup_is_curved: sheet.spread.is_curved(Output::Makeup as usize),
        correlated: correlated(sheet),
        cycles_are_apparent: sheet.cycles_are_apparent,
        target_cycles: sheet.target_cycles,
        cycles_have_no_limit: water.cycles_of_concentration.is_infinite(),
        circuit: table("circuit."),
        air: table("air."),
        tower: table("tower."),
        streams: streams(sheet),
        makeup_sources: sources(sheet),
        period: period(sheet),
        method: sheet.used.key(),
        methods: sheet
            .methods
            .iter()
            .map(|found| method(found, sheet.state().circulation_kg_per_s))
            .collect(),
        cells: sheet.cells.iter().map(cell).collect(),
        cells_out_of_service: sheet.cells_out_of_service.clone(),
        leak: sheet.leak.as_ref().map(leak),
        money: sheet.money.as_ref().map(money::json),
        assumptions: sheet.assumptions().map(assumption).collect(),
        warnings: warnings(sheet),
        closing_error: ClosingError {
            water: water.water_closing_error(),
            solids: water.solids_closing_error(),
        },
    }
}

/// Several sheets with their sums.
pub fn fleet(sheets: &[(&str, &BalanceSheet)]) -> Fleet {
    let mut total = BTreeMap::new();
    for (_, one) in sheets {
        for stream in one.streams() {
            *total.entry(stream.name.key()).or_insert(0.0) += stream.reference_m3_per_h;
        }
    }
    let sites = sheets.iter().map(|(source, one)| json(one, source)).collect();
    Fleet { schema: SCHEMA, sites, total }
}

/// Effects on the makeup that are there, largest first.
pub(super) fn effects(sheet: &BalanceSheet) -> Vec<Effect> {
    let found = sheet.spread.largest_first(Output::Makeup);
    let finite: Vec<_> = found.into_iter().filter(|(_, effect)| effect.is_finite()).collect();
    let sum: f64 = finite.iter().map(|(_, effect)| effect * effect).sum();
    finite
        .into_iter()
        .map(|(input, effect)| Effect {
            path: input.path.clone(),
            makeup_m3_per_h: m3_per_h(effect),
            part: if sum > 0.0 { effect * effect / sum } else { 0.0 },
            one_sided: input.one_sided,
        })
        .collect()
}

/// Whether an input is a method's own error.
pub(super) fn is_of_method(path: &str) -> bool {
    path.starts_with("method.") || path == "evaporation.rule_factor"
}

/// The part of the variance that is the method's own.
pub(super) fn of_method(effects: &[Effect]) -> f64 {
    effects.iter().filter(|effect| is_of_method(&effect.path)).map(|effect| effect.part).sum()
}

pub(super) fn correlated(sheet: &BalanceSheet) -> Vec<Correlated> {
    let path = |place: usize| sheet.spread.contributions[place].path.clone();
    let pairs = sheet.spread.correlations.iter();
    pairs
        .map(|(a, b, correlation)| Correlated {
            path: path(*a),
            with: path(*b),
            correlation: *correlation,
        })
        .collect()
}

fn streams(sheet: &BalanceSheet) -> Vec<StreamOut> {
    let period = &sheet.period;
    let yearly = Outflow::ALL.map(|outflow| period.yearly_m3(outflow));
    let out = sheet.out.iter().zip(yearly).map(|(out, m3_per_year)| stream(out, m3_per_year));
    std::iter::once(stream(&sheet.makeup, period.yearly_makeup_m3())).chain(out).collect()
}

fn stream(stream: &Stream, m3_per_year: f64) -> StreamOut {
    StreamOut {
        name: stream.name.name(),
        kg_per_s: stream.kg_per_s,
        celsius: stream.celsius,
        density_kg_per_m3: stream.density_kg_per_m3,
        m3_per_h: stream.reference_m3_per_h,
        standard_uncertainty_m3_per_h: stream.standard_uncertainty_kg_per_s.map(m3_per_h),
        metered_m3_per_h: stream.metered_m3_per_h,
        m3_per_day: 24.0 * stream.reference_m3_per_h,
        m3_per_year,
        part_of_circulation: stream.of_circulation,
        part_of_makeup: stream.of_makeup,
        part_of_solids: stream.of_solids,
    }
}

fn sources(sheet: &BalanceSheet) -> Vec<SourceOut> {
    sheet
        .sources
        .iter()
        .map(|source| SourceOut {
            name: source.name.clone(),
            share: source.share,
            m3_per_h: m3_per_h(source.kg_per_s),
        })
        .collect()
}

fn period(sheet: &BalanceSheet) -> PeriodOut {
    let yearly = sheet.period.yearly_makeup_m3();
    PeriodOut {
        hours_per_year: sheet.period.hours_per_year,
        load_factor: sheet.period.load_factor,
        makeup_cost_per_year: sheet.makeup_price_per_m3.map(|price| price * yearly),
        currency: Some(sheet.currency.clone()).filter(|currency| !currency.is_empty()),
    }
}

fn method(method: &MethodResult, circulation_kg_per_s: f64) -> MethodOut {
    let evaporation = method.evaporation_kg_per_s.as_ref().ok().copied();
    MethodOut {
        name: method.name.key(),
        evaporation_kg_per_s: evaporation,
        evaporation_m3_per_h: evaporation.map(m3_per_h),
        part_of_circulation: evaporation.map(|flow| flow / circulation_kg_per_s),
        error: method.evaporation_kg_per_s.as_ref().err().map(ToString::to_string),
        exchange: method.exchange.map(Into::into),
    }
}

fn cell(cell: &CellResult) -> CellOut {
    CellOut {
        name: cell.name.clone(),
        arrangement: cell.arrangement,
        water_kg_per_s: cell.state.water_kg_per_s,
        water_to_air: cell.state.water_to_air,
        evaporation_kg_per_s: cell.evaporation_kg_per_s,
        drift_kg_per_s: cell.state.drift_fraction * cell.state.water_kg_per_s,
        merkel: cell.merkel.map(Into::into),
        poppe: cell.poppe.map(Into::into),
    }
}

fn leak(readings: &LeakReadings) -> LeakOut {
    let reading = |water: &crate::balance::WaterBalance| LeakReading {
        makeup_m3_per_h: m3_per_h(water.makeup_kg_per_s),
        blowdown_m3_per_h: m3_per_h(water.blowdown_kg_per_s),
        cycles_of_concentration: Some(water.cycles_of_concentration).filter(|c| c.is_finite()),
    };
    LeakOut { cycles_held: reading(&readings.held), valve_fixed: reading(&readings.fixed) }
}

fn warnings(sheet: &BalanceSheet) -> Vec<WarningOut> {
    let raised = sheet.warnings.iter().map(|raised| WarningOut {
        id: raised.warning.id,
        message: page::warning(raised, sheet, UnitSystem::Si).plain(),
        value: Some(if raised.value.is_finite() { raised.value } else { 0.0 }),
        usual: (raised.warning.usual)(),
        source: raised.warning.source,
        advice: raised.warning.advice,
    });
    let noticed = sheet.notices().into_iter().map(|Noticed { notice, message }| WarningOut {
        id: notice.id,
        message,
        value: None,
        usual: (notice.usual)(),
        source: notice.source,
        advice: notice.advice,
    });
    raised.chain(noticed).collect()
}
