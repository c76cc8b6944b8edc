//! Command lines drawn over all commands, options and formats, with the tables that they read.

use super::site::{EXTREMES, Form, TEXTS};
use rand::RngExt;
use rand::rngs::StdRng;
use rand::seq::IndexedRandom;
use std::fs;
use std::path::Path;

/// A run: its command, its arguments, and what is known of them.
#[derive(Debug)]
pub struct Run {
    pub command: &'static str,
    pub arguments: Vec<String>,
    /// Whether nothing hostile is in it.
    pub is_tame: bool,
}

/// Commands by how often they are drawn.
const COMMANDS: [(&str, u32); 12] = [
    ("balance", 20),
    ("blowdown", 16),
    ("check", 16),
    ("transient", 8),
    ("feed", 8),
    ("level", 4),
    ("whatif", 12),
    ("solve", 6),
    ("year", 6),
    ("init", 1),
    ("warnings", 1),
    ("schema", 1),
];

/// What an option may be given.
enum Given {
    Nothing,
    /// One of these, or something hostile.
    One(&'static [&'static str]),
    /// A key and a value, joined.
    Set,
    /// A key and values.
    Vary,
    Key,
    /// A file to write, with its ending.
    File(&'static str),
    /// The sheet of visits.
    Visits,
    /// A result and its value.
    Result,
}
use Given::{File, Key, Nothing, One, Set, Vary, Visits};

const EVENTS: &[&str] = &[
    "12 h blowdown shut",
    "0 h blowdown open",
    "1 h blowdown 4 m3/h",
    "36 h cycles 4",
    "2 h dose 120 mg/L",
    "1e300 h dose 1e300 mg/L",
    "-1 h blowdown shut",
    "1 d cycles 0",
];
const VALUES: &[&str] = &[
    "3 to 8 step 1",
    "3, 4, 5",
    "2 to 3 step 1e-300",
    "0 to 1e300 step 1e298",
    "-5 to 5 step 1",
    "8 to 3 step -1",
    "18 to 26 step 2 degC",
    "3 to 8",
    "uncertainty",
    "1e300",
    "",
    "0",
];
/// Inputs with values that they can have.
const LIKELY: &[&str] = &[
    "blowdown.cycles=3 to 8 step 1",
    "blowdown.cycles=1.5, 3, 50",
    "air.wet_bulb=18 to 21 step 1 degC",
    "circuit.circulation=300 to 500 step 50 m3/h",
    "losses.leakage=0, 0.5, 30 m3/h",
    "cell.1.drift=0, 0.01 %",
    "circuit.circulation=uncertainty",
    "air.wet_bulb=15 to 22 degC",
];
const WANTED: &[&str] =
    &["makeup = 12 m3/h", "evaporation = 5 m3/h", "yearly_makeup = 60000 m3", "water_cost = 90000"];
const COLUMNS: &[&str] = &["all", "makeup", "makeup,water_cost,cycles", "merkel_number", "nothing"];
const COUNTS: &[&str] = &["1", "7", "40", "0", "-1", "99999999999999999999"];
const SI_OR_US: &[&str] = &["si", "us"];
const FORMATS: &[&str] = &["text", "json", "csv"];

/// The options of every command, and those that a command has beside them.
const COMMON: &[(&str, Given)] = &[
    ("--units", One(SI_OR_US)),
    ("--format", One(FORMATS)),
    ("--set", Set),
    ("--output", File("out.txt")),
    ("--color", One(&["auto", "never"])),
    ("--ascii", Nothing),
];

