//! Real cycles by what most of the ions that do not react agree on.

use super::assay::Assay;
use crate::blowdown::{OxidantFeed, ProductSalts};
use crate::chemistry::speciation::{self, Acidity, Constants, SolvedWater};
use crate::chemistry::{Component, Composition, Constituent, Mineral};
use crate::statistics::median;

/// A witness further than so many of its standard uncertainties from the others is the odd one.
const ODD: f64 = 3.0;
/// Part of a computed conductivity that is its standard uncertainty, once it is scaled to the makeup's
/// measured one (0.9 % at worst against the reference waters of this crate, rounded up).
const CONDUCTIVITY_MODEL: f64 = 0.02;
/// The same where the makeup's was not measured (within 5 % of handbook salts).
const CONDUCTIVITY_UNSCALED: f64 = 0.05;
/// Part of the gap between the makeup's measured and computed conductivity that is left as a standard
/// uncertainty once it is scaled away (common practice).
const UNEXPLAINED: f64 = 0.3;
/// A conductivity that moves less than this part of what the cycles move says nothing of them.
const LEAST_SLOPE: f64 = 0.3;
/// A tracer that is less sure than this part of its cycles says nothing of them: it is near the last digit of
/// its report.
const LEAST_SURE: f64 = 0.3;
/// Part of a fed oxidant's salts that is their standard uncertainty: its demand is an estimate (common
/// practice).
const OXIDANT: f64 = 0.25;
/// pH of tower water for its conductivity and silica, where none was measured.
const USUAL_PH: f64 = 8.5;

/// Something whose ratio gives the cycles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tracer {
    /// An ion that stays in the water.
    Ion(Constituent),
    /// The conductivity, through the solved water: no plain ratio.
    Conductivity,
}

/// The ions that stay in the water.
const IONS: [Constituent; 6] = [
    Constituent::Chloride,
    Constituent::Magnesium,
    Constituent::Sodium,
    Constituent::Potassium,
    Constituent::Sulfate,
    Constituent::Silica,
];
/// What may react: where it did, its own analysis goes into the water whose conductivity is computed.
const REACTING: [Constituent; 3] =
    [Constituent::Calcium, Constituent::Alkalinity, Constituent::Sulfate];

impl Tracer {
    /// Key in machine output.
    pub fn key(self) -> &'static str {
        match self {
            Self::Ion(constituent) => constituent.key(),
            Self::Conductivity => "conductivity",
        }
    }

    /// What people call it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Ion(constituent) => constituent.name(),
            Self::Conductivity => "conductivity",
        }
    }
}

/// What one tracer says of the cycles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Witness {
    /// Which.
    pub tracer: Tracer,
    /// In the makeup: mg/L in the basis that the constituent is shown as, or S/m.
    pub makeup: f64,
    /// In the circulating water, in the same unit, as analysed.
    pub circulating: f64,
    /// Cycles that it gives by itself, after what is fed of it.
    pub cycles: f64,
    /// Their standard uncertainty, as a part of them.
    pub relative: f64,
    /// Why it does not agree with the others, where it does not.
    pub odd: Option<Odd>,
}

/// A witness that does not agree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Odd {
    /// What the circulating water would hold if it did, in the unit of the witness.
    pub would_fit: f64,
    /// The likely reason.
    pub reason: Reason,
}

/// Why a witness is likely to be odd.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reason {
    /// Ten times too high or too low: a decimal point in the wrong place.
    DecimalSlip,
    /// Counted as this in one analysis, and as something else in the other.
    Basis(&'static str),
    /// More than the cycles bring: fed, or blown in.
    Added,
    /// Less than the cycles bring: deposited, or a wrong value.
    Missing,
}

/// How much stands behind the cycles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Three tracers or more agree, and they are most of them.
    Consensus,
    /// Three tracers or more agree, but two others or more do not, and these are more than a third: a vote.
    Split,
    /// Two tracers agree, and there is no third to check them.
    Two,
    /// One tracer, with nothing to check it.
    Alone,
    /// The tracers contradict each other.
    Contradictory,
}

/// Real cycles of concentration.
#[derive(Debug, Clone, PartialEq)]
pub struct RealCycles {
    /// Cycles.
    pub cycles: f64,
    /// Their standard uncertainty, in cycles.
    pub standard: f64,
    /// What stands behind them.
    pub standing: Standing,
    /// Every tracer.
    pub witnesses: Vec<Witness>,
    /// Plain ratio of the conductivities, where both were measured.
    pub apparent: Option<f64>,
    /// Chloride that fed oxidant leaves at these cycles, mg/L, taken off before.
    pub chloride_fed: f64,
}

