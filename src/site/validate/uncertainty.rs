//! Checks what a description says of instruments and correlations.

use super::Check;
use crate::quantity::{Coverage, Quantity, Uncertainty, UnitSystem, read_value};
use crate::site::description::{Correlation, Instrument};
use crate::site::{Problem, Reading, SiteInstrument, SlotId};

/// Correlated numbers with their Cholesky factor.
type Correlated = (Vec<SlotId>, Vec<Vec<f64>>);

impl Check {
    /// Instruments; each gives the numbers that it reads their uncertainty.
    pub(super) fn site_instruments(&mut self, instruments: &[Instrument]) -> Vec<SiteInstrument> {
        let mut checked: Vec<SiteInstrument> = Vec::new();
        for (index, instrument) in instruments.iter().enumerate() {
            let path = format!("instrument.{}", index + 1);
            if instrument.reads.is_empty() {
                self.problem(
                    Problem::new(&*path, "the instrument reads nothing")
                        .with_help("write reads = [\"circuit.hot_water\", \"circuit.cold_water\"]"),
                );
            }
            if instrument.accuracy.is_none() && instrument.repeatability.is_none() {
                self.problem(Problem::new(&*path, "the instrument has no error").with_help(
                    "write accuracy = \"0.3 K\" (a limit of its constant error), or repeatability (one standard deviation)",
                ));
            }
            let readings = instrument
                .reads
                .iter()
                .filter_map(|read| self.reading(&path, instrument, read, &checked))
                .collect();
            checked.push(SiteInstrument { readings });
        }
        checked
    }

    fn reading(
        &mut self,
        path: &str,
        instrument: &Instrument,
        read: &str,
        before: &[SiteInstrument],
    ) -> Option<Reading> {
        let slot = self.slot_at(&format!("{path}.reads"), read)?;
        if before.iter().any(|other| other.readings.iter().any(|r| r.slot == slot)) {
            let message = format!("{read} is read by two instruments");
            self.problem(Problem::new(format!("{path}.reads"), message));
            return None;
        }
        let value = &self.slots[slot.0];
        if value.uncertainty.is_some() && value.assumed.is_none() {
            self.over_determined(
                &[read, path],
                &format!("the uncertainty of {read} is stated twice"),
                "keep the ± of the value, or the instrument",
            );
            return None;
        }
        let (quantity, si) = (value.quantity, value.si);
        let calibration =
            self.error(&format!("{path}.accuracy"), &instrument.accuracy, (quantity, si))?;
        let single = self.error(
            &format!("{path}.repeatability"),
            &instrument.repeatability,
            (quantity, si),
        )?;
        let readings = instrument.readings.unwrap_or(1);
        if readings < 1 {
            self.problem(Problem::new(
                format!("{path}.readings"),
                "a mean is of one reading at the least",
            ));
            return None;
        }
        // A plain number is one standard deviation here, not a limit.
        let random = match single.coverage {
            Coverage::Limit => single.half_width,
            Coverage::Factor(_) => single.standard(),
        } / (readings as f64).sqrt();
        let standard = calibration.standard().hypot(random);
        self.slots[slot.0].uncertainty =
            Some(Uncertainty { half_width: standard, coverage: Coverage::Factor(1.0) });
        Some(Reading { slot, calibration, random })
    }

    /// An error of a reading, read as what stands behind its ±.
    fn error(
        &mut self,
        path: &str,
        text: &Option<String>,
        (quantity, si): (Quantity, f64),
    ) -> Option<Uncertainty> {
        let Some(text) = text else { return Some(Uncertainty::limit(0.0)) };
        const COUNTED: [Quantity; 3] = [
            Quantity::MassConcentration,
            Quantity::MolarConcentration,
            Quantity::EquivalentConcentration,
        ];
        if COUNTED.contains(&quantity) && !text.contains('%') {
            self.problem(
                Problem::new(path, "an error of a concentration needs its basis")
                    .with_help("write it in per cent of the reading, as in \"3 %\""),
            );
            return None;
        }
        let unit = quantity.shown_in(UnitSystem::Si);
        let whole = format!("{} {} ± {text}", unit.of_si(si), unit.symbol);
        match read_value(&whole, quantity) {
            Ok((_, Some(error))) => Some(error),
            Ok((_, None)) => Some(Uncertainty::limit(0.0)),
            Err(error) => {
                self.problem(Problem::new(path, error.message).with_help(error.help));
                None
            }
        }
    }

    /// Correlation coefficients between numbers, beside what instruments make of them.
    pub(super) fn correlations(
        &mut self,
        stated: &[Correlation],
        instruments: &[SiteInstrument],
    ) -> (Vec<(SlotId, SlotId, f64)>, Vec<Correlated>) {
        let mut correlations: Vec<(SlotId, SlotId, f64)> = Vec::new();
        for (index, correlation) in stated.iter().enumerate() {
            let path = format!("correlation.{}", index + 1);
            let Some((a, b, coefficient)) = self.correlation(&path, correlation, instruments)
            else {
                continue;
            };
            let is_it =
                |(x, y, _): &&(SlotId, SlotId, f64)| (*x, *y) == (a, b) || (*x, *y) == (b, a);
            if correlations.iter().any(|other| is_it(&other)) {
                let message = "the correlation of these two is stated already";
                self.problem(Problem::new(format!("{path}.between"), message));
                continue;
            }
            correlations.push((a, b, coefficient));
        }
        let correlated = self.factors(stated, &correlations);
        let shared = instruments.iter().flat_map(SiteInstrument::correlations);
        (shared.chain(correlations).collect(), correlated)
    }

