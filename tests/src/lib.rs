//! End-to-end tests, reference checks and torture.
