//! The sheet as people read it, at 80 columns. Headings are written in bold; a caller that shows
//! the text elsewhere than on a terminal strips the escape codes.

use super::marks::{HEADING, PARAGRAPH, end_of_head};
use super::rounding::{column, digits_of};
use super::{Row, rows};
use crate::cost::Outflow;
#[cfg(feature = "files")]
use crate::equation::Equation;
use crate::model::{BalanceSheet, LeakReadings, MethodName, Raised, Stream};
use crate::quantity::unit::{self, Unit};
use crate::quantity::{Quantity, UnitSystem, significant, with_decimals};
use crate::site::{Control, Value};
use crate::warnings::AEROSOL_CAUTION;
use crate::water;
use std::fmt::Write as _;

/// Width of a page.
const WIDTH: usize = 80;
/// Coverage factor of the `±` that people see: about 95 % (JCGM 100:2008, 6.3.3).
pub(crate) const COVERAGE: f64 = 2.0;

/// How the text is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Style {
    /// Units that people see.
    pub units: UnitSystem,
    /// Whether only ASCII is written: `+-` for `±`, `deg`, `m3`.
    pub ascii: bool,
    /// Whether headings are bold.
    pub bold: bool,
    /// Whether control characters mark headings, paragraphs and cells, as [`html`](super::html) reads
    /// them.
    pub marked: bool,
}

/// A sheet with all its numbers, warnings and assumptions. `source` names the file.
pub fn sheet(sheet: &BalanceSheet, source: &str, style: Style) -> String {
    let page = Page { style, units: Units::of(style.units) };
    let mut text = String::new();
    page.head(&mut text, sheet, source);
    page.ledger(&mut text, sheet);
    page.cycles(&mut text, sheet);
    page.periods(&mut text, sheet);
    page.money(&mut text, sheet);
    page.methods(&mut text, sheet);
    page.cells(&mut text, sheet);
    page.details(&mut text, sheet);
    page.leak(&mut text, sheet);
    page.warnings(&mut text, sheet);
    page.assumptions(&mut text, sheet);
    page.uncertainty(&mut text, sheet);
    page.caution(&mut text);
    super::marks::finished(text, style)
}

/// One line a site and their sum.
pub fn summary(sheets: &[(&str, &BalanceSheet)], style: Style) -> String {
    let page = Page { style, units: Units::of(style.units) };
    let mut text = String::new();
    page.heading(&mut text, "ALL SITES");
    let unit = page.units.flow.symbol;
    let _ = writeln!(
        text,
        "  {:<26}\u{1f}{:>13}\u{1f}{:>13}\u{1f}{:>13}\u{1f}{:>8}",
        "", "makeup", "evaporation", "blowdown", "cycles"
    );
    let _ = writeln!(text, "  {:<26}\u{1f}{unit:>13}\u{1f}{unit:>13}\u{1f}{unit:>13}", "");
    end_of_head(&mut text);
    let mut sums = [0.0; 3];
    for (source, sheet) in sheets {
        let flows =
            [&sheet.makeup, sheet.outflow(Outflow::Evaporation), sheet.outflow(Outflow::Blowdown)]
                .map(|s| s.reference_m3_per_h);
        for (sum, flow) in sums.iter_mut().zip(flows) {
            *sum += flow;
        }
        let name = if sheet.name.is_empty() { *source } else { sheet.name.as_str() };
        let cycles = cycles_text(sheet.balance.water.cycles_of_concentration);
        page.summary_line(&mut text, name, flows, &cycles);
    }
    page.summary_line(&mut text, "total", sums, "");
    super::marks::finished(text, style)
}

