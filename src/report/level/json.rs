//! The level for programs.

use super::{Beside, sample_at};
use crate::basin::course::{Course, Sample};
use crate::model::{Dilution, LevelSheet, OpenBleed, StopLoss, StuckBill};
use crate::report::json::{AssumptionOut, SCHEMA, assumption};
use crate::report::uncertain::{self, With};
use crate::report::warnings::{NoticeOut, notices_out};
use serde::Serialize;

/// The level for programs. Levels in m, flows in m3/h, times in h.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LevelOut {
    /// Version of this form.
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where the description came from.
    pub source: String,
    /// Makeup now.
    pub makeup_m3_per_h: f64,
    /// Evaporation now.
    pub evaporation_m3_per_h: f64,
    /// Cycles of concentration now.
    pub cycles: f64,
    /// Level that the basin is run at.
    pub operating_level_m: f64,
    /// Water in the basin there.
    pub operating_volume_m3: f64,
    /// Water that runs back at a pump stop.
    pub runs_back_m3: f64,
    /// Water in pipes and equipment, besides.
    pub elsewhere_m3: f64,
    /// Lip of the overflow.
    pub overflow_level_m: f64,
    /// Least level that the suction needs.
    pub suction_level_m: Option<f64>,
    /// Where the float settles.
    pub settles_at_m: Option<f64>,
    /// How far under the overflow's lip.
    pub settles_below_overflow_m: Option<f64>,
    /// From where the events start.
    pub start_level_m: f64,
    /// Capacity of the makeup valve.
    pub valve_capacity_m3_per_h: Option<f64>,
    /// How far the makeup supplies open the valve, as a part of its capacity.
    pub valve_open_part: Option<f64>,
    /// Capacity of the valve as a multiple of the makeup.
    pub valve_over_makeup: Option<f64>,
    /// Capacity that common practice asks for.
    pub valve_needed_m3_per_h: f64,
    /// Velocity in the makeup pipe, m/s.
    pub makeup_velocity_m_per_s: Option<f64>,
    /// Velocity in the makeup pipe with the valve fully open, m/s.
    pub makeup_velocity_valve_open_m_per_s: Option<f64>,
    /// A pump stop.
    pub pump_stop: EventOut,
    /// What pump stops lose in a year, where their number is stated and water goes over the lip.
    pub pump_stops: Option<StopsOut>,
    /// How much lower the float has to be set to give a pump stop its room.
    pub lower_for_stops_m: Option<f64>,
    /// Lowest level after the restart.
    pub restart_lowest_m: f64,
    /// When after the restart.
    pub restart_lowest_at_h: f64,
    /// No makeup.
    pub makeup_lost: EventOut,
    /// Valve stuck open.
    pub stuck_open: Option<EventOut>,
    /// What the stuck valve lets in and what the overflow makes of it.
    pub stuck_open_flow: Option<StuckOut>,
    /// What the week with the valve stuck open costs more than an ordinary one.
    pub stuck_open_bill: Option<BillOut>,
    /// The bleed valve left open for a week.
    pub bleed_open: Option<OpenBleedOut>,
    /// Drain left open.
    pub drain_open: Option<EventOut>,
    /// Rain.
    pub rain: Option<EventOut>,
    /// Rain on the basin.
    pub rain_m3_per_h: f64,
    /// Time that an alarm should leave.
    pub act_h: f64,
    /// Time that the stated low alarm leaves.
    pub low_alarm_leaves_h: Option<f64>,
    /// Low alarm that leaves the asked time.
    pub low_alarm_m: Option<f64>,
    /// High alarm that leaves the asked time.
    pub high_alarm_m: Option<f64>,
    /// Air gap.
    pub air_gap_m: Option<f64>,
    /// Air gap that common practice asks for.
    pub air_gap_needed_m: Option<f64>,
    /// Water to drain for the asked cycles.
    pub dilution_m3: Option<f64>,
    /// More of what bringing the cycles down takes.
    pub dilution: Option<DilutionOut>,
    /// Evaporation from the still surface, mm/h.
    pub still_evaporation_mm_per_h: f64,
    /// Leak of the drop test.
    pub leak_m3_per_h: Option<f64>,
    /// Leak in a day, m3.
    pub leak_m3_per_day: Option<f64>,
    /// Standard uncertainty of the leak.
    pub leak_standard_uncertainty_m3_per_h: Option<f64>,
    /// What nobody stated.
    pub assumptions: Vec<AssumptionOut>,
    /// What looks wrong.
    pub warnings: Vec<NoticeOut>,
}

