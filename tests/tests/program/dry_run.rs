//! What would be written is said, and nothing is.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::schema::differences;

/// An open visit with one finding and nothing else.
fn visit() -> Bench {
    let bench = bench!();
    let in_book = |line: &str| bench.in_book(line, &[]).exits(0);
    in_book("spindle add Centre-1 --interface BT40");
    in_book("visit start --spindle Centre-1 --tool T12");
    in_book("finding add --item nose --severity before-use cracked");
    bench
}

fn bytes(bench: &Bench) -> Vec<u8> {
    std::fs::read(bench.path("yard.holdtrue")).expect("the book")
}

#[test]
fn the_end_of_a_visit_says_what_is_missing_and_ends_nothing() {
    let bench = visit();
    let before = bytes(&bench);
    let run = bench.in_book("visit finish --dry-run", &[]).exits(0);
    let run = run
        .tells("Still open: ")
        .tells("cracked")
        .shows("Nothing was written: --dry-run.");
    // The same as where it is asked.
    let asked = bench.in_book("visit finish", &[]).exits(2);
    for line in run.messages.lines() {
        assert!(asked.messages.contains(line), "{line}\n{}", asked.messages);
    }
    assert_eq!(bytes(&bench), before);
    let document = bench
        .in_book("visit finish --dry-run --json", &[])
        .exits(0)
        .json();
    let schema = bench.line("schema visit").exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    bench.in_book("visit finish --yes", &[]).exits(0);
    bench.in_book("visit finish --dry-run", &[]).exits(2);
}

#[test]
fn a_merge_says_what_it_would_bring_and_to_settle_and_brings_nothing() {
    let bench = visit();
    std::fs::copy(bench.path("yard.holdtrue"), bench.path("other.holdtrue")).expect("a copy");
    let other = |line: &str| {
        bench
            .line(&format!("{line} --book other.holdtrue"))
            .exits(0)
    };
    other("finding add --item knob --severity soon worn");
    other("spindle edit Centre-1 --place north");
    bench
        .in_book("spindle edit Centre-1 --place south", &[])
        .exits(0);
    let before = bytes(&bench);
    let tried = bench
        .in_book("book merge other.holdtrue --dry-run --json", &[])
        .exits(0)
        .json();
    let schema = bench.line("schema book-merge").exits(0).json();
    assert_eq!(differences(&schema, &tried), Vec::<String>::new());
    assert_eq!(tried["dry_run"], true);
    let told = bench
        .in_book("book merge other.holdtrue --dry-run", &[])
        .exits(0);
    told.shows("rows would be taken over")
        .shows("to settle: ")
        .shows("Nothing was written: --dry-run.");
    assert_eq!(bytes(&bench), before);
    assert!(!bench.path("yard.holdtrue-journal").exists());
    let done = bench
        .in_book("book merge other.holdtrue --json", &[])
        .exits(0)
        .json();
    assert_eq!(done["added"], tried["added"]);
    assert_eq!(done["dry_run"], false);
    let again = bench.in_book("book merge other.holdtrue --dry-run", &[]);
    again.exits(0).shows("Nothing new");
}

/// With a serial number a certificate goes into the book alone: told what would come of it, no book is made and none changed.
#[test]
fn a_certificate_of_a_gauge_that_is_not_there_is_tried_without_a_trace() {
    let bench = bench!();
    let line = "gauge certificate --serial TP-9 --certificate C1 --laboratory L --date 2026-01-10 --due 2027-01-10 --rated-n 25000 \
                --span-n 2000 20000 --uncertainty-percent 0.3 --yes --coefficients";
    let tried = |bench: &Bench| {
        bench
            .in_book(line, &["0 0.0116", "--dry-run"])
            .exits(0)
            .shows("Would be kept in the book")
            .shows("Nothing was written: --dry-run.");
    };
    tried(&bench);
    assert!(!bench.path("yard.holdtrue").exists());
    bench
        .in_book(line, &["0 0.0117"])
        .exits(0)
        .shows("Kept in the book");
    let before = bytes(&bench);
    tried(&bench);
    assert_eq!(bytes(&bench), before);
}

#[test]
fn what_would_be_struck_out_or_amended_is_said_and_stays_as_it_is() {
    let bench = visit();
    let said = |line: &str| bench.in_book(line, &[]).exits(0);
    bench
        .in_book(
            "grip --state as-found --unit kN --store --readings",
            &["9.8 9.9 9.7"],
        )
        .exits(0);
    let before = bytes(&bench);
    for (line, would) in [
        ("check strike 1 --because x", "Would be struck out: set 1, "),
        (
            "finding strike 1 --because x",
            "Would be struck out: finding 1, ",
        ),
        ("visit strike --because x", "Would be struck out: visit "),
    ] {
        said(&format!("{line} --dry-run"))
            .shows(would)
            .shows("Nothing was written: --dry-run.");
    }
    // What would be refused is refused.
    bench
        .in_book("check strike 2 --because x --dry-run", &[])
        .exits(2);
    bench
        .in_book("check strike 1 --lift --because x --dry-run", &[])
        .exits(2);
    assert_eq!(bytes(&bench), before);
    said("check strike 1 --because x");
    said("check strike 1 --lift --because x --dry-run").shows("Would count again: set 1, ");
    said("visit finish --yes");
    let before = bytes(&bench);
    said("visit amend --because x --dry-run").shows("Nothing was written: --dry-run.");
    assert_eq!(bytes(&bench), before);
    said("visit amend --because x").shows("Visit amended.");
}

