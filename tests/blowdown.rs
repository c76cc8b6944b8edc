//! The blowdown target as a program uses it.

use super::model_of;
use approx::{assert_abs_diff_eq, assert_relative_eq};
use coldbasin::blowdown::carbon_dioxide::CarbonDioxide;
use coldbasin::blowdown::limit::{Bound, Measure};
use coldbasin::blowdown::own_test::{Fate, Meaning, Of, Reason, Standing, Tracer};
use coldbasin::blowdown::target::{Allows, Binding};
use coldbasin::chemistry::speciation::SpeciationError;
use coldbasin::chemistry::{Component, Constituent, Mineral};
use coldbasin::model::{BlowdownError, BlowdownSheet, Model, PhOrigin, Stop, Withheld};
use coldbasin::site::{Description, file, validate};

const DAIRY: &str = include_str!("../examples/dairy.toml");

fn model(overrides: &[&str]) -> Model {
    model_of(DAIRY, overrides)
}

fn target(overrides: &[&str]) -> BlowdownSheet {
    let model = model(overrides);
    model.blowdown(model.base()).unwrap_or_else(|wrong| panic!("{wrong}"))
}

fn allowed(sheet: &BlowdownSheet, measure: Measure) -> Option<f64> {
    sheet.bindings.iter().find(|b| b.limit.measure == measure).and_then(|b| b.ceiling())
}

#[test]
fn the_first_limit_binds_where_its_value_is_met() {
    let sheet = target(&[]);
    for binding in &sheet.bindings {
        let Allows::UpTo(cycles) = binding.allows else { continue };
        let water = sheet.tower.at_cycles(cycles).unwrap();
        let value = binding.limit.measure.of(&water).unwrap();
        let scale = binding.limit.value.abs().max(1.0);
        assert!((value - binding.limit.value).abs() < 1e-3 * scale, "{binding:?} {value}");
        assert_eq!(binding.limit.bound, Bound::Most);
    }
    let most = sheet.bindings[0].ceiling().unwrap();
    let target = sheet.target_cycles.unwrap();
    assert!(target <= most && target > most - 0.1);
}

#[test]
fn linear_limits_are_plain_divisions() {
    // Without the chloride that the oxidant brings.
    let sheet = target(&["chemical.3.kind=inhibitor"]);
    let chloride = Measure::Constituent(Constituent::Chloride);
    let makeup =
        Constituent::Chloride.milligram_per_litre(sheet.tower.makeup().get(Component::Chloride));
    let binding = sheet.bindings.iter().find(|b| b.limit.measure == chloride).unwrap();
    assert_relative_eq!(
        binding.ceiling().unwrap(),
        binding.limit.value / makeup,
        max_relative = 1e-4
    );
}

#[test]
fn acid_moves_the_ceiling_from_calcite_to_what_it_adds() {
    let calcite = Measure::SaturationIndex(Mineral::Calcite);
    let (plain, held) = (target(&[]), target(&["ph.held=8.0"]));
    assert!(allowed(&plain, calcite).unwrap() < 5.0);
    assert_eq!(allowed(&held, calcite), None);
    let gypsum = Measure::SaturationIndex(Mineral::Gypsum);
    assert_eq!(allowed(&plain, gypsum), None);
    let sulfuric = allowed(&held, gypsum).unwrap();
    assert!(sulfuric < 15.0);
    // Hydrochloric acid adds no sulfate.
    let hydrochloric = target(&["ph.held=8.0", "ph.acid=hydrochloric"]);
    assert!(allowed(&hydrochloric, gypsum).unwrap() > 1.5 * sulfuric);
    let water = held.tower.at_cycles(5.0).unwrap();
    assert_abs_diff_eq!(water.basin.ph, 8.0, epsilon = 1e-6);
}

#[test]
fn a_measured_ph_implies_its_carbon_dioxide() {
    let sheet = target(&[]);
    let PhOrigin::Measured { ph, cycles } = sheet.ph_origin else {
        panic!("{:?}", sheet.ph_origin)
    };
    assert_eq!(ph, 8.55);
    // The tower's own alkalinity was lower than concentration makes it, so the pH rises a little.
    let water = sheet.tower.at_cycles(cycles).unwrap();
    assert!((water.basin.ph - ph).abs() < 0.1, "{}", water.basin.ph);
    assert!(sheet.band.is_none());
    // What is stated is known.
    assert!(target(&["ph.log10_carbon_dioxide=-3.2"]).band.is_none());
    assert!(target(&["ph.alkalinity_line=true"]).band.is_some());
}

fn witness(
    sheet: &BlowdownSheet,
    tracer: Tracer,
) -> Option<coldbasin::blowdown::own_test::Witness> {
    sheet.real.as_ref()?.witnesses.iter().find(|witness| witness.tracer == tracer).copied()
}

fn meaning(sheet: &BlowdownSheet, constituent: Constituent) -> Meaning {
    let lines = &sheet.own_test.as_ref().unwrap().comparison.lines;
    lines.iter().find(|line| line.of == Of::Constituent(constituent)).unwrap().meaning
}

#[test]
fn ions_that_agree_tell_the_cycles_and_the_rest_is_held_against_them() {
    let sheet = target(&[]);
    let real = sheet.real.as_ref().unwrap();
    assert_eq!(real.standing, Standing::Consensus);
    assert_relative_eq!(real.cycles, 3.0, max_relative = 0.02);
    assert!(real.apparent.unwrap() < real.cycles);
    assert_eq!(meaning(&sheet, Constituent::Calcium), Meaning::Lost(Fate::Calcite));
    assert_eq!(meaning(&sheet, Constituent::Sulfate), Meaning::Fits);
    let own = sheet.own_test.unwrap();
    assert!(own.comparison.calcite > 0.0 && own.stated_cycles.is_none());
    let fed = target(&["circulating_water.sulfate=400 mg/L as SO4"]);
    assert_eq!(meaning(&fed, Constituent::Sulfate), Meaning::Gained);
    let odd = witness(&fed, Tracer::Ion(Constituent::Sulfate)).unwrap().odd.unwrap();
    assert_eq!(odd.reason, Reason::Added);
}

#[test]
fn the_odd_one_is_named_with_its_likely_reason_and_moves_nothing() {
    let (plain, slip) = (target(&[]), target(&["circulating_water.chloride=1130 mg/L as Cl"]));
    let real = slip.real.as_ref().unwrap();
    let moved = (real.cycles - plain.real.as_ref().unwrap().cycles).abs();
    assert!(moved < 2.0 * real.standard && real.standing == Standing::Consensus);
    let odd = witness(&slip, Tracer::Ion(Constituent::Chloride)).unwrap().odd.unwrap();
    assert_eq!(odd.reason, Reason::DecimalSlip);
    assert_relative_eq!(odd.would_fit, 113.0, max_relative = 1e-9);
    assert!(warned(&slip, "odd_ion") && !warned(&plain, "odd_ion"));
    for wrong in ["13.3 mS/cm", "133 mS/cm"] {
        let meter = target(&[&format!("circulating_water.conductivity={wrong}")]);
        let odd = witness(&meter, Tracer::Conductivity).unwrap().odd.unwrap();
        assert_eq!(odd.reason, Reason::DecimalSlip);
        assert_relative_eq!(odd.would_fit, 0.133, max_relative = 1e-9);
    }
    // 41 mg/L as Mg are 169 as CaCO3.
    let basis = target(&["circulating_water.magnesium=169 mg/L as Mg"]);
    let odd = witness(&basis, Tracer::Ion(Constituent::Magnesium)).unwrap().odd.unwrap();
    assert_eq!(odd.reason, Reason::Basis("CaCO3"));
    // Without chloride the rest still tells.
    let chloride = Tracer::Ion(Constituent::Chloride);
    let without = model_of(&DAIRY.replace("chloride = \"113 mg/L as Cl\"", ""), &[]);
    let without = without.blowdown(without.base()).unwrap();
    assert!(witness(&without, chloride).is_none());
    assert_relative_eq!(without.real.unwrap().cycles, 3.0, max_relative = 0.05);
}

#[test]
fn what_was_measured_is_today() {
    let sheet = target(&["blowdown.cycles=4.5"]);
    let real = sheet.real.as_ref().unwrap();
    assert_eq!(sheet.present_cycles, real.cycles);
    assert_relative_eq!(sheet.present.cycles_of_concentration, real.cycles, max_relative = 1e-9);
    assert_eq!(sheet.own_test.as_ref().unwrap().stated_cycles, Some(4.5));
    assert!(warned(&sheet, "measured_cycles_differ"));
    let fits = target(&[]);
    assert_eq!(fits.present_cycles, 3.0);
    assert!(!warned(&fits, "measured_cycles_differ"));
}

/// Sulfuric acid by its own analysis: 360 mg/L as CaCO3 of alkalinity and 346 mg/L of sulfate are both
/// 7.2 meq/L.
#[test]
fn acid_that_nobody_states_is_told_until_it_is_stated() {
    let fed = [
        "circulating_water.ph=7.6",
        "circulating_water.alkalinity=172 mg/L as CaCO3",
        "circulating_water.calcium=199 mg/L as Ca",
        "circulating_water.sulfate=487 mg/L as SO4",
        "circulating_water.conductivity=1560 uS/cm",
    ];
    let sheet = target(&fed);
    assert!(warned(&sheet, "acid_not_stated"));
    let comparison = &sheet.own_test.as_ref().unwrap().comparison;
    assert_eq!(comparison.acid.unwrap().ph, 7.6);
    assert_eq!(comparison.calcite, 0.0);
    assert_eq!(meaning(&sheet, Constituent::Alkalinity), Meaning::Lost(Fate::Acid));
    let stated = target(&[&fed[..], &["ph.held=7.6"]].concat());
    assert!(!warned(&stated, "acid_not_stated"));
    assert!(stated.own_test.unwrap().comparison.acid.is_none());
    // Sulfate is no tracer then.
    assert!(stated.real.unwrap().witnesses.iter().all(|w| w.tracer.key() != "sulfate"));
}

