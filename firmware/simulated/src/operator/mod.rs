//! The scripted pair of hands: [`clamping`] presses clamp and unclamp, [`turning`] turns the spindle
//! from position to position, at the word of the [`light`] as [`stepping`] says. Both go on until the gauge is stopped.
//! They follow from the seed, and stepping from when the light showed what, and from nothing else.

pub mod clamping;
pub mod light;
pub mod stepping;
pub mod turning;
