//! A zero that moved while the record ran: a meter zeroed while something pushes at the gauge, or started anew under load.
//!
//! In come the trace, the edges of its clamps and the free level. Out go how far below free it stands for a while anywhere in the
//! record; the moment at which the reading at rest jumps up from one sample to the next, where the clamps of the same record show
//! that a force takes longer; and from when on it is never free again although the force goes on changing.

use super::edges::Edges;
use super::hardly;
use super::trace::Trace;
use super::zero::FreeLevel;
use crate::statistics;

/// What stands so long is no knock, s.
const STANDS_S: f64 = 1.0;
/// Blocks of it, s.
const BLOCK_S: f64 = 0.25;
/// The push-out and what swings after it are gone so long after a foot, s.
const AFTER_FALL_S: f64 = 0.3;
/// A level at rest stands for so long on either side of a jump, s.
const BESIDE_S: f64 = 0.3;
/// Fewer samples show no level.
const FEWEST_BESIDE: usize = 5;
/// A jump is this share of the reference at least …
const JUMP_SHARE: f64 = 0.05;
/// … and this multiple of the noise.
const JUMP_NOISE_MULTIPLE: f64 = 10.0;
/// So near its level a jump ends in one sample, as a share of it.
const ALL_OF_IT_SHARE: f64 = 0.15;
/// Between these shares of its level an edge shows how fast a force changes.
const EDGE_SHARES: [f64; 2] = [0.2, 0.8];
/// The edges of the clamps have so many samples between them, or the record is too coarse to tell a jump from a force.
const FEWEST_ON_AN_EDGE: usize = 3;
/// What goes on changing after the last release does so by this share of the reference.
const CHANGES_SHARE: f64 = 0.25;

/// What shows that the zero moved.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct ZeroMoved {
    /// How far below free the reading stands for a second or longer, N.
    pub below_n: f64,
    /// When the reading at rest jumps, s, and by how much, N.
    pub jump: Option<(f64, f64)>,
    /// From when on it is never free again, s.
    pub never_free_from_s: Option<f64>,
}

impl ZeroMoved {
    pub(super) fn of(
        trace: &Trace<'_>,
        all: &[Edges],
        free: Option<FreeLevel>,
        reference_n: f64,
    ) -> Self {
        let Some(free) = free else {
            return Self::default();
        };
        Self {
            below_n: below_n(trace, all, free),
            jump: jump(trace, all, free, reference_n),
            never_free_from_s: never_free(trace, all, reference_n),
        }
    }
}

/// The median of each block of a stretch, with the time in its middle.
fn blocks(trace: &Trace<'_>, samples: std::ops::Range<usize>) -> Vec<(f64, f64)> {
    let mut blocks = Vec::new();
    let mut first = samples.start;
    while first < samples.end {
        let to_s = trace.time_s[first] + BLOCK_S;
        let in_block = trace.time_s[first..samples.end].partition_point(|&time| time < to_s);
        let last = (first + in_block.max(1)).min(samples.end);
        let level_n = statistics::median(&trace.smooth_n[first..last]);
        blocks.push((trace.time_s[first] + 0.5 * BLOCK_S, level_n));
        first = last;
    }
    blocks
}

fn below_n(trace: &Trace<'_>, all: &[Edges], free: FreeLevel) -> f64 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "four"
    )]
    let in_a_row = (STANDS_S / BLOCK_S) as usize;
    let mut lowest_n = 0.0_f64;
    for pause in hardly::pauses(trace, all, AFTER_FALL_S, 0.0) {
        let below: Vec<f64> = blocks(trace, pause)
            .into_iter()
            .map(|(at_s, level_n)| free.at(at_s) - level_n)
            .collect();
        for stretch in below.windows(in_a_row) {
            lowest_n = lowest_n.max(stretch.iter().copied().fold(f64::INFINITY, f64::min));
        }
    }
    lowest_n
}

/// Samples between two shares of its level on an edge of a clamp, the median of all; none where no edge is whole.
fn on_an_edge(trace: &Trace<'_>, all: &[Edges], base_n: f64) -> Option<usize> {
    let on_edge = |clamp: &Edges, from_s: f64, to_s: f64| {
        let within = trace.samples_within(from_s, to_s);
        let between = EDGE_SHARES.map(|share| base_n + share * clamp.own_level_n);
        let on_it = trace.force_n[within].iter();
        on_it
            .filter(|force_n| (between[0]..between[1]).contains(*force_n))
            .count()
    };
    let edges = all.iter().flat_map(|clamp| {
        let up = clamp
            .clamped_s
            .map(|at_s| on_edge(clamp, clamp.rising_foot_s, at_s + 0.5));
        let down = clamp
            .released_s
            .map(|at_s| on_edge(clamp, at_s - 0.5, clamp.falling_foot_s));
        [up, down]
    });
    let mut samples: Vec<usize> = edges.flatten().collect();
    samples.sort_unstable();
    samples.get(samples.len() / 2).copied()
}

