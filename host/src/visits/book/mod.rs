//! The book as a file: which one, opening it, writing in it, whether it is sound, a second copy.

pub mod book_command;
pub mod book_writer;
pub mod dry_run;
pub mod opening;
pub mod second_place;
pub mod which_book;
