//! The check on logs of simulators that share none of its assumptions: what it raises where nothing is
//! wrong, and what it finds.
//!
//! A small part runs with the other tests. All of it, a table with intervals of 95 % (Wilson 1927, from
//! memory), takes some minutes: `cargo test --release --test check plants_trial -- --ignored --nocapture`.

use super::trial::interval;
use super::{gathered, other_plants, plants};
use coldbasin::model::{Cause, CheckSheet};
use jiff::civil::DateTime;

/// A log with its truth, of either simulator.
struct Case {
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
    Case { site: made.site, log: made.log, begins_day, size, right }
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
    Case { site: made.site, log: made.log, begins_day, size, right }
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
}

impl Score {
    fn of(cases: impl Iterator<Item = Case>) -> Self {
        let mut score = Self::default();
        cases.for_each(|case| score.count(&case));
        score
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
        let Some(finding) = after.first() else { return };
        let days = found(finding) + 1.0 - begins;
        self.found += 1;
        self.in_7_days += usize::from(days <= 7.0);
        self.in_14_days += usize::from(days <= 14.0);
        let suspect = finding.suspects[0];
        let is_right = case.right.contains(&suspect.cause);
        self.right += usize::from(is_right);
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
            let cases = (0..logs).map(|seed| of_plants(plant, fault, 20_000 + seed));
            let score = Score::of(cases.filter(has_blowdown));
            println!("{}", score.line(&format!("{} {}", plant.name(), fault.name())));
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
            let score = Score::of((0..logs).map(|seed| of_others(plant, fault, 20_000 + seed)));
            println!("{}", score.line(&format!("{} {}", plant.name(), fault.name())));
        }
    }
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
