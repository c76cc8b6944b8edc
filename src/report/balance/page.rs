//! The sheet as people read it.

use super::amounts::{Amount, Amounts, column};
use super::json::{correlated, effects, is_of_method, of_method};
use super::money;
use super::rows::rows;
use crate::cost::Outflow;
use crate::model::{
    BalanceSheet, LeakReadings, MethodName, MethodResult, Output, Raised, Stream, Uncertain,
};
use crate::quantity::unit;
use crate::quantity::{Quantity, UnitSystem, significant, with_decimals};
use crate::report::page::{Block, Column, Page, Row, Table, Words, constant, number, words};
use crate::report::rounding;
use crate::report::shown::{
    COVERAGE, amount, assumed_text, clipped, cycles_text, flow, flow_in, hours, m3_per_h, percent,
    shown_at,
};
use crate::report::uncertain;
use crate::report::unstated;
use crate::site::{Control, Method, Value};
use crate::tower::Arrangement;
use crate::tower::rule::{ONE_PERCENT_PER_KELVIN, RULE_FACTOR_PER_KELVIN};
use crate::warnings::{AEROSOL_CAUTION, Noticed, Warning};
use crate::water::{REFERENCE_CELSIUS, ZERO_CELSIUS};

/// The page; `source` names the file, `sure` is how sure the money of a year is.
pub fn page(sheet: &BalanceSheet, source: &str, sure: &[Uncertain], units: UnitSystem) -> Page {
    let mut page = Page::new(&sheet.name, "Water balance", source);
    page.of.push("; volumes counted at ");
    page.of.push(constant(celsius(REFERENCE_CELSIUS, units)));
    let of = Of { sheet, units, amounts: Amounts::of(sheet, units) };
    page.answer = [
        vec![Block::heading("ANSWER"), Block::paragraph(of.makeup())],
        vec![of.ledger()],
        rounded(of.amounts.misses_by),
        vec![Block::Gap],
        of.cycles(),
        [of.method(), of.metered()].map(Block::paragraph).into(),
        of.money(sure).map(Block::paragraph).into_iter().collect(),
        of.warnings(),
        of.assumed_briefly()
            .map(|words| vec![Block::Gap, Block::paragraph(words)])
            .unwrap_or_default(),
        of.uncertainty(),
        vec![Block::Caution(AEROSOL_CAUTION.into())],
    ]
    .concat();
    page.detail = [
        of.periods(),
        sheet.money.as_ref().map_or(Vec::new(), |money| money::blocks(money, &sheet.currency)),
        of.methods(),
        of.cells(),
        of.details(),
        of.leak(),
        of.assumptions(),
        uncertain::blocks(sure, &sheet.currency, units),
    ]
    .concat();
    page
}

/// One line a site and their sum; the sheets with the names of their files.
pub fn summary(sheets: &[(&str, &BalanceSheet)], units: UnitSystem) -> Page {
    let mut table = Table::new([
        Column::left(26).after(2),
        Column::right(13),
        Column::right(13),
        Column::right(13),
        Column::right(8),
    ]);
    let unit = Quantity::VolumeFlow.shown_in(units).symbol;
    table.head(["", "makeup", "evaporation", "blowdown", "cycles"]);
    table.head(["", unit, unit, unit]);
    let mut sums = [0.0; 3];
    for (source, sheet) in sheets {
        let flows =
            [&sheet.makeup, sheet.outflow(Outflow::Evaporation), sheet.outflow(Outflow::Blowdown)]
                .map(|stream| stream.reference_m3_per_h);
        sums.iter_mut().zip(flows).for_each(|(sum, flow)| *sum += flow);
        let cycles = cycles_text(sheet.balance.water.cycles_of_concentration);
        let mut cells = vec![Words::given(&clipped(name(source, sheet), 25))];
        cells.extend(flows.map(|flow| bare(flow, units, "sites.streams.m3_per_h")));
        cells.push(number("sites.balance.cycles_of_concentration", cycles).into());
        table.row(cells);
    }
    let keys = ["total.makeup_m3_per_h", "total.evaporation_m3_per_h", "total.blowdown_m3_per_h"];
    let sums = sums.into_iter().zip(keys).map(|(sum, key)| bare(sum, units, key));
    table.row([Words::from("total")].into_iter().chain(sums));
    let warned = sheets.iter().map(|(source, sheet)| (name(source, sheet), sheet.warning_ids()));
    let warned = warned.filter(|(_, ids)| !ids.is_empty());
    let warned: Vec<Block> = warned
        .map(|(name, ids)| Block::paragraph(words![Words::given(name), ": ", ids.join(", "), "."]))
        .collect();
    let mut page = Page::new("All sites", "Water balance", "");
    page.of = words![
        "Water balance of ",
        number("sites", sheets.len().to_string()),
        " sites, coldbasin ",
        constant(env!("CARGO_PKG_VERSION")),
        "; volumes counted at ",
        constant(celsius(REFERENCE_CELSIUS, units))
    ];
    page.answer = vec![Block::Gap, Block::Table(table)];
    if !warned.is_empty() {
        page.answer.push(Block::heading("WARNINGS"));
        page.answer.extend(warned);
    }
    page.answer.extend([
        Block::Gap,
        Block::paragraph("The sheet of each site follows with --full."),
        Block::Caution(AEROSOL_CAUTION.into()),
    ]);
    page
}

