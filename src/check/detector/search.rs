//! From two series to faults: the odds of every morning, what is certain, which cause, how large, and
//! whether it is over.

use super::cause::{Cause, Course, Form, RAMP_DAYS, Sizes};
use super::gaussian::{Change, Rows, log_sum};
use super::healthy::{self, Series, Spike, add_constant};
use super::{Observed, Plant};
use crate::statistics::median;
use std::cell::Cell;

/// Odds of some fault against none that are certain. The rates come to some 1.2 faults a year: in 30
/// days of a healthy log the chance of ever crossing is at most 0.10 / 30, 1 % in 90 days.
pub const CERTAIN: f64 = 30.0;
/// So many mornings in a row, so that no single reading makes a finding.
const MORNINGS: usize = 3;
/// Undisturbed periods before a change.
pub const LEAST_BEFORE: usize = 10;
/// The same where readings are rare, over [`LEAST_DAYS_BEFORE`].
pub const LEAST_BEFORE_RARE: usize = 5;
/// Days that rare readings must span before a change.
pub const LEAST_DAYS_BEFORE: f64 = 14.0;
/// Periods that a change must have lasted.
pub const LEAST_AFTER: usize = 3;
/// Days that it must have lasted.
const LEAST_DAYS_AFTER: f64 = 2.5;
/// A cause is judged on the days up to so long after it was found: later events spoil it.
const JUDGED_DAYS: f64 = 14.0;
/// The model is not the plant: probabilities are those of a power of the likelihood (Gruenwald 2012;
/// Holmes and Walker 2017, Biometrika 104, 497; from memory). What is left over by days that follow upon
/// each other is akin, so that it says about half as much as if it were not. In simulated logs of seeds
/// that had no part in it, 101 of 106 stated as 0.90 to 0.99 were right with a half, 53 of 64 with 0.8.
const POWER: f64 = 0.5;
/// Chance that the heat side changes by itself in the month around a fault: that is 1.5 times a year.
const HEAT_TOO: f64 = 1.5 * 30.0 / 365.0;
/// Faults that end, a year, while one stands.
const ENDS_A_YEAR: f64 = 12.0;
/// More changes than this in one log are not sought.
const MOST_CHANGES: usize = 40;
/// A period is wild where that is so much likelier than anything else, and so many periods came after it.
const WILD: f64 = 10.0;
const AFTER_WILD: usize = 2;

/// A fault that was certain some morning.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// The period with which it begins.
    pub begins: usize,
    /// The period after which it was certain.
    pub found: usize,
    /// At once or slowly.
    pub course: Course,
    /// Single causes, the likeliest first.
    pub causes: Vec<Explains>,
    /// The period with which it was over, and the one after which that was certain.
    pub over: Option<(usize, usize)>,
}

/// A single cause of a fault.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Explains {
    /// Which.
    pub cause: Cause,
    /// How likely it is among the single causes, and that none of them alone explains it.
    pub probability: f64,
    /// Parts of the typical makeup, or of the meter's reading; of a slow one that after [`RAMP_DAYS`].
    pub size: f64,
    /// Standard deviation of the size.
    pub deviation: f64,
}

/// A change that is no fault.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Changed {
    /// [`Cause::HeatSide`] or [`Cause::MakeupNotRead`].
    pub cause: Cause,
    /// The period with which it begins.
    pub begins: usize,
    /// The period after which it was certain.
    pub found: usize,
    /// In parts of evaporation, or of the makeup's solids.
    pub size: f64,
    /// Standard deviation of the size.
    pub deviation: f64,
}

/// What a log shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Found {
    /// Median makeup, m3/d: sizes are parts of it.
    pub typical_makeup: f64,
    /// The earliest first.
    pub faults: Vec<Fault>,
    /// The earliest first.
    pub changes: Vec<Changed>,
    /// Odds of a fault that is not listed, period by period; 0 where they were not reckoned.
    pub odds: Vec<f64>,
    /// What the solids leave over: period and part of the typical makeup.
    pub solids: Vec<(usize, f64)>,
    /// What water and heat leave over.
    pub heat: Vec<(usize, f64)>,
    /// Days that a sudden loss lasts, and the least that is then found, as a part of the typical makeup.
    pub least_loss: Vec<(f64, f64)>,
}

/// A hypothesis: a cause with its course that begins with a period.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Begin {
    cause: Cause,
    course: Course,
    period: usize,
}

