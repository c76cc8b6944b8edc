//! The periods of a log against physics: what the tower should have used, and where the difference
//! went.

mod bleed;
mod conditions;
mod findings;
mod observe;
mod own_days;
mod pattern;
mod quantities;
mod reach;
mod readings;
mod two;

pub use findings::{Cause, Finding, FindingState, Remark, Suspect};
pub use own_days::OwnDays;
pub use pattern::{Circumstance, Effect, Pattern};
pub use reach::{Meters, OneMore, Reading as MissingReading};
pub use readings::CYCLES_UNREAD;
pub use two::{TwoReadings, TwoSheet, TwoVerdict};

use super::{Balance, Infeasible, Inputs, Model, Refused, Workspace};
use crate::check::detection::Detection;
use crate::check::detector;
use crate::check::reconcile::{Reading, Readings, ReconcileError, Reconciled, reconcile};
use crate::readings::period::Period;
use crate::site::description::{Channel, Control};
use crate::site::{BlowdownGiven, Problem};
use crate::statistics;
use bleed::Habit;
use findings::{Detected, Question};
use jiff::civil::DateTime;
pub(crate) use observe::PER_KELVIN;
use pattern::Circumstances;
use quantities::{Pool, Stretch};
pub use readings::{APPARENT, UNREAD_MAKEUP};
use readings::{LeftOut, Reader};

/// What a change takes, of the basin's readings: so many before it, or so many over [`LEAST_DAYS`], and so
/// many since.
pub const LEAST_READINGS: [usize; 3] =
    [detector::LEAST_BEFORE, detector::LEAST_BEFORE_RARE, detector::LEAST_AFTER];
/// Days over which few readings before a change will do.
pub const LEAST_DAYS: usize = detector::LEAST_DAYS_BEFORE as usize;
/// Level of the tests on a whole log, in 30 periods; no test of a long log is laxer than the second.
const TEST: f64 = 0.002;
const PERIODS_OF_TEST: f64 = 30.0;
const LAXEST_TEST: f64 = 0.01;

/// Why a log cannot be checked.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CheckError {
    /// The site file does not describe a log.
    #[error("the log's columns are not described")]
    NoLog,
    /// No period has makeup, blowdown and a conductivity.
    #[error(
        "nothing to check: {}",
        .reason.as_deref().unwrap_or("a period lies between two readings of the makeup, and there are none")
    )]
    NoPeriod {
        /// Why the first one was left out.
        reason: Option<String>,
    },
    /// The balance of the site itself.
    #[error(transparent)]
    Infeasible(#[from] Infeasible),
    /// Readings that no balance comes near.
    #[error("{from}: {error}")]
    Reconcile {
        /// Where they begin.
        from: DateTime,
        /// Why.
        error: ReconcileError,
    },
}

/// A period of the log. Flows in m3/d.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckedPeriod {
    /// Begin, by the log's own clock.
    pub start: DateTime,
    /// Hours between its first and last reading of the makeup.
    pub hours: f64,
    /// What was read, with the evaporation that weather and load ask for; uncertainties of constant
    /// and random errors together.
    pub readings: Readings,
    /// Cycles of the basin, corrected where the makeup's analysis allows it.
    pub cycles: f64,
    /// Makeup that evaporation, blowdown, drift and storage ask for, with its standard uncertainty.
    pub expected: Reading,
    /// Cycles that the basin is usually held at; those of the site where nobody reads them.
    pub held_cycles: f64,
    /// Their relative standard uncertainty.
    pub of_cycles: f64,
    /// The smallest loss that the period by itself shows, m3/d.
    pub shows: f64,
    /// What a reading more would show.
    pub one_more: Vec<OneMore>,
    /// What the solids read as a loss; nothing where blowdown or basin are not read.
    pub solids: Detection,
    /// What heat reads as a loss; `None` where load or weather is unknown or cannot be.
    pub heat: Option<Detection>,
    /// Heat that the water gave up by the log's own temperatures, W.
    pub load: Option<f64>,
    /// Conductivity of the makeup as read in the period itself, S/m.
    pub makeup_conductivity: Option<f64>,
    /// Evaporation in proportion to the heat that the water gave up, m3/d.
    evaporation_by_heat: Option<f64>,
    /// Whether load and weather were read and can be.
    has_weather: bool,
    /// Conductivity of the basin at the period's end, as read.
    basin_conductivity: Option<f64>,
    /// Whether the log has a wet bulb and no dry bulb.
    dry_bulb_is_assumed: bool,
    stretch: Stretch,
    circumstances: Circumstances,
}

impl CheckedPeriod {
    /// Makeup less what was expected.
    pub fn difference(&self) -> f64 {
        self.readings.makeup.value - self.expected.value
    }

