//! The tower's own analysis: what a person acts on, the whole comparison, and the json.

use super::{Of, cycles, us_per_cm};
use crate::blowdown::own_test::assay::ANALYTIC_BASIS;
use crate::blowdown::own_test::{
    Fate, Line, Loss, Meaning, Of as Compared, RealCycles, Reason, Standing, Tracer, Witness,
};
use crate::chemistry::Constituent;
use crate::model::{BlowdownSheet, OwnTest};
use crate::quantity::{UnitSystem, significant, unit, with_decimals};
use crate::report::page::{Block, Column, Table, Words, constant, number, words};
use crate::report::shown::whole_percent;
use serde::Serialize;

/// Losses that the answer names.
const NAMED: usize = 3;
/// Computed and own set points that differ by less than this part are the same.
const SAME_SET_POINT: f64 = 0.05;

impl Of<'_> {
    fn tested(&self) -> Option<Tested<'_>> {
        let (real, own) = self.sheet.real.as_ref().zip(self.sheet.own_test.as_ref())?;
        Some(Tested { real, own, units: self.units })
    }

    pub(super) fn own_test(&self) -> Option<Words> {
        self.tested().map(|tested| tested.in_brief("The tower's own test: "))
    }

    pub(super) fn another_water(&self) -> Option<Words> {
        self.tested()?.another_water()
    }

    pub(super) fn own_test_in_full(&self) -> Vec<Block> {
        self.tested().map(|tested| tested.in_full()).unwrap_or_default()
    }

    pub(super) fn set_point_of_own_test(&self, computed: f64) -> Option<Block> {
        self.tested()?.set_point(computed)
    }
}

/// A test of the tower with what it says.
#[derive(Clone, Copy)]
pub(in crate::report) struct Tested<'a> {
    /// Its cycles.
    pub real: &'a RealCycles,
    /// Held against the makeup.
    pub own: &'a OwnTest,
    /// Units of the page.
    pub units: UnitSystem,
}

