//! The uncertainty of what every command answers, by one mechanism: its numbers as a function of the
//! inputs, propagated to first order.

use super::blowdown::Stop;
use super::level::{Courses, RunningBasin};
use super::tower_water::KnownWater;
use super::{Balance, Contribution, Inputs, LevelQuestions, Model, SlotId, Spread, Workspace};
use crate::balance::{self, BlowdownBasis};
use crate::blowdown::ConcentratedWater;
use crate::blowdown::limit::{Limit, Measure};
use crate::blowdown::target::{self, Binding};
use crate::chemistry::Mineral;
use crate::quantity::unit::{self, Unit};
use crate::site::Value;
use crate::transient::{Event, Substance};

/// A result with its uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct Uncertain {
    /// Its name for people.
    pub label: String,
    /// Its name in machine output.
    pub key: String,
    /// Its unit; `None` for money.
    pub unit: Option<&'static Unit>,
    /// In that unit.
    pub value: f64,
    /// Standard uncertainty in that unit.
    pub standard: f64,
    /// Paths of the inputs it comes from, largest first, with the square of each effect as a part of the
    /// sum of all squares.
    pub from: Vec<(String, f64)>,
    /// Inputs whose effect rests on one side, because the other has no result.
    pub one_sided: Vec<String>,
    /// The inputs among them that nobody stated a `±` for, largest first, with the same parts.
    pub unstated: Vec<(Value, f64)>,
    /// Whether it is too curved within its uncertainty for first order.
    pub is_curved: bool,
    /// Whether nobody stated any of the `±` that it comes from.
    pub rests_on_defaults: bool,
}

/// Stated errors that make up less of the variance than this make up none of it.
const NEGLIGIBLE: f64 = 0.01;

/// Limit of what a mineral's saturation index is off by at this temperature: half of the largest difference between
/// two releases of the database of equilibrium constants, because the truth is taken to lie between them
/// (phreeqc.dat as used here and of December 2025, seven waters at 1 to 10 cycles). They differ by 0.005 to 0.093
/// in calcite at 35 degC, 0.034 to 0.154 at 50, 0.05 to 0.20 at 60; -0.21 to 0.10 in gypsum; up to 0.28 in
/// sepiolite; within 0.09 in silica. The others are taken for the worst of calcite.
fn index_error(mineral: Mineral, celsius: f64) -> f64 {
    let calcite = 0.09 + (0.20 - 0.09) * ((celsius - 35.0) / 25.0).clamp(0.0, 1.0);
    let difference = match mineral {
        Mineral::Calcite => calcite,
        Mineral::Gypsum => 0.21,
        Mineral::MagnesiumSilicate => 0.28,
        Mineral::AmorphousSilica => 0.09,
        _ => 0.20,
    };
    0.5 * difference
}

/// Name, key and unit of a result.
struct What(String, String, Option<&'static Unit>);

fn what(label: &str, key: &str, unit: &'static Unit) -> What {
    What(label.into(), key.into(), Some(unit))
}

/// What a blowdown target rests on, with its uncertainty.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct UncertainBlowdown {
    /// Allowed cycles before rounding, blowdown and conductivity there.
    pub results: Vec<Uncertain>,
    /// Limits that take the lead within a standard uncertainty of some input, beside the one that has
    /// it: then the allowed cycles have no single ±.
    pub others_lead: Vec<String>,
}

/// A blowdown target whose ± is sought about it.
pub(super) struct KnownTarget<'a> {
    pub site: KnownWater<'a>,
    pub limits: &'a [Limit],
    pub bindings: &'a [Binding],
    /// At the cycles that are allowed.
    pub water: ConcentratedWater,
}

/// What the inputs leave open of a blowdown target.
pub(super) struct BlowdownSpread {
    centre: Vec<f64>,
    spread: Spread,
    others_lead: Vec<String>,
}

/// What is held, whatever the inputs really are.
pub(super) struct HeldTarget {
    /// Cycles.
    pub cycles: f64,
    /// Set point, S/m.
    pub set_point: Option<f64>,
    /// Change of the conductivity for a cycle at the allowed cycles, as a part of it.
    pub relative_slope: f64,
}

