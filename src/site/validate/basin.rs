//! Checks what a description says of the basin.

use super::{Check, FLOW, SOME};
use crate::basin::Shape;
use crate::quantity::{Duration, Length, Measured, Ratio, Stated, Volume};
use crate::site::description::{Basin, Description, MakeupValve};
use crate::site::{
    CapacityGiven, Limits, OverflowGiven, Problem, ShapeGiven, SiteBasin, SiteValve, SlotId,
};

const LEVEL: Limits = Limits::between(0.0, 50.0);
const DIAMETER: Limits = Limits::above(0.0, 5.0);
const STOPS: Limits = Limits::between(0.0, 1_000.0);

const ASSUMED_NONE: &str = "not stated; none";
const ASSUMED_RUN_BACK: &str = "not stated; 5 min, common practice";

/// A level that is stated, for comparing it with others.
type Named = (&'static str, Option<Stated<Length>>);

impl Check {
    /// The outer `None` is a problem, the inner one a site without a basin.
    pub(super) fn basin(&mut self, description: &Description) -> Option<Option<SiteBasin>> {
        let Some(basin) = &description.basin else { return Some(None) };
        let before = self.problems.len();
        let shape = self.shape(basin);
        let operating_level =
            self.needed_level("operating_level", basin.operating_level, "the operating level");
        let overflow_level =
            self.needed_level("overflow_level", basin.overflow_level, "the overflow's level");
        let none: Stated<Volume> = Volume::cubic_metre(0.0).into();
        let checked = SiteBasin {
            low_alarm_level: self.value("basin.low_alarm_level", &basin.low_alarm_level, LEVEL),
            pump_trip_level: self.value("basin.pump_trip_level", &basin.pump_trip_level, LEVEL),
            suction_level: self.value("basin.suction_level", &basin.suction_level, LEVEL),
            inlet_level: self.value("basin.inlet_level", &basin.inlet_level, LEVEL),
            held_up: self.value_or("basin.held_up", &basin.held_up, FLOW, (none, ASSUMED_NONE))?,
            run_back: self.value_or(
                "basin.run_back",
                &basin.run_back,
                SOME,
                (Duration::hours(5.0 / 60.0).into(), ASSUMED_RUN_BACK),
            )?,
            pump_stops_per_day: self.value(
                "basin.pump_stops_per_day",
                &basin.pump_stops_per_day,
                STOPS,
            ),
            overflow: self.overflow(basin),
            drain_pipe: self.value("basin.drain_pipe", &basin.drain_pipe, DIAMETER),
            valve: match &basin.valve {
                Some(valve) => Some(self.makeup_valve(valve)?),
                None => None,
            },
            rain: self.value("basin.rain", &basin.rain, FLOW),
            rain_area: self.value("basin.rain_area", &basin.rain_area, SOME),
            shape: shape?,
            operating_level: operating_level?,
            overflow_level: overflow_level?,
        };
        self.level_order(basin);
        (self.problems.len() == before).then_some(Some(checked))
    }

    fn needed_level(
        &mut self,
        key: &str,
        stated: Option<Stated<Length>>,
        what: &str,
    ) -> Option<SlotId> {
        if stated.is_none() {
            self.problem(
                Problem::new("basin", format!("{what} is missing"))
                    .with_help(format!("write {key} = \"0.5 m\", above the floor of the basin")),
            );
        }
        self.value(format!("basin.{key}"), &stated, LEVEL)
    }

    fn shape(&mut self, basin: &Basin) -> Option<ShapeGiven> {
        match (&basin.area, basin.levels.is_empty()) {
            (Some(_), true) => self.value("basin.area", &basin.area, SOME).map(ShapeGiven::Area),
            (None, false) => {
                let points: Vec<(f64, f64)> = basin
                    .levels
                    .iter()
                    .map(|(level, volume)| (level.value.si(), volume.value.si()))
                    .collect();
                if let Err(error) = Shape::of_points(points) {
                    self.problem(Problem::new("basin.levels", error.to_string()));
                    return None;
                }
                let mut slots = Vec::new();
                for (index, (level, volume)) in basin.levels.iter().enumerate() {
                    let at = |part| format!("basin.levels.{}.{part}", index + 1);
                    let level = self.value(at(1), &Some(*level), LEVEL)?;
                    slots.push((level, self.value(at(2), &Some(*volume), FLOW)?));
                }
                Some(ShapeGiven::Levels(slots))
            }
            (Some(_), false) => {
                self.over_determined(
                    &["basin.area", "basin.levels"],
                    "the shape of the basin is stated twice",
                    "keep area for upright walls, else levels",
                );
                None
            }
            (None, true) => {
                self.problem(
                    Problem::new("basin", "the shape of the basin is missing").with_help(
                        "write area = \"60 m2\", or levels = [[\"0 m\", \"0 m3\"], ...]",
                    ),
                );
                None
            }
        }
    }

    fn overflow(&mut self, basin: &Basin) -> Option<OverflowGiven> {
        let stated: Vec<&str> = [
            ("basin.overflow_pipe", basin.overflow_pipe.is_some()),
            ("basin.overflow_weir", basin.overflow_weir.is_some()),
            ("basin.overflow_side_pipe", basin.overflow_side_pipe.is_some()),
        ]
        .into_iter()
        .filter_map(|(path, is_stated)| is_stated.then_some(path))
        .collect();
        if stated.len() > 1 {
            self.over_determined(
                &stated,
                "the overflow is stated twice",
                "keep one of overflow_pipe, overflow_weir and overflow_side_pipe",
            );
            return None;
        }
        let pipe = self.value("basin.overflow_pipe", &basin.overflow_pipe, DIAMETER);
        let weir = self.value("basin.overflow_weir", &basin.overflow_weir, SOME);
        let side = self.value("basin.overflow_side_pipe", &basin.overflow_side_pipe, DIAMETER);
        pipe.map(OverflowGiven::Pipe)
            .or(weir.map(OverflowGiven::Weir))
            .or(side.map(OverflowGiven::SidePipe))
    }

    fn makeup_valve(&mut self, valve: &MakeupValve) -> Option<SiteValve> {
        let levels = [
            ("open_level", valve.open_level),
            ("shut_level", valve.shut_level),
            ("on_level", valve.on_level),
            ("off_level", valve.off_level),
        ];
        let is_proportional = match levels.map(|(_, level)| level.is_some()) {
            [true, true, false, false] => true,
            [false, false, true, true] => false,
            _ => {
                self.problem(
                    Problem::new("basin.valve", "the action of the makeup valve is not fixed")
                        .with_help(
                            "a float arm has open_level and shut_level, an on/off valve on_level and \
                             off_level",
                        ),
                );
                return None;
            }
        };
        let at = |key: &str| format!("basin.valve.{key}");
        let keys = if is_proportional { [0, 1] } else { [2, 3] };
        let [low, high] = keys.map(|index: usize| levels[index]);
        let low_level = self.value(at(low.0), &low.1, LEVEL)?;
        let high_level = self.value(at(high.0), &high.1, LEVEL)?;
        if self.slots[low_level.0].si >= self.slots[high_level.0].si {
            let message = format!("{} must lie below {}", low.0, high.0);
            self.problem(Problem::new(at(low.0), message).with_related(at(high.0)));
            return None;
        }
        let pressure = self.value(at("supply_pressure"), &valve.supply_pressure, SOME);
        let capacity = match (valve.flow, valve.kv, valve.cv) {
            (Some(_), None, None) => {
                self.value(at("flow"), &valve.flow, SOME).map(CapacityGiven::Flow)
            }
            (None, Some(_), None) => self.coefficient("kv", &valve.kv, pressure, CapacityGiven::Kv),
            (None, None, Some(_)) => self.coefficient("cv", &valve.cv, pressure, CapacityGiven::Cv),
            _ => {
                self.problem(
                    Problem::new("basin.valve", "the capacity of the makeup valve is not fixed")
                        .with_help(
                            "state one of flow, kv and cv; the last two with supply_pressure",
                        ),
                );
                None
            }
        };
        Some(SiteValve {
            is_proportional,
            low_level,
            high_level,
            capacity: capacity?,
            pipe: self.value(at("pipe"), &valve.pipe, DIAMETER),
        })
    }

    fn coefficient(
        &mut self,
        key: &str,
        stated: &Option<Stated<Ratio>>,
        pressure: Option<SlotId>,
        given: fn(SlotId, SlotId) -> CapacityGiven,
    ) -> Option<CapacityGiven> {
        let slot = self.value(format!("basin.valve.{key}"), stated, SOME)?;
        let Some(pressure) = pressure else {
            self.problem(
                Problem::new(format!("basin.valve.{key}"), "a flow coefficient needs the pressure")
                    .with_help("write supply_pressure = \"3 bar\" beside it"),
            );
            return None;
        };
        Some(given(slot, pressure))
    }

    /// Levels that are stated in the wrong order.
    fn level_order(&mut self, basin: &Basin) {
        let valve = basin.valve.clone().unwrap_or_default();
        let low: Named = ("basin.pump_trip_level", basin.pump_trip_level);
        let pairs: [(Named, Named); 6] = [
            (low, ("basin.low_alarm_level", basin.low_alarm_level)),
            (
                ("basin.low_alarm_level", basin.low_alarm_level),
                ("basin.operating_level", basin.operating_level),
            ),
            (low, ("basin.operating_level", basin.operating_level)),
            (
                ("basin.operating_level", basin.operating_level),
                ("basin.overflow_level", basin.overflow_level),
            ),
            (
                ("basin.valve.shut_level", valve.shut_level),
                ("basin.overflow_level", basin.overflow_level),
            ),
            (
                ("basin.valve.off_level", valve.off_level),
                ("basin.overflow_level", basin.overflow_level),
            ),
        ];
        for ((low, below), (high, above)) in pairs {
            if let (Some(below), Some(above)) = (below, above)
                && below.value.si() >= above.value.si()
            {
                let name = |path: &str| path.rsplit('.').next().unwrap_or_default().to_owned();
                self.problem(
                    Problem::new(low, format!("{} must lie below {}", name(low), name(high)))
                        .with_related(high),
                );
            }
        }
    }
}