impl RealCycles {
    /// The tracers that agree.
    pub fn agreeing(&self) -> impl Iterator<Item = &Witness> {
        self.witnesses.iter().filter(|witness| witness.odd.is_none())
    }

    /// Whether what is lost on the way can be told against these cycles: they must be known, and not by a
    /// conductivity alone, which falls with what is lost.
    pub fn tells_losses(&self) -> bool {
        let has_ion = self.agreeing().any(|w| w.tracer != Tracer::Conductivity);
        !matches!(self.standing, Standing::Contradictory | Standing::Split) && has_ion
    }

    /// Whether other numbers may rest on these cycles.
    pub fn is_sure(&self) -> bool {
        matches!(self.standing, Standing::Consensus | Standing::Two)
    }
}

/// A makeup as the test is held against it.
#[derive(Debug, Clone, PartialEq)]
pub struct TestedMakeup {
    /// What was analysed of it.
    pub assay: Assay,
    /// All that it is made of, made-up ions included: for its conductivity alone.
    pub blend: Composition,
    /// Its computed conductivity at 25 degC, S/m.
    pub computed_conductivity: f64,
}

/// What the treatment brings into the water.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Fed {
    /// Hypochlorite and the like.
    pub oxidant: OxidantFeed,
    /// Salts of the products.
    pub salts: ProductSalts,
    /// Whether sulfuric acid may be fed, so that sulfate says nothing of the cycles.
    pub sulfate: bool,
    /// Whether hydrochloric acid is fed, so that chloride says nothing of the cycles.
    pub chloride: bool,
}

impl Fed {
    /// Whether an ion's own treatment takes it out of the tracers.
    fn hides(&self, ion: Constituent) -> bool {
        (ion == Constituent::Sulfate && self.sulfate)
            || (ion == Constituent::Chloride && self.chloride)
    }

    /// mol/kg of an ion that oxidant and products leave, at no cycles and with each of them: it is linear.
    fn by_feed(&self, ion: Constituent) -> (f64, f64) {
        let left = |cycles: f64| {
            let by_oxidant = match ion {
                Constituent::Chloride | Constituent::Sodium => self.oxidant.chloride(cycles),
                _ => 0.0,
            };
            by_oxidant + ion.of(&self.salts.at(cycles)).unwrap_or(0.0)
        };
        let at_none = left(0.0);
        (at_none, left(1.0) - at_none)
    }

    /// The makeup at these cycles, with what oxidant and products leave.
    pub fn concentrated(&self, makeup: &Composition, cycles: f64) -> Composition {
        let mut water = makeup.concentrated(cycles);
        for component in [Component::Sodium, Component::Chloride] {
            water.set(component, water.get(component) + self.oxidant.chloride(cycles));
        }
        water.add(&self.salts.at(cycles), 1.0);
        water
    }
}

