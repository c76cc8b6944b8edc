//! A log's own quiet days, those outside of every finding: what their makeup was of the expected one, and at which
//! cycles. Constant errors of meters, nameplate and method drop out against them.

use super::{CheckSheet, CheckedPeriod, Finding};
use crate::statistics::{median, spread};

/// Quiet periods that a log needs before it is held against them.
const LEAST: usize = 14;
/// Cycles that differ by less than this part are the same: what controllers hold them within (common practice).
const SAME_CYCLES: f64 = 0.05;

/// What the quiet days show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnDays {
    /// How many there are.
    pub periods: usize,
    /// Their makeup over the expected one, its median.
    pub part: f64,
    /// Standard deviation of that from day to day (1.4826 times the median distance).
    pub spread: f64,
}

impl CheckSheet {
    /// Periods outside of every finding.
    fn quiet(&self) -> impl Iterator<Item = &CheckedPeriod> {
        let is_in = |period: &CheckedPeriod, finding: &Finding| {
            finding.since.is_none_or(|since| since <= period.start)
                && finding.until.is_none_or(|until| period.start < until)
        };
        self.periods
            .iter()
            .filter(move |period| !self.findings.iter().any(|finding| is_in(period, finding)))
    }

    /// What the quiet days show; `None` where they are few.
    pub fn own_days(&self) -> Option<OwnDays> {
        let ratio = |period: &CheckedPeriod| period.readings.makeup.value / period.expected.value;
        let ratios: Vec<f64> = self.quiet().map(ratio).filter(|ratio| ratio.is_finite()).collect();
        (ratios.len() >= LEAST).then_some(())?;
        let (part, spread) = (median(ratios.iter().copied())?, spread(&ratios)?);
        Some(OwnDays { periods: ratios.len(), part, spread })
    }

    /// How much more makeup a loss has drawn, m3/day, at the most the loss itself; `None` where the basin is not read
    /// or too few quiet days tell at which cycles it was held.
    ///
    /// The makeup is E c / (c - 1) of the evaporation E at the cycles c, whatever leaves as liquid: water that is lost
    /// draws more makeup only as far as the cycles fall. While they hold, the bleed falls by as much.
    pub fn more_makeup(&self, finding: &Finding, loss: f64) -> Option<f64> {
        let since = finding.since.filter(|_| self.meters.basin)?;
        let lasts = |period: &&CheckedPeriod| {
            since <= period.start && finding.until.is_none_or(|until| period.start < until)
        };
        let during = || self.periods.iter().filter(lasts);
        let quiet: Vec<f64> = self.quiet().map(|period| period.cycles).collect();
        (quiet.len() >= LEAST).then_some(())?;
        let before = median(quiet.into_iter())?;
        let now = median(during().map(|period| period.cycles))?;
        let makeup = median(during().map(|period| period.readings.makeup.value))?;
        let is_held = now > (1.0 - SAME_CYCLES) * before;
        if is_held && self.meters.is_held {
            return Some(0.0);
        }
        let more = makeup * (1.0 - (now - 1.0) / now * before / (before - 1.0));
        more.is_finite().then(|| more.clamp(0.0, loss.abs()))
    }
}
