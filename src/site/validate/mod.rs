//! From a description to a checked site, or everything that is wrong with it.

mod analysis;
mod basin;
mod chemistry;
#[cfg(feature = "files")]
mod log;
mod method;
mod treatment;
mod uncertainty;
#[cfg(feature = "files")]
mod year;

#[cfg(feature = "files")]
pub(crate) use log::assumed_instruments;

use super::description::{Air, Blowdown, Cell, Circuit, Description, Evaporation, Makeup, Method};
use super::{
    AirGiven, BlowdownGiven, CellAir, CirculationGiven, DefaultUncertainty, EvaporationGiven,
    Limits, PressureGiven, Problem, Site, SiteAir, SiteCell, SiteMakeup, SlotId, Temperatures,
    Value, WaterGiven,
};
use crate::quantity::{
    AnnualHours, Fraction, Length, Measured, Quantity, Ratio, RelativeHumidity, Share, Stated,
    Temperature, Uncertainty, VolumeFlow, in_both_systems,
};
use crate::tower::Arrangement;
use crate::tower::rule::RULE_FACTOR_PER_KELVIN;
use crate::water::{REFERENCE_CELSIUS, ZERO_CELSIUS};

/// Range of the psychrometric formulas.
const AIR_TEMPERATURE: Limits = Limits::between(ZERO_CELSIUS - 30.0, ZERO_CELSIUS + 70.0);
/// Liquid water at the pressures of a tower, below its boiling point at altitude.
const WATER_TEMPERATURE: Limits = Limits::above(ZERO_CELSIUS, ZERO_CELSIUS + 80.0);
const TEMPERATURE_DIFFERENCE: Limits = Limits::above(0.0, 60.0);
const RECIRCULATION: Limits = Limits::between(0.0, 10.0);
/// Range of the psychrometric formulas.
const PRESSURE: Limits = Limits::between(50e3, 110e3);
/// What corresponds to those pressures in the standard atmosphere.
const ALTITUDE: Limits = Limits::between(-600.0, 5_500.0);
const FLOW: Limits = Limits::between(0.0, f64::INFINITY);
const SOME: Limits = Limits::above(0.0, f64::INFINITY);
const FRACTION: Limits = Limits::between(0.0, 1.0);
const HUMIDITY: Limits = Limits::between(0.0, 1.0);
const PART: Limits = Limits::above(0.0, 1.0);
const WATER_TO_AIR: Limits = Limits::above(0.0, 10.0);
const CYCLES: Limits = Limits::above(1.0, f64::INFINITY);
const HOURS: Limits = Limits::above(0.0, 8_784.0);

/// Entries of a kind: cells, makeup sources and the like.
const MOST_ENTRIES: usize = 200;

/// How far the shares of a whole may be off 1.
const SHARE_TOLERANCE: f64 = 1e-3;

const ASSUMED_HUMIDITY: &str = "relative humidity is not stated; 50 % within 25 to 75 % assumed";
const ASSUMED_WATER_TO_AIR: &str =
    "air flow is not stated; about 1.1 within 0.7 to 1.5 is common practice at full fan";
const ASSUMED_DRIFT: &str =
    "drift is not stated; blade eliminators 0.002 to 0.008 % of circulation (CTI TP12-21, 2012)";
const ASSUMED_HOT_WATER: &str =
    "no water temperature is stated; used for density and latent heat only, common practice";
const ASSUMED_SEA_LEVEL: &str = "neither altitude nor pressure is stated; sea level";
const ASSUMED_SHARE: &str = "equal parts among those without a stated share";
const ASSUMED_NONE: &str = "not stated; none";
const ASSUMED_HOURS: &str = "not stated; all hours of a year";
const ASSUMED_LOAD: &str = "not stated; every hour like this one";
const ASSUMED_MAKEUP_TEMPERATURE: &str = "not stated; the reference temperature of this sheet";

