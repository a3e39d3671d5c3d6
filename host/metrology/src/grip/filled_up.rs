//! A force that falls and is filled up again within the hold.
//!
//! In come the held samples of a clamp and its zeros; out goes how fast the force falls between the fills. A slope through the
//! whole of a hold shows nothing of it: a pump or an accumulator gives back what a leak takes.

use super::sag::Held;
use super::zero::Zeros;
use crate::statistics;

/// The hold is looked at in pieces of these lengths, s: between two fills lie several; in longer ones less noise hides which way
/// the force goes. What is known most surely is told.
const PIECES_S: [f64; 3] = [0.15, 0.3, 0.6];
/// They begin so far into the first of them, parts of one: what a hum shows in pieces that fit it is gone in others, what a leak
/// shows is in all, but where noise hides it once.
const BEGINS: [f64; 4] = [0.0, 0.31, 0.57, 0.83];
const SHOWN_IN: usize = 3;
/// A piece of fewer samples has no slope of its own and is made longer.
const FEWEST_SAMPLES: usize = 4;
/// Fewer pieces have no usual slope.
const FEWEST_PIECES: usize = 8;
/// The force falls for most of the time …
const FALLS_SHARE: f64 = 2.0 / 3.0;
/// … and is filled up so many times as fast. What sways falls for over two thirds of a hold only where it falls at more than
/// a third of its steepest.
const FILLS_TIMES: f64 = 3.0;
/// A median of normal scatter is known this many times less surely than the mean.
const MEDIAN_LESS_SURE: f64 = 1.253;
/// Standard deviation of a normal scatter over its median absolute deviation.
const OVER_MEDIAN_DEVIATION: f64 = 1.4826;

/// How a force falls between its fills.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FilledUp {
    /// N/s, positive = the force falls: the usual slope of the pieces.
    pub n_per_s: f64,
    /// Its standard error from the scatter of the pieces, N/s.
    pub standard_error_n_per_s: f64,
    /// What is given back in the hold, N/s on the average.
    pub given_back_n_per_s: f64,
    /// Length of what is held, s.
    pub over_s: f64,
}

/// The usual slope of the pieces of a hold in which the force falls most of the time and rises faster than it falls. `None` of
/// one that does not, and where there are too few pieces.
pub(super) fn filled_up(held: &Held<'_>, zeros: &Zeros) -> Option<FilledUp> {
    let surely = |of: &FilledUp| of.n_per_s / of.standard_error_n_per_s;
    let of_length = |piece_s| {
        let found = BEGINS
            .into_iter()
            .map(|begins| between_fills(held, &pieces(held, piece_s, begins), zeros));
        let mut found: Vec<FilledUp> = found.flatten().collect();
        found.sort_by(|a, b| surely(a).total_cmp(&surely(b)));
        let shown = found.len() >= SHOWN_IN;
        found
            .get(found.len().saturating_sub(1) / 2)
            .copied()
            .filter(|_| shown)
    };
    let found = PIECES_S.into_iter().filter_map(of_length);
    found.max_by(|a, b| surely(a).total_cmp(&surely(b)))
}

fn between_fills(held: &Held<'_>, pieces: &[f64], zeros: &Zeros) -> Option<FilledUp> {
    if pieces.len() < FEWEST_PIECES {
        return None;
    }
    let usual = statistics::median(pieces);
    let falling = pieces.iter().filter(|slope| **slope < 0.0).count() as f64;
    let steepest = pieces.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if falling < FALLS_SHARE * pieces.len() as f64 || steepest < -FILLS_TIMES * usual {
        return None;
    }
    let off: Vec<f64> = pieces.iter().map(|slope| (slope - usual).abs()).collect();
    let scatter = OVER_MEDIAN_DEVIATION * statistics::median(&off);
    let whole = statistics::least_squares_line(&held.time_s, &held.force_n)?.slope;
    Some(FilledUp {
        n_per_s: zeros.slope_n_per_s() - usual,
        standard_error_n_per_s: MEDIAN_LESS_SURE * scatter / (pieces.len() as f64).sqrt(),
        given_back_n_per_s: whole - usual,
        over_s: held.window.length_s(),
    })
}

/// Slopes through stretches that lie side by side, N/s. One over which samples are left out has none.
fn pieces(held: &Held<'_>, piece_s: f64, begins: f64) -> Vec<f64> {
    let (time_s, force_n) = (&held.time_s, &held.force_n);
    let mut slopes = Vec::new();
    let first_s = time_s.first().copied().unwrap_or_default();
    let mut from = time_s.partition_point(|&time| time < first_s + begins * piece_s);
    while from < time_s.len() {
        let end = time_s.partition_point(|&time| time < time_s[from] + piece_s);
        let end = end.max(from + FEWEST_SAMPLES).min(time_s.len());
        let (of_s, of_n) = (&time_s[from..end], &force_n[from..end]);
        let lies_close =
            of_s.len() >= FEWEST_SAMPLES && of_s.windows(2).all(|pair| pair[1] - pair[0] < piece_s);
        if lies_close && let Some(line) = statistics::least_squares_line(of_s, of_n) {
            slopes.push(line.slope);
        }
        from = end;
    }
    slopes
}
