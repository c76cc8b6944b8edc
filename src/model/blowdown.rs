//! The blowdown target of a site: its makeup concentrated, the cycles that its limits allow, and
//! what the controller is set to.

use super::control::{self, Setting};
use super::limits;
use super::money::CostParts;
use super::own_test::{self, OwnTest};
use super::ph::{LowPh, PhOrigin};
use super::tower_water::{
    BlowdownError, KnownWater, MOST_IMBALANCE, NOTABLE_IMBALANCE, SiteWater, SourceWater,
};
use super::uncertain::{BlowdownSpread, HeldTarget, KnownTarget, UncertainBlowdown};
use super::{Balance, Inputs, Model, SlotId, VALVE_OVER_MEAN, Workspace};
use crate::balance::{self, BlowdownBasis, WaterBalance};
use crate::blowdown::carbon_dioxide::CarbonDioxide;
use crate::blowdown::limit::{
    Bound, Circumstances, Limit, Limits, Measure, Remark, Standing as LimitStanding, StatedLimits,
    Watched,
};
use crate::blowdown::own_test::{RealCycles, Reason, Standing, Tracer, Witness};
use crate::blowdown::set_point::{self, SetPoint, ValveWork};
use crate::blowdown::target::{self, Allows, Binding, MOST_CYCLES};
use crate::blowdown::{ConcentratedWater, PhBasis, TowerWater};
use crate::chemistry::{Constituent, Mineral};
use crate::quantity::{significant, with_decimals};
use crate::site::description::ScaleInhibitor;
use crate::site::{BlowdownGiven, ChemicalKind, Control, Value};
use crate::warnings::{Noticed, blowdown as warn};

/// Conductivities this far apart leave no set point: one of them is wrong (common practice).
const MOST_DIFFERENT: f64 = 0.5;
/// No target goes beyond this unless a limit on cycles is stated: small errors of the analysis grow with
/// the cycles, water stays long, and little more is saved (common practice; the cap of LEED v4's cooling
/// tower credit is one published instance).
pub const USUAL_CYCLES: f64 = warn::USUAL_CYCLES;
/// Standard uncertainties of the allowed cycles that the target stays below the best estimate: one-sided
/// 90 % of a normal distribution. Ordinary errors of readings and the method's are not among them: a
/// supplier's limit has its own reserve for these.
pub const MARGIN: f64 = 1.28;

/// A basin as cold as this, degC, is judged beside the design's where nobody states the coldest that runs: winter
/// operation is mostly held above 5 to 10 degC (common practice).
pub const COLD_BASIN: f64 = 10.0;

/// Why a target that could be computed is not given: it would be one of another water.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Withheld {
    /// Acid is fed by the tower's own analysis, and the file does not say so.
    AcidInTower,
    /// An acid stands among the chemicals, and no pH that it holds.
    AcidWithoutPh,
}

/// Set points for the makeup's conductivity at the ends of its season, S/m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Season {
    /// Makeup.
    pub makeup: f64,
    /// Set point.
    pub set_point: f64,
}

/// Conductivity of the makeup at 25 degC, S/m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MakeupConductivity {
    /// Computed from its ions.
    pub computed: f64,
    /// Measured, where it was.
    pub measured: Option<f64>,
}

impl MakeupConductivity {
    /// How far the computed one lies above the measured one, as a part of it.
    pub fn off(&self) -> Option<f64> {
        self.measured.map(|measured| self.computed / measured - 1.0)
    }

    /// What the measured one is of the computed one; `None` where it was not measured or is doubtful.
    pub(super) fn scale(&self) -> Option<f64> {
        self.measured.filter(|_| !self.is_doubtful()).map(|measured| measured / self.computed)
    }

    /// Whether both are so far apart that one of them is wrong.
    fn is_doubtful(&self) -> bool {
        let apart = |measured: f64| measured.max(self.computed) / measured.min(self.computed) - 1.0;
        self.measured.is_some_and(|measured| apart(measured) > MOST_DIFFERENT)
    }
}

/// Cycles allowed at one place in the band of carbon dioxide pressures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandEnd {
    /// Between the field lines, from -1 to 1, at equilibrium with air.
    pub toward_air: f64,
    /// log10 of the pressure in atm at the allowed cycles.
    pub log10_carbon_dioxide: f64,
    /// What stops at the latest is counted.
    pub allowed_cycles: f64,
    /// Acid for a kg of makeup at the target, eq.
    pub acid: Option<f64>,
}

/// What the tower's pH is left open between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// From the most carbon dioxide over the best estimate to the least.
    pub ends: [BandEnd; 3],
    /// Whether the target is that of the end that allows fewest, because the pH is neither measured nor
    /// held.
    pub sets_target: bool,
}

impl Band {
    /// The fewest and the most cycles that are allowed.
    pub fn cycles(&self) -> [f64; 2] {
        let all = self.ends.map(|end| end.allowed_cycles);
        [all.into_iter().fold(f64::INFINITY, f64::min), all.into_iter().fold(0.0, f64::max)]
    }
}

/// What stops the cycles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stop {
    /// The tightest limit of the water.
    Limit,
    /// Drift, leakage and overflow alone.
    Losses,
    /// The longest half-life that is stated.
    HalfLife,
    /// [`USUAL_CYCLES`].
    Usual,
    /// One more cycle saves less than the least that the file states.
    LeastSaving,
    /// Nothing up to [`MOST_CYCLES`].
    Nothing,
}

impl Stop {
    /// Its name in machine output.
    pub fn key(self) -> &'static str {
        match self {
            Self::Limit => "limit",
            Self::Losses => "other_losses",
            Self::HalfLife => "longest_half_life",
            Self::Usual => "usual_cycles",
            Self::LeastSaving => "least_saving",
            Self::Nothing => "nothing",
        }
    }
}

/// What ends the cycles, whatever the water is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Caps {
    /// Cycles that the other losses leave; infinite without them.
    pub losses: f64,
    /// Cycles at the longest half-life.
    half_life: Option<f64>,
    /// [`USUAL_CYCLES`], where no limit on cycles is stated.
    usual: Option<f64>,
    /// Cycles from which one more saves less than the file's least.
    worth_it: Option<f64>,
}

impl Caps {
    /// What is left of the cycles that the limits allow, and what stops them; without [`USUAL_CYCLES`],
    /// which nothing leaves uncertain.
    pub fn computed(&self, by_limits: Option<f64>) -> (f64, Stop) {
        [
            (by_limits, Stop::Limit),
            (Some(self.losses), Stop::Losses),
            (self.half_life, Stop::HalfLife),
        ]
        .into_iter()
        .filter_map(|(cycles, stop)| Some((cycles?, stop)))
        .fold(
            (MOST_CYCLES, Stop::Nothing),
            |least, next| if next.0 < least.0 { next } else { least },
        )
    }

