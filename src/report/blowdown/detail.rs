//! All the rest of the page: every limit, the solved waters, the control, the analyses, the basis.

use super::{Of, cycles, name, name_with_unit, us_per_cm};
use crate::blowdown::carbon_dioxide::{CarbonDioxide, LINES_SOURCE};
use crate::blowdown::limit::{Bound, Measure};
use crate::blowdown::target::{Allows, Binding, MOST_CYCLES};
use crate::blowdown::{ConcentratedWater, PhBasis};
use crate::chemistry::speciation::SolvedWater;
use crate::chemistry::{CompletedFrom, Constituent, Mineral};
use crate::model::{PhOrigin, SourceWater};
use crate::quantity::{significant, with_decimals};
use crate::report::page::{Block, Column, Table, Words, constant, number, words};
use crate::report::shown::{self, whole_percent};
use crate::site::SURFACE_ABOVE_HOT_WATER;

/// Solved waters that stand beside each other on a page.
const MOST_COLUMNS: usize = 3;

/// Constituents of a solved water that are shown.
const CONSTITUENTS: [Constituent; 7] = [
    Constituent::Calcium,
    Constituent::Magnesium,
    Constituent::Alkalinity,
    Constituent::Chloride,
    Constituent::Sulfate,
    Constituent::Silica,
    Constituent::Phosphate,
];

/// Indices and products of the trade that are shown.
pub(super) const TRADE: [Measure; 7] = [
    Measure::Langelier,
    Measure::LangelierAtSurface,
    Measure::Ryznar,
    Measure::Puckorius,
    Measure::LarsonSkold,
    Measure::CalciumSulfateProduct,
    Measure::MagnesiumSilicaProduct,
];

/// How far Langelier's simple form lies above the calcite index of the solved water.
pub(super) fn langelier_above_calcite(water: &ConcentratedWater) -> Option<f64> {
    Some(water.simple.langelier() - water.basin.saturation_index(Mineral::Calcite)?)
}

