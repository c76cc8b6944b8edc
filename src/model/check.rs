//! The days of a log against physics: what the tower should have used, and where the difference went.

use super::{Balance, Infeasible, Inputs, Model, Workspace};
use crate::blowdown::TowerWater;
use crate::check::cusum::Chart;
use crate::check::detection::{Detection, by_heat, by_solids};
use crate::check::reconcile::{
    Candidate, Fault, Reading, Readings, ReconcileError, Reconciled, Tracer, Variable,
    explain_change, reconcile,
};
use crate::chemistry::Constituent;
use crate::readings::period::Day;
use crate::site::description::Channel;
use crate::site::{Problem, SiteLog};
use jiff::civil::Date;

/// Slack and decision interval of the charts: one false alarm in some 4000 days and chart.
const SLACK: f64 = 0.5;
const DECISION: f64 = 8.0;
/// Days of the log that the charts take for quiet.
const BASELINE_DAYS: usize = 20;
const LEAST_BASELINE_DAYS: usize = 7;
/// Level of the test on the whole log, and of ties between causes.
const LEVEL: f64 = 0.01;
const TIE: f64 = 3.84;
/// A conductivity ratio that nothing corrects may be off by so much: standard uncertainty of cycles
/// (reference waters without acid show 1.4 to 12 % of makeup).
const APPARENT: f64 = 0.05;
/// Evaporation without weather and load of the day.
const BLIND_EVAPORATION: f64 = 0.3;
/// Drift is known to half of itself.
const DRIFT: f64 = 0.5;

/// Why a log cannot be checked.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CheckError {
    /// The site file does not describe a log.
    #[error("the log's columns are not described")]
    NoLog,
    /// No day has makeup, blowdown and a conductivity.
    #[error("no day of the log has makeup, blowdown and a conductivity of the basin")]
    NoDay,
    /// The balance of the site itself.
    #[error(transparent)]
    Infeasible(#[from] Infeasible),
    /// Readings that no balance comes near.
    #[error("{date}: {error}")]
    Reconcile {
        /// The day.
        date: Date,
        /// Why.
        error: ReconcileError,
    },
}

/// A day of the log. Flows in m3/d.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckedDay {
    /// Date of the log's own clock.
    pub date: Date,
    /// What was read, with the evaporation that weather and load ask for.
    pub readings: Readings,
    /// Cycles of the basin, corrected where the makeup's analysis allows it.
    pub cycles: f64,
    /// Makeup that evaporation, blowdown, drift and storage ask for, with its standard uncertainty.
    pub expected: Reading,
    /// What the solids read as a loss.
    pub solids: Detection,
    /// What heat reads as a loss; `None` where the day's weather is unknown or cannot be.
    pub heat: Option<Detection>,
}

impl CheckedDay {
    /// Makeup less what was expected.
    pub fn difference(&self) -> f64 {
        self.readings.makeup.value - self.expected.value
    }

    /// Whether the difference is within twice its uncertainty, the makeup meter's included.
    pub fn is_in_tolerance(&self) -> bool {
        self.difference().abs() <= 2.0 * self.tolerance()
    }

    /// Standard uncertainty of the difference.
    pub fn tolerance(&self) -> f64 {
        f64::hypot(self.expected.uncertainty, self.readings.makeup.uncertainty)
    }
}

/// What may be wrong.
#[derive(Debug, Clone, Copy, PartialEq)]
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
}

/// A cause with its size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finding {
    /// What.
    pub cause: Cause,
    /// In m3/d for flows; for conductivity and chloride a part of the reading.
    pub size: f64,
    /// Standard uncertainty of the size.
    pub uncertainty: f64,
    /// How much of the contradiction it explains.
    pub explains: f64,
    /// Since when, where a change was found; else from the first day.
    pub since: Option<Date>,
}

