//! Numbers as people and spreadsheets write them.

use crate::quantity::can_be_measured;
use crate::site::description::DecimalSign;

/// What a cell holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Number {
    Value(f64),
    Gap,
    Text,
    /// It is the first with a decimal point or comma, the second with a thousands separator.
    Either(f64, f64),
}

/// A number; what stands for none is a gap, never a zero. Thousands may stand apart by the sign that is not the
/// decimal one, by spaces or by apostrophes. Without a decimal sign, one that can be either is told.
pub(super) fn number_of(text: &str, decimal: Option<DecimalSign>) -> Number {
    const GAPS: [&str; 8] = ["", "-", "--", "n/a", "na", "nan", "none", "null"];
    let is_plain = match decimal {
        Some(DecimalSign::Point) => !text.contains(','),
        _ => !text.contains([',', '.']),
    };
    if is_plain && let Some(number) = parsed(text) {
        return Number::Value(number);
    }
    if GAPS.iter().any(|gap| text.eq_ignore_ascii_case(gap)) {
        return Number::Gap;
    }
    let Some(joined) = without_gaps(text) else { return Number::Text };
    let text = joined.as_str();
    let value = |number: Option<f64>| number.map_or(Number::Text, Number::Value);
    match (text.matches('.').count(), text.matches(',').count()) {
        (0, 0) => value(parsed(text)),
        // One sign: a decimal, or one group of thousands.
        (1, 0) | (0, 1) => {
            let (sign, of) = match text.contains('.') {
                true => ('.', DecimalSign::Point),
                false => (',', DecimalSign::Comma),
            };
            let as_decimal = parsed(&text.replace(sign, "."));
            let as_thousands = parsed_groups(text, sign);
            match (as_decimal, as_thousands, decimal) {
                (Some(one), Some(other), None) => Number::Either(one, other),
                (_, Some(number), Some(decimal)) if decimal != of => Number::Value(number),
                (number, ..) => value(number),
            }
        }
        // Thousands alone.
        (2.., 0) => value(parsed_groups(text, '.')),
        (0, 2..) => value(parsed_groups(text, ',')),
        // Both: the last one is the decimal sign.
        (points, commas) => {
            let (sign, other, is_comma) = match text.rfind(',') > text.rfind('.') {
                true => (',', '.', true),
                false => ('.', ',', false),
            };
            let is_once = if is_comma { commas == 1 } else { points == 1 };
            let is_stated = decimal.is_none_or(|d| (d == DecimalSign::Comma) == is_comma);
            let whole = text.split_once(sign).filter(|_| is_once && is_stated);
            let number = whole.and_then(|(whole, part)| {
                parsed_groups(whole, other)?;
                parsed(&format!("{}.{part}", whole.replace(other, "")))
            });
            value(number)
        }
    }
}

/// What a number tells of the decimal sign; `None` where it may be either.
pub(super) fn sign_in(text: &str) -> Option<DecimalSign> {
    let last = text.rfind([',', '.'])?;
    if !matches!(number_of(text, None), Number::Value(_)) {
        return None;
    }
    let of = |sign: &str| if sign == "," { DecimalSign::Comma } else { DecimalSign::Point };
    let sign = &text[last..=last];
    Some(if text.matches(sign).count() > 1 {
        of(if sign == "," { "." } else { "," })
    } else {
        of(sign)
    })
}

fn parsed(text: &str) -> Option<f64> {
    text.parse().ok().filter(|number: &f64| can_be_measured(*number))
}

/// A number of groups of three digits, the first of one to three and not zero.
fn parsed_groups(text: &str, sign: char) -> Option<f64> {
    let digits = text.trim_start_matches(['-', '+']);
    let mut groups = digits.split(sign);
    let first = groups.next()?;
    let is_group = |group: &str, lengths: std::ops::RangeInclusive<usize>| {
        lengths.contains(&group.len()) && group.bytes().all(|byte| byte.is_ascii_digit())
    };
    let is_number = is_group(first, 1..=3)
        && !first.starts_with('0')
        && groups.all(|group| is_group(group, 3..=3));
    is_number.then(|| parsed(&text.replace(sign, "")))?
}

/// A text without the spaces and apostrophes between its thousands; `None` where they stand elsewhere.
fn without_gaps(text: &str) -> Option<String> {
    const GAPS: [char; 6] = [' ', '\u{a0}', '\u{202f}', '\u{2009}', '\'', '\u{2019}'];
    if !text.contains(GAPS) {
        return Some(text.to_owned());
    }
    let text: String = text.trim_matches(GAPS).into();
    let end = text.find([',', '.']).unwrap_or(text.len());
    let whole: String =
        text[..end].chars().map(|c| if GAPS.contains(&c) { ' ' } else { c }).collect();
    let rest = &text[end..];
    let is_grouped = !whole.contains(' ') || parsed_groups(&whole, ' ').is_some();
    (is_grouped && !rest.contains(GAPS)).then(|| format!("{}{rest}", whole.replace(' ', "")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use DecimalSign::{Comma, Point};
    use Number::{Either, Gap, Text, Value};

    #[test]
    fn thousands_stand_apart_where_the_decimal_sign_is_known() {
        for (text, decimal, is) in [
            ("12345.6", None, Value(12345.6)),
            ("12345,6", None, Value(12345.6)),
            ("12.345,6", None, Value(12345.6)),
            ("12,345.6", None, Value(12345.6)),
            ("1.234.567", None, Value(1_234_567.0)),
            ("12.345", None, Either(12.345, 12345.0)),
            ("12,345", None, Either(12.345, 12345.0)),
            ("12.345", Some(Comma), Value(12345.0)),
            ("12.345", Some(Point), Value(12.345)),
            ("12,345", Some(Point), Value(12345.0)),
            ("12,345", Some(Comma), Value(12.345)),
            // No group of thousands looks like these.
            ("0.345", None, Value(0.345)),
            ("12.34", Some(Comma), Value(12.34)),
            ("1234.567", None, Value(1234.567)),
            ("12 345,6", Some(Comma), Value(12345.6)),
            ("12\u{202f}345", None, Value(12345.0)),
            ("12'345.6", None, Value(12345.6)),
            ("-1,234.5", Some(Point), Value(-1234.5)),
            ("1.6e3", Some(Point), Value(1600.0)),
            // Against what is known, and no numbers at all.
            ("12.345,6", Some(Point), Text),
            ("1,23,456.5", None, Text),
            ("12 34", None, Text),
            ("1.2.3", None, Text),
            ("off", None, Text),
            ("inf", None, Text),
            ("n/a", None, Gap),
        ] {
            assert_eq!(number_of(text, decimal), is, "{text} {decimal:?}");
        }
        for (text, is) in [
            ("12345.6", Some(Point)),
            ("1.234.567", Some(Comma)),
            ("1,234.5", Some(Point)),
            ("12.345", None),
            ("12345", None),
            ("01.06.2026", None),
        ] {
            assert_eq!(sign_in(text), is, "{text}");
        }
    }
}
