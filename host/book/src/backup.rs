//! A copy of a book that is in use.
//!
//! In: an open book, a path. Out: a copy of the state it is in at one moment, read back and found sound before it takes its place.

use crate::at_rest;
use crate::book::{Book, LOCK_WAIT_MS, Result};
use crate::error::Error;
use crate::schema::TABLES;
use rusqlite::Connection;
use rusqlite::backup::{Backup, StepResult};
use rusqlite::types::Value;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Pages copied at once, between which other programs may write.
const PAGES_AT_ONCE: i32 = 1_000;
/// How long to let go between two tries.
const PAUSE: Duration = Duration::from_millis(20);

/// Where a copy is made before it is known to be good.
fn unchecked(target: &Path) -> PathBuf {
    let mut name = target
        .file_name()
        .map_or_else(OsString::new, OsString::from);
    name.push(".part");
    target.with_file_name(name)
}

impl Book {
    /// Copies the book, reads the copy back, and puts it in the place of whatever lies there. What may lie there is for the
    /// caller to know: see [`Book::is_older_state`].
    ///
    /// # Errors
    /// The copy cannot be written, or what was read back is not sound. What lay at the place before still lies there.
    pub fn back_up(&self, target: &Path) -> Result<()> {
        let part = unchecked(target);
        let done = self.copy_and_look(&part).and_then(|()| {
            std::fs::rename(&part, target).map_err(|source| Error::File {
                path: target.into(),
                source,
            })
        });
        if done.is_err() {
            // The error that matters is the first one; a half copy is nobody's backup.
            let _ = std::fs::remove_file(&part);
            let _ = std::fs::remove_file(at_rest::journal(&part));
        }
        done
    }

    fn copy_and_look(&self, part: &Path) -> Result<()> {
        match std::fs::remove_file(part) {
            Err(source) if source.kind() != std::io::ErrorKind::NotFound => {
                return Err(Error::File {
                    path: part.into(),
                    source,
                });
            }
            _ => {}
        }
        self.copy_pages(part)?;
        let copy = Self::open_read_only(part)?;
        let seen = copy.check()?;
        match seen.damage.first() {
            None => Ok(()),
            Some(trouble) => Err(copy.damaged(trouble.place.clone(), trouble.found.clone())),
        }
    }

    fn copy_pages(&self, part: &Path) -> Result<()> {
        let told = |source| Error::from_database(part, LOCK_WAIT_MS, source);
        let whole = std::path::absolute(part).map_err(|source| Error::File {
            path: part.into(),
            source,
        })?;
        let mut copy = Connection::open(whole).map_err(told)?;
        copy.execute_batch("PRAGMA synchronous = EXTRA; PRAGMA fullfsync = ON;")
            .map_err(told)?;
        let backup = Backup::new(&self.db, &mut copy).map_err(told)?;
        let mut waiting = Instant::now();
        loop {
            match backup.step(PAGES_AT_ONCE).map_err(told)? {
                StepResult::Done => return Ok(()),
                StepResult::More => waiting = Instant::now(),
                // Another program writes just now.
                _ if waiting.elapsed() > Duration::from_millis(LOCK_WAIT_MS) => {
                    return Err(Error::Locked {
                        path: self.path().into(),
                        waited_ms: LOCK_WAIT_MS,
                    });
                }
                _ => std::thread::sleep(PAUSE),
            }
        }
    }

    /// Whether another book holds nothing that this one does not hold too, word for word: then it is this book as it was.
    ///
    /// # Errors
    /// One of the two cannot be read.
    pub fn is_older_state(&self, other: &Self) -> Result<bool> {
        for table in TABLES {
            if !other.has(table)? {
                continue;
            }
            let sql = format!("SELECT {} FROM {}", table.columns(), table.name);
            let columns = table.key.len() + table.rest.len();
            let told = |source| Error::from_database(other.path(), LOCK_WAIT_MS, source);
            let mut query = other.db.prepare(&sql).map_err(told)?;
            let mut rows = query.query([]).map_err(told)?;
            while let Some(row) = rows.next().map_err(told)? {
                let values = (0..columns)
                    .map(|column| row.get(column))
                    .collect::<rusqlite::Result<Vec<Value>>>()
                    .map_err(told)?;
                let here = match self.has(table)? {
                    true => self.row(table, &values[..table.key.len()])?,
                    false => None,
                };
                if here.as_ref() != Some(&values) {
                    return Ok(false);
                }
            }
        }
        Ok(true)
    }
}