/// A log against physics.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckSheet {
    /// Name of the site.
    pub name: String,
    /// Days that could be checked.
    pub days: Vec<CheckedDay>,
    /// Days of the log that could not, with the reason.
    pub left_out: Vec<(Date, &'static str)>,
    /// What may be wrong, the best explanation first; those after it explain as much within noise.
    pub findings: Vec<Finding>,
    /// The means of the log, or of what follows a change, reconciled.
    pub reconciled: Reconciled,
    /// Smallest loss by solids and by heat on a median day.
    pub by_solids: Detection,
    /// `None` where no day has its weather.
    pub by_heat: Option<Detection>,
    /// Whether the cycles are corrected by the makeup's analysis; else they are apparent.
    pub cycles_are_true: bool,
    /// Price of a m3 of makeup, and currency.
    pub price: Option<(f64, String)>,
}

impl Model {
    /// Checks the days of a log.
    ///
    /// # Errors
    /// [`CheckError`].
    pub fn check(&self, inputs: &Inputs, days: &[Day]) -> Result<CheckSheet, CheckError> {
        let log = self.site.log.as_ref().ok_or(CheckError::NoLog)?;
        let accuracy = Accuracies::of(inputs, log);
        let work = &mut Workspace::new(self);
        let balance = self.evaluate(inputs, work)?;
        let scale = ConductivityScale::of(self, inputs, &balance);
        let mut checked: Vec<CheckedDay> = Vec::new();
        let mut left_out = Vec::new();
        for day in days {
            let before = checked.last();
            match self.checked_day(inputs, day, (&accuracy, scale.as_ref()), before, work) {
                Ok(day) => checked.push(day),
                Err(reason) => left_out.push((day.date, reason)),
            }
        }
        if checked.is_empty() {
            return Err(CheckError::NoDay);
        }
        let change = change(&checked);
        let after = change.map_or(0, |(start, _)| start);
        let pooled = pooled(&checked[after..]);
        let date = checked[after].date;
        let unreconciled = |error| CheckError::Reconcile { date, error };
        let reconciled = reconcile(&pooled).map_err(unreconciled)?;
        let findings = match change {
            Some((start, quiet)) => {
                let before = self::pooled(&checked[..quiet]);
                let candidates = explain_change(&before, &pooled).map_err(unreconciled)?;
                findings(&candidates, &pooled, Some(checked[start].date))
            }
            None if reconciled.contradicts(LEVEL) => {
                findings(&reconciled.candidates, &pooled, None)
            }
            None => Vec::new(),
        };
        Ok(CheckSheet {
            name: self.site.name.clone(),
            by_solids: median(checked.iter().map(|day| day.solids)).unwrap_or(checked[0].solids),
            by_heat: median(checked.iter().filter_map(|day| day.heat)),
            days: checked,
            left_out,
            findings,
            reconciled,
            cycles_are_true: scale.is_some(),
            price: self
                .site
                .cost
                .makeup
                .map(|slot| (inputs.get(slot), self.site.cost.currency.clone())),
        })
    }

