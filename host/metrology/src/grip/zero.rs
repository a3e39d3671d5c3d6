//! The gauge's zero beside a clamp.
//!
//! In come the trace and the feet of the clamps; out goes the reading of the free gauge before and after each, or the
//! reason why a side has none, and what the zeros of the record say of one another: a gauge that rested on the push-out
//! reads too low and is no zero.

use super::edges::{Edges, FOOT_SHARE};
use super::levels::Levels;
use super::spike;
use super::trace::Trace;
use crate::statistics;
use serde::{Deserialize, Serialize};

/// Longest stretch a zero is averaged over …
const LENGTH_S: f64 = 0.5;
/// … unless that is fewer samples than this; a shorter one is no zero.
const FEWEST_SAMPLES: usize = 5;
/// A zero keeps this far from a rising foot …
const BEFORE_RISE_S: f64 = 0.2;
/// … and this far from a falling foot, where the push-out is.
const AFTER_FALL_S: f64 = 0.5;
/// A shorter stretch is no zero.
const SHORTEST_S: f64 = 0.1;
/// A zero may wander by this multiple of the noise …
const WANDER_NOISE_MULTIPLE: f64 = 8.0;
/// … or by this share of the clamp's own level, whichever is more.
const WANDER_SHARE: f64 = 0.01;
/// A zero is no zero this far from the free level, as a share of the reference …
pub(super) const APART_SHARE: f64 = 0.005;
/// … or at this multiple of its own noise, whichever is more.
const APART_NOISE_MULTIPLE: f64 = 6.0;
/// A free level farther from 0 N than this share of the reference is asked about.
const OFFSET_SHARE: f64 = 0.01;
/// A stretch met exactly must not be lost to the last bit of a subtraction, s.
const ROUNDING_S: f64 = 1e-9;

/// A zero reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Zero {
    /// Mean time of its samples, s.
    pub at_s: f64,
    /// Mean of its samples, N.
    pub mean_n: f64,
    /// How many they are, without spikes.
    pub samples: usize,
    /// Spikes left out of it.
    pub spikes: usize,
}

/// Why a side has no zero, in a technician's words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NoZero {
    /// Too little time.
    NoTime,
    /// Too few samples.
    FewSamples,
    /// Samples are missing in it, or the gauge was faulty.
    Gap,
    /// The reading does not stand still.
    Unsteady,
    /// The reading lies below that of the free gauge: it rested on something, as a rule on the push-out.
    Rested,
    /// The reading lies above that of the free gauge: something still pulled at it.
    Pulled,
}

/// The reading of the free gauge over the record: a level, carried along the drift.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FreeLevel {
    /// At 0 s on the record's time axis, N.
    pub at_origin_n: f64,
    /// N/s.
    pub drift_n_per_s: f64,
}

impl FreeLevel {
    /// At a moment, N.
    pub fn at(&self, time_s: f64) -> f64 {
        self.at_origin_n + self.drift_n_per_s * time_s
    }
}

/// The zeros of one clamp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Zeros {
    /// Before the clamp.
    pub before: Result<Zero, NoZero>,
    /// After it.
    pub after: Result<Zero, NoZero>,
    /// The free level of the record; none where it has no zero at all.
    pub free: Option<FreeLevel>,
    /// What stands still before and after it, whether that is the free gauge's reading or not.
    pub steady: [Option<Zero>; 2],
}

impl Zeros {
    /// The zero at a moment, N: interpolated linearly between both sides, that of the only side carried along the drift,
    /// or the free level of the record. `None` where the record has no zero.
    pub fn at(&self, time_s: f64) -> Option<f64> {
        let free = self.free?;
        Some(match (self.before, self.after) {
            (Ok(before), Ok(_)) => before.mean_n + self.slope_n_per_s() * (time_s - before.at_s),
            (Ok(only), Err(_)) | (Err(_), Ok(only)) => {
                only.mean_n + free.drift_n_per_s * (time_s - only.at_s)
            }
            (Err(_), Err(_)) => free.at(time_s),
        })
    }

