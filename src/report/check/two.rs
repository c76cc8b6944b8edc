//! Two readings of the makeup meter, as people and programs read them.

use super::json::{OneMoreOut, one_more};
use super::working::{BLEED_NEEDED, UNCERTAINTY_BY_CYCLES};
use super::{missing, percent, shortest};
use crate::check::detection::DECISION_THRESHOLD;
use crate::equation::Equation;
use crate::model::{CYCLES_UNREAD, MissingReading, TwoSheet, TwoVerdict};
use crate::quantity::{UnitSystem, significant, unit, with_decimals};
use crate::report::page::{Block, Page, Piece, Words, constant, number, words};
use crate::report::shown::{COVERAGE, with_uncertainty};
use serde::Serialize;

const CAUTION: &str =
    "two readings that look right do not show that drift, or the tower's health, is safe.";

const EXPECTED: Equation = Equation {
    id: "expected_makeup",
    text: "expected = evaporation + blowdown + drift",
    source: "balance of water over hours in which the basin's level ends as it began; drift with known losses",
};

const UNCERTAINTY_WITH_BLOWDOWN: Equation = Equation {
    id: "uncertainty_of_expected_makeup",
    text: "u_expected = (u_evaporation^2 + u_blowdown^2)^0.5",
    source: "JCGM 100:2008, eq. 10",
};

/// Two readings for programs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct TwoOut {
    /// Version of this form.
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where the site came from.
    pub source: String,
    /// `too_much`, `too_little` or `as_expected`.
    pub verdict: &'static str,
    /// From one reading to the other; none where a flow was read.
    pub hours: Option<f64>,
    /// As read, m3/d.
    pub makeup_m3_per_day: f64,
    /// As read, m3; none where a flow was read.
    pub makeup_m3: Option<f64>,
    /// m3/d.
    pub expected_m3_per_day: f64,
    /// m3.
    pub expected_m3: Option<f64>,
    /// m3/d.
    pub expected_standard_uncertainty_m3_per_day: f64,
    /// m3/d.
    pub evaporation_m3_per_day: f64,
    /// m3/d.
    pub evaporation_standard_uncertainty_m3_per_day: f64,
    /// As read, else what the cycles bleed, m3/d.
    pub blowdown_m3_per_day: f64,
    /// Whether it was read.
    pub blowdown_is_read: bool,
    /// With the losses that the site file states, m3/d.
    pub drift_m3_per_day: f64,
    /// Cycles of the site.
    pub cycles_of_concentration: f64,
    /// The makeup less what was expected, m3/d.
    pub differs_by_m3_per_day: f64,
    /// The same, m3.
    pub differs_by_m3: Option<f64>,
    /// What it must exceed to count, m3/d.
    pub decision_threshold_m3_per_day: f64,
    /// The largest loss that may hide, m3/d.
    pub hides_m3_per_day: f64,
    /// In parts of what was expected.
    pub hides_part: f64,
    /// Whether a controller that bleeds less hides a part of it.
    pub controller_hides: bool,
    /// Whether load and weather are those of these hours; else the site file's.
    pub load_is_of_these_hours: bool,
    /// The same of the weather.
    pub weather_is_of_these_hours: bool,
    /// degC.
    pub hot_water_celsius: Option<f64>,
    /// degC.
    pub cold_water_celsius: Option<f64>,
    /// degC.
    pub wet_bulb_celsius: Option<f64>,
    /// What one more reading would show.
    pub one_more: Vec<OneMoreOut>,
}

