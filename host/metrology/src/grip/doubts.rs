//! What a record leaves open about all its clamps.
//!
//! In comes what was found in it; out go the notes, the questions that keep anything from being within limit, and how
//! much the zeros that were set aside could lift the figures.

use super::clamps::Found;
use super::drop;
use super::excluded::Excluded;
use super::found::FoundClamp;
use super::hardly::HardlyGripped;
use super::hold_end::Down;
use super::left_out::{self, LeftOut, Unseen};
use super::push_out;
use super::record::{ForceRecord, SpanReason};
use super::remarks::{EndFaceDoubt, GripNote, GripReason, GripRemedy};
use super::setup::GripSetup;
use super::standstill::Standstill;
use super::trace::HELD_S;
use super::zero::{APART_SHARE, Agreement, Zero};

/// A gauge that rests on the push-out with so large a share of the clamps' force looks like one whose wires are exchanged:
/// its clamps lie below free, and the push-outs, which are stronger, above. Common practice, no source.
const LIKE_A_CLAMP_SHARE: f64 = 0.4;

/// What is left open.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Doubts {
    /// The gauge was overloaded: its calibration no longer holds.
    pub overloaded: bool,
    /// What the result says of it.
    pub notes: Vec<GripNote>,
    /// Why nothing is within limit by this record, each with what would settle it.
    pub open: Vec<(GripReason, GripRemedy)>,
    /// Why nothing is decided by this record, within limit or outside, each with what would settle it.
    pub blind: Vec<(GripReason, GripRemedy)>,
    /// A clamp left out as knocked while held, and the force did not come back.
    pub down_in_excluded: Option<Down>,
    /// Clamps that do not count, as far as they can be read.
    pub left_out: Vec<LeftOut>,
    /// By how much every clamp would read higher with the lowest zero that was set aside, N.
    pub low_by_n: f64,
    /// By how much every clamp may read too high: the highest that stood still in a pause, should that have been the free
    /// gauge, N; of a record that somebody took elsewhere and does not answer for.
    pub high_by_n: f64,
    /// Why what read the end face shows no push-out.
    pub end_face: Option<EndFaceDoubt>,
    /// Clamps whose force went down in the hold and rose again: their number, and where it went down to, N.
    pub fell: Vec<(u32, f64)>,
    /// In how many of how many holds the force went down and came back, where that is no knock.
    pub falls_again: Option<(usize, usize)>,
}

impl Doubts {
    /// Of a record.
    pub fn of(found: &Found, record: &ForceRecord, setup: &GripSetup) -> Self {
        let mut doubts = Self {
            overloaded: found.overloaded,
            low_by_n: found.zeros.lowest_n,
            left_out: LeftOut::of(found),
            fell: fell(found),
            falls_again: drop::falls_again(found),
            end_face: push_out::doubt(found, record, setup.as_read),
            ..Self::default()
        };
        if !setup.as_read && !setup.at_spindle {
            doubts.high_by_n = high_by_n(found);
        }
        doubts.notes.extend(set_aside(&found.zeros));
        for unseen in left_out::unseen(found, record) {
            doubts.ask_unseen(unseen, setup);
        }
        if let Some(offset_n) = found.zeros.offset_n {
            doubts.ask_free(offset_n, setup);
        }
        if found
            .clamps
            .iter()
            .any(|clamp| clamp.counted() && clamp.few_samples)
        {
            doubts
                .blind
                .push((GripReason::FewSamplesHeld, GripRemedy::FinerRecord));
        }
        if found.reversed {
            doubts
                .blind
                .push((GripReason::SignReversed, GripRemedy::SignPutRight));
        }
        let rests_n = found.zeros.lowest_n.max(found.zero_moved.below_n);
        if rests_n >= LIKE_A_CLAMP_SHARE * found.levels.reference_n && !setup.as_read {
            let why = GripReason::RestsLikeClamps { low_n: rests_n };
            doubts.blind.push((why, GripRemedy::SignPutRight));
        }
        doubts.ask_zero_moved(found, setup);
        if let Some((clamp, times)) = left_out::unit_changes(found).filter(|_| !setup.as_read) {
            let why = GripReason::UnitChanges { clamp, times };
            doubts.blind.push((why, GripRemedy::RecordAsTaken));
        }
        if let Some((first, copy)) = left_out::copied(found, record) {
            let why = GripReason::ClampCopied { first, copy };
            doubts.open.push((why, GripRemedy::RecordAsTaken));
        } else if let Some(force_n) = left_out::all_alike(found) {
            let why = GripReason::ClampsAlike { force_n };
            doubts.open.push((why, GripRemedy::RecordAsTaken));
        }
        doubts.down_in_excluded = found
            .clamps
            .iter()
            .filter(|clamp| clamp.excluded == Some(Excluded::Disturbed))
            .find_map(|clamp| Down::of(clamp.number, clamp.settled_n?, clamp.end));
        doubts.blind.extend(found.standstill.map(stands_still));
        doubts.notes.extend(zero_moved_between(found, record));
        let own_zero = found
            .own_zero_n
            .map(|at_n| GripNote::SetsItsOwnZero { at_n });
        doubts.notes.extend(own_zero);
        let end_face = doubts.end_face.map(GripNote::NoPushOutBy);
        doubts.notes.extend(end_face);
        for &pull in &found.hardly {
            doubts.ask_gripped(pull, setup);
        }
        doubts
    }

