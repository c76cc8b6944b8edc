//! Whatever a page shows, the json has: every number of every page is looked up under its key.

use super::model_of;
use coldbasin::model::{DropReading, Finding, LevelQuestions, Model, Suspect};
use coldbasin::quantity::UnitSystem;
use coldbasin::random::Seed;
use coldbasin::readings::{self, period, weather};
use coldbasin::report::blowdown::{self, Beside};
use coldbasin::report::page::{self, Depth, Page, Piece};
use coldbasin::report::uncertain::{self, With};
use coldbasin::report::whatif::{Layout, Name, Row};
use coldbasin::report::year::{self, Year};
use coldbasin::report::{balance, check, feed, level, solve, transient, visits, warnings};
use coldbasin::tower::prediction::CrossflowWorkspace;
use coldbasin::transient::{Change, Event, Substance};
use coldbasin::whatif::columns::{Column, all};
use coldbasin::whatif::study::{Given, Varied};
use coldbasin::whatif::{self, Combination, Plan, Runner};
use serde_json::Value;

const SITES: [(&str, &str); 2] = [
    ("dairy.toml", include_str!("../examples/dairy.toml")),
    ("cannery.toml", include_str!("../examples/cannery.toml")),
];

fn model(text: &str) -> Model {
    model_of(text, &[])
}

/// Whether the json has the key: names joined by dots; any member of a list will do.
fn has(json: &Value, key: &str) -> bool {
    if let Value::Array(members) = json {
        return members.iter().any(|member| has(member, key));
    }
    let (name, rest) = key.split_once('.').map_or((key, None), |(name, rest)| (name, Some(rest)));
    match (json.get(name), rest) {
        (None | Some(Value::Null), _) => false,
        (Some(_), None) => true,
        (Some(inner), Some(rest)) => has(inner, rest),
    }
}

/// Whether words hold a number: digits that are no part of a name or a unit, as in `m3` or `CaCO3`.
fn holds_a_number(words: &str) -> bool {
    let before = std::iter::once(' ').chain(words.chars());
    before.zip(words.chars()).any(|(before, character)| {
        character.is_ascii_digit() && !before.is_alphanumeric() && before != '_'
    })
}

fn assert_keyed(page: &Page, json: &Value) {
    for piece in page.pieces() {
        match piece {
            Piece::Number { key, shown } => {
                assert!(has(json, key), "{shown}: the json has no {key}");
            }
            Piece::Words(words) => {
                assert!(!holds_a_number(words), "a number without a key: {words}")
            }
            Piece::Given(_) | Piece::Constant(_) => {}
        }
    }
}

/// Whether the answer fits a terminal.
fn assert_short(page: &Page) {
    let style = page::Style { depth: Depth::Answer, ..page::Style::default() };
    let answer = page::text(page, style);
    assert!(answer.lines().count() <= 40, "{answer}");
}

fn as_value(out: impl serde::Serialize) -> Value {
    serde_json::to_value(out).unwrap()
}

/// Each site in both systems of units.
fn on_each_site(check: impl Fn(&Model, &str, UnitSystem)) {
    for (name, text) in SITES {
        for units in [UnitSystem::Si, UnitSystem::UsCustomary] {
            check(&model(text), name, units);
        }
    }
}

#[test]
fn words_with_numbers_are_told_from_units() {
    for words in ["5 %", "about -2", "(1.5", "k = 2"] {
        assert!(holds_a_number(words), "{words}");
    }
    for words in ["m3/h", "CaCO3", "log10 pCO2", "x10_2"] {
        assert!(!holds_a_number(words), "{words}");
    }
}

#[test]
fn transient_shows_nothing_that_its_json_lacks() {
    on_each_site(|model, name, units| {
        let substance = Substance { decay: 0.1, ..Substance::default() };
        let events = [Event { hour: 2.0, change: Change::Dose(120.0) }];
        let inputs = model.base();
        for start in [None, Some(1.0)] {
            let sheet = model.transient(inputs, start, substance, &events, 72.0).unwrap();
            let sure = model.uncertain_transient(inputs, start, substance, &events, 72.0);
            let mut page = transient::page(&sheet, name, "dosed", units);
            page.detail.extend(uncertain::blocks(&sure, "", units));
            let json =
                With { page: transient::json(&sheet, name), uncertain: uncertain::json(&sure) };
            assert_keyed(&page, &as_value(json));
        }
    });
}

