//! A check for programs.

use super::told::{SizeOf, more_makeup_m3, right_in, size_now, total_m3};
use super::{Expected, Log, Of, contradicts_itself, typical_makeup};
use crate::check::reconcile::Variable;
use crate::model::{
    Cause, CheckSheet, CheckedPeriod, Circumstance, Effect, Finding, FindingState, HotBelowCold,
    Meters, MissingReading, OneMore, Pattern, Remark, Suspect,
};
use crate::quantity::{UnitSystem, unit};
use crate::readings::NotUsed;
use crate::readings::period::Recorded;
use crate::report::warnings::{NoticeOut, notices_out};
use crate::site::description::RowValues;
use crate::water::ZERO_CELSIUS;
use jiff::civil::DateTime;
use serde::{Deserialize, Serialize};

/// A check for programs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct CheckOut {
    /// Version of this form.
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where site and log came from.
    pub source: String,
    /// `hour`, `shift`, `day` or `week`.
    pub every: &'static str,
    /// Rows read, and used.
    #[serde(flatten)]
    pub rows: RowsOut,
    /// Begin of the last period of the log, whether it could be checked or not.
    pub last_period: Option<String>,
    /// What was found: what needs action first, what is over last.
    pub findings: Vec<FindingOut>,
    /// What is told and is no finding.
    pub notes: Vec<FindingOut>,
    /// Of the makeup expected in the last seven periods, their median, about 95 %; m3/d.
    pub expected_plus_minus_m3_per_day: Option<f64>,
    /// What the log's own quiet periods show; none where they are few.
    pub own_days: Option<OwnDaysOut>,
    /// Periods.
    pub periods: Vec<PeriodOut>,
    /// `spot` or `mean`: what the rows' numbers are taken for.
    pub values: &'static str,
    /// Whether the site file says so.
    pub values_are_stated: bool,
    /// What the log reads.
    pub meters: MetersOut,
    /// The loss that one period shows by itself, m3/d, constant errors included.
    pub one_period_shows_m3_per_day: f64,
    /// The same in parts of the median makeup.
    pub one_period_shows_part: f64,
    /// What one more reading would show, the best first.
    pub one_more: Vec<OneMoreOut>,
    /// Why the site's own conditions have no balance, where those of the log stand in.
    pub design_is_infeasible: Option<String>,
    /// m3/d.
    pub solids_decision_threshold_m3_per_day: Option<f64>,
    /// m3/d.
    pub solids_detection_limit_m3_per_day: Option<f64>,
    /// m3/d.
    pub heat_decision_threshold_m3_per_day: Option<f64>,
    /// m3/d.
    pub heat_detection_limit_m3_per_day: Option<f64>,
    /// Sudden losses that are found, by how long they last; empty for a log too short.
    pub least_loss: Vec<LeastLossOut>,
    /// Chi-square of the quiet part of the log.
    pub misfit: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: usize,
    /// The part of logs where nothing is wrong that has as large a misfit.
    pub misfit_chance: f64,
    /// Most likely flows of that part; none while a note from the first day on stands.
    pub reconciled: Option<ReconciledOut>,
    /// Whether the basin's conductivity was converted to 25 degC by the cold water, for finding changes.
    pub basin_conductivity_is_converted: bool,
    /// By how much a dry bulb that was not read is taken above the wet bulb.
    pub assumed_dry_bulb_above_wet_bulb_kelvin: Option<f64>,
    /// Periods in which it was not read.
    pub assumed_dry_bulb_periods: Option<usize>,
    /// Errors of instruments that nobody stated.
    pub assumed: Vec<AssumedOut>,
    /// Whether cycles are corrected.
    pub cycles_are_true: bool,
    /// Periods that could not be checked.
    pub left_out: Vec<LeftOut>,
    /// Periods whose load and weather cannot be.
    pub without_heat: Vec<WithoutHeat>,
    /// Whether most periods have their hot water colder than the cold one; these are not listed.
    pub hot_and_cold_look_swapped: bool,
    /// How many these are, and their mean temperatures.
    pub hot_below_cold: Option<HotBelowColdOut>,
    /// What looks wrong about the log itself.
    pub warnings: Vec<NoticeOut>,
    /// Columns that are shown and not judged.
    pub recorded: Vec<RecordedOut>,
    /// Readings that look mistyped.
    pub mistyped: Vec<MistypedOut>,
    /// Lines and readings that are not used.
    pub not_used: Vec<RefusedOut>,
    /// More of them, that are not listed.
    pub more_not_used: usize,
}

