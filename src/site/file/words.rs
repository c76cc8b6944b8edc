//! The parsers' messages in words for someone who knows towers.

use std::ops::Range;

use super::document::Document;

/// The name that was not known, and those that are.
pub(super) fn unknown<'m>(what: &str, said: &'m str) -> Option<(&'m str, Vec<&'m str>)> {
    let rest = said.strip_prefix("unknown ")?.strip_prefix(what)?;
    let rest = rest.strip_prefix(" `")?;
    let (name, known) =
        (rest.rsplit_once("`, expected ")).or(rest.rsplit_once("`, there are no "))?;
    Some((name, known.split('`').skip(1).step_by(2).collect()))
}

pub(super) fn missing_key(said: &str) -> Option<&str> {
    said.strip_prefix("missing field `")?.strip_suffix('`')
}

/// `type`, `value` or `length`, and what was expected instead.
pub(super) fn expected(said: &str) -> Option<(&str, &str)> {
    let (found, wanted) = said.strip_prefix("invalid ")?.rsplit_once(", expected ")?;
    let what = found.split([':', ' ']).next()?;
    ["type", "value", "length"].contains(&what).then_some((what, wanted))
}

pub(super) fn integer(wanted: &str) -> bool {
    let digits = wanted.strip_prefix(['u', 'i']).unwrap_or("");
    ["8", "16", "32", "64", "128", "size"].contains(&digits)
}

/// What the deserialiser wanted, in words for someone who knows towers.
pub(super) fn plain(wanted: &str) -> String {
    let first = wanted.split(' ').next().unwrap_or("");
    let words = match wanted {
        "f32" | "f64" => "a number",
        "u8" => "a whole number from 0 to 255",
        "u16" => "a whole number from 0 to 65535",
        _ if integer(wanted) && wanted.starts_with('u') => "a whole number, 0 or more",
        _ if integer(wanted) => "a whole number",
        "a string" | "a borrowed string" | "string" | "string or table" => "text in quotes",
        "a character" | "char" => "one letter in quotes",
        "a boolean" => "true or false",
        "a sequence" => "a list",
        "a map" => "a table",
        "unit" => "nothing",
        _ => match first {
            "struct" => "a table",
            "enum" => "text in quotes",
            "tuple" => "a list",
            _ => wanted,
        },
    };
    words.to_owned()
}

pub(super) fn last_number(text: &str) -> Option<usize> {
    let mut numbers = text.split(' ').filter_map(|word| word.parse().ok());
    numbers.next_back()
}

/// What laboratories call a key of an analysis.
const OF_LABORATORIES: [(&str, &[&str]); 24] = [
    ("hardness", &["total_hardness", "th", "gh"]),
    ("calcium", &["ca", "calcium_hardness", "ca_hardness"]),
    ("magnesium", &["mg", "magnesium_hardness", "mg_hardness"]),
    ("sodium", &["na"]),
    ("potassium", &["k"]),
    ("alkalinity", &["m_alkalinity", "total_alkalinity", "m_alk", "alk", "ta", "kh"]),
    ("p_alkalinity", &["p_alk", "phenolphthalein_alkalinity"]),
    ("bicarbonate", &["hco3", "bicarbonates"]),
    ("carbonate", &["co3"]),
    ("chloride", &["cl"]),
    ("sulfate", &["so4", "sulphates"]),
    ("nitrate", &["no3", "nitrogen"]),
    ("fluoride", &["f"]),
    ("phosphate", &["po4", "orthophosphate", "ortho_phosphate"]),
    ("silica", &["sio2", "silicon", "reactive_silica"]),
    ("iron", &["fe", "total_iron", "dissolved_iron"]),
    ("manganese", &["mn"]),
    ("zinc", &["zn"]),
    ("aluminium", &["al"]),
    ("ammonia", &["nh3", "nh4", "ammonium", "ammoniacal_nitrogen"]),
    ("conductivity", &["ec", "cond", "sc", "specific_conductance", "specific_conductivity"]),
    ("suspended_solids", &["tss", "total_suspended_solids"]),
    ("turbidity", &["ntu"]),
    ("sampled", &["date", "day", "sample_date", "sampling_date"]),
];

/// The keys that a laboratory's name stands for, where these are known here.
fn of_laboratories(name: &str, known: &[&str]) -> Option<String> {
    let name = name.to_lowercase().replace('-', "_");
    if ["tds", "total_dissolved_solids"].contains(&name.as_str()) && known.contains(&"tds_pen") {
        return Some(
            "write dissolved_solids for what drying leaves, dissolved_ions for a sum of ions, tds_pen for a pen's reading"
                .into(),
        );
    }
    let (key, _) = OF_LABORATORIES
        .iter()
        .find(|(key, names)| known.contains(key) && names.contains(&name.as_str()))?;
    Some(format!("here it is called \"{key}\""))
}

pub(super) fn known_keys(name: &str, known: &[&str]) -> String {
    if let Some(help) = of_laboratories(name, known) {
        return help;
    }
    match nearest(name, known) {
        Some(known) => format!("did you mean \"{known}\"?"),
        None if known.is_empty() => "no keys are known here".to_owned(),
        None => format!("known here: {}", known.join(", ")),
    }
}

pub(super) fn choice(name: &str, known: &[&str]) -> String {
    let list = match known {
        [] => "none is known".to_owned(),
        [only] => format!("only {only} is known"),
        _ => format!("one of {}", known.join(", ")),
    };
    match nearest(name, known) {
        Some(known) => format!("{list}; did you mean {known}?"),
        None => list,
    }
}