#[test]
fn visits_show_nothing_that_their_json_lacks() {
    let sheet = include_str!("../examples/dairy-visits.csv");
    let broken = format!("{sheet}yesterday,Tower,8\n2026-06-10,Tower,8.6,abc\n");
    let alone = "Date,Water,pH\n2026-06-01,Tower,8.6\n".to_owned();
    for text in [sheet.to_owned(), broken, alone] {
        for units in [UnitSystem::Si, UnitSystem::UsCustomary] {
            let model = model(SITES[0].1);
            let layout = Default::default();
            let read = readings::visits::read(text.as_bytes(), &layout).unwrap();
            let course = model.visits(model.base(), &read.samples).unwrap();
            let beside = visits::Beside {
                source: "dairy.toml and visits.csv",
                not_used: &read.not_used,
                other_columns: &read.other_columns,
            };
            let page = visits::page(&course, beside, units);
            assert_keyed(&page, &as_value(visits::json(&course, beside)));
            assert_short(&page);
        }
    }
}

#[test]
fn balance_shows_nothing_that_its_json_lacks() {
    on_each_site(|model, name, units| {
        let sheet = model.sheet(model.base()).unwrap();
        let sure = model.uncertain_money(model.base());
        let page = balance::page(&sheet, name, &sure, units);
        let json = With { page: balance::json(&sheet, name), uncertain: uncertain::json(&sure) };
        assert_keyed(&page, &as_value(json));
        let several = [(name, &sheet), (name, &sheet)];
        assert_keyed(&balance::summary(&several, units), &as_value(balance::fleet(&several)));
        let draws = model.draws(&Seed::new(1), 0..200);
        let draws = uncertain::draws(&sheet.balance, &sheet.spread, &draws, 1);
        let page = Page { detail: uncertain::draws_blocks(&draws, units), ..Page::default() };
        assert_keyed(&page, &serde_json::json!({ "monte_carlo": draws }));
    });
}

#[test]
fn feed_shows_nothing_that_its_json_lacks() {
    on_each_site(|model, name, units| {
        // One of the examples feeds nothing.
        let Ok(sheet) = model.feed(model.base()) else { return };
        let sure = model.uncertain_feed(model.base());
        let page = feed::page(&sheet, name, &sure, units);
        let json = With { page: feed::json(&sheet, name), uncertain: uncertain::json(&sure) };
        assert_keyed(&page, &as_value(json));
    });
    // A pump, with and without its product's density.
    for (from, to) in [
        ("price = \"3.4 per kg\"", "pump = \"2 L/h\"\ncontains.sodium = \"5 %\""),
        ("density = \"1.15 kg/L\"\nprice = \"3.4 per kg\"", "contains.sodium = \"5 %\""),
        ("price = \"6 per kg\"", "pump = \"20 L/h\""),
    ] {
        assert!(SITES[0].1.contains(from), "{from}");
        let model = model(&SITES[0].1.replacen(from, to, 1));
        let sheet = model.feed(model.base()).unwrap();
        let page = feed::page(&sheet, "", &[], UnitSystem::UsCustomary);
        assert_keyed(&page, &as_value(feed::json(&sheet, "")));
    }
}

