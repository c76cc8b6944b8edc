//! The results that rows show, by name: the keys of the balance sheet's own rows.

use crate::model::{Balance, Inputs, Model, Workspace, YearlyMoney};
use crate::quantity::unit::{self, Unit};
use crate::tower::Exchange;
use crate::water;

const ZERO_CELSIUS: f64 = 273.15;

/// One result.
pub struct Column {
    /// Its name in machine output, with table and unit: `balance.makeup_m3_per_h`.
    pub key: &'static str,
    /// A short name.
    pub name: &'static str,
    /// Its unit in machine output.
    pub unit: &'static Unit,
    /// What it costs to compute.
    pub cost: Cost,
    /// The value in the SI unit of `unit`'s quantity; NaN where it is not known or has no limit.
    value: fn(&Seen<'_>) -> f64,
}

/// What a result needs beyond the balance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cost {
    /// Nothing.
    Balance,
    /// The prices, and the chemistry where chemicals are fed.
    Money,
    /// The transfer number; in crossflow from two fine grids, a thousand times a balance.
    TransferNumber,
}

/// A name that no result has.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("no result \"{name}\"{}", .suggestion.map(|s| format!("; did you mean \"{s}\"?")).unwrap_or_default())]
pub struct UnknownColumn {
    /// As asked.
    pub name: String,
    /// The nearest name.
    pub suggestion: Option<&'static str>,
}

impl Column {
    /// The result of a name, short or long.
    ///
    /// # Errors
    /// [`UnknownColumn`] with the nearest name.
    pub fn named(name: &str) -> Result<&'static Self, UnknownColumn> {
        if let Some(column) = COLUMNS.iter().find(|c| c.name == name || c.key == name) {
            return Ok(column);
        }
        let distance = |known: &'static str| (strsim::damerau_levenshtein(known, name), known);
        let nearest = COLUMNS.iter().flat_map(|c| [distance(c.name), distance(c.key)]).min();
        let near = |(distance, _): &(usize, _)| *distance <= 3.max(name.len() / 3);
        let suggestion = nearest.filter(near).map(|(_, known)| known);
        Err(UnknownColumn { name: name.into(), suggestion })
    }

    /// The value in the SI unit of its quantity; NaN where there is none.
    pub fn si(&self, seen: &Seen<'_>) -> f64 {
        let value = (self.value)(seen);
        if value.is_finite() { value } else { f64::NAN }
    }

    /// Whether the value is money a year.
    pub fn is_money(&self) -> bool {
        self.key.starts_with("money.")
    }
}

impl std::fmt::Debug for Column {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.key)
    }
}

impl PartialEq for Column {
    fn eq(&self, other: &Self) -> bool {
        self.key == other.key
    }
}

/// What a result is read from.
pub struct Seen<'a> {
    model: &'a Model,
    inputs: &'a Inputs,
    balance: &'a Balance,
    water_to_air: Option<f64>,
    exit: Option<Exchange>,
    money: Option<YearlyMoney>,
}

impl<'a> Seen<'a> {
    /// Computes what results up to `cost` need beside the balance that was just evaluated.
    pub fn new(
        model: &'a Model,
        inputs: &'a Inputs,
        balance: &'a Balance,
        work: &mut Workspace,
        cost: Cost,
    ) -> Self {
        Self {
            model,
            inputs,
            balance,
            exit: match cost {
                Cost::TransferNumber => model.exit_with_number(balance, work),
                _ => model.exit(balance, work),
            },
            water_to_air: work.cells().first().and_then(|cell| cell.water_to_air),
            money: if cost == Cost::Balance { None } else { model.yearly_money(inputs, balance) },
        }
    }

    fn flow(&self, kg_per_s: f64) -> f64 {
        Balance::reference_m3_per_h(kg_per_s) / 3_600.0
    }

    fn known_temperature(&self, celsius: f64) -> f64 {
        if self.balance.state.temperatures_are_known { celsius + ZERO_CELSIUS } else { f64::NAN }
    }

    fn air(&self, of: impl Fn(&crate::air::MoistAir) -> f64) -> f64 {
        self.balance.state.entering_air.as_ref().map_or(f64::NAN, of)
    }

    fn exit(&self, of: impl Fn(&Exchange) -> f64) -> f64 {
        self.exit.as_ref().map_or(f64::NAN, of)
    }

    fn money(&self, of: impl Fn(&YearlyMoney) -> f64) -> f64 {
        self.money.as_ref().map_or(f64::NAN, of)
    }

