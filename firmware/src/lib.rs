//! Gauge firmware library: drivers, sampler, outbox and the gauge that ties them.
#![no_std]

pub mod adc;
pub mod ads1220;
pub mod bcd_indicator;
pub mod bridge;
pub mod calibration_store;
pub mod clock;
pub mod flash;
pub mod indicator_requests;
pub mod light;
pub mod mark;
pub mod overloads;
pub mod quadrature;
pub mod store;
