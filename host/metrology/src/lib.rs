//! Pure functions from samples to figures to verdicts.
//!
//! No I/O, no clock, no global state. Every public function cites its source.

pub mod decision;
pub mod provenance;
