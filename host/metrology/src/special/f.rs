//! The F distribution: variance ratio and degrees of freedom in, tails out, and back.

use super::beta::incomplete_beta;
use super::range::{OutOfRange, found, require, require_dof, require_tail};
use super::root::root_of_rising;

/// P(F ≤ x) for `dof1` degrees of freedom above and `dof2` below the line.
///
/// Abramowitz & Stegun 26.6.2. Refused for degrees of freedom outside 0.5 to 1e7, and for x above 1e300 (but infinity) or no number.
pub fn f_cdf(x: f64, dof1: f64, dof2: f64) -> Result<f64, OutOfRange> {
    require_ratio("f_cdf", x)?;
    require_dof("f_cdf", dof1)?;
    require_dof("f_cdf", dof2)?;
    Ok(tails(x, dof1, dof2).0)
}

/// P(F > x). Refused for degrees of freedom outside 0.5 to 1e7, and for x above 1e300 (but infinity) or no number.
pub fn f_survival(x: f64, dof1: f64, dof2: f64) -> Result<f64, OutOfRange> {
    require_ratio("f_survival", x)?;
    require_dof("f_survival", dof1)?;
    require_dof("f_survival", dof2)?;
    Ok(tails(x, dof1, dof2).1)
}

/// The x with P(F ≤ x) = p. Refused for p outside 1e-30 to 1 − 1e-15, degrees of freedom outside 0.5 to 1e7.
pub fn f_quantile(p: f64, dof1: f64, dof2: f64) -> Result<f64, OutOfRange> {
    require_tail("f_quantile", p)?;
    require_dof("f_quantile", dof1)?;
    require_dof("f_quantile", dof2)?;
    found("f_quantile", p, log_quantile(p, 1.0 - p, dof1, dof2))
}

/// The x with P(F > x) = p. Refused as [`f_quantile`].
pub fn f_quantile_upper(p: f64, dof1: f64, dof2: f64) -> Result<f64, OutOfRange> {
    require_tail("f_quantile_upper", p)?;
    require_dof("f_quantile_upper", dof1)?;
    require_dof("f_quantile_upper", dof2)?;
    found("f_quantile_upper", p, log_quantile(1.0 - p, p, dof1, dof2))
}

/// Beyond it the ratio times its degrees of freedom is no number any more.
fn require_ratio(function: &'static str, x: f64) -> Result<(), OutOfRange> {
    let holds = x <= 1e300 || x == f64::INFINITY;
    require(holds, function, "x", x, "up to 1e300, or infinity")
}

fn tails(x: f64, dof1: f64, dof2: f64) -> (f64, f64) {
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    if x.is_infinite() {
        return (1.0, 0.0);
    }
    let above = dof1 * x;
    let total = above + dof2;
    incomplete_beta(0.5 * dof1, 0.5 * dof2, above / total, dof2 / total)
}

/// Solved in ln x on the smaller tail.
fn log_quantile(lower: f64, upper: f64, dof1: f64, dof2: f64) -> Option<f64> {
    let step = (2.0 / dof1 + 2.0 / dof2).sqrt();
    if lower < upper {
        root_of_rising(
            |s| tails(s.exp(), dof1, dof2).0.max(1e-320).ln() - lower.ln(),
            0.0,
            step,
        )
    } else {
        root_of_rising(
            |s| upper.ln() - tails(s.exp(), dof1, dof2).1.max(1e-320).ln(),
            0.0,
            step,
        )
    }
}
