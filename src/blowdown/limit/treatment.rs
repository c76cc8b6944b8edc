//! What deposits, and how much of it a treatment carries.

use super::{
    Circumstances, Danger, Limit, Limits, Measure, RemarkKind, Row, Standing, StatedLimits, Text,
    Watched, calcium, degrees, most, on, watch,
};
use crate::chemistry::Constituent::{Alkalinity, Calcium, Iron, Manganese, Phosphate, Silica};
use crate::chemistry::Mineral;
use crate::site::Acid;
use crate::site::description::ScaleInhibitor;

/// Saturation index of calcite that water without a scale inhibitor may have.
pub const UNTREATED_CALCITE: f64 = 0.5;
/// The highest true saturation index of calcite that is published of a programme: 300 times saturation.
pub const HIGHEST_CARRIED: f64 = 2.5;

const UNTREATED: &str = "Langelier's index up to 0.5 or 1 without treatment: heat-pump guide, compressor maker's \
                         requirements, sheet of a maker of towers";
const CARRIED: &str = "below the 100 to 120 times saturation of conventional programmes and the 300 times of others \
                       (Corrosion 94, a study of calcite supersaturation); a margin for ordinary control is ours";

/// Saturation index of calcite on the hottest surface that each programme carries under good control.
const CALCITE: [(ScaleInhibitor, f64, &str, &str); 3] = [
    (ScaleInhibitor::None, UNTREATED_CALCITE, "no inhibitor", UNTREATED),
    (ScaleInhibitor::Phosphonate, 1.8, "phosphonate", CARRIED),
    (ScaleInhibitor::AlkalinePolymer, 2.2, "alkaline polymer", CARRIED),
];

const SATURATION: &str = "saturation of the solved water";
const GYPSUM: &str = "saturation; a margin of 0.2 is common practice";
const SILICA: &str = "150 mg/L in UFC 3-240-13FN (2005), Palo Alto 16.14.350 (2024) and a sheet of a maker of towers";
const SILICA_INDEX: &str = "what 150 mg/L means at 20 °C, rounded up (computed with phreeqc.dat)";
const MAGNESIUM_SILICATE: &str = "ours, midway between the rule of 35 000 (Mg as CaCO3 x SiO2, from memory) and that of \
                                  UFC 3-240-13FN (2005)";
const UFC_BOX: &str =
    "UFC 3-240-13FN (2005): pH below 9.0, magnesium below 500 mg/L as CaCO3, silica below 100 mg/L";
const PHOSPHATE: &str =
    "Gregory et al. (1974, J. Res. Natl. Bur. Stand. 78A, 667); 2 mg/L: a chemist's page";
const SCALE_WATCHED: &str = "calcium 600: Palo Alto 16.14.350 (2024) and sheets of makers of towers; alkalinity 350: \
                             VDI 3803 (2002) for phosphonates";
const MANGANESE: &str = "VDI 3803 (2002), and sheets of makers of towers and of plate exchangers";
const IRON: &str = "a Japanese guideline (JRA-GL-02-1994); 0.1 in VDI 3803 (2002)";

/// Silica that water may hold without a silica inhibitor: mg/L, and as a saturation index.
const MOST_SILICA: f64 = 150.0;
const MOST_SILICA_INDEX: f64 = 0.15;
/// Saturation index of poorly crystalline magnesium silicate in untreated water.
const MOST_MAGNESIUM_SILICATE: f64 = 2.0;
/// Calcium, mg/L as CaCO3, below which water is soft and lays little down.
const SOFT: f64 = 50.0;
/// Orthophosphate, mg/L, from which tricalcium phosphate is looked at.
const SOME_PHOSPHATE: f64 = 2.0;
/// Magnesium, mg/L, of 500 mg/L as CaCO3.
const BOX_MAGNESIUM: f64 = 500.0 * 24.305 / 100.09;

const fn index(mineral: Mineral) -> Measure {
    Measure::SaturationIndex(mineral)
}

const OF_DEFAULT: &str = "default";

/// What nobody stated of minerals.
const DEFAULTS: [Row; 2] = [
    most(index(Mineral::Gypsum), 0.0, GYPSUM).warn(-0.2),
    most(index(Mineral::Brucite), 0.0, SATURATION),
];

/// Whether the site file states a treatment that carries scale.
pub fn is_treated(stated: &StatedLimits) -> bool {
    let by_number = stated.saturation_index.calcite.is_some_and(|index| index > UNTREATED_CALCITE);
    by_number || stated.scale_inhibitor.is_some_and(|programme| programme != ScaleInhibitor::None)
}

