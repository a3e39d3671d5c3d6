//! Runout against its limits. In: the evaluated check. Out: each limit judged with the uncertainty that belongs to its
//! figure, and the verdict; what cannot be judged is undecided and says why.

use super::budget;
use super::evaluated::{Evaluated, limit_holds_at};
use super::figures::Figures;
use super::hints;
use super::margins::Margins;
use super::nose::BarTurns;
use super::record::Place;
use super::remarks::{
    CertificateGap, LimitOn, Missing, RunoutReason, RunoutRemedy, Source, Untrue,
};
use super::setup::Indicator;
use super::untrue;
use crate::decision::{Figure, Judged, Limit, RISK, judge_by_budget, overall};
use crate::special::chi2_quantile;
use crate::uncertainty::Budget;
use crate::verdict::{Reason, Remedy, Verdict, WouldDecide};
use holdtrue_terms::figure::{GivenBy, Needs};
use holdtrue_terms::vocabulary::Outcome;

/// An indicator whose error exceeds this share of the limit gives no verdict (common practice).
const LARGEST_SHARE_OF_LIMIT: f64 = 0.2;
/// Error assumed of an indicator without a certificate in force, of the reading (common practice).
const ERROR_OUT_OF_FORCE: f64 = 0.2;
/// What lies in a dirty seat may have lain alike in all seatings to so many times what it scatters by (common practice).
const LAY_ALIKE: f64 = 2.0;
/// From this many positions on ovality and lobes of a ground surface show.
const ENOUGH_FOR_FORM: usize = 12;
/// More seatings than this nobody does for one limit.
const MOST_SEATINGS: usize = 12;

/// A figure a limit may be for.
#[derive(Clone, Debug)]
pub struct Candidate {
    /// Which figure.
    pub figure: Figure,
    /// Where.
    pub place: Place,
    /// Its value, µm.
    pub value_um: f64,
    /// Its uncertainty; `None` without an indicator's.
    pub budget: Option<Budget>,
    /// What is known to be wrong with it towards each side.
    pub margins: Margins,
    /// The readings may have missed the high spot, so it can be too low to be accepted.
    pub may_be_low: bool,
}

/// A limit judged on one figure, with what led to it.
#[derive(Clone, Debug)]
pub struct Judgement {
    /// The decision.
    pub judged: Judged,
    /// The figure.
    pub candidate: Candidate,
    /// Why it was held back from a decision, and what would lift that.
    held_back: Vec<HeldBack>,
}

/// A limit nothing was judged on.
struct NotJudged {
    why: RunoutReason,
    remedy: RunoutRemedy,
}

/// A decision the uncertainty would bear, not taken for another reason.
#[derive(Clone, Debug)]
struct HeldBack {
    why: RunoutReason,
    remedy: RunoutRemedy,
}

/// The verdict and the judgements behind it.
#[derive(Clone, Debug)]
pub struct Decided {
    /// The verdict.
    pub verdict: Verdict,
    /// One for each row of it.
    pub judgements: Vec<Judgement>,
}

/// Judges every limit on runout; `None` without one.
pub fn decide(check: &Evaluated) -> Option<Decided> {
    let limits: Vec<&Limit> = check
        .setup
        .limits
        .iter()
        .filter(|limit| limit.figure.is_of(GivenBy::Runout))
        .collect();
    if limits.is_empty() {
        return None;
    }
    let mut decided = Decided {
        verdict: Verdict {
            outcome: Outcome::Undecided,
            limits: Vec::new(),
            reasons: Vec::new(),
            would_decide: None,
            drop_examined: false,
        },
        judgements: Vec::new(),
    };
    let measured = candidates(check);
    let (mut reasons, mut lacking) = (Vec::new(), None);
    for limit in limits {
        match judge_limit(check, limit, &measured, &mut reasons) {
            Ok(judgements) => decided.judgements.extend(judgements),
            Err(not_judged) => {
                reasons.push(not_judged.why);
                lacking.get_or_insert(not_judged.remedy);
            }
        }
    }
    decided.verdict.reasons = reasons.into_iter().map(Reason::Runout).collect();
    decided.verdict.limits = decided
        .judgements
        .iter()
        .map(|j| j.judged.clone())
        .collect();
    decided.verdict.outcome = match overall(&decided.verdict.limits) {
        Outcome::Accept if lacking.is_some() => Outcome::Undecided,
        outcome => outcome,
    };
    decided.verdict.would_decide = would_decide(&decided, lacking);
    Some(decided)
}

