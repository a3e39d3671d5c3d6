//! A release that takes its time.
//!
//! In come the trace and a clamp's level and fall; out goes when the force began to run down, where slow hydraulics let
//! it run down so long before half its level that the rest would pass for what was held.

use super::trace::{BEFORE_RELEASE_S, Trace};

/// The pace of a release is that between this share of the own level and half of it …
const PACE_FROM_SHARE: f64 = 0.75;
/// … and it has begun where the force falls at more than this share of that pace: the force that is held leaks far
/// slower than it is let go.
const BEGUN_SHARE: f64 = 0.25;
/// A release that begins gently has begun earlier by this share of what was seen of it.
const GENTLE_SHARE: f64 = 0.2;
/// No release takes longer to half the level than from there to its foot by more than this: a straight one 1.11 times, a
/// half wave 1.17 times as long. What takes longer was a drop before.
const HEAD_TO_TAIL: f64 = 1.25;
/// Nor is one taken for granted that takes longer than this to half the level, s. Common practice, no source.
const LONGEST_S: f64 = 2.5;
/// A pace is told over this share of the time from three quarters of the level to the half, and over neighbours at least.
const PACE_SHARE: f64 = 0.3;
const NEIGHBOURS: f64 = 1.5;
/// Of a coarse record no release is slow that takes no more spacings than this.
const COARSE: f64 = 2.5;

/// When a slow release began, s; none of a quick one, which what is held keeps clear of anyhow.
pub(super) fn slow_release_s(
    trace: &Trace<'_>,
    base_n: f64,
    own_level_n: f64,
    released_s: f64,
    foot_s: f64,
) -> Option<f64> {
    let end = trace.time_s.partition_point(|&time_s| time_s < released_s);
    let from_n = base_n + PACE_FROM_SHARE * own_level_n;
    let from = (0..end)
        .rev()
        .find(|&index| trace.smooth_n[index] >= from_n)?;
    let fell_s = released_s - trace.time_s[from];
    let pace_n_per_s = (PACE_FROM_SHARE - 0.5) * own_level_n / fell_s;
    let over_s = (PACE_SHARE * fell_s).max(NEIGHBOURS * trace.spacing_s);
    let falls = |index: usize| {
        let earlier = trace
            .time_s
            .partition_point(|&time_s| time_s < trace.time_s[index] - over_s);
        let fell_n = trace.smooth_n[earlier] - trace.smooth_n[index];
        fell_n > BEGUN_SHARE * pace_n_per_s * (trace.time_s[index] - trace.time_s[earlier])
    };
    let held = (1..=from).rev().find(|&index| !falls(index))?;
    let head_s = (1.0 + GENTLE_SHARE) * (released_s - trace.time_s[held]);
    if head_s <= BEFORE_RELEASE_S.max(COARSE * trace.spacing_s) {
        return None;
    }
    let longest_s = LONGEST_S.min(HEAD_TO_TAIL * (foot_s - released_s) + BEFORE_RELEASE_S);
    Some(released_s - head_s.min(longest_s))
}
