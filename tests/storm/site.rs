//! Site files drawn from their own schema: likely values, missing parts, and whatever a file may hold that
//! no plant has.

use rand::rngs::StdRng;
use rand::seq::{IndexedMutRandom, IndexedRandom};
use rand::{Rng, RngExt};
use toml::{Table, Value};

/// What is drawn from.
pub struct Form {
    schema: serde_json::Value,
    bases: Vec<Table>,
}

const BASES: [&str; 5] = [
    include_str!("../../examples/dairy.toml"),
    include_str!("../../examples/dairy.toml"),
    include_str!("../../examples/cannery.toml"),
    include_str!("../fuzz/seeds/site/starter.toml"),
    include_str!("../fuzz/seeds/site/year.toml"),
];

/// Without these there is no balance.
const LEAST: &str = "coldbasin = 1\n[air]\ndry_bulb = \"30 degC\"\nwet_bulb = \"22 degC\"\n[circuit]\n\
     circulation = \"420 m3/h\"\nhot_water = \"35 degC\"\ncold_water = \"27 degC\"\n\
     [[cell]]\narrangement = \"counterflow\"\nwater_to_air = 1.2\n[blowdown]\ncycles = 3\n";

/// Numbers at the ends of what can be written.
pub const EXTREMES: [&str; 16] = [
    "0", "-0", "-1", "1", "1e-300", "1e-9", "1e9", "1e15", "1e300", "-1e300", "1.7e308", "4e-324",
    "100", "1e999", "NaN", "inf",
];

/// Texts that are obeyed, turned, or read otherwise than they look.
pub const TEXTS: [&str; 12] = [
    "",
    " ",
    "\u{1f}",
    "a\u{1b}[2J\u{1b}]0;b\u{7}",
    "\u{202e}txet\u{2066}",
    "\u{9b}2J\u{7f}\u{2028}",
    "\u{feff}",
    "=1+1",
    "a,b;c\td\"e",
    "<script>alert(1)</script>&amp;",
    "ends\r\nhere",
    "5 furlongs",
];

impl Form {
    pub fn new() -> Self {
        let schema = serde_json::to_value(coldbasin::site::schema()).unwrap();
        Self { schema, bases: BASES.iter().map(|text| text.parse().unwrap()).collect() }
    }

    /// A site file for a command, and whether no hostile value was put into it.
    pub fn draw(&self, command: &str, random: &mut StdRng) -> (Vec<u8>, bool) {
        let is_tame = random.random_bool(0.5);
        let mut site = match random.random_range(0..20) {
            0 => Table::new(),
            1 | 2 => self.grown(random),
            // It describes what these ask for.
            _ if matches!(command, "check" | "feed" | "level" | "year") => self.bases[0].clone(),
            _ => self.bases.choose(random).unwrap().clone(),
        };
        for _ in 0..*[0, 1, 1, 1, 2, 3, 6].choose(random).unwrap() {
            self.change(&mut site, &self.schema, is_tame, random);
        }
        let mut bytes = toml::to_string(&site).unwrap().into_bytes();
        let is_torn = random.random_bool(0.03);
        if is_torn {
            tear(&mut bytes, random);
        }
        (bytes, is_tame && !is_torn)
    }

    /// A key as an option names it, mostly one that a site file has.
    pub fn key(&self, random: &mut StdRng) -> String {
        let mut path = String::new();
        let mut node = &self.schema;
        loop {
            let form = self.resolved(node);
            let Some(properties) = form["properties"].as_object() else { break };
            let names: Vec<&String> = properties.keys().collect();
            let name = *names.choose(random).unwrap();
            node = &properties[name];
            if !path.is_empty() {
                path.push('.');
            }
            path.push_str(name);
            let form = self.resolved(node);
            if form["type"] == "array" {
                path.push_str([".1", ".2", "", ".well", ".0"].choose(random).unwrap());
                node = &form["items"];
            }
        }
        path
    }

