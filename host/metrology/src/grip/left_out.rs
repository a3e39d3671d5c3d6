//! What is news although it counts for nothing.
//!
//! In come the clamps that were left out, for how they were taken or by hand, and those that count; out goes what of them
//! keeps a check from being within limit: a weak clamp, a fall from clamp to clamp, a clamp that was copied.

use super::clamps::Found;
use super::excluded::Excluded;
use super::found::FoundClamp;
use super::record::{ForceRecord, Span, SpanKind};
use super::remarks::GripNote;
use super::result::Statistics;
use super::trace::HELD_S;
use super::window;
use crate::copied;
use crate::copied::Series;
use crate::statistics;

/// What a clamp that was left out reads is sure to this share. Common practice, no source.
const READ_SHARE: f64 = 0.05;
/// A clamp under this share of the others differs by more than clamps scatter: three times the 5 % from which the gripper
/// is looked at. Common practice, no source.
const APART_SHARE: f64 = 0.85;
/// A fall from clamp to clamp this unlikely by chance is one …
const FALL_P: f64 = 0.01;
/// … if it is more than three times the 3 % that clamps usually scatter by, share of the mean from the first to the last.
/// Common practice, no source.
const FALL_SHARE: f64 = 0.09;

/// How many times one unit of force is another: pounds and newtons, kilogram-force and newtons, kilogram-force and pounds,
/// decanewtons and newtons.
const UNIT_TIMES: [f64; 4] = [4.448, 9.807, 2.205, 10.0];
/// Clamps of one level differ from their mean by less.
const ONE_LEVEL_SHARE: f64 = 0.04;

/// Two clamps may agree by chance.
const FEWEST_ALIKE: usize = 3;
/// Forces that differ by less are one, share: what the mean of a window loses to rounding.
const LAST_DIGIT_SHARE: f64 = 1e-9;
/// A record in steps under this share of the force shows how clamps repeat.
const FINE_SHARE: f64 = 0.0005;

/// A clamp that does not count, and what can be read of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct LeftOut {
    /// Its number.
    pub number: u32,
    /// Why it does not count.
    pub excluded: Excluded,
    /// At most about this, N.
    pub reads_n: f64,
}

/// What a file holds behind the clamps that were asked for.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Behind {
    /// The clamps, as far as they can be read.
    pub left_out: Vec<LeftOut>,
    /// What is said of it.
    pub note: Option<GripNote>,
}

impl LeftOut {
    /// Those of a record that can be read.
    pub fn of(found: &Found) -> Vec<Self> {
        let read = |clamp: &FoundClamp| {
            let (excluded, most_n) = (clamp.excluded?, clamp.reads_n?);
            // One let go too soon is read over its end: what it jumped to before is no holding force.
            let end_n = clamp.settled_n.filter(|_| excluded == Excluded::Short);
            Some(Self {
                number: clamp.number,
                excluded,
                reads_n: most_n.min(end_n.unwrap_or(most_n)),
            })
        };
        found.clamps.iter().filter_map(read).collect()
    }

    /// Whether it reads below a limit and apart from the others, or clearly below one that is its own.
    pub fn is_weak(&self, limit_n: f64, own: bool, others_n: &[f64]) -> bool {
        let clearly = own && self.reads_n * (1.0 + READ_SHARE) < limit_n;
        clearly || self.reads_n < limit_n && is_apart(self.reads_n, others_n)
    }
}

/// Whether a clamp holds so much less than the others that no scatter explains it.
pub(super) fn is_apart(force_n: f64, others_n: &[f64]) -> bool {
    !others_n.is_empty() && force_n < APART_SHARE * statistics::median(others_n)
}

/// A fall from clamp to clamp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Falling {
    /// By so much, N.
    pub n_per_clamp: f64,
    /// What the next one would hold, N.
    pub next_n: f64,
}

impl Falling {
    /// Of clamps that surely fall.
    pub fn of(figures: &Statistics) -> Option<Self> {
        let (slope, p) = figures.trend_n_per_clamp.zip(figures.trend_p)?;
        // The line runs through the mean at the middle of the clamps.
        let ahead = (f64::from(u32::try_from(figures.count).ok()?) + 1.0) / 2.0;
        let fallen_n = -slope * (2.0 * ahead - 2.0);
        (p < FALL_P && fallen_n > FALL_SHARE * figures.mean_n).then(|| Self {
            n_per_clamp: -slope,
            next_n: figures.mean_n + slope * ahead,
        })
    }
}

/// A stretch of a pause in which nothing was read, or nothing new, long enough for a clamp that counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Unseen {
    /// When it begins, s.
    pub from_s: f64,
    /// How long it is, s.
    pub for_s: f64,
    /// It is as long as the shortest counted clamp was held.
    pub like_a_clamp: bool,
}

