//! The spindles of the book: their pages, their tapers, what happened to them, their past.

pub mod doubtful;
pub mod event_command;
pub mod events;
pub mod history;
pub mod spelled;
pub mod spindle_arguments;
pub mod spindle_command;
pub mod taper;
