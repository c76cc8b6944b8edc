//! The species and minerals of cooling water, with their equilibrium constants.
//!
//! All constants, activity parameters and diffusion coefficients are those of the database
//! `phreeqc.dat` of the U.S. Geological Survey (public domain; Parkhurst and Appelo 2013, USGS
//! Techniques and Methods 6-A43), which names as origin of the carbonate system Plummer and
//! Busenberg (1982, Geochim. Cosmochim. Acta 46, 1011), of most ion pairs Nordstrom et al. (1990,
//! ACS Symposium Series 416, 398), of the WATEQ activity parameters Truesdell and Jones (1974, J.
//! Res. USGS 2, 233). Brucite and beta-tricalcium phosphate are not in it: the constant of the one is
//! that of MINTEQA2 version 4 (Allison et al., US EPA; from memory), that of the other was measured by
//! Gregory, Moreno, Patel and Brown (1974, J. Res. Natl. Bur. Stand. 78A, 667).

use super::Component::{self, *};
use crate::water::ZERO_CELSIUS;

/// Where the constants come from.
///
/// It is the file that phreeqpython 1.6.2 brings (sha256 6bb5ebc1...); a later release gives CaHCO3+, CaSO4, MgSO4,
/// NaHCO3, NaSO4- and NH4SO4- other constants.
pub const SOURCE: &str = "phreeqc.dat, U.S. Geological Survey (Parkhurst and Appelo 2013, Techniques and Methods 6-A43), \
                          in the release that phreeqpython 1.6.2 brings; later ones revise some ion pairs";

/// Gas constant, kJ/(mol K).
const GAS_CONSTANT: f64 = 8.314_462_6e-3;
const KILOCALORIE: f64 = 4.184;

/// How a constant depends on temperature.
#[derive(Debug, Clone, Copy)]
pub(super) enum Constant {
    /// log K = a1 + a2 T + a3 / T + a4 log10 T + a5 / T^2 + a6 T^2.
    Analytic([f64; 6]),
    /// The same up to a temperature, degC, and with an enthalpy, kJ/mol, beyond.
    AnalyticTo([f64; 6], f64, f64),
    /// log K at 25 degC and the enthalpy of the reaction, kJ/mol (van 't Hoff).
    VantHoff(f64, f64),
    /// The same on top of bicarbonate: the pair is formed from it.
    OverBicarbonate(f64, f64),
}

use Constant::{Analytic, AnalyticTo, OverBicarbonate, VantHoff};

impl Constant {
    /// log10 of the constant.
    pub fn log10_at(self, celsius: f64) -> f64 {
        let t = celsius + ZERO_CELSIUS;
        match self {
            Analytic([a1, a2, a3, a4, a5, a6]) => {
                a1 + t * (a2 + t * a6) + (a3 + a5 / t) / t + a4 * t.log10()
            }
            AnalyticTo(terms, last, enthalpy) => {
                Analytic(terms).log10_at(celsius.min(last))
                    + vant_hoff(enthalpy, last, celsius.max(last))
            }
            VantHoff(log_k, enthalpy) => log_k + vant_hoff(enthalpy, 25.0, celsius),
            OverBicarbonate(log_k, enthalpy) => {
                BICARBONATE.log10_at(celsius) + VantHoff(log_k, enthalpy).log10_at(celsius)
            }
        }
    }
}

/// What a log K gains between two temperatures, degC, at an enthalpy, kJ/mol.
fn vant_hoff(enthalpy: f64, from: f64, to: f64) -> f64 {
    let inverse = |celsius: f64| 1.0 / (celsius + ZERO_CELSIUS);
    -enthalpy / (std::f64::consts::LN_10 * GAS_CONSTANT) * (inverse(to) - inverse(from))
}

/// An analytic constant without its last terms.
const fn analytic(a1: f64, a2: f64, a3: f64, a4: f64, a5: f64) -> Constant {
    Analytic([a1, a2, a3, a4, a5, 0.0])
}

/// Formation of bicarbonate from carbonate.
const BICARBONATE: Constant = analytic(107.8871, 0.032_528_49, -5_151.79, -38.925_61, 563_713.9);

