//! A checked log, as people and programs read it.

mod working;

pub use working::working;

use super::marks::end_of_head;
use super::text::{Style, heading, page_head, paragraph, write_line};
use crate::check::detection::Detection;
use crate::check::reconcile::{Reading, Variable};
use crate::model::{
    AssumedDryBulb, Cause, CheckSheet, CheckedPeriod, Circumstance, DaysToFind, Effect, Finding,
    HotBelowCold, LEAST_PERIODS, Pattern, Remark, Suspect,
};
use crate::quantity::unit;
use crate::quantity::{Quantity, UnitSystem, significant, with_decimals};
use crate::readings::NotUsed;
use crate::readings::period::{Every, Recorded};
use jiff::civil::DateTime;
use serde::Serialize;

/// Periods of the table that a page shows, the last ones.
const MOST_PERIODS: usize = 35;
/// Lines that are not used, of those that a page lists.
const MOST_REFUSED: usize = 12;

const LIMITS_OF_DATA: &str = "Chemistry cannot tell drift, leakage and overflow apart: they are the \
same water. Time can: overflow follows pump stops and level, drift follows the fan, a leak is \
constant. A quiet check does not show that drift, or the tower's health, is safe.";

/// What a log is beside its sheet.
#[derive(Debug, Clone, Copy)]
pub struct Log<'a> {
    /// Names of site file and log.
    pub source: &'a str,
    /// Length of its periods.
    pub every: Every,
    /// What of it is not used.
    pub not_used: &'a NotUsed,
    /// What of it is shown and not judged.
    pub recorded: &'a [Recorded],
}

