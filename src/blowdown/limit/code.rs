//! Codes and ratings, as read unless they say otherwise.

use super::{
    Circumstances, Limit, Limits, Measure, RemarkKind, Row, Standing, calcium, least, most, on,
};
use crate::chemistry::Constituent::{Alkalinity, Calcium, Chloride, Silica};
use crate::site::description::Code;

const LEED_V4: &str = "LEED v4, cooling tower water use, table 1 (U.S. Green Building Council, 2013; repeated in EPA \
                       832-F-17-016C)";
const LEED_2009: &str =
    "LEED 2009 for Healthcare, cooling tower makeup (U.S. Green Building Council)";
const ASHRAE_189: &str =
    "ASHRAE 189.1, 6.3.2 (from memory; the supplement of IAPMO, as read, has the same numbers)";
const TITLE_24: &str = "California Title 24 part 6, 110.2(e) (from memory)";
const PALO_ALTO: &str = "Palo Alto municipal code 16.14.350 (2024)";

const LEED_V4_ROWS: [Row; 5] = [
    most(on(Calcium), calcium(1_000.0), LEED_V4),
    most(on(Alkalinity), 1_000.0, LEED_V4),
    most(on(Silica), 100.0, LEED_V4),
    most(on(Chloride), 250.0, LEED_V4),
    most(Measure::Cycles, 10.0, LEED_V4),
];
/// The credit divides this by the conductivity of the makeup, uS/cm.
const LEED_V4_CONDUCTIVITY: f64 = 2_000.0;

const PALO_ALTO_ROWS: [Row; 5] = [
    most(on(Calcium), calcium(600.0), PALO_ALTO),
    most(on(Alkalinity), 500.0, PALO_ALTO),
    most(on(Silica), 150.0, PALO_ALTO),
    most(on(Chloride), 300.0, PALO_ALTO),
    most(Measure::Conductivity, 3_300.0, PALO_ALTO),
];

/// Makeup that is harder, mg/L as CaCO3, need not reach as many cycles.
const HARD: f64 = 200.0;
/// Cycles that ASHRAE 189.1 asks for: of soft and of hard makeup.
const ASHRAE_CYCLES: [f64; 2] = [5.0, 3.5];
/// Silica in the blowdown, mg/L, from which they need not be reached.
const ASHRAE_SILICA: f64 = 120.0;
/// Cycles that LEED 2009 asks for, or this blowdown if that comes first: mg/L as CaCO3, mg/L.
const LEED_2009_CYCLES: [f64; 2] = [5.0, 4.0];
const LEED_2009_HARDNESS: f64 = 1_500.0;
const LEED_2009_SILICA: f64 = 175.0;