/// Every figure of a check that a limit may be for: for the TIR the largest at each height of each surface.
pub fn candidates(check: &Evaluated) -> Vec<Candidate> {
    let indicator = check.setup.indicator.as_ref();
    let candidate = |figure, place, value_um, budget: Option<Budget>| Candidate {
        figure,
        place,
        value_um,
        budget,
        margins: Margins::default(),
        may_be_low: false,
    };
    let mut all: Vec<Candidate> = largest_tirs(check)
        .into_iter()
        .filter_map(|plane| {
            let budget = indicator.map(|i| budget::of_tir(check, i, plane));
            let tir = candidate(Figure::Tir, plane.place, plane.tir_um?, budget);
            Some(Candidate {
                margins: Margins::of_largest_tir(check, plane),
                may_be_low: plane.low_by_um.is_none(),
                ..tir
            })
        })
        .collect();
    all.extend(check.four_seatings.iter().map(|four| {
        let budget = indicator.map(|i| budget::of_four_seatings(check, i, four));
        Candidate {
            margins: Margins::of_mean_tir(check, &four.place),
            ..candidate(Figure::FourSeatings, four.place, four.mean_tir_um, budget)
        }
    }));
    all.extend(check.separated.iter().map(|height| {
        let budget = indicator.map(|i| budget::of_spindle_part(check, i, height));
        candidate(
            Figure::SpindlePart,
            height.place,
            height.spindle_tir_um(),
            budget,
        )
    }));
    all.extend(check.seat.iter().map(|seat| {
        let budget = indicator.map(|i| budget::of_seat(check, i, seat));
        Candidate {
            margins: Margins::of_seat(check, *seat),
            ..candidate(Figure::Seat, Place::default(), seat.standard_um, budget)
        }
    }));
    all
}

fn largest_tirs<'a>(check: &'a Evaluated<'_>) -> Vec<&'a Figures> {
    let mut largest: Vec<&Figures> = Vec::new();
    for plane in check.figures.iter().filter(|f| f.tir_um.is_some()) {
        match largest
            .iter_mut()
            .find(|other| other.place.same_height(&plane.place))
        {
            Some(other) if plane.tir_um > other.tir_um => *other = plane,
            Some(_) => {}
            None => largest.push(plane),
        }
    }
    largest
}

fn judge_limit(
    check: &Evaluated,
    limit: &Limit,
    measured: &[Candidate],
    reasons: &mut Vec<RunoutReason>,
) -> Result<Vec<Judgement>, NotJudged> {
    let on = LimitOn {
        figure: limit.figure,
        height_mm: limit.height_mm,
        limit: limit.limit,
    };
    if limit.unit != "um" {
        let unit = limit.unit.clone();
        return Err(NotJudged {
            why: RunoutReason::LimitUnit { on, unit },
            remedy: RunoutRemedy::CorrectUnit,
        });
    }
    let candidates: Vec<&Candidate> = measured
        .iter()
        .filter(|c| c.figure == limit.figure && limit_holds_at(limit.height_mm, &c.place))
        .collect();
    if candidates.is_empty() {
        let turns = check.setup.bar_turns();
        let missing = what_is_missing(measured, limit, turns);
        return Err(NotJudged {
            why: RunoutReason::NotMeasured { on, missing },
            remedy: what_would_measure(limit.figure, turns),
        });
    }
    if let Some((error_um, most_um)) = check
        .setup
        .indicator
        .as_ref()
        .and_then(|indicator| too_coarse(indicator, limit))
    {
        return Err(NotJudged {
            why: RunoutReason::IndicatorCoarse {
                on,
                error_um,
                most_um,
            },
            remedy: RunoutRemedy::FinerIndicator,
        });
    }
    let judgements: Vec<Judgement> = candidates
        .into_iter()
        .map(|candidate| judge_candidate(check, limit, candidate.clone()))
        .collect();
    for judgement in &judgements {
        reasons.push(stands(judgement));
        reasons.extend(unseen_form(check, judgement));
        reasons.extend(judgement.held_back.iter().map(|held| held.why.clone()));
    }
    Ok(judgements)
}

