//! Grip force: from a force record to clamps, figures and a verdict.
//!
//! In comes a [`record::ForceRecord`] (or readings noted by hand) and a [`setup::GripSetup`]; out comes a
//! [`result::GripResult`]: the clamps found, the statistics over those that count, their uncertainty, the verdict and
//! likely causes.

mod bench;
pub mod budget;
mod clamping;
pub mod clamps;
mod distances;
mod doubts;
mod drop;
pub mod edges;
pub mod ending;
pub mod excluded;
mod falls;
mod filled_up;
pub mod found;
mod grain;
pub mod hardly;
mod hints;
pub mod hold_end;
mod left_out;
pub mod levels;
pub mod limits;
mod moments;
pub mod push_out;
pub mod record;
mod release;
pub mod remarks;
mod remedy;
pub mod result;
pub mod sag;
pub mod setup;
mod spike;
pub mod standstill;
pub mod step;
mod trace;
mod verdict;
pub mod watch;
pub mod window;
pub mod zero;
mod zeroed;

use crate::doubt::Doubt;
use crate::verdict::{Reason, Verdict};
use budget::{Recorded, Taken};
use clamps::{Found, Rules};
pub use drop::is_cause;

use distances::Distances;
use doubts::Doubts;
use edges::Hold;
use excluded::Excluded;
use found::FoundClamp;
use left_out::{Behind, LeftOut};
use levels::NoClamp;
use record::{ForceRecord, LARGEST_N, RecordError};
use remarks::{ClampNote, GripNote, GripReason, Unlikely};
use result::{
    Clamp, GripResult, SCHEMA, Stated, StatedFigure, Statistics, Uncertainty, WithDiscarded,
};
use setup::GripSetup;
use thiserror::Error;

/// Why a grip check could not be analysed.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum GripError {
    /// The record itself is not sound.
    #[error(transparent)]
    Record(#[from] RecordError),
    /// There is no clamp in it.
    #[error(transparent)]
    NoClamp(#[from] NoClamp),
    /// No readings were given.
    #[error("no readings were given; note at least one holding force")]
    NoReadings,
    /// A reading cannot be a grip force.
    #[error(
        "reading {number} is {value} N; a holding force is a number from zero to 1e9 N: check the reading and its unit"
    )]
    Reading {
        /// Which, counted from 1.
        number: usize,
        /// What was found.
        value: f64,
    },
    /// A figure of a notebook that cannot be beside another.
    #[error(
        "{what} of {value_n:.0} N cannot be beside {other} of {other_n:.0} N: check both, and whether they are of one spindle"
    )]
    Contradicts {
        /// The figure.
        what: &'static str,
        /// Its value, N.
        value_n: f64,
        /// What it contradicts.
        other: &'static str,
        /// Its value, N.
        other_n: f64,
    },
    /// A clamp to be discarded does not exist.
    #[error("clamp {number} cannot be discarded: the check has {clamps} clamps, numbered from 1")]
    Discard {
        /// The number given.
        number: u32,
        /// How many there are.
        clamps: usize,
    },
}

/// Analyses a force record.
///
/// # Errors
/// No clamp in the record, or a discarded clamp that does not exist.
pub fn analyse(record: &ForceRecord, setup: &GripSetup) -> Result<GripResult, GripError> {
    analyse_with(record, setup, (&[], &[]), Behind::default())
}

/// The same, with clamps and rests found before in a shorter record that must stay listed, and what lies behind it.
fn analyse_with(
    record: &ForceRecord,
    setup: &GripSetup,
    (listed, rests): (&[Hold], &[Hold]),
    behind: Behind,
) -> Result<GripResult, GripError> {
    let rules = Rules {
        discards: setup.discards.clone(),
        rated_load_n: setup.gauge.rated_load_n,
        as_read: setup.as_read,
        least_n: setup.least_n(),
    };
    let mut found = clamps::find_with(record, &rules, listed, rests)?;
    check_discards(setup, found.clamps.len())?;
    for turned in &setup.turned {
        if let Some(clamp) = found
            .clamps
            .iter_mut()
            .find(|clamp| clamp.number == turned.number)
        {
            clamp.orientation_deg = Some(turned.orientation_deg);
        }
    }
    let mut doubts = Doubts::of(&found, record, setup);
    doubts.left_out.extend(behind.left_out);
    doubts.notes.extend(behind.note);
    if doubts.end_face.is_some() {
        // What was read is told by the doubt, and stands nowhere as a push-out.
        for clamp in &mut found.clamps {
            clamp.distances = Distances::default();
        }
    }
    let clamps = found.clamps.iter().map(Clamp::from_found).collect();
    let counted = taken(&found, FoundClamp::counted);
    let put_back = taken(&found, |clamp| clamp.excluded_otherwise.is_none());
    let mut result = conclude(clamps, &counted, &put_back, setup, &doubts);
    if setup.as_read {
        let taken = taken_as_read(&result, &counted, &found, record, setup);
        result.notes.extend(taken);
    }
    let of_file = record.source_notes().iter().cloned().map(GripNote::File);
    result.notes.splice(0..0, of_file);
    Ok(result)
}

