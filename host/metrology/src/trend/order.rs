//! A series of figures in; whether it runs one way by the order of its figures alone, and a slope no single one moves, out.

use crate::special::{normal_quantile, normal_survival};
use crate::statistics::{median, pair_slopes};
use serde::{Deserialize, Serialize};

/// Whether later figures tend to be larger or smaller, by their order alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MannKendall {
    /// Rising pairs less falling pairs.
    pub s: i64,
    /// Its variance without a trend, ties taken into account.
    pub variance: f64,
    /// S moved by one towards zero, over its standard deviation; zero for a constant series.
    pub z: f64,
    /// Two-sided significance by the normal approximation.
    pub p_two_sided: f64,
    /// S over the number of pairs.
    pub tau_a: f64,
    /// As `tau_a` with tied pairs left out of the count; zero for a constant series.
    pub tau_b: f64,
    /// Sizes of the groups of equal figures.
    pub ties: Vec<usize>,
}

/// Mann–Kendall test of figures in their order. `None` below two figures.
///
/// Source: R. O. Gilbert, *Statistical Methods for Environmental Pollution Monitoring* (1987),
/// section 16.4; USEPA *Unified Guidance* (2009), section 17.3.2.
pub fn mann_kendall(y: &[f64]) -> Option<MannKendall> {
    let n = y.len();
    if n < 2 {
        return None;
    }
    let s = count_direction(y);
    let ties = tied_groups(y);
    let weight = |m: usize| (m * (m - 1) * (2 * m + 5)) as f64;
    let variance = (weight(n) - ties.iter().map(|t| weight(*t)).sum::<f64>()) / 18.0;
    let towards_zero = (s - s.signum()) as f64;
    let z = if variance > 0.0 {
        towards_zero / variance.sqrt()
    } else {
        0.0
    };
    let pairs_of = |m: usize| (m * (m - 1) / 2) as f64;
    let pairs = pairs_of(n);
    let untied = pairs - ties.iter().map(|t| pairs_of(*t)).sum::<f64>();
    Some(MannKendall {
        s,
        variance,
        z,
        p_two_sided: (2.0 * normal_survival(z.abs())).min(1.0),
        tau_a: s as f64 / pairs,
        tau_b: if untied > 0.0 {
            s as f64 / (pairs * untied).sqrt()
        } else {
            0.0
        },
        ties,
    })
}

/// Exact two-sided significance of S for `n` figures without ties: the share of all orders that are at
/// least as one-sided. `None` above 60 figures, where the normal approximation serves.
pub fn mann_kendall_exact_p(s: i64, n: usize) -> Option<f64> {
    if !(2..=60).contains(&n) {
        return None;
    }
    // shares[k]: share of the orders of the figures so far with k falling pairs
    let mut shares = vec![1.0];
    for size in 2..=n {
        let mut next = vec![0.0; shares.len() + size - 1];
        for (k, share) in shares.iter().enumerate() {
            for extra in 0..size {
                next[k + extra] += share / size as f64;
            }
        }
        shares = next;
    }
    let pairs = n * (n - 1) / 2;
    let falling = (pairs as u64).checked_sub(s.unsigned_abs())? / 2;
    let tail: f64 = shares.iter().take(usize::try_from(falling).ok()? + 1).sum();
    Some((2.0 * tail).min(1.0))
}

/// Two-sided significance of the order of figures: exact without ties and up to 60 figures, else by the normal approximation.
/// `None` below two figures.
pub fn order_p(y: &[f64]) -> Option<f64> {
    let found = mann_kendall(y)?;
    let exact = match found.ties.is_empty() {
        true => mann_kendall_exact_p(found.s, y.len()),
        false => None,
    };
    Some(exact.unwrap_or(found.p_two_sided))
}

/// Rising pairs less falling pairs.
fn count_direction(y: &[f64]) -> i64 {
    let sign = |early: &f64, late: &f64| i64::from(late > early) - i64::from(late < early);
    y.iter()
        .enumerate()
        .flat_map(|(i, early)| y[i + 1..].iter().map(move |late| sign(early, late)))
        .sum()
}

