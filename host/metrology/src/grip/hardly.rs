//! What pulled at the gauge between the clamps and is too weak to be listed as one.
//!
//! In come the trace, the edges of the clamps and the reading of the free gauge; out goes every stretch that rises and falls
//! like a clamp under the threshold of the record: a gripper that did not catch pulls so.

use super::edges::Edges;
use super::levels;
use super::trace::Trace;
use super::zero::FreeLevel;
use crate::statistics;
use serde::{Deserialize, Serialize};

/// A shorter pull is none, s: a touch passes faster.
const LEAST_S: f64 = 0.25;
/// A clamp rises and falls within this time; a zero that drifts does not, s.
const QUICK_S: f64 = 1.5;
/// The height is passed between these shares of it.
const PASSES: [f64; 2] = [0.2, 0.8];
/// What is nearer than this to a clamp's foot is its own tail, s.
const TAIL_S: f64 = 0.2;

/// A pull too weak for a clamp.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct HardlyGripped {
    /// When it began, s.
    pub from_s: f64,
    /// How long it lasted, s.
    pub length_s: f64,
    /// Above the free gauge, N.
    pub force_n: f64,
}

/// Every stretch of a pause that stands over max(100 N, 8 × noise of the running median) above the free gauge for a quarter of a second,
/// and rises and falls as fast as a clamp.
pub(super) fn hardly_gripped(
    trace: &Trace<'_>,
    all: &[Edges],
    free: Option<FreeLevel>,
) -> Vec<HardlyGripped> {
    let Some(free) = free else {
        return Vec::new();
    };
    let least_n = levels::least_force(trace.smooth_noise_n());
    let above_n = |index: usize| trace.smooth_n[index] - free.at(trace.time_s[index]);
    let mut found = Vec::new();
    for pause in pauses(trace, all, TAIL_S, 0.0) {
        let mut since: Option<usize> = None;
        for index in pause.clone() {
            match since {
                None if above_n(index) > least_n => since = Some(index),
                Some(first) if above_n(index) <= least_n => {
                    // What stood above already as the pause began did not rise in it.
                    let rose = first > pause.start;
                    found.extend(pull(trace, &free, first..index).filter(|_| rose));
                    since = None;
                }
                _ => {}
            }
        }
    }
    found
}

/// The stretches between the feet of the clamps, and before the first and after the last, as far as they keep clear of a
/// foot before and after them.
pub(super) fn pauses(
    trace: &Trace<'_>,
    all: &[Edges],
    after_s: f64,
    before_s: f64,
) -> Vec<std::ops::Range<usize>> {
    let end_s = trace.time_s.last().copied().unwrap_or(0.0);
    let begins = [f64::NEG_INFINITY]
        .into_iter()
        .chain(all.iter().map(|clamp| clamp.falling_foot_s + after_s));
    let ends = all
        .iter()
        .map(|clamp| clamp.rising_foot_s - before_s)
        .chain([end_s]);
    begins
        .zip(ends)
        .map(|(from_s, to_s)| trace.samples_within(from_s, to_s))
        .collect()
}

fn pull(
    trace: &Trace<'_>,
    free: &FreeLevel,
    samples: std::ops::Range<usize>,
) -> Option<HardlyGripped> {
    let (from_s, to_s) = (trace.time_s[samples.start], trace.time_s[samples.end]);
    if to_s - from_s < LEAST_S || trace.broken(from_s, to_s) {
        return None;
    }
    let above_n = |index: usize| trace.smooth_n[index] - free.at(trace.time_s[index]);
    let heights: Vec<f64> = samples.clone().map(above_n).collect();
    let force_n = statistics::median(&heights);
    let [low_n, high_n] = PASSES.map(|share| share * force_n);
    let middle = samples.start + samples.len() / 2;
    let last = |range: std::ops::Range<usize>| range.rev().find(|&index| above_n(index) <= low_n);
    let rise_from = last(0..samples.start + 1)?;
    let rise_to = (rise_from..middle + 1).find(|&index| above_n(index) >= high_n)?;
    let fall_to = (samples.end..trace.time_s.len()).find(|&index| above_n(index) <= low_n)?;
    let fall_from = (middle..fall_to)
        .rev()
        .find(|&index| above_n(index) >= high_n)?;
    let quick_s = QUICK_S.max(3.0 * trace.spacing_s);
    let quick = |from: usize, to: usize| trace.time_s[to] - trace.time_s[from] <= quick_s;
    (quick(rise_from, rise_to) && quick(fall_from, fall_to)).then_some(HardlyGripped {
        from_s,
        length_s: to_s - from_s,
        force_n,
    })
}
