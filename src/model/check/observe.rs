//! The periods of a log as the detector takes them: from one reading of the basin to the next, as true
//! concentrations.

use super::CheckedPeriod;
use super::reach::Meters;
use super::readings::{Reader, bleed_needed};
use crate::check::detector::{Observed, Plant};
use crate::readings::period::Period;
use crate::site::description::Channel;
use crate::statistics::median;
use crate::water::ZERO_CELSIUS;
use jiff::civil::{DateTime, Weekday};

/// Makeup's quality is rarely read where fewer of the periods than this have a reading of their own.
const RARELY: f64 = 0.6;
/// Less and more makeup than these parts of the typical one say nothing of the solids, or of heat.
const SOLIDS_MAKEUP: (f64, f64) = (0.02, 3.5);
const HEAT_MAKEUP: (f64, f64) = (0.35, 3.0);
/// A period with so much more of its rows cold than is usual was a stop.
const COLD_ROWS: f64 = 0.3;
/// Evaporation is that of load and weather where so much of the log has both; else that of the heat alone.
const MOSTLY: f64 = 0.8;
/// What water of salts conducts more per K above [`REFERENCE`] (ISO 7888: some 2 %).
pub(crate) const PER_KELVIN: f64 = 0.02;
/// Temperature that conductivities are stated at, degC.
const REFERENCE: f64 = 25.0;
/// The meter does not compensate temperature where a conversion leaves less than so much of the solids' changes
/// from one period to the next.
const STEADIER: f64 = 0.9;
/// Ionic strength of a conductivity, mol/L per uS/cm (Standard Methods 2510).
const IONIC_STRENGTH: f64 = 1.6e-5;

/// A period with its readings, where it could be read.
pub(super) struct Read<'a> {
    pub period: &'a Period,
    pub checked: &'a CheckedPeriod,
    /// Place among the periods that could be checked.
    pub place: usize,
    /// Place among all periods of the log.
    pub index: usize,
}

/// What the detector observes, with the checked periods that each observation is made of.
pub(super) struct Observation {
    pub observed: Vec<Observed>,
    /// First and last place among the checked periods.
    pub of: Vec<(usize, usize)>,
    pub plant: Plant,
    /// Whether the basin's conductivity was converted to 25 degC by the cold water: its meter does not.
    pub is_converted: bool,
}

/// Each period with the last conductivities of makeup and basin, where it has none of its own: which
/// reading of the makeup it is, and its age in days.
pub(super) fn held(periods: &[Period]) -> (Vec<Period>, Vec<(usize, f64)>) {
    let channel = Channel::MakeupConductivity;
    let mut last: Option<(f64, DateTime)> = None;
    let mut basin: Option<f64> = None;
    let mut reading = 0;
    let begin = periods.first().map(|period| period.start);
    let mut ages = Vec::with_capacity(periods.len());
    let held = periods
        .iter()
        .map(|period| {
            if let Some(own) = period.get(channel) {
                last = Some((own, period.start));
                reading += 1;
            }
            basin = period.get(Channel::BasinConductivity).or(basin);
            let since = last.map(|(_, at)| at).or(begin).unwrap_or(period.start);
            ages.push((reading, days_between(since, period.start)));
            period
                .clone()
                .with_held(channel, last.map(|(value, _)| value))
                .with_held(Channel::BasinConductivity, basin)
        })
        .collect();
    (held, ages)
}

/// Concentration of a conductivity as water of salts conducts, in uS/cm of infinitely thin water:
/// k / y^2 with y the activity coefficient of an ion of one charge (Standard Methods 2510, from memory).
fn by_activity(siemens_per_metre: f64) -> f64 {
    let conductivity = 1e4 * siemens_per_metre;
    let root = (IONIC_STRENGTH * conductivity).sqrt();
    let log10 = -0.5 * (root / (1.0 + root) - 0.3 * root * root);
    conductivity / 10f64.powf(2.0 * log10)
}

