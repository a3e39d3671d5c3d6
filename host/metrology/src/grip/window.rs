//! The settled stretch of a clamp.
//!
//! In come the trace and the edges of a clamp; out go its settled window, the bump found in it, the samples that count,
//! and how fast the force drops while held.

use super::edges::{Edges, Trace};
use crate::statistics;

/// The settled window begins this long after the clamp closed …
const SETTLED_FROM_S: f64 = 1.0;
/// … and ends at the latest this long after it.
const SETTLED_TO_S: f64 = 3.0;
/// Middle of a full settled window, counted from the clamping.
pub(super) const FULL_CENTRE_S: f64 = f64::midpoint(SETTLED_FROM_S, SETTLED_TO_S);
/// Nothing is read nearer than this to the release.
const BEFORE_RELEASE_S: f64 = 0.1;
/// A shorter hold does not count.
const SHORTEST_HOLD_S: f64 = 1.3;
/// Of such a hold, this last share gives the figure that is shown.
const SHORT_HOLD_SHARE: f64 = 0.4;
/// The drop while held is told only from a stretch at least this long.
const SAG_MIN_S: f64 = 2.0;
/// A bump is off the window's line by this share of the own level …
const BUMP_SHARE: f64 = 0.02;
/// … or this multiple of the noise, whichever is more.
const BUMP_NOISE_MULTIPLE: f64 = 6.0;
/// From this share of the window on a bump disturbs the clamp; below, it is cut out.
const DISTURBED_SHARE: f64 = 0.20;
/// Margin cut out with a bump on each side.
const BUMP_MARGIN_S: f64 = 0.050;
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

/// What was found in a settled window.
pub(super) struct Settled {
    /// Mean of the raw samples that count, N, zero not taken off; none if no sample is left.
    pub mean_n: Option<f64>,
    /// How many they are.
    pub samples: usize,
    /// The knock found in it.
    pub bump: Bump,
    /// Slope through the window, N/s, growing force positive.
    pub slope_n_per_s: f64,
}

/// A knock in the settled window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Bump {
    /// None.
    None,
    /// Cut out: total time, s.
    CutOut(f64),
    /// Too long to cut out.
    Disturbed,
}

/// The mean over the window with a short bump cut out.
pub(super) fn settle(trace: &Trace<'_>, own_level_n: f64, window: Window) -> Settled {
    let samples = trace.samples_within(window.from_s, window.to_s);
    let (time_s, smooth_n) = (
        &trace.time_s[samples.clone()],
        &trace.smooth_n[samples.clone()],
    );
    let line = line_through(time_s, smooth_n);
    let limit_n = (BUMP_SHARE * own_level_n).max(BUMP_NOISE_MULTIPLE * trace.noise_n);
    let bumped: Vec<f64> = match line {
        Some((slope, intercept)) => {
            let off = |(time, value): &(&f64, &f64)| {
                (**value - (intercept + slope * (**time - time_s[0]))).abs() > limit_n
            };
            time_s
                .iter()
                .zip(smooth_n)
                .filter(off)
                .map(|(time, _)| *time)
                .collect()
        }
        None => Vec::new(),
    };
    let kept: Vec<f64> = trace.time_s[samples.clone()]
        .iter()
        .zip(&trace.force_n[samples.clone()])
        .filter(|(time, _)| !near(&bumped, **time))
        .map(|(_, force)| *force)
        .collect();
    let bump = if bumped.is_empty() {
        Bump::None
    } else if bumped.len() as f64 >= DISTURBED_SHARE * time_s.len() as f64 || kept.is_empty() {
        Bump::Disturbed
    } else {
        let spacing_s = window.length_s() / time_s.len() as f64;
        Bump::CutOut((time_s.len() - kept.len()) as f64 * spacing_s)
    };
    let counted = match bump {
        Bump::CutOut(_) => kept.as_slice(),
        Bump::None | Bump::Disturbed => &trace.force_n[samples],
    };
    let mean_n = (!counted.is_empty()).then(|| statistics::mean(counted));
    Settled {
        mean_n,
        samples: counted.len(),
        bump,
        slope_n_per_s: line.map_or(0.0, |(slope, _)| slope),
    }
}

/// Theil–Sen line through the running median, times counted from the first.
fn line_through(time_s: &[f64], smooth_n: &[f64]) -> Option<(f64, f64)> {
    let stride = time_s.len().div_ceil(LINE_POINTS).max(1);
    let times: Vec<f64> = time_s
        .iter()
        .step_by(stride)
        .map(|time| time - time_s[0])
        .collect();
    let values: Vec<f64> = smooth_n.iter().step_by(stride).copied().collect();
    statistics::theil_sen(&times, &values)
}

/// Whether `time_s` lies within the margin of one of the sorted `bumped` times.
fn near(bumped: &[f64], time_s: f64) -> bool {
    let next = bumped.partition_point(|&bump| bump < time_s - BUMP_MARGIN_S - ROUNDING_S);
    bumped
        .get(next)
        .is_some_and(|&bump| bump <= time_s + BUMP_MARGIN_S + ROUNDING_S)
}

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

/// Minus the least-squares slope from clamped + 1.0 s to released − 0.1 s. `None` under 2 s, or across a gap or fault.
pub(super) fn sag(trace: &Trace<'_>, edges: &Edges) -> Option<Sag> {
    let (from_s, to_s) = (
        edges.clamped_s? + SETTLED_FROM_S,
        edges.released_s? - BEFORE_RELEASE_S,
    );
    if to_s - from_s < SAG_MIN_S - ROUNDING_S || trace.broken(from_s, to_s) {
        return None;
    }
    let line = |from_s: f64| {
        let samples = trace.samples_within(from_s, to_s);
        let times: Vec<f64> = trace.time_s[samples.clone()]
            .iter()
            .map(|time| time - from_s)
            .collect();
        statistics::least_squares_line(&times, &trace.force_n[samples])
    };
    let whole = line(from_s)?;
    let late = line(f64::midpoint(from_s, to_s))?;
    Some(Sag {
        n_per_s: -whole.slope,
        standard_error_n_per_s: whole.slope_standard_error,
        over_s: to_s - from_s,
        late_n_per_s: -late.slope,
    })
}
