//! What is doubtful about the analyses of a site: slips of the pen that explain a sheet, a pH that no makeup has, old
//! samples.

use super::BlowdownSheet;
use super::tower_water::{NOTABLE_IMBALANCE, SourceWater};
use super::{Inputs, Model, SlotId, UsedAnalysis};
use crate::blowdown::own_test::{Reason, Standing, Tracer};
use crate::chemistry::slip::{self, Contradiction, Expected, MayBe, Of, Sheet};
use crate::chemistry::{CompletedFrom, Constituent, Mineral};
use crate::quantity::{Uncertainty, significant, with_decimals};
use crate::site::{SiteAnalysis, SiteMakeup};
use crate::warnings::{Noticed, analysis as warn, blowdown};

impl Model {
    /// What is doubtful about the analyses, in sentences.
    pub(super) fn doubts(&self, inputs: &Inputs, sheet: &BlowdownSheet) -> Vec<Noticed> {
        let mut doubts: Vec<Noticed> = Vec::new();
        for (source, water) in self.site.makeup.iter().zip(&sheet.sources) {
            let mut of_makeup = self.slip_sheet(inputs, &source.analysis);
            if let [_] = self.site.makeup.as_slice() {
                of_makeup.expected = self.by_tower(inputs, sheet);
            }
            let slip = slip::told(&of_makeup, is_suspected(water));
            doubts.extend(
                slip.map(|slip| {
                    warn::ANALYSIS_SLIP.with(format!("Makeup {}: {slip}.", source.name))
                }),
            );
            doubts.extend(self.ph_of_makeup(inputs, source));
            doubts.extend(mostly_made_up(water));
        }
        if let Some(own) = &self.site.chemistry.circulating_water {
            let mut of_tower = self.slip_sheet(inputs, own);
            of_tower.expected = self.by_makeup(inputs, sheet);
            of_tower.cycles = sheet.real.as_ref().map_or(sheet.present_cycles, |real| real.cycles);
            let found = slip::explain(&of_tower, false).filter(|found| !is_told(sheet, found));
            doubts.extend(
                found
                    .and_then(|found| found.told(&of_tower))
                    .map(|slip| warn::ANALYSIS_SLIP.with(format!("Circulating water: {slip}."))),
            );
        }
        doubts.extend(self.p_alkalinity_of_tower(inputs));
        doubts.extend(self.site.makeup.iter().filter_map(|source| {
            self.hydroxide(inputs, &source.analysis, &format!("Makeup {}", source.name))
        }));
        doubts.extend(old_samples(&self.analyses_used(inputs)));
        doubts
    }

    /// A pH that no makeup keeps.
    fn ph_of_makeup(&self, inputs: &Inputs, source: &SiteMakeup) -> Option<Noticed> {
        /// pH that differ by less are the same reading.
        const SAME: f64 = 0.15;
        let analysis = self.analysis(inputs, &source.analysis);
        let ph = analysis.ph?;
        let water = analysis.composition().ok()?;
        let solved = analysis.solve(&water).ok()?;
        let calcite = solved.saturation_index(Mineral::Calcite).unwrap_or(f64::NEG_INFINITY);
        let most = match solved.log10_carbon_dioxide < warn::LEAST_CARBON_DIOXIDE {
            true => warn::MOST_CALCITE_BELOW_AIR,
            false => warn::MOST_CALCITE,
        };
        let is_above = calcite > most;
        let is_below = solved.log10_carbon_dioxide > warn::MOST_CARBON_DIOXIDE;
        if !is_above && !is_below {
            return None;
        }
        let of_tower = self.site.chemistry.circulating_water.as_ref().and_then(|own| own.ph);
        let of_tower = of_tower.map(|slot| inputs.get(slot));
        let so = match is_above {
            true => format!(
                "would hold calcite at SI {}, {} times saturation, which no makeup keeps",
                with_decimals(calcite, 1),
                significant(10f64.powf(calcite), 2)
            ),
            false => format!(
                "would hold carbon dioxide at {} atm, which is sparkling water",
                significant(10f64.powf(solved.log10_carbon_dioxide), 2)
            ),
        };
        let likely = match of_tower {
            Some(of_tower) if (of_tower - ph).abs() <= SAME => {
                format!("it is the tower's pH ({})", with_decimals(of_tower, 2))
            }
            Some(of_tower) if is_above && of_tower < ph => {
                format!("it was swapped with the tower's ({})", with_decimals(of_tower, 2))
            }
            _ if is_above => {
                "likely it is the tower's pH, or the sample lost its carbon dioxide, or calcium or alkalinity is a slip"
                    .into()
            }
            _ => "likely a slip of the pH, or of alkalinity".into(),
        };
        Some(warn::MAKEUP_PH_ODD.with(format!(
            "Makeup {}: at pH {} its alkalinity of {} mg/L as CaCO3 {so}: {likely}.",
            source.name,
            with_decimals(ph, 2),
            significant(Constituent::Alkalinity.milligram_per_litre(water.alkalinity), 3)
        )))
    }

