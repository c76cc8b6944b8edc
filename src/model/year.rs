//! A year of weather: what the tower does hour by hour, by its own transfer characteristic, and what the
//! hours come to.

mod fills;
mod sums;
mod warnings;

use super::evaluate::recirculated;
use super::{
    Balance, BalanceError, CellState, Infeasible, Inputs, Model, Refused, State, Workspace,
};
use crate::air::MoistAir;
use crate::balance::{self, BlowdownBasis, Losses, WaterBalance};
use crate::cost::{Outflow, Prices};
use crate::readings::weather::Hour;
use crate::root::{self, Root};
use crate::site::{EvaporationGiven, FanControl, Method, Problem, SiteLoad};
use crate::tower::TowerError;
use crate::tower::prediction::{
    COLDEST_CELSIUS, CrossflowWorkspace, Fill, Held, PredictionError, Transfer,
};
use crate::water::ZERO_CELSIUS;
use fills::Fills;
use jiff::civil::Weekday;
pub use sums::{FanHours, LINE_VELOCITY_M_PER_S, Month, Outage, Peak, Sums, YearSheet};

/// Air always moves a little through a cell whose fan is off.
const LEAST_DRAUGHT: f64 = 5e-3;
/// Less load than this is none.
const NO_LOAD: f64 = 1e-3;
/// Water to air this far from the design's, as a ratio either way, is further than characteristics are
/// measured (common practice).
pub const FAR_FROM_DESIGN: f64 = 2.5;

/// Why a year cannot be run.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum YearError {
    /// The design point has no balance.
    #[error(transparent)]
    Infeasible(#[from] Infeasible),
    /// The design point does not fix the transfer.
    #[error(
        "a year needs the air and both water temperatures of the design point: the cold water of every \
         other hour follows from what the tower does there"
    )]
    NoDesign,
    /// A method without transfer.
    #[error(
        "the site's evaporation method has no transfer number, so nothing is predicted from it"
    )]
    NoTransfer,
    /// The fill of the design point.
    #[error("cell {cell}: {error}")]
    Tower {
        /// Name.
        cell: String,
        /// Why.
        error: TowerError,
    },
}

/// How the fans ran in an hour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fans {
    /// At full speed; the set point is not reached, or there is none.
    Full,
    /// Slowed down to the set point.
    Slowed,
    /// On and off at the least speed.
    Cycling,
    /// Off: natural draught is enough.
    Off,
    /// No load.
    Idle,
    /// Off, and the water would still freeze.
    Freezing,
    /// The tower cannot give off the heat: nothing is counted.
    Failed,
}

/// The wet bulb at which the cold water reaches its limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WetBulbAtLimit {
    /// Here, degC.
    At(f64),
    /// Not up to this wet bulb, degC.
    HoldsTo(f64),
    /// It is above the limit already at this wet bulb, degC.
    FailsFrom(f64),
}

/// An hour of the run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YearHour {
    /// Its weather.
    pub weather: Hour,
    /// Wet bulb, degC.
    pub wet_bulb_celsius: f64,
    /// Heat load as a part of the design's.
    pub load: f64,
    /// Cold water, degC; `None` without load, or where the tower fails.
    pub cold_water_celsius: Option<f64>,
    /// What the fans did.
    pub fans: Fans,
    /// Mean fan speed over the hour, as a part of full speed.
    pub fan_speed: f64,
    /// Water to air over the design's.
    pub ratio_over_design: f64,
    /// The balance; zero where the tower fails.
    pub water: WaterBalance,
}

impl YearHour {
    /// Whether the water-to-air ratio lies further from the design's than characteristics are measured.
    pub fn is_far_from_design(&self) -> bool {
        let ratio = self.ratio_over_design;
        ratio > FAR_FROM_DESIGN || (ratio > 0.0 && ratio < 1.0 / FAR_FROM_DESIGN)
    }
}

