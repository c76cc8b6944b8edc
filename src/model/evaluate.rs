//! One evaluation: numbers in, a closed balance out.

use super::{Infeasible, Inputs, Model, out_of_limits};
use crate::air::{self, MoistAir};
use crate::balance::{self, BlowdownBasis, WaterBalance};
use crate::quantity::Quantity;
use crate::site::{
    AirGiven, BlowdownGiven, CellAir, CirculationGiven, EvaporationGiven, Method, PressureGiven,
    SiteAir, SiteCell, SiteMakeup, SlotId, Temperatures, WaterGiven,
};
use crate::tower::poppe::CrossflowWorkspace;
use crate::tower::{
    Arrangement, Duty, Exchange, TowerError, WATER_SPECIFIC_HEAT_J_PER_KG_K, merkel, poppe, rule,
};
use crate::warnings::{Observed, WarningSet};
use crate::water::{self, REFERENCE_CELSIUS, ZERO_CELSIUS};
use std::collections::HashMap;

/// Scratch memory of [`Model::evaluate`]; one a thread. Holds the duties that were solved, so that
/// numbers that do not touch the tower reuse its solution.
#[derive(Debug, Clone)]
pub struct Workspace {
    crossflow: CrossflowWorkspace,
    solved: HashMap<Solved, Result<Exchange, TowerError>>,
    cells: Vec<CellState>,
}

/// A method at work on a duty: the bits of its numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Solved {
    method: Method,
    arrangement: Arrangement,
    duty: [u64; 6],
}

impl Solved {
    fn new(method: Method, arrangement: Arrangement, duty: &Duty) -> Self {
        let air = &duty.entering_air;
        let numbers = [
            duty.hot_water_celsius,
            duty.cold_water_celsius,
            duty.water_to_air,
            air.dry_bulb_celsius,
            air.humidity_ratio,
            air.pressure_pascal,
        ];
        Self { method, arrangement, duty: numbers.map(f64::to_bits) }
    }
}

/// How many solutions are kept: enough for a grid in which a thousand duties come again and again.
const KEPT: usize = 1_024;

impl Workspace {
    /// Memory for a model.
    pub fn new(model: &Model) -> Self {
        Self {
            crossflow: CrossflowWorkspace::default(),
            solved: HashMap::with_capacity(KEPT),
            cells: Vec::with_capacity(model.site.cells.len()),
        }
    }

    /// The cells of the last evaluation.
    pub fn cells(&self) -> &[CellState] {
        &self.cells
    }

    fn solve(
        &mut self,
        method: Method,
        arrangement: Arrangement,
        duty: Duty,
    ) -> Result<Exchange, TowerError> {
        let key = Solved::new(method, arrangement, &duty);
        if let Some(result) = self.solved.get(&key) {
            return *result;
        }
        let result = match (method, arrangement) {
            (Method::Merkel, Arrangement::Counterflow) => merkel::counterflow(&duty),
            (Method::Merkel, Arrangement::Crossflow) => {
                merkel::crossflow(&duty, &mut self.crossflow)
            }
            (_, Arrangement::Counterflow) => poppe::counterflow(&duty),
            (_, Arrangement::Crossflow) => poppe::crossflow(&duty, &mut self.crossflow),
        };
        if self.solved.len() == KEPT {
            self.solved.clear();
        }
        self.solved.insert(key, result);
        result
    }

    /// Evaporation of a duty, without its transfer number where that is not needed.
    fn merkel_evaporation(
        &mut self,
        arrangement: Arrangement,
        duty: Duty,
    ) -> Result<f64, TowerError> {
        match merkel::sure_evaporation(&duty, arrangement)? {
            Some(evaporation) => Ok(evaporation),
            None => Ok(self.solve(Method::Merkel, arrangement, duty)?.evaporation_per_water),
        }
    }
}

