//! The blowdown target for programs.

use super::control::{self, ControlOut, ValveOut};
use super::detail::{TRADE, langelier_above_calcite};
use super::given::{self, AnalysisOut};
use super::own_test::{OwnTestOut, own_test_out};
use super::{Beside, assumed};
use crate::balance::WaterBalance;
use crate::blowdown::carbon_dioxide::CarbonDioxide;
use crate::blowdown::limit::{Bound, Measure, Watched};
use crate::blowdown::set_point::SetPoint;
use crate::blowdown::target::{Allows, Binding};
use crate::blowdown::{ConcentratedWater, PhBasis};
use crate::chemistry::{CompletedFrom, Constituent, Mineral};
use crate::model::{
    BandEnd, BlowdownSheet, GivenAndUsed, LowPh, PhOrigin, Saving, Season, SourceWater, Withheld,
};
use crate::report::json::{AssumptionOut, SCHEMA, assumption};
use crate::report::m3_per_h;
use crate::report::uncertain::{self, UncertainOut};
use crate::report::warnings::{NoticeOut, notices_out};
use crate::site::AsGiven;
use crate::site::description::ScaleInhibitor;
use serde::Serialize;
use std::collections::BTreeMap;

/// A target for programs: fixed keys, SI units, full precision.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct BlowdownOut {
    /// Version of this form.
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where the description came from.
    pub source: String,
    /// Cycles to aim at: the best estimate less its margin, rounded down.
    pub target_cycles: Option<f64>,
    /// Cycles that are allowed, as near as they can be told.
    pub best_estimate_cycles: f64,
    /// What the target lies below the best estimate for every ± but the ordinary ones and the method's; none
    /// where none moves it.
    pub margin_cycles: Option<f64>,
    /// Cycles that a target would have if the ordinary ± and the method's counted too.
    pub sure_cycles: Option<f64>,
    /// What stops the cycles: `limit`, `other_losses`, `longest_half_life`, `usual_cycles`,
    /// `least_saving` or `nothing`.
    pub stop: &'static str,
    /// The least that one more cycle has to save in a year.
    pub least_saving_per_year: Option<f64>,
    /// The longest half-life that the file states.
    pub longest_half_life_h: Option<f64>,
    /// Cycles that a pH reading would perhaps leave.
    pub after_ph_reading_cycles: Option<f64>,
    /// Why no target is given though one could be computed: `acid_in_tower` or `acid_without_ph`.
    pub withheld: Option<&'static str>,
    /// A pH of the tower that nothing rests on.
    pub ph_not_believed: Option<LowPhOut>,
    /// A pH of the tower that the target rests on though it lies below every published line.
    pub low_ph: Option<LowPhOut>,
    /// Cycles that amorphous silica would allow in a cold basin, where nobody states the coldest and that is less than
    /// the target.
    pub in_cold_basin_cycles: Option<f64>,
    /// What scale programmes would allow, where nobody stated a treatment and that stops the cycles.
    pub by_programme: Vec<ProgrammeOut>,
    /// Cycles of the site file.
    pub present_cycles: f64,
    /// Cycles of a test that is not sure, on the other side of the target than the present ones.
    pub contested_cycles: Option<f64>,
    /// Stated or measured cycles that the other losses do not leave.
    pub above_losses_cycles: Option<f64>,
    /// Whether these are a ratio of conductivities that nothing corrects.
    pub cycles_are_apparent: bool,
    /// The plain ratio of two conductivities, where the present cycles rest on them.
    pub conductivity_ratio: Option<f64>,
    /// Cycles that the other liquid losses leave.
    pub losses_allow_cycles: Option<f64>,
    /// What fixes the pH.
    pub ph_basis: &'static str,
    /// log10 of the carbon dioxide pressure, atm; along field lines that of the water at the target.
    pub log10_carbon_dioxide: Option<f64>,
    /// Where between the field lines the target is: -1 the one with the most carbon dioxide, 1 equilibrium
    /// with air.
    pub toward_air: Option<f64>,
    /// Whether nobody stated that pressure, nor a pH that implies it.
    pub carbon_dioxide_is_assumed: bool,
    /// pH measured in the tower.
    pub ph_measured: Option<f64>,
    /// Cycles at which it was measured.
    pub ph_measured_at_cycles: Option<f64>,
    /// pH that acid holds.
    pub ph_held: Option<f64>,
    /// In the basin.
    pub basin_celsius: f64,
    /// Of the hottest surface.
    pub surface_celsius: f64,
    /// Whether nobody stated the surface's temperature.
    pub surface_is_assumed: bool,
    /// Chloride that fed oxidant leaves in the water at the present cycles, mg/L; none where they have no
    /// limit.
    pub oxidant_chloride_mg_per_l: Option<f64>,
    /// What the stated salts of products come to in the water at the present cycles.
    pub product_salts_mg_per_l: BTreeMap<&'static str, f64>,
    /// Cycles allowed along the band of carbon dioxide, the most of it first.
    pub band: Vec<BandOut>,
    /// The controlling limit's key.
    pub controlling: Option<String>,
    /// Every limit.
    pub limits: Vec<LimitOut>,
    /// Values that are warned of and set no target.
    pub watched: Vec<WatchedOut>,
    /// The target's results with their uncertainty; none where no input carries one.
    pub uncertain: Vec<UncertainOut>,
    /// Limits that take the lead within a standard uncertainty of some input.
    pub others_lead: Vec<String>,
    /// The set point.
    pub set_point: Option<SetPointOut>,
    /// Dead band of the controller, as a part of its set point.
    pub dead_band: f64,
    /// Set points at the ends of the makeup's season.
    pub season: Vec<SeasonOut>,
    /// What opens the blowdown valve, and what it is set to; none without a target.
    pub control: Option<ControlOut>,
    /// What the stated valve does at the target.
    pub valve: Option<ValveOut>,
    /// A valve for the target.
    pub valve_size: Option<ValveSizeOut>,
    /// Makeup's conductivity computed from its ions, uS/cm.
    pub makeup_conductivity_computed_us_per_cm: f64,
    /// Makeup's conductivity as measured, uS/cm.
    pub makeup_conductivity_measured_us_per_cm: Option<f64>,
    /// How far the computed one lies above the measured one, as a part of it.
    pub makeup_conductivity_off: Option<f64>,
    /// Analyses of the makeup.
    pub sources: Vec<SourceOut>,
    /// Analyses as they were given and as they are used.
    pub analyses: Vec<AnalysisOut>,
    /// Blowdown and makeup at present and at the target, m3/h.
    pub flows_m3_per_h: BTreeMap<&'static str, f64>,
    /// What the target saves against the present cycles; below zero where it takes more.
    pub saving: Option<SavingOut>,
    /// Hours in which half of what is in the water is renewed, at present and at the target.
    pub half_life_h: BTreeMap<&'static str, f64>,
    /// The tower's own analysis against its makeup.
    pub own_test: Option<OwnTestOut>,
    /// Ions that nobody analysed in the makeup and that make up for others.
    pub made_up: Vec<&'static str>,
    /// What nobody stated of the water and its control.
    pub assumptions: Vec<AssumptionOut>,
    /// What looks wrong.
    pub warnings: Vec<NoticeOut>,
    /// Solved waters.
    pub waters: Vec<WaterOut>,
}

