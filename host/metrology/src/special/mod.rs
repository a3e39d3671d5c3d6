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
mod range;
mod root;
mod student;

pub use beta::incomplete_beta;
pub use chi_squared::{chi2_cdf, chi2_quantile, chi2_quantile_upper, chi2_survival};
pub use f::{f_cdf, f_quantile, f_quantile_upper, f_survival};
pub use gamma::{incomplete_gamma, ln_gamma};
pub use noncentral_t::{noncentral_t_cdf, noncentral_t_quantile, noncentral_t_survival};
pub use normal::{normal_cdf, normal_density, normal_quantile, normal_survival};
pub use range::{LARGEST_DOF, OutOfRange, SMALLEST_TAIL};
pub(crate) use root::root_between;
pub use student::{t_quantile, t_survival};

#[cfg(test)]
mod tests;
