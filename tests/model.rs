//! The model as a program uses it: what its numbers obey, whatever they are.

use super::{model_of as model, try_model as read};
use approx::assert_relative_eq;
use coldbasin::cost::Outflow;
use coldbasin::model::{Infeasible, Model, Output, Refused, SlotError, StreamName, Workspace};
use proptest::prelude::*;

const CANNERY: &str = include_str!("../examples/cannery.toml");

/// The same tower in either unit system: `{circulation} {hot} {cold} {dry} {wet} {altitude}`.
fn tower(values: [&str; 6]) -> String {
    let [circulation, hot, cold, dry, wet, altitude] = values;
    format!(
        "coldbasin = 1\n[air]\ndry_bulb = \"{dry}\"\nwet_bulb = \"{wet}\"\naltitude = \"{altitude}\"\n\
         [circuit]\ncirculation = \"{circulation}\"\nhot_water = \"{hot}\"\ncold_water = \"{cold}\"\n\
         [[cell]]\narrangement = \"counterflow\"\nwater_to_air = 1.2\n[blowdown]\ncycles = 4\n"
    )
}

#[test]
fn units_do_not_change_the_answer() {
    let metric =
        model(&tower(["1000 m3/h", "35 degC", "27 degC", "31 degC", "23 degC", "304.8 m"]), &[]);
    let customary = model(
        &tower(["4402.867539 gpm", "95 degF", "80.6 degF", "87.8 degF", "73.4 degF", "1000 ft"]),
        &[],
    );
    let makeup = |model: &Model| model.sheet(model.base()).unwrap().makeup.kg_per_s;
    assert_relative_eq!(makeup(&metric), makeup(&customary), max_relative = 1e-8);
}

#[test]
fn every_slot_is_found_by_its_path_and_moves_only_itself() {
    let model = model(CANNERY, &[]);
    for id in model.slot_ids() {
        let path = &model.slot_value(id).path;
        assert_eq!(model.slot(path).unwrap(), id, "{path}");
    }
    assert!(matches!(
        model.slot("circuit.range"),
        Err(SlotError::Derived { instead, .. }) if instead.contains(&"circuit.hot_water".to_owned())
    ));
    let error = model.slot("blowdown.cycle").unwrap_err();
    assert!(error.to_string().contains("blowdown.cycles"), "{error}");
}

#[test]
fn an_entry_of_a_list_is_found_by_its_place_as_well() {
    let cannery = model(CANNERY, &[]);
    assert_eq!(cannery.slot("cell.2.drift").unwrap(), cannery.slot("cell.west.drift").unwrap());
    assert_eq!(cannery.slot("makeup.1.temperature"), cannery.slot("makeup.mains.temperature"));
    let beyond = cannery.slot("cell.3.drift").unwrap_err().to_string();
    assert!(beyond.contains("no number \"cell.3.drift\"") && beyond.contains("cell."), "{beyond}");
    let without = cannery.slot("makeup.temperature").unwrap_err().to_string();
    assert!(without.contains("makeup.mains.temperature"), "{without}");
    let one_rests = model(CANNERY, &["cell.east.in_service=false", "cell.west.share=1"]);
    assert!(one_rests.slot("cell.1.drift").is_err());
}

/// What can be varied can be set, under the same path. A constituent needs its basis besides; a method's own error
/// is no entry of a site file.
#[test]
fn every_slot_is_set_by_its_path() {
    for text in [CANNERY, include_str!("../examples/dairy.toml")] {
        let model = model(text, &[]);
        for value in model.slots().iter().filter(|value| !value.path.starts_with("method.")) {
            let unit = value.quantity.shown_in(coldbasin::quantity::UnitSystem::Si);
            let assignment = format!("{}={} {}", value.path, unit.of_si(value.si), unit.symbol);
            if let Err(wrong) = read(text, &[&assignment]) {
                assert!(wrong.contains("what its mass is counted as"), "{assignment}: {wrong}");
            }
        }
    }
}

