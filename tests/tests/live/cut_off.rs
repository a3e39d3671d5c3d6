//! A laptop that died while it wrote: every command puts the book right and goes on as if the write had never begun.

use crate::BOOK;
use crate::standing::calibrated;
use holdtrue_book::Book;
use holdtrue_simulated_gauge::Condition;
use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::cut_off::{cut_off, cut_off_in_creation, journal};
use holdtrue_tests::port::OwnPort;
use std::fs;
use std::process::Command;

/// Every command with a line that takes the book; what takes none has none. `PORT` is a gauge, `~` a blank in a
/// word.
const COMMANDS: &[(&str, &[&str])] = &[
    ("rehearse", &["rehearse --clamps 2"]),
    (
        "grip",
        &[
            "grip --gauge PORT --clamps 2 --yes",
            "grip --readings 9.8~9.9~9.7 --unit kN --store",
            "grip --from yard.holdtrue",
        ],
    ),
    (
        "runout",
        &[
            "runout --gauge PORT --at wall --free --yes",
            "runout --readings 1~2~3~2 --unit um --store",
            "runout --from yard.holdtrue",
        ],
    ),
    ("spindle add", &["spindle add Centre-9"]),
    ("spindle list", &["spindle list"]),
    ("spindle show", &["spindle show Centre-7"]),
    ("spindle edit", &["spindle edit Centre-7 --name Centre-8"]),
    (
        "spindle event",
        &["spindle event Centre-7 --what greased --on 2025-03"],
    ),
    ("trend", &["trend --figure grip-mean --spindle Centre-7"]),
    ("overview", &["overview"]),
    ("visit enter", &["visit enter --from notebook.csv"]),
    ("visit start", &["visit start"]),
    ("visit status", &["visit status"]),
    (
        "visit edit",
        &[
            "visit edit --consent-of yard",
            "visit edit --spindle Centre-7",
        ],
    ),
    ("visit finish", &["visit finish"]),
    ("visit amend", &["visit amend --because why"]),
    ("visit strike", &["visit strike --because why"]),
    ("check strike", &["check strike 1 --because why"]),
    ("finding add", &["finding add --item wall --in-order"]),
    ("finding round", &["finding round --answer taper-wall=fine"]),
    ("finding list", &["finding list"]),
    ("finding photos", &["finding photos saved"]),
    (
        "finding edit",
        &["finding edit 1 --text tight --because why"],
    ),
    ("finding strike", &["finding strike 1 --because why"]),
    ("report", &["report --html page.html"]),
    ("recheck", &["recheck"]),
    ("study", &["study"]),
    ("book check", &["book check"]),
    ("book backup", &["book backup copy.holdtrue"]),
    ("book merge", &["book merge yard.holdtrue"]),
    ("book verify", &["book verify"]),
    ("gauge check", &["gauge check --gauge PORT"]),
    ("gauge history", &["gauge history"]),
    ("gauge knob", &["gauge knob", "gauge knob --changed"]),
    (
        "gauge certificate",
        &[
            "gauge certificate --gauge PORT --yes --certificate TP-F-0118 --laboratory Tern-Point --date 2024-03-02 \
             --due 2094-03-02 --rated-n 25000 --span-n 500 20000 --uncertainty-percent 0.4 --uncertainty-n 8 \
             --coefficients 0~0.0116",
        ],
    ),
    (
        "gauge calibrate",
        &[
            "gauge calibrate --indicator --from blocks.csv --blocks-um 0.2 --gauge PORT --yes --certificate TP-C31 \
             --laboratory Tern-Point --date 2024-03-02 --due 2094-03-02",
        ],
    ),
    ("gauge list", &[]),
    ("gauge info", &[]),
    ("gauge update", &[]),
    ("limits list", &[]),
    ("limits show", &[]),
    ("limits check", &[]),
    ("prove", &[]),
    ("settings", &[]),
    ("schema", &[]),
    ("completions", &[]),
    ("man", &[]),
];

/// Commands as the help lists them.
fn listed(bench: &Bench, of: &str) -> Vec<String> {
    let help = bench.line(&format!("{of} --help")).exits(0).out;
    let after = help
        .split_once("Commands:\n")
        .map_or("", |(_, after)| after);
    let names = after
        .lines()
        .take_while(|line| !line.is_empty())
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    let words = names.filter_map(|line| line.split_whitespace().next());
    words
        .filter(|word| *word != "help")
        .map(str::to_owned)
        .collect()
}

#[test]
fn the_commands_tried_here_are_all_there_are() {
    let bench = bench!();
    let mut all = Vec::new();
    for command in listed(&bench, "") {
        let under = listed(&bench, &command);
        if under.is_empty() {
            all.push(command);
        } else {
            all.extend(under.iter().map(|each| format!("{command} {each}")));
        }
    }
    all.sort();
    let mut tried: Vec<&str> = COMMANDS.iter().map(|(name, _)| *name).collect();
    tried.sort_unstable();
    assert_eq!(all, tried);
}

