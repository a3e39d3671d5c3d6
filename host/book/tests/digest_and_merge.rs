//! One visit, one digest; two copies, one union.

#![allow(clippy::unwrap_used)]

mod common;

use common::*;
use holdtrue_book::*;
use proptest::prelude::*;
use std::path::Path;

type Change = fn(&mut Book);
type Write = Box<dyn Fn(&mut Book)>;

fn copy(from: &Path, to: &str) -> std::path::PathBuf {
    let to = from.with_file_name(to);
    std::fs::copy(from, &to).unwrap();
    to
}

#[test]
fn the_digest_of_a_paper_is_verified() {
    let (_folder, _path, mut book) = filled();
    let digest = book.finish(uuid(VISIT), uuid(701), &stamp(70)).unwrap();
    book.verify(uuid(VISIT), &digest.to_string().parse().unwrap())
        .unwrap();
    let forged = Digest {
        sha256: digest.sha256.replace('a', "b"),
        ..digest
    };
    let error = book.verify(uuid(VISIT), &forged).unwrap_err();
    assert!(matches!(error, Error::DigestDiffers { .. }));
    assert!(error.to_string().contains(&forged.sha256));
}

#[test]
fn every_kind_of_row_moves_the_digest() {
    let (_folder, path, book) = filled();
    let before = book.digest(uuid(VISIT)).unwrap();
    drop(book);
    let changes: [(&str, Change); 11] = [
        ("struck clamp", |book| {
            book.remark(&strike(1001, 202)).unwrap()
        }),
        ("corrected finding", |book| {
            book.remark(&correction(1002)).unwrap()
        }),
        ("a strike lifted", |book| {
            book.remark(&strike(1001, 202)).unwrap();
            let struck = book.digest(uuid(VISIT)).unwrap();
            book.remark(&strike(1005, 1001)).unwrap();
            assert_ne!(book.digest(uuid(VISIT)).unwrap(), struck);
            let remarks = book.visit(uuid(VISIT)).unwrap().remarks;
            assert_eq!(Remark::struck(&remarks), [uuid(1001)].into());
        }),
        ("event", |book| book.keep_event(&event(1003)).unwrap()),
        ("photo of a finding", |book| {
            book.keep_file(PHOTO).unwrap();
            book.attach(&attachment(1004, 401)).unwrap();
        }),
        ("finding", |book| book.find(&finding(402)).unwrap()),
        ("withdrawn finding", |book| {
            let target = uuid(401);
            book.bury(&Tombstone {
                id: uuid(900),
                target,
                reason: "double".into(),
                stamp: stamp(80),
            })
            .unwrap();
        }),
        ("spindle header", |book| {
            let header = SpindleHeader {
                grip_nominal_n: Some(9_000.0),
                ..centre_1()
            };
            book.revise(&revision(111, SPINDLE, &[101], header, 80))
                .unwrap();
        }),
        ("gauge header", |book| {
            let header = GaugeHeader {
                serial: "TP-0043".into(),
                ..GaugeHeader::default()
            };
            book.revise(&revision(112, GAUGE, &[102], header, 80))
                .unwrap();
        }),
        ("note", |book| {
            let note = Note {
                id: uuid(502),
                visit: uuid(VISIT),
                check: None,
                text: "x".into(),
                stamp: stamp(80),
            };
            book.note(&note).unwrap();
        }),
        ("raw record", |book| {
            let id = uuid(41);
            let second = CheckStart {
                id,
                visit: Some(uuid(VISIT)),
                kind: CheckKind::Runout,
                state: None,
                gauge: None,
                calibration: None,
                limits_sha256: None,
                content: Json::empty(),
                stamp: stamp(80),
            };
            book.start_check(&second).unwrap();
            book.begin_capture(&Capture {
                id: uuid(42),
                check: id,
                ..capture()
            })
            .unwrap();
            let empty = book.digest(uuid(VISIT)).unwrap();
            book.append_chunk(uuid(42), &chunk(81, &[b"x"])).unwrap();
            assert_ne!(book.digest(uuid(VISIT)).unwrap(), empty);
        }),
    ];
    for (what, change) in changes {
        let mut book = Book::open(copy(&path, "changed.holdtrue")).unwrap();
        change(&mut book);
        assert_ne!(book.digest(uuid(VISIT)).unwrap(), before, "{what}");
        assert!(book.check().unwrap().sound(), "{what}");
    }
}

