//! The check on logs of simulators that share none of its assumptions: what it raises where nothing is
//! wrong, and what it finds.
//!
//! A small part runs with the other tests. All of it, a table with intervals of 95 % (Wilson 1927, from
//! memory), takes some minutes: `cargo test --release --test integration all_plants -- --ignored --nocapture`.
//! In the environment, `TRIAL=by_hand loss` takes the lines whose name has that in it, `TRIAL_SEEDS=50000`
//! other seeds than the first 20000, `TRIAL_PART=0.3` a part of the logs, and `TRIAL_EACH=1` prints what was
//! found in each log.

use super::trial::interval;
use super::{gathered, other_plants, plants};
use coldbasin::model::{Cause, CheckSheet, Finding};
use jiff::civil::DateTime;
use std::ops::AddAssign;

/// A log with its truth, of either simulator.
struct Case {
    name: String,
    site: String,
    log: String,
    begins_day: Option<f64>,
    size: Option<f64>,
    right: &'static [Cause],
}

const LOSS: &[Cause] = &[Cause::Loss];
const PROBE: &[Cause] = &[Cause::Conductivity];
const METER: &[Cause] = &[Cause::MakeupMeter];

fn of_plants(plant: plants::Plant, fault: plants::Fault, seed: u64) -> Case {
    use plants::Fault;
    let made = plants::simulate(plant, fault, seed);
    let right = match fault {
        Fault::MakeupMeterLow => METER,
        Fault::BasinProbeDrift | Fault::BasinProbeStep => PROBE,
        _ => LOSS,
    };
    let (begins_day, size) = (made.truth.begins_day, made.truth.size_m3_per_day);
    let name = format!("{} {} {seed}", plant.name(), fault.name());
    Case { name, site: made.site, log: made.log, begins_day, size, right }
}

fn of_others(plant: other_plants::Plant, fault: other_plants::Fault, seed: u64) -> Case {
    use other_plants::Fault;
    let made = other_plants::simulate(plant, fault, seed);
    let right = match fault {
        Fault::MakeupMeterLow => METER,
        Fault::BasinProbeDrift => PROBE,
        _ => LOSS,
    };
    let (begins_day, size) = (made.truth.begins_day, made.truth.size_m3_per_day);
    let name = format!("{} {} {seed}", plant.name(), fault.name());
    Case { name, site: made.site, log: made.log, begins_day, size, right }
}

/// What became of cases of a kind.
#[derive(Default)]
struct Score {
    logs: usize,
    /// Logs that cannot be checked.
    refused: usize,
    /// Findings on any morning before the fault, or without one.
    raised: usize,
    in_7_days: usize,
    in_14_days: usize,
    found: usize,
    right: usize,
    sized: usize,
    within_fifth: usize,
    /// Of stated probabilities of the first cause, by [`STATED`]: how often it was right, and how often
    /// it was stated. A finding without a fault is wrong.
    stated: [(usize, usize); 4],
}

/// From so much on a stated probability is told apart.
const STATED: [f64; 4] = [0.0, 0.5, 0.9, 0.99];

impl AddAssign for Score {
    fn add_assign(&mut self, other: Self) {
        self.logs += other.logs;
        self.refused += other.refused;
        self.raised += other.raised;
        self.in_7_days += other.in_7_days;
        self.in_14_days += other.in_14_days;
        self.found += other.found;
        self.right += other.right;
        self.sized += other.sized;
        self.within_fifth += other.within_fifth;
        for (own, other) in self.stated.iter_mut().zip(other.stated) {
            *own = (own.0 + other.0, own.1 + other.1);
        }
    }
}

impl Score {
    fn of(cases: impl Iterator<Item = Case>) -> Self {
        let mut score = Self::default();
        cases.for_each(|case| score.count(&case));
        score
    }

    /// Of the cases with these seeds, in two threads.
    fn of_seeds(seeds: std::ops::Range<u64>, case: impl Fn(u64) -> Option<Case> + Sync) -> Self {
        let half =
            |odd: u64| Self::of(seeds.clone().filter(|seed| seed % 2 == odd).filter_map(&case));
        std::thread::scope(|scope| {
            let other = scope.spawn(|| half(1));
            let mut score = half(0);
            score += other.join().unwrap();
            score
        })
    }

    fn state(&mut self, finding: &Finding, is_right: bool) {
        let probability = finding.suspects[0].likelihood;
        let place = STATED.iter().filter(|least| probability >= **least).count().max(1) - 1;
        self.stated[place].0 += usize::from(is_right);
        self.stated[place].1 += 1;
    }

