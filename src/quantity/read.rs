//! Reading values as people write them: `900 m3/h`, `4000gpm ± 5 %`, `95 degF ± 1 degF (k=2)`.

use super::unit::{self, Unit};
use super::{
    Amount, Basis, Concentration, Conductivity, Coverage, Measured, Quantity, Reported, Stated,
    Temperature, Uncertainty,
};
use serde::de::{self, Deserialize, Deserializer, Visitor};
use std::fmt;
use std::marker::PhantomData;
use std::str::FromStr;

/// Why a text is not a value of the expected quantity. `Display` gives what is wrong and, on a
/// second line, what would be right.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{message}\n{help}")]
pub struct ReadError {
    /// What is wrong.
    pub message: String,
    /// What would be right.
    pub help: String,
}

impl ReadError {
    fn new(message: impl Into<String>, help: impl Into<String>) -> Self {
        Self { message: message.into(), help: help.into() }
    }
}

impl<Q: Measured> FromStr for Stated<Q> {
    type Err = ReadError;

    /// Reads `NUMBER UNIT [± NUMBER [UNIT or %] [(k=NUMBER)]]`; `+/-` is read as `±`.
    ///
    /// # Errors
    /// [`ReadError`] for text that is not a finite number with a unit of [`Measured::EXPECTED`].
    fn from_str(text: &str) -> Result<Self, ReadError> {
        let (quantity, si, uncertainty) = read_one_of(text, Q::EXPECTED)?;
        Ok(Self { value: Q::of_si(quantity, si), uncertainty })
    }
}

/// Reads a value of a quantity that is known only at run time: SI, with its uncertainty.
///
/// # Errors
/// [`ReadError`] as for a value of the site file.
pub fn read_value(text: &str, quantity: Quantity) -> Result<(f64, Option<Uncertainty>), ReadError> {
    read_one_of(text, &[quantity]).map(|(_, si, uncertainty)| (si, uncertainty))
}

/// A value of one of several quantities, in SI.
fn read_one_of(
    text: &str,
    expected: &[Quantity],
) -> Result<(Quantity, f64, Option<Uncertainty>), ReadError> {
    let (value, spread) = split_at_plus_minus(text);
    let (number, unit_text) = split_number(value.trim(), expected)?;
    let unit_text = unit_text.trim();
    let Some(spread) = spread else {
        let unit = find_unit(unit_text, expected)?;
        return Ok((unit.quantity, unit.to_si(number), None));
    };
    let spread = Spread::parse(spread, expected)?;
    // "900 ± 20 m3/h": the unit may stand once, at the end.
    let stands_at_end = unit_text.is_empty() && !spread.unit_text.is_empty();
    let unit = find_unit(if stands_at_end { spread.unit_text } else { unit_text }, expected)?;
    let half_width = spread.half_width(number, unit, stands_at_end)?;
    let uncertainty = Uncertainty { half_width, coverage: spread.coverage };
    Ok((unit.quantity, unit.to_si(number), Some(uncertainty)))
}

fn examples(expected: &[Quantity]) -> String {
    let examples: Vec<_> = expected.iter().map(|quantity| quantity.example()).collect();
    format!("{} is written like {}", expected[0].name(), examples.join(", or "))
}

fn split_at_plus_minus(text: &str) -> (&str, Option<&str>) {
    ["±", "+/-", "+-"]
        .iter()
        .find_map(|sign| text.split_once(sign))
        .map_or((text, None), |(value, spread)| (value, Some(spread)))
}

/// Whether a number is no larger than any that is measured, in whatever unit it is written; NaN and infinity are
/// none.
pub(crate) fn can_be_measured(number: f64) -> bool {
    number.abs() <= 1e15
}

/// Splits a text into its leading number and the rest.
fn split_number<'a>(text: &'a str, expected: &[Quantity]) -> Result<(f64, &'a str), ReadError> {
    let end = number_length(text);
    if text[end..].starts_with(',') {
        let digits = |c: char| c.is_ascii_digit() || c == ',' || c == '.';
        let whole = &text[..text.find(|c| !digits(c) && c != '-').unwrap_or(text.len())];
        return Err(ReadError::new(
            format!("the number \"{whole}\" holds a comma"),
            without_comma(whole),
        ));
    }
    let written = text[..end].replace('\u{2212}', "-");
    match written.parse::<f64>() {
        Ok(number) if can_be_measured(number) => Ok((number, &text[end..])),
        Ok(_) => Err(ReadError::new(
            format!("\"{written}\" is too large to be a measured value"),
            examples(expected),
        )),
        Err(_) => Err(ReadError::new(
            format!("\"{text}\" does not begin with a number"),
            examples(expected),
        )),
    }
}

