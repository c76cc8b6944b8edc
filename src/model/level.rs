//! The basin of a site: where the water settles, and what happens when something goes wrong.

use super::money::FurtherOverflow;
use super::{Balance, Infeasible, Inputs, Model, Refused, Workspace};
use crate::basin::course::{self, Circuit, Course, CourseError, Makeup, Phase};
use crate::basin::drain;
use crate::basin::drop_test::{DropTest, Leak, still_evaporation_mm_per_h};
use crate::basin::outflow::{Drain, Overflow};
use crate::basin::valve::{Action, FloatValve, KV_OF_CV, flow_of_kv};
use crate::basin::{Basin, Shape};
use crate::cost::{Metered, Prices, StreamPrice};
use crate::quantity::Uncertainty;
use crate::site::{
    AREA_PERCENT, CapacityGiven, Control, OverflowGiven, Problem, SewerBasis, ShapeGiven, SiteBasin,
};
use crate::warnings::level as notices;
use crate::warnings::money::SEWER_MISSES_LOSSES;
use crate::warnings::{Notice, Noticed};

/// Hours of the events.
pub(crate) const STOP_HOURS: f64 = 2.0;
const RESTART_HOURS: f64 = 2.0;
const LONG_HOURS: f64 = 168.0;
/// Air over a basin whose fans are off, m/s.
const STILL_AIR: f64 = 0.1;
/// Supply over demand that a makeup valve is sized for (common practice).
pub const VALVE_OVER_DEMAND: f64 = 1.5;
/// Air gap in pipe diameters (common practice; the local backflow rule decides).
pub const AIR_GAP_DIAMETERS: f64 = 2.0;

/// No basin's rim stands further above its overflow, m (common practice).
const MOST_HEAD: f64 = 0.3;

/// Less water than this over the lip is none, m3.
const NOTHING: f64 = 1e-3;

/// Why a site has no level.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LevelError {
    /// No basin.
    #[error("the basin is not described")]
    NoBasin,
    /// The parts are more than the whole.
    #[error(
        "the basin at its operating level and what runs back hold {parts:.1} m3, more than the {whole:.1} m3 of the system"
    )]
    VolumeTooSmall {
        /// m3.
        parts: f64,
        /// m3.
        whole: f64,
    },
    /// The level cannot be followed.
    #[error(transparent)]
    Course(#[from] CourseError),
    /// The balance of the site itself.
    #[error(transparent)]
    Infeasible(#[from] Infeasible),
}

/// What is asked of a level sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelQuestions {
    /// Part of its capacity by which the makeup valve is stuck open.
    pub stuck: f64,
    /// Hours that an alarm must leave to act.
    pub act_hours: f64,
    /// Cycles to bring the water down to.
    pub to_cycles: Option<f64>,
    /// A drop test.
    pub drop_test: Option<DropReading>,
}

impl Default for LevelQuestions {
    /// What the command asks where nobody says otherwise.
    fn default() -> Self {
        Self { stuck: 1.0, act_hours: 0.5, to_cycles: None, drop_test: None }
    }
}

/// What a drop test read, with standard uncertainties.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DropReading {
    /// mm.
    pub drop: (f64, f64),
    /// h.
    pub hours: (f64, f64),
    /// Whether nobody stated the uncertainty of the drop, and of the hours.
    pub is_assumed: [bool; 2],
}

/// What a week with the stuck valve costs more than an ordinary one. The chemicals are not counted.
#[derive(Debug, Clone, PartialEq)]
pub struct StuckBill {
    /// More that the meters count than in the ordinary week, m3; less where it is below zero.
    pub metered: Metered,
    /// More on the bill.
    pub more: StreamPrice,
    /// What the sewer is billed on; `None` where it has no price.
    pub basis: Option<SewerBasis>,
    /// Price of a m3 in the sewer.
    pub sewer_price: f64,
}

