//! Pictures and pages: those that the guides show are up to date, and none holds a number that is none,
//! whatever the site.

use super::model_of as model;
use coldbasin::model::{CheckSheet, Model};
use coldbasin::picture::{self, Costs, Look, NotDrawn, Picture, Run, Runs, TransientWords, Width};
use coldbasin::quantity::UnitSystem;
use coldbasin::readings::{self, period, weather};
use coldbasin::report::check::Log;
use coldbasin::report::whatif::Layout;
use coldbasin::report::year::Year;
use coldbasin::tower::prediction::CrossflowWorkspace;
use coldbasin::transient::{Change, Event, Substance};
use coldbasin::whatif::columns::{Cell, column};
use coldbasin::whatif::study::Varied;
use coldbasin::whatif::{Combination, Plan, Runner};
use std::fs;
use std::process::Command;

const CANNERY: &str = include_str!("../examples/cannery.toml");
const DAIRY: &str = include_str!("../examples/dairy.toml");
const LOG: &str = include_str!("../examples/dairy-log.csv");

const LOOKS: [Look; 4] = [
    Look { units: UnitSystem::Si, width: Width::Page },
    Look { units: UnitSystem::Si, width: Width::Phone },
    Look { units: UnitSystem::UsCustomary, width: Width::Page },
    Look { units: UnitSystem::UsCustomary, width: Width::Phone },
];

type Draw<'a> = Box<dyn Fn(Look) -> Picture + 'a>;

fn balance(model: &Model) -> Draw<'_> {
    let sheet = model.sheet(model.base()).unwrap();
    Box::new(move |look| picture::balance(&sheet, "site.toml", look))
}

fn visits(model: &Model, text: &str) -> Picture {
    let read = readings::visits::read(text.as_bytes(), &Default::default()).unwrap();
    let course = model.visits(model.base(), &read.samples).unwrap();
    picture::visits(&course, "site.toml and visits.csv", Look::default())
}

#[test]
fn the_course_over_visits_is_drawn_whatever_was_tested() {
    let model = model(DAIRY, &[]);
    let svg = visits(&model, include_str!("../examples/dairy-visits.csv")).svg();
    for words in
        ["Cycles of concentration", "Conductivity", "Lost on the way", "target, ", "27 May"]
    {
        assert!(svg.contains(words), "{words}");
    }
    let alone = visits(&model, "Date,Water,pH\n2026-06-01,Tower,8.6\n").svg();
    assert!(!svg.contains("NaN") && !alone.contains("NaN") && !alone.contains("Lost on the way"));
}

fn blowdown(model: &Model) -> Draw<'_> {
    let sheet = model.blowdown(model.base()).unwrap();
    Box::new(move |look| {
        let costs = Costs {
            of: &|balances| model.costs_per_year(model.base(), balances).unwrap(),
            currency: &model.site().cost.currency,
        };
        picture::blowdown(&sheet, "site.toml", &costs, look)
    })
}

fn checked(model: &Model, log: &str) -> (CheckSheet, period::Record, readings::NotUsed) {
    let layout = &model.site().log.as_ref().unwrap().layout;
    let mut rows = readings::rows(log.as_bytes(), layout).unwrap();
    let record = period::gather(&mut rows, layout, &period::Cut::default()).unwrap();
    let sheet = model.check(model.base(), &record.periods).unwrap();
    (sheet, record, rows.into_not_used())
}

fn check<'a>(model: &'a Model, log: &str) -> Draw<'a> {
    let (sheet, record, not_used) = checked(model, log);
    Box::new(move |look| {
        let log = Log {
            source: "site.toml and log.csv",
            every: period::Every::Day,
            not_used: &not_used,
            values: (record.values, false),
            repairs: &record.repairs,
            recorded: &record.recorded,
        };
        picture::check(&sheet, &log, look)
    })
}

fn transient(model: &Model) -> Draw<'_> {
    let dose = Event { hour: 3.0, change: Change::Dose(90.0) };
    let substance = Substance { decay: 0.1, ..Substance::default() };
    let sheet = model.transient(model.base(), Some(1.0), substance, &[dose], 72.0).unwrap();
    Box::new(move |look| {
        let words = TransientWords {
            from: "site.toml",
            substance: "biocide <b>",
            events: &[(3.0, "3 h dose 90 mg/L".to_owned())],
            spread: &|at| model.transient_spread(model.base(), Some(1.0), substance, &[dose], at),
        };
        picture::transient(&sheet, &words, look)
    })
}

/// Well-formed, with numbers only, and the same each time.
fn assert_sound(draw: Draw<'_>) {
    for look in LOOKS {
        let picture = draw(look);
        let svg = picture.svg();
        assert!(!svg.contains("NaN") && !svg.contains("inf\"") && !svg.contains("inf "), "{svg}");
        assert_eq!(svg, draw(look).svg());
        assert!(svg.contains("<title>") && svg.contains("<desc>"));
        for document in picture.parts().iter().chain([&svg]) {
            let parsed = roxmltree::Document::parse(document);
            assert!(parsed.is_ok(), "{parsed:?}\n{document}");
            let sizes = document.split("font-size=\"").skip(1).map(|rest| rest.split('"').next());
            let least =
                sizes.flatten().map(|size| size.parse::<f64>().unwrap()).fold(99.0, f64::min);
            assert!(least >= 9.0, "{least}");
        }
    }
}

