//! What stands in a log: a change of the solids since some day, a meter that stands still; and what is
//! told without being a finding: a contradiction from the first day on, cycles off their target.

use super::pattern::{Pattern, patterns};
use super::quantities::{Part, Pool};
use super::reach::Meters;
use super::{CheckError, CheckedPeriod, days, pool};
use crate::check::detector;
use crate::check::reconcile::{Candidate, Fault, Readings, Reconciled, Variable, reconcile};
use crate::statistics::{chi_square_exceeds, chi_square_limit, median, normal_exceeds};
use jiff::civil::DateTime;
use std::cmp::Reverse;

/// Causes whose chi-squares differ by less explain as much within noise: 5 % of one degree of
/// freedom.
const TIE: f64 = 3.84;
/// A blowdown meter that shows less of the makeup than this shows nothing.
const NOTHING: f64 = 1e-3;

/// What may be wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Cause {
    /// Basin water leaves unmetered, or the blowdown meter reads low.
    Loss,
    /// Water comes in unmetered, or the blowdown meter reads high.
    Inflow,
    /// The makeup meter reads low or high.
    MakeupMeter,
    /// The basin's probe is off, or the makeup's quality is not what was read.
    Conductivity,
    /// A chloride is off.
    Chloride,
    /// Load or weather is not as stated.
    Heat,
    /// The makeup's quality is not what was read last.
    MakeupQuality,
    /// None of these alone.
    Unclear,
    /// The blowdown takes more than its target needs.
    BlowdownHigh,
    /// The blowdown takes less.
    BlowdownLow,
    /// The makeup meter stands still while the tower runs.
    MakeupMeterStill,
    /// More makeup than load, weather and cycles ask for, where no blowdown is read that would tell why.
    MoreMakeup,
}

/// A cause with its size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suspect {
    /// What.
    pub cause: Cause,
    /// In m3/d for flows; for conductivity and chloride a part of the reading. Above zero where a
    /// reading is high.
    pub size: f64,
    /// Standard uncertainty of the size.
    pub uncertainty: f64,
    /// How much of the contradiction it explains, a chi-square.
    pub explains: f64,
    /// Its likelihood among single causes that are as likely beforehand.
    pub likelihood: f64,
    /// Whether it explains as much as the first, within noise.
    pub is_tied: bool,
}

/// What else the log shows of a finding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Remark {
    /// The blowdown meter shows nothing, though the cycles hold.
    BlowdownMeterStill,
    /// Cycles fell by this part of themselves under a controller that holds them: the loss is larger than
    /// the blowdown that is needed.
    CyclesFell(f64),
}

/// Something that stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Since when, where a change was found; else from the first period on.
    pub since: Option<DateTime>,
    /// The period at which the change was found.
    pub found: Option<DateTime>,
    /// The first period after its end, where it has ended.
    pub until: Option<DateTime>,
    /// Days that it has lasted.
    pub days: f64,
    /// Whether it grew evenly since its begin; sizes are then their mean.
    pub is_growing: bool,
    /// Single causes, the one that explains most first.
    pub suspects: Vec<Suspect>,
    /// The contradiction, a chi-square; of a change, that of the solids alone. NaN for a bleed, which is
    /// judged by its own habit, and infinite for a meter that stands still.
    pub misfit: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: usize,
    /// Whether the first cause explains it: what is left is no surprise.
    pub is_explained: bool,
    /// What else the log shows.
    pub remark: Option<Remark>,
    /// Of a loss: what it does as fans, load and level change.
    pub patterns: Vec<Pattern>,
}

impl Finding {
    /// Chance of so large a contradiction by the stated errors of the instruments alone.
    pub fn chance(&self) -> f64 {
        chi_square_exceeds(self.misfit, self.degrees_of_freedom)
    }

    /// The likeliest cause.
    pub fn cause(&self) -> Option<Cause> {
        self.suspects.first().map(|suspect| suspect.cause)
    }