/// What a hypothesis does to both series, for a unit size.
struct Effect {
    begin: Begin,
    /// Logarithm of the chance that it begins there.
    prior: f64,
    solids: Option<Change>,
    heat: Option<Change>,
    /// A value that counts for nothing by itself, and what the hypothesis adds to it.
    spike: Option<(Spike, f64)>,
}

/// A constant of a pass: a change that is known, free in its size.
#[derive(Debug, Clone)]
struct Known {
    solids: Vec<f64>,
    heat: Vec<f64>,
    deviation: f64,
}

/// A fault that stands, as a pass tests its end.
#[derive(Debug, Clone)]
struct Standing {
    fault: usize,
    solids: Vec<f64>,
    heat: Vec<f64>,
}

/// What the solids leave over, in parts of the typical makeup, with the place of each period that counts.
pub fn solids_left(observed: &[Observed], plant: &Plant) -> Vec<(usize, f64)> {
    typical_makeup(observed)
        .map_or_else(Vec::new, |typical| healthy::solids_left(observed, plant, typical))
}

/// Median makeup of the periods that count, m3/d; none where none of them has any.
fn typical_makeup(observed: &[Observed]) -> Option<f64> {
    let counted = observed.iter().filter(|period| period.counts_in_solids);
    median(counted.map(|period| period.makeup)).filter(|makeup| *makeup > 0.0)
}

/// What a change adds to the values of a series from a period on.
fn from_period(x: &[f64], series: &Series, period: usize) -> Vec<f64> {
    let zip = x.iter().zip(&series.periods);
    zip.map(|(x, place)| if *place >= period { *x } else { 0.0 }).collect()
}

/// Finds what changed, each change in the light of those before.
pub fn detect(observed: &[Observed], plant: &Plant) -> Found {
    let Some(typical) = typical_makeup(observed) else { return Found::default() };
    let solids = match plant.solids_are_read {
        true => healthy::solids(observed, plant, typical),
        false => Series::default(),
    };
    let heat = healthy::heat(observed, typical);
    let listed =
        |series: &Series| series.periods.iter().copied().zip(series.left.iter().copied()).collect();
    let mut found = Found {
        typical_makeup: typical,
        odds: vec![0.0; observed.len()],
        solids: listed(&solids),
        heat: listed(&heat),
        ..Found::default()
    };
    let mut search =
        Search { observed, plant, typical, solids, heat, known: vec![], standing: vec![] };
    let mut from = 0;
    for _ in 0..MOST_CHANGES {
        match search.next(from, &mut found) {
            Some(next) => from = next,
            None => break,
        }
    }
    found.least_loss = DAYS_OF_A_LOSS.iter().filter_map(|days| search.least_loss(*days)).collect();
    found
}

/// Days after which the least loss that is found is told.
const DAYS_OF_A_LOSS: [f64; 4] = [3.0, 7.0, 14.0, 30.0];

struct Search<'a> {
    observed: &'a [Observed],
    plant: &'a Plant,
    typical: f64,
    solids: Series,
    heat: Series,
    known: Vec<Known>,
    standing: Vec<Standing>,
}

/// Both series with all that is known of them, and every change that may have begun.
struct Pass {
    solids: Rows,
    heat: Rows,
    effects: Vec<Effect>,
    wild: Vec<Effect>,
    /// Of each standing fault.
    ends: Vec<Vec<Effect>>,
    /// Of each period, the place of the effect of the heat side alone.
    heat_sides: Vec<Option<usize>>,
    heat_sizes: Sizes,
    /// Its evidence, with the rows that it was reckoned for.
    heat_evidence: Vec<Cell<Option<(usize, f64)>>>,
}

/// Logarithms of weights on one morning.
struct Weights {
    fault: f64,
    heat: f64,
    unread: f64,
    wild: f64,
    /// A period that is wild beyond doubt.
    wild_period: Option<usize>,
    ends: Vec<f64>,
}

