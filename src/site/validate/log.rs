//! Checks what a description says of a log.

use super::Check;
use crate::chemistry::analysis::Constituent;
use crate::quantity::unit::{MILLIGRAM_PER_LITRE, Unit};
use crate::quantity::{Concentration, Fraction, Measured, Quantity, ReadError, Stated, find_unit};
use crate::readings::{Column, Layout, MOST_RECORDED, RecordedColumn};
use crate::site::default_uncertainty::{
    CIRCULATION_PERCENT, CONDUCTIVITY_PERCENT, TITRATION_PERCENT,
};
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
    (CONDUCTIVITY_PERCENT, "not stated; common practice"),
    (TITRATION_PERCENT, "not stated; common practice of a titration"),
    (CIRCULATION_PERCENT, "not stated; a nameplate circulation, common practice"),
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
            decimal: log.decimal,
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
        let (unit, of_basis) = match unit_of(text, channel) {
            Ok(unit) => unit,
            Err((message, help)) => {
                self.problem(Problem::new(format!("{path}.unit"), message).with_help(help));
                return None;
            }
        };
        let is_meter = matches!(channel, Channel::MakeupRegister | Channel::BlowdownRegister);
        if column.multiplier.is_some_and(|by| !(by > 0.0 && by.is_finite() && is_meter)) {
            self.problem(
                Problem::new(
                    format!("{path}.multiplier"),
                    "only the register of a meter has a multiplier, a number above zero",
                )
                .with_help("write multiplier = 10 where the last digit counts tens of the unit"),
            );
            return None;
        }
        let multiplier = column.multiplier.unwrap_or(1.0) * of_basis;
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
        Some(Column { name, channel, unit, multiplier, rolls_over_at: column.rolls_over_at })
    }
}

/// The unit that a text names, and what its numbers are multiplied by: chloride may be counted as CaCO3.
fn unit_of(text: &str, channel: Channel) -> Result<(&'static Unit, f64), (String, String)> {
    let expected = quantity(channel);
    let is_chloride = matches!(channel, Channel::MakeupChloride | Channel::BasinChloride);
    let Some((unit, basis)) = text.split_once(" as ").filter(|_| is_chloride) else {
        return match find_unit(text, &[expected]) {
            Ok(unit) => Ok((unit, 1.0)),
            Err(error) => Err((error.message, help_for(text, error.help))),
        };
    };
    if basis.trim() == Constituent::Chloride.basis().formula() {
        return unit_of(unit.trim_end(), channel);
    }
    let one: Concentration =
        format!("1 {text}").parse().map_err(|error: ReadError| (error.message, error.help))?;
    let factor = Constituent::Chloride.factor(&one).map_err(|error| {
        (error.to_string().replace('\n', ": "), "chloride is written like \"48 mg/L as Cl\"".into())
    })?;
    Ok((&MILLIGRAM_PER_LITRE, factor * one.amount.value.si()))
}

/// Where a number stands before the unit, it is a register's multiplier.
fn help_for(text: &str, help: String) -> String {
    let text = text.trim().trim_start_matches(['x', 'X', '×']).trim_start();
    let end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    let unit = unit.trim_start().trim_start_matches(['x', 'X', '×', '*']).trim_start();
    match number.parse::<u32>() {
        Ok(number) if number > 1 && !unit.is_empty() => {
            format!("write unit = \"{unit}\" and multiplier = {number}")
        }
        _ => help,
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_column_may_say_what_its_numbers_count() {
        let of = |text| unit_of(text, Channel::BasinChloride).map(|(unit, by)| unit.to_si(by));
        assert_eq!(of("mg/L as Cl"), Ok(1e-3));
        assert_eq!(of("ppm as Cl"), Ok(1e-3));
        // Equivalent masses of 35.45 and 50.04 (IUPAC 2021 abridged weights).
        approx::assert_relative_eq!(
            of("mg/L as CaCO3").unwrap(),
            1e-3 * 35.45 / 50.04,
            max_relative = 2e-4
        );
        assert!(of("mg/L as NaOH").unwrap_err().0.contains("NaOH"));
    }

    #[test]
    fn a_number_before_a_unit_is_a_multiplier() {
        for text in ["x10 US gal", "10 US gal", "x 10 US gal", "10 x US gal"] {
            let (_, help) = unit_of(text, Channel::MakeupRegister).unwrap_err();
            assert_eq!(help, "write unit = \"US gal\" and multiplier = 10", "{text}");
        }
        for (text, meanings) in [
            ("kgal", ["US kgal", "imp kgal"]),
            ("M gal", ["US kgal", "million US gal"]),
            ("MG", ["US kgal", "million US gal"]),
        ] {
            let (message, help) = unit_of(text, Channel::MakeupRegister).unwrap_err();
            assert_eq!(message, format!("ambiguous unit \"{text}\""));
            assert!(meanings.iter().all(|meaning| help.contains(meaning)), "{help}");
        }
    }
}
