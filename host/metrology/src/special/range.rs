//! The range over which digits are promised. In: an argument. Out: nothing, or the refusal that names it.

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

pub(super) fn require(
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

pub(super) fn require_dof(function: &'static str, dof: f64) -> Result<(), OutOfRange> {
    require(
        (0.5..=LARGEST_DOF).contains(&dof),
        function,
        "degrees of freedom",
        dof,
        "0.5 to 1e7",
    )
}

pub(super) fn require_number(function: &'static str, x: f64) -> Result<(), OutOfRange> {
    require(!x.is_nan(), function, "x", x, "a number")
}

/// What a search came to: refused where there is no such number.
pub(super) fn found(function: &'static str, p: f64, log_x: Option<f64>) -> Result<f64, OutOfRange> {
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

pub(super) fn require_tail(function: &'static str, p: f64) -> Result<(), OutOfRange> {
    require(
        (SMALLEST_TAIL..=1.0 - 1e-15).contains(&p),
        function,
        "probability",
        p,
        "1e-30 to 1 - 1e-15",
    )
}
