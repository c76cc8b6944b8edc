//! Findings in words: what, since when, how much, how sure, what to do next.

use super::Of;
use crate::model::{
    Cause, CheckSheet, Circumstance, Effect, Finding, FindingState, Pattern, Remark, Suspect,
};
use crate::quantity::{significant, with_decimals};
use crate::report::page::{Words, number, words};
use crate::report::shown::{COVERAGE, with_uncertainty};

/// Nobody is surer than in so many of a hundred cases; of a bleed that sticks, in so many.
const MOST_SURE: f64 = 99.0;
const MOST_SURE_OF_A_BLEED: f64 = 98.0;
/// Less of a loss than this part is none of it.
const LITTLE: f64 = 0.1;
/// Causes less likely than this are not told.
const LEAST_TOLD: f64 = 0.01;
/// Causes less likely than this do not stand beside the first in the answer.
const TOLD_BESIDE: f64 = 0.03;
/// From here on likelihoods are told in hundredths, else in tenths.
const HUNDREDTHS: f64 = 0.95;

/// A cause in one or two words.
pub(crate) fn short(cause: Cause) -> &'static str {
    match cause {
        Cause::Loss => "loss",
        Cause::Inflow => "inflow",
        Cause::MakeupMeter => "makeup meter",
        Cause::Conductivity => "probe",
        Cause::Chloride => "chloride",
        Cause::Heat => "load or weather",
        Cause::BlowdownHigh => "bleed open",
        Cause::BlowdownLow => "bleed shut",
        Cause::MakeupMeterStill => "meter still",
        Cause::MakeupQuality => "makeup's quality",
        Cause::MoreMakeup => "more makeup",
        Cause::Unclear => "unclear",
    }
}

/// What a suspect's size is a size of.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum SizeOf {
    /// m3/d.
    Flow,
    /// A part of the reading.
    Part,
}

impl SizeOf {
    pub fn of(cause: Cause) -> Self {
        match cause {
            Cause::Conductivity | Cause::Chloride | Cause::MakeupQuality => Self::Part,
            _ => Self::Flow,
        }
    }
}

/// Whether water is lost that is paid for.
fn is_lost(cause: Cause) -> bool {
    matches!(cause, Cause::Loss | Cause::BlowdownHigh | Cause::MoreMakeup)
}

/// What a cause has lost since its begin, m3.
pub(super) fn total_m3(suspect: &Suspect, finding: &Finding) -> Option<f64> {
    is_lost(suspect.cause).then(|| suspect.size.abs() * finding.days)
}

/// How much more makeup a loss has drawn since its begin, m3; `None` where that is not known.
pub(super) fn more_makeup_m3(
    sheet: &CheckSheet,
    suspect: &Suspect,
    finding: &Finding,
) -> Option<f64> {
    (suspect.cause == Cause::Loss).then_some(())?;
    Some(finding.days * sheet.more_makeup(finding, suspect.size)?)
}

/// What a growing cause has come to: it grew evenly, and its size is the mean.
pub(super) fn size_now(suspect: &Suspect, finding: &Finding) -> Option<f64> {
    (finding.is_growing && finding.until.is_none()).then_some(2.0 * suspect.size)
}

/// Of so many cases in how many a cause is right.
pub(super) fn right_in(suspect: &Suspect) -> [u32; 2] {
    let most = match suspect.cause {
        Cause::BlowdownHigh | Cause::BlowdownLow => MOST_SURE_OF_A_BLEED,
        _ => MOST_SURE,
    };
    let part = suspect.likelihood;
    match (0.1..HUNDREDTHS).contains(&part) {
        true => [(10.0 * part).floor() as u32, 10],
        false => [(100.0 * part).floor().clamp(1.0, most) as u32, 100],
    }
}

/// Keys of a list of findings.
#[derive(Clone, Copy)]
pub(super) struct Keys {
    since: &'static str,
    size: &'static str,
    size_now: &'static str,
    total: &'static str,
    days: &'static str,
    more_makeup: &'static str,
    cost: &'static str,
    right: &'static str,
}