/// A site made ready for the hours of a year.
#[derive(Debug, Clone)]
pub struct YearPlan<'a> {
    model: &'a Model,
    fills: Fills,
    /// With none, one, ... but not all of the fans on; empty where speed holds the cold water.
    stages: Vec<Fills>,
    /// Water over the cells, kg/s.
    circulation: f64,
    /// At full load, K.
    range: f64,
    /// Of the design's air, m3/kg.
    specific_volume: f64,
    /// Of the design's air.
    relative_humidity: f64,
    /// By how much that raises the wet bulb, K.
    recirculation: f64,
    /// Pressure of the design's air, Pa.
    pressure: f64,
    drift: f64,
    leakage: f64,
    overflow: f64,
    blowdown: BlowdownBasis,
    /// Of the design, m3/h.
    design_makeup: f64,
    /// Water in the basin above the pumps' trip, m3.
    basin: Option<f64>,
    prices: Option<Prices>,
}

impl Model {
    /// Makes the site ready for the hours of a year: fits the transfer characteristic of every kind of
    /// cell to the design point.
    ///
    /// # Errors
    /// [`YearError`].
    pub fn year_plan(&self, inputs: &Inputs) -> Result<YearPlan<'_>, YearError> {
        let mut work = Workspace::new(self);
        let balance = self.evaluate(inputs, &mut work)?;
        let state = &balance.state;
        let transfer = match self.site.evaporation {
            EvaporationGiven::Method(Method::Merkel) => Transfer::Merkel,
            EvaporationGiven::Method(Method::Poppe) => Transfer::Poppe,
            _ => return Err(YearError::NoTransfer),
        };
        let (Some(air), true) = (state.entering_air, state.temperatures_are_known) else {
            return Err(YearError::NoDesign);
        };
        let range = state.range_kelvin.ok_or(YearError::NoDesign)?;
        let fills = Fills::fitted(self, transfer, state, work.cells())?;
        let water = &balance.water;
        let recirculation = self.site.air.and_then(|air| air.recirculation);
        let recirculation = recirculation.map_or(0.0, |slot| inputs.get(slot));
        let year = &self.site.year;
        let cells = self.site.cells.len();
        let stages = match year.fans {
            FanControl::Speed => Vec::new(),
            FanControl::Stages => {
                let draught = year.natural_draught.si.max(LEAST_DRAUGHT);
                (0..cells).map(|on| fills.staged(on as f64 / cells as f64, draught)).collect()
            }
        };
        Ok(YearPlan {
            model: self,
            stages,
            fills,
            circulation: state.circulation_kg_per_s,
            range,
            specific_volume: air.specific_volume_m3_per_kg(),
            relative_humidity: air.relative_humidity().min(1.0),
            recirculation,
            pressure: air.pressure_pascal,
            drift: water.drift_kg_per_s,
            leakage: water.leakage_kg_per_s,
            overflow: water.overflow_kg_per_s,
            blowdown: self.blowdown_basis(inputs, state),
            design_makeup: balance.makeup_m3_per_h(),
            basin: self.basin_above_trip(inputs),
            prices: self.prices(inputs),
        })
    }

    /// Water between the basin's operating level and where the pumps trip, or else starve, m3.
    fn basin_above_trip(&self, inputs: &Inputs) -> Option<f64> {
        let basin = self.basin_of(inputs, self.site.basin.as_ref()?).ok()?;
        let floor = basin.pump_trip_level.or(basin.suction_level)?;
        Some(basin.shape.volume(basin.operating_level) - basin.shape.volume(floor))
    }
}

/// What the fills do in an hour.
struct Done {
    cold: f64,
    evaporation: f64,
    fans: Fans,
    speed: f64,
    /// Part of the hour in which the fans run.
    running: f64,
    ratio_over_design: f64,
}

