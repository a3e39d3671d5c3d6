//! A whole visit against the simulated gauge, and everything read back from what it left.

use holdtrue_tests::bench;
use serde_json::Value;

#[test]
fn a_rehearsal_leaves_a_book_and_a_page_that_agree_with_it() {
    let bench = bench!();
    let run = bench.line("rehearse --seed 3 --json").exits(0);
    let document = run.json();
    assert_eq!(
        (&document["condition"], &document["seed"]),
        (&"sound".into(), &3.into()),
        "{run}"
    );
    assert_eq!(document["grip"]["statistics"]["count"], 5, "{run}");
    assert_eq!(document["outcome"], "accept", "{run}");
    let path = |key: &str| bench.path(document[key].as_str().expect("a path"));
    let page = std::fs::read_to_string(path("page")).expect("the page");
    for text in ["Tern Point", "invented", "Within limit", "kN", "<svg"] {
        assert!(page.contains(text), "no \"{text}\" on the page");
    }
    let book = document["book"].as_str().expect("a path").to_owned();
    bench
        .run(["--book", &book, "book", "check"])
        .exits(0)
        .shows("sound");
    bench
        .run(["--book", &book, "book", "verify"])
        .exits(0)
        .shows("agrees");
}

#[test]
fn a_stored_check_is_computed_from_its_frames_to_the_same_digits() {
    let bench = bench!();
    let first = bench.line("rehearse --seed 4 --json").exits(0).json();
    let book = first["book"].as_str().expect("a path").to_owned();
    let again = bench
        .run(["grip", "--from", &book, "--json"])
        .exits(0)
        .json();
    assert_eq!(again, first["grip"]);
    bench
        .run(["--book", &book, "recheck"])
        .exits(0)
        .shows("all the same");
    // Runout too, of its stored readings; and which set of which visit can be said.
    let again = bench
        .run(["runout", "--from", &book, "--json"])
        .exits(0)
        .json();
    assert_eq!(again, first["runout"]);
    let by_number = |command: &str, set: &str| bench.run([command, "--from", &book, "--set", set]);
    by_number("grip", "1").exits(0).shows("within limit");
    by_number("runout", "2").exits(0).shows("within limit");
    by_number("runout", "1")
        .exits(4)
        .tells("set 1 is no runout check");
    by_number("grip", "9").exits(4).tells("visit status");
    let mut held = vec!["runout", "--from", &book];
    held.extend(["--limit-um", "300=1.5", "--uncertainty-um", "0.2"]);
    bench.run(held).exits(1).shows("outside limit");
    bench
        .line("grip --readings 9.8,9.9 --unit kN --visit 0123")
        .exits(2)
        .tells("--visit names a visit of a book");
    // The check of a gauge names its calibration record by more than its identifier.
    let stored = std::fs::read(bench.path(&book)).expect("the book");
    let place = stored.windows(11).position(|bytes| bytes == b"forcewire-1");
    let certificate = place.expect("the calibration of the force") + 40;
    let mut changed = stored.clone();
    changed[certificate] ^= 1;
    bench.file("changed.holdtrue", changed);
    bench
        .line("--book changed.holdtrue recheck")
        .exits(1)
        .shows("calibration: stored")
        .shows("why: the calibration differs: the record in the book is not the one the result was computed by");
    // Held to another limit the same forces are too low.
    let run = bench
        .run(["grip", "--from", &book, "--limit-n", "12000", "--json"])
        .exits(1);
    assert_eq!(run.json()["clamps"], first["grip"]["clamps"], "{run}");
}

#[test]
fn a_second_rehearsal_is_added_to_the_first() {
    let bench = bench!();
    let first = bench.line("rehearse --seed 1 --json").exits(0).json();
    let second = bench.line("rehearse --seed 1 --json").exits(0).json();
    assert_eq!(first["book"], second["book"]);
    assert_ne!(first["page"], second["page"], "the first page stays");
    assert_eq!(
        first["grip"], second["grip"],
        "one seed, one spindle, one hand"
    );
    let book = first["book"].as_str().expect("a path").to_owned();
    let verified = bench
        .run(["--book", &book, "book", "verify", "--json"])
        .exits(0)
        .json();
    assert_eq!(verified["visits"].as_array().map(Vec::len), Some(2));
}

#[test]
fn a_leaking_drawbar_is_never_within_limit() {
    for seed in [1, 2, 3] {
        let bench = bench!();
        let run = bench.line(&format!(
            "rehearse --condition leaking --seed {seed} --json"
        ));
        let document = run.json();
        assert_ne!(run.code, 0, "{run}");
        assert_ne!(document["grip"]["verdict"]["outcome"], "accept", "{run}");
        let reason = &document["grip"]["verdict"]["reasons"][0];
        let told = reason.as_str().unwrap_or_default();
        assert!(
            told.contains("% a second") && told.contains("do not run until the cause is found"),
            "{told}"
        );
        assert_eq!(document["grip"]["hints"][0]["cause"], "leak", "{run}");
    }
}

/// Their wall runs true, and some of what lies in the seat lies alike in all four seatings, which reads like the spindle.
#[test]
fn a_dirty_seat_alone_rejects_no_spindle() {
    for seed in [30_006, 30_156] {
        let bench = bench!();
        let line = format!("rehearse --condition dirty-taper --seed {seed} --json");
        let run = bench.line(&line).exits(3);
        let document = run.json();
        assert_eq!(
            document["runout"]["verdict"]["outcome"], "undecided",
            "{run}"
        );
        let reasons = document["runout"]["verdict"]["reasons"].to_string();
        assert!(reasons.contains("dirt that lay alike"), "{reasons}");
        let to_decide = document["runout"]["verdict"]["would_decide"].to_string();
        assert!(
            to_decide.contains("clean, and seat the bar")
                || to_decide.contains("wipe taper and bar"),
            "{to_decide}"
        );
    }
}

#[test]
fn weak_springs_are_outside_the_limit() {
    let bench = bench!();
    let run = bench
        .line("rehearse --condition weak-springs --json")
        .exits(1);
    let document = run.json();
    assert_eq!(document["outcome"], "reject", "{run}");
    let causes: Vec<&Value> = document["grip"]["hints"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|hint| &hint["cause"])
        .collect();
    assert_eq!(causes.first(), Some(&&Value::from("weak-springs")), "{run}");
}

/// The picture of a run in the README is real output: every line of it comes out of the command it shows.
#[test]
fn the_readme_shows_what_the_program_prints() {
    let readme = include_str!("../../../README.md");
    let picture = readme
        .split("```text\n")
        .nth(1)
        .and_then(|rest| rest.split("```").next())
        .expect("the picture");
    let run = bench!().line("rehearse").exits(0);
    for line in picture.lines().filter(|line| !line.is_empty()) {
        assert!(run.out.contains(line), "not printed: {line}\n{run}");
    }
}
