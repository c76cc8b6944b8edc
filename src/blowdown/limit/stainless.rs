//! Chloride on stainless steel against the temperature of the wetted wall.

use super::{Bound, Circumstances, Limit, Limits, RemarkKind, Standing, Text, degrees, on};
use crate::chemistry::Constituent;
use crate::site::description::Material;

/// Degrees Celsius and mg/L as Cl, in rising temperature; logarithms of chloride are interpolated.
type Curve = &'static [(f64, f64)];

/// The strictest sources: a guide for heat-pump exchangers up to 38 degC, above it a bulletin of a maker of plate
/// exchangers.
const STRICT_304: Curve =
    &[(10.0, 400.0), (24.0, 250.0), (38.0, 150.0), (60.0, 50.0), (80.0, 25.0), (120.0, 10.0)];

/// The same guide up to 38 degC; the middle of four bulletins of plate exchangers to 60, their low side from 75.
const STRICT_316: Curve = &[
    (10.0, 1_000.0),
    (24.0, 550.0),
    (38.0, 375.0),
    (50.0, 275.0),
    (60.0, 200.0),
    (75.0, 100.0),
    (80.0, 100.0),
    (90.0, 50.0),
    (100.0, 10.0),
];

/// The most lenient sources: an engineering note in which 304 pits at 300 mg/L from 40 degC; above it drawn by us
/// between the bulletins, down to the one of them that reaches 120 degC.
const LENIENT_304: Curve =
    &[(40.0, 300.0), (48.0, 200.0), (60.0, 100.0), (80.0, 50.0), (120.0, 10.0)];

/// Nickel Institute 11 003 (1987) up to 40 degC, the engineering note at 60, a bulletin of plate exchangers from
/// 80 on.
const LENIENT_316: Curve = &[(40.0, 1_000.0), (60.0, 500.0), (80.0, 200.0), (100.0, 100.0)];

/// What makers of towers allow for basins and casings: the strictest and the most lenient of three sheets.
const TOWER_304: [f64; 2] = [250.0, 500.0];
const TOWER_316: [f64; 2] = [400.0, 2_000.0];

const STRICT_SOURCE: &str =
    "a guide for heat-pump exchangers up to 38 °C, makers' bulletins of plate exchangers above";
const LENIENT_SOURCE: &str = "Nickel Institute 11 003 (1987), an engineering note and plate-exchanger bulletins; drawn by us between them";
const TOWER_SOURCE: &str =
    "water-quality sheets of makers of towers: clean parts, coil fluid below 49 °C";

/// Crevices govern below, stress corrosion cracking above.
const CRACKING_FROM: f64 = 50.0;
/// Free chlorine that worsens pitting, mg/L as Cl2.
const MUCH_CHLORINE: f64 = 1.0;

/// Chloride at a temperature, degC; the ends of the curve beyond it.
fn at(curve: Curve, celsius: f64) -> f64 {
    let Some(next) = curve.iter().position(|(to, _)| *to >= celsius) else {
        return curve[curve.len() - 1].1;
    };
    let (to, after) = curve[next];
    let Some((from, before)) = next.checked_sub(1).map(|last| curve[last]) else { return after };
    before * (after / before).powf((celsius - from) / (to - from))
}

/// Chloride that the strictest and the most lenient source allow on a wall of this temperature, degC up to 100.
fn on_wall(strict: Curve, lenient: Curve, celsius: f64) -> [f64; 2] {
    let strict = at(strict, celsius);
    [strict, at(lenient, celsius).max(strict)]
}

