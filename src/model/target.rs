//! The blowdown target of a site: its makeup concentrated, the cycles that its limits allow, and
//! what the controller is set to.

use super::{Balance, Infeasible, Inputs, Model, Workspace};
use crate::balance::{self, BlowdownBasis, WaterBalance};
use crate::blowdown::set_point::{self, SetPoint, ValveCycle, ValveDuty};
use crate::blowdown::target::{self, Binding};
use crate::blowdown::{ConcentratedWater, OxidantFeed, PhBasis, TowerWater};
use crate::chemistry::analysis::{AnalysisError, IonBalance};
use crate::chemistry::speciation::{self, Acidity, Constants, SpeciationError};
use crate::chemistry::{Analysis, Composition, Constituent};
use crate::site::{BlowdownGiven, ChemicalKind, PhGiven, Problem, SiteAnalysis};

const ZERO_CELSIUS: f64 = 273.15;
/// Charges that differ by more than this are an error in the analysis, not in its rounding: Standard
/// Methods 1030 E asks for 2 to 5 % (from memory), 10 % is the most that anybody accepts.
pub const MOST_IMBALANCE: f64 = 0.10;
/// Worth a warning (ibid.).
pub const NOTABLE_IMBALANCE: f64 = 0.05;
/// A surface is so much hotter than the water that it heats, K, where nobody says.
const SURFACE_ABOVE_HOT_WATER: f64 = 10.0;
/// An ion whose cycles differ from the tracer's by more than this did not stay in the water.
const STRAY: f64 = 0.1;

/// Why a site has no blowdown target.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TargetError {
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

/// Where the pH of the circulating water comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PhOrigin {
    /// Measured in the tower at these cycles; the carbon dioxide that it implies is kept.
    Measured {
        /// pH.
        ph: f64,
        /// Cycles at which it was measured.
        cycles: f64,
    },
    /// A carbon dioxide pressure, stated or assumed.
    CarbonDioxide {
        /// Whether nobody stated it.
        assumed: bool,
    },
    /// The published line.
    AlkalinityLine,
    /// Held by acid.
    Held,
}

/// An ion's own cycles: circulating water over makeup.
#[derive(Debug, Clone, PartialEq)]
pub struct IonCycles {
    /// Which.
    pub constituent: Constituent,
    /// Makeup, mg/L in the basis that it is shown as.
    pub makeup: f64,
    /// Circulating water, ibid.
    pub circulating: f64,
    /// Their ratio.
    pub cycles: f64,
    /// What that says.
    pub verdict: Verdict,
}

/// What an ion's own cycles say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// The tracer that the others are held against.
    Tracer,
    /// It stays in the water.
    Conserved,
    /// It is lost on the way: precipitated, or degassed.
    Lost,
    /// Treatment adds it.
    Added,
}

/// Real cycles from two analyses.
#[derive(Debug, Clone, PartialEq)]
pub struct RealCycles {
    /// Cycles of the tracer.
    pub cycles: f64,
    /// Which ion the others are held against.
    pub tracer: Constituent,
    /// Every ion in both analyses.
    pub ions: Vec<IonCycles>,
    /// Ratio of the conductivities, where both were measured.
    pub apparent: Option<f64>,
    /// Chloride that fed oxidant accounts for, mg/L, taken off before the ratio.
    pub chloride_fed: f64,
}

/// Set points for the makeup's conductivity at the ends of its season, S/m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Season {
    /// Makeup.
    pub makeup: f64,
    /// Set point.
    pub set_point: f64,
}

