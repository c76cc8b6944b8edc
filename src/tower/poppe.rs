//! Poppe's method: the full equations of heat and mass transfer, with the Lewis factor of
//! Bosnjakovic and with air that turns supersaturated (Poppe and Rögener 1991, VDI-Wärmeatlas, Mi;
//! as set out by Kloppers and Kröger 2005, Int. J. Heat Mass Transfer 48, 765).

pub use super::field::CrossflowWorkspace;
use super::field::{self, Air, Outlets, Rates, Water};
use super::{Duty, Exchange, TowerError};
use crate::air::{self, Saturated, VAPORISATION, VAPOUR_HEAT, WATER_HEAT};

/// Where the equations are published.
pub const SOURCE: &str = "Poppe and Rögener (1991), VDI-Wärmeatlas, Mi; as set out by Kloppers and Kröger (2005), Int. J. Heat Mass Transfer 48, 765";

/// The equations, for people.
pub const EQUATIONS: [(&str, &str); 4] = [
    (
        "dw/dT = cp mw/ma (ws - wa) / D",
        "humidity ratio of the air along the water's temperature; wa is w, or saturation at the air's own temperature where it is supersaturated",
    ),
    ("di/dT = cp mw/ma (1 + (ws - wa) cp T / D)", "enthalpy of the air"),
    (
        "dMe/dT = cp / D,  D = is - i + (Le - 1) (is - i - (ws - wa) iv + (w - wa) cp T) + (w - ws) cp T",
        "transfer number",
    ),
    (
        "Le = 0.865^(2/3) ((ws + 0.622) / (wa + 0.622) - 1) / ln((ws + 0.622) / (wa + 0.622))",
        "Lewis factor of Bosnjakovic",
    ),
];

/// Steps of the Runge-Kutta method along the water: 1e-4 in evaporation with supersaturation, far
/// less without.
const STEPS: usize = 8;

/// Saturated air at the water's temperature.
#[derive(Clone, Copy, Default)]
struct Interface {
    celsius: f64,
    humidity_ratio: f64,
    enthalpy: f64,
}

impl Interface {
    fn at(celsius: f64, pressure: f64) -> Self {
        let humidity_ratio = air::saturated(celsius, pressure);
        Self { celsius, humidity_ratio, enthalpy: air::enthalpy(celsius, humidity_ratio) }
    }
}

/// What drives the exchange between water and air at a place.
struct Driving {
    /// Saturation at the water less the vapour of the air, kg/kg.
    humidity: f64,
    /// D of [`EQUATIONS`], J/kg: the heat that the water loses for a unit of mass transfer.
    enthalpy: f64,
}

/// `near` speeds up the search for the air's own saturation, see [`air::vapour`].
fn driving(interface: &Interface, air: Air, pressure: f64, near: &mut Saturated) -> Driving {
    let vapour = air::vapour(air.enthalpy, air.humidity_ratio, pressure, near);
    let humidity = interface.humidity_ratio - vapour;
    let lewis = lewis_factor(interface.humidity_ratio, vapour);
    let liquid = WATER_HEAT * interface.celsius;
    let difference = interface.enthalpy - air.enthalpy;
    let sensible = difference - humidity * (VAPORISATION + VAPOUR_HEAT * interface.celsius)
        + (air.humidity_ratio - vapour) * liquid;
    let enthalpy = difference
        + (lewis - 1.0) * sensible
        + (air.humidity_ratio - interface.humidity_ratio) * liquid;
    Driving { humidity, enthalpy }
}

/// Bosnjakovic's Lewis factor for air over water.
fn lewis_factor(saturated: f64, vapour: f64) -> f64 {
    /// 0.865^(2/3)
    const STILL: f64 = 0.907_842_977_110_144_9;
    let excess = (saturated + 0.622) / (vapour + 0.622) - 1.0;
    // The quotient is 0/0 where the air is saturated at the water's temperature; it tends to 1.
    if excess.abs() < 1e-6 { STILL * (1.0 + 0.5 * excess) } else { STILL * excess / excess.ln_1p() }
}