    /// Its place among others of the same state: what makes the log blind first, then what runs away,
    /// the latest first.
    pub(super) fn urgency(&self) -> (u8, Reverse<Option<DateTime>>) {
        let place = match self.cause() {
            Some(Cause::MakeupMeterStill) => 0,
            Some(Cause::BlowdownHigh | Cause::BlowdownLow) => 1,
            Some(Cause::Loss | Cause::Inflow) => 2,
            _ => 3,
        };
        (place, Reverse(self.since))
    }

    /// The causes that explain it as well as the first, the first included.
    pub fn leading(&self) -> impl Iterator<Item = &Suspect> {
        self.suspects.iter().filter(|suspect| suspect.is_tied)
    }
}

/// All that stands, what is told beside it, and the quiet part of the log reconciled.
pub(super) struct Found {
    pub findings: Vec<Finding>,
    pub notes: Vec<Finding>,
    pub quiet: Reconciled,
}

/// How a finding stands on the last day of a log, what needs action first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum FindingState {
    /// It was found on that day.
    New,
    /// It was found before, and has not ended.
    GoingOn,
    /// It has ended.
    Over,
}

/// What is asked of a log.
pub(super) struct Question {
    /// Cycles that a controller is to hold.
    pub target: Option<f64>,
    /// Dead band of the controller, as a part of its set point.
    pub dead_band: f64,
    /// The times at which the bleed stood open or shut.
    pub stuck_bleeds: Vec<Finding>,
    /// Whether a controller holds the conductivity; a bleed by clock or hand may have been set anew, which
    /// is told and is no finding.
    pub is_held: bool,
    /// What the log reads.
    pub meters: Meters,
    /// Level of a test on the whole log.
    pub level: f64,
    /// Periods whose makeup meter stood still.
    pub still: Vec<DateTime>,
    /// Relative change of a conductivity over that of the cycles.
    pub slope: f64,
}

/// A change is held against so many periods before it, and judged by so many after it was found: other
/// seasons, and what happens later, are none of it.
const PERIODS_BEFORE: usize = 30;
const PERIODS_AFTER: usize = 14;

/// Looks for everything.
pub(super) fn find(
    periods: &[CheckedPeriod],
    detected: &Detected<'_>,
    question: Question,
) -> Result<Found, CheckError> {
    let quiet = &periods[..detected.quiet(periods.len())];
    let whole = pooled(quiet)?;
    let readings = whole.readings();
    let reconciled = reconcile(&readings)
        .map_err(|error| CheckError::Reconcile { from: quiet[0].start, error })?;
    let slope = whole.has_conductivity().then_some(question.slope);
    let mut notes = Vec::new();
    if question.meters.solids_are_read() && reconciled.contradicts(question.level) {
        notes.push(Finding {
            since: None,
            found: None,
            until: None,
            days: days(periods),
            is_growing: false,
            suspects: suspects(&reconciled.candidates, &readings, slope),
            misfit: reconciled.misfit,
            degrees_of_freedom: reconciled.degrees_of_freedom,
            is_explained: is_explained(
                (reconciled.misfit, reconciled.degrees_of_freedom),
                &reconciled.candidates,
            ),
            remark: blowdown_remark(quiet),
            patterns: if leads(&reconciled.candidates) {
                patterns(quiet, None)
            } else {
                Vec::new()
            },
        });
    }
    let mut findings = detected.findings(periods);
    let changes = told_once(detected.changes(periods, question.meters));
    // Without a blowdown meter a bleed that is set anew, or another makeup at a held conductivity, looks the
    // same and is no fault; a basin that leaves the level of its controller is one.
    let is_finding = |change: &Finding| {
        change.cause() == Some(Cause::MoreMakeup)
            && (question.meters.blowdown
                || question.is_held && level_fell(periods, change, question.dead_band))
    };
    let (more, changes): (Vec<Finding>, Vec<Finding>) = changes.into_iter().partition(is_finding);
    findings.extend(more);
    notes.extend(changes);
    let cycles_are_read = question.meters.basin && question.meters.makeup_quality;
    if cycles_are_read
        && !findings.iter().chain(&notes).flat_map(Finding::leading).any(|s| s.cause == Cause::Loss)
    {
        notes.extend(off_target(quiet, &question));
    }
    findings.extend(stands_still(periods, &question.still));
    match question.is_held {
        true => findings.extend(question.stuck_bleeds),
        false => notes.extend(question.stuck_bleeds),
    }
    notes.sort_by_key(|finding| finding.since);
    Ok(Found { findings, notes, quiet: reconciled })
}

