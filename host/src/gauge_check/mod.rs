//! The gauge itself: found, named, held against a check standard, fit to measure or not.

pub mod arguments;
pub mod command;
pub mod field;
pub mod fitness;
pub mod gauge_command;
pub mod history;
pub mod knob;
pub mod look;
pub mod standard;