pub(super) fn add(all: &mut Limits, stated: &StatedLimits, at: &Circumstances) {
    let indices = &stated.saturation_index;
    let own = [
        (Mineral::Calcite, indices.calcite),
        (Mineral::Gypsum, indices.gypsum),
        (Mineral::AmorphousSilica, indices.amorphous_silica),
        (Mineral::Brucite, indices.brucite),
        (Mineral::MagnesiumSilicate, indices.magnesium_silicate),
        (Mineral::Fluorite, indices.fluorite),
        (Mineral::TricalciumPhosphate, indices.tricalcium_phosphate),
    ];
    let own = own.into_iter().filter_map(|(mineral, value)| Some((index(mineral), value?)));
    let own = own.map(|(measure, value)| {
        let row = most(measure, value, "stated in the site file");
        row.limit("treatment", Standing::Stated)
    });
    all.limits.extend(own.flatten());
    if indices.calcite.is_none() {
        all.limits.extend(calcite(stated.scale_inhibitor));
    }
    if indices.amorphous_silica.is_none() {
        silica(all, at);
    }
    for row in DEFAULTS {
        if all.limits.iter().all(|limit| limit.measure != row.measure) {
            all.limits.extend(row.limit(OF_DEFAULT, Standing::Default));
        }
    }
    if indices.magnesium_silicate.is_none() {
        magnesium_silicate(all, is_treated(stated));
    }
    watch_deposits(all, stated);
    if at.acid == Some(Acid::Sulfuric) {
        all.remark(
            RemarkKind::Note,
            "Barium is not judged: with sulfuric acid some 0.01 mg/L of it in the makeup can deposit as barite at high \
             cycles (Association of Water Technologies, 2010); have the makeup analysed for it.",
        );
    }
}

/// Calcite by programme; nobody stated a number.
fn calcite(programme: Option<ScaleInhibitor>) -> Option<Limit> {
    let known = programme.unwrap_or(ScaleInhibitor::None);
    let (_, value, of, source) = CALCITE.into_iter().find(|(each, ..)| *each == known)?;
    let (of, standing) = match programme {
        Some(_) => (of, Standing::Preset),
        None => (OF_DEFAULT, Standing::Default),
    };
    let limit = most(index(Mineral::Calcite), value, source).limit(of, standing)?;
    Some(match known {
        ScaleInhibitor::None => limit
            .warned_from(0.0, SATURATION)
            .when("no scale inhibitor is stated; light scale is possible"),
        _ => limit.when(
            "with the programme under good control; the supplier's own number goes before it",
        ),
    })
}

/// Silica by its mass and where the basin is coldest.
fn silica(all: &mut Limits, at: &Circumstances) {
    all.limits.extend(most(on(Silica), MOST_SILICA, SILICA).limit(OF_DEFAULT, Standing::Default));
    let condition: Text = match at.coldest_celsius {
        Some(celsius) => format!("in the coldest basin that runs, {}", degrees(celsius)).into(),
        None => format!(
            "in the design's basin, {}; silica drops out in colder ones, in winter and at night: state \
             circuit.coldest_basin",
            degrees(at.basin_celsius)
        )
        .into(),
    };
    let row = most(index(Mineral::AmorphousSilica), MOST_SILICA_INDEX, SILICA_INDEX).warn(0.0);
    all.limits.extend(row.limit(OF_DEFAULT, Standing::Default).map(|limit| limit.when(condition)));
}

/// Poorly crystalline magnesium silicate: a ceiling without treatment, with one a warning.
fn magnesium_silicate(all: &mut Limits, is_treated: bool) {
    let measure = index(Mineral::MagnesiumSilicate);
    if is_treated {
        let row = watch(measure, MOST_MAGNESIUM_SILICATE, MAGNESIUM_SILICATE);
        let says = "ask the supplier how much the treatment carries, and state limits.saturation_index.magnesium_silicate";
        all.watched.extend(row.watched(OF_DEFAULT, Standing::Default, Danger::Deposit, says));
    } else {
        let row = most(measure, MOST_MAGNESIUM_SILICATE, MAGNESIUM_SILICATE);
        let limit = row.limit(OF_DEFAULT, Standing::Default);
        all.limits.extend(limit.map(|limit| limit.warned_from(0.0, SATURATION)));
    }
    let rows = [
        watch(Measure::Ph, 9.0, UFC_BOX),
        watch(on(crate::chemistry::Constituent::Magnesium), BOX_MAGNESIUM, UFC_BOX),
        watch(on(Silica), 100.0, UFC_BOX),
    ];
    let says = "magnesium silicate may form on hot surfaces";
    for row in rows {
        let watched = row.watched("magnesium silicate", Standing::Default, Danger::Deposit, says);
        all.watched
            .extend(watched.map(|watched| Watched { only_above: Some((measure, 0.0)), ..watched }));
    }
}