impl Of<'_> {
    pub(super) fn limits(&self) -> Vec<Block> {
        let bindings = &self.sheet.bindings;
        let mut blocks = vec![
            Block::heading("LIMITS, THE TIGHTEST FIRST"),
            Block::Table(self.limits_table(bindings)),
        ];
        if self.sheet.withheld.is_some() {
            let without = "All that follows is of a water without the acid that is fed: nothing is set by it.";
            blocks.insert(1, Block::paragraph(without));
        }
        for binding in bindings.iter().filter(|binding| binding.crossings.len() > 1) {
            let at = binding.crossings.iter().map(|at| number("limits.crossings", cycles(*at)));
            blocks.push(Block::paragraph(words![
                name(binding.limit.measure),
                " crosses its limit at ",
                Words::joined(at, ", "),
                " cycles: the first of them is taken."
            ]));
        }
        if bindings.iter().any(|binding| binding.allows == Allows::Unknown) {
            blocks.push(Block::paragraph("unknown: the analysis does not hold it."));
        }
        blocks.push(Block::paragraph(
            "SI is the saturation index of the solved water, each mineral at its own worst \
             temperature; it is never held against a band of the trade's indices.",
        ));
        blocks
    }

    /// Limits in the order of the sheet.
    pub(super) fn limits_table<'b>(
        &self,
        bindings: impl IntoIterator<Item = &'b Binding>,
    ) -> Table {
        let mut table = table_of_five();
        table.head([
            "".into(),
            "allowed".into(),
            Words::from(constant("at 1 cycle")),
            "binds at".into(),
            "".into(),
        ]);
        table.head(["", "", "", "cycles", "set by"]);
        for binding in bindings {
            let limit = &binding.limit;
            let bound = if limit.bound == Bound::Most { "<= " } else { ">= " };
            let plain = |value| limit.measure.shown(value);
            let at_one = |value| Words::from(number("limits.at_one_cycle", plain(value)));
            table.row([
                words![name_with_unit(limit.measure), self.if_made_up(limit.measure)],
                words![bound, number("limits.value", plain(limit.value))],
                binding.at_one_cycle.map_or("-".into(), at_one),
                allows(binding),
                Words::given(&short(&limit.of)),
            ]);
        }
        table
    }

    pub(super) fn water_blocks(&self) -> Vec<Block> {
        let all = self.beside.waters;
        let waters = &all[..all.len().min(MOST_COLUMNS)];
        let mut blocks = vec![Block::heading("THE CIRCULATING WATER"), self.waters_table(waters)];
        blocks.push(Block::Gap);
        blocks.push(Block::paragraph(words![
            "Saturation index in the basin at ",
            number("basin_celsius", self.temperature(self.sheet.basin_celsius)),
            " / on a surface of ",
            number("surface_celsius", self.temperature(self.sheet.surface_celsius))
        ]));
        blocks.push(saturation_table(waters));
        blocks.extend(coldest_silica(waters).map(Block::paragraph));
        blocks.push(Block::Gap);
        blocks.push(Block::paragraph(
            "Indices of the trade, in the basin if not said otherwise, beside the saturation index of calcite",
        ));
        blocks.push(trade_table(waters));
        if all.len() > MOST_COLUMNS {
            blocks.push(Block::paragraph(words![
                "The first ",
                constant(MOST_COLUMNS.to_string()),
                " of ",
                number("waters", all.len().to_string()),
                " waters; json and csv list them all."
            ]));
        }
        blocks.push(Block::paragraph(words![
            "The simple forms take all alkalinity for bicarbonate and leave ion pairs out, so that \
             they read high in concentrated water; Larson-Skold was fitted on Great Lakes water. \
             The product rules (Ca x SO4 up to ",
            constant("500 000"),
            ", Mg x SiO2 up to ",
            constant("35 000"),
            ", from memory) ignore temperature and pairs."
        ]));
        blocks
    }

    fn waters_table(&self, waters: &[ConcentratedWater]) -> Block {
        let mut table = table_of(waters);
        let measures = [
            (Measure::Ph, "waters.ph"),
            (Measure::Conductivity, "waters.conductivity_us_per_cm"),
            (Measure::DissolvedSolids, "waters.dissolved_solids_mg_per_l"),
            (Measure::DissolvedIons, "waters.dissolved_ions_mg_per_l"),
        ];
        let constituents = CONSTITUENTS
            .map(|constituent| (Measure::Constituent(constituent), "waters.constituents_mg_per_l"));
        for (measure, key) in measures.into_iter().chain(constituents) {
            let values: Option<Vec<f64>> = waters.iter().map(|water| measure.of(water)).collect();
            let Some(values) = values.filter(|v| v.iter().any(|value| *value != 0.0)) else {
                continue;
            };
            let cells = values.iter().map(|v| number(key, measure.shown(*v)).into());
            let head = words![name_with_unit(measure), self.if_made_up(measure)];
            table.row([head].into_iter().chain(cells));
        }
        if waters.iter().any(|water| water.acid > 0.0) {
            let acid = |water: &ConcentratedWater| significant(1e3 * water.acid / water.cycles, 3);
            let cells =
                waters.iter().map(|w| number("waters.acid_meq_per_l_makeup", acid(w)).into());
            table.row([Words::from("acid for the makeup, meq/L")].into_iter().chain(cells));
        }
        Block::Table(table)
    }

    pub(super) fn set_point(&self) -> Vec<Block> {
        let sheet = self.sheet;
        let both = sheet.makeup_conductivity;
        let computed = number("makeup_conductivity_computed_us_per_cm", us_per_cm(both.computed));
        let makeup = words!["Conductivity of the makeup at ", constant("25 °C"), ": "];
        let mut blocks = vec![Block::heading("SET POINT")];
        blocks.push(Block::paragraph(match both.measured.zip(both.off()) {
            Some((measured, off)) => words![
                makeup,
                "measured ",
                number("makeup_conductivity_measured_us_per_cm", us_per_cm(measured)),
                ", computed from its ions ",
                computed,
                " (",
                number("makeup_conductivity_off", signed_percent(off)),
                ")."
            ],
            None => words![
                makeup,
                "computed from its ions ",
                computed,
                "; state the measured one for a set point."
            ],
        }));
        let Some(set_point) = &sheet.set_point else { return blocks };
        let real = match set_point.cycles_of_plain {
            Some(real) => words![
                "which would really hold ",
                number("set_point.cycles_of_plain", cycles(real)),
                " cycles"
            ],
            None => "which no water within these limits conducts".into(),
        };
        blocks.push(Block::paragraph(words![
            "Set point for ",
            number("set_point.cycles", cycles(set_point.cycles)),
            " cycles: ",
            number("set_point.conductivity_us_per_cm", us_per_cm(set_point.conductivity)),
            ". Cycles times the makeup's conductivity would be ",
            number("set_point.plain_us_per_cm", us_per_cm(set_point.plain)),
            ", ",
            real,
            ": conductivity is not conserved.",
            (!sheet.made_up.contains(&Constituent::Chloride)).then(|| words![
                " A titration should then find ",
                number("set_point.chloride_mg_per_l", significant(set_point.chloride, 3)),
                " mg/L of chloride as Cl."
            ])
        ]));
        blocks.extend(self.set_point_of_own_test(set_point.conductivity));
        if let (Some(measured), [_, ..]) = (both.measured, sheet.season.as_slice()) {
            let ends = sheet.season.iter().map(|end| {
                words![
                    number("season.set_point_us_per_cm", us_per_cm(end.set_point)),
                    " for a makeup of ",
                    number("season.makeup_us_per_cm", us_per_cm(end.makeup))
                ]
            });
            blocks.push(Block::paragraph(words![
                "As a ratio ",
                number("set_point.over_makeup", significant(set_point.conductivity / measured, 3)),
                " times the makeup's conductivity: ",
                Words::joined(ends, ", "),
                "."
            ]));
        }
        blocks
    }

    /// Flows and retention at the target beside those of today.
    pub(super) fn water_saved(&self) -> Vec<Block> {
        let sheet = self.sheet;
        let now = &sheet.present;
        let Some(then) = sheet.at_target.as_ref().filter(|_| sheet.present_cycles.is_finite())
        else {
            return Vec::new();
        };
        let saved = now.makeup_kg_per_s - then.makeup_kg_per_s;
        let part = saved / now.makeup_kg_per_s;
        let flow = |key, kg_per_s| number(key, self.mass_flow(kg_per_s));
        let renewed = sheet.half_life(then).zip(sheet.half_life(now)).map(|(then, now)| {
            let hours = |key, hours| number(key, shown::hours(hours, 2));
            let is_longer = then > now;
            words![
                " Half of what is in the water is renewed in ",
                hours("half_life_h.at_target", then),
                " (today ",
                hours("half_life_h.present", now),
                ")",
                if is_longer { ": longer retention raises the biological risk." } else { "." }
            ]
        });
        let words = words![
            "Blowdown ",
            flow("flows_m3_per_h.blowdown_at_target", then.blowdown_kg_per_s),
            ", makeup ",
            flow("flows_m3_per_h.makeup_at_target", then.makeup_kg_per_s),
            "; at today's ",
            self.today(),
            " cycles ",
            flow("flows_m3_per_h.blowdown", now.blowdown_kg_per_s),
            " and ",
            flow("flows_m3_per_h.makeup", now.makeup_kg_per_s),
            ": ",
            flow("saving.makeup_m3_per_h", saved.abs()),
            " (",
            number("saving.makeup_part", whole_percent(part.abs())),
            ") ",
            if saved >= 0.0 { "less" } else { "more" },
            " makeup.",
            renewed
        ];
        vec![Block::heading("AT THE TARGET AND TODAY"), Block::paragraph(words)]
    }

    pub(super) fn analyses(&self) -> Vec<Block> {
        let mut blocks = vec![Block::heading("ANALYSES OF THE MAKEUP")];
        for source in &self.sheet.sources {
            let meq = |key, equivalents: f64| number(key, with_decimals(1e3 * equivalents, 2));
            let made_up = (source.made_up > 0.0).then(|| made_up(source));
            blocks.push(Block::paragraph(words![
                Words::given(&source.name),
                ": ",
                number("sources.share", whole_percent(source.share)),
                " of the makeup; cations ",
                meq("sources.cations_meq_per_l", source.ions.cations),
                " meq/L, anions ",
                meq("sources.anions_meq_per_l", source.ions.anions),
                " meq/L (",
                number("sources.imbalance", signed_percent(source.ions.error())),
                " of their sum).",
                made_up
            ]));
            blocks.extend(checks(source));
            blocks.extend(as_given(source));
        }
        blocks
    }

    /// A mark on what was made up in the makeup and not analysed.
    fn if_made_up(&self, measure: Measure) -> Option<&'static str> {
        let Measure::Constituent(constituent) = measure else { return None };
        self.sheet.made_up.contains(&constituent).then_some(" (made up)")
    }

    pub(super) fn basis(&self) -> Vec<Block> {
        let sheet = self.sheet;
        let mut blocks =
            vec![Block::heading("WHAT IT RESTS ON"), Block::paragraph(self.ph_basis())];
        if let Some(band) = sheet.band {
            let ends = band.ends.map(|end| {
                words![
                    number("band.allowed_cycles", cycles(end.allowed_cycles)),
                    " cycles at ",
                    gas("band.log10_carbon_dioxide", end.log10_carbon_dioxide)
                ]
            });
            blocks.push(Block::paragraph(words![
                "Allowed along the field lines, from the most carbon dioxide to equilibrium with air: ",
                Words::joined(ends, ", "),
                "."
            ]));
        }
        if sheet.surface_is_assumed {
            blocks.push(Block::paragraph(words![
                "Hottest surface: ",
                number("surface_celsius", self.temperature(sheet.surface_celsius)),
                " assumed, hot water and ",
                constant(format!("{SURFACE_ABOVE_HOT_WATER} K")),
                "; state hottest_surface."
            ]));
        }
        let oxidant = sheet.tower.oxidant.chloride(sheet.present_cycles);
        if oxidant > 0.0 {
            let chloride = Constituent::Chloride.milligram_per_litre(oxidant);
            blocks.push(Block::paragraph(words![
                "Oxidant: fed as hypochlorite, it adds ",
                number("oxidant_chloride_mg_per_l", significant(chloride, 3)),
                " mg/L of chloride at ",
                number("present_cycles", cycles(sheet.present_cycles)),
                " cycles (mole for mole, with as much sodium).",
                sheet.product_salts().is_empty().then_some(
                    " Salts of other products are counted where their contains states them."
                )
            ]));
        }
        let salts = sheet.product_salts();
        if !salts.is_empty() {
            let salts = salts.into_iter().map(|(ion, milligram)| {
                let shown = format!("{} mg/L", significant(milligram, 3));
                let basis = constant(ion.basis().formula());
                words![ion.name(), " ", number("product_salts_mg_per_l", shown), " as ", basis]
            });
            blocks.push(Block::paragraph(words![
                "Products bring at ",
                number("present_cycles", cycles(sheet.present_cycles)),
                " cycles: ",
                Words::joined(salts, ", "),
                "."
            ]));
        }
        blocks.extend(self.assumed().map(Block::paragraph));
        let constants = constant(crate::chemistry::SOURCE);
        blocks.push(Block::paragraph(words!["Equilibrium constants: ", constants, "."]));
        blocks.extend(self.limit_sources());
        blocks
    }

    /// What was assumed of the water and its control, each with its basis.
    pub(super) fn assumed(&self) -> impl Iterator<Item = Words> {
        super::assumed(self.beside.slots).map(|(value, basis)| {
            let shown = crate::report::shown::assumed_text(value, self.units);
            words![
                Words::given(&value.path),
                " = ",
                number("assumptions.si", shown),
                ": ",
                constant(basis)
            ]
        })
    }

    fn ph_basis(&self) -> Words {
        let held = match self.sheet.tower.basis() {
            PhBasis::Held { ph, .. } => Some(words![
                "held at ",
                number("ph_held", with_decimals(ph, 2)),
                " by acid where it would be higher, under the carbon dioxide "
            ]),
            PhBasis::Free(_) => None,
        };
        let gas = |log10| gas("log10_carbon_dioxide", log10);
        let origin = match (self.sheet.ph_origin, self.sheet.tower.basis().gas()) {
            (
                PhOrigin::Measured { ph, cycles: at },
                CarbonDioxide::Pressure(log10) | CarbonDioxide::Reading { log10, .. },
            ) => words![
                "that a pH of ",
                number("ph_measured", with_decimals(ph, 2)),
                " measured at ",
                number("ph_measured_at_cycles", cycles(at)),
                " cycles implies",
                self.sheet.low_ph.map(|_| ", up to that of the lowest published line"),
                ", ",
                gas(log10),
                " atm",
                match held {
                    Some(_) => "; it is kept at every number of cycles.",
                    None => {
                        "; it is kept at fewer cycles, and falls with more alkalinity as along the published line."
                    }
                }
            ],
            (_, CarbonDioxide::Pressure(log10) | CarbonDioxide::Reading { log10, .. }) => {
                words!["that is stated, ", gas(log10), " atm."]
            }
            (_, CarbonDioxide::FieldLine { toward_air, .. }) => words![
                "of field lines of pH against alkalinity: ",
                constant("1.6 log10(alkalinity) + 4.4"),
                " (Kunz) at ",
                constant("0"),
                ", ",
                constant("1.465 log10(alkalinity) + 4.54"),
                " (Puckorius) at ",
                constant("-1"),
                ", equilibrium with air at ",
                constant("1"),
                "; this page is for ",
                number("toward_air", with_decimals(toward_air, 2)),
                " (",
                constant(LINES_SOURCE),
                ")."
            ],
        };
        let free = held.is_none().then_some("from equilibrium with the carbon dioxide ");
        words!["pH: ", held, free, origin]
    }
}

