//! Weather: a table whose columns the site file names, or a TMY3 file as it is.
//!
//! TMY3 (Wilcox and Marion 2008, NREL/TP-581-43156) has a line on the station, then the header. A row
//! names the hour that ends at its time, and the months come from several years. Its dew points below
//! freezing are taken as frost points.
//!
//! An hour that is not there stays missing, and so does one whose row lacks a number: nothing is filled
//! in.

use super::lines::Lines;
use super::rows::rows_of;
use super::{Channel, Column, Layout, LogError, NotUsed, Row, Rows, text_of};
use crate::air::{AirError, MoistAir};
use crate::quantity::significant;
use crate::quantity::unit::{self, Unit};
use crate::quantity::with_decimals;
use crate::site::description::DateOrder;
use crate::water::ZERO_CELSIUS;
use jiff::SignedDuration;
use jiff::civil::DateTime;
use std::io::Read;

/// Typical months come from several years: they are put into one, which is not a leap year.
const TYPICAL_YEAR: i16 = 2001;
/// TMY3 writes -9900 for what is missing; in any SI unit that is less than this.
const NONE_BELOW: f64 = -9_000.0;

/// An hour of weather.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hour {
    /// Line of its first row in the file.
    pub line: u64,
    /// Its beginning, by the clock of the file.
    pub time: DateTime,
    /// The air; the mean of the rows of the hour.
    pub air: MoistAir,
    /// Heat load as a part of the design's, where the file has it.
    pub load: Option<f64>,
}

/// Weather as read.
#[derive(Debug, Clone, PartialEq)]
pub struct Weather {
    /// In order of time.
    pub hours: Vec<Hour>,
    /// What was not used.
    pub not_used: NotUsed,
    /// Whether the months are typical ones, of no year.
    pub is_typical: bool,
    /// Height of the station, m, where the file states it.
    pub altitude: Option<f64>,
    /// Whether the file has the pressure; else that of the site is taken.
    pub has_pressure: bool,
}

/// Why weather cannot be read at all.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WeatherError {
    /// As a log.
    #[error(transparent)]
    Log(#[from] LogError),
    /// The file is no TMY3 file, and the site does not describe another.
    #[error("this is no TMY3 file, and the site file does not describe its columns")]
    NotDescribed,
}

/// Reads a file of weather. `pressure` is that of the site, Pa, for files without one.
///
/// # Errors
/// [`WeatherError`].
pub fn read(
    reader: impl Read,
    layout: Option<&Layout>,
    pressure: f64,
) -> Result<Weather, WeatherError> {
    let mut lines = Lines::new(reader)?;
    let (first, second) = (take(&mut lines)?, take(&mut lines)?);
    let is_typical =
        second.as_deref().is_some_and(|line| text_of(line).trim_start().starts_with(TMY3_DATE));
    lines.put_back(second);
    if is_typical {
        let first = first.unwrap_or_default();
        let altitude = text_of(&first).trim().rsplit(',').next().and_then(|text| text.parse().ok());
        let layout = tmy3();
        let mut rows = rows_of(lines, &layout)?;
        let hours = hours(&mut rows, &layout, pressure)?;
        let not_used = rows.into_not_used();
        return Ok(Weather { hours, not_used, is_typical, altitude, has_pressure: true });
    }
    let layout = layout.ok_or(WeatherError::NotDescribed)?;
    lines.put_back(first);
    let mut rows = rows_of(lines, layout)?;
    let hours = hours(&mut rows, layout, pressure)?;
    let has_pressure = layout.column(Channel::Pressure).is_some();
    let not_used = rows.into_not_used();
    Ok(Weather { hours, not_used, is_typical, altitude: None, has_pressure })
}

fn take(lines: &mut Lines<impl Read>) -> Result<Option<Vec<u8>>, LogError> {
    Ok(lines.take_line()?)
}

const TMY3_DATE: &str = "Date (MM/DD/YYYY)";

fn tmy3() -> Layout {
    let column = |name: &str, channel, unit: &'static Unit| Column {
        name: name.into(),
        channel,
        unit,
        multiplier: 1.0,
        rolls_over_at: None,
    };
    Layout {
        table: "weather",
        time: TMY3_DATE.into(),
        time_of_day: Some("Time (HH:MM)".into()),
        time_ends_hour: true,
        typical_year: Some(TYPICAL_YEAR),
        dates: Some(DateOrder::MonthFirst),
        decimal: None,
        values: None,
        columns: vec![
            column("Dry-bulb (C)", Channel::DryBulb, &unit::CELSIUS),
            column("Dew-point (C)", Channel::DewPoint, &unit::CELSIUS),
            column("Pressure (mbar)", Channel::Pressure, &unit::MILLIBAR),
        ],
        recorded: Vec::new(),
    }
}