/// For programs.
pub fn two_json(sheet: &TwoSheet, source: &str) -> TwoOut {
    let over = |m3_per_day: f64| sheet.read.hours.map(|hours| m3_per_day * hours / 24.0);
    let [hot, cold, wet] = sheet.temperatures;
    TwoOut {
        schema: crate::report::json::SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: source.into(),
        verdict: match sheet.verdict() {
            TwoVerdict::TooMuch => "too_much",
            TwoVerdict::TooLittle => "too_little",
            TwoVerdict::AsExpected => "as_expected",
        },
        hours: sheet.read.hours,
        makeup_m3_per_day: sheet.read.makeup,
        makeup_m3: over(sheet.read.makeup),
        expected_m3_per_day: sheet.expected.value,
        expected_m3: over(sheet.expected.value),
        expected_standard_uncertainty_m3_per_day: sheet.expected.uncertainty,
        evaporation_m3_per_day: sheet.evaporation.value,
        evaporation_standard_uncertainty_m3_per_day: sheet.evaporation.uncertainty,
        blowdown_m3_per_day: sheet.blowdown,
        blowdown_is_read: sheet.read.blowdown.is_some(),
        drift_m3_per_day: sheet.drift,
        cycles_of_concentration: sheet.cycles,
        differs_by_m3_per_day: sheet.difference.reads,
        differs_by_m3: over(sheet.difference.reads),
        decision_threshold_m3_per_day: sheet.difference.decision_threshold,
        hides_m3_per_day: sheet.hides,
        hides_part: sheet.hides / sheet.expected.value,
        controller_hides: sheet.controller_hides,
        load_is_of_these_hours: sheet.read.load_is_known,
        weather_is_of_these_hours: sheet.read.weather_is_known,
        hot_water_celsius: hot,
        cold_water_celsius: cold,
        wet_bulb_celsius: wet,
        one_more: one_more(&sheet.one_more, sheet.expected.value),
    }
}

/// The same as a row of a table: without what one more reading would show.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct TwoRow {
    site: String,
    verdict: &'static str,
    hours: Option<f64>,
    makeup_m3_per_day: f64,
    expected_m3_per_day: f64,
    expected_standard_uncertainty_m3_per_day: f64,
    differs_by_m3_per_day: f64,
    hides_m3_per_day: f64,
}

impl From<TwoOut> for TwoRow {
    fn from(out: TwoOut) -> Self {
        Self {
            site: out.site,
            verdict: out.verdict,
            hours: out.hours,
            makeup_m3_per_day: out.makeup_m3_per_day,
            expected_m3_per_day: out.expected_m3_per_day,
            expected_standard_uncertainty_m3_per_day: out.expected_standard_uncertainty_m3_per_day,
            differs_by_m3_per_day: out.differs_by_m3_per_day,
            hides_m3_per_day: out.hides_m3_per_day,
        }
    }
}

struct Of<'a> {
    sheet: &'a TwoSheet,
    units: UnitSystem,
}

/// The page.
pub fn two_page(sheet: &TwoSheet, source: &str, units: UnitSystem) -> Page {
    let mut page = Page::new(&sheet.name, "Two readings of the makeup meter", source);
    let of = Of { sheet, units };
    page.answer = vec![
        Block::heading("ANSWER"),
        Block::paragraph(of.verdict()),
        Block::paragraph(of.hides()),
        Block::paragraph(of.next()),
        Block::Gap,
        Block::paragraph(of.made_of()),
        Block::paragraph(of.conditions()),
        Block::Caution(CAUTION.into()),
    ];
    page
}

