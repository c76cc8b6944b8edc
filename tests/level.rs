//! The level of a site as a program uses it.

use approx::assert_relative_eq;
use coldbasin::model::{DropReading, LevelQuestions, LevelSheet, Model};
use coldbasin::site::{Description, file, validate};

const DAIRY: &str = include_str!("../examples/dairy.toml");
const ASKED: LevelQuestions =
    LevelQuestions { stuck: 1.0, act_hours: 0.5, to_cycles: None, drop_test: None };

fn level(overrides: &[&str], questions: LevelQuestions) -> LevelSheet {
    let overrides: Vec<_> = overrides.iter().map(|text| text.parse().unwrap()).collect();
    let source = file::read::<Description>("site.toml", DAIRY, &overrides)
        .unwrap_or_else(|wrong| panic!("{wrong}"));
    let site = validate(&source.description).unwrap_or_else(|wrong| panic!("{wrong:?}"));
    let model = Model::compile(&site);
    model.level(model.base(), questions).unwrap_or_else(|wrong| panic!("{wrong}"))
}

#[test]
fn the_stuck_valve_overflows_after_the_freeboard_is_full() {
    let sheet = level(&[], ASKED);
    let losses = sheet.circuit.evaporation + sheet.circuit.drift + sheet.circuit.blowdown;
    let stuck = sheet.stuck.as_ref().unwrap();
    // The blowdown shuts while the cycles fall, so that it is a little sooner than with all losses.
    let freeboard = (sheet.basin.overflow_level - sheet.start_level) * sheet.area;
    let all = freeboard / (sheet.stuck_flow - losses);
    let none = freeboard / (sheet.stuck_flow - sheet.circuit.evaporation);
    let overflows_at = stuck.overflows_at.unwrap();
    assert!(overflows_at > none && overflows_at < all, "{none} {overflows_at} {all}");
    let last = stuck.samples.last().unwrap();
    let final_cycles = sheet.stuck_flow / (sheet.stuck_flow - sheet.circuit.evaporation);
    assert_relative_eq!(last.cycles, final_cycles, max_relative = 2e-3);
}

#[test]
fn a_lost_makeup_leaves_what_the_alarm_promises() {
    let sheet = level(&[], ASKED);
    let asked = sheet.low_alarm_for_act.unwrap();
    let moved = format!("basin.low_alarm_level={asked} m");
    let mended = level(&[&moved], ASKED);
    assert_relative_eq!(mended.act_hours_now.unwrap(), 0.5, max_relative = 2e-2);
    assert!(sheet.warnings.iter().any(|warning| warning.notice.id == "alarm_too_late"));
}

#[test]
fn room_for_the_run_back_saves_every_stop() {
    assert!(level(&[], ASKED).stop.overflowed > 1.0);
    let higher = level(&["basin.overflow_level=0.75 m", "basin.inlet_level=0.9 m"], ASKED);
    assert_eq!(higher.stop.overflows_at, None);
    assert!(higher.stop.overflowed < 1e-9);
}

#[test]
fn questions_are_answered_only_when_asked() {
    let plain = level(&[], ASKED);
    assert!(plain.dilution.is_none() && plain.leak.is_none());
    let drop_test =
        Some(DropReading { drop: (12.0, 0.5), hours: (8.0, 0.01), is_assumed: [false; 2] });
    let asked = level(&[], LevelQuestions { to_cycles: Some(2.0), drop_test, ..ASKED });
    let dilution = asked.dilution.unwrap();
    assert_relative_eq!(dilution.volume, 35.0 * 2f64.ln(), max_relative = 1e-6);
    let leak = asked.leak.unwrap();
    let fall = 12.0 / 8.0 - asked.still_evaporation;
    assert_relative_eq!(leak.flow, 22e-3 * fall, max_relative = 1e-9);
}

#[test]
fn the_basin_gives_the_volume_that_is_not_stated() {
    let text = DAIRY.replace("volume = \"35 m3\"\n", "");
    let source = file::read::<Description>("site.toml", &text, &[]).unwrap();
    let model = Model::compile(&validate(&source.description).unwrap());
    let sheet = model.sheet(model.base()).unwrap();
    assert_relative_eq!(sheet.volume_m3.unwrap(), 22.0 * 0.45 + 4.2, max_relative = 1e-9);
}

