//! Books this program wrote, one for each pair of analysis versions: a grip check and a runout check with their raw records,
//! a finished visit. They are never written again. In: such a book. Out: it still reads, holds and computes to its digits.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use serde_json::Value;
use std::path::{Path, PathBuf};

const WHAT_TO_DO: &str = "Digits a person has on paper changed. If that is meant: raise ANALYSIS_VERSION beside the result \
    (host/metrology/src/grip/result.rs or runout/result.rs), then write a golden book of the new version with \
    `cargo test -p holdtrue-tests --test program write_golden_book -- --ignored`, and commit it beside the others";

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/program/golden")
}

fn books() -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder()).expect("the golden books");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let mut books: Vec<_> = paths
        .filter(|path| path.extension().is_some_and(|end| end == "holdtrue"))
        .collect();
    books.sort();
    assert!(!books.is_empty(), "there is a golden book");
    books
}

fn with_copy_of(book: &Path) -> Bench {
    let bench = bench!();
    bench.file("yard.holdtrue", std::fs::read(book).expect("a golden book"));
    bench
}

fn rechecked(bench: &Bench) -> Value {
    bench.line("recheck --book yard.holdtrue --json").json()
}

/// Analysis version of each check: by what it was stored, by what it is computed now.
fn versions(document: &Value, key: &str) -> Vec<String> {
    let checks = document["checks"].as_array().expect("checks").iter();
    let mut versions: Vec<String> = checks
        .map(|check| check[key].as_str().expect("a version").to_owned())
        .collect();
    versions.sort();
    versions
}

#[test]
fn a_golden_book_is_sound_and_its_paper_holds() {
    for book in books() {
        let bench = with_copy_of(&book);
        let before = std::fs::read(bench.path("yard.holdtrue")).expect("the book");
        bench
            .line("book check --book yard.holdtrue")
            .exits(0)
            .shows("sound");
        let paper = std::fs::read_to_string(book.with_extension("digest")).expect("its digest");
        bench
            .line(&format!("book verify --book yard.holdtrue {paper}"))
            .exits(0);
        bench
            .line("report --book yard.holdtrue --html page.html")
            .exits(0);
        let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
        let start: String = paper.chars().take(10).collect();
        assert!(page.contains(&start), "{start} is on the page");
        let after = std::fs::read(bench.path("yard.holdtrue")).expect("the book");
        assert!(before == after, "reading changed the book");
    }
}

#[test]
fn stored_results_give_the_same_digits_under_the_same_analysis_version() {
    for book in books() {
        let document = rechecked(&with_copy_of(&book));
        let checks = document["checks"].as_array().expect("checks");
        assert_eq!(checks.len(), 2, "{document:#}");
        for check in checks {
            assert_eq!(check["recomputed"], true, "{check:#}");
            let same_version = check["analysis_stored"] == check["analysis_now"];
            let differs = check["differences"]
                .as_array()
                .is_some_and(|all| !all.is_empty());
            assert!(
                !(same_version && differs),
                "{}: {check:#}\n{WHAT_TO_DO}",
                book.display()
            );
        }
    }
}

#[test]
fn the_analysis_versions_of_this_program_have_their_golden_book() {
    let now = books().iter().any(|book| {
        let document = rechecked(&with_copy_of(book));
        versions(&document, "analysis_stored") == versions(&document, "analysis_now")
    });
    assert!(now, "no golden book of this version. {WHAT_TO_DO}");
}

/// Writes the golden book of new analysis versions once; an old one is never replaced.
#[test]
#[ignore = "only for a new analysis version"]
fn write_golden_book() {
    let bench = bench!();
    bench
        .line("rehearse --seed 7 --yes --book yard.holdtrue --technician A")
        .exits(0);
    let document = rechecked(&bench);
    let name = versions(&document, "analysis_now").join("_");
    std::fs::create_dir_all(folder()).expect("the folder of golden books");
    let book = folder().join(format!("{name}.holdtrue"));
    assert!(
        !book.exists(),
        "{} exists and is never replaced",
        book.display()
    );
    let verified = bench.line("book verify --book yard.holdtrue").exits(0);
    let digest = verified.out.split_whitespace().last().expect("a digest");
    std::fs::write(book.with_extension("digest"), digest).expect("its digest is kept");
    std::fs::copy(bench.path("yard.holdtrue"), &book).expect("the book is kept");
}
