//! What the blowdown is set to, in the words of whatever opens its valve.

use super::{Of, cycles, duration, us_per_cm};
use crate::blowdown::control::{BUCKETS, HALF_LOAD, SHIFT_MINUTES, SHORTEST_FILL, SOURCE};
use crate::blowdown::set_point::{SetPoint, ValveState, ValveWork};
use crate::model::{BlowdownSheet, Setting, VALVE_OVER_MEAN};
use crate::quantity::{UnitSystem, significant, unit, with_decimals};
use crate::report::page::{Block, Piece, Words, constant, number, words};
use crate::report::shown::{percent, whole_percent};
use crate::site::Control;
use serde::Serialize;

impl Of<'_> {
    /// What the valve is set to, or why there is nothing to set.
    pub(super) fn control(&self) -> Words {
        let Some(setting) = self.sheet.setting else { return self.no_set_point() };
        match setting.control {
            Control::Conductivity => self.controller(),
            _ if setting.blowdown == 0.0 => {
                " Shut the blowdown: drift, leakage and overflow alone let out as much.".into()
            }
            Control::Timer => words![self.clock(&setting), self.reading()],
            Control::MakeupPaced => words![self.paced(&setting), self.reading()],
            Control::Continuous | Control::Manual => {
                words![self.hand_valve(&setting), self.reading()]
            }
        }
    }

    fn controller(&self) -> Words {
        let Some(set_point) = &self.sheet.set_point else { return self.no_set_point() };
        words![
            " Set the controller to ",
            conductivity(set_point),
            " at ",
            constant("25 °C"),
            ", opening there and shutting at ",
            self.shuts_at(set_point),
            "."
        ]
    }

    fn no_set_point(&self) -> Words {
        match self.sheet.makeup_conductivity.measured {
            Some(_) => " No set point: the makeup's conductivity does not fit its ions.",
            None => " For a set point state the makeup's measured conductivity.",
        }
        .into()
    }

    fn shuts_at(&self, set_point: &SetPoint) -> Piece {
        let shuts_at = set_point.conductivity * (1.0 - self.sheet.dead_band);
        number("set_point.shuts_at_us_per_cm", us_per_cm(shuts_at))
    }

    fn clock(&self, setting: &Setting) -> Words {
        let set = match setting.minutes_an_hour {
            Some(minutes) => words![
                " Set the clock to open the valve ",
                number("control.minutes_an_hour", format!("{} min", significant(minutes, 2))),
                " in every hour."
            ],
            None => words![
                " The clock has to let out ",
                number("control.blowdown_m3_per_h", self.flow(setting.blowdown)),
                match self.sheet.valve {
                    Some(_) => ", more than the valve passes.",
                    None => "; for its minutes state blowdown.valve_flow.",
                }
            ],
        };
        words![set, self.at_half_load(setting), " Set it for the highest load; it sees no leak."]
    }

    fn paced(&self, setting: &Setting) -> Words {
        let part = number("control.bled_part", percent(setting.bled_part, 3));
        let litres = |key, m3: f64| {
            let (of_m3, symbol) = match self.units {
                UnitSystem::Si => (1e3, "L"),
                UnitSystem::UsCustomary => (1.0 / unit::US_GALLON.factor, "US gal"),
            };
            number(key, format!("{} {symbol}", significant(of_m3 * m3, 3)))
        };
        let pulse = setting.pulse.zip(setting.bled_a_pulse()).map(|(pulse, bled)| {
            words![
                ", ",
                litres("control.bled_a_pulse_l", bled),
                " for a pulse of ",
                litres("control.pulse_l", pulse)
            ]
        });
        let seconds = setting.seconds_a_pulse.map(|seconds| {
            let shown = format!("{} s", significant(seconds, 3));
            words![" (valve open ", number("control.seconds_a_pulse", shown), ")"]
        });
        words![
            " Set the makeup meter's control to bleed ",
            part,
            " of the makeup",
            pulse,
            seconds,
            ".",
            self.at_half_load(setting),
            " It sees no leak."
        ]
    }

    fn hand_valve(&self, setting: &Setting) -> Words {
        let (flow, bucket, fill) = match self.units {
            UnitSystem::Si => {
                let flow = format!("{} L/min", significant(1e3 * setting.blowdown / 60.0, 3));
                (flow, "10 L", ("control.seconds_a_bucket_of_10_l", BUCKETS[0]))
            }
            UnitSystem::UsCustomary => {
                let flow = self.flow(setting.blowdown);
                (flow, "5 US gal", ("control.seconds_a_bucket_of_5_us_gal", BUCKETS[1]))
            }
        };
        let seconds = 3_600.0 * fill.1 / setting.blowdown;
        let bucket = match seconds < SHORTEST_FILL {
            true => " (more than a bucket shows: read a meter)".into(),
            false => words![
                " (a bucket of ",
                constant(bucket),
                " fills in ",
                number(fill.0, format!("{} s", significant(seconds, 2))),
                ")"
            ],
        };
        let by_hand = setting.minutes_a_shift.filter(|_| setting.control == Control::Manual);
        let by_hand = by_hand.map(|minutes| {
            let rise = setting.rise_in_shift.map(|rise| {
                let rise = with_decimals(rise, 2);
                let rise = number("control.rise_in_shift", rise);
                words![", which lets the water swing by ", rise, " cycles"]
            });
            words![
                ", or to full flow for ",
                number("control.minutes_a_shift", format!("{} min", significant(minutes, 2))),
                " in every ",
                constant(format!("{} h", SHIFT_MINUTES / 60.0)),
                rise
            ]
        });
        words![
            " Open the hand valve to ",
            number("control.blowdown_l_per_min", flow),
            bucket,
            by_hand,
            ".",
            self.at_half_load(setting)
        ]
    }

    /// What the setting leaves of the cycles when less evaporates.
    fn at_half_load(&self, setting: &Setting) -> Words {
        words![
            " At ",
            constant(whole_percent(HALF_LOAD)),
            " of this load that holds ",
            number("control.cycles_at_half_load", cycles(setting.cycles_at_half_load)),
            " cycles."
        ]
    }

    /// What to read where nothing reads it for itself.
    fn reading(&self) -> Words {
        let Some(set_point) = &self.sheet.set_point else { return Words::default() };
        words![
            " Read the conductivity each shift: above ",
            conductivity(set_point),
            " (",
            constant("25 °C"),
            ") bleed more, below ",
            self.shuts_at(set_point),
            " less."
        ]
    }

    /// How the valve works under a controller, in brief.
    pub(super) fn valve_times(&self) -> Option<Words> {
        let valve = self.sheet.valve.as_ref()?;
        let holds = number("valve.open_holds_cycles", cycles(valve.open_holds));
        let is_controlled =
            self.sheet.setting.is_none_or(|setting| setting.control == Control::Conductivity);
        let open = || words!["always open it holds ", holds.clone(), " cycles."];
        match valve.state {
            ValveState::ByTurns(Some(turns)) if is_controlled => Some(words![
                "Valve: open ",
                number("valve.open_h", duration(turns.open_hours)),
                ", shut ",
                number("valve.shut_h", duration(turns.shut_hours)),
                " by turns; ",
                open()
            ]),
            ValveState::StandsOpen => Some(words!["Valve: it hardly ever shuts; ", open()]),
            // The first of the warnings.
            ValveState::TooSmall => None,
            ValveState::NotNeeded => {
                Some("Valve: it stays shut, other losses let out as much.".into())
            }
            ValveState::ByTurns(_) => Some(words!["Valve: ", open()]),
        }
    }

    pub(super) fn valve(&self) -> Vec<Block> {
        let sheet = self.sheet;
        let mut blocks = Vec::new();
        if let Some(valve) = &sheet.valve {
            let turns = match valve.state {
                ValveState::ByTurns(Some(turns)) => Some(turns),
                _ => None,
            };
            blocks.push(Block::paragraph(words![
                "A valve of ",
                number("valve.flow_m3_per_h", self.flow(valve.valve_flow)),
                " for a mean blowdown of ",
                number("valve.mean_flow_m3_per_h", self.flow(valve.mean_flow)),
                "; open all the time it holds ",
                number("valve.open_holds_cycles", cycles(valve.open_holds)),
                " cycles.",
                turns.map(|turns| words![
                    " Under a controller open ",
                    number("valve.open_h", duration(turns.open_hours)),
                    " and shut ",
                    number("valve.shut_h", duration(turns.shut_hours)),
                    " by turns in the dead band of ",
                    number("dead_band", percent(sheet.dead_band, 2)),
                    " below the set point, ",
                    number("valve.open_part", whole_percent(turns.duty)),
                    " of the time open",
                    sheet.mean_cycles().map(|mean| words![
                        "; the cycles average ",
                        number("valve.mean_cycles", cycles(mean))
                    ]),
                    "."
                ])
            ]));
        }
        if let Some(size) = sheet.valve_size {
            blocks.push(Block::paragraph(words![
                "Size: ",
                number("valve_size.flow_m3_per_h", self.flow(size.flow)),
                " (",
                constant(VALVE_OVER_MEAN.to_string()),
                " times the mean, common practice: ",
                constant("2 to 3"),
                ") needs Kv ",
                number("valve_size.kv", significant(size.kv, 2)),
                ", Cv ",
                number("valve_size.cv", significant(size.cv, 2)),
                " at the stated pressure drop (IEC ",
                constant("60534-2-1"),
                ")."
            ]));
        }
        if !blocks.is_empty() {
            blocks.insert(0, Block::heading("BLOWDOWN VALVE"));
        }
        blocks
    }
}

