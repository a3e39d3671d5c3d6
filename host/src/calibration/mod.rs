//! Calibration: certificates as issued, in the press, with gauge blocks. Out: a record for the gauge and the book.

pub mod arguments;
pub mod ask;
pub mod calibrate_command;
pub mod certificate;
pub mod certificate_command;
pub mod guidance;
pub mod guided_steps;
pub mod indicator_command;
pub mod indicator_csv;
pub mod indicator_words;
pub mod press;
pub mod readings_csv;
pub mod stand;
pub mod stored;
pub mod words;
pub mod write;
