//! The tower's own analysis of a site: real cycles, what its numbers say against the makeup's, how old the
//! samples are.

use super::tower_water::MakeupWater;
use super::{Balance, Inputs, Model};
use crate::balance::{self, BlowdownBasis, Losses};
use crate::blowdown::own_test::Assay;
use crate::blowdown::own_test::assay;
use crate::blowdown::own_test::comparison::{self, Comparison, Predicted};
use crate::blowdown::own_test::consensus::{Fed, RealCycles, TestedMakeup, real_cycles};
use crate::blowdown::{OxidantFeed, PhBasis, ProductSalts, TowerWater, Unsolved};
use crate::chemistry::speciation::Constants;
use crate::site::{Acid, ChemicalKind, Date, SiteAnalysis, SlotId};

/// Cycles that differ from those of the site file by less than this part are the same.
const SAME: f64 = 0.03;
/// Half-lives of the tower after which it has forgotten a makeup: three quarters of it are gone.
const REMEMBERED: f64 = 2.0;

/// The tower's own analysis against its makeup.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnTest {
    /// Each number as measured and as predicted, and what is lost on the way.
    pub comparison: Comparison,
    /// Water that leaves as liquid at the real cycles, m3 in a day of the mean load.
    pub liquid_m3_per_day: Option<f64>,
    /// When both samples were taken.
    pub sampling: Option<Sampling>,
    /// The set point for the target that follows from the tower's own conductivity, S/m.
    pub set_point: Option<f64>,
    /// The site file's cycles, where the real ones differ from them by more than their ±: today is then
    /// what was measured.
    pub stated_cycles: Option<f64>,
}

/// When the samples of tower and makeup were taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sampling {
    /// Days from the makeup's sample to the tower's; of several sources the one that lies farthest off.
    pub days: i64,
    /// Days that the tower remembers its makeup: two half-lives of its water.
    pub remembered: Option<f64>,
}

impl Sampling {
    /// Whether the makeup that was sampled is not surely the one that made this water: it was sampled
    /// later, or before what the tower remembers.
    pub fn is_apart(&self) -> bool {
        // A date is as sure as a day.
        self.days < 0 || self.remembered.is_some_and(|days| self.days as f64 > days + 1.0)
    }
}

impl Model {
    /// What was analysed of a water, with the ± that is stated or usual.
    pub(super) fn assay(&self, inputs: &Inputs, analysis: &SiteAnalysis) -> Assay {
        let stated =
            |slot: SlotId| self.slot_value(slot).stated_uncertainty().map(|u| u.standard());
        let amounts = analysis.constituents.iter().map(|(constituent, slot)| {
            let mole = |si: f64| constituent.mole_per_kg(1e3 * si);
            let found =
                assay::found(*constituent, mole(inputs.get(*slot)), stated(*slot).map(mole));
            (*constituent, found)
        });
        let conductivity =
            analysis.conductivity.map(|slot| assay::conductivity(inputs.get(slot), stated(slot)));
        Assay::new(amounts, conductivity, analysis.ph.map(|slot| inputs.get(slot)))
    }

    /// The makeup as analysed, and as it is made up.
    pub(super) fn tested_makeup(&self, inputs: &Inputs, makeup: &MakeupWater) -> TestedMakeup {
        TestedMakeup {
            assay: self.makeup_assay(inputs),
            blend: makeup.blend,
            computed_conductivity: makeup.conductivity,
        }
    }

    /// What was analysed of the blended makeup.
    pub(super) fn makeup_assay(&self, inputs: &Inputs) -> Assay {
        let whole: f64 = self.site.makeup.iter().map(|source| inputs.get(source.share)).sum();
        let parts: Vec<(f64, Assay)> = self
            .site
            .makeup
            .iter()
            .map(|source| (inputs.get(source.share) / whole, self.assay(inputs, &source.analysis)))
            .collect();
        Assay::blend(&parts)
    }

    /// What the treatment brings. An acid whose pH nobody states is taken for sulfuric.
    pub(super) fn fed(&self, (oxidant, salts): (OxidantFeed, ProductSalts)) -> Fed {
        let acid = match self.site.chemistry.ph.held {
            Some((_, acid)) => Some(acid),
            None => {
                let is_acid = |kind| kind == ChemicalKind::Acid;
                let stated = self.site.chemicals.iter().any(|chemical| is_acid(chemical.kind));
                stated.then_some(Acid::Sulfuric)
            }
        };
        Fed {
            oxidant,
            salts,
            sulfate: acid == Some(Acid::Sulfuric),
            chloride: acid == Some(Acid::Hydrochloric),
        }
    }

