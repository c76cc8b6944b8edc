//! The results that a row may carry.

pub use super::sheets::{Need, Weather};
use super::sheets::{Ready, Row};
use crate::chemistry::Mineral;
use crate::model::{
    Balance, BlowdownError, FeedError, FeedLine, Infeasible, Inputs, LevelSheet, Model, Refused,
    Workspace,
};
use crate::quantity::unit::{self, Unit};
use crate::site::{ChemicalKind, Problem};
use std::borrow::Cow;

/// A result by name.
#[derive(Clone)]
pub struct Column {
    /// What people call it, in one word; of a chemical with its name.
    pub name: Cow<'static, str>,
    /// Its name in machine output, with the unit.
    pub key: Cow<'static, str>,
    /// The unit; `None` for money and for texts.
    pub unit: Option<&'static Unit>,
    /// What it is.
    pub what: Cow<'static, str>,
    needs: &'static [Need],
    of: Of,
}

/// What of a row it is.
#[derive(Clone)]
enum Of {
    /// NaN where there is none.
    Number(fn(&mut Row<'_>) -> f64),
    Text(fn(&mut Row<'_>) -> Option<String>),
    /// In the basin, or on the hottest surface, at the target.
    Index(Mineral, bool),
    /// A chemical by its name, as the site is run or at the target.
    Feed(String, bool, fn(&FeedLine) -> Option<f64>),
}

impl std::fmt::Debug for Column {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str(&self.key)
    }
}

/// A result of a row.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// In the unit of its column; NaN where there is none, infinite where it has no limit.
    Number(f64),
    /// A text.
    Text(String),
    /// No text.
    Nothing,
}

impl Cell {
    /// The number; NaN of a text.
    pub fn number(&self) -> f64 {
        match self {
            Self::Number(number) => *number,
            _ => f64::NAN,
        }
    }
}

/// Why a site cannot give a result.
#[derive(Debug, Clone, PartialEq)]
pub struct Lacking {
    /// What is missing, at its place of the site file; `None` where a run has no weather.
    pub problem: Option<Problem>,
}

impl Lacking {
    /// What is missing, and what would be right.
    pub fn in_words(&self) -> String {
        const NO_WEATHER: &str = "no weather of a year is given: add --weather FILE";
        match &self.problem {
            None => NO_WEATHER.to_owned(),
            Some(problem) => match &problem.help {
                Some(help) => format!("{}: {}; {help}", problem.path, problem.message),
                None => format!("{}: {}", problem.path, problem.message),
            },
        }
    }
}

/// Evaluates rows of one model, one after the other.
#[derive(Debug, Clone)]
pub(super) struct Evaluator<'a> {
    model: &'a Model,
    /// What the next row is given, SI.
    pub inputs: Inputs,
    work: Workspace,
    ready: Ready<'a>,
}

impl<'a> Evaluator<'a> {
    /// For columns that will be read; the inputs are those of the site.
    pub fn new(model: &'a Model, columns: &[Column], weather: Weather<'a>) -> Self {
        Self {
            model,
            inputs: model.base().clone(),
            work: Workspace::new(model),
            ready: Ready::new(model, columns, weather),
        }
    }

    /// What `read` makes of the row that the inputs give.
    pub fn row<T>(&mut self, read: impl FnOnce(&mut Row<'_>) -> T) -> Result<T, Infeasible> {
        let balance = self.model.evaluate(&self.inputs, &mut self.work)?;
        let numbers = (&self.inputs, &balance);
        Ok(read(&mut Row::new(self.model, numbers, &mut self.work, &self.ready)))
    }
}

impl Column {
    pub(super) fn of(&self, row: &mut Row<'_>) -> Cell {
        match &self.of {
            Of::Number(of) => Cell::Number(of(row)),
            Of::Text(of) => of(row).map_or(Cell::Nothing, Cell::Text),
            Of::Index(mineral, is_at_surface) => {
                let solved = row.target().map(|target| match is_at_surface {
                    true => &target.water.surface,
                    false => &target.water.basin,
                });
                let index = solved.and_then(|water| water.saturation_index(*mineral));
                Cell::Number(index.unwrap_or(f64::NAN))
            }
            Of::Feed(name, is_at_target, of) => {
                let lines = if *is_at_target { row.feed_at_target() } else { row.feed() };
                let line = lines.iter().find(|line| line.name == *name);
                Cell::Number(line.and_then(of).unwrap_or(f64::NAN))
            }
        }
    }