    /// The same with what has no ±: [`USUAL_CYCLES`], and the least saving.
    pub fn all(&self, by_limits: Option<f64>) -> (f64, Stop) {
        let computed = self.computed(by_limits);
        [(self.usual, Stop::Usual), (self.worth_it, Stop::LeastSaving)]
            .into_iter()
            .filter_map(|(cycles, stop)| Some((cycles?, stop)))
            .fold(computed, |least, next| if next.0 < least.0 { next } else { least })
    }
}

impl Caps {
    /// Cycles to aim at, so far below those that are computed.
    fn target(&self, by_limits: Option<f64>, margin: f64) -> Option<f64> {
        let safe = self.computed(by_limits).0 - margin;
        rounded_down(safe.min(self.all(by_limits).0))
    }
}

/// Whether the ± of an input takes a margin off the target: ordinary ones and the method's do not.
fn counts_for_margin(value: &Value) -> bool {
    value.stated_uncertainty().is_some() && !value.is_of_method()
}

/// The cycles that are allowed, with all that they rest on.
#[derive(Debug)]
pub(crate) struct BestEstimate {
    pub(super) water: SiteWater,
    at: Circumstances,
    pub(super) limits: Limits,
    pub(super) allowed: Allowed,
    pub(super) caps: Caps,
    pub(super) by_limits: Option<f64>,
    /// Cycles, as near as they can be told.
    pub cycles: f64,
    /// What stops them there.
    pub stop: Stop,
}

impl BestEstimate {
    /// The tightest limit with a ceiling, whether or not losses allow fewer cycles.
    pub fn controlling(&self) -> Option<&Binding> {
        target::ceiling(&self.allowed.bindings)
    }

    /// The tightest limit on something else than the controlling one.
    pub fn next(&self) -> Option<&Binding> {
        target::next_ceiling(&self.allowed.bindings)
    }

    /// The makeup's conductivity, S/m: as computed, and as it was measured, NaN where nobody did.
    pub(super) fn makeup_conductivity(&self, measured: f64) -> MakeupConductivity {
        MakeupConductivity {
            computed: self.water.makeup.conductivity,
            measured: Some(measured).filter(|measured| measured.is_finite()),
        }
    }
}

/// A blowdown valve at the stated pressure drop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValveSize {
    /// What it passes when it is open, m3/h: [`VALVE_OVER_MEAN`] times the mean blowdown.
    pub flow: f64,
    /// Flow coefficient, m3/h at 1 bar.
    pub kv: f64,
    /// Flow coefficient, gpm at 1 psi.
    pub cv: f64,
}

/// What the target's cycles save against those of today, in an operating year; below zero where they
/// take more.
#[derive(Debug, Clone, PartialEq)]
pub struct Saving {
    /// Makeup, m3.
    pub makeup_m3: f64,
    /// Water, sewer, energy and the chemicals that have a price, in the site's currency; `None` where no
    /// price is stated.
    pub cost: Option<CostParts>,
    /// Of the cost; may be empty.
    pub currency: String,
    /// Why chemicals are not counted, where they cannot be computed.
    pub chemicals_missing: Option<String>,
}

/// Everything that the technician asks of a makeup.
#[derive(Debug, Clone, PartialEq)]
pub struct BlowdownSheet {
    /// Name of the site.
    pub name: String,
    /// Sources of makeup.
    pub sources: Vec<SourceWater>,
    /// Where the pH comes from.
    pub ph_origin: PhOrigin,
    /// A pH of the tower below every published line; far below, nothing rests on it.
    pub low_ph: Option<LowPh>,
    /// Why no target is given, though one could be computed.
    pub withheld: Option<Withheld>,
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
    /// Of each of these where sources disagree about what it comes to at the target, the cycles that the strictest
    /// allows; 1 where it does not even allow the makeup.
    pub strictest_allows: Vec<Option<f64>>,
    /// Cycles that amorphous silica would allow in a basin of [`COLD_BASIN`], where nobody states the coldest and that
    /// is less than the target; 1 where it would not even allow the makeup.
    pub in_cold_basin: Option<f64>,
    /// What scale programmes would allow, where the calcite of an untreated water stops the cycles because nobody stated
    /// a treatment.
    pub by_programme: Vec<(ScaleInhibitor, f64)>,
    /// What is warned of and sets no target.
    pub watched: Vec<Watched>,
    /// What there is to say of the limits beside.
    pub remarks: Vec<Remark>,
    /// Whether a steel is stated, so that its corrosion is judged.
    pub corrosion_is_judged: bool,
    /// The longest contact of a chemical, h.
    pub longest_contact_hours: Option<f64>,
    /// Cycles allowed over the band of carbon dioxide pressures, where these are left open.
    pub band: Option<Band>,
    /// Cycles that drift, leakage and overflow alone leave; infinite without them.
    pub losses_allow: f64,
    /// Cycles stated in the site file, or that its blowdown gives; of two conductivities, those at
    /// which the solved water conducts as much.
    pub present_cycles: f64,
    /// Cycles by the tower's own test that are not sure enough to be today's, where they lie on the other side of the
    /// target than the file's: then nobody knows whether the tower is above it or below.
    pub contested_cycles: Option<f64>,
    /// Stated or measured cycles that the other losses do not leave, whatever the blowdown.
    pub above_losses: Option<f64>,
    /// The plain ratio of two conductivities, where the cycles rest on them.
    pub conductivity_ratio: Option<f64>,
    /// Cycles that are allowed, as near as they can be told: at the band's end that allows fewest, where it
    /// sets the target.
    pub best_estimate: f64,
    /// What stops the cycles there.
    pub stop: Stop,
    /// The limit on the cycles by the longest half-life.
    pub longest_half_life_hours: Option<f64>,
    /// Cycles to aim at: the best estimate less the margin, rounded down to a tenth; `None` where even the
    /// makeup is beyond a limit.
    pub target_cycles: Option<f64>,
    /// [`MARGIN`] standard uncertainties of the best estimate from every ± but the ordinary ones and the
    /// method's; `None` where none moves it.
    pub margin: Option<f64>,
    /// Cycles that a target would have if the ordinary ± and the method's counted too; 1 where it would have
    /// none, `None` where these move nothing.
    pub sure_cycles: Option<f64>,
    /// Cycles that a pH reading would perhaps leave: those of the middle of the band, where that is more than the
    /// target.
    pub after_ph_reading: Option<f64>,
    /// How sure the target is.
    pub uncertain: UncertainBlowdown,
    /// The makeup unconcentrated in the tower, at the target, and at the present cycles.
    pub waters: Vec<ConcentratedWater>,
    /// Conductivity of the makeup.
    pub makeup_conductivity: MakeupConductivity,
    /// The controller's set point for the target.
    pub set_point: Option<SetPoint>,
    /// Dead band as a part of the set point.
    pub dead_band: f64,
    /// Set points at the ends of the makeup's season.
    pub season: Vec<Season>,
    /// Balance at the present cycles.
    pub present: WaterBalance,
    /// Balance at the target.
    pub at_target: Option<WaterBalance>,
    /// The least that one more cycle has to save in a year.
    pub least_saving: Option<f64>,
    /// What the target saves against today, where both have cycles.
    pub saving: Option<Saving>,
    /// What opens the valve, and what it is set to.
    pub setting: Option<Setting>,
    /// What the stated valve does.
    pub valve: Option<ValveWork>,
    /// A valve for the target's blowdown, where the pressure drop is stated.
    pub valve_size: Option<ValveSize>,
    /// Water in the system, m3.
    pub volume_m3: Option<f64>,
    /// Real cycles, where the circulating water was analysed.
    pub real: Option<RealCycles>,
    /// The tower's own analysis against what the makeup makes at these cycles.
    pub own_test: Option<OwnTest>,
    /// Ions that nobody analysed in the makeup, and that make up for others: no limit on them is sure.
    pub made_up: Vec<Constituent>,
    /// What a circulating water that is weaker than its makeup holds less of.
    pub weaker_than_makeup: Option<Witness>,
    /// Whether the present cycles are a ratio of conductivities that nothing corrects.
    pub cycles_are_apparent: bool,
    /// What looks wrong, in sentences.
    pub warnings: Vec<Noticed>,
}

