//! Prediction away from the design point and a year of weather, against the outside world.

use super::model_of;
use approx::assert_relative_eq;
use coldbasin::air::MoistAir;
use coldbasin::model::{Fans, Model, WetBulbAtLimit, YearHour};
use coldbasin::readings::weather::{self, Hour, Weather, missing};
use coldbasin::tower::prediction::{CrossflowWorkspace, Fill, Task, Transfer};
use coldbasin::tower::{Arrangement, Duty};
use serde_json::Value;

const DAIRY: &str = include_str!("../examples/dairy.toml");
const WEATHER: &str = include_str!("../examples/dairy-weather.csv");

/// scipy 1.17.1: integrations of Poppe's equations that share no code with the crate, and a root over
/// the cold water (tests/reference/prediction.py).
#[test]
fn cold_water_away_from_the_design_is_that_of_an_independent_solution() {
    let whole: Value = serde_json::from_str(include_str!("reference/prediction.json")).unwrap();
    let number = |row: &Value, key: &str| row[key].as_f64().unwrap();
    let air = |row: &Value| {
        let [dry, humidity, pressure] =
            ["dry_bulb", "relative_humidity", "pressure"].map(|key| number(row, key));
        MoistAir::from_relative_humidity(dry, humidity, pressure).unwrap()
    };
    let design = &whole["design"];
    let duty = Duty {
        hot_water_celsius: number(design, "hot_water"),
        cold_water_celsius: number(design, "cold_water"),
        entering_air: air(design),
        water_to_air: number(design, "water_to_air"),
    };
    let exponent = whole["exponent"].as_f64().unwrap();
    let mut work = CrossflowWorkspace::default();
    let mut rows = 0;
    for row in whole["rows"].as_array().unwrap() {
        // Parts of the approach: what eight steps, and a coarse grid, promise.
        let (arrangement, close) = match row["arrangement"].as_str().unwrap() {
            "counterflow" => (Arrangement::Counterflow, 1e-3),
            _ => (Arrangement::Crossflow, 1e-2),
        };
        let fill = Fill::fitted(Transfer::Poppe, arrangement, exponent, &duty, &mut work).unwrap();
        let task = Task { range_kelvin: number(row, "range"), entering_air: air(row) };
        let found = fill.predict(&task, number(row, "water_to_air"), &mut work).unwrap();
        let cold = number(row, "cold_water");
        let approach = cold - task.entering_air.wet_bulb_celsius().unwrap();
        assert_relative_eq!(found.cold_water_celsius, cold, epsilon = close * approach);
        let evaporation = number(row, "evaporation_per_water");
        assert_relative_eq!(found.evaporation_per_water, evaporation, max_relative = 1e-3);
        rows += 1;
    }
    assert_eq!(rows, 10);
}

/// Two days of a TMY3 file, a work of the US government (NREL), as carried by the PyPI package pvlib 0.16.1:
/// its relative humidities stand beside the dew points that are read. Both come from readings in whole degF,
/// which moves a relative humidity by up to 1.8 % of itself for either.
#[test]
fn a_tmy3_file_is_read_as_its_own_humidities_say() {
    let text = include_str!("published/tmy3-two-days.csv");
    let weather = weather::read(text.as_bytes(), None, 101_325.0).unwrap();
    assert_eq!(weather.hours.len(), 48);
    assert!(weather.not_used.is_empty(), "{:?}", weather.not_used);
    let mut sum = 0.0;
    for (hour, line) in weather.hours.iter().zip(text.lines().skip(2)) {
        let printed: f64 = line.split(',').nth(37).unwrap().parse().unwrap();
        let off = 100.0 * hour.air.relative_humidity() - printed;
        assert!(off.abs() <= 0.036 * printed + 0.5, "{line}");
        sum += off;
    }
    assert!((sum / 48.0).abs() < 0.5, "{sum}");
}

fn model(site: &str) -> Model {
    model_of(site, &[])
}

fn read(model: &Model, text: &str) -> Weather {
    weather::read(text.as_bytes(), model.site().weather.as_ref(), 101_325.0).unwrap()
}

fn run(model: &Model, hours: &[Hour]) -> Vec<YearHour> {
    let plan = model.year_plan(model.base()).unwrap();
    let mut work = CrossflowWorkspace::default();
    hours.iter().map(|hour| plan.hour(hour, &mut work)).collect()
}

/// Every 37th hour of the example's year.
fn some_hours(model: &Model) -> Vec<YearHour> {
    let weather = read(model, WEATHER);
    let hours: Vec<Hour> = weather.hours.into_iter().step_by(37).collect();
    run(model, &hours)
}