/// What a number with a comma may mean: three digits behind each comma may be thousands, any other count
/// is decimals.
fn without_comma(whole: &str) -> String {
    let point = whole.rfind(',').map(|at| {
        let before = whole[..at].replace([',', '.'], "");
        format!("{before}.{}", &whole[at + 1..])
    });
    let decimal = point.unwrap_or_default();
    let may_be_thousands = whole.split(['.', ',']).skip(1).all(|group| group.len() == 3);
    if whole.rfind('.') > whole.rfind(',') {
        format!("write \"{}\" without a separator for thousands", whole.replace(',', ""))
    } else if may_be_thousands && !whole.contains('.') {
        format!(
            "write \"{}\" without a separator for thousands, or a point for decimals: \"{decimal}\"",
            whole.replace(',', "")
        )
    } else {
        format!("write decimals with a point: \"{decimal}\"")
    }
}

/// How many bytes at the start of `text` read as a decimal number with optional exponent.
pub(crate) fn number_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let sign = if text.starts_with('\u{2212}') {
        '\u{2212}'.len_utf8()
    } else {
        usize::from(text.starts_with(['-', '+']))
    };
    let digits = |from: usize| bytes[from..].iter().take_while(|b| b.is_ascii_digit()).count();
    let mut end = sign + digits(sign);
    if bytes.get(end) == Some(&b'.') {
        end += 1 + digits(end + 1);
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let exponent_sign = usize::from(matches!(bytes.get(end + 1), Some(b'-' | b'+')));
        let exponent = digits(end + 1 + exponent_sign);
        if exponent > 0 {
            end += 1 + exponent_sign + exponent;
        }
    }
    end
}

/// The unit that a text names, if it is one of an expected quantity.
pub(crate) fn find_unit(text: &str, expected: &[Quantity]) -> Result<&'static Unit, ReadError> {
    if text.is_empty() {
        return expected
            .iter()
            .find_map(|quantity| quantity.bare_unit())
            .ok_or_else(|| ReadError::new("the number has no unit", examples(expected)));
    }
    if let Some(unit) = expected.iter().find_map(|quantity| unit::written_as(text, *quantity)) {
        return Ok(unit);
    }
    if text.starts_with(|c: char| c.is_ascii_digit() || c == '\'') {
        return Err(ReadError::new(
            format!("\"{text}\" after the number is not a unit"),
            "write a large number without a separator: \"4000\"",
        ));
    }
    let is_range = text
        .strip_prefix(['-', '\u{2013}', '\u{2026}'])
        .is_some_and(|rest| rest.trim_start().starts_with(|c: char| c.is_ascii_digit()));
    if is_range {
        return Err(ReadError::new(
            format!("\"{text}\" after the number makes a range of it"),
            "write the middle with how far it may be off: \"29 mg/L ± 1 mg/L\" for 28 to 30",
        ));
    }
    if let Some(unit) = before_words(text, expected) {
        return Err(ReadError::new(
            format!("\"{text}\" is more than a unit"),
            format!(
                "leave out what stands behind \"{unit}\", or write it behind a #, as a comment"
            ),
        ));
    }
    if expected == [Quantity::Ratio] && (text.starts_with("at ") || text.starts_with('@')) {
        return Err(ReadError::new(
            format!("unknown unit \"{text}\""),
            "a pH stands alone: its temperature goes into temperature = \"20 degC\"",
        ));
    }
    if let Some(ambiguous) = unit::ambiguous(text) {
        return Err(ReadError::new(
            format!("ambiguous unit \"{text}\""),
            format!("{}: {}", ambiguous.why, ambiguous.instead),
        ));
    }
    let elsewhere = unit::UNITS.iter().find_map(|unit| unit::written_as(text, unit.quantity));
    if let Some(unit) = elsewhere {
        return Err(ReadError::new(
            format!(
                "\"{text}\" is a unit of {}, not of {}",
                bare(unit.quantity),
                bare(expected[0])
            ),
            examples(expected),
        ));
    }
    Err(ReadError::new(format!("unknown unit \"{text}\""), suggestion(text, expected)))
}

/// The unit of a laboratory's number that a text begins with, before words.
fn before_words<'a>(text: &'a str, expected: &[Quantity]) -> Option<&'a str> {
    const OF_LABORATORIES: [Quantity; 5] = [
        Quantity::MassConcentration,
        Quantity::MolarConcentration,
        Quantity::EquivalentConcentration,
        Quantity::Conductivity,
        Quantity::Turbidity,
    ];
    if !expected.iter().all(|quantity| OF_LABORATORIES.contains(quantity)) {
        return None;
    }
    let is_unit = |unit: &str| expected.iter().any(|q| unit::written_as(unit, *q).is_some());
    let mut ends = text.match_indices([' ', ',', ';', '(']).map(|(at, _)| text[..at].trim_end());
    ends.rfind(|unit| !unit.is_empty() && is_unit(unit))
}

/// The name of a quantity without its article.
fn bare(quantity: Quantity) -> &'static str {
    quantity.name().trim_start_matches("a ")
}

/// The one unit that is a single slip away, and how such a value is written.
fn suggestion(text: &str, expected: &[Quantity]) -> String {
    let written = unit::normalised(text).to_lowercase();
    let is_slip = |spelling: &str| {
        let spelling = unit::normalised(spelling).to_lowercase();
        spelling.len() > 2 && strsim::damerau_levenshtein(&spelling, &written) == 1
    };
    let is_near = |unit: &&Unit| {
        expected.contains(&unit.quantity)
            && std::iter::once(&unit.symbol).chain(unit.spellings).any(|s| is_slip(s))
    };
    let mut near = unit::UNITS.iter().filter(is_near);
    match (near.next(), near.next()) {
        (Some(only), None) => format!("did you mean \"{}\"? {}", only.symbol, examples(expected)),
        _ => examples(expected),
    }
}

