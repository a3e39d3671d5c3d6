//! What comes to a finished visit later, by a merge or past the program: it changes nothing, and it is shown.

use holdtrue_book::{Book, CheckKind, Finding, FindingKind, Json, Note, Stamp, Tombstone};
use holdtrue_terms::vocabulary::Severity;
use holdtrue_tests::added_later::cut_from_page_1;
use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::schema::differences;
use serde_json::Value;
use std::fs;
use uuid::Uuid;

const BOOK: &str = "yard.holdtrue";
const LATER: &str = "dded after the visit was finished";

fn in_book(bench: &Bench, line: &str) -> Run {
    bench.line(&format!("--book {BOOK} --technician Hand {line}"))
}

fn stamp() -> Stamp {
    Stamp::new("Somebody", "2031-01-01T00:00:00+00:00")
}

/// A finished visit with two sets and two findings, and the same book while the visit was open.
fn finished() -> Bench {
    let bench = bench!();
    for line in [
        "spindle add Centre-1 --nominal-n 9800",
        "visit start --spindle Centre-1",
        "grip --readings 9.8;9.9;9.7 --unit kN --store --uncertainty-percent 1 --state as-found",
        "grip --readings 9.9;9.9;9.8 --unit kN --store --uncertainty-percent 1 --state as-left",
        "finding add --item fingers --severity before-use cracked",
        "finding add --item wall --in-order",
    ] {
        in_book(&bench, line).exits(0);
    }
    fs::copy(bench.path(BOOK), bench.path("open.holdtrue")).expect("a copy");
    in_book(&bench, "visit finish").exits(0);
    bench
}

fn book(bench: &Bench) -> Book {
    Book::open(bench.path(BOOK)).expect("the book")
}

fn bury(bench: &Bench, target: Uuid, id: u128) -> Uuid {
    let id = Uuid::from_u128(id);
    book(bench)
        .bury(&Tombstone {
            id,
            target,
            reason: "out of sight".to_owned(),
            stamp: stamp(),
        })
        .expect("a tombstone");
    id
}

/// The visit as the book knows it.
fn visit(bench: &Bench) -> holdtrue_book::Visit {
    let book = book(bench);
    let id = *book
        .finished_visits()
        .expect("visits")
        .first()
        .expect("one");
    book.visit(id).expect("the visit")
}

/// The page of the visit, what was added later cut out of it: the list, and that page 1 names it.
fn page(bench: &Bench) -> String {
    in_book(bench, "report --html page.html --overwrite").exits(0);
    let page = fs::read_to_string(bench.path("page.html")).expect("the page");
    let Some((before, later)) = page.split_once("<h2>Added after the visit was finished</h2>")
    else {
        return page;
    };
    let (_, after) = later.split_once("</ul>").expect("the end of the list");
    format!("{}{after}", cut_from_page_1(before))
}

fn digest(bench: &Bench) -> Value {
    in_book(bench, "report --html digest.html --overwrite --json")
        .exits(0)
        .json()["digest"]
        .clone()
}

/// Nothing the visit says has changed, and what came is shown by everything that shows the visit.
#[track_caller]
fn unchanged_and_shown(bench: &Bench, before: &str, says: &str) {
    assert_eq!(
        page(bench),
        before,
        "the page without what came later: {says}"
    );
    let whole = fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(
        whole.contains(LATER) && whole.contains(says),
        "not on the page: {says}\n{whole}"
    );
    for line in [
        "report --html other.html --overwrite",
        "book verify",
        "finding list",
        "visit status",
    ] {
        in_book(bench, line).exits(0).shows(LATER).shows(says);
    }
    in_book(bench, "book verify").exits(0).shows("agrees");
    in_book(bench, "recheck").exits(0);
    for (schema, line) in [
        ("report", "report --html other.html --overwrite"),
        ("book-verify", "book verify"),
        ("finding-list", "finding list"),
    ] {
        let schema = bench.line(&format!("schema {schema}")).json();
        let document = in_book(bench, &format!("{line} --json")).exits(0).json();
        assert_eq!(differences(&schema, &document), Vec::<String>::new());
        assert!(document.to_string().contains(LATER), "{document}");
    }
}

#[test]
fn a_tombstone_on_any_row_of_a_finished_visit_hides_nothing() {
    let bench = finished();
    let (before, printed) = (page(&bench), digest(&bench));
    let whole = fs::read(bench.path(BOOK)).expect("the book");
    let visit = visit(&bench);
    let targets = [
        (visit.findings[0].id, "cracked"),
        (visit.checks[0].start.id, "a check, grip, as found"),
        (visit.checks[1].results[0].id, "a result"),
        (visit.checks[0].recorded[0].id, "clamp 1"),
        (visit.visit.heads[0].id, "another header"),
        (visit.visit.id, "the whole visit"),
    ];
    for (number, (target, says)) in (1..).zip(targets) {
        bench.file(BOOK, &whole);
        bury(&bench, target, number);
        unchanged_and_shown(&bench, &before, says);
        assert_eq!(digest(&bench), printed, "{says}");
        in_book(
            &bench,
            "report --html spindle.html --spindle Centre-1 --overwrite",
        )
        .exits(0);
    }
}