/// Air and water as resolved from the inputs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// Air entering the fill, recirculation included.
    pub entering_air: Option<MoistAir>,
    /// Its wet bulb, degC.
    pub wet_bulb_celsius: Option<f64>,
    /// Water entering the tower, degC.
    pub hot_water_celsius: f64,
    /// Water leaving the tower, degC; where no temperature is stated, hot water less the range.
    pub cold_water_celsius: f64,
    /// Whether somebody stated a temperature of the water, so that transfer can be computed.
    pub temperatures_are_known: bool,
    /// Hot less cold water, K.
    pub range_kelvin: Option<f64>,
    /// Water over the cells in service, kg/s.
    pub circulation_kg_per_s: f64,
}

impl State {
    /// Heat that the circulating water gives up, W: mass flow x specific heat x range.
    pub fn heat_load_watt(&self) -> Option<f64> {
        self.range_kelvin
            .map(|range| self.circulation_kg_per_s * WATER_SPECIFIC_HEAT_J_PER_KG_K * range)
    }

    /// Cold water less wet bulb, K.
    pub fn approach_kelvin(&self) -> Option<f64> {
        self.wet_bulb_celsius
            .filter(|_| self.temperatures_are_known)
            .map(|wet_bulb| self.cold_water_celsius - wet_bulb)
    }
}

/// One cell in an evaluation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CellState {
    /// Water over the cell, kg/s.
    pub water_kg_per_s: f64,
    /// Mass of water over mass of dry air; `None` where the air is not known.
    pub water_to_air: Option<f64>,
    /// Droplets carried out, as a fraction of the cell's water.
    pub drift_fraction: f64,
}

/// A closed balance with what it rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Balance {
    /// The flows.
    pub water: WaterBalance,
    /// Air and water.
    pub state: State,
    /// What is out of its usual range.
    pub warnings: WarningSet,
}

impl Balance {
    /// A mass flow as a volume flow at the sheet's reference temperature, m3/h.
    pub fn reference_m3_per_h(kg_per_s: f64) -> f64 {
        kg_per_s * 3_600.0 / water::density_kg_per_m3(REFERENCE_CELSIUS)
    }

    /// Hours in which half of what is in a volume of water, m3, is renewed at a balance.
    pub(crate) fn half_life_hours(volume: f64, water: &WaterBalance) -> f64 {
        let liquid = Self::reference_m3_per_h(water.liquid_losses_kg_per_s());
        std::f64::consts::LN_2 * volume / liquid
    }

    /// Makeup at the sheet's reference temperature, m3/h.
    pub fn makeup_m3_per_h(&self) -> f64 {
        Self::reference_m3_per_h(self.water.makeup_kg_per_s)
    }
}

impl Model {
    /// Closes the balance for these numbers, by the site's own method. Allocates nothing unless it
    /// fails.
    ///
    /// # Errors
    /// [`Infeasible`] for a value outside its limits, for temperatures in the wrong order, for air
    /// or a duty that does not exist, for a balance that cannot close.
    pub fn evaluate(&self, inputs: &Inputs, work: &mut Workspace) -> Result<Balance, Infeasible> {
        self.check_limits(inputs)?;
        let state = self.resolve(inputs)?;
        self.fill_cells(inputs, &state, work);
        let evaporation = self.evaporation(inputs, &state, work)?;
        let cells = work.cells();
        let drift: f64 = cells.iter().map(|cell| cell.water_kg_per_s * cell.drift_fraction).sum();
        for (what, kg_per_s) in [("evaporation", evaporation), ("drift", drift)] {
            if kg_per_s > state.circulation_kg_per_s {
                return Err(Infeasible::MoreThanCirculation {
                    what,
                    kg_per_s,
                    circulation_kg_per_s: state.circulation_kg_per_s,
                });
            }
        }
        let losses = balance::Losses {
            evaporation_kg_per_s: evaporation,
            drift_kg_per_s: drift,
            leakage_kg_per_s: self.basin_flow(inputs, self.site.leakage, &state),
            overflow_kg_per_s: self.basin_flow(inputs, self.site.overflow, &state),
        };
        let water = balance::close(&losses, self.blowdown_basis(inputs, &state))?;
        let warnings = WarningSet::of(&self.observe(inputs, &state, &water, cells));
        Ok(Balance { water, state, warnings })
    }

