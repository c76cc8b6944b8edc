//! The blowdown target as people and programs read it.

use super::marks::end_of_head;
use super::text::{Style, equation, heading, page_head, paragraph, write_line};
use super::warnings::{NoticeOut, noticed, notices_out};
use crate::blowdown::limit::{Bound, Limit, Measure};
use crate::blowdown::target::{Allows, Binding, MOST_CYCLES, remedy};
use crate::blowdown::{ConcentratedWater, PhBasis};
use crate::chemistry::{Constituent, Mineral};
use crate::model::{Balance, PhOrigin, TargetSheet, Verdict};
use crate::quantity::{Quantity, UnitSystem, significant, unit, with_decimals};
use crate::site::Value;
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// What people are told about discharging blowdown and feeding acid.
pub const CAUTION: &str = "Caution: blowdown carries treatment chemicals and concentrated salts: \
discharge it only as the permit and the local code allow. Acid burns: only trained people handle \
and feed it, behind interlocks. Longer retention raises the biological risk, Legionella included: \
a water management plan by a competent person stands above any saving of water.";

struct Page<'a> {
    sheet: &'a TargetSheet,
    waters: &'a [ConcentratedWater],
    style: Style,
}

/// The target as text of 80 columns. `source` names the file; `assumed` are the inputs that nobody
/// stated, `waters` those that are shown.
pub fn text(
    sheet: &TargetSheet,
    source: &str,
    (assumed, waters): (&[Value], &[ConcentratedWater]),
    style: Style,
) -> String {
    let page = Page { sheet, waters, style };
    let mut text = String::new();
    page_head(&mut text, (&sheet.name, source), "Blowdown target", style.bold);
    page.answer(&mut text);
    page.warnings(&mut text);
    page.limits(&mut text);
    page.waters(&mut text);
    page.set_point(&mut text);
    page.valve(&mut text);
    page.real_cycles(&mut text);
    page.analysis(&mut text);
    page.basis(&mut text, assumed);
    text.push('\n');
    paragraph(&mut text, "", CAUTION);
    super::marks::finished(text, style)
}

pub(crate) fn cycles(number: f64) -> String {
    if number < 10.0 { with_decimals(number, 2) } else { significant(number, 3) }
}