struct Page<'a> {
    sheet: &'a CheckSheet,
    log: Log<'a>,
    day: (f64, &'static str),
    volume: (f64, &'static str),
    units: UnitSystem,
}

/// A check as text of 80 columns.
pub fn text(sheet: &CheckSheet, log: &Log<'_>, style: Style) -> String {
    let page = Page::new(sheet, log, style);
    let mut text = String::new();
    page_head(&mut text, (&sheet.name, log.source), "Check of the log", style.bold);
    heading(&mut text, "FINDINGS", style.bold);
    page.findings(&mut text);
    heading(&mut text, &format!("{}S", log.every.name().to_uppercase()), style.bold);
    page.periods(&mut text);
    heading(&mut text, "WHAT THE METERS COULD SHOW", style.bold);
    page.detection(&mut text);
    heading(&mut text, page.flows_title(), style.bold);
    page.reconciled(&mut text);
    if !log.recorded.is_empty() {
        heading(&mut text, "RECORDED, NOT JUDGED", style.bold);
        page.recorded(&mut text);
    }
    let all_is_used = sheet.left_out.is_empty()
        && sheet.without_heat.is_empty()
        && sheet.hot_below_cold.is_none();
    if !all_is_used || !log.not_used.is_empty() {
        heading(&mut text, "NOT USED", style.bold);
        page.not_used(&mut text);
    }
    heading(&mut text, "ASSUMED", style.bold);
    page.assumed(&mut text);
    super::marks::finished(text, style)
}

impl<'a> Page<'a> {
    fn new(sheet: &'a CheckSheet, log: &Log<'a>, style: Style) -> Self {
        let (day, volume) = match style.units {
            UnitSystem::Si => ((1.0, "m3/day"), (1.0, "m3")),
            UnitSystem::UsCustomary => {
                ((unit::US_GALLON.factor, "US gal/day"), (unit::US_GALLON.factor, "US gal"))
            }
        };
        Self { sheet, log: *log, day, volume, units: style.units }
    }
}

impl Page<'_> {
    fn flow(&self, m3_per_day: f64) -> String {
        significant(m3_per_day / self.day.0, 3)
    }

    /// A value to the digits of its uncertainty, both in the unit of the page.
    fn with_uncertainty(&self, value: f64, standard: f64) -> String {
        let expanded = 2.0 * standard / self.day.0;
        let decimals = (1 - expanded.abs().log10().floor() as i32).clamp(0, 3) as usize;
        let shown = |number: f64| with_decimals(number, decimals);
        format!("{} ± {}", shown(value / self.day.0), shown(expanded))
    }

    /// A date, with the time of day where periods are shorter than a day.
    fn time(&self, time: DateTime) -> String {
        if self.log.every.hours() < 24.0 {
            time.strftime("%Y-%m-%d %H:%M").to_string()
        } else {
            time.date().to_string()
        }
    }

    fn findings(&self, text: &mut String) {
        let sheet = self.sheet;
        caution(text, self.log.not_used);
        if sheet.findings.is_empty() {
            paragraph(text, "", &self.nothing());
        }
        for (index, finding) in sheet.findings.iter().enumerate() {
            if index > 0 {
                text.push('\n');
            }
            self.finding(text, finding);
        }
        for note in &sheet.notes {
            let words = match note.until {
                Some(until) => {
                    format!("Note, no finding: it was over on {}.", self.time(until))
                }
                None => {
                    "Note, no finding: what holds from the first day on may as well be a constant \
                         error of an instrument or of the site file."
                        .to_owned()
                }
            };
            text.push('\n');
            paragraph(text, "", &words);
            self.finding(text, note);
        }
    }

    /// What stands behind a quiet log.
    fn nothing(&self) -> String {
        let name = self.log.every.name();
        match self.sheet.charts.plan {
            Some(plan) => format!(
                "Nothing: no change in what the solids leave over, against the {name}s from {} to {} \
                 before, no meter that stands still, no bleed that sticks. In one {name} the solids show \
                 a loss of {} {}.",
                plan.farthest,
                plan.nearest,
                self.flow(self.sheet.by_solids.detection_limit),
                self.day.1,
            ),
            None => format!(
                "Nothing, but the log is too short for a change: it takes {LEAST_PERIODS} {name}s."
            ),
        }
    }

    fn finding(&self, text: &mut String, finding: &Finding) {
        let since = match (finding.since, finding.found) {
            (Some(since), Some(found)) if since != found => {
                format!("Since {}, found on {}", self.time(since), self.time(found))
            }
            (Some(since), _) => format!("Since {}", self.time(since)),
            (None, _) => format!("From the first {} of the log on", self.log.every.name()),
        };
        let tied: Vec<&Suspect> = finding.leading().collect();
        let lead = if tied.len() > 1 {
            format!("{since}, one of {}, which these data cannot tell apart:", tied.len())
        } else {
            format!("{since}:")
        };
        paragraph(text, "", &lead);
        for suspect in &tied {
            let likelihood = if finding.suspects.len() > 1 {
                format!(" Likelihood {}.", share(suspect.likelihood))
            } else {
                String::new()
            };
            let (what, act) = self.told(suspect, finding.days);
            paragraph(text, "  ", &format!("{what}.{likelihood} {act}"));
        }
        if let Some(remark) = finding.remark {
            paragraph(text, "  ", &told_remark(remark));
        }
        for pattern in &finding.patterns {
            paragraph(text, "  ", &self.told_pattern(pattern));
        }
        if !finding.is_explained {
            paragraph(
                text,
                "  ",
                "No single cause explains all of it: there may be two, or one that comes and goes.",
            );
        }
        if let Some(words) = how_sure(finding) {
            paragraph(text, "  ", &words);
        }
        if let Some(next) = self.next_reading(finding) {
            paragraph(text, "  ", next);
        }
    }

    /// What separates a loss from others like it, and by how much.
    fn told_pattern(&self, pattern: &Pattern) -> String {
        use Circumstance::{FansStand, LevelIsLow, LoadIsOff};
        let [with, without] = match pattern.circumstance {
            FansStand => ["while the fans stood", "while they ran"],
            LoadIsOff => ["without load", "under load"],
            LevelIsLow => ["at the lower levels of the basin", "at the higher ones"],
        };
        let verdict = match (pattern.effect, pattern.circumstance) {
            (Effect::Stops, FansStand) => {
                "it stops with the fans, as drift does: look at the eliminators"
            }
            (Effect::Stops, LoadIsOff) => {
                "it stops with the load: look at what the process drains or takes"
            }
            (Effect::Stops, LevelIsLow) => "it follows the level, as an overflow does",
            (Effect::Shrinks, FansStand) => "a part of it is drift: look at the eliminators",
            (Effect::Shrinks, LoadIsOff) => "a part of it stops with the load",
            (Effect::Shrinks, LevelIsLow) => "a part of it is an overflow",
            (Effect::None, FansStand) => "it goes on when the fans stand, so it is no drift",
            (Effect::None, LoadIsOff) => "it goes on without load, as a leak does",
            (Effect::None, LevelIsLow) => "it does not follow the level, so it is no overflow",
            (Effect::Unknown, _) => "that does not tell what it is",
        };
        let loss = |reading: Reading| self.with_uncertainty(reading.value, reading.uncertainty);
        format!(
            "Lost {with} ({} {}): {} {}; {without} ({}): {}; {verdict}.",
            pattern.periods_with,
            match pattern.periods_with {
                1 => self.log.every.name().to_owned(),
                _ => format!("{}s", self.log.every.name()),
            },
            loss(pattern.loss_with),
            self.day.1,
            pattern.periods_without,
            loss(pattern.loss_without),
        )
    }

    fn recorded(&self, text: &mut String) {
        for recorded in self.log.recorded {
            let mut words = match recorded.last {
                Some((time, value)) => {
                    let unit = if recorded.unit.is_empty() { "" } else { " " };
                    let value = shortest(value);
                    format!("{}: {value}{unit}{} on {}", recorded.name, recorded.unit, time.date())
                }
                None => format!("{}: never read", recorded.name),
            };
            if let Some(every) = recorded.every {
                let every = if every < 48.0 {
                    format!("{} h", shortest(every))
                } else {
                    format!("{} days", shortest(every / 24.0))
                };
                words += &format!("; to be read every {every}");
            }
            match recorded.missed {
                0 => {}
                1 => words += ", missed once",
                times => words += &format!(", missed {times} times"),
            }
            if let Some(due) = recorded.due {
                words += &format!(", due since {}", due.date());
            }
            paragraph(text, "", &format!("{words}."));
        }
    }

    /// A cause in words, and the field check that settles it.
    fn told(&self, suspect: &Suspect, days: f64) -> (String, &'static str) {
        let low = suspect.size < 0.0;
        let flow = format!(
            "{} {}",
            self.with_uncertainty(suspect.size.abs(), suspect.uncertainty),
            self.day.1
        );
        let lost = format!("{flow}{}", self.total(suspect.size, days));
        let part = format!(
            "{} ± {} %",
            with_decimals(100.0 * suspect.size.abs(), 1),
            with_decimals(200.0 * suspect.uncertainty, 1)
        );
        let reads = if low { "low" } else { "high" };
        match suspect.cause {
            Cause::Loss => (
                format!(
                    "basin water is lost unmetered (leak, overflow, drift), or the blowdown meter \
                     reads low: {lost}"
                ),
                "Fill a bucket from the blowdown, or compare its meter with valve hours; then lock the \
                 bleed with fans and load off: what the makeup still lets in is the loss.",
            ),
            Cause::Inflow => (
                format!(
                    "the blowdown meter reads high, or water as concentrated as the basin's comes in (a \
                     neighbouring basin, an exchanger): {flow}"
                ),
                "Fill a bucket from the blowdown; look for pipes that join two basins.",
            ),
            Cause::MakeupMeter => (
                format!(
                    "the makeup meter reads {reads}, or {}: {flow}",
                    if low {
                        "makeup comes in past it (bypass, hose)"
                    } else {
                        "water is lost between meter and basin"
                    }
                ),
                "Compare it with the utility's meter, or with a fill of known volume.",
            ),
            Cause::Conductivity => (
                format!(
                    "the basin's conductivity reads {reads} by {part}, or the makeup's is {} than the \
                     check takes it for",
                    if low { "lower" } else { "higher" }
                ),
                "Clean and check the probe against a handheld; measure the makeup.",
            ),
            Cause::Chloride => (
                format!("the chloride of the basin reads {reads} by {part}"),
                "Repeat the titration in makeup and basin.",
            ),
            Cause::Heat => (
                format!(
                    "load or weather is not as stated: evaporation is {} by {flow}",
                    if low {
                        "higher"
                    } else {
                        "lower, or water without solids comes in (rain, condensate),"
                    }
                ),
                "Check circulation, both water temperatures and the wet bulb.",
            ),
            Cause::BlowdownHigh => (
                format!("the blowdown takes more than the cycles to hold need: {lost}"),
                "See whether the valve shuts, and what set point the controller has.",
            ),
            Cause::BlowdownLow => (
                format!("the blowdown takes less than the cycles to hold need: {flow}"),
                "See whether the valve opens and the controller asks it to; scale and corrosion are \
                 judged by the higher cycles.",
            ),
            Cause::MakeupMeterStill => (
                format!("the makeup meter stands still while the tower runs; it needs {flow}"),
                "Look at the register while the float valve is open.",
            ),
        }
    }

    /// What a loss comes to, in water and money.
    fn total(&self, m3_per_day: f64, days: f64) -> String {
        let volume = m3_per_day.abs() * days;
        let water = format!(
            "; {} {} in {} days",
            significant(volume / self.volume.0, 3),
            self.volume.1,
            with_decimals(days, 0)
        );
        self.sheet.price.as_ref().map_or(water.clone(), |(price, currency)| {
            format!("{water}, {} {currency} of makeup", significant(price * volume, 3))
        })
    }

    /// The one reading that would separate the leading causes.
    fn next_reading(&self, finding: &Finding) -> Option<&'static str> {
        let causes: Vec<Cause> = finding.leading().map(|suspect| suspect.cause).collect();
        if causes.len() < 2 {
            return None;
        }
        let has_chloride = self.sheet.periods.last()?.readings.tracers.len() > 1;
        Some(if causes.contains(&Cause::Conductivity) && !has_chloride {
            "Next reading: one chloride titration in makeup and basin separates them."
        } else if causes.contains(&Cause::Loss) || causes.contains(&Cause::Inflow) {
            "Next reading: a bucket test of the blowdown separates them."
        } else {
            "Next reading: a fill of known volume through the makeup meter separates them."
        })
    }

    fn periods(&self, text: &mut String) {
        let sheet = self.sheet;
        let width = if self.log.every.hours() < 24.0 { 17 } else { 11 };
        let line = |text: &mut String, cells: [&str; 8]| {
            let [date, makeup, expected, difference, blowdown, cycles, loss, verdict] = cells;
            write_line(
                text,
                &format!(
                    "{date:<width$}\u{1f}{makeup:>8}\u{1f}{expected:>15}\u{1f}{difference:>9}\u{1f}{blowdown:>9}\u{1f}\
                     {cycles:>7}\u{1f}{loss:>9} \u{1f}{verdict}"
                ),
            );
        };
        line(text, ["", "makeup", "expected", "differs", "blow-", "cycles", "loss by", ""]);
        line(text, ["", self.day.1, "", "by", "down", "", "solids", ""]);
        end_of_head(text);
        let skipped = sheet.periods.len().saturating_sub(MOST_PERIODS);
        for period in &sheet.periods[skipped..] {
            line(
                text,
                [
                    &self.time(period.start),
                    &self.flow(period.readings.makeup.value),
                    &format!(
                        "{} ± {}",
                        self.flow(period.expected.value),
                        significant(2.0 * period.expected.uncertainty / self.day.0, 2)
                    ),
                    &self.flow(period.difference()),
                    &self.flow(period.readings.blowdown.value),
                    &with_decimals(period.cycles, 2),
                    &self.flow(period.solids.reads),
                    &verdict(period, self.log.every),
                ],
            );
        }
        text.push('\n');
        paragraph(
            text,
            "",
            "heat, solids: makeup differs, or solids read a loss, by more than twice the uncertainty.",
        );
        if skipped > 0 {
            let words = format!(
                "The last {MOST_PERIODS} of {}; csv and json have them all.",
                sheet.periods.len()
            );
            paragraph(text, "", &words);
        }
    }

    fn detection(&self, text: &mut String) {
        let name = self.log.every.name();
        let told = |path: &str, detection: &Detection| {
            format!(
                "By {path} in one {name}: a loss counts above {} {unit}, and one of {} {unit} is found \
                 in 95 of 100 (ISO 11843, 5 % each; constant errors of the meters included).",
                self.flow(detection.decision_threshold),
                self.flow(detection.detection_limit),
                unit = self.day.1
            )
        };
        paragraph(text, "", &told("solids", &self.sheet.by_solids));
        match &self.sheet.by_heat {
            Some(heat) => paragraph(text, "", &told("heat", heat)),
            None => paragraph(
                text,
                "",
                "By heat: nothing, no period has hot and cold water with weather that can be.",
            ),
        }
        match self.sheet.charts.plan {
            Some(plan) => {
                let words = format!(
                    "Changes of what the solids leave over: cumulative sums, slack {}, decision interval \
                     {} (Page 1954, ISO 7870-4), against the median of the {name}s from {} to {} before \
                     each, in 1.4826 times their median distance from it. Heat raises no finding.",
                    plan.slack, plan.decision, plan.farthest, plan.nearest,
                );
                paragraph(text, "", &words);
                paragraph(text, "", &self.days_to_find());
            }
            None => paragraph(
                text,
                "",
                &format!(
                    "Changes: none can be found in so short a log; it takes {LEAST_PERIODS} {name}s."
                ),
            ),
        }
    }

    fn days_to_find(&self) -> String {
        let name = self.log.every.name();
        let one = |found: &DaysToFind| {
            let after = found.periods.map_or_else(
                || "hardly ever: it becomes the habit of the log first".into(),
                |periods| format!("after {} {name}s", significant(periods, 2)),
            );
            format!(
                "{} {} ({} % of makeup) {after}",
                self.flow(found.loss),
                self.day.1,
                with_decimals(100.0 * found.share, 0)
            )
        };
        let all: Vec<String> = self.sheet.days_to_find.iter().map(one).collect();
        format!("A loss that begins is found, on average: {}.", all.join("; "))
    }

    fn flows_title(&self) -> &'static str {
        match self.sheet.charts.solids.as_ref().is_some_and(|chart| chart.change.is_some()) {
            true => "MOST LIKELY FLOWS BEFORE THE CHANGE",
            false => "MOST LIKELY FLOWS",
        }
    }

    fn reconciled(&self, text: &mut String) {
        if contradicts_itself(self.sheet) {
            paragraph(
                text,
                "",
                "None: while meters contradict each other from the first day on, no flow that closes \
                 the balances is the truth.",
            );
            return;
        }
        for (name, variable) in [
            ("makeup", Variable::Makeup),
            ("evaporation", Variable::Evaporation),
            ("blowdown", Variable::Blowdown),
            ("drift and known losses", Variable::Drift),
        ] {
            if let Some(value) = self.sheet.reconciled.get(variable) {
                let shown = self.with_uncertainty(value.value, value.uncertainty);
                write_line(text, &format!("{name:<24}\u{1f}{shown:>16} {}", self.day.1));
            }
        }
        let words = format!(
            "Means that close the balances of water and solids (VDI 2048). Misfit {} with {} balances: \
             as large in {} of 100 logs where nothing is wrong.",
            significant(self.sheet.reconciled.misfit, 2),
            self.sheet.reconciled.degrees_of_freedom,
            with_decimals(100.0 * self.sheet.reconciled.chance(), 0)
        );
        text.push('\n');
        paragraph(text, "", &words);
    }

    fn temperature(&self, kelvin: f64) -> String {
        let unit = Quantity::Temperature.shown_in(self.units);
        format!("{} {}", with_decimals(unit.of_si(kelvin), 1), unit.symbol)
    }

    fn not_used(&self, text: &mut String) {
        if let Some(HotBelowCold { periods, with_both, hot_kelvin, cold_kelvin }) =
            self.sheet.hot_below_cold
        {
            let [hot, cold] = [hot_kelvin, cold_kelvin].map(|kelvin| self.temperature(kelvin));
            let words = format!(
                "In {periods} of {with_both} {name}s the hot water ({hot} in the mean) is colder than the cold \
                 one ({cold}): the columns of hot_water and cold_water look swapped, or the unit of one is \
                 wrong. Heat says nothing of these {name}s.",
                name = self.log.every.name(),
            );
            paragraph(text, "", &words);
        }
        for (start, reason) in self.sheet.left_out.iter().take(MOST_REFUSED) {
            paragraph(text, "", &format!("{}: {reason}", self.time(*start)));
        }
        for (start, why) in self.sheet.without_heat.iter().take(MOST_REFUSED) {
            paragraph(text, "", &format!("{}, its heat: {why}", self.time(*start)));
        }
        let not_used = self.log.not_used;
        for refused in not_used.listed.iter().take(MOST_REFUSED) {
            paragraph(text, "", &format!("line {}: {}", refused.line, refused.reason));
        }
        let more = not_used.listed.len().saturating_sub(MOST_REFUSED)
            + not_used.more
            + self.sheet.left_out.len().saturating_sub(MOST_REFUSED)
            + self.sheet.without_heat.len().saturating_sub(MOST_REFUSED);
        if more > 0 {
            paragraph(text, "", &format!("... and {more} more; json lists them."));
        }
        if let Some(words) = not_used.order_in_words() {
            paragraph(text, "", &words);
        }
    }

    fn assumed(&self, text: &mut String) {
        let sheet = self.sheet;
        let cycles = if sheet.cycles_are_true {
            "Cycles: from the conductivities, corrected by the solved water of the makeup's analysis."
        } else {
            "Cycles are apparent: no complete analysis of the makeup corrects the conductivities, and \
             their uncertainty is widened by 15 %. Changes are judged all the same: the error is \
             constant."
        };
        paragraph(text, "", cycles);
        if sheet.makeup_quality_is_stated {
            paragraph(
                text,
                "",
                "The makeup's conductivity is the site file's; nobody read it, and it may be 10 % off.",
            );
        }
        if let Some(AssumedDryBulb { periods, above_wet_bulb_kelvin, part_of_design }) =
            sheet.assumed_dry_bulb
        {
            let (above, unit) = match self.units {
                UnitSystem::Si => (above_wet_bulb_kelvin, "K"),
                UnitSystem::UsCustomary => (1.8 * above_wet_bulb_kelvin, "degF"),
            };
            let words = format!(
                "Dry bulb, not read in {periods} {}s: the wet bulb and {} {unit}, {part_of_design} of the \
                 depression of the site file's air (common practice: a design is an afternoon, drier than \
                 the mean of its day). What 0.2 to 1 of it would make of the evaporation is in the \
                 uncertainty.",
                self.log.every.name(),
                with_decimals(above, 1),
            );
            paragraph(text, "", &words);
        }
        for (kind, title) in [
            ("accuracy", "Constant errors up to, not stated"),
            ("repeatability", "Random errors, one standard deviation, not stated"),
        ] {
            let of_kind: Vec<_> = sheet.assumed.iter().filter(|e| e.kind == kind).collect();
            let bases: Vec<String> = of_kind
                .chunk_by(|a, b| a.basis == b.basis)
                .map(|group| {
                    let parts: Vec<String> = group
                        .iter()
                        .map(|error| {
                            format!("{} {} %", error.instrument, shortest(100.0 * error.part))
                        })
                        .collect();
                    let basis = group[0].basis.trim_start_matches("not stated; ");
                    format!("{} ({basis})", parts.join(", "))
                })
                .collect();
            if !bases.is_empty() {
                paragraph(text, "", &format!("{title}: {}.", bases.join("; ")));
            }
        }
        paragraph(text, "", LIMITS_OF_DATA);
    }
}

