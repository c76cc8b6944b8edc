//! Limits of the circulating water: what is measured, how much is allowed, who says so.

use super::ConcentratedWater;
use crate::chemistry::index::larson_skold;
use crate::chemistry::{Component, Constituent, Mineral};
use crate::site::description::{Code, LimitValue, Material};

/// Something that a limit is set on. Limits on a saturation index and bands of the trade's indices
/// are different measures and never mixed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Measure {
    /// A constituent, mg/L in the basis that it is shown as.
    Constituent(Constituent),
    /// pH in the basin.
    Ph,
    /// Conductivity at 25 degC, uS/cm.
    Conductivity,
    /// Dissolved solids as permits mean them: what drying at 180 degC leaves, mg/L.
    DissolvedSolids,
    /// Sum of the dissolved ions, mg/L.
    DissolvedIons,
    /// Suspended solids, mg/L.
    SuspendedSolids,
    /// Saturation index, at the mineral's own worst temperature.
    SaturationIndex(Mineral),
    /// Langelier's index, simple form.
    Langelier,
    /// Ryznar's index.
    Ryznar,
    /// Puckorius' index.
    Puckorius,
    /// Larson and Skold's ratio.
    LarsonSkold,
    /// Calcium as CaCO3 times sulfate, (mg/L)2.
    CalciumSulfateProduct,
    /// Magnesium as CaCO3 times silica, (mg/L)2.
    MagnesiumSilicaProduct,
    /// Cycles of concentration themselves.
    Cycles,
}

const NAMED: [(&str, &str, &str, Measure); 12] = [
    ("ph", "pH", "", Measure::Ph),
    ("conductivity", "conductivity at 25 °C", "uS/cm", Measure::Conductivity),
    ("dissolved_solids", "dissolved solids, dried", "mg/L", Measure::DissolvedSolids),
    ("dissolved_ions", "dissolved ions", "mg/L", Measure::DissolvedIons),
    ("suspended_solids", "suspended solids", "mg/L", Measure::SuspendedSolids),
    ("langelier", "Langelier index, simple form", "", Measure::Langelier),
    ("ryznar", "Ryznar index", "", Measure::Ryznar),
    ("puckorius", "Puckorius index", "", Measure::Puckorius),
    ("larson_skold", "Larson-Skold ratio", "", Measure::LarsonSkold),
    ("calcium_sulfate_product", "Ca as CaCO3 x SO4", "", Measure::CalciumSulfateProduct),
    ("magnesium_silica_product", "Mg as CaCO3 x SiO2", "", Measure::MagnesiumSilicaProduct),
    ("cycles", "cycles", "", Measure::Cycles),
];

impl Measure {
    /// The key in site files and machine output.
    pub fn key(self) -> String {
        match self {
            Self::Constituent(constituent) => constituent.key().into(),
            Self::SaturationIndex(mineral) => format!("saturation_index.{}", mineral.key()),
            _ => self.named().0.into(),
        }
    }

    /// What people call it.
    pub fn name(self) -> String {
        match self {
            Self::Constituent(constituent) => constituent.name().into(),
            Self::SaturationIndex(mineral) => mineral.name().into(),
            _ => self.named().1.into(),
        }
    }

    /// The unit of its values.
    pub fn unit(self) -> String {
        match self {
            Self::Constituent(constituent) => format!("mg/L as {}", constituent.basis().formula()),
            Self::SaturationIndex(_) => "SI".into(),
            _ => self.named().2.into(),
        }
    }

    fn named(self) -> (&'static str, &'static str, &'static str, Self) {
        NAMED.into_iter().find(|(.., measure)| *measure == self).unwrap_or(NAMED[0])
    }

    /// The measure of a key, as in `chloride`, `ph`, `saturation_index.gypsum`.
    pub fn of_key(key: &str) -> Option<Self> {
        if let Some(mineral) = key.strip_prefix("saturation_index.") {
            let mineral = Mineral::ALL.into_iter().find(|known| known.key() == mineral);
            return mineral.map(Self::SaturationIndex);
        }
        Constituent::of_key(key).map(Self::Constituent).or_else(|| {
            NAMED.iter().find(|(known, ..)| *known == key).map(|(.., measure)| *measure)
        })
    }

    /// Every key that a limit may name.
    pub fn keys() -> impl Iterator<Item = String> {
        let constituents = Constituent::ALL.into_iter().map(Self::Constituent);
        let minerals = Mineral::ALL.into_iter().map(Self::SaturationIndex);
        let named = NAMED.into_iter().map(|(.., measure)| measure);
        constituents.chain(minerals).chain(named).map(Self::key)
    }

