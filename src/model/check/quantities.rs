//! What a period's readings are, and how far they may be off.

use crate::check::reconcile::{Reading, Readings, Tracer};
use crate::check::watch;

/// A reading of the reconciliation, as a place in [`Errors`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    Makeup,
    Blowdown,
    Evaporation,
    Drift,
    MakeupConductivity,
    BasinConductivity,
    MakeupChloride,
    BasinChloride,
}

const PARTS: usize = 8;

/// Errors of readings: constant ones, and those that are new each time; relative standard
/// uncertainties.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Errors {
    pub constant: [f64; PARTS],
    pub random: [f64; PARTS],
    /// Of the water that a level says is stored, m3/d.
    pub stored: f64,
    /// Volume of the system over the length of the period, m3/d.
    pub volume: f64,
}

impl Errors {
    fn mean(errors: &[Self]) -> Self {
        let count = errors.len() as f64;
        let mean = |of: &dyn Fn(&Self) -> f64| errors.iter().map(of).sum::<f64>() / count;
        Self {
            constant: std::array::from_fn(|part| mean(&|errors| errors.constant[part])),
            random: std::array::from_fn(|part| mean(&|errors| errors.random[part])),
            stored: mean(&|errors| errors.stored),
            volume: mean(&|errors| errors.volume),
        }
    }
}

/// A tracer in makeup and basin, and what the basin gained of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TracerValues {
    pub makeup: f64,
    pub basin: f64,
    pub stored: f64,
}

/// The numbers of a period or of several; flows in m3/d.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Quantities {
    pub makeup: f64,
    pub blowdown: f64,
    pub evaporation: f64,
    /// Drift, with the leakage and overflow that the site file states.
    pub drift: f64,
    pub stored: f64,
    /// Conductivity, carried over to true cycles.
    pub conductivity: Option<TracerValues>,
    pub chloride: Option<TracerValues>,
}

impl Quantities {
    /// What leaves the basin as liquid by the balance of its first tracer.
    fn leaving(&self) -> Option<f64> {
        let tracer = self.conductivity.or(self.chloride)?;
        Some((self.makeup * tracer.makeup - tracer.stored) / tracer.basin)
    }

    /// With the standard uncertainty that a rule gives to each.
    fn with(&self, rule: &impl Rule) -> Readings {
        let reading = |part, value: f64, floor: f64| Reading {
            value,
            uncertainty: rule.of(part, value.abs().max(floor)),
        };
        let tracer = |values: TracerValues, makeup, basin| Tracer {
            makeup: reading(makeup, values.makeup, 0.0),
            basin: reading(basin, values.basin, 0.0),
            stored: Reading {
                value: values.stored,
                uncertainty: rule.of_stored_tracer(basin, values.basin),
            },
        };
        let conductivity = self
            .conductivity
            .map(|values| tracer(values, Part::MakeupConductivity, Part::BasinConductivity));
        let chloride =
            self.chloride.map(|values| tracer(values, Part::MakeupChloride, Part::BasinChloride));
        Readings {
            makeup: reading(Part::Makeup, self.makeup, 0.0),
            // A meter that shows nothing is as unsure as one that shows a hundredth of the makeup.
            blowdown: reading(Part::Blowdown, self.blowdown, 0.01 * self.makeup),
            evaporation: reading(Part::Evaporation, self.evaporation, 0.01 * self.makeup),
            drift: reading(Part::Drift, self.drift, 0.0),
            stored: Reading { value: self.stored, uncertainty: rule.of_stored() },
            tracers: conductivity.into_iter().chain(chloride).collect(),
        }
    }
}

/// How uncertain readings are.
trait Rule {
    /// Standard uncertainty of a reading of this size.
    fn of(&self, part: Part, value: f64) -> f64;
    /// Of the stored water, m3/d.
    fn of_stored(&self) -> f64;
    /// Of a stored tracer: two readings of the basin.
    fn of_stored_tracer(&self, part: Part, basin: f64) -> f64;
}

