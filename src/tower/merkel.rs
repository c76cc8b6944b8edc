//! Merkel's method (Merkel 1925): the difference of enthalpies drives the exchange, the water flow
//! is constant, and the exit air is saturated.

use super::field::{self, Air, CrossflowWorkspace, Outlets, Rates, Water};
use super::{Arrangement, Duty, Exchange, TowerError, WATER_SPECIFIC_HEAT_J_PER_KG_K};
use crate::air;
use crate::equation::Equation;

/// Enthalpy of the exit air.
pub const EXIT_ENTHALPY: Equation = Equation {
    id: "merkel_exit_enthalpy",
    text: "exit_enthalpy = entering_enthalpy + 4.186 * water_to_air * range",
    source: "Merkel (1925), as set out by Kloppers and Kröger (2005), Int. J. Heat Mass Transfer 48, 765",
};

/// The transfer number.
pub const NUMBER: &str = "KaV/L = integral of 4.186 dT / (saturation enthalpy at the water - enthalpy of the air), cold to hot";

/// Enthalpy of saturated air at the water's temperature.
pub(super) fn saturation_enthalpy(celsius: f64, pressure: f64) -> f64 {
    air::enthalpy(celsius, air::saturated(celsius, pressure))
}

/// Driving force at the fraction `at` of the range from the cold end, J/kg.
fn driving_force(duty: &Duty, at: f64) -> f64 {
    let celsius = duty.cold_water_celsius + at * duty.range_kelvin();
    let air = duty.entering_air.enthalpy_j_per_kg() + at * enthalpy_rise(duty);
    saturation_enthalpy(celsius, duty.entering_air.pressure_pascal) - air
}

fn enthalpy_rise(duty: &Duty) -> f64 {
    WATER_SPECIFIC_HEAT_J_PER_KG_K * duty.water_to_air * duty.range_kelvin()
}

/// The least that the driving force can be on the way, J/kg. The enthalpy of saturated air is convex in
/// its temperature and that of the air a straight line, so the force lies above its tangents at both
/// ends.
fn least_force(duty: &Duty) -> f64 {
    let pressure = duty.entering_air.pressure_pascal;
    let end = |at: f64| {
        let celsius = duty.cold_water_celsius + at * duty.range_kelvin();
        let (saturation, slope) = air::saturation_enthalpy(celsius, pressure);
        let air = duty.entering_air.enthalpy_j_per_kg() + at * enthalpy_rise(duty);
        (saturation - air, slope * duty.range_kelvin() - enthalpy_rise(duty))
    };
    let (cold, cold_slope) = end(0.0);
    let (hot, hot_slope) = end(1.0);
    if cold_slope >= 0.0 {
        return cold;
    }
    if hot_slope <= 0.0 {
        return hot;
    }
    cold + cold_slope * (hot - hot_slope - cold) / (cold_slope - hot_slope)
}

/// Transfer numbers of counterflow below this have one in crossflow that fills reach.
const SURE_IN_CROSSFLOW: f64 = 3.0;

/// Evaporation of a duty, kg in a kg of inlet water, without its transfer number: the saturated exit of
/// [`EXIT_ENTHALPY`] is all that it takes, once it is sure that a fill can do the duty. `None` where
/// only the whole solution can tell.
///
/// # Errors
/// Those of [`counterflow`] and [`crossflow`] that need no solution.
pub fn sure_evaporation(duty: &Duty, arrangement: Arrangement) -> Result<Option<f64>, TowerError> {
    duty.check()?;
    let force = least_force(duty);
    let bound = WATER_SPECIFIC_HEAT_J_PER_KG_K * duty.range_kelvin() / force;
    let is_sure =
        force > 0.0 && (arrangement == Arrangement::Counterflow || bound < SURE_IN_CROSSFLOW);
    Ok(is_sure.then(|| exchange(duty, f64::NAN).evaporation_per_water))
}

/// Evaporation of a duty, kg in a kg of inlet water; the transfer number is found only where it is
/// needed, see [`sure_evaporation`].
///
/// # Errors
/// As [`counterflow`] or [`crossflow`].
pub fn evaporation(
    duty: &Duty,
    arrangement: Arrangement,
    work: &mut CrossflowWorkspace,
) -> Result<f64, TowerError> {
    if let Some(evaporation) = sure_evaporation(duty, arrangement)? {
        return Ok(evaporation);
    }
    let exchange = match arrangement {
        Arrangement::Counterflow => counterflow(duty)?,
        Arrangement::Crossflow => crossflow(duty, work)?,
    };
    Ok(exchange.evaporation_per_water)
}