    fn checked_day(
        &self,
        inputs: &Inputs,
        day: &Day,
        (accuracy, scale): (&Accuracies, Option<&ConductivityScale>),
        before: Option<&CheckedDay>,
        work: &mut Workspace,
    ) -> Result<CheckedDay, &'static str> {
        let makeup = day.makeup.ok_or("no makeup")?;
        let blowdown = day.blowdown.ok_or("no blowdown")?;
        if makeup <= 0.0 {
            return Err("idle: no makeup");
        }
        let daily = |kg_per_s: f64| 24.0 * Balance::reference_m3_per_h(kg_per_s);
        let (balance, knows_the_day) = self.balance_of(inputs, day, work)?;
        let part = if knows_the_day { accuracy.evaporation } else { BLIND_EVAPORATION };
        let evaporation = Reading::relative(daily(balance.water.evaporation_kg_per_s), part);
        let drift = daily(balance.water.drift_kg_per_s).max(1e-6 * makeup);
        let volume = self.volume_m3(inputs).unwrap_or(0.0);
        let mut tracers = Vec::new();
        let mut cycles = f64::NAN;
        let fresh = day
            .get(Channel::MakeupConductivity)
            .or(Some(self.makeup_conductivity(inputs)).filter(|s| s.is_finite()));
        if let (Some(fresh), Some(basin)) = (fresh, day.get(Channel::BasinConductivity)) {
            let (true_cycles, bias) = match scale {
                Some(scale) => (scale.cycles(basin / fresh), 0.0),
                None => (basin / fresh, APPARENT),
            };
            if !(true_cycles > 1.0) {
                return Err("the basin conducts no better than the makeup");
            }
            cycles = true_cycles;
            tracers.push(Tracer {
                makeup: Reading::relative(fresh, accuracy.conductivity),
                basin: Reading::relative(fresh * cycles, f64::hypot(accuracy.conductivity, bias)),
                stored: 0.0,
            });
        }
        if let Some(basin) = day.get(Channel::BasinChloride)
            && let Some(fresh) =
                day.get(Channel::MakeupChloride).or_else(|| self.makeup_chloride(inputs))
        {
            if tracers.is_empty() {
                cycles = basin / fresh;
            }
            tracers.push(Tracer {
                makeup: Reading::relative(fresh, accuracy.chloride),
                basin: Reading::relative(basin, accuracy.chloride),
                stored: 0.0,
            });
        }
        if tracers.is_empty() {
            return Err("no conductivity and no chloride of the basin");
        }
        // Solids that the basin gained since the day before.
        if let Some(before) = before.filter(|before| is_next(before.date, day.date)) {
            for (tracer, earlier) in tracers.iter_mut().zip(&before.readings.tracers) {
                tracer.stored = volume * (tracer.basin.value - earlier.basin.value);
            }
        }
        let readings = Readings {
            makeup: Reading::relative(makeup, accuracy.makeup),
            // A meter that shows nothing is as unsure as one that shows a hundredth of the makeup.
            blowdown: Reading {
                value: blowdown,
                uncertainty: accuracy.blowdown * blowdown.max(0.01 * makeup),
            },
            evaporation,
            drift: Reading::relative(drift, DRIFT),
            stored: 0.0,
            tracers,
        };
        let parts = [readings.evaporation, readings.blowdown, readings.drift];
        let expected = Reading {
            value: parts.iter().map(|part| part.value).sum(),
            uncertainty: parts
                .iter()
                .map(|part| part.uncertainty * part.uncertainty)
                .sum::<f64>()
                .sqrt(),
        };
        let solids =
            by_solids(&readings, 0).ok_or("no conductivity and no chloride of the basin")?;
        // What the basin gained is the difference of two readings of its probe.
        let basin = readings.tracers[0].basin;
        let solids = solids.widened(volume * 2f64.sqrt() * basin.uncertainty / basin.value);
        let heat = knows_the_day.then(|| by_heat(&readings));
        Ok(CheckedDay { date: day.date, readings, cycles, expected, solids, heat })
    }

    /// The balance with the day's weather and load where the log has them; whether it has.
    fn balance_of(
        &self,
        inputs: &Inputs,
        day: &Day,
        work: &mut Workspace,
    ) -> Result<(Balance, bool), &'static str> {
        const PATHS: [(Channel, &str); 6] = [
            (Channel::HotWater, "circuit.hot_water"),
            (Channel::ColdWater, "circuit.cold_water"),
            (Channel::DryBulb, "air.dry_bulb"),
            (Channel::WetBulb, "air.wet_bulb"),
            (Channel::RelativeHumidity, "air.relative_humidity"),
            (Channel::Circulation, "circuit.circulation"),
        ];
        let mut today = inputs.clone();
        let mut has = false;
        for (channel, path) in PATHS {
            if let (Some(value), Ok(slot)) = (day.get(channel), self.slot(path)) {
                today.set(slot, value);
                has = true;
            }
        }
        match self.evaluate(&today, work) {
            Ok(balance) => Ok((balance, has)),
            // Weather that cannot be blinds the heat path of this day only.
            Err(_) => self
                .evaluate(inputs, work)
                .map(|balance| (balance, false))
                .map_err(|_| "no balance for this day"),
        }
    }

    /// Chloride of the blended makeup from its analyses, kg/m3; `None` where one lacks it.
    fn makeup_chloride(&self, inputs: &Inputs) -> Option<f64> {
        let whole: f64 = self.site.makeup.iter().map(|source| inputs.get(source.share)).sum();
        self.site
            .makeup
            .iter()
            .map(|source| {
                let constituents = &source.analysis.constituents;
                let (_, slot) =
                    constituents.iter().find(|(known, _)| *known == Constituent::Chloride)?;
                Some(inputs.get(source.share) / whole * inputs.get(*slot))
            })
            .sum()
    }

    /// Where a log goes wrong, in terms of the site file.
    pub fn explain_check(&self, why: &CheckError) -> Problem {
        match why {
            CheckError::NoLog => Problem::new("log", why.to_string()).with_help(
                "add [log] with time = \"...\" and a [[log.column]] for each column that counts",
            ),
            CheckError::Infeasible(why) => self.explain(why),
            _ => Problem::new("log", why.to_string()),
        }
    }
}

