//! The ways a plane is read.

use serde::{Deserialize, Serialize};

/// How a plane was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// At rest, position by position.
    Stepped,
    /// Turning, the angle unknown.
    Free,
    /// Turning, with a mark once a turn.
    Marked,
}
