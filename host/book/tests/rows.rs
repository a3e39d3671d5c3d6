//! What goes into a book comes out of it, and never changes.

#![allow(clippy::unwrap_used)]

mod common;

use common::*;
use holdtrue_book::*;
use holdtrue_terms::vocabulary::State;
use rusqlite::Connection;

#[test]
fn what_is_written_comes_back() {
    let (_folder, path, book) = filled();
    drop(book);
    let book = Book::open_read_only(&path).unwrap();
    let visit = book.visit(uuid(VISIT)).unwrap();
    assert_eq!(visit.spindle.unwrap().header(), &centre_1());
    assert_eq!(visit.gauges[0].header().serial, "TP-0042");
    let [check] = visit.checks.as_slice() else {
        panic!("one check")
    };
    assert_eq!(check.recorded, [clamp(201, 1), clamp(202, 2)]);
    assert_eq!(check.results, [result(301)]);
    assert_eq!(check.captures, [capture()]);
    assert_eq!(
        book.chunks(uuid(CAPTURE)).unwrap(),
        [chunk(12, &[b"one", b"two"]), chunk(13, &[b"three"])]
    );
    assert_eq!(visit.findings, [finding(401)]);
    assert_eq!(visit.acknowledgements[0].how, How::ByFlag);
    assert_eq!(visit.notes[0].text, "warm hall");
    let limits = check.start.limits_sha256.as_deref().unwrap();
    assert_eq!(
        book.limits(limits).unwrap().as_deref(),
        Some("schema = 1\n")
    );
}

#[test]
fn a_file_at_rest_is_one_file() {
    let (folder, _path, book) = filled();
    drop(book);
    let names: Vec<_> = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert_eq!(names, ["yard.holdtrue"]);
}

/// Every statement that could change or remove a row, tried on every table by another program.
#[test]
fn no_row_can_be_changed_removed_or_replaced() {
    let (_folder, path, mut book) = filled();
    let file = Original {
        name: "clamps.csv".into(),
        bytes: b"time_s,force_n\n".to_vec(),
    };
    let (second, third) = (uuid(7), uuid(8));
    book.start_check(&CheckStart {
        id: second,
        ..start(&mut book_copy(&path))
    })
    .unwrap();
    book.begin_capture(&Capture {
        id: third,
        check: second,
        source: Source::File,
        ..capture()
    })
    .unwrap();
    book.keep_original(third, &file).unwrap();
    let alias = Alias {
        id: uuid(9),
        kind: Kind::Spindle,
        entity: uuid(SPINDLE),
        same_as: uuid(90),
        stamp: stamp(70),
    };
    book.alias(&alias).unwrap();
    let grave = Tombstone {
        id: uuid(10),
        target: uuid(401),
        reason: "wrong machine".into(),
        stamp: stamp(71),
    };
    book.bury(&grave).unwrap();
    schema_3(&mut book);
    book.finish(uuid(VISIT), uuid(11), &stamp(72)).unwrap();
    let amendment = Amendment {
        id: uuid(12),
        visit: uuid(VISIT),
        reason: "hall temperature was 24 °C".into(),
        content: Json::empty(),
        stamp: stamp(73),
    };
    book.amend(&amendment).unwrap();
    book.keep_gauge_check(&gauge_check(901, 80)).unwrap();
    book.change_knob(&knob_change(902, 81)).unwrap();
    drop(book);

    let db = Connection::open(&path).unwrap();
    let sql = "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name";
    let tables: Vec<String> = db
        .prepare(sql)
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(std::result::Result::unwrap)
        .collect();
    assert_eq!(tables.len(), 22);
    for table in tables {
        let count = |db: &Connection| -> i64 {
            db.query_row(&format!("SELECT count(*) FROM {table}"), [], |row| {
                row.get(0)
            })
            .unwrap()
        };
        let before = count(&db);
        assert!(before > 0, "{table} has no row to try on");
        let column: String = db
            .query_row(
                &format!("SELECT name FROM pragma_table_info('{table}')"),
                [],
                |row| row.get(0),
            )
            .unwrap();
        for attempt in [
            format!("UPDATE {table} SET {column} = {column}"),
            format!("DELETE FROM {table}"),
            format!("INSERT OR REPLACE INTO {table} SELECT * FROM {table}"),
        ] {
            let refusal = db.execute_batch(&attempt).expect_err(&attempt).to_string();
            assert!(
                refusal.contains("a row of this book is never"),
                "{attempt}: {refusal}"
            );
        }
        assert_eq!(count(&db), before);
    }
}

