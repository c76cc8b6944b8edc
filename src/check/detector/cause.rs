//! What may have happened: single causes that begin on some day, each with what it does to both series,
//! how often it happens and how large it may be.

/// What may have happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Cause {
    /// Basin water is lost unmetered, or the blowdown meter reads low: the same in both series.
    Loss,
    /// Water comes in past the makeup meter, or the blowdown meter reads high.
    Inflow,
    /// The makeup meter reads differently.
    MakeupMeter,
    /// The basin's conductivity probe reads differently.
    BasinProbe,
    /// Load, its temperatures or the circulation changed: no fault.
    HeatSide,
    /// The makeup's quality changed between two of its rare readings: no fault.
    MakeupNotRead,
    /// Both series changed by amounts that no single cause explains.
    Unclear,
    /// One period that is off by any amount: no fault.
    WildPeriod,
}

/// What a cause of unit size adds to a series in each period that it lasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    /// The same part of the typical makeup.
    One,
    /// In parts of the series' own factor: q of solids, evaporation of heat.
    Factor,
    /// In parts of the period's makeup.
    Makeup,
}

/// How a cause goes on once it has begun.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Course {
    /// At once.
    Step,
    /// Growing evenly; its size is that after [`RAMP_DAYS`].
    Ramp,
    /// At once, and in proportion to the makeup: it rests with the load.
    WithLoad,
}

impl Course {
    /// Every one.
    pub(super) const ALL: [Self; 3] = [Self::Step, Self::Ramp, Self::WithLoad];
}

/// Days after which a growing cause has its stated size.
pub const RAMP_DAYS: f64 = 30.0;

/// Sizes that are tried, with the logarithm of their prior weight.
pub(super) type Sizes = Vec<(f64, f64)>;

/// Ratio of two neighbouring sizes. Coarser ones miss the peak of long logs.
const SIZE_STEP: f64 = 1.10;

impl Cause {
    /// The causes that begin some day, faults first.
    pub(super) const BEGINNING: [Self; 7] = [
        Self::Loss,
        Self::Inflow,
        Self::MakeupMeter,
        Self::BasinProbe,
        Self::Unclear,
        Self::HeatSide,
        Self::MakeupNotRead,
    ];

    /// Whether somebody has to act on it.
    pub fn is_fault(self) -> bool {
        !matches!(self, Self::HeatSide | Self::MakeupNotRead | Self::WildPeriod)
    }

    /// How often it begins in a year (our own, set by eye: a start, not a truth).
    pub(super) fn rate_a_year(self, course: Course) -> f64 {
        match (self, course) {
            (Self::Loss, Course::Step) => 0.5,
            (Self::Loss, Course::Ramp) => 0.15,
            (Self::Loss, Course::WithLoad) => 0.1,
            (Self::Inflow, Course::Step) => 0.02,
            (Self::MakeupMeter, Course::Step) => 0.15,
            (Self::MakeupMeter, Course::Ramp) => 0.03,
            (Self::BasinProbe, Course::Step) => 0.05,
            (Self::BasinProbe, Course::Ramp) => 0.3,
            (Self::HeatSide, Course::Step) => 1.0,
            (Self::HeatSide, Course::Ramp) => 0.5,
            (Self::MakeupNotRead, Course::Step) => 2.0,
            (Self::Unclear, Course::Step) => 0.02,
            (Self::Unclear, Course::Ramp) => 0.006,
            (Self::WildPeriod, Course::Step) => 20.0,
            (Self::Inflow | Self::MakeupNotRead | Self::WildPeriod, Course::Ramp)
            | (_, Course::WithLoad) => 0.0,
        }
    }

    /// What it does to the series of solids and of heat.
    pub(super) fn forms(self) -> (Option<Form>, Option<Form>) {
        match self {
            Self::Loss | Self::Inflow | Self::Unclear => (Some(Form::One), Some(Form::One)),
            Self::MakeupMeter => (Some(Form::Factor), Some(Form::Makeup)),
            Self::BasinProbe | Self::MakeupNotRead => (Some(Form::Factor), None),
            Self::HeatSide => (None, Some(Form::Factor)),
            Self::WildPeriod => (Some(Form::One), None),
        }
    }

    /// How large it may be: parts of the typical makeup, or of the reading.
    pub(super) fn sizes(self) -> Sizes {
        match self {
            Self::Loss => log_uniform(0.012, 0.40, 1.0),
            Self::Inflow => log_uniform(0.012, 0.40, -1.0),
            // Registers that wear read low.
            Self::MakeupMeter => weighted(0.01, 0.60, &|size| {
                normal(size, 0.10) * if size < 0.0 { 2.0 * 0.85 } else { 2.0 * 0.15 }
            }),
            // Fouled probes read low, which looks like more solids in the makeup.
            Self::BasinProbe => weighted(0.01, 0.80, &|size| {
                normal(size, 0.15) * if size > 0.0 { 2.0 * 0.75 } else { 2.0 * 0.25 }
            }),
            // A pump more or less, which nobody reads, doubles the heat or halves it.
            Self::HeatSide => weighted(0.01, 1.5, &|size| match size.abs() {
                near if near <= 0.45 => 0.8 / 0.9,
                _ if size > -0.8 => 0.2 / 1.4,
                _ => 0.0,
            }),
            Self::Unclear => weighted(0.01, 0.40, &|_| 1.0 / 0.8),
            // Another source has from half to more than twice the salts.
            Self::MakeupNotRead => weighted(0.02, 1.5, &|size| {
                if size < -0.6 { 0.0 } else { 0.5 * (-size.abs() / 0.25).exp() / 0.25 }
            }),
            Self::WildPeriod => weighted(0.02, 3.0, &|size| 0.5 * (-size.abs() / 0.5).exp() / 0.5),
        }
    }
}

/// Magnitudes from least to most, each a step larger.
fn magnitudes(least: f64, most: f64) -> impl Iterator<Item = f64> {
    let steps = ((most / least).ln() / SIZE_STEP.ln()).round().max(1.0) as i32;
    (0..=steps).map(move |step| least * (most / least).powf(f64::from(step) / f64::from(steps)))
}

fn log_uniform(least: f64, most: f64, sign: f64) -> Sizes {
    let sizes: Vec<f64> = magnitudes(least, most).collect();
    let weight = -(sizes.len() as f64).ln();
    sizes.into_iter().map(|size| (sign * size, weight)).collect()
}

/// Both signs, by a density.
fn weighted(least: f64, most: f64, density: &dyn Fn(f64) -> f64) -> Sizes {
    let width = SIZE_STEP.ln();
    magnitudes(least, most)
        .flat_map(|size| [size, -size])
        .map(|size| (size, (density(size) * size.abs() * width).ln()))
        .filter(|(_, weight)| weight.is_finite())
        .collect()
}

fn normal(value: f64, deviation: f64) -> f64 {
    let by = value / deviation;
    (-0.5 * by * by).exp() / (deviation * (2.0 * std::f64::consts::PI).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn priors_of_sizes_come_to_about_one() {
        for cause in Cause::BEGINNING {
            let sum: f64 = cause.sizes().iter().map(|(_, weight)| weight.exp()).sum();
            // What lies below the least size is no change worth finding.
            assert!((0.8..=1.1).contains(&sum), "{cause:?} {sum}");
        }
    }
}
