//! What can go wrong with a book, each naming the file and the next step.
//!
//! In: what the database, the file system or a rule of the book refused. Out: one typed error.

use std::path::{Path, PathBuf};
use uuid::Uuid;

/// Why the book could not do what was asked. Nothing was written when one of these comes back.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// There is no such file, and the call does not create one.
    #[error("{}: there is no book here; check the path, or start a visit to create it", path.display())]
    Missing {
        /// The book asked for.
        path: PathBuf,
    },
    /// The file is there and nothing is in it.
    #[error("{}: an empty file: a book was begun here and nothing is recorded in it yet. Start a visit to go on with it; if something was recorded in it, it is lost here: go on with the latest backup", path.display())]
    Empty {
        /// The file asked for.
        path: PathBuf,
    },
    /// A write was cut off, and what it left half done cannot be rolled back where the book lies.
    #[error("{}: the last write to this book was cut off. It is put right from its journal, {}, but one of the two cannot be written here (read-only file, folder or medium). Copy BOTH files, the book and its journal, into one folder you may write in, and open the copy there; either of them alone is damaged", path.display(), journal.display())]
    CutOff {
        /// The book.
        path: PathBuf,
        /// Its journal.
        journal: PathBuf,
    },
    /// The journal beside the book was not written with it.
    #[error("{}: beside it lies {}, the journal of a write that was cut off, but of another book or of another state of this one; rolled back it would damage this book. Was a backup put in the place of the book that was cut off? Move the journal into another folder, and keep it; then try again. Nothing was changed", path.display(), journal.display())]
    StrangeJournal {
        /// The book.
        path: PathBuf,
        /// The journal.
        journal: PathBuf,
    },
    /// The file is something else.
    #[error("{}: not a book: found {found}, expected a file this program wrote; nothing in it was changed, name another file", path.display())]
    NotABook {
        /// The file asked for.
        path: PathBuf,
        /// What it looks like.
        found: String,
    },
    /// Written by a newer program.
    #[error("{}: book of schema {found}, this program reads up to schema {ours}; update this program, the book was not changed", path.display())]
    NewerSchema {
        /// The book asked for.
        path: PathBuf,
        /// Its schema.
        found: i64,
        /// The newest schema this crate reads.
        ours: i64,
    },
    /// The bytes are not what was once written.
    #[error("{}: the book is damaged at {place}: {detail}; keep this file, work on with the latest backup and merge what can be read", path.display())]
    Damaged {
        /// The book.
        path: PathBuf,
        /// Table or page.
        place: String,
        /// What was found there.
        detail: String,
    },
    /// Somebody else is writing.
    #[error("{}: another program has the book locked and did not let go within {waited_ms} ms; close it (or the window that shows the book) and try again", path.display())]
    Locked {
        /// The book.
        path: PathBuf,
        /// How long it was waited for.
        waited_ms: u64,
    },
    /// No room left.
    #[error("{}: the disk is full; what was shown as recorded is safe, the last step was not recorded: free some space and continue the check", path.display())]
    DiskFull {
        /// The book.
        path: PathBuf,
    },
    /// May be read only.
    #[error("{}: the book cannot be written (read-only file, folder or medium); change the permission, or copy it to a place you may write, together with its -journal where one lies beside it", path.display())]
    ReadOnly {
        /// The book.
        path: PathBuf,
    },
    /// One identifier, two contents: never happens by use, so one of them is damage.
    #[error("{}: {table} {id} already exists with other content; the same identifier never stands for two things, so one copy is damaged: run `book check` on both", path.display())]
    SameIdOtherBytes {
        /// The book.
        path: PathBuf,
        /// The table.
        table: &'static str,
        /// The key, as printed.
        id: String,
    },
    /// Something is referred to that is not there.
    #[error("{}: no {what} {id} in this book; list what there is and name one of those", path.display())]
    Unknown {
        /// The book.
        path: PathBuf,
        /// Kind of thing.
        what: &'static str,
        /// Its identifier.
        id: String,
    },
    /// A finished visit takes no more rows.
    #[error("{}: visit {visit} is finished and is never changed; amend it, or start a new visit", path.display())]
    Finished {
        /// The book.
        path: PathBuf,
        /// The visit.
        visit: Uuid,
    },
    /// The paper and the book do not agree.
    #[error("{}: visit {visit} does not match this paper: digest on the paper {printed}, computed from the book {computed}; one of the two was changed after the visit was finished", path.display())]
    DigestDiffers {
        /// The book.
        path: PathBuf,
        /// The visit.
        visit: Uuid,
        /// What was given.
        printed: String,
        /// What the rows give.
        computed: String,
    },
    /// A finished visit is no longer what it was.
    #[error("{}: visit {visit} was changed after it was finished, past this program: its digest was {finished}, its rows now give {computed}. Keep this file and trust no figure of this visit in it; go on with the latest backup, and run `book check` on both", path.display())]
    Altered {
        /// The book.
        path: PathBuf,
        /// The visit.
        visit: Uuid,
        /// The digest written at its end.
        finished: String,
        /// What the rows give.
        computed: String,
    },
    /// A value the book does not take.
    #[error("{}: {field}: found {found}, expected {expected}", path.display())]
    Refused {
        /// The book.
        path: PathBuf,
        /// The field.
        field: &'static str,
        /// What came.
        found: String,
        /// What would do.
        expected: &'static str,
    },
    /// The system refused the file.
    #[error("{}: cannot open the book: {source}; check path, folder and permission", path.display())]
    File {
        /// The book.
        path: PathBuf,
        /// The system's words.
        source: std::io::Error,
    },
    /// Anything else the database says.
    #[error("{}: the database refused: {source}; nothing was recorded by this step, run `book check`", path.display())]
    Database {
        /// The book.
        path: PathBuf,
        /// The database's words.
        source: rusqlite::Error,
    },
}

impl Error {
    /// Sorts a refusal of the database by what the technician has to do about it.
    pub(crate) fn from_database(path: &Path, waited_ms: u64, source: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode as Code;
        let path = path.to_path_buf();
        match source.sqlite_error_code() {
            Some(Code::DiskFull) => Self::DiskFull { path },
            Some(Code::ReadOnly) => Self::ReadOnly { path },
            Some(Code::CannotOpen) => Self::File {
                path,
                source: std::io::Error::other(source),
            },
            Some(Code::DatabaseBusy | Code::DatabaseLocked) => Self::Locked { path, waited_ms },
            Some(Code::NotADatabase) => Self::NotABook {
                path,
                found: "no database".into(),
            },
            Some(Code::DatabaseCorrupt) => Self::Damaged {
                path,
                place: "a page of the file".into(),
                detail: source.to_string(),
            },
            _ => Self::Database { path, source },
        }
    }
}