/// Analyses settled forces noted by hand, N, in the order they were taken. What only a record tells is null.
///
/// # Errors
/// No reading, one that is no force, or a discarded clamp that does not exist.
pub fn analyse_readings(forces_n: &[f64], setup: &GripSetup) -> Result<GripResult, GripError> {
    if forces_n.is_empty() {
        return Err(GripError::NoReadings);
    }
    if let Some(index) = forces_n
        .iter()
        .position(|force| !(0.0..=LARGEST_N).contains(force))
    {
        return Err(GripError::Reading {
            number: index + 1,
            value: forces_n[index],
        });
    }
    check_discards(setup, forces_n.len())?;
    let turned = |number: u32| setup.turned.iter().find(|turned| turned.number == number);
    let all: Vec<Taken> = (1..)
        .zip(forces_n)
        .map(|(number, &force_n)| Taken {
            number,
            force_n,
            orientation_deg: turned(number).map(|turned| turned.orientation_deg),
            push_out_mm: None,
            recorded: None,
        })
        .collect();
    let discarded = |number: u32| {
        setup
            .discards
            .iter()
            .find(|discard| discard.number == number)
    };
    let counted: Vec<Taken> = all
        .iter()
        .filter(|clamp| discarded(clamp.number).is_none())
        .cloned()
        .collect();
    let clamps = all
        .iter()
        .map(|clamp| Clamp {
            number: clamp.number,
            counted: discarded(clamp.number).is_none(),
            excluded: discarded(clamp.number).map(|_| Excluded::Discarded),
            clamped_s: None,
            released_s: None,
            window_s: None,
            settled_n: Some(clamp.force_n),
            peak_n: None,
            sag_n_per_s: None,
            orientation_deg: clamp.orientation_deg,
            short_hold: false,
            clamping_s: None,
            push_out_mm: None,
            draw_in_mm: None,
            notes: discarded(clamp.number)
                .map(|why| ClampNote::Discarded {
                    reason: why.reason.clone(),
                })
                .into_iter()
                .collect(),
        })
        .collect();
    let left_out = all.iter().filter(|clamp| discarded(clamp.number).is_some());
    let doubts = Doubts {
        left_out: left_out
            .map(|clamp| LeftOut {
                number: clamp.number,
                excluded: Excluded::Discarded,
                reads_n: clamp.force_n,
            })
            .collect(),
        ..Doubts::default()
    };
    Ok(conclude(clamps, &counted, &all, setup, &doubts))
}

/// Analyses what a notebook holds: holding forces, N, in the order they were taken, and figures stated without readings. The
/// figures are kept apart: a peak is no holding force, and behind a mean alone stands no scatter to judge it by.
///
/// # Errors
/// Neither forces nor figures; a number that is no force; figures that contradict each other; a discarded clamp that does
/// not exist.
pub fn analyse_noted(
    forces_n: &[f64],
    stated: &[Stated],
    setup: &GripSetup,
) -> Result<GripResult, GripError> {
    let is_force = |figure: &Stated| (0.0..=LARGEST_N).contains(&figure.value_n);
    if let Some(index) = stated.iter().position(|figure| !is_force(figure)) {
        return Err(GripError::Reading {
            number: index + 1,
            value: stated[index].value_n,
        });
    }
    check_figures(forces_n, stated)?;
    let mut result = match (forces_n, stated) {
        ([], [_, ..]) => {
            check_discards(setup, 0)?;
            conclude_without_clamps(setup)
        }
        _ => analyse_readings(forces_n, setup)?,
    };
    let has = |figure| stated.iter().any(|stated| stated.figure == figure);
    if has(StatedFigure::PeakN) {
        result.notes.push(GripNote::PeakNotJudged);
    }
    if has(StatedFigure::MeanN) || has(StatedFigure::LowestN) {
        result.notes.push(GripNote::FiguresAlone);
    }
    result.stated = stated.to_vec();
    Ok(result)
}