/// Places of the allowed cycles and the conductivity there in a [`BlowdownSpread`].
const ALLOWED: usize = 0;
const CONDUCTIVITY: usize = 2;
/// Places of evaporation and other losses, m3/h, in a [`BlowdownSpread`].
const EVAPORATION: usize = 3;
const OTHER_LOSSES: usize = 4;

impl BlowdownSpread {
    /// Standard uncertainty of the allowed cycles from some of the inputs, where it is more than the search
    /// leaves.
    pub(super) fn allowed_standard(&self, counts: impl Fn(SlotId) -> bool) -> Option<f64> {
        self.spread.of_inputs(0, counts).filter(|standard| *standard > LEAST_STANDARD)
    }
}

/// Cycles; the search for them ends there.
const LEAST_STANDARD: f64 = 1e-3;

/// Names of the numbers of a level sheet that carry a ±.
fn level_names() -> [What; 5] {
    let bill = "a week with the valve stuck open".into();
    [
        what("makeup now", "makeup_m3_per_h", &unit::CUBIC_METRE_PER_HOUR),
        what("lost at a pump stop", "overflowed_at_a_stop_m3", &unit::CUBIC_METRE),
        what("the float settles at", "settles_at_m", &unit::METRE),
        what("empty without makeup after", "makeup_lost_empties_at_h", &unit::HOUR),
        What(bill, "stuck_open_bill_total".into(), None),
    ]
}

fn tenths(hour: f64) -> f64 {
    (10.0 * hour).round() / 10.0
}

/// The key of the cycles at an hour of a course.
fn cycles_key(hour: f64) -> String {
    format!("cycles_at_{}_h", tenths(hour))
}

impl Model {
    /// Whether any number of the site carries an uncertainty.
    pub fn is_uncertain(&self) -> bool {
        self.slots().iter().any(|value| value.uncertainty.is_some())
    }

    /// Results with what the inputs leave open of them; `None` where no input carries an uncertainty, or
    /// where there are no results.
    fn with_spread(
        &self,
        inputs: &Inputs,
        mut results: impl FnMut(&Inputs) -> Option<Vec<f64>>,
    ) -> Option<(Vec<f64>, Spread)> {
        if !self.is_uncertain() {
            return None;
        }
        let centre = results(inputs)?;
        let spread = self.propagate(inputs, &centre, results);
        Some((centre, spread))
    }

    /// The inputs of these effects that nobody stated a `±` for.
    fn unstated(&self, effects: &[(&Contribution, f64)], squares: f64) -> Vec<(Value, f64)> {
        let with_part = |(input, effect): &(&Contribution, f64)| {
            (self.slot_value(input.slot).clone(), effect * effect / squares)
        };
        let inputs = effects.iter().map(with_part);
        inputs.filter(|(value, _)| value.default_uncertainty.is_some()).collect()
    }

    /// Whether nobody stated any `±` that counts among these effects.
    pub(super) fn rests_on_defaults(&self, effects: &[(&Contribution, f64)]) -> bool {
        let squares: f64 = effects.iter().map(|(_, effect)| effect * effect).sum();
        let stated = effects
            .iter()
            .filter(|(input, _)| !self.slot_value(input.slot).is_uncertain_by_default())
            .map(|(_, effect)| effect * effect);
        stated.sum::<f64>() < NEGLIGIBLE * squares
    }

    fn uncertain(
        &self,
        inputs: &Inputs,
        what: Vec<What>,
        results: impl FnMut(&Inputs) -> Option<Vec<f64>>,
    ) -> Vec<Uncertain> {
        match self.with_spread(inputs, results) {
            Some((centre, spread)) => self.told(what, &centre, &spread),
            None => Vec::new(),
        }
    }

    /// The first results of a spread under their names.
    fn told(&self, what: Vec<What>, centre: &[f64], spread: &Spread) -> Vec<Uncertain> {
        what.into_iter()
            .enumerate()
            .filter_map(|(index, What(label, key, unit))| {
                let standard = spread.of(index)?;
                let effects = spread.largest_first_of(index);
                let squares: f64 = effects.iter().map(|(_, effect)| effect * effect).sum();
                Some(Uncertain {
                    label,
                    key,
                    unit,
                    value: centre[index],
                    standard,
                    is_curved: spread.is_curved(index),
                    rests_on_defaults: self.rests_on_defaults(&effects),
                    unstated: self.unstated(&effects, squares),
                    from: effects
                        .into_iter()
                        .map(|(input, effect)| (input.path.clone(), effect * effect / squares))
                        .collect(),
                    one_sided: spread
                        .one_sided_of(index)
                        .into_iter()
                        .map(|input| input.path.clone())
                        .collect(),
                })
            })
            .filter(|result| result.value.is_finite())
            .collect()
    }