fn book_copy(path: &std::path::Path) -> Book {
    Book::open(path).unwrap()
}

#[test]
fn two_heads_are_shown_and_resolved_by_a_revision_with_both_as_parents() {
    let (_folder, _path, mut book) = filled();
    let named = |name: &str| SpindleHeader {
        name: name.into(),
        ..centre_1()
    };
    book.revise(&revision(111, SPINDLE, &[101], named("Centre 1 A"), 30))
        .unwrap();
    book.revise(&revision(112, SPINDLE, &[101], named("Centre 1 B"), 20))
        .unwrap();
    let torn = book.get::<SpindleHeader>(uuid(SPINDLE)).unwrap();
    assert!(torn.conflict());
    // The latest by time is shown first, whatever its identifier.
    assert_eq!(torn.header().name, "Centre 1 A");
    let seen = book.check().unwrap();
    assert!(seen.sound());
    assert!(seen.conflicts[0].found.contains("2 versions"), "{seen:?}");

    let settled = Revision {
        parents: torn.parents(),
        ..revision(113, SPINDLE, &[], named("Centre 1"), 40)
    };
    book.revise(&settled).unwrap();
    let whole = book.get::<SpindleHeader>(uuid(SPINDLE)).unwrap();
    assert_eq!(whole.heads, [settled]);
    assert!(book.check().unwrap().conflicts.is_empty());
    assert_eq!(
        book.history::<SpindleHeader>(uuid(SPINDLE)).unwrap().len(),
        4
    );
}

#[test]
fn a_revision_needs_the_parents_it_names() {
    let (_folder, _path, mut book) = filled();
    let stranger = book
        .revise(&revision(111, SPINDLE, &[999], centre_1(), 30))
        .unwrap_err();
    assert!(matches!(stranger, Error::Unknown { .. }), "{stranger}");
    let orphan = book
        .revise(&revision(111, SPINDLE, &[], centre_1(), 30))
        .unwrap_err();
    assert!(
        matches!(
            orphan,
            Error::Refused {
                field: "parents",
                ..
            }
        ),
        "{orphan}"
    );
    // The parent of another entity is no parent.
    let foreign = book
        .revise(&revision(111, SPINDLE, &[102], centre_1(), 30))
        .unwrap_err();
    assert!(matches!(foreign, Error::Unknown { .. }), "{foreign}");
}

#[test]
fn a_field_of_a_newer_program_survives_an_edit() {
    let (_folder, _path, mut book) = filled();
    let mut header = centre_1();
    header.more.insert("belt_tension_hz".into(), 61.into());
    book.revise(&revision(111, SPINDLE, &[101], header.clone(), 30))
        .unwrap();
    assert_eq!(
        book.get::<SpindleHeader>(uuid(SPINDLE)).unwrap().header(),
        &header
    );
}