/// A pH of the tower below every published line.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LowPhOut {
    /// As it was read.
    pub ph: f64,
    /// That of the published line for the tower's alkalinity.
    pub on_the_line: f64,
    /// log10 of the carbon dioxide pressure that it would mean, atm.
    pub log10_carbon_dioxide: f64,
}

/// Cycles allowed under a scale programme.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ProgrammeOut {
    /// As `treatment.scale_inhibitor` has it.
    pub scale_inhibitor: ScaleInhibitor,
    /// Cycles.
    pub allowed_cycles: f64,
}

/// Allowed cycles at one place in the band.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct BandOut {
    /// Between the field lines.
    pub toward_air: f64,
    /// log10 of atm.
    pub log10_carbon_dioxide: f64,
    /// Cycles.
    pub allowed_cycles: f64,
    /// Acid for a litre of makeup at the target, meq, where acid holds the pH.
    pub acid_meq_per_l_makeup: Option<f64>,
}

/// One limit.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LimitOut {
    /// Of what.
    pub key: String,
    /// `most` or `least`.
    pub bound: &'static str,
    /// Value.
    pub value: f64,
    /// Unit of the value.
    pub unit: String,
    /// `nothing`, `up_to`, `all`, `from`, `never_met` or `unknown`.
    pub allows: &'static str,
    /// Cycles that it allows at the most; none where it sets no ceiling.
    pub allowed_cycles: Option<f64>,
    /// Cycles that it asks for at least.
    pub from_cycles: Option<f64>,
    /// All crossings.
    pub crossings: Vec<f64>,
    /// Value at 1 cycle.
    pub at_one_cycle: Option<f64>,
    /// Value at the present cycles.
    pub at_present: Option<f64>,
    /// What sets it.
    pub set_by: String,
    /// `stated`, `code`, `material`, `preset` (by the programme) or `default`.
    pub standing: &'static str,
    /// Under which condition it holds; empty where under any.
    pub condition: String,
    /// Who says so.
    pub source: String,
    /// Where the strictest source begins; none where sources agree.
    pub warn_from: Option<f64>,
    /// Which source.
    pub warn_source: Option<String>,
    /// Cycles that the strictest source allows, where the target goes beyond it; 1 where not even the makeup does.
    pub strictest_allows_cycles: Option<f64>,
}

