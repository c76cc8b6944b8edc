//! Logs of those who have few meters: what is missing costs certainty, not the check.

use super::{check, check_with_slips};
use coldbasin::model::{Model, TwoReadings, TwoVerdict};
use coldbasin::site::{Table, file, validate, validate_without};

const DAIRY: &str = include_str!("../../examples/dairy.toml");
const LOG: &str = include_str!("../../examples/dairy-log.csv");

/// The dairy without the columns of these channels.
fn without(channels: &[&str]) -> String {
    let (rest, log) = DAIRY.split_once("[log] ").unwrap();
    let is_kept = |column: &&str| {
        !channels.iter().any(|channel| column.contains(&format!("is = \"{channel}\"")))
    };
    let kept: Vec<&str> = log.split("[[log.column]]").filter(is_kept).collect();
    format!("{rest}[log] {}", kept.join("[[log.column]]"))
}

const BLOWDOWN: &str = "blowdown_register";
const CONDUCTIVITIES: [&str; 2] = ["makeup_conductivity", "basin_conductivity"];
const WATER: [&str; 2] = ["hot_water", "cold_water"];

#[test]
fn each_reading_that_is_missing_widens_what_is_expected_and_what_hides() {
    let read = |site: &str| check_with_slips(site, LOG).0;
    let whole = read(DAIRY);
    let by_conductivity = read(&without(&[BLOWDOWN]));
    let by_cycles = read(&without(&[BLOWDOWN, CONDUCTIVITIES[0], CONDUCTIVITIES[1]]));
    let bare = [&[BLOWDOWN], &CONDUCTIVITIES[..], &WATER[..]].concat();
    let bare = read(&without(&bare));
    let mut last = (0.0, 0.0);
    for sheet in [&whole, &by_conductivity, &by_cycles, &bare] {
        assert_eq!(sheet.periods.len(), whole.periods.len());
        let (expected, hides) = (sheet.periods[20].expected.uncertainty, sheet.shows.0);
        assert!(expected > last.0 && hides > last.1, "{expected} {hides} after {last:?}");
        last = (expected, hides);
        // Before the leak begins the makeup is what is expected.
        let quiet = &sheet.periods[..20];
        assert!(quiet.iter().all(|period| period.is_in_tolerance()));
    }
    let buys = &by_conductivity.shows.1[0];
    assert!(buys.loss < 0.2 * by_conductivity.shows.0, "{buys:?}");
    assert!(whole.shows.1.is_empty());
    // The leak is bled less, which nothing of the other logs can show.
    assert!(whole.finding_stands() && !by_cycles.finding_stands() && !bare.finding_stands());
}

/// Bills of a month: the register once in 28 to 35 days.
#[test]
fn bills_are_periods_of_their_own() {
    let site = without(&[
        BLOWDOWN,
        "makeup_conductivity",
        "basin_conductivity",
        "hot_water",
        "cold_water",
        "dry_bulb",
        "wet_bulb",
        "recorded",
    ]);
    let days = ["01-31", "02-28", "04-04", "05-03", "06-02", "07-01"];
    let rows = days
        .iter()
        .enumerate()
        .map(|(bill, day)| format!("2026-{day},{}\n", 10_000 + 5_400 * bill));
    let log = format!("time,makeup m3\n{}", rows.collect::<String>());
    let sheet = check(&site, &log);
    let hours: Vec<f64> = sheet.periods.iter().map(|period| period.hours).collect();
    assert_eq!(hours, [28.0, 35.0, 29.0, 30.0, 29.0].map(|days| 24.0 * days));
    assert!((sheet.periods[0].readings.makeup.value - 5_400.0 / 28.0).abs() < 1e-9);
    assert!(!sheet.is_long_enough() && sheet.findings.is_empty());
}

#[test]
fn a_design_that_cannot_be_does_not_stop_a_log_with_its_own_temperatures() {
    // Water that cannot come so near to the wet bulb over such a range.
    let pinched = DAIRY
        .replace("cold_water = \"27 degC\"", "cold_water = \"22.5 degC\"")
        .replace("hot_water = \"35 degC\"", "hot_water = \"40 degC\"");
    let source = file::read("site.toml", &pinched, &[]).unwrap();
    let model = Model::compile(&validate(&source.description).unwrap());
    assert!(model.sheet(model.base()).is_err());
    let sheet = check_with_slips(&pinched, LOG).0;
    assert!(sheet.design_is_infeasible.is_some());
    assert!(sheet.periods.len() > 40);
    assert_eq!(check_with_slips(DAIRY, LOG).0.design_is_infeasible, None);
}

#[test]
fn a_table_that_is_not_read_stops_nothing() {
    let read = |text: &str| file::read("site.toml", text, &[]).unwrap().description;
    let bad = read(&DAIRY.replacen(
        "is = \"makeup_register\"\nunit = \"m3\"",
        "is = \"makeup_register\"\nunit = \"kg\"",
        1,
    ));
    assert!(validate(&bad).is_err() && validate_without(&bad, &[Table::Basin]).is_err());
    let (site, problems) = validate_without(&bad, &[Table::Log]).unwrap();
    assert!(site.log.is_none());
    assert_eq!(problems[0].path, "log.column.1.unit");
    // What is right stays.
    let (site, problems) = validate_without(&read(DAIRY), &[Table::Log]).unwrap();
    assert!(site.log.is_some() && problems.is_empty());
}

/// Expected makeup is evaporation x C / (C - 1) and drift, of the balance itself.
#[test]
fn two_readings_are_held_against_the_balance() {
    let source = file::read("site.toml", DAIRY, &[]).unwrap();
    let model = Model::compile(&validate(&source.description).unwrap());
    let balance = model.sheet(model.base()).unwrap().balance;
    let needed = 24.0 * balance.water.makeup_kg_per_s * 3.6 / 0.9982;
    let read = |makeup, blowdown, is_known| TwoReadings {
        hours: Some(24.0),
        makeup,
        blowdown,
        load_is_known: is_known,
        weather_is_known: is_known,
    };
    let checked = |read| model.check_two(model.base(), &read).unwrap();
    let sheet = checked(read(needed, None, true));
    assert!((sheet.expected.value / needed - 1.0).abs() < 1e-3, "{sheet:?} {needed}");
    assert_eq!(sheet.verdict(), TwoVerdict::AsExpected);
    assert_eq!(checked(read(1.3 * needed, None, true)).verdict(), TwoVerdict::TooMuch);
    assert_eq!(checked(read(0.6 * needed, None, true)).verdict(), TwoVerdict::TooLittle);
    // What is not known widens it, what is read narrows it.
    let unknown = checked(read(needed, None, false));
    let with_blowdown = checked(read(needed, Some(needed / 3.0), true));
    assert!(unknown.expected.uncertainty > 2.0 * sheet.expected.uncertainty);
    assert!(with_blowdown.expected.uncertainty < sheet.expected.uncertainty);
    assert!(with_blowdown.hides < 0.4 * sheet.hides && sheet.hides < unknown.hides);
    assert!(sheet.controller_hides && !with_blowdown.controller_hides);
}
