//! Whatever a page shows, the json has: every number of every page is looked up under its key.

use coldbasin::model::Model;
use coldbasin::quantity::UnitSystem;
use coldbasin::random::Seed;
use coldbasin::report::blowdown::{self, Beside};
use coldbasin::report::page::{self, Depth, Page, Piece};
use coldbasin::report::uncertain::{self, With};
use coldbasin::report::{balance, feed, transient};
use coldbasin::site::{Description, file, validate};
use coldbasin::transient::{Change, Event, Substance};
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
        let style = page::Style { depth: Depth::Answer, ..page::Style::default() };
        let answer = page::text(&check(model, name, units), style);
        assert!(answer.lines().count() <= 40, "{answer}");
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
