//! What people see for right and wrong site files.

use std::fmt;

use proptest::prelude::*;
use serde::de::{Error as _, Visitor};
use serde::{Deserialize, Deserializer};

use super::diagnostics::on_boundary;
use super::*;

/// A temperature difference, in kelvin, that follows the convention for errors.
#[derive(Debug, Clone, PartialEq)]
struct Kelvin(f64);

impl<'de> Deserialize<'de> for Kelvin {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Kelvin, D::Error> {
        struct Text;
        impl Visitor<'_> for Text {
            type Value = Kelvin;
            fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
                f.write_str("a temperature difference with its unit\nsuch as \"10 K\"")
            }
            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Kelvin, E> {
                let (number, unit) = text.split_once(' ').unwrap_or((text, ""));
                let factor = match unit {
                    "K" => 1.0,
                    "degF" => 5.0 / 9.0,
                    _ => {
                        return Err(E::custom(format!(
                            "unknown unit \"{unit}\"\na temperature difference is written \
                                 like \"10 K\" or \"18 degF\""
                        )));
                    }
                };
                let number: f64 = number
                    .parse()
                    .map_err(|_| E::custom(format!("\"{number}\" is not a number")))?;
                Ok(Kelvin(number * factor))
            }
        }
        deserializer.deserialize_str(Text)
    }
}

/// Text that has to be read as a whole.
#[derive(Debug, Clone, PartialEq)]
struct Never;

impl<'de> Deserialize<'de> for Never {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Never, D::Error> {
        let _: String = Deserialize::deserialize(deserializer)?;
        Err(D::Error::custom("losses.never is never right"))
    }
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Method {
    Rule,
    Latent,
    Merkel,
    Poppe,
}

#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Circuit {
    range: Option<Kelvin>,
    approach: Option<Kelvin>,
    hours: Option<u32>,
    method: Option<Method>,
    limits: Option<[f64; 2]>,
    serial: Option<u8>,
    open: Option<bool>,
}

#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Cell {
    name: Option<String>,
    drift: Option<f64>,
    range: Option<Kelvin>,
    fan: Option<Fan>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Fan {
    power: f64,
    blades: Option<u8>,
}

#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Losses {
    never: Option<Never>,
}

#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Mock {
    version: Option<u32>,
    name: Option<String>,
    circuit: Option<Circuit>,
    #[serde(default)]
    cell: Vec<Cell>,
    losses: Option<Losses>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
struct Versioned {
    version: u32,
}

const VALID: &str = "\
version = 1
name = \"two towers\"

[circuit]
range = \"10 K\"
hours = 8000
method = \"poppe\"
limits = [1, 2.5]

[[cell]]
name = \"east\"
drift = 0.1
[cell.fan]
power = 11

[[cell]]
name = \"no. 2\"
fan = { power = 5.5, blades = 8 }
";

fn overrides(texts: &[&str]) -> Vec<Override> {
    texts.iter().map(|text| Override::parse(text).unwrap()).collect()
}

fn with(text: &str, set: &[&str]) -> Result<Source<Mock>, Diagnostics> {
    read("site.toml", text, &overrides(set))
}

/// What is shown for a text that is refused.
fn shown(text: &str, set: &[&str]) -> String {
    format!("{}\n", with(text, set).unwrap_err())
}

#[test]
fn a_valid_text_is_read() {
    let source = with(VALID, &[]).unwrap();
    let circuit = source.description.circuit.unwrap();
    assert_eq!(circuit.range, Some(Kelvin(10.0)));
    assert_eq!(circuit.method, Some(Method::Poppe));
    assert_eq!(source.description.cell[1].fan.as_ref().unwrap().power, 5.5);
}

#[test]
fn carriage_returns_and_a_byte_order_mark_change_nothing() {
    let text = format!("\u{feff}{}", VALID.replace('\n', "\r\n"));
    assert_eq!(with(&text, &[]).unwrap().description, with(VALID, &[]).unwrap().description);
    assert_eq!(
        shown("\u{feff}nam = 1\r\nversion = \"\"\r\n", &[]),
        "\
site.toml:1:1: unknown key \"nam\" at the top level
    nam = 1
    ~~~  did you mean \"name\"?
site.toml:2:11: version needs a whole number, 0 or more, not text
    version = \"\"
              ~~
"
    );
}

