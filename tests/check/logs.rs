//! Logs of other kinds than the trial's.

use super::simulator::{Fault, Rest, Trial, log, site, waters};
use super::{check, check_with_slips, trial::PLAIN, try_check};
use approx::assert_relative_eq;
use coldbasin::model::{Cause, CheckSheet, Circumstance, Effect, Finding, FindingState, Remark};
use coldbasin::quantity::significant;

const LEAK: f64 = 0.05;

/// A log with a leak from the 26th day on, and its site file.
fn leaking() -> (String, String) {
    let trial = Trial { fault: Some(Fault::Loss(LEAK)), begins: 25, ..PLAIN };
    let waters = waters();
    (site(&trial, &waters), log(&trial, &waters).0)
}

fn healthy() -> (String, String) {
    let waters = waters();
    (site(&PLAIN, &waters), log(&PLAIN, &waters).0)
}

/// Does something to the fields of every row but the header.
fn edited(log: &str, edit: impl Fn(usize, &mut Vec<String>)) -> String {
    let mut lines = log.lines();
    let mut out = format!("{}\n", lines.next().unwrap());
    for (index, line) in lines.enumerate() {
        let mut fields: Vec<String> = line.split(',').map(str::to_owned).collect();
        edit(index, &mut fields);
        out += &(fields.join(",") + "\n");
    }
    out
}

#[test]
fn without_heat_a_leak_is_found_and_its_rivals_are_named() {
    let (site, log) = leaking();
    let blind = edited(&log, |_, fields| (5..9).for_each(|field| fields[field].clear()));
    let sheet = check(&site, &blind);
    assert!(sheet.by_heat.is_none());
    let finding = &sheet.findings[0];
    assert!(finding.since.unwrap().to_string().starts_with("2026-04-2"));
    let tied: Vec<Cause> = finding.leading().map(|suspect| suspect.cause).collect();
    // A probe that steps would have shown a jump that no water was metered for.
    assert!(tied.contains(&Cause::Loss) && tied.contains(&Cause::MakeupMeter), "{tied:?}");
}

#[test]
fn apparent_cycles_blind_the_whole_log_but_not_its_changes() {
    let (site, log) = leaking();
    let bare: String = site
        .lines()
        .filter(|line| !["calcium", "magnesium", "sodium"].iter().any(|ion| line.starts_with(ion)))
        .map(|line| format!("{line}\n"))
        .collect();
    let sheet = check(&bare, &log);
    assert!(!sheet.cycles_are_true);
    assert_eq!(sheet.findings.len(), 1, "{:?}", sheet.findings);
    assert_eq!(sheet.findings[0].suspects[0].cause, Cause::Loss);
    assert_relative_eq!(sheet.findings[0].suspects[0].size, LEAK * 78.0, max_relative = 0.25);
}

#[test]
fn hours_of_the_valve_stand_for_a_meter() {
    let (site, log) = healthy();
    let metered = check(&site, &log);
    let valve = site
        .replace(
            "control = \"conductivity\"",
            "control = \"conductivity\"\nvalve_flow = \"4 m3/h\"",
        )
        .replace(
            "is = \"blowdown_register\"\nunit = \"m3\"",
            "is = \"blowdown_valve_hours\"\nunit = \"h\"",
        );
    let hours = edited(&log, |_, fields| {
        if let Ok(volume) = fields[2].parse::<f64>() {
            fields[2] = format!("{}", volume / 4.0);
        }
    });
    let timed = check(&valve, &hours);
    for (metered, timed) in metered.periods.iter().zip(&timed.periods) {
        let [metered, timed] = [metered, timed].map(|period| period.readings.blowdown.value);
        assert_relative_eq!(metered, timed, max_relative = 1e-6);
    }
}