/// How much of a file is used.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct RowsOut {
    /// Where more than 5 % of the rows, or of a column's readings, are not used: which, and why.
    pub caution: Option<String>,
    /// Rows in the file.
    pub rows_read: usize,
    /// Of them, those of which something is used.
    pub rows_used: usize,
    /// Those of which nothing is.
    pub rows_not_used: usize,
    /// Those that were put in order.
    pub rows_out_of_order: usize,
    /// Whether the newest row stood first.
    pub newest_row_first: bool,
}

impl RowsOut {
    pub(in crate::report) fn new(not_used: &NotUsed) -> Self {
        Self {
            caution: not_used.caution(),
            rows_read: not_used.rows,
            rows_used: not_used.rows_used(),
            rows_not_used: not_used.rows_lost,
            rows_out_of_order: not_used.out_of_order,
            newest_row_first: not_used.newest_first,
        }
    }
}

/// A finding.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct FindingOut {
    /// `new` on the last day of the log, `going_on` or `over`; `note` where nobody has to act.
    pub state: &'static str,
    /// The likeliest cause, as in `causes`.
    pub kind: Option<&'static str>,
    /// Size of the likeliest cause, in `size_unit`.
    pub size: Option<f64>,
    /// `m3/d`, or `part of the reading`.
    pub size_unit: Option<&'static str>,
    /// The size of a cause that is a flow of water, m3/d.
    pub size_m3_per_day: Option<f64>,
    /// The size of a cause that is an error of a reading, as a part of the reading.
    pub size_part: Option<f64>,
    /// In words, in SI units: what, since when, how much, how sure, what to do next.
    pub words: String,
    /// Begin; none from the first day on.
    pub since: Option<String>,
    /// The period at which the change was found.
    pub found: Option<String>,
    /// The first period after its end, where it has ended.
    pub until: Option<String>,
    /// Days that it has lasted.
    pub days: f64,
    /// Whether it grew evenly since its begin; sizes are then their mean.
    pub is_growing: bool,
    /// By what part of themselves the cycles fell since.
    pub cycles_fell_by: Option<f64>,
    /// Chi-square of a note from the first day on; none else.
    pub misfit: Option<f64>,
    /// Chance of it by the stated errors of the instruments alone.
    pub chance: Option<f64>,
    /// Whether the first cause explains it.
    pub is_explained: bool,
    /// Causes, the one that explains most first.
    pub causes: Vec<CauseOut>,
    /// Of a loss: what it does as fans, load and level change.
    pub patterns: Vec<PatternOut>,
}

/// A loss with and without a circumstance.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PatternOut {
    /// `fans_stand`, `load_is_off` or `level_is_low`.
    pub circumstance: &'static str,
    /// `stops`, `shrinks`, `none` or `unknown`.
    pub effect: &'static str,
    /// Periods with it.
    pub periods_with: usize,
    /// Periods without it.
    pub periods_without: usize,
    /// m3/d.
    pub loss_with_m3_per_day: f64,
    /// m3/d.
    pub loss_with_standard_uncertainty_m3_per_day: f64,
    /// m3/d.
    pub loss_without_m3_per_day: f64,
    /// m3/d.
    pub loss_without_standard_uncertainty_m3_per_day: f64,
}

