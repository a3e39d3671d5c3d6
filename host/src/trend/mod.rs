//! Is it getting worse, and when will it cross the limit? In: the visits of a spindle, or a table. Out: the trend of one figure.

pub mod arguments;
pub mod axis;
pub mod command;
pub mod document;
pub mod followed;
pub mod from_book;
pub mod limit;
mod plot;
pub mod readings_csv;
pub mod words;