/// A week with the bleed valve left open against an ordinary one. The chemicals are not counted.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenBleed {
    /// Flow of the open valve, m3/h.
    pub flow: f64,
    /// Cycles that are left in the end: (evaporation + liquid losses) over liquid losses.
    pub cycles: f64,
    /// Whether the makeup valve passes less than is then lost, so that the basin runs dry.
    pub outruns_makeup: bool,
    /// More that the meters count than in the ordinary week, m3.
    pub metered: Metered,
    /// More on the bill, where a price is stated.
    pub more: Option<StreamPrice>,
}

/// What pump stops lose over the lip.
#[derive(Debug, Clone, PartialEq)]
pub struct StopLoss {
    /// Stops in a day.
    pub stops_per_day: f64,
    /// Water over the lip in a day, m3.
    pub per_day: f64,
    /// Water over the lip in an operating year, m3.
    pub per_year: f64,
    /// What that changes in an operating year.
    pub more: FurtherOverflow,
}

/// Bringing the cycles down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dilution {
    /// To these.
    pub cycles: f64,
    /// Water to drain while the level is kept, m3.
    pub volume: f64,
    /// As fast as drain and makeup valve go, h.
    pub hours: Option<f64>,
    /// Emptying the basin and filling it, so many times, and the water that it takes, m3.
    pub steps: Option<(usize, f64)>,
}

/// All about the level.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelSheet {
    /// Name of the site.
    pub name: String,
    /// The basin.
    pub basin: Basin,
    /// The circuit, m3 and m3/h.
    pub circuit: Circuit,
    /// Makeup now, m3/h.
    pub demand: f64,
    /// Where the float settles; `None` without a valve, or where it cannot supply the demand.
    pub settles_at: Option<f64>,
    /// Velocity in the makeup pipe at the demand and fully open, m/s.
    pub velocity: Option<(f64, f64)>,
    /// Level that the events start from.
    pub start_level: f64,
    /// A pump stop of two hours, then two hours of running.
    pub stop: Course,
    /// Lowest level after the restart, and hours from then.
    pub restart_lowest: (f64, f64),
    /// What the pump stops lose, where their number is stated and water goes over the lip.
    pub stop_loss: Option<StopLoss>,
    /// No makeup for a week.
    pub lost: Course,
    /// The makeup valve stuck open for a week, where there is one.
    pub stuck: Option<Course>,
    /// Flow of the stuck valve, m3/h.
    pub stuck_flow: f64,
    /// What that week costs more than an ordinary one, where a price is stated and the basin lasts the
    /// week.
    pub stuck_bill: Option<StuckBill>,
    /// The bleed valve left open, where its flow is stated and is more than the blowdown.
    pub open_bleed: Option<OpenBleed>,
    /// The drain left open for a week, where there is one.
    pub drained: Option<Course>,
    /// An hour of rain, where it is stated.
    pub rained: Option<Course>,
    /// Rain, m3/h.
    pub rain_flow: f64,
    /// Low alarm that leaves the asked time until the pumps trip or draw air, whichever is first; `None` where
    /// none below the running level does.
    pub low_alarm_for_act: Option<f64>,
    /// High alarm that leaves the asked time to the overflow under the stuck valve; `None` where none above the
    /// running level does.
    pub high_alarm_for_act: Option<f64>,
    /// Hours that the low alarm leaves now until the pumps trip or draw air, whichever is first.
    pub act_hours_now: Option<f64>,
    /// Level at which the overflow carries the stuck valve.
    pub stuck_level: Option<f64>,
    /// Air gap between the makeup's outlet and the overflow's lip, m, and what common practice asks.
    pub air_gap: Option<(f64, Option<f64>)>,
    /// Water surface at the operating level, m2.
    pub area: f64,
    /// Price of a m3 of makeup.
    pub price: Option<f64>,
    /// Currency of the site's prices; empty where none is named.
    pub currency: String,
    /// Bringing the cycles down, where it was asked.
    pub dilution: Option<Dilution>,
    /// The leak of the drop test, where one was read.
    pub leak: Option<Leak>,
    /// Evaporation from the still surface, mm/h.
    pub still_evaporation: f64,
    /// What looks wrong, in sentences.
    pub warnings: Vec<Noticed>,
    /// What was asked.
    pub questions: LevelQuestions,
}