#[test]
fn water_closes_in_every_hour_and_in_the_sums() {
    let model = model(DAIRY);
    let hours = some_hours(&model);
    for hour in &hours {
        let water = &hour.water;
        assert!(water.water_closing_error().abs() < 1e-9);
        assert!(water.solids_closing_error().abs() < 1e-9);
        assert!(water.evaporation_kg_per_s >= 0.0);
    }
    let plan = model.year_plan(model.base()).unwrap();
    let sheet = plan.sheet(&hours);
    let months: f64 = sheet.months.iter().map(|month| month.sums.makeup()).sum();
    assert_relative_eq!(months, sheet.total.makeup(), max_relative = 1e-12);
    let duration: f64 = sheet.duration.iter().sum();
    assert_relative_eq!(duration, sheet.total.makeup(), max_relative = 1e-9);
    assert_relative_eq!(sheet.duration[0], sheet.peak_hour.unwrap().value);
}

#[test]
fn fans_hold_the_set_point_where_they_can() {
    for arrangement in ["counterflow", "crossflow"] {
        let site = DAIRY
            .replace("arrangement = \"counterflow\"", &format!("arrangement = \"{arrangement}\""));
        let hours = some_hours(&model(&site));
        let mut seen = [false; 3];
        for hour in &hours {
            let cold = hour.cold_water_celsius.unwrap();
            match hour.fans {
                Fans::Full => assert!(cold > 22.0 - 0.01 && hour.fan_speed == 1.0),
                Fans::Slowed | Fans::Cycling => {
                    assert_relative_eq!(cold, 22.0, epsilon = 1e-9);
                    assert!(hour.fan_speed < 1.0);
                }
                other => panic!("{other:?}"),
            }
            for (place, fans) in [Fans::Full, Fans::Slowed, Fans::Cycling].into_iter().enumerate() {
                seen[place] |= hour.fans == fans;
            }
        }
        assert!(seen[0] && seen[1], "{arrangement}: {seen:?}");
    }
}

/// A slowed fan gives the set point: the same air at the design's speed, with a ratio as much larger,
/// predicts it.
#[test]
fn a_slowed_fan_gives_the_set_point() {
    let model = model(DAIRY);
    let plan = model.year_plan(model.base()).unwrap();
    let mut work = CrossflowWorkspace::default();
    let (fill, _, water_to_air) = plan.fills().next().unwrap();
    let mut checked = 0;
    for hour in some_hours(&model).iter().filter(|hour| hour.fans == Fans::Slowed) {
        let task = Task { range_kelvin: 8.0 * hour.load, entering_air: hour.weather.air };
        let ratio = hour.ratio_over_design * water_to_air;
        let found = fill.predict(&task, ratio, &mut work).unwrap();
        assert_relative_eq!(found.cold_water_celsius, 22.0, epsilon = 0.02);
        checked += 1;
    }
    assert!(checked > 50);
}

#[test]
fn nothing_drifts_where_fans_stand_and_idle_towers_use_nothing() {
    let site = DAIRY
        .replace("cold_water_set_point = \"22 degC\"", "cold_water_set_point = \"35 degC\"")
        .replace(
            "least_fan_speed = \"25 %\"",
            "least_fan_speed = \"50 %\"\nnatural_draught = \"40 %\"",
        )
        .replace("sunday = [0.5,", "sunday = [0,");
    let model = model(&site);
    let weather = read(&model, WEATHER);
    let hours = run(&model, &weather.hours[..24 * 28]);
    let off: Vec<_> = hours.iter().filter(|hour| hour.fans == Fans::Off).collect();
    assert!(!off.is_empty());
    assert!(off.iter().all(|hour| hour.water.drift_kg_per_s == 0.0 && hour.fan_speed == 0.0));
    let idle: Vec<_> = hours.iter().filter(|hour| hour.fans == Fans::Idle).collect();
    assert_eq!(idle.len(), 4, "the first hour of four Sundays");
    assert!(idle.iter().all(|hour| hour.water.makeup_kg_per_s == 0.0));
}

#[test]
fn cells_that_differ_are_mixed_as_they_do() {
    // Two like cells are one of twice the water; two unlike ones lie between either alone.
    let cells = |first: &str, second: &str| {
        let own = DAIRY.find("[[cell]]").unwrap();
        let after = own + DAIRY[own..].find("\n[").unwrap();
        let cell = |ratio: &str| {
            format!(
                "[[cell]]\narrangement = \"counterflow\"\nwater_to_air = {ratio}\ndrift = \"0.002 %\"\n"
            )
        };
        format!("{}{}{}{}", &DAIRY[..own], cell(first), cell(second), &DAIRY[after..])
            .replace("cold_water_set_point = \"22 degC\"\n", "")
            .replace("[year]\n", "[year]\ntransfer_coefficient = 1.6\n")
    };
    let cold = |site: &str| {
        let model = model(site);
        let weather = read(&model, WEATHER);
        run(&model, &weather.hours[4_000..4_006])
            .iter()
            .map(|hour| hour.cold_water_celsius.unwrap_or_else(|| panic!("{hour:?}")))
            .collect::<Vec<_>>()
    };
    let (more, less, mixed) =
        (cold(&cells("1.0", "1.0")), cold(&cells("1.6", "1.6")), cold(&cells("1.0", "1.6")));
    for ((more, less), mixed) in more.iter().zip(&less).zip(&mixed) {
        assert!(more < mixed && mixed < less, "{more} {mixed} {less}");
    }
}

