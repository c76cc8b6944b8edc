//! Which single slip of the pen explains an analysis whose numbers contradict each other.
//!
//! An analysis carries independent witnesses: cations against anions, the conductivity of its ions against the measured
//! one, calcium and magnesium against hardness, alkalinity against its parts, the sum of the ions against dissolved
//! solids, and what the other water of the tower says. Each gives a misfit in standard uncertainties. A slip is named
//! only where the sheet as written is contradicted, the sheet with the slip mended is not, and no third slip does as well.
//! What was not analysed is filled in as it suits the sheet best, so that it never counts against it.

use super::analysis::{UNKNOWN_PH, dried, ions_milligram_per_litre};
use super::speciation::{self, Acidity, Constants};
use super::{Component, Composition, Constituent};
use crate::quantity::{Basis, trimmed, with_decimals};

/// Standard uncertainty of an analysis between laboratories, as a part of it: twice that of one laboratory (Standard
/// Methods, as in [`crate::blowdown::own_test::assay::ANALYTIC_BASIS`]).
pub const ANALYSIS: f64 = 0.06;
/// Standard uncertainty of a last digit, mg/L (half a mg/L, rectangular).
const LAST_DIGIT: f64 = 0.29;
/// Standard uncertainty of a computed conductivity against a meter's, as a part of it: the model's and the meter's 2 %
/// each, the ions' and the temperature's (common practice).
const CONDUCTIVITY: f64 = 0.05;
/// Standard uncertainty of dissolved solids against the sum of the ions (common practice: 0.9 to 1.2).
const SOLIDS: f64 = 0.09;
/// Nitrate that nobody looked for, eq/kg, as a standard uncertainty: half of what drinking water may hold, 50 mg/L
/// (World Health Organization, from memory).
const NITRATE: f64 = 0.4e-3;
/// Potassium that nobody looked for, as a part of the cations and eq/kg (common practice).
const POTASSIUM: (f64, f64) = (0.03, 0.05e-3);
/// What is missing of a sheet that is taken as whole, as a part of its cations or anions (common practice).
const LITTLE: f64 = 0.15;
/// Standard uncertainty of what another water says of an ion that deposits or is fed on the way, as a part of it and of
/// all ions (common practice).
const MOVED: (f64, f64) = (0.3, 0.05);
/// What sodium adds to the conductivity, and what chloride and sulfate do, S/m for an eq/kg: together 120 S cm2/eq
/// (from memory).
const CONDUCTS: [f64; 2] = [4.8, 7.2];

/// When a slip is named.
struct Bar {
    /// A witness so many standard uncertainties off contradicts the sheet.
    contradicts: f64,
    /// With the slip mended every witness lies within so many.
    agrees: f64,
    /// What the slip takes off the sum of squares.
    explains: f64,
}

/// For a sheet that nothing else speaks against: what a slip explains has a chance of 1 in 2000 for one, 1 in 100 for all
/// that are tried.
const UNSUSPECTED: Bar = Bar { contradicts: 3.0, agrees: 2.5, explains: 12.5 };
/// For a sheet that is warned of anyway: 1 in 20 for one slip, which then is a hint where to look.
const SUSPECTED: Bar = Bar { contradicts: 2.0, agrees: 1.5, explains: 4.0 };
/// A slip whose sum of squares is so near the best one's explains the sheet as well: 20 times less likely.
const AS_WELL: f64 = 6.0;
/// More slips that explain a sheet as well as each other say nothing.
const MOST_NAMED: usize = 2;

/// As what a number was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counted {
    /// A mass, as this.
    As(Basis),
    /// Moles.
    Moles,
    /// Equivalents, or degrees.
    Equivalents,
}

/// A number of a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Entry {
    /// Of what.
    pub constituent: Constituent,
    /// mol/kg.
    pub mole_per_kg: f64,
    /// Standard uncertainty that is stated, as a part of it; 0 where none is.
    pub relative: f64,
    /// As what it was written.
    pub counted: Counted,
}

/// What the other water of the tower says of a constituent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// Of what.
    pub constituent: Constituent,
    /// mol/kg.
    pub mole_per_kg: f64,
    /// Standard uncertainty, as a part of it.
    pub relative: f64,
    /// What the sheet may say without contradicting it.
    pub may_be: MayBe,
}

/// How a number may differ from what another water says of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MayBe {
    /// It stays in the water.
    TheSame,
    /// It may deposit on the way to this water.
    Less,
    /// It may deposit on the way from it, or is fed.
    More,
}

/// An analysis with its witnesses.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sheet {
    /// What was analysed.
    pub entries: Vec<Entry>,
    /// pH, where it was measured.
    pub ph: Option<f64>,
    /// Measured conductivity at 25 degC, S/m, and its standard uncertainty where one is stated, as a part of it.
    pub conductivity: Option<(f64, f64)>,
    /// Calcium's part of a hardness that stands alone; two thirds where none is stated.
    pub calcium_of_hardness: Option<f64>,
    /// Dissolved solids, by drying or as a sum, mg/L.
    pub solids: Option<f64>,
    /// What the other water of the tower says.
    pub expected: Vec<Expected>,
    /// Cycles of this water: what is not analysed grows with them; 0 counts as 1.
    pub cycles: f64,
    /// Whether next to nothing is taken for missing: a sheet whose charges are held against it as they stand.
    pub is_whole: bool,
}

