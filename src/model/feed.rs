//! What a site feeds to its water.

use super::{Balance, BlowdownError, Infeasible, Inputs, Model, Refused, Workspace};
use crate::balance::WaterBalance;
use crate::blowdown::{PhBasis, TowerWater};
use crate::chemistry::Constituent;
use crate::feed::{self, Dose, Slug};
use crate::quantity::{significant, with_decimals};
use crate::site::{Acid, BlowdownGiven, ChemicalKind, Problem, SiteChemical, SlotId};
use crate::transient::Circuit;
use crate::warnings::{Noticed, feed as notices};

/// Contact time of a slow biocide, h, where nobody says (common practice: above 6 h).
pub(crate) const CONTACT_HOURS: f64 = 8.0;

/// Why a site has no feed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FeedError {
    /// Nothing is fed.
    #[error("the site feeds no chemical")]
    NoChemical,
    /// A slug or a decay without the water that it is in.
    #[error("{name} needs the volume of the system")]
    NoVolume {
        /// Which chemical.
        name: String,
    },
    /// The balance of the site itself.
    #[error(transparent)]
    Infeasible(#[from] Infeasible),
    /// No water that acid could hold.
    #[error(transparent)]
    Blowdown(#[from] BlowdownError),
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
    /// Decay in the water, 1/h.
    pub decay: f64,
    /// Acid for the makeup, meq/L.
    pub acid_meq_per_litre: Option<f64>,
    /// Part of the product that is active.
    pub strength: f64,
    /// The acid, where it is one.
    pub acid: Option<Acid>,
    /// Whether the contact time is assumed.
    pub contact_is_assumed: bool,
    /// Product for the makeup at this hour's load, g/m3.
    pub product_g_per_m3_makeup: Option<f64>,
    /// Product of a slug, L, where the density is stated.
    pub slug_litre: Option<f64>,
    /// What the pump passes at full stroke, L/h.
    pub pump_litre_per_hour: Option<f64>,
    /// Density of the product, kg/L.
    pub density: Option<f64>,
    /// What a kg of product brings, g, and what that comes to in the circulating water, mg/L.
    pub brings: Vec<Brought>,
}

/// A salt that a product brings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Brought {
    /// Which.
    pub ion: Constituent,
    /// g for a kg of product, in the basis that the constituent is shown as.
    pub g_per_kg: f64,
    /// In the circulating water, mg/L.
    pub milligram_per_litre: f64,
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
    /// Whether the cycles rest on a ratio of conductivities.
    pub cycles_are_apparent: bool,
    /// Hours of a year, and the mean load over them.
    pub year: (f64, f64),
    /// The pH that acid holds; without one an acid is not fed.
    pub held_ph: Option<f64>,
    /// Ammonia of the makeup, mg/L as N, where every source was analysed for it.
    pub makeup_ammonia_nitrogen: Option<f64>,
}

impl FeedSheet {
    /// What may look wrong about it.
    pub fn notices(&self) -> Vec<Noticed> {
        self.lines.iter().flat_map(|feed| feed.notices(self)).collect()
    }
}

impl FeedLine {
    /// The part of its full rate that the pump has to give; of a slug, none.
    pub fn stroke(&self) -> Option<f64> {
        let pumped = self.product_litre_per_day.filter(|_| self.slug.is_none())?;
        Some(pumped / 24.0 / self.pump_litre_per_hour?)
    }

    /// Minutes that the pump runs at its full rate: a day, or for a slug.
    pub fn pump_minutes(&self) -> Option<f64> {
        let litre = match self.slug {
            Some(_) => self.slug_litre,
            None => self.product_litre_per_day,
        };
        Some(60.0 * litre? / self.pump_litre_per_hour?)
    }

    fn pump_notices(&self) -> Option<Noticed> {
        let name = &self.name;
        if self.pump_litre_per_hour.is_some() && self.density.is_none() {
            return Some(notices::PUMP_WITHOUT_DENSITY.with(format!(
                "{name}: its pump cannot be set without the density of the product"
            )));
        }
        let stroke = self.stroke()?;
        let shown = with_decimals(100.0 * stroke, 0);
        if stroke > 1.0 {
            return Some(
                notices::PUMP_TOO_SMALL.with(format!(
                    "{name}: the pump would have to give {shown} % of its full rate"
                )),
            );
        }
        (stroke > 0.0 && stroke < feed::LEAST_STROKE).then(|| {
            notices::PUMP_TOO_LARGE.with(format!(
                "{name}: the pump would have to give {} % of its full rate, less than it keeps; let it run at \
                 more by a timer",
                significant(100.0 * stroke, 2)
            ))
        })
    }

