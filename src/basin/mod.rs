//! The basin: what stands between the makeup valve and the pump's suction.
//!
//! Levels are m above the floor, volumes m3, flows m3/h, times h.

pub mod course;
pub mod drain;
pub mod drop_test;
pub mod outflow;
pub mod valve;

use outflow::{Drain, Overflow};
use valve::FloatValve;

/// Level against volume: straight between points, and on beyond the ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// Level, m, and volume, m3, both rising.
    points: Vec<(f64, f64)>,
}

/// Why points make no basin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("levels and volumes must rise together, two points at the least")]
pub struct ShapeError;

impl Shape {
    /// Upright walls over a plan area, m2.
    ///
    /// # Errors
    /// [`ShapeError`] for an area that is not above zero.
    pub fn upright(area: f64) -> Result<Self, ShapeError> {
        Self::of_points(vec![(0.0, 0.0), (1.0, area)])
    }

    /// From level and volume, point by point.
    ///
    /// # Errors
    /// [`ShapeError`] where they do not rise.
    pub fn of_points(points: Vec<(f64, f64)>) -> Result<Self, ShapeError> {
        let finite = points.iter().all(|(level, volume)| level.is_finite() && volume.is_finite());
        let rising = points.windows(2).all(|pair| pair[1].0 > pair[0].0 && pair[1].1 > pair[0].1);
        if points.len() >= 2 && finite && rising { Ok(Self { points }) } else { Err(ShapeError) }
    }

    /// The two points that a value lies between, or those next to it.
    fn segment(&self, is_below: impl Fn(&(f64, f64)) -> bool) -> [(f64, f64); 2] {
        let after = self.points.iter().filter(|point| is_below(point)).count();
        let index = after.clamp(1, self.points.len() - 1);
        [self.points[index - 1], self.points[index]]
    }

    /// Volume at a level, m3.
    pub fn volume(&self, level: f64) -> f64 {
        let [(low, from), (high, to)] = self.segment(|(known, _)| *known < level);
        from + (level - low) / (high - low) * (to - from)
    }

    /// Level of a volume, m.
    pub fn level(&self, volume: f64) -> f64 {
        let [(low, from), (high, to)] = self.segment(|(_, known)| *known < volume);
        low + (volume - from) / (to - from) * (high - low)
    }

    /// Water surface at a level, m2.
    pub fn area(&self, level: f64) -> f64 {
        let [(low, from), (high, to)] = self.segment(|(known, _)| *known < level);
        (to - from) / (high - low)
    }
}

/// A basin with all that is on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Basin {
    /// Level against volume.
    pub shape: Shape,
    /// Level at which it is meant to stand while the pumps run.
    pub operating_level: f64,
    /// Lip of the overflow.
    pub overflow_level: f64,
    /// Low-level alarm.
    pub low_alarm_level: Option<f64>,
    /// Level at which the pumps are tripped.
    pub pump_trip_level: Option<f64>,
    /// Least level at which the suction draws no air.
    pub suction_level: Option<f64>,
    /// Water in distribution, fill and pipes that runs back when the pumps stop, m3.
    pub held_up: f64,
    /// Time in which it runs back, and in which it is pumped out again, h.
    pub run_back_hours: f64,
    /// The makeup valve.
    pub valve: Option<FloatValve>,
    /// The overflow; where it is not described, all that comes spills at its lip.
    pub overflow: Option<Overflow>,
    /// The drain.
    pub drain: Option<Drain>,
}

impl Basin {
    /// Water that stands in it at the lip of its overflow, m3.
    pub fn lip_volume(&self) -> f64 {
        self.shape.volume(self.overflow_level)
    }
}