impl Model {
    /// The blowdown target for these numbers.
    ///
    /// # Errors
    /// [`BlowdownError`]: an analysis that lacks what the water needs, charges that do not balance, a
    /// water without an equilibrium, a site without a balance.
    pub fn blowdown(&self, inputs: &Inputs) -> Result<BlowdownSheet, BlowdownError> {
        let balance = self.evaluate(inputs, &mut Workspace::new(self))?;
        let estimate = self.best_estimate(inputs, &balance)?;
        let spread = self.spread_about(inputs, &estimate);
        let BestEstimate { water, at, limits, allowed, caps, by_limits, cycles, stop } = estimate;
        let best_estimate = cycles;
        let surface_is_assumed = water.surface_is_assumed;
        let Limits { watched, remarks, corrosion_is_judged, .. } = limits;
        let SiteWater { origin: ph_origin, low_ph, makeup, real, weaker_than_makeup, .. } = water;
        let Allowed { tower, bindings, band, .. } = allowed;
        let mut present = self.present(inputs, &balance, &tower, makeup.conductivity)?;
        let stated_cycles = present.water.cycles_of_concentration;
        let measured = real.as_ref().filter(|real| own_test::differ(real, stated_cycles));
        if let Some(measured) = measured.and_then(|real| Present::measured(&balance, real)) {
            present = measured;
        }
        let present_cycles = present.water.cycles_of_concentration;
        let losses = balance.water.losses();
        let margin_of = |counts: &dyn Fn(SlotId) -> bool| {
            let standard = spread.as_ref().and_then(|spread| spread.allowed_standard(counts));
            standard.map(|standard| MARGIN * standard)
        };
        let below = |margin: Option<f64>| caps.target(by_limits, margin.unwrap_or(0.0));
        let margin = margin_of(&|slot| counts_for_margin(self.slot_value(slot)));
        let margin_of_all = margin_of(&|_| true);
        let target_cycles = below(margin);
        let mut own_test = match &real {
            Some(real) => {
                self.own_test((inputs, &balance), &makeup, &tower, real, target_cycles)?
            }
            None => None,
        };
        let withheld = self.withheld(own_test.as_ref());
        let target_cycles = target_cycles.filter(|_| withheld.is_none());
        let sure_cycles = (margin_of_all != margin && withheld.is_none())
            .then(|| below(margin_of_all).unwrap_or(1.0));
        let margin = margin.filter(|_| withheld.is_none());
        let after_ph_reading = band
            .filter(|band| band.sets_target && withheld.is_none())
            .and_then(|band| rounded_down(band.ends[1].allowed_cycles))
            .filter(|cycles| *cycles > target_cycles.unwrap_or(1.0));
        let band = band.map(|band| with_acid(band, &tower, target_cycles)).transpose()?;
        let mut waters = vec![tower.at_cycles(1.0)?];
        if let Some(cycles) = target_cycles {
            waters.push(tower.at_cycles(cycles)?);
        }
        // Far above any tower's cycles there is no water to speak of.
        if present_cycles <= MOST_CYCLES {
            waters.push(tower.at_cycles(present_cycles)?);
        }
        let at_target = target_cycles
            .and_then(|cycles| balance::close(&losses, BlowdownBasis::Cycles(cycles)).ok());
        let makeup_conductivity = MakeupConductivity {
            computed: makeup.conductivity,
            measured: Some(self.makeup_conductivity(inputs)).filter(|s| s.is_finite()),
        };
        let measured = makeup_conductivity.measured;
        let set_point = target_cycles
            .zip(measured.filter(|_| !makeup_conductivity.is_doubtful()))
            .map(|(cycles, measured)| {
                let conductivities = (makeup.conductivity, measured);
                set_point::set_point(&tower, cycles, conductivities, best_estimate)
            })
            .transpose()?;
        let held = target_cycles.map(|cycles| HeldTarget {
            cycles,
            set_point: set_point.as_ref().map(|set_point| set_point.conductivity),
            relative_slope: relative_slope(&tower, caps.computed(by_limits).0),
        });
        let uncertain = spread
            .filter(|_| withheld.is_none())
            .map(|spread| self.uncertain_blowdown(spread, held, stop))
            .unwrap_or_default();
        if let Some(own_test) = &mut own_test {
            let is_measured = present_cycles != stated_cycles;
            own_test.stated_cycles = is_measured.then_some(stated_cycles);
            own_test.set_point = own_test.set_point.filter(|_| withheld.is_none());
        }
        let contested_cycles = real
            .as_ref()
            .zip(target_cycles)
            .and_then(|(real, target)| contested(real, present_cycles, target));
        let file_cycles = self.target_cycles(inputs);
        let above_losses = above_losses(caps.losses, file_cycles, real.as_ref());
        let dead_band = inputs.get(self.site.chemistry.dead_band);
        let volume_m3 = self.volume_m3(inputs);
        let [basin, surface] = tower.constants();
        let mut sheet = BlowdownSheet {
            name: self.site.name.clone(),
            sources: makeup.sources,
            ph_origin,
            low_ph,
            withheld,
            strictest_allows: Vec::new(),
            in_cold_basin: None,
            by_programme: self.by_programme(&at, &tower, (&caps, &bindings, stop))?,
            contested_cycles,
            above_losses,
            basin_celsius: basin.celsius(),
            surface_celsius: surface.celsius(),
            surface_is_assumed,
            band,
            losses_allow: caps.losses,
            present_cycles,
            best_estimate,
            stop,
            longest_half_life_hours: self
                .site
                .chemistry
                .longest_half_life
                .map(|slot| inputs.get(slot) / 3_600.0),
            target_cycles,
            margin,
            sure_cycles,
            after_ph_reading,
            uncertain,
            waters,
            makeup_conductivity,
            season: self.season(inputs, set_point.as_ref(), measured),
            set_point,
            dead_band,
            setting: target_cycles.and_then(|cycles| self.setting(inputs, &balance, cycles)),
            valve: target_cycles.and_then(|cycles| self.valve_work(inputs, &balance, cycles)),
            valve_size: self.valve_size(inputs, at_target.as_ref()),
            least_saving: self.site.cost.least_saving,
            saving: at_target
                .as_ref()
                .filter(|_| contested_cycles.is_none())
                .and_then(|then| self.saving(inputs, &balance, [&present.water, then])),
            present: present.water,
            at_target,
            volume_m3,
            real,
            own_test,
            made_up: makeup.made_up,
            weaker_than_makeup,
            conductivity_ratio: present.ratio,
            cycles_are_apparent: present.is_apparent,
            warnings: Vec::new(),
            longest_contact_hours: self.longest_contact_hours(inputs),
            tower,
            bindings,
            watched,
            remarks,
            corrosion_is_judged,
        };
        sheet.strictest_allows = strictest_allows(&sheet)?;
        sheet.in_cold_basin = in_cold_basin(&sheet)?;
        sheet.warnings = self.doubts(inputs, &sheet);
        sheet.warnings.extend(warnings(&sheet));
        Ok(sheet)
    }

