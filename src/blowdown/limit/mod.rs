//! Limits of the circulating water: how much is allowed, under which condition, who says so.
//!
//! Where sources disagree, a limit stops where the most lenient of them does and carries where the strictest
//! begins. What practice looks at but does not set cycles by is [`Watched`]. What the site file states goes
//! before both. One file a subject holds the numbers.

mod carbon_steel;
mod code;
mod concrete;
mod copper;
mod fill;
mod galvanised;
mod measure;
mod stainless;
mod treatment;

pub use measure::{Measure, value_of};
pub use treatment::{HIGHEST_CARRIED, UNTREATED_CALCITE, is_treated};

use crate::chemistry::Constituent;
use crate::site::Acid;
use crate::site::description::{Code, ConcreteClass, Material, SaturationLimits, ScaleInhibitor};
use std::borrow::Cow;

/// Words that are mostly the same for every site.
pub type Text = Cow<'static, str>;

/// Which side of a limit is allowed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// Up to the value.
    Most,
    /// From the value on.
    Least,
}

/// On whose word a limit stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Stated for this site: a limit of one's own, a saturation index that the supplier vouches for.
    Stated,
    /// A code or rating that the site file names.
    Code(Code),
    /// A material that the site file names.
    Material(Material),
    /// A number of this library for a scale programme that the site file names.
    Preset,
    /// A number of this library that nobody stated.
    Default,
}

impl Standing {
    /// The word in machine output.
    pub fn key(self) -> &'static str {
        match self {
            Self::Stated => "stated",
            Self::Code(_) => "code",
            Self::Material(_) => "material",
            Self::Preset => "preset",
            Self::Default => "default",
        }
    }
}

/// Where the strictest source of a limit begins.
#[derive(Debug, Clone, PartialEq)]
pub struct WarnFrom {
    /// The value, in the unit of the measure.
    pub value: f64,
    /// Which source.
    pub source: Text,
}

/// One limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// On what.
    pub measure: Measure,
    /// Which side.
    pub bound: Bound,
    /// The value at which the target stops, in the unit of the measure: that of the most lenient source.
    pub value: f64,
    /// What it protects, or where it was stated.
    pub of: Text,
    /// Under which condition it holds, in words; empty where under any.
    pub condition: Text,
    /// Who says so.
    pub source: Text,
    /// On whose word it stands.
    pub standing: Standing,
    /// Where the strictest source begins, if sources disagree.
    pub warn_from: Option<WarnFrom>,
}

impl Limit {
    /// A limit stated for the site; `replaces` is not its matter.
    pub fn stated(measure: Measure, bound: Bound, value: f64, source: Option<&str>) -> Self {
        let source = source.map(|source| source.to_owned());
        Self {
            measure,
            bound,
            value,
            of: source.clone().map_or("site file".into(), Text::from),
            condition: Text::default(),
            source: source.map_or("stated in the site file".into(), Text::from),
            standing: Standing::Stated,
            warn_from: None,
        }
    }

    /// Whether somebody stated it for this site.
    pub fn is_own(&self) -> bool {
        self.standing == Standing::Stated
    }

    /// Whether it may stop the target: a floor of a material or a code is warned of only.
    /// So is the most of a discharge, which falls as the cycles rise.
    pub fn may_stop(&self) -> bool {
        !self.measure.falls_with_cycles() && (self.bound == Bound::Most || self.is_own())
    }

    fn warned_from(mut self, value: f64, source: impl Into<Text>) -> Self {
        self.warn_from = Some(WarnFrom { value, source: source.into() });
        self
    }

    fn when(mut self, condition: impl Into<Text>) -> Self {
        self.condition = condition.into();
        self
    }
}

/// What may come of a value that is only watched.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Danger {
    /// Metal is lost.
    Corrosion,
    /// A mineral deposits.
    Deposit,
    /// Matter that the water carries settles or grows.
    Fouling,
}

/// A value that is warned of and never sets the target.
#[derive(Debug, Clone, PartialEq)]
pub struct Watched {
    /// On what.
    pub measure: Measure,
    /// Which side is well.
    pub bound: Bound,
    /// The value from which it is warned of.
    pub from: f64,
    /// It matters only where this measure is above this value.
    pub only_above: Option<(Measure, f64)>,
    /// What may come of it.
    pub danger: Danger,
    /// What has to be confirmed before the target is held, where that is needed.
    pub needs: Option<&'static str>,
    /// What it concerns.
    pub of: Text,
    /// What it means and what to do, a clause.
    pub says: Text,
    /// Who says so.
    pub source: Text,
    /// On whose word it stands.
    pub standing: Standing,
}