    fn hours(&self) -> f64 {
        let site = self.model.site();
        self.inputs.get(site.hours_per_year) * self.inputs.get(site.load_factor)
    }
}

/// The results of a run that names none.
pub const USUAL: [&str; 7] =
    ["makeup", "evaporation", "drift", "blowdown", "leakage", "overflow", "cycles"];

const fn column(
    key: &'static str,
    name: &'static str,
    unit: &'static Unit,
    value: fn(&Seen<'_>) -> f64,
) -> Column {
    Column { key, name, unit, cost: Cost::Balance, value }
}

const fn money(key: &'static str, name: &'static str, value: fn(&Seen<'_>) -> f64) -> Column {
    Column { key, name, unit: &unit::ONE, cost: Cost::Money, value }
}

/// Every result.
pub static COLUMNS: &[Column] = &[
    column("balance.makeup_m3_per_h", "makeup", &unit::CUBIC_METRE_PER_HOUR, |seen| {
        seen.flow(seen.balance.water.makeup_kg_per_s)
    }),
    column("balance.evaporation_m3_per_h", "evaporation", &unit::CUBIC_METRE_PER_HOUR, |seen| {
        seen.flow(seen.balance.water.evaporation_kg_per_s)
    }),
    column("balance.drift_m3_per_h", "drift", &unit::CUBIC_METRE_PER_HOUR, |seen| {
        seen.flow(seen.balance.water.drift_kg_per_s)
    }),
    column("balance.blowdown_m3_per_h", "blowdown", &unit::CUBIC_METRE_PER_HOUR, |seen| {
        seen.flow(seen.balance.water.blowdown_kg_per_s)
    }),
    column("balance.leakage_m3_per_h", "leakage", &unit::CUBIC_METRE_PER_HOUR, |seen| {
        seen.flow(seen.balance.water.leakage_kg_per_s)
    }),
    column("balance.overflow_m3_per_h", "overflow", &unit::CUBIC_METRE_PER_HOUR, |seen| {
        seen.flow(seen.balance.water.overflow_kg_per_s)
    }),
    column("balance.cycles_of_concentration", "cycles", &unit::ONE, |seen| {
        seen.balance.water.cycles_of_concentration
    }),
    column("balance.makeup_kg_per_s", "makeup_mass", &unit::KILOGRAM_PER_SECOND, |seen| {
        seen.balance.water.makeup_kg_per_s
    }),
    column(
        "balance.makeup_metered_m3_per_h",
        "makeup_metered",
        &unit::CUBIC_METRE_PER_HOUR,
        |seen| {
            let celsius = seen.model.makeup_celsius(seen.inputs);
            seen.balance.water.makeup_kg_per_s / water::density_kg_per_m3(celsius)
        },
    ),
    column(
        "balance.blowdown_metered_m3_per_h",
        "blowdown_metered",
        &unit::CUBIC_METRE_PER_HOUR,
        |seen| {
            let celsius = seen.balance.state.cold_water_celsius;
            seen.balance.water.blowdown_kg_per_s / water::density_kg_per_m3(celsius)
        },
    ),
    column("circuit.circulation_m3_per_h", "circulation", &unit::CUBIC_METRE_PER_HOUR, |seen| {
        let state = &seen.balance.state;
        state.circulation_kg_per_s / water::density_kg_per_m3(state.hot_water_celsius)
    }),
    column("circuit.circulation_kg_per_s", "circulation_mass", &unit::KILOGRAM_PER_SECOND, |seen| {
        seen.balance.state.circulation_kg_per_s
    }),
    column("circuit.hot_water_celsius", "hot_water", &unit::CELSIUS, |seen| {
        seen.known_temperature(seen.balance.state.hot_water_celsius)
    }),
    column("circuit.cold_water_celsius", "cold_water", &unit::CELSIUS, |seen| {
        seen.known_temperature(seen.balance.state.cold_water_celsius)
    }),
    column("circuit.range_kelvin", "range", &unit::KELVIN_DIFFERENCE, |seen| {
        seen.balance.state.range_kelvin.unwrap_or(f64::NAN)
    }),
    column("circuit.heat_load_kw", "heat_load", &unit::KILOWATT, |seen| {
        seen.balance.state.heat_load_watt().unwrap_or(f64::NAN)
    }),
    column(
        "circuit.makeup_conductivity_us_per_cm",
        "makeup_conductivity",
        &unit::MICROSIEMENS_PER_CENTIMETRE,
        |seen| seen.model.makeup_conductivity(seen.inputs),
    ),
    column("air.dry_bulb_celsius", "dry_bulb", &unit::CELSIUS, |seen| {
        seen.air(|air| air.dry_bulb_celsius) + ZERO_CELSIUS
    }),
    column("air.wet_bulb_celsius", "wet_bulb", &unit::CELSIUS, |seen| {
        seen.balance.state.wet_bulb_celsius.unwrap_or(f64::NAN) + ZERO_CELSIUS
    }),
    column("air.dew_point_celsius", "dew_point", &unit::CELSIUS, |seen| {
        seen.air(|air| air.dew_point_celsius().unwrap_or(f64::NAN)) + ZERO_CELSIUS
    }),
    column(
        "air.relative_humidity_percent",
        "relative_humidity",
        &unit::PERCENT_RELATIVE_HUMIDITY,
        |seen| seen.air(|air| air.relative_humidity()),
    ),
    column("air.humidity_ratio", "humidity_ratio", &unit::ONE, |seen| {
        seen.air(|air| air.humidity_ratio)
    }),
    column("air.enthalpy_kj_per_kg", "enthalpy", &unit::KILOJOULE_PER_KILOGRAM, |seen| {
        seen.air(|air| air.enthalpy_j_per_kg())
    }),
    column("air.density_kg_per_m3", "air_density", &unit::KILOGRAM_PER_CUBIC_METRE, |seen| {
        seen.air(|air| air.density_kg_per_m3())
    }),
    column("air.pressure_kpa", "air_pressure", &unit::KILOPASCAL, |seen| {
        seen.air(|air| air.pressure_pascal)
    }),
    column("tower.approach_kelvin", "approach", &unit::KELVIN_DIFFERENCE, |seen| {
        seen.balance.state.approach_kelvin().unwrap_or(f64::NAN)
    }),
    column("tower.effectiveness_percent", "effectiveness", &unit::PERCENT, |seen| {
        let state = &seen.balance.state;
        let both = state.range_kelvin.zip(state.approach_kelvin());
        both.map_or(f64::NAN, |(range, approach)| range / (range + approach))
    }),
    column("tower.rule_factor_per_kelvin", "rule_factor", &unit::ONE, |seen| {
        let state = &seen.balance.state;
        let range = state.range_kelvin.unwrap_or(f64::NAN);
        seen.balance.water.evaporation_kg_per_s / (state.circulation_kg_per_s * range)
    }),
    column("tower.water_to_air", "water_to_air", &unit::ONE, |seen| {
        seen.exit(|_| seen.water_to_air.unwrap_or(f64::NAN))
    }),
    column("tower.dry_air_kg_per_s", "dry_air", &unit::KILOGRAM_PER_SECOND, |seen| {
        let ratio = seen.water_to_air.unwrap_or(f64::NAN);
        seen.exit(|_| seen.balance.state.circulation_kg_per_s / ratio)
    }),
    Column {
        cost: Cost::TransferNumber,
        ..column("tower.merkel_number", "merkel_number", &unit::ONE, |seen| {
            seen.exit(|exit| exit.merkel_number)
        })
    },
    column("tower.exit_air_celsius", "exit_air", &unit::CELSIUS, |seen| {
        seen.exit(|exit| exit.exit_temperature_celsius) + ZERO_CELSIUS
    }),
    column(
        "tower.exit_air_enthalpy_kj_per_kg",
        "exit_enthalpy",
        &unit::KILOJOULE_PER_KILOGRAM,
        |seen| seen.exit(|exit| exit.exit_enthalpy_j_per_kg),
    ),
    column("tower.exit_humidity_ratio", "exit_humidity_ratio", &unit::ONE, |seen| {
        seen.exit(|exit| exit.exit_humidity_ratio)
    }),
    column("tower.exit_mist_ratio", "exit_mist", &unit::ONE, |seen| {
        seen.exit(|exit| exit.exit_mist_ratio)
    }),
    column("period.makeup_m3_per_year", "makeup_a_year", &unit::CUBIC_METRE, |seen| {
        seen.flow(seen.balance.water.makeup_kg_per_s) * 3_600.0 * seen.hours()
    }),
    money("money.total_per_year", "money", |seen| seen.money(|money| money.total())),
    money("money.water_per_year", "money_water", |seen| seen.money(|money| money.water)),
    money("money.sewer_per_year", "money_sewer", |seen| seen.money(|money| money.sewer)),
    money("money.energy_per_year", "money_energy", |seen| seen.money(|money| money.energy)),
    money("money.chemicals_per_year", "money_chemicals", |seen| {
        seen.money(|money| money.chemicals)
    }),
];