/// How a species' activity coefficient depends on ionic strength.
#[derive(Debug, Clone, Copy)]
pub(super) enum Activity {
    /// Ion size in angstrom and slope (Truesdell and Jones 1974).
    Wateq(f64, f64),
    /// Davies (1962) with 0.3.
    Davies,
    /// Uncharged: 0.1 times the ionic strength.
    Neutral,
}

use Activity::{Davies, Neutral, Wateq};

/// A dissolved species, formed from components.
#[derive(Debug)]
pub(super) struct Species {
    pub name: &'static str,
    pub charge: i8,
    /// Equivalents of alkalinity in a mole.
    pub alkalinity: i8,
    /// Components in a mole.
    pub parts: &'static [(Component, i8)],
    /// Water in the reaction, on the components' side.
    pub water: i8,
    pub constant: Constant,
    pub activity: Activity,
    /// Diffusion coefficient at 25 degC, 1e-9 m2/s; 0 where the database has none.
    pub diffusion: f64,
}

const fn species(
    name: &'static str,
    (charge, alkalinity): (i8, i8),
    parts: &'static [(Component, i8)],
    constant: Constant,
    activity: Activity,
    diffusion: f64,
) -> Species {
    Species { name, charge, alkalinity, parts, water: 0, constant, activity, diffusion }
}

const NONE: Constant = VantHoff(0.0, 0.0);
const fn kcal(log_k: f64, kilocalorie: f64) -> Constant {
    VantHoff(log_k, kilocalorie * KILOCALORIE)
}

/// How many species there are.
pub(super) const COUNT: usize = 48;

