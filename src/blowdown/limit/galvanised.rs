//! Galvanised steel, new and with its protective layer.

use super::{
    Circumstances, Danger, Limits, Measure, RemarkKind, Row, Standing, calcium, least, most, on,
    watch, watch_below,
};
use crate::chemistry::Constituent::{
    Alkalinity, Calcium, Chloride, Hardness, Iron, Nitrate, Sulfate,
};
use crate::site::description::Material;

const SHEETS: &str = "water-quality sheets of three makers of towers; they disagree";
const SHEET: &str = "a water-quality sheet of a maker of towers";
const NEW: &str = "water-quality sheets of two makers of towers, for the first 6 to 12 weeks";

/// With its layer: the most lenient sheet stops, the strictest warns. One sheet keeps to pH 8.0 and says that it is
/// relaxed with the layer.
const PASSIVATED: [Row; 11] = [
    most(Measure::Ph, 9.0, SHEETS).warn(8.8),
    least(Measure::Ph, 7.0, SHEETS),
    most(on(Alkalinity), 500.0, SHEETS).warn(400.0),
    least(on(Alkalinity), 75.0, SHEETS),
    least(on(Hardness), 30.0, SHEETS),
    most(on(Chloride), 300.0, SHEETS).warn(125.0),
    most(on(Sulfate), 250.0, SHEETS).warn(125.0),
    most(on(Nitrate), 300.0, SHEET),
    most(on(Iron), 3.0, SHEET),
    watch_below(on(Calcium), calcium(50.0), SHEETS),
    watch(Measure::DissolvedSolids, 1_500.0, SHEET),
];

/// In its first weeks.
const FIRST_WEEKS: [Row; 7] = [
    most(Measure::Ph, 8.0, NEW),
    // One sheet goes down to 6.5.
    least(Measure::Ph, 7.0, NEW),
    most(on(Alkalinity), 300.0, NEW),
    most(on(Chloride), 250.0, NEW),
    most(on(Sulfate), 250.0, NEW),
    least(on(Calcium), calcium(50.0), NEW),
    // One sheet alone caps it, and caps the hardness of calcium.
    watch(on(Calcium), calcium(300.0), SHEET),
];

/// Weeks that the layer takes to form.
const WEEKS: &str = "8 weeks (6 to 12)";
/// Softer makeup than this, mg/L as CaCO3, forms no layer on zinc and iron (a trade journal).
pub(super) const SOFT: f64 = 50.0;

pub(super) fn add(all: &mut Limits, material: Material, at: &Circumstances) {
    let standing = Standing::Material(material);
    let (of, rows): (_, &[Row]) = match material {
        Material::NewGalvanisedSteel => ("new galvanised", &FIRST_WEEKS),
        _ => ("galvanised steel", &PASSIVATED),
    };
    let says = "outside what a maker of towers asks for";
    for row in rows {
        all.limits.extend(row.limit(of, standing));
        all.watched.extend(row.watched(of, standing, Danger::Corrosion, says));
    }
    if material == Material::NewGalvanisedSteel {
        all.remark(
            RemarkKind::NewGalvanised,
            format!(
                "For its first {WEEKS} new galvanised steel wants few cycles, a passivation programme of the \
                 supplier, and a start without heat load, as cool as can be. Acid may hold the pH at 7.0 to \
                 8.0 only by a metered feed that is interlocked with flow and pH; never by hand. After it, state \
                 galvanised_steel in its place."
            ),
        );
    }
    soft_makeup(all, "zinc", at);
}

/// A makeup too soft to protect zinc and iron.
pub(super) fn soft_makeup(all: &mut Limits, metal: &str, at: &Circumstances) {
    if at.makeup_hardness < SOFT {
        all.remark(
            RemarkKind::Corrosion,
            format!(
                "The makeup's hardness of {:.0} mg/L as CaCO3 is below {SOFT}: soft water attacks {metal} (trade \
                 journal); blend it, or let the supplier match the inhibitor.",
                at.makeup_hardness
            ),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::COOL;
    use super::*;
    use crate::blowdown::limit::{Bound, Limit};

    fn of(material: Material, at: &Circumstances) -> Limits {
        let mut all = Limits::default();
        add(&mut all, material, at);
        all
    }

    /// pH 9.0 and 8.8, alkalinity 500 and 400, chloride 300 and 125: two makers' sheets each.
    #[test]
    fn the_lenient_sheet_stops_and_the_strict_one_warns() {
        let all = of(Material::GalvanisedSteel, &COOL);
        let find = |measure| {
            let is_it = |l: &&Limit| l.measure == measure && l.bound == Bound::Most;
            let limit = all.limits.iter().find(is_it).unwrap();
            (limit.value, limit.warn_from.as_ref().map(|from| from.value))
        };
        assert_eq!(find(Measure::Ph), (9.0, Some(8.8)));
        assert_eq!(find(on(Alkalinity)), (500.0, Some(400.0)));
        assert_eq!(find(on(Chloride)), (300.0, Some(125.0)));
        // Silica is no matter of zinc.
        assert!(all.limits.iter().all(|l| l.measure != on(crate::chemistry::Constituent::Silica)));
    }

    #[test]
    fn new_steel_is_advised_and_soft_makeup_told() {
        let new = of(Material::NewGalvanisedSteel, &COOL);
        assert!(new.remarks.iter().any(|remark| remark.kind == RemarkKind::NewGalvanised));
        let ph = new.limits.iter().find(|l| l.measure == Measure::Ph).unwrap();
        assert_eq!(ph.value, 8.0);
        let soft = Circumstances { makeup_hardness: 20.0, ..COOL };
        let told = |all: Limits| all.remarks.iter().any(|r| r.kind == RemarkKind::Corrosion);
        assert!(told(of(Material::GalvanisedSteel, &soft)));
        assert!(!told(of(Material::GalvanisedSteel, &COOL)));
    }
}
