//! A check beside the last one of its spindle: what is said of the change, and beside which set.

use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::force::{Made, MadeClamp};
use holdtrue_tests::schema::differences;
use serde_json::Value;

fn yard() -> Bench {
    let bench = bench!();
    bench
        .in_book("spindle add --interface BT40", &["Centre 1"])
        .exits(0);
    bench
}

fn start(bench: &Bench, day: &str) -> Run {
    let line = format!("visit start --date {day} --spindle");
    bench.in_book(&line, &["Centre 1"]).exits(0)
}

/// A set with a known uncertainty.
fn set(bench: &Bench, state: &str, forces: &str) -> Run {
    let line =
        format!("grip --unit kN --uncertainty-percent 1 --state {state} --store --json --readings");
    bench.in_book(&line, &[forces]).exits(0)
}

fn finish(bench: &Bench) {
    bench.in_book("visit finish", &[]).exits(0);
}

#[track_caller]
fn since(run: &Run) -> Value {
    let document = run.json();
    assert_eq!(
        document["since_last"].as_array().map(Vec::len),
        Some(1),
        "{run}"
    );
    document["since_last"][0].clone()
}

const STRONG: &str = "9.80 9.82 9.81 9.79 9.83";
const WEAK: &str = "5.50 5.52 5.51 5.49 5.53";

#[test]
fn the_first_visit_says_nothing_and_each_later_one_is_held_to_the_last_as_found() {
    let bench = yard();
    start(&bench, "2024-05-12");
    let first = set(&bench, "as-found", STRONG);
    assert_eq!(first.json()["since_last"], Value::Null, "{first}");
    finish(&bench);
    start(&bench, "2025-05-12");
    let weaker = since(&set(&bench, "as-found", WEAK));
    assert_eq!(
        (&weaker["seen"], &weaker["since"]),
        (&"less".into(), &"2024-05-12".into())
    );
    let text = weaker["text"].as_str().expect("a sentence");
    assert!(
        text.contains("since 12 May 2024 (as found, from paper): weaker"),
        "{text}"
    );
    assert!(text.starts_with("−4.30 ± "), "{text}");
    // A set cleaned, with no repair: the next visit is held to as found.
    set(&bench, "as-left", "6.10 6.12 6.11");
    finish(&bench);
    start(&bench, "2025-11-12");
    let same = since(&set(&bench, "as-found", WEAK));
    assert_eq!(
        (&same["seen"], &same["since"], &same["state"]),
        (&"none".into(), &"2025-05-12".into(), &"as_found".into())
    );
    assert!(
        same["text"]
            .as_str()
            .expect("a sentence")
            .contains("no difference to be seen")
    );
    finish(&bench);
    let schema = bench.in_book("schema grip", &[]).json();
    start(&bench, "2025-12-01");
    let run = set(&bench, "as-found", STRONG);
    assert_eq!(differences(&schema, &run.json()), Vec::<String>::new());
    assert_eq!(since(&run)["seen"], "greater");
    // Nothing of it is stored: what is computed again is what was stored.
    finish(&bench);
    bench.in_book("recheck", &[]).exits(0);
    bench.in_book("report --html page.html", &[]).exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(page.contains("stronger"), "the page says so");
}

#[test]
fn after_a_repair_the_next_visit_is_held_to_as_left_and_the_repair_is_the_headline() {
    let bench = yard();
    start(&bench, "2024-05-12");
    set(&bench, "as-found", "5.84 5.85 5.83");
    bench
        .in_book(
            "spindle event --what springs-changed --on 2024-05-12",
            &["Centre 1"],
        )
        .exits(0);
    let left = since(&set(&bench, "as-left", "10.22 10.23 10.21"));
    assert_eq!(
        (&left["state"], &left["seen"]),
        (&"as_found".into(), &"greater".into())
    );
    let status = bench.in_book("visit status", &[]).exits(0);
    let plain = status.out.replace('\u{a0}', " ");
    assert!(
        plain.contains("5.84 → 10.22 kN, springs changed"),
        "{status}"
    );
    finish(&bench);
    bench.in_book("report --html page.html", &[]).exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(
        page.replace('\u{a0}', " ")
            .contains("5.84 → 10.22 kN, springs changed"),
        "the headline of the page"
    );
    start(&bench, "2025-05-12");
    let next = since(&set(&bench, "as-found", "10.20 10.22 10.21"));
    assert_eq!(
        (&next["state"], &next["seen"]),
        (&"as_left".into(), &"none".into())
    );
    assert!(
        !next["text"]
            .as_str()
            .expect("a sentence")
            .contains("springs"),
        "the springs were changed before as left"
    );
    finish(&bench);
    // A gripper changed between two visits is said where both are compared.
    bench
        .in_book(
            "spindle event --what gripper-changed --on 2025-08",
            &["Centre 1"],
        )
        .exits(0);
    start(&bench, "2026-01-12");
    let after = since(&set(&bench, "as-found", "10.20 10.22 10.21"));
    assert!(
        after["text"]
            .as_str()
            .expect("a sentence")
            .contains("gripper changed since then"),
        "{after}"
    );
}

