//! Figures of several visits in; whether they run one way, how fast, and when they reach a limit, out.
//!
//! A line is fitted to the figures, each weighted by what its own visit leaves open and by what visits differ by beyond that
//! ([`between`]). What all visits of one calibration share says nothing against a slope and everything about where the line
//! lies ([`line()`]).

pub mod between;
mod chart;
mod crossing;
mod line;
mod order;
mod series;

pub use chart::{Chart, individuals_chart};
pub use crossing::{Crossing, NoCrossing, crossing};
pub use line::{LEVEL, Line, NoLine, line};
pub use order::{
    MannKendall, RobustSlope, mann_kendall, mann_kendall_exact_p, order_p, robust_slope,
};
pub use series::{CHART_FROM, CROSSING_FROM, LINE_FROM, Limit, Series, Step, follow};

/// The figure of one visit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// When: days, hours or tool changes.
    pub x: f64,
    /// The figure.
    pub value: f64,
    /// Standard uncertainty that no other visit shares; none where it is not known.
    pub own: Option<f64>,
    /// Degrees of freedom of that; may be infinite.
    pub own_dof: f64,
    /// Standard uncertainty that all visits of one calibration share; none where it is not known.
    pub shared: Option<f64>,
    /// Which calibration; visits with the same number share theirs.
    pub calibration: usize,
    /// Something happened before this visit that made another spindle of it.
    pub repair_before: bool,
}
