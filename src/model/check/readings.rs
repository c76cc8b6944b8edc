//! A period of a log, with the evaporation that its own weather and load ask for.

use super::super::{Balance, Infeasible, Inputs, Model, Workspace};
use super::conditions::{Conditions, DEPRESSION, DEPRESSION_RANGE};
use super::pattern::Circumstances;
use super::quantities::{Errors, Part, Quantities, Stretch, TracerValues, single};
use super::reach::{Meters, Reach};
use super::{CheckedPeriod, HotBelowCold};
use crate::basin::Shape;
use crate::blowdown::{OxidantFeed, TowerWater};
use crate::check::detection::{by_expected, by_heat, by_solids};
use crate::check::reconcile::{Reading, ReconcileError};
use crate::chemistry::Constituent;
use crate::quantity::{significant, unit};
use crate::readings::period::Period;
use crate::site::description::Channel;
use crate::site::{SiteInstruments, SiteLog, assumed_instruments};
use crate::statistics::median;

/// A conductivity ratio that nothing corrects may be off by so much: standard uncertainty of cycles.
/// Reference waters without acid show a loss of 1.4 to 12 % of makeup that is none.
pub const APPARENT: f64 = 0.15;
/// The makeup's conductivity, where it stands in the site file and nobody reads it: a limit, common
/// practice.
pub const UNREAD_MAKEUP: f64 = 0.10;
/// Evaporation without the load of the period, and without its weather.
pub(super) const NO_LOAD: f64 = 0.3;
pub(super) const NO_WEATHER: f64 = 0.05;
/// Cycles that nobody reads, of a target that is stated: dead band, drift of the probe, the law of the
/// conductivity (common practice; standard uncertainty).
pub const CYCLES_UNREAD: f64 = 0.10;
/// A blowdown that nobody reads is known to itself.
const BLOWDOWN_UNREAD: f64 = 1.0;
/// A tower without load evaporates this part of what it does at the site's own load, give or take as
/// much (common practice).
const OFF: f64 = 0.1;
/// Drift is known to half of itself.
const DRIFT: f64 = 0.5;
/// A level is read to so much, m (common practice).
const LEVEL_READING: f64 = 0.005;
/// Less range than this is a tower without load, K.
pub(super) const LEAST_RANGE: f64 = 0.5;
/// Less than this part of the site's circulation is a tower that stands: pumps off for most of the time.
const LEAST_CIRCULATION: f64 = 0.3;
/// Less than this part of the range of the site as described is no load that a makeup must follow.
const LEAST_LOAD: f64 = 0.3;
/// Makeup and blowdown below this part of the makeup that the site needs are a meter that stands still.
const STILL: f64 = 0.01;
/// More than so many times the makeup that the site needs flows in no tower: the unit is wrong, or the
/// register mistyped.
const FLOOD: f64 = 20.0;
/// More cycles than this are a conductivity in a wrong unit.
const MOST_CYCLES: f64 = 100.0;

/// Why a period is left out. Flows in m3/d.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum LeftOut {
    NoMakeup,
    NoBlowdown,
    NoTracer,
    NotConcentrated {
        tracer: Tracer,
        basin: f64,
        makeup: f64,
    },
    TooConcentrated {
        tracer: Tracer,
        basin: f64,
        makeup: f64,
    },
    Idle {
        makeup: f64,
        needed: f64,
    },
    MakeupStuck {
        makeup: f64,
        needed: f64,
    },
    /// A conductivity or chloride off its neighbours by a factor.
    Slipped(Slip),
    TooFar(ReconcileError),
    Flood {
        flow: &'static str,
        read: f64,
        needed: f64,
    },
    NoBalance,
}

/// What tells concentrations.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Tracer {
    Conductivity,
    Chloride,
}