impl Search<'_> {
    /// The next change after a morning: it is noted, and the morning from which the search goes on.
    fn next(&mut self, from: usize, found: &mut Found) -> Option<usize> {
        let pass = self.pass();
        let sizes = SizesOf::new();
        let mut rows = [0usize; 3];
        let mut ends_rows = vec![0usize; self.standing.len()];
        for morning in 0..self.observed.len() {
            let period = &self.observed[morning];
            if morning < from || !(period.counts_in_solids || period.counts_in_heat) {
                continue;
            }
            let weights = self.weights(&pass, &sizes, morning);
            let odds = weights.odds();
            found.odds[morning] = odds.fault;
            let in_a_row = |row: &mut usize, odds: f64| {
                *row = if odds > CERTAIN { *row + 1 } else { 0 };
                *row >= MORNINGS
            };
            let fault = in_a_row(&mut rows[0], odds.fault);
            let heat = in_a_row(&mut rows[1], odds.heat);
            let unread = in_a_row(&mut rows[2], odds.unread);
            let mut ended = None;
            for (place, row) in ends_rows.iter_mut().enumerate() {
                if in_a_row(row, odds.ends[place]) {
                    ended = Some(place);
                }
            }
            if let Some(place) = ended {
                self.note_end(&pass, place, morning, found);
            } else if fault {
                self.note_fault(&pass, &sizes, morning, found);
            } else if heat {
                self.note_change(&pass, &sizes, Cause::HeatSide, morning, found);
            } else if unread {
                self.note_change(&pass, &sizes, Cause::MakeupNotRead, morning, found);
            } else if let Some(period) = weights.wild_period {
                // The morning is judged anew without it.
                self.note_wild(period);
                return Some(morning);
            } else {
                continue;
            }
            return Some(morning + 1);
        }
        None
    }

    /// A series with all that is known of it.
    fn rows_of(&self, series: &Series, of: &dyn Fn(&Known) -> &Vec<f64>) -> Rows {
        let mut covariance = series.covariance.clone();
        for known in &self.known {
            add_constant(&mut covariance, of(known), known.deviation);
        }
        Rows::new(covariance, &series.left)
    }

    fn pass(&self) -> Pass {
        let solids = self.rows_of(&self.solids, &|known| &known.solids);
        let heat = self.rows_of(&self.heat, &|known| &known.heat);
        let mut effects = Vec::new();
        for period in self.first_begin()..self.observed.len() {
            for cause in Cause::BEGINNING {
                if cause == Cause::MakeupNotRead && !self.plant.makeup_rarely_read {
                    continue;
                }
                for course in Course::ALL {
                    if cause.rate_a_year(course) > 0.0 {
                        let begin = Begin { cause, course, period };
                        effects.push(self.effect(begin, &solids, &heat));
                    }
                }
            }
        }
        let wild = (0..self.observed.len())
            .filter(|period| self.plant.solids_are_read && self.observed[*period].counts_in_solids)
            .map(|period| {
                let begin = Begin { cause: Cause::WildPeriod, course: Course::Step, period };
                self.effect(begin, &solids, &heat)
            })
            .collect();
        let ends = self.standing.iter().map(|one| self.ends(one, &solids, &heat)).collect();
        let mut heat_sides = vec![None; self.observed.len()];
        for (place, effect) in effects.iter().enumerate() {
            if effect.begin.cause == Cause::HeatSide && effect.begin.course == Course::Step {
                heat_sides[effect.begin.period] = Some(place);
            }
        }
        let heat_evidence = vec![Cell::new(None); effects.len()];
        let heat_sizes = Cause::HeatSide.sizes();
        Pass { solids, heat, effects, wild, ends, heat_sides, heat_sizes, heat_evidence }
    }

    /// The first period with which a change may begin.
    fn first_begin(&self) -> usize {
        let mut rows = 0;
        let first = self.observed.first().map_or(0.0, |period| period.begin);
        for (place, period) in self.observed.iter().enumerate() {
            let is_long = period.begin - first >= LEAST_DAYS_BEFORE;
            if rows >= LEAST_BEFORE || (is_long && rows >= LEAST_BEFORE_RARE) {
                return place;
            }
            rows += usize::from(period.counts_in_solids);
        }
        self.observed.len()
    }

    fn effect(&self, begin: Begin, solids: &Rows, heat: &Rows) -> Effect {
        let (of_solids, of_heat) = begin.cause.forms();
        let days = match begin.cause {
            Cause::WildPeriod => self.observed[begin.period].days(),
            _ => self.observed[begin.period].begin - self.observed[begin.period - 1].begin,
        };
        let change = |form: Option<Form>, series: &Series, rows: &Rows| {
            form.map(|form| rows.change(&self.row(begin, form, series)))
        };
        Effect {
            begin,
            prior: (begin.cause.rate_a_year(begin.course) / 365.0 * days).ln(),
            spike: self.spike(begin),
            solids: change(of_solids, &self.solids, solids),
            heat: change(of_heat, &self.heat, heat),
        }
    }

    /// What a change of unit size adds to each value of a series.
    fn row(&self, begin: Begin, form: Form, series: &Series) -> Vec<f64> {
        let since = self.observed[begin.period].begin;
        let jumps = self.jumps(begin);
        let reading = self.observed[begin.period].makeup_reading;
        let one = |(row, place): (usize, &usize)| {
            let period = &self.observed[*place];
            let lasts = match begin.cause {
                Cause::WildPeriod => *place == begin.period,
                Cause::MakeupNotRead => *place >= begin.period && period.makeup_reading == reading,
                _ => *place >= begin.period,
            };
            if let Some(jump) = jumps.filter(|_| *place + 1 == begin.period) {
                return 0.5 * series.by[row] + jump;
            }
            if !lasts {
                return 0.0;
            }
            let by = match form {
                Form::One if begin.course == Course::WithLoad => period.makeup / self.typical,
                Form::One => 1.0,
                Form::Factor => series.by[row],
                Form::Makeup => period.makeup / self.typical,
            };
            match begin.course {
                Course::Step | Course::WithLoad => by,
                Course::Ramp => by * (period.middle() - since) / RAMP_DAYS,
            }
        };
        series.periods.iter().enumerate().map(one).collect()
    }

    /// What a probe that steps by a unit makes of the period in which it does: the basin seems to lose
    /// the solids of its whole volume, and no water was metered that would do it. The period is the one
    /// before the first that has the new reading at both ends.
    fn jumps(&self, begin: Begin) -> Option<f64> {
        if begin.cause != Cause::BasinProbe || begin.course != Course::Step {
            return None;
        }
        let [before, period] =
            [&self.observed[begin.period.checked_sub(1)?], &self.observed[begin.period]];
        (before.basin_reading[1] == period.basin_reading[0])
            .then(|| self.plant.volume / self.typical / before.days())
    }

    /// The jump of a probe's step where it stands in a value that counts for nothing by itself.
    fn spike(&self, begin: Begin) -> Option<(Spike, f64)> {
        let jump = self.jumps(begin)?;
        let row = self.solids.periods.iter().position(|place| *place + 1 == begin.period)?;
        Some((self.solids.spikes[row]?, jump + 0.5 * self.solids.by[row]))
    }

    /// What the end of a standing fault does, for each period with which it may end.
    fn ends(&self, standing: &Standing, solids: &Rows, heat: &Rows) -> Vec<Effect> {
        let found = standing.solids.iter().zip(&self.solids.periods);
        let first = found.filter(|(x, _)| **x != 0.0).map(|(_, place)| *place).min();
        let first = first.unwrap_or(0) + 1;
        // It takes away what the fault added.
        let off = |x: &[f64], series: &Series, period: usize| -> Vec<f64> {
            from_period(x, series, period).into_iter().map(|x| -x).collect()
        };
        (first..self.observed.len())
            .map(|period| {
                let days = self.observed[period].begin - self.observed[period - 1].begin;
                let begin = Begin { cause: Cause::Unclear, course: Course::Step, period };
                Effect {
                    begin,
                    prior: (ENDS_A_YEAR / 365.0 * days).ln(),
                    spike: None,
                    solids: Some(solids.change(&off(&standing.solids, &self.solids, period))),
                    heat: Some(heat.change(&off(&standing.heat, &self.heat, period))),
                }
            })
            .collect()
    }

    /// Rows of both series up to a morning.
    fn rows(&self, morning: usize) -> (usize, usize) {
        let up_to = |series: &Series| series.periods.partition_point(|place| *place <= morning);
        (up_to(&self.solids), up_to(&self.heat))
    }

    /// Whether a change that begins with a period may be judged on a morning.
    fn is_judged(&self, period: usize, morning: usize) -> bool {
        morning + 1 >= period + LEAST_AFTER
            && self.observed[morning].end - self.observed[period].begin >= LEAST_DAYS_AFTER
    }

    fn weights(&self, pass: &Pass, sizes: &SizesOf, morning: usize) -> Weights {
        let rows = self.rows(morning);
        let judged = |effect: &&Effect| self.is_judged(effect.begin.period, morning);
        let bound: f64 =
            pass.effects.iter().filter(judged).map(|e| pass.bound(e, rows).exp()).sum();
        let is_quiet = bound < 1.0 && pass.ends.is_empty();
        if is_quiet {
            return Weights::none(pass.ends.len(), bound.ln());
        }
        let sum = |of: &dyn Fn(Cause) -> bool| {
            let of_these = pass.effects.iter().filter(judged).filter(|e| of(e.begin.cause));
            let weights: Vec<f64> = of_these.map(|e| pass.weight(e, sizes, rows)).collect();
            log_sum(weights.into_iter())
        };
        let wild: Vec<(usize, f64)> = pass
            .wild
            .iter()
            .filter(|effect| effect.begin.period <= morning)
            .map(|effect| (effect.begin.period, pass.weight(effect, sizes, rows)))
            .collect();
        let wildest = wild
            .iter()
            .filter(|(period, _)| period + AFTER_WILD <= morning)
            .copied()
            .max_by(|a, b| a.1.total_cmp(&b.1));
        let end = |effects: &Vec<Effect>| {
            let weights: Vec<f64> = effects
                .iter()
                .filter(judged)
                .map(|effect| pass.weight_of(effect, &[(1.0, 0.0)], rows))
                .collect();
            log_sum(weights.into_iter())
        };
        let fault = sum(&Cause::is_fault);
        let unread = sum(&|cause| cause == Cause::MakeupNotRead);
        let ends: Vec<f64> = pass.ends.iter().map(end).collect();
        let others = log_sum([0.0, fault, unread].into_iter().chain(ends.iter().copied()));
        let is_wild = |weight: f64| weight - others > WILD.ln();
        Weights {
            fault,
            heat: sum(&|cause| cause == Cause::HeatSide),
            unread,
            wild: log_sum(wild.iter().map(|(_, weight)| *weight)),
            wild_period: wildest.filter(|(_, weight)| is_wild(*weight)).map(|(period, _)| period),
            ends,
        }
    }

    /// The last morning on which the cause of a finding is judged.
    fn judged_on(&self, morning: usize) -> usize {
        let until = self.observed[morning].end + JUDGED_DAYS;
        let later = self.observed[morning..].iter().take_while(|period| period.end <= until);
        morning + later.count().max(1) - 1
    }

    fn note_fault(&mut self, pass: &Pass, sizes: &SizesOf, morning: usize, found: &mut Found) {
        let on = self.judged_on(morning);
        let rows = self.rows(on);
        let judged = pass.effects.iter().filter(|effect| {
            effect.begin.cause.is_fault() && self.is_judged(effect.begin.period, morning)
        });
        let weighed: Vec<(&Effect, f64)> =
            judged.map(|effect| (effect, pass.weight(effect, sizes, rows))).collect();
        let likeliest = |cause: Cause| {
            let of_cause = weighed.iter().filter(|(effect, _)| effect.begin.cause == cause);
            of_cause.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(effect, _)| *effect)
        };
        let explains = |(cause, probability): (Cause, f64)| {
            let (size, deviation) = pass.size(likeliest(cause)?, sizes.of(cause), rows);
            Some(Explains { cause, probability, size, deviation })
        };
        let weights = self.weights(pass, sizes, on);
        let harmless = log_sum([0.0, weights.heat, weights.unread, weights.wild].into_iter());
        let causes: Vec<Explains> =
            ranked(&weighed, harmless).into_iter().filter_map(explains).collect();
        let Some(Explains { cause, size, deviation, .. }) = causes.first().copied() else { return };
        let Some(effect) = likeliest(cause) else { return };
        let known = self.known(effect.begin, size.abs().max(2.0 * deviation));
        // What began before a standing fault of the same cause was found is that fault: it is told once.
        let is_told = self.standing.iter().any(|standing| {
            let told = &found.faults[standing.fault];
            told.causes[0].cause == cause && effect.begin.period <= told.found
        });
        if is_told {
            self.known.push(known);
            return;
        }
        // What later days do not bear out was none: it stands no more from then on.
        let is_borne_out = on == morning || weights.fault > harmless;
        found.faults.push(Fault {
            begins: effect.begin.period,
            found: morning,
            course: effect.begin.course,
            causes,
            over: (!is_borne_out).then_some((on, on)),
        });
        if !is_borne_out {
            self.known.push(known);
            return;
        }
        let scaled = |x: &[f64]| x.iter().map(|x| x * size).collect();
        self.standing.push(Standing {
            fault: found.faults.len() - 1,
            solids: scaled(&known.solids),
            heat: scaled(&known.heat),
        });
        self.known.push(known);
    }

    fn note_change(
        &mut self,
        pass: &Pass,
        sizes: &SizesOf,
        cause: Cause,
        morning: usize,
        found: &mut Found,
    ) {
        let rows = self.rows(morning);
        let of_cause = pass.effects.iter().filter(|effect| {
            effect.begin.cause == cause && self.is_judged(effect.begin.period, morning)
        });
        let weighed = of_cause.map(|effect| (effect, pass.weight(effect, sizes, rows)));
        let Some((effect, _)) = weighed.max_by(|a, b| a.1.total_cmp(&b.1)) else { return };
        let (size, deviation) = pass.size(effect, sizes.of(cause), rows);
        found.changes.push(Changed {
            cause,
            begins: effect.begin.period,
            found: morning,
            size,
            deviation,
        });
        let known = self.known(effect.begin, size.abs().max(2.0 * deviation));
        self.known.push(known);
    }

    /// A wild period counts for nothing from now on.
    fn note_wild(&mut self, period: usize) {
        let one = |series: &Series| -> Vec<f64> {
            series.periods.iter().map(|place| if *place == period { 1.0 } else { 0.0 }).collect()
        };
        let known = Known {
            solids: one(&self.solids),
            heat: vec![0.0; self.heat.left.len()],
            deviation: 3.0,
        };
        if let Some(row) = self.solids.periods.iter().position(|place| *place == period) {
            let spike = healthy::around(&self.solids.left, row);
            self.solids.spikes[row] = self.solids.spikes[row].or(spike);
        }
        self.known.push(known);
    }

    fn note_end(&mut self, pass: &Pass, place: usize, morning: usize, found: &mut Found) {
        let rows = self.rows(morning);
        let judged = pass.ends[place]
            .iter()
            .filter(|effect| self.is_judged(effect.begin.period, morning))
            .map(|effect| (effect, pass.weight_of(effect, &[(1.0, 0.0)], rows)));
        let best = judged.max_by(|a, b| a.1.total_cmp(&b.1));
        let standing = self.standing.remove(place);
        let Some((effect, _)) = best else { return };
        let period = effect.begin.period;
        found.faults[standing.fault].over = Some((period, morning));
        self.known.push(Known {
            solids: from_period(&standing.solids, &self.solids, period),
            heat: from_period(&standing.heat, &self.heat, period),
            deviation: 1.0,
        });
    }

    /// The least sudden loss that is found when it has lasted so many days, by the scatter of the log up to
    /// its end: where the evidence comes to what makes it certain.
    fn least_loss(&self, days: f64) -> Option<(f64, f64)> {
        let last = self.observed.last()?.end;
        let period = self.observed.iter().position(|period| period.begin >= last - days - 0.5)?;
        if period < self.first_begin() || !self.is_judged(period, self.observed.len() - 1) {
            return None;
        }
        let solids = self.rows_of(&self.solids, &|known| &known.solids);
        let heat = self.rows_of(&self.heat, &|known| &known.heat);
        let begin = Begin { cause: Cause::Loss, course: Course::Step, period };
        let effect = self.effect(begin, &solids, &heat);
        let certain = CERTAIN.ln() - effect.prior;
        let evidence = |size: f64| {
            let of = |rows: &Rows, change: &Option<Change>| {
                change.as_ref().map_or(0.0, |change| rows.expected(change, size))
            };
            of(&solids, &effect.solids) + of(&heat, &effect.heat)
        };
        let mut size = 0.005;
        while evidence(size) < certain {
            size *= 1.05;
            if size > 1.0 {
                return None;
            }
        }
        Some((days, size))
    }

    fn known(&self, begin: Begin, deviation: f64) -> Known {
        let (solids, heat) = begin.cause.forms();
        let row = |form: Option<Form>, series: &Series| match form {
            Some(form) => self.row(begin, form, series),
            None => vec![0.0; series.left.len()],
        };
        Known { solids: row(solids, &self.solids), heat: row(heat, &self.heat), deviation }
    }
}