/// A value that is warned of and sets no target.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct WatchedOut {
    /// Of what.
    pub key: String,
    /// `most` or `least`.
    pub bound: &'static str,
    /// Where the warning begins.
    pub from: f64,
    /// Unit of the value.
    pub unit: String,
    /// Value at the target, or at 1 cycle where there is none.
    pub value: Option<f64>,
    /// Whether it is warned of there.
    pub is_beyond: bool,
    /// What it concerns.
    pub of: String,
    /// What it means.
    pub says: String,
    /// Who says so.
    pub source: String,
}

/// A controller's set point.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SetPointOut {
    /// Cycles.
    pub cycles: f64,
    /// uS/cm at 25 degC; the valve opens there.
    pub conductivity_us_per_cm: f64,
    /// uS/cm; the valve shuts there.
    pub shuts_at_us_per_cm: f64,
    /// Set point over the makeup's conductivity.
    pub over_makeup: Option<f64>,
    /// Cycles times the makeup's, uS/cm.
    pub plain_us_per_cm: f64,
    /// Cycles that the plain value would hold.
    pub cycles_of_plain: Option<f64>,
    /// mg/L as Cl.
    pub chloride_mg_per_l: f64,
    /// Part of the set point.
    pub dead_band: f64,
    /// Whether the controller would shut only below the makeup's own conductivity, and so never.
    pub never_shuts: bool,
}

/// A set point for one end of the makeup's season.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SeasonOut {
    /// Makeup, uS/cm.
    pub makeup_us_per_cm: f64,
    /// uS/cm.
    pub set_point_us_per_cm: f64,
}

/// A valve for the target.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ValveSizeOut {
    /// What it passes when it is open.
    pub flow_m3_per_h: f64,
    /// m3/h at 1 bar.
    pub kv: f64,
    /// gpm at 1 psi.
    pub cv: f64,
}

