//! Visits from paper: what a notebook holds goes into the book as it stands there, by hand or as a table.

use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::schema::differences;
use serde_json::Value;

fn in_book(bench: &Bench, line: &str, more: &[&str]) -> Run {
    bench.in_book_as("Technician B", line, more)
}

/// The yard, Centre 1 with its maker's figure.
fn yard() -> Bench {
    let bench = bench!();
    in_book(
        &bench,
        "spindle add --interface BT40 --drawbar disc-springs --nominal-n 10000",
        &["Centre 1"],
    )
    .exits(0);
    in_book(&bench, "spindle add --interface HSK-A63", &["Centre 2"]).exits(0);
    bench
}

fn page(bench: &Bench) -> String {
    in_book(bench, "report --html page.html --overwrite", &[]).exits(0);
    page_in(bench)
}

/// The page that was written, its blanks plain.
fn page_in(bench: &Bench) -> String {
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    page.replace('\u{a0}', " ")
}

#[test]
fn a_visit_from_paper_holds_what_the_notebook_holds() {
    let bench = yard();
    let start = "visit start --date 2019-05-12 --spindle";
    let started = in_book(
        &bench,
        start,
        &["Centre 1", "--measured-by", "Technician A"],
    )
    .exits(0);
    assert!(
        started.out.contains("from paper, of 12 May 2019"),
        "{started}"
    );
    // The maker's figure is known and the gauge's uncertainty is not: kept, not judged, and said so.
    let kept = in_book(
        &bench,
        "grip --unit kN --peak 10.4kN --state as-found --store --read-on TP-OLD-7 --json --readings",
        &["9.8 9.9 9.7"],
    )
    .exits(0)
    .tells("Kept without a verdict");
    assert!(
        !kept.messages.contains("State A"),
        "paper energises nothing\n{kept}"
    );
    let grip = kept.json();
    let schema = in_book(&bench, "schema grip", &[]).json();
    assert_eq!(differences(&schema, &grip), Vec::<String>::new());
    assert_eq!(grip["verdict"], Value::Null);
    let mean = grip["statistics"]["mean_n"].as_f64().expect("a mean");
    assert!(
        (mean - 9800.0).abs() < 1e-9,
        "the peak is in no mean: {mean}"
    );
    assert_eq!(grip["clamps"].as_array().map(Vec::len), Some(3));
    assert_eq!(grip["stated"][0]["figure"], "peak_n");
    let tir = in_book(
        &bench,
        "runout --tir 8 --at bar --height-mm 300 --state as-found --store --json",
        &[],
    )
    .exits(0)
    .json();
    let schema = in_book(&bench, "schema runout", &[]).json();
    assert_eq!(differences(&schema, &tir), Vec::<String>::new());
    let plane = &tir["planes"][0];
    assert_eq!(plane["tir_um"], 8.0);
    assert_eq!(plane["height_mm"], 300.0);
    assert_eq!(
        (&plane["eccentricity_um"], &plane["harmonics"]),
        (&Value::Null, &serde_json::json!([]))
    );
    in_book(&bench, "grip --mean 9.75kN --state as-left --store", &[])
        .exits(0)
        .shows("9.75 kN");
    let done = in_book(&bench, "visit finish --json", &[]).exits(0).json();
    let header = &done["visit"]["header"];
    assert_eq!(
        (&header["started_at"], &header["entered_from"]),
        (&"2019-05-12".into(), &"paper".into())
    );
    assert_eq!(header["technician"], "Technician A");
    in_book(&bench, "book verify", &[]).exits(0);
    in_book(&bench, "recheck", &[]).exits(0);
    in_book(&bench, "book check", &[]).exits(0);
    let page = page(&bench);
    for words in [
        "12 May 2019",
        "entered from paper",
        "by Technician B",
        "peak hold",
        "10.40 kN",
        "TP-OLD-7",
        "9.75 kN",
    ] {
        assert!(page.contains(words), "no {words} on the page");
    }
    in_book(&bench, "gauge knob --serial TP-OLD-7", &[])
        .exits(0)
        .shows("0 clamps");
}

