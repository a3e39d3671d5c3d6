//! Readings in, the one that does not belong out.

use super::{mean, stdev};
use crate::special::{t_quantile, t_survival};

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

/// Significance of Grubbs' statistic `g` among `n` readings, both sides watched: 2n·P(T > t), at most 1.
///
/// Exact where at most one reading can lie that far out, G > √((n − 1)(n − 2)/(2n)); an upper bound
/// otherwise.
pub fn grubbs_p_two_sided(g: f64, n: usize) -> Option<f64> {
    if n < 3 {
        return None;
    }
    let n = n as f64;
    // G² n / (n − 1)² = t² / (n − 2 + t²), solved for t
    let share = g * g * n / ((n - 1.0) * (n - 1.0));
    let t = if share < 1.0 {
        (share * (n - 2.0) / (1.0 - share)).sqrt()
    } else {
        f64::INFINITY
    };
    Some((2.0 * n * t_survival(t, n - 2.0)).min(1.0))
}

/// One step of the many-outlier test: the farthest reading left and what it is held against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extreme {
    /// Its index among all readings.
    pub index: usize,
    /// Its distance from the mean of those left, in their standard deviations.
    pub statistic: f64,
    /// The critical value of this step.
    pub critical: f64,
}

/// The test for up to `most` outliers that does not let one hide another: the reading farthest out is
/// taken away, one after the other, and the last step over its critical value counts.
///
/// Returns all steps and the number of outliers (the first so many steps name them).
/// Source: B. Rosner, *Technometrics* 25 (1983) 165; NIST/SEMATECH e-Handbook, section 1.3.5.17.3.
pub fn extreme_studentized_deviates(x: &[f64], most: usize, alpha: f64) -> (Vec<Extreme>, usize) {
    let mut left: Vec<(usize, f64)> = x.iter().copied().enumerate().collect();
    let mut steps = Vec::new();
    while steps.len() < most && left.len() > 2 {
        let values: Vec<f64> = left.iter().map(|(_, v)| *v).collect();
        let found = grubbs_statistic(&values).zip(grubbs_critical_two_sided(values.len(), alpha));
        let Some(((place, statistic), critical)) = found else {
            break;
        };
        let (index, _) = left.remove(place);
        steps.push(Extreme {
            index,
            statistic,
            critical,
        });
    }
    let outliers = steps
        .iter()
        .rposition(|s| s.statistic > s.critical)
        .map_or(0, |i| i + 1);
    (steps, outliers)
}