impl LevelSheet {
    /// What the makeup valve should pass, m3/h, by common practice.
    pub fn valve_needed(&self) -> f64 {
        VALVE_OVER_DEMAND * self.demand
    }

    /// How much lower the float has to be set so that what a pump stop now sends over the lip stays in the
    /// basin, m; `None` where nothing does, or where the water would then stand below the low alarm, the trip
    /// or what the suction needs.
    pub fn lower_for_stops(&self) -> Option<f64> {
        let spilled = Some(self.stop.overflowed).filter(|spilled| *spilled > NOTHING)?;
        let basin = &self.basin;
        let lower = basin.shape.level(basin.shape.volume(self.start_level) - spilled);
        let least = [basin.low_alarm_level, basin.pump_trip_level, basin.suction_level];
        let least = least.into_iter().flatten().fold(0.0, f64::max);
        (lower > least).then_some(self.start_level - lower)
    }
}

/// A week of ordinary running.
const RUNNING: Phase = Phase {
    hours: LONG_HOURS,
    pumps_run: true,
    makeup: Makeup::Float,
    drain_is_open: false,
    rain: 0.0,
};
/// A pump stop.
const STOPPED: Phase = Phase { hours: STOP_HOURS, pumps_run: false, ..RUNNING };

/// The basin while the tower runs: where all events start from.
#[derive(Debug, Clone)]
pub(super) struct RunningBasin {
    balance: Balance,
    basin: Basin,
    circuit: Circuit,
    pub demand: f64,
    pub settles_at: Option<f64>,
    start_level: f64,
}

impl RunningBasin {
    fn follow(&self, phases: &[Phase]) -> Result<Course, CourseError> {
        course::course(&self.basin, &self.circuit, self.start_level, phases)
    }

    /// The events that carry a ±.
    pub fn courses(&self) -> Result<Courses, CourseError> {
        Ok(Courses {
            stop: self.follow(&[STOPPED])?,
            lost: self.follow(&[Phase { makeup: Makeup::Lost, ..RUNNING }])?,
        })
    }

    /// The makeup valve stuck open by this part of its capacity, where there is one.
    fn stuck(&self, part: f64) -> Result<Option<Course>, CourseError> {
        let follow = |_| self.follow(&[Phase { makeup: Makeup::Stuck(part), ..RUNNING }]);
        self.basin.valve.map(follow).transpose()
    }

    /// What passes the makeup valve and the blowdown in the week with the stuck valve, as far as it is billed;
    /// `None` without a valve, or where the basin runs dry.
    pub fn billed_week(
        &self,
        part: f64,
        prices: &Prices,
    ) -> Result<Option<StuckWeek>, CourseError> {
        let blowdown_is_billed = prices.basis == SewerBasis::Blowdown && prices.sewer != 0.0;
        let flow = self.basin.valve.map_or(0.0, |valve| valve.capacity * part);
        // A flow that keeps the basin from running dry lasts the week, and nobody asks what a controller
        // makes of blowdown that is not billed.
        if flow >= self.demand && !blowdown_is_billed {
            let [makeup, blown_down] = [flow, self.circuit.blowdown].map(|flow| LONG_HOURS * flow);
            return Ok(Some(StuckWeek { makeup, blown_down }));
        }
        Ok(self.stuck(part)?.as_ref().and_then(StuckWeek::of))
    }

    /// The same basin without what only watches or empties it: alarm, trip, suction, drain.
    pub fn unwatched(mut self) -> Self {
        let basin = &mut self.basin;
        (basin.low_alarm_level, basin.pump_trip_level) = (None, None);
        (basin.suction_level, basin.drain) = (None, None);
        self
    }

