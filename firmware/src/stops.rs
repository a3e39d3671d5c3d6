//! A program that stops goes in; after the watchdog's restart comes out when it was last alive, how it stopped and where.
//!
//! While it runs the program leaves word in memory that a reset does not clear ([`Kept`]). The next run takes it from
//! there, and the gauge stores it in its flash ([`Stops`]): a gauge that was unplugged since still tells.

use heapless::Vec;
use holdtrue_protocol::message::{ResetCause, Stop, StopCause};

use crate::remembered::Remembered;

/// How many stops are kept, the newest ones.
pub const KEPT: usize = 4;
/// Addresses kept of where a program stopped.
pub const TRAIL: usize = 4;

/// Addresses of where a program stopped, the innermost first.
pub type Trail = Vec<u32, TRAIL>;

/// What a run left behind that did not end as it should.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stopped {
    /// The run and when it was last alive; none where only the bite of the watchdog is known.
    pub last_alive: Option<(u32, u64)>,
    /// How it stopped.
    pub cause: StopCause,
    /// Where.
    pub trail: Trail,
}

const WORDS: usize = TRAIL_AT + TRAIL;
const MARK: u32 = 0x4854_5331;
const BOOT: usize = 0;
const AT_LOW: usize = 1;
const AT_HIGH: usize = 2;
const CAUSE: usize = 3;
const TRAIL_AT: usize = 4;
/// What stands for the cause while nothing has stopped.
const RUNNING: u32 = u32::MAX;
const CAUSES: [StopCause; 4] = [
    StopCause::Panic,
    StopCause::Fault,
    StopCause::MainLoop,
    StopCause::Converter,
];

/// Memory that a reset leaves as it is, and that after power came holds anything. Words alone, each as good as any other.
#[derive(Clone, Debug)]
#[repr(C)]
pub struct Kept {
    mark: u32,
    words: [u32; WORDS],
    sum: u32,
}

impl Kept {
    /// Nothing in it.
    pub const EMPTY: Self = Self {
        mark: 0,
        words: [0; WORDS],
        sum: 0,
    };

    /// Takes what the run before left, and empties it. Once, at the start.
    pub fn take(&mut self, reset: ResetCause) -> Option<Stopped> {
        let left = self.is_whole().then_some(self.words);
        *self = Self::EMPTY;
        let bitten = (reset == ResetCause::Watchdog).then_some(StopCause::MainLoop);
        let Some(words) = left else {
            return bitten.map(|cause| Stopped {
                last_alive: None,
                cause,
                trail: Trail::new(),
            });
        };
        let noted = CAUSES.get(words[CAUSE] as usize).copied();
        let trail = words[TRAIL_AT..].iter().copied();
        Some(Stopped {
            cause: noted.or(bitten)?,
            last_alive: Some((
                words[BOOT],
                u64::from(words[AT_HIGH]) << 32 | u64::from(words[AT_LOW]),
            )),
            trail: trail.take_while(|&address| address != 0).collect(),
        })
    }

    /// A run begins.
    pub fn begin(&mut self, boot: u32) {
        self.mark = MARK;
        self.words = [0; WORDS];
        self.words[BOOT] = boot;
        self.words[CAUSE] = RUNNING;
        self.sum = self.summed();
    }

    /// The main loop came round, and whether the watchdog was fed then. After the first time that it was not nothing is
    /// written any more: the watchdog may bite at any moment.
    pub fn alive(&mut self, at_us: u64, fed: bool) {
        if self.words[CAUSE] != RUNNING {
            return;
        }
        if !fed {
            return self.stop(StopCause::Converter, Trail::new());
        }
        #[expect(clippy::cast_possible_truncation, reason = "split into two words")]
        let [low, high] = [at_us as u32, (at_us >> 32) as u32];
        self.words[AT_LOW] = low;
        self.words[AT_HIGH] = high;
        self.sum = self.summed();
    }