/// More makeup that goes on is told once, and ends with the next change to less.
fn told_once(changes: Vec<Finding>) -> Vec<Finding> {
    let mut told: Vec<Finding> = Vec::new();
    for change in changes {
        let open = told
            .iter_mut()
            .find(|told| told.cause() == Some(Cause::MoreMakeup) && told.until.is_none());
        match (open, change.cause()) {
            (Some(_), Some(Cause::MoreMakeup)) => {}
            (Some(open), Some(Cause::Heat)) => open.until = change.since,
            _ => told.push(change),
        }
    }
    told
}

/// Whether the basin has left the level that it had before a change, downwards, by more than the dead band.
fn level_fell(periods: &[CheckedPeriod], change: &Finding, dead_band: f64) -> bool {
    const LEAST: f64 = 0.05;
    let level = |is_after: bool| {
        let of = periods.iter().filter(|period| (Some(period.start) >= change.since) == is_after);
        let within = of.filter(|period| change.until.is_none_or(|until| period.start < until));
        median(within.filter_map(|period| period.basin_conductivity))
    };
    let fell = level(false).zip(level(true)).map(|(before, since)| 1.0 - since / before);
    fell.is_some_and(|fell| fell > dead_band.max(LEAST))
}

/// Whether a loss explains as much as anything.
fn leads(candidates: &[Candidate]) -> bool {
    let first = candidates.first().map_or(0.0, |candidate| candidate.explains);
    candidates.iter().any(|candidate| {
        candidate.fault == Fault::LossOrBlowdownMeter
            && candidate.size >= 0.0
            && first - candidate.explains <= TIE
    })
}

/// What the detector found, with the periods that each of its observations is made of.
pub(super) struct Detected<'a> {
    pub found: &'a detector::Found,
    pub of: &'a [(usize, usize)],
    /// Whether a controller holds the conductivity.
    pub is_held: bool,
}

/// Causes less likely than this are not told.
const LEAST_PROBABILITY: f64 = 0.002;
/// A cause this much less likely than the first does not explain it as well.
const TIED: f64 = 0.15;
/// Where heat says nothing, loss, probe and meter look alike, and only how often each happens tells them
/// apart.
const TIED_WITHOUT_HEAT: f64 = 0.01;

