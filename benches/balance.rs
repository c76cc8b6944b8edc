//! Speed of one tower solution, one balance without parsing, one parse, one speciation, one target.
//! `tests/reference/waters.py` prints the time of PHREEQC for waters like these.

use coldbasin::air::MoistAir;
use coldbasin::chemistry::speciation::{self, Acidity, Constants};
use coldbasin::model::{LevelQuestions, Model, Workspace};
use coldbasin::readings::weather;
use coldbasin::site::{Description, file, validate};
use coldbasin::tower::{Duty, poppe};
use coldbasin::whatif::columns::column;
use coldbasin::whatif::{Combination, Plan, Runner};
use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;

const DAIRY: &str = include_str!("../examples/dairy.toml");
const CANNERY: &str = include_str!("../examples/cannery.toml");

fn duty(dry: f64, relative_humidity: f64, hot: f64, cold: f64) -> Duty {
    Duty {
        hot_water_celsius: hot,
        cold_water_celsius: cold,
        entering_air: MoistAir::from_relative_humidity(dry, relative_humidity, 101_325.0).unwrap(),
        water_to_air: 1.2,
    }
}

fn tower(criterion: &mut Criterion) {
    let mut work = poppe::CrossflowWorkspace::default();
    for (name, duty) in [
        ("unsaturated", duty(35.0, 0.47, 35.0, 29.5)),
        ("supersaturated", duty(5.0, 0.8, 30.0, 18.0)),
        ("near a pinch", duty(30.0, 0.5, 35.0, 23.7)),
    ] {
        criterion.bench_function(&format!("poppe counterflow, {name}"), |b| {
            b.iter(|| poppe::counterflow(black_box(&duty)))
        });
        criterion.bench_function(&format!("poppe crossflow, {name}"), |b| {
            b.iter(|| poppe::crossflow(black_box(&duty), &mut work))
        });
    }
}

fn balance(criterion: &mut Criterion) {
    criterion.bench_function("parse a site file", |b| {
        b.iter(|| file::read::<Description>("site.toml", black_box(CANNERY), &[]))
    });
    let source = file::read::<Description>("site.toml", CANNERY, &[]).unwrap();
    let model = Model::compile(&validate(&source.description).unwrap());
    criterion.bench_function("one balance, new workspace", |b| {
        b.iter(|| model.evaluate(model.base(), &mut Workspace::new(&model)))
    });
    criterion.bench_function("one sheet with uncertainties", |b| {
        b.iter(|| model.sheet(black_box(model.base())))
    });
    let source = file::read::<Description>("site.toml", DAIRY, &[]).unwrap();
    let model = Model::compile(&validate(&source.description).unwrap());
    criterion.bench_function("uncertainty of a year's money", |b| {
        b.iter(|| model.uncertain_money(black_box(model.base())))
    });
}

fn chemistry(criterion: &mut Criterion) {
    let source = file::read::<Description>("site.toml", DAIRY, &[]).unwrap();
    let model = Model::compile(&validate(&source.description).unwrap());
    let sheet = model.blowdown(model.base()).unwrap();
    let makeup = sheet.tower.makeup().concentrated(5.0);
    let constants = Constants::at(35.0).unwrap();
    for (name, acidity) in [
        ("pH", Acidity::Ph(8.5)),
        ("carbon dioxide", Acidity::CarbonDioxide(-3.0)),
        ("total carbon", Acidity::TotalCarbon(makeup.alkalinity)),
    ] {
        criterion.bench_function(&format!("one speciation, {name} given"), |b| {
            b.iter(|| speciation::solve(black_box(&makeup), acidity, &constants))
        });
    }
    for cycles in [1.0, 5.0] {
        criterion.bench_function(&format!("one solved water of {cycles} cycles"), |b| {
            b.iter(|| sheet.tower.at_cycles(black_box(cycles)))
        });
    }
    criterion.bench_function("one blowdown target with uncertainties", |b| {
        b.iter(|| model.blowdown(black_box(model.base())))
    });
    let mut exact = validate(&source.description).unwrap();
    for slot in &mut exact.slots {
        slot.uncertainty = None;
    }
    let exact = Model::compile(&exact);
    criterion.bench_function("one blowdown target", |b| {
        b.iter(|| exact.blowdown(black_box(exact.base())))
    });
}

/// A row of many runs, by what its columns ask for; every row is another water.
fn rows(criterion: &mut Criterion) {
    let source = file::read::<Description>("site.toml", DAIRY, &[]).unwrap();
    let model = Model::compile(&validate(&source.description).unwrap());
    let varied = [("makeup.well.share".to_owned(), "1 to 99 %".to_owned())];
    let combination = Combination::Draws { rows: u32::MAX, seed: 1 };
    let plan = Plan::new(&model, &varied, combination).unwrap();
    for names in ["makeup", "allowed_cycles", "target_cycles,set_point,total_cost_at_target"] {
        let columns: Vec<_> = names.split(',').map(|name| column(&model, name).unwrap()).collect();
        let mut runner = Runner::new(&model, &plan, &columns);
        let mut row = 0;
        criterion.bench_function(&format!("one row with {names}"), |b| {
            b.iter(|| {
                row += 1;
                runner.set(row);
                runner.results().is_ok_and(|results| results.has_answer())
            })
        });
    }
}

fn basin(criterion: &mut Criterion) {
    let source = file::read::<Description>("site.toml", DAIRY, &[]).unwrap();
    let model = Model::compile(&validate(&source.description).unwrap());
    let questions = LevelQuestions { stuck: 1.0, act_hours: 0.5, to_cycles: None, drop_test: None };
    criterion.bench_function("all events of a basin, a week each", |b| {
        b.iter(|| model.level(black_box(model.base()), questions))
    });
    criterion.bench_function("uncertainties of a basin's events", |b| {
        b.iter(|| model.uncertain_level(black_box(model.base()), questions))
    });
}

fn year(criterion: &mut Criterion) {
    const WEATHER: &[u8] = include_bytes!("../examples/dairy-weather.csv");
    criterion.bench_function("read a year of weather", |b| {
        let source = file::read::<Description>("site.toml", DAIRY, &[]).unwrap();
        let site = validate(&source.description).unwrap();
        b.iter(|| weather::read(black_box(WEATHER), site.weather.as_ref(), 98e3))
    });
    for arrangement in ["counterflow", "crossflow"] {
        let text = DAIRY.replace("\"counterflow\"", &format!("\"{arrangement}\""));
        let source = file::read::<Description>("site.toml", &text, &[]).unwrap();
        let site = validate(&source.description).unwrap();
        let model = Model::compile(&site);
        let plan = model.year_plan(model.base()).unwrap();
        let weather = weather::read(WEATHER, site.weather.as_ref(), 98e3).unwrap();
        // A spread over the year, so that every kind of hour has its share.
        let hours: Vec<_> = weather.hours.iter().step_by(175).collect();
        let mut work = poppe::CrossflowWorkspace::default();
        criterion.bench_function(&format!("{} hours of a year, {arrangement}", hours.len()), |b| {
            b.iter(|| hours.iter().map(|hour| plan.hour(hour, &mut work).fan_speed).sum::<f64>())
        });
    }
}

criterion_group!(benches, tower, balance, chemistry, rows, basin, year);
criterion_main!(benches);