impl YearPlan<'_> {
    /// The characteristics, one for each kind of cell, with its part of the water and its design
    /// water-to-air ratio.
    pub fn fills(&self) -> impl Iterator<Item = (&Fill, f64, f64)> {
        self.fills.0.iter().map(|kind| (&kind.fill, kind.share, kind.water_to_air))
    }

    /// Pressure of the design's air, Pa.
    pub fn pressure_pascal(&self) -> f64 {
        self.pressure
    }

    /// Water over the cells while there is load, kg/s.
    pub fn circulation_kg_per_s(&self) -> f64 {
        self.circulation
    }

    /// Hot less cold water at full load, K.
    pub fn range_kelvin(&self) -> f64 {
        self.range
    }

    /// By how much recirculation raises the wet bulb at the inlet, K.
    pub fn recirculation_kelvin(&self) -> f64 {
        self.recirculation
    }

    /// What fixes the blowdown.
    pub fn blowdown_basis(&self) -> BlowdownBasis {
        self.blowdown
    }

    /// The site's model.
    pub fn model(&self) -> &Model {
        self.model
    }

    /// One hour. Depends on nothing but the hour.
    pub fn hour(&self, weather: &Hour, work: &mut CrossflowWorkspace) -> YearHour {
        let wet_bulb_celsius = weather.air.wet_bulb_celsius().unwrap_or(f64::NAN);
        let load = weather.load.unwrap_or_else(|| self.load(weather, wet_bulb_celsius));
        let done = (load > NO_LOAD).then(|| self.run(&weather.air, load, work));
        let mut hour = YearHour {
            weather: *weather,
            wet_bulb_celsius,
            load,
            cold_water_celsius: None,
            fans: Fans::Idle,
            fan_speed: 0.0,
            ratio_over_design: 0.0,
            water: self.closed(0.0, 0.0).unwrap_or(NOTHING),
        };
        match done {
            None => {}
            Some(Ok(done)) => {
                hour.cold_water_celsius = Some(done.cold);
                hour.fans = done.fans;
                hour.fan_speed = done.speed;
                hour.ratio_over_design = done.ratio_over_design;
                let evaporation = done.evaporation * self.circulation;
                // No droplets leave a cell whose fan stands.
                match self.closed(evaporation, done.running * self.drift) {
                    Ok(water) => hour.water = water,
                    Err(_) => hour.fans = Fans::Failed,
                }
            }
            Some(Err(_)) => {
                hour.fans = Fans::Failed;
                hour.water = NOTHING;
            }
        }
        hour
    }

    fn closed(&self, evaporation: f64, drift: f64) -> Result<WaterBalance, BalanceError> {
        let losses = Losses {
            // Cold water can take moisture from warm air; no makeup is gained by it.
            evaporation_kg_per_s: evaporation.max(0.0),
            drift_kg_per_s: drift,
            leakage_kg_per_s: self.leakage,
            overflow_kg_per_s: self.overflow,
        };
        let basis = match self.blowdown {
            // A bleed by hand or by timer is open while the tower runs.
            BlowdownBasis::FlowKgPerS(_) if evaporation == 0.0 => BlowdownBasis::FlowKgPerS(0.0),
            basis => basis,
        };
        balance::close(&losses, basis)
    }

    fn load(&self, weather: &Hour, wet_bulb_celsius: f64) -> f64 {
        match &self.model.site.year.load {
            SiteLoad::Constant(load) => load.si,
            SiteLoad::Hours(days) => {
                let day = match weather.time.weekday() {
                    Weekday::Saturday => 1,
                    Weekday::Sunday => 2,
                    _ => 0,
                };
                days[day][weather.time.hour() as usize]
            }
            SiteLoad::WetBulb(points) => between(points, wet_bulb_celsius + ZERO_CELSIUS),
        }
    }

    /// Runs the fans as the set point asks.
    fn run(
        &self,
        ambient: &MoistAir,
        load: f64,
        work: &mut CrossflowWorkspace,
    ) -> Result<Done, PredictionError> {
        let year = &self.model.site.year;
        let range = load * self.range;
        let air = &recirculated(*ambient, self.recirculation).map_err(TowerError::Air)?;
        // Fans move a volume: thin air carries less mass.
        let full = air.specific_volume_m3_per_kg() / self.specific_volume;
        let Some(set_point) = year.set_point_kelvin.map(|kelvin| kelvin - ZERO_CELSIUS) else {
            return match self.fills.predict(range, air, full, work) {
                Ok(found) => Ok(ran(found, Fans::Full, full)),
                Err(PredictionError::Freezes) => self.off(range, air, full, work),
                Err(error) => Err(error),
            };
        };
        if year.fans == FanControl::Stages {
            return self.staged(range, air, (set_point, full), work);
        }
        let least_speed = year.least_fan_speed.si;
        let slowest = full / least_speed;
        match self.fills.speed_for(range, air, (set_point, full, least_speed), work) {
            Held::AboveFull => {
                let found = self.fills.predict(range, air, full, work)?;
                return Ok(ran(found, Fans::Full, full));
            }
            Held::Between { speed, evaporation_per_water } => {
                let found = (set_point, evaporation_per_water);
                return Ok(Done { speed, ..ran(found, Fans::Slowed, full / speed) });
            }
            Held::BelowLeast => {}
        }
        let off = self.off(range, air, full, work);
        let warm = match off {
            Ok(done) if done.cold <= set_point => return Ok(done),
            Ok(done) => done.cold,
            Err(PredictionError::TooHot) => set_point + range,
            Err(error) => return Err(error),
        };
        // On at the least speed for a part of the hour, so that the mean is held.
        let at_least = self.fills.predict(range, air, slowest, work);
        let cold = at_least.map_or(COLDEST_CELSIUS, |(cold, _)| cold);
        let running = ((warm - set_point) / (warm - cold)).clamp(0.0, 1.0);
        let evaporation = self.fills.evaporation(range, air, (set_point, slowest), work)?;
        let done = ran((set_point, evaporation), Fans::Cycling, slowest);
        Ok(Done { speed: running * least_speed, running, ..done })
    }

    /// As many fans on as the set point asks for, one of them for a part of the hour.
    fn staged(
        &self,
        range: f64,
        air: &MoistAir,
        (set_point, full): (f64, f64),
        work: &mut CrossflowWorkspace,
    ) -> Result<Done, PredictionError> {
        let mut above = self.fills.predict(range, air, full, work);
        match above {
            Ok(found) if found.0 >= set_point => return Ok(ran(found, Fans::Full, full)),
            Ok(_) | Err(PredictionError::Freezes) => {}
            Err(error) => return Err(error),
        }
        let cells = self.stages.len() as f64;
        for (on, fills) in self.stages.iter().enumerate().rev() {
            let found = fills.predict(range, air, full, work);
            let is_warm = match found {
                Ok((cold, _)) => cold >= set_point,
                Err(error) => error == PredictionError::TooHot,
            };
            if is_warm {
                // This many for a part of the hour, and one more for the rest.
                let (cold, evaporation) = above.unwrap_or((COLDEST_CELSIUS, f64::NAN));
                let (warm, less) = found.unwrap_or((set_point + range, evaporation));
                let more = ((warm - set_point) / (warm - cold)).clamp(0.0, 1.0);
                let evaporation = if evaporation.is_nan() { less } else { evaporation };
                let mean = more * evaporation + (1.0 - more) * less;
                let running = (on as f64 + more) / cells;
                let done = ran((set_point, mean), Fans::Cycling, full);
                return Ok(Done { speed: running, running, ..done });
            }
            above = found;
        }
        self.off(range, air, full, work)
    }

    /// With the fans off.
    fn off(
        &self,
        range: f64,
        air: &MoistAir,
        full: f64,
        work: &mut CrossflowWorkspace,
    ) -> Result<Done, PredictionError> {
        let draught = self.model.site.year.natural_draught.si;
        if draught <= 0.0 {
            return Err(PredictionError::TooHot);
        }
        let ratio = full / draught;
        let still = |found, fans| Done { speed: 0.0, running: 0.0, ..ran(found, fans, ratio) };
        match self.fills.predict(range, air, ratio, work) {
            Ok(found) => Ok(still(found, Fans::Off)),
            Err(PredictionError::Freezes) => {
                let at = (COLDEST_CELSIUS, ratio);
                let evaporation = self.fills.evaporation(range, air, at, work)?;
                Ok(still((COLDEST_CELSIUS, evaporation), Fans::Freezing))
            }
            Err(error) => Err(error),
        }
    }

    /// The wet bulb at which the cold water reaches the site's limit with the fans at full speed and full
    /// load, at the design's relative humidity; `None` without a limit.
    pub fn wet_bulb_at_limit(&self, work: &mut CrossflowWorkspace) -> Option<WetBulbAtLimit> {
        const RANGE: (f64, f64) = (-10.0, 40.0);
        let limit = self.model.site.year.limit_kelvin? - ZERO_CELSIUS;
        let below = |wet_bulb: f64| {
            let Some(air) = self.air_of_wet_bulb(wet_bulb) else { return f64::NAN };
            let full = air.specific_volume_m3_per_kg() / self.specific_volume;
            match self.fills.predict(self.range, &air, full, work) {
                Ok((cold, _)) => limit - cold,
                Err(PredictionError::Freezes) => limit,
                Err(_) => limit - 100.0,
            }
        };
        Some(match root::near(below, (20.0, 2.0), RANGE, 1e-3) {
            Root::At(wet_bulb) => WetBulbAtLimit::At(wet_bulb),
            Root::AboveRange => WetBulbAtLimit::HoldsTo(RANGE.1),
            Root::BelowRange => WetBulbAtLimit::FailsFrom(RANGE.0),
        })
    }

    /// Air of a wet bulb at the design's relative humidity, or where that asks for air too hot for the
    /// formulas, at the hottest; with what is drawn in again.
    fn air_of_wet_bulb(&self, wet_bulb: f64) -> Option<MoistAir> {
        const HOTTEST_CELSIUS: f64 = 70.0;
        let (humidity, pressure) = (self.relative_humidity, self.pressure);
        let air = MoistAir::from_wet_bulb_and_relative_humidity(wet_bulb, humidity, pressure)
            .or_else(|_| MoistAir::from_wet_bulb(HOTTEST_CELSIUS, wet_bulb, pressure))
            .ok()?;
        recirculated(air, self.recirculation).ok()
    }

    /// Cold water at full speed for another state of the site, at its own water-to-air ratio, degC;
    /// `None` where nothing is predicted.
    pub(crate) fn cold_water(&self, state: &State, cells: &[CellState]) -> Option<f64> {
        let ratio = cells.first()?.water_to_air?;
        let times = ratio / self.fills.0.first()?.water_to_air;
        let range = state.range_kelvin?;
        let mut work = CrossflowWorkspace::default();
        let found = self.fills.predict(range, &state.entering_air?, times, &mut work);
        found.ok().map(|(cold, _)| cold)
    }

    fn m3_per_h(stream: Outflow, water: &WaterBalance) -> f64 {
        Balance::reference_m3_per_h(stream.kg_per_s(water))
    }
}

