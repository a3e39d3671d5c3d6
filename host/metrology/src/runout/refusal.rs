//! Why a runout record is refused. In: the place and what is wrong there. Out: what was found, expected, and is to be
//! done next.

use super::record::Place;
use thiserror::Error;

/// Why a record cannot be analysed.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("found {}, expected {}. {}", self.found(), self.expected(), self.next())]
pub enum RunoutError {
    /// There is nothing in it.
    NoReadings,
    /// An angle is not within the turn.
    AngleOutside {
        /// The plane.
        place: Place,
        /// The angle found.
        angle_deg: f64,
    },
    /// All readings are at one position.
    OneAngle {
        /// That angle.
        angle_deg: f64,
    },
    /// A reading, an angle or a time is no number.
    NotFinite {
        /// The plane.
        place: Place,
    },
    /// Time stands still or runs backwards.
    TimeBackwards {
        /// The plane.
        place: Place,
        /// The time that does not grow, s.
        time_s: f64,
    },
    /// Angles and times in one plane.
    MixedRows {
        /// The plane.
        place: Place,
    },
}

impl RunoutError {
    /// What was found.
    pub fn found(&self) -> String {
        match self {
            Self::NoReadings => "no readings".to_owned(),
            Self::AngleOutside { place, angle_deg } => format!("the angle {angle_deg}° ({place})"),
            Self::OneAngle { angle_deg } => format!("all readings at the one angle {angle_deg}°"),
            Self::NotFinite { place } => {
                format!("a reading, angle or time that is no number ({place})")
            }
            Self::TimeBackwards { place, time_s } => {
                format!("a time that does not grow at {time_s} s ({place})")
            }
            Self::MixedRows { place } => {
                format!("some rows with an angle and some with a time ({place})")
            }
        }
    }

    /// What was expected.
    pub fn expected(&self) -> &'static str {
        match self {
            Self::NoReadings => "at least one plane with readings",
            Self::AngleOutside { .. } => "0 to 360, with 360 for the reading after the full turn",
            Self::OneAngle { .. } => "several positions round the turn",
            Self::NotFinite { .. } => "finite numbers",
            Self::TimeBackwards { .. } => "readings in the order taken",
            Self::MixedRows { .. } => "one or the other in a plane",
        }
    }

    /// What to do next.
    pub fn next(&self) -> &'static str {
        match self {
            Self::NoReadings => "Take the readings again.",
            Self::AngleOutside { .. } => "Correct the angle.",
            Self::OneAngle { .. } => "Is the angle filled in for every reading?",
            Self::NotFinite { .. } => "Take the row out or read again.",
            Self::TimeBackwards { .. } => "Sort or split the record.",
            Self::MixedRows { .. } => "Split the record.",
        }
    }
}
