//! From a force record to its clamps.
//!
//! In comes a record, with the clamps discarded by hand and the gauge's rated load; out come all clamps in time order,
//! each with its settled force, peak and sag, counted or excluded with the first reason that applies.

use super::clamping;
use super::distances;
use super::edges::{self, Edges, Hold};
use super::ending::{self, Endings, Slip};
use super::excluded::{Discard, Excluded};
use super::falls;
use super::filled_up;
use super::found::FoundClamp;
use super::grain;
use super::hardly::{self, HardlyGripped};
use super::hold_end;
use super::levels::{Levels, NoClamp};
use super::moments;
use super::record::{ForceRecord, Span, SpanKind, SpanReason};
use super::remarks::ClampNote;
use super::sag::{self, Fall, Held};
use super::spike;
use super::standstill::{self, Standstill};
use super::trace::{HELD_S, Trace};
use super::window::{self, Bump, Settled};
use super::zero::{self, Agreement, Zeros};
use super::zeroed::ZeroMoved;
use crate::side_by_side;

/// What the finding of clamps needs to know besides the record.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rules {
    /// Clamps put aside by hand.
    pub discards: Vec<Discard>,
    /// Rated load of the gauge, N: beyond it, in tension or compression, it was overloaded.
    pub rated_load_n: Option<f64>,
    /// A record that reads downwards is meant as it reads.
    pub as_read: bool,
    /// What a single clamp must hold, N, where something says so.
    pub least_n: Option<f64>,
}

/// All that was found in a record.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Every clamp, in time order.
    pub clamps: Vec<FoundClamp>,
    /// The levels they were told by.
    pub levels: Levels,
    /// Noise of the record, N.
    pub noise_n: f64,
    /// What its zeros say of one another.
    pub zeros: Agreement,
    /// Pulls between the clamps, too weak to be listed.
    pub hardly: Vec<HardlyGripped>,
    /// Where the instrument did not follow the force.
    pub standstill: Option<Standstill>,
    /// What the instrument shows between the clamps, where that is one number and it sets it itself, N.
    pub own_zero_n: Option<f64>,
    /// From when to when the reading stood still in one pause and not in the others, s.
    pub stopped: Vec<(f64, f64)>,
    /// Step of the record where no noise shows what lies between, N.
    pub grain_n: f64,
    /// Half-way between the held levels, where that lies below 0 N, N.
    pub below_zero_n: Option<f64>,
    /// It reads as a gauge does whose sign is reversed.
    pub reversed: bool,
    /// What shows that the zero moved while the record ran.
    pub(super) zero_moved: ZeroMoved,
    /// Somewhere in the record the gauge was overloaded: its calibration no longer holds.
    pub overloaded: bool,
}

/// Finds the clamps of a record.
///
/// # Errors
/// The record is too short or its force hardly changes.
pub fn find(record: &ForceRecord, rules: &Rules) -> Result<Found, NoClamp> {
    find_with(record, rules, &[], &[])
}

