//! The tower's own analysis against the water that the makeup makes at the real cycles: each number, what
//! its difference means, and what must lie somewhere.

use super::assay::{Assay, Found};
use super::consensus::{RealCycles, Reason, TestedMakeup, Tracer};
use crate::chemistry::index::ph_of_alkalinity;
use crate::chemistry::{Composition, Constituent};
use crate::quantity::Basis;

/// A difference of less than so many standard uncertainties means nothing (k = 2, about 95 %).
const COVERAGE: f64 = 2.0;
/// Standard uncertainty of the published line of pH against alkalinity (common practice: half a unit at
/// 95 %).
const PH_LINE: f64 = 0.25;
/// A number of the makeup that is less sure than this part of it predicts nothing.
const LEAST_KNOWN: f64 = 0.5;
/// A pH so far below the line has acid behind it, where alkalinity and sulfate agree.
const ACID_LOWERS_PH: f64 = 0.5;
/// Alkalinity lost and sulfate gained, in equivalents, are the same within this part, where acid is fed.
const ACID_MATCHES: f64 = 0.35;

/// What is compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Of {
    /// pH.
    Ph,
    /// At 25 degC, S/m.
    Conductivity,
    /// mg/L in the basis that the constituent is shown as.
    Constituent(Constituent),
}

/// A number as measured and as predicted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Of what.
    pub of: Of,
    /// In the tower.
    pub measured: f64,
    /// At the real cycles.
    pub predicted: f64,
    /// Measured less predicted, as a part of what is predicted; of pH the plain difference.
    pub difference: f64,
    /// Its standard uncertainty.
    pub standard: f64,
    /// What it means.
    pub meaning: Meaning,
}

impl Line {
    /// The difference in standard uncertainties, without sign.
    pub fn weight(&self) -> f64 {
        (self.difference / self.standard).abs()
    }

    /// Whether the difference exceeds its ±.
    pub fn differs(&self) -> bool {
        self.weight() > COVERAGE
    }
}

/// What a difference means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Meaning {
    /// No more than its ±.
    Fits,
    /// The odd one among the tracers.
    Odd(Reason),
    /// Less than the cycles bring.
    Lost(Fate),
    /// More than the cycles bring.
    Gained,
}

/// What becomes of something that is lost on the way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// Calcium and alkalinity, a mole to two equivalents.
    Calcite,
    /// Calcium without alkalinity.
    OtherCalcium,
    /// Alkalinity to acid: sulfate has come for it.
    Acid,
    /// Alkalinity without calcium, and without sulfate that has come for it.
    OtherAlkalinity,
    /// Silica with magnesium.
    MagnesiumSilicate,
    /// Silica alone.
    Silica,
    /// Magnesium alone.
    Magnesium,
    /// Phosphate, with calcium or iron.
    Phosphate,
    /// Anything else: to the air, to life in the water, or never there.
    Other,
}

/// What is lost on the way, or gained where it is below zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loss {
    /// Of what.
    pub constituent: Constituent,
    /// Part of what the makeup brings.
    pub part: f64,
    /// Its standard uncertainty.
    pub standard: f64,
    /// mol in a kg of circulating water.
    pub moles: f64,
    /// What becomes of it; `None` of what is gained.
    pub fate: Option<Fate>,
}

impl Loss {
    /// As what its mass is counted: calcium and alkalinity both as CaCO3, so that calcite takes as much of
    /// one as of the other.
    pub fn basis(&self) -> Basis {
        match self.constituent {
            Constituent::Calcium | Constituent::Alkalinity => Basis::CalciumCarbonate,
            other => other.basis(),
        }
    }

    /// Mass in its [`Self::basis`] for a volume of liquid that leaves, kg/m3.
    pub fn kg_per_m3(&self) -> f64 {
        let milligram_per_litre = match self.constituent {
            Constituent::Calcium => Constituent::Hardness.milligram_per_litre(self.moles),
            other => other.milligram_per_litre(self.moles),
        };
        1e-3 * milligram_per_litre
    }
}

/// Acid that nobody stated, by its marks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AcidFed {
    /// pH that was found, to a tenth.
    pub ph: f64,
    /// Alkalinity that it took, eq in a kg of circulating water.
    pub alkalinity: f64,
    /// Sulfate that came for it, eq in a kg.
    pub sulfate: f64,
}

/// The analysis against the prediction.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// What was measured in the tower and can be predicted, the most weighty difference first.
    pub lines: Vec<Line>,
    /// Calcium, alkalinity, silica, phosphate and magnesium that are lost or gained by more than their ±.
    pub losses: Vec<Loss>,
    /// Calcite that must lie somewhere, mol in a kg of circulating water.
    pub calcite: f64,
    /// Acid that nobody stated.
    pub acid: Option<AcidFed>,
}

