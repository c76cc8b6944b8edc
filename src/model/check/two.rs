//! Two readings of the makeup meter and no log: is that too much?

use super::super::{Infeasible, Inputs, Model, Workspace};
use super::reach::{self, Meters, OneMore, Reach};
use super::readings::{CYCLES_UNREAD, NO_LOAD, NO_WEATHER, bleed_needed, daily, instruments_of};
use crate::check::detection::{Detection, by_expected};
use crate::check::reconcile;

/// What was read between two readings of the makeup meter. Flows in m3/d.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoReadings {
    /// Hours from the first to the second; `None` where a flow was read.
    pub hours: Option<f64>,
    /// Makeup.
    pub makeup: f64,
    /// Blowdown, where it was read.
    pub blowdown: Option<f64>,
    /// Whether the site's load is that of those hours, not the design's.
    pub load_is_known: bool,
    /// The same of its weather.
    pub weather_is_known: bool,
}

/// What two readings say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TwoVerdict {
    /// More than was expected, and more than chance.
    TooMuch,
    /// Less than was expected, and less than chance.
    TooLittle,
    /// Nothing shows.
    AsExpected,
}

/// Two readings against physics. Flows in m3/d.
#[derive(Debug, Clone, PartialEq)]
pub struct TwoSheet {
    /// Name of the site.
    pub name: String,
    /// What was read.
    pub read: TwoReadings,
    /// What load and weather evaporate, with its standard uncertainty.
    pub evaporation: reconcile::Reading,
    /// What the cycles bleed besides, or what was read.
    pub blowdown: f64,
    /// Drift, and the losses that the site file states.
    pub drift: f64,
    /// Cycles of the site.
    pub cycles: f64,
    /// Makeup that these ask for, with its standard uncertainty.
    pub expected: reconcile::Reading,
    /// The makeup less that.
    pub difference: Detection,
    /// The largest loss that may hide.
    pub hides: f64,
    /// Whether a controller hides what it bleeds less.
    pub controller_hides: bool,
    /// What one more reading would show.
    pub one_more: Vec<OneMore>,
    /// Hot and cold water and the wet bulb that the site was taken at, degC.
    pub temperatures: [Option<f64>; 3],
}

impl TwoSheet {
    /// Whether it is too much.
    pub fn verdict(&self) -> TwoVerdict {
        let Detection { reads, decision_threshold, .. } = self.difference;
        match reads {
            _ if reads > decision_threshold => TwoVerdict::TooMuch,
            _ if reads < -decision_threshold => TwoVerdict::TooLittle,
            _ => TwoVerdict::AsExpected,
        }
    }
}

impl Model {
    /// Holds two readings of the makeup meter against what the site asks for.
    ///
    /// # Errors
    /// [`Infeasible`] where the site has no balance.
    pub fn check_two(&self, inputs: &Inputs, read: &TwoReadings) -> Result<TwoSheet, Infeasible> {
        let balance = self.evaluate(inputs, &mut Workspace::new(self))?;
        let water = &balance.water;
        let [accuracy, repeatability] = instruments_of(self.site.log.as_ref(), inputs);
        let of = |place: usize| accuracy[place].hypot(repeatability[place]);
        let [of_makeup, of_blowdown, of_evaporation] = [of(0), of(1), of(4)];
        let without = |known: bool, part: f64| if known { 0.0 } else { part };
        let weather = without(read.weather_is_known, NO_WEATHER);
        let now = of_evaporation.hypot(weather).hypot(without(read.load_is_known, NO_LOAD));
        let evaporation = daily(water.evaporation_kg_per_s);
        let cycles = water.cycles_of_concentration;
        let drift = daily(water.drift_kg_per_s + water.leakage_kg_per_s + water.overflow_kg_per_s);
        let meters = Meters {
            blowdown: read.blowdown.is_some(),
            basin: false,
            makeup_quality: false,
            load: read.load_is_known,
            is_held: self.is_held(),
        };
        let blowdown = read.blowdown.unwrap_or_else(|| bleed_needed(evaporation, cycles, drift));
        let reach = Reach {
            makeup: read.makeup,
            evaporation,
            cycles,
            of_makeup,
            of_blowdown,
            of_evaporation: [of_evaporation, now],
            of_cycles: [CYCLES_UNREAD, CYCLES_UNREAD],
            stored: 0.0,
        };
        let of_expected = match read.blowdown {
            Some(blowdown) => (evaporation * now).hypot(blowdown * of_blowdown),
            None => reach.of_expected(now, CYCLES_UNREAD),
        };
        let expected =
            reconcile::Reading { value: evaporation + blowdown + drift, uncertainty: of_expected };
        let makeup =
            reconcile::Reading { value: read.makeup, uncertainty: read.makeup * of_makeup };
        let one_more = reach.one_more(&meters).into_iter();
        let state = &balance.state;
        let has_water = state.hot_water_celsius.is_finite();
        Ok(TwoSheet {
            name: self.site.name.clone(),
            read: *read,
            evaporation: reconcile::Reading { value: evaporation, uncertainty: evaporation * now },
            blowdown,
            drift,
            cycles,
            expected,
            difference: by_expected(makeup, expected),
            hides: reach.loss(&meters),
            controller_hides: meters.is_held && read.blowdown.is_none(),
            one_more: one_more
                .filter(|more| more.reading != reach::Reading::Conductivity)
                .collect(),
            temperatures: [
                Some(state.hot_water_celsius).filter(|_| has_water),
                Some(state.cold_water_celsius).filter(|_| has_water),
                state.entering_air.as_ref().and_then(|air| air.wet_bulb_celsius().ok()),
            ],
        })
    }
}