    /// Standard uncertainty of the difference.
    pub fn tolerance(&self) -> f64 {
        self.expected.uncertainty.hypot(self.readings.makeup.uncertainty)
    }

    /// Whether what solids read as a loss is within twice its uncertainty.
    pub fn solids_are_in_tolerance(&self) -> bool {
        self.solids.reads.abs() <= 2.0 * self.solids.uncertainty
    }

    /// Whether the difference is within twice its uncertainty, the makeup meter's included.
    pub fn is_in_tolerance(&self) -> bool {
        self.difference().abs() <= 2.0 * self.tolerance()
    }

    /// Makeup for the heat that the water gave up, m3/J; `None` where its load is not known.
    pub fn makeup_per_heat(&self) -> Option<f64> {
        let load = self.load.filter(|load| *load > 0.0)?;
        Some(self.readings.makeup.value / (86_400.0 * load))
    }
}

/// An error of an instrument that nobody stated.
#[derive(Debug, Clone, PartialEq)]
pub struct AssumedError {
    /// `accuracy` or `repeatability`.
    pub kind: String,
    /// Of what.
    pub instrument: String,
    /// As a part of the reading.
    pub part: f64,
    /// Where it comes from.
    pub basis: &'static str,
}

/// Hot water that is colder than the cold one: two columns swapped, or one in a wrong unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HotBelowCold {
    /// Periods that are so.
    pub periods: usize,
    /// Periods with both temperatures.
    pub with_both: usize,
    /// Mean of the hot water in the periods that are so, K.
    pub hot_kelvin: f64,
    /// The same of the cold water, K.
    pub cold_kelvin: f64,
}

/// A dry bulb that the log does not have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AssumedDryBulb {
    /// Periods that it is assumed in.
    pub periods: usize,
    /// By how much it is taken above the wet bulb, K.
    pub above_wet_bulb_kelvin: f64,
    /// That over the depression of the site's own air.
    pub part_of_design: f64,
    /// What that part may be: what it would make of the evaporation is in the uncertainty.
    pub range: [f64; 2],
}

/// A log against physics.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckSheet {
    /// Name of the site.
    pub name: String,
    /// Periods that could be checked.
    pub periods: Vec<CheckedPeriod>,
    /// Periods that could not, with the reason.
    pub left_out: Vec<(DateTime, String)>,
    /// Periods whose load and weather cannot be, with the reason: heat says nothing of them.
    pub without_heat: Vec<(DateTime, String)>,
    /// The periods whose hot water is colder than the cold one, where they are most of those with both.
    /// They are not among those without heat.
    pub hot_below_cold: Option<HotBelowCold>,
    /// What was found: what needs action first, what is over last.
    pub findings: Vec<Finding>,
    /// What is told and is no finding: the whole log against physics or its target, where constant errors
    /// of the instruments look the same as a fault; and changes that are none.
    pub notes: Vec<Finding>,
    /// The means of the quiet part of the log, reconciled.
    pub reconciled: Reconciled,
    /// Smallest loss by solids on a median period.
    pub by_solids: Detection,
    /// The same by heat; `None` where no period has its load.
    pub by_heat: Option<Detection>,
    /// Days that a sudden loss lasts, and the least that is then found, m3/d; empty for a log too short.
    pub least_loss: Vec<(f64, f64)>,
    /// Whether the cycles are corrected by the makeup's analysis; else they are apparent.
    pub cycles_are_true: bool,
    /// Whether the makeup's conductivity stands in the site file alone.
    pub makeup_quality_is_stated: bool,
    /// What the log reads.
    pub meters: Meters,
    /// The loss that a median period shows by itself, m3/d, and what one more reading would show.
    pub shows: (f64, Vec<OneMore>),
    /// The site's own conditions have no balance, and those of the log stand in for them: why.
    pub design_is_infeasible: Option<String>,
    /// Whether the basin's conductivity was converted to 25 degC by the cold water: its meter does not.
    pub is_converted: bool,
    /// The dry bulb, where a wet bulb was read without one.
    pub assumed_dry_bulb: Option<AssumedDryBulb>,
    /// What nobody stated of the instruments, with its basis.
    pub assumed: Vec<AssumedError>,
    /// Price of a m3 of makeup, and currency.
    pub price: Option<(f64, String)>,
}

impl CheckSheet {
    /// Begin of the last period of the log, whether it could be checked or not.
    pub fn last(&self) -> Option<DateTime> {
        let checked = self.periods.last().map(|period| period.start);
        checked.max(self.left_out.iter().map(|(start, _)| *start).max())
    }

    /// How a finding stands on the last day of the log.
    pub fn state(&self, finding: &Finding) -> FindingState {
        state(finding, self.last())
    }

    /// Whether something was found that is not over.
    pub fn finding_stands(&self) -> bool {
        self.findings.iter().any(|finding| finding.until.is_none())
    }