#[test]
fn what_is_made_up_is_no_tracer_and_no_limit_is_sure_on_it() {
    let text = site_of(
        r#"
ph = 7.6
conductivity = "430 uS/cm"
calcium = "120 mg/L as CaCO3"
magnesium = "60 mg/L as CaCO3"
alkalinity = "140 mg/L as CaCO3"
"#,
    )
    .replace("balance_with = \"sodium\"", "balance_with = \"chloride\"")
        + "[circulating_water]\nph = 8.7\nmagnesium = \"181 mg/L as CaCO3\"\n\
           chloride = \"150 mg/L as Cl\"\n[[limit]]\nof = \"chloride\"\nmost = \"250 mg/L as Cl\"\n";
    let model = model_of(&text, &[]);
    let sheet = model.blowdown(model.base()).unwrap();
    assert_eq!(sheet.made_up, [Constituent::Chloride]);
    assert!(witness(&sheet, Tracer::Ion(Constituent::Chloride)).is_none());
    assert_eq!(sheet.real.as_ref().unwrap().standing, Standing::Alone);
    assert!(warned(&sheet, "limit_on_made_up_ion"));
    assert!(!warned(&target(&[]), "limit_on_made_up_ion"));
}

/// Both ways of setting the controller say the same where the tower's own conductivity is what its makeup
/// makes.
#[test]
fn the_controller_can_be_set_by_the_towers_own_conductivity() {
    let sheet = target(&[]);
    let own = sheet.own_test.as_ref().unwrap().set_point.unwrap();
    assert_relative_eq!(own, sheet.set_point.unwrap().conductivity, max_relative = 0.1);
    let higher = target(&["circulating_water.conductivity=1400 uS/cm"]);
    assert!(higher.own_test.unwrap().set_point.unwrap() > own);
}

#[test]
fn samples_far_apart_name_the_makeup_as_another_explanation() {
    let days = |makeup: &str| {
        let both = [
            format!("makeup.well.analysis.sampled={makeup}"),
            "makeup.mains.analysis.sampled=2026-06-01".to_owned(),
            "circulating_water.sampled=2026-06-01".to_owned(),
        ];
        target(&both.each_ref().map(String::as_str)).own_test.unwrap().sampling.unwrap()
    };
    let same = days("2026-06-01");
    assert!(same.days == 0 && !same.is_apart());
    // 35 m3 and some 65 m3 a day: half of it in 9 hours.
    assert!(same.remembered.unwrap() < 1.5);
    assert!(days("2026-05-01").is_apart() && days("2026-06-03").is_apart());
    assert!(target(&[]).own_test.unwrap().sampling.is_none());
}

#[test]
fn the_set_point_is_not_cycles_times_makeup() {
    let sheet = target(&[]);
    let set_point = sheet.set_point.unwrap();
    assert!(set_point.conductivity < set_point.plain);
    let lower = target(&["circulating_water.ph=8.3", "limits.saturation_index.calcite=4"]);
    let set_point = lower.set_point.unwrap();
    let scale = lower.makeup_conductivity.measured.unwrap() / lower.makeup_conductivity.computed;
    if let Some(cycles) = set_point.cycles_of_plain {
        let water = lower.tower.at_cycles(cycles).unwrap();
        assert_relative_eq!(scale * water.conductivity, set_point.plain, max_relative = 1e-3);
        assert!(cycles > set_point.cycles);
    }
}

#[test]
fn an_own_limit_stands_beside_the_others_or_replaces_them() {
    let chloride = Measure::Constituent(Constituent::Chloride);
    let count = |sheet: &BlowdownSheet| {
        sheet.bindings.iter().filter(|b| b.limit.measure == chloride).count()
    };
    assert_eq!(count(&target(&[])), 2);
    assert_eq!(count(&target(&["limit.1.replaces=true"])), 1);
}

#[test]
fn wrong_analyses_are_refused() {
    let error = |text: &str| {
        let model = model(&[text]);
        model.blowdown(model.base()).unwrap_err()
    };
    assert!(matches!(
        error("makeup.well.analysis.chloride=420 mg/L as Cl"),
        BlowdownError::ChargeImbalance { .. }
    ));
    assert!(matches!(
        error("makeup.well.analysis.alkalinity=0 mg/L as CaCO3"),
        BlowdownError::Missing { .. }
    ));
}

#[test]
fn the_band_gives_what_its_ends_give() {
    for acid in ["ph.held=8.3", "ph.alkalinity_line=true"] {
        let common = ["limits.saturation_index.calcite=2.6", "ph.alkalinity_line=true", acid];
        let sheet = target(&common);
        let band = sheet.band.unwrap();
        assert_eq!(band.sets_target, sheet.after_ph_reading.is_some());
        for end in band.ends {
            let place = format!("ph.toward_air={}", end.toward_air);
            let alone = target(&[&common[..], &[&place]].concat());
            assert!(alone.band.is_none());
            assert_relative_eq!(end.allowed_cycles, alone.best_estimate, max_relative = 1e-3);
        }
    }
}

#[test]
fn an_unmeasured_ph_is_taken_where_it_scales_most() {
    let line = "ph.alkalinity_line=true";
    let sheet = target(&[line]);
    let band = sheet.band.unwrap();
    let [fewest, most] = band.cycles();
    assert!(fewest < 0.9 * most && band.ends[2].allowed_cycles == fewest);
    assert_relative_eq!(sheet.best_estimate, fewest);
    // All that stands beside the target is of that water.
    let water = sheet.tower.at_cycles(sheet.target_cycles.unwrap()).unwrap();
    let air = target(&[line, "ph.toward_air=1"]);
    let same = air.tower.at_cycles(sheet.target_cycles.unwrap()).unwrap();
    assert_abs_diff_eq!(water.basin.ph, same.basin.ph, epsilon = 1e-9);
    assert_eq!(sheet.target_cycles, air.target_cycles);
    // What a reading perhaps leaves is the middle of the band, above the target and within it.
    let after = sheet.after_ph_reading.unwrap();
    assert!(after > sheet.target_cycles.unwrap() && after <= most);
    let middle = target(&[line, "ph.toward_air=0"]);
    assert_eq!(middle.target_cycles, Some(after));
}

#[test]
fn the_margin_is_one_sided_90_percent_of_what_is_stated() {
    let stated = "makeup.well.analysis.alkalinity=235 mg/L as CaCO3 ± 8 % (k=2)";
    // A carbon dioxide of its own, so that the tower's own analysis has no part in it.
    let gas = "ph.log10_carbon_dioxide=-3.2";
    let (sheet, exact) = (target(&[gas, stated]), target(&[gas]));
    assert_eq!(exact.margin, None);
    let margin = sheet.margin.unwrap();
    assert_relative_eq!(sheet.best_estimate, exact.best_estimate, max_relative = 1e-4);
    let target = sheet.target_cycles.unwrap();
    let safe = sheet.best_estimate - margin;
    assert!(target <= safe && target > safe - 0.1, "{target} {safe}");
    // By hand: the cycles that a standard uncertainty of the alkalinity moves.
    let at = |alkalinity: f64| {
        let text = format!("makeup.well.analysis.alkalinity={alkalinity} mg/L as CaCO3");
        self::target(&[gas, &text]).best_estimate
    };
    let step = 0.04 * 235.0;
    let standard = 0.5 * (at(235.0 - step) - at(235.0 + step));
    assert!(margin > 0.03);
    assert_relative_eq!(margin, 1.28 * standard, max_relative = 1e-2);
    // What is not stated, and the method's error, widen the ± that is shown and take nothing off the target.
    let result = sheet.uncertain.results.iter().find(|r| r.key == "allowed_cycles").unwrap();
    assert!(1.28 * result.standard > margin);
    let sure = sheet.sure_cycles.unwrap();
    let safe = sheet.best_estimate - 1.28 * result.standard;
    assert!(sure <= safe && sure > safe - 0.1, "{sure} {safe}");
    assert_eq!(exact.target_cycles, Some((10.0 * exact.best_estimate).floor() / 10.0));
}

#[test]
fn without_a_limit_on_cycles_the_target_stops_at_ten_or_a_stated_half_life() {
    let soft = site_of(
        r#"
ph = 6.9
calcium = "6 mg/L as Ca"
magnesium = "1.2 mg/L as Mg"
alkalinity = "18 mg/L as CaCO3"
chloride = "6 mg/L as Cl"
sulfate = "5 mg/L as SO4"
silica = "3 mg/L as SiO2"
"#,
    );
    let sheet = |overrides: &[&str]| {
        let overrides = [&["limits.saturation_index.magnesium_silicate=3"], overrides].concat();
        let model = model_of(&soft, &overrides);
        model.blowdown(model.base()).unwrap()
    };
    let plain = sheet(&[]);
    assert_eq!((plain.target_cycles, plain.stop), (Some(10.0), Stop::Usual));
    let limited = soft.clone() + "[[limit]]\nof = \"cycles\"\nmost = 14\n";
    let model = model_of(&limited, &["limits.saturation_index.magnesium_silicate=3"]);
    let limited = model.blowdown(model.base()).unwrap();
    assert_eq!((limited.target_cycles, limited.stop), (Some(14.0), Stop::Limit));
    assert!(warned(&limited, "target_cycles_high") && !warned(&plain, "target_cycles_high"));
    let held = sheet(&["circuit.volume=34 m3", "blowdown.longest_half_life=12 h"]);
    assert_eq!(held.stop, Stop::HalfLife);
    let at_best = coldbasin::balance::close(
        &held.present.losses(),
        coldbasin::balance::BlowdownBasis::Cycles(held.best_estimate),
    );
    assert_relative_eq!(held.half_life(&at_best.unwrap()).unwrap(), 12.0, max_relative = 1e-9);
}

/// A site that feeds acid, and what its tower's water was found to hold at the held pH.
#[test]
fn acid_leaves_the_alkalinity_of_the_line_or_of_the_towers_own_water() {
    let text = site_of(
        r#"
ph = 7.4
calcium = "240 mg/L as CaCO3"
magnesium = "110 mg/L as CaCO3"
alkalinity = "310 mg/L as CaCO3"
chloride = "28 mg/L as Cl"
sulfate = "45 mg/L as SO4"
silica = "18 mg/L as SiO2"
"#,
    );
    let left = |overrides: &[&str]| {
        let model = model_of(&text, &[&["ph.held=7.8"], overrides].concat());
        let sheet = model.blowdown(model.base()).unwrap();
        let water = sheet.tower.at_cycles(3.0).unwrap();
        assert_abs_diff_eq!(water.basin.ph, 7.8, epsilon = 1e-6);
        (Constituent::Alkalinity.milligram_per_litre(water.composition.alkalinity), sheet)
    };
    // The line of Kunz prints 7.8 for 133 mg/L; within 0.1 of pH.
    let (by_line, sheet) = left(&[]);
    assert_abs_diff_eq!(1.6 * by_line.log10() + 4.4, 7.8, epsilon = 0.1);
    let band = sheet.band.unwrap();
    assert!(!band.sets_target);
    let acid = band.ends.map(|end| end.acid.unwrap());
    assert!(acid[0] < acid[1] && acid[1] < acid[2]);
    let measured = "circulating_water.alkalinity=115 mg/L as CaCO3";
    for stated in [&[measured][..], &[measured, "circulating_water.ph=7.8"]] {
        let (by_test, sheet) = left(stated);
        // At the measured cycles it is the measured one, but for the sulfate of the acid.
        assert_relative_eq!(by_test, 115.0, max_relative = 0.05);
        assert!(sheet.band.is_none());
    }
    let (on_line, _) = left(&[measured, "ph.alkalinity_line=true"]);
    assert_relative_eq!(on_line, by_line, max_relative = 1e-6);
}

