//! Any bytes as weather end in hours and a list of what is not used.
#![no_main]

use coldbasin::model::Model;
use coldbasin::readings::weather;
use coldbasin::site::{file, validate};
use coldbasin::tower::prediction::CrossflowWorkspace;
use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

static MODEL: LazyLock<Model> = LazyLock::new(|| {
    let text = include_str!("../../../examples/dairy.toml");
    let source = file::read("dairy.toml", text, &[]).expect("the example");
    Model::compile(&validate(&source.description).expect("the example"))
});

fuzz_target!(|bytes: &[u8]| {
    let Ok(weather) = weather::read(bytes, MODEL.site().weather.as_ref(), 101_325.0) else { return };
    drop(weather::missing(&weather.hours));
    let plan = MODEL.year_plan(MODEL.base()).expect("the example's design");
    let mut work = CrossflowWorkspace::default();
    let hours: Vec<_> =
        weather.hours.iter().take(20).map(|hour| plan.hour(hour, &mut work)).collect();
    let sheet = plan.sheet(&hours);
    assert!(sheet.total.makeup().is_finite());
});
