//! Checks an analysis as laboratories and field kits write it, and keeps what was written.

use super::{Check, FLOW, FRACTION, PART, SOME, WATER_TEMPERATURE};
use crate::chemistry::sample::{PEN_FACTOR, conductivity_to_25_celsius};
use crate::chemistry::slip::{self, Counted};
use crate::chemistry::{self, BalanceWith, Constituent};
use crate::quantity::{
    Amount, Concentration, Conductivity, MassConcentration, Measured, Quantity, Reported,
    SampledConductivity, Share, Stated, Uncertainty, significant,
};
use crate::site::description::{Analysis, BelowDetection};
use crate::site::{AsGiven, Limits, Problem, SiteAnalysis, SlotId, Value};

/// Natural waters; outside it something other than an analysis was typed.
const PH: Limits = Limits::between(4.0, 11.0);
/// Above what natural water is made of: mg/L typed for g/L.
const PEN: Limits = Limits::above(0.0, 100.0);
const FACTOR: Limits = Limits::between(0.3, 1.0);

const ASSUMED_CALCIUM: &str = "calcium's part of the hardness is not stated; two thirds within a half and five sixths, common practice for natural waters";
const ASSUMED_SULFATE: &str = "neither sodium nor sulfate is stated: they complete the analysis; sulfate's part of the missing anions, in equivalents, half within nothing and all, our assumption";
const ASSUMED_PEN: &str = "from a pen for dissolved solids whose factor is not stated: 0.6 within 0.5 to 0.7, common practice";

/// Which water is analysed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    /// A source of makeup, which a target needs whole.
    Makeup,
    /// The circulating water, of which any number helps.
    Circulating,
}

/// What a limit of detection counts as, with its spread.
fn below(limit: f64, counts_as: BelowDetection) -> (f64, Option<Uncertainty>) {
    match counts_as {
        BelowDetection::Zero => (0.0, None),
        BelowDetection::Half => (0.5 * limit, Some(Uncertainty::limit(0.5 * limit))),
        BelowDetection::Limit => (limit, None),
    }
}

fn below_remark(counts_as: BelowDetection) -> String {
    match counts_as {
        BelowDetection::Zero => "below detection, counted as nothing",
        BelowDetection::Half => "below detection, counted as half of it, within nothing and all",
        BelowDetection::Limit => "below detection, counted as the limit itself",
    }
    .to_owned()
}

fn scaled(uncertainty: Option<Uncertainty>, factor: f64) -> Option<Uncertainty> {
    uncertainty.map(|u| Uncertainty { half_width: factor * u.half_width, ..u })
}

