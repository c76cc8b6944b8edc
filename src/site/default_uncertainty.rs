//! What a reading is taken to be off by where its `±` is not stated: the one table of ordinary errors.

use super::Value;
use crate::quantity::Uncertainty;

/// Circulation of a nameplate or a pump curve, per cent either way.
pub const CIRCULATION_PERCENT: f64 = 15.0;
/// A conductivity that a plant's probe reads, per cent either way.
pub const CONDUCTIVITY_PERCENT: f64 = 3.0;
/// A titration, per cent either way.
pub const TITRATION_PERCENT: f64 = 5.0;
/// Limit of a plan area by a tape, % (common practice).
pub const AREA_PERCENT: f64 = 2.0;
/// Limits of a drop test's readings that nobody stated a `±` for: of the level, m, and of the time, s (common practice).
pub const DROP_READING_LIMITS: (f64, f64) = (1e-3, 60.0);

/// The ordinary error of one kind of reading: a limit either way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DefaultUncertainty {
    /// The kind of reading, in the trade's words.
    pub of: &'static str,
    /// How far it is off.
    size: Size,
    /// Where that comes from.
    pub basis: &'static str,
    /// How its paths begin.
    begins: &'static str,
    /// How its paths end.
    ends: &'static str,
}

/// How far a reading is off, either way.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Size {
    /// Per cent of the reading.
    Percent(f64),
    /// In the SI unit of the quantity.
    By(f64),
    /// It is a choice, a price or a count: exact as stated.
    Exact,
}

use Size::{By, Exact, Percent};

const fn error(
    (begins, ends): (&'static str, &'static str),
    of: &'static str,
    size: Size,
    basis: &'static str,
) -> DefaultUncertainty {
    DefaultUncertainty { of, size, basis, begins, ends }
}

/// What is exact as stated.
const fn exact(begins: &'static str, ends: &'static str) -> DefaultUncertainty {
    error((begins, ends), "", Exact, "")
}

const PRACTICE: &str = "common practice";
const NAMEPLATE: &str = "of a nameplate or pump curve; common practice";
const STATION: &str = "of a weather service some way off; common practice";
const DRIFT: &str = "of a data sheet: -50 to +100 %, counted as 75 % either way; common practice";
const TITRATION: &str = "common practice of a titration";
const KIT: &str = "of a test kit; common practice";
const METER: &str = "of a flow that no meter is named for; common practice";
const RATING: &str = "of a valve's rating; common practice";
const TAPE: &str = "of a tape; common practice";
const ESTIMATE: &str = "of an estimate; common practice";
const BAROMETER: &str = "what weather moves the pressure by, 1.8 kPa; common practice";

