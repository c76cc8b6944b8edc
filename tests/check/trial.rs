//! Faults that a log is made with, and what the check makes of them.
//!
//! Seeds and sizes were fixed before the thresholds. These towers err only as their instruments are said
//! to, which is kinder than a plant: that healthy ones raise nothing is needed and not enough. The whole
//! trial is `cargo test --release --test integration check:: -- --ignored --nocapture`; with
//! TRIAL=titrated in the environment, the lines whose name has that in it.

use super::simulator::{self, Fault, Rest, Trial, waters};
use coldbasin::model::{Cause, CheckSheet, Effect, Finding};
use jiff::civil::DateTime;
use serde_json::Value;

pub const PLAIN: Trial = Trial {
    water: 0,
    volume_days: 0.3,
    repeatability: 0.01,
    days: 60,
    fault: None,
    begins: 0,
    ends: usize::MAX,
    titration: false,
    rest: Rest::Nothing,
    loss_rests: false,
    seed: 0,
};

fn check(trial: &Trial, waters: &[Value]) -> (CheckSheet, f64) {
    let (log, size) = simulator::log(trial, waters);
    (super::check(&simulator::site(trial, waters), &log), size)
}

/// The causes that would be right.
fn right(fault: Fault) -> &'static [Cause] {
    match fault {
        Fault::Loss(_) | Fault::BlowdownMeterLow(_) => &[Cause::Loss],
        // Unmetered makeup is makeup past its meter.
        Fault::Inflow(_) => &[Cause::MakeupMeter],
        Fault::BasinProbeLow(_) | Fault::MakeupQualityUnread(_) => &[Cause::Conductivity],
        Fault::MakeupMeterLow(_) => &[Cause::MakeupMeter],
        Fault::EvaporationHigher(_) => &[Cause::Heat],
        Fault::BlowdownStuckOpen(_) => &[Cause::BlowdownHigh],
        Fault::BlowdownStuckShut(_) => &[Cause::BlowdownLow],
    }
}

#[derive(Default)]
struct Score {
    logs: usize,
    found: usize,
    first: usize,
    second: usize,
    days: Vec<f64>,
    errors: Vec<f64>,
}

impl Score {
    fn count(&mut self, trial: &Trial, waters: &[Value]) {
        let (sheet, size) = check(trial, waters);
        let fault = trial.fault.unwrap();
        self.logs += 1;
        let Some(finding) = finding(&sheet, trial) else { return };
        self.found += 1;
        let begins = 24.0 * trial.begins as f64;
        if let Some(found) = finding.found {
            let first: DateTime = "2026-04-01T00:00".parse().unwrap();
            let hours = found.duration_since(first).as_secs_f64() / 3_600.0 + 24.0;
            self.days.push((hours - begins) / 24.0);
        }
        let place = finding.suspects.iter().position(|s| right(fault).contains(&s.cause));
        self.first += usize::from(place == Some(0));
        self.second += usize::from(place.is_some_and(|place| place < 2));
        if let Some(place) = place {
            let suspect = &finding.suspects[place];
            self.errors.push((suspect.size / size - 1.0).abs());
        }
    }

    fn line(&mut self, name: &str) -> String {
        let middle = |values: &mut Vec<f64>| {
            values.sort_by(f64::total_cmp);
            values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
        };
        let slowest = self.days.iter().copied().fold(0.0, f64::max);
        format!(
            "{name:<34} {:>4} {:>16} {:>16} {:>16} {:>5.1} {slowest:>5.0} {:>6.0} % {:>6.1}",
            self.logs,
            interval(self.found, self.logs),
            interval(self.first, self.logs),
            interval(self.second, self.logs),
            middle(&mut self.days),
            100.0 * middle(&mut self.errors),
            mean(&self.days),
        )
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// What is said of a fault: of one that begins, what is found since; of one from the first day on,
/// whatever is.
fn finding<'a>(sheet: &'a CheckSheet, trial: &Trial) -> Option<&'a Finding> {
    match trial.begins {
        0 => sheet.findings.first(),
        _ => sheet.findings.iter().find(|finding| finding.since.is_some()),
    }
}