/// What stands behind `±`.
struct Spread<'a> {
    number: f64,
    unit_text: &'a str,
    coverage: Coverage,
}

impl<'a> Spread<'a> {
    fn parse(text: &'a str, expected: &[Quantity]) -> Result<Self, ReadError> {
        let (text, coverage) = split_coverage(text.trim())?;
        let (number, unit_text) = split_number(text, expected)?;
        if number < 0.0 {
            return Err(ReadError::new(
                format!("the uncertainty \"{number}\" is negative"),
                "write the half width after ±, like \"900 m3/h ± 20 m3/h\"",
            ));
        }
        Ok(Self { number, unit_text: unit_text.trim(), coverage })
    }

    /// The half width in SI units, beside a value of `number` `unit`s.
    fn half_width(
        &self,
        number: f64,
        unit: &Unit,
        unit_stands_here: bool,
    ) -> Result<f64, ReadError> {
        let scale = unit.factor.abs();
        if unit_stands_here
            || (self.unit_text.is_empty() && unit.quantity.bare_unit() == Some(unit))
        {
            return Ok(self.number * scale);
        }
        match self.unit_text {
            "%" => self.relative(number, unit),
            "% of value" | "% of reading" => Ok(number.abs() * scale * self.number / 100.0),
            "points" | "point" | "% points" if unit.quantity.is_written_in_percent() => {
                Ok(self.number / 100.0)
            }
            other => {
                // A temperature's ± is a difference: 0.5 degC means 0.5 K.
                let quantity = match unit.quantity {
                    Quantity::Temperature => Quantity::TemperatureDifference,
                    other => other,
                };
                // Nothing is nothing in any unit.
                if other.is_empty() && self.number == 0.0 {
                    return Ok(0.0);
                }
                if other.is_empty() {
                    return Err(ReadError::new(
                        "the uncertainty has no unit",
                        format!("write \"± {} {}\" or \"± 3 %\"", self.number, unit.symbol),
                    ));
                }
                Ok(find_unit(other, &[quantity])?.factor * self.number)
            }
        }
    }

    /// `± 3 %`, which has two readings where the value is itself in per cent.
    fn relative(&self, number: f64, unit: &Unit) -> Result<f64, ReadError> {
        if unit.quantity == Quantity::Temperature {
            return Err(ReadError::new(
                "a percentage of a temperature has no meaning",
                "write the uncertainty as a difference, like \"32 degC ± 0.5 K\"",
            ));
        }
        let in_percent = unit.quantity.is_written_in_percent() && unit.symbol == "%";
        // More points than the value itself would reach below zero: only one reading is left.
        if in_percent && self.number <= number.abs() {
            return Err(ReadError::new(
                format!("\"± {} %\" can mean points or a part of the value", self.number),
                format!(
                    "write \"± {} points\" for {} to {} %, or \"± {} % of value\"",
                    self.number,
                    significant(number - self.number),
                    significant(number + self.number),
                    self.number
                ),
            ));
        }
        Ok(number.abs() * unit.factor.abs() * self.number / 100.0)
    }
}

fn significant(number: f64) -> String {
    super::significant(number, 4)
}

/// Takes a trailing `(k=2)` off.
fn split_coverage(text: &str) -> Result<(&str, Coverage), ReadError> {
    let Some((before, inside)) = text.split_once('(') else {
        return Ok((text, Coverage::Limit));
    };
    let factor = inside
        .trim_end()
        .strip_suffix(')')
        .and_then(|inside| inside.trim().strip_prefix('k'))
        .and_then(|inside| inside.trim_start().strip_prefix('='))
        .and_then(|factor| factor.trim().parse::<f64>().ok())
        .filter(|factor| factor.is_finite() && *factor > 0.0);
    match factor {
        Some(factor) => Ok((before.trim_end(), Coverage::Factor(factor))),
        None => Err(ReadError::new(
            format!("\"({inside}\" is not a coverage factor"),
            "write \"(k=2)\" for an expanded uncertainty, \"(k=1)\" for a standard one, nothing for a limit",
        )),
    }
}

