//! When a line reaches a limit. In: the line, the limit, how far ahead may be looked. Out: the place and its interval.

use super::line::Line;
use serde::Serialize;

/// Where a line meets a limit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Crossing {
    /// Where the line itself meets it.
    pub estimate: f64,
    /// The earliest place it may be; none: not bounded.
    pub earliest: Option<f64>,
    /// The latest; none: not bounded as far ahead as may be looked.
    pub latest: Option<f64>,
}

/// Why no crossing is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoCrossing {
    /// The line runs away from the limit, or along it.
    Away,
    /// It is reached farther ahead than has been looked back.
    Far,
    /// It was passed before the first visit.
    Before,
}

/// Where the line meets the limit, with the interval at 95 %: every place at which the line's own interval holds the limit.
///
/// `seen` is the first and the last place observed; no farther ahead of the last is looked than between them.
/// Source: E. C. Fieller, *J. R. Statist. Soc. B* 16 (1954) 175, from memory; what calibrations share is in the variance, so
/// the set is searched and not solved.
///
/// # Errors
/// Why there is none to tell.
pub fn crossing(
    line: &Line,
    limit: f64,
    falls_to_it: bool,
    seen: [f64; 2],
) -> Result<Crossing, NoCrossing> {
    let towards = if falls_to_it {
        line.slope < 0.0
    } else {
        line.slope > 0.0
    };
    if !towards {
        return Err(NoCrossing::Away);
    }
    let [first, last] = seen;
    let span = last - first;
    let horizon = last + span;
    let estimate = line.centre + (limit - line.level) / line.slope;
    if estimate > horizon {
        return Err(NoCrossing::Far);
    }
    if estimate < first {
        return Err(NoCrossing::Before);
    }
    let holds = |x: f64| (line.at(x) - limit).abs() <= line.half_width(x);
    let edge = |mut inside: f64, mut outside: f64| {
        if holds(outside) {
            return None;
        }
        for _ in 0..60 {
            let middle = 0.5 * (inside + outside);
            match holds(middle) {
                true => inside = middle,
                false => outside = middle,
            }
        }
        Some(inside)
    };
    Ok(Crossing {
        estimate,
        earliest: edge(estimate, first - span),
        latest: edge(estimate, horizon),
    })
}
