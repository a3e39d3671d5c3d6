//! End-to-end tests, reference checks and torture.

pub mod added_later;
pub mod bench;
pub mod coverage;
pub mod cut_off;
pub mod doubts;
pub mod force;
pub mod many_spindles;
pub mod matrix;
pub mod planes;
#[cfg(unix)]
pub mod port;
pub mod records;
pub mod reference;
pub mod schema;
#[cfg(unix)]
pub mod screen;
pub mod stepping;
pub mod yard;