/// The water that the makeup makes at the real cycles.
#[derive(Debug, Clone, Copy)]
pub struct Predicted<'a> {
    /// Its ions, with oxidant and stated acid.
    pub composition: &'a Composition,
    /// Conductivity at 25 degC, S/m, scaled as the makeup's.
    pub conductivity: f64,
    /// The pH that acid is stated to hold; else it follows from the published line.
    pub held: Option<f64>,
}

/// What deposits, or comes in by other ways than the makeup.
const ON_THE_WAY: [Constituent; 5] = [
    Constituent::Calcium,
    Constituent::Alkalinity,
    Constituent::Silica,
    Constituent::Phosphate,
    Constituent::Magnesium,
];

/// The tower's analysis against the predicted water.
pub fn compare(
    real: &RealCycles,
    makeup: &TestedMakeup,
    tower: &Assay,
    predicted: Predicted<'_>,
) -> Comparison {
    let of_cycles = real.standard / real.cycles;
    let mut lines: Vec<Line> = Vec::new();
    for (constituent, found) in &tower.amounts {
        // What is hardly there cannot be held against anything.
        let is_known = |before: &Found| before.value > 0.0 && before.relative() < LEAST_KNOWN;
        let Some(before) = makeup.assay.get(*constituent).filter(is_known) else { continue };
        // Iron is no part of a solved water.
        let made = constituent.of(predicted.composition);
        let made = made.unwrap_or(real.cycles * before.value);
        if made > 0.0 {
            lines.push(line(*constituent, *found, made, before.relative().hypot(of_cycles)));
        }
    }
    let acid =
        predicted.held.is_none().then(|| acid_fed(&lines, tower, predicted.composition)).flatten();
    let lost: Vec<Of> = lines
        .iter()
        .filter(|line| line.differs() && line.difference < 0.0)
        .map(|line| line.of)
        .collect();
    let is_lost = |constituent| lost.contains(&Of::Constituent(constituent));
    let fate = |constituent: Constituent| match constituent {
        Constituent::Calcium if is_lost(Constituent::Alkalinity) && acid.is_none() => Fate::Calcite,
        Constituent::Calcium => Fate::OtherCalcium,
        Constituent::Alkalinity if acid.is_some() => Fate::Acid,
        Constituent::Alkalinity if is_lost(Constituent::Calcium) => Fate::Calcite,
        Constituent::Alkalinity => Fate::OtherAlkalinity,
        Constituent::Silica if is_lost(Constituent::Magnesium) => Fate::MagnesiumSilicate,
        Constituent::Silica => Fate::Silica,
        Constituent::Magnesium if is_lost(Constituent::Silica) => Fate::MagnesiumSilicate,
        Constituent::Magnesium => Fate::Magnesium,
        Constituent::Phosphate => Fate::Phosphate,
        _ => Fate::Other,
    };
    let slipped = |constituent| {
        let odd = odd_of(real, Tracer::Ion(constituent))?;
        matches!(odd, Reason::DecimalSlip | Reason::Basis(_)).then_some(odd)
    };
    let losses: Vec<Loss> = ON_THE_WAY
        .into_iter()
        .filter(|_| real.tells_losses())
        .filter(|constituent| slipped(*constituent).is_none())
        .filter_map(|constituent| {
            let is_it = |line: &&Line| line.of == Of::Constituent(constituent) && line.differs();
            let line = lines.iter().find(is_it)?;
            let moles = constituent.mole_per_kg(line.predicted - line.measured);
            Some(Loss {
                constituent,
                part: -line.difference,
                standard: line.standard,
                moles,
                fate: (moles > 0.0).then(|| fate(constituent)),
            })
        })
        .collect();
    let calcite = calcite(&losses);
    for line in &mut lines {
        let Of::Constituent(constituent) = line.of else { continue };
        line.meaning = match odd_of(real, Tracer::Ion(constituent)) {
            _ if !line.differs() => Meaning::Fits,
            Some(reason @ (Reason::DecimalSlip | Reason::Basis(_))) => Meaning::Odd(reason),
            _ if line.difference < 0.0 => Meaning::Lost(fate(constituent)),
            _ => Meaning::Gained,
        };
    }
    lines.extend(by_meters(real, makeup, tower, predicted, acid.is_some()));
    lines.sort_by(|a, b| b.weight().total_cmp(&a.weight()));
    Comparison { lines, losses, calcite, acid }
}

