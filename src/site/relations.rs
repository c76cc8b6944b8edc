//! What temperatures of air and water must satisfy among each other.

use crate::quantity::Quantity::Temperature;
use crate::quantity::in_both_systems;
use crate::site::Problem;

/// The temperatures that are known, K.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Temperatures {
    /// Dry bulb of the entering air.
    pub dry_bulb: Option<f64>,
    /// Wet bulb of the entering air.
    pub wet_bulb: Option<f64>,
    /// Dew point of the entering air.
    pub dew_point: Option<f64>,
    /// Water entering the tower.
    pub hot_water: Option<f64>,
    /// Water leaving the tower.
    pub cold_water: Option<f64>,
}

/// Two temperatures in the wrong order.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{} {} is {} {} {}", .lower, in_both_systems(Temperature, *.lower_value), .relation, .upper, in_both_systems(Temperature, *.upper_value))]
pub struct Conflict {
    /// The one that must be lower, as people call it.
    pub lower: &'static str,
    /// The one that must be higher.
    pub upper: &'static str,
    /// K.
    pub lower_value: f64,
    /// K.
    pub upper_value: f64,
    /// What is wrong between them.
    pub relation: &'static str,
    /// What would be right.
    pub help: &'static str,
}

impl Conflict {
    /// The conflict at the paths of a description.
    pub fn to_problem(&self) -> Problem {
        let path = |name: &str| match name {
            "wet bulb" => "air.wet_bulb",
            "dew point" => "air.dew_point",
            "the dry bulb" => "air.dry_bulb",
            "the hot water" => "circuit.hot_water",
            _ => "circuit.cold_water",
        };
        Problem::new(path(self.lower), self.to_string())
            .with_help(self.help)
            .with_related(path(self.upper))
    }
}

impl Temperatures {
    /// Every pair in the wrong order. Allocates nothing.
    pub fn conflicts(&self) -> impl Iterator<Item = Conflict> {
        // (must be lower, must be higher, whether equal is allowed, what to look at)
        [
            (
                ("wet bulb", self.wet_bulb),
                ("the dry bulb", self.dry_bulb),
                true,
                "the wet bulb is at or below the dry bulb; are the two swapped?",
            ),
            (
                ("dew point", self.dew_point),
                ("the dry bulb", self.dry_bulb),
                true,
                "the dew point is at or below the dry bulb",
            ),
            (
                ("cold water", self.cold_water),
                ("the hot water", self.hot_water),
                false,
                "hot water enters the tower and must be hotter than the cold water that leaves it; are the two swapped?",
            ),
            (
                ("wet bulb", self.wet_bulb),
                ("the cold water", self.cold_water),
                false,
                "no tower cools water down to the wet bulb of the entering air: check both readings",
            ),
        ]
        .into_iter()
        .filter_map(|((lower, lower_value), (upper, upper_value), equal_allowed, help)| {
            let (lower_value, upper_value) = (lower_value?, upper_value?);
            let right = lower_value < upper_value || (equal_allowed && lower_value == upper_value);
            (!right).then_some(Conflict {
                lower,
                upper,
                lower_value,
                upper_value,
                relation: if equal_allowed { "above" } else { "not below" },
                help,
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_conflicts_come_out_together() {
        let temperatures = Temperatures {
            dry_bulb: Some(300.15),
            wet_bulb: Some(310.15),
            dew_point: None,
            hot_water: Some(303.15),
            cold_water: Some(303.15),
        };
        let found: Vec<_> = temperatures.conflicts().map(|c| c.to_string()).collect();
        assert_eq!(
            found,
            [
                "wet bulb 37 °C (98.60 °F) is above the dry bulb 27 °C (80.60 °F)",
                "cold water 30 °C (86 °F) is not below the hot water 30 °C (86 °F)",
                "wet bulb 37 °C (98.60 °F) is not below the cold water 30 °C (86 °F)",
            ]
        );
    }
}
