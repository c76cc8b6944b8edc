//! What is fed, as people and programs read it.

use super::page::{Block, Column, Page, Table, Words, constant, number, words};
use super::shown::{self, COVERAGE, amount, clipped, flow, percent, shown_at, with_uncertainty};
use super::uncertain;
use super::warnings::{self, NoticeOut, notices_out};
use crate::feed::{HYDROCHLORIC_ACID, SOURCE, SULFURIC_ACID, Slug};
use crate::model::{CONTACT_HOURS, FeedLine, FeedSheet, Uncertain, VALVE_OVER_MEAN};
use crate::quantity::{Quantity, UnitSystem, significant, unit, with_decimals};
use crate::site::{Acid, ChemicalKind};
use serde::Serialize;

const CAUTION: &str = "acids, biocides and oxidants burn and poison, and some make toxic gas together: keep to the \
safety data sheets, never mix products, and let trained people handle and feed them. A dose is no proof of control: \
test residuals and bacteria as the water management plan and the local code ask. Discharge only as the permit allows.";

/// The page; `source` names the file, `sure` are the uncertainties of what is fed.
pub fn page(sheet: &FeedSheet, source: &str, sure: &[Uncertain], units: UnitSystem) -> Page {
    let mut page = Page::new(&sheet.name, "Chemical feed", source);
    let of = Of { sheet, sure, units, shown: Shown::of(units) };
    page.answer = [
        vec![Block::heading("ANSWER"), Block::paragraph(of.state()), Block::Table(of.table())],
        sheet.lines.iter().filter_map(|feed| of.pump(feed)).map(Block::paragraph).collect(),
        sheet.lines.iter().filter_map(|feed| of.slug(feed)).map(Block::paragraph).collect(),
        of.cost().map(Block::paragraph).into_iter().collect(),
        of.assumed().map(Block::paragraph).into_iter().collect(),
        warnings::blocks(&sheet.notices()),
        vec![Block::Caution(CAUTION.into())],
    ]
    .concat();
    page.detail.push(Block::heading("HOW"));
    page.detail.extend(sheet.lines.iter().map(|feed| Block::paragraph(of.explained(feed))));
    page.detail.extend(of.brings());
    page.detail.push(Block::paragraph(words!["Formulas: ", constant(SOURCE), "."]));
    page.detail.push(Block::paragraph(of.year()));
    page.detail.extend(uncertain::blocks(sure, &sheet.currency, units));
    page
}

/// The units of what is fed.
struct Shown {
    /// Symbol, and kg in one.
    mass: (&'static str, f64),
    /// Symbol, and L in one.
    liquid: (&'static str, f64),
}

impl Shown {
    fn of(units: UnitSystem) -> Self {
        match units {
            UnitSystem::Si => Self { mass: ("kg", 1.0), liquid: ("L", 1.0) },
            UnitSystem::UsCustomary => Self {
                mass: ("lb", unit::POUND_PER_DAY.factor / unit::KILOGRAM_PER_DAY.factor),
                liquid: ("US gal", 1e3 * unit::US_GALLON.factor),
            },
        }
    }

    fn mass(&self, kg: f64) -> String {
        significant(kg / self.mass.1, 3)
    }

    fn liquid(&self, litre: f64) -> String {
        significant(litre / self.liquid.1, 3)
    }
}

/// m3/h.
fn makeup(sheet: &FeedSheet) -> f64 {
    sheet.circuit.evaporation + sheet.circuit.other_losses + sheet.blowdown
}

/// All liquid that leaves, m3/h.
fn liquid(sheet: &FeedSheet) -> f64 {
    sheet.blowdown + sheet.circuit.other_losses
}

/// What all chemicals with a price cost in a year.
fn cost(sheet: &FeedSheet) -> Option<f64> {
    let total: f64 = sheet.lines.iter().filter_map(|feed| feed.cost_per_year).sum();
    (total > 0.0).then_some(total)
}

fn hours(hours: f64) -> String {
    shown::hours(hours, 2)
}

fn milligram(dose: f64) -> String {
    format!("{} mg/L", significant(dose, 3))
}

struct Of<'a> {
    sheet: &'a FeedSheet,
    sure: &'a [Uncertain],
    units: UnitSystem,
    shown: Shown,
}

impl Of<'_> {
    /// The expanded uncertainty of a result, where it has one that shows.
    fn expanded(&self, key: &str) -> Option<f64> {
        uncertain::notable(self.sure, key).map(|found| COVERAGE * found.standard)
    }