fn lines() -> impl Iterator<Item = &'static str> {
    COMMANDS.iter().flat_map(|(_, lines)| lines.iter().copied())
}

fn run(bench: &Bench, line: &str, port: &OwnPort) -> Run {
    bench.file("blocks.csv", blocks());
    bench.file(
        "notebook.csv",
        "date,spindle,what,value,unit\n2019-05-12,Centre-7,holding,9.8,kN\n",
    );
    words(bench, &line.replace("PORT", &port.path))
}

fn words(bench: &Bench, line: &str) -> Run {
    let line = match line.contains("--book") {
        true => line.to_owned(),
        false => format!("--book {BOOK} --technician Tess {line}"),
    };
    let words: Vec<String> = line
        .split_whitespace()
        .map(|word| word.replace('~', " "))
        .collect();
    bench.run(words.iter().map(String::as_str))
}

/// Three runs over blocks of 0 to 400 µm, up and down, by an indicator that is right to a tenth of a micrometre.
fn blocks() -> String {
    let mut rows = String::from("run,direction,step_um,reading_um\n");
    for run in 1..=3 {
        for (direction, steps) in [
            ("up", [0, 100, 200, 300, 400]),
            ("down", [400, 300, 200, 100, 0]),
        ] {
            for step in steps {
                rows += &format!("{run},{direction},{step},{step}.{run}\n");
            }
        }
    }
    rows
}

fn gauge() -> OwnPort {
    OwnPort::of(calibrated(3, Condition::Sound, 60))
}

/// A book with a spindle, a finished visit and an open one with a check taken from a gauge.
fn yard() -> Bench {
    let bench = bench!();
    let port = gauge();
    for line in [
        "spindle add Centre-7",
        "visit start --spindle Centre-7",
        "finding add --item wall --in-order",
        "visit finish",
        "visit start",
        "grip --gauge PORT --clamps 2 --yes",
        "gauge check --gauge PORT",
    ] {
        run(&bench, line, &port).exits(0);
    }
    bench
}

#[test]
fn every_command_puts_a_book_right_that_was_cut_off_in_a_write() {
    let yard = yard();
    let whole = fs::read(yard.path(BOOK)).expect("the book");
    for line in lines() {
        let (bench, port) = (bench!(), gauge());
        bench.file(BOOK, &whole);
        let expected = run(&bench, line, &port);
        assert_ne!(expected.code, 6, "{expected}");
        let (bench, port) = (bench!(), gauge());
        bench.file(BOOK, &whole);
        cut_off(&bench.path(BOOK));
        let told = run(&bench, line, &port).exits(expected.code);
        assert!(
            !journal(&bench.path(BOOK)).exists(),
            "one file at rest\n{told}"
        );
        bench
            .line(&format!("--book {BOOK} book check"))
            .exits(0)
            .shows("sound");
    }
}

#[test]
fn every_command_goes_on_with_a_book_whose_creation_was_cut_off() {
    let yard = yard();
    // A file to read checks from must have some in it.
    let reads_a_file =
        |line: &&str| line.starts_with("grip --from") || line.starts_with("runout --from");
    for line in lines().filter(|line| !reads_a_file(line)) {
        let (bench, port) = (bench!(), gauge());
        Book::open_or_create(bench.path(BOOK)).expect("an empty book");
        let expected = run(&bench, line, &port);
        assert_ne!(expected.code, 6, "{expected}");
        let (bench, port) = (bench!(), gauge());
        cut_off_in_creation(&yard.path(BOOK), &bench.path(BOOK));
        let told = run(&bench, line, &port).exits(expected.code);
        assert!(
            !journal(&bench.path(BOOK)).exists(),
            "one file at rest\n{told}"
        );
        bench
            .line(&format!("--book {BOOK} book check"))
            .exits(0)
            .shows("sound");
    }
}

/// Killed between the file and its first byte: commands that write go on, those that read say what lies there.
#[test]
fn an_empty_file_is_a_book_not_yet_begun() {
    let bench = bench!();
    bench.file(BOOK, "");
    bench
        .line(&format!("--book {BOOK} visit status"))
        .exits(6)
        .tells("an empty file")
        .tells("Start a visit");
    bench.line(&format!("--book {BOOK} visit start")).exits(0);
    bench.line(&format!("--book {BOOK} visit status")).exits(0);
}

/// A medium that cannot be written: a mount name space of its own needs no rights beyond one's own, where the system
/// grants it. Root writes past permissions, so nothing less will do.
const ON_A_READ_ONLY_MEDIUM: &str =
    r#"mount --bind . . && mount -o remount,ro,bind . && cd "$PWD" && exec "$@""#;

