//! A year's numbers led back to formulas: the hour of the largest makeup, from its weather to its makeup.

use super::{Year, line_bore, transfer_name};
use crate::balance::{BLOWDOWN, BlowdownBasis, MAKEUP};
use crate::equation::Equation;
use crate::model::{Fans, LINE_VELOCITY_M_PER_S, VALVE_OVER_DEMAND, YearHour};
use crate::quantity::significant;
use crate::report::page::{Block, Words, constant, number, words};
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
    source: "volumes are counted at 20 °C",
};

const BORE: Equation = Equation {
    id: "makeup_line_bore",
    text: "bore = (4 * margin * makeup_volume / 3600 / velocity / 3.14159265)^0.5",
    source: "continuity in a full round pipe; margin and velocity are common practice",
};

/// The formulas of the hour of the largest makeup with their numbers; empty where no hour counts.
pub fn working(year: &Year<'_>) -> Vec<Block> {
    let Some(hour) = year.peak_hour() else { return Vec::new() };
    let heading = "WORKING OF THE PEAK HOUR (flows in kg/s, temperatures in °C)";
    let sums = "Months and the year are sums of such hours, one hour each; the peak day is the largest \
                sum of a date, storage the largest sum of hours that follow each other.";
    [
        vec![Block::heading(heading), Block::paragraph(weather(year, hour))],
        thermal(year, hour),
        water_lines(year, hour),
        vec![Block::paragraph(sums)],
    ]
    .concat()
}

fn weather(year: &Year<'_>, hour: &YearHour) -> Words {
    let air = &hour.weather.air;
    words![
        number("peak_hour.time", year.time(hour.weather.time)),
        ": dry bulb ",
        number("peak_hour.dry_bulb_celsius", shown(air.dry_bulb_celsius)),
        ", wet bulb ",
        number("peak_hour.wet_bulb_celsius", shown(hour.wet_bulb_celsius)),
        ", ",
        number("peak_hour.pressure_kpa", significant(air.pressure_pascal, 6)),
        " Pa."
    ]
}

/// From the weather to the cold water and the evaporation.
fn thermal(year: &Year<'_>, hour: &YearHour) -> Vec<Block> {
    let plan = year.plan;
    let Some(cold) = hour.cold_water_celsius else { return Vec::new() };
    let of_name = |name: &str| match name {
        "load" => Some(hour.load),
        "design_range" => Some(plan.range_kelvin()),
        _ => None,
    };
    let range = Block::evaluated(&RANGE, of_name, (hour.load * plan.range_kelvin(), "K"));
    let is_steady = matches!(hour.fans, Fans::Full | Fans::Slowed);
    let characteristics =
        plan.fills().filter(|_| is_steady).filter_map(|(fill, _, design_ratio)| {
            characteristic(fill, design_ratio * hour.ratio_over_design)
        });
    let raised = plan.recirculation_kelvin();
    let raised = (raised > 0.0).then(|| {
        let kelvin = number("recirculation_kelvin", format!("{} K", shown(raised)));
        Block::paragraph(words!["The wet bulb at the inlet is ", kelvin, " higher: recirculation."])
    });
    let transfer = plan.fills().next().map_or(Transfer::Poppe, |(fill, ..)| fill.transfer);
    let source = match transfer {
        Transfer::Merkel => merkel::NUMBER,
        Transfer::Poppe => poppe::SOURCE,
    };
    let found = words![
        way(hour),
        ": with cold water of ",
        number("peak_hour.cold_water_celsius", shown(cold)),
        " the fill needs just the number that it has, by the integral of ",
        transfer_name(transfer),
        ".",
        (plan.fills().count() > 1).then_some(" The water of unlike cells is mixed."),
        " The same integral gives the evaporation, ",
        number("peak_hour.evaporation_m3_per_h", shown(hour.water.evaporation_kg_per_s)),
        " of ",
        number("circulation_m3_per_h", shown(plan.circulation_kg_per_s())),
        " of water."
    ];
    let source = Block::Paragraph { level: 2, words: constant(source).into() };
    range
        .into_iter()
        .chain(characteristics)
        .chain(raised)
        .chain([Block::paragraph(found), source])
        .collect()
}

/// What the fans did.
fn way(hour: &YearHour) -> Words {
    match hour.fans {
        Fans::Full => "Fans at full speed".into(),
        Fans::Slowed => words![
            "Fans slowed to ",
            number("peak_hour.fan_speed", shown(hour.fan_speed)),
            " of full speed"
        ],
        Fans::Cycling => "Fans on and off, the hour between the two states in proportion".into(),
        _ => "Fans off, natural draught".into(),
    }
}

/// The number that a fill has at this water-to-air ratio.
fn characteristic(fill: &Fill, water_to_air: f64) -> Option<Block> {
    let of_name = |name: &str| {
        Some(match name {
            "coefficient" => fill.coefficient,
            "exponent" => fill.exponent,
            "water_to_air" => water_to_air,
            _ => return None,
        })
    };
    Block::evaluated(&CHARACTERISTIC, of_name, (fill.number(water_to_air), "(KaV/L)"))
}

/// From the evaporation to the makeup and the line that carries it.
fn water_lines(year: &Year<'_>, hour: &YearHour) -> Vec<Block> {
    let water = &hour.water;
    let basis = year.plan.blowdown_basis();
    let density = water::density_kg_per_m3(crate::water::REFERENCE_CELSIUS);
    let makeup_volume = water.makeup_kg_per_s * 3_600.0 / density;
    let of_name = |name: &str| {
        Some(match (name, basis) {
            ("evaporation", _) => water.evaporation_kg_per_s,
            ("drift", _) => water.drift_kg_per_s,
            ("blowdown", _) => water.blowdown_kg_per_s,
            ("leakage", _) => water.leakage_kg_per_s,
            ("overflow", _) => water.overflow_kg_per_s,
            ("makeup", _) => water.makeup_kg_per_s,
            ("density", _) => density,
            ("makeup_volume", _) => makeup_volume,
            ("margin", _) => VALVE_OVER_DEMAND,
            ("velocity", _) => LINE_VELOCITY_M_PER_S,
            ("cycles", BlowdownBasis::Cycles(cycles)) => cycles,
            _ => return None,
        })
    };
    let bore = line_bore(VALVE_OVER_DEMAND * makeup_volume);
    [
        (&BLOWDOWN, water.blowdown_kg_per_s, "kg/s"),
        (&MAKEUP, water.makeup_kg_per_s, "kg/s"),
        (&MAKEUP_VOLUME, makeup_volume, "m3/h"),
        (&BORE, bore, "m"),
    ]
    .into_iter()
    .filter(|(equation, ..)| !(water.losses_exceed_blowdown && equation.id == BLOWDOWN.id))
    .filter_map(|(equation, result, unit)| Block::evaluated(equation, of_name, (result, unit)))
    .collect()
}

fn shown(number: f64) -> String {
    significant(number, 5)
}