    fn flow(&self, key: &'static str, m3_per_h: f64) -> Words {
        number(key, flow(m3_per_h, self.units, 3)).into()
    }

    fn volume(&self) -> Words {
        let volume = self.sheet.circuit.volume;
        number("volume_m3", shown_at(Quantity::Volume, volume, self.units, 3)).into()
    }

    fn state(&self) -> Words {
        let sheet = self.sheet;
        let apparent = if sheet.cycles_are_apparent { " apparent" } else { "" };
        let cycles = match sheet.cycles.is_finite() {
            true => words![
                "At ",
                number("cycles_of_concentration", with_decimals(sheet.cycles, 2)),
                apparent,
                " cycles, makeup "
            ],
            false => "No liquid leaves, the cycles have no limit: makeup ".into(),
        };
        words![
            cycles,
            self.flow("makeup_m3_per_h", makeup(sheet)),
            " and blowdown ",
            self.flow("blowdown_m3_per_h", sheet.blowdown),
            ", feed of each product:"
        ]
    }

    fn table(&self) -> Table {
        let mut table = Table::new([
            Column::left(16),
            Column::left(10),
            Column::right(14),
            Column::right(12),
            Column::right(8),
            Column::right(11),
            Column::right(9),
        ]);
        let (mass, liquid) = (self.shown.mass.0, self.shown.liquid.0);
        table.head(["", "", "", "", "", "for makeup", ""]);
        table.head([
            String::new(),
            String::new(),
            format!("{mass}/day"),
            format!("{liquid}/day"),
            "mL/min".into(),
            self.by_makeup().0.into(),
            format!("{mass}/year"),
        ]);
        for feed in &self.sheet.lines {
            let volume = feed.product_litre_per_day;
            let pumped = volume.filter(|_| feed.slug.is_none());
            let of_kg = 1.0 / self.shown.mass.1;
            let day = match self.expanded(&format!("{}_kg_per_day", feed.name)) {
                Some(expanded) => {
                    with_uncertainty(of_kg * feed.product_kg_per_day, of_kg * expanded)
                }
                None => self.shown.mass(feed.product_kg_per_day),
            };
            let or_none = |key, litre: Option<f64>| -> Words {
                litre.map_or("-".into(), |litre| number(key, self.shown.liquid(litre)).into())
            };
            table.row([
                Words::given(&clipped(&feed.name, 15)),
                kind_name(feed.kind).into(),
                number("chemicals.product_kg_per_day", day).into(),
                or_none("chemicals.product_l_per_day", volume),
                pumped.map_or("-".into(), |litre| {
                    let shown = significant(litre / 1.44, 3);
                    number("chemicals.product_ml_per_min", shown).into()
                }),
                feed.product_g_per_m3_makeup.map_or("-".into(), |product| {
                    let shown = significant(product / self.by_makeup().1, 3);
                    number("chemicals.product_g_per_m3_makeup", shown).into()
                }),
                number("chemicals.product_kg_per_year", self.shown.mass(feed.product_kg_per_year))
                    .into(),
            ]);
        }
        table
    }