/// Each formula with its numbers, m3/day.
pub fn two_working(sheet: &TwoSheet) -> Vec<Block> {
    let blowdown = sheet.blowdown;
    // What a blowdown meter adds, from what is expected in all.
    let of_blowdown = (sheet.expected.uncertainty.powi(2) - sheet.evaporation.uncertainty.powi(2))
        .max(0.0)
        .sqrt();
    let of = |name: &str| {
        Some(match name {
            "evaporation" => sheet.evaporation.value,
            "u_evaporation" => sheet.evaporation.uncertainty,
            "blowdown" => blowdown,
            "u_blowdown" => of_blowdown,
            "drift" => sheet.drift,
            "cycles" => sheet.cycles,
            "u_cycles" => CYCLES_UNREAD,
            "u_stored" => 0.0,
            "u_loss" => sheet.difference.uncertainty,
            _ => return None,
        })
    };
    let is_read = sheet.read.blowdown.is_some();
    let bleed = (!is_read).then_some((&BLEED_NEEDED, blowdown));
    let uncertainty = if is_read { &UNCERTAINTY_WITH_BLOWDOWN } else { &UNCERTAINTY_BY_CYCLES };
    let formulas = bleed.into_iter().chain([
        (&EXPECTED, sheet.expected.value),
        (uncertainty, sheet.expected.uncertainty),
        (&DECISION_THRESHOLD, sheet.difference.decision_threshold),
    ]);
    std::iter::once(Block::heading("WORKING (m3/day; u: standard uncertainty)"))
        .chain(formulas.filter_map(|(formula, result)| {
            Block::evaluated(formula, of, (result, "m3/day"))
        }))
        .chain([Block::paragraph(
            "The evaporation is that of `balance`, which shows its own working. u_loss is that of the \
             expected makeup and of the makeup meter.",
        )])
        .collect()
}

