//! Money on the balance: water, sewer and energy for each stream, and what one more cycle saves.
//! Chemicals follow makeup, liquid or volume each in its own way and are counted by themselves.

use crate::balance::WaterBalance;
use crate::site::SewerBasis;

/// Where the sewer's bases come from.
pub const SOURCE: &str = "sewer on makeup, on metered blowdown, on a fixed share, or on makeup less evaporation (evaporation credit): EPA 832-F-12-034 (2012), p. 200, and utilities' common practice";

/// Prices for a m3, in the currency of the site.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Prices {
    /// Makeup.
    pub makeup: f64,
    /// Waste water that is billed.
    pub sewer: f64,
    /// What the sewer is billed on.
    pub basis: SewerBasis,
    /// The part of the makeup that is billed, for [`SewerBasis::Share`].
    pub share: f64,
    /// Energy for a m3 of makeup.
    pub energy: f64,
}

/// A stream of water.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outflow {
    /// Vapour.
    Evaporation,
    /// Droplets.
    Drift,
    /// To the drain on purpose.
    Blowdown,
    /// Lost unseen.
    Leakage,
    /// Over the overflow.
    Overflow,
}

impl Outflow {
    /// All of them, in the order of the sheet.
    pub const ALL: [Self; 5] =
        [Self::Evaporation, Self::Drift, Self::Blowdown, Self::Leakage, Self::Overflow];

    /// What people call it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Evaporation => "evaporation",
            Self::Drift => "drift",
            Self::Blowdown => "blowdown",
            Self::Leakage => "leakage",
            Self::Overflow => "overflow",
        }
    }

    /// Its flow, kg/s.
    pub fn kg_per_s(self, water: &WaterBalance) -> f64 {
        match self {
            Self::Evaporation => water.evaporation_kg_per_s,
            Self::Drift => water.drift_kg_per_s,
            Self::Blowdown => water.blowdown_kg_per_s,
            Self::Leakage => water.leakage_kg_per_s,
            Self::Overflow => water.overflow_kg_per_s,
        }
    }
}

/// Water that meters count in a time, m3; a difference of two times where it is less than zero.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Metered {
    /// Makeup.
    pub makeup: f64,
    /// Vapour, for which the sewer gives credit.
    pub evaporation: f64,
    /// To the drain on purpose; what spills passes no meter.
    pub blowdown: f64,
}

/// Money for a m3 of a stream, or for as much of it as is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StreamPrice {
    /// The makeup that replaces it.
    pub water: f64,
    /// Billed as waste water.
    pub sewer: f64,
    /// Energy of the makeup.
    pub energy: f64,
}

impl StreamPrice {
    /// All of it.
    pub fn total(&self) -> f64 {
        self.water + self.sewer + self.energy
    }
}

impl Prices {
    /// What a m3 of a stream costs.
    pub fn of(&self, stream: Outflow) -> StreamPrice {
        let is_billed = match self.basis {
            SewerBasis::Makeup => 1.0,
            SewerBasis::MakeupLessEvaporation => f64::from(stream != Outflow::Evaporation),
            SewerBasis::Blowdown => f64::from(stream == Outflow::Blowdown),
            SewerBasis::Share => self.share,
        };
        StreamPrice { water: self.makeup, sewer: is_billed * self.sewer, energy: self.energy }
    }

    /// What a utility bills for its meters: the makeup, and the sewer on its basis.
    pub fn bill(&self, metered: &Metered) -> StreamPrice {
        let billed = match self.basis {
            SewerBasis::Makeup => metered.makeup,
            SewerBasis::MakeupLessEvaporation => metered.makeup - metered.evaporation,
            SewerBasis::Blowdown => metered.blowdown,
            SewerBasis::Share => self.share * metered.makeup,
        };
        StreamPrice {
            water: metered.makeup * self.makeup,
            sewer: billed * self.sewer,
            energy: metered.makeup * self.energy,
        }
    }

    /// What a balance costs, with its flows taken as m3.
    #[cfg(test)]
    fn rate(&self, water: &WaterBalance) -> f64 {
        Outflow::ALL.iter().map(|stream| stream.kg_per_s(water) * self.of(*stream).total()).sum()
    }
}

/// What one more cycle saves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AddedCycle {
    /// From these cycles.
    pub from: f64,
    /// To these.
    pub to: f64,
    /// Saved in a year.
    pub saving: f64,
    /// Makeup saved, as a part of the makeup before.
    pub makeup_saved: f64,
    /// Hours in which half of what is in the water is renewed afterwards; `None` without a volume.
    pub half_life_hours: Option<f64>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::balance::{BlowdownBasis, Losses, close};
    use approx::assert_relative_eq;

    fn water(evaporation: f64, cycles: f64) -> WaterBalance {
        let losses = Losses { evaporation_kg_per_s: evaporation, ..Losses::default() };
        close(&losses, BlowdownBasis::Cycles(cycles)).unwrap()
    }

    /// A trade article: 5184 US gal/d evaporated for 365 days, sewer at 0.83 for 1000 US gal: a credit
    /// of 1570 a year.
    #[test]
    fn sewer_credit_of_a_trade_article() {
        let prices = |basis| Prices { sewer: 0.83e-3, basis, ..Prices::default() };
        let water = water(5_184.0 * 365.0, 3.0);
        let credit = prices(SewerBasis::Makeup).rate(&water)
            - prices(SewerBasis::MakeupLessEvaporation).rate(&water);
        assert_relative_eq!(credit, 1_570.0, epsilon = 0.6);
        let on_blowdown = prices(SewerBasis::Blowdown).rate(&water);
        let credited = prices(SewerBasis::MakeupLessEvaporation).rate(&water);
        assert_relative_eq!(on_blowdown, credited, max_relative = 1e-12);
    }

    /// What the streams bear is what the meters bill, on every basis.
    #[test]
    fn a_bill_is_the_sum_of_its_streams() {
        let water = water(1_000.0, 4.0);
        let metered = Metered {
            makeup: water.makeup_kg_per_s,
            evaporation: water.evaporation_kg_per_s,
            blowdown: water.blowdown_kg_per_s,
        };
        for basis in [
            SewerBasis::Makeup,
            SewerBasis::MakeupLessEvaporation,
            SewerBasis::Blowdown,
            SewerBasis::Share,
        ] {
            let prices = Prices { makeup: 1.9, sewer: 2.4, basis, share: 0.4, energy: 0.1 };
            let bill = prices.bill(&metered).total();
            assert_relative_eq!(bill, prices.rate(&water), max_relative = 1e-12);
        }
    }

    /// Heat-recovery handbook, equation 36-8: 152 gpm for 1500 h at 2.5 for 1000 US gal.
    #[test]
    fn makeup_of_a_handbook() {
        let prices = Prices { makeup: 2.5e-3, ..Prices::default() };
        let water = water(152.0 * 60.0 * 1_500.0 * 0.8, 5.0);
        assert_relative_eq!(prices.rate(&water), 34_200.0, max_relative = 1e-6);
    }
}
