//! Where the clamps of a record begin and end.
//!
//! In come a trace and its levels; out go the edges of every clamp, found on the running median so that neither a spike
//! nor an overshoot moves them.

use super::levels::Levels;
use super::release;
use super::trace::Trace;
use crate::statistics;

/// Share of its own level at which a clamp's rise begins and its fall ends.
pub(super) const FOOT_SHARE: f64 = 0.05;
/// Once it has risen above this share of its own level …
const RISEN_SHARE: f64 = 0.10;
/// … a clamp has ended below this one, whatever the threshold of the record.
const PARTED_SHARE: f64 = 0.06;

/// No drawbar unclamps and clamps again within this time, s: what comes back sooner is one clamp whose force fell.
const PAUSE_S: f64 = 0.25;

/// A stretch of samples above the thresholds: first and last index.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hold {
    /// First sample above the begin threshold.
    pub first: usize,
    /// Last sample not below the end threshold.
    pub last: usize,
}

/// All stretches that begin above `levels.begin_n` and end below `levels.end_n`, parted where two clamps make one, and joined
/// where one fell for a moment.
pub(super) fn holds(trace: &Trace<'_>, levels: &Levels) -> Vec<Hold> {
    let mut found = Vec::new();
    let mut open: Option<usize> = None;
    for (index, &value) in trace.smooth_n.iter().enumerate() {
        match open {
            None if value > levels.begin_n => open = Some(index),
            Some(first) if value < levels.end_n => {
                found.push(Hold {
                    first,
                    last: index - 1,
                });
                open = None;
            }
            _ => {}
        }
    }
    found.extend(open.map(|first| Hold {
        first,
        last: trace.smooth_n.len() - 1,
    }));
    let parts = found
        .into_iter()
        .flat_map(|hold| parted(trace, levels, hold));
    let mut clamps: Vec<Hold> = Vec::new();
    for part in parts {
        match clamps.last_mut() {
            Some(before) if trace.time_s[part.first] - trace.time_s[before.last] < PAUSE_S => {
                before.last = part.last;
            }
            _ => clamps.push(part),
        }
    }
    clamps
}

/// A gauge that still hangs a little in the pause keeps two strong clamps in one stretch: each ends below 6 % of the
/// stretch's own level, and the next begins where the force rises again as far as it does for any clamp.
fn parted(trace: &Trace<'_>, levels: &Levels, hold: Hold) -> Vec<Hold> {
    let own_level_n = statistics::median(&trace.smooth_n[hold.first..=hold.last]) - levels.base_n;
    let end_n = levels.base_n + PARTED_SHARE * own_level_n;
    if end_n <= levels.end_n {
        return vec![hold];
    }
    let risen_n = levels.base_n + RISEN_SHARE * own_level_n;
    let rise_n = levels.begin_n - levels.end_n;
    let mut parts = Vec::new();
    let (mut first, mut risen) = (hold.first, false);
    // Lowest since the last part ended.
    let mut valley_n: Option<f64> = None;
    for index in hold.first..=hold.last {
        let value = trace.smooth_n[index];
        match valley_n {
            None if risen && value < end_n => {
                parts.push(Hold {
                    first,
                    last: index - 1,
                });
                valley_n = Some(value);
            }
            None => risen |= value > risen_n,
            Some(lowest) if value > levels.begin_n.max(lowest + rise_n) => {
                (first, risen, valley_n) = (index, value > risen_n, None);
            }
            Some(lowest) => valley_n = Some(lowest.min(value)),
        }
    }
    if valley_n.is_none() {
        parts.push(Hold {
            first,
            last: hold.last,
        });
    }
    parts
}

/// The edges of one clamp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edges {
    /// The stretch above the thresholds.
    pub hold: Hold,
    /// Median of the running median over it, less base, N.
    pub own_level_n: f64,
    /// First upward crossing of half the own level, s; none if the record begins under load.
    pub clamped_s: Option<f64>,
    /// Last downward crossing of half the own level, s; none if the record ends under load.
    pub released_s: Option<f64>,
    /// Last rise through 5 % of the own level before it was clamped, s.
    pub rising_foot_s: f64,
    /// First fall through 5 % of the own level after it was released, s.
    pub falling_foot_s: f64,
    /// When a release that took its time began, s; none of a quick one.
    pub slow_release_s: Option<f64>,
}

