//! Nothing from outside drives a terminal or a browser: the program as a user runs it, on files with
//! control characters in their names, cells and headers.
use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output};

const DAIRY: &str = include_str!("../examples/dairy.toml");
/// Sets a title, clears the screen, turns the direction of writing; the marks of a page; C1 and DEL.
const NASTY: &str =
    "\u{1b}]0;owned\u{7}\u{1b}[1mB\u{1b}[0m\u{1c}FAKE\u{1d}\u{1e}\u{1f}cell\u{9b}2J\u{7f}\u{202e}";

/// What names may hold: marks that turn the direction of writing; control characters are refused there.
const TURNED: &str = "\u{202e}txet\u{2066}\u{200f}";

fn folder(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("printable-{name}"));
    fs::create_dir_all(&folder).unwrap();
    folder
}

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    let escaped = |character: char| match character {
        ' '..='~' => character.to_string(),
        other => format!("\\u{:04x}", u32::from(other)),
    };
    format!("\"{}\"", text.chars().map(escaped).collect::<String>())
}

/// The dairy with as much in its names, sources and columns as a site file may hold.
fn site(name: &str) -> PathBuf {
    let text = DAIRY
        .replace("\"Dairy, compressor tower (invented)\"", &quoted(&format!("Dairy {TURNED}")))
        .replace("name = \"well\"", &format!("name = {}", quoted(&format!("well{TURNED}"))))
        .replace("\"scale inhibitor\"", &quoted(&format!("inhibitor{TURNED}")))
        .replace("currency = \"EUR\"", &format!("currency = {}", quoted(&format!("EUR{TURNED}"))))
        .replace("discharge permit (invented)\"", "permit\\u001b[2J\\u009b\\u001e\"")
        .replace("name = \"basin uS/cm\"", "name = \"basin\\u001b[7m uS/cm\"")
        .replace("name = \"inhibitor drum mm\"", "name = \"drum\\u001c\\u001b[7m\"")
        .replace("unit = \"mm\"", "unit = \"mm\\u009b\"");
    let path = folder(name).join("site.toml");
    fs::write(&path, text).unwrap();
    path
}

fn log(name: &str) -> PathBuf {
    let mut text = String::from(
        "time,makeup m3,blowdown m3,makeup uS/cm,basin\u{1b}[7m uS/cm,hot C,cold C,dry bulb C,wet bulb C,drum\u{1c}\u{1b}[7m\n",
    );
    for day in 1..=9 {
        let makeup = if day == 3 { NASTY.to_owned() } else { (190 * day).to_string() };
        text += &format!("2026-06-0{day} 06:00,{makeup},{},{NASTY},1330,27,21,19,16,8\n", 60 * day);
    }
    let path = folder(name).join("log\u{1b}[2J\u{9b}.csv");
    fs::write(&path, text).unwrap();
    path
}

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_coldbasin")).args(arguments).output().unwrap()
}