#[test]
fn a_figure_without_its_uncertainty_is_set_beside_the_last_and_not_called_weaker() {
    let bench = yard();
    start(&bench, "2019");
    bench.in_book("grip --mean 9.8kN --store", &[]).exits(0);
    finish(&bench);
    start(&bench, "2024-05-12");
    let later = since(&set(&bench, "as-found", WEAK));
    assert_eq!(
        (&later["seen"], &later["expanded"]),
        (&Value::Null, &Value::Null)
    );
    let text = later["text"].as_str().expect("a sentence");
    assert!(
        text.contains("since 2019 (from paper)")
            && text.contains("not known")
            && !text.contains("weaker"),
        "{text}"
    );
    finish(&bench);
    // A visit entered later stands where it was: it is no last time of the one after next.
    start(&bench, "2018");
    let oldest = set(&bench, "as-found", STRONG);
    assert_eq!(oldest.json()["since_last"], Value::Null, "{oldest}");
}

#[test]
fn a_runout_is_held_to_the_same_height_of_the_bar_only() {
    let bench = yard();
    let tir = |tir: &str, height: &str| {
        let line = format!(
            "runout --tir {tir} --at bar --height-mm {height} --uncertainty-um 1 --state as-found --store --json"
        );
        bench.in_book(&line, &[]).exits(0)
    };
    start(&bench, "2024-05-12");
    tir("8", "300");
    finish(&bench);
    start(&bench, "2025-05-12");
    let near = tir("4", "20");
    assert_eq!(
        near.json()["since_last"],
        Value::Null,
        "another height\n{near}"
    );
    let schema = bench.in_book("schema runout", &[]).json();
    let far = tir("30", "300");
    assert_eq!(differences(&schema, &far.json()), Vec::<String>::new());
    let far = since(&far);
    assert_eq!(
        (&far["unit"], &far["difference"]),
        (&"um".into(), &22.0.into())
    );
    assert_eq!(far["figure"], "TIR of the bar, 300 mm");
}

/// As found on one gauge and as left on another: what changed may be the gauge.
#[test]
fn a_change_read_on_two_gauges_says_so_on_the_screen_the_page_and_in_the_document() {
    let bench = yard();
    start(&bench, "2025-05-12");
    let set = |state: &str, gauge: &str, forces: &str| {
        let line = format!(
            "grip --unit kN --uncertainty-percent 1 --state {state} --store --read-on {gauge}"
        );
        let words = "with another gauge";
        let told = bench.in_book(&format!("{line} --json --readings"), &[forces]);
        (since_or_none(&told.exits(0)), words)
    };
    set("as-found", "TP-G1", "5.84 5.85 5.83");
    bench
        .in_book(
            "spindle event --what springs-changed --on 2025-05-12",
            &["Centre 1"],
        )
        .exits(0);
    let (same, _) = set("as-left", "TP-G1", "10.22 10.23 10.21");
    assert_eq!(same["another"], Value::Null, "{same:#}");
    let (other, words) = set("as-left", "TP-G2", "10.22 10.23 10.21");
    assert_eq!(other["another"], "gauge", "{other:#}");
    let text = other["text"].as_str().expect("a sentence");
    assert!(text.contains(words), "{text}");
    let status = bench.in_book("visit status", &[]).exits(0);
    status.shows("springs changed; as found was measured with another gauge");
    finish(&bench);
    // What a finished visit keeps is as it was told.
    let document = bench.in_book("visit status --json", &[]).exits(0).json();
    let schema = bench.in_book("schema visit", &[]).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    bench.in_book("report --html page.html", &[]).exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    let plain = page.replace('\u{a0}', " ");
    assert!(plain.contains("as found was measured with another gauge"));
    assert!(plain.contains("(as found, from paper, measured with another gauge)"));
}

fn since_or_none(run: &Run) -> Value {
    run.json()["since_last"][0].clone()
}

