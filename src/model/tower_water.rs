//! The makeup of a site in its tower: sources blended, pH fixed, oxidant counted, and what analyses of
//! the circulating water say of the real cycles.

use super::ph::{LowPh, PhFound, PhOrigin};
use super::{Balance, Infeasible, Inputs, Model, Refused};
use crate::blowdown::own_test::{RealCycles, Witness};
use crate::blowdown::{Metals, OxidantFeed, ProductSalts, TowerWater, Unsolved};
use crate::chemistry::analysis::{AnalysisError, IonBalance, dried, ions_milligram_per_litre};
use crate::chemistry::slip::{self, Sheet};
use crate::chemistry::speciation::{self, Acidity, Constants, SpeciationError};
use crate::chemistry::{Analysis, BalanceWith, CompletedFrom, Composition, Constituent};
use crate::quantity::Quantity;
use crate::site::{
    AsGiven, ChemicalKind, Problem, SURFACE_ABOVE_HOT_WATER, SiteAnalysis, SiteMakeup, SlotId,
};
use crate::water::ZERO_CELSIUS;

/// Charges that differ by more than this are an error in the analysis, not in its rounding: Standard
/// Methods 1030 E asks for 2 to 5 % (from memory), 10 % is the most that anybody accepts.
pub const MOST_IMBALANCE: f64 = 0.10;
/// Worth a warning (ibid.).
pub const NOTABLE_IMBALANCE: f64 = 0.05;
/// Ions of a makeup, mg/L: a little above standard sea water's 35.2 g/kg (Millero et al. 2008, Deep-Sea Research I
/// 55:50, from memory).
const MOST_IONS: f64 = 40_000.0;

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
        /// The slip that explains it, in words, where one does.
        slip: Option<String>,
    },
    /// More ions than a water has that is concentrated.
    #[error(
        "makeup {source_name}: its ions make {gram_per_litre:.0} g/L, more than sea water holds"
    )]
    TooSalty {
        /// Which source.
        source_name: String,
        /// Of them all.
        gram_per_litre: f64,
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
    /// What was made up, eq/kg in all.
    pub made_up: f64,
    /// Ions that were made up, mol/kg.
    pub made_up_ions: Vec<(Constituent, f64)>,
    /// How, where the file names no ion for it.
    pub completed_from: Option<CompletedFrom>,
    /// Conductivity at 25 degC that stands for it, S/m, and whether it was computed because nobody measured it.
    pub conductivity: (f64, bool),
    /// What drying at 180 degC leaves, mg/L: found, and computed.
    pub dried_solids: (Option<f64>, f64),
    /// Sum of the ions, mg/L: found, and computed.
    pub dissolved_ions: (Option<f64>, f64),
    /// Phenolphthalein alkalinity, mg/L as CaCO3: found, and what the pH leaves of the total above 8.3.
    pub p_alkalinity: Option<(f64, Option<f64>)>,
    /// The analysis as it was written, beside what is used of it.
    pub as_given: Vec<GivenAndUsed>,
}

/// An entry of an analysis as it was written, beside what is used of it.
#[derive(Debug, Clone, PartialEq)]
pub struct GivenAndUsed {
    /// As it was written.
    pub given: AsGiven,
    /// The number that is used, SI, and what it measures.
    pub used: Option<(f64, Quantity)>,
}

/// The makeup in its tower, before any limit is held against it.
#[derive(Debug)]
pub(super) struct SiteWater {
    pub tower: TowerWater,
    pub origin: PhOrigin,
    /// A pH of the tower below every published line.
    pub low_ph: Option<LowPh>,
    pub makeup: MakeupWater,
    pub real: Option<RealCycles>,
    /// What a circulating water that is weaker than its makeup holds less of.
    pub weaker_than_makeup: Option<Witness>,
    pub surface_is_assumed: bool,
}

/// A water of inputs, for those near them: what depends on the makeup alone, and on the tower's own analysis, stays
/// where these do.
pub(super) struct KnownWater<'a> {
    pub inputs: &'a Inputs,
    pub tower: &'a TowerWater,
    pub makeup: &'a MakeupWater,
    pub real: Option<&'a RealCycles>,
    pub weaker_than_makeup: Option<&'a Witness>,
}

/// Fewer cycles than these are no tower's.
const LEAST_CYCLES: f64 = 1.01;

impl Model {
    /// The makeup in its tower.
    pub(super) fn site_water(
        &self,
        inputs: &Inputs,
        balance: &Balance,
    ) -> Result<SiteWater, BlowdownError> {
        self.site_water_near(inputs, balance, None)
    }