/// Says first where much of a file is not used.
pub(super) fn caution(text: &mut String, not_used: &NotUsed) {
    if let Some(words) = not_used.caution() {
        paragraph(text, "", &format!("{words}. What follows rests on what is left."));
        text.push('\n');
    }
}

/// What is out of tolerance, and the length of a period that is not whole.
fn verdict(period: &CheckedPeriod, every: Every) -> String {
    let is_whole = (period.hours / every.hours() - 1.0).abs() < 0.1;
    let length = if is_whole { String::new() } else { format!("{:.0} h ", period.hours) };
    let words = match (period.is_in_tolerance(), period.solids_are_in_tolerance()) {
        (true, true) => "",
        (false, true) => "heat",
        (true, false) => "solids",
        (false, false) => "both",
    };
    format!("{length}{words}")
}

/// Whether the meters contradict each other from the first day on.
fn contradicts_itself(sheet: &CheckSheet) -> bool {
    sheet.notes.iter().any(|note| note.since.is_none())
}

/// `None` for a bleed: it is held against its own habit, and no table tells how often that errs.
fn how_sure(finding: &Finding) -> Option<String> {
    if finding.misfit.is_infinite() {
        return Some("Sure: the register moved by less than 1 % of that.".into());
    }
    let chance = Some(finding.chance()).filter(|chance| chance.is_finite())?;
    let shown = if chance < 1e-4 {
        "less than 0.01 %".to_owned()
    } else {
        format!("{} %", significant(100.0 * chance, 2))
    };
    Some(format!("Chance of this by the instruments' stated errors alone: {shown}."))
}

