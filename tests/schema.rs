//! The schema that editors check a site file with says what the reader says.

use jsonschema::Validator;
use serde_json::Value;

fn validator() -> Validator {
    let schema = serde_json::to_value(coldbasin::site::schema()).unwrap();
    jsonschema::validator_for(&schema).unwrap()
}

fn as_json(text: &str) -> Value {
    let table: toml::Table = text.parse().unwrap();
    serde_json::to_value(table).unwrap()
}

#[test]
fn every_example_conforms() {
    let validator = validator();
    let mut files = 0;
    for entry in std::fs::read_dir("examples").unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|extension| extension == "toml") {
            let errors: Vec<String> = validator
                .iter_errors(&as_json(&std::fs::read_to_string(&path).unwrap()))
                .map(|error| format!("{}: {error}", error.instance_path()))
                .collect();
            assert!(errors.is_empty(), "{}: {errors:?}", path.display());
            files += 1;
        }
    }
    assert!(files >= 2);
}

#[test]
fn what_the_reader_refuses_the_schema_refuses() {
    let validator = validator();
    for text in [
        "coldbasin = \"1\"",
        "[air]\ndry_bulb = 32",
        "[air]\ndry_bulbs = \"32 degC\"",
        "[air]\ndry_bulb = \"warm\"",
        "[[cell]]\narrangement = \"sideways\"",
        "[blowdown]\ncontrol = 1",
        "[cell]\nshare = 0.5",
        "[[makeup]]\n[makeup.analysis]\ncalcium = 48",
    ] {
        assert!(!validator.is_valid(&as_json(text)), "{text}");
        assert!(
            coldbasin::site::file::read::<coldbasin::site::Description>("x", text, &[]).is_err()
        );
    }
    // Numbers stand alone where there is no unit, and beside a text that carries ±.
    for text in [
        "[blowdown]\ncycles = 5",
        "[blowdown]\ncycles = \"5 ± 0.2\"",
        "[[makeup]]\nshare = 0.4",
        "[circuit]\ncirculation = \"4,000 gpm\"",
    ] {
        assert!(validator.is_valid(&as_json(text)), "{text}");
    }
}

#[cfg(feature = "cli")]
mod results {
    use coldbasin::report::schema::{ResultOf, schema};
    use jsonschema::Validator;
    use serde_json::Value;
    use std::process::Command;

    const DAIRY: &str = "examples/dairy.toml";
    const CANNERY: &str = "examples/cannery.toml";
    const LOG: &str = "examples/dairy-log.csv";
    const VISITS: &str = "examples/dairy-visits.csv";
    const WEATHER: &str = "examples/dairy-weather.csv";

    /// Command lines with the result that each prints as json.
    const RUNS: &[(ResultOf, &[&str])] = &[
        (ResultOf::Balance, &["balance", DAIRY]),
        (ResultOf::Balance, &["balance", CANNERY, "--monte-carlo", "200"]),
        (ResultOf::Blowdown, &["blowdown", DAIRY]),
        (ResultOf::Blowdown, &["blowdown", DAIRY, "--set", "ph.held=8"]),
        (ResultOf::BlowdownVisits, &["blowdown", DAIRY, "--visits", VISITS]),
        (ResultOf::Check, &["check", DAIRY, LOG]),
        (ResultOf::CheckTwoReadings, &["check", DAIRY, "--makeup", "214.5 m3", "--during", "24 h"]),
        (ResultOf::Feed, &["feed", DAIRY]),
        (ResultOf::Level, &["level", DAIRY]),
        (ResultOf::Level, &["level", DAIRY, "--stuck", "30"]),
        (
            ResultOf::Solve,
            &["solve", DAIRY, "--vary", "blowdown.cycles", "--for", "makeup = 9 m3/h"],
        ),
        (ResultOf::Transient, &["transient", DAIRY, "--event", "12 h blowdown shut"]),
        (ResultOf::Units, &["units"]),
        (ResultOf::Warnings, &["warnings"]),
        (ResultOf::WhatIf, &["whatif", DAIRY, "--vary", "blowdown.cycles=3, 4, 500"]),
        (ResultOf::Year, &["year", DAIRY, WEATHER]),
    ];

    fn printed(arguments: &[&str]) -> String {
        let output = Command::new(env!("CARGO_BIN_EXE_coldbasin"))
            .args(arguments)
            .args(["--format", "json"])
            .output()
            .unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        assert!(!text.is_empty(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
        text
    }

    fn errors(validator: &Validator, text: &str) -> Vec<String> {
        let values = serde_json::Deserializer::from_str(text).into_iter::<Value>();
        let of_value = |value: Value| -> Vec<String> {
            validator
                .iter_errors(&value)
                .map(|e| format!("{}: {e:.300}", e.instance_path()))
                .collect()
        };
        values.flat_map(|value| of_value(value.unwrap())).collect()
    }

    /// Lets no object have a key that its form does not name.
    fn closed(schema: &mut Value) {
        match schema {
            Value::Object(object) => {
                object.values_mut().for_each(closed);
                if object.contains_key("properties") && !object.contains_key("additionalProperties")
                {
                    object.insert("additionalProperties".into(), false.into());
                }
            }
            Value::Array(members) => members.iter_mut().for_each(closed),
            _ => {}
        }
    }

    #[test]
    fn what_is_printed_has_the_form_that_is_printed() {
        for (result, arguments) in RUNS {
            let mut form = serde_json::to_value(schema(*result)).unwrap();
            closed(&mut form);
            let validator = jsonschema::validator_for(&form).unwrap();
            let errors = errors(&validator, &printed(arguments));
            assert!(errors.is_empty(), "{arguments:?}: {errors:#?}");
        }
    }

    #[test]
    fn every_key_is_described() {
        for (result, _) in RUNS {
            let form = serde_json::to_value(schema(*result)).unwrap();
            let undescribed = undescribed(&form);
            assert!(undescribed.is_empty(), "{result:?}: {undescribed:?}");
        }
    }

    fn undescribed(schema: &Value) -> Vec<String> {
        let Value::Object(object) = schema else {
            return schema.as_array().into_iter().flatten().flat_map(undescribed).collect();
        };
        let properties = object.get("properties").and_then(Value::as_object).into_iter().flatten();
        let bare = properties
            .filter(|(_, value)| value.get("description").is_none())
            .map(|(key, _)| key.clone());
        bare.chain(object.values().flat_map(undescribed)).collect()
    }
}
