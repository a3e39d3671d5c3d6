//! How a hold ends.
//!
//! In come the trace and the edges of a clamp; out go how the force moved in the last seconds of the hold, and a slip:
//! it went down at once and stayed down. A slope through the whole of a long hold shows neither.

use super::edges::Edges;
use super::sag::Held;
use super::trace::Trace;
use super::window::{self, Window};
use super::zero::Zeros;
use crate::statistics::{self, Line};

/// The last seconds looked at, s: a drop that set in at any time fills at least half of one of them.
const LAST_S: [f64; 7] = [0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0];
/// The shortest of them that shows a drop by itself, s: what is shorter only says what this one may be.
pub(super) const SHORTEST_TOLD_S: f64 = 1.0;
/// A slope through fewer samples is none.
const FEWEST_SAMPLES: usize = 5;
/// A slip is looked for every so often, s.
const SLIP_STEP_S: f64 = 0.02;
/// A force that goes down within this time slips; one that takes longer drops, s.
const SLIP_S: f64 = 0.3;

/// What was held over so long before it counts, s: no knock lasts as long.
const STOOD_S: f64 = 1.0;
/// The end of a stretch, share of it.
const END_SHARE: f64 = 0.25;
/// What stood or stays down for less than this at an end of what is held may be a knock or settling, s.
const STAYS_S: f64 = 0.5;

/// How the force moved in the last seconds of a hold, the shortest stretch first.
pub type Endings = [Option<Ending>; LAST_S.len()];

/// How the force moved from some time in the hold to its end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ending {
    /// N/s, positive = the force falls.
    pub n_per_s: f64,
    /// Its standard error from noise, N/s.
    pub standard_error_n_per_s: f64,
    /// By how much the force wanders up and down over as long a stretch earlier in the hold, N/s.
    pub wander_n_per_s: f64,
    /// Over how long, s.
    pub over_s: f64,
    /// How long the whole stretch is in which the force is held, s.
    pub held_s: f64,
    /// By how much the force is lower at its end than in the second before it, N; none where no second lies before it.
    pub lower_n: Option<f64>,
}

/// The force went down at once while held and stayed down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slip {
    /// When, s.
    pub at_s: f64,
    /// By how much, N.
    pub by_n: f64,
}

/// The last seconds of what is held.
pub(super) fn endings(trace: &Trace<'_>, held: &Held<'_>, zeros: &Zeros) -> Endings {
    let Window { to_s, .. } = held.window;
    let held_s = held.window.length_s();
    LAST_S.map(|over_s| {
        (over_s < held_s).then_some(())?;
        let last = slope(trace, held, to_s - over_s, to_s)?;
        Some(Ending {
            n_per_s: zeros.slope_n_per_s() - last.slope,
            standard_error_n_per_s: last.slope_standard_error,
            wander_n_per_s: wander(trace, held, over_s),
            over_s,
            held_s,
            lower_n: lower_n(held, over_s),
        })
    })
}

/// A knock comes back to where it was; what drops does not.
fn lower_n(held: &Held<'_>, over_s: f64) -> Option<f64> {
    let Window { from_s, to_s } = held.window;
    let began_s = to_s - over_s;
    let level_n = |from_s: f64, to_s: f64| {
        let (_, of) = kept(held, from_s, to_s)?;
        (of.len() >= FEWEST_SAMPLES).then(|| statistics::median(of))
    };
    let before_n = level_n(began_s - STOOD_S, began_s).filter(|_| began_s - STOOD_S >= from_s)?;
    Some(before_n - level_n(to_s - END_SHARE * over_s, to_s)?)
}

/// The kept samples of a stretch: their times, and their forces.
fn kept<'a>(held: &'a Held<'_>, from_s: f64, to_s: f64) -> Option<(&'a [f64], &'a [f64])> {
    let first = held.time_s.partition_point(|&time_s| time_s < from_s);
    let end = held.time_s.partition_point(|&time_s| time_s <= to_s);
    Some((held.time_s.get(first..end)?, held.force_n.get(first..end)?))
}

/// Least-squares slope through the kept samples of a stretch, if they fill at least half of it. Its standard error is no
/// less than the noise of the record makes it: the scatter of few samples may be small by chance.
fn slope(trace: &Trace<'_>, held: &Held<'_>, from_s: f64, to_s: f64) -> Option<Line> {
    let (times_s, forces_n) = kept(held, from_s, to_s)?;
    let length_s = times_s.last()? - times_s.first()?;
    if times_s.len() < FEWEST_SAMPLES || length_s < 0.5 * (to_s - from_s) {
        return None;
    }
    let line = statistics::least_squares_line(times_s, forces_n)?;
    let from_noise = trace.noise_n * (12.0 / times_s.len() as f64).sqrt() / length_s;
    Some(Line {
        slope_standard_error: line.slope_standard_error.max(from_noise),
        ..line
    })
}

/// By how much the force rose again after it had fallen, over stretches of that length before the last one, N/s: what a
/// pump or a swaying gauge does by itself. A force that only rises or only falls does not wander.
fn wander(trace: &Trace<'_>, held: &Held<'_>, over_s: f64) -> f64 {
    let Window { from_s, to_s } = held.window;
    let steps = (1_u32..).map(|step| to_s - over_s - 0.5 * over_s * f64::from(step));
    let mut starts: Vec<f64> = steps.take_while(|&start_s| start_s >= from_s).collect();
    starts.reverse();
    let slopes = starts
        .into_iter()
        .filter_map(|start_s| slope(trace, held, start_s, start_s + over_s));
    let (mut fell, mut wanders) = (0.0_f64, 0.0_f64);
    for line in slopes {
        wanders = wanders.max(fell.min(line.slope));
        fell = fell.max(-line.slope);
    }
    wanders
}

/// The largest slip in what is held: over a bump's margin within 0.3 s, and it never comes back within the margin.
pub(super) fn slip(trace: &Trace<'_>, edges: &Edges) -> Option<Slip> {
    let Window { from_s, to_s } = window::held(edges)?;
    if trace.broken(from_s, to_s) {
        return None;
    }
    let samples = trace.samples_within(from_s, to_s);
    let (time_s, smooth_n) = (
        &trace.time_s[samples.clone()],
        &trace.smooth_n[samples.clone()],
    );
    let mut later_n = smooth_n.to_vec();
    for index in (1..later_n.len()).rev() {
        later_n[index - 1] = later_n[index - 1].max(later_n[index]);
    }
    let every_s = time_s.first().map(|first_s| {
        let times = (0_u32..).map(move |step| first_s + SLIP_STEP_S * f64::from(step));
        times.take_while(|&at_s| at_s <= to_s)
    });
    let slips = every_s.into_iter().flatten().filter_map(|at_s| {
        let after = time_s
            .partition_point(|&time| time < at_s)
            .min(time_s.len() - 1);
        let before = time_s
            .partition_point(|&time| time < at_s - SLIP_S)
            .min(after);
        // The least of what was held before: a knock upwards that ends is no slip.
        let stood = time_s.partition_point(|&time| time < time_s[before] - STOOD_S);
        let stood_s = time_s[before] - time_s[stood];
        let from_n = smooth_n[stood..=before]
            .iter()
            .copied()
            .fold(f64::INFINITY, f64::min);
        let by_n = from_n - later_n[after];
        (stood_s >= STAYS_S && to_s - time_s[after] >= STAYS_S).then_some(Slip {
            at_s: time_s[before],
            by_n,
        })
    });
    slips
        .max_by(|a, b| a.by_n.total_cmp(&b.by_n))
        .filter(|slip| slip.by_n > trace.margin_n(edges.own_level_n))
}