/// A share in per cent with its 95 % interval (Wilson 1927).
pub fn interval(count: usize, of: usize) -> String {
    let (count, n, z) = (count as f64, of as f64, 1.96f64);
    let p = count / n;
    let centre = (p + z * z / (2.0 * n)) / (1.0 + z * z / n);
    let half = z / (1.0 + z * z / n) * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    let [low, high] = [centre - half, centre + half].map(|part| 100.0 * part);
    format!("{:.0} ({low:.0} to {high:.0})", 100.0 * p)
}

fn healthy(logs: u64, change: impl Fn(Trial) -> Trial) -> usize {
    let waters = waters();
    (0..logs)
        .filter(|seed| {
            let trial = change(Trial { water: (*seed % 3) as usize, seed: 10_000 + seed, ..PLAIN });
            !check(&trial, &waters).0.findings.is_empty()
        })
        .count()
}

/// Trials of a fault that begins between day 21 and 30.
fn begun(fault: Fault, number: u64) -> Trial {
    let (water, begins) = ((number % 3) as usize, 21 + (number % 10) as usize);
    Trial { water, fault: Some(fault), begins, seed: 20_000 + number, ..PLAIN }
}

type FaultOf = fn(f64) -> Fault;

const FAULTS: [(&str, FaultOf, [f64; 3]); 7] = [
    ("loss, of makeup", Fault::Loss, [0.02, 0.05, 0.10]),
    ("inflow, of makeup", Fault::Inflow, [0.02, 0.05, 0.10]),
    ("basin probe low", Fault::BasinProbeLow, [0.05, 0.10, 0.15]),
    ("makeup meter low", Fault::MakeupMeterLow, [0.04, 0.08, 0.16]),
    ("blowdown meter low", Fault::BlowdownMeterLow, [0.10, 0.20, 0.40]),
    ("blowdown stuck open", Fault::BlowdownStuckOpen, [0.20, 0.50, 1.00]),
    ("blowdown stuck shut", Fault::BlowdownStuckShut, [0.60, 0.70, 0.90]),
];

#[test]
fn healthy_hard_soft_and_acid_fed_waters_raise_nothing() {
    assert_eq!(healthy(12, |trial| trial), 0);
}

/// Salts of a makeup that nobody reads may change: the page asks for a reading, and that is no finding.
#[test]
fn a_makeup_that_nobody_reads_raises_nothing() {
    let fault = Some(Fault::MakeupQualityUnread(0.15));
    assert_eq!(healthy(3, |trial| Trial { fault, begins: 25, ..trial }), 0);
}

#[test]
fn days_without_load_raise_nothing() {
    assert_eq!(healthy(6, |trial| Trial { rest: Rest::Load, ..trial }), 0);
}

#[test]
fn faults_that_begin_are_found_and_named() {
    let waters = waters();
    for (name, fault, [_, middle, large]) in FAULTS {
        let mut score = Score::default();
        score.count(&begun(fault(large), 0), &waters);
        score.count(&begun(fault(middle), 1), &waters);
        assert!(score.found == 2, "{name}: {} of 2 found", score.found);
        assert!(score.second == 2, "{name}: {} of 2 among the first two", score.second);
    }
}

/// Three mornings must agree, and a change must have lasted for some days.
#[test]
fn a_large_loss_is_found_within_five_days() {
    let waters = waters();
    let mut score = Score::default();
    for number in 0..3 {
        score.count(&begun(Fault::Loss(0.10), number), &waters);
    }
    assert!(score.found == 3 && score.days.iter().all(|days| *days <= 5.0), "{:?}", score.days);
}

/// A loss half as large again as the least that the sheet of the same log without it says is found in 14 days
/// is found in the last 16, for small and large volumes: two more mornings must agree.
#[test]
fn losses_are_found_as_soon_as_the_sheet_says() {
    let waters = waters();
    for volume_days in [0.3, 1.0] {
        for number in 0..4 {
            let healthy = Trial {
                volume_days,
                water: (number % 3) as usize,
                seed: 20_000 + number,
                begins: PLAIN.days - 16,
                ..PLAIN
            };
            let sheet = check(&healthy, &waters).0;
            let least = sheet.least_loss.iter().find(|(days, _)| *days == 14.0).unwrap().1;
            let makeups = sheet.periods.iter().map(|period| period.readings.makeup.value);
            let makeup = makeups.sum::<f64>() / sheet.periods.len() as f64;
            let fault = Some(Fault::Loss(1.5 * least / makeup));
            let found = check(&Trial { fault, ..healthy }, &waters).0.findings;
            assert_eq!(found.len(), 1, "{volume_days} {number}: {found:?}");
        }
    }
}

