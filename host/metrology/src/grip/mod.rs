//! Grip force: from a force record to clamps, figures and a verdict.
//!
//! In comes a [`record::ForceRecord`] (or readings noted by hand); out come the clamps found in it, the statistics over
//! those that count, their uncertainty, the verdict and likely causes.

pub mod clamps;
pub mod edges;
pub mod record;
pub mod window;
pub mod zero;
