//! How the two series of a healthy log go on by themselves: noise, weather that persists, a slow
//! wander, and constant errors. All are ratios; the log itself sets the scale.

use super::Observed;
use super::gaussian::Triangle;
use crate::statistics::{median, spread};

/// A series of what a balance leaves over, in parts of the typical makeup.
#[derive(Debug, Clone, Default)]
pub(super) struct Series {
    /// Places of the periods that count.
    pub periods: Vec<usize>,
    /// What is left over.
    pub left: Vec<f64>,
    /// What multiplies an error of a meter: q of solids, evaporation of heat.
    pub by: Vec<f64>,
    /// Its covariance where nothing is wrong.
    pub covariance: Triangle,
    /// Values that stand far from those around them and count for nothing by themselves.
    pub spikes: Vec<Option<Spike>>,
}

/// How a value stands to those around it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spike {
    /// By how much it is off.
    pub off: f64,
    /// What those around it scatter by.
    pub spread: f64,
}

/// Constant errors, one standard deviation: calibration of both probes and of the conductivity law's
/// level; the law's slope as the makeup's quality moves; the blowdown meter and a valve's stated flow;
/// anything constant; temperature compensation, per K.
const PROBES: f64 = 0.06;
const SLOPE: f64 = 0.08;
const BLOWDOWN_METER: f64 = 0.02;
const BLOWDOWN_VALVE: f64 = 0.15;
const CONSTANT: f64 = 0.02;
const COMPENSATION: f64 = 0.0025;
/// One reading of the basin.
const BASIN_READING: f64 = 0.01;
/// Noise of a day of makeup, and its floor in parts of the typical makeup.
const MAKEUP_NOISE: f64 = 0.004;
const LEAST_MAKEUP: f64 = 0.4;
const LONGEST_FOR_NOISE: f64 = 1.5;
/// What persists for some days, as a part of q or of the evaporation.
const PERSISTENT_SOLIDS: f64 = 0.005;
const PERSISTENT_HEAT: f64 = 0.01;
const PERSISTENCE_DAYS: f64 = 3.0;
/// Lasting wander of one day.
const WANDER_SOLIDS: f64 = 0.002;
const WANDER_HEAT: f64 = 0.004;
/// Drift of a makeup's quality that nobody reads, over the root of a day.
const UNREAD: f64 = 0.01;
/// Heat: noise of a day; the level of the method and of the nameplate; a spot reading as a shrunken
/// picture of the day; anything constant; a slope with the wet bulb per 10 K; weekends.
const HEAT_NOISE: f64 = 0.03;
const LEAST_EVAPORATION: f64 = 0.3;
const HEAT_LEVEL: f64 = 0.15;
const HEAT_SHRINKING: f64 = 0.5;
const HEAT_CONSTANT: f64 = 0.10;
const HEAT_BY_WET_BULB: f64 = 0.06;
const HEAT_AT_WEEKENDS: f64 = 0.10;
/// A meter that was replaced.
const REPLACED: f64 = 0.02;
/// Residuals this far from those around them carry their own square as variance.
const WILD: f64 = 5.0;

/// What the solids leave over in each period that counts, in parts of the typical makeup.
pub(super) fn solids_left(
    observed: &[Observed],
    plant: &super::Plant,
    typical: f64,
) -> Vec<(usize, f64)> {
    let left = |p: &Observed| {
        let q = p.makeup / typical / p.cycles();
        let stored = plant.volume / typical * (p.basin[1] - p.basin[0]) / p.days() / p.basin_mean();
        q - stored - (p.blowdown + p.drift + p.stored_with_solids) / typical
    };
    let rows = observed.iter().enumerate().filter(|(_, period)| period.counts_in_solids);
    rows.map(|(place, period)| (place, left(period))).collect()
}