/// Stretches in the pauses in which nothing was read, or nothing new, for as long as a clamp must be held to count: when they
/// begin and how long they are. What lies between two of them for less than a level is held shows nothing either.
pub(super) fn unseen(found: &Found, record: &ForceRecord) -> Vec<Unseen> {
    let counted = found.clamps.iter().filter(|clamp| clamp.counted());
    let holds = counted.filter_map(|clamp| window::hold_s(&clamp.edges));
    let Some(shortest_s) = holds.reduce(f64::min) else {
        return Vec::new();
    };
    let missing = |span: &Span| span.kind != SpanKind::Overload;
    let spans = record.spans().into_iter().filter(missing);
    let spans = spans.map(|span| (span.from_s, span.to_s));
    let mut spans: Vec<(f64, f64)> = spans.chain(found.stopped.iter().copied()).collect();
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut joined: Vec<(f64, f64)> = Vec::new();
    for (from_s, to_s) in spans {
        match joined.last_mut() {
            Some(last) if from_s - last.1 < HELD_S => last.1 = last.1.max(to_s),
            _ => joined.push((from_s, to_s)),
        }
    }
    let in_a_clamp = |&(from_s, to_s): &(f64, f64)| {
        found.clamps.iter().any(|clamp| {
            let edges = clamp.edges;
            edges.rising_foot_s <= to_s && edges.falling_foot_s >= from_s
        })
    };
    joined.retain(|stretch| !in_a_clamp(stretch));
    let unseen = joined.into_iter().map(|(from_s, to_s)| Unseen {
        from_s,
        for_s: to_s - from_s,
        like_a_clamp: to_s - from_s >= shortest_s,
    });
    unseen
        .filter(|unseen| unseen.like_a_clamp || unseen.for_s >= window::SHORTEST_HOLD_S)
        .collect()
}

/// The first clamp from which on all hold so many times less, or more, than those before as one unit is of another.
pub(super) fn unit_changes(found: &Found) -> Option<(u32, f64)> {
    let counted = found.clamps.iter().filter(|clamp| clamp.counted());
    let forces: Vec<(u32, f64)> = counted
        .filter_map(|clamp| {
            Some((
                clamp.number,
                clamp.settled_n.filter(|force_n| *force_n > 0.0)?,
            ))
        })
        .collect();
    let level_n = |part: &[(u32, f64)]| {
        let forces_n: Vec<f64> = part.iter().map(|(_, force_n)| *force_n).collect();
        let mean_n = statistics::mean(&forces_n);
        let even = |force_n: &f64| (force_n / mean_n - 1.0).abs() < ONE_LEVEL_SHARE;
        forces_n.iter().all(even).then_some(mean_n)
    };
    (1..forces.len()).find_map(|place| {
        let (before, after) = forces.split_at(place);
        let (before_n, after_n) = level_n(before).zip(level_n(after))?;
        let times = (before_n / after_n).max(after_n / before_n);
        let is_unit = |unit: &f64| (times / unit - 1.0).abs() < ONE_LEVEL_SHARE;
        UNIT_TIMES
            .iter()
            .any(is_unit)
            .then_some((forces[place].0, before_n / after_n))
    })
}

/// The first clamp that has the readings of an earlier one: noise is no two times the same.
pub(super) fn copied(found: &Found, record: &ForceRecord) -> Option<(u32, u32)> {
    let counted = found.clamps.iter().filter(|clamp| clamp.counted());
    let series: Vec<(u32, &[f64], Series<'_>)> = counted
        .map(|clamp| {
            let hold = clamp.edges.hold;
            let readings = &record.force_n()[hold.first..=hold.last];
            (clamp.number, readings, Series::of(readings))
        })
        .collect();
    series
        .iter()
        .enumerate()
        .find_map(|(place, (copy, _, later))| {
            let is_copied = |(_, readings, first): &&(u32, &[f64], Series<'_>)| {
                first.alike(later).is_some() && copied::has_noise(readings)
            };
            let (first, _, _) = series[..place].iter().find(is_copied)?;
            Some((*first, *copy))
        })
}

/// What every counted clamp holds, where all hold the same and the record is finer than clamps repeat.
pub(super) fn all_alike(found: &Found) -> Option<f64> {
    let counted = found.clamps.iter().filter(|clamp| clamp.counted());
    let forces: Vec<f64> = counted.filter_map(|clamp| clamp.settled_n).collect();
    let &first_n = forces.first().filter(|_| forces.len() >= FEWEST_ALIKE)?;
    let alike = |force_n: &f64| (force_n - first_n).abs() <= LAST_DIGIT_SHARE * first_n.abs();
    let fine = found.grain_n < FINE_SHARE * first_n.abs();
    (fine && forces.iter().all(alike)).then_some(first_n)
}