fn jump(trace: &Trace<'_>, all: &[Edges], free: FreeLevel, reference_n: f64) -> Option<(f64, f64)> {
    let least_n = (JUMP_SHARE * reference_n).max(JUMP_NOISE_MULTIPLE * trace.noise_n);
    let base_n = free.at(trace.time_s.first().copied()?);
    if on_an_edge(trace, all, base_n)? < FEWEST_ON_AN_EDGE {
        return None;
    }
    let mut found: Option<(f64, f64)> = None;
    let mut deepest_after_n = 0.0_f64;
    for pause in hardly::pauses(trace, all, AFTER_FALL_S, 0.0) {
        for index in pause.clone().skip(1) {
            let step_n = trace.force_n[index] - trace.force_n[index - 1];
            if step_n < (1.0 - ALL_OF_IT_SHARE) * least_n {
                continue;
            }
            let jumps = rise_in_one_step(trace, &pause, index).filter(|by_n| *by_n >= least_n);
            if let Some(by_n) = jumps {
                // One that comes again is the way this gauge comes off the push-out.
                if found.is_some() {
                    return None;
                }
                found = Some((trace.time_s[index], by_n));
            }
        }
        // A gauge that comes to rest there again was lifted, and nobody zeroed it.
        if let Some((at_s, _)) = found {
            let after = blocks(trace, pause).into_iter();
            let below = after
                .filter(|(block_s, _)| *block_s > at_s + BLOCK_S)
                .map(|(block_s, level_n)| free.at(block_s) - level_n);
            deepest_after_n = below.fold(deepest_after_n, f64::max);
        }
    }
    let (at_s, by_n) = found?;
    // Where no clamp comes after it, none reads too high by it.
    let clamps_after = all.last().is_some_and(|clamp| clamp.rising_foot_s > at_s);
    (clamps_after && deepest_after_n < 0.5 * by_n).then_some((at_s, by_n))
}

/// By how much a level at rest stands higher behind a step than before it, where all of that lies between two neighbouring samples.
fn rise_in_one_step(
    trace: &Trace<'_>,
    pause: &std::ops::Range<usize>,
    index: usize,
) -> Option<f64> {
    let at_s = trace.time_s[index];
    if at_s - trace.time_s[index - 1] > 2.5 * trace.spacing_s {
        return None;
    }
    let before = trace.samples_within(at_s - BESIDE_S, trace.time_s[index - 1]);
    let after = trace.samples_within(at_s, at_s + BESIDE_S);
    let (before, after) = (
        before.start.max(pause.start)..index,
        index..after.end.min(pause.end),
    );
    if before.len() < FEWEST_BESIDE || after.len() < FEWEST_BESIDE {
        return None;
    }
    let of = |samples: &std::ops::Range<usize>| {
        let forces = &trace.force_n[samples.clone()];
        let level_n = statistics::median(forces);
        let apart: Vec<f64> = forces.iter().map(|force| (force - level_n).abs()).collect();
        (level_n, statistics::median(&apart))
    };
    let ((low_n, low_apart_n), (high_n, high_apart_n)) = (of(&before), of(&after));
    let by_n = high_n - low_n;
    let near_n = (ALL_OF_IT_SHARE * by_n).max(4.0 * trace.noise_n);
    let all_of_it = (trace.force_n[index - 1] - low_n).abs() < near_n
        && (trace.force_n[index] - high_n).abs() < near_n;
    (all_of_it && low_apart_n.max(high_apart_n) < 0.1 * by_n).then_some(by_n)
}

/// A clamp to which no release was found, over which the force goes down and up like a clamp.
fn never_free(trace: &Trace<'_>, all: &[Edges], reference_n: f64) -> Option<f64> {
    let last = all.last().filter(|clamp| clamp.released_s.is_none())?;
    let from_s = last.clamped_s? + STANDS_S;
    let end_s = trace.time_s.last().copied()? - STANDS_S;
    let levels: Vec<f64> = blocks(trace, trace.samples_within(from_s, end_s))
        .into_iter()
        .map(|(_, level_n)| level_n)
        .collect();
    let mut lowest_n = f64::INFINITY;
    let rises_again = levels.iter().any(|&level_n| {
        lowest_n = lowest_n.min(level_n);
        level_n - lowest_n > CHANGES_SHARE * reference_n
    });
    rises_again.then_some(from_s - STANDS_S)
}