    fn check_limits(&self, inputs: &Inputs) -> Result<(), Infeasible> {
        let outside = |(value, si): (&crate::site::Value, &f64)| {
            (!value.limits.accept(*si)).then(|| out_of_limits(value, *si))
        };
        self.site.slots.iter().zip(&inputs.0).find_map(outside).map_or(Ok(()), Err)
    }

    /// Air and water temperatures, and the circulation.
    pub(super) fn resolve(&self, inputs: &Inputs) -> Result<State, Infeasible> {
        let celsius = |slot| inputs.get(slot) - ZERO_CELSIUS;
        let mass = |hot_celsius| self.circulation_at(inputs, hot_celsius);
        let range_of =
            |heat: SlotId, hot| inputs.get(heat) / (mass(hot) * WATER_SPECIFIC_HEAT_J_PER_KG_K);
        let (hot, range, temperatures_are_known) = match self.site.water {
            WaterGiven::HotCold(hot, cold) => {
                (celsius(hot), Some(celsius(hot) - celsius(cold)), true)
            }
            WaterGiven::HotRange(hot, range) => (celsius(hot), Some(inputs.get(range)), true),
            WaterGiven::ColdRange(cold, range) => {
                (celsius(cold) + inputs.get(range), Some(inputs.get(range)), true)
            }
            WaterGiven::HotHeatLoad(hot, heat) => {
                (celsius(hot), Some(range_of(heat, celsius(hot))), true)
            }
            WaterGiven::ColdHeatLoad(cold, heat) => {
                // The density of the circulation depends on the hot water that follows from it, so
                // weakly that each pass gains three digits.
                let pass = |hot: f64| celsius(cold) + range_of(heat, hot.clamp(0.0, 100.0));
                let hot = (0..6).fold(celsius(cold), |hot, _| pass(hot));
                (hot, Some(hot - celsius(cold)), true)
            }
            WaterGiven::Range(range, hot) => (celsius(hot), Some(inputs.get(range)), false),
            WaterGiven::HeatLoad(heat, hot) => {
                (celsius(hot), Some(range_of(heat, celsius(hot))), false)
            }
            WaterGiven::Unknown(hot) => (celsius(hot), None, false),
        };
        // Exact where it is stated, not hot less a rounded difference.
        let cold = match self.site.water {
            WaterGiven::HotCold(_, cold)
            | WaterGiven::ColdRange(cold, _)
            | WaterGiven::ColdHeatLoad(cold, _) => celsius(cold),
            _ => hot - range.unwrap_or(0.0),
        };
        let circulation_kg_per_s = match self.site.circulation {
            CirculationGiven::Flow(_) => mass(hot),
            CirculationGiven::HeatLoad(heat) => {
                inputs.get(heat) / (WATER_SPECIFIC_HEAT_J_PER_KG_K * range.unwrap_or(f64::NAN))
            }
        };
        self.check_order(inputs, (hot, cold, temperatures_are_known), None)?;
        let entering_air = match &self.site.air {
            Some(air) => Some(entering_air(air, inputs)?),
            None => None,
        };
        let wet_bulb_celsius = match entering_air {
            Some(air) => Some(self.wet_bulb_celsius(inputs, &air)?),
            None => None,
        };
        self.check_order(inputs, (hot, cold, temperatures_are_known), wet_bulb_celsius)?;
        Ok(State {
            entering_air,
            wet_bulb_celsius,
            hot_water_celsius: hot,
            cold_water_celsius: cold,
            temperatures_are_known,
            range_kelvin: range,
            circulation_kg_per_s,
        })
    }

    /// Stated circulation, kg/s; a volume is counted at the hot-water temperature.
    fn circulation_at(&self, inputs: &Inputs, hot_celsius: f64) -> f64 {
        match self.site.circulation {
            CirculationGiven::Flow(slot) => self.mass_flow(inputs, slot, hot_celsius),
            CirculationGiven::HeatLoad(_) => f64::NAN,
        }
    }

