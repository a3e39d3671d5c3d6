//! The words and units of the trade. In: what people write and what a book or file keeps. Out: one value for each.
//!
//! It knows no screen, no book and no command line. A word it does not know is an error that names it.

pub mod figure;
pub mod quantity;
pub mod taper;
pub mod units;
pub mod vocabulary;
