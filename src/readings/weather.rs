//! Hours of weather: a table whose columns the site file names, or a TMY3 file as it is.

use super::{Channel, Layout, LogError, NotUsed, Row, Rows, beginning, number_of, text_of};
use crate::air::{MoistAir, pressure_at_altitude_pascal};
use crate::readings::Number;
use jiff::SignedDuration;
use jiff::civil::{Date, DateTime};
use std::io::Read;

const ZERO_CELSIUS: f64 = 273.15;
/// Typical months come from several years: they are put into one, which is not a leap year.
const TYPICAL_YEAR: i16 = 2001;

/// An hour of weather.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hour {
    /// Line in the file.
    pub line: u64,
    /// Its beginning, by the clock of the file.
    pub time: DateTime,
    /// The air.
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
    /// A TMY3 file without a column.
    #[error("no column \"{0}\", which a TMY3 file has")]
    NoColumn(&'static str),
}

/// Reads a file of weather. `pressure` is that of the site, Pa, for files without one.
///
/// # Errors
/// [`WeatherError`].
pub fn read(
    mut reader: impl Read,
    layout: Option<&Layout>,
    pressure: f64,
) -> Result<Weather, WeatherError> {
    let start = beginning(&mut reader).map_err(LogError::from)?;
    let mut reader = std::io::Cursor::new(start.clone()).chain(reader);
    if is_station(&start) {
        return tmy3(&mut reader, pressure);
    }
    let layout = layout.ok_or(WeatherError::NotDescribed)?;
    let mut rows = super::rows(reader, layout)?;
    let mut hours = Vec::new();
    while let Some(row) = rows.next_row()? {
        keep(&mut rows, &row, pressure, &mut hours);
    }
    Ok(Weather { hours, not_used: rows.into_not_used(), is_typical: false, altitude: None })
}

fn keep<R: Read>(rows: &mut Rows<'_, R>, row: &Row, pressure: f64, hours: &mut Vec<Hour>) {
    match hour_of(row, pressure) {
        Ok(hour) => hours.push(hour),
        Err(reason) => rows.refuse(row.line, reason),
    }
}

/// The air of a row.
fn hour_of(row: &Row, pressure: f64) -> Result<Hour, String> {
    let celsius = |channel| row.get(channel).map(|kelvin| kelvin - ZERO_CELSIUS);
    let pressure = row.get(Channel::Pressure).unwrap_or(pressure);
    let dry = celsius(Channel::DryBulb).ok_or("no dry bulb")?;
    let air = match (
        celsius(Channel::WetBulb),
        celsius(Channel::DewPoint),
        row.get(Channel::RelativeHumidity),
    ) {
        (Some(wet), _, _) => MoistAir::from_wet_bulb(dry, wet, pressure),
        (_, Some(dew), _) => MoistAir::from_dew_point(dry, dew, pressure),
        (_, _, Some(humidity)) => MoistAir::from_relative_humidity(dry, humidity, pressure),
        _ => return Err("no wet bulb, dew point or relative humidity".into()),
    }
    .map_err(|error| error.to_string())?;
    let load = row.get(Channel::Load);
    if load.is_some_and(|load| !(0.0..=2.0).contains(&load)) {
        return Err("the load is outside 0 to 200 %".into());
    }
    Ok(Hour { line: row.line, time: row.time, air, load })
}

/// Whether a file begins as a TMY3 file does: with the number of its station.
fn is_station(start: &[u8]) -> bool {
    let line = start.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let fields: Vec<_> = text_of(line).split(',').map(|field| field.trim().to_owned()).collect();
    fields.len() == 7
        && fields[0].len() == 6
        && fields[0].bytes().all(|byte| byte.is_ascii_digit())
        && fields[3..].iter().all(|field| field.parse::<f64>().is_ok())
}

