//! From what somebody wrote to a checked site in SI units.
//!
//! [`description`] holds plain optional values; [`validate()`] turns them into a [`Site`] or lists
//! everything that is wrong; `file` (feature `files`) reads a description from TOML and puts
//! problems back to their line and column.

mod date;
mod default_uncertainty;
pub mod description;
#[cfg(feature = "files")]
pub mod file;
mod relations;
#[cfg(feature = "schema")]
mod schema;
mod tables;
mod validate;

use crate::blowdown::limit::StatedLimits;
use crate::chemistry::slip::{Counted, Entry, Sheet};
use crate::chemistry::{BalanceWith, Constituent};
use crate::quantity::unit::{self, Unit};
use crate::quantity::{Measured, Quantity, Stated, Uncertainty, UnitSystem, in_both_systems};
use crate::tower::Arrangement;
pub use date::Date;
pub use default_uncertainty::{AREA_PERCENT, DROP_READING_LIMITS, DefaultUncertainty};
#[cfg(feature = "files")]
pub use description::VisitsLayout;
pub use description::{Acid, ChemicalKind, Control, Description, FanControl, Method, SewerBasis};
pub use relations::{Conflict, Temperatures};
pub use tables::{Table, validate_without};
#[cfg(feature = "files")]
pub(crate) use validate::assumed_instruments;
pub use validate::validate;

#[cfg(feature = "schema")]
pub use schema::schema;

/// Something wrong with a description; the path tells where, as in `cell.east.drift`.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// The entry at fault, or the table that lacks one.
    pub path: String,
    /// Other entries that have a part in it.
    pub related: Vec<String>,
    /// What is wrong.
    pub message: String,
    /// What would be right.
    pub help: Option<String>,
}

impl Problem {
    /// A problem at a path.
    pub fn new(path: impl Into<String>, message: impl Into<String>) -> Self {
        Self { path: path.into(), related: Vec::new(), message: message.into(), help: None }
    }

    /// Adds what would be right.
    #[must_use]
    pub fn with_help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// Adds another entry that has a part in it.
    #[must_use]
    pub fn with_related(mut self, path: impl Into<String>) -> Self {
        self.related.push(path.into());
        self
    }
}

/// Which values of an entry are accepted, in its SI unit. NaN and infinity never are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Smallest accepted value.
    pub least: f64,
    /// Whether `least` itself is refused.
    pub above_least: bool,
    /// Largest accepted value.
    pub most: f64,
}

/// No number of a plant is larger, in SI units: a river in m3/s, a power station in W and a laboratory's reading
/// lie far below, and what is computed from several such numbers is still a number.
pub const LARGEST: f64 = 1e12;

impl Limits {
    /// From `least` to `most`, both accepted.
    pub const fn between(least: f64, most: f64) -> Self {
        Self { least, above_least: false, most }
    }

    /// Above `least`, up to `most`.
    pub const fn above(least: f64, most: f64) -> Self {
        Self { least, above_least: true, most }
    }

    /// Whether a value is accepted: within the limits, and no larger than [`LARGEST`].
    pub fn accept(&self, si: f64) -> bool {
        let low = if self.above_least { si > self.least } else { si >= self.least };
        low && si <= self.most && si <= LARGEST
    }

    /// What is accepted in place of a value, in words and in the unit that people see.
    pub fn describe(&self, quantity: Quantity, si: f64) -> String {
        let show = |si| in_both_systems(quantity, si);
        if si > LARGEST && self.most > LARGEST {
            return format!("{} at most, more than any plant has", show(LARGEST));
        }
        match (self.most.is_finite(), self.above_least) {
            (true, false) => format!("between {} and {}", show(self.least), show(self.most)),
            (true, true) => format!("above {} and at most {}", show(self.least), show(self.most)),
            (false, true) => format!("above {}", show(self.least)),
            (false, false) => format!("{} or more", show(self.least)),
        }
    }
}

