//! Why a verdict is what it is, and what would settle it.

use crate::digits::Units;
use crate::say::Say;
use holdtrue_metrology::verdict::{Reason, Remedy, WouldDecide};

impl Say for Reason {
    fn say(&self, units: &Units) -> String {
        match self {
            Self::Grip(reason) => reason.say(units),
            Self::Runout(reason) => reason.say(units),
        }
    }
}

impl Say for Remedy {
    fn say(&self, units: &Units) -> String {
        match self {
            Self::Grip(remedy) => remedy.say(units),
            Self::Runout(remedy) => remedy.say(units),
        }
    }
}

impl Say for WouldDecide {
    fn say(&self, units: &Units) -> String {
        joined(self.remedies.iter().map(|remedy| remedy.say(units)))
    }
}

/// Several things to do, in one sentence.
pub(crate) fn joined(remedies: impl Iterator<Item = String>) -> String {
    remedies.collect::<Vec<_>>().join("; ")
}
