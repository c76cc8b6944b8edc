//! Copper and its alloys.

use super::{Danger, Limits, Measure, Standing, Watched, on, watch, watch_below};
use crate::chemistry::Constituent::Ammonia;
use crate::quantity::Basis;
use crate::site::description::Material;

/// Ammonium, mg/L as NH4, from which copper corrodes: a bulletin of plate exchangers; a Japanese guideline has 1.0,
/// a heat-pump guide 0.5.
const AMMONIUM: f64 = 2.0;
/// Where copper is at ease, ibid.
const PH: [f64; 2] = [7.5, 9.0];

const SOURCE: &str = "a maker's bulletin of brazed plate exchangers; a heat-pump guide warns from 0.5 mg/L as NH4, a \
                      water-works table of admiralty brass from 0.2 mg/L";

pub(super) fn add(all: &mut Limits) {
    let standing = Standing::Material(Material::CopperAlloy);
    let ammonia = AMMONIUM * Basis::Ammonia.molar_mass() / Basis::Ammonium.molar_mass();
    let [low, high] = PH;
    let eats = "ammonia attacks copper (from 2 mg/L as NH4, not recommended from 20; brass cracks from 0.2); part of it \
                leaves the tower, so measure it in the basin, and have an azole fed";
    let ph = "copper is at ease at pH 7.5 to 9.0; have an azole fed";
    let rows = [
        (watch(on(Ammonia), ammonia, SOURCE), eats),
        (watch(Measure::Ph, high, SOURCE), ph),
        (watch_below(Measure::Ph, low, SOURCE), ph),
    ];
    for (row, says) in rows {
        let watched = row.watched("copper alloys", standing, Danger::Corrosion, says);
        let needs = (row.measure == on(Ammonia))
            .then_some("an azole that keeps copper at the basin's own ammonia");
        all.watched.extend(watched.map(|watched| Watched { needs, ..watched }));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn ammonia_is_counted_as_ammonium_and_stops_nothing() {
        let mut all = Limits::default();
        add(&mut all);
        assert!(all.limits.is_empty());
        // 2 mg/L as NH4 is 1.89 mg/L as NH3 and 1.55 as N (molar masses 18.04, 17.03, 14.007).
        assert_eq!(all.watched[0].measure, on(Ammonia));
        assert_relative_eq!(all.watched[0].from, 2.0 * 17.031 / 18.039, max_relative = 1e-4);
    }
}