    /// Why a target must not be given.
    pub(super) fn withheld(&self, own_test: Option<&OwnTest>) -> Option<Withheld> {
        if self.site.chemistry.ph.held.is_some() {
            return None;
        }
        if own_test.is_some_and(|own| own.comparison.acid.is_some()) {
            return Some(Withheld::AcidInTower);
        }
        let has_acid = self.site.chemicals.iter().any(|c| c.kind == ChemicalKind::Acid);
        has_acid.then_some(Withheld::AcidWithoutPh)
    }

    /// What each scale programme would allow, where calcite stops the cycles at what untreated water stands, and nobody
    /// said that it is untreated.
    fn by_programme(
        &self,
        at: &Circumstances,
        tower: &TowerWater,
        (caps, bindings, stop): (&Caps, &[Binding], Stop),
    ) -> Result<Vec<(ScaleInhibitor, f64)>, BlowdownError> {
        let is_unstated = target::ceiling(bindings).is_some_and(|binding| {
            binding.limit.measure == Measure::SaturationIndex(Mineral::Calcite)
                && binding.limit.standing == LimitStanding::Default
        });
        if !is_unstated || stop != Stop::Limit {
            return Ok(Vec::new());
        }
        let stated = &self.site.chemistry.limits;
        let programmes = [ScaleInhibitor::Phosphonate, ScaleInhibitor::AlkalinePolymer];
        let allowed = programmes.into_iter().map(|programme| {
            let with = StatedLimits { scale_inhibitor: Some(programme), ..stated.clone() };
            let by_limits = target::first_ceiling(tower, &with.under(at).limits)?;
            Ok((programme, caps.all(by_limits).0))
        });
        allowed.collect()
    }

    /// The cycles that are allowed at a balance.
    pub(crate) fn best_estimate(
        &self,
        inputs: &Inputs,
        balance: &Balance,
    ) -> Result<BestEstimate, BlowdownError> {
        let water = self.site_water(inputs, balance)?;
        let at = self.circumstances(inputs, &water);
        let limits = self.site.chemistry.limits.under(&at);
        let caps = self.caps(inputs, &balance.water, &limits.limits);
        let allowed = self.allowed(inputs, water.tower.clone(), (&limits.limits, &caps))?;
        let by_limits = target::ceiling(&allowed.bindings).and_then(Binding::ceiling);
        let caps = self.with_least_saving(inputs, balance, (caps, &allowed.bindings));
        let (cycles, stop) = caps.all(by_limits);
        Ok(BestEstimate { water, at, limits, allowed, caps, by_limits, cycles, stop })
    }

    /// Whether the analysis of the makeup holds what a target needs.
    pub(crate) fn analysed(&self, inputs: &Inputs, balance: &Balance) -> Result<(), BlowdownError> {
        self.site_water(inputs, balance).map(|_| ())
    }

    /// The cycles to aim at below the best estimate: the target that [`Model::blowdown`] tells. `stated` is this
    /// model with [`Model::with_stated_errors`] alone.
    pub(crate) fn target_below(
        &self,
        stated: &Model,
        inputs: &Inputs,
        estimate: &BestEstimate,
    ) -> Option<f64> {
        let spread = stated.spread_about(inputs, estimate);
        let standard = spread.and_then(|spread| spread.allowed_standard(|_| true));
        estimate.caps.target(estimate.by_limits, MARGIN * standard.unwrap_or(0.0))
    }

    /// What the inputs leave open of a best estimate; `None` where none carries an uncertainty.
    fn spread_about(&self, inputs: &Inputs, estimate: &BestEstimate) -> Option<BlowdownSpread> {
        if !self.is_uncertain() {
            return None;
        }
        let BestEstimate { water, allowed, caps, by_limits, .. } = estimate;
        let Allowed { tower, bindings, at_end, .. } = allowed;
        let site = KnownWater {
            inputs,
            tower,
            makeup: &water.makeup,
            real: water.real.as_ref(),
            weaker_than_makeup: water.weaker_than_makeup.as_ref(),
        };
        let water = tower.at_cycles(caps.computed(*by_limits).0).ok()?;
        let known = KnownTarget { site, limits: &estimate.limits.limits, bindings, water };
        self.blowdown_spread(inputs, known, *at_end)
    }

    /// This model, uncertain in what takes a margin off the target alone.
    pub(crate) fn with_stated_errors(&self) -> Model {
        let mut model = self.clone();
        for value in &mut model.site.slots {
            if !counts_for_margin(value) {
                value.uncertainty = None;
            }
        }
        model
    }

    /// The same with what the least saving stops; a floor that is stated goes before money.
    fn with_least_saving(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        (caps, bindings): (Caps, &[Binding]),
    ) -> Caps {
        let by_limits = target::ceiling(bindings).and_then(Binding::ceiling);
        let (most, _) = caps.all(by_limits);
        let floors = bindings.iter().filter_map(|binding| match binding.allows {
            Allows::From(cycles) => Some(cycles),
            _ => None,
        });
        let floor = floors.fold(1.0, f64::max);
        let worth_it = self.cycles_worth_it(inputs, balance, most);
        // A tenth is rounded off below.
        Caps { worth_it: worth_it.map(|cycles| cycles.max(floor + 0.1)), ..caps }
    }