    /// A flow in a slot as m3/h of water at this temperature, its own.
    pub(super) fn hourly_volume(&self, inputs: &Inputs, slot: SlotId, celsius: f64) -> f64 {
        match self.slot_value(slot).quantity {
            Quantity::VolumeFlow => inputs.get(slot) * 3_600.0,
            _ => inputs.get(slot) / water::density_kg_per_m3(celsius) * 3_600.0,
        }
    }

    /// A flow in a slot, kg/s; a volume is counted at this temperature.
    pub(super) fn mass_flow(&self, inputs: &Inputs, slot: SlotId, celsius: f64) -> f64 {
        let flow = inputs.get(slot);
        match self.slot_value(slot).quantity {
            Quantity::MassFlow => flow,
            _ => flow * water::density_kg_per_m3(celsius),
        }
    }

    /// A flow of basin water, kg/s; a volume is counted at the cold-water temperature.
    fn basin_flow(&self, inputs: &Inputs, slot: SlotId, state: &State) -> f64 {
        self.mass_flow(inputs, slot, state.cold_water_celsius)
    }

    fn check_order(
        &self,
        inputs: &Inputs,
        (hot, cold, known): (f64, f64, bool),
        entering_wet_bulb: Option<f64>,
    ) -> Result<(), Infeasible> {
        let kelvin = |celsius: f64| Some(celsius + ZERO_CELSIUS);
        let mut temperatures = Temperatures {
            hot_water: kelvin(hot).filter(|_| known),
            cold_water: kelvin(cold).filter(|_| known),
            wet_bulb: entering_wet_bulb.and_then(kelvin),
            ..Default::default()
        };
        if entering_wet_bulb.is_none() {
            match self.site.air.map(|air| air.given) {
                Some(AirGiven::DryBulbWetBulb(dry, wet)) => {
                    temperatures.dry_bulb = Some(inputs.get(dry));
                    temperatures.wet_bulb = Some(inputs.get(wet));
                }
                Some(AirGiven::DryBulbDewPoint(dry, dew)) => {
                    temperatures.dry_bulb = Some(inputs.get(dry));
                    temperatures.dew_point = Some(inputs.get(dew));
                }
                _ => {}
            }
        }
        temperatures.conflicts().next().map_or(Ok(()), |conflict| Err(conflict.into()))
    }

    /// Wet bulb of the entering air: as stated where it is, else computed.
    fn wet_bulb_celsius(&self, inputs: &Inputs, entering: &MoistAir) -> Result<f64, Infeasible> {
        match self.site.air {
            Some(SiteAir {
                given: AirGiven::DryBulbWetBulb(_, wet) | AirGiven::WetBulbRelativeHumidity(wet, _),
                recirculation: None,
                ..
            }) => Ok(inputs.get(wet) - ZERO_CELSIUS),
            _ => Ok(entering.wet_bulb_celsius()?),
        }
    }

    fn fill_cells(&self, inputs: &Inputs, state: &State, work: &mut Workspace) {
        let whole: f64 = self.site.cells.iter().map(|cell| inputs.get(cell.share)).sum();
        work.cells.clear();
        work.cells.extend(self.site.cells.iter().map(|cell| {
            let water = state.circulation_kg_per_s * inputs.get(cell.share) / whole;
            CellState {
                water_kg_per_s: water,
                water_to_air: self.water_to_air(inputs, cell, water, state),
                drift_fraction: inputs.get(cell.drift),
            }
        }));
    }

    fn water_to_air(
        &self,
        inputs: &Inputs,
        cell: &SiteCell,
        water: f64,
        state: &State,
    ) -> Option<f64> {
        match cell.air {
            CellAir::WaterToAir(ratio) => Some(inputs.get(ratio)),
            CellAir::AirFlow(slot) => {
                let flow = inputs.get(slot);
                let dry_air = match self.slot_value(slot).quantity {
                    Quantity::MassFlow => flow,
                    _ => flow / state.entering_air?.specific_volume_m3_per_kg(),
                };
                Some(water / dry_air)
            }
        }
    }

