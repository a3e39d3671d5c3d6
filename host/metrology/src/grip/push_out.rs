//! How far the drawbar pushes the shank out when it unclamps, and draws it in when it clamps.
//!
//! In come the readings of a probe or indicator on the gauge's end face and where a clamp begins and ends; out come two
//! distances, or none. Both are from the clamped position to where the shank stands held up against the gripper: pushed out
//! and held there for a moment after unclamping, and put up to the gripper before clamping. Hanging free it stands
//! wherever a hand or the cradle holds it, and says nothing.

use super::budget::Taken;
use super::clamps::Found;
use super::edges::Edges;
use super::record::{ForceRecord, Travel};
use super::remarks::{EndFaceDoubt, GripNote, GripRemedy};
use super::result::Clamp;
use super::setup::GripSetup;
use crate::decision::{self, Figure, Limit, Side};
use crate::statistics;
use crate::uncertainty::{Budget, Contribution, Distribution};
use holdtrue_terms::vocabulary::{Outcome, Provenance};

/// A shank that stands still spans no more than this, mm.
const STILL_MM: f64 = 0.03;
/// … for this long, s, in two readings at least.
const STILL_S: f64 = 0.09;
/// Where the clamped position is read: from this long after half the force is there, and until this long before it is gone, s.
const CLAMPED_AFTER_S: f64 = 0.5;
const CLAMPED_BEFORE_S: f64 = 0.1;
const CLAMPED_FOR_S: f64 = 0.5;
/// The push-out begins when the force is gone; so long after that it has not come to its stop yet, s …
const STOP_FROM_S: f64 = 0.05;
/// … and what stands still only later than this was not held up, s.
const STOP_TO_S: f64 = 1.2;
/// Before the force begins to rise the shank stands at the gripper for this long, s.
const PUT_UP_S: f64 = 0.3;
/// How far tip, end face and hand may put one distance off, mm. Common practice, no source.
const TAKEN_MM: f64 = 0.03;

/// No drawbar pushes a shank out by more, mm. Common practice, no source.
const MOST_MM: f64 = 20.0;
/// Push-outs of one drawbar are not this many times as large as one another.
const ALIKE_TIMES: f64 = 2.0;

/// What one clamp shows of them, mm; none where the shank was not held up, or nothing read it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Distances {
    /// Pushed out on unclamping.
    pub push_out_mm: Option<f64>,
    /// Drawn in on clamping.
    pub draw_in_mm: Option<f64>,
}

/// The two distances of one clamp.
pub(super) fn distances(travel: &[Travel], edges: &Edges) -> Distances {
    let push_out_mm = edges.released_s.and_then(|released_s| {
        let from_s = released_s - CLAMPED_BEFORE_S - CLAMPED_FOR_S;
        let from_s = edges
            .clamped_s
            .map_or(from_s, |clamped_s| from_s.max(clamped_s));
        let clamped = still(between(travel, from_s, released_s - CLAMPED_BEFORE_S))?;
        let gone_s = edges.falling_foot_s;
        let after = between(travel, gone_s + STOP_FROM_S, gone_s + STOP_TO_S);
        let (stop, at_s) = first_stop(after)?;
        let whole = is_whole(between(travel, from_s, at_s));
        whole.then_some(stop - clamped)
    });
    let draw_in_mm = edges.clamped_s.and_then(|clamped_s| {
        let from_s = clamped_s + CLAMPED_AFTER_S;
        let clamped = still(between(travel, from_s, from_s + CLAMPED_FOR_S))?;
        let rises_s = edges.rising_foot_s;
        let put_up = last_stop(between(travel, rises_s - PUT_UP_S, rises_s));
        let whole = between(travel, rises_s, from_s + CLAMPED_FOR_S);
        Some(put_up.filter(|_| is_whole(whole))? - clamped)
    });
    Distances {
        push_out_mm,
        draw_in_mm,
    }
}

fn between(travel: &[Travel], from_s: f64, to_s: f64) -> &[Travel] {
    let at = |time_s: f64| travel.partition_point(|reading| reading.time_s < time_s);
    let (from, to) = (at(from_s), at(to_s));
    &travel[from..to.max(from)]
}

/// No counts were lost.
fn is_whole(readings: &[Travel]) -> bool {
    readings.iter().all(|reading| reading.mm.is_some())
}

/// Where it stands, if it does.
fn still(readings: &[Travel]) -> Option<f64> {
    let all: Option<Vec<f64>> = readings.iter().map(|reading| reading.mm).collect();
    let all = all.filter(|all| all.len() >= 2)?;
    let highest = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let lowest = all.iter().copied().fold(f64::INFINITY, f64::min);
    (highest - lowest <= STILL_MM).then(|| statistics::median(&all))
}

