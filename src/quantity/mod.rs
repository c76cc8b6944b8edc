//! Physical quantities: one type each, SI inside, and the one table of units ([`unit::UNITS`])
//! that drives reading, showing and hints.
//!
//! A temperature and a difference of temperatures are two quantities: "5 degC" is 278.15 K as a
//! temperature and 5 K as a difference.

mod read;
#[cfg(feature = "schema")]
mod schema;
mod show;
pub mod unit;

pub use read::{ReadError, SampledConductivity, read_value};
pub(crate) use read::{can_be_measured, find_unit, number_length};
pub use show::{in_both_systems, significant, trimmed, with_decimals};
use unit::Unit;

/// What a number measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Quantity {
    /// A temperature; SI unit K.
    Temperature,
    /// A difference of two temperatures; SI unit K.
    TemperatureDifference,
    /// Absolute pressure; SI unit Pa.
    Pressure,
    /// Length or altitude; SI unit m.
    Length,
    /// Volume of liquid; SI unit m3.
    Volume,
    /// Flow by volume; SI unit m3/s.
    VolumeFlow,
    /// Flow by mass; SI unit kg/s.
    MassFlow,
    /// Heat flow; SI unit W.
    Power,
    /// A fraction of some flow, written with `%` or `ppm`; 0 to 1 inside.
    Fraction,
    /// Relative humidity, written with `%`; 0 to 1 inside.
    RelativeHumidity,
    /// The part of a whole that one of several takes: a number from 0 to 1, or `%`.
    Share,
    /// A plain number: cycles, a ratio of masses, pH.
    Ratio,
    /// Electrical conductivity at 25 degC; SI unit S/m.
    Conductivity,
    /// Hours of operation in a year; h.
    AnnualHours,
    /// Mass of a constituent in a volume of water; SI unit kg/m3.
    MassConcentration,
    /// Moles of a constituent in a volume of water; SI unit mol/m3.
    MolarConcentration,
    /// Equivalents of a constituent in a volume of water; eq/m3.
    EquivalentConcentration,
    /// Money for a volume of water; currency per m3.
    WaterPrice,
    /// Money for a mass of product; currency per kg.
    MassPrice,
    /// A span of time; SI unit s.
    Duration,
    /// An area; SI unit m2.
    Area,
    /// Depth of rain in a time; SI unit m/s.
    Rainfall,
    /// Enthalpy of a mass; SI unit J/kg.
    SpecificEnthalpy,
    /// Mass of a volume; SI unit kg/m3.
    Density,
    /// Cloudiness of a water; NTU.
    Turbidity,
}

/// Which units people see.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum UnitSystem {
    /// m3/h, degC, kPa, kW.
    #[default]
    Si,
    /// gpm, degF, psi, MMBtu/h.
    UsCustomary,
}

