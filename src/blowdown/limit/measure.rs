//! What a limit is set on, and its value in a water.

use crate::blowdown::{ConcentratedWater, TowerWater};
use crate::chemistry::index::larson_skold;
use crate::chemistry::{Component, Constituent, Mineral};
use crate::quantity::{significant, with_decimals};
use crate::site::description::LimitValue;

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
    /// Langelier's index, simple form, in the basin.
    Langelier,
    /// The same with the temperature of the hottest surface, where suppliers often state it.
    LangelierAtSurface,
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
    /// Blowdown, m3/d.
    DischargeFlow,
    /// What the blowdown carries of a constituent, kg/d in the basis that it is shown as.
    Load(Constituent),
}

/// A US gallon, m3.
const US_GALLON_M3: f64 = 3.785_411_784e-3;
/// A pound, kg.
const POUND_KG: f64 = 0.453_592_37;
/// What a load is stated with in site files.
const LOAD: &str = "load.";

const NAMED: [(&str, &str, &str, Measure); 14] = [
    ("ph", "pH", "", Measure::Ph),
    ("conductivity", "conductivity at 25 °C", "uS/cm", Measure::Conductivity),
    ("dissolved_solids", "dissolved solids, dried", "mg/L", Measure::DissolvedSolids),
    ("dissolved_ions", "dissolved ions", "mg/L", Measure::DissolvedIons),
    ("suspended_solids", "suspended solids", "mg/L", Measure::SuspendedSolids),
    ("langelier", "Langelier index in the basin", "", Measure::Langelier),
    ("langelier_at_surface", "Langelier index at the surface", "", Measure::LangelierAtSurface),
    ("ryznar", "Ryznar index", "", Measure::Ryznar),
    ("puckorius", "Puckorius index", "", Measure::Puckorius),
    ("larson_skold", "Larson-Skold ratio", "", Measure::LarsonSkold),
    ("calcium_sulfate_product", "Ca as CaCO3 x SO4", "", Measure::CalciumSulfateProduct),
    ("magnesium_silica_product", "Mg as CaCO3 x SiO2", "", Measure::MagnesiumSilicaProduct),
    ("cycles", "cycles", "", Measure::Cycles),
    ("discharge_flow", "discharge", "m3/d", Measure::DischargeFlow),
];

impl Measure {
    /// The key in site files and machine output.
    pub fn key(self) -> String {
        match self {
            Self::Constituent(constituent) => constituent.key().into(),
            Self::SaturationIndex(mineral) => format!("saturation_index.{}", mineral.key()),
            Self::Load(constituent) => format!("{LOAD}{}", constituent.key()),
            _ => self.named().0.into(),
        }
    }

    /// What people call it.
    pub fn name(self) -> String {
        match self {
            Self::Constituent(constituent) => constituent.name().into(),
            Self::SaturationIndex(mineral) => mineral.name().into(),
            Self::Load(constituent) => format!("{} discharged", constituent.name()),
            _ => self.named().1.into(),
        }
    }

