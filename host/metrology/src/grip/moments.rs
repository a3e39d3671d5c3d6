//! Moments in which the force is gone while a clamp is held.
//!
//! In come the trace and the edges of a clamp, and what it must hold where that is known; out goes for how long in all the force was
//! below that, or below half of what is held, and what it read then. Each moment may be too short for a fall: a gripper that lets go again and again, or a plug that does.

use super::edges::Edges;
use super::falls;
use super::trace::Trace;
use super::window;
use crate::statistics;

/// Below this share of the own level nothing is held.
const GONE_SHARE: f64 = 0.5;
/// One or two readings may be spikes; from so many, making up so much of the hold, they are not.
const FEWEST: usize = 4;
const LEAST_SHARE: f64 = 0.02;

/// For how long the force was gone while held, and what it read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moments {
    /// In all, s.
    pub for_s: f64,
    /// The median of what was read then, less base, N.
    pub reads_n: f64,
}

/// Those of a clamp, from 1 s after it was clamped to the end of its hold.
pub(super) fn moments(
    trace: &Trace<'_>,
    base_n: f64,
    edges: &Edges,
    least_n: Option<f64>,
) -> Option<Moments> {
    let held = window::held(edges)?;
    let samples = trace.samples_within(held.from_s, held.to_s);
    let all = samples.len();
    // What noise takes below what it must hold is no moment, nor is what a hand does.
    let off_n = edges.own_level_n - falls::deep_n(trace, edges);
    let too_little_n = least_n.unwrap_or(0.0).min(off_n);
    let gone_n = base_n + too_little_n.max(GONE_SHARE * edges.own_level_n);
    // It was up before and comes back: a force that only rises to where it is held, or goes down for good, has no moments.
    let is_up = |index: &usize| trace.smooth_n[*index] >= gone_n;
    let (first, last) = (samples.clone().find(is_up)?, samples.rev().find(is_up)?);
    let gone: Vec<f64> = trace.force_n[first..=last]
        .iter()
        .copied()
        .filter(|force_n| *force_n < gone_n)
        .collect();
    let share = gone.len() as f64 / all.max(1) as f64;
    (gone.len() >= FEWEST && share >= LEAST_SHARE).then(|| Moments {
        for_s: share * held.length_s(),
        reads_n: statistics::median(&gone) - base_n,
    })
}
