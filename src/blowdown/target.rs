//! The cycles at which each limit binds, the one that binds first, and what follows from it.

use super::limit::{Bound, Limit, Measure, Standing};
use super::{ConcentratedWater, TowerWater, Unsolved};
use crate::chemistry::{Constituent, Mineral};
use crate::site::description::Material;

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
            Allows::UpTo(cycles) if self.limit.may_stop() => Some(cycles),
            _ => None,
        }
    }

    /// [`Self::ceiling`] with what the limit is on.
    pub fn ceiling_of(&self) -> Option<(f64, Measure)> {
        Some((self.ceiling()?, self.limit.measure))
    }
}

/// How a limit may be moved.
pub fn remedy(limit: &Limit) -> &'static str {
    match limit.standing {
        Standing::Material(Material::NewGalvanisedSteel) => {
            return "few cycles, a passivation programme and a cool start for its first weeks; acid only by a \
                    metered, interlocked feed";
        }
        Standing::Material(Material::Stainless304) => {
            return "stainless 316, a cooler wall, or another makeup";
        }
        Standing::Material(Material::Concrete) => {
            return "concrete of a better class, a coating, or hydrochloric in place of sulfuric acid";
        }
        _ => {}
    }
    match limit.measure {
        Measure::SaturationIndex(Mineral::Calcite)
        | Measure::Langelier
        | Measure::LangelierAtSurface
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
        Measure::DischargeFlow | Measure::Load(_) => "more cycles",
        _ => "another makeup, or reverse osmosis of a part of it",
    }
}

/// Points of the search, denser where cycles are few.
const POINTS: usize = 28;

/// The waters of the search, from 1 to [`MOST_CYCLES`].
fn waters(
    tower: &TowerWater,
    limits: &[Limit],
) -> impl Iterator<Item = Result<ConcentratedWater, Unsolved>> {
    let ratio = MOST_CYCLES.powf(1.0 / (POINTS - 1) as f64);
    let mut before: Option<ConcentratedWater> = None;
    (0..POINTS).map(move |point| {
        let cycles = ratio.powi(point as i32);
        let water = tower.at_cycles_among(cycles, limits, before.as_ref())?;
        before = Some(water.clone());
        Ok(water)
    })
}

/// Cycles are found to this.
const WITHIN: f64 = 1e-4;

/// The cycles, to 1e-4, at which a function of them that falls is zero; `None` where it is not in
/// between.
pub(super) fn root_of_falling(
    from: f64,
    to: f64,
    mut function: impl FnMut(f64) -> Result<f64, Unsolved>,
) -> Result<Option<f64>, Unsolved> {
    let low = (from, function(from)?);
    let high = (to, function(to)?);
    root_between(low, high, function)
}

/// [`root_of_falling`] where the function is known at both ends.
fn root_between(
    low: (f64, f64),
    high: (f64, f64),
    mut function: impl FnMut(f64) -> Result<f64, Unsolved>,
) -> Result<Option<f64>, Unsolved> {
    let mut failed = Ok(());
    let value = |cycles: f64| match function(cycles) {
        Ok(value) => value,
        Err(unsolved) => {
            failed = Err(unsolved);
            f64::NAN
        }
    };
    let root = crate::root::of_falling_between(value, low, high, WITHIN);
    failed.map(|()| root)
}

impl Limit {
    /// How far a water is beyond the limit: above zero is not allowed, a value at the limit, to the
    /// rounding of what is computed, is. `None` where the analysis does not say.
    fn excess(&self, tower: &TowerWater, water: &ConcentratedWater) -> Option<f64> {
        /// Part of a limit, at the least of 1, by which a computed value may differ from a stated
        /// one that it equals: far above what solvers leave, far below what any limit is stated to.
        const ROUNDING: f64 = 1e-6;
        let value = self.measure.known_of(tower, water)?;
        let beyond = match self.bound {
            Bound::Most => value - self.value,
            Bound::Least => self.value - value,
        };
        Some(beyond - ROUNDING * self.value.abs().max(1.0))
    }

