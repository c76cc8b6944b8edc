//! Waters and their conductivity.

use super::random::Random;

/// Ions that carry the current, in the order of [`IONS`].
pub const COUNT: usize = 8;
pub const CALCIUM: usize = 0;
pub const MAGNESIUM: usize = 1;
pub const SODIUM: usize = 2;
pub const POTASSIUM: usize = 3;
pub const BICARBONATE: usize = 4;
pub const CHLORIDE: usize = 5;
pub const SULFATE: usize = 6;
pub const NITRATE: usize = 7;

/// An ion: charge, and equivalent conductivity at infinite dilution and 25 °C, S cm2/eq (Robinson and Stokes 1959,
/// from memory).
struct Ion {
    charge: f64,
    conductivity: f64,
}

const IONS: [Ion; COUNT] = [
    Ion { charge: 2.0, conductivity: 59.5 },
    Ion { charge: 2.0, conductivity: 53.1 },
    Ion { charge: 1.0, conductivity: 50.1 },
    Ion { charge: 1.0, conductivity: 73.5 },
    Ion { charge: -1.0, conductivity: 44.5 },
    Ion { charge: -1.0, conductivity: 76.3 },
    Ion { charge: -2.0, conductivity: 80.0 },
    Ion { charge: -1.0, conductivity: 71.5 },
];

/// Equivalents of each ion, meq/L.
pub type Ions = [f64; COUNT];

/// Conductivity at 25 °C, µS/cm.
///
/// Debye, Hückel and Onsager's law with the ions' size in the denominator (Robinson and Stokes 1959, from memory):
/// each ion is held back by the mean ion of the opposite charge. Calcium and magnesium pair with sulfate, and carry
/// nothing then: constants 10^2.3 and 10^2.37 (Davies 1962, from memory), activities after Davies.
pub fn conductivity(ions: &Ions) -> f64 {
    let mut free = *ions;
    // The pairs that there are change the ionic strength, and that the pairs: two rounds are enough.
    for _ in 0..2 {
        let root = strength(&free).sqrt();
        let activity = (-4.0 * 1.17 * (root / (1.0 + root) - 0.3 * root * root)).exp();
        // Equivalents in meq/L to mol/L; the square of the activity of two charges.
        let factor = 0.5e-3 * activity * activity;
        let mut sulfate = free[SULFATE];
        for _ in 0..3 {
            sulfate =
                ions[SULFATE] / (1.0 + factor * (199.5 * free[CALCIUM] + 234.4 * free[MAGNESIUM]));
            free[CALCIUM] = ions[CALCIUM] / (1.0 + factor * 199.5 * sulfate);
            free[MAGNESIUM] = ions[MAGNESIUM] / (1.0 + factor * 234.4 * sulfate);
        }
        free[SULFATE] = sulfate;
    }
    carried(&free)
}

/// Ionic strength, mol/L.
fn strength(ions: &Ions) -> f64 {
    IONS.iter().zip(ions).map(|(ion, c)| 0.5e-3 * c * ion.charge.abs()).sum()
}

/// What free ions carry, µS/cm.
fn carried(ions: &Ions) -> f64 {
    let mut mean = [(0.0, 0.0, 0.0); 2]; // equivalents, charge, conductivity
    for (ion, c) in IONS.iter().zip(ions) {
        let side = &mut mean[usize::from(ion.charge > 0.0)];
        *side = (side.0 + c, side.1 + c * ion.charge.abs(), side.2 + c * ion.conductivity);
    }
    if mean[0].0 <= 0.0 || mean[1].0 <= 0.0 {
        return 0.0;
    }
    let mean = mean.map(|(sum, charge, conductivity)| (charge / sum, conductivity / sum));
    let root = strength(ions).sqrt();
    let shielding = root / (1.0 + 1.31 * root);
    IONS.iter()
        .zip(ions)
        .map(|(ion, c)| {
            let (charge, other) = (ion.charge.abs(), mean[usize::from(ion.charge < 0.0)]);
            let q = charge * other.0 * (ion.conductivity + other.1)
                / ((charge + other.0) * (other.0 * ion.conductivity + charge * other.1));
            let relaxation = 0.782 * charge * other.0 * q / (1.0 + q.sqrt());
            let held_back = relaxation * ion.conductivity + 30.3 * charge;
            c * (ion.conductivity - held_back * shielding).max(5.0)
        })
        .sum()
}

/// A source of makeup.
#[derive(Clone, Debug)]
pub struct Source {
    pub name: &'static str,
    /// As it comes from the pipe.
    pub ions: Ions,
    /// What one part of it brings to the basin: less what falls out as scale, more what is dosed.
    pub in_basin: Ions,
    /// mg/L SiO2.
    pub silica: f64,
    pub ph: f64,
}