    /// Phenolphthalein alkalinity of the tower against what its pH leaves of the total. Its ions are those that were
    /// analysed: they move it by little.
    fn p_alkalinity_of_tower(&self, inputs: &Inputs) -> Option<Noticed> {
        /// Part of the total that P may be off by, where that is more than a drop of a kit.
        const OF_TOTAL: f64 = 0.1;
        let own = self.site.chemistry.circulating_water.as_ref()?;
        let analysis = self.analysis(inputs, own);
        let water = analysis.composition().ok().filter(|water| water.alkalinity > 0.0)?;
        let shown = |moles: f64| Constituent::Alkalinity.milligram_per_litre(moles);
        let found = shown(analysis.p_alkalinity?);
        if analysis.ph.is_none() {
            return self.hydroxide(inputs, own, "Circulating water");
        }
        let expected = shown(analysis.p_alkalinity_of(&water)?);
        let agrees = blowdown::P_AGREES.max(OF_TOTAL * shown(water.alkalinity));
        ((found - expected).abs() > agrees).then(|| {
            blowdown::P_ALKALINITY_OFF_PH.with(format!(
                "Circulating water: P alkalinity of {} mg/L as CaCO3 was found; at the stated pH it would be {}: the pH \
                 or one of the titrations is off, or the sample took up or lost carbon dioxide.",
                significant(found, 3),
                significant(expected, 3)
            ))
        })
    }

    /// P above half of M without a pH: hydroxide, which no water has that meets air.
    fn hydroxide(&self, inputs: &Inputs, analysis: &SiteAnalysis, of: &str) -> Option<Noticed> {
        let found = self.analysis(inputs, analysis);
        let shown = |moles: f64| Constituent::Alkalinity.milligram_per_litre(moles);
        let (part, total) =
            (shown(found.p_alkalinity?), shown(found.composition().ok()?.alkalinity));
        let hydroxide = 2.0 * part - total;
        (found.ph.is_none() && hydroxide > blowdown::P_AGREES).then(|| {
            blowdown::P_ALKALINITY_OFF_PH.with(format!(
                "{of}: P alkalinity of {} beside {} mg/L as CaCO3 in all leaves {} of hydroxide (2 P - M), a pH above \
                 10: water overfed with lime or caustic, or P and M are off.",
                significant(part, 3),
                significant(total, 3),
                significant(hydroxide, 3)
            ))
        })
    }

    /// An analysis with its witnesses.
    pub(super) fn slip_sheet(&self, inputs: &Inputs, analysis: &SiteAnalysis) -> Sheet {
        let standard =
            |slot: SlotId| self.slot_value(slot).uncertainty.map_or(0.0, Uncertainty::standard);
        analysis.sheet(|slot| inputs.get(slot), standard)
    }

    /// What the tower's own analysis says of its one makeup, where its ions agree on the cycles.
    fn by_tower(&self, inputs: &Inputs, sheet: &BlowdownSheet) -> Vec<Expected> {
        let own = self.site.chemistry.circulating_water.as_ref();
        let Some((own, (cycles, relative))) = own.zip(agreed(sheet)) else { return Vec::new() };
        let found = self.assay(inputs, own);
        let expected = TOLD.iter().filter_map(|(constituent, may_be)| {
            let found = found.get(*constituent)?;
            // What is less in the tower than the makeup brings may be more in the makeup, and the reverse.
            let may_be = match may_be {
                MayBe::TheSame => MayBe::TheSame,
                MayBe::Less => MayBe::More,
                MayBe::More => MayBe::Less,
            };
            Some(Expected {
                constituent: *constituent,
                mole_per_kg: found.value / cycles,
                relative: relative.hypot(found.relative()).hypot(slip::ANALYSIS),
                may_be,
            })
        });
        expected.collect()
    }

