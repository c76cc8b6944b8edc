//! The analyses of a site as they are used.

use super::{Inputs, Model};
use crate::chemistry::Constituent;
use crate::quantity::{significant, with_decimals};
use crate::site::{SiteAnalysis, SlotId};
use crate::water::ZERO_CELSIUS;

/// An analysis as it is used, with what the file says.
#[derive(Debug, Clone, PartialEq)]
pub struct UsedAnalysis {
    /// Which water.
    pub name: String,
    /// The day of the sample, as it was stated.
    pub sampled: Option<String>,
    /// Every value.
    pub values: Vec<UsedValue>,
}

/// A value of an analysis.
#[derive(Debug, Clone, PartialEq)]
pub struct UsedValue {
    /// Of what.
    pub name: &'static str,
    /// Where it stands, as in `makeup.well.analysis.calcium`.
    pub path: String,
    /// As the laboratory gave it, where that is known.
    pub written: Option<String>,
    /// What is used.
    pub value: f64,
    /// In which unit.
    pub unit: String,
}

impl UsedValue {
    /// The value with its unit.
    pub fn shown(&self) -> String {
        let number = match self.unit.as_str() {
            "" => with_decimals(self.value, 2),
            _ => significant(self.value, 3),
        };
        format!("{number} {}", self.unit).trim_end().to_owned()
    }
}

impl Model {
    /// Every analysis as it is used: of each makeup, then of the circulating water.
    pub fn analyses_used(&self, inputs: &Inputs) -> Vec<UsedAnalysis> {
        let makeup = self.site.makeup.iter().map(|source| {
            let path = format!("makeup.{}.analysis", source.name);
            self.used(inputs, &source.analysis, (format!("makeup {}", source.name), &path))
        });
        let own = self.site.chemistry.circulating_water.iter().map(|analysis| {
            self.used(inputs, analysis, ("circulating water".into(), "circulating_water"))
        });
        makeup.chain(own).filter(|analysis| !analysis.values.is_empty()).collect()
    }

    fn used(
        &self,
        inputs: &Inputs,
        analysis: &SiteAnalysis,
        (name, path): (String, &str),
    ) -> UsedAnalysis {
        let is_stated = |slot: &SlotId| self.slot_value(*slot).assumed.is_none();
        let value = |name, key: &str, value, unit: String| UsedValue {
            name,
            path: format!("{path}.{key}"),
            written: None,
            value,
            unit,
        };
        let stated = |slot: Option<SlotId>| slot.filter(is_stated).map(|slot| inputs.get(slot));
        let ph = stated(analysis.ph).map(|ph| value("pH", "ph", ph, String::new()));
        let celsius = Some(analysis.temperature)
            // That of the makeup stands at the makeup.
            .filter(|slot| self.slot_value(*slot).path == format!("{path}.temperature"));
        let celsius = stated(celsius).map(|kelvin| kelvin - ZERO_CELSIUS);
        let celsius = celsius.map(|t| value("temperature", "temperature", t, "°C".into()));
        let conductivity = stated(analysis.conductivity)
            .map(|siemens| value("conductivity", "conductivity", 1e4 * siemens, "uS/cm".into()));
        let ions = analysis.constituents.iter().filter(|(_, slot)| is_stated(slot)).map(
            |(ion, slot): &(Constituent, SlotId)| {
                let unit = format!("mg/L as {}", ion.basis().formula());
                value(ion.name(), ion.key(), 1e3 * inputs.get(*slot), unit)
            },
        );
        let solids = [
            ("dissolved solids", "dissolved_solids", analysis.dissolved_solids),
            ("suspended solids", "suspended_solids", analysis.suspended_solids),
        ]
        .into_iter()
        .filter_map(|(name, key, slot)| Some(value(name, key, 1e3 * stated(slot)?, "mg/L".into())));
        let first = [ph, celsius, conductivity].into_iter().flatten();
        UsedAnalysis {
            name,
            sampled: analysis.sampled.map(|day| day.to_string()),
            values: first.chain(ions).chain(solids).collect(),
        }
    }
}