#[test]
fn odd_sites_have_sound_pictures() {
    let no_blowdown = CANNERY.replace("cycles = 5", "flow = \"0 m3/h\"");
    for (text, overrides) in [
        (CANNERY, &[][..]),
        (CANNERY, &["blowdown.cycles=50"]),
        (CANNERY, &["losses.leakage=20 m3/h", "losses.overflow=3 m3/h"]),
        (&no_blowdown, &[]),
        (&no_blowdown, &["losses.leakage=0 m3/h", "cell.east.drift=0 %", "cell.west.drift=0 %"]),
        (DAIRY, &[]),
    ] {
        let model = model(text, overrides);
        assert_sound(balance(&model));
    }
    for overrides in
        [&[][..], &["blowdown.cycles=50"], &["losses.leakage=3 m3/h"], &["ph.held=7.5"]]
    {
        let model = model(DAIRY, overrides);
        assert_sound(blowdown(&model));
        assert_sound(transient(&model));
    }
    let model = model(DAIRY, &[]);
    for days in [3, 20, 125] {
        let log: Vec<&str> = LOG.lines().take(3 * days).collect();
        assert_sound(check(&model, &log.join("\n")));
    }
}

fn year(model: &Model, hours: usize) -> String {
    let weather = include_str!("../examples/dairy-weather.csv");
    let text: Vec<&str> = weather.lines().take(hours + 1).collect();
    let plan = model.year_plan(model.base()).unwrap();
    let layout = model.site().weather.as_ref();
    let weather =
        weather::read(text.join("\n").as_bytes(), layout, plan.pressure_pascal()).unwrap();
    let mut work = CrossflowWorkspace::default();
    let hours: Vec<_> = weather.hours.iter().map(|hour| plan.hour(hour, &mut work)).collect();
    let sheet = plan.sheet(&hours);
    let year = Year {
        plan: &plan,
        sheet: &sheet,
        hours: &hours,
        weather: &weather,
        source: "a.toml and b.csv",
    };
    assert_sound(Box::new(move |look| picture::year(&year, look)));
    let year = Year {
        plan: &plan,
        sheet: &sheet,
        hours: &hours,
        weather: &weather,
        source: "a.toml and b.csv",
    };
    picture::year(&year, Look::default()).svg()
}

#[test]
fn a_year_stacks_its_streams() {
    let svg = year(&model(DAIRY, &["losses.leakage=0.5 m3/h"]), 60);
    for words in ["evaporation", "drift", "blowdown", "leakage", "Jan", "Load-duration", "m3/h"] {
        assert!(svg.contains(words), "{words}");
    }
    assert!(!svg.contains("overflow"));
}

/// A picture of varied inputs.
fn whatif(varied: &[(&str, &str)], columns: &str) -> Result<String, NotDrawn> {
    let model = model(DAIRY, &[]);
    let varied: Vec<_> = varied.iter().map(|(key, of)| (key.to_string(), of.to_string())).collect();
    let plan = Plan::new(&model, &varied, Combination::Grid).unwrap();
    let columns: Vec<_> = columns.split(',').map(|name| column(&model, name).unwrap()).collect();
    let mut runner = Runner::new(&model, &plan, &columns);
    let slots: Vec<_> = plan.axes().iter().map(|axis| axis.slot).collect();
    let rows: Vec<Run> = (0..plan.rows())
        .map(|row| {
            runner.set(row);
            let given = slots.iter().map(|slot| Cell::Number(runner.inputs().get(*slot))).collect();
            let numbers = |cells: &[Cell]| cells.iter().map(Cell::number).collect();
            let results = runner.results().ok().map(|results| numbers(results.values));
            Run { case: String::new(), given, results }
        })
        .collect();
    let layout = Layout {
        site: "<x>",
        longest_case: 0,
        varied: slots.iter().map(|slot| Varied::Number(model.slot_value(*slot))).collect(),
        columns: &columns,
        base: None,
        units: UnitSystem::Si,
        currency: "EUR",
    };
    let runs = Runs { name: "<x>", source: "a.toml", layout: &layout, rows: &rows };
    let svg = picture::whatif(&runs, Look::default())?.svg();
    assert_sound(Box::new(|look| picture::whatif(&runs, look).unwrap()));
    Ok(svg)
}

#[test]
fn varied_inputs_are_lines_or_maps() {
    let cycles = ("blowdown.cycles", "2, 3, 4, 5");
    let svg = whatif(&[cycles], "makeup,water_cost").unwrap();
    assert!(svg.contains("blowdown.cycles") && svg.contains("EUR") && svg.contains("water_cost"));
    assert_eq!(svg.matches("<circle").count(), 8);
    // Neither air that cannot be nor a wet bulb above the cold water has a balance: those cells say so.
    let svg = whatif(&[cycles, ("air.wet_bulb", "10, 18, 40 degC")], "makeup").unwrap();
    assert_eq!(svg.matches(">-</text>").count(), 8);
    assert!(svg.contains("; -: none") && svg.contains("air.wet_bulb, °C"), "{svg}");
    let three = [cycles, ("air.wet_bulb", "18, 20 degC"), ("circuit.volume", "30, 40 m3")];
    assert_eq!(whatif(&three, "makeup"), Err(NotDrawn::NoPlane));
}