impl Page<'_> {
    fn heading(&self, text: &mut String, title: &str) {
        heading(text, title, self.style.bold);
    }

    /// kg/s as a flow of the page's unit.
    fn flow(&self, kg_per_s: f64) -> String {
        let unit = Quantity::VolumeFlow.shown_in(self.style.units);
        let si = unit::CUBIC_METRE_PER_HOUR.to_si(Balance::reference_m3_per_h(kg_per_s));
        format!("{} {}", significant(unit.of_si(si), 3), unit.symbol)
    }

    fn temperature(&self, celsius: f64) -> String {
        let (number, symbol) = match self.style.units {
            UnitSystem::Si => (celsius, "°C"),
            UnitSystem::UsCustomary => (celsius * 1.8 + 32.0, "°F"),
        };
        format!("{} {symbol}", with_decimals(number, 0))
    }

    fn answer(&self, text: &mut String) {
        let sheet = self.sheet;
        self.heading(text, "ANSWER");
        let controlling = sheet.bindings.first().filter(|binding| binding.ceiling().is_some());
        let Some(target) = sheet.target_cycles else {
            self.no_target(text, controlling);
            return;
        };
        let lead = sheet.unmet_floor().map_or("Hold".into(), |unmet| {
            format!(
                "No cycles satisfy every limit: {} is never at least {} ({}) below the ceiling. By the \
                 ceilings alone, hold",
                unmet.limit.measure.name(),
                measured(unmet.limit.measure, unmet.limit.value),
                unmet.limit.of
            )
        });
        let mut words = format!("{lead} {} cycles of concentration.", cycles(target));
        if let Some(set_point) = &sheet.set_point {
            let number = set_point.conductivity * 1e4;
            let _ = write!(
                words,
                " Set the controller to {} uS/cm at 25 °C, opening there and shutting at {} uS/cm.",
                significant(number, 3),
                significant(number * (1.0 - sheet.dead_band), 3),
            );
        }
        paragraph(text, "", &words);
        if sheet.present_cycles > target && sheet.present_cycles.is_finite() {
            let words =
                format!("Today's {} cycles are more than that.", cycles(sheet.present_cycles));
            paragraph(text, "", &words);
        }
        let by_limit = controlling
            .filter(|binding| binding.ceiling().is_some_and(|c| c <= sheet.losses_allow));
        let words = match by_limit {
            Some(binding) => {
                let mut words = format!("Controlling: {}.", self.clause(binding));
                let _ = write!(words, " What moves it: {}.", remedy(binding.limit.measure));
                let _ = match self.next(binding) {
                    Some(next) => {
                        write!(words, " With it out of the way: {}.", self.clause(next))
                    }
                    None => write!(words, " Nothing else binds up to {MOST_CYCLES} cycles."),
                };
                words
            }
            None if sheet.losses_allow < MOST_CYCLES => format!(
                "Controlling: drift, leakage and overflow, which alone hold {} cycles with the \
                 blowdown shut: mend them first.",
                cycles(sheet.losses_allow)
            ),
            None => format!(
                "No limit that the analysis covers binds up to {MOST_CYCLES} cycles, and no tower is \
                 run harder."
            ),
        };
        paragraph(text, "", &words);
        self.saving(text, target);
    }

    /// Why there is nothing to aim at.
    fn no_target(&self, text: &mut String, controlling: Option<&Binding>) {
        let exceeded = controlling.filter(|binding| binding.allows == Allows::Nothing);
        let Some(binding) = exceeded else {
            paragraph(
                text,
                "",
                "Drift, leakage and overflow alone are more than any blowdown: mend them first.",
            );
            return;
        };
        let measure = binding.limit.measure;
        let value = binding.at_one_cycle.map_or("?".into(), |value| self::measured(measure, value));
        let words = format!(
            "The makeup cannot be concentrated within the limits: {} is {value} already at 1 cycle \
             ({} is allowed). What moves it: {}.",
            measure.name(),
            self::measured(measure, binding.limit.value),
            remedy(measure),
        );
        paragraph(text, "", &words);
        if let Measure::SaturationIndex(mineral) = measure {
            let words = format!(
                "Where a treatment carries more, state it: [limits.saturation_index] {} = ...",
                mineral.key()
            );
            paragraph(text, "", &words);
        }
        if let Some(next) = self.next(binding) {
            let words = format!("With it out of the way: {}.", self.clause(next));
            paragraph(text, "", &words);
        }
    }

    fn warnings(&self, text: &mut String) {
        if self.sheet.warnings.is_empty() {
            return;
        }
        self.heading(text, "WARNINGS");
        for warning in &self.sheet.warnings {
            noticed(text, warning);
        }
    }

    /// The tightest limit on something else.
    fn next(&self, first: &Binding) -> Option<&Binding> {
        let is_other =
            |next: &&Binding| next.limit.measure != first.limit.measure && next.ceiling().is_some();
        self.sheet.bindings.iter().find(is_other)
    }

    fn clause(&self, binding: &Binding) -> String {
        let limit = &binding.limit;
        let side = if limit.bound == Bound::Most { "at most" } else { "at least" };
        let allows = binding.ceiling().map_or("-".into(), cycles);
        format!(
            "{}, {side} {} ({}), at {allows} cycles",
            limit.measure.name(),
            measured(limit.measure, limit.value),
            limit.of
        )
    }

    fn saving(&self, text: &mut String, target: f64) {
        let sheet = self.sheet;
        let (now, Some(then)) = &sheet.balances else { return };
        if !sheet.present_cycles.is_finite() {
            return;
        }
        let saved = now.makeup_kg_per_s - then.makeup_kg_per_s;
        let percent = 100.0 * saved / now.makeup_kg_per_s;
        let direction = if saved >= 0.0 { "less" } else { "more" };
        let origin = match sheet.conductivity_ratio {
            Some(_) if sheet.cycles_are_apparent => ", apparent,".to_owned(),
            Some(ratio) => format!(" ({} by the ratio of conductivities)", cycles(ratio)),
            None => String::new(),
        };
        let mut words = format!(
            "Blowdown {}, makeup {}; at today's {} cycles{origin} {} and {}: {} ({} %) {direction} \
             makeup.",
            self.flow(then.blowdown_kg_per_s),
            self.flow(then.makeup_kg_per_s),
            cycles(sheet.present_cycles),
            self.flow(now.blowdown_kg_per_s),
            self.flow(now.makeup_kg_per_s),
            self.flow(saved.abs()),
            with_decimals(percent.abs(), 0),
        );
        if let Some(volume) = sheet.volume_m3 {
            let half_life = |balance: &crate::balance::WaterBalance| {
                std::f64::consts::LN_2 * volume
                    / Balance::reference_m3_per_h(balance.liquid_losses_kg_per_s())
            };
            let _ = write!(
                words,
                " Half of what is in the water is renewed in {} h (today {} h){}",
                significant(half_life(then), 2),
                significant(half_life(now), 2),
                if target > sheet.present_cycles {
                    ": longer retention raises the biological risk."
                } else {
                    "."
                }
            );
        }
        paragraph(text, "", &words);
    }

    fn limits(&self, text: &mut String) {
        self.heading(text, "LIMITS, THE TIGHTEST FIRST");
        line(text, ["", "allowed", "at 1 cycle", "binds at", ""]);
        line(text, ["", "", "", "cycles", "set by"]);
        end_of_head(text);
        for binding in &self.sheet.bindings {
            let limit = &binding.limit;
            let bound = if limit.bound == Bound::Most { "<=" } else { ">=" };
            let allows = match binding.allows {
                Allows::Nothing => "below 1".into(),
                Allows::UpTo(at) => cycles(at),
                Allows::All => format!("> {MOST_CYCLES}"),
                Allows::From(at) => format!("from {}", cycles(at)),
                Allows::NeverMet => "never met".into(),
                Allows::Unknown => "unknown".into(),
            };
            let plain = |value| measured_plain(limit.measure, value);
            line(
                text,
                [
                    &with_unit(limit.measure),
                    &format!("{bound} {}", plain(limit.value)),
                    &binding.at_one_cycle.map_or("-".into(), plain),
                    &allows,
                    &short(&limit.of),
                ],
            );
        }
        let come_back: Vec<String> = self
            .sheet
            .bindings
            .iter()
            .filter(|binding| binding.crossings.len() > 1)
            .map(|binding| {
                let at: Vec<String> = binding.crossings.iter().map(|c| cycles(*c)).collect();
                format!(
                    "{} crosses its limit at {} cycles",
                    binding.limit.measure.name(),
                    at.join(", ")
                )
            })
            .collect();
        for words in come_back {
            paragraph(text, "", &format!("{words}: the first of them is taken."));
        }
        if self.sheet.bindings.iter().any(|binding| binding.allows == Allows::Unknown) {
            paragraph(text, "", "unknown: the analysis does not hold it.");
        }
        paragraph(
            text,
            "",
            "SI is the saturation index of the solved water, each mineral at its own worst \
             temperature; it is never held against a band of the trade's indices.",
        );
    }

    fn waters(&self, text: &mut String) {
        /// Columns that a page holds.
        const MOST_COLUMNS: usize = 3;
        let waters = &self.waters[..self.waters.len().min(MOST_COLUMNS)];
        self.heading(text, "THE CIRCULATING WATER");
        let head: Vec<String> =
            waters.iter().map(|water| format!("{} cycles", cycles(water.cycles))).collect();
        water_line(text, "", &head);
        end_of_head(text);
        let constituents = [
            Constituent::Calcium,
            Constituent::Magnesium,
            Constituent::Alkalinity,
            Constituent::Chloride,
            Constituent::Sulfate,
            Constituent::Silica,
            Constituent::Phosphate,
        ];
        let measures = [Measure::Ph, Measure::Conductivity, Measure::DissolvedSolids]
            .into_iter()
            .chain(constituents.map(Measure::Constituent));
        for measure in measures {
            let values = waters.iter().map(|water| measure.of(water));
            let values: Option<Vec<f64>> = values.collect();
            let Some(values) = values.filter(|v| v.iter().any(|value| *value != 0.0)) else {
                continue;
            };
            let shown: Vec<String> = values.iter().map(|v| measured_plain(measure, *v)).collect();
            water_line(text, &with_unit(measure), &shown);
        }
        if waters.iter().any(|water| water.acid > 0.0) {
            let shown: Vec<String> = waters
                .iter()
                .map(|water| significant(1e3 * water.acid / water.cycles, 3))
                .collect();
            water_line(text, "acid for the makeup, meq/L", &shown);
        }
        text.push('\n');
        let basin = self.temperature(self.sheet.basin_celsius);
        let surface = self.temperature(self.sheet.surface_celsius);
        let words = format!("Saturation index in the basin at {basin} / on a surface of {surface}");
        paragraph(text, "", &words);
        water_line(text, "", &head);
        end_of_head(text);
        for mineral in Mineral::ALL {
            let shown: Option<Vec<String>> = waters
                .iter()
                .map(|water| {
                    let at = |solved: &crate::chemistry::speciation::SolvedWater| {
                        solved.saturation_index(mineral).map(|index| with_decimals(index, 2))
                    };
                    Some(format!("{} / {}", at(&water.basin)?, at(&water.surface)?))
                })
                .collect();
            if let Some(shown) = shown {
                water_line(text, mineral.name(), &shown);
            }
        }
        text.push('\n');
        paragraph(
            text,
            "",
            "Indices of the trade in the basin, beside the saturation index of calcite",
        );
        water_line(text, "", &head);
        end_of_head(text);
        for measure in [
            Measure::Langelier,
            Measure::Ryznar,
            Measure::Puckorius,
            Measure::LarsonSkold,
            Measure::CalciumSulfateProduct,
            Measure::MagnesiumSilicaProduct,
        ] {
            let shown: Vec<String> = waters
                .iter()
                .map(|water| measure.of(water).map_or("-".into(), |v| measured_plain(measure, v)))
                .collect();
            water_line(text, &measure.name(), &shown);
        }
        let off = |water: &ConcentratedWater| {
            let index = water.basin.saturation_index(Mineral::Calcite)?;
            Some(with_decimals(water.simple.langelier() - index, 2))
        };
        let shown: Vec<String> =
            waters.iter().map(|water| off(water).unwrap_or("-".into())).collect();
        water_line(text, "Langelier above the calcite SI by", &shown);
        if self.waters.len() > MOST_COLUMNS {
            let words = format!(
                "The first {MOST_COLUMNS} of {} waters; json and csv list them all.",
                self.waters.len()
            );
            paragraph(text, "", &words);
        }
        paragraph(
            text,
            "",
            "The simple forms take all alkalinity for bicarbonate and leave ion pairs out, so that \
             they read high in concentrated water; Larson-Skold was fitted on Great Lakes water. \
             The product rules (Ca x SO4 up to 500 000, Mg x SiO2 up to 35 000, from memory) \
             ignore temperature and pairs.",
        );
    }

    fn set_point(&self, text: &mut String) {
        let sheet = self.sheet;
        let (computed, measured) = sheet.makeup_conductivity;
        self.heading(text, "SET POINT");
        let us = |siemens: f64| format!("{} uS/cm", significant(siemens * 1e4, 3));
        match measured {
            Some(measured) => {
                let off = 100.0 * (computed / measured - 1.0);
                let words = format!(
                    "Conductivity of the makeup at 25 °C: measured {}, computed from its ions {} \
                     ({} %).",
                    us(measured),
                    us(computed),
                    signed(off)
                );
                paragraph(text, "", &words);
            }
            None => paragraph(
                text,
                "",
                &format!(
                    "Conductivity of the makeup at 25 °C: computed from its ions {}; state the \
                     measured one for a set point.",
                    us(computed)
                ),
            ),
        }
        let Some(set_point) = &sheet.set_point else { return };
        let real = match set_point.cycles_of_plain {
            Some(real) => format!("which would really hold {} cycles", cycles(real)),
            None => "which no water within these limits conducts".into(),
        };
        let words = format!(
            "Set point for {} cycles: {}. Cycles times the makeup's conductivity would be {}, \
             {real}: conductivity is not conserved. A titration should then find {} mg/L of \
             chloride as Cl.",
            cycles(set_point.cycles),
            us(set_point.conductivity),
            us(set_point.plain),
            significant(set_point.chloride, 3),
        );
        paragraph(text, "", &words);
        if let (Some(measured), [_, ..]) = (measured, sheet.season.as_slice()) {
            let ratio = set_point.conductivity / measured;
            let ends: Vec<String> = sheet
                .season
                .iter()
                .map(|end| format!("{} for a makeup of {}", us(end.set_point), us(end.makeup)))
                .collect();
            let words = format!(
                "As a ratio {} times the makeup's conductivity: {}.",
                significant(ratio, 3),
                ends.join(", ")
            );
            paragraph(text, "", &words);
        }
    }

    fn valve(&self, text: &mut String) {
        let sheet = self.sheet;
        if sheet.valve.is_none() && sheet.valve_size.is_none() {
            return;
        }
        self.heading(text, "BLOWDOWN VALVE");
        let unit = Quantity::VolumeFlow.shown_in(self.style.units);
        let flow = |m3_per_h: f64| {
            let number = unit.of_si(unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h));
            format!("{} {}", significant(number, 3), unit.symbol)
        };
        if let Some(valve) = &sheet.valve {
            let words = format!(
                "A valve of {} for a mean blowdown of {}: open {} and shut {} by turns in the dead \
                 band of {} % below the set point, {} % of the time open; the cycles average {}.",
                flow(valve.valve_flow),
                flow(valve.mean_flow),
                duration(valve.open_hours),
                duration(valve.shut_hours),
                significant(100.0 * sheet.dead_band, 2),
                with_decimals(100.0 * valve.duty, 0),
                cycles(sheet.target_cycles.unwrap_or(1.0) * (1.0 - 0.5 * sheet.dead_band)),
            );
            paragraph(text, "", &words);
        }
        if let Some((size, kv, cv)) = sheet.valve_size {
            let words = format!(
                "Size: {} (2.5 times the mean, common practice: 2 to 3) needs Kv {}, Cv {} at the \
                 stated pressure drop (IEC 60534-2-1).",
                flow(size),
                significant(kv, 2),
                significant(cv, 2)
            );
            paragraph(text, "", &words);
        }
    }

    fn real_cycles(&self, text: &mut String) {
        let Some(real) = &self.sheet.real else { return };
        self.heading(text, "REAL CYCLES, FROM THE ANALYSES");
        line(text, ["", "makeup", "tower", "cycles", ""]);
        end_of_head(text);
        for ion in &real.ions {
            let verdict = match ion.verdict {
                Verdict::Tracer => "the tracer",
                Verdict::Conserved => "",
                Verdict::Lost => "lags",
                Verdict::Added => "leads",
            };
            let measure = Measure::Constituent(ion.constituent);
            line(
                text,
                [
                    &with_unit(measure),
                    &significant(ion.makeup, 3),
                    &significant(ion.circulating, 3),
                    &cycles(ion.cycles),
                    verdict,
                ],
            );
        }
        let says = |verdict, words: &str| {
            let ions: Vec<&str> = real
                .ions
                .iter()
                .filter(|ion| ion.verdict == verdict)
                .map(|ion| ion.constituent.name())
                .collect();
            (!ions.is_empty()).then(|| format!("{}: {words}.", ions.join(", ")))
        };
        let verdicts = [
            says(Verdict::Lost, "precipitating, or lost on the way (alkalinity also to acid)"),
            says(Verdict::Added, "added by treatment"),
        ];
        for words in verdicts.into_iter().flatten() {
            paragraph(text, "", &words);
        }
        if real.chloride_fed > 0.0 {
            let words = format!(
                "The oxidant that is fed accounts for {} mg/L of chloride: taken off before the \
                 ratio.",
                significant(real.chloride_fed, 3)
            );
            paragraph(text, "", &words);
        }
        if let Some(apparent) = real.apparent {
            let words = format!(
                "By conductivity {} apparent cycles, by {} {} real ones.",
                cycles(apparent),
                real.tracer.name(),
                cycles(real.cycles)
            );
            paragraph(text, "", &words);
        }
    }

    fn analysis(&self, text: &mut String) {
        self.heading(text, "ANALYSES OF THE MAKEUP");
        for source in &self.sheet.sources {
            let error = source.ions.error();
            let mut words = format!(
                "{}: {} % of the makeup; cations {} meq/L, anions {} meq/L ({} % of their sum).",
                source.name,
                with_decimals(100.0 * source.share, 0),
                with_decimals(1e3 * source.ions.cations, 2),
                with_decimals(1e3 * source.ions.anions, 2),
                signed(100.0 * error)
            );
            if source.made_up > 0.0 {
                let _ = write!(
                    words,
                    " The difference of {} meq/L was made up as the file asks.",
                    with_decimals(1e3 * source.made_up, 2)
                );
            }
            paragraph(text, "", &words);
        }
    }

    fn basis(&self, text: &mut String, assumed: &[Value]) {
        let sheet = self.sheet;
        self.heading(text, "WHAT IT RESTS ON");
        let gas = |log10: f64| format!("log10 pCO2 {}", with_decimals(log10, 2));
        let basis = match (sheet.ph_origin, sheet.tower.basis()) {
            (PhOrigin::Measured { ph, cycles: at }, PhBasis::CarbonDioxide(log10)) => format!(
                "pH: measured {} at {} cycles, which implies {} atm; that carbon dioxide is kept at \
                 every number of cycles.",
                with_decimals(ph, 2),
                cycles(at),
                gas(log10)
            ),
            (PhOrigin::CarbonDioxide { assumed: true }, PhBasis::CarbonDioxide(log10)) => format!(
                "pH: from equilibrium at {} atm, ASSUMED: measure the pH of the tower, nothing \
                 moves the answer more.",
                gas(log10)
            ),
            (PhOrigin::CarbonDioxide { .. }, PhBasis::CarbonDioxide(log10)) => {
                format!("pH: from equilibrium at the stated {} atm.", gas(log10))
            }
            (PhOrigin::Held { measured }, PhBasis::Held { ph, log10_carbon_dioxide, .. }) => {
                format!(
                    "pH: held at {} by acid where it would be higher, under {} atm{}.",
                    with_decimals(ph, 2),
                    gas(log10_carbon_dioxide),
                    measured.map_or(String::new(), |ph| format!(
                        ", which the pH of {} measured in the tower implies",
                        with_decimals(ph, 2)
                    ))
                )
            }
            _ => "pH: 1.6 log10(alkalinity) + 4.4 (Kunz, Yen and Hess 1977, from memory).".into(),
        };
        paragraph(text, "", &basis);
        if let Some(band) = sheet.band {
            let end = |(log10, allowed): (f64, Option<f64>)| {
                format!("{} at {}", allowed.map_or("no ceiling".into(), cycles), gas(log10))
            };
            let words =
                format!("Cycles allowed over the band: {}, {}.", end(band[0]), end(band[1]));
            paragraph(text, "", &words);
        }
        if sheet.surface_is_assumed {
            let words = format!(
                "Hottest surface: {} assumed, hot water and 10 K; state hottest_surface.",
                self.temperature(sheet.surface_celsius)
            );
            paragraph(text, "", &words);
        }
        let oxidant = sheet.tower.oxidant.chloride(sheet.present_cycles);
        if oxidant > 0.0 {
            let words = format!(
                "Oxidant: fed as hypochlorite, it adds {} mg/L of chloride at {} cycles (mole for \
                 mole, with as much sodium). Salts of other products are not counted.",
                significant(Constituent::Chloride.milligram_per_litre(oxidant), 3),
                cycles(sheet.present_cycles)
            );
            paragraph(text, "", &words);
        }
        for value in assumed {
            let Some(basis) = value.assumed else { continue };
            let of_the_water = ["ph.", "blowdown.", "circulating_water."];
            if of_the_water.iter().any(|table| value.path.starts_with(table)) {
                let shown = super::text::assumed_text(value, self.style.units);
                paragraph(text, "", &format!("{} = {shown}: {basis}", value.path));
            }
        }
        paragraph(text, "", &format!("Equilibrium constants: {}.", crate::chemistry::SOURCE));
        let mut sources: Vec<(&str, &str)> = Vec::new();
        for Limit { of, source, .. } in sheet.bindings.iter().map(|binding| &binding.limit) {
            if !sources.contains(&(of, source)) {
                sources.push((of, source));
            }
        }
        for (of, source) in sources {
            paragraph(text, "", &format!("Limits of {of}: {source}."));
        }
    }
}

