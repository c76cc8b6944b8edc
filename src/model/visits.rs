//! The course of a tower over the technician's visits: real cycles, limits and losses of each, and what
//! changed since the one before.

use super::own_test::{OwnTest, Sampling};
use super::tower_water::SiteWater;
use super::{Balance, BlowdownError, BlowdownSheet, Inputs, Model, Workspace};
use crate::blowdown::limit::{Bound, Measure};
use crate::blowdown::own_test::consensus::{TestedMakeup, real_cycles};
use crate::blowdown::own_test::{Assay, Found, RealCycles, assay};
use crate::blowdown::{TowerWater, Unsolved};
use crate::chemistry::Constituent;
use crate::chemistry::speciation::{self, Acidity, Constants};
use crate::readings::visits::{Sample, Sampled, Tested};
use jiff::civil::Date;

/// A makeup that moved by less than this part is the same.
const MOVED: f64 = 0.1;
/// pH of a makeup for its conductivity, where none was measured.
const MAKEUP_PH: f64 = 7.6;
/// Half of what something is below, give or take as much: rectangular (JCGM 100:2008, 4.3.7).
const BELOW: f64 = 0.577;

/// The course of a tower over its visits.
#[derive(Debug, Clone, PartialEq)]
pub struct VisitsSheet {
    /// The target that the visits are held against.
    pub target: BlowdownSheet,
    /// In order of time.
    pub visits: Vec<Visit>,
}

/// A visit with a test of the tower.
#[derive(Debug, Clone, PartialEq)]
pub struct Visit {
    /// The day.
    pub day: Date,
    /// Line in the file.
    pub line: u64,
    /// What was tested of the tower.
    pub tower: Assay,
    /// Conductivity of the makeup, as last measured, S/m.
    pub makeup_conductivity: Option<f64>,
    /// Real cycles, where what was tested tells them.
    pub real: Option<RealCycles>,
    /// The test against what the makeup makes at these cycles.
    pub own: Option<OwnTest>,
    /// Every limit whose measure was tested or follows from what was, in the order of the target's.
    pub judged: Vec<Judged>,
    /// What is not as it was at the visit before.
    pub changes: Vec<Change>,
}

/// A limit at a visit.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// Of what.
    pub measure: Measure,
    /// Which side.
    pub bound: Bound,
    /// The limit.
    pub limit: f64,
    /// What was found.
    pub value: f64,
    /// Whether it is beyond the limit.
    pub is_out: bool,
}

/// Something that changed from one visit to the next.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Real cycles, by more than the ± of both.
    Cycles {
        /// At the visit before.
        from: f64,
        /// Now.
        to: f64,
    },
    /// The conductivity of the makeup, S/m.
    Makeup {
        /// As it was.
        from: f64,
        /// As it is.
        to: f64,
        /// Days after its change in which the tower still holds much of the makeup before.
        remembered_days: Option<f64>,
    },
    /// A limit that was kept and is not any more.
    OutOf(Measure),
    /// A limit that was not kept and is again.
    BackIn(Measure),
}

/// Why there is no course.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NoVisits {
    /// No row is a test of the tower.
    #[error("no row is a test of the tower")]
    NoTower,
    /// As for a target.
    #[error(transparent)]
    Blowdown(#[from] BlowdownError),
    /// The water of a visit has no equilibrium.
    #[error("line {line}: {error}")]
    Unsolved {
        /// Line in the file.
        line: u64,
        /// Why.
        error: Unsolved,
    },
}

impl Model {
    /// The course over the samples of a sheet, which are in order of time.
    ///
    /// What a visit did not test of the makeup is as it was tested last, and before that as the site file
    /// has it. A makeup of several sources is sampled as their blend.
    ///
    /// # Errors
    /// [`NoVisits`].
    pub fn visits(&self, inputs: &Inputs, samples: &[Sample]) -> Result<VisitsSheet, NoVisits> {
        let target = self.blowdown(inputs)?;
        let balance =
            self.evaluate(inputs, &mut Workspace::new(self)).map_err(BlowdownError::from)?;
        let site = self.site_water(inputs, &balance)?;
        let mut course = Course {
            model: self,
            inputs,
            balance: &balance,
            site: &site,
            target: &target,
            makeup: self.tested_makeup(inputs, &site.makeup),
            before: None,
            makeup_sampled: None,
            visits: Vec::new(),
        };
        for sample in samples {
            course.take(sample).map_err(|error| NoVisits::Unsolved { line: sample.line, error })?;
        }
        let visits = course.visits;
        if visits.is_empty() {
            return Err(NoVisits::NoTower);
        }
        Ok(VisitsSheet { target, visits })
    }
}