fn tied_groups(y: &[f64]) -> Vec<usize> {
    let mut sorted = y.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted
        .chunk_by(|a, b| a.total_cmp(b).is_eq())
        .map(<[f64]>::len)
        .filter(|n| *n > 1)
        .collect()
}

/// A slope that single wild figures do not move.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RobustSlope {
    /// Median of the slopes between all pairs.
    pub slope: f64,
    /// Through the medians: median y − slope · median t.
    pub intercept_of_medians: f64,
    /// Median of y − slope · t.
    pub intercept_median_residual: f64,
    /// How many pairs had different t.
    pub pairs: usize,
    /// Two-sided interval of the slope; an end that the number of pairs cannot give is absent.
    pub interval: [Option<f64>; 2],
}

/// Theil–Sen slope with its interval at `level`, ends interpolated between ranked slopes.
///
/// `None` if no two points differ in t.
/// Source: Gilbert (1987), section 16.5; the same figures in USEPA *Unified Guidance* (2009), 17.3.3.
pub fn robust_slope(t: &[f64], y: &[f64], level: f64) -> Option<RobustSlope> {
    let mut slopes = pair_slopes(t, y);
    if slopes.is_empty() {
        return None;
    }
    slopes.sort_by(f64::total_cmp);
    let slope = median(&slopes);
    let offsets: Vec<f64> = t.iter().zip(y).map(|(ti, yi)| yi - slope * ti).collect();
    let spread = mann_kendall(y)?.variance.sqrt() * normal_quantile(0.5 + 0.5 * level);
    let pairs = slopes.len() as f64;
    Some(RobustSlope {
        slope,
        intercept_of_medians: median(y) - slope * median(t),
        intercept_median_residual: median(&offsets),
        pairs: slopes.len(),
        interval: [
            at_rank(&slopes, 0.5 * (pairs - spread)),
            at_rank(&slopes, 0.5 * (pairs + spread) + 1.0),
        ],
    })
}

/// Value at a rank counted from one, interpolated; `None` outside the list.
fn at_rank(sorted: &[f64], rank: f64) -> Option<f64> {
    let mut neighbours = (1_u32..).map(f64::from).zip(sorted.windows(2));
    let (place, pair) = neighbours.find(|(place, _)| (*place..=place + 1.0).contains(&rank))?;
    Some(pair[0] + (pair[1] - pair[0]) * (rank - place))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::collection::vec;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn turning_the_series_round_turns_the_sign(y in vec(-20_i32..20, 2..30)) {
            let forward: Vec<f64> = y.iter().map(|v| f64::from(*v)).collect();
            let backward: Vec<f64> = forward.iter().rev().copied().collect();
            let (a, b) = (mann_kendall(&forward).unwrap(), mann_kendall(&backward).unwrap());
            prop_assert_eq!(a.s, -b.s);
            prop_assert!(a.p_two_sided <= 1.0 && (a.p_two_sided - b.p_two_sided).abs() < 1e-12);
        }

        #[test]
        fn the_interval_holds_the_slope(y in vec(-5.0..5.0_f64, 5..30)) {
            let t: Vec<f64> = (0_u32..).zip(&y).map(|(i, _)| f64::from(i)).collect();
            let found = robust_slope(&t, &y, 0.95).unwrap();
            prop_assert!(found.interval[0].is_none_or(|low| low <= found.slope));
            prop_assert!(found.interval[1].is_none_or(|high| high >= found.slope));
        }
    }

    #[test]
    fn of_three_figures_one_order_in_six_rises_throughout() {
        assert!((mann_kendall_exact_p(3, 3).unwrap() - 2.0 / 6.0).abs() < 1e-12);
        assert!((mann_kendall_exact_p(1, 3).unwrap() - 1.0).abs() < 1e-12);
    }
}
