//! Checks what a description says of weather and of a year's run.

use super::{Check, PART, WATER_TEMPERATURE};
use crate::quantity::{Duration, Measured, Ratio, Share, Stated};
use crate::readings::{Column, Layout};
use crate::site::description::{Channel, Load, TimeMark, WeatherLayout, Year};
use crate::site::{Given, Limits, Problem, SiteLoad, SiteYear};
use crate::tower::prediction::USUAL_EXPONENT;

const EXPONENT: Limits = Limits::between(0.0, 2.0);
const COEFFICIENT: Limits = Limits::above(0.0, 20.0);
const LOAD: Limits = Limits::between(0.0, 2.0);
const SHARE: Limits = Limits::between(0.0, 1.0);
const OUTAGE: Limits = Limits::above(0.0, 60.0 * 86_400.0);
const HOURS: usize = 24;

const OF_WEATHER: [Channel; 6] = [
    Channel::DryBulb,
    Channel::WetBulb,
    Channel::RelativeHumidity,
    Channel::DewPoint,
    Channel::Pressure,
    Channel::Load,
];

impl Check {
    /// The outer `None` is a problem, the inner one a site that does not describe its weather.
    pub(super) fn weather(&mut self, weather: Option<&WeatherLayout>) -> Option<Option<Layout>> {
        let Some(weather) = weather else { return Some(None) };
        let before = self.problems.len();
        let Some(time) = weather.time.clone() else {
            self.problem(
                Problem::new("weather", "the column with date and time is missing")
                    .with_help("write time = \"its header\""),
            );
            return None;
        };
        self.told_apart("weather", &weather.column);
        let mut columns: Vec<Column> = Vec::new();
        for (index, column) in weather.column.iter().enumerate() {
            let path = format!("weather.column.{}", index + 1);
            if column.is.is_some_and(|is| !OF_WEATHER.contains(&is)) {
                self.problem(
                    Problem::new(format!("{path}.is"), "this is no column of weather").with_help(
                        "one of dry_bulb, wet_bulb, relative_humidity, dew_point, pressure, load",
                    ),
                );
                continue;
            }
            columns.extend(self.column(&path, column));
        }
        let has = |channel| columns.iter().any(|column| column.channel == channel);
        let humidities = [Channel::WetBulb, Channel::RelativeHumidity, Channel::DewPoint];
        if self.problems.len() == before
            && !(has(Channel::DryBulb) && humidities.into_iter().any(has))
        {
            self.problem(Problem::new("weather", "the air of an hour is not fixed").with_help(
                "name a column for dry_bulb, and one for wet_bulb, relative_humidity or dew_point",
            ));
        }
        let layout = Layout {
            table: "weather",
            time,
            time_of_day: weather.time_of_day.clone(),
            time_ends_hour: weather.time_marks == Some(TimeMark::End),
            typical_year: None,
            dates: weather.dates,
            decimal: weather.decimal,
            values: None,
            columns,
            recorded: Vec::new(),
        };
        (self.problems.len() == before).then_some(Some(layout))
    }

    /// How the year is run, with what is assumed of it.
    pub(super) fn year(&mut self, year: Option<&Year>) -> Option<SiteYear> {
        let nothing = Year::default();
        let year = year.unwrap_or(&nothing);
        let before = self.problems.len();
        let set_point = self.optional(
            "year.cold_water_set_point",
            &year.cold_water_set_point,
            WATER_TEMPERATURE,
        );
        let limit =
            self.optional("year.cold_water_limit", &year.cold_water_limit, WATER_TEMPERATURE);
        let share = |part: f64| Stated::from(Share::of_one(part));
        let least_fan_speed = self.given(
            "year.least_fan_speed",
            &year.least_fan_speed,
            PART,
            (share(0.3), "not stated; common practice of drives for fans"),
        );
        let natural_draught = self.given(
            "year.natural_draught",
            &year.natural_draught,
            SHARE,
            (share(0.1), "not stated; 5 to 15 % is common practice"),
        );
        let exponent = self.given(
            "year.transfer_exponent",
            &year.transfer_exponent,
            EXPONENT,
            (
                Ratio::number(USUAL_EXPONENT).into(),
                "not stated; fills lie between 0.4 and 0.8 (from memory)",
            ),
        );
        let coefficient =
            self.optional("year.transfer_coefficient", &year.transfer_coefficient, COEFFICIENT);
        let outage = self.given(
            "year.outage",
            &year.outage,
            OUTAGE,
            (Duration::hours(24.0).into(), "not stated; a day"),
        );
        let load = self.load(year.load.as_ref());
        (self.problems.len() == before).then_some(SiteYear {
            set_point_kelvin: set_point,
            limit_kelvin: limit,
            fans: year.fans.unwrap_or_default(),
            least_fan_speed,
            natural_draught,
            exponent,
            coefficient,
            outage_seconds: outage,
            load,
        })
    }

