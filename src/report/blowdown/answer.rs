//! What a person acts on: the cycles and the set point, how sure they are, the limit that controls, what the
//! tower's own test says, what the target saves.

use super::limits::{condition, standing};
use super::{CAUTION, Of, assumed, cycles, given, name};
use crate::blowdown::PhBasis;
use crate::blowdown::limit::{Bound, Limit, Measure, RemarkKind, Standing};
use crate::blowdown::target::{Allows, Binding, MOST_CYCLES, remedy};
use crate::model::{Band, COLD_BASIN, PhOrigin, Stop, USUAL_CYCLES, Withheld};
use crate::quantity::{significant, with_decimals};
use crate::report::page::{Block, Piece, Words, constant, number, words};
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
/// Fewer cycles than this bleed ten times what evaporates: hardly more than once through.
const HARDLY: f64 = 1.1;
/// Cycles that the target may be rounded down by.
const ROUNDED: f64 = 0.1;

impl Of<'_> {
    pub(super) fn answer(&self) -> Vec<Block> {
        let advice = match (self.sheet.withheld, self.sheet.target_cycles) {
            (Some(withheld), _) => vec![self.withheld(withheld)],
            (None, Some(target)) => self.advice(target),
            (None, None) => self.no_target(),
        };
        let all = self.not_believed().into_iter().chain(advice).chain(self.own_test());
        [
            vec![Block::heading("ANSWER")],
            all.map(Block::paragraph).collect(),
            warnings::blocks(&self.sheet.warnings),
            self.behind_it(),
            given::dates(self.beside.given).map(Block::paragraph).into_iter().collect(),
            vec![Block::Caution(CAUTION.into())],
        ]
        .concat()
    }

    /// What the answer rests on, in brief.
    fn behind_it(&self) -> Vec<Block> {
        let table = match self.sheet.withheld {
            Some(_) => Vec::new(),
            None => self.tightest(),
        };
        let after: Vec<Words> = [
            self.langelier_in_brief(),
            self.blowdown_at_target(),
            self.set_point_in_brief(),
            self.valve_times(),
            self.parts_of_money(),
            self.assumed_in_brief(),
        ]
        .into_iter()
        .flatten()
        .collect();
        let gap = (!table.is_empty() && !after.is_empty()).then_some(Block::Gap);
        let after = after.into_iter().map(Block::paragraph);
        let blocks: Vec<Block> = table.into_iter().chain(gap).chain(after).collect();
        let heading = (!blocks.is_empty()).then(|| Block::heading("BEHIND THE ANSWER"));
        heading.into_iter().chain(blocks).collect()
    }

    fn advice(&self, target: f64) -> Vec<Words> {
        let all = [
            Some(words![
                self.lead(target),
                self.control(),
                self.small_valve(),
                self.against_today(target)
            ]),
            self.conditions(),
            Some(self.controlling()),
            Some(self.how_sure_in_brief()),
        ];
        all.into_iter().flatten().collect()
    }

    fn lead(&self, target: f64) -> Words {
        let best = number("best_estimate_cycles", cycles(self.sheet.best_estimate));
        let is_below = cycles(self.sheet.best_estimate) != cycles(target);
        words![
            match target < HARDLY {
                true => "The makeup can hardly be concentrated: hold ",
                false => "Hold ",
            },
            number("target_cycles", cycles(target)),
            " cycles of concentration",
            is_below.then(|| words![" (best estimate ", best, ")"]),
            "."
        ]
    }

    /// A target that must not be used is not shown: what is needed in its place.
    fn withheld(&self, withheld: Withheld) -> Words {
        const WHY: &str = "No target is given, because it would be one of a water without acid. ";
        let acid = self.sheet.own_test.as_ref().and_then(|own| own.comparison.acid);
        match (withheld, acid) {
            (Withheld::AcidInTower, Some(acid)) => words![
                "First: acid is fed to this tower, by its own analysis, and the file does not say so. ",
                WHY,
                "State [ph] held = ",
                number("own_test.acid_holds_ph", with_decimals(acid.ph, 1)),
                ", or the pH that the acid controller holds, and run this again. Until then leave the controller as it \
                 is set."
            ],
            _ => words![
                "First: an acid stands under [[chemical]], and nothing says which pH it holds. ",
                WHY,
                "State [ph] held = the pH that the acid controller holds, or take the acid out of the file, and run \
                 this again. Until then leave the controller as it is set."
            ],
        }
    }

    /// A reading of the tower's pH that no target rests on.
    fn not_believed(&self) -> Option<Words> {
        let doubted = self.sheet.ph_not_believed().filter(|_| self.sheet.withheld.is_none())?;
        Some(words![
            "First: the tower's pH of ",
            number("ph_not_believed.ph", with_decimals(doubted.ph, 2)),
            " lies far below the ",
            number("ph_not_believed.on_the_line", with_decimals(doubted.on_the_line, 1)),
            " of the published line for its alkalinity: a slip, a meter that is off, or acid. Read it again in a fresh \
             sample; if acid is fed, state [ph] held. Nothing below rests on it:"
        ])
    }

    /// What has to be asked or confirmed before the target is held.
    fn conditions(&self) -> Option<Words> {
        let all: Vec<Words> =
            [self.needs(), self.cement(), self.ask_the_maker(), self.cold_silica()]
                .into_iter()
                .flatten()
                .collect();
        (!all.is_empty()).then(|| Words::joined(all, " "))
    }

    fn needs(&self) -> Option<Words> {
        let sheet = self.sheet;
        let is_bare = sheet.remarks.iter().any(|remark| remark.kind == RemarkKind::BareSteel);
        let steel = is_bare.then(|| "an inhibitor for the carbon steel".into());
        let mut needs: Vec<Words> = steel.into_iter().collect();
        for watched in &sheet.watched {
            let beyond = sheet.watched_value(watched).filter(|(_, is_beyond)| *is_beyond);
            let Some((needed, (value, _))) = watched.needs.zip(beyond) else { continue };
            needs.push(words![
                needed,
                " (",
                name(watched.measure),
                " ",
                number("watched.value", watched.measure.shown_with_unit(value)),
                ")"
            ]);
        }
        (!needs.is_empty()).then(|| {
            words!["Not before the supplier confirms ", Words::joined(needs, " and "), "."]
        })
    }

    /// Concrete whose class nobody states.
    fn cement(&self) -> Option<Words> {
        let is_it = |limit: &Limit| limit.standing == Standing::Material(Material::Concrete);
        let (limit, strict) = self.disputed().find(|(limit, _)| is_it(limit))?;
        let from = limit.warn_from.as_ref()?.value;
        Some(words![
            "Only if the concrete's cement is moderately sulfate-resisting (class ",
            constant("S1"),
            "): ordinary cement (",
            constant("S0"),
            ") stands ",
            number("limits.warn_from", limit.measure.shown_with_unit(from)),
            ", which ",
            strict_allows(strict),
            ". State limits.concrete_class."
        ])
    }

    /// A material whose sources disagree, where it sets the target.
    fn ask_the_maker(&self) -> Option<Words> {
        let controlling = &self.sheet.controlling()?.limit;
        let is_it = |limit: &Limit| matches!(limit.standing, Standing::Material(material) if material != Material::Concrete);
        let (limit, strict) = self.disputed().find(|(limit, _)| *limit == controlling)?;
        let from = limit.warn_from.as_ref().filter(|_| is_it(limit))?.value;
        Some(words![
            "Only if the maker agrees: the strictest source for ",
            Words::given(&limit.of),
            " warns from ",
            number("limits.warn_from", limit.measure.shown_with_unit(from)),
            ", which ",
            strict_allows(strict),
            "."
        ])
    }

    /// Limits that sources disagree about at the target, with the cycles that the strictest allows.
    fn disputed(&self) -> impl Iterator<Item = (&Limit, f64)> {
        let sheet = self.sheet;
        let all = sheet.bindings.iter().zip(&sheet.strictest_allows);
        all.filter_map(|(binding, strict)| Some((&binding.limit, (*strict)?)))
    }

    /// Silica drops out of cold water: where nobody states how cold the basin gets.
    fn cold_silica(&self) -> Option<Words> {
        let allowed = self.sheet.in_cold_basin?;
        Some(words![
            "Silica is judged at ",
            number("basin_celsius", self.temperature(self.sheet.basin_celsius)),
            ", the design's basin; one of ",
            constant(self.temperature(COLD_BASIN)),
            " would allow ",
            match allowed > 1.0 {
                true => words![number("in_cold_basin_cycles", cycles(allowed)), " cycles"],
                false => "none".into(),
            },
            ": state circuit.coldest_basin."
        ])
    }

    /// The ± of the allowed cycles, the margin for it, and what the carbon dioxide leaves open.
    fn how_sure_in_brief(&self) -> Words {
        let sheet = self.sheet;
        let cycles = match self.notable("allowed_cycles") {
            Some((allowed, assumed)) => words![
                allowed,
                " cycles are allowed (",
                constant("95 %"),
                assumed.then_some(", ± assumed"),
                ")",
                self.margin()
            ],
            None if sheet.stop == Stop::Usual => "a rule of practice has no ±.".into(),
            None if sheet.stop == Stop::LeastSaving => "money stops it, not the water.".into(),
            None => "no ± moves these cycles; the target is only rounded down.".into(),
        };
        let band = sheet.band.map(|band| words![" ", self.band(&band)]);
        words!["How sure: ", cycles, band, self.measured_ph()]
    }

    /// The pH that the cycles rest on, where it was read in the tower.
    fn measured_ph(&self) -> Option<Words> {
        let (PhOrigin::Measured { ph, .. }, PhBasis::Free(_)) =
            (self.sheet.ph_origin, self.sheet.tower.basis())
        else {
            return None;
        };
        let low = self.sheet.low_ph.map(|low| {
            words![
                ", which is low: published lines for its alkalinity give ",
                number("low_ph.on_the_line", with_decimals(low.on_the_line, 1)),
                ", and no more carbon dioxide is counted than they hold. Read it again before this is set"
            ]
        });
        Some(words![
            " It rests on the pH of ",
            number("ph_measured", with_decimals(ph, 2)),
            " that was read in the tower",
            low,
            "."
        ])
    }

    /// A result with its ±, and whether nobody stated what that rests on.
    fn notable(&self, key: &'static str) -> Option<(Piece, bool)> {
        let result = uncertain::notable(&self.sheet.uncertain.results, key)?;
        let shown = number("uncertain.value", uncertain::shown(result, "", self.units));
        Some((shown, result.rests_on_defaults))
    }

    fn blowdown_at_target(&self) -> Option<Words> {
        let target = self.sheet.target_cycles?;
        let (blowdown, assumed) = self.notable("blowdown_at_target_m3_per_h")?;
        Some(words![
            "Blowdown at ",
            number("target_cycles", cycles(target)),
            " cycles: ",
            blowdown,
            assumed.then_some(" (± assumed)"),
            "."
        ])
    }

    fn set_point_in_brief(&self) -> Option<Words> {
        let (set_point, assumed) = self.notable("set_point_us_per_cm")?;
        let assumed = assumed.then_some(" (± assumed)");
        Some(words!["Set point: ", set_point, assumed, "."])
    }

    /// What the target keeps below the best estimate, and where it would lie with every ± counted.
    fn margin(&self) -> Words {
        let sheet = self.sheet;
        let kept = sheet.margin.map(|margin| {
            words![
                "; the target keeps ",
                number("margin_cycles", cycles(margin)),
                " for the ± stated"
            ]
        });
        let nine_of_ten = constant("9 of 10");
        let sure = match sheet.sure_cycles {
            None => words![" and holds in ", nine_of_ten, " cases."],
            Some(sure) if sure > 1.0 => words![
                "; to hold in ",
                nine_of_ten,
                " cases it would be ",
                number("sure_cycles", cycles(sure)),
                "."
            ],
            Some(_) => words!["; none would hold in ", nine_of_ten, " cases."],
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
        let span = || match cycles(fewest) == cycles(most) {
            true => of(most),
            false => words![of(fewest), " to ", of(most)],
        };
        let is_doubted = self.sheet.ph_not_believed().is_some();
        let known = match is_doubted {
            true => "Without the tower's pH",
            false => "The tower's pH is only assumed",
        };
        if band.sets_target && cycles(fewest) == cycles(most) {
            return words![
                known,
                if is_doubted { " nothing changes." } else { ", which changes nothing here." }
            ];
        }
        if band.sets_target {
            let between = match (band.ends[0].toward_air, band.ends[2].toward_air) {
                (-1.0, 1.0) => "",
                _ => " within the ± of ph.toward_air",
            };
            let perhaps = self.sheet.after_ph_reading.map(|perhaps| {
                words![
                    "; after a reading in the tower, perhaps ",
                    number("after_ph_reading_cycles", cycles(perhaps))
                ]
            });
            return words![
                known,
                if is_doubted { " " } else { ": " },
                span(),
                " cycles are open",
                between,
                ", and this is for the fewest",
                perhaps,
                "."
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
            span(),
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
                self.programmes(),
                match sheet.next() {
                    Some(next) => words![" Next: ", clause(next, Words::default()), "."],
                    None => words![" Nothing else binds up to ", most(), "."],
                }
            ],
            (Stop::Losses, _) => words![
                "Controlling: drift, leakage and overflow, which alone hold ",
                number("losses_allow_cycles", cycles(sheet.losses_allow)),
                " cycles with the blowdown shut: mend them first.",
                sheet.above_losses.map(|above| words![
                    " But ",
                    number("above_losses_cycles", cycles(above)),
                    " cycles are told of today, which they do not leave: one of the two is wrong."
                ])
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
            Measure::SaturationIndex(_) if !sheet.by_programme.is_empty() => self.programmes(),
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
        words.extend(sheet.band.map(|band| self.band(&band)));
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
        [Block::Table(self.limits_table(shown))]
            .into_iter()
            .chain(note.map(Block::paragraph))
            .collect()
    }

    /// Today's cycles against the target's: more or less, and what that costs.
    fn against_today(&self, target: f64) -> Option<Words> {
        let sheet = self.sheet;
        let present = sheet.present_cycles;
        if let Some(contested) = sheet.contested_cycles {
            let [below, above] =
                if contested > target { ["below", "above"] } else { ["above", "below"] };
            return Some(words![
                " Where the tower stands is open: the file's ",
                self.today(),
                " cycles are ",
                below,
                " this, the ",
                number("own_test.cycles", cycles(contested)),
                " by its own test ",
                above,
                ". Test chloride in both waters; money is told after that."
            ]);
        }
        // The target is rounded down by as much.
        if sheet.above_losses.is_some() {
            return None;
        }
        if (present - target).abs() < ROUNDED || (present / target - 1.0).abs() < SAME {
            return Some(" Today's cycles are these.".into());
        }
        let above = (present > target && present.is_finite())
            .then(|| words![" are more than that", self.brings(sheet.controlling())]);
        let Some(saving) = sheet.saving.as_ref() else {
            return above.map(|above| words![" Today's ", self.today(), " cycles", above, "."]);
        };
        let above = above.map(|above| words![above, " and"]);
        let today = words![" Today's ", self.today(), " cycles", above];
        let makeup = number("saving.makeup_m3_per_year", self.volume(saving.makeup_m3.abs()));
        let more = |saved: f64| if saved >= 0.0 { " more" } else { " less" };
        Some(match saving.cost {
            None => words![today, " take ", makeup, " a year", more(saving.makeup_m3), " makeup."],
            Some(cost) => words![
                today,
                " cost ",
                Words::given(&saving.currency),
                if saving.currency.is_empty() { "" } else { " " },
                money("saving.cost_per_year", cost.total()),
                " a year",
                more(cost.total()),
                ", with ",
                makeup,
                more(saving.makeup_m3),
                " makeup."
            ],
        })
    }

    /// What today's cycles bring a limit's measure to, where it stops the target.
    fn brings(&self, binding: Option<&Binding>) -> Option<Words> {
        let measure = binding.filter(|_| self.sheet.stop == Stop::Limit)?.limit.measure;
        let at_present = self.sheet.at_present(measure).filter(|_| measure != Measure::Cycles)?;
        let shown = number("limits.at_present", measure.shown_with_unit(at_present));
        Some(words![" (", name(measure), " ", shown, ")"])
    }

    /// What the cost of today's cycles over the target's is made of.
    fn parts_of_money(&self) -> Option<Words> {
        let saving = self.sheet.saving.as_ref()?;
        let cost = saving.cost?;
        if (self.sheet.present_cycles / self.sheet.target_cycles? - 1.0).abs() < SAME {
            return None;
        }
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
            "What today's cycles cost ",
            if cost.total() >= 0.0 { "more" } else { "less" },
            " a year: ",
            Words::joined(parts, ", "),
            ".",
            missing
        ])
    }

    /// What scale programmes would allow, where nobody stated a treatment.
    fn programmes(&self) -> Option<Words> {
        let [(_, phosphonate), (_, polymer)] = self.sheet.by_programme.as_slice() else {
            return None;
        };
        let of = |allowed: f64| match allowed > 1.0 {
            true => words![number("by_programme.allowed_cycles", cycles(allowed))],
            false => "none".into(),
        };
        let polymer =
            (phosphonate != polymer).then(|| words![", with an alkaline polymer ", of(*polymer)]);
        Some(words![
            " With a phosphonate programme ",
            of(*phosphonate),
            " would be allowed",
            polymer,
            ": state [treatment] scale_inhibitor, or the supplier's number."
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

/// What a strict source allows.
fn strict_allows(strict: f64) -> Words {
    match strict > 1.0 {
        true => {
            words!["allows ", number("limits.strictest_allows_cycles", cycles(strict)), " cycles"]
        }
        false => "allows no cycles".into(),
    }
}

/// An amount without its sign, which words say.
fn money(key: &'static str, amount: f64) -> Piece {
    number(key, significant(amount.abs(), 3))
}