#[test]
fn the_day_is_kept_as_far_as_it_is_known_and_the_future_is_refused() {
    let bench = yard();
    for day in ["2019", "2019-05"] {
        let line = format!("visit start --json --date {day} --spindle");
        let started = in_book(&bench, &line, &["Centre 1"]).exits(0).json();
        assert_eq!(started["visit"]["header"]["started_at"], day);
        in_book(&bench, "visit finish", &[]).exits(0);
    }
    for (day, tells) in [
        ("2999", "future"),
        ("2019-02-30", "calendar"),
        ("last spring", "2019-05"),
        ("", "2019-05"),
    ] {
        in_book(&bench, "visit start --date", &[day])
            .exits(2)
            .tells(tells);
    }
    // Visits are in the order of their days, however they were entered.
    let shown = in_book(&bench, "spindle show --json", &["Centre 1"]).json();
    let days: Vec<&Value> = shown["visits"]
        .as_array()
        .expect("visits")
        .iter()
        .map(|visit| &visit["started_at"])
        .collect();
    assert_eq!(days, ["2019", "2019-05"]);
}

#[test]
fn a_visit_from_paper_is_entered_beside_one_at_the_machine() {
    let bench = yard();
    let live = in_book(&bench, "visit start --json --spindle", &["Centre 1"])
        .exits(0)
        .json();
    let live = live["visit"]["id"].as_str().expect("an id").to_owned();
    let paper = in_book(
        &bench,
        "visit start --json --date 2020-01 --spindle",
        &["Centre 2"],
    )
    .exits(0)
    .json();
    let paper = paper["visit"]["id"].as_str().expect("an id").to_owned();
    let reading = "grip --readings 20 --unit kN --store";
    in_book(&bench, reading, &[])
        .exits(2)
        .tells("--visit")
        .tells(&paper[paper.len() - 8..]);
    in_book(&bench, reading, &["--visit", &paper]).exits(0);
    in_book(&bench, "finding add --item fingers --in-order", &[])
        .exits(2)
        .tells("--visit");
    in_book(
        &bench,
        "finding add --item fingers --in-order",
        &["--visit", &live],
    )
    .exits(0);
    in_book(&bench, "visit start --date 2021 --spindle", &["Centre 1"])
        .exits(2)
        .tells("still open");
    in_book(&bench, "visit start --spindle", &["Centre 1"])
        .exits(2)
        .tells("still open");
    in_book(&bench, "visit finish", &[])
        .exits(2)
        .tells("several visits are open");
    let status = in_book(&bench, "visit status --json", &[]).exits(0).json();
    assert_eq!(
        status["visit"]["id"],
        live.as_str(),
        "the one at the machine"
    );
    in_book(&bench, "visit finish", &["--visit", &paper]).exits(0);
    in_book(&bench, reading, &["--visit", &paper])
        .exits(2)
        .tells("finished");
    let status = in_book(&bench, "visit status --json", &[]).exits(0).json();
    assert_eq!(status["visit"]["finished"], false);
    in_book(&bench, "visit finish", &[]).exits(0);
    // The latest visit is the one that began last, not the one entered last.
    in_book(&bench, "visit start --date 2018 --spindle", &["Centre 1"]).exits(0);
    in_book(&bench, "visit finish", &[]).exits(0);
    let page = in_book(&bench, "report --json --html page.html", &[])
        .exits(0)
        .json();
    assert_eq!(page["visit"], live.as_str());
}

#[test]
fn a_tir_is_judged_where_a_limit_and_an_uncertainty_are_there_and_read_in_its_unit() {
    let bench = bench!();
    let judged = bench
        .line("runout --tir 8 --at bar --height-mm 300 --limit-um 300=25 --uncertainty-um 1 --json")
        .exits(0)
        .json();
    assert_eq!(judged["verdict"]["outcome"], "accept");
    bench
        .line("runout --tir 40 --at bar --height-mm 300 --limit-um 300=25 --uncertainty-um 1")
        .exits(1);
    bench
        .line("runout --tir 8 --at bar --height-mm 300 --limit-um 300=25")
        .exits(2)
        .tells("uncertainty");
    for (tir, um) in [("0.008mm", 8.0), ("0.0004in", 10.16), ("8um", 8.0)] {
        let read = bench
            .line(&format!("runout --tir {tir} --at bar --json"))
            .exits(0)
            .json();
        let found = read["planes"][0]["tir_um"].as_f64().expect("a TIR");
        assert!((found - um).abs() < 1e-9, "{tir}: {found}");
    }
    bench
        .line("runout --tir 0.02 --unit mm --at wall")
        .exits(0)
        .shows("20.0 µm");
    for (line, tells) in [
        ("--tir -8", "0 or more"),
        ("--tir eight", "--tir"),
        ("--tir 8kN", "--tir"),
        ("--tir 9000", "um"),
        ("--tir 8 --readings 1", "cannot be used with"),
        ("--tir 8 --positions 8", "cannot be used with"),
    ] {
        bench.line(&format!("runout {line}")).exits(2).tells(tells);
    }
}

