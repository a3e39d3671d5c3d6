//! The median of readings that are walked through a few times and never copied.
//!
//! In comes a walk; out goes the same number, to the last bit, as from sorting them. A record of hours holds its times and forces
//! once, and its median spacing or noise is that of differences nobody keeps.

/// So many are simply copied and parted about their middle.
const FEW: usize = 1 << 16;
/// Readings are counted by so many of their leading bits at a time.
const DIGIT_BITS: u32 = 16;
const DIGITS: usize = 1 << DIGIT_BITS;

/// Median, reordering the readings given.
pub(super) fn median_in_place(x: &mut [f64]) -> f64 {
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

/// Median; the mean of the two middle readings for an even count. Not a number for no readings. The walk is the same each time.
pub(crate) fn median_of<I: Iterator<Item = f64>>(walk: impl Fn() -> I) -> f64 {
    let mut few: Vec<f64> = walk().take(FEW + 1).collect();
    if few.len() <= FEW {
        return median_in_place(&mut few);
    }
    drop(few);
    let (mut shift, mut leading) = (u64::BITS, 0);
    let mut counts = vec![0_usize; DIGITS];
    // How many readings there are, which of them is sought, and how many are less than all that share its leading bits.
    let (mut all, mut middle, mut less) = (0, 0, 0);
    loop {
        let is_first = shift == u64::BITS;
        shift -= DIGIT_BITS;
        counts.fill(0);
        for key in walk().map(key) {
            if is_first || key >> (shift + DIGIT_BITS) == leading {
                counts[digit(key >> shift)] += 1;
            }
        }
        if is_first {
            all = counts.iter().sum();
            middle = all / 2;
        }
        let mut found = 0;
        while less + counts[found] <= middle {
            less += counts[found];
            found += 1;
        }
        leading = leading << DIGIT_BITS | found as u64;
        if shift == 0 || counts[found] <= FEW {
            break;
        }
    }
    let leads = |value: &f64| key(*value) >> shift;
    let upper = select(
        walk().filter(|value| leads(value) == leading),
        middle - less,
        shift,
    );
    if all % 2 == 1 {
        return upper;
    }
    let lower = if middle > less {
        select(
            walk().filter(|value| leads(value) == leading),
            middle - less - 1,
            shift,
        )
    } else {
        walk()
            .filter(|value| leads(value) < leading)
            .fold(f64::NEG_INFINITY, f64::max)
    };
    lower + 0.5 * (upper - lower)
}

/// The reading of that rank. Those that share all their bits are one number.
fn select(mut values: impl Iterator<Item = f64>, rank: usize, shift: u32) -> f64 {
    if shift == 0 {
        return values.next().unwrap_or(f64::NAN);
    }
    let mut values: Vec<f64> = values.collect();
    *values.select_nth_unstable_by(rank, f64::total_cmp).1
}

/// Bits that grow as the numbers do.
fn key(value: f64) -> u64 {
    let bits = value.to_bits();
    if value.is_sign_negative() {
        !bits
    } else {
        bits | 1 << 63
    }
}

#[expect(clippy::cast_possible_truncation)]
fn digit(key: u64) -> usize {
    key as usize & (DIGITS - 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::median;

    /// Numbers in no order, of either sign.
    fn scattered(count: usize, of: impl Fn(f64) -> f64) -> Vec<f64> {
        let mut state = 7_u64;
        let next = |_| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            of((state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5)
        };
        (0..count).map(next).collect()
    }

    #[test]
    fn is_the_median_of_the_copied_readings_to_the_last_bit() {
        for count in [0, 1, 2, FEW, FEW + 1, 3 * FEW, 3 * FEW + 1] {
            for values in [
                scattered(count, |x| x),
                scattered(count, |x| (1e3 * x).round()),
                scattered(count, |x| 1e-3 + 1e-17 * (64.0 * x).round()),
                scattered(count, |_| -2.5),
                scattered(count, |x| if x > 0.0 { 1.0 } else { -1.0 }),
            ] {
                let walked = median_of(|| values.iter().copied());
                assert_eq!(walked.to_bits(), median(&values).to_bits(), "{count}");
            }
        }
    }
}