#[test]
fn an_unknown_unit_is_marked_inside_its_value() {
    assert_eq!(
        shown("version = 1\n\n[circuit]\nrange = \"10 degX\"\n", &[]),
        "\
site.toml:4:13: unknown unit \"degX\" in circuit.range
    range = \"10 degX\"
                ~~~~  a temperature difference is written like \"10 K\" or \"18 degF\"
"
    );
}

#[test]
fn all_errors_come_at_once_in_order_of_place() {
    let text = "\
version = \"1\"
[circuit]
rnage = \"10 K\"
range = 10
approach = \"ten K\"
method = \"pope\"
hours = 80.5
open = \"yes\"
serial = 256
limits = [1]
[losses]
never = \"x\"
[[cell]]
name = \"east\"
drift = true
[[cell]]
name = \"west\"
fan = { blades = 8 }
pump = 3
";
    assert_eq!(
        shown(text, &[]),
        "\
site.toml:1:11: version needs a whole number, 0 or more, not text
    version = \"1\"
              ~~~
site.toml:3:1: unknown key \"rnage\" in [circuit]
    rnage = \"10 K\"
    ~~~~~  did you mean \"range\"?
site.toml:4:9: circuit.range needs a temperature difference with its unit, not a bare number
    range = 10
            ~~  such as \"10 K\"
site.toml:5:13: \"ten\" is not a number in circuit.approach
    approach = \"ten K\"
                ~~~
site.toml:6:11: unknown value \"pope\" in circuit.method
    method = \"pope\"
              ~~~~  one of \"rule\", \"latent\", \"merkel\", \"poppe\"; did you mean \"poppe\"?
site.toml:7:9: circuit.hours needs a whole number, 0 or more, not a fraction
    hours = 80.5
            ~~~~
site.toml:8:8: circuit.open needs true or false, not text
    open = \"yes\"
           ~~~~~
site.toml:9:10: circuit.serial needs a whole number from 0 to 255
    serial = 256
             ~~~
site.toml:10:10: circuit.limits needs a list of 2, not of 1
    limits = [1]
             ~~~
site.toml:12:9: losses.never is never right
    never = \"x\"
            ~~~
site.toml:15:9: cell.east.drift needs a number, not true
    drift = true
            ~~~~
site.toml:18:7: missing key \"power\" in cell.west.fan
    fan = { blades = 8 }
          ~~~~~~~~~~~~~~
site.toml:19:1: unknown key \"pump\" in cell.west
    pump = 3
    ~~~~  known here: name, drift, range, fan
"
    );
}

