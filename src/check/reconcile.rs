//! Weighted least squares under the balances of water and of tracers.
//!
//! Flows and concentrations are measured more often than is needed: the most likely ones are those
//! nearest to the readings, in units of their uncertainty, for which every balance closes (Kuehn and
//! Davidson 1961, Chem. Eng. Prog. 57(6), 44; Narasimhan and Jordache 2000; VDI 2048 part 1). How far
//! the readings are off is a chi-square; what a single fault would explain of it is its likelihood
//! ratio (Narasimhan and Mah 1987, AIChE J. 33, 1514).

use crate::statistics::{chi_square_exceeds, chi_square_limit};

/// A reading with its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Value.
    pub value: f64,
    /// Standard uncertainty, above zero.
    pub uncertainty: f64,
}

impl Reading {
    /// A value with a relative standard uncertainty.
    pub fn relative(value: f64, part: f64) -> Self {
        Self { value, uncertainty: part * value.abs() }
    }
}

/// A conserved tracer in makeup and basin: true cycles come from it. Conductivity is none before it
/// has been corrected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tracer {
    /// In the makeup.
    pub makeup: Reading,
    /// In the basin.
    pub basin: Reading,
    /// Gained by the basin in the period, flow times concentration; its uncertainty may be zero.
    pub stored: Reading,
}

/// The readings of a period. Flows in one unit, tracers each in its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Readings {
    /// Makeup.
    pub makeup: Reading,
    /// Blowdown.
    pub blowdown: Reading,
    /// Evaporation, from heat.
    pub evaporation: Reading,
    /// Drift.
    pub drift: Reading,
    /// Gained by the basin; its uncertainty may be zero.
    pub stored: Reading,
    /// At least one.
    pub tracers: Vec<Tracer>,
}

/// A variable of the reconciliation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Variable {
    /// Makeup.
    Makeup,
    /// Blowdown.
    Blowdown,
    /// Evaporation from heat.
    Evaporation,
    /// Drift.
    Drift,
    /// A tracer in the makeup, by number.
    MakeupTracer(usize),
    /// A tracer in the basin, by number.
    BasinTracer(usize),
    /// Water that the basin gained.
    Stored,
    /// What the basin gained of a tracer, by number.
    StoredTracer(usize),
}

/// What could be wrong by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// Basin water leaves unmetered: leak, overflow, drift. A blowdown meter that reads low looks the
    /// same, and no balance tells them apart. A negative size is water that comes in.
    LossOrBlowdownMeter,
    /// A reading is off.
    Reading(Variable),
}

/// What a single fault would explain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// Which.
    pub fault: Fault,
    /// How much of [`Reconciled::misfit`] it explains: a chi-square of one degree of freedom where
    /// nothing is wrong.
    pub explains: f64,
    /// Its size, in the unit of the reading: true less read is minus this; of a loss, its flow.
    pub size: f64,
    /// Standard uncertainty of the size.
    pub uncertainty: f64,
}

/// Readings with their balances closed.
#[derive(Debug, Clone, PartialEq)]
pub struct Reconciled {
    /// Variables with their most likely values and standard uncertainties.
    pub values: Vec<(Variable, Reading)>,
    /// How far the balances are from closing, a chi-square of [`Self::degrees_of_freedom`] where
    /// nothing is wrong; of the readings as they are, to first order.
    pub misfit: f64,
    /// Balances.
    pub degrees_of_freedom: usize,
    /// Single faults, the one that explains most first.
    pub candidates: Vec<Candidate>,
}

impl Reconciled {
    /// A value.
    pub fn get(&self, variable: Variable) -> Option<Reading> {
        self.values.iter().find(|(known, _)| *known == variable).map(|(_, reading)| *reading)
    }

    /// Chance of so large a misfit where nothing is wrong.
    pub fn chance(&self) -> f64 {
        chi_square_exceeds(self.misfit, self.degrees_of_freedom)
    }

    /// Whether the readings contradict each other at this level, such as 0.05. The reconciled values
    /// are no truth then.
    pub fn contradicts(&self, level: f64) -> bool {
        self.misfit > chi_square_limit(level, self.degrees_of_freedom)
    }

    /// Whether a single fault explains the misfit: what it leaves is no surprise at this level.
    pub fn is_explained_by(&self, candidate: &Candidate, level: f64) -> bool {
        let left = self.misfit - candidate.explains;
        self.degrees_of_freedom > 1 && left <= chi_square_limit(level, self.degrees_of_freedom - 1)
    }
}

/// Why readings cannot be reconciled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ReconcileError {
    /// No tracer, or an uncertainty of nothing.
    #[error("a reconciliation needs a tracer, and an uncertainty above zero for every reading")]
    NotMeasured,
    /// The iteration does not settle.
    #[error("the readings are too far from any balance")]
    NotSettled,
}