/// All of them. The first one of a component is its free form.
pub(super) const SPECIES: [Species; COUNT] = [
    species("H+", (1, -1), &[(Hydrogen, 1)], NONE, Wateq(9.0, 0.0), 9.31),
    Species {
        water: 1,
        ..species(
            "OH-",
            (-1, 1),
            &[(Hydrogen, -1)],
            Analytic([293.292_27, 0.136_083_3, -10_576.913, -123.731_58, 0.0, -6.996_455e-5]),
            Wateq(3.5, 0.0),
            5.27,
        )
    },
    species("Ca+2", (2, 0), &[(Calcium, 1)], NONE, Wateq(5.0, 0.165), 0.793),
    species("Mg+2", (2, 0), &[(Magnesium, 1)], NONE, Wateq(5.5, 0.20), 0.705),
    species("Na+", (1, 0), &[(Sodium, 1)], NONE, Wateq(4.08, 0.082), 1.33),
    species("K+", (1, 0), &[(Potassium, 1)], NONE, Wateq(3.5, 0.015), 1.96),
    species("Cl-", (-1, 0), &[(Chloride, 1)], NONE, Wateq(3.63, 0.017), 2.03),
    species("SO4-2", (-2, 0), &[(Sulfate, 1)], NONE, Wateq(5.0, -0.04), 1.07),
    species("NO3-", (-1, 0), &[(Nitrate, 1)], NONE, Wateq(3.0, 0.0), 1.9),
    species("F-", (-1, 0), &[(Fluoride, 1)], NONE, Wateq(3.5, 0.0), 1.46),
    species("NH4+", (1, 0), &[(Ammonium, 1)], NONE, Wateq(2.5, 0.0), 1.98),
    species("CO3-2", (-2, 2), &[(Carbonate, 1)], NONE, Wateq(5.4, 0.0), 0.955),
    species("HCO3-", (-1, 1), &[(Carbonate, 1), (Hydrogen, 1)], BICARBONATE, Wateq(5.4, 0.0), 1.18),
    Species {
        water: -1,
        ..species(
            "CO2",
            (0, 0),
            &[(Carbonate, 1), (Hydrogen, 2)],
            analytic(464.196_5, 0.093_448_13, -26_986.16, -165.759_51, 2_248_628.9),
            Neutral,
            0.0,
        )
    },
    species(
        "HSO4-",
        (-1, -1),
        &[(Sulfate, 1), (Hydrogen, 1)],
        analytic(-56.889, 0.006_473, 2_307.9, 19.885_8, 0.0),
        Davies,
        1.33,
    ),
    species("H4SiO4", (0, 0), &[(Silica, 1)], NONE, Neutral, 0.0),
    species(
        "H3SiO4-",
        (-1, 1),
        &[(Silica, 1), (Hydrogen, -1)],
        analytic(-302.372_4, -0.050_698, 15_669.69, 108.184_66, -1_119_669.0),
        Wateq(4.0, 0.0),
        0.0,
    ),
    species(
        "H2SiO4-2",
        (-2, 2),
        &[(Silica, 1), (Hydrogen, -2)],
        analytic(-294.018_4, -0.072_650, 11_204.49, 108.184_66, -1_119_669.0),
        Wateq(5.4, 0.0),
        0.0,
    ),
    species("PO4-3", (-3, 2), &[(Phosphate, 1)], NONE, Wateq(4.0, 0.0), 0.612),
    species(
        "HPO4-2",
        (-2, 1),
        &[(Phosphate, 1), (Hydrogen, 1)],
        kcal(12.346, -3.530),
        Wateq(5.0, 0.0),
        0.69,
    ),
    species(
        "H2PO4-",
        (-1, 0),
        &[(Phosphate, 1), (Hydrogen, 2)],
        kcal(19.553, -4.520),
        Wateq(5.4, 0.0),
        0.846,
    ),
    species(
        "H3PO4",
        (0, -1),
        &[(Phosphate, 1), (Hydrogen, 3)],
        VantHoff(21.721, -10.1),
        Neutral,
        0.0,
    ),
    Species {
        water: 1,
        ..species(
            "CaOH+",
            (1, 1),
            &[(Calcium, 1), (Hydrogen, -1)],
            VantHoff(-12.78, 0.0),
            Davies,
            0.0,
        )
    },
    species(
        "CaCO3",
        (0, 2),
        &[(Calcium, 1), (Carbonate, 1)],
        analytic(-1_228.732, -0.299_440, 35_512.75, 485.818, 0.0),
        Neutral,
        0.0,
    ),
    species(
        "CaHCO3+",
        (1, 1),
        &[(Calcium, 1), (Carbonate, 1), (Hydrogen, 1)],
        analytic(1_317.007_1, 0.345_468_94, -39_916.84, -517.707_61, 563_713.9),
        Wateq(6.0, 0.0),
        0.506,
    ),
    species("CaSO4", (0, 0), &[(Calcium, 1), (Sulfate, 1)], kcal(2.25, 1.325), Neutral, 0.0),
    species(
        "CaPO4-",
        (-1, 2),
        &[(Calcium, 1), (Phosphate, 1)],
        kcal(6.459, 3.10),
        Wateq(5.4, 0.0),
        0.0,
    ),
    species(
        "CaHPO4",
        (0, 1),
        &[(Calcium, 1), (Phosphate, 1), (Hydrogen, 1)],
        kcal(2.739 + 12.346, 3.3 - 3.530),
        Neutral,
        0.0,
    ),
    species(
        "CaH2PO4+",
        (1, 0),
        &[(Calcium, 1), (Phosphate, 1), (Hydrogen, 2)],
        kcal(1.408 + 19.553, 3.4 - 4.520),
        Wateq(5.4, 0.0),
        0.0,
    ),
    Species {
        water: 1,
        ..species(
            "MgOH+",
            (1, 1),
            &[(Magnesium, 1), (Hydrogen, -1)],
            kcal(-11.44, 15.952),
            Wateq(6.5, 0.0),
            0.0,
        )
    },
    species(
        "MgCO3",
        (0, 2),
        &[(Magnesium, 1), (Carbonate, 1)],
        analytic(0.9910, 0.006_67, 0.0, 0.0, 0.0),
        Neutral,
        0.0,
    ),
    species(
        "MgHCO3+",
        (1, 1),
        &[(Magnesium, 1), (Carbonate, 1), (Hydrogen, 1)],
        analytic(48.672_1, 0.032_528_49, -2_614.335, -18.002_63, 563_713.9),
        Wateq(4.0, 0.0),
        0.478,
    ),
    species("MgSO4", (0, 0), &[(Magnesium, 1), (Sulfate, 1)], kcal(2.37, 4.550), Neutral, 0.0),
    species(
        "MgPO4-",
        (-1, 2),
        &[(Magnesium, 1), (Phosphate, 1)],
        kcal(6.589, 3.10),
        Wateq(5.4, 0.0),
        0.0,
    ),
    species(
        "MgHPO4",
        (0, 1),
        &[(Magnesium, 1), (Phosphate, 1), (Hydrogen, 1)],
        kcal(2.87 + 12.346, 3.3 - 3.530),
        Neutral,
        0.0,
    ),
    species(
        "MgH2PO4+",
        (1, 0),
        &[(Magnesium, 1), (Phosphate, 1), (Hydrogen, 2)],
        kcal(1.513 + 19.553, 3.4 - 4.520),
        Wateq(5.4, 0.0),
        0.0,
    ),
    species("NaCO3-", (-1, 2), &[(Sodium, 1), (Carbonate, 1)], kcal(1.27, 8.91), Davies, 0.585),
    species(
        "NaHCO3",
        (0, 1),
        &[(Sodium, 1), (Carbonate, 1), (Hydrogen, 1)],
        OverBicarbonate(-0.25, -KILOCALORIE),
        Neutral,
        0.0,
    ),
    species(
        "NaSO4-",
        (-1, 0),
        &[(Sodium, 1), (Sulfate, 1)],
        kcal(0.7, 1.120),
        Wateq(5.4, 0.0),
        0.618,
    ),
    species(
        "NaHPO4-",
        (-1, 1),
        &[(Sodium, 1), (Phosphate, 1), (Hydrogen, 1)],
        kcal(0.29 + 12.346, -3.530),
        Wateq(5.4, 0.0),
        0.0,
    ),
    species(
        "KSO4-",
        (-1, 0),
        &[(Potassium, 1), (Sulfate, 1)],
        analytic(3.106, 0.0, -673.6, 0.0, 0.0),
        Wateq(5.4, 0.0),
        0.746,
    ),
    species(
        "KHPO4-",
        (-1, 1),
        &[(Potassium, 1), (Phosphate, 1), (Hydrogen, 1)],
        kcal(0.29 + 12.346, -3.530),
        Wateq(5.4, 0.0),
        0.0,
    ),
    species(
        "HF",
        (0, -1),
        &[(Fluoride, 1), (Hydrogen, 1)],
        analytic(-2.033, 0.012_645, 429.01, 0.0, 0.0),
        Neutral,
        0.0,
    ),
    species("HF2-", (-1, -1), &[(Fluoride, 2), (Hydrogen, 1)], kcal(3.76, 4.550), Davies, 0.0),
    species(
        "MgF+",
        (1, 0),
        &[(Magnesium, 1), (Fluoride, 1)],
        kcal(1.82, 3.20),
        Wateq(4.5, 0.0),
        0.0,
    ),
    species("NaF", (0, 0), &[(Sodium, 1), (Fluoride, 1)], VantHoff(-0.24, 0.0), Neutral, 0.0),
    species(
        "NH3",
        (0, 1),
        &[(Ammonium, 1), (Hydrogen, -1)],
        analytic(0.632_2, -0.001_225, -2_835.76, 0.0, 0.0),
        Neutral,
        0.0,
    ),
    species("NH4SO4-", (-1, 0), &[(Ammonium, 1), (Sulfate, 1)], VantHoff(1.11, 0.0), Davies, 0.0),
];

