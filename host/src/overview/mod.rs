//! Which of all spindles needs us first? In: the book. Out: every spindle, worst first.

pub mod arguments;
pub mod command;
pub mod findings;
pub mod gathered;
pub mod newest;
pub mod words;
