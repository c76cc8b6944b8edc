//! What a blowdown that no conductivity controller opens is set to, and what that leaves of the cycles.

use super::set_point::ValveDuty;

/// Where the settings come from.
pub const SOURCE: &str =
    "balance of water and dissolved solids; UFC 3-240-13FN (US Department of Defense, 2005), ch. 4";

/// The part of this hour's evaporation at which a setting is held against its target.
pub const HALF_LOAD: f64 = 0.5;
/// Minutes of a shift.
pub const SHIFT_MINUTES: f64 = 480.0;
/// Bucket by which a hand valve is set, m3: the usual one of each system of units.
pub const BUCKETS: [f64; 2] = [0.010, 5.0 * 3.785_411_784e-3];
/// A bucket that fills sooner, s, cannot be timed by hand (common practice).
pub const SHORTEST_FILL: f64 = 5.0;

impl ValveDuty {
    /// The part of the time that a valve of this flow, m3/h, is open on a clock; above 1 it is too small.
    pub fn open_part(&self, valve_flow: f64) -> f64 {
        self.mean_flow() / valve_flow
    }

    /// The part of the makeup that is bled: blowdown / makeup = 1 / cycles - other losses / makeup.
    pub fn bled_part(&self) -> f64 {
        let blowdown = self.mean_flow();
        blowdown / (self.evaporation + self.other_losses + blowdown)
    }

    /// The same at a part of this hour's evaporation.
    fn at_load(&self, load: f64) -> Self {
        Self { evaporation: load * self.evaporation, ..*self }
    }

    /// Cycles that settle at a part of the load while the blowdown stays as it is set for this hour.
    pub fn cycles_of_fixed_flow(&self, load: f64) -> f64 {
        self.at_load(load).cycles_with(self.mean_flow())
    }

    /// Cycles that settle at a part of the load while the same part of the makeup is bled: makeup =
    /// (evaporation + other losses) / (1 - part).
    pub fn cycles_of_paced(&self, load: f64) -> f64 {
        let part = self.bled_part();
        let then = self.at_load(load);
        let makeup = (then.evaporation + then.other_losses) / (1.0 - part);
        then.cycles_with(part * makeup)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// 6 m3/h evaporate, 4 cycles: 2 m3/h of 8 m3/h of makeup are bled.
    const TIGHT: ValveDuty = ValveDuty {
        evaporation: 6.0,
        other_losses: 0.0,
        volume: None,
        cycles: 4.0,
        dead_band: 0.05,
    };

    #[test]
    fn a_clock_and_a_hand_valve_lose_cycles_at_half_load() {
        assert_relative_eq!(60.0 * TIGHT.open_part(6.0), 20.0);
        assert_relative_eq!(TIGHT.cycles_of_fixed_flow(1.0), 4.0);
        assert_relative_eq!(TIGHT.cycles_of_fixed_flow(0.5), 2.5);
    }

    #[test]
    fn pacing_holds_the_cycles_at_every_load_but_for_other_losses() {
        assert_relative_eq!(TIGHT.bled_part(), 0.25);
        assert_relative_eq!(TIGHT.cycles_of_paced(0.5), 4.0);
        // 0.5 m3/h leak: 1.5 m3/h of 8 m3/h are bled; at half load (3 + 0.5) / (1 - 1.5 / 8) of makeup.
        let leaking = ValveDuty { other_losses: 0.5, ..TIGHT };
        let makeup = 3.5 / (1.0 - 1.5 / 8.0);
        assert_relative_eq!(leaking.bled_part(), 1.0 / 4.0 - 0.5 / 8.0);
        assert_relative_eq!(
            leaking.cycles_of_paced(0.5),
            makeup / (makeup - 3.0),
            max_relative = 1e-12
        );
    }
}