pub(super) fn add(all: &mut Limits, code: Code, at: &Circumstances) {
    let standing = Standing::Code(code);
    let push = |all: &mut Limits, row: Row, of: &'static str, condition: String| {
        all.limits.extend(row.limit(of, standing).map(|limit: Limit| limit.when(condition)));
    };
    let by_hardness = |cycles: [f64; 2]| cycles[usize::from(at.makeup_hardness >= HARD)];
    let hardness = format!("the makeup's hardness is {:.0} mg/L as CaCO3", at.makeup_hardness);
    match code {
        Code::LeedV4 => {
            const OF: &str = "LEED v4";
            all.limits.extend(LEED_V4_ROWS.iter().filter_map(|row| row.limit(OF, standing)));
            let cycles = LEED_V4_CONDUCTIVITY / at.makeup_conductivity;
            if cycles < LEED_V4_ROWS[4].stops_at.unwrap_or(f64::INFINITY) {
                let condition = format!(
                    "the credit divides: 2000 uS/cm over the makeup's {:.0}",
                    at.makeup_conductivity
                );
                push(
                    all,
                    most(Measure::Cycles, cycles, LEED_V4),
                    "LEED v4, conductivity",
                    condition,
                );
            }
        }
        Code::Leed2009Healthcare => {
            let by_silica =
                at.makeup_silica.map_or(f64::INFINITY, |silica| LEED_2009_SILICA / silica);
            let cycles = by_hardness(LEED_2009_CYCLES)
                .min(LEED_2009_HARDNESS / at.makeup_hardness)
                .min(by_silica);
            push(all, least(Measure::Cycles, cycles, LEED_2009), "LEED 2009 Healthcare", hardness);
        }
        Code::Ashrae189 => {
            let cycles = by_hardness(ASHRAE_CYCLES);
            let silica = at.makeup_silica.map_or(0.0, |silica| cycles * silica);
            if silica > ASHRAE_SILICA {
                all.remark(
                    RemarkKind::Note,
                    format!(
                        "ASHRAE 189.1 asks for no number of cycles here: at {cycles} cycles the blowdown would hold \
                         {silica:.0} mg/L of silica (exempt from 120 to 150 on)."
                    ),
                );
            } else {
                push(all, least(Measure::Cycles, cycles, ASHRAE_189), "ASHRAE 189.1", hardness);
            }
        }
        Code::Title24 => {
            let condition = "the simple Langelier index, not a saturation index".into();
            push(all, most(Measure::Langelier, 2.5, TITLE_24), "Title 24", condition);
        }
        Code::PaloAlto2024 => {
            let rows = PALO_ALTO_ROWS.iter();
            all.limits.extend(rows.filter_map(|row| row.limit("Palo Alto 2024", standing)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::COOL;
    use super::*;
    use crate::blowdown::limit::Bound;
    use approx::assert_relative_eq;

    fn of(code: Code, at: &Circumstances) -> Limits {
        let mut all = Limits::default();
        add(&mut all, code, at);
        all
    }

    fn floor(code: Code, at: &Circumstances) -> Option<f64> {
        let all = of(code, at);
        all.limits.iter().find(|limit| limit.bound == Bound::Least).map(|limit| limit.value)
    }

    /// 5 cycles, or 3.5 of a makeup of 200 mg/L as CaCO3 or more; none where the blowdown is full of silica.
    #[test]
    fn ashrae_asks_for_fewer_cycles_of_hard_makeup() {
        let with = |makeup_hardness, silica| Circumstances {
            makeup_hardness,
            makeup_silica: Some(silica),
            ..COOL
        };
        assert_eq!(floor(Code::Ashrae189, &with(199.0, 10.0)), Some(5.0));
        assert_eq!(floor(Code::Ashrae189, &with(200.0, 10.0)), Some(3.5));
        assert_eq!(floor(Code::Ashrae189, &with(100.0, 25.0)), None);
    }

    /// 5, or 4 of a makeup above 200, or the cycles of 1500 mg/L of hardness or 175 of silica, whichever is least.
    #[test]
    fn leed_of_2009_asks_for_the_first_of_three() {
        let with = |makeup_hardness, silica| Circumstances {
            makeup_hardness,
            makeup_silica: Some(silica),
            ..COOL
        };
        assert_eq!(floor(Code::Leed2009Healthcare, &with(150.0, 10.0)), Some(5.0));
        assert_eq!(floor(Code::Leed2009Healthcare, &with(300.0, 10.0)), Some(4.0));
        assert_eq!(floor(Code::Leed2009Healthcare, &with(500.0, 10.0)), Some(3.0));
        assert_eq!(floor(Code::Leed2009Healthcare, &with(150.0, 70.0)), Some(2.5));
    }

    /// The table of the credit is divided by the makeup: 2000 uS/cm over 420.
    #[test]
    fn leed_divides_conductivity() {
        let cycles = |conductivity| {
            let at = Circumstances { makeup_conductivity: conductivity, ..COOL };
            let all = of(Code::LeedV4, &at);
            let cycles = all.limits.iter().filter(|limit| limit.measure == Measure::Cycles);
            cycles.map(|limit| limit.value).fold(f64::INFINITY, f64::min)
        };
        assert_relative_eq!(cycles(420.0), 4.762, max_relative = 1e-3);
        assert_eq!(cycles(100.0), 10.0);
    }
}