    /// How fast the zero moves under the clamp, N/s: between its two zeros, else by the drift of the record.
    pub fn slope_n_per_s(&self) -> f64 {
        match (self.before, self.after) {
            (Ok(before), Ok(after)) => (after.mean_n - before.mean_n) / (after.at_s - before.at_s),
            _ => self.free.map_or(0.0, |free| free.drift_n_per_s),
        }
    }

    /// How far the reading beside it moved over the clamp, N, whether that was the free gauge's or not; none where a side
    /// does not stand still.
    pub fn moved_n(&self) -> Option<f64> {
        Some(self.steady[1]?.mean_n - self.steady[0]?.mean_n)
    }

    /// Variance of the zero in the middle of a clamp per variance of one sample.
    pub(super) fn variance_share(&self) -> f64 {
        let of = |zero: Zero| 1.0 / zero.samples as f64;
        match (self.before, self.after) {
            (Ok(before), Ok(after)) => 0.25 * (of(before) + of(after)),
            (Ok(only), Err(_)) | (Err(_), Ok(only)) => of(only),
            (Err(_), Err(_)) => 0.0,
        }
    }

    /// Spikes left out of both.
    pub fn spikes(&self) -> usize {
        let of = |side: Result<Zero, NoZero>| side.map_or(0, |zero| zero.spikes);
        of(self.before) + of(self.after)
    }
}

/// What the zeros of a record say of one another.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Agreement {
    /// Zeros looked at.
    pub zeros: usize,
    /// Zeros set aside because the gauge rested on something.
    pub rested: usize,
    /// How far the lowest of them lies below the free level, N.
    pub lowest_n: f64,
    /// Zeros set aside because something still pulled at the gauge.
    pub pulled: usize,
    /// How far the highest of them lies above the free level, N.
    pub highest_n: f64,
    /// What the others differ by, beyond the drift, N.
    pub spread_n: f64,
    /// The free level where it lies too far from 0 N to go without a question, N.
    pub offset_n: Option<f64>,
}

