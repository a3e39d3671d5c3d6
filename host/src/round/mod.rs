//! The condition round: item by item, each answer in the book at once; asked on the screen, or told by flags and files.

pub mod answers;
pub mod command;
pub mod led;
pub mod state;