    /// Whether the same happens in both at every event.
    pub fn runs_like(&self, other: &Self) -> bool {
        self.basin == other.basin
            && self.circuit == other.circuit
            && self.start_level == other.start_level
    }
}

/// What passes in the week with the makeup valve stuck open, m3.
#[derive(Debug, Clone, Copy)]
pub(super) struct StuckWeek {
    makeup: f64,
    blown_down: f64,
}

impl StuckWeek {
    /// `None` where the basin runs dry.
    fn of(course: &Course) -> Option<Self> {
        let lasts = course.empties_at.is_none();
        lasts.then_some(Self { makeup: course.makeup, blown_down: course.blown_down })
    }
}

/// The events of a basin that carry a ±.
#[derive(Debug, Clone)]
pub(super) struct Courses {
    /// A pump stop.
    pub stop: Course,
    /// No makeup for a week.
    pub lost: Course,
}

impl Model {
    /// The site's basin while the tower runs.
    pub(super) fn running_basin(
        &self,
        inputs: &Inputs,
        work: &mut Workspace,
    ) -> Result<RunningBasin, LevelError> {
        let site = self.site.basin.as_ref().ok_or(LevelError::NoBasin)?;
        let balance = self.evaluate(inputs, work)?;
        let basin = self.basin_of(inputs, site)?;
        let circuit = self.basin_circuit(inputs, &basin, &balance)?;
        let demand = Balance::reference_m3_per_h(balance.water.makeup_kg_per_s);
        let settles_at = basin.valve.and_then(|valve| valve.settles_at(demand));
        let start_level = settles_at.unwrap_or(basin.operating_level);
        Ok(RunningBasin { balance, basin, circuit, demand, settles_at, start_level })
    }