/// Accuracies of a site's instruments, relative standard uncertainties.
struct Accuracies {
    makeup: f64,
    blowdown: f64,
    conductivity: f64,
    chloride: f64,
    evaporation: f64,
}

impl Accuracies {
    fn of(inputs: &Inputs, log: &SiteLog) -> Self {
        Self {
            makeup: inputs.get(log.makeup),
            blowdown: inputs.get(log.blowdown),
            conductivity: inputs.get(log.conductivity),
            chloride: inputs.get(log.chloride),
            evaporation: inputs.get(log.evaporation),
        }
    }
}

/// True cycles from a ratio of conductivities, by the makeup concentrated and solved.
struct ConductivityScale {
    /// Ratio and cycles, rising.
    points: Vec<(f64, f64)>,
}

impl ConductivityScale {
    /// `None` where the makeup's analysis does not make a water.
    fn of(model: &Model, inputs: &Inputs, balance: &Balance) -> Option<Self> {
        const POINTS: usize = 60;
        const MOST: f64 = 15.0;
        let water = model.site_water(inputs, balance).ok()?;
        let tower: &TowerWater = &water.tower;
        let points: Vec<(f64, f64)> = (0..=POINTS)
            .map(|point| 1.0 + (MOST - 1.0) * (point as f64 / POINTS as f64).powi(2))
            .map_while(|cycles| {
                let solved = tower.at_cycles(cycles).ok()?;
                Some((solved.conductivity / water.makeup.conductivity, cycles))
            })
            .collect();
        let rising = points.windows(2).all(|pair| pair[1].0 > pair[0].0);
        (rising && points.len() > 1).then_some(Self { points })
    }

    /// Straight between the points, and on beyond their ends.
    fn cycles(&self, ratio: f64) -> f64 {
        let after = self.points.iter().filter(|(known, _)| *known < ratio).count();
        let index = after.clamp(1, self.points.len() - 1);
        let [(low, from), (high, to)] = [self.points[index - 1], self.points[index]];
        from + (ratio - low) / (high - low) * (to - from)
    }
}

fn is_next(before: Date, date: Date) -> bool {
    before.tomorrow().is_ok_and(|next| next == date)
}

/// The first day of a change, and how many days before it were quiet; `None` without one.
fn change(days: &[CheckedDay]) -> Option<(usize, usize)> {
    let baseline = (days.len() / 3).min(BASELINE_DAYS);
    if baseline < LEAST_BASELINE_DAYS {
        return None;
    }
    let solids: Vec<Option<f64>> =
        days.iter().map(|day| Some(day.solids.reads / day.readings.makeup.value)).collect();
    let heat: Vec<Option<f64>> = days
        .iter()
        .map(|day| day.heat.map(|heat| heat.reads / day.readings.makeup.value))
        .collect();
    let start =
        [solids, heat].iter().filter_map(|series| start_of_change(series, baseline)).min()?;
    Some((start, baseline.min(start.max(1))))
}

