//! The makeup of a site in its tower: sources blended, pH fixed, oxidant counted, and what analyses of
//! the circulating water say of the real cycles.

use super::ph::PhOrigin;
use super::{Balance, Infeasible, Inputs, Model, Refused};
use crate::blowdown::own_test::{RealCycles, Witness};
use crate::blowdown::{OxidantFeed, TowerWater, Unsolved};
use crate::chemistry::analysis::{AnalysisError, IonBalance};
use crate::chemistry::speciation::{self, Acidity, Constants, SpeciationError};
use crate::chemistry::{Analysis, BalanceWith, Composition, Constituent};
use crate::site::{ChemicalKind, Problem, SURFACE_ABOVE_HOT_WATER, SiteAnalysis};
use crate::water::ZERO_CELSIUS;

/// Charges that differ by more than this are an error in the analysis, not in its rounding: Standard
/// Methods 1030 E asks for 2 to 5 % (from memory), 10 % is the most that anybody accepts.
pub const MOST_IMBALANCE: f64 = 0.10;
/// Worth a warning (ibid.).
pub const NOTABLE_IMBALANCE: f64 = 0.05;

/// Why a site has no blowdown target.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum BlowdownError {
    /// Something that the analysis must hold.
    #[error("makeup {source_name}: the analysis holds no {missing}")]
    Missing {
        /// Which source.
        source_name: String,
        /// What is missing.
        missing: &'static str,
    },
    /// Cations and anions differ too much.
    #[error(
        "makeup {source_name}: cations {cations:.2} meq/L and anions {anions:.2} meq/L differ by {percent:.0} % of their sum"
    )]
    ChargeImbalance {
        /// Which source.
        source_name: String,
        /// meq/L.
        cations: f64,
        /// meq/L.
        anions: f64,
        /// Of their sum.
        percent: f64,
    },
    /// Totals that contradict their parts.
    #[error("makeup {source_name}: {error}")]
    Analysis {
        /// Which source.
        source_name: String,
        /// Why.
        error: AnalysisError,
    },
    /// A water without an equilibrium.
    #[error("{what}: {error}")]
    Speciation {
        /// Which water.
        what: String,
        /// Why.
        error: SpeciationError,
    },
    /// The circulating water without an equilibrium at some number of cycles.
    #[error(transparent)]
    Unsolved(#[from] Unsolved),
    /// The balance of the site itself.
    #[error(transparent)]
    Infeasible(#[from] Infeasible),
}

/// One source of makeup with its ions.
#[derive(Debug, Clone, PartialEq)]
pub struct SourceWater {
    /// Name, or number from 1.
    pub name: String,
    /// Part of the makeup.
    pub share: f64,
    /// Cations against anions as analysed.
    pub ions: IonBalance,
    /// Eq/kg of sodium or chloride that was made up.
    pub made_up: f64,
}

/// The makeup in its tower, before any limit is held against it.
pub(super) struct SiteWater {
    pub tower: TowerWater,
    pub origin: PhOrigin,
    pub makeup: MakeupWater,
    pub real: Option<RealCycles>,
    /// What a circulating water that is weaker than its makeup holds less of.
    pub weaker_than_makeup: Option<Witness>,
    pub surface_is_assumed: bool,
}

impl Model {
    /// The makeup in its tower.
    pub(super) fn site_water(
        &self,
        inputs: &Inputs,
        balance: &Balance,
    ) -> Result<SiteWater, BlowdownError> {
        let makeup = self.makeup_water(inputs)?;
        let oxidant = self.oxidant(inputs, balance);
        let basin_celsius = balance.state.cold_water_celsius;
        let real = self.real_cycles(inputs, &makeup, oxidant, basin_celsius);
        // Below one cycle samples were swapped, or values are wrong.
        let (real, weaker_than_makeup) = match real {
            Some(real) if real.cycles < 1.0 => (None, real.agreeing().next().copied()),
            real => (real, None),
        };
        let (surface_celsius, surface_is_assumed) = self.surface(inputs, balance);
        let (basis, origin) =
            self.ph_basis(inputs, balance, &makeup, real.as_ref(), basin_celsius)?;
        let mut tower =
            TowerWater::new(makeup.blend, basis, basin_celsius, surface_celsius).map_err(
                |error| BlowdownError::Speciation { what: "the circulating water".into(), error },
            )?;
        if let Some(slot) = self.site.chemistry.coldest_basin {
            let celsius = inputs.get(slot) - ZERO_CELSIUS;
            tower = tower.with_coldest_basin(celsius).map_err(|error| {
                BlowdownError::Speciation { what: "the coldest basin".into(), error }
            })?;
        }
        tower.iron = makeup.get(Constituent::Iron);
        tower.suspended_solids = makeup.suspended_solids;
        tower.not_analysed = makeup.not_analysed.clone();
        tower.oxidant = oxidant;
        Ok(SiteWater { tower, origin, makeup, real, weaker_than_makeup, surface_is_assumed })
    }

    fn surface(&self, inputs: &Inputs, balance: &Balance) -> (f64, bool) {
        match self.site.chemistry.hottest_surface {
            Some(slot) => (inputs.get(slot) - ZERO_CELSIUS, false),
            None => (balance.state.hot_water_celsius + SURFACE_ABOVE_HOT_WATER, true),
        }
    }

    pub(super) fn analysis(&self, inputs: &Inputs, analysis: &SiteAnalysis) -> Analysis {
        let constituents = analysis.constituents.iter().map(|(constituent, slot)| {
            (*constituent, constituent.mole_per_kg(inputs.get(*slot) * 1e3))
        });
        Analysis {
            constituents: constituents.collect(),
            ph: analysis.ph.map(|slot| inputs.get(slot)),
            celsius: inputs.get(analysis.temperature) - ZERO_CELSIUS,
            conductivity: analysis.conductivity.map(|slot| inputs.get(slot)),
            balance_with: analysis.balance_with,
        }
    }

    /// The sources blended by their shares.
    fn makeup_water(&self, inputs: &Inputs) -> Result<MakeupWater, BlowdownError> {
        let whole: f64 = self.site.makeup.iter().map(|source| inputs.get(source.share)).sum();
        let mut makeup = MakeupWater::default();
        let mut carbon = 0.0;
        // What a single source leaves out is unknown of the blend.
        let mut known = Constituent::ALL.to_vec();
        let mut solids = Some(0.0);
        for source in &self.site.makeup {
            let share = inputs.get(source.share) / whole;
            let analysis = self.analysis(inputs, &source.analysis);
            let (composition, checked) = checked(&source.name, share, &analysis)?;
            makeup.sources.push(checked);
            let solved = analysis.solve(&composition).map_err(|error| {
                BlowdownError::Speciation { what: format!("makeup {}", source.name), error }
            })?;
            carbon += share * solved.total_carbon;
            makeup.blend.add(&composition, share);
            if share > 0.0 {
                known.retain(|constituent| is_known(*constituent, &analysis, &composition));
            }
            for constituent in Constituent::ALL {
                let moles = match constituent {
                    Constituent::Iron => analysis.get(constituent),
                    _ => constituent.of(&composition),
                };
                makeup.add(constituent, share * moles.unwrap_or(0.0));
            }
            let ion = made_up(&analysis).filter(|_| share > 0.0);
            makeup.made_up.extend(ion.filter(|ion| !makeup.made_up.contains(ion)));
            let found = source.analysis.suspended_solids.map(|slot| inputs.get(slot) * 1e3);
            solids = solids.zip(found).map(|(sum, found)| sum + share * found);
        }
        makeup.suspended_solids = solids;
        makeup.amounts.retain(|(constituent, _)| known.contains(constituent));
        makeup.not_analysed = Constituent::ALL.into_iter().filter(|c| !known.contains(c)).collect();
        let reference = Constants::at(25.0);
        let closed = Acidity::TotalCarbon(carbon);
        makeup.conductivity = reference
            .and_then(|constants| speciation::solve(&makeup.blend, closed, &constants))
            .map_err(|error| BlowdownError::Speciation { what: "the makeup".into(), error })?
            .conductivity();
        Ok(makeup)
    }

    /// Oxidants of the site, counted as chlorine, in the circuit of a balance.
    fn oxidant(&self, inputs: &Inputs, balance: &Balance) -> OxidantFeed {
        const CHLORINE: f64 = 70.906;
        let evaporation = Balance::reference_m3_per_h(balance.water.evaporation_kg_per_s);
        let volume = self.volume_m3(inputs).unwrap_or(0.0);
        let mut feed = OxidantFeed::default();
        for chemical in &self.site.chemicals {
            if chemical.kind != ChemicalKind::Oxidant {
                continue;
            }
            let mole = |slot: Option<_>| slot.map_or(0.0, |slot| inputs.get(slot) / CHLORINE);
            let hours = chemical.half_life.map(|slot| inputs.get(slot) / 3_600.0);
            let decay = hours.map_or(0.0, |hours| std::f64::consts::LN_2 / hours);
            let residual = mole(chemical.dose);
            let decayed = if evaporation > 0.0 { decay * volume / evaporation } else { 0.0 };
            feed.demand += mole(chemical.demand);
            // Several residuals count with the mean of their decays.
            let sum = feed.residual + residual;
            if sum > 0.0 {
                feed.decayed = (feed.residual * feed.decayed + residual * decayed) / sum;
            }
            feed.residual = sum;
        }
        feed
    }
}

/// The blended makeup.
#[derive(Debug, Clone, Default)]
pub(super) struct MakeupWater {
    pub sources: Vec<SourceWater>,
    pub blend: Composition,
    /// Constituents that every source's analysis holds, mol/kg.
    amounts: Vec<(Constituent, f64)>,
    /// The others.
    not_analysed: Vec<Constituent>,
    suspended_solids: Option<f64>,
    /// S/m, computed at 25 degC.
    pub conductivity: f64,
    /// Ions that nobody analysed in some source and that make up for others there.
    pub made_up: Vec<Constituent>,
}

/// The ion that an analysis makes up from nothing.
fn made_up(analysis: &Analysis) -> Option<Constituent> {
    let constituent = match analysis.balance_with? {
        BalanceWith::Sodium => Constituent::Sodium,
        BalanceWith::Chloride => Constituent::Chloride,
    };
    analysis.get(constituent).is_none().then_some(constituent)
}

/// Whether an analysis says how much of a constituent the water holds.
fn is_known(constituent: Constituent, analysis: &Analysis, water: &Composition) -> bool {
    let follows = match constituent {
        Constituent::Hardness | Constituent::Calcium | Constituent::Magnesium => {
            // Hardness and one of its parts give the other.
            constituent.of(water).is_some_and(|moles| moles > 0.0)
                && analysis.get(Constituent::Calcium).is_some()
                    | analysis.get(Constituent::Hardness).is_some()
        }
        Constituent::Alkalinity => true,
        Constituent::Sodium => analysis.balance_with == Some(BalanceWith::Sodium),
        Constituent::Chloride => analysis.balance_with == Some(BalanceWith::Chloride),
        _ => false,
    };
    follows || analysis.get(constituent).is_some()
}

impl MakeupWater {
    fn add(&mut self, constituent: Constituent, moles: f64) {
        match self.amounts.iter_mut().find(|(known, _)| *known == constituent) {
            Some((_, sum)) => *sum += moles,
            None => self.amounts.push((constituent, moles)),
        }
    }

    fn get(&self, constituent: Constituent) -> Option<f64> {
        self.amounts.iter().find(|(known, _)| *known == constituent).map(|(_, moles)| *moles)
    }
}

/// An analysis as a water, once it is complete and its charges balance.
fn checked(
    name: &str,
    share: f64,
    analysis: &Analysis,
) -> Result<(Composition, SourceWater), BlowdownError> {
    let wrong = |error| BlowdownError::Analysis { source_name: name.into(), error };
    let composition = analysis.composition().map_err(wrong)?;
    let ions = analysis.ion_balance().map_err(wrong)?;
    let lacks = |missing| BlowdownError::Missing { source_name: name.into(), missing };
    if Constituent::Calcium.of(&composition).is_none_or(|calcium| calcium <= 0.0) {
        return Err(lacks("calcium"));
    }
    if composition.alkalinity <= 0.0 {
        return Err(lacks("alkalinity"));
    }
    // An ion that was analysed may take up rounding, not a mistake.
    let takes_up_much = match analysis.balance_with {
        None => true,
        Some(BalanceWith::Sodium) => analysis.get(Constituent::Sodium).is_some(),
        Some(BalanceWith::Chloride) => analysis.get(Constituent::Chloride).is_some(),
    };
    if takes_up_much && ions.error().abs() > MOST_IMBALANCE {
        return Err(BlowdownError::ChargeImbalance {
            source_name: name.into(),
            cations: 1e3 * ions.cations,
            anions: 1e3 * ions.anions,
            percent: 100.0 * ions.error().abs(),
        });
    }
    let made_up = match analysis.balance_with {
        Some(_) => (ions.cations - ions.anions).abs(),
        None => 0.0,
    };
    Ok((composition, SourceWater { name: name.into(), share, ions, made_up }))
}

impl Refused for BlowdownError {
    fn problem(&self, model: &Model) -> Problem {
        let problem = |path: String| Problem::new(path, self.to_string());
        match self {
            BlowdownError::Missing { source_name, .. } => {
                problem(format!("makeup.{source_name}.analysis")).with_help(
                    "a blowdown target needs calcium or hardness with magnesium, and alkalinity; \
                     the more ions, the better",
                )
            }
            BlowdownError::ChargeImbalance { source_name, cations, anions, .. } => {
                let (ion, constituent) = if cations < anions {
                    ("sodium", Constituent::Sodium)
                } else {
                    ("chloride", Constituent::Chloride)
                };
                let source = model.site.makeup.iter().find(|source| source.name == *source_name);
                let is_analysed = source.is_some_and(|source| {
                    source.analysis.constituents.iter().any(|(known, _)| *known == constituent)
                });
                let help = if is_analysed {
                    format!(
                        "{ion} was analysed, so one of the ions is wrong, missing or counted as \
                         something else"
                    )
                } else {
                    format!(
                        "an ion is missing or counted as something else; where {ion} was not \
                         analysed, write balance_with = \"{ion}\""
                    )
                };
                problem(format!("makeup.{source_name}.analysis")).with_help(help)
            }
            BlowdownError::Analysis { source_name, .. } => {
                problem(format!("makeup.{source_name}.analysis"))
            }
            BlowdownError::Speciation { .. } | BlowdownError::Unsolved(_) => {
                problem("makeup".into())
            }
            BlowdownError::Infeasible(why) => why.problem(model),
        }
    }
}
