//! The book of visits: spindles, visits, findings, cautions acknowledged, checks as they are stored.

pub mod acknowledge;
pub mod archive;
pub mod arguments;
pub mod book_command;
pub mod cautions;
pub mod finding_command;
pub mod input;
pub mod later_rows;
pub mod opening;
pub mod overloads;
pub mod recorder;
pub mod spindle_arguments;
pub mod spindle_command;
pub mod stored_calibration;
pub mod stored_check;
pub mod unfinished;
pub mod visit_command;
pub mod writer;