#[test]
fn a_peak_is_never_a_holding_force() {
    let bench = bench!();
    let alone = bench
        .line("grip --peak 10.4kN --limit-n 9000 --uncertainty-percent 1 --json")
        .exits(3)
        .json();
    assert_eq!(
        (&alone["statistics"], &alone["verdict"]),
        (&Value::Null, &Value::Null)
    );
    bench
        .line("grip --peak 10.4kN")
        .exits(0)
        .shows("peak hold")
        .shows("10.40 kN")
        .shows("not judged");
    bench.line("grip --peak 10.4").exits(2).tells("unit");
    bench
        .line("grip --peak 10.4 --unit kN")
        .exits(0)
        .shows("10.40 kN");
    bench.line("grip --peak 400kN").exits(2).tells("--peak");
    bench.line("grip --peak -1kN").exits(2).tells("above 0");
    bench.line("grip --peak 100psi").exits(2).tells("pressure");
    bench.line("grip --mean 9.8kN --readings 9.8").exits(2);
    // A low mean of readings beside a high peak is judged by the readings.
    let words = ["--readings", "6.0 6.1 5.9", "--peak", "12kN"];
    let line = "grip --unit kN --limit-n 9000 --uncertainty-percent 1 --interface BT40";
    bench.run(line.split_whitespace().chain(words)).exits(1);
}

const NOTEBOOK: &str = "\u{feff}date;spindle;technician;gauge;force_kn;tir_um;what;at;height_mm;state;power_on_hours;event;remark
2019-05-12;Centre 1;Technician A;TP-OLD-7;9,8;;;;;as-found;1200;;
2019-05-12;Centre 1;;TP-OLD-7;9,90;;;;;as-found;;;\"said \"\"fine\"\"; no more\"
2019-05-12;Centre 1;;TP-OLD-7;10,4;;peak;;;as-found;;;
2019-05-12;Centre 1;;TP-IND-1;;8;;bar;300;as-found;;;

# the springs
2020-03;Centre 1;;;;;;;;;;springs-changed;twelve pairs
2020-11;Centre 1;;;10,1;;;;;as-found;;;
2020;Centre 2;;;;5;;wall;-8;;;;
";

#[test]
fn a_notebook_is_entered_whole_once_and_stands_as_if_typed() {
    let bench = yard();
    bench.file("notebook.csv", NOTEBOOK);
    let dry = in_book(
        &bench,
        "visit enter --from notebook.csv --dry-run --json",
        &[],
    )
    .exits(0)
    .json();
    let schema = in_book(&bench, "schema visit-enter", &[]).json();
    assert_eq!(differences(&schema, &dry), Vec::<String>::new());
    assert_eq!(dry["visits"].as_array().map(Vec::len), Some(3));
    let before = in_book(&bench, "spindle show --json", &["Centre 1"]).json();
    assert_eq!(
        (&before["visits"], &before["events"]),
        (&serde_json::json!([]), &serde_json::json!([]))
    );

    let entered = in_book(&bench, "visit enter --from notebook.csv", &[]).exits(0);
    assert!(
        entered.out.contains("Entered: 3 visits, 1 event."),
        "{entered}"
    );
    assert!(
        entered
            .out
            .contains("mean 9.85 kN over 2, peak hold 10.40 kN"),
        "{entered}"
    );
    let again = in_book(
        &bench,
        "visit enter --from notebook.csv --json --technician",
        &["Technician C"],
    )
    .exits(0)
    .json();
    assert_eq!(
        (&again["visits"], &again["events"]),
        (&serde_json::json!([]), &serde_json::json!([]))
    );
    assert_eq!(again["known_visits"].as_array().map(Vec::len), Some(3));
    in_book(&bench, "visit enter --from notebook.csv", &[])
        .exits(0)
        .shows("nothing was added");

    let shown = in_book(&bench, "spindle show --json", &["Centre 1"]).json();
    assert_eq!(shown["visits"].as_array().map(Vec::len), Some(2));
    assert_eq!(shown["events"][0]["what"], "springs-changed");
    in_book(&bench, "book check", &[]).exits(0);
    in_book(&bench, "book verify", &[]).exits(0);
    in_book(&bench, "recheck", &[]).exits(0);
    let visit = shown["visits"][0]["id"].as_str().expect("an id");
    in_book(&bench, "report --html page.html", &[visit]).exits(0);
    let page = page_in(&bench);
    for words in [
        "9.85 kN",
        "10.40 kN",
        "TP-IND-1",
        "no more",
        "Technician A",
        "power-on hours",
    ] {
        assert!(page.contains(words), "no {words} on the page");
    }
    // The notebook grew: what is new comes in, what was there stays.
    bench.file(
        "notebook.csv",
        format!("{NOTEBOOK}2021-06-01;Centre 2;;;9,0;;;;;;;;\n"),
    );
    in_book(&bench, "visit enter --from notebook.csv", &[])
        .exits(0)
        .shows("Entered: 1 visit, 0 events.");
    // A figure was changed: another visit of a day that is there.
    bench.file("notebook.csv", NOTEBOOK.replace("9,90", "9,70"));
    in_book(&bench, "visit enter --from notebook.csv", &[])
        .exits(4)
        .tells("line 2")
        .tells("column date")
        .tells("12 May 2019");
}