/// The zeros of all clamps, and what they say of one another.
///
/// The free level is the highest of all zeros and of the record's first and last 0.5 s, carried along the drift. Where
/// the record begins and ends at 0 N, that is the reading of the free gauge, and a pause that reads higher had something
/// pulling at it. A zero more than max(6 × noise ÷ √samples, 0.5 % of the reference) off the free level is set aside.
pub(super) fn zeros(trace: &Trace<'_>, levels: &Levels, all: &[Edges]) -> (Vec<Zeros>, Agreement) {
    let sides: Vec<Sides> = (0..all.len())
        .map(|index| {
            let before = index.checked_sub(1).map(|before| &all[before]);
            sides(trace, levels, &all[index], before, all.get(index + 1))
        })
        .collect();
    let beside: Vec<Zero> = sides
        .iter()
        .flatten()
        .filter_map(|side| side.ok())
        .collect();
    let ends = ends(trace, levels, all);
    let Some(free) = free_level(trace, levels, &sides, &beside, ends) else {
        let none = |sides: &Sides| Zeros {
            before: sides[0],
            after: sides[1],
            free: None,
            steady: [None, None],
        };
        return (sides.iter().map(none).collect(), Agreement::default());
    };
    let noise_n = |zero: &Zero| APART_NOISE_MULTIPLE * trace.noise_n / (zero.samples as f64).sqrt();
    let apart_n = |zero: &Zero| noise_n(zero).max(APART_SHARE * levels.reference_n);
    let above_n = |zero: &Zero| zero.mean_n - free.at(zero.at_s);
    let judge = |zero: Zero| {
        if above_n(&zero) < -apart_n(&zero) {
            Err(NoZero::Rested)
        } else if above_n(&zero) > apart_n(&zero) {
            Err(NoZero::Pulled)
        } else {
            Ok(zero)
        }
    };
    let of_clamps = sides.iter().map(|sides| {
        let [before, after] = sides.map(|side| side.and_then(judge));
        Zeros {
            before,
            after,
            free: Some(free),
            steady: sides.map(Result::ok),
        }
    });
    let looked_at: Vec<Zero> = beside
        .iter()
        .copied()
        .chain(ends.into_iter().flatten())
        .collect();
    let aside = |reason: NoZero| {
        let those = beside
            .iter()
            .filter(move |zero| judge(**zero) == Err(reason));
        those.map(|zero| above_n(zero).abs()).collect::<Vec<f64>>()
    };
    let kept = looked_at.iter().filter(|zero| judge(**zero).is_ok());
    let mut kept_n: Vec<f64> = kept.map(above_n).collect();
    let (mut rested, mut pulled) = (aside(NoZero::Rested), aside(NoZero::Pulled));
    let pauses = pauses(trace, all, &sides, &free);
    let is_down = |pause: &&Pause| pause.above_n <= pause.foot_n;
    // Too short for a zero, and long enough to see that the gauge no longer reads what it read when it hung free.
    let mut short = 0;
    for pause in pauses.iter().filter(is_down).filter(|pause| pause.is_short) {
        short += 1;
        if pause.above_n < -APART_SHARE * levels.reference_n {
            rested.push(-pause.above_n);
        } else {
            kept_n.push(pause.above_n);
        }
    }
    let high = standing(trace, levels, all);
    pulled.extend(high.iter().map(&above_n));
    // A pause that does not even come down to the clamps' feet.
    let never_down = pauses.iter().filter(|pause| !is_down(pause));
    let never_down: Vec<f64> = never_down.map(|pause| pause.above_n).collect();
    pulled.extend(&never_down);
    let agreement = Agreement {
        zeros: beside.len() + high.len() + never_down.len() + short,
        rested: rested.len(),
        lowest_n: rested.into_iter().fold(0.0, f64::max),
        pulled: pulled.len(),
        highest_n: pulled.into_iter().fold(0.0, f64::max),
        spread_n: range(&kept_n),
        offset_n: offset_n(trace, levels, &free)
            .filter(|offset_n| looked_at.iter().all(|zero| offset_n.abs() > noise_n(zero))),
    };
    (of_clamps.collect(), agreement)
}

/// Before and after.
type Sides = [Result<Zero, NoZero>; 2];

/// A pause between two clamps, whatever it has of zeros.
struct Pause {
    /// How far above the free level the least lies that it is held at for a moment, N.
    above_n: f64,
    /// The clamps' feet, N.
    foot_n: f64,
    /// There is too little time for a zero in it.
    is_short: bool,
}

fn pauses(trace: &Trace<'_>, all: &[Edges], sides: &[Sides], free: &FreeLevel) -> Vec<Pause> {
    let between = all.windows(2).zip(sides.windows(2));
    let pause = |(pair, sides): (&[Edges], &[Sides])| {
        let (from_s, to_s) = (pair[0].released_s?, pair[1].clamped_s?);
        let least_n = trace.least_held_in(trace.samples_within(from_s, to_s))?;
        Some(Pause {
            above_n: least_n - free.at(f64::midpoint(from_s, to_s)),
            foot_n: FOOT_SHARE * pair[0].own_level_n.min(pair[1].own_level_n),
            is_short: [sides[0][1], sides[1][0]] == [Err(NoZero::NoTime); 2],
        })
    };
    between.filter_map(pause).collect()
}

/// What stands still beside the clamps, too high for a free gauge.
fn standing(trace: &Trace<'_>, levels: &Levels, all: &[Edges]) -> Vec<Zero> {
    all.iter()
        .enumerate()
        .flat_map(|(index, clamp)| {
            let before = index.checked_sub(1).map(|before| &all[before]);
            let [before_s, after_s] = stretches(trace, clamp, before, all.get(index + 1));
            let stands = |(from_s, to_s)| {
                let zero = steady(trace, clamp.own_level_n, from_s, to_s).ok();
                zero.filter(|_| is_pulled(trace, levels, from_s, to_s))
            };
            [before_s.and_then(stands), after_s.and_then(stands)]
        })
        .flatten()
        .collect()
}