/// What sets a limit, in the width of its column.
fn short(of: &str) -> String {
    of.split(',').next().unwrap_or_default().chars().take(16).collect()
}

fn signed(number: f64) -> String {
    let text = with_decimals(number.abs(), 1);
    if number < 0.0 { format!("-{text}") } else { format!("+{text}") }
}

fn duration(hours: f64) -> String {
    if hours < 2.0 {
        format!("{} min", significant(60.0 * hours, 2))
    } else {
        format!("{} h", significant(hours, 2))
    }
}

fn with_unit(measure: Measure) -> String {
    match (measure, measure.unit()) {
        (_, unit) if unit.is_empty() => measure.name(),
        (_, unit) => format!("{}, {unit}", measure.name()),
    }
}

/// A value with as many digits as the measure deserves.
pub(crate) fn measured_plain(measure: Measure, value: f64) -> String {
    match measure {
        Measure::Ph
        | Measure::SaturationIndex(_)
        | Measure::Langelier
        | Measure::Ryznar
        | Measure::Puckorius
        | Measure::LarsonSkold => with_decimals(value, 2),
        Measure::Cycles => cycles(value),
        _ => significant(value, 3),
    }
}

pub(crate) fn measured(measure: Measure, value: f64) -> String {
    let unit = measure.unit();
    let number = measured_plain(measure, value);
    match measure {
        Measure::SaturationIndex(_) => format!("SI {number}"),
        _ if unit.is_empty() => number,
        _ => format!("{number} {unit}"),
    }
}