fn conductivity(set_point: &SetPoint) -> Piece {
    number("set_point.conductivity_us_per_cm", us_per_cm(set_point.conductivity))
}

/// The equation of a setting that no conductivity makes.
pub(super) fn working(sheet: &BlowdownSheet) -> Option<Block> {
    let setting = sheet.setting?;
    let duty = setting.duty;
    let half = HALF_LOAD;
    let [evaporation, other, blowdown] = [duty.evaporation, duty.other_losses, setting.blowdown]
        .map(|number| significant(number, 8));
    let then = format!(
        "cycles at a part of the load = 1 + part * evaporation / (other_losses + blowdown) = 1 + {half} * \
         {evaporation} / ({other} + {blowdown}) = {}",
        with_decimals(setting.cycles_at_half_load, 3)
    );
    let lines = match setting.control {
        Control::Conductivity => return None,
        Control::Timer => {
            let minutes = setting.minutes_an_hour.zip(sheet.valve).map(|(minutes, valve)| {
                format!(
                    "minutes an hour = 60 * blowdown / valve_flow = 60 * {blowdown} / {} = {}",
                    significant(valve.valve_flow, 8),
                    significant(minutes, 4)
                )
            });
            minutes.into_iter().chain([then]).collect()
        }
        Control::Continuous | Control::Manual => vec![then],
        Control::MakeupPaced => {
            let part = significant(setting.bled_part, 6);
            vec![
                format!(
                    "part = blowdown / (evaporation + other_losses + blowdown) = {blowdown} / ({evaporation} + \
                     {other} + {blowdown}) = {part}"
                ),
                format!(
                    "makeup at a part of the load = ({half} * evaporation + other_losses) / (1 - part) = ({half} * \
                     {evaporation} + {other}) / (1 - {part})"
                ),
                format!(
                    "cycles = makeup / (makeup - {half} * evaporation) = {}",
                    with_decimals(setting.cycles_at_half_load, 3)
                ),
            ]
        }
    };
    let lines = lines.into_iter().map(Words::from).collect();
    Some(Block::Equation { lines, source: format!("flows in m3/h; {SOURCE}").into() })
}