/// The saturated exit of [`EXIT_ENTHALPY`] with a transfer number.
fn exchange(duty: &Duty, merkel_number: f64) -> Exchange {
    let enthalpy = duty.entering_air.enthalpy_j_per_kg() + enthalpy_rise(duty);
    let pressure = duty.entering_air.pressure_pascal;
    let celsius = air::saturation_temperature(enthalpy, pressure, duty.hot_water_celsius);
    let humidity_ratio = air::saturated(celsius, pressure);
    Exchange {
        evaporation_per_water: (humidity_ratio - duty.entering_air.humidity_ratio)
            / duty.water_to_air,
        merkel_number,
        exit_enthalpy_j_per_kg: enthalpy,
        exit_humidity_ratio: humidity_ratio,
        exit_temperature_celsius: celsius,
        exit_mist_ratio: 0.0,
    }
}

/// Panels of the quadrature; even, for Simpson's rule.
const PANELS: usize = 64;

/// The integral [`NUMBER`] by Simpson's rule; `None` where the driving force vanishes on the way.
fn number(duty: &Duty) -> Option<f64> {
    let mut sum = 0.0;
    for node in 0..=PANELS {
        let force = driving_force(duty, node as f64 / PANELS as f64);
        if !(force > 0.0) {
            return None;
        }
        let weight = match node {
            0 | PANELS => 1.0,
            odd if odd % 2 == 1 => 4.0,
            _ => 2.0,
        };
        sum += weight / force;
    }
    let step = duty.range_kelvin() / PANELS as f64;
    Some(WATER_SPECIFIC_HEAT_J_PER_KG_K * sum * step / 3.0)
}

/// Counterflow.
///
/// # Errors
/// [`TowerError`]: numbers out of range, no range, cold water at the wet bulb, a pinch.
pub fn counterflow(duty: &Duty) -> Result<Exchange, TowerError> {
    duty.check()?;
    match number(duty) {
        Some(number) => Ok(exchange(duty, number)),
        None => Err(TowerError::Pinch {
            water_to_air: duty.water_to_air,
            limiting_water_to_air: duty.limiting_ratio(|duty| number(duty).is_some()),
        }),
    }
}

/// The transfer number by the four-point Chebyshev rule of the handbooks (at 0.1, 0.4, 0.6 and 0.9
/// of the range), counterflow. Shown for comparison: [`counterflow`] integrates more closely.
///
/// # Errors
/// As [`counterflow`].
pub fn chebyshev_number(duty: &Duty) -> Result<f64, TowerError> {
    counterflow(duty)?;
    let sum: f64 = [0.1, 0.4, 0.6, 0.9].iter().map(|at| 1.0 / driving_force(duty, *at)).sum();
    Ok(WATER_SPECIFIC_HEAT_J_PER_KG_K * duty.range_kelvin() / 4.0 * sum)
}

/// Crossflow: the same exit on the mean. The transfer number is that of a coarse grid, within 2 %:
/// for a closer one see [`crossflow_number`].
///
/// # Errors
/// As [`counterflow`].
pub fn crossflow(duty: &Duty, work: &mut CrossflowWorkspace) -> Result<Exchange, TowerError> {
    let guess = field::guess(counterflow(duty))?;
    let (number, _) = field::solve(duty, guess, &mut crossflow_rates(duty), work)?;
    Ok(exchange(duty, number))
}

/// The transfer number of a counterflow duty; `None` at a pinch.
pub(super) fn counterflow_number(duty: &Duty) -> Option<f64> {
    number(duty)
}

/// Outlets of a crossflow fill of this transfer number, whatever cold water the duty states; the air's
/// humidity is not followed.
pub(super) fn crossflow_outlets(
    duty: &Duty,
    number: f64,
    work: &mut CrossflowWorkspace,
) -> Outlets {
    field::outlets(duty, number, &mut crossflow_rates(duty), work)
}

/// Humidity ratio of the saturated exit of a duty that is known to have one.
pub(super) fn exit_humidity_ratio(duty: &Duty) -> f64 {
    exchange(duty, f64::NAN).exit_humidity_ratio
}

/// The transfer number of a crossflow duty from the field of enthalpies, extrapolated from two
/// grids.
///
/// # Errors
/// As [`counterflow`].
pub fn crossflow_number(duty: &Duty, work: &mut CrossflowWorkspace) -> Result<f64, TowerError> {
    let near = crossflow(duty, work)?.merkel_number;
    Ok(field::extrapolated_number(duty, near, &mut crossflow_rates(duty), work))
}