    /// Whether a change could have been found at all.
    pub fn is_long_enough(&self) -> bool {
        !self.least_loss.is_empty()
    }
}

fn state(finding: &Finding, last: Option<DateTime>) -> FindingState {
    if finding.until.is_some() {
        return FindingState::Over;
    }
    match finding.found.map(DateTime::date) == last.map(DateTime::date) {
        true => FindingState::New,
        false => FindingState::GoingOn,
    }
}

impl Model {
    /// Checks the periods of a log.
    ///
    /// # Errors
    /// [`CheckError`].
    pub fn check(&self, inputs: &Inputs, periods: &[Period]) -> Result<CheckSheet, CheckError> {
        let log = self.site.log.as_ref().ok_or(CheckError::NoLog)?;
        let mut work = Workspace::new(self);
        let (inputs, balance, design_is_infeasible) = match self.evaluate(inputs, &mut work) {
            Ok(balance) => (inputs.clone(), balance, None),
            Err(why) => {
                let (inputs, balance) = conditions::usual(self, inputs, periods, &mut work)
                    .ok_or_else(|| why.clone())?;
                (inputs, balance, Some(why.to_string()))
            }
        };
        let inputs = &inputs;
        let mut reader = Reader::new(self, inputs, &balance, periods);
        let meters = reader.meters();
        let mut checked: Vec<CheckedPeriod> = Vec::new();
        let mut left_out = Vec::new();
        let mut still = Vec::new();
        let mut without_heat = Vec::new();
        let hot_below_cold = readings::hot_below_cold(periods);
        let (held, readings_of_makeup) = observe::held(periods);
        let mut places = Vec::new();
        let is_told = |period: &Period| hot_below_cold.is_some() && readings::is_reversed(period);
        for (index, (period, slip)) in held.iter().zip(readings::slips(periods)).enumerate() {
            let read = match slip {
                Some(slip) => Err(LeftOut::Slipped(slip)),
                None => reader.checked(period).and_then(closes),
            };
            match read {
                Ok((mut checked_period, blind)) => {
                    checked_period.makeup_conductivity =
                        periods[index].get(Channel::MakeupConductivity);
                    let blind = blind.filter(|_| !is_told(period));
                    without_heat.extend(blind.map(|why| (period.start, why.to_string())));
                    places.push(index);
                    checked.push(checked_period);
                }
                Err(why) => {
                    left_out.push((period.start, why.reason()));
                    if why.is_stuck() {
                        still.push(period.start);
                    }
                }
            }
        }
        if checked.is_empty() {
            let reason = left_out.into_iter().next().map(|(_, reason)| reason);
            return Err(CheckError::NoPeriod { reason });
        }
        let target = self.held_cycles(&balance).filter(|_| reader.has_true_cycles());
        let level = test_level(checked.len());
        let cycles = statistics::median(checked.iter().map(|period| period.cycles));
        let slope = reader.conductivity_by_cycles(cycles.unwrap_or(f64::NAN));
        let dead_band = inputs.get(self.site.chemistry.dead_band);
        let cycles_at = |period: &CheckedPeriod, basin| {
            let makeup = period.stretch.quantities.conductivity?.makeup;
            Some(reader.cycles_at(basin, makeup))
        };
        let question = Question {
            target,
            dead_band,
            is_held: self.is_held(),
            stuck_bleeds: match meters.solids_are_read() {
                true => {
                    bleed::stuck(&checked, &Habit::of(self.site.control, dead_band), &cycles_at)
                }
                false => Vec::new(),
            },
            meters,
            level,
            still,
            slope,
        };
        let read: Vec<observe::Read<'_>> = checked
            .iter()
            .zip(&places)
            .enumerate()
            .map(|(place, (checked, index))| observe::Read {
                period: &held[*index],
                checked,
                place,
                index: *index,
            })
            .collect();
        let observation = observe::observations(&reader, &read, &readings_of_makeup);
        let detected = detector::detect(&observation.observed, &observation.plant);
        let found = findings::find(
            &checked,
            &Detected { found: &detected, of: &observation.of, is_held: self.is_held() },
            question,
        )?;
        // A controller bleeds less by as much as is lost, and nobody reads that.
        let bled_less = match meters.is_held && !meters.blowdown {
            true => statistics::median(checked.iter().map(|p| p.readings.blowdown.value)),
            false => None,
        }
        .unwrap_or(0.0);
        let typical = |of: &dyn Fn(&CheckedPeriod) -> Option<Detection>| {
            median(checked.iter().filter_map(of))
        };
        let mut sheet = CheckSheet {
            name: self.site.name.clone(),
            by_solids: typical(&|period| Some(period.solids)).unwrap_or(checked[0].solids),
            by_heat: typical(&|period| period.heat),
            cycles_are_true: reader.has_true_cycles(),
            meters,
            shows: usual_reach(&checked),
            design_is_infeasible,
            makeup_quality_is_stated: log.layout.column(Channel::MakeupConductivity).is_none(),
            is_converted: observation.is_converted,
            assumed_dry_bulb: assumed_dry_bulb(&checked, reader.assumed_depression()),
            assumed: self.assumed_of_instruments(),
            least_loss: detected
                .least_loss
                .iter()
                .map(|(days, part)| (*days, part * detected.typical_makeup + bled_less))
                .collect(),
            periods: checked,
            left_out,
            without_heat,
            hot_below_cold,
            findings: found.findings,
            notes: found.notes,
            reconciled: found.quiet,
            price: self
                .site
                .cost
                .makeup
                .map(|slot| (inputs.get(slot), self.site.cost.currency.clone())),
        };
        let last = sheet.last();
        sheet.findings.sort_by_key(|finding| (state(finding, last), finding.urgency()));
        Ok(sheet)
    }