    fn evaporation(
        &self,
        inputs: &Inputs,
        state: &State,
        work: &mut Workspace,
    ) -> Result<f64, Infeasible> {
        let kg_per_s = match self.site.evaporation {
            EvaporationGiven::Method(method) => {
                let off = self.site.method.evaporation.map_or(1.0, |slot| inputs.get(slot));
                off * self.evaporation_by(method, state, work)?
            }
            EvaporationGiven::Rule(factor) => {
                state.circulation_kg_per_s
                    * inputs.get(factor)
                    * state.range_kelvin.unwrap_or(f64::NAN)
            }
            // No meter reads vapour: whoever states its volume means that of a sheet.
            EvaporationGiven::Flow(slot) => self.mass_flow(inputs, slot, REFERENCE_CELSIUS),
            EvaporationGiven::Fraction(slot) => inputs.get(slot) * state.circulation_kg_per_s,
        };
        if kg_per_s < 0.0 {
            return Err(Infeasible::Condensation { kg_per_s });
        }
        Ok(kg_per_s)
    }

    /// Evaporation by a named method over all cells, kg/s, for the cells of the last evaluation.
    /// NaN where the inputs do not allow the method, which validation refuses.
    pub(super) fn evaporation_by(
        &self,
        method: Method,
        state: &State,
        work: &mut Workspace,
    ) -> Result<f64, Infeasible> {
        let range = state.range_kelvin.unwrap_or(f64::NAN);
        let per_water = match method {
            Method::Rule => rule::perry(range),
            Method::RuleOnePercent => rule::one_percent(range),
            Method::Latent => {
                rule::latent(range, 0.5 * (state.hot_water_celsius + state.cold_water_celsius))
            }
            Method::Merkel => return self.merkel_evaporation(state, work),
            Method::Poppe => {
                let mut sum = 0.0;
                for index in 0..work.cells.len() {
                    let water = work.cells[index].water_kg_per_s;
                    sum += water * self.exchange(method, index, state, work)?.evaporation_per_water;
                }
                return Ok(sum);
            }
        };
        Ok(per_water * state.circulation_kg_per_s)
    }

    fn merkel_evaporation(&self, state: &State, work: &mut Workspace) -> Result<f64, Infeasible> {
        let mut sum = 0.0;
        let mut before: Option<(Arrangement, Duty, f64)> = None;
        for (index, cell) in self.site.cells.iter().enumerate() {
            let cell_state = work.cells[index];
            let duty = duty(state, &cell_state);
            let same = before.filter(|(arrangement, other, _)| {
                *arrangement == cell.arrangement && *other == duty
            });
            let evaporation = match same {
                Some((_, _, evaporation)) => evaporation,
                None => work
                    .merkel_evaporation(cell.arrangement, duty)
                    .map_err(|error| Infeasible::Tower { cell: cell.name.clone(), error })?,
            };
            before = Some((cell.arrangement, duty, evaporation));
            sum += cell_state.water_kg_per_s * evaporation;
        }
        Ok(sum)
    }

    /// What a method finds for one cell of the last evaluation.
    pub(super) fn exchange(
        &self,
        method: Method,
        index: usize,
        state: &State,
        work: &mut Workspace,
    ) -> Result<Exchange, Infeasible> {
        let cell = &self.site.cells[index];
        let duty = duty(state, &work.cells[index]);
        work.solve(method, cell.arrangement, duty)
            .map_err(|error| Infeasible::Tower { cell: cell.name.clone(), error })
    }

    /// What a method finds for one cell, with the transfer number as closely as it is reported:
    /// in crossflow extrapolated from two grids. `None` where there is no solution.
    pub(super) fn reported_exchange(
        &self,
        method: Method,
        index: usize,
        state: &State,
        work: &mut Workspace,
    ) -> Option<Exchange> {
        let exchange = self.exchange(method, index, state, work).ok()?;
        let duty = duty(state, &work.cells[index]);
        let number = match (method, self.site.cells[index].arrangement) {
            (_, Arrangement::Counterflow) => return Some(exchange),
            (Method::Merkel, _) => merkel::crossflow_number(&duty, &mut work.crossflow),
            _ => poppe::crossflow_number(&duty, &mut work.crossflow),
        };
        Some(Exchange { merkel_number: number.ok()?, ..exchange })
    }

