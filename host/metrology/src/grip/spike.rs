//! Samples that are no force.
//!
//! In come a trace and a sample of it; out goes whether it is a spike: far off the samples around it, as a loose plug or
//! a switching valve leaves them.

use super::edges::Edges;
use super::trace::Trace;

/// While the force still moves, only a sample off by this share of the own level …
const LONE_SHARE: f64 = 0.10;
/// … with no more than this many beside it off as well is a spike: an overshoot is wider.
const LONE_SAMPLES: usize = 2;
/// Then the force has come to rest.
const AT_REST_S: f64 = super::trace::SETTLED_FROM_S;

/// Whether a sample is a spike where the force, or the free gauge, stands still: over max(2 % of the own level, 6 ×
/// noise) off the running median.
pub(super) fn while_held(trace: &Trace<'_>, own_level_n: f64, index: usize) -> bool {
    trace.off_n(index).abs() > trace.margin_n(own_level_n)
}

/// Whether a sample anywhere in a clamp is a spike. In its first second, where an overshoot is off the running median
/// too, only a lone one is.
pub(super) fn in_clamp(trace: &Trace<'_>, edges: &Edges, index: usize) -> bool {
    let rest_s = edges.clamped_s.map(|clamped_s| clamped_s + AT_REST_S);
    if rest_s.is_some_and(|rest_s| trace.time_s[index] < rest_s) {
        is_lone(trace, edges.own_level_n, index)
    } else {
        while_held(trace, edges.own_level_n, index)
    }
}

fn is_lone(trace: &Trace<'_>, own_level_n: f64, index: usize) -> bool {
    let margin_n = trace.margin_n(own_level_n).max(LONE_SHARE * own_level_n);
    let off = |index: &usize| trace.off_n(*index).abs() > margin_n;
    let before = (0..index).rev().take(LONE_SAMPLES).take_while(&off).count();
    let after = (index + 1..trace.time_s.len())
        .take(LONE_SAMPLES)
        .take_while(&off)
        .count();
    off(&index) && before + 1 + after <= LONE_SAMPLES
}
