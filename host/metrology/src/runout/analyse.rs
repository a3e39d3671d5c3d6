//! A whole runout check. In: record and setup. Out: the result as it is stored and printed.

use super::evaluated::Evaluated;
use super::figures::Figures;
use super::hints;
use super::nose::BarTurns;
use super::record::RunoutRecord;
use super::refusal::RunoutError;
use super::remarks::{RunoutNote, RunoutReason, Untrue};
use super::reseated;
use super::result::{RunoutResult, SCHEMA, UncertaintyResult};
use super::reversal::{FourSeatings, SeparatedHeight};
use super::setup::RunoutSetup;
use super::untrue;
use super::verdict::{Candidate, Decided, candidates, decide};
use crate::decision::{Figure, Judged};
use crate::doubt;
use crate::verdict::Reason;
use holdtrue_terms::vocabulary::{At, Outcome};

/// Analyses a runout check: live, replayed, from a file or typed.
///
/// # Errors
/// [`RunoutError`] for a record no analysis can make sense of.
pub fn analyse(record: &RunoutRecord, setup: &RunoutSetup) -> Result<RunoutResult, RunoutError> {
    let mut check = Evaluated::of(record, setup)?;
    let decided = decide(&check);
    let uncertainty = stated_uncertainty(&check, decided.as_ref());
    let hints = hints::of(&check);
    check.notes.extend(where_to_look_next(&check));
    check
        .notes
        .extend(told_apart_by_words(&check, decided.as_ref()));
    check.notes.extend(kept_as_read(&check));
    if setup.as_read {
        let asking = RunoutSetup {
            as_read: false,
            ..setup.clone()
        };
        let asked = decide(&Evaluated::of(record, &asking)?);
        check
            .notes
            .extend(taken_as_read(decided.as_ref(), asked.as_ref()));
    }
    check
        .notes
        .extend(record.source_notes().iter().cloned().map(RunoutNote::File));
    Ok(RunoutResult {
        check: "runout".to_owned(),
        schema: SCHEMA,
        state: setup.state,
        planes: check.figures.iter().map(|f| f.to_result()).collect(),
        reversal: check
            .separated
            .iter()
            .map(SeparatedHeight::to_result)
            .collect(),
        four_seatings: check
            .four_seatings
            .iter()
            .copied()
            .map(FourSeatings::to_result)
            .collect(),
        seat_repeatability_um: check.seat.map(|seat| seat.standard_um),
        uncertainty,
        verdict: decided.map(|d| d.verdict),
        hints,
        axis: check.axis,
        notes: check.notes,
    })
}

/// The budget of the figure nearest its limit; without one judged, of the largest TIR.
fn stated_uncertainty(check: &Evaluated, decided: Option<&Decided>) -> Option<UncertaintyResult> {
    let nearest = decided.and_then(|decided| {
        decided
            .judgements
            .iter()
            .min_by(|a, b| margin_um(&a.judged).total_cmp(&margin_um(&b.judged)))
            .map(|judgement| judgement.candidate.clone())
    });
    let stated: Candidate = nearest.or_else(|| {
        candidates(check)
            .into_iter()
            .filter(|c| c.figure == Figure::Tir)
            .max_by(|a, b| a.value_um.total_cmp(&b.value_um))
    })?;
    Some(UncertaintyResult::of(
        stated.figure,
        stated.place.height_mm,
        &stated.budget?,
    ))
}

fn margin_um(judged: &Judged) -> f64 {
    judged.limit - judged.measured - judged.guard
}

/// What would have kept a limit from being decided, and does not because somebody says that it is meant as it reads.
fn taken_as_read(decided: Option<&Decided>, asked: Option<&Decided>) -> Vec<RunoutNote> {
    let reasons = |of: Option<&Decided>| -> Vec<RunoutReason> {
        let reasons = of.into_iter().flat_map(|decided| &decided.verdict.reasons);
        let of_runout = reasons.filter_map(|reason| match reason {
            Reason::Runout(reason) => Some(reason.clone()),
            Reason::Grip(_) => None,
        });
        of_runout.collect()
    };
    let still_asked = reasons(decided);
    let mut taken: Vec<RunoutReason> = Vec::new();
    for reason in reasons(asked) {
        if reason.is_question() && !still_asked.contains(&reason) && !taken.contains(&reason) {
            taken.push(reason);
        }
    }
    let note = |reason| RunoutNote::TakenAsRead {
        reason: Box::new(reason),
    };
    taken.into_iter().map(note).collect()
}

/// What was asked about and is meant as it reads.
fn kept_as_read(check: &Evaluated) -> Option<RunoutNote> {
    let asked = |f: &Figures| {
        let height = f.place.height_mm;
        let runout = |um: f64| match check.setup.typed {
            true => doubt::runout(um),
            false => doubt::recorded_runout(um, f.method),
        };
        height.is_some_and(|mm| doubt::height(f.place.at, mm, None).is_some())
            || f.tir_um.is_some_and(|um| runout(um).is_some())
            || f.untrue.contains(&Untrue::Unsigned)
    };
    let copied = check.copied.iter().any(|copied| !copied.is_one_seat());
    let turned = check.setup.bar_turns == BarTurns::OneWay && !check.separated.is_empty();
    let alike = reseated::one_seat(check)
        || reseated::one_place(check)
        || reseated::nothing_turned(check)
        || check
            .figures
            .iter()
            .any(|f| reseated::left_at_mm(check, &f.place).is_some());
    let any = check.setup.typed || copied || turned || alike || check.figures.iter().any(asked);
    let kept = check.setup.as_read && any;
    kept.then_some(RunoutNote::KeptAsRead)
}

/// What is the spindle's and what the bar's rests on what somebody said of orientations and marks.
fn told_apart_by_words(check: &Evaluated, decided: Option<&Decided>) -> Vec<RunoutNote> {
    let judgements = decided.map_or(&[][..], |decided| &decided.judgements);
    let saved = judgements.iter().any(|judgement| {
        judgement.candidate.figure == Figure::SpindlePart
            && judgement.judged.outcome == Outcome::Accept
            && untrue::rests_on_the_reversal(
                check,
                &judgement.candidate.place,
                judgement.judged.limit,
            )
    });
    let saved = saved.then_some(RunoutNote::OnlyByReversal);
    let unseen = untrue::no_bar_part(check).then_some(RunoutNote::NoBarPart);
    saved.into_iter().chain(unseen).collect()
}

/// With a part that stays with the spindle the next look is at the wall.
fn where_to_look_next(check: &Evaluated) -> Option<RunoutNote> {
    let wall = check.figures.iter().any(|f| f.place.at == Some(At::Wall));
    (!check.separated.is_empty() && !wall).then_some(RunoutNote::WallNotRead)
}
