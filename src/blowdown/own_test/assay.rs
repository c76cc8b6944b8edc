//! What was analysed of a water, and how sure each number of it is.

use crate::chemistry::{Composition, Constituent};

/// A number with its standard uncertainty, in the same unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    /// The number.
    pub value: f64,
    /// Its standard uncertainty (k = 1).
    pub standard: f64,
}

impl Found {
    /// The uncertainty as a part of the value.
    pub fn relative(&self) -> f64 {
        self.standard / self.value
    }
}

/// What the errors of an analysis are taken for where nobody states them.
pub const ANALYTIC_BASIS: &str = "not stated: common practice for one laboratory and one method; between \
laboratories the spread is up to twice that (Standard Methods 4500-Cl B: 4.2 %, 4500-SO4 E: 9.1 %, from memory)";

/// Part of a meter's reading that is its standard uncertainty where nobody states it (common practice).
const CONDUCTIVITY: f64 = 0.02;
/// Standard uncertainty of a last digit of a laboratory's report, mg/L (half a mg/L, rectangular).
const LAST_DIGIT: f64 = 0.29;
/// The same for phosphate and iron, which are reported to a tenth.
const LAST_TENTH: f64 = 0.029;

/// Standard uncertainty of a titration or photometry of a constituent, as a part of it.
fn relative(constituent: Constituent) -> f64 {
    match constituent {
        Constituent::Calcium | Constituent::Hardness | Constituent::Alkalinity => 0.03,
        Constituent::Bicarbonate | Constituent::Carbonate | Constituent::Chloride => 0.03,
        Constituent::Magnesium | Constituent::Sodium | Constituent::Potassium => 0.04,
        Constituent::Sulfate | Constituent::Silica => 0.05,
        _ => 0.08,
    }
}

/// A number of a constituent, mol/kg, with the standard uncertainty that is stated or that its kind has.
pub fn found(constituent: Constituent, value: f64, stated: Option<f64>) -> Found {
    let digit = match constituent {
        Constituent::Phosphate | Constituent::Iron | Constituent::Fluoride => LAST_TENTH,
        _ => LAST_DIGIT,
    };
    let usual = || (relative(constituent) * value).hypot(constituent.mole_per_kg(digit));
    Found { value, standard: stated.unwrap_or_else(usual) }
}

/// A conductivity, S/m, with the standard uncertainty that is stated or that meters have.
pub fn conductivity(value: f64, stated: Option<f64>) -> Found {
    Found { value, standard: stated.unwrap_or(CONDUCTIVITY * value) }
}

/// What was analysed of a water: never what was made up, filled in or predicted.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Assay {
    /// mol/kg; calcium and magnesium where they follow from hardness, alkalinity where it follows from its
    /// parts; hardness only where its parts are not known.
    pub amounts: Vec<(Constituent, Found)>,
    /// At 25 degC, S/m.
    pub conductivity: Option<Found>,
    /// pH.
    pub ph: Option<f64>,
}

impl Assay {
    /// From the numbers of a report, mol/kg.
    pub fn new(
        stated: impl IntoIterator<Item = (Constituent, Found)>,
        conductivity: Option<Found>,
        ph: Option<f64>,
    ) -> Self {
        let mut assay = Self { amounts: stated.into_iter().collect(), conductivity, ph };
        assay.add_parts_of_hardness();
        assay.add_alkalinity_of_parts();
        assay
    }

    fn add_parts_of_hardness(&mut self) {
        let Some(hardness) = self.get(Constituent::Hardness) else { return };
        let (calcium, magnesium) =
            (self.get(Constituent::Calcium), self.get(Constituent::Magnesium));
        let rest = |part: Found| Found {
            value: (hardness.value - part.value).max(0.0),
            standard: hardness.standard.hypot(part.standard),
        };
        match (calcium, magnesium) {
            (Some(part), None) => self.amounts.push((Constituent::Magnesium, rest(part))),
            (None, Some(part)) => self.amounts.push((Constituent::Calcium, rest(part))),
            (None, None) => return,
            _ => {}
        }
        self.amounts.retain(|(constituent, _)| *constituent != Constituent::Hardness);
    }