impl Tested<'_> {
    /// What the analysis of the circulating water says, in a few lines.
    pub(in crate::report) fn in_brief(&self, lead: &str) -> Words {
        let Self { real, own, .. } = *self;
        let lost = self.lost_in_brief(own);
        let is_odd = real.witnesses.iter().any(|witness| witness.odd.is_some());
        let fits =
            lost.is_empty() && own.comparison.acid.is_none() && real.tells_losses() && !is_odd;
        let deposit = calcite_kg_per_day(own).map(|kilograms| {
            let mass = number("own_test.calcite_kg_per_day", self.daily_mass(kilograms));
            words![", some ", mass, " a day of calcite that must lie somewhere"]
        });
        words![
            lead,
            real_cycles(real),
            ", ",
            standing_in_brief(real),
            ".",
            (!lost.is_empty()).then(|| words![" ", Words::joined(lost, ", "), deposit, "."]),
            fits.then_some(" What was measured is what the makeup makes."),
            self.apart(own).map(|words| words![" ", words])
        ]
    }

    /// What makes the whole answer one of another water.
    pub(in crate::report) fn another_water(&self) -> Option<Words> {
        let acid = self.own.comparison.acid?;
        Some(words![
            "First: acid is fed to this tower, by its own analysis, and the file does not say so. State [ph] \
             held = ",
            number("own_test.acid_holds_ph", with_decimals(acid.ph, 1)),
            " and run this again; what follows is of a water without acid."
        ])
    }

    /// What is lost, and what is gained.
    fn lost_in_brief(&self, own: &OwnTest) -> Vec<Words> {
        // Acid is told by its warning, with what it took.
        let told = |loss: &&Loss| loss.fate != Some(Fate::Acid);
        own.comparison
            .losses
            .iter()
            .filter(told)
            .take(NAMED)
            .map(|loss| {
                let part = number("own_test.losses.part", whole_percent(loss.part.abs()));
                let name = loss.constituent.name();
                match loss.part > 0.0 {
                    true => words![part, " of ", name, " lost"],
                    false => words![part, " more ", name],
                }
            })
            .collect()
    }

    /// The calcite that lies somewhere.
    fn deposit(&self, own: &OwnTest) -> Option<Words> {
        let kilograms = calcite_kg_per_day(own)?;
        Some(words![
            "Some ",
            number("own_test.calcite_kg_per_day", self.daily_mass(kilograms)),
            " a day of calcite must lie somewhere: look at the hottest surfaces and the fill."
        ])
    }

    /// Samples that may not belong together, where something hangs on it.
    fn apart(&self, own: &OwnTest) -> Option<Words> {
        let sampling = own.sampling.filter(|sampling| sampling.is_apart())?;
        let is_odd = self.real.witnesses.iter().any(|witness| witness.odd.is_some());
        let explains = !own.comparison.losses.is_empty() || own.stated_cycles.is_some() || is_odd;
        explains.then(|| {
            let days = sampling.days.abs();
            let days = number("own_test.sampling.days", days.to_string());
            let when = if sampling.days < 0 { " days after" } else { " days before" };
            words![
                "Or the makeup changed: it was sampled ",
                days,
                when,
                " the tower",
                sampling.remembered.map(|remembered| words![
                    ", which remembers ",
                    number("own_test.sampling.remembered_days", significant(remembered, 2)),
                    " days"
                ]),
                "."
            ]
        })
    }

    fn daily_mass(&self, kilograms: f64) -> String {
        match self.units {
            UnitSystem::Si => format!("{} kg", significant(kilograms, 2)),
            UnitSystem::UsCustomary => {
                let pounds = unit::POUND_PER_DAY.of_si(unit::KILOGRAM_PER_DAY.to_si(kilograms));
                format!("{} lb", significant(pounds, 2))
            }
        }
    }

    /// The whole comparison.
    pub(in crate::report) fn in_full(&self) -> Vec<Block> {
        let Self { real, own, .. } = *self;
        let mut blocks = vec![
            Block::heading("THE TOWER'S OWN TEST"),
            Block::paragraph(words!["Real cycles: ", real_cycles(real), ", ", standing(real), "."]),
            Block::Table(witness_table(real)),
        ];
        blocks.extend(self.of_cycles(real).into_iter().map(Block::paragraph));
        blocks.push(Block::Gap);
        blocks.push(Block::paragraph(words![
            "Against what the makeup makes at ",
            number("own_test.cycles", cycles(real.cycles)),
            " cycles, the most weighty difference first"
        ]));
        blocks.push(Block::Table(line_table(own)));
        blocks.extend(self.of_losses(own).into_iter().map(Block::paragraph));
        blocks
    }

    fn of_cycles(&self, real: &RealCycles) -> Vec<Words> {
        let fed = (real.chloride_fed > 0.0).then(|| {
            words![
                "The oxidant that is fed leaves ",
                number("own_test.chloride_fed_mg_per_l", significant(real.chloride_fed, 3)),
                " mg/L of chloride, and as many moles of sodium: taken off before."
            ]
        });
        let apparent = real.apparent.map(|apparent| {
            words![
                "The plain ratio of the conductivities is ",
                number("own_test.apparent_cycles", cycles(apparent)),
                "; above, conductivity stands for the cycles at which the solved water conducts as much."
            ]
        });
        let basis = words![
            "±: ",
            constant("k = 2"),
            ", from the ± of each number in both analyses; ",
            constant(ANALYTIC_BASIS),
            ". A tracer further than ",
            constant("3"),
            " standard uncertainties from the others is odd and does not count."
        ];
        [fed, apparent, Some(basis)].into_iter().flatten().collect()
    }

    fn of_losses(&self, own: &OwnTest) -> Vec<Words> {
        let mut all = Vec::new();
        let daily = |loss: &Loss| own.liquid_m3_per_day.map(|liquid| liquid * loss.kg_per_m3());
        for loss in &own.comparison.losses {
            let part = number("own_test.losses.part", whole_percent(loss.part.abs()));
            let error = number("own_test.losses.part_standard", whole_percent(2.0 * loss.standard));
            let name = loss.constituent.name();
            let basis = constant(loss.basis().formula());
            let mass = daily(loss).map(|kilograms| {
                let mass = self.daily_mass(kilograms.abs());
                let mass = number("own_test.losses.kg_per_day", mass);
                words![", ", mass, " a day as ", basis]
            });
            all.push(match loss.fate {
                Some(fate) => words![
                    name,
                    ": ",
                    part,
                    " (± ",
                    error,
                    ") of what the makeup brings is lost on the way",
                    mass,
                    ": ",
                    told(fate),
                    "."
                ],
                None => words![
                    name,
                    ": ",
                    part,
                    " (± ",
                    error,
                    ") more than the makeup brings",
                    mass,
                    ": ",
                    gained(loss.constituent),
                    "."
                ],
            });
        }
        all.extend(self.deposit(own).map(|words| {
            words![
                words,
                " (Calcite takes a mole of calcium to two equivalents of alkalinity: as much of both, \
                 counted as CaCO3; the smaller loss is taken.)"
            ]
        }));
        if !own.comparison.losses.is_empty() {
            all.push(
                "Masses are of a day at the mean load, for a tower that has long run at these cycles."
                    .into(),
            );
            all.push(match own.sampling {
                None => "State when both samples were taken (sampled = ...): a makeup that changed would \
                         look the same."
                    .into(),
                Some(sampling) if !sampling.is_apart() => {
                    "Both samples belong together: the makeup's lies within what the tower remembers."
                        .into()
                }
                Some(_) => self.apart(own).unwrap_or_default(),
            });
        }
        all
    }

    /// The set point that follows from the tower's own conductivity, beside the computed one.
    fn set_point(&self, computed: f64) -> Option<Block> {
        let Self { real, own, .. } = *self;
        let set_point = own.set_point?;
        let off = set_point / computed - 1.0;
        let says = match off.abs() < SAME_SET_POINT {
            true => "both agree.".into(),
            false => words![
                number("own_test.set_point_off", whole_percent(off.abs())),
                if off > 0.0 { " above" } else { " below" },
                " the computed one: what deposits or is fed moves the conductivity, or a meter is off. Keep \
                 the lower, and titrate."
            ],
        };
        Some(Block::paragraph(words![
            "By the tower's own conductivity at ",
            number("own_test.cycles", cycles(real.cycles)),
            " cycles the set point is ",
            number("own_test.set_point_us_per_cm", us_per_cm(set_point)),
            ": ",
            says
        ]))
    }
}

