//! The book of visits: spindles, visits, findings, cautions acknowledged, checks as they are stored.
//!
//! The visit itself lies here; the book as a file, the spindles' pages, findings and stored checks each in a folder.

pub mod acknowledge;
pub mod amendments;
pub mod arguments;
pub mod book;
pub mod cautions;
pub mod checks;
pub mod correct_command;
pub mod corrected;
pub mod counters;
pub mod findings;
pub mod gauge_entry;
pub mod known_day;
pub mod last_visit;
pub mod later_rows;
pub mod overloads;
pub mod spindles;
pub mod stops;
pub mod told;
pub mod unfit;
pub mod visit_command;
pub mod visit_end;
pub mod visit_shown;
