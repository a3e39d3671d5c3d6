//! The decision over all limits of a check, with its reasons and what would settle it: values, no sentences.

use crate::decision::{Figure, Judged, Side};
use crate::grip::remarks::{GripReason, GripRemedy};
use crate::known;
use crate::runout::LIMIT_HEIGHT_MM;
use crate::runout::remarks::{RunoutReason, RunoutRemedy};
use holdtrue_terms::vocabulary::{Outcome, State};
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
}

/// What a set is held to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeldTo {
    /// The figure.
    pub figure: Figure,
    /// At which height, mm; none for every one, and for a figure without.
    pub height_mm: Option<f64>,
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

    /// Whether both are on one figure at one height.
    fn is_where(&self, other: &Self) -> bool {
        let same_height = match (self.height_mm, other.height_mm) {
            (Some(here), Some(there)) => (here - there).abs() <= LIMIT_HEIGHT_MM,
            (here, there) => here.is_none() && there.is_none(),
        };
        self.figure == other.figure && self.side == other.side && same_height
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
            side: limit.side,
            limit: limit.limit,
        });
        let not_judged = self.reasons.iter().filter_map(|reason| match reason {
            Reason::Runout(
                RunoutReason::NotMeasured { on, .. } | RunoutReason::IndicatorCoarse { on, .. },
            ) => Some(HeldTo {
                figure: on.figure,
                height_mm: on.height_mm,
                side: Side::Upper,
                limit: on.limit,
            }),
            _ => None,
        });
        judged.chain(not_judged).collect()
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
}

/// The set among those behind it that says how the spindle stands in its place: taken as left, and judged by every limit that
/// this one was held to and none laxer. What was outside at one height is not within for a reading at another, nor for a
/// wider limit; and a verdict is not overtaken by a set without one.
pub fn overtaken_by<K: PartialEq>(set: &Set<K>, later: &[Set<K>]) -> Option<usize> {
    later.iter().rposition(|left| {
        left.what == set.what
            && left.state == Some(State::AsLeft)
            && (left.outcome.is_some() || set.outcome.is_none())
            && set
                .held_to
                .iter()
                .all(|limit| left.held_to.iter().any(|other| limit.is_within(other)))
    })
}

/// The verdict of a visit over its sets in order of time, overtaken ones left out: any reject is the whole visit's, then any
/// undecided. None where none was judged.
pub fn of_visit<K: PartialEq>(sets: &[Set<K>]) -> Option<Outcome> {
    let standing =
        (0..sets.len()).filter(|&place| overtaken_by(&sets[place], &sets[place + 1..]).is_none());
    worst(standing.filter_map(|place| sets[place].outcome))
}

/// How a spindle stands after visits in order of time: each set that no later one took the place of, in its visit or at a later
/// one that judged the same figures at the same heights. A visit that looked at something else takes nothing back. The verdict
/// and the place of the last visit it rests on; none where nothing was judged.
pub fn of_visits<K: PartialEq>(visits: &[Vec<Set<K>>]) -> Option<(Outcome, usize)> {
    let measured_anew = |set: &Set<K>, later: &[Vec<Set<K>>]| {
        let mut sets = later.iter().flatten();
        sets.any(|left| {
            let covered = |limit: &HeldTo| left.held_to.iter().any(|other| limit.is_where(other));
            left.what == set.what && left.outcome.is_some() && set.held_to.iter().all(covered)
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
        }
    }

    fn at(height_mm: f64, limit: f64) -> HeldTo {
        HeldTo {
            figure: Figure::Tir,
            height_mm: Some(height_mm),
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
            (later(1, at(300.0, 40.0), Some(Accept)), (Accept, 1)),
            (later(1, at(20.0, 15.0), Some(Accept)), (Reject, 0)),
            (later(2, at(300.0, 15.0), Some(Accept)), (Reject, 0)),
            (later(1, at(300.0, 15.0), None), (Reject, 0)),
            (Vec::new(), (Reject, 0)),
        ] {
            let visits = [found(), then];
            assert_eq!(of_visits(&visits), Some(standing), "{visits:?}");
        }
        assert_eq!(of_visits::<u8>(&[]), None);
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
        assert_eq!(of_visit(&[found, set(1, AsLeft, None)]), Some(Reject));
        let open = set(2, AsFound, Some(Undecided));
        assert_eq!(
            of_visit(&[set(1, AsFound, Some(Accept)), open]),
            Some(Undecided)
        );
        assert_eq!(of_visit(&[set(1, AsFound, None)]), None);
    }
}
