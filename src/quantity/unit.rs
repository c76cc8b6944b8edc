//! The one table of units. Reading, showing, hints and documentation are driven by it.

use super::Quantity;

/// A unit of one quantity: `SI value = number * factor + offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// What the unit measures.
    pub quantity: Quantity,
    /// How the unit is printed, and one way to write it.
    pub symbol: &'static str,
    /// Other ways to write it. Spaces and underscores do not count, `°` reads as `deg`, `µ` as
    /// `u`, `³` as `3`, `/hr` and `/hour` as `/h`, `/day` as `/d`, `/sec` as `/s`.
    pub spellings: &'static [&'static str],
    /// SI units in one of these.
    pub factor: f64,
    /// SI value of zero on this scale; only temperatures have one.
    pub offset: f64,
    /// Whether capitals carry meaning: `mS` is not `MS`.
    pub case_matters: bool,
    /// Where the factor comes from.
    pub source: &'static str,
}

impl Unit {
    /// Its sign on pages and in messages: that of a degree in place of `deg`.
    pub const fn sign(&self) -> &'static str {
        match self.symbol.as_bytes() {
            b"degC" => "°C",
            b"degF" => "°F",
            _ => self.symbol,
        }
    }

    /// The SI value of `number` of these units.
    pub const fn to_si(&self, number: f64) -> f64 {
        number * self.factor + self.offset
    }

    /// How many of these units the SI value is.
    pub const fn of_si(&self, si: f64) -> f64 {
        (si - self.offset) / self.factor
    }

    /// The same as it was typed: 60.1 and not 60.099999999999994, which is what the way to SI and back leaves. Rounded
    /// to 15 significant digits, as many as any decimal number keeps through a float.
    pub fn as_typed(&self, si: f64) -> f64 {
        let number = self.of_si(si);
        // What an offset is added to keeps the decimals of the sum only: 12 beside 273.15.
        let most = if self.offset == 0.0 { f64::INFINITY } else { 11.0 };
        let decimals = (14.0 - number.abs().log10().floor()).min(most);
        // Within these powers of ten are exact, and so is the integer; division rounds once.
        if !(0.0..=22.0).contains(&decimals) {
            return number;
        }
        let power = 10_f64.powi(decimals as i32);
        (number * power).round() / power
    }
}

const fn unit(
    quantity: Quantity,
    symbol: &'static str,
    spellings: &'static [&'static str],
    factor: f64,
    source: &'static str,
) -> Unit {
    Unit { quantity, symbol, spellings, factor, offset: 0.0, case_matters: false, source }
}

const SI: &str = "SI";
const NIST: &str = "NIST SP 811 (2008), appendix B";
const EXACT_INCH_POUND: &str = "international yard and pound: 0.3048 m, 0.45359237 kg exactly";
const US_GALLON_SOURCE: &str = "US gallon of 231 cubic inches, 3.785411784 L exactly";
const IMPERIAL_GALLON_SOURCE: &str = "imperial gallon, 4.54609 L exactly";
const RATIO: &str = "definition";
const LITRE_AS_KILOGRAM: &str = "common practice: a litre of water counts as a kilogram";

const US_GALLON_M3: f64 = 3.785_411_784e-3;
const IMPERIAL_GALLON_M3: f64 = 4.546_09e-3;
const POUND_KG: f64 = 0.453_592_37;
const FOOT_M: f64 = 0.3048;
const CUBIC_FOOT_M3: f64 = FOOT_M * FOOT_M * FOOT_M;
const BTU_J: f64 = 1_055.055_852_62;
const HOUR_S: f64 = 3_600.0;
const MINUTE_S: f64 = 60.0;
const DAY_S: f64 = 86_400.0;
/// Fahrenheit degrees as kelvin.
const FAHRENHEIT_K: f64 = 5.0 / 9.0;

use Quantity as Q;

/// Degree Celsius, as a temperature.
pub const CELSIUS: Unit = Unit {
    offset: crate::water::ZERO_CELSIUS,
    ..unit(Q::Temperature, "degC", &["C", "celsius"], 1.0, SI)
};
/// Degree Fahrenheit, as a temperature.
pub const FAHRENHEIT: Unit = Unit {
    offset: 459.67 * FAHRENHEIT_K,
    ..unit(Q::Temperature, "degF", &["F", "fahrenheit"], FAHRENHEIT_K, NIST)
};
/// Kelvin, as a temperature.
pub const KELVIN: Unit = unit(Q::Temperature, "K", &["kelvin"], 1.0, SI);
/// Kelvin, as a difference of temperatures.
pub const KELVIN_DIFFERENCE: Unit =
    unit(Q::TemperatureDifference, "K", &["kelvin", "degC", "C", "deltaK", "deltadegC"], 1.0, SI);
