//! Any text as an override, as the values of an input, or as a question is refused with words, or holds.
#![no_main]

use coldbasin::model::Model;
use coldbasin::site::file::Override;
use coldbasin::site::{Description, file, validate};
use coldbasin::whatif::solve::Question;
use coldbasin::whatif::{Combination, Plan};
use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

const SITE: &str = include_str!("../../../examples/dairy.toml");

static MODEL: LazyLock<Model> = LazyLock::new(|| {
    let source = file::read("dairy.toml", SITE, &[]).expect("the example");
    Model::compile(&validate(&source.description).expect("the example"))
});

fuzz_target!(|text: &str| {
    if let Ok(override_) = text.parse::<Override>() {
        let problems = |description: &Description| validate(description).err().unwrap_or_default();
        if let Err(wrong) = file::read_and_check("dairy.toml", SITE, &[override_], problems) {
            drop(wrong.to_string());
        }
    }
    for path in ["blowdown.cycles", "air.wet_bulb", "losses.leakage"] {
        let varied = [(path.to_owned(), text.to_owned())];
        for combination in [Combination::Grid, Combination::Draws { rows: 3, seed: 1 }] {
            if let Ok(plan) = Plan::new(&MODEL, &varied, combination) {
                let mut inputs = MODEL.base().clone();
                for row in 0..plan.rows().min(3) {
                    plan.write(&MODEL, row, &mut inputs);
                }
            }
        }
        let _ = Question::read(&MODEL, path, text, Some("1 to 2"));
        let _ = Question::read(&MODEL, path, "makeup = 9 m3/h", Some(text));
    }
});