    /// The level of the site's basin for these numbers.
    ///
    /// # Errors
    /// [`LevelError`].
    pub fn level(
        &self,
        inputs: &Inputs,
        questions: LevelQuestions,
    ) -> Result<LevelSheet, LevelError> {
        let site = self.site.basin.as_ref().ok_or(LevelError::NoBasin)?;
        let running = self.running_basin(inputs, &mut Workspace::new(self))?;
        let Courses { stop, lost } = running.courses()?;
        let stuck = running.stuck(questions.stuck)?;
        let restarted = running.follow(&[STOPPED, Phase { hours: RESTART_HOURS, ..RUNNING }])?;
        let (lowest, hour) = lowest_after(&restarted, STOP_HOURS);
        let restart_lowest = (lowest, (hour - STOP_HOURS).max(0.0));
        let stuck_flow = running.basin.valve.map_or(0.0, |valve| valve.capacity * questions.stuck);
        let drained = running
            .basin
            .drain
            .map(|_| running.follow(&[Phase { drain_is_open: true, ..RUNNING }]))
            .transpose()?;
        let area = running.basin.shape.area(running.basin.operating_level);
        let rain_area = site.rain_area.map_or(area, |slot| inputs.get(slot));
        let rain_flow = site.rain.map_or(0.0, |slot| inputs.get(slot) * rain_area * 3_600.0);
        let rained = (rain_flow > 0.0)
            .then(|| running.follow(&[Phase { hours: 1.0, rain: rain_flow, ..RUNNING }]))
            .transpose()?;
        let stuck_bill = stuck
            .as_ref()
            .and_then(StuckWeek::of)
            .and_then(|week| self.stuck_bill(&running, self.prices(inputs)?, week));
        let RunningBasin { balance, basin, circuit, demand, settles_at, start_level } = running;
        // Without air the surface is taken to give nothing off.
        let still = balance.state.entering_air.map_or(Ok(0.0), |air| {
            let cold = balance.state.cold_water_celsius;
            still_evaporation_mm_per_h(cold, &air, STILL_AIR)
        });
        let still = still.map_err(Infeasible::Air)?;
        let losses = circuit.evaporation + circuit.drift + circuit.blowdown + circuit.leakage;
        // A controller shuts the blowdown as the cycles fall.
        let shut = if circuit.is_controlled { circuit.blowdown } else { 0.0 };
        let excess = stuck_flow - (losses - shut);
        // The time to act ends with the first harm: air in the suction, or the trip.
        let floor = either(basin.pump_trip_level, basin.suction_level, f64::max);
        let pipe = site.valve.as_ref().and_then(|valve| valve.pipe);
        let diameter = pipe.map(|slot| inputs.get(slot));
        let velocity = diameter.zip(basin.valve).map(|(diameter, valve)| {
            let section = std::f64::consts::PI / 4.0 * diameter * diameter * 3_600.0;
            (demand / section, valve.capacity / section)
        });
        let mut sheet = LevelSheet {
            name: self.site.name.clone(),
            demand,
            settles_at,
            velocity,
            start_level,
            restart_lowest,
            stop_loss: site
                .pump_stops_per_day
                .map(|slot| inputs.get(slot))
                .and_then(|stops| self.stop_loss(inputs, &balance, stops, stop.overflowed)),
            act_hours_now: lost
                .alarms_at
                .zip(either(lost.trips_at, lost.starves_at, f64::min))
                .map(|(alarm, harm)| harm - alarm),
            stop,
            lost,
            stuck_bill,
            stuck,
            open_bleed: self.open_bleed(inputs, &balance, &circuit, basin.valve.as_ref()),
            stuck_flow,
            drained,
            rained,
            rain_flow,
            low_alarm_for_act: floor
                .map(|floor| {
                    let volume = basin.shape.volume(floor) + losses * questions.act_hours;
                    basin.shape.level(volume)
                })
                .filter(|level| *level < start_level),
            high_alarm_for_act: (excess > 0.0)
                .then(|| {
                    let volume =
                        basin.shape.volume(basin.overflow_level) - excess * questions.act_hours;
                    basin.shape.level(volume)
                })
                .filter(|level| *level > start_level),
            stuck_level: basin
                .overflow
                .filter(|_| excess > 0.0)
                .map(|overflow| basin.overflow_level + overflow.head_for(excess)),
            air_gap: site.inlet_level.map(|slot| {
                let gap = inputs.get(slot) - basin.overflow_level;
                (gap, diameter.map(|diameter| AIR_GAP_DIAMETERS * diameter))
            }),
            area,
            price: self.site.cost.makeup.map(|slot| inputs.get(slot)),
            currency: self.site.cost.currency.clone(),
            dilution: questions.to_cycles.and_then(|to| dilution(&basin, &circuit, to)),
            leak: questions.drop_test.map(|read| {
                let area = (area, self.area_standard(site, area));
                let test =
                    DropTest { drop: read.drop, hours: read.hours, area, evaporation: still };
                test.leak()
            }),
            still_evaporation: still,
            warnings: Vec::new(),
            questions,
            basin,
            circuit,
        };
        sheet.warnings = warnings(&sheet);
        Ok(sheet)
    }

    /// What so many stops a day lose, each so many m3; `None` where that is nothing.
    fn stop_loss(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        stops_per_day: f64,
        overflowed: f64,
    ) -> Option<StopLoss> {
        let per_day = stops_per_day * overflowed;
        if overflowed <= NOTHING || per_day <= 0.0 {
            return None;
        }
        Some(StopLoss {
            stops_per_day,
            per_day,
            per_year: per_day / 24.0 * inputs.get(self.site.hours_per_year),
            more: self.further_overflow(inputs, balance, per_day / 24.0)?,
        })
    }