/// A week with the bleed valve left open against an ordinary one; chemicals not counted.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct OpenBleedOut {
    /// Of the open valve.
    pub flow_m3_per_h: f64,
    /// Cycles that are left in the end.
    pub cycles: f64,
    /// Whether the makeup valve passes less than is then lost.
    pub runs_dry: bool,
    /// More makeup in the week.
    pub makeup_m3: f64,
    /// More money for makeup; none where nothing is priced.
    pub makeup: Option<f64>,
    /// For the sewer.
    pub sewer: Option<f64>,
    /// For energy.
    pub energy: Option<f64>,
    /// In all.
    pub total: Option<f64>,
}

/// What came of an event.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct EventOut {
    /// m.
    pub highest_m: f64,
    /// h.
    pub highest_at_h: f64,
    /// What is left to the lip at the highest level, m; below zero where the water stands above it.
    pub below_overflow_m: f64,
    /// m.
    pub lowest_m: f64,
    /// m3.
    pub overflowed_m3: f64,
    /// m3 of makeup that held the solids.
    pub overflowed_solids_m3: f64,
    /// m3.
    pub makeup_m3: f64,
    /// h.
    pub overflows_at_h: Option<f64>,
    /// h.
    pub alarms_at_h: Option<f64>,
    /// h.
    pub starves_at_h: Option<f64>,
    /// h.
    pub trips_at_h: Option<f64>,
    /// h.
    pub empties_at_h: Option<f64>,
    /// At the end.
    pub final_level_m: f64,
    /// At the end.
    pub final_cycles: f64,
}

/// What pump stops lose over the lip; money and volumes are the year with them less the year without.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct StopsOut {
    /// Stops in a day.
    pub per_day: f64,
    /// Over the lip in a day.
    pub overflowed_m3_per_day: f64,
    /// Over the lip in an operating year.
    pub overflowed_m3_per_year: f64,
    /// More makeup.
    pub makeup_m3_per_year: f64,
    /// More blowdown; below zero where a controller bleeds less.
    pub blowdown_m3_per_year: f64,
    /// More money, chemicals included; below zero where the bill is smaller.
    pub cost_per_year: Option<f64>,
    /// Currency of the site.
    pub currency: String,
}

/// The makeup valve stuck open.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct StuckOut {
    /// How far, as a part of its capacity.
    pub valve_open_part: f64,
    /// What it lets in.
    pub makeup_m3_per_h: f64,
    /// Over the lip at the end of the week.
    pub overflow_m3_per_h: f64,
    /// The same in a day.
    pub overflow_m3_per_day: f64,
    /// Water above the lip under which the overflow carries it, m.
    pub head_m: Option<f64>,
    /// The course at a few hours of the week.
    pub course: Vec<PointOut>,
}

/// A week's bill less an ordinary week's, in the currency of the site; below zero where it is less.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct BillOut {
    /// More makeup.
    pub makeup_m3: f64,
    /// More blowdown.
    pub blowdown_m3: f64,
    /// Money for the makeup.
    pub makeup: f64,
    /// Money for the sewer, on the site's basis.
    pub sewer: f64,
    /// Money for the energy of the makeup.
    pub energy: f64,
    /// All of it; the chemicals are not counted.
    pub total: f64,
    /// What the sewer would ask for all that spilled.
    pub spilled_sewer: f64,
    /// Currency of the site.
    pub currency: String,
}

