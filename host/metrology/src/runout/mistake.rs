//! A slip of whoever turned the spindle, as the readings of a plane show it.

use serde::{Deserialize, Serialize};

/// What the readings look like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Mistake {
    /// Two neighbours were read at one place.
    Alike,
    /// A position between them was left out.
    LeftOut,
    /// The reading back at the first position is not what it was.
    NotBack,
}