impl Check {
    pub(super) fn analysis(
        &mut self,
        path: &str,
        described: &Analysis,
        temperature: SlotId,
        role: Role,
    ) -> Option<SiteAnalysis> {
        let at = |key: &str| format!("{path}.{key}");
        let before = self.problems.len();
        let counts_as = described.below_detection.unwrap_or_default();
        let mut as_given = Vec::new();
        let ph = self.value(at("ph"), &described.ph, PH);
        let sample = self.value(at("temperature"), &described.temperature, WATER_TEMPERATURE);
        let conductivity = self.conductivity(path, described, &mut as_given);
        let lowest_conductivity =
            self.value(at("lowest_conductivity"), &described.lowest_conductivity, SOME);
        let highest_conductivity =
            self.value(at("highest_conductivity"), &described.highest_conductivity, SOME);
        if let (Some(low), Some(high)) = (lowest_conductivity, highest_conductivity)
            && self.slots[low.0].si > self.slots[high.0].si
        {
            self.problem(
                Problem::new(
                    at("lowest_conductivity"),
                    "the lowest conductivity is above the highest",
                )
                .with_related(at("highest_conductivity")),
            );
        }
        let mut constituents = Vec::new();
        let mut counted = Vec::new();
        for (constituent, found) in described.constituents() {
            let key = constituent.key();
            let slot = self.concentration(at(key), constituent, found, counts_as);
            as_given.push(concentration_as_given(key, found, slot, counts_as));
            constituents.extend(slot.map(|slot| (constituent, slot)));
            counted.extend(slot.map(|_| (constituent, counted_as(constituent, found))));
        }
        let p_alkalinity = described.p_alkalinity.as_ref().and_then(|found| {
            let path = at("p_alkalinity");
            let slot = self.concentration(path, Constituent::Alkalinity, found, counts_as);
            as_given.push(concentration_as_given("p_alkalinity", found, slot, counts_as));
            slot
        });
        let mut solids = |key: &'static str, found: &Option<Reported<MassConcentration>>| {
            let found = found.as_ref()?;
            let stated = found.stated;
            let value = match found.is_below {
                true => {
                    let (si, uncertainty) = below(stated.value.si(), counts_as);
                    let value = MassConcentration::of_si(Quantity::MassConcentration, si);
                    Stated { value, uncertainty }
                }
                false => stated,
            };
            let slot = self.value(at(key), &Some(value), FLOW);
            let remark = found.is_below.then(|| below_remark(counts_as));
            as_given.push(AsGiven { key, written: found.written.clone(), used: slot, remark });
            slot
        };
        let dissolved_solids = solids("dissolved_solids", &described.dissolved_solids);
        let dissolved_ions = solids("dissolved_ions", &described.dissolved_ions);
        let suspended_solids = solids("suspended_solids", &described.suspended_solids);
        as_given.extend(self.not_judged(path, described));
        let [calcium_of_hardness, sulfate_of_missing] = self.of_field_kit(path, described, role);
        if self.problems.len() > before {
            return None;
        }
        let analysis = SiteAnalysis {
            sampled: described.sampled,
            ph,
            temperature: sample.unwrap_or(temperature),
            conductivity,
            lowest_conductivity,
            highest_conductivity,
            constituents,
            counted,
            p_alkalinity,
            dissolved_solids,
            dissolved_ions,
            suspended_solids,
            balance_with: described.balance_with,
            calcium_of_hardness,
            sulfate_of_missing,
            as_given,
        };
        self.totals_agree(path, &analysis).then_some(analysis)
    }

    /// The slot of what was found of a constituent, kg/m3 in the basis that it is shown as.
    fn concentration(
        &mut self,
        path: String,
        constituent: Constituent,
        found: &Concentration,
        counts_as: BelowDetection,
    ) -> Option<SlotId> {
        let factor = match constituent.factor(found) {
            Ok(factor) => factor * 1e-3,
            Err(error) => {
                let text = error.to_string();
                let (message, help) = text.split_once('\n').unwrap_or((&text, ""));
                self.problem(Problem::new(path, message).with_help(help));
                return None;
            }
        };
        let amount: Stated<Amount> = found.amount;
        let (si, uncertainty) = match found.is_below {
            true => below(factor * amount.value.si(), counts_as),
            false => (factor * amount.value.si(), scaled(amount.uncertainty, factor)),
        };
        let quantity = Quantity::MassConcentration;
        let value = Value {
            path,
            quantity,
            si,
            uncertainty,
            default_uncertainty: None,
            assumed: None,
            limits: FLOW,
        };
        self.within_limits(&value).then(|| self.slot(value))
    }

    /// Conductivity at 25 degC: as stated, carried over from another temperature, or by a pen.
    fn conductivity(
        &mut self,
        path: &str,
        described: &Analysis,
        as_given: &mut Vec<AsGiven>,
    ) -> Option<SlotId> {
        let at = |key: &str| format!("{path}.{key}");
        match (&described.conductivity, &described.tds_pen) {
            (Some(_), Some(_)) => {
                let paths = [at("conductivity"), at("tds_pen")];
                self.over_determined(
                    &paths.each_ref().map(String::as_str),
                    "the conductivity is stated twice",
                    "keep the meter's, which is read without a factor",
                );
                None
            }
            (Some(sampled), None) => {
                self.sampled_conductivity(at("conductivity"), sampled, as_given)
            }
            (None, Some(pen)) => self.by_pen(path, pen, described, as_given),
            (None, None) => {
                if described.tds_pen_factor.is_some() {
                    self.problem(
                        Problem::new(
                            at("tds_pen_factor"),
                            "the factor of a pen without its reading",
                        )
                        .with_help("write tds_pen = \"350 ppm\" beside it"),
                    );
                }
                None
            }
        }
    }

    fn sampled_conductivity(
        &mut self,
        path: String,
        sampled: &SampledConductivity,
        as_given: &mut Vec<AsGiven>,
    ) -> Option<SlotId> {
        let celsius = sampled.at.map(|at| at.in_celsius());
        let Some(factor) = celsius.map_or(Some(1.0), conductivity_to_25_celsius) else {
            self.problem(
                Problem::new(
                    path,
                    "no factor carries a conductivity from that temperature to 25 degC",
                )
                .with_help("the table for natural waters (ISO 7888) runs from 0 to 35 degC"),
            );
            return None;
        };
        let stated = Stated {
            value: Conductivity::of_si(Quantity::Conductivity, factor * sampled.stated.value.si()),
            uncertainty: scaled(sampled.stated.uncertainty, factor),
        };
        let slot = self.value(path, &Some(stated), SOME)?;
        let remark = celsius.filter(|celsius| (celsius - 25.0).abs() > 1e-9).map(|_| {
            format!("times {} to 25 °C (ISO 7888, natural water)", significant(factor, 4))
        });
        as_given.push(AsGiven {
            key: "conductivity",
            written: sampled.written.clone(),
            used: Some(slot),
            remark,
        });
        Some(slot)
    }

    /// What a pen read, over its factor.
    fn by_pen(
        &mut self,
        path: &str,
        pen: &Stated<MassConcentration>,
        described: &Analysis,
        as_given: &mut Vec<AsGiven>,
    ) -> Option<SlotId> {
        let before = self.problems.len();
        let factor_path = format!("{path}.tds_pen_factor");
        let stated = described.tds_pen_factor;
        let value = |stated: &Stated<_>| Value::stated(factor_path.clone(), stated, FACTOR);
        if let Some(stated) = &stated {
            self.within_limits(&value(stated));
        }
        self.within_limits(&Value::stated(format!("{path}.tds_pen"), pen, PEN));
        if self.problems.len() > before {
            return None;
        }
        let middle = 0.5 * (PEN_FACTOR.start() + PEN_FACTOR.end());
        let (factor, of_factor) = match stated {
            Some(stated) => {
                (stated.value.si(), stated.uncertainty.map_or(0.0, Uncertainty::standard))
            }
            None => (middle, Uncertainty::limit(PEN_FACTOR.end() - middle).standard()),
        };
        let milligram_per_litre = pen.value.in_milligram_per_litre();
        let of_pen = pen.uncertainty.map_or(0.0, |u| u.standard() / pen.value.si());
        let relative = of_pen.hypot(of_factor / factor);
        let conductivity = Conductivity::microsiemens_per_centimetre(milligram_per_litre / factor);
        let uncertainty = Uncertainty {
            half_width: relative * conductivity.si(),
            coverage: crate::quantity::Coverage::Factor(1.0),
        };
        let stated_conductivity =
            Stated { value: conductivity, uncertainty: (relative > 0.0).then_some(uncertainty) };
        let mut slot = Value::stated(format!("{path}.conductivity"), &stated_conductivity, SOME);
        slot.assumed = stated.is_none().then_some(ASSUMED_PEN);
        let used = self.slot(slot);
        as_given.push(AsGiven {
            key: "tds_pen",
            written: format!("{} ppm", significant(milligram_per_litre, 4)),
            used: Some(used),
            remark: Some(format!("over {} for the conductivity", significant(factor, 3))),
        });
        Some(used)
    }

    /// What is read and kept, and nothing is judged by, with the reason.
    fn not_judged(&mut self, path: &str, described: &Analysis) -> Vec<AsGiven> {
        const OXYGEN: &str =
            "no number of practice limits it; it is food for slime and takes oxidant";
        let mut list = Vec::new();
        let mut add = |key: &'static str, value: Value, written: &str, reason: &str| {
            if self.within_limits(&value) {
                let (written, remark) = (written.to_owned(), Some(reason.to_owned()));
                list.push(AsGiven { key, written, used: None, remark });
            }
        };
        let at = |key: &str| format!("{path}.{key}");
        if let Some(found) = &described.turbidity {
            let value = Value::stated(at("turbidity"), &found.stated, FLOW);
            add("turbidity", value, &found.written, "suspended solids are, in its place");
        }
        let by_mass = [
            (
                "barium",
                &described.barium,
                "barite is not computed; with sulfuric acid some 0.01 mg/L may deposit: ask the supplier",
            ),
            ("bod", &described.bod, OXYGEN),
            ("cod", &described.cod, OXYGEN),
            ("toc", &described.toc, OXYGEN),
        ];
        for (key, found, reason) in by_mass {
            if let Some(found) = found {
                let value = Value::stated(at(key), &found.stated, FLOW);
                add(key, value, &found.written, reason);
            }
        }
        list
    }

    /// Calcium's part of a hardness that stands alone, and sulfate's part of what completes an analysis
    /// without sodium and sulfate.
    fn of_field_kit(
        &mut self,
        path: &str,
        described: &Analysis,
        role: Role,
    ) -> [Option<SlotId>; 2] {
        let at = |key: &str| format!("{path}.{key}");
        let stands_alone = described.hardness.is_some()
            && described.calcium.is_none()
            && described.magnesium.is_none();
        let is_kit = described.sodium.is_none()
            && described.sulfate.is_none()
            && described.balance_with.is_none()
            && (described.alkalinity.is_some() || described.bicarbonate.is_some());
        let asked = [
            (
                "calcium_of_hardness",
                described.calcium_of_hardness.is_some(),
                stands_alone,
                "it shares out a hardness beside which neither calcium nor magnesium stands",
            ),
            (
                "sulfate_of_missing",
                described.sulfate_of_missing.is_some(),
                is_kit,
                "it completes a makeup without sodium, sulfate and balance_with",
            ),
        ];
        for (key, is_stated, has_use, help) in asked {
            if is_stated && !(has_use && role == Role::Makeup) {
                self.problem(
                    Problem::new(at(key), format!("{key} has no use here")).with_help(help),
                );
            }
        }
        if role == Role::Circulating {
            return [None, None];
        }
        let two_thirds = Stated::with(Share::of_one(2.0 / 3.0), Uncertainty::limit(1.0 / 6.0));
        let half = Stated::with(Share::of_one(0.5), Uncertainty::limit(0.5));
        [
            stands_alone.then(|| {
                let assumed = (two_thirds, ASSUMED_CALCIUM);
                self.value_or(
                    at("calcium_of_hardness"),
                    &described.calcium_of_hardness,
                    PART,
                    assumed,
                )
            }),
            is_kit.then(|| {
                let assumed = (half, ASSUMED_SULFATE);
                self.value_or(
                    at("sulfate_of_missing"),
                    &described.sulfate_of_missing,
                    FRACTION,
                    assumed,
                )
            }),
        ]
        .map(Option::flatten)
    }

    /// Whether hardness and alkalinity agree with their parts.
    fn totals_agree(&mut self, path: &str, analysis: &SiteAnalysis) -> bool {
        let mole = |(constituent, slot): &(Constituent, SlotId)| {
            (*constituent, constituent.mole_per_kg(self.slots[slot.0].si * 1e3))
        };
        let amounts = chemistry::Analysis {
            constituents: analysis.constituents.iter().map(mole).collect(),
            balance_with: analysis.balance_with,
            p_alkalinity: analysis
                .p_alkalinity
                .map(|slot| Constituent::Alkalinity.mole_per_kg(self.slots[slot.0].si * 1e3)),
            ..chemistry::Analysis::default()
        };
        use chemistry::analysis::AnalysisError as Wrong;
        let Err(error) = amounts.composition() else { return true };
        let is_kit = [Constituent::Sodium, Constituent::Chloride, Constituent::Sulfate]
            .into_iter()
            .all(|ion| amounts.get(ion).is_none());
        let (key, help) = match error {
            Wrong::HardnessBelowItsParts { .. } | Wrong::HardnessIsNotItsParts { .. } => (
                "hardness",
                "hardness is calcium and magnesium together: check what each is counted as",
            ),
            Wrong::AlkalinityIsNotItsParts { .. } => {
                ("alkalinity", "give the total alkalinity, or bicarbonate with carbonate")
            }
            Wrong::PAboveTotalAlkalinity { .. } => (
                "p_alkalinity",
                "P is a part of M, the total: see whether they were swapped, or their bases differ",
            ),
            Wrong::WrongBalance { .. } if is_kit => (
                "balance_with",
                "leave balance_with out: what a field kit does not find is then completed by sodium, chloride \
                 and sulfate, from the conductivity",
            ),
            Wrong::WrongBalance { .. } => (
                "balance_with",
                match amounts.balance_with {
                    Some(BalanceWith::Sodium) => {
                        "\"sodium\" makes up for missing cations; here anions are missing: \"chloride\" or \"sulfate\""
                    }
                    _ => {
                        "\"chloride\" and \"sulfate\" make up for missing anions; here cations are missing: \"sodium\""
                    }
                },
            ),
        };
        let sheet = analysis.sheet(
            |slot| self.slots[slot.0].si,
            |slot| self.slots[slot.0].uncertainty.map_or(0.0, Uncertainty::standard),
        );
        let slip = slip::told(&sheet, true);
        let help = match slip {
            Some(slip) => format!("{slip}; otherwise: {help}"),
            None => help.to_owned(),
        };
        self.problem(Problem::new(format!("{path}.{key}"), error.to_string()).with_help(help));
        false
    }
}

fn counted_as(constituent: Constituent, found: &Concentration) -> Counted {
    match found.amount.value {
        Amount::Mass(_) => Counted::As(found.basis.unwrap_or(constituent.basis())),
        Amount::Moles(_) => Counted::Moles,
        Amount::Equivalents(_) => Counted::Equivalents,
    }
}

fn concentration_as_given(
    key: &'static str,
    found: &Concentration,
    used: Option<SlotId>,
    counts_as: BelowDetection,
) -> AsGiven {
    const UNLIMITED: [&str; 2] = ["zinc", "aluminium"];
    let remark = match found.is_below {
        true => Some(below_remark(counts_as)),
        false => UNLIMITED
            .contains(&key)
            .then(|| "no limit of practice judges it; a [[limit]] on it does".to_owned()),
    };
    AsGiven { key, written: found.written.clone(), used, remark }
}