/// What was made up in a source, and from what.
fn made_up(source: &SourceWater) -> Words {
    let ions = source.made_up_ions.iter().map(|(ion, moles)| {
        let shown = significant(ion.milligram_per_litre(*moles), 3);
        words![number("sources.made_up_mg_per_l", shown), " mg/L of ", ion.name()]
    });
    let why = match source.completed_from {
        None => "as the file asks (balance_with).",
        Some(CompletedFrom::Conductivity) => {
            "so that the charges balance and the water conducts what was measured. Nobody analysed them."
        }
        Some(CompletedFrom::Charges) => {
            "the fewest that bring the charges into balance: no conductivity asks for more. Nobody analysed them."
        }
    };
    words![
        " MADE UP: ",
        Words::joined(ions, ", "),
        " (",
        number("sources.made_up_meq_per_l", with_decimals(1e3 * source.made_up, 2)),
        " meq/L in all), ",
        why
    ]
}

/// Totals that a laboratory found, beside those of the ions.
fn checks(source: &SourceWater) -> Option<Block> {
    let shown = |value: f64| significant(value, 3);
    let pair = |name: &'static str, keys: [&'static str; 2], found: Option<f64>, computed: f64| {
        let found = found?;
        let [of_found, of_computed] = keys;
        Some(words![
            name,
            number(of_found, shown(found)),
            " found, ",
            number(of_computed, shown(computed)),
            " by its ions"
        ])
    };
    let (dried, ions) = (source.dried_solids, source.dissolved_ions);
    let p_alkalinity = source.p_alkalinity.and_then(|(found, computed)| {
        let keys =
            ["sources.p_alkalinity_found_mg_per_l", "sources.p_alkalinity_computed_mg_per_l"];
        pair("P alkalinity as CaCO3 ", keys, Some(found), computed?)
    });
    let dried = pair(
        "dissolved solids by drying ",
        ["sources.dried_solids_found_mg_per_l", "sources.dried_solids_computed_mg_per_l"],
        dried.0,
        dried.1,
    );
    let ions = pair(
        "sum of ions ",
        ["sources.dissolved_ions_found_mg_per_l", "sources.dissolved_ions_computed_mg_per_l"],
        ions.0,
        ions.1,
    );
    let all: Vec<Words> = [dried, ions, p_alkalinity].into_iter().flatten().collect();
    (!all.is_empty())
        .then(|| Block::paragraph(words!["Checks, mg/L: ", Words::joined(all, "; "), "."]))
}

