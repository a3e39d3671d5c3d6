//! The gauge itself: found, named, held against a check standard, fit to measure or not.

pub mod arguments;
pub mod command;
pub mod document;
pub mod guidance;
pub mod history;
pub mod info_command;
pub mod knob;
pub mod look;
pub mod standard;