/// The same, with clamps found before in a shorter record that must stay listed, and stretches found to be none.
pub(super) fn find_with(
    record: &ForceRecord,
    rules: &Rules,
    listed: &[Hold],
    rests: &[Hold],
) -> Result<Found, NoClamp> {
    let mut trace = Trace::new(record);
    let levels = Levels::of(&trace);
    if listed.is_empty() {
        // A record that had a clamp once cannot turn out to have none.
        if !trace.holds_a_level {
            return Err(NoClamp::too_short(record));
        }
        levels.check(&trace, rules.as_read)?;
    }
    if let Some(rated_load_n) = rules.rated_load_n {
        let beyond = overloads(&trace, levels.base_n, rated_load_n);
        trace.spans.extend(beyond);
    }
    let holds = keep_listed(
        &trace,
        listed,
        without(rests, edges::holds(&trace, &levels)),
    );
    if holds.is_empty() {
        return Err(levels.too_flat(&trace, levels.reference_n));
    }
    let all: Vec<Edges> = (0..holds.len())
        .map(|index| {
            let before = index.checked_sub(1).map(|before| holds[before]);
            edges::edges(
                &trace,
                levels.base_n,
                holds[index],
                before,
                holds.get(index + 1).copied(),
            )
        })
        .collect();
    let threads = side_by_side::threads(record.len());
    let ((zeros, agreement), step_n) = side_by_side::both(
        threads,
        || zero::zeros(&trace, &levels, &all),
        || grain::step_n(trace.force_n),
    );
    let grain_n = grain::grain_n(step_n, trace.noise_n);
    let beginnings: Vec<(u32, (&Edges, &Zeros))> = (1..).zip(all.iter().zip(&zeros)).collect();
    let clamps = side_by_side::each(&beginnings, threads, |&(number, (edges, zeros))| {
        let mut clamp = clamp(record, &trace, &levels, rules, number, edges, zeros);
        clamp.end = hold_end::hold_end(&trace, levels.base_n, &clamp, grain_n);
        clamp
    });
    let overloaded = trace
        .spans
        .iter()
        .any(|span| span.kind == SpanKind::Overload);
    let free = zeros.first().and_then(|zeros| zeros.free);
    let hardly = hardly::hardly_gripped(&trace, &all, free);
    let reference_n = levels.reference_n;
    let standstill = standstill::standstill(&trace, step_n, &all, |index| clamps[index].counted());
    Ok(Found {
        clamps,
        levels,
        noise_n: trace.noise_n,
        zeros: agreement,
        hardly,
        own_zero_n: standstill
            .is_none()
            .then(|| standstill::own_zero_n(&trace, &all))
            .flatten(),
        standstill,
        stopped: [
            standstill::stopped(&trace, &all),
            standstill::straight(&trace, &all, step_n),
        ]
        .concat(),
        grain_n,
        below_zero_n: Levels::below_zero_n(&trace),
        reversed: Levels::is_reversed(&trace),
        zero_moved: ZeroMoved::of(&trace, &all, free, reference_n),
        overloaded,
    })
}

/// How far the end of a clamp may move between two evaluations and still be the same release.
const SAME_RELEASE_S: f64 = 0.5;

/// Thresholds move as a record grows. A clamp listed before stays: as the thresholds of now see it if that is one clamp
/// with the same release, else as it was listed. Only what begins after the last of them is new.
fn keep_listed(trace: &Trace<'_>, listed: &[Hold], fresh: Vec<Hold>) -> Vec<Hold> {
    let Some(last) = listed.last() else {
        return fresh;
    };
    let mut kept: Vec<Hold> = Vec::with_capacity(fresh.len());
    for hold in listed {
        let mut same = fresh.iter().filter(|now| overlap(now, hold));
        let now = match (same.next(), same.next()) {
            (Some(now), None)
                if listed.iter().filter(|other| overlap(now, other)).count() == 1
                    && (trace.time_s[now.last] - trace.time_s[hold.last]).abs()
                        < SAME_RELEASE_S =>
            {
                *now
            }
            _ => *hold,
        };
        kept.push(now);
    }
    let end = kept
        .last()
        .map_or(last.last, |hold| hold.last.max(last.last));
    kept.extend(fresh.into_iter().filter(|hold| hold.first > end));
    kept
}

fn overlap(a: &Hold, b: &Hold) -> bool {
    a.first <= b.last && b.first <= a.last
}

/// What was found to be no clamp stays none.
fn without(rests: &[Hold], mut holds: Vec<Hold>) -> Vec<Hold> {
    holds.retain(|hold| !rests.iter().any(|rest| overlap(rest, hold)));
    holds
}

/// Stretches in which the gauge is loaded beyond its rated load, either way.
fn overloads(trace: &Trace<'_>, base_n: f64, rated_load_n: f64) -> Vec<Span> {
    let mut spans: Vec<Span> = Vec::new();
    let mut inside = false;
    for (&time_s, &force_n) in trace.time_s.iter().zip(trace.force_n) {
        let load_n = force_n - base_n;
        let beyond = load_n.abs() > rated_load_n;
        if beyond && !inside {
            let reason = SpanReason::OverRated {
                load_n,
                rated_n: rated_load_n,
            };
            spans.push(Span {
                from_s: time_s,
                to_s: time_s,
                kind: SpanKind::Overload,
                reason,
            });
        } else if beyond && let Some(span) = spans.last_mut() {
            span.to_s = time_s;
        }
        inside = beyond;
    }
    spans
}

