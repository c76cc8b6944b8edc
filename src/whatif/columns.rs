//! The results that a row may carry.

use crate::model::{Balance, Infeasible, Inputs, Model, Workspace};
use crate::quantity::unit::{self, Unit};
use crate::tower::Exchange;

/// A result by name.
pub struct Column {
    /// What people call it, in one word.
    pub name: &'static str,
    /// Its name in machine output, with the unit.
    pub key: &'static str,
    /// The unit; `None` for money.
    pub unit: Option<&'static Unit>,
    /// What it is.
    pub what: &'static str,
    value: fn(&mut Row<'_>) -> f64,
}

impl std::fmt::Debug for Column {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str(self.key)
    }
}

/// The column that needs a prediction.
#[cfg(feature = "files")]
const PREDICTED: &str = "cold_water";

/// What the tower does away from its design point, where a column needs it and the site allows it.
#[cfg(feature = "files")]
fn prediction<'a>(
    model: &'a Model,
    columns: &[&'static Column],
) -> Option<crate::model::YearPlan<'a>> {
    let is_needed = columns.iter().any(|column| column.name == PREDICTED);
    is_needed.then(|| model.year_plan(model.base()).ok()).flatten()
}

/// An evaluated row.
pub(super) struct Row<'a> {
    pub model: &'a Model,
    pub inputs: &'a Inputs,
    pub balance: &'a Balance,
    pub work: &'a mut Workspace,
    /// What the tower does away from its design point; only for columns that need it.
    #[cfg(feature = "files")]
    pub prediction: Option<&'a crate::model::YearPlan<'a>>,
}

/// Evaluates rows, one after the other.
#[derive(Debug, Clone)]
pub(super) struct Evaluator<'a> {
    model: &'a Model,
    /// What the next row is given, SI.
    pub inputs: Inputs,
    work: Workspace,
    #[cfg(feature = "files")]
    prediction: Option<crate::model::YearPlan<'a>>,
}

impl<'a> Evaluator<'a> {
    /// For columns that will be read; the inputs are those of the site.
    pub fn new(model: &'a Model, columns: &[&'static Column]) -> Self {
        // Only a prediction asks which; it needs weather, and that is read from files.
        #[cfg(not(feature = "files"))]
        let _ = columns;
        Self {
            model,
            inputs: model.base().clone(),
            work: Workspace::new(model),
            #[cfg(feature = "files")]
            prediction: prediction(model, columns),
        }
    }

    /// What `read` makes of the row that the inputs give.
    pub fn row<T>(&mut self, read: impl FnOnce(&mut Row<'_>) -> T) -> Result<T, Infeasible> {
        let balance = self.model.evaluate(&self.inputs, &mut self.work)?;
        Ok(read(&mut Row {
            model: self.model,
            inputs: &self.inputs,
            balance: &balance,
            work: &mut self.work,
            #[cfg(feature = "files")]
            prediction: self.prediction.as_ref(),
        }))
    }
}

impl Column {
    /// In the unit of the column; NaN where there is none.
    pub(super) fn of(&self, row: &mut Row<'_>) -> f64 {
        (self.value)(row)
    }

    /// Whether it is worth showing where nobody asked for columns.
    pub fn is_usual(&self) -> bool {
        const USUAL: [&str; 5] = ["makeup", "evaporation", "drift", "blowdown", "cycles"];
        USUAL.contains(&self.name)
    }
}

/// No such result.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("no result \"{name}\"; did you mean \"{nearest}\"?")]
pub struct UnknownColumn {
    /// As asked.
    pub name: String,
    /// The nearest one.
    pub nearest: &'static str,
}

/// The result of a name, with or without its unit.
///
/// # Errors
/// [`UnknownColumn`] with the nearest name.
pub fn column(name: &str) -> Result<&'static Column, UnknownColumn> {
    let is_it = |column: &&Column| column.name == name || column.key == name;
    if let Some(column) = COLUMNS.iter().find(is_it) {
        return Ok(column);
    }
    let distance = |column: &&Column| {
        let to = |other| strsim::damerau_levenshtein(other, name);
        to(column.name).min(to(column.key))
    };
    let begins = |column: &&Column| !column.name.starts_with(name);
    let nearest = COLUMNS
        .iter()
        .min_by_key(|column| (begins(column), distance(column)))
        .map_or("makeup", |column| column.name);
    Err(UnknownColumn { name: name.into(), nearest })
}

fn exit(row: &mut Row<'_>, of: fn(&Exchange) -> f64) -> f64 {
    row.model.exit_air(&row.balance.state, row.work).as_ref().map_or(f64::NAN, of)
}

macro_rules! flow {
    ($name:literal, $key:literal, $what:literal, $field:ident) => {
        Column {
            name: $name,
            key: $key,
            unit: Some(&unit::CUBIC_METRE_PER_HOUR),
            what: $what,
            value: |row| Balance::reference_m3_per_h(row.balance.water.$field),
        }
    };
}

