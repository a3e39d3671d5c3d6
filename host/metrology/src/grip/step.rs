//! What is happening at the gauge right now.
//!
//! In come samples one by one; out go the step the technician is in, and the moments at which it is worth looking
//! whether a clamp was released. Only for guidance: no figure is taken from here.

use super::levels::{Levels, thresholds};
use super::record::Sample;
use crate::statistics;
use std::collections::VecDeque;

/// The smoothing follows the step of this many first samples.
const SETTLING_IN: usize = 32;
/// Until then, and at least this long, the reading is taken for that of the free gauge.
const FREE_AT_FIRST_S: f64 = 0.3;
/// Hold this long, then unclamp …
pub(super) const HOLD_S: f64 = 5.0;
/// … and one clamp of a check this long: only then it shows whether the force drops.
pub(super) const LONG_HOLD_S: f64 = 30.0;
/// A slow clamp is held on while its force climbs by more than this share of it a second …
const STILL_RISING_PER_S: f64 = 0.005;
/// … but not for ever.
const RISES_AT_MOST_S: f64 = 60.0;
/// Leave the gauge free this long after the release.
pub(super) const FREE_AFTER_S: f64 = 1.5;
/// What sets in earlier and stays under this share of the highest force is no clamp: something pulls at the gauge.
pub(super) const REST_SHARE: f64 = 0.10;
/// The force still rises if it reached a new height by this share of it within `RISING_S`.
const RISING_SHARE: f64 = 0.05;
/// See there.
const RISING_S: f64 = 0.15;
/// A fall by this share of the smallest clamp's threshold is worth a look: a release is never less.
const FALL_SHARE: f64 = 0.3;
/// A rise, and a gauge at rest, show over this time …
const WATCHED_S: f64 = 1.0;
/// … looked at in steps of this.
const WATCHED_EVERY_S: f64 = 0.02;
/// A pause farther than this from the free gauge, N, is one in which it rests on something …
const FREE_BOUND_N: f64 = 25.0;
/// … or than this share of the highest force, or this multiple of the noise, whichever is most.
const FREE_BOUND_SHARE: f64 = 0.005;
/// See there.
const FREE_BOUND_NOISE: f64 = 8.0;
/// A gauge that never comes to rest is not waited for any longer than this at the beginning.
const FREE_SEEN_BY_S: f64 = 5.0;
/// Look when a fall has come to rest …
const LOOK_AFTER_LAST_S: f64 = 0.5;
/// … or has gone on for this long.
const LOOK_AFTER_FIRST_S: f64 = 1.0;

/// The step the technician is in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// The gauge is free: clamp.
    Free,
    /// Nothing holds it, and yet it reads far from what it read when it hung free: it rests on something, or something
    /// pulls at it.
    Resting {
        /// What it reads above that, N.
        reads_n: f64,
    },
    /// The force is rising.
    Rising,
    /// Clamped: hold.
    Hold {
        /// Since when, s.
        held_s: f64,
    },
    /// Held long enough, but the force has not settled yet: hold longer.
    StillRising {
        /// Since when it is held, s.
        held_s: f64,
    },
    /// Held long enough: unclamp.
    Unclamp {
        /// Since when it is held, s.
        held_s: f64,
    },
    /// Released: leave the gauge free.
    WaitFree {
        /// For how long yet, s.
        left_s: f64,
    },
    /// All clamps asked for are in.
    Done,
}

/// Follows the force sample by sample; what it says depends on the samples alone, not on how they arrive.
#[derive(Clone, Debug, Default)]
pub(super) struct Follower {
    first: Vec<Sample>,
    smoother: Option<Smoother>,
    now_s: f64,
    level_n: f64,
    base_n: f64,
    noise_n: f64,
    highest_n: f64,
    lowest_n: f64,
    /// Highest level since the last fall.
    crest_n: f64,
    first_fall_s: Option<f64>,
    last_fall_s: f64,
    pull: Option<Pull>,
    free_since_s: Option<f64>,
    recent: Recent,
    begun_s: Option<f64>,
    /// What it read when it was last seen free, N.
    free_n: Option<f64>,
}

/// A clamp under way.
#[derive(Clone, Debug)]
struct Pull {
    /// New heights: when, and how high. The last one is the highest.
    heights: Vec<(f64, f64)>,
    /// When the height last grew by a share worth a word.
    rising_s: f64,
    rising_n: f64,
    /// It set in before the gauge had been free long enough.
    unasked: bool,
}

impl Follower {
    /// Takes the next sample.
    pub fn follow(&mut self, sample: Sample) {
        self.now_s = sample.time_s;
        let Some(smoother) = self.smoother.as_mut() else {
            return self.settle_in(sample);
        };
        self.level_n = smoother.next(sample.force_n);
        self.highest_n = self.highest_n.max(self.level_n);
        self.lowest_n = self.lowest_n.min(self.level_n);
        self.recent.take(self.now_s, self.level_n);
        self.follow_falls();
        self.follow_pull();
        self.follow_free();
    }