/// What of an analysis is more than a change of units, and what is read and not judged.
fn as_given(source: &SourceWater) -> Vec<Block> {
    let given = || source.as_given.iter().map(|entry| &entry.given);
    let remarks = given().filter(|entry| entry.used.is_some()).filter_map(|entry| {
        let remark = entry.remark.as_deref()?;
        Some(Words::given(&format!("{} = {}: {remark}", entry.key, entry.written)))
    });
    let listed: Vec<String> = given()
        .filter(|entry| entry.used.is_none())
        .map(|entry| match &entry.remark {
            Some(reason) => format!("{} {} ({reason})", entry.key, entry.written),
            None => format!("{} {}", entry.key, entry.written),
        })
        .collect();
    let remarks = remarks.map(|words| Block::paragraph(words![words, "."]));
    let listed = (!listed.is_empty()).then(|| {
        Block::paragraph(words!["Read and not judged: ", Words::given(&listed.join(", ")), "."])
    });
    remarks.chain(listed).collect()
}

/// The cycles that a limit allows, in its column.
fn allows(binding: &Binding) -> Words {
    match binding.allows {
        Allows::Nothing => constant("below 1").into(),
        Allows::UpTo(at) => number("limits.allowed_cycles", cycles(at)).into(),
        Allows::All => constant(format!("> {MOST_CYCLES}")).into(),
        Allows::From(at) => words!["from ", number("limits.from_cycles", cycles(at))],
        Allows::NeverMet => "never met".into(),
        Allows::Unknown => "unknown".into(),
    }
}

