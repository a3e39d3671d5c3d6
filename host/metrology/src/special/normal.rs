//! The normal distribution: z in, tails out, and back.

use super::gamma::incomplete_gamma;
use super::root::root_of_rising;
use std::f64::consts::PI;

/// Density of the standard normal distribution at z.
pub fn normal_density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * PI).sqrt()
}

/// Upper tail of the standard normal distribution, P(Z > z).
///
/// By the incomplete gamma function, DLMF 7.11.2: erfc(x) = Q(½, x²).
pub fn normal_survival(z: f64) -> f64 {
    if z < 0.0 {
        return 1.0 - normal_survival(-z);
    }
    let (inner, outer) = incomplete_gamma(0.5, 0.5 * z * z);
    if inner < 0.5 {
        0.5 - 0.5 * inner
    } else {
        0.5 * outer
    }
}

/// Distribution function of the standard normal distribution, P(Z ≤ z).
pub fn normal_cdf(z: f64) -> f64 {
    normal_survival(-z)
}

/// Quantile of the standard normal distribution: the z with P(Z ≤ z) = p.
///
/// Infinite at p = 0 and 1; not a number outside [0, 1].
pub fn normal_quantile(p: f64) -> f64 {
    symmetric_quantile(p, normal_survival, |z| incomplete_gamma(0.5, 0.5 * z * z).0)
}

/// Quantile of a distribution symmetric about zero from its upper tail P(X > x) and its inner part
/// P(|X| ≤ x), x ≥ 0. Solved in ln x on whichever of the two is small, so that digits are kept both
/// in the tail and near the middle.
pub(crate) fn symmetric_quantile(
    p: f64,
    survival: impl Fn(f64) -> f64,
    inner: impl Fn(f64) -> f64,
) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    let sign = if p < 0.5 { -1.0 } else { 1.0 };
    let tail = p.min(1.0 - p);
    if tail <= 0.0 {
        return sign * f64::INFINITY;
    }
    let within = 2.0 * (0.5 - tail);
    if within <= 0.0 {
        return 0.0;
    }
    let log_x = if tail < 0.25 {
        root_of_rising(|s| tail.ln() - survival(s.exp()).max(1e-320).ln(), 0.0, 0.5)
    } else {
        root_of_rising(|s| inner(s.exp()).max(1e-320).ln() - within.ln(), 0.0, 0.5)
    };
    log_x.map_or(f64::NAN, |s| sign * s.exp())
}