impl<'de, Q: Measured> Deserialize<'de> for Stated<Q> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Text<Q>(PhantomData<Q>);

        impl<Q: Measured> Text<Q> {
            fn number<E: de::Error>(number: f64) -> Result<Stated<Q>, E> {
                if !number.is_finite() {
                    return Err(E::custom(format!(
                        "{number} is not a number\n{}",
                        examples(Q::EXPECTED)
                    )));
                }
                let unit = find_unit("", Q::EXPECTED).map_err(E::custom)?;
                Ok(Q::of_si(unit.quantity, unit.to_si(number)).into())
            }
        }

        impl<Q: Measured> Visitor<'_> for Text<Q> {
            type Value = Stated<Q>;

            fn expecting(&self, formatter: &mut fmt::Formatter) -> fmt::Result {
                formatter.write_str(&examples(Q::EXPECTED))
            }

            fn visit_str<E: de::Error>(self, text: &str) -> Result<Self::Value, E> {
                text.parse().map_err(E::custom)
            }

            fn visit_f64<E: de::Error>(self, number: f64) -> Result<Self::Value, E> {
                Self::number(number)
            }

            fn visit_i64<E: de::Error>(self, number: i64) -> Result<Self::Value, E> {
                Self::number(number as f64)
            }

            fn visit_u64<E: de::Error>(self, number: u64) -> Result<Self::Value, E> {
                Self::number(number as f64)
            }
        }

        deserializer.deserialize_any(Text(PhantomData))
    }
}

/// Takes a leading `<` off, which marks a limit of detection.
fn split_below(text: &str) -> Result<(bool, &str), ReadError> {
    let text = text.trim();
    if text.starts_with(['>', '≥']) {
        return Err(ReadError::new(
            format!("\"{text}\" is beyond the method's range"),
            "have the sample diluted and write the number that comes of it",
        ));
    }
    if text.starts_with(['~', '≈']) {
        return Err(ReadError::new(
            format!("\"{text}\" does not begin with a number"),
            "write how far it may be off: \"240 mg/L as CaCO3 ± 10 %\"",
        ));
    }
    if text.starts_with(char::is_alphabetic) {
        return Err(ReadError::new(
            format!("\"{text}\" is no number"),
            "where nothing was detected, write the laboratory's limit: \"<1 mg/L\", with its basis; leave out what \
             nobody looked for",
        ));
    }
    Ok(match text.strip_prefix(['<', '≤']) {
        Some(limit) => (true, limit.trim_start_matches('=').trim_start()),
        None => (false, text),
    })
}

/// Below a limit of detection there is no `±` of one's own.
fn check_below(is_below: bool, uncertainty: Option<Uncertainty>) -> Result<(), ReadError> {
    match is_below && uncertainty.is_some() {
        true => Err(ReadError::new(
            "a value below its limit of detection carries no ±",
            "write \"<1 mg/L\": it counts as half of that, within nothing and all of it",
        )),
        false => Ok(()),
    }
}

impl<Q: Measured> FromStr for Reported<Q> {
    type Err = ReadError;

    /// Reads as [`Stated`] does, after an optional `<`.
    fn from_str(text: &str) -> Result<Self, ReadError> {
        let (is_below, value) = split_below(text)?;
        let stated: Stated<Q> = value.parse()?;
        check_below(is_below, stated.uncertainty)?;
        Ok(Self { stated, is_below, written: text.trim().to_owned() })
    }
}

/// A conductivity with the temperature that it is stated at, as in `560 uS/cm at 20 degC`.
#[derive(Debug, Clone, PartialEq)]
pub struct SampledConductivity {
    /// As stated.
    pub stated: Stated<Conductivity>,
    /// The temperature; 25 degC where none is named.
    pub at: Option<Temperature>,
    /// As it was written.
    pub written: String,
}

impl FromStr for SampledConductivity {
    type Err = ReadError;

    /// Reads as [`Stated`] does, before an optional temperature: `at 20 degC`, `@ 20 degC`, `(20 degC)`, `, 20 degC`;
    /// `compensated` and `ATC` stand for 25 degC.
    fn from_str(text: &str) -> Result<Self, ReadError> {
        let written = text.trim().to_owned();
        if ["uncompensated", "not compensated"]
            .iter()
            .any(|word| find_any_case(text, word).is_some())
        {
            return Err(ReadError::new(
                format!("\"{written}\" does not say at which temperature"),
                "write that of the sample: \"560 uS/cm at 20 degC\" is carried to 25 degC",
            ));
        }
        let signs = [" at ", "@", "(", ", "];
        let split = signs.iter().find_map(|sign| text.split_once(sign)).filter(|(_, at)| {
            // The factor of a ± stands in brackets too.
            !at.trim_start().starts_with('k')
        });
        let (value, at) = match split {
            Some((value, at)) => (value, sample_temperature(at)?),
            None => match text.trim_end().rsplit_once(' ') {
                Some((value, word)) if is_compensated(word) => (value, None),
                _ => (text, None),
            },
        };
        Ok(Self { stated: value.trim().parse()?, at, written })
    }
}

/// Whether a word says that a meter carries its reading to 25 degC.
fn is_compensated(word: &str) -> bool {
    ["compensated", "ATC"].iter().any(|known| known.eq_ignore_ascii_case(word.trim()))
}

/// The temperature that stands behind a conductivity; `None` for one that a meter has carried to 25 degC.
fn sample_temperature(text: &str) -> Result<Option<Temperature>, ReadError> {
    let text = text.trim().trim_end_matches(')').trim_start_matches(['@', ' ']);
    let text = text.strip_prefix("at ").unwrap_or(text).trim();
    match is_compensated(text) {
        true => Ok(None),
        false => Ok(Some(text.parse::<Stated<Temperature>>()?.value)),
    }
}