/// A likelihood; what is all but sure is not called so.
fn share(part: f64) -> String {
    if part > 0.99 { "above 99 %".into() } else { format!("{:.0} %", 100.0 * part) }
}

/// A number without digits that it does not need.
fn shortest(number: f64) -> String {
    ((1e3 * number).round() / 1e3).to_string()
}

fn told_remark(remark: Remark) -> String {
    match remark {
        Remark::BlowdownMeterStill => {
            "The blowdown meter shows nothing though the cycles hold: look at it first.".into()
        }
        Remark::CyclesFell(part) => format!(
            "Cycles fell by {} %: the loss is larger than the blowdown that is needed, as by a makeup \
             valve that passes and an overflow.",
            with_decimals(100.0 * part, 0)
        ),
    }
}

/// A check for programs.
#[derive(Debug, Serialize)]
pub struct CheckOut {
    /// Version of this form.
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where site and log came from.
    pub source: String,
    /// `hour`, `shift`, `day` or `week`.
    pub every: &'static str,
    /// Rows read, and used.
    #[serde(flatten)]
    pub rows: RowsOut,
    /// What stands.
    pub findings: Vec<FindingOut>,
    /// What is told and is no finding.
    pub notes: Vec<FindingOut>,
    /// Periods.
    pub periods: Vec<PeriodOut>,
    /// m3/d.
    pub solids_decision_threshold_m3_per_day: f64,
    /// m3/d.
    pub solids_detection_limit_m3_per_day: f64,
    /// m3/d.
    pub heat_decision_threshold_m3_per_day: Option<f64>,
    /// m3/d.
    pub heat_detection_limit_m3_per_day: Option<f64>,
    /// Of the chart of the solids, in standard deviations.
    pub decision_interval: Option<f64>,
    /// Losses that begin, and how many periods they stay unfound.
    pub run_lengths: Vec<RunLengthOut>,
    /// Chi-square of the quiet part of the log.
    pub misfit: f64,
    /// Its degrees of freedom.
    pub degrees_of_freedom: usize,
    /// Most likely flows of that part; none while a note from the first day on stands.
    pub reconciled: Option<ReconciledOut>,
    /// By how much a dry bulb that was not read is taken above the wet bulb.
    pub assumed_dry_bulb_above_wet_bulb_kelvin: Option<f64>,
    /// Whether cycles are corrected.
    pub cycles_are_true: bool,
    /// Periods that could not be checked.
    pub left_out: Vec<LeftOut>,
    /// Periods whose load and weather cannot be.
    pub without_heat: Vec<WithoutHeat>,
    /// Whether most periods have their hot water colder than the cold one; these are not listed.
    pub hot_and_cold_look_swapped: bool,
    /// Columns that are shown and not judged.
    pub recorded: Vec<RecordedOut>,
    /// Lines and readings that are not used.
    pub not_used: Vec<RefusedOut>,
    /// More of them, that are not listed.
    pub more_not_used: usize,
}

