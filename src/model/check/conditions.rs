//! A period's load and weather in the terms of the site.

use super::super::evaluate::entering_air;
use super::super::{Balance, Inputs, Model, Workspace};
use super::readings::{LEAST_RANGE, range_of};
use crate::air::MoistAir;
use crate::readings::period::Period;
use crate::site::description::Channel;
use crate::site::{AirGiven, SlotId, WaterGiven};
use crate::statistics::median;
use crate::water::ZERO_CELSIUS;

/// A dry bulb that nobody read stands above the wet bulb by this part of the design's depression, and by
/// these at least and at most: a design is an afternoon, drier than the mean of its day (common practice).
pub(super) const DEPRESSION: f64 = 0.6;
pub(super) const DEPRESSION_RANGE: [f64; 2] = [0.2, 1.0];

/// Writes what a log reads of water and air.
pub(super) struct Conditions<'a> {
    model: &'a Model,
    pressure: Option<f64>,
    /// Dry bulb less wet bulb of the site's own air, K.
    pub design_depression: Option<f64>,
}

impl<'a> Conditions<'a> {
    pub fn of(model: &'a Model, inputs: &Inputs) -> Self {
        let air = model.site.air.as_ref().and_then(|air| entering_air(air, inputs).ok());
        let depression = |air: &MoistAir| Some(air.dry_bulb_celsius - air.wet_bulb_celsius().ok()?);
        Self {
            model,
            pressure: air.as_ref().map(|air| air.pressure_pascal),
            design_depression: air.as_ref().and_then(depression),
        }
    }

    /// Whether the log has a wet bulb and nothing that says how dry the air is.
    pub fn lacks_dry_bulb(&self, period: &Period) -> bool {
        let has = |channel| period.get(channel).is_some();
        has(Channel::WetBulb) && !has(Channel::DryBulb) && !has(Channel::RelativeHumidity)
    }

    /// Writes hot and cold water in the terms of the site; whether the log has both.
    pub fn write_water(&self, today: &mut Inputs, period: &Period) -> bool {
        if let (Some(circulation), Ok(slot)) =
            (period.get(Channel::Circulation), self.model.slot("circuit.circulation"))
        {
            today.set(slot, circulation);
        }
        let (Some(hot), Some(cold)) =
            (period.get(Channel::HotWater), period.get(Channel::ColdWater))
        else {
            return false;
        };
        let pair: Option<[(SlotId, f64); 2]> = match self.model.site.water {
            WaterGiven::HotCold(a, b) => Some([(a, hot), (b, cold)]),
            WaterGiven::HotRange(a, b) => Some([(a, hot), (b, hot - cold)]),
            WaterGiven::ColdRange(a, b) => Some([(a, cold), (b, hot - cold)]),
            WaterGiven::Range(a, b) => Some([(a, hot - cold), (b, hot)]),
            // The heat load stands for the water's range.
            _ => None,
        };
        for (slot, value) in pair.into_iter().flatten() {
            today.set(slot, value);
        }
        pair.is_some()
    }

    /// Writes the air in the terms of the site; whether the log has all of it. A dry bulb that it lacks is
    /// taken above the wet bulb by this part of the design's depression: the design's own dry bulb is no
    /// air that this wet bulb belongs to.
    pub fn write_air(&self, today: &mut Inputs, period: &Period, depression: f64) -> bool {
        let Some(air) = &self.model.site.air else { return false };
        let assumed = || {
            let above = depression * self.design_depression?;
            period
                .get(Channel::WetBulb)
                .filter(|_| self.lacks_dry_bulb(period))
                .map(|wet| wet + above)
        };
        let (dry, wet, humidity) = (
            period.get(Channel::DryBulb).or_else(assumed),
            period.get(Channel::WetBulb),
            period.get(Channel::RelativeHumidity),
        );
        let pair: Option<[(SlotId, f64); 2]> = match (air.given, dry, wet, humidity) {
            (AirGiven::DryBulbWetBulb(a, b), Some(dry), Some(wet), _) => Some([(a, dry), (b, wet)]),
            (AirGiven::DryBulbRelativeHumidity(a, b), Some(dry), _, Some(humidity)) => {
                Some([(a, dry), (b, humidity)])
            }
            (AirGiven::WetBulbRelativeHumidity(a, b), _, Some(wet), Some(humidity)) => {
                Some([(a, wet), (b, humidity)])
            }
            (given, Some(dry), wet, humidity) => self.other_air(given, (dry, wet, humidity)),
            _ => None,
        };
        for (slot, value) in pair.into_iter().flatten() {
            today.set(slot, value);
        }
        pair.is_some()
    }

    /// The log's air said in the site's terms.
    fn other_air(
        &self,
        given: AirGiven,
        (dry, wet, humidity): (f64, Option<f64>, Option<f64>),
    ) -> Option<[(SlotId, f64); 2]> {
        let pressure = self.pressure?;
        let celsius = dry - ZERO_CELSIUS;
        let air = match (wet, humidity) {
            (Some(wet), _) => MoistAir::from_wet_bulb(celsius, wet - ZERO_CELSIUS, pressure),
            (None, Some(humidity)) => MoistAir::from_relative_humidity(celsius, humidity, pressure),
            (None, None) => return None,
        }
        .ok()?;
        let kelvin = |celsius: Result<f64, _>| celsius.ok().map(|c| c + ZERO_CELSIUS);
        Some(match given {
            AirGiven::DryBulbWetBulb(a, b) => [(a, dry), (b, kelvin(air.wet_bulb_celsius())?)],
            AirGiven::DryBulbRelativeHumidity(a, b) => [(a, dry), (b, air.relative_humidity())],
            AirGiven::DryBulbDewPoint(a, b) => [(a, dry), (b, kelvin(air.dew_point_celsius())?)],
            AirGiven::WetBulbRelativeHumidity(a, b) => {
                [(a, kelvin(air.wet_bulb_celsius())?), (b, air.relative_humidity())]
            }
        })
    }
}

/// The site at the medians of what the log reads of water and air, with its balance: where its own
/// conditions have none.
pub(super) fn usual(
    model: &Model,
    inputs: &Inputs,
    periods: &[Period],
    work: &mut Workspace,
) -> Option<(Inputs, Balance)> {
    let loaded = || periods.iter().filter(|p| range_of(p).is_some_and(|range| range > LEAST_RANGE));
    let mut typical = loaded().next()?.clone();
    for channel in Channel::ALL {
        let usual = median(loaded().filter_map(|period| period.get(channel)));
        typical = typical.with(channel, usual);
    }
    let mut usual = inputs.clone();
    let conditions = Conditions::of(model, inputs);
    conditions.write_air(&mut usual, &typical, DEPRESSION);
    conditions.write_water(&mut usual, &typical).then_some(())?;
    let balance = model.evaluate(&usual, work).ok()?;
    Some((usual, balance))
}
