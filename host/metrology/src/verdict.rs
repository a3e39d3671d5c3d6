//! The decision over all limits of a check, with its reasons and what would settle it: values, no sentences.

use crate::decision::{Figure, Judged, Side};
use crate::grip::remarks::{GripReason, GripRemedy};
use crate::known;
use crate::runout::LIMIT_HEIGHT_MM;
use crate::runout::remarks::{RunoutReason, RunoutRemedy};
use holdtrue_terms::vocabulary::{At, Outcome, State};
use serde::{Deserialize, Serialize};

/// Why a verdict is what it is; the codes of both checks are apart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Reason {
    /// Of grip force.
    Grip(GripReason),
    /// Of runout.
    Runout(RunoutReason),
}

impl Reason {
    /// Whether it says that the spindle must not run before something is known or put right.
    pub fn forbids_running(&self) -> bool {
        match self {
            Self::Grip(reason) => matches!(
                reason,
                GripReason::DropGoesOn { .. }
                    | GripReason::CauseDoesNotHold { .. }
                    | GripReason::SlippedOnce { cause: None, .. }
                    | GripReason::FallsAgain { cause: None, .. }
                    | GripReason::LowerAtEnd { cause: None, .. }
                    | GripReason::FellBelowLimit { cause: None, .. }
                    | GripReason::LittleLeft { .. }
                    | GripReason::GripFarOut { .. }
                    | GripReason::FarBelowUnlimited { .. }
                    | GripReason::LittleOfNominal { .. }
            ),
            Self::Runout(reason) => matches!(reason, RunoutReason::RunoutFarOut { .. }),
        }
    }
}

/// What would help to settle a verdict; the codes of both checks are apart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Remedy {
    /// Of grip force.
    Grip(GripRemedy),
    /// Of runout.
    Runout(RunoutRemedy),
}

/// What would settle an undecided verdict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WouldDecide {
    /// How many more clamps, where more clamps help.
    pub more_clamps: Option<u32>,
    /// Each thing to do, in the order it is said; of a result read back those known here.
    #[serde(rename = "values", default, deserialize_with = "known::all")]
    pub remedies: Vec<Remedy>,
}

/// The decision over all limits of a check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Verdict {
    /// The word.
    pub outcome: Outcome,
    /// Each limit.
    pub limits: Vec<Judged>,
    /// Why, in the order it is said; of a result read back those known here.
    #[serde(rename = "reason_values", default, deserialize_with = "known::all")]
    pub reasons: Vec<Reason>,
    /// What would settle it, if undecided.
    pub would_decide: Option<WouldDecide>,
    /// A counted clamp was held long enough for a slow drop to be seen.
    #[serde(default, skip_serializing_if = "is_false")]
    pub drop_examined: bool,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands it on so")]
fn is_false(value: &bool) -> bool {
    !value
}

/// What a set is held to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeldTo {
    /// The figure.
    pub figure: Figure,
    /// At which height, mm; none for every one, and for a figure without.
    pub height_mm: Option<f64>,
    /// On which surface; none where nobody said, and for a figure without.
    pub at: Option<At>,
    /// Which side is good.
    pub side: Side,
    /// The limit, in the unit of the figure.
    pub limit: f64,
}

impl HeldTo {
    /// Whether a set held to the other was held to this, too: the same figure at the same height, by a limit no laxer.
    fn is_within(&self, other: &Self) -> bool {
        let no_laxer = match self.side {
            Side::Lower => other.limit >= self.limit * (1.0 - ROUNDING),
            Side::Upper => other.limit <= self.limit * (1.0 + ROUNDING),
        };
        self.is_where(other) && no_laxer
    }

    /// Whether the other is on the same figure at the same height of the same surface; one that is not known is any.
    fn is_where(&self, other: &Self) -> bool {
        let same_height = match (self.height_mm, other.height_mm) {
            (Some(here), Some(there)) => (here - there).abs() <= LIMIT_HEIGHT_MM,
            (here, there) => here.is_none() && there.is_none(),
        };
        let same_surface = self.at.is_none() || self.at == other.at;
        self.figure == other.figure && self.side == other.side && same_height && same_surface
    }
}