#[test]
fn blowdown_shows_nothing_that_its_json_lacks() {
    let check = |model: &Model, name: &str, units: UnitSystem| {
        let sheet = model.blowdown(model.base()).unwrap();
        let given = model.analyses_used(model.base());
        let beside = Beside { slots: model.slots(), waters: &sheet.waters, given: &given };
        let page = blowdown::page(&sheet, name, beside, units);
        assert_keyed(&page, &as_value(blowdown::json(&sheet, name, beside)));
        page
    };
    on_each_site(|model, name, units| {
        assert_short(&check(model, name, units));
    });
    // Acid, a season, floors, an assumed pH, cycles by conductivity, limits that come back.
    let dairy = SITES[0].1;
    let calcium = ("calcium = \"86 mg/L as Ca\"", "calcium = \"86 mg/L as Ca ± 6 %\"");
    for (from, to) in [
        calcium,
        ("ph = 8.55\n", ""),
        // A field kit's analysis with what is read beside.
        (
            "sulfate = \"26 mg/L as SO4\"\nsilica = \"8 mg/L as SiO2\"\nbalance_with = \"sodium\"",
            "silica = \"<1 mg/L as SiO2\"\nturbidity = \"2 NTU\"\ndissolved_solids = \"180 mg/L\"\n\
             dissolved_ions = \"230 mg/L\"\np_alkalinity = \"0 mg/L as CaCO3\"",
        ),
        ("cycles = 3\n", "conductivity = \"1330 uS/cm\"\n"),
        ("cycles = 3\n", "cycles = 9\n"),
        // Other control, a small valve, permits of the discharge, money that stops, salts of a product.
        ("control = \"conductivity\"", "control = \"timer\""),
        ("control = \"conductivity\"", "control = \"makeup_paced\"\nmakeup_pulse = \"1000 L\""),
        ("control = \"conductivity\"", "control = \"continuous\""),
        ("control = \"conductivity\"", "control = \"manual\""),
        ("control = \"conductivity\"\nvalve_flow = \"6 m3/h\"", "control = \"timer\""),
        ("valve_flow = \"6 m3/h\"", "valve_flow = \"1 m3/h\""),
        (
            "[[chemical]]\n",
            "[[limit]]\nof = \"discharge_flow\"\nmost = \"50 m3/d\"\n\
             [[limit]]\nof = \"load.chloride\"\nmost = \"6 kg/d\"\n[[chemical]]\n",
        ),
        ("least_saving = 2000 ", "least_saving = 60000 "),
        ("price = \"3.4 per kg\"", "price = \"3.4 per kg\"\ncontains.chloride = \"9 %\""),
        ("[limits]\n", "[ph]\nheld = 8.0\n[limits]\ncodes = [\"ashrae_189_1\"]\n"),
        ("[cost]\n", "[losses]\nleakage = \"60 m3/h\"\n[cost]\n"),
        ("conductivity = \"690 uS/cm\"\n", ""),
        // The tower's own test: acid that nobody states, a slip, samples apart, one tracer alone.
        (
            "alkalinity = \"468 mg/L as CaCO3\"\nchloride = \"113 mg/L as Cl\"       # what the hypochlorite leaves is in it\nsulfate = \"143 mg/L as SO4\"",
            "alkalinity = \"172 mg/L as CaCO3\"\nchloride = \"113 mg/L as Cl\"\nsulfate = \"430 mg/L as SO4\"",
        ),
        ("chloride = \"113 mg/L as Cl\"", "chloride = \"1130 mg/L as Cl\""),
        ("magnesium = \"41 mg/L as Mg\"\n", "magnesium = \"14 mg/L as Mg\"\n"),
        ("conductivity = \"1330 uS/cm\"\n", "conductivity = \"2330 uS/cm\"\n"),
        ("silica = \"39 mg/L as SiO2\"", "silica = \"29 mg/L as SiO2\""),
        // A pH that is low, and one that nobody believes; what has to be confirmed first; what is withheld.
        ("ph = 8.55", "ph = 8.3"),
        ("ph = 8.55", "ph = 7.6"),
        ("\"stainless_304\", \"copper_alloy\", \"film_fill\"", "\"concrete\", \"carbon_steel\""),
        ("silica = \"17 mg/L as SiO2\"", "silica = \"95 mg/L as SiO2\""),
        ("calcite = 2.1", "calcite = 1.0"),
        ("calcite = 2.1\nmagnesium_silicate = 0.5\n", ""),
        ("[cost]\n", "[losses]\nleakage = \"6 m3/h\"\n[cost]\n"),
        ("kind = \"inhibitor\"", "kind = \"acid\"\nstrength = \"90 %\""),
    ] {
        assert!(dairy.contains(from), "{from}");
        check(&model(&dairy.replacen(from, to, 1)), "dairy.toml", UnitSystem::Si);
    }
}

/// The answer and the whole page of a log under a description, once all that they show stands in the json.
fn checked(text: &str, log: &str, units: UnitSystem) -> [String; 2] {
    let model = model(text);
    let layout = &model.site().log.as_ref().unwrap().layout;
    let cut = period::Cut::default();
    let mut rows = readings::rows(log.as_bytes(), layout).unwrap();
    let record = period::gather(&mut rows, layout, &cut).unwrap();
    let sheet = model.check(model.base(), &record.periods).unwrap();
    let log = check::Log {
        source: "site.toml and log.csv",
        every: cut.every,
        not_used: &rows.into_not_used(),
        values: (record.values, false),
        repairs: &record.repairs,
        recorded: &record.recorded,
    };
    let page = check::page(&sheet, &log, units);
    assert_keyed(&page, &as_value(check::json(&sheet, &log)));
    [Depth::Answer, Depth::Full]
        .map(|depth| page::text(&page, page::Style { depth, ..page::Style::default() }))
}

