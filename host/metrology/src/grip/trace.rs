//! A force record made ready for finding clamps.
//!
//! In comes a record; out go its running median, its noise, the stretches marked in it and the levels it holds.

use super::record::{ForceRecord, Span, SpanKind};
use crate::side_by_side;
use crate::statistics;

/// Length of the running median.
const SMOOTH_S: f64 = 0.050;
/// The running median never has fewer samples than this.
const SMOOTH_MIN_SAMPLES: usize = 3;
/// A level counts as held when the running median stays above (below) it for this long.
pub(super) const HELD_S: f64 = 0.25;
/// The settled window begins this long after the clamp closed.
pub(super) const SETTLED_FROM_S: f64 = 1.0;
/// Nothing is read nearer than this to the release.
pub(super) const BEFORE_RELEASE_S: f64 = 0.1;
/// A sample, or the running median, is off by this share of the clamp's own level …
const OFF_SHARE: f64 = 0.02;
/// … or by this multiple of the noise, whichever is more.
const OFF_NOISE_MULTIPLE: f64 = 6.0;

/// A record with its running median, its noise and what is marked in it.
pub(super) struct Trace<'a> {
    pub time_s: &'a [f64],
    pub force_n: &'a [f64],
    /// Running median of the force.
    pub smooth_n: Vec<f64>,
    /// 1.4826 × median |difference of neighbouring samples| / √2.
    pub noise_n: f64,
    pub spans: Vec<Span>,
    /// Median step between samples, s; zero of a record without two.
    pub spacing_s: f64,
    /// Greatest level the running median stays above for 0.25 s …
    pub highest_n: f64,
    /// … and the least it stays below; of a record that holds none, its extremes.
    pub lowest_n: f64,
    /// Whether any level is held.
    pub holds_a_level: bool,
}

/// Fewer steps of the running median show no noise of it.
const FEWEST_STEPS: usize = 10;

impl<'a> Trace<'a> {
    /// The trace of a record.
    pub fn new(record: &'a ForceRecord) -> Self {
        let (time_s, force_n) = (record.time_s(), record.force_n());
        let (spacing_s, noise_n) = side_by_side::both(
            side_by_side::threads(record.len()),
            || record.median_spacing_s(),
            || statistics::noise(force_n),
        );
        let window = spacing_s.map_or(1, smoothing_samples);
        let mut trace = Self {
            time_s,
            force_n,
            smooth_n: statistics::running_median(force_n, window),
            noise_n,
            spans: record.spans_at(spacing_s),
            spacing_s: spacing_s.unwrap_or(0.0),
            highest_n: 0.0,
            lowest_n: 0.0,
            holds_a_level: false,
        };
        let held = trace.held_levels();
        trace.holds_a_level = held.is_some();
        (trace.highest_n, trace.lowest_n) = held.unwrap_or_else(|| trace.extremes());
        trace
    }

    /// How far a sample must be off the running median, or that off a clamp's line, to be no part of what is held, N.
    pub fn margin_n(&self, own_level_n: f64) -> f64 {
        (OFF_SHARE * own_level_n).max(OFF_NOISE_MULTIPLE * self.noise_n)
    }

    /// Noise of the running median: 1.4826 × median |step from one of its windows to the next| / √2, N. That of hum is as
    /// large as of the samples, of what is random much less; of a record too short to show it that of the samples.
    pub fn smooth_noise_n(&self) -> f64 {
        let window = smoothing_samples(self.spacing_s);
        let apart: Vec<f64> = self.smooth_n.iter().copied().step_by(window).collect();
        if apart.len() <= FEWEST_STEPS {
            self.noise_n
        } else {
            statistics::noise(&apart).min(self.noise_n)
        }
    }

    /// The least level the running median stays under for 0.25 s in those samples.
    pub fn least_held_in(&self, samples: std::ops::Range<usize>) -> Option<f64> {
        if self.marked_samples(&samples) {
            return None;
        }
        greatest_held(&self.time_s[samples.clone()], &self.smooth_n[samples], -1.0)
            .map(|held| -held)
    }

    fn marked_samples(&self, samples: &std::ops::Range<usize>) -> bool {
        samples.is_empty() || self.broken(self.time_s[samples.start], self.time_s[samples.end - 1])
    }

    /// How far the sample lies off the running median, N.
    pub fn off_n(&self, index: usize) -> f64 {
        self.force_n[index] - self.smooth_n[index]
    }

    /// Highest less lowest value of the running median over those samples, N.
    pub fn spread_n(&self, samples: std::ops::Range<usize>) -> f64 {
        let smooth = &self.smooth_n[samples];
        let highest = smooth.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let lowest = smooth.iter().copied().fold(f64::INFINITY, f64::min);
        highest - lowest
    }

