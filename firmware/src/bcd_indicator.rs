//! Bits clocked out of a digital indicator go in, a reading as its display shows it comes out.
//!
//! A reading is 13 digits of 4 bits, least significant bit first: four header digits 1111, sign (0 or 8), six
//! decimal digits with the highest first, digits after the decimal point, unit (0 millimetre, 1 inch);
//! *from-memory*. Exactly 52 bits between two silences are a reading: a bit lost or slipped in is found by the
//! count, and what else goes wrong by digits that cannot be.

/// Bits of one reading.
pub const BITS: u8 = 52;
/// No clock edge for this long ends a reading, microseconds; bits of one reading follow each other faster.
pub const SILENCE_US: u32 = 10_000;

/// What was clocked between two silences, first bit lowest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Burst {
    /// The first 64 bits.
    pub bits: u64,
    /// How many bits there were, at most 255.
    pub count: u8,
    /// When the first came, the timer's 32 bits.
    pub at_us: u32,
}

/// What the display shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shown {
    /// The six digits with their sign.
    pub digits: i32,
    /// Digits after the decimal point.
    pub decimals: u8,
    /// `true`: inch; `false`: millimetre.
    pub inch: bool,
}

/// Why a burst is no reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Garbled {
    /// Not 52 bits.
    Bits(u8),
    /// A header digit is not 1111.
    Header,
    /// The sign is neither 0 nor 8.
    Sign(u8),
    /// A digit above 9.
    Digit(u8),
    /// More decimals than the display has.
    Decimals(u8),
    /// The unit is neither 0 nor 1.
    Unit(u8),
}

/// Collects bits, one call a clock edge.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BitLine {
    /// The first 32 bits and the second: these cores shift words, and 64 bits by a call into the flash.
    bits: [u32; 2],
    count: u8,
    first_us: u32,
    last_us: u32,
}

impl BitLine {
    /// Nothing collected.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            bits: [0; 2],
            count: 0,
            first_us: 0,
            last_us: 0,
        }
    }

    /// Takes the data line's level at a clock edge; gives the burst that had ended before it.
    #[inline(always)]
    pub fn clock(&mut self, data: bool, at_us: u32) -> Option<Burst> {
        let ended = self.tick(at_us);
        if self.count == 0 {
            self.first_us = at_us;
        }
        if let Some(word) = self.bits.get_mut(usize::from(self.count / 32)) {
            *word |= u32::from(data) << (self.count % 32);
        }
        self.count = self.count.saturating_add(1);
        self.last_us = at_us;
        ended
    }

    /// Lets time pass; gives the burst that silence has ended. Called at least at every sample.
    #[inline(always)]
    pub fn tick(&mut self, now_us: u32) -> Option<Burst> {
        if self.count == 0 || now_us.wrapping_sub(self.last_us) < SILENCE_US {
            return None;
        }
        let burst = Burst {
            bits: u64::from(self.bits[1]) << 32 | u64::from(self.bits[0]),
            count: self.count,
            at_us: self.first_us,
        };
        // Nothing else has to go: what is cleared whole is cleared by a call into the flash.
        (self.bits, self.count) = ([0; 2], 0);
        Some(burst)
    }
}

