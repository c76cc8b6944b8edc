//! Money on the balance sheet of a site.

use super::{Balance, Inputs, Model};
use crate::balance::{self, BlowdownBasis, Losses, WaterBalance};
use crate::cost::{AddedCycle, Outflow, Prices, StreamPrice};
use crate::site::{ChemicalKind, Control, SewerBasis};

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

/// Money on the balance sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Money {
    /// Every stream.
    pub streams: Vec<StreamMoney>,
    /// All of it in a year.
    pub total: f64,
    /// Biocides, which do not go with the flows, in a year; `None` where none has a price.
    pub slugs: Option<f64>,
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

impl Model {
    /// Money for a closed balance; `None` where no price is stated.
    pub(super) fn money(&self, inputs: &Inputs, balance: &Balance) -> Option<Money> {
        /// One more cycle at a time: so many are listed, and so many are searched.
        const LISTED: usize = 5;
        const SEARCHED: usize = 30;
        let cost = &self.site.cost;
        if [cost.makeup, cost.sewer, cost.energy].iter().all(Option::is_none) {
            return None;
        }
        let of = |slot: Option<_>| slot.map_or(0.0, |slot| inputs.get(slot));
        let (chemicals, slugs) = self.chemical_prices(inputs, balance);
        let prices = Prices {
            makeup: of(cost.makeup),
            sewer: of(cost.sewer),
            basis: cost.sewer_basis,
            share: of(cost.sewer_share),
            energy: of(cost.energy),
            chemicals,
        };
        let yearly =
            Yearly { m3: inputs.get(self.site.hours_per_year) * inputs.get(self.site.load_factor) };
        let water = &balance.water;
        let streams = Outflow::ALL.map(|stream| {
            let m3 = yearly.m3(stream.kg_per_s(water));
            let price = prices.of(stream);
            let yearly = StreamPrice {
                water: m3 * price.water,
                sewer: m3 * price.sewer,
                energy: m3 * price.energy,
                chemicals: m3 * price.chemicals,
            };
            StreamMoney { stream, yearly }
        });
        let losses = water.losses();
        let volume = self.site.volume.map(|slot| inputs.get(slot));
        let mut added_cycles: Vec<AddedCycle> = (0..SEARCHED)
            .map_while(|more| {
                let from = water.cycles_of_concentration + more as f64;
                added_cycle(&prices, &losses, from, volume, &yearly)
            })
            .collect();
        let stop_at = cost.least_saving.and_then(|least| {
            added_cycles.iter().find(|added| added.saving < least).map(|added| added.from)
        });
        added_cycles.truncate(LISTED);
        Some(Money {
            total: streams.iter().map(|stream| stream.yearly.total()).sum::<f64>()
                + slugs.unwrap_or(0.0),
            streams: streams.to_vec(),
            slugs,
            basis: cost.sewer_basis,
            has_sewer: cost.sewer.is_some(),
            added_cycles,
            stop_at,
            least_saving: cost.least_saving,
            leak: leak_value(&prices, water, &yearly),
            control: self.site.control,
        })
    }

    /// Chemicals that leave with the liquid, for a m3 of it, and slugs in a year.
    fn chemical_prices(&self, inputs: &Inputs, balance: &Balance) -> (f64, Option<f64>) {
        let Ok(feed) = self.feed(inputs) else { return (0.0, None) };
        let yearly = |is_slug: bool| {
            let lines = feed.lines.iter();
            let costs: Vec<f64> = lines
                .filter(|line| (line.kind == ChemicalKind::Biocide) == is_slug)
                .filter_map(|line| line.cost_per_year)
                .collect();
            (!costs.is_empty()).then(|| costs.iter().sum::<f64>())
        };
        let hours = inputs.get(self.site.hours_per_year) * inputs.get(self.site.load_factor);
        let liquid = Balance::reference_m3_per_h(balance.water.liquid_losses_kg_per_s());
        let with_liquid = yearly(false).unwrap_or(0.0) / (liquid * hours);
        (if with_liquid.is_finite() { with_liquid } else { 0.0 }, yearly(true))
    }
}

/// kg/s as m3 in an operating year.
struct Yearly {
    m3: f64,
}

impl Yearly {
    fn m3(&self, kg_per_s: f64) -> f64 {
        self.m3 * Balance::reference_m3_per_h(kg_per_s)
    }
}

fn added_cycle(
    prices: &Prices,
    losses: &Losses,
    from: f64,
    volume: Option<f64>,
    yearly: &Yearly,
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
    let liquid = Balance::reference_m3_per_h(after.liquid_losses_kg_per_s());
    Some(AddedCycle {
        from,
        to: from + 1.0,
        saving: yearly.m3(prices.rate(&before) - prices.rate(&after)),
        makeup_saved: 1.0 - after.makeup_kg_per_s / before.makeup_kg_per_s,
        half_life_hours: volume.map(|volume| std::f64::consts::LN_2 * volume / liquid),
    })
}

fn leak_value(prices: &Prices, water: &WaterBalance, yearly: &Yearly) -> Option<LeakValue> {
    let losses = water.losses();
    if losses.leakage_kg_per_s + losses.overflow_kg_per_s <= 0.0 {
        return None;
    }
    let tight = Losses { leakage_kg_per_s: 0.0, overflow_kg_per_s: 0.0, ..losses };
    let saved = |basis| {
        let mended = balance::close(&tight, basis).ok()?;
        Some(yearly.m3(prices.rate(water) - prices.rate(&mended)))
    };
    Some(LeakValue {
        held: saved(BlowdownBasis::Cycles(water.cycles_of_concentration))?,
        fixed: saved(BlowdownBasis::FlowKgPerS(water.blowdown_kg_per_s))?,
    })
}
