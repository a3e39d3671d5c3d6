//! The gauge's own checks: what is looked at, what is kept, and what later checks hold it to.

use crate::standing::{calibrated, overloaded, write};
use crate::{grip, is_sound};
use holdtrue_simulated_gauge::{Condition, Setup};
use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::port::OwnPort;
use holdtrue_tests::schema::differences;
use serde_json::Value;

/// A gauge in date, and a check standard of this force beside it.
fn beside(standard_n: f64) -> OwnPort {
    OwnPort::of(Setup {
        standard_n,
        ..calibrated(3, Condition::Sound, 60)
    })
}

fn check(bench: &Bench, port: &OwnPort, more: &str) -> Run {
    let line = format!(
        "gauge check --gauge {} --book yard.holdtrue --json {more}",
        port.path
    );
    bench.line(&line)
}

fn on_standard(bench: &Bench, port: &OwnPort) -> Run {
    check(
        bench,
        port,
        "--standard-n 5000 --standard frame --standard-percent 0.2 --yes",
    )
}

fn quantity<'d>(document: &'d Value, name: &str) -> &'d Value {
    let all = document["quantities"].as_array().expect("quantities");
    all.iter()
        .find(|quantity| quantity["name"] == name)
        .unwrap_or_else(|| panic!("no {name}: {document:#}"))
}

#[track_caller]
fn is_as_its_schema_says(bench: &Bench, name: &str, document: &Value) {
    let schema = bench.run(["schema", name]).exits(0).json();
    assert_eq!(
        differences(&schema, document),
        Vec::<String>::new(),
        "{name}"
    );
}

#[test]
fn every_check_is_kept_and_the_shunt_is_held_to_those_before() {
    let bench = bench!();
    let port = beside(5_000.0);
    for earlier in 0..4 {
        let document = check(&bench, &port, "").exits(0).json();
        assert_eq!(document["kept"], "yard.holdtrue");
        assert_eq!(document["shunt"]["baseline"], earlier);
        let change = quantity(&document, "step with the shunt, change");
        if earlier < 3 {
            let remark = change["remark"].as_str().expect("a remark");
            let of_three = format!("baseline {} of 3", earlier + 1);
            assert!(remark.starts_with(&of_three), "{remark}");
            assert!(remark.contains("electronics only"), "{remark}");
            assert_eq!(change["ok"], Value::Null);
        } else {
            assert_eq!(change["ok"], true);
        }
    }
    drop(port);
    // Out of the book alone: the gauge is gone.
    let line = "gauge history --book yard.holdtrue";
    let history = bench.line(&format!("{line} --json")).exits(0).json();
    is_as_its_schema_says(&bench, "gauge-history", &history);
    let calibrations = history["calibrations"].as_array().expect("calibrations");
    assert_eq!(calibrations.len(), 1);
    let checks = calibrations[0]["checks"].as_array().expect("checks");
    assert_eq!(checks.len(), 4);
    for check in checks {
        assert_eq!(check["fit"], true);
        assert!(check["at_rest"]["zero_n"].is_f64() && check["shunt"]["step_counts"].is_f64());
    }
    let shown = bench
        .line(&format!("{line} --serial TP-0031"))
        .exits(0)
        .shows("Calibration TP-F-0117")
        .shows("baseline 1 of 3")
        .shows("change ");
    assert_eq!(shown.out.matches("  fit  ").count(), 4, "{shown}");
    bench
        .line(&format!("{line} --serial TP-9999"))
        .exits(2)
        .tells("TP-0031");
    is_sound(&bench);
}

#[test]
fn without_a_book_nothing_is_kept_and_it_is_said_how() {
    let bench = bench!();
    let port = beside(5_000.0);
    let line = format!("gauge check --gauge {}", port.path);
    bench.line(&line).exits(0).shows("--book FILE");
    let document = bench.line(&format!("{line} --json")).exits(0).json();
    assert_eq!(document["kept"], Value::Null);
    assert!(!bench.path("visits.holdtrue").exists());
    bench.line("gauge history").exits(6);
    // A book that is there is used without being named.
    bench.line("spindle add Centre-1").exits(0);
    bench
        .line(&line)
        .exits(0)
        .shows("Kept in the book")
        .shows("visits.holdtrue.");
    bench.line("gauge history").exits(0).shows("TP-0031");
}