fn clamp(
    record: &ForceRecord,
    trace: &Trace<'_>,
    levels: &Levels,
    rules: &Rules,
    number: u32,
    edges: &Edges,
    zeros: &Zeros,
) -> FoundClamp {
    let window = window::settled_window(edges);
    let readable = window.filter(|window| !trace.broken(window.from_s, window.to_s));
    let settled = readable
        .map(|window| window::settle(trace, edges.own_level_n, window, zeros.slope_n_per_s()));
    let settled_n = settled
        .as_ref()
        .and_then(|settled| Some(settled.mean_n? - zeros.at(readable?.centre_s())?));
    let fall = sag::fall(trace, levels.base_n, edges);
    let held = Held::of(trace, edges, fall.as_ref());
    let endings = held
        .as_ref()
        .map_or_else(Endings::default, |held| ending::endings(trace, held, zeros));
    let moments = moments::moments(trace, levels.base_n, edges, rules.least_n);
    let filled_up = held
        .as_ref()
        .and_then(|held| filled_up::filled_up(&held.with_falls(trace, edges), zeros));
    let slip = ending::slip(trace, edges);
    let sag = held
        .as_ref()
        .and_then(|held| sag::sag(held, zeros, fall.as_ref()));
    let falls_n_per_s = settled
        .as_ref()
        .filter(|_| sag.is_none() && !window::is_short(edges))
        .and_then(|settled| settled.falls_n_per_s);
    let peak = peak(trace, edges);
    let counted_samples = settled.as_ref().map_or(1, |settled| settled.samples.max(1));
    let averaging = (1.0 / counted_samples as f64 + zeros.variance_share()).sqrt();

    let discard = rules
        .discards
        .iter()
        .find(|discard| discard.number == number);
    let mut notes = Vec::new();
    let otherwise = exclusion(trace, edges, zeros, settled_n, settled.as_ref(), &mut notes);
    let excluded = if discard.is_some() {
        Some(Excluded::Discarded)
    } else {
        otherwise
    };
    if let Some(discard) = discard {
        let reason = discard.reason.clone();
        notes.insert(0, ClampNote::Discarded { reason });
    }
    let on_or_free = on_or_free(trace, levels, edges);
    notes.extend(on_or_free.map(|above_n| ClampNote::OnOrFree {
        reads_n: above_n + levels.base_n,
    }));
    notes.extend(zero_note(zeros, edges));
    if let Some(settled) = settled.as_ref().filter(|_| !window::is_short(edges)) {
        notes.extend(window_notes(settled));
    }
    notes.extend(falls_n_per_s.map(|_| ClampNote::StillFalling));
    notes.extend(fall.as_ref().map(fall_note));
    notes.extend(slip.as_ref().map(slip_note));
    notes.extend(slow_release_note(edges));
    notes.extend(spike_note(trace, edges, zeros, peak));
    let short_hold =
        excluded_allows_short_hold(excluded) && !window::is_short(edges) && window::is_cut(edges);
    if short_hold {
        notes.push(ClampNote::UnclampedEarly);
    }
    let (orientation_deg, turned) = orientation(record, trace, edges);
    notes.extend(turned);
    FoundClamp {
        number,
        edges: *edges,
        zeros: *zeros,
        window,
        settled_n,
        reads_n: reads_n(trace, levels.base_n, edges, peak),
        window_slope_n_per_s: settled.as_ref().map(|settled| settled.slope_n_per_s),
        rises_n_per_s: settled.as_ref().and_then(|settled| settled.rises_n_per_s),
        falls_n_per_s,
        averaging,
        peak_n: peak.and_then(|peak| Some(trace.force_n[peak] - zeros.at(trace.time_s[peak])?)),
        sag,
        end: None,
        fell_to_n: fall.as_ref().and_then(|fall| fall.down_to_n),
        falls: falls::falls(trace, edges),
        on_or_free_n: on_or_free,
        moments,
        endings,
        filled_up,
        slip,
        orientation_deg,
        excluded,
        excluded_otherwise: otherwise,
        short_hold,
        few_samples: settled.is_some_and(|settled| settled.few_samples),
        clamping_s: clamping::time_s(trace, levels.base_n, edges),
        distances: distances::distances(record.travel(), edges),
        notes,
    }
}