impl LeftOut {
    pub fn reason(self) -> String {
        match self {
            Self::NoMakeup => "no makeup was read".into(),
            Self::NoBlowdown => "no blowdown was read".into(),
            Self::NoTracer => "no conductivity and no chloride of the basin was read".into(),
            Self::NotConcentrated { tracer, basin, makeup } => format!(
                "the basin ({}) is no more concentrated than the makeup ({}); a wrong unit of a column \
                 looks like this",
                tracer.shown(basin),
                tracer.shown(makeup)
            ),
            Self::TooConcentrated { tracer, basin, makeup } => format!(
                "the basin ({}) is more than {MOST_CYCLES:.0} times as concentrated as the makeup ({}); \
                 a wrong unit of a column looks like this",
                tracer.shown(basin),
                tracer.shown(makeup)
            ),
            Self::Idle { makeup: 0.0, .. } => {
                "idle: no makeup, and neither circulation nor a range of the water shows that the tower ran"
                    .into()
            }
            Self::Slipped(slip) => format!(
                "the {} of the {} comes to {}, and is {} around it: a slipped decimal point looks like \
                 this",
                slip.tracer.name(),
                slip.whose,
                slip.tracer.shown(slip.mean),
                slip.tracer.shown(slip.usual)
            ),
            Self::TooFar(why) => why.to_string(),
            Self::Idle { makeup, needed } => format!(
                "idle, or the unit of a column is wrong: a makeup of {} was read, and the site needs {}",
                shown(makeup),
                shown(needed)
            ),
            Self::MakeupStuck { makeup: 0.0, needed } => format!(
                "the makeup meter stands still, though the tower ran; the site needs {}",
                shown(needed)
            ),
            Self::MakeupStuck { makeup, needed } => format!(
                "a makeup of {} was read, and the tower ran; the site needs {}: is the unit of its \
                 column right, or does the meter stick?",
                shown(makeup),
                shown(needed)
            ),
            Self::Flood { flow, read, needed } => format!(
                "a {flow} of {} was read, and the site needs a makeup of {}: is the unit of its column \
                 right, or a reading mistyped?",
                shown(read),
                shown(needed)
            ),
            Self::NoBalance => "no balance for this load and weather".into(),
        }
    }

    pub fn is_stuck(self) -> bool {
        matches!(self, Self::MakeupStuck { .. })
    }
}

/// A period's mean with a reading in it that its neighbours make unlikely.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Slip {
    tracer: Tracer,
    whose: &'static str,
    mean: f64,
    usual: f64,
}

/// Off its neighbours by more than this factor, a conductivity or chloride is a slipped decimal point.
const SLIP: f64 = 5.0;
/// Neighbours that it is held against, and the least that will do.
const NEIGHBOURS: usize = 8;
const LEAST_NEIGHBOURS: usize = 4;

/// The slip of each period that has one.
pub(super) fn slips(periods: &[Period]) -> Vec<Option<Slip>> {
    let mut slips = vec![None; periods.len()];
    for (channel, tracer, whose) in [
        (Channel::BasinConductivity, Tracer::Conductivity, "basin"),
        (Channel::MakeupConductivity, Tracer::Conductivity, "makeup"),
        (Channel::BasinChloride, Tracer::Chloride, "basin"),
        (Channel::MakeupChloride, Tracer::Chloride, "makeup"),
    ] {
        let read: Vec<(usize, f64)> = periods
            .iter()
            .enumerate()
            .filter_map(|(index, period)| Some((index, period.get(channel)?)))
            .collect();
        for (place, &(index, mean)) in read.iter().enumerate() {
            let Some(usual) = usual(&read, place) else { continue };
            let gain = periods[index].gain(channel);
            if slips[index].is_none() && has_slip(mean / usual, gain.map(|gain| gain / usual)) {
                slips[index] = Some(Slip { tracer, whose, mean, usual });
            }
        }
    }
    slips
}

/// The median of the nearest readings.
fn usual(read: &[(usize, f64)], place: usize) -> Option<f64> {
    let from = place.saturating_sub(NEIGHBOURS / 2).min(read.len().saturating_sub(NEIGHBOURS + 1));
    let to = (from + NEIGHBOURS + 1).min(read.len());
    let others = || (from..to).filter(|other| *other != place).map(|other| read[other].1);
    let middle = median(others())?;
    (others().count() >= LEAST_NEIGHBOURS && middle > 0.0).then_some(middle)
}

/// Whether a mean has a reading in it that is off by [`SLIP`]. All over what is usual. With a gain the
/// first and the last reading are known.
fn has_slip(mean: f64, gain: Option<f64>) -> bool {
    /// What two readings of which one is next to nothing may miss by.
    const SCATTER: f64 = 0.06;
    const MOST_MEAN: f64 = 3.0;
    let readings = match gain {
        Some(gain) => [mean - 0.5 * gain, mean + 0.5 * gain],
        None => [mean, mean],
    };
    // Among four readings one ten times as large makes a mean of 3.25.
    mean > MOST_MEAN || readings.into_iter().any(|r| r > SLIP || (r < 1.0 / SLIP && r > -SCATTER))
}

impl Tracer {
    fn name(self) -> &'static str {
        match self {
            Self::Conductivity => "conductivity",
            Self::Chloride => "chloride",
        }
    }

    /// A concentration in SI as people write it.
    fn shown(self, si: f64) -> String {
        match self {
            Self::Conductivity => {
                let unit = unit::MICROSIEMENS_PER_CENTIMETRE;
                format!("{} {}", significant(unit.of_si(si), 3), unit.symbol)
            }
            Self::Chloride => format!("{} mg/L", significant(1e3 * si, 3)),
        }
    }
}

