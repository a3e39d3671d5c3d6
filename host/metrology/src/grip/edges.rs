//! Where the clamps of a record begin and end.
//!
//! In comes a force record; out go its levels (base, reference, thresholds) and the edges of every clamp, found on the
//! running median so that neither a spike nor an overshoot moves them.

use super::record::{ForceRecord, Span, SpanKind};
use crate::statistics;
use thiserror::Error;

/// Length of the running median.
const SMOOTH_S: f64 = 0.050;
/// The running median never has fewer samples than this.
const SMOOTH_MIN_SAMPLES: usize = 3;
/// A level counts as held when the running median stays above (below) it for this long.
const HELD_S: f64 = 0.25;
/// Smallest force that can be told from no force.
const LEAST_FORCE_N: f64 = 100.0;
/// The same in multiples of the noise.
const LEAST_NOISE_MULTIPLE: f64 = 8.0;
/// A clamp begins this share of the reference above the base …
const BEGIN_SHARE: f64 = 0.10;
/// … and ends at this share of that threshold, so that one clamp is not split by a drop in its hold.
const END_SHARE: f64 = 0.6;
/// Share of its own level at which a clamp's rise begins and its fall ends.
const FOOT_SHARE: f64 = 0.05;

/// Why no clamp could be looked for, or none was found.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum NoClamp {
    /// Nothing is held long enough to have a level.
    #[error(
        "the force record is too short: {samples} samples over {length_s:.3} s, and a level shows only when it is held for 0.25 s; \
         record from before the clamp to 1.5 s after the release"
    )]
    TooShort {
        /// Number of samples.
        samples: usize,
        /// From the first to the last, s.
        length_s: f64,
    },
    /// The force hardly changes.
    #[error(
        "no clamp in the force record: the held force changes by {span_n:.0} N, and a clamp needs at least {needed_n:.0} N \
         (100 N or 8 times the noise of {noise_n:.1} N); was the gauge clamped, and is the unit right?"
    )]
    Flat {
        /// Highest less lowest held level, or reference, whichever is less, N.
        span_n: f64,
        /// What it must reach, N.
        needed_n: f64,
        /// Noise of the record, N.
        noise_n: f64,
    },
}

/// A record with its running median, its noise and what is marked in it.
pub(super) struct Trace<'a> {
    pub time_s: &'a [f64],
    pub force_n: &'a [f64],
    /// Running median of the force.
    pub smooth_n: Vec<f64>,
    /// 1.4826 × median |difference of neighbouring samples| / √2.
    pub noise_n: f64,
    pub spans: Vec<Span>,
    /// Greatest level the running median stays above for 0.25 s.
    highest_n: f64,
    /// Least level it stays below for 0.25 s.
    lowest_n: f64,
}

impl<'a> Trace<'a> {
    /// The trace of a record, and whether it holds a level at all.
    pub fn new(record: &'a ForceRecord) -> (Self, bool) {
        let (time_s, force_n) = (record.time_s(), record.force_n());
        let window = record.median_spacing_s().map_or(1, smoothing_samples);
        let mut trace = Self {
            time_s,
            force_n,
            smooth_n: statistics::running_median(force_n, window),
            noise_n: statistics::noise(force_n),
            spans: record.spans(),
            highest_n: 0.0,
            lowest_n: 0.0,
        };
        let held = trace.held_levels();
        (trace.highest_n, trace.lowest_n) = held.unwrap_or_else(|| trace.extremes());
        (trace, held.is_some())
    }

    /// Highest and lowest point of the running median, for want of a held level.
    fn extremes(&self) -> (f64, f64) {
        let smooth_n = || self.smooth_n.iter().copied();
        (
            smooth_n().fold(f64::NEG_INFINITY, f64::max),
            smooth_n().fold(f64::INFINITY, f64::min),
        )
    }

    /// Indices of the samples in the closed interval.
    pub fn samples_within(&self, from_s: f64, to_s: f64) -> std::ops::Range<usize> {
        let first = self.time_s.partition_point(|&time| time < from_s);
        let end = self.time_s.partition_point(|&time| time <= to_s);
        first..end.max(first)
    }

    /// Whether a stretch of that kind touches the interval.
    pub fn marked(&self, kind: SpanKind, from_s: f64, to_s: f64) -> Option<&Span> {
        self.spans
            .iter()
            .find(|span| span.kind == kind && span.touches(from_s, to_s))
    }

    /// Whether samples are missing or faulty in the interval.
    pub fn broken(&self, from_s: f64, to_s: f64) -> bool {
        self.marked(SpanKind::Gap, from_s, to_s).is_some()
            || self.marked(SpanKind::Fault, from_s, to_s).is_some()
    }

    /// Stretches of samples without a gap or a fault inside.
    fn unbroken(&self) -> Vec<std::ops::Range<usize>> {
        let mut cuts: Vec<usize> = self
            .spans
            .iter()
            .filter(|span| span.kind != SpanKind::Overload)
            .map(|span| self.time_s.partition_point(|&time| time < span.to_s))
            .chain([0, self.time_s.len()])
            .collect();
        cuts.sort_unstable();
        cuts.dedup();
        cuts.windows(2).map(|pair| pair[0]..pair[1]).collect()
    }