/// Fahrenheit degree, as a difference of temperatures.
pub const FAHRENHEIT_DIFFERENCE: Unit =
    unit(Q::TemperatureDifference, "degF", &["F", "deltadegF"], FAHRENHEIT_K, NIST);
/// Kilopascal.
pub const KILOPASCAL: Unit = unit(Q::Pressure, "kPa", &[], 1e3, SI);
/// Millibar; the case keeps it apart from the megabar.
pub const MILLIBAR: Unit = Unit { case_matters: true, ..unit(Q::Pressure, "mbar", &[], 1e2, SI) };
/// Pound-force per square inch.
pub const PSI: Unit = unit(Q::Pressure, "psi", &["psia", "lbf/in2"], 6_894.757_293_168, NIST);
/// Inch of mercury.
pub const INCH_OF_MERCURY: Unit = unit(Q::Pressure, "inHg", &["in.Hg"], 3_386.389, NIST);
/// Metre.
pub const METRE: Unit = unit(Q::Length, "m", &["metre", "metres", "meter", "meters"], 1.0, SI);
/// Foot.
pub const FOOT: Unit = unit(Q::Length, "ft", &["foot", "feet"], FOOT_M, EXACT_INCH_POUND);
/// Cubic metre.
pub const CUBIC_METRE: Unit = unit(Q::Volume, "m3", &[], 1.0, SI);
/// US gallon.
pub const US_GALLON: Unit =
    unit(Q::Volume, "US gal", &["US gallon", "US gallons"], US_GALLON_M3, US_GALLON_SOURCE);
/// Cubic metre per hour.
pub const CUBIC_METRE_PER_HOUR: Unit =
    unit(Q::VolumeFlow, "m3/h", &["m3h-1", "cbm/h"], 1.0 / HOUR_S, SI);
/// Cubic metre per day.
pub const CUBIC_METRE_PER_DAY: Unit = unit(Q::VolumeFlow, "m3/d", &[], 1.0 / DAY_S, SI);
/// US gallon per minute, the `gpm` of the trade.
pub const US_GALLON_PER_MINUTE: Unit = unit(
    Q::VolumeFlow,
    "gpm",
    &["US gpm", "US gal/min", "US gallons/min", "US gallons per minute"],
    US_GALLON_M3 / MINUTE_S,
    US_GALLON_SOURCE,
);
/// US gallon per day.
pub const US_GALLON_PER_DAY: Unit = unit(
    Q::VolumeFlow,
    "US gal/d",
    &["US gpd", "US gallons/d"],
    US_GALLON_M3 / DAY_S,
    US_GALLON_SOURCE,
);
/// Cubic foot per minute: of air.
pub const CUBIC_FOOT_PER_MINUTE: Unit = unit(
    Q::VolumeFlow,
    "cfm",
    &["ft3/min", "cu ft/min"],
    FOOT_M * FOOT_M * FOOT_M / MINUTE_S,
    EXACT_INCH_POUND,
);
/// Kilogram per second.
pub const KILOGRAM_PER_SECOND: Unit = unit(Q::MassFlow, "kg/s", &[], 1.0, SI);
/// Pound per hour.
pub const POUND_PER_HOUR: Unit =
    unit(Q::MassFlow, "lb/h", &["lbm/h", "lbs/h"], POUND_KG / HOUR_S, EXACT_INCH_POUND);
/// Kilogram per day.
pub const KILOGRAM_PER_DAY: Unit = unit(Q::MassFlow, "kg/d", &[], 1.0 / DAY_S, SI);
/// Pound per day.
pub const POUND_PER_DAY: Unit =
    unit(Q::MassFlow, "lb/d", &["lbm/d", "lbs/d"], POUND_KG / DAY_S, EXACT_INCH_POUND);
/// Kilowatt.
pub const KILOWATT: Unit = unit(Q::Power, "kW", &["kWth"], 1e3, SI);
/// Megawatt.
pub const MEGAWATT: Unit = Unit { case_matters: true, ..unit(Q::Power, "MW", &["MWth"], 1e6, SI) };
/// Million Btu per hour.
pub const MILLION_BTU_PER_HOUR: Unit =
    unit(Q::Power, "MMBtu/h", &["million Btu/h"], 1e6 * BTU_J / HOUR_S, NIST);
/// Per cent, as a share of something.
pub const PERCENT: Unit = unit(Q::Fraction, "%", &["percent", "per cent", "pct"], 1e-2, RATIO);
/// Per cent of relative humidity.
pub const PERCENT_RELATIVE_HUMIDITY: Unit =
    unit(Q::RelativeHumidity, "%", &["% RH", "percent", "per cent"], 1e-2, RATIO);
