//! Distribution functions and quantiles: probability and degrees of freedom in, quantile or tail out.
//!
//! Both tails are computed directly, never as one minus the other where that would lose digits, so
//! the relative accuracy holds for small risks too. Within these ranges results are good to 1e-9 relative
//! (checked against 40-digit arithmetic, at the edges too); outside them a call is refused, by `OutOfRange` or,
//! for Student's t, by a result that is not a number.
//!
//! | distribution | degrees of freedom | argument | tail of a quantile |
//! |---|---|---|---|
//! | Student's t | 0.5 and more, infinite too | any number | 1e-30 and more; 0 and 1 give infinity |
//! | chi-squared | 0.5 to 1e7 | any number | 1e-30 to 1 − 1e-15 |
//! | F | 0.5 to 1e7 | up to 1e300, and infinity | 1e-30 to 1 − 1e-15 |
//! | noncentral t | 1 to 1e5, noncentrality −100 to 100 | −1e6 to 1e6 | 1e-30 to 1 − 1e-15, where it lies within |t| ≤ 1e6 |

mod beta;
mod chi_squared;
mod f;
mod gamma;
mod noncentral_t;
mod normal;
mod quadrature;
mod root;
mod student;

pub use beta::incomplete_beta;
pub use chi_squared::{chi2_cdf, chi2_quantile, chi2_quantile_upper, chi2_survival};
pub use f::{f_cdf, f_quantile, f_quantile_upper, f_survival};
pub use gamma::{incomplete_gamma, ln_gamma};
pub use noncentral_t::{noncentral_t_cdf, noncentral_t_quantile, noncentral_t_survival};
pub use normal::{normal_cdf, normal_density, normal_quantile, normal_survival};
pub(crate) use root::root_between;
pub use student::{t_quantile, t_survival};

/// An argument for which no digits are promised. The text says which, what was given and what is allowed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{function}: {argument} is {given}, allowed is {allowed}")]
pub struct OutOfRange {
    /// The function that was called.
    pub function: &'static str,
    /// The argument that was refused.
    pub argument: &'static str,
    /// Its value.
    pub given: f64,
    /// The range it may have.
    pub allowed: &'static str,
}

/// Smallest tail probability for which quantiles are computed.
pub const SMALLEST_TAIL: f64 = 1e-30;
/// Largest number of degrees of freedom of chi-squared and F.
pub const LARGEST_DOF: f64 = 1e7;

fn require(
    holds: bool,
    function: &'static str,
    argument: &'static str,
    given: f64,
    allowed: &'static str,
) -> Result<(), OutOfRange> {
    if holds {
        Ok(())
    } else {
        Err(OutOfRange {
            function,
            argument,
            given,
            allowed,
        })
    }
}

fn require_dof(function: &'static str, dof: f64) -> Result<(), OutOfRange> {
    require(
        (0.5..=LARGEST_DOF).contains(&dof),
        function,
        "degrees of freedom",
        dof,
        "0.5 to 1e7",
    )
}

fn require_number(function: &'static str, x: f64) -> Result<(), OutOfRange> {
    require(!x.is_nan(), function, "x", x, "a number")
}

/// What a search came to: refused where there is no such number.
fn found(function: &'static str, p: f64, log_x: Option<f64>) -> Result<f64, OutOfRange> {
    log_x
        .map(f64::exp)
        .filter(|x| x.is_finite() && *x > 0.0)
        .ok_or(OutOfRange {
            function,
            argument: "probability",
            given: p,
            allowed: "one whose quantile is neither too large nor too small for a number",
        })
}

fn require_tail(function: &'static str, p: f64) -> Result<(), OutOfRange> {
    require(
        (SMALLEST_TAIL..=1.0 - 1e-15).contains(&p),
        function,
        "probability",
        p,
        "1e-30 to 1 - 1e-15",
    )
}

#[cfg(test)]
mod tests;