/// One checked number of a site.
#[derive(Debug, Clone, PartialEq)]
pub struct Value {
    /// Where it stands, as in `cell.east.drift`.
    pub path: String,
    /// What it measures.
    pub quantity: Quantity,
    /// The number, in the SI unit of the quantity.
    pub si: f64,
    /// Its uncertainty: stated, assumed with the value, or the ordinary one of its kind. `None` of a
    /// choice, a price or a count.
    pub uncertainty: Option<Uncertainty>,
    /// The kind of reading whose ordinary error `uncertainty` is, where nobody stated one.
    pub default_uncertainty: Option<&'static DefaultUncertainty>,
    /// The basis, where nobody stated the value.
    pub assumed: Option<&'static str>,
    /// What other numbers would be accepted in its place.
    pub limits: Limits,
}

impl Value {
    /// The unit that people see: that of its quantity, but of air that of air.
    pub fn shown_in(&self, units: UnitSystem) -> &'static Unit {
        let is_air = self.quantity == Quantity::VolumeFlow && self.path.ends_with(".air_flow");
        match (is_air, units) {
            (true, UnitSystem::UsCustomary) => &unit::CUBIC_FOOT_PER_MINUTE,
            _ => self.quantity.shown_in(units),
        }
    }

    /// Its uncertainty, where it is not the ordinary one of its kind.
    pub fn stated_uncertainty(&self) -> Option<Uncertainty> {
        self.uncertainty.filter(|_| self.default_uncertainty.is_none())
    }

    /// Whether nobody stated its uncertainty, though it has one.
    pub fn is_uncertain_by_default(&self) -> bool {
        self.uncertainty.is_some_and(|uncertainty| uncertainty.half_width > 0.0)
            && (self.default_uncertainty.is_some() || self.assumed.is_some())
    }

    /// Whether it is the error of a method, and no reading.
    pub fn is_of_method(&self) -> bool {
        self.path.starts_with("method.")
    }

    /// A value that somebody stated.
    pub(crate) fn stated<Q: Measured>(path: String, stated: &Stated<Q>, limits: Limits) -> Self {
        Self {
            path,
            quantity: stated.value.quantity(),
            si: stated.value.si(),
            uncertainty: stated.uncertainty,
            default_uncertainty: None,
            assumed: None,
            limits,
        }
    }

    /// A value that nobody stated, with its basis.
    pub(crate) fn assumed<Q: Measured>(
        path: String,
        stated: &Stated<Q>,
        limits: Limits,
        basis: &'static str,
    ) -> Self {
        Self { assumed: Some(basis), ..Self::stated(path, stated, limits) }
    }
}

/// The place of a number among the numbers of a site.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SlotId(pub(crate) usize);

/// The air that enters, as given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AirGiven {
    /// Dry bulb and wet bulb.
    DryBulbWetBulb(SlotId, SlotId),
    /// Dry bulb and relative humidity.
    DryBulbRelativeHumidity(SlotId, SlotId),
    /// Dry bulb and dew point.
    DryBulbDewPoint(SlotId, SlotId),
    /// Wet bulb and relative humidity, stated or assumed.
    WetBulbRelativeHumidity(SlotId, SlotId),
}

/// Air pressure, as given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PressureGiven {
    /// By height in the standard atmosphere.
    Altitude(SlotId),
    /// Measured at the site.
    Pressure(SlotId),
}

/// Entering air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SiteAir {
    /// Temperature and humidity.
    pub given: AirGiven,
    /// Pressure.
    pub pressure: PressureGiven,
    /// Raise of the entering wet bulb.
    pub recirculation: Option<SlotId>,
}

/// What is known of the water's temperatures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WaterGiven {
    /// Hot and cold water.
    HotCold(SlotId, SlotId),
    /// Hot water and range.
    HotRange(SlotId, SlotId),
    /// Cold water and range.
    ColdRange(SlotId, SlotId),
    /// Hot water; the range follows from heat load and circulation.
    HotHeatLoad(SlotId, SlotId),
    /// Cold water; the range follows from heat load and circulation.
    ColdHeatLoad(SlotId, SlotId),
    /// The range alone, with an assumed hot water for densities.
    Range(SlotId, SlotId),
    /// The heat load alone, with an assumed hot water for densities.
    HeatLoad(SlotId, SlotId),
    /// Nothing: evaporation comes from elsewhere; an assumed hot water for densities.
    Unknown(SlotId),
}

/// What fixes the circulation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CirculationGiven {
    /// A flow, by volume or by mass.
    Flow(SlotId),
    /// Heat load over range.
    HeatLoad(SlotId),
}

