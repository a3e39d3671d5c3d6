//! Pure functions from samples to figures to verdicts.
//!
//! No I/O, no clock, no global state. Every public function cites its source.

pub mod decision;
pub mod grip;
pub mod hint;
pub mod provenance;
pub mod runout;
pub mod special;
pub mod state;
pub mod statistics;
pub mod uncertainty;
pub mod units;