    /// A value as an option writes it.
    pub fn value(&self, random: &mut StdRng) -> String {
        let kinds: Vec<&serde_json::Value> =
            self.schema["$defs"].as_object().unwrap().values().collect();
        let kind = *kinds.choose(random).unwrap();
        let drawn = match random.random_bool(0.5) {
            true => self.likely(kind, random, 0),
            false => self.hostile(kind, random),
        };
        match drawn {
            Value::String(text) => text,
            other => other.to_string(),
        }
    }

    /// From nothing, with the least that a balance needs in most.
    fn grown(&self, random: &mut StdRng) -> Table {
        let mut site = Table::new();
        for (name, node) in self.schema["properties"].as_object().unwrap() {
            if random.random_bool(0.3) {
                site.insert(name.clone(), self.likely(node, random, 0));
            }
        }
        if random.random_bool(0.8) {
            site.extend(LEAST.parse::<Table>().unwrap());
        }
        site
    }

    /// Changes one value somewhere below a table.
    fn change(
        &self,
        table: &mut Table,
        node: &serde_json::Value,
        is_tame: bool,
        random: &mut StdRng,
    ) {
        let form = self.resolved(node);
        let properties = form["properties"].as_object();
        let name = match properties {
            Some(properties)
                if table.is_empty() || random.random_bool(if is_tame { 0.1 } else { 0.25 }) =>
            {
                let names: Vec<&String> = properties.keys().collect();
                (*names.choose(random).unwrap()).clone()
            }
            _ => {
                let names: Vec<&String> = table.keys().collect();
                let Some(name) = names.choose(random) else { return };
                (*name).clone()
            }
        };
        let child = properties
            .and_then(|properties| properties.get(&name))
            .unwrap_or(&form["additionalProperties"]);
        match table.get_mut(&name) {
            Some(Value::Table(inner)) if random.random_bool(0.9) => {
                return self.change(inner, child, is_tame, random);
            }
            Some(Value::Array(items)) if random.random_bool(0.9) => {
                let items_form = &self.resolved(child)["items"];
                if random.random_bool(0.1)
                    && let Some(item) = items.choose(random).cloned()
                {
                    items.push(item);
                } else if let Some(Value::Table(inner)) = items.choose_mut(random) {
                    return self.change(inner, items_form, is_tame, random);
                }
            }
            _ => {}
        }
        let as_it_was = table.get(&name).and_then(Value::as_str).map(str::to_owned);
        let drawn = match (random.random_range(0..20), as_it_was) {
            (0..=3, _) if !is_tame || random.random_bool(0.2) => {
                table.remove(&name);
                return;
            }
            (4..=14, _) if !is_tame => self.hostile(child, random),
            (1..=17, Some(text)) => Value::String(scaled(&text, random)),
            _ => self.likely(child, random, 0),
        };
        table.insert(name, drawn);
    }

    /// A value of the kind that the schema has there.
    fn likely(&self, node: &serde_json::Value, random: &mut StdRng, depth: usize) -> Value {
        let form = self.resolved(node);
        if let Some(choices) = ["oneOf", "anyOf"].iter().find_map(|key| form[*key].as_array()) {
            let choice = choices.choose(random).unwrap();
            // Texts of a kind have their examples in its description.
            return match choice["type"] == "string" && choice.get("const").is_none() {
                true => Value::String(example(form, random)),
                false => self.likely(choice, random, depth),
            };
        }
        if let Some(constant) = form["const"].as_str() {
            return Value::String(constant.into());
        }
        match form["type"].as_str() {
            Some("boolean") => Value::Boolean(random.random()),
            Some("integer") => Value::Integer(random.random_range(0..4)),
            Some("number") => Value::Float(10f64.powf(random.random_range(-1.0..1.5))),
            Some("array") => {
                let fewest = form["minItems"].as_u64().unwrap_or(1);
                let most = form["maxItems"].as_u64().unwrap_or(fewest + 2);
                let count = random.random_range(fewest..=most.max(fewest));
                let items = (0..count as usize).map(|index| {
                    let item = form["prefixItems"].get(index).unwrap_or(&form["items"]);
                    self.likely(item, random, depth + 1)
                });
                Value::Array(items.collect())
            }
            Some("object") => {
                let mut table = Table::new();
                for (name, child) in form["properties"].as_object().into_iter().flatten() {
                    if depth < 6 && random.random_bool(0.4) {
                        table.insert(name.clone(), self.likely(child, random, depth + 1));
                    }
                }
                Value::Table(table)
            }
            _ => Value::String(example(form, random)),
        }
    }