#[test]
fn a_visit_begins_with_what_is_known_from_the_last() {
    let bench = yard();
    let first = start(&bench, "2024-05-12");
    assert!(!first.out.contains("Last visit"), "{first}");
    bench
        .in_book(
            "grip --unit kN --state as-found --store --read-on TP-OLD-7 --readings",
            &[STRONG],
        )
        .exits(0);
    for (item, more) in [
        ("fingers", "--severity soon cracked"),
        ("wall", "--severity note dull"),
        ("keys", "--in-order"),
    ] {
        bench
            .in_book(&format!("finding add --item {item} {more}"), &[])
            .exits(0);
    }
    finish(&bench);
    let cleaned = "spindle event --what cleaned --on 2024-11-03";
    bench.in_book(cleaned, &["Centre 1"]).exits(0);
    let second = start(&bench, "2025-05-12");
    let plain = second.out.replace('\u{a0}', " ");
    for words in [
        "Last visit: 12 May 2024, by Technician A, read on TP-OLD-7",
        "9.81 kN, as found",
        "since then: cleaned, 3 November 2024",
        "still open: spindle, fingers",
    ] {
        assert!(plain.contains(words), "no {words}\n{second}");
    }
    assert!(
        !plain.contains("wall") && !plain.contains("keys"),
        "{second}"
    );
    let status = bench.in_book("visit status --json", &[]).exits(0).json();
    let schema = bench.in_book("schema visit", &[]).json();
    assert_eq!(differences(&schema, &status), Vec::<String>::new());
    assert_eq!(status["visit"]["spindle_name"], "Centre 1");
    assert_eq!(
        status["last_visit"]["open_findings"]
            .as_array()
            .map(Vec::len),
        Some(1)
    );
    bench
        .in_book("finding add --item fingers --in-order", &[])
        .exits(0);
    finish(&bench);
    let third = start(&bench, "2026-01-12");
    assert!(!third.out.contains("still open"), "{third}");
}

/// What was repaired at a visit is no news since its set as left.
#[test]
fn a_repair_of_the_last_visit_did_not_happen_since_it_left_the_spindle() {
    let bench = yard();
    start(&bench, "2024-05-12");
    set(&bench, "as-found", WEAK);
    for (what, day) in [("springs-changed", "2024-05-12"), ("greased", "2024-09-01")] {
        let line = format!("spindle event --what {what} --on {day}");
        bench.in_book(&line, &["Centre 1"]).exits(0);
    }
    set(&bench, "as-left", STRONG);
    finish(&bench);
    let second = start(&bench, "2025-05-12");
    let second = second.shows("since then: greased, 1 September 2024");
    assert!(!second.out.contains("since then: springs"), "{second}");
}

/// A second set as found that reads otherwise is not told alone: who only sees the one that passed is told half of it.
#[test]
fn every_set_of_the_last_visit_in_one_state_is_told() {
    let bench = yard();
    start(&bench, "2024-05-12");
    set(&bench, "as-found", WEAK);
    set(&bench, "as-found", STRONG);
    set(&bench, "as-left", "9.90 9.92 9.91 9.89 9.93");
    finish(&bench);
    let second = start(&bench, "2025-05-12").out.replace('\u{a0}', " ");
    let line = |words: &str| {
        second
            .lines()
            .find(|line| line.contains(words))
            .map(str::to_owned)
    };
    let held_to = line("9.81 kN, as found").expect("the set that is held to");
    assert!(!held_to.contains("another set"), "{second}");
    let other = line("5.51 kN, as found").expect("the other set");
    assert!(other.contains("another set of that visit"), "{second}");
    assert!(line("9.91 kN").is_none(), "{second}");
    let last = &bench.in_book("visit status --json", &[]).exits(0).json()["last_visit"];
    let figures = |key: &str| last[key].as_array().expect("figures").len();
    assert_eq!((figures("figures"), figures("other_sets")), (2, 2));
}

/// What page, status and check code say of the last visit that was entered.
fn told(bench: &Bench, visit: &str) -> (Vec<String>, String, String) {
    let line = format!("report {visit} --html page.html --overwrite");
    bench.in_book(&line, &[]).exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    let since = page
        .split("<p class=\"note\">")
        .filter(|line| line.contains("since "))
        .map(|line| line.split("</p>").next().unwrap_or_default().to_owned())
        .collect();
    let status = bench
        .in_book(&format!("visit status --visit {visit}"), &[])
        .exits(0);
    let of = |text: &str| {
        let lines = status.out.lines().filter(|line| line.contains(text));
        lines.collect::<Vec<_>>().join("\n")
    };
    (since, of("since "), of("check code"))
}

