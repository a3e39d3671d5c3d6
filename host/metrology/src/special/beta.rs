//! The incomplete beta function: shapes and argument in, both tails out.

use super::gamma::{deviance, nonzero, stirling_error};
use std::f64::consts::PI;

/// Regularised incomplete beta function `(I_x(a, b), 1 − I_x(a, b))` for a, b > 0.
///
/// `y` is 1 − x, given by the caller so that it keeps its digits where x is near one.
/// Continued fraction of DLMF 8.17.22 on the side where it converges; the factor before it by
/// C. Loader's saddle-point form (2000).
pub fn incomplete_beta(a: f64, b: f64, x: f64, y: f64) -> (f64, f64) {
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    if y <= 0.0 {
        return (1.0, 0.0);
    }
    let weight = beta_weight(a, b, x, y);
    if x < (a + 1.0) / (a + b + 2.0) {
        let lower = weight * continued_fraction(a, b, x) / a;
        (lower, 1.0 - lower)
    } else {
        let upper = weight * continued_fraction(b, a, y) / b;
        (1.0 - upper, upper)
    }
}

/// x^a y^b / B(a, b).
pub(crate) fn beta_weight(a: f64, b: f64, x: f64, y: f64) -> f64 {
    let n = a + b;
    // a − n·x, without its cancellation
    let difference = a * y - b * x;
    let exponent = stirling_error(n)
        - stirling_error(a)
        - stirling_error(b)
        - deviance(a, n * x, difference)
        - deviance(b, n * y, -difference);
    // √(a·b / (2π n)), ordered so that nothing overflows
    (a / n * b / (2.0 * PI)).sqrt() * exponent.exp()
}

/// Lentz's method.
fn continued_fraction(a: f64, b: f64, x: f64) -> f64 {
    let mut c = 1.0;
    let mut d = 1.0 / nonzero(1.0 - (a + b) * x / (a + 1.0));
    let mut h = d;
    for m in 1..1_000_000_u32 {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / nonzero(1.0 + even * d);
        c = nonzero(1.0 + even / c);
        h *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / nonzero(1.0 + odd * d);
        c = nonzero(1.0 + odd / c);
        let factor = d * c;
        h *= factor;
        if (factor - 1.0).abs() < f64::EPSILON {
            break;
        }
    }
    h
}
