//! Whether two series of readings are one. In: both. Out: alike to the last digit, or but for a factor and a constant.
//!
//! No two measurements share their noise: a second series that follows the first sample by sample within what rounding
//! leaves is the first once more, in another unit, shifted or stretched.

use crate::statistics;

/// Fewer readings may agree by chance.
const FEWEST: usize = 3;
/// So many must follow each other before a factor and a constant are taken off.
const FEWEST_STRETCHED: usize = 50;
/// Noise over so many steps of the readings is no two times the same by chance.
const NOISE_STEPS: f64 = 1.0;
/// Noise turns at two readings of three, a curve seldom: at this share it is noise.
const LEAST_TURNS: f64 = 0.25;
/// What rounding leaves, share of the steps of both: a half, and room for the fit.
const ROUNDING_SHARE: f64 = 0.75;

/// What differs by less is one number, share of the largest.
const LAST_DIGIT_SHARE: f64 = 1e-9;

/// How two series agree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Alike {
    /// Reading by reading.
    ToTheLastDigit,
    /// But for a factor and a constant.
    Stretched,
}

/// Whether the second series is the first once more. One that stands still agrees with any other that does, so that it says
/// nothing.
pub fn alike(first: &[f64], second: &[f64]) -> Option<Alike> {
    if first.len().min(second.len()) < FEWEST || !varies(first) || !varies(second) {
        return None;
    }
    let same = first
        .iter()
        .zip(second)
        .all(|(a, b)| a.total_cmp(b).is_eq());
    if first.len() == second.len() && same {
        return Some(Alike::ToTheLastDigit);
    }
    let (at_first, at_second) = (rises_at(first), rises_at(second));
    let before = at_first.min(at_second);
    let (first, second) = (&first[at_first - before..], &second[at_second - before..]);
    let length = first.len().min(second.len());
    is_stretched(&first[..length], &second[..length]).then_some(Alike::Stretched)
}

fn varies(values: &[f64]) -> bool {
    values
        .windows(2)
        .any(|pair| pair[0].total_cmp(&pair[1]).is_ne())
}

/// Where it first passes half-way between its ends: there two records that were cut differently are laid upon each other.
fn rises_at(values: &[f64]) -> usize {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let middle = f64::midpoint(low, high);
    values.iter().position(|value| *value > middle).unwrap_or(0)
}

/// Whether readings turn up and down as noise does, by more than the step they are written in; a curve without noise may well be
/// the same twice.
pub fn has_noise(values: &[f64]) -> bool {
    let threes = || {
        values
            .windows(3)
            .map(|three| (three[1] - three[0], three[2] - three[1]))
    };
    let turns = threes()
        .filter(|(before, after)| before * after < 0.0)
        .count();
    let bends: Vec<f64> = threes()
        .map(|(before, after)| (after - before).abs())
        .collect();
    let often = turns as f64 >= LEAST_TURNS * bends.len() as f64;
    !bends.is_empty() && often && statistics::median(&bends) >= NOISE_STEPS * least_step(values)
}

/// Smallest difference between any two values that differ: the step they are written in.
fn least_step(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let largest = sorted.iter().copied().map(f64::abs).fold(0.0, f64::max);
    let steps = sorted.windows(2).map(|pair| pair[1] - pair[0]);
    let differ = steps.filter(|step| *step > LAST_DIGIT_SHARE * largest);
    let least = differ.fold(f64::INFINITY, f64::min);
    if least.is_finite() { least } else { 0.0 }
}

fn is_stretched(first: &[f64], second: &[f64]) -> bool {
    if first.len() < FEWEST_STRETCHED {
        return false;
    }
    let [step, other_step] = [first, second].map(least_step);
    if !has_noise(first) || !has_noise(second) {
        return false;
    }
    let Some(line) = statistics::least_squares_line(first, second) else {
        return false;
    };
    let largest = second.iter().copied().map(f64::abs).fold(0.0, f64::max);
    let left = ROUNDING_SHARE * (line.slope * step + other_step) + LAST_DIGIT_SHARE * largest;
    let off = |(a, b): (&f64, &f64)| (line.intercept + line.slope * a - b).abs();
    line.slope > 0.0 && first.iter().zip(second).map(off).all(|off| off <= left)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Noise of 5 about a step, to a tenth.
    fn series(seed: u64, level: f64) -> Vec<f64> {
        let mut state = seed;
        let noise = move || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 40) as f64 / 16_777_216.0 - 0.5
        };
        let noises = std::iter::repeat_with(noise).take(400);
        let value = |(index, noise): (usize, f64)| {
            let held = if (100..300).contains(&index) {
                level
            } else {
                0.0
            };
            (10.0 * (held + 10.0 * noise)).round() / 10.0
        };
        noises.enumerate().map(value).collect()
    }

    #[test]
    fn a_copy_is_told_in_another_unit_shifted_stretched_and_cut() {
        let first = series(1, 9_500.0);
        assert_eq!(alike(&first, &first), Some(Alike::ToTheLastDigit));
        let as_kn: Vec<f64> = first.iter().map(|n| n.round() / 1000.0).collect();
        let lifted: Vec<f64> = first.iter().map(|n| n * 1.01 + 20.0).collect();
        for copy in [&as_kn[..], &lifted, &first[7..], &first[..390]] {
            assert_eq!(alike(&first, copy), Some(Alike::Stretched));
            assert_eq!(alike(copy, &first), Some(Alike::Stretched));
        }
    }

    #[test]
    fn two_measurements_are_two() {
        let first = series(1, 9_500.0);
        for other in [series(2, 9_500.0), series(1, 9_800.0)] {
            assert_eq!(alike(&first, &other), None);
        }
        assert_eq!(alike(&[0.0; 80], &[0.0; 80]), None);
        assert_eq!(alike(&[9.5, 9.6], &[9.5, 9.6]), None);
    }

    #[test]
    fn without_noise_only_the_same_is_the_same() {
        let still = |level: f64| [[0.0; 100], [level; 100], [0.0; 100]].concat();
        assert_eq!(alike(&still(9_500.0), &still(9_800.0)), None);
        assert_eq!(
            alike(&still(9_500.0), &still(9_500.0)),
            Some(Alike::ToTheLastDigit)
        );
    }
}