#[test]
fn what_a_finished_visit_said_of_last_time_stays_whatever_is_said_later() {
    let bench = yard();
    let id = |run: &Run| {
        let status = run.out.lines().find(|line| line.starts_with("visit "));
        let words = status.expect("a visit").split_whitespace();
        words.collect::<Vec<_>>()[1].to_owned()
    };
    let first = id(&start(&bench, "2024-05-12"));
    set(&bench, "as-found", STRONG);
    finish(&bench);
    let second = id(&start(&bench, "2025-05-12"));
    set(&bench, "as-found", WEAK);
    finish(&bench);
    let before = told(&bench, &second);
    assert!(before.1.contains("since 12 May 2024"), "{before:?}");
    assert!(!before.0.is_empty(), "{before:?}");
    // A visit between the two, entered later, with its own end.
    start(&bench, "2024-11-12");
    set(&bench, "as-found", "7.50 7.52 7.51");
    finish(&bench);
    // An event between the two; a set struck in the first.
    bench
        .in_book(
            "spindle event --what gripper-changed --on 2024-12-01",
            &["Centre 1"],
        )
        .exits(0);
    bench
        .in_book(
            &format!("check strike 1 --visit {first} --because gauge-dropped"),
            &[],
        )
        .exits(0);
    assert_eq!(told(&bench, &second), before);
    // What is measured from now on is held to what is known now.
    start(&bench, "2025-11-12");
    let next = since(&set(&bench, "as-found", WEAK));
    assert_eq!(next["since"], "2025-05-12");
    finish(&bench);
    bench.in_book("book check", &[]).exits(0);
    bench.in_book("recheck", &[]).exits(0);
}

#[test]
fn a_repair_of_the_day_lies_before_a_visit_made_after_it() {
    let bench = yard();
    start(&bench, "2024-05-12");
    set(&bench, "as-found", WEAK);
    finish(&bench);
    bench
        .in_book(
            "spindle event --what springs-changed --on 2025-05-12",
            &["Centre 1"],
        )
        .exits(0);
    start(&bench, "2025-05-12 --reason after-repair");
    let after = since(&set(&bench, "as-found", STRONG));
    let text = after["text"].as_str().expect("a sentence");
    assert!(text.contains("springs changed since then"), "{text}");
}

const RISE: &str = "How the force rose at clamping";

#[test]
fn the_page_lays_the_rise_over_that_of_earlier_recorded_visits() {
    let bench = yard();
    let made = Made {
        rate_hz: 500.0,
        noise_n: 5.0,
        ..Made::default()
    };
    let recorded = |day: &str, name: &str, forces_n: [f64; 2]| {
        start(&bench, day);
        bench.file(name, made.csv(&forces_n.map(MadeClamp::of)));
        let line = format!("grip --store --state as-found --from {name}");
        bench.in_book(&line, &[]).exits(0);
        finish(&bench);
    };
    let page = |name: &str, which: &[&str]| {
        let line = format!("report --html {name}");
        bench.in_book(&line, which).exits(0);
        let page = std::fs::read_to_string(bench.path(name)).expect("the page");
        page.replace('\u{a0}', " ")
    };
    recorded("2024-05-12", "a.csv", [9_800.0, 9_900.0]);
    assert!(
        !page("first.html", &[]).contains(RISE),
        "nothing to lay it over"
    );
    start(&bench, "2024-11-12");
    set(&bench, "as-found", STRONG);
    finish(&bench);
    assert!(
        !page("typed.html", &[]).contains(RISE),
        "nothing was recorded"
    );
    recorded("2025-05-12", "b.csv", [9_500.0, 9_600.0]);
    let told = page("second.html", &[]);
    assert!(told.contains(RISE));
    for (day, drawn) in [
        ("12 May 2024: 0.", 1),
        ("12 November 2024: 0.", 0),
        ("12 May 2025: 0.", 1),
    ] {
        let labels = told.matches(&format!(">{day}")).count();
        assert_eq!(labels, drawn, "{day}");
    }
    // What is entered later is none of its page; the page of the spindle has the newest.
    recorded("2025-11-12", "c.csv", [9_200.0, 9_300.0]);
    let listed = bench.in_book("spindle show --json", &["Centre 1"]).exits(0);
    let second = listed.json()["visits"][2]["id"].clone();
    let second = second.as_str().expect("an id");
    assert_eq!(page("again.html", &[second]), told);
    let years = page("years.html", &["--spindle", "Centre 1"]);
    assert!(years.contains(">12 November 2025: 0.") && years.contains(">12 May 2024: 0."));
}