fn crossflow_rates(duty: &Duty) -> impl Fn(Water, Air) -> Rates + use<> {
    let pressure = duty.entering_air.pressure_pascal;
    move |water, air| {
        let force = saturation_enthalpy(water.celsius, pressure) - air.enthalpy;
        Rates {
            celsius: -force / WATER_SPECIFIC_HEAT_J_PER_KG_K,
            mass: 0.0,
            humidity_ratio: 0.0,
            enthalpy: force,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::MoistAir;
    use crate::random::Seed;

    /// Duties of many kinds, some of which pinch.
    fn duties() -> impl Iterator<Item = Duty> {
        let seed = Seed::new(11);
        (0..20_000).filter_map(move |row| {
            let mut numbers = seed.row(row);
            let mut between = |from: f64, to: f64| from + numbers.uniform() * (to - from);
            let (wet, pressure) = (between(-20.0, 32.0), between(55e3, 105e3));
            let air = MoistAir::from_wet_bulb(wet + between(0.0, 12.0), wet, pressure).ok()?;
            let cold = (wet + between(0.5, 25.0)).max(1.0);
            Some(Duty {
                cold_water_celsius: cold,
                hot_water_celsius: (cold + between(0.5, 25.0)).min(70.0),
                entering_air: air,
                water_to_air: between(0.3, 3.5),
            })
        })
    }

    #[test]
    fn evaporation_alone_is_that_of_the_whole_solution() {
        let mut work = CrossflowWorkspace::default();
        let (mut solved, mut refused) = (0, 0);
        for duty in duties() {
            let alone = evaporation(&duty, Arrangement::Counterflow, &mut work);
            let whole = counterflow(&duty).map(|exchange| exchange.evaporation_per_water);
            assert_eq!(alone, whole, "{duty:?}");
            if alone.is_ok() { solved += 1 } else { refused += 1 }
        }
        assert!(solved > 5_000 && refused > 500, "{solved} {refused}");
    }

    /// The bound on the counterflow number leaves room: what is taken for sure in crossflow is.
    #[test]
    fn what_is_sure_in_crossflow_has_a_fill() {
        let mut work = CrossflowWorkspace::default();
        let (mut sure, mut largest): (usize, f64) = (0, 0.0);
        for duty in duties().filter(|duty| duty.check().is_ok()) {
            let force = least_force(&duty);
            let bound = WATER_SPECIFIC_HEAT_J_PER_KG_K * duty.range_kelvin() / force;
            // Those far from the bound are sure all the more.
            if force > 0.0 && (0.6 * SURE_IN_CROSSFLOW..SURE_IN_CROSSFLOW).contains(&bound) {
                let found = crossflow(&duty, &mut work).unwrap_or_else(|e| panic!("{duty:?}: {e}"));
                largest = largest.max(found.merkel_number);
                sure += 1;
            }
        }
        assert!(sure > 500 && largest < 9.0, "{sure} {largest}");
    }

    /// Very hot water at low pressure is steep: a coarse grid once took these for pinches. Finer grids
    /// (40 to 160 cells each way) have these transfer numbers within 2 %.
    #[test]
    fn very_hot_water_is_no_pinch() {
        let mut work = CrossflowWorkspace::default();
        let hot = |duty: &Duty| duty.hot_water_celsius > 55.0;
        let (mut seen, mut worst): (u32, f64) = (0, 0.0);
        for duty in hot_duties().filter(hot) {
            let Ok(Some(_)) = sure_evaporation(&duty, Arrangement::Crossflow) else { continue };
            let found = crossflow(&duty, &mut work).unwrap_or_else(|e| panic!("{duty:?}: {e}"));
            let fine = crossflow_number(&duty, &mut work).unwrap();
            worst = worst.max((found.merkel_number / fine - 1.0).abs());
            seen += 1;
        }
        assert!(seen > 200 && worst < 0.02, "{seen} {worst}");
    }

    /// Duties of hot water in thin air.
    fn hot_duties() -> impl Iterator<Item = Duty> {
        let seed = Seed::new(6);
        (0..6_000).filter_map(move |row| {
            let mut numbers = seed.row(row);
            let mut between = |from: f64, to: f64| from + numbers.uniform() * (to - from);
            let (wet, pressure) = (between(10.0, 36.0), between(60e3, 105e3));
            let air = MoistAir::from_wet_bulb(wet + between(0.0, 12.0), wet, pressure).ok()?;
            let cold = wet + between(1.0, 8.0);
            Some(Duty {
                cold_water_celsius: cold,
                hot_water_celsius: cold + between(5.0, 32.0),
                entering_air: air,
                water_to_air: between(0.3, 3.5),
            })
        })
    }
}
