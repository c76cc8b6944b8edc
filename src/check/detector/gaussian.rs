//! Rows of numbers that are Gaussian with an unknown scale, and what a single change makes of their
//! likelihood.

/// A lower triangle, row by row.
pub(super) type Triangle = Vec<Vec<f64>>;

/// Degrees of freedom of the prior on the scale: so many values' worth of trust in stated accuracies.
const TRUST: f64 = 6.0;

/// The lower triangle of Cholesky's factor, K = L L'. A pivot that rounding makes negative counts as tiny.
///
/// The first rows of the factor are the factor of the first rows, so that one factor serves every
/// morning of a log.
pub(super) fn cholesky(mut matrix: Triangle) -> Triangle {
    const TINY: f64 = 1e-14;
    for row in 0..matrix.len() {
        let (above, rest) = matrix.split_at_mut(row);
        let current = &mut rest[0];
        for (column, other) in above.iter().enumerate() {
            let dot: f64 = current[..column].iter().zip(&other[..column]).map(|(a, b)| a * b).sum();
            current[column] = (current[column] - dot) / other[column];
        }
        let squares: f64 = current[..row].iter().map(|value| value * value).sum();
        current[row] = (current[row] - squares).max(TINY).sqrt();
    }
    matrix
}

/// L^-1 x; zeros at the beginning of `x` stay.
pub(super) fn whiten(factor: &Triangle, x: &[f64]) -> Vec<f64> {
    let first = x.iter().position(|value| *value != 0.0).unwrap_or(x.len());
    let mut white = vec![0.0; x.len()];
    for row in first..x.len() {
        let line = &factor[row];
        let dot: f64 = line[first..row].iter().zip(&white[first..row]).map(|(a, b)| a * b).sum();
        white[row] = (x[row] - dot) / line[row];
    }
    white
}

/// A row of numbers, whitened, with the sums of its squares up to each place.
#[derive(Debug, Clone, Default)]
pub(super) struct Rows {
    factor: Triangle,
    white: Vec<f64>,
    /// Sum of squares of the first n values, at place n.
    squares: Vec<f64>,
}

/// What a change of unit size does to the rows: its squares and its product with them, up to each
/// place.
#[derive(Debug, Clone)]
pub(super) struct Change {
    squares: Vec<f64>,
    products: Vec<f64>,
}

impl Rows {
    pub fn new(covariance: Triangle, y: &[f64]) -> Self {
        let factor = cholesky(covariance);
        let white = whiten(&factor, y);
        let squares = sums(white.iter().map(|value| value * value));
        Self { factor, white, squares }
    }

    /// A change of this form.
    pub fn change(&self, x: &[f64]) -> Change {
        let white = whiten(&self.factor, x);
        Change {
            squares: sums(white.iter().map(|value| value * value)),
            products: sums(white.iter().zip(&self.white).map(|(a, b)| a * b)),
        }
    }

    /// Logarithm of the likelihood with a change of this size over that without one, on the first
    /// `rows`: the t-density that is left when the scale is integrated out,
    /// -1/2 ln|K| - (6 + n)/2 ln(1 + y'K^-1 y / 6).
    pub fn log_ratio(&self, change: &Change, size: f64, rows: usize) -> f64 {
        let without = self.squares[rows];
        let with =
            without - 2.0 * size * change.products[rows] + size * size * change.squares[rows];
        -0.5 * (TRUST + rows as f64) * ((TRUST + with) / (TRUST + without)).ln()
    }

    /// What the log ratio comes to on average where a change of this size is added to the rows as they
    /// are.
    pub fn expected(&self, change: &Change, size: f64) -> f64 {
        let rows = self.white.len();
        let without = TRUST + self.squares[rows];
        let added = size * size * change.squares[rows];
        0.5 * (TRUST + rows as f64) * ((without + added) / without).ln()
    }

    /// The size that fits best on the first `rows`, and the log ratio that it has; no change touches no
    /// row.
    pub fn best(&self, change: &Change, rows: usize) -> (f64, f64) {
        if change.squares[rows] <= 0.0 {
            return (0.0, 0.0);
        }
        let size = change.products[rows] / change.squares[rows];
        (size, self.log_ratio(change, size, rows))
    }
}

/// Sums of the first n, at place n.
fn sums(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut all = vec![0.0];
    let mut sum = 0.0;
    all.extend(values.map(|value| {
        sum += value;
        sum
    }));
    all
}

/// Logarithm of a sum of exponentials; minus infinity of none.
pub(super) fn log_sum(logarithms: impl Iterator<Item = f64> + Clone) -> f64 {
    let most = logarithms.clone().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return most;
    }
    most + logarithms.map(|logarithm| (logarithm - most).exp()).sum::<f64>().ln()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn covariance() -> Triangle {
        vec![vec![4.0], vec![1.0, 3.0], vec![0.5, -0.2, 2.0]]
    }

    #[test]
    fn a_factor_times_itself_is_the_matrix() {
        let factor = cholesky(covariance());
        for (row, line) in covariance().iter().enumerate() {
            for (column, value) in line.iter().enumerate() {
                let product: f64 =
                    (0..=column).map(|place| factor[row][place] * factor[column][place]).sum();
                assert_relative_eq!(product, *value, epsilon = 1e-12);
            }
        }
    }

    #[test]
    fn the_best_size_beats_its_neighbours() {
        let rows = Rows::new(covariance(), &[0.1, 2.0, 1.5]);
        let change = rows.change(&[0.0, 1.0, 1.0]);
        let (size, best) = rows.best(&change, 3);
        assert!(best > 0.0);
        for off in [-0.1, 0.1] {
            assert!(rows.log_ratio(&change, size + off, 3) < best);
        }
        assert_relative_eq!(rows.log_ratio(&change, 0.0, 3), 0.0);
        // Before it begins it changes nothing.
        assert_eq!(rows.best(&change, 1), (0.0, 0.0));
    }

    #[test]
    fn sums_of_exponentials_do_not_overflow() {
        assert_relative_eq!(log_sum([1000.0, 1000.0].into_iter()), 1000.0 + 2f64.ln());
        assert_eq!(log_sum(std::iter::empty()), f64::NEG_INFINITY);
    }
}