/// Zero before: up to 0.5 s ending 0.2 s before the rising foot. After: up to 0.5 s from 0.5 s after the falling foot.
/// Neither nearer than that to a neighbour's foot: 0.5 s after a falling one, 0.2 s before a rising one.
fn sides(
    trace: &Trace<'_>,
    levels: &Levels,
    clamp: &Edges,
    before: Option<&Edges>,
    after: Option<&Edges>,
) -> Sides {
    let side = |(from_s, to_s)| zero(trace, levels, clamp.own_level_n, from_s, to_s);
    stretches(trace, clamp, before, after).map(|stretch| stretch.map_or(Err(NoZero::NoTime), side))
}

/// From when to when they are read, s.
fn stretches(
    trace: &Trace<'_>,
    clamp: &Edges,
    before: Option<&Edges>,
    after: Option<&Edges>,
) -> [Option<(f64, f64)>; 2] {
    let length_s = length_s(trace);
    let earliest_s = before.map_or(f64::NEG_INFINITY, |other| {
        other.falling_foot_s + AFTER_FALL_S
    });
    let latest_s = after.map_or(f64::INFINITY, |other| other.rising_foot_s - BEFORE_RISE_S);
    let rise_s = clamp.rising_foot_s - BEFORE_RISE_S;
    let fall_s = clamp.falling_foot_s + AFTER_FALL_S;
    [
        clamp
            .clamped_s
            .map(|_| ((rise_s - length_s).max(earliest_s), rise_s)),
        clamp
            .released_s
            .map(|_| (fall_s, (fall_s + length_s).min(latest_s))),
    ]
}

/// The record's first and last 0.5 s, as far as no clamp is near.
fn ends(trace: &Trace<'_>, levels: &Levels, all: &[Edges]) -> [Option<Zero>; 2] {
    let (Some(first), Some(last)) = (all.first(), all.last()) else {
        return [None, None];
    };
    let (start_s, end_s) = (trace.time_s[0], trace.time_s[trace.time_s.len() - 1]);
    let length_s = length_s(trace);
    let level = |from_s: f64, to_s: f64| zero(trace, levels, levels.reference_n, from_s, to_s).ok();
    let at_first = first.clamped_s.and_then(|_| {
        level(
            start_s,
            (start_s + length_s).min(first.rising_foot_s - BEFORE_RISE_S),
        )
    });
    let at_last = last.released_s.and_then(|_| {
        level(
            (end_s - length_s).max(last.falling_foot_s + AFTER_FALL_S),
            end_s,
        )
    });
    [at_first, at_last]
}

fn length_s(trace: &Trace<'_>) -> f64 {
    LENGTH_S.max(FEWEST_SAMPLES as f64 * trace.spacing_s)
}

fn zero(
    trace: &Trace<'_>,
    levels: &Levels,
    own_level_n: f64,
    from_s: f64,
    to_s: f64,
) -> Result<Zero, NoZero> {
    let zero = steady(trace, own_level_n, from_s, to_s)?;
    match is_pulled(trace, levels, from_s, to_s) {
        true => Err(NoZero::Pulled),
        false => Ok(zero),
    }
}

/// A clamp that hangs on after its release is no free gauge, whatever the others read.
fn is_pulled(trace: &Trace<'_>, levels: &Levels, from_s: f64, to_s: f64) -> bool {
    let samples = trace.samples_within(from_s, to_s);
    statistics::median(&trace.smooth_n[samples]) > levels.end_n
}

