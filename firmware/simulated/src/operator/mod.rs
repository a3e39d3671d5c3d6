//! The scripted pair of hands: [`clamping`] presses clamp and unclamp, [`turning`] turns the spindle
//! from position to position. Both follow from the seed alone and go on until the gauge is stopped.

pub mod clamping;
pub mod turning;
