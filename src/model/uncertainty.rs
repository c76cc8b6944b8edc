//! First-order propagation of the uncertainties of the inputs to any results, and draws of the inputs to
//! check it with.

use super::{Balance, Infeasible, Inputs, Model, SlotId, Workspace};
use crate::random::{Seed, deviation_of};
use crate::site::SiteInstrument;

/// Relative effects below this are the rounding of floating-point numbers.
const ROUNDING: f64 = 1e-12;

/// A result of the balance that carries an uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Output {
    /// kg/s.
    Evaporation,
    /// kg/s.
    Drift,
    /// kg/s.
    Blowdown,
    /// kg/s.
    Leakage,
    /// kg/s.
    Overflow,
    /// kg/s.
    Makeup,
    /// Cycles of concentration.
    Cycles,
}

impl Output {
    /// All of them, in the order of the results of [`Model::spread`].
    pub const ALL: [Self; 7] = [
        Self::Evaporation,
        Self::Drift,
        Self::Blowdown,
        Self::Leakage,
        Self::Overflow,
        Self::Makeup,
        Self::Cycles,
    ];

    /// Its value in a balance.
    pub fn of(self, balance: &Balance) -> f64 {
        let water = &balance.water;
        match self {
            Self::Evaporation => water.evaporation_kg_per_s,
            Self::Drift => water.drift_kg_per_s,
            Self::Blowdown => water.blowdown_kg_per_s,
            Self::Leakage => water.leakage_kg_per_s,
            Self::Overflow => water.overflow_kg_per_s,
            Self::Makeup => water.makeup_kg_per_s,
            Self::Cycles => water.cycles_of_concentration,
        }
    }

    fn all_of(balance: &Balance) -> Vec<f64> {
        Self::ALL.iter().map(|output| output.of(balance)).collect()
    }
}

/// What one input's uncertainty does to every result.
#[derive(Debug, Clone, PartialEq)]
pub struct Contribution {
    /// The input; the first of several whose errors are one.
    pub slot: SlotId,
    /// What it is called: its path, with `*` for the names of several.
    pub path: String,
    /// Change of each result for one standard uncertainty of the input.
    pub effects: Vec<f64>,
    /// What the same step moves the mean of each result by: half of what both sides leave of its value.
    pub shifts: Vec<f64>,
    /// Whether a step left the domain, so that the effect rests on the other side alone.
    pub one_sided: bool,
}

/// The uncertainty of several results.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Spread {
    /// One for each input that has an uncertainty.
    pub contributions: Vec<Contribution>,
    /// Correlated inputs, by their places in `contributions`, with the coefficient.
    pub correlations: Vec<(usize, usize, f64)>,
}

impl Spread {
    /// Standard uncertainty of a balance's result, as [`Self::of`].
    pub fn standard(&self, output: Output) -> Option<f64> {
        self.of(output as usize)
    }

    /// Standard uncertainty of a result, in its own unit: root of the sum of the squared effects and of
    /// the products of correlated ones (JCGM 100:2008, eq. 13). `None` where no input carries one, or
    /// where the result has no limit.
    pub fn of(&self, result: usize) -> Option<f64> {
        self.of_inputs(result, |_| true)
    }

    /// Standard uncertainty of a result as [`Self::of`], as far as it comes from some of the inputs.
    pub fn of_inputs(&self, result: usize, counts: impl Fn(SlotId) -> bool) -> Option<f64> {
        let effect = |place: usize| {
            let input = &self.contributions[place];
            if counts(input.slot) { input.effects[result] } else { 0.0 }
        };
        let squares: f64 = (0..self.contributions.len()).map(|place| effect(place).powi(2)).sum();
        let products: f64 =
            self.correlations.iter().map(|(a, b, r)| 2.0 * r * effect(*a) * effect(*b)).sum();
        // Effects that cancel leave rounding.
        let variance = squares + products;
        (squares > 0.0 && variance.is_finite()).then(|| variance.max(0.0).sqrt())
    }

