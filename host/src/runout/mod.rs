//! The runout check: how true the taper runs. In: an indicator, a record or typed readings. Out: planes, verdict, and
//! what the book keeps.

pub mod anew;
pub mod arguments;
pub mod before;
pub mod changeover;
pub mod command;
pub mod doubtful;
pub mod guidance;
pub mod live;
pub mod live_command;
pub mod noted;
pub mod plan;
pub mod readings_csv;
pub mod setup;
pub mod stepping;
pub mod stored;
pub mod words;
