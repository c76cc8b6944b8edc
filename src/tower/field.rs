//! Crossflow: water falls through air that crosses it, and both change in both directions.
//!
//! A grid of n x n cells is marched row by row with the box scheme: rates at the means of a cell's
//! inlets and outlets, second order. A predictor takes the rates of the cell before, so that two
//! evaluations a cell are enough while n stays well above the transfer number.

use super::{Duty, Exchange, TowerError};
use crate::air;

/// Water that falls, by column.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Water {
    /// degC.
    pub celsius: f64,
    /// Mass as a part of the inlet's.
    pub mass: f64,
}

/// Air that crosses, by row.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Air {
    /// kg/kg.
    pub humidity_ratio: f64,
    /// J/kg.
    pub enthalpy: f64,
}

/// What changes for a unit of transfer number; the air's changes are for a water-to-air ratio of 1.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Rates {
    /// K.
    pub celsius: f64,
    /// Part of the inlet water.
    pub mass: f64,
    /// kg/kg.
    pub humidity_ratio: f64,
    /// J/kg.
    pub enthalpy: f64,
}

/// Memory of the marching, reused between calls.
#[derive(Debug, Clone, Default)]
pub struct CrossflowWorkspace {
    water: Vec<Water>,
    above: Vec<Rates>,
}

/// The mixed outlets of a field.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Outlets {
    pub water_celsius: f64,
    pub air: Air,
}

fn stepped(water: Water, air: Air, rates: &Rates, step: f64) -> (Water, Air) {
    (
        Water {
            celsius: water.celsius + step * rates.celsius,
            mass: water.mass + step * rates.mass,
        },
        Air {
            humidity_ratio: air.humidity_ratio + step * rates.humidity_ratio,
            enthalpy: air.enthalpy + step * rates.enthalpy,
        },
    )
}

/// Marches an n x n grid of total transfer number `merkel_number`.
fn march(
    duty: &Duty,
    merkel_number: f64,
    n: usize,
    rates_at: &mut impl FnMut(Water, Air) -> Rates,
    work: &mut CrossflowWorkspace,
) -> Outlets {
    let inlet_water = Water { celsius: duty.hot_water_celsius, mass: 1.0 };
    let inlet_air = Air {
        humidity_ratio: duty.entering_air.humidity_ratio,
        enthalpy: duty.entering_air.enthalpy_j_per_kg(),
    };
    let mut rates_at = |water: Water, air: Air| {
        let rates = rates_at(water, air);
        Rates {
            humidity_ratio: duty.water_to_air * rates.humidity_ratio,
            enthalpy: duty.water_to_air * rates.enthalpy,
            ..rates
        }
    };
    let step = merkel_number / n as f64;
    work.water.clear();
    work.water.resize(n, inlet_water);
    work.above.clear();
    let mut exit = Air::default();
    for row in 0..n {
        let mut air = inlet_air;
        let mut before = None;
        for column in 0..n {
            let water = work.water[column];
            // Nearest rates known: of the cell above and the cell before, else of the inlets.
            let guess = match (before, work.above.get(column)) {
                (Some(before), Some(above)) if row > 0 => mean(&before, above),
                (None, Some(above)) if row > 0 => *above,
                (Some(before), _) => before,
                (None, _) => rates_at(water, air),
            };
            let mut at_means = |rates: &Rates| {
                let (water, air) = stepped(water, air, rates, 0.5 * step);
                rates_at(water, air)
            };
            let first = at_means(&guess);
            let rates = at_means(&first);
            (work.water[column], air) = stepped(water, air, &rates, step);
            if row == 0 {
                work.above.push(rates);
            } else {
                work.above[column] = rates;
            }
            before = Some(rates);
        }
        exit.humidity_ratio += air.humidity_ratio / n as f64;
        exit.enthalpy += air.enthalpy / n as f64;
    }
    let mass: f64 = work.water.iter().map(|water| water.mass).sum();
    let heat: f64 = work.water.iter().map(|water| water.mass * water.celsius).sum();
    Outlets { water_celsius: heat / mass, air: exit }
}

fn mean(a: &Rates, b: &Rates) -> Rates {
    Rates {
        celsius: 0.5 * (a.celsius + b.celsius),
        mass: 0.5 * (a.mass + b.mass),
        humidity_ratio: 0.5 * (a.humidity_ratio + b.humidity_ratio),
        enthalpy: 0.5 * (a.enthalpy + b.enthalpy),
    }
}