impl Of<'_> {
    fn is_us(&self) -> bool {
        self.units == UnitSystem::UsCustomary
    }

    /// m3 or m3/day in a unit of the page: of the hours, where two readings lie so far apart.
    fn scale(&self) -> (f64, &'static str) {
        let part = self.sheet.read.hours.map(|hours| hours / 24.0);
        match (part, self.is_us()) {
            (Some(part), false) => (part, "m3"),
            (Some(part), true) => (part / unit::US_GALLON.factor, "US gal"),
            (None, false) => (1.0, "m3/day"),
            (None, true) => (1.0 / unit::US_GALLON.factor, "US gal/day"),
        }
    }

    fn key(&self, of_hours: &'static str, of_day: &'static str) -> &'static str {
        if self.sheet.read.hours.is_some() { of_hours } else { of_day }
    }

    fn plain(&self, m3_per_day: f64, digits: usize) -> String {
        let (factor, symbol) = self.scale();
        format!("{} {symbol}", significant(m3_per_day * factor, digits))
    }

    fn per_day(&self, m3_per_day: f64) -> String {
        match self.is_us() {
            false => format!("{} m3/day", significant(m3_per_day, 2)),
            true => {
                format!("{} US gal/day", significant(m3_per_day / unit::US_GALLON.factor, 2))
            }
        }
    }

    fn verdict(&self) -> Words {
        let sheet = self.sheet;
        let (factor, symbol) = self.scale();
        let expected = with_uncertainty(
            factor * sheet.expected.value,
            COVERAGE * factor * sheet.expected.uncertainty,
        );
        let expected =
            number(self.key("expected_m3", "expected_m3_per_day"), format!("{expected} {symbol}"));
        let difference = number(
            self.key("differs_by_m3", "differs_by_m3_per_day"),
            self.plain(sheet.difference.reads.abs(), 3),
        );
        let makeup =
            number(self.key("makeup_m3", "makeup_m3_per_day"), self.plain(sheet.read.makeup, 4));
        let hours = sheet
            .read
            .hours
            .map(|hours| words![" in ", number("hours", format!("{} h", shortest(hours)))]);
        let (verdict, than) = match sheet.verdict() {
            TwoVerdict::TooMuch => ("Too much: ", " more, and more than chance."),
            TwoVerdict::TooLittle => ("Too little: ", " less, and more than chance."),
            TwoVerdict::AsExpected if sheet.difference.reads < 0.0 => {
                ("Not too much: ", " less, which is within what chance makes.")
            }
            TwoVerdict::AsExpected => {
                ("Not too much: ", " more, which is within what chance makes.")
            }
        };
        words![
            verdict,
            makeup,
            hours,
            " of makeup, and ",
            expected,
            " expected: ",
            difference,
            than
        ]
    }

    fn hides(&self) -> Words {
        let sheet = self.sheet;
        let because = sheet.controller_hides.then_some(
            " (under a conductivity controller what is lost is bled less, and nothing shows until the bleed is \
             used up)",
        );
        let more = sheet.one_more.first().map(|best| {
            let how = match best.reading {
                MissingReading::BlowdownMeter => "the blowdown of the same hours (`--blowdown`)",
                MissingReading::Temperatures => "hot and cold water of these hours (`--set`)",
                MissingReading::Conductivity => missing(best.reading),
            };
            words![
                " With ",
                how,
                " it would be ",
                number("one_more.shows_m3_per_day", self.per_day(best.loss)),
                " (",
                number("one_more.shows_part", percent(best.loss / sheet.expected.value)),
                ")."
            ]
        });
        words![
            "A loss up to ",
            number("hides_m3_per_day", self.per_day(sheet.hides)),
            " (",
            number("hides_part", percent(sheet.hides / sheet.expected.value)),
            ") could hide in two such readings",
            because,
            ".",
            more
        ]
    }

    fn next(&self) -> Words {
        match self.sheet.verdict() {
            TwoVerdict::TooMuch => {
                "Next: read both meters again; then lock the bleed with fans and load off for an hour: what \
                 the makeup still lets in is a loss (float valve, overflow, leak)."
            }
            TwoVerdict::TooLittle => {
                "Next: read the register again, with its unit and multiplier; then compare the makeup meter \
                 with a fill of known volume, and look for makeup that comes in past it."
            }
            TwoVerdict::AsExpected => {
                "Next: write both readings down every day; a log finds in `coldbasin check SITE LOG` what two \
                 readings cannot."
            }
        }
        .into()
    }

    fn made_of(&self) -> Words {
        let sheet = self.sheet;
        let flow = |key, m3_per_day: f64| number(key, self.per_day(m3_per_day));
        let bleed = flow("blowdown_m3_per_day", sheet.blowdown);
        let cycles = number("cycles_of_concentration", with_decimals(sheet.cycles, 2));
        let bleed = match sheet.read.blowdown {
            Some(_) => words![bleed, " of blowdown as read"],
            None => words![
                bleed,
                " of blowdown at ",
                cycles,
                " cycles, held to about ",
                constant(format!("{:.0} %", 100.0 * COVERAGE * CYCLES_UNREAD))
            ],
        };
        words![
            "Expected: ",
            flow("evaporation_m3_per_day", sheet.evaporation.value),
            " of evaporation, ",
            bleed,
            ", ",
            flow("drift_m3_per_day", sheet.drift),
            " of drift and known losses; the basin's level as at the first reading."
        ]
    }

    fn temperature(&self, key: &'static str, celsius: f64) -> Piece {
        let shown = match self.is_us() {
            false => format!("{} °C", with_decimals(celsius, 1)),
            true => format!("{} °F", with_decimals(1.8 * celsius + 32.0, 1)),
        };
        number(key, shown)
    }

    /// What load and weather were taken for.
    fn conditions(&self) -> Words {
        let sheet = self.sheet;
        let [hot, cold, wet] = sheet.temperatures;
        let water = hot.zip(cold).map(|(hot, cold)| {
            words![
                ", water from ",
                self.temperature("hot_water_celsius", hot),
                " to ",
                self.temperature("cold_water_celsius", cold)
            ]
        });
        let air = wet.map(|wet| words![", wet bulb ", self.temperature("wet_bulb_celsius", wet)]);
        let of = |known: bool| if known { "as given" } else { "the site file's" };
        let (load, weather) = (of(sheet.read.load_is_known), of(sheet.read.weather_is_known));
        let give = (!sheet.read.load_is_known).then_some(
            " Give those of these hours with --set circuit.hot_water, circuit.cold_water and air.wet_bulb.",
        );
        words!["Load ", load, water, "; weather ", weather, air, ".", give]
    }
}