/// The known name that a slip of the fingers may have missed.
pub(super) fn nearest<'k>(name: &str, known: &[&'k str]) -> Option<&'k str> {
    // Anything longer is no slip, and would take long to compare.
    if name.len() > 60 {
        return None;
    }
    let name = name.to_lowercase();
    let slips = |known: &str| strsim::damerau_levenshtein(&name, &known.to_lowercase());
    let most = (name.chars().count() / 3).max(1);
    (known.iter().map(|known| (slips(known), *known)))
        .filter(|(slips, known)| *slips <= most && *slips < known.chars().count())
        .min_by_key(|(slips, _)| *slips)
        .map(|(_, known)| known)
}

/// The first quoted part of the message that occurs in the value, or else the whole value.
pub(super) fn narrowed(document: &Document, place: Range<usize>, message: &str) -> Range<usize> {
    let value = document.slice(place.clone());
    let quoted = message.split('"').skip(1).step_by(2);
    let found = (quoted.filter(|part| !part.is_empty()))
        .find_map(|part| Some((value.find(part)?, part.len())));
    match found {
        Some((offset, length)) => place.start + offset..place.start + offset + length,
        None => place,
    }
}

/// The parser's message in plain words, and how to mend it. `found` is the text at the place,
/// `after` what follows it.
pub(super) fn syntax_words(said: &str, found: &str, after: &str) -> (String, Option<String>) {
    let (what, wanted) = said.split_once(", expected ").unwrap_or((said, ""));
    let (message, help): (&str, &str) = match what {
        "string values must be quoted" => return unquoted(found),
        "duplicate key" => return (format!("\"{found}\" is given twice"), None),
        "invalid basic string"
        | "invalid literal string"
        | "invalid multi-line basic string"
        | "invalid multi-line literal string"
            if wanted.len() <= 3 =>
        {
            ("the text is not closed", "the closing quote is missing")
        }
        "invalid basic string" | "invalid multi-line basic string" => {
            ("a character that cannot stand in text", "write it as \\u and four digits")
        }
        "unclosed array" => ("the list is not closed", "it ends with \"]\""),
        "unclosed inline table" => ("the table is not closed", "it ends with \"}\""),
        "unclosed table" => ("the table's header is not closed", "it ends with \"]\""),
        "unclosed array table" => ("the table's header is not closed", "it ends with \"]]\""),
        "key with no value" => ("no value for this key", "write key = value"),
        "unquoted keys cannot be empty" => ("no key before \"=\"", "write key = value"),
        "invalid unquoted key" => (
            "this cannot stand in a key",
            "a key is made of letters a to z, digits, \"_\" and \"-\"",
        ),
        "unexpected key or value" if after.starts_with(',') => (
            "a comma cannot stand in a number",
            "write 4000 for four thousand, 1.5 for one and a half",
        ),
        "unexpected key or value" => {
            ("nothing more can stand here", "write one key = value a line")
        }
        "unexpected leading zero" => ("a number cannot begin with 0", "leave the 0 out"),
        "invalid fraction" | "invalid mantissa" | "invalid exponent" | "invalid integer" => {
            ("digits are missing in this number", "write it like 0.5 or 5.0")
        }
        "missing escaped value" => (
            "\"\\\" has a meaning of its own in text",
            "write \"\\\\\", or put the text in single quotes",
        ),
        "recursion limit" | "cannot recurse further; max recursion depth met" => {
            return ("nested too deeply".to_owned(), None);
        }
        _ if what.starts_with("cannot extend value of type ") => {
            let message = format!("\"{found}\" has a value already: it cannot hold keys");
            return (message, None);
        }
        _ => return (said.to_owned(), None),
    };
    (message.to_owned(), Some(help.to_owned()))
}

pub(super) fn is_unclosed(said: &str) -> bool {
    ["unclosed array,", "unclosed inline table,"].iter().any(|start| said.starts_with(start))
}

/// Words for a value that is no number, date, list or quoted text.
fn unquoted(found: &str) -> (String, Option<String>) {
    let found = found.trim();
    let text = found.trim_matches(['“', '”', '„', '«', '»', '‘', '’', '"', '\'']);
    let (message, help) = match found.to_lowercase().as_str() {
        "" => return ("no value after \"=\"".to_owned(), None),
        "yes" | "on" | "true" => ("this is not a value", "write true".to_owned()),
        "no" | "off" | "false" => ("this is not a value", "write false".to_owned()),
        _ if text.contains(['"', '\\']) => {
            ("text must stand in quotes", "put quotes around it".to_owned())
        }
        _ if found.starts_with(['“', '”', '„', '«', '»', '‘', '’']) => {
            ("text must stand in straight quotes", format!("write \"{text}\""))
        }
        _ => ("text must stand in quotes", format!("write \"{text}\"")),
    };
    (message.to_owned(), Some(help))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_laboratories_lead_to_the_keys() {
        let known = ["alkalinity", "sulfate", "dissolved_solids", "tds_pen"];
        assert_eq!(known_keys("M-alkalinity", &known), "here it is called \"alkalinity\"");
        assert_eq!(known_keys("SO4", &known), "here it is called \"sulfate\"");
        assert!(known_keys("TDS", &known).contains("tds_pen for a pen's reading"));
        // Elsewhere the same letters are nothing of the kind.
        assert_eq!(known_keys("so4", &["volume"]), "known here: volume");
    }
}
