//! One loading on a check standard of known force. In: samples of the gauge. Out: what it reads on the standard, less its
//! free zero before and after, and how far the loading has come.
//!
//! Everything is looked at in means of a tenth of a second: five whole periods of 50 Hz mains, six of 60 Hz, so that hum
//! is in none of them. What counts as settled is common practice, no source.

use crate::statistics::mean;
use serde::{Deserialize, Serialize};
use std::collections::VecDeque;

/// Length of a mean, s.
const PART_S: f64 = 0.1;
/// A zero is the mean of so many parts, a reading of so many.
const ZERO_PARTS: usize = 10;
const READING_PARTS: usize = 20;
/// Parts before the load came that may already hold the hand that puts it on.
const HAND_PARTS: usize = 3;
/// The load is on above this share of it, and off below the other.
const ON: f64 = 0.2;
const OFF: f64 = 0.05;
/// Settled: both halves of a stretch agree within this share of the load, and no part is farther off than the other.
const HALVES_AGREE: f64 = 0.001;
const PARTS_AGREE: f64 = 0.01;

/// What was read.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Read {
    /// Settled mean less the zeros before and after, N.
    pub reading_n: f64,
    /// The same, counts.
    pub reading_counts: f64,
    /// Gauge free before, N.
    pub zero_before_n: f64,
    /// And after.
    pub zero_after_n: f64,
}

/// The mean of a tenth of a second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// Force, N.
    pub force_n: f64,
    /// The same, counts.
    pub counts: f64,
}

/// Samples of the part under way.
#[derive(Debug, Default)]
pub struct Parts {
    began_s: Option<f64>,
    forces_n: Vec<f64>,
    counts: Vec<f64>,
}

impl Parts {
    /// Takes a sample; the part before it, where one is whole.
    pub fn push(&mut self, at_s: f64, force_n: f64, counts: f64) -> Option<Part> {
        let began_s = *self.began_s.get_or_insert(at_s);
        let whole = (at_s - began_s >= PART_S && !self.forces_n.is_empty()).then(|| {
            let part = Part {
                force_n: mean(&self.forces_n),
                counts: mean(&self.counts),
            };
            self.forces_n.clear();
            self.counts.clear();
            // From where it should have begun, so that parts do not creep away from whole periods.
            self.began_s = Some(began_s + PART_S);
            part
        });
        self.forces_n.push(force_n);
        self.counts.push(counts);
        whole
    }
}

/// What comes next, or that it is over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// The zero is taken: the load goes on.
    PutOn,
    /// It is on: hands off.
    StandStill,
    /// It came off before it had settled.
    CameOff,
    /// It is read, N: off again.
    TakeOff(f64),
    /// A load came on and reads the wrong way, N.
    Downwards(f64),
    /// Free again.
    Done(Read),
}

/// What the gauge is doing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Phase {
    /// Nothing touches it: its zero is taken.
    Free,
    /// The load is to come.
    Waiting,
    /// It is on, and not settled yet.
    Loaded,
    /// It is read, and to come off.
    Unloading(Part),
}

/// One loading, part by part.
#[derive(Debug)]
pub struct Loading {
    load_n: f64,
    phase: Phase,
    recent: VecDeque<Part>,
    before: Option<Part>,
    idle_s: f64,
}

impl Loading {
    /// Of a standard that gives this force, N.
    pub fn new(load_n: f64) -> Self {
        Self {
            load_n,
            phase: Phase::Free,
            recent: VecDeque::new(),
            before: None,
            idle_s: 0.0,
        }
    }

    /// How far it has come.
    pub fn phase(&self) -> Phase {
        self.phase
    }

    /// The zero before, once it is taken.
    pub fn zero(&self) -> Option<Part> {
        self.before
    }

    /// How long nothing has changed, s.
    pub fn idle_s(&self) -> f64 {
        self.idle_s
    }

    /// Takes the next part; says so where it goes on.
    pub fn push(&mut self, part: Part) -> Option<Step> {
        self.idle_s += PART_S;
        self.recent.push_back(part);
        if self.recent.len() > READING_PARTS {
            self.recent.pop_front();
        }
        match self.phase {
            Phase::Free => {
                self.before = Some(self.settled(ZERO_PARTS)?);
                self.go_to(Phase::Waiting, Step::PutOn)
            }
            Phase::Waiting => self.wait(part),
            Phase::Loaded => self.weigh(part),
            Phase::Unloading(on) => self.come_free(on),
        }
    }

    /// The zero before is the newest that the hand with the load has not touched.
    fn wait(&mut self, part: Part) -> Option<Step> {
        let before = self.before?;
        if part.force_n - before.force_n > ON * self.load_n {
            return self.go_to(Phase::Loaded, Step::StandStill);
        }
        let untouched = self.recent.len().saturating_sub(HAND_PARTS);
        let parts = self.recent.iter().take(untouched).copied();
        let newest: Vec<Part> = parts.collect();
        let zero = self.agree(newest.get(untouched.saturating_sub(ZERO_PARTS)..)?)?;
        let moved_n = zero.force_n - before.force_n;
        if moved_n < -ON * self.load_n {
            return Some(Step::Downwards(moved_n));
        }
        self.before = Some(zero);
        None
    }

    fn weigh(&mut self, part: Part) -> Option<Step> {
        let before = self.before?;
        if part.force_n - before.force_n < ON * self.load_n {
            return self.go_to(Phase::Waiting, Step::CameOff);
        }
        let on = self.settled(READING_PARTS)?;
        let read_n = on.force_n - before.force_n;
        self.go_to(Phase::Unloading(on), Step::TakeOff(read_n))
    }

