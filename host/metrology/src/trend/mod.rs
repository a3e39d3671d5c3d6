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
mod point;
mod series;

pub use chart::{Chart, individuals_chart};
pub use crossing::{Crossing, NoCrossing, crossing};
pub use line::{LEVEL, Line, NoLine, line};
pub use order::{
    MannKendall, RobustSlope, mann_kendall, mann_kendall_exact_p, order_p, robust_slope,
};
pub use point::Point;
pub use series::{CHART_FROM, CROSSING_FROM, LINE_FROM, Limit, Series, Step, follow};
