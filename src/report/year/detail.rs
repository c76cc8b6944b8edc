//! All that a year's page shows beyond its answer.

use super::Of;
use crate::cost::Outflow;
use crate::model::{
    FAR_FROM_DESIGN, LINE_VELOCITY_M_PER_S, Outage, Sums, VALVE_OVER_DEMAND, WetBulbAtLimit,
};
use crate::quantity::unit;
use crate::quantity::{Quantity, UnitSystem, significant, with_decimals};
use crate::readings::weather::missing;
use crate::report::not_used;
use crate::report::page::{Block, Column, Table, Words, constant, number, words};
use crate::tower::Arrangement;
use crate::tower::prediction::CHARACTERISTIC;
use crate::warnings::AEROSOL_CAUTION;
use crate::water::ZERO_CELSIUS;

/// Gaps that a page lists.
const MOST_GAPS: usize = 8;

const ICE_CAUTION: &str = "Ice: below 0 degC louvres, fill and fan blades ice up, and ice that falls hurts \
people and towers; fans are run and reversed for it as the maker says.";

impl Of<'_> {
    pub(super) fn detail(&self) -> Vec<Block> {
        let not_used = &self.year.weather.not_used;
        [
            not_used::caution(not_used).map_or_else(Vec::new, |block| vec![block, Block::Gap]),
            vec![Block::heading("MONTHS"), Block::Table(self.months()), Block::Gap],
            self.totals(),
            vec![Block::heading("PEAKS AND SIZES")],
            self.peaks(),
            vec![Block::heading("FANS AND COLD WATER")],
            self.fans(),
            vec![Block::heading("WEATHER")],
            self.weather(),
            vec![Block::heading("ASSUMED")],
            self.basis(),
        ]
        .concat()
    }

    pub(super) fn months(&self) -> Table {
        let sheet = self.year.sheet;
        let volume = self.volume_unit();
        let currency = sheet.currency.as_deref();
        let numbers = [6, 13, 11, 11, 10, 8, 10].map(Column::right);
        let mut table =
            Table::new([Column::left(9)].into_iter().chain(numbers).collect::<Vec<_>>());
        let money = if currency.is_some() { "cost" } else { "" };
        table.head(["", "hours", "evaporation", "blowdown", "makeup", money, "fans", "too warm"]);
        let units = ["", "", volume, volume, volume].map(Words::from);
        let currency = Words::given(currency.unwrap_or_default());
        table.head(units.into_iter().chain([currency, "%".into(), "h".into()]));
        for month in &sheet.months {
            let first = month.first.at(0, 0, 0, 0);
            table.row(self.month(self.year.dated(first, ["%b", "%Y-%m"]), &month.sums));
        }
        table.row(self.month("all".into(), &sheet.total));
        table
    }

    fn month(&self, name: String, sums: &Sums) -> Vec<Words> {
        let volume = |key, m3| number(key, self.plain_volume(m3)).into();
        let cost = self
            .year
            .sheet
            .currency
            .as_ref()
            .map(|_| number("months.cost", significant(sums.cost, Self::DIGITS)));
        vec![
            number("months.month", name).into(),
            number("months.hours", sums.hours.to_string()).into(),
            volume("months.evaporation_m3", sums.stream(Outflow::Evaporation)),
            volume("months.blowdown_m3", sums.stream(Outflow::Blowdown)),
            volume("months.makeup_m3", sums.makeup()),
            cost.into(),
            number("months.fan_speed", with_decimals(100.0 * sums.mean_fan_speed(), 0)).into(),
            self.too_warm(sums),
        ]
    }

    /// Hours above the limit; without one, above the set point.
    fn too_warm(&self, sums: &Sums) -> Words {
        let run = self.year.run();
        match (run.limit_kelvin, run.set_point_kelvin) {
            (Some(_), _) => number("months.hours_above_limit", sums.above_limit.to_string()).into(),
            (None, Some(_)) => {
                number("months.hours_above_set_point", sums.above_set_point.to_string()).into()
            }
            (None, None) => "-".into(),
        }
    }

    fn totals(&self) -> Vec<Block> {
        let sheet = self.year.sheet;
        let credit = sheet.sewer_credit.map(|credit| {
            words![
                " Sewer is billed on makeup less evaporation: that credit is worth ",
                number("sewer_credit", self.money(credit)),
                "."
            ]
        });
        let missed = sheet.sewer_credit_missed.map(|missed| {
            words![
                " Sewer is billed on all makeup: a credit for the evaporation would save ",
                number("sewer_credit_missed", self.money(missed)),
                "; ask the utility for it."
            ]
        });
        let others = words!["Also in the makeup: ", self.others(&sheet.total), ".", credit, missed];
        let makeup = sheet.total.makeup();
        let as_designed = (makeup > 0.0).then(|| {
            words![
                "Were every hour like the design point, it would be ",
                number("makeup_as_designed_m3", self.volume(sheet.as_designed)),
                ", ",
                number("as_designed_over_makeup", significant(sheet.as_designed / makeup, 3)),
                " times that."
            ]
        });
        [Some(others), as_designed].into_iter().flatten().map(Block::paragraph).collect()
    }

    fn peaks(&self) -> Vec<Block> {
        let sheet = self.year.sheet;
        let hour = sheet.peak_hour.as_ref().map(|peak| {
            words![
                "Peak hour: ",
                number("peak_hour_m3_per_h.value", self.flow(peak.value)),
                " on ",
                number("peak_hour_m3_per_h.time", self.year.time(peak.time)),
                ". ",
                self.makeup_line()
            ]
        });
        let day = sheet.peak_day.as_ref().map(|peak| {
            words![
                "Peak day: ",
                number("peak_day_m3.value", self.volume(peak.value)),
                " on ",
                number("peak_day_m3.time", self.year.day(peak)),
                "."
            ]
        });
        let storage = match &sheet.outage {
            Some(outage) => self.storage(outage),
            None => words![
                "Storage: no ",
                number("outage_h", sheet.outage_hours.to_string()),
                " hours follow each other in this weather."
            ],
        };
        [hour, day, Some(storage), self.exceeded()]
            .into_iter()
            .flatten()
            .map(Block::paragraph)
            .collect()
    }

    fn makeup_line(&self) -> Option<Words> {
        let line = self.year.makeup_line()?;
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
            "A makeup line for ",
            constant(VALVE_OVER_DEMAND.to_string()),
            " times that (common practice) carries ",
            number("makeup_line.m3_per_h", self.flow(line.m3_per_h)),
            "; at ",
            constant(velocity),
            " it is ",
            number("makeup_line.bore_m", inside),
            " inside."
        ])
    }

    fn storage(&self, outage: &Outage) -> Words {
        let sheet = self.year.sheet;
        let basin = sheet.basin.map(|basin| {
            words![
                " Of it the basin holds ",
                number("basin_above_trip_m3", self.volume(basin)),
                ", from its operating level down to the pumps' trip."
            ]
        });
        words![
            "Storage for ",
            number("outage_h", sheet.outage_hours.to_string()),
            " hours without makeup: ",
            number("storage_m3.value", self.volume(outage.makeup)),
            ", the worst such stretch, from ",
            number("storage_m3.time", self.year.time(outage.time)),
            "; ",
            number("storage_without_blowdown_m3", self.volume(outage.makeup - outage.blowdown)),
            " with the blowdown shut, which lets the cycles rise.",
            basin
        ]
    }

    /// The makeup that is exceeded in parts of the hours, where there are enough of them.
    fn exceeded(&self) -> Option<Words> {
        const LEAST_HOURS: usize = 100;
        let sheet = self.year.sheet;
        if sheet.duration.len() < LEAST_HOURS {
            return None;
        }
        let at = |part| {
            let flow = sheet.exceeded_in(part).map(|flow| self.flow(flow));
            number("makeup_exceeded.m3_per_h", flow.unwrap_or_default())
        };
        let in_part =
            |part: f64| words!["in ", constant(format!("{} %", 100.0 * part)), " ", at(part)];
        Some(words![
            "Makeup of the hours: exceeded ",
            in_part(0.01),
            ", ",
            in_part(0.1),
            ", in half ",
            at(0.5),
            ", ",
            in_part(0.9),
            "."
        ])
    }

    fn fans(&self) -> Vec<Block> {
        let sheet = self.year.sheet;
        let hottest = sheet.hottest.as_ref().map(|hottest| {
            words![
                "Warmest cold water: ",
                number("warmest_cold_water_degc.value", self.celsius(hottest.value)),
                " on ",
                number("warmest_cold_water_degc.time", self.year.time(hottest.time)),
                "."
            ]
        });
        let far = (sheet.far_from_design > 0).then(|| {
            words![
                "In ",
                number("hours_far_from_design", sheet.far_from_design.to_string()),
                " h water to air is more than ",
                constant(FAR_FROM_DESIGN.to_string()),
                " times the design's, or less than ",
                constant(format!("1 / {FAR_FROM_DESIGN}")),
                " of it: further than characteristics are measured."
            ]
        });
        let is_cold = self.year.dry_bulb().is_some_and(|dry_bulb| dry_bulb.least < 0.0);
        let ice = is_cold.then(|| constant(ICE_CAUTION).into());
        [Some(self.fan_hours()), hottest, self.limit(), far, ice, Some(AEROSOL_CAUTION.into())]
            .into_iter()
            .flatten()
            .map(Block::paragraph)
            .collect()
    }

    fn fan_hours(&self) -> Words {
        let fans = &self.year.sheet.fans;
        let set_point = match self.year.run().set_point_kelvin {
            Some(kelvin) => {
                words!["Set point ", number("set_point_degc", self.celsius(kelvin - ZERO_CELSIUS))]
            }
            None => "No set point: the fans run at full speed".into(),
        };
        let hours = [
            (fans.full, "fan_hours.full", "full speed"),
            (fans.slowed, "fan_hours.slowed", "slowed down"),
            (fans.cycling, "fan_hours.cycling", "on and off"),
            (fans.off, "fan_hours.off", "off"),
            (fans.idle, "fan_hours.idle", "no load"),
            (fans.freezing, "fan_hours.freezing", "off, and the water would freeze"),
            (fans.failed, "fan_hours.failed", "the tower fails, not counted"),
        ]
        .into_iter()
        .filter(|(hours, ..)| *hours > 0)
        .map(|(hours, key, what)| words![what, " ", number(key, format!("{hours} h"))]);
        words![set_point, ". ", Words::joined(hours, ", "), "."]
    }

    /// At which wet bulb the limit of the cold water is reached.
    fn limit(&self) -> Option<Words> {
        let limit = self.year.run().limit_kelvin?;
        let tried = |celsius| number("wet_bulb_tried_degc", self.celsius(celsius));
        let reached = match self.year.sheet.wet_bulb_at_limit {
            Some(WetBulbAtLimit::At(wet_bulb)) => {
                let wet_bulb = number("wet_bulb_at_limit_degc", self.celsius(wet_bulb));
                words!["reached at a wet bulb of ", wet_bulb]
            }
            Some(WetBulbAtLimit::FailsFrom(wet_bulb)) => {
                words!["exceeded at every wet bulb, even at ", tried(wet_bulb)]
            }
            Some(WetBulbAtLimit::HoldsTo(wet_bulb)) => {
                words!["reached at none, up to a wet bulb of ", tried(wet_bulb)]
            }
            None => Words::default(),
        };
        Some(words![
            "Limit ",
            number("limit_degc", self.celsius(limit - ZERO_CELSIUS)),
            ": ",
            reached,
            ", with full load and full fans; above it ",
            number("all.hours_above_limit", format!("{} h", self.year.sheet.total.above_limit)),
            "."
        ])
    }

    fn weather(&self) -> Vec<Block> {
        let words = [Some(self.hours()), self.temperatures(), self.pressure(), self.gaps()];
        let not_used = not_used::listed(&self.year.weather.not_used);
        words.into_iter().flatten().map(Block::paragraph).chain(not_used).collect()
    }

    fn hours(&self) -> Words {
        let weather = self.year.weather;
        let span = weather.hours.first().zip(weather.hours.last()).map(|(first, last)| {
            let [from, to] = [first, last]
                .map(|hour| self.year.dated(hour.time, ["%d %b %H:%M", "%Y-%m-%d %H:%M"]));
            words![" from ", number("weather.from", from), " to ", number("weather.to", to)]
        });
        words![
            number("weather.hours", weather.hours.len().to_string()),
            " hours",
            span,
            (!weather.has_pressure).then_some(", at the site's pressure"),
            weather.is_typical.then_some(", typical months of several years (TMY3)"),
            missing(&weather.hours).is_empty().then_some(", none missing"),
            "."
        ]
    }

    /// Coldest, mean and hottest air: a column read in the wrong unit shows here.
    fn temperatures(&self) -> Option<Words> {
        let shown = |[least, most, mean]: [&'static str; 3], range: super::Range| {
            words![
                number(least, self.celsius(range.least)),
                " to ",
                number(most, self.celsius(range.most)),
                ", mean ",
                number(mean, self.celsius(range.mean))
            ]
        };
        const DRY_BULB: [&str; 3] = [
            "weather.dry_bulb_degc.least",
            "weather.dry_bulb_degc.most",
            "weather.dry_bulb_degc.mean",
        ];
        const WET_BULB: [&str; 3] = [
            "weather.wet_bulb_degc.least",
            "weather.wet_bulb_degc.most",
            "weather.wet_bulb_degc.mean",
        ];
        Some(words![
            "Dry bulb ",
            shown(DRY_BULB, self.year.dry_bulb()?),
            "; wet bulb ",
            shown(WET_BULB, self.year.wet_bulb()?),
            "."
        ])
    }

    /// Says where the file's pressure is not that of the design: a station at another height, or a
    /// pressure that was corrected to sea level.
    fn pressure(&self) -> Option<Words> {
        /// As a part: some 80 m of height, more than weather makes of a year's mean.
        const NOTABLE: f64 = 0.01;
        let (mean, own) = (self.year.mean_pressure()?, self.year.plan.pressure_pascal());
        let differs = self.year.weather.has_pressure && (mean / own - 1.0).abs() > NOTABLE;
        let unit = Quantity::Pressure.shown_in(self.units);
        let shown = |key, pascal: f64| {
            number(key, format!("{} {}", significant(unit.of_si(pascal), 3), unit.symbol))
        };
        differs.then(|| {
            words![
                "The file's mean pressure is ",
                shown("weather.mean_pressure_kpa", mean),
                ", the site's ",
                shown("weather.site_pressure_kpa", own),
                ": the file's is used. A station at another height, or a pressure corrected to sea level?"
            ]
        })
    }

    fn gaps(&self) -> Option<Words> {
        let gaps = missing(&self.year.weather.hours);
        let all: u32 = gaps.iter().map(|(_, hours)| hours).sum();
        let listed = gaps.iter().take(MOST_GAPS).map(|(first, hours)| {
            let first = first.strftime("%Y-%m-%d %H:%M").to_string();
            words![number("missing", hours.to_string()), " from ", number("missing", first)]
        });
        (all > 0).then(|| {
            words![
                "Missing: ",
                number("hours_missing", all.to_string()),
                " hours (",
                Words::joined(listed, ", "),
                (gaps.len() > MOST_GAPS).then_some(", ..."),
                "). They are in no sum; nothing is filled in."
            ]
        })
    }

    fn basis(&self) -> Vec<Block> {
        let assumed = self.year.assumed().into_iter().map(|assumed| {
            words![
                assumed.path,
                " = ",
                number("assumptions.si", assumed.shown),
                ": ",
                constant(assumed.basis)
            ]
        });
        let form = constant(CHARACTERISTIC.source);
        self.fills()
            .into_iter()
            .chain([words!["The form of the characteristic: ", form, "."]])
            .chain(assumed)
            .chain([
                "Fans move a constant volume at a speed; water circulates at the design's flow \
                 while there is load; no droplets leave where fans stand. An hour rests on its own \
                 weather alone."
                    .into(),
            ])
            .map(Block::paragraph)
            .collect()
    }

    fn fills(&self) -> Vec<Words> {
        let is_stated = self.year.run().coefficient.is_some();
        let origin = if is_stated { "as stated" } else { "fitted to the design point" };
        let words = self.year.plan.fills().map(|(fill, share, water_to_air)| {
            words![
                "Fill of ",
                number("fills.share", format!("{} %", with_decimals(100.0 * share, 0))),
                " of the water (",
                match fill.arrangement {
                    Arrangement::Counterflow => "counterflow, ",
                    Arrangement::Crossflow => "crossflow, ",
                },
                super::transfer_name(fill.transfer),
                "): KaV/L = ",
                number("fills.coefficient", significant(fill.coefficient, 4)),
                " (L/G)^-",
                number("fills.exponent", significant(fill.exponent, 2)),
                ", ",
                origin,
                " at L/G ",
                number("fills.water_to_air", significant(water_to_air, 3)),
                "."
            ]
        });
        words.collect()
    }
}
