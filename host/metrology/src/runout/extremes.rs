//! What noise does to the largest and smallest of many readings. In: the curve under the readings and their noise. Out: by
//! how much more they spread on average than the curve does.

use crate::special::normal_survival;
use std::collections::BTreeMap;

/// Steps per standard deviation, of the integral and of the levels the readings are gathered into.
const STEPS: f64 = 16.0;
/// Beyond this many standard deviations noise does not reach.
const REACH: f64 = 8.0;

/// Mean of (max − min) of `shape_um` + noise, less max − min of `shape_um` itself, µm; the noise is normal of
/// `standard_um` and independent from reading to reading.
///
/// Source: computed from E\[max\] = ∫ x dF(x) with F(x) = ∏ Φ((x − fᵢ)/σ), the distribution of the largest of
/// independent normal values; equal fᵢ give the factor d₂ of control charts.
pub fn noise_in_spread_um(shape_um: &[f64], standard_um: f64) -> f64 {
    if standard_um.is_nan() || standard_um <= 0.0 || shape_um.len() < 2 {
        return 0.0;
    }
    let in_noise: Vec<f64> = shape_um.iter().map(|f| f / standard_um).collect();
    let mirrored: Vec<f64> = in_noise.iter().map(|f| -f).collect();
    standard_um * (noise_in_largest(&in_noise) + noise_in_largest(&mirrored))
}

/// Mean of the largest of f + noise of 1, less the largest f.
fn noise_in_largest(shape: &[f64]) -> f64 {
    let top = shape.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut levels: BTreeMap<u32, f64> = BTreeMap::new();
    for below in shape.iter().map(|f| top - f).filter(|b| *b < 2.0 * REACH) {
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "not negative and below 16 times 16"
        )]
        let level = (below * STEPS).round() as u32;
        *levels.entry(level).or_default() += 1.0;
    }
    let all_below = |x: f64| -> f64 {
        let log: f64 = levels
            .iter()
            .map(|(level, many)| {
                let above = normal_survival(x + f64::from(*level) / STEPS);
                many * (-above).ln_1p()
            })
            .sum();
        log.exp()
    };
    let steps: u32 = 128;
    let middle = |step: u32| (f64::from(step) + 0.5) / STEPS;
    (0..steps)
        .map(|step| (1.0 - all_below(middle(step)) - all_below(-middle(step))) / STEPS)
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_readings_give_the_mean_range_of_a_normal_sample() {
        // d2, mean range of n normal values in standard deviations: table of control chart constants, published
        // (ASTM and NIST/SEMATECH e-Handbook, section 6.3.2).
        for (n, d2) in [(2, 1.128), (5, 2.326), (10, 3.078), (25, 3.931)] {
            let found = noise_in_spread_um(&vec![7.0; n], 2.0) / 2.0;
            assert!((found - d2).abs() < 2e-3, "{n}: {found}");
        }
    }

    #[test]
    fn extremes_far_from_the_others_are_not_moved_and_no_noise_adds_nothing() {
        let shape = [0.0, 50.0, 0.0, -50.0];
        assert!(noise_in_spread_um(&shape, 0.5).abs() < 1e-6);
        assert!(noise_in_spread_um(&shape, 0.0).abs() < 1e-12);
        assert!(noise_in_spread_um(&[1.0], 1.0).abs() < 1e-12);
    }
}