impl Quantity {
    /// The name as it stands in a sentence.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Temperature => "a temperature",
            Self::TemperatureDifference => "a temperature difference",
            Self::Pressure => "a pressure",
            Self::Length => "a length",
            Self::Volume => "a volume",
            Self::VolumeFlow => "a volume flow",
            Self::MassFlow => "a mass flow",
            Self::Power => "a heat flow",
            Self::Fraction => "a fraction",
            Self::RelativeHumidity => "a relative humidity",
            Self::Share => "a share",
            Self::Ratio => "a plain number",
            Self::Conductivity => "a conductivity",
            Self::AnnualHours => "a number of hours a year",
            Self::MassConcentration => "a concentration",
            Self::MolarConcentration => "a concentration in moles",
            Self::EquivalentConcentration => "a concentration in equivalents",
            Self::WaterPrice => "a price of water",
            Self::MassPrice => "a price of a product",
            Self::Duration => "a span of time",
            Self::Area => "an area",
            Self::Rainfall => "a rate of rain",
            Self::SpecificEnthalpy => "an enthalpy",
            Self::Density => "a density",
            Self::Turbidity => "a turbidity",
        }
    }

    /// How a value of this quantity is written, for hints: with the quotes it needs.
    pub const fn example(self) -> &'static str {
        match self {
            Self::Temperature => "\"32 degC\" or \"90 degF\"",
            Self::TemperatureDifference => "\"10 K\" or \"18 degF\"",
            Self::Pressure => "\"99.9 kPa\" or \"29.5 inHg\"",
            Self::Length => "\"120 m\" or \"400 ft\"",
            Self::Volume => "\"60 m3\" or \"16000 US gal\"",
            Self::VolumeFlow => "\"900 m3/h\" or \"4000 gpm\"",
            Self::MassFlow => "\"250 kg/s\" or \"2000000 lb/h\"",
            Self::Power => "\"8.4 MW\" or \"28.7 MMBtu/h\"",
            Self::Fraction => "\"0.005 %\"",
            Self::RelativeHumidity => "\"52 %\"",
            Self::Share => "0.5 or \"50 %\"",
            Self::Ratio => "5 or \"5 ± 0.2\"",
            Self::Conductivity => "\"420 uS/cm\"",
            Self::AnnualHours => "8000 or \"8000 h\"",
            Self::MassConcentration => "\"48 mg/L\"",
            Self::MolarConcentration => "\"1.2 mmol/L\"",
            Self::EquivalentConcentration => "\"2.4 meq/L\"",
            Self::WaterPrice => "\"2.4 per m3\" or \"9 per 1000 US gal\"",
            Self::MassPrice => "\"3.2 per kg\" or \"1.5 per lb\"",
            Self::Duration => "\"8 h\" or \"3 d\"",
            Self::Area => "\"60 m2\" or \"650 ft2\"",
            Self::Rainfall => "\"20 mm/h\" or \"0.8 in/h\"",
            Self::SpecificEnthalpy => "\"72 kJ/kg\"",
            Self::Density => "\"1.15 kg/L\"",
            Self::Turbidity => "\"4 NTU\"",
        }
    }

    /// The unit that people see.
    pub const fn shown_in(self, system: UnitSystem) -> &'static Unit {
        let (si, us) = match self {
            Self::Temperature => (&unit::CELSIUS, &unit::FAHRENHEIT),
            Self::TemperatureDifference => (&unit::KELVIN_DIFFERENCE, &unit::FAHRENHEIT_DIFFERENCE),
            Self::Pressure => (&unit::KILOPASCAL, &unit::PSI),
            Self::Length => (&unit::METRE, &unit::FOOT),
            Self::Volume => (&unit::CUBIC_METRE, &unit::US_GALLON),
            Self::VolumeFlow => (&unit::CUBIC_METRE_PER_HOUR, &unit::US_GALLON_PER_MINUTE),
            Self::MassFlow => (&unit::KILOGRAM_PER_SECOND, &unit::POUND_PER_HOUR),
            Self::Power => (&unit::KILOWATT, &unit::MILLION_BTU_PER_HOUR),
            Self::Fraction => (&unit::PERCENT, &unit::PERCENT),
            Self::RelativeHumidity => {
                (&unit::PERCENT_RELATIVE_HUMIDITY, &unit::PERCENT_RELATIVE_HUMIDITY)
            }
            Self::Share => (&unit::PERCENT_SHARE, &unit::PERCENT_SHARE),
            Self::Ratio => (&unit::ONE, &unit::ONE),
            Self::Conductivity => {
                (&unit::MICROSIEMENS_PER_CENTIMETRE, &unit::MICROSIEMENS_PER_CENTIMETRE)
            }
            Self::AnnualHours => (&unit::HOUR_PER_YEAR, &unit::HOUR_PER_YEAR),
            Self::MassConcentration => (&unit::MILLIGRAM_PER_LITRE, &unit::MILLIGRAM_PER_LITRE),
            Self::MolarConcentration => (&unit::MILLIMOLE_PER_LITRE, &unit::MILLIMOLE_PER_LITRE),
            Self::EquivalentConcentration => {
                (&unit::MILLIEQUIVALENT_PER_LITRE, &unit::MILLIEQUIVALENT_PER_LITRE)
            }
            Self::WaterPrice => (&unit::PER_CUBIC_METRE, &unit::PER_THOUSAND_US_GALLONS),
            Self::MassPrice => (&unit::PER_KILOGRAM, &unit::PER_POUND),
            Self::Duration => (&unit::HOUR, &unit::HOUR),
            Self::Area => (&unit::SQUARE_METRE, &unit::SQUARE_FOOT),
            Self::Rainfall => (&unit::MILLIMETRE_PER_HOUR, &unit::MILLIMETRE_PER_HOUR),
            Self::SpecificEnthalpy => (&unit::KILOJOULE_PER_KILOGRAM, &unit::BTU_PER_POUND),
            Self::Density => (&unit::KILOGRAM_PER_CUBIC_METRE, &unit::POUND_PER_CUBIC_FOOT),
            Self::Turbidity => (&unit::NEPHELOMETRIC, &unit::NEPHELOMETRIC),
        };
        match system {
            UnitSystem::Si => si,
            UnitSystem::UsCustomary => us,
        }
    }

    /// The unit of a number that stands without quotes, where the key leaves no doubt.
    const fn bare_unit(self) -> Option<&'static Unit> {
        match self {
            Self::Share => Some(&unit::SHARE),
            Self::Ratio => Some(&unit::ONE),
            Self::AnnualHours => Some(&unit::HOUR_PER_YEAR),
            _ => None,
        }
    }

    /// Whether a value of this quantity is itself written in `%`, so that `± 3 %` has two readings.
    const fn is_written_in_percent(self) -> bool {
        matches!(self, Self::Fraction | Self::RelativeHumidity | Self::Share)
    }
}