/// Reads a burst.
///
/// # Errors
///
/// [`Garbled`], with the first thing found wrong.
pub fn read(burst: &Burst) -> Result<Shown, Garbled> {
    if burst.count != BITS {
        return Err(Garbled::Bits(burst.count));
    }
    let digit = |place: u32| (burst.bits >> (4 * place)).to_le_bytes()[0] & 0x0f;
    if (0..4).any(|place| digit(place) != 0x0f) {
        return Err(Garbled::Header);
    }
    let negative = match digit(4) {
        0 => false,
        8 => true,
        other => return Err(Garbled::Sign(other)),
    };
    let magnitude = (5..11).try_fold(0_i32, |sum, place| match digit(place) {
        figure @ 0..=9 => Ok(sum * 10 + i32::from(figure)),
        other => Err(Garbled::Digit(other)),
    })?;
    let decimals = match digit(11) {
        decimals @ 0..=5 => decimals,
        other => return Err(Garbled::Decimals(other)),
    };
    let inch = match digit(12) {
        0 => false,
        1 => true,
        other => return Err(Garbled::Unit(other)),
    };
    Ok(Shown {
        digits: if negative { -magnitude } else { magnitude },
        decimals,
        inch,
    })
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::vec::Vec;

    use proptest::prelude::*;

    use super::*;

    /// The line pattern of a display, written out digit by digit.
    fn pattern(digits: [u8; 13]) -> Vec<bool> {
        digits
            .iter()
            .flat_map(|digit| (0..4).map(move |bit| digit >> bit & 1 == 1))
            .collect()
    }

    fn display(negative: bool, figures: [u8; 6], decimals: u8, inch: bool) -> Vec<bool> {
        let [a, b, c, d, e, f] = figures;
        let sign = if negative { 8 } else { 0 };
        pattern([
            15,
            15,
            15,
            15,
            sign,
            a,
            b,
            c,
            d,
            e,
            f,
            decimals,
            u8::from(inch),
        ])
    }

    /// Clocks the bits 400 µs apart with 1 ms between digits, then lets it fall silent.
    fn clocked(bits: &[bool]) -> Vec<Result<Shown, Garbled>> {
        let mut line = BitLine::new();
        let mut at_us = u32::MAX - 9_000;
        let mut bursts = Vec::new();
        for (place, &bit) in bits.iter().enumerate() {
            at_us = at_us.wrapping_add(if place % 4 == 0 { 1_000 } else { 400 });
            bursts.extend(line.clock(bit, at_us));
            bursts.extend(line.tick(at_us.wrapping_add(200)));
        }
        bursts.extend(line.tick(at_us.wrapping_add(SILENCE_US)));
        bursts.iter().map(read).collect()
    }

    #[test]
    fn millimetres_with_sign_and_decimals() {
        let shown = Shown {
            digits: -12_345,
            decimals: 3,
            inch: false,
        };
        assert_eq!(
            clocked(&display(true, [0, 1, 2, 3, 4, 5], 3, false)),
            [Ok(shown)]
        );
    }

    #[test]
    fn inches() {
        let shown = Shown {
            digits: 50_005,
            decimals: 5,
            inch: true,
        };
        assert_eq!(
            clocked(&display(false, [0, 5, 0, 0, 0, 5], 5, true)),
            [Ok(shown)]
        );
    }

    #[test]
    fn two_readings_apart_are_two() {
        let mut line = BitLine::new();
        let mut bursts = Vec::new();
        for start in [1_000_u32, 200_000] {
            for (place, bit) in (0_u32..).zip(display(false, [0, 0, 0, 0, 1, 0], 2, false)) {
                bursts.extend(line.clock(bit, start + place * 300));
            }
        }
        bursts.extend(line.tick(400_000));
        assert_eq!(
            bursts.iter().map(|burst| burst.at_us).collect::<Vec<_>>(),
            [1_000, 200_000]
        );
        assert!(bursts.iter().all(|burst| read(burst).unwrap().digits == 10));
    }

    #[test]
    fn digits_that_cannot_be_are_told() {
        let good = [15, 15, 15, 15, 0, 1, 2, 3, 4, 5, 6, 2, 0];
        for (place, value, expected) in [
            (2, 14, Garbled::Header),
            (4, 1, Garbled::Sign(1)),
            (7, 10, Garbled::Digit(10)),
            (11, 6, Garbled::Decimals(6)),
            (12, 2, Garbled::Unit(2)),
        ] {
            let mut digits = good;
            digits[place] = value;
            assert_eq!(clocked(&pattern(digits)), [Err(expected)]);
        }
    }

    #[test]
    fn a_reading_cut_by_silence_is_two_short_bursts() {
        let bits = display(false, [1, 2, 3, 4, 5, 6], 3, false);
        let mut line = BitLine::new();
        for (place, &bit) in (0_u32..).zip(&bits[..20]) {
            assert_eq!(line.clock(bit, place * 300), None);
        }
        let cut = line.clock(bits[20], 19 * 300 + SILENCE_US).unwrap();
        assert_eq!(read(&cut), Err(Garbled::Bits(20)));
    }

    #[test]
    fn a_chattering_clock_does_not_overflow() {
        let mut line = BitLine::new();
        for at_us in 0..1_000 {
            line.clock(true, at_us);
        }
        let burst = line.tick(1_000 + SILENCE_US).unwrap();
        assert_eq!(read(&burst), Err(Garbled::Bits(255)));
    }

    proptest! {
        #[test]
        fn every_display_reads_as_shown(
            magnitude in 0_i32..1_000_000, negative in any::<bool>(), decimals in 0_u8..=5, inch in any::<bool>(),
        ) {
            let figures: Vec<u8> = std::format!("{magnitude:06}").bytes().map(|byte| byte - b'0').collect();
            let figures: [u8; 6] = figures.try_into().unwrap();
            let digits = if negative { -magnitude } else { magnitude };
            prop_assert_eq!(
                clocked(&display(negative, figures, decimals, inch)),
                [Ok(Shown { digits, decimals, inch })]
            );
        }

        #[test]
        fn a_slipped_bit_is_never_a_reading(magnitude in 0_u32..1_000_000, place in 0_usize..52, lost in any::<bool>(), extra in any::<bool>()) {
            let figures: Vec<u8> = std::format!("{magnitude:06}").bytes().map(|byte| byte - b'0').collect();
            let mut bits = display(false, figures.try_into().unwrap(), 3, false);
            if lost {
                bits.remove(place);
            } else {
                bits.insert(place, extra);
            }
            prop_assert!(clocked(&bits)[0].is_err());
        }
    }
}