/// What is on for less shows its level by its highest reading alone, s.
const LEAST_ON_S: f64 = 0.5;
/// Fewer samples are a touch, however far apart they are.
const LEAST_ON_SAMPLES: usize = 3;
/// A release that takes no longer than this to half the level asks no question: throttled units take a second in all. Common
/// practice, no source.
const WORTH_ASKING_S: f64 = 0.6;

/// The most it held for a quarter of a second; of one that was on for too short, or where too much is missing to tell, its
/// peak. What passes faster is a hand at the gauge.
fn reads_n(trace: &Trace<'_>, base_n: f64, edges: &Edges, peak: Option<usize>) -> Option<f64> {
    let Hold { first, last } = edges.hold;
    let on = first..last + 1;
    let on_s = window::hold_s(edges).unwrap_or(trace.time_s[last] - trace.time_s[first]);
    if on_s < HELD_S || on.len() < LEAST_ON_SAMPLES {
        return None;
    }
    let held_n = trace
        .greatest_held_in(on)
        .filter(|_| on_s >= LEAST_ON_S)
        .or(peak.map(|peak| trace.force_n[peak]))?;
    Some(held_n - base_n)
}

/// A clamp that does not count for its length, or has none, is not flagged short on top.
fn excluded_allows_short_hold(excluded: Option<Excluded>) -> bool {
    !matches!(excluded, Some(Excluded::Short | Excluded::NotReleased))
}

/// The first reason that applies, leaving the hand's aside, with what is known about it as a note.
fn exclusion(
    trace: &Trace<'_>,
    edges: &Edges,
    zeros: &Zeros,
    settled_n: Option<f64>,
    settled: Option<&Settled>,
    notes: &mut Vec<ClampNote>,
) -> Option<Excluded> {
    let end_s = trace.time_s[trace.time_s.len() - 1];
    let (clamped_s, released_s) = (
        edges.clamped_s.unwrap_or(trace.time_s[0]),
        edges.released_s.unwrap_or(end_s),
    );
    let within_feet = |kind| trace.marked(kind, edges.rising_foot_s, edges.falling_foot_s);
    let mut because = |span: &Span, word: Excluded| {
        notes.push(ClampNote::Marked(span.reason));
        Some(word)
    };
    if let Some(span) = within_feet(SpanKind::Fault) {
        because(span, Excluded::Fault)
    } else if let Some(span) = trace.marked(SpanKind::Gap, clamped_s, released_s) {
        because(span, Excluded::Gap)
    } else if let Some(span) = within_feet(SpanKind::Overload) {
        because(span, Excluded::Overload)
    } else if edges.released_s.is_none() {
        Some(Excluded::NotReleased)
    } else if window::is_short(edges) {
        Some(Excluded::Short)
    } else if edges.clamped_s.is_none() {
        notes.push(ClampNote::BeganUnderLoad);
        Some(Excluded::NoZero)
    } else if zeros.free.is_none() {
        Some(Excluded::NoZero)
    } else if settled.is_some_and(|settled| settled.bump == Bump::Disturbed) {
        Some(Excluded::Disturbed)
    } else if settled_n.is_none() {
        notes.push(ClampNote::NoSample);
        Some(Excluded::Gap)
    } else {
        None
    }
}

/// A level held at an end of the record, too low for a clamp like the others and too high for a free gauge, N above base:
/// that of a clamp, or of what goes before it or comes after it without the threshold between.
fn on_or_free(trace: &Trace<'_>, levels: &Levels, edges: &Edges) -> Option<f64> {
    let Hold { first, last } = edges.hold;
    let (at_first, at_last) = (first == 0, last + 1 == trace.smooth_n.len());
    if (at_first || at_last) && edges.own_level_n < 0.5 * levels.reference_n {
        return Some(edges.own_level_n);
    }
    let half_n = levels.base_n + 0.5 * edges.own_level_n;
    let low = |&index: &usize| trace.smooth_n[index] < half_n;
    let before = (first..last + 1).take_while(low).count();
    let after = (first..last + 1).rev().take_while(low).count();
    let before = (at_first && before > 0).then_some(first..first + before);
    let after = (at_last && after > 0).then_some(last + 1 - after..last + 1);
    let held_n = |samples| Some(trace.greatest_held_in(samples)? - levels.base_n);
    let held = before.into_iter().chain(after).filter_map(held_n);
    held.reduce(f64::max)
}

