//! Money on the balance sheet of a site.

use super::feed::FeedState;
use super::{Balance, Infeasible, Inputs, Model, Workspace};
use crate::balance::{self, BlowdownBasis, Losses, WaterBalance};
use crate::cost::{AddedCycle, Outflow, Prices, StreamPrice};
use crate::quantity::significant;
use crate::site::{BlowdownGiven, Control, SewerBasis};
use crate::warnings::{Noticed, money as notices};

/// A stream's money in a year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StreamMoney {
    /// Which.
    pub stream: Outflow,
    /// In the currency of the site.
    pub yearly: StreamPrice,
}

/// What mending the leaks and overflows would save in a year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeakValue {
    /// Under a controller that holds the cycles; the blowdown opens by as much.
    pub held: f64,
    /// With a valve that stays as it is.
    pub fixed: f64,
}

/// An operating year with a further overflow less the year without it: under a controller the blowdown
/// shrinks by as much, for both carry the same water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FurtherOverflow {
    /// More makeup, m3.
    pub makeup: f64,
    /// More blowdown, m3; below zero where it is less.
    pub blowdown: f64,
    /// More money for water, sewer, energy and chemicals; `None` where no price is stated.
    pub money: Option<f64>,
}

/// What an operating year costs, or what one costs more than another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CostParts {
    /// Makeup.
    pub water: f64,
    /// Waste water.
    pub sewer: f64,
    /// Energy of the makeup.
    pub energy: f64,
    /// Chemicals that have a price.
    pub chemicals: f64,
}

impl CostParts {
    /// All of it.
    pub fn total(&self) -> f64 {
        self.water + self.sewer + self.energy + self.chemicals
    }
}

impl std::ops::Sub for CostParts {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        Self {
            water: self.water - other.water,
            sewer: self.sewer - other.sewer,
            energy: self.energy - other.energy,
            chemicals: self.chemicals - other.chemicals,
        }
    }
}

/// Money on the balance sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Money {
    /// Every stream.
    pub streams: Vec<StreamMoney>,
    /// All of it in a year.
    pub total: f64,
    /// Chemicals that have a price, with what they cost in a year.
    pub chemicals: Vec<(String, f64)>,
    /// Why the chemicals are not counted, where they cannot be computed.
    pub chemicals_missing: Option<String>,
    /// What the sewer is billed on.
    pub basis: SewerBasis,
    /// Whether a sewer price is stated.
    pub has_sewer: bool,
    /// One more cycle after the other, as long as the losses allow it.
    pub added_cycles: Vec<AddedCycle>,
    /// The first cycles from which one more saves less than the stated least.
    pub stop_at: Option<f64>,
    /// The least that one more cycle has to save.
    pub least_saving: Option<f64>,
    /// What mending the leaks would save, where there are any.
    pub leak: Option<LeakValue>,
    /// How the blowdown is controlled.
    pub control: Option<Control>,
}

impl Money {
    /// What may look wrong about it.
    pub fn notices(&self, currency: &str) -> Vec<Noticed> {
        let evaporation = self.streams.iter().find(|money| money.stream == Outflow::Evaporation);
        let on_evaporation = evaporation.map_or(0.0, |evaporation| evaporation.yearly.sewer);
        let chemicals = self.chemicals_missing.as_ref();
        let sewer = match (self.has_sewer, self.basis, self.leak.is_some()) {
            (true, SewerBasis::Makeup, _) if on_evaporation > 0.0 => {
                let yearly = format!("{} {currency}", significant(on_evaporation, 3));
                Some(notices::SEWER_ON_EVAPORATION.with(format!(
                    "The sewer is billed on all makeup: {} a year for what evaporates.",
                    yearly.trim_end()
                )))
            }
            (true, SewerBasis::MakeupLessEvaporation, true) => Some(
                notices::SEWER_CREDIT_FOR_LEAKS
                    .with("The unmetered leakage or overflow makes the evaporation credit wrong."),
            ),
            (true, SewerBasis::Blowdown, true) => Some(notices::SEWER_MISSES_LOSSES.with(
                "The unmetered leakage or overflow is not billed where it reaches the sewer.",
            )),
            _ => None,
        };
        let chemicals = chemicals.map(|why| notices::CHEMICALS_NOT_COUNTED.with(format!("{why}.")));
        chemicals.into_iter().chain(sewer).collect()
    }
}