#[test]
fn without_acid_scale_grows_with_cycles_and_acid_keeps_the_charge() {
    let plain = target(&["ph.log10_carbon_dioxide=-3.0"]);
    let mut before: Option<[f64; 3]> = None;
    for step in 0..40 {
        let water = plain.tower.at_cycles(1.0 + 0.5 * f64::from(step)).unwrap();
        let minerals = [Mineral::Calcite, Mineral::Gypsum, Mineral::AmorphousSilica];
        let now = minerals.map(|mineral| water.basin.saturation_index(mineral).unwrap());
        if let Some(before) = before {
            assert!(now.iter().zip(before).all(|(now, before)| *now > before), "{now:?}");
        }
        before = Some(now);
    }
    let held = target(&["ph.held=7.8"]);
    for cycles in [1.5, 4.0, 9.0] {
        let (with, without) =
            (held.tower.at_cycles(cycles).unwrap(), plain.tower.at_cycles(cycles).unwrap());
        assert!(with.acid > 0.0);
        assert_abs_diff_eq!(
            with.composition.charge(),
            without.composition.charge(),
            epsilon = 1e-12
        );
    }
}

#[test]
fn hypochlorite_is_taken_off_the_chloride() {
    let chloride = Tracer::Ion(Constituent::Chloride);
    let (with, without) = (target(&[]), target(&["chemical.3.kind=inhibitor"]));
    let cycles = |sheet| witness(sheet, chloride).unwrap().cycles;
    assert_relative_eq!(cycles(&with), 3.0, max_relative = 0.02);
    assert!(cycles(&without) > 1.05 * cycles(&with));
    assert!(with.real.unwrap().chloride_fed > 5.0);
    assert_eq!(without.real.unwrap().chloride_fed, 0.0);
}

#[test]
fn what_one_source_leaves_out_is_unknown_of_the_blend() {
    // Nitrate stands in the well's analysis only.
    let sheet = target(&["limit.1.of=nitrate", "limit.1.most=40 mg/L as NO3"]);
    let nitrate = Measure::Constituent(Constituent::Nitrate);
    let binding = sheet.bindings.iter().find(|b| b.limit.measure == nitrate).unwrap();
    assert_eq!(binding.allows, Allows::Unknown);
    assert!(sheet.warnings.iter().any(|warning| warning.message.contains("nitrate")));
    // Sodium that was made up is no tracer.
    assert_eq!(sheet.made_up, [Constituent::Sodium]);
    assert!(witness(&sheet, Tracer::Ion(Constituent::Sodium)).is_none());
}

/// A new galvanised tower that acid holds at just the pH that it may have at most.
#[test]
fn a_value_at_its_limit_is_within_it() {
    let galvanised = "limits.materials=[\"new_galvanised_steel\"]";
    let of = |sheet: &BlowdownSheet, bound| {
        let is_it = |b: &&Binding| b.limit.measure == Measure::Ph && b.limit.bound == bound;
        sheet.bindings.iter().find(is_it).unwrap().allows
    };
    let at = target(&[galvanised, "ph.held=8.0"]);
    assert_eq!(of(&at, Bound::Most), Allows::All);
    let above = target(&[galvanised, "ph.held=8.001"]);
    assert_eq!(of(&above, Bound::Most), Allows::Nothing);
    let below = target(&[galvanised, "ph.held=7.999"]);
    assert_eq!(of(&below, Bound::Most), Allows::All);
    // The other side of the rule: at least 7.0.
    assert_eq!(of(&target(&[galvanised, "ph.held=7.0"]), Bound::Least), Allows::All);
    assert_eq!(of(&target(&[galvanised, "ph.held=6.999"]), Bound::Least), Allows::NeverMet);
}

/// One makeup, without a drop of drift, so that no losses bind.
fn site_of(analysis: &str) -> String {
    format!(
        r#"
[air]
dry_bulb = "32 degC"
wet_bulb = "24 degC"
[circuit]
circulation = "680 m3/h"
hot_water = "35 degC"
cold_water = "29 degC"
hottest_surface = "46 degC"
[blowdown]
cycles = 3
[[makeup]]
[makeup.analysis]
{analysis}
balance_with = "sodium"
[limits.saturation_index]
calcite = 2.3
magnesium_silicate = 1.6
"#
    )
}

/// A water that the solver lost at some cycles, so that a limit bound at no number, before all others.
#[test]
fn every_crossing_is_a_number_and_the_lowest_leads() {
    let text = site_of(
        r#"
ph = 6.9
calcium = "73.3 mg/L as Ca"
magnesium = "7.31 mg/L as Mg"
alkalinity = "149 mg/L as CaCO3"
chloride = "5.13 mg/L as Cl"
sulfate = "55.6 mg/L as SO4"
silica = "10.2 mg/L as SiO2"
"#,
    );
    let model = model_of(&text, &[]);
    let sheet = model.blowdown(model.base()).unwrap();
    let crossings: Vec<f64> = sheet.bindings.iter().flat_map(|b| b.crossings.clone()).collect();
    assert!(crossings.len() >= 3 && crossings.iter().all(|cycles| (1.0..30.0).contains(cycles)));
    let lowest = crossings.iter().copied().fold(f64::INFINITY, f64::min);
    assert_eq!(sheet.bindings[0].ceiling(), Some(lowest));
    let calcite = Measure::SaturationIndex(Mineral::Calcite);
    assert_eq!(sheet.bindings[0].limit.measure, calcite);
    assert!(sheet.target_cycles.is_some_and(|cycles| cycles > 3.0 && cycles < 6.0));
    for step in 0..=290 {
        let cycles = 1.0 + 0.1 * f64::from(step);
        assert!(sheet.tower.at_cycles(cycles).is_ok(), "{cycles} cycles");
    }
}

/// So much silica takes more alkalinity at a pH of 9.6 than the water has. The field lines ask for no such
/// pH, so that the water has an equilibrium along them; a measured pH that it cannot have is an error.
#[test]
fn a_ph_that_the_water_cannot_have_is_an_error() {
    let text = site_of(
        r#"
ph = 7.2
calcium = "20 mg/L as Ca"
magnesium = "5 mg/L as Mg"
alkalinity = "50 mg/L as CaCO3"
chloride = "20 mg/L as Cl"
sulfate = "40 mg/L as SO4"
silica = "300 mg/L as SiO2"
"#,
    );
    let sheet = |overrides: &[&str]| {
        let model = model_of(&text, overrides);
        model.blowdown(model.base())
    };
    let along = sheet(&["ph.alkalinity_line=true"]).unwrap();
    assert!((1..=30).all(|cycles| along.tower.at_cycles(f64::from(cycles)).is_ok()));
    let error = sheet(&["circulating_water.ph=9.6"]).unwrap_err();
    let BlowdownError::Speciation { what, error } = &error else { panic!("{error}") };
    assert_eq!(*error, SpeciationError::Contradiction);
    assert!(what.contains("measured pH"), "{what}");
}

#[test]
fn floors_above_the_ceiling_and_acids_that_do_nothing_are_told() {
    let floor = target(&["limits.codes=[\"ashrae_189_1\"]"]);
    assert!(floor.warnings.iter().any(|w| w.notice.id == "floor_not_met"), "{floor:?}");
    // A note, not the headline: the target is that of the ceilings.
    assert_eq!(floor.target_cycles, target(&[]).target_cycles);
    let idle = target(&["ph.held=9.5"]);
    assert!(idle.warnings.iter().any(|warning| warning.notice.id == "acid_not_needed"));
    assert!(idle.waters.iter().all(|water| water.acid == 0.0));
}

#[test]
fn a_leak_that_leaves_no_blowdown_is_not_called_a_limit() {
    let sheet = target(&["losses.leakage=60 m3/h"]);
    let first = &sheet.bindings[0];
    assert!(matches!(first.allows, Allows::UpTo(_)));
    assert!(sheet.target_cycles.is_some_and(|cycles| cycles < 1.1));
}

#[test]
fn one_more_cycle_saves_what_two_sheets_differ_by() {
    let acid = ["ph.held=8.0", "chemical.1.kind=acid", "chemical.1.strength=93 %"];
    let money = |cycles: &str| {
        let model = model(&[acid[0], acid[1], acid[2], cycles]);
        model.sheet(model.base()).unwrap().money.unwrap()
    };
    let (three, four) = (money("blowdown.cycles=3"), money("blowdown.cycles=4"));
    assert_relative_eq!(
        three.added_cycles[0].saving,
        three.total - four.total,
        max_relative = 1e-9
    );
    assert_eq!(three.chemicals.len(), 3);
}

#[test]
fn mending_a_large_leak_leads_back_to_the_cycles_that_are_set() {
    let money = |leak: &str| {
        let model = model(&[leak]);
        model.sheet(model.base()).unwrap().money.unwrap()
    };
    let (leaking, tight) = (money("losses.leakage=4 m3/h"), money("losses.leakage=0 m3/h"));
    let leak = leaking.leak.unwrap();
    assert_relative_eq!(leak.held, leaking.total - tight.total, max_relative = 1e-9);
    assert!(leak.held > 1_000.0);
    // A small one only changes places with the blowdown.
    assert_eq!(money("losses.leakage=0.1 m3/h").leak.unwrap().held, 0.0);
    assert!(tight.leak.is_none());
}

#[test]
fn chemicals_that_cannot_be_counted_are_not_passed_over() {
    let text = DAIRY.replace("volume = \"35 m3\"\n", "");
    // The basin would give a volume.
    let text = text.split_once("\n[basin]\n").unwrap().0;
    let source = file::read::<Description>("site.toml", text, &[]).unwrap();
    let model = Model::compile(&validate(&source.description).unwrap());
    let money = model.sheet(model.base()).unwrap().money.unwrap();
    assert!(money.chemicals.is_empty());
    assert!(money.chemicals_missing.unwrap().contains("volume"));
    assert!(model.feed(model.base()).unwrap_err().to_string().contains("volume"));
}

