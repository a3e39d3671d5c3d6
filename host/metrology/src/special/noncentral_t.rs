//! The noncentral t distribution: t, degrees of freedom and noncentrality in, tails out, and back.
//!
//! T = (Z + δ)/W with W² = χ²_ν/ν, so P(T ≤ t) = ∫ Φ(t·w − δ) f_W(w) dw. In s = ln w the integrand is
//! smooth, positive, single-peaked and dies off on both sides; being a sum of positive terms the
//! integral keeps its digits in either tail.

use super::gamma::stirling_error;
use super::normal::{normal_cdf, normal_density, normal_survival};
use super::quadrature::integrate_between;
use super::range::{OutOfRange, require, require_tail};
use super::root::root_of_rising;
use std::f64::consts::PI;

/// Largest noncentrality the digits are promised for: a tolerance factor for 95 % needs 1.645·√n, so that 3 000
/// readings stay well inside.
const LARGEST_NONCENTRALITY: f64 = 100.0;

/// P(T ≤ t). Refused for dof outside 1 to 1e5, |δ| over 100, |t| over 1e6.
///
/// Source: definition of the distribution, Johnson & Welch, *Biometrika* 31 (1940) 362–389.
pub fn noncentral_t_cdf(t: f64, dof: f64, noncentrality: f64) -> Result<f64, OutOfRange> {
    check("noncentral_t_cdf", t, dof, noncentrality)?;
    Ok(integrate(dof, t, noncentrality, normal_cdf))
}

/// P(T > t). Refused as [`noncentral_t_cdf`].
pub fn noncentral_t_survival(t: f64, dof: f64, noncentrality: f64) -> Result<f64, OutOfRange> {
    check("noncentral_t_survival", t, dof, noncentrality)?;
    Ok(integrate(dof, t, noncentrality, normal_survival))
}

/// The t with P(T ≤ t) = p. Refused for p outside 1e-30 to 1 − 1e-15, dof outside 1 to 1e5, |δ| over 100.
pub fn noncentral_t_quantile(p: f64, dof: f64, noncentrality: f64) -> Result<f64, OutOfRange> {
    const NAME: &str = "noncentral_t_quantile";
    require_tail(NAME, p)?;
    check(NAME, 0.0, dof, noncentrality)?;
    let miss = |t: f64| {
        if p < 0.5 {
            integrate(dof, t, noncentrality, normal_cdf)
                .max(1e-320)
                .ln()
                - p.ln()
        } else {
            (1.0 - p).ln()
                - integrate(dof, t, noncentrality, normal_survival)
                    .max(1e-320)
                    .ln()
        }
    };
    root_of_rising(miss, noncentrality, 1.0)
        .filter(|t| t.abs() <= 1e6)
        .ok_or(OutOfRange {
            function: NAME,
            argument: "probability",
            given: p,
            allowed: "|t| up to 1e6",
        })
}

fn check(name: &'static str, t: f64, dof: f64, noncentrality: f64) -> Result<(), OutOfRange> {
    require(t.abs() <= 1e6, name, "t", t, "-1e6 to 1e6")?;
    require(
        (1.0..=1e5).contains(&dof),
        name,
        "degrees of freedom",
        dof,
        "1 to 1e5",
    )?;
    require(
        noncentrality.abs() <= LARGEST_NONCENTRALITY,
        name,
        "noncentrality",
        noncentrality,
        "-100 to 100",
    )
}

/// Density of ln W at s, W² = χ²_ν/ν: 2 (ν/2)^(ν/2) / Γ(ν/2) · exp(ν s − ν e^{2s}/2).
///
/// Written as √(ν/π) · exp(−ν (e^{2s} − 1 − 2s)/2 − Stirling error): the large terms cancel on paper.
fn density_of_log_w(s: f64, dof: f64) -> f64 {
    let half = 0.5 * dof;
    let excess = (2.0 * s).exp_m1() - 2.0 * s;
    (dof / PI).sqrt() * (-half * excess - stirling_error(half)).exp()
}

/// ∫ tail(t·e^s − δ) f(s) ds over the stretch where the integrand is not negligible.
fn integrate(dof: f64, t: f64, delta: f64, tail: impl Fn(f64) -> f64) -> f64 {
    let integrand = |s: f64| tail(t * s.exp() - delta) * density_of_log_w(s, dof);
    let peak = highest_point(dof, t, delta, &tail);
    let at_peak = integrand(peak);
    if at_peak <= 0.0 {
        return 0.0;
    }
    let width = 1.0 / (2.0 * dof).sqrt();
    let reach = |direction: f64| {
        let mut distance = width;
        while integrand(peak + direction * distance) > at_peak * 1e-20 {
            distance *= 1.5;
        }
        peak + direction * distance
    };
    let (low, high) = (reach(-1.0), reach(1.0));
    let mut cuts = vec![low, peak, high];
    cuts.extend(
        edge(t, delta)
            .into_iter()
            .flatten()
            .filter(|s| (low..high).contains(s)),
    );
    cuts.sort_by(f64::total_cmp);
    cuts.windows(2)
        .map(|cut| integrate_between(&integrand, cut[0], cut[1]))
        .sum()
}

/// Begin, middle and end of the stretch in which the normal tail goes from all to nothing, t·e^s ≈ δ. It is 1/|δ|
/// narrow, and a rule that steps over it would find two wide neighbours in agreement.
fn edge(t: f64, delta: f64) -> Option<[f64; 3]> {
    /// Farther from its middle a normal tail is one or nothing.
    const REACH: f64 = 9.0;
    let middle = (delta / t).ln();
    middle.is_finite().then(|| {
        let far = REACH / delta.abs().max(REACH);
        [middle - far, middle, middle + far]
    })
}

/// Where the integrand is largest. The slope of its logarithm changes sign once.
fn highest_point(dof: f64, t: f64, delta: f64, tail: &impl Fn(f64) -> f64) -> f64 {
    let upward = if tail(1.0) > tail(-1.0) { 1.0 } else { -1.0 };
    let slope = |s: f64| {
        let z = t * s.exp() - delta;
        let hazard = inverse_mills(upward * z);
        upward * hazard * t * s.exp() - dof * (2.0 * s).exp_m1()
    };
    root_of_rising(|s| -slope(s), 0.0, 0.1).unwrap_or(0.0)
}

/// φ(z)/Φ(z), by its asymptotic form where Φ underflows.
fn inverse_mills(z: f64) -> f64 {
    if z < -30.0 {
        -z + -1.0 / z
    } else {
        normal_density(z) / normal_cdf(z)
    }
}