    fn count(&mut self, case: &Case) {
        let Some(sheet) = checked(case) else {
            self.refused += 1;
            return;
        };
        self.logs += 1;
        let first = sheet.periods[0].start.date().at(0, 0, 0, 0);
        let day = |time: DateTime| time.duration_since(first).as_secs_f64() / 86_400.0;
        let begins = case.begins_day.unwrap_or(f64::INFINITY);
        let found = |finding: &&coldbasin::model::Finding| finding.found.map_or(0.0, day);
        // The day on which it was found ends a day after its begin.
        let (after, before): (Vec<_>, Vec<_>) =
            sheet.findings.iter().partition(|finding| found(finding) + 1.0 >= begins);
        self.raised += usize::from(!before.is_empty());
        before.iter().for_each(|finding| self.state(finding, false));
        tell(case, &sheet, day);
        let Some(finding) = after.first() else { return };
        let days = found(finding) + 1.0 - begins;
        self.found += 1;
        self.in_7_days += usize::from(days <= 7.0);
        self.in_14_days += usize::from(days <= 14.0);
        let suspect = finding.suspects[0];
        let is_right = case.right.contains(&suspect.cause);
        self.right += usize::from(is_right);
        self.state(finding, is_right);
        if let (true, Some(size), LOSS) = (is_right, case.size, case.right) {
            self.sized += 1;
            self.within_fifth += usize::from((suspect.size / size - 1.0).abs() <= 0.2);
        }
    }

    fn line(&self, name: &str) -> String {
        format!(
            "{name:<34} {:>4} {:>3} {:>16} {:>16} {:>16} {:>16} {:>16} {:>16}",
            self.logs,
            self.refused,
            interval(self.raised, self.logs),
            interval(self.found, self.logs),
            interval(self.in_7_days, self.logs),
            interval(self.in_14_days, self.logs),
            interval(self.right, self.found),
            interval(self.within_fifth, self.sized),
        )
    }
}

/// Prints what was found in a log, where that is asked for.
fn tell(case: &Case, sheet: &CheckSheet, day: impl Fn(DateTime) -> f64) {
    if std::env::var("TRIAL_EACH").is_err() {
        return;
    }
    let count = sheet.periods.len();
    let makeup = sheet.periods.iter().map(|period| period.readings.makeup.value).sum::<f64>();
    let findings: Vec<String> = sheet
        .findings
        .iter()
        .map(|finding| {
            let on = |time: Option<DateTime>| time.map_or(f64::NAN, &day);
            let suspects: Vec<String> = finding
                .suspects
                .iter()
                .take(3)
                .map(|s| format!("{:?} {:.3} {:.2}", s.cause, s.likelihood, s.size))
                .collect();
            let (since, found) = (on(finding.since), on(finding.found));
            let until = on(finding.until);
            format!("[{since:.1} {found:.1} {until:.1} {}]", suspects.join(", "))
        })
        .collect();
    println!(
        "EACH {} begins {:.1} size {:.2} makeup {:.1} periods {count}: {}",
        case.name,
        case.begins_day.unwrap_or(f64::NAN),
        case.size.unwrap_or(f64::NAN),
        makeup / count as f64,
        findings.join(" ")
    );
}

/// The line of a trial's table, if it is asked for.
fn line(name: &str, logs: u64, all: &mut Score, case: impl Fn(u64) -> Option<Case> + Sync) {
    let of = |key: &str| std::env::var(key).unwrap_or_default();
    if !name.contains(&of("TRIAL")) {
        return;
    }
    let first = of("TRIAL_SEEDS").parse().unwrap_or(20_000);
    let logs = (logs as f64 * of("TRIAL_PART").parse().unwrap_or(1.0)).ceil() as u64;
    let score = Score::of_seeds(first..first + logs, case);
    println!("{}", score.line(name));
    *all += score;
}

fn calibration(all: &Score) {
    for (least, (right, of)) in STATED.iter().zip(all.stated) {
        println!("stated {least:.2} or more: right {} % of {of}", interval(right, of));
    }
}

fn has_blowdown(case: &Case) -> bool {
    case.site.contains("is = \"blowdown")
}

/// `None` for a log that cannot be checked.
fn checked(case: &Case) -> Option<CheckSheet> {
    gathered(&case.site, &case.log).0.ok()
}

/// The same plant without a blowdown meter: its columns are named by nobody.
fn without_blowdown(case: Case) -> Case {
    let columns = case.site.split("[[log.column]]");
    let kept: Vec<&str> = columns.filter(|column| !column.contains("is = \"blowdown")).collect();
    Case { site: kept.join("[[log.column]]"), ..case }
}