#[test]
fn the_target_saves_what_two_sheets_differ_by() {
    let sheet = target(&[]);
    let saving = sheet.saving.unwrap();
    let at = |cycles: f64| {
        let model = model(&[&format!("blowdown.cycles={cycles}")]);
        let sheet = model.sheet(model.base()).unwrap();
        (sheet.money.unwrap().total, sheet.period.yearly_makeup_m3())
    };
    let (today, then) = (at(3.0), at(sheet.target_cycles.unwrap()));
    assert_relative_eq!(saving.cost.unwrap().total(), today.0 - then.0, max_relative = 1e-6);
    assert_relative_eq!(saving.makeup_m3, today.1 - then.1, max_relative = 1e-6);
    // Without the tower's own analysis, which would show that it is not so.
    let own = DAIRY.find("[circulating_water]").unwrap()..DAIRY.find("[limits]").unwrap();
    let model = model_of(&DAIRY.replace(&DAIRY[own], ""), &["blowdown.cycles=9"]);
    let sheet = model.blowdown(model.base()).unwrap();
    assert!(sheet.saving.unwrap().cost.unwrap().total() < 0.0);
}

#[test]
fn blowdown_at_the_target_is_as_sure_as_its_evaporation() {
    let site = model(&[]);
    let sheet = site.blowdown(site.base()).unwrap();
    let blowdown =
        sheet.uncertain.results.iter().find(|r| r.key == "blowdown_at_target_m3_per_h").unwrap();
    let mean = 3.6 * sheet.at_target.unwrap().blowdown_kg_per_s / 0.998_2;
    assert_relative_eq!(blowdown.value, mean, max_relative = 1e-4);
    // The circulation has a limit of 3 %, and every flow is proportional to it.
    let (_, part) = blowdown.from.iter().find(|(path, _)| path == "circuit.circulation").unwrap();
    let of_circulation = part.sqrt() * blowdown.standard / blowdown.value;
    assert_relative_eq!(of_circulation, 0.03 / 3f64.sqrt(), max_relative = 1e-3);
}

fn warned(sheet: &BlowdownSheet, id: &str) -> bool {
    sheet.warnings.iter().any(|warning| warning.notice.id == id)
}

#[test]
fn a_conductivity_that_no_ions_explain_gives_no_set_point() {
    // Tenfold, as with a meter's wrong range.
    let sheet = target(&[
        "makeup.well.analysis.conductivity=6900 uS/cm",
        "makeup.mains.analysis.conductivity=3100 uS/cm",
    ]);
    assert!(sheet.set_point.is_none() && sheet.target_cycles.is_some());
    assert!(warned(&sheet, "conductivity_off_ions"));
    let sheet = target(&[]);
    assert!(sheet.set_point.is_some() && !warned(&sheet, "conductivity_off_ions"));
}

#[test]
fn a_circulating_water_weaker_than_the_makeup_is_told() {
    let sheet = target(&[
        "circulating_water.chloride=12 mg/L as Cl",
        "circulating_water.magnesium=5 mg/L as Mg",
        "circulating_water.sulfate=16 mg/L as SO4",
        "circulating_water.silica=4 mg/L as SiO2",
        "circulating_water.conductivity=180 uS/cm",
        "circulating_water.calcium=25 mg/L as Ca",
        "circulating_water.alkalinity=60 mg/L as CaCO3",
    ]);
    assert!(sheet.real.is_none() && warned(&sheet, "circulating_water_weaker"));
    assert!(!warned(&target(&[]), "circulating_water_weaker"));
}

#[test]
fn what_is_not_judged_is_told() {
    let own = DAIRY.find("[[limit]]").unwrap()..DAIRY.find("[[chemical]]").unwrap();
    let text = DAIRY.replace(&DAIRY[own], "");
    let model = model_of(
        &text,
        &[
            "limits.materials=[]",
            "limits.saturation_index.calcite=4",
            "limits.saturation_index.gypsum=1",
            "limits.saturation_index.amorphous_silica=1",
            "ph.held=7.5",
        ],
    );
    let sheet = model.blowdown(model.base()).unwrap();
    assert!(warned(&sheet, "corrosion_not_judged"));
    assert!(!warned(&target(&[]), "corrosion_not_judged"));
}

#[test]
fn a_ratio_of_conductivities_is_carried_over_to_cycles() {
    let sheet = target(&["blowdown.cycles=3"]);
    let stated = sheet.tower.at_cycles(3.0).unwrap();
    // What the controller would read at three cycles, by the makeup's measured conductivity.
    let makeup = sheet.makeup_conductivity;
    let reads = 1e4 * stated.conductivity * makeup.measured.unwrap() / makeup.computed;
    let text = DAIRY.replace("cycles = 3\n", &format!("conductivity = \"{reads} uS/cm\"\n"));
    let model = model_of(&text, &[]);
    let sheet = model.blowdown(model.base()).unwrap();
    assert_relative_eq!(sheet.present_cycles, 3.0, max_relative = 2e-2);
    assert!(sheet.conductivity_ratio.unwrap() < 2.9 && !sheet.cycles_are_apparent);
    assert_relative_eq!(sheet.present.cycles_of_concentration, sheet.present_cycles);
}

/// A reclaimed water on copper and stainless steel.
const RECLAIMED: &str = r#"
ph = 7.2
calcium = "138 mg/L as CaCO3"
magnesium = "90 mg/L as CaCO3"
potassium = "18 mg/L as K"
alkalinity = "190 mg/L as CaCO3"
chloride = "60 mg/L as Cl"
sulfate = "110 mg/L as SO4"
nitrate = "8 mg/L as N"
ammonia = "12 mg/L as N"
phosphate = "6 mg/L as P"
silica = "22 mg/L as SiO2"
"#;

fn reclaimed(overrides: &[&str]) -> BlowdownSheet {
    let copper = ["limits.materials=[\"copper_alloy\",\"stainless_304\"]"];
    // A carbon dioxide that is known, so that the headline is not that of the air's.
    let known = ["ph.log10_carbon_dioxide=-3.0"];
    let model = model_of(&site_of(RECLAIMED), &[&copper, &known, overrides].concat());
    model.blowdown(model.base()).unwrap_or_else(|wrong| panic!("{wrong}"))
}

fn message<'a>(sheet: &'a BlowdownSheet, id: &str) -> Option<&'a str> {
    let is_it = |warning: &&coldbasin::warnings::Noticed| warning.notice.id == id;
    sheet.warnings.iter().find(is_it).map(|warning| warning.message.as_str())
}

#[test]
fn ammonia_and_phosphate_are_warned_of_and_stop_nothing() {
    let sheet = reclaimed(&[]);
    assert!(sheet.target_cycles.unwrap() > 3.0, "{:?}", sheet.target_cycles);
    assert!(message(&sheet, "corrosion_possible").unwrap().contains("Ammonia"));
    assert!(message(&sheet, "deposit_possible").unwrap().contains("Tricalcium phosphate"));
    // A limit that the site file states goes before the warning.
    let own = reclaimed(&["limits.saturation_index.tricalcium_phosphate=5"]);
    assert!(!message(&own, "deposit_possible").unwrap_or("").contains("Tricalcium phosphate"));
}

/// 304 at 46 degC: from 101 mg/L on by the strictest source, up to 221 by the most lenient, by hand
/// 150 (50 / 150)^(8 / 22) and 300 (200 / 300)^(6 / 8).
#[test]
fn where_sources_disagree_the_target_stops_late_and_the_page_warns_early() {
    let sheet = reclaimed(&[]);
    let chloride = Measure::Constituent(Constituent::Chloride);
    let limit = &sheet.bindings.iter().find(|b| b.limit.measure == chloride).unwrap().limit;
    assert_relative_eq!(limit.value, 221.3, max_relative = 1e-3);
    assert_relative_eq!(limit.warn_from.as_ref().unwrap().value, 100.6, max_relative = 1e-3);
    assert!(message(&sheet, "sources_disagree").unwrap().contains("101 to 221"));
    let hotter = reclaimed(&["circuit.hottest_surface=75 degC"]);
    let limit = &hotter.bindings.iter().find(|b| b.limit.measure == chloride).unwrap().limit;
    assert!(limit.value < 75.0);
}

#[test]
fn corrosion_is_judged_by_steel_alone() {
    let with = |material: &str| target(&[&format!("limits.materials=[\"{material}\"]")]);
    for material in ["copper_alloy", "film_fill", "concrete"] {
        assert!(warned(&with(material), "corrosion_not_judged"), "{material}");
    }
    for material in ["carbon_steel", "galvanised_steel", "stainless_316"] {
        assert!(!warned(&with(material), "corrosion_not_judged"), "{material}");
    }
    assert!(message(&with("carbon_steel"), "corrosion_possible").unwrap().contains("inhibitor"));
    let fed =
        target(&["limits.materials=[\"carbon_steel\"]", "treatment.corrosion_inhibitor=true"]);
    assert!(!message(&fed, "corrosion_possible").unwrap_or("").contains("Bare carbon steel"));
}

#[test]
fn new_galvanised_steel_is_advised_and_acid_is_no_first_advice() {
    let sheet = target(&["limits.materials=[\"new_galvanised_steel\"]"]);
    let advice = message(&sheet, "new_galvanised").unwrap();
    for words in ["few cycles", "passivation", "cool", "metered", "interlocked"] {
        assert!(advice.contains(words), "{advice}");
    }
}

/// Sums of 2.5 mmol/kg of silica, 1 of calcium, 0.5 of magnesium, 5 of sodium and chloride, 3 meq/kg of alkalinity
/// under 0.001 atm of carbon dioxide at 29 degC, then closed at 10 degC: PHREEQC with phreeqc.dat.
#[test]
fn silica_is_judged_where_the_basin_is_coldest() {
    use coldbasin::blowdown::{PhBasis, TowerWater};
    use coldbasin::chemistry::Composition;
    let mut makeup = Composition::default();
    makeup.alkalinity = 3e-3;
    for (component, millimoles) in [
        (Component::Silica, 2.5),
        (Component::Calcium, 1.0),
        (Component::Magnesium, 0.5),
        (Component::Sodium, 5.0),
        (Component::Chloride, 5.0),
    ] {
        makeup.set(component, 1e-3 * millimoles);
    }
    let tower =
        TowerWater::new(makeup, PhBasis::Free(CarbonDioxide::Pressure(-3.0)), 29.0, 45.0).unwrap();
    let silica = Measure::SaturationIndex(Mineral::AmorphousSilica);
    let mild = tower.at_cycles(1.0).unwrap();
    assert_abs_diff_eq!(silica.of(&mild).unwrap(), 0.0642, epsilon = 2e-3);
    let cold = tower.with_coldest_basin(10.0).unwrap().at_cycles(1.0).unwrap();
    assert_abs_diff_eq!(silica.of(&cold).unwrap(), 0.2279, epsilon = 2e-3);
}

