//! The push-out of a check: the mean over its clamps and how sure it is, and where it stands beside the maker's figure.

use super::budget::Taken;
use super::clamps::Found;
use super::distances::STILL_MM;
use super::record::ForceRecord;
use super::remarks::{EndFaceDoubt, GripNote, GripRemedy};
use super::result::Clamp;
use super::setup::GripSetup;
use crate::decision::{self, Figure, Limit, Side};
use crate::statistics;
use crate::uncertainty::{Budget, Contribution, Distribution};
use holdtrue_terms::vocabulary::{Outcome, Provenance};

/// How far tip, end face and hand may put one distance off, mm. Common practice, no source.
const TAKEN_MM: f64 = 0.03;

/// No drawbar pushes a shank out by more, mm. Common practice, no source.
const MOST_MM: f64 = 20.0;
/// Push-outs of one drawbar are not this many times as large as one another.
const ALIKE_TIMES: f64 = 2.0;

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