/// What the number of a slip is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Of {
    /// A constituent.
    Constituent(Constituent),
    /// The conductivity.
    Conductivity,
    /// The dissolved solids.
    Solids,
}

/// What kind of slip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A digit dropped, or a point misplaced: ten times as much is meant.
    DigitDropped,
    /// A digit added, or a point misplaced: a tenth is meant.
    DigitAdded,
    /// Counted as another thing than is written.
    Basis {
        /// As it is written.
        written: Basis,
        /// As it is meant.
        meant: Basis,
    },
    /// Moles written for equivalents.
    MolesForEquivalents,
    /// uS/cm written for mS/cm.
    MicroForMilli,
    /// mS/cm written for uS/cm.
    MilliForMicro,
}

/// One slip of the pen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slip {
    /// In which number.
    pub of: Of,
    /// Of what kind.
    pub kind: Kind,
    /// What is meant over what is written.
    pub factor: f64,
}

/// What speaks for or against a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Witness {
    /// Cations less anions over their sum.
    Charges,
    /// Conductivity of the ions over the measured one.
    Conductivity,
    /// Calcium and magnesium over hardness.
    Hardness,
    /// Total alkalinity over bicarbonate and carbonate.
    Alkalinity,
    /// What the ions leave over the dissolved solids.
    Solids,
    /// A number over what the other water of the tower says of it.
    OtherWater(Constituent),
}

/// How far a witness is off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Misfit {
    /// Which.
    pub witness: Witness,
    /// By how much, as a part: difference over sum of the charges, ratio less one of the others.
    pub off: f64,
    /// In standard uncertainties.
    pub standards: f64,
}

/// Charges that differ by more of their sum are off, whatever the standard uncertainties are.
const CLOSED: f64 = 0.1;

impl Misfit {
    fn is_closed(&self) -> bool {
        self.witness != Witness::Charges || self.off.abs() <= CLOSED
    }

    /// Whether it speaks against the sheet.
    pub fn is_notable(&self) -> bool {
        self.standards.abs() > SUSPECTED.contradicts
    }
}

/// A slip that explains a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Explanation {
    /// Which.
    pub slip: Slip,
    /// Every witness with the slip mended.
    pub mended: Vec<Misfit>,
}

/// A sheet that contradicts itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Contradiction {
    /// Every witness of the sheet as it is written.
    pub as_written: Vec<Misfit>,
    /// The slips that explain it, the likeliest first: one, or two that do as well; none where no slip or too many do.
    pub slips: Vec<Explanation>,
    /// Whether the witnesses are so clear that they accuse the sheet by themselves.
    pub is_clear: bool,
}

/// The slip that [`explain`]s a sheet, in words; `None` where none does.
pub fn told(sheet: &Sheet, is_suspected: bool) -> Option<String> {
    explain(sheet, is_suspected)?.told(sheet)
}

/// What contradicts a sheet, and which slip explains it; `None` where nothing does. `is_suspected` where something else
/// is already wrong with it: then less is asked of a slip.
pub fn explain(sheet: &Sheet, is_suspected: bool) -> Option<Contradiction> {
    let constants = Constants::at(25.0).ok()?;
    let written = fit(sheet, None, &constants)?;
    let is_against = |bar: &Bar| written.is_against(bar);
    let bar = match (is_against(&UNSUSPECTED), is_suspected && is_against(&SUSPECTED)) {
        (true, _) => &UNSUSPECTED,
        (false, true) => &SUSPECTED,
        (false, false) => return None,
    };
    let fits: Vec<(Slip, Fit)> = slips(sheet)
        .into_iter()
        .filter_map(|slip| Some((slip, fit(sheet, Some(slip), &constants)?)))
        .collect();
    let found = best(&written, &fits, bar);
    let (is_clear, found) = match found.is_empty() && is_suspected {
        true => (false, best(&written, &fits, &SUSPECTED)),
        false => (std::ptr::eq(bar, &UNSUSPECTED) && !sheet.is_whole, found),
    };
    let explanation =
        |(slip, fit): &(Slip, Fit)| Explanation { slip: *slip, mended: fit.misfits.clone() };
    Some(Contradiction {
        as_written: written.misfits,
        slips: found.into_iter().map(explanation).collect(),
        is_clear,
    })
}

/// The slips that explain a sheet, the likeliest first; none where too many do.
fn best<'a>(written: &Fit, fits: &'a [(Slip, Fit)], bar: &Bar) -> Vec<&'a (Slip, Fit)> {
    let explains = |fit: &Fit| {
        fit.misfits.iter().all(|misfit| misfit.standards.abs() <= bar.agrees && misfit.is_closed())
            && written.squares - fit.squares >= bar.explains
    };
    let mut found: Vec<&(Slip, Fit)> = fits.iter().filter(|(_, fit)| explains(fit)).collect();
    found.sort_by(|(_, one), (_, other)| one.squares.total_cmp(&other.squares));
    let least = found.first().map_or(f64::INFINITY, |(_, fit)| fit.squares);
    found.retain(|(_, fit)| fit.squares <= least + AS_WELL);
    if found.len() > MOST_NAMED {
        found.clear();
    }
    found
}