fn line(constituent: Constituent, found: Found, made: f64, of_prediction: f64) -> Line {
    let ratio = found.value / made;
    // The ± of the ratio is that of a part of the prediction, as the difference is.
    let standard = (found.standard / made).hypot(ratio * of_prediction);
    Line {
        of: Of::Constituent(constituent),
        measured: constituent.milligram_per_litre(found.value),
        predicted: constituent.milligram_per_litre(made),
        difference: ratio - 1.0,
        standard,
        meaning: Meaning::Fits,
    }
}

/// pH and conductivity.
fn by_meters(
    real: &RealCycles,
    makeup: &TestedMakeup,
    tower: &Assay,
    predicted: Predicted<'_>,
    has_acid: bool,
) -> Vec<Line> {
    let ph = tower.ph.map(|measured| {
        let made = ph_of(predicted);
        let difference = measured - made;
        let mut line = Line {
            of: Of::Ph,
            measured,
            predicted: made,
            difference,
            standard: PH_LINE,
            meaning: Meaning::Fits,
        };
        if line.differs() {
            line.meaning = match difference < 0.0 {
                true if has_acid => Meaning::Lost(Fate::Acid),
                true => Meaning::Lost(Fate::Other),
                false => Meaning::Gained,
            };
        }
        line
    });
    let conductivity = tower.conductivity.map(|measured| {
        let made = predicted.conductivity;
        let ratio = measured.value / made;
        let of_makeup = makeup.assay.conductivity.map_or(0.05, |before| before.relative());
        let of_cycles = real.standard / real.cycles;
        let of_prediction = of_makeup.hypot(of_cycles).hypot(0.02);
        let mut line = Line {
            of: Of::Conductivity,
            measured: measured.value,
            predicted: made,
            difference: ratio - 1.0,
            standard: (measured.standard / made).hypot(ratio * of_prediction),
            meaning: Meaning::Fits,
        };
        if line.differs() {
            line.meaning = match odd_of(real, Tracer::Conductivity) {
                Some(reason @ Reason::DecimalSlip) => Meaning::Odd(reason),
                _ if ratio < 1.0 => Meaning::Lost(Fate::Other),
                _ => Meaning::Gained,
            };
        }
        line
    });
    ph.into_iter().chain(conductivity).collect()
}

fn ph_of(predicted: Predicted<'_>) -> f64 {
    let alkalinity = Constituent::Alkalinity.milligram_per_litre(predicted.composition.alkalinity);
    predicted.held.unwrap_or_else(|| ph_of_alkalinity(alkalinity.max(1.0)))
}

fn odd_of(real: &RealCycles, tracer: Tracer) -> Option<Reason> {
    let witness = real.witnesses.iter().find(|witness| witness.tracer == tracer)?;
    witness.odd.map(|odd| odd.reason)
}

/// Calcite: as much as calcium and alkalinity both have lost.
fn calcite(losses: &[Loss]) -> f64 {
    let lost = |constituent, equivalents: f64| {
        let is_it =
            |loss: &&Loss| loss.constituent == constituent && loss.fate == Some(Fate::Calcite);
        losses.iter().find(is_it).map(|loss| loss.moles / equivalents)
    };
    match (lost(Constituent::Calcium, 1.0), lost(Constituent::Alkalinity, 2.0)) {
        (Some(calcium), Some(alkalinity)) => calcium.min(alkalinity),
        _ => 0.0,
    }
}

/// Sulfuric acid by its marks: alkalinity far below the prediction, as many equivalents of sulfate above
/// it, and a pH, where it was measured, far below the published line.
fn acid_fed(lines: &[Line], tower: &Assay, made: &Composition) -> Option<AcidFed> {
    let line = |constituent| lines.iter().find(|line| line.of == Of::Constituent(constituent));
    let of = |constituent: Constituent| {
        line(constituent)
            .filter(|line| line.differs())
            .map(|line| constituent.mole_per_kg(line.measured - line.predicted))
    };
    let alkalinity = -of(Constituent::Alkalinity)?;
    let sulfate = 2.0 * of(Constituent::Sulfate)?;
    let ph = tower.ph?;
    let by_line =
        ph_of_alkalinity(Constituent::Alkalinity.milligram_per_litre(made.alkalinity).max(1.0));
    let matches = alkalinity > 0.0 && (sulfate / alkalinity - 1.0).abs() < ACID_MATCHES;
    (matches && ph < by_line - ACID_LOWERS_PH).then(|| AcidFed {
        ph: (10.0 * ph).round() / 10.0,
        alkalinity,
        sulfate,
    })
}