/// How sure a stated value is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Uncertainty {
    /// The number behind `±`, in the quantity's SI unit (a temperature's in K).
    pub half_width: f64,
    /// What the half width means.
    pub coverage: Coverage,
}

/// What a `±` means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Coverage {
    /// A limit that is not exceeded: rectangular distribution.
    Limit,
    /// An expanded uncertainty with this coverage factor; `k = 1` is a standard uncertainty.
    Factor(f64),
}

impl Uncertainty {
    /// A limit, in the quantity's SI unit.
    pub const fn limit(half_width: f64) -> Self {
        Self { half_width, coverage: Coverage::Limit }
    }

    /// The standard uncertainty in the quantity's SI unit: a limit a counts as a/√3 (JCGM
    /// 100:2008, 4.3.7), an expanded uncertainty U as U/k (ibid., 6.2.1).
    pub fn standard(self) -> f64 {
        match self.coverage {
            Coverage::Limit => self.half_width / 3f64.sqrt(),
            Coverage::Factor(k) => self.half_width / k,
        }
    }
}

/// A value as somebody stated it, with or without its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stated<Q> {
    /// The value.
    pub value: Q,
    /// Its uncertainty, where stated.
    pub uncertainty: Option<Uncertainty>,
}

impl<Q> Stated<Q> {
    /// A value with an uncertainty.
    pub const fn with(value: Q, uncertainty: Uncertainty) -> Self {
        Self { value, uncertainty: Some(uncertainty) }
    }
}

impl<Q> From<Q> for Stated<Q> {
    fn from(value: Q) -> Self {
        Self { value, uncertainty: None }
    }
}