/// Acid that takes more alkalinity than zinc wants left: a warning, and no ceiling.
#[test]
fn a_floor_of_a_material_stops_no_target() {
    let sheet = target(&["limits.materials=[\"galvanised_steel\"]", "ph.held=7.1"]);
    let alkalinity = Measure::Constituent(Constituent::Alkalinity);
    let is_it = |b: &&Binding| b.limit.measure == alkalinity && b.limit.bound == Bound::Least;
    let floor = sheet.bindings.iter().find(is_it).unwrap();
    assert!(!matches!(floor.allows, Allows::All) && floor.ceiling().is_none(), "{floor:?}");
    assert!(message(&sheet, "floor_not_met").unwrap().contains("alkalinity"));
    // The same floor as one of one's own may stop it.
    let own = ["limit.1.of=ph", "limit.1.least=7.2"];
    let text = DAIRY.replace("most = \"180 mg/L as Cl\"\n", "");
    let model = model_of(&text, &[own[0], own[1], "ph.held=7.1"]);
    let sheet = model.blowdown(model.base()).unwrap();
    let floor = sheet.bindings.iter().find(|b| b.limit.bound == Bound::Least).unwrap();
    assert!(floor.limit.may_stop());
}
/// The course of the dairy's visits, whose cycles were chosen as 3.0 in March, 3.1 in April, 2.85 with the
/// harder makeup of May, and 3.65 with 18 % of the calcium gone in June.
mod visits {
    use super::*;
    use coldbasin::model::{Change, VisitsSheet};
    use coldbasin::readings::visits::read;

    const SHEET: &str = include_str!("../examples/dairy-visits.csv");

    fn course(text: &str) -> VisitsSheet {
        let model = model(&[]);
        let read = read(text.as_bytes(), &Default::default()).unwrap();
        assert!(read.not_used.is_empty());
        model.visits(model.base(), &read.samples).unwrap()
    }

    #[test]
    fn each_visit_has_its_cycles_by_full_analysis_and_by_field_kit() {
        let course = course(SHEET);
        let chosen = [3.0, 2.95, 3.1, 3.15, 2.85, 3.6, 3.65];
        assert_eq!(course.visits.len(), chosen.len());
        for (visit, chosen) in course.visits.iter().zip(chosen) {
            let real = visit.real.as_ref().unwrap();
            let off = (real.cycles - chosen).abs();
            assert!(off < 2.0 * real.standard, "{}: {} {chosen}", visit.day, real.cycles);
            assert!(real.is_sure());
        }
    }

    #[test]
    fn what_deposits_and_what_changed_is_told_at_its_visit() {
        let course = course(SHEET);
        let calcite = |place: usize| course.visits[place].own.as_ref().unwrap().comparison.calcite;
        assert!(calcite(0) == 0.0 && calcite(4) == 0.0 && calcite(6) > 0.0);
        let is_makeup = |change: &Change| matches!(change, Change::Makeup { .. });
        let changed: Vec<usize> = (0..course.visits.len())
            .filter(|place| course.visits[*place].changes.iter().any(is_makeup))
            .collect();
        assert_eq!(changed, [4, 6]);
        assert!(course.visits[0].changes.is_empty());
        let out = |place: usize| course.visits[place].judged.iter().any(|judged| judged.is_out);
        assert!(!out(0) && out(5) && course.asks_for_something() == out(6));
    }

    #[test]
    fn a_visit_that_tells_no_cycles_is_still_held_against_the_limits_it_can_judge() {
        let text = "Date,Water,pH,Chloride mg/L as Cl,Silica mg/L as SiO2\n\
                    2026-06-01,Tower,8.6,,\n2026-06-08,Tower,8.6,300,\n";
        let course = course(text);
        assert!(course.visits[0].real.is_none() && course.visits[0].judged.is_empty());
        // By the site file's makeup.
        assert_eq!(course.visits[1].real.as_ref().unwrap().standing, Standing::Alone);
        assert!(course.visits[1].judged.iter().any(|judged| judged.is_out));
        let model = model(&[]);
        let none = read("Date,Water\n2026-06-01,makeup\n".as_bytes(), &Default::default());
        let error = model.visits(model.base(), &none.unwrap().samples).unwrap_err();
        assert_eq!(error.to_string(), "no row is a test of the tower");
    }
}

mod own_test_holds {
    use coldbasin::blowdown::OxidantFeed;
    use coldbasin::blowdown::own_test::assay::{self, Assay};
    use coldbasin::blowdown::own_test::consensus::{Fed, TestedMakeup, real_cycles};
    use coldbasin::blowdown::own_test::{RealCycles, Standing};
    use coldbasin::chemistry::speciation::{self, Acidity, Constants};
    use coldbasin::chemistry::{Composition, Constituent};
    use proptest::prelude::*;

    const IONS: [Constituent; 8] = [
        Constituent::Calcium,
        Constituent::Magnesium,
        Constituent::Sodium,
        Constituent::Potassium,
        Constituent::Alkalinity,
        Constituent::Chloride,
        Constituent::Sulfate,
        Constituent::Silica,
    ];
    /// The tracers among them, by their places.
    const TRACERS: [usize; 6] = [1, 2, 3, 5, 6, 7];

    fn water(mg_per_l: [f64; 8]) -> Composition {
        let mut water = Composition::default();
        for (ion, value) in IONS.into_iter().zip(mg_per_l) {
            ion.put(&mut water, ion.mole_per_kg(value));
        }
        water
    }

    fn at_25(water: &Composition, ph: f64) -> f64 {
        let constants = Constants::at(25.0).unwrap();
        speciation::solve(water, Acidity::Ph(ph), &constants).unwrap().conductivity()
    }

    /// An analysis of a water without error, with one ion times a factor and one missing.
    fn analysed(
        water: &Composition,
        ph: f64,
        factor: Option<(usize, f64)>,
        missing: Option<usize>,
    ) -> Assay {
        let amounts = (0..IONS.len()).filter(|place| Some(*place) != missing).map(|place| {
            let times = factor.filter(|(spoiled, _)| *spoiled == place).map_or(1.0, |(_, by)| by);
            let value = times * IONS[place].of(water).unwrap();
            (IONS[place], assay::found(IONS[place], value, None))
        });
        let conductivity = assay::conductivity(at_25(water, ph), None);
        Assay::new(amounts, Some(conductivity), Some(ph))
    }

    /// Cycles that the test finds of a makeup at just so many.
    fn found(
        mg_per_l: [f64; 8],
        cycles: f64,
        factor: Option<(usize, f64)>,
        missing: Option<usize>,
    ) -> RealCycles {
        let blend = water(mg_per_l);
        let oxidant = OxidantFeed { demand: 0.02e-3, residual: 0.005e-3, decayed: 0.3 };
        let fed = Fed { oxidant, ..Fed::default() };
        let makeup = TestedMakeup {
            assay: analysed(&blend, 7.6, None, None),
            blend,
            computed_conductivity: at_25(&blend, 7.6),
        };
        let tower = analysed(&fed.concentrated(&blend, cycles), 8.6, factor, missing);
        let constants = [30.0, 25.0].map(|celsius| Constants::at(celsius).unwrap());
        real_cycles(&makeup, &tower, &fed, constants.each_ref()).unwrap()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        /// A makeup concentrated exactly gives its cycles, whatever ion is missing from the tower's analysis.
        #[test]
        fn exact_analyses_give_their_cycles(
            calcium in 10.0..120.0, magnesium in 3.0..40.0, sodium in 5.0..120.0,
            potassium in 1.0..10.0, alkalinity in 40.0..300.0, chloride in 8.0..120.0,
            sulfate in 10.0..150.0, silica in 2.0..15.0, cycles in 1.5..8.0, missing in 0_usize..9,
        ) {
            let makeup =
                [calcium, magnesium, sodium, potassium, alkalinity, chloride, sulfate, silica];
            let real = found(makeup, cycles, None, Some(missing));
            prop_assert_eq!(real.standing, Standing::Consensus);
            prop_assert!((real.cycles / cycles - 1.0).abs() < 1e-3, "{:?}", real);
            prop_assert!(real.witnesses.iter().all(|witness| witness.odd.is_none()));
        }

        /// One ion ten times too high or too low never moves the cycles by more than their ±, and is named.
        #[test]
        fn one_spoiled_ion_moves_nothing(
            calcium in 10.0..120.0, magnesium in 3.0..40.0, sodium in 5.0..120.0,
            potassium in 1.0..10.0, alkalinity in 40.0..300.0, chloride in 8.0..120.0,
            sulfate in 10.0..150.0, silica in 2.0..10.0, cycles in 1.5..8.0,
            spoiled in 0_usize..8, high in any::<bool>(),
        ) {
            let makeup =
                [calcium, magnesium, sodium, potassium, alkalinity, chloride, sulfate, silica];
            let factor = if high { 10.0 } else { 0.1 };
            let real = found(makeup, cycles, Some((spoiled, factor)), None);
            prop_assert!((real.cycles - cycles).abs() <= 2.0 * real.standard, "{:?}", real);
            let name = IONS[spoiled].key();
            let odd = real.witnesses.iter().find(|w| w.tracer.key() == name).map(|w| w.odd);
            // Silica beyond its solubility does not count at all, nor does what is near its last digit.
            if TRACERS.contains(&spoiled) {
                prop_assert!(odd.is_none_or(|odd| odd.is_some()), "{:?}", real);
                prop_assert!(odd.is_some() || !high || name == "silica", "{:?}", real);
            }
        }
    }
}

/// A site whose makeup is known by these lines alone.
fn kit(analysis: &str) -> BlowdownSheet {
    let text = format!(
        r#"
coldbasin = 1
[air]
dry_bulb = "32 degC"
wet_bulb = "24 degC"
[circuit]
circulation = "600 m3/h"
hot_water = "35 degC"
cold_water = "29 degC"
[[cell]]
arrangement = "counterflow"
water_to_air = 1.2
drift = "0.002 %"
[blowdown]
cycles = 3
[limits.saturation_index]
calcite = 2.0
[[makeup]]
name = "mains"
share = 0.6
[makeup.analysis]
{analysis}
[[makeup]]
name = "well"
share = 0.4
[makeup.analysis]
ph = 7.6
conductivity = "420 uS/cm"
calcium = "48 mg/L as Ca"
magnesium = "9 mg/L as Mg"
sodium = "22 mg/L as Na"
alkalinity = "110 mg/L as CaCO3"
chloride = "38 mg/L as Cl"
sulfate = "42 mg/L as SO4"
"#
    );
    let model = model_of(&text, &[]);
    model.blowdown(model.base()).unwrap_or_else(|wrong| panic!("{wrong}"))
}

