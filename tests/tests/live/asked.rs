//! Figures that cannot be, asked about at a terminal: the answer is taken, and what it was is in the result.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::port::{Ended, Measuring};
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