#[test]
fn every_series_of_a_sheet_is_in_its_picture() {
    let model = model(DAIRY, &[]);
    let look = Look::default();
    let svg = balance(&model)(look).svg();
    for name in ["well", "mains", "evaporation", "drift", "blowdown", "None: leakage, overflow."] {
        assert!(svg.contains(name), "{name}");
    }
    let svg = blowdown(&model)(look).svg();
    for binding in &model.blowdown(model.base()).unwrap().bindings {
        assert!(svg.contains(&binding.limit.measure.name()), "{:?}", binding.limit);
    }
    for words in ["makeup", "target 3.20", "today 3.00", "controls", "EUR a year"] {
        assert!(svg.contains(words), "{words}");
    }
    let svg = check(&model, LOG)(look).svg();
    let words = ["measured", "expected", "loss by the salts", "2026-06-25: loss"];
    for words in words.into_iter().chain(["2026-06-29: found", "inhibitor drum mm"]) {
        assert!(svg.contains(words), "{words}");
    }
    let (sheet, ..) = checked(&model, LOG);
    let circles = svg.matches("<circle").count();
    // Every day a point in both charts, one in the label, and the drum's five readings.
    assert_eq!(circles, 2 * sheet.periods.len() + 1 + 5);
}

#[test]
fn what_users_write_is_never_markup() {
    let name = "<script>alert(1)</script> & \\\"x\\\"";
    let text = DAIRY.replace("Dairy, compressor tower (invented)", name);
    let model = model(&text.replace("name = \"well\"", "name = \"<b>well\""), &[]);
    for svg in [
        balance(&model)(Look::default()).svg(),
        blowdown(&model)(Look::default()).svg(),
        check(&model, LOG)(Look::default()).svg(),
        transient(&model)(Look::default()).svg(),
    ] {
        assert!(svg.contains("&lt;script&gt;") && !svg.contains("<script"), "{svg}");
        assert!(!svg.contains("<b>"));
    }
}

#[test]
fn no_file_is_written_onto_an_input_or_in_place_of_a_folder() {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("onto");
    fs::create_dir_all(folder.join("folder.svg")).unwrap();
    for (option, file) in [("--picture", "site.svg"), ("--report", "site.html")] {
        let site = folder.join(file);
        fs::write(&site, DAIRY).unwrap();
        let run = |to: &std::path::Path| {
            let mut command = Command::new(env!("CARGO_BIN_EXE_coldbasin"));
            command.arg("balance").arg(&site).arg(option).arg(to).output().unwrap()
        };
        let onto = run(&site);
        assert_eq!(onto.status.code(), Some(1));
        assert!(String::from_utf8_lossy(&onto.stderr).contains("this is an input"), "{onto:?}");
        // Nothing is printed either, so that nobody takes half of it for all.
        assert!(onto.stdout.is_empty());
        assert_eq!(fs::read_to_string(&site).unwrap(), DAIRY);
        if option == "--picture" {
            assert_eq!(run(&folder.join("folder.svg")).status.code(), Some(1));
        }
    }
    let left: Vec<_> = fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    assert_eq!(left.len(), 3, "{left:?}");
}

/// The guides that show pictures.
const GUIDES: [&str; 3] = [
    include_str!("../examples/guide/operator.md"),
    include_str!("../examples/guide/technician.md"),
    include_str!("../examples/guide/command-line.md"),
];

/// Pictures that they show, with the commands that make them.
const SHOWN: [(&str, &[&str]); 3] = [
    ("balance", &["balance", "examples/cannery.toml"]),
    ("blowdown", &["blowdown", "examples/dairy.toml"]),
    ("check", &["check", "examples/dairy.toml", "examples/dairy-log.csv"]),
];

#[test]
fn pictures_of_the_guides_are_up_to_date() {
    for (name, arguments) in SHOWN {
        let made = format!("{}/{name}.svg", env!("CARGO_TARGET_TMPDIR"));
        let output = Command::new(env!("CARGO_BIN_EXE_coldbasin"))
            .args(arguments)
            .args(["--picture", &made])
            .output()
            .unwrap();
        assert!(output.stderr.is_empty(), "{}", String::from_utf8_lossy(&output.stderr));
        let shown = format!("examples/pictures/{name}.svg");
        let command = format!("coldbasin {} --picture {shown}", arguments.join(" "));
        let is_same = fs::read_to_string(made).unwrap() == fs::read_to_string(&shown).unwrap();
        assert!(is_same, "{shown} is old; look at what changed, then: {command}");
        let shown = format!("](../pictures/{name}.svg)");
        assert!(GUIDES.iter().any(|guide| guide.contains(&shown)), "{shown}");
    }
}
