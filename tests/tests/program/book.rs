//! Spindles, visits and findings in a book.

use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::force::{Made, MadeClamp};
use holdtrue_tests::schema::differences;
use serde_json::Value;

const ADD: &[&str] = &[
    "spindle",
    "add",
    "Centre 1",
    "--invented",
    "--place",
    "Tern Point buoy yard",
    "--interface",
    "7/24 no. 40",
    "--drawbar",
    "disc-springs",
    "--nominal-n",
    "9800",
    "--machine-serial",
    "TP-0001",
];

fn with_book() -> Bench {
    let bench = bench!();
    in_book(&bench, ADD).exits(0);
    bench
}

fn in_book(bench: &Bench, words: &[&str]) -> Run {
    bench.run(
        ["--book", "yard.holdtrue", "--technician", "Technician A"]
            .iter()
            .chain(words)
            .copied(),
    )
}

/// Changes bytes of the book on the disk, past the program.
fn change_bytes(bench: &Bench, from: &[u8], to: &[u8]) {
    let mut bytes = std::fs::read(bench.path("yard.holdtrue")).expect("the book");
    let places: Vec<usize> = (0..=bytes.len() - from.len())
        .filter(|&at| bytes[at..].starts_with(from))
        .collect();
    assert!(!places.is_empty(), "the book does not hold these bytes");
    for at in places {
        bytes[at..at + to.len()].copy_from_slice(to);
    }
    bench.file("yard.holdtrue", bytes);
}

#[test]
fn a_spindle_is_entered_changed_and_shown() {
    let bench = with_book();
    in_book(&bench, &["spindle", "show", "centre 1"])
        .exits(0)
        .shows("9.80 kN")
        .shows("7/24-40")
        .shows("invented");
    in_book(
        &bench,
        &[
            "spindle",
            "edit",
            "Centre 1",
            "--nominal-n",
            "10200",
            "--name",
            "Centre 1A",
        ],
    )
    .exits(0);
    let list = in_book(&bench, &["spindle", "list", "--json"])
        .exits(0)
        .json();
    let spindle = &list["spindles"][0];
    assert_eq!(
        (&spindle["name"], &spindle["grip_nominal_n"]),
        (&"Centre 1A".into(), &10_200.0.into())
    );
    assert_eq!(
        spindle["machine_serial"], "TP-0001",
        "what was not changed stays"
    );
    let by_id = spindle["id"].as_str().expect("an id").to_owned();
    in_book(&bench, &["spindle", "show", &by_id[by_id.len() - 8..]])
        .exits(0)
        .shows("Centre 1A");
    in_book(
        &bench,
        &["spindle", "edit", "Centre 1A", "--remove", "entered twice"],
    )
    .exits(0);
    in_book(&bench, &["spindle", "list"])
        .exits(0)
        .shows("No spindle yet");
}

#[test]
fn a_name_is_taken_once_and_a_wrong_one_is_answered_with_the_right_ones() {
    let bench = with_book();
    in_book(&bench, ADD).exits(2).tells("already");
    in_book(&bench, &["spindle", "show", "Centre 9"])
        .exits(2)
        .tells("Centre 1");
    in_book(
        &bench,
        &["spindle", "add", "Centre 2", "--interface", "MT4"],
    )
    .exits(2)
    .tells("HSK-A63");
}

#[test]
fn a_book_that_is_not_there_is_not_made_by_looking() {
    let bench = bench!();
    for words in [
        &["spindle", "list"][..],
        &["visit", "status"],
        &["book", "check"],
        &["visit", "finish"],
    ] {
        let run = in_book(&bench, words).exits(6).tells("yard.holdtrue");
        assert!(!bench.path("yard.holdtrue").exists(), "{run}");
    }
    bench.file(
        "yard.holdtrue",
        "this is no book, it is a letter to the yard about the buoys",
    );
    in_book(&bench, &["spindle", "list"])
        .exits(6)
        .tells("not a book");
}