fn line(text: &mut String, cells: [&str; 5]) {
    let [name, allowed, at_one, cycles, of] = cells;
    let fits = |words: &str, width: usize| words.chars().take(width).collect::<String>();
    let name = fits(name, 30);
    let line = format!(
        "{name:<30}\u{1f}{allowed:>10}\u{1f}{at_one:>11}\u{1f}{cycles:>11}  \u{1f}{}",
        fits(of, 26)
    );
    write_line(text, &line);
}

fn water_line(text: &mut String, name: &str, values: &[String]) {
    let name: String = name.chars().take(38).collect();
    let mut line = format!("{name:<38}");
    for value in values {
        let _ = write!(line, "\u{1f}{value:>14}");
    }
    write_line(text, &line);
}

/// Each equation with its numbers and its source.
pub fn working(sheet: &TargetSheet, style: Style) -> String {
    let mut text = String::new();
    heading(&mut text, "WORKING (flows in kg/s, molalities in mol/kg)", style.bold);
    let mut equation = |lines: &[String], source: &str| equation(&mut text, lines, source);
    let eight = |number: f64| significant(number, 8);
    if let (Some(cycles), (_, Some(balance))) = (sheet.target_cycles, &sheet.balances) {
        let losses = balance.losses();
        equation(
            &[
                "blowdown = evaporation / (cycles - 1) - drift - leakage - overflow".into(),
                format!(
                    "= {} / ({} - 1) - {} - {} - {}",
                    eight(losses.evaporation_kg_per_s),
                    eight(cycles),
                    eight(losses.drift_kg_per_s),
                    eight(losses.leakage_kg_per_s),
                    eight(losses.overflow_kg_per_s)
                ),
                format!("= {} kg/s", significant(balance.blowdown_kg_per_s, 5)),
            ],
            "balance of dissolved solids; UFC 3-240-13FN (US Department of Defense, 2005), ch. 4",
        );
    }
    if let (Some(set_point), (computed, Some(measured))) =
        (&sheet.set_point, sheet.makeup_conductivity)
    {
        equation(
            &[
                "set_point = concentrated_computed * makeup_measured / makeup_computed".into(),
                format!(
                    "= {} * {} / {}",
                    eight(set_point.conductivity * computed / measured * 1e4),
                    eight(measured * 1e4),
                    eight(computed * 1e4)
                ),
                format!("= {} uS/cm", significant(set_point.conductivity * 1e4, 5)),
            ],
            "conductivity at 25 degC = density x sum of z^2 F^2 D / (R T) x molality x 10^-x, \
             x = 0.816 / ln 10 x |z| sqrt(I) / (1 + 1.554 sqrt(I) / (1 + I^0.75)); diffusion \
             coefficients and form after Appelo in phreeqc (U.S. Geological Survey)",
        );
    }
    if let Some(water) = sheet.waters.get(usize::from(sheet.target_cycles.is_some())) {
        let simple = &water.simple;
        equation(
            &[
                "langelier = ph - (9.3 + (log10(solids) - 1) / 10 - 13.12 * log10(celsius + 273) + \
                 34.55 - log10(calcium) + 0.4 - log10(alkalinity))"
                    .into(),
                format!(
                    "= {} - (9.3 + (log10({}) - 1) / 10 - 13.12 * log10({} + 273) + 34.55 - \
                     log10({}) + 0.4 - log10({}))",
                    eight(simple.ph),
                    eight(simple.dissolved_solids),
                    eight(simple.celsius),
                    eight(simple.calcium),
                    eight(simple.alkalinity)
                ),
                format!("= {}", with_decimals(simple.langelier(), 3)),
            ],
            crate::chemistry::index::SCALING_SOURCE,
        );
    }
    equation(
        &[
            "saturation index = log10(ion activity product) - log10(dissolution constant)".into(),
            "log10(activity coefficient) = -A z^2 sqrt(I) / (1 + B a sqrt(I)) + b I; without a and \
             b: -A z^2 (sqrt(I) / (1 + sqrt(I)) - 0.3 I); uncharged: 0.1 I"
                .into(),
        ],
        "Truesdell and Jones (1974); Davies (1962)",
    );
    let [basin, surface] = sheet.tower.constants();
    let (a, b) = basin.debye_hueckel();
    let words = format!(
        "log10 of the constants at {} and {} degC; A {}, B {} in the basin",
        significant(basin.celsius(), 3),
        significant(surface.celsius(), 3),
        with_decimals(a, 4),
        with_decimals(b, 4)
    );
    paragraph(&mut text, "", &words);
    let degrees = [basin, surface].map(|at| format!("{} degC", significant(at.celsius(), 3)));
    let [cold, hot] = &degrees;
    write_line(&mut text, &format!("  {:<26}\u{1f}{cold:>11}\u{1f}{hot:>11}", ""));
    end_of_head(&mut text);
    let mut columns: Vec<String> = basin
        .formation()
        .zip(surface.formation())
        .filter(|((_, cold), (_, hot))| *cold != 0.0 || *hot != 0.0)
        .map(|((name, cold), (_, hot))| (name.to_string(), cold, hot))
        .chain(Mineral::ALL.into_iter().map(|mineral| {
            let name = format!("{} (s)", mineral.key());
            (name, basin.dissolution(mineral), surface.dissolution(mineral))
        }))
        .map(|(name, cold, hot)| format!("  {name:<26}\u{1f}{cold:>11.3}\u{1f}{hot:>11.3}"))
        .collect();
    for line in columns.drain(..) {
        write_line(&mut text, &line);
    }
    paragraph(&mut text, "    ", crate::chemistry::SOURCE);
    super::marks::finished(text, style)
}