/// Both kinds of error, over so many periods: the constant ones stay, random ones average out, and
/// what is stored lies between the first and the last reading alone.
struct Pooled<'a> {
    errors: &'a Errors,
    periods: f64,
    titrations: f64,
    /// Rows of periods that follow upon each other.
    runs: f64,
    /// Whether constant errors count.
    constant: bool,
}

impl Pooled<'_> {
    fn readings_of(&self, part: Part) -> f64 {
        match part {
            Part::MakeupChloride | Part::BasinChloride => self.titrations.max(1.0),
            _ => self.periods,
        }
    }
}

impl Rule for Pooled<'_> {
    fn of(&self, part: Part, value: f64) -> f64 {
        let random = self.errors.random[part as usize] / self.readings_of(part).sqrt();
        let constant = if self.constant { self.errors.constant[part as usize] } else { 0.0 };
        value * random.hypot(constant)
    }

    fn of_stored(&self) -> f64 {
        self.errors.stored * self.runs.sqrt() / self.periods
    }

    fn of_stored_tracer(&self, part: Part, basin: f64) -> f64 {
        let each = self.errors.random[part as usize] * basin;
        (2.0 * self.runs).sqrt() * each * self.errors.volume / self.readings_of(part)
    }
}

/// The change from one time to another: constant errors drop out but for what they do to a reading
/// that has itself changed.
struct Changed<'a> {
    now: Pooled<'a>,
    before: Pooled<'a>,
    then: &'a Quantities,
    /// Makeup now over makeup then.
    scale: f64,
}

impl Changed<'_> {
    fn then(&self, part: Part) -> Option<f64> {
        let then = self.then;
        Some(match part {
            Part::Makeup => self.scale * then.makeup,
            Part::Blowdown => self.scale * then.blowdown,
            Part::Evaporation => self.scale * then.evaporation,
            Part::Drift => self.scale * then.drift,
            Part::MakeupConductivity => then.conductivity?.makeup,
            Part::BasinConductivity => then.conductivity?.basin,
            Part::MakeupChloride => then.chloride?.makeup,
            Part::BasinChloride => then.chloride?.basin,
        })
    }
}

impl Rule for Changed<'_> {
    fn of(&self, part: Part, value: f64) -> f64 {
        let constant = self.now.errors.constant;
        let random = self.now.of(part, value);
        let Some(then) = self.then(part) else {
            // Not read before: its constant error counts in full, and so do those of the flows that
            // its balance is made of.
            let flows = constant[Part::Makeup as usize].hypot(constant[Part::Blowdown as usize]);
            return random.hypot(value * constant[part as usize].hypot(flows));
        };
        let before = self.before.of(part, value);
        random.hypot(before).hypot(constant[part as usize] * (value - then).abs())
    }

    fn of_stored(&self) -> f64 {
        self.now.of_stored().hypot(self.before.of_stored())
    }

    fn of_stored_tracer(&self, part: Part, basin: f64) -> f64 {
        let before = self.before.of_stored_tracer(part, basin);
        self.now.of_stored_tracer(part, basin).hypot(before)
    }
}

/// The readings of one period, constant and random errors together.
pub(super) fn single(quantities: &Quantities, errors: &Errors) -> Readings {
    quantities.with(&Pooled { errors, periods: 1.0, titrations: 1.0, runs: 1.0, constant: true })
}

/// The readings of one period with its random errors alone.
pub(super) fn single_random(quantities: &Quantities, errors: &Errors) -> Readings {
    quantities.with(&Pooled { errors, periods: 1.0, titrations: 1.0, runs: 1.0, constant: false })
}

/// A period with its length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    pub hours: f64,
    pub quantities: Quantities,
    pub errors: Errors,
}

/// Means over several periods.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pool {
    quantities: Quantities,
    errors: Errors,
    periods: f64,
    titrations: f64,
    runs: f64,
}