fn options(command: &str) -> Vec<&'static (&'static str, Given)> {
    const SHOWN: &[(&str, Given)] = &[("--full", Nothing), ("--working", Nothing)];
    const REPORT: &[(&str, Given)] = &[("--report", File("report.html"))];
    const PICTURE: &[(&str, Given)] = &[("--picture", File("picture.svg"))];
    const STRICT: &[(&str, Given)] = &[("--strict", Nothing)];
    const BALANCE: &[(&str, Given)] = &[
        ("--monte-carlo", One(&["100", "101", "500", "99", "1e9"])),
        ("--seed", One(&["1", "0", "18446744073709551615", "-1"])),
    ];
    const BLOWDOWN: &[(&str, Given)] = &[
        ("--at-cycles", One(&["3", "1", "0", "1.0001", "50", "1e300", "NaN", "inf", "-3"])),
        ("--visits", Visits),
    ];
    const CHECK: &[(&str, Given)] = &[
        ("--every", One(&["hour", "shift", "day", "week"])),
        ("--from", One(&["2026-06-05", "2026-06-05T06:00", "9999-12-31", "-9999-01-01", "today"])),
        ("--to", One(&["2026-06-20", "0000-01-01", "2026-13-01"])),
        ("--since-last", File("last.json")),
        ("--makeup", One(&["214.5 m3", "9 m3/h", "0 m3", "-1 m3", "1e300 m3", "200 m3 ± 500 %"])),
        ("--during", One(&["24 h", "0 h", "1e300 h", "-1 d", "1e-300 s"])),
        ("--blowdown", One(&["60 m3", "2 m3/h", "0 m3", "1e300 m3/h", "-1 m3"])),
    ];
    const TRANSIENT: &[(&str, Given)] = &[
        ("--start", One(&["1", "0", "3", "1e300", "-1", "NaN", "inf"])),
        ("--hours", One(&["72", "0", "1e-300", "8760", "1e300", "NaN", "-1"])),
        ("--event", One(EVENTS)),
        ("--half-life", One(&["10 h", "0 h", "1e-300 h", "1e300 h", "-1 h"])),
    ];
    const LEVEL: &[(&str, Given)] = &[
        ("--stuck", One(&["30", "100", "0", "1e-300", "101", "NaN"])),
        ("--act", One(&["30", "1e-300", "10080", "0", "1e300"])),
        ("--to-cycles", One(&["2", "1", "1.0000001", "1e300", "NaN"])),
        (
            "--drop",
            One(&["12 mm ± 1 mm", "-3 mm", "0 mm", "1e300 m", "1e-300 m", "1e300 mm ± 5 %"]),
        ),
        ("--during", One(&["8 h", "0 h", "1e300 h", "1e-300 s ± 10 %"])),
    ];
    const WHATIF: &[(&str, Given)] = &[
        ("--vary", Vary),
        ("--combine", One(&["grid", "pairs", "draws", "hypercube"])),
        ("--rows", One(COUNTS)),
        ("--seed", One(&["1", "18446744073709551615"])),
        ("--columns", One(COLUMNS)),
        ("--differences", Nothing),
        ("--part", One(&["1/1", "2/8", "8/8", "0/1", "1/18446744073709551615"])),
        ("--threads", One(&["1", "3", "1024", "0"])),
        ("--list", Nothing),
    ];
    const SOLVE: &[(&str, Given)] = &[
        ("--vary", Key),
        ("--for", Given::Result),
        (
            "--within",
            One(&["5 to 25 degC", "2 to 9", "0 to 1e300", "9 to 2", "-1 to 1 K", "1 to 1"]),
        ),
    ];
    const YEAR: &[(&str, Given)] = &[("--every", One(&["hour", "month"]))];
    const INIT: &[(&str, Given)] = &[("--units", One(SI_OR_US))];
    const WARNINGS: &[(&str, Given)] = &[("--format", One(FORMATS)), ("--output", File("out.txt"))];
    const SCHEMA: &[(&str, Given)] = &[
        ("--of", One(&["site", "balance", "check", "whatif", "none"])),
        ("--output", File("out.txt")),
    ];
    let parts: &[&[(&str, Given)]] = match command {
        "balance" => &[COMMON, SHOWN, REPORT, PICTURE, STRICT, BALANCE],
        "blowdown" => &[COMMON, SHOWN, REPORT, PICTURE, STRICT, BLOWDOWN],
        "check" => &[COMMON, SHOWN, REPORT, PICTURE, STRICT, CHECK],
        "transient" => &[COMMON, SHOWN, REPORT, PICTURE, TRANSIENT],
        "feed" => &[COMMON, SHOWN, REPORT, STRICT],
        "level" => &[COMMON, SHOWN, REPORT, STRICT, LEVEL],
        "whatif" => &[COMMON, PICTURE, STRICT, WHATIF],
        "solve" => &[COMMON, SOLVE],
        "year" => &[COMMON, SHOWN, REPORT, PICTURE, STRICT, YEAR],
        "init" => &[INIT],
        "warnings" => &[WARNINGS],
        _ => &[SCHEMA],
    };
    parts.iter().flat_map(|part| part.iter()).collect()
}

/// What the command line's own help names and no run draws.
pub fn not_drawn(command: &str, help: &str) -> Vec<String> {
    let known: Vec<&str> = options(command).iter().map(|(name, _)| *name).collect();
    let words = help.lines().filter_map(|line| {
        let line = line.trim_start().trim_start_matches("-h, ");
        line.starts_with("--").then(|| line.split([' ', '=']).next().unwrap_or_default())
    });
    words.filter(|word| *word != "--help" && !known.contains(word)).map(str::to_owned).collect()
}

pub fn commands() -> impl Iterator<Item = &'static str> {
    COMMANDS.iter().map(|(command, _)| *command)
}

