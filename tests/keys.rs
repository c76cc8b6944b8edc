//! Whatever a page shows, the json has: every number of every page is looked up under its key.

use coldbasin::model::{DropReading, LevelQuestions, Model};
use coldbasin::quantity::UnitSystem;
use coldbasin::random::Seed;
use coldbasin::report::blowdown::{self, Beside};
use coldbasin::report::page::{self, Depth, Page, Piece};
use coldbasin::report::uncertain::{self, With};
use coldbasin::report::{balance, feed, level, solve, transient, warnings};
use coldbasin::site::{Description, file, validate};
use coldbasin::transient::{Change, Event, Substance};
use coldbasin::whatif;
use serde_json::Value;

const SITES: [(&str, &str); 2] = [
    ("dairy.toml", include_str!("../examples/dairy.toml")),
    ("cannery.toml", include_str!("../examples/cannery.toml")),
];

fn model(text: &str) -> Model {
    let source = file::read::<Description>("site.toml", text, &[]).unwrap();
    Model::compile(&validate(&source.description).unwrap())
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
}

#[test]
fn blowdown_shows_nothing_that_its_json_lacks() {
    let check = |model: &Model, name: &str, units: UnitSystem| {
        let sheet = model.blowdown(model.base()).unwrap();
        let uncertain = model.uncertain_blowdown(model.base());
        let beside = Beside { slots: model.slots(), waters: &sheet.waters, uncertain: &uncertain };
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
        ("cycles = 3\n", "conductivity = \"1330 uS/cm\"\n"),
        ("cycles = 3\n", "cycles = 9\n"),
        ("[limits]\n", "[ph]\nheld = 8.0\n[limits]\ncodes = [\"ashrae_189_1\"]\n"),
        ("[cost]\n", "[losses]\nleakage = \"60 m3/h\"\n[cost]\n"),
        ("conductivity = \"690 uS/cm\"\n", ""),
    ] {
        assert!(dairy.contains(from), "{from}");
        check(&model(&dairy.replacen(from, to, 1)), "dairy.toml", UnitSystem::Si);
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
    let tests = [12.0, 1.7, 0.1].map(|fall| DropReading { drop: (fall, 0.1), hours: (8.0, 0.01) });
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
        ] {
            let question = whatif::solve::Question::read(model, path, wanted, within).unwrap();
            let answer = whatif::solve::solve(model, &question);
            let solved = solve::Solved {
                name: "",
                source: name,
                slot: model.slot_value(question.slot),
                question: &question,
                answer: &answer,
            };
            assert_keyed(&solve::page(&solved, units), &as_value(solve::json(&solved)));
        }
    });
}

#[test]
fn the_list_of_warnings_holds_constants_alone() {
    assert_keyed(&warnings::page(), &Value::Null);
}
