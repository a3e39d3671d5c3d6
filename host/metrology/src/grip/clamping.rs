//! How long a clamping took.
//!
//! In come the trace and the edges of a clamp; out goes the time in which the force rose from 10 to 90 % of its level.

use super::edges::Edges;
use super::spike;
use super::trace::Trace;

/// The rise is timed from this share of the clamp's own level …
const FROM_SHARE: f64 = 0.1;
/// … to this one.
const TO_SHARE: f64 = 0.9;
/// A rise of fewer samples than this is not timed.
const FEWEST_SAMPLES: usize = 5;

/// Time from 10 to 90 % of the own level on raw samples between the feet, s: from the last crossing of the lower share
/// to the first of the upper one. `None` without a rise, or with fewer than five samples in it.
pub(super) fn time_s(trace: &Trace<'_>, base_n: f64, edges: &Edges) -> Option<f64> {
    edges.clamped_s?;
    let samples = trace.samples_within(edges.rising_foot_s, edges.falling_foot_s);
    let low_n = base_n + FROM_SHARE * edges.own_level_n;
    let high_n = base_n + TO_SHARE * edges.own_level_n;
    let is_sound = |index: &usize| !spike::in_clamp(trace, edges, *index);
    let high = samples
        .clone()
        .filter(is_sound)
        .find(|&index| trace.force_n[index] >= high_n)?;
    // The foot lies between two samples: the one before it is the last that was free.
    let first = samples.start.saturating_sub(1);
    let low = (first..high)
        .rev()
        .filter(is_sound)
        .find(|&index| trace.force_n[index] <= low_n)?;
    if high - low - 1 < FEWEST_SAMPLES {
        return None;
    }
    Some(crossing_s(trace, high - 1, high_n) - crossing_s(trace, low, low_n))
}

/// When the raw force passes `level_n` between a sample and the next one, s.
fn crossing_s(trace: &Trace<'_>, index: usize, level_n: f64) -> f64 {
    let (from_n, to_n) = (trace.force_n[index], trace.force_n[index + 1]);
    // A spike beside the crossing must not throw it elsewhere.
    let share = ((level_n - from_n) / (to_n - from_n)).clamp(0.0, 1.0);
    trace.time_s[index] + share * (trace.time_s[index + 1] - trace.time_s[index])
}