/// What would be obeyed in a text, but for the ends of lines and bold headings of the program.
fn obeyed(bytes: &[u8]) -> Vec<char> {
    let text = String::from_utf8(bytes.to_vec()).unwrap();
    let is_mark = |c: &char| {
        (c.is_control() && *c != '\n')
            || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    text.chars().filter(is_mark).collect()
}

fn assert_shown(output: &Output, what: &str) {
    assert_eq!(obeyed(&output.stdout), [], "{what}");
    assert_eq!(obeyed(&output.stderr), [], "{what}");
}

#[test]
fn pages_show_what_they_do_not_obey() {
    let (site, log) = (site("pages"), log("pages"));
    let (site, log) = (site.to_str().unwrap(), log.to_str().unwrap());
    for command in ["balance", "blowdown", "feed", "level", "transient"] {
        for format in ["text", "json", "csv"] {
            let output = run(&[command, site, "--format", format]);
            assert!(output.status.success(), "{command} {output:?}");
            assert_shown(&output, command);
        }
        let text = String::from_utf8(run(&[command, site]).stdout).unwrap();
        assert!(text.starts_with("Dairy \u{fffd}txet\u{fffd}\u{fffd}\n"), "{command} {text}");
    }
    for format in ["text", "json", "csv"] {
        let output = run(&["check", site, log, "--format", format, "--working"]);
        assert!(matches!(output.status.code(), Some(0 | 3)), "{output:?}");
        assert_shown(&output, "check");
    }
    let text = String::from_utf8(run(&["check", site, log, "--full"]).stdout).unwrap();
    assert!(text.contains("is no number") && text.contains("\u{fffd}]0;owned\u{fffd}"), "{text}");
    // The working, ASCII, other units.
    for options in [["--working", "--ascii"], ["--units", "us"], ["--color", "never"]] {
        assert_shown(&run(&[&["balance", site][..], &options].concat()), "options");
    }
}

#[test]
fn bold_headings_are_the_programs_alone() {
    let site = site("bold");
    let site = site.to_str().unwrap();
    let output = run(&["balance", site, "--full", "--color", "always"]);
    let text = String::from_utf8(output.stdout).unwrap();
    let plain = text.replace("\u{1b}[1m", "").replace("\u{1b}[0m", "");
    assert_eq!(obeyed(plain.as_bytes()), []);
    let lines = || text.lines().filter(|line| line.contains('\u{1b}'));
    assert!(lines().count() > 5);
    for line in lines() {
        assert!(line.starts_with("\u{1b}[1m") && line.ends_with("\u{1b}[0m"), "{line:?}");
        assert_eq!(line.matches('\u{1b}').count(), 2, "{line:?}");
    }
}

#[test]
fn json_gives_back_the_name_as_it_was_given() {
    let site = site("json");
    let output = run(&["balance", site.to_str().unwrap(), "--format", "json"]);
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(json["site"], format!("Dairy {TURNED}"));
}

#[test]
fn complaints_and_echoed_options_drive_no_terminal() {
    let site = site("complaints");
    let site = site.to_str().unwrap();
    let cases: [&[&str]; 9] = [
        &["balance", site, "--set", "name=\u{1b}[2J\u{9b}"],
        &["balance", site, "--set", "circuit.\u{1b}[2Jrange=8 K"],
        &["balance", site, "--set", "circuit.circulation=\u{1b}[2J\u{9b}8"],
        &["balance", "no\u{1b}[2Jfile\u{9b}.toml"],
        &["balance", site, "--units", "\u{1b}[2J"],
        &["\u{1b}[2J\u{202e}"],
        &["whatif", site, "--vary", "\u{1b}[2J=1 to 2 step 1"],
        &["check", site, "no\u{1b}[2Jlog\u{9b}.csv"],
        &["level", site, "--drop", "\u{1b}[2J", "--during", "8 h"],
    ];
    for case in cases {
        let output = run(case);
        assert!(matches!(output.status.code(), Some(1 | 2)), "{case:?} {output:?}");
        assert_shown(&output, &format!("{case:?}"));
    }
    // A path is told, and what stands in the place of its characters is seen.
    let said = run(&["balance", "no\u{1b}[2Jfile\u{9b}.toml"]).stderr;
    assert!(String::from_utf8(said).unwrap().starts_with("no\u{fffd}[2Jfile\u{fffd}.toml: "));
    // An override that is told in the head of the page.
    let output = run(&["balance", site, "--set", "name=\u{202e}\u{2066}"]);
    assert!(output.status.success(), "{output:?}");
    assert_shown(&output, "--set");
}

#[cfg(feature = "picture")]
#[test]
fn a_page_to_hand_over_and_a_picture_hold_nothing_to_obey() {
    let (site, log) = (site("html"), log("html"));
    let (site, log) = (site.to_str().unwrap(), log.to_str().unwrap());
    let file = |name: &str| folder("html").join(name).to_str().unwrap().to_owned();
    let (html, svg, checked) = (file("page.html"), file("balance.svg"), file("check.html"));
    run(&["balance", site, "--report", &html, "--picture", &svg]);
    run(&["check", site, log, "--report", &checked]);
    for path in [&html, &svg, &checked] {
        let bytes = fs::read(path).unwrap();
        let text = String::from_utf8(bytes.clone()).unwrap();
        let left: Vec<char> = obeyed(&bytes).into_iter().filter(|c| *c != '\t').collect();
        assert_eq!(left, [], "{path}");
        assert!(text.contains('\u{fffd}'), "{path}");
        // A name makes no heading of its own.
        assert!(!text.contains("<h2>FAKE"), "{path}");
    }
}

/// What the marks of a page were is taken out of every part of it.
#[test]
fn a_page_leaves_no_marks_of_its_own() {
    let path = folder("marks").join("lead.toml");
    fs::write(&path, LEADING).unwrap();
    let output = run(&["blowdown", path.to_str().unwrap(), "--full"]);
    let text = String::from_utf8(output.stdout.clone()).unwrap();
    assert!(text.contains("another limit takes the lead"), "{text}");
    assert_shown(&output, "blowdown");
}

/// An invented site at whose allowed cycles two limits are close.
const LEADING: &str = r#"
[air]
wet_bulb = "23.878 degC ± 0.3 K"
altitude = "246 m"
[circuit]
circulation = "7171.2 m3/h ± 3 %"
hot_water = "41.381 degC"
cold_water = "27.317 degC"
[blowdown]
conductivity = "3084 uS/cm"
[losses]
leakage = "30 m3/h"
[[makeup]]
[makeup.analysis]
conductivity = "97 uS/cm"
calcium = "66.33 mg/L as Ca"
magnesium = "18.13 mg/L as Mg"
alkalinity = "259.7 mg/L as CaCO3"
chloride = "92.40 mg/L as Cl"
sulfate = "273.48 mg/L as SO4"
silica = "17.65 mg/L as SiO2"
balance_with = "sodium"
[ph]
held = 7.54
acid = "hydrochloric"
"#;
