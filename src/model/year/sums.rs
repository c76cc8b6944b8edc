//! What the hours of a year come to.

use super::{Fans, WetBulbAtLimit, YearHour, YearPlan};
use crate::cost::Outflow;
use crate::model::Balance;
use crate::site::SewerBasis;
use jiff::civil::{Date, DateTime};

/// Water in a makeup line, m/s (common practice: 1 to 2).
pub const LINE_VELOCITY_M_PER_S: f64 = 1.5;

/// Sums over hours.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sums {
    /// Hours that count.
    pub hours: u32,
    /// Volumes at 20 degC by [`Outflow::ALL`], m3.
    pub streams: [f64; Outflow::ALL.len()],
    /// Fan speed, summed.
    pub fan_speed: f64,
    /// Hours with the cold water above the set point.
    pub above_set_point: u32,
    /// Hours with the cold water above the limit.
    pub above_limit: u32,
    /// Money for all of it, where prices are stated.
    pub cost: f64,
}

impl Sums {
    /// All that the makeup valve let in, m3.
    pub fn makeup(&self) -> f64 {
        self.streams.iter().sum()
    }

    /// A stream, m3.
    pub fn stream(&self, stream: Outflow) -> f64 {
        self.streams[stream as usize]
    }

    /// Mean fan speed, as a part of full speed; 0 of no hours.
    pub fn mean_fan_speed(&self) -> f64 {
        self.fan_speed / f64::from(self.hours.max(1))
    }

    fn add(&mut self, other: &Self) {
        self.hours += other.hours;
        for (sum, stream) in self.streams.iter_mut().zip(other.streams) {
            *sum += stream;
        }
        self.fan_speed += other.fan_speed;
        self.above_set_point += other.above_set_point;
        self.above_limit += other.above_limit;
        self.cost += other.cost;
    }
}

/// A month.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Month {
    /// Its first day.
    pub first: Date,
    /// What it comes to.
    pub sums: Sums,
}

/// A largest value, and when.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    /// m3/h, m3/d or m3.
    pub value: f64,
    /// Begin.
    pub time: DateTime,
}

/// So many hours without makeup.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outage {
    /// Makeup that they miss, m3.
    pub makeup: f64,
    /// Of it blowdown, which can wait, m3.
    pub blowdown: f64,
    /// Begin.
    pub time: DateTime,
}

/// Hours by what the fans did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct FanHours {
    /// Full speed.
    pub full: u32,
    /// Slowed down.
    pub slowed: u32,
    /// On and off.
    pub cycling: u32,
    /// Off.
    pub off: u32,
    /// No load.
    pub idle: u32,
    /// Off, and the water would freeze.
    pub freezing: u32,
    /// The tower fails: not counted in any sum.
    pub failed: u32,
}

/// A year.
#[derive(Debug, Clone, PartialEq)]
pub struct YearSheet {
    /// Name of the site.
    pub name: String,
    /// Months that have hours.
    pub months: Vec<Month>,
    /// All of them.
    pub total: Sums,
    /// The hour with the largest makeup, m3/h.
    pub peak_hour: Option<Peak>,
    /// The whole day with the largest makeup, m3.
    pub peak_day: Option<Peak>,
    /// The hottest cold water, degC.
    pub hottest: Option<Peak>,
    /// Hours by what the fans did.
    pub fans: FanHours,
    /// Hours with a water-to-air ratio far from the design's.
    pub far_from_design: u32,
    /// Hours of the outage.
    pub outage_hours: u32,
    /// The largest makeup of so many hours in a row; `None` where no so many follow each other.
    pub outage: Option<Outage>,
    /// What the basin holds above the pumps' trip, m3, where it is described.
    pub basin: Option<f64>,
    /// Makeup if every hour that counts were the design's, m3.
    pub as_designed: f64,
    /// Sewer money that evaporation does not cost, where the sewer is billed less evaporation.
    pub sewer_credit: Option<f64>,
    /// Sewer money that evaporation costs, where the sewer is billed on all makeup.
    pub sewer_credit_missed: Option<f64>,
    /// Currency, where prices are stated.
    pub currency: Option<String>,
    /// The wet bulb at which the limit is reached; `None` without a limit.
    pub wet_bulb_at_limit: Option<WetBulbAtLimit>,
    /// Makeup of every hour, m3/h, the largest first.
    pub duration: Vec<f64>,
}