/// Two days without water or load in the fourth week, then on as before.
#[test]
fn idle_days_are_left_out_and_nothing_is_flagged() {
    let (site, log) = healthy();
    let at = |log: &str, index: usize, field: usize| -> f64 {
        log.lines().nth(1 + index).unwrap().split(',').nth(field).unwrap().parse().unwrap()
    };
    let (makeup, blowdown) = (at(&log, 44, 1), at(&log, 44, 2));
    let (saved_makeup, saved_blowdown) = (at(&log, 48, 1) - makeup, at(&log, 48, 2) - blowdown);
    let idle = edited(&log, |index, fields| {
        if (44..=48).contains(&index) && index % 2 == 0 {
            (fields[1], fields[2]) = (makeup.to_string(), blowdown.to_string());
        } else if index > 48 && index % 2 == 0 {
            let [a, b] = [1, 2].map(|field| fields[field].parse::<f64>().unwrap());
            (fields[1], fields[2]) =
                ((a - saved_makeup).to_string(), (b - saved_blowdown).to_string());
        }
        if index == 45 || index == 47 {
            fields[5] = fields[6].clone();
        }
    });
    let sheet = check(&site, &idle);
    assert!(sheet.findings.is_empty(), "{:?}", sheet.findings);
    assert_eq!(sheet.left_out.len(), 2, "{:?}", sheet.left_out);
    assert!(sheet.left_out.iter().all(|(_, reason)| reason.starts_with("idle")));
}

#[test]
fn a_dead_blowdown_meter_and_a_dead_makeup_meter_are_told() {
    let (site, log) = healthy();
    let dead = |field: usize| {
        let stands = log.lines().nth(61).unwrap().split(',').nth(field).unwrap().to_owned();
        edited(&log, |index, fields| {
            if index >= 60 && index % 2 == 0 {
                fields[field] = stands.clone();
            }
        })
    };
    let sheet = check(&site, &dead(2));
    let finding = &sheet.findings[0];
    assert_eq!(finding.suspects[0].cause, Cause::Loss);
    assert_eq!(finding.remark, Some(Remark::BlowdownMeterStill));
    let sheet = check(&site, &dead(1));
    assert_eq!(sheet.findings.len(), 1);
    assert_eq!(sheet.findings[0].suspects[0].cause, Cause::MakeupMeterStill);
}

/// A column multiplied, as by a unit that the site file has wrong.
fn in_another_unit(log: &str, field: usize, factor: f64) -> String {
    edited(log, |_, fields| {
        if let Ok(number) = fields[field].parse::<f64>() {
            fields[field] = (factor * number).to_string();
        }
    })
}

/// The two numbers that show it are told: what was read, and what the site needs or the makeup has.
#[test]
fn a_wrong_unit_is_told_with_numbers() {
    let (site, log) = healthy();
    let makeup = check(&site, &log).periods[0].readings.makeup.value;
    const GALLONS: f64 = 264.172;
    for (field, factor, words) in [
        (1, 1.0 / GALLONS, "is the unit of its column right"),
        (1, GALLONS, "is the unit of its column right"),
        (2, GALLONS, "a blowdown of"),
        (4, 1e-3, "is no more concentrated than the makeup"),
        (4, 1e3, "more than 100 times as concentrated as the makeup"),
    ] {
        let error =
            try_check(&site, &in_another_unit(&log, field, factor)).unwrap_err().to_string();
        assert!(error.contains(words), "{error}");
        if field == 1 {
            let read = format!("a makeup of {} m3/day", significant(factor * makeup, 3));
            assert!(error.contains(&read), "{error}: {read}");
        }
    }
    let both = in_another_unit(&in_another_unit(&log, 1, 1e-3), 2, 1e-3);
    let blind = edited(&both, |_, fields| (5..9).for_each(|field| fields[field].clear()));
    let error = try_check(&site, &blind).unwrap_err().to_string();
    assert!(error.contains("idle, or the unit of a column is wrong"), "{error}");
}

