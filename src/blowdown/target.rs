//! The cycles at which each limit binds, the one that binds first, and what follows from it.

use super::limit::{Bound, Limit, Measure};
use super::{ConcentratedWater, TowerWater};
use crate::chemistry::{Constituent, Mineral};

/// No tower is run harder than this: beyond it drift and leaks alone are more than the blowdown.
pub const MOST_CYCLES: f64 = 30.0;

/// A limit with the cycles that it allows.
#[derive(Debug, Clone, PartialEq)]
pub struct Binding {
    /// The limit.
    pub limit: Limit,
    /// What it allows.
    pub allows: Allows,
    /// Every number of cycles at which its value is crossed, upwards: more than one where acid makes
    /// it come back.
    pub crossings: Vec<f64>,
    /// The measure at 1 cycle: the makeup in the tower.
    pub at_one_cycle: Option<f64>,
}

/// What a limit allows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Allows {
    /// The makeup exceeds it before it is concentrated at all.
    Nothing,
    /// From 1 up to these cycles.
    UpTo(f64),
    /// It does not bind up to [`MOST_CYCLES`].
    All,
    /// It asks for at least these cycles.
    From(f64),
    /// It asks for more than [`MOST_CYCLES`] give.
    NeverMet,
    /// The analysis does not say enough.
    Unknown,
}

impl Binding {
    /// The most cycles that it allows; `None` where it sets no ceiling.
    pub fn ceiling(&self) -> Option<f64> {
        match self.allows {
            Allows::Nothing => Some(1.0),
            Allows::UpTo(cycles) => Some(cycles),
            _ => None,
        }
    }
}

/// How a limit may be moved.
pub fn remedy(measure: Measure) -> &'static str {
    match measure {
        Measure::SaturationIndex(Mineral::Calcite)
        | Measure::Langelier
        | Measure::Ryznar
        | Measure::Puckorius => "acid, softening, or a scale inhibitor that carries more",
        Measure::Constituent(Constituent::Alkalinity) | Measure::Ph => {
            "acid, or dealkalised makeup"
        }
        Measure::Constituent(Constituent::Calcium | Constituent::Hardness)
        | Measure::CalciumSulfateProduct => "softening",
        Measure::SaturationIndex(Mineral::Gypsum) => {
            "softening, or hydrochloric in place of sulfuric acid"
        }
        Measure::SaturationIndex(Mineral::AmorphousSilica)
        | Measure::Constituent(Constituent::Silica) => {
            "reverse osmosis of a part of the makeup, or a silica dispersant"
        }
        Measure::SaturationIndex(Mineral::MagnesiumSilicate | Mineral::Brucite)
        | Measure::MagnesiumSilicaProduct => "softening, or a lower pH",
        Measure::SuspendedSolids => "side-stream filtration",
        Measure::Cycles => "none: a rule sets it",
        _ => "another makeup, or reverse osmosis of a part of it",
    }
}

/// Points of the search, denser where cycles are few.
const POINTS: usize = 28;

/// The waters of the search, from 1 to [`MOST_CYCLES`], up to the first that cannot be solved.
fn waters(tower: &TowerWater) -> impl Iterator<Item = ConcentratedWater> {
    let ratio = MOST_CYCLES.powf(1.0 / (POINTS - 1) as f64);
    (0..POINTS).map_while(move |point| tower.at_cycles(ratio.powi(point as i32)).ok())
}

impl Limit {
    /// How far a water is beyond the limit: above zero is not allowed. `None` where the analysis
    /// does not say.
    fn excess(&self, tower: &TowerWater, water: &ConcentratedWater) -> Option<f64> {
        if let Measure::Constituent(constituent) = self.measure
            && tower.not_analysed.contains(&constituent)
        {
            return None;
        }
        let value = self.measure.of(water)?;
        Some(match self.bound {
            Bound::Most => value - self.value,
            Bound::Least => self.value - value,
        })
    }

    /// The cycles between two waters at which the limit is crossed.
    fn crossing(&self, tower: &TowerWater, pair: [(f64, f64); 2]) -> Option<f64> {
        const WITHIN: f64 = 1e-4;
        let [(from, before), (to, after)] = pair;
        let rises = after > 0.0;
        if (before > 0.0) == rises {
            return None;
        }
        let falling = |cycles: f64| {
            let water = tower.at_cycles(cycles).ok();
            let excess = water.and_then(|water| self.excess(tower, &water)).unwrap_or(f64::NAN);
            if rises { -excess } else { excess }
        };
        Some(crate::root::of_falling_within(falling, from, to, WITHIN).unwrap_or(from))
    }
}

