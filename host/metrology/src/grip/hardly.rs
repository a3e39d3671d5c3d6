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
/// Noise that hides a pull from the running median hides it less from means over so long, s.
const MEANS_S: [f64; 2] = [0.25, 1.0];
/// A pull is told from a touch by a mean where it lasts so many times as long as the mean.
const LONGER_THAN_MEAN: f64 = 1.5;
/// Fewer steps from one mean to the next show no noise of them.
const FEWEST_MEANS: usize = 10;
/// Median of the absolute value of a normal variable of standard deviation 1, inverted.
const OF_MEDIAN: f64 = 1.4826;

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
/// and rises and falls as fast as a clamp. Where that is over 100 N, the same of means over a quarter of a second and over one,
/// for what lasts half as long again.
pub(super) fn hardly_gripped(
    trace: &Trace<'_>,
    all: &[Edges],
    free: Option<FreeLevel>,
) -> Vec<HardlyGripped> {
    let Some(free) = free else {
        return Vec::new();
    };
    let above_n = |index: usize| trace.smooth_n[index] - free.at(trace.time_s[index]);
    let smooth = Above {
        trace,
        above_n: (0..trace.time_s.len()).map(above_n).collect(),
        noise_n: trace.smooth_noise_n(),
        over_s: 0.0,
    };
    let mut found = smooth.pulls(all);
    if levels::least_force(smooth.noise_n) > levels::least_force(0.0) {
        for over_s in MEANS_S {
            let hidden = smooth.means(over_s, all).map(|means| means.pulls(all));
            for pull in hidden.into_iter().flatten() {
                let apart = |known: &HardlyGripped| {
                    known.from_s > pull.from_s + pull.length_s
                        || pull.from_s > known.from_s + known.length_s
                };
                if found.iter().all(apart) {
                    found.push(pull);
                }
            }
        }
        found.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
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

/// How far a record reads above the free gauge, as it is looked at.
struct Above<'t> {
    trace: &'t Trace<'t>,
    /// At every sample, N.
    above_n: Vec<f64>,
    /// Its noise, N.
    noise_n: f64,
    /// The mean is taken over so long, s; 0 where none is.
    over_s: f64,
}

impl Above<'_> {
    /// Means over so long around every sample, as far as the pauses show the noise of them; none where one is shorter than two
    /// samples, or they show none.
    fn means(&self, over_s: f64, all: &[Edges]) -> Option<Self> {
        let time_s = self.trace.time_s;
        let mut sums = vec![0.0];
        for above_n in &self.above_n {
            sums.push(sums[sums.len() - 1] + above_n);
        }
        let half_s = over_s / 2.0;
        let (mut first, mut end) = (0, 0);
        let mut means = Vec::with_capacity(time_s.len());
        for &middle_s in time_s {
            while time_s[first] < middle_s - half_s {
                first += 1;
            }
            while end < time_s.len() && time_s[end] <= middle_s + half_s {
                end += 1;
            }
            let samples = u32::try_from(end - first).map_or(f64::INFINITY, f64::from);
            means.push((sums[end] - sums[first]) / samples);
        }
        // From a mean to the next that has no sample in common with it, four times in the length of one, within the pauses.
        let mut steps_n = Vec::new();
        for pause in pauses(self.trace, all, TAIL_S + half_s, half_s) {
            let mut next_s = f64::NEG_INFINITY;
            for index in pause.clone() {
                if time_s[index] < next_s {
                    continue;
                }
                next_s = time_s[index] + over_s / 4.0;
                let apart = time_s.partition_point(|&at_s| at_s <= time_s[index] + over_s);
                if pause.contains(&apart) {
                    steps_n.push((means[apart] - means[index]).abs());
                }
            }
        }
        let is_longer = over_s > 2.0 * self.trace.spacing_s;
        (is_longer && steps_n.len() >= FEWEST_MEANS).then(|| Self {
            trace: self.trace,
            noise_n: OF_MEDIAN * statistics::median(&steps_n) / std::f64::consts::SQRT_2,
            above_n: means,
            over_s,
        })
    }

    fn pulls(&self, all: &[Edges]) -> Vec<HardlyGripped> {
        let least_n = levels::least_force(self.noise_n);
        let half_s = self.over_s / 2.0;
        let mut found = Vec::new();
        for pause in pauses(self.trace, all, TAIL_S + half_s, half_s) {
            let mut since: Option<usize> = None;
            for index in pause.clone() {
                match since {
                    None if self.above_n[index] > least_n => since = Some(index),
                    Some(first) if self.above_n[index] <= least_n => {
                        // What stood above already as the pause began did not rise in it.
                        let rose = first > pause.start;
                        found.extend(self.pull(first..index).filter(|_| rose));
                        since = None;
                    }
                    _ => {}
                }
            }
        }
        found
    }

    fn pull(&self, samples: std::ops::Range<usize>) -> Option<HardlyGripped> {
        let (trace, above_n) = (self.trace, &self.above_n);
        let (from_s, to_s) = (trace.time_s[samples.start], trace.time_s[samples.end]);
        if to_s - from_s < LEAST_S || trace.broken(from_s, to_s) {
            return None;
        }
        let force_n = statistics::median(&above_n[samples.clone()]);
        let [low_n, high_n] = PASSES.map(|share| share * force_n);
        let middle = samples.start + samples.len() / 2;
        let is_low = |&index: &usize| above_n[index] <= low_n;
        let is_high = |&index: &usize| above_n[index] >= high_n;
        let rise_from = (0..samples.start + 1).rev().find(is_low)?;
        let rise_to = (rise_from..middle + 1).find(is_high)?;
        let fall_to = (samples.end..trace.time_s.len()).find(is_low)?;
        let fall_from = (middle..fall_to).rev().find(is_high)?;
        let quick_s = QUICK_S.max(3.0 * trace.spacing_s) + self.over_s;
        let lasts_s = |from: usize, to: usize| trace.time_s[to] - trace.time_s[from];
        // What passes faster than the mean stands half as high for as long as the mean, however short it was.
        let is_half = |&index: &usize| above_n[index] >= 0.5 * force_n;
        let half_from = (rise_from..middle + 1).find(is_half)?;
        let half_to = (middle..fall_to).rev().find(is_half)?;
        let is_pull = lasts_s(half_from, half_to) >= LONGER_THAN_MEAN * self.over_s;
        let is_quick =
            lasts_s(rise_from, rise_to) <= quick_s && lasts_s(fall_from, fall_to) <= quick_s;
        // Where a mean lies within it as a whole.
        let half_s = self.over_s / 2.0;
        let inside = trace.samples_within(from_s + half_s, to_s - half_s);
        let force_n = match inside.is_empty() {
            true => force_n,
            false => statistics::median(&above_n[inside]),
        };
        (is_pull && is_quick).then_some(HardlyGripped {
            from_s,
            length_s: to_s - from_s,
            force_n,
        })
    }
}
