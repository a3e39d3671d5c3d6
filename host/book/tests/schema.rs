//! An older book is read as it is, raised with its first row, whole or not at all, and every paper still holds.

#![allow(clippy::unwrap_used)]

mod common;

use common::*;
use holdtrue_book::*;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

const DIGEST: &str = "1-08a3a848be5a05533b3e9bf764c362e1060c254647e40ae2494fce7dc5ebde73";

/// A book as a program of schema 1 left it.
fn old() -> (TempDir, PathBuf) {
    let (folder, path) = place();
    std::fs::copy("tests/golden/schema-1.holdtrue", &path).unwrap();
    (folder, path)
}

fn schema_of(path: &Path) -> i64 {
    Book::open_read_only(path).unwrap().schema().unwrap()
}

fn holds(book: &Book) {
    book.verify(uuid(VISIT), &DIGEST.parse().unwrap()).unwrap();
    let seen = book.check().unwrap();
    assert!(seen.sound(), "{seen:?}");
    assert_eq!((seen.digests_good, seen.chains_good), (1, 2));
}

#[test]
fn reading_an_old_book_changes_no_byte_of_it() {
    let (_folder, path) = old();
    let before = std::fs::read(&path).unwrap();
    for book in [
        Book::open_read_only(&path).unwrap(),
        Book::open(&path).unwrap(),
        Book::open_or_create(&path).unwrap(),
    ] {
        holds(&book);
        assert_eq!(book.gauge_checks(uuid(GAUGE)).unwrap(), []);
        assert_eq!(book.knob_changes(uuid(GAUGE)).unwrap(), []);
        assert_eq!(book.clamps_of(uuid(GAUGE), None).unwrap(), 2);
        assert_eq!(book.schema().unwrap(), 1);
    }
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[test]
fn the_first_row_raises_an_old_book_and_its_paper_still_holds() {
    let alias = Alias {
        id: uuid(800),
        kind: Kind::Gauge,
        entity: uuid(GAUGE),
        same_as: uuid(801),
        stamp: stamp(90),
    };
    let writes: [fn(&mut Book, &Alias) -> Result<()>; 3] = [
        |book, _| book.keep_gauge_check(&gauge_check(901, 80)),
        |book, _| book.change_knob(&knob_change(902, 81)),
        |book, alias| book.alias(alias),
    ];
    for write in writes {
        let (_folder, path) = old();
        let mut book = Book::open(&path).unwrap();
        write(&mut book, &alias).unwrap();
        assert_eq!(book.schema().unwrap(), SCHEMA);
        holds(&book);
        // A copy open since before sees the new rows, and goes on.
        drop(book);
        holds(&Book::open_read_only(&path).unwrap());
    }
}

/// Each thing schema 3 brought, written first.
#[test]
fn any_new_row_raises_a_book_of_schema_1_or_2() {
    let writes: [fn(&mut Book) -> Result<()>; 4] = [
        |book| book.remark(&strike(1001, 202)),
        |book| book.keep_event(&event(1003)),
        |book| book.keep_file(PHOTO).map(|_| ()),
        |book| book.start_check(&calibrating()),
    ];
    for golden in ["schema-1", "schema-2"] {
        for write in writes {
            let (_folder, path) = place();
            std::fs::copy(format!("tests/golden/{golden}.holdtrue"), &path).unwrap();
            // A copy that is open meanwhile reads on.
            let open = Book::open_read_only(&path).unwrap();
            assert_eq!(open.visit(uuid(VISIT)).unwrap().remarks, []);
            let mut book = Book::open(&path).unwrap();
            write(&mut book).unwrap();
            assert_eq!(book.schema().unwrap(), 3);
            holds(&book);
            holds(&open);
            holds(&Book::open_read_only(&path).unwrap());
        }
    }
}

/// A raise that is broken off leaves the loosened rule behind nowhere.
#[test]
fn a_calibration_that_is_broken_off_leaves_an_old_book_as_it_was() {
    let (_folder, path) = old();
    let mut book = Book::open(&path).unwrap();
    let broken_off: Result<()> = book.together(|book| {
        book.start_check(&calibrating())?;
        book.keep_gauge_check(&GaugeCheck {
            gauge: uuid(77),
            ..gauge_check(901, 80)
        })
    });
    broken_off.unwrap_err();
    assert_eq!(book.schema().unwrap(), 1);
    holds(&book);
    book.start_check(&calibrating()).unwrap();
    holds(&book);
    let begun = book.check_start(calibrating().id).unwrap();
    assert_eq!(begun, calibrating());
}

#[test]
fn only_a_calibration_goes_without_a_visit() {
    let (_folder, _path, mut book) = filled();
    let homeless = CheckStart {
        kind: CheckKind::Grip,
        ..calibrating()
    };
    let refused = book.start_check(&homeless).unwrap_err();
    assert!(
        matches!(refused, Error::Refused { field: "visit", .. }),
        "{refused}"
    );
}

#[test]
fn a_first_row_that_is_refused_leaves_an_old_book_as_it_was() {
    let (_folder, path) = old();
    let mut book = Book::open(&path).unwrap();
    let nobody = GaugeCheck {
        gauge: uuid(77),
        ..gauge_check(901, 80)
    };
    assert!(matches!(
        book.keep_gauge_check(&nobody),
        Err(Error::Unknown { .. })
    ));
    let broken_off: Result<()> = book.together(|book| {
        book.keep_gauge_check(&gauge_check(901, 80))?;
        assert_eq!(book.schema()?, SCHEMA);
        book.keep_gauge_check(&nobody)
    });
    broken_off.unwrap_err();
    assert_eq!(book.schema().unwrap(), 1);
    holds(&book);
    book.keep_gauge_check(&gauge_check(901, 80)).unwrap();
    assert_eq!(
        book.gauge_checks(uuid(GAUGE)).unwrap(),
        [gauge_check(901, 80)]
    );
}

#[test]
fn a_row_that_is_there_already_raises_nothing() {
    let (_folder, path) = old();
    let mut book = Book::open(&path).unwrap();
    let record = book.calibration(uuid(CALIBRATION)).unwrap().unwrap();
    assert!(!book.import_calibration(&record).unwrap());
    assert_eq!(schema_of(&path), 1);
}

#[test]
fn two_programs_may_raise_one_book() {
    let (_folder, path) = old();
    let (mut one, mut two) = (Book::open(&path).unwrap(), Book::open(&path).unwrap());
    one.keep_gauge_check(&gauge_check(901, 80)).unwrap();
    two.keep_gauge_check(&gauge_check(903, 82)).unwrap();
    one.change_knob(&knob_change(902, 81)).unwrap();
    assert_eq!(two.gauge_checks(uuid(GAUGE)).unwrap().len(), 2);
    assert_eq!(two.knob_changes(uuid(GAUGE)).unwrap().len(), 1);
    holds(&two);
}

#[test]
fn old_and_new_books_merge_both_ways() {
    let (_one, older) = old();
    let (_two, newer) = old();
    let mut book = Book::open(&newer).unwrap();
    book.keep_gauge_check(&gauge_check(901, 80)).unwrap();
    assert_eq!(book.merge_from(&older).unwrap(), Merged::default());
    drop(book);
    assert_eq!(schema_of(&older), 1);
    let mut book = Book::open(&older).unwrap();
    let merged = book.merge_from(&newer).unwrap();
    assert_eq!(merged.added, [("gauge_check", 1)]);
    assert_eq!(
        book.gauge_checks(uuid(GAUGE)).unwrap(),
        [gauge_check(901, 80)]
    );
    holds(&book);
}

#[test]
fn the_history_of_a_gauge_is_in_order_of_time_over_all_its_entries() {
    let (_folder, _path, mut book) = filled();
    let other = |serial: &str| GaugeHeader {
        serial: serial.into(),
        what: "force-gauge".into(),
        ..GaugeHeader::default()
    };
    // One said to be the same, one of the same serial number, and one that is another gauge.
    for (id, entity, serial) in [
        (104, 22, "0042"),
        (105, 23, "TP-0042"),
        (106, 24, "TP-0043"),
    ] {
        book.revise(&revision(id, entity, &[], other(serial), 2))
            .unwrap();
    }
    book.alias(&Alias {
        id: uuid(800),
        kind: Kind::Gauge,
        entity: uuid(GAUGE),
        same_as: uuid(22),
        stamp: stamp(3),
    })
    .unwrap();
    // Another offset: 08:01:25 in UTC, before 09:01:30+01:00.
    let elsewhere = GaugeCheck {
        gauge: uuid(22),
        stamp: Stamp::new("Technician B", "2026-03-04T08:01:25Z"),
        ..gauge_check(911, 0)
    };
    let twin = GaugeCheck {
        gauge: uuid(23),
        ..gauge_check(912, 80)
    };
    let stranger = GaugeCheck {
        gauge: uuid(24),
        ..gauge_check(913, 81)
    };
    for check in [&gauge_check(910, 90), &elsewhere, &twin, &stranger] {
        book.keep_gauge_check(check).unwrap();
    }
    let ids = |book: &Book| -> Vec<_> {
        let checks = book.gauge_checks(uuid(22)).unwrap();
        checks.into_iter().map(|check| check.id).collect()
    };
    assert_eq!(ids(&book), [uuid(912), uuid(911), uuid(910)]);
    book.bury(&Tombstone {
        id: uuid(920),
        target: uuid(911),
        reason: "the wrong gauge was plugged in".into(),
        stamp: stamp(99),
    })
    .unwrap();
    assert_eq!(ids(&book), [uuid(912), uuid(910)]);
}

/// The two clamps of the visit were recorded at seconds 21 and 22.
#[test]
fn a_knob_has_seen_the_clamps_after_it_was_changed_and_no_others() {
    let (_folder, _path, book) = filled();
    let seen = |after: Option<&str>| book.clamps_of(uuid(GAUGE), after).unwrap();
    assert_eq!(seen(None), 2);
    assert_eq!(seen(Some(&at(20))), 2);
    assert_eq!(seen(Some(&at(21))), 1);
    assert_eq!(seen(Some("2026-03-04T08:00:21Z")), 1);
    assert_eq!(seen(Some(&at(22))), 0);
    assert_eq!(book.clamps_of(uuid(77), None).unwrap(), 0);
}

#[test]
fn what_the_cable_did_is_told_check_by_check() {
    let (_folder, _path, mut book) = filled();
    assert_eq!(book.check().unwrap().cable, []);
    let again = CheckStart {
        id: uuid(44),
        ..book.check_start(uuid(CHECK)).unwrap()
    };
    book.start_check(&again).unwrap();
    let second = Capture {
        id: uuid(45),
        check: uuid(44),
        ..capture()
    };
    book.begin_capture(&second).unwrap();
    for facts in [
        None,
        Some(r#"{"damaged_frames":2,"over_long_frames":1}"#),
        Some(r#"{"damaged_frames":1,"more":"unknown"}"#),
    ] {
        let chunk = Chunk {
            facts: facts.map(|text| Json::from_text(text).unwrap()),
            ..chunk(30, &[b"frame"])
        };
        book.append_chunk(second.id, &chunk).unwrap();
    }
    let seen = book.check().unwrap();
    assert!(seen.sound());
    assert_eq!(
        seen.cable,
        [CableDamage {
            check: uuid(44),
            kind: CheckKind::Grip,
            at: at(10),
            damaged_frames: 3,
            over_long_frames: 1,
        }]
    );
}