    /// The run stops. What stopped it first stays.
    pub fn stop(&mut self, cause: StopCause, trail: Trail) {
        if self.words[CAUSE] != RUNNING {
            return;
        }
        self.words[CAUSE] = cause as u32;
        for (word, address) in self.words[TRAIL_AT..].iter_mut().zip(trail) {
            *word = address;
        }
        self.sum = self.summed();
    }

    fn is_whole(&self) -> bool {
        self.mark == MARK && self.sum == self.summed()
    }

    /// Cheap enough for every round of the main loop: it tells what a run wrote from what memory holds by chance.
    fn summed(&self) -> u32 {
        let words = self.words.iter();
        words.fold(MARK, |sum, &word| sum.rotate_left(5) ^ word)
    }
}

/// The history of stops.
pub type Stops = Remembered<Stop, KEPT>;

#[cfg(test)]
mod tests {
    use super::*;

    fn running() -> Kept {
        let mut kept = Kept::EMPTY;
        kept.begin(7);
        kept.alive(5 << 32 | 9, true);
        kept
    }

    fn trail(addresses: &[u32]) -> Trail {
        Trail::from_slice(addresses).unwrap()
    }

    #[test]
    fn a_loop_that_no_longer_comes_round_is_known_by_the_bite() {
        let mut kept = running();
        let stopped = kept.take(ResetCause::Watchdog).unwrap();
        assert_eq!(stopped.last_alive, Some((7, 5 << 32 | 9)));
        assert_eq!(stopped.cause, StopCause::MainLoop);
        assert!(stopped.trail.is_empty());
    }

    #[test]
    fn a_run_that_ended_otherwise_has_not_stopped() {
        for reset in [ResetCause::PowerOn, ResetCause::Requested] {
            assert_eq!(running().take(reset), None, "{reset:?}");
        }
    }

    #[test]
    fn what_stopped_first_is_told_whatever_came_after_it_and_told_once() {
        let mut kept = running();
        kept.stop(StopCause::Panic, trail(&[0x1000_0201, 0x1000_0401]));
        kept.stop(StopCause::Fault, trail(&[0x1000_0801]));
        kept.alive(u64::MAX, false);
        let stopped = kept.take(ResetCause::Watchdog).unwrap();
        assert_eq!(stopped.cause, StopCause::Panic);
        assert_eq!(stopped.last_alive, Some((7, 5 << 32 | 9)));
        assert_eq!(stopped.trail, [0x1000_0201, 0x1000_0401]);
        assert_eq!(kept.take(ResetCause::Requested), None);
    }

    #[test]
    fn a_watchdog_that_is_not_fed_bites_for_the_converter() {
        let mut kept = running();
        kept.alive(6 << 32, false);
        kept.alive(7 << 32, true);
        let stopped = kept.take(ResetCause::Watchdog).unwrap();
        assert_eq!(stopped.cause, StopCause::Converter);
        assert_eq!(stopped.last_alive, Some((7, 5 << 32 | 9)));
    }

    #[test]
    fn memory_that_holds_anything_tells_no_more_than_the_bite() {
        let mut kept = running();
        kept.words[AT_LOW] ^= 0x400;
        let mut anything = kept.clone();
        assert_eq!(anything.take(ResetCause::PowerOn), None);
        let stopped = kept.take(ResetCause::Watchdog).unwrap();
        assert_eq!(stopped.last_alive, None);
        assert_eq!(stopped.cause, StopCause::MainLoop);
    }

    #[test]
    fn the_longest_history_fits_its_record_and_the_newest_stay() {
        let mut stops = Stops::default();
        assert_eq!(stops.take_unsaved(), None);
        for number in 0..6 {
            stops.note(Stop {
                boot: u32::MAX - number,
                at_us: u64::MAX,
                build: u32::MAX,
                cause: StopCause::Converter,
                trail: trail(&[u32::MAX; TRAIL]),
            });
        }
        let saved = stops.take_unsaved().unwrap();
        let back: Vec<Stop, KEPT> = postcard::from_bytes(&saved).unwrap();
        assert_eq!(&back, stops.history());
        assert_eq!(back.last().unwrap().boot, u32::MAX - 5);
        assert_eq!(stops.take_unsaved(), None);
    }
}