    fn settle_in(&mut self, sample: Sample) {
        self.begun_s.get_or_insert(sample.time_s);
        self.first.push(sample);
        let begun = self.first[0].time_s;
        if self.first.len() < SETTLING_IN || sample.time_s - begun < FREE_AT_FIRST_S {
            return;
        }
        let steps: Vec<f64> = self
            .first
            .windows(2)
            .map(|pair| pair[1].time_s - pair[0].time_s)
            .collect();
        let forces: Vec<f64> = self.first.iter().map(|sample| sample.force_n).collect();
        let mut smoother =
            Smoother::new(super::trace::smoothing_samples(statistics::median(&steps)));
        for &force in &forces {
            self.level_n = smoother.next(force);
        }
        self.base_n = statistics::median(&forces);
        self.noise_n = statistics::noise(&forces);
        (self.highest_n, self.lowest_n) =
            (self.base_n.max(self.level_n), self.base_n.min(self.level_n));
        self.crest_n = self.highest_n;
        self.smoother = Some(smoother);
        self.first = Vec::new();
    }

    fn follow_falls(&mut self) {
        let (begin, _) = thresholds(self.noise_n, self.highest_n - self.lowest_n);
        if self.level_n < self.crest_n - FALL_SHARE * begin {
            self.crest_n = self.level_n;
            self.last_fall_s = self.now_s;
            self.first_fall_s.get_or_insert(self.now_s);
        }
        self.crest_n = self.crest_n.max(self.level_n);
    }

    fn follow_pull(&mut self) {
        let (begin, end) = thresholds(self.noise_n, self.highest_n - self.base_n);
        let load = self.level_n - self.base_n;
        let unasked = self.wait_free_s() > 0.0;
        match &mut self.pull {
            None if load > begin => {
                self.pull = Some(Pull {
                    heights: vec![(self.now_s, load)],
                    rising_s: self.now_s,
                    rising_n: load,
                    unasked,
                });
            }
            Some(_) if load < end => {
                self.pull = None;
                self.free_since_s = Some(self.now_s);
            }
            Some(pull) => pull.follow(self.now_s, load),
            None => {}
        }
    }

    /// The free gauge may drift: what it reads is that of the last pause in which it stood still near the one before.
    fn follow_free(&mut self) {
        let Some(now_n) = self.at_rest() else { return };
        if self
            .free_n
            .is_none_or(|free_n| (now_n - free_n).abs() <= self.free_bound_n())
        {
            self.free_n = Some(now_n);
        }
    }

    /// What the gauge reads while nothing holds it and it stands still.
    fn at_rest(&self) -> Option<f64> {
        let free = self.pull.is_none() && self.wait_free_s() <= 0.0;
        let still = |recent: &Recent| recent.range_n() <= self.free_bound_n();
        (free && self.recent.is_full() && still(&self.recent)).then(|| self.recent.mean_n())
    }

    fn free_bound_n(&self) -> f64 {
        FREE_BOUND_N
            .max(FREE_BOUND_NOISE * self.noise_n)
            .max(FREE_BOUND_SHARE * (self.highest_n - self.base_n))
    }

    /// For how long yet the gauge is to be left free.
    fn wait_free_s(&self) -> f64 {
        self.free_since_s
            .map_or(0.0, |since_s| since_s + FREE_AFTER_S - self.now_s)
    }

    /// Whether a fall has come to rest or gone on long enough to be looked at.
    pub fn wants_a_look(&self) -> bool {
        self.first_fall_s.is_some_and(|first| {
            self.now_s >= self.last_fall_s + LOOK_AFTER_LAST_S
                || self.now_s >= first + LOOK_AFTER_FIRST_S
        })
    }

    /// A look was taken. What it found corrects base and noise.
    pub fn looked(&mut self, levels: Option<(&Levels, f64)>) {
        self.first_fall_s = None;
        if let Some((levels, noise_n)) = levels {
            self.base_n = levels.base_n;
            self.noise_n = noise_n;
            // A check begun on a clamped gauge has not seen it free.
            let half_n = 0.5 * levels.reference_n;
            self.free_n = self.free_n.filter(|free_n| free_n - levels.base_n < half_n);
        }
    }

    /// The step of now, where a clamp is to be held for `hold_s`.
    pub fn step(&self, hold_s: f64) -> Step {
        if let Some(pull) = &self.pull {
            if pull.is_weak_and_unasked(self.highest_n - self.base_n) {
                return self.pulled_at();
            }
            let rises = self.recent.climb_n_per_s() > STILL_RISING_PER_S * self.load_n();
            return pull.step(self.now_s, hold_s, rises);
        }
        let left_s = self.wait_free_s();
        if left_s > 0.0 {
            return Step::WaitFree { left_s };
        }
        match (self.free_n, self.at_rest()) {
            (Some(free_n), Some(now_n)) if (now_n - free_n).abs() > self.free_bound_n() => {
                Step::Resting {
                    reads_n: now_n - free_n,
                }
            }
            (None, _) => self.look_at_free(),
            _ => Step::Free,
        }
    }