/// Counterflow: Runge-Kutta along the water's temperature from the cold end, where the air enters,
/// with the exit humidity that fixes the local water flow solved for.
///
/// # Errors
/// [`TowerError`]: numbers out of range, no range, cold water at the wet bulb, a pinch.
pub fn counterflow(duty: &Duty) -> Result<Exchange, TowerError> {
    duty.check()?;
    match integrated(duty, None) {
        Some((exit, number)) => {
            Ok(Exchange::of_exit(duty, (exit.humidity_ratio, exit.enthalpy), number))
        }
        None => Err(TowerError::Pinch {
            water_to_air: duty.water_to_air,
            limiting_water_to_air: duty.limiting_ratio(|duty| integrated(duty, None).is_some()),
        }),
    }
}

/// Exit air and transfer number; `None` where the driving force vanishes on the way. `near` is the
/// exit humidity of a duty like this one, where there is one.
fn integrated(duty: &Duty, near: Option<f64>) -> Option<(Air, f64)> {
    let rule = || {
        duty.entering_air.humidity_ratio
            + duty.water_to_air * super::rule::perry(duty.range_kelvin())
    };
    let pressure = duty.entering_air.pressure_pascal;
    let mut saturated = Saturated::at(duty.entering_air.dry_bulb_celsius, pressure);
    let half_step = duty.range_kelvin() / (2 * STEPS) as f64;
    // Saturation at the water's nodes and between them: once for all passes.
    let mut nodes = [Interface::default(); 2 * STEPS + 1];
    for (index, node) in nodes.iter_mut().enumerate() {
        *node = Interface::at(duty.cold_water_celsius + index as f64 * half_step, pressure);
    }
    // The exit humidity sets the water flow at the cold end; it comes back from the integration
    // nearly unchanged, so that a secant needs few passes.
    let mut assumed = near.unwrap_or_else(rule);
    let mut previous: Option<(f64, f64)> = None;
    for _ in 0..20 {
        let (exit, number) = pass(duty, &nodes, assumed, &mut saturated)?;
        let error = exit.humidity_ratio - assumed;
        if error.abs() < 1e-9 {
            return Some((exit, number));
        }
        let next = match previous {
            Some((at, was)) if (error - was).abs() > 0.0 => {
                assumed - error * (assumed - at) / (error - was)
            }
            _ => exit.humidity_ratio,
        };
        previous = Some((assumed, error));
        assumed = next;
    }
    None
}

/// One integration with an assumed exit humidity.
fn pass(
    duty: &Duty,
    nodes: &[Interface],
    exit_humidity_ratio: f64,
    near: &mut Saturated,
) -> Option<(Air, f64)> {
    let pressure = duty.entering_air.pressure_pascal;
    let step = duty.range_kelvin() / STEPS as f64;
    // Rates along the water's temperature: humidity ratio, enthalpy, transfer number.
    let mut rates = |interface: &Interface, air: Air| -> Option<[f64; 3]> {
        let driving = driving(interface, air, pressure, near);
        // Written so that a NaN counts as a pinch.
        if !(driving.enthalpy > 0.0) {
            return None;
        }
        let water_to_air = duty.water_to_air - (exit_humidity_ratio - air.humidity_ratio);
        let transfer = WATER_HEAT / driving.enthalpy;
        let humidity = water_to_air * driving.humidity * transfer;
        Some([humidity, WATER_HEAT * (water_to_air + humidity * interface.celsius), transfer])
    };
    let moved = |air: Air, rates: &[f64; 3], by: f64| Air {
        humidity_ratio: air.humidity_ratio + by * rates[0],
        enthalpy: air.enthalpy + by * rates[1],
    };
    let mut air = Air {
        humidity_ratio: duty.entering_air.humidity_ratio,
        enthalpy: duty.entering_air.enthalpy_j_per_kg(),
    };
    let mut number = 0.0;
    for nodes in nodes.windows(3).step_by(2) {
        let first = rates(&nodes[0], air)?;
        let second = rates(&nodes[1], moved(air, &first, 0.5 * step))?;
        let third = rates(&nodes[1], moved(air, &second, 0.5 * step))?;
        let fourth = rates(&nodes[2], moved(air, &third, step))?;
        let mean: [f64; 3] =
            std::array::from_fn(|i| (first[i] + 2.0 * (second[i] + third[i]) + fourth[i]) / 6.0);
        air = moved(air, &mean, step);
        number += step * mean[2];
    }
    Some((air, number))
}