#[test]
fn missing_hours_are_told_and_in_no_sum() {
    let model = model(DAIRY);
    let weather = read(&model, WEATHER);
    let gaps = missing(&weather.hours);
    assert_eq!(gaps.len(), 1);
    assert_eq!((gaps[0].0.to_string().as_str(), gaps[0].1), ("2025-10-12T01:00:00", 6));
    assert_eq!(weather.hours.len(), 8_754);
}

/// Air that is drawn in again counts in every hour as it does at the design point: an hour like that is
/// that.
#[test]
fn the_design_hour_comes_back_with_recirculation() {
    let site = DAIRY
        .replace("altitude = \"240 m\"", "altitude = \"240 m\"\nrecirculation = \"0.8 K\"")
        .replace("cold_water_set_point = \"22 degC\"\n", "");
    let model = model(&site);
    let plan = model.year_plan(model.base()).unwrap();
    let air = MoistAir::from_wet_bulb(30.0, 22.0, plan.pressure_pascal()).unwrap();
    let time = "2026-07-01T12:00:00".parse().unwrap();
    let hour = Hour { line: 2, time, air, load: Some(1.0) };
    let found = plan.hour(&hour, &mut CrossflowWorkspace::default());
    assert_relative_eq!(found.cold_water_celsius.unwrap(), 27.0, epsilon = 2e-3);
    assert_relative_eq!(found.ratio_over_design, 1.0, epsilon = 1e-9);
}

#[test]
fn the_wet_bulb_of_a_limit_is_told_or_why_there_is_none() {
    let limit = |limit: &str| {
        let stated = format!("cold_water_limit = \"{limit}\"");
        let site = DAIRY
            .replace("cold_water_limit = \"28 degC\"", &stated)
            .replace("cold_water_set_point = \"22 degC\"\n", "");
        let model = model(&site);
        let plan = model.year_plan(model.base()).unwrap();
        plan.wet_bulb_at_limit(&mut CrossflowWorkspace::default()).unwrap()
    };
    // The limit is the design's cold water: so is the wet bulb.
    let WetBulbAtLimit::At(wet_bulb) = limit("27 degC") else { panic!() };
    assert_relative_eq!(wet_bulb, 22.0, epsilon = 0.02);
    assert_eq!(limit("60 degC"), WetBulbAtLimit::HoldsTo(40.0));
    assert_eq!(limit("5 degC"), WetBulbAtLimit::FailsFrom(-10.0));
}

/// Four cells whose fans are switched: the part of them that runs holds the set point, and their drift
/// goes with it; the water is that of speed control within a few per cent.
#[test]
fn fans_are_switched_one_after_the_other() {
    let own = DAIRY.find("[[cell]]").unwrap();
    let after = own + DAIRY[own..].find("\n[").unwrap();
    let cell = "[[cell]]\narrangement = \"counterflow\"\nwater_to_air = 1.2\ndrift = \"0.002 %\"\n";
    let site = format!("{}{}{}", &DAIRY[..own], cell.repeat(4), &DAIRY[after..]);
    let by_speed = some_hours(&model(&site));
    let by_stages = some_hours(&model(&site.replace("[year]\n", "[year]\nfans = \"stages\"\n")));
    let mut switched = 0;
    for (speed, stages) in by_speed.iter().zip(&by_stages) {
        assert_eq!(speed.fans == Fans::Full, stages.fans == Fans::Full);
        let [a, b] = [speed, stages].map(|hour| hour.water.evaporation_kg_per_s);
        assert_relative_eq!(a, b, max_relative = 0.06);
        if stages.fans == Fans::Cycling {
            assert_relative_eq!(stages.cold_water_celsius.unwrap(), 22.0, epsilon = 1e-9);
            let drift = stages.water.drift_kg_per_s / speed.water.drift_kg_per_s;
            assert!(stages.fan_speed < 1.0 && drift < 1.0, "{stages:?}");
            switched += 1;
        }
    }
    assert!(switched > 50, "{switched}");
}

/// A tower that is never run hot has nothing to warn of; a limit below the set point is exceeded, and weather
/// from 1000 m higher has another pressure.
#[test]
fn a_year_warns_of_warm_water_and_of_another_height() {
    let ids = |site: &str, pascal: f64| {
        let model = model(site);
        let weather =
            weather::read(WEATHER.as_bytes(), model.site().weather.as_ref(), pascal).unwrap();
        let hours: Vec<Hour> = weather.hours.into_iter().step_by(200).collect();
        let hours = run(&model, &hours);
        let sheet = model.year_plan(model.base()).unwrap().sheet(&hours);
        sheet.warnings.iter().map(|noticed| noticed.notice.id).collect::<Vec<_>>()
    };
    let own = model(DAIRY).year_plan(model(DAIRY).base()).unwrap().pressure_pascal();
    assert_eq!(ids(DAIRY, own), [""; 0]);
    assert_eq!(ids(&DAIRY.replace("\"28 degC\"", "\"21 degC\""), own), ["cold_water_above_limit"]);
    assert_eq!(ids(DAIRY, 0.88 * own), ["pressure_off_site"]);
}