    /// What the site's method found for the exit air of the last evaluation; `None` where the method
    /// knows no air, or where not all cells work alike. Its transfer number is a coarse one.
    pub(crate) fn exit_air(&self, state: &State, work: &mut Workspace) -> Option<Exchange> {
        let EvaporationGiven::Method(method @ (Method::Merkel | Method::Poppe)) =
            self.site.evaporation
        else {
            return None;
        };
        // Air and water are common to all cells: those of one kind and ratio work alike.
        let kind =
            |index: usize| (self.site.cells[index].arrangement, work.cells[index].water_to_air);
        if (1..work.cells.len()).any(|index| kind(index) != kind(0)) {
            return None;
        }
        self.exchange(method, 0, state, work).ok()
    }

    /// The transfer number of the first cell in service, by the site's method; `None` for a method
    /// that has none.
    pub(crate) fn merkel_number(&self, state: &State, work: &mut Workspace) -> Option<f64> {
        let EvaporationGiven::Method(method @ (Method::Merkel | Method::Poppe)) =
            self.site.evaporation
        else {
            return None;
        };
        Some(self.reported_exchange(method, 0, state, work)?.merkel_number)
    }

    pub(super) fn blowdown_basis(&self, inputs: &Inputs, state: &State) -> BlowdownBasis {
        match self.site.blowdown {
            BlowdownGiven::Cycles(slot) => BlowdownBasis::Cycles(inputs.get(slot)),
            BlowdownGiven::Flow(slot) => {
                BlowdownBasis::FlowKgPerS(self.basin_flow(inputs, slot, state))
            }
            BlowdownGiven::Conductivity(slot) => {
                BlowdownBasis::Cycles(inputs.get(slot) / self.makeup_conductivity(inputs))
            }
        }
    }

    /// Conductivity of the blended makeup at 25 degC, S/m: the mean by share. NaN where a source's is
    /// not known, which validation refuses where it is needed.
    pub(super) fn makeup_conductivity(&self, inputs: &Inputs) -> f64 {
        let whole: f64 = self.site.makeup.iter().map(|source| inputs.get(source.share)).sum();
        let sources = &self.site.makeup;
        // Where nobody measured any there is none; the ions stand in for one that was left out.
        if sources.iter().all(|source| source.analysis.conductivity.is_none()) {
            return f64::NAN;
        }
        let conductivity = |source: &SiteMakeup| match source.analysis.conductivity {
            Some(slot) => inputs.get(slot),
            None => self.computed_conductivity(inputs, &source.analysis),
        };
        let part = |source: &SiteMakeup| inputs.get(source.share) / whole * conductivity(source);
        sources.iter().map(part).sum()
    }

    /// Temperature of the blended makeup, degC.
    pub(super) fn makeup_celsius(&self, inputs: &Inputs) -> f64 {
        let whole: f64 = self.site.makeup.iter().map(|source| inputs.get(source.share)).sum();
        let part = |source: &crate::site::SiteMakeup| {
            inputs.get(source.share) / whole * (inputs.get(source.temperature) - ZERO_CELSIUS)
        };
        self.site.makeup.iter().map(part).sum()
    }

