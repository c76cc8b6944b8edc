//! What is checked against the outside world, and the command line as people run it: one binary, a module a
//! subject. `cargo test --test integration blowdown::` runs one of them.

mod blowdown;
mod check;
mod cli;
mod edges;
#[cfg(unix)]
mod files;
mod keys;
mod level;
mod model;
mod page;
mod picture;
mod printable;
mod published;
mod schema;
mod slips;
mod storm;
mod uncertainty;
mod warnings;
mod whatif;
mod working;
mod year;

use coldbasin::model::Model;
use coldbasin::site::{Description, file, validate};

/// A site as the command line reads it; what is wrong with it, in words.
fn try_model(text: &str, overrides: &[&str]) -> Result<Model, String> {
    let overrides: Vec<_> = overrides.iter().map(|text| text.parse().unwrap()).collect();
    let problems = |description: &Description| validate(description).err().unwrap_or_default();
    let source = file::read_and_check("site.toml", text, &overrides, problems)
        .map_err(|wrong| wrong.to_string())?;
    let site = validate(&source.description).map_err(|problems| format!("{problems:?}"))?;
    Ok(Model::compile(&site))
}

/// The same where nothing is wrong.
fn model_of(text: &str, overrides: &[&str]) -> Model {
    try_model(text, overrides).unwrap_or_else(|wrong| panic!("{wrong}"))
}

/// A module that nobody names above would never run.
#[test]
fn every_file_of_tests_is_a_module() {
    let named = include_str!("main.rs");
    for entry in std::fs::read_dir("tests").unwrap() {
        let path = entry.unwrap().path();
        let is_module =
            path.extension().is_some_and(|end| end == "rs") || path.join("mod.rs").exists();
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        if is_module && name != "main" {
            assert!(named.contains(&format!("mod {name};\n")), "tests/main.rs lacks mod {name};");
        }
    }
}
