//! The settled stretch of a clamp.
//!
//! In come the trace and the edges of a clamp; out go its settled window, what is left out of it, and the samples that
//! count.

use super::edges::Edges;
use super::spike;
use super::trace::{BEFORE_RELEASE_S, SETTLED_FROM_S, Trace};
use crate::statistics;
use std::ops::Range;

/// The settled window ends at the latest this long after the clamp closed.
const SETTLED_TO_S: f64 = 3.0;
/// Middle of a full settled window, counted from the clamping.
pub(super) const FULL_CENTRE_S: f64 = f64::midpoint(SETTLED_FROM_S, SETTLED_TO_S);
/// A shorter hold does not count.
pub(super) const SHORTEST_HOLD_S: f64 = 1.3;
/// Of such a hold, this last share gives the figure that is shown.
const SHORT_HOLD_SHARE: f64 = 0.4;
/// From this share of the window on a bump, or spikes, disturb the clamp; below, they are cut out.
const DISTURBED_SHARE: f64 = 0.20;
/// Margin cut out with a bump on each side.
const BUMP_MARGIN_S: f64 = 0.050;
/// A force that climbs by more than this share of its own level a second still rises: an exponential rise then reads
/// half a per cent low. One that falls so fast still falls.
const MOVES_PER_SECOND: f64 = 0.005;
/// The climb, or the fall, must be this multiple of its standard error from noise.
const MOVES_CERTAINTY: f64 = 4.0;
/// A window of fewer samples shows neither a bump nor a spike.
const ENOUGH_SAMPLES: usize = 10;
/// A duration that is met exactly must not be missed by the last bit of a subtraction.
const ROUNDING_S: f64 = 1e-9;
/// The line through the window is drawn through about this many points of the running median, evenly picked: neighbours
/// within its 50 ms say the same, and all pairs of 2000 points would cost more than the rest of the analysis.
const LINE_POINTS: usize = 200;

/// A stretch of time, s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// From.
    pub from_s: f64,
    /// To.
    pub to_s: f64,
}

impl Window {
    /// Its middle, s.
    pub fn centre_s(&self) -> f64 {
        f64::midpoint(self.from_s, self.to_s)
    }

    /// Its length, s.
    pub fn length_s(&self) -> f64 {
        self.to_s - self.from_s
    }
}

/// How long the clamp was held, s.
pub(super) fn hold_s(edges: &Edges) -> Option<f64> {
    Some(edges.released_s? - edges.clamped_s?)
}

/// Whether the hold is too short to count.
pub(super) fn is_short(edges: &Edges) -> bool {
    hold_s(edges).is_some_and(|hold| hold < SHORTEST_HOLD_S - ROUNDING_S)
}

/// Whether a hold that counts is too short for the whole window.
pub(super) fn is_cut(edges: &Edges) -> bool {
    hold_s(edges).is_some_and(|hold| hold < SETTLED_TO_S + BEFORE_RELEASE_S - ROUNDING_S)
}

/// Settled window: clamped + 1.0 s to the earlier of clamped + 3.0 s and released − 0.1 s; of a hold too short for that,
/// its last 40 %. `None` if the clamp has no beginning or no end.
pub(super) fn settled_window(edges: &Edges) -> Option<Window> {
    let (clamped_s, released_s) = (edges.clamped_s?, edges.released_s?);
    Some(if is_short(edges) {
        Window {
            from_s: released_s - SHORT_HOLD_SHARE * (released_s - clamped_s),
            to_s: released_s,
        }
    } else {
        Window {
            from_s: clamped_s + SETTLED_FROM_S,
            to_s: (clamped_s + SETTLED_TO_S).min(released_s - BEFORE_RELEASE_S),
        }
    })
}

/// What is held: from clamped + 1.0 s to released − 0.1 s, or to where a slow release began.
pub(super) fn held(edges: &Edges) -> Option<Window> {
    let from_s = edges.clamped_s? + SETTLED_FROM_S;
    let quick_s = edges.released_s? - BEFORE_RELEASE_S;
    let to_s = edges.slow_release_s.unwrap_or(quick_s).min(quick_s);
    (to_s > from_s).then_some(Window { from_s, to_s })
}

/// What was found in a settled window.
pub(super) struct Settled {
    /// Mean of the raw samples that count, N, zero not taken off; none if no sample is left.
    pub mean_n: Option<f64>,
    /// How many they are.
    pub samples: usize,
    /// The bump found in it.
    pub bump: Bump,
    /// So fast it still rises, N/s; none where it does not.
    pub rises_n_per_s: Option<f64>,
    /// So fast it falls, N/s; none where it does not.
    pub falls_n_per_s: Option<f64>,
    /// Too few samples for a bump or a spike to be told from what is held.
    pub few_samples: bool,
    /// Slope through the window, N/s, growing force positive.
    pub slope_n_per_s: f64,
}

/// A bump in the settled window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Bump {
    /// None.
    None,
    /// Cut out: total time, s.
    CutOut(f64),
    /// Too long to cut out.
    Disturbed,
}