#[test]
fn the_book_is_found_by_its_variable() {
    let bench = with_book();
    let mut command = bench.command(["spindle", "list"]);
    command.env("HOLDTRUE_BOOK", bench.path("yard.holdtrue"));
    bench.finish(&mut command).exits(0).shows("Centre 1");
}

#[test]
fn a_visit_from_start_to_finish() {
    let bench = with_book();
    in_book(&bench, &["visit", "status"])
        .exits(0)
        .shows("No visit is open");
    in_book(&bench, &["visit", "finish"])
        .exits(2)
        .tells("visit start");
    in_book(
        &bench,
        &["visit", "start", "--short", "--power-on-hours", "12000"],
    )
    .exits(0)
    .shows("unnamed")
    .shows("To do");
    in_book(&bench, &["visit", "start"])
        .exits(2)
        .tells("still open");
    in_book(
        &bench,
        &[
            "visit",
            "edit",
            "--spindle",
            "Centre 1",
            "--consent-of",
            "the yard",
        ],
    )
    .exits(0);
    in_book(
        &bench,
        &[
            "finding",
            "add",
            "--item",
            "gripper fingers",
            "--severity",
            "soon",
            "one finger is cracked",
        ],
    )
    .exits(0);
    in_book(
        &bench,
        &["finding", "add", "--item", "taper wall", "--in-order"],
    )
    .exits(0);
    in_book(
        &bench,
        &[
            "finding",
            "add",
            "--item",
            "way covers",
            "--not-examined",
            "no time was left",
        ],
    )
    .exits(0);
    let status = in_book(&bench, &["visit", "status", "--json"])
        .exits(0)
        .json();
    let visit = &status["visit"];
    assert_eq!(visit["spindle_name"], "Centre 1");
    assert_eq!(visit["header"]["technician"], "Technician A");
    assert_eq!(visit["header"]["power_on_hours"], 12_000.0);
    assert_eq!(
        (&visit["findings"], &visit["not_examined"]),
        (&3.into(), &1.into())
    );
    in_book(&bench, &["visit", "finish"])
        .exits(0)
        .shows("check code");
    in_book(&bench, &["finding", "add", "--item", "late", "--in-order"]).exits(2);
    in_book(&bench, &["finding", "list"])
        .exits(0)
        .shows("spindle, gripper fingers: within weeks: one finger is cracked")
        .shows("spindle, taper wall: in order")
        .shows("spindle, way covers: not examined, because no time was left");
    in_book(&bench, &["spindle", "show", "Centre 1"]).shows("by Technician A");
}

#[test]
fn a_finding_needs_its_urgency_or_says_why_not() {
    let bench = with_book();
    in_book(&bench, &["visit", "start"]).exits(0);
    in_book(&bench, &["finding", "add", "--item", "fingers", "cracked"]).exits(2);
    in_book(
        &bench,
        &["finding", "add", "--item", "fingers", "--not-examined"],
    )
    .exits(2);
    in_book(
        &bench,
        &[
            "finding",
            "add",
            "--item",
            "fingers",
            "--in-order",
            "--severity",
            "soon",
        ],
    )
    .exits(2);
}

#[test]
fn a_page_is_held_to_the_book() {
    let bench = with_book();
    in_book(&bench, &["visit", "start", "--spindle", "Centre 1"]).exits(0);
    let finished = in_book(&bench, &["visit", "finish", "--json"])
        .exits(0)
        .json();
    let digest = finished["visit"]["digest"]
        .as_str()
        .expect("a digest")
        .to_owned();
    in_book(&bench, &["book", "verify"])
        .exits(0)
        .shows("agrees")
        .shows(&digest);
    in_book(&bench, &["book", "verify", &digest.to_uppercase()])
        .exits(0)
        .shows("Centre 1");
    let last = digest.chars().last().expect("a digit");
    let other = format!(
        "{}{}",
        &digest[..digest.len() - 1],
        if last == '0' { '1' } else { '0' }
    );
    in_book(&bench, &["book", "verify", &other])
        .exits(6)
        .tells("no finished visit");
    let id = finished["visit"]["id"].as_str().expect("an id").to_owned();
    let run = in_book(
        &bench,
        &["book", "verify", &other, "--visit", &id, "--json"],
    )
    .exits(6)
    .tells(&digest);
    assert_eq!(run.json()["error"]["code"], 6);
    in_book(&bench, &["book", "verify", "half a digest"])
        .exits(2)
        .tells("64 hexadecimal digits");
}

