//! The one way a value becomes a sentence.

use crate::digits::Units;

/// What can be said to a person.
pub trait Say {
    /// One sentence without a full stop, its figures in these units.
    fn say(&self, units: &Units) -> String;
}
