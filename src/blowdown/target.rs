//! The cycles at which each limit binds, the one that binds first, and what follows from it.

use super::limit::{Bound, Limit, Measure};
use super::{ConcentratedWater, PhBasis, TowerWater};
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

/// Waters over a range of cycles, solved once for all limits.
struct Grid<'a> {
    tower: &'a TowerWater,
    waters: Vec<ConcentratedWater>,
}

impl<'a> Grid<'a> {
    /// From 1 to [`MOST_CYCLES`], denser where cycles are few; up to the first water that cannot be
    /// solved.
    fn new(tower: &'a TowerWater) -> Self {
        const POINTS: usize = 28;
        let ratio = MOST_CYCLES.powf(1.0 / (POINTS - 1) as f64);
        let waters = (0..POINTS)
            .map(|point| tower.at_cycles(ratio.powi(point as i32)))
            .map_while(Result::ok)
            .collect();
        Self { tower, waters }
    }

    /// Whether the analysis holds what is limited.
    fn is_known(&self, measure: Measure) -> bool {
        match measure {
            Measure::Constituent(constituent) => !self.tower.not_analysed.contains(&constituent),
            _ => true,
        }
    }

    fn binding(&self, limit: &Limit) -> Binding {
        // Above zero is not allowed.
        let excess = |water: &ConcentratedWater| {
            let value = limit.measure.of(water)?;
            Some(match limit.bound {
                Bound::Most => value - limit.value,
                Bound::Least => limit.value - value,
            })
        };
        let first = self.waters.first().filter(|_| self.is_known(limit.measure));
        let known: Option<Vec<(f64, f64)>> =
            self.waters.iter().map(|water| Some((water.cycles, excess(water)?))).collect();
        let known = known.filter(|_| first.is_some());
        let binding = |allows, crossings| Binding {
            limit: limit.clone(),
            allows,
            crossings,
            at_one_cycle: first.and_then(|water| limit.measure.of(water)),
        };
        let Some(known) = known.filter(|known| !known.is_empty()) else {
            return binding(Allows::Unknown, Vec::new());
        };
        let mut crossings = Vec::new();
        for pair in known.windows(2) {
            let ((from, below), (to, above)) = (pair[0], pair[1]);
            if (below > 0.0) != (above > 0.0) {
                let at = |cycles: f64| {
                    let water = self.tower.at_cycles(cycles).ok();
                    water.as_ref().and_then(excess).unwrap_or(f64::NAN)
                };
                let root = if below > 0.0 {
                    crate::root::of_falling_within(at, from, to, 1e-4)
                } else {
                    crate::root::of_falling_within(|cycles| -at(cycles), from, to, 1e-4)
                };
                crossings.push(root.unwrap_or(from));
            }
        }
        let exceeded_at_one = known[0].1 > 0.0;
        let allows = match (limit.bound, exceeded_at_one, crossings.first()) {
            (Bound::Most, true, _) => Allows::Nothing,
            (Bound::Least, true, Some(cycles)) => Allows::From(*cycles),
            (Bound::Least, true, None) => Allows::NeverMet,
            (_, false, Some(cycles)) => Allows::UpTo(*cycles),
            (_, false, None) => Allows::All,
        };
        binding(allows, crossings)
    }
}

/// Every limit with the cycles that it allows, the tightest first.
pub fn bindings(tower: &TowerWater, limits: &[Limit]) -> Vec<Binding> {
    let grid = Grid::new(tower);
    let mut bindings: Vec<Binding> = limits.iter().map(|limit| grid.binding(limit)).collect();
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

/// The cycles that are allowed at both ends of [`CARBON_DIOXIDE_BAND`], with the pressure.
pub fn over_band(tower: &TowerWater, limits: &[Limit]) -> [(f64, Option<f64>); 2] {
    CARBON_DIOXIDE_BAND.map(|log10| {
        let bindings = bindings(&tower.under(log10), limits);
        (log10, ceiling(&bindings).and_then(Binding::ceiling))
    })
}

/// Whether the basis of the pH leaves the carbon dioxide open.
pub fn has_band(basis: PhBasis) -> bool {
    !matches!(basis, PhBasis::AlkalinityLine)
}