fn watch_deposits(all: &mut Limits, stated: &StatedLimits) {
    let indices = &stated.saturation_index;
    let rows = [
        (
            indices.tricalcium_phosphate.is_none(),
            watch(index(Mineral::TricalciumPhosphate), 0.0, PHOSPHATE),
            "needs a polymer that carries calcium phosphate, and filtered phosphate like unfiltered",
            Some((on(Phosphate), SOME_PHOSPHATE)),
        ),
        (
            indices.fluorite.is_none(),
            watch(index(Mineral::Fluorite), 0.0, SATURATION),
            "calcium fluoride may deposit; no practice is published, ask the supplier",
            None,
        ),
        // A number that the supplier vouches for goes before these.
        (
            indices.calcite.is_none(),
            watch(on(Calcium), calcium(600.0), SCALE_WATCHED),
            "much for most programmes (600 mg/L as CaCO3)",
            Some((index(Mineral::Calcite), 0.0)),
        ),
        // Alkalinity alone lays nothing down, and other programmes have no such number.
        (
            indices.calcite.is_none()
                && stated.scale_inhibitor == Some(ScaleInhibitor::Phosphonate),
            watch(on(Alkalinity), 350.0, SCALE_WATCHED),
            "much for phosphonate",
            Some((on(Calcium), calcium(SOFT))),
        ),
    ];
    for (is_asked, row, says, only_above) in rows {
        if is_asked {
            let watched = row.watched(OF_DEFAULT, Standing::Default, Danger::Deposit, says);
            let needs = (row.measure == index(Mineral::TricalciumPhosphate))
                .then_some("a polymer that carries calcium phosphate");
            all.watched.extend(watched.map(|watched| Watched { only_above, needs, ..watched }));
        }
    }
    let iron = watch(on(Iron), 1.0, IRON);
    let says = "iron settles and feeds growth";
    all.watched.extend(iron.watched(OF_DEFAULT, Standing::Default, Danger::Fouling, says));
    let manganese = watch(on(Manganese), 0.1, MANGANESE);
    let says = "its oxide coats surfaces, and pits stainless steel beneath";
    all.watched.extend(manganese.watched(OF_DEFAULT, Standing::Default, Danger::Fouling, says));
}

#[cfg(test)]
mod tests {
    use super::super::tests::COOL;
    use super::*;
    use crate::site::description::SaturationLimits;

    fn of(stated: &StatedLimits, at: &Circumstances) -> Limits {
        let mut all = Limits::default();
        add(&mut all, stated, at);
        all
    }

    fn value(all: &Limits, mineral: Mineral) -> Option<(f64, Standing)> {
        let limit = all.limits.iter().find(|limit| limit.measure == index(mineral))?;
        Some((limit.value, limit.standing))
    }

    #[test]
    fn calcite_goes_by_programme_and_a_number_goes_before_it() {
        let with = |scale_inhibitor, calcite| StatedLimits {
            scale_inhibitor,
            saturation_index: SaturationLimits { calcite, ..SaturationLimits::default() },
            ..StatedLimits::default()
        };
        let calcite = |stated: StatedLimits| value(&of(&stated, &COOL), Mineral::Calcite).unwrap();
        assert_eq!(calcite(with(None, None)), (0.5, Standing::Default));
        let phosphonate = Some(ScaleInhibitor::Phosphonate);
        assert_eq!(calcite(with(phosphonate, None)), (1.8, Standing::Preset));
        assert_eq!(calcite(with(phosphonate, Some(2.1))), (2.1, Standing::Stated));
        assert_eq!(
            calcite(with(Some(ScaleInhibitor::AlkalinePolymer), None)),
            (2.2, Standing::Preset)
        );
    }

    #[test]
    fn magnesium_silicate_sets_no_ceiling_under_a_treatment() {
        let none = StatedLimits::default();
        let treated = StatedLimits {
            scale_inhibitor: Some(ScaleInhibitor::AlkalinePolymer),
            ..StatedLimits::default()
        };
        let ceiling = |stated| value(&of(stated, &COOL), Mineral::MagnesiumSilicate);
        assert_eq!(ceiling(&none), Some((2.0, Standing::Default)));
        assert_eq!(ceiling(&treated), None);
    }

    #[test]
    fn silica_has_two_defaults_and_a_stated_index_has_neither() {
        let silica = |amorphous_silica| {
            let saturation_index = SaturationLimits { amorphous_silica, ..Default::default() };
            let all = of(&StatedLimits { saturation_index, ..Default::default() }, &COOL);
            let mass = all.limits.iter().find(|l| l.measure == on(Silica)).map(|l| l.value);
            (mass, value(&all, Mineral::AmorphousSilica).map(|(value, _)| value))
        };
        assert_eq!(silica(None), (Some(150.0), Some(0.15)));
        assert_eq!(silica(Some(0.3)), (None, Some(0.3)));
    }
}