/// The analysis of one source of makeup.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SourceOut {
    /// Name, or number from 1.
    pub name: String,
    /// Part of the makeup.
    pub share: f64,
    /// meq/L.
    pub cations_meq_per_l: f64,
    /// meq/L.
    pub anions_meq_per_l: f64,
    /// Their difference as a part of their sum.
    pub imbalance: f64,
    /// What was made up, meq/L.
    pub made_up_meq_per_l: f64,
    /// By ion, in the basis of its limits.
    pub made_up_mg_per_l: BTreeMap<&'static str, f64>,
    /// `conductivity` or `charges`, where the file names no ion for it.
    pub completed_from: Option<&'static str>,
    /// Conductivity that stands for it at 25 degC.
    pub conductivity_us_per_cm: Option<f64>,
    /// Whether that is computed from its ions.
    pub conductivity_is_computed: bool,
    /// What drying at 180 degC leaves of its ions.
    pub dried_solids_computed_mg_per_l: f64,
    /// As found.
    pub dried_solids_found_mg_per_l: Option<f64>,
    /// Sum of its ions.
    pub dissolved_ions_computed_mg_per_l: f64,
    /// As found.
    pub dissolved_ions_found_mg_per_l: Option<f64>,
    /// Phenolphthalein alkalinity as found.
    pub p_alkalinity_found_mg_per_l: Option<f64>,
    /// What pH and total alkalinity make of it.
    pub p_alkalinity_computed_mg_per_l: Option<f64>,
    /// Everything that was read, as it was written, beside what is used.
    pub as_given: Vec<AsGivenOut>,
}

/// An entry of an analysis.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct AsGivenOut {
    /// Its key in the site file.
    pub key: &'static str,
    /// As it was written.
    pub written: String,
    /// The number that is used; none where nothing is judged by it.
    pub used: Option<f64>,
    /// Its unit; of a constituent in the basis of its limits.
    pub unit: Option<String>,
    /// What was made of it, where that is more than a change of units.
    pub remark: Option<String>,
}

/// What the target saves.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SavingOut {
    /// m3/h.
    pub makeup_m3_per_h: f64,
    /// Part of the present makeup.
    pub makeup_part: f64,
    /// m3 in an operating year.
    pub makeup_m3_per_year: f64,
    /// In an operating year: water, sewer, energy and chemicals that have a price.
    pub cost_per_year: Option<f64>,
    /// Of it water.
    pub water_per_year: Option<f64>,
    /// Of it sewer.
    pub sewer_per_year: Option<f64>,
    /// Of it energy of the makeup.
    pub energy_per_year: Option<f64>,
    /// Of it chemicals that have a price.
    pub chemicals_per_year: Option<f64>,
    /// Of the cost.
    pub currency: String,
    /// Why chemicals are not counted, where they cannot be computed.
    pub chemicals_missing: Option<String>,
}

/// A solved water.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct WaterOut {
    /// Cycles of concentration.
    pub cycles: f64,
    /// pH in the basin.
    pub ph: f64,
    /// mol/kg.
    pub ionic_strength: f64,
    /// At 25 degC, computed from the ions.
    pub conductivity_us_per_cm: f64,
    /// What drying at 180 degC leaves.
    pub dissolved_solids_mg_per_l: f64,
    /// Sum of the ions.
    pub dissolved_ions_mg_per_l: f64,
    /// By constituent, in the basis of its limits.
    pub constituents_mg_per_l: BTreeMap<&'static str, f64>,
    /// log10 of atm.
    pub log10_carbon_dioxide: f64,
    /// Acid for a litre of makeup, meq.
    pub acid_meq_per_l_makeup: f64,
    /// In the basin, by mineral.
    pub saturation_index: BTreeMap<&'static str, f64>,
    /// On the hottest surface, by mineral.
    pub saturation_index_at_surface: BTreeMap<&'static str, f64>,
    /// Of amorphous silica in the coldest basin that runs, where that is stated.
    pub silica_index_in_coldest_basin: Option<f64>,
    /// Trade's indices and products, by key.
    pub index: BTreeMap<String, f64>,
    /// Langelier's index, simple form, less the saturation index of calcite in the basin.
    pub langelier_above_calcite: Option<f64>,
}