#[test]
fn a_field_kit_gives_a_target_and_says_what_is_made_up() {
    let sheet = kit(
        "ph = 7.6\nconductivity = \"420 uS/cm\"\nhardness = \"9 degdH\"\nalkalinity = \"11 degfH\"",
    );
    assert!(sheet.target_cycles.is_some_and(|cycles| (3.0..8.0).contains(&cycles)));
    let made_up = [Constituent::Sodium, Constituent::Chloride, Constituent::Sulfate];
    assert!(sheet.made_up.len() == 3 && made_up.iter().all(|ion| sheet.made_up.contains(ion)));
    // The water that was completed conducts what was measured.
    assert!(sheet.makeup_conductivity.off().unwrap().abs() < 0.02);
}

#[test]
fn a_softened_field_kit_lays_down_less_than_a_hard_one() {
    let of = |hardness: &str| {
        let lines = "ph = 7.6\nconductivity = \"420 uS/cm\"\nalkalinity = \"110 mg/L as CaCO3\"";
        let sheet = kit(&format!("{lines}\nhardness = \"{hardness} as CaCO3\""));
        allowed(&sheet, Measure::SaturationIndex(Mineral::Calcite)).unwrap()
    };
    let (soft, below, hard) = (of("0 mg/L"), of("<2 mg/L"), of("160 mg/L"));
    assert!(soft > below && below > hard, "{soft} {below} {hard}");
}

#[test]
fn a_source_without_conductivity_is_stood_for_by_its_ions_and_said() {
    let sheet =
        kit("ph = 7.6\nhardness = \"160 mg/L as CaCO3\"\nalkalinity = \"110 mg/L as CaCO3\"");
    let [mains, well] = sheet.sources.as_slice() else { panic!("two sources") };
    assert!(mains.conductivity.1 && !well.conductivity.1);
    let blend = 0.6 * mains.conductivity.0 + 0.4 * well.conductivity.0;
    assert_relative_eq!(sheet.makeup_conductivity.measured.unwrap(), blend, max_relative = 1e-12);
    assert!(sheet.warnings.iter().any(|warning| warning.notice.id == "conductivity_computed"));
}

#[test]
fn drying_loses_half_of_the_bicarbonate() {
    let sheet = target(&[]);
    for water in &sheet.waters {
        let lost =
            Measure::DissolvedIons.of(water).unwrap() - Measure::DissolvedSolids.of(water).unwrap();
        let alkalinity = Measure::Constituent(Constituent::Alkalinity).of(water).unwrap();
        // 1 mg/L of alkalinity as CaCO3 is 1.22 of bicarbonate and stays as 0.60 of carbonate (Standard Methods
        // 1030 E counts 0.6 times the alkalinity, from memory).
        assert_relative_eq!(lost, (1.219 - 0.600) * alkalinity, max_relative = 2e-3);
    }
}

/// The dairy: 5.47 m3/h evaporate; 3.3 cycles take 5.47 / 2.3 = 2.38 m3/h of liquid, by hand.
#[test]
fn each_way_of_control_has_its_setting() {
    let setting = |overrides: &[&str]| target(overrides).setting.unwrap();
    let clock = setting(&["blowdown.control=timer"]);
    let liquid = clock.duty.evaporation / (target(&[]).target_cycles.unwrap() - 1.0);
    let blowdown = liquid - clock.duty.other_losses;
    // A valve of 6 m3/h of cold water, some 0.2 % less at the sheet's temperature.
    assert_relative_eq!(clock.minutes_an_hour.unwrap(), 10.0 * blowdown, max_relative = 3e-3);
    let half = 1.0 + 0.5 * clock.duty.evaporation / liquid;
    assert_relative_eq!(clock.cycles_at_half_load, half, max_relative = 1e-12);
    let paced = setting(&["blowdown.control=makeup_paced", "blowdown.makeup_pulse=1000 L"]);
    let makeup = paced.duty.evaporation + liquid;
    assert_relative_eq!(paced.bled_part, blowdown / makeup, max_relative = 1e-12);
    assert_relative_eq!(paced.bled_a_pulse().unwrap(), blowdown / makeup, max_relative = 1e-12);
    assert_relative_eq!(
        paced.seconds_a_pulse.unwrap(),
        60.0 * clock.minutes_an_hour.unwrap() / makeup,
        max_relative = 1e-9
    );
    // Drift alone makes it less than the target.
    let held = target(&[]).target_cycles.unwrap();
    assert!((paced.cycles_at_half_load - held).abs() < 0.02);
    let small = setting(&["blowdown.control=timer", "blowdown.valve_flow=1 m3/h"]);
    assert_eq!(small.minutes_an_hour, None);
}

#[test]
fn a_discharge_asks_for_cycles_and_never_stops_them() {
    let permit = "[[limit]]\nof = \"discharge_flow\"\nmost = \"50 m3/d\"\n\
                  [[limit]]\nof = \"load.chloride\"\nmost = \"6 kg/d\"\n[[chemical]]\n";
    let model = model_of(&DAIRY.replacen("[[chemical]]\n", permit, 1), &[]);
    let sheet = model.blowdown(model.base()).unwrap();
    let from = |measure| {
        let binding = sheet.bindings.iter().find(|b| b.limit.measure == measure).unwrap();
        assert_eq!(binding.ceiling(), None);
        let Allows::From(cycles) = binding.allows else { panic!("{binding:?}") };
        cycles
    };
    let duty = sheet.setting.unwrap().duty;
    // evaporation / (cycles - 1) - others = 50 m3/d.
    let by_hand = 1.0 + duty.evaporation / (50.0 / 24.0 + duty.other_losses);
    assert_abs_diff_eq!(from(Measure::DischargeFlow), by_hand, epsilon = 1e-3);
    let chloride = from(Measure::Load(Constituent::Chloride));
    let water = sheet.tower.at_cycles(chloride).unwrap();
    let held = Measure::Constituent(Constituent::Chloride).of(&water).unwrap();
    let flow = 24.0 * (duty.evaporation / (chloride - 1.0) - duty.other_losses);
    assert_relative_eq!(1e-3 * held * flow, 6.0, max_relative = 1e-3);
    assert_eq!(sheet.target_cycles, target(&[]).target_cycles);
    let told = sheet.warnings.iter().any(|warning| warning.message.contains("50.0 m3/d"));
    assert!(told, "{:?}", sheet.warnings);
}

#[test]
fn the_least_saving_stops_the_target_where_one_more_cycle_saves_it() {
    let free =
        ["limits.saturation_index.calcite=4.5", "limits.saturation_index.magnesium_silicate=5"];
    let least = [free[0], free[1], "cost.least_saving=20000"];
    let sheet = target(&least);
    assert_eq!(sheet.stop, Stop::LeastSaving);
    let cost = |cycles: f64| {
        let model = model(&[&format!("blowdown.cycles={cycles}")]);
        model.sheet(model.base()).unwrap().money.unwrap().total
    };
    let stops = sheet.best_estimate;
    assert_relative_eq!(cost(stops) - cost(stops + 1.0), 20_000.0, max_relative = 2e-3);
    assert!(target(&free).best_estimate > stops);
}

/// 100 mg/L of a product with 10 % of chloride in all that leaves: 10 mg/L at any cycles.
#[test]
fn salts_of_products_are_in_the_water() {
    let chloride = Measure::Constituent(Constituent::Chloride);
    let at = |part: &str, cycles: f64| {
        let with = format!("chemical.1.contains.chloride={part}");
        let sheet = target(&["chemical.1.dose=100 mg/L", &with]);
        chloride.of(&sheet.tower.at_cycles(cycles).unwrap()).unwrap()
    };
    for cycles in [1.5, 3.0, 6.0] {
        assert_relative_eq!(at("10 %", cycles) - at("1 %", cycles), 9.0, max_relative = 1e-9);
    }
}

/// The makeup's own numbers typed for the tower's: no cycles and no pH are taken from them.
#[test]
fn a_sample_that_is_no_towers_moves_nothing() {
    let text = DAIRY.replace("[circulating_water]", "[circulating_water_of_old]");
    let makeup = "[circulating_water]\nph = 7.5\nchloride = \"20 mg/L as Cl\"\nmagnesium = \"9 mg/L as Mg\"\n\
                  silica = \"8 mg/L as SiO2\"\nalkalinity = \"120 mg/L as CaCO3\"\n";
    let from = text.find("[circulating_water_of_old]").unwrap();
    let end = text[from + 1..].find("\n[").map_or(text.len(), |at| from + 1 + at);
    let typed = format!("{}{makeup}{}", &text[..from], &text[end..]);
    let model = model_of(&typed, &[]);
    let sheet = model.blowdown(model.base()).unwrap();
    assert!(sheet.weaker_than_makeup.is_some());
    let at_air = typed.replace(makeup, "[ph]\nlog10_carbon_dioxide = -3.4\n");
    let model = model_of(&at_air, &[]);
    let expected = model.blowdown(model.base()).unwrap();
    let [found, expected] = [&sheet, &expected].map(|sheet| sheet.target_cycles.unwrap());
    assert!((found - expected).abs() < 0.11, "{found} {expected}");
}

/// A lake water with its tower at 4.2 cycles, of which five tracers agree.
const LAKE: &str = r#"
[air]
dry_bulb = "32 degC"
wet_bulb = "24 degC"
[circuit]
circulation = "680 m3/h"
hot_water = "35 degC"
cold_water = "29 degC"
hottest_surface = "46 degC"
[blowdown]
cycles = 3
[[makeup]]
[makeup.analysis]
ph = 8.0
conductivity = "310 uS/cm"
calcium = "90 ppm as CaCO3"
magnesium = "45 ppm as CaCO3"
sodium = "9 ppm as Na"
alkalinity = "108 ppm as CaCO3"
chloride = "15 ppm as Cl"
sulfate = "28 ppm as SO4"
silica = "3 ppm as SiO2"
[limits.saturation_index]
calcite = 2.5
[circulating_water]
ph = 8.7
conductivity = "1150 uS/cm"
calcium = "390 ppm as CaCO3"
magnesium = "190 ppm as CaCO3"
alkalinity = "440 ppm as CaCO3"
chloride = "63 ppm as Cl"
sulfate = "120 ppm as SO4"
silica = "13 ppm as SiO2"
"#;

fn lake(overrides: &[&str]) -> BlowdownSheet {
    let model = model_of(LAKE, overrides);
    model.blowdown(model.base()).unwrap_or_else(|wrong| panic!("{wrong}"))
}

