//! From ports to frames to samples, with every gap known: who a gauge is, its calibration, and what it measures.

pub mod binding;
pub mod calibration;
pub mod capture;
pub mod displacement;
pub mod firmware_file;
pub mod force;
pub mod link;
mod order;
pub mod session;
