//! Every value of a table with its place, so that errors find theirs.

use std::mem;
use std::ops::Range;

use toml::Spanned;
use toml::de::DeValue;

use super::super::Problem;
use super::diagnostics::Finding;
use super::document::{Document, name_of};
use super::words::{
    choice, expected, integer, known_keys, last_number, missing_key, narrowed, plain, unknown,
};

/// Every value of a table in the order of a walk, root first: its path and its places.
///
/// Places of values are not unique (a list of tables and its first entry share one), so each value
/// is marked instead with a number beyond all places, which errors then carry.
pub(super) struct Outline {
    first_mark: usize,
    nodes: Vec<Node>,
}

struct Node {
    parent: usize,
    step: Step,
    pub(super) key: Option<Range<usize>>,
    pub(super) value: Range<usize>,
    kind: Kind,
}

/// The way from a value to one inside it.
enum Step {
    Root,
    Key(String),
    Entry { number: usize, name: Option<String> },
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Text,
    Number,
    Boolean(bool),
    Date,
    List(usize),
    Table,
}

/// Where an error came up: in a value, or at its key.
#[derive(Clone, Copy)]
pub(super) struct At {
    pub(super) node: usize,
    pub(super) key: bool,
}

impl Outline {
    pub(super) fn of(root: &mut Spanned<DeValue>, first_mark: usize) -> Outline {
        let nodes = Vec::new();
        let mut outline = Outline { first_mark, nodes };
        outline.add(root, 0, Step::Root, None);
        outline
    }

    fn add(
        &mut self,
        value: &mut Spanned<DeValue>,
        parent: usize,
        step: Step,
        key: Option<Range<usize>>,
    ) {
        let id = self.nodes.len();
        self.nodes.push(Node {
            parent,
            step,
            key,
            value: value.span(),
            kind: Kind::of(value.get_ref()),
        });
        let inner = mem::replace(value.get_mut(), DeValue::Boolean(false));
        *value = Spanned::new(self.mark(id), inner);
        match value.get_mut() {
            DeValue::Table(table) => {
                for (key, entry) in table.iter_mut() {
                    let step = Step::Key(key.get_ref().to_string());
                    self.add(entry, id, step, Some(key.span()));
                }
            }
            DeValue::Array(list) => {
                for (index, entry) in list.iter_mut().enumerate() {
                    let name = name_of(entry).map(str::to_owned);
                    let number = index + 1;
                    self.add(entry, id, Step::Entry { number, name }, None);
                }
            }
            _ => {}
        }
    }

    pub(super) fn mark(&self, node: usize) -> Range<usize> {
        self.first_mark + node..self.first_mark + node + 1
    }

    pub(super) fn at(&self, span: Option<Range<usize>>) -> At {
        let node = |node, key| At { node, key };
        let Some(span) = span else {
            return node(0, false);
        };
        if let Some(marked) = span.start.checked_sub(self.first_mark) {
            return node(marked.min(self.nodes.len() - 1), false);
        }
        let keyed = (self.nodes.iter()).position(|node| node.key.as_ref() == Some(&span));
        keyed.map_or(node(0, false), |found| node(found, true))
    }

    fn children(&self, parent: usize) -> impl Iterator<Item = (usize, &Node)> {
        // The root is its own parent.
        (self.nodes.iter().enumerate().skip(1)).filter(move |(_, node)| node.parent == parent)
    }

    /// From the root's child down to the node.
    fn steps(&self, node: usize) -> Vec<usize> {
        let mut steps = Vec::new();
        let mut here = node;
        while here != 0 {
            steps.push(here);
            here = self.nodes[here].parent;
        }
        steps.reverse();
        steps
    }

    pub(super) fn path(&self, node: usize) -> String {
        let names: Vec<String> =
            (self.steps(node).into_iter()).map(|step| self.step_name(step)).collect();
        names.join(".")
    }

    /// A key, or an entry's name where it has one of its own, else its number.
    fn step_name(&self, node: usize) -> String {
        match &self.nodes[node].step {
            Step::Root => String::new(),
            Step::Key(key) => key.clone(),
            Step::Entry { number, name } => {
                let same =
                    |other: &Node| matches!(&other.step, Step::Entry { name: n, .. } if n == name);
                let siblings = self.children(self.nodes[node].parent);
                match name {
                    Some(name) if siblings.filter(|(_, other)| same(other)).count() == 1 => {
                        name.clone()
                    }
                    _ => number.to_string(),
                }
            }
        }
    }