#[test]
fn the_same_row_twice_is_no_news_and_other_bytes_are_refused() {
    let (_folder, _path, mut book) = filled();
    headers(&mut book);
    let known = Calibration {
        id: uuid(CALIBRATION),
        channel: "force".into(),
        format: "wire-1".into(),
        record: vec![1, 2, 3],
    };
    assert!(!book.import_calibration(&known).unwrap());
    let other = Calibration {
        record: vec![1, 2, 4],
        ..known
    };
    let refusal = book.import_calibration(&other).unwrap_err();
    assert!(
        matches!(
            refusal,
            Error::SameIdOtherBytes {
                table: "calibration",
                ..
            }
        ),
        "{refusal}"
    );
    let renamed = revision(
        101,
        SPINDLE,
        &[],
        SpindleHeader {
            name: "Centre 2".into(),
            ..centre_1()
        },
        0,
    );
    let refusal = book.revise(&renamed).unwrap_err();
    assert!(
        matches!(
            refusal,
            Error::SameIdOtherBytes {
                table: "revision",
                ..
            }
        ),
        "{refusal}"
    );
}

#[test]
fn an_unfinished_check_is_found_again_for_eight_hours() {
    let (_folder, path) = place();
    let mut book = Book::open_or_create(&path).unwrap();
    headers(&mut book);
    let started = start(&mut book);
    let open = |book: &Book, at: &str| {
        book.open_check(uuid(VISIT), CheckKind::Grip, Some(State::AsFound), at)
            .unwrap()
    };
    assert_eq!(
        open(&book, "2026-03-04T17:00:10+01:00"),
        Some(started.clone())
    );
    // The same moment told in another zone.
    assert_eq!(open(&book, "2026-03-04T16:00:10Z"), Some(started));
    assert_eq!(open(&book, "2026-03-04T17:00:11+01:00"), None);
    let as_left = book
        .open_check(uuid(VISIT), CheckKind::Grip, Some(State::AsLeft), &at(20))
        .unwrap();
    assert_eq!(as_left, None);
    book.end_check(&CheckResult {
        limits_sha256: None,
        ..result(301)
    })
    .unwrap();
    assert_eq!(open(&book, &at(61)), None);
    let late = book.record(&clamp(209, 9)).unwrap_err();
    assert!(
        matches!(late, Error::Refused { field: "check", .. }),
        "{late}"
    );
}

#[test]
fn a_finished_visit_takes_amendments_only() {
    let (_folder, _path, mut book) = filled();
    let early = Amendment {
        id: uuid(12),
        visit: uuid(VISIT),
        reason: "hall temperature was 24 °C".into(),
        content: Json::empty(),
        stamp: stamp(73),
    };
    assert!(matches!(
        book.amend(&early).unwrap_err(),
        Error::Refused { field: "visit", .. }
    ));
    let digest = book.finish(uuid(VISIT), uuid(701), &stamp(70)).unwrap();
    for refusal in [
        book.find(&finding(402)).unwrap_err(),
        book.finish(uuid(VISIT), uuid(702), &stamp(71)).unwrap_err(),
        book.start_check(&CheckStart {
            id: uuid(44),
            ..open_start()
        })
        .unwrap_err(),
        book.revise(&revision(113, VISIT, &[103], VisitHeader::default(), 72))
            .unwrap_err(),
    ] {
        assert!(matches!(refusal, Error::Finished { .. }), "{refusal}");
    }
    book.amend(&early).unwrap();
    assert_eq!(book.digest(uuid(VISIT)).unwrap(), digest);
    assert_eq!(book.visit(uuid(VISIT)).unwrap().amendments, [early]);
    assert!(book.open_visits().unwrap().is_empty());
}

fn open_start() -> CheckStart {
    CheckStart {
        id: uuid(CHECK),
        visit: Some(uuid(VISIT)),
        kind: CheckKind::Grip,
        state: None,
        gauge: None,
        calibration: None,
        limits_sha256: None,
        content: Json::empty(),
        stamp: stamp(10),
    }
}

#[test]
fn the_page_of_a_finished_visit_keeps_the_spindle_it_was_finished_with() {
    let (_folder, _path, mut book) = filled();
    let digest = book.finish(uuid(VISIT), uuid(701), &stamp(70)).unwrap();
    let renamed = SpindleHeader {
        name: "Centre 1 (moved)".into(),
        ..centre_1()
    };
    book.revise(&revision(111, SPINDLE, &[101], renamed, 80))
        .unwrap();
    assert_eq!(
        book.visit(uuid(VISIT))
            .unwrap()
            .spindle
            .unwrap()
            .header()
            .name,
        "Centre 1"
    );
    assert_eq!(book.digest(uuid(VISIT)).unwrap(), digest);
    assert!(book.check().unwrap().sound());
}

