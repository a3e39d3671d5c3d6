//! Books of each schema as they were written when that schema was new. They are never written again: if this test
//! fails, old books would no longer be read, or their papers no longer hold.

#![allow(clippy::unwrap_used)]

mod common;

use common::*;
use holdtrue_book::*;

const GOLDEN: [&str; 3] = [
    "tests/golden/schema-1.holdtrue",
    "tests/golden/schema-2.holdtrue",
    "tests/golden/schema-3.holdtrue",
];
/// Of the visit in the first two: what schema 2 added belongs to no visit.
const FORM_1: &str = "1-08a3a848be5a05533b3e9bf764c362e1060c254647e40ae2494fce7dc5ebde73";
/// Of the same visit with what schema 3 added.
const FORM_2: &str = "2-1e0ba8ac6fc8cd61fc6f4a59641acad748b23629bd8f6d18b9a4ded59afb74cd";
const DIGESTS: [&str; 3] = [FORM_1, FORM_1, FORM_2];

#[test]
fn the_books_of_all_schemas_are_read_and_their_paper_holds() {
    for (golden, digest) in GOLDEN.iter().zip(DIGESTS) {
        let (_folder, path) = place();
        std::fs::copy(golden, &path).unwrap();
        let book = Book::open(&path).unwrap();
        let seen = book.check().unwrap();
        assert!(seen.sound() && seen.conflicts.is_empty(), "{seen:?}");
        assert_eq!((seen.digests_good, seen.chains_good), (1, 2));
        book.verify(uuid(VISIT), &digest.parse().unwrap()).unwrap();
        assert_eq!(
            book.sealed(uuid(VISIT)).unwrap().unwrap().to_string(),
            digest
        );
        let visit = book.visit(uuid(VISIT)).unwrap();
        assert_eq!(visit.spindle.unwrap().header(), &centre_1());
        assert_eq!(visit.checks[0].recorded, [clamp(201, 1), clamp(202, 2)]);
        assert_eq!(visit.findings, [finding(401)]);
        assert_eq!(visit.amendments.len(), 1);
        assert_eq!(book.chunks(uuid(CAPTURE)).unwrap().len(), 2);
        assert_eq!(
            book.original(uuid(43)).unwrap().unwrap().bytes,
            b"time_s,force_n\n0,1\n"
        );
    }
}

#[test]
fn the_book_of_schema_2_has_the_history_of_its_gauge() {
    let (_folder, path) = place();
    std::fs::copy(GOLDEN[1], &path).unwrap();
    let book = Book::open_read_only(&path).unwrap();
    assert_eq!(book.schema().unwrap(), 2);
    assert_eq!(
        book.gauge_checks(uuid(GAUGE)).unwrap(),
        [gauge_check(901, 80)]
    );
    assert_eq!(
        book.knob_changes(uuid(GAUGE)).unwrap(),
        [knob_change(902, 21)]
    );
}

#[test]
fn the_book_of_schema_3_has_what_was_struck_corrected_attached_and_what_happened() {
    let (_folder, path) = place();
    std::fs::copy(GOLDEN[2], &path).unwrap();
    let book = Book::open_read_only(&path).unwrap();
    let visit = book.visit(uuid(VISIT)).unwrap();
    assert_eq!(visit.remarks, [strike(1001, 202), correction(1002)]);
    assert_eq!(Remark::struck(&visit.remarks), [uuid(202)].into());
    assert_eq!(visit.events, [event(1003)]);
    assert_eq!(visit.attachments, [attachment(1004, VISIT)]);
    let bytes = book.file(&visit.attachments[0].sha256).unwrap();
    assert_eq!(bytes.as_deref(), Some(PHOTO));
    let press = book.check_start(calibrating().id).unwrap();
    assert_eq!(press, calibrating());
    assert_eq!(
        book.results(press.id).unwrap()[0].calibration,
        Some(uuid(CALIBRATION))
    );
}

/// The same rows written today give the digest of then.
#[test]
fn the_same_rows_still_give_the_same_digest() {
    let (_folder, path) = place();
    assert_eq!(write(&path).to_string(), FORM_2);
}

/// Every table has a row in it.
fn write(path: &std::path::Path) -> Digest {
    let mut book = Book::open_or_create(path).unwrap();
    fill(&mut book);
    let second = CheckStart {
        id: uuid(41),
        visit: Some(uuid(VISIT)),
        kind: CheckKind::Runout,
        state: None,
        gauge: None,
        calibration: None,
        limits_sha256: None,
        content: Json::empty(),
        stamp: stamp(62),
    };
    book.start_check(&second).unwrap();
    let import = Capture {
        id: uuid(43),
        check: second.id,
        source: Source::File,
        ..capture()
    };
    book.begin_capture(&import).unwrap();
    let file = Original {
        name: "bar.csv".into(),
        bytes: b"time_s,force_n\n0,1\n".to_vec(),
    };
    book.keep_original(import.id, &file).unwrap();
    let alias = Alias {
        id: uuid(9),
        kind: Kind::Spindle,
        entity: uuid(SPINDLE),
        same_as: uuid(90),
        stamp: stamp(63),
    };
    book.alias(&alias).unwrap();
    book.find(&Finding {
        text: "double".into(),
        ..finding(402)
    })
    .unwrap();
    let grave = Tombstone {
        id: uuid(10),
        target: uuid(402),
        reason: "written twice".into(),
        stamp: stamp(64),
    };
    book.bury(&grave).unwrap();
    schema_3(&mut book);
    let digest = book.finish(uuid(VISIT), uuid(701), &stamp(70)).unwrap();
    let amendment = Amendment {
        id: uuid(12),
        visit: uuid(VISIT),
        reason: "hall temperature was 24 °C".into(),
        content: Json::empty(),
        stamp: stamp(73),
    };
    book.amend(&amendment).unwrap();
    book.keep_gauge_check(&gauge_check(901, 80)).unwrap();
    book.change_knob(&knob_change(902, 21)).unwrap();
    digest
}

/// Writes the golden book of a *new* schema once; an old one is never replaced.
#[test]
#[ignore = "only for a new schema"]
fn write_golden() {
    let newest = GOLDEN[GOLDEN.len() - 1];
    let path = std::path::Path::new(newest);
    assert!(!path.exists(), "{newest} exists and is never replaced");
    println!("{}", write(path));
}
