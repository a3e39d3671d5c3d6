//! Numbers of readings in, how many standard deviations to go for a given share of the population out.

use super::{mean, stdev};
use crate::special::{noncentral_t_quantile, normal_quantile};
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
