//! Likely causes. In: what a check's pattern points to. Out: a cause with its evidence, never a verdict.
//!
//! A hint is one variant of [`Evidence`]: its cause follows here, its sentences in `holdtrue-wording`.

use crate::grip::remarks::{MostExpected, Springs};
use crate::runout::Place;
use holdtrue_terms::vocabulary::Provenance;
use serde::{Deserialize, Serialize};

holdtrue_terms::vocabulary! {
    /// Causes a check can point to, one list for grip force and runout.
    Cause is "cause" {
        /// Low force with small scatter.
        WeakSprings = "weak-springs",
        /// Climbs from clamp to clamp: gripper or drawbar sticks.
        Sticking = "sticking",
        /// First clamp low, the rest alike.
        StoodLong = "stood-long",
        /// Large scatter without order.
        WornGripper = "worn-gripper",
        /// Force drops while held, on a hydraulically held drawbar.
        Leak = "leak",
        /// Force follows the gauge's position in the spindle.
        OffAxis = "off-axis",
        /// Low force, and the shank is pushed out too far: the drawbar is set too far forward.
        DrawbarSetting = "drawbar-setting",
        /// Low force, and the shank is not pushed out far enough: unclamp cylinder.
        UnclampCylinder = "unclamp-cylinder",
        /// Force far above nominal.
        SetTooFar = "set-too-far",
        /// Zeros wander with the gauge's temperature.
        GaugeWarming = "gauge-warming",
        /// Runout changes at every seating: loose dirt, fretting or bell mouth.
        DirtySeat = "dirty-seat",
        /// Runout follows the bar.
        BentTestBar = "bent-test-bar",
        /// Runout stays with the spindle and the wall is good: a raised spot or stuck dirt.
        StuckDirt = "stuck-dirt",
        /// Runout stays with the spindle and the wall shows it too: taper, shaft or bearings.
        TiltedTaper = "tilted-taper",
    }
}

/// The figures that point to a cause.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
pub enum Evidence {
    /// The mean is far above what is to be expected.
    FarAbove {
        /// Share of it, %.
        percent: f64,
        /// What is to be expected.
        of: MostExpected,
    },
    /// The first clamp is low, the others alike.
    FirstLow {
        /// How far it lies below the others, %.
        low_percent: f64,
        /// Within what the others agree, %.
        others_percent: f64,
    },
    /// The force climbs from clamp to clamp.
    Climbs {
        /// From first to last, % of the mean.
        percent: f64,
        /// Clamps.
        clamps: usize,
        /// Steps upwards.
        steps_up: usize,
    },
    /// The clamps scatter without order.
    Scatters {
        /// Coefficient of variation, %.
        cv_percent: f64,
        /// Up to what is usual, %.
        usual_percent: f64,
    },
    /// The force follows the gauge's position in the spindle.
    FollowsPosition {
        /// Difference of the levels, % of the mean.
        percent: f64,
        /// Positions.
        positions: usize,
    },
    /// The force is low and even.
    LowAndEven {
        /// Share of what it should not lie below, %.
        percent: f64,
        /// Coefficient of variation, %.
        cv_percent: f64,
        /// What holds the tool.
        springs: Springs,
    },
    /// The force is low, and the push-out is what the maker states.
    LowPushedRight {
        /// Share of what the force should not lie below, %.
        percent: f64,
        /// Mean push-out, mm.
        push_out_mm: f64,
        /// What holds the tool.
        springs: Springs,
    },
    /// The force is low, and the push-out is larger than the maker states.
    LowPushedFar {
        /// Share of what the force should not lie below, %.
        percent: f64,
        /// Mean push-out, mm.
        push_out_mm: f64,
        /// The maker's most, mm.
        most_mm: f64,
    },
    /// The force is low, and the push-out is smaller than the maker states.
    LowPushedShort {
        /// Share of what the force should not lie below, %.
        percent: f64,
        /// Mean push-out, mm.
        push_out_mm: f64,
        /// The maker's least, mm.
        least_mm: f64,
    },
    /// The force of a hydraulic drawbar drops while held.
    DropsWhileHeld {
        /// Share of the force a second, %.
        percent_per_s: f64,
        /// Seen over, s.
        over_s: f64,
    },
    /// The zero wanders.
    ZeroMoved {
        /// Over the check, % of the mean.
        percent: f64,
    },
    /// A part of the runout turns with the bar.
    TurnsWithBar {
        /// Where.
        place: Place,
        /// What turns with the bar, as TIR, µm.
        bar_um: f64,
        /// The bar part may as well be the seat.
        bar_or_seat: bool,
        /// What stays with the spindle, as TIR, µm.
        spindle_um: f64,
    },
    /// The runout scatters from seating to seating.
    SeatScatters {
        /// Where.
        place: Place,
        /// By how much, as TIR, µm.
        scatter_um: f64,
    },
    /// A part stays with the spindle and the wall shows it.
    WallShowsIt {
        /// Where.
        place: Place,
        /// What stays, as TIR, µm.
        spindle_um: f64,
        /// How much of it the wall shows, %.
        wall_percent: f64,
    },
    /// A part stays with the spindle and the wall is good.
    WallIsGood {
        /// Where.
        place: Place,
        /// What stays, as TIR, µm.
        spindle_um: f64,
        /// How much of it the wall shows, %.
        wall_percent: f64,
    },
    /// The wall runs out, and no bar was read.
    WallRunsOut {
        /// Where.
        place: Place,
        /// Its TIR, µm.
        tir_um: f64,
    },
}

impl Evidence {
    /// What it points to.
    pub fn cause(&self) -> Cause {
        match self {
            Self::FarAbove { .. } => Cause::SetTooFar,
            Self::FirstLow { .. } => Cause::StoodLong,
            Self::Climbs { .. } => Cause::Sticking,
            Self::Scatters { .. } => Cause::WornGripper,
            Self::FollowsPosition { .. } => Cause::OffAxis,
            Self::LowAndEven { .. } | Self::LowPushedRight { .. } => Cause::WeakSprings,
            Self::LowPushedFar { .. } => Cause::DrawbarSetting,
            Self::LowPushedShort { .. } => Cause::UnclampCylinder,
            Self::DropsWhileHeld { .. } => Cause::Leak,
            Self::ZeroMoved { .. } => Cause::GaugeWarming,
            Self::TurnsWithBar { .. } => Cause::BentTestBar,
            Self::SeatScatters { .. } => Cause::DirtySeat,
            Self::WallIsGood { .. } => Cause::StuckDirt,
            Self::WallShowsIt { .. } | Self::WallRunsOut { .. } => Cause::TiltedTaper,
        }
    }
}

/// A likely cause with what points to it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hint {
    /// Which.
    pub cause: Cause,
    /// The figures that point to it.
    #[serde(rename = "evidence_values")]
    pub evidence: Evidence,
    /// Where the rule comes from.
    pub provenance: Provenance,
}

impl Hint {
    /// By a rule of common practice, as all are.
    pub fn by(evidence: Evidence) -> Self {
        Self {
            cause: evidence.cause(),
            evidence,
            provenance: Provenance::CommonPractice,
        }
    }
}