impl Run {
    /// Draws a run and writes its files into an empty folder.
    pub fn draw(form: &Form, folder: &Path, random: &mut StdRng) -> Self {
        let command = COMMANDS.choose_weighted(random, |(_, weight)| *weight).unwrap().0;
        let (site, mut is_tame) = form.draw(command, random);
        let mut arguments = vec![command.to_owned()];
        let reads_a_site = !matches!(command, "init" | "warnings" | "schema");
        if reads_a_site {
            fs::write(folder.join("site.toml"), site).unwrap();
            arguments.push("site.toml".into());
        }
        match command {
            "check" if random.random_bool(0.8) => {
                is_tame &= write_table(folder, "log.csv", LOG, 125, random);
                arguments.push("log.csv".into());
            }
            "year" => {
                is_tame &= write_table(folder, "weather.csv", WEATHER, 240, random);
                arguments.push("weather.csv".into());
            }
            "init" if random.random_bool(0.9) => arguments.push("new.toml".into()),
            _ => {}
        }
        let mut all = options(command);
        if arguments.len() > 2 && random.random_bool(0.9) {
            // Readings and a log are refused together.
            all.retain(|(name, _)| !["--makeup", "--blowdown", "--during"].contains(name));
        }
        let count = *[0, 1, 1, 2, 2, 3, 4].choose(random).unwrap();
        let mut chosen: Vec<&(&str, Given)> = all.sample(random, count).copied().collect();
        let needed: &[&str] = match command {
            "whatif" | "solve" => &["--vary", "--for"],
            "check" if arguments.len() == 2 => &["--makeup", "--during"],
            _ => &[],
        };
        for option in all.iter().filter(|(name, _)| needed.contains(name)) {
            if !chosen.iter().any(|(name, _)| *name == option.0) && random.random_bool(0.95) {
                chosen.push(option);
            }
        }
        for (name, given) in chosen {
            is_tame &= matches!(given, Nothing | File(_) | Visits) || *name == "--format";
            arguments.push((*name).to_owned());
            arguments.extend(value(form, given, folder, random));
        }
        Self { command, arguments, is_tame }
    }
}

fn value(form: &Form, given: &Given, folder: &Path, random: &mut StdRng) -> Option<String> {
    let is_hostile = random.random_bool(0.04);
    let text = match given {
        Nothing => return None,
        One(_) if is_hostile => match random.random_bool(0.5) {
            true => (*TEXTS.choose(random).unwrap()).to_owned(),
            false => (*EXTREMES.choose(random).unwrap()).to_owned(),
        },
        One(choices) => (*choices.choose(random).unwrap()).to_owned(),
        File(name) if is_hostile => format!("none/{name}"),
        File(name) => (*name).to_owned(),
        Set => format!("{}={}", key(form, random), form.value(random)),
        Vary if random.random_bool(0.6) => (*LIKELY.choose(random).unwrap()).to_owned(),
        Vary => format!("{}={}", key(form, random), VALUES.choose(random).unwrap()),
        Key => key(form, random),
        Given::Result if random.random_bool(0.6) => (*WANTED.choose(random).unwrap()).to_owned(),
        Given::Result => {
            let result = *["makeup", "evaporation", "cycles", "yearly_makeup", "water_cost"]
                .choose(random)
                .unwrap();
            format!(
                "{result} = {}",
                ["9 m3/h", "5", "60000 m3", "1e300", "0"].choose(random).unwrap()
            )
        }
        Visits => {
            write_table(folder, "visits.csv", VISITS, 12, random);
            "visits.csv".into()
        }
    };
    Some(text)
}

/// Keys that most sites have, and any others.
fn key(form: &Form, random: &mut StdRng) -> String {
    const KNOWN: [&str; 8] = [
        "blowdown.cycles",
        "air.wet_bulb",
        "circuit.circulation",
        "losses.leakage",
        "cell.1.drift",
        "circuit.cold_water",
        "cost.makeup",
        "makeup.well.share",
    ];
    match random.random_bool(0.6) {
        true => (*KNOWN.choose(random).unwrap()).to_owned(),
        false => form.key(random),
    }
}

const LOG: &str = include_str!("../../examples/dairy-log.csv");
const WEATHER: &str = include_str!("../../examples/dairy-weather.csv");
const VISITS: &str = include_str!("../../examples/dairy-visits.csv");

/// Writes the first rows of a table, cells of it changed; whether none is hostile.
fn write_table(folder: &Path, name: &str, text: &str, rows: usize, random: &mut StdRng) -> bool {
    let rows = random.random_range(0..=rows);
    let mut lines: Vec<String> = text.lines().take(rows + 1).map(str::to_owned).collect();
    let changes = *[0, 0, 0, 1, 3, 12].choose(random).unwrap();
    for _ in 0..changes {
        let row = random.random_range(0..lines.len());
        match random.random_range(0..8) {
            0 => lines.insert(row, String::new()),
            1 => lines.swap(row, 0),
            2 => lines[row] = lines[row].chars().take(5).collect(),
            3 => lines[row].push('"'),
            _ => {
                let mut cells: Vec<&str> = lines[row].split(',').collect();
                let index = random.random_range(0..cells.len());
                cells[index] = match random.random_bool(0.6) {
                    true => EXTREMES.choose(random).unwrap(),
                    false => TEXTS.choose(random).unwrap(),
                };
                lines[row] = cells.join(",");
            }
        }
    }
    fs::write(folder.join(name), lines.join("\n")).unwrap();
    changes == 0
}
