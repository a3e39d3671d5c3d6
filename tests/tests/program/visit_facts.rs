//! What is known of a visit beside its checks: counters held to earlier visits, and what happened between them.

use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::schema::differences;
use serde_json::Value;

fn yard() -> Bench {
    let bench = bench!();
    for name in ["Centre 1", "Centre 2"] {
        bench
            .in_book("spindle add --interface BT40", &[name])
            .exits(0);
    }
    bench
}

/// A visit from paper, begun and ended.
fn was(bench: &Bench, day: &str, facts: &str) -> Run {
    let line = format!("visit start --date {day} {facts} --spindle");
    let run = bench.in_book(&line, &["Centre 1"]);
    if run.code == 0 {
        bench.in_book("visit finish", &[]).exits(0);
    }
    run
}

fn events(bench: &Bench) -> Vec<Value> {
    let shown = bench
        .in_book("spindle show --json", &["Centre 1"])
        .exits(0)
        .json();
    shown["events"].as_array().expect("events").clone()
}

#[test]
fn every_fact_is_kept_shown_and_printed() {
    let bench = yard();
    let facts = "visit start --reason acceptance --order-number TP-77 --consent-of owner --operated-by fitter --power-on-hours \
                 1200.5 --spindle-hours 800 --cutting-hours 400 --tool-changes 9000 --ambient-c -3 --temperature-c 31 \
                 --running-min 20 --tool 12 --json";
    let more = [
        "--customer",
        "Tern Point buoy yard",
        "--spindle",
        "Centre 1",
    ];
    let started = bench.in_book(facts, &more).exits(0).json();
    let schema = bench.in_book("schema visit", &[]).json();
    assert_eq!(differences(&schema, &started), Vec::<String>::new());
    let header = &started["visit"]["header"];
    assert_eq!(header["purpose"], "acceptance");
    assert_eq!(header["spindle_hours"], 800.0);
    assert_eq!(header["ambient_c"], -3.0);
    let status = bench.in_book("visit status", &[]).exits(0);
    for words in [
        "acceptance",
        "Tern Point buoy yard",
        "TP-77",
        "1200.5 power-on hours",
        "800 spindle hours",
        "air -3 °C",
    ] {
        assert!(status.out.contains(words), "no {words}\n{status}");
    }
    bench
        .in_book("visit edit --purpose after-repair", &[])
        .exits(0)
        .shows("after-repair");
    bench.in_book("visit finish --yes", &[]).exits(0);
    bench.in_book("report --html page.html", &[]).exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    for words in [
        "after repair",
        "TP-77",
        "spindle hours",
        "temperature of the air",
        "Tern Point buoy yard",
    ] {
        assert!(page.contains(words), "no {words} on the page");
    }
    bench.in_book("book verify", &[]).exits(0);
    bench
        .in_book("visit start --reason holiday", &[])
        .exits(2)
        .tells("before-purchase");
}

#[test]
fn a_counter_that_fell_is_asked_about_and_a_new_control_ends_the_question() {
    let bench = yard();
    was(
        &bench,
        "2023-03-01",
        "--power-on-hours 12000 --tool-changes 90000",
    )
    .exits(0);
    let fell = "--power-on-hours 300";
    was(&bench, "2024-03-01", fell)
        .exits(2)
        .tells("power-on hours 300")
        .tells("1 March 2023 has 12000")
        .tells("--control-replaced")
        .tells("--as-read");
    was(&bench, "2024-03-01", &format!("{fell} --yes")).exits(2);
    let shown = bench.in_book("spindle show --json", &["Centre 1"]).json();
    assert_eq!(
        shown["visits"].as_array().map(Vec::len),
        Some(1),
        "nothing was started"
    );

    was(&bench, "2024-03-01", &format!("{fell} --control-replaced")).exits(0);
    let known = events(&bench);
    assert_eq!(known.len(), 1);
    assert_eq!(
        (&known[0]["what"], &known[0]["on"]),
        (&"control-replaced".into(), &"2024-03-01".into())
    );
    // The next is held to the new control: it may not fall again, and the old tool changes say nothing.
    was(&bench, "2025-03-01", "--power-on-hours 200")
        .exits(2)
        .tells("1 March 2024 has 300");
    was(
        &bench,
        "2025-03-01",
        "--power-on-hours 900 --tool-changes 50",
    )
    .exits(0);
    // What lies before the new control is held to the old one.
    was(&bench, "2022-03-01", "--power-on-hours 13000")
        .exits(2)
        .tells("later visit of 1 March 2023 has only 12000");
    was(&bench, "2022-03-01", "--power-on-hours 8000").exits(0);
    // Another spindle is another control.
    let line = "visit start --power-on-hours 5 --spindle";
    bench.in_book(line, &["Centre 2"]).exits(0);
    // The spindle named later is asked about then.
    bench
        .in_book("visit edit --spindle", &["Centre 1"])
        .exits(2)
        .tells("power-on hours 5");
    bench
        .in_book("visit edit --as-read --spindle", &["Centre 1"])
        .exits(0);
    bench.in_book("visit edit --consent-of owner", &[]).exits(0);
    bench.in_book("visit finish", &[]).exits(0);
    bench.in_book("report --html page.html", &[]).exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(
        page.contains("Meant as it reads: power-on hours 5"),
        "the page says that it was asked"
    );
}

