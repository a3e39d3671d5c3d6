//! Plain statistics: readings in, mean, spread, intervals, outlier, lines and medians out.

use crate::special::{noncentral_t_quantile, normal_quantile, t_quantile, t_survival};

/// Arithmetic mean, with one correction pass that takes off what rounding left.
///
/// Not a number for no readings. Source: Neely, *Comm. ACM* 9 (1966) 496.
pub fn mean(x: &[f64]) -> f64 {
    let n = x.len() as f64;
    let first = x.iter().sum::<f64>() / n;
    first + x.iter().map(|v| v - first).sum::<f64>() / n
}

/// Sum of squared deviations from the mean, two passes with correction.
///
/// Source: Chan, Golub, LeVeque, *The American Statistician* 37 (1983) 242.
pub fn sum_of_squares(x: &[f64]) -> f64 {
    let centre = mean(x);
    let squares: f64 = x.iter().map(|v| (v - centre).powi(2)).sum();
    let rest: f64 = x.iter().map(|v| v - centre).sum();
    (squares - rest * rest / x.len() as f64).max(0.0)
}

/// Standard deviation with divisor n − 1. Not a number below two readings.
pub fn stdev(x: &[f64]) -> f64 {
    if x.len() < 2 {
        return f64::NAN;
    }
    (sum_of_squares(x) / (x.len() - 1) as f64).sqrt()
}

/// Median; the mean of the two middle readings for an even count. Not a number for no readings.
pub fn median(x: &[f64]) -> f64 {
    median_in_place(&mut x.to_vec())
}

/// Median, reordering the readings given.
pub(crate) fn median_in_place(x: &mut [f64]) -> f64 {
    let n = x.len();
    if n == 0 {
        return f64::NAN;
    }
    let (below, upper, _) = x.select_nth_unstable_by(n / 2, f64::total_cmp);
    let upper = *upper;
    if n % 2 == 1 {
        return upper;
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    lower + 0.5 * (upper - lower)
}

/// Two-sided interval for the mean at confidence `level` (0.95 for 95 %), after Student.
///
/// x̄ ± t₍₁₊level₎⁄₂(n − 1)·s/√n. `None` below two readings or for a level outside (0, 1).
/// Source: NIST/SEMATECH e-Handbook, section 1.3.5.2.
pub fn mean_confidence(x: &[f64], level: f64) -> Option<[f64; 2]> {
    if x.len() < 2 || !(level > 0.0 && level < 1.0) {
        return None;
    }
    let n = x.len() as f64;
    let half = t_quantile(0.5 + 0.5 * level, n - 1.0) * stdev(x) / n.sqrt();
    let centre = mean(x);
    Some([centre - half, centre + half])
}

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
    let (centre, spread) = (mean(x), stdev(x));
    let (index, farthest) = x
        .iter()
        .map(|v| (v - centre).abs())
        .enumerate()
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    (spread > 0.0 && farthest / spread > critical).then_some(index)
}

/// A straight line through points, y = intercept + slope·x.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Rise per unit of x.
    pub slope: f64,
    /// Value at x = 0.
    pub intercept: f64,
    /// Standard error of the slope from the residuals, n − 2 degrees of freedom.
    pub slope_standard_error: f64,
    /// Two-sided significance of the slope against none.
    pub p_two_sided: f64,
}

/// Least-squares line. `None` below three points, for unequal lengths or if all x are alike.
///
/// Source: NIST/SEMATECH e-Handbook, section 4.4.3.
pub fn least_squares_line(x: &[f64], y: &[f64]) -> Option<Line> {
    let n = x.len();
    if n < 3 || y.len() != n {
        return None;
    }
    let (mean_x, mean_y) = (mean(x), mean(y));
    let spread_x = sum_of_squares(x);
    if spread_x <= 0.0 {
        return None;
    }
    let pairs = || x.iter().zip(y);
    let slope = pairs()
        .map(|(a, b)| (a - mean_x) * (b - mean_y))
        .sum::<f64>()
        / spread_x;
    let residual: f64 = pairs()
        .map(|(a, b)| (b - mean_y - slope * (a - mean_x)).powi(2))
        .sum();
    let dof = (n - 2) as f64;
    let slope_standard_error = (residual / dof / spread_x).sqrt();
    Some(Line {
        slope,
        intercept: mean_y - slope * mean_x,
        slope_standard_error,
        p_two_sided: significance(slope, slope_standard_error, dof),
    })
}

/// Two-sided p of an estimate against zero; one if both are zero.
fn significance(estimate: f64, standard_error: f64, dof: f64) -> f64 {
    if estimate == 0.0 {
        return 1.0;
    }
    2.0 * t_survival((estimate / standard_error).abs(), dof)
}

/// Median of the slopes between all pairs of points, and the median intercept: `(slope, intercept)`.
///
/// `None` if no two points differ in x. Source: P. K. Sen, *J. Am. Stat. Assoc.* 63 (1968) 1379.
pub fn theil_sen(x: &[f64], y: &[f64]) -> Option<(f64, f64)> {
    let mut slopes = Vec::with_capacity(x.len() * x.len().saturating_sub(1) / 2);
    for (i, (xi, yi)) in x.iter().zip(y).enumerate() {
        let later = x
            .iter()
            .zip(y)
            .skip(i + 1)
            .map(|(xj, yj)| (xj - xi, yj - yi));
        slopes.extend(
            later
                .filter(|(run, _)| run.abs() > 0.0)
                .map(|(run, rise)| rise / run),
        );
    }
    if slopes.is_empty() {
        return None;
    }
    let slope = median_in_place(&mut slopes);
    let mut offsets: Vec<f64> = x.iter().zip(y).map(|(xi, yi)| yi - slope * xi).collect();
    Some((slope, median_in_place(&mut offsets)))
}

/// Median of the readings within half a window on either side of each reading; at the ends, of those
/// there are. An even window counts as the next odd one.
pub fn running_median(x: &[f64], window: usize) -> Vec<f64> {
    let half = window / 2;
    let mut sorted: Vec<f64> = Vec::with_capacity(2 * half + 1);
    let insert = |sorted: &mut Vec<f64>, value: f64| {
        let place = sorted.partition_point(|v| v.total_cmp(&value).is_lt());
        sorted.insert(place, value);
    };
    for value in x.iter().take(half) {
        insert(&mut sorted, *value);
    }
    let mut medians = Vec::with_capacity(x.len());
    for i in 0..x.len() {
        if let Some(entering) = x.get(i + half) {
            insert(&mut sorted, *entering);
        }
        if i > half {
            let leaving = x[i - half - 1];
            sorted.remove(sorted.partition_point(|v| v.total_cmp(&leaving).is_lt()));
        }
        let (lower, upper) = (sorted[(sorted.len() - 1) / 2], sorted[sorted.len() / 2]);
        medians.push(lower + 0.5 * (upper - lower));
    }
    medians
}

/// Standard deviation of the noise from the differences of neighbours, deaf to slow change and to a
/// few jumps: 1.4826 × median |xᵢ₊₁ − xᵢ| / √2. Zero below two readings.
///
/// 1.4826 = 1/Φ⁻¹(¾) makes the median of absolute values a standard deviation for normal noise.
pub fn noise(x: &[f64]) -> f64 {
    let mut steps: Vec<f64> = x.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
    if steps.is_empty() {
        return 0.0;
    }
    1.4826 * median_in_place(&mut steps) / std::f64::consts::SQRT_2
}

#[cfg(test)]
mod tests;