fn calcite_kg_per_day(own: &OwnTest) -> Option<f64> {
    let moles = own.comparison.calcite;
    let kg_per_m3 = 1e-3 * Constituent::Hardness.milligram_per_litre(moles);
    own.liquid_m3_per_day.map(|liquid| liquid * kg_per_m3).filter(|mass| *mass > 0.0)
}

fn real_cycles(real: &RealCycles) -> Words {
    let error = cycles(2.0 * real.standard);
    words![
        number("own_test.cycles", cycles(real.cycles)),
        " ± ",
        number("own_test.cycles_standard_uncertainty", error),
        " cycles"
    ]
}

/// [`standing`] without the names of tracers that agree, where they are many.
fn standing_in_brief(real: &RealCycles) -> Words {
    if real.standing != Standing::Consensus {
        return standing(real);
    }
    let count = number("own_test.witnesses", real.agreeing().count().to_string());
    let all: Vec<&Witness> = real.witnesses.iter().filter(|w| w.odd.is_some()).collect();
    let odd = match all.as_slice() {
        [] => None,
        [only] => odd(only).map(|odd| words!["; ", odd]),
        several => {
            let names: Vec<&str> = several.iter().map(|witness| witness.tracer.name()).collect();
            Some(words!["; ", names.join(", "), " do not"])
        }
    };
    words![count, " tracers agree", odd]
}