/// Probabilities of the causes, the likeliest first; what is left to one is that nothing is wrong.
fn ranked(weighed: &[(&Effect, f64)], harmless: f64) -> Vec<(Cause, f64)> {
    let faults = Cause::BEGINNING.into_iter().filter(|cause| cause.is_fault());
    let mut causes: Vec<(Cause, f64)> = faults
        .map(|cause| {
            let of_cause = weighed.iter().filter(|(effect, _)| effect.begin.cause == cause);
            (cause, POWER * log_sum(of_cause.map(|(_, weight)| *weight)))
        })
        .filter(|(_, weight)| weight.is_finite())
        .collect();
    let faults = causes.iter().map(|(_, weight)| *weight);
    let all = log_sum(faults.chain([POWER * harmless]));
    causes.iter_mut().for_each(|(_, weight)| *weight = (*weight - all).exp());
    causes.sort_by(|a, b| b.1.total_cmp(&a.1));
    causes
}

/// The sizes of each cause, made once.
struct SizesOf(Vec<(Cause, Sizes)>);

impl SizesOf {
    fn new() -> Self {
        let causes = Cause::BEGINNING.into_iter().chain([Cause::WildPeriod]);
        Self(causes.map(|cause| (cause, cause.sizes())).collect())
    }

    fn of(&self, cause: Cause) -> &[(f64, f64)] {
        self.0.iter().find(|(of, _)| *of == cause).map_or(&[], |(_, sizes)| sizes)
    }
}