    /// The unit of its values.
    pub fn unit(self) -> String {
        match self {
            Self::Constituent(constituent) => format!("mg/L as {}", constituent.basis().formula()),
            Self::SaturationIndex(_) => "SI".into(),
            Self::Load(constituent) => format!("kg/d as {}", constituent.basis().formula()),
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
        if let Some(constituent) = key.strip_prefix(LOAD) {
            return Constituent::of_key(constituent).map(Self::Load);
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
        let loads = Constituent::ALL.into_iter().map(Self::Load);
        let named = named.chain(loads);
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
            Self::SaturationIndex(mineral) => water.worst_saturation(mineral)?,
            Self::Langelier => water.simple.langelier(),
            Self::LangelierAtSurface => water.simple_at_surface().langelier(),
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
            Self::DischargeFlow => water.discharge_m3_per_day?,
            Self::Load(constituent) => 1e-3 * water.discharge_m3_per_day? * shown(constituent)?,
        };
        // A product or a ratio of zero says that something was not analysed.
        let is_made_up_of_ions = matches!(
            self,
            Self::LarsonSkold | Self::CalciumSulfateProduct | Self::MagnesiumSilicaProduct
        );
        (value.is_finite() && !(is_made_up_of_ions && value == 0.0)).then_some(value)
    }

    /// [`Measure::of`] of a constituent that was analysed; what nobody analysed is not known to be none.
    pub fn known_of(self, tower: &TowerWater, water: &ConcentratedWater) -> Option<f64> {
        match self {
            Self::Constituent(constituent) | Self::Load(constituent)
                if tower.not_analysed.contains(&constituent) =>
            {
                None
            }
            _ => self.of(water),
        }
    }

    /// Whether the makeup is known to hold none of what the measure is made of, so that no ceiling binds: softened
    /// water lays down no calcite.
    pub fn is_of_what_is_absent(self, tower: &TowerWater) -> bool {
        use Mineral as M;
        let needed = match self {
            Self::SaturationIndex(M::Brucite | M::MagnesiumSilicate) => Constituent::Magnesium,
            Self::SaturationIndex(M::AmorphousSilica) => Constituent::Silica,
            Self::SaturationIndex(_) | Self::Langelier | Self::LangelierAtSurface => {
                Constituent::Calcium
            }
            _ => return false,
        };
        !tower.not_analysed.contains(&needed) && needed.of(tower.makeup()) == Some(0.0)
    }

    /// A value with as many digits as the measure deserves, without its unit.
    pub fn shown(self, value: f64) -> String {
        match self {
            Self::Ph
            | Self::SaturationIndex(_)
            | Self::Langelier
            | Self::LangelierAtSurface
            | Self::Ryznar
            | Self::Puckorius
            | Self::LarsonSkold => with_decimals(value, 2),
            Self::Cycles if value < 10.0 => with_decimals(value, 2),
            _ => significant(value, 3),
        }
    }

    /// A value with its unit.
    pub fn shown_with_unit(self, value: f64) -> String {
        let (number, unit) = (self.shown(value), self.unit());
        match self {
            Self::SaturationIndex(_) => format!("SI {number}"),
            Self::DischargeFlow => {
                let gallons = value / US_GALLON_M3;
                format!("{number} {unit} ({} US gal/d)", significant(gallons, 3))
            }
            Self::Load(_) => {
                format!("{number} {unit} ({} lb/d)", significant(value / POUND_KG, 3))
            }
            _ if unit.is_empty() => number,
            _ => format!("{number} {unit}"),
        }
    }

    /// Whether it falls with the cycles: then the most that is allowed asks for so many cycles at least.
    pub fn falls_with_cycles(self) -> bool {
        matches!(self, Self::DischargeFlow | Self::Load(_))
    }

    /// The key that a misspelt one may stand for.
    pub fn nearest_key(key: &str) -> Option<String> {
        let distance = |known: &String| strsim::damerau_levenshtein(known, key);
        Self::keys().min_by_key(distance).filter(|known| distance(known) <= 3)
    }
}

/// The number of a limit in the unit of its measure.
///
/// # Errors
/// What would be right.
pub fn value_of(measure: Measure, stated: &LimitValue) -> Result<f64, String> {
    use crate::quantity::{
        Concentration, Conductivity, MassConcentration, MassFlow, Measured, Stated, VolumeFlow,
    };
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
        (Measure::DischargeFlow, LimitValue::Text(text)) => {
            let read: Stated<VolumeFlow> = text.parse().map_err(|error| format!("{error}"))?;
            24.0 * read.value.in_cubic_metre_per_hour()
        }
        (Measure::Load(_), LimitValue::Text(text)) => {
            let read: Stated<MassFlow> = text.parse().map_err(|error| format!("{error}"))?;
            86_400.0 * read.value.si()
        }
        (Measure::Load(_), LimitValue::Number(number)) => {
            return Err(format!("the number has no unit\nwrite \"{number} kg/d\""));
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
            | Measure::SuspendedSolids
            | Measure::DischargeFlow,
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