/// Which tracers stand behind the cycles.
fn standing(real: &RealCycles) -> Words {
    let names: Vec<&str> = real.agreeing().map(|witness| witness.tracer.name()).collect();
    let names = names.join(", ");
    let odd: Vec<Words> = real.witnesses.iter().filter_map(odd).collect();
    let odd = (!odd.is_empty()).then(|| words!["; ", Words::joined(odd, "; ")]);
    match real.standing {
        Standing::Consensus => words![names, " agree", odd],
        Standing::Two => {
            words![names.replace(", ", " and "), " agree, a third would make it sure", odd]
        }
        Standing::Alone => words!["by ", names, " alone, which nothing checks", odd],
        Standing::Contradictory => words![names, " contradict each other"],
    }
}

/// A tracer that does not agree, with its likely reason.
fn odd(witness: &Witness) -> Option<Words> {
    let odd = witness.odd?;
    let value = |key, value: f64| match witness.tracer {
        Tracer::Ion(_) => number(key, significant(value, 3)),
        Tracer::Conductivity => number(key, us_per_cm(value)),
    };
    Some(words![
        witness.tracer.name(),
        " ",
        value("own_test.witnesses.circulating", witness.circulating),
        " is odd, ",
        value("own_test.witnesses.would_fit", odd.would_fit),
        " would fit: ",
        reason(witness.tracer, odd.reason)
    ])
}

fn reason(tracer: Tracer, reason: Reason) -> Words {
    let constituent = match tracer {
        Tracer::Ion(constituent) => Some(constituent),
        Tracer::Conductivity => None,
    };
    match (reason, constituent) {
        (Reason::DecimalSlip, _) => "likely a decimal slip".into(),
        (Reason::Basis(basis), _) => words!["likely once counted as ", constant(basis)],
        (Reason::Added, Some(constituent)) => gained(constituent).into(),
        (Reason::Added, None) => "salts are fed, or a meter is off".into(),
        (Reason::Missing, Some(Constituent::Magnesium | Constituent::Silica)) => {
            "deposited as silicate, or a wrong value".into()
        }
        (Reason::Missing, None) => "salts are deposited, or the probe is fouled".into(),
        (Reason::Missing, _) => "a wrong value".into(),
    }
}

/// What becomes of a loss.
fn told(fate: Fate) -> &'static str {
    match fate {
        Fate::Calcite => "deposited as calcite",
        Fate::OtherCalcium => "deposited without alkalinity (gypsum, phosphate), or a wrong value",
        Fate::Acid => "taken by acid",
        Fate::OtherAlkalinity => "taken by acid or nitrifying bacteria, or a wrong value",
        Fate::MagnesiumSilicate => "deposited as magnesium silicate",
        Fate::Silica => "deposited as silica or a silicate, or a wrong value",
        Fate::Magnesium => "deposited as hydroxide or silicate, or a wrong value",
        Fate::Phosphate => "deposited as calcium or iron phosphate",
        Fate::Other => "lost on the way, or a wrong value",
    }
}

/// Where more comes from than the makeup brings.
fn gained(constituent: Constituent) -> &'static str {
    match constituent {
        Constituent::Calcium | Constituent::Hardness => {
            "lime, dust, concrete or a dissolving scale"
        }
        Constituent::Magnesium => "dust, concrete or a dissolving scale",
        Constituent::Alkalinity => "caustic, lime or a treatment",
        Constituent::Silica => "dust, or a silicate treatment",
        Constituent::Phosphate => "the treatment",
        Constituent::Sulfate => "sulfuric acid, or a product that holds sulfate",
        Constituent::Chloride => "an oxidant or acid that the file does not state, or salt",
        Constituent::Sodium => {
            "caustic, hypochlorite or a product that the file does not state, or a softener"
        }
        Constituent::Potassium => "a product that holds potassium",
        Constituent::Iron => "corrosion, or dust",
        Constituent::Ammonia => "a leak from the process, or fertiliser dust",
        Constituent::Nitrate => "nitrifying bacteria, or a product that holds nitrate",
        _ => "the treatment, or dust",
    }
}