/// A type that can be read from text with a unit, and laid in a slot.
pub trait Measured: Copy {
    /// The quantities that the text may state.
    const EXPECTED: &'static [Quantity];
    /// From a value in the SI unit of `quantity`, one of [`Self::EXPECTED`].
    fn of_si(quantity: Quantity, si: f64) -> Self;
    /// Which of [`Self::EXPECTED`] this is.
    fn quantity(self) -> Quantity;
    /// The value in the SI unit of [`Self::quantity`].
    fn si(self) -> f64;
}

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident { $($(#[$unit_doc:meta])* $from:ident, $into:ident: $unit:ident;)+ })+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            $($(#[$unit_doc])*
            pub const fn $from(number: f64) -> Self {
                Self(unit::$unit.to_si(number))
            }

            $(#[$unit_doc])*
            pub const fn $into(self) -> f64 {
                unit::$unit.of_si(self.0)
            })+
        }

        impl Measured for $name {
            const EXPECTED: &'static [Quantity] = &[Quantity::$name];
            fn of_si(_: Quantity, si: f64) -> Self {
                Self(si)
            }
            fn quantity(self) -> Quantity {
                Quantity::$name
            }
            fn si(self) -> f64 {
                self.0
            }
        }
    )+};
}

quantities! {
    /// A temperature.
    Temperature {
        /// In degC.
        celsius, in_celsius: CELSIUS;
        /// In degF.
        fahrenheit, in_fahrenheit: FAHRENHEIT;
        /// In K.
        kelvin, in_kelvin: KELVIN;
    }
    /// A difference of two temperatures.
    TemperatureDifference {
        /// In K.
        kelvin, in_kelvin: KELVIN_DIFFERENCE;
        /// In Fahrenheit degrees.
        fahrenheit, in_fahrenheit: FAHRENHEIT_DIFFERENCE;
    }
    /// An absolute pressure.
    Pressure {
        /// In kPa.
        kilopascal, in_kilopascal: KILOPASCAL;
        /// In psi.
        psi, in_psi: PSI;
    }
    /// A length or an altitude.
    Length {
        /// In m.
        metre, in_metre: METRE;
        /// In ft.
        foot, in_foot: FOOT;
    }
    /// A volume of liquid.
    Volume {
        /// In m3.
        cubic_metre, in_cubic_metre: CUBIC_METRE;
        /// In US gallons.
        us_gallon, in_us_gallon: US_GALLON;
    }
    /// A flow by volume.
    VolumeFlow {
        /// In m3/h.
        cubic_metre_per_hour, in_cubic_metre_per_hour: CUBIC_METRE_PER_HOUR;
        /// In US gallons per minute.
        gpm, in_gpm: US_GALLON_PER_MINUTE;
    }
    /// A flow by mass.
    MassFlow {
        /// In kg/s.
        kilogram_per_second, in_kilogram_per_second: KILOGRAM_PER_SECOND;
        /// In lb/h.
        pound_per_hour, in_pound_per_hour: POUND_PER_HOUR;
    }
    /// A heat flow.
    Power {
        /// In kW.
        kilowatt, in_kilowatt: KILOWATT;
        /// In million Btu/h.
        million_btu_per_hour, in_million_btu_per_hour: MILLION_BTU_PER_HOUR;
    }
    /// A fraction of some flow.
    Fraction {
        /// In %.
        percent, in_percent: PERCENT;
    }
    /// A relative humidity.
    RelativeHumidity {
        /// In %.
        percent, in_percent: PERCENT_RELATIVE_HUMIDITY;
    }
    /// The part of a whole that one of several takes.
    Share {
        /// As a number from 0 to 1.
        of_one, in_one: SHARE;
        /// In %.
        percent, in_percent: PERCENT_SHARE;
    }
    /// A plain number: cycles of concentration, a ratio of masses, pH.
    Ratio {
        /// As a number.
        number, in_number: ONE;
    }
    /// Electrical conductivity at 25 degC.
    Conductivity {
        /// In uS/cm.
        microsiemens_per_centimetre, in_microsiemens_per_centimetre: MICROSIEMENS_PER_CENTIMETRE;
    }
    /// Mass of a constituent in a volume of water.
    MassConcentration {
        /// In mg/L.
        milligram_per_litre, in_milligram_per_litre: MILLIGRAM_PER_LITRE;
    }
    /// Moles of a constituent in a volume of water.
    MolarConcentration {
        /// In mmol/L.
        millimole_per_litre, in_millimole_per_litre: MILLIMOLE_PER_LITRE;
    }
    /// Equivalents of a constituent in a volume of water.
    EquivalentConcentration {
        /// In meq/L.
        milliequivalent_per_litre, in_milliequivalent_per_litre: MILLIEQUIVALENT_PER_LITRE;
    }
    /// Hours of operation in a year.
    AnnualHours {
        /// In h.
        hours, in_hours: HOUR_PER_YEAR;
    }
    /// Money for a mass of product, in the currency of the site.
    MassPrice {
        /// For a kg.
        per_kilogram, in_per_kilogram: PER_KILOGRAM;
    }
    /// A span of time.
    Duration {
        /// In h.
        hours, in_hours: HOUR;
    }
    /// An area.
    Area {
        /// In m2.
        square_metre, in_square_metre: SQUARE_METRE;
    }
    /// Depth of rain in a time.
    Rainfall {
        /// In mm/h.
        millimetre_per_hour, in_millimetre_per_hour: MILLIMETRE_PER_HOUR;
    }
    /// Cloudiness of a water.
    Turbidity {
        /// In NTU.
        nephelometric, in_nephelometric: NEPHELOMETRIC;
    }
    /// Mass of a volume.
    Density {
        /// In kg/m3.
        kilogram_per_cubic_metre, in_kilogram_per_cubic_metre: KILOGRAM_PER_CUBIC_METRE;
    }
    /// Money for a volume of water, in the currency of the site.
    WaterPrice {
        /// For a m3.
        per_cubic_metre, in_per_cubic_metre: PER_CUBIC_METRE;
        /// For 1000 US gallons.
        per_thousand_us_gallons, in_per_thousand_us_gallons: PER_THOUSAND_US_GALLONS;
    }
}