/// Crossflow: the field of both streams, matched to the mean outlet water. The transfer number
/// counts the inlet water flow; it is that of a coarse grid, within 2 %: for a closer one see
/// [`crossflow_number`].
///
/// # Errors
/// As [`counterflow`]; a pinch as well where no fill has the transfer number that the duty asks for.
pub fn crossflow(duty: &Duty, work: &mut CrossflowWorkspace) -> Result<Exchange, TowerError> {
    let guess = field::guess(counterflow(duty))?;
    let (number, exit) = field::solve(duty, guess, &mut crossflow_rates(duty), work)?;
    Ok(Exchange::of_exit(duty, (exit.humidity_ratio, exit.enthalpy), number))
}

/// Transfer number and exit humidity of a counterflow duty; `None` at a pinch. `near` is the exit
/// humidity of a duty like it, where there is one.
pub(super) fn counterflow_number(duty: &Duty, near: Option<f64>) -> Option<(f64, f64)> {
    integrated(duty, near).map(|(exit, number)| (number, exit.humidity_ratio))
}

/// Outlets of a crossflow fill of this transfer number, whatever cold water the duty states.
pub(super) fn crossflow_outlets(
    duty: &Duty,
    number: f64,
    work: &mut CrossflowWorkspace,
) -> Outlets {
    field::outlets(duty, number, &mut crossflow_rates(duty), work)
}

/// The transfer number of a crossflow duty, extrapolated from two grids.
///
/// # Errors
/// As [`crossflow`].
pub fn crossflow_number(duty: &Duty, work: &mut CrossflowWorkspace) -> Result<f64, TowerError> {
    let near = crossflow(duty, work)?.merkel_number;
    Ok(field::extrapolated_number(duty, near, &mut crossflow_rates(duty), work))
}

fn crossflow_rates(duty: &Duty) -> impl FnMut(Water, Air) -> Rates + use<> {
    let pressure = duty.entering_air.pressure_pascal;
    let mut near = Saturated::at(duty.entering_air.dry_bulb_celsius, pressure);
    move |water, air| {
        let interface = Interface::at(water.celsius, pressure);
        let driving = driving(&interface, air, pressure, &mut near);
        let liquid = driving.humidity * WATER_HEAT * interface.celsius;
        Rates {
            celsius: -driving.enthalpy / (water.mass * WATER_HEAT),
            mass: -driving.humidity,
            humidity_ratio: driving.humidity,
            enthalpy: driving.enthalpy + liquid,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn the_lewis_factor_passes_smoothly_through_air_as_humid_as_the_waters_surface() {
        let still = 0.865_f64.powf(2.0 / 3.0);
        assert_relative_eq!(lewis_factor(0.02, 0.02), still, max_relative = 1e-12);
        // By its series about there: 1 + x / 2 - x^2 / 12.
        for vapour in [0.015, 0.019_9, 0.019_999_5, 0.020_000_5, 0.020_1, 0.025] {
            let x = (0.02 + 0.622) / (vapour + 0.622) - 1.0;
            let series = still * (1.0 + x / 2.0 - x * x / 12.0);
            assert_relative_eq!(lewis_factor(0.02, vapour), series, max_relative = 1e-7);
        }
        // Far from it, by the definition: 0.865^(2/3) x / ln(1 + x).
        let x: f64 = (0.05 + 0.622) / (0.01 + 0.622) - 1.0;
        assert_relative_eq!(
            lewis_factor(0.05, 0.01),
            still * x / (1.0 + x).ln(),
            max_relative = 1e-9
        );
    }
}
