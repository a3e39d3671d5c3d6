//! A write that was cut off: every way of opening the book puts it right, and nothing else is rolled back into it.

#![allow(clippy::unwrap_used)]

mod common;

use common::*;
use holdtrue_book::*;
use rusqlite::Connection;
use std::path::{Path, PathBuf};

/// Every way of opening.
const WAYS: [fn(&Path) -> Result<Book>; 3] = [
    |path| Book::open_read_only(path),
    |path| Book::open(path),
    |path| Book::open_or_create(path),
];

/// The book and its journal as a kill in the middle of a large write leaves them: pages are on the disk already.
fn cut_off(path: &Path, copy: &Path) {
    let db = Connection::open(path).unwrap();
    db.execute_batch("PRAGMA cache_size = 4; BEGIN IMMEDIATE")
        .unwrap();
    for number in 0..40 {
        let sql = "INSERT INTO note SELECT ?1, visit, NULL, ?2, author, at FROM note LIMIT 1";
        db.execute(sql, (format!("{number:036}"), "x".repeat(3000)))
            .unwrap();
    }
    std::fs::copy(path, copy).unwrap();
    std::fs::copy(journal(path), journal(copy)).unwrap();
}

fn journal(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push("-journal");
    name.into()
}

/// A finished visit, and the same book cut off in its next write.
fn finished_and_cut_off() -> (tempfile::TempDir, PathBuf, PathBuf, Digest) {
    let (folder, path, mut book) = filled();
    let digest = book.finish(uuid(VISIT), uuid(701), &stamp(70)).unwrap();
    drop(book);
    let cut = folder.path().join("cut.holdtrue");
    cut_off(&path, &cut);
    assert_ne!(
        std::fs::read(&path).unwrap(),
        std::fs::read(&cut).unwrap(),
        "the file is half written"
    );
    (folder, path, cut, digest)
}

#[test]
fn every_way_of_opening_rolls_a_cut_off_write_back() {
    for open in WAYS {
        let (_folder, whole, cut, digest) = finished_and_cut_off();
        let book = open(&cut).unwrap();
        assert!(book.check().unwrap().sound());
        assert_eq!(book.digest(uuid(VISIT)).unwrap(), digest);
        drop(book);
        assert!(!journal(&cut).exists(), "one file at rest");
        assert_eq!(std::fs::read(&cut).unwrap(), std::fs::read(&whole).unwrap());
    }
}

#[test]
fn another_book_that_was_cut_off_is_merged_as_it_was_before() {
    let (folder, _whole, cut, digest) = finished_and_cut_off();
    let mut book = Book::open_or_create(folder.path().join("fresh.holdtrue")).unwrap();
    book.merge_from(&cut).unwrap();
    assert_eq!(book.digest(uuid(VISIT)).unwrap(), digest);
    assert_eq!(book.visit(uuid(VISIT)).unwrap().notes.len(), 1);
}

#[test]
fn a_journal_with_nothing_to_roll_back_changes_nothing() {
    for spoil in [
        (|bytes| bytes[..28].fill(0)) as fn(&mut Vec<u8>),
        |bytes| bytes.truncate(0),
        |bytes| bytes.truncate(5),
    ] {
        let (folder, whole, cut, digest) = finished_and_cut_off();
        let other = folder.path().join("other.holdtrue");
        std::fs::copy(&whole, &other).unwrap();
        let mut bytes = std::fs::read(journal(&cut)).unwrap();
        spoil(&mut bytes);
        std::fs::write(journal(&other), bytes).unwrap();
        let book = Book::open_read_only(&other).unwrap();
        assert_eq!(book.digest(uuid(VISIT)).unwrap(), digest);
        drop(book);
        let mut book = Book::open(&other).unwrap();
        book.revise(&revision(900, 30, &[], centre_1(), 3)).unwrap();
        drop(book);
        assert!(!journal(&other).exists());
    }
}

#[test]
fn a_backup_put_beside_the_journal_of_another_state_is_not_rolled_back() {
    let (folder, whole, cut, _) = finished_and_cut_off();
    // The book went on for two writes after the journal was made: a backup, or another book.
    let other = folder.path().join("other.holdtrue");
    std::fs::copy(&whole, &other).unwrap();
    let mut book = Book::open(&other).unwrap();
    for number in [900, 901] {
        book.revise(&revision(number, number, &[], centre_1(), 3))
            .unwrap();
    }
    drop(book);
    std::fs::copy(journal(&cut), journal(&other)).unwrap();
    let before = std::fs::read(&other).unwrap();
    for open in WAYS {
        let error = open(&other).unwrap_err();
        assert!(matches!(error, Error::StrangeJournal { .. }), "{error}");
        assert_eq!(std::fs::read(&other).unwrap(), before);
        assert!(journal(&other).exists());
    }
    std::fs::remove_file(journal(&other)).unwrap();
    assert!(Book::open(&other).unwrap().check().unwrap().sound());
}

