//! A 32-bit microsecond timer goes in, microseconds in 64 bits come out, across every wrap.
//!
//! Interrupts stamp with the bare 32-bit counter (one load); the main loop extends the stamps here.

/// Extends 32-bit stamps, in any order, as long as no stamp is 2³¹ µs (35 minutes) or more away from the newest
/// one seen. An idle main loop extends "now" many times a second, so that holds by a wide margin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Extend32 {
    newest_us: u64,
}

impl Extend32 {
    /// Starts at the timer's present value, which counts as time since boot.
    #[must_use]
    pub const fn starting_at(raw_us: u32) -> Self {
        Self {
            newest_us: raw_us as u64,
        }
    }

    /// The 64-bit time of a stamp; its lower half is the stamp.
    pub fn extend(&mut self, raw_us: u32) -> u64 {
        let at_us = self
            .newest_us
            .saturating_add_signed(i64::from(signed_distance(self.newest_us, raw_us)));
        self.newest_us = self.newest_us.max(at_us);
        at_us
    }

    /// The newest time seen.
    #[must_use]
    pub const fn newest_us(&self) -> u64 {
        self.newest_us
    }
}

/// From `newest_us` to `raw_us` the shorter way round the 32-bit circle.
fn signed_distance(newest_us: u64, raw_us: u32) -> i32 {
    #[expect(clippy::cast_possible_truncation, reason = "the lower half is meant")]
    let newest_raw = newest_us as u32;
    raw_us.wrapping_sub(newest_raw).cast_signed()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn raw(at_us: u64) -> u32 {
        u32::try_from(at_us & u64::from(u32::MAX)).unwrap()
    }

    #[test]
    fn wraps_are_counted() {
        let start = u32::MAX - 20_000_000;
        let mut clock = Extend32::starting_at(start);
        assert_eq!(clock.extend(u32::MAX), u64::from(u32::MAX));
        assert_eq!(clock.extend(0), 1 << 32);
        assert_eq!(clock.extend(0x7000_0000), (1 << 32) + 0x7000_0000);
        assert_eq!(clock.extend(0xe000_0000), (1 << 32) + 0xe000_0000);
        assert_eq!(clock.extend(5), (2 << 32) + 5);
    }

    #[test]
    fn a_stamp_from_before_the_wrap_read_after_it_stays_before_it() {
        let mut clock = Extend32::starting_at(u32::MAX - 10);
        assert_eq!(clock.extend(3), (1 << 32) + 3);
        assert_eq!(clock.extend(u32::MAX - 2), u64::from(u32::MAX) - 2);
        assert_eq!(clock.newest_us(), (1 << 32) + 3);
    }

    proptest! {
        #[test]
        fn any_stamps_within_half_a_circle_of_the_newest_come_back_whole(
            start in any::<u32>(),
            steps in proptest::collection::vec((0_u32..0x7fff_ffff, 0_u32..0x7fff_ffff), 1..200),
        ) {
            let mut clock = Extend32::starting_at(start);
            let mut newest = u64::from(start);
            for (forward, back) in steps {
                newest += u64::from(forward);
                prop_assert_eq!(clock.extend(raw(newest)), newest);
                let older = newest.saturating_sub(u64::from(back));
                if older >= u64::from(start) {
                    prop_assert_eq!(clock.extend(raw(older)), older);
                }
                prop_assert_eq!(clock.newest_us(), newest);
            }
        }
    }
}