fn gas(key: &'static str, log10: f64) -> Words {
    words!["log10 pCO2 ", number(key, with_decimals(log10, 2))]
}

/// What sets a limit, in the width of its column.
fn short(of: &str) -> String {
    of.split(',').next().unwrap_or_default().chars().take(16).collect()
}

fn signed_percent(part: f64) -> String {
    let shown = with_decimals(100.0 * part, 1);
    let sign = if shown.starts_with('-') || shown == "0.0" { "" } else { "+" };
    format!("{sign}{shown} %")
}

/// A name, three numbers, words.
fn table_of_five() -> Table {
    let numbers = [10, 11, 11].map(Column::right);
    let (name, last) = (Column::left(30), Column::left(0).after(2));
    Table::new([name].into_iter().chain(numbers).chain([last]).collect::<Vec<_>>())
}

/// A column a water, under its cycles.
fn table_of(waters: &[ConcentratedWater]) -> Table {
    let columns = waters.iter().map(|_| Column::right(14));
    let mut table = Table::new([Column::left(38)].into_iter().chain(columns).collect::<Vec<_>>());
    let head = waters
        .iter()
        .map(|w| number("waters.cycles", format!("{} cycles", cycles(w.cycles))).into());
    table.head([Words::default()].into_iter().chain(head));
    table
}

