//! Another image for a gauge: looked at, written, read back.

pub mod arguments;
pub mod command;
mod drive;