/// Everything that the technician asks of a makeup.
#[derive(Debug, Clone, PartialEq)]
pub struct TargetSheet {
    /// Name of the site.
    pub name: String,
    /// Sources of makeup.
    pub sources: Vec<SourceWater>,
    /// Where the pH comes from.
    pub ph_origin: PhOrigin,
    /// The makeup in its tower.
    pub tower: TowerWater,
    /// Temperature in the basin, degC.
    pub basin_celsius: f64,
    /// Temperature of the hottest surface, degC.
    pub surface_celsius: f64,
    /// Whether nobody stated the surface's temperature.
    pub surface_is_assumed: bool,
    /// Every limit, the tightest first.
    pub bindings: Vec<Binding>,
    /// Cycles allowed at the ends of the band of carbon dioxide pressures.
    pub band: Option<[(f64, Option<f64>); 2]>,
    /// Cycles that drift, leakage and overflow alone leave; infinite without them.
    pub losses_allow: f64,
    /// Cycles stated in the site file, or that its blowdown gives.
    pub present_cycles: f64,
    /// Cycles to aim at: what limits and losses allow, rounded down to a tenth; `None` where even the
    /// makeup is beyond a limit.
    pub target_cycles: Option<f64>,
    /// The makeup unconcentrated in the tower, at the target, and at the present cycles.
    pub waters: Vec<ConcentratedWater>,
    /// Conductivity of the makeup: computed, and measured where it was, S/m.
    pub makeup_conductivity: (f64, Option<f64>),
    /// The controller's set point for the target.
    pub set_point: Option<SetPoint>,
    /// Dead band as a part of the set point.
    pub dead_band: f64,
    /// Set points at the ends of the makeup's season.
    pub season: Vec<Season>,
    /// Balance at the present cycles and at the target.
    pub balances: (WaterBalance, Option<WaterBalance>),
    /// What the stated valve does.
    pub valve: Option<ValveCycle>,
    /// Flow, m3/h, and flow coefficients Kv and Cv for a valve at the stated pressure drop.
    pub valve_size: Option<(f64, f64, f64)>,
    /// Water in the system, m3.
    pub volume_m3: Option<f64>,
    /// Real cycles, where the circulating water was analysed.
    pub real: Option<RealCycles>,
}

impl Model {
    /// The blowdown target for these numbers.
    ///
    /// # Errors
    /// [`TargetError`]: an analysis that lacks what the water needs, charges that do not balance, a
    /// water without an equilibrium, a site without a balance.
    pub fn target(&self, inputs: &Inputs) -> Result<TargetSheet, TargetError> {
        let balance = self.evaluate(inputs, &mut Workspace::new(self))?;
        let makeup = self.makeup_water(inputs)?;
        let oxidant = self.oxidant(inputs, &balance);
        let real = self.real_cycles(inputs, &makeup, &oxidant);
        let basin_celsius = balance.state.cold_water_celsius;
        let (surface_celsius, surface_is_assumed) = self.surface(inputs, &balance);
        let present_cycles = balance.water.cycles_of_concentration;
        let (basis, ph_origin) =
            self.ph_basis(inputs, &balance, &makeup, real.as_ref(), basin_celsius)?;
        let unsolved =
            |error| TargetError::Speciation { what: "the circulating water".into(), error };
        let mut tower = TowerWater::new(makeup.blend, basis, basin_celsius, surface_celsius)
            .map_err(unsolved)?;
        tower.iron = makeup.iron;
        tower.suspended_solids = makeup.suspended_solids;
        tower.not_analysed = makeup.not_analysed();
        tower.oxidant = oxidant;
        let limits = &self.site.chemistry.limits;
        let bindings = target::bindings(&tower, limits);
        let band = matches!(ph_origin, PhOrigin::CarbonDioxide { .. } | PhOrigin::Held)
            .then(|| target::over_band(&tower, limits));
        let losses = balance.water.losses();
        let liquid = losses.liquid_kg_per_s();
        let losses_allow = 1.0 + losses.evaporation_kg_per_s / liquid;
        let allowed = target::ceiling(&bindings).and_then(Binding::ceiling);
        let most = allowed.unwrap_or(target::MOST_CYCLES).min(losses_allow);
        let target_cycles = Some((most * 10.0).floor() / 10.0).filter(|cycles| *cycles > 1.0);
        let mut waters = Vec::new();
        for cycles in [Some(1.0), target_cycles, Some(present_cycles)].into_iter().flatten() {
            if cycles.is_finite() {
                let water = tower.at_cycles(cycles).map_err(unsolved)?;
                waters.push(water);
            }
        }
        let at_target = target_cycles
            .and_then(|cycles| balance::close(&losses, BlowdownBasis::Cycles(cycles)).ok());
        let measured = Some(self.makeup_conductivity(inputs)).filter(|s| s.is_finite());
        let set_point = target_cycles
            .zip(measured)
            .map(|(cycles, measured)| {
                let conductivities = (makeup.conductivity, measured);
                set_point::set_point(&tower, cycles, conductivities, most)
            })
            .transpose()
            .map_err(unsolved)?;
        let dead_band = inputs.get(self.site.chemistry.dead_band);
        let volume_m3 = self.site.volume.map(|slot| inputs.get(slot));
        Ok(TargetSheet {
            name: self.site.name.clone(),
            sources: makeup.sources,
            ph_origin,
            basin_celsius,
            surface_celsius,
            surface_is_assumed,
            band,
            losses_allow,
            present_cycles,
            target_cycles,
            waters,
            makeup_conductivity: (makeup.conductivity, measured),
            season: self.season(inputs, set_point.as_ref(), measured),
            set_point,
            dead_band,
            valve: self.valve(inputs, &balance, target_cycles, dead_band),
            valve_size: self.valve_size(inputs, at_target.as_ref()),
            balances: (balance.water, at_target),
            volume_m3,
            real,
            tower,
            bindings,
        })
    }