#[test]
fn a_standard_that_reads_otherwise_than_since_the_calibration_is_out_of_control() {
    let bench = bench!();
    let sound = beside(5_000.0);
    let mut readings = Vec::new();
    for earlier in 0..4 {
        let run = on_standard(&bench, &sound).exits(0);
        let document = run.json();
        is_as_its_schema_says(&bench, "gauge-check", &document);
        let standard = &document["standard"];
        assert_eq!(standard["baseline"], earlier);
        assert_eq!(standard["acknowledged"], "by_flag");
        readings.push(standard["reading_n"].as_f64().expect("a reading"));
        // The simulated cell is within what its certificate says.
        assert!((readings[0] - 5_000.0).abs() < 28.0, "{readings:?}");
        run.tells("Put the 5.00 kN of the standard on")
            .tells("Take the load off");
    }
    drop(sound);
    // 3 % more on the same frame: the gauge reads otherwise than it did.
    let moved = beside(5_150.0);
    let run = on_standard(&bench, &moved).exits(5);
    let document = run.json();
    assert_eq!(document["fit"], false);
    assert_eq!(document["standard"]["in_control"], false);
    for name in [
        "check standard, change",
        "check standard, against calibration",
    ] {
        assert_eq!(quantity(&document, name)["ok"], false, "{name}");
    }
    let reasons = document["reasons"].to_string();
    assert!(
        reasons.contains("once more") && reasons.contains("recalibrated"),
        "{reasons}"
    );
    let change_n = document["standard"]["change_n"].as_f64().expect("a change");
    assert!((change_n - 150.0).abs() < 2.0, "{change_n}");
    // What was out of control is no baseline; a new calibration begins another.
    assert_eq!(
        on_standard(&bench, &moved).exits(5).json()["standard"]["baseline"],
        4
    );
    write(&bench, &moved.path, 0);
    let document = on_standard(&bench, &moved).exits(5).json();
    assert_eq!(document["standard"]["baseline"], 0);
    assert_eq!(document["shunt"]["baseline"], 0);
    let history = bench.line("gauge history --json --book yard.holdtrue");
    let history = history.exits(0).json();
    assert_eq!(history["calibrations"].as_array().map(Vec::len), Some(2));
    bench
        .line("gauge history --book yard.holdtrue")
        .exits(0)
        .shows("frame of 5.00 kN read 5.15 kN")
        .shows("NOT fit");
    is_sound(&bench);
}

#[test]
fn a_standard_is_not_asked_for_where_it_must_not_be_loaded() {
    let bench = bench!();
    let port = beside(5_000.0);
    for (load_n, why) in [(20_000, "smaller standard"), (100, "outside")] {
        let run = check(&bench, &port, &format!("--standard-n {load_n} --yes")).exits(5);
        assert!(!run.messages.contains("Hold the gauge free"), "{run}");
        run.tells(why);
    }
    let line = "gauge check --gauge /dev/no-such-port --standard-n 5000";
    let run = bench.line(line).exits(2).tells("--yes");
    assert!(
        run.out.contains("guard") && !run.messages.contains("no-such-port"),
        "{run}"
    );
}

#[test]
fn an_overloaded_gauge_is_tried_on_the_standard_and_then_goes_to_be_recalibrated() {
    let bench = bench!();
    let port = OwnPort::of(overloaded());
    let first = check(&bench, &port, "").exits(5).json();
    let reasons = first["reasons"].to_string();
    assert!(
        reasons.contains("zero") && reasons.contains("--standard-n"),
        "{reasons}"
    );
    let second = on_standard(&bench, &port).exits(5).json();
    assert!(second["standard"]["reading_n"].is_f64(), "{second:#}");
    let reasons = second["reasons"].to_string();
    assert!(
        reasons.contains("recalibrated before it measures again"),
        "{reasons}"
    );
    assert!(!reasons.contains("--standard-n"), "{reasons}");
}