#[test]
fn what_was_struck_before_the_end_is_not_brought_back_after_it() {
    let bench = finished();
    let open = fs::read(bench.path("open.holdtrue")).expect("a copy");
    bench.file(BOOK, open);
    let finding = {
        let book = book(&bench);
        let open = book.open_visits().expect("visits").pop().expect("one");
        book.findings(open.id).expect("findings")[0].id
    };
    let tombstone = bury(&bench, finding, 1);
    in_book(&bench, "visit finish").exits(0);
    let before = page(&bench);
    assert!(!before.contains("cracked"), "struck");
    bury(&bench, tombstone, 2);
    unchanged_and_shown(&bench, &before, "the striking");
}

#[test]
fn rows_of_a_copy_in_which_the_visit_was_still_open_are_shown_as_later() {
    let bench = finished();
    let before = page(&bench);
    for line in [
        "finding add --item drawbar --severity soon rusty",
        "grip --readings 5.1;5.2;5.0 --unit kN --store --uncertainty-percent 1 --state as-left",
        "visit edit --consent-of Nobody",
    ] {
        bench.line(&format!("--book open.holdtrue --technician Other {line}"));
    }
    book(&bench)
        .merge_from(bench.path("open.holdtrue"))
        .expect("a merge");
    for says in ["rusty", "a check, grip, as left", "another header"] {
        unchanged_and_shown(&bench, &before, says);
    }
    let checks = visit(&bench).checks;
    assert_eq!(checks.len(), 2);
    assert!(
        checks
            .iter()
            .all(|check| check.start.kind == CheckKind::Grip)
    );
    in_book(&bench, "book check")
        .exits(0)
        .shows("its end does not cover");
    in_book(&bench, "spindle show Centre-1")
        .exits(0)
        .shows("by Hand");
}

#[test]
fn a_finding_and_a_note_written_past_the_program_are_shown_as_later() {
    let bench = finished();
    let before = page(&bench);
    let visit = visit(&bench).visit.id;
    // As another tool would: the program's own library refuses.
    let refused = book(&bench).find(&Finding {
        id: Uuid::from_u128(7),
        visit,
        kind: FindingKind::Found,
        severity: Some(Severity::Note),
        assembly: "spindle".to_owned(),
        item: "nose".to_owned(),
        text: "scratch".to_owned(),
        content: Json::empty(),
        stamp: stamp(),
    });
    assert!(refused.is_err());
    let refused = book(&bench).note(&Note {
        id: Uuid::from_u128(8),
        visit,
        check: None,
        text: "scratch".to_owned(),
        stamp: stamp(),
    });
    assert!(refused.is_err());
    let db = rusqlite::Connection::open(bench.path(BOOK)).expect("the book");
    db.execute_batch(&format!(
        "INSERT INTO finding SELECT '00000000-0000-0000-0000-000000000007', visit, kind, severity, assembly, item, 'scratch',
         content, author, '2001-01-01T00:00:00+00:00' FROM finding WHERE severity NOT NULL;
         INSERT INTO note VALUES ('00000000-0000-0000-0000-000000000008', '{visit}', NULL, 'a warm hall', 'Somebody', '2031-01-01T00:00:00+00:00')"
    ))
    .expect("rows");
    drop(db);
    unchanged_and_shown(&bench, &before, "scratch");
    unchanged_and_shown(&bench, &before, "a warm hall");
}

#[test]
fn a_visit_finished_twice_is_printed_by_its_first_end_and_says_so_and_both_papers_agree() {
    let bench = finished();
    let (before, printed) = (page(&bench), digest(&bench));
    let other = |line: &str| bench.line(&format!("--book open.holdtrue --technician Other {line}"));
    other("finding add --item drawbar --severity soon rusty").exits(0);
    let second = other("visit finish --json").exits(0).json()["visit"]["digest"].clone();
    let second = second.as_str().expect("a digest");
    book(&bench)
        .merge_from(bench.path("open.holdtrue"))
        .expect("a merge");
    unchanged_and_shown(&bench, &before, second);
    unchanged_and_shown(&bench, &before, "rusty");
    let printed = printed.as_str().expect("a digest").to_owned();
    for paper in [printed.as_str(), second] {
        in_book(&bench, &format!("book verify {paper}")).exits(0);
    }
}

/// One letter changed on the disk: no digest is printed over it.
#[test]
fn a_digest_is_recomputed_before_it_is_printed() {
    let bench = finished();
    let mut bytes = fs::read(bench.path(BOOK)).expect("the book");
    let at = bytes
        .windows(7)
        .position(|window| window == b"cracked")
        .expect("the finding");
    bytes[at..at + 7].copy_from_slice(b"oiled  ");
    bench.file(BOOK, bytes);
    let run = in_book(&bench, "report --html page.html")
        .exits(6)
        .tells("was changed after it was finished")
        .tells("latest backup");
    assert!(!bench.path("page.html").exists(), "{run}");
    in_book(&bench, "book verify").exits(6).shows("DIFFERS");
    in_book(&bench, "book check").exits(6);
}