#[test]
fn a_page_and_a_copy_are_tried_and_not_written() {
    let bench = visit();
    let tried = bench
        .in_book(
            "report --html page.html --pdf page.pdf --dry-run --json",
            &[],
        )
        .exits(0)
        .json();
    let schema = bench.line("schema report").exits(0).json();
    assert_eq!(differences(&schema, &tried), Vec::<String>::new());
    assert_eq!(tried["dry_run"], true);
    bench
        .in_book("report --html page.html --dry-run", &[])
        .exits(0)
        .shows("page      page.html")
        .shows("Nothing was written: --dry-run.");
    bench
        .in_book("report --html none/page.html --dry-run", &[])
        .exits(6)
        .tells("no folder to put it in");
    let tried = bench.in_book("book backup copy.holdtrue --dry-run --json", &[]);
    let tried = tried.exits(0).json();
    let schema = bench.line("schema book-backup").exits(0).json();
    assert_eq!(differences(&schema, &tried), Vec::<String>::new());
    bench
        .in_book("book backup copy.holdtrue --dry-run", &[])
        .exits(0)
        .shows("Would be copied to copy.holdtrue. Nothing was written: --dry-run.");
    bench
        .in_book("book backup yard.holdtrue --dry-run", &[])
        .exits(2)
        .tells("this is the book itself");
    for name in ["page.html", "page.pdf", "copy.holdtrue"] {
        assert!(!bench.path(name).exists(), "{name}");
    }
    bench.in_book("book backup copy.holdtrue", &[]).exits(0);
    bench
        .in_book("book backup copy.holdtrue --dry-run", &[])
        .exits(0)
        .shows("in the place of the copy that lies there");
}

/// Each says by its own path what it would say, and leaves every byte as it was.
#[test]
fn whatever_writes_into_the_book_can_be_tried_first() {
    let bench = visit();
    let before = bytes(&bench);
    for (line, more, told) in [
        (
            "spindle add --interface BT40",
            ["Centre 3"].as_slice(),
            "Centre 3",
        ),
        (
            "spindle edit --nominal-n 12000 --interface BT40",
            &["Centre-1"],
            "12.00 kN",
        ),
        (
            "spindle event --what springs-changed --on 2024-03-12",
            &["Centre-1"],
            "12 March 2024",
        ),
        ("visit edit --order-number", &["4711"], "4711"),
        (
            "finding add --severity later --item way-cover",
            &["a wiper is torn"],
            "a wiper is torn",
        ),
        (
            "finding edit 1 --severity soon --because",
            &["seen again"],
            "soon",
        ),
    ] {
        let tried: Vec<&str> = more.iter().copied().chain(["--dry-run"]).collect();
        bench
            .in_book(line, &tried)
            .exits(0)
            .shows(told)
            .shows("Nothing was written: --dry-run.");
        assert_eq!(bytes(&bench), before, "{line}");
        bench
            .in_book(line, &[&tried[..], &["--json"]].concat())
            .exits(0)
            .tells("Nothing was written: --dry-run.");
        assert_eq!(bytes(&bench), before, "{line}");
    }
    // What would be refused is refused, by the name of the book itself.
    bench
        .in_book("spindle edit --nominal-n 12000 --dry-run", &["Centre 9"])
        .exits(2);
    bench.file("bad.holdtrue", "no book");
    let line = "--book bad.holdtrue spindle add X --dry-run";
    let run = bench.line(line).exits(6).tells("bad.holdtrue");
    assert!(!run.messages.contains("/tmp"), "{run}");
}

#[test]
fn a_first_visit_and_settings_are_tried_without_a_file() {
    let bench = bench!();
    bench
        .line("visit start --reason service --dry-run")
        .exits(0)
        .shows("Nothing was written: --dry-run.");
    bench
        .line("--book new.holdtrue settings --force lbf --dates day-first --dry-run")
        .exits(0)
        .shows("force       lbf   (would be set)")
        .shows("dates       day-first   (would be set)")
        .shows("Nothing was written: --dry-run.");
    // Of a folder it is said which book would lie in it.
    bench
        .line("--book . settings --dry-run")
        .exits(0)
        .shows("visits.holdtrue   (would be set)");
    let mut left = std::fs::read_dir(bench.folder()).expect("the folder");
    assert!(left.next().is_none());
}