/// A cause.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct CauseOut {
    /// `loss_or_blowdown_meter`, `inflow_or_blowdown_meter`, `makeup_meter`, `conductivity`,
    /// `chloride`, `heat`, `blowdown_high`, `blowdown_low`, `makeup_meter_still`, `makeup_quality` or
    /// `unclear`.
    pub cause: &'static str,
    /// Its size in `size_unit`; below zero where a reading is low.
    pub size: f64,
    /// `m3/d`, or `part of the reading`.
    pub size_unit: &'static str,
    /// The size of a flow of water, m3/d.
    pub size_m3_per_day: Option<f64>,
    /// The size of an error of a reading, as a part of the reading.
    pub size_part: Option<f64>,
    /// Of one that grows, what it has come to.
    pub size_now: Option<f64>,
    /// Water that is lost so far, m3.
    pub total_m3: Option<f64>,
    /// How much more makeup that drew, m3: none where the bleed fell by as much. Null where it is not known.
    pub more_makeup_m3: Option<f64>,
    /// What the makeup that it drew costs; all that was lost where that is not known.
    pub cost: Option<f64>,
    /// Standard uncertainty.
    pub standard_uncertainty: f64,
    /// Likelihood among single causes.
    pub likelihood: f64,
    /// What people are told of it: right in so many of so many such cases.
    pub right_in: [u32; 2],
    /// Whether it explains as much as the first, within noise.
    pub is_tied: bool,
}

/// What the periods outside of every finding show.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct OwnDaysOut {
    /// How many there are.
    pub periods: usize,
    /// Their makeup over the expected one, its median.
    pub part: f64,
    /// Its standard deviation from period to period.
    pub spread: f64,
}

/// A period.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PeriodOut {
    /// Begin.
    pub start: String,
    /// Hours that the makeup's readings cover.
    pub hours: f64,
    /// m3/d.
    pub makeup_m3_per_day: f64,
    /// m3/d.
    pub expected_makeup_m3_per_day: f64,
    /// m3/d.
    pub expected_standard_uncertainty_m3_per_day: f64,
    /// With the part that the log's own quiet periods show, m3/d.
    pub expected_by_own_days_m3_per_day: f64,
    /// m3/d.
    pub evaporation_m3_per_day: f64,
    /// m3/d; none where nobody reads it.
    pub blowdown_m3_per_day: Option<f64>,
    /// Makeup less what was expected, m3/d.
    pub differs_by_m3_per_day: f64,
    /// Of the makeup, as read in the period itself, at 25 degC.
    pub makeup_conductivity_us_per_cm: Option<f64>,
    /// Heat that the water gave up, kW.
    pub heat_load_kw: Option<f64>,
    /// Makeup for it, L/kWh.
    pub makeup_l_per_kwh: Option<f64>,
    /// Cycles; none where nobody reads the basin.
    pub cycles_of_concentration: Option<f64>,
    /// What solids read as a loss, m3/d; none without blowdown or basin.
    pub loss_by_solids_m3_per_day: Option<f64>,
    /// What heat reads as a loss, m3/d.
    pub loss_by_heat_m3_per_day: Option<f64>,
    /// Within twice its uncertainty.
    pub in_tolerance: bool,
    /// Whether what solids read is within twice its uncertainty.
    pub solids_in_tolerance: Option<bool>,
}

/// What is read.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct MetersOut {
    /// Blowdown, by a meter or its valve.
    pub blowdown: bool,
    /// The basin's conductivity or chloride.
    pub basin: bool,
    /// The makeup's, in the log or the site file.
    pub makeup_quality: bool,
    /// Hot and cold water.
    pub temperatures: bool,
}

impl MetersOut {
    fn of(meters: &Meters) -> Self {
        let Meters { blowdown, basin, makeup_quality, load, .. } = *meters;
        Self { blowdown, basin, makeup_quality, temperatures: load }
    }
}