/// A target for programs: fixed keys, SI units, full precision.
#[derive(Debug, Serialize)]
pub struct TargetOut {
    /// Version of this form.
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where the description came from.
    pub source: String,
    /// Cycles to aim at.
    pub target_cycles: Option<f64>,
    /// Cycles of the site file.
    pub present_cycles: f64,
    /// The plain ratio of two conductivities, where the present cycles rest on them.
    pub conductivity_ratio: Option<f64>,
    /// Cycles that the other liquid losses leave.
    pub losses_allow_cycles: Option<f64>,
    /// What fixes the pH.
    pub ph_basis: &'static str,
    /// log10 of the carbon dioxide pressure, atm.
    pub log10_carbon_dioxide: Option<f64>,
    /// Cycles allowed at the ends of the band of carbon dioxide.
    pub band: Vec<BandOut>,
    /// The controlling limit's key.
    pub controlling: Option<String>,
    /// Every limit.
    pub limits: Vec<LimitOut>,
    /// The set point.
    pub set_point: Option<SetPointOut>,
    /// Makeup's conductivity computed from its ions, uS/cm.
    pub makeup_conductivity_computed_us_per_cm: f64,
    /// Makeup's conductivity as measured, uS/cm.
    pub makeup_conductivity_measured_us_per_cm: Option<f64>,
    /// Blowdown and makeup at present and at the target, m3/h.
    pub flows_m3_per_h: BTreeMap<&'static str, f64>,
    /// Ions' own cycles.
    pub real_cycles: Vec<IonOut>,
    /// What looks wrong.
    pub warnings: Vec<NoticeOut>,
    /// Solved waters.
    pub waters: Vec<WaterOut>,
}

