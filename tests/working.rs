//! Every line of the working is evaluated again and must hit the printed digits; every key of the
//! rows must stand in the JSON with the same value.

use coldbasin::model::{BalanceSheet, LevelQuestions, Model};
use coldbasin::quantity::significant;
use coldbasin::readings::{self, period, weather};
use coldbasin::report::page::{self, Block, Page};
use coldbasin::report::{balance, blowdown, check, feed, level, transient, year};
use coldbasin::site::{Description, file, validate};
use coldbasin::tower::prediction::CrossflowWorkspace;
use coldbasin::transient::{Blowdown, Change, Event, Substance};

const CANNERY: &str = include_str!("../examples/cannery.toml");

fn sheet(overrides: &[&str]) -> BalanceSheet {
    let overrides: Vec<_> =
        overrides.iter().map(|text| file::Override::parse(text).unwrap()).collect();
    let source = file::read::<Description>("site.toml", CANNERY, &overrides)
        .unwrap_or_else(|e| panic!("{e}"));
    let model = Model::compile(&validate(&source.description).unwrap());
    model.sheet(model.base()).unwrap()
}

fn variants() -> Vec<BalanceSheet> {
    vec![
        sheet(&[]),
        sheet(&["evaporation.method=merkel"]),
        sheet(&["evaporation.method=latent"]),
        sheet(&["cell.east.arrangement=counterflow", "cell.west.arrangement=counterflow"]),
        sheet(&[
            "air.dry_bulb=-5 degC",
            "air.wet_bulb=-6 degC",
            "circuit.hot_water=25 degC",
            "circuit.cold_water=18 degC",
        ]),
        sheet(&["losses.leakage=9 m3/h"]),
        sheet(&["evaporation.flow=12 m3/h"]),
    ]
}

#[test]
fn every_line_evaluates_to_its_printed_result() {
    for sheet in variants() {
        let lines = balance::lines(&sheet);
        assert!(lines.len() >= 6, "{lines:?}");
        for line in lines {
            let value = exmex::eval_str::<f64>(&line.numbers)
                .unwrap_or_else(|e| panic!("{}: {e}", line.numbers));
            assert_eq!(
                significant(value, 5),
                line.result,
                "{} = {}",
                line.equation.text,
                line.numbers
            );
        }
    }
}

#[test]
fn rows_and_json_carry_the_same_numbers() {
    for sheet in variants() {
        let json = serde_json::to_value(balance::json(&sheet, "site.toml")).unwrap();
        for row in balance::rows(&sheet) {
            let (table, key) = row.key.split_once('.').unwrap();
            assert_eq!(json[table][key].as_f64(), Some(row.value()), "{}", row.key);
        }
        let error = json["closing_error"]["water"].as_f64().unwrap();
        assert!(error.abs() < 1e-9);
    }
}

/// The numbers of every equation that a text of working shows, with what it says they come to.
fn shown(text: &str) -> Vec<(String, f64)> {
    // An equation's lines are indented by two, its source by four; long ones go on below.
    let mut lines: Vec<String> = Vec::new();
    for line in text.lines() {
        match line.strip_prefix("  ").filter(|rest| !rest.starts_with(' ')) {
            Some(rest) if rest.starts_with("= ") || lines.is_empty() => lines.push(rest.into()),
            Some(rest) if lines.last().is_some_and(|last| last.starts_with("= ")) => {
                let last = lines.last_mut().unwrap();
                *last = format!("{last} {rest}");
            }
            _ => lines.push(String::new()),
        }
    }
    lines
        .windows(2)
        .filter(|pair| pair[0].starts_with("= ") && pair[1].starts_with("= "))
        .map(|pair| {
            let result = pair[1][2..].split(' ').next().unwrap().parse().unwrap();
            (pair[0][2..].to_owned(), result)
        })
        .collect()
}

/// Blocks as a page shows them.
fn lines(detail: Vec<Block>) -> String {
    page::text(&Page { detail, ..Page::default() }, page::Style::default())
}

#[test]
fn every_working_of_the_other_commands_comes_to_what_it_says() {
    const DAIRY: &str = include_str!("../examples/dairy.toml");
    let overrides: Vec<_> = ["ph.held=8.0", "chemical.1.kind=acid", "chemical.1.strength=93 %"]
        .iter()
        .map(|text| file::Override::parse(text).unwrap())
        .collect();
    let source = file::read::<Description>("site.toml", DAIRY, &overrides).unwrap();
    let model = Model::compile(&validate(&source.description).unwrap());
    let inputs = model.base();
    let events = [Event { hour: 6.0, change: Change::Blowdown(Blowdown::Flow(0.0)) }];
    let course = model.transient(inputs, Some(2.0), Substance::default(), &events, 30.0).unwrap();
    let weather = include_bytes!("../examples/dairy-weather.csv").as_slice();
    let plan = model.year_plan(inputs).unwrap();
    let layout = model.site().weather.as_ref();
    let weather = weather::read(weather, layout, plan.pressure_pascal()).unwrap();
    let mut work = CrossflowWorkspace::default();
    let hours: Vec<_> = weather.hours.iter().map(|hour| plan.hour(hour, &mut work)).collect();
    let sheet = plan.sheet(&hours);
    let run =
        year::Year { plan: &plan, sheet: &sheet, hours: &hours, weather: &weather, source: "" };
    let log = include_bytes!("../examples/dairy-log.csv").as_slice();
    let layout = &model.site().log.as_ref().unwrap().layout;
    let cut = period::Cut { every: period::Every::Day, from: None, to: None };
    let mut rows = readings::rows(log, layout).unwrap();
    let record = period::gather(&mut rows, layout, &cut).unwrap();
    let checked = model.check(inputs, &record.periods).unwrap();
    let not_used = rows.into_not_used();
    let log = check::Log {
        source: "",
        every: cut.every,
        not_used: &not_used,
        values: (record.values, false),
        repairs: &record.repairs,
        recorded: &[],
    };
    let on_line = |toward_air: &str| {
        let overrides =
            ["ph.alkalinity_line=true".to_owned(), format!("ph.toward_air={toward_air}")];
        let overrides = overrides.map(|text| file::Override::parse(&text).unwrap());
        let source = file::read::<Description>("site.toml", DAIRY, &overrides).unwrap();
        let model = Model::compile(&validate(&source.description).unwrap());
        lines(blowdown::working(&model.blowdown(model.base()).unwrap()))
    };
    let questions = LevelQuestions { stuck: 1.0, act_hours: 0.5, to_cycles: None, drop_test: None };
    let texts = [
        (lines(blowdown::working(&model.blowdown(inputs).unwrap())), 4),
        // The carbon dioxide of the field lines: between them, toward each end, and at one.
        (on_line("-0.4"), 4),
        (on_line("0"), 4),
        (on_line("0.6 ± 0.2"), 4),
        (on_line("1"), 4),
        (lines(feed::working(&model.feed(inputs).unwrap())), 3),
        (lines(transient::working(&course)), course.stretches.len()),
        (lines(level::working(&model.level(inputs, questions).unwrap())), 2),
        (lines(year::working(&run)), 6),
        (lines(check::working(&checked, &log)), 6),
    ];
    for (text, count) in texts {
        let equations = shown(&text);
        assert_eq!(equations.len(), count, "{text}");
        for (expression, result) in equations {
            let value = exmex::eval_str::<f64>(&expression)
                .unwrap_or_else(|error| panic!("{expression}: {error}"));
            assert!(
                (value - result).abs() <= 6e-4 * result.abs(),
                "{expression} = {value}, not {result}"
            );
        }
    }
}
