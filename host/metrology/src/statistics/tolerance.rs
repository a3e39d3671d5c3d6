//! Numbers of readings in, how many standard deviations to go for a given share of the population out.

use super::{mean, stdev};
use crate::special::{
    chi2_survival, nodes_between, noncentral_t_quantile, normal_cdf, normal_density,
    normal_quantile, root_between, root_of_rising,
};
use std::cell::RefCell;

/// One-sided tolerance factor k: x̄ − k·s lies below the share `coverage` of a normal population with
/// probability `confidence`.
///
/// k = t′(confidence; n − 1, z·√n)/√n with the noncentral t distribution, exact. `None` below two
/// readings or outside the range of the distribution. Source: ISO 16269-6 and NIST/SEMATECH
/// e-Handbook, section 7.2.6.3.
pub fn tolerance_factor(n: usize, coverage: f64, confidence: f64) -> Option<f64> {
    if n < 2 || !(coverage > 0.0 && coverage < 1.0) {
        return None;
    }
    let asked = (n, coverage.to_bits(), confidence.to_bits());
    let known = KNOWN.with_borrow(|known| known.iter().find(|row| row.0 == asked).map(|row| row.1));
    known.unwrap_or_else(|| {
        let factor = compute_factor(n, coverage, confidence);
        KNOWN.with_borrow_mut(|known| known.push((asked, factor)));
        factor
    })
}

/// Count, coverage and confidence by their bits, and the factor.
type Row = ((usize, u64, u64), Option<f64>);

thread_local! {
    /// The factor takes a millisecond and depends on the count alone; a check, and far more a simulation, asks for the
    /// same few again and again.
    static KNOWN: RefCell<Vec<Row>> = const { RefCell::new(Vec::new()) };
}

fn compute_factor(n: usize, coverage: f64, confidence: f64) -> Option<f64> {
    let n = n as f64;
    let noncentrality = normal_quantile(coverage) * n.sqrt();
    let t = noncentral_t_quantile(confidence, n - 1.0, noncentrality).ok()?;
    Some(t / n.sqrt())
}

/// Lower bound above which the share `coverage` of readings like these lies, with `confidence`:
/// x̄ − k·s with [`tolerance_factor`].
pub fn tolerance_lower_bound(x: &[f64], coverage: f64, confidence: f64) -> Option<f64> {
    let k = tolerance_factor(x.len(), coverage, confidence)?;
    Some(mean(x) - k * stdev(x))
}

/// Two-sided tolerance factor k: x̄ ± k·s holds the share `coverage` of a normal population with
/// probability `confidence`, exact.
///
/// Averages over the place of x̄ the probability that s is large enough:
/// ∫ φ(z) P(χ²₍ₙ₋₁₎ > (n − 1) r(z/√n)²/k²) dz = confidence, with r(c) the half width about c that holds
/// the share. `None` below two readings or for shares outside (0.01, 0.9999).
/// Source: ISO 16269-6; the integral after Wald & Wolfowitz, *Ann. Math. Stat.* 17 (1946) 208.
pub fn tolerance_factor_two_sided(n: usize, coverage: f64, confidence: f64) -> Option<f64> {
    let usual = 0.01..0.9999;
    if n < 2 || !usual.contains(&coverage) || !usual.contains(&confidence) {
        return None;
    }
    let n = n as f64;
    let places: Vec<(f64, f64)> = nodes_between(0.0, 9.0, 18)
        .map(|(z, weight)| {
            (
                half_width(z / n.sqrt(), coverage),
                2.0 * weight * normal_density(z),
            )
        })
        .collect();
    let held = |k: f64| {
        let large_enough = |r: f64| chi2_survival((n - 1.0) * (r / k).powi(2), n - 1.0);
        places
            .iter()
            .map(|(r, weight)| weight * large_enough(*r).unwrap_or(f64::NAN))
            .sum::<f64>()
    };
    let start = normal_quantile(0.5 + 0.5 * coverage).ln();
    root_of_rising(|log_k| held(log_k.exp()) - confidence, start, 0.2).map(f64::exp)
}

/// Half width r about `centre` with Φ(centre + r) − Φ(centre − r) = `coverage`.
fn half_width(centre: f64, coverage: f64) -> f64 {
    let share = |r: f64| normal_cdf(centre + r) - normal_cdf(centre - r) - coverage;
    let smallest = normal_quantile(0.5 + 0.5 * coverage);
    root_between(share, smallest - 1e-9, smallest + centre.abs() + 1e-9)
}
