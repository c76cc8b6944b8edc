//! What happens in the basin in time: pump stops, a lost makeup, a valve stuck open, a drain left
//! open, rain. Water and dissolved solids are followed together.
//!
//! What an overflow that is not described carries is not known: it is taken to spill all that comes at
//! its lip, and the level stays there until more leaves than comes.

use super::Basin;
use super::valve::Action;
use crate::ode;

/// What the makeup valve does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Makeup {
    /// The float follows the level.
    Float,
    /// No water comes.
    Lost,
    /// Stuck open by this part of its capacity.
    Stuck(f64),
}

/// What holds for a while.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Phase {
    /// Hours that it lasts.
    pub hours: f64,
    /// Whether the pumps run: only then water evaporates, drifts and is blown down.
    pub pumps_run: bool,
    /// The makeup valve.
    pub makeup: Makeup,
    /// Whether the drain stands open.
    pub drain_is_open: bool,
    /// Rain on the basin, m3/h.
    pub rain: f64,
}

/// The circuit that the basin belongs to, m3 and m3/h.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circuit {
    /// Water outside the basin and besides what runs back: pipes and equipment.
    pub elsewhere: f64,
    /// While the pumps run.
    pub evaporation: f64,
    /// While the pumps run.
    pub drift: f64,
    /// While the pumps run, at the cycles that are held.
    pub blowdown: f64,
    /// Always.
    pub leakage: f64,
    /// Cycles that are held.
    pub cycles: f64,
    /// Whether a controller shuts the blowdown as the cycles fall.
    pub is_controlled: bool,
}

/// A controller's blowdown shuts over this part of the cycles below those that it holds.
pub(crate) const CONTROL_BAND: f64 = 0.05;

/// The water at an hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// From the start.
    pub hour: f64,
    /// Level, m.
    pub level: f64,
    /// Cycles of concentration.
    pub cycles: f64,
    /// Discharge of the overflow, m3/h.
    pub overflow: f64,
}

/// What came of it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Course {
    /// Samples, as close as the solution moves.
    pub samples: Vec<Sample>,
    /// Highest level and its hour.
    pub highest: (f64, f64),
    /// Lowest level and its hour.
    pub lowest: (f64, f64),
    /// Water over the overflow, m3.
    pub overflowed: f64,
    /// Solids over the overflow, as m3 of makeup that held them.
    pub overflowed_solids: f64,
    /// Water that the makeup let in, m3.
    pub makeup: f64,
    /// Water that was blown down, m3.
    pub blown_down: f64,
    /// When the water first reached the overflow's lip.
    pub overflows_at: Option<f64>,
    /// When it first fell below the low alarm.
    pub alarms_at: Option<f64>,
    /// When it first fell below the level that trips the pumps.
    pub trips_at: Option<f64>,
    /// When it first fell below what the suction needs.
    pub starves_at: Option<f64>,
    /// When the basin was empty; the course ends there.
    pub empties_at: Option<f64>,
}

/// Why a course cannot be followed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CourseError {
    /// A negative flow or volume, or no number.
    #[error("flows, volumes and hours of a basin are numbers of zero or more")]
    NotPhysical,
    /// The solution leaves the numbers, or events do not end.
    #[error("the level cannot be followed: too many events, or a basin that is no basin")]
    Unsolved,
}

const VOLUME: usize = 0;
const UP: usize = 1;
const SOLIDS: usize = 2;
const OVERFLOWED: usize = 3;
const OVERFLOWED_SOLIDS: usize = 4;
const MAKEUP: usize = 5;
const BLOWN_DOWN: usize = 6;
type State = [f64; 7];

/// The basin in one phase.
struct Running<'a> {
    basin: &'a Basin,
    circuit: &'a Circuit,
    phase: &'a Phase,
    valve_is_open: bool,
    /// Whether the stretch begins at the lip of an overflow that is not described.
    is_at_lip: bool,
    /// Whether more comes then than leaves otherwise, so that the level stays there.
    is_held: bool,
}