/// The error of an indicator too coarse for a limit, and the most it may be, µm.
fn too_coarse(indicator: &Indicator, limit: &Limit) -> Option<(f64, f64)> {
    let (error_um, most_um) = (indicator.error_um(), LARGEST_SHARE_OF_LIMIT * limit.limit);
    (error_um > most_um).then_some((error_um, most_um))
}

fn judge_candidate(check: &Evaluated, limit: &Limit, candidate: Candidate) -> Judgement {
    let budget = candidate.budget.clone().unwrap_or_default();
    let at_place = Limit {
        height_mm: candidate.place.height_mm,
        ..limit.clone()
    };
    let mut judgement = Judgement {
        judged: candidate
            .margins
            .judge(&at_place, candidate.value_um, &budget),
        candidate,
        held_back: Vec::new(),
    };
    judgement.judged.at = judgement.candidate.place.at;
    if let Some(certificate) = certificate_gap(check) {
        without_certificate(&mut judgement, certificate);
    }
    if judgement.judged.outcome == Outcome::Accept && judgement.candidate.may_be_low {
        let place = judgement.candidate.place;
        judgement.hold_back(
            RunoutReason::HighSpotMissed { place },
            RunoutRemedy::ReadRoundTurn,
        );
    }
    if judgement.judged.outcome == Outcome::Accept {
        let room_um = limit.limit - judgement.judged.guard;
        let measured_um = judgement.judged.measured;
        let Candidate { figure, place, .. } = judgement.candidate;
        let found = untrue::objections(check, figure, &place, measured_um, room_um);
        for (why, remedy) in found {
            judgement.hold_back(why, remedy);
        }
    }
    if judgement.judged.outcome == Outcome::Reject
        && judgement.candidate.figure == Figure::Tir
        && let Some(without_um) = untrue::tir_without_lone_um(check, &judgement.candidate.place)
    {
        let margins = judgement.candidate.margins;
        if margins.judge(&at_place, without_um, &budget).outcome != Outcome::Reject {
            let (place, untrue) = (judgement.candidate.place, Untrue::Alone);
            judgement.hold_back(
                RunoutReason::ReadingsUntrue { place, untrue },
                RunoutRemedy::ReadTrue { untrue },
            );
        }
    }
    if judgement.judged.outcome == Outcome::Reject
        && let Some(why) = the_bar_explains(check, &at_place, &judgement.candidate)
    {
        judgement.hold_back(why, RunoutRemedy::GoodBar);
    }
    if judgement.judged.outcome == Outcome::Reject
        && let Some(why) = the_seat_explains(check, &judgement)
    {
        judgement.hold_back(why, RunoutRemedy::CleanSeat);
    }
    judgement
}

impl Judgement {
    fn hold_back(&mut self, why: RunoutReason, remedy: RunoutRemedy) {
        self.judged.outcome = Outcome::Undecided;
        self.judged.watch = false;
        self.held_back.push(HeldBack { why, remedy });
    }
}