/// A flow in both systems of units.
fn shown(m3_per_day: f64) -> String {
    let gallons = m3_per_day / unit::US_GALLON.factor;
    format!("{} m3/day ({} US gal/day)", significant(m3_per_day, 3), significant(gallons, 3))
}

/// What is known of the evaporation of a period.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Known {
    load: bool,
    weather: bool,
    /// Relative standard uncertainty of the evaporation by a dry bulb that was assumed.
    dry_bulb_unsure: Option<f64>,
    /// Water comes back as it went: what little evaporates is not known.
    is_off: bool,
}

/// The periods whose hot water is colder than the cold one, where they are most of those with both.
pub(super) fn hot_below_cold(periods: &[Period]) -> Option<HotBelowCold> {
    let with_both = periods.iter().filter(|period| range_of(period).is_some()).count();
    let reversed: Vec<&Period> = periods.iter().filter(|period| is_reversed(period)).collect();
    let mean = |channel| {
        reversed.iter().filter_map(|period| period.get(channel)).sum::<f64>()
            / reversed.len() as f64
    };
    (2 * reversed.len() > with_both).then(|| HotBelowCold {
        periods: reversed.len(),
        with_both,
        hot_kelvin: mean(Channel::HotWater),
        cold_kelvin: mean(Channel::ColdWater),
    })
}

/// Whether the hot water is colder than the cold.
pub(super) fn is_reversed(period: &Period) -> bool {
    range_of(period).is_some_and(|range| range < -LEAST_RANGE)
}

pub(super) fn range_of(period: &Period) -> Option<f64> {
    let temperatures = period.get(Channel::HotWater).zip(period.get(Channel::ColdWater));
    temperatures.map(|(hot, cold)| hot - cold)
}

/// Reads periods of one log.
pub(super) struct Reader<'a> {
    model: &'a Model,
    inputs: &'a Inputs,
    accuracy: [f64; 5],
    repeatability: [f64; 5],
    scale: Option<CyclesScale>,
    volume: f64,
    basin: Option<Shape>,
    conditions: Conditions<'a>,
    circulation: Option<f64>,
    /// Evaporation of the site as described, m3/d, and the range of its water, K.
    as_described: (f64, f64),
    valve_flow: Option<f64>,
    makeup_needed: f64,
    meters: Meters,
    /// Median conductivity of the basin.
    usual_basin: Option<f64>,
    /// Cycles of the site as described.
    cycles: f64,
    work: Workspace,
}

/// Relative standard uncertainties of the instruments: constant, and new in every reading. Of makeup,
/// blowdown, conductivity, chloride and evaporation.
pub(super) fn instruments_of(log: Option<&SiteLog>, inputs: &Inputs) -> [[f64; 5]; 2] {
    let of = |instruments: &SiteInstruments| {
        [
            instruments.makeup,
            instruments.blowdown,
            instruments.conductivity,
            instruments.chloride,
            instruments.evaporation,
        ]
        .map(|slot| inputs.get(slot))
    };
    let [accuracy, repeatability] = match log {
        Some(log) => [of(&log.accuracy), of(&log.repeatability)],
        None => assumed_instruments(),
    };
    // A limit is a rectangular distribution (JCGM 100:2008, 4.3.7).
    [accuracy.map(|limit| limit / 3f64.sqrt()), repeatability]
}

/// What of a log is read.
fn meters_of(model: &Model, inputs: &Inputs, log: Option<&SiteLog>) -> Meters {
    let has = |channel| log.is_some_and(|log| log.layout.column(channel).is_some());
    let any = |channels: &[Channel]| channels.iter().any(|channel| has(*channel));
    let by_valve = any(&[Channel::BlowdownValveHours, Channel::BlowdownOpenShare])
        && model.site.chemistry.valve_flow.is_some();
    let stated_conductivity = model.makeup_conductivity(inputs).is_finite();
    let makeup_conductivity = has(Channel::MakeupConductivity) || stated_conductivity;
    let makeup_chloride = has(Channel::MakeupChloride) || model.makeup_chloride(inputs).is_some();
    let by_chloride = has(Channel::BasinChloride) && makeup_chloride;
    Meters {
        blowdown: by_valve || any(&[Channel::BlowdownRegister, Channel::BlowdownFlow]),
        basin: has(Channel::BasinConductivity) || by_chloride,
        makeup_quality: makeup_conductivity || by_chloride,
        load: has(Channel::HotWater) && has(Channel::ColdWater),
        is_held: model.is_held(),
    }
}

