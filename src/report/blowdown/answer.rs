//! What a person acts on: the cycles and the set point, how sure they are, the limit that controls, what the
//! tower's own test says, what the target saves.

use super::limits::{condition, standing};
use super::{CAUTION, Of, assumed, cycles, duration, name, us_per_cm};
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
/// Cycles that differ by less than this part are the same on a controller.
const SAME: f64 = 0.005;

impl Of<'_> {
    pub(super) fn answer(&self) -> Vec<Block> {
        let advice = match self.sheet.target_cycles {
            Some(target) => self.advice(target),
            None => self.no_target(),
        };
        let after: Vec<Words> =
            [self.langelier_in_brief(), self.own_test(), self.valve_times(), self.money()]
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
            self.assumed_in_brief(),
            vec![Block::Caution(CAUTION.into())],
        ]
        .concat()
    }

    fn advice(&self, target: f64) -> Vec<Words> {
        let present = self.sheet.present_cycles;
        let is_above = present > (1.0 + SAME) * target && present.is_finite();
        let above =
            is_above.then(|| words!["Today's ", self.today(), " cycles are more than that."]);
        [
            Some(words![self.lead(target), self.control()]),
            above,
            Some(self.how_sure_in_brief(target)),
        ]
        .into_iter()
        .flatten()
        .chain([self.controlling()])
        .collect()
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

    /// What the controller is set to, or why there is nothing to set.
    fn control(&self) -> Words {
        let Some(set_point) = &self.sheet.set_point else {
            return match self.sheet.makeup_conductivity.measured {
                Some(_) => " No set point: the makeup's conductivity does not fit its ions.",
                None => " For a set point state the makeup's measured conductivity.",
            }
            .into();
        };
        let shuts_at = set_point.conductivity * (1.0 - self.sheet.dead_band);
        words![
            " Set the controller to ",
            number("set_point.conductivity_us_per_cm", us_per_cm(set_point.conductivity)),
            " at ",
            constant("25 °C"),
            ", opening there and shutting at ",
            number("set_point.shuts_at_us_per_cm", us_per_cm(shuts_at)),
            "."
        ]
    }

    /// The ± of the allowed cycles, the margin for it, and what the carbon dioxide leaves open.
    fn how_sure_in_brief(&self, target: f64) -> Words {
        let sheet = self.sheet;
        let results = &sheet.uncertain.results;
        let with_uncertainty = |key| {
            let result = uncertain::notable(results, key)?;
            Some(number("uncertain.value", uncertain::shown(result, "", self.units)))
        };
        let blowdown = with_uncertainty("blowdown_at_target_m3_per_h").map(|blowdown| {
            words![
                " Blowdown at ",
                number("target_cycles", cycles(target)),
                " cycles: ",
                blowdown,
                "."
            ]
        });
        let allowed = with_uncertainty("allowed_cycles").zip(sheet.margin);
        let cycles = match allowed {
            Some((allowed, margin)) => words![
                "the best estimate is ",
                allowed,
                " cycles (± about ",
                constant("95 %"),
                ", from the ± of the file's numbers). The target keeps ",
                number("margin_cycles", cycles(margin)),
                " below it (",
                constant(format!("{MARGIN} standard uncertainties")),
                ") and is rounded down, so that the limit holds in ",
                constant("9 of 10"),
                " such cases.",
                (!sheet.uncertain.others_lead.is_empty())
                    .then_some(" Another limit takes over within that, so that the ± is coarse.")
            ],
            None if sheet.stop == Stop::Usual => "a rule of practice has no ±.".into(),
            None => {
                "the target is only rounded down, because no stated ± moves these cycles.".into()
            }
        };
        let band = sheet.band.map(|band| words![" ", self.band(&band)]);
        words!["How sure: ", cycles, blowdown, band]
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
                    "with as little carbon dioxide as in equilibrium with air, or as much as field lines show"
                }
                _ => "within the ± of ph.toward_air",
            };
            return words![
                "The tower's pH is only assumed: ",
                between,
                ", ",
                span,
                " cycles are allowed. This is for the fewest; measuring the tower's pH narrows it."
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
            "How much alkalinity the acid leaves is only assumed: ",
            acid,
            span,
            " cycles. Stating the alkalinity measured at the held pH narrows it."
        ]
    }

    fn controlling(&self) -> Words {
        let sheet = self.sheet;
        let most = || constant(format!("{MOST_CYCLES} cycles"));
        let first = |words: &'static str| {
            sheet
                .controlling()
                .map(|binding| words![words, clause(binding, condition(&binding.limit)), "."])
        };
        match (sheet.stop, sheet.controlling()) {
            (Stop::Limit, Some(binding)) => words![
                "Controlling: ",
                clause(binding, condition(&binding.limit)),
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
        let mut words = vec![words![
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
            condition(&binding.limit),
            "). What moves it: ",
            remedy(&binding.limit),
            "."
        ]];
        let today = sheet.at_present(measure).map(|at_present| {
            words![
                "Today's ",
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
        words.extend((today.is_some() || treatment.is_some()).then(|| words![today, treatment]));
        words.extend(sheet.next().map(|next| words![after, clause(next, Words::default()), "."]));
        words.extend(sheet.band.map(|band| words![self.band(&band), self.after_ph_reading()]));
        words
    }

    /// The tightest limits that were judged.
    fn tightest(&self) -> Vec<Block> {
        let judged = self.sheet.bindings.iter().filter(|binding| binding.allows != Allows::Unknown);
        let count = judged.clone().count();
        if count == 0 {
            return Vec::new();
        }
        let shown: Vec<&Binding> = judged.take(TIGHTEST).collect();
        let is_index =
            |binding: &&Binding| matches!(binding.limit.measure, Measure::SaturationIndex(_));
        let index = shown.iter().any(is_index).then(|| {
            words![
                "SI is supersaturation in powers of ten: above ",
                constant("0"),
                " a mineral can deposit; treatment carries some."
            ]
        });
        let more = (count > TIGHTEST).then(|| {
            let more = number("limits", (count - TIGHTEST).to_string());
            let before = if index.is_some() { " " } else { "" };
            words![before, "Limits that bind later or not at all: ", more, "."]
        });
        let note = (index.is_some() || more.is_some()).then(|| words![index, more]);
        [Block::Gap, Block::Table(self.limits_table(shown))]
            .into_iter()
            .chain(note.map(Block::paragraph))
            .collect()
    }

    fn valve_times(&self) -> Option<Words> {
        let valve = self.sheet.valve.as_ref()?;
        Some(words![
            "The blowdown valve is then open ",
            number("valve.open_h", duration(valve.open_hours)),
            " and shut ",
            number("valve.shut_h", duration(valve.shut_hours)),
            " by turns."
        ])
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
        let missing = saving
            .chemicals_missing
            .as_ref()
            .map(|why| words![" Chemicals are not counted: ", Words::given(why), "."]);
        Some(words![
            "These cycles cost ",
            Words::given(&saving.currency),
            if saving.currency.is_empty() { "" } else { " " },
            number("saving.cost_per_year", significant(cost.abs(), 3)),
            " a year ",
            saved(cost),
            " and take ",
            makeup,
            than,
            " (water, sewer, energy, priced chemicals).",
            missing
        ])
    }

    /// What nobody stated, without its basis.
    fn assumed_in_brief(&self) -> Vec<Block> {
        let sheet = self.sheet;
        let is_assumed = sheet.ph_origin == PhOrigin::FieldLine { assumed: true };
        let ph = is_assumed.then(|| match sheet.tower.basis() {
            PhBasis::Free(_) => {
                "the tower's pH, from field lines against alkalinity (measure it: nothing moves the answer \
                 more)"
            }
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
        match all.is_empty() {
            true => Vec::new(),
            false => {
                let words = words!["Assumed: ", Words::joined(all, ", "), "."];
                vec![Block::Gap, Block::paragraph(words)]
            }
        }
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
