//! What the force does while it is held.
//!
//! In come the trace and the edges of a clamp; out go the drop while held, and a fall inside the hold: the force went
//! down and rose again. Bumps and falls are no drop.

use super::edges::Edges;
use super::spike;
use super::trace::{HELD_S, Trace};
use super::window::{self, Window};
use super::zero::Zeros;
use crate::statistics;
use std::borrow::Cow;
use std::collections::VecDeque;
use std::ops::Range;

/// The drop while held is told only from so much of the hold.
const SAG_MIN_S: f64 = 2.0;
/// Of a hold shorter than this after it settled nothing is told but its force, s: its end is not told from its settling.
const SHORTEST_S: f64 = 1.5;
/// A duration that is met exactly must not be missed by the last bit of a subtraction.
const ROUNDING_S: f64 = 1e-9;

/// No knock takes a force down to this share of itself: what is gone so far was let go, or not read, if only for a moment.
const GONE_SHARE: f64 = 0.10;

/// The drop of the force while held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sag {
    /// N/s, positive = the force falls.
    pub n_per_s: f64,
    /// Its standard error from the samples' scatter about the line, N/s.
    pub standard_error_n_per_s: f64,
    /// Length of the stretch it was told from, s.
    pub over_s: f64,
    /// The same drop told from the second half of the stretch alone, N/s: settling dies out, a leak does not.
    pub late_n_per_s: f64,
}

/// The force went down inside the hold and rose again.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Fall {
    /// When it was lowest, s.
    pub at_s: f64,
    /// How far it was below what was held before and after, N.
    pub depth_n: f64,
    /// Where it went down to for a quarter of a second, or for a moment where hardly anything was left, less base, N; none of a
    /// shorter or lesser one.
    pub down_to_n: Option<f64>,
    /// Times of the samples that lie in it.
    times_s: Vec<f64>,
}

/// What is held, without spikes, bumps and falls.
pub(super) struct Held<'a> {
    /// From when to when.
    pub window: Window,
    /// How many samples there are in it.
    samples: usize,
    /// Times of those that are kept, s …
    pub time_s: Cow<'a, [f64]>,
    /// … and their forces, N.
    pub force_n: Cow<'a, [f64]>,
}

impl<'a> Held<'a> {
    /// None across a gap or fault, and of a hold too short to be looked at.
    pub fn of(trace: &Trace<'a>, edges: &Edges, fall: Option<&Fall>) -> Option<Self> {
        let window = window::held(edges).filter(|held| {
            held.length_s() >= SHORTEST_S && !trace.broken(held.from_s, held.to_s)
        })?;
        let samples = trace.samples_within(window.from_s, window.to_s);
        let kept = kept(trace, edges, fall, samples.clone());
        Some(Self::keeping(trace, window, samples, &kept))
    }

    /// The same with its bumps and falls, without spikes: a force that is filled up goes down and rises again.
    pub fn with_falls(&self, trace: &Trace<'a>, edges: &Edges) -> Self {
        let samples = trace.samples_within(self.window.from_s, self.window.to_s);
        let no_spike = |&index: &usize| !spike::while_held(trace, edges.own_level_n, index);
        let kept: Vec<usize> = samples.clone().filter(no_spike).collect();
        Self::keeping(trace, self.window, samples, &kept)
    }

    fn keeping(trace: &Trace<'a>, window: Window, samples: Range<usize>, kept: &[usize]) -> Self {
        let of = |values: &'a [f64]| {
            if kept.len() == samples.len() {
                Cow::Borrowed(&values[samples.clone()])
            } else {
                Cow::Owned(kept.iter().map(|&index| values[index]).collect())
            }
        };
        Self {
            window,
            samples: samples.len(),
            time_s: of(trace.time_s),
            force_n: of(trace.force_n),
        }
    }
}

