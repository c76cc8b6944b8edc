//! The bleed against what the tower's own habit asks of it: a valve that sticks takes far more, or far
//! less, and the basin follows. Cycles by themselves say nothing: they follow the makeup's quality.

use super::findings::{Cause, Finding, Suspect};
use super::{CheckedPeriod, days};
use crate::site::description::Control;
use crate::statistics::{median, spread};

/// Readings that make the level, and the least that will do.
const LEVEL: usize = 30;
const LEAST_LEVEL: usize = 10;
/// The basin has left its level by the largest of: the dead band, so many standard deviations of the
/// readings, and this part of the level.
const DEVIATIONS: f64 = 4.0;
const LEAST_GAP: f64 = 0.05;
/// A bleed of less than this part of what is needed is shut.
const SHUT: f64 = 0.45;
/// So little of it, and so many gaps off, is shut at the first reading.
const ALL_BUT_SHUT: f64 = 0.15;
const FAR_GAPS: f64 = 1.6;

/// How a bleed is judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Habit {
    /// Whether a controller holds the basin's conductivity; else the bleed is a part of the makeup and
    /// its level that of cycles.
    is_held: bool,
    /// As a part of the level.
    dead_band: f64,
    /// A bleed of more than this many times what is needed stands open.
    open: f64,
    /// Periods that must agree.
    agree: usize,
    /// Whether [`ALL_BUT_SHUT`] needs no second reading.
    is_quick: bool,
}

impl Habit {
    /// Of a control; a bleed that somebody opens, or that nobody describes, changes more by itself than
    /// that of an instrument. The dead band is the controller's, as a part of its set point.
    pub fn of(control: Option<Control>, dead_band: f64) -> Self {
        let by_own_median =
            Self { is_held: false, dead_band: 0.0, open: 1.5, agree: 2, is_quick: true };
        match control {
            Some(Control::Conductivity) => {
                Self { is_held: true, dead_band, open: 1.35, ..by_own_median }
            }
            Some(Control::Timer | Control::MakeupPaced) => by_own_median,
            Some(Control::Continuous | Control::Manual) | None => {
                Self { agree: 4, is_quick: false, ..by_own_median }
            }
        }
    }
}

/// What the basin shows: the conductivity at a period's end where a controller holds it, else the
/// cycles.
fn shown(period: &CheckedPeriod, habit: &Habit) -> Option<f64> {
    if habit.is_held { period.basin_conductivity } else { Some(period.cycles) }
}

/// The bleed that a level needs, but for a constant: liquid leaving at its cycles for what evaporates;
/// without a controller, the makeup.
fn needed(
    period: &CheckedPeriod,
    habit: &Habit,
    level: f64,
    cycles_at: &dyn Fn(&CheckedPeriod, f64) -> Option<f64>,
) -> Option<f64> {
    let makeup = period.readings.makeup.value;
    let needed = if habit.is_held {
        (makeup - period.readings.blowdown.value) / (cycles_at(period, level)? - 1.0)
    } else {
        makeup
    };
    (needed > 0.0 && needed.is_finite()).then_some(needed)
}

/// A period's bleed over what is needed, with that; `None` where the level is not known.
#[derive(Clone, Copy)]
struct Judged {
    kind: Option<Cause>,
    is_far: bool,
    needed: f64,
    /// Standard deviation of a period's own part.
    spread: f64,
}