/// The units of a page.
struct Units {
    flow: &'static Unit,
    /// m3 and its name, for days and years.
    day: (f64, &'static str),
    year: (f64, &'static str),
}

impl Units {
    fn of(system: UnitSystem) -> Self {
        let flow = Quantity::VolumeFlow.shown_in(system);
        match system {
            UnitSystem::Si => Self { flow, day: (1.0, "m3/day"), year: (1.0, "m3/year") },
            UnitSystem::UsCustomary => {
                let gallon = unit::US_GALLON.factor;
                Self { flow, day: (gallon, "US gal/day"), year: (1e3 * gallon, "1000 US gal/year") }
            }
        }
    }
}

struct Page {
    style: Style,
    units: Units,
}

impl Page {
    fn heading(&self, text: &mut String, title: &str) {
        heading(text, title, self.style.bold);
    }

    fn head(&self, text: &mut String, sheet: &BalanceSheet, source: &str) {
        let name = if sheet.name.is_empty() { source } else { &sheet.name };
        let name = if self.style.bold { format!("\x1b[1m{name}\x1b[0m") } else { name.to_string() };
        let _ = writeln!(text, "{name}");
        let reference = shown_at(
            Quantity::Temperature,
            water::REFERENCE_CELSIUS + water::ZERO_CELSIUS,
            self.style.units,
            3,
        );
        let _ = writeln!(
            text,
            "Water balance from {source}, coldbasin {}; volumes counted at {reference}",
            env!("CARGO_PKG_VERSION")
        );
    }

    /// m3/h in the page's unit.
    fn flow(&self, m3_per_h: f64) -> f64 {
        self.units.flow.of_si(unit::CUBIC_METRE_PER_HOUR.to_si(m3_per_h))
    }

    /// A stream's expanded uncertainty in the page's unit.
    fn expanded(&self, stream: &Stream) -> Option<f64> {
        stream
            .standard_uncertainty_kg_per_s
            .map(|standard| COVERAGE * self.flow(super::m3_per_h(standard)))
    }

    /// Significant digits that the makeup deserves.
    fn digits(&self, sheet: &BalanceSheet) -> i32 {
        digits_of(self.flow(sheet.makeup.reference_m3_per_h), self.expanded(&sheet.makeup))
    }

    /// Water in on the left, water out on the right, totals equal.
    fn ledger(&self, text: &mut String, sheet: &BalanceSheet) {
        let out: Vec<f64> = sheet.out.iter().map(|s| self.flow(s.reference_m3_per_h)).collect();
        let column = column(&out, self.digits(sheet));
        let decimals = column.decimals.max(0) as usize;
        let spread = |stream: &Stream| match self.expanded(stream) {
            None => String::new(),
            Some(u) if u < 0.5 * 0.1f64.powi(decimals as i32) => {
                format!("± <{}", with_decimals(0.1f64.powi(decimals as i32), decimals))
            }
            Some(u) => format!("± {}", with_decimals(u, decimals)),
        };
        let mut left = vec![("makeup".to_string(), column.total.clone(), spread(&sheet.makeup))];
        if sheet.sources.len() > 1 {
            let parts: Vec<f64> =
                sheet.sources.iter().map(|s| self.flow(super::m3_per_h(s.kg_per_s))).collect();
            let parts = super::rounding::column(&parts, self.digits(sheet)).parts;
            left.clear();
            left.extend(
                sheet
                    .sources
                    .iter()
                    .zip(parts)
                    .map(|(s, part)| (s.name.clone(), part, String::new())),
            );
        }
        let right: Vec<_> = sheet
            .out
            .iter()
            .zip(&column.parts)
            .map(|(stream, shown)| (stream.name.name().to_string(), shown.clone(), spread(stream)))
            .collect();
        let unit = self.units.flow.symbol;
        self.heading(
            text,
            &format!(
                "{:<16}\u{1f}{unit:>9}\u{1f}{:<11}    \u{1f}{:<16}\u{1f}{unit:>9}",
                "WATER IN", "", "WATER OUT"
            ),
        );
        for line in 0..left.len().max(right.len()) {
            let empty = (String::new(), String::new(), String::new());
            let (in_name, in_flow, in_spread) = left.get(line).unwrap_or(&empty);
            let (name, flow, spread) = right.get(line).unwrap_or(&empty);
            write_line(
                text,
                &format!(
                    "{:<16}\u{1f}{in_flow:>9} \u{1f}{in_spread:<10}    \u{1f}{name:<16}\u{1f}{flow:>9} \u{1f}{spread}",
                    clipped(in_name, 16)
                ),
            );
        }
        let rule = "-".repeat(25);
        let _ = writeln!(text, "{rule:<40}\u{1f}{rule}");
        let total = &column.total;
        let of_total = spread(&sheet.makeup);
        write_line(
            text,
            &format!(
                "{:<16}\u{1f}{total:>9} \u{1f}{of_total:<10}    \u{1f}{:<16}\u{1f}{total:>9}",
                "total in", "total out"
            ),
        );
    }

    fn cycles(&self, text: &mut String, sheet: &BalanceSheet) {
        let water = &sheet.balance.water;
        let cycles = water.cycles_of_concentration;
        let spread = sheet
            .cycles_uncertainty()
            .map(|u| format!(" ± {}", significant(COVERAGE * u, 2)))
            .unwrap_or_default();
        text.push('\n');
        let name = if sheet.cycles_are_apparent {
            "apparent cycles of concentration"
        } else {
            "cycles of concentration"
        };
        if water.losses_exceed_blowdown {
            let target = cycles_text(sheet.target_cycles.unwrap_or(cycles));
            paragraph(
                text,
                "",
                &format!(
                    "{}{spread} {name} reached with the blowdown shut: the other losses alone hold them below the target of {target}.",
                    cycles_text(cycles)
                ),
            );
        } else if cycles.is_infinite() {
            paragraph(text, "", "No liquid leaves: the cycles of concentration have no limit.");
        } else {
            paragraph(
                text,
                "",
                &format!("{}{spread} {name}, makeup over all liquid losses.", cycles_text(cycles)),
            );
        }
        if sheet.cycles_are_apparent {
            paragraph(
                text,
                "",
                "Apparent: conductivity is not conserved. It usually rises more slowly than concentration, faster where acid or hypochlorite is fed; a tracer such as chloride gives the true cycles.",
            );
        }
        let metered = |stream: &Stream| {
            format!(
                "{} {} at {}",
                significant(self.flow(stream.metered_m3_per_h), self.digits(sheet) as usize),
                self.units.flow.symbol,
                shown_at(
                    Quantity::Temperature,
                    stream.celsius + water::ZERO_CELSIUS,
                    self.style.units,
                    3
                )
            )
        };
        paragraph(
            text,
            "",
            &format!(
                "Meters at the stream's own temperature would read: makeup {}, blowdown {}.",
                metered(&sheet.makeup),
                metered(sheet.outflow(Outflow::Blowdown))
            ),
        );
    }

    fn periods(&self, text: &mut String, sheet: &BalanceSheet) {
        let period = &sheet.period;
        let load = if period.load_factor < 1.0 {
            let blowdown = match period.holds_cycles {
                true => "the blowdown holds the cycles",
                false => "the blowdown stays as it is",
            };
            format!(
                " at a load factor of {}: evaporation goes with the load, {blowdown}, drift and leaks go on",
                significant(period.load_factor, 3)
            )
        } else {
            String::new()
        };
        self.heading(text, "IF EVERY HOUR WERE LIKE THIS ONE");
        let digits = self.digits(sheet);
        let (day_unit, day_name) = self.units.day;
        let (year_unit, year_name) = self.units.year;
        let per_day: Vec<f64> =
            sheet.out.iter().map(|s| 24.0 * s.reference_m3_per_h / day_unit).collect();
        let per_year: Vec<f64> =
            Outflow::ALL.iter().map(|stream| period.yearly_m3(*stream) / year_unit).collect();
        let (day, year) = (column(&per_day, digits), column(&per_year, digits));
        let percent = |part: f64| significant(100.0 * part, 3);
        let solids = |part: Option<f64>| part.map_or("-".to_string(), percent);
        let _ = writeln!(
            text,
            "{:<14}\u{1f}{day_name:>13}\u{1f}{year_name:>18}\u{1f}{:>13}\u{1f}{:>10}\u{1f}{:>10}",
            "", "% of circ.", "% makeup", "% solids"
        );
        end_of_head(text);
        let mut line = |name: &str, day: &str, year: &str, stream: &Stream| {
            let _ = writeln!(
                text,
                "{name:<14}\u{1f}{day:>13}\u{1f}{year:>18}\u{1f}{:>13}\u{1f}{:>10}\u{1f}{:>10}",
                percent(stream.of_circulation),
                percent(stream.of_makeup),
                solids(stream.of_solids)
            );
        };
        for ((stream, day), year) in sheet.out.iter().zip(&day.parts).zip(&year.parts) {
            line(stream.name.name(), day, year, stream);
        }
        line("makeup", &day.total, &year.total, &sheet.makeup);
        paragraph(
            text,
            "",
            &format!(
                "A day of 24 h; a year of {} h{load}. Solids: the part of the makeup's dissolved solids that leaves this way.",
                significant(period.hours_per_year, 4)
            ),
        );
    }

    fn money(&self, text: &mut String, sheet: &BalanceSheet) {
        if let Some(money) = &sheet.money {
            super::money::write(text, money, &sheet.currency, self.style.bold);
        }
    }

    fn methods(&self, text: &mut String, sheet: &BalanceSheet) {
        self.heading(text, "EVAPORATION BY METHOD");
        let unit = self.units.flow.symbol;
        let _ = writeln!(
            text,
            "  {:<18}\u{1f}{:<31}\u{1f}{unit:>9}\u{1f}{:>9}\u{1f}{:>9}",
            "", "", "% circ.", "KaV/L"
        );
        end_of_head(text);
        let circulation = sheet.state().circulation_kg_per_s;
        for method in &sheet.methods {
            let mark = if method.name == sheet.used { '>' } else { ' ' };
            let lead = format!("{mark} {:<18}\u{1f}{:<31}", method.name.key(), method.name.title());
            match &method.evaporation_kg_per_s {
                Ok(kg_per_s) => {
                    let number =
                        method.exchange.map_or(String::new(), |e| significant(e.merkel_number, 3));
                    write_line(
                        text,
                        &format!(
                            "{lead}\u{1f}{:>9}\u{1f}{:>9}\u{1f}{number:>9}",
                            significant(self.flow(super::m3_per_h(*kg_per_s)), 4),
                            significant(100.0 * kg_per_s / circulation, 3),
                        ),
                    );
                }
                Err(why) => {
                    paragraph(text, "    ", &format!("{}: no answer, {why}", method.name.key()))
                }
            }
        }
        paragraph(text, "", &reason(sheet));
    }

    fn cells(&self, text: &mut String, sheet: &BalanceSheet) {
        let out = &sheet.cells_out_of_service;
        if sheet.cells.len() < 2 && out.is_empty() {
            return;
        }
        self.heading(text, "CELLS");
        let unit = self.units.flow.symbol;
        let _ = writeln!(
            text,
            "{:<18}\u{1f}{:<13}\u{1f}{:>10}\u{1f}{:>8}\u{1f}{:>13}\u{1f}{:>9}\u{1f}{:>9}",
            "", "", "water", "L/G", "evaporation", "drift", "KaV/L"
        );
        let _ = writeln!(
            text,
            "{:<18}\u{1f}{:<13}\u{1f}{unit:>10}\u{1f}{:>8}\u{1f}{unit:>13}\u{1f}{unit:>9}",
            "", "", ""
        );
        end_of_head(text);
        for cell in &sheet.cells {
            let arrangement = match cell.arrangement {
                crate::tower::Arrangement::Counterflow => "counterflow",
                crate::tower::Arrangement::Crossflow => "crossflow",
            };
            let exchange = match sheet.used {
                MethodName::Method(crate::site::Method::Merkel) => cell.merkel,
                _ => cell.poppe,
            };
            let flow = |kg_per_s, digits| significant(self.flow(super::m3_per_h(kg_per_s)), digits);
            write_line(
                text,
                &format!(
                    "{:<18}\u{1f}{arrangement:<13}\u{1f}{:>10}\u{1f}{:>8}\u{1f}{:>13}\u{1f}{:>9}\u{1f}{:>9}",
                    clipped(&cell.name, 17),
                    flow(cell.state.water_kg_per_s, 4),
                    cell.state.water_to_air.map_or("-".into(), |ratio| significant(ratio, 3)),
                    flow(cell.evaporation_kg_per_s, 4),
                    flow(cell.state.drift_fraction * cell.state.water_kg_per_s, 2),
                    exchange.map_or("-".into(), |e| significant(e.merkel_number, 3)),
                ),
            );
        }
        if !out.is_empty() {
            paragraph(text, "", &format!("out of service: {}", out.join(", ")));
        }
    }

    fn details(&self, text: &mut String, sheet: &BalanceSheet) {
        for (title, table) in [("WATER", "circuit."), ("ENTERING AIR", "air."), ("TOWER", "tower.")]
        {
            let rows: Vec<Row> =
                rows(sheet).into_iter().filter(|row| row.key.starts_with(table)).collect();
            if rows.is_empty() {
                continue;
            }
            self.heading(text, title);
            for row in rows {
                let shown = shown_at(row.quantity(), row.si, self.style.units, 4);
                write_line(text, &format!("{:<34}\u{1f}{shown:>18}", row.label));
            }
        }
        let has_heat = sheet.exchange().is_some();
        if has_heat {
            paragraph(
                text,
                "",
                "The air takes up more heat than the water gives up by cooling: the evaporated water leaves with its own.",
            );
        }
    }

    fn leak(&self, text: &mut String, sheet: &BalanceSheet) {
        let Some(LeakReadings { held, fixed }) = &sheet.leak else { return };
        self.heading(text, "WHAT THE LEAKAGE AND OVERFLOW DO");
        let flow = |kg_per_s: f64| {
            format!(
                "{} {}",
                significant(self.flow(super::m3_per_h(kg_per_s)), 4),
                self.units.flow.symbol
            )
        };
        let hidden = if held.losses_exceed_blowdown {
            format!(
                "A controller that holds the cycles shuts the blowdown, and still makeup rises to {} and the cycles fall to {}.",
                flow(held.makeup_kg_per_s),
                cycles_text(held.cycles_of_concentration)
            )
        } else {
            format!(
                "A controller that holds the cycles closes the blowdown by as much, to {}: makeup stays at {} and hides the loss.",
                flow(held.blowdown_kg_per_s),
                flow(held.makeup_kg_per_s)
            )
        };
        let seen = format!(
            "A valve that stays as it was lets makeup rise to {} and the cycles fall to {}.",
            flow(fixed.makeup_kg_per_s),
            cycles_text(fixed.cycles_of_concentration)
        );
        match sheet.control {
            Some(Control::Conductivity) => paragraph(text, "", &hidden),
            Some(_) => paragraph(text, "", &seen),
            None => {
                paragraph(
                    text,
                    "",
                    "How the blowdown is controlled is not stated, so both readings:",
                );
                paragraph(text, "  ", &hidden);
                paragraph(text, "  ", &seen);
            }
        }
    }

    fn warnings(&self, text: &mut String, sheet: &BalanceSheet) {
        if sheet.warnings.is_empty() {
            return;
        }
        self.heading(text, "WARNINGS");
        for raised in &sheet.warnings {
            paragraph(
                text,
                "",
                &format!(
                    "{}: {}",
                    raised.warning.id,
                    warning_text(raised, sheet, self.style.units)
                ),
            );
            paragraph(
                text,
                "  ",
                &format!("Usual: {} ({}).", raised.warning.usual, raised.warning.source),
            );
            paragraph(text, "  ", &format!("Look at: {}.", raised.warning.advice));
        }
    }

    fn assumptions(&self, text: &mut String, sheet: &BalanceSheet) {
        let assumed: Vec<_> =
            sheet.assumptions().filter(|(value, _)| is_worth_telling(value, sheet)).collect();
        let arrangement = sheet.arrangement_is_assumed && has_transfer(sheet);
        if assumed.is_empty() && !arrangement {
            return;
        }
        self.heading(text, "ASSUMED");
        for (value, basis) in assumed {
            paragraph(
                text,
                "",
                &format!("{} = {}: {basis}", value.path, assumed_text(value, self.style.units)),
            );
        }
        if arrangement {
            paragraph(text, "", "cell arrangement = counterflow: not stated");
        }
    }

    fn uncertainty(&self, text: &mut String, sheet: &BalanceSheet) {
        let largest = sheet.spread.largest_first(crate::model::Output::Makeup);
        let square = |effect: f64| effect * effect;
        let sum: f64 = largest.iter().map(|(_, effect)| square(*effect)).sum();
        if sum <= 0.0 {
            return;
        }
        text.push('\n');
        let from: Vec<String> = largest
            .iter()
            .take(3)
            .filter(|(_, effect)| square(*effect) / sum > 0.01)
            .map(|(slot, effect)| {
                format!(
                    "{} {} %",
                    sheet.inputs[slot.0].path,
                    significant(100.0 * square(*effect) / sum, 2)
                )
            })
            .collect();
        paragraph(
            text,
            "",
            &format!(
                "± is the expanded uncertainty (k=2, about 95 %) from the inputs, not from the method. That of the makeup comes from {} (parts of the sum of squares). {}",
                from.join(", "),
                super::uncertain::correlations(&sheet.inputs, &sheet.spread)
            ),
        );
        let one_sided: Vec<&str> = sheet
            .spread
            .contributions
            .iter()
            .filter(|contribution| contribution.one_sided)
            .map(|contribution| sheet.inputs[contribution.slot.0].path.as_str())
            .collect();
        if !one_sided.is_empty() {
            paragraph(
                text,
                "",
                &format!(
                    "One-sided, because the other side has no balance: {}.",
                    one_sided.join(", ")
                ),
            );
        }
    }

    fn caution(&self, text: &mut String) {
        text.push('\n');
        paragraph(text, "", &format!("Caution: {AEROSOL_CAUTION}"));
    }

    fn summary_line(&self, text: &mut String, name: &str, m3_per_h: [f64; 3], cycles: &str) {
        let [makeup, evaporation, blowdown] = m3_per_h.map(|flow| significant(self.flow(flow), 4));
        write_line(
            text,
            &format!(
                "  {:<26}\u{1f}{makeup:>13}\u{1f}{evaporation:>13}\u{1f}{blowdown:>13}\u{1f}{cycles:>8}",
                clipped(name, 25)
            ),
        );
    }
}

/// Why the sheet uses its method.
fn reason(sheet: &BalanceSheet) -> String {
    let name = sheet.used.key();
    let why = match sheet.used {
        MethodName::Given => "it is stated",
        _ if sheet.method_is_asked => "the site file asks for it",
        MethodName::Method(crate::site::Method::Poppe) => {
            "air and water temperatures are known, and it is the fullest method"
        }
        _ => "air or water temperatures are not known, and transfer cannot be computed",
    };
    format!("The sheet uses {name}, because {why}.")
}

/// The value of a warning, with what the loss comes to where it is one.
pub(crate) fn warning_text(raised: &Raised, sheet: &BalanceSheet, units: UnitSystem) -> String {
    let warning = raised.warning;
    let mut text =
        format!("{} = {}", warning.subject, shown_at(warning.quantity, raised.value, units, 3));
    if warning.is_drift_loss {
        let yearly = sheet.period.yearly_m3(Outflow::Drift);
        let volume = match units {
            UnitSystem::Si => format!("{} m3", significant(yearly, 3)),
            UnitSystem::UsCustomary => {
                format!(
                    "{} thousand US gal",
                    significant(yearly / (1e3 * unit::US_GALLON.factor), 3)
                )
            }
        };
        let _ = write!(text, ": {volume} a year");
        if let Some(price) = sheet.makeup_price_per_m3 {
            let _ = write!(text, ", {} of makeup", money(price * yearly, 3, &sheet.currency));
        }
    }
    text
}

fn money(amount: f64, digits: i32, currency: &str) -> String {
    let step = 10f64.powi(amount.abs().max(1.0).log10().floor() as i32 + 1 - digits).max(1.0);
    let rounded = with_decimals((amount / step).round() * step, 0);
    if currency.is_empty() {
        format!("{rounded} (currency of the price)")
    } else {
        format!("{rounded} {currency}")
    }
}

/// Whether any method of the sheet looks at the air in the cells.
fn has_transfer(sheet: &BalanceSheet) -> bool {
    sheet.methods.iter().any(|method| method.exchange.is_some())
        || sheet.cells.iter().any(|cell| cell.poppe.is_some())
}

/// Whether an assumption bears on this sheet: zero losses, a single share and full load do not need
/// telling.
fn is_worth_telling(value: &Value, sheet: &BalanceSheet) -> bool {
    let is_single = sheet.cells.len() == 1 && value.path.starts_with("cell.");
    let is_only_source = sheet.sources.len() == 1 && value.path.starts_with("makeup.");
    let is_unused_air = !has_transfer(sheet) && value.path.ends_with(".water_to_air");
    !(is_unused_air
        || value.path.starts_with("losses.")
        || value.path == "circuit.load_factor"
        || (value.path.ends_with(".share") && (is_single || is_only_source)))
}

pub(super) fn assumed_text(value: &Value, units: UnitSystem) -> String {
    let unit = value.shown_in(units);
    match value.uncertainty {
        None => shown_at(value.quantity, value.si, units, 3),
        Some(uncertainty) => format!(
            "{} ± {} {}",
            significant(unit.of_si(value.si), 3),
            significant(uncertainty.half_width / unit.factor.abs(), 2),
            unit.symbol
        )
        .trim_end()
        .to_string(),
    }
}

/// A value with its unit.
pub(crate) fn shown_at(quantity: Quantity, si: f64, units: UnitSystem, digits: usize) -> String {
    let unit = quantity.shown_in(units);
    let number = match quantity {
        // Thermometers: a tenth of a degree, whatever the scale.
        Quantity::Temperature => with_decimals(unit.of_si(si), 1),
        _ => significant(unit.of_si(si), digits),
    };
    let symbol = match unit.symbol {
        "degC" => "°C",
        "degF" if quantity == Quantity::Temperature => "°F",
        "degF" => "°F",
        other => other,
    };
    if symbol.is_empty() { number } else { format!("{number} {symbol}") }
}

pub(crate) fn cycles_text(cycles: f64) -> String {
    if cycles.is_finite() { significant(cycles, 3) } else { "no limit".into() }
}

/// A name cut to a width.
fn clipped(name: &str, width: usize) -> String {
    if name.chars().count() <= width {
        return name.to_string();
    }
    name.chars().take(width - 1).chain(['…']).collect()
}

/// A page's first two lines: whose it is, and what it shows of which file.
pub(super) fn page_head(text: &mut String, (name, source): (&str, &str), what: &str, bold: bool) {
    let name = if name.is_empty() { source } else { name };
    let name = if bold { format!("\x1b[1m{name}\x1b[0m") } else { name.to_string() };
    let version = env!("CARGO_PKG_VERSION");
    let _ = writeln!(text, "{name}\n{what} from {source}, coldbasin {version}");
}

/// A heading after an empty line.
pub(super) fn heading(text: &mut String, title: &str, bold: bool) {
    let title = if bold { format!("\x1b[1m{title}\x1b[0m") } else { title.to_string() };
    let _ = writeln!(text, "\n{HEADING}{title}");
}

/// A line without blanks at its end.
pub(super) fn write_line(text: &mut String, line: &str) {
    let _ = writeln!(text, "{}", line.trim_end());
}

/// Words wrapped at the page's width, every line after the indent; a % sign stays with its number.
pub(super) fn paragraph(text: &mut String, indent: &str, words: &str) {
    const TOGETHER: &str = "\u{a0}";
    let words = words.replace(" %", &format!("{TOGETHER}%"));
    let write_line = |text: &mut String, line: &str| write_line(text, &line.replace(TOGETHER, " "));
    text.push(PARAGRAPH);
    let mut line = indent.to_string();
    for word in words.split([' ', '\n']).filter(|word| !word.is_empty()) {
        let is_empty = line.len() == indent.len();
        if !is_empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            write_line(text, &line);
            line = format!("{indent}{word}");
        } else {
            if !is_empty {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    write_line(text, &line);
}

/// An equation in its general form, with its numbers, and where it is published.
pub(super) fn equation(text: &mut String, lines: &[String], source: &str) {
    for (index, line) in lines.iter().enumerate() {
        paragraph(text, if index == 0 { "" } else { "  " }, line);
    }
    paragraph(text, "    ", source);
}

/// An equation with the numbers in the places of its names, to the nine digits that make the five of
/// the result come out; nothing where a name has no number.
#[cfg(feature = "files")]
pub(super) fn evaluated(
    text: &mut String,
    formula: &Equation,
    number: impl Fn(&str) -> Option<f64>,
    (result, unit): (f64, &str),
) {
    let numbers = formula.with_numbers(|name| number(name).map(|number| significant(number, 9)));
    if let Some(numbers) = numbers {
        let result = format!("= {} {unit}", significant(result, 5));
        equation(text, &[formula.text.to_owned(), format!("= {numbers}"), result], formula.source);
    }
}

/// Text for terminals that print nothing but ASCII.
pub(super) fn ascii(text: &str) -> String {
    text.replace('±', "+-")
        .replace('°', "deg")
        .replace('…', ".")
        .replace('ö', "oe")
        .replace('ä', "ae")
}
