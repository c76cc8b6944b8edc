//! What holds of every run, whatever it was given.

use super::command::Run;
use coldbasin::printable::is_obeyed;
use coldbasin::report::schema::{ResultOf, schema};
use jsonschema::Validator;
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::LazyLock;
use std::time::{Duration, Instant};

/// No run on files of this size takes longer, also in a build without optimisation.
const LONGEST: Duration = Duration::from_secs(60);
/// Nor needs so many kilobytes of memory.
const MOST_MEMORY: &str = "1500000";
/// A result of some hundred rows and its pictures.
const MOST_BYTES: usize = 8_000_000;

/// What a run left.
pub struct Done {
    pub status: i32,
    pub out: String,
    pub said: String,
}

/// Runs the program in a folder.
///
/// # Errors
/// What no run may do: end by a signal, or not at all, or write what is no text.
pub fn done(arguments: &[String], folder: &Path) -> Result<Done, String> {
    let (out, said) = (folder.join(".stdout"), folder.join(".stderr"));
    let program = env!("CARGO_BIN_EXE_coldbasin");
    let mut command = match cfg!(unix) {
        true => {
            let mut shell = Command::new("sh");
            let bounded = format!("ulimit -v {MOST_MEMORY}; exec \"$0\" \"$@\"");
            shell.args(["-c", bounded.as_str(), program]);
            shell
        }
        false => Command::new(program),
    };
    let file = |path| fs::File::create(path).map_err(|error| error.to_string());
    let mut child = command
        .args(arguments)
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(file(&out)?)
        .stderr(file(&said)?)
        .spawn()
        .map_err(|error| error.to_string())?;
    let begun = Instant::now();
    let ended = loop {
        match child.try_wait().map_err(|error| error.to_string())? {
            Some(ended) => break ended,
            None if begun.elapsed() > LONGEST => {
                let _ = child.kill();
                let _ = child.wait();
                return Err(format!("does not end within {LONGEST:?}"));
            }
            None => std::thread::sleep(Duration::from_millis(1)),
        }
    };
    let text = |path: &Path| {
        String::from_utf8(fs::read(path).map_err(|error| error.to_string())?)
            .map_err(|_| "writes what is no UTF-8".to_owned())
    };
    let (out_text, said_text) = (text(&out)?, text(&said)?);
    let _ = (fs::remove_file(out), fs::remove_file(said));
    let Some(status) = ended.code() else { return Err(format!("{ended}: {said_text}")) };
    Ok(Done { status, out: out_text, said: said_text })
}

/// # Errors
/// What is wrong with what a run left.
pub fn check(run: &Run, done: &Done, folder: &Path) -> Result<(), String> {
    let Done { status, out, said } = done;
    shown("standard error", said)?;
    match status {
        0 => {}
        3 => {
            let may = ["check", "solve"].contains(&run.command)
                || run.arguments.iter().any(|argument| argument == "--strict");
            if !may {
                return Err("status 3 without --strict".into());
            }
        }
        1 => refused(run, out, said)?,
        2 if said.contains("--help") || said.contains("error:") => {}
        _ => return Err(format!("status {status}: {said}")),
    }
    files(run, folder)?;
    if !matches!(status, 0 | 3) {
        return Ok(());
    }
    if out.len() > MOST_BYTES {
        return Err(format!("{} bytes of result", out.len()));
    }
    result(run, out)?;
    if let Ok(written) = fs::read_to_string(folder.join("out.txt")) {
        result(run, &written)?;
    }
    for name in ["report.html", "picture.svg"] {
        let Ok(page) = fs::read_to_string(folder.join(name)) else { continue };
        let begins = page.starts_with("<!DOCTYPE html>") || page.starts_with("<svg");
        if !begins || page.len() > MOST_BYTES {
            return Err(format!("{name}: {} bytes, begins {:.20}", page.len(), page));
        }
        shown(name, &page)?;
        if page.contains("<script") {
            return Err(format!("{name} holds a script"));
        }
        let pieces = page.split(['<', '>', ' ', ',', '"']);
        numbers(name, pieces)?;
    }
    Ok(())
}

/// A refusal says where, writes no result, and is short enough to read.
fn refused(run: &Run, out: &str, said: &str) -> Result<(), String> {
    // Rows go out as they are made, and what is remembered for the next run is written once it is told.
    let is_told = run.command == "whatif" || run.arguments.iter().any(|it| it == "--since-last");
    if !out.is_empty() && !is_told {
        return Err("a refused run has a result".into());
    }
    let names_a_place = run.arguments.iter().skip(1).any(|argument| {
        let name = argument.split('=').next().unwrap_or_default();
        !name.is_empty() && said.contains(name)
    });
    if !names_a_place && !said.contains("--") {
        return Err(format!("the refusal names no file and no option: {said}"));
    }
    match said.len() {
        0 => Err("a refusal without words".into()),
        length if length > 100_000 => Err(format!("a refusal of {length} bytes")),
        _ => Ok(()),
    }
}

/// Only what was asked for is written.
fn files(run: &Run, folder: &Path) -> Result<(), String> {
    const INPUTS: [&str; 4] = ["site.toml", "log.csv", "weather.csv", "visits.csv"];
    for entry in fs::read_dir(folder).map_err(|error| error.to_string())? {
        let name = entry.map_err(|error| error.to_string())?.file_name();
        let name = name.to_string_lossy().into_owned();
        let is_asked =
            run.arguments.contains(&name) || run.command == "init" && name == "site.toml";
        if !INPUTS.contains(&name.as_str()) && !is_asked {
            return Err(format!("leaves the file {name}"));
        }
    }
    Ok(())
}

/// The format that was asked for.
pub fn format(run: &Run) -> &str {
    let place = run.arguments.iter().position(|argument| argument == "--format");
    place.and_then(|place| run.arguments.get(place + 1)).map_or("text", String::as_str)
}