impl Pool {
    /// Over the periods whose balances of water and of solids stand with the others'; `None` of none.
    pub fn of(periods: &[Stretch]) -> Option<Self> {
        let stands = |miss: &dyn Fn(&Quantities) -> f64| {
            let misses: Vec<f64> = periods.iter().map(|period| miss(&period.quantities)).collect();
            let mut stands = vec![false; periods.len()];
            watch::without_slips(&misses, 0.03).for_each(|index| stands[index] = true);
            stands
        };
        let of_makeup = |flow: f64, q: &Quantities| flow / q.makeup.max(f64::MIN_POSITIVE);
        let water = stands(&|q| of_makeup(q.makeup - q.evaporation - q.blowdown, q));
        let solids = stands(&|q| of_makeup(q.leaving().unwrap_or(q.blowdown) - q.blowdown, q));
        let kept: Vec<Stretch> = periods
            .iter()
            .zip(water.into_iter().zip(solids))
            .filter(|(_, (by_water, by_solids))| *by_water && *by_solids)
            .map(|(period, _)| *period)
            .collect();
        if kept.is_empty() {
            return None;
        }
        let mean = |of: &dyn Fn(&Quantities) -> Option<f64>| {
            let (sum, hours) = kept
                .iter()
                .filter_map(|period| Some((of(&period.quantities)?, period.hours)))
                .fold((0.0, 0.0), |(sum, all), (value, hours)| (sum + value * hours, all + hours));
            (hours > 0.0).then(|| sum / hours)
        };
        let flow = |of: &dyn Fn(&Quantities) -> f64| mean(&|q| Some(of(q))).unwrap_or(0.0);
        let tracer = |of: &dyn Fn(&Quantities) -> Option<TracerValues>| {
            Some(TracerValues {
                makeup: mean(&|q| of(q).map(|tracer| tracer.makeup))?,
                basin: mean(&|q| of(q).map(|tracer| tracer.basin))?,
                stored: mean(&|q| of(q).map(|tracer| tracer.stored))?,
            })
        };
        let errors: Vec<Errors> = kept.iter().map(|period| period.errors).collect();
        let titrations = kept.iter().filter(|period| period.quantities.chloride.is_some()).count();
        Some(Self {
            quantities: Quantities {
                makeup: flow(&|q| q.makeup),
                blowdown: flow(&|q| q.blowdown),
                evaporation: flow(&|q| q.evaporation),
                drift: flow(&|q| q.drift),
                stored: flow(&|q| q.stored),
                conductivity: tracer(&|q| q.conductivity),
                chloride: tracer(&|q| q.chloride),
            },
            errors: Errors::mean(&errors),
            periods: kept.len() as f64,
            titrations: titrations as f64,
            runs: 1.0,
        })
    }

    /// Of periods that stand in so many rows: what is stored lies between the ends of each.
    pub fn in_runs(self, runs: usize) -> Self {
        Self { runs: runs as f64, ..self }
    }

    /// Whether the first tracer is conductivity; else it is chloride.
    pub fn has_conductivity(&self) -> bool {
        self.quantities.conductivity.is_some()
    }

    fn pooled(&self, constant: bool) -> Pooled<'_> {
        let (periods, titrations, runs) = (self.periods, self.titrations, self.runs);
        Pooled { errors: &self.errors, periods, titrations, runs, constant }
    }

    /// As they are.
    pub fn readings(&self) -> Readings {
        self.quantities.with(&self.pooled(true))
    }

    /// What was read before, and what is read now with the uncertainty of the change; only tracers
    /// that are read now, and one that was not read before as its balance would have it.
    pub fn change_from(&self, before: &Self) -> (Readings, Readings) {
        let rule = Changed {
            now: self.pooled(false),
            before: before.pooled(false),
            then: &before.quantities,
            scale: self.quantities.makeup / before.quantities.makeup,
        };
        let now = self.quantities.with(&rule);
        let then = &before.quantities;
        let closed = |now: TracerValues| TracerValues {
            makeup: now.makeup,
            basin: then.makeup * now.makeup / (then.blowdown + then.drift),
            stored: 0.0,
        };
        let matched = |now: Option<TracerValues>, then: Option<TracerValues>| {
            now.map(|now| then.unwrap_or_else(|| closed(now)))
        };
        let then = Quantities {
            conductivity: matched(self.quantities.conductivity, then.conductivity),
            chloride: matched(self.quantities.chloride, then.chloride),
            ..*then
        };
        (then.with(&before.pooled(true)), now)
    }
}
