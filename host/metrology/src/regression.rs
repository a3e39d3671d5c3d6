//! Least squares: a design, observations and weights in; coefficients, their uncertainty and
//! prediction intervals out.

mod polynomial;

pub use polynomial::{Polynomial, polynomial};

use crate::special::{t_quantile, t_survival};
use crate::statistics::mean;
use nalgebra::{DMatrix, DVector};

/// Why no fit could be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FitError {
    /// Fewer observations than coefficients.
    #[error(
        "{coefficients} coefficients need at least as many observations, found {observations}; take more points or a lower degree"
    )]
    TooFew {
        /// Number of observations.
        observations: usize,
        /// Number of coefficients.
        coefficients: usize,
    },
    /// Columns, observations and weights of different length.
    #[error("{what} has {found} values, expected {expected}")]
    UnequalLengths {
        /// Which list.
        what: &'static str,
        /// Its length.
        found: usize,
        /// The length of the first column.
        expected: usize,
    },
    /// A value that is no finite number, or a weight that is not positive.
    #[error("{what} holds {found}, expected finite numbers (weights above zero)")]
    NoNumber {
        /// Which list.
        what: &'static str,
        /// The value.
        found: f64,
    },
    /// The columns do not determine the coefficients, for example all loads alike.
    #[error(
        "the points do not determine coefficient {coefficient}; spread them wider or take a lower degree"
    )]
    Undetermined {
        /// Index of the first coefficient that is not determined.
        coefficient: usize,
    },
}

/// A least-squares fit y ≈ Σ coefficientₖ · columnₖ.
#[derive(Clone, Debug)]
pub struct Fit {
    /// One coefficient per column.
    pub coefficients: Vec<f64>,
    /// Their standard errors from the residuals; not a number without degrees of freedom.
    pub standard_errors: Vec<f64>,
    /// Observed less fitted.
    pub residuals: Vec<f64>,
    /// Residual degrees of freedom.
    pub dof: usize,
    /// Weighted residual sum of squares.
    pub residual_sum_of_squares: f64,
    /// Sum of squares explained, about the mean if there is a constant column, else about zero.
    pub regression_sum_of_squares: f64,
    /// Its degrees of freedom.
    pub regression_dof: usize,
    /// Columns of R⁻¹ scaled back, so that the variance of a·b is |a·this|²·s².
    inverse_root: DMatrix<f64>,
}

/// A fitted value with its intervals' half widths.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prediction {
    /// The fitted value.
    pub value: f64,
    /// Standard error of the fitted value.
    pub standard_error: f64,
    /// Standard deviation of one new observation about the fitted value.
    pub new_observation: f64,
    /// Degrees of freedom of both.
    pub dof: usize,
}

impl Prediction {
    /// Interval for the curve at this place, two-sided at `level`.
    pub fn confidence(&self, level: f64) -> [f64; 2] {
        self.interval(level, self.standard_error)
    }

    /// Interval for one new observation at this place, two-sided at `level`.
    pub fn prediction(&self, level: f64) -> [f64; 2] {
        self.interval(level, self.new_observation)
    }

    fn interval(&self, level: f64, standard: f64) -> [f64; 2] {
        let half = t_quantile(0.5 + 0.5 * level, self.dof as f64) * standard;
        [self.value - half, self.value + half]
    }
}

impl Fit {
    /// Residual standard deviation; not a number without degrees of freedom.
    pub fn residual_stdev(&self) -> f64 {
        (self.residual_sum_of_squares / self.dof as f64).sqrt()
    }

    /// Mean square explained over residual mean square.
    pub fn f_ratio(&self) -> f64 {
        let residual_mean_square = self.residual_sum_of_squares / self.dof as f64;
        self.regression_sum_of_squares / self.regression_dof as f64 / residual_mean_square
    }

    /// Covariance of two coefficients.
    pub fn covariance(&self, i: usize, j: usize) -> f64 {
        self.inverse_root.row(i).dot(&self.inverse_root.row(j)) * self.residual_stdev().powi(2)
    }

    /// Two-sided significance of a coefficient against zero (Student's t).
    pub fn significance(&self, coefficient: usize) -> f64 {
        let t = self.coefficients[coefficient] / self.standard_errors[coefficient];
        2.0 * t_survival(t.abs(), self.dof as f64)
    }

    /// The fitted value where the columns have the values `row`, for a new observation of weight
    /// `weight` (1 without weights). Source: NIST/SEMATECH e-Handbook, sections 4.5.1.1 and 4.5.1.2.
    pub fn predict(&self, row: &[f64], weight: f64) -> Prediction {
        let row = DVector::from_column_slice(row);
        let leverage = (self.inverse_root.transpose() * &row).norm_squared();
        let s = self.residual_stdev();
        Prediction {
            value: row.iter().zip(&self.coefficients).map(|(a, b)| a * b).sum(),
            standard_error: s * leverage.sqrt(),
            new_observation: s * (leverage + 1.0 / weight).sqrt(),
            dof: self.dof,
        }
    }
}

