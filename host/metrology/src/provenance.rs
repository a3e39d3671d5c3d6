//! Where a figure comes from: the five words used in limits files, JSON, report and tests alike.

use serde::{Deserialize, Serialize};

/// Provenance of a figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Provenance {
    /// The machine or spindle maker's figure.
    Maker,
    /// Read from the named document.
    Published,
    /// A document is named; its figure was not read.
    FromMemory,
    /// What technicians do.
    CommonPractice,
    /// Derived here, or by a named reference library.
    Computed,
}

impl Provenance {
    /// The words a person reads.
    pub fn words(self) -> &'static str {
        match self {
            Self::Maker => "maker",
            Self::Published => "published",
            Self::FromMemory => "from memory",
            Self::CommonPractice => "common practice, no source",
            Self::Computed => "computed",
        }
    }
}