/// Real cycles of a circulating water; `None` where nothing was analysed in both waters that tells them.
/// `basin` are the constants where silica would deposit first, `reference` those at 25 degC.
pub fn real_cycles(
    makeup: &TestedMakeup,
    tower: &Assay,
    fed: &Fed,
    [basin, reference]: [&Constants; 2],
) -> Option<RealCycles> {
    let mut witnesses: Vec<Witness> =
        IONS.into_iter().filter_map(|ion| by_ion(ion, makeup, tower, fed)).collect();
    let reacted = reacted(agree(witnesses.clone()).as_ref(), makeup, tower);
    let conducts = Conducts::new(makeup, tower, fed, (reference, &reacted));
    witnesses.extend(conducts.as_ref().and_then(Conducts::witness));
    let is_silica = |w: &Witness| w.tracer == Tracer::Ion(Constituent::Silica);
    let others: Vec<Witness> = witnesses.iter().filter(|w| !is_silica(w)).copied().collect();
    let without_silica = agree(others);
    let cycles = without_silica.as_ref().map(|real| real.cycles);
    let silica = witnesses.iter().copied().find(is_silica);
    let stays = |silica: &Witness| {
        let mut water = fed.concentrated(&makeup.blend, cycles.unwrap_or(silica.cycles));
        tower.overlay(&mut water, &reacted);
        let acidity = Acidity::Ph(tower.ph.unwrap_or(USUAL_PH));
        speciation::solve(&water, acidity, basin)
            .ok()
            .and_then(|solved| solved.saturation_index(Mineral::AmorphousSilica))
            .is_some_and(|index| index < 0.0)
    };
    let mut real = match silica.filter(stays) {
        Some(_) => agree(witnesses)?,
        None => without_silica?,
    };
    let both = tower.conductivity.zip(makeup.assay.conductivity);
    real.apparent = both.map(|(after, before)| after.value / before.value);
    if makeup.assay.get(Constituent::Chloride).is_some() {
        let chloride = fed.oxidant.chloride(real.cycles.max(1.0));
        real.chloride_fed = Constituent::Chloride.milligram_per_litre(chloride);
    }
    let cycles = real.cycles;
    for witness in real.witnesses.iter_mut().filter(|witness| witness.odd.is_some()) {
        let would_fit = match witness.tracer {
            Tracer::Ion(ion) => {
                let (at_none, with_each) = fed.by_feed(ion);
                let before = makeup.assay.get(ion).map_or(0.0, |found| found.value);
                ion.milligram_per_litre(at_none + cycles * (before + with_each))
            }
            Tracer::Conductivity => {
                conducts.as_ref().and_then(|conducts| conducts.at(cycles)).unwrap_or(f64::NAN)
            }
        };
        witness.odd = Some(reason(witness, would_fit));
    }
    Some(real)
}

fn by_ion(ion: Constituent, makeup: &TestedMakeup, tower: &Assay, fed: &Fed) -> Option<Witness> {
    let (before, after) = (makeup.assay.get(ion)?, tower.get(ion)?);
    if fed.hides(ion) || !(before.value > 0.0 && after.value > 0.0) {
        return None;
    }
    // after = at_none + cycles (before + with_each)
    let (at_none, with_each) = fed.by_feed(ion);
    let (top, bottom) = (after.value - at_none, before.value + with_each);
    let cycles = top / bottom;
    let unsure_feed = OXIDANT * (at_none + cycles * with_each);
    let relative = ((after.standard / top).powi(2)
        + (before.standard / bottom).powi(2)
        + (unsure_feed / top).powi(2))
    .sqrt();
    let shown = |mole: f64| ion.milligram_per_litre(mole);
    (cycles > 0.0 && relative < LEAST_SURE).then(|| Witness {
        tracer: Tracer::Ion(ion),
        makeup: shown(before.value),
        circulating: shown(after.value),
        cycles,
        relative,
        odd: None,
    })
}

/// Of what reacts, what has done so: it differs from the makeup times the cycles of the ions by more than
/// its ±. None where no ion tells the cycles.
fn reacted(by_ions: Option<&RealCycles>, makeup: &TestedMakeup, tower: &Assay) -> Vec<Constituent> {
    let Some(real) = by_ions else { return Vec::new() };
    let has = |constituent: &Constituent| {
        let pair = makeup.assay.get(*constituent).zip(tower.get(*constituent));
        pair.is_some_and(|(before, after)| {
            let off = after.value / (real.cycles * before.value);
            let squares = [before.relative(), after.relative(), real.standard / real.cycles];
            let standard = squares.iter().map(|part| part * part).sum::<f64>().sqrt();
            off.ln().abs() > 2.0 * standard
        })
    };
    REACTING.into_iter().filter(has).collect()
}

/// The conductivity of the solved water, scaled to the makeup's measured one, with what has reacted as it was
/// analysed.
struct Conducts<'a> {
    makeup: &'a TestedMakeup,
    tower: &'a Assay,
    fed: &'a Fed,
    reference: &'a Constants,
    reacted: &'a [Constituent],
    /// Measured over computed conductivity of the makeup.
    scale: f64,
}

impl<'a> Conducts<'a> {
    /// `None` where measured and computed conductivity of the makeup are so far apart that one of them is
    /// wrong.
    fn new(
        makeup: &'a TestedMakeup,
        tower: &'a Assay,
        fed: &'a Fed,
        (reference, reacted): (&'a Constants, &'a [Constituent]),
    ) -> Option<Self> {
        let measured = makeup.assay.conductivity;
        let scale = measured.map_or(1.0, |found| found.value / makeup.computed_conductivity);
        let is_doubtful = !(0.667..=1.5).contains(&scale);
        (!is_doubtful).then_some(Self { makeup, tower, fed, reference, reacted, scale })
    }