/// The hours of all rows.
fn hours<R: Read>(
    rows: &mut Rows<'_, R>,
    layout: &Layout,
    pressure: f64,
) -> Result<Vec<Hour>, LogError> {
    let mut hours: Vec<Hour> = Vec::new();
    // Rows of the last hour.
    let mut count = 0.0;
    let mut most_humid: Option<f64> = None;
    while let Some(row) = rows.next_row()? {
        if let Some(humid) = row.get(Channel::RelativeHumidity) {
            most_humid = Some(most_humid.map_or(humid, |most| most.max(humid)));
        }
        let hour = match hour_of(&row, layout, pressure) {
            Ok(hour) => hour,
            Err(reason) => {
                rows.refuse_row(row.line, reason);
                continue;
            }
        };
        match hours.last_mut() {
            Some(last) if last.time == hour.time => {
                count += 1.0;
                last.take_into_mean(&hour, 1.0 / count);
            }
            _ => {
                count = 1.0;
                hours.push(hour);
            }
        }
    }
    ask_of_fractions(layout, most_humid)?;
    Ok(hours)
}

/// Air below 1 % of relative humidity all the time is none: the column holds fractions.
fn ask_of_fractions(layout: &Layout, most_humid: Option<f64>) -> Result<(), LogError> {
    match (layout.column(Channel::RelativeHumidity), most_humid) {
        (Some(column), Some(most)) if most > NONE_BELOW && most <= 0.01 => {
            let (column, most) = (column.name.clone(), significant(column.unit.of_si(most), 4));
            Err(LogError::HumidityAsFraction { column, most })
        }
        _ => Ok(()),
    }
}

impl Hour {
    /// Moves a mean by this part of its distance from another row.
    fn take_into_mean(&mut self, row: &Self, part: f64) {
        let toward = |mean: &mut f64, value: f64| *mean += part * (value - *mean);
        toward(&mut self.air.dry_bulb_celsius, row.air.dry_bulb_celsius);
        toward(&mut self.air.humidity_ratio, row.air.humidity_ratio);
        toward(&mut self.air.pressure_pascal, row.air.pressure_pascal);
        if let (Some(mean), Some(load)) = (&mut self.load, row.load) {
            toward(mean, load);
        }
    }
}

/// The air and load of a row, or what is wrong with it.
fn hour_of(row: &Row, layout: &Layout, site_pressure: f64) -> Result<Hour, String> {
    // A column that the layout names must have a number in every row.
    let reading = |channel| match (layout.column(channel), row.get(channel)) {
        (None, _) => Ok(None),
        (Some(_), Some(si)) if si > NONE_BELOW => Ok(Some(si)),
        (Some(column), _) => Err(format!("{}: no number", column.name)),
    };
    let celsius =
        |channel| reading(channel).map(|kelvin| kelvin.map(|kelvin| kelvin - ZERO_CELSIUS));
    let dry = celsius(Channel::DryBulb)?.ok_or("no dry bulb")?;
    let pressure = reading(Channel::Pressure)?.unwrap_or(site_pressure);
    let humidity = [
        celsius(Channel::WetBulb)?.map(|wet| MoistAir::from_wet_bulb(dry, wet, pressure)),
        celsius(Channel::DewPoint)?.map(|dew| MoistAir::from_dew_point(dry, dew, pressure)),
        reading(Channel::RelativeHumidity)?
            .map(|relative| MoistAir::from_relative_humidity(dry, relative, pressure)),
    ];
    let air = humidity
        .into_iter()
        .flatten()
        .next()
        .ok_or("no wet bulb, dew point or relative humidity")?
        .map_err(in_words)?;
    let load = reading(Channel::Load)?;
    if load.is_some_and(|load| !(0.0..=2.0).contains(&load)) {
        return Err("the load is outside 0 to 200 %".into());
    }
    Ok(Hour { line: row.line, time: beginning_of_hour(row.time, layout), air, load })
}

/// A time that names an end belongs to the hour before it.
fn beginning_of_hour(time: DateTime, layout: &Layout) -> DateTime {
    let instant = SignedDuration::from_nanos(if layout.time_ends_hour { 1 } else { 0 });
    let inside = time.saturating_sub(instant);
    inside.date().at(inside.hour(), 0, 0, 0)
}

