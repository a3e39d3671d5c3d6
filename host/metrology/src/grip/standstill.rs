//! An instrument that does not follow the force.
//!
//! In come the trace and the clamps; out goes whether the reading stands still while clamped (a meter on PEAK or HOLD, an
//! amplifier at its end) or in the pauses (what lies below is cut off), where the rest of the record shows noise.

use super::edges::Edges;
use super::hardly;
use super::trace::Trace;
use super::window;
use crate::statistics;
use std::ops::Range;

/// From this share of neighbours alike on a reading stands still.
const ALIKE_SHARE: f64 = 0.8;
/// A reading with under this share of the noise elsewhere stands still as well.
const NOISE_SHARE: f64 = 0.1;
/// Only noise of so many steps of the record is missed where it is not seen.
const STEPS: f64 = 3.0;
/// Less noise than this share of the highest force is none.
const LEAST_SHARE: f64 = 2e-5;
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
    let (free_n, held_n) = (typical(trace, &pauses), typical(trace, &holds));
    let level_n = |samples: &Range<usize>| statistics::median(&trace.force_n[samples.clone()]);
    if shows(free_n) {
        let still: Vec<f64> = holds
            .iter()
            .filter(|samples| stands(samples, free_n))
            .map(level_n)
            .collect();
        let at_end = |level: &f64| highest_n - level <= SAME_END_SHARE * highest_n.abs();
        if !still.is_empty() {
            return Some(if still.iter().all(at_end) {
                Standstill::AtItsEnd(highest_n)
            } else {
                Standstill::Clamped
            });
        }
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

/// Share of the neighbours that read alike to the last digit.
fn alike(forces_n: &[f64]) -> f64 {
    let pairs = forces_n.windows(2);
    let all = pairs.len().max(1) as f64;
    // Readings come in steps, so that equal ones are equal to the last bit.
    let alike = pairs.filter(|pair| pair[0].total_cmp(&pair[1]).is_eq());
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