    fn correlation(
        &mut self,
        path: &str,
        correlation: &Correlation,
        instruments: &[SiteInstrument],
    ) -> Option<(SlotId, SlotId, f64)> {
        let ([a, b], Some(coefficient)) = (correlation.between.as_slice(), correlation.coefficient)
        else {
            self.problem(
                Problem::new(path, "two inputs and their coefficient are needed").with_help(
                    "write between = [\"air.dry_bulb\", \"air.wet_bulb\"] and coefficient = 0.6",
                ),
            );
            return None;
        };
        let between = format!("{path}.between");
        let slots = [self.slot_at(&between, a)?, self.slot_at(&between, b)?];
        let refused = if slots[0] == slots[1] {
            Some((between, format!("{a} stands twice")))
        } else if !(-1.0..=1.0).contains(&coefficient) {
            Some((format!("{path}.coefficient"), "a coefficient lies from -1 to 1".into()))
        } else if let Some(slot) =
            slots.into_iter().find(|slot| self.slots[slot.0].uncertainty.is_none())
        {
            let name = self.slots[slot.0].path.clone();
            Some((between, format!("{name} has no uncertainty that could be correlated")))
        } else {
            let is_read = |slot: SlotId| {
                instruments.iter().any(|i| i.readings.iter().any(|reading| reading.slot == slot))
            };
            let read = slots.into_iter().find(|slot| is_read(*slot));
            read.map(|slot| {
                let name = self.slots[slot.0].path.clone();
                (between, format!("{name} is read by an instrument, which says what it shares"))
            })
        };
        if let Some((path, message)) = refused {
            self.problem(Problem::new(path, message));
            return None;
        }
        Some((slots[0], slots[1], coefficient))
    }

    /// Each group of correlated numbers with the Cholesky factor of its matrix; a matrix that is none is
    /// a problem.
    fn factors(
        &mut self,
        stated: &[Correlation],
        correlations: &[(SlotId, SlotId, f64)],
    ) -> Vec<Correlated> {
        let mut groups: Vec<Vec<SlotId>> = Vec::new();
        for (a, b, _) in correlations {
            let (mut joined, apart): (Vec<_>, Vec<_>) =
                groups.into_iter().partition(|group| group.contains(a) || group.contains(b));
            let mut group: Vec<SlotId> = joined.drain(..).flatten().collect();
            for slot in [*a, *b] {
                if !group.contains(&slot) {
                    group.push(slot);
                }
            }
            groups = apart;
            groups.push(group);
        }
        let coefficient = |a: SlotId, b: SlotId| {
            if a == b {
                return 1.0;
            }
            let is_it =
                |(x, y, _): &&(SlotId, SlotId, f64)| (*x, *y) == (a, b) || (*x, *y) == (b, a);
            correlations.iter().find(is_it).map_or(0.0, |(_, _, r)| *r)
        };
        let mut factors = Vec::new();
        for group in groups {
            match cholesky(&group, coefficient) {
                Some(factor) => factors.push((group, factor)),
                None => {
                    let names: Vec<&str> =
                        group.iter().map(|slot| self.slots[slot.0].path.as_str()).collect();
                    let message = format!(
                        "the coefficients between {} contradict each other: no numbers can be correlated so",
                        names.join(", ")
                    );
                    // Every statement of the group has its part in it.
                    let is_of_group = |correlation: &Correlation| {
                        correlation.between.iter().any(|path| names.contains(&path.as_str()))
                    };
                    let places = stated.iter().enumerate().filter(|(_, c)| is_of_group(c));
                    let mut places = places.map(|(i, _)| format!("correlation.{}", i + 1));
                    let first = places.next().unwrap_or_else(|| "correlation".into());
                    let problem = Problem::new(first, message)
                        .with_help("lower a coefficient, or state the missing ones");
                    self.problem(places.fold(problem, Problem::with_related));
                }
            }
        }
        factors
    }

    fn slot_at(&mut self, path: &str, read: &str) -> Option<SlotId> {
        if let Some(index) = self.slots.iter().position(|value| value.path == read) {
            return Some(SlotId(index));
        }
        let near = |value: &crate::site::Value| strsim::damerau_levenshtein(&value.path, read);
        let nearest = self.slots.iter().min_by_key(|value| near(value)).map(|v| v.path.clone());
        let mut problem = Problem::new(path, format!("no number \"{read}\" in this site"));
        if let Some(nearest) = nearest {
            problem = problem.with_help(format!("did you mean \"{nearest}\"?"));
        }
        self.problem(problem);
        None
    }
}

/// The lower factor of a matrix of coefficients; `None` where it is not positive semidefinite.
fn cholesky(slots: &[SlotId], of: impl Fn(SlotId, SlotId) -> f64) -> Option<Vec<Vec<f64>>> {
    const ROUNDING: f64 = 1e-9;
    let mut factor: Vec<Vec<f64>> = Vec::with_capacity(slots.len());
    for (row, a) in slots.iter().enumerate() {
        let mut line = vec![0.0; slots.len()];
        for column in 0..=row {
            let known: f64 = (0..column)
                .map(|k| line[k] * if column == row { line[k] } else { factor[column][k] })
                .sum();
            let rest = of(*a, slots[column]) - known;
            if column == row {
                if rest < -ROUNDING {
                    return None;
                }
                line[row] = rest.max(0.0).sqrt();
            } else if factor[column][column] > ROUNDING.sqrt() {
                line[column] = rest / factor[column][column];
            } else if rest.abs() > ROUNDING.sqrt() {
                return None;
            }
        }
        factor.push(line);
    }
    Some(factor)
}
