//! What a person acts on: cycles, set point, the limit that controls, what it saves.

use super::{Of, cycles, measured, name, us_per_cm};
use crate::blowdown::limit::{Bound, Measure};
use crate::blowdown::target::{Allows, Binding, MOST_CYCLES, remedy};
use crate::quantity::{significant, with_decimals};
use crate::report::page::{Block, Words, constant, number, words};

impl Of<'_> {
    pub(super) fn answer(&self) -> Vec<Block> {
        let sheet = self.sheet;
        let mut blocks = vec![Block::heading("ANSWER")];
        let Some(target) = sheet.target_cycles else {
            blocks.extend(self.no_target().into_iter().map(Block::paragraph));
            return blocks;
        };
        blocks.push(Block::paragraph(words![self.lead(target), self.control()]));
        if sheet.present_cycles > target && sheet.present_cycles.is_finite() {
            blocks.push(Block::paragraph(words![
                "Today's ",
                number("present_cycles", cycles(sheet.present_cycles)),
                " cycles are more than that."
            ]));
        }
        blocks.push(Block::paragraph(self.controlling()));
        blocks.extend(self.saving(target).map(Block::paragraph));
        blocks
    }

    fn lead(&self, target: f64) -> Words {
        let lead = self.sheet.unmet_floor().map_or("Hold".into(), |unmet| {
            words![
                "No cycles satisfy every limit: ",
                name(unmet.limit.measure),
                " is never at least ",
                number("limits.value", measured(unmet.limit.measure, unmet.limit.value)),
                " (",
                Words::given(&unmet.limit.of),
                ") below the ceiling. By the ceilings alone, hold"
            ]
        });
        words![lead, " ", number("target_cycles", cycles(target)), " cycles of concentration."]
    }

    fn control(&self) -> Option<Words> {
        let set_point = self.sheet.set_point.as_ref()?;
        let shuts = significant(set_point.conductivity * 1e4 * (1.0 - self.sheet.dead_band), 3);
        Some(words![
            " Set the controller to ",
            number("set_point.conductivity_us_per_cm", us_per_cm(set_point.conductivity)),
            " at ",
            constant("25 °C"),
            ", opening there and shutting at ",
            number("set_point.shuts_at_us_per_cm", format!("{shuts} uS/cm")),
            "."
        ])
    }

    fn controlling(&self) -> Words {
        let sheet = self.sheet;
        let most = || constant(format!("{MOST_CYCLES} cycles"));
        let binds = |binding: &&Binding| {
            binding.ceiling().is_some_and(|ceiling| ceiling <= sheet.losses_allow)
        };
        match sheet.controlling().filter(binds) {
            Some(binding) => words![
                "Controlling: ",
                clause(binding),
                ". What moves it: ",
                remedy(binding.limit.measure),
                ".",
                match sheet.next() {
                    Some(next) => words![" With it out of the way: ", clause(next), "."],
                    None => words![" Nothing else binds up to ", most(), "."],
                }
            ],
            None if sheet.losses_allow < MOST_CYCLES => words![
                "Controlling: drift, leakage and overflow, which alone hold ",
                number("losses_allow_cycles", cycles(sheet.losses_allow)),
                " cycles with the blowdown shut: mend them first."
            ],
            None => words![
                "No limit that the analysis covers binds up to ",
                most(),
                ", and no tower is run harder."
            ],
        }
    }

    /// Why there is nothing to aim at.
    fn no_target(&self) -> Vec<Words> {
        let exceeded = |binding: &&Binding| binding.allows == Allows::Nothing;
        let Some(binding) = self.sheet.controlling().filter(exceeded) else {
            return vec![
                "Drift, leakage and overflow alone are more than any blowdown: mend them first."
                    .into(),
            ];
        };
        let measure = binding.limit.measure;
        let at_one = binding.at_one_cycle.map_or("?".into(), |value| measured(measure, value));
        let mut words = vec![words![
            "The makeup cannot be concentrated within the limits: ",
            name(measure),
            " is ",
            number("limits.at_one_cycle", at_one),
            " already at ",
            constant("1 cycle"),
            " (",
            number("limits.value", measured(measure, binding.limit.value)),
            " is allowed). What moves it: ",
            remedy(measure),
            "."
        ]];
        if let Measure::SaturationIndex(mineral) = measure {
            words.push(words![
                "Where a treatment carries more, state it: [limits.saturation_index] ",
                mineral.key(),
                " = ..."
            ]);
        }
        if let Some(next) = self.sheet.next() {
            words.push(words!["With it out of the way: ", clause(next), "."]);
        }
        words
    }

    fn saving(&self, target: f64) -> Option<Words> {
        let sheet = self.sheet;
        let now = &sheet.present;
        let then = sheet.at_target.as_ref()?;
        if !sheet.present_cycles.is_finite() {
            return None;
        }
        let saved = now.makeup_kg_per_s - then.makeup_kg_per_s;
        let part = saved / now.makeup_kg_per_s;
        let origin = match sheet.conductivity_ratio {
            Some(_) if sheet.cycles_are_apparent => ", apparent,".into(),
            Some(ratio) => words![
                " (",
                number("conductivity_ratio", cycles(ratio)),
                " by the ratio of conductivities)"
            ],
            None => Words::default(),
        };
        let renewed = sheet.half_life(then).zip(sheet.half_life(now)).map(|(then, now)| {
            let hours = |key, hours| number(key, format!("{} h", significant(hours, 2)));
            let risk = target > sheet.present_cycles;
            words![
                " Half of what is in the water is renewed in ",
                hours("half_life_h.at_target", then),
                " (today ",
                hours("half_life_h.present", now),
                ")",
                if risk { ": longer retention raises the biological risk." } else { "." }
            ]
        });
        Some(words![
            "Blowdown ",
            number("flows_m3_per_h.blowdown_at_target", self.mass_flow(then.blowdown_kg_per_s)),
            ", makeup ",
            number("flows_m3_per_h.makeup_at_target", self.mass_flow(then.makeup_kg_per_s)),
            "; at today's ",
            number("present_cycles", cycles(sheet.present_cycles)),
            " cycles",
            origin,
            " ",
            number("flows_m3_per_h.blowdown", self.mass_flow(now.blowdown_kg_per_s)),
            " and ",
            number("flows_m3_per_h.makeup", self.mass_flow(now.makeup_kg_per_s)),
            ": ",
            number("saving.makeup_m3_per_h", self.mass_flow(saved.abs())),
            " (",
            number("saving.makeup_part", format!("{} %", with_decimals(100.0 * part.abs(), 0))),
            ") ",
            if saved >= 0.0 { "less" } else { "more" },
            " makeup.",
            renewed
        ])
    }
}

/// A limit, what it allows, who says so, and where it binds.
fn clause(binding: &Binding) -> Words {
    let limit = &binding.limit;
    let side = if limit.bound == Bound::Most { "at most" } else { "at least" };
    words![
        name(limit.measure),
        ", ",
        side,
        " ",
        number("limits.value", measured(limit.measure, limit.value)),
        " (",
        Words::given(&limit.of),
        "), at ",
        number("limits.allowed_cycles", binding.ceiling().map_or("-".into(), cycles)),
        " cycles"
    ]
}