type Vector = Vec<f64>;
type Matrix = Vec<Vec<f64>>;

/// The balances at some values.
struct Balances<'a> {
    readings: &'a Readings,
}

impl Balances<'_> {
    fn variables(&self) -> Vec<(Variable, Reading)> {
        let readings = self.readings;
        let mut variables = vec![
            (Variable::Makeup, readings.makeup),
            (Variable::Blowdown, readings.blowdown),
            (Variable::Evaporation, readings.evaporation),
            (Variable::Drift, readings.drift),
        ];
        for (index, tracer) in readings.tracers.iter().enumerate() {
            variables.push((Variable::MakeupTracer(index), tracer.makeup));
            variables.push((Variable::BasinTracer(index), tracer.basin));
        }
        variables.push((Variable::Stored, readings.stored));
        for (index, tracer) in readings.tracers.iter().enumerate() {
            variables.push((Variable::StoredTracer(index), tracer.stored));
        }
        variables
    }

    /// Place of the water that the basin gained; its tracers stand behind it.
    fn stored(&self) -> usize {
        4 + 2 * self.readings.tracers.len()
    }

    /// What the balances miss: water first, then every tracer.
    fn residuals(&self, x: &[f64]) -> Vector {
        let [makeup, blowdown, evaporation, drift] = [x[0], x[1], x[2], x[3]];
        let water = makeup - evaporation - blowdown - drift - x[self.stored()];
        let tracers = (0..self.readings.tracers.len()).map(|index| {
            let (fresh, basin) = (x[4 + 2 * index], x[5 + 2 * index]);
            makeup * fresh - (blowdown + drift) * basin - x[self.stored() + 1 + index]
        });
        std::iter::once(water).chain(tracers).collect()
    }

    /// Their slopes with every variable, a row a balance.
    fn slopes(&self, x: &[f64]) -> Matrix {
        let columns = x.len();
        let mut slopes = vec![vec![0.0; columns]; 1 + self.readings.tracers.len()];
        slopes[0][..4].copy_from_slice(&[1.0, -1.0, -1.0, -1.0]);
        slopes[0][self.stored()] = -1.0;
        for index in 0..self.readings.tracers.len() {
            let (fresh, basin) = (4 + 2 * index, 5 + 2 * index);
            let row = &mut slopes[1 + index];
            row[0] = x[fresh];
            row[1] = -x[basin];
            row[3] = -x[basin];
            row[fresh] = x[0];
            row[basin] = -(x[1] + x[3]);
            row[self.stored() + 1 + index] = -1.0;
        }
        slopes
    }

    /// What a flow of unmetered loss does to the balances.
    fn loss(&self, x: &[f64]) -> Vector {
        let tracers = (0..self.readings.tracers.len()).map(|index| -x[5 + 2 * index]);
        std::iter::once(-1.0).chain(tracers).collect()
    }
}

/// Reconciles the readings of a period.
///
/// # Errors
/// [`ReconcileError`].
pub fn reconcile(readings: &Readings) -> Result<Reconciled, ReconcileError> {
    const MOST_PASSES: usize = 100;
    const SETTLED: f64 = 1e-12;
    let balances = Balances { readings };
    let variables = balances.variables();
    if readings.tracers.is_empty() || !variables.iter().all(is_measured) {
        return Err(ReconcileError::NotMeasured);
    }
    let y: Vector = variables.iter().map(|(_, reading)| reading.value).collect();
    let q: Vector =
        variables.iter().map(|(_, reading)| reading.uncertainty * reading.uncertainty).collect();
    let mut x = y.clone();
    let mut settled = false;
    for _ in 0..MOST_PASSES {
        let slopes = balances.slopes(&x);
        let missing: Vector = balances
            .residuals(&x)
            .iter()
            .zip(&slopes)
            .map(|(residual, row)| {
                let moved: f64 =
                    row.iter().zip(y.iter().zip(&x)).map(|(a, (y, x))| a * (y - x)).sum();
                residual + moved
            })
            .collect();
        let solved = solve(&spread(&slopes, &q), &missing).ok_or(ReconcileError::NotSettled)?;
        let next: Vector = (0..y.len())
            .map(|j| {
                let back: f64 = slopes.iter().zip(&solved).map(|(row, s)| row[j] * s).sum();
                y[j] - q[j] * back
            })
            .collect();
        let change = next
            .iter()
            .zip(&x)
            .zip(&q)
            .filter(|(_, q)| **q > 0.0)
            .map(|((next, x), q)| (next - x).abs() / q.sqrt())
            .fold(0.0, f64::max);
        x = next;
        if change < SETTLED.sqrt() * 1e-3 {
            settled = true;
            break;
        }
    }
    if !settled {
        return Err(ReconcileError::NotSettled);
    }
    let slopes = balances.slopes(&x);
    let spread_there = spread(&slopes, &q);
    let mut values = Vec::with_capacity(variables.len());
    for (j, (variable, _)) in variables.iter().enumerate() {
        let column: Vector = slopes.iter().map(|row| row[j]).collect();
        let solved = solve(&spread_there, &column).ok_or(ReconcileError::NotSettled)?;
        let gained: f64 = column.iter().zip(&solved).map(|(a, s)| a * s).sum();
        let variance = (q[j] - q[j] * q[j] * gained).max(0.0);
        values.push((*variable, Reading { value: x[j], uncertainty: variance.sqrt() }));
    }
    let (misfit, candidates) = candidates(&balances, &variables, &y, &q)?;
    Ok(Reconciled { values, misfit, degrees_of_freedom: slopes.len(), candidates })
}