/// The largest transfer number that is tried. Fills reach 1 to 4; a duty that asks for more than
/// this asks for what no fill gives.
const MOST: f64 = 12.0;
/// Cells each way, at the least.
const COARSE: usize = 10;
/// Cells each way for each unit of transfer number: the two evaluations a cell need it.
const CELLS_PER_NUMBER: f64 = 3.0;

/// Cells each way, at the most.
const FINEST: usize = 160;

/// Cells each way for a transfer number. Where the enthalpy of saturated air is steep, in very hot
/// water, a cell must be small enough that its two evaluations close in on its rates: each halves the
/// error at the least.
fn cells(duty: &Duty, number: f64) -> usize {
    let pressure = duty.entering_air.pressure_pascal;
    let (_, slope) = air::saturation_enthalpy(duty.hot_water_celsius, pressure);
    let steepness = slope / air::WATER_HEAT + duty.water_to_air;
    let needed = (CELLS_PER_NUMBER.max(2.0 * steepness) * number).ceil();
    (needed as usize).clamp(COARSE, FINEST)
}

/// The mixed outlets of a fill with this transfer number, whatever cold water the duty states.
pub(super) fn outlets(
    duty: &Duty,
    number: f64,
    rates_at: &mut impl FnMut(Water, Air) -> Rates,
    work: &mut CrossflowWorkspace,
) -> Outlets {
    march(duty, number, cells(duty, number), rates_at, work)
}

/// A start for the transfer number of a duty in crossflow, from what counterflow says of it: where
/// even that pinches, the largest number that is tried.
///
/// # Errors
/// Whatever else counterflow says.
pub(super) fn guess(counterflow: Result<Exchange, TowerError>) -> Result<f64, TowerError> {
    match counterflow {
        Ok(Exchange { merkel_number, .. }) => {
            Ok(merkel_number * (1.0 + 0.2 * merkel_number.min(2.5)))
        }
        Err(TowerError::Pinch { .. }) => Ok(MOST),
        Err(other) => Err(other),
    }
}

/// A transfer number with the outlets that it gives.
#[derive(Clone, Copy)]
struct Match {
    number: f64,
    /// Outlet water above the duty's, K.
    excess: f64,
    outlets: Outlets,
}

impl Match {
    /// The point on the line through two matches where the outlet water is the duty's.
    fn on_line_with(&self, other: &Match) -> Match {
        let at = self.excess / (self.excess - other.excess);
        let between = |mine: f64, others: f64| mine + at * (others - mine);
        let (mine, others) = (&self.outlets, &other.outlets);
        Match {
            number: between(self.number, other.number),
            excess: 0.0,
            outlets: Outlets {
                water_celsius: between(mine.water_celsius, others.water_celsius),
                air: Air {
                    humidity_ratio: between(mine.air.humidity_ratio, others.air.humidity_ratio),
                    enthalpy: between(mine.air.enthalpy, others.air.enthalpy),
                },
            },
        }
    }
}

/// The transfer number at which the mixed outlet water is as cold as the duty asks, on an n x n
/// grid; `None` where [`MOST`] does not reach it.
fn matched(
    duty: &Duty,
    n: usize,
    guess: f64,
    rates_at: &mut impl FnMut(Water, Air) -> Rates,
    work: &mut CrossflowWorkspace,
) -> Option<Match> {
    // So near, the line through the last two is as good as another march.
    const NEAR: f64 = 2e-4;
    let range = duty.range_kelvin();
    // Too small and, once one was met, too large a number.
    let (mut low, mut high) = (0.0, None);
    let mut before: Option<Match> = None;
    let mut number = guess.min(MOST);
    for _ in 0..60 {
        let outlets = march(duty, number, n, rates_at, work);
        let excess = outlets.water_celsius - duty.cold_water_celsius;
        let now = Match { number, excess, outlets };
        if excess.abs() < 1e-9 * range {
            return Some(now);
        }
        if let Some(before) = before.filter(|_| excess.abs() < NEAR * range) {
            return Some(now.on_line_with(&before));
        }
        match excess > 0.0 {
            true if number >= MOST => return None,
            true => low = number,
            false if excess < 0.0 => high = Some(number),
            // Not a number.
            false => return None,
        }
        let next = match before {
            Some(before) => number - excess * (number - before.number) / (excess - before.excess),
            // The distance that is left falls about exponentially with the transfer number.
            None => number + number * (1.0 + excess / range).ln(),
        };
        before = Some(now);
        number = match high {
            _ if next > low && next < high.unwrap_or(MOST) => next,
            None => (2.0 * number).min(MOST),
            Some(high) => 0.5 * (low + high),
        };
    }
    None
}