    /// The cycles between two waters, the first of them `near`, at which the limit is crossed.
    fn crossing(
        &self,
        tower: &TowerWater,
        near: &ConcentratedWater,
        pair: [(f64, f64); 2],
    ) -> Result<Option<f64>, Unsolved> {
        let [(from, before), (to, after)] = pair;
        let rises = after > 0.0;
        if (before > 0.0) == rises {
            return Ok(None);
        }
        let sign = if rises { -1.0 } else { 1.0 };
        let falling = |cycles: f64| {
            let water = tower.at_cycles_among(cycles, [self], Some(near))?;
            Ok(sign * self.excess(tower, &water).unwrap_or(f64::NAN))
        };
        // Where the value is lost on the way, the last number of cycles known to be allowed.
        let allowed = if rises { from } else { to };
        let root = root_between((from, sign * before), (to, sign * after), falling)?;
        Ok(Some(root.unwrap_or(allowed)))
    }
}

/// A limit held against the waters of a search.
fn binding(
    tower: &TowerWater,
    waters: &[ConcentratedWater],
    limit: &Limit,
) -> Result<Binding, Unsolved> {
    let known: Option<Vec<(f64, f64)>> =
        waters.iter().map(|water| Some((water.cycles, limit.excess(tower, water)?))).collect();
    let Some(known) = known.filter(|known| !known.is_empty()) else {
        let is_absent = limit.bound == Bound::Most && limit.measure.is_of_what_is_absent(tower);
        let allows = if is_absent { Allows::All } else { Allows::Unknown };
        let crossings = Vec::new();
        return Ok(Binding { limit: limit.clone(), allows, crossings, at_one_cycle: None });
    };
    let crossings: Vec<f64> = known
        .windows(2)
        .zip(waters)
        .filter_map(|(pair, near)| limit.crossing(tower, near, [pair[0], pair[1]]).transpose())
        .collect::<Result<_, _>>()?;
    let exceeded_at_one = known[0].1 > 0.0;
    let falls = limit.measure.falls_with_cycles();
    let is_floor = falls || limit.bound == Bound::Least;
    let allows = match (is_floor, exceeded_at_one, crossings.first()) {
        (false, true, _) => Allows::Nothing,
        (true, true, Some(cycles)) => Allows::From(*cycles),
        (true, true, None) => Allows::NeverMet,
        (_, false, Some(cycles)) => Allows::UpTo(*cycles),
        (_, false, None) => Allows::All,
    };
    let at_one_cycle = limit.measure.of(&waters[0]).filter(|_| !falls);
    Ok(Binding { limit: limit.clone(), allows, crossings, at_one_cycle })
}

/// Every limit with the cycles that it allows, the tightest first.
///
/// # Errors
/// [`Unsolved`] where the water has no equilibrium somewhere up to [`MOST_CYCLES`].
pub fn bindings(tower: &TowerWater, limits: &[Limit]) -> Result<Vec<Binding>, Unsolved> {
    let waters = waters(tower, limits).collect::<Result<Vec<_>, _>>()?;
    let bindings = limits.iter().map(|limit| binding(tower, &waters, limit));
    let mut bindings = bindings.collect::<Result<Vec<_>, _>>()?;
    let order = |binding: &Binding| binding.ceiling().unwrap_or(f64::INFINITY);
    bindings.sort_by(|a, b| order(a).total_cmp(&order(b)));
    Ok(bindings)
}

/// The most cycles that all of the limits allow.
pub fn ceiling(bindings: &[Binding]) -> Option<&Binding> {
    bindings.first().filter(|binding| binding.ceiling().is_some())
}

/// The tightest limit on something else than the one that [`ceiling`] finds.
pub fn next_ceiling(bindings: &[Binding]) -> Option<&Binding> {
    let first = ceiling(bindings)?;
    bindings
        .iter()
        .find(|next| next.limit.measure != first.limit.measure && next.ceiling().is_some())
}