/// What fixes a cell's air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CellAir {
    /// Mass of inlet water over mass of dry air.
    WaterToAir(SlotId),
    /// Air flow: dry air by mass, or moist entering air by volume.
    AirFlow(SlotId),
}

/// One cell in service.
#[derive(Debug, Clone, PartialEq)]
pub struct SiteCell {
    /// Name, or number from 1.
    pub name: String,
    /// Crossflow or counterflow.
    pub arrangement: Arrangement,
    /// Whether nobody stated the arrangement.
    pub arrangement_assumed: bool,
    /// Part of the circulation.
    pub share: SlotId,
    /// What fixes the air.
    pub air: CellAir,
    /// Drift as a fraction of the cell's water.
    pub drift: SlotId,
}

/// Where the evaporation on the sheet comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EvaporationGiven {
    /// A method other than the rule of thumb.
    Method(Method),
    /// The rule of thumb, with its factor: kg evaporated per kg of circulation and K of range.
    Rule(SlotId),
    /// A flow known from elsewhere.
    Flow(SlotId),
    /// A fraction of circulation known from elsewhere.
    Fraction(SlotId),
}

/// What fixes the blowdown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BlowdownGiven {
    /// A target for the cycles.
    Cycles(SlotId),
    /// A flow.
    Flow(SlotId),
    /// Circulating conductivity over the makeup's: apparent cycles.
    Conductivity(SlotId),
}

/// One source of makeup.
#[derive(Debug, Clone, PartialEq)]
pub struct SiteMakeup {
    /// Name, or number from 1.
    pub name: String,
    /// Part of the makeup.
    pub share: SlotId,
    /// Temperature at its meter.
    pub temperature: SlotId,
    /// What the laboratory found.
    pub analysis: SiteAnalysis,
}

/// An analysis: each constituent in the basis that it is shown as.
#[derive(Debug, Clone, PartialEq)]
pub struct SiteAnalysis {
    /// The day of the sample.
    pub sampled: Option<Date>,
    /// pH.
    pub ph: Option<SlotId>,
    /// Temperature of the sample.
    pub temperature: SlotId,
    /// Conductivity at 25 degC.
    pub conductivity: Option<SlotId>,
    /// Lowest conductivity of the season.
    pub lowest_conductivity: Option<SlotId>,
    /// Highest conductivity of the season.
    pub highest_conductivity: Option<SlotId>,
    /// What was found of each constituent.
    pub constituents: Vec<(Constituent, SlotId)>,
    /// As what each constituent was written.
    pub counted: Vec<(Constituent, Counted)>,
    /// Phenolphthalein alkalinity, kg/m3 as CaCO3.
    pub p_alkalinity: Option<SlotId>,
    /// Total dissolved solids by drying.
    pub dissolved_solids: Option<SlotId>,
    /// Sum of the ions as the laboratory makes it.
    pub dissolved_ions: Option<SlotId>,
    /// Total suspended solids.
    pub suspended_solids: Option<SlotId>,
    /// The ion that makes up for what was not analysed.
    pub balance_with: Option<BalanceWith>,
    /// Calcium's part of a hardness that stands alone.
    pub calcium_of_hardness: Option<SlotId>,
    /// Sulfate's part of the anions that complete a field kit's analysis.
    pub sulfate_of_missing: Option<SlotId>,
    /// Everything that was read, as it was written.
    pub as_given: Vec<AsGiven>,
}

impl SiteAnalysis {
    /// The sheet with its witnesses, by the number of each slot (SI) and its standard uncertainty.
    pub(crate) fn sheet(
        &self,
        number: impl Fn(SlotId) -> f64,
        standard: impl Fn(SlotId) -> f64,
    ) -> Sheet {
        let relative = |slot: SlotId| match number(slot) {
            0.0 => 0.0,
            value => standard(slot) / value,
        };
        let entries = self.constituents.iter().zip(&self.counted).map(
            |((constituent, slot), (_, counted))| Entry {
                constituent: *constituent,
                mole_per_kg: constituent.mole_per_kg(1e3 * number(*slot)),
                relative: relative(*slot),
                counted: *counted,
            },
        );
        let solids = self.dissolved_solids.or(self.dissolved_ions);
        Sheet {
            entries: entries.collect(),
            ph: self.ph.map(&number),
            conductivity: self.conductivity.map(|slot| (number(slot), relative(slot))),
            calcium_of_hardness: self.calcium_of_hardness.map(&number),
            solids: solids.map(|slot| 1e3 * number(slot)),
            expected: Vec::new(),
            cycles: 1.0,
            is_whole: false,
        }
    }
}