/// The dairy without a word on what its overflow carries.
fn without_overflow_pipe() -> LevelSheet {
    let text = DAIRY.replace("overflow_pipe = \"125 mm\"\n", "");
    let source = file::read::<Description>("site.toml", &text, &[]).unwrap();
    let model = Model::compile(&validate(&source.description).unwrap());
    model.level(model.base(), ASKED).unwrap()
}

#[test]
fn an_overflow_that_is_not_described_spills_at_its_lip_and_is_warned_of() {
    let sheet = without_overflow_pipe();
    assert_eq!(sheet.basin.overflow, None);
    let stuck = sheet.stuck.as_ref().unwrap();
    let last = stuck.samples.last().unwrap();
    assert_relative_eq!(stuck.highest.0, 0.6, max_relative = 1e-9);
    assert_relative_eq!(last.level, 0.6, max_relative = 1e-9);
    // What comes and neither evaporates nor drifts spills: the controller has shut the blowdown.
    let lost = sheet.circuit.evaporation + sheet.circuit.drift;
    assert_relative_eq!(last.overflow, sheet.stuck_flow - lost, max_relative = 1e-6);
    assert!(sheet.stop.overflowed > 1.0 && sheet.stop.highest.0 <= 0.6 + 1e-9);
    let warning = sheet.warnings.iter().find(|it| it.notice.id == "overflow_unknown").unwrap();
    assert!(warning.message.contains("lets the basin flood"), "{}", warning.message);
    // A described one differs by the water that stands above its lip.
    let pipe = level(&[], ASKED).stuck.unwrap().overflowed;
    assert_relative_eq!(stuck.overflowed, pipe, max_relative = 1e-2);
}

/// The bill by the balance of the week: what the valve lets in, and the ordinary week's makeup and
/// blowdown, at the site's prices.
#[test]
fn a_stuck_valve_costs_the_week_with_it_less_the_week_without_it() {
    let sheet = level(&[], ASKED);
    let bill = sheet.stuck_bill.as_ref().unwrap();
    let makeup = 168.0 * (sheet.stuck_flow - sheet.demand);
    assert_relative_eq!(bill.metered.makeup, makeup, max_relative = 1e-9);
    assert_relative_eq!(bill.more.water, 1.9 * makeup, max_relative = 1e-9);
    // Evaporation is the same in both weeks: all that comes more is billed in the sewer.
    assert_relative_eq!(bill.more.sewer, 2.4 * makeup, max_relative = 1e-9);
    assert_eq!(bill.more.energy, 0.0);
    // The makeup that is more: what spills, less the blowdown that is saved, and what stands higher.
    let stuck = sheet.stuck.as_ref().unwrap();
    let higher = sheet.area * (stuck.samples.last().unwrap().level - sheet.start_level);
    let balance = stuck.overflowed + bill.metered.blowdown + higher;
    assert_relative_eq!(bill.metered.makeup, balance, max_relative = 1e-6);
    assert!(bill.metered.blowdown < -0.99 * 168.0 * sheet.circuit.blowdown);
}

#[test]
fn a_sewer_on_metered_blowdown_bills_less_for_a_stuck_valve() {
    let sheet = level(&["cost.sewer_basis=blowdown", "cost.energy=0.2 per m3"], ASKED);
    let bill = sheet.stuck_bill.as_ref().unwrap();
    assert_relative_eq!(bill.more.sewer, 2.4 * bill.metered.blowdown, max_relative = 1e-12);
    assert_relative_eq!(bill.more.energy, 0.2 * bill.metered.makeup, max_relative = 1e-12);
    assert!(bill.more.sewer < 0.0);
    // A valve whose blowdown nobody controls saves none.
    let fixed = level(&["blowdown.control=manual"], ASKED);
    assert_relative_eq!(fixed.stuck_bill.unwrap().metered.blowdown, 0.0, epsilon = 1e-3);
}

#[test]
fn without_a_price_there_is_no_bill() {
    let start = DAIRY.find("[cost]").unwrap();
    let end = DAIRY.find("[basin]").unwrap();
    let text = format!("{}{}", &DAIRY[..start], &DAIRY[end..]);
    let source = file::read::<Description>("site.toml", &text, &[]).unwrap();
    let model = Model::compile(&validate(&source.description).unwrap());
    assert!(model.level(model.base(), ASKED).unwrap().stuck_bill.is_none());
}

