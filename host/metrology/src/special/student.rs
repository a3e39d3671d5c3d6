//! Student's t distribution: t and degrees of freedom in, tails out, and back.

use super::beta::incomplete_beta;
use super::normal::{normal_quantile, normal_survival, symmetric_quantile};
use super::range::SMALLEST_TAIL;

/// Fewer degrees of freedom belong to no count of readings, and their quantiles soon are no numbers any more.
const SMALLEST_DOF: f64 = 0.5;

/// Upper tail of Student's t distribution, P(T > t), for dof from 0.5 or infinite; else not a number.
///
/// Abramowitz & Stegun 26.7.1: P(|T| > t) = I_x(ν/2, ½), x = ν/(ν + t²).
pub fn t_survival(t: f64, dof: f64) -> f64 {
    if t.is_nan() || dof.is_nan() || dof < SMALLEST_DOF {
        return f64::NAN;
    }
    if dof.is_infinite() {
        return normal_survival(t);
    }
    if t < 0.0 {
        return 1.0 - t_survival(-t, dof);
    }
    let (outer, inner) = outer_and_inner(t, dof);
    if inner < 0.5 {
        0.5 - 0.5 * inner
    } else {
        0.5 * outer
    }
}

/// Quantile of Student's t distribution: the t with P(T ≤ t) = p, for dof from 0.5 or infinite.
///
/// Infinite at p = 0 and 1; not a number outside [0, 1], for p that is nearer to zero than 1e-30 or for dof below 0.5.
pub fn t_quantile(p: f64, dof: f64) -> f64 {
    let too_near_zero = p > 0.0 && p < SMALLEST_TAIL;
    if too_near_zero || dof.is_nan() || dof < SMALLEST_DOF {
        return f64::NAN;
    }
    if dof.is_infinite() {
        return normal_quantile(p);
    }
    symmetric_quantile(p, |t| t_survival(t, dof), |t| outer_and_inner(t, dof).1)
}

/// `(P(|T| > t), P(|T| ≤ t))`.
fn outer_and_inner(t: f64, dof: f64) -> (f64, f64) {
    let square = t * t;
    if square.is_infinite() {
        return (0.0, 1.0);
    }
    incomplete_beta(
        0.5 * dof,
        0.5,
        dof / (dof + square),
        square / (dof + square),
    )
}
