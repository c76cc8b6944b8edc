//! Values as people read them: what the pages of all commands share.

use crate::model::Balance;
use crate::quantity::unit::{self, Unit};
use crate::quantity::{Quantity, UnitSystem, significant, with_decimals};
use crate::site::Value;

/// Coverage factor of the `±` that people see: about 95 % (JCGM 100:2008, 6.3.3).
pub(crate) const COVERAGE: f64 = 2.0;

/// A mass flow as a volume at the reference temperature of the sheets, m3/h.
pub(crate) fn m3_per_h(kg_per_s: f64) -> f64 {
    Balance::reference_m3_per_h(kg_per_s)
}

/// A value with its unit.
pub(crate) fn shown_at(quantity: Quantity, si: f64, units: UnitSystem, digits: usize) -> String {
    let unit = quantity.shown_in(units);
    let number = match quantity {
        // Thermometers: a tenth of a degree, whatever the scale.
        Quantity::Temperature => with_decimals(unit.of_si(si), 1),
        _ => significant(unit.of_si(si), digits),
    };
    with_symbol(number, unit)
}

/// A number with the sign of its unit.
pub(crate) fn with_symbol(number: String, unit: &Unit) -> String {
    match unit.sign() {
        "" => number,
        sign => format!("{number} {sign}"),
    }
}

/// m3/h in the unit that people see.
pub(crate) fn flow_in(units: UnitSystem, m3_per_h: f64) -> f64 {
    Quantity::VolumeFlow.shown_in(units).of_si(unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h))
}

/// A flow with its unit.
pub(crate) fn flow(m3_per_h: f64, units: UnitSystem, digits: usize) -> String {
    shown_at(Quantity::VolumeFlow, unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h), units, digits)
}

/// A value with its expanded uncertainty, both to the second digit of the uncertainty.
pub(crate) fn with_uncertainty(value: f64, expanded: f64) -> String {
    if !(expanded > 0.0 && expanded.is_finite()) {
        return significant(value, 4);
    }
    let digits = 1 - expanded.abs().log10().floor() as i32;
    if digits >= 0 {
        let decimals = digits.min(6) as usize;
        return format!(
            "{} ± {}",
            with_decimals(value, decimals),
            with_decimals(expanded, decimals)
        );
    }
    let unit = 10f64.powi(-digits);
    let rounded = |number: f64| with_decimals((number / unit).round() * unit, 0);
    format!("{} ± {}", rounded(value), rounded(expanded))
}

/// A part in per cent.
pub(crate) fn percent(part: f64, digits: usize) -> String {
    format!("{} %", significant(100.0 * part, digits))
}

/// A part in whole per cent.
pub(crate) fn whole_percent(part: f64) -> String {
    format!("{} %", with_decimals(100.0 * part, 0))
}

/// A time in hours.
pub(crate) fn hours(hours: f64, digits: usize) -> String {
    format!("{} h", significant(hours, digits))
}

/// Cycles of concentration.
pub(crate) fn cycles_text(cycles: f64) -> String {
    if cycles.is_finite() { significant(cycles, 3) } else { "no limit".into() }
}

/// Significant digits of an amount of money.
pub(crate) const MONEY_DIGITS: i32 = 3;

/// Money.
pub(crate) fn amount(amount: f64) -> String {
    if amount == 0.0 { "0".into() } else { significant(amount, MONEY_DIGITS as usize) }
}

/// What was assumed for a value, with the half width of its uncertainty.
pub(crate) fn assumed_text(value: &Value, units: UnitSystem) -> String {
    let unit = value.shown_in(units);
    match value.uncertainty {
        None => shown_at(value.quantity, value.si, units, 3),
        Some(uncertainty) => {
            let half_width = uncertainty.half_width / unit.factor.abs();
            with_symbol(with_uncertainty(unit.of_si(value.si), half_width), unit)
        }
    }
}

/// A name cut to a width.
pub(crate) fn clipped(name: &str, width: usize) -> String {
    if name.chars().count() <= width {
        return name.to_string();
    }
    name.chars().take(width - 1).chain(['…']).collect()
}