    pub(super) fn observe(
        &self,
        inputs: &Inputs,
        state: &State,
        water: &WaterBalance,
        cells: &[CellState],
    ) -> Observed {
        let is_stated = |slot: SlotId| self.slot_value(slot).assumed.is_none();
        let circulation = state.circulation_kg_per_s;
        let drift_of = |arrangement: Arrangement| {
            self.site
                .cells
                .iter()
                .filter(|cell| cell.arrangement == arrangement && is_stated(cell.drift))
                .map(|cell| inputs.get(cell.drift))
                .reduce(f64::max)
        };
        let ratios = || {
            let stated = |cell: &SiteCell| match cell.air {
                CellAir::WaterToAir(slot) | CellAir::AirFlow(slot) => is_stated(slot),
            };
            self.site
                .cells
                .iter()
                .zip(cells)
                .filter(move |(cell, _)| stated(cell))
                .filter_map(|(_, c)| c.water_to_air)
        };
        let by_rule = state.range_kelvin.map(|range| rule::perry(range) * circulation);
        Observed {
            drift_counterflow: drift_of(Arrangement::Counterflow),
            drift_crossflow: drift_of(Arrangement::Crossflow),
            approach_kelvin: state.approach_kelvin(),
            range_kelvin: state.range_kelvin,
            lowest_water_to_air: ratios().reduce(f64::min),
            highest_water_to_air: ratios().reduce(f64::max),
            hot_water_celsius: state.temperatures_are_known.then_some(state.hot_water_celsius),
            dry_bulb_celsius: state.entering_air.map(|air| air.dry_bulb_celsius),
            evaporation_over_rule: by_rule
                .filter(|rule| *rule > 0.0)
                .map(|rule| water.evaporation_kg_per_s / rule),
            cycles: water.cycles_of_concentration,
            evaporates: water.evaporation_kg_per_s > 0.0,
            losses_exceed_blowdown: water.losses_exceed_blowdown,
            unwanted_share: (water.leakage_kg_per_s + water.overflow_kg_per_s)
                / water.makeup_kg_per_s.max(f64::MIN_POSITIVE),
            makeup_over_circulation: water.makeup_kg_per_s / circulation,
        }
    }
}

/// The duty of a cell.
pub(super) fn duty(state: &State, cell: &CellState) -> Duty {
    let nothing = MoistAir {
        dry_bulb_celsius: f64::NAN,
        humidity_ratio: f64::NAN,
        pressure_pascal: f64::NAN,
    };
    Duty {
        hot_water_celsius: state.hot_water_celsius,
        cold_water_celsius: state.cold_water_celsius,
        entering_air: state.entering_air.unwrap_or(nothing),
        water_to_air: cell.water_to_air.unwrap_or(f64::NAN),
    }
}

pub(super) fn entering_air(air: &SiteAir, inputs: &Inputs) -> Result<MoistAir, Infeasible> {
    let celsius = |slot| inputs.get(slot) - ZERO_CELSIUS;
    let pressure = match air.pressure {
        PressureGiven::Pressure(slot) => inputs.get(slot),
        PressureGiven::Altitude(slot) => air::pressure_at_altitude_pascal(inputs.get(slot))?,
    };
    let ambient = match air.given {
        AirGiven::DryBulbWetBulb(dry, wet) => {
            MoistAir::from_wet_bulb(celsius(dry), celsius(wet), pressure)
        }
        AirGiven::DryBulbRelativeHumidity(dry, humidity) => {
            MoistAir::from_relative_humidity(celsius(dry), inputs.get(humidity), pressure)
        }
        AirGiven::DryBulbDewPoint(dry, dew) => {
            MoistAir::from_dew_point(celsius(dry), celsius(dew), pressure)
        }
        AirGiven::WetBulbRelativeHumidity(wet, humidity) => {
            MoistAir::from_wet_bulb_and_relative_humidity(
                celsius(wet),
                inputs.get(humidity),
                pressure,
            )
        }
    }?;
    let raise = air.recirculation.map_or(0.0, |slot| inputs.get(slot));
    Ok(recirculated(ambient, raise)?)
}

/// Air whose wet bulb is raised, K, by what the tower draws in again.
pub(super) fn recirculated(ambient: MoistAir, raise: f64) -> Result<MoistAir, air::AirError> {
    if raise == 0.0 {
        return Ok(ambient);
    }
    let wet_bulb = ambient.wet_bulb_celsius()? + raise;
    let dry_bulb = ambient.dry_bulb_celsius.max(wet_bulb);
    MoistAir::from_wet_bulb(dry_bulb, wet_bulb, ambient.pressure_pascal)
}