impl Pass {
    /// Logarithm of a bound on the weight of a change.
    fn bound(&self, effect: &Effect, (solids, heat): (usize, usize)) -> f64 {
        let best = |rows: &Rows, change: &Option<Change>, count| {
            change.as_ref().map_or(0.0, |change| rows.best(change, count).1)
        };
        effect.prior
            + if effect.spike.is_some() { MOST_OF_A_SPIKE } else { 0.0 }
            + best(&self.solids, &effect.solids, solids)
            + best(&self.heat, &effect.heat, heat)
    }

    fn weight(&self, effect: &Effect, sizes: &SizesOf, rows: (usize, usize)) -> f64 {
        /// Changes whose bound is below this count for nothing.
        const NOTHING: f64 = -12.0;
        if self.bound(effect, rows) < NOTHING {
            return f64::NEG_INFINITY;
        }
        let of_cause = sizes.of(effect.begin.cause);
        match effect.begin.cause {
            // Sizes in both series owe nothing to each other.
            Cause::Unclear => {
                let solids = self.evidence(&self.solids, &effect.solids, of_cause, rows.0);
                let heat = self.evidence(&self.heat, &effect.heat, of_cause, rows.1);
                effect.prior + solids + heat.min(solids.max(0.0))
            }
            _ => self.weight_of(effect, of_cause, rows),
        }
    }

