//! Gauge firmware library: drivers, sampler, outbox and the gauge that ties them.
#![no_std]

pub mod bcd_indicator;
pub mod clock;
pub mod indicator_requests;
pub mod light;
pub mod mark;
pub mod quadrature;