    /// Its value in a water; `None` where the water lacks what it is made of.
    pub fn of(self, water: &ConcentratedWater) -> Option<f64> {
        let composition = &water.composition;
        let shown = |constituent: Constituent| {
            let moles = water.metals.get(constituent).or_else(|| constituent.of(composition))?;
            Some(constituent.milligram_per_litre(moles))
        };
        let hardness =
            |component| Constituent::Hardness.milligram_per_litre(composition.get(component));
        let value = match self {
            Self::Constituent(constituent) => shown(constituent)?,
            Self::Ph => water.basin.ph,
            Self::Conductivity => water.conductivity * 1e4,
            Self::DissolvedSolids => water.dried_solids,
            Self::DissolvedIons => water.dissolved_solids,
            Self::SuspendedSolids => water.suspended_solids?,
            Self::SaturationIndex(mineral) => water.worst_saturation(mineral)?.index,
            Self::Langelier => water.simple.langelier(),
            Self::Ryznar => water.simple.ryznar(),
            Self::Puckorius => water.simple.puckorius(),
            Self::LarsonSkold => larson_skold(
                composition.get(Component::Chloride),
                2.0 * composition.get(Component::Sulfate),
                composition.alkalinity,
            ),
            Self::CalciumSulfateProduct => {
                hardness(Component::Calcium) * shown(Constituent::Sulfate)?
            }
            Self::MagnesiumSilicaProduct => {
                hardness(Component::Magnesium) * shown(Constituent::Silica)?
            }
            Self::Cycles => water.cycles,
        };
        // A product or a ratio of zero says that something was not analysed.
        let is_made_up_of_ions = matches!(
            self,
            Self::LarsonSkold | Self::CalciumSulfateProduct | Self::MagnesiumSilicaProduct
        );
        (value.is_finite() && !(is_made_up_of_ions && value == 0.0)).then_some(value)
    }

    /// The key that a misspelt one may stand for.
    pub fn nearest_key(key: &str) -> Option<String> {
        let distance = |known: &String| strsim::damerau_levenshtein(known, key);
        Self::keys().min_by_key(distance).filter(|known| distance(known) <= 3)
    }
}

/// Which side of a limit is allowed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// Up to the value.
    Most,
    /// From the value on.
    Least,
}

/// One limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// On what.
    pub measure: Measure,
    /// Which side.
    pub bound: Bound,
    /// The value, in the unit of the measure.
    pub value: f64,
    /// What it protects, or where it was stated.
    pub of: String,
    /// Who says so.
    pub source: String,
    /// Whether somebody stated it for this site.
    pub is_own: bool,
}

const SHEET: &str =
    "preferred limits for galvanised-steel towers, a one-page sheet without its issuer";
const STAINLESS: &str = "chloride against temperature, heat-pump exchanger guide";
const MEMORY: &str = "from memory, unverified";

fn most(of: &str, measure: Measure, value: f64, source: &str) -> Limit {
    let (of, source) = (of.into(), source.into());
    Limit { measure, bound: Bound::Most, value, of, source, is_own: false }
}

fn least(of: &str, measure: Measure, value: f64, source: &str) -> Limit {
    Limit { bound: Bound::Least, ..most(of, measure, value, source) }
}

/// Limits that a material sets at the temperature of its hottest surface, degC.
pub fn of_material(material: Material, celsius: f64) -> Vec<Limit> {
    let on = Measure::Constituent;
    // Calcium in the sheet is counted as CaCO3.
    let calcium = |as_calcium_carbonate: f64| as_calcium_carbonate * 40.08 / 100.09;
    match material {
        Material::Stainless304 | Material::Stainless316 => {
            let (of, at) = match material {
                Material::Stainless304 => ("stainless 304", [400.0, 250.0, 150.0]),
                _ => ("stainless 316", [1_000.0, 550.0, 375.0]),
            };
            let beyond = if celsius > 38.0 {
                ", beyond whose last line of 38 °C the limit falls further"
            } else {
                ""
            };
            let source = format!("{STAINLESS}; at {celsius:.0} °C{beyond}");
            vec![most(of, on(Constituent::Chloride), by_temperature(at, celsius), &source)]
        }
        Material::GalvanisedSteel => {
            const OF: &str = "galvanised steel";
            vec![
                most(OF, Measure::Ph, 8.0, SHEET),
                least(OF, Measure::Ph, 6.5, SHEET),
                most(OF, on(Constituent::Alkalinity), 500.0, SHEET),
                least(OF, on(Constituent::Alkalinity), 100.0, SHEET),
                most(OF, on(Constituent::Calcium), calcium(500.0), SHEET),
                least(OF, on(Constituent::Calcium), calcium(50.0), SHEET),
                most(OF, on(Constituent::Chloride), 300.0, SHEET),
                most(OF, on(Constituent::Sulfate), 250.0, SHEET),
                most(OF, on(Constituent::Nitrate), 300.0, SHEET),
                most(OF, on(Constituent::Silica), 150.0, SHEET),
                most(OF, on(Constituent::Iron), 3.0, SHEET),
                most(OF, Measure::DissolvedSolids, 1_500.0, SHEET),
            ]
        }
        Material::NewGalvanisedSteel => {
            const OF: &str = "new galvanised steel, its first 8 weeks";
            vec![
                most(OF, Measure::Ph, 8.0, SHEET),
                least(OF, Measure::Ph, 6.5, SHEET),
                most(OF, on(Constituent::Hardness), 300.0, SHEET),
                least(OF, on(Constituent::Hardness), 100.0, SHEET),
                most(OF, on(Constituent::Alkalinity), 300.0, SHEET),
                least(OF, on(Constituent::Alkalinity), 100.0, SHEET),
            ]
        }
        Material::CopperAlloy => {
            vec![most("copper alloys", on(Constituent::Ammonia), 2.0, MEMORY)]
        }
        Material::Concrete => vec![most(
            "concrete",
            on(Constituent::Sulfate),
            1_500.0,
            "ACI 318, upper end of exposure class S1 (from memory, unverified)",
        )],
        Material::FilmFill => vec![most("film fill", Measure::SuspendedSolids, 50.0, MEMORY)],
    }
}