impl From<Stated<Conductivity>> for SampledConductivity {
    fn from(stated: Stated<Conductivity>) -> Self {
        let number = stated.value.in_microsiemens_per_centimetre();
        Self { stated, at: None, written: format!("{number} uS/cm") }
    }
}

/// How a concentration is written, where an amount without a basis would be shown.
fn with_a_basis(error: ReadError) -> ReadError {
    match error.help == examples(Amount::EXPECTED) {
        true => ReadError { help: CONCENTRATION_HELP.into(), ..error },
        false => error,
    }
}

const CONCENTRATION_HELP: &str = "write \"48 mg/L as Ca\", \"120 mg/L as CaCO3\" or \"2.4 meq/L\"";

/// Where the ASCII text `needle` begins in any case.
fn find_any_case(text: &str, needle: &str) -> Option<usize> {
    let (text, needle) = (text.as_bytes(), needle.as_bytes());
    text.windows(needle.len()).position(|window| window.eq_ignore_ascii_case(needle))
}

/// A concentration's amount, what it is counted as, and its `±`: `48 mg/L as Ca`, `48 mg/L (as Ca)`,
/// `48 mg/L Ca`, `48 mg Ca/L`.
fn split_basis(text: &str) -> (String, Option<&str>, &str) {
    if let Some(start) = find_any_case(text, "(as ") {
        let after = &text[start + 4..];
        let (formula, rest) = after.split_once(')').unwrap_or((after, ""));
        return (text[..start].trim().to_owned(), Some(formula.trim()), rest.trim());
    }
    let at_spread = |text: &str| {
        let signs = ["±", "+/-"].iter().filter_map(|sign| text.find(sign));
        signs.min().unwrap_or(text.len())
    };
    if let Some(start) = find_any_case(text, " as ") {
        let after = &text[start + 4..];
        let (formula, spread) = after.split_at(at_spread(after));
        return (text[..start].trim().to_owned(), Some(formula.trim()), spread);
    }
    let (value, spread) = text.split_at(at_spread(text));
    let value = value.trim_end();
    let (number, unit) = value.split_at(number_length(value));
    let unit = unit.trim();
    let is_whole = find_unit(unit, Amount::EXPECTED).is_ok();
    if let (false, Some((mass, volume))) = (is_whole, unit.split_once('/'))
        && let Some((mass, formula)) = mass.split_once(' ')
        && find_unit(&format!("{mass}/{volume}"), Amount::EXPECTED).is_ok()
    {
        return (format!("{number} {mass}/{volume}"), Some(formula.trim()), spread);
    }
    if let (false, Some((unit, formula))) = (is_whole, unit.split_once(' '))
        && find_unit(unit, Amount::EXPECTED).is_ok()
    {
        return (format!("{number} {unit}"), Some(formula.trim()), spread);
    }
    (value.to_owned(), None, spread)
}

impl FromStr for Concentration {
    type Err = ReadError;

    /// Reads `NUMBER UNIT as BASIS`, or `NUMBER mmol/L`, or `NUMBER meq/L`, each with or without `±`, or
    /// with a `<` before it, and with words of the method behind it ("total", "EDTA"). A mass without a basis is
    /// read too: which are right, the constituent knows. Grains per gallon are as CaCO3, and nothing is nothing.
    fn from_str(text: &str) -> Result<Self, ReadError> {
        let (is_below, value) = split_below(text)?;
        let written = text.trim().to_owned();
        // Nothing is nothing in any unit.
        if value.trim().parse::<f64>() == Ok(0.0) {
            let amount = Amount::of_si(Quantity::MolarConcentration, 0.0).into();
            return Ok(Self { amount, is_below: false, basis: None, unknown_basis: None, written });
        }
        let (value, formula, spread) = split_basis(value);
        let value = without_remarks(&value);
        let (basis, unknown_basis) = match formula.map(without_remarks) {
            None | Some("") => (None, None),
            Some(formula) => match Basis::of_formula(formula) {
                Some(basis) => (Some(basis), None),
                None => (None, Some(formula.to_owned())),
            },
        };
        let amount: Result<Stated<Amount>, _> = format!("{value} {spread}").trim().parse();
        let amount = amount.map_err(with_a_basis)?;
        check_below(is_below, amount.uncertainty)?;
        let is_mass = matches!(amount.value, Amount::Mass(_));
        // Equivalents are those of any basis; moles of another substance are others.
        let names_moles = matches!(amount.value, Amount::Moles(_))
            && matches!(
                basis,
                Some(Basis::CalciumCarbonate | Basis::CalciumOxide | Basis::PhosphorusPentoxide)
            );
        if unknown_basis.is_some() && !is_mass || names_moles {
            return Err(ReadError::new(
                format!("\"{text}\" counts moles or equivalents and a mass at once"),
                CONCENTRATION_HELP,
            ));
        }
        let unit = value[number_length(value)..].trim();
        let is_grains = unit::written_as(unit, Quantity::MassConcentration)
            .is_some_and(|unit| unit.symbol == "gr/US gal");
        let basis = match (is_mass, basis) {
            (false, _) => None,
            (true, None) if is_grains && unknown_basis.is_none() => Some(Basis::CalciumCarbonate),
            (true, basis) => basis,
        };
        Ok(Self { amount, is_below, basis, unknown_basis, written })
    }
}

