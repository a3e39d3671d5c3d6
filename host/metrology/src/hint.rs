//! Likely causes. In: what a check's pattern points to. Out: a cause with its evidence, never a verdict.

use holdtrue_terms::vocabulary::Provenance;
use serde::{Deserialize, Serialize};

/// Causes a check can point to, one list for grip force and runout.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// Low force with small scatter.
    WeakSprings,
    /// Climbs from clamp to clamp: gripper or drawbar sticks.
    Sticking,
    /// First clamp low, the rest alike.
    StoodLong,
    /// Large scatter without order.
    WornGripper,
    /// Force drops while held, on a hydraulically held drawbar.
    Leak,
    /// Force follows the gauge's position in the spindle.
    OffAxis,
    /// Force far above nominal.
    SetTooFar,
    /// Zeros wander with the gauge's temperature.
    GaugeWarming,
    /// Runout changes at every seating: loose dirt, fretting or bell mouth.
    DirtySeat,
    /// Runout follows the bar.
    BentTestBar,
    /// Runout stays with the spindle and the wall is good: a raised spot or stuck dirt.
    StuckDirt,
    /// Runout stays with the spindle and the wall shows it too: taper, shaft or bearings.
    TiltedTaper,
}

/// A likely cause with what points to it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hint {
    /// Which.
    pub cause: Cause,
    /// What to look at or do next, in the technician's words.
    pub text: String,
    /// The figures that point to it.
    pub evidence: String,
    /// Where the rule comes from.
    pub provenance: Provenance,
}
