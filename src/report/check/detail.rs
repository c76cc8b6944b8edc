//! All the rest: findings with everything that speaks for them, every period, statistics, what is not used
//! and what was assumed.

use super::told::{FINDINGS, NOTES};
use super::{
    Of, cell, contradicts_itself, decimals, decimals_of_uncertainty, hours_if_short, shortest,
};
use crate::check::detection::Detection;
use crate::check::detector::CERTAIN;
use crate::check::reconcile::Variable;
use crate::model::{
    APPARENT, AssumedDryBulb, CYCLES_UNREAD, CheckedPeriod, HotBelowCold, PER_KELVIN, UNREAD_MAKEUP,
};
use crate::quantity::{Quantity, UnitSystem, significant, with_decimals};
use crate::readings::period::Recorded;
use crate::report::not_used;
use crate::report::page::{Block, Column, Piece, Table, Words, constant, number, words};
use crate::report::shown::{COVERAGE, shown_at, whole_percent, with_uncertainty};
use crate::site::description::RowValues;
use crate::statistics::median;

/// Periods of the table, the last ones.
const MOST_PERIODS: usize = 400;
/// Lines of each kind that are not used, or mistyped.
const MOST_LISTED: usize = 12;

const LIMITS_OF_DATA: &str = "Chemistry cannot tell drift, leakage and overflow apart: they are the \
    same water. Time can: overflow follows pump stops and level, drift follows the fan, a leak is \
    constant.";