    /// What the inputs leave open of the cycles that are allowed, known for a water under its limits; with the
    /// place between the field lines held, where the target is for one. `None` where no input carries an
    /// uncertainty.
    pub(super) fn blowdown_spread(
        &self,
        inputs: &Inputs,
        known: KnownTarget,
        at_end: Option<(SlotId, f64)>,
    ) -> Option<BlowdownSpread> {
        let mut leading: Vec<String> = Vec::new();
        let mut held = inputs.clone();
        let results = |inputs: &Inputs| {
            held.clone_from(inputs);
            if let Some((slot, place)) = at_end {
                self.write(&mut held, slot, place);
            }
            let (numbers, leads) = self.blowdown_numbers(&held, &known)?;
            if !leading.contains(&leads) {
                leading.push(leads);
            }
            Some(numbers)
        };
        let (centre, spread) = self.with_spread(inputs, results)?;
        leading.drain(..leading.len().min(1));
        Some(BlowdownSpread { centre, spread, others_lead: leading })
    }

    /// How sure a blowdown target is.
    pub(super) fn uncertain_blowdown(
        &self,
        BlowdownSpread { mut centre, mut spread, others_lead }: BlowdownSpread,
        target: Option<HeldTarget>,
        stop: Stop,
    ) -> UncertainBlowdown {
        let mut what = vec![
            what("allowed cycles", "allowed_cycles", &unit::ONE),
            what("blowdown there", "blowdown_m3_per_h", &unit::CUBIC_METRE_PER_HOUR),
            what(
                "conductivity there",
                "conductivity_us_per_cm",
                &unit::MICROSIEMENS_PER_CENTIMETRE,
            ),
        ];
        // What is set stays, whatever the inputs really are.
        if let Some(HeldTarget { cycles, set_point, relative_slope }) = target {
            // At the same cycles: without what the conductivity moves by with those that are allowed.
            let slope = relative_slope * centre[CONDUCTIVITY];
            let scale = set_point.map(|siemens| {
                unit::MICROSIEMENS_PER_CENTIMETRE.of_si(siemens) / centre[CONDUCTIVITY]
            });
            let conducts = |of: &[f64]| of[CONDUCTIVITY] - slope * of[ALLOWED];
            let blowdown = |of: &[f64]| of[EVAPORATION] / (cycles - 1.0) - of[OTHER_LOSSES];
            centre[EVAPORATION] = blowdown(&centre);
            for contribution in &mut spread.contributions {
                contribution.effects[EVAPORATION] = blowdown(&contribution.effects);
                contribution.shifts[EVAPORATION] = blowdown(&contribution.shifts);
                if let Some(scale) = scale {
                    contribution.effects[OTHER_LOSSES] = scale * conducts(&contribution.effects);
                    contribution.shifts[OTHER_LOSSES] = scale * conducts(&contribution.shifts);
                }
            }
            what.push(self::what(
                "blowdown at the target",
                "blowdown_at_target_m3_per_h",
                &unit::CUBIC_METRE_PER_HOUR,
            ));
            if let Some(scale) = scale {
                centre[OTHER_LOSSES] = scale * centre[CONDUCTIVITY];
                let unit = &unit::MICROSIEMENS_PER_CENTIMETRE;
                what.push(self::what("set point", "set_point_us_per_cm", unit));
            }
        }
        let mut results = self.told(what, &centre, &spread);
        // What is common practice has no ±.
        if matches!(stop, Stop::Usual | Stop::LeastSaving | Stop::Nothing) {
            const OF_THE_TARGET: [&str; 2] = ["blowdown_at_target_m3_per_h", "set_point_us_per_cm"];
            results.retain(|result| OF_THE_TARGET.contains(&result.key.as_str()));
        }
        UncertainBlowdown { results, others_lead }
    }