    /// The week with the stuck valve less the ordinary one, in which the float lets in the demand; `None` where
    /// no float could.
    pub(super) fn stuck_bill(
        &self,
        running: &RunningBasin,
        prices: Prices,
        week: StuckWeek,
    ) -> Option<StuckBill> {
        running.settles_at?;
        let metered = Metered {
            makeup: week.makeup - LONG_HOURS * running.demand,
            // The load is the same in both weeks.
            evaporation: 0.0,
            blowdown: week.blown_down - LONG_HOURS * running.circuit.blowdown,
        };
        Some(StuckBill {
            metered,
            more: prices.bill(&metered),
            basis: self.site.cost.sewer.map(|_| prices.basis),
            sewer_price: prices.sewer,
        })
    }

    /// The week with the bleed valve left open: the makeup follows, and the cycles fall.
    fn open_bleed(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        circuit: &Circuit,
        makeup: Option<&FloatValve>,
    ) -> Option<OpenBleed> {
        let slot = self.site.chemistry.valve_flow?;
        let kg_per_s = self.mass_flow(inputs, slot, balance.state.cold_water_celsius);
        let flow = Balance::reference_m3_per_h(kg_per_s);
        let more = Some(flow - circuit.blowdown).filter(|more| *more > 0.0)?;
        let liquid = circuit.drift + circuit.leakage + flow;
        let metered = Metered {
            makeup: LONG_HOURS * more,
            // The load is the same in both weeks.
            evaporation: 0.0,
            blowdown: LONG_HOURS * more,
        };
        Some(OpenBleed {
            flow,
            cycles: (circuit.evaporation + liquid) / liquid,
            outruns_makeup: makeup
                .is_some_and(|valve| valve.capacity < circuit.evaporation + liquid),
            more: self.prices(inputs).map(|prices| prices.bill(&metered)),
            metered,
        })
    }

    /// Standard uncertainty of a basin's plan area, m2: the file's, or that of a tape.
    fn area_standard(&self, site: &SiteBasin, area: f64) -> f64 {
        let by_tape = Uncertainty::limit(area * AREA_PERCENT / 100.0);
        let of_file = match site.shape {
            ShapeGiven::Area(slot) => self.slot_value(slot).uncertainty,
            ShapeGiven::Levels(_) => None,
        };
        of_file.unwrap_or(by_tape).standard()
    }

    /// Water in the system, m3: stated, else what the basin holds and what runs back to it.
    pub(super) fn volume_m3(&self, inputs: &Inputs) -> Option<f64> {
        if let Some(slot) = self.site.volume {
            return Some(inputs.get(slot));
        }
        let basin = self.basin_of(inputs, self.site.basin.as_ref()?).ok()?;
        Some(basin.shape.volume(basin.operating_level) + basin.held_up)
    }

    pub(super) fn basin_of(&self, inputs: &Inputs, site: &SiteBasin) -> Result<Basin, LevelError> {
        let of = |slot: Option<_>| slot.map(|slot| inputs.get(slot));
        let shape = match &site.shape {
            ShapeGiven::Area(area) => Shape::upright(inputs.get(*area)),
            ShapeGiven::Levels(points) => Shape::of_points(
                points
                    .iter()
                    .map(|(level, volume)| (inputs.get(*level), inputs.get(*volume)))
                    .collect(),
            ),
        }
        .map_err(|_| CourseError::NotPhysical)?;
        let valve = site.valve.as_ref().map(|valve| {
            let (low, high) = (inputs.get(valve.low_level), inputs.get(valve.high_level));
            let action = if valve.is_proportional {
                Action::Proportional { open_level: low, shut_level: high }
            } else {
                Action::OnOff { on_level: low, off_level: high }
            };
            let bar = |slot| inputs.get(slot) / 1e5;
            let capacity = match valve.capacity {
                CapacityGiven::Flow(flow) => inputs.get(flow) * 3_600.0,
                CapacityGiven::Kv(kv, pressure) => flow_of_kv(inputs.get(kv), bar(pressure)),
                CapacityGiven::Cv(cv, pressure) => {
                    flow_of_kv(KV_OF_CV * inputs.get(cv), bar(pressure))
                }
            };
            FloatValve { action, capacity }
        });
        Ok(Basin {
            shape,
            operating_level: inputs.get(site.operating_level),
            overflow_level: inputs.get(site.overflow_level),
            low_alarm_level: of(site.low_alarm_level),
            pump_trip_level: of(site.pump_trip_level),
            suction_level: of(site.suction_level),
            held_up: inputs.get(site.held_up),
            run_back_hours: inputs.get(site.run_back) / 3_600.0,
            valve,
            overflow: site.overflow.map(|overflow| match overflow {
                OverflowGiven::Pipe(slot) => Overflow::Pipe(inputs.get(slot)),
                OverflowGiven::Weir(slot) => Overflow::Weir(inputs.get(slot)),
                OverflowGiven::SidePipe(slot) => Overflow::SidePipe(inputs.get(slot)),
            }),
            drain: site.drain_pipe.map(|slot| Drain(inputs.get(slot))),
        })
    }