#[test]
fn shares_keep_adding_up() {
    let model = model(CANNERY, &[]);
    let east = model.slot("cell.east.share").unwrap();
    let west = model.slot("cell.west.share").unwrap();
    let mut inputs = model.base().clone();
    model.set_share(&mut inputs, east, 0.8);
    assert_relative_eq!(inputs.get(west), 0.2, max_relative = 1e-12);
    let mut work = Workspace::new(&model);
    model.evaluate(&inputs, &mut work).unwrap();
    assert_relative_eq!(work.cells()[0].water_kg_per_s / work.cells()[1].water_kg_per_s, 4.0);
}

#[test]
fn a_leak_hides_behind_a_controller_and_shows_behind_a_fixed_valve() {
    let sheet = |leak: &str| {
        let model = model(CANNERY, &[leak]);
        model.sheet(model.base()).unwrap()
    };
    let (tight, leaking) = (sheet("losses.leakage=0 m3/h"), sheet("losses.leakage=1 m3/h"));
    assert!(tight.leak.is_none());
    let readings = leaking.leak.unwrap();
    assert_relative_eq!(readings.held.makeup_kg_per_s, tight.makeup.kg_per_s, max_relative = 1e-9);
    assert!(readings.fixed.cycles_of_concentration < 5.0);
}

#[test]
fn every_outflow_is_found_under_its_name() {
    let model = model(CANNERY, &[]);
    let sheet = model.sheet(model.base()).unwrap();
    for outflow in Outflow::ALL {
        assert_eq!(sheet.outflow(outflow).name, StreamName::Out(outflow));
    }
}

#[test]
fn a_stated_evaporation_comes_back_as_stated() {
    // Nobody meters vapour: its volume is that of the sheet, whatever the water's temperature.
    let model = model(CANNERY, &["evaporation.flow=114048 US gal/d"]);
    let sheet = model.sheet(model.base()).unwrap();
    let gallons = 24.0 * sheet.outflow(Outflow::Evaporation).reference_m3_per_h / 3.785_411_784e-3;
    assert_relative_eq!(gallons, 114_048.0, max_relative = 1e-9);
}

#[test]
fn uncertainties_follow_the_gum() {
    // Evaporation given: makeup = E C / (C - 1), so that both effects are known by hand.
    let text = "coldbasin = 1\n[circuit]\ncirculation = \"900 m3/h\"\n\
        [evaporation]\nflow = \"12 m3/h ± 1.2 m3/h (k=2)\"\n\
        [[cell]]\ndrift = \"0 %\"\n[blowdown]\ncycles = \"4 ± 0.2 (k=1)\"\n";
    let model = model(text, &[]);
    let sheet = model.sheet(model.base()).unwrap();
    let makeup = sheet.makeup.kg_per_s;
    let evaporation = sheet.outflow(Outflow::Evaporation).kg_per_s;
    let of_evaporation = 0.05 * makeup;
    // Central difference of C / (C - 1) over 3.8 to 4.2.
    let of_cycles = 0.5 * evaporation * (3.8 / 2.8 - 4.2 / 3.2);
    assert_relative_eq!(
        sheet.spread.standard(Output::Makeup).unwrap(),
        f64::hypot(of_evaporation, of_cycles),
        max_relative = 1e-6
    );
    assert_relative_eq!(
        sheet.spread.standard(Output::Evaporation).unwrap(),
        0.05 * evaporation,
        max_relative = 1e-9
    );
}

#[test]
fn a_step_out_of_the_domain_counts_one_side() {
    // One standard uncertainty below 1.2 cycles there is no balance.
    let model = model(CANNERY, &["blowdown.cycles=1.2 ± 0.3 (k=1)"]);
    let sheet = model.sheet(model.base()).unwrap();
    let cycles = model.slot("blowdown.cycles").unwrap();
    let of_cycles = sheet.spread.contributions.iter().find(|c| c.slot == cycles).unwrap();
    assert!(of_cycles.one_sided);
    assert!(sheet.spread.standard(Output::Makeup).unwrap() > 0.0);
}