    /// Something pulls at the gauge that is no clamp: asked about once it stands still.
    fn pulled_at(&self) -> Step {
        let still = self.recent.is_full() && self.recent.range_n() <= self.free_bound_n();
        if still {
            let free_n = self.free_n.unwrap_or(self.base_n);
            Step::Resting {
                reads_n: self.recent.mean_n() - free_n,
            }
        } else {
            Step::WaitFree {
                left_s: WATCHED_EVERY_S,
            }
        }
    }

    /// At the beginning the gauge is to be seen free for a moment.
    fn look_at_free(&self) -> Step {
        let since_s = self.begun_s.map_or(0.0, |begun_s| self.now_s - begun_s);
        if since_s > FREE_SEEN_BY_S {
            return Step::Free;
        }
        Step::WaitFree {
            left_s: (WATCHED_S - since_s).max(WATCHED_EVERY_S),
        }
    }

    /// The smoothed force above the reading of the free gauge, N.
    pub fn load_n(&self) -> f64 {
        if self.smoother.is_some() {
            self.level_n - self.base_n
        } else {
            0.0
        }
    }
}

impl Pull {
    fn follow(&mut self, now_s: f64, load: f64) {
        if self
            .heights
            .last()
            .is_some_and(|(_, highest)| load > *highest)
        {
            self.heights.push((now_s, load));
        }
        if load > self.rising_n * (1.0 + RISING_SHARE) {
            (self.rising_s, self.rising_n) = (now_s, load);
        }
    }

    fn is_weak_and_unasked(&self, reference_n: f64) -> bool {
        let highest_n = self.heights.last().map_or(0.0, |(_, height)| *height);
        self.unasked && highest_n < REST_SHARE * reference_n
    }

    fn step(&self, now_s: f64, hold_s: f64, rises: bool) -> Step {
        if now_s - self.rising_s < RISING_S {
            return Step::Rising;
        }
        let half = 0.5 * self.heights.last().map_or(0.0, |(_, highest)| *highest);
        let clamped = self.heights.partition_point(|(_, height)| *height < half);
        let held_s = now_s - self.heights.get(clamped).map_or(now_s, |(time, _)| *time);
        if held_s < hold_s {
            Step::Hold { held_s }
        } else if rises && held_s < RISES_AT_MOST_S {
            Step::StillRising { held_s }
        } else {
            Step::Unclamp { held_s }
        }
    }
}

/// Where the smoothed force stood of late.
#[derive(Clone, Debug, Default)]
struct Recent(VecDeque<(f64, f64)>);

impl Recent {
    fn take(&mut self, now_s: f64, level_n: f64) {
        let due = |(last_s, _): &(f64, f64)| now_s >= last_s + WATCHED_EVERY_S;
        if self.0.back().is_none_or(due) {
            self.0.push_back((now_s, level_n));
        }
        let old = |(first_s, _): &(f64, f64)| *first_s < now_s - WATCHED_S;
        while self.0.front().is_some_and(old) {
            self.0.pop_front();
        }
    }

    /// Whether it reaches back far enough, without a hole in the middle.
    fn is_full(&self) -> bool {
        let ends = self.0.front().zip(self.0.back());
        self.0.len() > 4 && ends.is_some_and(|(first, last)| last.0 - first.0 > 0.9 * WATCHED_S)
    }

    fn mean_n(&self) -> f64 {
        mean_n(self.0.iter())
    }

    fn range_n(&self) -> f64 {
        let levels = || self.0.iter().map(|(_, level_n)| *level_n);
        levels().fold(f64::NEG_INFINITY, f64::max) - levels().fold(f64::INFINITY, f64::min)
    }

    /// From its first half to its second; nothing where it does not reach back far enough.
    fn climb_n_per_s(&self) -> f64 {
        if !self.is_full() {
            return 0.0;
        }
        let half = self.0.len() / 2;
        let climb_n = mean_n(self.0.iter().skip(half)) - mean_n(self.0.iter().take(half));
        climb_n / (0.5 * WATCHED_S)
    }
}

fn mean_n<'a>(levels: impl ExactSizeIterator<Item = &'a (f64, f64)>) -> f64 {
    let count = levels.len() as f64;
    levels.map(|(_, level_n)| level_n).sum::<f64>() / count
}

/// Median of the last samples.
#[derive(Clone, Debug)]
struct Smoother {
    length: usize,
    recent: VecDeque<f64>,
    sorted: Vec<f64>,
}

impl Smoother {
    fn new(length: usize) -> Self {
        Self {
            length,
            recent: VecDeque::new(),
            sorted: Vec::new(),
        }
    }

    fn next(&mut self, value: f64) -> f64 {
        let place = |sorted: &[f64], value: f64| {
            sorted.partition_point(|other| other.total_cmp(&value).is_lt())
        };
        if self.recent.len() == self.length
            && let Some(oldest) = self.recent.pop_front()
        {
            self.sorted.remove(place(&self.sorted, oldest));
        }
        self.recent.push_back(value);
        self.sorted.insert(place(&self.sorted, value), value);
        self.sorted[self.sorted.len() / 2]
    }
}