/// The first line that a path fits counts. Limits (rectangular), as a plain `±` of the site file.
const TABLE: [DefaultUncertainty; 65] = [
    error(("circuit.circulation", ""), "circulation", Percent(CIRCULATION_PERCENT), NAMEPLATE),
    error(("circuit.heat_load", ""), "heat load", Percent(CIRCULATION_PERCENT), NAMEPLATE),
    error(("circuit.hot_water", ""), "thermometers", By(0.5), PRACTICE),
    error(("circuit.cold_water", ""), "thermometers", By(0.5), PRACTICE),
    error(("circuit.range", ""), "range", By(0.7), "of two thermometers; common practice"),
    error(("circuit.hottest_surface", ""), "surface", By(3.0), ESTIMATE),
    error(("circuit.coldest_basin", ""), "coldest basin", By(2.0), ESTIMATE),
    error(("circuit.volume", ""), "volume", Percent(15.0), ESTIMATE),
    exact("circuit.", ""),
    error(("air.dry_bulb", ""), "dry bulb", By(1.0), STATION),
    error(("air.wet_bulb", ""), "wet bulb", By(1.0), STATION),
    error(("air.dew_point", ""), "dew point", By(1.0), STATION),
    error(("air.relative_humidity", ""), "humidity", By(0.05), STATION),
    error(("air.altitude", ""), "altitude", By(150.0), BAROMETER),
    error(("air.pressure", ""), "air pressure", By(500.0), "of a barometer; common practice"),
    error(("air.recirculation", ""), "recirculation", Percent(50.0), ESTIMATE),
    error(("cell.", ".water_to_air"), "air of the fans", Percent(15.0), NAMEPLATE),
    error(("cell.", ".air_flow"), "air of the fans", Percent(15.0), NAMEPLATE),
    error(("cell.", ".drift"), "drift", Percent(75.0), DRIFT),
    exact("cell.", ".share"),
    error(("evaporation.flow", ""), "evaporation", Percent(10.0), ESTIMATE),
    error(("evaporation.share", ""), "evaporation", Percent(10.0), ESTIMATE),
    error(
        ("blowdown.cycles", ""),
        "cycles",
        Percent(10.0),
        "held by a controller; common practice",
    ),
    error(("blowdown.flow", ""), "blowdown", Percent(15.0), METER),
    error(("blowdown.conductivity", ""), "conductivity", Percent(CONDUCTIVITY_PERCENT), PRACTICE),
    error(("blowdown.valve_flow", ""), "valve flow", Percent(15.0), RATING),
    error(("blowdown.valve_pressure_drop", ""), "pressure drop", Percent(20.0), ESTIMATE),
    exact("blowdown.", ""),
    error(("losses.", ""), "leaks", Percent(30.0), ESTIMATE),
    error(("makeup.", ".temperature"), "makeup temperature", By(2.0), PRACTICE),
    exact("makeup.", ".share"),
    // What the season does is no error of a reading.
    exact("", ".lowest_conductivity"),
    exact("", ".highest_conductivity"),
    error(("circulating_water.temperature", ""), "thermometers", By(0.5), PRACTICE),
    error(("", ".ph"), "pH", By(0.1), "of a plant's meter; common practice"),
    error(("ph.held", ""), "pH", By(0.1), "of a plant's meter; common practice"),
    // A place between published lines is a choice.
    exact("ph.toward_air", ""),
    error(("ph.", ""), "carbon dioxide", By(0.2), ESTIMATE),
    error(("makeup.", ".conductivity"), "conductivity", Percent(CONDUCTIVITY_PERCENT), PRACTICE),
    error(
        ("circulating_water.conductivity", ""),
        "conductivity",
        Percent(CONDUCTIVITY_PERCENT),
        PRACTICE,
    ),
    error(("", ".hardness"), "hardness", Percent(10.0), KIT),
    error(("", ".alkalinity"), "alkalinity", Percent(10.0), KIT),
    error(("", ".suspended_solids"), "suspended solids", Percent(10.0), PRACTICE),
    error(("makeup.", ""), "analyses", Percent(TITRATION_PERCENT), TITRATION),
    error(("circulating_water.", ""), "analyses", Percent(TITRATION_PERCENT), TITRATION),
    error(("chemical.", ".strength"), "strength", Percent(5.0), "of a data sheet; common practice"),
    error(("chemical.", ".half_life"), "half life", Percent(30.0), ESTIMATE),
    error(("chemical.", ".demand"), "demand", Percent(30.0), ESTIMATE),
    // Doses and times are chosen, prices agreed.
    exact("chemical.", ""),
    exact("cost.", ""),
    error(("basin.area", ""), "basin area", Percent(AREA_PERCENT), TAPE),
    exact("basin.levels.", ".1"),
    error(("basin.levels.", ".2"), "basin volumes", Percent(2.0), TAPE),
    error(("basin.held_up", ""), "water held up", Percent(20.0), ESTIMATE),
    error(("basin.run_back", ""), "time to run back", Percent(30.0), ESTIMATE),
    error(("basin.", "_level"), "levels", By(0.01), TAPE),
    error(("basin.valve.flow", ""), "valve flow", Percent(15.0), RATING),
    error(("basin.valve.kv", ""), "valve flow", Percent(15.0), RATING),
    error(("basin.valve.cv", ""), "valve flow", Percent(15.0), RATING),
    error(("basin.valve.supply_pressure", ""), "supply pressure", Percent(10.0), PRACTICE),
    error(("basin.rain_area", ""), "basin area", Percent(5.0), TAPE),
    // Pipes are of a standard size; rain and pump stops are what is asked about.
    exact("basin.", ""),
    // These are errors themselves.
    exact("log.", ""),
    exact("method.", ""),
    exact("year.", ""),
];