    /// Whether a result is too curved within its uncertainty for first order: second-order terms (JCGM 100:2008,
    /// 5.1.2, note) move its mean by a fifth of its standard uncertainty or more, or an input that counts
    /// has no result on one side.
    pub fn is_curved(&self, result: usize) -> bool {
        const NOTABLE: f64 = 0.2;
        const COUNTS: f64 = 0.1;
        let Some(standard) = self.of(result) else { return false };
        let shift: f64 = self.contributions.iter().map(|input| input.shifts[result]).sum();
        let is_cut = |input: &Contribution| {
            input.one_sided && input.effects[result].powi(2) > COUNTS * standard * standard
        };
        shift.abs() > NOTABLE * standard || self.contributions.iter().any(is_cut)
    }

    /// Inputs with their effect on a balance's result, largest first.
    pub fn largest_first(&self, output: Output) -> Vec<(&Contribution, f64)> {
        self.largest_first_of(output as usize)
    }

    /// Inputs with their effect on a result, largest first.
    pub fn largest_first_of(&self, result: usize) -> Vec<(&Contribution, f64)> {
        let mut effects: Vec<_> = self
            .contributions
            .iter()
            .map(|c| (c, c.effects[result]))
            .filter(|(_, effect)| *effect != 0.0)
            .collect();
        effects.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
        effects
    }

    /// Inputs that move a result, though a step to one side has none.
    pub fn one_sided_of(&self, result: usize) -> Vec<&Contribution> {
        let counts = |c: &&Contribution| c.one_sided && c.effects[result] != 0.0;
        self.contributions.iter().filter(counts).collect()
    }
}

impl Model {
    /// The uncertainty of the balance at `inputs`; its results are [`Output::ALL`].
    ///
    /// # Errors
    /// Whatever [`Model::evaluate`] says of `inputs` themselves.
    pub fn spread(&self, inputs: &Inputs, work: &mut Workspace) -> Result<Spread, Infeasible> {
        let centre = Output::all_of(&self.evaluate(inputs, work)?);
        let results =
            |inputs: &Inputs| self.evaluate(inputs, work).ok().as_ref().map(Output::all_of);
        Ok(self.propagate(inputs, &centre, results))
    }

    /// The uncertainty of any results, which are `centre` at `inputs`, from steps of one standard
    /// uncertainty to both sides of every input that has one (JCGM 100:2008, 5.1.3, note 2).
    pub fn propagate(
        &self,
        inputs: &Inputs,
        centre: &[f64],
        mut results: impl FnMut(&Inputs) -> Option<Vec<f64>>,
    ) -> Spread {
        let step = |slot: SlotId| {
            let step = self.slot_value(slot).uncertainty?.standard();
            (step > 0.0).then_some((slot, step))
        };
        let is_led =
            |slot: &SlotId| self.site.together.iter().any(|group| group[1..].contains(slot));
        let uncertain: Vec<Vec<(SlotId, f64)>> = self
            .slot_ids()
            .filter(|slot| !is_led(slot))
            .map(|slot| self.led_by(slot).filter_map(step).collect::<Vec<_>>())
            .filter(|steps| !steps.is_empty())
            .collect();
        let mut stepped = inputs.clone();
        let mut contributions = Vec::with_capacity(uncertain.len());
        for steps in uncertain {
            let mut at = |sign: f64| {
                for (slot, step) in &steps {
                    self.write(&mut stepped, *slot, inputs.get(*slot) + sign * step);
                }
                let found = results(&stepped);
                stepped.clone_from(inputs);
                found.filter(|found| found.len() == centre.len())
            };
            let (above, below) = (at(1.0), at(-1.0));
            let effect = |result: usize| {
                let [above, below] = [&above, &below].map(|side| side.as_ref().map(|s| s[result]));
                let centre = centre[result];
                let effect = match (above, below) {
                    (Some(above), Some(below)) => 0.5 * (above - below),
                    (Some(above), None) => above - centre,
                    (None, Some(below)) => centre - below,
                    (None, None) => f64::NAN,
                };
                // What is left of a result that the input does not touch is rounding.
                if effect.abs() < ROUNDING * centre.abs() { 0.0 } else { effect }
            };
            let shift = |result: usize| match (&above, &below) {
                (Some(above), Some(below)) => {
                    0.5 * (above[result] + below[result] - 2.0 * centre[result])
                }
                _ => 0.0,
            };
            contributions.push(Contribution {
                slot: steps[0].0,
                path: self.uncertain_path(steps[0].0),
                effects: (0..centre.len()).map(effect).collect(),
                shifts: (0..centre.len()).map(shift).collect(),
                one_sided: above.is_none() || below.is_none(),
            });
        }
        let place = |slot: SlotId| contributions.iter().position(|c: &Contribution| c.slot == slot);
        let correlations = self
            .site
            .correlations
            .iter()
            .filter_map(|(a, b, r)| Some((place(*a)?, place(*b)?, *r)))
            .collect();
        Spread { contributions, correlations }
    }