    /// The unit of product for makeup, and g/m3 in one.
    fn by_makeup(&self) -> (&'static str, f64) {
        match self.units {
            UnitSystem::Si => ("g/m3", 1.0),
            UnitSystem::UsCustomary => {
                let thousand = 1e3 * unit::US_GALLON.factor;
                ("lb/kgal", 1e3 * self.shown.mass.1 / thousand)
            }
        }
    }

    /// What each stated pump is set to.
    fn pump(&self, feed: &FeedLine) -> Option<Words> {
        let full = feed.pump_litre_per_hour?;
        let minutes = number(
            "chemicals.pump_minutes",
            format!("{} min", significant(feed.pump_minutes()?, 3)),
        );
        let full = number("chemicals.pump_l_per_h", format!("{} L/h", significant(full, 3)));
        let name = Words::given(&feed.name);
        if feed.slug.is_some() {
            return Some(words![name, ": a pump of ", full, " gives a slug in ", minutes, "."]);
        }
        let stroke = feed.stroke().filter(|stroke| *stroke <= 1.0)?;
        Some(words![
            name,
            ": set a pump of ",
            full,
            " to ",
            number("chemicals.stroke", percent(stroke, 2)),
            " of its full rate, or let it run at full rate ",
            minutes,
            " a day by a timer, in many short turns."
        ])
    }

    /// What a litre, or a kg, of each product brings.
    fn brings(&self) -> Vec<Block> {
        let lines: Vec<Block> = self
            .sheet
            .lines
            .iter()
            .filter(|feed| !feed.brings.is_empty())
            .map(|feed| {
                let salts = feed.brings.iter().map(|salt| {
                    let g = significant(feed.density.unwrap_or(1.0) * salt.g_per_kg, 3);
                    let water = words![
                        " (",
                        number("brings.mg_per_l", milligram(salt.milligram_per_litre)),
                        " in the water)"
                    ];
                    let key = match feed.density {
                        Some(_) => "brings.g_per_l_product",
                        None => "brings.g_per_kg_product",
                    };
                    words![
                        salt.ion.name(),
                        " ",
                        number(key, format!("{g} g")),
                        " as ",
                        constant(salt.ion.basis().formula()),
                        salt.milligram_per_litre.is_finite().then_some(water)
                    ]
                });
                let of = if feed.density.is_some() { ", a litre: " } else { ", a kg: " };
                Block::paragraph(words![
                    Words::given(&feed.name),
                    of,
                    Words::joined(salts, ", "),
                    "."
                ])
            })
            .collect();
        let heading = Block::heading("WHAT THE PRODUCTS BRING");
        if lines.is_empty() { lines } else { [vec![heading], lines].concat() }
    }

    /// What to do for a slug.
    fn slug(&self, feed: &FeedLine) -> Option<Words> {
        let slug = feed.slug.as_ref()?;
        let product = self.shown.mass(feed.slug_product_kg.unwrap_or(0.0));
        let given = words![
            Words::given(&feed.name),
            ": a slug of ",
            number("chemicals.slug_product_kg", format!("{product} {}", self.shown.mass.0)),
            " of product every ",
            number("chemicals.every_h", hours(feed.every_hours.unwrap_or(0.0)))
        ];
        let bleed = slug.pre_bleed.map(|before| {
            words![
                " Before it bleed down to ",
                number("chemicals.pre_bleed_cycles", with_decimals(before.cycles, 2)),
                " cycles, ",
                number("chemicals.pre_bleed_h", hours(before.hours)),
                " with the valve open."
            ]
        });
        let lock = number("chemicals.locked_h", hours(slug.locked_hours));
        Some(words![given, ".", bleed, " Then keep the blowdown shut for ", lock, "."])
    }

