//! The course of a site's water in time.

use super::{Balance, Infeasible, Inputs, Model, Refused, Workspace, control};
use crate::site::{BlowdownGiven, Problem};
use crate::transient::{
    self as basin_water, Blowdown, Circuit, Event, Start, Stretch, Substance, TransientError,
};
use crate::warnings::Noticed;

/// An open valve passes so much of the mean blowdown where nobody states its flow (common practice:
/// 2 to 3 times).
pub const VALVE_OVER_MEAN: f64 = 2.5;

/// Why a site has no course.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CourseError {
    /// The volume is what everything is mixed into.
    #[error("the volume of the system is missing")]
    NoVolume,
    /// Cycles without a limit are no start.
    #[error("no liquid leaves, so that the present cycles have no limit: say where to start")]
    NoStart,
    /// The numbers make no course.
    #[error(transparent)]
    Transient(#[from] TransientError),
    /// The balance of the site itself.
    #[error(transparent)]
    Infeasible(#[from] Infeasible),
}

/// The water at an hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TransientRow {
    /// From the start.
    pub hour: f64,
    /// Cycles of concentration.
    pub cycles: f64,
    /// The substance, mg/L.
    pub substance: f64,
    /// m3/h.
    pub blowdown: f64,
    /// m3/h.
    pub makeup: f64,
}

/// What happens to the water over some hours.
#[derive(Debug, Clone, PartialEq)]
pub struct TransientSheet {
    /// Name of the site.
    pub name: String,
    /// Volume and flows.
    pub circuit: Circuit,
    /// Where it starts.
    pub start: Start,
    /// Whether nobody stated the valve's flow.
    pub valve_is_assumed: bool,
    /// Cycles that the open valve holds, under a controller.
    pub open_valve_holds: Option<f64>,
    /// What looks wrong, in sentences.
    pub warnings: Vec<Noticed>,
    /// Stretches of constant flow.
    pub stretches: Vec<Stretch>,
    /// The course at even times and where something happens.
    pub rows: Vec<TransientRow>,
    /// Hours after which the cycles stay within 5 % of the last.
    pub settled: Option<f64>,
    /// Whether a substance is in the water at any time.
    pub has_substance: bool,
}

impl Model {
    /// Volume and flows of the site, m3/h at the sheet's reference temperature.
    ///
    /// # Errors
    /// [`CourseError`]: a balance that does not close, no volume.
    pub fn circuit(&self, inputs: &Inputs) -> Result<(Circuit, Balance), CourseError> {
        let balance = self.evaluate(inputs, &mut Workspace::new(self))?;
        let volume = self.volume_m3(inputs).ok_or(CourseError::NoVolume)?;
        let hourly = Balance::reference_m3_per_h;
        let circuit = Circuit {
            volume,
            evaporation: hourly(balance.water.evaporation_kg_per_s),
            other_losses: hourly(balance.water.losses().liquid_kg_per_s()),
        };
        Ok((circuit, balance))
    }

    /// Flow of the open blowdown valve, m3/h, and whether it is assumed: 2.5 times what the cycles ask
    /// for without any other loss.
    pub fn valve_flow(&self, inputs: &Inputs, balance: &Balance) -> (f64, bool) {
        if let Some(slot) = self.site.chemistry.valve_flow {
            return (self.hourly_volume(inputs, slot, balance.state.cold_water_celsius), false);
        }
        let water = &balance.water;
        let cycles = self.target_cycles(inputs).unwrap_or(water.cycles_of_concentration);
        let needed = Balance::reference_m3_per_h(water.evaporation_kg_per_s) / (cycles - 1.0);
        let mean = needed.max(Balance::reference_m3_per_h(water.blowdown_kg_per_s));
        (VALVE_OVER_MEAN * mean, true)
    }

