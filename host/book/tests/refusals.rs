//! A file that cannot be used is refused by name, and left as it was.

#![allow(clippy::unwrap_used)]

mod common;

use common::*;
use holdtrue_book::*;
use rusqlite::Connection;
use std::path::Path;

/// The error, after checking that its text names the file.
fn told(path: &Path, error: Error) -> Error {
    assert!(
        error.to_string().starts_with(&path.display().to_string()),
        "{error}"
    );
    error
}

#[test]
fn a_missing_book_is_not_created_by_reading() {
    let (_folder, path) = place();
    assert!(matches!(
        told(&path, Book::open(&path).unwrap_err()),
        Error::Missing { .. }
    ));
    assert!(matches!(
        told(&path, Book::open_read_only(&path).unwrap_err()),
        Error::Missing { .. }
    ));
    assert!(!path.exists());
}

#[test]
fn other_files_are_refused_and_left_alone() {
    let (folder, path) = place();
    std::fs::write(&path, "time_s,force_n\n0.0,1.0\n".repeat(100)).unwrap();
    let before = std::fs::read(&path).unwrap();
    assert!(matches!(
        told(&path, Book::open_or_create(&path).unwrap_err()),
        Error::NotABook { .. }
    ));
    assert_eq!(std::fs::read(&path).unwrap(), before);

    let strange = folder.path().join("strange.holdtrue");
    Connection::open(&strange)
        .unwrap()
        .execute_batch("CREATE TABLE people (name TEXT)")
        .unwrap();
    let before = std::fs::read(&strange).unwrap();
    let error = told(&strange, Book::open_or_create(&strange).unwrap_err());
    assert!(
        error.to_string().contains("another program's database"),
        "{error}"
    );
    assert_eq!(std::fs::read(&strange).unwrap(), before);

    let error = Book::open_or_create(folder.path()).unwrap_err();
    assert!(error.to_string().contains("a folder"), "{error}");
}

#[test]
fn an_empty_file_becomes_a_book_only_where_one_may_be_created() {
    let (_folder, path) = place();
    std::fs::write(&path, "").unwrap();
    assert!(matches!(
        told(&path, Book::open(&path).unwrap_err()),
        Error::Empty { .. }
    ));
    assert_eq!(path.metadata().unwrap().len(), 0);
    Book::open_or_create(&path).unwrap();
    Book::open(&path).unwrap();
}

#[test]
fn a_newer_schema_is_refused_with_both_versions() {
    let (_folder, path, book) = filled();
    drop(book);
    Connection::open(&path)
        .unwrap()
        .execute_batch("PRAGMA user_version = 7")
        .unwrap();
    let error = told(&path, Book::open(&path).unwrap_err());
    assert!(matches!(
        error,
        Error::NewerSchema {
            found: 7,
            ours: SCHEMA,
            ..
        }
    ));
    let text = error.to_string();
    assert!(
        text.contains("schema 7") && text.contains(&format!("schema {SCHEMA}")),
        "{text}"
    );
}

#[test]
fn a_locked_book_says_so() {
    let (_folder, path, mut book) = filled();
    let other = Connection::open(&path).unwrap();
    other.execute_batch("BEGIN EXCLUSIVE").unwrap();
    let error = told(&path, book.find(&finding(402)).unwrap_err());
    assert!(matches!(error, Error::Locked { .. }), "{error}");
    other.execute_batch("ROLLBACK").unwrap();
    book.find(&finding(402)).unwrap();
}

#[test]
fn a_book_opened_for_reading_is_not_written() {
    let (_folder, path, book) = filled();
    drop(book);
    let mut book = Book::open_read_only(&path).unwrap();
    let error = told(&path, book.find(&finding(402)).unwrap_err());
    assert!(matches!(error, Error::ReadOnly { .. }), "{error}");
    assert_eq!(book.visit(uuid(VISIT)).unwrap().findings.len(), 1);
}

#[test]
fn a_page_of_nonsense_is_found_and_named_as_damage() {
    let (_folder, path, book) = filled();
    drop(book);
    let mut bytes = std::fs::read(&path).unwrap();
    let page = bytes.len() / 4096 / 2 * 4096;
    bytes[page..page + 4096].fill(0x5a);
    std::fs::write(&path, bytes).unwrap();
    match Book::open(&path).and_then(|book| book.check()) {
        Ok(seen) => assert!(!seen.sound(), "{seen:?}"),
        Err(error) => assert!(matches!(told(&path, error), Error::Damaged { .. })),
    }
}

/// Rows changed behind the triggers' back: each is found by the check that guards it.
#[test]
fn changed_bytes_are_found_by_looking() {
    for (table, change, guard) in [
        (
            "chunk",
            "frames = x'030074776f' WHERE number = 1",
            "chunk 1",
        ),
        ("chunk", "boot = 8 WHERE number = 0", "chunk 0"),
        (
            "recorded",
            "content = replace(content, '9801', '9901')",
            "visit",
        ),
        ("limits", "text = 'schema = 2'", "limits"),
        (
            "revision",
            "parents = '[\"01900000-0000-7000-8000-000000000fff\"]' WHERE kind = 'gauge'",
            "gauge",
        ),
    ] {
        let (_folder, path, mut book) = filled();
        book.finish(uuid(VISIT), uuid(701), &stamp(70)).unwrap();
        assert!(book.check().unwrap().sound());
        drop(book);
        let db = Connection::open(&path).unwrap();
        let trigger: String = db
            .query_row(
                "SELECT sql FROM sqlite_schema WHERE name = ?1",
                [format!("{table}_never_updated")],
                |r| r.get(0),
            )
            .unwrap();
        let changes =
            format!("DROP TRIGGER {table}_never_updated; UPDATE {table} SET {change}; {trigger};");
        db.execute_batch(&changes).unwrap();
        drop(db);
        let seen = Book::open(&path).unwrap().check().unwrap();
        assert!(
            seen.damage
                .iter()
                .any(|trouble| trouble.place.starts_with(guard)),
            "{change}: {seen:?}"
        );
    }
}

#[test]
fn a_missing_trigger_is_found_by_looking() {
    let (_folder, path, book) = filled();
    drop(book);
    Connection::open(&path)
        .unwrap()
        .execute_batch("DROP TRIGGER note_never_deleted")
        .unwrap();
    let seen = Book::open(&path).unwrap().check().unwrap();
    assert_eq!(seen.damage[0].place, "schema: note_never_deleted");
}