    fn cost(&self) -> Option<Words> {
        let total = cost(self.sheet)?;
        let shown = match self.expanded("cost_per_year") {
            Some(expanded) => with_uncertainty(total, expanded),
            None => amount(total),
        };
        let currency = match self.sheet.currency.as_str() {
            "" => Words::default(),
            currency => Words::given(&format!(" {currency}")),
        };
        Some(words![
            "Cost: ",
            number("cost_per_year", shown),
            currency,
            " a year for those with a price",
            uncertain::notable(self.sure, "cost_per_year").map(|cost| {
                let assumed = cost.rests_on_defaults.then_some(", assumed");
                words![" (±: ", constant("95 %"), assumed, ")"]
            }),
            "."
        ])
    }

    /// What nobody stated.
    fn assumed(&self) -> Option<Words> {
        let valve = self.sheet.valve_is_assumed.then(|| {
            let times = constant(VALVE_OVER_MEAN.to_string());
            words!["the open valve passes ", times, " times the mean blowdown (state valve_flow)"]
        });
        let is_assumed = self.sheet.lines.iter().any(|feed| feed.contact_is_assumed);
        let contact = is_assumed.then(|| {
            let contact = constant(hours(CONTACT_HOURS));
            words![contact, " of contact for a slug (common practice; state contact)"]
        });
        let said: Vec<Words> = valve.into_iter().chain(contact).collect();
        let said = (!said.is_empty()).then(|| words!["Assumed: ", Words::joined(said, "; "), "."]);
        let unstated = uncertain::unstated_line(self.sure, self.units);
        let all = Words::joined(said.into_iter().chain(unstated), " ");
        (!all.is_empty()).then_some(all)
    }

    /// What days and years are.
    fn year(&self) -> Words {
        let (year, load) = self.sheet.year;
        words![
            "Day: ",
            constant("24 h"),
            " of this load. Year: ",
            number("hours_per_year", shown::hours(year, 4)),
            " at ",
            number("load_factor", percent(load, 3)),
            " of its evaporation; leaks, drift and slugs whatever the load."
        ]
    }

    /// Where a line comes from.
    fn explained(&self, feed: &FeedLine) -> Words {
        let name = Words::given(&feed.name);
        let dose = feed.dose.map(|dose| number("chemicals.dose_mg_per_l", milligram(dose)));
        let product = match feed.strength < 1.0 {
            true => {
                let strength = percent(feed.strength, 3);
                words![", ", number("chemicals.strength", strength), " of the product"]
            }
            false => ", counted as product".into(),
        };
        let liquid = self.flow("liquid_m3_per_h", liquid(self.sheet));
        match feed.kind {
            ChemicalKind::Inhibitor => words![
                name,
                ": ",
                dose,
                product,
                ", in all liquid that leaves (blowdown, drift, leakage, overflow), ",
                liquid,
                (feed.decay > 0.0).then_some(", and what decays in the volume"),
                "."
            ],
            ChemicalKind::Oxidant => words![
                name,
                ": ",
                number("chemicals.demand_mg_per_l", milligram(feed.demand.unwrap_or(0.0))),
                " that the makeup uses up, ",
                self.flow("makeup_m3_per_h", makeup(self.sheet)),
                ", and a residual of ",
                dose,
                product,
                ", in all liquid that leaves, ",
                liquid,
                ", and against its decay in ",
                self.volume(),
                "."
            ],
            ChemicalKind::Acid => words![name, ": ", self.acid(feed, product)],
            ChemicalKind::Biocide => {
                let kept = feed.slug.as_ref().map(|slug| self.kept(slug));
                words![name, ": a slug makes ", dose, " in ", self.volume(), ".", kept]
            }
        }
    }

    fn acid(&self, feed: &FeedLine, product: Words) -> Words {
        let sheet = self.sheet;
        let Some(ph) = sheet.held_ph else {
            return words![
                "no pH is held, so none is fed; write ",
                constant("[ph] held = 8.0"),
                "."
            ];
        };
        let name = match feed.acid {
            Some(Acid::Hydrochloric) => "hydrochloric acid",
            _ => "sulfuric acid",
        };
        let meq = significant(feed.acid_meq_per_litre.unwrap_or(0.0), 3);
        words![
            number("chemicals.acid_meq_per_l_makeup", format!("{meq} meq")),
            " of ",
            name,
            " for a litre of makeup holds pH ",
            number("held_ph", with_decimals(ph, 2)),
            " at ",
            number("cycles_of_concentration", with_decimals(sheet.cycles, 2)),
            " cycles",
            product,
            "."
        ]
    }