    fn add_alkalinity_of_parts(&mut self) {
        let parts = [(Constituent::Bicarbonate, 1.0), (Constituent::Carbonate, 2.0)];
        if self.get(Constituent::Alkalinity).is_none()
            && self.get(Constituent::Bicarbonate).is_some()
        {
            let sum = parts.iter().filter_map(|(part, equivalents)| {
                let found = self.get(*part)?;
                Some((equivalents * found.value, equivalents * found.standard))
            });
            let (value, standard) =
                sum.fold((0.0, 0.0), |sum: (f64, f64), part| (sum.0 + part.0, sum.1.hypot(part.1)));
            self.amounts.push((Constituent::Alkalinity, Found { value, standard }));
        }
        self.amounts.retain(|(constituent, _)| parts.iter().all(|(part, _)| part != constituent));
    }

    /// A constituent, mol/kg.
    pub fn get(&self, constituent: Constituent) -> Option<Found> {
        self.amounts.iter().find(|(known, _)| *known == constituent).map(|(_, found)| *found)
    }

    /// Several waters mixed by their shares of the whole: what a single one lacks is not known of the
    /// mixture.
    pub fn blend(parts: &[(f64, Self)]) -> Self {
        let sum = |of: &dyn Fn(&Self) -> Option<Found>| {
            parts.iter().filter(|(share, _)| *share > 0.0).try_fold(
                Found { value: 0.0, standard: 0.0 },
                |sum, (share, part)| {
                    let found = of(part)?;
                    Some(Found {
                        value: sum.value + share * found.value,
                        standard: sum.standard.hypot(share * found.standard),
                    })
                },
            )
        };
        let amounts = Constituent::ALL
            .into_iter()
            .filter_map(|constituent| Some((constituent, sum(&|part| part.get(constituent))?)))
            .collect();
        // No pH of a mixture is the mean of its parts'.
        Self { amounts, conductivity: sum(&|part| part.conductivity), ph: None }
    }

    /// Puts what was analysed of these constituents into a water.
    pub fn overlay(&self, water: &mut Composition, constituents: &[Constituent]) {
        for (constituent, found) in &self.amounts {
            if constituents.contains(constituent) {
                constituent.put(water, found.value);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn stated(constituent: Constituent, value: f64) -> (Constituent, Found) {
        (constituent, found(constituent, value, None))
    }

    #[test]
    fn parts_follow_from_totals() {
        let assay = Assay::new(
            [
                stated(Constituent::Hardness, 3e-3),
                stated(Constituent::Calcium, 2e-3),
                stated(Constituent::Bicarbonate, 3e-3),
                stated(Constituent::Carbonate, 0.2e-3),
            ],
            None,
            None,
        );
        let magnesium = assay.get(Constituent::Magnesium).unwrap();
        assert_relative_eq!(magnesium.value, 1e-3, max_relative = 1e-12);
        // A difference of two titrations is less sure than either.
        assert!(magnesium.relative() > 0.1);
        let alkalinity = assay.get(Constituent::Alkalinity).unwrap();
        assert_relative_eq!(alkalinity.value, 3.4e-3, max_relative = 1e-12);
        assert!(assay.get(Constituent::Hardness).is_none());
    }

    #[test]
    fn what_one_source_lacks_is_not_known_of_the_mixture() {
        let one = Assay::new(
            [stated(Constituent::Chloride, 1e-3), stated(Constituent::Sodium, 2e-3)],
            None,
            None,
        );
        let two = Assay::new([stated(Constituent::Chloride, 3e-3)], None, None);
        let both = Assay::blend(&[(0.5, one.clone()), (0.5, two.clone())]);
        assert_relative_eq!(both.get(Constituent::Chloride).unwrap().value, 2e-3);
        assert!(both.get(Constituent::Sodium).is_none());
        // A source that delivers nothing does not count.
        assert!(Assay::blend(&[(1.0, one), (0.0, two)]).get(Constituent::Sodium).is_some());
    }

    #[test]
    fn a_stated_uncertainty_goes_before_the_usual_one() {
        let mole = Constituent::Silica.mole_per_kg(3.0);
        assert_relative_eq!(found(Constituent::Silica, mole, Some(1e-6)).standard, 1e-6);
        // Three mg/L to the last mg/L.
        assert!(found(Constituent::Silica, mole, None).relative() > 0.09);
    }
}