#[test]
#[ignore = "the whole trial: minutes in a debug build"]
fn whole_trial() {
    let waters = waters();
    let part = std::env::var("TRIAL").unwrap_or_default();
    let wants = |name: &str| part.is_empty() || name.contains(&part);
    if wants("healthy") {
        let alarms = healthy(600, |trial| trial);
        println!("healthy: {alarms} alarms in 600 logs of 60 days: {} %", interval(alarms, 600));
        let coarse = healthy(300, |trial| Trial { repeatability: 0.02, volume_days: 1.0, ..trial });
        println!("healthy, 2 % and a day's volume: {coarse} in 300: {} %", interval(coarse, 300));
        let resting = healthy(300, |trial| Trial { rest: Rest::Load, ..trial });
        println!("healthy, every fourth day off: {resting} in 300: {} %", interval(resting, 300));
        // Heat is not charted: evaporation above its estimate is no finding.
        let fault = Some(Fault::EvaporationHigher(0.2));
        let warmer = healthy(300, |trial| Trial { fault, begins: 25, ..trial });
        println!("healthy, 20 % more evaporation: {warmer} in 300: {} %", interval(warmer, 300));
    }
    println!(
        "{:<34} {:>4} {:>16} {:>16} {:>16} {:>5} {:>5} {:>8} {:>6}",
        "fault",
        "logs",
        "found, %",
        "right first, %",
        "among two, %",
        "days",
        "most",
        "size off",
        "mean"
    );
    let score = |name: String, trial: &dyn Fn(u64) -> Trial| {
        if !wants(&name) {
            return;
        }
        let mut score = Score::default();
        (0..100).for_each(|number| score.count(&trial(number), &waters));
        println!("{}", score.line(&name));
    };
    for rest in [Rest::Fans, Rest::Load, Rest::Level] {
        for (loss_rests, right) in [(true, Effect::Stops), (false, Effect::None)] {
            let name = format!("5 % loss, {rest:?} rest, loss rests: {loss_rests}");
            if wants(&name) {
                let effects: Vec<Effect> = (0..100)
                    .filter_map(|number| {
                        let trial = Trial { rest, loss_rests, ..begun(Fault::Loss(0.05), number) };
                        let sheet = check(&trial, &waters).0;
                        finding(&sheet, &trial)?.patterns.first().map(|pattern| pattern.effect)
                    })
                    .collect();
                let of = |wanted| effects.iter().filter(|effect| **effect == wanted).count();
                println!(
                    "{name}: {} told, {} right, {} unknown",
                    effects.len(),
                    of(right),
                    of(Effect::Unknown)
                );
            }
        }
    }
    for (name, fault, sizes) in FAULTS {
        for size in sizes {
            let name = format!("{name} {:.0} %", 100.0 * size);
            score(name, &|number| begun(fault(size), number));
        }
    }
    for size in [0.02, 0.05, 0.10] {
        let name = format!("loss {:.0} %, titrated", 100.0 * size);
        score(name, &|number| Trial { titration: true, ..begun(Fault::Loss(size), number) });
        let name = format!("loss {:.0} %, first day on", 100.0 * size);
        score(name, &|number| Trial { begins: 0, ..begun(Fault::Loss(size), number) });
        let name = format!("loss {:.0} %, a day's volume", 100.0 * size);
        score(name, &|number| Trial { volume_days: 1.0, ..begun(Fault::Loss(size), number) });
        let name = format!("loss {:.0} %, 2 % readings", 100.0 * size);
        score(name, &|number| Trial { repeatability: 0.02, ..begun(Fault::Loss(size), number) });
    }
    for size in [0.05, 0.10, 0.15] {
        let name = format!("probe {:.0} % low, titrated", 100.0 * size);
        score(name, &|number| Trial {
            titration: true,
            ..begun(Fault::BasinProbeLow(size), number)
        });
        let name = format!("probe {:.0} % low, first day on", 100.0 * size);
        score(name, &|number| Trial { begins: 0, ..begun(Fault::BasinProbeLow(size), number) });
    }
}