/// A part of one, in machine output.
pub const PART: Unit = unit(Q::Fraction, "", &[], 1.0, RATIO);
/// Relative humidity as a part of one, in machine output.
pub const PART_RELATIVE_HUMIDITY: Unit = unit(Q::RelativeHumidity, "", &[], 1.0, RATIO);
/// Per cent of a whole that is divided among parts.
pub const PERCENT_SHARE: Unit = unit(Q::Share, "%", &["percent", "per cent"], 1e-2, RATIO);
/// A share as a plain number.
pub const SHARE: Unit = unit(Q::Share, "", &[], 1.0, RATIO);
/// A plain number.
pub const ONE: Unit = unit(Q::Ratio, "", &[], 1.0, RATIO);
/// Microsiemens per centimetre, at 25 degC.
pub const MICROSIEMENS_PER_CENTIMETRE: Unit =
    unit(Q::Conductivity, "uS/cm", &["umho/cm", "umhos/cm", "micromho/cm"], 1e-4, SI);
/// Hour in a year of operation.
pub const HOUR_PER_YEAR: Unit =
    unit(Q::AnnualHours, "h", &["hours", "h/a", "h/y", "h/year"], 1.0, RATIO);
/// Milligram per litre.
pub const MILLIGRAM_PER_LITRE: Unit = unit(Q::MassConcentration, "mg/L", &[], 1e-3, SI);
/// Millimole per litre.
pub const MILLIMOLE_PER_LITRE: Unit =
    unit(Q::MolarConcentration, "mmol/L", &["mM", "mol/m3"], 1.0, SI);
/// Milliequivalent per litre.
pub const MILLIEQUIVALENT_PER_LITRE: Unit =
    unit(Q::EquivalentConcentration, "meq/L", &["mval/L", "epm", "eq/m3"], 1.0, SI);
/// Nephelometric turbidity unit; formazin's FNU and FTU count alike (common practice).
pub const NEPHELOMETRIC: Unit =
    unit(Q::Turbidity, "NTU", &["FNU", "FTU", "FAU"], 1.0, "common practice");
/// Square metre.
pub const SQUARE_METRE: Unit = unit(Q::Area, "m2", &["sq m"], 1.0, SI);
/// Square foot.
pub const SQUARE_FOOT: Unit = unit(Q::Area, "ft2", &["sq ft"], FOOT_M * FOOT_M, EXACT_INCH_POUND);
/// Millimetre of rain an hour.
pub const MILLIMETRE_PER_HOUR: Unit = unit(Q::Rainfall, "mm/h", &[], 1e-3 / HOUR_S, SI);
/// Hour, as a span of time.
pub const HOUR: Unit = unit(Q::Duration, "h", &["hour", "hours", "hr"], HOUR_S, SI);
/// Currency per kilogram.
pub const PER_KILOGRAM: Unit = unit(Q::MassPrice, "per kg", &["/kg"], 1.0, SI);
/// Currency per pound.
pub const PER_POUND: Unit =
    unit(Q::MassPrice, "per lb", &["/lb"], 1.0 / POUND_KG, EXACT_INCH_POUND);
/// Currency per cubic metre.
pub const PER_CUBIC_METRE: Unit = unit(Q::WaterPrice, "per m3", &["/m3"], 1.0, SI);
/// Currency per thousand US gallons.
pub const PER_THOUSAND_US_GALLONS: Unit = unit(
    Q::WaterPrice,
    "per 1000 US gal",
    &["/1000 US gal", "per US kgal", "/US kgal"],
    1.0 / (1e3 * US_GALLON_M3),
    US_GALLON_SOURCE,
);

/// Kilojoule per kilogram.
pub const KILOJOULE_PER_KILOGRAM: Unit = unit(Q::SpecificEnthalpy, "kJ/kg", &[], 1e3, SI);
/// Btu per pound.
pub const BTU_PER_POUND: Unit = unit(Q::SpecificEnthalpy, "Btu/lb", &[], BTU_J / POUND_KG, NIST);
/// Kilogram per cubic metre, as a density.
pub const KILOGRAM_PER_CUBIC_METRE: Unit = unit(Q::Density, "kg/m3", &[], 1.0, SI);
/// Pound per cubic foot.
pub const POUND_PER_CUBIC_FOOT: Unit =
    unit(Q::Density, "lb/ft3", &[], POUND_KG / (FOOT_M * FOOT_M * FOOT_M), EXACT_INCH_POUND);

