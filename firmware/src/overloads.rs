//! Counts go in, sample by sample; the peaks of overloads come out as the history the gauge keeps.
//!
//! Peaks live in memory while the gauge streams; the history is saved once it does not.

use heapless::Vec;
use holdtrue_protocol::message::Overload;

use crate::flash::Flash;
use crate::remembered::Remembered;
use crate::store::{Payload, Record};

/// How many overloads are kept, the newest ones.
pub const KEPT: usize = 8;
/// An overload is over when the load has kept within the limits this long, microseconds.
pub const OVER_US: u64 = 20_000;

/// The history of overloads.
pub type History = Vec<Overload, KEPT>;

/// Watches for overloads.
#[derive(Clone, Debug, Default)]
pub struct Overloads {
    limits: Option<(i32, i32)>,
    now: Option<Running>,
    remembered: Remembered<Overload, KEPT>,
}

#[derive(Clone, Copy, Debug)]
struct Running {
    worst: Overload,
    beyond: i64,
    last_us: u64,
    /// Its worst is in the history already.
    kept: bool,
}

impl Overloads {
    /// Reads the history kept so far. A history that cannot be read is an empty one: the next saving mends it.
    pub fn load<F: Flash>(flash: &mut F) -> Self {
        Self {
            remembered: Remembered::load(flash, Record::Overloads),
            ..Self::default()
        }
    }

    /// Sets the lowest and highest counts that are no overload; `None`: nothing is known, so nothing is one.
    pub fn set_limits(&mut self, limits: Option<(i32, i32)>) {
        self.limits = limits;
    }

    /// Takes a sample; `true` if it is beyond the limits.
    pub fn watch(&mut self, boot: u32, at_us: u64, counts: i32) -> bool {
        let beyond = self.beyond(counts);
        if beyond > 0 {
            self.note(
                beyond,
                Overload {
                    boot,
                    at_us,
                    peak_counts: counts,
                },
            );
        } else if self.now.is_some_and(|now| at_us >= now.last_us + OVER_US) {
            self.finish();
        }
        beyond > 0
    }

    /// Keeps an overload that is still running, as when streaming stops in it. It goes on as the same one, and is kept again
    /// only if it gets worse.
    pub fn keep(&mut self) {
        let Some(now) = self.now.as_mut().filter(|now| !now.kept) else {
            return;
        };
        now.kept = true;
        self.remembered.note(now.worst);
    }

    /// Ends an overload that is running.
    pub fn finish(&mut self) {
        self.keep();
        self.now = None;
    }

    /// The history, oldest first.
    #[must_use]
    pub const fn history(&self) -> &History {
        self.remembered.history()
    }

    /// Whether the history has changed since it was last saved.
    #[must_use]
    pub const fn is_unsaved(&self) -> bool {
        self.remembered.is_unsaved()
    }

    /// The bytes to save, once for every change of the history.
    pub fn take_unsaved(&mut self) -> Option<Payload> {
        self.remembered.take_unsaved()
    }

    fn beyond(&self, counts: i32) -> i64 {
        self.limits.map_or(0, |(lowest, highest)| {
            let above = i64::from(counts) - i64::from(highest);
            let below = i64::from(lowest) - i64::from(counts);
            above.max(below)
        })
    }

    fn note(&mut self, beyond: i64, sample: Overload) {
        let now = self.now.get_or_insert(Running {
            worst: sample,
            beyond,
            last_us: sample.at_us,
            kept: false,
        });
        now.last_us = sample.at_us;
        if beyond > now.beyond {
            now.beyond = beyond;
            now.worst = sample;
            now.kept = false;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: (i32, i32) = (-500, 1_000);

    fn watching() -> Overloads {
        let mut overloads = Overloads::default();
        overloads.set_limits(Some(LIMITS));
        overloads
    }

    /// Plays counts one millisecond apart.
    fn play(overloads: &mut Overloads, from_us: u64, counts: &[i32]) {
        for (step, &counts) in (0..).zip(counts) {
            overloads.watch(9, from_us + step * 1_000, counts);
        }
    }

    fn peaks(overloads: &Overloads) -> Vec<(u64, i32), KEPT> {
        let pairs = overloads.history().iter().map(|o| (o.at_us, o.peak_counts));
        pairs.collect()
    }

    #[test]
    fn the_peak_of_one_overload_is_kept_with_its_time() {
        let mut overloads = watching();
        play(
            &mut overloads,
            0,
            &[0, 999, 1_000, 1_001, 1_500, 1_200, 900],
        );
        assert_eq!(peaks(&overloads), [], "not over yet");
        play(&mut overloads, 30_000, &[0; 3]);
        assert_eq!(peaks(&overloads), [(4_000, 1_500)]);
    }

    #[test]
    fn compression_is_an_overload_and_the_worse_side_is_the_peak() {
        let mut overloads = watching();
        play(&mut overloads, 0, &[1_100, -900, 1_200]);
        overloads.finish();
        assert_eq!(peaks(&overloads), [(1_000, -900)]);
    }

    #[test]
    fn chatter_at_the_limit_is_one_overload() {
        let mut overloads = watching();
        for round in 0..50 {
            play(&mut overloads, round * 4_000, &[1_001, 1_000, 1_002, 999]);
        }
        play(&mut overloads, 300_000, &[0]);
        assert_eq!(peaks(&overloads).len(), 1);
    }

    #[test]
    fn one_kept_while_it_runs_is_kept_again_only_if_it_gets_worse() {
        let mut overloads = watching();
        play(&mut overloads, 0, &[1_500, 1_600]);
        overloads.keep();
        overloads.keep();
        play(&mut overloads, 2_000, &[1_600, 1_200]);
        play(&mut overloads, 30_000, &[0; 3]);
        assert_eq!(peaks(&overloads), [(1_000, 1_600)]);
        play(&mut overloads, 100_000, &[1_500]);
        overloads.keep();
        play(&mut overloads, 101_000, &[1_700, 1_100]);
        play(&mut overloads, 130_000, &[0; 3]);
        let told = [(1_000, 1_600), (100_000, 1_500), (101_000, 1_700)];
        assert_eq!(peaks(&overloads), told);
    }

    #[test]
    fn only_the_newest_are_kept_and_each_change_is_saved_once() {
        let mut overloads = watching();
        assert_eq!(overloads.take_unsaved(), None);
        for (number, peak) in (0..).zip(2_000..2_012) {
            play(&mut overloads, number * 1_000_000, &[peak]);
            overloads.finish();
        }
        let kept: Vec<i32, KEPT> = overloads.history().iter().map(|o| o.peak_counts).collect();
        assert_eq!(
            kept,
            [2_004, 2_005, 2_006, 2_007, 2_008, 2_009, 2_010, 2_011]
        );
        let saved = overloads.take_unsaved().unwrap();
        let back: History = postcard::from_bytes(&saved).unwrap();
        assert_eq!(back, *overloads.history());
        assert_eq!(overloads.take_unsaved(), None);
    }

    #[test]
    fn the_longest_history_fits_its_record() {
        let longest = Overload {
            boot: u32::MAX,
            at_us: u64::MAX,
            peak_counts: i32::MIN,
        };
        let mut overloads = watching();
        for _ in 0..KEPT {
            overloads.remembered.note(longest);
        }
        assert!(overloads.take_unsaved().is_some());
    }

    #[test]
    fn without_a_calibration_nothing_is_an_overload() {
        let mut overloads = Overloads::default();
        assert!(!overloads.watch(1, 0, i32::MAX));
        overloads.finish();
        assert!(overloads.history().is_empty());
    }
}
