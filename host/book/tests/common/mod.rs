//! A small visit to put into books: one spindle, one gauge, two clamps, one result.

#![allow(dead_code, missing_docs, clippy::unwrap_used)]

use holdtrue_book::*;
use holdtrue_terms::vocabulary::{Outcome, Severity, State};
use std::path::PathBuf;
use tempfile::TempDir;
use uuid::Uuid;

/// An empty folder and the path of a book in it.
pub fn place() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("yard.holdtrue");
    (folder, path)
}

/// Identifiers that are the same in every run.
pub fn uuid(number: u128) -> Uuid {
    Uuid::from_u128(0x0190_0000_0000_7000_8000_0000_0000_0000 + number)
}

/// Nine in the morning and some seconds.
pub fn at(second: u32) -> String {
    format!("2026-03-04T09:{:02}:{:02}+01:00", second / 60, second % 60)
}

pub fn stamp(second: u32) -> Stamp {
    Stamp::new("Technician A", at(second))
}

pub const SPINDLE: u128 = 1;
pub const GAUGE: u128 = 2;
pub const VISIT: u128 = 3;
pub const CHECK: u128 = 4;
pub const CAPTURE: u128 = 5;
pub const CALIBRATION: u128 = 6;

pub fn revision<H>(
    id: u128,
    entity: u128,
    parents: &[u128],
    header: H,
    second: u32,
) -> Revision<H> {
    let parents = parents.iter().map(|parent| uuid(*parent)).collect();
    Revision {
        id: uuid(id),
        entity: uuid(entity),
        parents,
        header,
        stamp: stamp(second),
    }
}

pub fn centre_1() -> SpindleHeader {
    SpindleHeader {
        name: "Centre 1".into(),
        place: Some("Tern Point buoy yard".into()),
        invented: true,
        spindle_serial: Some("TP-1007".into()),
        taper: Some("7/24".into()),
        taper_size: Some(40),
        grip_nominal_n: Some(10_000.0),
        ..SpindleHeader::default()
    }
}

/// Spindle, gauge and visit: everything a check needs.
pub fn headers(book: &mut Book) {
    book.revise(&revision(101, SPINDLE, &[], centre_1(), 0))
        .unwrap();
    let gauge = GaugeHeader {
        serial: "TP-0042".into(),
        what: "force-gauge".into(),
        ..GaugeHeader::default()
    };
    book.revise(&revision(102, GAUGE, &[], gauge, 0)).unwrap();
    let visit = VisitHeader {
        spindle: Some(uuid(SPINDLE)),
        technician: "Technician A".into(),
        started_at: at(0),
        ..VisitHeader::default()
    };
    book.revise(&revision(103, VISIT, &[], visit, 1)).unwrap();
}