/// Fits the columns to `y` by Householder QR of the columns scaled to unit length, with one step of
/// refinement on residuals computed in twice the precision.
///
/// `weights`: how much each observation counts, inverse to its variance. Normal equations are
/// avoided: they square the condition number.
/// Source: Björck, *Numerical Methods for Least Squares Problems* (1996), sections 2.4 and 2.9.
pub fn fit(columns: &[Vec<f64>], y: &[f64], weights: Option<&[f64]>) -> Result<Fit, FitError> {
    check(columns, y, weights)?;
    let root_weights: Vec<f64> = weights.map_or_else(
        || vec![1.0; y.len()],
        |w| w.iter().map(|v| v.sqrt()).collect(),
    );
    let weighted = DMatrix::from_fn(y.len(), columns.len(), |i, k| {
        columns[k][i] * root_weights[i]
    });
    // powers of two, so that scaling rounds nothing
    let scale: Vec<f64> = weighted
        .column_iter()
        .map(|c| 2.0_f64.powi(-exponent_of(c.norm())))
        .collect();
    let scaled = DMatrix::from_fn(y.len(), columns.len(), |i, k| weighted[(i, k)] * scale[k]);
    let qr = scaled.qr();
    let r = qr.r();
    require_full_rank(&r)?;
    let solve = |right: DVector<f64>| {
        let mut right = right;
        qr.q_tr_mul(&mut right);
        let top = right.rows(0, columns.len()).into_owned();
        r.solve_upper_triangular(&top)
            .unwrap_or_else(|| DVector::zeros(columns.len()))
    };
    let mut coefficients = vec![0.0; columns.len()];
    for _ in 0..3 {
        let rest = residuals(columns, y, &coefficients);
        let rest = DVector::from_fn(y.len(), |i, _| rest[i] * root_weights[i]);
        let step = solve(rest);
        for (k, value) in coefficients.iter_mut().enumerate() {
            *value += step[k] * scale[k];
        }
    }
    let identity = DMatrix::identity(columns.len(), columns.len());
    let inverse = r.solve_upper_triangular(&identity).unwrap_or(identity);
    let inverse_root = DMatrix::from_fn(columns.len(), columns.len(), |i, k| {
        inverse[(i, k)] * scale[i]
    });
    Ok(summarise(
        columns,
        y,
        &root_weights,
        coefficients,
        inverse_root,
    ))
}

fn summarise(
    columns: &[Vec<f64>],
    y: &[f64],
    root_weights: &[f64],
    coefficients: Vec<f64>,
    inverse_root: DMatrix<f64>,
) -> Fit {
    let residuals = residuals(columns, y, &coefficients);
    let residual_sum_of_squares: f64 = residuals
        .iter()
        .zip(root_weights)
        .map(|(r, w)| (r * w).powi(2))
        .sum();
    let dof = y.len() - columns.len();
    let constant = columns
        .iter()
        .any(|c| c.iter().all(|v| v.total_cmp(&c[0]).is_eq()));
    let centre = if constant {
        weighted_mean(y, root_weights)
    } else {
        0.0
    };
    let fitted = y.iter().zip(&residuals).map(|(y, r)| y - r);
    let regression_sum_of_squares = fitted
        .zip(root_weights)
        .map(|(f, w)| ((f - centre) * w).powi(2))
        .sum();
    let residual_stdev = (residual_sum_of_squares / dof as f64).sqrt();
    Fit {
        standard_errors: inverse_root
            .row_iter()
            .map(|row| row.norm() * residual_stdev)
            .collect(),
        coefficients,
        residuals,
        dof,
        residual_sum_of_squares,
        regression_sum_of_squares,
        regression_dof: columns.len() - usize::from(constant),
        inverse_root,
    }
}

fn weighted_mean(y: &[f64], root_weights: &[f64]) -> f64 {
    let first = mean(y);
    let total: f64 = root_weights.iter().map(|w| w * w).sum();
    first
        + y.iter()
            .zip(root_weights)
            .map(|(v, w)| (v - first) * w * w)
            .sum::<f64>()
            / total
}

/// y − Σ coefficient · column, each product and sum carried with its rounding error.
fn residuals(columns: &[Vec<f64>], y: &[f64], coefficients: &[f64]) -> Vec<f64> {
    let one = |(i, observed): (usize, &f64)| {
        let (mut high, mut low) = (*observed, 0.0);
        for (column, coefficient) in columns.iter().zip(coefficients) {
            let product = -column[i] * coefficient;
            let product_error = (-column[i]).mul_add(*coefficient, -product);
            let sum = high + product;
            let taken = sum - high;
            low += (high - (sum - taken)) + (product - taken) + product_error;
            high = sum;
        }
        high + low
    };
    y.iter().enumerate().map(one).collect()
}

/// The binary exponent of a number.
fn exponent_of(x: f64) -> i32 {
    let mut exponent = 0;
    let mut rest = x;
    while rest >= 2.0 && exponent < 1000 {
        rest *= 0.5;
        exponent += 1;
    }
    while rest < 1.0 && rest > 0.0 && exponent > -1000 {
        rest *= 2.0;
        exponent -= 1;
    }
    exponent
}

fn require_full_rank(r: &DMatrix<f64>) -> Result<(), FitError> {
    let largest = r.diagonal().amax();
    // below this the column is a combination of the others to within rounding
    let smallest = largest * f64::EPSILON * 4.0;
    match r.diagonal().iter().position(|d| d.abs() <= smallest) {
        Some(coefficient) => Err(FitError::Undetermined { coefficient }),
        None => Ok(()),
    }
}

fn check(columns: &[Vec<f64>], y: &[f64], weights: Option<&[f64]>) -> Result<(), FitError> {
    let lists = columns
        .iter()
        .map(|c| ("column", c.as_slice()))
        .chain([("y", y)]);
    for (what, list) in lists.chain(weights.map(|w| ("weights", w))) {
        if list.len() != y.len() {
            return Err(FitError::UnequalLengths {
                what,
                found: list.len(),
                expected: y.len(),
            });
        }
        let bad = |v: &&f64| !v.is_finite() || (what == "weights" && **v <= 0.0);
        if let Some(found) = list.iter().find(bad) {
            return Err(FitError::NoNumber {
                what,
                found: *found,
            });
        }
    }
    if y.len() < columns.len() || columns.is_empty() {
        return Err(FitError::TooFew {
            observations: y.len(),
            coefficients: columns.len().max(1),
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests;