/// Solves a crossflow duty on one grid: transfer number and mixed exit air.
///
/// # Errors
/// [`TowerError::Pinch`] where no fill does the duty.
pub(super) fn solve(
    duty: &Duty,
    guess: f64,
    rates_at: &mut impl FnMut(Water, Air) -> Rates,
    work: &mut CrossflowWorkspace,
) -> Result<(f64, Air), TowerError> {
    let n = cells(duty, guess);
    let mut found = matched(duty, n, guess, rates_at, work);
    // A number far above its guess needs a finer grid.
    let needed = cells(duty, found.map_or(MOST, |found| found.number));
    if needed > n + n / 4 {
        found = matched(duty, needed, found.map_or(guess, |found| found.number), rates_at, work);
    }
    match found {
        Some(found) => Ok((found.number, found.outlets.air)),
        None => Err(TowerError::Pinch {
            water_to_air: duty.water_to_air,
            // The outlet water falls with the transfer number: what the largest does not reach, none does.
            limiting_water_to_air: duty.limiting_ratio(|duty| {
                let outlets = march(duty, MOST, cells(duty, MOST), rates_at, work);
                outlets.water_celsius <= duty.cold_water_celsius
            }),
        }),
    }
}

/// The transfer number extrapolated from n and 2n cells each way (Richardson, second order), near
/// the one that [`solve`] found.
pub(super) fn extrapolated_number(
    duty: &Duty,
    near: f64,
    rates_at: &mut impl FnMut(Water, Air) -> Rates,
    work: &mut CrossflowWorkspace,
) -> f64 {
    let n = 2 * cells(duty, near);
    let mut on =
        |n, near| matched(duty, n, near, rates_at, work).map_or(near, |found| found.number);
    let coarse = on(n, near);
    // Each halving of the cells moves the number a fourth as far: a good start for the last grid.
    let fine = on(2 * n, coarse + (coarse - near) / 4.0);
    fine + (fine - coarse) / 3.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::MoistAir;
    use approx::assert_relative_eq;

    /// Slope of a straight saturation line, J/(kg K).
    const SLOPE: f64 = 4_500.0;
    const HEAT: f64 = 4_186.0;

    /// What two unmixed streams exchange in crossflow, as a part of the most that the water could
    /// give (Mason 1954, Proc. 2nd U.S. National Congress of Applied Mechanics, 801; from memory).
    fn effectiveness(of_water: f64, of_air: f64) -> f64 {
        let rest = |transfer: f64, n: usize| {
            let mut term = 1.0;
            let mut sum = 1.0;
            for m in 1..=n {
                term *= transfer / m as f64;
                sum += term;
            }
            1.0 - (-transfer).exp() * sum
        };
        (0..60).map(|n| rest(of_water, n) * rest(of_air, n)).sum::<f64>() / of_air
    }

    #[test]
    fn a_straight_saturation_line_has_the_exact_series() {
        let entering_air = MoistAir::from_wet_bulb(30.0, 22.0, 101_325.0).unwrap();
        let inlet = entering_air.enthalpy_j_per_kg();
        let hot = 40.0;
        let mut asked = 0;
        let mut rates = |water: Water, air: Air| {
            asked += 1;
            let difference = SLOPE * water.celsius - air.enthalpy;
            Rates { celsius: -difference / HEAT, enthalpy: difference, ..Rates::default() }
        };
        let mut work = CrossflowWorkspace::default();
        for (number, water_to_air) in [(0.3, 0.7), (1.0, 1.0), (1.8, 1.3), (3.0, 0.9)] {
            let share = effectiveness(number * SLOPE / HEAT, number * water_to_air);
            let cooling = share * (SLOPE * hot - inlet) / SLOPE;
            let duty = Duty {
                hot_water_celsius: hot,
                cold_water_celsius: hot - cooling,
                entering_air,
                water_to_air,
            };
            let (near, exit) = solve(&duty, number, &mut rates, &mut work).unwrap();
            assert_relative_eq!(near, number, max_relative = 2e-2);
            let gained = water_to_air * HEAT * cooling;
            assert_relative_eq!(exit.enthalpy, inlet + gained, max_relative = 1e-6);
            let found = extrapolated_number(&duty, near, &mut rates, &mut work);
            assert_relative_eq!(found, number, max_relative = 1e-3);
        }
        // A march more on any grid would ask for thousands of rates more.
        assert!(asked < 64_000, "{asked}");
    }
}
