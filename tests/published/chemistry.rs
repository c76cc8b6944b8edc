//! Speciation against PHREEQC (IPhreeqc through phreeqpython 1.6.2 with its phreeqc.dat):
//! tests/reference/chemistry_cases.json says how each water was made.

use super::{Largest, number};
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
    for (key, component) in [
        ("Ca", Component::Calcium),
        ("Mg", Component::Magnesium),
        ("Na", Component::Sodium),
        ("K", Component::Potassium),
        ("Cl", Component::Chloride),
        ("SO4", Component::Sulfate),
        ("SiO2", Component::Silica),
        ("PO4", Component::Phosphate),
    ] {
        water.set(component, number(&case["totals_mmol"], key) / 1e3);
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

#[test]
fn speciation_agrees_with_phreeqc() {
    let mut ph = Largest::default();
    let mut indices = Mineral::ALL.map(|_| Largest::default());
    let mut strength = Largest::default();
    let mut passes = 0;
    for case in cases() {
        let found = solved(&case);
        let expected = &case["out"];
        passes = passes.max(found.passes);
        ph.see(found.ph - number(expected, "pH"));
        strength.see(found.ionic_strength / number(expected, "ionic_strength") - 1.0);
        for (mineral, largest) in Mineral::ALL.into_iter().zip(&mut indices) {
            let key = match mineral {
                Mineral::Calcite => "Calcite",
                Mineral::Gypsum => "Gypsum",
                Mineral::AmorphousSilica => "SiO2(a)",
                Mineral::Brucite => "Brucite",
                Mineral::MagnesiumSilicate => "Sepiolite(d)",
                Mineral::TricalciumPhosphate => "TCP_beta",
                Mineral::Hydroxyapatite => "Hydroxyapatite",
                Mineral::Fluorite => continue,
            };
            let index = found.saturation_index(mineral);
            match expected["SI"][key].as_f64() {
                Some(expected) => largest.see(index.unwrap() - expected),
                None => assert_eq!(index, None, "{mineral:?} of {}", case["id"]),
            }
        }
    }
    println!("pH {} strength {} passes {passes}", ph.0, strength.0);
    for (m, l) in Mineral::ALL.into_iter().zip(&indices) {
        println!("{m:?} {}", l.0);
    }
}

#[test]
fn conductivity_agrees_with_phreeqc() {
    let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
    for case in cases() {
        let Some(expected) = case["sc25"].as_f64() else { continue };
        let carbon = solved(&case).total_carbon;
        let found =
            solve(&composition(&case), Acidity::TotalCarbon(carbon), &Constants::at(25.0).unwrap())
                .unwrap();
        let off = found.conductivity() * 1e4 / expected - 1.0;
        least = least.min(off);
        most = most.max(off);
    }
    println!("{least} {most}");
}