/// The edges of `hold`, looked for no farther than the neighbouring holds.
pub(super) fn edges(
    trace: &Trace<'_>,
    base_n: f64,
    hold: Hold,
    before: Option<Hold>,
    after: Option<Hold>,
) -> Edges {
    let own_level_n = statistics::median(&trace.smooth_n[hold.first..=hold.last]) - base_n;
    let half_n = base_n + 0.5 * own_level_n;
    let foot_n = base_n + FOOT_SHARE * own_level_n;
    let floor = before.map_or(0, |other| other.last);
    let ceiling = after.map_or(trace.smooth_n.len() - 1, |other| other.first);

    let on_at_first = hold.first == 0;
    let on_at_last = hold.last + 1 == trace.smooth_n.len();
    let rise = if on_at_first {
        None
    } else {
        upward(trace, half_n, floor, hold)
    };
    let fall = if on_at_last {
        None
    } else {
        downward(trace, half_n, ceiling, hold)
    };
    // Between two clamps that do not come down to the level sought, the lowest point parts them.
    let parted = |range: std::ops::RangeInclusive<usize>| lowest(&trace.smooth_n, range);
    let rise = rise.or_else(|| before.map(|_| parted(floor..=hold.first)));
    let fall = fall.or_else(|| after.map(|_| parted(hold.last..=ceiling)));

    let at = |index: usize, level: f64| crossing_s(trace, index, level);
    let rising_foot_s = rise.map_or(trace.time_s[0], |from| {
        let foot = (floor..from + 1)
            .rev()
            .find(|&index| trace.smooth_n[index] <= foot_n);
        foot.map_or_else(
            || trace.time_s[parted(floor..=from)],
            |index| at(index, foot_n),
        )
    });
    let falling_foot_s = fall.map_or(trace.time_s[trace.time_s.len() - 1], |from| {
        let foot = (from..ceiling).find(|&index| trace.smooth_n[index + 1] <= foot_n);
        foot.map_or_else(
            || trace.time_s[parted(from..=ceiling)],
            |index| at(index, foot_n),
        )
    });
    let released_s = fall.map(|index| at(index, half_n));
    Edges {
        hold,
        own_level_n,
        clamped_s: rise.map(|index| at(index, half_n)),
        released_s,
        rising_foot_s,
        falling_foot_s,
        slow_release_s: released_s.and_then(|released_s| {
            release::slow_release_s(trace, base_n, own_level_n, released_s, falling_foot_s)
        }),
    }
}

/// Index of the sample below the first upward crossing of `level` in the hold, or the last one before it.
fn upward(trace: &Trace<'_>, level: f64, floor: usize, hold: Hold) -> Option<usize> {
    let smooth = &trace.smooth_n;
    if smooth[hold.first] > level {
        (floor..hold.first)
            .rev()
            .find(|&index| smooth[index] <= level)
    } else {
        (hold.first..hold.last).find(|&index| smooth[index + 1] > level)
    }
}

/// Index of the sample above the last downward crossing of `level` in the hold, or the first one after it.
fn downward(trace: &Trace<'_>, level: f64, ceiling: usize, hold: Hold) -> Option<usize> {
    let smooth = &trace.smooth_n;
    if smooth[hold.last] > level {
        (hold.last..ceiling).find(|&index| smooth[index + 1] <= level)
    } else {
        (hold.first..hold.last)
            .rev()
            .find(|&index| smooth[index] > level)
    }
}

fn lowest(values: &[f64], range: std::ops::RangeInclusive<usize>) -> usize {
    let start = *range.start();
    range
        .min_by(|&a, &b| values[a].total_cmp(&values[b]))
        .unwrap_or(start)
}

/// When the running median passes `level` between `index` and the next sample, interpolated; where it does not pass it
/// there (two clamps parted at their lowest point), the time of the sample itself.
fn crossing_s(trace: &Trace<'_>, index: usize, level: f64) -> f64 {
    let from_s = trace.time_s[index];
    let (Some(&to_s), Some(&to)) = (trace.time_s.get(index + 1), trace.smooth_n.get(index + 1))
    else {
        return from_s;
    };
    let from = trace.smooth_n[index];
    let share = (level - from) / (to - from);
    if share.is_finite() && (0.0..=1.0).contains(&share) {
        from_s + share * (to_s - from_s)
    } else {
        from_s
    }
}