/// Allowed cycles at one end of the band.
#[derive(Debug, Serialize)]
pub struct BandOut {
    /// log10 of atm.
    pub log10_carbon_dioxide: f64,
    /// Cycles; none without a ceiling.
    pub allowed_cycles: Option<f64>,
}

/// One limit.
#[derive(Debug, Serialize)]
pub struct LimitOut {
    /// Of what.
    pub key: String,
    /// `most` or `least`.
    pub bound: &'static str,
    /// Value.
    pub value: f64,
    /// Unit of the value.
    pub unit: String,
    /// Cycles that it allows at the most; none where it sets no ceiling.
    pub allowed_cycles: Option<f64>,
    /// All crossings.
    pub crossings: Vec<f64>,
    /// Value at 1 cycle.
    pub at_one_cycle: Option<f64>,
    /// What sets it.
    pub set_by: String,
    /// Who says so.
    pub source: String,
}

/// A controller's set point.
#[derive(Debug, Serialize)]
pub struct SetPointOut {
    /// Cycles.
    pub cycles: f64,
    /// uS/cm at 25 degC.
    pub conductivity_us_per_cm: f64,
    /// Cycles times the makeup's, uS/cm.
    pub plain_us_per_cm: f64,
    /// Cycles that the plain value would hold.
    pub cycles_of_plain: Option<f64>,
    /// mg/L as Cl.
    pub chloride_mg_per_l: f64,
    /// Part of the set point.
    pub dead_band: f64,
}

