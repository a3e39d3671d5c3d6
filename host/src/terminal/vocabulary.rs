//! Words of the trade as options take them. In: a word. Out: what it means in the numbers.

use clap::ValueEnum;
use holdtrue_metrology::provenance::Provenance;
use holdtrue_metrology::state::State;

/// Before or after work on the spindle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum StateWord {
    /// Wiped dry, nothing greased or adjusted yet
    AsFound,
    /// After cleaning, greasing or repair
    AsLeft,
}

impl From<StateWord> for State {
    fn from(word: StateWord) -> Self {
        match word {
            StateWord::AsFound => Self::AsFound,
            StateWord::AsLeft => Self::AsLeft,
        }
    }
}

/// Where a limit comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ProvenanceWord {
    /// The machine or spindle maker's figure
    Maker,
    /// Read from a named document
    Published,
    /// A document is named, its figure was not read
    FromMemory,
    /// What technicians do
    CommonPractice,
    /// Derived
    Computed,
}

impl From<ProvenanceWord> for Provenance {
    fn from(word: ProvenanceWord) -> Self {
        match word {
            ProvenanceWord::Maker => Self::Maker,
            ProvenanceWord::Published => Self::Published,
            ProvenanceWord::FromMemory => Self::FromMemory,
            ProvenanceWord::CommonPractice => Self::CommonPractice,
            ProvenanceWord::Computed => Self::Computed,
        }
    }
}

/// Class of the drawbar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ClassWord {
    /// Lightly sprung
    Light,
    /// The usual one
    Standard,
    /// Heavily sprung
    Heavy,
}

/// What holds the tool.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum DrawbarWord {
    /// A stack of disc springs
    DiscSprings,
    /// A gas spring
    GasSpring,
    /// Oil pressure
    Hydraulic,
}