impl YearPlan<'_> {
    /// Sums hours in order of time.
    pub fn sheet(&self, hours: &[YearHour]) -> YearSheet {
        let site = &self.model.site;
        let mut months: Vec<Month> = Vec::new();
        let mut days: Vec<(Date, u32, f64)> = Vec::new();
        let mut fans = FanHours::default();
        let counted = |hour: &&YearHour| hour.fans != Fans::Failed;
        for hour in hours {
            let count = match hour.fans {
                Fans::Full => &mut fans.full,
                Fans::Slowed => &mut fans.slowed,
                Fans::Cycling => &mut fans.cycling,
                Fans::Off => &mut fans.off,
                Fans::Idle => &mut fans.idle,
                Fans::Freezing => &mut fans.freezing,
                Fans::Failed => &mut fans.failed,
            };
            *count += 1;
        }
        for hour in hours.iter().filter(counted) {
            let sums = self.sums(hour);
            let date = hour.weather.time.date();
            let first = date.first_of_month();
            match months.last_mut().filter(|month| month.first == first) {
                Some(month) => month.sums.add(&sums),
                None => months.push(Month { first, sums }),
            }
            match days.last_mut().filter(|(day, ..)| *day == date) {
                Some((_, count, makeup)) => {
                    *count += 1;
                    *makeup += sums.makeup();
                }
                None => days.push((date, 1, sums.makeup())),
            }
        }
        let mut total = Sums::default();
        months.iter().for_each(|month| total.add(&month.sums));
        let makeup = |hour: &YearHour| Balance::reference_m3_per_h(hour.water.makeup_kg_per_s);
        let mut duration: Vec<f64> = hours.iter().filter(counted).map(makeup).collect();
        duration.sort_by(|a, b| b.total_cmp(a));
        let peak = |peaks: &mut dyn Iterator<Item = Peak>| {
            peaks.max_by(|a, b| a.value.total_cmp(&b.value))
        };
        let outage_hours = (site.year.outage_seconds.si / 3_600.0).ceil() as u32;
        let of_evaporation = |basis| {
            let prices =
                self.prices.filter(|prices| prices.basis == basis && prices.sewer > 0.0)?;
            Some(prices.sewer * total.stream(Outflow::Evaporation))
        };
        YearSheet {
            name: site.name.clone(),
            peak_hour: peak(
                &mut hours
                    .iter()
                    .filter(counted)
                    .map(|hour| Peak { value: makeup(hour), time: hour.weather.time }),
            ),
            peak_day: peak(
                &mut days
                    .iter()
                    .filter(|(_, count, _)| *count == 24)
                    .map(|(day, _, value)| Peak { value: *value, time: day.at(0, 0, 0, 0) }),
            ),
            hottest: peak(&mut hours.iter().filter_map(|hour| {
                Some(Peak { value: hour.cold_water_celsius?, time: hour.weather.time })
            })),
            far_from_design: hours.iter().filter(|hour| hour.is_far_from_design()).count() as u32,
            outage: worst_window(hours, outage_hours as usize),
            basin: self.basin,
            as_designed: self.design_makeup * f64::from(total.hours),
            outage_hours,
            months,
            total,
            fans,
            sewer_credit: of_evaporation(SewerBasis::MakeupLessEvaporation),
            sewer_credit_missed: of_evaporation(SewerBasis::Makeup),
            currency: self.prices.map(|_| site.cost.currency.clone()),
            wet_bulb_at_limit: self.wet_bulb_at_limit(&mut Default::default()),
            duration,
        }
    }

    fn sums(&self, hour: &YearHour) -> Sums {
        /// Water this much above a set point is at it, K.
        const SLACK: f64 = 0.01;
        let year = &self.model.site.year;
        let streams = Outflow::ALL.map(|stream| Self::m3_per_h(stream, &hour.water));
        let is_above = |kelvin: Option<f64>| {
            let above = hour
                .cold_water_celsius
                .zip(kelvin)
                .is_some_and(|(cold, kelvin)| cold + crate::water::ZERO_CELSIUS > kelvin + SLACK);
            u32::from(above)
        };
        let cost = self.prices.map_or(0.0, |prices| {
            let money = Outflow::ALL.map(|stream| prices.of(stream).total());
            money.iter().zip(streams).map(|(price, m3)| price * m3).sum()
        });
        Sums {
            hours: 1,
            streams,
            fan_speed: hour.fan_speed,
            above_set_point: is_above(year.set_point_kelvin),
            above_limit: is_above(year.limit_kelvin),
            cost,
        }
    }
}

/// The largest makeup of so many hours that follow each other.
fn worst_window(hours: &[YearHour], length: usize) -> Option<Outage> {
    if length == 0 || hours.len() < length {
        return None;
    }
    let follow = |window: &[YearHour]| {
        let (first, last) = (window[0].weather.time, window[length - 1].weather.time);
        last.duration_since(first).as_hours() == length as i64 - 1
    };
    let sum = |window: &[YearHour]| {
        let of = |kg_per_s: fn(&YearHour) -> f64| {
            window.iter().map(kg_per_s).map(Balance::reference_m3_per_h).sum()
        };
        Outage {
            makeup: of(|hour| hour.water.makeup_kg_per_s),
            blowdown: of(|hour| hour.water.blowdown_kg_per_s),
            time: window[0].weather.time,
        }
    };
    hours
        .windows(length)
        .filter(|window| follow(window))
        .map(sum)
        .max_by(|a, b| a.makeup.total_cmp(&b.makeup))
}
