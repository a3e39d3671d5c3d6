//! The built-in reference checks, recomputed on this machine.

pub mod command;
pub mod proof;
