//! Concentration in the circulating water against time.
//!
//! The basin is well mixed: V dc/dt = (E + L) c_m + f - (L + k V) c, with evaporation E, liquid losses
//! L, volume V, makeup concentration c_m, feed f and decay k. Between events all of them are constant,
//! so that every stretch has its exponential and nothing is stepped (mass balance; the trade's holding
//! time is ln 2 V / L: Association of Water Technologies, Basic Calculations, Part I).

/// Flows of a circuit, m3/h, and its volume, m3.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circuit {
    /// Water in the system.
    pub volume: f64,
    /// Evaporation.
    pub evaporation: f64,
    /// Drift, leakage and overflow: they leave whatever the blowdown does.
    pub other_losses: f64,
}

/// What the blowdown does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Blowdown {
    /// A flow that stands, m3/h; 0 is a valve stuck shut.
    Flow(f64),
    /// A controller that holds these cycles with a valve of this flow, m3/h.
    Held {
        /// Cycles.
        cycles: f64,
        /// Flow of the open valve.
        valve_flow: f64,
    },
}

/// Something that happens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Event {
    /// Hours from the start.
    pub hour: f64,
    /// What.
    pub change: Change,
}

/// What happens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change {
    /// The blowdown does something else from now on.
    Blowdown(Blowdown),
    /// So much more of the substance is in the water at once, mg/L.
    Dose(f64),
    /// Evaporation from now on, m3/h: a load that changes.
    Evaporation(f64),
}

/// A substance that is fed and decays, beside the salts.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Substance {
    /// In the water at the start, mg/L.
    pub start: f64,
    /// Decay, 1/h; ln 2 over the half life.
    pub decay: f64,
    /// Steady feed, g/h.
    pub feed: f64,
}

/// Where the water stands at the start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Start {
    /// Cycles of concentration.
    pub cycles: f64,
    /// What the blowdown does.
    pub blowdown: Blowdown,
    /// The substance.
    pub substance: Substance,
}

/// A stretch of time with constant flows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Hours from the start.
    pub from: f64,
    /// Hours from the start.
    pub to: f64,
    /// Blowdown, m3/h.
    pub blowdown: f64,
    /// All liquid losses, m3/h.
    pub liquid: f64,
    /// Makeup, m3/h.
    pub makeup: f64,
    /// Cycles at its start.
    pub cycles: f64,
    /// The substance at its start, mg/L.
    pub substance: f64,
    volume: f64,
    decay: f64,
    feed: f64,
}

/// The solution of dc/dt = gain - loss c from `start`, after `hours`.
fn after(start: f64, gain: f64, loss: f64, hours: f64) -> f64 {
    if loss * hours < 1e-12 {
        return start + gain * hours;
    }
    let end = gain / loss;
    end + (start - end) * (-loss * hours).exp()
}

/// Hours until dc/dt = gain - loss c leads from `start` to `goal`; `None` where it never does.
fn hours_to(start: f64, gain: f64, loss: f64, goal: f64) -> Option<f64> {
    if loss == 0.0 {
        let hours = (goal - start) / gain;
        return (hours >= 0.0 && hours.is_finite()).then_some(hours);
    }
    let end = gain / loss;
    let part = (goal - end) / (start - end);
    (part > 0.0 && part <= 1.0).then(|| -part.ln() / loss)
}

impl Stretch {
    /// Cycles at an hour from the start of all.
    pub fn cycles_at(&self, hour: f64) -> f64 {
        after(self.cycles, self.makeup / self.volume, self.liquid / self.volume, hour - self.from)
    }

    /// The substance at an hour from the start of all, mg/L.
    pub fn substance_at(&self, hour: f64) -> f64 {
        let loss = self.liquid / self.volume + self.decay;
        after(self.substance, self.feed / self.volume, loss, hour - self.from)
    }

    /// Cycles that it tends to; infinite where no liquid leaves.
    pub fn final_cycles(&self) -> f64 {
        self.makeup / self.liquid
    }