/// Ions whose numbers are mistyped so that a witness can tell.
const TOLD: [Constituent; 10] = [
    Constituent::Calcium,
    Constituent::Magnesium,
    Constituent::Hardness,
    Constituent::Sodium,
    Constituent::Potassium,
    Constituent::Alkalinity,
    Constituent::Bicarbonate,
    Constituent::Chloride,
    Constituent::Sulfate,
    Constituent::Nitrate,
];

/// Bases that sheets confuse.
const CONFUSED: [(Constituent, [Basis; 2]); 5] = [
    (Constituent::Calcium, [Basis::Calcium, Basis::CalciumCarbonate]),
    (Constituent::Magnesium, [Basis::Magnesium, Basis::CalciumCarbonate]),
    (Constituent::Alkalinity, [Basis::CalciumCarbonate, Basis::Bicarbonate]),
    (Constituent::Bicarbonate, [Basis::Bicarbonate, Basis::CalciumCarbonate]),
    (Constituent::Nitrate, [Basis::Nitrate, Basis::Nitrogen]),
];

/// Every slip that is tried on a sheet.
fn slips(sheet: &Sheet) -> Vec<Slip> {
    let mut all = Vec::new();
    let digits = [(Kind::DigitDropped, 10.0), (Kind::DigitAdded, 0.1)];
    for entry in &sheet.entries {
        let constituent = entry.constituent;
        if entry.mole_per_kg <= 0.0 || !TOLD.contains(&constituent) {
            continue;
        }
        let of = Of::Constituent(constituent);
        all.extend(digits.map(|(kind, factor)| Slip { of, kind, factor }));
        let confused = CONFUSED.iter().find(|(known, _)| *known == constituent);
        match (entry.counted, confused) {
            (Counted::As(written), Some((_, pair))) if pair.contains(&written) => {
                let meant = if pair[0] == written { pair[1] } else { pair[0] };
                let moles = |basis| constituent.mole_per_kg_as(1.0, basis);
                if let Some((meant_moles, moles)) = moles(meant).zip(moles(written)) {
                    let kind = Kind::Basis { written, meant };
                    all.push(Slip { of, kind, factor: meant_moles / moles });
                }
            }
            (Counted::Moles, _) if constituent.equivalents() > 1.0 => {
                let factor = 1.0 / constituent.equivalents();
                all.push(Slip { of, kind: Kind::MolesForEquivalents, factor });
            }
            _ => {}
        }
    }
    if sheet.conductivity.is_some() {
        let units = [(Kind::MicroForMilli, 1e3), (Kind::MilliForMicro, 1e-3)];
        let of = Of::Conductivity;
        all.extend(digits.into_iter().chain(units).map(|(kind, factor)| Slip { of, kind, factor }));
    }
    if sheet.solids.is_some() {
        all.extend(digits.map(|(kind, factor)| Slip { of: Of::Solids, kind, factor }));
    }
    all
}

/// A sheet held against its witnesses.
struct Fit {
    misfits: Vec<Misfit>,
    /// Squares of all misfits in standard uncertainties, and of what is unusual.
    squares: f64,
}

impl Fit {
    fn is_against(&self, bar: &Bar) -> bool {
        self.misfits.iter().any(|misfit| misfit.standards.abs() > bar.contradicts)
    }
}

/// A sheet with a slip mended.
struct Mended<'a> {
    sheet: &'a Sheet,
    slip: Option<Slip>,
}

impl Mended<'_> {
    fn factor(&self, of: Of) -> f64 {
        self.slip.filter(|slip| slip.of == of).map_or(1.0, |slip| slip.factor)
    }

    /// mol/kg and standard uncertainty.
    fn get(&self, constituent: Constituent) -> Option<(f64, f64)> {
        let entry = self.sheet.entries.iter().find(|entry| entry.constituent == constituent)?;
        let factor = self.factor(Of::Constituent(constituent));
        let value = factor * entry.mole_per_kg;
        let digit = factor * constituent.mole_per_kg(LAST_DIGIT);
        Some((value, (entry.relative.max(ANALYSIS) * value).hypot(digit)))
    }

    fn has(&self, constituent: Constituent) -> bool {
        self.sheet.entries.iter().any(|entry| entry.constituent == constituent)
    }

    /// Whether the sheet says how much it holds, be it by a total.
    fn tells(&self, constituent: Constituent) -> bool {
        let total = match constituent {
            Constituent::Calcium | Constituent::Magnesium => Constituent::Hardness,
            Constituent::Alkalinity => Constituent::Bicarbonate,
            other => other,
        };
        self.has(constituent) || self.has(total)
    }
}

/// What a sheet makes of a water before anything is filled in.
struct Known {
    water: Composition,
    /// Standard uncertainty of cations less anions, eq/kg.
    of_charge: f64,
    /// eq/kg of both kinds.
    sum: f64,
}

fn ratio(witness: Witness, value: f64, against: f64, standard: f64) -> Misfit {
    Misfit { witness, off: value / against - 1.0, standards: (value - against) / standard }
}

