//! In: a gauge on a link and a technician at the machine. Out: a check, led step by step and stored as it goes.

pub mod gauge_look;
pub mod recorder;
pub mod voice;