/// Readings as hygrometers and thermometers show them, not with the digits of a conversion.
fn in_words(error: AirError) -> String {
    let shown = |number| with_decimals(number, 1);
    match error {
        AirError::OutOfRange { what, value, unit: "°C", least, most } => {
            format!("{what} is {} °C: the formulas hold from {least} to {most} °C", shown(value))
        }
        AirError::OutOfRange { what: "relative humidity", value, .. } => {
            format!("relative humidity is {} %: it lies between 0 and 100 %", shown(100.0 * value))
        }
        AirError::OutOfRange { what: "pressure", value, least, most, .. } => format!(
            "pressure is {} kPa: the formulas hold from {:.0} to {:.0} kPa",
            shown(value / 1e3),
            least / 1e3,
            most / 1e3
        ),
        AirError::WetBulbAboveDryBulb { wet_bulb_celsius: wet, dry_bulb_celsius: dry } => {
            format!("wet bulb {} °C is above the dry bulb {} °C", shown(wet), shown(dry))
        }
        AirError::DewPointAboveDryBulb { dew_point_celsius: dew, dry_bulb_celsius: dry } => {
            format!("dew point {} °C is above the dry bulb {} °C", shown(dew), shown(dry))
        }
        other => other.to_string(),
    }
}

/// Hours that are missing between the first and the last, as runs: the first missing one and how many.
pub fn missing(hours: &[Hour]) -> Vec<(DateTime, u32)> {
    hours
        .windows(2)
        .filter_map(|pair| {
            let first = pair[0].time.checked_add(SignedDuration::from_hours(1)).ok()?;
            let missing = u32::try_from(pair[1].time.duration_since(first).as_hours()).ok()?;
            (missing > 0).then_some((first, missing))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    fn layout() -> Layout {
        let column = |name: &str, channel, unit| Column {
            name: name.into(),
            channel,
            unit,
            multiplier: 1.0,
            rolls_over_at: None,
        };
        Layout {
            table: "weather",
            time: "time".into(),
            time_of_day: None,
            time_ends_hour: false,
            typical_year: None,
            dates: Some(DateOrder::DayFirst),
            decimal: None,
            values: None,
            columns: vec![
                column("dry", Channel::DryBulb, &unit::CELSIUS),
                column("wet", Channel::WetBulb, &unit::CELSIUS),
                column("load", Channel::Load, &unit::PERCENT_SHARE),
            ],
            recorded: Vec::new(),
        }
    }

    #[test]
    fn hours_are_read_and_what_cannot_be_is_listed() {
        let text = "time,dry,wet,load\n2025-01-01 00:00,5,3,80\n2025-01-01 01:00,5,7,80\n\
                    2025-01-01 02:00,4,,80\n2025-01-01 03:00,4,2,300\n2025-01-01 06:00,3,2,70\n";
        let weather = read(text.as_bytes(), Some(&layout()), 101_325.0).unwrap();
        assert_eq!(weather.hours.len(), 2);
        assert_relative_eq!(weather.hours[1].load.unwrap(), 0.7, max_relative = 1e-12);
        let reasons: Vec<&str> =
            weather.not_used.listed.iter().map(|refused| refused.reason.as_str()).collect();
        assert!(reasons[0].contains("wet bulb"), "{reasons:?}");
        assert_eq!(reasons[1], "wet: no number");
        assert!(reasons[2].contains("load"), "{reasons:?}");
        let gaps = missing(&weather.hours);
        assert_eq!((gaps.len(), gaps[0].1), (1, 5));
        assert_eq!(gaps[0].0.to_string(), "2025-01-01T01:00:00");
    }

    #[test]
    fn humidity_written_as_a_fraction_is_asked_about() {
        let mut layout = layout();
        layout.columns[1] = Column {
            name: "rh".into(),
            channel: Channel::RelativeHumidity,
            unit: &unit::PERCENT_RELATIVE_HUMIDITY,
            multiplier: 1.0,
            rolls_over_at: None,
        };
        let read = |values: [&str; 2]| {
            let text = format!(
                "time,dry,rh,load\n2025-01-01 00:00,5,{},80\n2025-01-01 01:00,5,{},80\n",
                values[0], values[1]
            );
            super::read(text.as_bytes(), Some(&layout), 101_325.0)
        };
        let error = read(["0.85", "1"]).unwrap_err().to_string();
        assert!(error.contains("\"rh\"") && error.contains("above 1.000"), "{error}");
        // One low value among others may be anything.
        assert_eq!(read(["0.85", "62"]).unwrap().hours.len(), 2);
    }

    #[test]
    fn a_typical_year_is_read_as_it_is() {
        let text = "999999,\"NOWHERE (INVENTED)\",XX,-5.0,36.1,-79.95,273\n\
                    Date (MM/DD/YYYY),Time (HH:MM),Dry-bulb (C),Dew-point (C),Pressure (mbar)\n\
                    01/01/1988,01:00,10.0,7.2,985\n01/01/1988,24:00,9.0,7.0,985\n\
                    02/01/1999,01:00,8.0,-9900,985\n02/01/1999,02:00,8.0,6,-9900\n13/01/1999,02:00,8,6,985\n\
                    01/01/1975,01:00,9,6,985\n";
        let weather = read(text.as_bytes(), None, 101_325.0).unwrap();
        assert!(weather.is_typical);
        assert_eq!(weather.altitude, Some(273.0));
        let times: Vec<String> = weather.hours.iter().map(|hour| hour.time.to_string()).collect();
        assert_eq!(times, ["2001-01-01T00:00:00", "2001-01-01T23:00:00"]);
        assert_relative_eq!(weather.hours[0].air.pressure_pascal, 98_500.0);
        let listed: Vec<_> =
            weather.not_used.listed.iter().map(|r| (r.line, r.reason.as_str())).collect();
        assert_eq!(
            listed,
            [
                (5, "Dew-point (C): no number"),
                (6, "Pressure (mbar): no number"),
                (7, "\"13/01/1999 02:00\" is no date with the month first"),
                (8, "the time 2001-01-01T01:00:00 stands in line 3 already"),
            ]
        );
    }

    #[test]
    fn a_file_that_nobody_describes_is_refused() {
        let error = read("time,dry\n".as_bytes(), None, 101_325.0).unwrap_err();
        assert!(matches!(error, WeatherError::NotDescribed));
    }

    #[test]
    fn rows_of_one_hour_are_its_mean() {
        let text = "time,dry,wet,load\n2026-01-01 00:00,10,8,50\n2026-01-01 00:30,12,8,70\n\
                    2026-01-01 01:00,14,9,80\n";
        let weather = read(text.as_bytes(), Some(&layout()), 98e3).unwrap();
        assert_eq!(weather.hours.len(), 2);
        assert_relative_eq!(weather.hours[0].air.dry_bulb_celsius, 11.0);
        assert_relative_eq!(weather.hours[0].load.unwrap(), 0.6, max_relative = 1e-12);
        assert_relative_eq!(weather.hours[1].air.dry_bulb_celsius, 14.0);
        // Named by their ends, the same rows are three hours' parts.
        let ends = Layout { time_ends_hour: true, ..layout() };
        let weather = read(text.as_bytes(), Some(&ends), 98e3).unwrap();
        assert_eq!(weather.hours[0].time.to_string(), "2025-12-31T23:00:00");
        assert_relative_eq!(weather.hours[1].air.dry_bulb_celsius, 13.0);
    }

    #[test]
    fn the_time_of_day_may_stand_apart() {
        let text = "day,time,dry,wet,load\n31.12.2026,23:00,4,2,50\n31.12.2026,24:00,5,2,50\n\
                    01.01.2027,1,6,2,50\n";
        let layout = Layout {
            time: "day".into(),
            time_of_day: Some("time".into()),
            time_ends_hour: true,
            ..layout()
        };
        let weather = read(text.as_bytes(), Some(&layout), 98e3).unwrap();
        assert!(weather.not_used.is_empty(), "{:?}", weather.not_used);
        let times: Vec<String> = weather.hours.iter().map(|hour| hour.time.to_string()).collect();
        assert_eq!(times, ["2026-12-31T22:00:00", "2026-12-31T23:00:00", "2027-01-01T00:00:00"]);
    }

    proptest! {
        /// Bytes of any kind end in hours or in an error.
        #[test]
        fn any_bytes_end_well(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
            let _ = read(bytes.as_slice(), Some(&layout()), 98e3);
            let as_tmy3 = [b"1,2,3\nDate (MM/DD/YYYY),".as_slice(), &bytes].concat();
            let _ = read(as_tmy3.as_slice(), None, 98e3);
        }

        /// What looks like weather gives hours in order, each once, none of them without air.
        #[test]
        fn rows_of_any_kind_give_hours_in_order(
            rows in proptest::collection::vec(
                (1..29u8, 0..26u8, 0..60u8, -60.0..90.0f64, -60.0..90.0f64, -0.5..3.0f64),
                0..60,
            ),
        ) {
            let mut text = String::from("time,dry,wet,load\n");
            for (day, hour, minute, dry, wet, load) in &rows {
                let percent = 100.0 * load;
                text += &format!("2026-03-{day:02} {hour:02}:{minute:02},{dry:.1},{wet:.1},{percent}\n");
            }
            let weather = read(text.as_bytes(), Some(&layout()), 98e3).unwrap();
            prop_assert!(weather.hours.windows(2).all(|pair| pair[0].time < pair[1].time));
            prop_assert!(weather.hours.iter().all(|hour| hour.air.wet_bulb_celsius().is_ok()));
            prop_assert!(weather.hours.len() + weather.not_used.listed.len() <= rows.len());
        }
    }
}