    /// The course over `hours` from `cycles` (the site's own without it), with events.
    ///
    /// # Errors
    /// [`CourseError`].
    pub fn transient(
        &self,
        inputs: &Inputs,
        cycles: Option<f64>,
        substance: Substance,
        events: &[Event],
        hours: f64,
    ) -> Result<TransientSheet, CourseError> {
        let (circuit, balance) = self.circuit(inputs)?;
        let (valve_flow, valve_is_assumed) = self.valve_flow(inputs, &balance);
        let present = balance.water.cycles_of_concentration;
        if cycles.is_none() && !present.is_finite() {
            return Err(CourseError::NoStart);
        }
        let held = self.target_cycles(inputs).unwrap_or(present);
        let blowdown = match self.site.blowdown {
            BlowdownGiven::Flow(_) => {
                Blowdown::Flow(Balance::reference_m3_per_h(balance.water.blowdown_kg_per_s))
            }
            _ if valve_flow <= 0.0 => Blowdown::Flow(0.0),
            _ => Blowdown::Held { cycles: held, valve_flow },
        };
        let start = Start { cycles: cycles.unwrap_or(present), blowdown, substance };
        let valve = match blowdown {
            Blowdown::Held { cycles, valve_flow } => {
                let duty = self.valve_duty(inputs, &balance.water, cycles);
                duty.map(|duty| duty.with_valve(valve_flow))
            }
            Blowdown::Flow(_) => None,
        };
        let stretches = basin_water::course(&circuit, &start, events, hours)?;
        let rows = rows(&stretches, hours);
        Ok(TransientSheet {
            name: self.site.name.clone(),
            circuit,
            start,
            valve_is_assumed: valve_is_assumed && matches!(blowdown, Blowdown::Held { .. }),
            open_valve_holds: valve.map(|valve| valve.open_holds),
            warnings: valve.and_then(|valve| control::told(&valve, held)).into_iter().collect(),
            settled: basin_water::settled(&stretches).filter(|_| ends_steady(&stretches)),
            has_substance: rows.iter().any(|row| row.substance > 0.0),
            stretches,
            rows,
        })
    }
}

impl TransientSheet {
    /// Cycles at an hour from the start.
    pub fn cycles_at(&self, hour: f64) -> f64 {
        let stretch = self.stretches.iter().rev().find(|stretch| stretch.from <= hour);
        stretch.map_or(f64::NAN, |stretch| stretch.cycles_at(hour))
    }
}

/// Whether the last stretch has come to where it tends.
fn ends_steady(stretches: &[Stretch]) -> bool {
    const STEADY: f64 = 0.02;
    stretches
        .last()
        .is_some_and(|last| (last.cycles_at(last.to) / last.final_cycles() - 1.0).abs() < STEADY)
}

/// Twelve even steps and the start of every stretch, as long as those are few.
fn rows(stretches: &[Stretch], hours: f64) -> Vec<TransientRow> {
    const STEPS: usize = 12;
    const MOST_STRETCHES: usize = 40;
    let even = (0..=STEPS).map(|step| hours * step as f64 / STEPS as f64);
    let starts = stretches.iter().take(MOST_STRETCHES).map(|stretch| stretch.from);
    let mut times: Vec<f64> = even.chain(starts).collect();
    times.sort_by(f64::total_cmp);
    times.dedup_by(|a, b| (*a - *b).abs() < 1e-3 * hours);
    let row = |hour: f64| {
        let stretch = stretches.iter().rev().find(|stretch| stretch.from <= hour)?;
        Some(TransientRow {
            hour,
            cycles: stretch.cycles_at(hour),
            substance: stretch.substance_at(hour),
            blowdown: stretch.blowdown,
            makeup: stretch.makeup,
        })
    };
    times.into_iter().filter_map(row).collect()
}

impl Refused for CourseError {
    fn problem(&self, model: &Model) -> Problem {
        match self {
            CourseError::NoVolume => Problem::new("circuit", self.to_string())
                .with_help("write volume = \"60 m3\" in [circuit]: basin, pipes and equipment"),
            CourseError::NoStart | CourseError::Transient(_) => {
                Problem::new("circuit", self.to_string())
            }
            CourseError::Infeasible(why) => why.problem(model),
        }
    }
}
