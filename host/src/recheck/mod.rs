//! Stored results, computed anew from what was measured.

pub mod arguments;
pub mod causes;
pub mod command;
