//! Counts of a load cell go in; whether they left their level faster than any drawbar lets go comes out.
//!
//! A supply wire that opens leaves both signal wires together: nothing saturates, the reading is simply gone, within one
//! conversion. Springs, oil and air take ten milliseconds and more (common practice). So a level lost within
//! [`FALL_US`] is worth a look at the wires; a false alarm costs the dozen samples of that look and nothing else.

/// The whole fall happens within this, microseconds: two samples at a thousand a second, the rate of a grip check.
/// Slower streams cannot tell a wire from a drawbar and never look.
pub const FALL_US: u64 = 2_500;
/// Levels nearer to nothing than this, a hundredth of the range and less, are not watched: noise and knocks live there.
const LEAST_COUNTS: i64 = 1 << 15;
/// The level follows the counts by this part of their distance with each sample.
const FOLLOWS: i64 = 64;

/// Follows the level of a stream.
#[derive(Clone, Copy, Debug, Default)]
pub struct SuddenFall {
    level_64: i64,
    before: [Option<Seen>; 2],
}

#[derive(Clone, Copy, Debug)]
struct Seen {
    counts: i64,
    at_us: u64,
}

impl SuddenFall {
    /// Nothing seen yet.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            level_64: 0,
            before: [None; 2],
        }
    }

    /// Takes the next counts; `true` if the level was there a moment ago and is gone.
    pub fn take(&mut self, counts: i32, at_us: u64) -> bool {
        let now = Seen {
            counts: counts.into(),
            at_us,
        };
        let [last, earlier] = self.before;
        let fell = [last, earlier]
            .into_iter()
            .flatten()
            .any(|then| self.is_lost(then, now));
        if last.is_none() {
            self.level_64 = now.counts * FOLLOWS;
        }
        self.level_64 += now.counts - self.level();
        self.before = [Some(now), last];
        fell
    }

    const fn level(&self) -> i64 {
        self.level_64 / FOLLOWS
    }

    fn is_lost(&self, then: Seen, now: Seen) -> bool {
        let level = self.level();
        let size = level.abs();
        size >= LEAST_COUNTS
            && now.at_us.saturating_sub(then.at_us) <= FALL_US
            && 4 * (then.counts - level).abs() < size
            && 4 * now.counts.abs() < size
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Samples a thousand a second; when the first alarm came.
    fn alarm_ms(force: impl Fn(u64) -> i32, period_us: u64) -> Option<u64> {
        let mut fall = SuddenFall::new();
        (0..3_000)
            .map(|number| number * period_us)
            .find(|&at_us| fall.take(force(at_us / 1_000), at_us))
            .map(|at_us| at_us / 1_000)
    }

    const LEVEL: i32 = 1_000_000;

    #[test]
    fn a_level_gone_at_once_is_told_at_once_of_pull_and_of_push() {
        for (level, gone) in [(LEVEL, 0), (LEVEL, 20_000), (-LEVEL, -20_000)] {
            let force = move |ms| if ms < 1_000 { level } else { gone };
            assert_eq!(alarm_ms(force, 1_000), Some(1_000), "{level} to {gone}");
        }
    }

    #[test]
    fn half_a_conversion_in_between_is_no_excuse() {
        let force = |ms| match ms {
            0..1_000 => LEVEL,
            1_000 => 7 * LEVEL / 10,
            _ => 0,
        };
        assert_eq!(alarm_ms(force, 1_000), Some(1_001));
    }

    /// Evenly down in `fall_ms`.
    fn released(fall_ms: u64) -> impl Fn(u64) -> i32 {
        move |ms| {
            let left = (1_000 + fall_ms).saturating_sub(ms).min(fall_ms);
            let share = i32::try_from(left * 1_000 / fall_ms).expect("a thousandth");
            LEVEL / 1_000 * share
        }
    }

    #[test]
    fn no_release_of_five_milliseconds_or_more_raises_an_alarm_and_no_clamping() {
        for fall_ms in [5, 10, 20, 100] {
            assert_eq!(alarm_ms(released(fall_ms), 1_000), None, "{fall_ms} ms");
        }
        for rise_ms in [1, 5, 20, 100] {
            let rise = released(rise_ms);
            let force = move |ms| LEVEL - rise(ms);
            assert_eq!(alarm_ms(force, 1_000), None, "{rise_ms} ms");
        }
    }

    #[test]
    fn a_step_to_another_level_or_to_the_end_of_the_range_is_not_an_open_supply() {
        for other in [LEVEL / 3, 3 * LEVEL, 0x7f_ffff, -LEVEL] {
            let force = move |ms| if ms < 1_000 { LEVEL } else { other };
            assert_eq!(alarm_ms(force, 1_000), None, "to {other}");
        }
    }

    #[test]
    fn slow_streams_and_small_levels_are_not_watched() {
        let force = |ms| if ms < 1_000 { LEVEL } else { 0 };
        assert_eq!(alarm_ms(force, 3_000), None);
        assert_eq!(alarm_ms(move |ms| force(ms) / 50, 1_000), None);
    }
}