/// What the blowdown is set to.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ControlOut {
    /// `conductivity`, `timer`, `makeup_paced`, `continuous` or `manual`.
    pub mode: &'static str,
    /// Blowdown at this hour's load.
    pub blowdown_m3_per_h: f64,
    /// The same.
    pub blowdown_l_per_min: f64,
    /// Cycles that the setting holds at half of this load.
    pub cycles_at_half_load: f64,
    /// Minutes an hour that a clock opens the valve.
    pub minutes_an_hour: Option<f64>,
    /// Minutes in every 8 h that somebody opens it.
    pub minutes_a_shift: Option<f64>,
    /// Cycles gained between two such openings.
    pub rise_in_shift: Option<f64>,
    /// Blowdown over makeup.
    pub bled_part: f64,
    /// Makeup of a pulse.
    pub pulse_l: Option<f64>,
    /// Blowdown for a pulse.
    pub bled_a_pulse_l: Option<f64>,
    /// Seconds that the valve is open for a pulse.
    pub seconds_a_pulse: Option<f64>,
    /// Seconds in which a bucket fills; none without blowdown.
    pub seconds_a_bucket_of_10_l: Option<f64>,
    /// Seconds in which a bucket fills; none without blowdown.
    pub seconds_a_bucket_of_5_us_gal: Option<f64>,
}

