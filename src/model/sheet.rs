//! The balance sheet: one evaluation with everything that people want to see beside it.

use super::{
    Balance, CellState, Contribution, Infeasible, Inputs, Model, Money, Output, Spread, State,
    Workspace,
};
use crate::balance::{self, BlowdownBasis, WaterBalance};
use crate::cost::Outflow;
use crate::site::{BlowdownGiven, Control, EvaporationGiven, Method, Value};
use crate::tower::{Arrangement, Exchange};
use crate::warnings::{Noticed, WARNINGS, Warning};
use crate::water;

/// Where an evaporation comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MethodName {
    /// Computed.
    Method(Method),
    /// Known from elsewhere.
    Given,
}

impl MethodName {
    /// The name in site files and machine output.
    pub fn key(self) -> &'static str {
        match self {
            Self::Method(Method::Rule) => "rule",
            Self::Method(Method::RuleOnePercent) => "rule_one_percent",
            Self::Method(Method::Latent) => "latent",
            Self::Method(Method::Merkel) => "merkel",
            Self::Method(Method::Poppe) => "poppe",
            Self::Given => "given",
        }
    }
}

/// What one method finds.
#[derive(Debug, Clone, PartialEq)]
pub struct MethodResult {
    /// Which.
    pub name: MethodName,
    /// Evaporation of all cells, kg/s, or why the method has no answer.
    pub evaporation_kg_per_s: Result<f64, Infeasible>,
    /// Transfer number and exit air, where the method has them and all cells work alike.
    pub exchange: Option<Exchange>,
}

/// One cell on the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct CellResult {
    /// Name, or number from 1.
    pub name: String,
    /// Crossflow or counterflow.
    pub arrangement: Arrangement,
    /// Water, air, drift.
    pub state: CellState,
    /// Evaporation by the sheet's method, kg/s; where that method knows no cells, its share.
    pub evaporation_kg_per_s: f64,
    /// By Merkel's method, where the inputs allow it.
    pub merkel: Option<Exchange>,
    /// By Poppe's method, where the inputs allow it.
    pub poppe: Option<Exchange>,
}

/// Which flow of water.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StreamName {
    /// Water in.
    Makeup,
    /// Water out.
    Out(Outflow),
}

impl StreamName {
    /// What people call it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Makeup => "makeup",
            Self::Out(outflow) => outflow.name(),
        }
    }

    /// Its volume flow in machine output.
    pub fn key(self) -> &'static str {
        match self {
            Self::Makeup => "makeup_m3_per_h",
            Self::Out(Outflow::Evaporation) => "evaporation_m3_per_h",
            Self::Out(Outflow::Drift) => "drift_m3_per_h",
            Self::Out(Outflow::Blowdown) => "blowdown_m3_per_h",
            Self::Out(Outflow::Leakage) => "leakage_m3_per_h",
            Self::Out(Outflow::Overflow) => "overflow_m3_per_h",
        }
    }

    /// Its uncertainty in a spread.
    fn output(self) -> Output {
        match self {
            Self::Makeup => Output::Makeup,
            Self::Out(Outflow::Evaporation) => Output::Evaporation,
            Self::Out(Outflow::Drift) => Output::Drift,
            Self::Out(Outflow::Blowdown) => Output::Blowdown,
            Self::Out(Outflow::Leakage) => Output::Leakage,
            Self::Out(Outflow::Overflow) => Output::Overflow,
        }
    }
}

/// A flow of water on the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stream {
    /// Which.
    pub name: StreamName,
    /// Mass flow.
    pub kg_per_s: f64,
    /// Standard uncertainty, where the inputs carry one.
    pub standard_uncertainty_kg_per_s: Option<f64>,
    /// Volume flow at the sheet's reference temperature.
    pub reference_m3_per_h: f64,
    /// The stream's own temperature.
    pub celsius: f64,
    /// Density at that temperature.
    pub density_kg_per_m3: f64,
    /// What a meter at that temperature reads.
    pub metered_m3_per_h: f64,
    /// Part of circulation, by mass.
    pub of_circulation: f64,
    /// Part of makeup, by mass.
    pub of_makeup: f64,
    /// Part of the dissolved solids that the makeup brings; `None` where cycles have no limit.
    pub of_solids: Option<f64>,
}

/// One source of makeup on the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct MakeupSource {
    /// Name, or number from 1.
    pub name: String,
    /// Part of the makeup.
    pub share: f64,
    /// Mass flow, kg/s.
    pub kg_per_s: f64,
}

