//! The carbon dioxide of tower water: a pressure that somebody knows, or a field line of pH against
//! alkalinity.
//!
//! Field lines are published as pH = a log10(alkalinity) + b. They are carried as the carbon dioxide
//! pressures that they come to at 30 degC, so that temperature, altitude, silica and acid keep their own
//! effect on the pH, and no alkalinity is asked of a water that it cannot have. Tower water of little
//! alkalinity holds more carbon dioxide than that of much.

use crate::chemistry::Constituent;

/// Where the field lines are published.
pub const LINES_SOURCE: &str =
    "field lines of pH against alkalinity as compared by Vanderpool (2004, AWT Analyst)";

/// log10 of the carbon dioxide pressure in atm along a line, against log10 of the alkalinity.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Line {
    /// At 100 mg/L as CaCO3.
    at_hundred: f64,
    /// Fall for ten times the alkalinity.
    fall: f64,
}

/// pH = 1.6 log10(alkalinity) + 4.4 (Kunz, after Vanderpool 2004): the middle of what towers show.
const KUNZ: Line = Line { at_hundred: -2.5, fall: 0.7 };
/// pH = 1.465 log10(alkalinity) + 4.54 (Puckorius, after Vanderpool 2004; UFC 3-240-13FN): the published
/// line with the most carbon dioxide.
const PUCKORIUS: Line = Line { at_hundred: -2.37, fall: 0.53 };
/// log10 of the carbon dioxide pressure of air at sea level, atm: some 400 ppm.
const AIR: f64 = -3.4;
/// No tower water is taken to hold more than this, log10 of atm: the usual band ends there (common
/// practice), and the lines were not made for less alkalinity than some 20 mg/L.
const MOST: f64 = -2.0;

impl Line {
    fn at(self, alkalinity: f64) -> f64 {
        self.at_hundred - self.fall * (alkalinity / 100.0).log10()
    }
}

/// What fixes the carbon dioxide of the circulating water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CarbonDioxide {
    /// This pressure, log10 of atm.
    Pressure(f64),
    /// The pressure that a reading of the tower's pH implies. With more alkalinity than it was read at the pressure
    /// falls as along Kunz' line, to that of air at the least; with less it stays: so that one reading in a weak water
    /// leads no strong one away from scale.
    Reading {
        /// log10 of atm.
        log10: f64,
        /// Of the water at the cycles of the reading, eq/kg.
        alkalinity: f64,
        /// log10 of the air's pressure in standard atmospheres.
        log10_air_pressure: f64,
    },
    /// The field lines.
    FieldLine {
        /// Where between the lines, -1 to 1: Puckorius' line, Kunz' line at 0, equilibrium with air.
        toward_air: f64,
        /// log10 of the air's pressure in standard atmospheres: gas is thinner higher up.
        log10_air_pressure: f64,
    },
}

impl CarbonDioxide {
    /// log10 of the pressure, atm, over a water of this alkalinity, eq/kg.
    pub fn log10_pressure(self, alkalinity: f64) -> f64 {
        match self {
            Self::Pressure(log10) => log10,
            Self::Reading { log10, alkalinity: read_at, log10_air_pressure } => {
                let least = log10.min(AIR + log10_air_pressure);
                let fallen = KUNZ.fall * (alkalinity / read_at).max(1.0).log10();
                (log10 - fallen).max(least)
            }
            Self::FieldLine { toward_air, log10_air_pressure } => {
                // A water without alkalinity stands at the end of the lines.
                let alkalinity = Constituent::Alkalinity.milligram_per_litre(alkalinity).max(1.0);
                let kunz = KUNZ.at(alkalinity);
                let toward = if toward_air < 0.0 { PUCKORIUS.at(alkalinity) } else { AIR };
                let between = kunz + toward_air.abs() * (toward - kunz);
                between.clamp(AIR, MOST) + log10_air_pressure
            }
        }
    }

