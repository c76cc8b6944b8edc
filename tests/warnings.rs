//! Every warning of the table is raised by a site that a user could write, stands in the json of its command,
//! and is counted by `--strict`.

use coldbasin::report::warnings::{WarningRow, rows};
use serde_json::Value;
use std::io::Write;
use std::process::{Command, Output, Stdio};

const DAIRY: &str = include_str!("../examples/dairy.toml");

/// What of the dairy is written otherwise: the text, and what stands in its place.
type Changes = &'static [(&'static str, &'static str)];

/// A warning, the command that raises it with what follows the site file, and the site.
struct Case {
    id: &'static str,
    command: &'static [&'static str],
    changes: Changes,
}

const fn case(id: &'static str, command: &'static [&'static str], changes: Changes) -> Case {
    Case { id, command, changes }
}

const BALANCE: &[&str] = &["balance"];
const BLOWDOWN: &[&str] = &["blowdown"];
const FEED: &[&str] = &["feed"];
const LEVEL: &[&str] = &["level"];
const YEAR: &[&str] = &["year", "examples/dairy-weather.csv"];
const CHECK: &[&str] = &["check", "examples/dairy-log.csv"];
const LOG_WITH_WORDS: &[&str] = &["check", "tests/warnings/log-with-words.csv"];
const MOUNTAIN: &[&str] = &["year", "tests/warnings/weather-of-a-mountain.csv"];
const WRONG_WEATHER: &[&str] = &["year", "tests/cli/wrong/weather-of-many-kinds.csv"];

const DRIFT: &str = "drift = \"0.002 %\"";
const WET: &str = "wet_bulb = \"22 degC\"";
const DRY: &str = "dry_bulb = \"30 degC\"";
const HOT: &str = "hot_water = \"35 degC\"";
const COLD: &str = "cold_water = \"27 degC\"";
const SURFACE: &str = "hottest_surface = \"48 degC\"";
const CYCLES: &str = "cycles = 3\n";
const SMALL_VALVE: (&str, &str) = ("valve_flow = \"6 m3/h\"", "valve_flow = \"1 m3/h\"");
const INHIBITOR: &str = "price = \"3.4 per kg\"";
const COST: &str = "[cost]\n";
const BASIS: &str = "sewer_basis = \"makeup_less_evaporation\"";
const LEAK: (&str, &str) = (COST, "[losses]\nleakage = \"0.2 m3/h\"\n[cost]\n");
const WITH_PRESSURE: (&str, &str) = (
    "[year]\n",
    "[[weather.column]]\nname = \"pressure kPa\"\nis = \"pressure\"\nunit = \"kPa\"\n[year]\n",
);
const WELL_HAS_PHOSPHATE: (&str, &str) =
    ("nitrate = \"11", "phosphate = \"8 mg/L as PO4\"\nnitrate = \"11");
const MAINS_HAVE_PHOSPHATE: (&str, &str) =
    ("balance_with", "phosphate = \"8 mg/L as PO4\"\nbalance_with");
const WELL_IS_TURBID: (&str, &str) =
    ("nitrate = \"11", "suspended_solids = \"40 mg/L\"\nnitrate = \"11");
const MAINS_ARE_TURBID: (&str, &str) =
    ("balance_with", "suspended_solids = \"40 mg/L\"\nbalance_with");
const LIMITS: &str = "materials = [\"stainless_304\", \"copper_alloy\", \"film_fill\"]\n";
const OWN_LIMIT: &str = "[[limit]]\nof = \"chloride\"\nmost = \"180 mg/L as Cl\"\n\
                         source = \"discharge permit (invented)\"\n";

static CASES: &[Case] = &[
    case("drift_above_code_limit", BALANCE, &[(DRIFT, "drift = \"0.003 %\"")]),
    case("drift_eliminators_failed", BALANCE, &[(DRIFT, "drift = \"0.03 %\"")]),
    case("drift_likely_input_error", BALANCE, &[(DRIFT, "drift = \"0.3 %\"")]),
    case("drift_costly_fault", BALANCE, &[(DRIFT, "drift = \"3 %\"")]),
    case("approach_too_close", BALANCE, &[(WET, "wet_bulb = \"25 degC\"")]),
    case("range_unusual", BALANCE, &[(HOT, "hot_water = \"29 degC\"")]),
    case("water_to_air_unusual", BALANCE, &[("water_to_air = 1.2", "water_to_air = 0.4")]),
    case(
        "evaporation_far_from_rule",
        BALANCE,
        &[(COST, "[evaporation]\nflow = \"20 m3/h\"\n[cost]\n")],
    ),
    case(
        "hot_water_too_hot",
        BALANCE,
        &[(HOT, "hot_water = \"50 degC\""), (SURFACE, "hottest_surface = \"60 degC\"")],
    ),
    case(
        "freezing_air",
        BALANCE,
        &[
            (DRY, "dry_bulb = \"-3 degC\""),
            (WET, "wet_bulb = \"-4 degC\""),
            (HOT, "hot_water = \"22 degC\""),
            (COLD, "cold_water = \"14 degC\""),
        ],
    ),
    case("cycles_low", BALANCE, &[(CYCLES, "cycles = 2\n")]),
    case("cycles_high", BALANCE, &[(CYCLES, "cycles = 12\n")]),
    case("losses_above_blowdown", BALANCE, &[(COST, "[losses]\nleakage = \"6 m3/h\"\n[cost]\n")]),
    case("unwanted_loss", BALANCE, &[(COST, "[losses]\noverflow = \"1 m3/h\"\n[cost]\n")]),
    case(
        "no_liquid_leaves",
        BALANCE,
        &[(CYCLES, "flow = \"0 m3/h\"\n"), (DRIFT, "drift = \"0 %\"")],
    ),
    case("makeup_too_large", BALANCE, &[(COST, "[losses]\nleakage = \"60 m3/h\"\n[cost]\n")]),
    case(
        "chemicals_not_counted",
        BALANCE,
        &[
            ("kind = \"inhibitor\"", "kind = \"acid\"\nstrength = \"90 %\""),
            ("[limits]\n", "[ph]\nheld = 8.0\n[limits]\n"),
            ("alkalinity = \"235 mg/L as CaCO3\"\n", ""),
        ],
    ),
    case("sewer_on_evaporation", BALANCE, &[(BASIS, "sewer_basis = \"makeup\"")]),
    case("sewer_on_evaporation", YEAR, &[(BASIS, "sewer_basis = \"makeup\"")]),
    case("sewer_credit_for_leaks", BALANCE, &[LEAK]),
    case("sewer_misses_losses", BALANCE, &[LEAK, (BASIS, "sewer_basis = \"blowdown\"")]),
    case(
        "sewer_misses_losses",
        LEVEL,
        &[
            (BASIS, "sewer_basis = \"blowdown\""),
            ("operating_level = \"0.45 m\"", "operating_level = \"0.55 m\""),
        ],
    ),
    case("new_galvanised", BLOWDOWN, &[(LIMITS, "materials = [\"new_galvanised_steel\"]\n")]),
    case("corrosion_possible", BLOWDOWN, &[(LIMITS, "materials = [\"carbon_steel\"]\n")]),
    case("deposit_possible", BLOWDOWN, &[WELL_HAS_PHOSPHATE, MAINS_HAVE_PHOSPHATE]),
    case("fouling_possible", BLOWDOWN, &[WELL_IS_TURBID, MAINS_ARE_TURBID]),
    case("sources_disagree", BLOWDOWN, &[]),
    case("calcite_index_high", BLOWDOWN, &[("calcite = 2.1", "calcite = 2.9")]),
    case("half_life_long", BLOWDOWN, &[("volume = \"35 m3\"", "volume = \"400 m3\"")]),
    case("half_life_short", BLOWDOWN, &[("contact = \"6 h\"", "contact = \"30 h\"")]),
    case("floor_not_met", BLOWDOWN, &[("[limits]\n", "[limits]\ncodes = [\"ashrae_189_1\"]\n")]),
    case("measured_cycles_differ", BLOWDOWN, &[(CYCLES, "cycles = 6\n")]),
    case(
        "acid_not_stated",
        BLOWDOWN,
        &[
            ("ph = 8.55", "ph = 7.4"),
            ("alkalinity = \"468 mg/L as CaCO3\"", "alkalinity = \"80 mg/L as CaCO3\""),
            ("sulfate = \"143 mg/L as SO4\"", "sulfate = \"520 mg/L as SO4\""),
        ],
    ),
    case(
        "own_test_contradicts",
        BLOWDOWN,
        &[
            ("chloride = \"113", "chloride = \"190"),
            ("magnesium = \"41", "magnesium = \"28"),
            ("silica = \"39", "silica = \"24"),
            ("sulfate = \"143", "sulfate = \"300"),
        ],
    ),
    case(
        "much_made_up",
        BLOWDOWN,
        &[("chloride = \"24 mg/L as Cl\"", "chloride = \"2.4 g/L as Cl\"")],
    ),
    case(
        "dissolved_solids_off",
        BLOWDOWN,
        &[(
            "conductivity = \"690 uS/cm\"",
            "conductivity = \"690 uS/cm\"\ndissolved_solids = \"900 mg/L\"",
        )],
    ),
    case(
        "dissolved_solids_off",
        BLOWDOWN,
        &[(
            "conductivity = \"690 uS/cm\"",
            "conductivity = \"690 uS/cm\"\ndissolved_ions = \"410 mg/L\"",
        )],
    ),
    case(
        "p_alkalinity_off_ph",
        BLOWDOWN,
        &[(
            "conductivity = \"690 uS/cm\"",
            "conductivity = \"690 uS/cm\"\np_alkalinity = \"60 mg/L as CaCO3\"",
        )],
    ),
    case(
        "analysis_slip",
        BLOWDOWN,
        &[("conductivity = \"690 uS/cm\"", "conductivity = \"0.69 uS/cm\"")],
    ),
    case("makeup_ph_odd", BLOWDOWN, &[("ph = 7.4\n", "ph = 9.1\n")]),
    case(
        "sample_old",
        BLOWDOWN,
        &[
            ("ph = 7.4\n", "ph = 7.4\nsampled = 2019-03-02\n"),
            ("ph = 8.55\n", "ph = 8.55\nsampled = 2026-05-18\n"),
        ],
    ),
    case("conductivity_computed", BLOWDOWN, &[("conductivity = \"310 uS/cm\"\n", "")]),
    case("odd_ion", BLOWDOWN, &[("chloride = \"113", "chloride = \"11.3")]),
    case(
        "limit_on_made_up_ion",
        BLOWDOWN,
        &[(
            "of = \"chloride\"\nmost = \"180 mg/L as Cl\"",
            "of = \"sodium\"\nmost = \"180 mg/L as Na\"",
        )],
    ),
    case(
        "limit_not_judged",
        BLOWDOWN,
        &[(
            "[[limit]]\n",
            "[[limit]]\nof = \"iron\"\nmost = \"1 mg/L as Fe\"\nsource = \"permit\"\n[[limit]]\n",
        )],
    ),
    case(
        "ions_out_of_balance",
        BLOWDOWN,
        &[("sodium = \"33 mg/L as Na\"", "sodium = \"60 mg/L as Na\"")],
    ),
    case(
        "conductivity_off_ions",
        BLOWDOWN,
        &[("conductivity = \"690 uS/cm\"", "conductivity = \"1100 uS/cm\"")],
    ),
    case("carbon_dioxide_unusual", BLOWDOWN, &[("ph = 8.55", "ph = 9.6")]),
    case("acid_not_needed", BLOWDOWN, &[("[limits]\n", "[ph]\nheld = 9.4\n[limits]\n")]),
    case(
        "circulating_water_weaker",
        BLOWDOWN,
        &[
            ("chloride = \"113", "chloride = \"20"),
            ("magnesium = \"41", "magnesium = \"7"),
            ("silica = \"39", "silica = \"9"),
            ("sulfate = \"143", "sulfate = \"30"),
        ],
    ),
    case("corrosion_not_judged", BLOWDOWN, &[(LIMITS, ""), (OWN_LIMIT, "")]),
    case(
        "target_cycles_high",
        BLOWDOWN,
        &[
            (LIMITS, ""),
            (OWN_LIMIT, "[[limit]]\nof = \"cycles\"\nmost = 25\n"),
            ("calcite = 2.1", "calcite = 4.5"),
            ("magnesium_silicate = 0.5", "magnesium_silicate = 5"),
            // Else money stops the target before.
            ("least_saving = 2000 ", "least_saving = 0 "),
        ],
    ),
    case("blowdown_valve_too_small", BALANCE, &[SMALL_VALVE]),
    case("blowdown_valve_too_small", BLOWDOWN, &[SMALL_VALVE]),
    case("feed_pump_too_small", FEED, &[(INHIBITOR, "price = \"3.4 per kg\"\npump = \"0.1 L/h\"")]),
    case("feed_pump_too_large", FEED, &[(INHIBITOR, "price = \"3.4 per kg\"\npump = \"9 L/h\"")]),
    case(
        "feed_pump_without_density",
        FEED,
        &[("density = \"1.15 kg/L\"\nprice", "pump = \"9 L/h\"\nprice")],
    ),
    case(
        "ammonia_takes_oxidant",
        FEED,
        &[("nitrate = \"11", "ammonia = \"2 mg/L as N\"\nnitrate = \"11")],
    ),
    case("lock_raises_cycles", FEED, &[("valve_flow = \"6 m3/h\"", "valve_flow = \"2.1 m3/h\"")]),
    case("slug_works_briefly", FEED, &[("half_life = \"20 h\"", "half_life = \"2 h\"")]),
    case(
        "acid_without_ph",
        FEED,
        &[("kind = \"inhibitor\"", "kind = \"acid\"\nstrength = \"90 %\"")],
    ),
    case("makeup_valve_below_demand", LEVEL, &[("kv = 12", "kv = 4")]),
    case("makeup_valve_without_reserve", LEVEL, &[("kv = 12", "kv = 5.5")]),
    case("overflow_unknown", LEVEL, &[("overflow_pipe = \"125 mm\"\n", "")]),
    case(
        "overflow_too_small",
        LEVEL,
        &[("overflow_pipe = \"125 mm\"", "overflow_pipe = \"50 mm\"")],
    ),
    case(
        "run_back_overflows",
        LEVEL,
        &[("operating_level = \"0.45 m\"", "operating_level = \"0.55 m\"")],
    ),
    case(
        "suction_uncovered",
        LEVEL,
        &[("suction_level = \"0.24 m\"", "suction_level = \"0.43 m\"")],
    ),
    case(
        "alarm_too_late",
        LEVEL,
        &[("low_alarm_level = \"0.30 m\"", "low_alarm_level = \"0.25 m\"")],
    ),
    case("air_gap_small", LEVEL, &[("inlet_level = \"0.72 m\"", "inlet_level = \"0.65 m\"")]),
    case(
        "tower_fails",
        MOUNTAIN,
        &[WITH_PRESSURE, ("[year.load]", "[year.load]\nconstant = 2\n[other]")],
    ),
    case(
        "cold_water_above_limit",
        YEAR,
        &[("cold_water_limit = \"28 degC\"", "cold_water_limit = \"15 degC\"")],
    ),
    case(
        "water_would_freeze",
        YEAR,
        &[("[year.load]", "natural_draught = \"30 %\"\n[year.load]\nconstant = 0.02\n[other]")],
    ),
    case("pressure_off_site", MOUNTAIN, &[WITH_PRESSURE]),
    case("rows_not_used", WRONG_WEATHER, &[]),
    case("rows_not_used", LOG_WITH_WORDS, &[]),
    case("reading_missed", CHECK, &[("every = \"7 d\"", "every = \"1 d\"")]),
];

/// The dairy with changes; what they leave under `[other]` is cut out.
fn site(changes: Changes) -> String {
    let mut site = DAIRY.to_owned();
    for (from, to) in changes {
        assert!(site.contains(from), "{from}");
        site = site.replacen(from, to, 1);
    }
    match site.split_once("[other]") {
        Some((before, after)) => {
            let next = after.find("\n[").map_or("", |place| &after[place + 1..]);
            format!("{before}{next}")
        }
        None => site,
    }
}

fn run(case: &Case, more: &[&str]) -> Output {
    let (command, files) = case.command.split_first().unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_coldbasin"))
        .arg(command)
        .arg("-")
        .args(files)
        .args(more)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(site(case.changes).as_bytes()).unwrap();
    child.wait_with_output().unwrap()
}

#[test]
fn each_is_raised_and_counted() {
    let mut wrong = Vec::new();
    for case in CASES {
        let output = run(case, &["--format", "json", "--strict"]);
        let json: Value = serde_json::from_slice(&output.stdout).unwrap_or_default();
        let raised: Vec<&str> = json["warnings"]
            .as_array()
            .into_iter()
            .flatten()
            .filter_map(|warning| warning["id"].as_str())
            .collect();
        if !raised.contains(&case.id) || output.status.code() != Some(3) {
            let told = String::from_utf8_lossy(&output.stderr);
            wrong.push(format!("{} of {:?}: {raised:?} {told}", case.id, case.command));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn none_of_the_table_is_left_out() {
    let mut left = Vec::new();
    for WarningRow { id, command, .. } in rows() {
        for command in command.split(" and ") {
            let is_raised = |case: &&Case| case.id == id && case.command[0] == command;
            if !CASES.iter().any(|case| is_raised(&case)) {
                left.push(format!("{command}: {id}"));
            }
        }
    }
    assert!(left.is_empty(), "raised by no case: {left:?}");
}

#[test]
fn a_site_without_a_warning_ends_with_no_status() {
    let output = run(&case("", BALANCE, &[]), &["--format", "json", "--strict"]);
    let json: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(json["warnings"], Value::Array(Vec::new()));
    assert_eq!(output.status.code(), Some(0));
}