/// The earliest stretch in which it stands still: where, and since when.
fn first_stop(readings: &[Travel]) -> Option<(f64, f64)> {
    (0..readings.len()).find_map(|first| {
        let until_s = readings[first].time_s + STILL_S;
        let last = readings[first..]
            .iter()
            .position(|reading| reading.time_s >= until_s)?;
        let level = still(&readings[first..=first + last])?;
        Some((level, readings[first].time_s))
    })
}

/// The latest, going back from the end.
fn last_stop(readings: &[Travel]) -> Option<f64> {
    (1..=readings.len()).rev().find_map(|end| {
        let from_s = readings[end - 1].time_s - STILL_S;
        let first = readings[..end]
            .iter()
            .rposition(|reading| reading.time_s <= from_s)?;
        still(&readings[first..end])
    })
}

/// Mean push-out of the counted clamps that have one, and how sure it is, mm.
#[derive(Clone, Debug)]
pub(super) struct PushOut {
    /// The mean.
    pub mean_mm: f64,
    /// Contributions to its standard uncertainty.
    pub budget: Budget,
}

impl PushOut {
    pub fn of(taken: &[Taken], setup: &GripSetup) -> Option<Self> {
        let all = taken.iter().filter_map(|clamp| clamp.push_out_mm);
        let all: Vec<f64> = all.collect();
        if all.len() < 2 {
            return None;
        }
        let mean_mm = statistics::mean(&all);
        let count = all.len() as f64;
        let mut parts = vec![
            Contribution::new(
                format!("repeatability of {} push-outs", all.len()),
                statistics::stdev(&all) / count.sqrt(),
                Some(count - 1.0),
            ),
            Contribution::bounded(
                "tip, end face and hand",
                Distribution::Rectangular,
                TAKEN_MM,
                1.0,
                Provenance::CommonPractice,
            ),
        ];
        if let Some(probe) = setup.end_probe {
            let expanded = (probe.expanded_percent / 100.0 * mean_mm).hypot(probe.expanded_mm);
            parts.push(Contribution::new(
                "calibration of the probe",
                0.5 * expanded,
                None,
            ));
        }
        Some(Self {
            mean_mm,
            budget: Budget::new(parts),
        })
    }
}

/// Whether what read the end face can have read it: unclamping pushes a shank out by tenths of a millimetre, in every clamp.
/// That it did not move, or moved so little or so much, somebody may say who was there; that it moved the other way nobody.
pub(super) fn doubt(found: &Found, record: &ForceRecord, as_read: bool) -> Option<EndFaceDoubt> {
    let counted = found.clamps.iter().filter(|clamp| clamp.counted());
    let out: Vec<f64> = counted
        .filter_map(|clamp| clamp.distances.push_out_mm)
        .collect();
    let (least_mm, most_mm) = ends(out.iter().copied())?;
    let mean_mm = statistics::mean(&out);
    if out.len() >= 2 && most_mm < -STILL_MM {
        return Some(EndFaceDoubt::Reversed { mean_mm });
    }
    if as_read {
        return None;
    }
    if out.len() >= 2 && least_mm > MOST_MM {
        return Some(EndFaceDoubt::Thousandfold { mean_mm });
    }
    let (low_mm, high_mm) = ends(record.travel().iter().filter_map(|reading| reading.mm))?;
    let span_mm = high_mm - low_mm;
    if span_mm > STILL_MM {
        return None;
    }
    let thousandth = STILL_MM / 1e3..MOST_MM / 1e3;
    let in_another_unit = out.len() >= 2
        && thousandth.contains(&least_mm)
        && thousandth.contains(&most_mm)
        && most_mm < ALIKE_TIMES * least_mm;
    Some(match in_another_unit {
        true => EndFaceDoubt::Thousandth { mean_mm },
        false => EndFaceDoubt::Stuck { span_mm },
    })
}

/// What would settle it.
pub(super) fn remedy(doubt: EndFaceDoubt) -> GripRemedy {
    match doubt {
        EndFaceDoubt::Reversed { .. } => GripRemedy::EndFaceTurned,
        EndFaceDoubt::Stuck { .. } => GripRemedy::EndFaceFreed,
        EndFaceDoubt::Thousandth { .. } | EndFaceDoubt::Thousandfold { .. } => {
            GripRemedy::EndFaceUnit
        }
    }
}

/// The least and the most of some.
fn ends(mut all: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    let first = all.next()?;
    Some(all.fold((first, first), |(least, most), mm| {
        (least.min(mm), most.max(mm))
    }))
}

/// What is said of the push-out whether anything limits it or not.
pub(super) fn note(clamps: &[Clamp]) -> Option<GripNote> {
    let counted = || clamps.iter().filter(|clamp| clamp.counted);
    let out: Vec<f64> = counted().filter_map(|clamp| clamp.push_out_mm).collect();
    let drawn: Vec<f64> = counted().filter_map(|clamp| clamp.draw_in_mm).collect();
    if out.is_empty() {
        return None;
    }
    Some(GripNote::PushedOut {
        clamps: out.len(),
        mean_mm: statistics::mean(&out),
        least_mm: out.iter().copied().fold(f64::INFINITY, f64::min),
        most_mm: out.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        drawn_in_mm: (!drawn.is_empty()).then(|| statistics::mean(&drawn)),
    })
}

