//! What a site feeds to its water.

use super::{Balance, CourseError, Inputs, Model, TargetError};
use crate::blowdown::PhBasis;
use crate::feed::{self, Slug};
use crate::site::{Acid, ChemicalKind, Problem, SiteChemical, SlotId};
use crate::transient::Circuit;

/// Contact time of a slow biocide, h, where nobody says (common practice: above 6 h).
const CONTACT_HOURS: f64 = 8.0;

/// Why a site has no feed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FeedError {
    /// Nothing is fed.
    #[error("the site feeds no chemical")]
    NoChemical,
    /// No circuit to feed it to.
    #[error(transparent)]
    Course(#[from] CourseError),
    /// No water that acid could hold.
    #[error(transparent)]
    Target(#[from] TargetError),
}

/// One chemical.
#[derive(Debug, Clone, PartialEq)]
pub struct FeedLine {
    /// Name, or number from 1.
    pub name: String,
    /// What it does.
    pub kind: ChemicalKind,
    /// Active substance in the circulating water, mg/L.
    pub dose: Option<f64>,
    /// Active substance, kg/d at this hour's load.
    pub active_kg_per_day: f64,
    /// Product, kg/d at this hour's load.
    pub product_kg_per_day: f64,
    /// Product, L/d, where its density is stated.
    pub product_litre_per_day: Option<f64>,
    /// Product in a year at the mean load, kg.
    pub product_kg_per_year: f64,
    /// Its cost in a year.
    pub cost_per_year: Option<f64>,
    /// A slug of it, where it is given in slugs.
    pub slug: Option<Slug>,
    /// Product of a slug, kg.
    pub slug_product_kg: Option<f64>,
    /// Hours between slugs.
    pub every_hours: Option<f64>,
    /// What the makeup uses up of an oxidant, mg/L.
    pub demand: Option<f64>,
    /// Whether it decays in the water.
    pub decays: bool,
    /// Acid for the makeup, meq/L.
    pub acid_meq_per_litre: Option<f64>,
    /// Part of the product that is active.
    pub strength: f64,
    /// Whether the contact time is assumed.
    pub contact_is_assumed: bool,
}

/// All that is fed.
#[derive(Debug, Clone, PartialEq)]
pub struct FeedSheet {
    /// Name of the site.
    pub name: String,
    /// Every chemical.
    pub lines: Vec<FeedLine>,
    /// Volume and flows, m3/h.
    pub circuit: Circuit,
    /// Blowdown, m3/h.
    pub blowdown: f64,
    /// Cycles of concentration.
    pub cycles: f64,
    /// Currency as it is printed.
    pub currency: String,
    /// Whether the valve's flow is assumed.
    pub valve_is_assumed: bool,
}

impl Model {
    /// What the site feeds, for these numbers.
    ///
    /// # Errors
    /// [`FeedError`].
    pub fn feed(&self, inputs: &Inputs) -> Result<FeedSheet, FeedError> {
        if self.site.chemicals.is_empty() {
            return Err(FeedError::NoChemical);
        }
        let (circuit, balance) = self.circuit(inputs)?;
        let blowdown = Balance::reference_m3_per_h(balance.water.blowdown_kg_per_s);
        let cycles = balance.water.cycles_of_concentration;
        let (valve_flow, valve_is_assumed) = self.valve_flow(inputs, &balance);
        let state = State { circuit, blowdown, cycles, valve_flow };
        let lines: Result<Vec<FeedLine>, FeedError> = self
            .site
            .chemicals
            .iter()
            .map(|chemical| self.feed_line(inputs, chemical, &state))
            .collect();
        let lines = lines?;
        Ok(FeedSheet {
            name: self.site.name.clone(),
            valve_is_assumed: valve_is_assumed && lines.iter().any(|line| line.slug.is_some()),
            lines,
            circuit,
            blowdown,
            cycles,
            currency: self.site.cost.currency.clone(),
        })
    }

    fn feed_line(
        &self,
        inputs: &Inputs,
        chemical: &SiteChemical,
        state: &State,
    ) -> Result<FeedLine, FeedError> {
        let of = |slot: Option<SlotId>| slot.map(|slot| inputs.get(slot));
        let milligram = |slot| of(slot).map(|kg_per_m3: f64| kg_per_m3 * 1e3);
        let hours = |slot| of(slot).map(|seconds: f64| seconds / 3_600.0);
        let dose = milligram(chemical.dose);
        let decay = hours(chemical.half_life).map_or(0.0, |half| std::f64::consts::LN_2 / half);
        let every_hours = hours(chemical.every);
        let contact = hours(chemical.contact);
        let held = dose.unwrap_or(0.0);
        let (circuit, blowdown) = (&state.circuit, state.blowdown);
        let mut slug = None;
        let mut acid_meq_per_litre = None;
        let active_kg_per_day = match chemical.kind {
            ChemicalKind::Inhibitor => feed::held_kg_per_day(circuit, blowdown, held, decay),
            ChemicalKind::Oxidant => {
                let demand = milligram(chemical.demand).unwrap_or(0.0);
                feed::oxidant_kg_per_day(circuit, blowdown, (demand, held), decay)
            }
            ChemicalKind::Biocide => {
                let found = feed::slug(
                    circuit,
                    (held, decay, milligram(chemical.effective)),
                    (state.cycles, state.valve_flow),
                    contact.unwrap_or(CONTACT_HOURS),
                );
                slug = Some(found);
                found.active_kg * 24.0 / every_hours.unwrap_or(f64::INFINITY)
            }
            ChemicalKind::Acid => {
                let (meq, equivalent_mass) = self.acid(inputs, state.cycles)?;
                acid_meq_per_litre = Some(meq);
                let makeup = circuit.evaporation + circuit.other_losses + blowdown;
                feed::acid_kg_per_day(makeup, meq, equivalent_mass)
            }
        };
        let strength = inputs.get(chemical.strength);
        let product_kg_per_day = active_kg_per_day / strength;
        let days = inputs.get(self.site.hours_per_year) / 24.0;
        let load = match chemical.kind {
            // A slug goes into the volume whatever the load.
            ChemicalKind::Biocide => 1.0,
            _ => inputs.get(self.site.load_factor),
        };
        let product_kg_per_year = product_kg_per_day * days * load;
        Ok(FeedLine {
            name: chemical.name.clone(),
            kind: chemical.kind,
            dose,
            active_kg_per_day,
            product_kg_per_day,
            product_litre_per_day: of(chemical.density)
                .map(|density| product_kg_per_day / density * 1e3),
            product_kg_per_year,
            cost_per_year: of(chemical.price).map(|price| price * product_kg_per_year),
            slug_product_kg: slug.map(|slug| slug.active_kg / strength),
            slug,
            every_hours,
            demand: milligram(chemical.demand),
            decays: decay > 0.0,
            acid_meq_per_litre,
            strength,
            contact_is_assumed: slug.is_some() && contact.is_none(),
        })
    }

    /// Acid for the makeup at these cycles, meq/L, and its equivalent mass, g/eq.
    fn acid(&self, inputs: &Inputs, cycles: f64) -> Result<(f64, f64), FeedError> {
        let sheet = self.target(inputs)?;
        let water = self.water_at(&sheet, cycles)?;
        let equivalent_mass = match sheet.tower.basis() {
            PhBasis::Held { acid: Acid::Hydrochloric, .. } => feed::HYDROCHLORIC_ACID,
            _ => feed::SULFURIC_ACID,
        };
        Ok((1e3 * water.acid / cycles, equivalent_mass))
    }

    /// Where a site without a feed goes wrong, in terms of its description.
    pub fn explain_feed(&self, why: &FeedError) -> Problem {
        match why {
            FeedError::NoChemical => Problem::new("chemical", why.to_string()).with_help(
                "add [[chemical]] with kind = \"inhibitor\", \"biocide\", \"oxidant\" or \"acid\", \
                 and its dose",
            ),
            FeedError::Course(why) => self.explain_course(why),
            FeedError::Target(why) => self.explain_target(why),
        }
    }
}

/// Where the water stands.
struct State {
    circuit: Circuit,
    blowdown: f64,
    cycles: f64,
    valve_flow: f64,
}