/// What one more reading would show.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct OneMoreOut {
    /// `blowdown_meter`, `conductivity` or `temperatures`.
    pub reading: &'static str,
    /// The loss that would show, m3/d.
    pub shows_m3_per_day: f64,
    /// In parts of the makeup.
    pub shows_part: f64,
}

/// What one more reading would show of this makeup, m3/d.
pub(super) fn one_more(all: &[OneMore], makeup: f64) -> Vec<OneMoreOut> {
    let one = |one: &OneMore| OneMoreOut {
        reading: match one.reading {
            MissingReading::BlowdownMeter => "blowdown_meter",
            MissingReading::Conductivity => "conductivity",
            MissingReading::Temperatures => "temperatures",
        },
        shows_m3_per_day: one.loss,
        shows_part: one.loss / makeup,
    };
    all.iter().map(one).collect()
}

/// A sudden loss that is found.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LeastLossOut {
    /// Days that it has lasted.
    pub days: f64,
    /// The least that is then found, m3/d.
    pub loss_m3_per_day: f64,
}

/// An error of an instrument that nobody stated.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct AssumedOut {
    /// `accuracy` or `repeatability`.
    pub kind: String,
    /// Of what.
    pub instrument: String,
    /// As a part of the reading.
    pub part: f64,
    /// Where it comes from.
    pub basis: &'static str,
}

/// Periods whose hot water is colder than the cold one.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct HotBelowColdOut {
    /// How many.
    pub periods: usize,
    /// Periods with both temperatures.
    pub with_both: usize,
    /// Mean of the hot water.
    pub hot_celsius: f64,
    /// Mean of the cold water.
    pub cold_celsius: f64,
}

/// A reading that looks mistyped, in the unit of its column.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct MistypedOut {
    /// In the log.
    pub line: u64,
    /// Header of its column.
    pub column: String,
    /// As it stands.
    pub read: f64,
    /// What it is taken for; none where it is left out.
    pub taken_for: Option<f64>,
}

/// Most likely flows, m3/d.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ReconciledOut {
    /// Makeup.
    pub makeup_m3_per_day: f64,
    /// Evaporation.
    pub evaporation_m3_per_day: f64,
    /// Blowdown.
    pub blowdown_m3_per_day: f64,
    /// Drift, with the losses that the site file states.
    pub drift_and_known_losses_m3_per_day: f64,
}

/// A period that could not be checked.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LeftOut {
    /// Begin.
    pub start: String,
    /// Why.
    pub reason: String,
}

/// A period whose load and weather cannot be.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct WithoutHeat {
    /// Begin.
    pub start: String,
    /// Why.
    pub reason: String,
}

/// A column that is shown and not judged.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct RecordedOut {
    /// Its header.
    pub name: String,
    /// The unit of its numbers, as written.
    pub unit: String,
    /// How often it is to be read.
    pub every_h: Option<f64>,
    /// How often it was read.
    pub readings: usize,
    /// The last reading.
    pub last: Option<f64>,
    /// Its time.
    pub last_time: Option<String>,
    /// Readings that are missing between others.
    pub missed: usize,
    /// When a reading was due that the end of the log does not have.
    pub due_since: Option<String>,
}

/// A line that is not used.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct RefusedOut {
    /// In the log.
    pub line: u64,
    /// Why.
    pub reason: String,
}

/// What a check said before, as its json has it.
#[derive(Debug, Default, Deserialize)]
pub struct LastCheck {
    /// Name of the site.
    #[serde(default)]
    pub site: String,
    findings: Vec<LastFinding>,
}

#[derive(Debug, Deserialize)]
struct LastFinding {
    kind: Option<String>,
    found: Option<String>,
    until: Option<String>,
}

impl LastCheck {
    /// Whether a finding was not told then: it is new, has ended, or has another cause. Earlier days say the
    /// same every time, so that the day on which it was found names it.
    pub fn is_news(&self, finding: &Finding) -> bool {
        let text = |time: Option<DateTime>| time.map(|time| time.to_string());
        let told = self.findings.iter().find(|told| told.found == text(finding.found));
        told.is_none_or(|told| {
            told.until.is_some() != finding.until.is_some()
                || told.kind.as_deref() != finding.cause().map(cause_name)
        })
    }
}