#[test]
fn numbers_beyond_the_physics_are_refused_by_path() {
    let model = model(CANNERY, &[]);
    let mut work = Workspace::new(&model);
    for (path, si) in [
        ("blowdown.cycles", 1.0),
        ("blowdown.cycles", f64::NAN),
        ("circuit.circulation", -1.0),
        ("circuit.circulation", f64::INFINITY),
        ("cell.east.drift", 2.0),
    ] {
        let mut inputs = model.base().clone();
        inputs.set(model.slot(path).unwrap(), si);
        let error = model.evaluate(&inputs, &mut work).unwrap_err();
        assert!(
            matches!(&error, Infeasible::OutOfLimits { path: at, .. } if at == path),
            "{path} = {si}: {error}"
        );
        assert_eq!(error.problem(&model).path, path);
    }
}

proptest! {
    /// Water and solids in equal water and solids out, whatever the tower.
    #[test]
    fn water_and_solids_are_conserved(
        dry in 5.0..40.0_f64,
        humidity in 10.0..95.0_f64,
        approach in 2.0..8.0_f64,
        range in 2.0..15.0_f64,
        ratio in 0.5..1.6_f64,
        cycles in 1.5..12.0_f64,
        leak in 0.0..2.0_f64,
        arrangement in prop_oneof![Just("crossflow"), Just("counterflow")],
    ) {
        let air = coldbasin::air::MoistAir::from_relative_humidity(dry, humidity / 100.0, 101_325.0);
        let cold = air.unwrap().wet_bulb_celsius().unwrap() + approach;
        let text = format!(
            "coldbasin = 1\n[air]\ndry_bulb = \"{dry} degC\"\nrelative_humidity = \"{humidity} %\"\n\
             pressure = \"101.325 kPa\"\n[circuit]\ncirculation = \"500 m3/h\"\n\
             cold_water = \"{cold} degC\"\nrange = \"{range} K\"\n\
             [[cell]]\narrangement = \"{arrangement}\"\nwater_to_air = {ratio}\n\
             [blowdown]\ncycles = {cycles}\n[losses]\nleakage = \"{leak} m3/h\"\n"
        );
        let model = read(&text, &[]).map_err(TestCaseError::fail)?;
        match model.sheet(model.base()) {
            Ok(sheet) => {
                let out: f64 = sheet.out.iter().map(|stream| stream.kg_per_s).sum();
                prop_assert!((out / sheet.makeup.kg_per_s - 1.0).abs() < 1e-12);
                let solids: f64 = sheet.out.iter().filter_map(|stream| stream.of_solids).sum();
                prop_assert!((solids - 1.0).abs() < 1e-9, "solids {solids}");
                let parts: f64 = sheet.cells.iter().map(|cell| cell.evaporation_kg_per_s).sum();
                prop_assert!((parts / sheet.outflow(Outflow::Evaporation).kg_per_s - 1.0).abs() < 1e-9);
            }
            // A random duty may be beyond any tower, or its leak above what the cycles allow.
            Err(Infeasible::Tower { .. } | Infeasible::Balance(_)) => {}
            Err(other) => return Err(TestCaseError::fail(other.to_string())),
        }
    }

    #[test]
    fn no_bytes_panic(text in "(?s).{0,200}", cut in 0..CANNERY.len(), junk in "(?s).{0,8}") {
        let _ = read(&text, &[]);
        if CANNERY.is_char_boundary(cut) {
            let (head, tail) = CANNERY.split_at(cut);
            if let Ok(model) = read(&format!("{head}{junk}{tail}"), &[]) {
                let _ = model.sheet(model.base());
            }
        }
    }
}