/// How much of a file is used.
#[derive(Debug, Serialize)]
pub struct RowsOut {
    /// Where more than 5 % of the rows, or of a column's readings, are not used: which, and why.
    pub caution: Option<String>,
    /// Rows in the file.
    pub rows_read: usize,
    /// Of them, those of which something is used.
    pub rows_used: usize,
    /// Those of which nothing is.
    pub rows_not_used: usize,
    /// Those that were put in order.
    pub rows_out_of_order: usize,
    /// Whether the newest row stood first.
    pub newest_row_first: bool,
}

impl RowsOut {
    pub(super) fn new(not_used: &NotUsed) -> Self {
        Self {
            caution: not_used.caution(),
            rows_read: not_used.rows,
            rows_used: not_used.rows_used(),
            rows_not_used: not_used.rows_lost,
            rows_out_of_order: not_used.out_of_order,
            newest_row_first: not_used.newest_first,
        }
    }
}

/// A finding.
#[derive(Debug, Serialize)]
pub struct FindingOut {
    /// Begin; none from the first day on.
    pub since: Option<String>,
    /// The period at which the change was found.
    pub found: Option<String>,
    /// The first period after its end, where it has ended.
    pub until: Option<String>,
    /// Days that it has lasted.
    pub days: f64,
    /// Chi-square; of a change, that of the solids. None for a meter that stands still and for a bleed.
    pub misfit: Option<f64>,
    /// Chance of it by the stated errors of the instruments alone.
    pub chance: Option<f64>,
    /// Whether the first cause explains it.
    pub is_explained: bool,
    /// Causes, the one that explains most first.
    pub causes: Vec<CauseOut>,
    /// Of a loss: what it does as fans, load and level change.
    pub patterns: Vec<PatternOut>,
}

