//! The page at seven in the morning: what is new, what goes on, the last days, what could not be seen.

use super::told::short;
use super::{
    Expected, LAST, Of, cell, decimals, decimals_of_uncertainty, hours_if_short, missing, percent,
    typical_makeup,
};
use crate::model::{CheckedPeriod, Finding, FindingState, LEAST_DAYS, LEAST_READINGS};
use crate::quantity::{UnitSystem, unit, with_decimals};
use crate::report::not_used;
use crate::report::page::{Block, Column, Table, Words, constant, number, words};
use crate::site::description::RowValues;
use jiff::civil::DateTime;

const CAUTION: &str = "a quiet check does not show that drift, or the tower's health, is safe.";
/// Findings that the answer tells, of those that stand and of those that are over.
const MOST_STANDING: usize = 4;
const MOST_OVER: usize = 2;
/// Lines of mistyped readings that it names.
const MOST_MISTYPED: usize = 8;
/// Days that a loss lasted, of those whose least loss it tells.
const DAYS_OF_A_LOSS: [f64; 2] = [3.0, 14.0];
/// A ton of refrigeration, Btu/h; heat is told in ton-hours where units are US customary.
const TON_BTU_PER_HOUR: f64 = 12_000.0;

/// A row of the table: its begin, and the period unless it is not used.
type Day<'a> = (DateTime, Option<&'a CheckedPeriod>);

