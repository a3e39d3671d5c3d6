//! Plain statistics: readings in, mean, spread, intervals, outlier, lines and medians out.

mod outlier;
mod tolerance;
mod walked;

pub use outlier::{
    grubbs_critical_one_sided, grubbs_critical_two_sided, grubbs_statistic, grubbs_two_sided,
};
pub use tolerance::{tolerance_factor, tolerance_lower_bound};

use walked::median_in_place;
pub(crate) use walked::median_of;

use crate::side_by_side;
use crate::special::{t_quantile, t_survival};

/// Sum that carries along what each addition rounds off.
///
/// Source: A. Neumaier, *ZAMM* 54 (1974) 39.
pub(crate) fn sum(values: impl Iterator<Item = f64>) -> f64 {
    let (mut total, mut lost) = (0.0_f64, 0.0);
    for value in values {
        let next = total + value;
        lost += if total.abs() >= value.abs() {
            (total - next) + value
        } else {
            (value - next) + total
        };
        total = next;
    }
    total + lost
}

/// Arithmetic mean, with one correction pass that takes off what rounding left.
///
/// Not a number for no readings. Source: Neely, *Comm. ACM* 9 (1966) 496.
pub fn mean(x: &[f64]) -> f64 {
    let n = x.len() as f64;
    let first = sum(x.iter().copied()) / n;
    first + sum(x.iter().map(|v| v - first)) / n
}

/// Sum of squared deviations from the mean, two passes with correction.
///
/// Source: Chan, Golub, LeVeque, *The American Statistician* 37 (1983) 242.
pub fn sum_of_squares(x: &[f64]) -> f64 {
    let centre = mean(x);
    let squares = sum(x.iter().map(|v| (v - centre).powi(2)));
    let rest = sum(x.iter().map(|v| v - centre));
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

/// The slopes between all pairs of points that differ in x, in no order.
pub(crate) fn pair_slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let mut slopes = Vec::with_capacity(x.len() * x.len().saturating_sub(1) / 2);
    for (i, (xi, yi)) in x.iter().zip(y).enumerate() {
        let later = x[i + 1..].iter().zip(&y[i + 1..]);
        let steps = later.map(|(xj, yj)| (xj - xi, yj - yi));
        if x[i + 1..].iter().all(|xj| (xj - xi).abs() > 0.0) {
            // Nearly always, and then several at a time.
            slopes.extend(steps.map(|(run, rise)| rise / run));
        } else {
            let apart = steps.filter(|(run, _)| run.abs() > 0.0);
            slopes.extend(apart.map(|(run, rise)| rise / run));
        }
    }
    slopes
}

/// Median of the slopes between all pairs of points, and the median intercept: `(slope, intercept)`.
///
/// `None` if no two points differ in x. Source: P. K. Sen, *J. Am. Stat. Assoc.* 63 (1968) 1379.
pub fn theil_sen(x: &[f64], y: &[f64]) -> Option<(f64, f64)> {
    let mut slopes = pair_slopes(x, y);
    if slopes.is_empty() {
        return None;
    }
    let slope = median_in_place(&mut slopes);
    let mut offsets: Vec<f64> = x.iter().zip(y).map(|(xi, yi)| yi - slope * xi).collect();
    Some((slope, median_in_place(&mut offsets)))
}

/// Median of the readings within half a window on either side of each reading; at the ends, of those
/// there are. An even window counts as the next odd one. The readings are numbers.
pub fn running_median(x: &[f64], window: usize) -> Vec<f64> {
    let mut medians = vec![0.0; x.len()];
    side_by_side::fill(
        &mut medians,
        side_by_side::threads(x.len()),
        |first, part| {
            medians_from(x, window / 2, first, part);
        },
    );
    medians
}

/// Those from the reading `first` on.
fn medians_from(x: &[f64], half: usize, first: usize, medians: &mut [f64]) {
    // The window of the reading before it.
    let before = first.saturating_sub(half + 1)..x.len().min(first + half);
    let mut sorted = Vec::with_capacity(2 * half + 2);
    sorted.extend_from_slice(&x[before]);
    sorted.sort_unstable_by(f64::total_cmp);
    for (i, median) in (first..).zip(medians) {
        let leaving = i.checked_sub(half + 1).map(|place| x[place]);
        match (leaving, x.get(i + half).copied()) {
            (Some(leaving), Some(entering)) => replace(&mut sorted, leaving, entering),
            (None, Some(entering)) => sorted.insert(rank(&sorted, entering), entering),
            (Some(leaving), None) => {
                sorted.remove(rank(&sorted, leaving));
            }
            (None, None) => {}
        }
        let (lower, upper) = (sorted[(sorted.len() - 1) / 2], sorted[sorted.len() / 2]);
        *median = lower + 0.5 * (upper - lower);
    }
}

/// How many of the sorted readings are less. Counted rather than searched for: on the short windows of
/// a record the processor does that without a mispredicted branch, several readings at a time.
fn rank(sorted: &[f64], value: f64) -> usize {
    sorted.iter().map(|other| usize::from(*other < value)).sum()
}

/// Takes `leaving` out of the sorted readings and puts `entering` in, moving only what lies between.
fn replace(sorted: &mut [f64], leaving: f64, entering: f64) {
    let (from, to) = (rank(sorted, leaving), rank(sorted, entering));
    if to > from {
        sorted.copy_within(from + 1..to, from);
        sorted[to - 1] = entering;
    } else {
        sorted.copy_within(to..from, to + 1);
        sorted[to] = entering;
    }
}

/// Standard deviation of the noise from the differences of neighbours, deaf to slow change and to a
/// few jumps: 1.4826 × median |xᵢ₊₁ − xᵢ| / √2. Zero below two readings.
///
/// 1.4826 = 1/Φ⁻¹(¾) makes the median of absolute values a standard deviation for normal noise.
pub fn noise(x: &[f64]) -> f64 {
    if x.len() < 2 {
        return 0.0;
    }
    let steps = || x.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    1.4826 * median_of(steps) / std::f64::consts::SQRT_2
}

#[cfg(test)]
mod tests;