#[test]
fn the_knob_is_counted_by_every_clamp_and_not_fit_beyond_its_stated_life() {
    let bench = bench!();
    let port = beside(5_000.0);
    let clamps = |run: &Run| run.json()["clamps"].as_array().map_or(0, Vec::len) as u64;
    let seen = || {
        let document = bench.line("gauge knob --json --book yard.holdtrue");
        let document = document.exits(0).json();
        is_as_its_schema_says(&bench, "gauge-knob", &document);
        document["knob"]["clamps"].as_u64().expect("a count")
    };
    let first = clamps(&bench.finish(&mut grip(&bench, &port.path, "")).exits(0));
    assert!(first >= 5);
    assert_eq!(seen(), first, "counted for the figures or not");
    let shown = check(&bench, &port, "").exits(0).json();
    assert_eq!(shown["knob"]["clamps"], first);
    assert_eq!(
        quantity(&shown, "clamps of the retention knob")["ok"],
        Value::Null
    );

    let line = "gauge knob --changed --good-for 6 --knob TP-K-2 --book yard.holdtrue";
    let changed = format!("had seen {first} clamps");
    bench
        .line(line)
        .exits(0)
        .shows(&changed)
        .shows("TP-K-2: 0 clamps of 6");
    assert_eq!(seen(), 0);
    check(&bench, &port, "").exits(0);
    let mut count = 0;
    while count <= 6 {
        count += clamps(&bench.finish(&mut grip(&bench, &port.path, "")).exits(0));
    }
    assert_eq!(seen(), count);
    let worn = check(&bench, &port, "").exits(5).json();
    assert_eq!(worn["knob"]["clamps"], count);
    assert!(worn["reasons"].to_string().contains("change the knob"));
    bench
        .line("gauge knob --changed --book yard.holdtrue")
        .exits(0);
    check(&bench, &port, "").exits(0);
    is_sound(&bench);
}

#[test]
fn a_book_of_schema_1_is_raised_by_the_first_check_and_its_paper_holds() {
    let bench = bench!();
    let golden = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../host/book/tests/golden/schema-1.holdtrue"
    );
    let old = std::fs::read(golden).expect("the golden book");
    bench.file("yard.holdtrue", &old);
    let line = |words: &str| bench.line(&format!("{words} --book yard.holdtrue"));
    let history = line("gauge history --json").exits(0).json();
    assert_eq!(history["knob"]["clamps"], 2);
    line("gauge history").exits(0).shows("No check of it");
    line("book check").exits(0).shows("sound");
    line("spindle list").exits(0);
    assert!(std::fs::read(bench.path("yard.holdtrue")).expect("the book") == old);

    let port = beside(5_000.0);
    check(&bench, &port, "").exits(0);
    let look = line("book check --json").exits(0).json();
    assert_eq!(look["rows"]["gauge_check"], 1);
    assert_eq!(look["digests_good"], 1);
    line("book verify").exits(0);
}

#[test]
fn a_newer_book_is_told_before_anybody_holds_the_gauge() {
    let bench = bench!();
    let port = beside(5_000.0);
    bench
        .line("spindle add Centre-1 --book yard.holdtrue")
        .exits(0);
    // The schema's number stands at byte 60 of the file, four bytes, most significant first.
    let mut bytes = std::fs::read(bench.path("yard.holdtrue")).expect("the book");
    bytes[60..64].copy_from_slice(&9_u32.to_be_bytes());
    bench.file("yard.holdtrue", &bytes);
    let run = check(&bench, &port, "").exits(6).tells("schema 9");
    assert!(!run.messages.contains("Hold the gauge free"), "{run}");
}