impl Detected<'_> {
    /// How many periods lie before the first fault.
    fn quiet(&self, all: usize) -> usize {
        let first = self.found.faults.iter().map(|fault| self.of[fault.begins].0).min();
        first.filter(|first| *first > 0).unwrap_or(all)
    }

    fn findings(&self, periods: &[CheckedPeriod]) -> Vec<Finding> {
        self.found.faults.iter().map(|fault| self.finding(periods, fault)).collect()
    }

    fn finding(&self, periods: &[CheckedPeriod], fault: &detector::Fault) -> Finding {
        let begin = self.of[fault.begins].0;
        let end = fault.over.map_or(periods.len(), |(period, _)| self.of[period].0);
        let lasted = days(&periods[begin..end]);
        // A slow fault has its stated size after so many days; half of it on average until then.
        let mean = match fault.course {
            detector::Course::Step | detector::Course::WithLoad => 1.0,
            detector::Course::Ramp => 0.5 * lasted / detector::RAMP_DAYS,
        };
        let suspects: Vec<Suspect> = fault
            .causes
            .iter()
            .enumerate()
            .filter(|(place, explains)| *place == 0 || explains.probability > LEAST_PROBABILITY)
            .map(|(_, explains)| self.suspect(explains, mean, fault.causes[0].probability))
            .collect();
        let may_be_loss =
            suspects.iter().any(|suspect| suspect.is_tied && suspect.cause == Cause::Loss);
        let is_loss = suspects.first().is_some_and(|suspect| suspect.cause == Cause::Loss);
        let before = &periods[begin.saturating_sub(PERIODS_BEFORE)..begin];
        let judged = &periods[begin..periods.len().min(begin + PERIODS_AFTER).min(end)];
        Finding {
            since: Some(periods[begin].start),
            found: Some(periods[self.of[fault.found].1].start),
            until: (end < periods.len()).then(|| periods[end].start),
            days: lasted,
            is_growing: fault.course == detector::Course::Ramp,
            is_explained: suspects.first().is_some_and(|first| first.cause != Cause::Unclear),
            remark: blowdown_remark(&periods[begin..end])
                .or_else(|| cycles_remark(before, judged).filter(|_| is_loss && self.is_held)),
            patterns: match pool(before).filter(|_| may_be_loss) {
                Some(then) => patterns(&periods[begin..end], Some(&then)),
                None => Vec::new(),
            },
            suspects,
            misfit: f64::NAN,
            degrees_of_freedom: 1,
        }
    }

    fn suspect(&self, explains: &detector::Explains, mean: f64, first: f64) -> Suspect {
        let detector::Explains { cause, probability, size, deviation } = *explains;
        let typical = self.found.typical_makeup;
        let has_heat = !self.found.heat.is_empty();
        let (cause, size, uncertainty) = match cause {
            detector::Cause::Loss => (Cause::Loss, typical * size, typical * deviation),
            detector::Cause::Inflow => (Cause::Inflow, -typical * size, typical * deviation),
            detector::Cause::MakeupMeter => {
                (Cause::MakeupMeter, typical * size, typical * deviation)
            }
            // More solids than the probe shows are a probe that reads low.
            detector::Cause::BasinProbe => {
                (Cause::Conductivity, 1.0 / (1.0 + size) - 1.0, deviation)
            }
            detector::Cause::HeatSide => (Cause::Heat, typical * size, typical * deviation),
            detector::Cause::MakeupNotRead => (Cause::MakeupQuality, size, deviation),
            detector::Cause::Unclear | detector::Cause::WildPeriod => {
                (Cause::Unclear, typical * size, typical * deviation)
            }
        };
        Suspect {
            cause,
            size: mean * size,
            uncertainty: mean * uncertainty,
            explains: f64::NAN,
            likelihood: probability,
            is_tied: probability >= first * if has_heat { TIED } else { TIED_WITHOUT_HEAT },
        }
    }

    /// What changed and is no fault.
    fn changes(&self, periods: &[CheckedPeriod], meters: Meters) -> Vec<Finding> {
        let note = |change: &detector::Changed| {
            let begin = self.of[change.begins].0;
            let is_more = !meters.solids_are_read() && change.size > 0.0;
            let evaporation = median(periods.iter().map(|p| p.readings.evaporation.value));
            let more = Suspect {
                cause: Cause::MoreMakeup,
                size: change.size * evaporation.unwrap_or(0.0),
                uncertainty: change.deviation * evaporation.unwrap_or(0.0),
                explains: f64::NAN,
                likelihood: 1.0,
                is_tied: true,
            };
            let explains = detector::Explains {
                cause: change.cause,
                probability: 1.0,
                size: change.size,
                deviation: 0.0,
            };
            Finding {
                since: Some(periods[begin].start),
                found: Some(periods[self.of[change.found].1].start),
                until: None,
                days: days(&periods[begin..]),
                is_growing: false,
                suspects: vec![match is_more {
                    true => more,
                    false => self.suspect(&explains, 1.0, 1.0),
                }],
                misfit: f64::NAN,
                degrees_of_freedom: 1,
                is_explained: true,
                remark: None,
                patterns: Vec::new(),
            }
        };
        self.found.changes.iter().map(note).collect()
    }
}