    /// What ends the cycles of a balance, whatever the water is.
    pub(super) fn caps(&self, inputs: &Inputs, water: &WaterBalance, limits: &[Limit]) -> Caps {
        let chemistry = &self.site.chemistry;
        let losses = water.losses();
        let on_cycles =
            |limit: &&Limit| limit.measure == Measure::Cycles && limit.bound == Bound::Most;
        let half_life = chemistry.longest_half_life.zip(self.volume_m3(inputs));
        let half_life = half_life.map(|(slot, volume)| {
            let hours = inputs.get(slot) / 3_600.0;
            let liquid = std::f64::consts::LN_2 * volume / hours;
            1.0 + Balance::reference_m3_per_h(losses.evaporation_kg_per_s) / liquid
        });
        Caps {
            losses: 1.0 + losses.evaporation_kg_per_s / losses.liquid_kg_per_s(),
            half_life,
            usual: limits.iter().find(on_cycles).is_none().then_some(USUAL_CYCLES),
            worth_it: None,
        }
    }

    /// What the limits allow; where the pH is neither measured nor held, at the end of the band that allows
    /// fewest cycles.
    fn allowed(
        &self,
        inputs: &Inputs,
        tower: TowerWater,
        (limits, caps): (&[Limit], &Caps),
    ) -> Result<Allowed, BlowdownError> {
        let Some((slot, places)) = self.field_line_band(inputs, &tower) else {
            let bindings = target::bindings(&tower, limits)?;
            return Ok(Allowed { tower, bindings, band: None, at_end: None });
        };
        let towers = places.map(|place| toward_air(&tower, place));
        let sets_target = matches!(tower.basis(), PhBasis::Free(_));
        // The whole search is made where the target most likely lies: of a free water near the air.
        let likely = if sets_target { 2 } else { 1 };
        let mut bindings = target::bindings(&towers[likely], limits)?;
        let mut allowed = [0.0; 3];
        for (index, tower) in towers.iter().enumerate() {
            let by_limits = match index {
                index if index == likely => target::ceiling(&bindings).and_then(Binding::ceiling),
                _ => target::first_ceiling(tower, limits)?,
            };
            allowed[index] = caps.all(by_limits).0;
        }
        let fewest = (0..3).min_by(|a, b| allowed[*a].total_cmp(&allowed[*b]));
        // Of equal ones the likely end.
        let end = fewest.filter(|end| sets_target && allowed[*end] < allowed[likely]);
        if let Some(end) = end {
            bindings = target::bindings(&towers[end], limits)?;
        }
        let end = end.unwrap_or(likely);
        let makeup = tower.makeup().alkalinity;
        let ends = [0, 1, 2].map(|index| BandEnd {
            toward_air: places[index],
            log10_carbon_dioxide: towers[index]
                .basis()
                .gas()
                .log10_pressure(allowed[index] * makeup),
            allowed_cycles: allowed[index],
            acid: None,
        });
        let tower = towers[end].clone();
        Ok(Allowed {
            tower,
            bindings,
            band: Some(Band { ends, sets_target }),
            at_end: slot.filter(|_| sets_target).map(|slot| (slot, places[end])),
        })
    }

    /// Today's balance. The ratio of two conductivities is carried over to the cycles at which the solved
    /// water conducts as much, where there are such.
    fn present(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        tower: &TowerWater,
        computed: f64,
    ) -> Result<Present, BlowdownError> {
        let water = balance.water;
        let basis = self.blowdown_basis(inputs, &balance.state);
        let (BlowdownGiven::Conductivity(_), BlowdownBasis::Cycles(ratio)) =
            (&self.site.blowdown, basis)
        else {
            return Ok(Present { water, ratio: None, is_apparent: false });
        };
        let closed = set_point::cycles_at(tower, ratio * computed, MOST_CYCLES)?
            .and_then(|real| balance::close(&water.losses(), BlowdownBasis::Cycles(real)).ok());
        Ok(Present {
            water: closed.unwrap_or(water),
            ratio: Some(ratio),
            is_apparent: closed.is_none(),
        })
    }

    /// The circulating water at these cycles, beside a target.
    ///
    /// # Errors
    /// [`BlowdownError::Unsolved`].
    pub fn water_at(
        &self,
        sheet: &BlowdownSheet,
        cycles: f64,
    ) -> Result<ConcentratedWater, BlowdownError> {
        Ok(sheet.tower.at_cycles(cycles)?)
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

    /// A valve for [`VALVE_OVER_MEAN`] times the target's blowdown.
    fn valve_size(&self, inputs: &Inputs, at_target: Option<&WaterBalance>) -> Option<ValveSize> {
        let drop = inputs.get(self.site.chemistry.valve_pressure_drop?);
        let flow = VALVE_OVER_MEAN * Balance::reference_m3_per_h(at_target?.blowdown_kg_per_s);
        let (kv, cv) = set_point::flow_coefficients(flow, drop);
        Some(ValveSize { flow, kv, cv })
    }

    /// What the second balance saves against the first; nothing where the cycles have no limit.
    fn saving(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        waters: [&WaterBalance; 2],
    ) -> Option<Saving> {
        if !waters[0].cycles_of_concentration.is_finite() {
            return None;
        }
        let hours = inputs.get(self.site.hours_per_year);
        let load = inputs.get(self.site.load_factor);
        let yearly_makeup = |water: &WaterBalance| {
            hours * Balance::reference_m3_per_h(water.at_load(load, true).makeup_kg_per_s)
        };
        let [now, then] = waters.map(yearly_makeup);
        let costs = self.cost_parts(inputs, balance, waters);
        let (costs, chemicals_missing) = costs.unzip();
        Some(Saving {
            makeup_m3: now - then,
            cost: costs.map(|costs| costs[0] - costs[1]),
            currency: self.site.cost.currency.clone(),
            chemicals_missing: chemicals_missing.flatten(),
        })
    }
}

impl BlowdownSheet {
    /// The tightest limit with a ceiling, whether or not losses allow fewer cycles.
    pub fn controlling(&self) -> Option<&Binding> {
        target::ceiling(&self.bindings)
    }

    /// A pH of the tower that nothing rests on.
    pub fn ph_not_believed(&self) -> Option<LowPh> {
        self.low_ph.filter(|low| !low.is_believed)
    }

    /// The makeup's own conductivity, S/m, where a controller with this set point and dead band would shut only below
    /// it: it never shuts.
    pub fn never_shuts(&self) -> Option<f64> {
        let set_point = self.set_point?;
        let makeup = self.makeup_conductivity.measured?;
        let is_controlled =
            self.setting.is_none_or(|setting| setting.control == Control::Conductivity);
        let shuts_at = set_point.conductivity * (1.0 - self.dead_band);
        (is_controlled && shuts_at <= makeup).then_some(makeup)
    }

    /// The tightest limit on something else than the controlling one.
    pub fn next(&self) -> Option<&Binding> {
        target::next_ceiling(&self.bindings)
    }

    /// A measure in the water at the present cycles; `None` where nothing was solved there, or where the water
    /// lacks what the measure is made of.
    pub fn at_present(&self, measure: Measure) -> Option<f64> {
        let water = self.waters.iter().find(|water| water.cycles == self.present_cycles)?;
        measure.of(water)
    }