impl Model {
    /// Money for a closed balance; `None` where no price is stated.
    pub(super) fn money(&self, inputs: &Inputs, balance: &Balance) -> Option<Money> {
        /// One more cycle at a time: so many are listed, and so many are searched.
        const LISTED: usize = 5;
        const SEARCHED: usize = 30;
        let cost = &self.site.cost;
        let (yearly, chemicals_missing) = self.yearly_cost(inputs, balance)?;
        let water = &balance.water;
        let mean = self.mean_hour(inputs, water);
        let streams = Outflow::ALL
            .map(|stream| StreamMoney { stream, yearly: yearly.of_stream(stream, &mean) });
        let (chemicals, chemicals_missing) = match yearly.chemicals(water, &mean) {
            Ok(lines) => (lines, chemicals_missing),
            Err(why) => (Vec::new(), Some(why)),
        };
        let losses = water.losses();
        let volume = self.volume_m3(inputs);
        let mut added_cycles: Vec<AddedCycle> = (0..SEARCHED)
            .map_while(|more| {
                let from = water.cycles_of_concentration + more as f64;
                added_cycle(&yearly, &losses, from, volume)
            })
            .collect();
        let stop_at = cost.least_saving.and_then(|least| {
            added_cycles.iter().find(|added| added.saving < least).map(|added| added.from)
        });
        added_cycles.truncate(LISTED);
        let sum: f64 = streams.iter().map(|stream| stream.yearly.total()).sum();
        Some(Money {
            total: sum + chemicals.iter().map(|(_, cost)| cost).sum::<f64>(),
            streams: streams.to_vec(),
            chemicals,
            chemicals_missing,
            basis: cost.sewer_basis,
            has_sewer: cost.sewer.is_some(),
            added_cycles,
            stop_at,
            least_saving: cost.least_saving,
            leak: leak_value(&yearly, water, self.target_cycles(inputs)),
            control: self.site.control,
        })
    }
}

impl Model {
    /// The total of [`Self::money`] without all the rest.
    pub(super) fn money_total(&self, inputs: &Inputs, balance: &Balance) -> Option<f64> {
        let (yearly, _) = self.yearly_cost(inputs, balance)?;
        Some(yearly.total(&balance.water, self.holds_cycles()))
    }

    pub(super) fn prices(&self, inputs: &Inputs) -> Option<Prices> {
        let cost = &self.site.cost;
        if [cost.makeup, cost.sewer, cost.energy].iter().all(Option::is_none) {
            return None;
        }
        let of = |slot: Option<_>| slot.map_or(0.0, |slot| inputs.get(slot));
        Some(Prices {
            makeup: of(cost.makeup),
            sewer: of(cost.sewer),
            basis: cost.sewer_basis,
            share: of(cost.sewer_share),
            energy: of(cost.energy),
        })
    }

