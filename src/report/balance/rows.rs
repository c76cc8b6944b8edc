//! Every number of a sheet once, with its key, unit and basis: pages, csv and json show these.

use crate::cost::Outflow;
use crate::model::{BalanceSheet, CellResult, Output, StreamName};
use crate::quantity::Quantity;
use crate::quantity::unit::{self, Unit};
use crate::tower::Exchange;
use crate::water::{self, ZERO_CELSIUS};

/// One number of a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its name in machine output; the path of the same number in the JSON.
    pub key: &'static str,
    /// Its name for people.
    pub label: &'static str,
    /// The value in the SI unit of its quantity.
    pub si: f64,
    /// Its standard uncertainty in the same unit, where the inputs carry one.
    pub uncertainty_si: Option<f64>,
    /// The unit in machine output, named by the key.
    pub unit: &'static Unit,
    /// The formula, method or convention behind it.
    pub basis: &'static str,
}

impl Row {
    /// The value in the unit of machine output.
    pub fn value(&self) -> f64 {
        self.unit.of_si(self.si)
    }

    /// The standard uncertainty in the unit of machine output.
    pub fn uncertainty(&self) -> Option<f64> {
        self.uncertainty_si.map(|uncertainty| uncertainty / self.unit.factor)
    }

    /// What the row measures.
    pub fn quantity(&self) -> Quantity {
        self.unit.quantity
    }
}

/// What a sheet says of the air in the tower, where all cells work alike.
pub(super) struct Transfer<'a> {
    pub cell: &'a CellResult,
    pub exchange: &'a Exchange,
    pub dry_air_kg_per_s: f64,
}

pub(super) fn transfer(sheet: &BalanceSheet) -> Option<Transfer<'_>> {
    let exchange = sheet.exchange()?;
    let cell = sheet.cells.first()?;
    let circulation = sheet.state().circulation_kg_per_s;
    Some(Transfer { cell, exchange, dry_air_kg_per_s: circulation / cell.state.water_to_air? })
}

/// Every number of a sheet, in the order in which people read them. Numbers that have no finite
/// value are left out.
pub fn rows(sheet: &BalanceSheet) -> Vec<Row> {
    let mut rows = Rows(Vec::new());
    balance_rows(sheet, &mut rows);
    circuit_rows(sheet, &mut rows);
    air_rows(sheet, &mut rows);
    tower_rows(sheet, &mut rows);
    rows.0
}

struct Rows(Vec<Row>);

