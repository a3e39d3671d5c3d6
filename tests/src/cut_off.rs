//! Books as a laptop leaves them that died while it wrote. In: a book. Out: the same, half written, with its journal.

use rusqlite::Connection;
use std::fs;
use std::path::{Path, PathBuf};

/// The journal beside a book.
pub fn journal(book: &Path) -> PathBuf {
    beside(book, "-journal")
}

fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

/// Leaves a whole book as a kill in the middle of a large write does: some pages written over, what was there before in
/// the journal.
pub fn cut_off(book: &Path) {
    let before = fs::read(book).expect("a book");
    let db = Connection::open(book).expect("a book");
    // A cache of four pages is full at once and goes to the disk long before the write is complete.
    db.execute_batch("PRAGMA cache_size = 4; BEGIN IMMEDIATE")
        .expect("a write begins");
    for number in 0..60 {
        let sql = "INSERT INTO revision SELECT ?1, kind, entity, parents, content, author || ?2, at FROM revision LIMIT 1";
        db.execute(sql, (format!("{number:036}"), "x".repeat(3000)))
            .expect("a row");
    }
    keep_as_it_lies(db, book, book);
    assert_ne!(
        fs::read(book).expect("a book"),
        before,
        "nothing was written yet"
    );
}

/// A book that a kill left while it was being created, with the tables of a whole one.
pub fn cut_off_in_creation(pattern: &Path, book: &Path) {
    let tables: Vec<String> = Connection::open(pattern)
        .and_then(|db| {
            let mut query =
                db.prepare("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY rowid")?;
            let rows = query.query_map([], |row| row.get(0))?;
            rows.collect()
        })
        .expect("the tables of a book");
    let begun = beside(book, ".begun");
    let db = Connection::open(&begun).expect("a new file");
    db.execute_batch("PRAGMA cache_size = 2; BEGIN IMMEDIATE; PRAGMA application_id = 0x48645472")
        .and_then(|()| db.execute_batch(&tables.join(";\n")))
        .expect("tables");
    keep_as_it_lies(db, &begun, book);
    fs::remove_file(begun).expect("the file of the test");
    assert!(book.metadata().expect("a file").len() > 0);
}

/// File and journal as they are on the disk now; the write itself is then given up.
fn keep_as_it_lies(writing: Connection, from: &Path, to: &Path) {
    let (half, half_journal) = (beside(to, ".half"), beside(to, ".half-journal"));
    fs::copy(from, &half).expect("a copy of the book");
    fs::copy(journal(from), &half_journal).expect("a copy of its journal");
    drop(writing);
    fs::rename(half, to).expect("a half written book");
    fs::rename(half_journal, journal(to)).expect("its journal");
}