/// What stands still in that stretch, whatever level it is.
fn steady(trace: &Trace<'_>, own_level_n: f64, from_s: f64, to_s: f64) -> Result<Zero, NoZero> {
    let from_s = from_s.max(trace.time_s[0]);
    let to_s = to_s.min(trace.time_s[trace.time_s.len() - 1]);
    let samples = trace.samples_within(from_s, to_s);
    if to_s - from_s < SHORTEST_S - ROUNDING_S {
        return Err(NoZero::NoTime);
    }
    if trace.broken(from_s, to_s) {
        return Err(NoZero::Gap);
    }
    let all = samples.len();
    let is_kept = |index: &usize| !spike::while_held(trace, own_level_n, *index);
    let kept: Vec<usize> = samples.clone().filter(is_kept).collect();
    if kept.len() < FEWEST_SAMPLES {
        return Err(NoZero::FewSamples);
    }
    let wander_n = (WANDER_NOISE_MULTIPLE * trace.noise_n).max(WANDER_SHARE * own_level_n);
    if trace.spread_n(samples) > wander_n {
        return Err(NoZero::Unsteady);
    }
    let mean =
        |values: &[f64]| kept.iter().map(|&index| values[index]).sum::<f64>() / kept.len() as f64;
    Ok(Zero {
        at_s: mean(trace.time_s),
        mean_n: mean(trace.force_n),
        samples: kept.len(),
        spikes: all - kept.len(),
    })
}

fn free_level(
    trace: &Trace<'_>,
    levels: &Levels,
    sides: &[Sides],
    beside: &[Zero],
    ends: [Option<Zero>; 2],
) -> Option<FreeLevel> {
    let drift_n_per_s = drift(sides, beside);
    let ceiling_n = ceiling(trace, levels, ends);
    let candidates = beside.iter().copied().chain(ends.into_iter().flatten());
    let under = candidates.filter(|zero| zero.mean_n <= ceiling_n);
    let at_origin_n = under
        .map(|zero| zero.mean_n - drift_n_per_s * zero.at_s)
        .reduce(f64::max)?;
    Some(FreeLevel {
        at_origin_n,
        drift_n_per_s,
    })
}

/// Of a record that begins and ends at 0 N, how high the free gauge can read, N: no limit for any other.
fn ceiling(trace: &Trace<'_>, levels: &Levels, ends: [Option<Zero>; 2]) -> f64 {
    let near_n = levels.near_zero_n(trace.noise_n);
    match ends {
        [Some(first), Some(last)] if first.mean_n.abs().max(last.mean_n.abs()) <= near_n => {
            first.mean_n.max(last.mean_n) + near_n
        }
        _ => f64::INFINITY,
    }
}

/// Drift of the free gauge, N/s: of two median slopes the lesser, that between any two zeros and that inside the pauses.
/// None where their signs differ or no pause has both its zeros: a push-out that grows from pause to pause is no drift.
fn drift(sides: &[Sides], beside: &[Zero]) -> f64 {
    let inside: Vec<f64> = sides
        .windows(2)
        .filter_map(|pair| {
            let (begin, end) = (pair[0][1].ok()?, pair[1][0].ok()?);
            let slope = (end.mean_n - begin.mean_n) / (end.at_s - begin.at_s);
            (end.at_s > begin.at_s).then_some(slope)
        })
        .collect();
    let times: Vec<f64> = beside.iter().map(|zero| zero.at_s).collect();
    let forces: Vec<f64> = beside.iter().map(|zero| zero.mean_n).collect();
    let Some((between, _)) = statistics::theil_sen(&times, &forces).filter(|_| !inside.is_empty())
    else {
        return 0.0;
    };
    let inside = statistics::median(&inside);
    if between * inside <= 0.0 {
        0.0
    } else if between.abs() < inside.abs() {
        between
    } else {
        inside
    }
}

/// The free level at whichever end of the record it lies farther from 0 N, where that is far.
fn offset_n(trace: &Trace<'_>, levels: &Levels, free: &FreeLevel) -> Option<f64> {
    let ends = [trace.time_s[0], trace.time_s[trace.time_s.len() - 1]];
    let farthest = ends
        .map(|time_s| free.at(time_s))
        .into_iter()
        .max_by(|a, b| a.abs().total_cmp(&b.abs()))?;
    (farthest.abs() > OFFSET_SHARE * levels.reference_n).then_some(farthest)
}

fn range(values: &[f64]) -> f64 {
    let highest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let lowest = values.iter().copied().fold(f64::INFINITY, f64::min);
    (highest - lowest).max(0.0)
}
