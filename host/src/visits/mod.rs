//! The book of visits: spindles, visits, findings, cautions acknowledged, checks as they are stored.

pub mod acknowledge;
pub mod arguments;
pub mod book_command;
pub mod book_writer;
pub mod cautions;
pub mod check_inputs;
pub mod doubtful;
pub mod finding_command;
pub mod gauge_entry;
pub mod history;
pub mod input;
pub mod later_rows;
pub mod opening;
pub mod overloads;
pub mod recorder;
pub mod spelled;
pub mod spindle_arguments;
pub mod spindle_command;
pub mod stored_calibration;
pub mod stored_check;
pub mod stored_figure;
pub mod taper;
pub mod unfinished;
pub mod visit_command;
