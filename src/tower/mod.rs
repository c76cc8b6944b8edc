//! Evaporation and cooling in the fill, by named methods.
//!
//! [`rule`] needs the range alone; [`merkel`] takes the exit air as saturated; [`poppe`] solves the
//! full equations of heat and mass transfer. Counterflow is an ordinary differential equation along
//! the water; crossflow is a field of two directions and is solved as one.
//!
//! ```
//! use coldbasin::air::MoistAir;
//! use coldbasin::tower::{Duty, merkel, poppe};
//!
//! let duty = Duty {
//!     hot_water_celsius: 37.0,
//!     cold_water_celsius: 29.0,
//!     entering_air: MoistAir::from_wet_bulb(32.0, 23.0, 100_000.0).expect("air that can be"),
//!     water_to_air: 1.2,
//! };
//! let (full, saturated) = (poppe::counterflow(&duty)?, merkel::counterflow(&duty)?);
//! // kg evaporated in a kg of water: less than if all the heat went into vapour.
//! let all_into_vapour = 4.186 * duty.range_kelvin() / 2_430.0;
//! assert!((0.7..1.0).contains(&(full.evaporation_per_water / all_into_vapour)));
//! // To take the exit air as saturated moves it by some per cent.
//! assert!((saturated.evaporation_per_water / full.evaporation_per_water - 1.0).abs() < 0.06);
//! # Ok::<(), coldbasin::tower::TowerError>(())
//! ```
//!
//! Not in any of them: wind, spray and rain zones apart from the fill, and what salinity does to
//! the vapour pressure.

mod field;
pub mod merkel;
pub mod poppe;
pub mod prediction;
pub mod rule;

use crate::air::{self, AirError, MoistAir, Saturated, temperature_in_both};
use crate::equation::Equation;

/// Specific heat of liquid water in the tower methods and in heat loads, J/(kg K); constant, as in
/// the wet-bulb equations of ASHRAE Fundamentals (2017), ch. 1.
pub const WATER_SPECIFIC_HEAT_J_PER_KG_K: f64 = air::WATER_HEAT;

/// Heat that the circulating water gives up by cooling.
pub const HEAT_LOAD: Equation = Equation {
    id: "heat_load",
    text: "heat_load = circulation * 4.186 * range",
    source: "heat balance of the circulating water; specific heat as in ASHRAE Fundamentals (2017), ch. 1",
};

/// Evaporation by the rise of the air's humidity.
pub const HUMIDITY_RISE: Equation = Equation {
    id: "humidity_rise",
    text: "evaporation = dry_air * (exit_humidity_ratio - entering_humidity_ratio)",
    source: "mass balance of the air",
};

/// Heat that the air takes up.
pub const HEAT_TO_AIR: Equation = Equation {
    id: "heat_to_air",
    text: "heat_to_air = dry_air * (exit_enthalpy - entering_enthalpy)",
    source: "energy balance of the air",
};

/// The same heat from the water's side: all that enters less all that leaves. The grid of crossflow
/// closes the two to 1e-4.
pub const HEAT_FROM_WATER: Equation = Equation {
    id: "heat_from_water",
    text: "heat_from_water = 4.186 * (circulation * hot_water - (circulation - evaporation) * cold_water)",
    source: "energy balance of the water; evaporated water leaves with its own heat",
};

/// How air and water meet in the fill.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Arrangement {
    /// Air rises against the falling water.
    Counterflow,
    /// Air crosses the falling water.
    Crossflow,
}

/// What a tower, or one cell, does: the two ends of the water and the entering air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Duty {
    /// Water entering the fill, degC.
    pub hot_water_celsius: f64,
    /// Mean temperature of the water leaving the fill, degC.
    pub cold_water_celsius: f64,
    /// Air entering the fill.
    pub entering_air: MoistAir,
    /// Mass flow of inlet (hot) water over mass flow of dry air.
    pub water_to_air: f64,
}

/// What a method finds for a duty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exchange {
    /// Water that leaves with the air beyond what entered, vapour and mist, kg in a kg of inlet
    /// water; negative where moisture condenses on the water.
    pub evaporation_per_water: f64,
    /// Transfer number KaV/L, with the water flow of the method and arrangement that found it: a
    /// fill's characteristic holds only for the method that reduced it.
    pub merkel_number: f64,
    /// Enthalpy of the leaving air with all its water, J in a kg of dry air; the mean in crossflow.
    pub exit_enthalpy_j_per_kg: f64,
    /// Water in the leaving air, vapour and mist, kg in a kg of dry air; the mean in crossflow.
    pub exit_humidity_ratio: f64,
    /// Temperature of the leaving air, in crossflow of the mixed air, degC.
    pub exit_temperature_celsius: f64,
    /// The part of `exit_humidity_ratio` that is mist; 0 where the air is not supersaturated.
    pub exit_mist_ratio: f64,
}