/// What is said where columns miss their totals.
fn rounded(misses_by: u64) -> Vec<Block> {
    let note = rounding::note(misses_by);
    note.map(|note| Block::paragraph(constant(note))).into_iter().collect()
}

/// What a site is called: its name, or the file that describes it.
fn name<'a>(source: &'a str, sheet: &'a BalanceSheet) -> &'a str {
    if sheet.name.is_empty() { source } else { &sheet.name }
}

/// A flow without its unit.
fn bare(m3_per_h: f64, units: UnitSystem, key: &'static str) -> Words {
    number(key, significant(flow_in(units, m3_per_h), 4)).into()
}

fn celsius(celsius: f64, units: UnitSystem) -> String {
    shown_at(Quantity::Temperature, celsius + ZERO_CELSIUS, units, 3)
}

/// A part in per cent, under a head that says so.
fn in_percent(part: f64) -> String {
    significant(100.0 * part, 3)
}

/// The volumes of days and years: m3 in one, and its name.
fn day_and_year(units: UnitSystem) -> [(f64, &'static str); 2] {
    let gallon = unit::US_GALLON.factor;
    match units {
        UnitSystem::Si => [(1.0, "m3/day"), (1.0, "m3/year")],
        UnitSystem::UsCustomary => [(gallon, "US gal/day"), (1e3 * gallon, "1000 US gal/year")],
    }
}

/// A method in the words of its trade.
fn title(method: MethodName) -> Words {
    let per_fahrenheit = |per_kelvin: f64| significant(per_kelvin / 1.8, 2);
    match method {
        MethodName::Method(Method::Rule) => {
            let factor = per_fahrenheit(RULE_FACTOR_PER_KELVIN);
            words![constant(format!("{factor} x flow x range in °F"))]
        }
        MethodName::Method(Method::RuleOnePercent) => {
            let factor = per_fahrenheit(ONE_PERCENT_PER_KELVIN);
            words![constant(format!("{factor} x flow x range in °F"))]
        }
        MethodName::Method(Method::Latent) => "all heat as latent heat".into(),
        MethodName::Method(Method::Merkel) => "exit air saturated".into(),
        MethodName::Method(Method::Poppe) => "full heat and mass transfer".into(),
        MethodName::Given => "stated in the site file".into(),
    }
}

/// A method in the words of people who run towers.
fn plainly(method: MethodName) -> Words {
    let rule = |per_kelvin: f64| {
        let part = significant(100.0 * per_kelvin, 3);
        words![
            "rule of thumb, ",
            constant(format!("{part} %")),
            " of circulation for each K of range"
        ]
    };
    match method {
        MethodName::Method(Method::Poppe) => {
            "computed from the heat and vapour that the air takes up on its way through the tower"
                .into()
        }
        MethodName::Method(Method::Merkel) => {
            "computed from the heat that the air takes up, leaving the tower saturated".into()
        }
        MethodName::Method(Method::Rule) => rule(RULE_FACTOR_PER_KELVIN),
        MethodName::Method(Method::RuleOnePercent) => rule(ONE_PERCENT_PER_KELVIN),
        MethodName::Method(Method::Latent) => "as if all heat left as vapour".into(),
        MethodName::Given => "as stated in the site file".into(),
    }
}

/// A year's volume in a sentence.
fn yearly(m3: f64, units: UnitSystem) -> String {
    match units {
        UnitSystem::Si => format!("{} m3", significant(m3, 3)),
        UnitSystem::UsCustomary => {
            format!("{} thousand US gal", significant(m3 / (1e3 * unit::US_GALLON.factor), 3))
        }
    }
}

/// A warning's value, with what the loss comes to where it is one.
pub(super) fn warning(raised: &Raised, sheet: &BalanceSheet, units: UnitSystem) -> Words {
    let warning = raised.warning;
    let value = shown_at(warning.quantity, raised.value, units, 3);
    let mut said = words![warning.subject, " = ", number("warnings.value", value)];
    if warning.is_drift_loss {
        let drift = sheet.period.yearly_m3(Outflow::Drift);
        said.push(words![": ", number("streams.m3_per_year", yearly(drift, units)), " a year"]);
        if let Some(price) = sheet.makeup_price_per_m3 {
            let cost = amount(price * drift);
            let currency = match sheet.currency.as_str() {
                "" => "(currency of the price)",
                currency => currency,
            };
            let cost = number("money.streams.water", cost);
            said.push(words![", ", cost, " ", Words::given(currency), " of makeup"]);
        }
    }
    said
}

struct Of<'a> {
    sheet: &'a BalanceSheet,
    units: UnitSystem,
    amounts: Amounts,
}