impl Of<'_> {
    pub(super) fn detail(&self) -> Vec<Block> {
        let name = self.name().to_uppercase();
        let section = |heading: Words, blocks: Vec<Block>| match blocks.is_empty() {
            true => Vec::new(),
            false => [vec![Block::Heading(heading)], blocks].concat(),
        };
        [
            section("FINDINGS IN FULL".into(), self.all_findings()),
            section(words!["EVERY ", name], self.all_periods()),
            section("WHAT THE METERS COULD SHOW".into(), self.detection()),
            section(self.flows_title().into(), self.reconciled()),
            section("RECORDED, NOT JUDGED".into(), self.all_recorded()),
            section("READ AS MEANT".into(), self.read_as_meant()),
            section("NOT USED".into(), self.not_used()),
            section("ASSUMED".into(), self.assumed()),
        ]
        .concat()
    }

    fn all_findings(&self) -> Vec<Block> {
        let findings = self.sheet.findings.iter().map(|f| (self.when(f), f, FINDINGS));
        let notes = self.sheet.notes.iter().map(|note| {
            let since = note.since.map(|since| words![" since ", self.time("notes.since", since)]);
            let words = match since {
                Some(since) => words!["Note, no finding,", since],
                None => "Note, no finding, since what holds from the first day on may as well be a constant \
                         error of an instrument or of the site file"
                    .into(),
            };
            (words, note, NOTES)
        });
        let blocks = findings.chain(notes).flat_map(|(when, finding, keys)| {
            let lead = Block::paragraph(words![when, ":"]);
            let rest = self.in_full(finding, keys).into_iter().map(Block::indented);
            std::iter::once(lead).chain(rest).chain([Block::Gap]).collect::<Vec<_>>()
        });
        let mut blocks: Vec<Block> = blocks.collect();
        blocks.pop();
        blocks
    }

    fn all_periods(&self) -> Vec<Block> {
        let all = &self.sheet.periods;
        let shown = &all[all.len().saturating_sub(MOST_PERIODS)..];
        let (factor, symbol) = self.day();
        let of = |of: &dyn Fn(&CheckedPeriod) -> f64| {
            decimals(shown.iter().map(|period| of(period) / factor))
        };
        let typical = |of: &dyn Fn(&CheckedPeriod) -> f64| {
            let middle = median(shown.iter().map(|period| COVERAGE * of(period) / factor));
            decimals_of_uncertainty(middle)
        };
        let of_makeup = of(&|period| period.readings.makeup.value);
        let of_blowdown = of(&|period| period.readings.blowdown.value);
        let of_expected = typical(&|period| period.expected.uncertainty);
        let of_difference = typical(&|period| period.tolerance());
        let of_solids = typical(&|period| period.solids.uncertainty);
        let date = if self.log.every.hours() < 24.0 { 17 } else { 11 };
        let wide = usize::from(self.units == UnitSystem::UsCustomary) * 2;
        let mut table = Table::new([
            Column::left(date),
            Column::right(8 + wide),
            Column::right(15 + wide),
            Column::right(9),
            Column::right(9),
            Column::right(7),
            Column::right(9),
            Column::left(0).after(1),
        ]);
        table.head(["", "makeup", "expected", "differs", "blow-", "cycles", "loss by", ""]);
        table.head(["", symbol, "", "by", "down", "", "solids", ""]);
        let meters = self.sheet.meters;
        let if_read = |is_read: bool, words: &dyn Fn() -> Words| {
            if is_read { words() } else { "-".into() }
        };
        for period in shown {
            let flow = |key, value: f64, decimals| {
                Words::from(number(key, cell(value / factor, decimals)))
            };
            let half = COVERAGE * period.expected.uncertainty / factor;
            table.row([
                self.time("periods.start", period.start).into(),
                flow("periods.makeup_m3_per_day", period.readings.makeup.value, of_makeup),
                words![
                    flow("periods.expected_makeup_m3_per_day", period.expected.value, of_expected),
                    " ± ",
                    number(
                        "periods.expected_standard_uncertainty_m3_per_day",
                        cell(half, of_expected)
                    )
                ],
                flow("periods.differs_by_m3_per_day", period.difference(), of_difference),
                if_read(meters.blowdown, &|| {
                    flow("periods.blowdown_m3_per_day", period.readings.blowdown.value, of_blowdown)
                }),
                if_read(meters.basin, &|| {
                    let cycles = with_decimals(period.cycles, 2);
                    number("periods.cycles_of_concentration", cycles).into()
                }),
                if_read(meters.solids_are_read(), &|| {
                    flow("periods.loss_by_solids_m3_per_day", period.solids.reads, of_solids)
                }),
                self.verdict(period),
            ]);
        }
        let mut blocks = vec![
            Block::Table(table),
            Block::paragraph(
                "Solids: the dissolved salts, which leave with the water that is lost and not with what \
                 evaporates. heat, solids: makeup differs, or solids read a loss, by more than twice the \
                 uncertainty.",
            ),
        ];
        if shown.len() < all.len() {
            blocks.push(Block::paragraph(words![
                "The last ",
                constant(MOST_PERIODS.to_string()),
                " of ",
                number("periods", all.len().to_string()),
                "; csv and json have them all."
            ]));
        }
        blocks
    }

    /// What is out of tolerance, and the length of a period that is not whole.
    fn verdict(&self, period: &CheckedPeriod) -> Words {
        let solids = !self.sheet.meters.solids_are_read() || period.solids_are_in_tolerance();
        let words = match (period.is_in_tolerance(), solids) {
            (true, true) => "",
            (false, true) => "heat",
            (true, false) => "solids",
            (false, false) => "both",
        };
        let hours = hours_if_short(period, self.log.every).map(|hours| words![hours, " "]);
        words![hours, words]
    }

    fn detection(&self) -> Vec<Block> {
        let told = |path: &str, keys: [&'static str; 2], detection: &Detection| {
            Block::paragraph(words![
                "By ",
                path,
                " in one ",
                self.name(),
                ": a loss counts above ",
                number(keys[0], self.with_unit(detection.decision_threshold)),
                ", and one of ",
                number(keys[1], self.with_unit(detection.detection_limit)),
                " is found in ",
                constant("95 of 100 (ISO 11843, 5 % each"),
                "; constant errors of the meters included)."
            ])
        };
        let solids = ["solids_decision_threshold_m3_per_day", "solids_detection_limit_m3_per_day"];
        let heat = ["heat_decision_threshold_m3_per_day", "heat_detection_limit_m3_per_day"];
        let by_heat = self.sheet.by_heat.as_ref().map_or(
            Block::paragraph(
                "By heat: nothing, no period has hot and cold water with weather that can be.",
            ),
            |found| told("heat", heat, found),
        );
        let least = self.sheet.least_loss.iter().map(|(days, loss)| {
            words![
                number("least_loss.days", with_decimals(*days, 0)),
                " days, ",
                number("least_loss.loss_m3_per_day", self.rough(*loss))
            ]
        });
        let least = match self.sheet.is_long_enough() {
            true => words![
                "The least sudden loss that is evidence enough, by the scatter at the end of this log and the days \
                 that it has lasted: ",
                Words::joined(least, "; "),
                "."
            ],
            false => self.too_short(),
        };
        let how = words![
            "Changes are sought in what the solids leave over and in what water and heat leave over. Either may \
             wander by itself, as much as this log shows. Something is found when a fault since some day is ",
            constant(format!("{CERTAIN:.0} times")),
            " as likely as none on three mornings with a reading in a row: so that a healthy log raises a \
             finding in ",
            constant("one of 300"),
            " months at the most, however often one looks, if it wanders as it is taken to (Ville ",
            constant("1939"),
            ", Robbins ",
            constant("1970"),
            "). ",
            match self.sheet.meters.solids_are_read() {
                true => "Heat by itself raises none.",
                false => {
                    "Where solids say nothing, more makeup than heat and blowdown ask for is a finding; without a \
                     blowdown meter only where the basin leaves the level of its controller too, else a note."
                }
            }
        ];
        let by_solids = match self.sheet.meters.solids_are_read() {
            true => told("solids", solids, &self.sheet.by_solids),
            false => Block::paragraph(
                "By solids: nothing, blowdown or the basin's conductivity is not read.",
            ),
        };
        vec![by_solids, by_heat, Block::paragraph(least), Block::paragraph(how)]
    }

    fn flows_title(&self) -> &'static str {
        match self.sheet.findings.iter().any(|finding| finding.since.is_some()) {
            true => "MOST LIKELY FLOWS BEFORE THE FIRST CHANGE",
            false => "MOST LIKELY FLOWS",
        }
    }

    fn reconciled(&self) -> Vec<Block> {
        if contradicts_itself(self.sheet) {
            return vec![Block::paragraph(
                "None: while meters contradict each other from the first day on, no flow that closes the balances \
                 is the truth.",
            )];
        }
        let mut table = Table::new([Column::left(24), Column::right(16), Column::left(0).after(1)]);
        let (factor, symbol) = self.day();
        for (name, key, variable) in [
            ("makeup", "reconciled.makeup_m3_per_day", Variable::Makeup),
            ("evaporation", "reconciled.evaporation_m3_per_day", Variable::Evaporation),
            ("blowdown", "reconciled.blowdown_m3_per_day", Variable::Blowdown),
            (
                "drift and known losses",
                "reconciled.drift_and_known_losses_m3_per_day",
                Variable::Drift,
            ),
        ] {
            if let Some(flow) = self.sheet.reconciled.get(variable) {
                let shown =
                    with_uncertainty(flow.value / factor, COVERAGE * flow.uncertainty / factor);
                let cells: [Words; 3] = [name.into(), number(key, shown).into(), symbol.into()];
                table.row(cells);
            }
        }
        let reconciled = &self.sheet.reconciled;
        let chance = with_decimals(100.0 * reconciled.chance(), 0);
        let words = words![
            "Means that close the balances of water and solids (VDI ",
            constant("2048"),
            "). What they had to be moved by, squared in standard uncertainties and added up: ",
            number("misfit", significant(reconciled.misfit, 2)),
            ", with ",
            number("degrees_of_freedom", reconciled.degrees_of_freedom.to_string()),
            " balances; as large in ",
            number("misfit_chance", chance),
            " of ",
            constant("100"),
            " logs where nothing is wrong."
        ];
        vec![Block::Table(table), Block::Gap, Block::paragraph(words)]
    }

    fn all_recorded(&self) -> Vec<Block> {
        self.log.recorded.iter().map(|one| Block::paragraph(self.recorded(one))).collect()
    }

    pub(super) fn recorded(&self, recorded: &Recorded) -> Words {
        let read = match recorded.last {
            Some((time, value)) => words![
                ": ",
                number("recorded.last", shortest(value)),
                if recorded.unit.is_empty() { "" } else { " " },
                Words::given(&recorded.unit),
                " on ",
                number("recorded.last_time", time.date().to_string())
            ],
            None => ": never read".into(),
        };
        let every = recorded.every.map(|every| {
            let every = match every < 48.0 {
                true => format!("{} h", shortest(every)),
                false => format!("{} days", shortest(every / 24.0)),
            };
            words!["; to be read every ", number("recorded.every_h", every)]
        });
        let missed = match recorded.missed {
            0 => Words::default(),
            1 => ", missed once".into(),
            times => words![", missed ", number("recorded.missed", times.to_string()), " times"],
        };
        let due = recorded.due.map(|due| {
            words![", due since ", number("recorded.due_since", due.date().to_string())]
        });
        words![Words::given(&recorded.name), read, every, missed, due, "."]
    }

    /// Mistyped readings that are clearly two swapped digits.
    fn read_as_meant(&self) -> Vec<Block> {
        let meant: Vec<_> =
            self.log.repairs.iter().filter(|repair| repair.taken.is_some()).collect();
        let more = more(meant.len().saturating_sub(MOST_LISTED));
        let line = |line: u64| number("mistyped.line", line.to_string());
        let told = meant.iter().take(MOST_LISTED).map(|repair| {
            Block::paragraph(words![
                "line ",
                line(repair.line),
                ": ",
                Words::given(&repair.words())
            ])
        });
        told.chain(more).collect()
    }

    fn not_used(&self) -> Vec<Block> {
        let sheet = self.sheet;
        let mut blocks = Vec::new();
        if let Some(HotBelowCold { periods, with_both, hot_kelvin, cold_kelvin }) =
            sheet.hot_below_cold
        {
            let temperature =
                |key, kelvin| number(key, shown_at(Quantity::Temperature, kelvin, self.units, 3));
            blocks.push(words![
                "In ",
                number("hot_below_cold.periods", periods.to_string()),
                " of ",
                number("hot_below_cold.with_both", with_both.to_string()),
                " ",
                self.name(),
                "s the hot water (",
                temperature("hot_below_cold.hot_celsius", hot_kelvin),
                " in the mean) is colder than the cold one (",
                temperature("hot_below_cold.cold_celsius", cold_kelvin),
                "): the columns of hot_water and cold_water look swapped, or the unit of one is wrong. Heat says \
                 nothing of these ",
                self.name(),
                "s."
            ]);
        }
        for (start, reason) in sheet.left_out.iter().take(MOST_LISTED) {
            blocks.push(words![self.time("left_out.start", *start), ": ", Words::given(reason)]);
        }
        for (start, why) in sheet.without_heat.iter().take(MOST_LISTED) {
            let start = self.time("without_heat.start", *start);
            blocks.push(words![start, ", its heat: ", Words::given(why)]);
        }
        let beyond = |count: usize| count.saturating_sub(MOST_LISTED);
        let beyond = beyond(sheet.left_out.len()) + beyond(sheet.without_heat.len());
        let lines = not_used::listed(self.log.not_used);
        blocks.into_iter().map(Block::paragraph).chain(more(beyond)).chain(lines).collect()
    }

    fn assumed(&self) -> Vec<Block> {
        let sheet = self.sheet;
        let meters = &sheet.meters;
        let cycles = match sheet.cycles_are_true {
            _ if !(meters.basin && meters.makeup_quality) => words![
                "Cycles are those of the site file, which nobody reads: ",
                constant(format!("{:.0} %", 100.0 * CYCLES_UNREAD)),
                " of standard uncertainty for dead band, probe and the law of conductivity (common practice)."
            ],
            true => {
                "Cycles: from the conductivities, corrected by the solved water of the makeup's analysis."
                    .into()
            }
            false => words![
                "Cycles are apparent: no complete analysis of the makeup corrects the conductivities, and their \
                 uncertainty is widened by ",
                constant(whole_percent(APPARENT)),
                ". Changes are judged all the same: the error is constant."
            ],
        };
        let has_quality = meters.basin && meters.makeup_quality;
        let stated = (sheet.makeup_quality_is_stated && has_quality).then(|| {
            words![
                "The makeup's conductivity is the site file's; nobody read it, and it may be ",
                constant(whole_percent(UNREAD_MAKEUP)),
                " off."
            ]
        });
        let dry_bulb = sheet.assumed_dry_bulb.map(|assumed| self.dry_bulb(assumed));
        let converted = sheet.is_converted.then(|| {
            words![
                "The meter of the basin's conductivity does not seem to correct for temperature: converted to ",
                constant("25 °C"),
                " by ",
                constant(whole_percent(PER_KELVIN)),
                " per K of the cold water, its readings leave a steadier balance. Changes are sought in them so; the \
                 table shows them as read. A sample read at ",
                constant("25 °C"),
                " would tell."
            ]
        });
        let errors = [
            ("accuracy", "Constant errors up to, not stated"),
            ("repeatability", "Random errors, one standard deviation, not stated"),
        ];
        let errors = errors.into_iter().filter_map(|(kind, title)| self.assumed_of(kind, title));
        let design = sheet.design_is_infeasible.as_ref().map(|why| {
            words![
                "The site file's own conditions have no balance (",
                Words::given(why),
                "): the medians of the log stand in for them."
            ]
        });
        let values = match self.log.values {
            (RowValues::Spot, true) => "Rows: read at their time, as the site file says.",
            (RowValues::Mean, true) => {
                "Rows: means of the time before each, as the site file says."
            }
            (RowValues::Spot, false) => {
                "Rows: taken as read at their time; if they are means of the time before, write values = \"mean\" \
                 under [log]."
            }
            (RowValues::Mean, false) => {
                "Rows: taken as means of the day before, because every one stands at midnight; if they are not, \
                 write values = \"spot\" under [log]."
            }
        };
        let clock = self.log.not_used.clock.iter().take(MOST_LISTED).map(|changed| {
            let line = number("clock.line", changed.line.to_string());
            words!["Line ", line, ": ", Words::given(&changed.reason), "."]
        });
        std::iter::once(cycles)
            .chain([values.into()])
            .chain(clock)
            .chain(design)
            .chain(stated)
            .chain(dry_bulb)
            .chain(converted)
            .chain(errors)
            .chain([LIMITS_OF_DATA.into()])
            .map(Block::paragraph)
            .collect()
    }

    fn dry_bulb(&self, assumed: AssumedDryBulb) -> Words {
        let AssumedDryBulb { periods, above_wet_bulb_kelvin, part_of_design, range } = assumed;
        let (above, unit) = match self.units {
            UnitSystem::Si => (above_wet_bulb_kelvin, "K"),
            UnitSystem::UsCustomary => (1.8 * above_wet_bulb_kelvin, "°F"),
        };
        let [least, most] = range.map(|part| constant(shortest(part)));
        words![
            "Dry bulb, not read in ",
            number("assumed_dry_bulb_periods", periods.to_string()),
            " ",
            self.name(),
            "s: the wet bulb and ",
            number(
                "assumed_dry_bulb_above_wet_bulb_kelvin",
                format!("{} {unit}", with_decimals(above, 1))
            ),
            ", ",
            constant(shortest(part_of_design)),
            " of the depression of the site file's air (common practice: a design is an afternoon, drier than the \
             mean of its day). What ",
            least,
            " to ",
            most,
            " of it would make of the evaporation is in the uncertainty."
        ]
    }

    /// Errors of instruments of one kind that nobody stated, those of one basis together.
    fn assumed_of(&self, kind: &str, title: &str) -> Option<Words> {
        let of_kind: Vec<_> = self.sheet.assumed.iter().filter(|e| e.kind == kind).collect();
        let groups = of_kind.chunk_by(|a, b| a.basis == b.basis).map(|group| {
            let parts = group.iter().map(|error| {
                let part = format!("{} %", shortest(100.0 * error.part));
                words![Words::given(&error.instrument), " ", number("assumed.part", part)]
            });
            let basis = group[0].basis.trim_start_matches("not stated; ");
            words![Words::joined(parts, ", "), " (", constant(basis), ")"]
        });
        (!of_kind.is_empty()).then(|| words![title, ": ", Words::joined(groups, "; "), "."])
    }
}

/// How many more there are than a list has.
fn more(count: usize) -> Option<Block> {
    let count: Piece = number("more_not_used", count.to_string());
    let words = words!["... and ", count.clone(), " more; json lists them."];
    (count.shown() != "0").then(|| Block::paragraph(words))
}
