//! Bare carbon steel: pipes, shells, headers.

use super::{
    Circumstances, Danger, Limits, Measure, RemarkKind, Row, Standing, Watched, galvanised, least,
    most, on, watch,
};
use crate::chemistry::Constituent::{Alkalinity, Calcium, Chloride, Sulfate};
use crate::site::description::Material;

const VDI: &str = "VDI 3803 (2002), an extract, and a page of 2009 after it";
const PRACTICE: &str = "VDI 3803 (2002) and a Japanese guideline (JRA-GL-02-1994), which disagree";
const COMPRESSOR: &str = "cooling-water requirements of a maker of compressors; indices do not tell corrosion rates \
                          (Palazzo et al., J. SAIMM 115(12), 2015)";
const LARSON: &str = "Larson and Skold (1958, citation from memory), fitted on Great Lakes water";

/// Without an inhibitor against corrosion.
const BARE: [Row; 5] = [
    least(Measure::Ph, 7.5, VDI),
    least(on(Calcium), 20.0, VDI),
    most(on(Chloride), 200.0, PRACTICE).warn(150.0),
    most(on(Sulfate), 325.0, PRACTICE).warn(200.0),
    watch(Measure::Ryznar, 7.5, COMPRESSOR),
];

/// With one: chloride and sulfate are the supplier's to state.
const INHIBITED: [Row; 2] = [least(Measure::Ph, 7.0, VDI), watch(Measure::Ryznar, 9.0, COMPRESSOR)];

/// Larson and Skold's ratio from which corrosion may rise, in water of some alkalinity, mg/L as CaCO3, without acid.
const LARSON_FROM: f64 = 0.8;
const SOME_ALKALINITY: f64 = 50.0;

const OF: &str = "carbon steel";

pub(super) fn add(all: &mut Limits, is_inhibited: bool, at: &Circumstances) {
    let standing = Standing::Material(Material::CarbonSteel);
    let rows: &[Row] = if is_inhibited { &INHIBITED } else { &BARE };
    let says = "the water dissolves its own protecting lime";
    for row in rows {
        all.limits.extend(row.limit(OF, standing));
        all.watched.extend(row.watched(OF, standing, Danger::Corrosion, says));
    }
    if is_inhibited {
        all.remark(
            RemarkKind::Note,
            "Carbon steel with an inhibitor: how much chloride and sulfate it stands, the supplier says; state it as \
             a [[limit]].",
        );
    } else {
        all.remark(
            RemarkKind::BareSteel,
            "Bare carbon steel needs an inhibitor against corrosion at any number of cycles (VDI 3803): have one \
             fed, and state [treatment] corrosion_inhibitor = true.",
        );
        if at.acid.is_none() {
            let larson = watch(Measure::LarsonSkold, LARSON_FROM, LARSON);
            let says = "chloride and sulfate outweigh the alkalinity; high above 1.2";
            let watched = larson.watched(OF, standing, Danger::Corrosion, says);
            all.watched.extend(watched.map(|watched| Watched {
                only_above: Some((on(Alkalinity), SOME_ALKALINITY)),
                ..watched
            }));
        }
    }
    galvanised::soft_makeup(all, OF, at);
}

#[cfg(test)]
mod tests {
    use super::super::tests::COOL;
    use super::*;
    use crate::blowdown::limit::Bound;

    #[test]
    fn an_inhibitor_moves_the_floors_and_leaves_salts_to_its_supplier() {
        let of = |is_inhibited| {
            let mut all = Limits::default();
            add(&mut all, is_inhibited, &COOL);
            all
        };
        let floor = |all: &Limits| {
            let is_it = |l: &&crate::blowdown::limit::Limit| l.measure == Measure::Ph;
            all.limits.iter().find(is_it).map(|limit| limit.value)
        };
        let (bare, inhibited) = (of(false), of(true));
        assert_eq!((floor(&bare), floor(&inhibited)), (Some(7.5), Some(7.0)));
        assert!(bare.limits.iter().any(|l| l.bound == Bound::Most));
        assert!(inhibited.limits.iter().all(|l| l.bound == Bound::Least));
        let needs_one = |all: &Limits| all.remarks.iter().any(|r| r.kind == RemarkKind::BareSteel);
        assert!(needs_one(&bare) && !needs_one(&inhibited));
        let ryznar = |all: &Limits| {
            all.watched.iter().find(|w| w.measure == Measure::Ryznar).map(|w| w.from)
        };
        assert_eq!((ryznar(&bare), ryznar(&inhibited)), (Some(7.5), Some(9.0)));
    }
}