pub(super) const FINDINGS: Keys = Keys {
    since: "findings.since",
    size: "findings.causes.size",
    size_now: "findings.causes.size_now",
    total: "findings.causes.total_m3",
    days: "findings.days",
    more_makeup: "findings.causes.more_makeup_m3",
    cost: "findings.causes.cost",
    right: "findings.causes.likelihood",
};
pub(super) const NOTES: Keys = Keys {
    since: "notes.since",
    size: "notes.causes.size",
    size_now: "notes.causes.size_now",
    total: "notes.causes.total_m3",
    days: "notes.days",
    more_makeup: "notes.causes.more_makeup_m3",
    cost: "notes.causes.cost",
    right: "notes.causes.likelihood",
};

impl Of<'_> {
    /// A finding as a person acts on it.
    pub(super) fn finding(&self, finding: &Finding) -> Words {
        let state = self.sheet.state(finding);
        let leading = finding.leading().enumerate();
        let tied: Vec<&Suspect> = leading
            .filter(|(place, suspect)| *place == 0 || suspect.likelihood >= TOLD_BESIDE)
            .map(|(_, suspect)| suspect)
            .collect();
        let clauses = tied.iter().map(|suspect| {
            let sure =
                (tied.len() > 1).then(|| words![" (", self.right("right", suspect, FINDINGS), ")"]);
            words![self.cause(suspect, finding, FINDINGS), sure]
        });
        let causes = Words::joined(clauses, "; or ");
        let apart = (tied.len() > 1).then_some("one of these, which this log cannot tell apart: ");
        let sure = match tied.as_slice() {
            [one] => words![" ", self.how_sure(one), "."],
            _ => Words::default(),
        };
        let next =
            (state != FindingState::Over).then(|| words![" Next: ", self.next(finding), "."]);
        words![self.when(finding), ": ", apart, causes, ".", sure, next]
    }

    /// How a finding stands, and since when.
    pub(super) fn when(&self, finding: &Finding) -> Words {
        let since = finding.since.map(|since| self.time("findings.since", since));
        let found = finding.found.map(|found| self.time("findings.found", found));
        match self.sheet.state(finding) {
            FindingState::New => words!["New, found on ", found, ", since ", since],
            FindingState::GoingOn if finding.since == finding.found => {
                words!["Going on since ", since]
            }
            FindingState::GoingOn => words!["Going on since ", since, ", found on ", found],
            FindingState::Over => {
                let until = finding.until.map(|until| self.time("findings.until", until));
                words!["Over since ", until, ", begun on ", since]
            }
        }
    }

    /// A cause with its size, what it comes to, and whether it grows.
    pub(super) fn cause(&self, suspect: &Suspect, finding: &Finding, keys: Keys) -> Words {
        let low = suspect.size < 0.0;
        let reads = if low { "low" } else { "high" };
        let size = || number(keys.size, self.size(suspect));
        let growing = size_now(suspect, finding).map(|now| {
            let now = Suspect { size: now, uncertainty: 0.0, ..*suspect };
            words![" in the mean, growing (", number(keys.size_now, self.size(&now)), " by now)"]
        });
        let size = || words![size(), growing.clone()];
        let lost = || words![size(), self.total(suspect, finding, keys)];
        match suspect.cause {
            Cause::Loss => words![
                "basin water is lost past the meters (leak, overflow, drift), or the blowdown meter reads \
                 low: ",
                lost()
            ],
            Cause::Inflow => words![
                "the blowdown meter reads high, or water as concentrated as the basin's comes in: ",
                size()
            ],
            Cause::MakeupMeter => words![
                "the makeup meter reads ",
                reads,
                if low {
                    ", or makeup comes in past it (bypass, hose): "
                } else {
                    ", or water is lost between meter and basin: "
                },
                size()
            ],
            Cause::Conductivity => words![
                "the basin's conductivity reads ",
                reads,
                " by ",
                size(),
                ", or the makeup's is ",
                if low { "lower" } else { "higher" },
                " than it was read"
            ],
            Cause::Chloride => {
                words!["the chloride of the basin reads ", reads, " by ", size()]
            }
            Cause::Heat => words![
                "load or weather is not as stated: evaporation is ",
                if low { "higher by " } else { "lower, or rain or condensate comes in, by " },
                size()
            ],
            Cause::BlowdownHigh => words!["the bleed takes more than it is used to: ", lost()],
            Cause::BlowdownLow => words!["the bleed takes less than it is used to: ", size()],
            Cause::MakeupMeterStill => {
                words!["the makeup meter stands still while the tower runs, which needs ", size()]
            }
            Cause::MoreMakeup => words![
                match self.sheet.meters.blowdown {
                    true => {
                        "the makeup is more than load, weather and blowdown ask for; a leak, an overflow or a \
                         meter that reads wrong: "
                    }
                    false => {
                        "the makeup is more than load and weather ask for, and the basin has left its level; a \
                         bleed that stands open, or a loss larger than the bleed: "
                    }
                },
                lost()
            ],
            Cause::MakeupQuality => words![
                "the makeup carries ",
                if low { "fewer" } else { "more" },
                " salts than when it was last read, by ",
                size()
            ],
            Cause::Unclear => {
                "the water no longer adds up as it did, and no single cause explains it".into()
            }
        }
    }

    /// A size with its ± and unit.
    fn size(&self, suspect: &Suspect) -> String {
        match SizeOf::of(suspect.cause) {
            SizeOf::Flow => self.uncertain(suspect.size.abs(), suspect.uncertainty),
            SizeOf::Part => {
                let size = 100.0 * suspect.size.abs();
                format!("{} %", with_uncertainty(size, 100.0 * COVERAGE * suspect.uncertainty))
            }
        }
    }

    /// What a loss comes to, in water and money.
    fn total(&self, suspect: &Suspect, finding: &Finding, keys: Keys) -> Option<Words> {
        let lost = total_m3(suspect, finding)?;
        let more = more_makeup_m3(self.sheet, suspect, finding);
        let cost = |m3: f64| {
            self.sheet.price.as_ref().map(|(price, currency)| {
                let cost = number(keys.cost, significant(price * m3, 3));
                words![", ", cost, " ", Words::given(currency), " of makeup"]
            })
        };
        let paid = match more {
            None => cost(lost),
            Some(more) if more < LITTLE * lost => Some(
                " of treated water; the bleed fell by as much, so that the makeup is no higher, but it passes \
                 neither the controller nor the permit's measuring point"
                    .into(),
            ),
            Some(more) if more > (1.0 - LITTLE) * lost => {
                Some(words![", which the makeup replaces", cost(more)])
            }
            Some(more) => Some(words![
                " of treated water, of which ",
                number(keys.more_makeup, self.volume(more)),
                " are more makeup, the rest less bleed",
                cost(more)
            ]),
        };
        Some(words![
            "; ",
            number(keys.total, self.volume(lost)),
            " in ",
            number(keys.days, with_decimals(finding.days, 0)),
            " days",
            paid
        ])
    }

    fn right(&self, word: &str, suspect: &Suspect, keys: Keys) -> Words {
        let [right, of] = right_in(suspect);
        words![word, " in ", number(keys.right, format!("{right} of {of}")), " such cases"]
    }

    fn how_sure(&self, suspect: &Suspect) -> Words {
        match suspect.cause {
            Cause::MakeupMeterStill => "Sure: the register hardly moved".into(),
            Cause::MoreMakeup => {
                "A change of load, circulation or temperatures that the log does not show looks the same".into()
            }
            _ => self.right("Right", suspect, FINDINGS),
        }
    }

    /// The one thing to do next.
    pub(super) fn next(&self, finding: &Finding) -> &'static str {
        if let Some(reading) = self.telling_reading(finding) {
            return reading;
        }
        if finding.remark == Some(Remark::BlowdownMeterStill) {
            return "look at the blowdown meter: it shows nothing though the cycles hold";
        }
        let stops = finding.patterns.iter().find(|pattern| pattern.effect == Effect::Stops);
        if let Some(pattern) = stops {
            return match pattern.circumstance {
                Circumstance::FansStand => "look at the drift eliminators: it stops with the fans",
                Circumstance::LoadIsOff => {
                    "look at what the process drains or takes: it stops with the load"
                }
                Circumstance::LevelIsLow => "look at the overflow: it follows the level",
            };
        }
        finding.cause().map_or("read both registers again", first_check)
    }

    /// The reading that tells causes apart which look the same.
    fn telling_reading(&self, finding: &Finding) -> Option<&'static str> {
        let causes: Vec<Cause> = finding.leading().map(|suspect| suspect.cause).collect();
        if causes.len() < 2 {
            return None;
        }
        let has_chloride = self.sheet.periods.last()?.readings.tracers.len() > 1;
        Some(if causes.contains(&Cause::Conductivity) && !has_chloride {
            "one chloride titration in makeup and basin, which tells them apart"
        } else if causes.contains(&Cause::Loss) || causes.contains(&Cause::Inflow) {
            "fill a bucket from the blowdown against its meter, which tells them apart"
        } else {
            "a fill of known volume through the makeup meter, which tells them apart"
        })
    }

    /// A note in one line.
    pub(super) fn note(&self, note: &Finding) -> Words {
        let Some(first) = note.suspects.first() else { return Words::default() };
        if let Some(since) = note.since {
            let since = self.time(NOTES.since, since);
            let until =
                note.until.map(|until| words![", over since ", self.time("notes.until", until)]);
            let size = number(NOTES.size, self.size(first));
            let bleed = |than: &str| {
                words![
                    "Note: the bleed takes ",
                    size.clone(),
                    than,
                    since.clone(),
                    until.clone(),
                    "."
                ]
            };
            return match first.cause {
                Cause::BlowdownHigh => bleed(" more than usual since "),
                Cause::BlowdownLow => bleed(" less than usual since "),
                Cause::MoreMakeup => words![
                    "Note: the makeup is ",
                    size,
                    " more than load, weather and cycles ask for since ",
                    since,
                    until,
                    ": a leak, an overflow, a bleed set or stuck open, a makeup of another quality, or a load that \
                     the log does not show. Next: ",
                    first_check(first.cause),
                    "."
                ],
                Cause::MakeupQuality => words![
                    "Note: read the makeup's conductivity; it seems to be another since ",
                    since,
                    "."
                ],
                _ => words![
                    "Note, no fault: load, temperatures or circulation changed since ",
                    since,
                    "."
                ],
            };
        }
        let size = number(NOTES.size, self.size(first));
        let low = first.size < 0.0;
        let reads = if low { "low" } else { "high" };
        let clause = match first.cause {
            Cause::Loss => words![size, " more leave than the meters show"],
            Cause::Inflow => words![size, " less leave than the meters show"],
            Cause::MakeupMeter => words!["the makeup meter reads ", reads, " by ", size],
            Cause::Conductivity => {
                words!["the basin's conductivity reads ", reads, " by ", size]
            }
            Cause::Chloride => words!["the basin's chloride reads ", reads, " by ", size],
            Cause::BlowdownHigh => words!["the bleed takes ", size, " more than the target asks"],
            Cause::BlowdownLow => words!["the bleed takes ", size, " less than the target asks"],
            _ if low => words!["evaporation is ", size, " more than load and weather say"],
            _ => words!["evaporation is ", size, " less than load and weather say"],
        };
        words!["Note: from the first day on ", clause, "."]
    }

    /// All that the log shows of a finding or note, for the detail.
    pub(super) fn in_full(&self, finding: &Finding, keys: Keys) -> Vec<Words> {
        let likely = |suspect: &Suspect| {
            let sure = match suspect.cause {
                Cause::MakeupMeterStill => Words::default(),
                _ => words![" (", self.right("right", suspect, keys), ")"],
            };
            let check = words!["; ", second_check(suspect.cause), "."];
            words![self.cause(suspect, finding, keys), sure, check]
        };
        let told = finding.suspects.iter().filter(|suspect| suspect.likelihood >= LEAST_TOLD);
        let causes = told.map(likely);
        let remark = finding.remark.map(|remark| match remark {
            Remark::BlowdownMeterStill => {
                "The blowdown meter shows nothing though the cycles hold: look at it first.".into()
            }
            Remark::CyclesFell(part) => words![
                "Cycles fell by ",
                number("findings.cycles_fell_by", format!("{} %", with_decimals(100.0 * part, 0))),
                ": the loss is larger than the blowdown that is needed, as by a makeup valve that passes \
                 and an overflow."
            ],
        });
        let patterns = finding.patterns.iter().map(|pattern| self.pattern(pattern));
        let unexplained = (!finding.is_explained && finding.cause() != Some(Cause::Unclear)).then(
            || Words::from("No single cause explains all of it: there may be two, or one that comes and goes."),
        );
        causes.chain(remark).chain(patterns).chain(unexplained).collect()
    }

    /// What separates a loss from others like it, and by how much.
    fn pattern(&self, pattern: &Pattern) -> Words {
        use Circumstance::{FansStand, LevelIsLow, LoadIsOff};
        let [with, without] = match pattern.circumstance {
            FansStand => ["while the fans stood", "while they ran"],
            LoadIsOff => ["without load", "under load"],
            LevelIsLow => ["at the lower levels of the basin", "at the higher ones"],
        };
        let verdict = match (pattern.effect, pattern.circumstance) {
            (Effect::Stops, FansStand) => "it stops with the fans, as drift does",
            (Effect::Stops, LoadIsOff) => "it stops with the load, as what the process takes does",
            (Effect::Stops, LevelIsLow) => "it follows the level, as an overflow does",
            (Effect::Shrinks, FansStand) => "a part of it is drift: look at the eliminators",
            (Effect::Shrinks, LoadIsOff) => "a part of it stops with the load",
            (Effect::Shrinks, LevelIsLow) => "a part of it is an overflow",
            (Effect::None, FansStand) => "it goes on when the fans stand, so it is no drift",
            (Effect::None, LoadIsOff) => "it goes on without load, as a leak does",
            (Effect::None, LevelIsLow) => "it does not follow the level, so it is no overflow",
            (Effect::Unknown, _) => "that does not tell what it is",
        };
        let loss = |key, reading: crate::check::reconcile::Reading| {
            number(key, self.uncertain(reading.value, reading.uncertainty))
        };
        words![
            "Lost ",
            with,
            " (",
            number("findings.patterns.periods_with", pattern.periods_with.to_string()),
            " ",
            self.name(),
            if pattern.periods_with == 1 { "" } else { "s" },
            "): ",
            loss("findings.patterns.loss_with_m3_per_day", pattern.loss_with),
            "; ",
            without,
            " (",
            number("findings.patterns.periods_without", pattern.periods_without.to_string()),
            "): ",
            loss("findings.patterns.loss_without_m3_per_day", pattern.loss_without),
            "; ",
            verdict,
            "."
        ]
    }
}