/// Solubility of carbon dioxide gas, mol/(kg atm).
pub(super) const CARBON_DIOXIDE: Constant =
    Analytic([10.562_4, -2.354_7e-2, -3_972.8, 0.0, 5.874_6e5, 1.919_4e-5]);

/// A solid that may deposit from cooling water.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mineral {
    /// Calcium carbonate.
    Calcite,
    /// Calcium sulfate dihydrate.
    Gypsum,
    /// Amorphous silica.
    AmorphousSilica,
    /// Magnesium hydroxide.
    Brucite,
    /// Disordered sepiolite, for poorly crystalline magnesium silicate.
    MagnesiumSilicate,
    /// Calcium fluoride.
    Fluorite,
    /// Beta-tricalcium phosphate.
    TricalciumPhosphate,
    /// Hydroxyapatite, supersaturated in nearly every water that holds phosphate.
    Hydroxyapatite,
}

/// A reaction by which a mineral dissolves.
#[derive(Debug)]
pub(super) struct Dissolution {
    pub constant: Constant,
    pub parts: &'static [(Component, i8)],
    /// Water set free.
    pub water: f64,
}

impl Mineral {
    /// All of them.
    pub const ALL: [Self; 8] = [
        Self::Calcite,
        Self::Gypsum,
        Self::AmorphousSilica,
        Self::Brucite,
        Self::MagnesiumSilicate,
        Self::Fluorite,
        Self::TricalciumPhosphate,
        Self::Hydroxyapatite,
    ];

