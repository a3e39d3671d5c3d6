//! Runout against its limits. In: the evaluated check. Out: each limit judged with the uncertainty that belongs to its
//! figure, and the verdict; what cannot be judged is undecided and says why.

use super::budget::{self, source};
use super::evaluated::{Evaluated, limit_holds_at};
use super::figures::Figures;
use super::margins::Margins;
use super::nose::BarTurns;
use super::record::Place;
use super::setup::Indicator;
use super::untrue;
use crate::decision::{
    Figure, Judged, Limit, Outcome, RISK, Verdict, WouldDecide, judge_by_budget, overall,
};
use crate::special::chi2_quantile;
use crate::uncertainty::Budget;

/// An indicator whose error exceeds this share of the limit gives no verdict (common practice).
const LARGEST_SHARE_OF_LIMIT: f64 = 0.2;
/// Error assumed of an indicator without a certificate in force, of the reading (common practice).
const ERROR_OUT_OF_FORCE: f64 = 0.2;
/// From this many positions on ovality and lobes of a ground surface show.
const ENOUGH_FOR_FORM: usize = 12;
/// More seatings than this nobody does for one limit.
const MOST_SEATINGS: usize = 12;
const CALIBRATE: &str = "measure with an indicator whose certificate is in force";

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
    /// Why it can be too low to be accepted.
    pub may_be_low: Option<String>,
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
    why: String,
    remedy: &'static str,
}

/// A decision the uncertainty would bear, not taken for another reason.
#[derive(Clone, Debug)]
struct HeldBack {
    why: String,
    remedy: &'static str,
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
        .filter(|limit| is_on_runout(limit.figure))
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
        },
        judgements: Vec::new(),
    };
    let measured = candidates(check);
    let mut lacking = None;
    for limit in limits {
        match judge_limit(check, limit, &measured, &mut decided.verdict.reasons) {
            Ok(judgements) => decided.judgements.extend(judgements),
            Err(not_judged) => {
                decided.verdict.reasons.push(not_judged.why);
                lacking.get_or_insert(not_judged.remedy);
            }
        }
    }
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