/// Calcium and magnesium of a sheet with the variance of their sum, mol/kg, and what hardness says of them.
fn hardness(mended: &Mended<'_>) -> ([f64; 2], f64, Option<Misfit>) {
    let parts = [Constituent::Calcium, Constituent::Magnesium].map(|ion| mended.get(ion));
    let Some((total, of_total)) = mended.get(Constituent::Hardness) else {
        let variance = parts.iter().flatten().map(|(_, standard)| standard * standard).sum();
        return (parts.map(|part| part.map_or(0.0, |(value, _)| value)), variance, None);
    };
    let against = |value: f64, standard: f64| {
        ratio(Witness::Hardness, value, total, of_total.hypot(standard))
    };
    let square = of_total * of_total;
    match parts {
        [Some((calcium, of_calcium)), Some((magnesium, of_magnesium))] => {
            let standard = of_calcium.hypot(of_magnesium);
            let misfit = against(calcium + magnesium, standard);
            ([calcium, magnesium], standard * standard, Some(misfit))
        }
        [Some((calcium, standard)), None] => {
            let above = (calcium > total).then(|| against(calcium, standard));
            ([calcium, (total - calcium).max(0.0)], square, above)
        }
        [None, Some((magnesium, standard))] => {
            let above = (magnesium > total).then(|| against(magnesium, standard));
            ([(total - magnesium).max(0.0), magnesium], square, above)
        }
        [None, None] => {
            let part = mended.sheet.calcium_of_hardness.unwrap_or(2.0 / 3.0);
            ([part * total, (1.0 - part) * total], square, None)
        }
    }
}

/// Alkalinity with its standard uncertainty, eq/kg, and what its parts say of it.
fn alkalinity(mended: &Mended<'_>) -> ((f64, f64), Option<Misfit>) {
    let bicarbonate = mended.get(Constituent::Bicarbonate);
    let carbonate = mended.get(Constituent::Carbonate).unwrap_or_default();
    let parts = bicarbonate
        .map(|(value, standard)| (value + 2.0 * carbonate.0, standard.hypot(2.0 * carbonate.1)));
    match (mended.get(Constituent::Alkalinity), parts) {
        (Some(total), Some(parts)) => {
            let standard = total.1.hypot(parts.1);
            (total, Some(ratio(Witness::Alkalinity, total.0, parts.0, standard)))
        }
        (Some(total), None) => (total, None),
        (None, parts) => (parts.unwrap_or((2.0 * carbonate.0, 2.0 * carbonate.1)), None),
    }
}

fn known(mended: &Mended<'_>, misfits: &mut Vec<Misfit>) -> Known {
    let mut water = Composition::default();
    let mut variance = 0.0;
    let ([calcium, magnesium], of_hardness, misfit) = hardness(mended);
    misfits.extend(misfit);
    for entry in &mended.sheet.entries {
        let constituent = entry.constituent;
        let is_hardness = matches!(constituent, Constituent::Calcium | Constituent::Magnesium);
        let Some((value, standard)) = mended.get(constituent).filter(|_| !is_hardness) else {
            continue;
        };
        if constituent.of(&water).is_some() && constituent != Constituent::Alkalinity {
            constituent.put(&mut water, value);
            let is_ion = !matches!(constituent, Constituent::Hardness | Constituent::Silica);
            let charge = if is_ion { constituent.equivalents() } else { 0.0 };
            variance += (charge * standard).powi(2);
        }
    }
    water.set(Component::Calcium, calcium);
    water.set(Component::Magnesium, magnesium);
    let ((total, standard), misfit) = alkalinity(mended);
    misfits.extend(misfit);
    water.alkalinity = total;
    variance += 4.0 * of_hardness + standard * standard;
    let cations = 2.0 * (calcium + magnesium)
        + water.get(Component::Sodium)
        + water.get(Component::Potassium)
        + water.get(Component::Ammonium);
    Known { water, of_charge: variance.sqrt(), sum: 2.0 * cations - water.charge() }
}

/// How much of the cations and of the anions nobody looked for: what they are expected to be and the standard
/// uncertainty of that, eq/kg; `None` where nothing is missing.
fn missing(mended: &Mended<'_>, sum: f64) -> [Option<(f64, f64)>; 2] {
    let sheet = mended.sheet;
    let cycles = sheet.cycles.max(1.0);
    // What nobody looked for in either water may be all that the water holds.
    let anything = match sheet.is_whole {
        true => LITTLE * 0.5 * sum,
        false => 2.0 * (sum + 5e-3),
    };
    let of = |ions: &[(Constituent, f64)]| {
        let absent = ions.iter().filter(|(ion, _)| !mended.tells(*ion));
        absent.fold(None, |found: Option<(f64, f64)>, (ion, unknown)| {
            let (value, standard) = found.unwrap_or_default();
            let other = sheet.expected.iter().find(|expected| expected.constituent == *ion);
            let (more, of_more) = match other {
                Some(other) => {
                    let equivalents = ion.equivalents() * other.mole_per_kg;
                    let moved = match other.may_be {
                        MayBe::TheSame => 0.0,
                        MayBe::Less | MayBe::More => MOVED.0 * equivalents + MOVED.1 * sum,
                    };
                    (equivalents, (equivalents * other.relative.hypot(ANALYSIS)).hypot(moved))
                }
                None => (0.0, *unknown),
            };
            Some((value + more, standard.hypot(of_more)))
        })
    };
    let potassium = POTASSIUM.0 * 0.5 * sum + cycles * POTASSIUM.1;
    [
        of(&[
            (Constituent::Calcium, anything),
            (Constituent::Magnesium, anything),
            (Constituent::Sodium, anything),
            (Constituent::Potassium, potassium),
        ]),
        of(&[
            (Constituent::Alkalinity, anything),
            (Constituent::Chloride, anything),
            (Constituent::Sulfate, anything),
            (Constituent::Nitrate, cycles * NITRATE),
        ]),
    ]
}