    /// At these cycles, S/m.
    fn at(&self, cycles: f64) -> Option<f64> {
        self.at_from(cycles, &mut None)
    }

    /// The same from a water that was solved before, which this one takes the place of.
    fn at_from(&self, cycles: f64, known: &mut Option<SolvedWater>) -> Option<f64> {
        let mut water = self.fed.concentrated(&self.makeup.blend, cycles);
        self.tower.overlay(&mut water, self.reacted);
        let acidity = Acidity::Ph(self.tower.ph.unwrap_or(USUAL_PH));
        let solved = match known {
            Some(known) => speciation::solve_from(known, &water, acidity, self.reference),
            None => speciation::solve(&water, acidity, self.reference),
        };
        let solved = known.insert(solved.ok()?);
        Some(self.scale * solved.conductivity())
    }

    /// Cycles at which the water conducts what was measured; `None` where it says nothing of them.
    fn witness(&self) -> Option<Witness> {
        const MOST_STEPS: usize = 12;
        const WITHIN: f64 = 1e-5;
        /// Further than this from anything that a tower holds, the water is not solved.
        const WILD: f64 = 3.0;
        /// Standard uncertainty of the plain ratio, as a part of it, where that is all there is.
        const PLAIN: f64 = 0.1;
        let measured = self.tower.conductivity?;
        let makeup = self.scale * self.makeup.computed_conductivity;
        let of = |ln_cycles: f64, relative: f64| Witness {
            tracer: Tracer::Conductivity,
            makeup,
            circulating: measured.value,
            cycles: ln_cycles.exp(),
            relative,
            odd: None,
        };
        // A secant; the plain ratio is near.
        let plain = (measured.value / makeup).ln();
        if !(plain.abs() < WILD) {
            return plain.is_finite().then(|| of(plain, PLAIN));
        }
        let mut last = None;
        let mut off = |x: f64| Some((self.at_from(x.exp(), &mut last)? / measured.value).ln());
        let (mut x, mut y) = (plain, off(plain)?);
        let mut slope = (off(x + 0.1)? - y) / 0.1;
        for _ in 0..MOST_STEPS {
            if !(slope > LEAST_SLOPE) {
                return None;
            }
            if y.abs() < WITHIN {
                break;
            }
            let next = x - y / slope;
            if !(next.abs() < 2.0 * WILD) {
                return Some(of(plain, PLAIN));
            }
            let after = off(next)?;
            slope = (after - y) / (next - x);
            (x, y) = (next, after);
        }
        let before = self.makeup.assay.conductivity;
        let model = if before.is_some() { CONDUCTIVITY_MODEL } else { CONDUCTIVITY_UNSCALED };
        let of_makeup = before.map_or(0.0, |before| before.relative());
        // Where the makeup's ions do not explain its conductivity, they do not explain the tower's either.
        let of_scale = UNEXPLAINED * self.scale.ln();
        // What reacts conducts the rest, and is as sure as its titrations.
        let of_reacting = 0.03 * (1.0 - slope).max(0.0);
        let squares =
            [measured.relative(), of_makeup, of_scale, model, of_reacting].map(|part| part * part);
        (y.abs() < 1e-3).then(|| of(x, squares.iter().sum::<f64>().sqrt() / slope))
    }
}

