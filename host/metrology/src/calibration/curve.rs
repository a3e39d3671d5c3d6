//! Deflections under loads in; the curve both ways, its degree by significance, and the lowest load it
//! is good for out.

use super::runs::{Deflection, Runs};
use super::{CalibrationError, Direction, Residual};
use crate::regression::{FitError, Polynomial, polynomial};
use crate::statistics::mean;
use serde::{Deserialize, Serialize};

/// A higher term is kept if it is significant at this level.
const SIGNIFICANT: f64 = 0.05;

/// A polynomial with its uncertainty.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Curve {
    /// Highest power.
    pub degree: i32,
    /// Coefficients from the constant on (0 where the curve goes through zero by definition).
    pub coefficients: Vec<f64>,
    /// Their standard errors; 0 for a constant that is zero by definition.
    pub standard_errors: Vec<f64>,
    /// Standard deviation of the residuals.
    pub residual_stdev: f64,
    /// Residual degrees of freedom.
    pub dof: usize,
    /// Significance of the term that was tried next and left out; `None` if none could be tried.
    pub next_term_p: Option<f64>,
}

impl Curve {
    fn of(found: &Polynomial, degree: i32, next_term_p: Option<f64>) -> Self {
        let constant = (found.lowest_power > 0).then_some(0.0);
        let padded = |list: &[f64]| constant.into_iter().chain(list.iter().copied()).collect();
        Self {
            degree,
            coefficients: padded(&found.fit.coefficients),
            standard_errors: padded(&found.fit.standard_errors),
            residual_stdev: found.fit.residual_stdev(),
            dof: found.fit.dof,
            next_term_p,
        }
    }

    /// The curve at `x`.
    pub fn value(&self, x: f64) -> f64 {
        self.coefficients
            .iter()
            .rev()
            .fold(0.0, |sum, b| sum * x + b)
    }

    /// Its rise at zero.
    pub fn slope_at_zero(&self) -> f64 {
        self.coefficients.get(1).copied().unwrap_or(0.0)
    }
}

/// The mean reading has to rise from each load to the next.
pub(super) fn require_rising(runs: &Runs, loads: &[f64]) -> Result<(), CalibrationError> {
    let reading = |load: f64| {
        let at = |d: &&Deflection| runs.same_load(d.load_n, load);
        let up = runs
            .measuring
            .iter()
            .flat_map(|run| run.going(Direction::Up).filter(at));
        mean(&up.map(|d| d.counts).collect::<Vec<f64>>())
    };
    for pair in loads.windows(2) {
        let (from_counts, to_counts) = (reading(pair[0]), reading(pair[1]));
        if to_counts <= from_counts {
            let (from_n, to_n) = (pair[0], pair[1]);
            return Err(CalibrationError::Falling {
                from_n,
                to_n,
                from_counts,
                to_counts,
            });
        }
    }
    Ok(())
}

/// Reading over load with the degree chosen, load over reading of the same degree, and the residuals.
pub(super) fn fit_both(
    fitted: &[Deflection],
    through_zero: bool,
    degrees: [i32; 2],
) -> Result<(Curve, Curve, Vec<Residual>), FitError> {
    let loads: Vec<f64> = fitted.iter().map(|d| d.load_n).collect();
    let counts: Vec<f64> = fitted.iter().map(|d| d.counts).collect();
    let (curve, degree, next_term_p) = choose(&loads, &counts, through_zero, degrees)?;
    let inverse = polynomial(&counts, &loads, degree, through_zero, None)?;
    let residuals = fitted
        .iter()
        .zip(curve.fit.residuals.iter().zip(&inverse.fit.residuals))
        .map(|(d, (counts, load))| Residual {
            run: d.run,
            load_n: d.load_n,
            residual_counts: *counts,
            residual_n: -load,
        })
        .collect();
    let inverse = Curve::of(&inverse, degree, None);
    Ok((Curve::of(&curve, degree, next_term_p), inverse, residuals))
}

/// Raises the degree as long as the new term is significant and leaves degrees of freedom.
fn choose(
    loads: &[f64],
    counts: &[f64],
    through_zero: bool,
    degrees: [i32; 2],
) -> Result<(Polynomial, i32, Option<f64>), FitError> {
    let [mut degree, highest] = degrees;
    let mut best = polynomial(loads, counts, degree, through_zero, None)?;
    while degree < highest {
        let Ok(next) = polynomial(loads, counts, degree + 1, through_zero, None) else {
            break;
        };
        if next.fit.dof < 1 {
            break;
        }
        let p = next.fit.significance(next.fit.coefficients.len() - 1);
        if p.is_nan() || p >= SIGNIFICANT {
            return Ok((best, degree, Some(p).filter(|p| p.is_finite())));
        }
        best = next;
        degree += 1;
    }
    Ok((best, degree, None))
}

/// The lowest load a curve is good for, in the style of ASTM E74 (factors from memory).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LowerLimit {
    /// Lower limit factor: 2.4 standard deviations of the readings upward of all runs about the curve, as a load, N.
    pub factor_n: f64,
    /// Lowest load of class A, 400 times the factor, N.
    pub class_a_from_n: f64,
    /// Lowest load of class AA, 2000 times the factor, N.
    pub class_aa_from_n: f64,
}

impl LowerLimit {
    /// From a curve of so many coefficients and all readings upward, those of a repeated run too: a gauge that reads the
    /// same load otherwise the second time is no better for having been fitted to the first. Counts become a load by the
    /// mean of load over deflection. Source: ASTM E74, from memory.
    pub(super) fn of(curve: &Curve, up: &[Deflection], coefficients: usize) -> Self {
        let off = |d: &Deflection| d.counts - curve.value(d.load_n);
        let squares: f64 = up.iter().map(|d| off(d) * off(d)).sum();
        let stdev = (squares / (up.len() - coefficients) as f64).sqrt();
        let loads_per_count: Vec<f64> = up.iter().map(|d| d.load_n / d.counts).collect();
        let factor_n = 2.4 * stdev * mean(&loads_per_count);
        Self {
            factor_n,
            class_a_from_n: 400.0 * factor_n,
            class_aa_from_n: 2000.0 * factor_n,
        }
    }
}