    /// The greatest level the running median stays above for 0.25 s, and the least it stays below.
    fn held_levels(&self) -> Option<(f64, f64)> {
        let upside_down: Vec<f64> = self.smooth_n.iter().map(|value| -value).collect();
        let held = |values: &[f64]| {
            let stretches = self.unbroken().into_iter();
            stretches
                .filter_map(|stretch| {
                    greatest_held(&self.time_s[stretch.clone()], &values[stretch])
                })
                .reduce(f64::max)
        };
        Some((held(&self.smooth_n)?, -held(&upside_down)?))
    }
}

/// 50 ms ÷ median spacing, rounded, made odd upwards, at least three samples.
pub(super) fn smoothing_samples(spacing_s: f64) -> usize {
    // A spacing is positive, and a window longer than any record means the same as one as long as the record.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let samples = (SMOOTH_S / spacing_s).round().min(1e9) as usize;
    (samples | 1).max(SMOOTH_MIN_SAMPLES)
}

/// Largest over all stretches of 0.25 s of the smallest value in the stretch.
///
/// The stretch that ends at a sample is the shortest one of that length. Its smallest value is that of two parts: up to
/// `split` minima counted from behind, which were computed when the stretch last moved past it, and the smallest since.
fn greatest_held(time_s: &[f64], values: &[f64]) -> Option<f64> {
    let mut best: Option<f64> = None;
    let (mut first, mut split, mut since) = (0, 0, f64::INFINITY);
    let mut from_behind = vec![f64::INFINITY; values.len()];
    for (index, &value) in values.iter().enumerate() {
        since = since.min(value);
        while first < index && time_s[index] - time_s[first + 1] >= HELD_S {
            first += 1;
        }
        if time_s[index] - time_s[first] < HELD_S {
            continue;
        }
        if first >= split {
            let mut least = f64::INFINITY;
            for place in (first..=index).rev() {
                least = least.min(values[place]);
                from_behind[place] = least;
            }
            (split, since) = (index + 1, f64::INFINITY);
        }
        let held = from_behind[first].min(since);
        best = Some(best.map_or(held, |most| most.max(held)));
    }
    best
}

/// Smallest force that can be told from no force, N.
fn least_force(noise_n: f64) -> f64 {
    LEAST_FORCE_N.max(LEAST_NOISE_MULTIPLE * noise_n)
}

/// How far above the base a clamp begins and ends, N.
pub(super) fn thresholds(noise_n: f64, reference_n: f64) -> (f64, f64) {
    let begin = least_force(noise_n).max(BEGIN_SHARE * reference_n);
    (begin, END_SHARE * begin)
}

impl NoClamp {
    pub(super) fn too_short(record: &ForceRecord) -> Self {
        let end_s = record.time_s().last();
        Self::TooShort {
            samples: record.len(),
            length_s: end_s.map_or(0.0, |end| end - record.time_s()[0]),
        }
    }
}

/// The levels clamps are told by, N.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Levels {
    /// Reading of the free gauge over the whole record.
    pub base_n: f64,
    /// Highest held level less base.
    pub reference_n: f64,
    /// A clamp begins above this reading …
    pub begin_n: f64,
    /// … and ends below this one.
    pub end_n: f64,
}

impl Levels {
    /// Base: median of the running median where it is under half-way between the held levels. Reference: highest held
    /// level less base. A clamp begins above base + B, B = max(100 N, 8 × noise, 10 % of the reference), and ends
    /// below base + 0.6 B.
    pub(super) fn of(trace: &Trace<'_>) -> Self {
        let half_way = f64::midpoint(trace.highest_n, trace.lowest_n);
        let smooth_n = trace.smooth_n.iter().copied();
        let free: Vec<f64> = smooth_n.filter(|&value| value < half_way).collect();
        let base_n = if free.is_empty() {
            trace.lowest_n
        } else {
            statistics::median(&free)
        };
        let reference_n = trace.highest_n - base_n;
        let (begin, end) = thresholds(trace.noise_n, reference_n);
        Self {
            base_n,
            reference_n,
            begin_n: base_n + begin,
            end_n: base_n + end,
        }
    }

    /// Refuses a record whose held levels, or whose reference, lie too near together for a clamp.
    pub(super) fn check(&self, trace: &Trace<'_>) -> Result<(), NoClamp> {
        let needed_n = least_force(trace.noise_n);
        let span_n = (trace.highest_n - trace.lowest_n).min(self.reference_n);
        if span_n < needed_n {
            Err(self.too_flat(trace, span_n))
        } else {
            Ok(())
        }
    }

    /// Nothing rises above the begin threshold.
    pub(super) fn too_flat(&self, trace: &Trace<'_>, span_n: f64) -> NoClamp {
        NoClamp::Flat {
            span_n,
            needed_n: least_force(trace.noise_n),
            noise_n: trace.noise_n,
        }
    }
}

/// A stretch of samples above the thresholds: first and last index.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hold {
    /// First sample above the begin threshold.
    pub first: usize,
    /// Last sample not below the end threshold.
    pub last: usize,
}

/// All stretches that begin above `levels.begin_n` and end below `levels.end_n`.
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
    found
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
    Edges {
        hold,
        own_level_n,
        clamped_s: rise.map(|index| at(index, half_n)),
        released_s: fall.map(|index| at(index, half_n)),
        rising_foot_s,
        falling_foot_s,
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
