//! A period of a log, with the evaporation that its own weather and load ask for.

use super::super::{Balance, Infeasible, Inputs, Model, Workspace};
use super::pattern::Circumstances;
use super::quantities::{Errors, Part, Quantities, Stretch, TracerValues, single, single_random};
use super::{CheckedPeriod, HotBelowCold};
use crate::air::MoistAir;
use crate::basin::Shape;
use crate::blowdown::{OxidantFeed, TowerWater};
use crate::check::detection::{Detection, by_heat, by_solids};
use crate::check::reconcile::Reading;
use crate::chemistry::Constituent;
use crate::quantity::{significant, unit};
use crate::readings::period::Period;
use crate::site::description::Channel;
use crate::site::{AirGiven, SiteInstruments, SiteLog, SlotId, WaterGiven};
use crate::water::ZERO_CELSIUS;

/// A conductivity ratio that nothing corrects may be off by so much: standard uncertainty of cycles.
/// Reference waters without acid show a loss of 1.4 to 12 % of makeup that is none.
const APPARENT: f64 = 0.15;
/// The makeup's conductivity, where it stands in the site file and nobody reads it: a limit, common
/// practice.
const UNREAD_MAKEUP: f64 = 0.10;
/// Evaporation without the load of the period, and without its weather.
const NO_LOAD: f64 = 0.3;
const NO_WEATHER: f64 = 0.05;
/// A tower without load evaporates this part of what it does at the site's own load, give or take as
/// much (common practice).
const OFF: f64 = 0.1;
/// Drift is known to half of itself.
const DRIFT: f64 = 0.5;
/// A level is read to so much, m (common practice).
const LEVEL_READING: f64 = 0.005;
/// Less range than this is a tower without load, K.
const LEAST_RANGE: f64 = 0.5;
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
    NotConcentrated { tracer: Tracer, basin: f64, makeup: f64 },
    TooConcentrated { tracer: Tracer, basin: f64, makeup: f64 },
    Idle { makeup: f64, needed: f64 },
    MakeupStuck { makeup: f64, needed: f64 },
    Flood { flow: &'static str, read: f64, needed: f64 },
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
            Self::Idle { makeup: 0.0, .. } => "idle: no makeup, no blowdown, no load".into(),
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

impl Tracer {
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

fn range_of(period: &Period) -> Option<f64> {
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
    pressure: Option<f64>,
    valve_flow: Option<f64>,
    makeup_needed: f64,
    work: Workspace,
}

impl<'a> Reader<'a> {
    pub fn new(model: &'a Model, inputs: &'a Inputs, log: &SiteLog, balance: &Balance) -> Self {
        let of = |instruments: &SiteInstruments, part: f64| {
            [
                instruments.makeup,
                instruments.blowdown,
                instruments.conductivity,
                instruments.chloride,
                instruments.evaporation,
            ]
            .map(|slot| part * inputs.get(slot))
        };
        let site = &model.site;
        Self {
            model,
            inputs,
            // A limit is a rectangular distribution (JCGM 100:2008, 4.3.7).
            accuracy: of(&log.accuracy, 1.0 / 3f64.sqrt()),
            repeatability: of(&log.repeatability, 1.0),
            scale: CyclesScale::of(model, inputs, balance),
            volume: model.volume_m3(inputs).unwrap_or(0.0),
            basin: site
                .basin
                .as_ref()
                .and_then(|basin| model.basin_of(inputs, basin).ok())
                .map(|basin| basin.shape),
            pressure: balance.state.entering_air.as_ref().map(|air| air.pressure_pascal),
            valve_flow: site.chemistry.valve_flow.map(|slot| 86_400.0 * inputs.get(slot)),
            makeup_needed: daily(balance.water.makeup_kg_per_s),
            work: Workspace::new(model),
        }
    }

    /// Whether conductivities are carried over to true cycles.
    pub fn has_true_cycles(&self) -> bool {
        self.scale.is_some()
    }

    /// A period, and why its load and weather cannot be, if so.
    pub fn checked(
        &mut self,
        period: &Period,
    ) -> Result<(CheckedPeriod, Option<Infeasible>), LeftOut> {
        let makeup = period.makeup.ok_or(LeftOut::NoMakeup)?;
        let by_valve = || Some(period.valve_open? * self.valve_flow?);
        let blowdown = period.blowdown.or_else(by_valve).ok_or(LeftOut::NoBlowdown)?;
        let range = range_of(period);
        if makeup <= STILL * self.makeup_needed {
            let ran = blowdown > STILL * self.makeup_needed
                || range.is_some_and(|range| range > LEAST_RANGE);
            let needed = self.makeup_needed;
            return Err(if ran {
                LeftOut::MakeupStuck { makeup, needed }
            } else {
                LeftOut::Idle { makeup, needed }
            });
        }
        for (flow, read) in [("makeup", makeup), ("blowdown", blowdown)] {
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
        let conductivity = self.conductivity(period, volume)?;
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
        let quantities = Quantities {
            makeup,
            blowdown,
            evaporation: daily(water.evaporation_kg_per_s) * if known.is_off { OFF } else { 1.0 },
            drift: daily(known_losses).max(1e-6 * makeup),
            stored: stored.map_or(0.0, |(gained, _)| gained),
            conductivity,
            chloride,
        };
        let tracer = conductivity.or(chloride).ok_or(LeftOut::NoTracer)?;
        let cycles = tracer.basin / tracer.makeup;
        let slope = self.conductivity_by_cycles(cycles);
        let errors = self.errors(known, (volume, stored.map_or(0.0, |(_, unsure)| unsure)), slope);
        let readings = single(&quantities, &errors);
        let random = single_random(&quantities, &errors);
        let solids = by_solids(&readings, 0).ok_or(LeftOut::NoTracer)?;
        let solids_random = by_solids(&random, 0).map_or(f64::NAN, |solids| solids.uncertainty);
        let has_heat = known.load;
        let heat = |readings| has_heat.then(|| by_heat(readings));
        let expected_of =
            [readings.evaporation, readings.blowdown, readings.drift, readings.stored];
        let squares = expected_of.iter().map(|part| part.uncertainty * part.uncertainty);
        let checked = CheckedPeriod {
            start: period.start,
            hours: period.hours,
            cycles,
            expected: Reading {
                value: expected_of.iter().map(|part| part.value).sum(),
                uncertainty: squares.sum::<f64>().sqrt(),
            },
            solids,
            heat: heat(&readings),
            random: (solids_random, heat(&random).map(|heat: Detection| heat.uncertainty)),
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
        let stated = Some(self.model.makeup_conductivity(self.inputs)).filter(|s| s.is_finite());
        let makeup = period.get(Channel::MakeupConductivity).or(stated);
        let Some((makeup, basin)) = makeup.zip(period.get(Channel::BasinConductivity)) else {
            return Ok(None);
        };
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
        if self.scale.is_none() {
            also(&mut constant[Part::BasinConductivity as usize], APPARENT);
        }
        Errors { constant, random, stored, volume }
    }

    /// The balance with the period's load and weather where the log has them. What cannot be blinds
    /// the heat path of this period only.
    fn balance_of(&mut self, period: &Period) -> Option<(Balance, Known, Option<Infeasible>)> {
        let range = range_of(period);
        if range.is_some_and(|range| range.abs() <= LEAST_RANGE) {
            let balance = self.model.evaluate(self.inputs, &mut self.work).ok()?;
            return Some((balance, Known { load: false, weather: false, is_off: true }, None));
        }
        let mut today = self.inputs.clone();
        let weather = self.write_air(&mut today, period);
        let load = self.write_water(&mut today, period);
        match self.model.evaluate(&today, &mut self.work) {
            Ok(balance) => Some((balance, Known { load, weather, is_off: false }, None)),
            Err(why) => {
                let blind = Known { load: false, weather: false, is_off: false };
                let balance = self.model.evaluate(self.inputs, &mut self.work).ok()?;
                Some((balance, blind, Some(why)))
            }
        }
    }

    /// Writes hot and cold water in the terms of the site; whether the log has both.
    fn write_water(&self, today: &mut Inputs, period: &Period) -> bool {
        if let (Some(circulation), Ok(slot)) =
            (period.get(Channel::Circulation), self.model.slot("circuit.circulation"))
        {
            today.set(slot, circulation);
        }
        let (Some(hot), Some(cold)) =
            (period.get(Channel::HotWater), period.get(Channel::ColdWater))
        else {
            return false;
        };
        let pair: Option<[(SlotId, f64); 2]> = match self.model.site.water {
            WaterGiven::HotCold(a, b) => Some([(a, hot), (b, cold)]),
            WaterGiven::HotRange(a, b) => Some([(a, hot), (b, hot - cold)]),
            WaterGiven::ColdRange(a, b) => Some([(a, cold), (b, hot - cold)]),
            WaterGiven::Range(a, b) => Some([(a, hot - cold), (b, hot)]),
            // The heat load stands for the water's range.
            _ => None,
        };
        for (slot, value) in pair.into_iter().flatten() {
            today.set(slot, value);
        }
        pair.is_some()
    }

    /// Writes the air in the terms of the site; whether the log has all of it.
    fn write_air(&self, today: &mut Inputs, period: &Period) -> bool {
        let Some(air) = &self.model.site.air else { return false };
        let (dry, wet, humidity) = (
            period.get(Channel::DryBulb),
            period.get(Channel::WetBulb),
            period.get(Channel::RelativeHumidity),
        );
        let pair: Option<[(SlotId, f64); 2]> = match (air.given, dry, wet, humidity) {
            (AirGiven::DryBulbWetBulb(a, b), Some(dry), Some(wet), _) => Some([(a, dry), (b, wet)]),
            (AirGiven::DryBulbRelativeHumidity(a, b), Some(dry), _, Some(humidity)) => {
                Some([(a, dry), (b, humidity)])
            }
            (AirGiven::WetBulbRelativeHumidity(a, b), _, Some(wet), Some(humidity)) => {
                Some([(a, wet), (b, humidity)])
            }
            (given, Some(dry), wet, humidity) => self.other_air(given, (dry, wet, humidity)),
            _ => None,
        };
        for (slot, value) in pair.into_iter().flatten() {
            today.set(slot, value);
        }
        // A wet bulb alone is most of what evaporation asks of the air.
        if let (None, AirGiven::DryBulbWetBulb(_, slot), Some(wet)) = (pair, air.given, wet) {
            today.set(slot, wet);
        }
        pair.is_some()
    }

    /// The log's air said in the site's terms.
    fn other_air(
        &self,
        given: AirGiven,
        (dry, wet, humidity): (f64, Option<f64>, Option<f64>),
    ) -> Option<[(SlotId, f64); 2]> {
        let pressure = self.pressure?;
        let celsius = dry - ZERO_CELSIUS;
        let air = match (wet, humidity) {
            (Some(wet), _) => MoistAir::from_wet_bulb(celsius, wet - ZERO_CELSIUS, pressure),
            (None, Some(humidity)) => MoistAir::from_relative_humidity(celsius, humidity, pressure),
            (None, None) => return None,
        }
        .ok()?;
        let kelvin = |celsius: Result<f64, _>| celsius.ok().map(|c| c + ZERO_CELSIUS);
        Some(match given {
            AirGiven::DryBulbWetBulb(a, b) => [(a, dry), (b, kelvin(air.wet_bulb_celsius())?)],
            AirGiven::DryBulbRelativeHumidity(a, b) => [(a, dry), (b, air.relative_humidity())],
            AirGiven::DryBulbDewPoint(a, b) => [(a, dry), (b, kelvin(air.dew_point_celsius())?)],
            AirGiven::WetBulbRelativeHumidity(a, b) => {
                [(a, kelvin(air.wet_bulb_celsius())?), (b, air.relative_humidity())]
            }
        })
    }
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
fn daily(kg_per_s: f64) -> f64 {
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
