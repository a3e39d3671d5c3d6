//! An instrument that does not follow the force.
//!
//! In come the trace and the clamps; out goes whether the reading stands still while clamped (a meter on PEAK or HOLD, an
//! amplifier at its end) or in the pauses (what lies below is cut off), where the rest of the record shows noise; and when
//! it stood still in one pause as in no other (a logger that hung).

use super::edges::Edges;
use super::hardly;
use super::trace::Trace;
use super::window;
use crate::statistics;
use std::cmp::Ordering;
use std::ops::Range;

/// From this share of neighbours alike on a reading stands still.
const ALIKE_SHARE: f64 = 0.8;
/// A reading with under this share of the noise elsewhere stands still as well.
const NOISE_SHARE: f64 = 0.1;
/// Only noise of so many steps of the record is missed where it is not seen.
const STEPS: f64 = 3.0;
/// Less noise than this share of the highest force is none.
const LEAST_SHARE: f64 = 2e-5;
/// A reading in coarse steps flickers, in the middle of a step, to either side as often as it does to the rarer one
/// elsewhere. Where so many flickers are to be expected …
const FLICKERS: f64 = 12.0;
/// … no more changes than this are standing still.
const FEW_CHANGES: usize = 1;
/// In a pause that stands still so many changes of the reading are missed.
const MISSED_CHANGES: f64 = 20.0;
/// A bend of this share of the noise is none.
const STRAIGHT_SHARE: f64 = 0.05;
/// What hangs on after a clamp is part of it, s.
const TAIL_S: f64 = 0.2;
/// Fewer samples show no noise.
const FEWEST_SAMPLES: usize = 10;
/// The gauge hangs free from so long after a falling foot, s …
const AFTER_FALL_S: f64 = 0.5;
/// … to so long before a rising one, s.
const BEFORE_RISE_S: f64 = 0.2;
/// Readings within this share of the highest one are at the same end.
const SAME_END_SHARE: f64 = 0.002;

/// Where the reading stands still.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Standstill {
    /// While clamped.
    Clamped,
    /// While clamped, at the highest reading of the record, N.
    AtItsEnd(f64),
    /// In the pauses, at the lowest reading of the record or at 0, N.
    Free(f64),
}

/// Where the reading stands still, of the clamps that count by `counts`; none where the record has no noise anywhere, or
/// is too coarse to show it.
pub(super) fn standstill(
    trace: &Trace<'_>,
    step_n: f64,
    all: &[Edges],
    counts: impl Fn(usize) -> bool,
) -> Option<Standstill> {
    let enough = |samples: &Range<usize>| samples.len() > FEWEST_SAMPLES;
    let held = |(index, edges): (usize, &Edges)| {
        let held = window::held(edges).filter(|_| counts(index))?;
        Some(trace.samples_within(held.from_s, held.to_s))
    };
    let holds: Vec<Range<usize>> = all.iter().enumerate().filter_map(held).collect();
    let holds: Vec<Range<usize>> = holds.into_iter().filter(enough).collect();
    let pauses = hardly::pauses(trace, all, AFTER_FALL_S, BEFORE_RISE_S);
    let pauses: Vec<Range<usize>> = pauses.into_iter().filter(enough).collect();
    let stands = |samples: &Range<usize>, elsewhere_n: f64| {
        let forces_n = &trace.force_n[samples.clone()];
        alike(forces_n) >= ALIKE_SHARE || noise_n(forces_n) < NOISE_SHARE * elsewhere_n
    };
    let highest_n = trace.force_n.iter().copied().fold(0.0, f64::max);
    let least_n = (STEPS * step_n).max(LEAST_SHARE * highest_n);
    let shows = |noise_n: f64| noise_n > 0.0 && noise_n >= least_n;
    let flickers = flickers(trace, &pauses);
    let (free_n, held_n) = (typical(trace, &pauses), typical(trace, &holds));
    let level_n = |samples: &Range<usize>| statistics::median(&trace.force_n[samples.clone()]);
    let still: Vec<f64> = holds
        .iter()
        .filter(|samples| {
            shows(free_n) && stands(samples, free_n) || never_flickers(trace, samples, flickers)
        })
        .map(level_n)
        .collect();
    if !still.is_empty() {
        let at_end = |level: &f64| highest_n - level <= SAME_END_SHARE * highest_n.abs();
        return Some(if still.iter().all(at_end) {
            Standstill::AtItsEnd(highest_n)
        } else {
            Standstill::Clamped
        });
    }
    if !shows(held_n) {
        return None;
    }
    let lowest_n = trace.force_n.iter().copied().fold(f64::INFINITY, f64::min);
    let is_floor = |level: &f64| (level - lowest_n).abs() <= step_n || level.abs() <= step_n;
    pauses
        .iter()
        .filter(|samples| alike(&trace.force_n[(*samples).clone()]) >= ALIKE_SHARE)
        .map(level_n)
        .find(is_floor)
        .map(Standstill::Free)
}

/// The one number the reading shows in every pause, N, where by its flicker while clamped it should have changed: the
/// instrument sets its own zero.
pub(super) fn own_zero_n(trace: &Trace<'_>, all: &[Edges]) -> Option<f64> {
    let held = all.iter().filter_map(window::held);
    let holds: Vec<Range<usize>> = held
        .map(|held| trace.samples_within(held.from_s, held.to_s))
        .collect();
    let pauses = hardly::pauses(trace, all, AFTER_FALL_S, BEFORE_RISE_S);
    let free: Vec<f64> = pauses
        .iter()
        .flat_map(|pause| &trace.force_n[pause.clone()])
        .copied()
        .collect();
    let expected = 2.0 * flickers(trace, &holds) * free.len() as f64;
    let is_one = !free.windows(2).any(changes);
    (pauses.len() > 1 && is_one && expected >= FLICKERS).then(|| free[0])
}

