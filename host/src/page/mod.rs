//! The page of a visit. In: a book and which visit. Out: the document the report crate draws.

pub mod arguments;
pub mod checks;
pub mod command;
pub mod instruments;
pub mod letterhead;
pub mod model;
pub mod times;
pub mod years;