    /// [`Self::site_water`] for inputs near those of a water that is known: a pH of the tower that was believed there,
    /// or was not, is so here too.
    pub(super) fn site_water_near(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        known: Option<&KnownWater>,
    ) -> Result<SiteWater, BlowdownError> {
        let gas = known.map(|known| known.tower.basis().gas());
        let known = known.filter(|known| self.are_alike(inputs, known.inputs, "makeup."));
        let makeup = match known {
            Some(known) => known.makeup.clone(),
            None => self.makeup_water(inputs)?,
        };
        let oxidant = self.oxidant(inputs, balance);
        let basin_celsius = balance.state.cold_water_celsius;
        let salts = self.product_salts(inputs, balance);
        let is_same_test = |known: &&KnownWater| {
            let tower = known.tower;
            (tower.oxidant, tower.salts) == (oxidant, salts)
                && tower.constants()[0].celsius() == basin_celsius
                && self.are_alike(inputs, known.inputs, "circulating_water.")
        };
        let (real, weaker_than_makeup) = match known.filter(is_same_test) {
            Some(known) => (known.real.cloned(), known.weaker_than_makeup.copied()),
            None => {
                match self.real_cycles(inputs, &makeup, (oxidant, salts), basin_celsius) {
                    // Below one cycle samples were swapped, at one they are the same, or values are wrong.
                    Some(real) if real.cycles < LEAST_CYCLES => {
                        (None, real.agreeing().next().copied())
                    }
                    real => (real, None),
                }
            }
        };
        let (surface_celsius, surface_is_assumed) = self.surface(inputs, balance);
        let ph = match weaker_than_makeup.is_some() {
            true => self.ph_of_no_sample(inputs, balance, gas),
            false => {
                let real = real.as_ref();
                self.ph_basis((inputs, balance), &makeup, real, basin_celsius, gas)?
            }
        };
        let PhFound { basis, origin, low: low_ph } = ph;
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
        tower.metals = Metals::new(|metal| makeup.get(metal));
        tower.suspended_solids = makeup.suspended_solids;
        tower.not_analysed = makeup.not_analysed.clone();
        tower.oxidant = oxidant;
        tower.salts = salts;
        let daily = |kg_per_s| 24.0 * Balance::reference_m3_per_h(kg_per_s);
        let losses = balance.water.losses();
        tower.flows = Some([losses.evaporation_kg_per_s, losses.liquid_kg_per_s()].map(daily));
        Ok(SiteWater {
            tower,
            origin,
            low_ph,
            makeup,
            real,
            weaker_than_makeup,
            surface_is_assumed,
        })
    }

