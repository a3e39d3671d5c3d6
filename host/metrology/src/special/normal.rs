//! The normal distribution: z in, tails out, and back.

use super::gamma::incomplete_gamma;
use super::root::root_of_rising;
use std::f64::consts::PI;

/// Density of the standard normal distribution at z.
pub fn normal_density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * PI).sqrt()
}

/// Upper tail of the standard normal distribution, P(Z > z).
pub fn normal_survival(z: f64) -> f64 {
    let x = z / std::f64::consts::SQRT_2;
    if x.abs() < 0.468_75 {
        0.5 - 0.5 * erf_near_zero(x)
    } else {
        0.5 * erfc_away_from_zero(x)
    }
}

/// Rational approximations of the error function, numerator and denominator from the highest power
/// down. Source: W. J. Cody, *Math. Comp.* 23 (1969) 631; held against the incomplete gamma function
/// in the tests.
#[allow(clippy::excessive_precision)] // as published
mod cody {
    /// erf(x)/x over x², |x| < 0.46875.
    pub(super) const NEAR: ([f64; 5], [f64; 5]) = (
        [
            1.857_777_061_846_031_53e-1,
            3.161_123_743_870_565_60,
            1.138_641_541_510_501_56e2,
            3.774_852_376_853_020_21e2,
            3.209_377_589_138_469_47e3,
        ],
        [
            1.0,
            2.360_129_095_234_412_09e1,
            2.440_246_379_344_441_73e2,
            1.282_616_526_077_372_28e3,
            2.844_236_833_439_170_62e3,
        ],
    );
    /// erfc(x)·exp(x²) over x, 0.46875 to 4.
    pub(super) const MIDDLE: ([f64; 9], [f64; 9]) = (
        [
            2.153_115_354_744_038_46e-8,
            5.641_884_969_886_700_89e-1,
            8.883_149_794_388_375_94,
            6.611_919_063_714_162_95e1,
            2.986_351_381_974_001_31e2,
            8.819_522_212_417_690_90e2,
            1.712_047_612_634_070_58e3,
            2.051_078_377_826_071_47e3,
            1.230_339_354_797_997_25e3,
        ],
        [
            1.0,
            1.574_492_611_070_983_47e1,
            1.176_939_508_913_124_99e2,
            5.371_811_018_620_098_58e2,
            1.621_389_574_566_690_19e3,
            3.290_799_235_733_459_63e3,
            4.362_619_090_143_247_16e3,
            3.439_367_674_143_721_64e3,
            1.230_339_354_803_749_42e3,
        ],
    );
    /// (1/√π − x·erfc(x)·exp(x²))·x² over 1/x², from 4 on.
    pub(super) const FAR: ([f64; 6], [f64; 6]) = (
        [
            1.631_538_713_730_209_78e-2,
            3.053_266_349_612_323_44e-1,
            3.603_448_999_498_044_39e-1,
            1.257_817_261_112_292_46e-1,
            1.608_378_514_874_227_66e-2,
            6.587_491_615_298_378_03e-4,
        ],
        [
            1.0,
            2.568_520_192_289_822_42,
            1.872_952_849_923_460_47,
            5.279_051_029_514_284_12e-1,
            6.051_834_131_244_131_91e-2,
            2.335_204_976_268_691_85e-3,
        ],
    );
}

fn ratio<const N: usize>((above, below): &([f64; N], [f64; N]), x: f64) -> f64 {
    let horner = |c: &[f64; N]| c.iter().fold(0.0, |sum, c| sum * x + c);
    horner(above) / horner(below)
}

fn erf_near_zero(x: f64) -> f64 {
    x * ratio(&cody::NEAR, x * x)
}

fn erfc_away_from_zero(x: f64) -> f64 {
    let y = x.abs();
    let scaled = if y <= 4.0 {
        ratio(&cody::MIDDLE, y)
    } else {
        let inverse_square = 1.0 / (y * y);
        let one_over_root_pi = 1.0 / PI.sqrt();
        (one_over_root_pi - inverse_square * ratio(&cody::FAR, inverse_square)) / y
    };
    // e^−y² with y split so that the larger square is exact
    let coarse = (y * 16.0).floor() / 16.0;
    let erfc = (-coarse * coarse).exp() * (-(y - coarse) * (y + coarse)).exp() * scaled;
    if x < 0.0 { 2.0 - erfc } else { erfc }
}

/// Distribution function of the standard normal distribution, P(Z ≤ z).
pub fn normal_cdf(z: f64) -> f64 {
    normal_survival(-z)
}

/// Quantile of the standard normal distribution: the z with P(Z ≤ z) = p.
///
/// Infinite at p = 0 and 1; not a number outside [0, 1].
pub fn normal_quantile(p: f64) -> f64 {
    symmetric_quantile(p, normal_survival, |z| incomplete_gamma(0.5, 0.5 * z * z).0)
}

/// Quantile of a distribution symmetric about zero from its upper tail P(X > x) and its inner part
/// P(|X| ≤ x), x ≥ 0. Solved in ln x on whichever of the two is small, so that digits are kept both
/// in the tail and near the middle.
pub(crate) fn symmetric_quantile(
    p: f64,
    survival: impl Fn(f64) -> f64,
    inner: impl Fn(f64) -> f64,
) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    let sign = if p < 0.5 { -1.0 } else { 1.0 };
    let tail = p.min(1.0 - p);
    if tail <= 0.0 {
        return sign * f64::INFINITY;
    }
    let within = 2.0 * (0.5 - tail);
    if within <= 0.0 {
        return 0.0;
    }
    let log_x = if tail < 0.25 {
        root_of_rising(|s| tail.ln() - survival(s.exp()).max(1e-320).ln(), 0.0, 0.5)
    } else {
        root_of_rising(|s| inner(s.exp()).max(1e-320).ln() - within.ln(), 0.0, 0.5)
    };
    log_x.map_or(f64::NAN, |s| sign * s.exp())
}