    /// Whether it is a text.
    pub fn is_text(&self) -> bool {
        matches!(self.of, Of::Text(_))
    }

    /// Whether a row takes a year of hours.
    pub fn is_of_year(&self) -> bool {
        self.needs.contains(&Need::Weather)
    }

    /// Whether it takes more than the balance.
    pub fn is_beyond_balance(&self) -> bool {
        self.needs.iter().any(|need| !matches!(need, Need::Prices | Need::Prediction))
    }

    pub(super) fn needs(&self, need: Need) -> bool {
        self.needs.contains(&need)
    }

    /// Whether it is worth showing where nobody asked for columns.
    pub fn is_usual(&self) -> bool {
        const USUAL: [&str; 5] = ["makeup", "evaporation", "drift", "blowdown", "cycles"];
        USUAL.contains(&self.name.as_ref())
    }

    /// What a site lacks of what this result needs, whatever its numbers are.
    pub fn lacks(&self, model: &Model, has_weather: bool) -> Option<Lacking> {
        self.needs.iter().find_map(|need| lacks(*need, model, has_weather))
    }
}

fn lacks(need: Need, model: &Model, has_weather: bool) -> Option<Lacking> {
    let site = model.site();
    let at = |path: &str, message: &str, help: &str| {
        Some(Lacking { problem: Some(Problem::new(path, message).with_help(help)) })
    };
    let no_volume = || {
        at(
            "circuit",
            "the volume of the system is not stated",
            "write volume = \"60 m3\" in [circuit]: basin, pipes and equipment",
        )
    };
    match need {
        Need::Allowed | Need::Target => {
            let balance = model.evaluate(model.base(), &mut Workspace::new(model)).ok()?;
            let why = model.analysed(model.base(), &balance).err()?;
            let is_missing = matches!(why, BlowdownError::Missing { .. });
            is_missing.then(|| Lacking { problem: Some(why.problem(model)) })
        }
        Need::Valve if site.chemistry.valve_flow.is_none() => at(
            "blowdown",
            "the flow of the blowdown valve is not stated",
            "write valve_flow = \"6 m3/h\" in [blowdown]: what it passes when it is open",
        ),
        Need::Feed if site.chemicals.is_empty() => {
            Some(Lacking { problem: Some(FeedError::NoChemical.problem(model)) })
        }
        Need::Feed => {
            let slug = |kind| kind == ChemicalKind::Biocide;
            let needs_volume = site.chemicals.iter().any(|c| slug(c.kind) || c.half_life.is_some());
            if needs_volume && site.volume.is_none() { no_volume() } else { None }
        }
        Need::Prices if [site.cost.makeup, site.cost.sewer, site.cost.energy] == [None; 3] => {
            at("cost", "no price is stated", "add [cost] with makeup = \"1.9 per m3\", and sewer")
        }
        Need::Volume if site.volume.is_none() => no_volume(),
        Need::Basin | Need::FloatValve if site.basin.is_none() => {
            Some(Lacking { problem: Some(crate::model::LevelError::NoBasin.problem(model)) })
        }
        Need::FloatValve if site.basin.as_ref().is_some_and(|basin| basin.valve.is_none()) => at(
            "basin",
            "the float valve is not described",
            "add [basin.valve] with open_level, shut_level and kv or capacity",
        ),
        Need::Weather if !has_weather => Some(Lacking { problem: None }),
        #[cfg(feature = "files")]
        Need::Weather => {
            use crate::model::YearError;
            let why = model.year_plan(model.base()).err()?;
            let is_structural = matches!(why, YearError::NoDesign | YearError::NoTransfer);
            is_structural.then(|| Lacking { problem: Some(why.problem(model)) })
        }
        _ => None,
    }
}

/// No such result.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("no result \"{name}\"; did you mean \"{nearest}\"?")]
pub struct UnknownColumn {
    /// As asked.
    pub name: String,
    /// The nearest one.
    pub nearest: String,
}

/// The result of a name, with or without its unit; the chemicals are those of the site.
///
/// # Errors
/// [`UnknownColumn`] with the nearest name.
pub fn column(model: &Model, name: &str) -> Result<Column, UnknownColumn> {
    let mut columns = all(model);
    let is_it = |column: &Column| column.name == name || column.key == name;
    if let Some(place) = columns.iter().position(is_it) {
        return Ok(columns.swap_remove(place));
    }
    // What it was called once, and was taken for a year's sum.
    let sought = if name == "yearly_makeup" { "makeup_at_design_all_year" } else { name };
    let distance = |column: &&Column| {
        let to = |other| strsim::damerau_levenshtein(other, sought);
        to(&column.name).min(to(&column.key))
    };
    let begins = |column: &&Column| !column.name.starts_with(sought);
    let nearest = columns
        .iter()
        .min_by_key(|column| (begins(column), distance(column)))
        .map_or_else(|| "makeup".to_owned(), |column| column.name.to_string());
    Err(UnknownColumn { name: name.into(), nearest })
}

/// Name, key and unit.
type Named = (&'static str, &'static str, Option<&'static Unit>);

fn with(named: Named, what: &'static str, needs: &'static [Need], of: Of) -> Column {
    let (name, key, unit) = named;
    Column { name: name.into(), key: key.into(), unit, what: what.into(), needs, of }
}

fn number(
    named: Named,
    what: &'static str,
    needs: &'static [Need],
    of: fn(&mut Row<'_>) -> f64,
) -> Column {
    with(named, what, needs, Of::Number(of))
}

fn text(
    (name, key): (&'static str, &'static str),
    what: &'static str,
    needs: &'static [Need],
    of: fn(&mut Row<'_>) -> Option<String>,
) -> Column {
    with((name, key, None), what, needs, Of::Text(of))
}

macro_rules! flow {
    ($name:literal, $key:literal, $what:literal, $field:ident) => {
        number(($name, $key, Some(&unit::CUBIC_METRE_PER_HOUR)), $what, &[], |row| {
            Balance::reference_m3_per_h(row.balance.water.$field)
        })
    };
}

/// Every result, in the order in which people read them; of the chemicals that the site feeds. Volumes are
/// counted at 20 degC.
pub fn all(model: &Model) -> Vec<Column> {
    let mut columns = of_balance();
    columns.extend(of_target());
    columns.extend(of_money());
    columns.extend(of_feed(model));
    columns.extend(of_level());
    #[cfg(feature = "files")]
    columns.extend(of_year());
    columns
}

fn of_balance() -> Vec<Column> {
    vec![
        flow!("makeup", "makeup_m3_per_h", "all that the makeup valve lets in", makeup_kg_per_s),
        flow!("evaporation", "evaporation_m3_per_h", "by the site's method", evaporation_kg_per_s),
        flow!("drift", "drift_m3_per_h", "droplets carried out", drift_kg_per_s),
        flow!("blowdown", "blowdown_m3_per_h", "drained to hold the cycles", blowdown_kg_per_s),
        flow!("leakage", "leakage_m3_per_h", "as stated", leakage_kg_per_s),
        flow!("overflow", "overflow_m3_per_h", "as stated", overflow_kg_per_s),
        number(
            ("cycles", "cycles_of_concentration", Some(&unit::ONE)),
            "makeup over all liquid losses",
            &[],
            |row| row.balance.water.cycles_of_concentration,
        ),
        number(
            ("makeup_at_design_all_year", "makeup_at_design_all_year_m3", Some(&unit::CUBIC_METRE)),
            "the makeup of this one balance times the hours run, at the mean load; of a year's weather see year_makeup",
            &[],
            |row| row.model.period(row.inputs, &row.balance.water).yearly_makeup_m3(),
        ),
        number(
            ("water_cost", "water_cost_per_year", None),
            "makeup, sewer and energy in a year, chemicals not counted",
            &[Need::Prices],
            |row| row.model.water_cost_per_year(row.inputs, row.balance).unwrap_or(f64::NAN),
        ),
        number(
            ("heat_load", "heat_load_kw", Some(&unit::KILOWATT)),
            "given up by the circulating water",
            &[],
            |row| row.balance.state.heat_load_watt().map_or(f64::NAN, |watt| watt / 1e3),
        ),
        number(
            ("range", "range_kelvin", Some(&unit::KELVIN_DIFFERENCE)),
            "hot less cold water",
            &[],
            |row| row.balance.state.range_kelvin.unwrap_or(f64::NAN),
        ),
        number(
            ("approach", "approach_kelvin", Some(&unit::KELVIN_DIFFERENCE)),
            "cold water less wet bulb",
            &[],
            |row| row.balance.state.approach_kelvin().unwrap_or(f64::NAN),
        ),
        number(
            ("wet_bulb", "wet_bulb_celsius", Some(&unit::CELSIUS)),
            "of the entering air",
            &[],
            |row| row.balance.state.wet_bulb_celsius.unwrap_or(f64::NAN),
        ),
        number(
            ("hot_water", "hot_water_celsius", Some(&unit::CELSIUS)),
            "entering the tower",
            &[],
            |row| {
                let state = &row.balance.state;
                if state.temperatures_are_known { state.hot_water_celsius } else { f64::NAN }
            },
        ),
        number(
            ("exit_air", "exit_air_celsius", Some(&unit::CELSIUS)),
            "leaving the tower, where all cells work alike",
            &[],
            |row| row.exit(|air| air.exit_temperature_celsius),
        ),
        number(
            ("exit_enthalpy", "exit_air_enthalpy_kj_per_kg", Some(&unit::KILOJOULE_PER_KILOGRAM)),
            "of the leaving air, for a kg of dry air",
            &[],
            |row| row.exit(|air| air.exit_enthalpy_j_per_kg / 1e3),
        ),
        number(
            ("exit_humidity_ratio", "exit_humidity_ratio", Some(&unit::ONE)),
            "water in the leaving air, vapour and mist, kg in a kg of dry air",
            &[],
            |row| row.exit(|air| air.exit_humidity_ratio),
        ),
        number(
            ("exit_mist", "exit_mist_ratio", Some(&unit::ONE)),
            "the part of it that is mist, kg in a kg of dry air",
            &[],
            |row| row.exit(|air| air.exit_mist_ratio),
        ),
        number(
            ("circulation", "circulation_kg_per_s", Some(&unit::KILOGRAM_PER_SECOND)),
            "over the cells in service",
            &[],
            |row| row.balance.state.circulation_kg_per_s,
        ),
        #[cfg(feature = "files")]
        number(
            ("cold_water", "predicted_cold_water_celsius", Some(&unit::CELSIUS)),
            "that the fill fitted to the site as it stands gives at this range, air and ratio",
            &[Need::Prediction],
            |row| row.predicted_cold_water().unwrap_or(f64::NAN),
        ),
        number(
            ("merkel_number", "merkel_number", Some(&unit::ONE)),
            "transfer number KaV/L of the first cell; slow in crossflow",
            &[],
            |row| row.model.merkel_number(&row.balance.state, row.work).unwrap_or(f64::NAN),
        ),
    ]
}

/// NaN where there is none.
fn known(value: Option<f64>) -> f64 {
    value.unwrap_or(f64::NAN)
}

const ALLOWED: &[Need] = &[Need::Allowed];
const TARGET: &[Need] = &[Need::Allowed, Need::Target];

/// What `blowdown` answers, its ± left out.
fn of_target() -> Vec<Column> {
    const ONE: Option<&Unit> = Some(&unit::ONE);
    const FLOW: Option<&Unit> = Some(&unit::CUBIC_METRE_PER_HOUR);
    const CONDUCTIVITY: Option<&Unit> = Some(&unit::MICROSIEMENS_PER_CENTIMETRE);
    let mut columns = vec![
        number(
            ("allowed_cycles", "best_estimate_cycles", ONE),
            "cycles that the limits of the water, other losses and the file's caps allow",
            ALLOWED,
            |row| known(row.allowed().map(|allowed| allowed.cycles)),
        ),
        text(
            ("stop", "stop"),
            "what stops them: limit, other_losses, longest_half_life, usual_cycles, least_saving, nothing",
            ALLOWED,
            |row| row.allowed().map(|allowed| allowed.stop.key().into()),
        ),
        text(
            ("controlling_limit", "controlling"),
            "the limit of the water that allows fewest cycles",
            ALLOWED,
            |row| row.allowed()?.controlling().map(|binding| binding.limit.measure.key()),
        ),
        text(("next_limit", "next"), "the limit that would control without it", ALLOWED, |row| {
            row.allowed()?.next().map(|binding| binding.limit.measure.key())
        }),
        number(
            ("next_limit_cycles", "next_allowed_cycles", ONE),
            "cycles that the next limit allows",
            ALLOWED,
            |row| known(row.allowed().and_then(|allowed| allowed.next()?.ceiling())),
        ),
        number(
            ("target_cycles", "target_cycles", ONE),
            "cycles to aim at: those allowed less the margin for what is uncertain, rounded down",
            TARGET,
            |row| known(row.target().map(|target| target.cycles)),
        ),
        number(
            ("set_point", "set_point.conductivity_us_per_cm", CONDUCTIVITY),
            "conductivity at which the controller opens the valve for the target",
            TARGET,
            |row| known(row.target().and_then(|target| target.set_point).map(micro)),
        ),
        number(("ph", "ph", ONE), "in the tower at the target", TARGET, |row| {
            known(row.target().map(|target| target.water.basin.ph))
        }),
        number(
            ("conductivity", "conductivity_us_per_cm", CONDUCTIVITY),
            "of the circulating water at the target, computed from its ions",
            TARGET,
            |row| known(row.target().map(|target| micro(target.water.conductivity))),
        ),
        number(
            ("acid_meq_per_l", "acid_meq_per_l_makeup", ONE),
            "meq of acid for a litre of makeup at the target",
            TARGET,
            |row| known(row.target().map(|target| 1e3 * target.water.acid / target.cycles)),
        ),
        number(
            ("valve_open", "valve.open_part", ONE),
            "part of the time that the blowdown valve is open at the target",
            &[Need::Allowed, Need::Target, Need::Valve],
            |row| known(row.target().and_then(|target| target.open_part())),
        ),
        number(
            ("makeup_at_target", "flows_m3_per_h.makeup_at_target", FLOW),
            "makeup at the target",
            TARGET,
            |row| known(at_target(row, |water| water.makeup_kg_per_s)),
        ),
        number(
            ("blowdown_at_target", "flows_m3_per_h.blowdown_at_target", FLOW),
            "blowdown at the target",
            TARGET,
            |row| known(at_target(row, |water| water.blowdown_kg_per_s)),
        ),
        number(
            ("half_life", "half_life_h.present", Some(&unit::HOUR)),
            "hours in which half of the water is renewed at the cycles of the row",
            &[Need::Volume],
            |row| known(row.model.half_life_hours(row.inputs, &row.balance.water)),
        ),
        number(
            ("half_life_at_target", "half_life_h.at_target", Some(&unit::HOUR)),
            "the same at the target",
            &[Need::Allowed, Need::Target, Need::Volume],
            |row| {
                let water = row.target().and_then(|target| target.balance);
                known(water.and_then(|water| row.model.half_life_hours(row.inputs, &water)))
            },
        ),
    ];
    for mineral in Mineral::ALL {
        for (is_at_surface, name, key) in [
            (false, "index", "saturation_index"),
            (true, "index_at_surface", "saturation_index_at_surface"),
        ] {
            let place = if is_at_surface { "on the hottest surface" } else { "in the basin" };
            columns.push(Column {
                name: format!("{}_{name}", mineral.key()).into(),
                key: format!("{key}.{}", mineral.key()).into(),
                unit: ONE,
                what: format!("saturation index of {} {place} at the target", mineral.name())
                    .into(),
                needs: TARGET,
                of: Of::Index(mineral, is_at_surface),
            });
        }
    }
    columns
}

fn micro(siemens_per_metre: f64) -> f64 {
    unit::MICROSIEMENS_PER_CENTIMETRE.of_si(siemens_per_metre)
}

/// A flow at the target, m3/h.
fn at_target(row: &Row<'_>, flow: fn(&crate::balance::WaterBalance) -> f64) -> Option<f64> {
    let water = row.target()?.balance?;
    Some(Balance::reference_m3_per_h(flow(&water)))
}

fn of_money() -> Vec<Column> {
    const PRICED_TARGET: &[Need] = &[Need::Allowed, Need::Target, Need::Prices];
    vec![
        number(
            ("total_cost", "total_cost_per_year", None),
            "makeup, sewer, energy and chemicals that have a price, in a year",
            &[Need::Prices],
            |row| known(row.cost().map(|cost| cost.total())),
        ),
        number(
            ("chemicals_cost", "chemicals_cost_per_year", None),
            "of it the chemicals that have a price",
            &[Need::Prices],
            |row| known(row.cost().map(|cost| cost.chemicals)),
        ),
        number(
            ("total_cost_at_target", "total_cost_at_target_per_year", None),
            "the same total at the target",
            PRICED_TARGET,
            |row| known(row.cost_at_target().map(|cost| cost.total())),
        ),
        number(
            ("chemicals_cost_at_target", "chemicals_cost_at_target_per_year", None),
            "of it the chemicals that have a price",
            PRICED_TARGET,
            |row| known(row.cost_at_target().map(|cost| cost.chemicals)),
        ),
    ]
}

/// A result of a chemical: the end of its name, of its key, its unit and what it is.
type OfChemical =
    (&'static str, &'static str, Option<&'static Unit>, &'static str, fn(&FeedLine) -> Option<f64>);

fn of_feed(model: &Model) -> Vec<Column> {
    const EACH: [OfChemical; 3] = [
        (
            "feed",
            "product_kg_per_day",
            Some(&unit::KILOGRAM_PER_DAY),
            "product in a day at this hour's load",
            |line| Some(line.product_kg_per_day),
        ),
        (
            "kg_a_year",
            "product_kg_per_year",
            Some(&unit::ONE),
            "kg of product in a year at the mean load",
            |line| Some(line.product_kg_per_year),
        ),
        ("cost", "cost_per_year", None, "what it costs in a year", |line| line.cost_per_year),
    ];
    let mut columns = Vec::new();
    for chemical in &model.site().chemicals {
        for is_at_target in [false, true] {
            for (name, key, unit, what, of) in EACH {
                let (end, there) = match is_at_target {
                    true => ("_at_target", " at the target"),
                    false => ("", ""),
                };
                columns.push(Column {
                    name: format!("{}.{name}{end}", chemical.name).into(),
                    key: format!("chemicals.{}.{key}{end}", chemical.name).into(),
                    unit,
                    what: format!("{}: {what}{there}", chemical.name).into(),
                    needs: match is_at_target {
                        true => &[Need::Feed, Need::Allowed, Need::Target],
                        false => &[Need::Feed],
                    },
                    of: Of::Feed(chemical.name.clone(), is_at_target, of),
                });
            }
        }
    }
    columns
}

/// What `level` answers.
fn of_level() -> Vec<Column> {
    const BASIN: &[Need] = &[Need::Basin];
    const VALVE: &[Need] = &[Need::Basin, Need::FloatValve];
    fn of(row: &Row<'_>, of: fn(&LevelSheet) -> Option<f64>) -> f64 {
        known(row.level().and_then(of))
    }
    vec![
        number(
            ("settled_level", "level.settles_at_m", Some(&unit::METRE)),
            "where the float settles",
            VALVE,
            |row| of(row, |level| level.settles_at),
        ),
        number(
            ("overflows_after", "level.stuck_open.overflows_at_h", Some(&unit::HOUR)),
            "hours until the basin overflows with the makeup valve stuck open",
            VALVE,
            |row| of(row, |level| level.stuck.as_ref()?.overflows_at),
        ),
        number(
            ("trips_after", "level.makeup_lost.trips_at_h", Some(&unit::HOUR)),
            "hours without makeup until the pumps trip",
            BASIN,
            |row| of(row, |level| level.lost.trips_at),
        ),
        number(
            ("dry_after", "level.makeup_lost.empties_at_h", Some(&unit::HOUR)),
            "hours without makeup until the basin is empty",
            BASIN,
            |row| of(row, |level| level.lost.empties_at),
        ),
        number(
            ("lost_at_a_stop", "level.pump_stop.overflowed_m3", Some(&unit::CUBIC_METRE)),
            "water over the lip at a pump stop",
            BASIN,
            |row| of(row, |level| Some(level.stop.overflowed)),
        ),
    ]
}

/// What `year` answers.
#[cfg(feature = "files")]
fn of_year() -> Vec<Column> {
    use crate::cost::Outflow;
    use crate::model::{Peak, YearSheet};
    const YEAR: &[Need] = &[Need::Weather];
    const VOLUME: Option<&Unit> = Some(&unit::CUBIC_METRE);
    const HOURS: Option<&Unit> = Some(&unit::HOUR);
    fn of(row: &Row<'_>, of: fn(&YearSheet) -> f64) -> f64 {
        row.year().map_or(f64::NAN, of)
    }
    fn peak(row: &Row<'_>, of: fn(&YearSheet) -> Option<Peak>) -> f64 {
        known(row.year().and_then(of).map(|peak| peak.value))
    }
    fn time(row: &Row<'_>, of: fn(&YearSheet) -> Option<Peak>) -> Option<String> {
        row.year().and_then(of).map(|peak| peak.time.to_string())
    }
    vec![
        number(
            ("year_makeup", "year.makeup_m3", VOLUME),
            "all that the hours of the weather take",
            YEAR,
            |row| of(row, |year| year.total.makeup()),
        ),
        number(
            ("year_evaporation", "year.evaporation_m3", VOLUME),
            "of it evaporation",
            YEAR,
            |row| of(row, |year| year.total.stream(Outflow::Evaporation)),
        ),
        number(("year_blowdown", "year.blowdown_m3", VOLUME), "of it blowdown", YEAR, |row| {
            of(row, |year| year.total.stream(Outflow::Blowdown))
        }),
        number(
            ("year_peak_hour", "year.peak_hour_m3_per_h", Some(&unit::CUBIC_METRE_PER_HOUR)),
            "the largest makeup of an hour",
            YEAR,
            |row| peak(row, |year| year.peak_hour),
        ),
        text(("year_peak_hour_at", "year.peak_hour_at"), "when that hour begins", YEAR, |row| {
            time(row, |year| year.peak_hour)
        }),
        number(
            ("year_peak_day", "year.peak_day_m3", VOLUME),
            "the largest makeup of a day",
            YEAR,
            |row| peak(row, |year| year.peak_day),
        ),
        text(("year_peak_day_at", "year.peak_day_at"), "when that day begins", YEAR, |row| {
            time(row, |year| year.peak_day)
        }),
        number(
            ("year_hours_above_limit", "year.hours_above_limit", HOURS),
            "hours with the cold water too warm",
            YEAR,
            |row| of(row, |year| f64::from(year.total.above_limit)),
        ),
        number(
            ("year_hours_above_set_point", "year.hours_above_set_point", HOURS),
            "hours with the cold water above its set point",
            YEAR,
            |row| of(row, |year| f64::from(year.total.above_set_point)),
        ),
        number(
            ("year_fan_speed", "year.fan_speed", Some(&unit::ONE)),
            "mean fan speed, as a part of full speed",
            YEAR,
            |row| of(row, |year| year.total.mean_fan_speed()),
        ),
        number(
            ("year_cost", "year.cost", None),
            "money for makeup, sewer and energy of these hours, chemicals not counted",
            &[Need::Weather, Need::Prices],
            |row| of(row, |year| year.total.cost),
        ),
    ]
}

#[cfg(all(test, feature = "files"))]
mod tests {
    use super::*;

    #[test]
    fn names_and_keys_are_unique_and_found() {
        const DAIRY: &str = include_str!("../../examples/dairy.toml");
        let source = crate::site::file::read("dairy.toml", DAIRY, &[]).unwrap();
        let model = Model::compile(&crate::site::validate(&source.description).unwrap());
        for column in all(&model) {
            assert_eq!(super::column(&model, &column.name).unwrap().key, column.key);
            assert_eq!(super::column(&model, &column.key).unwrap().name, column.name);
        }
        assert_eq!(super::column(&model, "makup").unwrap_err().nearest, "makeup");
        let once = super::column(&model, "yearly_makeup").unwrap_err();
        assert_eq!(once.nearest, "makeup_at_design_all_year");
    }
}