const LOG: &str = include_str!("../examples/dairy-log.csv");

/// The dairy's log before a day.
fn log_before(day: &str) -> String {
    let rows = LOG.lines().enumerate().filter(|(place, row)| *place == 0 || *row < day);
    rows.map(|(_, row)| format!("{row}\n")).collect()
}

#[test]
fn a_check_is_read_in_a_morning_and_its_json_has_all_of_it() {
    for (day, lines, says) in [
        ("2026-06-06", 25, "Too short to judge"),
        ("2026-06-25", 25, "Nothing goes on."),
        ("2026-06-30", 40, "New, found on 2026-06-29, since 2026-06-25"),
        ("2027", 40, "Going on since 2026-06-25, found on 2026-06-29"),
    ] {
        for units in [UnitSystem::Si, UnitSystem::UsCustomary] {
            let [answer, _] = checked(SITES[0].1, &log_before(day), units);
            assert!(answer.lines().count() <= lines, "{answer}");
            assert!(answer.contains(says), "{answer}");
        }
    }
}

#[test]
fn a_check_of_an_odd_log_shows_nothing_that_its_json_lacks() {
    let dairy = SITES[0].1;
    let swapped = dairy
        .replace("name = \"hot C\"", "name = \"?\"")
        .replace("name = \"cold C\"", "name = \"hot C\"")
        .replace("name = \"?\"", "name = \"cold C\"");
    let mistyped = LOG.replace(",1418,", ",4118,");
    let without = |column: usize| -> String {
        let of = |row: &str| {
            let cells: Vec<&str> = row.split(',').collect();
            let kept = |(place, cell): (usize, &&str)| {
                if place == column { String::new() } else { (*cell).to_owned() }
            };
            cells.iter().enumerate().map(kept).collect::<Vec<_>>().join(",")
        };
        let mut rows = LOG.lines();
        let head = rows.next().unwrap().to_owned();
        std::iter::once(head).chain(rows.map(of)).map(|row| row + "\n").collect()
    };
    let apparent = dairy.replace("calcium = \"86 mg/L as Ca\"\n", "");
    let column =
        |name: &str| LOG.lines().next().unwrap().split(',').position(|c| c == name).unwrap();
    for (text, log, says) in [
        (swapped.as_str(), LOG, "the hot water is colder than the cold"),
        (dairy, mistyped.as_str(), "two digits swapped"),
        (dairy, &without(column("dry bulb C")), "Dry bulb, not read in"),
        (dairy, &without(column("hot C")), "By heat: nothing"),
        (&apparent, LOG, "Cycles are apparent"),
    ] {
        let [_, page] = checked(text, log, UnitSystem::Si);
        assert!(page.contains(says), "{says}: {page}");
    }
}

/// Logs of those who have few meters, and two readings without a log.
#[test]
fn a_check_by_few_meters_shows_nothing_that_its_json_lacks() {
    let dairy = SITES[0].1;
    let without = |channels: &[&str]| {
        let (rest, log) = dairy.split_once("[log] ").unwrap();
        let columns = log.split("[[log.column]]");
        let is_kept = |column: &&str| {
            !channels.iter().any(|channel| column.contains(&format!("is = \"{channel}\"")))
        };
        let kept: Vec<&str> = columns.filter(is_kept).collect();
        format!("{rest}[log] {}", kept.join("[[log.column]]"))
    };
    let conductivities = ["makeup_conductivity", "basin_conductivity"];
    let air = ["dry_bulb", "wet_bulb"];
    let water = ["hot_water", "cold_water"];
    let blowdown = ["blowdown_register"];
    for (missing, says) in [
        (blowdown.to_vec(), "with a blowdown meter it would show"),
        (conductivities.to_vec(), "with the conductivity of basin and makeup it would show"),
        ([blowdown.as_slice(), &conductivities].concat(), "the cycles of the site file"),
        ([blowdown.as_slice(), &air].concat(), "the basin's usual conductivity"),
        ([blowdown.as_slice(), &conductivities, &water, &air].concat(), "look the same"),
    ] {
        for units in [UnitSystem::Si, UnitSystem::UsCustomary] {
            let [answer, _] = checked(&without(&missing), LOG, units);
            assert!(answer.replace('\n', " ").contains(says), "{says}: {answer}");
            assert!(answer.lines().count() <= 40, "{answer}");
        }
    }
}

