//! Site files and command lines drawn from the forms that they have, likely ones and hostile ones, over all
//! commands and formats: whatever is given, a run ends with its status, and a result is whole.
//!
//! A run is a function of its number alone. `STORM_ONLY=4711 cargo test --test integration storm:: -- --nocapture` repeats
//! one, and its files stay in `target/tmp/storm/`.

mod checks;
mod command;
mod site;

use checks::{check, done};
use command::{Run, commands, not_drawn};
use rand::SeedableRng;
use rand::rngs::StdRng;
use serde_json::Value;
use site::Form;
use std::collections::BTreeMap;
use std::fs;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

/// Runs by command, and how they ended.
type Counts = BTreeMap<(&'static str, i32), u64>;

#[test]
fn some_hundred_runs_end_as_they_should() {
    let first = std::env::var("STORM_ONLY").ok().and_then(|text| text.parse().ok());
    storm(first.map_or(0..300, |first: u64| first..first + 1));
}

/// `cargo test --test integration storm:: -- --ignored --nocapture`; some 20 minutes on two cores. `STORM_RUNS` takes
/// others: `STORM_RUNS=90000..110000`.
#[test]
#[ignore = "90,000 runs"]
fn many_runs_end_as_they_should() {
    let stated = std::env::var("STORM_RUNS").unwrap_or_default();
    let stated = stated
        .split_once("..")
        .and_then(|(from, to)| Some(from.parse::<u64>().ok()?..to.parse::<u64>().ok()?));
    storm(stated.unwrap_or(1_000..91_000));
}

/// The generator knows every option that the program has.
#[test]
fn every_option_is_drawn() {
    for command in commands() {
        let output = Command::new(env!("CARGO_BIN_EXE_coldbasin"))
            .args([command, "--help"])
            .output()
            .unwrap();
        let help = String::from_utf8(output.stdout).unwrap();
        assert!(help.contains("Usage"), "{help}");
        assert_eq!(not_drawn(command, &help), Vec::<String>::new(), "{command}");
    }
}

fn storm(runs: Range<u64>) {
    let form = Form::new();
    let next = AtomicU64::new(runs.start);
    let (counts, failures) = (Mutex::new(Counts::new()), Mutex::new(Vec::new()));
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let number = next.fetch_add(1, Ordering::Relaxed);
                    if number >= runs.end {
                        break;
                    }
                    let (run, ended) = one(&form, number);
                    match ended {
                        Ok(status) => {
                            *counts.lock().unwrap().entry((run.command, status)).or_default() += 1;
                        }
                        Err(wrong) => {
                            let wrong = format!("run {number}: {:?}\n    {wrong}", run.arguments);
                            println!("{wrong:.2000}");
                            failures.lock().unwrap().push(wrong);
                        }
                    }
                }
            });
        }
    });
    println!("command      status   runs");
    for ((command, status), count) in counts.into_inner().unwrap() {
        println!("{command:<12} {status:>6} {count:>6}");
    }
    let failures = failures.into_inner().unwrap();
    assert!(failures.is_empty(), "{} runs failed; the first: {}", failures.len(), failures[0]);
}

/// Makes a run and checks it; the files of one that fails stay.
fn one(form: &Form, number: u64) -> (Run, Result<i32, String>) {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("storm/{number}"));
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    let run = Run::draw(form, &folder, &mut StdRng::seed_from_u64(number));
    let site = fs::read(folder.join("site.toml")).ok();
    let ended = done(&run.arguments, &folder).and_then(|done| {
        check(&run, &done, &folder)?;
        if site.is_some() && fs::read(folder.join("site.toml")).ok() != site {
            return Err("the site file is changed".into());
        }
        if run.is_tame && run.command == "balance" && done.status == 0 {
            goes_with_physics(&folder)?;
        }
        Ok(done.status)
    });
    if ended.is_ok() && std::env::var_os("STORM_ONLY").is_none() {
        let _ = fs::remove_dir_all(&folder);
    }
    (run, ended)
}

/// More cycles need no more blowdown and no more makeup; a leak is never made up by less; where the
/// exit air is saturated, air that enters wetter takes up no more water.
fn goes_with_physics(folder: &Path) -> Result<(), String> {
    let Some(base) = sheet(folder, "")? else { return Ok(()) };
    let number = |value: &Value, key: &str| {
        key.split('.').fold(value, |value, name| &value[name]).as_f64().unwrap_or(f64::NAN)
    };
    let least = |change: &str, key: &str, is_more: bool| -> Result<(), String> {
        let Some(changed) = sheet(folder, change)? else { return Ok(()) };
        let (before, after) = (number(&base, key), number(&changed, key));
        let slack = 1e-9 * before.abs();
        match if is_more { after >= before - slack } else { after <= before + slack } {
            true => Ok(()),
            false => Err(format!("--set {change}: {key} goes from {before} to {after}")),
        }
    };
    // A site that is told by its own flow or conductivity has no cycles to set: two statements are refused.
    let cycles = 1.2 * number(&base, "balance.cycles_of_concentration");
    if cycles.is_finite() {
        let change = format!("blowdown.cycles={cycles}");
        least(&change, "balance.blowdown_m3_per_h", false)?;
        least(&change, "balance.makeup_m3_per_h", false)?;
    }
    let leak = 0.1 + 1.5 * number(&base, "balance.leakage_m3_per_h");
    least(&format!("losses.leakage={leak} m3/h"), "balance.makeup_m3_per_h", true)?;
    let [wet, dry] = ["air.wet_bulb_celsius", "air.dry_bulb_celsius"].map(|key| number(&base, key));
    let Some(wetter) = sheet(folder, &format!("air.wet_bulb={} degC", wet + 0.3 * (dry - wet)))?
    else {
        return Ok(());
    };
    // A site that states one of the two alone has its dry bulb follow.
    if (number(&wetter, "air.dry_bulb_celsius") - dry).abs() > 1e-6 {
        return Ok(());
    }
    match (saturated(&base), saturated(&wetter)) {
        (Some(before), Some(after)) if after > before * (1.0 + 1e-9) => {
            Err(format!("from a wet bulb of {wet}, evaporation rises from {before} to {after}"))
        }
        _ => Ok(()),
    }
}

/// Evaporation by the method whose exit air is saturated.
fn saturated(sheet: &Value) -> Option<f64> {
    let methods = sheet["methods"].as_array()?;
    let merkel = methods.iter().find(|method| method["name"] == "merkel")?;
    merkel["evaporation_kg_per_s"].as_f64()
}

/// The balance of a folder's site with one value overridden; `None` where it is refused.
fn sheet(folder: &Path, change: &str) -> Result<Option<Value>, String> {
    let mut arguments = ["balance", "site.toml", "--format", "json"].map(str::to_owned).to_vec();
    if !change.is_empty() {
        arguments.extend(["--set".to_owned(), change.to_owned()]);
    }
    let done = done(&arguments, folder)?;
    match done.status {
        0 => serde_json::from_str(&done.out).map(Some).map_err(|error| error.to_string()),
        _ => Ok(None),
    }
}