#[cfg(test)]
mod tests {
    use super::super::assay::found;
    use super::super::consensus::agreed;
    use super::*;
    use approx::assert_relative_eq;

    fn water(values: &[(Constituent, f64)]) -> Composition {
        let mut water = Composition::default();
        for (constituent, milligram_per_litre) in values {
            constituent.put(&mut water, constituent.mole_per_kg(*milligram_per_litre));
        }
        water
    }

    fn assay(values: &[(Constituent, f64)], ph: Option<f64>) -> Assay {
        let amounts = values.iter().map(|(c, value)| (*c, found(*c, c.mole_per_kg(*value), None)));
        Assay::new(amounts, None, ph)
    }

    const MAKEUP: [(Constituent, f64); 5] = [
        (Constituent::Calcium, 80.0),
        (Constituent::Alkalinity, 200.0),
        (Constituent::Sulfate, 40.0),
        (Constituent::Silica, 15.0),
        (Constituent::Magnesium, 15.0),
    ];

    /// A makeup at four cycles against what was found.
    fn at_four(tower: &[(Constituent, f64)], ph: Option<f64>) -> Comparison {
        let blend = water(&MAKEUP);
        let composition = blend.concentrated(4.0);
        let makeup =
            TestedMakeup { assay: assay(&MAKEUP, None), blend, computed_conductivity: f64::NAN };
        let predicted = Predicted { composition: &composition, conductivity: f64::NAN, held: None };
        compare(&agreed(4.0, 0.02), &makeup, &assay(tower, ph), predicted)
    }

    /// 40 mg/L of calcium are 100 of calcite, and so are 100 of alkalinity as CaCO3.
    #[test]
    fn calcite_takes_a_mole_of_calcium_to_two_equivalents() {
        let calcium = 320.0 - 100.0 * 40.08 / 100.09;
        let found =
            at_four(&[(Constituent::Calcium, calcium), (Constituent::Alkalinity, 700.0)], None);
        let masses: Vec<f64> = found.losses.iter().map(|loss| 1e3 * loss.kg_per_m3()).collect();
        assert_eq!(masses.len(), 2);
        for mass in masses {
            assert_relative_eq!(mass, 100.0, max_relative = 1e-3);
        }
        assert!(found.losses.iter().all(|loss| loss.fate == Some(Fate::Calcite)));
        assert_relative_eq!(found.calcite, 1e-3, max_relative = 2e-3);
        assert!(found.acid.is_none());
    }

    #[test]
    fn what_is_within_its_uncertainty_is_not_lost() {
        let found =
            at_four(&[(Constituent::Calcium, 305.0), (Constituent::Alkalinity, 770.0)], None);
        assert!(found.losses.is_empty() && found.calcite == 0.0);
        assert!(found.lines.iter().all(|line| line.meaning == Meaning::Fits));
    }

    /// 600 of alkalinity as CaCO3 are 12 meq/L, and so are 576 mg/L of sulfate.
    #[test]
    fn acid_is_told_by_alkalinity_sulfate_and_ph() {
        let fed = [(Constituent::Alkalinity, 200.0), (Constituent::Sulfate, 160.0 + 576.0)];
        let acid = at_four(&fed, Some(7.8)).acid.unwrap();
        assert_relative_eq!(acid.alkalinity, acid.sulfate, max_relative = 1e-2);
        assert_eq!(acid.ph, 7.8);
        let by_acid =
            |found: &Comparison| found.losses.iter().any(|loss| loss.fate == Some(Fate::Acid));
        assert!(by_acid(&at_four(&fed, Some(7.8))));
        // Without the pH, or with one as the line has it, or with little sulfate, it is not sure.
        assert!(at_four(&fed, None).acid.is_none());
        assert!(at_four(&fed, Some(9.0)).acid.is_none());
        let little = [(Constituent::Alkalinity, 200.0), (Constituent::Sulfate, 300.0)];
        assert!(at_four(&little, Some(7.8)).acid.is_none());
    }

    #[test]
    fn silica_with_magnesium_is_a_silicate_and_gains_have_no_fate() {
        let found = at_four(&[(Constituent::Silica, 40.0), (Constituent::Magnesium, 40.0)], None);
        assert!(found.losses.iter().all(|loss| loss.fate == Some(Fate::MagnesiumSilicate)));
        let dust = at_four(&[(Constituent::Calcium, 420.0)], None);
        assert!(dust.losses[0].part < 0.0 && dust.losses[0].fate.is_none());
        assert_eq!(dust.lines[0].meaning, Meaning::Gained);
    }
}