/// Why a duty has no solution.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TowerError {
    /// Hot water is not above cold water.
    #[error("hot water {} is not above cold water {}", temperature_in_both(*.hot_water_celsius), temperature_in_both(*.cold_water_celsius))]
    NoRange {
        /// degC
        hot_water_celsius: f64,
        /// degC
        cold_water_celsius: f64,
    },
    /// Cold water is at or below the wet bulb of the entering air.
    #[error("cold water {} is at or below the wet bulb {}", temperature_in_both(*.cold_water_celsius), temperature_in_both(*.wet_bulb_celsius))]
    ColdWaterAtWetBulb {
        /// degC
        cold_water_celsius: f64,
        /// degC
        wet_bulb_celsius: f64,
    },
    /// The air saturates before it has taken up the heat: no fill does this duty.
    #[error(
        "pinch: this air saturates before it has taken up the heat; at a water-to-air ratio of {water_to_air:.3} no fill does this duty, below {limiting_water_to_air:.3} one can"
    )]
    Pinch {
        /// As asked.
        water_to_air: f64,
        /// The largest ratio at which the duty has a solution; 0 where none was found.
        limiting_water_to_air: f64,
    },
    /// A temperature, a pressure or a ratio outside the range of the equations.
    #[error("{what} is {}: the equations hold from {least} to {most}", crate::quantity::significant(*.value, 5))]
    OutOfRange {
        /// Which number, with its unit.
        what: &'static str,
        /// The number.
        value: f64,
        /// Smallest valid value.
        least: f64,
        /// Largest valid value.
        most: f64,
    },
    /// The entering air does not exist.
    #[error("entering air: {0}")]
    Air(AirError),
}

/// What [`TowerError::OutOfRange`] calls it.
pub(crate) const WATER_TO_AIR: &str = "water-to-air ratio";

impl Duty {
    /// Hot less cold water, K.
    pub fn range_kelvin(&self) -> f64 {
        self.hot_water_celsius - self.cold_water_celsius
    }

    /// Checks what every transfer method needs.
    ///
    /// # Errors
    /// [`TowerError`] for a number out of range or missing, for no range, for cold water at or below
    /// the wet bulb.
    fn check(&self) -> Result<(), TowerError> {
        let (hot, cold) = (self.hot_water_celsius, self.cold_water_celsius);
        self.check_numbers()?;
        if hot <= cold {
            return Err(TowerError::NoRange { hot_water_celsius: hot, cold_water_celsius: cold });
        }
        if self.entering_air.wet_bulb_is_below(cold) {
            return Ok(());
        }
        let wet_bulb_celsius = self.entering_air.wet_bulb_celsius().map_err(TowerError::Air)?;
        Err(TowerError::ColdWaterAtWetBulb { cold_water_celsius: cold, wet_bulb_celsius })
    }

    /// Checks each number by itself.
    fn check_numbers(&self) -> Result<(), TowerError> {
        let air = &self.entering_air;
        let (hot, cold) = (self.hot_water_celsius, self.cold_water_celsius);
        for (what, value, least, most) in [
            ("hot water in °C", hot, 0.0, 80.0),
            ("cold water in °C", cold, 0.0, 80.0),
            (WATER_TO_AIR, self.water_to_air, 1e-3, 100.0),
            ("dry bulb in °C", air.dry_bulb_celsius, -30.0, 70.0),
            ("air pressure in Pa", air.pressure_pascal, 50e3, 110e3),
            ("humidity ratio of the entering air", air.humidity_ratio, 0.0, 1.0),
        ] {
            // Written so that a NaN is refused as well.
            if !(value >= least && value <= most) {
                return Err(TowerError::OutOfRange { what, value, least, most });
            }
        }
        Ok(())
    }

    /// The largest water-to-air ratio at which `solves` says that the duty can be done, by
    /// bisection between 0.001 and this duty's own; 0 where there is none.
    fn limiting_ratio(&self, mut solves: impl FnMut(&Duty) -> bool) -> f64 {
        let at = |water_to_air| Duty { water_to_air, ..*self };
        let (mut low, mut high) = (1e-3, self.water_to_air);
        if !solves(&at(low)) {
            return 0.0;
        }
        while high - low > 1e-3 * high {
            let middle = 0.5 * (low + high);
            if solves(&at(middle)) { low = middle } else { high = middle }
        }
        low
    }
}

impl Exchange {
    /// From the mixed leaving air of a duty.
    fn of_exit(duty: &Duty, exit: (f64, f64), merkel_number: f64) -> Self {
        let (humidity_ratio, enthalpy) = exit;
        let pressure = duty.entering_air.pressure_pascal;
        let dry = air::temperature_of(enthalpy, humidity_ratio);
        let near = Saturated::at(dry, pressure);
        let (temperature, mist) = if humidity_ratio > near.humidity_ratio {
            let saturated = air::mist(enthalpy, humidity_ratio, pressure, near);
            (saturated.celsius, (humidity_ratio - saturated.humidity_ratio).max(0.0))
        } else {
            (dry, 0.0)
        };
        Self {
            evaporation_per_water: (humidity_ratio - duty.entering_air.humidity_ratio)
                / duty.water_to_air,
            merkel_number,
            exit_enthalpy_j_per_kg: enthalpy,
            exit_humidity_ratio: humidity_ratio,
            exit_temperature_celsius: temperature,
            exit_mist_ratio: mist,
        }
    }
}