#[test]
fn two_readings_show_nothing_that_their_json_lacks() {
    use coldbasin::model::TwoReadings;
    let few = |makeup| TwoReadings {
        hours: Some(24.0),
        makeup,
        blowdown: None,
        load_is_known: false,
        weather_is_known: false,
    };
    on_each_site(|model, name, units| {
        for read in [
            few(20.0),
            few(2_000.0),
            TwoReadings { hours: None, ..few(60.0) },
            TwoReadings { blowdown: Some(30.0), load_is_known: true, ..few(214.5) },
        ] {
            let sheet = model.check_two(model.base(), &read).unwrap();
            let page = check::two_page(&sheet, name, units);
            assert_keyed(&page, &as_value(check::two_json(&sheet, name)));
            assert_short(&page);
        }
    });
}

/// Every cause, alone and beside another that looks the same, growing and over, as a finding and as a note.
#[test]
fn every_cause_of_a_finding_is_told_with_what_its_json_has() {
    use coldbasin::model::Cause::{
        BlowdownHigh, BlowdownLow, Chloride, Conductivity, Heat, Inflow, Loss, MakeupMeter,
        MakeupMeterStill, MakeupQuality, MoreMakeup, Unclear,
    };
    let model = model(SITES[0].1);
    let layout = &model.site().log.as_ref().unwrap().layout;
    let cut = period::Cut::default();
    let mut rows = readings::rows(LOG.as_bytes(), layout).unwrap();
    let record = period::gather(&mut rows, layout, &cut).unwrap();
    let not_used = rows.into_not_used();
    let (every, repairs, recorded) = (cut.every, &record.repairs, &record.recorded);
    let values = (record.values, false);
    let log = check::Log { source: "a log", every, values, not_used: &not_used, repairs, recorded };
    let mut sheet = model.check(model.base(), &record.periods).unwrap();
    let found = sheet.findings[0].clone();
    for cause in [
        BlowdownHigh,
        BlowdownLow,
        Chloride,
        Conductivity,
        Heat,
        Inflow,
        Loss,
        MakeupMeter,
        MakeupMeterStill,
        MakeupQuality,
        MoreMakeup,
        Unclear,
    ] {
        for size in [-0.1, 12.0] {
            let of = |cause, likelihood| Suspect {
                cause,
                size,
                likelihood,
                is_tied: true,
                ..found.suspects[0]
            };
            let alone = Finding { suspects: vec![of(cause, 1.0)], ..found.clone() };
            let both = vec![of(cause, 0.55), of(Conductivity, 0.42)];
            let tied = Finding { suspects: both, is_growing: true, ..found.clone() };
            let over = Finding { until: found.found, ..tied.clone() };
            let first = Finding { since: None, found: None, ..alone.clone() };
            sheet.findings = vec![alone.clone(), tied, over];
            let ended = Finding { until: found.found, ..alone.clone() };
            sheet.notes = vec![first, alone, ended];
            for units in [UnitSystem::Si, UnitSystem::UsCustomary] {
                let page = check::page(&sheet, &log, units);
                assert_keyed(&page, &as_value(check::json(&sheet, &log)));
                let style = page::Style { depth: Depth::Answer, ..page::Style::default() };
                let answer = page::text(&page, style).replace('\n', " ");
                for words in ["which this log cannot tell apart", "right in 5 of 10", "Over since"]
                {
                    assert!(answer.contains(words), "{cause:?}: {answer}");
                }
                let most = match cause {
                    MakeupMeterStill => "Sure: ",
                    MoreMakeup => "looks the same",
                    BlowdownHigh | BlowdownLow => "Right in 98 of 100",
                    _ => "Right in 99 of 100",
                };
                assert!(answer.contains(most), "{cause:?}: {answer}");
            }
        }
    }
}

/// A year of the weather in these lines.
fn year_of(model: &Model, name: &str, lines: &[&str], units: UnitSystem) -> Page {
    let plan = model.year_plan(model.base()).unwrap();
    let text = lines.join("\n");
    let layout = model.site().weather.as_ref();
    let weather = weather::read(text.as_bytes(), layout, plan.pressure_pascal()).unwrap();
    let mut work = CrossflowWorkspace::default();
    let hours: Vec<_> = weather.hours.iter().map(|hour| plan.hour(hour, &mut work)).collect();
    let sheet = plan.sheet(&hours);
    let year = Year { plan: &plan, sheet: &sheet, hours: &hours, weather: &weather, source: name };
    let page = year::page(&year, units);
    let mut whole = page.clone();
    whole.detail.extend(year::working(&year));
    assert_keyed(&whole, &as_value(year::json(&year)));
    page
}