    /// `in [circuit]`, `in cell.east`, `at the top level`.
    fn in_table(&self, node: usize) -> String {
        let entry = |&step: &usize| matches!(self.nodes[step].step, Step::Entry { .. });
        match node {
            0 => "at the top level".to_owned(),
            _ if self.steps(node).iter().any(entry) => format!("in {}", self.path(node)),
            _ => format!("in [{}]", self.path(node)),
        }
    }

    /// The value's place, but none for the root.
    pub(super) fn place(&self, node: usize) -> Option<Range<usize>> {
        (node != 0).then(|| self.nodes[node].value.clone())
    }

    /// Whether an error only follows from the removal of entries that were refused before it.
    pub(super) fn follows(&self, root: &Spanned<DeValue>, at: At, message: &str) -> bool {
        if let Some(missing) = missing_key(message) {
            return self.children(at.node).any(|(_, node)| node.step.is_key(missing));
        }
        match self.nodes[at.node].kind {
            Kind::List(before) if message.starts_with("invalid length") => {
                self.length(root, at.node) != Some(before)
            }
            _ => false,
        }
    }

    /// The number of entries that are still in a list.
    pub(super) fn length(&self, root: &Spanned<DeValue>, node: usize) -> Option<usize> {
        let mark = self.mark(node);
        let mut waiting = vec![root];
        while let Some(value) = waiting.pop() {
            match value.get_ref() {
                DeValue::Array(list) if value.span() == mark => return Some(list.len()),
                DeValue::Array(list) => waiting.extend(list.iter()),
                DeValue::Table(table) => waiting.extend(table.values()),
                _ => {}
            }
        }
        None
    }

    /// Says in plain words what the deserialiser said.
    pub(super) fn explain(&self, document: &Document, at: At, said: &str) -> Finding {
        let node = &self.nodes[at.node];
        if let Some((name, known)) = unknown("field", said) {
            let table = if at.key { node.parent } else { at.node };
            let place = if at.key { node.key.clone() } else { self.place(at.node) };
            let message = format!("unknown key \"{name}\" {}", self.in_table(table));
            return Finding::new(place, message).with_help(known_keys(name, &known));
        }
        if let Some(name) = missing_key(said) {
            let message = format!("missing key \"{name}\" {}", self.in_table(at.node));
            return Finding::new(self.place(at.node), message);
        }
        let (message, help) = self.value_words(at, said);
        let place = if at.key { node.key.clone() } else { self.place(at.node) };
        let place = place.map(|place| narrowed(document, place, &message));
        let path = self.path(at.node);
        let mut finding = match message.contains(&path) {
            true => Finding::new(place, message),
            false => Finding::new(place, format!("{message} in {path}")),
        };
        finding.help = help;
        if node.kind == Kind::Table
            && said.ends_with("expected a sequence")
            && document.slice(node.value.clone()).starts_with('[')
        {
            finding.help = Some(format!("a list of tables is written [[{path}]]"));
        }
        finding
    }

    /// Message and help for a value that was refused.
    fn value_words(&self, at: At, said: &str) -> (String, Option<String>) {
        if let Some((name, known)) = unknown("variant", said) {
            let known: Vec<String> = known.iter().map(|name| format!("\"{name}\"")).collect();
            let known: Vec<&str> = known.iter().map(String::as_str).collect();
            let help = choice(&format!("\"{name}\""), &known);
            return (format!("unknown value \"{name}\""), Some(help));
        }
        let (first, help) = match said.split_once('\n') {
            Some((first, help)) => (first, Some(help.trim().to_owned())),
            None => (said, None),
        };
        let needs = |wanted: &str| match self.path(at.node).as_str() {
            "" => format!("the file needs {wanted}"),
            path => format!("{path} needs {wanted}"),
        };
        let kind = self.nodes[at.node].kind;
        let message = match expected(first) {
            Some(("type", wanted)) => {
                needs(&format!("{}, not {}", plain(wanted), kind.found(wanted)))
            }
            Some(("length", wanted)) => needs(&match (kind, last_number(wanted)) {
                (Kind::List(_), _) if wanted.starts_with("struct ") => "a table, not a list".into(),
                (Kind::List(found), Some(wanted)) => format!("a list of {wanted}, not of {found}"),
                _ => plain(wanted),
            }),
            Some((_, wanted)) => needs(&plain(wanted)),
            None if first == "wanted string or table" || first.starts_with("wanted exactly 1") => {
                needs(&format!("text in quotes, not {}", kind.found("a string")))
            }
            None if first.ends_with("number overflowed") => "this number is too large".to_owned(),
            None if first.starts_with("data did not match any variant") => {
                "this is in no form that is known here".to_owned()
            }
            None => first.trim_end().to_owned(),
        };
        (message, help)
    }