/// An ion's own cycles.
#[derive(Debug, Serialize)]
pub struct IonOut {
    /// Which.
    pub key: &'static str,
    /// Circulating over makeup.
    pub cycles: f64,
    /// `tracer`, `conserved`, `lost` or `added`.
    pub verdict: &'static str,
}

/// A solved water.
#[derive(Debug, Serialize)]
pub struct WaterOut {
    /// Cycles of concentration.
    pub cycles: f64,
    /// pH in the basin.
    pub ph: f64,
    /// mol/kg.
    pub ionic_strength: f64,
    /// At 25 degC, computed from the ions.
    pub conductivity_us_per_cm: f64,
    /// log10 of atm.
    pub log10_carbon_dioxide: f64,
    /// Acid for a litre of makeup, meq.
    pub acid_meq_per_l_makeup: f64,
    /// In the basin, by mineral.
    pub saturation_index: BTreeMap<&'static str, f64>,
    /// On the hottest surface, by mineral.
    pub saturation_index_at_surface: BTreeMap<&'static str, f64>,
    /// Trade's indices and products, by key.
    pub index: BTreeMap<String, f64>,
}

/// A solved water for programs.
pub fn water_out(water: &ConcentratedWater) -> WaterOut {
    let indices = |solved: &crate::chemistry::speciation::SolvedWater| {
        Mineral::ALL
            .into_iter()
            .filter_map(|mineral| Some((mineral.key(), solved.saturation_index(mineral)?)))
            .collect()
    };
    let trade = [
        Measure::Langelier,
        Measure::Ryznar,
        Measure::Puckorius,
        Measure::LarsonSkold,
        Measure::CalciumSulfateProduct,
        Measure::MagnesiumSilicaProduct,
    ];
    WaterOut {
        cycles: water.cycles,
        ph: water.basin.ph,
        ionic_strength: water.basin.ionic_strength,
        conductivity_us_per_cm: water.conductivity * 1e4,
        log10_carbon_dioxide: water.basin.log10_carbon_dioxide,
        acid_meq_per_l_makeup: 1e3 * water.acid / water.cycles,
        saturation_index: indices(&water.basin),
        saturation_index_at_surface: indices(&water.surface),
        index: trade.into_iter().filter_map(|m| Some((m.key(), m.of(water)?))).collect(),
    }
}