impl<'a> Reader<'a> {
    pub fn new(
        model: &'a Model,
        inputs: &'a Inputs,
        balance: &Balance,
        periods: &[Period],
    ) -> Self {
        let site = &model.site;
        let log = site.log.as_ref();
        let [accuracy, repeatability] = instruments_of(log, inputs);
        let basins = periods.iter().filter_map(|period| period.get(Channel::BasinConductivity));
        Self {
            model,
            inputs,
            accuracy,
            repeatability,
            meters: meters_of(model, inputs, log),
            usual_basin: median(basins),
            cycles: balance.water.cycles_of_concentration,
            scale: CyclesScale::of(model, inputs, balance),
            volume: model.volume_m3(inputs).unwrap_or(0.0),
            basin: site
                .basin
                .as_ref()
                .and_then(|basin| model.basin_of(inputs, basin).ok())
                .map(|basin| basin.shape),
            conditions: Conditions::of(model, inputs),
            circulation: model.slot("circuit.circulation").ok().map(|slot| inputs.get(slot)),
            as_described: (
                daily(balance.water.evaporation_kg_per_s),
                balance.state.hot_water_celsius - balance.state.cold_water_celsius,
            ),
            valve_flow: site.chemistry.valve_flow.map(|slot| 86_400.0 * inputs.get(slot)),
            makeup_needed: daily(balance.water.makeup_kg_per_s),
            work: Workspace::new(model),
        }
    }

    /// Whether conductivities are carried over to true cycles.
    pub fn has_true_cycles(&self) -> bool {
        self.scale.is_some()
    }

    /// What of the log is read.
    pub fn meters(&self) -> Meters {
        self.meters
    }

    /// The makeup's conductivity that the log or the site file states; else that which the basin's usual
    /// conductivity and the site's cycles imply.
    fn makeup_conductivity(&self, period: &Period) -> Option<f64> {
        let stated = Some(self.model.makeup_conductivity(self.inputs)).filter(|s| s.is_finite());
        let by_cycles = || Some(self.usual_basin? / self.cycles);
        let read = period.get(Channel::MakeupConductivity).or(stated);
        read.or_else(|| if self.meters.makeup_quality { None } else { by_cycles() })
    }

    /// Cycles that the basin is usually held at, with the makeup of the period; those of the site where they
    /// are not read.
    fn held_cycles(&self, period: &Period) -> f64 {
        let read = self.usual_basin.zip(self.makeup_conductivity(period));
        let cycles = read.map(|(basin, makeup)| self.cycles_at(basin, makeup));
        cycles.filter(|cycles| *cycles > 1.0).unwrap_or(self.cycles)
    }

    /// Relative standard uncertainty of the cycles.
    fn of_cycles(&self, errors: &Errors) -> f64 {
        let of = |part: Part| errors.constant[part as usize].hypot(errors.random[part as usize]);
        of(Part::MakeupConductivity).hypot(of(Part::BasinConductivity))
    }

    /// What the meters can show of a period.
    fn reach(&self, quantities: &Quantities, errors: &Errors, cycles: f64) -> Reach {
        let of = |part: Part| errors.constant[part as usize].hypot(errors.random[part as usize]);
        let evaporation = Part::Evaporation as usize;
        let with_load = self.accuracy[4].hypot(self.repeatability[4]);
        let now = errors.constant[evaporation].hypot(errors.random[evaporation]);
        let scale = if self.scale.is_some() { 0.0 } else { APPARENT };
        let read = (self.accuracy[2].hypot(self.repeatability[2]) * 2f64.sqrt()).hypot(scale);
        Reach {
            makeup: quantities.makeup,
            evaporation: quantities.evaporation,
            cycles,
            of_makeup: of(Part::Makeup),
            of_blowdown: self.accuracy[1].hypot(self.repeatability[1]),
            of_evaporation: if self.meters.load { [now, now] } else { [with_load, now] },
            of_cycles: match self.meters.basin && self.meters.makeup_quality {
                true => [self.of_cycles(errors), CYCLES_UNREAD],
                false => [read, self.of_cycles(errors)],
            },
            stored: 2f64.sqrt() * self.repeatability[2] * errors.volume,
        }
    }

    /// Water in the system, m3.
    pub fn volume(&self) -> f64 {
        self.volume
    }

    /// Cycles at a conductivity of the basin.
    pub fn cycles_at(&self, basin: f64, makeup: f64) -> f64 {
        let ratio = basin / makeup;
        self.scale.as_ref().map_or(ratio, |scale| scale.cycles(ratio))
    }

    /// By how much an unread dry bulb is taken above the wet bulb, K.
    pub fn assumed_depression(&self) -> Option<f64> {
        self.conditions.design_depression.map(|depression| DEPRESSION * depression)
    }

