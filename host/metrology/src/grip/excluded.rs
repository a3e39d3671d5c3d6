//! Clamps that do not count, and why.

use serde::{Deserialize, Serialize};

/// Why a clamp does not count. Never for its value: the low clamp is the news.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Excluded {
    /// By hand, with a reason.
    Discarded,
    /// The gauge reported itself faulty during the clamp.
    Fault,
    /// Samples are missing between clamped and released.
    Gap,
    /// The gauge was loaded beyond its rated load.
    Overload,
    /// Still clamped at the last sample.
    NotReleased,
    /// Held under 1.3 s.
    Short,
    /// No zero in the whole record, or clamped already at the first sample.
    NoZero,
    /// Bumped for a fifth of the settled window or more.
    Disturbed,
    /// It lies in a file behind as many clamps as were asked for.
    NotAskedFor,
}

impl Excluded {
    /// The reason as a person reads it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Discarded => "discarded by hand",
            Self::Fault => "the gauge reported a fault",
            Self::Gap => "samples are missing",
            Self::Overload => "the gauge was overloaded",
            Self::NotReleased => "not released before the record ended",
            Self::Short => "unclamped too early (held under 1.3 s)",
            Self::NoZero => "no zero: the gauge was not free before or after",
            Self::Disturbed => "the gauge was knocked while held",
            Self::NotAskedFor => "it lies behind the clamps asked for",
        }
    }
}

/// A clamp put aside by hand.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Discard {
    /// Number of the clamp.
    pub number: u32,
    /// Why.
    pub reason: String,
}