fn pooled(periods: &[CheckedPeriod]) -> Result<Pool, CheckError> {
    pool(periods).ok_or(CheckError::NoPeriod { reason: None })
}

fn is_explained((misfit, degrees_of_freedom): (f64, usize), candidates: &[Candidate]) -> bool {
    const LEVEL: f64 = 0.01;
    let first = candidates.first().map_or(0.0, |candidate| candidate.explains);
    degrees_of_freedom < 2 || misfit - first <= chi_square_limit(LEVEL, degrees_of_freedom - 1)
}

/// Causes in order, each once.
fn suspects(candidates: &[Candidate], readings: &Readings, slope: Option<f64>) -> Vec<Suspect> {
    let first = candidates.first().map_or(0.0, |candidate| candidate.explains);
    let mut suspects: Vec<Suspect> = Vec::new();
    for candidate in candidates {
        let Some((cause, size, uncertainty)) = sized(candidate, readings, slope) else { continue };
        // The two ends of one tracer are one cause.
        if suspects.iter().all(|other| other.cause != cause) {
            suspects.push(Suspect {
                cause,
                size,
                uncertainty,
                explains: candidate.explains,
                likelihood: (0.5 * (candidate.explains - first)).exp(),
                is_tied: first - candidate.explains <= TIE,
            });
        }
    }
    let sum: f64 = suspects.iter().map(|suspect| suspect.likelihood).sum();
    suspects.iter_mut().for_each(|suspect| suspect.likelihood /= sum);
    suspects
}

/// A cause with its size and uncertainty. A tracer of the makeup has the signature of the same tracer
/// in the basin, which stands for both. `slope` is that of conductivity with the cycles, where the
/// first tracer is one.
fn sized(
    candidate: &Candidate,
    readings: &Readings,
    slope: Option<f64>,
) -> Option<(Cause, f64, f64)> {
    let Candidate { size, uncertainty, .. } = *candidate;
    Some(match candidate.fault {
        Fault::LossOrBlowdownMeter if size >= 0.0 => (Cause::Loss, size, uncertainty),
        Fault::LossOrBlowdownMeter => (Cause::Inflow, -size, uncertainty),
        Fault::Reading(Variable::Makeup) => (Cause::MakeupMeter, size, uncertainty),
        Fault::Reading(Variable::BasinTracer(index)) => {
            let read = readings.tracers.get(index)?.basin.value;
            let (cause, slope) = match slope.filter(|_| index == 0) {
                Some(slope) => (Cause::Conductivity, slope),
                None => (Cause::Chloride, 1.0),
            };
            // Of the true value, not of what was read.
            let true_value = (read - size).max(f64::MIN_POSITIVE);
            let part = (read / true_value).powf(slope) - 1.0;
            (cause, part, slope * uncertainty / true_value)
        }
        Fault::Reading(Variable::MakeupTracer(_)) => return None,
        Fault::Reading(_) => (Cause::Heat, size, uncertainty),
    })
}

/// A meter that shows nothing while the cycles hold is to be looked at first.
fn blowdown_remark(periods: &[CheckedPeriod]) -> Option<Remark> {
    let shows_nothing = |period: &CheckedPeriod| {
        period.readings.blowdown.value < NOTHING * period.readings.makeup.value
    };
    let holds = periods.last()?.cycles < 1.1 * periods.first()?.cycles;
    let last = periods.len().saturating_sub(3);
    (holds && periods[last..].iter().all(shows_nothing)).then_some(Remark::BlowdownMeterStill)
}

