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