/// Under a controller what spills takes the place of blowdown, until there is none left to take.
#[test]
fn a_stop_costs_the_year_with_it_less_the_year_without_it() {
    let stops = |overrides: &[&str]| level(overrides, ASKED).stop_loss.unwrap();
    let held = stops(&[]);
    assert_relative_eq!(held.per_year, held.per_day * 6_500.0 / 24.0, max_relative = 1e-12);
    assert_relative_eq!(held.more.blowdown, -held.per_year, max_relative = 1e-9);
    assert_eq!((held.more.makeup, held.more.money), (0.0, Some(0.0)));
    // A sewer billed on what the blowdown meter counts bills that much less.
    let unmetered = stops(&["cost.sewer_basis=blowdown"]);
    assert_relative_eq!(unmetered.more.money.unwrap(), -2.4 * held.per_year, max_relative = 1e-6);
    // A valve that nobody controls goes on: all that spills is made up. Chemicals come on top.
    let fixed = stops(&["blowdown.control=manual"]);
    assert_relative_eq!(fixed.more.makeup, fixed.per_year, max_relative = 1e-9);
    assert_eq!(fixed.more.blowdown, 0.0);
    assert!(fixed.more.money.unwrap() > (1.9 + 2.4) * fixed.per_year);
    // So many stops that they spill more than the controller bled: makeup = evaporation + liquid.
    let many = stops(&["basin.pump_stops_per_day=72"]);
    let sheet = level(&[], ASKED);
    let bled = 6_500.0 * sheet.circuit.blowdown;
    assert_relative_eq!(many.more.blowdown, -bled, max_relative = 1e-9);
    assert_relative_eq!(many.more.makeup, many.per_year - bled, max_relative = 1e-9);
}

#[test]
fn a_float_set_lower_gives_a_stop_its_room() {
    let now = level(&[], ASKED);
    let by = now.lower_for_stops().unwrap();
    let lower = |path: &str, level: f64| format!("{path}={} m", level - by);
    let set = [
        lower("basin.valve.open_level", 0.38),
        lower("basin.valve.shut_level", 0.52),
        lower("basin.operating_level", 0.45),
    ];
    let lowered = level(&set.each_ref().map(String::as_str), ASKED);
    assert!(lowered.stop.overflowed < 0.02 * now.stop.overflowed, "{}", lowered.stop.overflowed);
    // An alarm close under the float leaves no room to go lower.
    assert_eq!(level(&["basin.low_alarm_level=0.44 m"], ASKED).lower_for_stops(), None);
}

#[test]
fn the_time_to_act_ends_with_the_first_harm() {
    let sheet = level(&[], ASKED);
    let lost = &sheet.lost;
    // The suction draws air above the level at which the pumps trip.
    assert!(lost.starves_at < lost.trips_at);
    let to_air = lost.starves_at.unwrap() - lost.alarms_at.unwrap();
    assert_relative_eq!(sheet.act_hours_now.unwrap(), to_air, max_relative = 1e-12);
}

/// Against the balance of a site whose blowdown is a flow, that of the open valve.
#[test]
fn a_bleed_left_open_costs_what_a_second_balance_says() {
    let open = level(&[], ASKED).open_bleed.unwrap();
    let makeup = |blowdown: &str| {
        let text = DAIRY.replace("cycles = 3\ncontrol = \"conductivity\"\n", blowdown);
        let source = file::read::<Description>("site.toml", &text, &[]).unwrap();
        let model = Model::compile(&validate(&source.description).unwrap());
        model.sheet(model.base()).unwrap()
    };
    let (held, flowing) = (makeup("cycles = 3\n"), makeup("flow = \"6 m3/h\"\n"));
    let of = |sheet: &coldbasin::model::BalanceSheet| sheet.makeup.reference_m3_per_h;
    assert_relative_eq!(
        open.metered.makeup,
        168.0 * (of(&flowing) - of(&held)),
        max_relative = 1e-3
    );
    assert_relative_eq!(
        open.cycles,
        flowing.balance.water.cycles_of_concentration,
        max_relative = 2e-3
    );
    // A valve smaller than the blowdown cannot take more than it.
    assert!(level(&["blowdown.valve_flow=2 m3/h"], ASKED).open_bleed.is_none());
}
