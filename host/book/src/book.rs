//! Opening, creating and writing the one file.
//!
//! In: a path. Out: a [`Book`] that takes rows whole or not at all, and gives them back as written.

use crate::at_rest::{self, Found};
use crate::error::Error;
use crate::schema::{self, APPLICATION_ID, SCHEMA, Table};
use rusqlite::types::Value;
use rusqlite::{Connection, OpenFlags, Params, Row, RowIndex, params_from_iter};
use std::path::{Path, PathBuf};
use std::time::Duration;
use uuid::Uuid;

/// How long a call waits for another program to finish its writing.
pub const LOCK_WAIT_MS: u64 = 2_000;

/// Result of everything that touches a book.
pub type Result<T> = std::result::Result<T, Error>;

/// Who wrote a row, and when: local time with offset as RFC 3339 (`2026-03-04T09:12:30.250+01:00`).
/// The book has no clock; whoever calls has.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// The technician's name.
    pub author: String,
    /// The time.
    pub at: String,
}

impl Stamp {
    /// A stamp.
    pub fn new(author: impl Into<String>, at: impl Into<String>) -> Self {
        Self {
            author: author.into(),
            at: at.into(),
        }
    }

    pub(crate) fn from_row(row: &Row) -> rusqlite::Result<Self> {
        Ok(Self {
            author: row.get("author")?,
            at: row.get("at")?,
        })
    }
}

/// An open book. One value per thread; several programs may have the same file open.
pub struct Book {
    path: PathBuf,
    pub(crate) db: Connection,
}

impl std::fmt::Debug for Book {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Book")
            .field("path", &self.path)
            .finish_non_exhaustive()
    }
}

impl Book {
    /// Opens a book that exists, for reading and writing.
    pub fn open(path: impl AsRef<Path>) -> Result<Self> {
        let book = Self::existing(path.as_ref())?;
        book.prepare_for_writing()?;
        Ok(book)
    }

    /// Opens a book, creating it where there is no file (or an empty one).
    pub fn open_or_create(path: impl AsRef<Path>) -> Result<Self> {
        let path = path.as_ref();
        at_rest::look(path)?;
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE;
        let mut book = Self::connect(path, flags)?;
        book.create_where_empty()?;
        book.prepare_for_writing()?;
        Ok(book)
    }