impl Source {
    /// Draws hard well water or softer surface water. The ranges are those of common drinking waters
    /// (common practice).
    pub fn draw(random: &mut Random, name: &'static str, hard: bool) -> Source {
        let mut ions = [0.0; COUNT];
        if hard {
            ions[CALCIUM] = random.between(2.6, 4.8);
            ions[MAGNESIUM] = ions[CALCIUM] * random.between(0.2, 0.5);
            ions[SODIUM] = random.between(0.6, 2.2);
        } else {
            ions[CALCIUM] = random.between(0.9, 2.4);
            ions[MAGNESIUM] = ions[CALCIUM] * random.between(0.2, 0.45);
            ions[SODIUM] = random.between(0.3, 1.3);
        }
        ions[POTASSIUM] = random.between(0.03, 0.1);
        let total: f64 = ions.iter().sum();
        // The anions share what the cations carry: neutral to the last digit.
        let parts = [
            random.between(0.45, 0.75),
            random.between(0.15, 0.35),
            random.between(0.1, 0.35),
            random.between(0.005, 0.06),
        ];
        let all: f64 = parts.iter().sum();
        for (ion, part) in [BICARBONATE, CHLORIDE, SULFATE, NITRATE].into_iter().zip(parts) {
            ions[ion] = total * part / all;
        }
        let mut in_basin = ions;
        // A little of the hardness falls out as scale in every plant; hypochlorite and inhibitor bring sodium and
        // chloride (common practice: a few per cent of the basin's salts).
        let scale = random.between(0.0, 0.05) * ions[BICARBONATE].min(ions[CALCIUM]);
        in_basin[CALCIUM] -= scale;
        in_basin[BICARBONATE] -= scale;
        let dosed = random.between(0.005, 0.04) * total;
        in_basin[SODIUM] += dosed;
        in_basin[CHLORIDE] += dosed;
        Source {
            name,
            ions,
            in_basin,
            silica: random.between(4.0, 20.0),
            ph: random.between(7.2, 8.0),
        }
    }

    /// Conductivity at 25 °C at this strength, µS/cm.
    pub fn conductivity(&self, strength: f64) -> f64 {
        conductivity(&self.ions.map(|c| c * strength))
    }
}

/// Conductivity of the basin's water, µS/cm at 25 °C, where it holds `parts` of each source's salts.
///
/// Above some 13 meq/L of alkalinity calcite falls out in spite of inhibitors (650 mg/L as CaCO3; common
/// practice for the most that treatments bear).
pub fn basin_conductivity(sources: &[Source], parts: [f64; 2]) -> f64 {
    let mut ions = [0.0; COUNT];
    for (source, part) in sources.iter().zip(parts) {
        for (sum, c) in ions.iter_mut().zip(source.in_basin) {
            *sum += c * part;
        }
    }
    let falls = (ions[BICARBONATE] - 13.0).clamp(0.0, ions[CALCIUM]);
    ions[BICARBONATE] -= falls;
    ions[CALCIUM] -= falls;
    conductivity(&ions)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn salt(cation: usize, anion: usize, equivalents: f64) -> f64 {
        let mut ions = [0.0; COUNT];
        ions[cation] = equivalents;
        ions[anion] = equivalents;
        conductivity(&ions)
    }

    #[test]
    fn measured_conductivities() {
        // CRC Handbook, equivalent conductivity of aqueous solutions at 25 °C (from memory): KCl 0.01 141.3,
        // NaCl 0.1 106.7, NaCl 0.01 118.4, CaCl2 0.01 120.4, Na2SO4 0.01 112.4, MgSO4 0.01 84.5. Sodium sulfate pairs
        // a little as well, which is left out: it carries 2 % less than computed. Magnesium sulfate in water of its
        // own is the strongest pairing that there is here.
        for (cation, anion, equivalents, known, within) in [
            (POTASSIUM, CHLORIDE, 10.0, 141.3, 0.01),
            (SODIUM, CHLORIDE, 100.0, 106.7, 0.01),
            (SODIUM, CHLORIDE, 10.0, 118.4, 0.01),
            (CALCIUM, CHLORIDE, 10.0, 120.4, 0.015),
            (SODIUM, SULFATE, 10.0, 112.4, 0.03),
            (MAGNESIUM, SULFATE, 10.0, 84.5, 0.05),
        ] {
            let ours = salt(cation, anion, equivalents) / equivalents;
            assert!((ours / known - 1.0).abs() < within, "{cation} {anion}: {ours} {known}");
        }
    }

    #[test]
    fn sources_are_neutral() {
        let mut random = Random::stream(3, "water");
        for hard in [true, false] {
            let source = Source::draw(&mut random, "well", hard);
            for ions in [source.ions, source.in_basin] {
                let charge: f64 = ions[..4].iter().sum::<f64>() - ions[4..].iter().sum::<f64>();
                assert!(charge.abs() < 1e-12);
            }
            let k = source.conductivity(1.0);
            assert!(k > 100.0 && k < 1000.0, "{k}");
        }
    }
}