    /// What the makeup brings to the circulating water at the cycles that its ions agree on.
    fn by_makeup(&self, inputs: &Inputs, sheet: &BlowdownSheet) -> Vec<Expected> {
        let Some((cycles, relative)) = agreed(sheet) else { return Vec::new() };
        let makeup = self.makeup_assay(inputs);
        let expected = TOLD.iter().filter_map(|(constituent, may_be)| {
            let found = makeup.get(*constituent).filter(|found| found.value > 0.0)?;
            Some(Expected {
                constituent: *constituent,
                mole_per_kg: cycles * found.value,
                relative: relative.hypot(found.relative()).hypot(slip::ANALYSIS),
                may_be: *may_be,
            })
        });
        expected.collect()
    }
}

/// How the circulating water may differ from its makeup at the real cycles: salts are fed, scale deposits.
const TOLD: [(Constituent, MayBe); 7] = [
    (Constituent::Calcium, MayBe::Less),
    (Constituent::Alkalinity, MayBe::Less),
    (Constituent::Magnesium, MayBe::TheSame),
    (Constituent::Potassium, MayBe::TheSame),
    (Constituent::Sodium, MayBe::More),
    (Constituent::Chloride, MayBe::More),
    (Constituent::Sulfate, MayBe::More),
];

/// Whether the cycles that the ions give tell the same slip.
fn is_told(sheet: &BlowdownSheet, found: &Contradiction) -> bool {
    let witnesses = sheet.real.iter().flat_map(|real| &real.witnesses);
    let mut odd = witnesses.filter(|witness| {
        let reason = witness.odd.map(|odd| odd.reason);
        matches!(reason, Some(Reason::DecimalSlip | Reason::Basis(_)))
    });
    odd.any(|witness| {
        let of = match witness.tracer {
            Tracer::Ion(ion) => Of::Constituent(ion),
            Tracer::Conductivity => Of::Conductivity,
        };
        found.slips.first().is_some_and(|first| first.slip.of == of)
    })
}

/// Cycles that most of the ions agree on, and their standard uncertainty as a part of them.
fn agreed(sheet: &BlowdownSheet) -> Option<(f64, f64)> {
    let real = sheet.real.as_ref().filter(|real| real.standing == Standing::Consensus)?;
    Some((real.cycles, real.standard / real.cycles))
}

/// A field kit whose conductivity asks for far more than its ions.
fn mostly_made_up(source: &SourceWater) -> Option<Noticed> {
    if source.completed_from != Some(CompletedFrom::Conductivity) {
        return None;
    }
    let found = source.ions.cations + source.ions.anions;
    let part = source.made_up / (source.made_up + found);
    (part > warn::MOST_OF_KIT).then(|| {
        warn::KIT_MADE_UP.with(format!(
            "Makeup {}: its conductivity of {} uS/cm asks for {} % more ions than the kit found: a brackish water, or a \
             slip of the conductivity (a digit, its unit), of hardness or alkalinity.",
            source.name,
            significant(1e4 * source.conductivity.0, 3),
            significant(100.0 * source.made_up / found, 2)
        ))
    })
}

/// Samples much older than the newest.
fn old_samples(analyses: &[UsedAnalysis]) -> Vec<Noticed> {
    let newest = analyses.iter().find(|analysis| analysis.days_before_newest == Some(0));
    let newest = newest.and_then(|newest| Some((&newest.name, newest.sampled.as_ref()?)));
    let old = analyses.iter().filter_map(|analysis| {
        let days = analysis.days_before_newest.filter(|days| *days > warn::OLD_DAYS)?;
        let (name, day) = newest?;
        Some(warn::SAMPLE_OLD.with(format!(
            "The sample of {} ({}) is {} older than that of {name} ({day}).",
            analysis.name,
            analysis.sampled.as_ref()?,
            age(days)
        )))
    });
    old.collect()
}

/// Days as people say them.
pub(crate) fn age(days: i64) -> String {
    match days {
        ..=59 => format!("{days} days"),
        60..=729 => format!("{} months", with_decimals(days as f64 / 30.44, 0)),
        _ => format!("{} years", with_decimals(days as f64 / 365.25, 1)),
    }
}

/// Whether something else is warned of in the analysis of a source.
fn is_suspected(source: &SourceWater) -> bool {
    source.made_up == 0.0 && source.ions.error().abs() > NOTABLE_IMBALANCE
}