#[test]
fn a_sound_book_is_said_to_be_sound_and_a_damaged_one_is_exit_6() {
    let bench = with_book();
    in_book(&bench, &["visit", "start", "--spindle", "Centre 1"]).exits(0);
    in_book(&bench, &["visit", "finish"]).exits(0);
    let sound = in_book(&bench, &["book", "check", "--json"])
        .exits(0)
        .json();
    assert_eq!(
        (&sound["sound"], &sound["digests_good"]),
        (&true.into(), &1.into())
    );
    // One letter of the spindle's name changed on the disk, as a bad sector or an unfair hand would.
    change_bytes(&bench, b"Centre 1", b"Kentre 1");
    let run = in_book(&bench, &["book", "check", "--json"])
        .exits(6)
        .tells("damaged");
    let document: Value = run.json();
    assert_eq!(document["sound"], false, "{run}");
    assert_eq!(document["error"]["code"], 6, "{run}");
    in_book(&bench, &["book", "verify"])
        .exits(6)
        .shows("DIFFERS");
}

#[test]
fn documents_are_as_their_schemas_say() {
    let bench = with_book();
    in_book(&bench, &["visit", "start", "--spindle", "Centre 1"]).exits(0);
    in_book(
        &bench,
        &["finding", "add", "--item", "taper wall", "--in-order"],
    )
    .exits(0);
    for (name, words) in [
        ("spindle-list", &["spindle", "list"][..]),
        ("spindle-show", &["spindle", "show", "Centre 1"]),
        ("visit", &["visit", "status"]),
        ("finding-list", &["finding", "list"]),
        ("visit", &["visit", "finish"]),
        ("book-check", &["book", "check"]),
        ("book-verify", &["book", "verify"]),
    ] {
        let schema = bench.run(["schema", name]).exits(0).json();
        let document = in_book(&bench, &[words, &["--json"]].concat())
            .exits(0)
            .json();
        assert_eq!(
            differences(&schema, &document),
            Vec::<String>::new(),
            "{words:?}"
        );
    }
}

#[test]
fn a_record_and_its_result_are_kept_in_the_open_visit_when_asked() {
    let bench = with_book();
    in_book(&bench, &["visit", "start", "--spindle", "Centre 1"]).exits(0);
    let clamps = [9_800.0, 9_900.0, 9_750.0].map(MadeClamp::of);
    bench.file("set.csv", Made::default().csv(&clamps));
    // The maker's nominal of 9.8 kN on the spindle's page limits the mean at 70 %: 6.86 kN.
    let words = [
        "grip",
        "--from",
        "set.csv",
        "--store",
        "--uncertainty-percent",
        "1",
        "--state",
        "as-found",
        "--json",
    ];
    let run = in_book(&bench, &words).exits(0).tells("Stored");
    let document = run.json();
    let limit = &document["verdict"]["limits"][0];
    assert_eq!(
        (&limit["figure"], &limit["limit"]),
        (&"grip-mean".into(), &6_860.0.into()),
        "{run}"
    );
    let words = [
        "grip",
        "--readings",
        "9.7 9.8",
        "--unit",
        "kN",
        "--store",
        "--uncertainty-percent",
        "1",
        "--state",
        "as-left",
    ];
    in_book(&bench, &words).exits(0);
    let visit = in_book(&bench, &["visit", "status", "--json"])
        .exits(0)
        .json()["visit"]
        .clone();
    let check = |number: usize, key: &str| visit["checks"][number][key].clone();
    assert_eq!(
        (check(0, "recorded"), check(0, "outcome"), check(0, "state")),
        (3.into(), "accept".into(), "as_found".into())
    );
    assert_eq!(
        (
            check(1, "recorded"),
            check(1, "finished"),
            check(1, "state")
        ),
        (2.into(), true.into(), "as_left".into())
    );
    in_book(&bench, &["visit", "finish"]).exits(0);
    in_book(&bench, &["book", "check"]).exits(0).shows("sound");
}