    fn weight_of(&self, effect: &Effect, sizes: &[(f64, f64)], rows: (usize, usize)) -> f64 {
        let heat_alone = self.heat_alone(effect, rows.1);
        let of_size = |(size, weight): &(f64, f64)| {
            weight + self.both(effect, *size, rows, heat_alone) + of_spike(effect, *size)
        };
        let all: Vec<f64> = sizes.iter().map(of_size).collect();
        effect.prior + log_sum(all.into_iter())
    }

    /// Log ratio of a size in both series. Heat may gainsay the solids, and confirm a fault as far as they
    /// speak for it themselves: loads, temperatures and pumps change unread, and are no fault of the water.
    fn both(
        &self,
        effect: &Effect,
        size: f64,
        (solids, heat): (usize, usize),
        heat_alone: f64,
    ) -> f64 {
        let solids = ratio(&self.solids, &effect.solids, size, solids);
        let heat = ratio(&self.heat, &effect.heat, size, heat);
        if changes_beside_heat(effect.begin.cause) {
            // Load, temperatures or circulation may have changed as well.
            let as_it_is = (1.0 - HEAT_TOO).ln() + heat;
            let heat = log_sum([as_it_is, HEAT_TOO.ln() + heat_alone].into_iter());
            solids + heat.min(solids.max(0.0))
        } else if effect.begin.cause.is_fault() {
            solids + heat.min(solids.max(0.0))
        } else {
            solids + heat
        }
    }

