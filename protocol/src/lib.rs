//! Messages, sample blocks and framing between the gauge and the host.
#![no_std]

pub mod message;