/// Whether a limit on this figure is one on runout.
pub fn is_on_runout(figure: Figure) -> bool {
    matches!(
        figure,
        Figure::Tir | Figure::FourSeatings | Figure::SpindlePart | Figure::Seat
    )
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
        may_be_low: None,
    };
    let mut all: Vec<Candidate> = largest_tirs(check)
        .into_iter()
        .filter_map(|plane| {
            let budget = indicator.map(|i| budget::of_tir(check, i, plane));
            let tir = candidate(Figure::Tir, plane.place, plane.tir_um?, budget);
            Some(Candidate {
                margins: Margins::of_largest_tir(check, plane),
                may_be_low: may_be_low(plane),
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

fn may_be_low(plane: &Figures) -> Option<String> {
    plane.low_by_um.is_none().then(|| {
        format!("{}: the readings may have missed the high spot, so they cannot show that it is within a limit", plane.place)
    })
}

fn judge_limit(
    check: &Evaluated,
    limit: &Limit,
    measured: &[Candidate],
    reasons: &mut Vec<String>,
) -> Result<Vec<Judgement>, NotJudged> {
    let name = limit_in_words(limit);
    let not_judged = |why: String, remedy| NotJudged {
        why: format!("{name}: {why}"),
        remedy,
    };
    if limit.unit != "um" {
        let why = format!(
            "its unit is \"{}\", expected \"um\"; no verdict on it",
            limit.unit
        );
        return Err(not_judged(why, "correct the unit of the limit"));
    }
    let candidates: Vec<&Candidate> = measured
        .iter()
        .filter(|c| c.figure == limit.figure && limit_holds_at(limit.height_mm, c.place.height_mm))
        .collect();
    if candidates.is_empty() {
        let turns = check.setup.bar_turns;
        let why = format!(
            "{}; no verdict on it",
            what_is_missing(measured, limit, turns)
        );
        return Err(not_judged(why, what_would_measure(limit.figure, turns)));
    }
    if let Some(why) = check
        .setup
        .indicator
        .as_ref()
        .and_then(|indicator| too_coarse(indicator, limit))
    {
        return Err(not_judged(why, "use a finer indicator"));
    }
    let judgements: Vec<Judgement> = candidates
        .into_iter()
        .map(|candidate| judge_candidate(check, limit, candidate.clone()))
        .collect();
    for judgement in &judgements {
        reasons.push(in_words(judgement));
        reasons.extend(unseen_form(check, judgement));
        reasons.extend(judgement.held_back.iter().map(|held| held.why.clone()));
    }
    Ok(judgements)
}

fn too_coarse(indicator: &Indicator, limit: &Limit) -> Option<String> {
    let (error_um, most_um) = (indicator.error_um(), LARGEST_SHARE_OF_LIMIT * limit.limit);
    (error_um > most_um).then(|| {
        format!(
            "the indicator's error of {error_um} µm is more than a fifth of the limit; no verdict with it, use one good to {most_um:.1} µm"
        )
    })
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
    if let Some(why) = out_of_force(check) {
        without_certificate(&mut judgement, &why);
    }
    if judgement.judged.outcome == Outcome::Accept
        && let Some(why) = judgement.candidate.may_be_low.clone()
    {
        judgement.hold_back(
            why,
            "read at least four positions, better eight, spread round the turn",
        );
    }
    if judgement.judged.outcome == Outcome::Accept {
        let room_um = limit.limit - judgement.judged.guard;
        let candidate = &judgement.candidate;
        for objection in untrue::objections(check, candidate.figure, &candidate.place, room_um) {
            judgement.hold_back(objection.why(), objection.remedy());
        }
    }
    if judgement.judged.outcome == Outcome::Reject
        && let Some(why) = the_bar_explains(check, &at_place, &judgement.candidate)
    {
        judgement.hold_back(why, "clean taper and bar, and repeat with a good bar");
    }
    judgement
}

impl Judgement {
    fn hold_back(&mut self, why: String, remedy: &'static str) {
        self.judged.outcome = Outcome::Undecided;
        self.judged.watch = false;
        self.held_back.push(HeldBack { why, remedy });
    }
}

fn out_of_force(check: &Evaluated) -> Option<String> {
    match &check.setup.indicator {
        None => Some("the indicator has no certificate".to_owned()),
        Some(indicator) => indicator.out_of_force.clone(),
    }
}

/// Without a certificate in force nothing is accepted; a gross excess is still rejected.
fn without_certificate(judgement: &mut Judgement, why: &str) {
    let judged = &mut judgement.judged;
    if (1.0 - ERROR_OUT_OF_FORCE) * judged.measured - judged.guard > judged.limit {
        judged.outcome = Outcome::Reject;
        judgement.held_back.push(HeldBack {
            why: format!("far too much, by an indicator out of calibration ({why}): do not run until measured again"),
            remedy: CALIBRATE,
        });
    } else {
        judgement.hold_back(
            format!("{why}: no verdict until the indicator is calibrated"),
            CALIBRATE,
        );
    }
}

/// A bent bar alone never rejects a spindle: where spindle and bar were told apart, the excess must be the spindle's.
///
/// What the bar cannot explain is at least TIR − 2·bar eccentricity; together with the spindle part it has to be
/// outside the limit by itself.
fn the_bar_explains(check: &Evaluated, limit: &Limit, candidate: &Candidate) -> Option<String> {
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
    (judge_by_budget(limit, alone_um, &budget).outcome != Outcome::Reject).then(|| {
        format!(
            "{}: the spindle alone runs out {spindle_um:.1} µm, the {} {bar_um:.1} µm: the excess is not shown to be the spindle's; clean, and repeat with a good bar",
            words(&candidate.place),
            height.bar_words()
        )
    })
}

fn what_is_missing(measured: &[Candidate], limit: &Limit, turns: BarTurns) -> String {
    let elsewhere = measured.iter().any(|c| c.figure == limit.figure);
    if let (Some(height), true) = (limit.height_mm, elsewhere) {
        return format!("nothing was measured{}", at_height(height));
    }
    match limit.figure {
        Figure::FourSeatings => "it is for four seatings 90° apart, which were not read".to_owned(),
        Figure::SpindlePart if turns == BarTurns::OneWay => {
            "the keys let the bar in one position only, so bar and spindle cannot be told apart"
                .to_owned()
        }
        Figure::SpindlePart => {
            "it is for the spindle alone, which needs the bar in two orientations".to_owned()
        }
        Figure::Seat => {
            "it is for how well the bar comes back to its seat, which needs two seatings in one orientation".to_owned()
        }
        _ => "nothing of the kind was measured".to_owned(),
    }
}

/// What to measure for a limit nothing was measured for.
fn what_would_measure(figure: Figure, turns: BarTurns) -> &'static str {
    match figure {
        Figure::FourSeatings | Figure::SpindlePart if turns == BarTurns::OneWay => {
            "no further reading on this taper: set a limit on the TIR at the bar instead"
        }
        Figure::FourSeatings => "seat the bar at four orientations 90° apart and read each of them",
        Figure::SpindlePart => {
            "read the bar in two orientations, 0° and 180°, seated twice in each"
        }
        Figure::Seat => "seat the bar at least twice in one orientation, better three times",
        _ => "measure where the limit holds",
    }
}

/// The figure in the words of the trade.
fn figure_words(figure: Figure) -> &'static str {
    match figure {
        Figure::Tir => "TIR",
        Figure::FourSeatings => "mean TIR of four seatings",
        Figure::SpindlePart => "runout of the spindle alone",
        Figure::Seat => "reseating repeatability",
        _ => "grip",
    }
}

fn at_height(height_mm: f64) -> String {
    if height_mm < 0.0 {
        format!(" {} mm inside the mouth", -height_mm)
    } else {
        format!(" at {height_mm} mm")
    }
}

fn limit_in_words(limit: &Limit) -> String {
    let at = limit.height_mm.map_or(String::new(), at_height);
    format!(
        "limit of {} µm on the {}{at}",
        limit.limit,
        figure_words(limit.figure)
    )
}

fn words(place: &Place) -> String {
    Place {
        seating: None,
        orientation_deg: None,
        ..*place
    }
    .to_string()
}

/// Positions show what comes up to so many times a turn; whoever accepts by them has to know what they do not show.
fn unseen_form(check: &Evaluated, judgement: &Judgement) -> Option<String> {
    let (judged, candidate) = (&judgement.judged, &judgement.candidate);
    let by_tir = matches!(candidate.figure, Figure::Tir | Figure::FourSeatings);
    if judged.outcome != Outcome::Accept || !by_tir {
        return None;
    }
    let fewest = check
        .figures
        .iter()
        .filter(|plane| plane.place.same_height(&candidate.place))
        .filter_map(|plane| Some((plane.stops?, plane.harmonics.as_ref()?.vectors.len())))
        .min()?;
    (fewest.0 < ENOUGH_FOR_FORM).then(|| {
        let shown = match fewest.1 {
            1 => "once a turn".to_owned(),
            most => format!("up to {most} times a turn"),
        };
        format!(
            "{} positions show what comes {shown}: form finer than that (ovality, lobes) can make the true TIR larger and is in no uncertainty",
            fewest.0
        )
    })
}

/// One sentence on a judged limit.
fn in_words(judgement: &Judgement) -> String {
    let (judged, candidate) = (&judgement.judged, &judgement.candidate);
    let relation = match judged.outcome {
        Outcome::Accept if judged.watch => "within limit, watch it",
        Outcome::Accept => "within limit",
        Outcome::Reject => "outside limit",
        Outcome::Undecided if judgement.held_back.is_empty() => "too near to decide",
        Outcome::Undecided => "undecided",
    };
    format!(
        "{}, {}, is at {:.0} % of its limit: {relation}",
        figure_words(candidate.figure),
        words(&candidate.place),
        100.0 * judged.measured / judged.limit
    )
}

/// What would settle it: what held the first undecided figure back, else what most of its doubt comes from, else what a
/// limit lacks that nothing was judged on.
fn would_decide(decided: &Decided, lacking: Option<&str>) -> Option<WouldDecide> {
    if decided.verdict.outcome != Outcome::Undecided {
        return None;
    }
    let undecided = decided
        .judgements
        .iter()
        .find(|j| j.judged.outcome == Outcome::Undecided);
    let text = match (undecided, lacking) {
        (Some(judgement), _) => judgement.remedy(),
        (None, Some(lacking)) => lacking.to_owned(),
        (None, None) => return None,
    };
    Some(WouldDecide {
        more_clamps: None,
        text,
    })
}

impl Judgement {
    fn remedy(&self) -> String {
        if let Some(held) = self.held_back.first() {
            return held.remedy.to_owned();
        }
        let (judged, margins) = (&self.judged, &self.candidate.margins);
        if let Some(dof) = margins.scatter.and_then(|(seat, _)| seat.dof) {
            return more_seatings(judged, dof);
        }
        if judged.measured <= judged.limit && margins.missed_um > 0.5 * judged.guard {
            return format!(
                "the positions may have missed {:.1} µm of the turn: read more positions round it",
                margins.missed_um
            );
        }
        match self.candidate.budget.as_ref().and_then(Budget::largest) {
            Some((largest, _)) => format!(
                "most of the doubt is {}: {}",
                largest.source,
                remedy(&largest.source)
            ),
            None => CALIBRATE.to_owned(),
        }
    }
}

/// How many more seatings decide on a seat that goes on as it did; each brings two degrees of freedom.
fn more_seatings(judged: &Judged, dof: usize) -> String {
    let decides = |more: &usize| {
        let dof = super::harmonics::count(dof + 2 * more);
        let bound = |p: f64| {
            chi2_quantile(p, dof).map_or(f64::NAN, |chi2| judged.measured * (dof / chi2).sqrt())
        };
        bound(RISK) < judged.limit || bound(1.0 - RISK) > judged.limit
    };
    match (1..=MOST_SEATINGS).find(decides) {
        Some(more) => format!(
            "seat the bar about {more} more times in the orientations it was in: few seatings say little about how well it comes back"
        ),
        None => format!(
            "the seat is too near its limit for {MOST_SEATINGS} more seatings to tell: clean taper and bar, and measure as left"
        ),
    }
}

fn remedy(largest: &str) -> &'static str {
    match largest {
        source::SCATTER | source::HEAD | source::DRIFT => {
            "prop the head, wait for a still reading and read again"
        }
        source::DOUBT => "read the plane again whose positions are in doubt",
        source::POSITION => "set the positions by the control's angle display",
        source::LEVER => "set the lever along the surface or use a plunger",
        source::ASSUMED_SEAT => "seat the bar twice in each orientation",
        source::SEAT => "clean, and seat the bar more often",
        source::BAR => "turn the bar by 180° and read again",
        source::AXIAL => "find the cause of the axial float first",
        _ => "use an indicator with a smaller uncertainty",
    }
}