/// The periods for programs, and rows for CSV.
pub fn periods(sheet: &CheckSheet) -> Vec<PeriodOut> {
    let meters = &sheet.meters;
    let of_solids = meters.solids_are_read();
    let part = Expected::of(sheet).part;
    let period = |period: &CheckedPeriod| PeriodOut {
        start: period.start.to_string(),
        hours: period.hours,
        makeup_m3_per_day: period.readings.makeup.value,
        expected_makeup_m3_per_day: period.expected.value,
        expected_standard_uncertainty_m3_per_day: period.expected.uncertainty,
        expected_by_own_days_m3_per_day: part * period.expected.value,
        evaporation_m3_per_day: period.readings.evaporation.value,
        blowdown_m3_per_day: meters.blowdown.then_some(period.readings.blowdown.value),
        differs_by_m3_per_day: period.difference(),
        makeup_conductivity_us_per_cm: period
            .makeup_conductivity
            .map(|si| unit::MICROSIEMENS_PER_CENTIMETRE.of_si(si)),
        heat_load_kw: period.load.map(|watt| 1e-3 * watt),
        makeup_l_per_kwh: period.makeup_per_heat().map(|part| 3.6e9 * part),
        cycles_of_concentration: meters.basin.then_some(period.cycles),
        loss_by_solids_m3_per_day: of_solids.then_some(period.solids.reads),
        loss_by_heat_m3_per_day: period.heat.map(|heat| heat.reads),
        in_tolerance: period.is_in_tolerance(),
        solids_in_tolerance: of_solids.then(|| period.solids_are_in_tolerance()),
    };
    sheet.periods.iter().map(period).collect()
}