#[test]
fn tables_lists_and_values_are_not_taken_for_one_another() {
    assert_eq!(
        shown("name = [1]\ncircuit = 5\n[cell]\nname = \"a\"\n", &[]),
        "\
site.toml:1:8: name needs text in quotes, not a list
    name = [1]
           ~~~
site.toml:2:11: circuit needs a table, not a number
    circuit = 5
              ~
site.toml:3:1: cell needs a list, not a table
    [cell]
    ~~~~~~  a list of tables is written [[cell]]
"
    );
    assert_eq!(
        shown("circuit = []\nname = 2024-01-01\ncell = [{drift = {}}]\n", &[]),
        "\
site.toml:1:11: circuit needs a table, not a list
    circuit = []
              ~~
site.toml:2:8: name needs text in quotes, not a date or time
    name = 2024-01-01
           ~~~~~~~~~~
site.toml:3:18: cell.1.drift needs a number, not a table
    cell = [{drift = {}}]
                     ~~
"
    );
    assert_eq!(
        shown(
            "[circuit]\nmethod = 3\nhours = -1\nlimits = [1, \"2\"]\nopen = 99999999999999999999999999999999999999999999\n",
            &[]
        ),
        "\
site.toml:2:10: circuit.method needs text in quotes, not a number
    method = 3
             ~
site.toml:3:9: circuit.hours needs a whole number, 0 or more
    hours = -1
            ~~
site.toml:4:14: circuit.limits.2 needs a number, not text
    limits = [1, \"2\"]
                 ~~~
site.toml:5:8: this number is too large in circuit.open
    open = 99999999999999999999999999999999999999999999
           ~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~
"
    );
}

#[test]
fn a_missing_key_is_shown_at_its_table() {
    assert_eq!(
        shown("[[cell]]\nname = \"a\"\n[cell.fan]\nblades = 3\n", &[]),
        "\
site.toml:3:1: missing key \"power\" in cell.a.fan
    [cell.fan]
    ~~~~~~~~~~
"
    );
    let versioned = read::<Versioned>("<stdin>", "name = \"x\"\n", &[]);
    assert_eq!(
        versioned.unwrap_err().to_string(),
        "<stdin>:1:1: missing key \"version\" at the top level"
    );
}

#[test]
fn a_refused_value_is_not_also_called_missing() {
    let refused = read::<Versioned>("site.toml", "version = \"x\"\n", &[]);
    assert_eq!(
        refused.unwrap_err().to_string(),
        "\
site.toml:1:11: version needs a whole number, 0 or more, not text
    version = \"x\"
              ~~~"
    );
}

#[test]
fn dotted_keys_and_inline_tables_keep_their_places() {
    assert_eq!(
        shown(
            "circuit.range = 5\ncircuit.hour = 1\ncell = [{name=\"a\", drfit=1}, {fan={power=\"x\"}}]\n",
            &[]
        ),
        "\
site.toml:1:17: circuit.range needs a temperature difference with its unit, not a bare number
    circuit.range = 5
                    ~  such as \"10 K\"
site.toml:2:9: unknown key \"hour\" in [circuit]
    circuit.hour = 1
            ~~~~  did you mean \"hours\"?
site.toml:3:20: unknown key \"drfit\" in cell.a
    cell = [{name=\"a\", drfit=1}, {fan={power=\"x\"}}]
                       ~~~~~  did you mean \"drift\"?
site.toml:3:42: cell.2.fan.power needs a number, not text
    cell = [{name=\"a\", drfit=1}, {fan={power=\"x\"}}]
                                             ~~~
"
    );
}

#[test]
fn columns_count_characters() {
    assert_eq!(
            shown("circuit = { approach = \"1 K\", range = \"10 °C³x\" } # m³\n", &[]),
            "\
site.toml:1:43: unknown unit \"°C³x\" in circuit.range
    circuit = { approach = \"1 K\", range = \"10 °C³x\" } # m³
                                              ~~~~  a temperature difference is written like \"10 K\" or \"18 degF\"
"
        );
    assert_eq!(
        shown("name = 'ä' # é\ncircuit = {open='ü', hours = 'x'}", &[]),
        "\
site.toml:2:17: circuit.open needs true or false, not text
    circuit = {open='ü', hours = 'x'}
                    ~~~
site.toml:2:30: circuit.hours needs a whole number, 0 or more, not text
    circuit = {open='ü', hours = 'x'}
                                 ~~~
"
    );
}

#[test]
fn tabs_keep_the_marker_under_its_place() {
    assert_eq!(
        shown("\tversion\t= \"x\"\n", &[]),
        "\
site.toml:1:12: version needs a whole number, 0 or more, not text
        version    = \"x\"
                     ~~~
"
    );
}

#[test]
fn a_long_line_is_cut_around_the_place() {
    let long = "n".repeat(300);
    assert_eq!(
        shown(&format!("name = \"{long}\" # {long}\nversion = \"{long}\"\n"), &[]),
        "\
site.toml:2:11: version needs a whole number, 0 or more, not text
    version = \"nnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnn...
              ~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~
"
    );
    assert_eq!(
        shown(
            &format!("cell = [{{name = \"{long}\", drift = \"x\"}}, {{name = \"m{long}\"}}]\n"),
            &[]
        ),
        format!(
            "\
site.toml:1:329: cell.{long}.drift needs a number, not text
    ...nnnnnnnnnnnnnnnnnnn\", drift = \"x\"}}, {{name = \"mnnnnnnnnnnnnnnnnnnnnnnnn...
                                     ~~~
"
        )
    );
}

#[test]
fn control_characters_do_not_reach_the_terminal() {
    let text = "name = 5 # \u{202e}\u{9b}31m\n\"a\\u001b[2Jb\" = 1\n";
    let out = shown(text, &["circuit.open=\u{1b}[31mred\nline"]);
    assert_eq!(
        out,
        "\
site.toml:1:8: name needs text in quotes, not a number
    name = 5 # \u{fffd}\u{fffd}31m
           ~
site.toml:2:1: unknown key \"a\u{fffd}[2Jb\" at the top level
    \"a\\u001b[2Jb\" = 1
    ~~~~~~~~~~~~~  known here: version, name, circuit, cell, losses
--set:1:14: circuit.open needs true or false, not text
    circuit.open=\u{fffd}[31mred\u{fffd}line
                 ~~~~~~~~~~~~~
"
    );
}

#[test]
fn all_syntax_errors_come_in_plain_words() {
    let text = "\
range = 10 degC
flow = 4,000
ready = yes
cycles =
é = 2
name = \"east
x = 1
x = 2
x.y = 3
n = 007
p = 1.
u = “5 K”
w = \"c:\\qaz\"
m = { a = 1
b = 2
[air
[circuit]
k = [1, 2
";
    assert_eq!(
        shown(text, &[]),
        "\
site.toml:1:9: text must stand in quotes
    range = 10 degC
            ~~~~~~~  write \"10 degC\"
site.toml:2:9: a comma cannot stand in a number
    flow = 4,000
            ~  write 4000 for four thousand, 1.5 for one and a half
site.toml:3:9: this is not a value
    ready = yes
            ~~~  write true
site.toml:4:9: no value after \"=\"
    cycles =
            ~
site.toml:5:1: this cannot stand in a key
    é = 2
    ~  a key is made of letters a to z, digits, \"_\" and \"-\"
site.toml:6:13: the text is not closed
    name = \"east
                ~  the closing quote is missing
site.toml:8:1: \"x\" is given twice
    x = 2
    ~
site.toml:7:1: note: also given here
    x = 1
    ~
site.toml:9:1: \"x\" has a value already: it cannot hold keys
    x.y = 3
    ~
site.toml:10:5: a number cannot begin with 0
    n = 007
        ~  leave the 0 out
site.toml:11:7: digits are missing in this number
    p = 1.
          ~  write it like 0.5 or 5.0
site.toml:12:5: text must stand in straight quotes
    u = “5 K”
        ~~~~~  write \"5 K\"
site.toml:13:9: \"\\\" has a meaning of its own in text
    w = \"c:\\qaz\"
            ~  write \"\\\\\", or put the text in single quotes
site.toml:14:5: the table is not closed
    m = { a = 1
        ~  it ends with \"}\"
"
    );
    assert_eq!(
        shown("a = 1 K\nk = [1, 2\n[circuit]\nrange = 5 K\n", &[]),
        "\
site.toml:1:5: text must stand in quotes
    a = 1 K
        ~~~  write \"1 K\"
site.toml:2:5: the list is not closed
    k = [1, 2
        ~  it ends with \"]\"
"
    );
    assert_eq!(
        shown("drift rate = 1\n", &[]),
        "\
site.toml:1:7: no value for this key
    drift rate = 1
          ~  write key = value
"
    );
    assert_eq!(
        shown("w = \"a\u{1}\"\n[[cell]\n= 2\n", &[]),
        "\
site.toml:1:7: a character that cannot stand in text
    w = \"a\u{fffd}\"
          ~  write it as \\u and four digits
site.toml:2:8: the table's header is not closed
    [[cell]
           ~  it ends with \"]]\"
site.toml:3:1: no key before \"=\"
    = 2
    ~  write key = value
"
    );
    assert_eq!(
        shown("version = 1\nname = \"\"\"x\n \n", &[]),
        "\
site.toml:2:12: the text is not closed
    name = \"\"\"x
               ~  the closing quote is missing
"
    );
}

#[test]
fn a_table_given_twice_shows_both_headers() {
    assert_eq!(
        shown("[circuit]\n[losses]\n[circuit]\n", &[]),
        "\
site.toml:3:2: \"circuit\" is given twice
    [circuit]
     ~~~~~~~
site.toml:1:2: note: also given here
    [circuit]
     ~~~~~~~
"
    );
}

#[test]
fn overrides_replace_and_create() {
    let source = with(
        VALID,
        &[
            "circuit.range = 12 K",
            "cell.east.drift=0.2",
            "cell.no. 2.drift=0.4",
            "name=three towers",
            "losses={}",
        ],
    );
    // A name with a dot needs its quotes.
    let refused = source.unwrap_err().to_string();
    assert_eq!(
        refused,
        "\
--set:3:6: no entry \"no\" in cell
    cell.no. 2.drift=0.4
         ~~  one of east, no. 2
--set:5:8: losses needs a table, not text
    losses={}
           ~~"
    );
    let description = with(
        VALID,
        &[
            "circuit.range = 12 K",
            "circuit.limits = [3, 4]",
            "cell.east.drift=0.2",
            "cell.\"no. 2\".drift=0.4",
            "cell.2.fan.blades = 6",
            "name=three towers",
            "circuit.open = true",
            "circuit.method='merkel'",
            "circuit.hours=1",
            "circuit.hours=2",
        ],
    )
    .unwrap()
    .description;
    let circuit = description.circuit.unwrap();
    assert_eq!(circuit.range, Some(Kelvin(12.0)));
    assert_eq!(circuit.limits, Some([3.0, 4.0]));
    assert_eq!(circuit.open, Some(true));
    assert_eq!(circuit.method, Some(Method::Merkel));
    assert_eq!(circuit.hours, Some(2));
    assert_eq!(description.name.as_deref(), Some("three towers"));
    assert_eq!(description.cell[0].drift, Some(0.2));
    assert_eq!(description.cell[1].drift, Some(0.4));
    assert_eq!(description.cell[1].fan.as_ref().unwrap().blades, Some(6));
    let created = with("", &["circuit.range=5 K"]).unwrap().description;
    assert_eq!(created.circuit.unwrap().range, Some(Kelvin(5.0)));
}

#[test]
fn an_override_mends_the_text() {
    let text = "[circuit]\nrange = \"10 degX\"\n";
    assert!(with(text, &["circuit.range=10 K"]).is_ok());
}

#[test]
fn errors_in_overrides_name_the_option() {
    assert_eq!(
        shown(
            VALID,
            &[
                "cell.west.drift=0.1",
                "circuit.range = 10 degX",
                "circuit.rnage=1",
                "version.x=1",
                "circuit.limits.3=1",
                "circuit.hours=5 h",
                "losses.never.more=1",
            ]
        ),
        "\
--set:1:6: no entry \"west\" in cell
    cell.west.drift=0.1
         ~~~~  one of east, no. 2
--set:2:20: unknown unit \"degX\" in circuit.range
    circuit.range = 10 degX
                       ~~~~  a temperature difference is written like \"10 K\" or \"18 degF\"
--set:3:9: unknown key \"rnage\" in [circuit]
    circuit.rnage=1
            ~~~~~  did you mean \"range\"?
--set:4:9: version is a single value: nothing can be set in it
    version.x=1
            ~
--set:5:16: no entry \"3\" in circuit.limits
    circuit.limits.3=1
                   ~  its entries are 1 to 2
--set:6:15: circuit.hours needs a whole number, 0 or more, not text
    circuit.hours=5 h
                  ~~~
--set:7:8: losses.never needs text in quotes, not a table
    losses.never.more=1
           ~~~~~
"
    );
    assert_eq!(
        shown("cell = []\n", &["cell.1.drift=1", "circuit.hours=1", "circuit.hours=x"]),
        "\
--set:1:6: no entry \"1\" in cell
    cell.1.drift=1
         ~  it has no entries
--set:3:15: circuit.hours needs a whole number, 0 or more, not text
    circuit.hours=x
                  ~
"
    );
}

#[test]
fn what_is_not_key_and_value_is_no_override() {
    let refused = |text| Override::parse(text).unwrap_err();
    assert_eq!(refused("circuit.range"), InvalidOverride::NoEquals);
    assert_eq!(refused("circuit."), InvalidOverride::NoEquals);
    assert_eq!(refused("\"a\""), InvalidOverride::NoEquals);
    assert_eq!(refused(""), InvalidOverride::NoEquals);
    assert_eq!(refused("=5"), InvalidOverride::EmptyPart);
    assert_eq!(refused("a..b=5"), InvalidOverride::EmptyPart);
    assert_eq!(refused("a. =5"), InvalidOverride::EmptyPart);
    assert_eq!(refused("a.\"\".b=5"), InvalidOverride::EmptyPart);
    assert_eq!(refused("a.\"b=5"), InvalidOverride::Quotes);
    assert_eq!(refused("a.\"b\"c=5"), InvalidOverride::Quotes);
    assert_eq!(refused("a.b\"c\"=5"), InvalidOverride::Quotes);
    assert_eq!(refused("a.b= "), InvalidOverride::NoValue);
    assert_eq!(refused(&format!("{}a=1", "a.".repeat(16))), InvalidOverride::TooManyParts);
    assert_eq!("a.'b=c'=d=e".parse::<Override>().unwrap().key[1].name, "b=c");
}

fn located(source: &Source<Mock>, problem: Problem) -> String {
    source.locate(vec![problem]).to_string()
}

#[test]
fn problems_are_located_by_path() {
    let source = with(VALID, &["cell.east.range=3 K", "losses.x.y=1"]);
    assert!(source.is_err());
    let source = with(VALID, &["cell.east.range=3 K"]).unwrap();
    let problem = Problem::new("circuit.hours", "more hours than a year has")
        .with_help("a year has 8760 hours");
    assert_eq!(
        located(&source, problem),
        "\
site.toml:6:9: more hours than a year has
    hours = 8000
            ~~~~  a year has 8760 hours"
    );
    let contradiction = Problem::new("circuit.range", "two ranges for one cell")
        .with_related("cell.1.range")
        .with_related("cell.1.nothing");
    assert_eq!(
        located(&source, contradiction),
        "\
site.toml:5:1: two ranges for one cell
    range = \"10 K\"
    ~~~~~
--set:1:11: note: also given here
    cell.east.range=3 K
              ~~~~~"
    );
    let places = [
        ("cell.east.drift", (12, 9)),
        ("cell.1.drift", (12, 9)),
        ("cell.no. 2.fan.blades", (18, 31)),
        ("cell.2.fan.blades", (18, 31)),
        ("cell.no. 2", (16, 1)),
        ("cell.2.drift", (16, 1)),
        ("cell.west.drift", (10, 1)),
        ("cell", (10, 1)),
        ("circuit", (4, 1)),
        ("circuit.approach", (4, 1)),
        ("circuit.limits.2", (8, 14)),
        ("version", (1, 11)),
        ("name", (2, 8)),
        ("losses", (1, 1)),
        ("", (1, 1)),
    ];
    for (path, place) in places {
        let diagnostics = source.locate(vec![Problem::new(path, "wrong")]);
        let found = &diagnostics.as_slice()[0];
        assert_eq!((found.line, found.column), place, "{path}");
    }
}

#[test]
fn problems_come_in_order_and_once() {
    let source = with(VALID, &[]).unwrap();
    let diagnostics = source.locate(vec![
        Problem::new("cell.2", "b"),
        Problem::new("circuit", "a"),
        Problem::new("cell.no. 2", "b"),
        Problem::new("pump", "missing"),
    ]);
    let messages: Vec<&str> = (&diagnostics).into_iter().map(|d| d.message.as_str()).collect();
    assert_eq!(messages, ["missing", "a", "b"]);
}

#[test]
fn a_text_of_another_kind_ends_after_a_hundred_errors() {
    let text: String = (0..500).map(|number| format!("key{number} = 1\n")).collect();
    assert_eq!(with(&text, &[]).unwrap_err().as_slice().len(), 100);
    let text: String = (0..500).map(|number| format!("key {number} = 1\n")).collect();
    assert_eq!(with(&text, &[]).unwrap_err().as_slice().len(), 100);
}

#[test]
fn a_table_of_numbers_is_no_site_file() {
    let text: String =
        (1..30).map(|day| format!("2026-06-{day:02} 06:00,12840.2,3391.7\n")).collect();
    let text = format!("time,makeup m3,blowdown m3\n{text}");
    let errors = with(&text, &[]).unwrap_err();
    assert_eq!(errors.as_slice().len(), 1, "{errors}");
    assert!(errors.as_slice()[0].message.starts_with("this is no site file"), "{errors}");
    // One line that is a key is enough for all errors to be told.
    let errors = with(&format!("range = \"8 K\"\n{text}"), &[]).unwrap_err();
    assert!(errors.as_slice().len() > 10, "{errors}");
}

#[test]
fn deep_nesting_is_refused_before_it_fills_the_stack() {
    let level = format!("{}a={{", "a.".repeat(70));
    let deep = format!("{}a=1{}", level.repeat(79), "}".repeat(79));
    let after_strings = format!("x = it's \"\"\"\n\\\"\"\"\" # '\n{deep}");
    for text in [&deep, &after_strings, &"a.".repeat(9999), &"[".repeat(9999), &"a={".repeat(9999)]
    {
        let refused = shown(text, &[]);
        assert!(refused.contains("nested too deeply"), "{refused}");
    }
    let list = format!("cell=[{{{deep}}}]");
    assert!(shown("", &[&list]).starts_with("--set:1:6: cell needs a list, not text"));
    let comment = format!("# {}\nname = \"{}\"\n", "[a.".repeat(300), "{.".repeat(300));
    assert!(with(&comment, &[]).is_ok());
}

/// Every text ends in a description or in diagnostics that name places.
fn ends_well(text: &str, set: &[Override]) {
    match read::<Mock>("site.toml", text, set) {
        Ok(source) => {
            let problem = Problem::new("cell.1.fan", "wrong").with_related("circuit.range");
            assert_eq!(source.locate(vec![problem]).iter().count(), 1);
        }
        Err(diagnostics) => {
            assert!(!diagnostics.as_slice().is_empty());
            let shown = diagnostics.to_string();
            assert!(!shown.contains(|c: char| c.is_control() && c != '\n'));
            for diagnostic in &diagnostics {
                assert!(!diagnostic.message.is_empty());
                assert!(diagnostic.line >= 1 && diagnostic.column >= 1);
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(200) })]

    #[test]
    fn any_bytes_end_well(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        ends_well(&String::from_utf8_lossy(&bytes), &[]);
    }

    #[test]
    fn any_toml_like_text_ends_well(text in "([a-z\"'.=\\[\\]{}#, \n\r\t0-9_\\\\°-]|\\[\\[cell\\]\\]\n|range = |\"\"\"){0,80}") {
        ends_well(&text, &[]);
    }

    #[test]
    fn a_changed_text_ends_well(
        changes in prop::collection::vec((0..VALID.len(), "[a-z\"'.=\\[\\]{}#, \n0-9_\\\\°³]{0,4}", 0..6usize), 1..5),
        set in prop::collection::vec("(cell|circuit|version|name|pump)(\\.(1|2|east|\"no. 2\"|fan|range|limits|[a-z°]))?(\\.(range|fan|1|x y))? ?=.{1,8}", 0..4),
    ) {
        let mut text = VALID.to_owned();
        for (at, new, length) in changes {
            let from = on_boundary(&text, at);
            let to = on_boundary(&text, at + length).max(from);
            text.replace_range(from..to, &new);
        }
        let set: Vec<Override> = set.iter().filter_map(|one| Override::parse(one).ok()).collect();
        ends_well(&text, &set);
        ends_well(VALID, &set);
    }

    #[test]
    fn any_override_ends_well(texts in prop::collection::vec("([a-z0-9.=\"'\\[{}, °]|\\PC|cell|circuit\\.range){0,20}", 0..4)) {
        let set: Vec<Override> = texts.iter().filter_map(|one| Override::parse(one).ok()).collect();
        ends_well(VALID, &set);
    }
}
