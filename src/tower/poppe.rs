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

/// Steps of the Runge-Kutta method along the water that an ordinary duty takes. Half as many come
/// first: what the two differ by bounds the error.
const STEPS: usize = 8;

/// Steps beyond which a duty is taken for pinched where it takes up no heat on the way.
const STEPS_TO_A_PINCH: usize = 64;

/// Steps beyond which a duty counts as pinched where the answer has not settled.
const MOST_STEPS: usize = 2048;

/// What evaporation and transfer number may differ by between so many steps and half as many. The
/// error of the finer is at most this where the kink of saturation spoils the method's order, and
/// about a fifteenth where nothing does.
const SETTLED: [f64; 2] = [5e-4, 2e-3];

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
/// with the exit humidity that fixes the local water flow solved for. Steps are doubled until
/// evaporation is within 0.05 % and the transfer number within 0.2 % of the equations' own; a duty
/// so near a pinch that this cannot be had is refused as one.
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

/// The search for the exit humidity, which sets the water flow at the cold end.
struct Search {
    exit_humidity_ratio: f64,
    /// Of the error (what an integration finds less what it assumed) along what it assumed. The
    /// exit humidity comes back nearly unchanged: -1 to begin with.
    slope: f64,
}

impl Search {
    /// Exit air and transfer number by every `stride`-th node, with the exit humidity to `within`.
    fn run(
        &mut self,
        duty: &Duty,
        (nodes, stride): (&[Interface], usize),
        within: f64,
        saturated: &mut Saturated,
    ) -> Option<(Air, f64)> {
        let mut previous: Option<(f64, f64)> = None;
        for _ in 0..20 {
            let assumed = self.exit_humidity_ratio;
            let (exit, number) = pass(duty, (nodes, stride), assumed, saturated)?;
            let error = exit.humidity_ratio - assumed;
            if error.abs() < within {
                return Some((exit, number));
            }
            if let Some((at, was)) = previous
                && (error - was).abs() > 0.0
            {
                self.slope = (error - was) / (assumed - at);
            }
            previous = Some((assumed, error));
            self.exit_humidity_ratio = assumed - error / self.slope;
        }
        None
    }
}

/// Exit air and transfer number; `None` where the driving force vanishes on the way, or so nearly
/// that no number of steps settles the answer. `near` is the exit humidity of a duty like this one,
/// where there is one.
///
/// Steps are doubled until evaporation and transfer number are [`SETTLED`].
fn integrated(duty: &Duty, near: Option<f64>) -> Option<(Air, f64)> {
    let pressure = duty.entering_air.pressure_pascal;
    let entering = duty.entering_air.humidity_ratio;
    let rule = || entering + duty.water_to_air * super::rule::perry(duty.range_kelvin());
    let start = near.unwrap_or_else(rule);
    let mut saturated = Saturated::at(duty.entering_air.dry_bulb_celsius, pressure);
    let mut search = Search { exit_humidity_ratio: start, slope: -1.0 };
    // Saturation at the water's nodes and between them: once for all passes of both.
    let mut nodes = [Interface::default(); 2 * STEPS + 1];
    fill(&mut nodes, duty);
    let mut coarse = search.run(duty, (&nodes, 2), 1e-6, &mut saturated);
    let mut fine = search.run(duty, (&nodes, 1), 1e-9, &mut saturated);
    let mut steps = STEPS;
    while !settled(coarse, fine, entering) {
        if steps >= MOST_STEPS || (fine.is_none() && steps >= STEPS_TO_A_PINCH) {
            return None;
        }
        steps *= 2;
        if fine.is_none() {
            search = Search { exit_humidity_ratio: start, slope: -1.0 };
        }
        let mut nodes = vec![Interface::default(); 2 * steps + 1];
        fill(&mut nodes, duty);
        coarse = fine;
        fine = search.run(duty, (&nodes, 1), 1e-9, &mut saturated);
    }
    fine
}

/// Whether two integrations, the second with twice the steps, agree.
fn settled(coarse: Option<(Air, f64)>, fine: Option<(Air, f64)>, entering: f64) -> bool {
    let (Some((coarse, coarse_number)), Some((fine, number))) = (coarse, fine) else {
        return false;
    };
    let humidity = (fine.humidity_ratio - coarse.humidity_ratio).abs();
    // Where next to nothing evaporates, no share of it is asked for: 1e-7 is 0.1 g in a tonne of air.
    humidity <= (SETTLED[0] * (fine.humidity_ratio - entering).abs()).max(1e-7)
        && (number - coarse_number).abs() <= SETTLED[1] * number
}

/// Saturation at places evenly along the water, from the cold end.
fn fill(nodes: &mut [Interface], duty: &Duty) {
    let apart = duty.range_kelvin() / (nodes.len() - 1) as f64;
    for (index, node) in nodes.iter_mut().enumerate() {
        let celsius = duty.cold_water_celsius + index as f64 * apart;
        *node = Interface::at(celsius, duty.entering_air.pressure_pascal);
    }
}

/// One integration with an assumed exit humidity, by every `stride`-th node.
fn pass(
    duty: &Duty,
    (nodes, stride): (&[Interface], usize),
    exit_humidity_ratio: f64,
    near: &mut Saturated,
) -> Option<(Air, f64)> {
    let pressure = duty.entering_air.pressure_pascal;
    let step = duty.range_kelvin() * (2 * stride) as f64 / (nodes.len() - 1) as f64;
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
    for at in (0..nodes.len() - 1).step_by(2 * stride) {
        let (middle, end) = (&nodes[at + stride], &nodes[at + 2 * stride]);
        let first = rates(&nodes[at], air)?;
        let second = rates(middle, moved(air, &first, 0.5 * step))?;
        let third = rates(middle, moved(air, &second, 0.5 * step))?;
        let fourth = rates(end, moved(air, &third, step))?;
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

    /// Evaporation and transfer number jump where the number of steps changes. A step of one standard
    /// uncertainty moves them by parts in a hundred; these jumps are parts in a hundred thousand.
    #[test]
    fn where_the_number_of_steps_changes_hardly_anything_jumps() {
        let entering_air = air::MoistAir::from_wet_bulb(30.0, 22.0, 101_325.0).unwrap();
        let at = |water_to_air| {
            let duty = Duty {
                hot_water_celsius: 35.0,
                cold_water_celsius: 24.5,
                entering_air,
                water_to_air,
            };
            let found = counterflow(&duty).unwrap();
            [found.evaporation_per_water, found.merkel_number].map(f64::ln)
        };
        // From KaV/L 2.3 to 5.9. The curve bends by far less than it jumps from one of these to the next.
        let course: Vec<_> = (0..2_000).map(|i| at(0.5 + 0.000_35 * f64::from(i))).collect();
        assert!(course.last().unwrap()[1].exp() > 4.0);
        for (result, most) in [(0, 1e-4), (1, 1e-4)] {
            let bends = course
                .windows(3)
                .map(|three| (three[2][result] - 2.0 * three[1][result] + three[0][result]).abs());
            let largest = bends.fold(0.0, f64::max);
            assert!(largest < most, "{result}: {largest}");
        }
    }
}
