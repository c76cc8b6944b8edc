//! Formulas as people read them: each stands as a constant beside the function that computes it.

/// A formula with its source. `text` names its quantities with identifiers, so that numbers can
/// be put in their places.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Equation {
    /// Stable name.
    pub id: &'static str,
    /// `result = expression`, in identifiers, numbers and `+ - * / ^ ( )`.
    pub text: &'static str,
    /// Where it is published.
    pub source: &'static str,
}

impl Equation {
    /// The identifier on the left.
    pub fn result(&self) -> &'static str {
        self.text.split('=').next().unwrap_or_default().trim()
    }

    /// The expression on the right.
    pub fn expression(&self) -> &'static str {
        self.text.split_once('=').map_or("", |(_, expression)| expression.trim())
    }

    /// The expression with the numbers in the places of their names; `None` where a name has no
    /// number.
    pub fn with_numbers(&self, number_of: impl Fn(&str) -> Option<String>) -> Option<String> {
        let mut filled = String::new();
        let mut rest = self.expression();
        while let Some(start) = rest.find(|c: char| c.is_ascii_alphabetic()) {
            let (before, from_name) = rest.split_at(start);
            let end = from_name
                .find(|c: char| !(c.is_ascii_alphanumeric() || c == '_'))
                .unwrap_or(from_name.len());
            filled.push_str(before);
            filled.push_str(&number_of(&from_name[..end])?);
            rest = &from_name[end..];
        }
        filled.push_str(rest);
        Some(filled)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_take_the_places_of_names() {
        let equation =
            Equation { id: "x", text: "blowdown = evaporation / (cycles - 1)", source: "" };
        let numbers = |name: &str| match name {
            "evaporation" => Some("12".to_string()),
            "cycles" => Some("4".to_string()),
            _ => None,
        };
        assert_eq!(equation.with_numbers(numbers).unwrap(), "12 / (4 - 1)");
        assert_eq!(equation.result(), "blowdown");
        assert_eq!(equation.with_numbers(|_| None), None);
    }
}