    /// What a slug does to the cycles, and for how long it works.
    fn kept(&self, slug: &Slug) -> Words {
        let lock = words![
            " Its lock adds ",
            number("chemicals.lock_adds_cycles", with_decimals(slug.rise, 2)),
            " cycles"
        ];
        let end = match slug.pre_bleed {
            Some(_) => words![
                ", so that it ends at ",
                number("cycles_of_concentration", with_decimals(self.sheet.cycles, 2)),
                " after the bleed-down."
            ],
            None => ".".into(),
        };
        let works = slug.hours_effective.map(|works| match works.is_finite() {
            true => words![
                " It stays above what works for ",
                number("chemicals.effective_h", hours(works)),
                "."
            ],
            false => " Nothing takes it below what works.".into(),
        });
        words![lock, end, works]
    }
}

fn kind_name(kind: ChemicalKind) -> &'static str {
    match kind {
        ChemicalKind::Inhibitor => "inhibitor",
        ChemicalKind::Biocide => "biocide",
        ChemicalKind::Oxidant => "oxidant",
        ChemicalKind::Acid => "acid",
    }
}

/// Each chemical's formula with its numbers.
pub fn working(sheet: &FeedSheet) -> Vec<Block> {
    let heading = Block::heading("WORKING (kg/day, mg/L, m3/h, m3, 1/h)");
    let equations = sheet.lines.iter().map(|feed| equation(feed, sheet));
    [heading].into_iter().chain(equations).collect()
}

fn equation(feed: &FeedLine, sheet: &FeedSheet) -> Block {
    let six = |number: f64| significant(number, 6);
    let dose = six(feed.dose.unwrap_or(0.0));
    let [makeup, liquid, volume, decay] =
        [makeup(sheet), liquid(sheet), sheet.circuit.volume, feed.decay].map(six);
    let (rule, numbers) = match feed.kind {
        ChemicalKind::Inhibitor => (
            "active = 0.024 * dose * (liquid + decay * volume)",
            format!("= 0.024 * {dose} * ({liquid} + {decay} * {volume})"),
        ),
        ChemicalKind::Oxidant => (
            "active = 0.024 * (demand * makeup + residual * (liquid + decay * volume))",
            format!(
                "= 0.024 * ({} * {makeup} + {dose} * ({liquid} + {decay} * {volume}))",
                six(feed.demand.unwrap_or(0.0)),
            ),
        ),
        ChemicalKind::Acid => (
            "active = 0.024 * makeup * meq * equivalent_mass",
            format!(
                "= 0.024 * {makeup} * {} * {}",
                six(feed.acid_meq_per_litre.unwrap_or(0.0)),
                six(match feed.acid {
                    Some(Acid::Hydrochloric) => HYDROCHLORIC_ACID,
                    _ => SULFURIC_ACID,
                })
            ),
        ),
        ChemicalKind::Biocide => (
            "active = 0.001 * dose * volume * 24 / every",
            format!(
                "= 0.001 * {dose} * {volume} * 24 / {}",
                six(feed.every_hours.unwrap_or(f64::INFINITY))
            ),
        ),
    };
    let lines = [
        words![Words::given(&feed.name), ": ", rule],
        numbers.into(),
        format!("= {} kg/day", significant(feed.active_kg_per_day, 5)).into(),
        format!(
            "product = active / strength = {} / {} = {} kg/day",
            six(feed.active_kg_per_day),
            six(feed.strength),
            significant(feed.product_kg_per_day, 5)
        )
        .into(),
    ];
    Block::Equation { lines: lines.into(), source: SOURCE.into() }
}

