//! What the person tells the analysis: limits, indicator and how things stood.

use super::nose::BarTurns;
use super::record::Place;
use super::remarks::CertificateGap;
use super::taper::{Lever, Taper};
use crate::decision::Limit;
use holdtrue_terms::vocabulary::{At, State};
use serde::{Deserialize, Serialize};

/// A position by paper tape or by eye is within this, degrees (common practice).
pub const POSITION_ERROR_DEG: f64 = 3.0;

/// How a runout check is to be judged.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RunoutSetup {
    /// As found or as left.
    pub state: Option<State>,
    /// Limits; those on grip force are left aside.
    pub limits: Vec<Limit>,
    /// The indicator's certificate, if there is one.
    pub indicator: Option<Indicator>,
    /// How an indicator's lever stood.
    pub lever: Lever,
    /// The taper, where the indicator stood square to its wall: readings on the wall are then across the wall.
    pub square_to_wall: Option<Taper>,
    /// A stepped position is within this of its angle, degrees.
    pub position_error_deg: f64,
    /// Standard deviation of a reading from the head settling, µm.
    pub head_settling_um: Option<f64>,
    /// The bar's own runout by its certificate, as a TIR, µm.
    pub bar_tir_um: Option<f64>,
    /// Seat scatter to assume where it was not measured, µm; `None`: the usual.
    pub assumed_seat_um: Option<f64>,
    /// Read by eye and typed: no record of it exists.
    pub typed: bool,
    /// Step of the last digit of readings that were typed, µm.
    #[serde(default)]
    pub typed_step_um: Option<f64>,
    /// How the keys of the taper let a test bar go in.
    #[serde(default)]
    pub bar_turns: BarTurns,
    /// The person answered the questions a figure raises: it is taken as read, and marked so.
    #[serde(default)]
    pub as_read: bool,
}

impl Default for RunoutSetup {
    fn default() -> Self {
        Self {
            state: None,
            limits: Vec::new(),
            indicator: None,
            lever: Lever::None,
            square_to_wall: None,
            position_error_deg: POSITION_ERROR_DEG,
            head_settling_um: None,
            bar_tir_um: None,
            assumed_seat_um: None,
            typed: false,
            typed_step_um: None,
            bar_turns: BarTurns::NotKnown,
            as_read: false,
        }
    }
}

impl RunoutSetup {
    /// How the bar could be turned: by the keys, unless somebody said that it was turned all the same.
    pub fn bar_turns(&self) -> BarTurns {
        match self.as_read {
            true => BarTurns::NotKnown,
            false => self.bar_turns,
        }
    }

    /// Motion of the surface across the axis per reading at a place.
    pub fn motion_per_reading(&self, place: &Place) -> f64 {
        let wall = match (place.at, self.square_to_wall) {
            (Some(At::Wall), Some(taper)) => taper.radial_per_square_to_wall(),
            _ => 1.0,
        };
        wall * self.lever.motion_per_reading()
    }
}

/// An indicator by its certificate.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Indicator {
    /// Expanded uncertainty (k = 2) over the span used, µm.
    pub expanded_um: f64,
    /// Smallest step it shows, µm.
    pub resolution_um: Option<f64>,
    /// Why the certificate does not count today: lapsed, span exceeded; `None`: in force.
    pub out_of_force: Option<CertificateGap>,
}

impl Indicator {
    /// An indicator with a certificate in force.
    pub fn in_force(expanded_um: f64) -> Self {
        Self {
            expanded_um,
            resolution_um: None,
            out_of_force: None,
        }
    }

    /// The error it may show: its uncertainty or its step, whichever is larger, µm.
    pub fn error_um(&self) -> f64 {
        self.expanded_um.max(self.resolution_um.unwrap_or(0.0))
    }
}