/// The mean over the window without spikes and short bumps. Nothing is cut as a bump while the force still rises: it
/// bends, and its beginning is no bump.
pub(super) fn settle(
    trace: &Trace<'_>,
    own_level_n: f64,
    window: Window,
    zero_slope_n_per_s: f64,
) -> Settled {
    let samples = trace.samples_within(window.from_s, window.to_s);
    let line = line_through(trace, samples.clone());
    let slope_n_per_s = line.map_or(0.0, |line| line.slope);
    let climb_n_per_s = slope_n_per_s - zero_slope_n_per_s;
    let moves = |n_per_s: f64| moves(trace, own_level_n, window, n_per_s).then_some(n_per_s);
    let (rises_n_per_s, falls_n_per_s) = (moves(climb_n_per_s), moves(-climb_n_per_s));
    let bumped = match line.filter(|_| rises_n_per_s.is_none()) {
        Some(line) => off_line(trace, own_level_n, samples.clone(), line),
        None => Vec::new(),
    };
    let is_spike = |index: &usize| spike::while_held(trace, own_level_n, *index);
    let spikes = samples.clone().filter(is_spike).count();
    let is_kept = |index: &usize| !is_spike(index) && !near(&bumped, trace.time_s[*index]);
    let kept: Vec<usize> = samples.clone().filter(is_kept).collect();
    let disturbed = too_many(bumped.len(), samples.len())
        || too_many(spikes, samples.len())
        || (kept.is_empty() && !samples.is_empty());
    let bump = if disturbed {
        Bump::Disturbed
    } else if bumped.is_empty() {
        Bump::None
    } else {
        let inside = samples
            .clone()
            .filter(|&index| near(&bumped, trace.time_s[index]));
        Bump::CutOut(inside.count() as f64 * window.length_s() / samples.len() as f64)
    };
    let counted: Vec<f64> = match bump {
        Bump::Disturbed => trace.force_n[samples.clone()].to_vec(),
        Bump::CutOut(_) | Bump::None => kept.iter().map(|&index| trace.force_n[index]).collect(),
    };
    Settled {
        mean_n: (!counted.is_empty()).then(|| statistics::mean(&counted)),
        samples: counted.len(),
        bump,
        rises_n_per_s,
        falls_n_per_s,
        few_samples: samples.len() < ENOUGH_SAMPLES,
        slope_n_per_s,
    }
}

/// Whether a force that climbs, or falls, so fast over the window does not stand still yet.
fn moves(trace: &Trace<'_>, own_level_n: f64, window: Window, n_per_s: f64) -> bool {
    let samples = trace.samples_within(window.from_s, window.to_s).len() as f64;
    let noise_n_per_s = trace.noise_n * (12.0 / samples).sqrt() / window.length_s();
    n_per_s > MOVES_PER_SECOND * own_level_n && n_per_s > MOVES_CERTAINTY * noise_n_per_s
}

/// A line through a stretch of the running median.
#[derive(Clone, Copy)]
pub(super) struct Line {
    pub slope: f64,
    /// Its value at the first sample of the stretch …
    intercept: f64,
    /// … and when that was, s.
    start_s: f64,
}

impl Line {
    pub fn at(&self, time_s: f64) -> f64 {
        self.intercept + self.slope * (time_s - self.start_s)
    }
}

/// Theil–Sen line through the running median.
pub(super) fn line_through(trace: &Trace<'_>, samples: Range<usize>) -> Option<Line> {
    let start_s = *trace.time_s.get(samples.start)?;
    let stride = samples.len().div_ceil(LINE_POINTS).max(1);
    let points = || samples.clone().step_by(stride);
    let times: Vec<f64> = points()
        .map(|index| trace.time_s[index] - start_s)
        .collect();
    let values: Vec<f64> = points().map(|index| trace.smooth_n[index]).collect();
    let (slope, intercept) = statistics::theil_sen(&times, &values)?;
    Some(Line {
        slope,
        intercept,
        start_s,
    })
}

/// Times of the samples whose running median is off the line through them.
pub(super) fn off_line(
    trace: &Trace<'_>,
    own_level_n: f64,
    samples: Range<usize>,
    line: Line,
) -> Vec<f64> {
    let margin_n = trace.margin_n(own_level_n);
    let off =
        |index: &usize| (trace.smooth_n[*index] - line.at(trace.time_s[*index])).abs() > margin_n;
    samples
        .filter(off)
        .map(|index| trace.time_s[index])
        .collect()
}

/// Whether `time_s` lies within the margin of one of the sorted `bumped` times.
pub(super) fn near(bumped: &[f64], time_s: f64) -> bool {
    let next = bumped.partition_point(|&bump| bump < time_s - BUMP_MARGIN_S - ROUNDING_S);
    bumped
        .get(next)
        .is_some_and(|&bump| bump <= time_s + BUMP_MARGIN_S + ROUNDING_S)
}

/// Whether so many samples of `all` are too many to be cut out.
pub(super) fn too_many(count: usize, all: usize) -> bool {
    count > 0 && count as f64 >= DISTURBED_SHARE * all as f64
}