/// How far the rule of thumb is off through a year of weather, as a part of itself: against the
/// full transfer equations it is wrong by 38 % one way and 53 % the other, 40 % as a round limit.
const RULE_SPREAD: f64 = 0.4;
const ASSUMED_RULE: &str = "rule of thumb, kg/(kg K): Perry's Chemical Engineers' Handbook, s. 12 (from memory); against the full transfer equations it is off by 40 % through the seasons";

/// Temperature of makeup without a stated one, degC: the sheet's reference temperature.
const MAKEUP_CELSIUS: f64 = REFERENCE_CELSIUS;

/// Checks a description.
///
/// # Errors
/// Every [`Problem`] of the description: missing and contradictory entries, values out of their
/// limits, temperatures in the wrong order.
pub fn validate(description: &Description) -> Result<Site, Vec<Problem>> {
    let mut check = Check::default();
    let site = check.site(description);
    match site {
        Some(site) if check.problems.is_empty() => Ok(site),
        _ => Err(check.problems),
    }
}

/// Collects problems; a function that returns `None` has left one.
#[derive(Default)]
struct Check {
    problems: Vec<Problem>,
    slots: Vec<Value>,
}

impl Check {
    fn problem(&mut self, problem: Problem) {
        self.problems.push(problem);
    }

    fn slot(&mut self, value: Value) -> SlotId {
        self.slots.push(value);
        SlotId(self.slots.len() - 1)
    }

    /// Whether a value is within its limits; a problem is left where it is not.
    fn within_limits(&mut self, value: &Value) -> bool {
        let accepted = value.limits.accept(value.si);
        if !accepted {
            let message = format!(
                "{} is {}: it must be {}",
                value.path,
                in_both_systems(value.quantity, value.si),
                value.limits.describe(value.quantity, value.si)
            );
            self.problem(Problem::new(value.path.as_str(), message));
        }
        accepted
    }

    /// The slot of an optional value, checked against its limits.
    fn value<Q: Measured>(
        &mut self,
        path: impl Into<String>,
        stated: &Option<Stated<Q>>,
        limits: Limits,
    ) -> Option<SlotId> {
        let value = Value::stated(path.into(), stated.as_ref()?, limits);
        self.within_limits(&value).then(|| self.slot(value))
    }