    /// Allowed cycles, blowdown in m3/h and conductivity in uS/cm there, evaporation and other losses in m3/h,
    /// and which limit leads.
    fn blowdown_numbers(&self, inputs: &Inputs, known: &KnownTarget) -> Option<(Vec<f64>, String)> {
        let balance = self.evaluate(inputs, &mut Workspace::new(self)).ok()?;
        let water = self.site_water_near(inputs, &balance, Some(&known.site)).ok()?;
        let mut limits = self.limits(inputs, &water).limits;
        let [_, surface] = water.tower.constants();
        self.shift_indices(inputs, surface.celsius(), &mut limits);
        // Most inputs leave the water and its limits as they were.
        let is_known = water.tower.is_like(known.site.tower);
        let by_limits = match is_known && limits == *known.limits {
            true => target::ceiling(known.bindings).and_then(Binding::ceiling_of),
            false => {
                target::ceiling_near(&water.tower, &limits, known.bindings, &known.water).ok()?
            }
        };
        let caps = self.caps(inputs, &balance.water, &limits);
        let (cycles, stop) = caps.computed(by_limits.map(|(cycles, _)| cycles));
        let leads = match (stop, by_limits) {
            (Stop::Limit, Some((_, measure))) => measure.name(),
            (Stop::HalfLife, _) => "the longest half-life".into(),
            _ => "other losses".into(),
        };
        let losses = balance.water.losses();
        let closed = balance::close(&losses, BlowdownBasis::Cycles(cycles)).ok()?;
        let conductivity = match is_known && cycles == known.water.cycles {
            true => known.water.conductivity,
            false => water.tower.at_cycles_near(cycles, &known.water).ok()?.conductivity,
        };
        let measured = Some(self.makeup_conductivity(inputs)).filter(|s| s.is_finite());
        let scale = measured.map_or(1.0, |measured| measured / water.makeup.conductivity);
        let off = self.site.method.conductivity.map_or(1.0, |slot| inputs.get(slot));
        let conductivity = unit::MICROSIEMENS_PER_CENTIMETRE.of_si(off * scale * conductivity);
        let [there, evaporation, other] =
            [closed.blowdown_kg_per_s, losses.evaporation_kg_per_s, losses.liquid_kg_per_s()]
                .map(Balance::reference_m3_per_h);
        Some((vec![cycles, there, conductivity, evaporation, other], leads))
    }

    /// Takes what the database may be off by from limits of saturation indices: an index that reads low is held
    /// against a limit that is lower by as much.
    fn shift_indices(&self, inputs: &Inputs, celsius: f64, limits: &mut [Limit]) {
        let times = self.site.method.saturation_index.map_or(0.0, |slot| inputs.get(slot));
        for limit in limits {
            if let Measure::SaturationIndex(mineral) = limit.measure {
                limit.value -= times * index_error(mineral, celsius);
            }
        }
    }

    /// How sure the cycles of a course are, row by row.
    pub fn uncertain_transient(
        &self,
        inputs: &Inputs,
        cycles: Option<f64>,
        substance: Substance,
        events: &[Event],
        hours: f64,
    ) -> Vec<Uncertain> {
        let Ok(sheet) = self.transient(inputs, cycles, substance, events, hours) else {
            return Vec::new();
        };
        let places: Vec<f64> = sheet.rows.iter().map(|row| row.hour).collect();
        let names = places
            .iter()
            .map(|hour| {
                let shown = tenths(*hour);
                what(&format!("cycles at {shown} h"), &cycles_key(*hour), &unit::ONE)
            })
            .collect();
        let at = |inputs: &Inputs| self.cycles_at((inputs, cycles, substance, events), &places);
        self.uncertain(inputs, names, at)
    }

    /// The cycles of a course at these hours.
    fn cycles_at(
        &self,
        (inputs, cycles, substance, events): (&Inputs, Option<f64>, Substance, &[Event]),
        places: &[f64],
    ) -> Option<Vec<f64>> {
        let hours = places.iter().fold(0.0, |most: f64, place| most.max(*place));
        let sheet = self.transient(inputs, cycles, substance, events, hours).ok()?;
        Some(places.iter().map(|hour| sheet.cycles_at(*hour)).collect())
    }