#[test]
fn storing_without_a_visit_opens_one_for_a_spindle_yet_unnamed() {
    let bench = bench!();
    in_book(
        &bench,
        &["grip", "--readings", "9.7 9.8", "--unit", "kN", "--store"],
    )
    .exits(0);
    in_book(&bench, &["visit", "status"])
        .exits(0)
        .shows("unnamed")
        .shows("grip");
}

#[test]
fn stored_results_computed_again_are_the_same_and_a_forged_one_differs() {
    let bench = with_book();
    in_book(&bench, &["visit", "start", "--spindle", "Centre 1"]).exits(0);
    let clamps = [9_800.0, 9_900.0, 9_750.0].map(MadeClamp::of);
    bench.file("set.csv", Made::default().csv(&clamps));
    in_book(
        &bench,
        &[
            "grip",
            "--from",
            "set.csv",
            "--clamps",
            "2",
            "--store",
            "--uncertainty-percent",
            "1",
        ],
    )
    .exits(0);
    in_book(
        &bench,
        &[
            "grip",
            "--readings",
            "9.7 9.8",
            "--unit",
            "kN",
            "--store",
            "--uncertainty-percent",
            "1",
        ],
    )
    .exits(0);
    in_book(
        &bench,
        &[
            "runout",
            "--readings",
            "0 3 0 -3",
            "--unit",
            "um",
            "--store",
        ],
    )
    .exits(0);
    let schema = bench.line("schema recheck").exits(0).json();
    let run = in_book(&bench, &["recheck", "--json"]).exits(0);
    let document = run.json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    assert_eq!(
        (
            document["checks"].as_array().map(Vec::len),
            &document["differing"]
        ),
        (Some(3), &0.into()),
        "{run}"
    );

    // A result somebody made better on the disk: the stored mean of 9850 N no longer follows from the record.
    change_bytes(&bench, b"\"mean_n\":9850.0", b"\"mean_n\":9950.0");
    let run = in_book(&bench, &["recheck", "--json"]).exits(1);
    let document = run.json();
    assert_eq!(document["differing"], 1, "{run}");
    assert_eq!(
        document["checks"][0]["differences"][0]["place"], "/statistics/mean_n",
        "{run}"
    );
    assert_eq!(
        document["checks"][0]["causes"][0]["cause"], "changed",
        "{run}"
    );
    in_book(&bench, &["recheck"])
        .exits(1)
        .shows("DIFFERS")
        .shows("stored 9950.0, now 9850.0")
        .shows("why: changed past the program");
}

/// A check within its limit in a book of its own.
fn judged() -> Bench {
    let bench = with_book();
    in_book(&bench, &["visit", "start", "--spindle", "Centre 1"]).exits(0);
    let words = "grip --readings 9.8;9.9;9.85;9.8;9.9 --unit kN --limit-n 7000 --uncertainty-percent 0.5 --store";
    let words: Vec<&str> = words.split(' ').collect();
    in_book(&bench, &words).exits(0);
    bench
}

/// What `recheck` says after bytes of the book were changed past the program.
fn rechecked(from: &str, to: &str) -> (Bench, Value) {
    let bench = judged();
    change_bytes(&bench, from.as_bytes(), to.as_bytes());
    let schema = bench.line("schema recheck").exits(0).json();
    let document = in_book(&bench, &["recheck", "--json"]).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    (bench, document)
}