/// A loss with and without a circumstance.
#[derive(Debug, Serialize)]
pub struct PatternOut {
    /// `fans_stand`, `load_is_off` or `level_is_low`.
    pub circumstance: &'static str,
    /// `stops`, `shrinks`, `none` or `unknown`.
    pub effect: &'static str,
    /// Periods with it.
    pub periods_with: usize,
    /// Periods without it.
    pub periods_without: usize,
    /// m3/d.
    pub loss_with_m3_per_day: f64,
    /// m3/d.
    pub loss_with_standard_uncertainty_m3_per_day: f64,
    /// m3/d.
    pub loss_without_m3_per_day: f64,
    /// m3/d.
    pub loss_without_standard_uncertainty_m3_per_day: f64,
}

/// A cause.
#[derive(Debug, Serialize)]
pub struct CauseOut {
    /// `loss_or_blowdown_meter`, `inflow_or_blowdown_meter`, `makeup_meter`, `conductivity`,
    /// `chloride`, `heat`, `blowdown_high`, `blowdown_low` or `makeup_meter_still`.
    pub cause: &'static str,
    /// m3/d, or a part of the reading.
    pub size: f64,
    /// Standard uncertainty.
    pub standard_uncertainty: f64,
    /// Likelihood among single causes.
    pub likelihood: f64,
    /// Whether it explains as much as the first, within noise.
    pub is_tied: bool,
}

