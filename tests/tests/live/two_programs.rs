//! Two programs at one check: the second is told so, and a kill of the first leaves nothing in its way.

use crate::{BOOK, grip, is_sound};
use holdtrue_book::Book;
use holdtrue_tests::added_later::cut_from_page_1;
use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::port::{Measuring, Port};
use std::fs;

#[test]
fn a_check_under_way_is_not_gone_on_with_by_another_program() {
    let bench = bench!();
    let (first, second) = (
        Port::offer(&bench, "--seed 3 --pace 8"),
        Port::offer(&bench, "--seed 3 --pace max"),
    );
    let mut measuring = Measuring::start(&mut grip(&bench, &first.path, ""));
    measuring.until("clamp 1:");
    bench
        .finish(&mut grip(&bench, &second.path, ""))
        .exits(6)
        .tells("another program")
        .tells("--new");
    let finish = bench.line(&format!("visit finish --book {BOOK}"));
    finish.exits(6).tells("another program");
    for strike in ["visit strike", "check strike 1"] {
        bench
            .line(&format!("{strike} --because typo --book {BOOK}"))
            .exits(6)
            .tells("another program");
    }
    // Another check of the same visit is its own.
    bench
        .finish(&mut grip(&bench, &second.path, "--new"))
        .exits(0);
    assert_eq!(measuring.end().exits(0).json()["statistics"]["count"], 5);
    is_sound(&bench);
    let status = bench
        .line(&format!("visit status --json --book {BOOK}"))
        .json();
    assert_eq!(status["visit"]["checks"].as_array().map(Vec::len), Some(2));
    let beside = fs::read_dir(bench.folder()).expect("the folder").count();
    assert_eq!(beside, 1, "one file at rest");
}

#[test]
fn a_kill_leaves_the_check_to_whoever_goes_on_with_it() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace 8");
    let mut measuring = Measuring::start(&mut grip(&bench, &port.path, ""));
    measuring.until("clamp 1:");
    measuring.signal("KILL");
    measuring.end();
    drop(port);
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let whole = bench
        .finish(&mut grip(&bench, &port.path, ""))
        .exits(0)
        .tells("Going on");
    assert_eq!(whole.json()["statistics"]["count"], 5, "{whole}");
    bench.line(&format!("visit finish --book {BOOK}")).exits(0);
    is_sound(&bench);
}

#[test]
fn a_runout_check_under_way_is_not_gone_on_with_by_another_program() {
    let bench = bench!();
    let (first, second) = (
        Port::offer(&bench, "--seed 3 --pace 8"),
        Port::offer(&bench, "--seed 3 --pace max"),
    );
    let line = |path: &str| format!("runout --gauge {path} --book {BOOK} --json --yes");
    let mut measuring = Measuring::start(&mut bench.command(line(&first.path).split_whitespace()));
    measuring.until("Plane 2 of");
    bench
        .line(&line(&second.path))
        .exits(6)
        .tells("another program");
    measuring.signal("KILL");
    measuring.end();
    bench.line(&line(&second.path)).tells("plane 1 is in");
}

/// The visit was finished in one copy while the check went on in another: the clamps that a merge brings are later ones.
#[test]
fn clamps_that_a_merge_brings_after_the_end_change_neither_page_nor_digest() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace 8");
    let mut measuring = Measuring::start(&mut grip(&bench, &port.path, ""));
    measuring.until("clamp 2:");
    measuring.signal("INT");
    measuring.end().exits(130);
    fs::copy(bench.path(BOOK), bench.path("copy")).expect("a copy");
    drop(port);
    let port = Port::offer(&bench, "--seed 3 --pace max");
    bench.finish(&mut grip(&bench, &port.path, "")).exits(0);
    fs::rename(bench.path(BOOK), bench.path("whole")).expect("the other copy");
    fs::rename(bench.path("copy"), bench.path(BOOK)).expect("the book");
    bench
        .line(&format!("visit finish --yes --book {BOOK}"))
        .exits(0);
    let page = || {
        let run = bench.line(&format!(
            "report --html page.html --overwrite --json --book {BOOK}"
        ));
        let page = fs::read_to_string(bench.path("page.html")).expect("the page");
        let run = run.exits(0).json();
        (
            run["digest"].clone(),
            run["later"].as_array().map_or(0, Vec::len),
            page,
        )
    };
    let (digest, later, before) = page();
    assert_eq!((later, recorded_then(&bench)), (0, 2));
    Book::open(bench.path(BOOK))
        .and_then(|mut book| book.merge_from(bench.path("whole")))
        .expect("a merge");
    let (digest_now, later, after) = page();
    assert_eq!(digest_now, digest);
    // Three clamps, a result, a raw record at least.
    assert!(later >= 5, "{later}");
    let (above, list) = after
        .split_once("<div class=\"break\"></div><h2>Added after the visit")
        .expect("said, on a page of its own");
    let (_, below) = list.split_once("</ul>").expect("a list");
    assert_eq!(format!("{}{below}", cut_from_page_1(above)), before);
    assert_eq!(recorded_then(&bench), 2);
    is_sound(&bench);
}

/// Clamps of the only check of the only finished visit.
fn recorded_then(bench: &Bench) -> usize {
    let book = Book::open_read_only(bench.path(BOOK)).expect("the book");
    let visit = *book
        .finished_visits()
        .expect("visits")
        .first()
        .expect("one");
    book.visit(visit).expect("it").checks[0].recorded.len()
}
