//! Readings in, the one that does not belong out.

use super::{mean, stdev};
use crate::special::t_quantile;

/// Critical value of Grubbs' statistic max|x − x̄|/s at significance `alpha`, both sides watched.
///
/// G = (n − 1)/√n · √(t²/(n − 2 + t²)), t the upper α/(2n) point of Student's t with n − 2 degrees
/// of freedom. `None` below three readings. Source: NIST/SEMATECH e-Handbook, section 1.3.5.17.1.
pub fn grubbs_critical_two_sided(n: usize, alpha: f64) -> Option<f64> {
    grubbs_critical(n, 0.5 * alpha)
}

/// Critical value of Grubbs' statistic with one side watched; as [`grubbs_critical_two_sided`] with
/// α/n in place of α/(2n).
pub fn grubbs_critical_one_sided(n: usize, alpha: f64) -> Option<f64> {
    grubbs_critical(n, alpha)
}

fn grubbs_critical(n: usize, alpha: f64) -> Option<f64> {
    if n < 3 || !(alpha > 0.0 && alpha < 1.0) {
        return None;
    }
    let n = n as f64;
    let t = -t_quantile(alpha / n, n - 2.0);
    Some((n - 1.0) / n.sqrt() * (t * t / (n - 2.0 + t * t)).sqrt())
}

/// Index of the reading farthest from the mean if Grubbs' two-sided test at significance `alpha`
/// calls it an outlier. `None` below three readings or if all are alike.
pub fn grubbs_two_sided(x: &[f64], alpha: f64) -> Option<usize> {
    let critical = grubbs_critical_two_sided(x.len(), alpha)?;
    let (index, statistic) = grubbs_statistic(x)?;
    (statistic > critical).then_some(index)
}

/// The reading farthest from the mean and its distance in standard deviations: `(index, G)`.
/// `None` below three readings or if all are alike.
pub fn grubbs_statistic(x: &[f64]) -> Option<(usize, f64)> {
    let (centre, spread) = (mean(x), stdev(x));
    if x.len() < 3 || spread <= 0.0 {
        return None;
    }
    let distances = x.iter().map(|v| (v - centre).abs()).enumerate();
    let (index, farthest) = distances.max_by(|a, b| a.1.total_cmp(&b.1))?;
    Some((index, farthest / spread))
}