/// Words of a laboratory's sheet about the method, which change no number.
const REMARKS: [&str; 12] = [
    "total",
    "dissolved",
    "filtered",
    "unfiltered",
    "soluble",
    "reactive",
    "titration",
    "EDTA",
    "ICP",
    "photometric",
    "calculated",
    "M",
];

/// A text without the words of its method behind it.
fn without_remarks(text: &str) -> &str {
    let mut left = text.trim();
    loop {
        let at = left.trim_end_matches([')', ',', ';', ' ']);
        let from = at.rfind([' ', ',', ';', '(']).map_or(0, |sign| sign + 1);
        if !REMARKS.iter().any(|known| known.eq_ignore_ascii_case(&at[from..])) {
            return left;
        }
        left = at[..from].trim_end_matches(['(', ',', ';', ' ']);
    }
}

/// A text, or a bare number as one.
fn written<'de, D: Deserializer<'de>>(deserializer: D) -> Result<String, D::Error> {
    struct Text;

    impl Visitor<'_> for Text {
        type Value = String;

        fn expecting(&self, formatter: &mut fmt::Formatter) -> fmt::Result {
            formatter.write_str("a number with its unit, in quotes")
        }

        fn visit_str<E: de::Error>(self, text: &str) -> Result<String, E> {
            Ok(text.to_owned())
        }

        fn visit_f64<E: de::Error>(self, number: f64) -> Result<String, E> {
            Ok(number.to_string())
        }

        fn visit_i64<E: de::Error>(self, number: i64) -> Result<String, E> {
            Ok(number.to_string())
        }

        fn visit_u64<E: de::Error>(self, number: u64) -> Result<String, E> {
            Ok(number.to_string())
        }
    }

    deserializer.deserialize_any(Text)
}

impl<'de> Deserialize<'de> for Concentration {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        written(deserializer)?.parse().map_err(de::Error::custom)
    }
}

impl<'de, Q: Measured> Deserialize<'de> for Reported<Q> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        written(deserializer)?.parse().map_err(de::Error::custom)
    }
}

