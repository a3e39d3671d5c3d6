//! What is asked at a terminal: the answer is taken, and what it was is in the result. Figures that cannot be; where the book
//! lies; whether a visit is complete.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::port::{Ended, Measuring};
use holdtrue_tests::screen::Terminal;
use serde_json::Value;

/// A command of which each question is answered in turn.
fn answered(bench: &Bench, words: &[&str], answers: &[(&str, &str)]) -> Ended {
    let mut run = Measuring::at_terminal(&mut bench.command(words.iter().copied()));
    for (question, answer) in answers {
        run.until(question);
        run.types(answer);
    }
    run.end()
}

fn mean_n(document: &Value) -> f64 {
    document["statistics"]["mean_n"].as_f64().expect("a mean")
}

#[test]
fn the_unit_that_was_meant_is_taken() {
    let bench = bench!();
    let words = ["grip", "--json", "--readings", "2200", "--unit", "kN"];
    let ended = answered(&bench, &words, &[("2200 lbf is 9.79 kN", "LBF")]).exits(0);
    // 2200 × 4.4482216152605 N, exact by definition.
    assert!((mean_n(&ended.json()) - 9_786.087_553_573_1).abs() < 1e-6);
    answered(&bench, &words, &[("which unit?", "")]).exits(2);
    // What is no answer is asked again, and yes is none.
    answered(
        &bench,
        &words,
        &[("which unit?", "yes"), ("which unit?", "")],
    )
    .exits(2);
}

#[test]
fn a_low_clamp_is_kept_as_read_and_marked() {
    let bench = bench!();
    let words = [
        "grip",
        "--json",
        "--readings",
        "9.8 9.9 2.1",
        "--unit",
        "kN",
    ];
    let ended = answered(&bench, &words, &[("2.1 kN: was it read so?", "as read")]).exits(0);
    let document = ended.json();
    assert!(
        document["notes"]
            .to_string()
            .contains("clamp 3 is kept as read")
    );
}

#[test]
fn a_comma_is_what_the_person_says_it_is() {
    let bench = bench!();
    let words = ["grip", "--json", "--readings", "9,800 9,900", "--unit", "N"];
    let thousands = [("9,800: thousands", "9800"), ("9,900: thousands", "9900")];
    let ended = answered(&bench, &words, &thousands).exits(0);
    assert!((mean_n(&ended.json()) - 9_850.0).abs() < 1e-9);
    let words = [
        "grip",
        "--json",
        "--readings",
        "9800,9900 9810",
        "--unit",
        "N",
    ];
    let ended = answered(&bench, &words, &[("two readings?", "9800 9900")]).exits(0);
    assert_eq!(ended.json()["statistics"]["count"], 3);
}

#[test]
fn how_many_positions_there_are_is_said_by_the_person() {
    let bench = bench!();
    let words = [
        "runout",
        "--json",
        "--readings",
        "0 3 5 3 0 -3 -5 -3 0",
        "--unit",
        "um",
    ];
    for (answer, stops) in [("8", 8), ("9", 9)] {
        let ended = answered(&bench, &words, &[("is one missing?", answer)]).exits(0);
        assert_eq!(ended.json()["planes"][0]["stops"], stops);
    }
}

/// The same on a terminal alone, which the program asks in plain lines.
fn at_terminal(bench: &Bench, words: &[&str], answers: &[(&str, &str)]) -> i32 {
    let mut command = bench.command(words.iter().copied());
    let mut terminal = Terminal::start(&mut command, 200, 40);
    for (question, answer) in answers {
        terminal.until(question);
        terminal.presses(format!("{answer}\r").as_bytes());
    }
    terminal.end()
}

/// A command under the name of Technician A.
fn typed<'a>(words: &[&'a str]) -> Vec<&'a str> {
    ["--technician", "Technician A"]
        .into_iter()
        .chain(words.iter().copied())
        .collect()
}

#[test]
fn the_first_run_asks_where_the_book_lies_and_a_second_book_is_asked_about() {
    let bench = bench!();
    std::fs::create_dir(bench.path("kept")).expect("a folder");
    let kept = bench.path("kept").display().to_string();
    let add = |name| typed(&["spindle", "add", "--interface", "BT40", name]);
    let answers = [("Where is the book of visits to lie?", kept.as_str())];
    assert_eq!(at_terminal(&bench, &add("Centre 1"), &answers), 0);
    assert!(bench.path("kept/visits.holdtrue").exists());
    assert!(!bench.path("visits.holdtrue").exists());
    // It is remembered: nothing is asked again, in whatever folder.
    assert_eq!(at_terminal(&bench, &add("Centre 2"), &[]), 0);
    bench.line("spindle list").exits(0).shows("Centre 2");
    let other: Vec<&str> = ["--book", "other.holdtrue"]
        .into_iter()
        .chain(add("Centre 3"))
        .collect();
    assert_eq!(
        at_terminal(&bench, &other, &[("Begin a second one?", "no")]),
        2
    );
    assert!(!bench.path("other.holdtrue").exists());
    assert_eq!(
        at_terminal(&bench, &other, &[("Begin a second one?", "yes")]),
        0
    );
    assert!(bench.path("other.holdtrue").exists());
    // A second one takes no other's place.
    let listed = bench.line("spindle list").exits(0);
    assert!(!listed.out.contains("Centre 3"), "{listed}");
}

#[test]
fn the_end_of_a_visit_asks_for_the_tool_and_offers_the_copy() {
    let bench = bench!();
    std::fs::create_dir(bench.path("stick")).expect("a folder");
    let set = ["settings", "--book", "visits.holdtrue", "--backup", "stick"];
    bench.run(set).exits(0);
    bench
        .run(typed(&["visit", "start", "--tool", "T12"]))
        .exits(0);
    let finish = typed(&["visit", "finish"]);
    let complete = "Finish the visit all the same?";
    assert_eq!(at_terminal(&bench, &finish, &[(complete, "no")]), 2);
    bench.line("visit status").exits(0).shows("Visit open");
    let copy = "Copy the book to";
    assert_eq!(
        at_terminal(&bench, &finish, &[(complete, "yes"), (copy, "yes")]),
        0
    );
    bench
        .line("--book stick/visits.holdtrue book check")
        .exits(0);
    // No is taken too: the copy stays as it was.
    bench.run(typed(&["visit", "start"])).exits(0);
    let before = std::fs::read(bench.path("stick/visits.holdtrue")).expect("the copy");
    assert_eq!(at_terminal(&bench, &finish, &[(copy, "no")]), 0);
    let after = std::fs::read(bench.path("stick/visits.holdtrue")).expect("the copy");
    assert!(before == after, "a copy nobody wanted");
}