/// The name and version of the analysis of grip checks.
fn grip_analysis() -> String {
    let document = in_book(&judged(), &["recheck", "--json"]).exits(0).json();
    let now = document["checks"][0]["analysis_now"].as_str();
    now.expect("a version").to_owned()
}

#[test]
fn recheck_reads_the_outcome_beside_the_result_too() {
    let analysis = grip_analysis();
    let (bench, document) = rechecked(&format!("{analysis}accept"), &format!("{analysis}reject"));
    let difference = &document["checks"][0]["differences"][0];
    assert_eq!(
        (
            &difference["place"],
            &difference["stored"],
            &difference["now"]
        ),
        (&"outcome".into(), &"reject".into(), &"accept".into()),
        "{document:#}"
    );
    assert_eq!(difference["causes"], serde_json::json!(["changed"]));
    in_book(&bench, &["recheck"])
        .exits(1)
        .shows("outcome: stored \"reject\", now \"accept\"");
}

#[test]
fn recheck_tells_of_limits_that_are_not_those_of_the_result() {
    // the limits file that is kept
    let (bench, document) = rechecked("limit = 7000.0", "limit = 12000.");
    let difference = &document["checks"][0]["differences"][0];
    assert_eq!(difference["place"], "limits", "{document:#}");
    assert_eq!(difference["causes"], serde_json::json!(["limits"]));
    in_book(&bench, &["recheck"])
        .exits(1)
        .shows("why: the limits file in the book is not the one the result was judged by");
    // the limits the check was begun with, in its own words
    let judged_by =
        |limit: &str| format!("{limit},\"unit\":\"N\",\"provenance\":\"common-practice\"}}");
    let (bench, document) = rechecked(&judged_by("7000.0"), &judged_by("9900.0"));
    let run = in_book(&bench, &["recheck"]).exits(1);
    assert_eq!(document["differing"], 1, "{run}");
    run.shows("why: the limits in the check are not those of its limits file");
}

#[test]
fn another_version_of_the_analysis_is_mentioned_and_blamed_only_where_figures_differ() {
    let analysis = grip_analysis();
    let older = analysis.replace(|c: char| c.is_ascii_digit(), "0");
    let (bench, document) = rechecked(&format!("{analysis}accept"), &format!("{older}accept"));
    assert_eq!(document["differing"], 0, "{document:#}");
    in_book(&bench, &["recheck"]).exits(0).shows(&format!(
        "stored by analysis {older}, computed by {analysis}: no figure is another"
    ));
    change_bytes(&bench, b"\"mean_n\":9850.0", b"\"mean_n\":9950.0");
    in_book(&bench, &["recheck"]).exits(1).shows(&format!(
        "why: the analysis has changed (stored by {older}, computed by {analysis})"
    ));
}

#[test]
fn one_name_is_one_spindle_however_it_is_typed() {
    let bench = bench!();
    in_book(&bench, &["spindle", "add", "  Centre   1 "])
        .exits(0)
        .shows("spindle         Centre 1");
    for again in ["Centre 1", "CENTRE 1", "\u{a0}centre 1"] {
        in_book(&bench, &["spindle", "add", again])
            .exits(2)
            .tells("already");
        in_book(&bench, &["spindle", "show", again]).exits(0);
    }
    in_book(&bench, &["spindle", "add", "Caf\u{e9}"]).exits(0);
    in_book(&bench, &["spindle", "add", "Cafe\u{301}"])
        .exits(2)
        .tells("already");
    in_book(
        &bench,
        &["spindle", "edit", "Caf\u{e9}", "--name", "Centre 1"],
    )
    .exits(2)
    .tells("already");
    for none in ["", " ", "\u{200b}", "Centre\u{1b}[2J"] {
        in_book(&bench, &["spindle", "add", none]).exits(2);
        in_book(&bench, &["settings", "--name", none]).exits(2);
    }
}
