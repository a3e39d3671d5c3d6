//! What is left of the force at the end of a hold.
//!
//! In come the trace, the edges and zeros of a clamp and how it ended; out goes the level before the release, less zero,
//! and how far from the settled force it may lie without a drop or a rise.

use super::budget::Taken;
use super::drop;
use super::edges::Edges;
use super::ending::SHORTEST_TOLD_S;
use super::found::{FoundClamp, HoldEnd};
use super::trace::Trace;
use super::window::{self, Window};
use crate::statistics;

/// The end of a hold is this long, s.
const LAST_S: f64 = 1.0;
/// Fewer samples are no level.
const FEWEST_SAMPLES: usize = 3;
/// A force that stands for this long between half its level and its foot was not let go, s.
const STANDS_S: f64 = 0.5;
/// It is looked for every so often, s.
const STEP_S: f64 = 0.1;
/// What stands at less than this share of its level was let go and hangs on.
const HANGS_SHARE: f64 = 0.2;
/// By so much a gauge may creep in one hold, share of the force. Common practice, no source.
const CREEP_SHARE: f64 = 0.0005;
/// A force that rises is not outside before it would be so after this long a hold, s.
const LONG_HOLD_S: f64 = 5.0;
/// The level is known from the noise of its samples to so many standard deviations.
const NOISE_MULTIPLE: f64 = 3.0;

/// The end of the hold; none across a gap or fault, or without a zero.
pub(super) fn hold_end(
    trace: &Trace<'_>,
    base_n: f64,
    clamp: &FoundClamp,
    step_n: f64,
) -> Option<HoldEnd> {
    let edges = &clamp.edges;
    let held = window::held(edges)?;
    let held = left_standing(trace, base_n, edges).unwrap_or(held);
    let from_s = (held.to_s - LAST_S).max(held.from_s);
    let samples = trace.samples_within(from_s, held.to_s);
    if samples.len() < FEWEST_SAMPLES || trace.broken(from_s, held.to_s) {
        return None;
    }
    let middle_s = f64::midpoint(from_s, held.to_s);
    let zero_n = clamp.zeros.at(middle_s)?;
    let count = samples.len() as f64;
    let level_n = statistics::median(&trace.smooth_n[samples]) - zero_n;
    let endings = clamp.endings.iter().flatten();
    let endings = || {
        let told = endings.clone();
        told.filter(|ending| ending.over_s >= SHORTEST_TOLD_S)
    };
    let sways_n = endings()
        .map(|ending| ending.wander_n_per_s * ending.over_s)
        .fold(0.0, f64::max);
    let noise_n = NOISE_MULTIPLE * trace.noise_n / count.sqrt();
    let at_end = endings()
        .next()
        .map(|ending| -ending.n_per_s - 2.0 * ending.standard_error_n_per_s);
    let rises_n_per_s = at_end.or(clamp.rises_n_per_s).unwrap_or(0.0);
    let long_s = edges
        .clamped_s
        .map_or(0.0, |from_s| from_s + LONG_HOLD_S - middle_s);
    let more_s = window::hold_s(edges).unwrap_or(0.0).max(long_s);
    Some(HoldEnd {
        level_n,
        sure_to_n: CREEP_SHARE * level_n.abs() + noise_n + step_n + sways_n,
        bump_n: trace.margin_n(edges.own_level_n),
        to_rise_n: (rises_n_per_s * more_s).max(0.0),
    })
}

/// What stands on after the force has fallen through half its level, before it falls to the foot: the clamp was not let go
/// then, it lost its force. The last such stretch.
fn left_standing(trace: &Trace<'_>, base_n: f64, edges: &Edges) -> Option<Window> {
    let from_s = edges.released_s?;
    let steps = (0_u32..).map(|step| from_s + STEP_S * f64::from(step));
    let stretches = steps
        .map(|from_s| Window {
            from_s,
            to_s: from_s + STANDS_S,
        })
        .take_while(|stretch| stretch.to_s <= edges.falling_foot_s);
    let stands = |stretch: &Window| {
        let samples = trace.samples_within(stretch.from_s, stretch.to_s);
        let lowest_n = base_n + HANGS_SHARE * edges.own_level_n;
        samples.len() >= FEWEST_SAMPLES
            && trace.spread_n(samples.clone()) <= trace.margin_n(edges.own_level_n)
            && trace.smooth_n[samples.start] > lowest_n
    };
    stretches.filter(stands).last()
}

/// A clamp lower at its end than it settled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Down {
    /// Its number.
    pub number: u32,
    /// By how much, N.
    pub by_n: f64,
    /// At most what is left, N.
    pub left_n: f64,
}

impl Down {
    /// Of one clamp: by more than a bump and what the end is sure to.
    pub(super) fn of(number: u32, settled_n: f64, end: Option<HoldEnd>) -> Option<Self> {
        let end = end?;
        let by_n = settled_n - end.level_n;
        (by_n > end.bump_n + end.sure_to_n).then_some(Self {
            number,
            by_n,
            left_n: end.level_n + end.sure_to_n,
        })
    }
}

/// The end of a clamp's hold. Where its zeros were set aside and all the readings tell of a gauge that warms, its zero may
/// have moved over the hold as those did.
fn end_of(clamp: &Taken, all: &[Taken]) -> Option<HoldEnd> {
    let recorded = clamp.recorded?;
    let end = recorded.end?;
    let moved_n = recorded
        .zero_moved_n
        .filter(|_| !recorded.own_zeros && drop::warms(all))
        .map_or(0.0, f64::abs);
    Some(HoldEnd {
        sure_to_n: end.sure_to_n + moved_n,
        ..end
    })
}

/// The clamp that is lowest at its end, of those that are lower than they settled at.
pub(super) fn stays_down(taken: &[Taken]) -> Option<Down> {
    let downs = taken
        .iter()
        .filter_map(|clamp| Down::of(clamp.number, clamp.force_n, end_of(clamp, taken)));
    downs.max_by(|a, b| a.by_n.total_cmp(&b.by_n))
}

/// The figure by the ends of the holds: the mean, or the lowest. As high as the ends allow, N; never above the settled one.
pub(super) fn at_most(taken: &[Taken], lowest: bool) -> Option<f64> {
    figure(taken, lowest, |force_n, end| {
        force_n.min(end.level_n + end.sure_to_n)
    })
}

/// The same by what still comes: every clamp may rise from where it settled by the share that the one that rises most
/// does, and what rises at its end by what it would gain in as long again. None where none rises.
pub(super) fn at_least(taken: &[Taken], lowest: bool) -> Option<f64> {
    let of = |clamp: &Taken| {
        let end = end_of(clamp, taken)?;
        let rises = end.level_n + end.to_rise_n - end.sure_to_n > clamp.force_n;
        (rises && clamp.force_n > 0.0).then(|| (end.level_n + end.to_rise_n) / clamp.force_n)
    };
    let share = taken.iter().filter_map(of).reduce(f64::max)?;
    figure(taken, lowest, |force_n, _| share * force_n)
}

fn figure(taken: &[Taken], lowest: bool, of: impl Fn(f64, HoldEnd) -> f64) -> Option<f64> {
    let at_end =
        |clamp: &Taken| end_of(clamp, taken).map_or(clamp.force_n, |end| of(clamp.force_n, end));
    let forces: Vec<f64> = taken.iter().map(at_end).collect();
    if lowest {
        forces.into_iter().reduce(f64::min)
    } else {
        (!forces.is_empty()).then(|| statistics::mean(&forces))
    }
}