    /// Standard uncertainties of the cycles of a course at these hours, 0 where a controller holds them;
    /// empty where no input carries one.
    pub fn transient_spread(
        &self,
        inputs: &Inputs,
        cycles: Option<f64>,
        substance: Substance,
        events: &[Event],
        places: &[f64],
    ) -> Vec<f64> {
        let at = |inputs: &Inputs| self.cycles_at((inputs, cycles, substance, events), places);
        let Some((_, spread)) = self.with_spread(inputs, at) else { return Vec::new() };
        (0..places.len()).map(|place| spread.of(place).unwrap_or(0.0)).collect()
    }

    /// How sure the feed of every chemical is, and what all cost in a year.
    pub fn uncertain_feed(&self, inputs: &Inputs) -> Vec<Uncertain> {
        let Ok(sheet) = self.feed(inputs) else { return Vec::new() };
        let mut names: Vec<What> = sheet
            .lines
            .iter()
            .map(|line| {
                let key = format!("{}_kg_per_day", line.name);
                What(line.name.clone(), key, Some(&unit::KILOGRAM_PER_DAY))
            })
            .collect();
        names.push(What("all chemicals in a year".into(), "cost_per_year".into(), None));
        self.uncertain(inputs, names, |inputs| {
            let sheet = self.feed(inputs).ok()?;
            let cost = sheet.lines.iter().filter_map(|line| line.cost_per_year).sum();
            Some(sheet.lines.iter().map(|line| line.product_kg_per_day).chain([cost]).collect())
        })
        .into_iter()
        .filter(|result| result.value > 0.0)
        .collect()
    }

    /// How sure makeup and level are, and what goes wrong in the basin.
    pub fn uncertain_level(&self, inputs: &Inputs, questions: LevelQuestions) -> Vec<Uncertain> {
        let mut work = Workspace::new(self);
        let Ok(known) = self.running_basin(inputs, &mut work) else { return Vec::new() };
        let known = known.unwatched();
        let Ok(known_courses) = known.courses() else { return Vec::new() };
        let mut numbers = |inputs: &Inputs| {
            let running = self.running_basin(inputs, &mut work).ok()?.unwatched();
            // Many inputs leave basin and circuit as they were.
            let followed = match running.runs_like(&known) {
                true => None,
                false => Some(running.courses().ok()?),
            };
            let courses = followed.as_ref().unwrap_or(&known_courses);
            self.level_numbers(inputs, &running, (courses, questions.stuck))
        };
        let Some(centre) = numbers(inputs) else { return Vec::new() };
        let (names, places): (Vec<What>, Vec<usize>) = level_names()
            .into_iter()
            .enumerate()
            .filter(|(place, _)| centre[*place].is_some())
            .map(|(place, name)| (name, place))
            .unzip();
        self.uncertain(inputs, names, |inputs| {
            let found = numbers(inputs)?;
            places.iter().map(|place| found[*place]).collect()
        })
    }

    /// The numbers of a level sheet that carry a ±, in the order of [`level_names`].
    fn level_numbers(
        &self,
        inputs: &Inputs,
        running: &RunningBasin,
        (courses, stuck): (&Courses, f64),
    ) -> Option<[Option<f64>; 5]> {
        let bill = match self.prices(inputs) {
            Some(prices) => running
                .billed_week(stuck, &prices)
                .ok()?
                .and_then(|week| self.stuck_bill(running, prices, week)),
            None => None,
        };
        Some([
            Some(running.demand),
            Some(courses.stop.overflowed),
            running.settles_at,
            courses.lost.empties_at,
            bill.map(|bill| bill.more.total()),
        ])
    }

    /// How sure the money of a year is.
    pub fn uncertain_money(&self, inputs: &Inputs) -> Vec<Uncertain> {
        let mut work = Workspace::new(self);
        let total = |inputs: &Inputs| {
            let balance = self.evaluate(inputs, &mut work).ok()?;
            Some(vec![self.money_total(inputs, &balance)?])
        };
        let name = What("all money in a year".into(), "total_per_year".into(), None);
        self.uncertain(inputs, vec![name], total)
    }
}
