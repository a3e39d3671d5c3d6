//! Student's t distribution: t and degrees of freedom in, tails out, and back.

use super::beta::incomplete_beta;
use super::normal::{normal_quantile, normal_survival, symmetric_quantile};

/// Upper tail of Student's t distribution, P(T > t), for dof > 0 or infinite.
///
/// Abramowitz & Stegun 26.7.1: P(|T| > t) = I_x(ν/2, ½), x = ν/(ν + t²).
pub fn t_survival(t: f64, dof: f64) -> f64 {
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

/// Distribution function of Student's t distribution, P(T ≤ t), for dof > 0 or infinite.
pub fn t_cdf(t: f64, dof: f64) -> f64 {
    t_survival(-t, dof)
}

/// Quantile of Student's t distribution: the t with P(T ≤ t) = p, for dof > 0 or infinite.
///
/// Infinite at p = 0 and 1; not a number outside [0, 1] or for dof ≤ 0.
pub fn t_quantile(p: f64, dof: f64) -> f64 {
    if dof.is_infinite() {
        return normal_quantile(p);
    }
    if dof.is_nan() || dof <= 0.0 {
        return f64::NAN;
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