fn witness_table(real: &RealCycles) -> Table {
    let numbers = [11, 11, 9, 7].map(Column::right);
    let (name, last) = (Column::left(24), Column::left(0).after(2));
    let columns = [name].into_iter().chain(numbers).chain([last]);
    let mut table = Table::new(columns.collect::<Vec<_>>());
    table.head(["", "makeup", "tower", "cycles", "±", ""]);
    for witness in &real.witnesses {
        let (name, factor) = match witness.tracer {
            Tracer::Ion(constituent) => (
                words![constituent.name(), ", mg/L as ", constant(constituent.basis().formula())],
                1.0,
            ),
            Tracer::Conductivity => ("conductivity, uS/cm".into(), 1e4),
        };
        let value = |key, value: f64| Words::from(number(key, significant(factor * value, 3)));
        let error = cycles(2.0 * witness.cycles * witness.relative);
        table.row([
            name,
            value("own_test.witnesses.makeup", witness.makeup),
            value("own_test.witnesses.circulating", witness.circulating),
            number("own_test.witnesses.cycles", cycles(witness.cycles)).into(),
            number("own_test.witnesses.cycles_standard_uncertainty", error).into(),
            match witness.odd {
                Some(odd) => words!["odd: ", reason(witness.tracer, odd.reason)],
                None => Words::default(),
            },
        ]);
    }
    table
}

/// How a number is shown.
type Shown = fn(f64) -> String;

fn line_table(own: &OwnTest) -> Table {
    let numbers = [11, 11, 12, 8].map(Column::right);
    let (name, last) = (Column::left(24), Column::left(0).after(2));
    let columns = [name].into_iter().chain(numbers).chain([last]);
    let mut table = Table::new(columns.collect::<Vec<_>>());
    table.head(["", "measured", "predicted", "difference", "±", ""]);
    for line in &own.comparison.lines {
        let (name, value, difference): (Words, Shown, Shown) = match line.of {
            Compared::Ph => {
                ("pH".into(), |value| with_decimals(value, 2), |by| with_decimals(by, 2))
            }
            Compared::Conductivity => {
                ("conductivity, uS/cm".into(), |value| significant(1e4 * value, 3), whole_percent)
            }
            Compared::Constituent(constituent) => (
                words![constituent.name(), ", mg/L as ", constant(constituent.basis().formula())],
                |value| significant(value, 3),
                whole_percent,
            ),
        };
        let size = difference(line.difference.abs());
        let is_none = !size.contains(|digit| matches!(digit, '1'..='9'));
        let sign = if line.difference < 0.0 { "-" } else { "+" };
        let signed = if is_none { size } else { format!("{sign}{size}") };
        table.row([
            name,
            number("own_test.lines.measured", value(line.measured)).into(),
            number("own_test.lines.predicted", value(line.predicted)).into(),
            number("own_test.lines.difference", signed).into(),
            number(
                "own_test.lines.difference_standard_uncertainty",
                difference(2.0 * line.standard),
            )
            .into(),
            meaning(line),
        ]);
    }
    table
}

fn meaning(line: &Line) -> Words {
    let constituent = match line.of {
        Compared::Constituent(constituent) => Some(constituent),
        _ => None,
    };
    match (line.meaning, line.of) {
        (Meaning::Fits, _) => "as it should be".into(),
        (Meaning::Odd(why), Compared::Conductivity) => reason(Tracer::Conductivity, why),
        (Meaning::Odd(why), _) => {
            constituent.map(|ion| reason(Tracer::Ion(ion), why)).unwrap_or_default()
        }
        (Meaning::Lost(Fate::Acid), Compared::Ph) => "acid is fed".into(),
        (Meaning::Lost(_), Compared::Ph) => "more carbon dioxide than the line has, or acid".into(),
        (Meaning::Gained, Compared::Ph) => "less carbon dioxide than the line has".into(),
        (Meaning::Lost(_), Compared::Conductivity) => {
            "salts are deposited, or the probe is off".into()
        }
        (Meaning::Gained, Compared::Conductivity) => "salts are fed, or the probe is off".into(),
        (Meaning::Lost(fate), _) => told(fate).into(),
        (Meaning::Gained, _) => constituent.map(gained).unwrap_or_default().into(),
    }
}