    /// Evidence that the heat side changed by itself on the day of a change.
    fn heat_alone(&self, effect: &Effect, rows: usize) -> f64 {
        if !changes_beside_heat(effect.begin.cause) {
            return f64::NEG_INFINITY;
        }
        let Some(place) = self.heat_sides.get(effect.begin.period).copied().flatten() else {
            return f64::NEG_INFINITY;
        };
        let (of, cache) = (&self.effects[place], &self.heat_evidence[place]);
        match cache.get() {
            Some((known, evidence)) if known == rows => evidence,
            _ => {
                let evidence = self.evidence(&self.heat, &of.heat, &self.heat_sizes, rows);
                cache.set(Some((rows, evidence)));
                evidence
            }
        }
    }

    fn evidence(
        &self,
        rows: &Rows,
        change: &Option<Change>,
        sizes: &[(f64, f64)],
        count: usize,
    ) -> f64 {
        let of_size = |(size, weight): &(f64, f64)| weight + ratio(rows, change, *size, count);
        let all: Vec<f64> = sizes.iter().map(of_size).collect();
        log_sum(all.into_iter())
    }

    /// Mean and standard deviation of a change's size.
    fn size(&self, effect: &Effect, sizes: &[(f64, f64)], rows: (usize, usize)) -> (f64, f64) {
        let heat_alone = self.heat_alone(effect, rows.1);
        let weight = |(size, weight): &(f64, f64)| {
            weight
                + of_spike(effect, *size)
                + match effect.begin.cause {
                    Cause::Unclear => ratio(&self.solids, &effect.solids, *size, rows.0),
                    _ => self.both(effect, *size, rows, heat_alone),
                }
        };
        let weights: Vec<f64> = sizes.iter().map(weight).collect();
        let all = log_sum(weights.iter().copied());
        let moment = |power: i32| -> f64 {
            let zip = sizes.iter().zip(&weights);
            zip.map(|((size, _), weight)| size.powi(power) * (weight - all).exp()).sum()
        };
        let mean = moment(1);
        (mean, (moment(2) - mean * mean).max(0.0).sqrt())
    }
}

