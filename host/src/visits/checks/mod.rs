//! Checks as they are stored: what they were begun with, their figures, how they were judged, and anew.

pub mod anew;
pub mod check_inputs;
pub mod in_file;
pub mod input;
pub mod judgements;
pub mod recorder;
pub mod same_record;
pub mod since;
pub mod state;
pub mod stored_calibration;
pub mod stored_check;
pub mod stored_figure;
pub mod stored_limits;
pub mod unfinished;
