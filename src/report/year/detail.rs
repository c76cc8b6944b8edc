//! All that a year's page shows beyond its answer.

use super::Of;
use crate::cost::Outflow;
use crate::model::{FAR_FROM_DESIGN, Outage, Sums, VALVE_OVER_DEMAND, WetBulbAtLimit};
use crate::quantity::{Quantity, significant, with_decimals};
use crate::readings::weather::missing;
use crate::report::not_used;
use crate::report::page::{Block, Column, Table, Words, constant, number, words};
use crate::report::shown::{self, shown_at};
use crate::tower::Arrangement;
use crate::tower::prediction::CHARACTERISTIC;
use crate::water::ZERO_CELSIUS;

/// Gaps that a page lists.
const MOST_GAPS: usize = 8;

impl Of<'_> {
    pub(super) fn detail(&self) -> Vec<Block> {
        [
            vec![Block::heading("MORE OF THE MAKEUP")],
            self.totals(),
            vec![Block::heading("STORAGE AND SIZES")],
            self.sizes(),
            vec![Block::heading("FANS AND COLD WATER")],
            self.fans(),
            vec![Block::heading("WEATHER")],
            self.weather(),
            vec![Block::heading("WHAT IT RESTS ON")],
            self.basis(),
        ]
        .concat()
    }

    pub(super) fn months(&self) -> Table {
        let sheet = self.year.sheet;
        let volume = self.volume_unit();
        let [cost, currency] = match &sheet.currency {
            Some(currency) => [Some("cost".into()), Some(Words::given(currency))],
            None => [None, None],
        };
        let widths = [6, 13, 11, 11].into_iter().chain(cost.is_some().then_some(10)).chain([8, 10]);
        let columns = [Column::left(9)].into_iter().chain(widths.map(Column::right));
        let mut table = Table::new(columns.collect::<Vec<_>>());
        let words = |words: [&'static str; 5]| words.map(Words::from).into_iter();
        let last = |words: [&'static str; 2]| words.map(Words::from);
        let head = words(["", "hours", "evaporation", "blowdown", "makeup"]);
        table.head(head.chain(cost).chain(last(["fans", "too warm"])));
        table.head(words(["", "", volume, volume, volume]).chain(currency).chain(last(["%", "h"])));
        for month in &sheet.months {
            let first = month.first.at(0, 0, 0, 0);
            table.row(self.month(self.year.dated(first, ["%b", "%Y-%m"]), &month.sums));
        }
        table.row(self.month("all".into(), &sheet.total));
        table
    }

    fn month(&self, name: String, sums: &Sums) -> Vec<Words> {
        let volume = |key, m3| number(key, self.plain_volume(m3));
        let cost = number("months.cost", significant(sums.cost, Self::DIGITS));
        [
            number("months.month", name),
            number("months.hours", sums.hours.to_string()),
            volume("months.evaporation_m3", sums.stream(Outflow::Evaporation)),
            volume("months.blowdown_m3", sums.stream(Outflow::Blowdown)),
            volume("months.makeup_m3", sums.makeup()),
        ]
        .into_iter()
        .chain(self.year.sheet.currency.as_ref().map(|_| cost))
        .chain([number("months.fan_speed", with_decimals(100.0 * sums.mean_fan_speed(), 0))])
        .map(Words::from)
        .chain([self.too_warm(sums)])
        .collect()
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
                "Sewer is billed on makeup less evaporation: that credit is worth ",
                number("sewer_credit", self.money(credit)),
                "."
            ]
        });
        let makeup = sheet.total.makeup();
        let as_designed = (makeup > 0.0).then(|| {
            words![
                "Were every hour like the design point, the makeup would be ",
                number("makeup_as_designed_m3", self.volume(sheet.as_designed)),
                ", ",
                number("as_designed_over_makeup", significant(sheet.as_designed / makeup, 3)),
                " times that."
            ]
        });
        [as_designed, credit].into_iter().flatten().map(Block::paragraph).collect()
    }

    fn sizes(&self) -> Vec<Block> {
        let sheet = self.year.sheet;
        let storage = match &sheet.outage {
            Some(outage) => self.storage(outage),
            None => words![
                "Storage: no ",
                number("outage_h", sheet.outage_hours.to_string()),
                " hours follow each other in this weather."
            ],
        };
        let reserve = self.is_whole().then(|| {
            words![
                "A makeup line for ",
                constant(VALVE_OVER_DEMAND.to_string()),
                " times the peak hour, and the velocity in it, are common practice."
            ]
        });
        [Some(storage), self.exceeded(), reserve]
            .into_iter()
            .flatten()
            .map(Block::paragraph)
            .collect()
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
        let at = |(part, of): (f64, Words)| {
            let flow = self.flow(sheet.exceeded_in(part)?);
            Some(words!["above ", number("makeup_exceeded.m3_per_h", flow), " in ", of])
        };
        let percent = |part: f64| constant(format!("{} %", 100.0 * part)).into();
        let points = [
            (0.01, words![constant("1 %"), " of the hours"]),
            (0.1, percent(0.1)),
            (0.5, "half".into()),
            (0.9, percent(0.9)),
        ];
        let points = points.into_iter().filter_map(at);
        Some(words!["Makeup is ", Words::joined(points, ", "), "."])
    }

    fn fans(&self) -> Vec<Block> {
        let sheet = self.year.sheet;
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
        [Some(self.fan_hours()), self.limit(), far]
            .into_iter()
            .flatten()
            .map(Block::paragraph)
            .collect()
    }

    fn fan_hours(&self) -> Words {
        let fans = &self.year.sheet.fans;
        let set_point = match self.year.run().set_point_kelvin {
            Some(kelvin) => {
                words![
                    "Set point ",
                    number("set_point_celsius", self.celsius(kelvin - ZERO_CELSIUS))
                ]
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
        words![set_point, ": ", Words::joined(hours, ", "), "."]
    }

    /// At which wet bulb the limit of the cold water is reached.
    fn limit(&self) -> Option<Words> {
        let limit = self.year.run().limit_kelvin?;
        let tried = |celsius| number("wet_bulb_tried_celsius", self.celsius(celsius));
        let reached = match self.year.sheet.wet_bulb_at_limit {
            Some(WetBulbAtLimit::At(wet_bulb)) => {
                let wet_bulb = number("wet_bulb_at_limit_celsius", self.celsius(wet_bulb));
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
            number("limit_celsius", self.celsius(limit - ZERO_CELSIUS)),
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
            "weather.dry_bulb_celsius.least",
            "weather.dry_bulb_celsius.most",
            "weather.dry_bulb_celsius.mean",
        ];
        const WET_BULB: [&str; 3] = [
            "weather.wet_bulb_celsius.least",
            "weather.wet_bulb_celsius.most",
            "weather.wet_bulb_celsius.mean",
        ];
        Some(words![
            "Dry bulb ",
            shown(DRY_BULB, self.year.dry_bulb()?),
            "; wet bulb ",
            shown(WET_BULB, self.year.wet_bulb()?),
            "."
        ])
    }

    /// The file's pressure beside the site's.
    fn pressure(&self) -> Option<Words> {
        let mean = self.year.weather.has_pressure.then(|| self.year.mean_pressure())??;
        let shown = |key, pascal| number(key, shown_at(Quantity::Pressure, pascal, self.units, 3));
        Some(words![
            "Mean pressure of the file ",
            shown("weather.mean_pressure_kpa", mean),
            ", of the site ",
            shown("weather.site_pressure_kpa", self.year.plan.pressure_pascal()),
            ": the file's is used."
        ])
    }

    fn gaps(&self) -> Option<Words> {
        let gaps = missing(&self.year.weather.hours);
        let all = self.year.hours_missing();
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
                number("fills.share", shown::whole_percent(share)),
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
