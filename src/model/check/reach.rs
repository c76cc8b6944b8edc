//! What meters and readings can show, and what one more of them would: the smallest loss that a period
//! shows in 95 of 100 cases.

use crate::check::detection::limit_of;

/// What is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Meters {
    /// Blowdown, by a meter or by its valve.
    pub blowdown: bool,
    /// The concentration of the basin: conductivity or chloride.
    pub basin: bool,
    /// That of the makeup, in the log or in the site file.
    pub makeup_quality: bool,
    /// Hot and cold water, or the load.
    pub load: bool,
    /// Whether a controller holds the basin's conductivity.
    pub is_held: bool,
}

impl Meters {
    /// Whether the solids tell what leaves besides the blowdown.
    pub fn solids_are_read(&self) -> bool {
        self.blowdown && self.basin
    }
}

/// Something that could be read besides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    /// A blowdown meter.
    BlowdownMeter,
    /// The conductivity of basin and makeup.
    Conductivity,
    /// Hot and cold water.
    Temperatures,
}

/// A reading that is missing, and the loss that would show with it, m3/d.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OneMore {
    /// Which.
    pub reading: Reading,
    /// The smallest loss that would show in a period.
    pub loss: f64,
}

/// Flows of a period, m3/d, with what is known of each: relative standard uncertainties.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reach {
    pub makeup: f64,
    pub evaporation: f64,
    pub cycles: f64,
    pub of_makeup: f64,
    pub of_blowdown: f64,
    /// Of the evaporation with the load read, and without.
    pub of_evaporation: [f64; 2],
    /// Of the cycles with conductivities read, and without.
    pub of_cycles: [f64; 2],
    /// Of what is stored as solids, m3/d of water at the basin's concentration.
    pub stored: f64,
}

impl Reach {
    /// What leaves as liquid at these cycles.
    fn blowdown(&self) -> f64 {
        self.evaporation / (self.cycles - 1.0)
    }

    /// Standard uncertainty of the makeup that evaporation and cycles ask for, E C / (C - 1).
    pub fn of_expected(&self, of_evaporation: f64, of_cycles: f64) -> f64 {
        let expected = self.evaporation + self.blowdown();
        expected * of_evaporation.hypot(of_cycles / (self.cycles - 1.0))
    }

    /// The smallest loss that shows. Without a blowdown meter a controller hides besides what it bleeds: it
    /// bleeds less by as much as is lost.
    pub fn loss(&self, meters: &Meters) -> f64 {
        let of_makeup = self.makeup * self.of_makeup;
        let of_evaporation = self.of_evaporation[usize::from(!meters.load)];
        let of_cycles = self.of_cycles[usize::from(!meters.basin)];
        if !meters.blowdown {
            let unsure = of_makeup.hypot(self.of_expected(of_evaporation, of_cycles));
            let hidden = if meters.is_held { self.blowdown() } else { 0.0 };
            return limit_of(unsure) + hidden;
        }
        let of_blowdown = self.blowdown() * self.of_blowdown;
        let by_heat = of_makeup.hypot(self.evaporation * of_evaporation).hypot(of_blowdown);
        let leaves = self.makeup / self.cycles;
        let by_solids = (leaves * self.of_makeup.hypot(of_cycles)).hypot(of_blowdown);
        match meters.basin {
            true => limit_of(by_heat.min(by_solids.hypot(self.stored))),
            false => limit_of(by_heat),
        }
    }

    /// What each missing reading would show, the best first; none that buys less than a tenth.
    pub fn one_more(&self, meters: &Meters) -> Vec<OneMore> {
        const WORTH: f64 = 0.9;
        let now = self.loss(meters);
        let with = |reading: Reading| match reading {
            Reading::BlowdownMeter => (meters.blowdown, Meters { blowdown: true, ..*meters }),
            Reading::Conductivity => {
                (meters.basin && meters.makeup_quality, Meters { basin: true, ..*meters })
            }
            Reading::Temperatures => (meters.load, Meters { load: true, ..*meters }),
        };
        let mut more: Vec<OneMore> =
            [Reading::BlowdownMeter, Reading::Conductivity, Reading::Temperatures]
                .into_iter()
                .map(|reading| (reading, with(reading)))
                .filter(|(_, (is_read, _))| !is_read)
                .map(|(reading, (_, meters))| OneMore { reading, loss: self.loss(&meters) })
                .filter(|more| more.loss < WORTH * now)
                .collect();
        more.sort_by(|a, b| a.loss.total_cmp(&b.loss));
        more
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    const ALL: Meters =
        Meters { blowdown: true, basin: true, makeup_quality: true, load: true, is_held: true };

    fn reach() -> Reach {
        Reach {
            makeup: 80.0,
            evaporation: 60.0,
            cycles: 4.0,
            of_makeup: 0.01,
            of_blowdown: 0.01,
            of_evaporation: [0.09, 0.3],
            of_cycles: [0.05, 0.10],
            stored: 0.0,
        }
    }

    #[test]
    fn a_controller_hides_what_it_bleeds() {
        let reach = reach();
        let without = Meters { blowdown: false, ..ALL };
        let by_timer = Meters { is_held: false, ..without };
        assert_relative_eq!(reach.loss(&without) - reach.loss(&by_timer), 20.0, epsilon = 1e-9);
        // Solids see 20 * (0.05^2 + 0.01^2)^0.5 and the meter's 0.2 m3/d.
        let unsure = (20.0 * 0.05f64.hypot(0.01)).hypot(0.2);
        assert_relative_eq!(reach.loss(&ALL), limit_of(unsure), max_relative = 1e-12);
    }

    #[test]
    fn what_one_more_meter_would_buy_is_ordered_and_never_a_loss() {
        let reach = reach();
        let poor =
            Meters { blowdown: false, basin: false, makeup_quality: false, load: false, ..ALL };
        let more = reach.one_more(&poor);
        assert!(!more.is_empty());
        assert!(more.windows(2).all(|pair| pair[0].loss <= pair[1].loss));
        assert!(more.iter().all(|more| more.loss < reach.loss(&poor)));
        assert!(reach.one_more(&ALL).is_empty());
    }
}
