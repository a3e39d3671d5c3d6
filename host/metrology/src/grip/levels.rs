//! The levels clamps are told by.
//!
//! In comes a trace; out go the reading of the free gauge, the reference and the thresholds, or the reason why no clamp
//! can be looked for.

use super::record::ForceRecord;
use super::trace::Trace;
use crate::statistics;
use std::ops::Range;
use thiserror::Error;

/// Smallest force that can be told from no force.
const LEAST_FORCE_N: f64 = 100.0;
/// The same in multiples of the noise.
const LEAST_NOISE_MULTIPLE: f64 = 8.0;
/// A clamp begins this share of the reference above the base …
const BEGIN_SHARE: f64 = 0.05;
/// … and ends at this share of that threshold, so that one clamp is not split by a drop in its hold.
const END_SHARE: f64 = 0.6;
/// A record holds a level at its end where it spans no more than this share of the held levels …
const STEADY_SHARE: f64 = 0.01;
/// A reading this near to 0 N, as a share of the reference, is that of a free gauge set to zero …
const NEAR_ZERO_SHARE: f64 = 0.005;
/// … or within this multiple of the noise, whichever is more.
const STEADY_NOISE_MULTIPLE: f64 = 8.0;

/// Why no clamp could be looked for, or none was found.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoClamp {
    /// Nothing is held long enough to have a level.
    #[error(
        "the force record is too short: {samples} samples over {length_s:.3} s, and a level shows only when it is held for 0.25 s; \
         record from before the clamp to 1.5 s after the release"
    )]
    TooShort {
        /// Number of samples.
        samples: usize,
        /// From the first to the last, s.
        length_s: f64,
    },
    /// The force hardly changes.
    #[error(
        "no clamp in the force record: the held force changes by {span_n:.0} N, and a clamp needs at least {needed_n:.0} N \
         (100 N or 8 times the noise of {noise_n:.1} N); was the gauge clamped, and is the unit right?"
    )]
    Flat {
        /// Highest less lowest held level, or reference, whichever is less, N.
        span_n: f64,
        /// What it must reach, N.
        needed_n: f64,
        /// Noise of the record, N.
        noise_n: f64,
    },
    /// No force is held long enough to have a level.
    #[error(
        "no clamp in the force record: {samples} samples over {length_s:.3} s, and no force in it is held for 0.25 s; are its times \
         in seconds?"
    )]
    NothingHeld {
        /// Number of samples.
        samples: usize,
        /// From the first to the last, s.
        length_s: f64,
    },
    /// A pull reads downwards.
    #[error(
        "the force is held between {lowest_n:.0} N and {highest_n:.0} N, half-way below zero: is its sign reversed?"
    )]
    UpsideDown {
        /// Lowest held level, N.
        lowest_n: f64,
        /// Highest held level, N.
        highest_n: f64,
    },
}

/// Smallest force that can be told from no force, N.
pub(super) fn least_force(noise_n: f64) -> f64 {
    LEAST_FORCE_N.max(LEAST_NOISE_MULTIPLE * noise_n)
}

/// How far above the base a clamp begins and ends, N.
pub(super) fn thresholds(noise_n: f64, reference_n: f64) -> (f64, f64) {
    let begin = least_force(noise_n).max(BEGIN_SHARE * reference_n);
    (begin, END_SHARE * begin)
}

impl NoClamp {
    pub(super) fn too_short(record: &ForceRecord) -> Self {
        let end_s = record.time_s().last();
        Self::TooShort {
            samples: record.len(),
            length_s: end_s.map_or(0.0, |end| end - record.time_s()[0]),
        }
    }
}

/// The levels clamps are told by, N.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Levels {
    /// What edges are found against: the reading of the free gauge, as far as edges need it.
    pub base_n: f64,
    /// Highest held level less base.
    pub reference_n: f64,
    /// A clamp begins above this reading …
    pub begin_n: f64,
    /// … and ends below this one.
    pub end_n: f64,
}