/// The most cycles that limits allow a water that differs little from a known one, with what the limit is
/// on that sets them: sought about the cycles that the known one is allowed, among the limits that set a
/// ceiling there, from the known water near these. `None` where nothing binds.
///
/// # Errors
/// [`Unsolved`] where the water has no equilibrium on the way.
pub fn ceiling_near(
    tower: &TowerWater,
    limits: &[Limit],
    known: &[Binding],
    known_water: &ConcentratedWater,
) -> Result<Option<(f64, Measure)>, Unsolved> {
    let Some((near, _)) = ceiling(known).and_then(Binding::ceiling_of) else { return Ok(None) };
    let sets_a_ceiling = |limit: &&Limit| {
        let is_it = |known: &Limit| known.measure == limit.measure && known.bound == limit.bound;
        known.iter().any(|known| known.ceiling().is_some() && is_it(&known.limit))
    };
    let limits: Vec<Limit> = limits.iter().filter(sets_a_ceiling).cloned().collect();
    // What a water is furthest beyond, each limit on its own scale.
    let furthest = |cycles: f64| -> Result<Option<(f64, Measure)>, Unsolved> {
        let water = tower.at_cycles_among(cycles, &limits, Some(known_water))?;
        let beyond = limits.iter().filter_map(|limit| {
            Some((limit.excess(tower, &water)? / limit.value.abs().max(1.0), limit.measure))
        });
        Ok(beyond.max_by(|(a, _), (b, _)| a.total_cmp(b)))
    };
    let mut leading = None;
    let mut within = |cycles: f64| {
        let found = furthest(cycles)?;
        leading = found.map(|(_, measure)| measure);
        Ok(found.map_or(f64::NAN, |(beyond, _)| -beyond))
    };
    /// The first step away, as a part, at the most and at the least; it doubles.
    const STEPS: (f64, f64) = (5e-4, 0.03);
    let mut last = (near, within(near)?);
    let falls = last.1 > 0.0;
    // Twice as far as a value goes that rises as the cycles do, so that the crossing lies in between.
    let mut step = (2.0 * last.1.abs()).clamp(STEPS.0, STEPS.1);
    loop {
        let next = if falls { last.0 * (1.0 + step) } else { last.0 / (1.0 + step) };
        let next = next.clamp(1.0, MOST_CYCLES);
        if next == last.0 {
            break;
        }
        let found = (next, within(next)?);
        if (found.1 > 0.0) != falls {
            let (low, high) = if falls { (last, found) } else { (found, last) };
            let root = root_between(low, high, &mut within)?;
            return Ok(root.zip(leading));
        }
        (last, step) = (found, 2.0 * step);
    }
    // At an end of the search: no limit binds, or all that bind do so at once.
    Ok(leading.filter(|_| !falls).map(|measure| (1.0, measure)))
}

/// The cycles below `most`, where a limit is exceeded, up to which it is not; `None` where it is at 1 cycle already.
///
/// # Errors
/// [`Unsolved`] where the water has no equilibrium on the way.
pub fn within(tower: &TowerWater, limit: &Limit, most: f64) -> Result<Option<f64>, Unsolved> {
    let one = std::slice::from_ref(limit);
    root_of_falling(1.0, most, |cycles| {
        let excess = limit.excess(tower, &tower.at_cycles_among(cycles, one, None)?);
        Ok(-excess.unwrap_or(f64::NAN))
    })
}

/// [`ceiling`] without all the rest: the search ends at the first limit. `None` where nothing binds.
///
/// # Errors
/// [`Unsolved`] where the water has no equilibrium below the first limit.
pub fn first_ceiling(tower: &TowerWater, limits: &[Limit]) -> Result<Option<f64>, Unsolved> {
    let mut before: Option<(ConcentratedWater, Vec<Option<f64>>)> = None;
    for water in waters(tower, limits) {
        let water = water?;
        let excesses: Vec<Option<f64>> =
            limits.iter().map(|limit| limit.excess(tower, &water)).collect();
        match &before {
            None => {
                let is_beyond = |(limit, excess): (&Limit, &Option<f64>)| {
                    limit.bound == Bound::Most
                        && limit.may_stop()
                        && excess.is_some_and(|excess| excess > 0.0)
                };
                if limits.iter().zip(&excesses).any(is_beyond) {
                    return Ok(Some(1.0));
                }
            }
            Some((near, old)) => {
                let crossing = |((limit, old), new): ((&Limit, &Option<f64>), &Option<f64>)| {
                    let pair = [(near.cycles, (*old)?), (water.cycles, (*new)?)];
                    // Where it falls, a limit of the other side comes to be met.
                    (pair[1].1 > 0.0 && limit.may_stop())
                        .then(|| limit.crossing(tower, near, pair).transpose())?
                };
                let crossings = limits.iter().zip(old).zip(&excesses).filter_map(crossing);
                let crossings = crossings.collect::<Result<Vec<_>, _>>()?;
                if let Some(first) = crossings.into_iter().min_by(f64::total_cmp) {
                    return Ok(Some(first));
                }
            }
        }
        before = Some((water, excesses));
    }
    Ok(None)
}