/// Minus the least-squares slope of the force less zero from clamped + 1.0 s to the end of what is held, without spikes, bumps
/// and falls. `None` where less than 2 s is left.
pub(super) fn sag(held: &Held<'_>, zeros: &Zeros, fall: Option<&Fall>) -> Option<Sag> {
    let Window { from_s, to_s } = held.window;
    let enough = |length_s: f64| length_s >= SAG_MIN_S - ROUNDING_S;
    let kept = held.time_s.len();
    if !enough(to_s - from_s)
        || !enough((to_s - from_s) * kept as f64 / held.samples as f64) && kept < held.samples
    {
        return None;
    }
    let fallen: &[f64] = fall.map_or(&[], |fall| &fall.times_s);
    let zero_slope = zeros.slope_n_per_s();
    let whole = common_slope(held, fallen, from_s)?;
    let late = common_slope(held, fallen, f64::midpoint(from_s, to_s)).unwrap_or(whole);
    Some(Sag {
        n_per_s: zero_slope - whole.slope,
        standard_error_n_per_s: whole.slope_standard_error,
        over_s: to_s - from_s,
        late_n_per_s: zero_slope - late.slope,
    })
}

/// Which of the samples are neither spike nor in a bump or fall.
fn kept(
    trace: &Trace<'_>,
    edges: &Edges,
    fall: Option<&Fall>,
    samples: Range<usize>,
) -> Vec<usize> {
    let fallen: &[f64] = fall.map_or(&[], |fall| &fall.times_s);
    let bumped = bumps(trace, edges, samples.clone());
    let is_kept = |index: &usize| {
        let time_s = trace.time_s[*index];
        !spike::while_held(trace, edges.own_level_n, *index)
            && !window::near(&bumped, time_s)
            && !window::near(fallen, time_s)
    };
    samples.filter(is_kept).collect()
}

/// Least-squares slope from `since_s` on, common to the parts between falls: what the force rises to after a fall is
/// another level and no drop.
fn common_slope(held: &Held<'_>, fallen: &[f64], since_s: f64) -> Option<statistics::Line> {
    let since = held.time_s.partition_point(|&time_s| time_s < since_s);
    let (late_s, late_n) = (&held.time_s[since..], &held.force_n[since..]);
    let falls_before = |time_s: &f64| fallen.partition_point(|fall_s| fall_s < time_s);
    let (mut times, mut forces) = (Vec::new(), Vec::new());
    let mut from = 0;
    for part in late_s.chunk_by(|a, b| falls_before(a) == falls_before(b)) {
        let about_its_mean = |of_part: &[f64], all: &mut Vec<f64>| {
            let mean = statistics::mean(of_part);
            all.extend(of_part.iter().map(|value| value - mean));
        };
        about_its_mean(part, &mut times);
        about_its_mean(&late_n[from..from + part.len()], &mut forces);
        from += part.len();
    }
    statistics::least_squares_line(&times, &forces)
}

/// Times of the samples in what is held that a bump has moved; none if they are too many to be a bump: a force that
/// bends is off its line as well. A bump comes back: a force that is down to the end of the hold is none.
fn bumps(trace: &Trace<'_>, edges: &Edges, samples: Range<usize>) -> Vec<f64> {
    let Some(line) = window::line_through(trace, samples.clone()) else {
        return Vec::new();
    };
    let all = samples.len();
    let above = |index: usize| trace.smooth_n[index] - line.at(trace.time_s[index]);
    let comes_back = samples
        .clone()
        .rev()
        .find(|&index| above(index) > -trace.margin_n(edges.own_level_n));
    let mut bumped = window::off_line(trace, edges.own_level_n, samples, line);
    let back_s = comes_back.map_or(f64::NEG_INFINITY, |index| trace.time_s[index]);
    bumped.retain(|&time_s| time_s <= back_s);
    if window::too_many(bumped.len(), all) {
        Vec::new()
    } else {
        bumped
    }
}

