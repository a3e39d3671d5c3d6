//! Repeatability and reproducibility of a gauge and its people.

pub mod arguments;
pub mod command;
pub mod from_book;
pub mod readings_csv;
pub mod words;