    /// Real cycles, where the circulating water was analysed.
    pub(super) fn real_cycles(
        &self,
        inputs: &Inputs,
        makeup: &MakeupWater,
        fed: (OxidantFeed, ProductSalts),
        basin_celsius: f64,
    ) -> Option<RealCycles> {
        let circulating = self.site.chemistry.circulating_water.as_ref()?;
        let found = self.assay(inputs, circulating);
        let basin = Constants::at(basin_celsius).ok()?;
        let reference = Constants::at(25.0).ok()?;
        let makeup = self.tested_makeup(inputs, makeup);
        real_cycles(&makeup, &found, &self.fed(fed), [&basin, &reference])
    }

    /// The tower's analysis of the site file against what its makeup makes at the real cycles.
    ///
    /// # Errors
    /// [`Unsolved`] where the water has no equilibrium there.
    pub(super) fn own_test(
        &self,
        (inputs, balance): (&Inputs, &Balance),
        makeup: &MakeupWater,
        tower: &TowerWater,
        real: &RealCycles,
        target: Option<f64>,
    ) -> Result<Option<OwnTest>, Unsolved> {
        let Some(circulating) = &self.site.chemistry.circulating_water else { return Ok(None) };
        let found = self.assay(inputs, circulating);
        let tested = self.tested_makeup(inputs, makeup);
        let mut own =
            self.own_test_of((inputs, balance), (&tested, &found), tower, (real, target))?;
        own.sampling = self.sampling(inputs, own.liquid_m3_per_day);
        Ok(Some(own))
    }

    /// Any analysis of the tower against what such a makeup makes at the real cycles.
    ///
    /// # Errors
    /// [`Unsolved`] where the water has no equilibrium there.
    pub(super) fn own_test_of(
        &self,
        (inputs, balance): (&Inputs, &Balance),
        (makeup, found): (&TestedMakeup, &Assay),
        tower: &TowerWater,
        (real, target): (&RealCycles, Option<f64>),
    ) -> Result<OwnTest, Unsolved> {
        let at_real = tower.at_cycles(real.cycles)?;
        let measured = makeup.assay.conductivity.map(|measured| measured.value);
        let scale = measured.map_or(1.0, |measured| measured / makeup.computed_conductivity);
        let held = match tower.basis() {
            PhBasis::Held { ph, .. } => Some(ph),
            _ => None,
        };
        let predicted = Predicted {
            composition: &at_real.composition,
            conductivity: scale * at_real.conductivity,
            held,
        };
        let set_point = match found.conductivity.zip(target).filter(|_| real.is_sure()) {
            Some((own, target)) => {
                Some(own.value * tower.at_cycles(target)?.conductivity / at_real.conductivity)
            }
            None => None,
        };
        Ok(OwnTest {
            comparison: comparison::compare(real, makeup, found, predicted),
            liquid_m3_per_day: self.liquid_m3_per_day(inputs, &balance.water.losses(), real),
            sampling: None,
            set_point,
            stated_cycles: None,
        })
    }

    /// Liquid that leaves in a day of the mean load at the real cycles, m3.
    fn liquid_m3_per_day(
        &self,
        inputs: &Inputs,
        losses: &Losses,
        real: &RealCycles,
    ) -> Option<f64> {
        let closed = balance::close(losses, BlowdownBasis::Cycles(real.cycles)).ok()?;
        let mean = closed.at_load(inputs.get(self.site.load_factor), true);
        let daily = 24.0 * Balance::reference_m3_per_h(mean.liquid_losses_kg_per_s());
        (daily > 0.0).then_some(daily)
    }

    fn sampling(&self, inputs: &Inputs, liquid_m3_per_day: Option<f64>) -> Option<Sampling> {
        let tower = self.site.chemistry.circulating_water.as_ref()?.sampled?;
        let of_makeup: Option<Vec<Date>> =
            self.site.makeup.iter().map(|source| source.analysis.sampled).collect();
        let days = of_makeup?
            .into_iter()
            .map(|makeup| tower.days_after(makeup))
            .max_by_key(|days| if *days < 0 { i64::MAX } else { *days })?;
        Some(Sampling { days, remembered: self.remembered_days(inputs, liquid_m3_per_day) })
    }

    /// Days that the tower remembers a makeup: two half-lives of its water.
    pub(super) fn remembered_days(
        &self,
        inputs: &Inputs,
        liquid_m3_per_day: Option<f64>,
    ) -> Option<f64> {
        let (volume, liquid) = self.volume_m3(inputs).zip(liquid_m3_per_day)?;
        Some(REMEMBERED * std::f64::consts::LN_2 * volume / liquid)
    }
}

/// Whether real cycles contradict those of the site file.
pub(super) fn differ(real: &RealCycles, stated: f64) -> bool {
    let apart = (real.cycles - stated).abs();
    real.is_sure() && !(apart <= (2.0 * real.standard).max(SAME * stated))
}
