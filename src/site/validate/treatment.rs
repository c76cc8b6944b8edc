//! Checks what a description says of chemicals and money.

use super::{Check, FLOW, PART, SOME};
use crate::quantity::{Fraction, Stated};
use crate::site::description::{Chemical, ChemicalKind, Cost, Description, SewerBasis};
use crate::site::{Limits, Problem, SiteChemical, SiteCost};

const DENSITY: Limits = Limits::between(500.0, 3_000.0);
const ASSUMED_STRENGTH: &str = "not stated; the dose counts the product";

impl Check {
    pub(super) fn chemicals(&mut self, description: &Description) -> Option<Vec<SiteChemical>> {
        let described = &description.chemical;
        let names =
            self.names("chemical", described.iter().map(|chemical| chemical.name.as_deref()));
        let chemicals: Vec<_> = names
            .iter()
            .zip(described)
            .map(|(name, chemical)| self.chemical(name, chemical))
            .collect();
        chemicals.into_iter().collect()
    }

    fn chemical(&mut self, name: &str, chemical: &Chemical) -> Option<SiteChemical> {
        let path = |key: &str| format!("chemical.{name}.{key}");
        let at = format!("chemical.{name}");
        let Some(kind) = chemical.kind else {
            self.problem(
                Problem::new(at, "the chemical does not say what it does")
                    .with_help("write kind = \"inhibitor\", \"biocide\", \"oxidant\" or \"acid\""),
            );
            return None;
        };
        let missing = match kind {
            ChemicalKind::Acid => None,
            _ if chemical.dose.is_none() => Some("a dose, as in dose = \"60 mg/L\""),
            ChemicalKind::Biocide if chemical.every.is_none() => {
                Some("the time between slugs, as in every = \"84 h\"")
            }
            _ => None,
        };
        if let Some(missing) = missing {
            self.problem(
                Problem::new(at, format!("chemical {name} lacks something"))
                    .with_help(format!("state {missing}")),
            );
            return None;
        }
        if let (Some(contact), Some(every)) = (chemical.contact, chemical.every)
            && contact.value >= every.value
        {
            self.problem(
                Problem::new(path("contact"), "the contact time reaches into the next slug")
                    .with_related(path("every")),
            );
        }
        if kind == ChemicalKind::Acid && chemical.contains.is_some() {
            self.problem(
                Problem::new(path("contains"), "the ion of an acid is counted by itself")
                    .with_help("leave contains out; acid of [ph] says which acid it is"),
            );
        }
        let salts = chemical.contains.clone().unwrap_or_default().salts();
        let contains = salts.into_iter().filter_map(|(ion, part)| {
            Some((ion, self.value(path(&format!("contains.{}", ion.key())), &part, PART)?))
        });
        let contains = contains.collect();
        let product: Stated<Fraction> = Fraction::percent(100.0).into();
        Some(SiteChemical {
            name: name.to_string(),
            kind,
            dose: self.value(path("dose"), &chemical.dose, SOME),
            strength: self.value_or(
                path("strength"),
                &chemical.strength,
                PART,
                (product, ASSUMED_STRENGTH),
            )?,
            density: self.value(path("density"), &chemical.density, DENSITY),
            price: self.value(path("price"), &chemical.price, FLOW),
            half_life: self.value(path("half_life"), &chemical.half_life, SOME),
            every: self.value(path("every"), &chemical.every, SOME),
            contact: self.value(path("contact"), &chemical.contact, SOME),
            effective: self.value(path("effective"), &chemical.effective, SOME),
            demand: self.value(path("demand"), &chemical.demand, FLOW),
            pump: self.value(path("pump"), &chemical.pump, SOME),
            contains,
        })
    }

    pub(super) fn cost(&mut self, cost: Cost) -> Option<SiteCost> {
        let before = self.problems.len();
        let sewer_basis = cost.sewer_basis.unwrap_or_default();
        if sewer_basis == SewerBasis::Share && cost.sewer_share.is_none() {
            self.problem(
                Problem::new(
                    "cost.sewer_basis",
                    "the part of the makeup that is billed is missing",
                )
                .with_help("write sewer_share = \"75 %\" beside it"),
            );
        }
        if sewer_basis != SewerBasis::Share && cost.sewer_share.is_some() {
            self.problem(
                Problem::new("cost.sewer_share", "the sewer is not billed on a share")
                    .with_help("write sewer_basis = \"share\" beside it"),
            );
        }
        if cost.least_saving.is_some_and(|saving| !(saving >= 0.0 && saving.is_finite())) {
            self.problem(Problem::new("cost.least_saving", "a saving is zero or more"));
        }
        let currency = cost.currency.unwrap_or_default();
        self.printable("cost.currency", &currency);
        let checked = SiteCost {
            currency,
            makeup: self.value("cost.makeup", &cost.makeup, FLOW),
            sewer: self.value("cost.sewer", &cost.sewer, FLOW),
            sewer_basis,
            sewer_share: self.value("cost.sewer_share", &cost.sewer_share, PART),
            energy: self.value("cost.energy", &cost.energy, FLOW),
            least_saving: cost.least_saving,
        };
        (self.problems.len() == before).then_some(checked)
    }
}