/// The feed for programs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct FeedOut {
    /// Version of this form.
    pub schema: u32,
    /// Program and version.
    pub program: String,
    /// Name of the site.
    pub site: String,
    /// Where the description came from.
    pub source: String,
    /// None where no liquid leaves.
    pub cycles_of_concentration: Option<f64>,
    /// Whether the cycles rest on a ratio of conductivities.
    pub cycles_are_apparent: bool,
    /// m3/h.
    pub makeup_m3_per_h: f64,
    /// m3/h.
    pub blowdown_m3_per_h: f64,
    /// All liquid that leaves, m3/h.
    pub liquid_m3_per_h: f64,
    /// Water in the system, m3; 0 where nothing asks for it.
    pub volume_m3: f64,
    /// pH that acid holds.
    pub held_ph: Option<f64>,
    /// Hours of an operating year.
    pub hours_per_year: f64,
    /// Mean load over them.
    pub load_factor: f64,
    /// Chemicals that have a price, in the site's currency.
    pub cost_per_year: Option<f64>,
    /// The site's currency.
    pub currency: String,
    /// Whether nobody stated what the open valve passes.
    pub valve_is_assumed: bool,
    /// What may look wrong.
    pub warnings: Vec<NoticeOut>,
    /// Every chemical.
    pub chemicals: Vec<LineOut>,
    /// What their products bring into the water.
    pub brings: Vec<BroughtOut>,
}

/// One chemical.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LineOut {
    /// Name.
    pub name: String,
    /// `inhibitor`, `biocide`, `oxidant` or `acid`.
    pub kind: &'static str,
    /// mg/L of active substance.
    pub dose_mg_per_l: Option<f64>,
    /// kg/d of active substance.
    pub active_kg_per_day: f64,
    /// kg/d of product.
    pub product_kg_per_day: f64,
    /// L/d of product.
    pub product_l_per_day: Option<f64>,
    /// kg of product in a year.
    pub product_kg_per_year: f64,
    /// In the site's currency.
    pub cost_per_year: Option<f64>,
    /// meq for a litre of makeup.
    pub acid_meq_per_l_makeup: Option<f64>,
    /// kg of product in a slug.
    pub slug_product_kg: Option<f64>,
    /// Hours with the bleed locked.
    pub locked_h: Option<f64>,
    /// Cycles to bleed down to before.
    pub pre_bleed_cycles: Option<f64>,
    /// Hours that this takes.
    pub pre_bleed_h: Option<f64>,
    /// Hours above what works.
    pub effective_h: Option<f64>,
    /// L/h of product, where it is pumped all the time.
    pub product_l_per_h: Option<f64>,
    /// mL/min of product, where it is pumped all the time.
    pub product_ml_per_min: Option<f64>,
    /// Product for the makeup, g/m3.
    pub product_g_per_m3_makeup: Option<f64>,
    /// What the pump passes at its full rate, L/h.
    pub pump_l_per_h: Option<f64>,
    /// Part of its full rate that it has to give.
    pub stroke: Option<f64>,
    /// Minutes that it runs at its full rate: a day, or for a slug.
    pub pump_minutes: Option<f64>,
    /// Active part of the product.
    pub strength: f64,
    /// What the makeup uses up of an oxidant, mg/L.
    pub demand_mg_per_l: Option<f64>,
    /// Hours between slugs.
    pub every_h: Option<f64>,
    /// Cycles that the lock of a slug adds.
    pub lock_adds_cycles: Option<f64>,
    /// Whether nobody stated the contact time.
    pub contact_is_assumed: bool,
}