/// A solved water for programs.
pub fn water_out(water: &ConcentratedWater) -> WaterOut {
    let indices = |solved: &crate::chemistry::speciation::SolvedWater| {
        Mineral::ALL
            .into_iter()
            .filter_map(|mineral| Some((mineral.key(), solved.saturation_index(mineral)?)))
            .collect()
    };
    let constituent = |constituent: Constituent| {
        Some((constituent.key(), Measure::Constituent(constituent).of(water)?))
    };
    WaterOut {
        cycles: water.cycles,
        ph: water.basin.ph,
        ionic_strength: water.basin.ionic_strength,
        conductivity_us_per_cm: water.conductivity * 1e4,
        dissolved_solids_mg_per_l: water.dried_solids,
        dissolved_ions_mg_per_l: water.dissolved_solids,
        constituents_mg_per_l: Constituent::ALL.into_iter().filter_map(constituent).collect(),
        log10_carbon_dioxide: water.basin.log10_carbon_dioxide,
        acid_meq_per_l_makeup: 1e3 * water.acid / water.cycles,
        saturation_index: indices(&water.basin),
        saturation_index_at_surface: indices(&water.surface),
        silica_index_in_coldest_basin: water
            .coldest
            .as_ref()
            .and_then(|coldest| coldest.saturation_index(Mineral::AmorphousSilica)),
        index: TRADE.into_iter().filter_map(|m| Some((m.key(), m.of(water)?))).collect(),
        langelier_above_calcite: langelier_above_calcite(water),
    }
}

/// A solved water as columns of a table, for CSV: the keys of [`WaterOut`].
pub fn columns(water: &ConcentratedWater) -> Vec<(String, f64)> {
    let out = water_out(water);
    let mut columns: Vec<(String, f64)> = [
        ("cycles", out.cycles),
        ("ph", out.ph),
        ("ionic_strength", out.ionic_strength),
        ("conductivity_us_per_cm", out.conductivity_us_per_cm),
        ("log10_carbon_dioxide", out.log10_carbon_dioxide),
        ("acid_meq_per_l_makeup", out.acid_meq_per_l_makeup),
    ]
    .map(|(key, value)| (key.to_string(), value))
    .into();
    for (table, indices) in [
        ("saturation_index", &out.saturation_index),
        ("saturation_index_at_surface", &out.saturation_index_at_surface),
    ] {
        columns.extend(indices.iter().map(|(key, value)| (format!("{table}.{key}"), *value)));
    }
    columns.extend(out.index.iter().map(|(key, value)| (format!("index.{key}"), *value)));
    let constituents = out.constituents_mg_per_l.iter();
    columns
        .extend(constituents.map(|(key, value)| (format!("constituents_mg_per_l.{key}"), *value)));
    columns
}