/// Between the table's values at 10, 24 and 38 degC; its ends beyond.
fn by_temperature([cool, mild, warm]: [f64; 3], celsius: f64) -> f64 {
    let between = |low: f64, high: f64, from: f64, to: f64| {
        low + (high - low) * ((celsius - from) / (to - from)).clamp(0.0, 1.0)
    };
    if celsius < 24.0 { between(cool, mild, 10.0, 24.0) } else { between(mild, warm, 24.0, 38.0) }
}

/// Limits that a code or a rating sets.
pub fn of_code(code: Code) -> Vec<Limit> {
    let on = Measure::Constituent;
    match code {
        Code::LeedV4 => {
            const OF: &str = "LEED v4";
            const SOURCE: &str = "LEED v4, cooling tower water use, table 1 (U.S. Green Building Council, 2013; repeated in EPA 832-F-17-016C)";
            vec![
                most(OF, on(Constituent::Calcium), 1_000.0 * 40.08 / 100.09, SOURCE),
                most(OF, on(Constituent::Alkalinity), 1_000.0, SOURCE),
                most(OF, on(Constituent::Silica), 100.0, SOURCE),
                most(OF, on(Constituent::Chloride), 250.0, SOURCE),
                most(OF, Measure::Conductivity, 2_000.0, SOURCE),
                most(OF, Measure::Cycles, 10.0, SOURCE),
            ]
        }
        Code::Ashrae189 => vec![least(
            "ASHRAE 189.1",
            Measure::Cycles,
            5.0,
            "ASHRAE 189.1, 6.3.2 (from memory): 5 cycles, or 3.5 where the makeup's hardness is above 200 mg/L as CaCO3",
        )],
        Code::Title24 => vec![most(
            "Title 24",
            Measure::Langelier,
            2.5,
            "California Title 24 part 6, 110.2(e) (from memory): cycles at a Langelier index of 2.5 or less",
        )],
    }
}

/// The limit on a saturation index that the treatment is allowed to carry.
pub fn of_saturation(mineral: Mineral, stated: Option<f64>) -> Option<Limit> {
    let measure = Measure::SaturationIndex(mineral);
    match (stated, mineral) {
        (Some(value), _) => Some(most("treatment", measure, value, "stated in the site file")),
        // Supersaturated in almost every water that holds phosphate, and rarely a deposit.
        (None, Mineral::Hydroxyapatite | Mineral::TricalciumPhosphate) => None,
        (None, _) => {
            Some(most("no treatment", measure, 0.0, "saturation: no supersaturation is stated"))
        }
    }
}

/// The number of a limit in the unit of its measure.
///
/// # Errors
/// What would be right.
pub fn value_of(measure: Measure, stated: &LimitValue) -> Result<f64, String> {
    use crate::quantity::{Concentration, Conductivity, MassConcentration, Stated};
    let number = match (measure, stated) {
        (Measure::Constituent(constituent), LimitValue::Text(text)) => {
            let read: Concentration = text.parse().map_err(|error| format!("{error}"))?;
            constituent.read(&read).map_err(|error| error.to_string())?
        }
        (Measure::Constituent(constituent), LimitValue::Number(number)) => {
            let formula = constituent.basis().formula();
            return Err(format!("the number has no unit\nwrite \"{number} mg/L as {formula}\""));
        }
        (Measure::Conductivity, LimitValue::Text(text)) => {
            let read: Stated<Conductivity> = text.parse().map_err(|error| format!("{error}"))?;
            read.value.in_microsiemens_per_centimetre()
        }
        (
            Measure::DissolvedSolids | Measure::DissolvedIons | Measure::SuspendedSolids,
            LimitValue::Text(text),
        ) => {
            let read: Stated<MassConcentration> =
                text.parse().map_err(|error| format!("{error}"))?;
            read.value.in_milligram_per_litre()
        }
        (
            Measure::Conductivity
            | Measure::DissolvedSolids
            | Measure::DissolvedIons
            | Measure::SuspendedSolids,
            LimitValue::Number(number),
        ) => {
            let unit = measure.unit();
            return Err(format!("the number has no unit\nwrite \"{number} {unit}\""));
        }
        (_, LimitValue::Number(number)) => *number,
        (_, LimitValue::Text(text)) => text.trim().parse().map_err(|_| {
            format!("\"{text}\" is not a plain number\nwrite it without a unit, as in 8.5")
        })?,
    };
    if number.is_finite() { Ok(number) } else { Err("a limit is a finite number".into()) }
}
