//! The gauge's zero beside a clamp.
//!
//! In come the trace and the feet of a clamp and its neighbours; out goes the reading of the free gauge before and
//! after, or the reason why a side has none.

use super::edges::{Edges, Levels, Trace};

/// Longest stretch a zero is averaged over.
const LENGTH_S: f64 = 0.5;
/// A zero keeps this far from a rising foot …
const BEFORE_RISE_S: f64 = 0.2;
/// … and this far from a falling foot, where the push-out is.
const AFTER_FALL_S: f64 = 0.5;
/// A shorter stretch is no zero.
const SHORTEST_S: f64 = 0.1;
/// Nor is one of fewer samples.
const FEWEST_SAMPLES: usize = 5;
/// A zero may wander by this multiple of the noise …
const WANDER_NOISE_MULTIPLE: f64 = 8.0;
/// … or by this share of the clamp's own level, whichever is more.
const WANDER_SHARE: f64 = 0.01;
/// Farther from the base than this share of the own level, the gauge is not free.
const LOADED_SHARE: f64 = 0.05;

/// A zero reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Zero {
    /// Mean time of its samples, s.
    pub at_s: f64,
    /// Mean of its samples, N.
    pub mean_n: f64,
    /// How many they are.
    pub samples: usize,
}

/// Why a side has no zero, in a technician's words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoZero {
    /// Too little time, or too few samples.
    NoTime,
    /// Samples are missing in it, or the gauge was faulty.
    Gap,
    /// The reading does not stand still.
    Unsteady,
    /// The reading is steady but too far from the base.
    Loaded,
}

impl NoZero {
    /// The reason as a person reads it.
    pub fn words(self) -> &'static str {
        match self {
            Self::NoTime => "the gauge was not free long enough",
            Self::Gap => "samples are missing there",
            Self::Unsteady => "the reading does not stand still",
            Self::Loaded => "the gauge was not free (push-out, or left hanging)",
        }
    }
}

/// The zeros of one clamp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Zeros {
    /// Before the clamp.
    pub before: Result<Zero, NoZero>,
    /// After it.
    pub after: Result<Zero, NoZero>,
    /// The zero before was taken nearer to the previous clamp than usual, because the clamps follow one another fast.
    pub hurried: bool,
}

impl Zeros {
    /// The zero at a moment, N: interpolated linearly between both sides, or that of the only side. `None` without any.
    pub fn at(&self, time_s: f64) -> Option<f64> {
        match (self.before, self.after) {
            (Ok(before), Ok(after)) => {
                let share = (time_s - before.at_s) / (after.at_s - before.at_s);
                Some(before.mean_n + share * (after.mean_n - before.mean_n))
            }
            (Ok(only), Err(_)) | (Err(_), Ok(only)) => Some(only.mean_n),
            (Err(_), Err(_)) => None,
        }
    }

    /// Variance of the zero in the middle of a clamp per variance of one sample.
    pub(super) fn variance_share(&self) -> f64 {
        let of = |zero: Zero| 1.0 / zero.samples as f64;
        match (self.before, self.after) {
            (Ok(before), Ok(after)) => 0.25 * (of(before) + of(after)),
            (Ok(only), Err(_)) | (Err(_), Ok(only)) => of(only),
            (Err(_), Err(_)) => 0.0,
        }
    }

    /// How far the zero moved over the clamp, N, where both sides are known.
    pub fn moved_n(&self) -> Option<f64> {
        Some(self.after.ok()?.mean_n - self.before.ok()?.mean_n)
    }
}

/// Zero before: up to 0.5 s ending 0.2 s before the rising foot. After: up to 0.5 s from 0.5 s after the falling foot.
/// Neither nearer than that to a neighbour's foot: 0.5 s after a falling one, 0.2 s before a rising one. A clamp that
/// would have no zero at all for want of time may take the one before from 0.2 s after its neighbour's fall on: the
/// tests for a steady and free gauge still hold there.
pub(super) fn zeros(
    trace: &Trace<'_>,
    levels: &Levels,
    clamp: &Edges,
    before: Option<&Edges>,
    after: Option<&Edges>,
) -> Zeros {
    let side = |from_s: f64, to_s: f64| zero(trace, levels, clamp.own_level_n, from_s, to_s);
    let start_s = trace.time_s[0];
    let end_s = trace.time_s[trace.time_s.len() - 1];

    let rise_s = clamp.rising_foot_s - BEFORE_RISE_S;
    let not_before =
        |distance_s: f64| before.map_or(start_s, |other| other.falling_foot_s + distance_s);
    let fall_s = clamp.falling_foot_s + AFTER_FALL_S;
    let not_after = after.map_or(end_s, |other| other.rising_foot_s - BEFORE_RISE_S);

    let mut zeros = Zeros {
        before: clamp.clamped_s.map_or(Err(NoZero::NoTime), |_| {
            side((rise_s - LENGTH_S).max(not_before(AFTER_FALL_S)), rise_s)
        }),
        after: clamp.released_s.map_or(Err(NoZero::NoTime), |_| {
            side(fall_s, (fall_s + LENGTH_S).min(not_after))
        }),
        hurried: false,
    };
    let none = zeros.before.is_err() && zeros.after.is_err();
    if none && zeros.before == Err(NoZero::NoTime) && clamp.clamped_s.is_some() && before.is_some()
    {
        zeros.before = side((rise_s - LENGTH_S).max(not_before(BEFORE_RISE_S)), rise_s);
        zeros.hurried = zeros.before.is_ok();
    }
    zeros
}

fn zero(
    trace: &Trace<'_>,
    levels: &Levels,
    own_level_n: f64,
    from_s: f64,
    to_s: f64,
) -> Result<Zero, NoZero> {
    let from_s = from_s.max(trace.time_s[0]);
    let to_s = to_s.min(trace.time_s[trace.time_s.len() - 1]);
    let samples = trace.samples_within(from_s, to_s);
    // A stretch of exactly 0.1 s must not be lost to the last bit of a subtraction.
    if to_s - from_s < SHORTEST_S - 1e-9 || samples.len() < FEWEST_SAMPLES {
        return Err(NoZero::NoTime);
    }
    if trace.broken(from_s, to_s) {
        return Err(NoZero::Gap);
    }
    let smooth = &trace.smooth_n[samples.clone()];
    let highest = smooth.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let lowest = smooth.iter().copied().fold(f64::INFINITY, f64::min);
    if highest - lowest > (WANDER_NOISE_MULTIPLE * trace.noise_n).max(WANDER_SHARE * own_level_n) {
        return Err(NoZero::Unsteady);
    }
    let mean_n = crate::statistics::mean(&trace.force_n[samples.clone()]);
    if (mean_n - levels.base_n).abs() > LOADED_SHARE * own_level_n {
        return Err(NoZero::Loaded);
    }
    Ok(Zero {
        at_s: crate::statistics::mean(&trace.time_s[samples.clone()]),
        mean_n,
        samples: samples.len(),
    })
}