    /// What the stated salts of products come to in the water at the present cycles, mg/L; nothing where these
    /// have no limit.
    pub fn product_salts(&self) -> Vec<(Constituent, f64)> {
        if !self.present_cycles.is_finite() {
            return Vec::new();
        }
        let salts = self.tower.salts.at(self.present_cycles);
        Constituent::ALL
            .into_iter()
            .filter(|ion| !matches!(ion, Constituent::Bicarbonate | Constituent::Carbonate))
            .filter_map(|ion| Some((ion, ion.milligram_per_litre(ion.of(&salts)?))))
            .filter(|(_, milligram)| *milligram > 0.0)
            .collect()
    }

    /// Mean of the cycles over the dead band below the target.
    pub fn mean_cycles(&self) -> Option<f64> {
        self.target_cycles.map(|target| target * (1.0 - 0.5 * self.dead_band))
    }

    /// Hours in which half of what is in the water is renewed, at such a balance.
    pub fn half_life(&self, balance: &WaterBalance) -> Option<f64> {
        self.volume_m3.map(|volume| Balance::half_life_hours(volume, balance))
    }
}

pub(super) fn is_unmet(binding: &Binding, target: f64) -> bool {
    match binding.allows {
        Allows::From(cycles) => cycles > target,
        Allows::UpTo(cycles) => binding.ceiling().is_none() && cycles < target,
        Allows::NeverMet => true,
        _ => false,
    }
}

/// What the limits of a site allow.
#[derive(Debug)]
pub(super) struct Allowed {
    /// The water that the target is for.
    pub tower: TowerWater,
    bindings: Vec<Binding>,
    band: Option<Band>,
    /// The place between the field lines that the target is for, where the pH is neither measured nor held.
    at_end: Option<(SlotId, f64)>,
}

/// The same water at another place between the field lines.
fn toward_air(tower: &TowerWater, toward_air: f64) -> TowerWater {
    let gas = match tower.basis().gas() {
        CarbonDioxide::FieldLine { log10_air_pressure, .. } => {
            CarbonDioxide::FieldLine { toward_air, log10_air_pressure }
        }
        pressure => pressure,
    };
    tower.with_basis(tower.basis().under(gas))
}

/// A band with the acid that the target takes at each place, where acid holds the pH.
fn with_acid(
    mut band: Band,
    tower: &TowerWater,
    target: Option<f64>,
) -> Result<Band, BlowdownError> {
    if let (PhBasis::Held { .. }, Some(cycles)) = (tower.basis(), target) {
        for end in &mut band.ends {
            let water = toward_air(tower, end.toward_air).at_cycles(cycles)?;
            end.acid = Some(water.acid / cycles);
            end.log10_carbon_dioxide = water.basin.log10_carbon_dioxide;
        }
    }
    Ok(band)
}

/// Change of the conductivity for a cycle, as a part of it; 0 where the water is not solved there.
fn relative_slope(tower: &TowerWater, cycles: f64) -> f64 {
    const STEP: f64 = 0.01;
    let at = |part: f64| tower.at_cycles((1.0 + part) * cycles).map(|water| water.conductivity);
    match (at(0.0), at(STEP)) {
        (Ok(here), Ok(there)) => (there / here - 1.0) / (STEP * cycles),
        _ => 0.0,
    }
}

/// Cycles by a test that is not sure, on the other side of the target than those that are taken for today's.
fn contested(real: &RealCycles, present: f64, target: f64) -> Option<f64> {
    let is_contradictory = real.standing == Standing::Contradictory;
    let is_apart = (real.cycles - present).abs() > 2.0 * real.standard;
    let is_across = (real.cycles - target) * (present - target) < 0.0;
    (!real.is_sure() && !is_contradictory && is_apart && is_across).then_some(real.cycles)
}

/// The cycles of the file, or those that the tower's own test shows, that are more than other losses leave.
fn above_losses(losses: f64, stated: Option<f64>, real: Option<&RealCycles>) -> Option<f64> {
    /// Cycles that exceed the losses' by less than this part equal them.
    const SAME: f64 = 0.01;
    let least_real = real
        .filter(|real| real.is_sure())
        .filter(|real| real.cycles - 2.0 * real.standard > losses)
        .map(|real| real.cycles);
    let stated = stated.filter(|stated| stated.is_finite() && *stated > (1.0 + SAME) * losses);
    least_real.or(stated)
}

/// Of each limit that sources disagree about at the target, the cycles that the strictest allows.
fn strictest_allows(sheet: &BlowdownSheet) -> Result<Vec<Option<f64>>, BlowdownError> {
    let allows = |binding: &Binding| {
        let limit = &binding.limit;
        let disputed = limit.bound == Bound::Most && sheet.disputed(limit).is_some();
        let from = limit.warn_from.as_ref().filter(|_| disputed).zip(sheet.target_cycles);
        from.map(|(from, target)| {
            let strict = Limit { value: from.value, ..limit.clone() };
            Ok(target::within(&sheet.tower, &strict, target)?.unwrap_or(1.0))
        })
        .transpose()
    };
    sheet.bindings.iter().map(allows).collect()
}

/// Cycles that amorphous silica would allow in a cold basin, where that is less than the target.
fn in_cold_basin(sheet: &BlowdownSheet) -> Result<Option<f64>, BlowdownError> {
    let silica = Measure::SaturationIndex(Mineral::AmorphousSilica);
    let limit = sheet
        .bindings
        .iter()
        .map(|binding| &binding.limit)
        .find(|limit| limit.measure == silica && limit.bound == Bound::Most);
    let is_stated = sheet.tower.coldest_celsius().is_some();
    let Some((limit, target)) =
        limit.zip(sheet.target_cycles).filter(|_| !is_stated && sheet.basin_celsius > COLD_BASIN)
    else {
        return Ok(None);
    };
    let cold = sheet
        .tower
        .clone()
        .with_coldest_basin(COLD_BASIN)
        .map_err(|error| BlowdownError::Speciation { what: "a cold basin".into(), error })?;
    let at_target = silica.known_of(&cold, &cold.at_cycles(target)?);
    if !at_target.is_some_and(|index| index > limit.value) {
        return Ok(None);
    }
    Ok(Some(target::within(&cold, limit, target)?.unwrap_or(1.0)))
}

/// Today's balance, and the ratio of conductivities that it rests on.
struct Present {
    water: WaterBalance,
    ratio: Option<f64>,
    /// Whether nothing corrects the ratio.
    is_apparent: bool,
}

impl Present {
    /// Today's balance at the cycles that the tower's own analysis shows; `None` where the other losses
    /// alone hold fewer.
    fn measured(balance: &Balance, real: &RealCycles) -> Option<Self> {
        let losses = balance.water.losses();
        let water = balance::close(&losses, BlowdownBasis::Cycles(real.cycles)).ok()?;
        let is_left = water.cycles_of_concentration >= (1.0 - 1e-6) * real.cycles;
        is_left.then_some(Self { water, ratio: None, is_apparent: false })
    }
}

/// To a tenth of a cycle, below 1.1 to a hundredth; `None` where nothing is left of it.
pub(super) fn rounded_down(cycles: f64) -> Option<f64> {
    let steps = if cycles >= 1.1 { 10.0 } else { 100.0 };
    // A value that is a step but for its last digit stays there.
    let down = ((cycles + 1e-9) * steps).floor() / steps;
    (down > 1.0).then_some(down)
}

/// What looks wrong, the most weighty first.
fn warnings(sheet: &BlowdownSheet) -> Vec<Noticed> {
    let too_small = sheet.valve.zip(sheet.target_cycles);
    let too_small = too_small.and_then(|(valve, cycles)| control::told(&valve, cycles));
    let mut warnings: Vec<Noticed> = too_small.into_iter().chain(limits::warnings(sheet)).collect();
    for source in &sheet.sources {
        let error = source.ions.error().abs();
        warnings.extend(of_source(source));
        if source.made_up == 0.0 && error > NOTABLE_IMBALANCE {
            warnings.push(warn::IONS_OUT_OF_BALANCE.with(format!(
                "Makeup {}: cations and anions differ by {} % of their sum: calcium or another ion is a slip \
                 (a digit, its basis, its unit), or one is missing. Above {} % it is worth a look, above {} % it is \
                 refused.",
                source.name,
                with_decimals(100.0 * error, 1),
                100.0 * NOTABLE_IMBALANCE,
                100.0 * MOST_IMBALANCE
            )));
        }
    }
    warnings.extend(never_shuts(sheet));
    warnings.extend(above_what_losses_leave(sheet));
    warnings.extend(ph_not_believed(sheet));
    warnings.extend(acid_without_ph(sheet));
    warnings.extend(off_ions(sheet));
    warnings.extend(conductivity_computed(sheet));
    warnings.extend(of_own_test(sheet));
    if let Some(target) = sheet.target_cycles.filter(|target| *target > warn::USUAL_CYCLES) {
        warnings.push(warn::TARGET_CYCLES_HIGH.with(format!(
            "{} cycles are more than {}: small errors of the analysis grow with them, water \
             stays long, and little more is saved.",
            with_decimals(target, 1),
            warn::USUAL_CYCLES
        )));
    }
    let log10 = match sheet.tower.basis().gas() {
        CarbonDioxide::Pressure(log10) | CarbonDioxide::Reading { log10, .. } => Some(log10),
        CarbonDioxide::FieldLine { .. } => None,
    };
    if let Some(log10) = log10.filter(|log10| !warn::USUAL_CARBON_DIOXIDE.contains(log10)) {
        warnings.push(warn::CARBON_DIOXIDE_UNUSUAL.with(format!(
            "log10 pCO2 of {} is not what tower water is found at ({} to {}, common practice): check \
             the tower's pH and alkalinity.",
            with_decimals(log10, 2),
            warn::USUAL_CARBON_DIOXIDE.start(),
            warn::USUAL_CARBON_DIOXIDE.end()
        )));
    }
    let is_fed = sheet.waters.iter().any(|water| water.acid > 0.0);
    if let (PhBasis::Held { ph, .. }, false) = (sheet.tower.basis(), is_fed) {
        warnings.push(warn::ACID_NOT_NEEDED.with(format!(
            "Acid cannot raise a pH: the water stays below {} by itself, and none is fed.",
            with_decimals(ph, 2)
        )));
    }
    warnings
}

/// A controller that opens and never shuts.
fn never_shuts(sheet: &BlowdownSheet) -> Option<Noticed> {
    let makeup = sheet.never_shuts()?;
    let shuts_at = sheet.set_point?.conductivity * (1.0 - sheet.dead_band);
    let us = |siemens_per_metre: f64| significant(siemens_per_metre * 1e4, 3);
    Some(warn::CONTROLLER_NEVER_SHUTS.with(format!(
        "The controller would shut at {} uS/cm, the makeup itself conducts {}: once open, the valve never shuts.",
        us(shuts_at),
        us(makeup)
    )))
}

fn above_what_losses_leave(sheet: &BlowdownSheet) -> Option<Noticed> {
    let cycles = sheet.above_losses?;
    let shown = |cycles: f64| with_decimals(cycles, 2);
    let is_measured = sheet.real.as_ref().is_some_and(|real| real.cycles == cycles);
    let whose = if is_measured { "The tower's own test shows" } else { "The site file states" };
    Some(warn::CYCLES_ABOVE_LOSSES.with(format!(
        "{whose} {} cycles; the stated drift and leaks leave {} with the blowdown shut: a loss is stated too high, or \
         the cycles are wrong.",
        shown(cycles),
        shown(sheet.losses_allow)
    )))
}

fn ph_not_believed(sheet: &BlowdownSheet) -> Option<Noticed> {
    let doubted = sheet.ph_not_believed()?;
    Some(warn::PH_NOT_BELIEVED.with(format!(
        "A pH of {} in the tower lies {} below the published line of its alkalinity ({}): nothing rests on it. Read it \
         again; if acid is fed, state [ph] held; if it stays so, state [ph] log10_carbon_dioxide = {}.",
        with_decimals(doubted.ph, 2),
        with_decimals(doubted.on_the_line - doubted.ph, 1),
        with_decimals(doubted.on_the_line, 1),
        with_decimals(doubted.log10_carbon_dioxide, 2)
    )))
}

fn acid_without_ph(sheet: &BlowdownSheet) -> Option<Noticed> {
    (sheet.withheld == Some(Withheld::AcidWithoutPh)).then(|| {
        crate::warnings::feed::ACID_WITHOUT_PH.with(
            "An acid stands under [[chemical]] and no pH that it holds: state [ph] held, or take the acid out.",
        )
    })
}

/// Sources whose conductivity nobody measured, where that of others was.
fn conductivity_computed(sheet: &BlowdownSheet) -> Option<Noticed> {
    sheet.makeup_conductivity.measured?;
    let computed: Vec<String> = sheet
        .sources
        .iter()
        .filter(|source| source.conductivity.1)
        .map(|source| {
            format!("{} ({} uS/cm)", source.name, significant(source.conductivity.0 * 1e4, 3))
        })
        .collect();
    (!computed.is_empty()).then(|| {
        warn::CONDUCTIVITY_COMPUTED.with(format!(
            "Nobody measured the conductivity of {}: that of its ions stands for it in the makeup's.",
            computed.join(", ")
        ))
    })
}

/// What looks wrong in the analysis of one source.
fn of_source(source: &SourceWater) -> Vec<Noticed> {
    let mut warnings = Vec::new();
    let error = source.ions.error().abs();
    let shown = |value: f64| significant(value, 3);
    if source.completed_from.is_none() && source.made_up > 0.0 && error > warn::MOST_MADE_UP {
        let ions = source.made_up_ions.iter().map(|(ion, moles)| {
            format!("{} mg/L of {}", shown(ion.milligram_per_litre(*moles)), ion.name())
        });
        warnings.push(warn::MUCH_MADE_UP.with(format!(
            "Makeup {}: balance_with makes up {}, {} % of the sum of the ions: so much is hardly left out of an \
             analysis, it is a slip in one of the ions or its unit.",
            source.name,
            ions.collect::<Vec<_>>().join(" and "),
            with_decimals(100.0 * error, 0)
        )));
    }
    let (found, computed) = source.dried_solids;
    if let Some(found) = found.filter(|found| !warn::USUAL_DRIED.contains(&(found / computed))) {
        warnings.push(warn::DISSOLVED_SOLIDS_OFF.with(format!(
            "Makeup {}: {} mg/L of dissolved solids by drying were found, its ions leave {}: an ion is missing or \
             wrong, or the number is their sum (dissolved_ions) or a pen's reading (tds_pen).",
            source.name,
            shown(found),
            shown(computed)
        )));
    }
    let (found, computed) = source.dissolved_ions;
    if let Some(found) = found.filter(|found| (found / computed - 1.0).abs() > warn::SUMS_AGREE) {
        warnings.push(warn::DISSOLVED_SOLIDS_OFF.with(format!(
            "Makeup {}: the laboratory's sum of ions is {} mg/L, ours {}: an ion is missing or wrong, or the number was \
             found by drying (dissolved_solids).",
            source.name,
            shown(found),
            shown(computed)
        )));
    }
    if let Some((found, Some(computed))) = source.p_alkalinity
        && (found - computed).abs() > warn::P_AGREES
    {
        warnings.push(warn::P_ALKALINITY_OFF_PH.with(format!(
            "Makeup {}: P alkalinity of {} mg/L as CaCO3 was found; at the stated pH it would be {}: the pH or one of \
             the titrations is off, or the sample took up carbon dioxide.",
            source.name,
            shown(found),
            shown(computed)
        )));
    }
    warnings
}

/// What the tower's own analysis contradicts.
fn of_own_test(sheet: &BlowdownSheet) -> Vec<Noticed> {
    let mut warnings = Vec::new();
    if let Some(wrong) = &sheet.weaker_than_makeup {
        warnings.push(warn::CIRCULATING_WATER_WEAKER.with(format!(
            "The circulating water holds {} of {}, the makeup {}: samples swapped or the same, or a wrong \
             value. Nothing is taken from it, its pH neither: the water is taken in equilibrium with air.",
            of_witness(wrong, wrong.circulating),
            wrong.tracer.name(),
            of_witness(wrong, wrong.makeup)
        )));
    }
    if !sheet.made_up.is_empty() {
        let names: Vec<&str> = sheet.made_up.iter().map(|ion| ion.name()).collect();
        let is_limited = |binding: &&Binding| match binding.limit.measure {
            Measure::Constituent(constituent) => sheet.made_up.contains(&constituent),
            _ => false,
        };
        if sheet.bindings.iter().any(|binding| is_limited(&binding)) {
            warnings.push(warn::LIMIT_ON_MADE_UP_ION.with(format!(
                "Nobody analysed {} in the makeup: made up to complete the analysis. Limits on it are no more \
                 than a guess, and it is no tracer.",
                names.join(" and ")
            )));
        }
    }
    let Some((real, own)) = sheet.real.as_ref().zip(sheet.own_test.as_ref()) else {
        return warnings;
    };
    let shown = |cycles: f64| with_decimals(cycles, 2);
    if let Some(acid) = &own.comparison.acid {
        warnings.push(warn::ACID_NOT_STATED.with(format!(
            "The tower's pH and alkalinity lie far below what its makeup makes, and {} meq/L of sulfate \
             have come for {} meq/L of alkalinity: sulfuric acid is fed. State it: [ph] held = {}.",
            significant(1e3 * acid.sulfate, 2),
            significant(1e3 * acid.alkalinity, 2),
            with_decimals(acid.ph, 1)
        )));
    }
    if let Some(stated) = own.stated_cycles {
        let stated = match stated.is_finite() {
            true => format!("{} cycles", shown(stated)),
            false => "cycles without limit".into(),
        };
        warnings.push(warn::MEASURED_CYCLES_DIFFER.with(format!(
            "The tower's own analysis shows {} ± {} cycles, the site file {stated}: today is taken for \
             what was measured.",
            shown(real.cycles),
            shown(2.0 * real.standard)
        )));
    }
    if real.standing == Standing::Contradictory {
        let each: Vec<String> = real
            .witnesses
            .iter()
            .map(|witness| format!("{} {}", witness.tracer.name(), shown(witness.cycles)))
            .collect();
        warnings.push(warn::OWN_TEST_CONTRADICTS.with(format!(
            "The tower's own analysis contradicts itself: cycles by {}. Nothing rests on it.",
            each.join(", ")
        )));
    }
    let slips = real.witnesses.iter().filter_map(|witness| Some((witness, witness.odd?)));
    for (witness, odd) in slips {
        let why = match odd.reason {
            Reason::DecimalSlip => "a decimal point in the wrong place".to_owned(),
            Reason::Basis(basis) => format!("counted as {basis} in one of the analyses"),
            Reason::Added | Reason::Missing => continue,
        };
        warnings.push(warn::ODD_ION.with(format!(
            "{} of {} in the circulating water does not fit the others, {} would: likely {why}, here or \
             in the makeup.",
            of_witness(witness, witness.circulating),
            witness.tracer.name(),
            of_witness(witness, odd.would_fit)
        )));
    }
    warnings
}

/// A number of a witness with its unit.
fn of_witness(witness: &Witness, value: f64) -> String {
    match witness.tracer {
        Tracer::Ion(_) => format!("{} mg/L", significant(value, 3)),
        Tracer::Conductivity => format!("{} uS/cm", significant(1e4 * value, 3)),
    }
}

/// A makeup whose conductivity does not fit its ions.
fn off_ions(sheet: &BlowdownSheet) -> Option<Noticed> {
    let both = sheet.makeup_conductivity;
    let measured = both.measured?;
    if both.off()?.abs() <= warn::NOTABLE_CONDUCTIVITY {
        return None;
    }
    let us = |siemens_per_metre: f64| significant(siemens_per_metre * 1e4, 3);
    let so = match both.is_doubtful() {
        true => " So far apart, they give no set point.",
        false => "",
    };
    Some(warn::CONDUCTIVITY_OFF_IONS.with(format!(
        "The makeup's conductivity is stated as {} uS/cm, its ions conduct {}: an ion is missing, or the \
         meter or its unit is off ({} %, Standard Methods 1030 E, from memory).{so}",
        us(measured),
        us(both.computed),
        100.0 * warn::NOTABLE_CONDUCTIVITY
    )))
}