    /// What prices and chemicals make of a balance, and why chemicals are not counted.
    fn yearly_cost<'a>(
        &'a self,
        inputs: &'a Inputs,
        balance: &Balance,
    ) -> Option<(YearlyCost<'a>, Option<String>)> {
        let prices = self.prices(inputs)?;
        let feed = match self.site.chemicals.is_empty() {
            true => None,
            false => Some(self.feed_state(inputs, balance)),
        };
        let (feed, missing) = match feed {
            Some(Ok(state)) => (Some(state), None),
            Some(Err(why)) => (None, Some(why.to_string())),
            None => (None, None),
        };
        let hours = inputs.get(self.site.hours_per_year);
        let load = inputs.get(self.site.load_factor);
        Some((YearlyCost { model: self, inputs, feed, prices, hours, load }, missing))
    }

    /// What an operating year would cost with each of these balances in place of the site's own, in
    /// the site's currency, every one with its cycles held: water, sewer, energy and the chemicals that
    /// have a price. `None` where no price is stated.
    ///
    /// # Errors
    /// Whatever [`Model::evaluate`] says.
    pub fn costs_per_year(
        &self,
        inputs: &Inputs,
        waters: &[WaterBalance],
    ) -> Result<Option<Vec<f64>>, Infeasible> {
        let balance = self.evaluate(inputs, &mut Workspace::new(self))?;
        Ok(self.costs_of(inputs, &balance, waters).map(|(costs, _)| costs))
    }

    /// [`Model::costs_per_year`] for a site that is evaluated, and why chemicals are not counted.
    pub(super) fn costs_of(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        waters: &[WaterBalance],
    ) -> Option<(Vec<f64>, Option<String>)> {
        let (yearly, missing) = self.yearly_cost(inputs, balance)?;
        Some((waters.iter().map(|water| yearly.total(water, true)).collect(), missing))
    }

    /// What each of two balances costs in a year, part by part, and why chemicals are not counted.
    pub(super) fn cost_parts(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        waters: [&WaterBalance; 2],
    ) -> Option<([CostParts; 2], Option<String>)> {
        let (yearly, missing) = self.yearly_cost(inputs, balance)?;
        Some((waters.map(|water| yearly.parts(water, true)), missing))
    }

    /// What an operating year costs with a balance in place of the site's own; its cycles held, or its blowdown
    /// left as it is. `None` where no price is stated.
    ///
    /// # Errors
    /// Why chemicals cannot be counted.
    pub(crate) fn year_cost(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        (water, holds_cycles): (&WaterBalance, bool),
    ) -> Option<Result<CostParts, String>> {
        let (yearly, missing) = self.yearly_cost(inputs, balance)?;
        let mean = water.at_load(yearly.load, holds_cycles);
        let why = missing.or_else(|| yearly.chemicals(water, &mean).err());
        Some(why.map_or_else(|| Ok(yearly.parts(water, holds_cycles)), Err))
    }

    /// The cycles from which one more saves less than the file's least; `None` without such a least, without
    /// prices, or where one more still saves as much at `most`.
    pub(super) fn cycles_worth_it(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        most: f64,
    ) -> Option<f64> {
        /// Fewer cycles than this are no target.
        const FEWEST: f64 = 1.1;
        let least = self.site.cost.least_saving?;
        let (yearly, _) = self.yearly_cost(inputs, balance)?;
        let losses = balance.water.losses();
        let cost = |cycles| {
            let water = balance::close(&losses, BlowdownBasis::Cycles(cycles)).ok()?;
            Some(yearly.total(&water, true))
        };
        let over_least = |from: f64| {
            cost(from).zip(cost(from + 1.0)).map_or(f64::NAN, |(now, then)| now - then - least)
        };
        let (low, high) = ((FEWEST, over_least(FEWEST)), (most, over_least(most)));
        (most > FEWEST && high.1 < 0.0)
            .then(|| crate::root::of_falling_between(over_least, low, high, 1e-3).unwrap_or(FEWEST))
    }

    /// What a further overflow, m3/h while the tower runs, changes in an operating year; `None` where the
    /// balance does not close with it.
    pub(super) fn further_overflow(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        m3_per_h: f64,
    ) -> Option<FurtherOverflow> {
        let water = &balance.water;
        let is_held = self.site.control == Some(Control::Conductivity);
        let held = self.target_cycles(inputs).unwrap_or(water.cycles_of_concentration);
        let basis = match is_held {
            true => BlowdownBasis::Cycles(held),
            false => BlowdownBasis::FlowKgPerS(water.blowdown_kg_per_s),
        };
        let kg_per_s = m3_per_h / Balance::reference_m3_per_h(1.0);
        let losses = water.losses();
        let spilling = Losses { overflow_kg_per_s: losses.overflow_kg_per_s + kg_per_s, ..losses };
        let before = balance::close(&losses, basis).ok()?;
        let after = balance::close(&spilling, basis).ok()?;
        let hours = inputs.get(self.site.hours_per_year);
        let load = inputs.get(self.site.load_factor);
        let yearly = |flow: fn(&WaterBalance) -> f64| {
            let of = |water: &WaterBalance| flow(&water.at_load(load, is_held));
            hours * Balance::reference_m3_per_h(difference(of(&after), of(&before)))
        };
        let cost = self.yearly_cost(inputs, balance);
        Some(FurtherOverflow {
            makeup: yearly(|water| water.makeup_kg_per_s),
            blowdown: yearly(|water| water.blowdown_kg_per_s),
            money: cost.map(|(cost, _)| {
                difference(cost.total(&after, is_held), cost.total(&before, is_held))
            }),
        })
    }

    /// Whether the site's blowdown holds cycles; else it is a flow.
    pub(crate) fn holds_cycles(&self) -> bool {
        !matches!(self.site.blowdown, BlowdownGiven::Flow(_))
    }

    /// The mean hour of an operating year.
    pub(super) fn mean_hour(&self, inputs: &Inputs, water: &WaterBalance) -> WaterBalance {
        water.at_load(inputs.get(self.site.load_factor), self.holds_cycles())
    }

    /// Makeup, sewer and energy in a year, chemicals not counted; `None` where no price is stated.
    pub(crate) fn water_cost_per_year(&self, inputs: &Inputs, balance: &Balance) -> Option<f64> {
        let prices = self.prices(inputs)?;
        let period = self.period(inputs, &balance.water);
        let yearly = |stream| period.yearly_m3(stream) * prices.of(stream).total();
        Some(Outflow::ALL.into_iter().map(yearly).sum())
    }
}