/// Bringing the cycles down.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct DilutionOut {
    /// To these cycles.
    pub cycles: f64,
    /// As fast as drain and makeup valve go, h.
    pub hours: Option<f64>,
    /// Price of the makeup.
    pub makeup_cost: Option<f64>,
    /// Emptying and filling the basin so many times does the same.
    pub refills: Option<usize>,
    /// Water that those take, m3.
    pub refills_m3: Option<f64>,
}

/// A point of a course.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PointOut {
    /// From the start.
    pub hour: f64,
    /// m.
    pub level_m: f64,
    /// Cycles of concentration.
    pub cycles: f64,
    /// m3/h.
    pub overflow_m3_per_h: f64,
}

impl From<&Sample> for PointOut {
    fn from(sample: &Sample) -> Self {
        Self {
            hour: sample.hour,
            level_m: sample.level,
            cycles: sample.cycles,
            overflow_m3_per_h: sample.overflow,
        }
    }
}

/// The level for programs; `source` names the file.
pub fn json(sheet: &LevelSheet, source: &str, beside: Beside<'_>) -> With<LevelOut> {
    With { page: level_out(sheet, source, beside), uncertain: uncertain::json(beside.uncertain) }
}

fn level_out(sheet: &LevelSheet, source: &str, beside: Beside<'_>) -> LevelOut {
    let basin = &sheet.basin;
    let event = |course: &Course| event(course, basin.overflow_level);
    LevelOut {
        schema: SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: source.into(),
        makeup_m3_per_h: sheet.demand,
        evaporation_m3_per_h: sheet.circuit.evaporation,
        cycles: sheet.circuit.cycles,
        operating_level_m: basin.operating_level,
        operating_volume_m3: basin.shape.volume(basin.operating_level),
        runs_back_m3: basin.held_up,
        elsewhere_m3: sheet.circuit.elsewhere,
        overflow_level_m: basin.overflow_level,
        suction_level_m: basin.suction_level,
        settles_at_m: sheet.settles_at,
        settles_below_overflow_m: sheet.settles_at.map(|level| basin.overflow_level - level),
        start_level_m: sheet.start_level,
        valve_capacity_m3_per_h: basin.valve.map(|valve| valve.capacity),
        valve_open_part: basin.valve.map(|valve| sheet.demand / valve.capacity),
        valve_over_makeup: basin.valve.map(|valve| valve.capacity / sheet.demand),
        valve_needed_m3_per_h: sheet.valve_needed(),
        makeup_velocity_m_per_s: sheet.velocity.map(|(now, _)| now),
        makeup_velocity_valve_open_m_per_s: sheet.velocity.map(|(_, open)| open),
        pump_stop: event(&sheet.stop),
        pump_stops: sheet.stop_loss.as_ref().map(|loss| stops_out(sheet, loss)),
        lower_for_stops_m: sheet.lower_for_stops(),
        restart_lowest_m: sheet.restart_lowest.0,
        restart_lowest_at_h: sheet.restart_lowest.1,
        makeup_lost: event(&sheet.lost),
        stuck_open: sheet.stuck.as_ref().map(event),
        stuck_open_flow: sheet.stuck.as_ref().map(|stuck| stuck_out(sheet, stuck)),
        stuck_open_bill: sheet
            .stuck_bill
            .as_ref()
            .zip(sheet.stuck.as_ref())
            .map(|(bill, stuck)| bill_out(sheet, bill, stuck)),
        bleed_open: sheet.open_bleed.as_ref().map(open_bleed_out),
        drain_open: sheet.drained.as_ref().map(event),
        rain: sheet.rained.as_ref().map(event),
        rain_m3_per_h: sheet.rain_flow,
        act_h: sheet.questions.act_hours,
        low_alarm_leaves_h: sheet.act_hours_now,
        low_alarm_m: sheet.low_alarm_for_act,
        high_alarm_m: sheet.high_alarm_for_act,
        air_gap_m: sheet.air_gap.map(|(gap, _)| gap),
        air_gap_needed_m: sheet.air_gap.and_then(|(_, needed)| needed),
        dilution_m3: sheet.dilution.map(|dilution| dilution.volume),
        dilution: sheet.dilution.as_ref().map(|dilution| dilution_out(sheet, dilution)),
        still_evaporation_mm_per_h: sheet.still_evaporation,
        leak_m3_per_h: sheet.leak.map(|leak| leak.flow),
        leak_m3_per_day: sheet.leak.map(|leak| 24.0 * leak.flow),
        leak_standard_uncertainty_m3_per_h: sheet.leak.map(|leak| leak.standard_uncertainty),
        assumptions: beside.assumed().map(assumption).collect(),
        warnings: notices_out(&sheet.warnings),
    }
}