    /// Hours in which half of what is in the water is renewed; infinite where no liquid leaves.
    pub fn half_life(&self) -> f64 {
        std::f64::consts::LN_2 * self.volume / self.liquid
    }

    /// Hours until 95 % of the way to the final cycles: ln 20 V / L.
    pub fn hours_to_95_percent(&self) -> f64 {
        20f64.ln() * self.volume / self.liquid
    }
}

/// Why a course cannot be computed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TransientError {
    /// A number that is negative, no number, or a volume of nothing.
    #[error(
        "{0} must be a number that makes sense: flows and times zero or more, a volume above zero, cycles 1 or more"
    )]
    NotPhysical(&'static str),
    /// The controller opens and shuts without end.
    #[error("the course needs more than {0} stretches")]
    TooManyStretches(usize),
}

/// The course of the water over `hours`, stretch by stretch; events in any order.
///
/// # Errors
/// [`TransientError`].
pub fn course(
    circuit: &Circuit,
    start: &Start,
    events: &[Event],
    hours: f64,
) -> Result<Vec<Stretch>, TransientError> {
    const MOST_STRETCHES: usize = 10_000;
    check(circuit, start, events, hours)?;
    let mut events = events.to_vec();
    events.sort_by(|a, b| a.hour.total_cmp(&b.hour));
    let mut events = events.into_iter().peekable();
    let mut circuit = *circuit;
    let mut blowdown = start.blowdown;
    let (mut hour, mut cycles, mut substance) = (0.0, start.cycles, start.substance.start);
    let mut stretches = Vec::new();
    while hour < hours {
        while let Some(event) = events.next_if(|event| event.hour <= hour) {
            match event.change {
                Change::Blowdown(new) => blowdown = new,
                Change::Dose(dose) => substance += dose,
                Change::Evaporation(flow) => circuit.evaporation = flow,
            }
        }
        if stretches.len() >= MOST_STRETCHES {
            return Err(TransientError::TooManyStretches(MOST_STRETCHES));
        }
        let flow = blowdown_flow(&circuit, blowdown, cycles);
        let liquid = circuit.other_losses + flow;
        let makeup = circuit.evaporation + liquid;
        let next_event = events.peek().map_or(hours, |event| event.hour.min(hours));
        // The controller acts when its cycles are reached.
        let reached = match blowdown {
            Blowdown::Held { cycles: goal, .. } if (cycles - goal).abs() > 1e-12 * goal => {
                let volume = circuit.volume;
                hours_to(cycles, makeup / volume, liquid / volume, goal)
                    .map(|took| (hour + took, goal))
            }
            _ => None,
        };
        let to = reached.map_or(next_event, |(at, _)| at.min(next_event));
        let stretch = Stretch {
            from: hour,
            to,
            blowdown: flow,
            liquid,
            makeup,
            cycles,
            substance,
            volume: circuit.volume,
            decay: start.substance.decay,
            feed: start.substance.feed,
        };
        cycles = match reached {
            // Exactly there, so that the controller does not chase a last digit.
            Some((at, goal)) if at <= next_event => goal,
            _ => stretch.cycles_at(to),
        };
        substance = stretch.substance_at(to);
        hour = to;
        stretches.push(stretch);
    }
    Ok(stretches)
}

/// Blowdown, m3/h: of a controller shut below its cycles, open above, and in balance at them.
fn blowdown_flow(circuit: &Circuit, blowdown: Blowdown, cycles: f64) -> f64 {
    match blowdown {
        Blowdown::Flow(flow) => flow,
        Blowdown::Held { cycles: goal, .. } if cycles < goal * (1.0 - 1e-12) => 0.0,
        Blowdown::Held { cycles: goal, valve_flow } if cycles > goal * (1.0 + 1e-12) => valve_flow,
        Blowdown::Held { cycles: goal, valve_flow } => {
            (circuit.evaporation / (goal - 1.0) - circuit.other_losses).clamp(0.0, valve_flow)
        }
    }
}