    fn basin_circuit(
        &self,
        inputs: &Inputs,
        basin: &Basin,
        balance: &Balance,
    ) -> Result<Circuit, LevelError> {
        let parts = basin.shape.volume(basin.operating_level) + basin.held_up;
        let whole = self.site.volume.map_or(parts, |slot| inputs.get(slot));
        if parts > whole * (1.0 + 1e-9) {
            return Err(LevelError::VolumeTooSmall { parts, whole });
        }
        let hourly = Balance::reference_m3_per_h;
        let water = &balance.water;
        Ok(Circuit {
            elsewhere: (whole - parts).max(0.0),
            evaporation: hourly(water.evaporation_kg_per_s),
            drift: hourly(water.drift_kg_per_s),
            blowdown: hourly(water.blowdown_kg_per_s),
            leakage: hourly(water.leakage_kg_per_s + water.overflow_kg_per_s),
            cycles: water.cycles_of_concentration.min(1e3),
            is_controlled: self.site.control == Some(Control::Conductivity),
        })
    }
}

/// Draining while the makeup keeps the level, against emptying and filling the basin.
fn dilution(basin: &Basin, circuit: &Circuit, to: f64) -> Option<Dilution> {
    let water = basin.shape.volume(basin.operating_level);
    let whole = water + basin.held_up + circuit.elsewhere;
    let volume = whole * drain::dilution_volumes(circuit.cycles, to)?;
    let out = basin.drain.map(|drain| drain.flow(basin.operating_level));
    let rate = match (out, basin.valve.map(|valve| valve.capacity)) {
        (Some(out), Some(capacity)) => Some(out.min(capacity)),
        _ => None,
    };
    Some(Dilution {
        cycles: to,
        volume,
        hours: rate.map(|rate| volume / rate),
        steps: drain::fill_and_drain_to(circuit.cycles, to, water / whole)
            .map(|(steps, volumes)| (steps, volumes * whole)),
    })
}

/// The one that there is, or what `of` makes of both.
fn either(a: Option<f64>, b: Option<f64>, of: fn(f64, f64) -> f64) -> Option<f64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(of(a, b)),
        (a, b) => a.or(b),
    }
}

/// The lowest level from an hour on.
fn lowest_after(course: &Course, hour: f64) -> (f64, f64) {
    let later = course.samples.iter().filter(|sample| sample.hour >= hour);
    later
        .map(|sample| (sample.level, sample.hour))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap_or(course.lowest)
}