/// A target for programs; `source` names the file.
pub fn json(sheet: &BlowdownSheet, source: &str, beside: Beside<'_>) -> BlowdownOut {
    let (held, gas) = match sheet.tower.basis() {
        PhBasis::Held { ph, gas, .. } => (Some(ph), gas),
        PhBasis::Free(gas) => (None, gas),
    };
    let ph_basis = match (held, sheet.ph_origin) {
        (Some(_), _) => "held",
        (None, PhOrigin::Measured { .. }) => "measured",
        (None, PhOrigin::Stated) => "carbon_dioxide",
        (None, PhOrigin::FieldLine { .. }) => "alkalinity_line",
    };
    let (toward_air, log10_carbon_dioxide) = match gas {
        CarbonDioxide::Pressure(log10) | CarbonDioxide::Reading { log10, .. } => {
            (None, Some(log10))
        }
        CarbonDioxide::FieldLine { toward_air, .. } => {
            let water = sheet.judged_water();
            (Some(toward_air), water.map(|water| water.basin.log10_carbon_dioxide))
        }
    };
    let (ph_measured, ph_measured_at_cycles) = match sheet.ph_origin {
        PhOrigin::Measured { ph, cycles } => (Some(ph), Some(cycles)),
        _ => (None, None),
    };
    let oxidant = sheet.tower.oxidant.chloride(sheet.present_cycles);
    let makeup = sheet.makeup_conductivity;
    BlowdownOut {
        schema: SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: source.into(),
        target_cycles: sheet.target_cycles,
        best_estimate_cycles: sheet.best_estimate,
        margin_cycles: sheet.margin,
        sure_cycles: sheet.sure_cycles,
        stop: sheet.stop.key(),
        least_saving_per_year: sheet.least_saving,
        longest_half_life_h: sheet.longest_half_life_hours,
        after_ph_reading_cycles: sheet.after_ph_reading,
        withheld: sheet.withheld.map(|withheld| match withheld {
            Withheld::AcidInTower => "acid_in_tower",
            Withheld::AcidWithoutPh => "acid_without_ph",
        }),
        ph_not_believed: sheet.ph_not_believed().map(low_ph_out),
        low_ph: sheet.low_ph.filter(|low| low.is_believed).map(low_ph_out),
        in_cold_basin_cycles: sheet.in_cold_basin,
        by_programme: sheet.by_programme.iter().map(programme_out).collect(),
        present_cycles: sheet.present_cycles,
        contested_cycles: sheet.contested_cycles,
        above_losses_cycles: sheet.above_losses,
        cycles_are_apparent: sheet.cycles_are_apparent,
        conductivity_ratio: sheet.conductivity_ratio,
        losses_allow_cycles: finite(sheet.losses_allow),
        ph_basis,
        log10_carbon_dioxide,
        toward_air,
        carbon_dioxide_is_assumed: sheet.ph_origin == PhOrigin::FieldLine { assumed: true },
        ph_measured,
        ph_measured_at_cycles,
        ph_held: held,
        basin_celsius: sheet.basin_celsius,
        surface_celsius: sheet.surface_celsius,
        surface_is_assumed: sheet.surface_is_assumed,
        oxidant_chloride_mg_per_l: finite(Constituent::Chloride.milligram_per_litre(oxidant)),
        product_salts_mg_per_l: sheet
            .product_salts()
            .into_iter()
            .map(|(ion, milligram)| (ion.key(), milligram))
            .collect(),
        band: sheet.band.iter().flat_map(|band| &band.ends).map(band_out).collect(),
        controlling: sheet.controlling().map(|binding| binding.limit.measure.key()),
        limits: sheet
            .bindings
            .iter()
            .zip(&sheet.strictest_allows)
            .map(|(binding, strictest)| LimitOut {
                strictest_allows_cycles: *strictest,
                ..limit_out(sheet, binding)
            })
            .collect(),
        watched: sheet.watched.iter().map(|watched| watched_out(sheet, watched)).collect(),
        uncertain: uncertain::json(&sheet.uncertain.results),
        others_lead: sheet.uncertain.others_lead.clone(),
        set_point: sheet.set_point.as_ref().map(|set_point| set_point_out(sheet, set_point)),
        dead_band: sheet.dead_band,
        season: sheet.season.iter().map(season_out).collect(),
        control: sheet.setting.as_ref().map(control::json),
        valve: sheet.valve.as_ref().map(|valve| control::valve_json(sheet, valve)),
        valve_size: sheet.valve_size.map(|size| ValveSizeOut {
            flow_m3_per_h: size.flow,
            kv: size.kv,
            cv: size.cv,
        }),
        makeup_conductivity_computed_us_per_cm: makeup.computed * 1e4,
        makeup_conductivity_measured_us_per_cm: makeup.measured.map(|siemens| siemens * 1e4),
        makeup_conductivity_off: makeup.off(),
        sources: sheet.sources.iter().map(source_out).collect(),
        analyses: given::json(beside.given),
        flows_m3_per_h: flows(sheet),
        saving: sheet
            .saving
            .as_ref()
            .zip(sheet.at_target.as_ref())
            .map(|(saving, then)| saving_out(saving, [&sheet.present, then])),
        half_life_h: half_lives(sheet),
        own_test: own_test_out(sheet),
        made_up: sheet.made_up.iter().map(|ion| ion.key()).collect(),
        assumptions: assumed(beside.slots).map(assumption).collect(),
        warnings: notices_out(&sheet.warnings),
        waters: beside.waters.iter().map(water_out).collect(),
    }
}