/// A misfit, in standard uncertainties, that is linear in what is filled in, eq/kg.
struct Row {
    at_none: f64,
    with: [f64; 2],
}

/// What is filled in, neither below nothing, with the least squares of the rows.
fn filled(rows: &[Row], may_be: [bool; 2]) -> [f64; 2] {
    let product = |one: &dyn Fn(&Row) -> f64, other: &dyn Fn(&Row) -> f64| -> f64 {
        rows.iter().map(|row| one(row) * other(row)).sum()
    };
    let column = |index: usize| move |row: &Row| row.with[index];
    let none = |row: &Row| row.at_none;
    let squares = |at: [f64; 2]| -> f64 {
        let off = |row: &Row| row.at_none + row.with[0] * at[0] + row.with[1] * at[1];
        rows.iter().map(|row| off(row).powi(2)).sum()
    };
    let alone = |index: usize| {
        let mut at = [0.0; 2];
        at[index] = -product(&column(index), &none) / product(&column(index), &column(index));
        at
    };
    let (aa, bb) = (product(&column(0), &column(0)), product(&column(1), &column(1)));
    let (ab, a, b) =
        (product(&column(0), &column(1)), product(&column(0), &none), product(&column(1), &none));
    let both = [(ab * b - bb * a) / (aa * bb - ab * ab), (ab * a - aa * b) / (aa * bb - ab * ab)];
    [[0.0; 2], alone(0), alone(1), both]
        .into_iter()
        .filter(|at| at.iter().zip(may_be).all(|(at, may)| *at == 0.0 || (may && *at > 0.0)))
        .min_by(|one, other| squares(*one).total_cmp(&squares(*other)))
        .unwrap_or_default()
}

fn fit(sheet: &Sheet, slip: Option<Slip>, constants: &Constants) -> Option<Fit> {
    let mended = Mended { sheet, slip };
    let mut misfits = Vec::new();
    let known = known(&mended, &mut misfits);
    if known.water.alkalinity < 0.0 || known.sum <= 0.0 {
        return None;
    }
    let missing = missing(&mended, known.sum);
    let charge = known.water.charge();
    let of_charge = known.of_charge.max(1e-5);
    let mut rows =
        vec![Row { at_none: charge / of_charge, with: [1.0 / of_charge, -1.0 / of_charge] }];
    for (index, expected) in missing.iter().enumerate() {
        if let Some((value, standard)) = expected {
            let mut with = [0.0; 2];
            with[index] = 1.0 / standard;
            rows.push(Row { at_none: -value / standard, with });
        }
    }
    let may_be = missing.map(|missing| missing.is_some());
    // Of chloride and sulfate the one that was analysed is not what is missing.
    let sulfate = match [Constituent::Sulfate, Constituent::Chloride].map(|ion| mended.has(ion)) {
        [true, _] => 0.0,
        [false, true] => 1.0,
        [false, false] => 0.5,
    };
    let with = |[cations, anions]: [f64; 2]| {
        let mut water = known.water;
        if !mended.tells(Constituent::Alkalinity) {
            water.alkalinity += anions;
            water.set(Component::Sodium, water.get(Component::Sodium) + cations);
            return water;
        }
        let mut add = |component, more| water.set(component, water.get(component) + more);
        add(Component::Sodium, cations);
        add(Component::Chloride, (1.0 - sulfate) * anions);
        add(Component::Sulfate, 0.5 * sulfate * anions);
        water
    };
    let conducts = |water: &Composition| {
        let acidity = Acidity::Ph(sheet.ph.unwrap_or(UNKNOWN_PH));
        Some(speciation::solve(water, acidity, constants).ok()?.conductivity())
    };
    let measured = sheet.conductivity.map(|(measured, relative)| {
        let measured = mended.factor(Of::Conductivity) * measured;
        (measured, relative.hypot(CONDUCTIVITY) * measured)
    });
    let solids_found = sheet.solids.map(|solids| {
        let found = mended.factor(Of::Solids) * solids;
        (found, SOLIDS * found.max(LAST_DIGIT))
    });
    let weighs = [
        Constituent::Sodium.milligram_per_litre(1.0),
        (1.0 - sulfate) * Constituent::Chloride.milligram_per_litre(1.0)
            + 0.5 * sulfate * Constituent::Sulfate.milligram_per_litre(1.0),
    ];
    let mut at = filled(&rows, may_be);
    // Conductivity is all but straight: what is filled in shifts the place once.
    for _ in 0..2 {
        let mut all: Vec<Row> = rows.iter().map(|row| Row { ..*row }).collect();
        let mut add = |value: f64, slopes: [f64; 2], (found, standard): (f64, f64)| {
            let with = slopes.map(|slope| slope / standard);
            let at_none = (value - found) / standard - with[0] * at[0] - with[1] * at[1];
            all.push(Row { at_none, with });
        };
        let water = with(at);
        if let Some(measured) = measured {
            add(conducts(&water)?, CONDUCTS, measured);
        }
        if let Some(found) = solids_found {
            add(dried(&water), weighs, found);
        }
        at = filled(&all, may_be);
    }
    let conductivity = match measured {
        Some((measured, standard)) => {
            let computed = conducts(&with(at))?;
            Some(ratio(Witness::Conductivity, computed, measured, standard))
        }
        None => None,
    };
    let water = with(at);
    let total = known.sum + at[0] + at[1];
    let left = charge + at[0] - at[1];
    misfits.push(Misfit {
        witness: Witness::Charges,
        off: if sheet.is_whole { charge / known.sum } else { left / total },
        standards: left / of_charge,
    });
    misfits.extend(conductivity);
    misfits.extend(solids_found.map(|found| solids(found, &water)));
    misfits.extend(other_water(&mended));
    let of_misfits: f64 = misfits.iter().map(|misfit| misfit.standards.powi(2)).sum();
    let of_missing: f64 = missing
        .iter()
        .zip(at)
        .filter_map(|(missing, at)| missing.map(|(value, standard)| (at - value) / standard))
        .map(|standards| standards * standards)
        .sum();
    Some(Fit { misfits, squares: of_misfits + of_missing + unusual(&mended, &known.water) })
}