    /// The formula and its numbers for an alkalinity of so many mg/L as CaCO3; `None` of a known pressure.
    pub fn working(self, alkalinity: f64) -> Option<[String; 2]> {
        if let Self::Reading { log10, alkalinity: read_at, .. } = self {
            let read_at = Constituent::Alkalinity.milligram_per_litre(read_at);
            let found = self.log10_pressure(Constituent::Alkalinity.mole_per_kg(alkalinity));
            let fall = KUNZ.fall;
            let is_on_line = (log10 - fall * (alkalinity / read_at).log10() - found).abs() < 1e-6;
            let [log10, alkalinity, read_at] =
                [log10, alkalinity, read_at].map(|number| crate::quantity::significant(number, 8));
            return (is_on_line && alkalinity != read_at).then(|| {
                [
                    format!(
                        "log10_carbon_dioxide = read - {fall} * log10(alkalinity / alkalinity of the reading)"
                    ),
                    format!("= {log10} - {fall} * log10({alkalinity} / {read_at})"),
                ]
            });
        }
        let Self::FieldLine { toward_air, log10_air_pressure } = self else { return None };
        let pressure = "log10(air pressure / standard atmosphere)";
        let line = |Line { at_hundred, fall }: Line, alkalinity: &str| {
            format!("({at_hundred} - {fall} * log10({alkalinity} / 100))")
        };
        let eight = |number: f64| crate::quantity::significant(number, 8);
        let formula = |alkalinity: &str, toward: &str, air_pressure: &str| {
            let kunz = line(KUNZ, alkalinity);
            let end =
                if toward_air < 0.0 { line(PUCKORIUS, alkalinity) } else { format!("({AIR})") };
            format!("{kunz} + {toward} * ({end} - {kunz}) + {air_pressure}")
        };
        let found = self.log10_pressure(Constituent::Alkalinity.mole_per_kg(alkalinity));
        let bounds = [AIR, MOST].into_iter();
        let bound = bounds.min_by(|a, b| {
            let off = |bound: &f64| (found - log10_air_pressure - bound).abs();
            off(a).total_cmp(&off(b))
        });
        let at_bound = bound.filter(|bound| (found - log10_air_pressure - bound).abs() < 1e-9);
        let [of, numbers] = match at_bound {
            Some(bound) => [
                format!("{bound} (the lines lead no further) + {pressure}"),
                format!("{bound} + {}", eight(log10_air_pressure)),
            ],
            None => [
                formula("alkalinity", "abs(toward_air)", pressure),
                formula(&eight(alkalinity), &eight(toward_air.abs()), &eight(log10_air_pressure)),
            ],
        };
        Some([format!("log10_carbon_dioxide = {of}"), format!("= {numbers}")])
    }