    /// A number with those whose errors are one with its.
    fn led_by(&self, slot: SlotId) -> impl Iterator<Item = SlotId> {
        let group = self.site.together.iter().find(|group| group[0] == slot);
        let others = group.map_or(&[][..], |group| &group[1..]);
        std::iter::once(slot).chain(others.iter().copied())
    }

    /// What an uncertain input is called: its path, with `*` for the name of each of several.
    fn uncertain_path(&self, slot: SlotId) -> String {
        let path = &self.slot_value(slot).path;
        if self.led_by(slot).count() == 1 {
            return path.clone();
        }
        let table = path.split('.').next().unwrap_or_default();
        let key = path.rsplit('.').next().unwrap_or_default();
        format!("{table}.*.{key}")
    }

    /// Writes the inputs of one draw: every uncertain number from its distribution, values of one
    /// instrument with one calibration error, correlated values together (JCGM 101:2008, 6.4).
    pub fn draw(&self, seed: &Seed, draw: u64, inputs: &mut Inputs) {
        inputs.clone_from(&self.base);
        let mut numbers = seed.row(draw);
        let chances: Vec<f64> = self.site.slots.iter().map(|_| numbers.uniform()).collect();
        for (index, value) in self.site.slots.iter().enumerate() {
            let slot = SlotId(index);
            let chance = chances[index];
            let is_drawn_elsewhere = self.site.instruments.iter().any(|i| i.has(slot))
                || self.site.correlations.iter().any(|(a, b, _)| *a == slot || *b == slot);
            let leader = self.site.together.iter().find(|group| group.contains(&slot));
            let chance = leader.map_or(chance, |group| chances[group[0].0]);
            if let (Some(uncertainty), false) = (value.uncertainty, is_drawn_elsewhere) {
                self.write(inputs, slot, value.si + deviation_of(uncertainty, chance));
            }
        }
        for instrument in &self.site.instruments {
            let chance = numbers.uniform();
            for reading in &instrument.readings {
                let calibration = deviation_of(reading.calibration, chance);
                let off = calibration + reading.random * numbers.normal();
                self.write(inputs, reading.slot, self.base.get(reading.slot) + off);
            }
        }
        for (slots, factor) in &self.site.correlated {
            let normal: Vec<f64> = slots.iter().map(|_| numbers.normal()).collect();
            for (row, slot) in factor.iter().zip(slots) {
                let standard: f64 = row.iter().zip(&normal).map(|(l, z)| l * z).sum();
                let value = self.slot_value(*slot);
                let deviation = value.uncertainty.map_or(0.0, |u| u.standard());
                self.write(inputs, *slot, value.si + deviation * standard);
            }
        }
    }
}

impl SiteInstrument {
    fn has(&self, slot: SlotId) -> bool {
        self.readings.iter().any(|reading| reading.slot == slot)
    }

    /// Coefficients between its readings: what they share of their calibration error.
    pub(crate) fn correlations(&self) -> impl Iterator<Item = (SlotId, SlotId, f64)> + '_ {
        self.readings.iter().enumerate().flat_map(move |(index, a)| {
            self.readings[index + 1..].iter().map(move |b| {
                let [first, second] = [a, b].map(|reading| reading.calibration.standard());
                let whole = first.hypot(a.random) * second.hypot(b.random);
                (a.slot, b.slot, first * second / whole)
            })
        })
    }
}