/// Flickers to the rarer side in the pauses, a sample: how often the reading leaves its usual step upwards, and downwards,
/// the lesser of both. What drifts leaves it to one side, or seldom.
fn flickers(trace: &Trace<'_>, pauses: &[Range<usize>]) -> f64 {
    let samples: usize = pauses.iter().map(Range::len).sum();
    let rarer = |pause: &Range<usize>| {
        let forces_n = &trace.force_n[pause.clone()];
        let usual_n = statistics::median(forces_n);
        let sides: Vec<_> = forces_n.iter().map(|f| f.total_cmp(&usual_n)).collect();
        let leaves = |side| {
            let pairs = sides.windows(2);
            pairs
                .filter(|pair| pair[1] == side && pair[0] != side)
                .count()
        };
        leaves(Ordering::Greater).min(leaves(Ordering::Less))
    };
    let all: usize = pauses.iter().map(rarer).sum();
    all as f64 / samples.max(1) as f64
}

fn never_flickers(trace: &Trace<'_>, samples: &Range<usize>, flickers: f64) -> bool {
    let forces_n = &trace.force_n[samples.clone()];
    let changes = forces_n.windows(2).filter(|pair| changes(pair)).count();
    changes <= FEW_CHANGES && 2.0 * flickers * forces_n.len() as f64 >= FLICKERS
}

fn changes(pair: &[f64]) -> bool {
    pair[0].total_cmp(&pair[1]).is_ne()
}

/// Stretches of the pauses in which the reading stands still to the last digit, where it changes in the others: from when
/// to when, s.
pub(super) fn stopped(trace: &Trace<'_>, all: &[Edges]) -> Vec<(f64, f64)> {
    without_news(trace, all, |forces_n| {
        forces_n.windows(2).map(changes).collect()
    })
}

/// Stretches of the pauses in which the reading runs on one way without a bend, where it bends in the others: somebody drew a
/// line from one reading to the next over what was lost. From when to when, s.
///
/// Two steps of the last digit are no bend, as a line that was rounded has them; and a line never turns back.
pub(super) fn straight(trace: &Trace<'_>, all: &[Edges], step_n: f64) -> Vec<(f64, f64)> {
    let bound_n = (2.0 * step_n).max(STRAIGHT_SHARE * trace.noise_n) * (1.0 + 1e-6);
    without_news(trace, all, |forces_n| {
        let mut went = 0.0_f64;
        let mut before_n: Option<f64> = None;
        let bends = forces_n.windows(2).map(|pair| {
            let now_n = pair[1] - pair[0];
            let turns = now_n * went < 0.0;
            let bends = before_n.is_some_and(|before_n| (now_n - before_n).abs() > bound_n);
            if now_n.abs() > 0.0 {
                went = now_n;
            }
            before_n = Some(now_n);
            turns || bends
        });
        bends.collect()
    })
}

/// Stretches of the pauses in which no reading is news, where so many are in the others that a good part of them is missed:
/// from when to when, s. `news` says of the readings of a pause, from each to the next, whether the next one is.
fn without_news(
    trace: &Trace<'_>,
    all: &[Edges],
    news: impl Fn(&[f64]) -> Vec<bool>,
) -> Vec<(f64, f64)> {
    let pauses = hardly::pauses(trace, all, TAIL_S, 0.0);
    let of_pauses: Vec<Vec<bool>> = pauses
        .iter()
        .map(|pause| news(&trace.force_n[pause.clone()]))
        .collect();
    let pairs: usize = of_pauses.iter().map(Vec::len).sum();
    let changed = of_pauses.iter().flatten().filter(|news| **news).count();
    let mut found = Vec::new();
    for (pause, news) in pauses.iter().zip(&of_pauses) {
        let mut first = 0;
        for index in 0..=news.len() {
            if index < news.len() && !news[index] {
                continue;
            }
            let without = index - first;
            let elsewhere = pairs.saturating_sub(without).max(1) as f64;
            let missed = without as f64 * changed as f64 / elsewhere;
            if missed >= MISSED_CHANGES {
                let time_s = |place: usize| trace.time_s[pause.start + place];
                found.push((time_s(first), time_s(index)));
            }
            first = index + 1;
        }
    }
    found
}

/// Share of the neighbours that read alike to the last digit.
fn alike(forces_n: &[f64]) -> f64 {
    let pairs = forces_n.windows(2);
    let all = pairs.len().max(1) as f64;
    // Readings come in steps, so that equal ones are equal to the last bit.
    let alike = pairs.filter(|pair| !changes(pair));
    alike.count() as f64 / all
}

/// Noise of a force that may climb, fall or sway meanwhile, N: 1.4826 × median |second difference| / √6.
fn noise_n(forces_n: &[f64]) -> f64 {
    let bends: Vec<f64> = forces_n
        .windows(3)
        .map(|three| (three[0] - 2.0 * three[1] + three[2]).abs())
        .collect();
    if bends.is_empty() {
        0.0
    } else {
        1.4826 * statistics::median(&bends) / 6.0_f64.sqrt()
    }
}

/// Median of the noise in stretches, N; 0 without one.
fn typical(trace: &Trace<'_>, stretches: &[Range<usize>]) -> f64 {
    let noises: Vec<f64> = stretches
        .iter()
        .map(|samples| noise_n(&trace.force_n[samples.clone()]))
        .collect();
    if noises.is_empty() {
        0.0
    } else {
        statistics::median(&noises)
    }
}