fn saturation_table(waters: &[ConcentratedWater]) -> Block {
    let mut table = table_of(waters);
    for mineral in Mineral::ALL {
        let cell = |water: &ConcentratedWater| {
            let at = |key, solved: &SolvedWater| {
                let index = solved.saturation_index(mineral)?;
                Some(number(key, with_decimals(index, 2)))
            };
            let basin = at("waters.saturation_index", &water.basin)?;
            let surface = at("waters.saturation_index_at_surface", &water.surface)?;
            Some(words![basin, " / ", surface])
        };
        let cells: Option<Vec<Words>> = waters.iter().map(cell).collect();
        if let Some(cells) = cells {
            table.row([Words::from(mineral.name())].into_iter().chain(cells));
        }
    }
    Block::Table(table)
}

/// Silica where the basin is coldest.
fn coldest_silica(waters: &[ConcentratedWater]) -> Option<Words> {
    let index = |water: &ConcentratedWater| {
        let index = water.coldest.as_ref()?.saturation_index(Mineral::AmorphousSilica)?;
        Some(number("waters.silica_index_in_coldest_basin", with_decimals(index, 2)).into())
    };
    let indices: Vec<Words> = waters.iter().map(index).collect::<Option<_>>()?;
    let names = words!["Amorphous silica in the coldest basin, in the order of the columns: "];
    (!indices.is_empty()).then(|| words![names, Words::joined(indices, ", "), "."])
}

fn trade_table(waters: &[ConcentratedWater]) -> Block {
    let mut table = table_of(waters);
    let shown = |key, value: Option<String>| {
        value.map_or(Words::from("-"), |value| number(key, value).into())
    };
    for measure in TRADE {
        let cells = waters.iter().map(|water| {
            shown("waters.index", measure.of(water).map(|value| measure.shown(value)))
        });
        table.row([Words::from(name(measure))].into_iter().chain(cells));
    }
    let off = waters.iter().map(|water| {
        let off = langelier_above_calcite(water).map(|off| with_decimals(off, 2));
        shown("waters.langelier_above_calcite", off)
    });
    table.row([Words::from("Langelier above the calcite SI by")].into_iter().chain(off));
    Block::Table(table)
}