macro_rules! flows {
    ($($(#[$doc:meta])* $name:ident)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq)]
        pub enum $name {
            /// Stated by volume.
            Volume(VolumeFlow),
            /// Stated by mass.
            Mass(MassFlow),
        }

        impl Measured for $name {
            const EXPECTED: &'static [Quantity] = &[Quantity::VolumeFlow, Quantity::MassFlow];
            fn of_si(quantity: Quantity, si: f64) -> Self {
                if quantity == Quantity::MassFlow { Self::Mass(MassFlow(si)) } else { Self::Volume(VolumeFlow(si)) }
            }
            fn quantity(self) -> Quantity {
                match self {
                    Self::Volume(_) => Quantity::VolumeFlow,
                    Self::Mass(_) => Quantity::MassFlow,
                }
            }
            fn si(self) -> f64 {
                match self {
                    Self::Volume(flow) => flow.0,
                    Self::Mass(flow) => flow.0,
                }
            }
        }

        impl From<VolumeFlow> for $name {
            fn from(flow: VolumeFlow) -> Self {
                Self::Volume(flow)
            }
        }

        impl From<MassFlow> for $name {
            fn from(flow: MassFlow) -> Self {
                Self::Mass(flow)
            }
        }

        impl From<VolumeFlow> for Stated<$name> {
            fn from(flow: VolumeFlow) -> Self {
                $name::from(flow).into()
            }
        }

        impl From<MassFlow> for Stated<$name> {
            fn from(flow: MassFlow) -> Self {
                $name::from(flow).into()
            }
        }
    )+};
}

flows! {
    /// A flow of water, as the meter or the nameplate states it.
    WaterFlow
    /// A flow of air: dry air by mass, or the moist air by volume as it enters.
    AirFlow
}

/// How much of a constituent a litre holds, by whatever the laboratory counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// By mass; of what, a [`Basis`] says.
    Mass(MassConcentration),
    /// By moles of the constituent itself.
    Moles(MolarConcentration),
    /// By equivalents.
    Equivalents(EquivalentConcentration),
}

