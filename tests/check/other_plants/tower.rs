//! Heat and water that a tower gives to the air.
//!
//! The model is that of effectiveness with the specific heat of saturated air (Braun, Klein and Mitchell 1989,
//! ASHRAE Transactions 95(2); from memory). A real tower evaporates a few per cent more or less than it says; that
//! bias is drawn for each plant elsewhere.

use super::air::{Air, saturated_enthalpy, saturated_humidity};

/// Specific heat of water, kJ/(kg K).
pub const WATER_HEAT: f64 = 4.186;

/// How well a fill does: number of transfer units = `factor` (water/air)^(1 + `exponent`).
#[derive(Clone, Copy, Debug)]
pub struct Fill {
    pub factor: f64,
    /// -0.4 to -0.8 (Braun and others).
    pub exponent: f64,
}

/// What the tower is given.
#[derive(Clone, Copy, Debug)]
pub struct Duty {
    /// Dry air, kg/s.
    pub dry_air: f64,
    /// Water over the fill, kg/s.
    pub water: f64,
    /// Heat of the consumers, kW.
    pub heat: f64,
    /// °C.
    pub makeup_temperature: f64,
    /// Blowdown as a part of the evaporation.
    pub blowdown_share: f64,
}

/// Where the circuit settles.
#[derive(Clone, Copy, Debug)]
pub struct Settled {
    /// °C.
    pub hot: f64,
    /// °C.
    pub cold: f64,
    /// kg/s.
    pub evaporation: f64,
}

fn effectiveness(units: f64, ratio: f64) -> f64 {
    let rest = 1.0 - ratio;
    if rest.abs() < 1e-6 {
        return units / (1.0 + units);
    }
    let fall = (-units * rest).exp();
    (1.0 - fall) / (1.0 - ratio * fall)
}

/// Temperature of saturated air of an enthalpy, by Newton's method from a guess.
fn saturated_at(target: f64, pressure: f64, guess: f64) -> f64 {
    let mut t = guess;
    for _ in 0..20 {
        let here = saturated_enthalpy(t, pressure);
        let slope = (saturated_enthalpy(t + 0.05, pressure) - here) / 0.05;
        let step = (target - here) / slope;
        t += step.clamp(-10.0, 10.0);
        if step.abs() < 1e-4 {
            break;
        }
    }
    t
}

/// Heat to the air, kW.
fn transfer(air: &Air, duty: &Duty, units: f64, hot: f64, range: f64) -> f64 {
    let span = range.max(0.2);
    let at_hot = saturated_enthalpy(hot, air.pressure);
    let slope = (at_hot - saturated_enthalpy(hot - span, air.pressure)) / span;
    let ratio = duty.dry_air * slope / (duty.water * WATER_HEAT);
    effectiveness(units, ratio) * duty.dry_air * (at_hot - air.enthalpy)
}

fn evaporation(air: &Air, duty: &Duty, units: f64, heat: f64, hot: f64) -> f64 {
    let decay = (-units).exp();
    let surface = air.enthalpy + heat / duty.dry_air / (1.0 - decay);
    let temperature = saturated_at(surface, air.pressure, hot - 3.0);
    let humidity = saturated_humidity(temperature, air.pressure);
    (duty.dry_air * (humidity - air.humidity) * (1.0 - decay)).max(0.0)
}

/// Where a rising function of a temperature passes zero, within -15 to 75 °C: secants within brackets.
fn root(guess: f64, miss: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (-15.0_f64, 75.0_f64);
    let mut here = guess.clamp(low + 1.0, high);
    let mut before: Option<(f64, f64)> = None;
    for _ in 0..60 {
        let now = miss(here);
        if now > 0.0 {
            high = high.min(here);
        } else {
            low = low.max(here);
        }
        // The first step takes the slope from close by.
        let (other, value) = before.unwrap_or_else(|| (here - 0.5, miss(here - 0.5)));
        let mut next = here - now * (here - other) / (now - value);
        if !(next > low && next < high) {
            next = 0.5 * (low + high);
        }
        let step = next - here;
        before = Some((here, now));
        here = next;
        if step.abs() < 2e-3 {
            break;
        }
    }
    here
}

