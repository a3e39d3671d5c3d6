//! The decision over all limits of a check, with its reasons and what would settle it: values, no sentences.

use crate::decision::Judged;
use crate::grip::remarks::{GripReason, GripRemedy};
use crate::known;
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

/// A set as it counts for the verdict of its visit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Set<K> {
    /// What was checked; sets of one kind can take each other's place.
    pub what: K,
    /// As found or as left.
    pub state: Option<State>,
    /// How it was decided; none where it was not judged.
    pub outcome: Option<Outcome>,
}

/// The set among those behind it that says how the spindle stands in its place: taken as left, and judged, or judged no less.
/// A verdict is not overtaken by a set without one.
pub fn overtaken_by<K: PartialEq>(set: &Set<K>, later: &[Set<K>]) -> Option<usize> {
    later.iter().rposition(|left| {
        left.what == set.what
            && left.state == Some(State::AsLeft)
            && (left.outcome.is_some() || set.outcome.is_none())
    })
}

/// The verdict of a visit over its sets in order of time, overtaken ones left out: any reject is the whole visit's, then any
/// undecided. None where none was judged.
pub fn of_visit<K: PartialEq>(sets: &[Set<K>]) -> Option<Outcome> {
    let standing =
        (0..sets.len()).filter(|&place| overtaken_by(&sets[place], &sets[place + 1..]).is_none());
    worst(standing.filter_map(|place| sets[place].outcome))
}

/// Any reject, then any undecided.
pub fn worst(outcomes: impl Iterator<Item = Outcome>) -> Option<Outcome> {
    outcomes.max_by_key(|outcome| match outcome {
        Outcome::Accept => 0,
        Outcome::Undecided => 1,
        Outcome::Reject => 2,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(what: u8, state: State, outcome: Option<Outcome>) -> Set<u8> {
        Set {
            what,
            state: Some(state),
            outcome,
        }
    }

    #[test]
    fn a_visit_is_as_its_spindle_was_left() {
        use {Outcome::*, State::*};
        let found = set(1, AsFound, Some(Reject));
        assert_eq!(
            of_visit(&[found, set(1, AsLeft, Some(Accept))]),
            Some(Accept)
        );
        assert_eq!(
            of_visit(&[found, set(2, AsLeft, Some(Accept))]),
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