fn certificate_gap(check: &Evaluated) -> Option<CertificateGap> {
    match &check.setup.indicator {
        None => Some(CertificateGap::Missing),
        Some(indicator) => indicator.out_of_force,
    }
}

/// Without a certificate in force nothing is accepted; a gross excess is still rejected.
fn without_certificate(judgement: &mut Judgement, certificate: CertificateGap) {
    let judged = &mut judgement.judged;
    let remedy = RunoutRemedy::IndicatorInForce;
    if (1.0 - ERROR_OUT_OF_FORCE) * judged.measured - judged.guard > judged.limit {
        judged.outcome = Outcome::Reject;
        judgement.held_back.push(HeldBack {
            why: RunoutReason::RunoutFarOut { certificate },
            remedy,
        });
    } else {
        judgement.hold_back(RunoutReason::IndicatorNotInForce { certificate }, remedy);
    }
}

/// A bent bar alone never rejects a spindle: where spindle and bar were told apart, the excess must be the spindle's.
///
/// What the bar cannot explain is at least TIR − 2·bar eccentricity; together with the spindle part it has to be
/// outside the limit by itself.
fn the_bar_explains(
    check: &Evaluated,
    limit: &Limit,
    candidate: &Candidate,
) -> Option<RunoutReason> {
    if !matches!(candidate.figure, Figure::Tir | Figure::FourSeatings)
        || !candidate.place.may_be_bar()
    {
        return None;
    }
    let height = check.separated_at(&candidate.place)?;
    let (spindle_um, bar_um) = (height.spindle_tir_um(), height.bar_tir_um());
    let alone_um = spindle_um.max(candidate.value_um - bar_um);
    let budget = check
        .setup
        .indicator
        .as_ref()
        .map(|i| budget::of_spindle_part(check, i, height))
        .unwrap_or_default();
    (judge_by_budget(limit, alone_um, &budget).outcome != Outcome::Reject).then_some(
        RunoutReason::BarExplains {
            place: candidate.place.of_any_seating(),
            spindle_um,
            bar_um,
            bar_or_seat: height.bar_or_seat,
        },
    )
}

/// A dirty seat alone never rejects a spindle: what lies in it comes and goes from seating to seating, and some of it may have
/// lain alike in all of them, which reads like the spindle.
fn the_seat_explains(check: &Evaluated, judgement: &Judgement) -> Option<RunoutReason> {
    let (judged, candidate) = (&judgement.judged, &judgement.candidate);
    if candidate.figure != Figure::SpindlePart {
        return None;
    }
    let height = check.separated_at(&candidate.place)?;
    let scatter_um = hints::dirty_seat_um(check, height)?;
    let left_um = judged.measured - judged.guard - LAY_ALIKE * scatter_um;
    (left_um <= judged.limit).then_some(RunoutReason::SeatExplains {
        place: candidate.place.of_any_seating(),
        scatter_um,
    })
}

fn what_is_missing(measured: &[Candidate], limit: &Limit, turns: BarTurns) -> Missing {
    let elsewhere = measured.iter().any(|c| c.figure == limit.figure);
    if limit.height_mm.is_some() && elsewhere {
        return Missing::AtHeight;
    }
    match limit.figure.facts().needs {
        Needs::FourSeatings => Missing::FourSeatings,
        Needs::TwoOrientations if turns == BarTurns::OneWay => Missing::KeysOneWay,
        Needs::TwoOrientations => Missing::TwoOrientations,
        Needs::TwoSeatings => Missing::TwoSeatings,
        Needs::OneReading => Missing::Kind,
    }
}

/// What to measure for a limit nothing was measured for.
fn what_would_measure(figure: Figure, turns: BarTurns) -> RunoutRemedy {
    match figure.facts().needs {
        Needs::FourSeatings | Needs::TwoOrientations if turns == BarTurns::OneWay => {
            RunoutRemedy::LimitOnBar
        }
        Needs::FourSeatings => RunoutRemedy::ReadFourOrientations,
        Needs::TwoOrientations => RunoutRemedy::ReadTwoOrientations,
        Needs::TwoSeatings => RunoutRemedy::SeatAgain,
        Needs::OneReading => RunoutRemedy::MeasureThere,
    }
}