impl Of<'_> {
    /// Water in on the left, water out on the right, totals equal.
    fn ledger(&self) -> Block {
        let Self { sheet, amounts, .. } = self;
        let columns =
            |gap| [Column::left(16).after(gap), Column::right(9), Column::left(10).after(1)];
        let [mut left, mut right] = [Table::new(columns(0)), Table::new(columns(4))];
        left.head(["WATER IN", amounts.unit.symbol]);
        right.head(["WATER OUT", amounts.unit.symbol]);
        let cells = |name: Words, key: &'static str, amount: &Amount| {
            let spread = amount.spread.as_ref().map(|spread| {
                words!["± ", number("streams.standard_uncertainty_m3_per_h", spread.as_str())]
            });
            [name, number(key, amount.flow.as_str()).into(), spread.into()]
        };
        let total = |name: &str| cells(name.into(), "balance.makeup_m3_per_h", &amounts.makeup);
        if sheet.sources.len() > 1 {
            for (source, shown) in sheet.sources.iter().zip(&amounts.sources) {
                let shown = number("makeup_sources.m3_per_h", shown.as_str());
                left.row([Words::given(&clipped(&source.name, 16)), shown.into()]);
            }
        } else {
            left.row(total("makeup"));
        }
        for (stream, shown) in sheet.out.iter().zip(&amounts.out) {
            right.row(cells(stream.name.name().into(), "streams.m3_per_h", shown));
        }
        // The totals stand beside each other.
        let lines = left.rows.len().max(right.rows.len());
        for table in [&mut left, &mut right] {
            table.rows.resize(lines, Row::Cells(Vec::new()));
            table.rows.push(Row::Rule(25));
        }
        left.row(total("total in"));
        let [name, flow, _] = total("total out");
        right.row([name, flow]);
        Block::Ledger(Box::new([left, right]))
    }

    fn cycles(&self) -> Vec<Block> {
        let sheet = self.sheet;
        let water = &sheet.balance.water;
        let cycles = water.cycles_of_concentration;
        let spread = sheet.cycles_uncertainty().map(|standard| {
            let spread = significant(COVERAGE * standard, 2);
            words![" ± ", number("standard_uncertainty.cycles_of_concentration", spread)]
        });
        let name = match sheet.cycles_are_apparent {
            true => " apparent cycles of concentration",
            false => " cycles of concentration",
        };
        let reached =
            words![number("balance.cycles_of_concentration", cycles_text(cycles)), spread, name];
        let said = if water.losses_exceed_blowdown {
            let target = cycles_text(sheet.target_cycles.unwrap_or(cycles));
            words![
                reached,
                " reached with the blowdown shut: the other losses alone hold them below the target of ",
                number("target_cycles", target),
                "."
            ]
        } else if cycles.is_infinite() {
            "No liquid leaves: the cycles of concentration have no limit.".into()
        } else {
            words![reached, ", makeup over all liquid losses."]
        };
        let apparent = sheet.cycles_are_apparent.then_some(
            "Apparent: conductivity is not conserved. It usually rises more slowly than concentration, faster \
             where acid or hypochlorite is fed; a tracer such as chloride gives the true cycles.",
        );
        let apparent = apparent.map(Block::paragraph);
        [Block::paragraph(said)].into_iter().chain(apparent).collect()
    }

    /// What meters of makeup and blowdown would read.
    fn metered(&self) -> Words {
        let metered = |stream: &Stream| {
            let digits = self.amounts.digits as usize;
            let read = flow(stream.metered_m3_per_h, self.units, digits);
            let at = celsius(stream.celsius, self.units);
            words![
                stream.name.name(),
                " ",
                number("streams.metered_m3_per_h", read),
                " at ",
                number("streams.celsius", at)
            ]
        };
        words![
            "Meters read each stream at its own temperature: ",
            metered(&self.sheet.makeup),
            ", ",
            metered(self.sheet.outflow(Outflow::Blowdown)),
            "."
        ]
    }

    fn periods(&self) -> Vec<Block> {
        let sheet = self.sheet;
        let period = &sheet.period;
        let load = (period.load_factor < 1.0).then(|| {
            let blowdown = match period.holds_cycles {
                true => "the blowdown holds the cycles",
                false => "the blowdown stays as it is",
            };
            words![
                " at a load factor of ",
                number("period.load_factor", significant(period.load_factor, 3)),
                ": evaporation goes with the load, ",
                blowdown,
                ", drift and leaks go on"
            ]
        });
        let [(day_unit, day_name), (year_unit, year_name)] = day_and_year(self.units);
        let per_day: Vec<f64> =
            sheet.out.iter().map(|s| 24.0 * s.reference_m3_per_h / day_unit).collect();
        let per_year: Vec<f64> =
            Outflow::ALL.iter().map(|stream| period.yearly_m3(*stream) / year_unit).collect();
        let [day, year] = [per_day, per_year].map(|parts| column(&parts, self.amounts.digits));
        let mut table = Table::new([
            Column::left(14),
            Column::right(13),
            Column::right(18),
            Column::right(13),
            Column::right(10),
            Column::right(10),
        ]);
        table.head([
            "".into(),
            constant(day_name).into(),
            constant(year_name).into(),
            "% of circ.".into(),
            "% makeup".into(),
            words!["% solids"],
        ]);
        let mut line = |stream: &Stream, day: &str, year: &str| {
            let solids = |part| words![number("streams.part_of_solids", in_percent(part))];
            table.row([
                stream.name.name().into(),
                number("streams.m3_per_day", day).into(),
                number("streams.m3_per_year", year).into(),
                number("streams.part_of_circulation", in_percent(stream.of_circulation)).into(),
                number("streams.part_of_makeup", in_percent(stream.of_makeup)).into(),
                stream.of_solids.map_or("-".into(), solids),
            ]);
        };
        for ((stream, day), year) in sheet.out.iter().zip(&day.parts).zip(&year.parts) {
            line(stream, day, year);
        }
        line(&sheet.makeup, &day.total, &year.total);
        let note = rounded(day.misses_by.max(year.misses_by));
        let hours = hours(period.hours_per_year, 4);
        let said = words![
            "A day of ",
            constant("24 h"),
            "; a year of ",
            number("period.hours_per_year", hours),
            load,
            ". Solids: the part of the makeup's dissolved solids that leaves this way."
        ];
        let heading = Block::heading("IF EVERY HOUR WERE LIKE THIS ONE");
        [vec![heading, Block::Table(table)], note, vec![Block::paragraph(said)]].concat()
    }

    /// What the tower takes.
    fn makeup(&self) -> Words {
        let Amount { flow, spread } = &self.amounts.makeup;
        let flow = match spread {
            Some(spread) => format!("{flow} ± {spread} {}", self.amounts.unit.symbol),
            None => format!("{flow} {}", self.amounts.unit.symbol),
        };
        let period = &self.sheet.period;
        let volume = yearly(period.yearly_makeup_m3(), self.units);
        words![
            "At the conditions of the site file the tower takes ",
            number("balance.makeup_m3_per_h", flow),
            " of makeup",
            self.sheet.makeup_rests_on_defaults.then_some(" (± assumed: none is stated)"),
            ", ",
            number("streams.m3_per_year", volume),
            " in a year of ",
            number("period.hours_per_year", hours(period.hours_per_year, 4)),
            (period.load_factor < 1.0).then(|| {
                let load = percent(period.load_factor, 3);
                words![" and a mean load of ", number("period.load_factor", load)]
            }),
            "."
        ]
    }

    /// How the evaporation was found, and what the other methods make of it.
    fn method(&self) -> Words {
        let sheet = self.sheet;
        let others: Vec<f64> = sheet
            .methods
            .iter()
            .filter(|method| method.name != sheet.used)
            .filter_map(|method| method.evaporation_kg_per_s.as_ref().ok().copied())
            .collect();
        let [least, most] =
            [others.iter().copied().reduce(f64::min), others.iter().copied().reduce(f64::max)].map(
                |kg_per_s| {
                    let shown = |kg_per_s| significant(flow_in(self.units, m3_per_h(kg_per_s)), 3);
                    kg_per_s.map(|kg_per_s| number("methods.evaporation_m3_per_h", shown(kg_per_s)))
                },
            );
        let others = least.zip(most).map(|(least, most)| {
            let to = words![least, " to ", most, " ", self.amounts.unit.symbol];
            words![" The other methods find ", to, "."]
        });
        let why = (sheet.used != MethodName::Given).then(|| words![", because ", self.reason()]);
        words!["Evaporation: ", plainly(sheet.used), why, ".", others]
    }

    /// What a year costs, and what would save some of it.
    fn money(&self, sure: &[Uncertain]) -> Option<Words> {
        let sheet = self.sheet;
        let money = sheet.money.as_ref()?;
        let shown = |shown: String| format!("{shown} {}", sheet.currency).trim_end().to_owned();
        let known = uncertain::notable(sure, "total_per_year");
        let total = match known {
            Some(result) => uncertain::shown(result, &sheet.currency, self.units),
            None => shown(amount(money.total)),
        };
        let saves = money.added_cycles.first().map(|added| {
            words![
                "; one more cycle would save ",
                number("money.added_cycles.saving_per_year", shown(amount(added.saving))),
                ", where the water allows it (`coldbasin blowdown`)"
            ]
        });
        let missing = money.chemicals_missing.is_some().then_some(", chemicals not counted");
        let total = number("money.total_per_year", total);
        Some(words![
            "Money: ",
            total,
            known.and_then(uncertain::assumed),
            " in a year",
            missing,
            saves,
            "."
        ])
    }

    fn methods(&self) -> Vec<Block> {
        let sheet = self.sheet;
        let mut table = Table::new([
            Column::left(20),
            Column::left(31),
            Column::right(9),
            Column::right(9),
            Column::right(9),
        ]);
        table.head(["", "", self.amounts.unit.symbol, "% circ.", "KaV/L"]);
        let circulation = sheet.state().circulation_kg_per_s;
        let mut failed = Vec::new();
        for MethodResult { name, evaporation_kg_per_s, exchange } in &sheet.methods {
            match evaporation_kg_per_s {
                Ok(kg_per_s) => {
                    let mark = if *name == sheet.used { "> " } else { "  " };
                    let transfer = exchange.map(|exchange| {
                        number("methods.merkel_number", significant(exchange.merkel_number, 3))
                    });
                    let part = in_percent(kg_per_s / circulation);
                    table.row([
                        words![mark, name.key()],
                        title(*name),
                        bare(m3_per_h(*kg_per_s), self.units, "methods.evaporation_m3_per_h"),
                        number("methods.part_of_circulation", part).into(),
                        transfer.into(),
                    ]);
                }
                Err(why) => failed.push(Block::Paragraph {
                    level: 2,
                    words: words![name.key(), ": no answer, ", Words::given(&why.to_string())],
                }),
            }
        }
        let mut blocks = vec![Block::heading("EVAPORATION BY METHOD"), Block::Table(table)];
        blocks.extend(failed);
        blocks.push(Block::paragraph(words![
            "The sheet uses ",
            sheet.used.key(),
            ", because ",
            self.reason(),
            "."
        ]));
        blocks
    }

    /// Why the sheet uses its method.
    fn reason(&self) -> &'static str {
        match self.sheet.used {
            MethodName::Given => "it is stated",
            _ if self.sheet.method_is_asked => "the site file asks for it",
            MethodName::Method(Method::Poppe) => {
                "air and water temperatures are known, and it is the fullest method"
            }
            _ => "air or water temperatures are not known, and transfer cannot be computed",
        }
    }

    fn cells(&self) -> Vec<Block> {
        let sheet = self.sheet;
        let out = &sheet.cells_out_of_service;
        if sheet.cells.len() < 2 && out.is_empty() {
            return Vec::new();
        }
        let mut table = Table::new([
            Column::left(18),
            Column::left(13),
            Column::right(10),
            Column::right(8),
            Column::right(13),
            Column::right(9),
            Column::right(9),
        ]);
        let unit = self.amounts.unit.symbol;
        table.head(["", "", "water", "L/G", "evaporation", "drift", "KaV/L"]);
        table.head(["", "", unit, "", unit, unit]);
        for cell in &sheet.cells {
            let arrangement = match cell.arrangement {
                Arrangement::Counterflow => "counterflow",
                Arrangement::Crossflow => "crossflow",
            };
            let (key, exchange) = match sheet.used {
                MethodName::Method(Method::Merkel) => ("cells.merkel.merkel_number", cell.merkel),
                _ => ("cells.poppe.merkel_number", cell.poppe),
            };
            let flow = |key, kg_per_s, digits| -> Words {
                number(key, significant(flow_in(self.units, m3_per_h(kg_per_s)), digits)).into()
            };
            let drift = cell.state.drift_fraction * cell.state.water_kg_per_s;
            let or_none = |key, number_of: Option<f64>| {
                number_of.map_or("-".into(), |found| words![number(key, significant(found, 3))])
            };
            table.row([
                Words::given(&clipped(&cell.name, 17)),
                arrangement.into(),
                flow("cells.water_kg_per_s", cell.state.water_kg_per_s, 4),
                or_none("cells.water_to_air", cell.state.water_to_air),
                flow("cells.evaporation_kg_per_s", cell.evaporation_kg_per_s, 4),
                flow("cells.drift_kg_per_s", drift, 2),
                or_none(key, exchange.map(|exchange| exchange.merkel_number)),
            ]);
        }
        let mut blocks = vec![Block::heading("CELLS"), Block::Table(table)];
        if !out.is_empty() {
            let names = Words::given(&out.join(", "));
            blocks.push(Block::paragraph(words!["out of service: ", names]));
        }
        blocks
    }

    /// Every other number of the sheet.
    fn details(&self) -> Vec<Block> {
        let rows = rows(self.sheet);
        let mut blocks = Vec::new();
        for (title, prefix) in
            [("WATER", "circuit."), ("ENTERING AIR", "air."), ("TOWER", "tower.")]
        {
            let mut table = Table::new([Column::left(34), Column::right(18)]);
            for row in rows.iter().filter(|row| row.key.starts_with(prefix)) {
                let shown = shown_at(row.quantity(), row.si, self.units, 4);
                table.row([row.label.into(), words![number(row.key, shown)]]);
            }
            if !table.rows.is_empty() {
                blocks.extend([Block::heading(title), Block::Table(table)]);
            }
        }
        if self.sheet.exchange().is_some() {
            blocks.push(Block::paragraph(
                "The air takes up more heat than the water gives up by cooling: the evaporated water leaves \
                 with its own.",
            ));
        }
        blocks
    }

    fn leak(&self) -> Vec<Block> {
        let Some(LeakReadings { held, fixed }) = &self.sheet.leak else { return Vec::new() };
        let flow = |key, kg_per_s: f64| number(key, flow(m3_per_h(kg_per_s), self.units, 4));
        let cycles = |key, cycles: f64| number(key, cycles_text(cycles));
        let held_makeup = flow("leak.cycles_held.makeup_m3_per_h", held.makeup_kg_per_s);
        let hidden = if held.losses_exceed_blowdown {
            words![
                "A controller that holds the cycles shuts the blowdown, and still makeup rises to ",
                held_makeup,
                " and the cycles fall to ",
                cycles("leak.cycles_held.cycles_of_concentration", held.cycles_of_concentration),
                "."
            ]
        } else {
            words![
                "A controller that holds the cycles closes the blowdown by as much, to ",
                flow("leak.cycles_held.blowdown_m3_per_h", held.blowdown_kg_per_s),
                ": makeup stays at ",
                held_makeup,
                " and hides the loss."
            ]
        };
        let seen = words![
            "A valve that stays as it was lets makeup rise to ",
            flow("leak.valve_fixed.makeup_m3_per_h", fixed.makeup_kg_per_s),
            " and the cycles fall to ",
            cycles("leak.valve_fixed.cycles_of_concentration", fixed.cycles_of_concentration),
            "."
        ];
        let mut blocks = vec![Block::heading("WHAT THE LEAKAGE AND OVERFLOW DO")];
        match self.sheet.control {
            Some(Control::Conductivity) => blocks.push(Block::paragraph(hidden)),
            Some(_) => blocks.push(Block::paragraph(seen)),
            None => blocks.extend([
                Block::paragraph("How the blowdown is controlled is not stated, so both readings:"),
                Block::indented(hidden),
                Block::indented(seen),
            ]),
        }
        blocks
    }

    fn warnings(&self) -> Vec<Block> {
        let explained = |id: &'static str, said: Words, usual: String, source, advice| {
            let usual = words![constant(usual), " (", constant(source), ")."];
            [
                Block::paragraph(words![id, ": ", said]),
                Block::indented(words!["Usual: ", usual]),
                Block::indented(words!["Look at: ", constant(advice), "."]),
            ]
        };
        let raised = self.sheet.warnings.iter().flat_map(|raised| {
            let Warning { id, usual, source, advice, .. } = *raised.warning;
            let said = self::warning(raised, self.sheet, self.units);
            explained(id, said, usual(), source, advice)
        });
        let notices = self.sheet.notices();
        let noticed = notices.iter().flat_map(|Noticed { notice, message }| {
            let said = Words::given(message);
            explained(notice.id, said, (notice.usual)(), notice.source, notice.advice)
        });
        let all: Vec<Block> = raised.chain(noticed).collect();
        let heading = (!all.is_empty()).then(|| Block::heading("WARNINGS"));
        heading.into_iter().chain(all).collect()
    }

    /// Assumptions that bear on this sheet.
    fn assumed(&self) -> Vec<(&Value, &'static str)> {
        self.sheet.assumptions().filter(|(value, _)| self.is_worth_telling(value)).collect()
    }

    /// What was assumed, without its reasons.
    fn assumed_briefly(&self) -> Option<Words> {
        let of_value = |(value, _): (&Value, _)| {
            let shown = number("assumptions.si", assumed_text(value, self.units));
            words![Words::given(&value.path), " ", shown]
        };
        let arrangement = self.arrangement_is_assumed().then(|| "cells counterflow".into());
        let briefly = |(value, _): &(&Value, _)| !value.path.starts_with("method.");
        let said: Vec<Words> =
            self.assumed().into_iter().filter(briefly).map(of_value).chain(arrangement).collect();
        let said = (!said.is_empty()).then(|| words!["Assumed: ", Words::joined(said, ", "), "."]);
        let unstated = unstated::line(&self.sheet.unstated(), unstated::OF_BALANCE, self.units);
        match (said, unstated) {
            (Some(said), Some(unstated)) => Some(words![said, " ", unstated]),
            (said, unstated) => said.or(unstated),
        }
    }

    fn arrangement_is_assumed(&self) -> bool {
        self.sheet.arrangement_is_assumed && self.has_transfer()
    }

    fn assumptions(&self) -> Vec<Block> {
        let mut blocks: Vec<Block> = self
            .assumed()
            .into_iter()
            .map(|(value, basis)| {
                Block::paragraph(words![
                    Words::given(&value.path),
                    " = ",
                    number("assumptions.si", assumed_text(value, self.units)),
                    ": ",
                    constant(basis)
                ])
            })
            .collect();
        if self.arrangement_is_assumed() {
            blocks.push(Block::paragraph("cell arrangement = counterflow: not stated"));
        }
        blocks.extend(unstated::blocks(&self.sheet.unstated(), unstated::OF_BALANCE, self.units));
        if !blocks.is_empty() {
            blocks.insert(0, Block::heading("ASSUMED"));
        }
        blocks
    }

    fn uncertainty(&self) -> Vec<Block> {
        const NAMED: usize = 3;
        const NOTABLE: f64 = 0.01;
        let effects = effects(self.sheet);
        let from: Vec<Words> = effects
            .iter()
            .filter(|effect| effect.part > NOTABLE && !is_of_method(&effect.path))
            .take(NAMED)
            .map(|effect| {
                let part = percent(effect.part, 2);
                words![
                    Words::given(&effect.path),
                    " ",
                    number("makeup_uncertainty_from.part", part)
                ]
            })
            .collect();
        if from.is_empty() {
            return Vec::new();
        }
        let pairs = correlated(self.sheet).into_iter().map(|pair| {
            let with = format!("{} with {} (", pair.path, pair.with);
            let correlation = with_decimals(pair.correlation, 2);
            words![Words::given(&with), number("correlated.correlation", correlation), ")"]
        });
        let pairs = Words::joined(pairs, ", ");
        let correlated = match pairs.is_empty() {
            true => "Inputs are taken as uncorrelated.".into(),
            false => words!["Correlated: ", pairs, "."],
        };
        let of_method = of_method(&effects);
        let part = |part: f64| format!("{} %", with_decimals(100.0 * part, 0));
        let said = words![
            "±: about ",
            constant("95 %"),
            " sure, inputs and method together. The makeup's comes to ",
            number("makeup_uncertainty_from_inputs", part(1.0 - of_method)),
            " from the inputs and to ",
            number("makeup_uncertainty_from_method", part(of_method)),
            " from the method (of the variance). Inputs: ",
            Words::joined(from, ", "),
            "; measure the first better to be surer. ",
            correlated
        ];
        let one_sided: Vec<String> = effects
            .into_iter()
            .filter(|effect| effect.one_sided)
            .map(|effect| effect.path)
            .collect();
        let one_sided = (!one_sided.is_empty()).then(|| {
            let names = Words::given(&one_sided.join(", "));
            let said = words!["One-sided, because the other side has no balance: ", names, "."];
            Block::paragraph(said)
        });
        let is_curved = self.sheet.spread.is_curved(Output::Makeup as usize);
        let curved = is_curved.then(|| {
            Block::paragraph(
                "First order does not hold here: within its ± the makeup does not follow the inputs in a \
                 straight line, and its true ± is wider to one side. `--monte-carlo 10000` draws it.",
            )
        });
        let said = [Block::Gap, Block::paragraph(said)];
        said.into_iter().chain(curved).chain(one_sided).collect()
    }

    /// Whether any method of the sheet looks at the air in the cells.
    fn has_transfer(&self) -> bool {
        self.sheet.methods.iter().any(|method| method.exchange.is_some())
            || self.sheet.cells.iter().any(|cell| cell.poppe.is_some())
    }

    /// Whether an assumption bears on this sheet: zero losses, a single share and full load do not need
    /// telling.
    fn is_worth_telling(&self, value: &Value) -> bool {
        let is_single = self.sheet.cells.len() == 1 && value.path.starts_with("cell.");
        let is_only_source = self.sheet.sources.len() == 1 && value.path.starts_with("makeup.");
        let is_unused_air = !self.has_transfer() && value.path.ends_with(".water_to_air");
        !(is_unused_air
            || value.path.starts_with("losses.")
            || value.path == "circuit.load_factor"
            || (value.path.ends_with(".share") && (is_single || is_only_source)))
    }
}