    fn load(&mut self, load: Option<&Load>) -> SiteLoad {
        let full =
            SiteLoad::Constant(Given { si: 1.0, assumed: Some("not stated; always as designed") });
        let Some(load) = load else { return full };
        let by_hour = [&load.workday, &load.saturday, &load.sunday];
        let has_hours = by_hour.iter().any(|hours| !hours.is_empty());
        let ways = [load.constant.is_some(), has_hours, !load.by_wet_bulb.is_empty()];
        if ways.iter().filter(|way| **way).count() > 1 {
            self.problem(
                Problem::new("year.load", "the load is stated in two ways")
                    .with_help("keep constant, or hours, or by_wet_bulb"),
            );
        }
        if !load.by_wet_bulb.is_empty() {
            return self.load_by_wet_bulb(&load.by_wet_bulb);
        }
        if has_hours {
            return self.load_by_hour(load);
        }
        match self.optional("year.load.constant", &load.constant, LOAD) {
            Some(si) => SiteLoad::Constant(Given { si, assumed: None }),
            None => full,
        }
    }

    fn load_by_hour(&mut self, load: &Load) -> SiteLoad {
        let mut days = [[1.0; HOURS]; 3];
        let mut before: Option<[f64; HOURS]> = None;
        for (day, (name, hours)) in
            [("workday", &load.workday), ("saturday", &load.saturday), ("sunday", &load.sunday)]
                .into_iter()
                .enumerate()
        {
            let path = format!("year.load.{name}");
            if hours.is_empty() {
                match before {
                    Some(before) => days[day] = before,
                    None => self.problem(
                        Problem::new("year.load", "the load of a workday is missing").with_help(
                            "write workday = [24 numbers, of the hours from midnight on]",
                        ),
                    ),
                }
                continue;
            }
            // What is wrong with a day is told once, and not again of the days that follow it.
            before.get_or_insert([1.0; HOURS]);
            match <[f64; HOURS]>::try_from(hours.as_slice()) {
                Ok(hours) if hours.iter().all(|part| LOAD.accept(*part)) => {
                    days[day] = hours;
                    before = Some(hours);
                }
                Ok(_) => self.problem(
                    Problem::new(path, "a load is outside 0 to 2")
                        .with_help("1 is the load of the design, 0.5 half of it"),
                ),
                Err(_) => self.problem(Problem::new(
                    path,
                    format!("{} numbers: one for each of 24 hours is needed", hours.len()),
                )),
            }
        }
        SiteLoad::Hours(Box::new(days))
    }

    fn load_by_wet_bulb(
        &mut self,
        points: &[(Stated<crate::quantity::Temperature>, Stated<Share>)],
    ) -> SiteLoad {
        let points: Vec<(f64, f64)> =
            points.iter().map(|(wet, load)| (wet.value.si(), load.value.si())).collect();
        let is_rising = points.windows(2).all(|pair| pair[0].0 < pair[1].0);
        if !is_rising || points.iter().any(|(_, load)| !LOAD.accept(*load)) {
            self.problem(
                Problem::new("year.load.by_wet_bulb", "the points cannot be")
                    .with_help("write rising wet bulbs, each with a load from 0 to 2"),
            );
        }
        SiteLoad::WetBulb(points)
    }

    /// A value in SI, checked against its limits.
    fn optional<Q: Measured>(
        &mut self,
        path: &str,
        stated: &Option<Stated<Q>>,
        limits: Limits,
    ) -> Option<f64> {
        let value = crate::site::Value::stated(path.into(), stated.as_ref()?, limits);
        self.within_limits(&value).then_some(value.si)
    }

    fn given<Q: Measured>(
        &mut self,
        path: &str,
        stated: &Option<Stated<Q>>,
        limits: Limits,
        (assumed, basis): (Stated<Q>, &'static str),
    ) -> Given {
        match self.optional(path, stated, limits) {
            Some(si) => Given { si, assumed: None },
            None => Given { si: assumed.value.si(), assumed: Some(basis) },
        }
    }
}
