//! The limits of a site under its temperatures and makeup, and what they warn of at the target.

use super::blowdown::{BlowdownSheet, is_unmet};
use super::tower_water::SiteWater;
use super::{Inputs, Model};
use crate::blowdown::limit::{
    Bound, Circumstances, Danger, HIGHEST_CARRIED, Limit, Limits, Measure, RemarkKind, Standing,
    Watched,
};
use crate::blowdown::target::{Allows, MOST_CYCLES};
use crate::blowdown::{ConcentratedWater, PhBasis};
use crate::chemistry::{Constituent, Mineral};
use crate::quantity::{significant, with_decimals};
use crate::site::ChemicalKind;
use crate::warnings::Noticed;
use crate::warnings::blowdown::{self as warn, LONG_HALF_LIFE};

impl Model {
    /// Every limit of the site under the temperatures and the makeup of these numbers.
    pub(super) fn limits(&self, inputs: &Inputs, water: &SiteWater) -> Limits {
        self.site.chemistry.limits.under(&self.circumstances(inputs, water))
    }

    /// What limits depend on beside the site file.
    pub(super) fn circumstances(&self, inputs: &Inputs, water: &SiteWater) -> Circumstances {
        let [basin, surface] = water.tower.constants();
        let makeup = water.tower.makeup();
        let shown = |constituent: Constituent| {
            constituent.of(makeup).map(|moles| constituent.milligram_per_litre(moles))
        };
        let silica_is_known = !water.tower.not_analysed.contains(&Constituent::Silica);
        let measured = Some(self.makeup_conductivity(inputs)).filter(|s| s.is_finite());
        let oxidants = self.site.chemicals.iter().filter(|c| c.kind == ChemicalKind::Oxidant);
        let residuals = oxidants.filter_map(|chemical| chemical.dose);
        Circumstances {
            basin_celsius: basin.celsius(),
            surface_celsius: surface.celsius(),
            coldest_celsius: water.tower.coldest_celsius(),
            makeup_hardness: shown(Constituent::Hardness).unwrap_or(0.0),
            makeup_silica: shown(Constituent::Silica).filter(|_| silica_is_known),
            makeup_conductivity: 1e4 * measured.unwrap_or(water.makeup.conductivity),
            acid: match water.tower.basis() {
                PhBasis::Held { acid, .. } => Some(acid),
                _ => None,
            },
            free_chlorine: residuals.map(|slot| 1e3 * inputs.get(slot)).sum(),
        }
    }

    /// The longest contact time of a chemical, h.
    pub(super) fn longest_contact_hours(&self, inputs: &Inputs) -> Option<f64> {
        let contacts = self.site.chemicals.iter().filter_map(|chemical| chemical.contact);
        contacts.map(|slot| inputs.get(slot) / 3_600.0).max_by(f64::total_cmp)
    }
}

impl BlowdownSheet {
    /// The water that limits are warned of in: at the target, or unconcentrated where there is none.
    pub fn judged_water(&self) -> Option<&ConcentratedWater> {
        self.waters.get(usize::from(self.target_cycles.is_some()))
    }

    /// A limit's value in [`BlowdownSheet::judged_water`], where it lies between the strictest source and the most
    /// lenient one.
    pub fn disputed(&self, limit: &Limit) -> Option<f64> {
        let from = limit.warn_from.as_ref()?;
        let value = limit.measure.known_of(&self.tower, self.judged_water()?)?;
        let is_between = match limit.bound {
            Bound::Most => value > from.value && value <= limit.value,
            Bound::Least => value < from.value && value >= limit.value,
        };
        is_between.then_some(value)
    }

    /// A watched value in [`BlowdownSheet::judged_water`], and whether it is to be warned of.
    pub fn watched_value(&self, watched: &Watched) -> Option<(f64, bool)> {
        let known = |measure: Measure| measure.known_of(&self.tower, self.judged_water()?);
        let value = known(watched.measure)?;
        let matters = watched
            .only_above
            .is_none_or(|(measure, least)| known(measure).is_some_and(|value| value > least));
        let is_beyond = match watched.bound {
            Bound::Most => value > watched.from,
            Bound::Least => value < watched.from,
        };
        Some((value, matters && is_beyond))
    }