    /// An oxidant whose stated demand is less than the makeup's ammonia takes.
    fn ammonia_notice(&self, sheet: &FeedSheet) -> Option<Noticed> {
        let nitrogen = sheet.makeup_ammonia_nitrogen.filter(|nitrogen| *nitrogen > 0.0)?;
        let takes = feed::BREAKPOINT * nitrogen;
        let stated = self.demand.unwrap_or(0.0);
        if self.kind != ChemicalKind::Oxidant || stated >= takes {
            return None;
        }
        let [low, high] = feed::BREAKPOINT_IN_PRACTICE.map(|each| significant(each * nitrogen, 2));
        Some(notices::AMMONIA_TAKES_OXIDANT.with(format!(
            "{}: the makeup's {} mg/L of ammonia nitrogen take {} mg/L of chlorine, {low} to {high} in practice, \
             before a free residual stands; the file states a demand of {} mg/L. Below that the residual is \
             combined and weak",
            self.name,
            significant(nitrogen, 2),
            significant(takes, 2),
            significant(stated, 2)
        )))
    }

    fn notices(&self, sheet: &FeedSheet) -> Vec<Noticed> {
        let name = &self.name;
        let mut noticed: Vec<Noticed> =
            self.pump_notices().into_iter().chain(self.ammonia_notice(sheet)).collect();
        if self.kind == ChemicalKind::Acid && sheet.held_ph.is_none() {
            noticed
                .push(notices::ACID_WITHOUT_PH.with(format!("{name}: no pH is held, none is fed")));
        }
        let Some(slug) = &self.slug else { return noticed };
        let end = sheet.cycles + slug.rise;
        if slug.pre_bleed.is_none() && end.is_finite() {
            noticed.push(notices::LOCK_RAISES_CYCLES.with(format!(
                "{name}: the lock adds {} cycles, more than the valve can bleed off before, and ends at up to {}",
                with_decimals(slug.rise, 2),
                with_decimals(end, 2)
            )));
        }
        if let Some(works) = slug.hours_effective.filter(|works| *works < slug.locked_hours) {
            noticed.push(notices::SLUG_WORKS_BRIEFLY.with(format!(
                "{name}: it works for {} h, the lock lasts {} h",
                significant(works, 2),
                significant(slug.locked_hours, 2)
            )));
        }
        noticed
    }
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
        let balance = self.evaluate(inputs, &mut Workspace::new(self))?;
        let state = self.feed_state(inputs, &balance)?;
        let mean = self.mean_hour(inputs, &balance.water);
        let lines = self.feed_lines(inputs, &state, (&balance.water, &mean))?;
        let held_ph = self.site.chemistry.ph.held.map(|(ph, _)| inputs.get(ph));
        Ok(FeedSheet {
            name: self.site.name.clone(),
            valve_is_assumed: state.valve_is_assumed && lines.iter().any(|l| l.slug.is_some()),
            lines,
            circuit: state.circuit_of(&balance.water),
            blowdown: Balance::reference_m3_per_h(balance.water.blowdown_kg_per_s),
            cycles: balance.water.cycles_of_concentration,
            currency: self.site.cost.currency.clone(),
            cycles_are_apparent: matches!(self.site.blowdown, BlowdownGiven::Conductivity(_)),
            year: (inputs.get(self.site.hours_per_year), inputs.get(self.site.load_factor)),
            held_ph,
            makeup_ammonia_nitrogen: self.makeup_ammonia_nitrogen(inputs),
        })
    }

    /// Every chemical with a balance in place of the site's own, its cycles held or its blowdown left as it is.
    ///
    /// # Errors
    /// [`FeedError`].
    pub(crate) fn feed_of(
        &self,
        inputs: &Inputs,
        balance: &Balance,
        (water, holds_cycles): (&WaterBalance, bool),
    ) -> Result<Vec<FeedLine>, FeedError> {
        let state = self.feed_state(inputs, balance)?;
        let mean = water.at_load(inputs.get(self.site.load_factor), holds_cycles);
        self.feed_lines(inputs, &state, (water, &mean))
    }

    /// Ammonia of the blended makeup, mg/L as N; sources that nobody analysed for it count as none.
    fn makeup_ammonia_nitrogen(&self, inputs: &Inputs) -> Option<f64> {
        const NITROGEN: f64 = 14.007;
        let whole: f64 = self.site.makeup.iter().map(|source| inputs.get(source.share)).sum();
        let found: Vec<f64> = self
            .site
            .makeup
            .iter()
            .filter_map(|source| {
                let is_ammonia = |(ion, _): &&(Constituent, SlotId)| *ion == Constituent::Ammonia;
                let (ion, slot) = source.analysis.constituents.iter().find(is_ammonia)?;
                let moles = ion.mole_per_kg(1e3 * inputs.get(*slot));
                Some(inputs.get(source.share) / whole * moles * NITROGEN * 1e3)
            })
            .collect();
        (!found.is_empty()).then(|| found.into_iter().sum())
    }

    /// What a product brings: what is stated, and of hypochlorite its own sodium and chloride.
    fn brought(
        &self,
        inputs: &Inputs,
        chemical: &SiteChemical,
        product_kg_per_day: f64,
        liquid: f64,
    ) -> Vec<Brought> {
        let mut salts: Vec<(Constituent, f64)> =
            chemical.contains.iter().map(|(ion, slot)| (*ion, inputs.get(*slot))).collect();
        if chemical.kind == ChemicalKind::Oxidant {
            let of_chlorine = inputs.get(chemical.strength);
            let ions = [Constituent::Sodium, Constituent::Chloride];
            for (ion, part) in ions.into_iter().zip(feed::OF_CHLORINE) {
                match salts.iter_mut().find(|(known, _)| *known == ion) {
                    Some((_, stated)) => *stated += part * of_chlorine,
                    None => salts.push((ion, part * of_chlorine)),
                }
            }
        }
        // mg/L is g/m3.
        let product = 1e3 * product_kg_per_day / (24.0 * liquid);
        let brought = salts.into_iter().map(|(ion, part)| Brought {
            ion,
            g_per_kg: 1e3 * part,
            milligram_per_litre: if liquid > 0.0 { part * product } else { f64::INFINITY },
        });
        brought.collect()
    }

    /// What the feed needs beside the flows; the circulating water only where acid is fed.
    pub(super) fn feed_state(
        &self,
        inputs: &Inputs,
        balance: &Balance,
    ) -> Result<FeedState, FeedError> {
        let (valve_flow, valve_is_assumed) = self.valve_flow(inputs, balance);
        let is_held = self.site.chemistry.ph.held.is_some();
        let has_acid = self.site.chemicals.iter().any(|c| c.kind == ChemicalKind::Acid);
        let tower = match is_held && has_acid {
            true => Some(self.site_water(inputs, balance)?.tower),
            false => None,
        };
        let volume = self.volume_m3(inputs);
        Ok(FeedState { tower, volume, valve_flow, valve_is_assumed })
    }

    /// Every chemical in a closed balance, with the mean hour of its year.
    pub(super) fn feed_lines(
        &self,
        inputs: &Inputs,
        state: &FeedState,
        waters: (&WaterBalance, &WaterBalance),
    ) -> Result<Vec<FeedLine>, FeedError> {
        let chemicals = self.site.chemicals.iter();
        chemicals.map(|chemical| self.feed_line(inputs, chemical, state, waters)).collect()
    }

    fn feed_line(
        &self,
        inputs: &Inputs,
        chemical: &SiteChemical,
        state: &FeedState,
        (water, mean): (&WaterBalance, &WaterBalance),
    ) -> Result<FeedLine, FeedError> {
        let of = |slot: Option<SlotId>| slot.map(|slot| inputs.get(slot));
        let milligram = |slot| of(slot).map(|kg_per_m3: f64| kg_per_m3 * 1e3);
        let hours = |slot| of(slot).map(|seconds: f64| seconds / 3_600.0);
        let dose = milligram(chemical.dose);
        let decay = hours(chemical.half_life).map_or(0.0, |half| std::f64::consts::LN_2 / half);
        let every_hours = hours(chemical.every);
        let contact = hours(chemical.contact);
        let held = dose.unwrap_or(0.0);
        if state.volume.is_none() && (decay > 0.0 || chemical.kind == ChemicalKind::Biocide) {
            return Err(FeedError::NoVolume { name: chemical.name.clone() });
        }
        let circuit = &state.circuit_of(water);
        let blowdown = Balance::reference_m3_per_h(water.blowdown_kg_per_s);
        let cycles = water.cycles_of_concentration;
        let mut slug = None;
        let mut acid_fed = None;
        let held_kg_per_day = |water: &WaterBalance| {
            let circuit = &state.circuit_of(water);
            let blowdown = Balance::reference_m3_per_h(water.blowdown_kg_per_s);
            if chemical.kind == ChemicalKind::Oxidant {
                let demand = milligram(chemical.demand).unwrap_or(0.0);
                feed::oxidant_kg_per_day(circuit, blowdown, (demand, held), decay)
            } else {
                feed::held_kg_per_day(circuit, blowdown, held, decay)
            }
        };
        let active_kg_per_day = match chemical.kind {
            ChemicalKind::Inhibitor | ChemicalKind::Oxidant => held_kg_per_day(water),
            ChemicalKind::Biocide => {
                let dose = Dose {
                    start: held,
                    decay,
                    effective: milligram(chemical.effective),
                    contact: contact.unwrap_or(CONTACT_HOURS),
                };
                let found = feed::slug(circuit, &dose, cycles, (blowdown, state.valve_flow));
                slug = Some(found);
                found.active_kg * 24.0 / every_hours.unwrap_or(f64::INFINITY)
            }
            ChemicalKind::Acid => {
                let fed = acid_for(state, cycles)?;
                acid_fed = Some(fed);
                let makeup = circuit.evaporation + circuit.other_losses + blowdown;
                feed::acid_kg_per_day(makeup, fed.meq_per_litre, fed.equivalent_mass)
            }
        };
        let strength = inputs.get(chemical.strength);
        let product_kg_per_day = active_kg_per_day / strength;
        let days = inputs.get(self.site.hours_per_year) / 24.0;
        let active_on_a_mean_day = match chemical.kind {
            // A slug goes into the volume whatever the load.
            ChemicalKind::Biocide => active_kg_per_day,
            // Without makeup there is nothing to feed acid to.
            ChemicalKind::Acid if water.makeup_kg_per_s > 0.0 => {
                active_kg_per_day * mean.makeup_kg_per_s / water.makeup_kg_per_s
            }
            ChemicalKind::Acid => active_kg_per_day,
            _ => held_kg_per_day(mean),
        };
        let product_kg_per_year = active_on_a_mean_day / strength * days;
        let liquid = circuit.other_losses + blowdown;
        let makeup = circuit.evaporation + liquid;
        let density = of(chemical.density).map(|density| 1e-3 * density);
        let slug_product_kg = slug.map(|slug| slug.active_kg / strength);
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
            slug_product_kg,
            slug_litre: slug_product_kg.zip(density).map(|(kg, density)| kg / density),
            product_g_per_m3_makeup: (makeup > 0.0)
                .then(|| 1e3 * product_kg_per_day / (24.0 * makeup)),
            pump_litre_per_hour: of(chemical.pump).map(|flow| 3.6e6 * flow),
            density,
            brings: self.brought(inputs, chemical, product_kg_per_day, liquid),
            slug,
            every_hours,
            demand: milligram(chemical.demand),
            decay,
            acid_meq_per_litre: acid_fed.map(|fed| fed.meq_per_litre),
            acid: acid_fed.and_then(|fed| fed.acid),
            strength,
            contact_is_assumed: slug.is_some() && contact.is_none(),
        })
    }
}

