//! In which state the spindle was measured. The two are never mixed: cleaning and greasing can lift the force by a third.

use serde::{Deserialize, Serialize};

/// Before or after work on the spindle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// Wiped dry, nothing greased or adjusted yet.
    AsFound,
    /// After cleaning, greasing or repair.
    AsLeft,
}

impl State {
    /// The words a person reads.
    pub fn words(self) -> &'static str {
        match self {
            Self::AsFound => "as found",
            Self::AsLeft => "as left",
        }
    }
}