    fn assumed_of_instruments(&self) -> Vec<AssumedError> {
        let Some(log) = &self.site.log else { return Vec::new() };
        let reads = |channels: &[Channel]| {
            channels.iter().any(|channel| log.layout.column(*channel).is_some())
        };
        let has_chloride = reads(&[Channel::MakeupChloride, Channel::BasinChloride]);
        self.slots()
            .iter()
            .filter_map(|value| {
                let path = value.path.strip_prefix("log.")?;
                let (kind, instrument) = path.split_once('.')?;
                let basis = value.assumed?;
                let counts = instrument != "chloride" || has_chloride;
                counts.then(|| AssumedError {
                    kind: kind.into(),
                    instrument: instrument.into(),
                    part: value.si,
                    basis,
                })
            })
            .collect()
    }

    /// The cycles that a conductivity controller is to hold.
    fn held_cycles(&self, balance: &Balance) -> Option<f64> {
        let is_held = self.is_held() && matches!(self.site.blowdown, BlowdownGiven::Cycles(_));
        is_held.then_some(balance.water.cycles_of_concentration)
    }

    pub(crate) fn is_held(&self) -> bool {
        self.site.control == Some(Control::Conductivity)
    }
}

/// A period whose own readings some balance comes near.
fn closes(
    (checked, blind): (CheckedPeriod, Option<Infeasible>),
) -> Result<(CheckedPeriod, Option<Infeasible>), LeftOut> {
    reconcile(&checked.readings).map_err(LeftOut::TooFar)?;
    Ok((checked, blind))
}

/// What the period in the middle shows.
fn usual_reach(periods: &[CheckedPeriod]) -> (f64, Vec<OneMore>) {
    let mut sorted: Vec<&CheckedPeriod> = periods.iter().collect();
    sorted.sort_by(|a, b| a.shows.total_cmp(&b.shows));
    let middle = sorted[sorted.len() / 2];
    (middle.shows, middle.one_more.clone())
}

fn assumed_dry_bulb(periods: &[CheckedPeriod], depression: Option<f64>) -> Option<AssumedDryBulb> {
    let periods = periods.iter().filter(|period| period.dry_bulb_is_assumed).count();
    let above_wet_bulb_kelvin = depression.filter(|_| periods > 0)?;
    let part_of_design = conditions::DEPRESSION;
    let range = conditions::DEPRESSION_RANGE;
    Some(AssumedDryBulb { periods, above_wet_bulb_kelvin, part_of_design, range })
}

/// Level of a test on the whole log.
fn test_level(periods: usize) -> f64 {
    let months = (periods as f64 / PERIODS_OF_TEST).max(1.0);
    (TEST * months).min(LAXEST_TEST)
}

/// The one in the middle by its threshold.
fn median(detections: impl Iterator<Item = Detection>) -> Option<Detection> {
    let mut sorted: Vec<Detection> = detections.collect();
    sorted.sort_by(|a, b| a.decision_threshold.total_cmp(&b.decision_threshold));
    (!sorted.is_empty()).then(|| sorted[sorted.len() / 2])
}

fn days(periods: &[CheckedPeriod]) -> f64 {
    periods.iter().map(|period| period.hours / 24.0).sum()
}

fn pool(periods: &[CheckedPeriod]) -> Option<Pool> {
    let stretches: Vec<Stretch> = periods.iter().map(|period| period.stretch).collect();
    Pool::of(&stretches)
}

impl Refused for CheckError {
    fn problem(&self, model: &Model) -> Problem {
        match self {
            CheckError::NoLog => Problem::new("log", self.to_string()).with_help(
                "add [log] with time = \"...\" and a [[log.column]] for each column that counts",
            ),
            CheckError::Infeasible(why) => why.problem(model),
            CheckError::NoPeriod { .. } | CheckError::Reconcile { .. } => {
                Problem::new("log", self.to_string())
            }
        }
    }
}