/// What the ions leave against the dissolved solids, by drying or as a sum, whichever fits: laboratories call both so.
fn solids((found, standard): (f64, f64), water: &Composition) -> Misfit {
    let against = |computed: f64| ratio(Witness::Solids, computed, found, standard);
    let [whole, dried] = [ions_milligram_per_litre(water), dried(water)].map(against);
    if whole.standards.abs() < dried.standards.abs() { whole } else { dried }
}

/// What the other water of the tower says of each number.
fn other_water<'a>(mended: &'a Mended<'a>) -> impl Iterator<Item = Misfit> + 'a {
    mended.sheet.expected.iter().filter_map(|expected| {
        let (value, standard) = mended.get(expected.constituent)?;
        let off = (value - expected.mole_per_kg)
            / standard.hypot(expected.relative * expected.mole_per_kg);
        let counts = match expected.may_be {
            MayBe::TheSame => true,
            MayBe::Less => off > 0.0,
            MayBe::More => off < 0.0,
        };
        counts.then(|| Misfit {
            witness: Witness::OtherWater(expected.constituent),
            off: value / expected.mole_per_kg - 1.0,
            standards: off,
        })
    })
}

/// Squares of what natural waters hardly hold, in standard uncertainties (common practice): it tells one slip from
/// another and contradicts no sheet.
fn unusual(mended: &Mended<'_>, water: &Composition) -> f64 {
    /// ln of calcium over magnesium in natural waters, by moles, and its spread: from one to five of calcium to one.
    const CALCIUM_TO_MAGNESIUM: (f64, f64) = (0.8, 1.0);
    /// ln of the ratio beyond the usual most that counts as a standard uncertainty: a factor of two.
    const BEYOND: f64 = 0.7;
    const MOST_POTASSIUM_TO_SODIUM: f64 = 0.5;
    const MOST_NITRATE: f64 = 2.0 * NITRATE;
    const MOST: f64 = 3.0;
    let get = |component| water.get(component);
    let squared = |standards: f64| standards.clamp(-MOST, MOST).powi(2);
    let beyond = |value: f64, most: f64| match value > most && most > 0.0 {
        true => squared((value / most).ln() / BEYOND),
        false => 0.0,
    };
    let (calcium, magnesium) = (get(Component::Calcium), get(Component::Magnesium));
    let is_told = mended.has(Constituent::Calcium) || mended.has(Constituent::Magnesium);
    let hardness = match is_told && calcium > 0.0 && magnesium > 0.0 {
        true => {
            let (middle, spread) = CALCIUM_TO_MAGNESIUM;
            squared(((calcium / magnesium).ln() - middle) / spread)
        }
        false => 0.0,
    };
    let potassium = match mended.has(Constituent::Sodium) {
        true => {
            beyond(get(Component::Potassium), MOST_POTASSIUM_TO_SODIUM * get(Component::Sodium))
        }
        false => 0.0,
    };
    let nitrate = beyond(get(Component::Nitrate), mended.sheet.cycles.max(1.0) * MOST_NITRATE);
    hardness + potassium + nitrate
}

fn plain(number: f64) -> String {
    trimmed(number, 3)
}

/// A part in whole per cent.
fn percent(part: f64) -> String {
    format!("{} %", with_decimals(100.0 * part.abs(), 0))
}