/// Something to say of the limits whatever the water is at the target.
#[derive(Debug, Clone, PartialEq)]
pub struct Remark {
    /// Of which kind.
    pub kind: RemarkKind,
    /// A sentence.
    pub text: Text,
}

/// Which kind of a remark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RemarkKind {
    /// A metal is in danger.
    Corrosion,
    /// Carbon steel without an inhibitor.
    BareSteel,
    /// What new galvanised steel asks for.
    NewGalvanised,
    /// To know, not to act on.
    Note,
}

/// All that holds for a site.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Limits {
    /// What may set the target.
    pub limits: Vec<Limit>,
    /// What is warned of only.
    pub watched: Vec<Watched>,
    /// What there is to say beside.
    pub remarks: Vec<Remark>,
    /// Whether a steel is stated, so that its corrosion is judged.
    pub corrosion_is_judged: bool,
}

/// What the site file states of limits.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StatedLimits {
    /// What the water touches.
    pub materials: Vec<Material>,
    /// Codes and ratings that apply.
    pub codes: Vec<Code>,
    /// Class of the concrete.
    pub concrete_class: Option<ConcreteClass>,
    /// The programme against scale.
    pub scale_inhibitor: Option<ScaleInhibitor>,
    /// Whether an inhibitor against corrosion is fed.
    pub corrosion_inhibitor: bool,
    /// Saturation indices that the treatment may carry.
    pub saturation_index: SaturationLimits,
    /// Limits of one's own, each with whether it replaces others on its side of its measure.
    pub own: Vec<(Limit, bool)>,
}

/// What limits depend on beside the site file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circumstances {
    /// In the basin.
    pub basin_celsius: f64,
    /// Of the hottest surface.
    pub surface_celsius: f64,
    /// In the coldest basin that runs, where it is stated.
    pub coldest_celsius: Option<f64>,
    /// Of the makeup, mg/L as CaCO3.
    pub makeup_hardness: f64,
    /// Of the makeup, mg/L as SiO2, where it is known.
    pub makeup_silica: Option<f64>,
    /// Of the makeup at 25 degC, uS/cm.
    pub makeup_conductivity: f64,
    /// The acid that is fed.
    pub acid: Option<Acid>,
    /// Free chlorine that is held in the water, mg/L as Cl2; 0 where none is stated.
    pub free_chlorine: f64,
}

/// Steel and its coats: copper, concrete and fill say nothing of what eats most systems.
const STEELS: [Material; 7] = [
    Material::CarbonSteel,
    Material::GalvanisedSteel,
    Material::NewGalvanisedSteel,
    Material::Stainless304,
    Material::Stainless316,
    Material::Stainless304Basin,
    Material::Stainless316Basin,
];

impl StatedLimits {
    /// Every limit of the site under these circumstances.
    pub fn under(&self, at: &Circumstances) -> Limits {
        let corrosion_is_judged = self.materials.iter().any(|material| STEELS.contains(material));
        let mut all = Limits { corrosion_is_judged, ..Limits::default() };
        treatment::add(&mut all, self, at);
        for code in &self.codes {
            code::add(&mut all, *code, at);
        }
        for material in &self.materials {
            self.add_material(&mut all, *material, at);
        }
        if !corrosion_is_judged {
            galvanised::soft_makeup(&mut all, "steel and zinc", at);
        }
        for (own, replaces) in &self.own {
            if *replaces {
                let is_other = |measure, bound| measure != own.measure || bound != own.bound;
                all.limits.retain(|other| is_other(other.measure, other.bound) || other.is_own());
                all.watched.retain(|other| is_other(other.measure, other.bound));
            }
            all.limits.push(own.clone());
        }
        all
    }

    fn add_material(&self, all: &mut Limits, material: Material, at: &Circumstances) {
        match material {
            Material::Stainless304
            | Material::Stainless316
            | Material::Stainless304Basin
            | Material::Stainless316Basin => stainless::add(all, material, at),
            Material::GalvanisedSteel | Material::NewGalvanisedSteel => {
                galvanised::add(all, material, at);
            }
            Material::CarbonSteel => carbon_steel::add(all, self.corrosion_inhibitor, at),
            Material::CopperAlloy => copper::add(all),
            Material::Concrete => concrete::add(all, self.concrete_class, at),
            Material::FilmFill => fill::add(all),
        }
    }
}

impl Limits {
    fn remark(&mut self, kind: RemarkKind, text: impl Into<Text>) {
        self.remarks.push(Remark { kind, text: text.into() });
    }
}

