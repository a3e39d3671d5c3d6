//! The day at the machine: what is open, what is plugged in, what one would do next, each one key. Every answer becomes a
//! command with its options, carried out like any that is typed.

pub mod asked;
pub mod command;
pub mod paper;
pub mod runout;
pub mod standing;
pub mod starting;
