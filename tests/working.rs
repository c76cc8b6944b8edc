//! Every line of the working is evaluated again and must hit the printed digits; every key of the
//! rows must stand in the JSON with the same value.

use coldbasin::model::{BalanceSheet, Model};
use coldbasin::quantity::significant;
use coldbasin::report::{json, rows, working};
use coldbasin::site::{Description, file, validate};

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
        let lines = working::lines(&sheet);
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
        let json = serde_json::to_value(json::sheet(&sheet, "site.toml")).unwrap();
        for row in rows(&sheet) {
            let (table, key) = row.key.split_once('.').unwrap();
            assert_eq!(json[table][key].as_f64(), Some(row.value()), "{}", row.key);
        }
        let error = json["closing_error"]["water"].as_f64().unwrap();
        assert!(error.abs() < 1e-9);
    }
}