/// Every result, in the order in which people read them. Volumes are counted at 20 degC.
pub static COLUMNS: &[Column] = &[
    flow!("makeup", "makeup_m3_per_h", "all that the makeup valve lets in", makeup_kg_per_s),
    flow!("evaporation", "evaporation_m3_per_h", "by the site's method", evaporation_kg_per_s),
    flow!("drift", "drift_m3_per_h", "droplets carried out", drift_kg_per_s),
    flow!("blowdown", "blowdown_m3_per_h", "drained to hold the cycles", blowdown_kg_per_s),
    flow!("leakage", "leakage_m3_per_h", "as stated", leakage_kg_per_s),
    flow!("overflow", "overflow_m3_per_h", "as stated", overflow_kg_per_s),
    Column {
        name: "cycles",
        key: "cycles_of_concentration",
        unit: Some(&unit::ONE),
        what: "makeup over all liquid losses",
        value: |row| row.balance.water.cycles_of_concentration,
    },
    Column {
        name: "yearly_makeup",
        key: "makeup_m3_per_year",
        unit: Some(&unit::CUBIC_METRE),
        what: "in the hours run at the mean load",
        value: |row| row.model.period(row.inputs, &row.balance.water).yearly_makeup_m3(),
    },
    Column {
        name: "water_cost",
        key: "water_cost_per_year",
        unit: None,
        what: "makeup, sewer and energy in a year, chemicals not counted",
        value: |row| row.model.water_cost_per_year(row.inputs, row.balance).unwrap_or(f64::NAN),
    },
    Column {
        name: "heat_load",
        key: "heat_load_kw",
        unit: Some(&unit::KILOWATT),
        what: "given up by the circulating water",
        value: |row| row.balance.state.heat_load_watt().map_or(f64::NAN, |watt| watt / 1e3),
    },
    Column {
        name: "range",
        key: "range_kelvin",
        unit: Some(&unit::KELVIN_DIFFERENCE),
        what: "hot less cold water",
        value: |row| row.balance.state.range_kelvin.unwrap_or(f64::NAN),
    },
    Column {
        name: "approach",
        key: "approach_kelvin",
        unit: Some(&unit::KELVIN_DIFFERENCE),
        what: "cold water less wet bulb",
        value: |row| row.balance.state.approach_kelvin().unwrap_or(f64::NAN),
    },
    Column {
        name: "wet_bulb",
        key: "wet_bulb_celsius",
        unit: Some(&unit::CELSIUS),
        what: "of the entering air",
        value: |row| row.balance.state.wet_bulb_celsius.unwrap_or(f64::NAN),
    },
    Column {
        name: "hot_water",
        key: "hot_water_celsius",
        unit: Some(&unit::CELSIUS),
        what: "entering the tower",
        value: |row| {
            let state = &row.balance.state;
            if state.temperatures_are_known { state.hot_water_celsius } else { f64::NAN }
        },
    },
    Column {
        name: "exit_air",
        key: "exit_air_celsius",
        unit: Some(&unit::CELSIUS),
        what: "leaving the tower, where all cells work alike",
        value: |row| exit(row, |air| air.exit_temperature_celsius),
    },
    Column {
        name: "exit_enthalpy",
        key: "exit_air_enthalpy_kj_per_kg",
        unit: Some(&unit::KILOJOULE_PER_KILOGRAM),
        what: "of the leaving air, for a kg of dry air",
        value: |row| exit(row, |air| air.exit_enthalpy_j_per_kg / 1e3),
    },
    Column {
        name: "exit_humidity_ratio",
        key: "exit_humidity_ratio",
        unit: Some(&unit::ONE),
        what: "water in the leaving air, vapour and mist, kg in a kg of dry air",
        value: |row| exit(row, |air| air.exit_humidity_ratio),
    },
    Column {
        name: "exit_mist",
        key: "exit_mist_ratio",
        unit: Some(&unit::ONE),
        what: "the part of it that is mist, kg in a kg of dry air",
        value: |row| exit(row, |air| air.exit_mist_ratio),
    },
    Column {
        name: "circulation",
        key: "circulation_kg_per_s",
        unit: Some(&unit::KILOGRAM_PER_SECOND),
        what: "over the cells in service",
        value: |row| row.balance.state.circulation_kg_per_s,
    },
    #[cfg(feature = "files")]
    Column {
        name: PREDICTED,
        key: "predicted_cold_water_celsius",
        unit: Some(&unit::CELSIUS),
        what: "that the fill fitted to the site as it stands gives at this range, air and ratio",
        value: |row| {
            let cells = row.work.cells();
            let predicted =
                row.prediction.and_then(|plan| plan.cold_water(&row.balance.state, cells));
            predicted.unwrap_or(f64::NAN)
        },
    },
    Column {
        name: "merkel_number",
        key: "merkel_number",
        unit: Some(&unit::ONE),
        what: "transfer number KaV/L of the first cell; slow in crossflow",
        value: |row| row.model.merkel_number(&row.balance.state, row.work).unwrap_or(f64::NAN),
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_keys_are_unique_and_found() {
        for column in COLUMNS {
            assert!(std::ptr::eq(super::column(column.name).unwrap(), column));
            assert!(std::ptr::eq(super::column(column.key).unwrap(), column));
        }
        assert_eq!(super::column("makup").unwrap_err().nearest, "makeup");
    }
}
