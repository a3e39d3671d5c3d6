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
/// Hold this long, then unclamp.
const HOLD_S: f64 = 5.0;
/// Leave the gauge free this long after the release.
pub(super) const FREE_AFTER_S: f64 = 1.5;
/// The force still rises if it reached a new height by this share of it within `RISING_S`.
const RISING_SHARE: f64 = 0.05;
/// See there.
const RISING_S: f64 = 0.15;
/// A fall by this share of the smallest clamp's threshold is worth a look: a release is never less.
const FALL_SHARE: f64 = 0.3;
/// Look when a fall has come to rest …
const LOOK_AFTER_LAST_S: f64 = 0.5;
/// … or has gone on for this long.
const LOOK_AFTER_FIRST_S: f64 = 1.0;

/// The step the technician is in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// The gauge is free: clamp.
    Free,
    /// The force is rising.
    Rising,
    /// Clamped: hold.
    Hold {
        /// Since when, s.
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
}

/// A clamp under way.
#[derive(Clone, Debug)]
struct Pull {
    /// New heights: when, and how high. The last one is the highest.
    heights: Vec<(f64, f64)>,
    /// When the height last grew by a share worth a word.
    rising_s: f64,
    rising_n: f64,
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
        self.follow_falls();
        self.follow_pull();
    }

    fn settle_in(&mut self, sample: Sample) {
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
        match &mut self.pull {
            None if load > begin => {
                self.pull = Some(Pull {
                    heights: vec![(self.now_s, load)],
                    rising_s: self.now_s,
                    rising_n: load,
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
        }
    }

    /// The step of now.
    pub fn step(&self) -> Step {
        if let Some(pull) = &self.pull {
            return pull.step(self.now_s);
        }
        match self
            .free_since_s
            .map(|since| since + FREE_AFTER_S - self.now_s)
        {
            Some(left_s) if left_s > 0.0 => Step::WaitFree { left_s },
            _ => Step::Free,
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

    fn step(&self, now_s: f64) -> Step {
        if now_s - self.rising_s < RISING_S {
            return Step::Rising;
        }
        let half = 0.5 * self.heights.last().map_or(0.0, |(_, highest)| *highest);
        let clamped = self.heights.partition_point(|(_, height)| *height < half);
        let held_s = now_s - self.heights.get(clamped).map_or(now_s, |(time, _)| *time);
        if held_s < HOLD_S {
            Step::Hold { held_s }
        } else {
            Step::Unclamp { held_s }
        }
    }
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