/// An entry of an analysis as it was written, beside what is used of it.
#[derive(Debug, Clone, PartialEq)]
pub struct AsGiven {
    /// Its key.
    pub key: &'static str,
    /// As it was written.
    pub written: String,
    /// The number that is used; `None` where nothing is judged by it.
    pub used: Option<SlotId>,
    /// What was made of it, where that is more than a change of units.
    pub remark: Option<String>,
}

/// What fixes the pH of the circulating water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PhGiven {
    /// The pH that acid holds, and which acid.
    pub held: Option<(SlotId, Acid)>,
    /// What fixes the carbon dioxide.
    pub gas: GasGiven,
}

/// What fixes the carbon dioxide of the circulating water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum GasGiven {
    /// log10 of the pressure in atm.
    Pressure(SlotId),
    /// The pH of the tower, measured or held, with its alkalinity, which imply it.
    TowerPh(SlotId),
    /// The field lines, and where between them.
    FieldLine(SlotId),
}

/// A surface is so much hotter than the water that it heats, K, where nobody says (common practice).
pub const SURFACE_ABOVE_HOT_WATER: f64 = 10.0;

/// What the water chemistry needs beside the makeup.
#[derive(Debug, Clone, PartialEq)]
pub struct SiteChemistry {
    /// What fixes the pH.
    pub ph: PhGiven,
    /// The circulating water as analysed.
    pub circulating_water: Option<SiteAnalysis>,
    /// The hottest surface that the water touches.
    pub hottest_surface: Option<SlotId>,
    /// The coldest that the basin gets.
    pub coldest_basin: Option<SlotId>,
    /// What is stated of limits of the circulating water.
    pub limits: StatedLimits,
    /// Dead band of the controller, as a part of the set point.
    pub dead_band: SlotId,
    /// The longest half-life of what is in the water.
    pub longest_half_life: Option<SlotId>,
    /// Flow of the open blowdown valve.
    pub valve_flow: Option<SlotId>,
    /// Pressure drop over the open blowdown valve.
    pub valve_pressure_drop: Option<SlotId>,
    /// Makeup that a pulse of its meter stands for.
    pub makeup_pulse: Option<SlotId>,
}

/// A chemical with its slots.
#[derive(Debug, Clone, PartialEq)]
pub struct SiteChemical {
    /// Name, or number from 1.
    pub name: String,
    /// What it does.
    pub kind: ChemicalKind,
    /// Active substance in the circulating water.
    pub dose: Option<SlotId>,
    /// Active substance in the product.
    pub strength: SlotId,
    /// Density of the product.
    pub density: Option<SlotId>,
    /// Price of the product.
    pub price: Option<SlotId>,
    /// Half life in the water.
    pub half_life: Option<SlotId>,
    /// From one slug to the next.
    pub every: Option<SlotId>,
    /// Time above `effective`.
    pub contact: Option<SlotId>,
    /// The least that works.
    pub effective: Option<SlotId>,
    /// What the makeup uses up.
    pub demand: Option<SlotId>,
    /// Its pump at full stroke.
    pub pump: Option<SlotId>,
    /// Salts of the product, by mass.
    pub contains: Vec<(Constituent, SlotId)>,
}

/// The basin with its slots. Levels in m above the floor.
#[derive(Debug, Clone, PartialEq)]
pub struct SiteBasin {
    /// Plan area, or levels against volumes.
    pub shape: ShapeGiven,
    /// Level while the pumps run.
    pub operating_level: SlotId,
    /// Lip of the overflow.
    pub overflow_level: SlotId,
    /// Low-level alarm.
    pub low_alarm_level: Option<SlotId>,
    /// Pump trip.
    pub pump_trip_level: Option<SlotId>,
    /// What the suction needs.
    pub suction_level: Option<SlotId>,
    /// Outlet of the makeup pipe.
    pub inlet_level: Option<SlotId>,
    /// Water that runs back.
    pub held_up: SlotId,
    /// Time in which it does.
    pub run_back: SlotId,
    /// Pump stops in a day.
    pub pump_stops_per_day: Option<SlotId>,
    /// Standing overflow pipe, or weir.
    pub overflow: Option<OverflowGiven>,
    /// Drain.
    pub drain_pipe: Option<SlotId>,
    /// Makeup valve.
    pub valve: Option<SiteValve>,
    /// Rain.
    pub rain: Option<SlotId>,
    /// Area that catches it.
    pub rain_area: Option<SlotId>,
}