/// The hours that yearly figures stand for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Period {
    /// Hours run in a year.
    pub hours_per_year: f64,
    /// Mean load over those hours as a part of this hour's.
    pub load_factor: f64,
    /// Their mean: evaporation goes with the load, drift and leaks do not.
    pub mean_hour: WaterBalance,
    /// Whether a controller holds the cycles in every hour; else the blowdown stays as it is.
    pub holds_cycles: bool,
}

impl Period {
    /// What a stream comes to in an operating year, m3.
    pub fn yearly_m3(&self, stream: Outflow) -> f64 {
        self.hours_per_year * Balance::reference_m3_per_h(stream.kg_per_s(&self.mean_hour))
    }

    /// What the makeup comes to in an operating year, m3.
    pub fn yearly_makeup_m3(&self) -> f64 {
        self.hours_per_year * Balance::reference_m3_per_h(self.mean_hour.makeup_kg_per_s)
    }
}

/// What a leak or overflow does, for both ways of controlling the blowdown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeakReadings {
    /// A controller holds the cycles: the blowdown closes by as much, and makeup hides the loss.
    pub held: WaterBalance,
    /// The valve stays as it was: makeup rises and cycles fall.
    pub fixed: WaterBalance,
}

/// A warning with its value.
#[derive(Clone, Copy)]
pub struct Raised {
    /// Which.
    pub warning: &'static Warning,
    /// The value, in the SI unit of the warning's quantity.
    pub value: f64,
}

/// Everything that one hour's balance says.
pub struct BalanceSheet {
    /// Name of the site.
    pub name: String,
    /// The balance.
    pub balance: Balance,
    /// Whether the cycles rest on a ratio of conductivities.
    pub cycles_are_apparent: bool,
    /// The cycles that were asked for, where they were.
    pub target_cycles: Option<f64>,
    /// How blowdown is controlled, if known.
    pub control: Option<Control>,
    /// Water in.
    pub makeup: Stream,
    /// Its sources.
    pub sources: Vec<MakeupSource>,
    /// Conductivity of the blended makeup at 25 degC, S/m, where known.
    pub makeup_conductivity: Option<f64>,
    /// Conductivity of the circulating water at 25 degC, S/m, where stated.
    pub circulating_conductivity: Option<f64>,
    /// Water out, in the order of [`Outflow::ALL`].
    pub out: [Stream; 5],
    /// The method that the sheet uses.
    pub used: MethodName,
    /// Whether the site asks for it.
    pub method_is_asked: bool,
    /// All the methods that the inputs allow.
    pub methods: Vec<MethodResult>,
    /// Cells in service.
    pub cells: Vec<CellResult>,
    /// Names of the others.
    pub cells_out_of_service: Vec<String>,
    /// Whether some cell's arrangement is not stated.
    pub arrangement_is_assumed: bool,
    /// Water in the system, m3, where stated.
    pub volume_m3: Option<f64>,
    /// What yearly figures stand for.
    pub period: Period,
    /// Price of makeup, in the currency for a m3.
    pub makeup_price_per_m3: Option<f64>,
    /// Currency of prices.
    pub currency: String,
    /// Money, where a price is stated.
    pub money: Option<Money>,
    /// Uncertainty of the results.
    pub spread: Spread,
    /// Whether nobody stated any of the `±` that the makeup's comes from.
    pub makeup_rests_on_defaults: bool,
    /// The inputs: stated and assumed.
    pub inputs: Vec<Value>,
    /// What a leak does, where there is one.
    pub leak: Option<LeakReadings>,
    /// What is out of its usual range; of valve and money, see [`BalanceSheet::notices`].
    pub warnings: Vec<Raised>,
    /// What a blowdown valve that is too small holds.
    pub valve_too_small: Option<Noticed>,
}

impl BalanceSheet {
    /// Water in, then all that goes out.
    pub fn streams(&self) -> impl Iterator<Item = &Stream> {
        std::iter::once(&self.makeup).chain(&self.out)
    }

    /// What may look wrong about the blowdown valve and the money.
    pub fn notices(&self) -> Vec<Noticed> {
        let money = self.money.iter().flat_map(|money| money.notices(&self.currency));
        self.valve_too_small.iter().cloned().chain(money).collect()
    }