/// What most of the witnesses agree on. The rest is marked as odd, with what is told of it still to be
/// found.
///
/// Begun at the median, which one wrong value does not move; then the mean by weight of those within three
/// of their standard uncertainties, until they stay the same. Where they scatter more than their
/// uncertainties say, these are enlarged by as much (Birge 1932, Phys. Rev. 40:207, from memory).
fn agree(mut witnesses: Vec<Witness>) -> Option<RealCycles> {
    const MOST_PASSES: usize = 20;
    let mut centre = median(witnesses.iter().map(|witness| witness.cycles.ln()))?;
    let mut kept: Vec<bool> = Vec::new();
    // A witness is a part of the mean that it is held against.
    let count = witnesses.len() as f64;
    let odd = if count > 1.0 { ODD * ((count - 1.0) / count).sqrt() } else { ODD };
    for _ in 0..MOST_PASSES {
        let is_near = |w: &Witness| (w.cycles.ln() - centre).abs() <= odd * w.relative;
        let near: Vec<bool> = witnesses.iter().map(is_near).collect();
        if near == kept || !near.contains(&true) {
            break;
        }
        kept = near;
        centre = mean(&witnesses, &kept).0;
    }
    if kept.is_empty() {
        // Not even the middle lies near anything: an even number, far apart.
        kept = vec![false; witnesses.len()];
    }
    let count = kept.iter().filter(|kept| **kept).count();
    let mut standing = match (witnesses.len(), count) {
        (1, _) => Standing::Alone,
        (2, 2) => Standing::Two,
        (all, 3..) if 3 * count >= 2 * all || all - count == 1 => Standing::Consensus,
        (all, 3..) if 2 * count > all => Standing::Split,
        (_, 2) if witnesses.len() == 3 => Standing::Two,
        _ => Standing::Contradictory,
    };
    if standing == Standing::Contradictory && witnesses.len() == 2 {
        // Salts that deposit lower the conductivity; the ion stays.
        kept = witnesses.iter().map(|w| w.tracer != Tracer::Conductivity).collect();
        if kept.contains(&false) {
            standing = Standing::Alone;
        } else {
            kept = vec![true, true];
        }
    } else if standing == Standing::Contradictory {
        kept = vec![true; witnesses.len()];
        centre = median(witnesses.iter().map(|witness| witness.cycles.ln()))?;
    }
    let (mean, relative) = mean(&witnesses, &kept);
    if standing != Standing::Contradictory || witnesses.len() == 2 {
        centre = mean;
    }
    for (witness, kept) in witnesses.iter_mut().zip(kept) {
        let odd = Odd { would_fit: f64::NAN, reason: Reason::Added };
        witness.odd = (!kept).then_some(odd);
    }
    let cycles = centre.exp();
    Some(RealCycles {
        cycles,
        standard: cycles * relative,
        standing,
        witnesses,
        apparent: None,
        chloride_fed: 0.0,
    })
}

/// Mean of the logarithms of the kept witnesses by weight, and its standard uncertainty.
fn mean(witnesses: &[Witness], kept: &[bool]) -> (f64, f64) {
    let kept = || witnesses.iter().zip(kept).filter(|(_, kept)| **kept).map(|(w, _)| w);
    let weight = |w: &Witness| w.relative.max(1e-6).powi(-2);
    let weights: f64 = kept().map(weight).sum();
    let mean = kept().map(|w| weight(w) * w.cycles.ln()).sum::<f64>() / weights;
    let scatter: f64 = kept().map(|w| weight(w) * (w.cycles.ln() - mean).powi(2)).sum();
    let degrees = kept().count().saturating_sub(1).max(1) as f64;
    (mean, weights.powf(-0.5) * (scatter / degrees).sqrt().max(1.0))
}

/// Why a witness is odd, where it should be what would fit.
fn reason(witness: &Witness, would_fit: f64) -> Odd {
    /// Two ratios are the same that differ by less than this part, or three standard uncertainties.
    const SAME: f64 = 0.12;
    let off = witness.circulating / would_fit;
    let same = SAME.max(ODD * witness.relative).min(0.3);
    let is = |factor: f64| (off / factor).ln().abs() < same;
    let basis = match witness.tracer {
        // More of these is fed far more often than counted as something else.
        Tracer::Ion(Constituent::Chloride | Constituent::Sodium | Constituent::Sulfate)
            if off > 1.0 =>
        {
            None
        }
        Tracer::Ion(ion) => ion.other_bases().find(|(_, factor)| {
            // A basis close to the ion itself cannot be told from anything else.
            let is_it = |factor: f64| (off / factor).ln().abs() < SAME;
            (factor.ln().abs() > 0.2) && (is_it(*factor) || is_it(1.0 / factor))
        }),
        Tracer::Conductivity => None,
    };
    let slip = [10.0, 0.1, 100.0, 0.01].into_iter().find(|factor| is(*factor));
    if let Some(factor) = slip {
        return Odd { would_fit: witness.circulating / factor, reason: Reason::DecimalSlip };
    }
    let reason = match basis {
        Some((basis, _)) => Reason::Basis(basis),
        None if off > 1.0 => Reason::Added,
        None => Reason::Missing,
    };
    Odd { would_fit, reason }
}