/// Kunz' line gives 1.6 log10(440) + 4.4 = 8.63, Puckorius' 1.465 log10(440) + 4.54 = 8.41.
#[test]
fn a_tower_ph_far_below_the_line_raises_no_target() {
    let unread = model_of(&LAKE.replace("ph = 8.7\n", ""), &[]);
    let unread = unread.blowdown(unread.base()).unwrap();
    let doubted = lake(&["circulating_water.ph=8.0"]);
    assert!(warned(&doubted, "ph_not_believed"));
    assert_eq!(doubted.target_cycles, unread.target_cycles);
    assert_eq!(doubted.ph_origin, PhOrigin::FieldLine { assumed: true });
    let low = doubted.ph_not_believed().unwrap();
    assert_abs_diff_eq!(low.on_the_line, 8.63, epsilon = 0.06);
    // Every input of its ± keeps to what was decided.
    let [of_doubted, of_unread] = [&doubted, &unread].map(|sheet| {
        let allowed = sheet.uncertain.results.iter().find(|r| r.key == "allowed_cycles");
        allowed.unwrap().standard
    });
    assert_relative_eq!(of_doubted, of_unread, max_relative = 0.02);
    // Between both lines and that: believed, and told.
    let low = lake(&["circulating_water.ph=8.25"]);
    assert!(low.low_ph.is_some_and(|low| low.is_believed) && !warned(&low, "ph_not_believed"));
    // No more carbon dioxide than at Puckorius' line.
    let on_the_lowest = lake(&["circulating_water.ph=8.41"]);
    assert!((low.best_estimate / on_the_lowest.best_estimate - 1.0).abs() < 0.05);
    assert!(low.best_estimate < unread.band.unwrap().cycles()[1]);
    let usual = lake(&[]);
    assert!(usual.low_ph.is_none() && matches!(usual.ph_origin, PhOrigin::Measured { .. }));
    // A pH that acid holds lies where it is held.
    let held = lake(&["circulating_water.ph=8.0", "ph.held=8.0"]);
    assert!(held.low_ph.is_none() && held.target_cycles.is_some());
}

#[test]
fn a_target_without_the_acid_that_is_fed_is_not_given() {
    let fed = [
        "circulating_water.ph=7.7",
        "circulating_water.alkalinity=110 mg/L as CaCO3",
        "circulating_water.sulfate=437 mg/L as SO4",
    ];
    let sheet = lake(&fed);
    assert_eq!(sheet.withheld, Some(Withheld::AcidInTower));
    assert!(sheet.target_cycles.is_none() && sheet.set_point.is_none() && sheet.saving.is_none());
    assert!(sheet.uncertain.results.is_empty() && sheet.own_test.unwrap().set_point.is_none());
    let stated = lake(&[&fed[..], &["ph.held=7.7"]].concat());
    assert!(stated.withheld.is_none() && stated.target_cycles.is_some());
    // An acid of the file without its pH.
    let acid = format!("{LAKE}[[chemical]]\nkind = \"acid\"\nstrength = \"93 %\"\n");
    let of = |overrides: &[&str]| {
        let model = model_of(&acid, overrides);
        model.blowdown(model.base()).unwrap()
    };
    assert_eq!(of(&[]).withheld, Some(Withheld::AcidWithoutPh));
    assert!(of(&[]).target_cycles.is_none() && warned(&of(&[]), "acid_without_ph"));
    assert!(of(&["ph.held=8.0"]).target_cycles.is_some());
}

/// By its meter the tower is above the target, by the file below: nobody knows which way money goes.
#[test]
fn a_lone_meter_on_the_other_side_of_the_target_leaves_money_open() {
    let from = LAKE.find("[circulating_water]").unwrap();
    let of = |reads: &str| {
        let text = format!("{}[circulating_water]\n{reads}\n", &LAKE[..from]);
        let model = model_of(&text, &["blowdown.cycles=5"]);
        model.blowdown(model.base()).unwrap()
    };
    let target = of("").target_cycles.unwrap();
    assert!(target > 5.0 && of("").saving.is_some());
    let above = of("conductivity = \"2600 uS/cm\"");
    assert_eq!(above.real.as_ref().unwrap().standing, Standing::Alone);
    assert!(above.contested_cycles.unwrap() > above.target_cycles.unwrap());
    assert!(above.saving.is_none());
    let below = of("conductivity = \"800 uS/cm\"");
    assert!(below.contested_cycles.is_none() && below.saving.is_some());
}

#[test]
fn what_needs_a_product_is_no_target_without_it() {
    let needs = |sheet: &BlowdownSheet| -> Vec<&str> {
        let beyond =
            sheet.watched.iter().filter(|w| sheet.watched_value(w).is_some_and(|(_, is)| is));
        beyond.filter_map(|watched| watched.needs).collect()
    };
    let sheet = reclaimed(&[]);
    let needed = needs(&sheet);
    assert!(needed.iter().any(|needed| needed.contains("phosphate")), "{needed:?}");
    assert!(needed.iter().any(|needed| needed.contains("azole")), "{needed:?}");
    assert!(needs(&target(&[])).is_empty());
}

/// Sulfate is 28 mg/L a cycle: 150 mg/L at 5.36 cycles.
#[test]
fn concrete_of_no_class_says_what_ordinary_cement_allows() {
    let text = LAKE.replace(
        "[limits.saturation_index]",
        "[limits]\nmaterials = [\"concrete\"]\n[limits.saturation_index]",
    );
    let of = |overrides: &[&str]| {
        let model = model_of(&text, overrides);
        let sheet = model.blowdown(model.base()).unwrap();
        let sulfate = Measure::Constituent(Constituent::Sulfate);
        let place = sheet.bindings.iter().position(|b| b.limit.measure == sulfate).unwrap();
        (sheet.target_cycles.unwrap(), sheet.strictest_allows[place])
    };
    let (target, strict) = of(&[]);
    assert!(target > 5.4, "{target}");
    assert_relative_eq!(strict.unwrap(), 150.0 / 28.0, max_relative = 1e-3);
    assert_eq!(of(&["limits.concrete_class=S1"]).1, None);
    assert_eq!(of(&["limits.concrete_class=S0"]).0, 5.3);
}

/// 72 mg/L of silica: what a basin of 10 degC allows is the crossing in a basin that is stated as cold.
#[test]
fn silica_in_a_cold_basin_is_told_until_the_coldest_is_stated() {
    let silica = "makeup.1.analysis.silica=72 mg/L as SiO2";
    let open = lake(&[silica]);
    let told = open.in_cold_basin.unwrap();
    assert!(told < open.target_cycles.unwrap());
    let cold = lake(&[silica, "circuit.coldest_basin=10 degC"]);
    assert!(cold.in_cold_basin.is_none());
    let of = allowed(&cold, Measure::SaturationIndex(Mineral::AmorphousSilica)).unwrap();
    assert_relative_eq!(told, of, max_relative = 1e-3);
    // Far from it nothing is said.
    assert!(lake(&[]).in_cold_basin.is_none());
}

#[test]
fn a_controller_that_would_shut_below_its_makeup_is_told() {
    let close = lake(&["limits.saturation_index.calcite=0.6"]);
    assert!(close.never_shuts().is_some() && warned(&close, "controller_never_shuts"));
    assert!(lake(&[]).never_shuts().is_none());
    // A narrower band shuts above it, and a clock never does.
    let narrow = ["limits.saturation_index.calcite=0.6", "blowdown.dead_band=0.5 %"];
    assert!(lake(&narrow).never_shuts().is_none());
}

/// 680 m3/h over 6 K evaporate some 5.9 m3/h; with a leak of 3 m3/h some 3 cycles are left.
#[test]
fn cycles_that_the_losses_do_not_leave_are_told() {
    let sheet = lake(&["losses.leakage=3 m3/h"]);
    assert!(sheet.losses_allow < 4.0 && warned(&sheet, "cycles_above_losses"));
    // The tower itself shows 4.2 cycles.
    assert_eq!(sheet.above_losses, sheet.real.as_ref().map(|real| real.cycles));
    let stated = target(&["losses.leakage=6 m3/h"]);
    assert!(stated.losses_allow < 3.0 && stated.above_losses.is_some());
    assert!(!warned(&lake(&[]), "cycles_above_losses"));
}

/// Three of five agree on 4.2 cycles, chloride and silica on 6: a vote.
#[test]
fn a_split_vote_of_tracers_is_no_consensus() {
    let split = lake(&[
        "circulating_water.chloride=95 mg/L as Cl",
        "circulating_water.silica=19 mg/L as SiO2",
    ]);
    let real = split.real.as_ref().unwrap();
    assert_eq!(real.standing, Standing::Split, "{real:?}");
    assert!(!real.is_sure() && split.own_test.as_ref().unwrap().set_point.is_none());
    // Today stays what the file says.
    assert_eq!(split.present_cycles, 3.0);
    assert_eq!(lake(&[]).real.unwrap().standing, Standing::Consensus);
    let one = lake(&["circulating_water.chloride=95 mg/L as Cl"]);
    assert_eq!(one.real.unwrap().standing, Standing::Consensus);
}

#[test]
fn much_alkalinity_is_a_matter_of_phosphonate_and_calcium() {
    let own = "[limits.saturation_index]\ncalcite = 2.5\n";
    let with = |programme: &str, overrides: &[&str]| {
        let text = LAKE.replace(own, programme);
        let model = model_of(&text, overrides);
        let sheet = model.blowdown(model.base()).unwrap();
        message(&sheet, "deposit_possible").unwrap_or("").contains("much for phosphonate")
    };
    let rich = ["makeup.1.analysis.alkalinity=130 mg/L as CaCO3", "ph.log10_carbon_dioxide=-2.6"];
    let phosphonate = "[treatment]\nscale_inhibitor = \"phosphonate\"\n";
    assert!(with(phosphonate, &rich));
    assert!(!with("[treatment]\nscale_inhibitor = \"alkaline_polymer\"\n", &rich));
    assert!(!with("", &rich));
    let soft = [&rich[..], &["makeup.1.analysis.calcium=0 mg/L as Ca"]].concat();
    let soft = [&soft[..], &["makeup.1.analysis.sodium=55 mg/L as Na"]].concat();
    assert!(!with(phosphonate, &soft));
}