impl Measured for Amount {
    const EXPECTED: &'static [Quantity] = &[
        Quantity::MassConcentration,
        Quantity::MolarConcentration,
        Quantity::EquivalentConcentration,
    ];
    fn of_si(quantity: Quantity, si: f64) -> Self {
        match quantity {
            Quantity::MolarConcentration => Self::Moles(MolarConcentration(si)),
            Quantity::EquivalentConcentration => Self::Equivalents(EquivalentConcentration(si)),
            _ => Self::Mass(MassConcentration(si)),
        }
    }
    fn quantity(self) -> Quantity {
        match self {
            Self::Mass(_) => Quantity::MassConcentration,
            Self::Moles(_) => Quantity::MolarConcentration,
            Self::Equivalents(_) => Quantity::EquivalentConcentration,
        }
    }
    fn si(self) -> f64 {
        match self {
            Self::Mass(amount) => amount.0,
            Self::Moles(amount) => amount.0,
            Self::Equivalents(amount) => amount.0,
        }
    }
}

/// What the mass of a constituent is counted as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// As the equivalent calcium carbonate.
    CalciumCarbonate,
    /// Ca.
    Calcium,
    /// CaO.
    CalciumOxide,
    /// Mg.
    Magnesium,
    /// Na.
    Sodium,
    /// K.
    Potassium,
    /// HCO3.
    Bicarbonate,
    /// CO3.
    Carbonate,
    /// Cl.
    Chloride,
    /// NaCl.
    SodiumChloride,
    /// SO4.
    Sulfate,
    /// S.
    Sulfur,
    /// NO3.
    Nitrate,
    /// N.
    Nitrogen,
    /// F.
    Fluoride,
    /// PO4.
    Phosphate,
    /// P.
    Phosphorus,
    /// P2O5.
    PhosphorusPentoxide,
    /// SiO2.
    Silica,
    /// Si.
    Silicon,
    /// Fe.
    Iron,
    /// Mn.
    Manganese,
    /// Zn.
    Zinc,
    /// Al.
    Aluminium,
    /// NH3.
    Ammonia,
    /// NH4.
    Ammonium,
}

impl Basis {
    /// Every basis with its formula and its molar mass, g/mol: atomic masses as in `phreeqc.dat`
    /// (U.S. Geological Survey), so that reference values and ours count the same moles.
    const TABLE: [(Self, &'static str, f64); 26] = [
        (Self::CalciumCarbonate, "CaCO3", 100.09),
        (Self::Calcium, "Ca", 40.08),
        (Self::CalciumOxide, "CaO", 56.08),
        (Self::Magnesium, "Mg", 24.312),
        (Self::Sodium, "Na", 22.9898),
        (Self::Potassium, "K", 39.102),
        (Self::Bicarbonate, "HCO3", 61.0171),
        (Self::Carbonate, "CO3", 60.0111),
        (Self::Chloride, "Cl", 35.453),
        (Self::SodiumChloride, "NaCl", 58.4428),
        (Self::Sulfate, "SO4", 96.064),
        (Self::Sulfur, "S", 32.064),
        (Self::Nitrate, "NO3", 62.0067),
        (Self::Nitrogen, "N", 14.0067),
        (Self::Fluoride, "F", 18.9984),
        (Self::Phosphate, "PO4", 94.9738),
        (Self::Phosphorus, "P", 30.9738),
        (Self::PhosphorusPentoxide, "P2O5", 141.9476),
        (Self::Silica, "SiO2", 60.0843),
        (Self::Silicon, "Si", 28.0843),
        (Self::Iron, "Fe", 55.847),
        (Self::Manganese, "Mn", 54.938),
        (Self::Zinc, "Zn", 65.37),
        (Self::Aluminium, "Al", 26.9815),
        (Self::Ammonia, "NH3", 17.0307),
        (Self::Ammonium, "NH4", 18.0387),
    ];

    fn row(self) -> (&'static str, f64) {
        let row = Self::TABLE.iter().find(|(basis, ..)| *basis == self);
        row.map_or(("", f64::NAN), |(_, formula, mass)| (formula, *mass))
    }

    /// Its formula, as in `mg/L as CaCO3`.
    pub fn formula(self) -> &'static str {
        self.row().0
    }