impl Levels {
    /// Base: see [`base_n`]. Reference: highest held level less base. A clamp begins above base + B, B = max(100 N,
    /// 8 × noise, 5 % of the reference), and ends below base + 0.6 B.
    pub(super) fn of(trace: &Trace<'_>) -> Self {
        let base_n = base_n(trace);
        let reference_n = trace.highest_n - base_n;
        let (begin, end) = thresholds(trace.noise_n, reference_n);
        Self {
            base_n,
            reference_n,
            begin_n: base_n + begin,
            end_n: base_n + end,
        }
    }

    /// Refuses a record that reads downwards, unless it is to be taken as read; and one whose held levels, or whose
    /// reference, lie too near together for a clamp.
    pub(super) fn check(&self, trace: &Trace<'_>, as_read: bool) -> Result<(), NoClamp> {
        let needed_n = least_force(trace.noise_n);
        let span_n = (trace.highest_n - trace.lowest_n).min(self.reference_n);
        if span_n <= -needed_n {
            // What is held highest lies far under what is held lowest: neither is held.
            let ends = trace.time_s.first().zip(trace.time_s.last());
            Err(NoClamp::NothingHeld {
                samples: trace.time_s.len(),
                length_s: ends.map_or(0.0, |(first_s, last_s)| last_s - first_s),
            })
        } else if span_n < needed_n {
            Err(self.too_flat(trace, span_n.max(0.0)))
        } else if half_way(trace) < 0.0 && !as_read {
            Err(NoClamp::UpsideDown {
                lowest_n: trace.lowest_n,
                highest_n: trace.highest_n,
            })
        } else {
            Ok(())
        }
    }

    /// Half-way between the held levels lies under 0 N: that reads downwards, or its zero is far off.
    pub(super) fn below_zero_n(trace: &Trace<'_>) -> Option<f64> {
        let half_way_n = half_way(trace);
        (half_way_n < 0.0).then_some(half_way_n)
    }

    /// What was held highest, at an end of the record too, where a gauge hangs free, is 0 N, and everything else lies under it: so
    /// reads a gauge whose sign is reversed, and no pull, whoever says that it is meant so.
    pub(super) fn is_reversed(trace: &Trace<'_>) -> bool {
        let span_n = trace.highest_n - trace.lowest_n;
        let near_n = least_force(trace.noise_n).max(NEAR_ZERO_SHARE * span_n);
        let is_free = |samples: Range<usize>| {
            let level_n = statistics::median(&trace.smooth_n[samples]);
            level_n.abs() <= near_n
        };
        half_way(trace) < 0.0
            && trace.highest_n.abs() <= near_n
            && trace.ends().into_iter().any(is_free)
    }

    /// Nothing rises above the begin threshold.
    pub(super) fn too_flat(&self, trace: &Trace<'_>, span_n: f64) -> NoClamp {
        NoClamp::Flat {
            span_n,
            needed_n: least_force(trace.noise_n),
            noise_n: trace.noise_n,
        }
    }

    /// How near to 0 N a gauge set to zero reads when it hangs free, N.
    pub(super) fn near_zero_n(&self, noise_n: f64) -> f64 {
        near_zero_n(noise_n, self.reference_n)
    }
}

fn near_zero_n(noise_n: f64, reference_n: f64) -> f64 {
    (STEADY_NOISE_MULTIPLE * noise_n).max(NEAR_ZERO_SHARE * reference_n)
}

fn half_way(trace: &Trace<'_>) -> f64 {
    f64::midpoint(trace.highest_n, trace.lowest_n)
}