/// Observations of the periods that could be read.
pub(super) fn observations(
    reader: &Reader<'_>,
    read: &[Read<'_>],
    readings: &[(usize, f64)],
) -> Observation {
    let by_conductivity =
        read.iter().any(|one| one.checked.stretch.quantities.conductivity.is_some());
    let scale = Concentrations::of(reader, read, by_conductivity);
    let own = readings.last().map_or(0, |(last, _)| *last);
    let rarely = (own as f64) < RARELY * readings.len() as f64;
    // One kind of estimate for the whole log: two of them would differ like a change of the load.
    let with_weather = read.iter().filter(|one| one.checked.has_weather).count();
    let with_load = read.iter().filter(|one| one.checked.evaporation_by_heat.is_some()).count();
    let by_weather = with_weather as f64 >= MOSTLY * with_load as f64;
    let meters = reader.meters();
    let plant = Plant {
        volume: reader.volume(),
        blowdown_by_valve: read.iter().all(|one| one.period.blowdown.is_none()),
        makeup_rarely_read: rarely,
        solids_are_read: meters.solids_are_read(),
    };
    let observed = |temperature_per_kelvin: f64| {
        let by = By { scale: &scale, by_weather, meters, temperature_per_kelvin };
        let parts: Vec<Part> =
            read.iter().filter_map(|one| Part::of(one, &by, readings[one.index])).collect();
        let (mut observed, of) = merged(&parts);
        judge(&mut observed, &parts, &of);
        choose_stored(&mut observed, &plant);
        let of = of.iter().map(|(from, to)| (parts[*from].place, parts[*to].place)).collect();
        Observation { observed, of, plant, is_converted: temperature_per_kelvin > 0.0 }
    };
    let as_read = observed(0.0);
    if !(by_conductivity && meters.solids_are_read() && meters.load) {
        return as_read;
    }
    let converted = observed(PER_KELVIN);
    let is_steadier =
        jumps(&converted.observed, &plant) < STEADIER * jumps(&as_read.observed, &plant);
    if is_steadier { converted } else { as_read }
}

/// How conductivities or chlorides become concentrations.
struct Concentrations<'a, 'b> {
    reader: &'a Reader<'b>,
    channel: Channel,
    makeup_channel: Channel,
    /// Typical makeup, in the channel's unit; none where nothing solves the water.
    typical: Option<f64>,
}

impl<'a, 'b> Concentrations<'a, 'b> {
    fn of(reader: &'a Reader<'b>, read: &[Read<'_>], by_conductivity: bool) -> Self {
        let (channel, makeup_channel) = match by_conductivity {
            true => (Channel::BasinConductivity, Channel::MakeupConductivity),
            false => (Channel::BasinChloride, Channel::MakeupChloride),
        };
        let makeups = read.iter().map(|one| {
            let values = &one.checked.stretch.quantities;
            if by_conductivity { values.conductivity } else { values.chloride }
                .map_or(f64::NAN, |values| values.makeup)
        });
        let typical = median(makeups).filter(|_| by_conductivity && reader.has_true_cycles());
        Self { reader, channel, makeup_channel, typical }
    }

    fn makeup(&self, value: f64) -> f64 {
        match self.channel {
            Channel::BasinChloride => value,
            _ => match self.typical {
                Some(typical) => by_activity(value) / by_activity(typical),
                None => by_activity(value),
            },
        }
    }

    fn basin(&self, value: f64) -> f64 {
        match self.channel {
            Channel::BasinChloride => value,
            _ => match self.typical {
                Some(typical) => self.reader.cycles_at(value, typical),
                None => by_activity(value),
            },
        }
    }
}

/// How periods become parts.
struct By<'a, 'b, 'c> {
    scale: &'a Concentrations<'b, 'c>,
    by_weather: bool,
    meters: Meters,
    /// By which the basin's conductivities are converted to 25 degC.
    temperature_per_kelvin: f64,
}

/// A period as it enters an observation.
struct Part {
    place: usize,
    begin: f64,
    end: f64,
    flows: [f64; 5],
    has_heat: bool,
    cold_rows: Option<f64>,
    makeup: f64,
    reading: (usize, f64),
    basin: [Option<f64>; 2],
    basin_mean: f64,
    cold_water: Option<f64>,
    wet_bulb: Option<f64>,
    weekend: f64,
}

/// Places in the flows of a part.
const MAKEUP: usize = 0;
const BLOWDOWN: usize = 1;
const DRIFT: usize = 2;
const STORED: usize = 3;
const EVAPORATION: usize = 4;

impl Part {
    fn of(one: &Read<'_>, by: &By<'_, '_, '_>, reading: (usize, f64)) -> Option<Self> {
        let &By { scale, by_weather, meters, temperature_per_kelvin } = by;
        let quantities = &one.checked.stretch.quantities;
        let tracer = match scale.channel {
            Channel::BasinChloride => quantities.chloride,
            _ => quantities.conductivity,
        }?;
        let (begin, end) = one.period.metered;
        let celsius = |channel| one.period.get(channel).map(|kelvin| kelvin - ZERO_CELSIUS);
        let makeup = one.period.get(scale.makeup_channel).unwrap_or(tracer.makeup);
        let evaporation = match by_weather {
            true => one.checked.has_weather.then_some(quantities.evaporation),
            false => one.checked.evaporation_by_heat,
        };
        // What is bled, where nobody reads it, follows from what evaporates.
        let blowdown = match meters.blowdown {
            true => quantities.blowdown,
            false => {
                bleed_needed(evaporation.unwrap_or(0.0), one.checked.held_cycles, quantities.drift)
            }
        };
        let mean_cold = one.period.get(Channel::ColdWater);
        let at_reference = |conductivity: f64, cold: Option<f64>| {
            let above = cold.or(mean_cold).map_or(0.0, |cold| cold - ZERO_CELSIUS - REFERENCE);
            conductivity / (1.0 + temperature_per_kelvin * above)
        };
        // Solids that are not read need no reading of the basin at either end.
        let (basin, basin_mean) = match meters.solids_are_read() {
            true => {
                let read = one.period.at_ends(scale.channel);
                let cold = one.period.at_ends(Channel::ColdWater);
                let at = |end: usize| read[end].map(|at| scale.basin(at_reference(at, cold[end])));
                let mean = at_reference(one.period.get(scale.channel)?, mean_cold);
                ([at(0), at(1)], scale.basin(mean))
            }
            false => ([Some(1.0); 2], 1.0),
        };
        Some(Self {
            place: one.place,
            begin: days_of(begin),
            end: days_of(end),
            flows: [
                quantities.makeup,
                blowdown,
                quantities.drift,
                quantities.stored,
                evaporation.unwrap_or(f64::NAN),
            ],
            has_heat: evaporation.is_some(),
            cold_rows: one.period.cold_rows,
            makeup: scale.makeup(makeup),
            reading,
            basin,
            basin_mean,
            cold_water: celsius(Channel::ColdWater),
            // Without a wet bulb the cold water follows the season.
            wet_bulb: celsius(Channel::WetBulb).or(celsius(Channel::ColdWater)),
            weekend: weekend(begin, end),
        })
    }

    fn days(&self) -> f64 {
        self.end - self.begin
    }
}

/// Periods joined until the basin was read at both ends; what is never closed is left out.
fn merged(parts: &[Part]) -> (Vec<Observed>, Vec<(usize, usize)>) {
    let mut observed = Vec::new();
    let mut of = Vec::new();
    let mut from: Option<usize> = None;
    for (place, part) in parts.iter().enumerate() {
        let follows = place > 0 && (part.begin - parts[place - 1].end).abs() < 0.02;
        if from.is_none() || !follows {
            from = part.basin[0].map(|_| place);
        }
        if let (Some(first), Some(_)) = (from, part.basin[1]) {
            observed.push(observation(&parts[first..=place]));
            of.push((first, place));
            from = None;
        }
        // The reading that closes one opens the next.
        if from.is_none() && part.basin[1].is_some() {
            from = Some(place + 1);
        }
    }
    number(&mut observed);
    (observed, of)
}

fn observation(parts: &[Part]) -> Observed {
    let days: f64 = parts.iter().map(Part::days).sum();
    let mean =
        |of: &dyn Fn(&Part) -> f64| parts.iter().map(|p| p.days() * of(p)).sum::<f64>() / days;
    let known = |of: &dyn Fn(&Part) -> Option<f64>| {
        let known: Vec<(f64, f64)> =
            parts.iter().filter_map(|part| Some((part.days(), of(part)?))).collect();
        let days: f64 = known.iter().map(|(days, _)| days).sum();
        (days > 0.0).then(|| known.iter().map(|(days, value)| days * value).sum::<f64>() / days)
    };
    let flow = |place: usize| mean(&|part| part.flows[place]);
    let [first, last] = [&parts[0], &parts[parts.len() - 1]];
    let has_heat = parts.iter().all(|part| part.has_heat);
    // The makeup's concentration weighs by the water that it came with.
    let solids: f64 = parts.iter().map(|p| p.days() * p.flows[MAKEUP] * p.makeup).sum();
    let water: f64 = parts.iter().map(|p| p.days() * p.flows[MAKEUP]).sum();
    let makeup_concentration = if water > 0.0 { solids / water } else { mean(&|part| part.makeup) };
    Observed {
        begin: first.begin,
        end: last.end,
        makeup: flow(MAKEUP),
        blowdown: flow(BLOWDOWN),
        drift: flow(DRIFT),
        stored: flow(STORED),
        stored_with_solids: flow(STORED),
        evaporation: has_heat.then(|| flow(EVAPORATION)),
        makeup_concentration,
        makeup_reading: last.reading.0,
        makeup_reading_age: last.reading.1,
        basin: [
            first.basin[0].unwrap_or(first.basin_mean),
            last.basin[1].unwrap_or(last.basin_mean),
        ],
        basin_reading: [0, 0],
        cold_water: known(&|part| part.cold_water),
        wet_bulb: known(&|part| part.wet_bulb),
        weekend: mean(&|part| part.weekend),
        makeup_meter: 0,
        counts_in_solids: true,
        counts_in_heat: has_heat,
    }
}

/// Numbers the basin's readings: the end of one period is the begin of the next that follows at once.
fn number(observed: &mut [Observed]) {
    let mut reading = 0;
    for place in 0..observed.len() {
        let follows = place > 0 && (observed[place].begin - observed[place - 1].end).abs() < 0.02;
        if !follows {
            reading += 1;
        }
        observed[place].basin_reading = [reading, reading + 1];
        reading += 1;
    }
}

/// Says which periods say something of solids and of heat.
fn judge(observed: &mut [Observed], parts: &[Part], of: &[(usize, usize)]) {
    let Some(typical) = median(observed.iter().map(|period| period.makeup)) else { return };
    let cold = |(from, to): (usize, usize)| {
        let rows: Vec<f64> = parts[from..=to].iter().filter_map(|part| part.cold_rows).collect();
        (!rows.is_empty()).then(|| rows.iter().sum::<f64>() / rows.len() as f64)
    };
    let usual = median(of.iter().filter_map(|of| cold(*of))).unwrap_or(0.0);
    let mut after_stop = false;
    for (period, of) in observed.iter_mut().zip(of) {
        let within = |(least, most): (f64, f64)| {
            period.makeup > least * typical && period.makeup < most * typical
        };
        let stood = cold(*of).is_some_and(|cold| cold > usual + COLD_ROWS);
        period.counts_in_solids = within(SOLIDS_MAKEUP);
        period.counts_in_heat =
            period.counts_in_heat && within(HEAT_MAKEUP) && !stood && !after_stop;
        after_stop = stood || !period.counts_in_solids;
    }
}

/// Takes the level into the balance of solids only where that makes it steadier: a level of one moment
/// beside a conductivity of another is worse than none.
fn choose_stored(observed: &mut [Observed], plant: &Plant) {
    let without: Vec<Observed> = observed
        .iter()
        .map(|period| Observed { stored_with_solids: 0.0, ..period.clone() })
        .collect();
    if jumps(&without, plant) <= jumps(observed, plant) {
        observed.iter_mut().for_each(|period| period.stored_with_solids = 0.0);
    }
}

/// By how much what the solids leave over changes from one period to the next.
fn jumps(observed: &[Observed], plant: &Plant) -> f64 {
    let left = crate::check::detector::solids_left(observed, plant);
    median(left.windows(2).map(|pair| (pair[1].1 - pair[0].1).abs())).unwrap_or(0.0)
}

/// Days since a fixed day.
fn days_of(time: DateTime) -> f64 {
    let origin = DateTime::constant(2000, 1, 1, 0, 0, 0, 0);
    days_between(origin, time)
}

fn days_between(from: DateTime, to: DateTime) -> f64 {
    to.duration_since(from).as_secs_f64() / 86_400.0
}

/// The part between two times that falls on Saturdays and Sundays, by the middle of each hour.
fn weekend(begin: DateTime, end: DateTime) -> f64 {
    let hours = (days_between(begin, end) * 24.0).round().clamp(1.0, 24.0 * 60.0) as i64;
    let is_weekend = |hour: &i64| {
        let seconds =
            (days_between(begin, end) * 86_400.0 * (*hour as f64 + 0.5) / hours as f64) as i64;
        let at = begin.checked_add(jiff::SignedDuration::from_secs(seconds)).unwrap_or(begin);
        matches!(at.weekday(), Weekday::Saturday | Weekday::Sunday)
    };
    (0..hours).filter(is_weekend).count() as f64 / hours as f64
}
