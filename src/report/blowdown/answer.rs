//! What a person acts on: the cycles and the set point, how sure they are, the limit that controls, what the
//! tower's own test says, what the target saves.

use super::limits::{condition, standing};
use super::{CAUTION, Of, assumed, cycles, given, name};
use crate::blowdown::PhBasis;
use crate::blowdown::limit::{Bound, Measure, Standing};
use crate::blowdown::target::{Allows, Binding, MOST_CYCLES, remedy};
use crate::model::{Band, MARGIN, PhOrigin, Stop, USUAL_CYCLES};
use crate::quantity::significant;
use crate::report::page::{Block, Words, constant, number, words};
use crate::report::{shown, uncertain, warnings};
use crate::site::description::Material;

/// Limits that the answer shows.
const TIGHTEST: usize = 5;
/// So many are shown wherever they bind.
const FEWEST: usize = 2;
/// The others only where they bind within these cycles: no tower is run so hard.
const FARTHEST: f64 = 1.5 * USUAL_CYCLES;
/// Cycles that differ by less than this part are the same on a controller.
const SAME: f64 = 0.005;

impl Of<'_> {
    pub(super) fn answer(&self) -> Vec<Block> {
        let advice = match self.sheet.target_cycles {
            Some(target) => self.advice(target),
            None => self.no_target(),
        };
        let after: Vec<Words> = [
            self.langelier_in_brief(),
            self.own_test(),
            self.valve_times(),
            self.money(),
            self.assumed_in_brief(),
        ]
        .into_iter()
        .flatten()
        .collect();
        let gap = (!after.is_empty()).then_some(Block::Gap);
        [
            vec![Block::heading("ANSWER")],
            self.another_water().into_iter().map(Block::paragraph).collect(),
            advice.into_iter().map(Block::paragraph).collect(),
            self.tightest(),
            gap.into_iter().chain(after.into_iter().map(Block::paragraph)).collect(),
            warnings::blocks(&self.sheet.warnings),
            given::dates(self.beside.given).map(Block::paragraph).into_iter().collect(),
            vec![Block::Caution(CAUTION.into())],
        ]
        .concat()
    }

    fn advice(&self, target: f64) -> Vec<Words> {
        let present = self.sheet.present_cycles;
        let is_above = present > (1.0 + SAME) * target && present.is_finite();
        let above =
            is_above.then(|| words![" Today's ", self.today(), " cycles are more than that."]);
        vec![
            words![self.lead(target), self.control(), above],
            self.how_sure_in_brief(target),
            self.controlling(),
        ]
    }

    fn lead(&self, target: f64) -> Words {
        let best = number("best_estimate_cycles", cycles(self.sheet.best_estimate));
        let is_below = cycles(self.sheet.best_estimate) != cycles(target);
        words![
            "Hold ",
            number("target_cycles", cycles(target)),
            " cycles of concentration",
            is_below.then(|| words![" (best estimate ", best, ")"]),
            ".",
            self.after_ph_reading()
        ]
    }

    /// What a pH reading would perhaps leave.
    fn after_ph_reading(&self) -> Option<Words> {
        let perhaps = self.sheet.after_ph_reading?;
        Some(words![
            " After a pH reading in the tower, perhaps ",
            number("after_ph_reading_cycles", cycles(perhaps)),
            "."
        ])
    }

    /// The ± of the allowed cycles, the margin for it, and what the carbon dioxide leaves open.
    fn how_sure_in_brief(&self, target: f64) -> Words {
        let sheet = self.sheet;
        let results = &sheet.uncertain.results;
        let with_uncertainty = |key| {
            let result = uncertain::notable(results, key)?;
            let shown = number("uncertain.value", uncertain::shown(result, "", self.units));
            Some((shown, result.rests_on_defaults))
        };
        let blowdown =
            with_uncertainty("blowdown_at_target_m3_per_h").map(|(blowdown, assumed)| {
                words![
                    " Blowdown at ",
                    number("target_cycles", cycles(target)),
                    " cycles: ",
                    blowdown,
                    assumed.then_some(" (± assumed)"),
                    "."
                ]
            });
        let cycles = match with_uncertainty("allowed_cycles") {
            Some((allowed, assumed)) => words![
                allowed,
                " cycles are allowed (",
                constant("95 %"),
                assumed.then_some(", ± assumed"),
                "). ",
                self.margin(),
                (!sheet.uncertain.others_lead.is_empty())
                    .then_some(" Another limit takes over within that, so that the ± is coarse.")
            ],
            None if sheet.stop == Stop::Usual => "a rule of practice has no ±.".into(),
            None if sheet.stop == Stop::LeastSaving => "money stops it, not the water.".into(),
            None => "no ± moves these cycles; the target is only rounded down.".into(),
        };
        let band = sheet.band.map(|band| words![" ", self.band(&band)]);
        words!["How sure: ", cycles, blowdown, band]
    }

    /// What the target keeps below the best estimate, and where it would lie with every ± counted.
    fn margin(&self) -> Words {
        let sheet = self.sheet;
        let kept = match sheet.margin {
            Some(margin) => words![
                "The target keeps ",
                number("margin_cycles", cycles(margin)),
                " below it for the ± stated (",
                constant(format!("{MARGIN} standard uncertainties")),
                ")"
            ],
            None => "No stated ± lowers the target".into(),
        };
        let nine_of_ten = constant("9 of 10");
        let sure = match sheet.sure_cycles {
            None => words![", so that the limit holds in ", nine_of_ten, " cases."],
            Some(sure) if sure > 1.0 => words![
                "; the ordinary ± would, to ",
                number("sure_cycles", cycles(sure)),
                " for ",
                nine_of_ten,
                " cases."
            ],
            Some(_) => words!["; with the ordinary ± none would hold in ", nine_of_ten, " cases."],
        };
        words![kept, sure]
    }

    /// What the carbon dioxide leaves open, and what would narrow it.
    fn band(&self, band: &Band) -> Words {
        let [fewest, most] = band.cycles();
        let of = |allowed| match allowed > 1.0 {
            true => words![number("band.allowed_cycles", cycles(allowed))],
            false => "none".into(),
        };
        let span = match cycles(fewest) == cycles(most) {
            true => of(most),
            false => words![of(fewest), " to ", of(most)],
        };
        if band.sets_target && cycles(fewest) == cycles(most) {
            return words![
                "The tower's pH is only assumed, which changes nothing here: over the whole band of \
                 carbon dioxide ",
                span,
                " cycles are allowed."
            ];
        }
        if band.sets_target {
            let between = match (band.ends[0].toward_air, band.ends[2].toward_air) {
                (-1.0, 1.0) => {
                    "from equilibrium with air to the most carbon dioxide of field lines "
                }
                _ => "within the ± of ph.toward_air ",
            };
            return words![
                "The tower's pH is only assumed: ",
                between,
                span,
                " cycles are allowed; this is for the fewest, and measuring the pH narrows it."
            ];
        }
        let acid = band.ends.map(|end| end.acid);
        let acid = if let [Some(least), Some(middle), Some(most)] = acid {
            let of = |acid: f64| number("band.acid_meq_per_l_makeup", significant(1e3 * acid, 3));
            words!["acid ", of(middle), " meq/L of makeup (", of(least), " to ", of(most), "), "]
        } else {
            Words::default()
        };
        words![
            "The alkalinity that the acid leaves is only assumed: ",
            acid,
            span,
            " cycles; state what is measured of it at the held pH."
        ]
    }

    fn controlling(&self) -> Words {
        let sheet = self.sheet;
        let most = || constant(format!("{MOST_CYCLES} cycles"));
        let first = |words: &'static str| {
            sheet.controlling().map(|binding| {
                words![words, clause(binding, condition(self.sheet, &binding.limit)), "."]
            })
        };
        match (sheet.stop, sheet.controlling()) {
            (Stop::Limit, Some(binding)) => words![
                "Controlling: ",
                clause(binding, condition(self.sheet, &binding.limit)),
                ". What moves it: ",
                remedy(&binding.limit),
                ".",
                match sheet.next() {
                    Some(next) => words![" Next: ", clause(next, Words::default()), "."],
                    None => words![" Nothing else binds up to ", most(), "."],
                }
            ],
            (Stop::Losses, _) => words![
                "Controlling: drift, leakage and overflow, which alone hold ",
                number("losses_allow_cycles", cycles(sheet.losses_allow)),
                " cycles with the blowdown shut: mend them first."
            ],
            (Stop::HalfLife, _) => words![
                "Controlling: the longest half-life of ",
                sheet.longest_half_life_hours.map(|hours| {
                    number("longest_half_life_h", format!("{} h", significant(hours, 3)))
                }),
                " that the file states.",
                first(" The first limit of the water: ")
            ],
            (Stop::LeastSaving, _) => words![
                "Controlling: money. From ",
                number("best_estimate_cycles", cycles(sheet.best_estimate)),
                " cycles one more saves less than ",
                sheet
                    .least_saving
                    .map(|least| { number("least_saving_per_year", significant(least, 3)) }),
                " a year, the least that the file states.",
                first(" The first limit of the water: ")
            ],
            (Stop::Usual, _) => words![
                "Controlling: no limit of the water. Where no limit on cycles is stated the target stops at ",
                constant(USUAL_CYCLES.to_string()),
                " (common practice; LEED v4 caps there too): errors of the analysis grow with the cycles, \
                 water stays long, and little more is saved.",
                first(" The first limit of the water: ")
            ],
            _ => words![
                "No limit that the analysis covers binds up to ",
                most(),
                ", and no tower is run harder."
            ],
        }
    }

    /// Why there is nothing to aim at.
    fn no_target(&self) -> Vec<Words> {
        let sheet = self.sheet;
        let exceeded = |binding: &&Binding| binding.allows == Allows::Nothing;
        let Some(binding) = sheet.controlling().filter(exceeded) else {
            return vec![
                "Drift, leakage and overflow alone are more than any blowdown: mend them first."
                    .into(),
            ];
        };
        let measure = binding.limit.measure;
        let value = |key, value| number(key, measure.shown_with_unit(value));
        // New zinc is no matter of cycles alone: the weeks pass, and other limits set cycles meanwhile.
        const NONE: &str = "The makeup cannot be concentrated within the limits";
        let (lead, after) = match binding.limit.standing {
            Standing::Material(Material::NewGalvanisedSteel) => (
                words!["No number of cycles by itself keeps new galvanised steel: "],
                "Meanwhile hold no more than the next limit allows: ",
            ),
            _ if sheet.after_ph_reading.is_some() => {
                (words![NONE, " unless the tower's pH is measured: "], "Next: ")
            }
            _ => (words![NONE, ": "], "Next: "),
        };
        let first = words![
            lead,
            name(measure),
            " is ",
            binding.at_one_cycle.map(|at_one| value("limits.at_one_cycle", at_one)),
            " already at ",
            constant("1 cycle"),
            " (",
            value("limits.value", binding.limit.value),
            " is allowed: ",
            standing(&binding.limit),
            condition(self.sheet, &binding.limit),
            "). What moves it: ",
            remedy(&binding.limit),
            "."
        ];
        let today = sheet.at_present(measure).map(|at_present| {
            words![
                " Today's ",
                self.today(),
                " cycles bring ",
                name(measure),
                " to ",
                value("limits.at_present", at_present),
                "."
            ]
        });
        let treatment = match measure {
            Measure::SaturationIndex(mineral) => Some(words![
                " Ask the supplier how much the treatment carries, and state it: \
                 [limits.saturation_index] ",
                mineral.key(),
                " = ..."
            ]),
            _ => None,
        };
        let mut words = vec![words![first, today, treatment]];
        words.extend(self.meanwhile(binding, after));
        words.extend(sheet.band.map(|band| words![self.band(&band), self.after_ph_reading()]));
        words
    }

    /// What to hold until a limit that allows nothing is mended, or what comes after it.
    fn meanwhile(&self, binding: &Binding, after: &'static str) -> Option<Words> {
        let next = self.sheet.next();
        let is_new_zinc =
            binding.limit.standing == Standing::Material(Material::NewGalvanisedSteel);
        // What the limit itself may allow once the pH is known goes before a looser one.
        let most = self.sheet.band.map(|band| band.cycles()[1]).filter(|most| *most > 1.0);
        let is_tighter = |most: &f64| {
            next.and_then(Binding::ceiling).is_none_or(|next| *most < next) && is_new_zinc
        };
        if let Some(most) = most.filter(is_tighter) {
            return Some(words![
                "Meanwhile measure the pH, and hold no more than ",
                number("band.allowed_cycles", cycles(most)),
                " cycles: even the most favourable pH allows no more."
            ]);
        }
        next.map(|next| words![after, clause(next, Words::default()), "."])
    }

    /// The tightest limits that were judged.
    fn tightest(&self) -> Vec<Block> {
        let judged = self.sheet.bindings.iter().filter(|binding| binding.allows != Allows::Unknown);
        let count = judged.clone().count();
        if count == 0 {
            return Vec::new();
        }
        // What never binds waits for the whole page, unless there is nothing else.
        let binds = |binding: &&Binding| binding.ceiling().is_some_and(|at| at <= FARTHEST);
        let near = judged.clone().filter(binds).count();
        let shown: Vec<&Binding> = judged.take(near.clamp(FEWEST, TIGHTEST)).collect();
        let is_index =
            |binding: &&Binding| matches!(binding.limit.measure, Measure::SaturationIndex(_));
        let index = shown
            .iter()
            .any(is_index)
            .then(|| words!["SI: supersaturation in powers of ten; treatment carries some."]);
        let more = (count > shown.len()).then(|| {
            let more = number("limits", (count - shown.len()).to_string());
            let before = if index.is_some() { " " } else { "" };
            words![before, "More limits: ", more, "."]
        });
        let note = (index.is_some() || more.is_some()).then(|| words![index, more]);
        [Block::Gap, Block::Table(self.limits_table(shown))]
            .into_iter()
            .chain(note.map(Block::paragraph))
            .collect()
    }

    /// What the target's cycles cost against today's, or take in water where nothing is priced.
    fn money(&self) -> Option<Words> {
        let sheet = self.sheet;
        let saving = sheet.saving.as_ref()?;
        if (sheet.present_cycles / sheet.target_cycles? - 1.0).abs() < SAME {
            return Some("Today's cycles are these.".into());
        }
        let saved = |saved: f64| if saved >= 0.0 { "less" } else { "more" };
        let makeup = words![
            number("saving.makeup_m3_per_year", self.volume(saving.makeup_m3.abs())),
            " a year ",
            saved(saving.makeup_m3),
            " makeup"
        ];
        let than = words![" than today's ", self.today(), " cycles"];
        let Some(cost) = saving.cost else {
            return Some(words!["These cycles take ", makeup, than, "."]);
        };
        let money = |key, amount: f64| number(key, significant(amount.abs(), 3));
        // Parts have the sign of the whole but where one goes the other way, which then is said.
        let parts = [
            ("water ", "saving.water_per_year", cost.water),
            ("sewer ", "saving.sewer_per_year", cost.sewer),
            ("energy ", "saving.energy_per_year", cost.energy),
            ("chemicals ", "saving.chemicals_per_year", cost.chemicals),
        ]
        .into_iter()
        .filter(|(.., part)| *part != 0.0)
        .map(|(name, key, part)| {
            let minus = if (part >= 0.0) == (cost.total() >= 0.0) { "" } else { "-" };
            words![name, minus, money(key, part)]
        });
        let missing = saving
            .chemicals_missing
            .as_ref()
            .map(|why| words![" Chemicals are not counted: ", Words::given(why), "."]);
        Some(words![
            "Today's ",
            self.today(),
            " cycles cost ",
            Words::given(&saving.currency),
            if saving.currency.is_empty() { "" } else { " " },
            money("saving.cost_per_year", cost.total()),
            " a year ",
            if cost.total() >= 0.0 { "more" } else { "less" },
            " than the target's (",
            Words::joined(parts, ", "),
            "), with ",
            number("saving.makeup_m3_per_year", self.volume(saving.makeup_m3.abs())),
            if saving.makeup_m3 >= 0.0 { " more" } else { " less" },
            " makeup.",
            missing
        ])
    }

    /// What nobody stated, without its basis.
    fn assumed_in_brief(&self) -> Option<Words> {
        let sheet = self.sheet;
        // Where the band of it stands above, it was said.
        let is_assumed =
            sheet.ph_origin == PhOrigin::FieldLine { assumed: true } && sheet.band.is_none();
        let ph = is_assumed.then(|| match sheet.tower.basis() {
            PhBasis::Free(_) => "the tower's pH, from field lines against alkalinity",
            PhBasis::Held { .. } => "the alkalinity at the held pH, from field lines",
        });
        let surface = sheet.surface_is_assumed.then(|| {
            let celsius = self.temperature(sheet.surface_celsius);
            words!["hottest surface ", number("surface_celsius", celsius)]
        });
        let slots = assumed(self.beside.slots).filter(|(value, _)| !value.path.starts_with("ph."));
        let slots = slots.map(|(value, _)| {
            let shown = shown::assumed_text(value, self.units);
            words![Words::given(&value.path), " ", number("assumptions.si", shown)]
        });
        let all: Vec<Words> = ph.map(Words::from).into_iter().chain(surface).chain(slots).collect();
        let assumed = words!["Assumed: ", Words::joined(all.clone(), ", "), "."];
        let assumed = (!all.is_empty()).then_some(assumed);
        let unstated = uncertain::unstated_line(&self.sheet.uncertain.results, self.units);
        let said: Vec<Words> = assumed.into_iter().chain(unstated).collect();
        (!said.is_empty()).then(|| Words::joined(said, " "))
    }
}

/// A limit, what it allows, on whose word and under which condition, and where it binds.
fn clause(binding: &Binding, condition: Words) -> Words {
    let limit = &binding.limit;
    let side = if limit.bound == Bound::Most { "at most" } else { "at least" };
    words![
        name(limit.measure),
        ", ",
        side,
        " ",
        number("limits.value", limit.measure.shown_with_unit(limit.value)),
        " (",
        standing(limit),
        condition,
        "), at ",
        number("limits.allowed_cycles", binding.ceiling().map_or("-".into(), cycles)),
        " cycles"
    ]
}