/// The most a gauge showed is not below the least force held, and the lowest clamp not above the mean.
fn check_figures(forces_n: &[f64], stated: &[Stated]) -> Result<(), GripError> {
    let of = |figure| {
        let stated = stated.iter().filter(move |stated| stated.figure == figure);
        stated.map(|stated| stated.value_n)
    };
    let peak_n = of(StatedFigure::PeakN).reduce(f64::max);
    let (mean_n, lowest_n) = (
        of(StatedFigure::MeanN).next(),
        of(StatedFigure::LowestN).next(),
    );
    let least_n = forces_n.iter().copied().reduce(f64::min);
    let pairs = [
        ("a peak", peak_n, "a holding force", least_n),
        ("a peak", peak_n, "a mean", mean_n),
        ("a peak", peak_n, "a lowest force", lowest_n),
        ("a mean", mean_n, "a lowest force", lowest_n),
    ];
    let below = pairs
        .into_iter()
        .find_map(|(what, value_n, other, other_n)| {
            let (value_n, other_n) = value_n.zip(other_n)?;
            (value_n < other_n).then_some(GripError::Contradicts {
                what,
                value_n,
                other,
                other_n,
            })
        });
    below.map_or(Ok(()), Err)
}

/// Nothing was clamped that could be judged.
fn conclude_without_clamps(setup: &GripSetup) -> GripResult {
    GripResult {
        verdict: None,
        ..conclude(Vec::new(), &[], &[], setup, &Doubts::default())
    }
}

fn check_discards(setup: &GripSetup, clamps: usize) -> Result<(), GripError> {
    let exists =
        |number: u32| usize::try_from(number).is_ok_and(|number| (1..=clamps).contains(&number));
    match setup
        .discards
        .iter()
        .find(|discard| !exists(discard.number))
    {
        Some(discard) => Err(GripError::Discard {
            number: discard.number,
            clamps,
        }),
        None => Ok(()),
    }
}

/// The clamps that count by `counts` and have a force.
fn taken(found: &Found, counts: impl Fn(&FoundClamp) -> bool) -> Vec<Taken> {
    found
        .clamps
        .iter()
        .filter(|clamp| counts(clamp))
        .filter_map(|clamp| take(clamp, found))
        .collect()
}

fn take(clamp: &FoundClamp, found: &Found) -> Option<Taken> {
    let (window, clamped_s) = (clamp.window?, clamp.edges.clamped_s?);
    let recorded = Recorded {
        steady: clamp.zeros.steady,
        zero_moved_n: clamp.zeros.moved_n(),
        zero_spread_n: found.zeros.spread_n,
        noise_n: found.noise_n * clamp.averaging,
        slope_n_per_s: clamp.window_slope_n_per_s.unwrap_or(0.0),
        early_s: clamped_s + window::FULL_CENTRE_S - window.centre_s(),
        sag: clamp.sag,
        falls_n_per_s: clamp.falls_n_per_s,
        endings: clamp.endings,
        filled_up: clamp.filled_up,
        slip: clamp.slip,
        end: clamp.end,
        grain_n: found.grain_n,
        own_zeros: clamp.zeros.before.is_ok() && clamp.zeros.after.is_ok(),
    };
    Some(Taken {
        number: clamp.number,
        force_n: clamp.settled_n?,
        orientation_deg: clamp.orientation_deg,
        push_out_mm: clamp.distances.push_out_mm,
        recorded: Some(recorded),
    })
}

fn statistics_over(taken: &[Taken]) -> Option<Statistics> {
    let pairs: Vec<(u32, f64)> = taken
        .iter()
        .map(|clamp| (clamp.number, clamp.force_n))
        .collect();
    Statistics::over(&pairs)
}

fn uncertainty_over(taken: &[Taken], setup: &GripSetup) -> Option<Uncertainty> {
    if taken.is_empty() {
        None
    } else {
        budget::of_mean(taken, setup)
            .as_ref()
            .map(Uncertainty::from)
    }
}