/// Every unit that can be written.
pub const UNITS: &[Unit] = &[
    CELSIUS,
    FAHRENHEIT,
    KELVIN,
    KELVIN_DIFFERENCE,
    FAHRENHEIT_DIFFERENCE,
    KILOPASCAL,
    unit(Q::Pressure, "Pa", &[], 1.0, SI),
    unit(Q::Pressure, "hPa", &[], 1e2, SI),
    MILLIBAR,
    unit(Q::Pressure, "bar", &["bara"], 1e5, SI),
    unit(Q::Pressure, "atm", &[], 101_325.0, NIST),
    PSI,
    INCH_OF_MERCURY,
    unit(Q::Pressure, "mmHg", &["torr"], 133.322_387_415, NIST),
    METRE,
    unit(Q::Length, "km", &[], 1e3, SI),
    FOOT,
    CUBIC_METRE,
    unit(Q::Volume, "L", &["litre", "litres", "liter", "liters"], 1e-3, SI),
    US_GALLON,
    unit(
        Q::Volume,
        "imp gal",
        &["UK gal", "imperial gallons", "imperial gallon"],
        IMPERIAL_GALLON_M3,
        IMPERIAL_GALLON_SOURCE,
    ),
    unit(
        Q::Volume,
        "ft3",
        &["cubic feet", "cubic foot", "cu ft", "cu.ft.", "cf", "cft"],
        CUBIC_FOOT_M3,
        EXACT_INCH_POUND,
    ),
    unit(
        Q::Volume,
        "ccf",
        &["hcf", "100 ft3", "100 cu ft", "100 cf", "hundred cubic feet"],
        100.0 * CUBIC_FOOT_M3,
        EXACT_INCH_POUND,
    ),
    unit(
        Q::Volume,
        "1000 ft3",
        &["kcf", "1000 cf", "1000 cu ft"],
        1e3 * CUBIC_FOOT_M3,
        EXACT_INCH_POUND,
    ),
    unit(Q::Volume, "kL", &["kilolitre", "kilolitres", "kiloliter", "kiloliters"], 1.0, SI),
    // In capitals, a thousand cubic metres; in small letters it is a millilitre.
    Unit {
        case_matters: true,
        ..unit(Q::Volume, "ML", &["megalitre", "megalitres", "megaliter", "megaliters"], 1e3, SI)
    },
    unit(
        Q::Volume,
        "US kgal",
        &["1000 US gal", "thousand US gal", "thousand US gallons"],
        1e3 * US_GALLON_M3,
        US_GALLON_SOURCE,
    ),
    unit(
        Q::Volume,
        "imp kgal",
        &["UK kgal", "1000 imp gal", "thousand imp gal", "thousand imperial gallons"],
        1e3 * IMPERIAL_GALLON_M3,
        IMPERIAL_GALLON_SOURCE,
    ),
    unit(
        Q::Volume,
        "million US gal",
        &["million US gallons", "1000000 US gal"],
        1e6 * US_GALLON_M3,
        US_GALLON_SOURCE,
    ),
    unit(
        Q::Volume,
        "million imp gal",
        &["million imperial gallons", "million UK gal"],
        1e6 * IMPERIAL_GALLON_M3,
        IMPERIAL_GALLON_SOURCE,
    ),
    CUBIC_METRE_PER_HOUR,
    CUBIC_METRE_PER_DAY,
    unit(Q::VolumeFlow, "m3/s", &["cumec"], 1.0, SI),
    unit(Q::VolumeFlow, "m3/min", &[], 1.0 / MINUTE_S, SI),
    unit(Q::VolumeFlow, "L/s", &["lps", "litres/s"], 1e-3, SI),
    unit(Q::VolumeFlow, "L/min", &["lpm", "litres/min"], 1e-3 / MINUTE_S, SI),
    unit(Q::VolumeFlow, "L/h", &["litres/h"], 1e-3 / HOUR_S, SI),
    unit(Q::VolumeFlow, "L/d", &["litres/d"], 1e-3 / DAY_S, SI),
    unit(Q::VolumeFlow, "kL/h", &["kilolitres/h"], 1.0 / HOUR_S, SI),
    unit(Q::VolumeFlow, "kL/d", &["kilolitres/d", "kld"], 1.0 / DAY_S, SI),
    Unit { case_matters: true, ..unit(Q::VolumeFlow, "ML/d", &["MLD"], 1e3 / DAY_S, SI) },
    unit(
        Q::VolumeFlow,
        "ccf/d",
        &["hcf/d", "100 ft3/d"],
        100.0 * CUBIC_FOOT_M3 / DAY_S,
        EXACT_INCH_POUND,
    ),
    unit(
        Q::VolumeFlow,
        "US kgal/d",
        &["1000 US gal/d"],
        1e3 * US_GALLON_M3 / DAY_S,
        US_GALLON_SOURCE,
    ),
    unit(
        Q::VolumeFlow,
        "imp kgal/d",
        &["1000 imp gal/d"],
        1e3 * IMPERIAL_GALLON_M3 / DAY_S,
        IMPERIAL_GALLON_SOURCE,
    ),
    unit(
        Q::VolumeFlow,
        "million US gal/d",
        &["US MGD"],
        1e6 * US_GALLON_M3 / DAY_S,
        US_GALLON_SOURCE,
    ),
    unit(
        Q::VolumeFlow,
        "million imp gal/d",
        &["imp MGD"],
        1e6 * IMPERIAL_GALLON_M3 / DAY_S,
        IMPERIAL_GALLON_SOURCE,
    ),
    US_GALLON_PER_MINUTE,
    unit(Q::VolumeFlow, "US gal/h", &["US gph"], US_GALLON_M3 / HOUR_S, US_GALLON_SOURCE),
    US_GALLON_PER_DAY,
    unit(
        Q::VolumeFlow,
        "imp gpm",
        &["igpm", "imp gal/min", "UK gal/min", "UK gpm"],
        IMPERIAL_GALLON_M3 / MINUTE_S,
        IMPERIAL_GALLON_SOURCE,
    ),
    unit(
        Q::VolumeFlow,
        "imp gal/h",
        &["UK gal/h"],
        IMPERIAL_GALLON_M3 / HOUR_S,
        IMPERIAL_GALLON_SOURCE,
    ),
    unit(
        Q::VolumeFlow,
        "imp gal/d",
        &["UK gal/d"],
        IMPERIAL_GALLON_M3 / DAY_S,
        IMPERIAL_GALLON_SOURCE,
    ),
    CUBIC_FOOT_PER_MINUTE,
    unit(Q::VolumeFlow, "ft3/h", &[], FOOT_M * FOOT_M * FOOT_M / HOUR_S, EXACT_INCH_POUND),
    KILOGRAM_PER_SECOND,
    unit(Q::MassFlow, "kg/min", &[], 1.0 / MINUTE_S, SI),
    unit(Q::MassFlow, "kg/h", &[], 1.0 / HOUR_S, SI),
    KILOGRAM_PER_DAY,
    POUND_PER_DAY,
    unit(Q::MassFlow, "t/h", &["tonne/h", "tonnes/h"], 1e3 / HOUR_S, SI),
    unit(Q::MassFlow, "t/d", &["tonne/d", "tonnes/d"], 1e3 / DAY_S, SI),
    POUND_PER_HOUR,
    unit(Q::MassFlow, "lb/min", &["lbm/min", "lbs/min"], POUND_KG / MINUTE_S, EXACT_INCH_POUND),
    unit(Q::MassFlow, "lb/s", &["lbm/s"], POUND_KG, EXACT_INCH_POUND),
    KILOWATT,
    unit(Q::Power, "W", &[], 1.0, SI),
    MEGAWATT,
    unit(Q::Power, "GW", &[], 1e9, SI),
    unit(Q::Power, "Btu/h", &["Btuh"], BTU_J / HOUR_S, NIST),
    MILLION_BTU_PER_HOUR,
    unit(Q::Power, "kcal/h", &[], 4_186.8 / HOUR_S, NIST),
    unit(
        Q::Power,
        "ton_refrigeration",
        &["tons refrigeration", "ton of refrigeration", "refrigeration tons"],
        12_000.0 * BTU_J / HOUR_S,
        "12,000 Btu/h by definition",
    ),
    unit(
        Q::Power,
        "ton_tower",
        &["tons tower", "tower ton", "tower tons"],
        15_000.0 * BTU_J / HOUR_S,
        "15,000 Btu/h, common practice: a refrigeration ton with the compressor's heat",
    ),
    PERCENT,
    unit(Q::Fraction, "ppm", &[], 1e-6, RATIO),
    PERCENT_RELATIVE_HUMIDITY,
    PERCENT_SHARE,
    SHARE,
    ONE,
    MICROSIEMENS_PER_CENTIMETRE,
    Unit { case_matters: true, ..unit(Q::Conductivity, "mS/cm", &["mmho/cm"], 1e-1, SI) },
    Unit { case_matters: true, ..unit(Q::Conductivity, "mS/m", &[], 1e-3, SI) },
    unit(Q::Conductivity, "S/m", &[], 1.0, SI),
    unit(Q::Conductivity, "dS/m", &[], 1e-1, SI),
    HOUR_PER_YEAR,
    MILLIGRAM_PER_LITRE,
    unit(Q::MassConcentration, "g/m3", &[], 1e-3, SI),
    unit(Q::MassConcentration, "ppm", &["mg/kg"], 1e-3, LITRE_AS_KILOGRAM),
    unit(Q::MassConcentration, "g/L", &["kg/m3"], 1.0, SI),
    unit(
        Q::MassConcentration,
        "gr/US gal",
        &["gpg", "grain/US gal", "grains/US gal"],
        POUND_KG / 7_000.0 / US_GALLON_M3,
        "grain of 1/7000 pound, US gallon of 231 cubic inches, exactly",
    ),
    unit(Q::MassConcentration, "ug/L", &["ppb"], 1e-6, SI),
    MILLIMOLE_PER_LITRE,
    unit(Q::MolarConcentration, "umol/L", &[], 1e-3, SI),
    MILLIEQUIVALENT_PER_LITRE,
    unit(Q::EquivalentConcentration, "ueq/L", &[], 1e-3, SI),
    unit(
        Q::EquivalentConcentration,
        "degdH",
        &["dH", "German degrees", "German degree", "degKH", "dKH"],
        2.0 * 10.0 / 56.08,
        "German degree of hardness: 10 mg/L as CaO",
    ),
    // A French degree is written with a small f: a capital one is Fahrenheit's.
    Unit {
        case_matters: true,
        ..unit(
            Q::EquivalentConcentration,
            "degfH",
            &["fH", "degf", "French degrees", "French degree", "french degrees", "degTH", "TAC"],
            2.0 * 10.0 / 100.09,
            "French degree of hardness: 10 mg/L as CaCO3",
        )
    },
    unit(
        Q::EquivalentConcentration,
        "degClark",
        &["Clark", "dege", "degeH", "English degrees", "English degree", "Clark degrees"],
        2.0 * POUND_KG / 7_000.0 / IMPERIAL_GALLON_M3 / 100.09e-3,
        "English (Clark) degree of hardness: 1 grain as CaCO3 in an imperial gallon",
    ),
    NEPHELOMETRIC,
    KILOJOULE_PER_KILOGRAM,
    BTU_PER_POUND,
    KILOGRAM_PER_CUBIC_METRE,
    unit(Q::Density, "kg/L", &["g/mL", "g/cm3"], 1e3, SI),
    unit(Q::Density, "lb/US gal", &[], POUND_KG / US_GALLON_M3, EXACT_INCH_POUND),
    HOUR,
    SQUARE_METRE,
    SQUARE_FOOT,
    MILLIMETRE_PER_HOUR,
    unit(Q::Rainfall, "in/h", &["inch/h"], FOOT_M / 12.0 / HOUR_S, EXACT_INCH_POUND),
    unit(Q::Length, "mm", &["millimetre", "millimeter"], 1e-3, SI),
    unit(Q::Length, "cm", &["centimetre", "centimeter"], 1e-2, SI),
    unit(Q::Length, "in", &["inch", "inches"], FOOT_M / 12.0, EXACT_INCH_POUND),
    unit(Q::Duration, "min", &["minute", "minutes"], MINUTE_S, SI),
    unit(Q::Duration, "s", &["second", "seconds"], 1.0, SI),
    unit(Q::Duration, "d", &["day", "days"], DAY_S, SI),
    unit(Q::Duration, "week", &["weeks"], 7.0 * DAY_S, SI),
    unit(
        Q::MassConcentration,
        "lb/1000 US gal",
        &[],
        POUND_KG / US_GALLON_M3 / 1e3,
        EXACT_INCH_POUND,
    ),
    unit(Q::WaterPrice, "per US gal", &["/US gal"], 1.0 / US_GALLON_M3, US_GALLON_SOURCE),
    PER_KILOGRAM,
    PER_POUND,
    POUND_PER_CUBIC_FOOT,
    PER_CUBIC_METRE,
    unit(Q::WaterPrice, "per L", &["/L"], 1e3, SI),
    PER_THOUSAND_US_GALLONS,
    unit(
        Q::WaterPrice,
        "per 1000 imp gal",
        &["/1000 imp gal"],
        1.0 / (1e3 * IMPERIAL_GALLON_M3),
        IMPERIAL_GALLON_SOURCE,
    ),
    unit(
        Q::WaterPrice,
        "per 100 ft3",
        &["/100 ft3", "per ccf", "/ccf"],
        1.0 / (100.0 * FOOT_M * FOOT_M * FOOT_M),
        EXACT_INCH_POUND,
    ),
];