    /// Evaporation in proportion to the heat that the water gave up, m3/d: what can be said without weather,
    /// and of an hour that the stated air cannot be that of.
    fn evaporation_by_heat(&self, period: &Period) -> Option<f64> {
        let (evaporation, range) = self.as_described;
        let flow = match (period.get(Channel::Circulation), self.circulation) {
            (Some(read), Some(whole)) => read / whole,
            _ => 1.0,
        };
        let by_heat = evaporation * flow * range_of(period)?.max(0.0) / range;
        by_heat.is_finite().then_some(by_heat)
    }

    /// Whether circulation and range, of those that were read, show that the tower ran.
    fn ran(&self, period: &Period) -> bool {
        let least = LEAST_RANGE.max(LEAST_LOAD * self.as_described.1);
        let range = range_of(period).map(|range| range > least);
        let flows = period
            .get(Channel::Circulation)
            .zip(self.circulation)
            .map(|(read, whole)| read > LEAST_CIRCULATION * whole);
        (range.is_some() || flows.is_some()) && range.unwrap_or(true) && flows.unwrap_or(true)
    }

    /// A period, and why its load and weather cannot be, if so.
    pub fn checked(
        &mut self,
        period: &Period,
    ) -> Result<(CheckedPeriod, Option<Infeasible>), LeftOut> {
        let makeup = period.makeup.ok_or(LeftOut::NoMakeup)?;
        let open = period.valve_open.or(period.get(Channel::BlowdownOpenShare));
        let by_valve = || Some(open? * self.valve_flow?);
        let read_blowdown = period.blowdown.or_else(by_valve);
        if read_blowdown.is_none() && self.meters.blowdown {
            return Err(LeftOut::NoBlowdown);
        }
        let range = range_of(period);
        if makeup <= STILL * self.makeup_needed {
            let needed = self.makeup_needed;
            return Err(if self.ran(period) {
                LeftOut::MakeupStuck { makeup, needed }
            } else {
                LeftOut::Idle { makeup, needed }
            });
        }
        for (flow, read) in [("makeup", makeup), ("blowdown", read_blowdown.unwrap_or(0.0))] {
            if read > FLOOD * self.makeup_needed {
                return Err(LeftOut::Flood { flow, read, needed: self.makeup_needed });
            }
        }
        let (balance, known, blind) = self.balance_of(period).ok_or(LeftOut::NoBalance)?;
        let water = &balance.water;
        // The site's own leakage and overflow are losses that nobody has to look for.
        let known_losses = water.drift_kg_per_s + water.leakage_kg_per_s + water.overflow_kg_per_s;
        let volume = self.volume * 24.0 / period.hours;
        let stored = self.stored(period);
        let held_cycles = self.held_cycles(period);
        let conductivity = match self.meters.basin {
            true => self.conductivity(period, volume)?,
            // Cycles that nobody reads are a tracer of the site's own.
            false => Some(TracerValues { makeup: 1.0, basin: held_cycles, stored: 0.0 }),
        };
        let chloride = self.chloride(period, volume);
        if conductivity.is_none() && chloride.is_none() {
            return Err(self.chlorides_read(period).map_or(
                LeftOut::NoTracer,
                |(makeup, basin)| {
                    let tracer = Tracer::Chloride;
                    LeftOut::NotConcentrated { tracer, basin, makeup }
                },
            ));
        }
        let evaporation = daily(water.evaporation_kg_per_s) * if known.is_off { OFF } else { 1.0 };
        let drift = daily(known_losses).max(1e-6 * makeup);
        let quantities = Quantities {
            makeup,
            blowdown: read_blowdown
                .unwrap_or_else(|| bleed_needed(evaporation, held_cycles, drift)),
            evaporation,
            drift,
            stored: stored.map_or(0.0, |(gained, _)| gained),
            conductivity,
            chloride,
        };
        let tracer = conductivity.or(chloride).ok_or(LeftOut::NoTracer)?;
        let cycles = tracer.basin / tracer.makeup;
        let slope = self.conductivity_by_cycles(cycles);
        let errors = self.errors(known, (volume, stored.map_or(0.0, |(_, unsure)| unsure)), slope);
        let readings = single(&quantities, &errors);
        let solids = by_solids(&readings, 0).ok_or(LeftOut::NoTracer)?;
        let expected_of =
            [readings.evaporation, readings.blowdown, readings.drift, readings.stored];
        let reach = self.reach(&quantities, &errors, held_cycles);
        let of_expected = match self.meters.blowdown {
            true => expected_of.iter().map(|part| part.uncertainty.powi(2)).sum::<f64>().sqrt(),
            // What is bled follows from evaporation and cycles: its error is theirs.
            false => reach
                .of_expected(
                    readings.evaporation.uncertainty / readings.evaporation.value,
                    self.of_cycles(&errors),
                )
                .hypot(readings.stored.uncertainty),
        };
        let expected = Reading {
            value: expected_of.iter().map(|part| part.value).sum(),
            uncertainty: of_expected,
        };
        let checked = CheckedPeriod {
            start: period.start,
            hours: period.hours,
            cycles,
            expected,
            held_cycles,
            of_cycles: self.of_cycles(&errors),
            shows: reach.loss(&self.meters),
            one_more: reach.one_more(&self.meters),
            solids,
            heat: known.load.then(|| match self.meters.blowdown {
                true => by_heat(&readings),
                false => by_expected(readings.makeup, expected),
            }),
            load: if known.load { balance.state.heat_load_watt() } else { None },
            makeup_conductivity: None,
            evaporation_by_heat: self.evaporation_by_heat(period),
            has_weather: known.load && known.weather,
            basin_conductivity: period
                .get(Channel::BasinConductivity)
                .map(|mean| mean + 0.5 * period.gain(Channel::BasinConductivity).unwrap_or(0.0)),
            dry_bulb_is_assumed: known.dry_bulb_unsure.is_some(),
            readings,
            stretch: Stretch { hours: period.hours, quantities, errors },
            circumstances: Circumstances {
                fans_ran: period.fans_ran,
                has_load: range.map(|range| range.abs() > LEAST_RANGE),
                level: period.get(Channel::BasinLevel),
            },
        };
        Ok((checked, blind))
    }

