//! Merkel's method (Merkel 1925): the difference of enthalpies drives the exchange, the water flow
//! is constant, and the exit air is saturated.

use super::field::{self, Air, CrossflowWorkspace, Rates, Water};
use super::{Duty, Exchange, TowerError, WATER_SPECIFIC_HEAT_J_PER_KG_K};
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
fn saturation_enthalpy(celsius: f64, pressure: f64) -> f64 {
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
