//! One remembered book: where it lies, that a failing command begins none, and its copy at a second place.

use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use std::path::Path;

fn in_folder(bench: &Bench, folder: &str, line: &str) -> Run {
    std::fs::create_dir_all(bench.path(folder)).expect("a folder");
    let mut command = bench.command(line.split_whitespace());
    bench.finish(command.current_dir(bench.path(folder)))
}

fn books(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("a folder").flatten();
    let names = entries.map(|entry| entry.file_name().to_string_lossy().into_owned());
    let mut names: Vec<String> = names.filter(|name| name.contains(".holdtrue")).collect();
    names.sort();
    names
}

#[test]
fn the_book_is_found_again_from_another_folder() {
    let bench = bench!();
    in_folder(&bench, "one", "spindle add Centre-1")
        .exits(0)
        .tells("remembered");
    in_folder(&bench, "two", "visit start --spindle Centre-1").exits(0);
    assert!(books(&bench.path("two")).is_empty());
    in_folder(&bench, "two", "visit start --spindle Centre-1").exits(2);
    let document = bench.line("settings --json").exits(0).json();
    let set = document["book"].as_str().expect("a book");
    assert!(
        set.ends_with("visits.holdtrue") && Path::new(set).is_absolute(),
        "{set}"
    );
    // Lost: said, and no other takes its place.
    std::fs::rename(bench.path("one"), bench.path("three")).expect("moved");
    for line in [
        "visit status",
        "spindle add Centre-2",
        "visit edit --tool 3",
    ] {
        in_folder(&bench, "two", line)
            .exits(6)
            .tells("settings --book");
    }
    assert!(books(&bench.path("two")).is_empty());
    let moved = bench.path("three/visits.holdtrue").display().to_string();
    bench
        .line(&format!("settings --book {moved}"))
        .exits(0)
        .shows("three");
    in_folder(&bench, "two", "spindle list")
        .exits(0)
        .shows("Centre-1");
}

#[test]
fn a_failing_command_begins_no_book() {
    let bench = bench!();
    for (line, code) in [
        ("visit start --spindle Centre-1", 2),
        ("spindle add Centre-1 --interface MT9", 2),
        ("visit edit --tool 3", 6),
        ("visit finish", 6),
        ("visit amend --because x", 6),
        ("check strike 1 --because x", 6),
        ("finding add --item x --in-order", 6),
        ("finding strike 1 --because x", 6),
        ("grip --readings 9.8;nine --unit kN --store", 4),
        (
            "grip --readings 9.8;9.9 --unit kN --store --limit-n 7000",
            2,
        ),
        ("runout --readings 1;x --unit um --store", 4),
        ("book backup copy.holdtrue", 6),
        ("book merge copy.holdtrue", 6),
        ("--book named.holdtrue visit start --spindle Centre-1", 2),
    ] {
        bench.line(line).exits(code);
        assert!(
            books(bench.folder()).is_empty(),
            "{line}: {:?}",
            books(bench.folder())
        );
    }
    assert!(bench.line("settings --json").exits(0).json()["book"].is_null());
}

#[test]
fn a_second_book_is_asked_about_where_one_is_set() {
    let bench = bench!();
    bench.line("settings --book first.holdtrue").exits(0);
    assert_eq!(books(bench.folder()), ["first.holdtrue"]);
    bench
        .line("--book second.holdtrue spindle add Centre-1")
        .exits(2)
        .tells("first.holdtrue");
    assert_eq!(books(bench.folder()), ["first.holdtrue"]);
    bench
        .line("--book second.holdtrue spindle add Centre-1 --yes")
        .exits(0);
    bench
        .line("--book second.holdtrue spindle add Centre-2")
        .exits(0);
    bench.line("spindle list").exits(0).shows("No spindle yet");
    bench
        .line("settings --forget book")
        .exits(0)
        .shows("none set");
    bench.file("notes.txt", "no book");
    bench.line("settings --book notes.txt").exits(6);
}

#[test]
fn a_copy_is_read_back_and_replaces_only_an_older_state_of_the_same_book() {
    let bench = bench!();
    let book = |line: &str| bench.line(&format!("--book yard.holdtrue {line}"));
    book("spindle add Centre-1").exits(0);
    std::fs::create_dir(bench.path("stick")).expect("a folder");
    book("book backup stick").exits(0).shows("read back");
    book("spindle add Centre-2").exits(0);
    let again = book("book backup stick --json").exits(0).json();
    assert_eq!(again["replaced"], true);
    bench
        .line("--book stick/yard.holdtrue spindle list")
        .exits(0)
        .shows("Centre-2");
    // The copy has gone on by itself.
    bench
        .line("--book stick/yard.holdtrue spindle add Centre-3")
        .exits(0);
    book("book backup stick").exits(2).tells("left alone");
    bench
        .line("--book stick/yard.holdtrue spindle list")
        .exits(0)
        .shows("Centre-3");
    bench.file("letter.txt", "dear customer");
    book("book backup letter.txt").exits(6);
    book("book backup letter.txt --overwrite").exits(6);
    assert_eq!(
        std::fs::read(bench.path("letter.txt")).expect("it"),
        b"dear customer"
    );
    book("book backup yard.holdtrue")
        .exits(2)
        .tells("the book itself");
    book("book backup no/such/folder.holdtrue").exits(6);
    let there = books(&bench.path("stick"));
    assert_eq!(there, ["yard.holdtrue"], "nothing half made stays");
}

#[test]
fn a_visit_is_finished_whether_the_stick_is_plugged_in_or_not() {
    let bench = bench!();
    let book = |line: &str| bench.line(&format!("--book yard.holdtrue {line}"));
    bench
        .line("settings --backup stick")
        .exits(0)
        .shows("stick");
    book("visit start").exits(0);
    book("visit finish")
        .exits(0)
        .tells("not copied")
        .tells("plugged in");
    assert!(!bench.path("stick").exists());
    std::fs::create_dir(bench.path("stick")).expect("plugged in");
    book("visit start").exits(0);
    book("visit finish").exits(0).tells("read back");
    bench
        .line("--book stick/yard.holdtrue book verify")
        .exits(0)
        .shows("agrees");
}