/// Limits equal but for arithmetic are equal.
const ROUNDING: f64 = 1e-9;

impl Verdict {
    /// Every limit it judged, and those that nothing was measured for.
    pub fn held_to(&self) -> Vec<HeldTo> {
        let judged = self.limits.iter().map(|limit| HeldTo {
            figure: limit.figure,
            height_mm: limit.height_mm,
            at: limit.at,
            side: limit.side,
            limit: limit.limit,
        });
        let not_judged = self.reasons.iter().filter_map(|reason| match reason {
            Reason::Runout(
                RunoutReason::NotMeasured { on, .. } | RunoutReason::IndicatorCoarse { on, .. },
            ) => Some(HeldTo {
                figure: on.figure,
                height_mm: on.height_mm,
                at: None,
                side: Side::Upper,
                limit: on.limit,
            }),
            _ => None,
        });
        judged.chain(not_judged).collect()
    }

    /// Whether it was held back, or outside, because of how the force behaved while held.
    fn rests_on_drop(&self) -> bool {
        let judged =
            |limit: &Judged| limit.figure == Figure::GripSag && limit.outcome != Outcome::Accept;
        let seen = |reason: &Reason| {
            matches!(
                reason,
                Reason::Grip(
                    GripReason::DropGoesOn { .. }
                        | GripReason::CauseDoesNotHold { .. }
                        | GripReason::SlippedOnce { cause: None, .. }
                )
            )
        };
        self.outcome != Outcome::Accept
            && (self.limits.iter().any(judged) || self.reasons.iter().any(seen))
    }
}

/// A set as it counts for the verdict of its visit.
#[derive(Clone, Debug, PartialEq)]
pub struct Set<K> {
    /// What was checked; sets of one kind can take each other's place.
    pub what: K,
    /// As found or as left.
    pub state: Option<State>,
    /// How it was decided; none where it was not judged.
    pub outcome: Option<Outcome>,
    /// By which limits.
    pub held_to: Vec<HeldTo>,
    /// It is not within for how the force behaved while held.
    pub for_drop: bool,
    /// A drop could be seen in it.
    pub sees_drop: bool,
}

impl<K: PartialEq> Set<K> {
    /// A set with its verdict; none where it was not judged.
    pub fn of(what: K, state: Option<State>, verdict: Option<&Verdict>) -> Self {
        Self {
            what,
            state,
            outcome: verdict.map(|verdict| verdict.outcome),
            held_to: verdict.map_or_else(Vec::new, Verdict::held_to),
            for_drop: verdict.is_some_and(Verdict::rests_on_drop),
            sees_drop: verdict.is_some_and(|verdict| verdict.drop_examined),
        }
    }

    /// Whether a later one can say anything in place of this: of the same kind; decided where this was outside; and long
    /// enough held where this was not within for its drop.
    fn can_be_answered_by(&self, later: &Self) -> bool {
        let decides = match self.outcome {
            Some(Outcome::Reject) => later.outcome.is_some_and(|it| it != Outcome::Undecided),
            Some(_) => later.outcome.is_some(),
            None => true,
        };
        self.what == later.what && decides && (later.sees_drop || !self.for_drop)
    }
}

/// The set among those behind it that says how the spindle stands in its place: taken as left, and judged by every limit that
/// this one was held to and none laxer. What was outside at one height is not within for a reading at another, nor for a
/// wider limit; and a verdict is not overtaken by a set without one.
pub fn overtaken_by<K: PartialEq>(set: &Set<K>, later: &[Set<K>]) -> Option<usize> {
    later.iter().rposition(|left| {
        set.can_be_answered_by(left)
            && left.state == Some(State::AsLeft)
            && set
                .held_to
                .iter()
                .all(|limit| left.held_to.iter().any(|other| limit.is_within(other)))
    })
}

