//! Gamma function and the incomplete gamma function: shape and argument in, both tails out.

use std::f64::consts::PI;

/// ln √(2π).
const LN_SQRT_2PI: f64 = 0.918_938_533_204_672_8;

/// Natural logarithm of the gamma function for x > 0.
///
/// Lanczos approximation as in the `statrs` library.
pub fn ln_gamma(x: f64) -> f64 {
    statrs::function::gamma::ln_gamma(x)
}

/// Error of Stirling's formula: ln Γ(z + 1) − (z + ½) ln z + z − ln √(2π), for z > 0.
///
/// Source: C. Loader, *Fast and Accurate Computation of Binomial Probabilities* (2000); the series is
/// Abramowitz & Stegun 6.1.41.
pub(crate) fn stirling_error(z: f64) -> f64 {
    if z < 15.0 {
        return ln_gamma(z + 1.0) - (z + 0.5) * z.ln() + z - LN_SQRT_2PI;
    }
    const SERIES: [f64; 6] = [
        1.0 / 12.0,
        -1.0 / 360.0,
        1.0 / 1260.0,
        -1.0 / 1680.0,
        1.0 / 1188.0,
        -691.0 / 360_360.0,
    ];
    let inverse_square = 1.0 / (z * z);
    SERIES
        .iter()
        .rev()
        .fold(0.0, |sum, term| sum * inverse_square + term)
        / z
}

/// Deviance x·ln(x/m) + m − x without cancellation for x near m; `difference` is x − m, given by the
/// caller so that it keeps its digits.
///
/// Source: C. Loader, as for `stirling_error`.
pub(crate) fn deviance(x: f64, m: f64, difference: f64) -> f64 {
    if x == 0.0 {
        return m;
    }
    if difference.abs() >= 0.1 * (x + m) {
        return x * (x / m).ln() - difference;
    }
    let v = difference / (x + m);
    let mut sum = difference * v;
    let mut power = 2.0 * x * v;
    for j in 1..1000 {
        power *= v * v;
        let next = sum + power / f64::from(2 * j + 1);
        if (next - sum).abs() <= f64::EPSILON * 0.25 * next.abs() {
            return next;
        }
        sum = next;
    }
    sum
}

/// x^a e^−x / Γ(a + 1), the weight of a Poisson count extended to real a > 0.
fn poisson_weight(a: f64, x: f64) -> f64 {
    (-stirling_error(a) - deviance(a, x, a - x)).exp() / (2.0 * PI * a).sqrt()
}

/// Regularised incomplete gamma function for shape a > 0 and x ≥ 0: `(P(a, x), Q(a, x))`.
///
/// The smaller of the two is computed directly: P by its series (DLMF 8.11.4) below x = a + 1, Q by
/// its continued fraction (DLMF 8.9.2) above.
pub fn incomplete_gamma(a: f64, x: f64) -> (f64, f64) {
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    if x.is_infinite() {
        return (1.0, 0.0);
    }
    let weight = poisson_weight(a, x);
    if x < a + 1.0 {
        let lower = weight * series(a, x);
        (lower, 1.0 - lower)
    } else {
        let upper = weight * a * continued_fraction(a, x);
        (1.0 - upper, upper)
    }
}

fn series(a: f64, x: f64) -> f64 {
    let (mut term, mut sum, mut n) = (1.0, 1.0, a);
    while term > sum * f64::EPSILON * 0.1 {
        n += 1.0;
        term *= x / n;
        sum += term;
    }
    sum
}

/// Lentz's method on 1/(x+1−a− 1(1−a)/(x+3−a− …)).
fn continued_fraction(a: f64, x: f64) -> f64 {
    let mut b = x + 1.0 - a;
    let mut c = 1.0 / f64::MIN_POSITIVE;
    let mut d = 1.0 / b;
    let mut h = d;
    for i in 1..1_000_000_u32 {
        let i = f64::from(i);
        let an = -i * (i - a);
        b += 2.0;
        d = 1.0 / nonzero(an * d + b);
        c = nonzero(b + an / c);
        let factor = d * c;
        h *= factor;
        if (factor - 1.0).abs() < f64::EPSILON {
            break;
        }
    }
    h
}

/// Keeps Lentz's method from dividing by zero.
pub(crate) fn nonzero(x: f64) -> f64 {
    if x.abs() < 1e-300 { 1e-300 } else { x }
}