impl Running<'_> {
    fn level(&self, state: &State) -> f64 {
        self.basin.shape.level(state[VOLUME])
    }

    fn cycles(&self, state: &State) -> f64 {
        state[SOLIDS] / (state[VOLUME] + state[UP] + self.circuit.elsewhere)
    }

    /// Discharge of the overflow where so much more comes than leaves otherwise.
    fn overflow(&self, state: &State, surplus: f64) -> f64 {
        let spills =
            || self.is_held || (self.is_at_lip && state[VOLUME] >= self.basin.lip_volume());
        match self.basin.overflow {
            Some(overflow) => overflow.flow(self.level(state) - self.basin.overflow_level),
            None if spills() => surplus.max(0.0),
            None => 0.0,
        }
    }

    fn makeup(&self, level: f64) -> f64 {
        let Some(valve) = &self.basin.valve else { return 0.0 };
        match self.phase.makeup {
            Makeup::Float => valve.flow(level, self.valve_is_open),
            Makeup::Lost => 0.0,
            Makeup::Stuck(share) => valve.capacity * share,
        }
    }

    fn blowdown(&self, cycles: f64) -> f64 {
        let circuit = self.circuit;
        if !circuit.is_controlled {
            return circuit.blowdown;
        }
        let part = 1.0 - (circuit.cycles - cycles) / (CONTROL_BAND * circuit.cycles);
        circuit.blowdown * part.clamp(0.0, 1.0)
    }

    /// What flows in a state.
    fn flows(&self, state: &State) -> Flows {
        let (basin, circuit) = (self.basin, self.circuit);
        let level = self.level(state);
        let cycles = self.cycles(state);
        let (evaporation, drift, blowdown) = if self.phase.pumps_run {
            (circuit.evaporation, circuit.drift, self.blowdown(cycles))
        } else {
            (0.0, 0.0, 0.0)
        };
        let drain = match (&basin.drain, self.phase.drain_is_open) {
            (Some(drain), true) => drain.flow(level),
            _ => 0.0,
        };
        let makeup = self.makeup(level);
        // Runs back, or is pumped up again, 95 % of it in the stated time.
        let goal = if self.phase.pumps_run { basin.held_up } else { 0.0 };
        let up = (goal - state[UP]) * 3.0 / basin.run_back_hours;
        let liquid = drift + blowdown + circuit.leakage + drain;
        let surplus = makeup + self.phase.rain - evaporation - liquid - up;
        let overflow = self.overflow(state, surplus);
        Flows { makeup, blowdown, up, liquid, surplus, overflow, cycles }
    }

    fn slope(&self, state: &State) -> State {
        Self::slope_of(&self.flows(state))
    }

    fn slope_of(flows: &Flows) -> State {
        let mut slope = [0.0; 7];
        slope[VOLUME] = flows.surplus - flows.overflow;
        slope[UP] = flows.up;
        slope[SOLIDS] = flows.makeup - flows.cycles * (flows.liquid + flows.overflow);
        slope[OVERFLOWED] = flows.overflow;
        slope[OVERFLOWED_SOLIDS] = flows.cycles * flows.overflow;
        slope[MAKEUP] = flows.makeup;
        slope[BLOWN_DOWN] = flows.blowdown;
        slope
    }

    /// What ends a stretch where it passes from negative to positive: the float's switch on and off, an empty
    /// basin, the level's turn at the top and at the bottom, the overflow's lip, low alarm, trip, suction, a
    /// level that is held at the lip no more, and water at rest.
    fn events(&self, state: &State) -> [f64; EVENTS] {
        const NEVER: f64 = -1.0;
        let basin = self.basin;
        let level = self.level(state);
        let flows = self.flows(state);
        let slope = Self::slope_of(&flows);
        let [on, off] = match basin.valve.map(|valve| valve.action) {
            Some(Action::OnOff { off_level, .. }) if self.valve_is_open => {
                [NEVER, level - off_level]
            }
            Some(Action::OnOff { on_level, .. }) => [on_level - level, NEVER],
            _ => [NEVER, NEVER],
        };
        let below = |at: Option<f64>| at.map_or(NEVER, |at| at - level);
        let comes = flows.makeup + self.phase.rain;
        let turned = TURNS * (comes + flows.liquid + flows.overflow);
        let falls = if self.is_held { -flows.surplus } else { NEVER };
        let solids = slope[SOLIDS] / flows.cycles.max(1.0);
        let moves = slope[VOLUME].abs().max(slope[UP].abs()).max(solids.abs());
        [
            on,
            off,
            -state[VOLUME],
            -slope[VOLUME] - turned,
            slope[VOLUME] - turned,
            state[VOLUME] - basin.lip_volume(),
            below(basin.low_alarm_level),
            below(basin.pump_trip_level),
            below(basin.suction_level),
            falls,
            REST * comes - moves,
        ]
    }

    /// Hours later, where level and cycles stay.
    fn after_rest(&self, state: &State, hours: f64) -> State {
        let slope = self.slope(state);
        let mut later = *state;
        for sum in [OVERFLOWED, OVERFLOWED_SOLIDS, MAKEUP, BLOWN_DOWN] {
            later[sum] += slope[sum] * hours;
        }
        later
    }

    fn sample(&self, hour: f64, state: &State) -> Sample {
        let flows = self.flows(state);
        let (level, cycles) = (self.level(state), flows.cycles);
        Sample { hour, level, cycles, overflow: flows.overflow }
    }
}