/// A spelling that the trade uses for more than one unit, and what to write instead.
pub(crate) struct Ambiguous {
    /// As written.
    pub spellings: &'static [&'static str],
    /// What is wrong with it.
    pub why: &'static str,
    /// What to write.
    pub instead: &'static str,
}

/// What is refused until the text says which unit is meant.
pub(crate) const AMBIGUOUS: &[Ambiguous] = &[
    Ambiguous {
        spellings: &["ton", "tons", "TR", "RT"],
        why: "\"ton\" has two meanings in the trade",
        instead: "write \"ton_refrigeration\" (12,000 Btu/h) or \"ton_tower\" (15,000 Btu/h)",
    },
    Ambiguous {
        spellings: &["ton/h", "tons/h", "ton/d", "tons/d"],
        why: "\"ton\" can be metric, long or short",
        instead: "write \"t/h\" for metric tonnes, or use \"lb/h\"",
    },
    Ambiguous {
        spellings: &[
            "gal",
            "gallon",
            "gallons",
            "gal/min",
            "gal/h",
            "gph",
            "gal/d",
            "gpd",
            "gallons/d",
            "gallons/h",
            "gallons/min",
            "per kgal",
            "/kgal",
            "per 1000 gal",
            "/1000 gal",
        ],
        why: "\"gallon\" has two meanings",
        instead: "write \"US gal\" (3.785 L) or \"imp gal\" (4.546 L) in place of \"gal\"; \"gpm\" alone is read as US gallons per minute",
    },
    Ambiguous {
        spellings: &["kgal", "1000 gal", "kgal/d", "1000 gal/d", "k gal", "thousand gallons"],
        why: "a thousand gallons are 3.785 or 4.546 m3",
        instead: "write \"US kgal\" (3.785 m3) or \"imp kgal\" (4.546 m3) in place of \"kgal\"",
    },
    Ambiguous {
        spellings: &[
            "Mgal",
            "MG",
            "M gallons",
            "million gal",
            "million gallons",
            "mil gal",
            "MMgal",
        ],
        why: "M stands for a thousand or for a million, and \"gallon\" has two meanings",
        instead: "write \"US kgal\" (a thousand, 3.785 m3) or \"million US gal\" (3785 m3); \"imp kgal\" or \"million imp gal\" where they are imperial",
    },
    Ambiguous {
        spellings: &["MGD", "Mgal/d", "MG/d", "million gal/d", "million gallons/d"],
        why: "M stands for a thousand or for a million, and \"gallon\" has two meanings",
        instead: "write \"US kgal/d\" (3.785 m3/d) or \"million US gal/d\" (3785 m3/d); \"imp kgal/d\" or \"million imp gal/d\" where they are imperial",
    },
    Ambiguous {
        spellings: &["Mcf", "MCF"],
        why: "M stands for a thousand or for a million",
        instead: "write \"1000 ft3\" where it is a thousand cubic feet; for a million, \"1000 ft3\" with multiplier = 1000",
    },
];

