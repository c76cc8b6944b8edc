//! First-order propagation of the uncertainties of the inputs to the balance.

use super::{Balance, Infeasible, Model, SlotId, Workspace};

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
    /// All of them, in the order of the effects of a [`Contribution`].
    pub const ALL: [Self; 7] = [
        Self::Evaporation,
        Self::Drift,
        Self::Blowdown,
        Self::Leakage,
        Self::Overflow,
        Self::Makeup,
        Self::Cycles,
    ];

    fn of(self, balance: &Balance) -> f64 {
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
}

/// What one input's uncertainty does to every result.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contribution {
    /// The input.
    pub slot: SlotId,
    /// Change of each of [`Output::ALL`] for one standard uncertainty of the input.
    pub effects: [f64; Output::ALL.len()],
    /// Whether a step left the domain, so that the effect rests on the other side alone.
    pub one_sided: bool,
}

/// The uncertainty of a balance.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Spread {
    /// One for each input that has an uncertainty.
    pub contributions: Vec<Contribution>,
}

impl Spread {
    /// Standard uncertainty of a result, in its own unit: root of the sum of the squared effects
    /// (JCGM 100:2008, eq. 10; inputs taken as uncorrelated). `None` where no input carries one, or
    /// where the result has no limit.
    pub fn standard(&self, output: Output) -> Option<f64> {
        let sum: f64 = self.effects(output).map(|(_, effect)| effect * effect).sum();
        (sum > 0.0 && sum.is_finite()).then(|| sum.sqrt())
    }

    /// Inputs with their effect on a result, largest first.
    pub fn largest_first(&self, output: Output) -> Vec<(SlotId, f64)> {
        let mut effects: Vec<_> =
            self.effects(output).filter(|(_, effect)| *effect != 0.0).collect();
        effects.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
        effects
    }

    fn effects(&self, output: Output) -> impl Iterator<Item = (SlotId, f64)> {
        let index = Output::ALL.iter().position(|other| *other == output).unwrap_or(0);
        self.contributions.iter().map(move |c| (c.slot, c.effects[index]))
    }
}

impl Model {
    /// The uncertainty of the balance at `inputs`, from steps of one standard uncertainty to both
    /// sides of every input that has one (JCGM 100:2008, 5.1.3, note 2).
    ///
    /// # Errors
    /// Whatever [`Model::evaluate`] says of `inputs` themselves.
    pub fn spread(
        &self,
        inputs: &super::Inputs,
        work: &mut Workspace,
    ) -> Result<Spread, Infeasible> {
        let centre = self.evaluate(inputs, work)?;
        work.pin();
        let contribution = |slot: SlotId| {
            let step = self.slot_value(slot).uncertainty?.standard();
            (step > 0.0).then_some((slot, step))
        };
        let uncertain: Vec<_> = self.slot_ids().filter_map(contribution).collect();
        let mut stepped = inputs.clone();
        let mut contributions = Vec::with_capacity(uncertain.len());
        for (slot, step) in uncertain {
            let value = inputs.get(slot);
            let mut at = |si| {
                self.step(&mut stepped, slot, si);
                let balance = self.evaluate(&stepped, work).ok();
                stepped.clone_from(inputs);
                balance
            };
            let (above, below) = (at(value + step), at(value - step));
            let effect = |output: Output| {
                let [above, below] = [&above, &below].map(|b| b.as_ref().map(|b| output.of(b)));
                let centre = output.of(&centre);
                let effect = match (above, below) {
                    (Some(above), Some(below)) => 0.5 * (above - below),
                    (Some(above), None) => above - centre,
                    (None, Some(below)) => centre - below,
                    (None, None) => f64::NAN,
                };
                // What is left of a result that the input does not touch is rounding.
                if effect.abs() < ROUNDING * centre.abs() { 0.0 } else { effect }
            };
            contributions.push(Contribution {
                slot,
                effects: Output::ALL.map(effect),
                one_sided: above.is_none() || below.is_none(),
            });
        }
        Ok(Spread { contributions })
    }

    /// Writes one number; a share takes from the other shares.
    pub(crate) fn step(&self, inputs: &mut super::Inputs, slot: SlotId, si: f64) {
        if self.shares_with(slot).is_some() {
            self.set_share(inputs, slot, si);
        } else {
            inputs.set(slot, si);
        }
    }
}
