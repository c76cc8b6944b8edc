//! A year's numbers led back to formulas: the hour of the largest makeup, from its weather to its makeup.

use super::{Page, Year, line_bore};
use crate::balance::{BLOWDOWN, BlowdownBasis, MAKEUP};
use crate::equation::Equation;
use crate::model::{Fans, LINE_VELOCITY_M_PER_S, VALVE_OVER_DEMAND, YearHour};
use crate::quantity::significant;
use crate::report::text::{Style, equation, evaluated, heading, paragraph};
use crate::tower::prediction::{CHARACTERISTIC, Fill, Transfer};
use crate::tower::{merkel, poppe};
use crate::water;

const RANGE: Equation = Equation {
    id: "range_at_load",
    text: "range = load * design_range",
    source: "water circulates at the design's flow while there is load",
};

const MAKEUP_VOLUME: Equation = Equation {
    id: "makeup_volume",
    text: "makeup_volume = 3600 * makeup / density",
    source: "volumes are counted at 20 degC",
};

/// Digits of the numbers put in.
const DIGITS_IN: usize = 9;
/// Digits of a result.
const DIGITS_OUT: usize = 5;

/// The formulas of the hour of the largest makeup with their numbers; empty where no hour counts.
/// `hours` are those that the sheet was summed from.
pub fn working(year: &Year<'_>, hours: &[YearHour], style: Style) -> String {
    let counted = hours.iter().filter(|hour| hour.cold_water_celsius.is_some());
    let largest =
        counted.max_by(|a, b| a.water.makeup_kg_per_s.total_cmp(&b.water.makeup_kg_per_s));
    let Some(hour) = largest else { return String::new() };
    let page = Page { year, style };
    let mut text = String::new();
    let title = "WORKING OF THE PEAK HOUR (flows in kg/s, temperatures in degC)";
    heading(&mut text, title, style.bold);
    let weather = format!(
        "{}: dry bulb {}, wet bulb {}, {} Pa.",
        page.time(hour.weather.time),
        significant(hour.weather.air.dry_bulb_celsius, 5),
        significant(hour.wet_bulb_celsius, 5),
        significant(hour.weather.air.pressure_pascal, 6)
    );
    paragraph(&mut text, "", &weather);
    thermal(&mut text, year, hour);
    water_lines(&mut text, year, hour);
    let sums = "Months and the year are sums of such hours, one hour each; the peak day is the largest \
                sum of a date, storage the largest sum of hours that follow each other.";
    paragraph(&mut text, "", sums);
    crate::report::marks::finished(text, style)
}

/// From the weather to the cold water and the evaporation.
fn thermal(text: &mut String, year: &Year<'_>, hour: &YearHour) {
    let plan = year.plan;
    let Some(cold) = hour.cold_water_celsius else { return };
    let number = |name: &str| match name {
        "load" => Some(hour.load),
        "design_range" => Some(plan.range_kelvin()),
        _ => None,
    };
    evaluated(text, &RANGE, number, (hour.load * plan.range_kelvin(), "K"));
    let is_steady = matches!(hour.fans, Fans::Full | Fans::Slowed);
    for (fill, _, design_ratio) in plan.fills().filter(|_| is_steady) {
        characteristic(text, fill, design_ratio * hour.ratio_over_design);
    }
    let raised = plan.recirculation_kelvin();
    if raised > 0.0 {
        let words =
            format!("The wet bulb at the inlet is {} K higher: recirculation.", shown(raised));
        paragraph(text, "", &words);
    }
    let transfer = plan.fills().next().map(|(fill, ..)| fill.transfer);
    let (integral, source) = match transfer {
        Some(Transfer::Merkel) => ("merkel", merkel::NUMBER),
        _ => ("poppe", poppe::SOURCE),
    };
    let way = match hour.fans {
        Fans::Full => "Fans at full speed".to_owned(),
        Fans::Slowed => format!("Fans slowed to {} of full speed", shown(hour.fan_speed)),
        Fans::Cycling => {
            "Fans on and off, the hour between the two states in proportion".to_owned()
        }
        _ => "Fans off, natural draught".to_owned(),
    };
    let mixed = match plan.fills().count() {
        1 => "",
        _ => " The water of unlike cells is mixed.",
    };
    let words = format!(
        "{way}: with cold water of {} the fill needs just the number that it has, by the integral of \
         {integral}.{mixed} The same integral gives the evaporation, {} of {} \
         of water.",
        shown(cold),
        shown(hour.water.evaporation_kg_per_s),
        shown(plan.circulation_kg_per_s())
    );
    paragraph(text, "", &words);
    paragraph(text, "    ", source);
}

/// The number that a fill has at this water-to-air ratio.
fn characteristic(text: &mut String, fill: &Fill, water_to_air: f64) {
    let number = |name: &str| {
        Some(match name {
            "coefficient" => fill.coefficient,
            "exponent" => fill.exponent,
            "water_to_air" => water_to_air,
            _ => return None,
        })
    };
    evaluated(text, &CHARACTERISTIC, number, (fill.number(water_to_air), "(KaV/L)"));
}

/// From the evaporation to the makeup and the line that carries it.
fn water_lines(text: &mut String, year: &Year<'_>, hour: &YearHour) {
    let water = &hour.water;
    let basis = year.plan.blowdown_basis();
    let number = |name: &str| {
        Some(match (name, basis) {
            ("evaporation", _) => water.evaporation_kg_per_s,
            ("drift", _) => water.drift_kg_per_s,
            ("blowdown", _) => water.blowdown_kg_per_s,
            ("leakage", _) => water.leakage_kg_per_s,
            ("overflow", _) => water.overflow_kg_per_s,
            ("cycles", BlowdownBasis::Cycles(cycles)) => cycles,
            _ => return None,
        })
    };
    if !water.losses_exceed_blowdown {
        evaluated(text, &BLOWDOWN, number, (water.blowdown_kg_per_s, "kg/s"));
    }
    evaluated(text, &MAKEUP, number, (water.makeup_kg_per_s, "kg/s"));
    let density = water::density_kg_per_m3(crate::water::REFERENCE_CELSIUS);
    let flow = water.makeup_kg_per_s * 3_600.0 / density;
    let number = |name: &str| match name {
        "makeup" => Some(water.makeup_kg_per_s),
        "density" => Some(density),
        _ => None,
    };
    evaluated(text, &MAKEUP_VOLUME, number, (flow, "m3/h"));
    let bore = line_bore(VALVE_OVER_DEMAND * flow);
    let line = [
        "bore = (4 * margin * makeup_volume / 3600 / velocity / 3.14159265)^0.5".to_owned(),
        format!(
            "= (4 * {VALVE_OVER_DEMAND} * {} / 3600 / {LINE_VELOCITY_M_PER_S} / 3.14159265)^0.5",
            exact(flow)
        ),
        format!("= {} m", shown(bore)),
    ];
    equation(
        text,
        &line,
        "continuity in a full round pipe; margin and velocity are common practice",
    );
}

fn exact(number: f64) -> String {
    significant(number, DIGITS_IN)
}

fn shown(number: f64) -> String {
    significant(number, DIGITS_OUT)
}