#[test]
fn aliases_join_the_visits_of_one_spindle_and_a_tombstone_parts_them() {
    let (_folder, _path, mut book) = filled();
    book.revise(&revision(121, 20, &[], centre_1(), 30))
        .unwrap();
    let alias = Alias {
        id: uuid(122),
        kind: Kind::Spindle,
        entity: uuid(20),
        same_as: uuid(SPINDLE),
        stamp: stamp(31),
    };
    book.alias(&alias).unwrap();
    assert_eq!(book.visits_of(uuid(20)).unwrap().len(), 1);
    let grave = Tombstone {
        id: uuid(123),
        target: alias.id,
        reason: "two machines".into(),
        stamp: stamp(32),
    };
    book.bury(&grave).unwrap();
    assert!(book.visits_of(uuid(20)).unwrap().is_empty());
    let back = Tombstone {
        id: uuid(124),
        target: grave.id,
        reason: "one after all".into(),
        stamp: stamp(33),
    };
    book.bury(&back).unwrap();
    assert_eq!(book.visits_of(uuid(20)).unwrap().len(), 1);
}

#[test]
fn an_imported_file_comes_back_byte_for_byte() {
    let (_folder, _path, mut book) = filled();
    let check = CheckStart {
        id: uuid(44),
        ..open_start()
    };
    book.start_check(&check).unwrap();
    for (number, bytes) in [
        vec![],
        b"\xef\xbb\xbftime_s;force_n\r\n".to_vec(),
        b"1,2\n".repeat(5000),
    ]
    .into_iter()
    .enumerate()
    {
        let capture = Capture {
            id: uuid(800 + number as u128),
            check: check.id,
            source: Source::File,
            ..capture()
        };
        book.begin_capture(&capture).unwrap();
        let original = Original {
            name: "a clamp.csv".into(),
            bytes,
        };
        book.keep_original(capture.id, &original).unwrap();
        assert_eq!(book.original(capture.id).unwrap(), Some(original));
    }
}

#[test]
fn a_time_without_offset_and_a_nameless_author_are_refused() {
    let (_folder, _path, mut book) = filled();
    for (stamp, field) in [
        (Stamp::new("Technician A", "2026-03-04T09:00:00"), "at"),
        (Stamp::new("Technician A", "2026-13-04T09:00:00Z"), "at"),
        (Stamp::new("Technician A", "now"), "at"),
        (Stamp::new(" ", "2026-03-04T09:00:00Z"), "author"),
    ] {
        let refusal = book
            .find(&Finding {
                stamp,
                ..finding(402)
            })
            .unwrap_err();
        assert!(
            matches!(&refusal, Error::Refused { field: named, .. } if *named == field),
            "{refusal}"
        );
    }
}

#[test]
fn several_writes_together_are_there_together_or_not_at_all() {
    let (_folder, path) = place();
    let mut book = Book::open_or_create(&path).unwrap();
    headers(&mut book);
    start(&mut book);
    book.begin_capture(&capture()).unwrap();
    let failed = book.together(|book| {
        book.append_chunk(uuid(CAPTURE), &chunk(12, &[b"one"]))?;
        book.record(&clamp(201, 1))?;
        book.record(&Recorded {
            check: uuid(999),
            ..clamp(202, 2)
        })
    });
    assert!(matches!(failed, Err(Error::Unknown { what: "check", .. })));
    assert!(book.chunks(uuid(CAPTURE)).unwrap().is_empty());
    assert!(book.recorded(uuid(CHECK)).unwrap().is_empty());
    book.record(&clamp(201, 1)).unwrap();
    assert_eq!(book.recorded(uuid(CHECK)).unwrap().len(), 1);
}