    /// The names of all that stands to warn of.
    pub fn warning_ids(&self) -> Vec<&'static str> {
        let raised = self.warnings.iter().map(|raised| raised.warning.id);
        raised.chain(self.notices().iter().map(|noticed| noticed.notice.id)).collect()
    }

    /// One of the streams that go out.
    pub fn outflow(&self, which: Outflow) -> &Stream {
        // The enumeration and the array have one order.
        &self.out[which as usize]
    }

    /// Standard uncertainty of the cycles.
    pub fn cycles_uncertainty(&self) -> Option<f64> {
        self.spread.standard(Output::Cycles)
    }

    /// Inputs that move some result and whose `±` nobody stated: those that move the makeup most first.
    pub fn unstated(&self) -> Vec<&Value> {
        let mut moving: Vec<&Contribution> = self
            .spread
            .contributions
            .iter()
            .filter(|input| input.effects.iter().any(|effect| *effect != 0.0))
            .collect();
        let makeup = |input: &Contribution| input.effects[Output::Makeup as usize].abs();
        moving.sort_by(|a, b| makeup(b).total_cmp(&makeup(a)));
        let values = moving.into_iter().map(|input| &self.inputs[input.slot.0]);
        values.filter(|value| value.default_uncertainty.is_some()).collect()
    }

    /// What nobody stated, with its basis: of the numbers that a balance rests on.
    pub fn assumptions(&self) -> impl Iterator<Item = (&Value, &'static str)> {
        let of_balance = |value: &&Value| {
            const OF_OTHERS: [&str; 8] = [
                "ph.",
                "circulating_water.",
                "blowdown.dead_band",
                "chemical.",
                "basin.",
                "log.",
                "method.saturation_index",
                "method.conductivity",
            ];
            let is_of_ions = [".calcium_of_hardness", ".sulfate_of_missing"]
                .iter()
                .any(|key| value.path.ends_with(key));
            !is_of_ions && !OF_OTHERS.iter().any(|path| value.path.starts_with(path))
        };
        let inputs = self.inputs.iter().filter(of_balance);
        inputs.filter_map(|value| value.assumed.map(|basis| (value, basis)))
    }

    /// Air and water.
    pub fn state(&self) -> &State {
        &self.balance.state
    }

    /// What the sheet's method found, where it yields exit air and all cells work alike.
    pub fn exchange(&self) -> Option<&Exchange> {
        self.methods.iter().find(|method| method.name == self.used)?.exchange.as_ref()
    }
}

/// What a method finds where all cells work alike.
fn common(cells: &[CellResult], by: impl Fn(&CellResult) -> Option<Exchange>) -> Option<Exchange> {
    let first = by(cells.first()?)?;
    cells.iter().all(|cell| by(cell) == Some(first)).then_some(first)
}

impl Model {
    /// The balance sheet for these numbers.
    ///
    /// # Errors
    /// Whatever [`Model::evaluate`] says.
    pub fn sheet(&self, inputs: &Inputs) -> Result<BalanceSheet, Infeasible> {
        let work = &mut Workspace::new(self);
        let spread = self.spread(inputs, work)?;
        let balance = self.evaluate(inputs, work)?;
        let used = self.used_method();
        let cells = self.cell_results(&balance, used, work);
        let methods = self.methods(&balance, used, &cells, work);
        let streams = Streams { model: self, inputs, balance: &balance, spread: &spread };
        let site = &self.site;
        Ok(BalanceSheet {
            name: site.name.clone(),
            balance,
            cycles_are_apparent: matches!(site.blowdown, BlowdownGiven::Conductivity(_)),
            target_cycles: self.target_cycles(inputs),
            control: site.control,
            makeup: streams.makeup(),
            sources: self.sources(inputs, &balance),
            makeup_conductivity: Some(self.makeup_conductivity(inputs)).filter(|c| c.is_finite()),
            circulating_conductivity: match site.blowdown {
                BlowdownGiven::Conductivity(slot) => Some(inputs.get(slot)),
                _ => None,
            },
            out: streams.out(),
            used,
            method_is_asked: site.method_is_asked,
            methods,
            cells,
            cells_out_of_service: site.cells_out_of_service.clone(),
            arrangement_is_assumed: site.cells.iter().any(|cell| cell.arrangement_assumed),
            volume_m3: self.volume_m3(inputs),
            period: self.period(inputs, &balance.water),
            makeup_price_per_m3: site.cost.makeup.map(|slot| inputs.get(slot)),
            currency: site.cost.currency.clone(),
            makeup_rests_on_defaults: self.rests_on_defaults(&spread.largest_first(Output::Makeup)),
            inputs: self.current_slots(inputs),
            leak: leak_readings(&balance.water, self.target_cycles(inputs)),
            warnings: self.raised(inputs, &balance, work),
            valve_too_small: self.valve_too_small(
                inputs,
                &balance,
                balance.water.cycles_of_concentration,
            ),
            money: self.money(inputs, &balance),
            spread,
        })
    }

