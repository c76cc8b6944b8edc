//! Any bytes as a log end in periods and a list of what is not used, and the periods in a check or a
//! reason.
#![no_main]

use coldbasin::model::Model;
use coldbasin::readings::period::{Cut, Every, gather};
use coldbasin::readings::rows;
use coldbasin::site::{file, validate};
use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;

static MODEL: LazyLock<Model> = LazyLock::new(|| {
    let text = include_str!("../../../examples/dairy.toml");
    let source = file::read("dairy.toml", text, &[]).expect("the example");
    Model::compile(&validate(&source.description).expect("the example"))
});

fuzz_target!(|bytes: &[u8]| {
    let layout = &MODEL.site().log.as_ref().expect("the example's log").layout;
    for every in [Every::Hour, Every::Day] {
        let Ok(mut rows) = rows(bytes, layout) else { return };
        let cut = Cut { every, ..Cut::default() };
        let Ok(record) = gather(&mut rows, layout, &cut) else { return };
        drop(rows.into_not_used());
        // The check solves waters: once in a while is enough.
        if bytes.len() % 32 == 0 && record.periods.len() < 60 {
            let _ = MODEL.check(MODEL.base(), &record.periods);
        }
    }
});
