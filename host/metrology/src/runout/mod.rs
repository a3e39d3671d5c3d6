//! Taper runout. In: indicator readings round the turn, on wall, bar, face or end. Out: TIR, eccentricity, what is the
//! spindle's, the bar's and the seat's, and a verdict.
//!
//! θ is how far the spindle was turned, growing in the direction turned, from position 0 (stepped) or from the mark's
//! rising edge (marked). Readings grow as the surface moves towards the indicator:
//!
//! reading(θ) = c + drift·t + Σ A_k·cos(kθ − φ_k) + noise
//!
//! k = 1 is the eccentricity, its direction the θ at which the high spot faces the indicator; k = 2 is ovality, k ≥ 3
//! lobing. With the bar turned by o in the spindle the eccentricity vector is S + B·e^{io}: S stays with the spindle,
//! B with the bar. Heights are mm from the nose face outward, inside the taper negative.
//!
//! ```
//! use holdtrue_metrology::runout::{Place, RunoutRecord, RunoutSetup, analyse};
//!
//! // Eight positions, read off a dial in µm, and the reading back at the first one.
//! let dial_um = [4.0, 3.0, 0.0, -3.0, -4.0, -3.0, 0.0, 3.0, 4.0];
//! let record = RunoutRecord::typed(Place::default(), &dial_um, 8);
//! let result = analyse(&record, &RunoutSetup::default()).expect("readings round the turn");
//! assert_eq!(result.planes[0].tir_um, Some(8.0));
//! assert_eq!(result.planes[0].direction_deg, Some(0.0));
//! ```

pub mod axis;
pub mod harmonics;
pub mod mistake;
pub mod nose;
pub mod positions;
pub mod remarks;
pub mod rest;
pub mod reversal;
pub mod taper;
pub mod turning;
pub mod vector;

mod allowed;
mod analyse;
mod budget;
mod came_round;
mod evaluated;
mod extremes;
mod figures;
mod followed;
mod hints;
mod lone;
mod margins;
mod method;
mod noise;
mod once_a_turn;
mod part_turn;
mod plane_untrue;
mod record;
mod refusal;
mod reseated;
mod result;
mod same_planes;
mod setup;
mod stepped;
mod unsigned;
mod untrue;
mod verdict;
mod wall;

#[cfg(test)]
mod tests;

pub use analyse::analyse;
pub use evaluated::doubt_of;
pub use record::{
    LIMIT_HEIGHT_MM, Passing, Place, Plane, Readings, Row, RunoutRecord, Stop, Taken, same_height,
};
pub use refusal::RunoutError;
pub use result::{
    ANALYSIS_VERSION, AxisFrom, AxisResult, BudgetLine, FourSeatingsResult, HarmonicResult, Method,
    PlaneResult, ReversalResult, RunoutResult, UncertaintyResult,
};
pub use same_planes::{Copied, copied};
pub use setup::{Indicator, POSITION_ERROR_DEG, RunoutSetup};
