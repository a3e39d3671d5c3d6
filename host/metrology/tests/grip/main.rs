//! Grip force from made-up records: the right clamps, the right force, the right words.

#![allow(clippy::unwrap_used)]

mod clamps;
mod drops;
mod hints;
mod hostile;
mod recipe;
mod remedies;
mod results;
mod rise;
mod watching;
mod words;
