//! Checks what a description says of a log.

use super::Check;
use crate::quantity::{Fraction, Measured, Quantity, Stated, find_unit};
use crate::readings::{Column, Layout, MOST_RECORDED, RecordedColumn};
use crate::site::description::{Channel, Instruments, LogColumn, LogLayout};
use crate::site::{Limits, Problem, SiteInstruments, SiteLog};

/// Instruments worse than this are none.
const ACCURACY: Limits = Limits::above(0.0, 1.0);

/// Channels of weather files alone.
const OF_WEATHER: [Channel; 3] = [Channel::DewPoint, Channel::Pressure, Channel::Load];

type Assumed = (f64, &'static str);

/// What instruments are taken for where nobody says, in per cent: accuracy.
const ACCURACIES: [Assumed; 5] = [
    (1.5, "not stated; NAVFAC MO-221, s. 5"),
    (1.5, "not stated; NAVFAC MO-221, s. 5"),
    (3.0, "not stated; common practice"),
    (5.0, "not stated; common practice of a titration"),
    (15.0, "not stated; a nameplate circulation, common practice"),
];
/// Repeatability.
const REPEATABILITIES: [Assumed; 5] = [
    (0.5, "not stated; common practice"),
    (0.5, "not stated; common practice"),
    (1.0, "not stated; common practice"),
    (2.0, "not stated; common practice of a titration"),
    (3.0, "not stated; spot readings of weather, common practice"),
];

/// The same two as parts of the reading: makeup, blowdown, conductivity, chloride, evaporation.
pub fn assumed_instruments() -> [[f64; 5]; 2] {
    [ACCURACIES, REPEATABILITIES].map(|assumed| assumed.map(|(percent, _)| percent / 100.0))
}

impl Check {
    /// The outer `None` is a problem, the inner one a site without a log.
    pub(super) fn log(&mut self, log: Option<&LogLayout>) -> Option<Option<SiteLog>> {
        let Some(log) = log else { return Some(None) };
        let before = self.problems.len();
        let Some(time) = log.time.clone() else {
            self.problem(
                Problem::new("log", "the column with date and time is missing")
                    .with_help("write time = \"its header\""),
            );
            return None;
        };
        let columns: Vec<Column> = log
            .column
            .iter()
            .enumerate()
            .filter(|(_, column)| column.is != Some(Channel::Recorded))
            .filter_map(|(index, column)| self.column(&format!("log.column.{}", index + 1), column))
            .collect();
        self.told_apart("log", &log.column);
        for (index, column) in log.column.iter().enumerate() {
            if column.is.is_some_and(|is| OF_WEATHER.contains(&is)) {
                self.problem(
                    Problem::new(
                        format!("log.column.{}.is", index + 1),
                        "a log is not checked against this column",
                    )
                    .with_help("it belongs to [[weather.column]]"),
                );
            }
        }
        let recorded = self.recorded(&log.column);
        let has =
            |channels: &[Channel]| columns.iter().any(|column| channels.contains(&column.channel));
        if !has(&[Channel::MakeupRegister, Channel::MakeupFlow]) && self.problems.len() == before {
            self.problem(
                Problem::new("log", "no column holds makeup_register or makeup_flow").with_help(
                    "a check needs the makeup at the least; blowdown, conductivities and temperatures \
                     make it surer",
                ),
            );
        }
        let accuracy = self.instruments("accuracy", &log.accuracy, ACCURACIES)?;
        let repeatability =
            self.instruments("repeatability", &log.repeatability, REPEATABILITIES)?;
        let layout = Layout {
            table: "log",
            time,
            time_of_day: None,
            time_ends_hour: false,
            typical_year: None,
            dates: log.dates,
            values: log.values,
            columns,
            recorded,
        };
        (self.problems.len() == before).then_some(Some(SiteLog { layout, accuracy, repeatability }))
    }

    /// Two columns may not hold the same thing.
    pub(super) fn told_apart(&mut self, table: &str, columns: &[LogColumn]) {
        for (index, column) in columns.iter().enumerate() {
            let counts = column.is.is_some_and(|is| is != Channel::Recorded);
            if counts && columns[..index].iter().any(|other| other.is == column.is) {
                self.problem(Problem::new(
                    format!("{table}.column.{}.is", index + 1),
                    "two columns hold the same thing",
                ));
            }
        }
    }

    /// Columns that are shown and not judged.
    fn recorded(&mut self, columns: &[LogColumn]) -> Vec<RecordedColumn> {
        let mut recorded = Vec::new();
        for (index, column) in columns.iter().enumerate() {
            let path = format!("log.column.{}", index + 1);
            if column.is != Some(Channel::Recorded) {
                if column.every.is_some() {
                    self.problem(Problem::new(
                        format!("{path}.every"),
                        "only a recorded column says how often it is to be read",
                    ));
                }
                continue;
            }
            let Some(name) = column.name.clone() else {
                self.problem(
                    Problem::new(path, "the column has no name")
                        .with_help("write name = \"its header\""),
                );
                continue;
            };
            let every = column.every.map(|every| every.value.si());
            if every.is_some_and(|seconds| !(seconds > 0.0)) {
                self.problem(
                    Problem::new(format!("{path}.every"), "a time above zero is needed")
                        .with_help("write every = \"7 d\""),
                );
            }
            if column.rolls_over_at.is_some() {
                self.problem(Problem::new(
                    format!("{path}.rolls_over_at"),
                    "a recorded column is not counted, so it does not roll over",
                ));
            }
            let unit = column.unit.clone().unwrap_or_default();
            recorded.push(RecordedColumn { name, unit, every });
        }
        if recorded.len() > MOST_RECORDED {
            self.problem(Problem::new(
                "log",
                format!("{} recorded columns: {MOST_RECORDED} at the most", recorded.len()),
            ));
        }
        recorded
    }

    fn instruments(
        &mut self,
        table: &str,
        stated: &Instruments,
        assumed: [Assumed; 5],
    ) -> Option<SiteInstruments> {
        let mut of = |key: &str, stated: &Option<Stated<Fraction>>, (percent, basis): Assumed| {
            let assumed: Stated<Fraction> = Fraction::percent(percent).into();
            self.value_or(format!("log.{table}.{key}"), stated, ACCURACY, (assumed, basis))
        };
        let [makeup, blowdown, conductivity, chloride, evaporation] = assumed;
        Some(SiteInstruments {
            makeup: of("makeup", &stated.makeup, makeup)?,
            blowdown: of("blowdown", &stated.blowdown, blowdown)?,
            conductivity: of("conductivity", &stated.conductivity, conductivity)?,
            chloride: of("chloride", &stated.chloride, chloride)?,
            evaporation: of("evaporation", &stated.evaporation, evaporation)?,
        })
    }

    pub(super) fn column(&mut self, path: &str, column: &LogColumn) -> Option<Column> {
        let (Some(name), Some(channel)) = (column.name.clone(), column.is) else {
            self.problem(Problem::new(path, "the column is not described").with_help(
                "write name = \"its header\", is = \"makeup_register\" and unit = \"m3\"",
            ));
            return None;
        };
        let expected = quantity(channel);
        let Some(text) = &column.unit else {
            self.problem(
                Problem::new(path, format!("the column \"{name}\" has no unit"))
                    .with_help(format!("its numbers are like {}", expected.example())),
            );
            return None;
        };
        let unit = match find_unit(text, &[expected]) {
            Ok(unit) => unit,
            Err(error) => {
                self.problem(
                    Problem::new(format!("{path}.unit"), error.message).with_help(error.help),
                );
                return None;
            }
        };
        if column
            .rolls_over_at
            .is_some_and(|at| !(at > 0.0 && at.is_finite() && channel.is_register()))
        {
            self.problem(Problem::new(
                format!("{path}.rolls_over_at"),
                "only a register rolls over, at a number above zero",
            ));
            return None;
        }
        Some(Column { name, channel, unit, rolls_over_at: column.rolls_over_at })
    }
}

fn quantity(channel: Channel) -> Quantity {
    match channel {
        Channel::MakeupRegister | Channel::BlowdownRegister => Quantity::Volume,
        Channel::MakeupFlow | Channel::BlowdownFlow | Channel::Circulation => Quantity::VolumeFlow,
        Channel::MakeupConductivity | Channel::BasinConductivity => Quantity::Conductivity,
        Channel::MakeupChloride | Channel::BasinChloride => Quantity::MassConcentration,
        Channel::HotWater | Channel::ColdWater | Channel::DryBulb | Channel::WetBulb => {
            Quantity::Temperature
        }
        Channel::RelativeHumidity => Quantity::RelativeHumidity,
        Channel::BlowdownValveHours | Channel::FanHours => Quantity::Duration,
        Channel::BlowdownOpenShare => Quantity::Share,
        Channel::DewPoint => Quantity::Temperature,
        Channel::Pressure => Quantity::Pressure,
        Channel::Load => Quantity::Share,
        // Its numbers are shown as they are.
        Channel::Recorded => Quantity::Ratio,
        Channel::BasinLevel => Quantity::Length,
    }
}