#[test]
fn a_medium_that_cannot_be_written_says_what_was_found_and_what_to_copy() {
    let namespaces = Command::new("unshare").args(["-rm", "true"]).status();
    if !namespaces.is_ok_and(|status| status.success()) {
        eprintln!("not tried: this system gives no name space for a read-only medium");
        return;
    }
    let yard = yard();
    let read_only = |line: &str| {
        let mut command = Command::new("unshare");
        command
            .args(["-rm", "sh", "-c", ON_A_READ_ONLY_MEDIUM, "sh"])
            .arg(env!("CARGO_BIN_EXE_holdtrue-under-test"))
            .args(format!("--book {BOOK} {line}").split_whitespace())
            .env("HOLDTRUE_SETTINGS", yard.path("settings.toml"))
            .current_dir(yard.folder());
        yard.finish(&mut command)
    };
    read_only("visit status").exits(0);
    read_only("finding add --item fingers --in-order")
        .exits(6)
        .tells("cannot be written");
    let whole = fs::read(yard.path(BOOK)).expect("the book");
    cut_off(&yard.path(BOOK));
    let (half, its_journal) = (
        fs::read(yard.path(BOOK)).expect("the book"),
        fs::read(journal(&yard.path(BOOK))).expect("its journal"),
    );
    for words in [
        "visit status",
        "visit finish",
        "book check",
        "report --html page.html",
        "spindle add Centre-9",
    ] {
        read_only(words)
            .exits(6)
            .tells("was cut off")
            .tells("yard.holdtrue-journal")
            .tells("Copy BOTH files");
    }
    // What the message says is what helps.
    let bench = bench!();
    bench.file(BOOK, half);
    fs::write(journal(&bench.path(BOOK)), its_journal).expect("the journal");
    bench.line(&format!("--book {BOOK} visit status")).exits(0);
    assert_eq!(fs::read(bench.path(BOOK)).expect("the book"), whole);
}

/// Another program that holds the book while it is to be put right.
#[test]
fn a_book_that_is_held_while_it_is_to_be_put_right_is_said_to_be_held() {
    let (yard, half) = (yard(), bench!());
    let whole = fs::read(yard.path(BOOK)).expect("the book");
    half.file(BOOK, whole);
    cut_off(&half.path(BOOK));
    let holder = rusqlite::Connection::open(yard.path(BOOK)).expect("the book");
    holder.execute_batch("BEGIN EXCLUSIVE").expect("held");
    // Put there by another process: closing the file in this one would give up the lock.
    for part in [half.path(BOOK), journal(&half.path(BOOK))] {
        let copied = Command::new("cp").arg(part).arg(yard.folder()).status();
        assert!(copied.is_ok_and(|status| status.success()));
    }
    words(&yard, "visit status")
        .exits(6)
        .tells("another program has the book locked");
    drop(holder);
    words(&yard, "visit status").exits(0).shows("Visit open");
    assert!(!journal(&yard.path(BOOK)).exists());
}

#[cfg(unix)]
#[test]
fn a_book_reached_by_a_link_or_a_relative_or_a_strange_name_is_put_right() {
    let yard = yard();
    let whole = fs::read(yard.path(BOOK)).expect("the book");
    for name in [
        "Küste Süd/50% fertig?.holdtrue",
        "sub/../sub/yard.holdtrue",
        "file:yard.holdtrue",
    ] {
        let bench = bench!();
        fs::create_dir_all(bench.path("sub")).expect("a folder");
        fs::create_dir_all(bench.path(name).parent().expect("a folder")).expect("a folder");
        bench.file(name, &whole);
        cut_off(&bench.path(name));
        bench
            .run(["--book", name, "visit", "status"])
            .exits(0)
            .shows("Visit open");
        assert!(!journal(&bench.path(name)).exists(), "{name}");
    }
    let bench = bench!();
    fs::create_dir(bench.path("real")).expect("a folder");
    bench.file("real/yard.holdtrue", &whole);
    cut_off(&bench.path("real/yard.holdtrue"));
    std::os::unix::fs::symlink("real/yard.holdtrue", bench.path(BOOK)).expect("a link");
    bench
        .line(&format!("--book {BOOK} visit status"))
        .exits(0)
        .shows("Visit open");
    assert!(!journal(&bench.path("real/yard.holdtrue")).exists());
}

#[test]
fn what_is_no_book_is_refused_in_its_own_words_and_left_alone() {
    let bench = bench!();
    fs::create_dir(bench.path("folder")).expect("a folder");
    assert!(
        Command::new("mkfifo")
            .arg(bench.path("pipe"))
            .status()
            .is_ok_and(|s| s.success())
    );
    bench.file("letter", "a letter to the yard about the buoys");
    rusqlite::Connection::open(bench.path("other"))
        .and_then(|db| db.execute_batch("CREATE TABLE people (name)"))
        .expect("another program's file");
    for (name, told) in [
        ("folder", "a folder"),
        ("pipe", "a device or a pipe"),
        ("/dev/null", "a device or a pipe"),
        ("letter", "no database"),
        ("other", "another program's database"),
    ] {
        for line in [
            "visit status",
            "visit start",
            "grip --readings 9.8~9.9 --unit kN --store",
        ] {
            let run = words(&bench, &format!("--book {name} {line}"));
            run.exits(6).tells(told);
        }
    }
}
