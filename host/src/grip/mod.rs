//! The grip check: how hard the drawbar holds. In: a gauge, a record or typed figures. Out: clamps, verdict, and what
//! the book keeps.

pub mod anew;
pub mod arguments;
pub mod command;
pub mod doubtful;
pub mod force_csv;
pub mod guidance;
pub mod handling;
pub mod live;
pub mod live_command;
pub mod noted;
pub mod replay;
pub mod setup;
pub mod stored;
pub mod words;
