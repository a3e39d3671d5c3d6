//! The incomplete beta function: shapes and argument in, both tails out.

use super::gamma::{deviance, stirling_error};
use std::f64::consts::PI;

/// Regularised incomplete beta function `(I_x(a, b), 1 − I_x(a, b))` for a, b > 0.
///
/// `y` is 1 − x, given by the caller so that it keeps its digits where x is near one.
/// Continued fraction on the side where it converges; the factor before it by
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
        let lower = weight * continued_fraction(a, b, x, y);
        (lower, 1.0 - lower)
    } else {
        let upper = weight * continued_fraction(b, a, y, x);
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

/// The continued fraction of DLMF 8.17.22 contracted to its even part, I_x = weight × this, with the
/// difference a·y − b·x written out so that nothing cancels for x near the mean or near one.
/// Source: DiDonato & Morris, *ACM TOMS* 18 (1992) 360, equation (9.1); forward recurrence.
fn continued_fraction(a: f64, b: f64, x: f64, y: f64) -> f64 {
    let rise = 1.0 + (a * y - b * x);
    let (mut above, mut below) = (0.0, 1.0);
    let (mut next_above, mut next_below) = (1.0, rise * a / (a + 1.0));
    let mut ratio = next_above / next_below;
    for n in 1..1_000_000_u32 {
        let n = f64::from(n);
        let (s, w) = (a + 2.0 * n - 1.0, n * (b - n) * x);
        let alpha = (a + n - 1.0) / s * ((a + b + n - 1.0) / s) * w * x;
        let beta = n + w / s + (a + n) / (s + 2.0) * (rise + n * (1.0 + y));
        (above, next_above) = (next_above, alpha * above + beta * next_above);
        (below, next_below) = (next_below, alpha * below + beta * next_below);
        let previous = ratio;
        ratio = next_above / next_below;
        if (ratio - previous).abs() <= 0.5 * f64::EPSILON * ratio {
            break;
        }
        let scale = 1.0 / next_below;
        above *= scale;
        below *= scale;
        next_above = ratio;
        next_below = 1.0;
    }
    ratio
}