fn cycles_remark(before: &[CheckedPeriod], after: &[CheckedPeriod]) -> Option<Remark> {
    const NOTABLE: f64 = 0.05;
    let fell = 1.0 - typical_cycles(after) / typical_cycles(before);
    (fell > NOTABLE).then_some(Remark::CyclesFell(fell))
}

/// Their median: one slip is none of them.
fn typical_cycles(periods: &[CheckedPeriod]) -> f64 {
    median(periods.iter().map(|period| period.cycles)).unwrap_or(f64::NAN)
}

/// Cycles that a controller is to hold and does not, over the whole of the periods.
fn off_target(periods: &[CheckedPeriod], question: &Question) -> Option<Finding> {
    let wanted = question.target?;
    let now = typical_cycles(periods);
    let spread = periods[0].constant_cycles();
    let off = (now / wanted).ln() / spread;
    let is_sure = 2.0 * normal_exceeds(off.abs()) < question.level;
    // A controller may hold any cycles within its dead band.
    let is_off = (now / wanted - 1.0).abs() > question.dead_band / question.slope;
    if !(is_sure && is_off) {
        return None;
    }
    let evaporation = periods.iter().map(|period| period.readings.evaporation.value).sum::<f64>()
        / periods.len() as f64;
    // What leaves as liquid at these cycles, less what leaves at those wanted.
    let size = evaporation * (1.0 / (now - 1.0) - 1.0 / (wanted - 1.0));
    let slope = evaporation * now / (now - 1.0).powi(2);
    let suspect = Suspect {
        cause: if size > 0.0 { Cause::BlowdownHigh } else { Cause::BlowdownLow },
        size: size.abs(),
        uncertainty: slope * spread,
        explains: off * off,
        likelihood: 1.0,
        is_tied: true,
    };
    Some(Finding {
        since: None,
        found: None,
        until: None,
        days: days(periods),
        is_growing: false,
        suspects: vec![suspect],
        misfit: off * off,
        degrees_of_freedom: 1,
        is_explained: true,
        remark: None,
        patterns: Vec::new(),
    })
}

/// A meter that stands still in two periods that follow upon each other: in one alone the tower may have
/// stood, and nobody read that.
fn stands_still(periods: &[CheckedPeriod], still: &[DateTime]) -> Option<Finding> {
    let lasts = median(periods.iter().map(|period| period.hours))?;
    let follow =
        |pair: &&[DateTime]| pair[1].duration_since(pair[0]).as_secs_f64() / 3_600.0 < 1.6 * lasts;
    let since = still.windows(2).find(|pair| follow(pair))?[0];
    let count = periods.len() as f64;
    let needed = periods.iter().map(|period| period.expected.value).sum::<f64>() / count;
    let hours = periods.iter().map(|period| period.hours).sum::<f64>() / count;
    let suspect = Suspect {
        cause: Cause::MakeupMeterStill,
        size: needed,
        uncertainty: periods[0].expected.uncertainty,
        explains: f64::INFINITY,
        likelihood: 1.0,
        is_tied: true,
    };
    Some(Finding {
        since: Some(since),
        found: Some(since),
        until: None,
        days: still.len() as f64 * hours / 24.0,
        is_growing: false,
        suspects: vec![suspect],
        misfit: f64::INFINITY,
        degrees_of_freedom: 1,
        is_explained: true,
        remark: None,
        patterns: Vec::new(),
    })
}

impl CheckedPeriod {
    /// Relative standard uncertainty of the cycles by constant errors.
    fn constant_cycles(&self) -> f64 {
        let [makeup, basin] = self.tracer_parts();
        self.stretch.errors.constant[makeup as usize]
            .hypot(self.stretch.errors.constant[basin as usize])
    }

    fn tracer_parts(&self) -> [Part; 2] {
        match self.stretch.quantities.conductivity {
            Some(_) => [Part::MakeupConductivity, Part::BasinConductivity],
            None => [Part::MakeupChloride, Part::BasinChloride],
        }
    }
}