    /// Water that the basin gained, m3/d, with its standard uncertainty: the difference of two levels.
    fn stored(&self, period: &Period) -> Option<(f64, f64)> {
        let level = period.get(Channel::BasinLevel)?;
        let gain = period.gain(Channel::BasinLevel)?;
        let shape = self.basin.as_ref()?;
        let between =
            |rise: f64| shape.volume(level + 0.5 * rise) - shape.volume(level - 0.5 * rise);
        let a_day = 24.0 / period.hours;
        Some((a_day * between(gain), a_day * 2f64.sqrt() * between(LEVEL_READING)))
    }

    /// Conductivities as a conserved tracer: the makeup's as read, the basin's as the makeup's times
    /// true cycles.
    fn conductivity(&self, period: &Period, volume: f64) -> Result<Option<TracerValues>, LeftOut> {
        let both = self.makeup_conductivity(period).zip(period.get(Channel::BasinConductivity));
        let Some((makeup, basin)) = both else { return Ok(None) };
        let cycles = |basin: f64| {
            self.scale.as_ref().map_or(basin / makeup, |scale| scale.cycles(basin / makeup))
        };
        let tracer = Tracer::Conductivity;
        if !(cycles(basin) > 1.0) {
            return Err(LeftOut::NotConcentrated { tracer, basin, makeup });
        }
        if cycles(basin) > MOST_CYCLES {
            return Err(LeftOut::TooConcentrated { tracer, basin, makeup });
        }
        let gain = period.gain(Channel::BasinConductivity).unwrap_or(0.0);
        let risen = cycles(basin + 0.5 * gain) - cycles(basin - 0.5 * gain);
        Ok(Some(TracerValues {
            makeup,
            basin: makeup * cycles(basin),
            stored: volume * makeup * risen,
        }))
    }

    /// Chloride of makeup and basin; the makeup's may stand in the site file alone.
    fn chlorides_read(&self, period: &Period) -> Option<(f64, f64)> {
        let stated = self.model.makeup_chloride(self.inputs);
        period.get(Channel::MakeupChloride).or(stated).zip(period.get(Channel::BasinChloride))
    }

    /// Chloride, less what the oxidant leaves of it.
    fn chloride(&self, period: &Period, volume: f64) -> Option<TracerValues> {
        let (makeup, basin) = self.chlorides_read(period)?;
        let oxidant = self.scale.as_ref().map_or(OxidantFeed::default(), |scale| scale.oxidant);
        let fed = |cycles| CHLORIDE_KG_PER_MOL * 1e3 * oxidant.chloride(cycles);
        // What is fed grows in a straight line with the cycles.
        let slope = fed(1.0) - fed(0.0);
        let cycles = (basin - fed(0.0)) / (makeup + slope);
        let gain = period.gain(Channel::BasinChloride).unwrap_or(0.0);
        (cycles > 1.0).then(|| TracerValues {
            makeup,
            basin: makeup * cycles,
            stored: volume * gain * makeup / (makeup + slope),
        })
    }