fn check(
    circuit: &Circuit,
    start: &Start,
    events: &[Event],
    hours: f64,
) -> Result<(), TransientError> {
    let is_flow = |flow: f64| flow >= 0.0 && flow.is_finite();
    let is_blowdown = |blowdown: Blowdown| match blowdown {
        Blowdown::Flow(flow) => is_flow(flow),
        Blowdown::Held { cycles, valve_flow } => {
            cycles > 1.0 && cycles.is_finite() && valve_flow > 0.0
        }
    };
    let is_event = |event: &Event| {
        is_flow(event.hour)
            && match event.change {
                Change::Blowdown(blowdown) => is_blowdown(blowdown),
                Change::Dose(dose) | Change::Evaporation(dose) => is_flow(dose),
            }
    };
    let substance = &start.substance;
    for (holds, what) in [
        (circuit.volume > 0.0 && circuit.volume.is_finite(), "the volume"),
        (is_flow(circuit.evaporation), "the evaporation"),
        (is_flow(circuit.other_losses), "the losses"),
        (start.cycles >= 1.0 && start.cycles.is_finite(), "the cycles at the start"),
        (is_blowdown(start.blowdown), "the blowdown"),
        (
            [substance.start, substance.decay, substance.feed].into_iter().all(is_flow),
            "the substance",
        ),
        (hours > 0.0 && hours.is_finite(), "the hours"),
        (events.iter().all(is_event), "an event"),
    ] {
        if !holds {
            return Err(TransientError::NotPhysical(what));
        }
    }
    Ok(())
}

/// Where a course stands at an hour: cycles and substance, mg/L.
pub fn at(stretches: &[Stretch], hour: f64) -> Option<(f64, f64)> {
    let stretch = stretches.iter().rev().find(|stretch| stretch.from <= hour)?;
    Some((stretch.cycles_at(hour), stretch.substance_at(hour)))
}

/// Cycles this near to their last value, as a part of it, count as settled.
pub const SETTLED_WITHIN: f64 = 0.05;