/// Spelling with all that does not matter taken out; capitals are kept.
pub(super) fn normalised(spelling: &str) -> String {
    let mut text = String::with_capacity(spelling.len());
    for character in spelling.trim().chars() {
        match character {
            ' ' | '_' | '\u{a0}' | '\t' => {}
            '³' => text.push('3'),
            '²' => text.push('2'),
            '°' | 'º' => text.push_str("deg"),
            'µ' | 'μ' => text.push('u'),
            'Δ' => text.push_str("delta"),
            '^' => {}
            other => text.push(other),
        }
    }
    for (long, short) in [
        ("/hour", "/h"),
        ("/hr", "/h"),
        ("/day", "/d"),
        ("/sec", "/s"),
        ("perhour", "/h"),
        ("perday", "/d"),
    ] {
        if let Some(start) = text.find(long) {
            text.replace_range(start..start + long.len(), short);
        }
    }
    text
}

/// Whether a spelling of the table, spaces and underscores aside, is what was written (already
/// [`normalised`]). Compares without allocating: every value of every file passes here.
fn same(spelling: &str, written: &str, any_case: bool) -> bool {
    let mut written = written.bytes();
    let equal = |a: u8, b: u8| a == b || (any_case && a.eq_ignore_ascii_case(&b));
    spelling
        .bytes()
        .filter(|byte| !matches!(byte, b' ' | b'_'))
        .all(|byte| written.next().is_some_and(|other| equal(byte, other)))
        && written.next().is_none()
}