/// The times at which the bleed stood open or shut, in order; those that have ended have their end.
/// `cycles_at` is the cycles of a conductivity of the basin with a period's own makeup.
pub(super) fn stuck(
    periods: &[CheckedPeriod],
    habit: &Habit,
    cycles_at: &dyn Fn(&CheckedPeriod, f64) -> Option<f64>,
) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut kept: Vec<&CheckedPeriod> = Vec::new();
    let mut run: Vec<(usize, Judged)> = Vec::new();
    let mut found: Option<usize> = None;
    let mut back = 0;
    for (index, period) in periods.iter().enumerate() {
        let judged = judge(period, &kept, habit, cycles_at);
        let kind = judged.and_then(|judged| judged.kind);
        let of_run = run.first().and_then(|(_, judged)| judged.kind);
        if let (Some(judged), true) = (judged, kind.is_some()) {
            if kind != of_run && found.is_none() {
                run.clear();
            }
            if kind == of_run || run.is_empty() {
                run.push((index, judged));
                back = 0;
                let is_enough = run.len() >= habit.agree || judged.is_far;
                found = found.or(is_enough.then_some(index));
                continue;
            }
        }
        if let Some(at) = found {
            back += 1;
            if back >= habit.agree {
                findings.extend(finding(periods, &run, at, Some(index + 1 - back)));
                (found, back) = (None, 0);
                run.clear();
            }
        } else {
            run.clear();
            kept.push(period);
        }
    }
    if let Some(at) = found {
        findings.extend(finding(periods, &run, at, None));
    }
    findings
}

fn judge(
    period: &CheckedPeriod,
    kept: &[&CheckedPeriod],
    habit: &Habit,
    cycles_at: &dyn Fn(&CheckedPeriod, f64) -> Option<f64>,
) -> Option<Judged> {
    let last = &kept[kept.len().saturating_sub(LEVEL)..];
    let readings: Vec<f64> = last.iter().filter_map(|period| shown(period, habit)).collect();
    if readings.len() < LEAST_LEVEL {
        return None;
    }
    let (level, scatter) = (median(readings.iter().copied())?, spread(&readings)?);
    let part = |period: &CheckedPeriod| {
        Some(period.readings.blowdown.value / needed(period, habit, level, cycles_at)?)
    };
    let parts: Vec<f64> = last.iter().filter_map(|period| part(period)).collect();
    let (usual, spread) = (median(parts.iter().copied())?, spread(&parts)?);
    if !(usual > 0.0) {
        return None;
    }
    let gap = (habit.dead_band * level).max(DEVIATIONS * scatter).max(LEAST_GAP * level);
    let off = (shown(period, habit)? - level) / gap;
    let times = part(period)? / usual;
    // A timer bleeds as much on a day of little makeup, which is then a large part of it: what sticks is off
    // by itself as well.
    let by_itself = match habit.is_held {
        true => times,
        false => {
            let bleeds = last.iter().map(|period| period.readings.blowdown.value);
            period.readings.blowdown.value / median(bleeds)?
        }
    };
    let kind = if times.min(by_itself) > habit.open && off < -1.0 {
        Some(Cause::BlowdownHigh)
    } else if times.max(by_itself) < SHUT && off > 1.0 {
        Some(Cause::BlowdownLow)
    } else {
        None
    };
    Some(Judged {
        kind,
        is_far: habit.is_quick
            && kind == Some(Cause::BlowdownLow)
            && times < ALL_BUT_SHUT
            && off > FAR_GAPS,
        needed: usual * needed(period, habit, level, cycles_at)?,
        spread: spread * needed(period, habit, level, cycles_at)?,
    })
}

fn finding(
    periods: &[CheckedPeriod],
    run: &[(usize, Judged)],
    found: usize,
    end: Option<usize>,
) -> Option<Finding> {
    let (began, Judged { kind, .. }) = *run.first()?;
    let mean =
        |of: &dyn Fn(&(usize, Judged)) -> f64| run.iter().map(of).sum::<f64>() / run.len() as f64;
    let took = mean(&|(index, _)| periods[*index].readings.blowdown.value);
    let suspect = Suspect {
        cause: kind?,
        size: (took - mean(&|(_, judged)| judged.needed)).abs(),
        // What one period scatters by: the level may be off by as much all the time.
        uncertainty: mean(&|(_, judged)| judged.spread),
        explains: f64::NAN,
        likelihood: 1.0,
        is_tied: true,
    };
    Some(Finding {
        since: Some(periods[began].start),
        found: Some(periods[found].start),
        until: end.map(|end| periods[end].start),
        days: days(&periods[began..end.unwrap_or(periods.len())]),
        is_growing: false,
        suspects: vec![suspect],
        misfit: f64::NAN,
        degrees_of_freedom: 1,
        is_explained: true,
        remark: None,
        patterns: Vec::new(),
    })
}
