//! In: frames from a link. Out: who the gauge is, its calibration, and a stream of samples with every gap known.

pub mod calibration;
pub mod capture;
pub mod displacement;
pub mod field;
pub mod fitness;
pub mod force;
pub mod knob;
mod order;
pub mod overloads;
pub mod replay;
pub mod session;