    /// Samples of the first and of the last 0.25 s.
    pub fn ends(&self) -> [std::ops::Range<usize>; 2] {
        let (Some(&first_s), Some(&last_s)) = (self.time_s.first(), self.time_s.last()) else {
            return [0..0, 0..0];
        };
        [
            self.samples_within(first_s, first_s + HELD_S),
            self.samples_within(last_s - HELD_S, last_s),
        ]
    }

    /// Whether the running median stays within `off_n` of `level_n` for 0.25 s anywhere.
    pub fn stands_at(&self, level_n: f64, off_n: f64) -> bool {
        let near = |index: usize| (self.smooth_n[index] - level_n).abs() <= off_n;
        self.stays(0..self.time_s.len(), near)
    }

    /// Whether the running median stays under `level_n` for 0.25 s anywhere in those samples.
    pub fn stays_below(&self, samples: std::ops::Range<usize>, level_n: f64) -> bool {
        self.stays(samples, |index| self.smooth_n[index] < level_n)
    }

    fn stays(&self, samples: std::ops::Range<usize>, there: impl Fn(usize) -> bool) -> bool {
        self.unbroken().into_iter().any(|stretch| {
            let mut since: Option<usize> = None;
            stretch.into_iter().any(|index| {
                since = if samples.contains(&index) && there(index) {
                    since.or(Some(index))
                } else {
                    None
                };
                since.is_some_and(|first| self.time_s[index] - self.time_s[first] >= HELD_S)
            })
        })
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

    /// The greatest level the running median stays above for 0.25 s in those samples.
    pub fn greatest_held_in(&self, samples: std::ops::Range<usize>) -> Option<f64> {
        let stretches = self.unbroken().into_iter().filter_map(|stretch| {
            let part = stretch.start.max(samples.start)..stretch.end.min(samples.end);
            (part.start < part.end).then_some(part)
        });
        stretches
            .filter_map(|part| greatest_held(&self.time_s[part.clone()], &self.smooth_n[part], 1.0))
            .reduce(f64::max)
    }

    /// The greatest level the running median stays above for 0.25 s, and the least it stays below.
    fn held_levels(&self) -> Option<(f64, f64)> {
        let held = |sign: f64| {
            let stretches = self.unbroken().into_iter();
            stretches
                .filter_map(|stretch| {
                    greatest_held(&self.time_s[stretch.clone()], &self.smooth_n[stretch], sign)
                })
                .reduce(f64::max)
        };
        let threads = side_by_side::threads(self.time_s.len());
        let levels = side_by_side::each(&[1.0, -1.0], threads, |sign| held(*sign));
        Some((levels[0]?, -levels[1]?))
    }
}

/// 50 ms ÷ median spacing, rounded, made odd upwards, at least three samples.
pub(super) fn smoothing_samples(spacing_s: f64) -> usize {
    // A spacing is positive, and a window longer than any record means the same as one as long as the record.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let samples = (SMOOTH_S / spacing_s).round().min(1e9) as usize;
    (samples | 1).max(SMOOTH_MIN_SAMPLES)
}

/// Largest over all stretches of 0.25 s of the smallest value, times the sign, in the stretch.
///
/// The stretch that ends at a sample is the shortest one of that length. Its smallest value is that of two parts: up to
/// `split` minima counted from behind, which were computed when the stretch last moved past it, and the smallest since.
fn greatest_held(time_s: &[f64], values: &[f64], sign: f64) -> Option<f64> {
    let mut best: Option<f64> = None;
    let (mut first, mut split, mut since) = (0, 0, f64::INFINITY);
    // The minimum from each place of the stretch to before `split`, the last place first.
    let mut from_behind: Vec<f64> = Vec::new();
    for (index, &value) in values.iter().enumerate() {
        if best.is_some_and(|most| sign * value <= most) {
            // No stretch over this one is held at more than the best so far.
            (first, split, since) = (index + 1, index + 1, f64::INFINITY);
            continue;
        }
        since = since.min(sign * value);
        while first < index && time_s[index] - time_s[first + 1] >= HELD_S {
            first += 1;
        }
        if time_s[index] - time_s[first] < HELD_S {
            continue;
        }
        if first >= split {
            let mut least = f64::INFINITY;
            from_behind.clear();
            from_behind.extend(values[first..=index].iter().rev().map(|value| {
                least = least.min(sign * value);
                least
            }));
            (split, since) = (index + 1, f64::INFINITY);
        }
        let held = from_behind[split - 1 - first].min(since);
        best = Some(best.map_or(held, |most| most.max(held)));
    }
    best
}