    /// A value with what is assumed in its place.
    fn value_or<Q: Measured>(
        &mut self,
        path: impl Into<String>,
        stated: &Option<Stated<Q>>,
        limits: Limits,
        (assumed, basis): (Stated<Q>, &'static str),
    ) -> Option<SlotId> {
        let path = path.into();
        if stated.is_some() {
            return self.value(path, stated, limits);
        }
        Some(self.slot(Value::assumed(path, &assumed, limits, basis)))
    }

    /// Reports entries that say the same thing; true if there are too many.
    fn over_determined(&mut self, given: &[&str], message: &str, help: &str) -> bool {
        let [first, others @ ..] = given else {
            return false;
        };
        let mut problem = Problem::new(*first, message).with_help(help);
        for other in others {
            problem = problem.with_related(*other);
        }
        self.problem(problem);
        true
    }

    fn site(&mut self, description: &Description) -> Option<Site> {
        self.counts(description)?;
        self.version(description);
        let name = self.name(description);
        let none = VolumeFlow::cubic_metre_per_hour(0.0).into();
        let circuit = description.circuit.clone().unwrap_or_default();
        let evaporation_given = description.evaporation.clone().unwrap_or_default();
        let losses = description.losses.clone().unwrap_or_default();
        self.temperature_order(description, &circuit);

        let air = self.air(description.air.as_ref());
        let is_known = evaporation_given.flow.is_some() || evaporation_given.share.is_some();
        let heat_load = self.value("circuit.heat_load", &circuit.heat_load, SOME);
        let water = self.water(&circuit, heat_load, is_known);
        let circulation = self.circulation(&circuit, heat_load);
        let cells = self.cells(&description.cell);
        let evaporation = match (&air, &water) {
            (Some(air), Some(water)) => self.evaporation(&evaporation_given, air.is_some(), water),
            _ => None,
        };
        let makeup = self.makeup(&description.makeup);
        let blowdown = self.blowdown(description.blowdown.as_ref(), &description.makeup);
        let leakage = self.value_or("losses.leakage", &losses.leakage, FLOW, (none, ASSUMED_NONE));
        let overflow =
            self.value_or("losses.overflow", &losses.overflow, FLOW, (none, ASSUMED_NONE));
        let chemistry = self.chemistry(description, &circuit);
        let volume = self.value("circuit.volume", &circuit.volume, SOME);
        let hours_per_year = self.value_or(
            "circuit.hours_per_year",
            &circuit.hours_per_year,
            HOURS,
            (AnnualHours::hours(8_760.0).into(), ASSUMED_HOURS),
        );
        let load_factor = self.value_or(
            "circuit.load_factor",
            &circuit.load_factor,
            PART,
            (Share::of_one(1.0).into(), ASSUMED_LOAD),
        );
        let basin = self.basin(description);
        #[cfg(feature = "files")]
        let log = self.log(description.log.as_ref());
        #[cfg(feature = "files")]
        let weather = self.weather(description.weather.as_ref());
        #[cfg(feature = "files")]
        let year = self.year(description.year.as_ref());
        let chemicals = self.chemicals(description);
        let cost = self.cost(description.cost.clone().unwrap_or_default());
        let used = match evaporation {
            Some(EvaporationGiven::Method(method)) => Some(method),
            _ => None,
        };
        let method = self.method_errors(used, makeup.as_deref().unwrap_or_default());
        let instruments = self.site_instruments(&description.instrument);
        self.slots.iter_mut().for_each(DefaultUncertainty::give);
        let (correlations, correlated) = self.correlations(&description.correlation, &instruments);
        let (cells, cells_out_of_service) = cells?;
        let together = self.together(&cells);
        Some(Site {
            slots: std::mem::take(&mut self.slots),
            instruments,
            correlations,
            correlated,
            together,
            name,
            air: air?,
            water: water?,
            circulation: circulation?,
            cells,
            cells_out_of_service,
            evaporation: evaporation?,
            method: method?,
            method_is_asked: evaporation_given.method.is_some(),
            blowdown: blowdown?,
            control: description.blowdown.as_ref().and_then(|blowdown| blowdown.control),
            leakage: leakage?,
            overflow: overflow?,
            makeup: makeup?,
            chemistry: chemistry?,
            volume,
            hours_per_year: hours_per_year?,
            load_factor: load_factor?,
            basin: basin?,
            #[cfg(feature = "files")]
            log: log?,
            #[cfg(feature = "files")]
            visits: description.visits.clone().unwrap_or_default(),
            #[cfg(feature = "files")]
            weather: weather?,
            #[cfg(feature = "files")]
            year: year?,
            chemicals: chemicals?,
            cost: cost?,
        })
    }

    /// Readings of one kind in all cells that nobody stated a `±` for.
    fn together(&self, cells: &[SiteCell]) -> Vec<Vec<SlotId>> {
        let air = |cell: &SiteCell| match cell.air {
            CellAir::WaterToAir(slot) | CellAir::AirFlow(slot) => slot,
        };
        let drift = |cell: &SiteCell| cell.drift;
        let of_one_sheet = |of: &dyn Fn(&SiteCell) -> SlotId| -> Vec<SlotId> {
            let slots = cells.iter().map(of);
            slots.filter(|slot| self.slots[slot.0].is_uncertain_by_default()).collect()
        };
        let groups = [of_one_sheet(&air), of_one_sheet(&drift)];
        groups.into_iter().filter(|group| group.len() > 1).collect()
    }

    /// Lists longer than any site has; memory and time are bounded by it.
    fn counts(&mut self, description: &Description) -> Option<()> {
        for (path, count) in [
            ("cell", description.cell.len()),
            ("makeup", description.makeup.len()),
            ("chemical", description.chemical.len()),
            ("limit", description.limit.len()),
            ("instrument", description.instrument.len()),
            ("correlation", description.correlation.len()),
        ] {
            if count > MOST_ENTRIES {
                let message =
                    format!("{count} entries of [[{path}]]: at most {MOST_ENTRIES} are read");
                self.problem(Problem::new(path, message));
            }
        }
        self.problems.is_empty().then_some(())
    }

    fn version(&mut self, description: &Description) {
        match description.coldbasin {
            None | Some(1) => {}
            Some(other) => self.problem(
                Problem::new("coldbasin", format!("version {other} of the site file is not known"))
                    .with_help("this program reads version 1: coldbasin = 1"),
            ),
        }
    }

    fn name(&mut self, description: &Description) -> String {
        let name = description.name.clone().unwrap_or_default();
        self.printable("name", &name);
        name
    }

    /// Names are printed: a control character in them could drive the terminal.
    fn printable(&mut self, path: &str, text: &str) {
        if text.chars().any(char::is_control) {
            self.problem(Problem::new(path, "the text holds a control character"));
        }
    }

    /// Temperatures that are stated in the wrong order, whatever else is wrong.
    fn temperature_order(&mut self, description: &Description, circuit: &Circuit) {
        let air = description.air.clone().unwrap_or_default();
        let kelvin =
            |stated: Option<Stated<Temperature>>| stated.map(|stated| stated.value.in_kelvin());
        let temperatures = Temperatures {
            dry_bulb: kelvin(air.dry_bulb),
            wet_bulb: kelvin(air.wet_bulb),
            dew_point: kelvin(air.dew_point),
            hot_water: kelvin(circuit.hot_water),
            cold_water: kelvin(circuit.cold_water),
        };
        for conflict in temperatures.conflicts() {
            self.problem(conflict.to_problem());
        }
    }

    /// The outer `None` is a problem, the inner one a site without air.
    fn air(&mut self, air: Option<&Air>) -> Option<Option<SiteAir>> {
        let Some(air) = air else { return Some(None) };
        let dry_bulb = self.value("air.dry_bulb", &air.dry_bulb, AIR_TEMPERATURE);
        let wet_bulb = self.value("air.wet_bulb", &air.wet_bulb, AIR_TEMPERATURE);
        let humidity = self.value("air.relative_humidity", &air.relative_humidity, HUMIDITY);
        let dew_point = self.value(
            "air.dew_point",
            &air.dew_point,
            Limits::between(ZERO_CELSIUS - 60.0, ZERO_CELSIUS + 70.0),
        );
        let recirculation = self.value("air.recirculation", &air.recirculation, RECIRCULATION);
        let pressure = self.pressure(air);
        let stated = [
            ("air.dry_bulb", air.dry_bulb.is_some()),
            ("air.wet_bulb", air.wet_bulb.is_some()),
            ("air.relative_humidity", air.relative_humidity.is_some()),
            ("air.dew_point", air.dew_point.is_some()),
        ];
        let stated: Vec<&str> =
            stated.iter().filter(|(_, is)| *is).map(|(path, _)| *path).collect();
        if stated.len() > 2 {
            self.over_determined(
                &stated,
                "the air is stated more than twice over",
                "keep two of them: dry_bulb with wet_bulb, relative_humidity or dew_point",
            );
            return None;
        }
        let given = match stated.as_slice() {
            [] if air.altitude.is_none()
                && air.pressure.is_none()
                && air.recirculation.is_none() =>
            {
                return Some(None);
            }
            ["air.dry_bulb", "air.wet_bulb"] => AirGiven::DryBulbWetBulb(dry_bulb?, wet_bulb?),
            ["air.dry_bulb", "air.relative_humidity"] => {
                AirGiven::DryBulbRelativeHumidity(dry_bulb?, humidity?)
            }
            ["air.dry_bulb", "air.dew_point"] => AirGiven::DryBulbDewPoint(dry_bulb?, dew_point?),
            ["air.wet_bulb", "air.relative_humidity"] => {
                AirGiven::WetBulbRelativeHumidity(wet_bulb?, humidity?)
            }
            ["air.wet_bulb"] => {
                let assumed =
                    Stated::with(RelativeHumidity::percent(50.0), Uncertainty::limit(0.25));
                let humidity = self.value_or(
                    "air.relative_humidity",
                    &None,
                    HUMIDITY,
                    (assumed, ASSUMED_HUMIDITY),
                );
                AirGiven::WetBulbRelativeHumidity(wet_bulb?, humidity?)
            }
            _ => {
                self.problem(
                    Problem::new("air", "the humidity of the air is not fixed").with_help(
                        "give dry_bulb with wet_bulb, relative_humidity or dew_point; or wet_bulb alone",
                    ),
                );
                return None;
            }
        };
        Some(Some(SiteAir { given, pressure: pressure?, recirculation }))
    }

    fn pressure(&mut self, air: &Air) -> Option<PressureGiven> {
        let sea_level = (Length::metre(0.0).into(), ASSUMED_SEA_LEVEL);
        match (&air.altitude, &air.pressure) {
            (Some(_), Some(_)) => {
                self.over_determined(
                    &["air.pressure", "air.altitude"],
                    "the air pressure is stated twice",
                    "keep pressure where it is measured at the site, else altitude",
                );
                None
            }
            (None, Some(_)) => {
                self.value("air.pressure", &air.pressure, PRESSURE).map(PressureGiven::Pressure)
            }
            _ => self
                .value_or("air.altitude", &air.altitude, ALTITUDE, sea_level)
                .map(PressureGiven::Altitude),
        }
    }

    fn water(
        &mut self,
        circuit: &Circuit,
        heat_load: Option<SlotId>,
        evaporation_is_known: bool,
    ) -> Option<WaterGiven> {
        let hot = self.value("circuit.hot_water", &circuit.hot_water, WATER_TEMPERATURE);
        let cold = self.value("circuit.cold_water", &circuit.cold_water, WATER_TEMPERATURE);
        let range = self.value("circuit.range", &circuit.range, TEMPERATURE_DIFFERENCE);
        let is =
            (circuit.hot_water.is_some(), circuit.cold_water.is_some(), circuit.range.is_some());
        if is == (true, true, true) {
            self.over_determined(
                &["circuit.range", "circuit.hot_water", "circuit.cold_water"],
                "the range is stated twice",
                "range is hot_water less cold_water: keep two of the three",
            );
            return None;
        }
        // A heat load beside a circulation fixes the range.
        let range_from_heat = circuit.heat_load.is_some() && circuit.circulation.is_some();
        if range_from_heat && (is.2 || is == (true, true, false)) {
            let paths: &[&str] = if is.2 {
                &["circuit.heat_load", "circuit.circulation", "circuit.range"]
            } else {
                &[
                    "circuit.heat_load",
                    "circuit.circulation",
                    "circuit.hot_water",
                    "circuit.cold_water",
                ]
            };
            self.over_determined(
                paths,
                "the circuit is stated twice over",
                "heat load = circulation x specific heat x range: keep two of the three",
            );
            return None;
        }
        match is {
            (true, true, _) => Some(WaterGiven::HotCold(hot?, cold?)),
            (true, false, true) => Some(WaterGiven::HotRange(hot?, range?)),
            (false, true, true) => Some(WaterGiven::ColdRange(cold?, range?)),
            (false, false, true) => Some(WaterGiven::Range(range?, self.assumed_hot_water()?)),
            (true, false, false) if range_from_heat => {
                Some(WaterGiven::HotHeatLoad(hot?, heat_load?))
            }
            (false, true, false) if range_from_heat => {
                Some(WaterGiven::ColdHeatLoad(cold?, heat_load?))
            }
            (false, false, false) if range_from_heat => {
                Some(WaterGiven::HeatLoad(heat_load?, self.assumed_hot_water()?))
            }
            _ if evaporation_is_known => {
                Some(WaterGiven::Unknown(hot.or(cold).or_else(|| self.assumed_hot_water())?))
            }
            _ => {
                self.problem(
                    Problem::new("circuit", "the range of the water is not fixed").with_help(
                        "give hot_water and cold_water, or range, or heat_load beside circulation",
                    ),
                );
                None
            }
        }
    }

    /// A stand-in where no temperature of the water is stated.
    fn assumed_hot_water(&mut self) -> Option<SlotId> {
        let assumed = (Temperature::celsius(35.0).into(), ASSUMED_HOT_WATER);
        self.value_or("circuit.hot_water", &None, WATER_TEMPERATURE, assumed)
    }

    fn circulation(
        &mut self,
        circuit: &Circuit,
        heat_load: Option<SlotId>,
    ) -> Option<CirculationGiven> {
        if circuit.circulation.is_some() {
            return self
                .value("circuit.circulation", &circuit.circulation, SOME)
                .map(CirculationGiven::Flow);
        }
        let has_range = circuit.range.is_some()
            || (circuit.hot_water.is_some() && circuit.cold_water.is_some());
        if circuit.heat_load.is_some() && has_range {
            return heat_load.map(CirculationGiven::HeatLoad);
        }
        let help = if circuit.heat_load.is_some() {
            "heat_load alone does not fix it: add circulation, or range, or hot_water and cold_water"
        } else {
            "write circulation = \"900 m3/h\" or \"4000 gpm\", or heat_load with the range"
        };
        self.problem(
            Problem::new("circuit", "missing key \"circulation\" in [circuit]").with_help(help),
        );
        None
    }

    /// Cells in service, and the names of the others.
    fn cells(&mut self, cells: &[Cell]) -> Option<(Vec<SiteCell>, Vec<String>)> {
        let assumed_cell = [Cell::default()];
        let described = if cells.is_empty() { &assumed_cell[..] } else { cells };
        let names = self.names("cell", described.iter().map(|cell| cell.name.as_deref()));
        let (in_service, out): (Vec<_>, Vec<_>) =
            names.iter().zip(described).partition(|(_, cell)| cell.in_service != Some(false));
        if in_service.is_empty() {
            self.problem(
                Problem::new("cell", "no cell is in service")
                    .with_help("set in_service = true in one [[cell]] at the least"),
            );
            return None;
        }
        let stated = in_service
            .iter()
            .map(|(name, cell)| (format!("cell.{name}.share"), cell.share))
            .collect();
        let shares = self.shares(stated, "the cells in service");
        let cells: Vec<_> = in_service
            .iter()
            .zip(shares)
            .map(|((name, cell), share)| self.cell(name, cell, share))
            .collect();
        let out = out.into_iter().map(|(name, _)| name.clone()).collect();
        Some((cells.into_iter().collect::<Option<_>>()?, out))
    }

    fn cell(&mut self, name: &str, cell: &Cell, share: Option<SlotId>) -> Option<SiteCell> {
        let path = |key: &str| format!("cell.{name}.{key}");
        let air = match (&cell.water_to_air, &cell.air_flow) {
            (Some(_), Some(_)) => {
                self.over_determined(
                    &[&path("air_flow"), &path("water_to_air")],
                    "the air flow is stated twice",
                    "keep air_flow or water_to_air",
                );
                None
            }
            (_, Some(_)) => {
                self.value(path("air_flow"), &cell.air_flow, SOME).map(CellAir::AirFlow)
            }
            _ => {
                let assumed = Stated::with(Ratio::number(1.1), Uncertainty::limit(0.4));
                self.value_or(
                    path("water_to_air"),
                    &cell.water_to_air,
                    WATER_TO_AIR,
                    (assumed, ASSUMED_WATER_TO_AIR),
                )
                .map(CellAir::WaterToAir)
            }
        };
        let assumed = Stated::with(Fraction::percent(0.005), Uncertainty::limit(0.003e-2));
        let drift = self.value_or(path("drift"), &cell.drift, FRACTION, (assumed, ASSUMED_DRIFT));
        Some(SiteCell {
            name: name.to_string(),
            arrangement: cell.arrangement.unwrap_or(Arrangement::Counterflow),
            arrangement_assumed: cell.arrangement.is_none(),
            share: share?,
            air: air?,
            drift: drift?,
        })
    }

    /// Names of the entries of a list: as stated, else their number.
    fn names<'a>(
        &mut self,
        list: &str,
        stated: impl Iterator<Item = Option<&'a str>>,
    ) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for (index, stated) in stated.enumerate() {
            let number = (index + 1).to_string();
            let name = stated.map_or_else(|| number.clone(), str::to_string);
            let path = format!("{list}.{number}.name");
            self.printable(&path, &name);
            if names.contains(&name) {
                self.problem(
                    Problem::new(path, format!("two entries of [[{list}]] are called \"{name}\""))
                        .with_help("give each its own name"),
                );
            } else if name.is_empty() {
                self.problem(
                    Problem::new(path, "the name is empty")
                        .with_help("leave the key out, or write a name"),
                );
            }
            names.push(name);
        }
        names
    }

    /// Shares of a whole, each with its path: those that are not stated take equal parts of the
    /// rest.
    fn shares(
        &mut self,
        stated: Vec<(String, Option<Stated<Share>>)>,
        of_what: &str,
    ) -> Vec<Option<SlotId>> {
        let sum: f64 =
            stated.iter().filter_map(|(_, share)| *share).map(|s| s.value.in_one()).sum();
        let open = stated.iter().filter(|(_, share)| share.is_none()).count();
        let rest = 1.0 - sum;
        let adds_up = if open == 0 { rest.abs() <= SHARE_TOLERANCE } else { rest > 0.0 };
        if !adds_up {
            let paths: Vec<&str> = stated
                .iter()
                .filter(|(_, share)| share.is_some())
                .map(|(path, _)| path.as_str())
                .collect();
            let message = format!(
                "the shares of {of_what} add up to {}",
                in_both_systems(Quantity::Share, sum)
            );
            let help = if open == 0 {
                "they must add up to 100 %"
            } else {
                "they leave nothing for those without a share"
            };
            self.over_determined(&paths, &message, help);
        }
        let equal = Share::of_one((rest / open.max(1) as f64).clamp(0.0, 1.0));
        stated
            .into_iter()
            .map(|(path, share)| self.value_or(path, &share, PART, (equal.into(), ASSUMED_SHARE)))
            .collect()
    }

    fn evaporation(
        &mut self,
        given: &Evaporation,
        has_air: bool,
        water: &WaterGiven,
    ) -> Option<EvaporationGiven> {
        let flow = self.value("evaporation.flow", &given.flow, FLOW);
        let share = self.value("evaporation.share", &given.share, FRACTION);
        let stated: Vec<&str> = [
            ("evaporation.flow", given.flow.is_some()),
            ("evaporation.share", given.share.is_some()),
            ("evaporation.method", given.method.is_some()),
        ]
        .into_iter()
        .filter(|(_, is)| *is)
        .map(|(path, _)| path)
        .collect();
        if stated.len() > 1 {
            self.over_determined(
                &stated,
                "the evaporation is stated twice",
                "keep one of method, flow and share",
            );
            return None;
        }
        if given.flow.is_some() {
            return flow.map(EvaporationGiven::Flow);
        }
        if given.share.is_some() {
            return share.map(EvaporationGiven::Fraction);
        }
        let has_temperatures = !matches!(
            water,
            WaterGiven::Range(..) | WaterGiven::HeatLoad(..) | WaterGiven::Unknown(_)
        );
        let transfer = has_air && has_temperatures;
        let best = if transfer { Method::Poppe } else { Method::Rule };
        match given.method.unwrap_or(best) {
            Method::Merkel | Method::Poppe if !transfer => {
                let (path, lacking) = if has_air {
                    ("circuit", "hot_water or cold_water")
                } else {
                    ("air", "wet_bulb in [air]")
                };
                self.problem(
                    Problem::new("evaporation.method", format!("this method needs {lacking}"))
                        .with_help(format!("add {lacking}, or use method = \"rule\""))
                        .with_related(path),
                );
                None
            }
            Method::Rule => {
                let factor = RULE_FACTOR_PER_KELVIN;
                let assumed =
                    Stated::with(Ratio::number(factor), Uncertainty::limit(RULE_SPREAD * factor));
                self.value_or("evaporation.rule_factor", &None, SOME, (assumed, ASSUMED_RULE))
                    .map(EvaporationGiven::Rule)
            }
            method => Some(EvaporationGiven::Method(method)),
        }
    }

    fn blowdown(
        &mut self,
        blowdown: Option<&Blowdown>,
        makeup: &[Makeup],
    ) -> Option<BlowdownGiven> {
        const HELP: &str =
            "write cycles = 5, or flow = \"2 m3/h\", or conductivity = \"2100 uS/cm\"";
        let Some(blowdown) = blowdown else {
            self.problem(Problem::new("blowdown", "missing table [blowdown]").with_help(HELP));
            return None;
        };
        let cycles = self.value("blowdown.cycles", &blowdown.cycles, CYCLES);
        let flow = self.value("blowdown.flow", &blowdown.flow, FLOW);
        let conductivity = self.value("blowdown.conductivity", &blowdown.conductivity, SOME);
        let stated: Vec<&str> = [
            ("blowdown.cycles", blowdown.cycles.is_some()),
            ("blowdown.flow", blowdown.flow.is_some()),
            ("blowdown.conductivity", blowdown.conductivity.is_some()),
        ]
        .into_iter()
        .filter(|(_, is)| *is)
        .map(|(path, _)| path)
        .collect();
        match stated.as_slice() {
            ["blowdown.cycles"] => cycles.map(BlowdownGiven::Cycles),
            ["blowdown.flow"] => flow.map(BlowdownGiven::Flow),
            ["blowdown.conductivity"] => {
                let lacks = |source: &Makeup| {
                    source.analysis.as_ref().is_none_or(|analysis| analysis.conductivity.is_none())
                };
                if makeup.is_empty() || makeup.iter().any(lacks) {
                    self.problem(
                        Problem::new("blowdown.conductivity", "the makeup's conductivity is missing").with_help(
                            "add conductivity under [makeup.analysis] of every [[makeup]], or give cycles or flow",
                        ),
                    );
                    return None;
                }
                conductivity.map(BlowdownGiven::Conductivity)
            }
            [] => {
                self.problem(Problem::new("blowdown", "the blowdown is not fixed").with_help(HELP));
                None
            }
            several => {
                self.over_determined(
                    several,
                    "the blowdown is stated twice",
                    "keep one of cycles, flow and conductivity",
                );
                None
            }
        }
    }

    fn makeup(&mut self, sources: &[Makeup]) -> Option<Vec<SiteMakeup>> {
        let assumed_source = [Makeup::default()];
        let described = if sources.is_empty() { &assumed_source[..] } else { sources };
        let names = self.names("makeup", described.iter().map(|source| source.name.as_deref()));
        let stated = names
            .iter()
            .zip(described)
            .map(|(name, source)| (format!("makeup.{name}.share"), source.share))
            .collect();
        let shares = self.shares(stated, "the makeup sources");
        let sources: Vec<_> = names
            .iter()
            .zip(described)
            .zip(shares)
            .map(|((name, source), share)| self.source(name, source, share))
            .collect();
        sources.into_iter().collect()
    }

    fn source(&mut self, name: &str, source: &Makeup, share: Option<SlotId>) -> Option<SiteMakeup> {
        let path = |key: &str| format!("makeup.{name}.{key}");
        let temperature = self.value_or(
            path("temperature"),
            &source.temperature,
            WATER_TEMPERATURE,
            (Temperature::celsius(MAKEUP_CELSIUS).into(), ASSUMED_MAKEUP_TEMPERATURE),
        );
        let described = source.analysis.clone().unwrap_or_default();
        let analysis =
            self.analysis(&path("analysis"), &described, temperature?, analysis::Role::Makeup);
        Some(SiteMakeup {
            name: name.to_string(),
            share: share?,
            temperature: temperature?,
            analysis: analysis?,
        })
    }
}