fn zero_note(zeros: &Zeros, edges: &Edges) -> Option<ClampNote> {
    let (clamped, released) = (edges.clamped_s.is_some(), edges.released_s.is_some());
    match (zeros.before, zeros.after) {
        (Ok(_), Err(after)) if released => Some(ClampNote::ZeroBeforeOnly { after }),
        (Err(before), Ok(_)) if clamped => Some(ClampNote::ZeroAfterOnly { before }),
        (Err(before), Err(after)) if clamped && released => Some(ClampNote::NoZeroBeside {
            before,
            after,
            elsewhere: zeros.free.is_some(),
        }),
        _ => None,
    }
}

fn window_notes(settled: &Settled) -> Vec<ClampNote> {
    let mut notes = Vec::new();
    if settled.few_samples {
        notes.push(ClampNote::FewSamples);
    }
    if settled.rises_n_per_s.is_some() {
        notes.push(ClampNote::StillRising);
    }
    if let Bump::CutOut(length_s) = settled.bump {
        notes.push(ClampNote::Bumped { length_s });
    }
    notes
}

fn fall_note(fall: &Fall) -> ClampNote {
    ClampNote::FellAndRose {
        at_s: fall.at_s,
        depth_n: fall.depth_n,
    }
}

/// A release that took so long that it may have been no release at first.
fn slow_release_note(edges: &Edges) -> Option<ClampNote> {
    let began_s = edges.slow_release_s?;
    let took_s = edges.released_s? - began_s;
    (took_s > WORTH_ASKING_S).then_some(ClampNote::ReleasedSlowly { began_s })
}

fn slip_note(slip: &Slip) -> ClampNote {
    ClampNote::Slipped {
        at_s: slip.at_s,
        by_n: slip.by_n,
    }
}

/// How many single readings were left out of what is held, of the zeros, and of the peak.
fn spike_note(
    trace: &Trace<'_>,
    edges: &Edges,
    zeros: &Zeros,
    peak: Option<usize>,
) -> Option<ClampNote> {
    let above_peak =
        |index: usize| peak.is_some_and(|peak| trace.force_n[index] > trace.force_n[peak]);
    let held = window::held(edges).map(|held| trace.samples_within(held.from_s, held.to_s));
    let is_held = |index: usize| held.as_ref().is_some_and(|held| held.contains(&index));
    let in_clamp = trace
        .samples_within(edges.rising_foot_s, edges.falling_foot_s)
        .filter(|&index| spike::in_clamp(trace, edges, index))
        .filter(|&index| is_held(index) || above_peak(index));
    let readings = in_clamp.count() + zeros.spikes();
    (readings > 0).then_some(ClampNote::SpikesLeftOut { readings })
}

/// Index of the largest raw sample from foot to foot that is no spike.
fn peak(trace: &Trace<'_>, edges: &Edges) -> Option<usize> {
    trace
        .samples_within(edges.rising_foot_s, edges.falling_foot_s)
        .filter(|&index| !spike::in_clamp(trace, edges, index))
        .max_by(|&a, &b| trace.force_n[a].total_cmp(&trace.force_n[b]))
}

/// Orientation at the middle of the hold, with a note if it changes while held.
fn orientation(
    record: &ForceRecord,
    trace: &Trace<'_>,
    edges: &Edges,
) -> (Option<f64>, Option<ClampNote>) {
    let Hold { first, last } = edges.hold;
    let middle_s = f64::midpoint(trace.time_s[first], trace.time_s[last]);
    let middle = trace
        .time_s
        .partition_point(|&time| time < middle_s)
        .min(last);
    let angle = record.orientation_at(middle);
    let changes =
        angle.is_some() && (first..=last).any(|index| record.orientation_at(index) != angle);
    (angle, changes.then_some(ClampNote::OrientationChanges))
}