#[test]
fn a_notebook_with_one_wrong_cell_enters_nothing_and_names_the_cell() {
    let bench = yard();
    let head = "date,spindle,what,value,unit,state,height_mm,power_on_hours,event";
    let good = "2019-05-12,Centre 1,holding,9.8,kN,as-found,,1000,";
    for (row, column, tells) in [
        ("2999-01-01,Centre 1,holding,9.8,kN,,,,", "date", "future"),
        ("2019-13-01,Centre 1,holding,9.8,kN,,,,", "date", "calendar"),
        ("12/05/2019,Centre 1,holding,9.8,kN,,,,", "date", "2019-05"),
        (",Centre 1,holding,9.8,kN,,,,", "date", "text"),
        (
            "2019-06-01,Centre 9,holding,9.8,kN,,,,",
            "spindle",
            "Centre 1",
        ),
        ("2019-06-01,Centre 1,held,9.8,kN,,,,", "what", "holding"),
        ("2019-06-01,Centre 1,,9.8,kN,,,,", "what", "holding"),
        (
            "2019-06-01,Centre 1,holding,,kN,,,,",
            "what",
            "without a value",
        ),
        ("2019-06-01,Centre 1,holding,9.8,,,,,", "unit", "kN"),
        ("2019-06-01,Centre 1,holding,9.8,um,,,,", "unit", "kN"),
        (
            "2019-06-01,Centre 1,holding,1400,psi,,,,",
            "unit",
            "pressure",
        ),
        ("2019-06-01,Centre 1,tir,8,kN,,,,", "unit", "um"),
        (
            "2019-06-01,Centre 1,holding,-9.8,kN,,,,",
            "value",
            "0 or more",
        ),
        ("2019-06-01,Centre 1,holding,980,kN,,,,", "value", "at most"),
        ("2019-06-01,Centre 1,holding,nine,kN,,,,", "value", "number"),
        ("2019-06-01,Centre 1,holding,nan,kN,,,,", "value", "finite"),
        (
            "2019-06-01,Centre 1,holding,9.8,kN,found,,,",
            "state",
            "as-found",
        ),
        (
            "2019-06-01,Centre 1,,,,as-found,,,",
            "state",
            "without a reading",
        ),
        (
            "2019-06-01,Centre 1,holding,9.8,kN,,,900,",
            "power_on_hours",
            "run backwards",
        ),
        (
            "2019-06-01,Centre 1,holding,9.8,kN,,,90000,",
            "power_on_hours",
            "hours lie between",
        ),
        (
            "2019-05-12,Centre 1,holding,9.8,kN,,,1001,",
            "power_on_hours",
            "same visit",
        ),
        (
            "2019-05-12,Centre 1,mean,9.8,kN,as-found,,,",
            "what",
            "either",
        ),
        (
            "2019-05-12,Centre 1,holding,9800,N,as-found,,,",
            "unit",
            "one unit",
        ),
        (
            "2019-06-01,Centre 1,,,,,,,crash",
            "event",
            "springs-changed",
        ),
        ("2019-06-01,Centre 1,holding,9.8", "", "cells"),
    ] {
        bench.file("notebook.csv", format!("{head}\n{good}\n\n{row}\n"));
        let run = in_book(&bench, "visit enter --from notebook.csv --json", &[])
            .exits(4)
            .tells("line 4")
            .tells(tells);
        if !column.is_empty() {
            assert_eq!(run.json()["error"]["column"], column, "{row}\n{run}");
        }
        let shown = in_book(&bench, "spindle show --json", &["Centre 1"]).json();
        assert_eq!(
            shown["visits"],
            serde_json::json!([]),
            "{row}: something was entered"
        );
    }
    // An event between explains a counter that began anew.
    let replaced = "2019-05-20,Centre 1,,,,,,,control-replaced";
    let after = "2019-06-01,Centre 1,holding,9.8,kN,,,10,";
    bench.file(
        "notebook.csv",
        format!("{head}\n{after}\n{good}\n{replaced}\n"),
    );
    in_book(&bench, "visit enter --from notebook.csv", &[])
        .exits(0)
        .shows("Entered: 2 visits, 1 event.");
    in_book(&bench, "visit enter --from missing.csv", &[])
        .exits(4)
        .tells("missing.csv");
    bench
        .line("visit enter --from notebook.csv --book other.holdtrue")
        .exits(6);
    assert!(
        !bench.path("other.holdtrue").exists(),
        "a failing command creates no book"
    );
}

