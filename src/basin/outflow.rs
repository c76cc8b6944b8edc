//! What leaves the basin by its overflow and its drain.

use crate::root;

/// Where the relations are published.
pub const SOURCE: &str = "sharp-crested weir (2/3) Cd sqrt(2 g) L h^1.5 with Cd 0.62 (Poleni; Bos 1989, ILRI 20, from memory; Francis' 1.84 L h^1.5 within 1 %); orifice and short pipe 0.6 A sqrt(2 g h) (from memory)";

/// Gravity, m/s2.
pub(crate) const GRAVITY: f64 = 9.806_65;
/// Discharge coefficient of a sharp-crested weir.
pub(crate) const WEIR: f64 = 0.62;
/// Discharge coefficient of a sharp-edged orifice or a short pipe.
pub(crate) const ORIFICE: f64 = 0.6;
const SECONDS_PER_HOUR: f64 = 3_600.0;

/// Discharge over a sharp-crested weir of a length, m, under a head, m: m3/h.
pub fn weir(length: f64, head: f64) -> f64 {
    let head = head.max(0.0);
    2.0 / 3.0 * WEIR * (2.0 * GRAVITY).sqrt() * length * head * head.sqrt() * SECONDS_PER_HOUR
}

/// Discharge of an orifice of a diameter, m, under a head, m: m3/h.
pub fn orifice(diameter: f64, head: f64) -> f64 {
    let area = std::f64::consts::PI / 4.0 * diameter * diameter;
    ORIFICE * area * (2.0 * GRAVITY * head.max(0.0)).sqrt() * SECONDS_PER_HOUR
}

/// Discharge of a round opening in a wall, of a diameter, m, under a head above its lowest point, m: m3/h.
///
/// Torricelli's velocity, less at the water's surface than below, summed over the height of the opening that stands
/// under water. Gauss and Chebyshev's nodes of the second kind hold the square roots at both ends; within 1e-3.
pub fn side_opening(diameter: f64, head: f64) -> f64 {
    const NODES: u32 = 12;
    let head = head.max(0.0);
    let top = head.min(diameter);
    let step = std::f64::consts::PI / f64::from(NODES + 1);
    let sum: f64 = (1..=NODES)
        .map(|node| {
            let (sine, cosine) = (step * f64::from(node)).sin_cos();
            let height = 0.5 * top * (1.0 - cosine);
            let width = 2.0 * (height * (diameter - height)).sqrt();
            0.5 * top * step * sine * width * (head - height).sqrt()
        })
        .sum();
    ORIFICE * (2.0 * GRAVITY).sqrt() * sum * SECONDS_PER_HOUR
}

/// An overflow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Overflow {
    /// A standing pipe of this inner diameter, m: its rim is a weir until the pipe runs full.
    Pipe(f64),
    /// A weir of this length, m.
    Weir(f64),
    /// A pipe through the wall of this inner diameter, m; its lowest point is the lip.
    SidePipe(f64),
}

impl Overflow {
    /// Discharge under a head above the lip, m3/h.
    pub fn flow(self, head: f64) -> f64 {
        match self {
            Self::Weir(length) => weir(length, head),
            Self::Pipe(diameter) => {
                weir(std::f64::consts::PI * diameter, head).min(orifice(diameter, head))
            }
            Self::SidePipe(diameter) => side_opening(diameter, head),
        }
    }

    /// Head that a flow, m3/h, needs, m.
    pub fn head_for(self, flow: f64) -> f64 {
        let unit = |function: f64| flow / function;
        match self {
            Self::Weir(length) => unit(weir(length, 1.0)).powf(2.0 / 3.0),
            Self::Pipe(diameter) => {
                let rim = unit(weir(std::f64::consts::PI * diameter, 1.0)).powf(2.0 / 3.0);
                rim.max(unit(orifice(diameter, 1.0)).powi(2))
            }
            Self::SidePipe(diameter) => {
                // All of it at the velocity of its middle would pass more.
                let most = diameter + 2.0 * unit(orifice(diameter, 1.0)).powi(2);
                let missing = |head| flow - side_opening(diameter, head);
                root::of_falling(missing, 0.0, most).unwrap_or(0.0)
            }
        }
    }
}

/// A drain in the floor, of this inner diameter, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drain(pub f64);

impl Drain {
    /// Discharge at a level, m3/h.
    pub fn flow(self, level: f64) -> f64 {
        orifice(self.0, level)
    }

    /// Hours in which it draws a basin of upright walls, m2, from one level down to another:
    /// 2 A (sqrt(h1) - sqrt(h2)) / (Cd a sqrt(2 g)) (Torricelli).
    pub fn hours_between(self, area: f64, from: f64, to: f64) -> f64 {
        2.0 * area * (from.sqrt() - to.sqrt()) / self.flow(1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Francis' formula as the USBR Water Measurement Manual prints it (from memory): 3.33 L h^1.5 in
    /// feet; 1 ft of crest and 0.5 ft of head pass 1.177 cubic feet a second.
    #[test]
    fn a_suppressed_weir_of_a_manual() {
        let cubic_foot = 0.3048f64.powi(3);
        let found = weir(0.3048, 0.5 * 0.3048) / 3_600.0 / cubic_foot;
        assert_relative_eq!(found, 1.177, max_relative = 1e-2);
    }

    #[test]
    fn head_and_flow_turn_each_other_round() {
        for overflow in [Overflow::Pipe(0.15), Overflow::Weir(0.8), Overflow::SidePipe(0.15)] {
            for flow in [0.5, 5.0, 40.0, 300.0] {
                assert_relative_eq!(
                    overflow.flow(overflow.head_for(flow)),
                    flow,
                    max_relative = 1e-8
                );
            }
        }
    }

    #[test]
    fn a_side_pipe_passes_the_sum_of_its_strips() {
        let diameter = 0.15;
        for head in [0.01, 0.08, 0.15, 0.16, 0.5] {
            let strips = 200_000;
            let height = f64::min(head, diameter) / f64::from(strips);
            let sum: f64 = (0..strips)
                .map(|strip| {
                    let z = height * (f64::from(strip) + 0.5);
                    let width = 2.0 * (z * (diameter - z)).sqrt();
                    width * height * (2.0 * GRAVITY * (head - z)).sqrt()
                })
                .sum();
            let found = side_opening(diameter, head);
            assert_relative_eq!(found, ORIFICE * sum * 3_600.0, max_relative = 1e-3);
        }
        // Deep under water it is an orifice under the head of its middle.
        let deep = side_opening(diameter, 3.0 + 0.5 * diameter);
        assert_relative_eq!(deep, orifice(diameter, 3.0), max_relative = 1e-4);
        assert_eq!(side_opening(diameter, -0.1), 0.0);
    }
}