    /// Whether the numbers of a table are the same.
    fn are_alike(&self, inputs: &Inputs, others: &Inputs, table: &str) -> bool {
        let of_table = |slot: &SlotId| self.slot_value(*slot).path.starts_with(table);
        self.slot_ids().filter(of_table).all(|slot| inputs.get(slot) == others.get(slot))
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
            p_alkalinity: analysis
                .p_alkalinity
                .map(|slot| Constituent::Alkalinity.mole_per_kg(inputs.get(slot) * 1e3)),
            balance_with: analysis.balance_with,
            calcium_of_hardness: analysis.calcium_of_hardness.map(|slot| inputs.get(slot)),
            sulfate_of_missing: analysis.sulfate_of_missing.map(|slot| inputs.get(slot)),
        }
    }

    /// Conductivity at 25 degC that the ions of a source carry, S/m; NaN where its analysis makes no water.
    pub(super) fn computed_conductivity(&self, inputs: &Inputs, analysis: &SiteAnalysis) -> f64 {
        let analysis = self.analysis(inputs, analysis);
        let solved = analysis.composition().ok().and_then(|water| {
            let carbon = analysis.solve(&water).ok()?.total_carbon;
            let constants = Constants::at(25.0).ok()?;
            speciation::solve(&water, Acidity::TotalCarbon(carbon), &constants).ok()
        });
        solved.map_or(f64::NAN, |solved| solved.conductivity())
    }

    /// What a source's analysis says beside its ions.
    fn of_sample(
        &self,
        inputs: &Inputs,
        source: &SiteMakeup,
        water: &Composition,
        found: &mut SourceWater,
    ) {
        let analysis = &source.analysis;
        let milligram = |slot: Option<SlotId>| slot.map(|slot| inputs.get(slot) * 1e3);
        let ions = ions_milligram_per_litre(water);
        found.dissolved_ions = (milligram(analysis.dissolved_ions), ions);
        found.dried_solids = (milligram(analysis.dissolved_solids), dried(water));
        found.conductivity = match analysis.conductivity {
            Some(slot) => (inputs.get(slot), false),
            None => (self.computed_conductivity(inputs, analysis), true),
        };
        found.p_alkalinity = milligram(analysis.p_alkalinity).map(|part| {
            let expected = self.analysis(inputs, analysis).p_alkalinity_of(water);
            (part, expected.map(|moles| Constituent::Alkalinity.milligram_per_litre(moles)))
        });
        found.as_given = self.given_and_used(inputs, analysis);
    }

    /// Every entry of an analysis as it was written, beside what is used of it.
    pub(super) fn given_and_used(
        &self,
        inputs: &Inputs,
        analysis: &SiteAnalysis,
    ) -> Vec<GivenAndUsed> {
        let used = |slot| (inputs.get(slot), self.slot_value(slot).quantity);
        let entry =
            |given: &AsGiven| GivenAndUsed { given: given.clone(), used: given.used.map(used) };
        analysis.as_given.iter().map(entry).collect()
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
            let (composition, mut checked) = checked(&source.name, share, &analysis)
                .map_err(|error| self.with_slip(inputs, source, error))?;
            self.of_sample(inputs, source, &composition, &mut checked);
            for (ion, _) in checked.made_up_ions.iter().filter(|_| share > 0.0) {
                if analysis.get(*ion).is_none() && !makeup.made_up.contains(ion) {
                    makeup.made_up.push(*ion);
                }
            }
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
                let moles = constituent.of(&composition).or_else(|| analysis.get(constituent));
                makeup.add(constituent, share * moles.unwrap_or(0.0));
            }
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

    /// The same error with the slip that explains the analysis.
    fn with_slip(
        &self,
        inputs: &Inputs,
        source: &SiteMakeup,
        mut error: BlowdownError,
    ) -> BlowdownError {
        if let BlowdownError::ChargeImbalance { slip, .. } = &mut error {
            // First with whatever may be missing, then as the sheet stands.
            let sheet = self.slip_sheet(inputs, &source.analysis);
            let whole = Sheet { is_whole: true, ..sheet.clone() };
            *slip = slip::told(&sheet, true).or_else(|| slip::told(&whole, true));
        }
        error
    }

    /// Salts of the products, in the circuit of a balance.
    fn product_salts(&self, inputs: &Inputs, balance: &Balance) -> ProductSalts {
        let evaporation = Balance::reference_m3_per_h(balance.water.evaporation_kg_per_s);
        let volume = self.volume_m3(inputs).unwrap_or(0.0);
        let turned_over = if evaporation > 0.0 { volume / evaporation } else { 0.0 };
        let mut salts = ProductSalts::default();
        for chemical in self.site.chemicals.iter().filter(|fed| !fed.contains.is_empty()) {
            let strength = inputs.get(chemical.strength);
            let product =
                |slot: Option<SlotId>| slot.map_or(0.0, |slot| inputs.get(slot) / strength);
            let hours = |slot: Option<SlotId>| slot.map(|slot| inputs.get(slot) / 3_600.0);
            let dose = product(chemical.dose);
            let decay = hours(chemical.half_life).map_or(0.0, |half| std::f64::consts::LN_2 / half);
            let every = hours(chemical.every).unwrap_or(f64::INFINITY);
            // Product, kg/m3.
            let (held, by_makeup, by_evaporation) = match chemical.kind {
                ChemicalKind::Biocide => (0.0, 0.0, dose * turned_over / every),
                ChemicalKind::Inhibitor | ChemicalKind::Oxidant => {
                    (dose, product(chemical.demand), dose * decay * turned_over)
                }
                ChemicalKind::Acid => continue,
            };
            for (ion, part) in &chemical.contains {
                let mole = ion.mole_per_kg(1e3 * inputs.get(*part));
                salts.held.add_ion(*ion, held * mole);
                salts.by_makeup.add_ion(*ion, by_makeup * mole);
                salts.by_evaporation.add_ion(*ion, by_evaporation * mole);
            }
        }
        salts
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

/// Whether an analysis says how much of a constituent the water holds.
fn is_known(constituent: Constituent, analysis: &Analysis, water: &Composition) -> bool {
    let is_completed = analysis.balance_with.is_none() && analysis.sulfate_of_missing.is_some();
    let follows = match constituent {
        // Hardness and one of its parts give the other; alone it is shared out.
        Constituent::Calcium | Constituent::Magnesium => {
            analysis.get(Constituent::Hardness).is_some()
        }
        Constituent::Hardness => {
            constituent.of(water).is_some_and(|moles| moles > 0.0)
                && analysis.get(Constituent::Calcium).is_some()
        }
        Constituent::Alkalinity => true,
        Constituent::Sodium => analysis.balance_with == Some(BalanceWith::Sodium) || is_completed,
        Constituent::Chloride => {
            analysis.balance_with == Some(BalanceWith::Chloride) || is_completed
        }
        Constituent::Sulfate => analysis.balance_with == Some(BalanceWith::Sulfate) || is_completed,
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
    let completed = analysis.completed().map_err(wrong)?;
    let composition = completed.water;
    let ions = analysis.ion_balance().map_err(wrong)?;
    let lacks = |missing| BlowdownError::Missing { source_name: name.into(), missing };
    let is_analysed = |constituent| analysis.get(constituent).is_some();
    if !is_analysed(Constituent::Calcium) && !is_analysed(Constituent::Hardness) {
        return Err(lacks("calcium or hardness"));
    }
    if composition.alkalinity <= 0.0 {
        return Err(lacks("alkalinity"));
    }
    // An ion that was analysed may take up rounding, not a mistake.
    let takes_up_much = match analysis.balance_with {
        None => completed.from.is_none(),
        Some(BalanceWith::Sodium) => analysis.get(Constituent::Sodium).is_some(),
        Some(BalanceWith::Chloride) => analysis.get(Constituent::Chloride).is_some(),
        Some(BalanceWith::Sulfate) => analysis.get(Constituent::Sulfate).is_some(),
    };
    let milligram_per_litre = ions_milligram_per_litre(&composition);
    if milligram_per_litre > MOST_IONS {
        return Err(BlowdownError::TooSalty {
            source_name: name.into(),
            gram_per_litre: 1e-3 * milligram_per_litre,
        });
    }
    if takes_up_much && ions.error().abs() > MOST_IMBALANCE {
        return Err(BlowdownError::ChargeImbalance {
            source_name: name.into(),
            cations: 1e3 * ions.cations,
            anions: 1e3 * ions.anions,
            percent: 100.0 * ions.error().abs(),
            slip: None,
        });
    }
    let source = SourceWater {
        name: name.into(),
        share,
        ions,
        made_up: completed.made_up_equivalents(),
        made_up_ions: completed.made_up,
        completed_from: completed.from,
        conductivity: (f64::NAN, true),
        dried_solids: (None, f64::NAN),
        dissolved_ions: (None, f64::NAN),
        p_alkalinity: None,
        as_given: Vec::new(),
    };
    Ok((composition, source))
}

impl Refused for BlowdownError {
    fn problem(&self, model: &Model) -> Problem {
        let problem = |path: String| Problem::new(path, self.to_string());
        match self {
            BlowdownError::Missing { source_name, .. } => {
                problem(format!("makeup.{source_name}.analysis")).with_help(
                    "a blowdown target needs calcium or hardness, and alkalinity, with the conductivity; \
                     the more ions, the better",
                )
            }
            BlowdownError::ChargeImbalance { source_name, cations, anions, slip, .. } => {
                let source = model.site.makeup.iter().find(|source| source.name == *source_name);
                let is_known = |constituent: Constituent| {
                    source.is_some_and(|source| {
                        source.analysis.constituents.iter().any(|(known, _)| *known == constituent)
                    })
                };
                let constituent = match (cations < anions, is_known(Constituent::Chloride)) {
                    (true, _) => Constituent::Sodium,
                    (false, true) => Constituent::Sulfate,
                    (false, false) => Constituent::Chloride,
                };
                let (ion, is_analysed) = (constituent.key(), is_known(constituent));
                let first = match slip {
                    Some(slip) => slip.clone(),
                    None => "calcium or another ion is a slip (a digit, its basis, its unit)".into(),
                };
                let help = match is_analysed {
                    true => format!(
                        "{first}; where the laboratory's sheet says the same, leave {ion} out and write balance_with = \
                         \"{ion}\": it is then made up, and told"
                    ),
                    false => format!(
                        "{first}; or an ion is missing: where {ion} was not analysed, write balance_with = \"{ion}\""
                    ),
                };
                problem(format!("makeup.{source_name}.analysis")).with_help(help)
            }
            BlowdownError::TooSalty { source_name, .. } => {
                problem(format!("makeup.{source_name}.analysis"))
                    .with_help("see the unit and the point of every ion: g/L for mg/L makes it a thousandfold")
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