/// A check for programs.
pub fn json(sheet: &CheckSheet, log: &Log<'_>) -> CheckOut {
    let not_used = log.not_used;
    let of = Of { sheet, log: *log, units: UnitSystem::Si };
    let of_solids = sheet.meters.solids_are_read();
    CheckOut {
        schema: crate::report::json::SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: log.source.into(),
        every: log.every.name(),
        rows: RowsOut::new(not_used),
        last_period: sheet.last().map(|last| last.to_string()),
        findings: sheet.findings.iter().map(|finding| finding_out(&of, finding, false)).collect(),
        notes: sheet.notes.iter().map(|note| finding_out(&of, note, true)).collect(),
        expected_plus_minus_m3_per_day: Expected::of(sheet).plus_minus,
        own_days: sheet.own_days().map(|own| OwnDaysOut {
            periods: own.periods,
            part: own.part,
            spread: own.spread,
        }),
        periods: periods(sheet),
        values: match log.values.0 {
            RowValues::Spot => "spot",
            RowValues::Mean => "mean",
        },
        values_are_stated: log.values.1,
        meters: MetersOut::of(&sheet.meters),
        one_period_shows_m3_per_day: sheet.shows.0,
        one_period_shows_part: sheet.shows.0 / typical_makeup(sheet),
        one_more: one_more(&sheet.shows.1, typical_makeup(sheet)),
        design_is_infeasible: sheet.design_is_infeasible.clone(),
        solids_decision_threshold_m3_per_day: of_solids
            .then_some(sheet.by_solids.decision_threshold),
        solids_detection_limit_m3_per_day: of_solids.then_some(sheet.by_solids.detection_limit),
        heat_decision_threshold_m3_per_day: sheet.by_heat.map(|heat| heat.decision_threshold),
        heat_detection_limit_m3_per_day: sheet.by_heat.map(|heat| heat.detection_limit),
        least_loss: sheet
            .least_loss
            .iter()
            .map(|(days, loss)| LeastLossOut { days: *days, loss_m3_per_day: *loss })
            .collect(),
        misfit: sheet.reconciled.misfit,
        degrees_of_freedom: sheet.reconciled.degrees_of_freedom,
        misfit_chance: sheet.reconciled.chance(),
        reconciled: reconciled_out(sheet),
        basin_conductivity_is_converted: sheet.is_converted,
        assumed_dry_bulb_above_wet_bulb_kelvin: sheet
            .assumed_dry_bulb
            .map(|assumed| assumed.above_wet_bulb_kelvin),
        assumed_dry_bulb_periods: sheet.assumed_dry_bulb.map(|assumed| assumed.periods),
        assumed: sheet
            .assumed
            .iter()
            .map(|error| AssumedOut {
                kind: error.kind.clone(),
                instrument: error.instrument.clone(),
                part: error.part,
                basis: error.basis,
            })
            .collect(),
        cycles_are_true: sheet.cycles_are_true,
        left_out: sheet
            .left_out
            .iter()
            .map(|(start, reason)| LeftOut { start: start.to_string(), reason: reason.clone() })
            .collect(),
        without_heat: sheet
            .without_heat
            .iter()
            .map(|(start, why)| WithoutHeat { start: start.to_string(), reason: why.clone() })
            .collect(),
        hot_and_cold_look_swapped: sheet.hot_below_cold.is_some(),
        hot_below_cold: sheet.hot_below_cold.map(
            |HotBelowCold { periods, with_both, hot_kelvin, cold_kelvin }| HotBelowColdOut {
                periods,
                with_both,
                hot_celsius: hot_kelvin - ZERO_CELSIUS,
                cold_celsius: cold_kelvin - ZERO_CELSIUS,
            },
        ),
        mistyped: log
            .repairs
            .iter()
            .map(|repair| MistypedOut {
                line: repair.line,
                column: repair.column.clone(),
                read: repair.read,
                taken_for: repair.taken,
            })
            .collect(),
        warnings: notices_out(&log.warnings()),
        recorded: log.recorded.iter().map(recorded_out).collect(),
        not_used: not_used
            .listed
            .iter()
            .map(|refused| RefusedOut { line: refused.line, reason: refused.reason.clone() })
            .collect(),
        more_not_used: not_used.more,
    }
}

fn finding_out(of: &Of<'_>, finding: &Finding, is_note: bool) -> FindingOut {
    let misfit = Some(finding.misfit).filter(|misfit| misfit.is_finite());
    let state = match of.sheet.state(finding) {
        _ if is_note => "note",
        FindingState::New => "new",
        FindingState::GoingOn => "going_on",
        FindingState::Over => "over",
    };
    let words = if is_note { of.note(finding) } else { of.finding(finding) };
    let first = finding.suspects.first();
    FindingOut {
        state,
        kind: first.map(|suspect| cause_name(suspect.cause)),
        size: first.map(|suspect| suspect.size),
        size_unit: first.map(|suspect| size_unit(suspect.cause)),
        size_m3_per_day: first.and_then(size_m3_per_day),
        size_part: first.and_then(size_part),
        words: words.plain(),
        since: finding.since.map(|time| time.to_string()),
        found: finding.found.map(|time| time.to_string()),
        until: finding.until.map(|time| time.to_string()),
        days: finding.days,
        is_growing: finding.is_growing,
        cycles_fell_by: match finding.remark {
            Some(Remark::CyclesFell(part)) => Some(part),
            _ => None,
        },
        misfit,
        chance: misfit.map(|_| finding.chance()),
        is_explained: finding.is_explained,
        causes: finding.suspects.iter().map(|suspect| cause_out(of, suspect, finding)).collect(),
        patterns: finding.patterns.iter().map(pattern_out).collect(),
    }
}