    /// Whether no row is in it.
    pub fn is_without_rows(&self) -> Result<bool> {
        for table in schema::TABLES {
            let sql = format!("SELECT EXISTS (SELECT 1 FROM {})", table.name);
            if self.has(table)? && self.run(|db| db.query_row(&sql, [], |row| row.get(0)))? {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Takes back a book that was begun and has no row: the file is gone. One with a row stays. Returns whether it is gone.
    pub fn take_back(path: impl AsRef<Path>) -> Result<bool> {
        let path = path.as_ref();
        let book = Self::open(path)?;
        // Alone with it: nobody can write the first row meanwhile.
        book.run(|db| db.execute_batch("BEGIN EXCLUSIVE"))?;
        if !book.is_without_rows()? {
            return Ok(false);
        }
        std::fs::remove_file(path).map_err(|source| Error::File {
            path: path.into(),
            source,
        })?;
        Ok(true)
    }

    /// Opens a book that exists; every attempt to write a row is refused.
    ///
    /// What a program that was cut off while it wrote left half done is rolled back first: only the file and its journal
    /// together are the book.
    pub fn open_read_only(path: impl AsRef<Path>) -> Result<Self> {
        let book = Self::existing(path.as_ref())?;
        book.run(|db| db.execute_batch("PRAGMA query_only = ON"))?;
        Ok(book)
    }

    /// A book that is there, put right where a write was cut off. Opened for writing where that is possible, because
    /// nothing can be rolled back otherwise.
    fn existing(path: &Path) -> Result<Self> {
        let cut_off = match at_rest::look(path)? {
            Found::Nothing => return Err(Error::Missing { path: path.into() }),
            Found::Empty | Found::Book => at_rest::has_journal(path),
        };
        let mut book = Self::connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
        if book.is_empty()? {
            if !cut_off {
                return Err(Error::Empty { path: path.into() });
            }
            // The kill came while the book was being created: that is brought to its end.
            book.create_where_empty()?;
        }
        book.refuse_strangers()?;
        Ok(book)
    }

    fn create_where_empty(&mut self) -> Result<()> {
        if self.is_empty()? {
            self.together(|book| {
                // Another program may have been quicker between the look and the lock.
                match book.is_empty()? {
                    true => book.run(schema::create),
                    false => Ok(()),
                }
            })?;
        }
        self.refuse_strangers()
    }

    /// Nothing is in it. The first look of the database at the file: here it rolls back what was cut off.
    fn is_empty(&self) -> Result<bool> {
        let objects = self.run(schema::objects).map_err(|error| match error {
            Error::ReadOnly { path } | Error::Database { path, .. } | Error::File { path, .. }
                if at_rest::has_journal(&path) =>
            {
                let journal = at_rest::journal(&path);
                Error::CutOff { path, journal }
            }
            other => other,
        })?;
        Ok(objects.is_empty())
    }

    /// Where the file is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Runs several writes as one: all of them are on disk when this returns `Ok`, none if it returns an
    /// error. May be nested; the outermost call decides.
    pub fn together<T>(&mut self, writes: impl FnOnce(&mut Self) -> Result<T>) -> Result<T> {
        if !self.db.is_autocommit() {
            return writes(self);
        }
        self.run(|db| db.execute_batch("BEGIN IMMEDIATE"))?;
        let done = writes(self).and_then(|value| {
            self.run(|db| db.execute_batch("COMMIT"))?;
            Ok(value)
        });
        if done.is_err() && !self.db.is_autocommit() {
            // The error that matters is the first one; a rollback that fails is repeated at the next opening.
            let _ = self.db.execute_batch("ROLLBACK");
        }
        done
    }

    /// Runs several writes and takes all of them back again.
    pub(crate) fn tried<T>(&mut self, writes: impl FnOnce(&mut Self) -> Result<T>) -> Result<T> {
        self.run(|db| db.execute_batch("BEGIN IMMEDIATE"))?;
        let done = writes(self);
        let taken_back = self.run(|db| db.execute_batch("ROLLBACK"));
        let done = done?;
        taken_back?;
        Ok(done)
    }

    fn connect(path: &Path, flags: OpenFlags) -> Result<Self> {
        let cannot = |source: std::io::Error| Error::File {
            path: path.into(),
            source,
        };
        // From the root on, so that no name is taken for a URI or for a database in memory.
        let whole = std::path::absolute(path).map_err(cannot)?;
        let flags = flags | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let db = Connection::open_with_flags(whole, flags)
            .map_err(|source| cannot(std::io::Error::other(source)))?;
        let book = Self {
            path: path.into(),
            db,
        };
        book.run(|db| {
            db.busy_timeout(Duration::from_millis(LOCK_WAIT_MS))?;
            db.set_prepared_statement_cache_capacity(64);
            db.execute_batch("PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF; PRAGMA recursive_triggers = ON;")
        })?;
        Ok(book)
    }

    /// Refuses anything but a book of a schema this crate reads.
    fn refuse_strangers(&self) -> Result<()> {
        let application = self.run(|db| pragma(db, "application_id"))?;
        if application != APPLICATION_ID {
            return Err(Error::NotABook {
                path: self.path.clone(),
                found: format!("another program's database (application id {application:#010x})"),
            });
        }
        match self.schema()? {
            found if found > SCHEMA => Err(Error::NewerSchema {
                path: self.path.clone(),
                found,
                ours: SCHEMA,
            }),
            1..=SCHEMA => Ok(()),
            found => Err(self.damaged(
                "user_version",
                format!("schema {found}, expected 1 to {SCHEMA}"),
            )),
        }
    }

    /// The schema the file has now. Read each time: another program may raise it meanwhile.
    pub fn schema(&self) -> Result<i64> {
        self.run(|db| pragma(db, "user_version"))
    }

    /// Whether the file has this table already; an older one gets it with its first row.
    pub(crate) fn has(&self, table: &Table) -> Result<bool> {
        Ok(table.since <= self.schema()?)
    }

    /// Brings the file to the newest schema, in the transaction of the row that comes first.
    fn raise(&self) -> Result<()> {
        let found = self.schema()?;
        if found > SCHEMA {
            // Another, newer program was here since this one opened the file.
            return self.refuse_strangers();
        }
        self.run(|db| schema::raise(db, found, SCHEMA))
    }

    /// What is acknowledged is on the disk: the journal is synced, then the file, then the folder entry.
    fn prepare_for_writing(&self) -> Result<()> {
        self.run(|db| {
            db.execute_batch(
                "PRAGMA synchronous = EXTRA; PRAGMA fullfsync = ON; PRAGMA secure_delete = OFF;",
            )?;
            db.query_row("PRAGMA journal_mode = DELETE", [], |_| Ok(()))
        })
    }

    /// Runs a piece of database work and gives its refusal a path and a next step.
    pub(crate) fn run<T>(
        &self,
        work: impl FnOnce(&Connection) -> rusqlite::Result<T>,
    ) -> Result<T> {
        work(&self.db).map_err(|source| Error::from_database(&self.path, LOCK_WAIT_MS, source))
    }

    /// All rows of a query.
    pub(crate) fn rows<T>(
        &self,
        sql: &str,
        params: impl Params,
        read: impl FnMut(&Row) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>> {
        self.run(|db| db.prepare_cached(sql)?.query_map(params, read)?.collect())
    }

    /// Writes one row, its key columns first. Writing the same row again changes nothing; another content under
    /// the same key is refused. Returns whether the row is new.
    pub(crate) fn put(&mut self, table: &'static Table, values: Vec<Value>) -> Result<bool> {
        debug_assert_eq!(
            values.len(),
            table.key.len() + table.rest.len(),
            "{}",
            table.name
        );
        let key = &values[..table.key.len()];
        let present = if self.has(table)? {
            self.row(table, key)?
        } else {
            None
        };
        match present {
            Some(present) if present == values => Ok(false),
            Some(_) => Err(self.same_id(table, key)),
            None if self.schema()? == SCHEMA => self.insert(table, &values),
            None => self.together(|book| {
                book.raise()?;
                book.insert(table, &values)
            }),
        }
    }

    fn insert(&self, table: &Table, values: &[Value]) -> Result<bool> {
        let places = vec!["?"; values.len()].join(", ");
        let sql = format!(
            "INSERT INTO {} ({}) VALUES ({places})",
            table.name,
            table.columns()
        );
        self.run(|db| db.prepare_cached(&sql)?.execute(params_from_iter(values)))?;
        Ok(true)
    }

    /// One row by its key, all columns in the order of the table.
    pub(crate) fn row(&self, table: &Table, key: &[Value]) -> Result<Option<Vec<Value>>> {
        let wanted = table
            .key
            .iter()
            .map(|column| format!("{column} = ?"))
            .collect::<Vec<_>>()
            .join(" AND ");
        let sql = format!(
            "SELECT {} FROM {} WHERE {wanted}",
            table.columns(),
            table.name
        );
        let columns = table.key.len() + table.rest.len();
        let read = |row: &Row| (0..columns).map(|column| row.get(column)).collect();
        Ok(self.rows(&sql, params_from_iter(key), read)?.pop())
    }

    pub(crate) fn same_id(&self, table: &Table, key: &[Value]) -> Error {
        let id = key.iter().map(shown).collect::<Vec<_>>().join(" / ");
        Error::SameIdOtherBytes {
            path: self.path.clone(),
            table: table.name,
            id,
        }
    }

    pub(crate) fn damaged(&self, place: impl Into<String>, detail: impl Into<String>) -> Error {
        Error::Damaged {
            path: self.path.clone(),
            place: place.into(),
            detail: detail.into(),
        }
    }

    pub(crate) fn unknown(&self, what: &'static str, id: impl ToString) -> Error {
        Error::Unknown {
            path: self.path.clone(),
            what,
            id: id.to_string(),
        }
    }

    pub(crate) fn refused(
        &self,
        field: &'static str,
        found: impl Into<String>,
        expected: &'static str,
    ) -> Error {
        Error::Refused {
            path: self.path.clone(),
            field,
            found: found.into(),
            expected,
        }
    }

    /// Checks a stamp before it reaches the table's own rule, so that the message names the field.
    pub(crate) fn stamp(&self, stamp: &Stamp) -> Result<[Value; 2]> {
        self.time("at", &stamp.at)?;
        if stamp.author.trim().is_empty() {
            return Err(self.refused("author", "an empty name", "the technician's name"));
        }
        Ok([stamp.author.clone().into(), stamp.at.clone().into()])
    }

    pub(crate) fn time(&self, field: &'static str, at: &str) -> Result<()> {
        let sql = "SELECT ?1 GLOB '????-??-??T??:??:??*' AND julianday(?1) IS NOT NULL
                   AND (?1 GLOB '*Z' OR ?1 GLOB '*[-+]??:??')";
        let good: bool =
            self.run(|db| db.prepare_cached(sql)?.query_row([at], |row| row.get(0)))?;
        let expected = "local time with offset, like 2026-03-04T09:12:30+01:00";
        if good {
            Ok(())
        } else {
            Err(self.refused(field, at, expected))
        }
    }
}

fn pragma(db: &Connection, name: &str) -> rusqlite::Result<i64> {
    db.query_row(&format!("PRAGMA {name}"), [], |row| row.get(0))
}

fn shown(value: &Value) -> String {
    match value {
        Value::Text(text) => text.clone(),
        Value::Integer(number) => number.to_string(),
        other => format!("{other:?}"),
    }
}

/// An identifier as the tables hold it.
pub(crate) fn id(id: Uuid) -> Value {
    Value::Text(id.to_string())
}

/// An identifier or NULL.
pub(crate) fn maybe_id(maybe: Option<Uuid>) -> Value {
    maybe.map_or(Value::Null, id)
}

/// Text or NULL.
pub(crate) fn maybe_text(maybe: Option<&str>) -> Value {
    maybe.map_or(Value::Null, |text| Value::Text(text.to_owned()))
}

/// Reads an identifier column.
pub(crate) fn read_id(row: &Row, column: impl RowIndex) -> rusqlite::Result<Uuid> {
    parse_id(row.get_ref(column)?.as_str()?)
}

/// Reads an identifier column that may be NULL.
pub(crate) fn read_maybe_id(row: &Row, column: impl RowIndex) -> rusqlite::Result<Option<Uuid>> {
    let text = row.get_ref(column)?.as_str_or_null()?;
    text.map(parse_id).transpose()
}

pub(crate) fn parse_id(text: &str) -> rusqlite::Result<Uuid> {
    Uuid::parse_str(text).map_err(unreadable)
}

/// A stored text that this crate cannot read back.
pub(crate) fn unreadable(
    source: impl std::error::Error + Send + Sync + 'static,
) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(0, rusqlite::types::Type::Text, Box::new(source))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Kind, Tombstone};

    fn tombstone(number: u128) -> Tombstone {
        Tombstone {
            id: Uuid::from_u128(number),
            target: Uuid::from_u128(0),
            reason: "x".repeat(500),
            stamp: Stamp::new("Technician A", "2026-03-04T09:00:00+01:00"),
        }
    }

    /// A bound on the pages stands in for a full disk: the database answers both alike.
    #[test]
    fn a_full_disk_loses_only_the_row_that_did_not_fit() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("full.holdtrue");
        let mut book = Book::open_or_create(&path).unwrap();
        let pages = pragma(&book.db, "page_count").unwrap();
        let bound = format!("PRAGMA max_page_count = {}", pages + 4);
        book.db.query_row(&bound, [], |_| Ok(())).unwrap();
        let mut kept = 0;
        let error = loop {
            match book.bury(&tombstone(kept + 1)) {
                Ok(()) => kept += 1,
                Err(error) => break error,
            }
        };
        assert!(matches!(error, Error::DiskFull { .. }), "{error}");
        assert!(
            error
                .to_string()
                .contains("full.holdtrue: the disk is full"),
            "{error}"
        );
        assert!(kept > 0);
        let count = |book: &Book| {
            book.rows("SELECT id FROM tombstone", [], |_| Ok(()))
                .unwrap()
                .len()
        };
        assert_eq!(count(&book) as u128, kept);
        drop(book);
        let mut book = Book::open(&path).unwrap();
        assert!(book.check().unwrap().sound());
        // Room again: the step that failed can be repeated.
        book.bury(&tombstone(kept + 1)).unwrap();
        assert_eq!(count(&book) as u128, kept + 1);
    }

    #[test]
    fn a_book_is_written_with_the_promised_care() {
        let folder = tempfile::tempdir().unwrap();
        let book = Book::open_or_create(folder.path().join("careful.holdtrue")).unwrap();
        for (name, expected) in [
            ("synchronous", 3),
            ("fullfsync", 1),
            ("foreign_keys", 1),
            ("application_id", 0x4864_5472),
        ] {
            assert_eq!(pragma(&book.db, name).unwrap(), expected, "{name}");
        }
        let journal: String = book
            .db
            .query_row("PRAGMA journal_mode", [], |row| row.get(0))
            .unwrap();
        assert_eq!(journal, "delete");
        assert_eq!(Kind::Spindle.word(), "spindle");
    }
}