pub(super) fn json(setting: &Setting) -> ControlOut {
    let fill = |bucket: f64| {
        Some(3_600.0 * bucket / setting.blowdown).filter(|seconds| seconds.is_finite())
    };
    let litre = |m3: Option<f64>| m3.map(|m3| 1e3 * m3);
    ControlOut {
        mode: match setting.control {
            Control::Conductivity => "conductivity",
            Control::Timer => "timer",
            Control::MakeupPaced => "makeup_paced",
            Control::Continuous => "continuous",
            Control::Manual => "manual",
        },
        blowdown_m3_per_h: setting.blowdown,
        blowdown_l_per_min: 1e3 * setting.blowdown / 60.0,
        cycles_at_half_load: setting.cycles_at_half_load,
        minutes_an_hour: setting.minutes_an_hour,
        minutes_a_shift: setting.minutes_a_shift,
        rise_in_shift: setting.rise_in_shift,
        bled_part: setting.bled_part,
        pulse_l: litre(setting.pulse),
        bled_a_pulse_l: litre(setting.bled_a_pulse()),
        seconds_a_pulse: setting.seconds_a_pulse,
        seconds_a_bucket_of_10_l: fill(BUCKETS[0]),
        seconds_a_bucket_of_5_us_gal: fill(BUCKETS[1]),
    }
}

/// A valve at work.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ValveOut {
    /// What it passes when it is open.
    pub flow_m3_per_h: f64,
    /// What the target asks for on average.
    pub mean_flow_m3_per_h: f64,
    /// Cycles that it holds when it is open all the time; none where they have no limit.
    pub open_holds_cycles: Option<f64>,
    /// `by_turns`, `stands_open`, `too_small` or `not_needed`.
    pub state: &'static str,
    /// Hours open under a controller.
    pub open_h: Option<f64>,
    /// Hours shut under a controller.
    pub shut_h: Option<f64>,
    /// Part of the time that it is open under a controller.
    pub open_part: Option<f64>,
    /// Mean of the cycles over the dead band.
    pub mean_cycles: Option<f64>,
}

pub(super) fn valve_json(sheet: &BlowdownSheet, valve: &ValveWork) -> ValveOut {
    let (state, turns) = match valve.state {
        ValveState::ByTurns(turns) => ("by_turns", turns),
        ValveState::StandsOpen => ("stands_open", None),
        ValveState::TooSmall => ("too_small", None),
        ValveState::NotNeeded => ("not_needed", None),
    };
    ValveOut {
        flow_m3_per_h: valve.valve_flow,
        mean_flow_m3_per_h: valve.mean_flow,
        open_holds_cycles: Some(valve.open_holds).filter(|cycles| cycles.is_finite()),
        state,
        open_h: turns.map(|turns| turns.open_hours),
        shut_h: turns.map(|turns| turns.shut_hours),
        open_part: turns.map(|turns| turns.duty),
        mean_cycles: turns.and_then(|_| sheet.mean_cycles()),
    }
}