fn event(course: &Course, overflow_level: f64) -> EventOut {
    let last = course.samples.last();
    EventOut {
        highest_m: course.highest.0,
        highest_at_h: course.highest.1,
        below_overflow_m: overflow_level - course.highest.0,
        lowest_m: course.lowest.0,
        overflowed_m3: course.overflowed,
        overflowed_solids_m3: course.overflowed_solids,
        makeup_m3: course.makeup,
        overflows_at_h: course.overflows_at,
        alarms_at_h: course.alarms_at,
        starves_at_h: course.starves_at,
        trips_at_h: course.trips_at,
        empties_at_h: course.empties_at,
        final_level_m: last.map_or(f64::NAN, |sample| sample.level),
        final_cycles: last.map_or(f64::NAN, |sample| sample.cycles),
    }
}

fn stops_out(sheet: &LevelSheet, loss: &StopLoss) -> StopsOut {
    StopsOut {
        per_day: loss.stops_per_day,
        overflowed_m3_per_day: loss.per_day,
        overflowed_m3_per_year: loss.per_year,
        makeup_m3_per_year: loss.more.makeup,
        blowdown_m3_per_year: loss.more.blowdown,
        cost_per_year: loss.more.money,
        currency: sheet.currency.clone(),
    }
}

fn stuck_out(sheet: &LevelSheet, stuck: &Course) -> StuckOut {
    let last = super::last_overflow(stuck);
    let at = |hour: &f64| sample_at(stuck, *hour).as_ref().map(PointOut::from);
    StuckOut {
        valve_open_part: sheet.questions.stuck,
        makeup_m3_per_h: sheet.stuck_flow,
        overflow_m3_per_h: last,
        overflow_m3_per_day: 24.0 * last,
        head_m: sheet.stuck_level.map(|level| level - sheet.basin.overflow_level),
        course: super::COURSE_HOURS.iter().filter_map(at).collect(),
    }
}

fn open_bleed_out(open: &OpenBleed) -> OpenBleedOut {
    OpenBleedOut {
        flow_m3_per_h: open.flow,
        cycles: open.cycles,
        runs_dry: open.outruns_makeup,
        makeup_m3: open.metered.makeup,
        makeup: open.more.map(|more| more.water),
        sewer: open.more.map(|more| more.sewer),
        energy: open.more.map(|more| more.energy),
        total: open.more.map(|more| more.total()),
    }
}

fn bill_out(sheet: &LevelSheet, bill: &StuckBill, stuck: &Course) -> BillOut {
    BillOut {
        makeup_m3: bill.metered.makeup,
        blowdown_m3: bill.metered.blowdown,
        makeup: bill.more.water,
        sewer: bill.more.sewer,
        energy: bill.more.energy,
        total: bill.more.total(),
        spilled_sewer: stuck.overflowed * bill.sewer_price,
        currency: sheet.currency.clone(),
    }
}

fn dilution_out(sheet: &LevelSheet, dilution: &Dilution) -> DilutionOut {
    DilutionOut {
        cycles: dilution.cycles,
        hours: dilution.hours,
        makeup_cost: sheet.price.map(|price| price * dilution.volume),
        refills: dilution.steps.map(|(steps, _)| steps),
        refills_m3: dilution.steps.map(|(_, volume)| volume),
    }
}

/// The course of the stuck valve, for CSV; of the lost makeup where there is no valve.
pub fn points(sheet: &LevelSheet) -> Vec<PointOut> {
    let course = sheet.stuck.as_ref().unwrap_or(&sheet.lost);
    course.samples.iter().map(PointOut::from).collect()
}
