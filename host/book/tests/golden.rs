//! Books of each schema as they were written when that schema was new. They are never written again: if this test
//! fails, old books would no longer be read, or their papers no longer hold.

#![allow(clippy::unwrap_used)]

mod common;

use common::*;
use holdtrue_book::*;

const GOLDEN: [&str; 2] = [
    "tests/golden/schema-1.holdtrue",
    "tests/golden/schema-2.holdtrue",
];
/// Of the visit in both: what schema 2 added belongs to no visit.
const DIGEST: &str = "1-08a3a848be5a05533b3e9bf764c362e1060c254647e40ae2494fce7dc5ebde73";

#[test]
fn the_books_of_all_schemas_are_read_and_their_paper_holds() {
    for golden in GOLDEN {
        let (_folder, path) = place();
        std::fs::copy(golden, &path).unwrap();
        let book = Book::open(&path).unwrap();
        let seen = book.check().unwrap();
        assert!(seen.sound() && seen.conflicts.is_empty(), "{seen:?}");
        assert_eq!((seen.digests_good, seen.chains_good), (1, 2));
        book.verify(uuid(VISIT), &DIGEST.parse().unwrap()).unwrap();
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

/// The same rows written today give the digest of then.
#[test]
fn the_same_rows_still_give_the_same_digest() {
    let (_folder, path) = place();
    assert_eq!(write(&path).to_string(), DIGEST);
}

/// Every table has a row in it.
fn write(path: &std::path::Path) -> Digest {
    let mut book = Book::open_or_create(path).unwrap();
    fill(&mut book);
    let second = CheckStart {
        id: uuid(41),
        visit: uuid(VISIT),
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
