//! A whole visit with the simulated gauge, for practice.

pub mod arguments;
pub mod command;