#[test]
fn swapped_hot_and_cold_water_is_told_once() {
    let (site, log) = healthy();
    let swapped = edited(&log, |_, fields| fields.swap(5, 6));
    let sheet = check(&site, &swapped);
    let told = sheet.hot_below_cold.unwrap();
    assert_eq!((told.periods, told.with_both), (sheet.periods.len(), sheet.periods.len()));
    assert!(told.hot_kelvin < told.cold_kelvin, "{told:?}");
    assert!(sheet.without_heat.is_empty(), "{:?}", sheet.without_heat);
    assert!(sheet.by_heat.is_none());
    // A day that is so among many that are not is told by itself.
    let one = edited(&log, |index, fields| {
        if (20..23).contains(&index) {
            fields.swap(5, 6);
        }
    });
    let sheet = check(&site, &one);
    assert_eq!(sheet.hot_below_cold, None);
    assert!(!sheet.without_heat.is_empty());
}

/// Chloride alone, in a tower that is fed hypochlorite: what that leaves is no concentration.
#[test]
fn chloride_of_the_oxidant_is_no_loss() {
    let waters = waters();
    let trial = Trial { titration: true, ..PLAIN };
    let site = site(&trial, &waters).replace(
        "[log]\n",
        "[[chemical]]\nname = \"hypochlorite\"\nkind = \"oxidant\"\ndose = \"0.3 mg/L\"\ndemand = \"4 mg/L\"\nstrength = \"12 %\"\n[log]\n",
    );
    // A mole of Cl2 fed ends as two of chloride: 4 mg/L in the makeup are 4 mg/L of chloride more, and
    // the residual 0.3 mg/L in the basin (no decay stated).
    let fresh = 35.453 * waters[0]["totals_mmol"]["Cl"].as_f64().unwrap();
    let log = edited(&log(&trial, &waters).0, |index, fields| {
        if index % 2 == 0 {
            // The simulated controller holds four cycles.
            fields[9] = format!("{fresh}");
            fields[10] = format!("{}", 4.0 * (fresh + 4.0) + 0.3);
            fields[4].clear();
        }
    });
    let sheet = check(&site, &log);
    let day = &sheet.periods[10];
    assert_relative_eq!(day.cycles, 4.0, max_relative = 2e-3);
    assert!(sheet.findings.is_empty(), "{:?}", sheet.findings);
}

#[test]
fn a_loss_that_rests_is_told_from_one_that_goes_on() {
    let waters = waters();
    for (rest, circumstance) in [
        (Rest::Fans, Circumstance::FansStand),
        (Rest::Load, Circumstance::LoadIsOff),
        (Rest::Level, Circumstance::LevelIsLow),
    ] {
        for (loss_rests, effect) in [(true, Effect::Stops), (false, Effect::None)] {
            let fault = Some(Fault::Loss(0.10));
            let trial = Trial { fault, begins: 22, rest, loss_rests, seed: 7, ..PLAIN };
            let sheet = check(&site(&trial, &waters), &log(&trial, &waters).0);
            let finding = &sheet.findings[0];
            assert!(finding.leading().any(|suspect| suspect.cause == Cause::Loss), "{rest:?}");
            let of_it: Vec<_> =
                finding.patterns.iter().filter(|p| p.circumstance == circumstance).collect();
            assert_eq!(of_it.len(), 1, "{rest:?}: {:?}", finding.patterns);
            assert_eq!(of_it[0].effect, effect, "{rest:?}: {:?}", of_it[0]);
        }
    }
}

/// Load or weather that is not as stated is no finding: the solids know nothing of it.
#[test]
fn heat_alone_raises_no_finding() {
    let waters = waters();
    for seed in 0..3 {
        let fault = Some(Fault::EvaporationHigher(0.20));
        let trial = Trial { fault, begins: 25, seed, ..PLAIN };
        let sheet = check(&site(&trial, &waters), &log(&trial, &waters).0);
        assert!(sheet.findings.is_empty(), "{:?}", sheet.findings);
    }
}