/// A period.
#[derive(Debug, Serialize)]
pub struct PeriodOut {
    /// Begin.
    pub start: String,
    /// Hours that the makeup's readings cover.
    pub hours: f64,
    /// m3/d.
    pub makeup_m3_per_day: f64,
    /// m3/d.
    pub expected_makeup_m3_per_day: f64,
    /// m3/d.
    pub expected_standard_uncertainty_m3_per_day: f64,
    /// m3/d.
    pub evaporation_m3_per_day: f64,
    /// m3/d.
    pub blowdown_m3_per_day: f64,
    /// Cycles.
    pub cycles_of_concentration: f64,
    /// What solids read as a loss, m3/d.
    pub loss_by_solids_m3_per_day: f64,
    /// What heat reads as a loss, m3/d.
    pub loss_by_heat_m3_per_day: Option<f64>,
    /// Within twice its uncertainty.
    pub in_tolerance: bool,
    /// Whether what solids read is within twice its uncertainty.
    pub solids_in_tolerance: bool,
}

/// How long a loss stays unfound.
#[derive(Debug, Serialize)]
pub struct RunLengthOut {
    /// m3/d.
    pub loss_m3_per_day: f64,
    /// Mean number of periods; none where it becomes the habit of the log first.
    pub periods: Option<f64>,
}

/// Most likely flows, m3/d.
#[derive(Debug, Serialize)]
pub struct ReconciledOut {
    /// Makeup.
    pub makeup_m3_per_day: f64,
    /// Evaporation.
    pub evaporation_m3_per_day: f64,
    /// Blowdown.
    pub blowdown_m3_per_day: f64,
    /// Drift, with the losses that the site file states.
    pub drift_and_known_losses_m3_per_day: f64,
}

/// A period that could not be checked.
#[derive(Debug, Serialize)]
pub struct LeftOut {
    /// Begin.
    pub start: String,
    /// Why.
    pub reason: String,
}

/// A period whose load and weather cannot be.
#[derive(Debug, Serialize)]
pub struct WithoutHeat {
    /// Begin.
    pub start: String,
    /// Why.
    pub reason: String,
}

/// A column that is shown and not judged.
#[derive(Debug, Serialize)]
pub struct RecordedOut {
    /// Its header.
    pub name: String,
    /// The unit of its numbers, as written.
    pub unit: String,
    /// How often it is to be read.
    pub every_h: Option<f64>,
    /// How often it was read.
    pub readings: usize,
    /// The last reading.
    pub last: Option<f64>,
    /// Its time.
    pub last_time: Option<String>,
    /// Readings that are missing between others.
    pub missed: usize,
    /// When a reading was due that the end of the log does not have.
    pub due_since: Option<String>,
}

/// A line that is not used.
#[derive(Debug, Serialize)]
pub struct RefusedOut {
    /// In the log.
    pub line: u64,
    /// Why.
    pub reason: String,
}

/// The periods for programs, and rows for CSV.
pub fn periods(sheet: &CheckSheet) -> Vec<PeriodOut> {
    let period = |period: &CheckedPeriod| PeriodOut {
        start: period.start.to_string(),
        hours: period.hours,
        makeup_m3_per_day: period.readings.makeup.value,
        expected_makeup_m3_per_day: period.expected.value,
        expected_standard_uncertainty_m3_per_day: period.expected.uncertainty,
        evaporation_m3_per_day: period.readings.evaporation.value,
        blowdown_m3_per_day: period.readings.blowdown.value,
        cycles_of_concentration: period.cycles,
        loss_by_solids_m3_per_day: period.solids.reads,
        loss_by_heat_m3_per_day: period.heat.map(|heat| heat.reads),
        in_tolerance: period.is_in_tolerance(),
        solids_in_tolerance: period.solids_are_in_tolerance(),
    };
    sheet.periods.iter().map(period).collect()
}