    fn come_free(&mut self, on: Part) -> Option<Step> {
        let before = self.before?;
        let after = self.settled(ZERO_PARTS)?;
        if (after.force_n - before.force_n).abs() > OFF * self.load_n {
            return None;
        }
        Some(Step::Done(Read {
            reading_n: on.force_n - f64::midpoint(before.force_n, after.force_n),
            reading_counts: on.counts - f64::midpoint(before.counts, after.counts),
            zero_before_n: before.force_n,
            zero_after_n: after.force_n,
        }))
    }

    fn go_to(&mut self, phase: Phase, step: Step) -> Option<Step> {
        self.phase = phase;
        self.recent.clear();
        self.idle_s = 0.0;
        Some(step)
    }

    /// The mean of the newest parts, if they agree.
    fn settled(&self, parts: usize) -> Option<Part> {
        let first = self.recent.len().checked_sub(parts)?;
        let newest: Vec<Part> = self.recent.iter().skip(first).copied().collect();
        self.agree(&newest)
    }

    fn agree(&self, parts: &[Part]) -> Option<Part> {
        if parts.len() < ZERO_PARTS {
            return None;
        }
        let forces_n: Vec<f64> = parts.iter().map(|part| part.force_n).collect();
        let counts: Vec<f64> = parts.iter().map(|part| part.counts).collect();
        let (first, second) = forces_n.split_at(forces_n.len() / 2);
        let middle_n = mean(&forces_n);
        let halves = (mean(first) - mean(second)).abs() <= HALVES_AGREE * self.load_n;
        let whole = forces_n
            .iter()
            .all(|force_n| (force_n - middle_n).abs() <= PARTS_AGREE * self.load_n);
        (halves && whole).then(|| Part {
            force_n: middle_n,
            counts: mean(&counts),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Forces held for so many parts each, the gauge's zero at 40 N and 100 counts a newton.
    fn steps(loads: &[(f64, usize)]) -> Vec<Step> {
        let mut loading = Loading::new(5_000.0);
        let forces = loads
            .iter()
            .flat_map(|(force_n, parts)| std::iter::repeat_n(40.0 + force_n, *parts));
        forces
            .filter_map(|force_n| {
                loading.push(Part {
                    force_n,
                    counts: 100.0 * force_n,
                })
            })
            .collect()
    }

    fn reading_n(steps: &[Step]) -> f64 {
        let Some(Step::Done(read)) = steps.last() else {
            panic!("not done: {steps:?}")
        };
        assert!((read.reading_counts - 100.0 * read.reading_n).abs() < 1e-6);
        read.reading_n
    }

    #[test]
    fn a_load_that_stands_still_is_read_less_the_zeros() {
        let steps = steps(&[(0.0, 20), (2_500.0, 3), (5_010.0, 30), (4.0, 20)]);
        // The zeros are 40 N before and 44 N after.
        assert!((reading_n(&steps) - 5_008.0).abs() < 1e-9);
        assert_eq!(
            steps[..2],
            [Step::PutOn, Step::StandStill],
            "told in this order"
        );
    }

    #[test]
    fn a_load_that_comes_off_too_soon_is_asked_for_again() {
        let steps = steps(&[
            (0.0, 20),
            (5_010.0, 10),
            (0.0, 20),
            (5_000.0, 30),
            (0.0, 20),
        ]);
        assert!(steps.contains(&Step::CameOff), "{steps:?}");
        assert!((reading_n(&steps) - 5_000.0).abs() < 1e-9);
    }

    #[test]
    fn a_load_that_reads_downwards_is_no_zero() {
        let steps = steps(&[(0.0, 20), (-2_500.0, 3), (-5_010.0, 30)]);
        let [Step::PutOn, Step::Downwards(read_n), ..] = steps[..] else {
            panic!("{steps:?}")
        };
        assert!((read_n + 5_010.0).abs() < 1e-9);
    }

    #[test]
    fn a_load_that_creeps_or_swings_is_not_read() {
        let creeping: Vec<(f64, usize)> = (0..200)
            .map(|n| (4_000.0 + 2.0 * f64::from(n), 1))
            .collect();
        let swinging: Vec<(f64, usize)> = (0..200)
            .map(|n| (if n % 2 == 0 { 4_900.0 } else { 5_100.0 }, 1))
            .collect();
        for moving in [creeping, swinging] {
            let all = steps(&[vec![(0.0, 20)], moving].concat());
            assert_eq!(all, [Step::PutOn, Step::StandStill]);
        }
    }

    #[test]
    fn the_zero_before_is_the_newest_one() {
        let steps = steps(&[(0.0, 20), (12.0, 20), (5_012.0, 30), (12.0, 20)]);
        assert!((reading_n(&steps) - 5_000.0).abs() < 1e-9);
    }

    /// 50 and 60 Hz of 30 N, sampled a thousand times a second.
    #[test]
    fn hum_of_the_mains_is_in_no_part() {
        for mains_hz in [50.0, 60.0] {
            let mut parts = Parts::default();
            for sample in 0..2_000 {
                let at_s = f64::from(sample) / 1_000.0;
                let hum_n = 30.0 * (std::f64::consts::TAU * mains_hz * at_s).sin();
                if let Some(part) = parts.push(at_s, 5_000.0 + hum_n, 0.0) {
                    assert!((part.force_n - 5_000.0).abs() < 0.4, "{part:?}");
                }
            }
        }
    }
}
