//! A continuous function that changes sign between two points in, the place where it does so out.

/// Root of `f` between `low` and `high`, where it has opposite signs.
///
/// Bracketing with inverse quadratic interpolation, secant and bisection steps: R. P. Brent,
/// *Algorithms for Minimization without Derivatives* (1973), chapter 4. Ends when the bracket is as
/// narrow as f64 can tell.
pub(crate) fn root_between(mut f: impl FnMut(f64) -> f64, low: f64, high: f64) -> f64 {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    let (mut c, mut fc) = (a, fa);
    let mut step = b - a;
    let mut previous_step = step;
    for _ in 0..300 {
        if fb.signum() * fc.signum() > 0.0 {
            (c, fc) = (a, fa);
            step = b - a;
            previous_step = step;
        }
        if fc.abs() < fb.abs() {
            (a, b, c) = (b, c, b);
            (fa, fb, fc) = (fb, fc, fb);
        }
        let tolerance = 2.0 * f64::EPSILON * b.abs() + f64::MIN_POSITIVE;
        let half = 0.5 * (c - b);
        if half.abs() <= tolerance || fb == 0.0 {
            return b;
        }
        if previous_step.abs() >= tolerance && fa.abs() > fb.abs() {
            let (p, q) = interpolation(a, b, c, fa, fb, fc);
            let bound = (3.0 * half * q - (tolerance * q).abs()).min((previous_step * q).abs());
            if 2.0 * p < bound {
                previous_step = step;
                step = p / q;
            } else {
                step = half;
                previous_step = step;
            }
        } else {
            step = half;
            previous_step = step;
        }
        (a, fa) = (b, fb);
        b += if step.abs() > tolerance {
            step
        } else {
            tolerance.copysign(half)
        };
        fb = f(b);
    }
    b
}

/// Brent's interpolated step as numerator (never negative) and denominator.
#[allow(clippy::float_cmp)] // whether two of the three points are the same one
fn interpolation(a: f64, b: f64, c: f64, fa: f64, fb: f64, fc: f64) -> (f64, f64) {
    let s = fb / fa;
    let (p, q) = if a == c {
        ((c - b) * s, 1.0 - s)
    } else {
        let (q, r) = (fa / fc, fb / fc);
        (
            s * ((c - b) * q * (q - r) - (b - a) * (r - 1.0)),
            (q - 1.0) * (r - 1.0) * (s - 1.0),
        )
    };
    if p > 0.0 { (p, -q) } else { (-p, q) }
}

/// The place where a function rising from negative to positive is zero; the bracket is widened from
/// `start` in steps that double. `None` if no sign change is met.
pub(crate) fn root_of_rising(mut f: impl FnMut(f64) -> f64, start: f64, step: f64) -> Option<f64> {
    let rising_up = f(start) < 0.0;
    let mut near = start;
    let mut width = step;
    for _ in 0..200 {
        let far = if rising_up {
            near + width
        } else {
            near - width
        };
        if (f(far) < 0.0) != rising_up {
            return Some(root_between(f, near.min(far), near.max(far)));
        }
        near = far;
        width *= 2.0;
    }
    None
}