/// A check for programs.
pub fn json(sheet: &CheckSheet, log: &Log<'_>) -> CheckOut {
    let not_used = log.not_used;
    CheckOut {
        schema: super::json::SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: log.source.into(),
        every: log.every.name(),
        rows: RowsOut::new(not_used),
        findings: sheet.findings.iter().map(finding_out).collect(),
        notes: sheet.notes.iter().map(finding_out).collect(),
        periods: periods(sheet),
        solids_decision_threshold_m3_per_day: sheet.by_solids.decision_threshold,
        solids_detection_limit_m3_per_day: sheet.by_solids.detection_limit,
        heat_decision_threshold_m3_per_day: sheet.by_heat.map(|heat| heat.decision_threshold),
        heat_detection_limit_m3_per_day: sheet.by_heat.map(|heat| heat.detection_limit),
        decision_interval: sheet.charts.plan.map(|plan| plan.decision),
        run_lengths: sheet
            .days_to_find
            .iter()
            .map(|found| RunLengthOut { loss_m3_per_day: found.loss, periods: found.periods })
            .collect(),
        misfit: sheet.reconciled.misfit,
        degrees_of_freedom: sheet.reconciled.degrees_of_freedom,
        reconciled: reconciled_out(sheet),
        assumed_dry_bulb_above_wet_bulb_kelvin: sheet
            .assumed_dry_bulb
            .map(|assumed| assumed.above_wet_bulb_kelvin),
        cycles_are_true: sheet.cycles_are_true,
        left_out: sheet
            .left_out
            .iter()
            .map(|(start, reason)| LeftOut { start: start.to_string(), reason: reason.clone() })
            .collect(),
        without_heat: sheet
            .without_heat
            .iter()
            .map(|(start, why)| WithoutHeat { start: start.to_string(), reason: why.clone() })
            .collect(),
        hot_and_cold_look_swapped: sheet.hot_below_cold.is_some(),
        recorded: log.recorded.iter().map(recorded_out).collect(),
        not_used: not_used
            .listed
            .iter()
            .map(|refused| RefusedOut { line: refused.line, reason: refused.reason.clone() })
            .collect(),
        more_not_used: not_used.more,
    }
}

fn finding_out(finding: &Finding) -> FindingOut {
    let misfit = Some(finding.misfit).filter(|misfit| misfit.is_finite());
    FindingOut {
        since: finding.since.map(|time| time.to_string()),
        found: finding.found.map(|time| time.to_string()),
        until: finding.until.map(|time| time.to_string()),
        days: finding.days,
        misfit,
        chance: misfit.map(|_| finding.chance()),
        is_explained: finding.is_explained,
        causes: finding.suspects.iter().map(cause_out).collect(),
        patterns: finding.patterns.iter().map(pattern_out).collect(),
    }
}

fn pattern_out(pattern: &Pattern) -> PatternOut {
    PatternOut {
        circumstance: match pattern.circumstance {
            Circumstance::FansStand => "fans_stand",
            Circumstance::LoadIsOff => "load_is_off",
            Circumstance::LevelIsLow => "level_is_low",
        },
        effect: match pattern.effect {
            Effect::Stops => "stops",
            Effect::Shrinks => "shrinks",
            Effect::None => "none",
            Effect::Unknown => "unknown",
        },
        periods_with: pattern.periods_with,
        periods_without: pattern.periods_without,
        loss_with_m3_per_day: pattern.loss_with.value,
        loss_with_standard_uncertainty_m3_per_day: pattern.loss_with.uncertainty,
        loss_without_m3_per_day: pattern.loss_without.value,
        loss_without_standard_uncertainty_m3_per_day: pattern.loss_without.uncertainty,
    }
}

fn recorded_out(recorded: &Recorded) -> RecordedOut {
    RecordedOut {
        name: recorded.name.clone(),
        unit: recorded.unit.clone(),
        every_h: recorded.every,
        readings: recorded.readings,
        last: recorded.last.map(|(_, value)| value),
        last_time: recorded.last.map(|(time, _)| time.to_string()),
        missed: recorded.missed,
        due_since: recorded.due.map(|due| due.to_string()),
    }
}

fn cause_out(suspect: &Suspect) -> CauseOut {
    CauseOut {
        cause: match suspect.cause {
            Cause::Loss => "loss_or_blowdown_meter",
            Cause::Inflow => "inflow_or_blowdown_meter",
            Cause::MakeupMeter => "makeup_meter",
            Cause::Conductivity => "conductivity",
            Cause::Chloride => "chloride",
            Cause::Heat => "heat",
            Cause::BlowdownHigh => "blowdown_high",
            Cause::BlowdownLow => "blowdown_low",
            Cause::MakeupMeterStill => "makeup_meter_still",
        },
        size: suspect.size,
        standard_uncertainty: suspect.uncertainty,
        likelihood: suspect.likelihood,
        is_tied: suspect.is_tied,
    }
}

fn reconciled_out(sheet: &CheckSheet) -> Option<ReconciledOut> {
    if contradicts_itself(sheet) {
        return None;
    }
    let of = |variable| sheet.reconciled.get(variable).map(|reading| reading.value);
    Some(ReconciledOut {
        makeup_m3_per_day: of(Variable::Makeup)?,
        evaporation_m3_per_day: of(Variable::Evaporation)?,
        blowdown_m3_per_day: of(Variable::Blowdown)?,
        drift_and_known_losses_m3_per_day: of(Variable::Drift)?,
    })
}