/// The makeup conducts more, as the log says, and the controller holds the basin: the cycles fall as
/// they must.
#[test]
fn cycles_that_follow_the_makeup_raise_no_finding() {
    let waters = waters();
    for seed in 0..3 {
        let fault = Some(Fault::MakeupQualityUnread(-0.12));
        let trial = Trial { fault, begins: 25, seed, ..PLAIN };
        // The site of a healthy tower reads the makeup.
        let sheet = check(&site(&PLAIN, &waters), &log(&trial, &waters).0);
        assert!(sheet.findings.is_empty(), "{:?}", sheet.findings);
    }
}

/// Constant errors look the same: what contradicts physics from the first day on is told, and is no
/// finding.
#[test]
fn a_contradiction_from_the_first_day_on_is_a_note() {
    let waters = waters();
    let trial = Trial { fault: Some(Fault::Loss(0.10)), ..PLAIN };
    let sheet = check(&site(&trial, &waters), &log(&trial, &waters).0);
    assert!(sheet.findings.is_empty(), "{:?}", sheet.findings);
    assert_eq!(sheet.notes[0].since, None);
    assert_eq!(sheet.notes[0].suspects[0].cause, Cause::Loss);
}

/// By the conductivity that a controller holds; without one by its own part of the makeup, as a note.
#[test]
fn a_bleed_that_sticks_is_found_and_once_mended_over() {
    let waters = waters();
    for (fault, cause) in [
        (Fault::BlowdownStuckOpen(1.0), Cause::BlowdownHigh),
        (Fault::BlowdownStuckShut(0.7), Cause::BlowdownLow),
    ] {
        for control in ["conductivity", "timer", "manual"] {
            let trial = Trial { fault: Some(fault), begins: 40, ..PLAIN };
            let site = site(&trial, &waters)
                .replace("control = \"conductivity\"", &format!("control = \"{control}\""));
            // What a clock or a hand opens is told, and raises nothing.
            let is_held = control == "conductivity";
            let of = |sheet: &CheckSheet| {
                let list = if is_held { &sheet.findings } else { &sheet.notes };
                let is_bleed = |finding: &&Finding| finding.suspects[0].cause == cause;
                list.iter().find(is_bleed).unwrap_or_else(|| panic!("{control}: {sheet:?}")).clone()
            };
            let stands = check(&site, &log(&trial, &waters).0);
            assert_eq!(stands.findings.len(), usize::from(is_held), "{:?}", stands.findings);
            let began = of(&stands).since.unwrap().to_string();
            assert!(began.starts_with("2026-05-1"), "{fault:?} {control}: {began}");
            let mended = check(&site, &log(&Trial { ends: 50, ..trial }, &waters).0);
            assert!(!mended.finding_stands(), "{fault:?} {control}: {:?}", mended.findings);
            assert_eq!(mended.state(&of(&mended)), FindingState::Over);
            let until = of(&mended).until.unwrap().to_string();
            assert!(until.starts_with("2026-05-2"), "{fault:?} {control}: {until}");
        }
    }
}

/// Two days of a stop: the basin is drained through the metered blowdown, nothing is made up, the
/// water has no range.
#[test]
fn a_stop_with_a_drain_is_no_makeup_meter_that_stands_still() {
    let (site, log) = healthy();
    let at = |index: usize, field: usize| -> f64 {
        log.lines().nth(1 + index).unwrap().split(',').nth(field).unwrap().parse().unwrap()
    };
    let (stood, saved) = (at(44, 1), at(48, 1) - at(44, 1));
    let stopped = edited(&log, |index, fields| {
        if (44..=48).contains(&index) && index % 2 == 0 {
            fields[1] = stood.to_string();
        } else if index > 48 && index % 2 == 0 {
            fields[1] = (fields[1].parse::<f64>().unwrap() - saved).to_string();
        }
        if index == 45 || index == 47 {
            fields[5] = fields[6].clone();
        }
    });
    let sheet = check(&site, &stopped);
    assert!(sheet.findings.is_empty(), "{:?}", sheet.findings);
    assert_eq!(sheet.left_out.len(), 2, "{:?}", sheet.left_out);
}