/// What the solids leave over: makeup's solids over the basin's concentration, less what is stored,
/// blowdown, drift and the water that is stored.
pub(super) fn solids(observed: &[Observed], plant: &super::Plant, typical: f64) -> Series {
    let counted = |period: &&(usize, &Observed)| period.1.counts_in_solids;
    let rows: Vec<(usize, &Observed)> =
        observed.iter().enumerate().filter(|p| counted(&p)).collect();
    let volume = plant.volume / typical;
    let q: Vec<f64> = rows.iter().map(|(_, p)| p.makeup / typical / p.cycles()).collect();
    let left = solids_left(observed, plant, typical).into_iter().map(|(_, left)| left).collect();
    let first = first_day(observed);
    let mut covariance = triangle(rows.len(), |i, j| {
        let (a, b) = (rows[i].1, rows[j].1);
        let apart = (a.middle() - b.middle()).abs();
        let both = q[i] * q[j];
        let mut sum =
            PERSISTENT_SOLIDS * PERSISTENT_SOLIDS * both * (-apart / PERSISTENCE_DAYS).exp()
                + WANDER_SOLIDS * WANDER_SOLIDS * both * (a.middle().min(b.middle()) - first);
        for (end, reading) in a.basin_reading.iter().enumerate() {
            for (other, same) in b.basin_reading.iter().enumerate() {
                if reading == same {
                    let of = |p: &Observed, q: f64, end: usize| {
                        let stored = volume / p.days();
                        if end == 0 { stored - 0.5 * q } else { -stored - 0.5 * q }
                    };
                    sum += BASIN_READING * BASIN_READING * of(a, q[i], end) * of(b, q[j], other);
                }
            }
        }
        if a.makeup_reading == b.makeup_reading {
            let age = a.makeup_reading_age.min(b.makeup_reading_age);
            sum += UNREAD * UNREAD * both * age;
        }
        sum
    });
    for (i, (_, period)) in rows.iter().enumerate() {
        let noise = MAKEUP_NOISE * (period.makeup / typical).max(LEAST_MAKEUP)
            / period.days().min(LONGEST_FOR_NOISE);
        covariance[i][i] += noise * noise;
    }
    let quality: Vec<f64> = rows.iter().map(|(_, p)| p.makeup_concentration.ln()).collect();
    let cold: Vec<Option<f64>> = rows.iter().map(|(_, p)| p.cold_water).collect();
    let times = |factor: &dyn Fn(usize) -> f64| -> Vec<f64> {
        (0..rows.len()).map(|i| q[i] * factor(i)).collect()
    };
    let blowdown_error = if plant.blowdown_by_valve { BLOWDOWN_VALVE } else { BLOWDOWN_METER };
    let typical_quality = median(quality.iter().copied()).unwrap_or(0.0);
    let typical_cold = median(cold.iter().flatten().copied());
    let constants = [
        (PROBES, q.clone()),
        (SLOPE, times(&|i| quality[i] - typical_quality)),
        (blowdown_error, rows.iter().map(|(_, p)| p.blowdown / typical).collect()),
        (CONSTANT, vec![1.0; rows.len()]),
        (COMPENSATION, times(&|i| cold[i].zip(typical_cold).map_or(0.0, |(t, m)| t - m))),
    ];
    for (deviation, x) in &constants {
        add_constant(&mut covariance, x, *deviation);
    }
    add_replacements(&mut covariance, &rows, &|i| q[i]);
    let periods = rows.iter().map(|(place, _)| *place).collect();
    soften(Series { periods, left, by: q, covariance, spikes: Vec::new() })
}