/// What flows, m3/h.
struct Flows {
    makeup: f64,
    blowdown: f64,
    /// From the basin to what is held up.
    up: f64,
    /// Liquid that leaves, but for the overflow.
    liquid: f64,
    /// More that comes than leaves, but for the overflow.
    surplus: f64,
    overflow: f64,
    cycles: f64,
}

/// Follows the basin through phases, from its level with the pumps running and from the cycles held.
///
/// # Errors
/// [`CourseError`].
pub fn course(
    basin: &Basin,
    circuit: &Circuit,
    start_level: f64,
    phases: &[Phase],
) -> Result<Course, CourseError> {
    const MOST_EVENTS: usize = 20_000;
    check(basin, circuit, start_level, phases)?;
    let start_level = match basin.overflow {
        Some(_) => start_level,
        None => start_level.min(basin.overflow_level),
    };
    let volume = basin.shape.volume(start_level);
    let whole = volume + basin.held_up + circuit.elsewhere;
    let mut state = [volume, basin.held_up, circuit.cycles * whole, 0.0, 0.0, 0.0, 0.0];
    let mut course =
        Course { highest: (start_level, 0.0), lowest: (start_level, 0.0), ..Course::default() };
    let (mut hour, mut valve_is_open) = (0.0, false);
    let mut events = 0;
    for phase in phases {
        let end = hour + phase.hours;
        while hour < end {
            events += 1;
            if events > MOST_EVENTS {
                return Err(CourseError::Unsolved);
            }
            let is_at_lip = basin.overflow.is_none() && state[VOLUME] >= basin.lip_volume();
            if is_at_lip {
                state[VOLUME] = basin.lip_volume();
            }
            let mut running =
                Running { basin, circuit, phase, valve_is_open, is_at_lip, is_held: false };
            running.is_held = is_at_lip && running.flows(&state).surplus > 0.0;
            if running.is_held {
                course.overflows_at.get_or_insert(hour);
            }
            if course.samples.is_empty() {
                course.samples.push(running.sample(hour, &state));
            }
            let found = stretch(&running, (hour, end), state, &mut course)?;
            (hour, state) = (found.time, found.state);
            match found.event {
                Some(ON) => valve_is_open = true,
                Some(OFF) => valve_is_open = false,
                Some(EMPTY) => {
                    course.empties_at = Some(hour);
                    return Ok(finished(course, &state));
                }
                Some(AT_REST) => {
                    state = running.after_rest(&state, end - hour);
                    hour = end;
                    course.samples.push(running.sample(hour, &state));
                }
                _ => {}
            }
        }
    }
    Ok(finished(course, &state))
}

fn finished(mut course: Course, state: &State) -> Course {
    course.overflowed = state[OVERFLOWED];
    course.overflowed_solids = state[OVERFLOWED_SOLIDS];
    course.makeup = state[MAKEUP];
    course.blown_down = state[BLOWN_DOWN];
    course
}

// What ends a stretch, by its place in `Running::events`.
const ON: usize = 0;
const OFF: usize = 1;
const EMPTY: usize = 2;
const LIP: usize = 5;
const ALARM: usize = 6;
const TRIP: usize = 7;
const STARVE: usize = 8;
const AT_REST: usize = 10;
const EVENTS: usize = 11;

/// Changes of water and solids below this part of what comes are none: ten times what the steps leave of them.
const REST: f64 = 1e-7;
/// The level has turned where it moves back faster than by this part of what flows; less is the steps' error.
const TURNS: f64 = 1e-6;

