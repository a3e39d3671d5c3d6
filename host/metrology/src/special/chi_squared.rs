//! The chi-squared distribution: x and degrees of freedom in, tails out, and back.

use super::gamma::incomplete_gamma;
use super::range::{OutOfRange, found, require_dof, require_number, require_tail};
use super::root::root_of_rising;

/// P(X ≤ x) of the chi-squared distribution.
///
/// Abramowitz & Stegun 26.4.19: P(ν/2, x/2). Refused for dof outside 0.5 to 1e7 and for x that is no number.
pub fn chi2_cdf(x: f64, dof: f64) -> Result<f64, OutOfRange> {
    require_number("chi2_cdf", x)?;
    require_dof("chi2_cdf", dof)?;
    Ok(incomplete_gamma(0.5 * dof, 0.5 * x).0)
}

/// P(X > x) of the chi-squared distribution. Refused for dof outside 0.5 to 1e7 and for x that is no number.
pub fn chi2_survival(x: f64, dof: f64) -> Result<f64, OutOfRange> {
    require_number("chi2_survival", x)?;
    require_dof("chi2_survival", dof)?;
    Ok(incomplete_gamma(0.5 * dof, 0.5 * x).1)
}

/// The x with P(X ≤ x) = p. Refused for p outside 1e-30 to 1 − 1e-15 and dof outside 0.5 to 1e7.
pub fn chi2_quantile(p: f64, dof: f64) -> Result<f64, OutOfRange> {
    require_tail("chi2_quantile", p)?;
    require_dof("chi2_quantile", dof)?;
    found("chi2_quantile", p, log_quantile(p, 1.0 - p, dof))
}

/// The x with P(X > x) = p. Refused for p outside 1e-30 to 1 − 1e-15 and dof outside 0.5 to 1e7.
pub fn chi2_quantile_upper(p: f64, dof: f64) -> Result<f64, OutOfRange> {
    require_tail("chi2_quantile_upper", p)?;
    require_dof("chi2_quantile_upper", dof)?;
    found("chi2_quantile_upper", p, log_quantile(1.0 - p, p, dof))
}

/// Solved in ln x on the smaller tail.
fn log_quantile(lower: f64, upper: f64, dof: f64) -> Option<f64> {
    let tails = |s: f64| incomplete_gamma(0.5 * dof, 0.5 * s.exp());
    let start = dof.ln();
    let step = (2.0 / dof).sqrt();
    if lower < upper {
        root_of_rising(|s| tails(s).0.max(1e-320).ln() - lower.ln(), start, step)
    } else {
        root_of_rising(|s| upper.ln() - tails(s).1.max(1e-320).ln(), start, step)
    }
}