/// Whether the heat side may change by itself beside a cause: sizes of an unclear one are free as it is.
fn changes_beside_heat(cause: Cause) -> bool {
    !matches!(cause, Cause::Unclear | Cause::HeatSide | Cause::WildPeriod)
}

/// Wild periods are this part of all, where a spike is held against a probe's step.
const WILD_PART: f64 = 20.0 / 365.0;
/// A spike says no more than this for a step.
const MOST_OF_A_SPIKE: f64 = 8.0;

/// Log ratio of a value that stands far off as a probe's step over one that is wild by chance.
fn of_spike(effect: &Effect, size: f64) -> f64 {
    let Some((Spike { off, spread }, unit)) = effect.spike else { return 0.0 };
    let log_normal = |off: f64, spread: f64| -0.5 * (off / spread).powi(2) - spread.ln();
    let explained = log_normal(off - size * unit, spread.hypot(0.25 * size * unit));
    let wild = log_normal(off, spread.hypot(off));
    // What is wild by chance may be so on the day of a step as well.
    let chance = [(1.0 - WILD_PART).ln() + explained, WILD_PART.ln() + wild];
    (log_sum(chance.into_iter()) - (WILD_PART.ln() + wild)).min(MOST_OF_A_SPIKE)
}

fn ratio(rows: &Rows, change: &Option<Change>, size: f64, count: usize) -> f64 {
    change.as_ref().map_or(0.0, |change| rows.log_ratio(change, size, count))
}

/// Odds of a morning.
struct Odds {
    fault: f64,
    heat: f64,
    unread: f64,
    ends: Vec<f64>,
}

impl Weights {
    fn none(ends: usize, fault: f64) -> Self {
        let none = f64::NEG_INFINITY;
        Self {
            fault,
            heat: none,
            unread: none,
            wild: none,
            wild_period: None,
            ends: vec![none; ends],
        }
    }

    /// Each against nothing and the other explanations.
    fn odds(&self) -> Odds {
        let harmless = [0.0, self.heat, self.unread, self.wild];
        let against = |others: &[f64], weight: f64| {
            let without: f64 = log_sum(others.iter().copied());
            (weight - without).exp()
        };
        let with_ends: Vec<f64> = harmless.iter().chain(&self.ends).copied().collect();
        Odds {
            fault: against(&with_ends, self.fault),
            heat: against(&[0.0, self.fault, self.unread, self.wild], self.heat),
            unread: against(&[0.0, self.fault, self.heat, self.wild], self.unread),
            ends: self
                .ends
                .iter()
                .map(|end| against(&[0.0, self.fault, self.heat, self.unread, self.wild], *end))
                .collect(),
        }
    }
}