/// What fixes the shape of a basin.
#[derive(Debug, Clone, PartialEq)]
pub enum ShapeGiven {
    /// Plan area.
    Area(SlotId),
    /// Level and volume, point by point.
    Levels(Vec<(SlotId, SlotId)>),
}

/// What the overflow is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OverflowGiven {
    /// Diameter of a standing pipe.
    Pipe(SlotId),
    /// Length of a weir.
    Weir(SlotId),
    /// Diameter of a pipe through the wall.
    SidePipe(SlotId),
}

/// A makeup valve with its slots.
#[derive(Debug, Clone, PartialEq)]
pub struct SiteValve {
    /// Whether it acts in proportion; else on and off.
    pub is_proportional: bool,
    /// Fully open, or switched on, at and below this level.
    pub low_level: SlotId,
    /// Shut at and above this level.
    pub high_level: SlotId,
    /// Its capacity.
    pub capacity: CapacityGiven,
    /// Diameter of its pipe.
    pub pipe: Option<SlotId>,
}

/// What fixes the capacity of a valve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CapacityGiven {
    /// A flow.
    Flow(SlotId),
    /// Kv and supply pressure.
    Kv(SlotId, SlotId),
    /// Cv and supply pressure.
    Cv(SlotId, SlotId),
}

/// A log's layout with the accuracy of its instruments: relative standard uncertainties.
#[cfg(feature = "files")]
#[derive(Debug, Clone, PartialEq)]
pub struct SiteLog {
    /// How it is read.
    pub layout: crate::readings::Layout,
    /// Constant errors: limits of what a reading may be off by, as a part of it.
    pub accuracy: SiteInstruments,
    /// Errors that are new in every reading: one standard deviation, as a part of it.
    pub repeatability: SiteInstruments,
}

/// A number in SI, with the basis where nobody stated it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Given {
    /// In the SI unit of its quantity.
    pub si: f64,
    /// The basis, where it is assumed.
    pub assumed: Option<&'static str>,
}

/// How the tower is run through a year.
#[derive(Debug, Clone, PartialEq)]
pub struct SiteYear {
    /// Cold water that the fans are slowed down to hold, K.
    pub set_point_kelvin: Option<f64>,
    /// Cold water above which the tower fails its process, K.
    pub limit_kelvin: Option<f64>,
    /// How the fans hold it.
    pub fans: FanControl,
    /// Slowest that the fans run, as a part of full speed.
    pub least_fan_speed: Given,
    /// Air with the fans off, as a part of that at full speed.
    pub natural_draught: Given,
    /// Of the transfer characteristic.
    pub exponent: Given,
    /// Of the transfer characteristic; fitted to the design point without it.
    pub coefficient: Option<f64>,
    /// How long the makeup may be missing, s.
    pub outage_seconds: Given,
    /// The heat load.
    pub load: SiteLoad,
}

/// The heat load through a year, as a part of the design's.
#[derive(Debug, Clone, PartialEq)]
pub enum SiteLoad {
    /// At every hour.
    Constant(Given),
    /// By hour of a workday, a Saturday and a Sunday.
    Hours(Box<[[f64; 24]; 3]>),
    /// By wet bulb in K, straight between points, level beyond them.
    WetBulb(Vec<(f64, f64)>),
}

/// Errors of the instruments.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SiteInstruments {
    /// Makeup meter.
    pub makeup: SlotId,
    /// Blowdown meter.
    pub blowdown: SlotId,
    /// Either conductivity.
    pub conductivity: SlotId,
    /// Chloride.
    pub chloride: SlotId,
    /// Evaporation from heat and weather.
    pub evaporation: SlotId,
}