    /// A gripper that did not catch pulls little; so does a hand at the gauge, which only somebody who was there can say.
    fn ask_gripped(&mut self, pull: HardlyGripped, setup: &GripSetup) {
        if setup.as_read {
            self.notes.push(GripNote::TakenAsNoClamp(pull));
            return;
        }
        self.notes.push(GripNote::HardlyGripped(pull));
        let why = GripReason::HardlyGripped(pull);
        self.open.push((why, GripRemedy::LookAtGripper));
    }

    /// A clamp nobody sees is one that may have been weak. At the machine it is known whether one was made.
    fn ask_unseen(&mut self, unseen: Unseen, setup: &GripSetup) {
        let Unseen { from_s, for_s, .. } = unseen;
        self.notes.push(GripNote::Unseen { from_s, for_s });
        if unseen.like_a_clamp && !setup.as_read && !setup.at_spindle {
            let why = GripReason::Unseen { from_s, for_s };
            self.open.push((why, GripRemedy::WholeRecord));
        }
    }

    /// Our own gauge is never zeroed under load, and at the machine it is seen when it does not hang free.
    fn ask_zero_moved(&mut self, found: &Found, setup: &GripSetup) {
        if setup.at_spindle || setup.as_read {
            return;
        }
        let moved = &found.zero_moved;
        if let Some((at_s, by_n)) = moved.jump {
            let why = GripReason::ZeroedUnderLoad { at_s, by_n };
            self.open.push((why, GripRemedy::SetHangingFree));
        }
        if let Some(from_s) = moved.never_free_from_s {
            let why = GripReason::NeverFreeAgain { from_s };
            self.blind.push((why, GripRemedy::SetHangingFree));
        }
    }

    /// A gauge that is never free in a record cannot be told from one with an offset. At the machine it was seen free.
    fn ask_free(&mut self, offset_n: f64, setup: &GripSetup) {
        if setup.as_read {
            self.notes.push(GripNote::TakenAsFree { offset_n });
        } else if setup.at_spindle {
            self.notes.push(GripNote::FreeReads { offset_n });
        } else {
            self.notes.push(GripNote::WasItFree { offset_n });
            // Pulled all the while, it would read every clamp so much too low.
            self.low_by_n = self.low_by_n.max(offset_n);
            let why = GripReason::NotShownFree { offset_n };
            self.open.push((why, GripRemedy::ShowFree));
        }
    }
}

/// Where a check was gone on with, what the free gauge reads must be what it read before: else it was hung otherwise, loaded
/// beyond what it bears, or exchanged.
fn zero_moved_between(found: &Found, record: &ForceRecord) -> Vec<GripNote> {
    let bound_n = APART_SHARE * found.levels.reference_n;
    let zeros: Vec<Zero> = found
        .clamps
        .iter()
        .flat_map(|clamp| clamp.zeros.steady)
        .flatten()
        .collect();
    let spans = record.marked_spans().iter();
    let joins = spans.filter(|span| span.reason == SpanReason::ConnectedAgain);
    let moved = joins.filter_map(|span| {
        let before = zeros.iter().rfind(|zero| zero.at_s <= span.from_s)?;
        let after = zeros.iter().find(|zero| zero.at_s >= span.to_s)?;
        Some((span.to_s, after.mean_n - before.mean_n))
    });
    moved
        .filter(|(_, by_n)| by_n.abs() > bound_n)
        .map(|(at_s, by_n)| GripNote::ZeroMovedBetween {
            at_s,
            by_n,
            bound_n,
        })
        .collect()
}

fn fell(found: &Found) -> Vec<(u32, f64)> {
    // Moments count together, over all clamps: what lets go for a blink in each of them does not hold.
    let held = found
        .clamps
        .iter()
        .filter(|clamp| clamp.counted() || clamp.excluded == Some(Excluded::Disturbed));
    let moments_s = held.filter_map(|clamp| clamp.moments);
    let gone = moments_s.map(|moments| moments.for_s).sum::<f64>() >= HELD_S;
    let fell_to_n = |clamp: &FoundClamp| {
        let moments = clamp.moments.filter(|_| gone);
        let for_moments_n = moments.map(|moments| moments.reads_n);
        match (clamp.fell_to_n, for_moments_n) {
            (Some(fall_n), Some(moments_n)) => Some(fall_n.min(moments_n)),
            (fall_n, moments_n) => fall_n.or(moments_n),
        }
    };
    let clamps = found.clamps.iter();
    clamps
        .filter_map(|clamp| Some((clamp.number, fell_to_n(clamp)?)))
        .collect()
}

fn high_by_n(found: &Found) -> f64 {
    let clamps = found.clamps.iter();
    let at_an_end = clamps.filter_map(|clamp| clamp.on_or_free_n);
    at_an_end.fold(found.zeros.highest_n, f64::max)
}

fn set_aside(zeros: &Agreement) -> impl Iterator<Item = GripNote> {
    let of = zeros.zeros;
    let rested = (zeros.rested > 0).then_some(GripNote::RestedZeros {
        zeros: zeros.rested,
        of,
        low_n: zeros.lowest_n,
    });
    let pulled = (zeros.pulled > 0).then_some(GripNote::PulledZeros {
        zeros: zeros.pulled,
        of,
        high_n: zeros.highest_n,
    });
    rested.into_iter().chain(pulled)
}

fn stands_still(found: Standstill) -> (GripReason, GripRemedy) {
    match found {
        Standstill::Clamped => (GripReason::StillWhileClamped, GripRemedy::ForceAsItIs),
        Standstill::AtItsEnd(at_n) => (GripReason::StillAtItsEnd { at_n }, GripRemedy::WiderRange),
        Standstill::Free(at_n) => (GripReason::StillInPauses { at_n }, GripRemedy::BelowZeroToo),
    }
}