/// Where the push-out lies against the maker's figure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum AgainstMaker {
    /// Not plainly outside it.
    Within {
        /// The mean, mm.
        mean_mm: f64,
    },
    /// Plainly larger.
    TooFar {
        /// The mean, mm.
        mean_mm: f64,
        /// The maker's most, mm.
        most_mm: f64,
    },
    /// Plainly smaller.
    TooShort {
        /// The mean, mm.
        mean_mm: f64,
        /// The maker's least, mm.
        least_mm: f64,
    },
}

/// The push-out against the maker's figure; none where either is not known. One side alone settles only that side.
pub(super) fn against_maker(taken: &[Taken], setup: &GripSetup) -> Option<AgainstMaker> {
    let PushOut { mean_mm, budget } = PushOut::of(taken, setup)?;
    let of = |side| {
        let limits = setup.limits.iter();
        let mut limits =
            limits.filter(move |limit| limit.figure == Figure::PushOut && limit.side == side);
        limits.next()
    };
    let outside = |limit: &&Limit| {
        decision::judge_by_budget(limit, mean_mm, &budget).outcome == Outcome::Reject
    };
    let (least, most) = (of(Side::Lower), of(Side::Upper));
    if let Some(most) = most.filter(outside) {
        let most_mm = most.limit;
        return Some(AgainstMaker::TooFar { mean_mm, most_mm });
    }
    if let Some(least) = least.filter(outside) {
        let least_mm = least.limit;
        return Some(AgainstMaker::TooShort { mean_mm, least_mm });
    }
    (least.is_some() && most.is_some()).then_some(AgainstMaker::Within { mean_mm })
}

#[cfg(test)]
mod tests {
    use super::super::edges::Hold;
    use super::*;

    /// Readings every `step_s`: at the gripper until 1.0 s, clamped until 6.0 s, pushed out until 6.6 s, then free.
    fn taken(step_s: f64, push_out_mm: f64, held_up: bool) -> Vec<Travel> {
        let at = |time_s: f64| {
            if time_s < 1.0 {
                push_out_mm
            } else if time_s < 1.2 {
                push_out_mm * (1.2 - time_s) / 0.2
            } else if time_s < 6.05 {
                0.0
            } else if time_s < 6.15 {
                push_out_mm * (time_s - 6.05) / 0.1
            } else if time_s < 6.6 && held_up {
                push_out_mm
            } else {
                // In a hand that wanders.
                4.0 + (9.0 * time_s).sin()
            }
        };
        let times = (0_u32..).map(|number| f64::from(number) * step_s);
        let times = times.take_while(|time_s| *time_s < 8.0);
        times
            .map(|time_s| Travel {
                time_s,
                mm: Some(1.7 + at(time_s)),
            })
            .collect()
    }

    fn edges() -> Edges {
        Edges {
            hold: Hold { first: 0, last: 0 },
            own_level_n: 10_000.0,
            clamped_s: Some(1.1),
            released_s: Some(6.0),
            rising_foot_s: 1.0,
            falling_foot_s: 6.05,
            slow_release_s: None,
        }
    }

    #[test]
    fn a_shank_held_up_shows_both_distances_whatever_reads_them() {
        for step_s in [0.001, 0.1] {
            for push_out_mm in [0.0, 0.05, 0.5, 1.8] {
                let found = distances(&taken(step_s, push_out_mm, true), &edges());
                let (out, drawn) = (found.push_out_mm, found.draw_in_mm);
                assert!(
                    (out.unwrap() - push_out_mm).abs() < 0.5 * STILL_MM,
                    "{step_s} {out:?}"
                );
                assert!(
                    (drawn.unwrap() - push_out_mm).abs() < 0.5 * STILL_MM,
                    "{step_s} {drawn:?}"
                );
            }
        }
    }

    /// The stop before the clamp lies on the other side of the loss; so does the one after it.
    #[test]
    fn nothing_is_measured_across_lost_counts() {
        let mut lost = taken(0.001, 0.5, true);
        for at in [1_080, 6_100] {
            lost[at].mm = None;
        }
        assert_eq!(distances(&lost, &edges()), Distances::default());
    }

    #[test]
    fn one_that_hangs_free_at_once_and_one_nobody_read_show_none() {
        let found = distances(&taken(0.001, 0.5, false), &edges());
        assert_eq!(found.push_out_mm, None);
        assert!(found.draw_in_mm.is_some());
        assert_eq!(distances(&[], &edges()), Distances::default());
    }
}
