//! The decision over all limits of a check, with its reasons and what would settle it: values, no sentences.

use crate::decision::Judged;
use crate::grip::remarks::{GripReason, GripRemedy};
use crate::known;
use crate::runout::remarks::{RunoutReason, RunoutRemedy};
use holdtrue_terms::vocabulary::Outcome;
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