    /// A value that nobody means.
    fn hostile(&self, node: &serde_json::Value, random: &mut StdRng) -> Value {
        let form = self.resolved(node);
        match random.random_range(0..10) {
            0..=4 if form["description"].as_str().is_some_and(|text| text.contains('"')) => {
                let text = example(form, random);
                let unit = text.split_once(' ').map_or("", |(_, unit)| unit);
                let extreme = EXTREMES.choose(random).unwrap();
                Value::String(format!("{extreme} {unit}").trim_end().to_owned())
            }
            0..=5 => Value::String((*TEXTS.choose(random).unwrap()).to_owned()),
            6 => Value::String(self.value_of_another_kind(random)),
            7 => Value::String("x".repeat(random.random_range(1..30_000))),
            8 => Value::Float(EXTREMES.choose(random).unwrap().parse().unwrap_or(f64::NAN)),
            _ => match random.random_range(0..4) {
                0 => Value::Boolean(random.random()),
                1 => Value::Integer(*[0, -1, i64::MAX, i64::MIN].choose(random).unwrap()),
                2 => Value::Array(vec![Value::Integer(1), Value::String(String::new())]),
                _ => Value::Table(Table::new()),
            },
        }
    }

    fn value_of_another_kind(&self, random: &mut StdRng) -> String {
        let kinds: Vec<&serde_json::Value> =
            self.schema["$defs"].as_object().unwrap().values().collect();
        example(kinds.choose(random).unwrap(), random)
    }

    fn resolved<'a>(&'a self, node: &'a serde_json::Value) -> &'a serde_json::Value {
        let Some(reference) = node["$ref"].as_str() else { return node };
        &self.schema["$defs"][reference.rsplit('/').next().unwrap_or_default()]
    }
}

/// One of the examples in a description, its number made another; a name where it has none.
fn example(form: &serde_json::Value, random: &mut StdRng) -> String {
    let described = form["description"].as_str().unwrap_or_default();
    let (described, _) = described.split_once(". May carry").unwrap_or((described, ""));
    let examples: Vec<&str> = described
        .split('"')
        .skip(1)
        .step_by(2)
        .filter(|text| text.starts_with(|first: char| first.is_ascii_digit()))
        .collect();
    let Some(example) = examples.choose(random) else {
        return match form["pattern"].as_str().is_some_and(|pattern| pattern.contains("{4}")) {
            true => format!("2026-{:02}-{:02}", random.random_range(1..14), 28),
            false => (*["well", "mains", "A", "time"].choose(random).unwrap()).to_owned(),
        };
    };
    let mut text = scaled(example, random);
    if random.random_bool(0.15) {
        text += [" ± 5 %", " ± 3 %(k=2)", " ± 0 %", " ± 500 %"].choose(random).unwrap();
    }
    text
}

/// The text with its first number made somewhat larger or smaller.
fn scaled(text: &str, random: &mut StdRng) -> String {
    let end = text.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(text.len());
    let Ok(number) = text[..end].parse::<f64>() else { return text.to_owned() };
    let widest: f64 = *[0.05, 0.3, 1.0].choose(random).unwrap();
    let number = number * random.random_range(-widest..widest).exp();
    format!("{number:.4}{}", &text[end..])
}

/// Bytes cut, doubled, or replaced by what is no text.
fn tear(bytes: &mut Vec<u8>, random: &mut StdRng) {
    if bytes.is_empty() {
        return;
    }
    let place = random.random_range(0..bytes.len());
    match random.random_range(0..5) {
        0 => bytes.truncate(place),
        1 => bytes[place] = random.next_u32() as u8,
        2 => {
            let again = bytes[place..].to_vec();
            bytes.extend(again);
        }
        3 => *bytes = bytes.iter().flat_map(|byte| [*byte, 0]).collect(),
        _ => bytes.insert(place, b'"'),
    }
}