    pub(super) fn locate(&self, document: &Document, problem: Problem) -> Finding {
        let (node, exact) = self.resolve(&problem.path);
        let together = !problem.related.is_empty();
        let place = match exact {
            true if together => self.key_place(node),
            true => (self.place(node)).map(|place| narrowed(document, place, &problem.message)),
            false => self.place(node),
        };
        let related = (problem.related.iter())
            .map(|path| self.resolve(path))
            .filter_map(|(node, exact)| self.key_place(node).filter(|_| exact))
            .collect();
        Finding { place, message: problem.message, help: problem.help, related }
    }

    /// Whether a path leads to a value, not to a table or to nothing.
    pub(super) fn is_value(&self, path: &str) -> bool {
        let (node, exact) = self.resolve(path);
        let kind = self.nodes[node].kind;
        exact && matches!(kind, Kind::Text | Kind::Number | Kind::Boolean(_) | Kind::Date)
    }

    /// The key of a value; the header of a table.
    fn key_place(&self, node: usize) -> Option<Range<usize>> {
        let found = &self.nodes[node];
        match (&found.key, found.kind) {
            (Some(key), Kind::Text | Kind::Number | Kind::Boolean(_) | Kind::Date) => {
                Some(key.clone())
            }
            _ => self.place(node),
        }
    }

    /// The value at a path, or the nearest one above it; whether it is the value itself.
    fn resolve(&self, path: &str) -> (usize, bool) {
        let mut here = 0;
        let mut rest = path;
        while !rest.is_empty() {
            // Names may hold dots: the longest that fits is meant, and a name before a number.
            let next = (self.children(here))
                .filter_map(|(id, node)| Some((node.step.fits(rest)?, id)))
                .min_by_key(|((rest, by_number), _)| (rest.len(), *by_number));
            match next {
                Some(((after, _), id)) => (here, rest) = (id, after),
                None => return (here, false),
            }
        }
        (here, true)
    }
}

impl Step {
    fn is_key(&self, wanted: &str) -> bool {
        matches!(self, Step::Key(key) if key == wanted)
    }

    /// What is left of a path after this step, and whether the step was taken by number.
    fn fits<'p>(&self, path: &'p str) -> Option<(&'p str, bool)> {
        match self {
            Step::Root => None,
            Step::Key(key) => Some((after_step(path, key)?, false)),
            Step::Entry { number, name } => {
                let by_name = (name.as_ref()).and_then(|name| after_step(path, name));
                match by_name {
                    Some(rest) => Some((rest, false)),
                    None => Some((after_step(path, &number.to_string())?, true)),
                }
            }
        }
    }
}

fn after_step<'p>(path: &'p str, step: &str) -> Option<&'p str> {
    let rest = path.strip_prefix(step)?;
    match rest.strip_prefix('.') {
        Some(after) if !after.is_empty() => Some(after),
        _ => rest.is_empty().then_some(rest),
    }
}

impl Kind {
    pub(super) fn of(value: &DeValue) -> Kind {
        match value {
            DeValue::String(_) => Kind::Text,
            DeValue::Integer(_) | DeValue::Float(_) => Kind::Number,
            DeValue::Boolean(value) => Kind::Boolean(*value),
            DeValue::Datetime(_) => Kind::Date,
            DeValue::Array(list) => Kind::List(list.len()),
            DeValue::Table(_) => Kind::Table,
        }
    }

    /// What was found where something else was wanted.
    pub(super) fn found(self, wanted: &str) -> &'static str {
        match self {
            Kind::Text => "text",
            Kind::Number if integer(wanted) => "a fraction",
            Kind::Number if plain(wanted) == wanted => "a bare number",
            Kind::Number => "a number",
            Kind::Boolean(true) => "true",
            Kind::Boolean(false) => "false",
            Kind::Date => "a date or time",
            Kind::List(_) => "a list",
            Kind::Table => "a table",
        }
    }
}
