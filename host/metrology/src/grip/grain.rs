//! The step a record is written in.
//!
//! In come the forces; out goes the largest step all of them are whole multiples of, or none of a record as fine as its
//! numbers.

/// A remainder under this share of the largest force is one of rounding.
const ROUNDING_SHARE: f64 = 1e-9;
/// Noise of more than this share of the step shows what lies between two steps.
const DITHER_SHARE: f64 = 0.5;

/// Largest step between any two of the forces of which all their differences are multiples, N; 0 of a record without one.
pub(super) fn step_n(force_n: &[f64]) -> f64 {
    let Some(&first_n) = force_n.first() else {
        return 0.0;
    };
    let largest_n = force_n.iter().copied().map(f64::abs).fold(0.0, f64::max);
    let least_n = ROUNDING_SHARE * largest_n;
    let mut step_n = 0.0;
    for &each_n in force_n {
        let from_first_n = (each_n - first_n).abs();
        // A whole multiple tells nothing new, and nearly all are.
        let times = (from_first_n / step_n).round();
        if times >= 1.0 && (from_first_n - times * step_n).abs() <= 0.5 * least_n {
            continue;
        }
        step_n = common(step_n, from_first_n, least_n);
        if step_n > 0.0 && step_n <= 2.0 * least_n {
            return 0.0;
        }
    }
    step_n
}

/// The part of the step that no noise makes up for, N.
pub(super) fn grain_n(step_n: f64, noise_n: f64) -> f64 {
    if noise_n < DITHER_SHARE * step_n {
        step_n
    } else {
        0.0
    }
}

/// Greatest common divisor (Euclid), where what is under `least` is nothing.
fn common(mut a: f64, mut b: f64, least: f64) -> f64 {
    while b > least {
        let rest = a % b;
        // Just under a whole multiple is one.
        let rest = if b - rest <= least { 0.0 } else { rest };
        (a, b) = (b, rest);
    }
    a
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_kilonewtons_step_by_one() {
        assert!((step_n(&[0.0, 8_000.0, 3_000.0, -1_000.0]) - 1_000.0).abs() < 1e-6);
        let pounds = [0.0, 10.0, 2_250.0, 20.0].map(|lbf| lbf * 4.448_221_615_260_5);
        assert!((step_n(&pounds) - 44.482_216).abs() < 1e-4);
        assert!((step_n(&[0.001, 9_999.998, -0.004]) - 0.001).abs() < 1e-4);
    }

    #[test]
    fn numbers_of_no_common_step_have_none() {
        assert!(step_n(&[0.0, 2.0_f64.sqrt(), 3.0_f64.sqrt(), 10.0]) < 1e-6);
        assert!(step_n(&[]).abs() < 1e-12 && step_n(&[5.0; 3]).abs() < 1e-12);
    }

    #[test]
    fn noise_shows_what_lies_between() {
        assert!(grain_n(10.0, 8.0).abs() < 1e-12);
        assert!((grain_n(10.0, 0.0) - 10.0).abs() < 1e-12);
    }
}