impl Counted {
    /// The number of a sheet, and its unit with what it is counted as.
    fn shown(self, constituent: Constituent, mole_per_kg: f64) -> (String, String) {
        match self {
            Self::As(basis) => {
                let each = constituent.mole_per_kg_as(1.0, basis).unwrap_or(f64::NAN);
                (plain(mole_per_kg / each), format!("mg/L as {}", basis.formula()))
            }
            Self::Moles => (plain(1e3 * mole_per_kg), "mmol/L".into()),
            Self::Equivalents => {
                (plain(1e3 * constituent.equivalents() * mole_per_kg), "meq/L".into())
            }
        }
    }
}

impl Slip {
    /// What is meant and what is written, in words: "calcium 390 mg/L as CaCO3 in place of 39 (a digit dropped)".
    pub fn told(&self, sheet: &Sheet) -> String {
        let entry = |constituent| sheet.entries.iter().find(|e| e.constituent == constituent);
        let (name, written, meant, unit) = match self.of {
            Of::Constituent(constituent) => {
                let Some(entry) = entry(constituent) else { return constituent.name().into() };
                let shown =
                    |factor: f64| entry.counted.shown(constituent, factor * entry.mole_per_kg);
                let (meant, unit) = shown(self.factor);
                (constituent.name(), shown(1.0).0, meant, unit)
            }
            Of::Conductivity => {
                let micro = sheet.conductivity.map_or(f64::NAN, |(si, _)| 1e4 * si);
                let meant = plain(self.factor * micro);
                ("conductivity", plain(micro), meant, "uS/cm".to_owned())
            }
            Of::Solids => {
                let found = sheet.solids.unwrap_or(f64::NAN);
                let meant = plain(self.factor * found);
                ("dissolved solids", plain(found), meant, "mg/L".to_owned())
            }
        };
        let unit_of_cells = match self.of {
            Of::Conductivity => ", or mS/m taken for uS/cm",
            _ => "",
        };
        match self.kind {
            Kind::DigitDropped => {
                format!(
                    "{name} {meant} {unit} in place of {written} (a digit dropped{unit_of_cells})"
                )
            }
            Kind::DigitAdded => {
                format!("{name} {meant} {unit} in place of {written} (a digit too many)")
            }
            Kind::Basis { written: as_written, meant } => format!(
                "{name} {written} mg/L as {}, not as {}",
                meant.formula(),
                as_written.formula()
            ),
            Kind::MolesForEquivalents => format!("{name} {written} meq/L, not mmol/L"),
            Kind::MicroForMilli => format!("{name} {written} mS/cm, not uS/cm"),
            Kind::MilliForMicro => {
                format!("{name} {meant} uS/cm, not mS/cm")
            }
        }
    }
}

impl Misfit {
    /// How far it is off, in words.
    pub fn told(&self) -> String {
        let by = |what: &str, than: &str| {
            let ratio = 1.0 + self.off;
            match (ratio >= 3.0, ratio <= 1.0 / 3.0) {
                (true, _) => format!("{what} {} times {than}", plain(ratio)),
                (_, true) => format!("{what} {} of {than}", percent(ratio)),
                _ if self.off < 0.0 => format!("{what} {} less than {than}", percent(self.off)),
                _ => format!("{what} {} more than {than}", percent(self.off)),
            }
        };
        match self.witness {
            Witness::Charges => {
                format!("cations and anions differ by {} of their sum", percent(self.off))
            }
            Witness::Conductivity => by("its ions conduct", "what was measured"),
            Witness::Hardness => by("calcium and magnesium make", "the hardness"),
            Witness::Alkalinity => by("alkalinity is", "bicarbonate and carbonate"),
            Witness::Solids => by("its ions weigh", "the dissolved solids"),
            Witness::OtherWater(constituent) => {
                by(&format!("{} is", constituent.name()), "what the other water says")
            }
        }
    }
}

