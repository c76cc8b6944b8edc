//! What the page says of limits beside their table: on whose word they stand, what is watched, where they come from,
//! and Langelier's index beside the saturation index.

use super::{Of, name, name_with_unit};
use crate::blowdown::limit::{Bound, Limit, Measure, RemarkKind, Standing, Text};
use crate::chemistry::Mineral;
use crate::chemistry::speciation::SolvedWater;
use crate::model::BlowdownSheet;
use crate::report::page::{Block, Column, Table, Words, constant, number, words};

/// On whose word a limit stands, in a bracket's words.
pub(super) fn standing(limit: &Limit) -> Words {
    match limit.standing {
        Standing::Default => "a default, nobody stated it".into(),
        Standing::Preset => words![Words::given(&limit.of), ", a preset of this program"],
        _ => Words::given(&limit.of),
    }
}

/// The condition of a limit and where the strictest source begins, each as a clause that goes on; the latter
/// not where a warning says it.
pub(super) fn condition(sheet: &BlowdownSheet, limit: &Limit) -> Words {
    let condition =
        (!limit.condition.is_empty()).then(|| words!["; ", Words::given(&limit.condition)]);
    let is_warned = sheet.disputed(limit).is_some();
    let from = limit.warn_from.as_ref().filter(|_| !is_warned).map(|from| {
        words![
            "; the strictest source warns from ",
            number("limits.warn_from", limit.measure.shown(from.value))
        ]
    });
    words![condition, from]
}

impl Of<'_> {
    /// Langelier's index beside the saturation index of calcite at the target: suppliers state the one, limits are
    /// set on the other.
    pub(super) fn langelier_beside(&self) -> Option<Words> {
        let water = self.sheet.judged_water()?;
        let index = |key, solved: &SolvedWater| {
            let index = solved.saturation_index(Mineral::Calcite)?;
            Some(number(key, Measure::SaturationIndex(Mineral::Calcite).shown(index)))
        };
        let langelier =
            |measure: Measure| Some(number("waters.index", measure.shown(measure.of(water)?)));
        Some(words![
            "At ",
            number("waters.cycles", super::cycles(water.cycles)),
            " cycles Langelier's index (simple form) is ",
            langelier(Measure::Langelier)?,
            " in the basin and ",
            langelier(Measure::LangelierAtSurface)?,
            " on the hottest surface, where the SI of calcite is ",
            index("waters.saturation_index", &water.basin)?,
            " and ",
            index("waters.saturation_index_at_surface", &water.surface)?,
            ": four different numbers; see which one a supplier or a code means."
        ])
    }

    /// The same in the answer, where somebody limits Langelier's index.
    pub(super) fn langelier_in_brief(&self) -> Option<Words> {
        let is_it = |measure| matches!(measure, Measure::Langelier | Measure::LangelierAtSurface);
        let is_limited = self.sheet.bindings.iter().any(|binding| is_it(binding.limit.measure));
        self.langelier_beside().filter(|_| is_limited)
    }

    /// What is warned of and sets no target, and what there is to know beside.
    pub(super) fn watched(&self) -> Vec<Block> {
        let sheet = self.sheet;
        let mut table = Table::new([
            Column::left(38),
            Column::right(11),
            Column::right(11),
            Column::left(0).after(2),
        ]);
        table.head(["", "warns from", "here", ""]);
        let mut blocks = Vec::new();
        for watched in &sheet.watched {
            let Some((value, is_beyond)) = sheet.watched_value(watched) else { continue };
            let side = if watched.bound == Bound::Most { "> " } else { "< " };
            let shown = |key, value| number(key, watched.measure.shown(value));
            table.row([
                name_with_unit(watched.measure).into(),
                words![side, shown("watched.from", watched.from)],
                shown("watched.value", value).into(),
                words![Words::given(&watched.of), if is_beyond { ", warned" } else { "" }],
            ]);
        }
        blocks.push(Block::heading("WATCHED, WITHOUT SETTING THE TARGET"));
        blocks.push(Block::Table(table));
        let unknown = sheet.not_watched();
        if !unknown.is_empty() {
            blocks.push(Block::paragraph(words![
                "Not watched, because no analysis holds it: ",
                constant(unknown.join(", ")),
                "."
            ]));
        }
        let notes = sheet.remarks.iter().filter(|remark| remark.kind == RemarkKind::Note);
        blocks.extend(notes.map(|remark| Block::paragraph(Words::given(&remark.text))));
        blocks.extend(self.langelier_beside().map(Block::paragraph));
        blocks
    }

    /// Where every limit comes from: those of one source together.
    pub(super) fn limit_sources(&self) -> Vec<Block> {
        let mut sources: Vec<(Words, Words, Vec<Words>)> = Vec::new();
        let limits = self.sheet.bindings.iter().map(|binding| &binding.limit);
        let of_limits = limits.flat_map(|limit| {
            let lenient = (standing(limit), limit.source.clone(), limit.measure, &limit.condition);
            let strict = limit.warn_from.as_ref().filter(|from| from.source != limit.source);
            let strict = strict.map(|from| {
                let of = words![standing(limit), ", the strictest"];
                (of, from.source.clone(), limit.measure, &NO_CONDITION)
            });
            [Some(lenient), strict].into_iter().flatten()
        });
        let of_watched = self.sheet.watched.iter().map(|watched| {
            let of = words![Words::given(&watched.of), ", watched"];
            (of, watched.source.clone(), watched.measure, &NO_CONDITION)
        });
        for (of, source, measure, condition) in of_limits.chain(of_watched) {
            let source = Words::given(&source);
            let condition =
                (!condition.is_empty()).then(|| words![" (", Words::given(condition), ")"]);
            let name = words![name(measure), condition];
            match sources.iter_mut().find(|(known, by, _)| *known == of && *by == source) {
                Some((.., names)) if !names.contains(&name) => names.push(name),
                Some(_) => {}
                None => sources.push((of, source, vec![name])),
            }
        }
        let line = |(of, source, names): (Words, Words, Vec<Words>)| {
            Block::paragraph(words![Words::joined(names, ", "), " (", of, "): ", source, "."])
        };
        sources.into_iter().map(line).collect()
    }
}

const NO_CONDITION: Text = Text::Borrowed("");
