//! What tells losses apart that look alike in the balances: one that stops with the fans is drift, one
//! that goes on without load is a leak, one that follows the level is an overflow.

use super::quantities::Pool;
use super::{CheckedPeriod, pool};
use crate::check::reconcile::{Fault, Reading, ReconcileError, explain_change, reconcile};

/// Fans that run less than this part of a period stand; those that run more than that run.
const STANDS: f64 = 0.1;
const RUNS: f64 = 0.5;
/// A level that moves less than this does not move, m.
const LEVEL_MOVES: f64 = 0.02;
/// Periods of either kind that it takes.
const LEAST: usize = 3;
/// Two groups differ, or agree, by so many standard uncertainties: 1 % and 5 % of a normal
/// distribution.
const DIFFERS: f64 = 2.576;
const AGREES: f64 = 1.96;

/// Something that may stop a loss.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Circumstance {
    /// The fans stand.
    FansStand,
    /// Water comes back as warm as it went.
    LoadIsOff,
    /// The basin stands in the lower half of the levels that it had.
    LevelIsLow,
}

/// What a circumstance does to a loss.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effect {
    /// The loss is gone.
    Stops,
    /// It is smaller, but there.
    Shrinks,
    /// It goes on as it was.
    None,
    /// These data cannot say.
    Unknown,
}

/// A loss with and without a circumstance, m3/d.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pattern {
    /// Which.
    pub circumstance: Circumstance,
    /// Periods with it.
    pub periods_with: usize,
    /// Periods without it.
    pub periods_without: usize,
    /// Loss with it.
    pub loss_with: Reading,
    /// Loss without it.
    pub loss_without: Reading,
    /// What the two say.
    pub effect: Effect,
}

/// What a period went through.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Circumstances {
    /// Part of the time that the fans ran.
    pub fans_ran: Option<f64>,
    /// Whether the water had a range.
    pub has_load: Option<bool>,
    /// Mean level, m.
    pub level: Option<f64>,
}

/// The patterns of a loss; what was before it is known for one that began. None of periods alike whose
/// readings no balance comes near.
pub(super) fn patterns(periods: &[CheckedPeriod], before: Option<&Pool>) -> Vec<Pattern> {
    let mut found = Vec::new();
    for circumstance in [Circumstance::FansStand, Circumstance::LoadIsOff, Circumstance::LevelIsLow]
    {
        let middle = middle_level(periods);
        let holds = |period: &CheckedPeriod| holds(circumstance, period.circumstances, middle);
        let with = Group::of(periods, |period| holds(period) == Some(true));
        let without = Group::of(periods, |period| holds(period) == Some(false));
        if let (Some(with), Some(without)) = (with, without) {
            found.extend(pattern(circumstance, &with, &without, before).ok());
        }
    }
    found
}

fn holds(circumstance: Circumstance, of: Circumstances, middle: Option<f64>) -> Option<bool> {
    match circumstance {
        Circumstance::FansStand => {
            let ran = of.fans_ran?;
            (!(STANDS..=RUNS).contains(&ran)).then_some(ran < STANDS)
        }
        Circumstance::LoadIsOff => of.has_load.map(|has_load| !has_load),
        Circumstance::LevelIsLow => Some(of.level? < middle?),
    }
}

/// Half-way between the lowest and the highest level, where it moved.
fn middle_level(periods: &[CheckedPeriod]) -> Option<f64> {
    let levels = || periods.iter().filter_map(|period| period.circumstances.level);
    let low = levels().min_by(f64::total_cmp)?;
    let high = levels().max_by(f64::total_cmp)?;
    (high - low > LEVEL_MOVES).then_some(0.5 * (low + high))
}

/// Periods of one kind.
struct Group {
    pool: Pool,
    periods: usize,
}

impl Group {
    fn of(periods: &[CheckedPeriod], is_of: impl Fn(&CheckedPeriod) -> bool) -> Option<Self> {
        let members: Vec<bool> = periods.iter().map(is_of).collect();
        let runs = members
            .iter()
            .enumerate()
            .filter(|(index, is)| **is && (*index == 0 || !members[index - 1]))
            .count();
        let chosen: Vec<CheckedPeriod> = periods
            .iter()
            .zip(&members)
            .filter(|(_, is)| **is)
            .map(|(period, _)| period.clone())
            .collect();
        if chosen.len() < LEAST {
            return None;
        }
        Some(Self { pool: pool(&chosen)?.in_runs(runs), periods: chosen.len() })
    }

    fn loss(&self, before: Option<&Pool>) -> Result<Option<Reading>, ReconcileError> {
        let candidates = match before {
            Some(before) => {
                let (then, now) = self.pool.change_from(before);
                explain_change(&then, &now)?.1
            }
            None => reconcile(&self.pool.readings())?.candidates,
        };
        let loss = candidates.iter().find(|c| c.fault == Fault::LossOrBlowdownMeter);
        Ok(loss.map(|loss| Reading { value: loss.size, uncertainty: loss.uncertainty }))
    }
}

fn pattern(
    circumstance: Circumstance,
    with: &Group,
    without: &Group,
    before: Option<&Pool>,
) -> Result<Pattern, ReconcileError> {
    let nothing = Reading { value: 0.0, uncertainty: f64::INFINITY };
    let loss_with = with.loss(before)?.unwrap_or(nothing);
    let loss_without = without.loss(before)?.unwrap_or(nothing);
    // What the two have in common would drop out: counted twice, it errs on the safe side.
    let difference = Reading {
        value: loss_with.value - loss_without.value,
        uncertainty: loss_with.uncertainty.hypot(loss_without.uncertainty),
    };
    let effect = effect(loss_with, loss_without, difference);
    Ok(Pattern {
        circumstance,
        periods_with: with.periods,
        periods_without: without.periods,
        loss_with,
        loss_without,
        effect,
    })
}

/// `difference` is the loss with the circumstance less that without it.
fn effect(with: Reading, without: Reading, difference: Reading) -> Effect {
    let is = |value: f64, reading: Reading| value.abs() <= AGREES * reading.uncertainty;
    let is_not = |value: f64, reading: Reading| value.abs() > DIFFERS * reading.uncertainty;
    if difference.value < 0.0 && is_not(difference.value, difference) {
        if is(with.value, with) { Effect::Stops } else { Effect::Shrinks }
    } else if is(difference.value, difference)
        && is_not(without.value + difference.value, difference)
        && is_not(with.value, with)
    {
        Effect::None
    } else {
        Effect::Unknown
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_effect_is_told_only_where_the_numbers_carry_it() {
        let reading = |value, uncertainty| Reading { value, uncertainty };
        let of = |with, without, difference| {
            effect(reading(with, 1.0), reading(without, 1.0), reading(difference, 1.2))
        };
        assert_eq!(of(0.5, 9.0, -8.5), Effect::Stops);
        assert_eq!(of(4.0, 9.0, -5.0), Effect::Shrinks);
        assert_eq!(of(9.3, 9.0, 0.3), Effect::None);
        assert_eq!(of(1.5, 2.0, -0.5), Effect::Unknown);
    }
}
