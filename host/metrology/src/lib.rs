//! Pure functions from samples to figures to verdicts.
//!
//! No I/O, no clock, no global state. Every public function cites its source.

pub mod anova;
pub mod calibration;
pub mod change;
pub mod copied;
pub mod decision;
pub mod doubt;
pub mod file_note;
pub mod gauge_check;
pub mod grip;
pub mod hint;
mod known;
pub mod limits;
pub mod prove;
pub mod regression;
pub mod rise;
pub mod runout;
pub mod side_by_side;
pub mod special;
pub mod statistics;
pub mod study;
pub mod trend;
pub mod uncertainty;
pub mod verdict;