    /// The operating year of a balance.
    pub(crate) fn period(&self, inputs: &Inputs, water: &WaterBalance) -> Period {
        Period {
            hours_per_year: inputs.get(self.site.hours_per_year),
            load_factor: inputs.get(self.site.load_factor),
            mean_hour: self.mean_hour(inputs, water),
            holds_cycles: self.holds_cycles(),
        }
    }

    /// The slots with the values of `inputs`.
    fn current_slots(&self, inputs: &Inputs) -> Vec<Value> {
        let with = |(value, si): (&Value, &f64)| Value { si: *si, ..value.clone() };
        self.site.slots.iter().zip(&inputs.0).map(with).collect()
    }

    fn used_method(&self) -> MethodName {
        match self.site.evaporation {
            EvaporationGiven::Method(method) => MethodName::Method(method),
            EvaporationGiven::Rule(_) => MethodName::Method(Method::Rule),
            EvaporationGiven::Flow(_) | EvaporationGiven::Fraction(_) => MethodName::Given,
        }
    }

    pub(super) fn target_cycles(&self, inputs: &Inputs) -> Option<f64> {
        match self.site.blowdown {
            BlowdownGiven::Cycles(slot) => Some(inputs.get(slot)),
            BlowdownGiven::Conductivity(slot) => {
                Some(inputs.get(slot) / self.makeup_conductivity(inputs))
            }
            BlowdownGiven::Flow(_) => None,
        }
    }

    /// All the methods that the inputs allow; the one in use with the value that the sheet has.
    fn methods(
        &self,
        balance: &Balance,
        used: MethodName,
        cells: &[CellResult],
        work: &mut Workspace,
    ) -> Vec<MethodResult> {
        let state = &balance.state;
        let mut allowed = Vec::new();
        if used == MethodName::Given {
            allowed.push(MethodName::Given);
        }
        if state.entering_air.is_some()
            && state.temperatures_are_known
            && state.range_kelvin.is_some()
        {
            allowed.extend([Method::Poppe, Method::Merkel].map(MethodName::Method));
        }
        if state.range_kelvin.is_some() {
            allowed.extend(
                [Method::Rule, Method::RuleOnePercent, Method::Latent].map(MethodName::Method),
            );
        }
        allowed
            .into_iter()
            .map(|name| {
                let evaporation_kg_per_s = match name {
                    MethodName::Method(method) if name != used => {
                        self.evaporation_by(method, state, work)
                    }
                    _ => Ok(balance.water.evaporation_kg_per_s),
                };
                let exchange = match name {
                    MethodName::Method(Method::Merkel) => common(cells, |cell| cell.merkel),
                    MethodName::Method(Method::Poppe) => common(cells, |cell| cell.poppe),
                    _ => None,
                };
                MethodResult { name, evaporation_kg_per_s, exchange }
            })
            .collect()
    }

    fn cell_results(
        &self,
        balance: &Balance,
        used: MethodName,
        work: &mut Workspace,
    ) -> Vec<CellResult> {
        let state = &balance.state;
        let transfer = state.entering_air.is_some()
            && state.temperatures_are_known
            && state.range_kelvin.is_some();
        let mut results: Vec<CellResult> = Vec::with_capacity(self.site.cells.len());
        for (index, cell) in self.site.cells.iter().enumerate() {
            let cell_state = work.cells()[index];
            // Air and water are common to all cells: those with one ratio work alike.
            let alike = |other: &&CellResult| {
                other.arrangement == cell.arrangement
                    && other.state.water_to_air == cell_state.water_to_air
            };
            let (merkel, poppe) = match results.iter().find(alike) {
                Some(other) => (other.merkel, other.poppe),
                None => [Method::Merkel, Method::Poppe]
                    .map(|method| {
                        transfer.then(|| self.reported_exchange(method, index, state, work))?
                    })
                    .into(),
            };
            let of_used = match used {
                MethodName::Method(Method::Merkel) => merkel,
                MethodName::Method(Method::Poppe) => poppe,
                _ => None,
            };
            let per_water = of_used.map_or(
                balance.water.evaporation_kg_per_s / state.circulation_kg_per_s,
                |exchange| exchange.evaporation_per_water,
            );
            results.push(CellResult {
                name: cell.name.clone(),
                arrangement: cell.arrangement,
                state: cell_state,
                evaporation_kg_per_s: per_water * cell_state.water_kg_per_s,
                merkel,
                poppe,
            });
        }
        results
    }