pub(super) fn add(all: &mut Limits, material: Material, circumstances: &Circumstances) {
    let is_basin = matches!(material, Material::Stainless304Basin | Material::Stainless316Basin);
    let is_304 = matches!(material, Material::Stainless304 | Material::Stainless304Basin);
    let (strict, lenient, tower) = match is_304 {
        true => (STRICT_304, LENIENT_304, TOWER_304),
        false => (STRICT_316, LENIENT_316, TOWER_316),
    };
    let ([from, to], celsius, of) = match is_basin {
        true => {
            let celsius = circumstances.basin_celsius;
            let [low, high] = tower;
            let of = if is_304 { "stainless 304, basin" } else { "stainless 316, basin" };
            ([at(strict, celsius).min(low), high], celsius, of)
        }
        false => {
            let celsius = circumstances.surface_celsius;
            let of = if is_304 { "stainless 304" } else { "stainless 316" };
            (on_wall(strict, lenient, celsius), celsius, of)
        }
    };
    let source = if is_basin { TOWER_SOURCE } else { LENIENT_SOURCE };
    let how = match celsius < CRACKING_FROM {
        true => "pits start in crevices and under deposits",
        false => "pitting and stress corrosion cracking",
    };
    let limit = Limit {
        measure: on(Constituent::Chloride),
        bound: Bound::Most,
        value: to,
        of: of.into(),
        condition: format!("a clean wall of {}; {how}", degrees(celsius)).into(),
        source: source.into(),
        standing: Standing::Material(material),
        warn_from: None,
    };
    all.limits.push(match from < to {
        true => limit.warned_from(from, STRICT_SOURCE),
        false => limit,
    });
    if circumstances.free_chlorine > MUCH_CHLORINE {
        let text: Text = format!(
            "Free chlorine of {} mg/L makes chloride pit stainless steel sooner; up to {MUCH_CHLORINE} is usual.",
            circumstances.free_chlorine
        )
        .into();
        all.remark(RemarkKind::Corrosion, text);
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::COOL;
    use super::*;
    use crate::blowdown::limit::StatedLimits;
    use approx::assert_relative_eq;

    fn limit(material: Material, at: &Circumstances) -> Limit {
        let mut all = Limits::default();
        add(&mut all, material, at);
        all.limits.remove(0)
    }

    /// Nodes are what the sources print; between them the logarithm is straight.
    #[test]
    fn chloride_falls_with_the_wall_and_meets_the_printed_values() {
        // Heat-pump guide and plate-exchanger bulletin, 304 and 316.
        for (celsius, expected) in [(10.0, 400.0), (24.0, 250.0), (38.0, 150.0), (80.0, 25.0)] {
            assert_relative_eq!(at(STRICT_304, celsius), expected);
        }
        for (celsius, expected) in [(24.0, 550.0), (38.0, 375.0), (90.0, 50.0)] {
            assert_relative_eq!(at(STRICT_316, celsius), expected);
        }
        // By hand: 150 (50/150)^(10/22).
        assert_relative_eq!(at(STRICT_304, 48.0), 91.0, max_relative = 1e-3);
        // By hand: sqrt(250 150).
        assert_relative_eq!(at(STRICT_304, 31.0), 193.65, max_relative = 1e-4);
        for material in [Material::Stainless304, Material::Stainless316] {
            let mut before = f64::INFINITY;
            for celsius in 5..90 {
                let there = Circumstances { surface_celsius: f64::from(celsius), ..COOL };
                let limit = limit(material, &there);
                let from = limit.warn_from.map_or(limit.value, |from| from.value);
                assert!(limit.value <= before && from <= limit.value, "{celsius}");
                before = limit.value;
            }
        }
    }

    #[test]
    fn an_exchanger_is_judged_at_its_wall_and_a_basin_at_its_water() {
        let exchanger = limit(Material::Stainless304, &COOL);
        assert_relative_eq!(exchanger.value, 200.0);
        let basin = limit(Material::Stainless304Basin, &COOL);
        assert_relative_eq!(basin.value, 500.0);
        // The guide's 250 at 24 and 150 at 38 degC, at 29.
        assert_relative_eq!(basin.warn_from.unwrap().value, 208.3, max_relative = 1e-3);
        let hotter = Circumstances { surface_celsius: 80.0, ..COOL };
        assert_eq!(limit(Material::Stainless304Basin, &hotter).value, 500.0);
    }

    #[test]
    fn much_free_chlorine_is_remarked() {
        let stated =
            StatedLimits { materials: vec![Material::Stainless316], ..StatedLimits::default() };
        let corrosion = |free_chlorine| {
            let at = Circumstances { free_chlorine, ..COOL };
            let is_it = |remark: &&super::super::Remark| remark.kind == RemarkKind::Corrosion;
            stated.under(&at).remarks.iter().filter(is_it).count()
        };
        assert_eq!((corrosion(0.5), corrosion(1.5)), (0, 1));
    }
}