fn pattern_out(pattern: &Pattern) -> PatternOut {
    PatternOut {
        circumstance: match pattern.circumstance {
            Circumstance::FansStand => "fans_stand",
            Circumstance::LoadIsOff => "load_is_off",
            Circumstance::LevelIsLow => "level_is_low",
        },
        effect: match pattern.effect {
            Effect::Stops => "stops",
            Effect::Shrinks => "shrinks",
            Effect::None => "none",
            Effect::Unknown => "unknown",
        },
        periods_with: pattern.periods_with,
        periods_without: pattern.periods_without,
        loss_with_m3_per_day: pattern.loss_with.value,
        loss_with_standard_uncertainty_m3_per_day: pattern.loss_with.uncertainty,
        loss_without_m3_per_day: pattern.loss_without.value,
        loss_without_standard_uncertainty_m3_per_day: pattern.loss_without.uncertainty,
    }
}

fn recorded_out(recorded: &Recorded) -> RecordedOut {
    RecordedOut {
        name: recorded.name.clone(),
        unit: recorded.unit.clone(),
        every_h: recorded.every,
        readings: recorded.readings,
        last: recorded.last.map(|(_, value)| value),
        last_time: recorded.last.map(|(time, _)| time.to_string()),
        missed: recorded.missed,
        due_since: recorded.due.map(|due| due.to_string()),
    }
}

fn cause_name(cause: Cause) -> &'static str {
    match cause {
        Cause::Loss => "loss_or_blowdown_meter",
        Cause::Inflow => "inflow_or_blowdown_meter",
        Cause::MakeupMeter => "makeup_meter",
        Cause::Conductivity => "conductivity",
        Cause::Chloride => "chloride",
        Cause::Heat => "heat",
        Cause::BlowdownHigh => "blowdown_high",
        Cause::BlowdownLow => "blowdown_low",
        Cause::MakeupMeterStill => "makeup_meter_still",
        Cause::MakeupQuality => "makeup_quality",
        Cause::MoreMakeup => "more_makeup",
        Cause::Unclear => "unclear",
    }
}

fn size_unit(cause: Cause) -> &'static str {
    match SizeOf::of(cause) {
        SizeOf::Flow => "m3/d",
        SizeOf::Part => "part of the reading",
    }
}

fn size_m3_per_day(suspect: &Suspect) -> Option<f64> {
    matches!(SizeOf::of(suspect.cause), SizeOf::Flow).then_some(suspect.size)
}

fn size_part(suspect: &Suspect) -> Option<f64> {
    matches!(SizeOf::of(suspect.cause), SizeOf::Part).then_some(suspect.size)
}

fn cause_out(of: &Of<'_>, suspect: &Suspect, finding: &Finding) -> CauseOut {
    let total_m3 = total_m3(suspect, finding);
    let price = of.sheet.price.as_ref().map(|(price, _)| *price);
    CauseOut {
        cause: cause_name(suspect.cause),
        size: suspect.size,
        size_unit: size_unit(suspect.cause),
        size_m3_per_day: size_m3_per_day(suspect),
        size_part: size_part(suspect),
        size_now: size_now(suspect, finding),
        total_m3,
        more_makeup_m3: more_makeup_m3(of.sheet, suspect, finding),
        cost: total_m3.zip(price).map(|(lost, price)| {
            price * more_makeup_m3(of.sheet, suspect, finding).unwrap_or(lost)
        }),
        standard_uncertainty: suspect.uncertainty,
        likelihood: suspect.likelihood,
        right_in: right_in(suspect),
        is_tied: suspect.is_tied,
    }
}

fn reconciled_out(sheet: &CheckSheet) -> Option<ReconciledOut> {
    if contradicts_itself(sheet) {
        return None;
    }
    let of = |variable| sheet.reconciled.get(variable).map(|reading| reading.value);
    Some(ReconciledOut {
        makeup_m3_per_day: of(Variable::Makeup)?,
        evaporation_m3_per_day: of(Variable::Evaporation)?,
        blowdown_m3_per_day: of(Variable::Blowdown)?,
        drift_and_known_losses_m3_per_day: of(Variable::Drift)?,
    })
}