/// A set as left that is within, with those before it that were not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Repeated {
    /// The place of the set.
    pub place: usize,
    /// The how manieth set as left of its kind it is.
    pub number: usize,
    /// How many before it were outside.
    pub outside: usize,
    /// How many before it were undecided.
    pub undecided: usize,
}

/// Sets as left that were repeated until they were within: what came before is no longer in the verdict, and is told.
pub fn repeated<K: PartialEq>(sets: &[Set<K>]) -> Vec<Repeated> {
    let is_left = |set: &Set<K>| set.state == Some(State::AsLeft);
    let told = sets.iter().enumerate().filter_map(|(place, set)| {
        let stands = overtaken_by(set, &sets[place + 1..]).is_none();
        let within = is_left(set) && set.outcome == Some(Outcome::Accept);
        let before = sets[..place].iter();
        let before = before.filter(|other| is_left(other) && other.what == set.what);
        let of = |outcome| {
            before
                .clone()
                .filter(move |set| set.outcome == Some(outcome))
        };
        let repeated = Repeated {
            place,
            number: before.clone().count() + 1,
            outside: of(Outcome::Reject).count(),
            undecided: of(Outcome::Undecided).count(),
        };
        (stands && within && repeated.outside + repeated.undecided > 0).then_some(repeated)
    });
    told.collect()
}

/// The verdict of a visit over its sets in order of time, overtaken ones left out: any reject is the whole visit's, then any
/// undecided. None where none was judged.
pub fn of_visit<K: PartialEq>(sets: &[Set<K>]) -> Option<Outcome> {
    let standing =
        (0..sets.len()).filter(|&place| overtaken_by(&sets[place], &sets[place + 1..]).is_none());
    worst(standing.filter_map(|place| sets[place].outcome))
}

/// How a spindle stands after visits in order of time: each set that no later one took the place of, in its visit or at a later
/// one that judged the same figures at the same heights by limits no laxer. A visit that looked at something else, or that was
/// held to less, takes nothing back. The verdict
/// and the place of the last visit it rests on; none where nothing was judged.
pub fn of_visits<K: PartialEq>(visits: &[Vec<Set<K>>]) -> Option<(Outcome, usize)> {
    let measured_anew = |set: &Set<K>, later: &[Vec<Set<K>>]| {
        let mut sets = later.iter().flatten();
        sets.any(|left| {
            let covered = |limit: &HeldTo| left.held_to.iter().any(|other| limit.is_within(other));
            set.can_be_answered_by(left)
                && left.outcome.is_some()
                && set.held_to.iter().all(covered)
        })
    };
    let standing = visits.iter().enumerate().flat_map(|(visit, sets)| {
        let stands = (0..sets.len()).filter(move |&place| {
            overtaken_by(&sets[place], &sets[place + 1..]).is_none()
                && !measured_anew(&sets[place], &visits[visit + 1..])
        });
        stands.filter_map(move |place| Some((sets[place].outcome?, visit)))
    });
    standing.max_by_key(|&(outcome, visit)| (gravity(outcome), visit))
}

fn gravity(outcome: Outcome) -> u8 {
    match outcome {
        Outcome::Accept => 0,
        Outcome::Undecided => 1,
        Outcome::Reject => 2,
    }
}