/// Positions show what comes up to so many times a turn; whoever accepts by them has to know what they do not show.
fn unseen_form(check: &Evaluated, judgement: &Judgement) -> Option<RunoutReason> {
    let (judged, candidate) = (&judgement.judged, &judgement.candidate);
    let by_tir = matches!(candidate.figure, Figure::Tir | Figure::FourSeatings);
    if judged.outcome != Outcome::Accept || !by_tir {
        return None;
    }
    let (positions, times_a_turn) = check
        .figures
        .iter()
        .filter(|plane| plane.place.same_height(&candidate.place))
        .filter_map(|plane| Some((plane.stops?, plane.harmonics.as_ref()?.vectors.len())))
        .min()?;
    (positions < ENOUGH_FOR_FORM).then_some(RunoutReason::FormNotSeen {
        positions,
        times_a_turn,
    })
}

/// Where a judged figure stands.
fn stands(judgement: &Judgement) -> RunoutReason {
    let (judged, candidate) = (&judgement.judged, &judgement.candidate);
    RunoutReason::RunoutStands {
        figure: candidate.figure,
        place: candidate.place.of_any_seating(),
        percent: 100.0 * judged.measured / judged.limit,
        outcome: judged.outcome,
        watch: judged.watch,
        held_back: !judgement.held_back.is_empty(),
    }
}

/// What would settle it: what held the first undecided figure back, else what most of its doubt comes from, else what a
/// limit lacks that nothing was judged on.
fn would_decide(decided: &Decided, lacking: Option<RunoutRemedy>) -> Option<WouldDecide> {
    if decided.verdict.outcome != Outcome::Undecided {
        return None;
    }
    let undecided = decided
        .judgements
        .iter()
        .find(|j| j.judged.outcome == Outcome::Undecided);
    let remedy = match (undecided, lacking) {
        (Some(judgement), _) => judgement.remedy(),
        (None, lacking) => lacking?,
    };
    Some(WouldDecide {
        more_clamps: None,
        remedies: vec![Remedy::Runout(remedy)],
    })
}

impl Judgement {
    fn remedy(&self) -> RunoutRemedy {
        if let Some(held) = self.held_back.first() {
            return held.remedy;
        }
        let (judged, margins) = (&self.judged, &self.candidate.margins);
        if let Some(dof) = margins.scatter.and_then(|(seat, _)| seat.dof) {
            return more_seatings(judged, dof);
        }
        if judged.measured <= judged.limit && margins.missed_um > 0.5 * judged.guard {
            let missed_um = margins.missed_um;
            return RunoutRemedy::MorePositions { missed_um };
        }
        let largest = self.candidate.budget.as_ref().and_then(Budget::largest);
        largest
            .and_then(|(part, _)| Source::named(&part.source))
            .map_or(RunoutRemedy::IndicatorInForce, |source| {
                RunoutRemedy::Shrink { source }
            })
    }
}

/// How many more seatings decide on a seat that goes on as it did; each brings two degrees of freedom.
fn more_seatings(judged: &Judged, dof: usize) -> RunoutRemedy {
    let decides = |more: &usize| {
        let dof = super::harmonics::count(dof + 2 * more);
        let bound = |p: f64| {
            chi2_quantile(p, dof).map_or(f64::NAN, |chi2| judged.measured * (dof / chi2).sqrt())
        };
        bound(RISK) < judged.limit || bound(1.0 - RISK) > judged.limit
    };
    match (1..=MOST_SEATINGS).find(decides) {
        Some(more) => RunoutRemedy::MoreSeatings { more },
        None => RunoutRemedy::SeatTooNear {
            most: MOST_SEATINGS,
        },
    }
}