    /// The name in machine output.
    pub fn key(self) -> &'static str {
        match self {
            Self::Calcite => "calcite",
            Self::Gypsum => "gypsum",
            Self::AmorphousSilica => "amorphous_silica",
            Self::Brucite => "brucite",
            Self::MagnesiumSilicate => "magnesium_silicate",
            Self::Fluorite => "fluorite",
            Self::TricalciumPhosphate => "tricalcium_phosphate",
            Self::Hydroxyapatite => "hydroxyapatite",
        }
    }

    /// What people call it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Calcite => "calcite",
            Self::Gypsum => "gypsum",
            Self::AmorphousSilica => "amorphous silica",
            Self::Brucite => "brucite",
            Self::MagnesiumSilicate => "magnesium silicate",
            Self::Fluorite => "fluorite",
            Self::TricalciumPhosphate => "tricalcium phosphate",
            Self::Hydroxyapatite => "hydroxyapatite",
        }
    }

    pub(super) fn dissolution(self) -> Dissolution {
        let (constant, parts, water): (Constant, &[(Component, i8)], f64) = match self {
            Self::Calcite => (
                analytic(-171.906_5, -0.077_993, 2_839.319, 71.595, 0.0),
                &[(Calcium, 1), (Carbonate, 1)],
                0.0,
            ),
            Self::Gypsum => (
                analytic(68.240_1, 0.0, -3_221.51, -25.062_7, 0.0),
                &[(Calcium, 1), (Sulfate, 1)],
                2.0,
            ),
            Self::AmorphousSilica => (analytic(-0.26, 0.0, -731.0, 0.0, 0.0), &[(Silica, 1)], -2.0),
            Self::Brucite => (kcal(16.84, -27.1), &[(Magnesium, 1), (Hydrogen, -2)], 2.0),
            Self::MagnesiumSilicate => {
                (VantHoff(18.66, 0.0), &[(Magnesium, 2), (Silica, 3), (Hydrogen, -4)], -0.5)
            }
            Self::Fluorite => {
                (analytic(66.348, 0.0, -4_298.2, -25.271, 0.0), &[(Calcium, 1), (Fluoride, 2)], 0.0)
            }
            // Measured from 5 to 37 degC, where it comes to dissolve less the warmer it is; beyond, the
            // enthalpy between 25 and 37 degC goes on.
            Self::TricalciumPhosphate => (
                AnalyticTo([287.453_6, -0.546_763, -45_723.26, 0.0, 0.0, 0.0], 37.0, -93.0),
                &[(Calcium, 3), (Phosphate, 2)],
                0.0,
            ),
            // Ca5(PO4)3OH + 4 H = H2O + 3 HPO4 + 5 Ca, with HPO4 taken apart.
            Self::Hydroxyapatite => (
                kcal(-3.421 - 3.0 * 12.346, -36.155 + 3.0 * 3.530),
                &[(Calcium, 5), (Phosphate, 3), (Hydrogen, -1)],
                1.0,
            ),
        };
        Dissolution { constant, parts, water }
    }
}
