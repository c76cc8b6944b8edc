//! What a person acts on: the water of the year and what it costs, the peak that the makeup line must carry,
//! whether the water was cold enough, each month.

use super::{Assumed, Of};
use crate::cost::Outflow;
use crate::model::{LINE_VELOCITY_M_PER_S, VALVE_OVER_DEMAND};
use crate::quantity::{UnitSystem, significant, unit, with_decimals};
use crate::report::page::{Block, Words, constant, number, words};
use crate::report::{not_used, warnings};
use crate::warnings::AEROSOL_CAUTION;
use crate::water::ZERO_CELSIUS;

const ICE_CAUTION: &str = " In frost the tower ices up, and ice that falls hurts people: run and reverse the fans as \
the maker says.";

const HOURS_OF_A_YEAR: u32 = 8_760;
/// Fewer hours than this part of a year are not one.
const WHOLE_YEAR: f64 = 0.95;

impl Of<'_> {
    pub(super) fn answer(&self) -> Vec<Block> {
        let not_used = &self.year.weather.not_used;
        let words =
            [Some(self.water()), self.peak(), Some(self.cold_water()), Some(self.how_sure())];
        let lost = not_used::in_brief(not_used);
        let assumed = self.assumed_in_brief();
        let gap = (lost.is_some() || assumed.is_some()).then_some(Block::Gap);
        let is_cold = self.year.dry_bulb().is_some_and(|dry_bulb| dry_bulb.least < 0.0);
        [
            vec![Block::heading("ANSWER")],
            not_used::caution(not_used).into_iter().collect(),
            words.into_iter().flatten().map(Block::paragraph).collect(),
            vec![Block::Gap, Block::Table(self.months())],
            warnings::blocks(&self.year.sheet.warnings),
            [gap, lost, assumed].into_iter().flatten().collect(),
            vec![Block::Caution(words![AEROSOL_CAUTION, is_cold.then_some(ICE_CAUTION)])],
        ]
        .concat()
    }

    /// What the tower takes in, where it goes, and what that costs.
    fn water(&self) -> Words {
        let total = &self.year.sheet.total;
        let stream = |key, stream| number(key, self.volume(total.stream(stream)));
        let others = [
            (Outflow::Drift, "all.drift_m3", " leave as droplets"),
            (Outflow::Leakage, "all.leakage_m3", " leak"),
            (Outflow::Overflow, "all.overflow_m3", " overflow"),
        ]
        .into_iter()
        .filter(|(of, ..)| total.stream(*of) > 0.0)
        .map(|(of, key, how)| words![stream(key, of), how]);
        let parts = [
            words![stream("all.evaporation_m3", Outflow::Evaporation), " evaporate"],
            words![stream("all.blowdown_m3", Outflow::Blowdown), " are blown down"],
        ];
        let cost = self.year.sheet.currency.as_ref().map(|_| {
            words![
                " Water, sewer and energy for it cost ",
                number("all.cost", self.money(total.cost)),
                "."
            ]
        });
        words![
            "In ",
            number("all.hours", total.hours.to_string()),
            " hours",
            self.span(),
            " the tower takes ",
            number("all.makeup_m3", self.volume(total.makeup())),
            " of makeup: ",
            Words::joined(parts.into_iter().chain(others), ", "),
            ".",
            cost
        ]
    }

    /// From the first day of the weather to the last.
    fn span(&self) -> Option<Words> {
        let weather = self.year.weather;
        let (first, last) = (weather.hours.first()?, weather.hours.last()?);
        let [from, to] = [first, last].map(|hour| self.year.day(hour.time));
        let typical = weather.is_typical.then_some(" of a typical year");
        Some(words![
            " from ",
            number("weather.from", from),
            " to ",
            number("weather.to", to),
            typical
        ])
    }

    /// What the makeup line must carry.
    fn peak(&self) -> Option<Words> {
        let sheet = self.year.sheet;
        let peak = sheet.peak_hour.as_ref()?;
        let day = sheet.peak_day.as_ref().map(|day| {
            words![
                "; most in a day: ",
                number("peak_day_m3.value", self.volume(day.value)),
                " on ",
                number("peak_day_m3.time", self.year.day(day.time))
            ]
        });
        Some(words![
            "Most in an hour: ",
            number("peak_hour_m3_per_h.value", self.flow(peak.value)),
            ", on ",
            number("peak_hour_m3_per_h.time", self.year.time(peak.time)),
            day,
            ". ",
            self.makeup_line(),
        ])
    }

    /// Whether the hours that count are some year's.
    pub(super) fn is_whole(&self) -> bool {
        f64::from(self.year.sheet.total.hours) >= WHOLE_YEAR * f64::from(HOURS_OF_A_YEAR)
    }

    /// A line for the peak hour, where that is a year's.
    fn makeup_line(&self) -> Option<Words> {
        let line = self.year.makeup_line().filter(|_| self.is_whole())?;
        let (velocity, inside) = match self.units {
            UnitSystem::Si => (
                format!("{LINE_VELOCITY_M_PER_S} m/s"),
                format!("{} mm", with_decimals(1e3 * line.bore, 0)),
            ),
            UnitSystem::UsCustomary => (
                format!("{} ft/s", significant(LINE_VELOCITY_M_PER_S / unit::FOOT.factor, 2)),
                format!("{} in", with_decimals(12.0 * line.bore / unit::FOOT.factor, 1)),
            ),
        };
        Some(words![
            "Size the makeup line for ",
            constant(VALVE_OVER_DEMAND.to_string()),
            " times that hour: ",
            number("makeup_line.m3_per_h", self.flow(line.m3_per_h)),
            ", ",
            number("makeup_line.bore_m", inside),
            " inside at ",
            constant(velocity),
            "."
        ])
    }

    /// Hours too warm, the warmest one, and how hard the fans work for it.
    fn cold_water(&self) -> Words {
        let sheet = self.year.sheet;
        let warmest = sheet.hottest.as_ref().map(|hottest| {
            words![
                "The cold water is ",
                self.too_warm_in_words(),
                "at its warmest ",
                number("warmest_cold_water_celsius.value", self.celsius(hottest.value)),
                " on ",
                number("warmest_cold_water_celsius.time", self.year.time(hottest.time)),
                ". "
            ]
        });
        let speed = with_decimals(100.0 * sheet.total.mean_fan_speed(), 0);
        words![
            warmest,
            "The fans run at ",
            number("all.fan_speed", format!("{speed} %")),
            " of full speed on average."
        ]
    }

    /// Hours above the limit; without one, above the set point.
    fn too_warm_in_words(&self) -> Option<Words> {
        let (run, total) = (self.year.run(), &self.year.sheet.total);
        let limit = run.limit_kelvin.map(|kelvin| {
            ("limit", "limit_celsius", kelvin, "all.hours_above_limit", total.above_limit)
        });
        let set_point = run.set_point_kelvin.map(|kelvin| {
            let hours = total.above_set_point;
            ("set point", "set_point_celsius", kelvin, "all.hours_above_set_point", hours)
        });
        let (name, key, kelvin, hours_key, hours) = limit.or(set_point)?;
        let celsius = number(key, self.celsius(kelvin - ZERO_CELSIUS));
        let never = (hours == 0).then_some("never ");
        let hours = (hours > 0).then(|| words![" in ", number(hours_key, format!("{hours} h"))]);
        Some(words![never, "above its ", name, " of ", celsius, hours, ", "])
    }

    /// What the sums leave open.
    fn how_sure(&self) -> Words {
        let far = self.year.sheet.far_from_design;
        let far = (far > 0).then(|| {
            words![
                " In ",
                number("hours_far_from_design", format!("{far} h")),
                " the air flow is far from the design's: fan speed and cold water are extrapolated there, and \
                 less sure than the makeup."
            ]
        });
        let missing = self.year.hours_missing();
        let missing = (missing > 0).then(|| {
            words![
                " ",
                number("hours_missing", format!("{missing} h")),
                " of weather are missing and in no sum."
            ]
        });
        let part = (!self.is_whole()).then(|| {
            words![
                " Sums and peaks are of ",
                number("all.hours", self.year.sheet.total.hours.to_string()),
                " h, and a year has ",
                constant(HOURS_OF_A_YEAR.to_string()),
                ": size nothing by them."
            ]
        });
        words!["How sure: no ± is computed for a year.", far, missing, part]
    }

    /// What nobody stated, without its basis.
    fn assumed_in_brief(&self) -> Option<Block> {
        let assumed = self.year.assumed();
        let said = assumed.iter().map(|Assumed { what, path, shown, .. }| {
            words![*what, " (", *path, " ", number("assumptions.si", shown.as_str()), ")"]
        });
        let said = Words::joined(said, ", ");
        (!said.is_empty()).then(|| Block::paragraph(words!["Assumed: ", said, "."]))
    }
}