const NOTHING: WaterBalance = WaterBalance {
    evaporation_kg_per_s: 0.0,
    drift_kg_per_s: 0.0,
    blowdown_kg_per_s: 0.0,
    leakage_kg_per_s: 0.0,
    overflow_kg_per_s: 0.0,
    makeup_kg_per_s: 0.0,
    cycles_of_concentration: 1.0,
    losses_exceed_blowdown: false,
};

fn ran((cold, evaporation): (f64, f64), fans: Fans, ratio_over_design: f64) -> Done {
    Done { cold, evaporation, fans, speed: 1.0, running: 1.0, ratio_over_design }
}

/// Straight between points, level beyond them.
fn between(points: &[(f64, f64)], at: f64) -> f64 {
    let after = points.iter().position(|(x, _)| *x >= at);
    match after {
        None => points.last().map_or(1.0, |(_, y)| *y),
        Some(0) => points[0].1,
        Some(after) => {
            let ((x0, y0), (x1, y1)) = (points[after - 1], points[after]);
            y0 + (at - x0) / (x1 - x0) * (y1 - y0)
        }
    }
}

impl Refused for YearError {
    fn problem(&self, model: &Model) -> Problem {
        match self {
            YearError::Infeasible(why) => why.problem(model),
            YearError::NoDesign => Problem::new("circuit", self.to_string())
                .with_help("give hot_water and cold_water, and dry_bulb with wet_bulb under [air]"),
            YearError::NoTransfer => Problem::new("evaporation", self.to_string())
                .with_help("take method = \"poppe\" or \"merkel\""),
            YearError::Tower { .. } => Problem::new("circuit", self.to_string()),
        }
    }
}