fn finite(number: f64) -> Option<f64> {
    Some(number).filter(|number| number.is_finite())
}

fn band_out(end: &BandEnd) -> BandOut {
    BandOut {
        toward_air: end.toward_air,
        log10_carbon_dioxide: end.log10_carbon_dioxide,
        allowed_cycles: end.allowed_cycles,
        acid_meq_per_l_makeup: end.acid.map(|acid| 1e3 * acid),
    }
}

fn set_point_out(sheet: &BlowdownSheet, set_point: &SetPoint) -> SetPointOut {
    let conductivity = set_point.conductivity * 1e4;
    SetPointOut {
        cycles: set_point.cycles,
        conductivity_us_per_cm: conductivity,
        shuts_at_us_per_cm: conductivity * (1.0 - sheet.dead_band),
        over_makeup: sheet
            .makeup_conductivity
            .measured
            .map(|makeup| set_point.conductivity / makeup),
        plain_us_per_cm: set_point.plain * 1e4,
        cycles_of_plain: set_point.cycles_of_plain,
        chloride_mg_per_l: set_point.chloride,
        dead_band: sheet.dead_band,
        never_shuts: sheet.never_shuts().is_some(),
    }
}

fn season_out(end: &Season) -> SeasonOut {
    SeasonOut { makeup_us_per_cm: end.makeup * 1e4, set_point_us_per_cm: end.set_point * 1e4 }
}

fn source_out(source: &SourceWater) -> SourceOut {
    SourceOut {
        name: source.name.clone(),
        share: source.share,
        cations_meq_per_l: 1e3 * source.ions.cations,
        anions_meq_per_l: 1e3 * source.ions.anions,
        imbalance: source.ions.error(),
        made_up_meq_per_l: 1e3 * source.made_up,
        made_up_mg_per_l: source
            .made_up_ions
            .iter()
            .map(|(ion, moles)| (ion.key(), ion.milligram_per_litre(*moles)))
            .collect(),
        completed_from: source.completed_from.map(|from| match from {
            CompletedFrom::Conductivity => "conductivity",
            CompletedFrom::Charges => "charges",
        }),
        conductivity_us_per_cm: finite(source.conductivity.0 * 1e4),
        conductivity_is_computed: source.conductivity.1,
        dried_solids_computed_mg_per_l: source.dried_solids.1,
        dried_solids_found_mg_per_l: source.dried_solids.0,
        dissolved_ions_computed_mg_per_l: source.dissolved_ions.1,
        dissolved_ions_found_mg_per_l: source.dissolved_ions.0,
        p_alkalinity_found_mg_per_l: source.p_alkalinity.map(|(found, _)| found),
        p_alkalinity_computed_mg_per_l: source.p_alkalinity.and_then(|(_, computed)| computed),
        as_given: source.as_given.iter().map(as_given_out).collect(),
    }
}

pub(super) fn as_given_out(entry: &GivenAndUsed) -> AsGivenOut {
    let AsGiven { key, written, remark, .. } = &entry.given;
    let (used, unit) = given::used(entry).unzip();
    AsGivenOut { key, written: written.clone(), used, unit, remark: remark.clone() }
}