impl Rows {
    fn push(
        &mut self,
        (key, label): (&'static str, &'static str),
        (si, unit): (Option<f64>, &'static Unit),
        basis: &'static str,
    ) -> &mut Self {
        if let Some(si) = si.filter(|si| si.is_finite()) {
            self.0.push(Row { key, label, si, uncertainty_si: None, unit, basis });
        }
        self
    }

    /// Gives the last row an uncertainty.
    fn with_uncertainty(&mut self, key: &str, uncertainty_si: Option<f64>) {
        if let Some(row) = self.0.last_mut().filter(|row| row.key == key) {
            row.uncertainty_si = uncertainty_si;
        }
    }
}

fn balance_rows(sheet: &BalanceSheet, rows: &mut Rows) {
    const VOLUME: &str = "mass flow over the density of water at 20 °C";
    let reference = water::density_kg_per_m3(water::REFERENCE_CELSIUS);
    for stream in sheet.streams() {
        let (key, basis) = match stream.name {
            StreamName::Makeup => ("balance.makeup_m3_per_h", "sum of all losses"),
            StreamName::Out(Outflow::Evaporation) => ("balance.evaporation_m3_per_h", VOLUME),
            StreamName::Out(Outflow::Drift) => {
                ("balance.drift_m3_per_h", "fraction of circulation")
            }
            StreamName::Out(Outflow::Blowdown) => {
                ("balance.blowdown_m3_per_h", "evaporation / (cycles - 1) less other liquid losses")
            }
            StreamName::Out(Outflow::Leakage) => ("balance.leakage_m3_per_h", VOLUME),
            StreamName::Out(Outflow::Overflow) => ("balance.overflow_m3_per_h", VOLUME),
        };
        rows.push(
            (key, stream.name.name()),
            (Some(stream.kg_per_s / reference), &unit::CUBIC_METRE_PER_HOUR),
            basis,
        );
        rows.with_uncertainty(key, stream.standard_uncertainty_kg_per_s.map(|u| u / reference));
    }
    let cycles = sheet.balance.water.cycles_of_concentration;
    let key = "balance.cycles_of_concentration";
    rows.push(
        (key, "cycles of concentration"),
        (Some(cycles), &unit::ONE),
        "makeup / all liquid losses",
    );
    rows.with_uncertainty(key, sheet.spread.standard(Output::Cycles));
    rows.push(
        ("balance.makeup_kg_per_s", "makeup by mass"),
        (Some(sheet.makeup.kg_per_s), &unit::KILOGRAM_PER_SECOND),
        "sum of all losses",
    );
    for (key, label, stream) in [
        ("balance.makeup_metered_m3_per_h", "makeup at its meter", &sheet.makeup),
        (
            "balance.blowdown_metered_m3_per_h",
            "blowdown at its meter",
            sheet.outflow(Outflow::Blowdown),
        ),
    ] {
        let volume = Some(stream.kg_per_s / stream.density_kg_per_m3);
        rows.push(
            (key, label),
            (volume, &unit::CUBIC_METRE_PER_HOUR),
            "at the stream's own temperature",
        );
    }
}

fn circuit_rows(sheet: &BalanceSheet, rows: &mut Rows) {
    let state = sheet.state();
    let known = |celsius: f64| state.temperatures_are_known.then_some(celsius + ZERO_CELSIUS);
    let circulation = state.circulation_kg_per_s;
    let density = water::density_kg_per_m3(state.hot_water_celsius);
    rows.push(
        ("circuit.circulation_m3_per_h", "circulation"),
        (Some(circulation / density), &unit::CUBIC_METRE_PER_HOUR),
        "by volume at the hot-water temperature",
    )
    .push(
        ("circuit.circulation_kg_per_s", "circulation by mass"),
        (Some(circulation), &unit::KILOGRAM_PER_SECOND),
        "volume x density at the hot-water temperature",
    )
    .push(
        ("circuit.hot_water_celsius", "hot water"),
        (known(state.hot_water_celsius), &unit::CELSIUS),
        "stated, or cold water + range",
    )
    .push(
        ("circuit.cold_water_celsius", "cold water"),
        (known(state.cold_water_celsius), &unit::CELSIUS),
        "stated, or hot water - range",
    )
    .push(
        ("circuit.range_kelvin", "range"),
        (state.range_kelvin, &unit::KELVIN_DIFFERENCE),
        "hot water - cold water",
    )
    .push(
        ("circuit.heat_load_kw", "heat given up by the water"),
        (state.heat_load_watt(), &unit::KILOWATT),
        "circulation x 4.186 kJ/(kg K) x range",
    )
    .push(
        ("circuit.volume_m3", "water in the system"),
        (sheet.volume_m3, &unit::CUBIC_METRE),
        "stated",
    )
    .push(
        ("circuit.makeup_conductivity_us_per_cm", "conductivity of makeup"),
        (sheet.makeup_conductivity, &unit::MICROSIEMENS_PER_CENTIMETRE),
        "mean of the sources by share, at 25 °C",
    )
    .push(
        ("circuit.circulating_conductivity_us_per_cm", "conductivity of circulating water"),
        (sheet.circulating_conductivity, &unit::MICROSIEMENS_PER_CENTIMETRE),
        "stated, at 25 °C",
    );
}

fn air_rows(sheet: &BalanceSheet, rows: &mut Rows) {
    const ASHRAE: &str = "ASHRAE Fundamentals (2017), ch. 1";
    let state = sheet.state();
    let Some(air) = &state.entering_air else { return };
    rows.push(
        ("air.dry_bulb_celsius", "entering dry bulb"),
        (Some(air.dry_bulb_celsius + ZERO_CELSIUS), &unit::CELSIUS),
        ASHRAE,
    )
    .push(
        ("air.wet_bulb_celsius", "entering wet bulb"),
        (state.wet_bulb_celsius.map(|celsius| celsius + ZERO_CELSIUS), &unit::CELSIUS),
        ASHRAE,
    )
    .push(
        ("air.dew_point_celsius", "entering dew point"),
        (air.dew_point_celsius().ok().map(|celsius| celsius + ZERO_CELSIUS), &unit::CELSIUS),
        ASHRAE,
    )
    .push(
        ("air.relative_humidity_part", "entering relative humidity"),
        (Some(air.relative_humidity()), &unit::PART_RELATIVE_HUMIDITY),
        ASHRAE,
    )
    .push(
        ("air.humidity_ratio", "entering humidity ratio"),
        (Some(air.humidity_ratio), &unit::ONE),
        "kg of vapour in a kg of dry air; ASHRAE Fundamentals (2017), ch. 1",
    )
    .push(
        ("air.enthalpy_kj_per_kg", "entering enthalpy"),
        (Some(air.enthalpy_j_per_kg()), &unit::KILOJOULE_PER_KILOGRAM),
        "of a kg of dry air with its vapour; ASHRAE Fundamentals (2017), ch. 1",
    )
    .push(
        ("air.density_kg_per_m3", "entering density"),
        (Some(air.density_kg_per_m3()), &unit::KILOGRAM_PER_CUBIC_METRE),
        ASHRAE,
    )
    .push(
        ("air.pressure_kpa", "air pressure"),
        (Some(air.pressure_pascal), &unit::KILOPASCAL),
        "stated, or the standard atmosphere at the altitude",
    );
}

fn tower_rows(sheet: &BalanceSheet, rows: &mut Rows) {
    let state = sheet.state();
    let approach = state.approach_kelvin();
    let range = state.range_kelvin;
    rows.push(
        ("tower.approach_kelvin", "approach"),
        (approach, &unit::KELVIN_DIFFERENCE),
        "cold water - wet bulb",
    )
    .push(
        ("tower.effectiveness_part", "effectiveness"),
        (range.zip(approach).map(|(range, approach)| range / (range + approach)), &unit::PART),
        "range / (hot water - wet bulb)",
    );
    let evaporation = sheet.balance.water.evaporation_kg_per_s;
    rows.push(
        ("tower.rule_factor_per_kelvin", "equivalent rule factor, per K"),
        (range.map(|range| evaporation / (state.circulation_kg_per_s * range)), &unit::ONE),
        "evaporation / (circulation x range); the trade rule has 0.00153",
    );
    if let Some(transfer) = transfer(sheet) {
        transfer_rows(sheet, &transfer, rows);
    }
}

fn transfer_rows(sheet: &BalanceSheet, transfer: &Transfer, rows: &mut Rows) {
    const METHOD: &str = "by the sheet's method";
    let Transfer { cell, exchange, dry_air_kg_per_s } = transfer;
    let state = sheet.state();
    let entering = state.entering_air.map_or(f64::NAN, |air| air.enthalpy_j_per_kg());
    let heat_to_air = dry_air_kg_per_s * (exchange.exit_enthalpy_j_per_kg - entering);
    let latent =
        sheet.balance.water.evaporation_kg_per_s * crate::tower::rule::latent_heat_j_per_kg(0.0);
    rows.push(
        ("tower.water_to_air", "water-to-air mass ratio"),
        (cell.state.water_to_air, &unit::ONE),
        "inlet water / dry air",
    )
    .push(
        ("tower.dry_air_kg_per_s", "dry air, all cells"),
        (Some(*dry_air_kg_per_s), &unit::KILOGRAM_PER_SECOND),
        "circulation / water-to-air ratio",
    )
    .push(
        ("tower.merkel_number", "transfer number KaV/L"),
        (Some(exchange.merkel_number), &unit::ONE),
        METHOD,
    )
    .push(
        ("tower.exit_air_celsius", "exit air"),
        (Some(exchange.exit_temperature_celsius + ZERO_CELSIUS), &unit::CELSIUS),
        METHOD,
    )
    .push(
        ("tower.exit_air_enthalpy_kj_per_kg", "exit enthalpy"),
        (Some(exchange.exit_enthalpy_j_per_kg), &unit::KILOJOULE_PER_KILOGRAM),
        METHOD,
    )
    .push(
        ("tower.exit_humidity_ratio", "exit water, vapour and mist"),
        (Some(exchange.exit_humidity_ratio), &unit::ONE),
        "kg in a kg of dry air, by the sheet's method",
    )
    .push(
        ("tower.exit_mist_ratio", "of it mist"),
        (Some(exchange.exit_mist_ratio), &unit::ONE),
        "kg in a kg of dry air; evaporated first, then condensed in the air",
    )
    .push(
        ("tower.heat_to_air_kw", "heat taken up by the air"),
        (Some(heat_to_air), &unit::KILOWATT),
        "dry air x rise of enthalpy; more than the water gives up, because the evaporated water takes its own heat along",
    )
    .push(
        ("tower.latent_part", "latent share of that heat"),
        (Some(latent / heat_to_air), &unit::PART),
        "evaporation x 2501 kJ/kg / heat taken up by the air; above 100 % where the air is cooled",
    );
}