/// What single faults would explain of a change of the readings from a quiet time: constant errors of
/// the instruments, which both share, drop out, and the uncertainties of `readings` are those of the
/// change. The misfit, and candidates as in [`Reconciled::candidates`] with sizes of the change.
///
/// # Errors
/// [`ReconcileError`].
pub fn explain_change(
    quiet: &Readings,
    readings: &Readings,
) -> Result<(f64, Vec<Candidate>), ReconcileError> {
    let balances = Balances { readings };
    let variables = balances.variables();
    let y: Vector = variables.iter().map(|(_, reading)| reading.value).collect();
    let q: Vector =
        variables.iter().map(|(_, reading)| reading.uncertainty * reading.uncertainty).collect();
    let before = Balances { readings: quiet };
    let was: Vector = before.variables().iter().map(|(_, reading)| reading.value).collect();
    if was.len() != y.len() || !variables.iter().all(is_measured) {
        return Err(ReconcileError::NotMeasured);
    }
    // A balance's error goes with its flows: what the quiet one missed is carried over in proportion.
    let scale = y[0] / was[0];
    let residuals: Vector = balances
        .residuals(&y)
        .iter()
        .zip(before.residuals(&was))
        .map(|(now, then)| now - scale * then)
        .collect();
    explained(&balances, &variables, (&y, &q), &residuals)
}

fn is_measured((variable, reading): &(Variable, Reading)) -> bool {
    let may_be_exact = matches!(variable, Variable::Stored | Variable::StoredTracer(_));
    let is_spread = reading.uncertainty > 0.0 || (may_be_exact && reading.uncertainty == 0.0);
    reading.value.is_finite() && is_spread
}

/// The misfit of the readings as they are, and what single faults would explain of it.
fn candidates(
    balances: &Balances,
    variables: &[(Variable, Reading)],
    y: &[f64],
    q: &[f64],
) -> Result<(f64, Vec<Candidate>), ReconcileError> {
    explained(balances, variables, (y, q), &balances.residuals(y))
}

fn explained(
    balances: &Balances,
    variables: &[(Variable, Reading)],
    (y, q): (&[f64], &[f64]),
    residuals: &[f64],
) -> Result<(f64, Vec<Candidate>), ReconcileError> {
    let slopes = balances.slopes(y);
    let spread = spread(&slopes, q);
    let weighed = solve(&spread, residuals).ok_or(ReconcileError::NotSettled)?;
    let misfit: f64 = residuals.iter().zip(&weighed).map(|(r, w)| r * w).sum();
    let mut candidates = Vec::new();
    let mut add = |fault, signature: Vector| {
        let Some(solved) = solve(&spread, &signature) else { return };
        let precision: f64 = signature.iter().zip(&solved).map(|(g, s)| g * s).sum();
        let product: f64 = signature.iter().zip(&weighed).map(|(g, w)| g * w).sum();
        if precision > 0.0 {
            candidates.push(Candidate {
                fault,
                explains: product * product / precision,
                size: product / precision,
                uncertainty: 1.0 / precision.sqrt(),
            });
        }
    };
    // A loss X enters as M - E - B - D - X: with X, the residuals are those of its signature turned
    // round.
    add(Fault::LossOrBlowdownMeter, balances.loss(y).iter().map(|g| -g).collect());
    for (j, (variable, _)) in variables.iter().enumerate() {
        // The blowdown meter and drift stand under the loss already: one signature. What is stored
        // is the difference of two readings of one probe.
        let stands_alone = matches!(
            variable,
            Variable::Makeup
                | Variable::Evaporation
                | Variable::MakeupTracer(_)
                | Variable::BasinTracer(_)
        );
        if stands_alone {
            add(Fault::Reading(*variable), slopes.iter().map(|row| row[j]).collect());
        }
    }
    candidates.sort_by(|a, b| b.explains.total_cmp(&a.explains));
    Ok((misfit, candidates))
}