    /// The circulating water at these cycles, beside a target.
    ///
    /// # Errors
    /// [`TargetError::Speciation`].
    pub fn water_at(
        &self,
        sheet: &TargetSheet,
        cycles: f64,
    ) -> Result<ConcentratedWater, TargetError> {
        let what = format!("{cycles} cycles");
        sheet.tower.at_cycles(cycles).map_err(|error| TargetError::Speciation { what, error })
    }

    fn surface(&self, inputs: &Inputs, balance: &Balance) -> (f64, bool) {
        match self.site.chemistry.hottest_surface {
            Some(slot) => (inputs.get(slot) - ZERO_CELSIUS, false),
            None => (balance.state.hot_water_celsius + SURFACE_ABOVE_HOT_WATER, true),
        }
    }

    fn analysis(&self, inputs: &Inputs, analysis: &SiteAnalysis) -> Analysis {
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
    fn makeup_water(&self, inputs: &Inputs) -> Result<MakeupWater, TargetError> {
        let whole: f64 = self.site.makeup.iter().map(|source| inputs.get(source.share)).sum();
        let mut makeup = MakeupWater::default();
        let mut carbon = 0.0;
        for source in &self.site.makeup {
            let share = inputs.get(source.share) / whole;
            let analysis = self.analysis(inputs, &source.analysis);
            let (composition, checked) = checked(&source.name, share, &analysis)?;
            makeup.sources.push(checked);
            let solved = analysis.solve(&composition).map_err(|error| TargetError::Speciation {
                what: format!("makeup {}", source.name),
                error,
            })?;
            carbon += share * solved.total_carbon;
            makeup.blend.add(&composition, share);
            for (constituent, moles) in &analysis.constituents {
                makeup.add(*constituent, share * moles);
            }
            let iron = analysis.get(Constituent::Iron);
            makeup.iron =
                iron.map(|iron| makeup.iron.unwrap_or(0.0) + share * iron).or(makeup.iron);
            let solids = source.analysis.suspended_solids.map(|slot| inputs.get(slot) * 1e3);
            makeup.suspended_solids = solids
                .map(|solids| makeup.suspended_solids.unwrap_or(0.0) + share * solids)
                .or(makeup.suspended_solids);
        }
        let reference = Constants::at(25.0);
        let closed = Acidity::TotalCarbon(carbon);
        makeup.conductivity = reference
            .and_then(|constants| speciation::solve(&makeup.blend, closed, &constants))
            .map_err(|error| TargetError::Speciation { what: "the makeup".into(), error })?
            .conductivity();
        Ok(makeup)
    }

    fn ph_basis(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        makeup: &MakeupWater,
        real: Option<&RealCycles>,
        basin_celsius: f64,
    ) -> Result<(PhBasis, PhOrigin), TargetError> {
        // An assumed pressure is that of sea level; gas is thinner higher up.
        let pressure = balance.state.entering_air.map_or(101_325.0, |air| air.pressure_pascal);
        let at_pressure = |slot| {
            let log10: f64 = inputs.get(slot);
            let assumed = self.slot_value(slot).assumed.is_some();
            (if assumed { log10 + (pressure / 101_325.0).log10() } else { log10 }, assumed)
        };
        Ok(match self.site.chemistry.ph {
            PhGiven::CarbonDioxide(slot) => {
                let (log10, assumed) = at_pressure(slot);
                (PhBasis::CarbonDioxide(log10), PhOrigin::CarbonDioxide { assumed })
            }
            PhGiven::AlkalinityLine => (PhBasis::AlkalinityLine, PhOrigin::AlkalinityLine),
            PhGiven::Held { ph, acid, carbon_dioxide } => {
                let (log10_carbon_dioxide, _) = at_pressure(carbon_dioxide);
                let ph = inputs.get(ph);
                (PhBasis::Held { ph, acid, log10_carbon_dioxide }, PhOrigin::Held)
            }
            PhGiven::Measured(slot) => {
                let ph = inputs.get(slot);
                let cycles = real.map_or(balance.water.cycles_of_concentration, |real| real.cycles);
                let mut water = makeup.blend.concentrated(cycles);
                if let Some(circulating) = &self.site.chemistry.circulating_water {
                    let found = self.analysis(inputs, circulating);
                    // What was measured in the tower is nearer the truth than what was concentrated.
                    water.alkalinity =
                        found.get(Constituent::Alkalinity).unwrap_or(water.alkalinity);
                }
                let log10 = Constants::at(basin_celsius)
                    .and_then(|constants| speciation::solve(&water, Acidity::Ph(ph), &constants))
                    .map_err(|error| TargetError::Speciation {
                        what: "the circulating water at its measured pH".into(),
                        error,
                    })?
                    .log10_carbon_dioxide;
                (PhBasis::CarbonDioxide(log10), PhOrigin::Measured { ph, cycles })
            }
        })
    }

    /// Oxidants of the site, counted as chlorine, in the circuit of a balance.
    fn oxidant(&self, inputs: &Inputs, balance: &Balance) -> OxidantFeed {
        const CHLORINE: f64 = 70.906;
        let evaporation = Balance::reference_m3_per_h(balance.water.evaporation_kg_per_s);
        let volume = self.site.volume.map_or(0.0, |slot| inputs.get(slot));
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

    fn real_cycles(
        &self,
        inputs: &Inputs,
        makeup: &MakeupWater,
        oxidant: &OxidantFeed,
    ) -> Option<RealCycles> {
        let circulating = self.site.chemistry.circulating_water.as_ref()?;
        let mut found = self.analysis(inputs, circulating);
        let chloride_fed = without_oxidant(&mut found, makeup, oxidant);
        let ratio = |constituent| {
            let (before, after) = (makeup.get(constituent)?, found.get(constituent)?);
            (before > 0.0).then(|| after / before)
        };
        // Chloride stays in the water whatever deposits; magnesium does where nothing does.
        let tracers = [Constituent::Chloride, Constituent::Magnesium, Constituent::Sodium];
        let (tracer, cycles) =
            tracers.into_iter().find_map(|tracer| Some((tracer, ratio(tracer)?)))?;
        let ions = Constituent::ALL
            .into_iter()
            .filter_map(|constituent| {
                let own = ratio(constituent)?;
                let verdict = match own / cycles - 1.0 {
                    _ if constituent == tracer => Verdict::Tracer,
                    off if off < -STRAY => Verdict::Lost,
                    off if off > STRAY => Verdict::Added,
                    _ => Verdict::Conserved,
                };
                let shown = |moles| constituent.milligram_per_litre(moles);
                Some(IonCycles {
                    constituent,
                    makeup: shown(makeup.get(constituent)?),
                    circulating: shown(found.get(constituent)?),
                    cycles: own,
                    verdict,
                })
            })
            .collect();
        let before = Some(self.makeup_conductivity(inputs)).filter(|s| s.is_finite());
        let apparent = found.conductivity.zip(before).map(|(after, before)| after / before);
        Some(RealCycles { cycles, tracer, ions, apparent, chloride_fed })
    }

    /// The set point scales with the makeup's conductivity: ratio times what it is that day.
    fn season(
        &self,
        inputs: &Inputs,
        set_point: Option<&SetPoint>,
        measured: Option<f64>,
    ) -> Vec<Season> {
        let Some((set_point, measured)) = set_point.zip(measured) else { return Vec::new() };
        let ratio = set_point.conductivity / measured;
        let [source] = self.site.makeup.as_slice() else { return Vec::new() };
        let analysis = &source.analysis;
        [analysis.lowest_conductivity, analysis.highest_conductivity]
            .into_iter()
            .flatten()
            .map(|slot| inputs.get(slot))
            .map(|makeup| Season { makeup, set_point: ratio * makeup })
            .collect()
    }

    fn valve(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        cycles: Option<f64>,
        dead_band: f64,
    ) -> Option<ValveCycle> {
        let slot = self.site.chemistry.valve_flow?;
        let flow = self.mass_flow(inputs, slot, balance.state.cold_water_celsius);
        let hourly = Balance::reference_m3_per_h;
        let water = &balance.water;
        let duty = ValveDuty {
            evaporation: hourly(water.evaporation_kg_per_s),
            other_losses: hourly(water.losses().liquid_kg_per_s()),
            volume: inputs.get(self.site.volume?),
            cycles: cycles?,
            dead_band,
        };
        duty.with_valve(hourly(flow))
    }

    /// A valve for 2.5 times the mean blowdown (common practice: 2 to 3 times).
    fn valve_size(
        &self,
        inputs: &Inputs,
        at_target: Option<&WaterBalance>,
    ) -> Option<(f64, f64, f64)> {
        const OVER_MEAN: f64 = 2.5;
        let drop = inputs.get(self.site.chemistry.valve_pressure_drop?);
        let flow = OVER_MEAN * Balance::reference_m3_per_h(at_target?.blowdown_kg_per_s);
        let (kv, cv) = set_point::flow_coefficients(flow, drop);
        Some((flow, kv, cv))
    }

    /// Where a site without a target goes wrong, in terms of its description.
    pub fn explain_target(&self, why: &TargetError) -> Problem {
        let problem = |path: String| Problem::new(path, why.to_string());
        match why {
            TargetError::Missing { source_name, .. } => {
                problem(format!("makeup.{source_name}.analysis")).with_help(
                    "a blowdown target needs calcium or hardness with magnesium, and alkalinity; \
                     the more ions, the better",
                )
            }
            TargetError::ChargeImbalance { source_name, cations, anions, .. } => {
                let ion = if cations < anions { "sodium" } else { "chloride" };
                problem(format!("makeup.{source_name}.analysis")).with_help(format!(
                    "an ion is missing or counted as something else; where it was not analysed, \
                     write balance_with = \"{ion}\""
                ))
            }
            TargetError::Analysis { source_name, .. } => {
                problem(format!("makeup.{source_name}.analysis"))
            }
            TargetError::Speciation { .. } => problem("makeup".into()),
            TargetError::Infeasible(why) => self.explain(why),
        }
    }

    /// Whether the cycles of the site file are a target or follow from flows.
    pub fn cycles_are_stated(&self) -> bool {
        !matches!(self.site.blowdown, BlowdownGiven::Flow(_))
    }
}

/// The blended makeup.
#[derive(Debug, Clone, Default)]
struct MakeupWater {
    sources: Vec<SourceWater>,
    blend: Composition,
    /// Constituents as analysed, mol/kg.
    amounts: Vec<(Constituent, f64)>,
    iron: Option<f64>,
    suspended_solids: Option<f64>,
    /// S/m, computed at 25 degC.
    conductivity: f64,
}

impl MakeupWater {
    fn add(&mut self, constituent: Constituent, moles: f64) {
        match self.amounts.iter_mut().find(|(known, _)| *known == constituent) {
            Some((_, sum)) => *sum += moles,
            None => self.amounts.push((constituent, moles)),
        }
    }

    /// What no source's analysis holds, alone or as a part of a total.
    fn not_analysed(&self) -> Vec<Constituent> {
        let held = |constituent: &Constituent| {
            self.get(*constituent).is_some()
                || constituent.of(&self.blend).is_some_and(|moles| moles > 0.0)
        };
        Constituent::ALL.into_iter().filter(|constituent| !held(constituent)).collect()
    }

    fn get(&self, constituent: Constituent) -> Option<f64> {
        self.amounts.iter().find(|(known, _)| *known == constituent).map(|(_, moles)| *moles)
    }
}

/// Takes off the circulating chloride what fed oxidant leaves there, which depends on the cycles that
/// it hides; how much that is, mg/L.
fn without_oxidant(found: &mut Analysis, makeup: &MakeupWater, oxidant: &OxidantFeed) -> f64 {
    let Some(before) = makeup.get(Constituent::Chloride).filter(|before| *before > 0.0) else {
        return 0.0;
    };
    let Some((_, chloride)) =
        found.constituents.iter_mut().find(|(known, _)| *known == Constituent::Chloride)
    else {
        return 0.0;
    };
    // chloride = cycles * before + what is fed, which is linear in the cycles too.
    let (at_zero, at_one) = (oxidant.chloride(0.0), oxidant.chloride(1.0));
    let cycles = (*chloride - at_zero) / (before + at_one - at_zero);
    let fed = oxidant.chloride(cycles.max(1.0)).min(*chloride);
    *chloride -= fed;
    Constituent::Chloride.milligram_per_litre(fed)
}

/// An analysis as a water, once it is complete and its charges balance.
fn checked(
    name: &str,
    share: f64,
    analysis: &Analysis,
) -> Result<(Composition, SourceWater), TargetError> {
    let wrong = |error| TargetError::Analysis { source_name: name.into(), error };
    let composition = analysis.composition().map_err(wrong)?;
    let ions = analysis.ion_balance().map_err(wrong)?;
    let lacks = |missing| TargetError::Missing { source_name: name.into(), missing };
    if Constituent::Calcium.of(&composition).is_none_or(|calcium| calcium <= 0.0) {
        return Err(lacks("calcium"));
    }
    if composition.alkalinity <= 0.0 {
        return Err(lacks("alkalinity"));
    }
    if analysis.balance_with.is_none() && ions.error().abs() > MOST_IMBALANCE {
        return Err(TargetError::ChargeImbalance {
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