/// Any reject, then any undecided.
pub fn worst(outcomes: impl Iterator<Item = Outcome>) -> Option<Outcome> {
    outcomes.max_by_key(|outcome| gravity(*outcome))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(what: u8, state: State, outcome: Option<Outcome>) -> Set<u8> {
        Set {
            what,
            state: Some(state),
            outcome,
            held_to: vec![at(300.0, 15.0)],
            for_drop: false,
            sees_drop: false,
        }
    }

    fn at(height_mm: f64, limit: f64) -> HeldTo {
        HeldTo {
            figure: Figure::Tir,
            height_mm: Some(height_mm),
            at: Some(At::Bar),
            side: Side::Upper,
            limit,
        }
    }

    #[test]
    fn what_was_outside_is_only_within_where_it_was_held_to_no_less() {
        use {Outcome::*, State::*};
        let found = set(1, AsFound, Some(Reject));
        let left = |held_to: Vec<HeldTo>| Set {
            held_to,
            ..set(1, AsLeft, Some(Accept))
        };
        for (held_to, outcome) in [
            (vec![at(300.0, 15.0)], Accept),
            (vec![at(20.0, 5.0), at(300.2, 12.0)], Accept),
            (vec![at(20.0, 15.0)], Reject),
            (vec![at(300.0, 40.0)], Reject),
            (
                vec![HeldTo {
                    at: Some(At::Face),
                    ..at(300.0, 15.0)
                }],
                Reject,
            ),
            (vec![], Reject),
        ] {
            let sets = [found.clone(), left(held_to)];
            assert_eq!(of_visit(&sets), Some(outcome), "{sets:?}");
        }
    }

    #[test]
    fn a_later_visit_takes_back_only_what_it_measured_anew() {
        use {Outcome::*, State::*};
        let found = || vec![set(1, AsFound, Some(Reject))];
        let later = |what, limit, outcome| {
            vec![Set {
                held_to: vec![limit],
                ..set(what, AsFound, outcome)
            }]
        };
        for (then, standing) in [
            (later(1, at(300.0, 15.0), Some(Accept)), (Accept, 1)),
            (later(1, at(300.0, 40.0), Some(Accept)), (Reject, 0)),
            (later(1, at(300.0, 12.0), Some(Accept)), (Accept, 1)),
            (later(1, at(20.0, 15.0), Some(Accept)), (Reject, 0)),
            (later(2, at(300.0, 15.0), Some(Accept)), (Reject, 0)),
            (later(1, at(300.0, 15.0), None), (Reject, 0)),
            (later(1, at(300.0, 15.0), Some(Undecided)), (Reject, 0)),
            (Vec::new(), (Reject, 0)),
        ] {
            let visits = [found(), then];
            assert_eq!(of_visits(&visits), Some(standing), "{visits:?}");
        }
        assert_eq!(of_visits::<u8>(&[]), None);
    }

    #[test]
    fn what_was_not_within_for_its_drop_is_answered_where_a_drop_could_be_seen() {
        use {Outcome::*, State::*};
        for (outcome, sees_drop, of_both) in [
            (Reject, false, Reject),
            (Reject, true, Accept),
            (Undecided, false, Undecided),
            (Undecided, true, Accept),
        ] {
            let found = Set {
                for_drop: true,
                ..set(1, AsFound, Some(outcome))
            };
            let left = Set {
                sees_drop,
                ..set(1, AsLeft, Some(Accept))
            };
            assert_eq!(of_visit(&[found, left]), Some(of_both));
        }
    }

    #[test]
    fn a_visit_is_as_its_spindle_was_left() {
        use {Outcome::*, State::*};
        let found = set(1, AsFound, Some(Reject));
        assert_eq!(
            of_visit(&[found.clone(), set(1, AsLeft, Some(Accept))]),
            Some(Accept)
        );
        assert_eq!(
            of_visit(&[found.clone(), set(2, AsLeft, Some(Accept))]),
            Some(Reject)
        );
        assert_eq!(
            of_visit(&[found.clone(), set(1, AsLeft, None)]),
            Some(Reject)
        );
        let undecided = set(1, AsLeft, Some(Undecided));
        assert_eq!(of_visit(&[found, undecided]), Some(Reject));
        let open = set(2, AsFound, Some(Undecided));
        assert_eq!(
            of_visit(&[set(1, AsFound, Some(Accept)), open]),
            Some(Undecided)
        );
        assert_eq!(of_visit(&[set(1, AsFound, None)]), None);
    }
}