/// Hours from the start after which the cycles stay within [`SETTLED_WITHIN`] of their last value; `None`
/// where they always are.
pub fn settled(stretches: &[Stretch]) -> Option<f64> {
    const NEAR: f64 = SETTLED_WITHIN;
    let last = stretches.last()?;
    let end = last.cycles_at(last.to);
    let far = |cycles: f64| (cycles - end).abs() > NEAR * end;
    // From the last stretch back: within one the cycles move one way only.
    let stretch = stretches.iter().rev().find(|stretch| far(stretch.cycles))?;
    let goal = if stretch.cycles > end { (1.0 + NEAR) * end } else { (1.0 - NEAR) * end };
    let (volume, liquid) = (stretch.volume, stretch.liquid);
    let took = hours_to(stretch.cycles, stretch.makeup / volume, liquid / volume, goal)?;
    Some(stretch.from + took)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    const CIRCUIT: Circuit = Circuit { volume: 50.0, evaporation: 58.0 / 24.0, other_losses: 0.0 };

    fn start(cycles: f64, blowdown: Blowdown) -> Start {
        Start { cycles, blowdown, substance: Substance::default() }
    }

    /// Worked outside this program: 50 m3 and 58 m3/d evaporated; bleed shut from 1 to 4 cycles in
    /// 62 h, from 4 to 5 in 21 h; from 5 to 4 with 2 m3/h in 11 h.
    #[test]
    fn rising_and_falling_cycles() {
        let shut = |from: f64, to: f64| {
            let held = Blowdown::Held { cycles: to, valve_flow: 2.0 };
            course(&CIRCUIT, &start(from, held), &[], 200.0).unwrap()[0].to
        };
        assert_relative_eq!(shut(1.0, 4.0), 62.0, epsilon = 0.5);
        assert_relative_eq!(shut(4.0, 5.0), 21.0, epsilon = 0.5);
        assert_relative_eq!(shut(5.0, 4.0), 11.0, epsilon = 0.5);
    }

    /// A trade article: 4000 gal and 10 gpm of bleed, 277 min; the unit drops out.
    #[test]
    fn holding_time_of_a_trade_article() {
        let circuit = Circuit { volume: 4_000.0, evaporation: 1.0, other_losses: 0.0 };
        let stretches = course(&circuit, &start(2.0, Blowdown::Flow(10.0)), &[], 1.0).unwrap();
        assert_relative_eq!(stretches[0].half_life(), 277.0, epsilon = 0.5);
    }

    #[test]
    fn a_slug_decays_by_dilution_and_by_itself() {
        let circuit = Circuit { other_losses: 0.5, ..CIRCUIT };
        let substance = Substance { start: 0.0, decay: 0.05, feed: 0.0 };
        let begin = Start { substance, ..start(4.0, Blowdown::Flow(0.5)) };
        let events = [Event { hour: 3.0, change: Change::Dose(100.0) }];
        let stretches = course(&circuit, &begin, &events, 24.0).unwrap();
        assert_eq!(at(&stretches, 2.9).unwrap().1, 0.0);
        let (_, left) = at(&stretches, 13.0).unwrap();
        assert_relative_eq!(left, 100.0 * (-(1.0 / 50.0 + 0.05) * 10.0f64).exp());
    }

    #[test]
    fn an_open_valve_tends_to_its_own_cycles() {
        let stretches = course(&CIRCUIT, &start(5.0, Blowdown::Flow(4.0)), &[], 2_000.0).unwrap();
        let end = 1.0 + CIRCUIT.evaporation / 4.0;
        assert_relative_eq!(stretches[0].final_cycles(), end);
        assert_relative_eq!(at(&stretches, 2_000.0).unwrap().0, end, max_relative = 1e-9);
        let settled = settled(&stretches).unwrap();
        let then = at(&stretches, settled).unwrap().0;
        assert_relative_eq!(then, 1.05 * end, max_relative = 1e-9);
        // 95 % of the way, as the trade counts it.
        let then = at(&stretches, stretches[0].hours_to_95_percent()).unwrap().0;
        assert_relative_eq!(then, end + 0.05 * (5.0 - end), max_relative = 1e-9);
        let steady =
            course(&CIRCUIT, &start(5.0, Blowdown::Flow(CIRCUIT.evaporation / 4.0)), &[], 9.0);
        assert_eq!(super::settled(&steady.unwrap()), None);
    }

    fn simpson(function: impl Fn(f64) -> f64, from: f64, to: f64) -> f64 {
        const PARTS: usize = 4_000;
        let step = (to - from) / PARTS as f64;
        let weight = |part: usize| match part {
            0 | PARTS => 1.0,
            odd if odd % 2 == 1 => 4.0,
            _ => 2.0,
        };
        let at = |part: usize| weight(part) * function(from + part as f64 * step);
        (0..=PARTS).map(at).sum::<f64>() * step / 3.0
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        /// Salt in less salt out is what the basin gained, over every stretch.
        #[test]
        fn salt_is_conserved(
            volume in 50.0..500.0_f64,
            evaporation in 0.0..20.0_f64,
            other in 0.0..2.0_f64,
            first in 1.0..8.0_f64,
            goal in 1.5..8.0_f64,
            valve in 0.1..20.0_f64,
            flow in 0.0..10.0_f64,
            hour in 0.0..100.0_f64,
        ) {
            let circuit = Circuit { volume, evaporation, other_losses: other };
            let held = Blowdown::Held { cycles: goal, valve_flow: valve };
            let events = [Event { hour, change: Change::Blowdown(Blowdown::Flow(flow)) }];
            let stretches = course(&circuit, &start(first, held), &events, 150.0).unwrap();
            for stretch in &stretches {
                let hours = stretch.to - stretch.from;
                let end = stretch.cycles_at(stretch.to);
                let mean = simpson(|hour| stretch.cycles_at(hour), stretch.from, stretch.to);
                let gained = (end - stretch.cycles) * volume;
                let passed = stretch.makeup * hours - stretch.liquid * mean;
                prop_assert!((gained - passed).abs() < 1e-6 * (1.0 + stretch.makeup * hours));
            }
            prop_assert!((stretches.last().unwrap().to - 150.0).abs() < 1e-9);
        }
    }
}