/// A TMY3 file: a line on the station, a header, and an hour a line (Wilcox and Marion 2008, NREL/TP-
/// 581-43156). Its times are the ends of hours; the hour to 01:00 begins at midnight.
fn tmy3(reader: &mut impl Read, pressure: f64) -> Result<Weather, WeatherError> {
    let mut table = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(reader);
    let mut record = csv::ByteRecord::new();
    let mut next =
        |record: &mut csv::ByteRecord| table.read_byte_record(record).map_err(LogError::from);
    next(&mut record)?;
    let altitude = text_of(record.get(6).unwrap_or_default()).parse().ok();
    let site_pressure = altitude
        .and_then(|altitude| pressure_at_altitude_pascal(altitude).ok())
        .unwrap_or(pressure);
    next(&mut record)?;
    let header: Vec<String> = record.iter().map(|name| text_of(name).into_owned()).collect();
    let column = |name: &'static str| {
        header.iter().position(|other| other == name).ok_or(WeatherError::NoColumn(name))
    };
    let date = column("Date (MM/DD/YYYY)")?;
    let time = column("Time (HH:MM)")?;
    let values = [
        (column("Dry-bulb (C)")?, Channel::DryBulb),
        (column("Dew-point (C)")?, Channel::DewPoint),
        (column("Pressure (mbar)")?, Channel::Pressure),
    ];
    let mut weather =
        Weather { hours: Vec::new(), not_used: NotUsed::default(), is_typical: true, altitude };
    let mut line = 2;
    while next(&mut record)? {
        line += 1;
        weather.not_used.rows += 1;
        let text = |place: usize| text_of(record.get(place).unwrap_or_default()).into_owned();
        let Some(begins) = begin_of_hour(&text(date), &text(time)) else {
            let reason = format!("\"{} {}\" is no date and time", text(date), text(time));
            weather.not_used.add(line, reason);
            continue;
        };
        let mut row = Row {
            line,
            time: begins,
            values: [f64::NAN; Channel::ALL.len()],
            recorded: [f64::NAN; super::MOST_RECORDED],
        };
        for (place, channel) in values {
            // -9900 and the like stand for nothing.
            if let Number::Value(number) = number_of(&text(place), b',')
                && number > -900.0
            {
                row.values[channel as usize] = match channel {
                    Channel::Pressure => 100.0 * number,
                    _ => number + ZERO_CELSIUS,
                };
            }
        }
        match hour_of(&row, site_pressure) {
            Ok(hour) => weather.hours.push(hour),
            Err(reason) => weather.not_used.add(line, reason),
        }
    }
    weather.hours.sort_by_key(|hour| hour.time);
    Ok(weather)
}

/// The beginning of the hour that ends at a date and time of a TMY3 file, in the typical year.
fn begin_of_hour(date: &str, time: &str) -> Option<DateTime> {
    let date = Date::strptime("%m/%d/%Y", date).ok()?;
    let hour: i8 = time.strip_suffix(":00")?.parse().ok()?;
    let day = Date::new(TYPICAL_YEAR, date.month(), date.day()).ok()?;
    (1..=24).contains(&hour).then(|| day.at(hour - 1, 0, 0, 0))
}

/// Hours that are missing between the first and the last, as runs: the first missing one and how many.
pub fn missing(hours: &[Hour]) -> Vec<(DateTime, u32)> {
    hours
        .windows(2)
        .filter_map(|pair| {
            let (before, after) = (pair[0].time, pair[1].time);
            let gap = after.duration_since(before).as_secs_f64() / 3_600.0;
            let missing = (gap.round() as u32).saturating_sub(1);
            let first = before.checked_add(SignedDuration::from_hours(1)).ok()?;
            (missing > 0).then_some((first, missing))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::unit;
    use crate::readings::Column;
    use crate::site::description::DateOrder;
    use approx::assert_relative_eq;

    fn layout() -> Layout {
        let column = |name: &str, channel, unit| Column {
            name: name.into(),
            channel,
            unit,
            rolls_over_at: None,
        };
        Layout {
            time: "time".into(),
            dates: DateOrder::DayFirst,
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
        assert!(reasons[1].contains("no wet bulb"), "{reasons:?}");
        assert!(reasons[2].contains("load"), "{reasons:?}");
        let gaps = missing(&weather.hours);
        assert_eq!((gaps.len(), gaps[0].1), (1, 5));
        assert_eq!(gaps[0].0.to_string(), "2025-01-01T01:00:00");
    }

    #[test]
    fn a_typical_year_is_read_as_it_is() {
        let text = "999999,\"NOWHERE (INVENTED)\",XX,-5.0,36.1,-79.95,273\n\
                    Date (MM/DD/YYYY),Time (HH:MM),Dry-bulb (C),Dew-point (C),Pressure (mbar)\n\
                    01/01/1988,01:00,10.0,7.2,985\n01/01/1988,24:00,9.0,7.0,985\n\
                    02/01/1999,01:00,8.0,-9900,985\n02/01/1999,02:00,8.0,6,-9900\n13/01/1999,02:00,8,6,985\n";
        let weather = read(text.as_bytes(), None, 101_325.0).unwrap();
        assert!(weather.is_typical);
        assert_eq!(weather.altitude, Some(273.0));
        let times: Vec<String> = weather.hours.iter().map(|hour| hour.time.to_string()).collect();
        assert_eq!(times, ["2001-01-01T00:00:00", "2001-01-01T23:00:00", "2001-02-01T01:00:00"]);
        assert_relative_eq!(weather.hours[0].air.pressure_pascal, 98_500.0);
        let own = pressure_at_altitude_pascal(273.0).unwrap();
        assert_relative_eq!(weather.hours[2].air.pressure_pascal, own);
        assert_eq!(weather.not_used.listed.len(), 2, "{:?}", weather.not_used);
    }

    #[test]
    fn a_file_that_nobody_describes_is_refused() {
        let error = read("time,dry\n".as_bytes(), None, 101_325.0).unwrap_err();
        assert!(matches!(error, WeatherError::NotDescribed));
    }
}