impl Unit {
    fn is_written(&self, written: &str, any_case: bool) -> bool {
        std::iter::once(&self.symbol)
            .chain(self.spellings)
            .any(|spelling| same(spelling, written, any_case && !self.case_matters))
    }
}

/// The unit of `quantity` that a spelling stands for. Capitals are forgiven where they carry no
/// meaning and nothing matches to the letter.
pub(super) fn written_as(spelling: &str, quantity: Quantity) -> Option<&'static Unit> {
    let written = normalised(spelling);
    let find = |any_case| {
        UNITS.iter().find(|unit| unit.quantity == quantity && unit.is_written(&written, any_case))
    };
    find(false).or_else(|| find(true))
}

/// The unit of `quantity` that a spelling stands for, else that of another quantity.
#[cfg(feature = "files")]
pub(crate) fn any_written_as(spelling: &str, quantity: Quantity) -> Option<&'static Unit> {
    written_as(spelling, quantity)
        .or_else(|| UNITS.iter().find_map(|unit| written_as(spelling, unit.quantity)))
}

/// The entry for a spelling that can mean several units.
pub(super) fn ambiguous(spelling: &str) -> Option<&'static Ambiguous> {
    let written = normalised(spelling);
    AMBIGUOUS
        .iter()
        .find(|entry| entry.spellings.iter().any(|spelling| same(spelling, &written, true)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_spelling_stands_for_two_units_of_one_quantity() {
        for unit in UNITS {
            for spelling in std::iter::once(&unit.symbol).chain(unit.spellings) {
                assert_eq!(written_as(spelling, unit.quantity), Some(unit), "{spelling}");
            }
        }
    }

    #[test]
    fn every_unit_converts_there_and_back() {
        for unit in UNITS {
            for number in [-40.0, 0.0, 1.0, 12.5, 4000.0] {
                approx::assert_relative_eq!(
                    unit.of_si(unit.to_si(number)),
                    number,
                    max_relative = 1e-12,
                    epsilon = 1e-9
                );
            }
        }
    }

    #[test]
    fn factors_agree_with_relations_between_units() {
        // NIST SP 811 (2008), appendix B.8, rounded as printed there.
        for (symbol, quantity, printed) in [
            ("gpm", Q::VolumeFlow, 6.309_020e-5),
            ("cfm", Q::VolumeFlow, 4.719_474e-4),
            ("Btu/h", Q::Power, 2.930_711e-1),
            ("lb/h", Q::MassFlow, 1.259_979e-4),
            ("gr/US gal", Q::MassConcentration, 1.711_806e-2),
            ("psi", Q::Pressure, 6.894_757e3),
            ("ton_refrigeration", Q::Power, 3.516_853e3),
            ("cf", Q::Volume, 2.831_685e-2),
            ("hcf", Q::Volume, 2.831_685),
            ("US kgal", Q::Volume, 3.785_412),
            ("imp kgal", Q::Volume, 4.546_09),
            ("kL", Q::Volume, 1.0),
        ] {
            let unit = written_as(symbol, quantity).unwrap();
            approx::assert_relative_eq!(unit.factor, printed, max_relative = 3e-7);
        }
    }

    #[test]
    fn degrees_of_hardness_are_those_of_their_standards() {
        // 1 German degree is 0.1783 mmol/L of alkaline earths, a French 0.1, an English 0.142 (tables of DIN 38409-6,
        // from memory).
        for (symbol, millimole_per_litre, rounding) in
            [("°dH", 0.1783, 5e-5), ("°fH", 0.1, 5e-4), ("°Clark", 0.142, 5e-4)]
        {
            let unit = written_as(symbol, Q::EquivalentConcentration).unwrap();
            approx::assert_abs_diff_eq!(0.5 * unit.factor, millimole_per_litre, epsilon = rounding);
        }
        assert_eq!(written_as("°F", Q::EquivalentConcentration), None);
    }

    #[test]
    fn a_number_comes_back_as_it_was_typed() {
        for unit in UNITS {
            for typed in [15.6839, 60.1, 86.0, 0.003, 1.0, -12.3, 0.0] {
                assert_eq!(unit.as_typed(unit.to_si(typed)), typed, "{typed} {}", unit.symbol);
            }
        }
        assert!(UNITS[0].as_typed(f64::NAN).is_nan());
    }

    #[test]
    fn capitals_count_where_they_carry_meaning() {
        assert_eq!(written_as("MS/cm", Q::Conductivity), None);
        assert_eq!(written_as("mW", Q::Power), None);
        assert_eq!(written_as("GPM", Q::VolumeFlow).unwrap().symbol, "gpm");
        assert_eq!(written_as("KPA", Q::Pressure).unwrap().symbol, "kPa");
    }
}
