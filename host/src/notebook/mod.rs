//! A notebook of old visits: a table of readings, checked whole, then entered whole.

pub mod command;
mod plan;
mod rows;
