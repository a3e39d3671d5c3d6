//! What readings say of themselves before anything is fitted. In: readings in the order taken. Out: their noise and the
//! step of their last digit.

use crate::statistics::median;

/// Median of the absolute value of a normal variable of standard deviation 1, inverted.
const OF_MEDIAN: f64 = 1.4826;
/// Root of the sum of squares of 1, 4, 6, 4, 1: what a fourth difference makes of noise.
const OF_FOURTH: f64 = 8.366_600_265_340_756;
/// Steps below this are rounding of the arithmetic, not of an indicator, µm.
const NO_STEP_UM: f64 = 1e-5;

/// Standard deviation of a single reading of a turn read quickly, µm: from fourth differences, which a slow swing does not
/// enter, and at least what rounding to the step makes. 0 for fewer than five readings.
pub fn standard_um(readings_um: &[f64]) -> f64 {
    let fourth: Vec<f64> = readings_um
        .windows(5)
        .map(|r| (r[0] - 4.0 * r[1] + 6.0 * r[2] - 4.0 * r[3] + r[4]).abs())
        .collect();
    if fourth.is_empty() {
        return 0.0;
    }
    let rounding_um = step_um(readings_um) / 12.0_f64.sqrt();
    (OF_MEDIAN * median(&fourth) / OF_FOURTH).max(rounding_um)
}

/// The step all readings are multiples of, counted from the first, µm; 0 where there is none.
pub fn step_um(readings_um: &[f64]) -> f64 {
    let Some(first) = readings_um.first() else {
        return 0.0;
    };
    let mut step_um = 0.0;
    for reading in readings_um {
        step_um = common_um(step_um, (reading - first).abs());
        if step_um > 0.0 && step_um < NO_STEP_UM {
            return 0.0;
        }
    }
    step_um
}

/// Euclid's greatest common measure, on numbers that rounding has touched.
fn common_um(a: f64, b: f64) -> f64 {
    let (mut large, mut small) = (a.max(b), a.min(b));
    let zero = (1e-9 * large).max(NO_STEP_UM / 10.0);
    while small > zero {
        let left = (large - small * (large / small).round()).abs();
        (large, small) = (small, left);
    }
    large
}

/// Noise of standard deviation 1, always the same.
#[cfg(test)]
pub(super) fn made_noise(seed: u64) -> impl FnMut() -> f64 {
    let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
    let mut uniform = move || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        f64::from(u32::try_from(state >> 32).expect("32 bits")) / f64::from(u32::MAX)
    };
    move || (0..12).map(|_| uniform()).sum::<f64>() - 6.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_step_of_the_last_digit_is_found_in_any_unit() {
        assert!((step_um(&[10.0, 13.0, 15.0, 13.0, 10.0]) - 1.0).abs() < 1e-9);
        let tenths = [0.0003, -0.0001, 0.0, 0.0002].map(|inch: f64| inch * 25_400.0);
        assert!((step_um(&tenths) - 2.54).abs() < 1e-9);
        let hundredths = [1.23, -4.56, 7.8, 0.01];
        assert!((step_um(&hundredths) - 0.01).abs() < 1e-9);
        assert!(step_um(&[0.0; 9]) <= 0.0);
        let none = [1.0_f64, 2.0, 3.0, 5.0].map(f64::sqrt);
        assert!(step_um(&none) <= 0.0);
    }

    #[test]
    fn a_swing_is_no_noise() {
        let swing: Vec<f64> = (0..160)
            .map(|i| 10.0 * (f64::from(i) * 22.5).to_radians().cos())
            .collect();
        assert!(standard_um(&swing) < 0.05, "{}", standard_um(&swing));
        let mut noise = made_noise(3);
        let noisy: Vec<f64> = (0..400).map(|_| 0.3 * noise()).collect();
        assert!(
            (standard_um(&noisy) - 0.3).abs() < 0.05,
            "{}",
            standard_um(&noisy)
        );
    }
}
