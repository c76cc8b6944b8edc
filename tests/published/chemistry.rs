//! Speciation against PHREEQC (IPhreeqc through phreeqpython 1.6.2 with its phreeqc.dat):
//! tests/reference/chemistry_cases.json says how each water was made.

use super::{Largest, number, rows};
use coldbasin::chemistry::speciation::{Acidity, Constants, SolvedWater, solve};
use coldbasin::chemistry::{Component, Composition, Mineral};
use serde_json::Value;

fn cases() -> Vec<Value> {
    let file: Value =
        serde_json::from_str(include_str!("../reference/chemistry_cases.json")).unwrap();
    file["cases"].as_array().unwrap().clone()
}

fn composition(case: &Value) -> Composition {
    let mut water = Composition::default();
    let total = |key: &str| case["totals_mmol"][key].as_f64().unwrap_or(0.0);
    for (key, component) in [
        ("Ca", Component::Calcium),
        ("Mg", Component::Magnesium),
        ("Na", Component::Sodium),
        ("K", Component::Potassium),
        ("Cl", Component::Chloride),
        ("SO4", Component::Sulfate),
        ("SiO2", Component::Silica),
        ("PO4", Component::Phosphate),
        ("NO3", Component::Nitrate),
        ("F", Component::Fluoride),
        ("NH4", Component::Ammonium),
    ] {
        water.set(component, total(key) / 1e3);
    }
    water.alkalinity = number(&case["totals_mmol"], "Alk") / 1e3;
    water
}

fn solved(case: &Value) -> SolvedWater {
    let celsius = number(case, "temp_C");
    let expected = &case["out"];
    let mode = case["mode"].as_str().unwrap();
    let acidity = match mode {
        "co2_-3.4" | "acid_-3.4" => Acidity::CarbonDioxide(-3.4),
        "co2_-3.0" => Acidity::CarbonDioxide(-3.0),
        "ph8.0" => Acidity::Ph(8.0),
        "skin_-3.4" => Acidity::TotalCarbon(number(expected, "total_C_mmol") / 1e3),
        "makeup_as_analysed" => Acidity::Ph(number(expected, "pH")),
        other => panic!("{other}"),
    };
    solve(&composition(case), acidity, &Constants::at(celsius).unwrap())
        .unwrap_or_else(|error| panic!("{}: {error}", case["id"]))
}

/// The name in the reference files.
fn phreeqc_name(mineral: Mineral) -> &'static str {
    match mineral {
        Mineral::Calcite => "Calcite",
        Mineral::Gypsum => "Gypsum",
        Mineral::AmorphousSilica => "SiO2(a)",
        Mineral::Brucite => "Brucite",
        Mineral::MagnesiumSilicate => "Sepiolite(d)",
        Mineral::Fluorite => "Fluorite",
        Mineral::TricalciumPhosphate => "TCP_beta",
        Mineral::Hydroxyapatite => "Hydroxyapatite",
    }
}

/// The largest deviations from a list of waters.
#[derive(Default)]
struct Deviations {
    ph: Largest,
    ionic_strength: Largest,
    /// Of minerals whose parts react with a pH once.
    saturation: Largest,
    passes: usize,
}

impl Deviations {
    fn see(&mut self, found: &SolvedWater, ph: f64, strength: f64, indices: &Value) {
        self.passes = self.passes.max(found.passes);
        self.ph.see(found.ph - ph);
        self.ionic_strength.see(found.ionic_strength / strength - 1.0);
        for mineral in Mineral::ALL {
            let expected = &indices[phreeqc_name(mineral)];
            let index = found.saturation_index(mineral);
            if let Some(expected) = expected.as_f64() {
                self.saturation.see(index.unwrap() - expected);
            }
        }
        assert!(found.charge_imbalance().abs() < 1e-7, "{}", found.charge_imbalance());
    }
}

#[test]
fn speciation_agrees_with_phreeqc() {
    let mut deviations = Deviations::default();
    for case in cases() {
        let expected = &case["out"];
        deviations.see(
            &solved(&case),
            number(expected, "pH"),
            number(expected, "ionic_strength"),
            &expected["SI"],
        );
    }
    assert!(deviations.ph.0 < 5e-5, "{}", deviations.ph.0);
    assert!(deviations.ionic_strength.0 < 5e-5, "{}", deviations.ionic_strength.0);
    assert!(deviations.saturation.0 < 2e-4, "{}", deviations.saturation.0);
    assert!(deviations.passes < 30, "{}", deviations.passes);
}

/// Six waters of our own with nitrate, fluoride, ammonia and phosphate, 10 to 60 degC
/// (tests/reference/waters.py).
#[test]
fn six_more_waters_agree_with_phreeqc() {
    let mut deviations = Deviations::default();
    let mut conductivity = Largest::default();
    for row in rows(include_str!("../reference/waters.json")) {
        let value = number(&row, "value");
        let acidity = match row["mode"].as_str().unwrap() {
            "ph" => Acidity::Ph(value),
            _ => Acidity::CarbonDioxide(value),
        };
        let celsius = number(&row, "celsius");
        let found = solve(&composition(&row), acidity, &Constants::at(celsius).unwrap())
            .unwrap_or_else(|error| panic!("{error}: {row}"));
        let expected = &row["out"];
        deviations.see(
            &found,
            number(expected, "ph"),
            number(expected, "ionic_strength"),
            &expected["saturation_index"],
        );
        if celsius == 25.0 {
            conductivity.see(found.conductivity() * 1e4 / number(expected, "conductivity") - 1.0);
        }
    }
    println!(
        "{} {} {} {}",
        deviations.ph.0, deviations.ionic_strength.0, deviations.saturation.0, conductivity.0
    );
    assert!(deviations.ph.0 < 2e-3, "{}", deviations.ph.0);
    assert!(deviations.saturation.0 < 2e-3, "{}", deviations.saturation.0);
    assert!(conductivity.0 < 1e-2, "{}", conductivity.0);
}

#[test]
fn conductivity_agrees_with_phreeqc() {
    let mut largest = Largest::default();
    for case in cases() {
        let Some(expected) = case["sc25"].as_f64() else { continue };
        let closed = Acidity::TotalCarbon(solved(&case).total_carbon);
        let found = solve(&composition(&case), closed, &Constants::at(25.0).unwrap()).unwrap();
        largest.see(found.conductivity() * 1e4 / expected - 1.0);
    }
    assert!(largest.0 < 5e-3, "{}", largest.0);
}
