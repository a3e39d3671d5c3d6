//! Merging two copies of a book: the union of their rows.
//!
//! In: another book. Out: this one with every row of both. Repeatable, in any order, asking nothing.

use crate::book::{Book, Result};
use crate::inspect::Inspection;
use crate::schema::{TABLES, Table};
use rusqlite::types::Value;
use std::path::Path;

/// How many rows a merge brought, table by table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Merged {
    /// Table and number of rows that were new here; tables without news are left out.
    pub added: Vec<(&'static str, usize)>,
}

impl Book {
    /// Takes over every row of another book that is not here yet. A row with the same key and another content
    /// is damage: nothing at all is taken over then.
    pub fn merge_from(&mut self, other: impl AsRef<Path>) -> Result<Merged> {
        let other = Self::open_read_only(other)?;
        self.together(|book| book.take_all_over(&other))
    }

    /// The same, taken back again: what it would bring, and what would then be to settle.
    pub fn would_merge(&mut self, other: impl AsRef<Path>) -> Result<(Merged, Inspection)> {
        let other = Self::open_read_only(other)?;
        self.tried(|book| Ok((book.take_all_over(&other)?, book.check()?)))
    }

    fn take_all_over(&mut self, other: &Self) -> Result<Merged> {
        let mut merged = Merged::default();
        for table in TABLES {
            if !other.has(table)? {
                continue;
            }
            let added = self.take_over(table, other)?;
            if added > 0 {
                merged.added.push((table.name, added));
            }
        }
        Ok(merged)
    }

    fn take_over(&mut self, table: &'static Table, other: &Self) -> Result<usize> {
        let sql = format!("SELECT {} FROM {}", table.columns(), table.name);
        let columns = table.key.len() + table.rest.len();
        let (wait, path) = (crate::book::LOCK_WAIT_MS, other.path());
        let told = |source| crate::Error::from_database(path, wait, source);
        let mut query = other.db.prepare(&sql).map_err(told)?;
        let mut rows = query.query([]).map_err(told)?;
        let mut added = 0;
        // Row by row: a raw record can be larger than the memory one wants to give it.
        while let Some(row) = rows.next().map_err(told)? {
            let values = (0..columns)
                .map(|column| row.get(column))
                .collect::<rusqlite::Result<Vec<Value>>>();
            added += usize::from(self.put(table, values.map_err(told)?)?);
        }
        Ok(added)
    }
}