#[test]
fn a_new_control_entered_as_an_event_is_no_question_at_the_next_visit() {
    let bench = yard();
    was(&bench, "2023-03", "--spindle-hours 4000").exits(0);
    let event = "spindle event --what control-replaced --on 2023 --text board";
    bench.in_book(event, &["Centre 1"]).exits(0);
    was(&bench, "2024-03-01", "--spindle-hours 10").exits(0);
    assert_eq!(events(&bench).len(), 1);
}

#[test]
fn hours_are_not_counted_faster_than_they_pass() {
    let bench = yard();
    was(
        &bench,
        "2024-03-01",
        "--power-on-hours 1000 --tool-changes 100",
    )
    .exits(0);
    // From the beginning of the one day to the end of the other, 48 hours.
    was(&bench, "2024-03-02", "--power-on-hours 1060")
        .exits(2)
        .tells("only 48 hours");
    was(&bench, "2024-03-02", "--power-on-hours 1049").exits(0);
    was(&bench, "2024-03-03", "--tool-changes 99999999")
        .exits(2)
        .tells("tool changes");
    was(&bench, "2024-02", "--power-on-hours 10")
        .exits(2)
        .tells("1 March 2024");
    was(
        &bench,
        "2024-03-04",
        "--power-on-hours 1100 --cutting-hours 1200",
    )
    .exits(2)
    .tells("part of");
    // A month of which the day is not known may be the whole month away.
    was(&bench, "2024-04", "--power-on-hours 2400").exits(0);
}

#[test]
fn events_of_a_spindle_are_entered_once_listed_by_their_day_and_struck() {
    let bench = yard();
    let springs = "spindle event --what springs-changed --on 2025-03-12 --text";
    let more = ["twelve new pairs", "Centre 1"];
    bench
        .in_book(springs, &more)
        .exits(0)
        .shows("springs changed: twelve new pairs")
        .shows("12 March 2025");
    bench.in_book(springs, &more).exits(0).tells("already");
    bench
        .in_book("spindle event --what greased --on 2024", &["Centre 1"])
        .exits(0);
    bench
        .in_book("spindle event --what cleaned --on 2025-03", &["Centre 1"])
        .exits(0);
    let days: Vec<Value> = events(&bench)
        .iter()
        .map(|event| event["on"].clone())
        .collect();
    assert_eq!(days, ["2024", "2025-03", "2025-03-12"]);
    let shown = bench.in_book("spindle show --json", &["Centre 1"]).json();
    let schema = bench.in_book("schema spindle-show", &[]).json();
    assert_eq!(differences(&schema, &shown), Vec::<String>::new());
    for (words, tells) in [
        ("--what greased --on 2999-01-01", "future"),
        ("--what greased --on 2025-02-30", "calendar"),
        ("--what greased --on lately", "2019-05"),
        ("--what crashed --on 2025", "springs-changed"),
        ("--on 2025", "--what"),
        ("--strike abcdef12", "--because"),
    ] {
        bench
            .in_book(&format!("spindle event {words}"), &["Centre 1"])
            .exits(2)
            .tells(tells);
    }
    bench
        .in_book("spindle event --what greased", &["Centre 9"])
        .exits(2)
        .tells("Centre 1");
    let id = events(&bench)[0]["id"].as_str().expect("an id").to_owned();
    let strike = [
        "--strike",
        &id,
        "--because",
        "the other machine",
        "Centre 1",
    ];
    bench.in_book("spindle event", &strike).exits(0);
    assert_eq!(events(&bench).len(), 2);
    bench.in_book("book check", &[]).exits(0);
}

#[test]
fn a_set_without_a_state_is_named_while_the_visit_is_open_and_paper_asks_for_no_consent() {
    let bench = yard();
    let status = || bench.in_book("visit status", &[]).exits(0).out;
    bench
        .in_book("visit start --spindle", &["Centre 1"])
        .exits(0)
        .shows("whose consent?");
    let grip = "grip --store --unit kN --readings";
    bench.in_book(grip, &["9.8 9.9 9.7"]).exits(0);
    let line = "Set 1 was said to be neither as found nor as left (--state): no trend follows it";
    assert!(status().contains(line), "{}", status());
    let said = "grip --store --state as-found --unit kN --readings";
    bench.in_book(said, &["9.81 9.9 9.7"]).exits(0);
    assert!(!status().contains("Set 2 was said"), "{}", status());
    bench
        .in_book("check strike 1 --because state-not-said", &[])
        .exits(0);
    assert!(!status().contains(line), "{}", status());
    bench.in_book("visit finish", &[]).exits(0);
    bench
        .in_book("visit start --date 2024-05 --spindle", &["Centre 1"])
        .exits(0);
    assert!(!status().contains("whose consent?"), "{}", status());
}

#[test]
fn a_temperature_nobody_works_in_is_refused() {
    let bench = bench!();
    for odd in [
        "--ambient-c -300",
        "--temperature-c -300",
        "--temperature-c 1000",
    ] {
        bench
            .in_book(&format!("visit start {odd}"), &[])
            .exits(2)
            .tells("-40 to 100");
    }
    bench.in_book("visit start --ambient-c -12", &[]).exits(0);
}