/// A course on its way.
struct Course<'a> {
    model: &'a Model,
    inputs: &'a Inputs,
    balance: &'a Balance,
    site: &'a SiteWater,
    target: &'a BlowdownSheet,
    /// As last tested.
    makeup: TestedMakeup,
    /// Conductivity of the makeup before it was tested since the last visit, S/m.
    before: Option<f64>,
    /// When the makeup was tested last.
    makeup_sampled: Option<Date>,
    visits: Vec<Visit>,
}

impl Course<'_> {
    fn take(&mut self, sample: &Sample) -> Result<(), Unsolved> {
        match sample.water {
            Sampled::Makeup => self.take_makeup(sample),
            Sampled::Tower => {
                let visit = self.visit(sample)?;
                self.visits.push(visit);
                self.before = None;
            }
        }
        Ok(())
    }

    fn take_makeup(&mut self, sample: &Sample) {
        let tested = assay_of(sample);
        let conductivity =
            |makeup: &TestedMakeup| makeup.assay.conductivity.map(|found| found.value);
        // Before the first visit there is nothing that it could have changed from.
        if !self.visits.is_empty() && self.before.is_none() {
            self.before = conductivity(&self.makeup);
        }
        self.makeup_sampled = Some(sample.day());
        let known = &mut self.makeup.assay;
        for (constituent, found) in &tested.amounts {
            known.amounts.retain(|(other, _)| other != constituent);
            known.amounts.push((*constituent, *found));
        }
        known.conductivity = tested.conductivity.or(known.conductivity);
        tested.overlay(&mut self.makeup.blend, &Constituent::ALL);
        let acidity = Acidity::Ph(tested.ph.unwrap_or(MAKEUP_PH));
        let solved = Constants::at(25.0)
            .and_then(|constants| speciation::solve(&self.makeup.blend, acidity, &constants));
        if let Ok(solved) = solved {
            self.makeup.computed_conductivity = solved.conductivity();
        }
    }

    fn visit(&self, sample: &Sample) -> Result<Visit, Unsolved> {
        let tower = assay_of(sample);
        let [basin, _] = self.site.tower.constants();
        let fed = self.model.fed((self.site.tower.oxidant, self.site.tower.salts));
        let real = Constants::at(25.0)
            .ok()
            .and_then(|reference| real_cycles(&self.makeup, &tower, &fed, [basin, &reference]));
        let water = self.site.tower.with_makeup(self.makeup.blend);
        let mut own = match &real {
            Some(real) => Some(self.model.own_test_of(
                (self.inputs, self.balance),
                (&self.makeup, &tower),
                &water,
                (real, self.target.target_cycles),
            )?),
            None => None,
        };
        if let Some((own, makeup)) = own.as_mut().zip(self.makeup_sampled) {
            let days = i64::from((sample.day() - makeup).get_days());
            let remembered = self.model.remembered_days(self.inputs, own.liquid_m3_per_day);
            own.sampling = Some(Sampling { days, remembered });
        }
        let mut visit = Visit {
            day: sample.day(),
            line: sample.line,
            makeup_conductivity: self.makeup.assay.conductivity.map(|found| found.value),
            own,
            judged: self.judged(real.as_ref(), &tower, &water)?,
            changes: Vec::new(),
            tower,
            real,
        };
        visit.changes = self.changes(&visit);
        Ok(visit)
    }

    /// Limits whose measure was tested; indices and what else follows from the whole water, where cycles
    /// tell what was not tested of it.
    fn judged(
        &self,
        real: Option<&RealCycles>,
        tower: &Assay,
        water: &TowerWater,
    ) -> Result<Vec<Judged>, Unsolved> {
        let found = match real {
            Some(real) => {
                let mut composition = water.at_cycles(real.cycles)?.composition;
                tower.overlay(&mut composition, &Constituent::ALL);
                Some(water.as_found(real.cycles, composition, tower.ph)?)
            }
            None => None,
        };
        let shown = |constituent: Constituent| {
            let found = match constituent {
                Constituent::Hardness => {
                    let parts = [Constituent::Calcium, Constituent::Magnesium];
                    let sum = parts.into_iter().map(|part| Some(tower.get(part)?.value)).sum();
                    tower.get(Constituent::Hardness).map(|found| found.value).or(sum)
                }
                other => tower.get(other).map(|found| found.value),
            };
            found.map(|moles| constituent.milligram_per_litre(moles))
        };
        let value = |measure: Measure| match measure {
            Measure::Constituent(constituent) => shown(constituent),
            Measure::Ph => tower.ph,
            Measure::Conductivity => tower.conductivity.map(|found| 1e4 * found.value),
            Measure::SaturationIndex(_) if tower.ph.is_none() => None,
            other => other.of(found.as_ref()?),
        };
        let judged = self.target.bindings.iter().filter_map(|binding| {
            let limit = &binding.limit;
            let value = value(limit.measure)?;
            Some(Judged {
                measure: limit.measure,
                bound: limit.bound,
                limit: limit.value,
                value,
                is_out: match limit.bound {
                    Bound::Most => value > limit.value,
                    Bound::Least => value < limit.value,
                },
            })
        });
        Ok(judged.collect())
    }

    fn changes(&self, visit: &Visit) -> Vec<Change> {
        let Some(before) = self.visits.last() else { return Vec::new() };
        let mut changes = Vec::new();
        let both = before.real.as_ref().zip(visit.real.as_ref());
        if let Some((from, to)) = both.filter(|(from, to)| {
            (to.cycles - from.cycles).abs() > 2.0 * from.standard.hypot(to.standard)
        }) {
            changes.push(Change::Cycles { from: from.cycles, to: to.cycles });
        }
        if let Some((from, to)) = self.before.zip(visit.makeup_conductivity)
            && (to / from - 1.0).abs() > MOVED
        {
            let liquid = visit.own.as_ref().and_then(|own| own.liquid_m3_per_day);
            let remembered_days = self.model.remembered_days(self.inputs, liquid);
            changes.push(Change::Makeup { from, to, remembered_days });
        }
        for judged in &visit.judged {
            let same = |other: &&Judged| {
                (other.measure, other.bound, other.limit)
                    == (judged.measure, judged.bound, judged.limit)
            };
            let was = before.judged.iter().find(same).map(|other| other.is_out);
            match (was, judged.is_out) {
                (Some(false), true) => changes.push(Change::OutOf(judged.measure)),
                (Some(true), false) => changes.push(Change::BackIn(judged.measure)),
                _ => {}
            }
        }
        changes
    }
}

/// What was tested, with the ± of each kind.
fn assay_of(sample: &Sample) -> Assay {
    let amounts = sample.constituents.iter().map(|(constituent, Tested { value, is_below })| {
        let moles = constituent.mole_per_kg(*value);
        (*constituent, assay::found(*constituent, moles, is_below.then_some(BELOW * moles)))
    });
    let conductivity: Option<Found> =
        sample.conductivity.map(|value| assay::conductivity(value, None));
    Assay::new(amounts, conductivity, sample.ph)
}

impl VisitsSheet {
    /// The last visit.
    pub fn last(&self) -> Option<&Visit> {
        self.visits.last()
    }

    /// Whether the last visit asks for something: a limit that is not kept, acid that nobody states.
    pub fn asks_for_something(&self) -> bool {
        self.last().is_some_and(|visit| {
            let has_acid = visit.own.as_ref().is_some_and(|own| own.comparison.acid.is_some());
            has_acid || visit.judged.iter().any(|judged| judged.is_out)
        })
    }
}