impl Of<'_> {
    pub(super) fn answer(&self) -> Vec<Block> {
        let told = [self.findings(), self.also()].concat();
        [
            vec![Block::heading("ANSWER")],
            self.first(),
            told.into_iter().map(Block::paragraph).collect(),
            self.last_days(),
            vec![Block::Gap, Block::paragraph(self.not_seen())],
            self.would_show().map(Block::paragraph).into_iter().collect(),
            vec![Block::Caution(CAUTION.into())],
        ]
        .concat()
    }

    /// What all that follows rests on.
    fn first(&self) -> Vec<Block> {
        let swapped = self.sheet.hot_below_cold.map(|swapped| {
            words![
                "In ",
                number("hot_below_cold.periods", swapped.periods.to_string()),
                " of ",
                number("hot_below_cold.with_both", swapped.with_both.to_string()),
                " ",
                self.name(),
                "s the hot water is colder than the cold: are two columns swapped, or a unit wrong?"
            ]
        });
        let swapped = swapped.map(Block::paragraph);
        not_used::caution(self.log.not_used).into_iter().chain(swapped).collect()
    }

    fn findings(&self) -> Vec<Words> {
        let sheet = self.sheet;
        let of =
            |state: FindingState| sheet.findings.iter().filter(move |f| sheet.state(f) == state);
        let count = |state| of(state).count();
        let standing: Vec<&Finding> =
            of(FindingState::New).chain(of(FindingState::GoingOn)).collect();
        let nothing_new =
            (count(FindingState::New) == 0).then(|| self.nothing_new(standing.is_empty()));
        let shown = standing.iter().copied().take(MOST_STANDING);
        let shown =
            shown.chain(of(FindingState::Over).take(MOST_OVER)).map(|one| self.finding(one));
        let more = standing.len().saturating_sub(MOST_STANDING)
            + count(FindingState::Over).saturating_sub(MOST_OVER);
        let more = (more > 0)
            .then(|| words![number("findings", more.to_string()), " more findings with `--full`."]);
        nothing_new.into_iter().chain(shown).chain(more).collect()
    }

    fn nothing_new(&self, nothing_stands: bool) -> Words {
        let sheet = self.sheet;
        if !sheet.meters.solids_are_read() && !sheet.meters.load {
            return "Changes are not judged: without hot and cold water, or blowdown and the basin's conductivity, \
                    a leak and a higher load look the same."
                .into();
        }
        if !sheet.is_long_enough() {
            return self.too_short();
        }
        let last = sheet.last().map(|last| self.time("last_period", last));
        let goes_on = match nothing_stands {
            true => " Nothing goes on.",
            false => " But not all is well:",
        };
        words!["New on ", last, ", the last ", self.name(), " of the log: nothing.", goes_on]
    }

    /// What a log needs before it says anything.
    pub(super) fn too_short(&self) -> Words {
        let count = self.sheet.periods.len();
        let sheet_reads_solids = self.sheet.meters.solids_are_read();
        let of_what = if sheet_reads_solids {
            " readings of the basin before it, or "
        } else {
            " readings before it, or "
        };
        let [before, rare, after] = LEAST_READINGS.map(|count| constant(count.to_string()));
        words![
            "Too short to judge: a change is held against ",
            before,
            of_what,
            rare,
            " over ",
            constant(format!("{LEAST_DAYS} days")),
            ", and must have lasted ",
            after,
            ". This log has ",
            number("periods", count.to_string()),
            " ",
            self.name(),
            if count == 1 { "" } else { "s" },
            " to judge by: go on reading",
            match sheet_reads_solids {
                true => " makeup, blowdown and the basin's conductivity.",
                false => " the makeup, with hot and cold water.",
            }
        ]
    }

    /// What is told besides, each in a line.
    fn also(&self) -> Vec<Words> {
        let notes = self.sheet.notes.iter().map(|note| self.note(note));
        let missed = self.log.recorded.iter().filter(|recorded| recorded.is_missed());
        let missed = missed.map(|recorded| words!["Not read in time: ", self.recorded(recorded)]);
        let guessed = (self.log.values == (RowValues::Mean, false)).then(|| {
            "Every row stands at midnight and is taken as the mean of the day before (values, under [log])."
                .into()
        });
        notes.chain(self.mistyped()).chain(guessed).chain(missed).collect()
    }

    fn mistyped(&self) -> Option<Words> {
        let repairs = self.log.repairs;
        let lines = repairs.iter().take(MOST_MISTYPED);
        let lines = lines.map(|repair| number("mistyped.line", repair.line.to_string()));
        let more = repairs.len() > MOST_MISTYPED;
        let (s, look) = if repairs.len() == 1 { ("", " looks") } else { ("s", " look") };
        (!repairs.is_empty()).then(|| {
            words![
                number("mistyped", repairs.len().to_string()),
                " reading",
                s,
                look,
                " mistyped: line",
                s,
                " ",
                Words::joined(lines, ", "),
                if more { " and more." } else { "." }
            ]
        })
    }

    /// The last days as a table.
    fn last_days(&self) -> Vec<Block> {
        let sheet = self.sheet;
        let checked = sheet.periods.iter().map(|period| (period.start, Some(period)));
        let left_out = sheet.left_out.iter().map(|(start, _)| (*start, None));
        let mut days: Vec<Day<'_>> = checked.chain(left_out).collect();
        days.sort_by_key(|(start, _)| *start);
        let days = &days[days.len().saturating_sub(LAST)..];
        let count = number("periods", days.len().to_string());
        let name = self.name().to_uppercase();
        let s = if days.len() == 1 { "" } else { "S" };
        let heat = days.iter().any(|(_, day)| day.is_some_and(|d| d.makeup_per_heat().is_some()));
        let of_ton = (heat && self.units == UnitSystem::UsCustomary)
            .then(|| words![" A ton-hour is ", constant("12,000 Btu"), " of heat."]);
        let note = words![self.expected_of(), of_ton];
        vec![
            Block::heading(words!["THE LAST ", count, " ", name, s]),
            Block::Table(self.table(days)),
            Block::paragraph(note),
        ]
    }

    /// What the expected makeup is made of.
    fn expected_of(&self) -> Words {
        let meters = &self.sheet.meters;
        let evaporation = match meters.load {
            true => "evaporation by load and weather",
            false => "evaporation at the load of the site file",
        };
        let bleed = match meters.blowdown {
            true => "blowdown",
            false if meters.basin => "a bleed that holds the basin's usual conductivity",
            false => "a bleed that holds the cycles of the site file",
        };
        let own = self.sheet.own_days().map(|own| {
            words![
                ", times ",
                number("own_days.part", with_decimals(own.part, 2)),
                ", which this log's ",
                number("own_days.periods", own.periods.to_string()),
                " quiet ",
                self.name(),
                "s show; ± is theirs, about ",
                constant("95 %")
            ]
        });
        words!["Expected: what ", evaporation, ", ", bleed, " and drift ask for", own, "."]
    }

    fn table(&self, days: &[Day<'_>]) -> Table {
        let known = || days.iter().filter_map(|(_, period)| *period);
        let (factor, symbol) = self.day();
        let (heat_factor, heat_symbol) = self.per_heat();
        let heat = |period: &CheckedPeriod| period.makeup_per_heat().map(|part| part / heat_factor);
        let quality = |period: &CheckedPeriod| {
            period.makeup_conductivity.map(|si| unit::MICROSIEMENS_PER_CENTIMETRE.of_si(si))
        };
        let has_quality = known().any(|period| quality(period).is_some());
        let has_heat = known().any(|period| heat(period).is_some());
        let expected = Expected::of(self.sheet);
        let plus_minus = expected.plus_minus.map(|half| half / factor);
        let of_expected = decimals_of_uncertainty(plus_minus);
        let of_makeup = decimals(known().map(|p| p.readings.makeup.value / factor));
        let of_blowdown = decimals(known().map(|p| p.readings.blowdown.value / factor));
        let of_heat = decimals(known().filter_map(heat));
        let shown_plus_minus = plus_minus.map(|half| {
            words!["± ", number("expected_plus_minus_m3_per_day", cell(half, of_expected))]
        });
        let date = if self.log.every.hours() < 24.0 { 17 } else { 11 };
        let wide = usize::from(self.units == UnitSystem::UsCustomary) * 2;
        let mut columns =
            vec![Column::left(date), Column::right(8 + wide), Column::right(10 + wide)];
        let mut heads: [Vec<Words>; 2] = [
            ["", "makeup", "expected"].map(Words::from).to_vec(),
            vec!["".into(), symbol.into(), shown_plus_minus.into()],
        ];
        let meters = self.sheet.meters;
        for (is_read, width, [above, below]) in
            [(meters.blowdown, 9 + wide, ["blow-", "down"]), (meters.basin, 8, ["cycles", ""])]
        {
            if is_read {
                columns.push(Column::right(width));
                heads[0].push(above.into());
                heads[1].push(below.into());
            }
        }
        for (has, unit) in [(has_quality, "uS/cm"), (has_heat, heat_symbol)] {
            if has {
                columns.push(Column::right(unit.len().max(6) + 2));
                heads[0].push("makeup".into());
                heads[1].push(unit.into());
            }
        }
        columns.push(Column::left(0).after(2));
        let mut table = Table::new(columns);
        heads.into_iter().for_each(|head| table.head(head));
        for (start, period) in days {
            let mut cells = vec![self.time("periods.start", *start).into()];
            let mut add = |has: bool, key, value: Option<f64>, decimals| {
                if has {
                    let shown = value.map(|value| number(key, cell(value, decimals)));
                    cells.push(shown.map_or("-".into(), Words::from));
                }
            };
            let of = |of: &dyn Fn(&CheckedPeriod) -> f64| period.map(of);
            add(
                true,
                "periods.makeup_m3_per_day",
                of(&|p| p.readings.makeup.value / factor),
                of_makeup,
            );
            add(
                true,
                "periods.expected_by_own_days_m3_per_day",
                of(&|p| expected.part * p.expected.value / factor),
                of_expected,
            );
            add(
                meters.blowdown,
                "periods.blowdown_m3_per_day",
                of(&|p| p.readings.blowdown.value / factor),
                of_blowdown,
            );
            add(meters.basin, "periods.cycles_of_concentration", of(&|p| p.cycles), 2);
            add(has_quality, "periods.makeup_conductivity_us_per_cm", period.and_then(quality), 0);
            add(has_heat, "periods.makeup_l_per_kwh", period.and_then(heat), of_heat);
            cells.push(self.mark(*start, *period));
            table.row(cells);
        }
        table
    }

    /// m3/J of a unit of makeup for heat, and the unit.
    fn per_heat(&self) -> (f64, &'static str) {
        const LITRE: f64 = 1e-3;
        const KILOWATT_HOUR: f64 = 3.6e6;
        match self.units {
            UnitSystem::Si => (LITRE / KILOWATT_HOUR, "L/kWh"),
            UnitSystem::UsCustomary => {
                let ton = 1e-6 * TON_BTU_PER_HOUR * unit::MILLION_BTU_PER_HOUR.factor;
                (unit::US_GALLON.factor / (3_600.0 * ton), "gal/ton-h")
            }
        }
    }

    /// What was found of a period, how long it is, and whether it is used.
    fn mark(&self, start: DateTime, period: Option<&CheckedPeriod>) -> Words {
        let lasts = |finding: &&Finding| {
            finding.since.is_none_or(|since| since <= start)
                && finding.until.is_none_or(|until| start < until)
        };
        let found = self.sheet.findings.iter().filter(lasts).filter_map(|finding| {
            let name = short(finding.cause()?);
            let is_found = finding.found == Some(start);
            Some(words![name, if is_found { ", found" } else { "" }])
        });
        let mut found: Vec<Words> = found.collect();
        found.dedup();
        let unused = (period.is_none() && found.is_empty()).then(|| Words::from("not used"));
        let hours = period.and_then(|period| hours_if_short(period, self.log.every));
        Words::joined(found.into_iter().chain(unused).chain(hours.map(Words::from)), "; ")
    }

    /// What one more meter would buy.
    fn would_show(&self) -> Option<Words> {
        let (shows, more) = &self.sheet.shows;
        let typical = typical_makeup(self.sheet);
        let best = more.first()?;
        Some(words![
            "By itself a ",
            self.name(),
            " shows a loss above ",
            number("one_period_shows_m3_per_day", self.rough(*shows)),
            " (",
            number("one_period_shows_part", percent(shows / typical)),
            "); with ",
            missing(best.reading),
            " it would show ",
            number("one_more.shows_m3_per_day", self.rough(best.loss)),
            " (",
            number("one_more.shows_part", percent(best.loss / typical)),
            ")."
        ])
    }

    /// What this log could not have seen.
    fn not_seen(&self) -> Words {
        let least = &self.sheet.least_loss;
        let of = |days: f64| least.iter().find(|(lasted, _)| *lasted == days);
        let told: Vec<_> = DAYS_OF_A_LOSS.into_iter().filter_map(of).collect();
        // Where readings are rare, only a loss of longer is found.
        let mut told = if told.is_empty() { least.iter().take(1).collect() } else { told };
        // What is found after a few days is found after more.
        told.dedup_by(|later, earlier| later.1 >= earlier.1);
        if told.is_empty() && !self.sheet.meters.solids_are_read() {
            return "What this log could not have seen: a loss that began in it; it is too short for that, or \
                    its load is not known."
                .into();
        }
        if told.is_empty() {
            return "What this log could not have seen: anything but a bleed that sticks or a meter that stands \
                    still."
                .into();
        }
        let one = |(days, loss): &(f64, f64)| {
            words![
                number("least_loss.days", format!("{} days", with_decimals(*days, 0))),
                " if above ",
                number("least_loss.loss_m3_per_day", self.rough(*loss))
            ]
        };
        words![
            "What this log could not have seen: a sudden loss is found when it lasted ",
            Words::joined(told.into_iter().map(one), ", "),
            ", and the two mornings after agree. Less, or what comes slowly, takes longer or stays unseen.",
            (self.sheet.meters.is_held && !self.sheet.meters.blowdown)
                .then_some(" What is lost the controller bleeds less, which no meter here shows.")
        ]
    }
}