/// The tower's own analysis for programs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct OwnTestOut {
    /// Real cycles of concentration.
    pub cycles: f64,
    /// Of the cycles.
    pub cycles_standard_uncertainty: f64,
    /// `consensus`, `two`, `alone` or `contradictory`.
    pub standing: &'static str,
    /// Cycles of the site file, where the real ones differ and are taken for today's.
    pub stated_cycles: Option<f64>,
    /// Plain ratio of the conductivities.
    pub apparent_cycles: Option<f64>,
    /// Chloride of the fed oxidant, taken off before, mg/L.
    pub chloride_fed_mg_per_l: f64,
    /// What each tracer says.
    pub witnesses: Vec<WitnessOut>,
    /// Each number of the tower as measured and as predicted, the most weighty difference first.
    pub lines: Vec<LineOut>,
    /// What is lost on the way, or gained.
    pub losses: Vec<LossOut>,
    /// Calcite that must lie somewhere, kg in a day at the mean load.
    pub calcite_kg_per_day: Option<f64>,
    /// The pH that acid seems to hold, where nobody states acid.
    pub acid_holds_ph: Option<f64>,
    /// When the samples were taken.
    pub sampling: Option<SamplingOut>,
    /// Set point for the target by the tower's own conductivity, uS/cm.
    pub set_point_us_per_cm: Option<f64>,
    /// How far it lies above the computed one, as a part of it.
    pub set_point_off: Option<f64>,
}

/// What one tracer says of the cycles.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct WitnessOut {
    /// Which.
    pub key: &'static str,
    /// mg/L in the basis of its limits; of conductivity uS/cm.
    pub makeup: f64,
    /// Ibid.
    pub circulating: f64,
    /// Its cycles.
    pub cycles: f64,
    /// Of its cycles.
    pub cycles_standard_uncertainty: f64,
    /// Whether it agrees with the others.
    pub agrees: bool,
    /// What the circulating water would hold if it did.
    pub would_fit: Option<f64>,
    /// `decimal_slip`, `basis`, `added` or `missing`.
    pub reason: Option<&'static str>,
}

/// A number as measured and as predicted.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LineOut {
    /// Of what.
    pub key: &'static str,
    /// mg/L in the basis of its limits; of conductivity uS/cm.
    pub measured: f64,
    /// Ibid.
    pub predicted: f64,
    /// As a part of the predicted one; of pH the plain difference.
    pub difference: f64,
    /// Of the difference.
    pub difference_standard_uncertainty: f64,
    /// `fits`, `odd`, `lost` or `gained`.
    pub meaning: &'static str,
}

/// What is lost on the way.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LossOut {
    /// Of what.
    pub key: &'static str,
    /// Part of what the makeup brings; below zero where more is found.
    pub part: f64,
    /// Standard uncertainty of the part.
    pub part_standard: f64,
    /// As what the mass is counted.
    pub basis: &'static str,
    /// In a day at the mean load.
    pub kg_per_day: Option<f64>,
    /// What becomes of it.
    pub fate: Option<&'static str>,
}

/// When the samples were taken.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SamplingOut {
    /// Days from the makeup's sample to the tower's.
    pub days: i64,
    /// Days that the tower remembers its makeup: two half-lives of its water.
    pub remembered_days: Option<f64>,
    /// Whether the makeup may have changed in between.
    pub is_apart: bool,
}