/// What would have kept the check from being decided, and does not because somebody says that it is meant as it reads.
fn taken_as_read(
    result: &GripResult,
    counted: &[Taken],
    found: &Found,
    record: &ForceRecord,
    setup: &GripSetup,
) -> Vec<GripNote> {
    let setup = GripSetup {
        as_read: false,
        ..setup.clone()
    };
    let asked = Doubts::of(found, record, &setup);
    let with = result.with_discarded.as_ref();
    let with = with.and_then(|with| with.verdict.as_ref());
    let verdict = verdict::verdict(counted, &setup, &asked, with);
    let questions = asked.open.iter().chain(&asked.blind);
    let end_face = asked.end_face.map(GripReason::NoPushOutBy);
    let mut taken: Vec<GripReason> = Vec::new();
    for why in questions
        .map(|(why, _)| why.clone())
        .chain(end_face)
        .chain(grip_reasons(verdict.as_ref()))
    {
        let still_asked = grip_reasons(result.verdict.as_ref()).any(|known| known == why);
        if why.is_question() && !still_asked && !taken.contains(&why) {
            taken.push(why);
        }
    }
    let below_zero = found.below_zero_n;
    let below_zero = below_zero.map(|half_way_n| GripNote::BelowZeroAsRead { half_way_n });
    let named = taken.into_iter().map(|reason| GripNote::TakenAsRead {
        reason: Box::new(reason),
    });
    named.chain(below_zero).collect()
}

fn grip_reasons(verdict: Option<&Verdict>) -> impl Iterator<Item = GripReason> {
    let reasons = verdict.into_iter().flat_map(|verdict| &verdict.reasons);
    reasons.filter_map(|reason| match reason {
        Reason::Grip(reason) => Some(reason.clone()),
        Reason::Runout(_) => None,
    })
}

/// What was asked about and is meant as it reads.
fn kept_as_read(taken: &[Taken], setup: &GripSetup) -> Vec<GripNote> {
    let spindle = setup.spindle();
    let typed: Vec<f64> = taken
        .iter()
        .filter(|clamp| clamp.recorded.is_none())
        .map(|clamp| clamp.force_n)
        .collect();
    let kept = if typed.len() == taken.len() {
        let doubts = spindle.readings(&typed);
        doubts
            .into_iter()
            .map(|(index, doubt)| (taken[index - 1].number, doubt))
            .collect()
    } else {
        let doubt = |clamp: &Taken| Some((clamp.number, spindle.force(clamp.force_n)?));
        taken.iter().filter_map(doubt).collect::<Vec<_>>()
    };
    let why = |doubt: Doubt| match doubt {
        Doubt::ForceAbove { .. } => Unlikely::Above,
        Doubt::ForceBelow { .. } => Unlikely::Below,
        _ => Unlikely::Apart,
    };
    kept.into_iter()
        .map(|(clamp, doubt)| GripNote::ClampKeptAsRead {
            clamp,
            why: why(doubt),
        })
        .collect()
}

/// Figures, uncertainty, verdict and hints over the counted clamps; the same with the discarded ones put back.
fn conclude(
    clamps: Vec<Clamp>,
    counted: &[Taken],
    put_back: &[Taken],
    setup: &GripSetup,
    doubts: &Doubts,
) -> GripResult {
    let mut notes = doubts.notes.clone();
    let uncertainty = uncertainty_over(counted, setup);
    if !counted.is_empty() && uncertainty.is_none() {
        notes.push(GripNote::UncertaintyNotKnown);
    }
    if uncertainty.is_some() && counted.len() == 1 {
        notes.push(GripNote::OneClampCounts);
    }
    if uncertainty.is_some() && setup.interface.is_none() && !setup.allowances.is_empty() {
        notes.push(GripNote::TaperNotNamed);
    }
    if setup.as_read {
        notes.extend(kept_as_read(put_back, setup));
    }
    if doubts.overloaded {
        notes.push(GripNote::Overloaded);
    }
    let with_discarded = (put_back.len() > counted.len()).then(|| WithDiscarded {
        statistics: statistics_over(put_back),
        uncertainty: uncertainty_over(put_back, setup),
        verdict: verdict::verdict(put_back, setup, doubts, None),
    });
    let with = with_discarded.as_ref();
    let with = with.and_then(|with| with.verdict.as_ref());
    let statistics = statistics_over(counted);
    let signs = statistics
        .as_ref()
        .map(|figures| hints::look(counted, figures, setup))
        .unwrap_or_default();
    notes.extend(signs.notes);
    notes.extend(push_out::note(&clamps));
    if !counted.is_empty() && !drop::is_examined(counted, setup) {
        notes.push(GripNote::DropNotExamined);
    }
    GripResult {
        check: "grip".to_owned(),
        schema: SCHEMA,
        state: setup.state,
        clamps,
        statistics,
        uncertainty,
        verdict: verdict::verdict(counted, setup, doubts, with),
        with_discarded,
        stated: Vec::new(),
        hints: signs.hints,
        notes,
    }
}