/// The tables of a book on their way into a file, cut off when some are on the disk.
fn cut_off_in_creation(folder: &Path) -> PathBuf {
    let (_pattern_folder, pattern, book) = filled();
    drop(book);
    let tables: Vec<String> = Connection::open(pattern)
        .unwrap()
        .prepare("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY rowid")
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .collect::<std::result::Result<_, _>>()
        .unwrap();
    let (begun, cut) = (folder.join("begun.holdtrue"), folder.join("cut.holdtrue"));
    let db = Connection::open(&begun).unwrap();
    db.execute_batch("PRAGMA cache_size = 2; BEGIN IMMEDIATE; PRAGMA application_id = 0x48645472;")
        .unwrap();
    db.execute_batch(&tables.join(";\n")).unwrap();
    std::fs::copy(&begun, &cut).unwrap();
    std::fs::copy(journal(&begun), journal(&cut)).unwrap();
    assert!(cut.metadata().unwrap().len() > 0, "half created");
    cut
}

#[test]
fn a_kill_while_the_book_is_created_is_made_good_by_the_next_opening() {
    for open in WAYS {
        let (folder, _path) = place();
        let cut = cut_off_in_creation(folder.path());
        let book = open(&cut).unwrap();
        assert!(book.check().unwrap().sound());
        drop(book);
        assert!(!journal(&cut).exists());
        fill(&mut Book::open(&cut).unwrap());
    }
}

#[test]
fn the_journal_of_a_creation_does_not_empty_a_book_that_is_whole() {
    let (folder, path, book) = filled();
    drop(book);
    let cut = cut_off_in_creation(folder.path());
    std::fs::copy(journal(&cut), journal(&path)).unwrap();
    let error = Book::open_read_only(&path).unwrap_err();
    assert!(matches!(error, Error::StrangeJournal { .. }), "{error}");
    std::fs::remove_file(journal(&path)).unwrap();
    assert_eq!(
        Book::open(&path)
            .unwrap()
            .list::<SpindleHeader>()
            .unwrap()
            .len(),
        1
    );
}

#[test]
fn another_programs_database_is_not_even_rolled_back() {
    let (folder, _path) = place();
    let (theirs, cut) = (
        folder.path().join("theirs.db"),
        folder.path().join("cut.db"),
    );
    let db = Connection::open(&theirs).unwrap();
    db.execute_batch("CREATE TABLE note (id, visit, check_id, text, author, at); INSERT INTO note VALUES (1, 2, 3, 4, 5, 6)")
        .unwrap();
    drop(db);
    cut_off(&theirs, &cut);
    let before = std::fs::read(&cut).unwrap();
    let error = Book::open_read_only(&cut).unwrap_err();
    assert!(matches!(error, Error::NotABook { .. }), "{error}");
    assert_eq!(std::fs::read(&cut).unwrap(), before);
    assert!(journal(&cut).exists());
}

/// Names that mean something to a URI or to the database, and a name that is not the file's own.
#[test]
fn any_name_is_only_a_name() {
    let (folder, path, book) = filled();
    drop(book);
    for name in [
        "yard a%20b?mode=ro#x.holdtrue",
        "Küste & Söhne/Büro 1.holdtrue",
        "file:yard.holdtrue",
    ] {
        let named = folder.path().join(name);
        std::fs::create_dir_all(named.parent().unwrap()).unwrap();
        std::fs::copy(&path, &named).unwrap();
        let cut = folder.path().join("cut.holdtrue");
        cut_off(&path, &cut);
        std::fs::rename(&cut, &named).unwrap();
        std::fs::rename(journal(&cut), journal(&named)).unwrap();
        let book = Book::open_read_only(&named).unwrap();
        assert_eq!(book.visit(uuid(VISIT)).unwrap().notes.len(), 1, "{name}");
        drop(book);
        assert!(!journal(&named).exists(), "{name}");
    }
}

#[cfg(unix)]
#[test]
fn a_book_behind_a_link_is_put_right_from_the_journal_beside_the_file() {
    let (folder, _whole, cut, digest) = finished_and_cut_off();
    let other = folder.path().join("elsewhere");
    std::fs::create_dir(&other).unwrap();
    let link = other.join("yard.holdtrue");
    std::os::unix::fs::symlink(&cut, &link).unwrap();
    let book = Book::open_read_only(&link).unwrap();
    assert_eq!(book.digest(uuid(VISIT)).unwrap(), digest);
    assert!(book.check().unwrap().sound());
    assert!(!journal(&cut).exists());
}

#[test]
fn a_book_that_another_tool_put_into_write_ahead_mode_is_read_and_put_back_by_writing() {
    let (_folder, path, book) = filled();
    drop(book);
    Connection::open(&path)
        .unwrap()
        .query_row("PRAGMA journal_mode = WAL", [], |_| Ok(()))
        .unwrap();
    assert!(
        Book::open_read_only(&path)
            .unwrap()
            .check()
            .unwrap()
            .sound()
    );
    drop(Book::open(&path).unwrap());
    let mode: String = Connection::open(&path)
        .unwrap()
        .query_row("PRAGMA journal_mode", [], |row| row.get(0))
        .unwrap();
    assert_eq!(mode, "delete");
}