/// What was read in its day on a gauge whose calibration had lapsed by then is no surer for being on paper.
#[test]
fn a_gauge_that_had_lapsed_on_the_day_of_the_paper_accepts_nothing() {
    let bench = bench!();
    let certificate = "gauge certificate --serial TP-0009 --certificate TP-C9 --laboratory Tern-Point --date 2020-01-10 \
                       --due 2021-01-10 --rated-n 25000 --span-n 500 20000 --uncertainty-percent 0.7 --uncertainty-n 8 --coefficients";
    in_book(&bench, certificate, &["0 0.0116"]).exits(0);
    let add = "spindle add --interface BT40 --nominal-n 10000";
    in_book(&bench, add, &["Centre 1"]).exits(0);
    let grip = "grip --unit kN --uncertainty-percent 0.7 --state as-found --read-on TP-0009 --store --readings";
    for (day, exit) in [
        ("2019-06-01", 0),
        ("2020-06-01", 0),
        ("2020", 0),
        ("2021-01-11", 3),
        ("2021", 3),
        ("2025-03-01", 3),
    ] {
        let start = format!("visit start --date {day} --spindle");
        in_book(&bench, &start, &["Centre 1"]).exits(0);
        in_book(&bench, grip, &["8.2 8.2 8.21 8.2 8.19"]).exits(exit);
        in_book(&bench, "visit finish --yes", &[]).exits(0);
    }
}

/// The same rows entered into two copies of a book are one visit each, in what is followed over the years.
#[test]
fn a_notebook_entered_into_two_copies_counts_once() {
    let bench = bench!();
    let add = "spindle add --interface BT40 --nominal-n 10000";
    in_book(&bench, add, &["Centre 1"]).exits(0);
    let book = bench.path("yard.holdtrue");
    std::fs::copy(&book, bench.path("copy.holdtrue")).expect("a copy");
    bench.file(
        "notebook.csv",
        "date,spindle,gauge,force_kn,state\n2024-03-01,Centre 1,TP-0007,9.0,as-found\n2025-03-01,Centre 1,TP-0007,8.2,as-found\n2026-03-01,Centre 1,TP-0007,7.6,as-found\n",
    );
    in_book(&bench, "visit enter --from notebook.csv", &[]).exits(0);
    bench
        .line("visit enter --from notebook.csv --book copy.holdtrue")
        .exits(0);
    let merged = in_book(&bench, "book merge copy.holdtrue", &[]).exits(0);
    assert_eq!(
        merged.out.matches("same rows of one notebook").count(),
        3,
        "{merged}"
    );
    let trend = in_book(&bench, "trend --json", &[]).exits(0).json();
    assert_eq!(trend["series"].as_array().map(Vec::len), Some(3));
    assert_eq!(trend["trend"], false);
}