pub fn start(book: &mut Book) -> CheckStart {
    let record = Calibration {
        id: uuid(CALIBRATION),
        channel: "force".into(),
        format: "wire-1".into(),
        record: vec![1, 2, 3],
    };
    book.import_calibration(&record).unwrap();
    let limits = book.keep_limits("schema = 1\n").unwrap();
    let start = CheckStart {
        id: uuid(CHECK),
        visit: Some(uuid(VISIT)),
        kind: CheckKind::Grip,
        state: Some(State::AsFound),
        gauge: Some(uuid(GAUGE)),
        calibration: Some(uuid(CALIBRATION)),
        limits_sha256: Some(limits),
        content: Json::from_text(r#"{"clamps":5}"#).unwrap(),
        stamp: stamp(10),
    };
    book.start_check(&start).unwrap();
    start
}

pub fn capture() -> Capture {
    Capture {
        id: uuid(CAPTURE),
        check: uuid(CHECK),
        source: Source::Gauge,
        content: Json::from_text(r#"{"rate_hz":330}"#).unwrap(),
        stamp: stamp(11),
    }
}

pub fn chunk(second: u32, frames: &[&[u8]]) -> Chunk {
    let mut packed = Frames::default();
    for frame in frames {
        assert!(packed.push(frame));
    }
    Chunk {
        wire: (1, 0),
        boot: 7,
        at: at(second),
        facts: None,
        frames: packed,
    }
}

pub fn clamp(id: u128, number: u32) -> Recorded {
    let settled_n = 9_800.0 + f64::from(number);
    Recorded {
        id: uuid(id),
        check: uuid(CHECK),
        kind: RecordedKind::Clamp,
        number,
        content: Json::of(&serde_json::json!({ "number": number, "settled_n": settled_n }))
            .unwrap(),
        stamp: stamp(20 + number),
    }
}

pub fn result(id: u128) -> CheckResult {
    CheckResult {
        id: uuid(id),
        check: uuid(CHECK),
        analysis: "1".into(),
        outcome: Some(Outcome::Undecided),
        calibration: Some(uuid(CALIBRATION)),
        limits_sha256: None,
        content: Json::from_text(r#"{"check":"grip","schema":1}"#).unwrap(),
        stamp: stamp(60),
    }
}

pub fn finding(id: u128) -> Finding {
    Finding {
        id: uuid(id),
        visit: uuid(VISIT),
        kind: FindingKind::Found,
        severity: Some(Severity::Soon),
        assembly: "Spindle".into(),
        item: "gripper fingers".into(),
        text: "one finger is shiny".into(),
        content: Json::empty(),
        stamp: stamp(5),
    }
}

pub fn gauge_check(id: u128, second: u32) -> GaugeCheck {
    GaugeCheck {
        id: uuid(id),
        gauge: uuid(GAUGE),
        calibration: Some(uuid(CALIBRATION)),
        fit: true,
        content: Json::from_text(r#"{"check":"gauge","schema":1,"fit":true}"#).unwrap(),
        stamp: stamp(second),
    }
}

pub fn knob_change(id: u128, second: u32) -> KnobChange {
    KnobChange {
        id: uuid(id),
        gauge: uuid(GAUGE),
        knob: Some("TP-K-3".into()),
        good_for: Some(500),
        stamp: stamp(second),
    }
}

/// The whole visit, not finished.
pub fn fill(book: &mut Book) {
    headers(book);
    start(book);
    book.begin_capture(&capture()).unwrap();
    book.append_chunk(uuid(CAPTURE), &chunk(12, &[b"one", b"two"]))
        .unwrap();
    book.record(&clamp(201, 1)).unwrap();
    book.append_chunk(uuid(CAPTURE), &chunk(13, &[b"three"]))
        .unwrap();
    book.record(&clamp(202, 2)).unwrap();
    book.end_check(&result(301)).unwrap();
    book.find(&finding(401)).unwrap();
    book.note(&Note {
        id: uuid(501),
        visit: uuid(VISIT),
        check: None,
        text: "warm hall".into(),
        stamp: stamp(6),
    })
    .unwrap();
    let caution = Acknowledgement {
        id: uuid(601),
        visit: uuid(VISIT),
        check: Some(uuid(CHECK)),
        caution: "state-a".into(),
        text: "Machine live: hands out of the taper.".into(),
        how: How::ByFlag,
        stamp: stamp(9),
    };
    book.acknowledge(&caution).unwrap();
}

/// A book with the whole visit.
pub fn filled() -> (TempDir, PathBuf, Book) {
    let (folder, path) = place();
    let mut book = Book::open_or_create(&path).unwrap();
    fill(&mut book);
    (folder, path, book)
}

pub const PHOTO: &[u8] = &[0xff, 0xd8, 0xff, 0xd9];

pub fn strike(id: u128, target: u128) -> Remark {
    Remark {
        id: uuid(id),
        said: Said::Strike,
        target: uuid(target),
        change: None,
        reason: "the bar touched the guard".into(),
        stamp: stamp(65),
    }
}

pub fn correction(id: u128) -> Remark {
    let json = |text: &str| Json::from_text(text).unwrap();
    Remark {
        id: uuid(id),
        said: Said::Correction,
        target: uuid(401),
        change: Some(Change {
            field: "severity".into(),
            old: json("\"soon\""),
            new: json("\"later\""),
        }),
        reason: "read again in daylight".into(),
        stamp: stamp(66),
    }
}

pub fn event(id: u128) -> Event {
    Event {
        id: uuid(id),
        entity: uuid(SPINDLE),
        kind: "disc-springs".into(),
        happened: "2025-11".into(),
        text: "the whole stack".into(),
        content: Json::empty(),
        stamp: stamp(67),
    }
}

/// Its file is kept first.
pub fn attachment(id: u128, target: u128) -> Attachment {
    Attachment {
        id: uuid(id),
        target: uuid(target),
        sha256: sha256_hex(PHOTO),
        media_type: "image/jpeg".into(),
        name: "nose.jpg".into(),
        text: "the face of the nose".into(),
        stamp: stamp(68),
    }
}

/// A calibration in the press, in no visit.
pub fn calibrating() -> CheckStart {
    CheckStart {
        id: uuid(1010),
        visit: None,
        kind: CheckKind::Calibration,
        state: None,
        gauge: Some(uuid(GAUGE)),
        calibration: None,
        limits_sha256: None,
        content: Json::from_text(r#"{"version":1}"#).unwrap(),
        stamp: stamp(80),
    }
}

/// What schema 3 has room for, on the filled visit.
pub fn schema_3(book: &mut Book) {
    book.remark(&strike(1001, 202)).unwrap();
    book.remark(&correction(1002)).unwrap();
    book.keep_event(&event(1003)).unwrap();
    book.keep_file(PHOTO).unwrap();
    book.attach(&attachment(1004, VISIT)).unwrap();
    book.start_check(&calibrating()).unwrap();
    for number in 1..=2 {
        book.record(&reading(1010 + u128::from(number), number))
            .unwrap();
    }
    // Taken back, and read again.
    book.remark(&strike(1015, 1012)).unwrap();
    book.record(&reading(1013, 3)).unwrap();
    book.end_check(&CheckResult {
        id: uuid(1014),
        check: calibrating().id,
        outcome: None,
        limits_sha256: None,
        ..result(0)
    })
    .unwrap();
}

fn reading(id: u128, number: u32) -> Recorded {
    Recorded {
        check: calibrating().id,
        kind: RecordedKind::Reading,
        ..clamp(id, number)
    }
}