/// For programs.
pub(super) fn own_test_out(sheet: &BlowdownSheet) -> Option<OwnTestOut> {
    let (real, own) = sheet.real.as_ref().zip(sheet.own_test.as_ref())?;
    let computed = sheet.set_point.as_ref().map(|set_point| set_point.conductivity);
    Some(OwnTestOut::new(real, own, computed))
}

impl OwnTestOut {
    /// With the computed set point, S/m, that the own one is held against.
    pub(in crate::report) fn new(real: &RealCycles, own: &OwnTest, computed: Option<f64>) -> Self {
        Self {
            cycles: real.cycles,
            cycles_standard_uncertainty: real.standard,
            standing: match real.standing {
                Standing::Consensus => "consensus",
                Standing::Two => "two",
                Standing::Alone => "alone",
                Standing::Contradictory => "contradictory",
            },
            stated_cycles: own.stated_cycles.filter(|cycles| cycles.is_finite()),
            apparent_cycles: real.apparent,
            chloride_fed_mg_per_l: real.chloride_fed,
            witnesses: real.witnesses.iter().map(witness_out).collect(),
            lines: own.comparison.lines.iter().map(line_out).collect(),
            losses: own.comparison.losses.iter().map(|loss| loss_out(loss, own)).collect(),
            calcite_kg_per_day: calcite_kg_per_day(own),
            acid_holds_ph: own.comparison.acid.map(|acid| acid.ph),
            sampling: own.sampling.map(|sampling| SamplingOut {
                days: sampling.days,
                remembered_days: sampling.remembered,
                is_apart: sampling.is_apart(),
            }),
            set_point_us_per_cm: own.set_point.map(|siemens| 1e4 * siemens),
            set_point_off: own.set_point.zip(computed).map(|(own, computed)| own / computed - 1.0),
        }
    }
}

fn witness_out(witness: &Witness) -> WitnessOut {
    let factor = if witness.tracer == Tracer::Conductivity { 1e4 } else { 1.0 };
    WitnessOut {
        key: witness.tracer.key(),
        makeup: factor * witness.makeup,
        circulating: factor * witness.circulating,
        cycles: witness.cycles,
        cycles_standard_uncertainty: witness.cycles * witness.relative,
        agrees: witness.odd.is_none(),
        would_fit: witness.odd.map(|odd| factor * odd.would_fit),
        reason: witness.odd.map(|odd| match odd.reason {
            Reason::DecimalSlip => "decimal_slip",
            Reason::Basis(_) => "basis",
            Reason::Added => "added",
            Reason::Missing => "missing",
        }),
    }
}

fn line_out(line: &Line) -> LineOut {
    let (key, factor) = match line.of {
        Compared::Ph => ("ph", 1.0),
        Compared::Conductivity => ("conductivity", 1e4),
        Compared::Constituent(constituent) => (constituent.key(), 1.0),
    };
    LineOut {
        key,
        measured: factor * line.measured,
        predicted: factor * line.predicted,
        difference: line.difference,
        difference_standard_uncertainty: line.standard,
        meaning: match line.meaning {
            Meaning::Fits => "fits",
            Meaning::Odd(_) => "odd",
            Meaning::Lost(_) => "lost",
            Meaning::Gained => "gained",
        },
    }
}

fn loss_out(loss: &Loss, own: &OwnTest) -> LossOut {
    LossOut {
        key: loss.constituent.key(),
        part: loss.part,
        part_standard: loss.standard,
        basis: loss.basis().formula(),
        kg_per_day: own.liquid_m3_per_day.map(|liquid| liquid * loss.kg_per_m3()),
        fate: loss.fate.map(|fate| match fate {
            Fate::Calcite => "calcite",
            Fate::OtherCalcium => "other_calcium",
            Fate::Acid => "acid",
            Fate::OtherAlkalinity => "other_alkalinity",
            Fate::MagnesiumSilicate => "magnesium_silicate",
            Fate::Silica => "silica",
            Fate::Magnesium => "magnesium",
            Fate::Phosphate => "phosphate",
            Fate::Other => "other",
        }),
    }
}
