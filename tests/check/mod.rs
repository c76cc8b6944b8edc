//! The daily check: logs with and without faults.

mod few_meters;
mod logs;
// Simulators of plants by authors who had not seen the library: its assumptions are none of theirs.
#[allow(dead_code)]
mod other_plants;
#[allow(dead_code)]
mod plants;
mod plants_trial;
mod simulator;
mod trial;

use coldbasin::model::{CheckError, CheckSheet, Model};
use coldbasin::readings::period::{Cut, gather};
use coldbasin::readings::{NotUsed, rows};
use coldbasin::site::{file, validate};

/// Checks a log, all of whose lines must be used, by days.
fn check(site: &str, log: &str) -> CheckSheet {
    try_check(site, log).unwrap()
}

fn try_check(site: &str, log: &str) -> Result<CheckSheet, CheckError> {
    let (sheet, not_used) = gathered(site, log);
    assert!(not_used.is_empty(), "{not_used:?}");
    sheet
}

/// Checks a log with slips of the pen, by days.
fn check_with_slips(site: &str, log: &str) -> (CheckSheet, NotUsed) {
    let (sheet, not_used) = gathered(site, log);
    (sheet.unwrap(), not_used)
}

fn gathered(site: &str, log: &str) -> (Result<CheckSheet, CheckError>, NotUsed) {
    let source = file::read("site.toml", site, &[]).unwrap();
    let site = validate(&source.description).unwrap_or_else(|problems| panic!("{problems:?}"));
    let model = Model::compile(&site);
    let layout = &model.site().log.as_ref().unwrap().layout;
    let mut rows = rows(log.as_bytes(), layout).unwrap();
    let periods = gather(&mut rows, layout, &Cut::default()).unwrap().periods;
    (model.check(model.base(), &periods), rows.into_not_used())
}