/// Prices of a site.
#[derive(Debug, Clone, PartialEq)]
pub struct SiteCost {
    /// The currency as it is printed.
    pub currency: String,
    /// Of makeup.
    pub makeup: Option<SlotId>,
    /// Of waste water.
    pub sewer: Option<SlotId>,
    /// What the sewer is billed on.
    pub sewer_basis: SewerBasis,
    /// The part of the makeup that is billed.
    pub sewer_share: Option<SlotId>,
    /// Of energy for the makeup.
    pub energy: Option<SlotId>,
    /// The least yearly saving of one more cycle.
    pub least_saving: Option<f64>,
}

/// A checked site: every value within its limits, nothing missing, nothing twice.
#[derive(Debug, Clone, PartialEq)]
pub struct Site {
    /// Every number of the site; a [`SlotId`] below is a place in this list.
    pub slots: Vec<Value>,
    /// What people call it.
    pub name: String,
    /// Entering air, if known.
    pub air: Option<SiteAir>,
    /// Water temperatures.
    pub water: WaterGiven,
    /// Circulation.
    pub circulation: CirculationGiven,
    /// Cells in service, at least one.
    pub cells: Vec<SiteCell>,
    /// Names of cells out of service.
    pub cells_out_of_service: Vec<String>,
    /// Evaporation.
    pub evaporation: EvaporationGiven,
    /// What the methods are off by.
    pub method: SiteMethod,
    /// Whether the site asks for this method; else it is the best that the inputs allow.
    pub method_is_asked: bool,
    /// Blowdown.
    pub blowdown: BlowdownGiven,
    /// How blowdown is controlled, if known.
    pub control: Option<Control>,
    /// Leakage.
    pub leakage: SlotId,
    /// Overflow.
    pub overflow: SlotId,
    /// Sources of makeup, at least one.
    pub makeup: Vec<SiteMakeup>,
    /// What the water chemistry needs besides.
    pub chemistry: SiteChemistry,
    /// Water in the system.
    pub volume: Option<SlotId>,
    /// Hours run in a year.
    pub hours_per_year: SlotId,
    /// Mean load over those hours as a share of this hour's.
    pub load_factor: SlotId,
    /// The basin, where it is described.
    pub basin: Option<SiteBasin>,
    /// The log, where it is described.
    #[cfg(feature = "files")]
    pub log: Option<SiteLog>,
    /// How a sheet of visits is read, beyond what its header says.
    #[cfg(feature = "files")]
    pub visits: VisitsLayout,
    /// How its weather is read, where that is described.
    #[cfg(feature = "files")]
    pub weather: Option<crate::readings::Layout>,
    /// How it is run through a year.
    #[cfg(feature = "files")]
    pub year: SiteYear,
    /// What is fed to the water.
    pub chemicals: Vec<SiteChemical>,
    /// Prices.
    pub cost: SiteCost,
    /// Instruments that several numbers share.
    pub instruments: Vec<SiteInstrument>,
    /// Correlation coefficients of numbers, those that instruments make included.
    pub correlations: Vec<(SlotId, SlotId, f64)>,
    /// Numbers whose errors are one: readings of one kind in all cells that nobody stated a `±` for come from
    /// one data sheet.
    pub together: Vec<Vec<SlotId>>,
    /// Groups of numbers with stated correlations, each with the Cholesky factor of its matrix.
    pub correlated: Vec<(Vec<SlotId>, Vec<Vec<f64>>)>,
}

/// What methods are off by: numbers that change no answer, but its `±`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SiteMethod {
    /// Factor of the evaporation by a method without an uncertain factor of its own.
    pub evaporation: Option<SlotId>,
    /// So many times what releases of the database differ by in a saturation index.
    pub saturation_index: Option<SlotId>,
    /// Factor of the conductivity of concentrated water.
    pub conductivity: Option<SlotId>,
}

/// An instrument that several numbers share.
#[derive(Debug, Clone, PartialEq)]
pub struct SiteInstrument {
    /// What it read.
    pub readings: Vec<Reading>,
}

/// A number that an instrument read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The number.
    pub slot: SlotId,
    /// The constant error, which all readings of the instrument share.
    pub calibration: Uncertainty,
    /// Standard deviation of the random error of the mean, SI.
    pub random: f64,
}