/// What the feed needs beside the flows.
pub(super) struct FeedState {
    /// The circulating water, where acid is fed.
    tower: Option<TowerWater>,
    /// m3.
    volume: Option<f64>,
    /// m3/h.
    valve_flow: f64,
    valve_is_assumed: bool,
}

impl FeedState {
    /// Volume and flows of a balance, m3/h; without a volume nothing is asked that needs it.
    fn circuit_of(&self, water: &WaterBalance) -> Circuit {
        let hourly = Balance::reference_m3_per_h;
        Circuit {
            volume: self.volume.unwrap_or(0.0),
            evaporation: hourly(water.evaporation_kg_per_s),
            other_losses: hourly(water.losses().liquid_kg_per_s()),
        }
    }
}

/// Acid for the makeup.
#[derive(Clone, Copy)]
struct AcidFed {
    meq_per_litre: f64,
    /// g/eq.
    equivalent_mass: f64,
    acid: Option<Acid>,
}

fn acid_for(state: &FeedState, cycles: f64) -> Result<AcidFed, FeedError> {
    let none = AcidFed { meq_per_litre: 0.0, equivalent_mass: 0.0, acid: None };
    let Some(tower) = state.tower.as_ref().filter(|_| cycles.is_finite()) else { return Ok(none) };
    let PhBasis::Held { acid, .. } = tower.basis() else { return Ok(none) };
    let water = tower.at_cycles(cycles).map_err(|unsolved| FeedError::Blowdown(unsolved.into()))?;
    let equivalent_mass = match acid {
        Acid::Hydrochloric => feed::HYDROCHLORIC_ACID,
        Acid::Sulfuric => feed::SULFURIC_ACID,
    };
    Ok(AcidFed { meq_per_litre: 1e3 * water.acid / cycles, equivalent_mass, acid: Some(acid) })
}

impl Refused for FeedError {
    fn problem(&self, model: &Model) -> Problem {
        match self {
            FeedError::NoChemical => Problem::new("chemical", self.to_string()).with_help(
                "add [[chemical]] with kind = \"inhibitor\", \"biocide\", \"oxidant\" or \"acid\", \
                 and its dose",
            ),
            FeedError::NoVolume { name } => {
                Problem::new(format!("chemical.{name}"), self.to_string())
                    .with_help("write volume = \"60 m3\" in [circuit]: basin, pipes and equipment")
            }
            FeedError::Infeasible(why) => why.problem(model),
            FeedError::Blowdown(why) => why.problem(model),
        }
    }
}