/// What a balance costs in an operating year.
struct YearlyCost<'a> {
    model: &'a Model,
    inputs: &'a Inputs,
    feed: Option<FeedState>,
    prices: Prices,
    /// Of an operating year.
    hours: f64,
    /// Its mean load as a part of this hour's.
    load: f64,
}

impl YearlyCost<'_> {
    fn of_stream(&self, stream: Outflow, mean: &WaterBalance) -> StreamPrice {
        let m3 = self.hours * Balance::reference_m3_per_h(stream.kg_per_s(mean));
        let price = self.prices.of(stream);
        StreamPrice { water: m3 * price.water, sewer: m3 * price.sewer, energy: m3 * price.energy }
    }

    /// Every chemical that has a price; why there are none, where they cannot be computed.
    fn chemicals(
        &self,
        water: &WaterBalance,
        mean: &WaterBalance,
    ) -> Result<Vec<(String, f64)>, String> {
        let Some(state) = &self.feed else { return Ok(Vec::new()) };
        let lines = self
            .model
            .feed_lines(self.inputs, state, (water, mean))
            .map_err(|why| why.to_string())?;
        let priced = lines.into_iter().filter_map(|line| Some((line.name, line.cost_per_year?)));
        Ok(priced.collect())
    }

    /// A year of this balance, its cycles held at every load, or its blowdown left as it is.
    fn parts(&self, water: &WaterBalance, holds_cycles: bool) -> CostParts {
        let mean = &water.at_load(self.load, holds_cycles);
        let streams = Outflow::ALL.map(|stream| self.of_stream(stream, mean));
        let sum = |part: fn(&StreamPrice) -> f64| streams.iter().map(part).sum();
        let chemicals = self.chemicals(water, mean).unwrap_or_default();
        CostParts {
            water: sum(|price| price.water),
            sewer: sum(|price| price.sewer),
            energy: sum(|price| price.energy),
            chemicals: chemicals.iter().map(|(_, cost)| cost).sum(),
        }
    }

    fn total(&self, water: &WaterBalance, holds_cycles: bool) -> f64 {
        self.parts(water, holds_cycles).total()
    }
}

fn added_cycle(
    yearly: &YearlyCost,
    losses: &Losses,
    from: f64,
    volume: Option<f64>,
) -> Option<AddedCycle> {
    if !from.is_finite() {
        return None;
    }
    let at = |cycles| balance::close(losses, BlowdownBasis::Cycles(cycles)).ok();
    let (before, after) = (at(from)?, at(from + 1.0)?);
    // With the blowdown shut there is nothing left to save.
    if after.losses_exceed_blowdown {
        return None;
    }
    Some(AddedCycle {
        from,
        to: from + 1.0,
        saving: yearly.total(&before, true) - yearly.total(&after, true),
        makeup_saved: 1.0 - after.makeup_kg_per_s / before.makeup_kg_per_s,
        half_life_hours: volume.map(|volume| Balance::half_life_hours(volume, &after)),
    })
}

/// What is left of equal sums is rounding.
fn difference(of: f64, less: f64) -> f64 {
    let difference = of - less;
    if difference.abs() < 1e-9 * of { 0.0 } else { difference }
}

/// Mending under a controller leads back to the cycles that it is set to, which a large leak may have
/// pulled down.
fn leak_value(
    yearly: &YearlyCost,
    water: &WaterBalance,
    target_cycles: Option<f64>,
) -> Option<LeakValue> {
    let losses = water.losses();
    if losses.leakage_kg_per_s + losses.overflow_kg_per_s <= 0.0 {
        return None;
    }
    let tight = Losses { leakage_kg_per_s: 0.0, overflow_kg_per_s: 0.0, ..losses };
    let saved = |basis| {
        let mended = balance::close(&tight, basis).ok()?;
        let is_held = matches!(basis, BlowdownBasis::Cycles(_));
        Some(difference(yearly.total(water, is_held), yearly.total(&mended, is_held)))
    };
    let held = target_cycles.unwrap_or(water.cycles_of_concentration);
    Some(LeakValue {
        held: saved(BlowdownBasis::Cycles(held))?,
        fixed: saved(BlowdownBasis::FlowKgPerS(water.blowdown_kg_per_s))?,
    })
}
