//! The float valve.

/// How a makeup valve acts on the level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Action {
    /// A float arm: fully open at and below one level, shut at and above another, in proportion
    /// between them.
    Proportional {
        /// m.
        open_level: f64,
        /// m.
        shut_level: f64,
    },
    /// Open below one level until another is reached.
    OnOff {
        /// m.
        on_level: f64,
        /// m.
        off_level: f64,
    },
}

/// A makeup valve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FloatValve {
    /// How it acts.
    pub action: Action,
    /// Flow when fully open, m3/h.
    pub capacity: f64,
}

/// Flow of a valve from its coefficient, m3/h: Kv, m3/h at 1 bar, times the root of the pressure drop,
/// bar (IEC 60534-2-1; water, turbulent).
pub fn flow_of_kv(kv: f64, drop_bar: f64) -> f64 {
    kv * drop_bar.max(0.0).sqrt()
}

/// Kv of Cv, gpm at 1 psi.
pub const KV_OF_CV: f64 = 0.865;

impl FloatValve {
    /// Flow at a level, m3/h; `is_open` is what an on/off valve did last.
    pub fn flow(&self, level: f64, is_open: bool) -> f64 {
        match self.action {
            Action::Proportional { open_level, shut_level } => {
                let open = (shut_level - level) / (shut_level - open_level);
                self.capacity * open.clamp(0.0, 1.0)
            }
            Action::OnOff { .. } if is_open => self.capacity,
            Action::OnOff { .. } => 0.0,
        }
    }

    /// Where the float settles while the basin loses `demand`, m3/h: the level falls as the demand
    /// grows. `None` where the valve cannot supply it. An on/off valve swings: the mean of its levels.
    pub fn settles_at(&self, demand: f64) -> Option<f64> {
        if demand > self.capacity {
            return None;
        }
        Some(match self.action {
            Action::Proportional { open_level, shut_level } => {
                shut_level - demand / self.capacity * (shut_level - open_level)
            }
            Action::OnOff { on_level, off_level } => 0.5 * (on_level + off_level),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn the_level_droops_as_the_demand_grows() {
        let action = Action::Proportional { open_level: 0.4, shut_level: 0.6 };
        let valve = FloatValve { action, capacity: 20.0 };
        assert_relative_eq!(valve.settles_at(5.0).unwrap(), 0.55);
        for demand in [0.0, 3.0, 12.0, 20.0] {
            let level = valve.settles_at(demand).unwrap();
            assert_relative_eq!(valve.flow(level, false), demand, epsilon = 1e-9);
        }
        assert_eq!(valve.settles_at(20.1), None);
        assert_eq!(valve.flow(0.1, false), 20.0);
        assert_eq!(valve.flow(0.9, false), 0.0);
    }

    #[test]
    fn a_valve_passes_its_kv_at_one_bar() {
        assert_relative_eq!(flow_of_kv(10.0, 1.0), 10.0);
        assert_relative_eq!(flow_of_kv(10.0, 4.0), 20.0);
    }
}