/// To the next event or the end, with levels and times kept.
fn stretch(
    running: &Running,
    time: (f64, f64),
    state: State,
    course: &mut Course,
) -> Result<ode::End<7>, CourseError> {
    // A switch whose level has been passed already acts at once.
    if running.events(&state)[ON] >= 0.0 {
        return Ok(ode::End { time: time.0, state, event: Some(ON) });
    }
    let seen = |hour: f64, state: &State| {
        let level = running.level(state);
        course.samples.push(running.sample(hour, state));
        if level > course.highest.0 {
            course.highest = (level, hour);
        }
        if level < course.lowest.0 {
            course.lowest = (level, hour);
        }
    };
    let found =
        ode::follow(|state| running.slope(state), time, state, |state| running.events(state), seen)
            .ok_or(CourseError::Unsolved)?;
    let first = match found.event {
        Some(LIP) => &mut course.overflows_at,
        Some(ALARM) => &mut course.alarms_at,
        Some(TRIP) => &mut course.trips_at,
        Some(STARVE) => &mut course.starves_at,
        _ => return Ok(found),
    };
    first.get_or_insert(found.time);
    Ok(found)
}

fn check(
    basin: &Basin,
    circuit: &Circuit,
    start_level: f64,
    phases: &[Phase],
) -> Result<(), CourseError> {
    let is_amount = |number: f64| number >= 0.0 && number.is_finite();
    let amounts = [
        circuit.elsewhere,
        circuit.evaporation,
        circuit.drift,
        circuit.blowdown,
        circuit.leakage,
        basin.held_up,
        basin.shape.volume(start_level),
    ];
    let phases_are = phases.iter().all(|phase| {
        let stuck = match phase.makeup {
            Makeup::Stuck(share) => is_amount(share),
            _ => true,
        };
        is_amount(phase.hours) && is_amount(phase.rain) && stuck
    });
    let positive =
        circuit.cycles >= 1.0 && circuit.cycles.is_finite() && basin.run_back_hours > 0.0;
    let whole = basin.shape.volume(start_level) + basin.held_up + circuit.elsewhere;
    if amounts.into_iter().all(is_amount) && phases_are && positive && whole > 0.0 {
        Ok(())
    } else {
        Err(CourseError::NotPhysical)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Shape;
    use super::super::outflow::{Drain, Overflow};
    use super::super::valve::FloatValve;
    use super::*;
    use approx::assert_relative_eq;

    fn basin() -> Basin {
        Basin {
            shape: Shape::upright(40.0).unwrap(),
            operating_level: 0.5,
            overflow_level: 0.8,
            low_alarm_level: Some(0.3),
            pump_trip_level: Some(0.2),
            suction_level: Some(0.25),
            held_up: 8.0,
            run_back_hours: 0.1,
            valve: Some(FloatValve {
                action: Action::Proportional { open_level: 0.4, shut_level: 0.6 },
                capacity: 20.0,
            }),
            overflow: Some(Overflow::Pipe(0.15)),
            drain: Some(Drain(0.1)),
        }
    }

    const CIRCUIT: Circuit = Circuit {
        elsewhere: 30.0,
        evaporation: 6.0,
        drift: 0.0,
        blowdown: 2.0,
        leakage: 0.0,
        cycles: 4.0,
        is_controlled: false,
    };

    fn phase(hours: f64, makeup: Makeup) -> Phase {
        Phase { hours, pumps_run: true, makeup, drain_is_open: false, rain: 0.0 }
    }

    #[test]
    fn a_lost_makeup_empties_the_basin_at_the_rate_of_its_losses() {
        let found = course(&basin(), &CIRCUIT, 0.5, &[phase(24.0, Makeup::Lost)]).unwrap();
        // 8 m3/h from 40 m2: 0.2 m an hour.
        assert_relative_eq!(found.alarms_at.unwrap(), 1.0, max_relative = 1e-7);
        assert_relative_eq!(found.starves_at.unwrap(), 1.25, max_relative = 1e-7);
        assert_relative_eq!(found.trips_at.unwrap(), 1.5, max_relative = 1e-7);
        assert_relative_eq!(found.empties_at.unwrap(), 2.5, max_relative = 1e-7);
    }

    #[test]
    fn the_float_settles_where_it_supplies_the_losses() {
        let found = course(&basin(), &CIRCUIT, 0.45, &[phase(900.0, Makeup::Float)]).unwrap();
        let settled = basin().valve.unwrap().settles_at(8.0).unwrap();
        assert_relative_eq!(found.samples.last().unwrap().level, settled, max_relative = 1e-6);
        assert_relative_eq!(found.samples.last().unwrap().cycles, 4.0, max_relative = 1e-6);
    }

    #[test]
    fn a_stuck_valve_overflows_what_the_losses_leave() {
        let found = course(&basin(), &CIRCUIT, 0.5, &[phase(2_000.0, Makeup::Stuck(1.0))]).unwrap();
        // 12 m3/h too much into 12 m3 of freeboard.
        assert_relative_eq!(found.overflows_at.unwrap(), 1.0, max_relative = 1e-6);
        let last = found.samples.last().unwrap();
        assert_relative_eq!(last.overflow, 12.0, max_relative = 1e-6);
        assert_relative_eq!(last.cycles, 20.0 / 14.0, max_relative = 1e-6);
        let head = Overflow::Pipe(0.15).head_for(12.0);
        assert_relative_eq!(last.level, 0.8 + head, max_relative = 1e-7);
    }

    /// The basin without a description of its overflow.
    fn unknown() -> Basin {
        Basin { overflow: None, ..basin() }
    }

    #[test]
    fn an_overflow_that_is_not_described_holds_the_water_at_its_lip() {
        let stuck = [phase(2_000.0, Makeup::Stuck(1.0))];
        let found = course(&unknown(), &CIRCUIT, 0.5, &stuck).unwrap();
        assert_relative_eq!(found.overflows_at.unwrap(), 1.0, max_relative = 1e-6);
        assert_relative_eq!(found.highest.0, 0.8, max_relative = 1e-9);
        // 12 m3/h too much, from the moment on when 12 m3 of freeboard are full.
        assert_relative_eq!(found.overflowed, 12.0 * 1_999.0, max_relative = 1e-6);
        let last = found.samples.last().unwrap();
        assert_relative_eq!(last.overflow, 12.0, max_relative = 1e-6);
        // All the solids that come leave again: 20 m3/h of makeup in 14 m3/h of liquid.
        assert_relative_eq!(last.cycles, 20.0 / 14.0, max_relative = 1e-6);
    }

    #[test]
    fn the_water_leaves_the_lip_when_more_leaves_than_comes() {
        let phases = [phase(3.0, Makeup::Stuck(1.0)), phase(1.0, Makeup::Lost)];
        let found = course(&unknown(), &CIRCUIT, 0.5, &phases).unwrap();
        assert_relative_eq!(found.overflowed, 24.0, max_relative = 1e-6);
        let last = found.samples.last().unwrap();
        assert_relative_eq!(last.level, 0.8 - 8.0 / 40.0, max_relative = 1e-6);
        assert_eq!(last.overflow, 0.0);
    }

    #[test]
    fn what_runs_back_spills_over_a_lip_that_is_not_described() {
        let full = Basin { held_up: 20.0, valve: None, ..unknown() };
        let stop = Phase { pumps_run: false, ..phase(48.0, Makeup::Float) };
        let found = course(&full, &CIRCUIT, 0.5, &[stop]).unwrap();
        // 20 m3 into 12 m3 of freeboard.
        assert_relative_eq!(found.highest.0, 0.8, max_relative = 1e-9);
        assert_relative_eq!(found.overflowed, 8.0, max_relative = 1e-6);
        let half =
            [Phase { pumps_run: false, ..phase(2.0, Makeup::Float) }, phase(0.5, Makeup::Lost)];
        let again = course(&full, &CIRCUIT, 0.5, &half).unwrap();
        assert_relative_eq!(
            again.samples.last().unwrap().level,
            0.5 - (8.0 + 4.0) / 40.0,
            max_relative = 1e-3
        );
    }

    /// From 0.52 m, where the float settles.
    #[test]
    fn a_controller_blows_down_nothing_as_the_water_thins() {
        let controlled = Circuit { is_controlled: true, ..CIRCUIT };
        let week = |makeup| course(&basin(), &controlled, 0.52, &[phase(168.0, makeup)]).unwrap();
        let (float, stuck) = (week(Makeup::Float), week(Makeup::Stuck(1.0)));
        assert_relative_eq!(float.blown_down, 2.0 * 168.0, max_relative = 1e-3);
        assert!(stuck.blown_down < 2.0);
        // What came is what left, and what the basin holds more.
        let held = 40.0 * (stuck.samples.last().unwrap().level - 0.52);
        let left = 6.0 * 168.0 + stuck.blown_down + stuck.overflowed + held;
        assert_relative_eq!(stuck.makeup, left, max_relative = 1e-7);
    }

    #[test]
    fn a_pump_stop_runs_back_and_overflows_what_has_no_room() {
        let mut full = basin();
        full.held_up = 20.0;
        full.valve = None;
        let stop = Phase { pumps_run: false, ..phase(48.0, Makeup::Float) };
        let found = course(&full, &CIRCUIT, 0.5, &[stop]).unwrap();
        // 20 m3 into 12 m3 of freeboard: the rest is gone in the end.
        assert!(found.highest.0 > 0.8);
        assert_relative_eq!(found.overflowed, 8.0, max_relative = 1e-2);
        assert_relative_eq!(found.overflowed_solids, 4.0 * found.overflowed, max_relative = 1e-6);
        // Restarted, the basin lacks it.
        let again = course(&full, &CIRCUIT, 0.5, &[stop, phase(0.3, Makeup::Lost)]).unwrap();
        assert!(again.lowest.0 < 0.5 - 8.0 / 40.0 && again.starves_at.is_some());
    }

    #[test]
    fn an_open_drain_follows_torricelli() {
        let mut still = basin();
        still.held_up = 0.0;
        still.valve = None;
        let open = Phase { pumps_run: false, drain_is_open: true, ..phase(24.0, Makeup::Float) };
        let found = course(&still, &CIRCUIT, 0.5, &[open]).unwrap();
        let hours = still.drain.unwrap().hours_between(40.0, 0.5, 0.3);
        assert_relative_eq!(found.alarms_at.unwrap(), hours, max_relative = 1e-6);
    }

    #[test]
    fn an_on_off_valve_swings_between_its_levels() {
        let mut swinging = basin();
        let action = Action::OnOff { on_level: 0.45, off_level: 0.55 };
        swinging.valve = Some(FloatValve { action, capacity: 20.0 });
        let found = course(&swinging, &CIRCUIT, 0.5, &[phase(100.0, Makeup::Float)]).unwrap();
        assert_relative_eq!(found.highest.0, 0.55, max_relative = 1e-6);
        assert_relative_eq!(found.lowest.0, 0.45, max_relative = 1e-6);
        assert!((found.makeup / 100.0 - 8.0).abs() < 0.1);
    }

    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        /// Whatever the basin: an answer of numbers or an error, and water kept count of.
        #[test]
        fn any_basin_ends_well(
            area in 0.5..500.0_f64,
            level in 0.05..2.0_f64,
            lip in 0.05..2.0_f64,
            diameter in 0.02..0.6_f64,
            held_up in 0.0..50.0_f64,
            capacity in 0.0..200.0_f64,
            evaporation in 0.0..60.0_f64,
            blowdown in 0.0..20.0_f64,
            stuck in 0.0..1.0_f64,
            is_on_off in any::<bool>(),
            is_controlled in any::<bool>(),
            drain_is_open in any::<bool>(),
            is_described in any::<bool>(),
        ) {
            let action = if is_on_off {
                Action::OnOff { on_level: 0.8 * level, off_level: level }
            } else {
                Action::Proportional { open_level: 0.8 * level, shut_level: level }
            };
            let basin = Basin {
                shape: Shape::upright(area).unwrap(),
                operating_level: level,
                overflow_level: lip,
                held_up,
                valve: Some(FloatValve { action, capacity }),
                overflow: is_described.then_some(Overflow::Pipe(diameter)),
                ..basin()
            };
            let circuit = Circuit { evaporation, blowdown, is_controlled, ..CIRCUIT };
            let phases = [
                Phase { drain_is_open, ..phase(5.0, Makeup::Float) },
                Phase { pumps_run: false, ..phase(2.0, Makeup::Float) },
                phase(20.0, Makeup::Stuck(stuck)),
            ];
            if let Ok(found) = course(&basin, &circuit, level, &phases) {
                let last = found.samples.last().unwrap();
                prop_assert!(last.level.is_finite() && last.cycles.is_finite());
                prop_assert!(last.cycles >= 0.99 && found.overflowed >= -1e-9);
                prop_assert!(found.highest.0 + 1e-9 >= found.lowest.0);
                prop_assert!(is_described || found.highest.0 <= lip + 1e-9);
            }
        }
    }
}