    /// What is watched by default and cannot be judged, because no analysis holds it.
    pub fn not_watched(&self) -> Vec<String> {
        let unknown = self.watched.iter().filter(|w| w.standing == Standing::Default);
        let mut names: Vec<String> = unknown
            .filter(|watched| self.watched_value(watched).is_none())
            .map(|watched| watched.measure.name())
            .collect();
        names.dedup();
        names
    }
}

/// What limits warn of, the most weighty first.
pub(super) fn warnings(sheet: &BlowdownSheet) -> Vec<Noticed> {
    // Warnings are of the target; where there is none, they say of what.
    let at = if sheet.target_cycles.is_some() { "" } else { " at 1 cycle" };
    let remarks = |kind| {
        let of_kind = sheet.remarks.iter().filter(move |remark| remark.kind == kind);
        of_kind.map(|remark| remark.text.to_string())
    };
    let watched = |danger| {
        let of_danger = sheet.watched.iter().filter(move |watched| watched.danger == danger);
        of_danger.filter_map(|watched| told(sheet, watched, at))
    };
    let noticed = |notice: &'static crate::warnings::Notice, sentences: Vec<String>| {
        (!sentences.is_empty()).then(|| notice.with(sentences.join(" ")))
    };
    let steel = remarks(RemarkKind::BareSteel).chain(remarks(RemarkKind::Corrosion));
    let corrosion = steel.chain(watched(Danger::Corrosion)).collect();
    [
        noticed(&warn::NEW_GALVANISED, remarks(RemarkKind::NewGalvanised).collect()),
        noticed(&warn::CORROSION_POSSIBLE, corrosion),
        noticed(&warn::DEPOSIT_POSSIBLE, watched(Danger::Deposit).collect()),
        noticed(&warn::FOULING_POSSIBLE, watched(Danger::Fouling).collect()),
        sources_disagree(sheet, at),
        not_judged(sheet),
        corrosion_not_judged(sheet),
        calcite_index_high(sheet),
        half_life(sheet),
        noticed(&warn::FLOOR_NOT_MET, unmet_floors(sheet)),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn told(sheet: &BlowdownSheet, watched: &Watched, at: &str) -> Option<String> {
    let (value, is_beyond) = sheet.watched_value(watched)?;
    let measure = watched.measure;
    let side = if watched.bound == Bound::Most { "above" } else { "below" };
    let of = match watched.standing {
        Standing::Material(_) => format!(" ({})", watched.of),
        _ => String::new(),
    };
    is_beyond.then(|| {
        format!(
            "{} {}{at}{of}, {side} {}: {}.",
            capitalised(&measure.name()),
            measure.shown_with_unit(value),
            measure.shown(watched.from),
            watched.says
        )
    })
}

fn capitalised(name: &str) -> String {
    let mut letters = name.chars();
    // pH stays as it is.
    match letters.next() {
        Some(first) if !name.starts_with("pH") => first.to_uppercase().chain(letters).collect(),
        _ => name.into(),
    }
}

fn sources_disagree(sheet: &BlowdownSheet, at: &str) -> Option<Noticed> {
    let disputed: Vec<String> = sheet
        .bindings
        .iter()
        .filter_map(|binding| {
            let limit = &binding.limit;
            let value = sheet.disputed(limit)?;
            let from = limit.warn_from.as_ref()?.value;
            let ends = match limit.bound {
                Bound::Most => [from, limit.value],
                Bound::Least => [limit.value, from],
            };
            let [low, high] = ends.map(|end| limit.measure.shown(end));
            let of = match limit.standing {
                Standing::Default | Standing::Preset => String::new(),
                _ => format!("{}: ", limit.of),
            };
            let value = limit.measure.shown_with_unit(value);
            Some(format!("{} {value} ({of}{low} to {high})", limit.measure.name()))
        })
        .collect();
    (!disputed.is_empty()).then(|| {
        warn::SOURCES_DISAGREE.with(format!(
            "{}{at}. Ask the maker or the supplier, and state the answer as a [[limit]].",
            capitalised(&disputed.join("; "))
        ))
    })
}

fn not_judged(sheet: &BlowdownSheet) -> Option<Noticed> {
    let limits = sheet.bindings.iter().filter(|binding| binding.allows == Allows::Unknown);
    let watched = sheet.watched.iter().filter(|watched| {
        matches!(watched.standing, Standing::Material(_)) && sheet.watched_value(watched).is_none()
    });
    let mut names: Vec<String> = Vec::new();
    let measures = limits.map(|binding| binding.limit.measure);
    for name in measures.chain(watched.map(|watched| watched.measure)).map(Measure::name) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    (!names.is_empty()).then(|| {
        warn::LIMIT_NOT_JUDGED.with(format!("Not in every analysis: {}.", names.join(", ")))
    })
}

fn corrosion_not_judged(sheet: &BlowdownSheet) -> Option<Noticed> {
    (!sheet.corrosion_is_judged)
        .then(|| warn::CORROSION_NOT_JUDGED.with("No steel is stated under [limits] materials."))
}

fn calcite_index_high(sheet: &BlowdownSheet) -> Option<Noticed> {
    let is_it = |limit: &&Limit| {
        limit.is_own()
            && limit.bound == Bound::Most
            && limit.measure == Measure::SaturationIndex(Mineral::Calcite)
            && limit.value > HIGHEST_CARRIED
    };
    let limit = sheet.bindings.iter().map(|binding| &binding.limit).find(is_it)?;
    Some(warn::CALCITE_INDEX_HIGH.with(format!(
        "Calcite is allowed up to SI {}, more than {HIGHEST_CARRIED}, the highest that is published of a programme. If \
         the supplier means Langelier's index, which reads higher, write it as a [[limit]] of = \
         \"langelier_at_surface\" (or \"langelier\", in the basin).",
        with_decimals(limit.value, 2)
    )))
}

fn half_life(sheet: &BlowdownSheet) -> Option<Noticed> {
    let hours = sheet.half_life(sheet.at_target.as_ref()?)?;
    let shown = significant(hours, 2);
    if let Some(contact) = sheet.longest_contact_hours.filter(|contact| hours < *contact) {
        return Some(warn::HALF_LIFE_SHORT.with(format!(
            "At the target half of the water is renewed in {shown} h, sooner than the longest contact of {} h: keep \
             the blowdown shut so long after the slug.",
            significant(contact, 2)
        )));
    }
    (hours > LONG_HALF_LIFE).then(|| {
        warn::HALF_LIFE_LONG.with(format!(
            "At the target half of the water is renewed in {shown} h, more than {LONG_HALF_LIFE} h (common practice): \
             ask the supplier whether inhibitor and biocide last so long."
        ))
    })
}

fn unmet_floors(sheet: &BlowdownSheet) -> Vec<String> {
    let target = sheet.target_cycles.unwrap_or(1.0);
    let unmet = sheet.bindings.iter().filter(|binding| is_unmet(binding, target));
    unmet
        .map(|binding| {
            let limit = &binding.limit;
            let who = capitalised(&limit.of);
            if limit.measure == Measure::Cycles {
                return format!(
                    "{who} asks for at least {} cycles.",
                    limit.measure.shown(limit.value)
                );
            }
            let asked = match binding.allows {
                Allows::From(cycles) => format!("met from {} cycles on", with_decimals(cycles, 2)),
                Allows::UpTo(cycles) => format!("met up to {} cycles", with_decimals(cycles, 2)),
                _ => format!("not met up to {MOST_CYCLES} cycles"),
            };
            let side = if limit.bound == Bound::Most { "most" } else { "least" };
            format!(
                "{who} asks for {} of at {side} {}, {asked}.",
                limit.measure.name(),
                limit.measure.shown_with_unit(limit.value)
            )
        })
        .collect()
}