/// Form 2 knows who ended a visit, and when: form 1 did not.
#[test]
fn author_and_time_of_the_end_are_in_the_digest() {
    let (_folder, path, book) = filled();
    drop(book);
    let ends = [
        stamp(70),
        stamp(71),
        Stamp::new("Technician B", at(70)),
        Stamp::new("Technician A", "2026-03-04T08:01:10Z"),
    ];
    let digests = ends.map(|end| {
        let mut book = Book::open(copy(&path, "ended.holdtrue")).unwrap();
        book.finish(uuid(VISIT), uuid(701), &end)
            .unwrap()
            .to_string()
    });
    let different: std::collections::BTreeSet<_> = digests.iter().collect();
    assert_eq!(different.len(), 4, "{digests:?}");
    assert!(digests.iter().all(|digest| digest.starts_with("2-")));
}

/// What is said after the end is shown, and the paper holds.
#[test]
fn what_is_struck_or_attached_after_the_end_is_shown_as_later() {
    let (_folder, _path, mut book) = filled();
    let digest = book.finish(uuid(VISIT), uuid(701), &stamp(64)).unwrap();
    schema_3(&mut book);
    book.verify(uuid(VISIT), &digest).unwrap();
    let visit = book.visit(uuid(VISIT)).unwrap();
    assert!(visit.remarks.is_empty() && visit.attachments.is_empty() && visit.events.is_empty());
    let later: Vec<_> = visit
        .later
        .iter()
        .map(|row| (row.table, row.says.as_str()))
        .collect();
    let expected = [
        ("remark", "struck out: the bar touched the guard"),
        (
            "remark",
            "corrected, severity: \"soon\" should read \"later\": read again in daylight",
        ),
        ("attachment", "nose.jpg"),
    ];
    assert_eq!(later, expected);
    assert!(book.check().unwrap().sound());
}

#[test]
fn merging_is_a_union_in_any_order_and_again() {
    let (_folder, path, book) = filled();
    drop(book);
    let (left, right) = (copy(&path, "left.holdtrue"), copy(&path, "right.holdtrue"));
    let renamed = |name: &str| SpindleHeader {
        name: name.into(),
        ..centre_1()
    };
    let mut book = Book::open(&left).unwrap();
    book.revise(&revision(
        111,
        SPINDLE,
        &[101],
        renamed("Centre 1 left"),
        80,
    ))
    .unwrap();
    book.find(&finding(402)).unwrap();
    drop(book);
    let mut book = Book::open(&right).unwrap();
    book.revise(&revision(
        112,
        SPINDLE,
        &[101],
        renamed("Centre 1 right"),
        81,
    ))
    .unwrap();
    drop(book);

    let (both, other_way) = (
        copy(&left, "both.holdtrue"),
        copy(&right, "other_way.holdtrue"),
    );
    let mut both = Book::open(both).unwrap();
    assert_eq!(both.merge_from(&right).unwrap().added, [("revision", 1)]);
    assert_eq!(both.merge_from(&right).unwrap(), Merged::default());
    let mut other_way = Book::open(other_way).unwrap();
    assert_eq!(
        other_way.merge_from(&left).unwrap().added,
        [("revision", 1), ("finding", 1)]
    );
    for book in [&both, &other_way] {
        assert!(book.get::<SpindleHeader>(uuid(SPINDLE)).unwrap().conflict());
        assert!(book.check().unwrap().sound());
    }
    assert_eq!(
        both.digest(uuid(VISIT)).unwrap(),
        other_way.digest(uuid(VISIT)).unwrap()
    );
    assert_eq!(
        both.visit(uuid(VISIT)).unwrap(),
        other_way.visit(uuid(VISIT)).unwrap()
    );
}

#[test]
fn a_merge_into_an_empty_book_is_a_copy() {
    let (_folder, path, mut book) = filled();
    let digest = book.finish(uuid(VISIT), uuid(701), &stamp(70)).unwrap();
    let mut fresh = Book::open_or_create(path.with_file_name("fresh.holdtrue")).unwrap();
    fresh.merge_from(&path).unwrap();
    assert_eq!(fresh.digest(uuid(VISIT)).unwrap(), digest);
    assert_eq!(fresh.check().unwrap(), book.check().unwrap());
}