/// Where hot and cold water settle with this heat, at this air and fan.
///
/// Energy of the whole circuit: the air takes the consumers' heat and the enthalpy of the makeup that evaporates,
/// less what it costs to warm the makeup that is blown down.
pub fn settle(air: &Air, duty: &Duty, fill: &Fill, guess: f64) -> Settled {
    let units = fill.factor * (duty.water / duty.dry_air).powf(1.0 + fill.exponent);
    let range = duty.heat / (duty.water * WATER_HEAT);
    let mut hot = guess;
    let mut evaporated = duty.heat / 2700.0;
    for _ in 0..2 {
        let cold = hot - range;
        let warmed = duty.blowdown_share * (cold - duty.makeup_temperature);
        let wanted = duty.heat + evaporated * WATER_HEAT * (duty.makeup_temperature - warmed);
        hot = root(hot, |hot| transfer(air, duty, units, hot, range) - wanted);
        evaporated = evaporation(air, duty, units, wanted, hot);
    }
    Settled { hot, cold: hot - range, evaporation: evaporated }
}

/// The fill's factor with which a duty gives this cold water at this air, by bisection.
pub fn fill_for(air: &Air, duty: &Duty, exponent: f64, cold: f64) -> Fill {
    let (mut low, mut high) = (0.2_f64, 12.0_f64);
    for _ in 0..40 {
        let factor = (low * high).sqrt();
        let settled = settle(air, duty, &Fill { factor, exponent }, cold + 6.0);
        if settled.cold > cold {
            low = factor;
        } else {
            high = factor;
        }
    }
    Fill { factor: (low * high).sqrt(), exponent }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn duty() -> Duty {
        Duty {
            dry_air: 100.0,
            water: 125.0,
            heat: 125.0 * WATER_HEAT * 6.0,
            makeup_temperature: 15.0,
            blowdown_share: 0.3,
        }
    }

    #[test]
    fn a_design_point_is_met_and_evaporates_as_usual() {
        let air = Air::with_wet_bulb(32.0, 23.0, 101_325.0);
        let fill = fill_for(&air, &duty(), -0.6, 28.0);
        let settled = settle(&air, &duty(), &fill, 30.0);
        assert!((settled.cold - 28.0).abs() < 0.02, "{settled:?}");
        // Common practice: 1 % of the flow for 10 degF (5.6 K); in warm weather somewhat less than all heat as
        // latent heat.
        let share = settled.evaporation / 125.0;
        assert!(share > 0.0085 && share < 0.0115, "{share}");
        // Numbers of transfer units of towers lie between 0.8 and 4.
        assert!(fill.factor > 0.8 && fill.factor < 4.0, "{fill:?}");
    }

    #[test]
    fn cold_air_takes_more_heat_as_sensible_heat() {
        let fill = Fill { factor: 1.8, exponent: -0.6 };
        let part = |dry: f64, wet: f64| {
            let air = Air::with_wet_bulb(dry, wet, 101_325.0);
            settle(&air, &duty(), &fill, 25.0).evaporation * 2450.0 / duty().heat
        };
        let (winter, summer) = (part(0.0, -1.0), part(32.0, 22.0));
        assert!(winter > 0.5 && winter < 0.8, "{winter}");
        assert!(summer > 0.85 && summer < 1.1, "{summer}");
    }

    #[test]
    fn any_duty_settles_where_the_heat_goes() {
        let fill = Fill { factor: 1.8, exponent: -0.6 };
        for wet in [-3.0, 10.0, 25.0] {
            let air = Air::with_wet_bulb(wet + 5.0, wet, 98_000.0);
            for part in [0.02, 0.3, 1.0, 1.3] {
                for fan in [0.1, 0.5, 1.0] {
                    let duty = Duty { heat: part * duty().heat, dry_air: fan * 100.0, ..duty() };
                    let one = settle(&air, &duty, &fill, 5.0);
                    let two = settle(&air, &duty, &fill, 60.0);
                    assert!(
                        (one.hot - two.hot).abs() < 0.02,
                        "{wet} {part} {fan}: {one:?} {two:?}"
                    );
                    assert!((one.evaporation / two.evaporation - 1.0).abs() < 1e-3);
                    // All but what the tower cannot carry at all ends well below boiling.
                    assert!(
                        one.hot < 60.0 || (fan < 0.2 && part > 0.5),
                        "{wet} {part} {fan}: {one:?}"
                    );
                }
            }
        }
    }

    #[test]
    fn without_load_water_comes_to_the_wet_bulb() {
        let air = Air::with_wet_bulb(25.0, 16.0, 101_325.0);
        let idle = Duty { heat: 0.0, makeup_temperature: 0.0, ..duty() };
        let settled = settle(&air, &idle, &Fill { factor: 1.8, exponent: -0.6 }, 25.0);
        // The wet bulb of the thermodynamic definition lies within tenths of the psychrometer's.
        assert!((settled.cold - 16.0).abs() < 0.4, "{settled:?}");
        assert!(settled.evaporation > 0.0);
    }
}