/// A line of a table of limits.
#[derive(Clone, Copy)]
struct Row {
    measure: Measure,
    bound: Bound,
    /// Where the target stops; `None` where nothing stops it.
    stops_at: Option<f64>,
    /// Where a warning begins, short of that.
    warn_from: Option<f64>,
    source: &'static str,
}

/// A ceiling.
const fn most(measure: Measure, stops_at: f64, source: &'static str) -> Row {
    Row { measure, bound: Bound::Most, stops_at: Some(stops_at), warn_from: None, source }
}

/// A floor.
const fn least(measure: Measure, stops_at: f64, source: &'static str) -> Row {
    Row { bound: Bound::Least, ..most(measure, stops_at, source) }
}

/// A value that is warned of from here on up.
const fn watch(measure: Measure, from: f64, source: &'static str) -> Row {
    Row { measure, bound: Bound::Most, stops_at: None, warn_from: Some(from), source }
}

/// A value that is warned of from here on down.
const fn watch_below(measure: Measure, from: f64, source: &'static str) -> Row {
    Row { bound: Bound::Least, ..watch(measure, from, source) }
}

impl Row {
    /// A ceiling that is warned of before.
    const fn warn(mut self, from: f64) -> Self {
        self.warn_from = Some(from);
        self
    }

    fn limit(&self, of: &'static str, standing: Standing) -> Option<Limit> {
        let limit = Limit {
            measure: self.measure,
            bound: self.bound,
            value: self.stops_at?,
            of: of.into(),
            condition: Text::default(),
            source: self.source.into(),
            standing,
            warn_from: None,
        };
        Some(match self.warn_from {
            Some(from) => limit.warned_from(from, self.source),
            None => limit,
        })
    }

    fn watched(
        &self,
        of: impl Into<Text>,
        standing: Standing,
        danger: Danger,
        says: impl Into<Text>,
    ) -> Option<Watched> {
        Some(Watched {
            measure: self.measure,
            bound: self.bound,
            from: self.warn_from.filter(|_| self.stops_at.is_none())?,
            only_above: None,
            danger,
            needs: None,
            of: of.into(),
            says: says.into(),
            source: self.source.into(),
            standing,
        })
    }
}

const fn on(constituent: Constituent) -> Measure {
    Measure::Constituent(constituent)
}

/// Calcium, mg/L as Ca, of what a sheet counts as CaCO3.
const fn calcium(as_calcium_carbonate: f64) -> f64 {
    as_calcium_carbonate * 40.08 / 100.09
}

/// A temperature as both kinds of readers know it.
fn degrees(celsius: f64) -> String {
    format!("{celsius:.0} °C ({:.0} °F)", 1.8 * celsius + 32.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    pub(super) const COOL: Circumstances = Circumstances {
        basin_celsius: 29.0,
        surface_celsius: 48.0,
        coldest_celsius: None,
        makeup_hardness: 150.0,
        makeup_silica: Some(10.0),
        makeup_conductivity: 420.0,
        acid: None,
        free_chlorine: 0.0,
    };

    #[test]
    fn a_warning_never_begins_beyond_what_is_allowed() {
        let materials = [
            Material::Stainless304,
            Material::Stainless316,
            Material::Stainless304Basin,
            Material::Stainless316Basin,
            Material::GalvanisedSteel,
            Material::NewGalvanisedSteel,
            Material::CarbonSteel,
            Material::CopperAlloy,
            Material::Concrete,
            Material::FilmFill,
        ];
        for surface in [12.0, 30.0, 40.0, 60.0, 89.0] {
            let at = Circumstances { surface_celsius: surface, ..COOL };
            let stated = StatedLimits { materials: materials.to_vec(), ..Default::default() };
            for limit in stated.under(&at).limits {
                let Some(from) = &limit.warn_from else { continue };
                match limit.bound {
                    Bound::Most => assert!(from.value <= limit.value, "{limit:?}"),
                    Bound::Least => assert!(from.value >= limit.value, "{limit:?}"),
                }
            }
        }
    }

    #[test]
    fn an_own_limit_stands_beside_a_default_or_replaces_it() {
        let silica = on(Constituent::Silica);
        let own = Limit::stated(silica, Bound::Most, 200.0, Some("supplier"));
        let count = |replaces| {
            let stated =
                StatedLimits { own: vec![(own.clone(), replaces)], ..StatedLimits::default() };
            let limits = stated.under(&COOL).limits;
            limits.into_iter().filter(|limit| limit.measure == silica).count()
        };
        assert_eq!((count(false), count(true)), (2, 1));
    }
}
