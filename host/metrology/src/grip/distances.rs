//! How far the drawbar pushes the shank out when it unclamps, and draws it in when it clamps.
//!
//! In come the readings of a probe or indicator on the gauge's end face and where a clamp begins and ends; out come two
//! distances, or none. Both are from the clamped position to where the shank stands held up against the gripper: pushed out
//! and held there for a moment after unclamping, and put up to the gripper before clamping. Hanging free it stands
//! wherever a hand or the cradle holds it, and says nothing.

use super::edges::Edges;
use super::record::Travel;
use crate::statistics;

/// A shank that stands still spans no more than this, mm.
pub(super) const STILL_MM: f64 = 0.03;
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