#[test]
fn healthy_plants_of_other_authors_raise_nothing() {
    for plant in plants::Plant::ALL {
        let cases = (0..3).map(|seed| of_plants(plant, plants::Fault::Healthy, 9_000 + seed));
        assert_eq!(Score::of(cases).raised, 0, "{}", plant.name());
    }
    use other_plants::Plant::{Batches, Chiller, Workshop};
    for plant in [Chiller, Batches, Workshop] {
        let healthy = other_plants::Fault::Healthy;
        let cases = (0..2).map(|seed| of_others(plant, healthy, 9_000 + seed));
        assert_eq!(Score::of(cases).raised, 0, "{}", plant.name());
    }
}

#[test]
fn a_loss_in_plants_of_other_authors_is_found_and_named() {
    let loss = plants::Fault::Loss(10);
    for plant in [plants::Plant::Automatic, plants::Plant::ByHand] {
        let score = Score::of((0..3).map(|seed| of_plants(plant, loss, 9_100 + seed)));
        assert!(score.in_14_days >= 2 && score.right >= 2, "{}", score.line(plant.name()));
    }
}

#[test]
#[ignore = "the whole trial, minutes in a release build"]
fn all_plants() {
    println!(
        "{:<34} {:>4} {:>3} {:>16} {:>16} {:>16} {:>16} {:>16} {:>16}",
        "", "logs", "ref", "raised", "found", "7 days", "14 days", "right", "size in 20 %"
    );
    let mut all = Score::default();
    for plant in plants::Plant::ALL {
        use plants::Fault;
        for (fault, logs) in [
            (Fault::Healthy, 300),
            (Fault::LoadUp, 100),
            (Fault::QualityUp, 100),
            (Fault::Loss(2), 100),
            (Fault::Loss(5), 100),
            (Fault::Loss(10), 100),
            (Fault::LossRamp, 100),
            (Fault::OverflowAtNight, 100),
            (Fault::MakeupMeterLow, 100),
            (Fault::BlowdownMeterLow, 100),
            (Fault::BasinProbeDrift, 100),
            (Fault::BasinProbeStep, 100),
        ] {
            line(&format!("{} {}", plant.name(), fault.name()), logs, &mut all, |seed| {
                Some(of_plants(plant, fault, seed)).filter(has_blowdown)
            });
        }
    }
    use other_plants::{Fault, Plant};
    for plant in [Plant::Chiller, Plant::Batches, Plant::Workshop] {
        for (fault, logs) in [
            (Fault::Healthy, 300),
            (Fault::LoadUp, 100),
            (Fault::QualityUp, 100),
            (Fault::Loss(6.0), 100),
            (Fault::BlowdownMeterLow, 100),
            (Fault::MakeupMeterLow, 100),
            (Fault::BasinProbeDrift, 100),
        ] {
            line(&format!("{} {}", plant.name(), fault.name()), logs, &mut all, |seed| {
                Some(of_others(plant, fault, seed))
            });
        }
    }
    calibration(&all);
}

/// Logs with makeup, conductivities and temperatures, and nothing that tells of the blowdown: the poor
/// plants that are so, then all plants with the column taken away.
#[test]
#[ignore = "minutes in a release build"]
fn makeup_alone() {
    use plants::Fault;
    let faults = [
        (Fault::Healthy, 300),
        (Fault::LoadUp, 100),
        (Fault::QualityUp, 100),
        (Fault::Loss(10), 100),
        (Fault::Loss(20), 100),
        (Fault::BleedStuckOpen, 100),
    ];
    for plant in plants::Plant::ALL {
        for (fault, logs) in faults {
            let cases = (0..logs).map(|seed| of_plants(plant, fault, 30_000 + seed));
            let (as_is, taken): (Vec<Case>, Vec<Case>) =
                cases.partition(|case| !has_blowdown(case));
            for (kind, cases) in [("none", as_is), ("taken", taken)] {
                let cases: Vec<Case> = cases.into_iter().map(without_blowdown).collect();
                let (held, other): (Vec<Case>, Vec<Case>) = cases
                    .into_iter()
                    .partition(|case| case.site.contains("control = \"conductivity\""));
                for (control, cases) in [("held", held), ("timer or hand", other)] {
                    let name = format!("{} {} {kind} {control}", plant.name(), fault.name());
                    println!("{}", Score::of(cases.into_iter()).line(&name));
                }
            }
        }
    }
    use other_plants::{Fault as Of, Plant};
    for plant in [Plant::Chiller, Plant::Batches, Plant::Workshop] {
        for (fault, logs) in
            [(Of::Healthy, 100), (Of::LoadUp, 50), (Of::QualityUp, 50), (Of::Loss(10.0), 50)]
        {
            let cases = (0..logs).map(|seed| of_others(plant, fault, 30_000 + seed));
            let score = Score::of(cases.map(without_blowdown));
            println!(
                "{}",
                score.line(&format!("{} {} without blowdown", plant.name(), fault.name()))
            );
        }
    }
}