    fn sources(&self, inputs: &Inputs, balance: &Balance) -> Vec<MakeupSource> {
        let whole: f64 = self.site.makeup.iter().map(|source| inputs.get(source.share)).sum();
        self.site
            .makeup
            .iter()
            .map(|source| {
                let share = inputs.get(source.share) / whole;
                let kg_per_s = share * balance.water.makeup_kg_per_s;
                MakeupSource { name: source.name.clone(), share, kg_per_s }
            })
            .collect()
    }

    fn raised(&self, inputs: &Inputs, balance: &Balance, work: &Workspace) -> Vec<Raised> {
        let observed = self.observe(inputs, &balance.state, &balance.water, work.cells());
        WARNINGS
            .iter()
            .filter_map(|warning| {
                let value = (warning.test)(&observed)?;
                Some(Raised { warning, value })
            })
            .collect()
    }
}

/// What the streams of a sheet are made from.
struct Streams<'a> {
    model: &'a Model,
    inputs: &'a Inputs,
    balance: &'a Balance,
    spread: &'a Spread,
}

impl Streams<'_> {
    fn makeup(&self) -> Stream {
        let celsius = self.model.makeup_celsius(self.inputs);
        let kg_per_s = self.balance.water.makeup_kg_per_s;
        self.stream(StreamName::Makeup, kg_per_s, celsius, Some(1.0))
    }

    fn out(&self) -> [Stream; 5] {
        Outflow::ALL.map(|outflow| self.outflow(outflow))
    }

    fn outflow(&self, outflow: Outflow) -> Stream {
        let water = &self.balance.water;
        let state = &self.balance.state;
        let (hot, cold) = (state.hot_water_celsius, state.cold_water_celsius);
        let kg_per_s = outflow.kg_per_s(water);
        let celsius = match outflow {
            Outflow::Evaporation | Outflow::Drift => 0.5 * (hot + cold),
            Outflow::Blowdown | Outflow::Leakage | Outflow::Overflow => cold,
        };
        let liquid = water.liquid_losses_kg_per_s();
        let of_solids = match outflow {
            Outflow::Evaporation => Some(0.0),
            _ if !water.cycles_of_concentration.is_finite() => None,
            _ => Some(if liquid > 0.0 { kg_per_s / liquid } else { 0.0 }),
        };
        self.stream(StreamName::Out(outflow), kg_per_s, celsius, of_solids)
    }

    fn stream(
        &self,
        name: StreamName,
        kg_per_s: f64,
        celsius: f64,
        of_solids: Option<f64>,
    ) -> Stream {
        let density = water::density_kg_per_m3(celsius);
        let makeup = self.balance.water.makeup_kg_per_s;
        Stream {
            name,
            kg_per_s,
            standard_uncertainty_kg_per_s: self.spread.standard(name.output()),
            reference_m3_per_h: Balance::reference_m3_per_h(kg_per_s),
            celsius,
            density_kg_per_m3: density,
            metered_m3_per_h: kg_per_s * 3_600.0 / density,
            of_circulation: kg_per_s / self.balance.state.circulation_kg_per_s,
            of_makeup: if makeup > 0.0 { kg_per_s / makeup } else { 0.0 },
            of_solids,
        }
    }
}

/// Both readings of a leak or overflow; `None` where there is neither.
fn leak_readings(water: &WaterBalance, target: Option<f64>) -> Option<LeakReadings> {
    let unwanted = water.leakage_kg_per_s + water.overflow_kg_per_s;
    if unwanted <= 0.0 || water.evaporation_kg_per_s <= 0.0 {
        return None;
    }
    let evaporation = water.evaporation_kg_per_s;
    // What the blowdown and the cycles were before the loss began.
    let (cycles, blowdown) = match target {
        Some(cycles) => (cycles, (evaporation / (cycles - 1.0) - water.drift_kg_per_s).max(0.0)),
        None => {
            let liquid = water.drift_kg_per_s + water.blowdown_kg_per_s;
            (1.0 + evaporation / liquid, water.blowdown_kg_per_s)
        }
    };
    let losses = balance::Losses {
        evaporation_kg_per_s: evaporation,
        drift_kg_per_s: water.drift_kg_per_s,
        leakage_kg_per_s: water.leakage_kg_per_s,
        overflow_kg_per_s: water.overflow_kg_per_s,
    };
    let held = balance::close(&losses, BlowdownBasis::Cycles(cycles)).ok()?;
    let fixed = balance::close(&losses, BlowdownBasis::FlowKgPerS(blowdown)).ok()?;
    Some(LeakReadings { held, fixed })
}