fn warnings(sheet: &LevelSheet) -> Vec<Noticed> {
    let mut warnings = Vec::new();
    let mut warn = |notice: &'static Notice, holds: bool, words: &str| {
        if holds {
            warnings.push(notice.with(words));
        }
    };
    let basin = &sheet.basin;
    if let Some(valve) = &basin.valve {
        warn(
            &notices::VALVE_BELOW_DEMAND,
            valve.capacity < sheet.demand,
            "The makeup valve passes less than the tower uses: the basin runs dry.",
        );
        warn(
            &notices::VALVE_WITHOUT_RESERVE,
            valve.capacity >= sheet.demand && valve.capacity < sheet.valve_needed(),
            &format!(
                "The makeup valve has less than {VALVE_OVER_DEMAND} times this hour's makeup (common \
                 practice): little is left for the peak and for refilling."
            ),
        );
    }
    let spills = [Some(&sheet.stop), sheet.stuck.as_ref(), sheet.rained.as_ref()];
    let spills = spills.into_iter().flatten().any(|course| course.overflowed > 0.0);
    warn(
        &notices::OVERFLOW_UNKNOWN,
        basin.overflow.is_none(),
        match spills {
            true => {
                "The overflow is not described: what it carries is not known. The water is held at its \
                 lip and spills as it comes; an overflow that carries less lets the basin flood."
            }
            false => "The overflow is not described: what it carries is not known.",
        },
    );
    let head = sheet.stuck_level.map(|level| level - basin.overflow_level);
    match (head, sheet.air_gap) {
        (Some(head), Some((gap, _))) => warn(
            &notices::OVERFLOW_TOO_SMALL,
            head > gap,
            "The overflow is too small for the stuck valve: the water rises to the makeup's outlet.",
        ),
        (Some(head), None) => warn(
            &notices::OVERFLOW_TOO_SMALL,
            head > MOST_HEAD,
            &format!(
                "The overflow carries the stuck valve only under a head of more than {MOST_HEAD} m: the basin \
                 floods over its rim before (common practice: a rim within {MOST_HEAD} m of the overflow)."
            ),
        ),
        (None, _) => {}
    }
    warn(
        &notices::RUN_BACK_OVERFLOWS,
        sheet.stop.overflowed > NOTHING,
        "What runs back has no room under the overflow: water and its treatment are lost at every \
         pump stop.",
    );
    let is_unbilled = |loss: &StopLoss| loss.more.money.is_some_and(|money| money < 0.0);
    warn(
        &SEWER_MISSES_LOSSES,
        sheet.stop_loss.as_ref().is_some_and(is_unbilled),
        "What the pump stops spill passes no meter, and lowers the bill.",
    );
    if let Some(least) = basin.suction_level {
        warn(
            &notices::SUCTION_UNCOVERED,
            sheet.restart_lowest.0 < least,
            "At the restart the level falls below what the suction needs: the pump draws air.",
        );
    }
    if let Some(hours) = sheet.act_hours_now {
        warn(
            &notices::ALARM_TOO_LATE,
            hours < sheet.questions.act_hours,
            "The low alarm leaves less time than asked before the pumps trip or draw air.",
        );
    }
    match sheet.air_gap {
        Some((gap, Some(asked))) => warn(
            &notices::AIR_GAP_SMALL,
            gap < asked,
            &format!(
                "The air gap is less than {AIR_GAP_DIAMETERS} diameters of the makeup pipe (common \
                 practice): the local backflow rule decides."
            ),
        ),
        Some((gap, None)) => warn(
            &notices::AIR_GAP_SMALL,
            gap <= 0.0,
            "The makeup's outlet lies at or below the overflow: no air gap guards the supply.",
        ),
        None => {}
    }
    warnings
}

impl Refused for LevelError {
    fn problem(&self, model: &Model) -> Problem {
        match self {
            LevelError::NoBasin => Problem::new("basin", self.to_string()).with_help(
                "add [basin] with area, operating_level and overflow_level, and [basin.valve]",
            ),
            LevelError::VolumeTooSmall { .. } => Problem::new("circuit.volume", self.to_string())
                .with_related("basin")
                .with_help("volume is all the water: basin, what runs back, pipes and equipment"),
            LevelError::Course(_) => Problem::new("basin", self.to_string()),
            LevelError::Infeasible(why) => why.problem(model),
        }
    }
}