/// A fall inside the hold: from clamped + 1.0 s to the end of what is held the running median is lower, by more than a bump's
/// margin, than a level held before and one held after; or it rises through half the own level a second time.
pub(super) fn fall(trace: &Trace<'_>, base_n: f64, edges: &Edges) -> Option<Fall> {
    let fallen = fallen(trace, edges);
    let deepest = fallen.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1));
    let again = second_rise(trace, base_n, edges);
    let (index, depth_n) = deepest.or(again)?;
    // As far to both sides as it is down by half as much.
    let back_n = trace.smooth_n[index] + 0.5 * depth_n;
    let down = |&near: &usize| trace.smooth_n[near] < back_n;
    let feet = trace.samples_within(edges.rising_foot_s, edges.falling_foot_s);
    let since = (feet.start..index + 1).rev().take_while(down).last();
    let until = (index..feet.end).take_while(down).last();
    let stretch = since.unwrap_or(index)..until.unwrap_or(index) + 1;
    let left_n = trace.smooth_n[index] - base_n;
    let gone_n = (left_n < GONE_SHARE * edges.own_level_n).then_some(left_n);
    Some(Fall {
        at_s: trace.time_s[index],
        depth_n,
        down_to_n: trace
            .least_held_in(stretch)
            .map(|least_n| least_n - base_n)
            .or(gone_n),
        times_s: fallen
            .iter()
            .map(|&(index, _)| trace.time_s[index])
            .collect(),
    })
}

/// Samples in a fall and how far they are down, N.
fn fallen(trace: &Trace<'_>, edges: &Edges) -> Vec<(usize, f64)> {
    let Some(Window { from_s, to_s }) = window::held(edges) else {
        return Vec::new();
    };
    let samples = trace.samples_within(from_s, to_s);
    let (time_s, smooth_n) = (
        &trace.time_s[samples.clone()],
        &trace.smooth_n[samples.clone()],
    );
    let before = held_so_far(time_s, smooth_n);
    let backwards: (Vec<f64>, Vec<f64>) = (
        time_s.iter().rev().map(|time| -time).collect(),
        smooth_n.iter().rev().copied().collect(),
    );
    let mut after = held_so_far(&backwards.0, &backwards.1);
    after.reverse();
    let margin_n = trace.margin_n(edges.own_level_n);
    samples
        .zip(before.into_iter().zip(after))
        .map(|(index, (before, after))| (index, before.min(after) - trace.smooth_n[index]))
        .filter(|(_, depth_n)| *depth_n > margin_n)
        .collect()
}

/// For each value the greatest level that was stayed above for 0.25 s up to it; minus infinity before there is one.
fn held_so_far(time_s: &[f64], values: &[f64]) -> Vec<f64> {
    // Indices of the values that may yet be the smallest of a stretch, smallest first.
    let mut least: VecDeque<usize> = VecDeque::new();
    let (mut first, mut most) = (0, f64::NEG_INFINITY);
    (0..values.len())
        .map(|index| {
            while least
                .back()
                .is_some_and(|&last| values[last] >= values[index])
            {
                least.pop_back();
            }
            least.push_back(index);
            while first < index && time_s[index] - time_s[first + 1] >= HELD_S {
                first += 1;
            }
            while least.front().is_some_and(|&earliest| earliest < first) {
                least.pop_front();
            }
            if time_s[index] - time_s[first] >= HELD_S {
                most = most.max(values[least[0]]);
            }
            most
        })
        .collect()
}

/// Where the force was lowest before it rose through half the own level a second time, and how far below that level.
fn second_rise(trace: &Trace<'_>, base_n: f64, edges: &Edges) -> Option<(usize, f64)> {
    let half_n = base_n + 0.5 * edges.own_level_n;
    let margin_n = trace.margin_n(edges.own_level_n);
    let mut risen = false;
    let mut lowest: Option<usize> = None;
    for index in trace.samples_within(edges.rising_foot_s, edges.falling_foot_s) {
        let value = trace.smooth_n[index];
        if value > half_n + margin_n {
            if let Some(index) = lowest {
                return Some((index, half_n - trace.smooth_n[index]));
            }
            risen = true;
        } else if risen && value < half_n - margin_n {
            lowest = lowest
                .filter(|&lowest| trace.smooth_n[lowest] <= value)
                .or(Some(index));
        }
    }
    None
}