    fn errors(&self, known: Known, (volume, stored): (f64, f64), slope: f64) -> Errors {
        let parts = |[makeup, blowdown, conductivity, chloride, evaporation]: [f64; 5]| {
            let mut parts = [0.0; 8];
            for (part, value) in [
                (Part::Makeup, makeup),
                (Part::Blowdown, blowdown),
                (Part::Evaporation, evaporation),
                (Part::MakeupConductivity, conductivity),
                (Part::BasinConductivity, conductivity),
                (Part::MakeupChloride, chloride),
                (Part::BasinChloride, chloride),
            ] {
                parts[part as usize] = value;
            }
            parts
        };
        let (mut constant, mut random) = (parts(self.accuracy), parts(self.repeatability));
        // Cycles rise faster than conductivity: so does its error.
        for part in [Part::MakeupConductivity, Part::BasinConductivity] {
            constant[part as usize] /= slope;
            random[part as usize] /= slope;
        }
        constant[Part::Drift as usize] = DRIFT;
        let evaporation = Part::Evaporation as usize;
        let also = |part: &mut f64, more: f64| *part = part.hypot(more);
        if known.is_off {
            constant[evaporation] = 1.0;
            random[evaporation] = 1.0;
        } else if !known.load {
            also(&mut constant[evaporation], NO_LOAD);
            also(&mut random[evaporation], NO_LOAD);
        } else if !known.weather {
            also(&mut constant[evaporation], NO_WEATHER);
            also(&mut random[evaporation], NO_WEATHER);
        } else if let Some(unsure) = known.dry_bulb_unsure {
            also(&mut constant[evaporation], unsure);
            also(&mut random[evaporation], unsure);
        }
        let layout = self.model.site.log.as_ref().map(|log| &log.layout);
        let is_read = |channel| layout.is_some_and(|layout| layout.column(channel).is_some());
        for (part, channel) in [
            (Part::MakeupConductivity, Channel::MakeupConductivity),
            (Part::MakeupChloride, Channel::MakeupChloride),
        ] {
            if !is_read(channel) {
                also(&mut constant[part as usize], UNREAD_MAKEUP / 3f64.sqrt());
            }
        }
        let cycles_are_read = self.meters.basin && self.meters.makeup_quality;
        if self.scale.is_none() && cycles_are_read {
            also(&mut constant[Part::BasinConductivity as usize], APPARENT);
        }
        if !cycles_are_read {
            also(&mut constant[Part::BasinConductivity as usize], CYCLES_UNREAD);
        }
        if !self.meters.blowdown {
            constant[Part::Blowdown as usize] = BLOWDOWN_UNREAD;
        }
        Errors { constant, random, stored, volume }
    }

    /// The balance with the period's load and weather where the log has them. What cannot be blinds
    /// the heat path of this period only.
    fn balance_of(&mut self, period: &Period) -> Option<(Balance, Known, Option<Infeasible>)> {
        let range = range_of(period);
        let blind = Known { load: false, weather: false, dry_bulb_unsure: None, is_off: false };
        if range.is_some_and(|range| range.abs() <= LEAST_RANGE) {
            let balance = self.model.evaluate(self.inputs, &mut self.work).ok()?;
            return Some((balance, Known { is_off: true, ..blind }, None));
        }
        let mut today = self.inputs.clone();
        let weather = self.conditions.write_air(&mut today, period, DEPRESSION);
        let load = self.conditions.write_water(&mut today, period);
        match self.model.evaluate(&today, &mut self.work) {
            Ok(balance) => {
                let lacks_dry_bulb = weather && self.conditions.lacks_dry_bulb(period);
                let dry_bulb_unsure =
                    lacks_dry_bulb.then(|| self.unsure_of_dry_bulb(&mut today, period, &balance));
                let known = Known { load, weather, dry_bulb_unsure, is_off: false };
                Some((balance, known, None))
            }
            Err(why) => {
                let balance = self.model.evaluate(self.inputs, &mut self.work).ok()?;
                Some((balance, blind, Some(why)))
            }
        }
    }

    /// Relative standard uncertainty of the evaporation, by the range of the depression, each value in
    /// it as likely.
    fn unsure_of_dry_bulb(&mut self, today: &mut Inputs, period: &Period, taken: &Balance) -> f64 {
        let evaporation = DEPRESSION_RANGE.map(|part| {
            self.conditions.write_air(today, period, part);
            let balance = self.model.evaluate(today, &mut self.work).ok()?;
            Some(balance.water.evaporation_kg_per_s)
        });
        let [Some(least), Some(most)] = evaporation else { return NO_WEATHER };
        (0.5 * (most - least) / taken.water.evaporation_kg_per_s).abs() / 3f64.sqrt()
    }
}

