//! How often the force goes down while a clamp is held, and comes back.
//!
//! In come the trace and the edges of a clamp; out goes how often it was down and up again, and over how long. A knock comes once;
//! what is let go and caught again comes time after time, and may leave no level that is held in between.

use super::edges::Edges;
use super::trace::Trace;
use super::window;

/// A hand that steadies the gauge, or takes it up before the release, moves the force by no more, N … Common practice, no source.
const HAND_N: f64 = 250.0;
/// … nor by more than this share of it, where the spindle is a small one and its gauge is light.
const HAND_SHARE: f64 = 0.10;
/// What is held lies at the top: so much of the hold may be below it.
const TOP_PERCENT: usize = 90;

/// Falls of the force in one hold.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Falls {
    /// How often it was down, deeper than a hand makes it, and came back.
    pub times: usize,
    /// From when it first came back to when it last did, s.
    pub over_s: f64,
}

/// Those of a clamp, from 1 s after it was clamped to the end of its hold; none of one without a hold so long.
pub(super) fn falls(trace: &Trace<'_>, edges: &Edges) -> Option<Falls> {
    let held = window::held(edges)?;
    let samples = trace.samples_within(held.from_s, held.to_s);
    let (time_s, smooth_n) = (&trace.time_s[samples.clone()], &trace.smooth_n[samples]);
    let top_n = top(smooth_n, HAND_SHARE * edges.own_level_n)?;
    let deep_n = deep_n(trace, edges);
    // It begins up: what only rises to where it is held was never let go.
    let (mut was_up, mut is_down) = (false, false);
    let mut back_s: Vec<f64> = Vec::new();
    for (&at_s, &force_n) in time_s.iter().zip(smooth_n) {
        if force_n > top_n - 0.5 * deep_n {
            back_s.extend(is_down.then_some(at_s));
            (was_up, is_down) = (true, false);
        } else if was_up && force_n < top_n - deep_n {
            is_down = true;
        }
    }
    let over_s = match (back_s.first(), back_s.last()) {
        (Some(first_s), Some(last_s)) => last_s - first_s,
        _ => 0.0,
    };
    Some(Falls {
        times: back_s.len(),
        over_s,
    })
}

/// By how much the force goes down at least where no hand and no noise took it down, N.
pub(super) fn deep_n(trace: &Trace<'_>, edges: &Edges) -> f64 {
    let hand_n = HAND_N.min(HAND_SHARE * edges.own_level_n);
    hand_n.max(trace.margin_n(edges.own_level_n))
}

/// The level that is held: near the top of what was, but where knocks lifted it, by no more than `lifts_n`, the middle.
fn top(values: &[f64], lifts_n: f64) -> Option<f64> {
    let mut values = values.to_vec();
    let last = values.len().checked_sub(1)?;
    let mut at = |percent: usize| {
        let place = last * percent / 100;
        *values.select_nth_unstable_by(place, f64::total_cmp).1
    };
    let (low_n, middle_n, top_n) = (at(100 - TOP_PERCENT), at(50), at(TOP_PERCENT));
    let lifted_n = top_n - middle_n;
    let is_lifted = lifted_n > middle_n - low_n && lifted_n <= lifts_n;
    Some(if is_lifted { middle_n } else { top_n })
}