/// A solved water as columns of a table, for CSV: the keys of [`WaterOut`].
pub fn columns(water: &ConcentratedWater) -> Vec<(String, f64)> {
    let out = water_out(water);
    let mut columns: Vec<(String, f64)> = [
        ("cycles", out.cycles),
        ("ph", out.ph),
        ("ionic_strength", out.ionic_strength),
        ("conductivity_us_per_cm", out.conductivity_us_per_cm),
        ("log10_carbon_dioxide", out.log10_carbon_dioxide),
        ("acid_meq_per_l_makeup", out.acid_meq_per_l_makeup),
    ]
    .map(|(key, value)| (key.to_string(), value))
    .into();
    for (table, indices) in [
        ("saturation_index", &out.saturation_index),
        ("saturation_index_at_surface", &out.saturation_index_at_surface),
    ] {
        columns.extend(indices.iter().map(|(key, value)| (format!("{table}.{key}"), *value)));
    }
    columns.extend(out.index.iter().map(|(key, value)| (format!("index.{key}"), *value)));
    columns
}

/// A target for programs; `source` names the file, `waters` are those to list.
pub fn json(sheet: &TargetSheet, source: &str, waters: &[ConcentratedWater]) -> TargetOut {
    let (basis, log10_carbon_dioxide) = match (sheet.ph_origin, sheet.tower.basis()) {
        (PhOrigin::Measured { .. }, PhBasis::CarbonDioxide(log10)) => ("measured", Some(log10)),
        (_, PhBasis::CarbonDioxide(log10)) => ("carbon_dioxide", Some(log10)),
        (_, PhBasis::Held { log10_carbon_dioxide, .. }) => ("held", Some(log10_carbon_dioxide)),
        (_, PhBasis::AlkalinityLine) => ("alkalinity_line", None),
    };
    let mut flows = BTreeMap::new();
    let hourly = Balance::reference_m3_per_h;
    flows.insert("makeup", hourly(sheet.balances.0.makeup_kg_per_s));
    flows.insert("blowdown", hourly(sheet.balances.0.blowdown_kg_per_s));
    if let Some(then) = &sheet.balances.1 {
        flows.insert("makeup_at_target", hourly(then.makeup_kg_per_s));
        flows.insert("blowdown_at_target", hourly(then.blowdown_kg_per_s));
    }
    let controlling = sheet.bindings.first().filter(|binding| binding.ceiling().is_some());
    TargetOut {
        schema: super::json::SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: source.into(),
        target_cycles: sheet.target_cycles,
        present_cycles: sheet.present_cycles,
        conductivity_ratio: sheet.conductivity_ratio,
        losses_allow_cycles: Some(sheet.losses_allow).filter(|cycles| cycles.is_finite()),
        ph_basis: basis,
        log10_carbon_dioxide,
        band: sheet
            .band
            .iter()
            .flatten()
            .map(|(log10_carbon_dioxide, allowed_cycles)| BandOut {
                log10_carbon_dioxide: *log10_carbon_dioxide,
                allowed_cycles: *allowed_cycles,
            })
            .collect(),
        controlling: controlling.map(|binding| binding.limit.measure.key()),
        limits: sheet.bindings.iter().map(limit_out).collect(),
        set_point: sheet.set_point.as_ref().map(|set_point| SetPointOut {
            cycles: set_point.cycles,
            conductivity_us_per_cm: set_point.conductivity * 1e4,
            plain_us_per_cm: set_point.plain * 1e4,
            cycles_of_plain: set_point.cycles_of_plain,
            chloride_mg_per_l: set_point.chloride,
            dead_band: sheet.dead_band,
        }),
        makeup_conductivity_computed_us_per_cm: sheet.makeup_conductivity.0 * 1e4,
        makeup_conductivity_measured_us_per_cm: sheet.makeup_conductivity.1.map(|s| s * 1e4),
        flows_m3_per_h: flows,
        real_cycles: sheet
            .real
            .iter()
            .flat_map(|real| &real.ions)
            .map(|ion| IonOut {
                key: ion.constituent.key(),
                cycles: ion.cycles,
                verdict: match ion.verdict {
                    Verdict::Tracer => "tracer",
                    Verdict::Conserved => "conserved",
                    Verdict::Lost => "lost",
                    Verdict::Added => "added",
                },
            })
            .collect(),
        warnings: notices_out(&sheet.warnings),
        waters: waters.iter().map(water_out).collect(),
    }
}

fn limit_out(binding: &Binding) -> LimitOut {
    let limit = &binding.limit;
    LimitOut {
        key: limit.measure.key(),
        bound: if limit.bound == Bound::Most { "most" } else { "least" },
        value: limit.value,
        unit: limit.measure.unit(),
        allowed_cycles: binding.ceiling(),
        crossings: binding.crossings.clone(),
        at_one_cycle: binding.at_one_cycle,
        set_by: limit.of.clone(),
        source: limit.source.clone(),
    }
}