/// What water and heat leave over: makeup less blowdown, evaporation, drift and stored water.
pub(super) fn heat(observed: &[Observed], typical: f64) -> Series {
    let rows: Vec<(usize, &Observed, f64)> = observed
        .iter()
        .enumerate()
        .filter(|(_, period)| period.counts_in_heat)
        .filter_map(|(place, period)| Some((place, period, period.evaporation? / typical)))
        .collect();
    let e: Vec<f64> = rows.iter().map(|(_, _, e)| *e).collect();
    let first = first_day(observed);
    let left: Vec<f64> = rows
        .iter()
        .map(|(_, p, e)| (p.makeup - p.blowdown - p.drift - p.stored) / typical - e)
        .collect();
    let mut covariance = triangle(rows.len(), |i, j| {
        let (a, b) = (rows[i].1.middle() - first, rows[j].1.middle() - first);
        let both = e[i] * e[j];
        PERSISTENT_HEAT * PERSISTENT_HEAT * both * (-(a - b).abs() / PERSISTENCE_DAYS).exp()
            + WANDER_HEAT * WANDER_HEAT * both * a.min(b)
    });
    for (i, e) in e.iter().enumerate() {
        let noise = HEAT_NOISE * e.max(LEAST_EVAPORATION);
        covariance[i][i] += noise * noise;
    }
    let wet: Vec<Option<f64>> = rows.iter().map(|(_, p, _)| p.wet_bulb).collect();
    let typical_wet = median(wet.iter().flatten().copied());
    let typical_e = median(e.iter().copied()).unwrap_or(0.0);
    let by_wet = |i: usize| wet[i].zip(typical_wet).map_or(0.0, |(t, m)| 0.1 * (t - m));
    let constants = [
        (HEAT_LEVEL, e.clone()),
        (HEAT_SHRINKING, e.iter().map(|e| e - typical_e).collect()),
        (HEAT_CONSTANT, vec![1.0; rows.len()]),
        (HEAT_BY_WET_BULB, (0..rows.len()).map(|i| e[i] * by_wet(i)).collect()),
        (HEAT_AT_WEEKENDS, rows.iter().map(|(_, p, e)| e * p.weekend).collect()),
    ];
    for (deviation, x) in &constants {
        add_constant(&mut covariance, x, *deviation);
    }
    let pairs: Vec<(usize, &Observed)> = rows.iter().map(|(place, p, _)| (*place, *p)).collect();
    add_replacements(&mut covariance, &pairs, &|i| pairs[i].1.makeup / typical);
    let periods = pairs.iter().map(|(place, _)| *place).collect();
    soften(Series { periods, left, by: e, covariance, spikes: Vec::new() })
}

/// When the log begins: what wanders has its place there.
fn first_day(observed: &[Observed]) -> f64 {
    observed.first().map_or(0.0, |period| period.begin)
}

/// A lower triangle of these numbers.
fn triangle(rows: usize, of: impl Fn(usize, usize) -> f64) -> Triangle {
    (0..rows).map(|row| (0..=row).map(|column| of(row, column)).collect()).collect()
}

/// A constant error of this form: its size is one for the whole log.
pub(super) fn add_constant(covariance: &mut Triangle, x: &[f64], deviation: f64) {
    let variance = deviation * deviation;
    for (row, line) in covariance.iter_mut().enumerate() {
        for (column, value) in line.iter_mut().enumerate() {
            *value += variance * x[row] * x[column];
        }
    }
}

/// Each new meter may have another constant error.
fn add_replacements(
    covariance: &mut Triangle,
    rows: &[(usize, &Observed)],
    by: &dyn Fn(usize) -> f64,
) {
    let last = rows.iter().map(|(_, period)| period.makeup_meter).max().unwrap_or(0);
    for meter in 1..=last {
        let x: Vec<f64> = rows
            .iter()
            .enumerate()
            .map(|(i, (_, period))| if period.makeup_meter >= meter { by(i) } else { 0.0 })
            .collect();
        add_constant(covariance, &x, REPLACED);
    }
}

/// Gives residuals that stand far from their eight neighbours a variance of their own distance, so that
/// they count for about nothing. A step is not isolated: the value beside it shares its distance.
fn soften(mut series: Series) -> Series {
    series.spikes = (0..series.left.len())
        .map(|row| {
            let spike = around(&series.left, row)?;
            let middle = series.left[row] - spike.off;
            let shares = |other: Option<usize>| {
                let other = other.and_then(|other| series.left.get(other));
                other.is_some_and(|other| (other - middle) / spike.off > 0.5)
            };
            let is_shared = shares(row.checked_sub(1)) || shares(Some(row + 1));
            (!is_shared && spike.off.abs() > WILD * spike.spread).then_some(spike)
        })
        .collect();
    for (row, spike) in series.spikes.iter().enumerate() {
        if let Some(spike) = spike {
            series.covariance[row][row] += spike.off * spike.off;
        }
    }
    series
}

/// How a value stands to its eight neighbours; none where there are fewer.
pub(super) fn around(left: &[f64], row: usize) -> Option<Spike> {
    const AROUND: usize = 4;
    if left.len() <= 2 * AROUND {
        return None;
    }
    let first = row.saturating_sub(AROUND).min(left.len() - 2 * AROUND - 1);
    let others = (first..=first + 2 * AROUND).filter(|other| *other != row);
    let around: Vec<f64> = others.map(|other| left[other]).collect();
    let middle = median(around.iter().copied())?;
    let spread = spread(&around).unwrap_or(0.0).max(MAKEUP_NOISE);
    Some(Spike { off: left[row] - middle, spread })
}