#[test]
fn year_shows_nothing_that_its_json_lacks() {
    let dairy = SITES[0].1;
    let weather: Vec<&str> = include_str!("../examples/dairy-weather.csv").lines().collect();
    let described = &dairy[dairy.find("[weather]").unwrap()..dairy.find("[log]").unwrap()];
    for units in [UnitSystem::Si, UnitSystem::UsCustomary] {
        let dairy = year_of(&model(dairy), "dairy.toml", &weather, units);
        assert_short(&dairy);
        let cannery = format!("{}\n{described}", SITES[1].1);
        year_of(&model(&cannery), "cannery.toml", &weather[..130], units);
    }
    // A limit that holds always, or never; no limit; nothing to hold; all sewer billed; no prices; too few
    // hours; rows that are not used; a pressure of another height.
    let wrong = include_str!("cli/wrong/weather-of-many-kinds.csv").lines().collect::<Vec<_>>();
    let limit = "cold_water_limit = \"28 degC\"\n";
    let set_point = "cold_water_set_point = \"22 degC\"\n";
    let pressure = "[[weather.column]]\nname = \"p\"\nis = \"pressure\"\nunit = \"kPa\"\n[year]\n";
    for (changes, lines) in [
        (&[(limit, "cold_water_limit = \"60 degC\"\n")][..], &weather[..130]),
        (&[(limit, "cold_water_limit = \"5 degC\"\n")], &weather[..20]),
        (&[(limit, "")], &wrong),
        (&[(limit, ""), (set_point, ""), ("[year.load]", "[other]")], &weather[..2]),
        (&[("[year]\n", pressure)], &["time,dry bulb C,humidity %,p", "2025-01-01 00:00,5,80,90"]),
        (&[("least_fan_speed = \"25 %\"\noutage = \"12 h\"\n", "")], &weather[..40]),
    ] {
        let mut site = dairy[..dairy.find("[log]").unwrap()].to_owned();
        for (from, to) in changes {
            assert!(site.contains(from), "{from}");
            site = site.replacen(from, to, 1);
        }
        let site = site.split("[other]").next().unwrap();
        year_of(&model(site), "dairy.toml", lines, UnitSystem::Si);
    }
}

/// The dairy, and the dairy with other words in place of some of its own.
fn dairies() -> [Model; 9] {
    let (_, dairy) = SITES[0];
    let without = |from: &str, to: &str| {
        let (start, end) = (dairy.find(from).unwrap(), dairy.find(to).unwrap());
        format!("{}{}", &dairy[..start], &dairy[end..])
    };
    let other = |from: &str, to: &str| {
        assert!(dairy.contains(from), "{from}");
        dairy.replace(from, to)
    };
    [
        dairy.to_owned(),
        without("[cost]", "[basin]"),
        without("[basin.valve]", "[weather]"),
        other("overflow_pipe = \"125 mm\"\n", ""),
        other("overflow_level = \"0.60 m\"", "overflow_level = \"0.70 m\""),
        other("control = \"conductivity\"\n", ""),
        other("kv = 12", "kv = 4"),
        other(
            "sewer_basis = \"makeup_less_evaporation\"",
            "sewer_basis = \"blowdown\"\nenergy = \"0.2 per m3\"",
        ),
        other("open_level = \"0.38 m\"\nshut_level", "on_level = \"0.38 m\"\noff_level"),
    ]
    .map(|text| model(&text))
}