/// A consensus of witnesses that are made up, for tests of what rests on it.
#[cfg(test)]
pub(crate) fn agreed(cycles: f64, relative: f64) -> RealCycles {
    RealCycles {
        cycles,
        standard: cycles * relative,
        standing: Standing::Consensus,
        witnesses: vec![Witness {
            tracer: Tracer::Ion(Constituent::Chloride),
            makeup: 1.0,
            circulating: cycles,
            cycles,
            relative,
            odd: None,
        }],
        apparent: None,
        chloride_fed: 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn witness(tracer: Tracer, cycles: f64, relative: f64) -> Witness {
        Witness { tracer, makeup: 1.0, circulating: cycles, cycles, relative, odd: None }
    }

    fn of(cycles: &[f64]) -> RealCycles {
        let tracers = IONS.map(Tracer::Ion).into_iter().chain([Tracer::Conductivity]);
        agree(tracers.zip(cycles).map(|(tracer, cycles)| witness(tracer, *cycles, 0.04)).collect())
            .unwrap()
    }

    fn odd(real: &RealCycles) -> Vec<usize> {
        (0..real.witnesses.len()).filter(|index| real.witnesses[*index].odd.is_some()).collect()
    }

    #[test]
    fn one_wrong_value_is_named_and_does_not_count() {
        let real = of(&[40.0, 4.0, 4.1, 3.9]);
        assert_eq!((real.standing, odd(&real)), (Standing::Consensus, vec![0]));
        assert_relative_eq!(real.cycles, 4.0, max_relative = 0.01);
        let two = of(&[4.0, 40.0, 4.1]);
        assert_eq!((two.standing, odd(&two)), (Standing::Two, vec![1]));
    }

    #[test]
    fn few_witnesses_are_told_apart_from_a_consensus() {
        assert_eq!(of(&[3.0]).standing, Standing::Alone);
        assert_eq!(of(&[3.0, 3.1]).standing, Standing::Two);
        assert_eq!(of(&[3.0, 5.3]).standing, Standing::Contradictory);
        assert_eq!(of(&[2.0, 3.0, 4.5, 7.0]).standing, Standing::Contradictory);
        assert!(agree(Vec::new()).is_none());
        // The ± of a contradiction spans what contradicts.
        let real = of(&[3.0, 5.3]);
        assert!(real.cycles - 2.0 * real.standard < 3.0 && real.cycles + 2.0 * real.standard > 5.3);
    }

    #[test]
    fn a_conductivity_that_lags_yields_to_the_ion() {
        let real = agree(vec![
            witness(Tracer::Ion(Constituent::Chloride), 4.0, 0.04),
            witness(Tracer::Conductivity, 3.2, 0.04),
        ])
        .unwrap();
        assert_eq!((real.standing, odd(&real)), (Standing::Alone, vec![1]));
        assert_relative_eq!(real.cycles, 4.0, max_relative = 1e-12);
    }

    #[test]
    fn witnesses_that_scatter_are_less_sure() {
        let (close, wide) = (of(&[4.0, 4.01, 3.99]), of(&[4.0, 4.4, 3.65]));
        assert!(wide.standard > 1.5 * close.standard);
        // Of three with 4 % each: 4 / sqrt(3) %.
        assert_relative_eq!(close.standard / close.cycles, 0.04 / 3f64.sqrt(), max_relative = 1e-3);
    }

    #[test]
    fn the_oxidants_salts_are_taken_off_chloride_and_sodium() {
        let oxidant = OxidantFeed { demand: 0.05e-3, residual: 0.01e-3, decayed: 0.5 };
        let fed = Fed { oxidant, ..Fed::default() };
        let mut blend = Composition::default();
        Constituent::Alkalinity.put(&mut blend, 2e-3);
        let mole = |c, value| (c, super::super::assay::found(c, value, None));
        let found = [(Constituent::Chloride, 0.5e-3), (Constituent::Sodium, 0.8e-3)];
        for (constituent, value) in found {
            constituent.put(&mut blend, value);
        }
        let water = fed.concentrated(&blend, 4.0);
        let assay = |water: &Composition| {
            let amounts = found.map(|(c, _)| mole(c, c.of(water).unwrap()));
            Assay::new(amounts, None, None)
        };
        let makeup = TestedMakeup { assay: assay(&blend), blend, computed_conductivity: f64::NAN };
        let constants = Constants::at(25.0).unwrap();
        let real = real_cycles(&makeup, &assay(&water), &fed, [&constants, &constants]).unwrap();
        for witness in &real.witnesses {
            assert_relative_eq!(witness.cycles, 4.0, max_relative = 1e-9);
        }
        assert!(real.chloride_fed > 5.0);
    }
}