/// A limit held against the waters of a search.
fn binding(tower: &TowerWater, waters: &[ConcentratedWater], limit: &Limit) -> Binding {
    let known: Option<Vec<(f64, f64)>> =
        waters.iter().map(|water| Some((water.cycles, limit.excess(tower, water)?))).collect();
    let Some(known) = known.filter(|known| !known.is_empty()) else {
        let (allows, crossings) = (Allows::Unknown, Vec::new());
        return Binding { limit: limit.clone(), allows, crossings, at_one_cycle: None };
    };
    let crossings: Vec<f64> =
        known.windows(2).filter_map(|pair| limit.crossing(tower, [pair[0], pair[1]])).collect();
    let exceeded_at_one = known[0].1 > 0.0;
    let allows = match (limit.bound, exceeded_at_one, crossings.first()) {
        (Bound::Most, true, _) => Allows::Nothing,
        (Bound::Least, true, Some(cycles)) => Allows::From(*cycles),
        (Bound::Least, true, None) => Allows::NeverMet,
        (_, false, Some(cycles)) => Allows::UpTo(*cycles),
        (_, false, None) => Allows::All,
    };
    let at_one_cycle = limit.measure.of(&waters[0]);
    Binding { limit: limit.clone(), allows, crossings, at_one_cycle }
}

/// Every limit with the cycles that it allows, the tightest first.
pub fn bindings(tower: &TowerWater, limits: &[Limit]) -> Vec<Binding> {
    let waters: Vec<ConcentratedWater> = waters(tower).collect();
    let mut bindings: Vec<Binding> =
        limits.iter().map(|limit| binding(tower, &waters, limit)).collect();
    let order = |binding: &Binding| binding.ceiling().unwrap_or(f64::INFINITY);
    bindings.sort_by(|a, b| order(a).total_cmp(&order(b)));
    bindings
}

/// The most cycles that all of the limits allow.
pub fn ceiling(bindings: &[Binding]) -> Option<&Binding> {
    bindings.first().filter(|binding| binding.ceiling().is_some())
}

/// The band of carbon dioxide pressures that tower water may have, log10 of atm: nearly in
/// equilibrium with air, and well above it (common practice).
pub const CARBON_DIOXIDE_BAND: [f64; 2] = [-3.4, -2.4];

/// The cycles that are allowed at both ends of [`CARBON_DIOXIDE_BAND`], with the pressure; `None`
/// where nothing binds.
pub fn over_band(tower: &TowerWater, limits: &[Limit]) -> [(f64, Option<f64>); 2] {
    CARBON_DIOXIDE_BAND.map(|log10| (log10, first_ceiling(&tower.under(log10), limits)))
}

/// [`ceiling`] without all the rest: the search ends at the first limit.
fn first_ceiling(tower: &TowerWater, limits: &[Limit]) -> Option<f64> {
    let mut before: Option<(f64, Vec<Option<f64>>)> = None;
    for water in waters(tower) {
        let excesses: Vec<Option<f64>> =
            limits.iter().map(|limit| limit.excess(tower, &water)).collect();
        match &before {
            None => {
                let is_beyond = |(limit, excess): (&Limit, &Option<f64>)| {
                    limit.bound == Bound::Most && excess.is_some_and(|excess| excess > 0.0)
                };
                if limits.iter().zip(&excesses).any(is_beyond) {
                    return Some(1.0);
                }
            }
            Some((cycles, old)) => {
                let crossing = |((limit, old), new): ((&Limit, &Option<f64>), &Option<f64>)| {
                    let pair = [(*cycles, (*old)?), (water.cycles, (*new)?)];
                    // Where it falls, a limit of the other side comes to be met.
                    (pair[1].1 > 0.0).then(|| limit.crossing(tower, pair))?
                };
                let crossings = limits.iter().zip(old).zip(&excesses).filter_map(crossing);
                if let Some(first) = crossings.min_by(f64::total_cmp) {
                    return Some(first);
                }
            }
        }
        before = Some((water.cycles, excesses));
    }
    None
}