fn flows(sheet: &BlowdownSheet) -> BTreeMap<&'static str, f64> {
    let present = [("makeup", "blowdown", sheet.present)];
    let at_target = sheet.at_target.map(|then| ("makeup_at_target", "blowdown_at_target", then));
    present
        .into_iter()
        .chain(at_target)
        .flat_map(|(makeup, blowdown, water)| {
            [(makeup, water.makeup_kg_per_s), (blowdown, water.blowdown_kg_per_s)]
        })
        .map(|(key, kg_per_s)| (key, m3_per_h(kg_per_s)))
        .collect()
}

fn half_lives(sheet: &BlowdownSheet) -> BTreeMap<&'static str, f64> {
    let at_target = sheet.at_target.map(|then| ("at_target", then));
    [("present", sheet.present)]
        .into_iter()
        .chain(at_target)
        .filter_map(|(key, water)| Some((key, finite(sheet.half_life(&water)?)?)))
        .collect()
}

fn saving_out(saving: &Saving, [now, then]: [&WaterBalance; 2]) -> SavingOut {
    let saved = now.makeup_kg_per_s - then.makeup_kg_per_s;
    SavingOut {
        makeup_m3_per_h: m3_per_h(saved),
        makeup_part: saved / now.makeup_kg_per_s,
        makeup_m3_per_year: saving.makeup_m3,
        cost_per_year: saving.cost.map(|cost| cost.total()),
        water_per_year: saving.cost.map(|cost| cost.water),
        sewer_per_year: saving.cost.map(|cost| cost.sewer),
        energy_per_year: saving.cost.map(|cost| cost.energy),
        chemicals_per_year: saving.cost.map(|cost| cost.chemicals),
        currency: saving.currency.clone(),
        chemicals_missing: saving.chemicals_missing.clone(),
    }
}

fn low_ph_out(low: LowPh) -> LowPhOut {
    LowPhOut {
        ph: low.ph,
        on_the_line: low.on_the_line,
        log10_carbon_dioxide: low.log10_carbon_dioxide,
    }
}

fn programme_out((programme, allowed_cycles): &(ScaleInhibitor, f64)) -> ProgrammeOut {
    ProgrammeOut { scale_inhibitor: *programme, allowed_cycles: *allowed_cycles }
}

fn limit_out(sheet: &BlowdownSheet, binding: &Binding) -> LimitOut {
    let limit = &binding.limit;
    LimitOut {
        key: limit.measure.key(),
        bound: if limit.bound == Bound::Most { "most" } else { "least" },
        value: limit.value,
        unit: limit.measure.unit(),
        allows: match binding.allows {
            Allows::Nothing => "nothing",
            Allows::UpTo(_) => "up_to",
            Allows::All => "all",
            Allows::From(_) => "from",
            Allows::NeverMet => "never_met",
            Allows::Unknown => "unknown",
        },
        allowed_cycles: binding.ceiling(),
        from_cycles: match binding.allows {
            Allows::From(cycles) => Some(cycles),
            _ => None,
        },
        crossings: binding.crossings.clone(),
        at_one_cycle: binding.at_one_cycle,
        at_present: sheet.at_present(limit.measure),
        set_by: limit.of.to_string(),
        standing: limit.standing.key(),
        condition: limit.condition.to_string(),
        source: limit.source.to_string(),
        warn_from: limit.warn_from.as_ref().map(|from| from.value),
        warn_source: limit.warn_from.as_ref().map(|from| from.source.to_string()),
        strictest_allows_cycles: None,
    }
}

fn watched_out(sheet: &BlowdownSheet, watched: &Watched) -> WatchedOut {
    let value = sheet.watched_value(watched);
    WatchedOut {
        key: watched.measure.key(),
        bound: if watched.bound == Bound::Most { "most" } else { "least" },
        from: watched.from,
        unit: watched.measure.unit(),
        value: value.map(|(value, _)| value),
        is_beyond: value.is_some_and(|(_, is_beyond)| is_beyond),
        of: watched.of.to_string(),
        says: watched.says.to_string(),
        source: watched.source.to_string(),
    }
}
