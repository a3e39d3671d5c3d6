//! From a figure and its uncertainty to within limit, outside limit or undecided.

use crate::provenance::Provenance;
use serde::{Deserialize, Serialize};

/// What was decided. *Undecided* is never spelt as a pass or a fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Within limit, at most 5 % risk that it is not.
    Accept,
    /// Outside limit, at most 5 % risk that it is within.
    Reject,
    /// Too close to the limit for this uncertainty, or a requirement for a decision is missing.
    Undecided,
}

/// Which side of the limit is good.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// The figure must not lie below the limit.
    Lower,
    /// The figure must not lie above the limit.
    Upper,
}

/// The figure a limit is for. One vocabulary for limits files, verdicts and trends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Figure {
    /// Mean settled force over the counted clamps.
    GripMean,
    /// Lowest settled force of a counted clamp.
    GripLowest,
    /// Coefficient of variation over the counted clamps.
    GripScatter,
    /// Rate at which the force drops while held.
    GripSag,
    /// TIR of a single plane.
    Tir,
    /// Mean TIR over four seatings 90° apart.
    FourSeatings,
    /// Twice the eccentricity of the spindle part.
    SpindlePart,
    /// Seat repeatability.
    Seat,
}

/// A limit on one figure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Limit {
    /// What it limits.
    pub figure: Figure,
    /// For runout: the height it holds at, mm from the nose face outward; `None`: at every height.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_mm: Option<f64>,
    /// Which side is good.
    pub side: Side,
    /// The limit.
    pub limit: f64,
    /// Its unit: N, %, N/s, um.
    pub unit: String,
    /// Where it comes from.
    pub provenance: Provenance,
    /// Inside accept, nearer to the limit than this value: remark *watch*.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub watch: Option<f64>,
}