impl<'de> Deserialize<'de> for SampledConductivity {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        written(deserializer)?.parse().map_err(de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::super::*;
    use super::*;
    use approx::assert_relative_eq;

    fn flow(text: &str) -> Result<f64, ReadError> {
        text.parse::<Stated<WaterFlow>>().map(|stated| stated.value.si())
    }

    fn message<Q: Measured + fmt::Debug>(text: &str) -> String {
        text.parse::<Stated<Q>>().unwrap_err().to_string()
    }

    #[test]
    fn reads_flows_as_people_write_them() {
        for (text, cubic_metre_per_hour) in [
            ("900 m3/h", 900.0),
            ("900 m³/h", 900.0),
            ("9.0e2 m^3/hr", 900.0),
            ("250 L/s", 900.0),
            ("4000 gpm", 908.498_828_16),
            ("4000gpm", 908.498_828_16),
            ("4000 GPM", 908.498_828_16),
            ("4000 US gal/min", 908.498_828_16),
            ("24000 US gal/d", 3.785_411_784),
            ("10 igpm", 2.727_654),
        ] {
            assert_relative_eq!(
                flow(text).unwrap() * 3600.0,
                cubic_metre_per_hour,
                max_relative = 1e-12
            );
        }
        for (text, kilogram_per_second) in
            [("250 kg/s", 250.0), ("900 t/h", 250.0), ("1e6 lb/h", 125.997_880_6)]
        {
            let stated: Stated<WaterFlow> = text.parse().unwrap();
            assert_eq!(stated.value.quantity(), Quantity::MassFlow);
            assert_relative_eq!(stated.value.si(), kilogram_per_second, max_relative = 1e-9);
        }
    }

    #[test]
    fn keeps_temperatures_and_their_differences_apart() {
        for text in ["35 degC", "35 °C", "35 C", "95 degF", "95°F", "308.15 K"] {
            let stated: Stated<Temperature> = text.parse().unwrap();
            assert_relative_eq!(stated.value.in_celsius(), 35.0, max_relative = 1e-12);
        }
        for text in ["10 K", "18 degF", "10 degC", "18 °F"] {
            let stated: Stated<TemperatureDifference> = text.parse().unwrap();
            assert_relative_eq!(stated.value.in_kelvin(), 10.0, max_relative = 1e-12);
        }
    }

    #[test]
    fn reads_uncertainties() {
        let standard = |text: &str| {
            let stated: Stated<WaterFlow> = text.parse().unwrap();
            stated.uncertainty.unwrap().standard() * 3600.0
        };
        assert_relative_eq!(standard("900 m3/h ± 5 %"), 45.0 / 3f64.sqrt(), max_relative = 1e-12);
        assert_relative_eq!(standard("900 m3/h ± 20 m3/h (k=2)"), 10.0, max_relative = 1e-12);
        assert_relative_eq!(standard("900 ± 20 m3/h (k = 1)"), 20.0, max_relative = 1e-12);
        assert_relative_eq!(standard("900 m3/h +/- 20 m3/h (k=2)"), 10.0, max_relative = 1e-12);
        let temperature: Stated<Temperature> = "90 degF ± 0.9 degF (k=1)".parse().unwrap();
        assert_relative_eq!(temperature.uncertainty.unwrap().standard(), 0.5, max_relative = 1e-12);
        let cycles: Stated<Ratio> = "5 ± 0.2 (k=1)".parse().unwrap();
        assert_relative_eq!(cycles.uncertainty.unwrap().standard(), 0.2, max_relative = 1e-12);
        let drift: Stated<Fraction> = "0.005 % ± 50 % (k=1)".parse().unwrap();
        assert_relative_eq!(drift.uncertainty.unwrap().standard(), 2.5e-5, max_relative = 1e-12);
        let humidity: Stated<RelativeHumidity> = "52 % ± 3 points (k=1)".parse().unwrap();
        assert_relative_eq!(humidity.uncertainty.unwrap().standard(), 0.03, max_relative = 1e-12);
    }

    #[test]
    fn says_what_is_wrong_and_what_would_be_right() {
        assert_eq!(
            message::<TemperatureDifference>("10 degX"),
            "unknown unit \"degX\"\na temperature difference is written like \"10 K\" or \"18 degF\""
        );
        assert_eq!(
            message::<WaterFlow>("4,000 gpm"),
            "the number \"4,000\" holds a comma\nwrite \"4000\" without a separator for thousands, or a point for decimals: \"4.000\""
        );
        assert!(message::<WaterFlow>("350,5 gpm").ends_with("decimals with a point: \"350.5\""));
        assert!(message::<WaterFlow>("1.234,5 gpm").ends_with("decimals with a point: \"1234.5\""));
        assert!(message::<WaterFlow>("1,234.5 gpm").contains("write \"1234.5\" without"));
        assert!(message::<WaterFlow>("1,234,567 gpm").contains("write \"1234567\" without"));
        assert!(
            message::<WaterFlow>("900")
                .starts_with("the number has no unit\na volume flow is written like")
        );
        assert!(
            message::<WaterFlow>("900 degC")
                .starts_with("\"degC\" is a unit of temperature, not of volume flow\n")
        );
        assert!(message::<Power>("500 tons").contains("ton_refrigeration"));
        assert!(message::<WaterFlow>("500 gal/min").contains("imp gal"));
        assert!(message::<WaterFlow>("500 gpn").contains("did you mean \"gpm\""));
        assert!(message::<WaterFlow>("4 000 gpm").contains("without a separator"));
        assert!(message::<WaterFlow>("nan m3/h").contains("does not begin with a number"));
        assert!(message::<WaterFlow>("1e999 m3/h").contains("too large"));
        assert!(message::<RelativeHumidity>("52 % ± 3 %").contains("3 points"));
        assert!(message::<Temperature>("32 degC ± 3 %").contains("difference"));
        assert!(message::<WaterFlow>("900 m3/h ± 20").contains("no unit"));
        assert!(message::<WaterFlow>("900 m3/h ± 20 m3/h (k=0)").contains("coverage"));
        assert!(message::<WaterFlow>("").contains("does not begin"));
        assert!(message::<Conductivity>("2 MS/cm").contains("unknown unit"));
    }

    fn concentration(text: &str) -> Concentration {
        text.parse().unwrap_or_else(|error| panic!("{text}: {error}"))
    }

    #[test]
    fn reads_a_basis_however_it_is_written() {
        for text in [
            "48 mg/L as Ca",
            "48 mg/l AS CA",
            "48 mg/L as Ca2+",
            "48 mg/L as Ca++",
            "48 mg/L (as Ca)",
            "48 mg/L Ca",
            "48 mg Ca/L",
            "48 ppm Ca²⁺",
            "48 mg/L as Ca ± 3 %",
            "<48 mg/L as ca",
        ] {
            assert_eq!(concentration(text).basis, Some(Basis::Calcium), "{text}");
        }
        for (formula, basis) in [
            ("NO3-N", Basis::Nitrogen),
            ("N-NO3", Basis::Nitrogen),
            ("NH3-N", Basis::Nitrogen),
            ("NH4-N", Basis::Nitrogen),
            ("PO4-P", Basis::Phosphorus),
            ("SO4-2", Basis::Sulfate),
            ("SO4 2-", Basis::Sulfate),
            ("SO42-", Basis::Sulfate),
            ("PO4³⁻", Basis::Phosphate),
            ("HCO3-", Basis::Bicarbonate),
            ("HCO₃⁻", Basis::Bicarbonate),
            ("Cl-", Basis::Chloride),
            ("CaO", Basis::CalciumOxide),
            ("caco3", Basis::CalciumCarbonate),
        ] {
            assert_eq!(Basis::of_formula(formula), Some(basis), "{formula}");
        }
        for formula in ["", "X", "CaCl2", "NO3-P", "Ca3", "-", "N-N"] {
            assert_eq!(Basis::of_formula(formula), None, "{formula}");
        }
        assert_eq!(concentration("48 mg/L as foo").unknown_basis.as_deref(), Some("foo"));
        assert_eq!(concentration("48 mg/L").basis, None);
    }

    #[test]
    fn reads_words_of_the_method_and_plain_nothings() {
        for text in [
            "240 ppm as CaCO3 total",
            "240 ppm CaCO3 (EDTA)",
            "240 ppm total as CaCO3",
            "240 ppm as CaCO3, M",
            "240 mg CaCO3/L",
        ] {
            let found = concentration(text);
            assert_eq!(found.basis, Some(Basis::CalciumCarbonate), "{text}");
            assert_relative_eq!(found.amount.value.si(), 0.24, max_relative = 1e-12);
        }
        // P is another alkalinity, and no word of a method.
        assert_eq!(concentration("9 ppm as CaCO3, P").unknown_basis.as_deref(), Some("CaCO3, P"));
        assert_eq!(concentration("0.2 mg/L total").unknown_basis, None);
        assert_eq!(concentration("20 gpg").basis, Some(Basis::CalciumCarbonate));
        for text in ["0", "0.0", "0 mg/L"] {
            assert_eq!(concentration(text).amount.value.si(), 0.0);
        }
        let equivalents = concentration("4.8 meq/L Ca");
        assert!(matches!(equivalents.amount.value, Amount::Equivalents(_)));
        for (text, help) in [
            ("4.8 mmol/L as CaCO3", "meq/L"),
            ("28-30 mg/L as Cl", "± 1 mg/L"),
            (">350 mg/L as CaCO3", "diluted"),
            ("~310 mg/L as CaCO3", "± 10 %"),
            ("18 grains/gal as CaCO3", "gpg"),
        ] {
            let error = text.parse::<Concentration>().unwrap_err();
            assert!(error.help.contains(help), "{text}: {error}");
        }
    }

    #[test]
    fn reads_temperatures_of_a_conductivity_as_sheets_write_them() {
        for text in ["620 uS/cm at 20 degC", "620 uS/cm @20 °C", "620 uS (20 C)", "620 uS/cm, 20 C"]
        {
            let found: SampledConductivity = text.parse().unwrap();
            assert_relative_eq!(found.at.unwrap().in_celsius(), 20.0, max_relative = 1e-12);
            assert_relative_eq!(found.stated.value.si(), 0.062, max_relative = 1e-12);
        }
        for text in ["620 uS/cm compensated", "620 uS/cm (ATC)", "620 uS/cm ± 2 % (k=2)"] {
            assert_eq!(text.parse::<SampledConductivity>().unwrap().at, None, "{text}");
        }
        let error = "620 uS/cm uncompensated".parse::<SampledConductivity>().unwrap_err();
        assert!(error.help.contains("at 20 degC"), "{error}");
        assert!(message::<Conductivity>("620 uS/cm in the lab").contains("leave out what stands"));
        assert!(message::<Ratio>("7.3 at 20 C").contains("temperature = \"20 degC\""));
    }

    #[test]
    fn reads_limits_of_detection_and_temperatures_of_a_conductivity() {
        let below = concentration("< 0.05 mg/L as Fe");
        assert!(below.is_below && below.written == "< 0.05 mg/L as Fe");
        assert_relative_eq!(below.amount.value.si(), 0.05e-3, max_relative = 1e-12);
        assert!("<1 mg/L as Fe ± 3 %".parse::<Concentration>().is_err());
        let solids: Reported<MassConcentration> = "<5 mg/L".parse().unwrap();
        assert!(solids.is_below);
        let cold: SampledConductivity = "560 uS/cm ± 2 % at 20 degC".parse().unwrap();
        assert_relative_eq!(cold.at.unwrap().in_celsius(), 20.0, max_relative = 1e-12);
        assert_relative_eq!(cold.stated.value.si(), 0.056, max_relative = 1e-12);
        assert!(cold.stated.uncertainty.is_some());
        assert_eq!("560 uS/cm".parse::<SampledConductivity>().unwrap().at, None);
    }

    proptest::proptest! {
        #[test]
        fn no_text_makes_reading_panic(text in "\\PC*") {
            let _ = text.parse::<Stated<WaterFlow>>();
            let _ = text.parse::<Stated<Temperature>>();
            let _ = text.parse::<Stated<Share>>();
            let _ = text.parse::<Concentration>();
            let _ = text.parse::<Reported<MassConcentration>>();
            let _ = text.parse::<SampledConductivity>();
        }

        #[test]
        fn near_misses_do_not_panic(text in "[-+−]?[0-9.,e]{0,6}[ ]?(m3/h|gpm|%|degC|K)?[ ]?(±|\\+/-)?[ ]?[0-9.,e-]{0,4}[ ]?(%|m3/h|K)?(\\(k=[0-9]\\))?") {
            let _ = text.parse::<Stated<WaterFlow>>();
            let _ = text.parse::<Stated<Temperature>>();
            let _ = text.parse::<Stated<RelativeHumidity>>();
        }
    }
}