#[test]
fn a_finding_added_to_a_copy_does_not_get_into_a_finished_visit_unseen() {
    let (_folder, path, mut book) = filled();
    let open = copy(&path, "open.holdtrue");
    let digest = book.finish(uuid(VISIT), uuid(701), &stamp(70)).unwrap();
    Book::open(&open).unwrap().find(&finding(402)).unwrap();
    book.merge_from(&open).unwrap();
    assert_eq!(book.digest(uuid(VISIT)).unwrap(), digest);
    assert_eq!(book.visit(uuid(VISIT)).unwrap().findings, [finding(401)]);
    let seen = book.check().unwrap();
    assert!(seen.sound());
    assert!(
        seen.conflicts[0]
            .found
            .contains("1 rows its end does not cover"),
        "{seen:?}"
    );
}

#[test]
fn two_contents_under_one_identifier_stop_a_merge_and_nothing_is_taken_over() {
    let (_folder, path, mut book) = filled();
    let other = path.with_file_name("other.holdtrue");
    let mut forged = Book::open_or_create(&other).unwrap();
    forged
        .revise(&revision(900, 30, &[], centre_1(), 3))
        .unwrap();
    let record = Calibration {
        id: uuid(CALIBRATION),
        channel: "force".into(),
        format: "wire-1".into(),
        record: vec![9],
    };
    forged.import_calibration(&record).unwrap();
    let error = book.merge_from(&other).unwrap_err();
    assert!(
        matches!(
            error,
            Error::SameIdOtherBytes {
                table: "calibration",
                ..
            }
        ),
        "{error}"
    );
    assert_eq!(book.list::<SpindleHeader>().unwrap().len(), 1);
}

/// One write of a visit after its headers and its check are there.
fn writes() -> Vec<Write> {
    let mut writes: Vec<Write> = Vec::new();
    for number in 1..=4 {
        writes.push(Box::new(move |book| {
            book.record(&clamp(200 + u128::from(number), number))
                .unwrap()
        }));
        writes.push(Box::new(move |book| {
            book.find(&finding(400 + u128::from(number))).unwrap();
            book.remark(&strike(1200 + u128::from(number), 400 + u128::from(number)))
                .unwrap();
            book.keep_event(&event(1300 + u128::from(number))).unwrap();
            book.keep_file(PHOTO).unwrap();
            book.attach(&attachment(
                1400 + u128::from(number),
                1200 + u128::from(number),
            ))
            .unwrap();
        }));
        writes.push(Box::new(move |book| {
            let row = Capture {
                id: uuid(700 + u128::from(number)),
                ..capture()
            };
            book.begin_capture(&row).unwrap();
            for second in 0..number {
                book.append_chunk(row.id, &chunk(second, &[&second.to_le_bytes()]))
                    .unwrap();
            }
        }));
    }
    writes
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    /// The digest does not know in which order, in how many transactions, or in which copy the rows were written.
    #[test]
    fn the_order_of_writing_leaves_no_trace(order in Just((0..12).collect::<Vec<usize>>()).prop_shuffle(), cut in 0usize..12) {
        let digest = |order: &[usize], cut: usize| {
            let (_folder, path) = place();
            let mut book = Book::open_or_create(&path).unwrap();
            headers(&mut book);
            start(&mut book);
            let second = copy(&path, "second.holdtrue");
            let mut other = Book::open(&second).unwrap();
            let writes = writes();
            book.together(|book| { order[..cut].iter().for_each(|which| writes[*which](book)); Ok(()) }).unwrap();
            other.together(|book| { order[cut..].iter().for_each(|which| writes[*which](book)); Ok(()) }).unwrap();
            book.merge_from(&second).unwrap();
            prop_assert_eq!(book.merge_from(&second).unwrap(), Merged::default());
            // The other way round it comes to the same.
            other.merge_from(&path).unwrap();
            let digest = book.digest(uuid(VISIT)).unwrap();
            prop_assert_eq!(&other.digest(uuid(VISIT)).unwrap(), &digest);
            prop_assert_eq!(other.visit(uuid(VISIT)).unwrap(), book.visit(uuid(VISIT)).unwrap());
            Ok(digest)
        };
        let straight: Vec<usize> = (0..12).collect();
        prop_assert_eq!(digest(&order, cut)?, digest(&straight, 12)?);
    }

    /// Frames of any content and length come back in the same pieces.
    #[test]
    fn frames_keep_their_bounds(frames in prop::collection::vec(prop::collection::vec(any::<u8>(), 0..300), 0..20)) {
        let mut packed = Frames::default();
        for frame in &frames {
            prop_assert!(packed.push(frame));
        }
        prop_assert_eq!(packed.iter().collect::<Vec<_>>(), frames);
    }
}