    /// By how much log10 of the pressure falls where the alkalinity rises tenfold.
    pub(super) fn fall(self) -> f64 {
        match self {
            Self::Pressure(_) | Self::Reading { .. } => 0.0,
            Self::FieldLine { toward_air, .. } if toward_air < 0.0 => {
                KUNZ.fall - toward_air * (PUCKORIUS.fall - KUNZ.fall)
            }
            Self::FieldLine { toward_air, .. } => KUNZ.fall * (1.0 - toward_air),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::blowdown::{PhBasis, TowerWater};
    use crate::chemistry::index::ph_of_alkalinity;
    use crate::chemistry::{Component, Composition};
    use approx::assert_abs_diff_eq;

    /// mg/L as CaCO3 in eq/kg.
    fn alkalinity(milligram_per_litre: f64) -> f64 {
        Constituent::Alkalinity.mole_per_kg(milligram_per_litre)
    }

    /// A hard bicarbonate water on a line, at 30 degC.
    fn ph(alkalinity: f64, toward_air: f64) -> f64 {
        let mut water = Composition::default();
        water.alkalinity = alkalinity;
        water.set(Component::Calcium, 0.3 * alkalinity);
        water.set(Component::Magnesium, 0.1 * alkalinity);
        water.set(Component::Sodium, 0.2 * alkalinity);
        let basis = PhBasis::Free(CarbonDioxide::FieldLine { toward_air, log10_air_pressure: 0.0 });
        let tower = TowerWater::new(water, basis, 30.0, 45.0).unwrap();
        tower.at_cycles(1.0).unwrap().basin.ph
    }

    /// The pH that the lines print, Vanderpool (2004, AWT Analyst), for alkalinities of 50 to 500 mg/L as
    /// CaCO3. Pressures are rounded to two digits, which leaves some 0.03 of pH.
    #[test]
    fn the_lines_give_the_ph_that_they_print() {
        for milligram in [50.0, 100.0, 200.0, 300.0, 500.0] {
            let kunz = ph_of_alkalinity(milligram);
            let puckorius = 1.465 * f64::log10(milligram) + 4.54;
            let air = 0.92 * f64::log10(milligram) + 6.6;
            let water = alkalinity(milligram);
            assert_abs_diff_eq!(ph(water, 0.0), kunz, epsilon = 0.03);
            assert_abs_diff_eq!(ph(water, -1.0), puckorius, epsilon = 0.03);
            // Air of 2004, and ion pairs that its line leaves out.
            assert_abs_diff_eq!(ph(water, 1.0), air, epsilon = 0.06);
        }
    }

    /// By hand: from -2.5 at 440 mg/L as CaCO3 to 880 it falls by 0.7 log10(2), 0.2107, and at 1 eq/kg it is air's.
    #[test]
    fn a_reading_keeps_to_the_line_upwards_and_stays_downwards() {
        let of = |log10, milligram: f64| {
            let alkalinity_read = alkalinity(440.0);
            CarbonDioxide::Reading { log10, alkalinity: alkalinity_read, log10_air_pressure: 0.0 }
                .log10_pressure(alkalinity(milligram))
        };
        assert_abs_diff_eq!(of(-2.5, 440.0), -2.5, epsilon = 1e-12);
        assert_abs_diff_eq!(of(-2.5, 880.0), -2.7107, epsilon = 1e-4);
        assert_abs_diff_eq!(of(-2.5, 110.0), -2.5, epsilon = 1e-12);
        assert_abs_diff_eq!(of(-2.5, 50_000.0), AIR, epsilon = 1e-12);
        // Less than the air's, as it was read.
        assert_abs_diff_eq!(of(-3.6, 880.0), -3.6, epsilon = 1e-12);
    }

    #[test]
    fn no_line_leads_below_air_or_beyond_what_towers_hold() {
        let at = |toward_air, milligram: f64| {
            CarbonDioxide::FieldLine { toward_air, log10_air_pressure: 0.0 }
                .log10_pressure(alkalinity(milligram))
        };
        for toward_air in [-1.0, -0.3, 0.0, 0.6, 1.0] {
            for milligram in [0.0, 1.0, 20.0, 130.0, 800.0, 5_000.0] {
                assert!((AIR..=MOST).contains(&at(toward_air, milligram)));
            }
            assert!(at(toward_air, 100.0) >= at(toward_air, 300.0));
        }
        assert!(at(-1.0, 300.0) > at(0.0, 300.0) && at(0.0, 300.0) > at(1.0, 300.0));
    }

    /// Acid to 7.8 leaves the alkalinity for which the line of Kunz prints 7.8 (133 mg/L as CaCO3), within 0.1
    /// of pH: a fifth of what such lines are good to (CTI paper 91-08, abstract).
    #[test]
    fn acid_leaves_the_alkalinity_of_the_line() {
        let mut water = Composition::default();
        water.alkalinity = alkalinity(310.0);
        water.set(Component::Calcium, 0.4 * water.alkalinity);
        water.set(Component::Sodium, 0.2 * water.alkalinity);
        let basis = |toward_air| PhBasis::Held {
            ph: 7.8,
            acid: crate::site::Acid::Sulfuric,
            gas: CarbonDioxide::FieldLine { toward_air, log10_air_pressure: 0.0 },
        };
        let left = |toward_air, cycles| {
            let tower = TowerWater::new(water, basis(toward_air), 30.0, 45.0).unwrap();
            let held = tower.at_cycles(cycles).unwrap();
            assert_abs_diff_eq!(held.basin.ph, 7.8, epsilon = 1e-6);
            Constituent::Alkalinity.milligram_per_litre(held.composition.alkalinity)
        };
        for cycles in [1.0, 3.0, 8.0] {
            let printed = ph_of_alkalinity(left(0.0, cycles));
            assert_abs_diff_eq!(printed, 7.8, epsilon = 0.1);
            assert!(
                left(-1.0, cycles) > left(0.0, cycles) && left(0.0, cycles) > left(1.0, cycles)
            );
        }
    }
}