impl DefaultUncertainty {
    /// The line of the table for a path; `None` where it has none.
    fn of_path(path: &str) -> Option<&'static Self> {
        TABLE.iter().find(|line| path.starts_with(line.begins) && path.ends_with(line.ends))
    }

    /// Gives a value that somebody stated without `±` the ordinary one of its kind, within the value's
    /// limits. A `±` that is stated stays, `± 0` too; what is assumed has its own.
    pub(crate) fn give(value: &mut Value) {
        if value.uncertainty.is_some() || value.assumed.is_some() {
            return;
        }
        let Some(line) = Self::of_path(&value.path) else { return };
        let size = match line.size {
            Percent(percent) => value.si.abs() * percent / 100.0,
            By(si) => si,
            Exact => return,
        };
        let room = (value.limits.most - value.si).min(value.si - value.limits.least);
        let half_width = size.min(room);
        if half_width > 0.0 {
            value.uncertainty = Some(Uncertainty::limit(half_width));
            value.default_uncertainty = Some(line);
        }
    }

    /// Whether the error is a part of the reading.
    pub fn is_relative(&self) -> bool {
        matches!(self.size, Percent(_))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Quantity;
    use crate::site::Limits;

    #[cfg(feature = "files")]
    fn slots(text: &str) -> Vec<Value> {
        let source = crate::site::file::read("site.toml", text, &[]).unwrap();
        crate::site::validate(&source.description).unwrap().slots
    }

    /// Whatever a site file can state has its line, so that nothing is exact by oversight.
    #[cfg(feature = "files")]
    #[test]
    fn every_number_of_a_site_has_a_line() {
        for text in
            [include_str!("../../examples/dairy.toml"), include_str!("../../examples/cannery.toml")]
        {
            for value in slots(text) {
                assert!(DefaultUncertainty::of_path(&value.path).is_some(), "{}", value.path);
            }
        }
    }

    #[test]
    fn every_line_counts_for_something() {
        // A line that an earlier one hides is dead.
        for (index, line) in TABLE.iter().enumerate() {
            let path = format!("{}x{}", line.begins, line.ends);
            let path = if line.ends.is_empty() { line.begins.to_owned() } else { path };
            let first = TABLE
                .iter()
                .position(|other| path.starts_with(other.begins) && path.ends_with(other.ends));
            assert_eq!(first, Some(index), "{path}");
        }
    }

    fn value(si: f64, limits: Limits) -> Value {
        Value {
            path: "circuit.circulation".into(),
            quantity: Quantity::VolumeFlow,
            si,
            uncertainty: None,
            default_uncertainty: None,
            assumed: None,
            limits,
        }
    }

    #[test]
    fn a_stated_error_stays_and_an_unstated_one_keeps_to_the_limits() {
        let above_zero = Limits::above(0.0, f64::INFINITY);
        let mut unstated = value(0.2, above_zero);
        DefaultUncertainty::give(&mut unstated);
        assert_eq!(unstated.uncertainty, Some(Uncertainty::limit(0.2 * 15.0 / 100.0)));
        assert_eq!(unstated.default_uncertainty.unwrap().of, "circulation");

        let exact = Some(Uncertainty::limit(0.0));
        let mut stated = Value { uncertainty: exact, ..value(0.2, above_zero) };
        DefaultUncertainty::give(&mut stated);
        assert_eq!((stated.uncertainty, stated.default_uncertainty), (exact, None));

        let mut narrow = value(0.2, Limits::between(0.0, 0.21));
        DefaultUncertainty::give(&mut narrow);
        assert!((narrow.uncertainty.unwrap().half_width - 0.01).abs() < 1e-12);
    }
}