#[test]
fn a_slipped_decimal_point_is_told_and_the_rest_is_judged() {
    let (site, log) = leaking();
    for (field, factor) in [(4, 10.0), (4, 0.1), (3, 10.0), (3, 0.1)] {
        let slipped = edited(&log, |index, fields| {
            if index == 24 {
                fields[field] = (factor * fields[field].parse::<f64>().unwrap()).to_string();
            }
        });
        let (sheet, not_used) = check_with_slips(&site, &slipped);
        // A reading so far off is left out before it enters two periods.
        assert_eq!(not_used.listed.len(), 1, "{field} {factor}: {not_used:?}");
        assert!(not_used.listed[0].reason.contains("left out"), "{not_used:?}");
        assert_eq!(sheet.findings.len(), 1, "{field} {factor}: {:?}", sheet.findings);
        let finding = &sheet.findings[0];
        assert!(finding.leading().any(|suspect| suspect.cause == Cause::Loss), "{finding:?}");
    }
}

/// A winter's day under the design's summer: the air is as dry as its own wet bulb allows.
#[test]
fn a_wet_bulb_without_a_dry_bulb_does_not_meet_the_designs() {
    let (site, log) = healthy();
    const COLDER: f64 = 8.0;
    let winter = edited(&log, |_, fields| {
        for field in &mut fields[5..9] {
            if let Ok(celsius) = field.parse::<f64>() {
                *field = (celsius - COLDER).to_string();
            }
        }
        // Cold air takes up little: it is never as dry as a summer's afternoon.
        if let Ok(wet) = fields[8].parse::<f64>() {
            fields[7] = (wet + 4.0).to_string();
        }
    });
    let whole = check(&site, &winter);
    let sheet = check(&site, &edited(&winter, |_, fields| fields[7].clear()));
    // A fill cannot do every duty in such air.
    assert!(whole.without_heat.len() <= 2, "{:?}", whole.without_heat);
    let days = whole.periods.iter().zip(&sheet.periods);
    for (whole, without) in days.filter(|(whole, _)| whole.heat.is_some()) {
        let [whole, without] = [whole, without].map(|period| period.readings.evaporation);
        assert_relative_eq!(without.value, whole.value, max_relative = 0.08);
        // The assumption is in the uncertainty.
        let [known, assumed] = [whole, without].map(|e| e.uncertainty / e.value);
        assert!(assumed > known, "{assumed} {known}");
    }
    let assumed = sheet.assumed_dry_bulb.unwrap();
    assert_eq!(assumed.periods, sheet.periods.len() - sheet.without_heat.len());
    // 25 and 19 degC in the site file.
    assert_relative_eq!(assumed.above_wet_bulb_kelvin, 0.6 * 6.0, max_relative = 1e-6);
    assert_eq!(whole.assumed_dry_bulb, None);
}

/// Under a controller a leak is bled less; with a bleed that stays as it is, the makeup replaces it.
#[test]
fn what_a_leak_costs_depends_on_who_holds_the_cycles() {
    let (site, log) = leaking();
    let sheet = check(&site, &log);
    let loss = sheet.findings[0].suspects[0].size;
    assert_eq!(sheet.more_makeup(&sheet.findings[0], loss), Some(0.0));
    let own = sheet.own_days().unwrap();
    assert_eq!(own.periods, 25);
    assert_relative_eq!(own.part, 1.0, epsilon = 0.05);
    // The same makeup with cycles that fall as a leak of this size would have them fall: E / (c - 1) grows by it.
    let mut fallen = sheet.clone();
    let since = sheet.findings[0].since.unwrap();
    for period in fallen.periods.iter_mut().filter(|period| since <= period.start) {
        let evaporation = period.readings.makeup.value * (1.0 - 1.0 / period.cycles);
        period.cycles = 1.0 + evaporation / (evaporation / (period.cycles - 1.0) + loss);
        period.readings.makeup.value = evaporation * period.cycles / (period.cycles - 1.0);
    }
    let more = fallen.more_makeup(&fallen.findings[0], loss).unwrap();
    assert_relative_eq!(more, loss, max_relative = 0.1);
}