/// A Q A', the covariance of the balances' residuals.
fn spread(slopes: &Matrix, q: &[f64]) -> Matrix {
    let product = |a: &Vector, b: &Vector| -> f64 {
        a.iter().zip(b).zip(q).map(|((a, b), q)| a * b * q).sum()
    };
    slopes.iter().map(|a| slopes.iter().map(|b| product(a, b)).collect()).collect()
}

/// Solves a small symmetric positive definite system by Cholesky's method; `None` where it is none.
fn solve(matrix: &Matrix, right: &[f64]) -> Option<Vector> {
    let n = right.len();
    let mut lower = vec![vec![0.0; n]; n];
    for i in 0..n {
        for j in 0..=i {
            let sum: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
            let rest = matrix[i][j] - sum;
            if i == j {
                if !(rest > 0.0) {
                    return None;
                }
                lower[i][i] = rest.sqrt();
            } else {
                lower[i][j] = rest / lower[j][j];
            }
        }
    }
    let mut x = right.to_vec();
    for i in 0..n {
        let sum: f64 = (0..i).map(|k| lower[i][k] * x[k]).sum();
        x[i] = (x[i] - sum) / lower[i][i];
    }
    for i in (0..n).rev() {
        let sum: f64 = (i + 1..n).map(|k| lower[k][i] * x[k]).sum();
        x[i] = (x[i] - sum) / lower[i][i];
    }
    Some(x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn readings() -> Readings {
        let of = |value: f64, uncertainty: f64| Reading { value, uncertainty };
        let tracer = |makeup, basin, stored| Tracer {
            makeup: of(makeup, 0.02 * makeup),
            basin: of(basin, 0.01 * basin),
            stored: of(stored, 2.0),
        };
        Readings {
            makeup: of(20.3, 0.2),
            blowdown: of(4.8, 0.1),
            evaporation: of(14.6, 0.5),
            drift: of(0.3, 0.1),
            stored: of(0.4, 0.05),
            tracers: vec![tracer(60.0, 242.0, 9.0), tracer(0.9, 3.4, -0.1)],
        }
    }

    #[test]
    fn slopes_are_those_of_the_residuals() {
        let readings = readings();
        let balances = Balances { readings: &readings };
        let x: Vector = balances.variables().iter().map(|(_, reading)| reading.value).collect();
        let slopes = balances.slopes(&x);
        // Residuals are products of two variables: a step to both sides gives the slope itself.
        for column in 0..x.len() {
            let at = |step: f64| {
                let mut moved = x.clone();
                moved[column] += step;
                balances.residuals(&moved)
            };
            for (row, (above, below)) in at(0.5).into_iter().zip(at(-0.5)).enumerate() {
                assert_relative_eq!(slopes[row][column], above - below, epsilon = 1e-9);
            }
        }
        let loss: Vector = slopes.iter().map(|row| row[3]).collect();
        assert_eq!(balances.loss(&x), loss);
    }

    #[test]
    fn reconciled_values_close_every_balance_and_none_is_nearer() {
        let readings = readings();
        let reconciled = reconcile(&readings).unwrap();
        let balances = Balances { readings: &readings };
        let x: Vector = reconciled.values.iter().map(|(_, reading)| reading.value).collect();
        for residual in balances.residuals(&x) {
            assert_relative_eq!(residual, 0.0, epsilon = 1e-6);
        }
        let read = balances.variables();
        let pull = |x: &[f64], j: usize| {
            let (_, reading) = read[j];
            (x[j] - reading.value) / reading.uncertainty.powi(2)
        };
        // Least: the pulls are a combination of the balances' slopes. Those of water and of the two
        // tracers follow from evaporation and what is stored of each, where one slope alone is -1.
        let slopes = balances.slopes(&x);
        let stored = balances.stored();
        let weights = [-pull(&x, 2), -pull(&x, stored + 1), -pull(&x, stored + 2)];
        for j in 0..x.len() {
            let combined: f64 = slopes.iter().zip(&weights).map(|(row, w)| row[j] * w).sum();
            assert_relative_eq!(combined, pull(&x, j), epsilon = 1e-5, max_relative = 1e-5);
        }
        for ((_, reading), (_, before)) in reconciled.values.iter().zip(&read) {
            assert!(reading.uncertainty < before.uncertainty && reading.uncertainty > 0.0);
        }
    }

    #[test]
    fn a_misfit_at_the_limit_of_one_in_twenty_has_that_chance() {
        let mut reconciled = reconcile(&readings()).unwrap();
        assert_eq!(reconciled.degrees_of_freedom, 3);
        // The chi-square tables: 7.815 at 0.05 and three degrees of freedom (NIST/SEMATECH
        // e-Handbook 1.3.6.7.4, from memory).
        reconciled.misfit = 7.815;
        assert_relative_eq!(reconciled.chance(), 0.05, epsilon = 1e-5);
        assert!(!reconciled.contradicts(0.0499) && reconciled.contradicts(0.0501));
    }
}
