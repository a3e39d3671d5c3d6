//! The book of visits: one SQLite file of immutable rows.