/// What a tower bleeds at its cycles, besides its drift, m3/d.
pub(super) fn bleed_needed(evaporation: f64, cycles: f64, drift: f64) -> f64 {
    (evaporation / (cycles - 1.0) - drift).max(0.0)
}

/// kg of a mol of chloride.
const CHLORIDE_KG_PER_MOL: f64 = 35.453e-3;

impl Model {
    /// Chloride of the blended makeup from its analyses, kg/m3; `None` where one lacks it.
    fn makeup_chloride(&self, inputs: &Inputs) -> Option<f64> {
        let whole: f64 = self.site.makeup.iter().map(|source| inputs.get(source.share)).sum();
        self.site
            .makeup
            .iter()
            .map(|source| {
                let constituents = &source.analysis.constituents;
                let (_, slot) =
                    constituents.iter().find(|(known, _)| *known == Constituent::Chloride)?;
                Some(inputs.get(source.share) / whole * inputs.get(*slot))
            })
            .sum()
    }
}

/// m3/d at the reference temperature.
pub(super) fn daily(kg_per_s: f64) -> f64 {
    24.0 * Balance::reference_m3_per_h(kg_per_s)
}

impl Reader<'_> {
    /// Relative change of conductivity over that of the cycles.
    pub fn conductivity_by_cycles(&self, cycles: f64) -> f64 {
        self.scale.as_ref().map_or(1.0, |scale| scale.slope(cycles))
    }
}

/// True cycles from a ratio of conductivities, by the makeup concentrated and solved.
struct CyclesScale {
    /// Ratio and cycles, rising.
    points: Vec<(f64, f64)>,
    oxidant: OxidantFeed,
}

impl CyclesScale {
    /// `None` where the makeup's analysis does not make a water.
    fn of(model: &Model, inputs: &Inputs, balance: &Balance) -> Option<Self> {
        const POINTS: usize = 60;
        const MOST: f64 = 15.0;
        let water = model.site_water(inputs, balance).ok()?;
        let tower: &TowerWater = &water.tower;
        let points: Vec<(f64, f64)> = (0..=POINTS)
            .map(|point| 1.0 + (MOST - 1.0) * (point as f64 / POINTS as f64).powi(2))
            .map_while(|cycles| {
                let solved = tower.at_cycles(cycles).ok()?;
                Some((solved.conductivity / water.makeup.conductivity, cycles))
            })
            .collect();
        let rising = points.windows(2).all(|pair| pair[1].0 > pair[0].0);
        let oxidant = tower.oxidant;
        (rising && points.len() > 1).then_some(Self { points, oxidant })
    }

    /// Relative change of the ratio over that of the cycles.
    fn slope(&self, cycles: f64) -> f64 {
        let after = self.points.iter().filter(|(_, known)| *known < cycles).count();
        let index = after.clamp(1, self.points.len() - 1);
        let [(low, from), (high, to)] = [self.points[index - 1], self.points[index]];
        (high / low).ln() / (to / from).ln()
    }

    /// Straight between the points, and on beyond their ends.
    fn cycles(&self, ratio: f64) -> f64 {
        let after = self.points.iter().filter(|(known, _)| *known < ratio).count();
        let index = after.clamp(1, self.points.len() - 1);
        let [(low, from), (high, to)] = [self.points[index - 1], self.points[index]];
        from + (ratio - low) / (high - low) * (to - from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slipped_decimal_point_is_told_from_what_may_be() {
        // Of two readings, the second ten times what is usual, or a tenth of it.
        assert!(has_slip(5.5, Some(9.0)) && has_slip(0.55, Some(-0.9)));
        assert!(has_slip(5.5, None));
        // One between the first and the last.
        assert!(has_slip(4.0, Some(0.0)) && has_slip(4.0, None));
        // The only reading of its period.
        assert!(has_slip(10.0, None) && has_slip(0.1, None));
        // Another source, at both ends or at one; a basin that was half emptied.
        assert!(
            !has_slip(0.55, None)
                && !has_slip(0.4, None)
                && !has_slip(2.2, None)
                && !has_slip(0.7, None)
        );
        assert!(!has_slip(0.75, Some(-0.5)) && !has_slip(1.0, Some(0.1)));
    }

    #[test]
    fn a_reading_is_held_against_its_nearest_neighbours() {
        let read: Vec<(usize, f64)> =
            (0..12).map(|index| (index, if index < 6 { 1.0 } else { 9.0 })).collect();
        assert_eq!(usual(&read, 0), Some(1.0));
        assert_eq!(usual(&read, 11), Some(9.0));
        // Four of either kind: none of them is unusual by the factor.
        assert_eq!(usual(&read, 5), Some(5.0));
        assert_eq!(usual(&read[..4], 0), None);
    }
}