/// Without a treatment calcite stops the cycles at its default; a programme would carry more.
#[test]
fn where_nobody_states_a_treatment_the_programmes_are_told() {
    let text = LAKE.replace("[limits.saturation_index]\ncalcite = 2.5\n", "");
    let of = |treatment: &str| {
        let model = model_of(&format!("{text}{treatment}"), &[]);
        model.blowdown(model.base()).unwrap()
    };
    let none = of("");
    let [(_, phosphonate), (_, polymer)] = none.by_programme.as_slice() else { panic!("two") };
    let with = of("[treatment]\nscale_inhibitor = \"phosphonate\"\n");
    assert_relative_eq!(*phosphonate, with.best_estimate, max_relative = 1e-3);
    assert!(polymer > phosphonate && *phosphonate > none.best_estimate);
    assert!(with.by_programme.is_empty());
}

fn notices(sheet: &BlowdownSheet, id: &str) -> Vec<String> {
    let of = sheet.warnings.iter().filter(|warning| warning.notice.id == id);
    of.map(|warning| warning.message.clone()).collect()
}

#[test]
fn a_slip_of_an_analysis_is_named_with_its_size() {
    assert_eq!(notices(&target(&[]), "analysis_slip"), Vec::<String>::new());
    // Another number of the well, and what its slip is called.
    for (text, told) in [
        ("conductivity=0.69 uS/cm", "Makeup well: likely conductivity 0.69 mS/cm, not uS/cm."),
        (
            "sodium=330 mg/L as Na",
            "likely sodium 33 mg/L as Na in place of 330 (a digit too many).",
        ),
    ] {
        let text = format!("makeup.well.analysis.{text}");
        let model = model(&[&text]);
        let found = match model.blowdown(model.base()) {
            Ok(sheet) => notices(&sheet, "analysis_slip").join(" "),
            Err(BlowdownError::ChargeImbalance { slip, .. }) => slip.unwrap_or_default(),
            Err(other) => panic!("{other}"),
        };
        assert!(found.contains(told), "{found}");
    }
    // The tower's own analysis, against its makeup.
    let sheet = target(&["circulating_water.calcium=1760 mg/L as Ca"]);
    let told = notices(&sheet, "analysis_slip").join(" ");
    assert!(told.starts_with("Circulating water: likely calcium 176 mg/L as Ca in place of 1760"));
}

#[test]
fn a_refused_sheet_names_the_slip_that_would_close_it() {
    let model = model(&["makeup.well.analysis.calcium=8.6 mg/L as Ca"]);
    let Err(BlowdownError::ChargeImbalance { slip, .. }) = model.blowdown(model.base()) else {
        panic!("it should be refused");
    };
    assert!(
        slip.unwrap()
            .starts_with("likely calcium 86 mg/L as Ca in place of 8.6 (a digit dropped).")
    );
}

#[test]
fn the_towers_ph_in_the_makeup_is_told() {
    assert!(notices(&target(&[]), "makeup_ph_odd").is_empty());
    let told = notices(&target(&["makeup.well.analysis.ph=8.69"]), "makeup_ph_odd").join(" ");
    assert!(told.contains("it is the tower's pH (8.55)"), "{told}");
}

#[test]
fn an_old_sample_is_told_against_the_newest() {
    let well = "makeup.well.analysis.sampled";
    let sheet =
        |day: &str| target(&[&format!("{well}={day}"), "circulating_water.sampled=2026-05-18"]);
    assert!(notices(&sheet("2026-05-04"), "sample_old").is_empty());
    let told = notices(&sheet("2019-03-02"), "sample_old").join(" ");
    assert!(told.contains("(2019-03-02) is 7.2 years older than that of circulating water"));
}

/// A reading at 4.2 cycles says little of 9: along the line the carbon dioxide falls, and calcite binds sooner than where
/// the pressure of the reading is stated as that of the tower.
#[test]
fn a_reading_of_the_ph_is_carried_along_the_line_to_more_cycles() {
    let read = lake(&["circulating_water.ph=8.6"]);
    let CarbonDioxide::Reading { log10, .. } = read.tower.basis().gas() else {
        panic!("a reading")
    };
    let kept = lake(&[&format!("ph.log10_carbon_dioxide={log10}")]);
    assert!(read.best_estimate < kept.best_estimate - 0.5);
    let [at_test, above] = [4.2, 8.4].map(|cycles| read.tower.at_cycles(cycles).unwrap());
    assert_abs_diff_eq!(at_test.basin.log10_carbon_dioxide, log10, epsilon = 0.01);
    // Twice the alkalinity: 0.7 log10(2) less.
    assert_abs_diff_eq!(above.basin.log10_carbon_dioxide, log10 - 0.2107, epsilon = 0.01);
}

#[test]
fn bare_carbon_steel_wants_its_inhibitor_first() {
    use coldbasin::blowdown::limit::RemarkKind;
    let is_bare = |more: &[&str]| {
        let steel = [&["limits.materials=[\"carbon_steel\"]"], more].concat();
        target(&steel).remarks.iter().any(|remark| remark.kind == RemarkKind::BareSteel)
    };
    assert!(is_bare(&[]) && !is_bare(&["treatment.corrosion_inhibitor=true"]));
}

/// The makeup's conductivity has a limit of 3 %, to which the set point is proportional; an ion moves it by what the
/// water with a little more of it conducts at the same cycles.
#[test]
fn the_set_point_is_as_sure_as_its_makeup_at_the_same_cycles() {
    let text = &LAKE[..LAKE.find("[circulating_water]").unwrap()];
    let of = |chloride: f64| {
        let model = model_of(text, &[&format!("makeup.1.analysis.chloride={chloride} mg/L as Cl")]);
        model.blowdown(model.base()).unwrap()
    };
    let sheet = of(15.0);
    let find = |key: &str| sheet.uncertain.results.iter().find(|result| result.key == key).unwrap();
    let set_point = find("set_point_us_per_cm");
    assert_relative_eq!(
        set_point.value,
        1e4 * sheet.set_point.unwrap().conductivity,
        max_relative = 1e-9
    );
    let effect = |path: &str| {
        let (_, part) = set_point.from.iter().find(|(from, _)| from == path).unwrap();
        part.sqrt() * set_point.standard
    };
    let of_meter = effect("makeup.1.analysis.conductivity");
    assert_relative_eq!(of_meter, set_point.value * 0.03 / 3f64.sqrt(), max_relative = 2e-3);
    // Chloride's ± is 5 %.
    let cycles = sheet.target_cycles.unwrap();
    let reads = |sheet: &BlowdownSheet| {
        let water = sheet.tower.at_cycles(cycles).unwrap();
        1e4 * water.conductivity * 0.031 / sheet.makeup_conductivity.computed
    };
    let step = 15.0 * 0.05 / 3f64.sqrt();
    let moved = 0.5 * (reads(&of(15.0 + step)) - reads(&of(15.0 - step))).abs();
    assert_relative_eq!(
        effect("makeup.1.analysis.chloride"),
        moved,
        max_relative = 0.1,
        epsilon = 0.3
    );
}

/// The lines under ANSWER.
fn answer_lines(text: &str, overrides: &[&str]) -> Vec<String> {
    use coldbasin::quantity::UnitSystem;
    use coldbasin::report::blowdown::{Beside, page};
    use coldbasin::report::page::{Depth, Style, text as as_text};
    let model = model_of(text, overrides);
    let sheet = model.blowdown(model.base()).unwrap();
    let given = model.analyses_used(model.base());
    let beside = Beside { slots: model.slots(), waters: &sheet.waters, given: &given };
    let page = page(&sheet, "site.toml", beside, UnitSystem::Si);
    let shown = as_text(&page, Style { depth: Depth::Answer, ..Style::default() });
    let lines = shown.lines().skip_while(|line| *line != "ANSWER").skip(1);
    lines.take_while(|line| !line.is_empty()).map(str::to_owned).collect()
}

#[test]
fn the_answer_is_short_and_a_withheld_target_is_not_in_it() {
    let reclaimed = site_of(RECLAIMED);
    let materials =
        "limits.materials=[\"copper_alloy\",\"stainless_304\",\"concrete\",\"carbon_steel\"]";
    for (text, overrides) in
        [(DAIRY, vec![]), (&reclaimed, vec![materials]), (LAKE, vec!["circulating_water.ph=8.0"])]
    {
        let lines = answer_lines(text, &overrides);
        assert!(lines.len() <= 18, "{}", lines.join("\n"));
        assert!(lines.iter().any(|line| line.contains("cycles of concentration")));
    }
    let acid = answer_lines(
        LAKE,
        &[
            "circulating_water.ph=7.7",
            "circulating_water.alkalinity=110 mg/L as CaCO3",
            "circulating_water.sulfate=437 mg/L as SO4",
        ],
    );
    assert!(acid[0].starts_with("First: acid is fed"), "{acid:?}");
    assert!(acid.iter().all(|line| !line.contains("Hold ") && !line.contains("uS/cm")), "{acid:?}");
    assert!(acid.len() <= 8, "{acid:?}");
}

#[test]
fn p_alkalinity_is_held_against_the_ph_or_the_total() {
    let id = "p_alkalinity_off_ph";
    let tower = |p: &str| {
        notices(&target(&[&format!("circulating_water.p_alkalinity={p} mg/L as CaCO3")]), id)
    };
    assert!(tower("20").is_empty(), "{:?}", tower("20"));
    assert!(tower("150").join(" ").starts_with("Circulating water: P alkalinity of 150"));
    // Without a pH: 2 x 200 - 235.
    let text = DAIRY.replacen("ph = 7.4\n", "p_alkalinity = \"200 mg/L as CaCO3\"\n", 1);
    let model = model_of(&text, &[]);
    let told = notices(&model.blowdown(model.base()).unwrap(), id).join(" ");
    assert!(told.contains("leaves 165 of hydroxide"), "{told}");
}

#[test]
fn what_is_read_and_not_judged_says_why() {
    let model =
        model(&["makeup.well.analysis.barium=0.05 mg/L", "makeup.well.analysis.zinc=0.1 mg/L"]);
    let used = model.analyses_used(model.base());
    for key in ["barium", "zinc"] {
        let entry = used[0].entries.iter().find(|entry| entry.given.key == key).unwrap();
        assert!(entry.given.remark.is_some(), "{key}");
    }
}

#[test]
fn manganese_is_watched() {
    let told = |mains: &str| {
        let sheet = target(&[
            "makeup.well.analysis.manganese=0.2 mg/L",
            &format!("makeup.mains.analysis.manganese={mains} mg/L as Mn"),
        ]);
        notices(&sheet, "fouling_possible").join(" ")
    };
    assert!(told("0.2").contains("Manganese"), "{}", told("0.2"));
    let none =
        target(&["makeup.well.analysis.manganese=<0.01 mg/L", "makeup.mains.analysis.manganese=0"]);
    assert!(notices(&none, "fouling_possible").is_empty());
}