#[test]
fn level_shows_nothing_that_its_json_lacks() {
    let asked = LevelQuestions { stuck: 1.0, act_hours: 0.5, to_cycles: None, drop_test: None };
    // A leak, none, and water that comes in.
    let tests = [12.0, 1.7, 0.1].map(|fall| DropReading {
        drop: (fall, 0.1),
        hours: (8.0, 0.01),
        is_assumed: [true, false],
    });
    let tests = tests.map(|test| LevelQuestions {
        stuck: 0.5,
        to_cycles: Some(2.0),
        drop_test: Some(test),
        ..asked
    });
    let dairies = dairies();
    let check = |model: &Model, questions| {
        let sheet = model.level(model.base(), questions).unwrap();
        let sure = model.uncertain_level(model.base(), questions);
        let beside = level::Beside { slots: model.slots(), uncertain: &sure };
        let json = as_value(level::json(&sheet, "site.toml", beside));
        for units in [UnitSystem::Si, UnitSystem::UsCustomary] {
            let page = level::page(&sheet, "site.toml", beside, units);
            assert_keyed(&page, &json);
            // The example as it is shipped, asked for nothing besides.
            if std::ptr::eq(model, &dairies[0]) && questions == asked {
                assert_short(&page);
            }
        }
    };
    dairies.iter().for_each(|dairy| check(dairy, asked));
    tests.into_iter().for_each(|test| check(&dairies[0], test));
}

#[test]
fn solve_shows_nothing_that_its_json_lacks() {
    on_each_site(|model, name, units| {
        for (path, wanted, within) in [
            ("losses.leakage", "makeup = 12 m3/h ± 2 %", None),
            ("air.wet_bulb", "evaporation = 5.4 m3/h", Some("5 to 29 degC")),
            ("air.wet_bulb", "evaporation = 90 m3/h", Some("20 to 24 degC")),
            ("losses.leakage", "makeup = 9 m3/h", None),
            ("circuit.hours_per_year", "makeup = 8 m3/h", None),
        ] {
            let question = whatif::solve::Question::read(model, path, wanted, within).unwrap();
            let answer = whatif::solve::solve(model, &question);
            let solved = solve::Solved {
                name: "",
                source: name,
                slot: model.slot_value(question.slot),
                question: &question,
                answer: &answer,
                currency: "EUR",
            };
            assert_keyed(&solve::page(&solved, units), &as_value(solve::json(&solved)));
        }
    });
}

/// The table of `whatif` has no keys of its own: it shows, column by column, what a row's json has.
#[test]
fn whatif_shows_nothing_that_its_json_lacks() {
    on_each_site(|model, _, units| {
        // A row with its results, and one that has no balance.
        let varied = [("air.wet_bulb".to_owned(), "21 degC, 29 degC".to_owned())];
        let plan = Plan::new(model, &varied, Combination::Grid).unwrap();
        let can = |column: &Column| column.lacks(model, false).is_none();
        let all: Vec<Column> = all(model).into_iter().filter(can).collect();
        for is_compared in [false, true] {
            let mut runner = Runner::new(model, &plan, &all);
            let base = is_compared.then(|| runner.base().unwrap().values.to_vec());
            let slots: Vec<_> = plan.axes().iter().map(|axis| axis.slot).collect();
            let layout = Layout {
                site: "x",
                longest_case: 0,
                varied: slots.iter().map(|slot| Varied::Number(model.slot_value(*slot))).collect(),
                columns: &all,
                base,
                units,
                currency: &model.site().cost.currency,
            };
            let head = layout.table_head();
            // A chemical's name may have several words.
            let more: usize = all.iter().map(|column| column.name.matches(' ').count()).sum();
            let names = head.lines().next().unwrap().split_whitespace().count() - more;
            for row in 0..plan.rows() {
                runner.set(row);
                let given: Vec<Given<'_>> =
                    slots.iter().map(|slot| Given::Number(runner.inputs().get(*slot))).collect();
                let results = runner.results();
                let name = Name::Row(row + 1);
                let row = Row { name, case: None, given: &given, results: &results };
                let mut line = String::new();
                layout.push_table(&mut line, &row);
                let cells: Vec<&str> = line.split_whitespace().collect();
                let json = as_value(layout.object(&row));
                // Site, case, warnings and error stand elsewhere or at the end.
                let numbers = json.as_object().unwrap().len() - 4;
                assert_eq!(numbers, names, "{json}");
                if let Some(error) = json["error"].as_str() {
                    assert!(line.contains(error), "{line}");
                } else {
                    let warnings = json["warnings"].as_array().unwrap();
                    assert_eq!(cells.len(), names + warnings.len(), "{line}");
                    for warning in warnings {
                        assert!(cells.contains(&warning.as_str().unwrap()), "{line}");
                    }
                }
            }
        }
    });
}

#[test]
fn the_list_of_warnings_holds_constants_alone() {
    assert_keyed(&warnings::page(), &Value::Null);
}