/// A salt that a product brings.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct BroughtOut {
    /// Name of the chemical.
    pub chemical: String,
    /// Which.
    pub ion: &'static str,
    /// g for a kg of product.
    pub g_per_kg_product: f64,
    /// g for a litre of product, where its density is stated.
    pub g_per_l_product: Option<f64>,
    /// In the circulating water; none where nothing leaves.
    pub mg_per_l: Option<f64>,
}

fn brought_out(feed: &FeedLine) -> impl Iterator<Item = BroughtOut> + '_ {
    feed.brings.iter().map(|salt| BroughtOut {
        chemical: feed.name.clone(),
        ion: salt.ion.key(),
        g_per_kg_product: salt.g_per_kg,
        g_per_l_product: feed.density.map(|density| density * salt.g_per_kg),
        mg_per_l: Some(salt.milligram_per_litre).filter(|number| number.is_finite()),
    })
}

/// The feed for programs, and its rows for CSV.
pub fn lines(sheet: &FeedSheet) -> Vec<LineOut> {
    let finite = |number: f64| Some(number).filter(|number| number.is_finite());
    sheet
        .lines
        .iter()
        .map(|feed| LineOut {
            name: feed.name.clone(),
            kind: kind_name(feed.kind),
            dose_mg_per_l: feed.dose,
            active_kg_per_day: feed.active_kg_per_day,
            product_kg_per_day: feed.product_kg_per_day,
            product_l_per_day: feed.product_litre_per_day,
            product_kg_per_year: feed.product_kg_per_year,
            cost_per_year: feed.cost_per_year,
            acid_meq_per_l_makeup: feed.acid_meq_per_litre,
            slug_product_kg: feed.slug_product_kg,
            locked_h: feed.slug.map(|slug| slug.locked_hours),
            pre_bleed_cycles: feed.slug.and_then(|slug| slug.pre_bleed).map(|bleed| bleed.cycles),
            pre_bleed_h: feed.slug.and_then(|slug| slug.pre_bleed).map(|bleed| bleed.hours),
            effective_h: feed.slug.and_then(|slug| slug.hours_effective).and_then(finite),
            product_l_per_h: feed
                .product_litre_per_day
                .filter(|_| feed.slug.is_none())
                .map(|litre| litre / 24.0),
            product_ml_per_min: feed
                .product_litre_per_day
                .filter(|_| feed.slug.is_none())
                .map(|litre| litre / 1.44),
            product_g_per_m3_makeup: feed.product_g_per_m3_makeup,
            pump_l_per_h: feed.pump_litre_per_hour,
            stroke: feed.stroke(),
            pump_minutes: feed.pump_minutes(),
            strength: feed.strength,
            demand_mg_per_l: feed.demand,
            every_h: feed.every_hours,
            lock_adds_cycles: feed.slug.map(|slug| slug.rise).and_then(finite),
            contact_is_assumed: feed.contact_is_assumed,
        })
        .collect()
}

/// The feed for programs; `source` names the file.
pub fn json(sheet: &FeedSheet, source: &str) -> FeedOut {
    FeedOut {
        schema: super::json::SCHEMA,
        program: format!("coldbasin {}", env!("CARGO_PKG_VERSION")),
        site: sheet.name.clone(),
        source: source.into(),
        cycles_of_concentration: Some(sheet.cycles).filter(|cycles| cycles.is_finite()),
        cycles_are_apparent: sheet.cycles_are_apparent,
        makeup_m3_per_h: makeup(sheet),
        blowdown_m3_per_h: sheet.blowdown,
        liquid_m3_per_h: liquid(sheet),
        volume_m3: sheet.circuit.volume,
        held_ph: sheet.held_ph,
        hours_per_year: sheet.year.0,
        load_factor: sheet.year.1,
        cost_per_year: cost(sheet),
        currency: sheet.currency.clone(),
        valve_is_assumed: sheet.valve_is_assumed,
        warnings: notices_out(&sheet.notices()),
        chemicals: lines(sheet),
        brings: sheet.lines.iter().flat_map(brought_out).collect(),
    }
}