impl Contradiction {
    /// What speaks against the sheet as written, and the slips that explain it, in words; `None` without a slip.
    pub fn told(&self, sheet: &Sheet) -> Option<String> {
        let first = self.slips.first()?;
        let slips: Vec<String> = self.slips.iter().map(|found| found.slip.told(sheet)).collect();
        let how = match (self.is_clear, self.slips.len()) {
            (true, 1) => "likely ",
            (true, _) => "likely either ",
            (false, 1) => "perhaps ",
            (false, _) => "perhaps either ",
        };
        let notable: Vec<&Misfit> =
            self.as_written.iter().filter(|misfit| misfit.is_notable()).collect();
        let against: Vec<String> = notable.iter().map(|misfit| misfit.told()).collect();
        let after: Vec<String> = notable
            .iter()
            .filter_map(|before| first.mended.iter().find(|after| after.witness == before.witness))
            .map(|after| percent(after.off))
            .collect();
        Some(format!(
            "{how}{}. As written {}; {} {}",
            slips.join(", or "),
            against.join(", "),
            if self.slips.len() == 1 { "with it" } else { "with the first" },
            match after.is_empty() {
                true => "all agrees".into(),
                false => after.join(" and "),
            }
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn entry(constituent: Constituent, mass: f64, basis: Basis) -> Entry {
        let mole_per_kg = constituent.mole_per_kg_as(mass, basis).unwrap();
        Entry { constituent, mole_per_kg, relative: 0.0, counted: Counted::As(basis) }
    }

    /// An invented hard well, whose charges balance and whose conductivity PHREEQC computes as 720.6 uS/cm
    /// (phreeqpython 1.6.2).
    fn well() -> Sheet {
        use Basis as B;
        use Constituent as C;
        Sheet {
            entries: vec![
                entry(C::Calcium, 240.0, B::CalciumCarbonate),
                entry(C::Magnesium, 110.0, B::CalciumCarbonate),
                entry(C::Sodium, 22.0, B::Sodium),
                entry(C::Alkalinity, 310.0, B::CalciumCarbonate),
                entry(C::Chloride, 28.0, B::Chloride),
                entry(C::Sulfate, 45.0, B::Sulfate),
            ],
            ph: Some(7.3),
            conductivity: Some((0.07206, 0.0)),
            ..Sheet::default()
        }
    }

    /// The sheet with another number of one constituent.
    fn with(constituent: Constituent, mass: f64, basis: Basis) -> Sheet {
        let mut sheet = well();
        for found in sheet.entries.iter_mut().filter(|found| found.constituent == constituent) {
            *found = entry(constituent, mass, basis);
        }
        sheet
    }

    fn told(sheet: &Sheet) -> String {
        explain(sheet, false).and_then(|found| found.told(sheet)).unwrap_or_default()
    }

    #[test]
    fn a_sound_sheet_is_told_nothing() {
        assert_eq!(explain(&well(), false), None);
        assert_eq!(explain(&well(), true), None);
    }

    #[test]
    fn slips_are_named_with_their_size() {
        use Basis as B;
        use Constituent as C;
        assert!(told(&with(C::Calcium, 24.0, B::CalciumCarbonate)).starts_with(
            "likely calcium 240 mg/L as CaCO3 in place of 24 (a digit dropped). As written"
        ),);
        assert!(
            told(&with(C::Magnesium, 110.0, B::Magnesium))
                .starts_with("likely magnesium 110 mg/L as CaCO3, not as Mg. "),
        );
        let milli = Sheet { conductivity: Some((0.721e-4, 0.0)), ..well() };
        assert!(told(&milli).starts_with("likely conductivity 0.721 mS/cm, not uS/cm. "));
        let chloride = told(&with(C::Chloride, 280.0, B::Chloride));
        assert!(
            chloride
                .starts_with("likely chloride 28 mg/L as Cl in place of 280 (a digit too many)")
        );
    }

    /// Ten times as much calcium as is written, or two and a half times: the charges alone do not tell which.
    #[test]
    fn two_slips_that_do_as_well_are_both_named() {
        let sheet = with(Constituent::Calcium, 240.0, Basis::Calcium);
        let found = explain(&sheet, false).unwrap();
        assert!(!found.slips.is_empty() && found.slips.len() <= MOST_NAMED);
        let first = found.slips[0].slip;
        assert_eq!(
            first.kind,
            Kind::Basis { written: Basis::Calcium, meant: Basis::CalciumCarbonate }
        );
        assert_relative_eq!(first.factor, 40.08 / 100.09, max_relative = 1e-12);
    }

    /// Without sodium and conductivity nothing speaks against calcium that is far too low.
    #[test]
    fn what_may_be_missing_speaks_against_no_sheet() {
        let mut sheet = with(Constituent::Calcium, 24.0, Basis::CalciumCarbonate);
        sheet.entries.retain(|found| found.constituent != Constituent::Sodium);
        sheet.conductivity = None;
        assert_eq!(explain(&sheet, false), None);
        // As it stands, it does not close.
        let whole = Sheet { is_whole: true, ..sheet };
        assert!(explain(&whole, true).and_then(|found| found.told(&whole)).is_some());
    }

    #[test]
    fn the_other_water_is_a_witness() {
        let mut sheet = well();
        sheet.entries.retain(|found| found.constituent != Constituent::Sodium);
        sheet.conductivity = None;
        let calcium = Constituent::Calcium.mole_per_kg_as(2_400.0, Basis::CalciumCarbonate);
        sheet.expected = vec![Expected {
            constituent: Constituent::Calcium,
            mole_per_kg: calcium.unwrap(),
            relative: 0.1,
            may_be: MayBe::More,
        }];
        let against = explain(&sheet, false).unwrap().as_written;
        let of = |misfit: &&Misfit| misfit.witness == Witness::OtherWater(Constituent::Calcium);
        assert!(against.iter().find(of).unwrap().standards < -3.0);
        // What is fed may be less in the makeup.
        sheet.expected[0].may_be = MayBe::Less;
        assert_eq!(explain(&sheet, false), None);
    }

    #[test]
    fn what_is_filled_in_is_never_below_nothing() {
        let rows = [
            Row { at_none: 2.0, with: [1.0, -1.0] },
            Row { at_none: 0.0, with: [0.1, 0.0] },
            Row { at_none: 0.0, with: [0.0, 0.1] },
        ];
        let [cations, anions] = filled(&rows, [true, true]);
        assert!(cations == 0.0 && anions > 1.9);
        assert_eq!(filled(&rows, [true, false]), [0.0, 0.0]);
    }
}