fn result(run: &Run, out: &str) -> Result<(), String> {
    let is_listed = run.arguments.iter().any(|argument| argument == "--list");
    match format(run) {
        "json" if run.command == "whatif" && !is_listed => {
            out.lines().try_for_each(|line| json(run, line))
        }
        "json" if !is_listed && !out.is_empty() => json(run, out),
        "csv" if !is_listed => table(out),
        _ => {
            shown("the text", out)?;
            numbers("the text", out.split_whitespace())
        }
    }
}

fn json(run: &Run, text: &str) -> Result<(), String> {
    let value: Value =
        serde_json::from_str(text).map_err(|error| format!("no json: {error}: {text:.200}"))?;
    if let Some(character) = text.chars().find(|&c| c != '\n' && is_obeyed(c)) {
        return Err(format!("the json holds {character:?}"));
    }
    has_its_form(run, &value)?;
    if run.command == "balance" {
        let sheets = value["sites"].as_array().cloned().unwrap_or_else(|| vec![value]);
        sheets.iter().try_for_each(|sheet| closes(&sheet["balance"], "balance"))?;
    } else if run.command == "whatif" && value.get("makeup_m3_per_h").is_some_and(Value::is_number)
    {
        closes(&value, "row")?;
    }
    Ok(())
}

static FORMS: LazyLock<Vec<(ResultOf, Validator)>> = LazyLock::new(|| {
    let validator = |of: ResultOf| {
        let form = serde_json::to_value(schema(of)).unwrap();
        (of, jsonschema::validator_for(&form).unwrap())
    };
    ResultOf::ALL.map(validator).into()
});

/// A result has the form that `schema --of` prints.
fn has_its_form(run: &Run, value: &Value) -> Result<(), String> {
    let has = |option: &str| run.arguments.iter().any(|argument| argument == option);
    let of = match run.command {
        "balance" => ResultOf::Balance,
        "blowdown" if has("--visits") => ResultOf::BlowdownVisits,
        "blowdown" => ResultOf::Blowdown,
        "check" if has("--makeup") => ResultOf::CheckTwoReadings,
        "check" => ResultOf::Check,
        "feed" => ResultOf::Feed,
        "level" => ResultOf::Level,
        "solve" => ResultOf::Solve,
        "transient" => ResultOf::Transient,
        "warnings" => ResultOf::Warnings,
        "whatif" => ResultOf::WhatIf,
        "year" => ResultOf::Year,
        _ => return Ok(()),
    };
    let validator = FORMS.iter().find(|(form, _)| *form == of).map(|(_, validator)| validator);
    let validator = validator.ok_or_else(|| format!("no form of {of:?}"))?;
    match validator.iter_errors(value).next() {
        Some(error) => Err(format!("{of:?}: {}: {error:.300}", error.instance_path())),
        None => Ok(()),
    }
}

/// What comes in goes out.
fn closes(balance: &Value, what: &str) -> Result<(), String> {
    let flow = |name: &str| balance[format!("{name}_m3_per_h")].as_f64();
    let losses = ["evaporation", "drift", "blowdown", "leakage", "overflow"].map(flow);
    let (Some(makeup), [Some(a), Some(b), Some(c), Some(d), Some(e)]) = (flow("makeup"), losses)
    else {
        // A run that shows other columns.
        return if what == "row" { Ok(()) } else { Err(format!("a flow is missing: {balance}")) };
    };
    let out = a + b + c + d + e;
    if (makeup - out).abs() > 1e-9 * makeup.abs() {
        return Err(format!("{what}: {makeup} m3/h in, {out} m3/h out"));
    }
    match [makeup, a, b, c, d, e].iter().all(|flow| *flow >= 0.0) {
        true => Ok(()),
        false => Err(format!("{what}: a flow below 0: {balance}")),
    }
}

fn table(text: &str) -> Result<(), String> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    for record in reader.records() {
        let record = record.map_err(|error| format!("no table: {error}"))?;
        for cell in &record {
            if let Some(character) = cell.chars().find(|&c| is_obeyed(c)) {
                return Err(format!("a cell holds {character:?}"));
            }
            if cell.starts_with(['=', '+', '-', '@']) && cell.parse::<f64>().is_err() {
                return Err(format!("a spreadsheet would take a cell for a formula: {cell}"));
            }
        }
        numbers("the table", record.iter())?;
    }
    Ok(())
}

/// Nothing that a terminal or a browser obeys.
fn shown(what: &str, text: &str) -> Result<(), String> {
    match text.chars().find(|&c| !matches!(c, '\n' | '\t') && is_obeyed(c)) {
        Some(character) => Err(format!("{what} holds {character:?}")),
        None => Ok(()),
    }
}

/// No number that is none, no zero with a sign, none that nobody can read.
fn numbers<'a>(what: &str, words: impl Iterator<Item = &'a str>) -> Result<(), String> {
    for word in words {
        let word = word.trim_matches([',', '.', ';', ':', '%', '(', ')', '\u{b1}', '+']);
        let word = word.trim_start_matches("+-");
        let bare = word.trim_start_matches(['-', '\u{2212}']);
        let is_signed = bare.len() < word.len();
        let is_zero = !bare.is_empty() && bare.chars().all(|c| matches!(c, '0' | '.'));
        if matches!(bare, "NaN" | "inf") || (is_signed && is_zero && bare.contains('0')) {
            return Err(format!("{what} has the number {word}"));
        }
        if bare.chars().filter(char::is_ascii_digit).count() > 30 && bare.parse::<f64>().is_ok() {
            return Err(format!("{what} has a number of {} digits: {word:.40}", bare.len()));
        }
    }
    Ok(())
}