/// The first thing that settles a cause.
fn first_check(cause: Cause) -> &'static str {
    match cause {
        Cause::Loss => {
            "fill a bucket from the blowdown against its meter; if that is right, look for the water"
        }
        Cause::Inflow => "fill a bucket from the blowdown against its meter",
        Cause::MakeupMeter => "compare it with the utility's meter, or with a fill of known volume",
        Cause::Conductivity => "clean the basin's probe and check it against a handheld",
        Cause::Chloride => "repeat the titration in makeup and basin",
        Cause::Heat => "check circulation, both water temperatures and the wet bulb",
        Cause::BlowdownHigh => "see whether the valve shuts, and what set point the controller has",
        Cause::BlowdownLow => "see whether the valve opens and the controller asks it to",
        Cause::MakeupMeterStill => "look at the register while the float valve is open",
        Cause::MakeupQuality => "read the makeup's conductivity",
        Cause::MoreMakeup => {
            "lock the bleed with fans and load off for an hour: what the makeup still lets in is a loss"
        }
        Cause::Unclear => {
            "read both registers and both conductivities again, with another instrument"
        }
    }
}

/// What settles a cause, all of it.
fn second_check(cause: Cause) -> &'static str {
    match cause {
        Cause::Loss => {
            "fill a bucket from the blowdown, or compare its meter with valve hours; then lock the bleed with \
             fans and load off: what the makeup still lets in is the loss"
        }
        Cause::Inflow => {
            "fill a bucket from the blowdown; look for pipes that join two basins, and at exchangers"
        }
        Cause::Conductivity => {
            "clean the probe and check it against a handheld; measure the makeup"
        }
        Cause::BlowdownLow => {
            "see whether the valve opens and the controller asks it to; scale and corrosion are judged by the \
             higher cycles"
        }
        other => first_check(other),
    }
}