    /// Its molar mass, g/mol.
    pub fn molar_mass(self) -> f64 {
        self.row().1
    }

    /// The basis of a formula as laboratories write it: in any case, with or without its charge
    /// (`Ca2+`, `SO4--`, `HCO3-`), and an element in its compound (`NO3-N`, `N-NH4`, `PO4-P`).
    pub fn of_formula(formula: &str) -> Option<Self> {
        let plain: String =
            formula.chars().filter(|c| !c.is_whitespace()).map(plain_digit).collect();
        let is_sign = |c: char| matches!(c, '+' | '-');
        let digit = |text: &str| text.ends_with(|c: char| c.is_ascii_digit());
        // "SO4-2" has its digit behind the sign, "Ca2+" before it.
        let behind = plain.len() - usize::from(digit(&plain));
        let charged = if plain[..behind].ends_with(is_sign) { &plain[..behind] } else { &plain };
        let signless = charged.trim_end_matches(is_sign);
        let is_charged = signless.len() < plain.len();
        let before = signless.len() - usize::from(is_charged && digit(signless));
        [signless, &signless[..before]].into_iter().find_map(Self::of_plain_formula).or_else(|| {
            let (one, other) = plain.split_once('-')?;
            Self::element_in(one, other).or_else(|| Self::element_in(other, one))
        })
    }

    fn of_plain_formula(formula: &str) -> Option<Self> {
        let is_it = |known: &str| known.eq_ignore_ascii_case(formula);
        Self::TABLE.iter().find(|(_, known, _)| is_it(known)).map(|(basis, ..)| *basis)
    }

    /// The element that a compound is counted as.
    fn element_in(compound: &str, element: &str) -> Option<Self> {
        let pair = (Self::of_plain_formula(compound)?, Self::of_plain_formula(element)?);
        match pair {
            (Self::Nitrate | Self::Ammonia | Self::Ammonium, Self::Nitrogen)
            | (Self::Phosphate, Self::Phosphorus)
            | (Self::Sulfate, Self::Sulfur)
            | (Self::Silica, Self::Silicon) => Some(pair.1),
            _ => None,
        }
    }
}

/// Digits and signs that stand below or above the line, on it.
fn plain_digit(character: char) -> char {
    const RAISED: &str = "⁰¹²³⁴⁵⁶⁷⁸⁹";
    const LOWERED: &str = "₀₁₂₃₄₅₆₇₈₉";
    let digit =
        [RAISED, LOWERED].into_iter().find_map(|all| all.chars().position(|c| c == character));
    match (digit, character) {
        (Some(digit), _) => char::from(b'0' + digit as u8),
        (None, '⁺') => '+',
        (None, '⁻' | '\u{2212}' | '\u{2013}') => '-',
        (None, other) => other,
    }
}

/// A value as a laboratory reports it: found, or below what its method detects (`<1 mg/L`).
#[derive(Debug, Clone, PartialEq)]
pub struct Reported<Q> {
    /// What was found, or the limit of detection.
    pub stated: Stated<Q>,
    /// Whether it is the limit of detection.
    pub is_below: bool,
    /// As it was written.
    pub written: String,
}

/// A concentration as a laboratory writes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Concentration {
    /// How much.
    pub amount: Stated<Amount>,
    /// Whether that is a limit of detection, below which the constituent stayed.
    pub is_below: bool,
    /// What a mass is counted as; `None` for moles and equivalents.
    pub basis: Option<Basis>,
    /// A formula that is no basis at all.
    pub unknown_basis: Option<String>,
    /// As it was written.
    pub written: String,
}

impl Concentration {
    /// A mass in mg/L with its basis.
    pub fn milligram_per_litre(number: f64, basis: Basis) -> Self {
        let mass = Amount::Mass(MassConcentration::milligram_per_litre(number));
        Self {
            amount: mass.into(),
            is_below: false,
            basis: Some(basis),
            unknown_basis: None,
            written: format!("{number} mg/L as {}", basis.formula()),
        }
    }
}