/// The median of the running median where it is under half-way between the held levels, N; or, still under half-way,
/// the highest of those that lie above it:
///
/// - what the record holds in its first or last 0.25 s, if that is within B of the median, or nearer to 0 N than it, or
///   the same at both ends;
/// - 0 N, if the median lies well below it and the record stands there for 0.25 s anywhere.
///
/// For a gauge that rests on the push-out in every pause reads too low in most of them. And weak clamps held longer than
/// the gauge hung free are most of what lies under half-way: where [`free_below`] finds the free gauge under the median, it
/// stands for the median in all of this.
fn base_n(trace: &Trace<'_>) -> f64 {
    let half_way_n = half_way(trace);
    let smooth_n = || trace.smooth_n.iter().copied();
    let under = || smooth_n().filter(|&value| value < half_way_n);
    if under().next().is_none() {
        return trace.lowest_n;
    }
    let steady_n = (STEADY_NOISE_MULTIPLE * trace.noise_n)
        .max(STEADY_SHARE * (trace.highest_n - trace.lowest_n));
    let held_at_an_end = trace.ends().map(|samples| {
        let level_n = statistics::median(&trace.smooth_n[samples.clone()]);
        (trace.spread_n(samples) <= steady_n).then_some(level_n)
    });
    let median_n = statistics::median_of(under);
    let median_n = free_below(trace, median_n, held_at_an_end).unwrap_or(median_n);
    let reference_n = trace.highest_n - median_n;
    let (begin, _) = thresholds(trace.noise_n, reference_n);
    let at_both_ends = matches!(held_at_an_end, [Some(a), Some(b)] if (a - b).abs() <= begin);
    let is_free = |level_n: &f64| {
        at_both_ends || level_n - median_n <= begin || level_n.abs() < median_n.abs()
    };
    let near_n = near_zero_n(trace.noise_n, reference_n);
    let at_zero = (median_n < -near_n && trace.stands_at(0.0, near_n)).then_some(0.0);
    let at_ends = held_at_an_end.into_iter().flatten().filter(is_free);
    at_ends
        .chain(at_zero)
        .filter(|&level_n| level_n < half_way_n)
        .fold(median_n, f64::max)
}

/// The reading of the free gauge where the median is that of weak clamps: a level over B under it and nearer to 0 N, held
/// at both ends of the record, or at one of them within B of 0 N; or 0 N itself, where the record stands there for 0.25 s. What is pulled between two clamps
/// without coming down to it is no clamp, so the record comes down to it between the first and the last that stands above.
fn free_below(trace: &Trace<'_>, median_n: f64, held_at_an_end: [Option<f64>; 2]) -> Option<f64> {
    let begin_n = |level_n: f64| thresholds(trace.noise_n, trace.highest_n - level_n).0;
    let is_lower = |level_n: &f64| {
        level_n.abs() < median_n.abs()
            && median_n - level_n > begin_n(*level_n)
            && comes_down(trace, *level_n, begin_n(*level_n))
    };
    let at_both_ends = matches!(
        held_at_an_end,
        [Some(a), Some(b)] if (a - b).abs() <= begin_n(a)
    );
    let is_free = |level_n: &f64| at_both_ends || level_n.abs() <= begin_n(*level_n);
    let near_n = near_zero_n(trace.noise_n, trace.highest_n - median_n);
    let at_ends = held_at_an_end.into_iter().flatten().filter(is_free);
    let at_zero = trace.stands_at(0.0, near_n).then_some(0.0);
    at_ends
        .chain(at_zero)
        .filter(is_lower)
        .min_by(|a, b| a.abs().total_cmp(&b.abs()))
}

/// Whether the record stays for 0.25 s under the end threshold of a level, between the first and the last rise over its
/// begin threshold.
fn comes_down(trace: &Trace<'_>, level_n: f64, begin_n: f64) -> bool {
    let above = |value: &f64| *value > level_n + begin_n;
    let (Some(first), Some(last)) = (
        trace.smooth_n.iter().position(above),
        trace.smooth_n.iter().rposition(above),
    ) else {
        return false;
    };
    trace.stays_below(first..last, level_n + END_SHARE * begin_n)
}