/// Where a series left its first days for good.
fn start_of_change(series: &[Option<f64>], baseline: usize) -> Option<usize> {
    let known: Vec<f64> = series[..baseline].iter().flatten().copied().collect();
    if known.len() < LEAST_BASELINE_DAYS {
        return None;
    }
    let count = known.len() as f64;
    let mean = known.iter().sum::<f64>() / count;
    let squares: f64 = known.iter().map(|value| (value - mean).powi(2)).sum();
    // The mean of so few days is unsure itself.
    let deviation = (squares / (count - 1.0) * (1.0 + 1.0 / count)).sqrt();
    if !(deviation > 0.0) {
        return None;
    }
    let mut chart = Chart::new(SLACK, DECISION);
    let mut seen = Vec::new();
    for (index, value) in series.iter().enumerate().skip(baseline) {
        let Some(value) = value else { continue };
        seen.push(index);
        if let Some(signal) = chart.see((value - mean) / deviation) {
            return seen.len().checked_sub(signal.began).map(|place| seen[place]);
        }
    }
    None
}

/// The means of several days, with the uncertainties of one: constant errors do not average out.
fn pooled(days: &[CheckedDay]) -> Readings {
    let count = days.len() as f64;
    let mean = |of: &dyn Fn(&CheckedDay) -> Reading| {
        let (value, uncertainty) = days.iter().map(of).fold((0.0, 0.0), |(value, spread), r| {
            (value + r.value / count, spread + r.uncertainty / count)
        });
        Reading { value, uncertainty }
    };
    let tracers = days.iter().map(|day| day.readings.tracers.len()).min().unwrap_or(0);
    Readings {
        makeup: mean(&|day| day.readings.makeup),
        blowdown: mean(&|day| day.readings.blowdown),
        evaporation: mean(&|day| day.readings.evaporation),
        drift: mean(&|day| day.readings.drift),
        stored: days.iter().map(|day| day.readings.stored / count).sum(),
        tracers: (0..tracers)
            .map(|index| Tracer {
                makeup: mean(&|day| day.readings.tracers[index].makeup),
                basin: mean(&|day| day.readings.tracers[index].basin),
                stored: days.iter().map(|day| day.readings.tracers[index].stored / count).sum(),
            })
            .collect(),
    }
}

/// The best explanation, and those that explain as much within noise.
fn findings(candidates: &[Candidate], readings: &Readings, since: Option<Date>) -> Vec<Finding> {
    let Some(first) = candidates.first() else { return Vec::new() };
    let mut findings: Vec<Finding> = Vec::new();
    for candidate in candidates {
        if first.explains - candidate.explains > TIE {
            break;
        }
        let finding = finding(candidate, readings, since);
        // Makeup and basin of one tracer are one finding.
        if findings.iter().all(|other| other.cause != finding.cause) {
            findings.push(finding);
        }
    }
    findings
}

fn finding(candidate: &Candidate, readings: &Readings, since: Option<Date>) -> Finding {
    let relative = |reading: Reading| 1.0 / reading.value;
    let (cause, unit) = match candidate.fault {
        Fault::LossOrBlowdownMeter if candidate.size >= 0.0 => (Cause::Loss, 1.0),
        Fault::LossOrBlowdownMeter => (Cause::Inflow, 1.0),
        Fault::Reading(Variable::Makeup) => (Cause::MakeupMeter, 1.0),
        Fault::Reading(Variable::MakeupTracer(0)) => {
            (Cause::Conductivity, relative(readings.tracers[0].makeup))
        }
        Fault::Reading(Variable::BasinTracer(0)) => {
            (Cause::Conductivity, relative(readings.tracers[0].basin))
        }
        Fault::Reading(Variable::MakeupTracer(n)) => {
            (Cause::Chloride, relative(readings.tracers[n].makeup))
        }
        Fault::Reading(Variable::BasinTracer(n)) => {
            (Cause::Chloride, relative(readings.tracers[n].basin))
        }
        Fault::Reading(_) => (Cause::Heat, 1.0),
    };
    Finding {
        cause,
        size: candidate.size * unit,
        uncertainty: candidate.uncertainty * unit,
        explains: candidate.explains,
        since,
    }
}

/// The one in the middle by its threshold.
fn median(detections: impl Iterator<Item = Detection>) -> Option<Detection> {
    let mut sorted: Vec<Detection> = detections.collect();
    sorted.sort_by(|a, b| a.decision_threshold.total_cmp(&b.decision_threshold));
    (!sorted.is_empty()).then(|| sorted[sorted.len() / 2])
}
